//! Setup 1: the hollows for the resin, rim face up; notch and depth witnesses first.

use super::hold::{Lies, held, keep, under};
use super::skin::{LaidOut, Skin};
use super::{
    ABOVE_PLANE, Bench, PATH_TOLERANCE, PlanFault, Planned, STEPOVER, Shop, inspect, look_round, sawn, solid,
    spot_beside, stock_box, zero,
};
use crate::allowances::{NOTCH_DEPTH, NOTCH_SIDE, WITNESS_DEPTH, WITNESS_SIDE, WITNESS_WORDS, witnesses};
use crate::frame::Frame;
use base::Cancelled;
use geom::{DVec2, DVec3, Mesh, Region};
use paths::pocket::{Pocket, pocket};
use paths::roughing::{Roughing, Site, roughing};
use rayon::prelude::*;
use shape::cast::Cast;
use trade::shelf::{Cutter, Task};
use workpiece::{Datums, Face, Setup, Workpiece, ZeroAxis};

/// Stock left in hollows by roughing, mm.
const HOLLOW_ALLOWANCE: f64 = 0.3;
/// More left by the ball where it roughs what is narrow, mm: the steps that the roughing cutter left are not for it. In a narrow
/// pocket it leaves less, and goes round in it on a way of this radius at least, in radii of its own, with a little room to spare.
const REST: f64 = 1.2;
const LEAST_ROUND: f64 = 0.27;
const SPARE: f64 = 0.25;
/// Stepover of the ball in a hollow as a fraction of its diameter: under opaque resin it is hidden, clear resin shows marks.
pub(crate) const HOLLOW_STEPOVER: [f64; 2] = [0.15, 0.10];
/// Greatest distance of the ball's path in a hollow from its true course, mm: looser than on skin that shows.
const HOLLOW_TOLERANCE: f64 = 0.02;
/// Left on in hollows, mm: the looser path then keeps within the promised depth.
const HOLLOW_LEAVE: f64 = 0.01;
/// The ball goes this far beyond the piece, mm.
const INTO_WASTE: f64 = 1.0;
/// Left on more below the reach of the cutting edges, mm.
const NECK_RELIEF: f64 = 0.04;

/// Cutters of this setup.
#[derive(Clone, Copy)]
pub(crate) struct Cutters<'a> {
    /// Roughs the hollow, cuts notch and witnesses.
    pub(crate) rough: &'a Cutter,
    /// Finishes the hollow.
    pub(crate) ball: &'a Cutter,
}

/// What the planner knows of the hollows beyond their solids.
#[derive(Clone, Copy)]
pub(crate) struct Look<'a> {
    /// Whether light passes through any of the casts.
    pub(crate) translucent: bool,
    /// Heights of flat bottoms, piece frame, the highest first.
    pub(crate) flats: &'a [f64],
    /// Width of the narrowest pocket, mm; infinite without.
    pub(crate) pocket: f64,
}

/// The notch's place in plan, inner corner to beyond the blank's corner.
fn notch(shop: &Shop<'_>, beyond: f64) -> (DVec2, DVec2) {
    let h = shop.sizes.half;
    (-h - DVec2::splat(beyond), -h + DVec2::splat(NOTCH_SIDE))
}

/// Plans the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn cavity(
    shop: &Shop<'_>,
    casts: &[Cast],
    look: Look<'_>,
    cutters: Cutters<'_>,
    workpiece: &mut Workpiece,
) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let frame = Frame { face_up: Face::Rim, zero_z: sizes.face_z() };
    let half = sizes.half;

    let blank =
        Mesh::cuboid(DVec3::new(-half.x, -half.y, -sizes.beyond_foot), DVec3::new(half.x, half.y, sizes.face_z()));
    // The marks first: they are cut out of few triangles then.
    let mut target = solid(marks(shop, blank), "the blank with its marks")?;
    for cast in casts {
        target = solid(target.minus(&cast.hollow), "the blank with its hollows")?;
    }

    let mut bench =
        Bench { hidden: true, ..Bench::new(shop, frame, workpiece, 0.0, held(shop, Lies::Foot, -sizes.thickness())) };
    let seen = frame.to_program(&target);
    let bottom = casts.iter().map(|c| frame.z(c.bottom_z)).fold(0.0, f64::min);
    let (roughed, skins) = rayon::join(
        || marks_and_rough(shop, &mut bench, &seen, (cutters, look), bottom),
        || skins(shop, casts, &seen, (cutters.ball, look), bottom),
    );
    roughed?;
    for laid in skins? {
        bench.finish("finish the hollow", cutters.ball, &laid)?;
    }

    let table_z = -(sizes.thickness() + under(shop, Lies::Foot));
    let spot = spot_beside(shop, table_z, "the bare table beside the blank, right of it");
    let notch_at = [-half.x + NOTCH_SIDE / 2.0, -half.y + NOTCH_SIDE / 2.0];
    let stops = look_round(
        shop,
        bench.safe_z,
        &spot,
        notch_at,
        "The notch will be cut here, front left, where edges B and C meet.",
    );
    let setup = Setup {
        id: "cavity".into(),
        title: "Hollow for the resin".into(),
        face_up: Face::Rim,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half, -sizes.thickness(), 0.0),
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
                surface: "the rim face A as it lies, on wood, in the middle".into(),
                set_to: 0.0,
                check_surface: "A near each of the four corners".into(),
                expect: 0.0,
                within: 0.3,
            },
        ),
        alignment: Some(sawn(shop, half)),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: inspections(shop, casts),
        finishes_skin: false,
        only_roughs: false,
    };
    let keep = keep(shop, Lies::Foot, &frame, table_z)?;
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look: stops })
}

/// Cuts notch and witnesses, and roughs the hollows down to `bottom`, what is narrow with the ball.
fn marks_and_rough(
    shop: &Shop<'_>,
    bench: &mut Bench<'_, '_>,
    seen: &Mesh,
    (cutters, look): (Cutters<'_>, Look<'_>),
    bottom: f64,
) -> Result<(), PlanFault> {
    let frame = bench.frame;
    let (work, s) = bench.work(cutters.rough, false);
    let mut moves = Vec::new();
    let rough = &cutters.rough.solid;
    let (notch_min, notch_max) = notch(shop, rough.radius() + 1.0);
    let mut small = vec![(Region::rectangle(notch_min, notch_max), NOTCH_DEPTH)];
    for c in witnesses(shop.sizes.half) {
        small.push((
            Region::rectangle(c - DVec2::splat(WITNESS_SIDE / 2.0), c + DVec2::splat(WITNESS_SIDE / 2.0)),
            WITNESS_DEPTH,
        ));
    }
    for (region, depth) in &small {
        moves.extend(pocket(
            &Pocket {
                region,
                from_z: 0.0,
                to_z: -depth,
                step_down: shop.step_down(cutters.rough).min(3.0),
                stepover: STEPOVER,
                diameter: rough.diameter,
            },
            &work,
        ));
    }
    bench.keep("orientation notch and depth witnesses", cutters.rough, s, moves)?;

    let plan = shop.plan(0.0);
    let location = shop.location(seen, cutters.rough, HOLLOW_ALLOWANCE, bottom);
    let site = Site::new(&location, &plan);
    // Down to each flat in turn, so that every flat gets a level of its own.
    let mut from = 0.0;
    for flat in look.flats.iter().map(|z| frame.z(*z)).chain([bottom]) {
        let to = flat + HOLLOW_ALLOWANCE + ABOVE_PLANE;
        if to > from - 0.1 {
            continue;
        }
        rough_hollows(shop, bench, (cutters.rough, &site), [from, to, bottom], "rough the hollow")?;
        from = to;
    }

    // Where the roughing cutter found no room all still stands: the ball takes it level by level, too.
    let room = look.pocket / 2.0 - (1.0 + LEAST_ROUND) * cutters.ball.solid.radius() - SPARE;
    let left = HOLLOW_ALLOWANCE + (room - HOLLOW_ALLOWANCE).clamp(0.0, REST);
    let heights = [0.0, bottom + left + ABOVE_PLANE, bottom];
    let location = shop.location(seen, cutters.ball, left, bottom);
    rough_hollows(shop, bench, (cutters.ball, &Site::new(&location, &plan)), heights, "rough what is narrow")
}

/// What the ball finishes in the hollows, from the top down.
fn skins(
    shop: &Shop<'_>,
    casts: &[Cast],
    seen: &Mesh,
    (cutter, look): (&Cutter, Look<'_>),
    bottom: f64,
) -> Result<Vec<LaidOut>, Cancelled> {
    let ball = &cutter.solid;
    let stepover = HOLLOW_STEPOVER[usize::from(look.translucent)] * ball.diameter;
    // Upright walls are made by the side of the ball: higher up it would only roll over their edges. Below the reach of
    // the edges it stays a little farther out, so that the neck never meets the wall above.
    let top = -0.95 * ball.radius();
    let reach = (1.0 - ball.flute_length).max(bottom);
    let only_rings = casts.iter().all(|cast| cast.ring);
    let hollows = hollow_plan(shop, casts, only_rings && reach <= bottom);
    let zones = [(top, reach, HOLLOW_LEAVE), (reach, bottom, HOLLOW_LEAVE + NECK_RELIEF)];
    let laid = |(top_z, bottom_z, leave): (f64, f64, f64)| {
        let skin = Skin {
            location: shop.location(seen, cutter, leave, bottom_z),
            within: hollows.clone(),
            top_z,
            bottom_z,
            finishes_bottom: bottom_z == bottom,
            scallop: stepover * stepover / (8.0 * ball.radius()),
            overlap: 1.0,
            tolerances: Skin::hidden(HOLLOW_TOLERANCE),
        };
        shop.laid_out(skin, cutter, (Some(Task::FinishHollow), false))
    };
    zones.into_par_iter().filter(|(top_z, bottom_z, _)| top_z - bottom_z >= 0.1).map(laid).collect()
}

/// Roughs the hollows between two heights with a cutter; `bottom` is that of the deepest.
fn rough_hollows(
    shop: &Shop<'_>,
    bench: &mut Bench<'_, '_>,
    (cutter, site): (&Cutter, &Site<'_>),
    [top_z, bottom_z, bottom]: [f64; 3],
    title: &str,
) -> Result<(), PlanFault> {
    let (work, s) = bench.work_for(Task::RoughHollow, cutter, false);
    let steps = shop.steps(Task::RoughHollow, cutter, &s, (&bench.holding, top_z));
    let moves = roughing(
        &Roughing {
            site,
            stock: &bench.stock(),
            top_z,
            bottom_z,
            step_down: steps.down,
            stepover: steps.over,
            diameter: cutter.solid.diameter,
            relief: relief(cutter, -bottom),
        },
        &work,
        shop.progress,
    )?;
    Ok(bench.keep(title, cutter, s.leaving(HOLLOW_ALLOWANCE), moves)?)
}

/// Notch and witnesses cut out of a solid; the witnesses' corners are as round as the cutter.
pub(super) fn marks(shop: &Shop<'_>, solid: Mesh) -> Result<Mesh, geom::mesh::SolidError> {
    let top = shop.sizes.face_z() + 1.0;
    let face = shop.sizes.face_z();
    let (min, max) = notch(shop, 1.0);
    let mut solid = solid.minus(&Mesh::cuboid(min.extend(face - NOTCH_DEPTH), max.extend(top)))?;
    for c in witnesses(shop.sizes.half) {
        let r = DVec2::splat(WITNESS_SIDE / 2.0);
        solid = solid.minus(&Mesh::cuboid((c - r).extend(face - WITNESS_DEPTH), (c + r).extend(top)))?;
    }
    Ok(solid)
}

/// Below the flutes each level keeps 0.15 mm more away, so that the shank cannot rub.
pub(super) fn relief(cutter: &Cutter, depth: f64) -> Option<(f64, f64)> {
    (depth > cutter.solid.flute_length).then_some((cutter.solid.flute_length, 0.15))
}

/// Where the ball goes in hollows, seen from above. In mere rings that its edges reach down in: over the piece at the heights of its
/// casts, and a little beyond. Farther out and farther in the hollows lie in what goes with the waste, and stay as roughing left
/// them. Else all of them: in drips the ball would bend on what roughing left at their ends, and its neck rub on it.
fn hollow_plan(shop: &Shop<'_>, casts: &[Cast], over_the_piece: bool) -> Region {
    let piece = shop.piece;
    let mut plan = Region::default();
    if over_the_piece {
        let deepest = casts.iter().map(|cast| cast.bottom_z).fold(piece.height, f64::min).max(piece.floor_z);
        let at = |inset: f64| Region { rings: vec![piece.outline.parallel(inset, PATH_TOLERANCE)] };
        plan = at(-INTO_WASTE).minus(&at(piece.inside_inset(deepest) + INTO_WASTE));
    } else {
        for cast in casts {
            if let Some((min, max)) = cast.hollow.bounds() {
                plan = plan.union(&Region::rectangle(min.truncate(), max.truncate()));
            }
        }
    }
    for c in witnesses(shop.sizes.half) {
        let r = DVec2::splat(WITNESS_SIDE / 2.0 + 1.0);
        plan = plan.minus(&Region::rectangle(c - r, c + r));
    }
    plan
}

fn inspections(shop: &Shop<'_>, casts: &[Cast]) -> Vec<workpiece::InspectPoint> {
    let mut points: Vec<_> = witnesses(shop.sizes.half)
        .iter()
        .zip(WITNESS_WORDS)
        .map(|(c, place)| {
            inspect(
                format!("depth of the witness {place} (w, “witness” in the record)"),
                [c.x, c.y, shop.sizes.face_z() - WITNESS_DEPTH],
                WITNESS_DEPTH,
                0.1,
            )
        })
        .collect();
    for cast in casts {
        points.push(inspect(
            format!("depth of the hollow “{}” at its deepest", cast.name),
            [cast.pour_at.x, cast.pour_at.y, cast.bottom_z],
            shop.sizes.face_z() - cast.bottom_z,
            0.3,
        ));
    }
    points
}
