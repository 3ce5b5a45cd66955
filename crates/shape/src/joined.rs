//! Closed curves of straight lines, arcs and cubics, each going on in the direction in which the one before ends.
//!
//! The parameter is the length from the place on the +X side; along a cubic its own parameter, spread over its length. Convex arcs
//! turn to the left (their sweep is positive), concave ones to the right.

use crate::outline::Station;
use geom::DVec2;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, SQRT_2, TAU};

/// Lines, arcs and cubics, counter-clockwise.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Joined {
    parts: Vec<Part>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Part {
    Line { from: DVec2, to: DVec2 },
    Arc { centre: DVec2, radius: f64, from: f64, sweep: f64 },
    Cubic(Cubic),
}

/// A cubic by its four control points, with its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cubic {
    points: [DVec2; 4],
    length: f64,
}

impl Cubic {
    pub(crate) fn new(points: [DVec2; 4]) -> Self {
        let mut cubic = Self { points, length: 0.0 };
        cubic.length = gauss(0.0, 1.0, |t| cubic.speed(t).length());
        cubic
    }

    fn point(&self, t: f64) -> DVec2 {
        let [a, b, c, d] = self.points;
        let (ab, bc, cd) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
        ab.lerp(bc, t).lerp(bc.lerp(cd, t), t)
    }

    fn speed(&self, t: f64) -> DVec2 {
        let [a, b, c, d] = self.points;
        3.0 * (b - a).lerp(c - b, t).lerp((c - b).lerp(d - c, t), t)
    }

    /// Second derivative.
    fn bend(&self, t: f64) -> DVec2 {
        let [a, b, c, d] = self.points;
        6.0 * (a - 2.0 * b + c).lerp(b - 2.0 * c + d, t)
    }

    /// Its direction; at an end whose control point lies on it, that towards the next.
    fn ahead(&self, t: f64) -> DVec2 {
        let [a, b, c, d] = self.points;
        let size = a.distance(b).max(b.distance(c)).max(c.distance(d));
        let speed = self.speed(t);
        if speed.length() > 1e-9 * size {
            return speed.normalize();
        }
        let sense = if t < 0.5 { 1.0 } else { -1.0 };
        let bend = sense * self.bend(t);
        if bend.length() > 1e-9 * size { bend.normalize() } else { (d - a).normalize_or_zero() }
    }

    fn split(&self, t: f64) -> [Self; 2] {
        let [a, b, c, d] = self.points;
        let (ab, bc, cd) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
        let (abc, bcd) = (ab.lerp(bc, t), bc.lerp(cd, t));
        let middle = abc.lerp(bcd, t);
        [Self::new([a, ab, abc, middle]), Self::new([middle, bcd, cd, d])]
    }

    /// Parameters at which it runs along an axis.
    fn extremes(&self) -> Vec<f64> {
        let [a, b, c, d] = self.points;
        let (p, q, r) = (b - a, c - b, d - c);
        let roots = |p: f64, q: f64, r: f64| {
            // p (1 − t)² + 2 q t (1 − t) + r t².
            let (k2, k1, k0) = (p - 2.0 * q + r, q - p, p);
            let root = (k1 * k1 - k2 * k0).max(0.0).sqrt();
            [(-k1 + root) / k2, (-k1 - root) / k2, -k0 / (2.0 * k1)]
        };
        let all = roots(p.x, q.x, r.x).into_iter().chain(roots(p.y, q.y, r.y));
        all.filter(|t| (0.0..=1.0).contains(t)).collect()
    }
}

/// Integral by Gauss's rule of five points (Abramowitz & Stegun, table 25.4), its range halved until it stands still to 1e-12.
fn gauss(from: f64, to: f64, f: impl Fn(f64) -> f64 + Copy) -> f64 {
    const RULE: [[f64; 2]; 5] = [
        [0.0, 0.568_888_888_888_888_9],
        [0.538_469_310_105_683, 0.478_628_670_499_366_5],
        [-0.538_469_310_105_683, 0.478_628_670_499_366_5],
        [0.906_179_845_938_664, 0.236_926_885_056_189_1],
        [-0.906_179_845_938_664, 0.236_926_885_056_189_1],
    ];
    let once = |a: f64, b: f64| {
        RULE.iter().map(|[x, w]| w * f(0.5 * (a + b) + 0.5 * (b - a) * x)).sum::<f64>() * 0.5 * (b - a)
    };
    let (mut pieces, mut last) = (1_u32, once(from, to));
    while pieces < 1024 {
        pieces *= 2;
        let at = |k: u32| from + (to - from) * f64::from(k) / f64::from(pieces);
        let next: f64 = (0..pieces).map(|k| once(at(k), at(k + 1))).sum();
        if (next - last).abs() <= 1e-12 * next.abs() {
            return next;
        }
        last = next;
    }
    last
}

impl Part {
    pub(crate) fn length(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.distance(to),
            Self::Arc { radius, sweep, .. } => radius * sweep.abs(),
            Self::Cubic(ref cubic) => cubic.length,
        }
    }

    /// The same, run through the other way.
    pub(crate) fn reversed(&self) -> Self {
        match *self {
            Self::Line { from, to } => Self::Line { from: to, to: from },
            Self::Arc { centre, radius, from, sweep } => {
                Self::Arc { centre, radius, from: from + sweep, sweep: -sweep }
            }
            Self::Cubic(Cubic { points: [a, b, c, d], length }) => Self::Cubic(Cubic { points: [d, c, b, a], length }),
        }
    }

    pub(crate) fn shifted(&self, by: DVec2) -> Self {
        match *self {
            Self::Line { from, to } => Self::Line { from: from + by, to: to + by },
            Self::Arc { centre, radius, from, sweep } => Self::Arc { centre: centre + by, radius, from, sweep },
            Self::Cubic(cubic) => Self::Cubic(Cubic { points: cubic.points.map(|p| p + by), ..cubic }),
        }
    }

    /// Signed curvature, positive where it turns to the left.
    pub(crate) fn curvature(&self, along: f64) -> f64 {
        match *self {
            Self::Line { .. } => 0.0,
            Self::Arc { radius, sweep, .. } => sweep.signum() / radius,
            Self::Cubic(ref cubic) => {
                let t = along / cubic.length;
                let speed = cubic.speed(t);
                speed.perp_dot(cubic.bend(t)) / speed.length().powi(3)
            }
        }
    }

    pub(crate) fn station(&self, along: f64) -> Station {
        match *self {
            Self::Line { from, to } => {
                let ahead = (to - from).normalize();
                Station { point: from + ahead * along, outward: -ahead.perp() }
            }
            Self::Arc { centre, radius, from, sweep } => {
                let radial = DVec2::from_angle(from + along / radius * sweep.signum());
                Station { point: centre + radial * radius, outward: radial * sweep.signum() }
            }
            Self::Cubic(ref cubic) => {
                let t = along / cubic.length;
                Station { point: cubic.point(t), outward: -cubic.ahead(t).perp() }
            }
        }
    }

    /// ½ ∮ x dy − y dx over the part.
    pub(crate) fn area(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.perp_dot(to) / 2.0,
            Self::Arc { centre, radius, from, sweep } => {
                let chord = DVec2::from_angle(from + sweep) - DVec2::from_angle(from);
                (radius * radius * sweep + radius * centre.perp_dot(chord)) / 2.0
            }
            Self::Cubic(Cubic { points: [a, b, c, d], .. }) => {
                let near = a.perp_dot(b) + c.perp_dot(d);
                let far = a.perp_dot(c) + b.perp_dot(c) + b.perp_dot(d);
                (6.0 * near + 3.0 * far + a.perp_dot(d)) / 20.0
            }
        }
    }

    /// Ends, and the places of an arc that lie farthest along the axes or have the nearest tangent.
    pub(crate) fn corners(&self) -> Vec<Station> {
        let length = self.length();
        let mut along = vec![0.0, length];
        if let Self::Arc { centre, radius, from, sweep } = *self {
            let quarters = (0..4).map(|k| f64::from(k) * FRAC_PI_2);
            let nearest = [centre.to_angle(), centre.to_angle() + PI];
            for angle in quarters.chain(nearest) {
                let turned = ((angle - from) * sweep.signum()).rem_euclid(TAU);
                along.extend((turned < sweep.abs()).then_some(turned * radius));
            }
        }
        if let Self::Cubic(ref cubic) = *self {
            along.extend(cubic.extremes().iter().map(|t| t * length));
        }
        along.into_iter().map(|at| self.station(at)).collect()
    }

    pub(crate) fn split(&self, along: f64) -> [Self; 2] {
        match *self {
            Self::Line { from, to } => {
                let middle = self.station(along).point;
                [Self::Line { from, to: middle }, Self::Line { from: middle, to }]
            }
            Self::Arc { centre, radius, from, sweep } => {
                let first = along / radius * sweep.signum();
                let part = |from, sweep| Self::Arc { centre, radius, from, sweep };
                [part(from, first), part(from + first, sweep - first)]
            }
            Self::Cubic(ref cubic) => cubic.split(along / cubic.length).map(Self::Cubic),
        }
    }
}

/// What is shorter than this is left out, mm.
const NOTHING: f64 = 1e-9;

impl Joined {
    /// All that lies within `radius` of a convex polygon about the origin, its corners counter-clockwise.
    pub(crate) fn around(corners: &[DVec2], radius: f64) -> Self {
        let n = corners.len();
        let side = |k: usize| corners[(k + 1) % n] - corners[k % n];
        let outward = |k: usize| -side(k).perp().normalize_or_zero();
        let mut parts = Vec::new();
        for k in 0..n {
            let (before, after) = (outward(k + n - 1), outward(k));
            // The corners of a point have no sides; each takes its share of the turn.
            let (from, sweep) = if before == DVec2::ZERO || after == DVec2::ZERO {
                (TAU * k as f64 / n as f64, TAU / n as f64)
            } else {
                (before.to_angle(), before.angle_to(after))
            };
            parts.push(Part::Arc { centre: corners[k], radius, from, sweep });
            let (from, to) = (corners[k] + after * radius, corners[(k + 1) % n] + after * radius);
            parts.push(Part::Line { from, to });
        }
        Self::begun_on_x(parts)
    }

    /// A heart with its tip towards −Y: two arcs of one radius, square to each other below, the tip and the cleft between them
    /// rounded. `length` is its size along X. None if the tip's or the cleft's round does not fit.
    pub(crate) fn heart(length: f64, tip: f64, cleft: f64) -> Option<Self> {
        // Half a square on its corner with a half disc on each upper side.
        let radius = length / (2.0 + SQRT_2);
        let aside = radius / SQRT_2;
        let point = -1.5 * SQRT_2 * radius;
        let low = point + SQRT_2 * tip;
        let height = ((radius + cleft).powi(2) - aside * aside).sqrt();
        let turn = DVec2::new(-aside, height).to_angle() + FRAC_PI_4;
        let bottom = low - tip;
        let middle = DVec2::new(0.0, (radius + bottom) / 2.0);
        let at = |x: f64, y: f64| DVec2::new(x, y) - middle;
        let (right, left) = (at(aside, 0.0), at(-aside, 0.0));
        let end = |centre: DVec2, r: f64, angle: f64| centre + DVec2::from_angle(angle) * r;
        let tip_at = at(0.0, low);
        let below = [end(left, radius, PI + FRAC_PI_4), end(tip_at, tip, PI + FRAC_PI_4)];
        let above = [end(tip_at, tip, -FRAC_PI_4), end(right, radius, -FRAC_PI_4)];
        // The straight sides must not be used up by the round of the tip, nor the arcs by that of the cleft.
        let fits = tip > 0.0 && cleft > 0.0 && tip < 2.0 * radius && turn < PI + FRAC_PI_4;
        let concave = 2.0 * (turn - FRAC_PI_4) - PI;
        let parts = vec![
            Part::Line { from: above[0], to: above[1] },
            Part::Arc { centre: right, radius, from: -FRAC_PI_4, sweep: turn },
            Part::Arc { centre: at(0.0, height), radius: cleft, from: turn - FRAC_PI_4 + PI, sweep: -concave },
            Part::Arc { centre: left, radius, from: PI - (turn - FRAC_PI_4), sweep: turn },
            Part::Line { from: below[0], to: below[1] },
            Part::Arc { centre: tip_at, radius: tip, from: PI + FRAC_PI_4, sweep: FRAC_PI_2 },
        ];
        fits.then(|| Self::begun_on_x(parts))
    }

    /// The parts in order from the place where they pass the +X side.
    pub(crate) fn begun_on_x(mut parts: Vec<Part>) -> Self {
        parts.retain(|p| p.length() > NOTHING);
        let passes = |p: &Part| {
            let (a, b) = (p.station(0.0).point, p.station(p.length()).point);
            a.y <= 0.0 && b.y > 0.0 && a.x.max(b.x) > 0.0
        };
        if let Some(k) = parts.iter().position(passes) {
            let part = parts[k];
            let (mut low, mut high) = (0.0, part.length());
            for _ in 0..200 {
                let middle = 0.5 * (low + high);
                if part.station(middle).point.y <= 0.0 { low = middle } else { high = middle }
            }
            let [before, after] = part.split(low);
            parts.rotate_left(k);
            parts[0] = after;
            parts.push(before);
            parts.retain(|p| p.length() > NOTHING);
        }
        Self { parts }
    }

    pub(crate) fn parts(&self) -> &[Part] {
        &self.parts
    }

    pub(crate) fn length(&self) -> f64 {
        self.parts.iter().map(Part::length).sum()
    }

    pub(crate) fn area(&self) -> f64 {
        self.parts.iter().map(Part::area).sum()
    }

    pub(crate) fn spans(&self) -> Vec<[f64; 2]> {
        let mut at = 0.0;
        let span = |p: &Part| {
            let from = at;
            at += p.length();
            [from, at]
        };
        self.parts.iter().map(span).collect()
    }

    pub(crate) fn station(&self, u: f64) -> Station {
        let mut left = u;
        for part in &self.parts[..self.parts.len() - 1] {
            let length = part.length();
            if left < length {
                return part.station(left);
            }
            left -= length;
        }
        let last = &self.parts[self.parts.len() - 1];
        last.station(left.min(last.length()))
    }

    /// The least convex radius or, where that is smaller, the least distance of a tangent from the origin.
    pub(crate) fn reach_inwards(&self) -> f64 {
        let radii = self.parts.iter().filter_map(|p| match p {
            Part::Arc { radius, sweep, .. } if *sweep > 0.0 => Some(*radius),
            _ => None,
        });
        let tangents = self.parts.iter().flat_map(Part::corners).map(|s| s.point.dot(s.outward));
        radii.chain(tangents).fold(f64::INFINITY, f64::min)
    }

    /// The least concave radius.
    pub(crate) fn reach_outwards(&self) -> f64 {
        let radii = self.parts.iter().filter_map(|p| match p {
            Part::Arc { radius, sweep, .. } if *sweep < 0.0 => Some(*radius),
            _ => None,
        });
        radii.fold(f64::INFINITY, f64::min)
    }

    pub(crate) fn half_size(&self) -> DVec2 {
        self.parts.iter().flat_map(Part::corners).fold(DVec2::ZERO, |most, s| most.max(s.point.abs()))
    }
}
