//! Lines and arcs (helices too) fitted through paths of many short moves, so that programs are short and motion smooth.
//!
//! From each point on, the longest stretch is looked for that one line or one arc through its two ends follows within
//! the tolerance. A surface of flat facets makes polygons of what is round: an arc through their corners leaves the
//! middles of their sides, so those may lie twice as far off as the corners. For an arc through two given ends the
//! curvatures that pass a third point within the tolerance are an interval; if the intervals of all points share values,
//! the arc of their middle is tried on points and sides. Circle through two points and a third: curvature =
//! 2 sin(angle at the third) / chord (the extended law of sines).

use crate::Move;
use crate::moves::off_chord;
use geom::{DVec2, DVec3};

/// Most of a turn that one arc takes, radians: ends nearer to each other would leave its centre ill-determined.
const SWEEP: f64 = 1.75;
/// Greatest radius, mm: flatter arcs are written as lines.
const LARGEST: f64 = 900.0;
/// Least radius, mm.
const SMALLEST: f64 = 0.3;
/// An arc takes the place of at least so many moves.
const WORTH: usize = 3;
/// Most moves that one line or arc takes the place of.
const MOST: usize = 4000;

/// The moves with runs of short straight ones made lines and arcs. Corners of the path keep within `tolerance` mm of them,
/// the sides between corners within twice that.
pub fn fitted(moves: &[Move], tolerance: f64) -> Vec<Move> {
    let mut out: Vec<Move> = Vec::with_capacity(moves.len() / 4 + 8);
    let mut at: Option<[f64; 3]> = None;
    let mut i = 0;
    while i < moves.len() {
        let (Some(from), Move::Feed { feed, .. }) = (at, moves[i]) else {
            out.push(moves[i]);
            at = Some(moves[i].to());
            i += 1;
            continue;
        };
        let same = |m: &&Move| matches!(m, Move::Feed { feed: f, .. } if *f == feed);
        let run: Vec<[f64; 3]> =
            std::iter::once(from).chain(moves[i..].iter().take_while(same).map(Move::to)).collect();
        i += run.len() - 1;
        at = run.last().copied();
        fit_run(&run, feed, tolerance, &mut out);
    }
    out
}

/// Fits one run of points at one feed.
fn fit_run(points: &[[f64; 3]], feed: f64, tolerance: f64, out: &mut Vec<Move>) {
    let mut a = 0;
    while a + 1 < points.len() {
        let line = longest(points, a, 2, |b| is_line(&points[a..=b], tolerance).then_some(()));
        let arc = longest(points, a, WORTH, |b| arc_through(&points[a..=b], tolerance));
        a = match (line, arc) {
            (line, Some((b, arc))) if b - a >= WORTH && line.is_none_or(|l| b > l.0 + 1) => {
                out.push(Move::Arc { to: points[b], centre: arc.centre.to_array(), ccw: arc.ccw, feed });
                b
            }
            (line, _) => {
                let b = line.map_or(a + 1, |l| l.0);
                out.push(Move::Feed { to: points[b], feed });
                b
            }
        };
    }
}

/// The farthest end for which `fits` answers, by doubling from `first` moves on and halving.
fn longest<T>(points: &[[f64; 3]], a: usize, first: usize, fits: impl Fn(usize) -> Option<T>) -> Option<(usize, T)> {
    let last = (a + MOST).min(points.len() - 1);
    let mut best = None;
    let (mut step, mut none) = (first, last + 1);
    while a + step <= last {
        match fits(a + step) {
            Some(found) => best = Some((a + step, found)),
            None => {
                none = a + step;
                break;
            }
        }
        step *= 2;
    }
    let mut low = best.as_ref().map_or(a + 1, |b| b.0);
    while low + 1 < none {
        let middle = low.midpoint(none);
        match fits(middle) {
            Some(found) => {
                best = Some((middle, found));
                low = middle;
            }
            None => none = middle,
        }
    }
    best
}

/// Whether all points lie within the tolerance of the chord, and come one after the other along it.
fn is_line(points: &[[f64; 3]], tolerance: f64) -> bool {
    let (a, b) = (points[0], points[points.len() - 1]);
    let start = DVec3::from_array(a);
    let along = DVec3::from_array(b) - start;
    let length2 = along.length_squared();
    if length2 == 0.0 {
        return false;
    }
    let mut before = 0.0;
    points[1..points.len() - 1].iter().all(|&p| {
        let t = (DVec3::from_array(p) - start).dot(along) / length2;
        let forward = t >= before && t <= 1.0;
        before = t;
        forward && off_chord(p, a, b) <= tolerance
    })
}

/// An arc through the ends of a stretch.
struct Fit {
    centre: DVec2,
    ccw: bool,
}

/// The arc (a helix where heights differ) that follows the stretch within the tolerance, if there is one.
fn arc_through(points: &[[f64; 3]], tolerance: f64) -> Option<Fit> {
    let n = points.len() - 1;
    let plan = |i: usize| DVec2::new(points[i][0], points[i][1]);
    let (a, b) = (plan(0), plan(n));
    let chord = b - a;
    let length = chord.length();
    if n < WORTH || length < 1e-6 {
        return None;
    }
    let across = chord.perp() / length;
    // Less for the plane alone, so that plane and height together stay within the whole.
    let near = 0.9 * tolerance;
    let (mut low, mut high) = (-2.0 / length, 2.0 / length);
    let mut narrow = |p: DVec2| {
        let (k0, k1) = (curvature(a, b, p - across * near), curvature(a, b, p + across * near));
        low = low.max(k0.min(k1));
        high = high.min(k0.max(k1));
    };
    for i in 1..n {
        narrow(plan(i));
    }
    if low > high {
        return None;
    }
    let k = 0.5 * (low + high);
    let radius = 1.0 / k.abs();
    if !(SMALLEST..=LARGEST).contains(&radius) {
        return None;
    }
    // Points to the right of the chord (k < 0 by our sign) belong to a counter-clockwise arc.
    let ccw = k < 0.0;
    let rise = (radius * radius - 0.25 * length * length).max(0.0).sqrt();
    let centre = a.midpoint(b) + across * if ccw { rise } else { -rise };
    let arc = Fit { centre, ccw };
    arc.follows(points, radius, tolerance, near).then_some(arc)
}

/// Signed curvature of the circle through `a`, `b` and `p`: above 0 where `p` lies to the left of the way from a to b.
fn curvature(a: DVec2, b: DVec2, p: DVec2) -> f64 {
    let (u, v) = (p - a, b - p);
    let product = u.length() * v.length() * a.distance(b);
    if product > 0.0 { -2.0 * u.perp_dot(v) / product } else { 0.0 }
}

impl Fit {
    /// Checks every point, and every side at its place nearest to the centre, in plane and height, and the sense.
    fn follows(&self, points: &[[f64; 3]], radius: f64, tolerance: f64, near: f64) -> bool {
        let n = points.len() - 1;
        let arm = |i: usize| DVec2::new(points[i][0], points[i][1]) - self.centre;
        let sign = if self.ccw { 1.0 } else { -1.0 };
        let mut angles = vec![0.0; n + 1];
        for i in 1..=n {
            let step = sign * arm(i - 1).angle_to(arm(i));
            if !(-1e-12..1.0).contains(&step) {
                return false;
            }
            angles[i] = angles[i - 1] + step;
        }
        let sweep = angles[n];
        if !(1e-9..=SWEEP).contains(&sweep) {
            return false;
        }
        let rise = points[n][2] - points[0][2];
        (0..=n).all(|i| {
            let off = arm(i).length() - radius;
            let high = points[i][2] - points[0][2] - rise * angles[i] / sweep;
            off.abs() <= near && off.hypot(high) <= tolerance
        }) && (1..=n).all(|i| {
            let (p, q) = (arm(i - 1), arm(i));
            let side = q - p;
            let t = (-p.dot(side) / side.length_squared().max(1e-18)).clamp(0.0, 1.0);
            ((p + side * t).length() - radius).abs() <= 2.0 * tolerance
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const TOLERANCE: f64 = 0.005;

    fn run_of(points: &[[f64; 3]]) -> Vec<Move> {
        let mut moves = vec![Move::Rapid { to: points[0] }];
        moves.extend(points[1..].iter().map(|&to| Move::Feed { to, feed: 1000.0 }));
        moves
    }

    /// The fitted path sampled finely.
    fn samples(moves: &[Move]) -> Vec<DVec3> {
        let mut at = DVec3::from_array(moves[0].to());
        let mut out = vec![at];
        for m in &moves[1..] {
            let to = DVec3::from_array(m.to());
            match *m {
                Move::Arc { centre, ccw, .. } => {
                    let c = DVec2::from_array(centre);
                    let (u, v) = (at.truncate() - c, to.truncate() - c);
                    let turn = u.angle_to(v);
                    let sweep = if ccw { turn.rem_euclid(TAU) } else { -(-turn).rem_euclid(TAU) };
                    for k in 1..=200 {
                        let t = f64::from(k) / 200.0;
                        let p =
                            c + DVec2::from_angle(sweep * t).rotate(u) * (1.0 + (v.length() / u.length() - 1.0) * t);
                        out.push(DVec3::new(p.x, p.y, at.z + (to.z - at.z) * t));
                    }
                }
                _ => out.extend((1..=200).map(|k| at.lerp(to, f64::from(k) / 200.0))),
            }
            at = to;
        }
        out
    }

    /// Both ways: no sample of the fit far from the path, no corner of the path far from the fit.
    fn check(points: &[[f64; 3]], most: usize) {
        let moves = run_of(points);
        let fit = fitted(&moves, TOLERANCE);
        assert!(fit.len() <= most, "{} moves", fit.len());
        assert_eq!(fit.last().unwrap().to(), *points.last().unwrap());
        let far = |p: DVec3, path: &[DVec3]| {
            path.windows(2).map(|s| geom::distance::point_segment(p, s[0], s[1])).fold(f64::INFINITY, f64::min)
        };
        let path: Vec<DVec3> = points.iter().map(|p| DVec3::from_array(*p)).collect();
        let fine = samples(&fit);
        for &p in &fine {
            assert!(far(p, &path) <= 2.0 * TOLERANCE + 1e-9, "the fit leaves the path by {} at {p}", far(p, &path));
        }
        for &p in &path {
            assert!(far(p, &fine) <= TOLERANCE + 1e-4, "the path leaves the fit by {} at {p}", far(p, &fine));
        }
    }

    /// A polygon of 220 sides is what a circle of 95 mm becomes at a chord tolerance of 0.01 mm.
    #[test]
    fn a_faceted_circle_becomes_four_arcs() {
        let r = 95.0;
        let points: Vec<[f64; 3]> = (0..=220)
            .map(|i| {
                let a = TAU * f64::from(i) / 220.0;
                [r * a.cos(), r * a.sin(), -3.0]
            })
            .collect();
        check(&points, 6);
    }

    #[test]
    fn a_spiral_down_a_cone_becomes_helical_arcs() {
        let points: Vec<[f64; 3]> = (0..=1080)
            .map(|i| {
                let a = -TAU * f64::from(i) / 360.0;
                let r = 60.0 + 0.6 * a / TAU;
                [r * a.cos(), r * a.sin(), 0.4 * a / TAU]
            })
            .collect();
        check(&points, 50);
    }

    #[test]
    fn a_square_stays_a_square_and_waves_stay_waves() {
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0], [0.0, 0.0]];
        let points: Vec<[f64; 3]> = square
            .windows(2)
            .flat_map(|s| (0..10).map(move |k| k as f64 / 10.0).map(move |t| (s, t)))
            .map(|(s, t)| [s[0][0] + (s[1][0] - s[0][0]) * t, s[0][1] + (s[1][1] - s[0][1]) * t, 0.0])
            .chain([[0.0, 0.0, 0.0]])
            .collect();
        check(&points, 5);
        let waves: Vec<[f64; 3]> = (0..600)
            .map(|i| [0.1 * f64::from(i), (0.13 * f64::from(i)).sin(), 0.2 * (0.05 * f64::from(i)).cos()])
            .collect();
        check(&waves, 140);
    }

    #[test]
    fn feeds_and_rapids_part_the_runs() {
        let moves = vec![
            Move::Rapid { to: [0.0, 0.0, 5.0] },
            Move::Feed { to: [0.0, 0.0, 0.0], feed: 300.0 },
            Move::Feed { to: [1.0, 0.0, 0.0], feed: 900.0 },
            Move::Feed { to: [2.0, 0.0, 0.0], feed: 900.0 },
            Move::Rapid { to: [2.0, 0.0, 5.0] },
        ];
        assert_eq!(fitted(&moves, TOLERANCE), vec![moves[0], moves[1], moves[3], moves[4]]);
    }
}
