//! Lettering cut by a pointed cutter: its point follows the medial axis as deep as the stroke is wide, and rises to the surface
//! into every sharp corner, so that corners come out as sharp as the point.
//!
//! Where the greatest depth is less than the stroke's width asks for, the floor is flat and is cleared by rounds of the same
//! cutter, so close that the ridges between them are no higher than asked.

use crate::moves::{Track, levels};
use crate::pocket::rounds;
use crate::{Move, Work};
use geom::medial::{Branch, Disc, MedialAxis};
use geom::{DVec2, Region};

/// A branch at least this long serves for going down along it, to and fro; on a shorter one the point goes down in turns, mm.
const LONG_ENOUGH: f64 = 0.8;
/// Points of a descent are no farther apart than this, mm.
const STEP: f64 = 0.25;
/// On turns that grow narrow the point goes down by no less than this from point to point, mm.
const LEAST_FALL: f64 = 0.01;
/// Points on one turn.
const TURN: u32 = 12;
/// A corner in which the tip sticks no longer than so many of its radii is a corner; what is longer is a stroke too thin.
const CORNER: f64 = 10.0;

/// What to engrave.
#[derive(Clone, Debug)]
pub struct Engraving<'a> {
    /// The strokes seen from above.
    pub region: &'a Region,
    /// Their medial axis.
    pub axis: &'a MedialAxis,
    /// Height of the face they are cut into.
    pub surface_z: f64,
    /// Greatest depth, mm.
    pub deepest: f64,
    /// Angle of the cutter's side from its axis, degrees.
    pub half_angle_deg: f64,
    /// Diameter of the flat at its point.
    pub tip_diameter: f64,
    /// Greatest depth of a pass, mm.
    pub step_down: f64,
    /// Height of the ridges that may be left on a flat floor, mm.
    pub ridge: f64,
}

/// A stroke too thin for the cutter's tip: nothing is cut there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooThin {
    /// Where.
    pub at: DVec2,
    /// Greatest width there, mm.
    pub width: f64,
}

/// Moves, and what they leave out.
#[derive(Clone, Debug, PartialEq)]
pub struct Engraved {
    /// The moves.
    pub moves: Vec<Move>,
    /// Strokes that are left out.
    pub too_thin: Vec<TooThin>,
}

/// Engraves. No position of the cutter reaches over the strokes' outline by more than the tolerances of the axis and of the
/// work.
pub fn engraving(what: &Engraving<'_>, work: &Work) -> Engraved {
    let cone = Cone::new(what);
    let branches = what.axis.without_blunt_corners(work.tolerance);
    let mut track = Track::new(work);
    let parts = connected(&branches);
    let mut left: Vec<Vec<&Branch>> = parts.iter().map(|p| p.iter().map(|&k| &branches[k]).collect()).collect();
    left.retain(|part| deepest_of(part, &cone) > 0.0);
    // From the left end of the line on, always the part that is nearest to where the last one ended.
    let mut here = what.region.bounds().map_or(DVec2::ZERO, |(low, _)| low);
    while !left.is_empty() {
        let far = |part: &Vec<&Branch>| {
            part.iter().flat_map(|b| &b.discs).map(|d| d.at.distance(here)).fold(f64::INFINITY, f64::min)
        };
        let nearest = (0..left.len()).fold(0, |best, k| if far(&left[k]) < far(&left[best]) { k } else { best });
        cut_part(&mut track, &left.remove(nearest), &cone, what, work);
        here = track.at().map_or(here, |p| DVec2::new(p[0], p[1]));
    }
    clear_floors(&mut track, &branches, &cone, what, work);
    Engraved { moves: track.finish(), too_thin: too_thin(what, work.tolerance) }
}

/// Where not even the tip fits, the points of sharp corners left out.
pub fn too_thin(what: &Engraving<'_>, tolerance: f64) -> Vec<TooThin> {
    thin(&what.axis.without_blunt_corners(tolerance), what.axis, &Cone::new(what))
}

/// The cutter as far as it matters here.
struct Cone {
    tip: f64,
    /// Radius gained per depth.
    spread: f64,
    deepest: f64,
}

impl Cone {
    fn new(what: &Engraving<'_>) -> Self {
        Self { tip: what.tip_diameter / 2.0, spread: what.half_angle_deg.to_radians().tan(), deepest: what.deepest }
    }

    /// How deep the point goes where the cutter just fits a disc; below 0 where even the tip does not fit.
    fn fits(&self, disc: &Disc) -> f64 {
        (disc.radius - self.tip) / self.spread
    }

    fn depth(&self, disc: &Disc) -> f64 {
        self.fits(disc).clamp(0.0, self.deepest)
    }

    /// Radius at the surface of a cut so deep.
    fn reach(&self, depth: f64) -> f64 {
        self.tip + depth * self.spread
    }
}

fn deepest_of(part: &[&Branch], cone: &Cone) -> f64 {
    part.iter().flat_map(|b| &b.discs).map(|d| cone.depth(d)).fold(0.0, f64::max)
}

/// Branches that hang together, each group in order.
fn connected(branches: &[Branch]) -> Vec<Vec<usize>> {
    groups(branches.len(), &|k| branches[k].ends)
}

/// Indices of pieces that share ends, in order of the first of each group.
fn groups(n: usize, ends: &dyn Fn(usize) -> [usize; 2]) -> Vec<Vec<usize>> {
    let mut group: Vec<usize> = (0..n).collect();
    let most = (0..n).flat_map(ends).max().map_or(0, |m| m + 1);
    let mut first: Vec<Option<usize>> = vec![None; most];
    fn root(of: &[usize], mut k: usize) -> usize {
        while of[k] != k {
            k = of[k];
        }
        k
    }
    for k in 0..n {
        for end in ends(k) {
            match first[end] {
                Some(other) => {
                    let (a, b) = (root(&group, other), root(&group, k));
                    group[a.max(b)] = a.min(b);
                }
                None => first[end] = Some(k),
            }
        }
    }
    let mut out: Vec<(usize, Vec<usize>)> = Vec::new();
    for k in 0..n {
        let of = root(&group, k);
        match out.iter_mut().find(|(r, _)| *r == of) {
            Some((_, members)) => members.push(k),
            None => out.push((of, vec![k])),
        }
    }
    out.into_iter().map(|(_, members)| members).collect()
}

/// A stretch of the axis that is cut in one pass: its discs with the depth of the point.
#[derive(Clone, Debug)]
struct Groove {
    ends: [usize; 2],
    points: Vec<(DVec2, f64)>,
}

impl Groove {
    fn length(&self) -> f64 {
        self.points.windows(2).map(|w| w[0].0.distance(w[1].0)).sum()
    }

    fn seen_from(&self, end: usize) -> Vec<(DVec2, f64)> {
        let mut points = self.points.clone();
        if self.ends[0] != end {
            points.reverse();
        }
        points
    }

    fn other(&self, end: usize) -> usize {
        if self.ends[0] == end { self.ends[1] } else { self.ends[0] }
    }
}

/// One connected part, pass below pass.
fn cut_part(track: &mut Track<'_>, part: &[&Branch], cone: &Cone, what: &Engraving<'_>, work: &Work) {
    let mut above = 0.0;
    for z in levels(0.0, -deepest_of(part, cone), what.step_down) {
        let grooves = grooves(part, cone, above, -z);
        for group in groups(grooves.len(), &|k| grooves[k].ends) {
            let members: Vec<&Groove> = group.iter().map(|&k| &grooves[k]).collect();
            cut_grooves(track, &members, above, what, work);
        }
        above = -z;
    }
}

/// The parts of the branches where the cutter goes deeper than `above`, no deeper than `to`. Where one begins in the middle of a
/// branch, the point stands at `above` there: it has come up.
fn grooves(part: &[&Branch], cone: &Cone, above: f64, to: f64) -> Vec<Groove> {
    let mut fresh = part.iter().flat_map(|b| b.ends).max().map_or(0, |m| m + 1);
    let mut out = Vec::new();
    for branch in part {
        if let [disc] = branch.discs[..] {
            out.push(Groove { ends: branch.ends, points: vec![(disc.at, cone.depth(&disc).min(to))] });
            continue;
        }
        for run in runs(&branch.discs, &|d| cone.fits(d) - above) {
            let mut end = |inner: bool, joint: usize| {
                if inner {
                    fresh += 1;
                    fresh - 1
                } else {
                    joint
                }
            };
            let ends = [end(run.cut[0], branch.ends[0]), end(run.cut[1], branch.ends[1])];
            // Where the point stops going deeper there is a corner in its path.
            let discs = broken(&run.discs, &|d| cone.fits(d) - to);
            let points = discs.iter().map(|d| (d.at, cone.fits(d).clamp(above, to))).collect();
            out.push(Groove { ends, points });
        }
    }
    out
}

/// With a disc put in wherever a figure that is linear between discs passes 0.
fn broken(discs: &[Disc], figure: &dyn Fn(&Disc) -> f64) -> Vec<Disc> {
    let mut out: Vec<Disc> = discs.first().copied().into_iter().collect();
    for w in discs.windows(2) {
        let (a, b) = (figure(&w[0]), figure(&w[1]));
        if a * b < 0.0 {
            out.push(w[0].lerp(&w[1], a / (a - b)));
        }
        out.push(w[1]);
    }
    out
}

/// A stretch of a branch, and whether it was cut off at its start and end.
struct Run {
    discs: Vec<Disc>,
    cut: [bool; 2],
}

/// The stretches of a branch on which a figure that is linear between its discs is above 0.
fn runs(discs: &[Disc], figure: &dyn Fn(&Disc) -> f64) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    let mut now: Option<Run> =
        discs.first().filter(|d| figure(d) > 0.0).map(|d| Run { discs: vec![*d], cut: [false, false] });
    for w in discs.windows(2) {
        let (a, b) = (figure(&w[0]), figure(&w[1]));
        let between = || w[0].lerp(&w[1], (a / (a - b)).clamp(0.0, 1.0));
        match (&mut now, b > 0.0) {
            (Some(run), true) => run.discs.push(w[1]),
            (Some(_), false) => {
                if let Some(mut run) = now.take() {
                    run.discs.push(between());
                    run.cut[1] = true;
                    out.push(run);
                }
            }
            (None, true) => now = Some(Run { discs: vec![between(), w[1]], cut: [true, false] }),
            (None, false) => {}
        }
    }
    out.extend(now);
    out
}

/// Goes down at the deepest joint and cuts all grooves, the short ends first, so that the way back is short.
fn cut_grooves(track: &mut Track<'_>, grooves: &[&Groove], above: f64, what: &Engraving<'_>, work: &Work) {
    let place = |g: &Groove, end: usize| g.seen_from(end)[0];
    let ends = grooves.iter().flat_map(|g| g.ends.map(|e| (e, place(g, e))));
    let Some((root, (at, depth))) = ends.reduce(|best, e| if e.1.1 > best.1.1 { e } else { best }) else { return };
    let z = |depth: f64| what.surface_z - depth;
    track.hop(at.x, at.y, (what.surface_z + work.approach).min(work.safe_z));
    track.plunge([at.x, at.y, z(above)]);
    let longest = grooves.iter().filter(|g| g.ends.contains(&root)).max_by(|a, b| a.length().total_cmp(&b.length()));
    match longest {
        _ if work.plunges => track.plunge([at.x, at.y, z(depth)]),
        Some(along) if along.length() >= LONG_ENOUGH => {
            ramp(track, &along.seen_from(root), (above, depth), what.surface_z, work.ramp_deg);
        }
        _ => turn_down(track, at, (above, depth), what, work),
    }
    for (k, from, fresh) in walk(grooves, root) {
        let points = grooves[k].seen_from(from);
        for w in points.windows(2) {
            let to = [w[1].0.x, w[1].0.y, z(w[1].1)];
            match (fresh, w[1].1 > w[0].1) {
                (false, _) => track.link(to),
                (true, true) => track.plunge(to),
                (true, false) => track.buried(to),
            }
        }
    }
}

/// Down along a groove, to and fro, never deeper than it is anywhere; ends at its start.
fn ramp(track: &mut Track<'_>, groove: &[(DVec2, f64)], (above, to): (f64, f64), surface_z: f64, ramp_deg: f64) {
    let fall = ramp_deg.clamp(0.5, 45.0).to_radians().tan();
    let mut path: Vec<(DVec2, f64)> = vec![groove[0]];
    for w in groove.windows(2) {
        let n = (w[0].0.distance(w[1].0) / STEP).ceil().max(1.0) as usize;
        let share = |k: usize| k as f64 / n as f64;
        path.extend((1..=n).map(|k| (w[0].0.lerp(w[1].0, share(k)), w[0].1 + (w[1].1 - w[0].1) * share(k))));
    }
    let mut depth = above;
    let (mut k, mut forward) = (0, true);
    while depth < to {
        let next = if forward { k + 1 } else { k - 1 };
        depth = (depth + path[next].0.distance(path[k].0) * fall).min(to);
        let (at, most) = path[next];
        track.plunge([at.x, at.y, surface_z - depth.min(most)]);
        k = next;
        if k + 1 == path.len() {
            forward = false;
        } else if k == 0 {
            forward = true;
        }
    }
    for &(at, most) in path[..k].iter().rev() {
        track.buried([at.x, at.y, surface_z - to.min(most)]);
    }
}

/// Down in turns that grow narrower as the cutter, ever deeper, fills the disc about `at`; ends in its middle.
fn turn_down(track: &mut Track<'_>, at: DVec2, (above, to): (f64, f64), what: &Engraving<'_>, work: &Work) {
    let spread = what.half_angle_deg.to_radians().tan();
    let fall = work.ramp_deg.clamp(0.5, 45.0).to_radians().tan();
    let step = std::f64::consts::TAU / f64::from(TURN);
    let (mut depth, mut turned) = (above, 0.0_f64);
    loop {
        let radius = (to - depth) * spread;
        let p = at + radius * DVec2::from_angle(if work.climb { turned } else { -turned });
        track.plunge([p.x, p.y, what.surface_z - depth]);
        if depth >= to {
            return;
        }
        depth = (depth + (radius * step * fall).max(LEAST_FALL)).min(to);
        turned += step;
    }
}

/// All grooves in the order in which they are gone along: (which, from which end, whether for the first time). Ways back lead along
/// grooves that are cut; after the last fresh one there is none.
fn walk(grooves: &[&Groove], root: usize) -> Vec<(usize, usize, bool)> {
    let mut order: Vec<(usize, usize, bool)> = Vec::new();
    let mut done = vec![false; grooves.len()];
    // Where the point stands, and how it came there.
    let mut came: Vec<(usize, usize)> = Vec::new();
    let mut here = root;
    loop {
        let open = (0..grooves.len()).filter(|&k| !done[k] && grooves[k].ends.contains(&here));
        let next =
            open.map(|k| (behind(grooves, &done, k, here), k)).min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        if let Some((_, k)) = next {
            order.push((k, here, true));
            done[k] = true;
            came.push((k, here));
            here = grooves[k].other(here);
        } else if let Some((k, from)) = came.pop() {
            order.push((k, here, false));
            here = from;
        } else {
            break;
        }
    }
    let last = order.iter().rposition(|o| o.2).map_or(0, |k| k + 1);
    order.truncate(last);
    order
}

/// Length of all that is still to be cut and hangs together with groove `k`, not counting what is reached from `here` only.
fn behind(grooves: &[&Groove], done: &[bool], k: usize, here: usize) -> f64 {
    let mut seen = vec![false; grooves.len()];
    seen[k] = true;
    let mut total = grooves[k].length();
    let mut open = vec![grooves[k].other(here)];
    while let Some(end) = open.pop() {
        for j in 0..grooves.len() {
            if end != here && !done[j] && !seen[j] && grooves[j].ends.contains(&end) {
                seen[j] = true;
                total += grooves[j].length();
                open.push(grooves[j].other(end));
            }
        }
    }
    total
}

/// Rounds on the flat floors, begun from where the point has been at full depth.
fn clear_floors(track: &mut Track<'_>, branches: &[Branch], cone: &Cone, what: &Engraving<'_>, work: &Work) {
    // About a corner that points inwards the chords lie on the corner's side.
    let floor = what.region.offset(-cone.reach(what.deepest), (0.25 * work.tolerance).max(1e-4));
    let z = what.surface_z - what.deepest;
    let full = |d: &&Disc| cone.fits(d) >= what.deepest;
    let cut: Vec<DVec2> = branches.iter().flat_map(|b| &b.discs).filter(full).map(|d| d.at).collect();
    // Two flats of the tip so far apart leave a ridge of that height.
    let step = 2.0 * (cone.tip + what.ridge.max(1e-3) * cone.spread);
    for part in floor.parts() {
        let mut at: Vec<DVec2> = cut.iter().copied().filter(|&p| part.contains(p)).collect();
        for ring in rounds(&part, step, work) {
            let pairs = at.iter().flat_map(|&p| (0..ring.len()).map(move |k| (p, k)));
            let gap = |&(p, k): &(DVec2, usize)| ring[k].distance_squared(p);
            let nearest = pairs.min_by(|a, b| gap(a).total_cmp(&gap(b)));
            let start = nearest.map_or(0, |n| n.1);
            let here = track.at().filter(|p| p[2] <= z).map(|p| DVec2::new(p[0], p[1]));
            let linked = here.is_some_and(|p| p.distance(ring[start]) <= 1.5 * step);
            if let Some((p, _)) = nearest.filter(|_| !linked) {
                track.hop(p.x, p.y, (what.surface_z + work.approach).min(work.safe_z));
                track.plunge([p.x, p.y, z]);
            }
            for k in 0..=ring.len() {
                let p = ring[(start + k) % ring.len()];
                track.feed([p.x, p.y, z]);
            }
            at.extend(ring);
        }
    }
}

fn thin(branches: &[Branch], axis: &MedialAxis, cone: &Cone) -> Vec<TooThin> {
    let mut fresh = axis.joints.len();
    let mut pieces: Vec<Groove> = Vec::new();
    let mut exits: Vec<usize> = Vec::new();
    for branch in branches {
        if let [disc] = branch.discs[..] {
            if cone.fits(&disc) <= 0.0 {
                pieces.push(Groove { ends: branch.ends, points: vec![(disc.at, disc.radius)] });
            }
            continue;
        }
        for run in runs(&branch.discs, &|d| -cone.fits(d)) {
            let ends = [0, 1].map(|k| {
                if run.cut[k] {
                    exits.push(fresh);
                    fresh += 1;
                    fresh - 1
                } else {
                    branch.ends[k]
                }
            });
            pieces.push(Groove { ends, points: run.discs.iter().map(|d| (d.at, d.radius)).collect() });
        }
    }
    let told = groups(pieces.len(), &|k| pieces[k].ends).into_iter().filter_map(|group| {
        let out = group.iter().flat_map(|&k| pieces[k].ends).filter(|e| exits.contains(e)).count();
        let length: f64 = group.iter().map(|&k| pieces[k].length()).sum();
        let points = group.iter().flat_map(|&k| &pieces[k].points);
        let widest = points.copied().reduce(|best, p| if p.1 > best.1 { p } else { best })?;
        (out != 1 || length > CORNER * cone.tip).then_some(TooThin { at: widest.0, width: 2.0 * widest.1 })
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moves::tests::{WORK, check_frame};
    use geom::Ring;
    use geom::distance::point_segment;

    const TOLERANCE: f64 = 1e-3;
    const HALF: f64 = 30.0;
    const TIP: f64 = 0.1;

    fn polygon(points: &[(f64, f64)]) -> Region {
        Region { rings: vec![Ring(points.iter().map(|&(x, y)| DVec2::new(x, y)).collect())] }
    }

    /// A letter of straight strokes 1.4 wide, with a hole; and beside it a round dot.
    fn letters() -> Region {
        let a = polygon(&[
            (0.0, 0.0),
            (1.5, 0.0),
            (2.5, 3.0),
            (5.5, 3.0),
            (6.5, 0.0),
            (8.0, 0.0),
            (4.75, 10.0),
            (3.25, 10.0),
        ]);
        let hole = polygon(&[(2.95, 4.4), (4.0, 7.6), (5.05, 4.4)]);
        a.minus(&hole).union(&Region::disc(DVec2::new(11.0, 0.8), 0.8, 0.002))
    }

    struct Case {
        region: Region,
        deepest: f64,
        step_down: f64,
    }

    fn engraved(case: &Case, work: &Work) -> Engraved {
        let axis = MedialAxis::new(&case.region, TOLERANCE);
        engraving(
            &Engraving {
                region: &case.region,
                axis: &axis,
                surface_z: -3.0,
                deepest: case.deepest,
                half_angle_deg: HALF,
                tip_diameter: TIP,
                step_down: case.step_down,
                ridge: 0.02,
            },
            work,
        )
    }

    /// The lowest that the moves cut at a place, above the surface never: the cone stamped every 0.02 mm.
    fn cut_at(moves: &[Move], p: DVec2) -> f64 {
        let slope = 1.0 / HALF.to_radians().tan();
        let mut low = 0.0_f64;
        for pair in moves.windows(2) {
            if !matches!(pair[1], Move::Feed { .. }) {
                continue;
            }
            let (a, b) = (geom::DVec3::from_array(pair[0].to()), geom::DVec3::from_array(pair[1].to()));
            let deepest = -3.0 - a.z.min(b.z);
            let off = point_segment(p.extend(0.0), a.truncate().extend(0.0), b.truncate().extend(0.0));
            if deepest <= 0.0 || off > deepest / slope + TIP {
                continue;
            }
            let n = (a.distance(b) / 0.02).ceil().max(1.0) as usize;
            for k in 0..=n {
                let c = a.lerp(b, k as f64 / n as f64);
                let rise = (p.distance(c.truncate()) - TIP / 2.0).max(0.0) * slope;
                low = low.min(c.z + 3.0 + rise);
            }
        }
        low
    }

    /// Against the exact roof: nothing cut outside the outline, nothing deeper than the roof, nothing left but what the flat of the
    /// tip leaves.
    #[track_caller]
    fn check(case: &Case, done: &Engraved) {
        let slope = 1.0 / HALF.to_radians().tan();
        let (lo, hi) = case.region.bounds().unwrap();
        let left = TIP / 2.0 * slope + 0.02 + 2.0 * WORK.tolerance * slope;
        let n = ((hi - lo) / 0.13 + 8.0).ceil();
        let mut inside = 0;
        for i in 0..n.x as usize {
            for j in 0..n.y as usize {
                let p = lo + (DVec2::new(i as f64, j as f64) - 4.0) * 0.13 + DVec2::new(0.011, 0.007);
                let exact =
                    if case.region.contains(p) { -(case.region.distance(p) * slope).min(case.deepest) } else { 0.0 };
                let cut = cut_at(&done.moves, p);
                assert!(cut > exact - 2.0 * TOLERANCE * slope - 1e-9, "{p}: {cut} is too deep, {exact} is right");
                assert!(cut < exact + left, "{p}: {cut} leaves stock, {exact} is right");
                inside += usize::from(exact < 0.0);
            }
        }
        assert!(inside > 500, "{inside}");
    }

    #[test]
    fn letters_come_out_as_the_roof_over_their_strokes() {
        let case = Case { region: letters(), deepest: 5.0, step_down: 5.0 };
        let done = engraved(&case, &WORK);
        check_frame(&done.moves, &WORK);
        assert!(done.too_thin.is_empty(), "{:?}", done.too_thin);
        check(&case, &done);
        // One hop to the letter, one to the dot.
        let hops = done.moves.windows(2).filter(|w| w[0].to()[2] == WORK.safe_z && w[1].to()[2] < WORK.safe_z).count();
        assert_eq!(hops, 2);
    }

    #[test]
    fn passes_one_below_the_other_come_to_the_same() {
        let case = Case { region: letters(), deepest: 5.0, step_down: 0.5 };
        let done = engraved(&case, &WORK);
        check_frame(&done.moves, &WORK);
        check(&case, &done);
        // No pass takes more than its step: with the point at a place, what stood there before is not higher than that above it.
        for z in [-3.45, -3.95] {
            assert!(done.moves.iter().any(|m| m.to()[2] < z + 0.1 && m.to()[2] > z - 0.1));
        }
    }

    #[test]
    fn wide_strokes_have_a_flat_floor() {
        let case = Case { region: letters(), deepest: 0.6, step_down: 5.0 };
        let done = engraved(&case, &WORK);
        check_frame(&done.moves, &WORK);
        check(&case, &done);
        assert!(done.moves.iter().all(|m| m.to()[2] >= -3.6));
    }

    #[test]
    fn every_sharp_corner_is_reached_within_the_size_of_the_tip() {
        let case = Case { region: letters(), deepest: 5.0, step_down: 5.0 };
        let done = engraved(&case, &WORK);
        let axis = MedialAxis::new(&case.region, TOLERANCE);
        let mut seen = 0;
        for joint in axis.joints.iter().filter(|j| j.corner.is_some_and(|s| s < 0.95)) {
            let up = done.moves.iter().map(|m| m.to()).filter(|t| t[2] == -3.0);
            let near = up.map(|t| DVec2::new(t[0], t[1]).distance(joint.disc.at)).fold(f64::INFINITY, f64::min);
            let sine = joint.corner.unwrap();
            assert!(near <= TIP / 2.0 / sine + 1e-3, "{} {near}", joint.disc.at);
            seen += 1;
        }
        assert_eq!(seen, 6, "corners of the letter that point outwards");
    }

    #[test]
    fn a_cutter_that_cannot_plunge_never_goes_straight_down_in_the_wood() {
        for (plunges, deepest) in [(false, 5.0), (false, 0.6), (true, 5.0)] {
            let work = Work { plunges, ..WORK };
            let done = engraved(&Case { region: letters(), deepest, step_down: 0.5 }, &work);
            let mut straight = 0;
            for (k, pair) in done.moves.windows(2).enumerate() {
                let (a, b) = (pair[0].to(), pair[1].to());
                if matches!(pair[1], Move::Feed { .. }) && b[2] < -3.0 && b[2] < a[2] && a[0] == b[0] && a[1] == b[1] {
                    // Down to where the point has been before.
                    let here = DVec2::new(b[0], b[1]);
                    let cut = cut_at(&done.moves[..=k], here);
                    straight += usize::from(cut > b[2] + 3.0 + 1e-6);
                }
            }
            assert_eq!(straight > 0, plunges, "{plunges} {deepest} {straight}");
        }
    }

    #[test]
    fn strokes_too_thin_for_the_tip_are_told() {
        // A bar, a neck narrower than the tip, a bar; and a hair line by itself.
        let bar = |x: f64| Region::rectangle(DVec2::new(x, 0.0), DVec2::new(x + 4.0, 2.0));
        let neck = Region::rectangle(DVec2::new(3.5, 0.97), DVec2::new(6.5, 1.03));
        let hair = Region::rectangle(DVec2::new(0.0, 5.0), DVec2::new(4.0, 5.08));
        let region = bar(0.0).union(&bar(6.0)).union(&neck).union(&hair);
        let done = engraved(&Case { region, deepest: 5.0, step_down: 5.0 }, &WORK);
        let widths: Vec<f64> = done.too_thin.iter().map(|t| t.width).collect();
        assert_eq!(widths.len(), 2, "{:?}", done.too_thin);
        assert!(widths.iter().any(|w| (w - 0.08).abs() < 1e-6) && widths.iter().any(|w| *w > 0.06 && *w <= TIP + 1e-9));
        let cut = |x: f64, y: f64| cut_at(&done.moves, DVec2::new(x, y));
        assert!(cut(2.0, 5.04) == 0.0 && cut(5.0, 1.0) == 0.0 && cut(2.0, 1.0) < -1.0);
    }
}
