//! The one setup of the one-sided route: rim face up, flat foot down, cut out down to a skin.

use super::inside::{Cutters, hollow_out, inspections};
use super::level::FACING_STEPOVER;
use super::{
    ALLOWANCE, Bench, PATH_TOLERANCE, PlanFault, Planned, STEPOVER, Shop, look_round, solid, spot_beside, stock_box,
    tape_foot, zero,
};
use crate::allowances::{NOTCH_SIDE, SKIN};
use crate::frame::Frame;
use geom::{DVec3, Mesh};
use paths::CutterLocation;
use paths::facing::{Facing, facing};
use paths::profile::{Profile, profile};
use paths::roughing::{Roughing, roughing};
use trade::shelf::Cutter;
use workpiece::{Datums, Face, Setup, Workpiece, ZeroAxis};

/// Depth of one facing pass in wood, mm.
const PASS: f64 = 1.0;
/// Stock the first round along the wall leaves for the second, mm.
const SPRING: f64 = 0.15;

/// Plans the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn tray(
    shop: &Shop<'_>,
    facer: &Cutter,
    cutters: Cutters<'_>,
    workpiece: &mut Workpiece,
) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let half = sizes.half;
    let piece = shop.piece;
    let frame = Frame { face_up: Face::Rim, zero_z: sizes.levelled_z() };
    let rim = frame.z(piece.height);
    let foot = frame.z(0.0);
    let holding = tape_foot(shop);
    let mut bench = Bench::new(shop, frame, workpiece, 0.0, holding.clone());

    let (work, s) = bench.work(facer, false);
    let moves = facing(
        &Facing {
            region: &shop.plan(0.0),
            from_z: 0.0,
            to_z: rim,
            step_down: PASS,
            stepover: FACING_STEPOVER,
            diameter: facer.solid.diameter,
        },
        &work,
    );
    bench.keep("face the rim", facer, s, moves)?;

    let block = Mesh::cuboid(DVec3::new(-half.x, -half.y, 0.0), DVec3::new(half.x, half.y, piece.height));
    let block = solid(block.minus(&piece.inside_body(piece.height + 1.0)), "the block without the inside")?;
    hollow_out(shop, cutters, &mut bench, (&block, piece.height), &holding)?;

    let skin = |top: f64| Mesh::cuboid(DVec3::new(-half.x, -half.y, 0.0), DVec3::new(half.x, half.y, top));
    let target = solid(piece.mesh.union(&skin(SKIN)), "the tray on its skin")?;
    let rough = &cutters.rough.solid;
    // The inside is done; around the outside a full body keeps the cutter out of it.
    let body = piece.outside_body(piece.height);
    let location = CutterLocation::new(&frame.to_program(&body), rough, ALLOWANCE);
    let (work, s) = bench.work(cutters.rough, false);
    let moves = roughing(
        &Roughing {
            location: &location,
            stock: &bench.stock(),
            within: &shop.plan(rough.radius() + 2.0),
            top_z: rim,
            bottom_z: foot + SKIN,
            step_down: shop.held_step_down(cutters.rough, &s, &holding, rim),
            stepover: STEPOVER,
            diameter: rough.diameter,
            relief: super::cavity::relief(cutters.rough, rim - foot),
        },
        &work,
        shop.progress,
    )?;
    bench.keep("clear the outside down to the skin", cutters.rough, s, moves)?;

    let edge = piece.outline.parallel(0.0, PATH_TOLERANCE);
    let (work, s) = bench.work(cutters.rough, false);
    let moves = profile(
        &Profile {
            edge: &edge,
            diameter: rough.diameter,
            leave: &[SPRING, 0.0],
            from_z: rim,
            to_z: foot + SKIN,
            step_down: shop.step_down(cutters.rough),
        },
        &work,
    );
    bench.keep("finish the outside wall", cutters.rough, s, moves)?;

    let table_z = -(sizes.thickness() + shop.goods.tape_stack);
    let spot = spot_beside(shop, table_z, "the bare table beside the blank, right of it");
    let corner = [-half.x + NOTCH_SIDE / 2.0, -half.y + NOTCH_SIDE / 2.0];
    let look = look_round(shop, bench.safe_z, &spot, corner, "Over the corner marked B/C, front left.");
    let setup = Setup {
        id: "tray".into(),
        title: "Inside and outside from the rim".into(),
        face_up: Face::Rim,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half, -sizes.thickness(), 0.0),
        target: String::new(),
        keep: Vec::new(),
        table_z,
        machine_table_z: table_z - shop.goods.pallet,
        work_offset: "G54".into(),
        holding,
        datums: Datums { A: "up".into(), B: "to the front (−Y)".into(), C: "to the left (−X)".into() },
        zero: zero(
            "sawn",
            half,
            0.3,
            ZeroAxis {
                surface: "the rim face A as it lies, on wood, in the middle".into(),
                set_to: 0.0,
                check_surface: spot.surface.clone(),
                expect: spot.reads,
                within: super::CHECK_WITHIN,
            },
        ),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: inspections(shop),
        finishes_skin: true,
    };
    let keep = shop.table(&frame, table_z);
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}
