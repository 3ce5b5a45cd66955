//! Machining time as the machine really moves: trapezoids under limits per axis, corner speeds from the allowed
//! deviation, look-ahead in two sweeps.
//!
//! Lengths mm, times s, speeds mm/s inside; feeds come in mm/min. Jerk is not modelled and the queue of blocks is
//! taken as unlimited: real machines are slower by 10–20 % (common practice, no source).

use crate::shelf::Machine;
use base::Source;
use std::f64::consts::PI;

/// Where the corner speed comes from; the rest is derived.
pub fn corner_source() -> Source {
    Source::Published {
        title: "T. Kunz, M. Stilman, Time-Optimal Trajectory Generation for Path Following with Bounded Acceleration and Velocity, Robotics: Science and Systems VIII (2012)"
            .to_owned(),
        place: "circular blends".to_owned(),
    }
}

/// What the machine can do, per axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Greatest cutting feed, mm/s.
    pub feed: [f64; 3],
    /// Rapid, mm/s.
    pub rapid: [f64; 3],
    /// Acceleration, mm/s².
    pub acceleration: [f64; 3],
    /// Deviation allowed at corners, mm.
    pub corner: f64,
    /// Blocks read per second.
    pub blocks_per_s: f64,
}

impl Limits {
    /// The limits of a machine on the shelf.
    pub fn of(machine: &Machine) -> Self {
        let axes = |[xy, z]: [f64; 2], scale: f64| [xy * scale, xy * scale, z * scale];
        Self {
            feed: axes(machine.feed_max, 1.0 / 60.0),
            rapid: axes(machine.rapid, 1.0 / 60.0),
            acceleration: axes(machine.acceleration, 1.0),
            corner: machine.corner,
            blocks_per_s: machine.blocks_per_s,
        }
    }
}

/// One straight or circular move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    length: f64,
    start: [f64; 3],
    end: [f64; 3],
    /// Share of the speed that each axis sees at most.
    shares: [f64; 3],
    /// Programmed feed, mm/min; `None` for a rapid.
    feed: Option<f64>,
    /// Radius of an arc.
    radius: Option<f64>,
}

impl Segment {
    /// A straight move; `feed` in mm/min, `None` for a rapid.
    pub fn line(from: [f64; 3], to: [f64; 3], feed: Option<f64>) -> Self {
        let d = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
        let length = norm(d);
        let u = if length > 0.0 { d.map(|x| x / length) } else { [0.0; 3] };
        Self { length, start: u, end: u, shares: u.map(f64::abs), feed, radius: None }
    }

    /// An arc or helix about the Z axis through `centre`; start and end at the same XY is a full turn.
    pub fn arc(from: [f64; 3], to: [f64; 3], centre: [f64; 2], counterclockwise: bool, feed: f64) -> Self {
        let sense = if counterclockwise { 1.0 } else { -1.0 };
        let arm = |p: [f64; 3]| [p[0] - centre[0], p[1] - centre[1]];
        let (a, b) = (arm(from), arm(to));
        let radius = a[0].hypot(a[1]);
        let turn = sense * (b[1].atan2(b[0]) - a[1].atan2(a[0]));
        // Below a billionth of a turn it is a whole one, as the language reads it.
        let sweep = if turn.rem_euclid(2.0 * PI) < 1e-9 { 2.0 * PI } else { turn.rem_euclid(2.0 * PI) };
        let (flat, rise) = (radius * sweep, to[2] - from[2]);
        let length = flat.hypot(rise);
        let (xy, z) = if length > 0.0 { (flat / length, rise / length) } else { (0.0, 0.0) };
        let tangent = |arm: [f64; 2]| {
            let r = arm[0].hypot(arm[1]).max(f64::MIN_POSITIVE);
            [-sense * arm[1] / r * xy, sense * arm[0] / r * xy, z]
        };
        let shares = [xy, xy, z.abs()];
        Self { length, start: tangent(a), end: tangent(b), shares, feed: Some(feed), radius: Some(radius) }
    }

    /// Length of the path, mm.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// Acceleration along the path, mm/s².
    fn acceleration(&self, limits: &Limits) -> f64 {
        along(self.shares, limits.acceleration)
    }

    /// Greatest speed on the path, mm/s.
    fn speed(&self, limits: &Limits) -> f64 {
        let axes = if self.feed.is_some() { limits.feed } else { limits.rapid };
        let programmed = self.feed.map_or(f64::INFINITY, |f| f / 60.0);
        let read = self.length * limits.blocks_per_s;
        let bend = self.radius.map_or(f64::INFINITY, |r| (self.acceleration(limits) * r).sqrt());
        programmed.min(along(self.shares, axes)).min(read).min(bend)
    }
}

fn norm(d: [f64; 3]) -> f64 {
    (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
}

/// What a limit per axis leaves along a direction: `min(l_i / |u_i|)`.
fn along(shares: [f64; 3], limits: [f64; 3]) -> f64 {
    shares.iter().zip(limits).filter(|(u, _)| **u > 0.0).map(|(u, l)| l / u).fold(f64::INFINITY, f64::min)
}

/// Time of one move of distance `d` from speed `v0` to `v1` under the limits `v` and `a`.
///
/// `v_peak = √(a d + (v0² + v1²)/2)`; a triangle below `v`, else a trapezoid. Needs `|v1² − v0²| ≤ 2 a d`.
pub fn move_s(d: f64, v0: f64, v1: f64, v: f64, a: f64) -> f64 {
    let peak = (a * d + (v0 * v0 + v1 * v1) / 2.0).sqrt();
    if peak <= v {
        return (2.0 * peak - v0 - v1) / a;
    }
    let ramps = (2.0 * v * v - v0 * v0 - v1 * v1) / (2.0 * a);
    (v - v0) / a + (v - v1) / a + (d - ramps).max(0.0) / v
}

/// Speed through a corner: a circle tangent to both legs that passes the corner at `deviation`.
///
/// `turn` is the change of direction in radians (0 straight on, π reversal), `leg` the length each leg can spare for
/// the blend. `l = min(leg, δ sin(α/2)/(1 − cos(α/2)))`, `r = l / tan(α/2)`, `v = √(a r)`.
pub fn corner_speed(turn: f64, leg: f64, deviation: f64, a: f64) -> f64 {
    let (sin, cos) = (turn / 2.0).sin_cos();
    // Straight on to a millionth of a degree or so: no corner.
    if sin < 1e-8 {
        return f64::INFINITY;
    }
    if cos < 1e-12 {
        return 0.0;
    }
    let cut_back = leg.min(deviation * (1.0 + cos) / sin);
    (a * cut_back * cos / sin).sqrt()
}

/// How a list of moves runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Timing {
    /// The whole, s.
    pub total_s: f64,
    /// Each move, s.
    pub each_s: Vec<f64>,
    /// Speed on entering each move, mm/s.
    pub entry_mm_s: Vec<f64>,
}

impl Timing {
    /// The mean feed a move really reaches, mm/min; 0 for a move without length.
    pub fn reached_mm_min(&self, i: usize, segment: &Segment) -> f64 {
        if self.each_s[i] > 0.0 { segment.length / self.each_s[i] * 60.0 } else { 0.0 }
    }
}

/// Times a list of moves that starts and ends at rest.
pub fn time(segments: &[Segment], limits: &Limits) -> Timing {
    let n = segments.len();
    let a: Vec<f64> = segments.iter().map(|s| s.acceleration(limits)).collect();
    let v: Vec<f64> = segments.iter().map(|s| s.speed(limits)).collect();
    let mut entry = junctions(segments, &v, &a, limits);
    for i in (0..n).rev() {
        entry[i] = entry[i].min(reach(entry[i + 1], a[i], segments[i].length));
    }
    for i in 0..n {
        entry[i + 1] = entry[i + 1].min(reach(entry[i], a[i], segments[i].length));
    }
    let each_s: Vec<f64> = (0..n)
        .map(|i| {
            if segments[i].length > 0.0 { move_s(segments[i].length, entry[i], entry[i + 1], v[i], a[i]) } else { 0.0 }
        })
        .collect();
    entry.truncate(n);
    Timing { total_s: each_s.iter().sum(), each_s, entry_mm_s: entry }
}

/// Speed reached from `v` over the distance `d`; a move without length changes nothing.
fn reach(v: f64, a: f64, d: f64) -> f64 {
    if d > 0.0 { (v * v + 2.0 * a * d).sqrt() } else { v }
}

/// Limits at the start of each move and at the end of the last, before any sweep.
fn junctions(segments: &[Segment], v: &[f64], a: &[f64], limits: &Limits) -> Vec<f64> {
    let mut entry = vec![f64::INFINITY; segments.len() + 1];
    entry[0] = 0.0;
    entry[segments.len()] = 0.0;
    let mut before: Option<usize> = None;
    for (i, segment) in segments.iter().enumerate() {
        if segment.length <= 0.0 {
            continue;
        }
        if let Some(b) = before {
            let left = &segments[b];
            let leg = left.length.min(segment.length) / 2.0;
            let corner = corner_speed(angle(left.end, segment.start), leg, limits.corner, a[b].min(a[i]));
            entry[i] = entry[i].min(corner).min(v[b]).min(v[i]);
        }
        before = Some(i);
    }
    entry
}

/// Angle between two directions, exact near 0 and π.
fn angle(u: [f64; 3], w: [f64; 3]) -> f64 {
    let cross = [u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]];
    norm(cross).atan2(u[0] * w[0] + u[1] * w[1] + u[2] * w[2])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    const TEST: Limits =
        Limits { feed: [50.0; 3], rapid: [50.0; 3], acceleration: [500.0; 3], corner: 0.02, blocks_per_s: 1e9 };
    const FEED: Option<f64> = Some(3000.0);

    fn polyline(points: &[[f64; 2]]) -> Vec<Segment> {
        points.windows(2).map(|w| Segment::line([w[0][0], w[0][1], 0.0], [w[1][0], w[1][1], 0.0], FEED)).collect()
    }

    #[test]
    fn single_moves_by_closed_form() {
        close(move_s(100.0, 0.0, 0.0, 50.0, 500.0), 2.100, 1e-9);
        close(move_s(4.0, 0.0, 0.0, 50.0, 500.0), 0.17889, 5e-6);
        let mut d = 0.0;
        // A trapezoid in three pieces is as long as in one.
        for (v0, v1) in [(0.0, 50.0), (50.0, 50.0), (50.0, 0.0)] {
            d += move_s(if v0 == v1 { 95.0 } else { 2.5 }, v0, v1, 50.0, 500.0);
        }
        close(d, 2.1, 1e-9);
    }

    #[test]
    fn corner_speeds_of_the_table() {
        let rows = [
            (30.0, 1.869),
            (60.0, 3.162),
            (90.0, 4.913),
            (120.0, 8.040),
            (135.0, 11.017),
            (150.0, 16.837),
            (170.0, 51.17),
            (175.0, 102.45),
        ];
        for (interior, want) in rows {
            close(
                corner_speed((180.0_f64 - interior).to_radians(), 1e9, 0.02, 500.0),
                want,
                if want < 50.0 { 6e-4 } else { 6e-3 },
            );
        }
        assert_eq!(corner_speed(PI, 10.0, 0.02, 500.0), 0.0);
        assert_eq!(corner_speed(0.0, 10.0, 0.02, 500.0), f64::INFINITY);
        // Short legs set the blend, not the deviation: r = l / tan(α/2).
        close(corner_speed(PI / 2.0, 0.01, 0.02, 500.0), (500.0_f64 * 0.01).sqrt(), 1e-9);
    }

    #[test]
    fn a_square_by_closed_form() {
        let square = polyline(&[[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 50.0], [0.0, 0.0]]);
        let stops = Limits { corner: 0.0, ..TEST };
        close(time(&square, &stops).total_s, 4.400, 1e-9);
        close(time(&square, &TEST).total_s, 4.34394, 5e-6);
    }

    fn circle(chords: u32) -> Vec<Segment> {
        let points: Vec<[f64; 2]> = (0..=chords)
            .map(|i| {
                let t = 2.0 * PI * f64::from(i) / f64::from(chords);
                [25.0 * t.cos(), 25.0 * t.sin()]
            })
            .collect();
        polyline(&points)
    }

    /// 3.2406 s holds for an acceleration of 500 in every direction; limits per axis are a little quicker on slants.
    #[test]
    fn a_circle_of_chords_and_a_true_one() {
        close(time(&circle(72), &TEST).total_s, 3.2406, 6e-4);
        let arc = [Segment::arc([25.0, 0.0, 0.0], [25.0, 0.0, 0.0], [0.0, 0.0], true, 3000.0)];
        close(time(&arc, &TEST).total_s, 3.2416, 5e-5);
        let stops = time(&circle(72), &Limits { corner: 0.0, ..TEST }).total_s;
        // 72 triangles of 2 √(d/a), a little quicker on slants.
        assert!(stops < 9.5105 && stops > 0.85 * 9.5105, "{stops}");
        // v² ≤ a r on a small arc.
        let small = [Segment::arc([1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0], true, 3000.0)];
        close(small[0].speed(&TEST), 500.0_f64.sqrt(), 1e-9);
    }

    /// Arc lengths of vectors worked from NISTIR 6556, section 3.5.
    #[test]
    fn arcs_have_the_right_length() {
        close(Segment::arc([7.0, 7.0, 9.0], [10.0, 16.0, 9.0], [10.0, 11.0], false, 600.0).length(), 12.4905, 5e-5);
        close(Segment::arc([0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [5.0, -3.31662], false, 600.0).length(), 11.82133, 2e-5);
        let helix = Segment::arc([5.0, 0.0, 0.0], [5.0, 0.0, -1.0], [0.0, 0.0], true, 600.0);
        close(helix.length(), 31.4318, 5e-5);
        close(helix.length() / 600.0 * 60.0, 3.1432, 5e-5);
    }

    #[test]
    fn axes_blocks_and_rapids_limit() {
        let limits = Limits {
            feed: [100.0, 100.0, 10.0],
            rapid: [200.0, 200.0, 40.0],
            acceleration: [500.0, 500.0, 100.0],
            corner: 0.02,
            blocks_per_s: 100.0,
        };
        let plunge = Segment::line([0.0; 3], [0.0, 0.0, -30.0], Some(6000.0));
        close(plunge.speed(&limits), 10.0, 1e-12);
        close(plunge.acceleration(&limits), 100.0, 1e-12);
        let slant = Segment::line([0.0; 3], [30.0, 40.0, 0.0], None);
        close(slant.speed(&limits), 250.0, 1e-9);
        close(Segment::line([0.0; 3], [0.1, 0.0, 0.0], Some(6000.0)).speed(&limits), 10.0, 1e-9);
        assert_eq!(time(&[], &limits).total_s, 0.0);
    }

    #[test]
    fn moves_without_length_do_nothing() {
        let path = [[0.0, 0.0], [20.0, 0.0], [40.0, 0.0]];
        let mut with = polyline(&path);
        with.insert(1, Segment::line([20.0, 0.0, 0.0], [20.0, 0.0, 0.0], FEED));
        close(time(&with, &TEST).total_s, time(&polyline(&path), &TEST).total_s, 1e-12);
    }

    /// 5 m/min at 300 mm/s² needs 11.6 mm.
    #[test]
    fn run_up_to_a_feed() {
        let v: f64 = 5000.0 / 60.0;
        close(v * v / (2.0 * 300.0), 11.6, 0.05);
        let segment = Segment::line([0.0; 3], [2.0, 0.0, 0.0], Some(5000.0));
        let limits = Limits { feed: [100.0; 3], acceleration: [300.0; 3], ..TEST };
        let timing = time(&[segment], &limits);
        close(timing.reached_mm_min(0, &segment), 2.0 / (2.0 * (2.0_f64 / 300.0).sqrt()) * 60.0, 1e-6);
    }

    /// Walks the path in small steps of time: speeds up whenever it could still brake for every limit ahead.
    fn step_by_step(segments: &[Segment], limits: &Limits, dt: f64) -> f64 {
        let mut caps = Vec::new();
        let mut at = 0.0;
        let mut before: Option<&Segment> = None;
        for s in segments {
            if let Some(b) = before {
                let turn = angle(b.end, s.start);
                let a = b.acceleration(limits).min(s.acceleration(limits));
                caps.push((at, corner_speed(turn, b.length.min(s.length) / 2.0, limits.corner, a)));
            }
            at += s.length;
            before = Some(s);
        }
        caps.push((at, 0.0));
        let a = limits.acceleration[0];
        let (mut s, mut v, mut t) = (0.0, 0.0, 0.0);
        while s < at - 1e-6 && t < 1e4 {
            let may = |v: f64, s: f64| {
                caps.iter().filter(|(p, _)| *p >= s).all(|(p, cap)| v * v <= cap * cap + 2.0 * a * (p - s))
            };
            let faster = (v + a * dt).min(50.0);
            let slower = (v - a * dt).max(1e-3 * a * dt);
            let next = if may(faster, s + faster * dt) {
                faster
            } else if may(v, s + v * dt) {
                v
            } else {
                slower
            };
            s += (v + next) / 2.0 * dt;
            v = next.max(0.02);
            t += dt;
        }
        t
    }

    #[test]
    fn agrees_with_integration_step_by_step() {
        // A wandering path of 40 moves from a fixed recurrence, along the axes so that both models share one acceleration.
        let mut points = vec![[0.0, 0.0]];
        let mut seed = 7_u32;
        for i in 0..40 {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let length = 0.5 + f64::from(seed >> 16) / 65_536.0 * 12.0;
            let last = points[points.len() - 1];
            points.push(if i % 3 == 0 { [last[0], last[1] + length] } else { [last[0] + length, last[1]] });
        }
        let path = polyline(&points);
        let ours = time(&path, &TEST).total_s;
        let theirs = step_by_step(&path, &TEST, 5e-5);
        close(ours / theirs, 1.0, 0.02);
    }

    proptest::proptest! {
        #[test]
        fn speeds_are_always_reachable(points in proptest::collection::vec((-40.0..40.0f64, -40.0..40.0f64), 2..30)) {
            let points: Vec<[f64; 2]> = points.into_iter().map(|(x, y)| [x, y]).collect();
            let path = polyline(&points);
            let timing = time(&path, &TEST);
            for (i, segment) in path.iter().enumerate() {
                let (v0, v1) = (timing.entry_mm_s[i], timing.entry_mm_s.get(i + 1).copied().unwrap_or(0.0));
                let room = 2.0 * segment.acceleration(&TEST) * segment.length;
                assert!((v1 * v1 - v0 * v0).abs() <= room * (1.0 + 1e-9) + 1e-9);
                assert!(timing.each_s[i] >= segment.length / segment.speed(&TEST).max(1e-9) * (1.0 - 1e-9));
            }
        }
    }
}
