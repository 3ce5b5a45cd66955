//! After the rest: face A again, rim face up, the roughed foot on the carrier.

use super::inside::foot_joint;
use super::{
    Bench, FACING_STEPOVER, PASS_RESIN, PASS_WOOD, PlanFault, Planned, Shop, inspect, look_round, solid, spot_beside,
    stock_box, zero,
};
use crate::allowances::NOTCH_SIDE;
use crate::frame::Frame;
use geom::{DVec3, Mesh};
use paths::facing::{Facing, facing};
use trade::shelf::Cutter;
use workpiece::{Datums, Face, Holding, Setup, Workpiece, ZeroAxis};

/// How much the flange may have moved out of its plane, mm: the pass must still clean it up.
const WARPED: f64 = 0.6;

/// Plans the setup in the shop before the rest: what was levelled then has moved.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn reface(shop: &Shop<'_>, facer: &Cutter, workpiece: &mut Workpiece) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let half = sizes.true_half();
    let frame = Frame { face_up: Face::Rim, zero_z: sizes.levelled_z() };
    let joint = foot_joint(shop);
    let says = format!(
        "The foot has moved while it rested: rub it on abrasive on a flat plate until it no longer rocks; never press it flat, it springs back when it comes free. {}",
        joint.says
    );
    let holding = Holding { says, ..joint };
    let mut bench = Bench { hidden: true, ..Bench::new(shop, frame, workpiece, 0.0, holding) };
    let (work, s) = bench.work(facer, shop.resin);
    let moves = facing(
        &Facing {
            region: &shop.plan(0.0),
            from_z: 0.0,
            to_z: -sizes.faced_again(),
            step_down: if shop.resin { PASS_RESIN } else { PASS_WOOD },
            stepover: FACING_STEPOVER,
            diameter: facer.solid.diameter,
        },
        &work,
    );
    bench.keep("face A again", facer, s.leaving(f64::INFINITY), moves)?;

    let top = sizes.levelled_z() - sizes.faced_again();
    let half_whole = sizes.half;
    let full = Mesh::cuboid(
        DVec3::new(-half_whole.x, -half_whole.y, sizes.foot_z()),
        DVec3::new(half_whole.x, half_whole.y, top),
    );
    let target = if shop.resin { solid(super::cavity::marks(shop, full), "the slab with its marks")? } else { full };
    let bottom = sizes.foot_z() - sizes.levelled_z();
    let table_z = bottom - shop.goods.glue_film;
    let spot = spot_beside(shop, table_z, "the spot marked R on the carrier, right of the flange");
    let notch = [-half.x + NOTCH_SIDE / 2.0, -half.y + NOTCH_SIDE / 2.0];
    let look = look_round(shop, bench.safe_z, &spot, notch, &super::corner_words(shop, true));
    let setup = Setup {
        id: "reface".into(),
        title: "Face A again after the rest".into(),
        face_up: Face::Rim,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half_whole, bottom, 0.0),
        target: String::new(),
        keep: Vec::new(),
        table_z,
        machine_table_z: table_z - shop.goods.carrier,
        work_offset: "G54".into(),
        holding: bench.holding,
        datums: Datums { A: "up".into(), B: "to the front (−Y)".into(), C: "to the left (−X)".into() },
        zero: zero(
            "old true",
            half,
            WARPED,
            ZeroAxis {
                surface: "the highest place of the flange's top (A), found with an indicator".into(),
                set_to: 0.0,
                check_surface: spot.surface.clone(),
                expect: spot.reads,
                within: WARPED,
            },
        ),
        alignment: None,
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: vec![inspect(
            "face A is cut all round: no place of the old surface is left on the flange (if there is, set Z lower by what it wants and run it again)",
            [half.x, 0.0, top],
            0.0,
            0.1,
        )],
        finishes_skin: false,
        only_roughs: false,
    };
    let keep = shop.table(&frame, table_z);
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}
