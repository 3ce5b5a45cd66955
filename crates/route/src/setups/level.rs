//! Setup 2: resin and wood faced flush, rim face up, still on its pallet or tape.

use super::cavity::marks;
use super::hold::{Lies, held, keep, under};
use super::{Bench, PlanFault, Planned, Shop, inspect, look_round, sawn, solid, spot_beside, stock_box, zero};
use crate::allowances::{NOTCH_SIDE, WITNESS_DEPTH, WITNESS_WORDS, witnesses};
use crate::frame::Frame;
use geom::{DVec3, Mesh};
use paths::facing::{Facing, facing};
use trade::shelf::Cutter;
use workpiece::{Datums, Face, Setup, Workpiece, ZeroAxis};

/// Depth of one facing pass in resin, mm.
pub(crate) const PASS: f64 = 0.5;
/// Stepover of facing, fraction of the diameter.
pub(crate) const FACING_STEPOVER: f64 = 0.45;

/// Plans the setup; notch and witnesses stay open.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn level(shop: &Shop<'_>, facer: &Cutter, workpiece: &mut Workpiece) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let half = sizes.half;
    let frame = Frame { face_up: Face::Rim, zero_z: sizes.face_z() };
    let top = sizes.overpour;
    let mut holding = held(shop, Lies::Foot, -sizes.thickness());
    if shop.goods.pallet > 0.0 {
        holding.says = "Still on its pallet, as in the first setup.".into();
    }
    let mut bench = Bench { hidden: true, ..Bench::new(shop, frame, workpiece, top, holding) };
    let (work, s) = bench.work(facer, true);
    let moves = facing(
        &Facing {
            region: &shop.plan(0.0),
            from_z: top,
            to_z: -sizes.levelling,
            step_down: PASS,
            stepover: FACING_STEPOVER,
            diameter: facer.solid.diameter,
        },
        &work,
    );
    bench.keep("face resin and wood flush", facer, s.leaving(f64::INFINITY), moves)?;

    let full =
        Mesh::cuboid(DVec3::new(-half.x, -half.y, -sizes.beyond_foot), DVec3::new(half.x, half.y, sizes.levelled_z()));
    let target = solid(marks(shop, full), "the levelled slab with its marks")?;
    let table_z = -(sizes.thickness() + under(shop, Lies::Foot));
    let spot = spot_beside(shop, table_z, "the bare table beside the blank, right of it");
    let notch = [-half.x + NOTCH_SIDE / 2.0, -half.y + NOTCH_SIDE / 2.0];
    let look = look_round(shop, bench.safe_z, &spot, notch, &super::corner_words(shop, true));
    let setup = Setup {
        id: "level".into(),
        title: "Resin and wood faced flush".into(),
        face_up: Face::Rim,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half, -sizes.thickness(), top),
        target: String::new(),
        keep: Vec::new(),
        table_z,
        machine_table_z: table_z - shop.goods.pallet,
        work_offset: "G54".into(),
        holding: bench.holding,
        datums: Datums { A: "up".into(), B: "to the front (−Y)".into(), C: "to the left (−X)".into() },
        zero: zero(
            "sawn",
            half,
            0.3,
            ZeroAxis {
                surface: "wood of face A, never resin".into(),
                set_to: 0.0,
                check_surface: spot.surface.clone(),
                expect: spot.reads,
                within: 0.3,
            },
        ),
        alignment: Some(sawn(shop, half)),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: witnesses(shop.sizes.half)
            .iter()
            .zip(WITNESS_WORDS)
            .map(|(c, place)| {
                inspect(
                    format!("depth left in the witness {place} (w_m, “witness_left” in the record): what was lost is w − w_m"),
                    [c.x, c.y, sizes.face_z() - WITNESS_DEPTH],
                    WITNESS_DEPTH - sizes.levelling,
                    0.3,
                )
            })
            .collect(),
        finishes_skin: false,
        only_roughs: false,
    };
    let keep = keep(shop, Lies::Foot, &frame, table_z)?;
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}
