//! Closed curves of straight lines and arcs, each going on in the direction in which the one before ends.
//!
//! The parameter is the length from the place on the +X side. Convex arcs turn to the left (their sweep is positive), concave
//! ones to the right.

use crate::outline::Station;
use geom::DVec2;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, SQRT_2, TAU};

/// Lines and arcs, counter-clockwise about the origin.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Joined {
    parts: Vec<Part>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Part {
    Line { from: DVec2, to: DVec2 },
    Arc { centre: DVec2, radius: f64, from: f64, sweep: f64 },
}

impl Part {
    fn length(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.distance(to),
            Self::Arc { radius, sweep, .. } => radius * sweep.abs(),
        }
    }

    fn station(&self, along: f64) -> Station {
        match *self {
            Self::Line { from, to } => {
                let ahead = (to - from).normalize();
                Station { point: from + ahead * along, outward: -ahead.perp() }
            }
            Self::Arc { centre, radius, from, sweep } => {
                let radial = DVec2::from_angle(from + along / radius * sweep.signum());
                Station { point: centre + radial * radius, outward: radial * sweep.signum() }
            }
        }
    }

    /// ½ ∮ x dy − y dx over the part.
    fn area(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.perp_dot(to) / 2.0,
            Self::Arc { centre, radius, from, sweep } => {
                let chord = DVec2::from_angle(from + sweep) - DVec2::from_angle(from);
                (radius * radius * sweep + radius * centre.perp_dot(chord)) / 2.0
            }
        }
    }

    /// Ends, and the places of an arc that lie farthest along the axes or have the nearest tangent.
    fn corners(&self) -> Vec<Station> {
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
        along.into_iter().map(|at| self.station(at)).collect()
    }

    fn split(&self, along: f64) -> [Self; 2] {
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
    fn begun_on_x(mut parts: Vec<Part>) -> Self {
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
