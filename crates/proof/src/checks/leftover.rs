//! Leftover: what still stands above the finished skin after its last setup, and above the hollows before the pour.

use crate::bed::Bed;
use crate::case::{Case, SetupCase};
use crate::envelope::{Envelope, Swept};
use crate::evidence::PieceFacts;
use crate::map::{Map, Painter, Shown};
use crate::skin::{FAR, Point, SPACING, spread, wear};
use crate::verdict::{Check, Where};
use base::{Cancelled, Progress};
use glam::{DAffine3, DVec2, DVec3};
use rayon::prelude::*;

/// A skin that leans less than this from upright counts as upright: either side's setup may have finished it.
const UPRIGHT: f64 = 1e-3;
/// Leftover allowed in a hollow under opaque resin, which hides it, and under clear, where it shows, mm (common practice, no
/// source). Roughing alone may leave 0.5 mm.
const HOLLOW: [f64; 2] = [0.2, 0.15];
/// Leftover allowed on flats and edges that later setups rely on, mm.
const FEATURE: f64 = 0.1;
/// What lies this near to a face of the stock lies on it, mm.
const RAW: f64 = 0.05;
/// Edges cut true lie no farther inside the stock's sides, mm.
const TRUED: f64 = 3.0;
/// A face is level if it leans less than this: cosine of 0.6°.
const LEVEL: f64 = 0.99995;
/// Points are left alone once they are below this share of the limit: only the greatest figure counts.
const SETTLED: f64 = 0.25;
/// A cutter that goes no deeper into a skin only touches it, mm.
const TOUCH: f64 = 1e-3;
const MISSING: &str = "the model of the hollow or of the piece is missing";
/// Triangles handled together.
const CHUNK: usize = 256;

/// The skin that a setup finishes.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, progress: &dyn Progress) -> Result<Option<Check>, Cancelled> {
    if !of.setup.finishes_skin {
        return Ok(None);
    }
    let (id, title) = (of.id("leftover"), "Material left on the finished skin");
    progress.tell(&format!("prove: leftover of {}", of.setup.id), 0.0);
    let promise = &case.evidence.promise;
    let limit = promise.scallop + promise.leftover;
    let models = (case.model(&of.setup.target), case.piece(of.setup.face_up));
    let (Some(target), Some(skin)) = models else {
        return Ok(Some(Check::uncomputed(id, title, "the model of the target or of the piece is missing")));
    };
    // The target's triangles need not be the piece's: they agree within the chord tolerance of both.
    let near = 2.0 * promise.chord + 1e-3;
    let on_piece = |p: &Point| skin.distance(p.at, near, &|n, _| n.dot(p.normal) > 0.9) <= near;
    let points = points_on(&facing_up(target, of, false), &|_| true);
    // Only points that may be the worst are looked up on the piece: it takes as long as all the rest.
    let wanted = Wanted { points, on_piece: &on_piece, upright_by_others: true, perhaps_none: false };
    settle(case, of, (id, title, limit), wanted, progress).map(Some)
}

/// Standing left on flats and upright faces that a setup makes and that are no skin of the piece: notch and witnesses, the
/// levelled face, the flange and its true edges. Later setups and the maker rely on them.
pub(crate) fn judge_features(case: &Case<'_>, of: &SetupCase<'_>, progress: &dyn Progress) -> Result<Check, Cancelled> {
    let (id, title) = (of.id("features"), "Material left on flats and edges that are relied on later");
    let models = (case.model(&of.setup.target), case.piece(of.setup.face_up));
    let (Some(target), Some(piece)) = models else {
        return Ok(Check::uncomputed(id, title, "the model of the target or of the piece is missing"));
    };
    let hollows: Vec<_> = case.evidence.casts.iter().filter_map(|c| case.model(&c.hollow)).collect();
    let hollows = Bed::new(&hollows, &of.frame.piece_to_workpiece);
    // Beside a skin a ball leaves its fillet, which goes with the waste.
    let balls = of.cutters().into_iter().filter_map(|n| case.cutter(Some(n))).map(|c| Envelope::of(&c.solid).ball);
    let near = 2.0 * case.evidence.promise.chord + 1e-3 + balls.fold(0.0, f64::max);
    let (low, high) = (of.frame.workpiece(of.setup.stock.min), of.frame.workpiece(of.setup.stock.max));
    // Faces of the stock as it comes are nobody's to make.
    let raw = |p: &Point| {
        let on = |k: usize, at: f64| (p.at[k] - at).abs() < RAW;
        on(2, high[2]) || (0..2).any(|k| on(k, low[k]) || on(k, high[k]))
    };
    // Where a skin is finished, flats and walls that are none of it are waste: the flange and the neck above it. The edges that
    // are cut true are not.
    let side = |p: &Point| (0..2).any(|k| p.at[k] - low[k] < TRUED || high[k] - p.at[k] < TRUED);
    let flats = !of.setup.finishes_skin && !of.setup.only_roughs;
    let flat = |p: &Point| (p.normal.z > LEVEL && flats) || (p.normal.z.abs() < UPRIGHT && side(p));
    let mut points = points_on(&facing_up(target, of, false), &|p| flat(p) && !raw(p));
    points.retain(|p| p.at.z < high[2] + RAW);
    // Its own sweeps come first: what a facing leaves flush needs no look at all that was cut before.
    if let Ok(strokes) = case.strokes(of) {
        wear(&mut points, strokes, SETTLED * FEATURE, progress)?;
    }
    let earlier = case.setups.iter().take_while(|s| s.setup.id != of.setup.id);
    for other in earlier {
        wear_by(case, (other, of), &mut points, FEATURE, progress)?;
    }
    let apart = |p: &Point| [piece, &hollows].iter().all(|skin| skin.distance(p.at, near, &|_, _| true) > near);
    let wanted = Wanted { points, on_piece: &apart, upright_by_others: false, perhaps_none: true };
    settle(case, of, (id, title, FEATURE), wanted, progress)
}

/// The hollow of a cast, by all setups that carved before its pour.
pub(crate) fn judge_hollow(case: &Case<'_>, cast: u16, progress: &dyn Progress) -> Result<Check, Cancelled> {
    let facts = &case.evidence.casts[usize::from(cast)];
    let (id, title) = (format!("hollow.{}", facts.name), "Material left in the hollow under the resin");
    let Some(hollow) = case.model(&facts.hollow) else {
        return Ok(Check::uncomputed(id, title, MISSING));
    };
    let carved = case.carved_before(cast);
    let Some(last) = carved.last() else {
        return Ok(Check::uncomputed(id, title, "no setup carves the hollow before its pour"));
    };
    let Some(body) = case.piece(last.setup.face_up) else {
        return Ok(Check::uncomputed(id, title, MISSING));
    };
    let limit = HOLLOW[usize::from(facts.translucent)];
    let mut points = points_on(&facing_up(hollow, last, true), &|p| body.holds(p.at));
    for earlier in &carved[..carved.len() - 1] {
        if let Ok(strokes) = case.strokes(earlier) {
            wear(&mut points, strokes, SETTLED * limit, progress)?;
        }
    }
    let wanted = Wanted { points, on_piece: &|_| true, upright_by_others: false, perhaps_none: false };
    settle(case, last, (id, title, limit), wanted, progress)
}

/// Points to be judged.
struct Wanted<'a> {
    points: Vec<Point>,
    /// Whether a point counts at all.
    on_piece: &'a (dyn Fn(&Point) -> bool + Sync),
    /// Whether what stands upright may have been finished from the other side.
    upright_by_others: bool,
    /// Whether it is in order that no point counts.
    perhaps_none: bool,
}

/// Triangles of a mesh that face up (or stand upright) in a setup, in the workpiece's frame. `inverted` for the mesh of a
/// hollow, whose skin is the wood's seen from the other side.
pub(crate) fn facing_up(mesh: &geom::Mesh, of: &SetupCase<'_>, inverted: bool) -> Vec<[DVec3; 3]> {
    let face = |i: usize| {
        let mut t = mesh.corners(i).map(|p| of.frame.piece_to_workpiece.transform_point3(p));
        if inverted {
            t.swap(1, 2);
        }
        let normal = (t[1] - t[0]).cross(t[2] - t[0]).normalize_or_zero();
        (normal.z >= -UPRIGHT).then_some(t)
    };
    (0..mesh.triangles.len()).into_par_iter().filter_map(face).collect()
}

/// Points on such triangles that satisfy `wanted`.
fn points_on(skin: &[[DVec3; 3]], wanted: &(dyn Fn(&Point) -> bool + Sync)) -> Vec<Point> {
    let parts: Vec<Vec<Point>> = skin
        .par_chunks(CHUNK)
        .map(|chunk| {
            let mut points = Vec::new();
            chunk.iter().for_each(|t| spread(t, SPACING, &mut points));
            points.retain(|p| wanted(p));
            points
        })
        .collect();
    parts.into_iter().flatten().collect()
}

fn settle(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    (id, title, limit): (String, &str, f64),
    Wanted { mut points, on_piece, upright_by_others, perhaps_none }: Wanted<'_>,
    progress: &dyn Progress,
) -> Result<Check, Cancelled> {
    let strokes = match case.strokes(of) {
        Ok(strokes) => strokes,
        Err(why) => return Ok(Check::uncomputed(id, title, why)),
    };
    wear(&mut points, strokes, SETTLED * limit, progress)?;
    let mut open: Vec<Point> = points.iter().copied().filter(|p| p.left > limit && on_piece(p)).collect();
    let more = |most: Option<&Point>, p: &Point| most.is_none_or(|most| p.left > most.left) && on_piece(p);
    let within = points.iter().filter(|p| p.left <= limit);
    let settled: Option<&Point> = within.fold(None, |most, p| if more(most, p) { Some(p) } else { most });
    if settled.is_none() && open.is_empty() {
        if perhaps_none {
            return Ok(Check::at_most(id, title, 0.0, limit, "mm").at(of.here()));
        }
        return Ok(Check::uncomputed(id, title, "no part of the finished skin faces up in this setup"));
    }
    if upright_by_others {
        wear_upright(case, of, &mut open, limit, progress)?;
        open.retain(|p| p.left > limit);
    }
    open.sort_by(|a, b| b.left.total_cmp(&a.left));
    let by_others = |p: &Point| upright_by_others && p.left > limit && p.normal.z.abs() <= UPRIGHT;
    let reach = Reach::new(case, of, limit);
    let corners = open.iter().take_while(|p| !reach.any(p)).count();
    let worst = open.get(corners).or(settled);
    let mut check = Check::at_most(id, title, worst.map_or(0.0, |p| p.left.clamp(0.0, FAR)), limit, "mm")
        .maybe_at(worst.map(|p| Where { at: Some(of.frame.piece(p.at)), ..of.here() }))
        .mapped(map(of, points.iter().filter(|p| !by_others(p)), on_piece, (title, limit)))
        .remedy("Add a finishing pass here, or take a smaller stepover: the cutter can reach this place (1 mm stands for more, too).");
    if corners > 0 {
        let at = of.frame.piece(open[0].at);
        check = check.assuming(format!(
            "corners that no cutter of this setup can reach are left out: {corners} of {} points, up to \
             {:.2} mm (1 stands for more) near ({:.1}, {:.1}, {:.1}); they are finished by hand",
            points.len(),
            open[0].left.min(FAR),
            at[0],
            at[1],
            at[2]
        ));
    }
    Ok(check)
}

/// What is left in plan, corners that no cutter can reach included. Of each cell only the worst point is looked up.
fn map<'p>(
    of: &SetupCase<'_>,
    points: impl Iterator<Item = &'p Point>,
    on_piece: &(dyn Fn(&Point) -> bool + Sync),
    (title, limit): (&str, f64),
) -> Option<Map> {
    let mut painter = Painter::over_stock(of, Shown::Greatest);
    let to_program = of.frame.program_to_workpiece.inverse();
    let mut worst: Vec<Option<&Point>> = vec![None; painter.cells()];
    for p in points {
        let known = &mut worst[painter.cell(to_program.transform_point3(p.at).truncate().to_array())];
        if known.is_none_or(|k| p.left > k.left) {
            *known = Some(p);
        }
    }
    let shown = |p: &Option<&Point>| p.filter(|p| on_piece(p)).map(|p| p.left.clamp(0.0, FAR));
    let shown: Vec<Option<f64>> = worst.par_iter().map(shown).collect();
    shown.into_iter().enumerate().filter_map(|(k, v)| Some((k, v?))).for_each(|(cell, left)| painter.set(cell, left));
    painter.finish(title, "mm", Some(limit))
}

/// Lets what another setup cut lower what is left at points given as this one's workpiece lies.
fn wear_by(
    case: &Case<'_>,
    (other, of): (&SetupCase<'_>, &SetupCase<'_>),
    points: &mut [Point],
    limit: f64,
    progress: &dyn Progress,
) -> Result<(), Cancelled> {
    let Ok(strokes) = case.strokes(other) else { return Ok(()) };
    let across = other.frame.piece_to_workpiece * of.frame.piece_to_workpiece.inverse();
    let turn = |points: &mut [Point], by: &DAffine3| {
        points.iter_mut().for_each(|p| {
            p.at = by.transform_point3(p.at);
            p.normal = by.transform_vector3(p.normal);
        });
    };
    turn(points, &across);
    wear(points, strokes, SETTLED * limit, progress)?;
    turn(points, &across.inverse());
    Ok(())
}

/// What stands upright may have been finished from the other side.
fn wear_upright(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    open: &mut [Point],
    limit: f64,
    progress: &dyn Progress,
) -> Result<(), Cancelled> {
    let mut upright: Vec<Point> = open.iter().copied().filter(|p| p.normal.z.abs() <= UPRIGHT).collect();
    if upright.is_empty() {
        return Ok(());
    }
    for other in case.setups.iter().filter(|s| s.setup.id != of.setup.id && s.setup.finishes_skin) {
        wear_by(case, (other, of), &mut upright, limit, progress)?;
    }
    let worn = open.iter_mut().filter(|p| p.normal.z.abs() <= UPRIGHT);
    worn.zip(upright).for_each(|(p, u)| p.left = u.left);
    Ok(())
}

/// Whether a cutter of the setup could finish a point without cutting into what must remain.
pub(crate) struct Reach<'a> {
    of: &'a SetupCase<'a>,
    facts: &'a PieceFacts,
    bed: &'a Bed,
    envelopes: Vec<Envelope>,
    limit: f64,
    gouge: f64,
}

impl<'a> Reach<'a> {
    pub(crate) fn new(case: &'a Case<'_>, of: &'a SetupCase<'_>, limit: f64) -> Self {
        let envelopes = of.cutters().into_iter().filter_map(|n| case.cutter(Some(n))).map(|c| Envelope::of(&c.solid));
        let gouge = case.evidence.promise.gouge + case.evidence.promise.chord;
        Self { of, facts: &case.evidence.piece, bed: case.bed(of), envelopes: envelopes.collect(), limit, gouge }
    }

    pub(crate) fn any(&self, p: &Point) -> bool {
        // Between the slopes of a mark the flat of a point fits down a little farther for every bit of gouge: what only a gouge
        // reaches does not count there.
        let gouge = if self.facts.in_mark(self.of.frame.piece(p.at)) { TOUCH } else { self.gouge };
        self.envelopes.iter().any(|e| self.places(e, p).iter().any(|&tip| self.is_free(e, tip, gouge)))
    }

    /// Tips that bring the cutter within the limit of the point.
    fn places(&self, envelope: &Envelope, p: &Point) -> Vec<DVec3> {
        let disc = envelope.low;
        let centre = p.at + p.normal * (envelope.ball + self.limit) - DVec3::Z * disc.z;
        let plan = p.normal.truncate();
        if plan.length() > 1e-6 {
            return vec![centre + (plan.normalize() * disc.radius).extend(0.0)];
        }
        // On a level floor the point may lie anywhere under the flat end.
        let around = |k: usize| DVec2::from_angle(std::f64::consts::TAU * k as f64 / 16.0) * disc.radius;
        std::iter::once(centre).chain((0..16).map(|k| centre + around(k).extend(0.0))).collect()
    }

    fn is_free(&self, envelope: &Envelope, tip: DVec3, gouge: f64) -> bool {
        let standing = Swept::new(*envelope, tip, tip);
        self.bed.depth(&standing, gouge).is_none()
    }
}
