//! Empty things to be filled by the reader; none of them leaves the reader unfilled.

use super::{
    Clamping, Cutter, CutterChange, Finding, HoldingGoods, Hours, Machine, Rates, Shelf, ShopLimits, SpindleControl,
    Supplies,
};
use crate::cutter::{Form, Solid};

/// A shelf with nothing on it.
pub(super) fn blank_shelf() -> Shelf {
    Shelf {
        use_machine: String::new(),
        machines: Vec::new(),
        cutters: Vec::new(),
        choices: Vec::new(),
        woods: Vec::new(),
        boards: Vec::new(),
        resins: Vec::new(),
        glues: Vec::new(),
        holding: HoldingGoods {
            tape_stack: 0.0,
            tape_cover: 0.0,
            tape_shear_mpa: 0.0,
            tape_tension_mpa: 0.0,
            tape_factor: 0.0,
            glue_factor: 0.0,
            glue_film: 0.0,
            carrier: 0.0,
            carrier_bond_mpa: 0.0,
            pallet: 0.0,
            tape_measured: None,
        },
        clamping: Clamping::default(),
        finding: Finding::default(),
        abrasives: Vec::new(),
        finishes: Vec::new(),
        supplies: Supplies::default(),
        shop: ShopLimits {
            planer_width: 0.0,
            planer_least_length: 0.0,
            planer_least_thickness: 0.0,
            jointer_width: 0.0,
            kerf: 0.0,
            least_rip: 0.0,
            snipe: 0.0,
            clamps: 0,
            clamp_n: 0.0,
            planed: Vec::new(),
            plane_loss: 0.0,
            joint_loss: 0.0,
            glue_face_loss: 0.0,
        },
        rates: Rates {
            currency: String::new(),
            hands_h: 0.0,
            machine_h: 0.0,
            power_kwh: 0.0,
            overhead: 0.0,
            yield_share: 0.0,
        },
        hours: Hours { from_h: 0.0, to_h: 0.0, days: Vec::new(), day_c: 0.0, night_c: 0.0, humidity: 0.0 },
    }
}

pub(super) fn blank_machine() -> Machine {
    Machine {
        name: String::new(),
        at: None,
        travel: [0.0; 3],
        gap: 0.0,
        spindle: SpindleControl::Dial { rpm: Vec::new() },
        power_w: 0.0,
        holder: Vec::new(),
        collets: Vec::new(),
        feed_max: [0.0; 2],
        rapid: [0.0; 2],
        acceleration: [0.0; 2],
        corner: 0.0,
        stiffness_n_mm: 0.0,
        backlash: 0.0,
        squareness_mm_m: 0.0,
        lean_mm_m: 0.0,
        flip_measured: None,
        blocks_per_s: 0.0,
        arcs: false,
        cutter_change: CutterChange::FilePerCutter,
        decimals: [0; 2],
        inch: false,
        air_relay: false,
        extraction: false,
        line_numbers: false,
        chip_load_share: 0.0,
        step_down_d: 0.0,
    }
}

pub(super) fn blank_cutter() -> Cutter {
    Cutter {
        number: 0,
        at: None,
        name: String::new(),
        solid: Solid {
            form: Form::Flat,
            diameter: 0.0,
            flute_length: 0.0,
            neck_diameter: 0.0,
            neck_length: 0.0,
            shank_diameter: 0.0,
            stickout: 0.0,
            holder: Vec::new(),
        },
        flutes: 0,
        overall: 0.0,
        helix_deg: 0.0,
        fz_wood: 0.0,
        fz_resin: 0.0,
        rpm_max: 0.0,
        plunges: false,
    }
}
