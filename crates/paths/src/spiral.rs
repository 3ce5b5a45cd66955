//! One continuous spiral down ground whose every level is a single ring: bowls and dishes, inside and outside.
//!
//! The distance of turns is measured on the exact cutter location itself: from places on one ring the tip is moved to
//! the next level, and to half of the way, which gives the distance of the turns on the surface and how hollow or round
//! it is between them. Where levels part into several rings, or ask for unlike distances around, the spiral ends and the rings of
//! [`crate::walls`] and [`crate::floors`] take over.

use crate::ground::{Ground, PITCH, Stroke};
use crate::spacing::Tip;
use crate::walls::{Trace, corners, stroke};
use geom::{DVec2, Ring, contour};
use rayon::prelude::*;

/// Places on a ring from which the distance to the next is measured.
const LOOKS: usize = 60;
/// The scallop that this share of the places keeps counts: the rest are creases.
const MOST: f64 = 0.97;
/// Levels are not nearer than this, mm: flatter ground is left to rings in plan.
const LEAST: f64 = 0.004;
/// Half of the places must leave at least this share of the scallop, or rings at one height do not suit the ground.
const ALIKE: f64 = 0.6;
/// Turns on nearly upright ground, where the side of the ball leaves next to nothing, are no farther apart than this many
/// distances on a plane: the more stands below the last turn, the more the next takes off at once. Common practice, no source.
const WIDEST: f64 = 1.4;
/// Distances are met within this share of the scallop.
const MET: f64 = 0.02;
/// How often a drop is tried.
const TRIES: usize = 12;
/// A drop is taken to be followed by no less than this share of it.
const LEAST_EASE: f64 = 0.4;
/// A drop that is less than this share of the one before is none.
const NO_DROP: f64 = 0.02;
/// Tips so far apart in height tell where they touch, mm.
const NEXT: f64 = 0.1;
/// What touches within this way touches the same edge, mm.
const STAYS: f64 = 0.08;
/// The last turn may leave this share of the scallop at its far side: floors that begin there are hardly nearer than this.
const BEYOND: f64 = 0.5;
/// Ground that ends less steep than this (tangent) runs out into a floor, where the last turn has to be.
const FLAT: f64 = 0.1;
/// A spiral of fewer turns is not worth its name.
const TURNS: usize = 4;
/// Where turns part from the first ring, and where they run into the last, neighbours lie no nearer than this share of a drop.
const NEAREST: f64 = 0.9;
/// A last drop counts as no less than this share of a whole one.
const THINNEST: f64 = 0.05;
/// Turns begin with the rest of a drop over this length, mm, and no more than this share of the turn.
const LEAD: f64 = 12.0;
const LEAD_SHARE: f64 = 0.1;

/// A place on a ring, and the direction of air there.
type Spot = (DVec2, DVec2);

/// A ring at a level, begun at the spiral's seam.
struct Turn {
    z: f64,
    spots: Vec<Spot>,
}

/// What the spiral covers.
pub(crate) struct Spiral {
    /// Its one path, as a stroke.
    pub(crate) stroke: Stroke,
    /// Its lowest level: what lies below is still to be cut.
    pub(crate) reached: f64,
    /// Greatest scallop by the distances as measured, mm.
    pub(crate) worst: f64,
}

/// The spiral from the top down as far as it suits the ground; `None` where it does not suit at all.
pub(crate) fn spiral(ground: &Ground<'_>) -> Option<Spiral> {
    if ground.tip.flat > 0.0 || ground.tip.radius <= 0.0 {
        return None;
    }
    let (lo, hi) = ground.height_range(&ground.inside_nodes())?;
    let last = (lo + 2e-3).min(hi);
    let trace = Trace::new(ground);
    let contours = contour::Levels::new(&ground.heights);
    let first = first_turn(ground, &trace, &contours, (hi, last))?;
    let mut turns = vec![first];
    let (mut drop, mut eases, mut worst) = (ground.tip.distance(0.0), 1.0_f64, 0.0_f64);
    let (mut last_ratio, mut thin) = (1.0_f64, 1.0_f64);
    let mut all = false;
    while let Some(turn) = turns.last() {
        let most = turn.z - last;
        all = most <= 0.0 || beyond(ground, &trace, turn, most);
        if all {
            break;
        }
        let Some((dz, left)) = next_level(ground, &trace, turn, (drop, eases), most) else { break };
        // No more than that, even if a thin turn is left for the end: all turns draw together a little for it.
        let z = if turn.z - dz < last + 0.01 * dz { last } else { turn.z - dz };
        let Some(spots) = ring(ground, &trace, &contours, z).and_then(|spots| begun_beside(&trace, turn, z, spots))
        else {
            break;
        };
        turns.push(Turn { z, spots });
        // By what it leaves, but no less than by its drop: over an edge nothing is left.
        thin = (left.max(0.0) / ground.tip.scallop).sqrt().max(dz / drop);
        let ratio = (dz / drop).min(1.0);
        (drop, eases) = (dz, (2.0 * ratio - last_ratio).clamp(LEAST_EASE * ratio, ratio));
        last_ratio = ratio;
        worst = worst.max(left);
    }
    if turns.len() < TURNS {
        return None;
    }
    let reached = if all { last } else { turns[turns.len() - 1].z };
    let last_share = if all && turns[turns.len() - 1].z <= last { thin.clamp(THINNEST, 1.0) } else { 1.0 };
    let course = Course::new(turns.iter().map(|turn| turn.z).collect(), last_share);
    let points = traced(ground, &trace, &turns, &course)?;
    Some(Spiral { stroke: stroke(points, false, 0)?, reached, worst })
}

/// The first ring. Where the top is an edge that the tip only turns about, the skin begins below it; and the first ring may lie as
/// far from where it begins as from the ridge below.
fn first_turn(
    ground: &Ground<'_>,
    trace: &Trace<'_>,
    contours: &contour::Levels<'_>,
    (hi, last): (f64, f64),
) -> Option<Turn> {
    let top = Turn { z: hi, spots: ring(ground, trace, contours, hi)? };
    let radius = ground.tip.radius;
    // The places where the tip touches the edge stay where they are while it turns.
    let touches = |&spot: &Spot, z: f64| {
        cusp(radius, below(trace, spot, z, 2.0 * radius)?, below(trace, spot, z - NEXT, 2.0 * radius)?, z)
    };
    let held: Vec<(Spot, Option<DVec2>)> = looks(&top).into_iter().map(|spot| (spot, touches(&spot, hi))).collect();
    let turns_about = |z: f64| {
        let stays = |(spot, at): &(Spot, Option<DVec2>)| Some(at.as_ref()?.distance(touches(spot, z)?) <= STAYS);
        held.par_iter().all(|held| stays(held).unwrap_or(false))
    };
    let (mut edge, mut skin) = (hi, (hi - radius).max(last));
    if turns_about(hi - NEXT) {
        while edge - skin > NEXT {
            let z = 0.5 * (edge + skin);
            if turns_about(z) { edge = z } else { skin = z }
        }
    }
    let begins = if edge < hi { Turn { z: edge, spots: ring(ground, trace, contours, edge)? } } else { top };
    let Some((dz, _)) = next_level(ground, trace, &begins, (ground.tip.distance(0.0), 1.0), edge - last) else {
        return Some(begins);
    };
    let z = edge - 0.5 * dz;
    Some(ring(ground, trace, contours, z).map_or(begins, |spots| Turn { z, spots }))
}

/// Where a ball at a height, `far` aside, and one `NEXT` below it, `lower` aside, leave their ridge: as good as where they touch the
/// surface. Aside and up.
fn cusp(radius: f64, far: f64, lower: f64, z: f64) -> Option<DVec2> {
    let (a, b) = (DVec2::new(far, z), DVec2::new(lower, z - NEXT));
    let half = 0.5 * (b - a);
    let deep = radius * radius - half.length_squared();
    (deep >= 0.0).then(|| a.midpoint(b) - half.perp().normalize() * deep.sqrt())
}

/// Whether no more than the share `BEYOND` of the scallop is left from a turn to what lies `most` below it, which no turn touches
/// from the other side: as much as in the middle of two turns twice as far apart.
fn beyond(ground: &Ground<'_>, trace: &Trace<'_>, turn: &Turn, most: f64) -> bool {
    let tip = &ground.tip;
    let left = |spot: &Spot| {
        let aside = |share: f64| below(trace, *spot, turn.z - share * most, tip.radius);
        let (middle, low) = (aside(0.5)?, aside(1.0)?);
        let sinks = (0.5 * most > FLAT * (low - middle)).then(|| sinks((low, most), (middle, 0.5)))?;
        Some(tip.left(2.0 * low.hypot(most), 0.0) + 4.0 * sinks)
    };
    most <= tip.radius && looks(turn).par_iter().all(|spot| left(spot).is_some_and(|left| left <= BEYOND * tip.scallop))
}

/// Places all around a ring.
fn looks(turn: &Turn) -> Vec<Spot> {
    let every = turn.spots.len().div_ceil(LOOKS).max(1);
    turn.spots.iter().copied().step_by(every).collect()
}

/// The one ring at a level, all of it settled and within the limit.
fn ring(ground: &Ground<'_>, trace: &Trace<'_>, contours: &contour::Levels<'_>, z: f64) -> Option<Vec<Spot>> {
    let rough = contours.below(z);
    let mut met = rough.rings.iter().filter(|r| r.0.iter().any(|&p| ground.inside.contains(p)));
    let one = met.next()?;
    if met.next().is_some() {
        return None;
    }
    corners(one)
        .into_par_iter()
        .map(|(p, air)| {
            let spot = trace.settle(z, p, air, 2.0 * PITCH)?;
            ground.inside.contains(spot).then_some((spot, air))
        })
        .collect()
}

/// Begun where the seam of the turn above comes down to it.
fn begun_beside(trace: &Trace<'_>, above: &Turn, z: f64, mut spots: Vec<Spot>) -> Option<Vec<Spot>> {
    let (p, air) = above.spots[0];
    let seam = trace.settle(z, p, air, reach(above, &spots))?;
    let near = |i: &usize| spots[*i].0.distance_squared(seam);
    let nearest = (0..spots.len()).min_by(|i, j| near(i).total_cmp(&near(j)))?;
    let ahead = spots[(nearest + 1) % spots.len()].0 - spots[nearest].0;
    let behind = (seam - spots[nearest].0).dot(ahead) >= 0.0;
    let air = spots[nearest].1;
    let n = spots.len();
    spots.rotate_left((nearest + usize::from(behind)) % n);
    spots.insert(0, (seam, air));
    Some(spots)
}

/// How far the next ring may lie aside, mm.
fn reach(above: &Turn, below: &[Spot]) -> f64 {
    let p = above.spots[0].0;
    1.5 * below.iter().map(|s| s.0.distance(p)).fold(f64::INFINITY, f64::min) + 1.0
}

/// The drop to the next level that leaves the target scallop, and the scallop it leaves. `None` where the ground is too
/// flat or the ring's places ask for unlike drops. `last`: the drop before, and what share of the drop before that it was, for
/// where ground flattens the next will be less by as much again.
fn next_level(
    ground: &Ground<'_>,
    trace: &Trace<'_>,
    turn: &Turn,
    (last, eases): (f64, f64),
    most: f64,
) -> Option<(f64, f64)> {
    let tip = &ground.tip;
    let looks = looks(turn);
    let plain = tip.distance(0.0);
    let upright =
        |spot: &Spot| below(trace, *spot, turn.z - plain, plain).is_some_and(|far| wipes(tip.radius, far, plain));
    let greatest = if looks.iter().step_by(4).all(upright) { WIDEST * plain } else { plain };
    let mut drop = (last * eases).min(greatest).min(most).max(LEAST);
    // The greatest drop found to keep the scallop, with what it leaves at most places and at half of them, and the least found
    // not to: at a bend of the profile the scallop jumps, and the root of the ratio alone would go to and fro.
    let mut keeps: Option<(f64, f64, f64)> = None;
    let mut breaks = f64::INFINITY;
    for tried in 0..TRIES {
        // What is left to go may be less.
        let next = (eases * drop).min(most - drop);
        let mut left: Vec<f64> = looks
            .par_iter()
            .map(|&spot| scallop(tip, trace, spot, turn.z, (drop, next)).unwrap_or(f64::INFINITY))
            .collect();
        left.sort_by(f64::total_cmp);
        let at = |share: f64| left[((left.len() - 1) as f64 * share).round() as usize];
        let (counts, half) = (at(MOST), at(0.5));
        if counts <= (1.0 + MET) * tip.scallop {
            keeps = keeps.filter(|k| k.0 > drop).or(Some((drop, counts, half)));
        } else {
            breaks = breaks.min(drop);
        }
        if counts <= tip.scallop && drop >= most || (counts / tip.scallop - 1.0).abs() < MET {
            break;
        }
        let factor = if counts > 0.0 { (tip.scallop / counts).sqrt().clamp(0.35, 1.8) } else { 1.8 };
        let next = (drop * factor).min(greatest).min(most).max(0.5 * LEAST);
        let kept = keeps.map_or(0.0, |k| k.0);
        let inside = next > kept && next < breaks;
        let stuck = keeps.is_none() && next > 0.7 * drop && tried > 2;
        let next = if breaks.is_finite() && (!inside || stuck) { 0.5 * (kept + breaks) } else { next };
        if (next - drop).abs() < 1e-3 * drop {
            break;
        }
        drop = next;
    }
    let (drop, counts, half) = keeps?;
    // Where nearly nothing is left, over an edge or at the end, it sets no drop either.
    let alike = half >= ALIKE * counts || counts < ALIKE * tip.scallop;
    (drop >= LEAST && alike).then_some((drop, counts))
}

/// How far aside of a spot, towards air, the tip stands at another height; `None` if that is not within `width`.
fn below(trace: &Trace<'_>, spot: Spot, z: f64, width: f64) -> Option<f64> {
    below_near(trace, spot, z, (width, 0.0))
}

/// The same, likely about so far.
fn below_near(trace: &Trace<'_>, (p, air): Spot, z: f64, (width, likely): (f64, f64)) -> Option<f64> {
    Some((trace.settle_near(z, p, (air, likely), width)? - p).dot(air))
}

/// Scallop between turns `drop` apart at one place: the greater of what is left between the ring at `z` and the next, and of
/// what is left half a drop farther down, where the drop after it is `next` (0: none). For while one turn glides to the
/// next level the other leaves it, and the pair passes all the ground in between.
fn scallop(tip: &Tip, trace: &Trace<'_>, spot: Spot, z: f64, (drop, next): (f64, f64)) -> Option<f64> {
    let aside = |share: f64, likely: f64| below_near(trace, spot, z - share * drop, (2.0 * tip.radius, likely));
    // Half a level down and one and a half, as a parabola through the levels goes ([`Course`]).
    let ratio = if next < NO_DROP * drop { 1.0 } else { next / drop };
    let bends = (1.0 - ratio) / 8.0;
    let half = 0.5 + bends;
    let middle = aside(half, 0.0)?;
    let low = aside(1.0, middle / half)?;
    let here = between(tip, (low, drop), (middle, half))?;
    if next < NO_DROP * drop {
        return Some(here);
    }
    // Below the last level there may be nothing.
    let whole = 0.5 + 0.5 * ratio;
    let lowest = aside(half + whole, low + (low - middle) * (half + whole - 1.0) / (1.0 - half));
    let farther =
        lowest.and_then(|lowest| between(tip, (lowest - middle, whole * drop), (low - middle, (1.0 - half) / whole)));
    Some(farther.map_or(here, |farther| here.max(farther)))
}

/// Scallop between two tips, one `far` aside of the other and `drop` below: what they leave on a plane, and as much more as the
/// surface sinks in between (less where it rises), as a parabola through a third tip, `aside` at the share `at` of the drop.
fn between(tip: &Tip, (far, drop): (f64, f64), (aside, at): (f64, f64)) -> Option<f64> {
    let chord = far.hypot(drop);
    if chord >= 2.0 * tip.radius {
        return None;
    }
    let left = if wipes(tip.radius, far, drop) { wiped(tip.radius, far, drop) } else { tip.left(chord, 0.0) };
    Some(left + sinks((far, drop), (aside, at)))
}

/// How far the surface sinks between two tips, square to their chord, by a third, `aside` at the share `at` of the drop.
fn sinks((far, drop): (f64, f64), (aside, at): (f64, f64)) -> f64 {
    (at * far - aside) * (drop / far.hypot(drop)) / (4.0 * at * (1.0 - at))
}

/// Whether the lower of two tips, `far` aside and `drop` below, wipes over the cusp between them with the side of the ball,
/// straight above its middle: on nearly upright ground.
fn wipes(radius: f64, far: f64, drop: f64) -> bool {
    let side = far - radius;
    side < 0.0 && radius * radius - side * side < drop * drop
}

/// What is left of the cusp then, on a plane: it stands where the side meets the upper ball.
fn wiped(radius: f64, far: f64, drop: f64) -> f64 {
    let side = far - radius;
    let below = (radius * radius - side * side).max(0.0).sqrt();
    radius + (side * drop - below * far) / far.hypot(drop)
}

/// The whole path: the first ring closed, turns from level to level, the last ring closed.
fn traced(ground: &Ground<'_>, trace: &Trace<'_>, turns: &[Turn], course: &Course) -> Option<Vec<[f64; 3]>> {
    let paths: Vec<Vec<[f64; 3]>> =
        sinks_of(course).par_iter().map(|sinks| leg(ground, trace, turns, course, sinks)).collect::<Option<_>>()?;
    let mut all = paths.concat();
    all.dedup();
    Some(all)
}

/// Heights by levels, counted from the first one's 0: smooth between the levels found, for where drops become less and less half a
/// level is not half of the drop.
struct Course {
    z: Vec<f64>,
    /// Descent per level at each of them.
    slopes: Vec<f64>,
    /// What share of a level the last drop is.
    last_share: f64,
}

impl Course {
    fn new(z: Vec<f64>, last_share: f64) -> Self {
        let last = z.len() - 1;
        let share = |k: usize| if k + 1 == last { last_share } else { 1.0 };
        let falls: Vec<f64> = (0..last).map(|k| (z[k] - z[k + 1]) / share(k)).collect();
        // Of the parabola through three levels, and no steeper than keeps the course falling.
        let inner = |k: usize| {
            let (a, b) = (share(k - 1), share(k));
            ((falls[k - 1] * b + falls[k] * a) / (a + b)).min(3.0 * falls[k - 1].min(falls[k]))
        };
        let mut slopes: Vec<f64> = std::iter::once(0.0).chain((1..last).map(inner)).chain([0.0]).collect();
        slopes[0] = (2.0 * falls[0] - slopes[1]).clamp(0.0, 3.0 * falls[0]);
        slopes[last] = (2.0 * falls[last - 1] - slopes[last - 1]).clamp(0.0, 3.0 * falls[last - 1]);
        Self { z, slopes, last_share }
    }

    /// The last ring's level.
    fn end(&self) -> f64 {
        (self.z.len() - 2) as f64 + self.last_share
    }

    /// Height at a level, mm: the cubic with the slopes at both ends.
    fn at(&self, level: f64) -> f64 {
        let last = self.z.len() - 1;
        if level >= self.end() {
            return self.z[last];
        }
        let k = (level as usize).min(last - 1);
        let share = if k + 1 == last { self.last_share } else { 1.0 };
        let t = (level - k as f64) / share;
        let (fall, a, b) = (self.z[k] - self.z[k + 1], share * self.slopes[k], share * self.slopes[k + 1]);
        self.z[k] - t * (a + t * (3.0 * fall - 2.0 * a - b + t * (a + b - 2.0 * fall)))
    }
}

/// How a turn sinks, in levels: at its beginning still where the turn before ended, over its lead down to the way from `from` at its
/// beginning to `to` at its end.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Sinks {
    begins: f64,
    from: f64,
    to: f64,
    /// Whether it is the last ring, which goes on until it has closed itself behind its lead.
    closes: bool,
}

impl Sinks {
    /// The level at the share `gone` of the turn, whose lead is the share `lead`.
    fn at(&self, gone: f64, lead: f64) -> f64 {
        let way = self.from + (self.to - self.from) * gone.min(1.0);
        way - (self.from - self.begins) * (1.0 - gone / lead).max(0.0)
    }
}

/// How the turns sink from the first ring to the last. If all of them sank evenly, the first would part from its ring, and the last
/// but one run into its own, with all distances from none to a whole level between them, half of them far finer than wanted.
/// Instead the first turns begin with the better part of a level over their lead, each with less of it than the one before, until
/// they glide all the way; the last ones likewise. Neighbours are then `NEAREST` to 1 apart everywhere but on the first lead. All of it
/// is drawn together by as much as the last drop is less than a whole one.
fn sinks_of(course: &Course) -> Vec<Sinks> {
    let last = course.z.len() - 1;
    let levels = last as f64;
    let together = course.end() / levels;
    let nearest = NEAREST.min(levels / (levels + 1.0));
    let mut begins = 0.0;
    let sinks = |k: usize| {
        let (turn, left) = (k as f64, levels + 1.0 - k as f64);
        let from = together * (turn - 1.0).max(nearest * turn);
        let to = together * turn.min(levels - nearest * left);
        Sinks { begins: std::mem::replace(&mut begins, to), from, to, closes: k > last }
    };
    (0..last + 2).map(sinks).collect()
}

/// Once around a ring while sinking.
fn leg(
    ground: &Ground<'_>,
    trace: &Trace<'_>,
    turns: &[Turn],
    course: &Course,
    sinks: &Sinks,
) -> Option<Vec<[f64; 3]>> {
    let last = turns.len() - 1;
    let ring = if sinks.closes { last } else { sinks.from as usize };
    let spots = &turns[ring].spots;
    let width = reach(&turns[ring], &turns[if sinks.closes { last - 1 } else { (ring + 2).min(last) }].spots);
    let n = spots.len();
    let plan = Ring(spots.iter().map(|s| s.0).collect());
    let lengths: Vec<f64> = plan.sides().map(|(a, b)| a.distance(b)).collect();
    let whole: f64 = lengths.iter().sum();
    let lead = LEAD.min(LEAD_SHARE * whole) / whole;
    let end = whole * if sinks.closes { 1.0 + lead } else { 1.0 };
    let (mut gone, mut aside) = (0.0, 0.0);
    let mut points = Vec::with_capacity(n + 1);
    // Air lies to the left of the ring: climb goes with it, conventional the other way round.
    let climb = ground.work.climb;
    for i in 0.. {
        let z = course.at(sinks.at(gone / whole, lead));
        let (p, air) = spots[if climb { i % n } else { (n - i % n) % n }];
        // About as far aside as at the place before.
        let q = if z == turns[ring].z { p } else { trace.settle_near(z, p, (air, aside), width)? };
        aside = (q - p).dot(air);
        if !ground.inside.contains(q) {
            return None;
        }
        points.push([q.x, q.y, z]);
        // Lengths are added up in another order than for the whole.
        if i >= n && gone >= end * (1.0 - 1e-12) {
            break;
        }
        gone += lengths[if climb { i % n } else { n - 1 - i % n }];
    }
    if climb {
        return Some(trace.refined(&points));
    }
    points.reverse();
    let mut path = trace.refined(&points);
    path.reverse();
    Some(path)
}

#[cfg(test)]
mod tests {
    use super::{Course, NEAREST, between, sinks_of};
    use crate::finishing::{Finished, Finishing, passes};
    use crate::fixture::{cutter, waved};
    use crate::moves::tests::{WORK, feeds};
    use crate::spacing::Tip;
    use crate::{CutterLocation, Move, Work};
    use base::Quiet;
    use geom::{DVec2, DVec3, Grid, Mesh, Region};
    use std::f64::consts::TAU;
    use trade::cutter::Form;

    const BALL: f64 = 3.0;
    const TARGET: f64 = 0.02;

    /// Two tips on a plane wall, each a ball and the cylinder above its middle: what they leave, point by point of the wall.
    #[test]
    fn the_side_of_the_ball_wipes_near_upright_walls() {
        let tip = Tip { scallop: TARGET, radius: BALL, flat: 0.0 };
        for (deg, apart) in
            [(90.0_f64, 0.7), (89.5, 0.7), (89.0, 1.2), (87.0, 0.7), (84.0, 0.9), (70.0, 0.7), (30.0, 0.7)]
        {
            let (sin, cos) = deg.to_radians().sin_cos();
            // The wall goes through the upper tip's contact; air is on its side of positive x, the lower tip farther that way.
            let (far, drop) = (apart * cos, apart * sin);
            let outside = |p: DVec2, middle: DVec2| {
                let q = p - middle;
                if q.y > 0.0 { q.x.abs() - BALL } else { q.length() - BALL }
            };
            let normal = DVec2::new(sin, cos);
            let on_wall = |k: u32| normal * -BALL + DVec2::new(cos, -sin) * (apart * f64::from(k) / 4000.0);
            // Where along the normal the first of both is met.
            let left = |p: DVec2| {
                let (mut a, mut b) = (-0.01, 1.0);
                for _ in 0..60 {
                    let m = 0.5 * (a + b);
                    let at = p + normal * m;
                    let free = outside(at, DVec2::ZERO).min(outside(at, DVec2::new(far, -drop))) > 0.0;
                    if free { a = m } else { b = m }
                }
                a
            };
            let brute = (0..=4000).map(|k| left(on_wall(k))).fold(0.0, f64::max);
            let told = between(&tip, (far, drop), (0.5 * far, 0.5)).unwrap();
            assert!((told - brute).abs() < 2e-5, "{deg}°: {told} against {brute}");
        }
    }

    /// Brute force over turns and angles: neighbours are nowhere nearer than they should be nor farther than a level, from the first
    /// ring to the last, and nothing rises.
    #[test]
    fn turns_are_evenly_apart_up_to_both_ends() {
        for (count, last_share) in [(4, 1.0), (5, 0.3), (8, 0.7), (30, 1.0), (60, 0.05)] {
            let z = (0..count).map(|k| -f64::from(k)).collect::<Vec<_>>();
            let course = Course::new(z, last_share);
            let (levels, sinks) = (f64::from(count - 1), sinks_of(&course));
            let together = course.end() / levels;
            let nearest = together * NEAREST.min(levels / (levels + 1.0));
            let lead = 0.1;
            let mut looked = 0;
            for (a, b) in sinks.iter().zip(&sinks[1..]) {
                for gone in (0..=50).map(|k| f64::from(k) / 50.0) {
                    let apart = b.at(gone, lead) - a.at(gone, lead);
                    let parts = a.begins == 0.0 && a.to == 0.0 && gone < lead;
                    assert!(
                        apart <= together + 1e-9 && (parts || apart >= nearest - 1e-9),
                        "{count}: {apart} at {gone}"
                    );
                    assert!(b.at(gone + 0.02, lead) >= b.at(gone, lead) - 1e-9);
                    looked += 1;
                }
                assert!((b.at(0.0, lead) - a.at(1.0, lead)).abs() < 1e-9, "one path");
            }
            assert!(looked > 200);
            assert!(
                sinks[0].at(1.0, lead) == 0.0
                    && (sinks[sinks.len() - 1].at(1.0 + lead, lead) - course.end()).abs() < 1e-9
            );
        }
    }

    /// A tip whose centre goes round a quarter of a circle in even steps: between the levels the course keeps to the circle, also in a
    /// last step that is a part of one.
    #[test]
    fn courses_keep_to_a_round() {
        let (radius, step) = (2.0, 0.2);
        for last_share in [0.4, 1.0] {
            let steps = 7.0 + last_share;
            // Angles are counted from the lowest place.
            let height = |level: f64| radius * (1.0 - (step * (steps - level)).cos());
            let course = Course::new((0..8).map(f64::from).chain([steps]).map(height).collect(), last_share);
            for level in (0..=800).map(|k| steps * f64::from(k) / 800.0) {
                let off = course.at(level) - height(level);
                assert!(off.abs() < 0.02 * radius * step * step, "{off} at {level}");
            }
        }
    }

    fn finish(mesh: &Mesh, within: &Region, range: (f64, f64), climb: bool) -> Finished {
        let location = CutterLocation::new(mesh, &cutter(Form::Ball, 2.0 * BALL), 0.0);
        let what = Finishing {
            location: &location,
            within,
            top_z: range.1,
            bottom_z: range.0,
            finishes_bottom: true,
            scallop: TARGET,
            tip_radius: BALL,
            diameter: 2.0 * BALL,
            steep_deg: 48.0,
            overlap: 3.0,
        };
        let work = Work { tolerance: 0.002, climb, ..WORK };
        let done = passes(&what, &work, &Quiet).unwrap().cut(
            &what,
            &work,
            &Grid::filled(DVec2::splat(-60.0), 0.5, 241, 241, 1.0),
        );
        for (a, b) in feeds(&done.moves, |_, _| true) {
            let p = DVec3::from_array(a).midpoint(DVec3::from_array(b));
            let low = location.height_above(p.x, p.y, p.z - 1.0);
            assert!(p.z >= low - work.tolerance, "gouges {} at {p}", low - p.z);
        }
        done
    }

    /// A hollow ball, its bottom in the middle, with a flange around it.
    fn hollow_ball(radius: f64) -> Mesh {
        let rings: Vec<(f64, f64)> = (1..=420)
            .map(|i| f64::from(i) * 0.0036)
            .map(|a: f64| (radius * a.sin(), -radius * a.cos()))
            .chain([(radius + 15.0, -radius * 1.512_f64.cos())])
            .collect();
        waved(&rings, 900, |_| 1.0)
    }

    fn length(moves: &[Move]) -> f64 {
        feeds(moves, |_, _| true).iter().map(|(a, b)| DVec3::from_array(*a).distance(DVec3::from_array(*b))).sum()
    }

    /// Heights of the ball's centre over the plane y = 0 at x > 0, with its distance from the axis.
    fn crossings(moves: &[Move]) -> Vec<DVec2> {
        let mut out = Vec::new();
        for (a, b) in feeds(moves, |_, _| true) {
            if (a[1] < 0.0) != (b[1] < 0.0) && a[0] > 0.0 {
                let t = a[1] / (a[1] - b[1]);
                out.push(DVec2::new(a[0] + t * (b[0] - a[0]), a[2] + t * (b[2] - a[2]) + BALL));
            }
        }
        out
    }

    /// A hollow ball of radius 40, from level ground at its bottom nearly to upright walls: the scallop between two turns is
    /// the distance of the sphere from where two circles of the cutter's radius meet (closed form).
    #[test]
    fn a_round_hollow_is_one_spiral_with_an_even_scallop() {
        let sphere = 40.0;
        let within = Region::disc(DVec2::ZERO, 44.0, 0.01);
        let done = finish(&hollow_ball(sphere), &within, (-39.9, -3.0 - BALL), true);
        let rapids = done.moves.iter().filter(|m| matches!(m, Move::Rapid { .. })).count();
        let centres = crossings(&done.moves);
        let mut scallops: Vec<f64> = centres
            .windows(2)
            .filter(|w| w[0].distance(w[1]) > 1e-3)
            .map(|w| {
                let (m, half) = (w[0].midpoint(w[1]), 0.5 * w[0].distance(w[1]));
                let cusp = m + m.normalize() * (BALL * BALL - half * half).sqrt();
                sphere - cusp.length()
            })
            .collect();
        scallops.sort_by(f64::total_cmp);
        let within_band = scallops.iter().filter(|s| (0.6 * TARGET..=1.1 * TARGET).contains(*s)).count() as f64
            / scallops.len() as f64;
        let most = scallops.last().unwrap() / TARGET;
        // Area of the zone that the ball's centre runs on, over the widest distance of its turns.
        let centre = sphere - BALL;
        let (top, bottom) = (centres[0].y, centres[centres.len() - 1].y);
        let area = TAU * centre * (top - bottom);
        let widest = 2.0 * (TARGET * (2.0 * BALL - TARGET) / (1.0 + BALL / centre)).sqrt();
        let ratio = length(&done.moves) / (area / widest);
        println!(
            "{} turns, {rapids} rapids, {:.1} % within 0.6–1.1 of the target, at most {most:.2}, length {ratio:.3} of the bound",
            scallops.len(),
            100.0 * within_band
        );
        assert!(rapids <= 5);
        assert!(within_band >= 0.95 && most <= 1.2 && ratio <= 1.10);
    }

    /// Five lobes, walls leaning by 20°: the bound is the wall's area over the distance of two circles.
    #[test]
    fn lobes_are_one_spiral_too() {
        let lean = 20.0_f64.to_radians().tan();
        let rings: Vec<(f64, f64)> =
            (0..=60).map(|i| (30.0 + 0.3 * f64::from(i) * lean, 0.3 * f64::from(i) - 18.0)).collect();
        let wave = |a: f64| 1.0 + 0.06 * (5.0 * a).cos();
        let flange = std::iter::once((44.0, 0.0));
        let rings: Vec<(f64, f64)> = rings.into_iter().chain(flange).collect();
        let mut mesh = waved(&rings, 900, wave);
        let bottom = mesh.vertices.len() as u32;
        mesh.vertices.push(DVec3::new(0.0, 0.0, -18.0));
        mesh.triangles.extend((0..900).map(|j| [bottom, j, (j + 1) % 900]));
        let within = Region::disc(DVec2::ZERO, 44.0, 0.01);
        let done = finish(&mesh, &within, (-17.99, -BALL), true);
        let rapids = done.moves.iter().filter(|m| matches!(m, Move::Rapid { .. })).count();
        // The surface below the ring at half the cutter's radius under the top, over the distance of turns on a plane.
        let below =
            |i: usize| mesh.corners(i).iter().all(|v| v.z < -0.5 * BALL) && mesh.corners(i).iter().any(|v| v.z > -18.0);
        let area: f64 = (0..mesh.triangles.len())
            .filter(|&i| below(i))
            .map(|i| {
                let c = mesh.corners(i);
                0.5 * (c[1] - c[0]).cross(c[2] - c[0]).length()
            })
            .sum();
        let ratio = length(&done.moves) / (area / (2.0 * (TARGET * (2.0 * BALL - TARGET)).sqrt()));
        println!("{rapids} rapids, worst {:.4}, length {ratio:.3} of the bound", done.worst_scallop);
        assert!(rapids <= 5 && ratio <= 1.25);
        // In the crease above the floor the estimate is up to twice the target.
        assert!(done.worst_scallop <= 2.02 * TARGET);
    }

    /// A frustum whose walls lean by 45°: about its upper edge the tip only turns until it stands √½ of its radius aside, so there the
    /// skin begins (closed form), and the first turn half a drop below. The last lies so near to the lowest level that a
    /// wall of the same slope keeps half the scallop.
    #[test]
    fn a_spiral_begins_and_ends_where_the_skin_does() {
        let mut mesh = waved(&[(20.0, 0.0), (35.0, -15.0), (60.0, -15.0)], 900, |_| 1.0);
        let top = mesh.vertices.len() as u32;
        mesh.vertices.push(DVec3::ZERO);
        mesh.triangles.extend((0..900).map(|j| [top, j, (j + 1) % 900]));
        let lowest = -10.0;
        let done = finish(&mesh, &Region::disc(DVec2::ZERO, 44.0, 0.01), (lowest, -0.01), true);
        // The first and the last ring are level.
        let level = feeds(&done.moves, |a, b| (a[2] - b[2]).abs() < 1e-9);
        let heights: Vec<f64> = level.iter().map(|(a, _)| a[2]).collect();
        let highest = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let last = heights.iter().copied().fold(f64::INFINITY, f64::min);
        let begins = -BALL * (1.0 - std::f64::consts::FRAC_1_SQRT_2);
        // What keeps the scallop on a plane, straight down.
        let drop = std::f64::consts::FRAC_1_SQRT_2 * 2.0 * (TARGET * (2.0 * BALL - TARGET)).sqrt();
        println!("from {highest:.3} (skin from {begins:.3}) to {last:.3}, drops of {drop:.3}");
        // The edge is met within 0.1 mm; passes aim at a little less than the target.
        assert!((0.4 * drop - 0.1..0.5 * drop).contains(&(begins - highest)));
        assert!(last >= lowest && last - lowest <= 0.5 * drop);
    }

    /// The other way round is the same spiral seen in a mirror: as long, from the top down, with the wood on the other hand.
    #[test]
    fn a_conventional_spiral_turns_the_other_way() {
        let within = Region::disc(DVec2::ZERO, 44.0, 0.01);
        let [climb, other] =
            [true, false].map(|climb| finish(&hollow_ball(40.0), &within, (-39.9, -3.0 - BALL), climb));
        let turns = |done: &Finished| {
            let angle = |(a, b): &([f64; 3], [f64; 3])| {
                let (a, b) = (DVec2::new(a[0], a[1]), DVec2::new(b[0], b[1]));
                if a.length() > 1.0 && b.length() > 1.0 { a.angle_to(b) } else { 0.0 }
            };
            feeds(&done.moves, |_, _| true).iter().map(angle).sum::<f64>() / TAU
        };
        // The spindle turns clockwise: in a hollow climb goes counter-clockwise, the wood on the right.
        let (with, against) = (turns(&climb), turns(&other));
        println!(
            "{with:.1} turns, {against:.1} the other way, {:.4} as long",
            length(&other.moves) / length(&climb.moves)
        );
        assert!(with > 50.0 && (with + against).abs() < 0.1);
        assert!((length(&other.moves) / length(&climb.moves) - 1.0).abs() < 1e-3);
        assert!((climb.worst_scallop - other.worst_scallop).abs() < 1e-6);
        let falls = |done: &Finished| {
            let feeds = feeds(&done.moves, |a, b| a[0].hypot(a[1]) > 1.0 && (b[0] - a[0]).hypot(b[1] - a[1]) > 1e-6);
            feeds.iter().filter(|(a, b)| b[2] > a[2] + 1e-9).count()
        };
        assert_eq!([falls(&climb), falls(&other)], [0, 0], "a spiral never rises");
    }
}
