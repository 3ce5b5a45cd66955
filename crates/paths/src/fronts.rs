//! Clearing a level by fronts: every pass takes at most the allowed width off what still stands, beginning in the air
//! where there is any, else from a hole opened by a helix. The tip keeps `reach − width` from what stands, so the cutter is
//! not buried; where what stands closes in around it, it keeps farther off still. Grooves are cut in full width, slowly.

use crate::inside::Inside;
use crate::stock::distances;
use geom::{DVec2, Region, Ring};
use rayon::prelude::*;
use std::f64::consts::{FRAC_PI_2, PI};

/// Accuracy of offsets, mm.
const CHORD: f64 = 0.04;
/// What is narrower than this is no longer worth a pass, mm; and smaller than this, mm².
const SLIVER: f64 = 0.1;
const SPECK: f64 = 0.3;
/// Passes of a level, at most: far more than any level needs.
const MOST_PASSES: usize = 600;
/// Where the cutter would be engaged too far, its pass takes the next lesser of these shares of the width.
const SHARES: [f64; 8] = [1.0, 0.94, 0.88, 0.8, 0.7, 0.58, 0.45, 0.3];
/// Engagement aimed at, as a ratio of the limit.
const AIM: f64 = 0.95;
/// Where a few places are engaged above this ratio of the limit, their surroundings take this share of the width.
const TOLERATED: f64 = 1.05;
const LOCAL: f64 = 0.6;
/// Distance of the places along a pass at which the engagement is looked at, mm.
const LOOK: f64 = 1.0;
/// Directions looked at around the leading half of the cutter.
const DIRECTIONS: u32 = 45;
/// Pitch at which the widest place for a helix is looked for, mm.
const PITCH: f64 = 0.4;
/// Holes are opened this many radii apart, wherever the room is nearly as wide as at its widest.
const APART: f64 = 12.0;
const ALIKE: f64 = 0.8;
/// Room that is narrower than this on both sides of its middle, in radii, but for this share of it, is a groove.
const NARROW: f64 = 1.2;
const MOSTLY: f64 = 0.15;
/// A place narrower than this share of the cutter's radius takes no helix.
const LEAST_HELIX: f64 = 0.12;

/// One pass over a level.
#[derive(Clone, Debug)]
pub(crate) struct Pass {
    /// Rings with what is cleared on their left.
    pub(crate) rings: Vec<Ring>,
    /// Where the cutter on these rings meets stock.
    pub(crate) meets: Region,
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
}

/// The passes over a level, in order, for each part of the room. `meets`: where the cutter meets stock before the first.
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
    if room.offset(-NARROW * reach, CHORD).area() < MOSTLY * room.area() {
        return groove(bounds, stands);
    }
    let mut meets = stands.offset(reach, CHORD).thinned(CHORD);
    let mut passes: Vec<Pass> = Vec::new();
    let mut share = 0;
    while passes.len() < MOST_PASSES && stands.area() > SPECK {
        let free = bounds.free(&stands, &meets, &mut share);
        let near = free.common(&meets);
        let mut rest = stands.minus(&near.offset(reach, CHORD)).thinned(0.5 * CHORD);
        let gained = stands.area() - rest.area() > SPECK;
        if gained {
            passes.push(Pass { rings: free.rings, meets, buried: false });
        } else {
            let Some(Openings { rings, clears }) = bounds.openings(&stands) else { break };
            rest = stands.minus(&clears);
            passes.push(Pass { rings, meets, buried: true });
        }
        stands = rest;
        meets = stands.offset(reach, CHORD).thinned(CHORD);
    }
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
    let mut passes = Vec::new();
    while let Some(room) = rooms.pop() {
        if stands.area() <= SPECK {
            break;
        }
        let meets = stands.offset(bounds.reach, CHORD).thinned(CHORD);
        stands = stands.minus(&room.offset(bounds.reach, CHORD));
        passes.push(Pass { rings: room.rings, meets, buried: true });
    }
    passes
}

/// Ways to open holes in full stock.
struct Openings {
    rings: Vec<Ring>,
    clears: Region,
}

impl Bounds<'_> {
    /// Where the tip may be without being engaged too far. `share`: which of the [`SHARES`] to begin with; where most of a
    /// pass is crowded it goes on with a lesser one, and after a pass that is nowhere crowded with a greater.
    fn free(&self, stands: &Region, meets: &Region, share: &mut usize) -> Region {
        let inside = Inside::new(stands, PITCH);
        let near = Inside::new(meets, PITCH);
        let off = |kept_off: &Region| self.room.minus(kept_off).thinned(0.25 * CHORD);
        let mut kept_off = meets.offset(-SHARES[*share] * self.width, CHORD);
        let mut free = off(&kept_off);
        let mut looks = self.engagements(&free, &inside, &near);
        let crowded = |looks: &[(DVec2, f64)]| looks.iter().filter(|look| look.1 > AIM).count();
        if crowded(&looks) == 0 {
            *share = share.saturating_sub(1);
        }
        while 2 * crowded(&looks) > looks.len() && *share + 1 < SHARES.len() {
            *share += 1;
            kept_off = meets.offset(-SHARES[*share] * self.width, CHORD);
            free = off(&kept_off);
            looks = self.engagements(&free, &inside, &near);
        }
        // Where only some places are crowded, their surroundings wait.
        let places = looks.iter().filter(|look| look.1 > TOLERATED).map(|look| look.0);
        let around = DVec2::splat(1.2 * self.reach);
        let rings: Vec<Ring> = places.flat_map(|p| Region::rectangle(p - around, p + around).rings).collect();
        if rings.is_empty() {
            return free;
        }
        let surroundings = Region { rings }.union(&Region::default());
        let close = stands.common(&surroundings).offset(self.reach - LOCAL * self.width, CHORD);
        off(&kept_off.union(&close))
    }

    /// Places on the rings where the cutter meets stock, each with the angle over which it is engaged as a ratio of that of a
    /// straight cut of the full width.
    fn engagements(&self, free: &Region, stands: &Inside, meets: &Inside) -> Vec<(DVec2, f64)> {
        let full = (1.0 - self.width / self.reach).acos() + 0.5 * PI / f64::from(DIRECTIONS);
        let judge =
            |(p, along): (DVec2, DVec2)| meets.contains(p).then(|| (p, engaged(stands, p, along, self.reach) / full));
        let along = |ring: &Ring| -> Vec<(DVec2, f64)> {
            let looks = ring.sides().flat_map(|(a, b)| {
                let n = (a.distance(b) / LOOK).ceil().max(1.0);
                let along = (b - a).normalize_or_zero();
                (0..n as u32).map(move |k| (a.lerp(b, f64::from(k) / n), along))
            });
            looks.filter_map(judge).collect()
        };
        free.rings.par_iter().flat_map_iter(along).collect()
    }

    /// Helices at the widest places of the room where much stands, or a round along its border where it is narrow.
    fn openings(&self, stands: &Region) -> Option<Openings> {
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
        let disc = |(middle, room): &(DVec2, f64), more: f64| Region::disc(*middle, room.min(self.helix) + more, CHORD);
        let rings = widest.iter().flat_map(|place| disc(place, 0.0).rings).collect();
        let holes = Region { rings: widest.iter().flat_map(|place| disc(place, self.reach).rings).collect() };
        Some(Openings { rings, clears: holes.union(&Region::default()) })
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

/// Angle over which the leading half of a cutter at `p`, moving along `along`, stands in material, radians.
fn engaged(stands: &Inside, p: DVec2, along: DVec2, radius: f64) -> f64 {
    let step = PI / f64::from(DIRECTIONS);
    let hit = |k: &u32| {
        let turned = DVec2::from_angle(-FRAC_PI_2 + (f64::from(*k) + 0.5) * step).rotate(along);
        stands.contains(p + turned * radius)
    };
    (0..DIRECTIONS).filter(hit).count() as f64 * step
}
