//! Values on a square lattice.

use glam::DVec2;

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
}
