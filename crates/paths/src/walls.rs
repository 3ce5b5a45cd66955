//! Level rings on steep ground, spaced by the scallop on the real slope, settled on the exact cutter location.

use crate::CutterLocation;
use crate::basins::Basins;
use crate::clearing::bridged;
use crate::ground::{Ground, PITCH, Stroke};
use crate::limit::Limit;
use crate::location::{Near, Touched};
use crate::moves::{opened, resampled, thinned};
use crate::order::Piece;
use crate::tree::Patch;
use crate::valleys::valleys;
use geom::{DVec2, Region, Ring, contour};
use rayon::prelude::*;

/// Longest side of a ring before it is checked, mm.
const SIDE: f64 = 1.2;
/// Gaps in a ring up to this long are bridged, mm.
const GAP: f64 = 3.0;
/// Places handled by one thread at a time, at least.
const TOGETHER: usize = 16;

/// Strokes from the top down, and the greatest scallop left. Rings in plan run on `floor`.
pub(crate) fn walls(ground: &Ground<'_>, floor: &Region) -> (Vec<Stroke>, f64) {
    let steep = ground.steep_nodes();
    let Some((lo, hi)) = ground.height_range(&steep) else { return (Vec::new(), 0.0) };
    let nodes = ground.ring_nodes(&steep);
    let contours = contour::Levels::new(&ground.heights);
    let basins = Basins::new(ground, &contours, (&steep, &nodes), (lo, hi));
    let rings: Vec<(&Ring, f64, usize)> =
        basins.levels().flat_map(|l| l.region.rings.iter().map(|r| (r, l.z, l.layer))).collect();
    let mut made: Vec<Stroke> =
        rings.into_par_iter().flat_map_iter(|(ring, z, layer)| strokes(ground, &nodes, ring, z, layer)).collect();
    made.extend(valleys(ground, &basins, floor));
    (made, basins.worst(ground, &steep))
}

/// The stretches of one contour that lie on steep ground, settled and refined.
fn strokes(ground: &Ground<'_>, nodes: &[bool], ring: &Ring, z: f64, layer: usize) -> Vec<Stroke> {
    let wanted = |p: DVec2| ground.is_marked(nodes, p);
    if !ring.0.iter().any(|&p| wanted(p)) {
        return Vec::new();
    }
    let trace = Trace::new(ground);
    let corners = corners(ring);
    let n = corners.len();
    let steep: Vec<bool> = corners.iter().map(|(p, _)| wanted(*p)).collect();
    let settled: Vec<Option<DVec2>> = (0..n)
        .into_par_iter()
        .with_min_len(TOGETHER)
        .map(|i| {
            let (p, air) = corners[i];
            let near = steep[i] || steep[(i + n - 1) % n] || steep[(i + 1) % n];
            if near { trace.settle(z, p, air, 2.0 * PITCH) } else { None }
        })
        .collect();
    let place = |i: usize| settled[i].unwrap_or(corners[i].0);
    let may: Vec<bool> = (0..n).map(|i| settled[i].is_some_and(|p| ground.inside.contains(p))).collect();
    let meets: Vec<bool> = (0..n).map(|i| may[i] && steep[i]).collect();
    let keep = bridged(&meets, &may, (GAP / SIDE) as usize, 1);
    runs(&keep)
        .into_iter()
        .flat_map(|(run, closed)| {
            let mut path: Vec<[f64; 3]> = run.iter().map(|&i| [place(i).x, place(i).y, z]).collect();
            if closed {
                path.push(path[0]);
            }
            inside_only(ground, &trace.refined(&path), closed, layer)
        })
        .collect()
}

/// Places along a contour of the lattice from which the exact one is looked for, each with the direction of air.
pub(crate) fn corners(ring: &Ring) -> Vec<(DVec2, DVec2)> {
    let points = resampled(&opened(&ring.thinned(0.02).0, 0), SIDE);
    let n = points.len() - 1;
    let air = |i: usize| (points[(i + 1) % n] - points[(i + n - 1) % n]).perp().normalize_or_zero();
    (0..n).map(|i| (points[i], air(i))).collect()
}

/// The parts of a path within the limit (chords settled on the exact contour may bulge out of it), in the sense of the cut.
fn inside_only(ground: &Ground<'_>, points: &[[f64; 3]], closed: bool, layer: usize) -> Vec<Stroke> {
    let out = |p: &[f64; 3]| !ground.inside.contains(DVec2::new(p[0], p[1]));
    let whole = closed && !points.iter().any(out);
    points
        .split(out)
        .filter_map(|part| {
            let mut part = part.to_vec();
            if !ground.work.climb {
                part.reverse();
            }
            stroke(part, whole, layer)
        })
        .collect()
}

/// A stroke from its points, if there is anything to cut.
pub(crate) fn stroke(points: Vec<[f64; 3]>, closed: bool, layer: usize) -> Option<Stroke> {
    let plan: Vec<DVec2> = points.iter().map(|p| DVec2::new(p[0], p[1])).collect();
    if plan.len() < 2 {
        return None;
    }
    let closed = closed && plan[0] == plan[plan.len() - 1] && plan.len() > 3;
    Some(Stroke { piece: Piece { points: plan, closed, layer, buried: false }, points })
}

/// Runs of kept places round a ring; one closed run if all are kept.
fn runs(keep: &[bool]) -> Vec<(Vec<usize>, bool)> {
    let n = keep.len();
    let Some(first) = (0..n).find(|&i| keep[i] && !keep[(i + n - 1) % n]) else {
        return if n > 2 && keep[0] { vec![((0..n).collect(), true)] } else { Vec::new() };
    };
    let mut runs: Vec<(Vec<usize>, bool)> = Vec::new();
    let mut open = false;
    for k in 0..n {
        let i = (first + k) % n;
        if !keep[i] {
            open = false;
        } else if open && let Some(run) = runs.last_mut() {
            run.0.push(i);
        } else {
            runs.push((vec![i], false));
            open = true;
        }
    }
    runs.retain(|r| r.0.len() > 1);
    runs
}

/// How far in the air points are settled, in tolerances: what thinning takes, and a little more.
pub(crate) const IN_AIR: f64 = 0.45;
/// Chords stay at least this far in the air, in tolerances, before thinning.
const CHORD_IN_AIR: f64 = 0.15;

/// So far aside of a side, and below it, its refining is made ready for, mm; what lies beyond is only slower.
const ASIDE: f64 = 0.02;
const BELOW: f64 = 0.02;

/// Settling and refining on level or gently sinking paths.
pub(crate) struct Trace<'a> {
    location: &'a CutterLocation,
    tolerance: f64,
}

impl<'a> Trace<'a> {
    pub(crate) fn new(ground: &Ground<'a>) -> Self {
        Self { location: ground.what.location, tolerance: ground.work.tolerance }
    }

    /// The place at height `z`, from `p` along `air` or against it.
    pub(crate) fn settle(&self, z: f64, p: DVec2, air: DVec2, width: f64) -> Option<DVec2> {
        let limit = Limit { location: self.location, near: None, z };
        self.settled(&limit, p, (air, 0.0), width, &mut Touched::default())
    }

    /// The same, likely so far along `air`: that only changes how soon it is found.
    pub(crate) fn settle_near(&self, z: f64, p: DVec2, (air, likely): (DVec2, f64), width: f64) -> Option<DVec2> {
        let limit = Limit { location: self.location, near: None, z };
        self.settled(&limit, p, (air, likely - IN_AIR * self.tolerance), width, &mut Touched::default())
    }

    fn settled(
        &self,
        limit: &Limit<'_>,
        p: DVec2,
        (air, likely): (DVec2, f64),
        width: f64,
        touched: &mut Touched,
    ) -> Option<DVec2> {
        let settled = limit.settle(p, (air, likely), (width, 0.1 * self.tolerance), touched)?;
        Some(settled + air * (IN_AIR * self.tolerance))
    }

    /// With points added until chords are true on both sides; air lies to the left.
    pub(crate) fn refined(&self, path: &[[f64; 3]]) -> Vec<[f64; 3]> {
        let sides = path.par_windows(2).with_min_len(TOGETHER).flat_map_iter(|side| {
            let mut points = vec![side[0]];
            self.split(&self.along(side[0], side[1]), (side[0], side[1]), &mut Touched::default(), &mut points);
            points
        });
        let mut out: Vec<[f64; 3]> = sides.collect();
        out.extend(path.last());
        thinned(&out, 0.25 * self.tolerance)
    }

    /// Made ready for questions along a side.
    fn along(&self, from: [f64; 3], to: [f64; 3]) -> Near<'a> {
        let (a, b) = (DVec2::new(from[0], from[1]), DVec2::new(to[0], to[1]));
        let half = 0.5 * (b - a);
        let halves = [half * 1.01, half.perp().normalize_or_zero() * ASIDE];
        self.location.near(Patch { middle: a.midpoint(b), halves }, from[2].min(to[2]) - BELOW)
    }

    fn split(&self, near: &Near<'_>, (from, to): ([f64; 3], [f64; 3]), touched: &mut Touched, out: &mut Vec<[f64; 3]>) {
        let (a, b) = (DVec2::new(from[0], from[1]), DVec2::new(to[0], to[1]));
        let height = |t: f64| from[2] + (to[2] - from[2]) * t;
        let length = a.distance(b);
        if length < 4.0 * self.tolerance {
            return;
        }
        let air = (b - a).perp() / length;
        let mut clears = |p: DVec2, z: f64| near.clears(p.x, p.y, z, touched);
        let (m, z) = (a.midpoint(b), height(0.5));
        // The farther in first: what is in the way there is likely to be so for the others.
        if !clears(m - air * self.tolerance, z) {
            let wall = -air * (CHORD_IN_AIR * self.tolerance);
            if [0.5, 0.25, 0.75].iter().all(|&t| clears(a.lerp(b, t) + wall, height(t))) {
                return;
            }
        }
        let limit = Limit { location: self.location, near: Some(near), z };
        let Some(m) = self.settled(&limit, m, (air, 0.0), length.max(4.0 * self.tolerance), touched) else { return };
        let m = [m.x, m.y, z];
        self.split(near, (from, m), touched, out);
        out.push(m);
        self.split(near, (m, to), touched, out);
    }
}
