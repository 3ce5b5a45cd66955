//! The one setup of the one-sided route: rim face up, flat foot down, cut out down to a skin.

use super::hold::{Lies, held, keep, under};
use super::inside::{Cutters, hollow, hollow_out, inspections};
use super::level::FACING_STEPOVER;
use super::{
    ALLOWANCE, Bench, PATH_TOLERANCE, PlanFault, Planned, Shop, look_round, sawn, solid, spot_beside, stock_box, zero,
};
use crate::allowances::{NOTCH_SIDE, SKIN};
use crate::frame::Frame;
use geom::{DVec2, DVec3, Mesh, Region, Ring};
use job::Freeing;
use paths::facing::{Facing, facing};
use paths::profile::{Profile, Tab, profile};
use paths::roughing::{Roughing, Site, roughing};
use shape::Piece;
use trade::shelf::Cutter;
use workpiece::{Datums, Face, Setup, Workpiece, ZeroAxis};

/// Depth of one facing pass in wood, mm.
const PASS: f64 = 1.0;
/// Stock the first round along the wall leaves for the second, mm.
const SPRING: f64 = 0.15;

/// Height of a tab above the foot plane and its width along the edge, mm (common practice, no source).
pub(crate) const TAB_HEIGHT: f64 = 3.0;
pub(crate) const TAB_WIDTH: f64 = 8.0;
/// A third tab at each end of pieces wider than this, mm.
const TAB_EVERY: f64 = 130.0;
/// Fibres run through a tab from the piece to the frame where the edge lies no more askew than this, degrees.
const TAB_ASKEW: f64 = 40.0;
/// The cutter keeps this far from a tab at its sides, and the moat's bank is thought so much farther off, mm.
const CLEAR: f64 = 0.3;
/// What the rounds leave beside the tabs is thought smaller by this, mm: chords and rounding.
const CHORDS: f64 = 0.01;

/// Room for the cutter in the moat beside its own width, mm: for a helix down, and to begin the finishing rounds off the wall.
pub(crate) fn play(diameter: f64) -> f64 {
    (0.6 * diameter).max(4.5)
}

/// The tabs at both ends of a piece in a blank, two or three at each, as rectangles seen from above that reach from within
/// the piece to the blank's end. Fibres run along X, so that they run through them.
pub(crate) fn tabs(piece: &Piece, half: DVec2) -> Vec<(DVec2, DVec2)> {
    let ring = piece.outline.parallel(0.0, PATH_TOLERANCE);
    let width = piece.outline.half_size().y;
    let places: &[f64] = if 2.0 * width > TAB_EVERY { &[-0.42, 0.0, 0.42] } else { &[-0.3, 0.3] };
    let mut tabs = Vec::new();
    for (side, share) in [1.0, -1.0].into_iter().flat_map(|side| places.iter().map(move |share| (side, share))) {
        let y = share * width;
        let Some((x, askew)) = end(&ring, side, y) else { continue };
        if askew <= TAB_ASKEW {
            let (a, b) = (x - side * 0.5 * TAB_WIDTH, side * half.x);
            tabs.push((DVec2::new(a.min(b), y - TAB_WIDTH / 2.0), DVec2::new(a.max(b), y + TAB_WIDTH / 2.0)));
        }
    }
    tabs
}

/// What still stands below the tops of the tabs when the rounds have gone along the wall and over the tabs: the tabs, and
/// beside each the fillets that a round cutter leaves between tab and wall.
fn left_by_the_rounds(outline: &Region, tabs: &[(DVec2, DVec2)], diameter: f64) -> Region {
    let (radius, fine) = (diameter / 2.0, 0.25 * CHORDS);
    let around = |by: f64| {
        let boxes = tabs.iter().map(|(min, max)| Region::rectangle(*min - DVec2::splat(by), *max + DVec2::splat(by)));
        boxes.fold(Region::default(), |all, one| all.union(&one))
    };
    let bank = outline.offset(diameter + ALLOWANCE + play(diameter) + CLEAR, PATH_TOLERANCE);
    let axis = outline.offset(radius + ALLOWANCE + play(diameter), PATH_TOLERANCE);
    let axis = axis.minus(&outline.offset(radius, fine)).minus(&around(radius + CLEAR));
    let swept = axis.offset(radius + CHORDS, fine);
    // A little into the piece and into the bank, so that the solids are one.
    let moat = bank.offset(1.0, PATH_TOLERANCE).minus(&outline.offset(-0.5, PATH_TOLERANCE));
    moat.common(&around(diameter)).minus(&swept)
}

/// Where the edge lies farthest out at an end for a y, and how far from square to X it lies there, degrees.
fn end(ring: &Ring, side: f64, y: f64) -> Option<(f64, f64)> {
    let crossing = ring.sides().filter(|(a, b)| (a.y <= y) != (b.y <= y)).map(|(a, b)| {
        let x = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
        (x, (b.x - a.x).abs().atan2((b.y - a.y).abs()).to_degrees())
    });
    crossing.max_by(|p, q| (side * p.0).total_cmp(&(side * q.0)))
}

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
    let holding = held(shop, Lies::Foot, -sizes.thickness());
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
    bench.keep("face the rim", facer, s.leaving(f64::INFINITY), moves)?;

    let block = Mesh::cuboid(DVec3::new(-half.x, -half.y, 0.0), DVec3::new(half.x, half.y, piece.height));
    let block = solid(block.minus(&piece.inside_body(piece.height + 1.0)), "the block without the inside")?;
    let hollow = hollow(shop, cutters, frame, (&block, piece.height))?;
    hollow_out(shop, cutters, &mut bench, (&hollow, piece.height))?;

    let skin = |top: f64| Mesh::cuboid(DVec3::new(-half.x, -half.y, 0.0), DVec3::new(half.x, half.y, top));
    let mut target = solid(piece.mesh.union(&skin(SKIN)), "the tray on its skin")?;
    let rough = &cutters.rough.solid;
    // The inside is done; around the outside a full body keeps the cutter out of it.
    let mut body = piece.outside_body(piece.height);
    let outline = Region { rings: vec![piece.outline.parallel(0.0, PATH_TOLERANCE)] };
    let mut within = shop.plan(rough.radius() + 2.0);
    let tabs = if shop.freeing == Freeing::Tabs { tabs(piece, half) } else { Vec::new() };
    if !tabs.is_empty() {
        let play = play(rough.diameter);
        within = outline.offset(rough.radius() + ALLOWANCE + play, PATH_TOLERANCE);
        let moat = outline.offset(rough.diameter + ALLOWANCE + play + CLEAR, PATH_TOLERANCE);
        let around = shop.plan(0.0).minus(&moat);
        if !around.is_empty() {
            let frame = Mesh::prism(&around, 0.0, piece.height);
            target = solid(target.union(&frame), "the tray in its frame")?;
        }
    }
    for tab in &tabs {
        let tab = Mesh::cuboid(tab.0.extend(0.0), tab.1.extend(TAB_HEIGHT));
        body = solid(body.union(&tab), "the tray on its tabs")?;
    }
    if !tabs.is_empty() {
        let stays = Mesh::prism(&left_by_the_rounds(&outline, &tabs, rough.diameter), 0.0, TAB_HEIGHT);
        target = solid(target.union(&stays), "the tray on its tabs")?;
    }
    let location = shop.location(&frame.to_program(&body), cutters.rough, ALLOWANCE, foot);
    let (work, s) = bench.work_for(cutters.task, cutters.rough, false);
    let steps = shop.steps(cutters.task, cutters.rough, &s, (&holding, rim));
    let moves = roughing(
        &Roughing {
            site: &Site::new(&location, &within),
            stock: &bench.stock(),
            top_z: rim,
            bottom_z: foot + SKIN,
            step_down: steps.down,
            stepover: steps.over,
            diameter: rough.diameter,
            relief: super::cavity::relief(cutters.rough, rim - foot),
        },
        &work,
        shop.progress,
    )?;
    let title = if tabs.is_empty() {
        "clear the outside down to the skin"
    } else {
        "cut the moat down to the skin and the tabs"
    };
    bench.keep(title, cutters.rough, s.leaving(ALLOWANCE), moves)?;

    let room = DVec2::splat(CLEAR);
    let top_z = foot + TAB_HEIGHT;
    let over: Vec<Tab> = tabs.iter().map(|tab| Tab { min: tab.0 - room, max: tab.1 + room, top_z }).collect();
    let edge = &outline.rings[0];
    let (work, s) = bench.work(cutters.rough, false);
    let moves = profile(
        &Profile {
            edge,
            diameter: rough.diameter,
            leave: &[SPRING, 0.0],
            from_z: rim,
            to_z: foot + SKIN,
            step_down: shop.wall_step_down(cutters.rough, &s, ALLOWANCE),
            tabs: &over,
        },
        &work,
    );
    bench.keep("finish the outside wall", cutters.rough, s, moves)?;

    let table_z = -(sizes.thickness() + under(shop, Lies::Foot));
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
        alignment: Some(sawn(shop, half)),
        reference_spot: spot,
        programs: Vec::new(),
        look_first: String::new(),
        inspect: inspections(shop),
        finishes_skin: true,
        only_roughs: false,
    };
    let keep = keep(shop, Lies::Foot, &frame, table_z)?;
    Ok(Planned { setup, operations: bench.operations, safe_z: bench.safe_z, target, keep, look })
}
