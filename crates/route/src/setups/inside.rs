//! Setup 4: the inside, rim face up, the foot on a carrier; the flange leaves as chips, last.

use super::cavity::relief;
use super::hold::{BOSS_CLEAR, Foot, bond, foot_pad};
use super::skin::{LaidOut, Skin};
use super::{
    ABOVE_PLANE, ALLOWANCE, Bench, PATH_TOLERANCE, PlanFault, Planned, STEPOVER, Shop, inspect, look_round, sawn,
    solid, stock_box, zero,
};
use crate::allowances::NOTCH_SIDE;
use crate::frame::Frame;
use geom::{DVec2, DVec3, Grid, Mesh, Region, Ring};
use job::Hold;
use paths::pocket::{Pocket, pocket};
use paths::rings::{Rings, rings};
use paths::roughing::{Roughing, Site, roughing};
use paths::{CutterLocation, Work};
use trade::cutter::Solid;
use trade::shelf::{Cutter, Task};
use workpiece::{Alignment, Datums, Face, Holding, InspectPoint, ReferenceSpot, Setup, Workpiece, ZeroAxis};

/// Greatest layer of the flange taken at once, mm.
pub(crate) const FLANGE_LAYER: f64 = 1.4;
/// Last layer over the rim, mm.
const RIM_LAYER: f64 = 0.3;
/// Stepover of the rings over the flange, fraction of the diameter (0.6 is the most that leaves nothing standing loose).
pub(crate) const FLANGE_STEPOVER: f64 = 0.55;
/// How far the neck above the rim is cut back from the rim's inner edge at least, mm.
const NECK_BACK: f64 = ALLOWANCE + 0.3;
/// Room between the ball and the neck while it rolls over the rim's edge, mm.
const NECK_CLEAR: f64 = 0.1;
/// How much wider the neck's inner wall gets per height, so that no level shaves the wall that the levels above it left.
const NECK_TAPER: f64 = 0.07;
/// The ball stays this far above the flat floor, which the flat cutter has made, mm.
const FLOOR_CLEAR: f64 = 0.003;

/// The ball begins this far above the edge of the rim, mm.
const OVER_EDGE: f64 = 0.3;
/// How far the ball goes below the round of the rim's inner edge, along the height of the wall, mm.
const ROUND_OVERLAP: f64 = 0.3;
/// How far the carrier reaches beyond the flange on the side of the touch-off spot, mm.
pub(crate) const CARRIER_BEYOND: f64 = 40.0;

/// Cutters of this setup.
#[derive(Clone, Copy)]
pub(crate) struct Cutters<'a> {
    /// The task that the roughing counts as.
    pub(crate) task: Task,
    /// Roughs, makes the floor, takes the flange.
    pub(crate) rough: &'a Cutter,
    /// Finishes.
    pub(crate) ball: &'a Cutter,
}

/// What does not wait for the steps before: how the inside is cut out of what must stay meanwhile.
pub(crate) struct Ready {
    block: Mesh,
    hollow: Hollow,
    /// The rim's edge, if it is rounded.
    edge: Option<LaidOut>,
}

fn frame_of(shop: &Shop<'_>) -> Frame {
    Frame { face_up: Face::Rim, zero_z: shop.sizes.levelled_z() }
}

/// Makes ready for the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn ready(shop: &Shop<'_>, cutters: Cutters<'_>) -> Result<Ready, PlanFault> {
    let block = block_without_inside(shop, &cutters.ball.solid)?;
    let frame = frame_of(shop);
    let (hollow, edge) = rayon::join(
        || hollow(shop, cutters, frame, (&block, shop.sizes.levelled_z())),
        || if shop.sizes.only_roughs() { Ok(None) } else { rim_edge(shop, cutters.ball, frame) },
    );
    let (hollow, edge) = (hollow?, edge?);
    Ok(Ready { block, hollow, edge })
}

/// Plans the setup.
///
/// # Errors
/// [`PlanFault`].
pub(crate) fn inside(
    shop: &Shop<'_>,
    cutters: Cutters<'_>,
    ready: Ready,
    workpiece: &mut Workpiece,
) -> Result<Planned, PlanFault> {
    let sizes = shop.sizes;
    let frame = frame_of(shop);
    let holding = foot_joint(shop);
    let mut bench = Bench::new(shop, frame, workpiece, 0.0, holding.clone());
    let only_roughs = sizes.only_roughs();
    bench.hidden = only_roughs;
    hollow_out(shop, cutters, &mut bench, (&ready.hollow, sizes.levelled_z()))?;
    if !only_roughs {
        flange_to_chips(shop, cutters.rough, &mut bench, &holding)?;
    }
    if let Some(edge) = &ready.edge {
        bench.finish("round the inner rim edge", cutters.ball, edge)?;
    }

    let film = shop.goods.glue_film;
    let table_z = sizes.foot_z() - sizes.levelled_z() - film;
    let half = sizes.half;
    let spot = ReferenceSpot {
        at: [half.x + super::SPOT_BESIDE, 0.0, table_z],
        reads: table_z,
        surface: "the spot marked R on the carrier, right of the flange".into(),
    };
    let notch = [-half.x + NOTCH_SIDE / 2.0, -half.y + NOTCH_SIDE / 2.0];
    let look = look_round(shop, bench.safe_z, &spot, notch, &super::corner_words(shop, true));
    let setup = Setup {
        id: if only_roughs { "rough-inside" } else { "inside" }.into(),
        title: if only_roughs { "Inside, roughed" } else { "Inside, and the flange away" }.into(),
        face_up: Face::Rim,
        program_to_piece: frame.program_to_piece(),
        stock: stock_box(half, sizes.foot_z() - sizes.levelled_z(), 0.0),
        target: String::new(),
        keep: Vec::new(),
        table_z,
        machine_table_z: table_z - shop.goods.carrier,
        work_offset: "G54".into(),
        holding,
        datums: Datums {
            A: "up (the flange's top)".into(),
            B: "to the front (−Y), now as the true edge of the flange".into(),
            C: "to the left (−X), now as the true edge of the flange".into(),
        },
        zero: zero(
            "true flange",
            sizes.true_half(),
            shop.shelf.finding.indicated,
            ZeroAxis {
                surface: format!(
                    "flange top (A) at the middles of its four edges; set their mean; they must agree within {}",
                    shop.piece.units.fine(shop.shelf.finding.heights)
                ),
                set_to: 0.0,
                check_surface: spot.surface.clone(),
                expect: spot.reads,
                within: super::CHECK_WITHIN,
            },
        ),
        alignment: Some(indicated(shop)),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: if only_roughs { roughed(shop) } else { inspections(shop) },
        finishes_skin: !only_roughs,
        only_roughs,
    };
    // What the carve must not touch: the piece, and before a rest the neck and the flange as well.
    let target = if only_roughs { ready.block } else { shop.piece.mesh.clone() };
    let keep = shop.table(&frame, table_z);
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}

/// How the zero is found on the true edges of the flange and on its top.
fn indicated(shop: &Shop<'_>) -> Alignment {
    let (half, finding) = (shop.sizes.true_half(), &shop.shelf.finding);
    Alignment {
        centre: finding.indicated,
        edge_differs: finding.along,
        heights_differ: finding.heights,
        tape: if shop.hold_outside == Hold::Tape { finding.tape_off } else { 0.0 },
        carrier_flat: finding.carrier_flat,
        carrier_length: 2.0 * half.x + CARRIER_BEYOND,
        ..sawn(shop, half)
    }
}

/// Inset of the neck's inner wall: back from the rim's inner edge, or a wall that leans would meet the upright neck in a
/// corner that no ball reaches. A ball that rolls over the edge of a wall with the slope α stands out beyond that edge
/// by `R (1 − sin α)`.
fn neck_inset(shop: &Shop<'_>, ball: &Solid) -> f64 {
    let piece = shop.piece;
    let out = ball.radius() * (1.0 - piece.inside_slope_deg(piece.height).to_radians().sin());
    piece.inside_inset(piece.height) - NECK_BACK.max(out + NECK_CLEAR)
}

/// Everything up to face A but the hollow: while the inside is cut, neck and flange must stay.
fn block_without_inside(shop: &Shop<'_>, ball: &Solid) -> Result<Mesh, PlanFault> {
    let sizes = shop.sizes;
    let block = Mesh::cuboid(
        DVec3::new(-sizes.half.x, -sizes.half.y, -sizes.beyond_foot),
        DVec3::new(sizes.half.x, sizes.half.y, sizes.levelled_z()),
    );
    let (inset, height, top) = (neck_inset(shop, ball), shop.piece.height, sizes.levelled_z() + 1.0);
    let neck = shop.piece.tapered([inset, inset - NECK_TAPER * (top - height)], [height, top]);
    let block = solid(block.minus(&neck), "the block with its neck cut back")?;
    solid(block.minus(&shop.piece.inside_body(sizes.levelled_z() + 1.0)), "the block without the inside")
}

/// How a hollow is cut.
pub(crate) struct Hollow {
    /// Where the axis may go.
    mouth: Region,
    /// For roughing.
    rough: CutterLocation,
    /// What the ball finishes; nothing before a rest.
    skin: Option<LaidOut>,
}

/// How the inside is cut out of stock whose top is face `top_z` of the piece; `block` is what must stay meanwhile.
pub(super) fn hollow(
    shop: &Shop<'_>,
    cutters: Cutters<'_>,
    frame: Frame,
    (block, top_z): (&Mesh, f64),
) -> Result<Hollow, PlanFault> {
    let piece = shop.piece;
    let block = frame.to_program(block);
    let (top, rim, floor) = (frame.z(top_z), frame.z(piece.height), frame.z(piece.floor_z));
    let mouth = Region { rings: vec![piece.outline.parallel(neck_inset(shop, &cutters.ball.solid), PATH_TOLERANCE)] };
    let skin = || {
        // Higher up the ball would only roll over the rim's edge. Where that edge will be rounded it begins there all the same:
        // farther down its first turn would meet all that roughing left above it at once, and bend.
        let highest = touching(shop, &cutters.ball.solid, 0.0) + OVER_EDGE;
        let skin = Skin {
            location: shop.location(&block, cutters.ball, 0.0, floor),
            within: mouth.clone(),
            top_z: (rim + highest).min(top - 0.05),
            bottom_z: if piece.flat_floor { floor + FLOOR_CLEAR } else { floor },
            finishes_bottom: !piece.flat_floor,
            scallop: shop.scallop,
            overlap: 3.0,
            tolerances: Skin::SHOWS,
        };
        shop.laid_out(skin, cutters.ball, (Some(Task::FinishInside), shop.resin))
    };
    let (rough, skin) = rayon::join(
        || shop.location(&block, cutters.rough, shop.allowance(), floor),
        || if shop.sizes.only_roughs() { Ok(None) } else { skin().map(Some) },
    );
    let skin = skin?;
    Ok(Hollow { mouth, rough, skin })
}

/// Roughs and finishes the inside.
pub(super) fn hollow_out(
    shop: &Shop<'_>,
    cutters: Cutters<'_>,
    bench: &mut Bench<'_, '_>,
    (hollow, top_z): (&Hollow, f64),
) -> Result<(), PlanFault> {
    let frame = bench.frame;
    let (top, floor) = (frame.z(top_z), frame.z(shop.piece.floor_z));
    let leave = shop.allowance();
    let (work, s) = bench.work_for(cutters.task, cutters.rough, shop.resin);
    let steps = shop.steps(cutters.task, cutters.rough, &s, (&bench.holding, top));
    let moves = roughing(
        &Roughing {
            site: &Site::new(&hollow.rough, &hollow.mouth),
            stock: &bench.stock(),
            top_z: top,
            bottom_z: floor + leave + ABOVE_PLANE,
            step_down: steps.down,
            stepover: steps.over,
            diameter: cutters.rough.solid.diameter,
            relief: relief(cutters.rough, top - floor),
        },
        &work,
        shop.progress,
    )?;
    bench.keep("rough the inside", cutters.rough, s.leaving(leave), moves)?;
    let Some(skin) = &hollow.skin else { return Ok(()) };

    if shop.piece.flat_floor {
        finish_floor(shop, cutters.rough, bench)?;
    }
    bench.finish("finish the inside", cutters.ball, skin)?;
    Ok(())
}

/// Height over the rim of a ball's tip that touches the inner wall `deep` below the rim: a wall is touched above the tip.
fn touching(shop: &Shop<'_>, ball: &Solid, deep: f64) -> f64 {
    let slope = shop.piece.inside_slope_deg(shop.piece.height - deep).to_radians();
    -deep - ball.radius() * (1.0 - slope.cos())
}

/// The flat of the floor, from whatever roughing left over it: in a narrow bowl the allowance on the walls may have kept
/// the cutter higher up.
fn finish_floor(shop: &Shop<'_>, cutter: &Cutter, bench: &mut Bench<'_, '_>) -> Result<(), PlanFault> {
    let piece = shop.piece;
    let floor = bench.frame.z(piece.floor_z);
    let ring = piece.outline.parallel(piece.inside_inset(piece.floor_z), PATH_TOLERANCE);
    let region = Region { rings: vec![ring] };
    let reachable = region.offset(-cutter.solid.radius(), PATH_TOLERANCE);
    let stock = bench.stock();
    let (lo, hi) = reachable.bounds().unwrap_or_default();
    let (columns, rows) = stock.nodes_in(lo, hi);
    let left = rows
        .flat_map(|iy| columns.clone().map(move |ix| (ix, iy)))
        .filter(|&(ix, iy)| reachable.contains(stock.at(ix, iy)))
        .map(|(ix, iy)| f64::from(stock.values[stock.index(ix, iy)]))
        .fold(floor + ALLOWANCE + ABOVE_PLANE, f64::max);
    let (work, s) = bench.work(cutter, false);
    let moves = pocket(
        &Pocket {
            region: &region,
            from_z: left,
            to_z: floor,
            step_down: shop.step_down(cutter),
            stepover: STEPOVER,
            diameter: cutter.solid.diameter,
        },
        &work,
    );
    bench.keep("finish the flat of the floor", cutter, s, moves)?;
    Ok(())
}

/// Rings from beyond the corners inwards, layer by layer, ending as the facing of the rim plane: what is left of the
/// flange hangs on the neck at every moment, so nothing comes loose.
fn flange_to_chips(
    shop: &Shop<'_>,
    cutter: &Cutter,
    bench: &mut Bench<'_, '_>,
    holding: &Holding,
) -> Result<(), PlanFault> {
    let piece = shop.piece;
    let radius = cutter.solid.radius();
    let outline = Region { rings: vec![piece.outline.parallel(0.0, PATH_TOLERANCE)] };
    // From the axis just outside the corners to the axis from which the cutter covers the whole rim.
    let corners =
        [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]].map(|side| DVec2::from_array(side) * shop.sizes.half);
    let from_outline = |corner: DVec2| outline.rings.iter().map(|r| r.distance(corner)).fold(0.0, f64::max);
    let farthest = corners.into_iter().map(from_outline).fold(0.0, f64::max) + radius;
    let nearest = radius - piece.inside_inset(piece.height) - 0.5;
    let count = ((farthest - nearest) / (FLANGE_STEPOVER * cutter.solid.diameter)).ceil().max(1.0) as usize;
    let mut paths: Vec<Ring> = Vec::new();
    for k in 0..=count {
        let out = farthest - (farthest - nearest) * k as f64 / count as f64;
        paths.extend(outline.offset(out, PATH_TOLERANCE).rings.into_iter().filter(|r| r.area() > 0.0));
    }
    let rim = bench.frame.z(piece.height);
    let deep = -rim - RIM_LAYER;
    let (work, s) = bench.work(cutter, shop.resin);
    let layer = FLANGE_LAYER.min(shop.held_step_down(cutter, &s, holding, 0.0));
    let layers = (deep / layer).ceil().max(1.0) as usize;
    let levels: Vec<f64> = (1..=layers).map(|k| -deep * k as f64 / layers as f64).collect();
    let rough_work = bench.work_for(Task::RoughInside, cutter, shop.resin).0;
    let stock = bench.stock();
    let across = |levels: &[f64], stock: &Grid<f32>, work: &Work| {
        rings(&Rings { rings: &paths, levels, stock, diameter: cutter.solid.diameter }, work)
    };
    let moves = across(&levels, &stock, &rough_work);
    bench.keep("the flange into chips, from the corners inwards", cutter, s.clone(), moves)?;
    // The last layer is the rim's own face.
    let moves = across(&[rim], &bench.stock(), &work);
    bench.keep("face the rim, a ring in climb", cutter, s, moves)?;
    Ok(())
}

/// The round on the inner rim edge, where the job asks for one: only now, with the neck away, can the ball reach it.
fn rim_edge(shop: &Shop<'_>, ball: &Cutter, frame: Frame) -> Result<Option<LaidOut>, PlanFault> {
    let piece = shop.piece;
    let inner = piece.inside_inset(piece.height);
    if shop.rim_round <= 0.0 {
        return Ok(None);
    }
    let rim = frame.z(piece.height);
    // Just below the round; what lies lower need not be finished once more.
    let lowest = rim + touching(shop, &ball.solid, shop.rim_round + ROUND_OVERLAP);
    let skin = Skin {
        location: shop.location(&frame.to_program(&piece.mesh), ball, 0.0, lowest),
        within: Region { rings: vec![piece.outline.parallel(inner - 0.5, PATH_TOLERANCE)] },
        top_z: rim - 0.005,
        bottom_z: lowest,
        finishes_bottom: false,
        scallop: shop.scallop,
        overlap: 1.0,
        tolerances: Skin::SHOWS,
    };
    Ok(Some(shop.laid_out(skin, ball, (None, shop.resin))?))
}

/// The foot glued to the carrier, by its pad or by the ring around its recess.
pub(crate) fn foot_joint(shop: &Shop<'_>) -> Holding {
    let piece = shop.piece;
    let height = shop.sizes.levelled_z() - shop.sizes.foot_z();
    let (foot, area_mm2, section_modulus_mm3) = foot_pad(shop, height);
    let boss = piece.recess.filter(|_| foot == Foot::Boss).map_or_else(String::new, |[depth, _]| {
        format!(
            " Its ring alone would bear too little: first glue a disc of board into the recess, {} smaller across and {} thick, so that the whole foot holds.",
            piece.units.fine(BOSS_CLEAR),
            piece.units.fine(depth - BOSS_CLEAR)
        )
    });
    let (shear_mpa, tension_mpa) = bond(shop, shop.foot_glue);
    Holding {
        method: "carrier-glue".into(),
        glue: Some(shop.foot_glue.to_owned()),
        says: format!(
            "Screw a flat carrier to the table, {1} thick, at least {2} longer than the flange on the right for the spot R. Sweep it with an indicator in the spindle: more than {3} over its length, and you face it in place or shim it. Glue the foot to it with {4} over the whole {0}, kraft paper between{5}.{boss}",
            if foot == Foot::Ring { "ring of the foot" } else { "foot" },
            piece.units.shop(shop.goods.carrier),
            piece.units.shop(CARRIER_BEYOND),
            piece.units.fine(shop.shelf.finding.carrier_flat),
            shop.foot_glue,
            shop.shelf.glue(shop.foot_glue).filter(|g| g.machine_h >= 1.0).map_or_else(String::new, |g| format!(
                "; clamp it {:.0} min and leave it {:.0} h before it is cut",
                g.clamp_min, g.machine_h
            ))
        ),
        joint_z: -height,
        area_mm2,
        section_modulus_mm3,
        shear_mpa,
        tension_mpa,
        factor: shop.goods.glue_factor,
        pressed: None,
        measured: None,
    }
}

/// What is measured after roughing, before a rest.
fn roughed(shop: &Shop<'_>) -> Vec<InspectPoint> {
    let floor = shop.piece.floor_z + shop.allowance();
    vec![inspect(
        "depth from face A to the floor, in the middle",
        [0.0, 0.0, floor],
        shop.sizes.levelled_z() - floor,
        0.5,
    )]
}

pub(super) fn inspections(shop: &Shop<'_>) -> Vec<InspectPoint> {
    let piece = shop.piece;
    let z = piece.height - (piece.height - piece.floor_z) / 3.0;
    let mut points = Vec::new();
    for (name, direction) in [("right", DVec2::X), ("back", DVec2::Y), ("left", DVec2::NEG_X), ("front", DVec2::NEG_Y)]
    {
        let (at, wall) = piece.calliper(direction, z);
        points.push(inspect(
            format!("wall by calliper, {name}, {} below the rim", piece.units.shop(piece.height - z)),
            [at.x, at.y, z],
            wall,
            0.4,
        ));
    }
    points.push(inspect(
        "depth from the rim plane to the floor, in the middle",
        [0.0, 0.0, piece.floor_z],
        piece.height - piece.floor_z,
        0.2,
    ));
    points
}
