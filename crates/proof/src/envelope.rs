//! The solid that a turning cutter takes away, carried upwards without end: discs on the spindle's axis under one skin,
//! grown by a ball.
//!
//! * flat, bull, ball: one disc of radius R − r_c, raised by r_c, grown by r_c;
//! * cone: a disc at the tip and one at the full diameter, not grown;
//! * tapered ball: a point and a disc, grown by the tip's radius.
//!
//! The set is convex. Its parts above the flutes are no narrower here than in truth, so no depth is judged too small.

use glam::{DVec2, DVec3};
use trade::cutter::{Form, Solid};

/// A disc on the axis: radius and height above the tip, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Disc {
    pub(crate) radius: f64,
    pub(crate) z: f64,
}

/// The envelope. The discs rise and do not narrow upwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Envelope {
    pub(crate) low: Disc,
    pub(crate) high: Disc,
    pub(crate) ball: f64,
}

impl Envelope {
    pub(crate) fn of(cutter: &Solid) -> Self {
        let r = cutter.radius();
        let round = |corner: f64| {
            let disc = Disc { radius: r - corner, z: corner };
            Self { low: disc, high: disc, ball: corner }
        };
        match cutter.form {
            Form::Flat => round(0.0),
            Form::Ball => round(r),
            Form::Bull { corner_radius } => round(corner_radius.clamp(0.0, r)),
            Form::Cone { half_angle_deg, tip_diameter } => {
                let tip = tip_diameter / 2.0;
                let rise = (r - tip) / half_angle_deg.to_radians().tan();
                Self { low: Disc { radius: tip, z: 0.0 }, high: Disc { radius: r, z: rise }, ball: 0.0 }
            }
            Form::TaperedBall { tip_radius, half_angle_deg } => {
                // The flank touches the ball where its normal leans by the half angle; there the cone of the skin's
                // inside starts from the ball's centre.
                let (sin, cos) = half_angle_deg.to_radians().sin_cos();
                let along = ((r - tip_radius * cos) / sin).max(0.0);
                let low = Disc { radius: 0.0, z: tip_radius };
                Self { low, high: Disc { radius: along * sin, z: tip_radius + along * cos }, ball: tip_radius }
            }
        }
    }

    /// Greatest radius.
    pub(crate) fn reach(&self) -> f64 {
        self.high.radius + self.ball
    }

    /// Whether one disc describes it.
    fn is_round(&self) -> bool {
        self.low == self.high
    }

    /// What lies at least `by` beneath the skin; `None` if nothing does.
    pub(crate) fn eroded(&self, by: f64) -> Option<Self> {
        if by <= self.ball {
            return Some(Self { ball: self.ball - by, ..*self });
        }
        let e = by - self.ball;
        if self.is_round() {
            let disc = Disc { radius: self.low.radius - e, z: self.low.z + e };
            return (disc.radius >= 0.0).then_some(Self { low: disc, high: disc, ball: 0.0 });
        }
        // Flank: ρ cos α − z sin α = c, moved inwards by e; cut by the raised bottom and the narrowed cylinder.
        let (dr, dz) = (self.high.radius - self.low.radius, self.high.z - self.low.z);
        let (sin, cos) = (dr / dr.hypot(dz), dz / dr.hypot(dz));
        let c = self.low.radius * cos - self.low.z * sin - e;
        let wide = self.high.radius - e;
        let mut low = Disc { radius: (c + (self.low.z + e) * sin) / cos, z: self.low.z + e };
        if low.radius < 0.0 {
            low = Disc { radius: 0.0, z: -c / sin };
        }
        (wide >= low.radius).then_some(Self { low, high: Disc { radius: wide, z: (wide * cos - c) / sin }, ball: 0.0 })
    }

    /// A bound that is told at once, for a cutter at rest and a point so far from its axis in plan and above its tip: no point that
    /// lies a vector v farther is nearer to the cutter than the first value plus v's product with the second; that is of unit
    /// length, or `None` where only the length of v is known to count.
    fn at_least(&self, away: DVec2, z: f64) -> (f64, Option<DVec3>) {
        let radius = away.length();
        if !self.is_round() {
            return (self.at(radius, z), None);
        }
        let (beside, below) = (radius - self.low.radius, self.low.z - z);
        let outward = if radius > 0.0 { away / radius } else { DVec2::ZERO };
        let (distance, slope) = if beside > 0.0 && below > 0.0 {
            let distance = (beside * beside + below * below).sqrt();
            (distance, (outward * (beside / distance)).extend(-below / distance))
        } else if below > beside {
            (below, DVec3::NEG_Z)
        } else {
            (beside, outward.extend(0.0))
        };
        (distance - self.ball, Some(slope))
    }

    /// Signed distance of a point from the skin: `radius` from the axis, `z` above the tip; positive outside.
    fn at(&self, radius: f64, z: f64) -> f64 {
        let (a, b) = (radius - self.low.radius, self.low.z - z);
        if self.is_round() {
            let (x, y) = (a.max(0.0), b.max(0.0));
            return (x * x + y * y).sqrt() + a.max(b).min(0.0) - self.ball;
        }
        let p = DVec2::new(radius, z);
        let (low, high) = (DVec2::new(self.low.radius, self.low.z), DVec2::new(self.high.radius, self.high.z));
        let bottom = if radius <= low.x { b.abs() } else { p.distance(low) };
        let d = high - low;
        let t = ((p - low).dot(d) / d.length_squared()).clamp(0.0, 1.0);
        let flank = p.distance(low + d * t);
        let side = if z >= high.y { (radius - high.x).abs() } else { p.distance(high) };
        let inside = b <= 0.0 && radius <= high.x && d.perp_dot(p - low) >= 0.0;
        let skin = bottom.min(flank).min(side);
        (if inside { -skin } else { skin }) - self.ball
    }
}

/// A cutter's envelope swept along one straight motion of its tip. Convex, so its signed distance is convex, too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Swept {
    pub(crate) envelope: Envelope,
    pub(crate) from: DVec3,
    pub(crate) to: DVec3,
    /// The way in plan over the square of its length: its product with a point is the point's share of the way.
    along: DVec2,
}

/// Steps of the search along a ramp: the golden section shrinks a 10 mm move below 1e-6 mm.
const RAMP_STEPS: usize = 34;
/// Square of the length in plan below which a motion counts as vertical, mm².
const VERTICAL: f64 = 1e-18;

impl AsRef<Swept> for Swept {
    fn as_ref(&self) -> &Swept {
        self
    }
}

impl Swept {
    pub(crate) fn new(envelope: Envelope, from: DVec3, to: DVec3) -> Self {
        let plan = (to - from).truncate();
        let squared = plan.length_squared();
        let along = if squared < VERTICAL { DVec2::ZERO } else { plan / squared };
        Self { envelope, from, to, along }
    }

    /// The same motion of another envelope.
    pub(crate) fn with(&self, envelope: Envelope) -> Self {
        Self { envelope, ..*self }
    }

    /// Share of the way at which the axis is nearest to a point.
    fn nearest(&self, q: DVec3) -> f64 {
        (q - self.from).truncate().dot(self.along).clamp(0.0, 1.0)
    }

    /// Signed distance of `q` from the swept solid, positive outside; it changes by no more than `q` moves.
    pub(crate) fn distance(&self, q: DVec3) -> f64 {
        if self.along == DVec2::ZERO {
            let low = if self.to.z < self.from.z { self.to } else { self.from };
            return self.at(q, low);
        }
        let d = self.to - self.from;
        let nearest = self.nearest(q);
        if d.z == 0.0 {
            return self.at(q, self.from + d * nearest);
        }
        if self.envelope.is_round() && self.envelope.low.radius == 0.0 {
            return self.ball_on_ramp(q, nearest);
        }
        // Convex along the move: golden section.
        let along = |t: f64| self.at(q, self.from + d * t);
        let ratio = (5.0_f64.sqrt() - 1.0) / 2.0;
        let (mut a, mut b) = (0.0, 1.0);
        let (mut x, mut y) = (b - ratio * (b - a), a + ratio * (b - a));
        let (mut fx, mut fy) = (along(x), along(y));
        for _ in 0..RAMP_STEPS {
            if fx <= fy {
                (b, y, fy) = (y, x, fx);
                x = b - ratio * (b - a);
                fx = along(x);
            } else {
                (a, x, fx) = (x, y, fy);
                y = a + ratio * (b - a);
                fy = along(y);
            }
        }
        fx.min(fy).min(along(0.0)).min(along(1.0)).min(along(nearest))
    }

    /// Distance from the upright half strip above the way of the ball's centre, less the radius.
    fn ball_on_ramp(&self, q: DVec3, nearest: f64) -> f64 {
        let (a, d) = (self.from + DVec3::Z * self.envelope.low.z, self.to - self.from);
        let above = a + d * nearest;
        let distance = if q.z >= above.z {
            (q - above).truncate().length()
        } else {
            let t = ((q - a).dot(d) / d.length_squared()).clamp(0.0, 1.0);
            q.distance(a + d * t)
        };
        distance - self.envelope.ball
    }

    /// See [`Envelope::at_least`]: the whole motion is taken at its lowest (the solid goes up without end, so it only grows).
    pub(crate) fn at_least(&self, q: DVec3) -> (f64, Option<DVec3>) {
        let away = (q - self.from.lerp(self.to, self.nearest(q))).truncate();
        self.envelope.at_least(away, q.z - self.lowest())
    }

    fn at(&self, q: DVec3, tip: DVec3) -> f64 {
        self.envelope.at((q - tip).truncate().length(), q.z - tip.z)
    }

    /// Lowest height of the tip.
    pub(crate) fn lowest(&self) -> f64 {
        self.from.z.min(self.to.z)
    }

    /// Least and greatest corner of its plan.
    pub(crate) fn plan(&self) -> (DVec2, DVec2) {
        let (a, b, r) = (self.from.truncate(), self.to.truncate(), DVec2::splat(self.envelope.reach()));
        (a.min(b) - r, a.max(b) + r)
    }
}

/// Some sweeps of one envelope together: the box of the plan that their tips keep to, and the lowest of them.
pub(crate) struct Together {
    envelope: Envelope,
    min: DVec2,
    max: DVec2,
    lowest: f64,
}

impl Together {
    pub(crate) fn new(first: &Swept) -> Self {
        let (a, b) = (first.from.truncate(), first.to.truncate());
        Self { envelope: first.envelope, min: a.min(b), max: a.max(b), lowest: first.lowest() }
    }

    /// Takes in one more, if it is of the same envelope.
    pub(crate) fn takes(&mut self, next: &Swept) -> bool {
        if next.envelope != self.envelope {
            return false;
        }
        let (a, b) = (next.from.truncate(), next.to.truncate());
        (self.min, self.max) = (self.min.min(a).min(b), self.max.max(a).max(b));
        self.lowest = self.lowest.min(next.lowest());
        true
    }

    /// Least height of the tips.
    pub(crate) fn lowest(&self) -> f64 {
        self.lowest
    }

    /// See [`Envelope::at_least`]; `None` where one of them may hold `q`.
    pub(crate) fn at_least(&self, q: DVec3) -> Option<(f64, Option<DVec3>)> {
        let p = q.truncate();
        // The box with the envelope all over it is convex, as one sweep is.
        let bound = self.envelope.at_least(p - p.clamp(self.min, self.max), q.z - self.lowest);
        (bound.0 > 0.0).then_some(bound)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use proptest::prelude::*;

    pub(crate) fn solid(form: Form, diameter: f64) -> Solid {
        Solid {
            form,
            diameter,
            flute_length: 25.0,
            neck_diameter: diameter,
            neck_length: 25.0,
            shank_diameter: diameter,
            stickout: 40.0,
            holder: Vec::new(),
        }
    }

    fn forms() -> Vec<Envelope> {
        let bull = Form::Bull { corner_radius: 1.0 };
        let cone = Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.4 };
        let tapered = Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 8.0 };
        [Form::Flat, Form::Ball, bull, cone, tapered].map(|f| Envelope::of(&solid(f, 6.0))).to_vec()
    }

    #[test]
    fn closed_forms_on_the_axis_and_at_the_side() {
        let ball = Swept::new(forms()[1], DVec3::ZERO, DVec3::new(10.0, 0.0, 0.0));
        assert!((ball.distance(DVec3::new(5.0, 0.0, -2.0)) - 2.0).abs() < 1e-12);
        assert!((ball.distance(DVec3::new(5.0, 4.0, 0.0)) - 2.0).abs() < 1e-12);
        assert!((ball.distance(DVec3::new(5.0, 4.0, 30.0)) - 1.0).abs() < 1e-12);
        assert!((ball.distance(DVec3::new(5.0, 0.0, 1.0)) + 1.0).abs() < 1e-12);
        let flat = Swept::new(forms()[0], DVec3::ZERO, DVec3::new(0.0, 0.0, -4.0));
        assert!((flat.distance(DVec3::new(0.0, 0.0, -5.0)) - 1.0).abs() < 1e-12);
        assert!((flat.distance(DVec3::new(2.0, 0.0, 0.0)) + 1.0).abs() < 1e-12);
        assert!((flat.distance(DVec3::new(6.0, 0.0, -8.0)) - 5.0).abs() < 1e-12);
        let cone = Swept::new(forms()[3], DVec3::ZERO, DVec3::ZERO);
        // Flank through (0.2, 0) at 30° from the axis: the point (2.2, 0) lies 2·cos 30° beside it.
        assert!((cone.distance(DVec3::new(2.2, 0.0, 0.0)) - 2.0 * 30.0_f64.to_radians().cos()).abs() < 1e-9);
    }

    #[test]
    fn eroded_by_its_depth_a_point_lies_on_the_skin() {
        for (k, envelope) in forms().iter().enumerate() {
            for (r, z) in [(0.2, 1.4), (1.1, 6.0), (0.4, 3.0), (1.6, 5.0)] {
                let depth = -envelope.at(r, z);
                if depth <= 0.0 {
                    continue;
                }
                let eroded = envelope.eroded(depth).unwrap();
                assert!(eroded.at(r, z).abs() < 1e-9, "form {k}, ({r}, {z}): depth {depth}, {}", eroded.at(r, z));
            }
        }
    }

    proptest! {
        #[test]
        fn the_sweep_is_the_least_of_its_places(
            k in 0..5_usize, to in (-8.0..8.0_f64, -8.0..8.0_f64, -4.0..4.0_f64),
            q in (-9.0..9.0_f64, -9.0..9.0_f64, -9.0..9.0_f64),
        ) {
            let envelope = forms()[k];
            let swept = Swept::new(envelope, DVec3::ZERO, DVec3::new(to.0, to.1, to.2));
            let q = DVec3::new(q.0, q.1, q.2);
            let n = 2000;
            let places = (0..=n).map(|i| swept.at(q, swept.to * (f64::from(i) / f64::from(n))));
            let least = places.fold(f64::INFINITY, f64::min);
            let got = swept.distance(q);
            let step = swept.to.length() / f64::from(n);
            // Inside a sweep the depth below its skin is no less than below the skin of the best single place.
            prop_assert!(got <= least + 1e-6 && got >= least - step - 1e-6, "form {} got {} least {}", k, got, least);
        }

        #[test]
        fn the_quick_bound_holds_all_round(
            k in 0..5_usize, to in (-8.0..8.0_f64, -8.0..8.0_f64, -4.0..4.0_f64),
            q in (-9.0..9.0_f64, -9.0..9.0_f64, -9.0..9.0_f64), v in (-3.0..3.0_f64, -3.0..3.0_f64, -3.0..3.0_f64),
        ) {
            let swept = Swept::new(forms()[k], DVec3::ZERO, DVec3::new(to.0, to.1, to.2));
            let (q, v) = (DVec3::new(q.0, q.1, q.2), DVec3::new(v.0, v.1, v.2));
            let (bound, slope) = swept.at_least(q);
            let change = slope.map_or(-v.length(), |s| s.dot(v));
            prop_assert!(bound <= swept.distance(q) + 1e-9);
            prop_assert!(bound + change <= swept.distance(q + v) + 1e-9);
            if to.2 >= 0.0 && to.2 < 1e-9 {
                prop_assert!(bound >= swept.distance(q) - 1e-9);
            }
        }
    }
}
