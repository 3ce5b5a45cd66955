//! Clearing a level by fronts: every pass takes at most the allowed width off what still stands, beginning in the air
//! where there is any, else from a hole opened by a helix. The tip keeps `reach − width` from what stands, so the cutter is
//! not buried; where what stands closes in around it, it keeps farther off still, and where a ring would dive into it, a way in
//! is found that does not. Grooves are cut in full width, slowly.

use crate::engagement::Engagement;
use crate::entry::LEAST_ROUND;
use crate::inside::Inside;
use crate::moves::{opened, resampled};
use crate::stock::distances;
use geom::{DVec2, Region, Ring};
use rayon::prelude::*;
use std::f64::consts::PI;
use std::ops::Range;

/// Accuracy of offsets, mm.
const CHORD: f64 = 0.02;
/// What is narrower than this is no longer worth a pass, mm; and smaller than this, mm².
const SLIVER: f64 = 0.1;
const SPECK: f64 = 0.3;
/// Passes of a level, at most: far more than any level needs.
const MOST_PASSES: usize = 600;
/// Widths of a pass as shares of the allowed one: where fronts bulge the cutter bears a little more, in hollows less.
const WIDEST: f64 = 1.08;
const NARROWEST: f64 = 0.15;
/// Engagement aimed at by the width of a pass, as a ratio of the limit, for this share of its places; how near it comes in how
/// many tries.
const AIM: f64 = 0.99;
const MOST_PLACES: f64 = 0.75;
const NEAR_AIM: f64 = 0.025;
const TRIES: usize = 4;
/// Where a few places are engaged above this ratio of the limit, the ring is bent around them.
const TOLERATED: f64 = 1.04;
/// Distance of the places along a pass at which the engagement is looked at, mm.
const LOOK: f64 = 0.8;
/// A way in joins a ring no farther behind a crowded stretch than this, in radii, and the ring is left no farther before it.
const BENT: f64 = 5.0;
/// It is tried so often, in radii; and only where the engagement somewhere exceeds this ratio.
const AGAIN: f64 = 0.5;
const BEARABLE: f64 = 1.06;
/// Crowded stretches nearer to each other than this are one, in radii.
const APART_RUNS: f64 = 1.5;
/// What lies between ring and way in is widened by this, mm.
const WEDGE_WIDER: f64 = 0.05;
/// A pass is made narrower as a whole, rather than bent.
/// For a pass that cuts nearly all along, and for others: the least share of the width, and the engagement from which on; and
/// what is aimed at.
const UNBENT: [(f64, f64); 2] = [(0.55, TOLERATED), (0.85, BEARABLE)];
const UNBENT_AIM: f64 = 1.025;
const NEARLY: f64 = 0.9;
/// Bent ways may leave new crowded places: so often they are bent again.
const BENDS: usize = 3;
/// Pitch at which the widest place for a helix is looked for, mm.
const PITCH: f64 = 0.4;
/// Holes are opened this many radii apart, wherever the room is nearly as wide as at its widest.
const APART: f64 = 40.0;
const ALIKE: f64 = 0.8;
/// Room that is narrower than this on both sides of its middle, in radii, but for this share of it, is a groove.
const NARROW: f64 = 1.2;
const MOSTLY: f64 = 0.15;
/// A place narrower than this share of the cutter's radius takes no helix.
const LEAST_HELIX: f64 = 0.12;
/// The middle ring of a groove is taken wider by so many radii at least, if it is as short.
const WIDER: f64 = 0.3;
/// Stock is full where this share of what lies within reach of the room stands.
const FULL: f64 = 0.95;

/// One pass over a level.
#[derive(Clone, Debug)]
pub(crate) struct Pass {
    /// Rings with what is cleared on their left (climb).
    pub(crate) rings: Vec<Ring>,
    /// Where the cutter on these rings meets stock.
    pub(crate) meets: Region,
    /// What stands before the pass.
    pub(crate) stands: Region,
    /// Whether the cutter is engaged all over: where a helix opens a hole, and in grooves too narrow for anything else.
    pub(crate) buried: bool,
}

/// What bounds the passes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds<'a> {
    /// Where the tip's axis may be; one part of it, for the passes.
    pub(crate) room: &'a Region,
    /// Radius of the cutter, mm.
    pub(crate) reach: f64,
    /// Greatest width of cut, mm.
    pub(crate) width: f64,
    /// Greatest radius of a helix, mm: a wider one would leave a core.
    pub(crate) helix: f64,
    /// What stands is on the right of a cut (climb).
    pub(crate) climb: bool,
}

/// A place on a ring, in the sense of the cut.
#[derive(Clone, Copy, Debug)]
struct Look {
    at: DVec2,
    along: DVec2,
    /// Engagement on the way to the next place, as a ratio of the limit.
    ratio: f64,
}

/// The passes over a level, in order, for each part of the room; last, without rings, what stands in the end. `meets`: where
/// the cutter meets stock before the first.
pub(crate) fn fronts(bounds: Bounds<'_>, meets: &Region) -> Vec<Vec<Pass>> {
    let stands = meets.offset(-bounds.reach, CHORD);
    let parts = bounds.room.parts();
    parts.par_iter().map(|room| passes(Bounds { room, ..bounds }, &stands)).collect()
}

/// The passes over one part of the room.
fn passes(bounds: Bounds<'_>, stands: &Region) -> Vec<Pass> {
    let Bounds { room, reach, .. } = bounds;
    let within_reach = room.offset(reach - 0.5 * SLIVER, CHORD);
    let mut stands = stands.common(&within_reach);
    // It would drill a hole of its own size, packed with its chips, and rub: that is left to a thinner cutter.
    if bounds.is_tight(room) && stands.area() > FULL * within_reach.area() {
        return Vec::new();
    }
    if room.offset(-NARROW * reach, CHORD).area() < MOSTLY * room.area() {
        return groove(bounds, stands);
    }
    let mut meets = stands.offset(reach, CHORD).thinned(CHORD);
    let mut passes: Vec<Pass> = Vec::new();
    let mut share = 1.0;
    while passes.len() < MOST_PASSES && stands.area() > SPECK {
        let free = bounds.free(&stands, &meets, &mut share);
        let rest = stands.minus(&free.common(&meets).offset(reach, CHORD)).thinned(0.5 * CHORD);
        let rest = if !free.is_empty() && stands.area() - rest.area() > SPECK {
            passes.push(Pass { rings: free.rings, meets, stands, buried: false });
            rest
        } else {
            let Some(Openings { rings, clears }) = bounds.openings(&stands, passes.is_empty()) else { break };
            let rest = stands.minus(&clears);
            passes.push(Pass { rings, meets, stands, buried: true });
            rest
        };
        stands = rest;
        meets = stands.offset(reach, CHORD).thinned(CHORD);
    }
    passes.push(Pass { rings: Vec::new(), meets, stands, buried: false });
    passes
}

/// A groove so narrow that fronts across it would be shorter than the ways between them: rings from its middle outwards.
fn groove(bounds: Bounds<'_>, mut stands: Region) -> Vec<Pass> {
    let mut rooms = vec![bounds.room.clone()];
    while let Some(inner) = rooms.last().map(|room| room.offset(-bounds.width, CHORD).thinned(0.5 * CHORD))
        && !inner.is_empty()
    {
        rooms.push(inner);
    }
    rooms[1..].iter_mut().for_each(|room| *room = bounds.wide_enough(room));
    let mut passes = Vec::new();
    while let Some(room) = rooms.pop() {
        if stands.area() <= SPECK {
            break;
        }
        let meets = stands.offset(bounds.reach, CHORD).thinned(CHORD);
        let rest = stands.minus(&room.offset(bounds.reach, CHORD));
        passes.push(Pass { rings: room.rings, meets, stands, buried: true });
        stands = rest;
    }
    let meets = stands.offset(bounds.reach, CHORD).thinned(CHORD);
    passes.push(Pass { rings: Vec::new(), meets, stands, buried: false });
    passes
}

/// Ways to open holes in full stock.
struct Openings {
    rings: Vec<Ring>,
    clears: Region,
}

impl Bounds<'_> {
    /// Whether going round a place is rather drilling.
    fn is_tight(&self, room: &Region) -> bool {
        room.rings.iter().map(Ring::perimeter).sum::<f64>() < LEAST_ROUND * self.reach
    }

    /// Rings in the middle of a groove: one that would rather drill is taken wider, or left out where the next one is near.
    fn wide_enough(&self, room: &Region) -> Region {
        let more = (0.5 * self.width).max(WIDER * self.reach);
        let wide = |part: Region| match self.is_tight(&part) {
            false => part.rings,
            true if more < self.width => part.offset(more, CHORD).rings,
            true => Vec::new(),
        };
        Region { rings: room.parts().into_iter().flat_map(wide).collect() }
    }

    /// Where the tip may be without being engaged too far. `share`: of the width, to begin with; it goes on with what most of
    /// the places bear.
    fn free(&self, stands: &Region, meets: &Region, share: &mut f64) -> Region {
        let engagement = Engagement::new(stands, (self.reach, self.width), self.climb);
        let near = Inside::new(meets, PITCH);
        // A way in may lie on the border of the room.
        let room = Inside::new(&self.room.offset(2.0 * CHORD, CHORD), PITCH);
        let off = |kept_off: &Region| self.room.minus(kept_off).thinned(0.25 * CHORD);
        let mut kept_off = meets.offset(-*share * self.width, CHORD);
        let mut free = off(&kept_off);
        let mut looks = self.looks(&free, &engagement, &near);
        for _ in 1..TRIES {
            let Some(most) = most(&looks) else { break };
            let better = (*share * engagement.share(AIM) / engagement.share(most)).clamp(NARROWEST, WIDEST);
            if (most - AIM).abs() <= NEAR_AIM || better == *share {
                break;
            }
            *share = better;
            kept_off = meets.offset(-*share * self.width, CHORD);
            free = off(&kept_off);
            looks = self.looks(&free, &engagement, &near);
        }
        if let Some(narrower) = self.unbent((meets, *share), &engagement, &near, &looks) {
            return narrower;
        }
        for _ in 0..BENDS {
            let wedges: Vec<Ring> =
                looks.par_iter().flat_map_iter(|looks| self.wedges(looks, &engagement, &room)).collect();
            if wedges.is_empty() {
                break;
            }
            kept_off = kept_off.union(&Region { rings: wedges });
            free = off(&kept_off);
            looks = self.looks(&free, &engagement, &near);
        }
        free
    }

    /// A pass so much narrower that no place of it is crowded, if it need not be much narrower: ways around crowded places
    /// cost more.
    fn unbent(
        &self,
        (meets, share): (&Region, f64),
        engagement: &Engagement,
        near: &Inside,
        looks: &[Vec<Look>],
    ) -> Option<Region> {
        let greatest = |looks: &[Vec<Look>]| looks.iter().flatten().map(|look| look.ratio).fold(0.0, f64::max);
        let worst = greatest(looks);
        let narrower = share * engagement.share(UNBENT_AIM) / engagement.share(worst);
        let (mut length, mut cut) = (0.0, 0.0);
        for looks in looks {
            for (i, look) in looks.iter().enumerate() {
                let part = look.at.distance(looks[(i + 1) % looks.len()].at);
                length += part;
                cut += if look.ratio > 0.0 { part } else { 0.0 };
            }
        }
        let (least, most) = UNBENT[usize::from(cut < NEARLY * length)];
        if worst <= most || narrower < least * share {
            return None;
        }
        let free = self.room.minus(&meets.offset(-narrower * self.width, CHORD)).thinned(0.25 * CHORD);
        (greatest(&self.looks(&free, engagement, near)) <= most).then_some(free)
    }

    /// Places along the rings, in the sense of the cut, each with the engagement there.
    fn looks(&self, free: &Region, engagement: &Engagement, meets: &Inside) -> Vec<Vec<Look>> {
        let look = |(at, step): (DVec2, DVec2)| {
            let (middle, along) = (at + 0.5 * step, step.normalize_or_zero());
            let ratio = if meets.contains(middle) { engagement.ratio(middle, along) } else { 0.0 };
            Look { at, along, ratio }
        };
        let along = |ring: &Ring| -> Vec<Look> {
            let mut points = ring.0.clone();
            if !self.climb {
                points.reverse();
            }
            let n = points.len();
            let sides = (0..n).map(|i| (points[i], points[(i + 1) % n]));
            let places = sides.flat_map(|(a, b)| {
                let n = (a.distance(b) / LOOK).ceil().max(1.0);
                (0..n as u32).map(move |k| (a.lerp(b, f64::from(k) / n), (b - a) / n))
            });
            places.map(look).collect()
        };
        free.rings.par_iter().map(along).collect()
    }

    /// Stretches of a ring where the cutter is engaged too far; what is short between two of them belongs to them.
    /// Counted round and round.
    fn crowded(&self, looks: &[Look]) -> Vec<Range<usize>> {
        let n = looks.len();
        let is = |i: usize| looks[i % n].ratio > TOLERATED;
        // How far one may go from a place before `stop` holds, in places; `None` if that is farther than `most`.
        let until = |from: usize, sense: usize, most: f64, stop: &dyn Fn(usize) -> bool| -> Option<usize> {
            let (mut gone, mut at) = (0.0, from % n);
            for k in 1..n {
                let next = (at + sense) % n;
                gone += looks[at].at.distance(looks[next].at);
                if gone > most * self.reach {
                    return None;
                }
                if stop(next) {
                    return Some(k);
                }
                at = next;
            }
            None
        };
        let begins = (0..n).filter(|&i| is(i) && until(i, n - 1, APART_RUNS, &is).is_none());
        let stretch = |begin: usize| {
            let mut last = begin;
            while last < begin + n
                && let Some(on) = until(last, 1, APART_RUNS, &is)
            {
                last += on;
            }
            begin + n..last + 1 + n
        };
        begins.map(stretch).collect()
    }

    /// Where a ring dives into what stands: what lies between it and a way in that does not.
    fn wedges(&self, looks: &[Look], engagement: &Engagement, room: &Inside) -> Vec<Ring> {
        let n = looks.len();
        let wedge = |run: Range<usize>| -> Option<Vec<Ring>> {
            if run.clone().all(|i| looks[i % n].ratio <= BEARABLE) {
                return None;
            }
            let (mut gone, mut tried) = (0.0, f64::NEG_INFINITY);
            for i in run.end..run.end + n {
                gone += looks[i % n].at.distance(looks[(i + 1) % n].at);
                if gone > BENT * self.reach || looks[i % n].ratio == 0.0 {
                    return None;
                }
                let Look { at, along, ratio } = looks[i % n];
                if ratio > TOLERATED || gone < tried + AGAIN * self.reach {
                    continue;
                }
                tried = gone;
                if let Some(way) = engagement.way_in((at, along), TOLERATED, &|p| room.contains(p)) {
                    let from = self.leaves(looks, run.start, way[0]);
                    let ring = (from..i).map(|k| looks[k % n].at).chain(way.into_iter().rev());
                    let ring = Ring(ring.collect());
                    // Where the two cross, some of what lies between them is left of the ring and some right.
                    let turned = Ring(ring.0.iter().rev().copied().collect());
                    // A little wider, so that no splinters are left along the ring.
                    let whole = |ring| Region { rings: vec![ring] }.offset(WEDGE_WIDER, CHORD).rings;
                    return Some([ring, turned].into_iter().flat_map(whole).collect());
                }
            }
            None
        };
        self.crowded(looks).into_iter().filter_map(wedge).flatten().collect()
    }

    /// Where before a crowded stretch a ring is left for a way in that begins at `to`: at the nearest place.
    fn leaves(&self, looks: &[Look], crowded: usize, to: DVec2) -> usize {
        let n = looks.len();
        let mut gone = 0.0;
        let before = (crowded - n + 1..crowded).rev().take_while(|i| {
            gone += looks[i % n].at.distance(looks[(i + 1) % n].at);
            gone < BENT * self.reach
        });
        let distance = |i: usize| looks[i % n].at.distance_squared(to);
        before.min_by(|&a, &b| distance(a).total_cmp(&distance(b))).unwrap_or(crowded - 1)
    }

    /// Helices at the widest places of the room where much stands, or a round along its border where it is narrow. `whole`:
    /// nothing of it is open yet; then the helices are stretched out along the middle of the room.
    fn openings(&self, stands: &Region, whole: bool) -> Option<Openings> {
        let todo = self.room.offset(self.reach - SLIVER, CHORD).common(stands).offset(-0.5 * SLIVER, CHORD);
        if todo.area() <= SPECK {
            return None;
        }
        let mut widest = self.widest(&todo.offset(0.5 * self.reach, 0.1));
        widest.retain(|place| place.1 >= LEAST_HELIX * self.reach);
        if widest.is_empty() {
            let ring = self.room.rings.iter().max_by(|a, b| a.area().total_cmp(&b.area()))?.clone();
            return Some(Openings { rings: vec![ring], clears: self.room.offset(self.reach, CHORD) });
        }
        let mut out = Openings { rings: Vec::new(), clears: Region::default() };
        for (middle, gap) in widest {
            if whole && out.clears.contains(middle) {
                continue;
            }
            let stretched = if whole { self.stretched(middle, gap) } else { None };
            let (rings, clears) = stretched.unwrap_or_else(|| {
                let disc = |more: f64| Region::disc(middle, gap.min(self.helix) + more, CHORD);
                (disc(0.0).rings, disc(self.reach))
            });
            out.rings.extend(rings);
            out.clears = out.clears.union(&clears);
        }
        Some(out)
    }

    /// A helix stretched out along a straight middle of the room, so long that its ends come to the walls when its sides do; or
    /// once around the middle of a room that goes round something. What grows from it meets the walls everywhere at about the
    /// same time, so that most passes are closed and nothing goes back empty. With what it clears.
    fn stretched(&self, middle: DVec2, gap: f64) -> Option<(Vec<Ring>, Region)> {
        let wide = self.room.offset(-ALIKE * gap, CHORD);
        let wide = wide.parts().into_iter().find(|part| part.contains(middle))?;
        let (outer, holes): (Vec<Ring>, Vec<Ring>) = wide.rings.into_iter().partition(|ring| ring.area() > 0.0);
        let outer = outer.into_iter().next()?;
        if !holes.is_empty() {
            let ring = Region { rings: vec![outer] }.offset(-(1.0 - ALIKE) * gap, CHORD).rings;
            let [ring] = <[Ring; 1]>::try_from(ring).ok()?;
            let line = Region { rings: vec![ring.clone()] };
            // A little more than it does: in a slot as wide as the cutter no place would be clear.
            let reach = self.reach + 0.5 * SLIVER;
            let clears = line.offset(reach, CHORD).minus(&line.offset(-reach, CHORD));
            return Some((vec![ring], clears));
        }
        let (centre, along) = lies(&outer)?;
        let end = |out: DVec2| Some(centre + out * (self.until_wall(centre, out)? - gap).max(0.0));
        let (a, b) = (end(-along)?, end(along)?);
        let wide = |p: &DVec2| self.room.distance(*p) >= ALIKE * gap;
        let suits = a.distance(b) > self.reach && self.room.contains(centre);
        if !suits || !resampled(&[a, b], self.reach).iter().all(wide) {
            return None;
        }
        let round = self.helix.min(ALIKE * gap);
        let stadium = |by: f64| {
            let n = (0.5 * PI / (1.0 - CHORD / by).acos()).ceil();
            let end = |at: DVec2, out: DVec2| {
                let turned = (0..=n as u32).map(move |k| PI * (f64::from(k) / n - 0.5));
                turned.map(move |turn| at + by * DVec2::from_angle(turn).rotate(out))
            };
            let out = (b - a).normalize_or_zero();
            Region { rings: vec![Ring(end(b, out).chain(end(a, -out)).collect())] }
        };
        Some((stadium(round).rings, stadium(round + self.reach)))
    }

    /// How far it is from a place to the border of the room, straight on.
    fn until_wall(&self, from: DVec2, along: DVec2) -> Option<f64> {
        let crossing = |(a, b): (DVec2, DVec2)| {
            let (off, side) = (a - from, b - a);
            let turned = along.perp_dot(side);
            let (far, share) = (off.perp_dot(side) / turned, off.perp_dot(along) / turned);
            (far > 0.0 && (0.0..=1.0).contains(&share)).then_some(far)
        };
        self.room.rings.iter().flat_map(Ring::sides).filter_map(crossing).min_by(f64::total_cmp)
    }

    /// The places within `near` that lie farthest from the border of the room, well apart from each other, and how far that
    /// is.
    fn widest(&self, near: &Region) -> Vec<(DVec2, f64)> {
        let Some((lo, hi)) = near.bounds() else { return Vec::new() };
        let origin = lo - DVec2::splat(PITCH);
        let count = ((hi - lo) / PITCH).ceil();
        let (nx, ny) = (count.x as usize + 3, count.y as usize + 3);
        let at = |i: usize| origin + DVec2::new((i % nx) as f64, (i / nx) as f64) * PITCH;
        let (room, near) = (Inside::new(self.room, PITCH), Inside::new(near, PITCH));
        let outside: Vec<bool> = (0..nx * ny).map(|i| !room.contains(at(i))).collect();
        let gaps = distances(nx, ny, &outside);
        let mut order: Vec<usize> = (0..nx * ny).filter(|&i| !outside[i] && near.contains(at(i))).collect();
        order.sort_by(|&a, &b| gaps[b].total_cmp(&gaps[a]).then(a.cmp(&b)));
        let least = order.first().map_or(0.0, |&i| ALIKE * gaps[i]);
        let mut found: Vec<DVec2> = Vec::new();
        for p in order.into_iter().take_while(|&i| gaps[i] >= least).map(at) {
            if found.iter().all(|q| q.distance(p) >= APART * self.reach) {
                found.push(p);
            }
        }
        found.into_iter().map(|p| (p, self.room.distance(p))).collect()
    }
}

/// The middle of a ring and the direction in which it is longest (of the moments of places along it).
fn lies(ring: &Ring) -> Option<(DVec2, DVec2)> {
    let places = resampled(&opened(&ring.0, 0), PITCH).split_off(1);
    let count = places.len() as f64;
    let middle = places.iter().sum::<DVec2>() / count;
    let [mut xx, mut xy, mut yy] = [0.0; 3];
    for off in places.iter().map(|p| *p - middle) {
        xx += off.x * off.x;
        xy += off.x * off.y;
        yy += off.y * off.y;
    }
    (count > 0.0).then(|| (middle, DVec2::from_angle(0.5 * (2.0 * xy).atan2(xx - yy))))
}

/// The engagement that the most of the places that cut do not exceed.
fn most(looks: &[Vec<Look>]) -> Option<f64> {
    let mut ratios: Vec<f64> = looks.iter().flatten().map(|look| look.ratio).filter(|ratio| *ratio > 0.3).collect();
    ratios.sort_by(f64::total_cmp);
    ratios.get((MOST_PLACES * ratios.len() as f64) as usize).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The passes in a round room of that radius in full stock, for a cutter of radius 3.
    fn within(radius: f64) -> Vec<Pass> {
        let room = Region::disc(DVec2::ZERO, radius, 0.005);
        let bounds = Bounds { room: &room, reach: 3.0, width: 2.0, helix: 2.7, climb: true };
        fronts(bounds, &Region::disc(DVec2::ZERO, 40.0, 0.01)).concat()
    }

    #[test]
    fn no_way_goes_round_on_the_spot() {
        let least = LEAST_ROUND * 3.0;
        assert!(within(0.5).is_empty(), "a hole of the cutter's own size is left to a thinner one");
        for tenths in 8..40 {
            let passes = within(f64::from(tenths) / 10.0);
            let rings: Vec<f64> = passes.iter().flat_map(|p| &p.rings).map(Ring::perimeter).collect();
            assert!(!rings.is_empty() && rings.iter().all(|r| *r > 0.99 * least), "{tenths}: {rings:?}");
            // The closed form of what the room lets the cutter clear: nothing of it is left.
            let left = passes.last().map_or(f64::INFINITY, |p| {
                p.stands.common(&Region::disc(DVec2::ZERO, 3.0 + f64::from(tenths) / 10.0 - 0.15, 0.005)).area()
            });
            assert!(left < SPECK, "{tenths}: {left} mm² stand");
        }
    }
}
