//! Values on a square lattice.

use glam::DVec2;
use std::ops::Range;

/// Values at the nodes `origin + pitch · (ix, iy)`, row by row (`values[iy * nx + ix]`).
#[derive(Clone, Debug, PartialEq)]
pub struct Grid<T> {
    /// Node (0, 0).
    pub origin: DVec2,
    /// Distance of nodes, mm.
    pub pitch: f64,
    /// Nodes along X.
    pub nx: usize,
    /// Nodes along Y.
    pub ny: usize,
    /// The values.
    pub values: Vec<T>,
}

impl<T: Clone> Grid<T> {
    /// All nodes alike.
    pub fn filled(origin: DVec2, pitch: f64, nx: usize, ny: usize, value: T) -> Self {
        Self { origin, pitch, nx, ny, values: vec![value; nx * ny] }
    }

    /// All nodes alike, on a lattice that covers the box `min`–`max`.
    pub fn covering(min: DVec2, max: DVec2, pitch: f64, value: T) -> Self {
        let n = ((max - min) / pitch).ceil().max(DVec2::ZERO);
        Self::filled(min, pitch, n.x as usize + 1, n.y as usize + 1, value)
    }
}

impl<T> Grid<T> {
    /// Where node (ix, iy) lies.
    pub fn at(&self, ix: usize, iy: usize) -> DVec2 {
        self.origin + DVec2::new(ix as f64, iy as f64) * self.pitch
    }

    /// Index into `values`.
    pub fn index(&self, ix: usize, iy: usize) -> usize {
        iy * self.nx + ix
    }

    /// The value at node (ix, iy), if there is such a node.
    pub fn get(&self, ix: usize, iy: usize) -> Option<&T> {
        if ix < self.nx { self.values.get(iy * self.nx + ix) } else { None }
    }

    /// The nodes within the box `min`–`max` (its border included): their range along X and along Y.
    pub fn nodes_in(&self, min: DVec2, max: DVec2) -> (Range<usize>, Range<usize>) {
        let range = |low: f64, high: f64, n: usize| {
            let from = low.ceil().clamp(0.0, n as f64) as usize;
            let to = (high.floor() + 1.0).clamp(0.0, n as f64) as usize;
            from..to.max(from)
        };
        let (a, b) = ((min - self.origin) / self.pitch, (max - self.origin) / self.pitch);
        (range(a.x, b.x, self.nx), range(a.y, b.y, self.ny))
    }

    /// The node nearest to `p`; beyond the border the nearest one on it. `None` for a grid without nodes.
    pub fn nearest(&self, p: DVec2) -> Option<(usize, usize)> {
        let q = ((p - self.origin) / self.pitch).round();
        let along = |v: f64, n: usize| (v.max(0.0) as usize).min(n - 1);
        (self.nx > 0 && self.ny > 0).then(|| (along(q.x, self.nx), along(q.y, self.ny)))
    }
}

impl<T: Copy + Into<f64>> Grid<T> {
    /// The value at `p`, linear between the four nodes around it; `None` outside the lattice. A node of weight 0 does not
    /// count, so infinite neighbours do no harm on a node.
    pub fn sample(&self, p: DVec2) -> Option<f64> {
        let q = (p - self.origin) / self.pitch;
        let inside = q.x >= 0.0 && q.y >= 0.0 && q.x <= self.nx as f64 - 1.0 && q.y <= self.ny as f64 - 1.0;
        if !inside {
            return None;
        }
        let (ix, iy) = ((q.x as usize).min(self.nx - 1), (q.y as usize).min(self.ny - 1));
        let (u, v) = (q.x - ix as f64, q.y - iy as f64);
        let mut sum = 0.0;
        for (dx, dy, weight) in
            [(0, 0, (1.0 - u) * (1.0 - v)), (1, 0, u * (1.0 - v)), (0, 1, (1.0 - u) * v), (1, 1, u * v)]
        {
            if weight > 0.0 {
                sum += weight * self.values[self.index(ix + dx, iy + dy)].into();
            }
        }
        Some(sum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> Grid<f32> {
        let mut g = Grid::filled(DVec2::new(-1.0, 2.0), 0.5, 5, 4, 0.0_f32);
        for iy in 0..g.ny {
            for ix in 0..g.nx {
                let (p, i) = (g.at(ix, iy), g.index(ix, iy));
                g.values[i] = (2.0 * p.x - 3.0 * p.y) as f32;
            }
        }
        g
    }

    #[test]
    fn a_plane_is_sampled_exactly() {
        let g = ramp();
        for p in [DVec2::new(-1.0, 2.0), DVec2::new(1.0, 3.5), DVec2::new(0.13, 2.71)] {
            let z = g.sample(p).unwrap();
            assert!((z - (2.0 * p.x - 3.0 * p.y)).abs() < 1e-5, "{p}: {z}");
        }
        assert_eq!(g.sample(DVec2::new(1.01, 3.0)), None);
        assert_eq!(g.sample(DVec2::new(0.0, 1.99)), None);
        assert_eq!(g.sample(DVec2::new(f64::NAN, 2.0)), None);
    }

    #[test]
    fn nodes_in_a_box_are_those_inside() {
        let g = ramp();
        assert_eq!(g.nodes_in(DVec2::new(-0.6, 2.4), DVec2::new(0.5, 9.0)), (1..4, 1..4));
        assert_eq!(g.nodes_in(DVec2::splat(50.0), DVec2::splat(60.0)), (5..5, 4..4));
        assert_eq!(g.nearest(DVec2::new(0.2, -7.0)), Some((2, 0)));
    }
}
