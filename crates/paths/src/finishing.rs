//! Finishing with the stepover from the target scallop on the real slope.
//!
//! Parallel passes leave `s² / (8 R cos² α)`, four times as high at 60° as on the flat. So steep walls are cut by level
//! rings whose spacing in height is `s · sin α`, the rest by rings in plan whose spacing is `s · cos α`, with an overlap;
//! `s` is the stepover on the surface that leaves the target scallop.
//!
//! Level rings are contours of the cutter-location height, each vertex brought to the exact place by bisection and each
//! chord split until it keeps within tolerance of the exact contour. Rings in plan are dropped to the exact height, and
//! split likewise.

use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::{DVec2, Grid, Region, contour};
use rayon::prelude::*;

/// What to finish.
#[derive(Clone, Debug)]
pub struct Finishing<'a> {
    /// Cutter location over the target, no allowance (or the allowance that stays).
    pub location: &'a CutterLocation,
    /// Top of the stock now (`-inf` where there is none): entries come down through air only.
    pub stock: &'a Grid<f32>,
    /// Where the tip's axis may go.
    pub within: &'a Region,
    /// Highest tip height to finish at.
    pub top_z: f64,
    /// Lowest tip height.
    pub bottom_z: f64,
    /// Greatest scallop, mm, measured along the normal.
    pub scallop: f64,
    /// Radius that makes the scallop (ball radius, corner radius of a bull), mm.
    pub tip_radius: f64,
    /// Cutter diameter.
    pub diameter: f64,
    /// Level rings above this slope, rings in plan below it, degrees.
    pub steep_deg: f64,
    /// Overlap of the two along the surface, mm.
    pub overlap: f64,
}

/// What was made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Finished {
    /// The moves.
    pub moves: Vec<Move>,
    /// Greatest scallop by the spacing and slope as made, mm.
    pub worst_scallop: f64,
}

/// Pitch of the lattice on which contours are found before they are made exact, mm.
const PITCH: f64 = 0.5;
/// The stepover keeps this share of what a flat surface would allow: a convex wall of a bowl raises the scallop by
/// `1 + R/ρ`, a few per cent.
const CONVEX_SHARE: f64 = 0.96;
/// Slopes are gathered by height in bands this high, mm.
const BAND: f64 = 0.25;
/// A point of a level ring lies within this of the exact contour, mm in plan.
const EXACT: f64 = 1e-5;
/// The ramp onto a path begins this far above what is known to stand there, mm.
const RAMP_ABOVE: f64 = 0.4;
/// Longest chord of a ring in plan before it is checked, mm.
const LONGEST: f64 = 1.5;
/// Shortest chord that is still split, mm.
const SHORTEST: f64 = 0.02;
/// Steepest slope that a ring in plan still climbs in the overlap, degrees.
const STEEPEST_CLIMB_DEG: f64 = 70.0;
/// Rings further apart than this in plan belong to different walls, mm.
const SAME_WALL: f64 = 4.0;
/// Rings further apart than this in height are not linked along the surface, mm.
const LONGEST_DROP: f64 = 2.0;

/// Level rings on steep walls from the top down, rings in plan on the rest.
///
/// # Errors
/// [`Cancelled`].
pub fn finishing(what: &Finishing<'_>, work: &Work, progress: &dyn Progress) -> Result<Finished, Cancelled> {
    let Some(survey) = Survey::new(what) else { return Ok(Finished::default()) };
    progress.go_on()?;
    let stepover =
        CONVEX_SHARE * 2.0 * (2.0 * what.tip_radius * what.scallop - what.scallop * what.scallop).max(0.0).sqrt();
    let (levels, worst_level) = survey.levels(what, stepover);
    let rings: Vec<Vec<Path>> = levels.par_iter().map(|z| survey.level_rings(what, *z, work.tolerance)).collect();
    progress.go_on()?;
    let (flat, worst_flat) = survey.plan_rings(what, stepover, work.tolerance);
    progress.go_on()?;
    let mut walls = chains(rings);
    walls.extend(chains(flat));
    let mut moves = Vec::new();
    for chain in &mut walls {
        link(chain, what, work, &mut moves);
    }
    let worst = worst_level.max(worst_flat);
    Ok(Finished { moves, worst_scallop: worst * worst / (8.0 * what.tip_radius) })
}

/// A path of the tip; closed ones end where they start.
#[derive(Clone, Debug, PartialEq)]
struct Path {
    points: Vec<[f64; 3]>,
    closed: bool,
}

/// Heights and slopes on the lattice.
struct Survey {
    heights: Grid<f64>,
    /// Slope from horizontal, degrees; 90 beside a cliff, NaN where it is unknown.
    slopes: Grid<f64>,
}

impl Survey {
    fn new(what: &Finishing<'_>) -> Option<Self> {
        let (min, max) = what.within.bounds()?;
        let margin = DVec2::splat(3.0 * PITCH);
        let (min, max) = (min - margin, max + margin);
        let n = ((max - min) / PITCH).ceil();
        let heights = what.location.grid(min, PITCH, n.x as usize + 1, n.y as usize + 1);
        let slopes = slopes(&heights);
        Some(Self { heights, slopes })
    }

    /// Heights of the level rings from the top down, and the greatest step along the surface that they leave.
    fn levels(&self, what: &Finishing<'_>, stepover: f64) -> (Vec<f64>, f64) {
        let bands = ((what.top_z - what.bottom_z) / BAND).ceil().max(0.0) as usize + 1;
        let mut least = vec![f64::INFINITY; bands];
        let steep = what.steep_deg.to_radians().tan();
        let band = |z: f64| ((what.top_z - z) / BAND).floor().clamp(0.0, bands as f64 - 1.0) as usize;
        let (nx, ny) = (self.heights.nx, self.heights.ny);
        for iy in 0..ny.saturating_sub(1) {
            for ix in 0..nx.saturating_sub(1) {
                let z = |x: usize, y: usize| self.heights.values[self.heights.index(x, y)];
                let (here, right, up) = (z(ix, iy), z(ix + 1, iy), z(ix, iy + 1));
                let (lo, hi) = (here.min(right).min(up), here.max(right).max(up));
                // Where a neighbour has nothing below it the edge of the stock falls away: no wall to finish.
                let slope = (right - here).hypot(up - here) / PITCH;
                let steep = slope.is_finite() && slope >= steep && hi >= what.bottom_z && lo <= what.top_z;
                if !steep || !what.within.contains(self.heights.at(ix, iy)) {
                    continue;
                }
                for cell in &mut least[band(hi)..=band(lo)] {
                    *cell = cell.min(slope);
                }
            }
        }
        let mut levels = Vec::new();
        let mut worst = 0.0_f64;
        let mut z = what.top_z;
        while z > what.bottom_z {
            let slope = least[band(z)].min(least[band(z - stepover)]);
            if slope.is_finite() {
                let step = stepover * slope.atan().sin();
                levels.push(z);
                worst = worst.max(stepover);
                z -= step;
            } else {
                z -= BAND;
            }
        }
        if levels.last().is_some_and(|last| last - what.bottom_z > 1e-6) && least[band(what.bottom_z)].is_finite() {
            levels.push(what.bottom_z);
        }
        (levels, worst)
    }

    /// The contour at one level, exact, cut down to where the axis may go.
    fn level_rings(&self, what: &Finishing<'_>, z: f64, tolerance: f64) -> Vec<Path> {
        let region = contour::below(&self.heights, z);
        let mut paths = Vec::new();
        for ring in &region.rings {
            for (points, closed) in self.allowed(what, &ring.thinned(0.03).0) {
                if !self.is_steep(what, &points) {
                    continue;
                }
                let mut exact = exact_contour(what.location, &points, closed, z);
                exact = split_contour(what.location, exact, closed, z, tolerance);
                if exact.len() >= 2 {
                    paths.push(Path { points: exact.iter().map(|p| [p.x, p.y, z]).collect(), closed });
                }
            }
        }
        paths
    }

    /// Stretches of a ring that lie where the axis may go and not on the lattice's border.
    fn allowed(&self, what: &Finishing<'_>, ring: &[DVec2]) -> Vec<(Vec<DVec2>, bool)> {
        let far = self.heights.at(self.heights.nx - 1, self.heights.ny - 1);
        let near = self.heights.origin;
        let inside = |p: &DVec2| {
            let border = p.x < near.x + PITCH * 1.01
                || p.y < near.y + PITCH * 1.01
                || p.x > far.x - PITCH * 1.01
                || p.y > far.y - PITCH * 1.01;
            !border && what.within.contains(*p)
        };
        stretches(ring, inside)
    }

    /// Whether any part of a contour runs where level rings are wanted.
    fn is_steep(&self, what: &Finishing<'_>, points: &[DVec2]) -> bool {
        points.iter().any(|p| {
            self.slopes.nearest(*p).is_some_and(|(ix, iy)| {
                (ix.saturating_sub(1)..=ix + 1).any(|x| {
                    (iy.saturating_sub(1)..=iy + 1).any(|y| self.slopes.get(x, y).is_some_and(|s| *s >= what.steep_deg))
                })
            })
        })
    }

    /// Rings in plan over the shallow part, from its edge inwards, and the greatest step along the surface.
    fn plan_rings(&self, what: &Finishing<'_>, stepover: f64, tolerance: f64) -> (Vec<Vec<Path>>, f64) {
        let shallow = self.shallow(what, what.steep_deg);
        if shallow.is_empty() {
            return (Vec::new(), 0.0);
        }
        let climb = self.shallow(what, STEEPEST_CLIMB_DEG);
        let reach = what.overlap * what.steep_deg.to_radians().cos();
        let mut region = shallow.offset(reach, 0.02).common(&climb).common(what.within);
        let mut all = Vec::new();
        let mut worst = 0.0_f64;
        while !region.is_empty() {
            region.rings.iter_mut().for_each(|r| *r = r.thinned(0.01));
            let paths: Vec<Path> =
                region.rings.par_iter().flat_map_iter(|ring| self.dropped(what, &ring.0, tolerance)).collect();
            let slope = region
                .rings
                .iter()
                .flat_map(|r| r.0.iter())
                .filter_map(|p| self.slopes.nearest(*p).and_then(|(x, y)| self.slopes.get(x, y)).copied())
                .filter(|s| s.is_finite() && *s <= what.steep_deg)
                .fold(0.0_f64, f64::max);
            all.push(paths);
            worst = worst.max(stepover);
            let step = stepover * slope.to_radians().cos();
            let inner = region.offset(-step, 0.01);
            if inner.is_empty() {
                // The middle that is left is narrower than two steps: one more round half a step in covers it.
                let last = region.offset(-step / 2.0, 0.01);
                let rest: Vec<Path> =
                    last.rings.par_iter().flat_map_iter(|ring| self.dropped(what, &ring.0, tolerance)).collect();
                all.push(rest);
            }
            region = inner;
        }
        (all, worst)
    }

    /// Where the tip's height lies between bottom and top and the slope is below `limit_deg`.
    fn shallow(&self, what: &Finishing<'_>, limit_deg: f64) -> Region {
        let mut field = self.heights.clone();
        for (value, slope) in field.values.iter_mut().zip(&self.slopes.values) {
            let z = *value;
            *value = if z == f64::NEG_INFINITY || slope.is_nan() {
                f64::INFINITY
            } else {
                ((slope - limit_deg) / 10.0).max(z - what.top_z).max(what.bottom_z - z).min(1e3)
            };
        }
        contour::below(&field, 0.0).common(what.within)
    }

    /// A ring of plan points on the exact surface, split until chords keep to it.
    fn dropped(&self, what: &Finishing<'_>, ring: &[DVec2], tolerance: f64) -> Vec<Path> {
        let dense = densified(ring);
        let heights: Vec<Option<f64>> = dense.iter().map(|p| what.location.height(p.x, p.y)).collect();
        let fits = |z: &Option<f64>| z.is_some_and(|z| z <= what.top_z + tolerance && z >= what.bottom_z - tolerance);
        let index: Vec<DVec2> = dense;
        let marks: Vec<bool> = heights.iter().map(fits).collect();
        let mut k = 0;
        let pieces = stretches(&index, |_| {
            k += 1;
            marks[(k - 1) % marks.len()]
        });
        pieces
            .into_iter()
            .filter(|(points, _)| points.len() >= 2)
            .map(|(points, closed)| {
                let mut out: Vec<[f64; 3]> = Vec::with_capacity(points.len() * 2);
                let on = |p: DVec2| [p.x, p.y, what.location.height_above(p.x, p.y, what.bottom_z)];
                out.push(on(points[0]));
                let n = points.len();
                let ends = if closed { n } else { n - 1 };
                for i in 0..ends {
                    let from = out[out.len() - 1];
                    split_surface(what, from, on(points[(i + 1) % n]), tolerance, &mut out);
                }
                Path { points: out, closed }
            })
            .collect()
    }
}

/// Slope at each node by central differences; a neighbour without a height makes it unknown.
fn slopes(heights: &Grid<f64>) -> Grid<f64> {
    let mut slopes = Grid::filled(heights.origin, heights.pitch, heights.nx, heights.ny, f64::NAN);
    for iy in 1..heights.ny.saturating_sub(1) {
        for ix in 1..heights.nx.saturating_sub(1) {
            let z = |x: usize, y: usize| heights.values[heights.index(x, y)];
            let here = z(ix, iy);
            // The steeper of the one-sided differences, so that the foot of a cliff does not pass for a gentle slope.
            let side = |a: f64, b: f64| (a - here).abs().max((b - here).abs()) / heights.pitch;
            let (gx, gy) = (side(z(ix - 1, iy), z(ix + 1, iy)), side(z(ix, iy - 1), z(ix, iy + 1)));
            let at = slopes.index(ix, iy);
            slopes.values[at] = gx.hypot(gy).atan().to_degrees();
        }
    }
    slopes
}

/// Cuts a closed ring into the stretches whose points satisfy `keep`, each point asked once, in order.
fn stretches(ring: &[DVec2], mut keep: impl FnMut(&DVec2) -> bool) -> Vec<(Vec<DVec2>, bool)> {
    let marks: Vec<bool> = ring.iter().map(&mut keep).collect();
    let n = ring.len();
    if n < 3 {
        return Vec::new();
    }
    let Some(gap) = marks.iter().position(|m| !m) else { return vec![(ring.to_vec(), true)] };
    let mut out: Vec<(Vec<DVec2>, bool)> = Vec::new();
    let mut open: Vec<DVec2> = Vec::new();
    for k in 1..=n {
        let i = (gap + k) % n;
        if marks[i] {
            open.push(ring[i]);
        } else if !open.is_empty() {
            out.push((std::mem::take(&mut open), false));
        }
    }
    out
}

/// Points of a closed ring no further apart than [`LONGEST`].
fn densified(ring: &[DVec2]) -> Vec<DVec2> {
    let mut out = Vec::with_capacity(ring.len() * 2);
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let parts = (a.distance(b) / LONGEST).ceil().max(1.0) as usize;
        out.extend((0..parts).map(|k| a.lerp(b, k as f64 / parts as f64)));
    }
    out
}

/// Brings each point to the contour of height `z` along the ring's normal. The region below `z` lies to the left.
fn exact_contour(location: &CutterLocation, points: &[DVec2], closed: bool, z: f64) -> Vec<DVec2> {
    let n = points.len();
    (0..n)
        .filter_map(|i| {
            let before = if i > 0 {
                points[i - 1]
            } else if closed {
                points[n - 1]
            } else {
                points[0]
            };
            let after = if i + 1 < n {
                points[i + 1]
            } else if closed {
                points[0]
            } else {
                points[n - 1]
            };
            let along = (after - before).normalize_or_zero();
            on_contour(location, points[i], DVec2::new(along.y, -along.x), z)
        })
        .collect()
}

/// The point on the line through `p` along `uphill` where the tip's height passes `z`, on its lower side.
fn on_contour(location: &CutterLocation, p: DVec2, uphill: DVec2, z: f64) -> Option<DVec2> {
    let above = |t: f64| {
        let q = p + uphill * t;
        location.height_above(q.x, q.y, z) > z
    };
    let (mut lo, mut hi) = (f64::NAN, f64::NAN);
    if above(0.0) {
        hi = 0.0;
    } else {
        lo = 0.0;
    }
    for reach in [0.002, 0.01, 0.05, 0.25, 1.0] {
        if hi.is_nan() && above(reach) {
            hi = reach;
        } else if hi.is_nan() {
            lo = reach;
        }
        if lo.is_nan() && !above(-reach) {
            lo = -reach;
        } else if lo.is_nan() {
            hi = -reach;
        }
        if lo.is_finite() && hi.is_finite() {
            break;
        }
    }
    if !(lo.is_finite() && hi.is_finite()) {
        return None;
    }
    while hi - lo > EXACT {
        let mid = 0.5 * (lo + hi);
        if above(mid) { hi = mid } else { lo = mid }
    }
    Some(p + uphill * lo)
}

/// Splits chords until their middles lie within `tolerance` of the contour.
fn split_contour(location: &CutterLocation, points: Vec<DVec2>, closed: bool, z: f64, tolerance: f64) -> Vec<DVec2> {
    let n = points.len();
    if n < 2 {
        return points;
    }
    let mut out = vec![points[0]];
    let ends = if closed { n } else { n - 1 };
    for i in 0..ends {
        split_chord(location, points[i], points[(i + 1) % n], z, tolerance, 0, &mut out);
    }
    out
}

fn split_chord(
    location: &CutterLocation,
    a: DVec2,
    b: DVec2,
    z: f64,
    tolerance: f64,
    depth: u32,
    out: &mut Vec<DVec2>,
) {
    let along = b - a;
    if along.length() > SHORTEST && depth < 12 {
        let middle = a + along / 2.0;
        let uphill = DVec2::new(along.y, -along.x).normalize_or_zero();
        if let Some(exact) = on_contour(location, middle, uphill, z)
            && (exact.distance(middle) > tolerance || along.length() > 4.0)
        {
            split_chord(location, a, exact, z, tolerance, depth + 1, out);
            split_chord(location, exact, b, z, tolerance, depth + 1, out);
            return;
        }
    }
    out.push(b);
}

/// Adds the points from `a` (already there) to `b` so that every chord keeps within `tolerance` of the surface.
fn split_surface(what: &Finishing<'_>, a: [f64; 3], b: [f64; 3], tolerance: f64, out: &mut Vec<[f64; 3]>) {
    if distance(a, b) > SHORTEST {
        let (x, y) = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]));
        let z = what.location.height_above(x, y, what.bottom_z);
        if (z - 0.5 * (a[2] + b[2])).abs() > tolerance {
            let middle = [x, y, z];
            split_surface(what, a, middle, tolerance, out);
            split_surface(what, middle, b, tolerance, out);
            return;
        }
    }
    out.push(b);
}

/// Rings of one wall in the order they are cut; walls in the order of their first ring.
fn chains(layers: Vec<Vec<Path>>) -> Vec<Vec<Path>> {
    let mut chains: Vec<Vec<Path>> = Vec::new();
    for layer in layers {
        let open = chains.len();
        let mut taken = vec![false; open];
        for path in layer {
            let Some(start) = path.points.first() else { continue };
            let near = (0..open)
                .filter(|k| !taken[*k])
                .filter_map(|k| chains[k].last().map(|last| (k, nearest(&last.points, *start).1)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            match near {
                Some((k, distance)) if distance < SAME_WALL => {
                    taken[k] = true;
                    chains[k].push(path);
                }
                _ => chains.push(vec![path]),
            }
        }
    }
    chains
}

/// Index of, and distance in plan to, the point nearest to `to`.
fn nearest(points: &[[f64; 3]], to: [f64; 3]) -> (usize, f64) {
    points
        .iter()
        .enumerate()
        .map(|(i, p)| (i, (p[0] - to[0]).hypot(p[1] - to[1])))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, f64::INFINITY))
}

/// Joins the rings of a wall: along the surface from one to the next where that is short and clear, else over the top.
fn link(chain: &mut [Path], what: &Finishing<'_>, work: &Work, moves: &mut Vec<Move>) {
    let mut at: Option<[f64; 3]> = None;
    for path in chain {
        if !work.climb {
            path.points.reverse();
        }
        if let Some(end) = at {
            start_near(path, end);
        }
        let Some(&start) = path.points.first() else { continue };
        match at.filter(|end| short_link(what, *end, start)) {
            Some(end) => {
                let mut way = Vec::new();
                split_link(what, end, start, work.tolerance, &mut way);
                moves.extend(way.into_iter().map(|to| Move::Feed { to, feed: work.feed }));
                moves.extend(path.points[1..].iter().map(|to| Move::Feed { to: *to, feed: work.feed }));
            }
            None => {
                if let Some(end) = at {
                    moves.push(Move::Rapid { to: [end[0], end[1], work.safe_z] });
                }
                enter(path, what, work, moves);
            }
        }
        at = moves.last().map(|m| match *m {
            Move::Rapid { to } | Move::Feed { to, .. } | Move::Arc { to, .. } => to,
        });
    }
    if let Some(end) = at {
        moves.push(Move::Rapid { to: [end[0], end[1], work.safe_z] });
    }
}

/// Turns a closed path so that it starts nearest to `to`.
fn start_near(path: &mut Path, to: [f64; 3]) {
    if !path.closed || path.points.len() < 3 {
        return;
    }
    path.points.pop();
    let (k, _) = nearest(&path.points, to);
    path.points.rotate_left(k);
    let first = path.points[0];
    path.points.push(first);
}

/// Whether the way from one ring to the next is short: then only what the two rings overlap stands between them.
fn short_link(what: &Finishing<'_>, from: [f64; 3], to: [f64; 3]) -> bool {
    let plan = (from[0] - to[0]).hypot(from[1] - to[1]);
    plan < SAME_WALL.min(what.diameter) && (from[2] - to[2]).abs() < LONGEST_DROP
}

/// A link that never lies below the exact heights: up to the greater of the straight line and the surface.
fn split_link(what: &Finishing<'_>, a: [f64; 3], b: [f64; 3], tolerance: f64, out: &mut Vec<[f64; 3]>) {
    let length = distance(a, b);
    if length > SHORTEST {
        let (x, y) = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]));
        let line = 0.5 * (a[2] + b[2]);
        let z = what.location.height_above(x, y, line);
        if z > line + tolerance || length > 0.5 {
            let middle = [x, y, z];
            split_link(what, a, middle, tolerance, out);
            split_link(what, middle, b, tolerance, out);
            return;
        }
    }
    out.push(b);
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|k: usize| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt()
}

/// Comes down through air to just above the stock, then ramps along the path onto it; a closed path then goes round once
/// more over the ramp.
fn enter(path: &Path, what: &Finishing<'_>, work: &Work, moves: &mut Vec<Move>) {
    let start = path.points[0];
    // Down a ramp in any case: what stands between two nodes of the stock's lattice is not known.
    let mut over = (standing(what, start) - start[2]).max(0.0) + RAMP_ABOVE;
    let rapid_to = (start[2] + over + work.approach).min(work.safe_z);
    moves.push(Move::Rapid { to: [start[0], start[1], work.safe_z] });
    moves.push(Move::Rapid { to: [start[0], start[1], rapid_to] });
    moves.push(Move::Feed { to: [start[0], start[1], start[2] + over], feed: work.plunge_feed });
    let slope = work.ramp_deg.to_radians().tan();
    let (mut i, mut step) = (0_usize, 1_isize);
    let last = path.points.len() - 1;
    let stretch = ramp_stretch(&path.points, 15.0);
    while over > 0.0 {
        if (step > 0 && (i == last || i >= stretch)) || (step < 0 && i == 0) {
            step = -step;
        }
        let j = i.saturating_add_signed(step).min(last);
        if j == i {
            break;
        }
        let (p, q) = (path.points[i], path.points[j]);
        over -= (p[0] - q[0]).hypot(p[1] - q[1]) * slope;
        moves.push(Move::Feed { to: [q[0], q[1], q[2] + over.max(0.0)], feed: work.plunge_feed });
        i = j;
    }
    // Back to the start along what is now cut, then the whole path.
    while i > 0 {
        i -= 1;
        moves.push(Move::Feed { to: path.points[i], feed: work.feed });
    }
    moves.extend(path.points[1..].iter().map(|to| Move::Feed { to: *to, feed: work.feed }));
}

/// Index up to which the path is about `length` mm long.
fn ramp_stretch(points: &[[f64; 3]], length: f64) -> usize {
    let mut run = 0.0;
    for i in 1..points.len() {
        run += (points[i][0] - points[i - 1][0]).hypot(points[i][1] - points[i - 1][1]);
        if run >= length {
            return i;
        }
    }
    points.len() - 1
}

/// Greatest height of the stock under the cutter.
fn standing(what: &Finishing<'_>, at: [f64; 3]) -> f64 {
    let r = what.diameter / 2.0 + what.stock.pitch;
    let centre = DVec2::new(at[0], at[1]);
    let (xs, ys) = what.stock.nodes_in(centre - DVec2::splat(r), centre + DVec2::splat(r));
    let mut top = f64::NEG_INFINITY;
    for iy in ys {
        for ix in xs.clone() {
            if what.stock.at(ix, iy).distance(centre) <= r {
                top = top.max(f64::from(what.stock.values[what.stock.index(ix, iy)]));
            }
        }
    }
    top
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::Quiet;
    use geom::{DVec3, Mesh};
    use trade::cutter::{Form, Solid};

    fn ball(diameter: f64) -> Solid {
        Solid {
            form: Form::Ball,
            diameter,
            flute_length: 20.0,
            neck_diameter: diameter,
            neck_length: 20.0,
            shank_diameter: diameter,
            stickout: 60.0,
            holder: Vec::new(),
        }
    }

    fn work() -> Work {
        Work {
            safe_z: 50.0,
            approach: 2.0,
            feed: 1000.0,
            plunge_feed: 200.0,
            ramp_deg: 3.0,
            plunges: false,
            climb: true,
            tolerance: 0.004,
        }
    }

    /// A body of revolution from (radius, z) points, standing on a slab.
    fn turned(profile: &[(f64, f64)]) -> Mesh {
        let n = 360;
        let mut mesh = Mesh::default();
        for (r, z) in profile {
            for k in 0..n {
                let a = std::f64::consts::TAU * k as f64 / n as f64;
                mesh.vertices.push(DVec3::new(r * a.cos(), r * a.sin(), *z));
            }
        }
        for j in 0..profile.len() as u32 - 1 {
            for k in 0..n {
                let (a, b) = (j * n + k, j * n + (k + 1) % n);
                mesh.triangles.push([a, b, a + n]);
                mesh.triangles.push([b, b + n, a + n]);
            }
        }
        let slab = Mesh::cuboid(DVec3::new(-60.0, -60.0, -5.0), DVec3::new(60.0, 60.0, 0.0));
        let base = mesh.vertices.len() as u32;
        mesh.vertices.extend(&slab.vertices);
        mesh.triangles.extend(slab.triangles.iter().map(|t| t.map(|v| v + base)));
        mesh
    }

    fn checked(mesh: &Mesh, bottom_z: f64, top_z: f64) -> Vec<Move> {
        let location = CutterLocation::new(mesh, &ball(6.0), 0.0);
        let within = Region::rectangle(DVec2::splat(-55.0), DVec2::splat(55.0));
        let stock = Grid::filled(DVec2::splat(-60.0), 1.0, 121, 121, 31.0_f32);
        let what = Finishing {
            location: &location,
            stock: &stock,
            within: &within,
            top_z,
            bottom_z,
            scallop: 0.03,
            tip_radius: 3.0,
            diameter: 6.0,
            steep_deg: 48.0,
            overlap: 3.0,
        };
        let made = finishing(&what, &work(), &Quiet).unwrap();
        assert!(made.worst_scallop <= 0.03 + 1e-9);
        let mut at: Option<[f64; 3]> = None;
        let mut cut = 0.0;
        for m in &made.moves {
            let to = match *m {
                Move::Rapid { to } | Move::Feed { to, .. } | Move::Arc { to, .. } => to,
            };
            if let Some(from) = at {
                let length = (0..3).map(|k: usize| (to[k] - from[k]).powi(2)).sum::<f64>().sqrt();
                let parts = (length / 0.5).ceil().max(1.0) as usize;
                for k in 0..=parts {
                    let t = k as f64 / parts as f64;
                    let p = [0, 1, 2].map(|i: usize| from[i] + (to[i] - from[i]) * t);
                    // On a slope a distance along the normal shows as more in height: judge a little outside, too.
                    let need = location.height(p[0], p[1]).unwrap_or(f64::NEG_INFINITY);
                    let aside = (0..8).map(|k| f64::from(k) * 0.8).map(|a| {
                        location.height(p[0] + 0.006 * a.cos(), p[1] + 0.006 * a.sin()).unwrap_or(f64::NEG_INFINITY)
                    });
                    let least = aside.fold(need, f64::min);
                    assert!(p[2] >= least - 0.006, "{p:?} lies below {least}");
                }
                if !matches!(m, Move::Rapid { .. }) {
                    cut += length;
                }
            }
            at = Some(to);
        }
        assert!(cut > 1000.0, "hardly anything was cut: {cut} mm");
        made.moves
    }

    #[test]
    fn a_dome_is_covered_without_a_gouge() {
        let profile: Vec<(f64, f64)> =
            (0..=45).map(|k| f64::from(k) * 2.0_f64.to_radians()).map(|a| (40.0 * a.cos(), 30.0 * a.sin())).collect();
        checked(&turned(&profile), 0.02, 29.99);
    }

    #[test]
    fn an_upright_wall_is_cut_in_level_rings() {
        let moves = checked(&turned(&[(30.0, -5.0), (30.0, 20.0), (0.01, 20.0)]), 0.02, 19.9);
        let lowest = moves
            .iter()
            .filter_map(|m| match m {
                Move::Feed { to, .. } => Some(to[2]),
                _ => None,
            })
            .fold(f64::INFINITY, f64::min);
        assert!((lowest - 0.02).abs() < 0.01, "{lowest}");
    }
}
