//! Finishing with the stepover from the target scallop on the real slope.

use crate::floors::floors;
use crate::ground::{Ground, Stroke};
use crate::inside::Inside;
use crate::moves::{Track, resampled};
use crate::order::{Piece, next, parents};
use crate::spacing::Tip;
use crate::spiral::spiral;
use crate::stock::{GONE, Stock};
use crate::surface::{Surface, is_fall};
use crate::walls::walls;
use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::{DVec2, Grid, Region};
use rayon::prelude::*;

/// A spiral that ends this near to the lowest tip height has left nothing, mm.
const UNCUT: f64 = 0.01;
/// A cutter that can plunges straight through no more than this share of its diameter (common practice, no source).
const SHALLOW: f64 = 0.15;
/// Ramps begin this far above what is left of the stock, mm.
const RAMP_START: f64 = 0.2;
/// What stands within this of the cutter's edge may be the wall itself, mm.
const AT_EDGE: f64 = 0.35;
/// Stock between the nodes of its lattice is looked for this far beyond the cutter's edge, mm.
const BETWEEN_NODES: f64 = 0.3;
/// How far beside a path it is entered from, mm, the farthest first.
const LEADS: [f64; 5] = [2.0, 1.4, 1.0, 0.7, 0.45];
/// Ramps go to and fro over this much of a path, mm.
const RAMP_STRETCH: f64 = 15.0;
/// What begins so near straight below the tip, and lies deeper than that below it, asks for a ramp, mm.
const STRAIGHT: f64 = 0.02;
/// A path shorter than this is no place to ramp, mm.
const SHORT_STRETCH: f64 = 4.0;
/// Directions in which another place for a ramp is looked for, and how far it may lie above or below the path, mm.
const DIRECTIONS: u32 = 16;
const LEVEL_LEAD: f64 = 1.5;
/// Within this share of its radius a cutter that does not plunge cannot cut downwards; farther out it only shaves with its
/// sides, and may come down this steeply, degrees. Common practice, no source.
const INNER: f64 = 0.5;
const SIDES_DEG: f64 = 25.0;

/// What to finish.
#[derive(Clone, Debug)]
pub struct Finishing<'a> {
    /// Cutter location over the target, no allowance (or the allowance that stays).
    pub location: &'a CutterLocation,
    /// Where the tip's axis may go.
    pub within: &'a Region,
    /// Highest tip height to finish at.
    pub top_z: f64,
    /// Lowest tip height.
    pub bottom_z: f64,
    /// Whether level ground at the lowest height is to be finished: not where that is only the end of this part of the work, or a
    /// plane that another cutter makes.
    pub finishes_bottom: bool,
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

/// The passes of a finish, laid out on the surface alone: what roughing leaves only matters for the ways between them.
#[derive(Default)]
pub struct Passes(Option<Laid>);

struct Laid {
    /// Each list is cut before the next.
    strokes: Vec<Vec<Stroke>>,
    inside: Inside,
    tip: Tip,
    worst: f64,
}

/// One spiral from the top down where each level is a single ring; on the rest level rings on steep walls, rings in plan
/// elsewhere.
///
/// # Errors
/// [`Cancelled`].
pub fn passes(what: &Finishing<'_>, work: &Work, progress: &dyn Progress) -> Result<Passes, Cancelled> {
    progress.go_on()?;
    let Some(mut ground) = Ground::new(what, work) else { return Ok(Passes::default()) };
    progress.go_on()?;
    let mut strokes: Vec<Vec<Stroke>> = Vec::new();
    let mut worst: f64 = 0.0;
    if let Some(spiral) = spiral(&ground) {
        ground.top_z = spiral.reached;
        worst = spiral.worst;
        strokes.push(vec![spiral.stroke]);
    }
    progress.go_on()?;
    if strokes.is_empty() || ground.top_z > what.bottom_z + UNCUT {
        let zone = ground.floor();
        let ((walls, worst_wall), (floors, worst_floor)) =
            rayon::join(|| walls(&ground, &zone), || floors(&ground, &zone));
        progress.go_on()?;
        strokes.extend([walls, floors]);
        worst = worst.max(worst_wall).max(worst_floor);
    }
    let Ground { inside, tip, .. } = ground;
    Ok(Passes(Some(Laid { strokes, inside, tip, worst })))
}

impl Passes {
    /// The moves that cut them out of the stock as it is now, whose tops are given (`-inf` where there is none): entries come down
    /// through air only.
    pub fn cut(&self, what: &Finishing<'_>, work: &Work, stock: &Grid<f32>) -> Finished {
        let Some(laid) = &self.0 else { return Finished::default() };
        let mut brush = Brush { laid, what, work, stock: Stock::new(stock), track: Track::new(work) };
        laid.strokes.iter().for_each(|strokes| brush.cut(strokes));
        Finished { moves: brush.track.finish(), worst_scallop: laid.worst }
    }
}

/// Cuts strokes one after the other.
struct Brush<'a> {
    laid: &'a Laid,
    what: &'a Finishing<'a>,
    work: &'a Work,
    stock: Stock,
    track: Track<'a>,
}

impl Brush<'_> {
    /// Longest way over to the next stroke along the surface, mm.
    fn reach(&self) -> f64 {
        3.0 * self.laid.tip.distance(0.0) + 1.5
    }

    fn cut(&mut self, strokes: &[Stroke]) {
        let pieces: Vec<Piece> = strokes.iter().map(|s| s.piece.clone()).collect();
        let step = self.laid.tip.distance(0.0).max(0.7 * self.laid.tip.flat);
        let parents = parents(&pieces, 1.5 * step + 0.5);
        let mut done = vec![false; pieces.len()];
        loop {
            let at = self.track.at().map(|p| DVec2::new(p[0], p[1]));
            let Some((i, begin)) = next(&pieces, &parents, &done, at) else { break };
            done[i] = true;
            let points = &strokes[i].points;
            let path = if pieces[i].closed { rotated(points, begin) } else { points.clone() };
            if let Some(over) = self.straight_down(path[0]) {
                self.sink(&path, over, pieces[i].closed);
                continue;
            }
            if !self.link(path[0]) {
                self.enter(&path, parents[i].is_empty());
            }
            for p in path {
                self.track.feed(p);
            }
        }
    }

    /// How far straight below the tip a stroke begins, as on an upright wall, where the cutter does not plunge.
    fn straight_down(&self, to: [f64; 3]) -> Option<f64> {
        let from = self.track.at()?;
        let over = from[2] - to[2];
        let same = (from[0] - to[0]).hypot(from[1] - to[1]) < STRAIGHT && from[2] < self.work.safe_z;
        (same && over > STRAIGHT && over <= self.reach() && !self.work.plunges).then_some(over)
    }

    /// Cuts a stroke from `over` above its beginning, sinking on to it along its own first stretch, which is cut again at its end.
    fn sink(&mut self, path: &[[f64; 3]], over: f64, closed: bool) {
        let fall = self.work.ramp_deg.clamp(0.5, 45.0).to_radians().tan();
        let stretch = over / fall;
        if !closed || length(path) < stretch {
            self.ramp(&self.lead(path), over);
            path.iter().for_each(|p| self.track.feed(*p));
            return;
        }
        let end = (1..path.len()).find(|&i| length(&path[..=i]) >= stretch).unwrap_or(path.len() - 1);
        let before = length(&path[..end]);
        let share = (stretch - before) / (length(&path[..=end]) - before);
        let reached: [f64; 3] = std::array::from_fn(|k| path[end - 1][k] + share * (path[end][k] - path[end - 1][k]));
        for i in 1..end {
            let [x, y, z] = path[i];
            self.track.plunge([x, y, z + over - fall * length(&path[..=i])]);
        }
        self.track.plunge(reached);
        path[end..].iter().chain(&path[1..end]).for_each(|p| self.track.feed(*p));
        self.track.feed(reached);
    }

    /// Over to the next stroke along the surface, if it is near and nothing rises in between.
    fn link(&mut self, to: [f64; 3]) -> bool {
        let Some(from) = self.track.at() else { return false };
        let (a, b) = (DVec2::new(from[0], from[1]), DVec2::new(to[0], to[1]));
        if a.distance(b) > self.reach() || from[2] >= self.work.safe_z {
            return false;
        }
        let what = self.what;
        if !resampled(&[a, b], 0.1).iter().all(|&p| self.laid.inside.contains(p)) {
            return false;
        }
        // Never below both ends: where the ground falls away in between, the way goes straight over it.
        let floor = from[2].min(to[2]).max(what.bottom_z);
        let surface = Surface { location: what.location, floor, tolerance: self.work.tolerance };
        let mut way = surface.lay(&[a, b]);
        way[0] = from;
        let top = from[2].max(to[2]) + 1.0;
        if way.iter().any(|p| p[2] > top) || way.windows(2).any(|w| is_fall(w[0], w[1])) {
            return false;
        }
        // The ends of strokes may lie a hair above the surface: go on from there, not from below them.
        for p in &way[1..way.len() - 1] {
            self.track.feed(*p);
        }
        self.track.feed(to);
        true
    }

    /// Lifted over and down: beside the path where there is room, then sideways into it; else by a ramp along the path
    /// on to what is left of the stock. `first`: no pass went before beside it.
    fn enter(&mut self, path: &[[f64; 3]], first: bool) {
        let work = self.work;
        let to = path[0];
        if let Some(p) = self.beside(path) {
            self.track.hop(p.x, p.y, (to[2] + work.approach).min(work.safe_z));
            self.track.plunge([p.x, p.y, to[2]]);
            self.track.feed(to);
            return;
        }
        let what = self.what;
        let at = DVec2::new(to[0], to[1]);
        let around = self.stock.top_near(at, what.location.reach() + 0.5).max(to[2]);
        self.track.hop(to[0], to[1], (around + work.approach).min(work.safe_z));
        // What stands at the cutter's very edge may be the wall itself, but where no pass went before it is stock. What stands
        // between two nodes of the stock's lattice is not known: a ramp in any case, unless the cutter can plunge through it.
        let reach = what.location.reach();
        let free = self.stock.top_near(at, if first { reach } else { (reach - AT_EDGE).max(0.5 * reach) });
        if work.plunges && free - to[2] <= SHALLOW * what.diameter {
            self.track.plunge(to);
        } else {
            self.ramp(&self.lead(path), free.max(to[2]) - to[2] + RAMP_START);
        }
    }

    /// A place beside the beginning of a path where the cutter meets neither stock nor surface at the path's height.
    fn beside(&self, path: &[[f64; 3]]) -> Option<DVec2> {
        let (what, to) = (self.what, path[0]);
        let at = DVec2::new(to[0], to[1]);
        let next = path.iter().map(|p| DVec2::new(p[0], p[1])).find(|p| p.distance(at) > 0.05)?;
        let across = (next - at).normalize().perp();
        let free = |p: DVec2| what.location.height_above(p.x, p.y, to[2]) <= to[2] + 1e-6;
        LEADS.iter().flat_map(|lead| [at + across * *lead, at - across * *lead]).find(|&p| {
            self.laid.inside.contains(p)
                && free(p)
                && free(p.midpoint(at))
                && self.stock.top_near(p, what.location.reach() + BETWEEN_NODES) <= to[2] + GONE
        })
    }

    /// Where to ramp on to a path, from its beginning on: over its own first stretch, or, where that is short, over the
    /// straightest way of some length on the surface around, for going to and fro over a speck only wears the cutter.
    fn lead(&self, path: &[[f64; 3]]) -> Vec<[f64; 3]> {
        let own = first_stretch(path, RAMP_STRETCH);
        if length(&own) >= SHORT_STRETCH {
            return own;
        }
        let (what, start) = (self.what, path[0]);
        let at = DVec2::new(start[0], start[1]);
        let surface = Surface { location: what.location, floor: what.bottom_z, tolerance: self.work.tolerance };
        let around = |k: u32| {
            let along = DVec2::from_angle(f64::from(k) * std::f64::consts::TAU / f64::from(DIRECTIONS));
            let mut way = surface.lay(&[at, at + along * (0.5 * RAMP_STRETCH)]);
            way[0] = start;
            let sound = |a: [f64; 3], b: [f64; 3]| {
                let level = (b[2] - start[2]).abs() <= LEVEL_LEAD && !is_fall(a, b) && !is_fall(b, a);
                level && self.laid.inside.contains(DVec2::new(b[0], b[1]))
            };
            let end = (1..way.len()).find(|&i| !sound(way[i - 1], way[i])).unwrap_or(way.len());
            way.truncate(end);
            way
        };
        let ways: Vec<_> = (0..DIRECTIONS).into_par_iter().map(around).collect();
        ways.into_iter().fold(own, |best, way| if length(&way) > length(&best) { way } else { best })
    }

    /// From `over` above the lead down to it, to and fro along it, and back to its beginning. No steeper than the work
    /// allows where the middle of the cutter comes down on stock; above that only its sides cut.
    fn ramp(&mut self, lead: &[[f64; 3]], mut over: f64) {
        let fall = |deg: f64| deg.clamp(0.5, 45.0).to_radians().tan();
        let (gentle, steep) = (fall(self.work.ramp_deg), fall(self.work.ramp_deg.max(SIDES_DEG)));
        let inner = INNER * self.what.location.reach();
        let stands = |p: &[f64; 3]| self.stock.top_near(DVec2::new(p[0], p[1]), inner) - p[2];
        let low = lead.iter().map(stands).fold(0.0, f64::max) + RAMP_START;
        over = over.max(low);
        self.track.plunge([lead[0][0], lead[0][1], lead[0][2] + over]);
        let (mut i, mut forward) = (0, true);
        while over > 0.0 && length(lead) > 1e-6 {
            forward = if i + 1 == lead.len() { false } else { forward || i == 0 };
            let next = if forward { i + 1 } else { i - 1 };
            let run = length(&[lead[i], lead[next]]);
            over = if over - run * steep >= low { over - run * steep } else { (over.min(low) - run * gentle).max(0.0) };
            self.track.plunge([lead[next][0], lead[next][1], lead[next][2] + over]);
            i = next;
        }
        for p in lead[..=i].iter().rev() {
            self.track.feed(*p);
        }
    }
}

/// Length in plan.
fn length(path: &[[f64; 3]]) -> f64 {
    path.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum()
}

/// The first corners of a path until they are `most` long.
fn first_stretch(path: &[[f64; 3]], most: f64) -> Vec<[f64; 3]> {
    let end = (1..path.len()).find(|&i| length(&path[..=i]) >= most).unwrap_or(path.len() - 1);
    path[..=end].to_vec()
}

/// A closed path begun at another of its points.
fn rotated(points: &[[f64; 3]], begin: usize) -> Vec<[f64; 3]> {
    let n = points.len() - 1;
    (0..=n).map(|k| points[(begin + k) % n]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{cutter, turned};
    use crate::moves::tests::{Carved, WORK, check_frame, feeds};
    use base::Quiet;
    use geom::DVec3;
    use trade::cutter::Form;

    struct Case<'a> {
        location: &'a CutterLocation,
        within: &'a Region,
        range: (f64, f64),
        tip_radius: f64,
        /// Height of the true surface at a radius, NaN where it is not judged.
        surface: &'a dyn Fn(f64) -> f64,
        /// Half the side of the simulated stock and its top.
        stock: (f64, f64),
    }

    /// No chord below the surface, no rapid in stock, and nothing left above the scallop.
    fn check(case: &Case<'_>) -> (Finished, Carved) {
        let (half, top) = case.stock;
        let n = (2.0 * half / 0.25) as usize + 1;
        // Roughed: half a millimetre is left on.
        let mut stock = Grid::filled(DVec2::splat(-half), 0.25, n, n, top as f32);
        for iy in 0..n {
            for ix in 0..n {
                let z = (case.surface)(stock.at(ix, iy).length());
                if z.is_finite() {
                    stock.values[iy * n + ix] = (z + 0.5).min(top) as f32;
                }
            }
        }
        let what = Finishing {
            location: case.location,
            within: case.within,
            top_z: case.range.1,
            bottom_z: case.range.0,
            finishes_bottom: true,
            scallop: 0.02,
            tip_radius: case.tip_radius,
            diameter: 6.0,
            steep_deg: 48.0,
            overlap: 3.0,
        };
        let start = std::time::Instant::now();
        let finished = passes(&what, &WORK, &Quiet).unwrap().cut(&what, &WORK, &stock);
        let rapids = finished.moves.iter().filter(|m| matches!(m, Move::Rapid { .. })).count();
        println!(
            "{:?}: {} moves, {rapids} rapids, worst {}",
            start.elapsed(),
            finished.moves.len(),
            finished.worst_scallop
        );
        check_frame(&finished.moves, &WORK);
        for (a, b) in feeds(&finished.moves, |_, _| true) {
            let (a, b) = (DVec3::from_array(a), DVec3::from_array(b));
            let n = (a.distance(b) / 0.05).ceil() as usize;
            for k in 0..=n {
                let p = a.lerp(b, k as f64 / n as f64);
                let low = case.location.height_above(p.x, p.y, p.z - 1.0);
                assert!(p.z >= low - WORK.tolerance, "gouges {} at {p} from {a} to {b}", low - p.z);
                let plan = p.truncate();
                assert!(case.within.contains(plan) || case.within.distance(plan) < 2e-6, "leaves the limit at {p}");
            }
        }
        let mut carved = Carved::new(&stock, *case.location.bare());
        carved.run(&finished.moves);
        assert!(carved.rapid_into <= 1e-5, "a rapid enters the stock by {}", carved.rapid_into);
        let (mut asked, mut most) = (0, (0.0, DVec2::ZERO));
        for iy in 0..n {
            for ix in 0..n {
                let p = stock.at(ix, iy);
                let r = p.length();
                let z = (case.surface)(r);
                let slope = ((case.surface)(r + 1e-4) - (case.surface)(r - 1e-4)) / 2e-4;
                if slope.is_finite() && slope.abs() < 8.0 {
                    asked += 1;
                    let left = (f64::from(carved.tops.values[iy * n + ix]) - z) / (1.0 + slope * slope).sqrt();
                    if left > most.0 {
                        most = (left, p);
                    }
                }
            }
        }
        println!("left at most {} at {} (r {}), of {asked}", most.0, most.1, most.1.length());
        assert!(asked > 4000);
        assert!(most.0 <= 0.02 + 0.01, "leaves {} at {}", most.0, most.1);
        // At a crease, where the lattice sees a curvature of up to 3/R, the estimate is up to twice the target.
        assert!(finished.worst_scallop <= 0.0405 && finished.worst_scallop > 0.005, "{}", finished.worst_scallop);
        (finished, carved)
    }

    #[test]
    fn a_round_hollow_with_a_ball() {
        let arc = |r: f64| -(30.0_f64 * 30.0 - r * r).sqrt() + 6.0;
        let mut profile: Vec<(f64, f64)> =
            (0..=100).map(|i| 30.0 * (0.0131 * f64::from(i)).sin()).map(|r| (r, arc(r))).collect();
        let rim = profile[100];
        profile.extend([(rim.0 + 6.0, rim.1)]);
        let mesh = turned(&profile, 240);
        let location = CutterLocation::new(&mesh, &cutter(Form::Ball, 6.0), 0.0);
        let within = Region::disc(DVec2::ZERO, 33.0, 0.01);
        let surface = |r: f64| if r < 28.6 { arc(r) } else { f64::NAN };
        check(&Case {
            location: &location,
            within: &within,
            range: (-30.0, rim.1 - 0.01),
            tip_radius: 3.0,
            surface: &surface,
            stock: (29.2, rim.1),
        });
    }

    #[test]
    fn a_dome_on_a_flange_with_a_ball() {
        let arc = |r: f64| (30.0_f64 * 30.0 - r * r).sqrt() - 12.0;
        let mut profile: Vec<(f64, f64)> =
            (0..=100).map(|i| 30.0 * (0.0116 * f64::from(i)).sin()).map(|r| (r, arc(r))).collect();
        let foot = profile[100];
        profile.extend([(foot.0 + 12.0, foot.1)]);
        let mesh = turned(&profile, 240);
        let location = CutterLocation::new(&mesh, &cutter(Form::Ball, 6.0), 0.0);
        let within = Region::rectangle(DVec2::splat(-36.0), DVec2::splat(36.0));
        // Next to the flange the ball leaves its fillet.
        let surface = |r: f64| if r < 26.0 { arc(r) } else { f64::NAN };
        check(&Case {
            location: &location,
            within: &within,
            range: (foot.1 + 0.02, 18.5),
            tip_radius: 3.0,
            surface: &surface,
            stock: (26.0, 18.6),
        });
    }

    #[test]
    fn a_ring_band_with_steep_walls_and_a_level_floor() {
        // A groove from radius 18 to 30, 8 deep, walls 4° off vertical.
        let lean = 8.0 * 4.0_f64.to_radians().tan();
        let mut profile = vec![(10.0, 0.0), (18.0, 0.0), (18.0 + lean, -8.0)];
        profile.extend((1..12).map(|i| (18.0 + lean + (12.0 - 2.0 * lean) * i as f64 / 12.0, -8.0)));
        profile.extend([(30.0 - lean, -8.0), (30.0, 0.0), (38.0, 0.0)]);
        let mesh = turned(&profile, 360);
        let band = Region::disc(DVec2::ZERO, 34.0, 0.01).minus(&Region::disc(DVec2::ZERO, 14.0, 0.01));
        for (form, tip_radius, fillet) in [(Form::Ball, 3.0, 3.1), (Form::Bull { corner_radius: 1.0 }, 1.0, 1.1)] {
            let location = CutterLocation::new(&mesh, &cutter(form, 6.0), 0.0);
            let surface = |r: f64| {
                if r > 18.0 + lean + fillet && r < 30.0 - lean - fillet { -8.0 } else { f64::NAN }
            };
            let (_, carved) = check_walls(&location, &band, tip_radius, &surface);
            // The walls, judged by how far they stand off in plan, at half depth.
            let n = carved.tops.nx;
            for iy in 0..n {
                for ix in 0..n {
                    let r = carved.tops.at(ix, iy).length();
                    let half = 18.0 + 0.5 * lean;
                    if r > half + 0.15 && r < 48.0 - half - 0.15 {
                        let top = carved.tops.values[iy * n + ix];
                        assert!(top < -2.0, "the wall stands {top} at radius {r}");
                    }
                }
            }
        }
    }

    fn check_walls(
        location: &CutterLocation,
        within: &Region,
        tip_radius: f64,
        surface: &dyn Fn(f64) -> f64,
    ) -> (Finished, Carved) {
        check(&Case { location, within, range: (-8.001, -0.05), tip_radius, surface, stock: (31.0, 0.0) })
    }
}
