//! The exact lower envelope of a cutter swept along one straight move.
//!
//! In the vertical plane of the move let a point of the plan lie `a` along the move and `b` to its side. With the tip at
//! distance `t` along the move the underside stands at `z0 + m·t + c(√((a − t)² + b²))` over the point, `c` the height
//! of the underside above the tip, `m` the slope. `c` is convex and never falls with the distance from the axis, so the
//! height is convex in `t` and has one least value: at `t = a + lead(b)`, clamped to the move. `lead` is known in closed
//! form for every tip but the bull nose on a slope, where one equation is solved by Newton's rule. Nothing is sampled.
//!
//! All lengths in mm, `f64`; where the last step is a root it is taken in `f32` of a radicand held in `f64`, so that
//! heights err by less than 1e-7 of the radius, steep walls included. (Roots in `f64` took three times as long.)

use crate::lids::{Plane, SIDE};
use trade::cutter::{Form, Solid};

/// Below this length in plan a move counts as vertical, mm: far under any column, far above rounding.
const VERTICAL: f64 = 1e-9;

/// A straight move of the tip, seen from its start.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Track {
    /// Start in plan.
    pub(crate) x0: f64,
    pub(crate) y0: f64,
    /// Height at the start; the lower end of a vertical move.
    pub(crate) z0: f64,
    /// Direction in plan.
    pub(crate) ux: f64,
    pub(crate) uy: f64,
    /// Length in plan.
    pub(crate) length: f64,
    /// Rise per length in plan.
    pub(crate) slope: f64,
}

impl Track {
    pub(crate) fn new(from: [f64; 3], to: [f64; 3]) -> Self {
        let (dx, dy, dz) = (to[0] - from[0], to[1] - from[1], to[2] - from[2]);
        let length = dx.hypot(dy);
        let [x0, y0, z0] = from;
        if length < VERTICAL {
            return Self { x0, y0, z0: z0.min(to[2]), ux: 1.0, uy: 0.0, length: 0.0, slope: 0.0 };
        }
        Self { x0, y0, z0, ux: dx / length, uy: dy / length, length, slope: dz / length }
    }

    /// Lowest point of the tip.
    pub(crate) fn lowest(&self) -> f64 {
        self.z0 + (self.slope * self.length).min(0.0)
    }

    /// Coordinates along and across the move of a point seen from its start.
    pub(crate) fn local(&self, x: f64, y: f64) -> (f64, f64) {
        (x * self.ux + y * self.uy, y * self.ux - x * self.uy)
    }

    /// Least and greatest y of everything within `reach` of the move, seen from its start.
    pub(crate) fn rows(&self, reach: f64) -> (f64, f64) {
        let end = self.uy * self.length;
        (end.min(0.0) - reach, end.max(0.0) + reach)
    }
}

/// The underside of a cutter's tip, ready for moves of one slope.
pub(crate) trait Underside: Copy + Sync {
    /// Whether a root is left to be taken at rest.
    const ROOT_AT_REST: bool = false;
    /// Whether the second of `parts` is below 0 just where the cutter does not come.
    const TELLS_REACH: bool = false;

    /// Cutting radius.
    fn radius(&self) -> f64;

    /// Height of the underside above the tip at the squared distance `r2` from the axis.
    fn rise(&self, r2: f64) -> f64;

    /// How steeply the underside rises at the distance `r` from the axis, below the cutting radius.
    fn steepness(&self, r: f64) -> f64;

    /// How far beyond the point, along the move, the axis stands when the underside is lowest over it, before clamping;
    /// `b2` is the squared distance from the line of the move, never above the squared radius.
    fn lead(&self, b2: f64) -> f64;

    /// Place along the move, within 0 and `length`, at which the underside is lowest over the point.
    #[inline(always)]
    fn moment(&self, a: f64, b2: f64, length: f64) -> f64 {
        clamp(a + self.lead(b2), length)
    }

    /// The lowest height over the point during the whole move, but for a last root: `finish` of these two, the second
    /// turned into its root. Only asked where the cutter comes.
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        let t = self.moment(a, b2, track.length);
        (track.z0 + track.slope * t + self.rise((a - t) * (a - t) + b2), 0.0)
    }

    /// See `parts`.
    #[inline(always)]
    fn finish(&self, _track: &Track, start: f32, _root: f32) -> f32 {
        start
    }

    /// `parts` with the tip at rest at height `z` and the squared distance `r2` from the point.
    #[inline(always)]
    fn parts_at_rest(&self, z: f64, r2: f64) -> (f64, f64) {
        (z + self.rise(r2), 0.0)
    }

    /// Greatest `lead`, or more.
    fn greatest_lead(&self) -> f64;

    /// Distance from the axis at which a plane that rises by `steep` away from it touches the underside.
    fn touch(&self, steep: f64) -> f64;
}

/// Sine of the angle of a rise.
fn sine(steep: f64) -> f64 {
    steep / (1.0 + steep * steep).sqrt()
}

/// Plain comparisons, which compile to one instruction each.
#[inline(always)]
pub(crate) fn clamp(t: f64, length: f64) -> f64 {
    let t = if t > 0.0 { t } else { 0.0 };
    if t < length { t } else { length }
}

#[inline(always)]
fn root(v: f64) -> f64 {
    (if v > 0.0 { v } else { 0.0 }).sqrt()
}

/// Square that keeps the sign: it orders as the value itself does.
#[inline(always)]
fn signed_square(v: f64) -> f64 {
    v * v.abs()
}

/// An underside that is quickly told at one moment, less quickly at the best.
trait Still: Underside {
    /// With the axis `d` beyond a point, `√b2` to its side: the height of the underside over the point, and how that of
    /// the moving cutter changes as it goes on (only the sign counts).
    fn still(&self, d: f64, b2: f64) -> (f64, f64);
}

/// `parts` for such an underside: most points are lowest at an end of the move; only the others need `lead`.
#[inline(always)]
fn by_ends<U: Still>(underside: &U, track: &Track, a: f64, b2: f64) -> (f64, f64) {
    let (rise, change) = underside.still(track.length - a, b2);
    if change <= 0.0 {
        return (track.z0 + track.slope * track.length + rise, 0.0);
    }
    let (rise, change) = underside.still(-a, b2);
    if change >= 0.0 {
        return (track.z0 + rise, 0.0);
    }
    let t = underside.moment(a, b2, track.length);
    (track.z0 + track.slope * t + underside.rise((a - t) * (a - t) + b2), 0.0)
}

/// Square end, `slope` other than 0.
#[derive(Clone, Copy)]
pub(crate) struct Flat {
    radius: f64,
    /// −1 rising, +1 falling: the trailing or the leading rim is the lowest moment.
    sense: f64,
}

impl Underside for Flat {
    fn radius(&self) -> f64 {
        self.radius
    }
    #[inline(always)]
    fn rise(&self, _r2: f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn steepness(&self, _r: f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn lead(&self, b2: f64) -> f64 {
        self.sense * root(self.radius * self.radius - b2)
    }
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        (track.slope * a, track.slope * track.slope * (self.radius * self.radius - b2))
    }
    /// Rising or falling, the half chord lowers the tip; the ends of the move bound it.
    #[inline(always)]
    fn finish(&self, track: &Track, start: f32, root: f32) -> f32 {
        let end = (track.slope * track.length) as f32;
        let (least, most) = if end < 0.0 { (end, 0.0) } else { (0.0, end) };
        let z = start - root;
        let z = if z > least { z } else { least };
        (track.z0 as f32) + if z < most { z } else { most }
    }
    fn greatest_lead(&self) -> f64 {
        self.radius * self.sense.max(0.0)
    }
    fn touch(&self, steep: f64) -> f64 {
        if steep > 0.0 { self.radius } else { 0.0 }
    }
}

/// Ball nose.
#[derive(Clone, Copy)]
pub(crate) struct Ball {
    radius: f64,
    /// −m/√(1 + m²): sine of the fall.
    sine: f64,
}

impl Underside for Ball {
    const ROOT_AT_REST: bool = true;
    /// Where the disc passes over a point at all, the best moment is one at which it does.
    const TELLS_REACH: bool = true;

    fn radius(&self) -> f64 {
        self.radius
    }
    #[inline(always)]
    fn rise(&self, r2: f64) -> f64 {
        self.radius - root(self.radius * self.radius - r2)
    }
    #[inline(always)]
    fn steepness(&self, r: f64) -> f64 {
        r / root(self.radius * self.radius - r * r)
    }
    #[inline(always)]
    fn lead(&self, b2: f64) -> f64 {
        self.sine * root(self.radius * self.radius - b2)
    }
    /// Which of its three places the moment has is told by squares, so that one root is enough: between the ends the
    /// envelope is the inclined cylinder `z0 + m·a + R − √((R² − b²)(1 + m²))`, at them the ball itself.
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        let h2 = self.radius * self.radius - b2;
        let limit = -signed_square(self.sine) * h2;
        let at_start = signed_square(a) <= limit;
        let at_end = signed_square(a - track.length) >= limit;
        let t = if at_end { track.length } else { a };
        let t = if at_start { 0.0 } else { t };
        let stretch = 1.0 + track.slope * track.slope;
        let stretch = if at_start | at_end { 1.0 } else { stretch };
        let away = a - t;
        (track.z0 + self.radius + track.slope * t, (h2 - away * away) * stretch)
    }
    #[inline(always)]
    fn finish(&self, _track: &Track, start: f32, root: f32) -> f32 {
        start - root
    }
    #[inline(always)]
    fn parts_at_rest(&self, z: f64, r2: f64) -> (f64, f64) {
        (z + self.radius, self.radius * self.radius - r2)
    }
    fn greatest_lead(&self) -> f64 {
        self.radius * self.sine.max(0.0)
    }
    fn touch(&self, steep: f64) -> f64 {
        self.radius * sine(steep)
    }
}

/// Bull nose, `slope` other than 0.
#[derive(Clone, Copy)]
pub(crate) struct Bull {
    radius: f64,
    corner: f64,
    slope: f64,
}

impl Bull {
    fn flat(&self) -> f64 {
        self.radius - self.corner
    }
}

/// Steps of Newton's rule after which the bull nose stops in any case; it usually needs five.
const MOST_STEPS: usize = 60;

/// Relative step at which it stops. The envelope is flat about its least value, so heights err by far less than 1e-6.
const SETTLED: f64 = 1e-9;

impl Underside for Bull {
    fn radius(&self) -> f64 {
        self.radius
    }
    #[inline(always)]
    fn rise(&self, r2: f64) -> f64 {
        let u = r2.sqrt() - self.flat();
        let u = if u > 0.0 { u } else { 0.0 };
        self.corner - root(self.corner * self.corner - u * u)
    }
    #[inline(always)]
    fn steepness(&self, r: f64) -> f64 {
        let u = r - self.flat();
        if u > 0.0 { u / root(self.corner * self.corner - u * u) } else { 0.0 }
    }
    /// With φ the angle of the contact on the corner's arc, `r = f + ρ·sin φ` (f the flat's radius, ρ the corner's) and
    /// `tan φ · lead/r = |m|`. With `w = cot²φ` this is `F(w) = (f + ρ/√(1+w))²·(1 − m²w) − b² = 0`; F falls and is
    /// convex, so Newton's rule from the left of its root goes straight to it.
    fn lead(&self, b2: f64) -> f64 {
        let (m2, flat) = (self.slope * self.slope, self.flat());
        let mut w = if b2 < flat * flat { (1.0 - b2 / (flat * flat)) / m2 } else { 0.0 };
        for _ in 0..MOST_STEPS {
            let q = 1.0 / (1.0 + w);
            let s = self.corner * q.sqrt();
            let (r, left) = (flat + s, 1.0 - m2 * w);
            let value = r * r * left - b2;
            let step = value / (r * s * q * left + r * r * m2);
            if !(value > 0.0 && step > SETTLED * w) {
                break;
            }
            w += step;
        }
        let r = flat + self.corner / (1.0 + w).sqrt();
        -self.slope * r * w.sqrt()
    }
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        by_ends(self, track, a, b2)
    }
    fn greatest_lead(&self) -> f64 {
        if self.slope < 0.0 { self.radius } else { 0.0 }
    }
    fn touch(&self, steep: f64) -> f64 {
        self.flat() + self.corner * sine(steep)
    }
}

impl Still for Bull {
    #[inline(always)]
    fn still(&self, d: f64, b2: f64) -> (f64, f64) {
        let r = (d * d + b2).sqrt();
        let u = r - self.flat();
        let u = if u > 0.0 { u } else { 0.0 };
        let q = root(self.corner * self.corner - u * u);
        (self.corner - q, self.slope * r * q + u * d)
    }
}

/// A tip that goes over into a cone: pointed, with a flat at the tip, or with a ball; `slope` other than 0.
#[derive(Clone, Copy)]
pub(crate) struct Cone {
    radius: f64,
    /// Radius of the ball; 0 for a flat or a point.
    ball: f64,
    /// Distance from the axis at which the cone begins, and its height there.
    start: f64,
    start_rise: f64,
    /// Rise of the cone per distance from the axis.
    steep: f64,
    slope: f64,
    /// |m|/√(k² − m²); infinite if the move is steeper than the cone.
    lag: f64,
}

impl Cone {
    fn new(radius: f64, ball: f64, half_angle_deg: f64, flat: f64, slope: f64) -> Self {
        let (sin, cos) = half_angle_deg.to_radians().sin_cos();
        let steep = cos / sin;
        let over = steep * steep - slope * slope;
        let lag = if over > 0.0 { slope.abs() / over.sqrt() } else { f64::INFINITY };
        let (start, start_rise) = if ball > 0.0 { (ball * cos, ball * (1.0 - sin)) } else { (flat, 0.0) };
        Self { radius, ball, start, start_rise, steep, slope, lag }
    }
}

impl Underside for Cone {
    fn radius(&self) -> f64 {
        self.radius
    }
    #[inline(always)]
    fn rise(&self, r2: f64) -> f64 {
        let r = r2.sqrt();
        let tip = if self.ball > 0.0 { self.ball - root(self.ball * self.ball - r2) } else { 0.0 };
        if r > self.start { self.start_rise + (r - self.start) * self.steep } else { tip }
    }
    #[inline(always)]
    fn steepness(&self, r: f64) -> f64 {
        if r > self.start {
            self.steep
        } else if self.ball > 0.0 {
            r / root(self.ball * self.ball - r * r)
        } else {
            0.0
        }
    }
    #[inline(always)]
    fn lead(&self, b2: f64) -> f64 {
        let most = root(self.radius * self.radius - b2);
        let at_start = root(self.start * self.start - b2);
        let on_ball = self.slope.abs() / (1.0 + self.slope * self.slope).sqrt() * root(self.ball * self.ball - b2);
        // Where the whole cone falls slower than the move, its rim is lowest last (0 · ∞ on the axis is that, too).
        let on_cone = if self.lag.is_finite() { self.lag * b2.sqrt() } else { most };
        let far = if self.ball > 0.0 && on_ball < at_start {
            on_ball
        } else if on_cone > at_start {
            on_cone
        } else {
            at_start
        };
        -self.slope.signum() * if far < most { far } else { most }
    }
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        by_ends(self, track, a, b2)
    }
    fn greatest_lead(&self) -> f64 {
        if self.slope >= 0.0 {
            return 0.0;
        }
        let far = (self.lag * self.radius).max(self.start);
        if far < self.radius { far } else { self.radius }
    }
    fn touch(&self, steep: f64) -> f64 {
        if steep >= self.steep {
            self.radius
        } else if self.ball > 0.0 {
            self.ball * sine(steep)
        } else {
            self.start
        }
    }
}

impl Still for Cone {
    #[inline(always)]
    fn still(&self, d: f64, b2: f64) -> (f64, f64) {
        let r2 = d * d + b2;
        if r2 > self.start * self.start {
            let r = r2.sqrt();
            // Beyond the rim the underside rises without end, however steep the move.
            let change = if r < self.radius { self.slope * r + self.steep * d } else { d };
            (self.start_rise + (r - self.start) * self.steep, change)
        } else if self.ball > 0.0 {
            let q = root(self.ball * self.ball - r2);
            (self.ball - q, self.slope * q + d)
        } else {
            (0.0, self.slope)
        }
    }
}

/// Any tip on a level move: lowest where it is nearest.
#[derive(Clone, Copy)]
pub(crate) struct Level<U>(pub(crate) U);

impl<U: Underside> Underside for Level<U> {
    const TELLS_REACH: bool = U::TELLS_REACH;

    fn radius(&self) -> f64 {
        self.0.radius()
    }
    #[inline(always)]
    fn rise(&self, r2: f64) -> f64 {
        self.0.rise(r2)
    }
    #[inline(always)]
    fn steepness(&self, r: f64) -> f64 {
        self.0.steepness(r)
    }
    #[inline(always)]
    fn lead(&self, _b2: f64) -> f64 {
        0.0
    }
    #[inline(always)]
    fn moment(&self, a: f64, _b2: f64, length: f64) -> f64 {
        clamp(a, length)
    }
    #[inline(always)]
    fn parts(&self, track: &Track, a: f64, b2: f64) -> (f64, f64) {
        let away = a - clamp(a, track.length);
        self.0.parts_at_rest(track.z0, away * away + b2)
    }
    /// A square end at rest has no root to take; what the track is does not matter to the others.
    #[inline(always)]
    fn finish(&self, track: &Track, start: f32, root: f32) -> f32 {
        if U::ROOT_AT_REST { self.0.finish(track, start, root) } else { start }
    }
    fn greatest_lead(&self) -> f64 {
        0.0
    }
    fn touch(&self, steep: f64) -> f64 {
        self.0.touch(steep)
    }
}

/// Something to be done with the underside of a cutter, whatever its form.
pub(crate) trait WithUnderside {
    /// What comes of it.
    type Out;
    /// Does it.
    fn run<U: Underside>(self, underside: U) -> Self::Out;
}

/// Hands the underside of `cutter` for moves of this slope to `task`: the one place that knows the forms.
pub(crate) fn with_underside<T: WithUnderside>(cutter: &Solid, slope: f64, task: T) -> T::Out {
    let radius = cutter.radius();
    match cutter.form {
        Form::Flat if slope == 0.0 => task.run(Level(Flat { radius, sense: 0.0 })),
        Form::Flat => task.run(Flat { radius, sense: -slope.signum() }),
        Form::Ball if slope == 0.0 => task.run(Level(Ball { radius, sine: 0.0 })),
        Form::Ball => task.run(Ball { radius, sine: -slope / (1.0 + slope * slope).sqrt() }),
        Form::Bull { corner_radius: corner } if slope == 0.0 => task.run(Level(Bull { radius, corner, slope })),
        Form::Bull { corner_radius: corner } => task.run(Bull { radius, corner, slope }),
        Form::Cone { half_angle_deg, tip_diameter } => {
            let cone = Cone::new(radius, 0.0, half_angle_deg, tip_diameter / 2.0, slope);
            if slope == 0.0 { task.run(Level(cone)) } else { task.run(cone) }
        }
        Form::TaperedBall { tip_radius, half_angle_deg } => {
            let cone = Cone::new(radius, tip_radius, half_angle_deg, 0.0, slope);
            if slope == 0.0 { task.run(Level(cone)) } else { task.run(cone) }
        }
    }
}

/// Height of the underside above the tip at distance `r` from the axis.
pub(crate) fn rise(cutter: &Solid, r: f64) -> f64 {
    struct At(f64);
    impl WithUnderside for At {
        type Out = f64;
        fn run<U: Underside>(self, underside: U) -> f64 {
            underside.rise(self.0 * self.0)
        }
    }
    with_underside(cutter, 0.0, At(r))
}

/// Stands for the radicand where the cutter does not come.
const NOT_REACHED: f64 = -1.0;

/// How far the columns of a block in a row lie from the first of them, along and across a move.
pub(crate) struct Strides {
    a: [f64; SIDE],
    b: [f64; SIDE],
}

impl Strides {
    pub(crate) fn new(track: &Track, pitch: f64) -> Self {
        let times = |step: f64| std::array::from_fn(|i| i as f64 * step);
        Self { a: times(pitch * track.ux), b: times(-pitch * track.uy) }
    }
}

/// Heights of the envelope at the columns of a block in one row, the first seen from the start of the track; `+inf` where the
/// cutter does not come.
#[inline(always)]
pub(crate) fn envelope<U: Underside>(
    underside: &U,
    track: &Track,
    (x, y): (f64, f64),
    strides: &Strides,
) -> [f32; SIDE] {
    let r2_most = underside.radius() * underside.radius();
    let (a0, b0) = track.local(x, y);
    let (mut starts, mut radicands) = ([0.0f32; SIDE], [0.0f32; SIDE]);
    for i in 0..SIDE {
        let (a, b) = (a0 + strides.a[i], b0 + strides.b[i]);
        let b2 = b * b;
        let away = a - clamp(a, track.length);
        let (z, under) = underside.parts(track, a, b2);
        starts[i] = z as f32;
        let reached = away * away + b2 <= r2_most;
        let at_least = if under > 0.0 { under } else { 0.0 };
        radicands[i] = if U::TELLS_REACH {
            under
        } else if reached {
            at_least
        } else {
            NOT_REACHED
        } as f32;
    }
    let mut heights = [0.0f32; SIDE];
    for i in 0..SIDE {
        let root = (if radicands[i] > 0.0 { radicands[i] } else { 0.0 }).sqrt();
        let z = underside.finish(track, starts[i], root);
        heights[i] = if radicands[i] >= 0.0 { z } else { f32::INFINITY };
    }
    heights
}

/// Share of the radius beyond which a tangent of the underside would stand too upright to tell much.
const INNER: f64 = 0.9;

/// A plane that the envelope of the move nowhere falls below, close to it over the point `a` along and `b` across it: the
/// envelope is convex in the plan, so its tangent there is one. Where the underside stands upright the tangent is taken
/// further in, as if the whole move ran level at its lowest.
#[inline(always)]
pub(crate) fn plane_below<U: Underside>(underside: &U, track: &Track, (a, b): (f64, f64)) -> Plane {
    let inner = INNER * underside.radius();
    let t = underside.moment(a, b * b, track.length);
    let r2 = (a - t) * (a - t) + b * b;
    let (z, along, across) = if r2 <= inner * inner {
        let r = r2.sqrt();
        // Between the ends of the move the least height is stationary: there the tangent rises along it as it does.
        let share = if track.slope != 0.0 && t > 0.0 && t < track.length {
            track.slope / (a - t)
        } else if r > 0.0 {
            underside.steepness(r) / r
        } else {
            0.0
        };
        (track.z0 + track.slope * t + underside.rise(r2), share * (a - t), share * b)
    } else {
        let away = a - clamp(a, track.length);
        let r = (away * away + b * b).sqrt();
        let at = if r < inner { r } else { inner };
        let steep = underside.steepness(at);
        let share = if r > 0.0 { steep / r } else { 0.0 };
        (track.lowest() + underside.rise(at * at) + steep * (r - at), share * away, share * b)
    };
    Plane { z, x: along * track.ux - across * track.uy, y: along * track.uy + across * track.ux }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A cutter whose neck and shank are as thick as its edges.
    pub(crate) fn plain(form: Form, diameter: f64) -> Solid {
        Solid {
            form,
            diameter,
            flute_length: 100.0,
            neck_diameter: diameter,
            neck_length: 100.0,
            shank_diameter: diameter,
            stickout: 200.0,
            holder: Vec::new(),
        }
    }

    pub(crate) fn forms() -> Vec<Solid> {
        vec![
            plain(Form::Flat, 6.0),
            plain(Form::Ball, 6.0),
            plain(Form::Bull { corner_radius: 1.0 }, 6.0),
            plain(Form::Bull { corner_radius: 2.9 }, 6.0),
            plain(Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, 6.0),
            plain(Form::Cone { half_angle_deg: 45.0, tip_diameter: 1.0 }, 6.0),
            plain(Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 10.0 }, 6.0),
            plain(Form::TaperedBall { tip_radius: 0.5, half_angle_deg: 40.0 }, 6.0),
        ]
    }

    struct One<'a>(&'a Track, f64, f64);
    impl WithUnderside for One<'_> {
        type Out = f64;
        fn run<U: Underside>(self, underside: U) -> f64 {
            // The kernel's own steps, without rounding to f32.
            let (a, b) = self.0.local(self.1, self.2);
            let t = underside.moment(a, b * b, self.0.length);
            let exact = self.0.z0 + self.0.slope * t + underside.rise((a - t) * (a - t) + b * b);
            if (a - clamp(a, self.0.length)).hypot(b) > underside.radius() {
                return f64::INFINITY;
            }
            // The short way must agree with the definition.
            let (start, under) = underside.parts(self.0, a, b * b);
            let short = f64::from(underside.finish(self.0, start as f32, (under as f32).max(0.0).sqrt()));
            let allowed = 4e-7 * underside.radius() + 1.2e-7 * (exact.abs() + self.0.z0.abs());
            assert!((short - exact).abs() <= allowed, "{short} {exact} at {a} {b}");
            exact
        }
    }

    /// Height of the underside by the definitions of the forms alone.
    fn profile(cutter: &Solid, r: f64) -> f64 {
        match cutter.form {
            Form::Flat => 0.0,
            Form::Ball => cutter.radius() - (cutter.radius().powi(2) - r * r).max(0.0).sqrt(),
            Form::Bull { corner_radius: c } => {
                let u = (r - cutter.radius() + c).max(0.0);
                c - (c * c - u * u).max(0.0).sqrt()
            }
            Form::Cone { half_angle_deg, tip_diameter } => {
                (r - tip_diameter / 2.0).max(0.0) / half_angle_deg.to_radians().tan()
            }
            Form::TaperedBall { tip_radius: t, half_angle_deg } => {
                // The tangent cone touches the ball where the normal leans by the half angle above horizontal.
                let (s, c) = half_angle_deg.to_radians().sin_cos();
                if r <= t * c { t - (t * t - r * r).sqrt() } else { t * (1.0 - s) + (r - t * c) * c / s }
            }
        }
    }

    /// Against the cutter put down at very many places of the move: never above any of them, and below the lowest by
    /// no more than the move can fall between two of them.
    #[test]
    fn envelope_agrees_with_a_dense_row_of_stamps() {
        let ends = [
            [7.0, 0.0, 0.0],
            [7.0, 2.0, 0.0],
            [0.0, 0.3, -0.05],
            [4.0, -3.0, 2.0],
            [-4.0, -3.0, -2.0],
            [-1.0, 2.5, 6.0],
            [0.4, 0.3, -3.0],
            [5.0, 1.0, -0.01],
            [0.0, 0.0, -3.0],
        ];
        let samples = 10_000;
        let mut met = 0;
        for cutter in forms() {
            for end in ends {
                let track = Track::new([0.0, 0.0, 0.0], end);
                for k in 0..150 {
                    // Points of a golden-ratio lattice around the move.
                    let (x, y) =
                        (-8.0 + 16.0 * (k as f64 / 150.0), -7.0 + 14.0 * (k as f64 * 0.618_033_988_75).fract());
                    let exact = with_underside(&cutter, track.slope, One(&track, x, y));
                    let mut least = f64::INFINITY;
                    for i in 0..=samples {
                        let t = i as f64 / samples as f64;
                        let r = (x - t * end[0]).hypot(y - t * end[1]);
                        if r <= cutter.radius() {
                            least = least.min(t * end[2] + profile(&cutter, r));
                        }
                    }
                    assert!(exact <= least + 1e-9, "{:?} {end:?} at {x} {y}: {exact} > {least}", cutter.form);
                    if least.is_finite() {
                        met += 1;
                        // Between two samples the rim passes by at most the step; there a ball's wall is steep.
                        let step = track.length / samples as f64;
                        let allowed = track.slope.abs() * step + (2.0 * cutter.radius() * step).sqrt() + 1e-9;
                        assert!(least - exact <= allowed, "{:?} {end:?} at {x} {y}: {exact} {least}", cutter.form);
                        let inner = (0..=100).all(|i| {
                            let t = i as f64 / 100.0;
                            let d = (x - t * end[0]).hypot(y - t * end[1]) - cutter.radius();
                            d.abs() > 0.2
                        });
                        if inner {
                            assert!(least - exact < 3e-4, "{:?} {end:?} at {x} {y}: {exact} {least}", cutter.form);
                        }
                    }
                }
            }
        }
        assert!(met > 2000, "{met}");
    }

    /// The least height must be stationary: no neighbouring moment is lower, to 1e-6 and better.
    #[test]
    fn no_moment_of_the_move_is_lower() {
        for cutter in forms() {
            for slope in [-8.0, -1.7, -0.6, -0.05, -1e-4, 1e-4, 0.02, 0.4, 1.0, 3.0] {
                let end = [12.0, 5.0, 13.0 * slope];
                let track = Track::new([0.0, 0.0, 0.0], end);
                for k in 0..60 {
                    let b = 3.0 * (k as f64 + 0.5) / 60.0;
                    let a = 6.0;
                    let (x, y) = (a * track.ux - b * track.uy, a * track.uy + b * track.ux);
                    let exact = with_underside(&cutter, track.slope, One(&track, x, y));
                    // Golden-section search: the height is convex in t where the cutter reaches the point.
                    let h = (cutter.radius().powi(2) - b * b).sqrt() * (1.0 - 1e-15);
                    let height = |t: f64| slope * t + profile(&cutter, ((a - t).powi(2) + b * b).sqrt());
                    let (mut from, mut to) = ((a - h).max(0.0), (a + h).min(track.length));
                    for _ in 0..200 {
                        let third = (to - from) * 0.381_966;
                        if height(from + third) < height(to - third) { to -= third } else { from += third }
                    }
                    let least = height(0.5 * (from + to));
                    assert!((exact - least).abs() < 1e-6, "{:?} {slope} {b}: {exact} {least}", cutter.form);
                }
            }
        }
    }

    struct Below<'a>(&'a Track, f64, f64);
    impl WithUnderside for Below<'_> {
        type Out = Plane;
        fn run<U: Underside>(self, underside: U) -> Plane {
            plane_below(&underside, self.0, self.0.local(self.1, self.2))
        }
    }

    #[test]
    fn the_envelope_never_falls_below_its_planes() {
        let ends = [[0.4, 0.1, 0.0], [0.3, -0.2, 0.2], [2.0, 1.0, -3.0], [0.0, 0.0, -2.0], [9.0, 2.0, 1.0]];
        let mut close = 0;
        for cutter in forms() {
            for end in ends {
                let track = Track::new([0.0; 3], end);
                for k in 0..60 {
                    let (x, y) = (-4.0 + 0.14 * f64::from(k), -4.0 + 8.0 * (f64::from(k) * 0.618_034).fract());
                    let plane = with_underside(&cutter, track.slope, Below(&track, x, y));
                    for n in 0..60 {
                        let (u, v) = (-4.5 + 0.15 * f64::from(n), -4.0 + 8.0 * (f64::from(n) * 0.754_878).fract());
                        let z = with_underside(&cutter, track.slope, One(&track, u, v));
                        let bound = plane.z + plane.x * (u - x) + plane.y * (v - y);
                        assert!(bound <= z + 1e-9, "{:?} {end:?} at {x} {y}, {u} {v}: {bound} {z}", cutter.form);
                    }
                    let z = with_underside(&cutter, track.slope, One(&track, x, y));
                    close += u32::from(z - plane.z < 1e-9);
                }
            }
        }
        assert!(close > 500, "{close}");
    }
}
