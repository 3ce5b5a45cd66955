//! What the discs of a medial axis touch: the sides of a region and its corners that point inwards.

use super::Disc;
use super::envelope::{Curve, Stretch, lowest, not_below};
use glam::DVec2;

/// A foot this far beyond the end of a side still counts as on it, mm: so that rounding leaves no gap between sides.
const BEYOND: f64 = 1e-9;
/// What lies no farther in front of a side than this lies on it, mm.
const ON: f64 = 1e-12;

/// The boundary of one connected part. Side `i` runs from vertex `i` to `next[i]`, the region on its left. Sites: side `i` is
/// `i`, corner `i` is `sides + i`.
///
/// A place `u` on a site tells where a disc touches it. Along a side it is the distance from its start. About a corner the discs
/// lie in a fan, between square to the side before and square to the side after: `u` is the tangent of half the angle from the
/// fan's middle, which makes the radius one over a parabola, up to a factor that is the same for all.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Outline {
    pub(super) vertices: Vec<DVec2>,
    pub(super) next: Vec<usize>,
    before: Vec<usize>,
    /// Directions of the sides.
    along: Vec<DVec2>,
    length: Vec<f64>,
}

impl Outline {
    pub(super) fn new(part: &crate::Region) -> Self {
        let (mut vertices, mut next, mut before) = (Vec::new(), Vec::new(), Vec::new());
        for ring in &part.rings {
            let (first, n) = (vertices.len(), ring.0.len());
            vertices.extend(&ring.0);
            next.extend((0..n).map(|k| first + (k + 1) % n));
            before.extend((0..n).map(|k| first + (k + n - 1) % n));
        }
        let side = |i: usize| -> DVec2 { vertices[next[i]] - vertices[i] };
        let along = (0..vertices.len()).map(|i| side(i).normalize_or_zero()).collect();
        let length = (0..vertices.len()).map(|i| side(i).length()).collect();
        Self { vertices, next, before, along, length }
    }

    pub(super) fn sides(&self) -> usize {
        self.vertices.len()
    }

    fn inwards(&self, side: usize) -> DVec2 {
        self.along[side].perp()
    }

    /// Whether the boundary turns away from the region at a vertex, so that discs can touch it there.
    pub(super) fn is_hollow(&self, vertex: usize) -> bool {
        self.along[self.before[vertex]].perp_dot(self.along[vertex]) < 0.0
    }

    /// Sine of half the angle between the sides of a corner that points outwards.
    pub(super) fn sharpness(&self, vertex: usize) -> f64 {
        let (a, b) = (-self.along[self.before[vertex]], self.along[vertex]);
        (0.5 * (1.0 - a.dot(b))).max(0.0).sqrt()
    }

    pub(super) fn all_sites(&self) -> impl Iterator<Item = usize> + '_ {
        let n = self.sides();
        (0..n).chain((0..n).filter(|&v| self.is_hollow(v)).map(move |v| n + v))
    }

    /// Distance of a point from a site.
    pub(super) fn distance(&self, site: usize, p: DVec2) -> f64 {
        match site.checked_sub(self.sides()) {
            Some(corner) => p.distance(self.vertices[corner]),
            None => {
                let t = (p - self.vertices[site]).dot(self.along[site]).clamp(0.0, self.length[site]);
                p.distance(self.vertices[site] + t * self.along[site])
            }
        }
    }

    /// Where along a site a disc with that middle touches it.
    pub(super) fn foot(&self, site: usize, middle: DVec2) -> f64 {
        match site.checked_sub(self.sides()) {
            Some(corner) => {
                let (m, onwards) = self.fan(corner);
                let d = middle - self.vertices[corner];
                // tan(φ/2) = sin φ / (1 + cos φ)
                let (c, s) = (d.dot(m), d.dot(onwards));
                s / (c.hypot(s) + c)
            }
            None => (middle - self.vertices[site]).dot(self.along[site]),
        }
    }

    /// The middle direction about a hollow corner, and the one square to it onwards.
    fn fan(&self, corner: usize) -> (DVec2, DVec2) {
        let (a, b) = (self.inwards(self.before[corner]), self.inwards(corner));
        // At the tip of a needle the two are nearly opposite, and the sides tell the middle better.
        let sum = if a.dot(b) > 0.0 { a + b } else { self.along[self.before[corner]] - self.along[corner] };
        let m = sum.normalize_or_zero();
        (m, -m.perp())
    }

    /// Range of places along a site.
    fn range(&self, site: usize) -> (f64, f64) {
        match site.checked_sub(self.sides()) {
            Some(corner) => {
                let (m, onwards) = self.fan(corner);
                let end = self.inwards(corner);
                let most = end.dot(onwards) / (1.0 + end.dot(m));
                (-most, most)
            }
            None => (0.0, self.length[site]),
        }
    }

    /// The sites that the greatest discs touch besides this one, along it.
    pub(super) fn facing(&self, site: usize) -> Vec<Stretch> {
        let (low, high) = self.range(site);
        let mut curves: Vec<Curve> = Vec::new();
        for other in self.all_sites() {
            match site.checked_sub(self.sides()) {
                None => self.along_side(site, other, (low, high), &mut curves),
                Some(corner) => self.about_corner(corner, other, (low, high), &mut curves),
            }
        }
        lowest(&curves, low, high)
    }

    /// Radius of the disc that touches a side at `u` and the other site, as a function of `u`.
    fn along_side(&self, side: usize, other: usize, (low, high): (f64, f64), out: &mut Vec<Curve>) {
        let (p, d, n) = (self.vertices[side], self.along[side], self.inwards(side));
        if let Some(corner) = other.checked_sub(self.sides()) {
            // |p + u·d + ρ·n − q| = ρ  →  ρ = ((u − u_q)² + h²) / 2h
            let q = self.vertices[corner] - p;
            let (uq, h) = (q.dot(d), q.dot(n));
            if corner != side && corner != self.next[side] && h > ON {
                let at = [(uq * uq + h * h) / (2.0 * h), -uq / h, 0.5 / h];
                out.push(Curve { of: other, at, low, high });
            }
            return;
        }
        let (q, e, m) = (self.vertices[other], self.along[other], self.inwards(other));
        let turned = 1.0 - m.dot(n);
        // No disc touches both sides of a hollow corner but the ones that touch the corner.
        let across = |a: usize, b: usize| self.next[a] == b && self.is_hollow(b);
        if other == side || turned < ON || across(side, other) || across(other, side) {
            return;
        }
        // m·(p + u·d + ρ·n − q) = ρ, and the foot on the other side at t = (p + u·d + ρ·n − q)·e.
        let rho = [m.dot(p - q) / turned, m.dot(d) / turned];
        let foot = [(p - q).dot(e) + rho[0] * n.dot(e), d.dot(e) + rho[1] * n.dot(e)];
        let bounds = [
            [rho[0] + ON, rho[1], 0.0],
            [foot[0] + BEYOND, foot[1], 0.0],
            [self.length[other] + BEYOND - foot[0], -foot[1], 0.0],
        ];
        push_within(other, [rho[0], rho[1], 0.0], &bounds, (low, high), out);
    }

    /// −1/radius of the disc that touches a hollow corner and the other site, times 1 + u²: for all sites the same factor, so
    /// the lowest is the least disc, and the curve is a parabola.
    fn about_corner(&self, corner: usize, other: usize, (low, high): (f64, f64), out: &mut Vec<Curve>) {
        let v = self.vertices[corner];
        // a + b·d, times 1 + u², for the direction d at u.
        let (m, onwards) = self.fan(corner);
        let linear = |a: f64, b: DVec2| [a + b.dot(m), 2.0 * b.dot(onwards), a - b.dot(m)];
        if let Some(to) = other.checked_sub(self.sides()) {
            // |v + ρ·d − q| = ρ  →  1/ρ = 2·d·(q − v) / |q − v|²
            let q = self.vertices[to] - v;
            if to != corner && q.length_squared() > ON {
                out.push(Curve { of: other, at: linear(0.0, q * (-2.0 / q.length_squared())), low, high });
            }
            return;
        }
        let (q, e, n) = (self.vertices[other], self.along[other], self.inwards(other));
        let k = n.dot(v - q);
        if other == corner || other == self.before[corner] || k < ON {
            return;
        }
        // n·(v + ρ·d − q) = ρ  →  1/ρ = (1 − n·d) / k; its foot at t = t₀ + ρ·d·e, both bounds times 1/ρ.
        let t0 = (v - q).dot(e);
        let bound = |room: f64, sign: f64| linear(room, -room * n + sign * k * e);
        let bounds = [bound(t0 + BEYOND, 1.0), bound(self.length[other] + BEYOND - t0, -1.0)];
        push_within(other, linear(-1.0 / k, n / k), &bounds, (low, high), out);
    }

    /// The greatest disc that touches a site at `u`, given the other site that it touches.
    pub(super) fn disc(&self, site: usize, other: usize, u: f64) -> Disc {
        let (start, direction) = match site.checked_sub(self.sides()) {
            Some(corner) => {
                let (m, onwards) = self.fan(corner);
                (self.vertices[corner], ((1.0 - u * u) * m + 2.0 * u * onwards) / (1.0 + u * u))
            }
            None => (self.vertices[site] + u * self.along[site], self.inwards(site)),
        };
        let radius = match other.checked_sub(self.sides()) {
            Some(corner) => {
                let q = self.vertices[corner] - start;
                q.length_squared() / (2.0 * direction.dot(q))
            }
            None => {
                let n = self.inwards(other);
                n.dot(start - self.vertices[other]) / (1.0 - n.dot(direction))
            }
        };
        let radius = radius.max(0.0);
        Disc { at: start + radius * direction, radius }
    }
}

/// The curve wherever none of the bounds is below 0.
fn push_within(of: usize, at: [f64; 3], bounds: &[[f64; 3]], (low, high): (f64, f64), out: &mut Vec<Curve>) {
    let mut parts = vec![(low, high)];
    for bound in bounds {
        parts = parts.into_iter().flat_map(|(a, b)| not_below(bound, a, b)).collect();
    }
    out.extend(parts.into_iter().map(|(low, high)| Curve { of, at, low, high }));
}
