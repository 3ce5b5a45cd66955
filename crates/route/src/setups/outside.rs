//! Setup 3: the outside, foot face up; foot, recess, walls, and the flange's edges cut true for the flip.

use super::cavity::relief;
use super::hold::{Lies, held, keep, under};
use super::level::FACING_STEPOVER;
use super::skin::{LaidOut, Skin};
use super::{
    ABOVE_PLANE, Bench, PATH_TOLERANCE, PlanFault, Planned, STEPOVER, Shop, inspect, look_round, sawn, solid,
    spot_beside, stock_box, zero,
};
use crate::allowances::{EDGE_TRIM, FLANGE, FLANGE_LEAST, NOTCH_SIDE};
use crate::frame::Frame;
use geom::{DVec2, DVec3, Mesh, Region, Ring};
use paths::CutterLocation;
use paths::engraving::engraving;
use paths::facing::{Facing, facing};
use paths::pocket::{Pocket, pocket};
use paths::profile::{Profile, profile};
use paths::roughing::{Roughing, Site, roughing};
use shape::foot_up;
use trade::shelf::{Cutter, Task};
use workpiece::{Datums, Face, InspectPoint, Setup, Workpiece, ZeroAxis};

/// Left by the first round along the flange's edges, for the spring pass, mm.
const SPRING: f64 = 0.1;
/// Depth of one facing pass in wood, mm.
pub(crate) const PASS: f64 = 1.0;
/// The ball stays this far above the flange and below the foot plane, which other cutters have made, mm.
const PLANE_CLEAR: f64 = 0.02;

/// How flat the foot must be, mm.
const FLAT_WITHIN: f64 = 0.1;

/// Cutters of this setup.
#[derive(Clone, Copy)]
pub(crate) struct Cutters<'a> {
    /// Faces the foot.
    pub(crate) facer: &'a Cutter,
    /// Roughs, cuts the recess and the edges.
    pub(crate) rough: &'a Cutter,
    /// Finishes.
    pub(crate) ball: &'a Cutter,
    /// Engraves the mark, if the piece has one.
    pub(crate) point: Option<&'a Cutter>,
}

/// Lowest height to which the flange's edges are cut true, program frame: the same program stays off the tape even when
/// levelling took as much as it may.
pub(crate) fn lowest_true_edge() -> f64 {
    FLANGE - FLANGE_LEAST + 0.2
}

/// What does not wait for the steps before: solids, and how the skin is cut.
pub(crate) struct Ready {
    target: Mesh,
    /// For roughing.
    rough: CutterLocation,
    /// What the ball finishes; nothing before a rest.
    skin: Option<LaidOut>,
}

fn frame_of(shop: &Shop<'_>) -> Frame {
    Frame { face_up: Face::Foot, zero_z: shop.sizes.levelled_z() }
}

/// Makes ready for the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn ready(shop: &Shop<'_>, cutters: Cutters<'_>) -> Result<Ready, PlanFault> {
    let sizes = shop.sizes;
    let frame = frame_of(shop);
    let leave = shop.allowance();
    let body = shop.piece.outside_body(sizes.levelled_z());
    let flange_z = sizes.levelled_z() - FLANGE;
    let rough = || {
        // Roughing keeps its allowance off everything; a flange thought thinner by it comes out at its true thickness.
        let thin = body.union(&slab(sizes.half, flange_z + leave, sizes.levelled_z()));
        let thin = solid(thin, "the body on its flange")?;
        Ok::<_, PlanFault>(shop.location(&frame.to_program(&thin), cutters.rough, leave, FLANGE))
    };
    let target_and_skin = || {
        let target = target(shop, &body)?;
        let skin = if sizes.only_roughs() { None } else { Some(skin(shop, cutters.ball, (frame, &target))?) };
        Ok::<_, PlanFault>((target, skin))
    };
    let (rough, others) = rayon::join(rough, target_and_skin);
    let (rough, (target, skin)) = (rough?, others?);
    Ok(Ready { target, rough, skin })
}

/// The skin and its passes.
fn skin(shop: &Shop<'_>, ball: &Cutter, (frame, target): (Frame, &Mesh)) -> Result<LaidOut, PlanFault> {
    // The recess is done: filled for the ball, whose every level is a single ring then.
    let filled = shop.piece.recess.map(|[depth, land]| {
        let fill = shop.piece.prism(shop.piece.foot_inset + land, 0.0, depth + 0.5);
        solid(target.union(&fill), "the body with its recess filled")
    });
    let filled = filled.transpose()?;
    let skin = Skin {
        location: shop.location(&frame.to_program(filled.as_ref().unwrap_or(target)), ball, 0.0, FLANGE),
        within: shop.plan(-EDGE_TRIM),
        top_z: frame.z(shop.sizes.foot_z()) - PLANE_CLEAR,
        bottom_z: FLANGE + PLANE_CLEAR,
        finishes_bottom: false,
        scallop: shop.scallop,
        overlap: 3.0,
        tolerances: Skin::SHOWS,
    };
    Ok(shop.laid_out(skin, ball, (Some(Task::FinishOutside), shop.resin))?)
}

/// Plans the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn outside(
    shop: &Shop<'_>,
    cutters: Cutters<'_>,
    ready: Ready,
    workpiece: &mut Workpiece,
) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let half = sizes.half;
    let frame = frame_of(shop);
    let top = frame.z(-sizes.beyond_foot);
    let foot = frame.z(sizes.foot_z());
    let holding = held(shop, Lies::Rim, 0.0);
    let only_roughs = sizes.only_roughs();
    let mut bench = Bench { hidden: only_roughs, ..Bench::new(shop, frame, workpiece, top, holding.clone()) };

    let (work, s) = bench.work(cutters.facer, false);
    let moves = facing(
        &Facing {
            region: &shop.plan(0.0),
            from_z: top,
            to_z: foot,
            step_down: PASS,
            stepover: FACING_STEPOVER,
            diameter: cutters.facer.solid.diameter,
        },
        &work,
    );
    bench.keep("face the foot", cutters.facer, s.leaving(f64::INFINITY), moves)?;

    let rough = &cutters.rough.solid;
    if let (Some([depth, land]), false) = (shop.piece.recess, only_roughs) {
        let ring = foot_up(&shop.piece.outline.parallel(shop.piece.foot_inset + land, PATH_TOLERANCE));
        let (work, s) = bench.work(cutters.rough, false);
        let moves = pocket(
            &Pocket {
                region: &Region { rings: vec![ring] },
                from_z: foot,
                to_z: foot - depth,
                step_down: shop.step_down(cutters.rough),
                stepover: STEPOVER,
                diameter: rough.diameter,
            },
            &work,
        );
        bench.keep("recess under the foot", cutters.rough, s, moves)?;
    }

    let leave = shop.allowance();
    let Ready { target, rough: location, skin } = ready;
    let (work, s) = bench.work_for(Task::RoughOutside, cutters.rough, shop.resin);
    let steps = shop.steps(Task::RoughOutside, cutters.rough, &s, (&holding, foot));
    let within = shop.plan(rough.radius() + 2.0);
    let moves = roughing(
        &Roughing {
            site: &Site::new(&location, &within),
            stock: &bench.stock(),
            top_z: foot,
            bottom_z: FLANGE + ABOVE_PLANE,
            step_down: steps.down,
            stepover: steps.over,
            diameter: rough.diameter,
            relief: relief(cutters.rough, foot - FLANGE),
        },
        &work,
        shop.progress,
    )?;
    bench.keep("rough the outside down to the flange", cutters.rough, s.leaving(leave), moves)?;

    if let Some(skin) = &skin {
        engrave(shop, cutters, &mut bench, foot)?;
        bench.finish("finish the outside", cutters.ball, skin)?;
    }
    let true_half = sizes.true_half();
    let edge = Ring(vec![
        DVec2::new(-true_half.x, -true_half.y),
        DVec2::new(true_half.x, -true_half.y),
        DVec2::new(true_half.x, true_half.y),
        DVec2::new(-true_half.x, true_half.y),
    ]);
    let (work, s) = bench.work(cutters.rough, false);
    let moves = profile(
        &Profile {
            edge: &edge,
            diameter: rough.diameter,
            leave: &[SPRING, 0.0],
            from_z: FLANGE,
            to_z: lowest_true_edge(),
            step_down: shop.wall_step_down(cutters.rough, &s, EDGE_TRIM),
            tabs: &[],
        },
        &work,
    );
    bench.keep("cut the edges of the flange true, with a spring pass", cutters.rough, s, moves)?;

    let table_z = -under(shop, Lies::Rim);
    let spot = spot_beside(shop, table_z, "the bare table beside the blank, right of it");
    let notch = [-half.x + NOTCH_SIDE / 2.0, half.y - NOTCH_SIDE / 2.0];
    let look = look_round(shop, bench.safe_z, &spot, notch, &super::corner_words(shop, false));
    let setup = Setup {
        id: if only_roughs { "rough-outside" } else { "outside" }.into(),
        title: if only_roughs { "Outside, roughed" } else { "Outside" }.into(),
        face_up: Face::Foot,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half, 0.0, top),
        target: String::new(),
        keep: Vec::new(),
        table_z,
        machine_table_z: table_z - shop.goods.pallet,
        work_offset: "G54".into(),
        holding,
        datums: Datums { A: "down".into(), B: "to the back (+Y)".into(), C: "to the left (−X)".into() },
        zero: zero(
            sizes.edges(),
            half,
            0.3,
            ZeroAxis {
                surface: "the bare table beside the blank, not the tape, not the wood".into(),
                set_to: table_z,
                check_surface: "top of the blank".into(),
                expect: top,
                within: super::CHECK_WITHIN,
            },
        ),
        alignment: Some(sawn(shop, half)),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: if only_roughs { roughed(shop) } else { inspections(shop) },
        finishes_skin: !only_roughs,
        only_roughs,
    };
    let keep = keep(shop, Lies::Rim, &frame, table_z)?;
    let target = match &shop.piece.mark {
        Some(mark) => solid(target.minus(&mark.groove), "the body with its mark")?,
        None => target,
    };
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}

/// Engraves the mark, if the piece has one: after roughing, and not right after the recess, so that cutters are changed once less.
fn engrave(shop: &Shop<'_>, cutters: Cutters<'_>, bench: &mut Bench<'_, '_>, foot: f64) -> Result<(), PlanFault> {
    let (Some(mark), Some(cutter)) = (&shop.piece.mark, cutters.point) else { return Ok(()) };
    let (work, s) = bench.work(cutter, false);
    let engraved = engraving(&crate::strokes::engraving_of(mark, cutter, shop, foot - mark.face_z), &work);
    bench.keep("engrave the mark under the foot", cutter, s, engraved.moves)?;
    Ok(())
}

/// What is measured after the skin is finished.
fn inspections(shop: &Shop<'_>) -> Vec<InspectPoint> {
    let sizes = shop.sizes;
    let true_half = sizes.true_half();
    let piece = shop.piece;
    let mid = sizes.height / 2.0;
    let inset = piece.outside_inset(mid);
    let length = piece.outline.size(piece.tolerance).x;
    let right = piece.outline.farthest(DVec2::X, piece.tolerance);
    vec![
        inspect(
            format!(
                "flatness of the foot: a {} feeler must not pass under a straightedge",
                piece.units.fine(FLAT_WITHIN)
            ),
            [0.0, 0.0, 0.0],
            0.0,
            FLAT_WITHIN,
        ),
        inspect(
            "length over the outline at the rim, along X",
            [right.point.x, right.point.y, sizes.height],
            length,
            0.3,
        ),
        inspect(
            format!("length along X at {} above the foot", piece.units.shop(mid)),
            [right.inset(inset).x, right.inset(inset).y, mid],
            piece.length_at(mid),
            0.3,
        ),
        inspect(
            "after release: foot plane to rim face A at the middles of the flange's four edges, foot down on a flat plate (L_m, “foot_to_rim” in the record)",
            [true_half.x, 0.0, 0.0],
            sizes.levelled_z(),
            0.3,
        ),
    ]
}

/// What is measured after roughing, before a rest.
fn roughed(shop: &Shop<'_>) -> Vec<InspectPoint> {
    let sizes = shop.sizes;
    let at = [sizes.true_half().x, 0.0, sizes.foot_z()];
    let thick = sizes.levelled_z() - sizes.foot_z();
    vec![inspect("after release: foot plane to rim face A at the middles of the flange’s four edges", at, thick, 0.5)]
}

/// What must remain: the body standing on a flange whose edges are true down to the lip that the knife takes.
fn target(shop: &Shop<'_>, body: &Mesh) -> Result<Mesh, PlanFault> {
    let sizes = shop.sizes;
    let top = sizes.levelled_z();
    let lip_z = top - lowest_true_edge();
    let flange = solid(
        slab(sizes.true_half(), top - FLANGE, top).union(&slab(sizes.half, lip_z, top)),
        "the flange and its lip",
    )?;
    solid(body.union(&flange), "the body on its flange")
}

fn slab(half: DVec2, bottom: f64, top: f64) -> Mesh {
    Mesh::cuboid(DVec3::new(-half.x, -half.y, bottom), DVec3::new(half.x, half.y, top))
}
