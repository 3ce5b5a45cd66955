//! The keys of the shelf file: each declared once, for reading and for the schema.

use super::blank::{blank_cutter, blank_machine};
use super::reader::{List, Range, Section, within};
use super::{
    Abrasive, BoardAtHand, Clamping, Cutter, CutterChange, Defect, Finding, Finish, Glue, HoldingGoods, Hours, Machine,
    Rates, Resin, Shelf, ShopLimits, SpindleControl, Supplies, Wood,
};
use crate::cutter::{Form, HolderPart};

const SIZE: Range = within(0.01, 10_000.0);
const HOURS: Range = within(0.0, 10_000.0);
const PRICE: Range = within(0.0, 1e6);
const SPEED: Range = within(100.0, 120_000.0);
const SHOP_C: Range = within(-10.0, 45.0);
/// Strengths of joints in MPa: above 0, below steel.
const STRENGTH: Range = within(0.001, 100.0);
const FACTOR: Range = within(1.0, 20.0);
/// Sizes of packs, g or ml.
const PACKS: List = List { range: within(1.0, 1e6), fewest: 1, most: usize::MAX, lengths: false };

/// The whole shelf.
pub(super) fn shelf(s: &mut Section<'_>, it: &mut Shelf) {
    s.text("use_machine", &mut it.use_machine, "name of the machine to use");
    s.tables("machine", "machines", &mut it.machines, |s| {
        let mut one = blank_machine();
        one.at = s.place();
        machine(s, &mut one);
        s.known_as(&format!("machine {}", one.name));
        one
    });
    s.tables("cutter", "cutters", &mut it.cutters, |s| {
        let mut one = blank_cutter();
        one.at = s.place();
        cutter(s, &mut one);
        s.known_as(&format!("cutter {}", one.number));
        one
    });
    s.tables("wood", "woods", &mut it.woods, wood);
    boards(s, &mut it.boards);
    s.tables("resin", "resins", &mut it.resins, resin);
    s.tables("glue", "glues", &mut it.glues, glue);
    s.table("holding", "goods that hold the work", |s| holding(s, &mut it.holding));
    s.optional(|s| s.table("clamping", "screws, vacuum and vise", |s| clamping(s, &mut it.clamping)));
    s.optional(|s| s.table("finding", "how well work is found again", |s| finding(s, &mut it.finding)));
    s.tables("abrasive", "abrasives, coarse to fine", &mut it.abrasives, abrasive);
    s.tables("finish", "finishes", &mut it.finishes, finish);
    s.table("supplies", "small things that every piece uses up", |s| supplies(s, &mut it.supplies));
    s.table("shop", "limits of the woodworking machines", |s| shop(s, &mut it.shop));
    s.table("rates", "prices and rates", |s| rates(s, &mut it.rates));
    s.table("hours", "working hours and temperatures", |s| hours(s, &mut it.hours));
}

/// One machine.
pub(super) fn machine(s: &mut Section<'_>, it: &mut Machine) {
    s.text("name", &mut it.name, "name of the machine");
    s.array("travel", true, within(20.0, 10_000.0), &mut it.travel, "travel in X, Y, Z, mm");
    s.length("gap", within(10.0, 3000.0), &mut it.gap, "nut's face to the table with Z at the top, mm");
    s.table("spindle", "how the spindle's speed is set", |s| spindle(s, &mut it.spindle));
    s.number("power_w", within(20.0, 50_000.0), &mut it.power_w, "power at the cutter, W");
    s.tables("holder", "nut and spindle nose, upwards from the nut's face", &mut it.holder, |s| {
        let mut part = HolderPart { diameter: 0.0, length: 0.0 };
        s.length("diameter", within(3.0, 500.0), &mut part.diameter, "diameter, mm");
        s.length("length", within(1.0, 1000.0), &mut part.length, "length, mm");
        part
    });
    let shanks = List { range: within(0.5, 50.0), fewest: 1, most: usize::MAX, lengths: true };
    s.numbers("collets", shanks, &mut it.collets, "shank diameters that fit the collets owned, mm");
    s.array("feed_max", false, within(50.0, 100_000.0), &mut it.feed_max, "greatest cutting feed in XY, Z, mm/min");
    s.array("rapid", false, within(50.0, 200_000.0), &mut it.rapid, "rapid in XY, Z, mm/min");
    s.array("acceleration", false, within(5.0, 20_000.0), &mut it.acceleration, "acceleration in XY, Z, mm/s²");
    s.length("corner", within(0.0, 1.0), &mut it.corner, "deviation allowed at corners by the controller, mm");
    s.number("stiffness_n_mm", within(1.0, 1e6), &mut it.stiffness_n_mm, "stiffness at the tip, N/mm");
    s.length("backlash", within(0.0, 2.0), &mut it.backlash, "backlash, mm");
    s.number("squareness_mm_m", within(0.0, 50.0), &mut it.squareness_mm_m, "out-of-squareness of X and Y, mm/m");
    s.number("lean_mm_m", within(0.0, 50.0), &mut it.lean_mm_m, "lean of the spindle, mm/m");
    measured(s, "flip_measured", &mut it.flip_measured, "by which test piece squareness and lean were measured");
    s.number("blocks_per_s", within(1.0, 100_000.0), &mut it.blocks_per_s, "blocks read per second");
    s.flag("arcs", &mut it.arcs, "whether arcs in the XY plane are read");
    if let Some(i) = s.choice("cutter_change", &["file-per-cutter", "by-hand-in-program"], "how a cutter is changed") {
        it.cutter_change = [CutterChange::FilePerCutter, CutterChange::ByHandInProgram][i];
    }
    let mut decimals = it.decimals.map(f64::from);
    s.array("decimals", false, within(1.0, 6.0), &mut decimals, "decimals of a coordinate in mm, in inch");
    it.decimals = decimals.map(|d| d.round() as u32);
    s.flag("inch", &mut it.inch, "whether programs are written in inch");
    s.flag("air_relay", &mut it.air_relay, "whether M8/M9 switch air or extraction");
    s.flag("extraction", &mut it.extraction, "whether air or extraction clears the chips away while it cuts");
    s.flag("line_numbers", &mut it.line_numbers, "whether blocks carry line numbers");
    s.number("chip_load_share", within(0.05, 2.0), &mut it.chip_load_share, "share of the full chip load it bears");
    s.number("step_down_d", within(0.05, 3.0), &mut it.step_down_d, "step-down in hardwood, in diameters");
}

fn spindle(s: &mut Section<'_>, it: &mut SpindleControl) {
    let dial = s.has("dial_rpm");
    if dial || s.describing() {
        let mut rpm = Vec::new();
        let marks = List { range: SPEED, fewest: 1, most: usize::MAX, lengths: false };
        s.optional(|s| s.numbers("dial_rpm", marks, &mut rpm, "speeds of the dial's marks from 1 upwards, rev/min"));
        *it = SpindleControl::Dial { rpm };
    }
    if !dial || s.describing() {
        // Other values of a spindle set by program survive in an overrides file.
        let mut full_power = 0.0;
        let (mut least, mut greatest, mut wait) = match it {
            SpindleControl::Program { least_rpm, greatest_rpm, full_power_rpm, start_wait_s } => {
                full_power = *full_power_rpm;
                (*least_rpm, *greatest_rpm, *start_wait_s)
            }
            SpindleControl::Dial { .. } => (0.0, 0.0, 0.0),
        };
        let kept = matches!(it, SpindleControl::Program { .. });
        let mut walk = |s: &mut Section<'_>| {
            s.number("least_rpm", SPEED, &mut least, "least speed set by program, rev/min");
            s.number("greatest_rpm", SPEED, &mut greatest, "greatest speed set by program, rev/min");
            s.number("start_wait_s", within(0.0, 120.0), &mut wait, "wait after starting, s");
        };
        match (s.describing(), kept) {
            (true, _) => s.optional(walk),
            (false, true) => walk(s),
            (false, false) => s.needed(walk),
        }
        let full = within(0.0, 120_000.0);
        let words = "speed from which the spindle has its full power; 0: from the least, rev/min";
        s.optional(|s| s.number("full_power_rpm", full, &mut full_power, words));
        *it = SpindleControl::Program {
            least_rpm: least,
            greatest_rpm: greatest,
            full_power_rpm: full_power,
            start_wait_s: wait,
        };
    }
}

/// One cutter.
pub(super) fn cutter(s: &mut Section<'_>, it: &mut Cutter) {
    s.count("number", within(1.0, 9999.0), &mut it.number, "number, unique; the T word");
    s.text("name", &mut it.name, "name in trade words");
    form(s, &mut it.solid.form);
    let solid = &mut it.solid;
    s.length("diameter", within(0.1, 200.0), &mut solid.diameter, "cutting diameter, mm");
    s.count("flutes", within(1.0, 20.0), &mut it.flutes, "number of flutes");
    s.length("flute_length", within(0.1, 300.0), &mut solid.flute_length, "length of the cutting edges, mm");
    s.length("neck_diameter", within(0.1, 100.0), &mut solid.neck_diameter, "diameter between flutes and shank, mm");
    s.length(
        "neck_length",
        within(0.1, 300.0),
        &mut solid.neck_length,
        "height above the tip where the shank begins, mm",
    );
    s.length("shank_diameter", within(0.5, 50.0), &mut solid.shank_diameter, "shank diameter, mm");
    s.length("overall", within(5.0, 500.0), &mut it.overall, "overall length, mm");
    stickout(s, it);
    s.number("helix_deg", within(-60.0, 60.0), &mut it.helix_deg, "helix angle, degrees, positive for up-spiral");
    s.length("fz_wood", within(0.001, 2.0), &mut it.fz_wood, "chip load in hardwood, mm per tooth");
    s.length("fz_resin", within(0.001, 2.0), &mut it.fz_resin, "chip load in resin, mm per tooth");
    rpm_max(s, it);
    s.flag("plunges", &mut it.plunges, "whether it can plunge straight down");
}

/// The stick-out, which an overrides file may change.
pub(super) fn stickout(s: &mut Section<'_>, it: &mut Cutter) {
    s.length("stickout", within(1.0, 400.0), &mut it.solid.stickout, "from the tip to the face of the nut, mm");
}

/// The greatest speed, which goes with the stick-out.
pub(super) fn rpm_max(s: &mut Section<'_>, it: &mut Cutter) {
    s.number("rpm_max", SPEED, &mut it.rpm_max, "greatest speed at that stick-out, rev/min");
}

const FORMS: [&str; 5] = ["flat", "ball", "bull", "cone", "tapered-ball"];

fn form(s: &mut Section<'_>, it: &mut Form) {
    let kind = s.choice("form", &FORMS, "shape of the tip");
    let (mut corner, mut angle, mut tip_d, mut tip_r) = (0.0, 0.0, 0.0, 0.0);
    let degrees = within(0.1, 89.0);
    let mut read_corner = |s: &mut Section<'_>| {
        s.length("corner_radius", within(0.01, 100.0), &mut corner, "corner radius of a bull form, mm");
    };
    let mut read_angle = |s: &mut Section<'_>| {
        s.number("half_angle_deg", degrees, &mut angle, "angle of one side from the axis, degrees");
    };
    let mut read_flat = |s: &mut Section<'_>| {
        s.length("tip_diameter", within(0.0, 50.0), &mut tip_d, "flat at the tip of a cone, mm");
    };
    let mut read_ball = |s: &mut Section<'_>| {
        s.length("tip_radius", within(0.01, 100.0), &mut tip_r, "ball at the tip of a tapered ball, mm");
    };
    if s.describing() {
        s.optional(|s| {
            read_corner(s);
            read_angle(s);
            read_flat(s);
            read_ball(s);
        });
        return;
    }
    match kind.map(|i| FORMS[i]) {
        Some("bull") => read_corner(s),
        Some("cone") => {
            read_angle(s);
            read_flat(s);
        }
        Some("tapered-ball") => {
            read_angle(s);
            read_ball(s);
        }
        _ => {}
    }
    *it = match kind.map(|i| FORMS[i]) {
        Some("flat") => Form::Flat,
        Some("ball") => Form::Ball,
        Some("bull") => Form::Bull { corner_radius: corner },
        Some("cone") => Form::Cone { half_angle_deg: angle, tip_diameter: tip_d },
        Some("tapered-ball") => Form::TaperedBall { tip_radius: tip_r, half_angle_deg: angle },
        _ => return,
    };
}

fn wood(s: &mut Section<'_>) -> Wood {
    let mut it = Wood {
        name: String::new(),
        density_kg_m3: 0.0,
        c_tangential: 0.0,
        c_radial: 0.0,
        least_wall: 0.0,
        ring_porous: false,
        colour: [0; 3],
        price_bf: Vec::new(),
        caution: None,
    };
    let movement = within(0.0001, 0.02);
    s.text("name", &mut it.name, "name of the wood");
    s.number("density_kg_m3", within(80.0, 1500.0), &mut it.density_kg_m3, "density at shop moisture, kg/m³");
    s.number("c_tangential", movement, &mut it.c_tangential, "tangential change per 1 % moisture, fraction");
    s.number("c_radial", movement, &mut it.c_radial, "radial change per 1 % moisture, fraction");
    s.length("least_wall", within(0.5, 100.0), &mut it.least_wall, "least wall that holds, mm");
    s.flag("ring_porous", &mut it.ring_porous, "whether it is ring-porous");
    let mut colour = [0.0; 3];
    s.array("colour", false, within(0.0, 255.0), &mut colour, "face grain for pictures: red, green, blue, 0–255");
    it.colour = colour.map(|c| c.round() as u8);
    it.price_bf = by_quarters(s, "price_bf", "price", PRICE, "price per board foot by quarters");
    let mut caution = String::new();
    s.optional(|s| s.text("caution", &mut caution, "cautions peculiar to it"));
    it.caution = (!caution.is_empty()).then_some(caution);
    it
}

fn by_quarters(
    s: &mut Section<'_>,
    key: &'static str,
    value: &'static str,
    range: Range,
    what: &'static str,
) -> Vec<(u32, f64)> {
    let mut rows = Vec::new();
    s.tables(key, what, &mut rows, |s| {
        let (mut quarters, mut x) = (0, 0.0);
        s.count("quarters", within(2.0, 48.0), &mut quarters, "nominal thickness in quarters of an inch");
        s.number(value, range, &mut x, what);
        (quarters, x)
    });
    rows
}

/// The boards at hand, if any are.
pub(super) fn boards(s: &mut Section<'_>, it: &mut Vec<BoardAtHand>) {
    s.optional(|s| s.tables("board", "rough boards at hand, to saw the blank from", it, board));
}

fn board(s: &mut Section<'_>) -> BoardAtHand {
    let mut it = BoardAtHand {
        wood: String::new(),
        at: s.place(),
        quarters: None,
        rough: 0.0,
        length: 0.0,
        width: 0.0,
        count: 1,
        moisture: None,
        defects: Vec::new(),
    };
    s.text("wood", &mut it.wood, "name of the wood");
    let rough = within(5.0, 300.0);
    s.board("thickness", rough, (&mut it.quarters, &mut it.rough), "rough thickness: \"8/4\", or measured, mm");
    s.length("length", SIZE, &mut it.length, "along the grain, mm");
    s.length("width", SIZE, &mut it.width, "across the grain, mm");
    s.optional(|s| {
        s.count("count", within(1.0, 1000.0), &mut it.count, "how many there are; 1 if absent");
        let mut moisture = f64::NAN;
        s.number("moisture", within(1.0, 60.0), &mut moisture, "reading of the moisture meter, %");
        it.moisture = moisture.is_finite().then_some(moisture);
        s.tables("defect", "knots, checks, wane: where no part may lie", &mut it.defects, defect);
    });
    it
}

fn defect(s: &mut Section<'_>) -> Defect {
    let mut it = Defect { what: String::new(), along: [0.0; 2], across: [0.0; 2] };
    let place = within(0.0, 10_000.0);
    s.text("what", &mut it.what, "what it is: knot, check, wane, sapwood");
    s.array("along", true, place, &mut it.along, "from and to along the grain, from the first end, mm");
    s.array("across", true, place, &mut it.across, "from and to across the grain, from the first edge, mm");
    it
}

/// A number that only some data sheets give.
fn sheet(s: &mut Section<'_>, key: &'static str, range: Range, what: &'static str) -> Option<f64> {
    let mut value = f64::NAN;
    s.optional(|s| s.number(key, range, &mut value, what));
    value.is_finite().then_some(value)
}

fn resin(s: &mut Section<'_>) -> Resin {
    let mut it = Resin {
        name: String::new(),
        hardener_by_volume: 0.0,
        hardener_by_mass: 0.0,
        density_g_ml: 0.0,
        viscosity_mpa_s: 0.0,
        pot_life_min: 0.0,
        layer_least: 0.0,
        layer_greatest: 0.0,
        gel_h: 0.0,
        recoat_h: [0.0; 2],
        carve_h: 0.0,
        cure_h: 0.0,
        shrink: 0.0,
        tg_c: 0.0,
        heat_j_g: None,
        activation_kj_mol: None,
        film_gel_h: None,
        peak_c: None,
        sheet_peak: None,
        least_c: 0.0,
        price_kg: 0.0,
        seal: false,
        packs_g: Vec::new(),
    };
    s.text("name", &mut it.name, "name of the resin");
    s.flag("seal", &mut it.seal, "whether it is a penetrating seal");
    it.hardener_by_volume = ratio(s, "by_volume", "parts of A to parts of B by volume");
    it.hardener_by_mass = ratio(s, "by_mass", "parts of A to parts of B by mass");
    s.number("density_g_ml", within(0.8, 3.0), &mut it.density_g_ml, "density mixed, g/ml");
    s.number("viscosity_mpa_s", within(10.0, 100_000.0), &mut it.viscosity_mpa_s, "viscosity mixed, mPa·s");
    s.number("pot_life_min", within(1.0, 3000.0), &mut it.pot_life_min, "pot life of 200 g at 22 °C, min");
    s.length("layer_least", within(0.0, 200.0), &mut it.layer_least, "least layer, mm; 0 for a film");
    s.length("layer_greatest", within(0.1, 300.0), &mut it.layer_greatest, "greatest layer, mm");
    s.number("gel_h", within(0.05, 500.0), &mut it.gel_h, "gel at 22 °C, h");
    s.array("recoat_h", false, HOURS, &mut it.recoat_h, "recoat window without scuffing, from and to, h");
    it.heat_j_g = sheet(s, "heat_j_g", within(50.0, 700.0), "heat of reaction from the data sheet, J/g of mix");
    let energy = within(30.0, 120.0);
    it.activation_kj_mol = sheet(s, "activation_kj_mol", energy, "activation energy from the data sheet, kJ/mol");
    it.film_gel_h =
        sheet(s, "film_gel_h", within(0.05, 500.0), "gel time of a thin film at 22 °C from the data sheet, h");
    it.peak_c = sheet(s, "peak_c", within(40.0, 200.0), "warmest that a pour may grow by the data sheet, °C");
    let mut peak = [f64::NAN; 2];
    let words = "depth of a plain layer, mm, and how warm the data sheet says it grows at 22 °C, °C";
    s.optional(|s| s.array("sheet_peak", false, within(1.0, 300.0), &mut peak, words));
    it.sheet_peak = peak[0].is_finite().then_some(peak);
    s.number("carve_h", HOURS, &mut it.carve_h, "carve from, h");
    s.number("cure_h", HOURS, &mut it.cure_h, "full cure, h");
    s.number("shrink", within(0.0, 0.1), &mut it.shrink, "sink while curing, share of the depth");
    s.number("tg_c", within(20.0, 250.0), &mut it.tg_c, "softening temperature, °C");
    s.number("least_c", SHOP_C, &mut it.least_c, "least shop temperature, °C");
    s.number("price_kg", PRICE, &mut it.price_kg, "price per kg");
    s.numbers("packs_g", PACKS, &mut it.packs_g, "sizes of pack sold, A and B together, g");
    it
}

/// Parts of B for one part of A.
fn ratio(s: &mut Section<'_>, key: &'static str, what: &'static str) -> f64 {
    let mut parts = [1.0, 0.0];
    s.array(key, false, within(0.01, 1000.0), &mut parts, what);
    parts[1] / parts[0]
}

fn glue(s: &mut Section<'_>) -> Glue {
    let mut it = Glue {
        name: String::new(),
        spread_g_m2: 0.0,
        open_min: 0.0,
        clamp_min: 0.0,
        machine_h: 0.0,
        shear_mpa: 0.0,
        tension_mpa: 0.0,
        price_kg: 0.0,
        packs_g: Vec::new(),
    };
    s.text("name", &mut it.name, "name of the glue");
    s.number("spread_g_m2", within(0.1, 5000.0), &mut it.spread_g_m2, "spread, g/m²");
    s.number("open_min", within(0.05, 1000.0), &mut it.open_min, "open time, min");
    s.number("clamp_min", within(0.0, 3000.0), &mut it.clamp_min, "clamp time, min");
    s.number("machine_h", HOURS, &mut it.machine_h, "wait before machining, h");
    s.number("shear_mpa", STRENGTH, &mut it.shear_mpa, "working strength before factor in shear, MPa");
    s.number("tension_mpa", STRENGTH, &mut it.tension_mpa, "working strength before factor in tension, MPa");
    s.number("price_kg", PRICE, &mut it.price_kg, "price per kg");
    s.numbers("packs_g", PACKS, &mut it.packs_g, "sizes of pack sold, g");
    it
}

/// By what a value was measured in this shop; whoever writes nothing keeps what was there.
fn measured(s: &mut Section<'_>, key: &'static str, slot: &mut Option<String>, what: &'static str) {
    let mut by = slot.clone().unwrap_or_default();
    s.optional(|s| s.text(key, &mut by, what));
    *slot = (!by.is_empty()).then_some(by);
}

/// Screws, vacuum and vise: may be left out as a whole, or key by key.
pub(super) fn clamping(s: &mut Section<'_>, it: &mut Clamping) {
    let share = within(0.05, 2.0);
    s.optional(|s| {
        s.length("screw_diameter", within(2.0, 12.0), &mut it.screw_diameter, "diameter of screws, mm");
        s.length("screw_thread", within(5.0, 60.0), &mut it.screw_thread, "thread of screws in the blank, mm");
        s.number("screw_factor", FACTOR, &mut it.screw_factor, "safety factor of screws");
        s.number("vacuum_kpa", within(5.0, 100.0), &mut it.vacuum_kpa, "what the vacuum gauge shows, kPa");
        s.number("altitude_m", within(-400.0, 5000.0), &mut it.altitude_m, "height of the shop above the sea, m");
        s.number("vacuum_friction", share, &mut it.vacuum_friction, "friction of the gasket");
        s.flag("vacuum_gauge", &mut it.vacuum_gauge, "whether a gauge is watched");
        s.number("vise_n", within(50.0, 50_000.0), &mut it.vise_n, "force of a jaw, N");
        s.length("vise_jaw", within(20.0, 1000.0), &mut it.vise_jaw, "length of the jaws, mm");
        s.length("vise_grip", within(3.0, 200.0), &mut it.vise_grip, "how high the jaws grip, mm");
        s.number("vise_friction", share, &mut it.vise_friction, "friction of the jaws");
        s.number("vise_factor", FACTOR, &mut it.vise_factor, "safety factor of the vise");
    });
}

/// How well work is found again: may be left out as a whole, or key by key.
pub(super) fn finding(s: &mut Section<'_>, it: &mut Finding) {
    let small = within(0.001, 5.0);
    s.optional(|s| {
        s.length("sawn", small, &mut it.sawn, "middle between two sawn edges, off by, mm");
        s.length("indicated", small, &mut it.indicated, "middle between two true edges, off by, mm");
        s.length("along", small, &mut it.along, "two readings along a true edge may differ by, mm");
        s.length("touched", small, &mut it.touched, "touched height, off by, mm");
        s.length("tape_off", within(0.0, 1.0), &mut it.tape_off, "stack of tape, off by, mm");
        s.length("heights", small, &mut it.heights, "heights of a true face may differ by, mm");
        s.length("carrier_flat", within(0.0, 5.0), &mut it.carrier_flat, "carrier, off the flat by, mm");
    });
}

/// Goods that hold the work.
pub(super) fn holding(s: &mut Section<'_>, it: &mut HoldingGoods) {
    s.length("tape_stack", within(0.01, 5.0), &mut it.tape_stack, "tape stack with its instant glue, mm");
    s.number("tape_cover", within(0.05, 1.0), &mut it.tape_cover, "share of the face covered by tape");
    s.number("tape_shear_mpa", STRENGTH, &mut it.tape_shear_mpa, "tape in shear before factor, MPa");
    s.number("tape_tension_mpa", STRENGTH, &mut it.tape_tension_mpa, "tape in tension before factor, MPa");
    s.number("tape_factor", FACTOR, &mut it.tape_factor, "safety factor of tape");
    s.number("glue_factor", FACTOR, &mut it.glue_factor, "safety factor of glue");
    s.length("glue_film", within(0.0, 2.0), &mut it.glue_film, "glue film, mm");
    s.length("carrier", within(3.0, 100.0), &mut it.carrier, "carrier board, mm");
    s.number("carrier_bond_mpa", STRENGTH, &mut it.carrier_bond_mpa, "internal bond of the carrier, MPa");
    s.length("pallet", within(0.0, 100.0), &mut it.pallet, "pallet board, mm; 0 for none");
    measured(s, "tape_measured", &mut it.tape_measured, "by which test piece the tape was measured");
}

fn abrasive(s: &mut Section<'_>) -> Abrasive {
    let mut it = Abrasive { grit: 0, grain_um: 0.0 };
    s.count("grit", within(12.0, 20_000.0), &mut it.grit, "P number");
    s.number("grain_um", within(0.1, 2000.0), &mut it.grain_um, "mean grain, µm");
    it
}

fn finish(s: &mut Section<'_>) -> Finish {
    let mut it = Finish {
        name: String::new(),
        coats: 0,
        recoat_h: 0.0,
        use_h: 0.0,
        coverage_m2_l: 0.0,
        price_l: 0.0,
        packs_ml: Vec::new(),
        self_heating: false,
        sprayed: false,
    };
    s.text("name", &mut it.name, "name of the finish");
    s.count("coats", within(1.0, 50.0), &mut it.coats, "number of coats");
    s.number("recoat_h", HOURS, &mut it.recoat_h, "between coats, h");
    s.number("use_h", HOURS, &mut it.use_h, "before use, h");
    s.number("coverage_m2_l", within(0.5, 200.0), &mut it.coverage_m2_l, "coverage per coat, m²/l");
    s.number("price_l", PRICE, &mut it.price_l, "price per litre");
    s.numbers("packs_ml", PACKS, &mut it.packs_ml, "sizes of pack sold, ml");
    s.flag("self_heating", &mut it.self_heating, "whether rags can heat by themselves");
    s.flag("sprayed", &mut it.sprayed, "whether it is sprayed or thinned, so that vapour and mist can burn");
    it
}

fn supplies(s: &mut Section<'_>, it: &mut Supplies) {
    s.number("tape_m2", PRICE, &mut it.tape_m2, "masking tape, price of one layer per m²");
    s.number("carrier_m2", PRICE, &mut it.carrier_m2, "carrier board, price per m²");
    s.number("kraft_m2", PRICE, &mut it.kraft_m2, "kraft paper, price per m²");
    s.number("dam_m", PRICE, &mut it.dam_m, "dam with release tape and sealant, price per metre");
    s.number("pigment_kg", PRICE, &mut it.pigment_kg, "pigment, price per kg");
    s.number("abrasive_disc", PRICE, &mut it.abrasive_disc, "abrasive, price per disc");
    s.number("disc_dm2", within(1.0, 500.0), &mut it.disc_dm2, "skin that a disc of abrasive sands, dm²");
    s.number("cup_ml", within(20.0, 50_000.0), &mut it.cup_ml, "largest cup for mixing resin, up to its brim, ml");
}

fn shop(s: &mut Section<'_>, it: &mut ShopLimits) {
    s.length("planer_width", SIZE, &mut it.planer_width, "planer: width, mm");
    s.length("planer_least_length", SIZE, &mut it.planer_least_length, "planer: least length, mm");
    s.length("planer_least_thickness", SIZE, &mut it.planer_least_thickness, "planer: least thickness, mm");
    s.length("jointer_width", SIZE, &mut it.jointer_width, "jointer: width, mm");
    s.length("kerf", within(0.1, 20.0), &mut it.kerf, "table saw: kerf, mm");
    s.length("least_rip", SIZE, &mut it.least_rip, "table saw: least rip, mm");
    s.length("snipe", within(0.0, 300.0), &mut it.snipe, "snipe at each end, mm");
    s.count("clamps", within(0.0, 1000.0), &mut it.clamps, "clamps owned");
    s.number("clamp_n", within(10.0, 50_000.0), &mut it.clamp_n, "force of one clamp, N");
    it.planed = by_quarters(s, "planed", "thickness", within(2.0, 300.0), "planed thickness by quarters, mm");
    s.length("plane_loss", within(0.0, 30.0), &mut it.plane_loss, "loss of a measured rough board in planing, mm");
    s.length("joint_loss", within(0.0, 30.0), &mut it.joint_loss, "loss per jointed edge, mm");
    s.length("glue_face_loss", within(0.0, 10.0), &mut it.glue_face_loss, "loss per glued face, mm");
}

fn rates(s: &mut Section<'_>, it: &mut Rates) {
    s.text("currency", &mut it.currency, "name of the currency");
    s.number("hands_h", PRICE, &mut it.hands_h, "hands, per hour");
    s.number("machine_h", PRICE, &mut it.machine_h, "machine, per hour");
    s.number("power_kwh", PRICE, &mut it.power_kwh, "power, per kWh");
    s.number("overhead", within(0.0, 10.0), &mut it.overhead, "overhead, fraction");
    s.number("yield_share", within(0.05, 1.0), &mut it.yield_share, "share of pieces that turn out well");
}

fn hours(s: &mut Section<'_>, it: &mut Hours) {
    s.number("from_h", within(0.0, 24.0), &mut it.from_h, "first working hour of a day");
    s.number("to_h", within(0.0, 24.0), &mut it.to_h, "last working hour of a day");
    let week = List { range: within(1.0, 7.0), fewest: 1, most: 7, lengths: false };
    let mut days: Vec<f64> = it.days.iter().map(|d| f64::from(*d)).collect();
    s.numbers("days", week, &mut days, "working days, Monday = 1");
    it.days = days.iter().map(|d| d.round() as u8).collect();
    warmth(s, it);
}

/// How warm the shop is, which an overrides file may change.
pub(super) fn warmth(s: &mut Section<'_>, it: &mut Hours) {
    s.number("day_c", SHOP_C, &mut it.day_c, "shop by day, °C");
    s.number("night_c", SHOP_C, &mut it.night_c, "shop by night, °C");
    let humid = within(0.05, 0.95);
    s.number("humidity", humid, &mut it.humidity, "relative humidity of the shop, 0 to 1");
}
