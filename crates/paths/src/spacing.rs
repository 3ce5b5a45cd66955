//! How far apart neighbouring paths may lie for a scallop, on the real slope and curvature of the surface.

use geom::{DVec2, Grid};

/// Ground as tight as this, as the tip's radius over that of its middle's way, is a crease, in which the tip rests on both sides: it
/// counts as no tighter than `CREASED`.
const CREASE: f64 = 2.95;
const CREASED: f64 = 1.0;
/// Round ground counts as no rounder than this share of what turning about an edge would be.
const ROUNDEST: f64 = 0.75;

/// The cutter's tip as it leaves scallops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tip {
    /// Greatest scallop, mm.
    pub(crate) scallop: f64,
    /// Radius that makes it; 0 for a square end.
    pub(crate) radius: f64,
    /// Width of the flat in the middle, mm.
    pub(crate) flat: f64,
}

/// Slope and curvature at a node of the lattice.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Shape {
    /// Gradient of the tip's height.
    pub(crate) gradient: DVec2,
    /// Curvature along the gradient (or the greatest at level places), above 0 where hollow, 1/mm.
    pub(crate) hollow: f64,
}

impl Shape {
    /// Tangent of the slope.
    pub(crate) fn steepness(&self) -> f64 {
        self.gradient.length()
    }
}

impl Tip {
    /// Whether ground of this curvature is a crease.
    pub(crate) fn is_crease(&self, hollow: f64) -> bool {
        self.radius * hollow >= CREASE
    }

    /// Distance of neighbouring tips on the surface, across the path, where the tips' own surface has curvature `hollow`.
    ///
    /// Two circles of radius r with centres d apart leave r − √(r² − d²/4); where the centres lie on an arc of radius ρ
    /// (hollow), d²/8ρ more; where it is round, as much less, for the surface rises between them. Creases are
    /// not let set the distance for everything else that is cut with them: there the scallop may grow to twice. Over an edge, where
    /// the tip turns about a line and leaves nothing, the distance is at most doubled.
    pub(crate) fn distance(&self, hollow: f64) -> f64 {
        let h = self.scallop.min(self.radius);
        let tight = self.radius * hollow;
        let tight = if self.is_crease(hollow) { CREASED } else { tight.max(-ROUNDEST) };
        2.0 * (h * (2.0 * self.radius - h) / (1.0 + tight)).max(0.0).sqrt()
    }

    /// Scallop left by tips `d` apart on the surface.
    pub(crate) fn left(&self, d: f64, hollow: f64) -> f64 {
        let half = 0.5 * d;
        if half >= self.radius {
            return self.radius;
        }
        (self.radius - (self.radius * self.radius - half * half).sqrt() + d * d / 8.0 * hollow).max(0.0)
    }

    /// Step in plan across a path with tangent `along`.
    pub(crate) fn step(&self, shape: &Shape, along: DVec2) -> f64 {
        let g = shape.steepness();
        if self.flat > 0.0 && g < 0.005 {
            // Level: the flat of the cutter leaves no scallop.
            return 0.7 * self.flat + self.distance(0.0);
        }
        if self.radius <= 0.0 {
            return (self.scallop / (g / (1.0 + g * g).sqrt())).min(0.7 * self.flat);
        }
        self.distance(shape.hollow) / widening(shape, along)
    }

    /// Scallop left by a step in plan.
    pub(crate) fn left_by_step(&self, step: f64, shape: &Shape, along: DVec2) -> f64 {
        let g = shape.steepness();
        if self.flat > 0.0 && g < 0.005 {
            return if step <= self.flat { 0.0 } else { self.left(step - self.flat, 0.0) };
        }
        if self.radius <= 0.0 {
            return step * g / (1.0 + g * g).sqrt();
        }
        self.left(step * widening(shape, along), shape.hollow)
    }
}

/// Distance on the surface per distance in plan, across a path.
fn widening(shape: &Shape, along: DVec2) -> f64 {
    let g = shape.steepness();
    let t = shape.gradient.dot(along);
    ((1.0 + g * g) / (1.0 + t * t)).sqrt()
}

/// Slopes and curvatures of a lattice of heights by central differences; NaN gradient where a neighbour is missing.
pub(crate) fn shapes(heights: &Grid<f64>) -> Grid<Shape> {
    let (nx, ny, pitch) = (heights.nx, heights.ny, heights.pitch);
    let void = Shape { gradient: DVec2::NAN, hollow: 0.0 };
    let mut out = Grid::filled(heights.origin, pitch, nx, ny, void);
    for iy in 1..ny.saturating_sub(1) {
        for ix in 1..nx.saturating_sub(1) {
            let z = |dx: usize, dy: usize| heights.values[(iy + dy - 1) * nx + ix + dx - 1];
            if (0..9).any(|k| !z(k % 3, k / 3).is_finite()) {
                continue;
            }
            let gradient = DVec2::new(z(2, 1) - z(0, 1), z(1, 2) - z(1, 0)) / (2.0 * pitch);
            let xx = (z(2, 1) - 2.0 * z(1, 1) + z(0, 1)) / (pitch * pitch);
            let yy = (z(1, 2) - 2.0 * z(1, 1) + z(1, 0)) / (pitch * pitch);
            let xy = (z(2, 2) - z(0, 2) - z(2, 0) + z(0, 0)) / (4.0 * pitch * pitch);
            let g2 = gradient.length_squared();
            let second = if g2 > 1e-4 {
                (gradient.x * gradient.x * xx + 2.0 * gradient.x * gradient.y * xy + gradient.y * gradient.y * yy) / g2
            } else {
                0.5 * (xx + yy) + (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt()
            };
            out.values[iy * nx + ix] = Shape { gradient, hollow: second / (1.0 + g2).powf(1.5) };
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scallops_between_circles() {
        let tip = Tip { scallop: 0.02, radius: 3.0, flat: 0.0 };
        // Two circles of radius 3: the cusp lies on the perpendicular bisector of their centres.
        let d = tip.distance(0.0);
        assert!((3.0 - (9.0 - d * d / 4.0_f64).sqrt() - 0.02).abs() < 1e-12);
        assert!((tip.left(d, 0.0) - 0.02).abs() < 1e-12);
        // In a round hollow of radius 20 the centres lie on radius 17; the cusp's depth follows from the two triangles.
        let d = tip.distance(1.0 / 17.0);
        let half = d / 2.0;
        let cusp = (17.0_f64 * 17.0 - half * half).sqrt() + (9.0 - half * half).sqrt();
        let scallop = 20.0 - cusp;
        assert!((scallop - 0.02).abs() < 2e-4, "{scallop}");
    }

    #[test]
    fn shapes_of_a_sphere() {
        let mut heights = Grid::filled(DVec2::splat(-8.0), 0.4, 41, 41, 0.0);
        for iy in 0..41 {
            for ix in 0..41 {
                let p = heights.at(ix, iy);
                heights.values[iy * 41 + ix] = -(400.0 - p.length_squared()).sqrt();
            }
        }
        let shapes = shapes(&heights);
        for (ix, iy) in [(20, 20), (30, 20), (8, 12)] {
            let p = shapes.at(ix, iy);
            let s = shapes.values[iy * 41 + ix];
            let tan = p.length() / (400.0 - p.length_squared()).sqrt();
            assert!((s.steepness() - tan).abs() < 1e-3);
            assert!((s.hollow - 0.05).abs() < 1e-4, "{}", s.hollow);
        }
        assert!(shapes.values[0].gradient.is_nan());
    }
}
