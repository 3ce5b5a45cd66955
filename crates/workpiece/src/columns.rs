//! The columns themselves.

use crate::{Blank, Face, Material};

/// The simulated workpiece at one moment. Cells are point samples at cell centres; heights in mm, `f32`.
#[derive(Clone, Debug, PartialEq)]
pub struct Workpiece {
    /// Distance of columns, mm.
    pub(crate) pitch: f64,
    /// Columns along X.
    pub(crate) nx: usize,
    /// Columns along Y.
    pub(crate) ny: usize,
    /// Underside of each column, row by row; `hi <= lo` is an empty column.
    pub(crate) lo: Vec<f32>,
    /// Top of each column.
    pub(crate) hi: Vec<f32>,
    /// Which face of the piece looks up.
    pub(crate) face_up: Face,
    /// The boards.
    pub(crate) blank: Blank,
    /// Poured resins.
    pub(crate) pours: Vec<crate::pour::Pour>,
}

impl Workpiece {
    /// A fresh blank, rim face up. The lattice covers the blank's bounds, symmetric about the origin.
    pub fn new(blank: &Blank, pitch: f64) -> Self {
        let _ = (blank, pitch);
        todo!()
    }

    /// Distance of columns, mm.
    pub fn pitch(&self) -> f64 {
        self.pitch
    }

    /// Columns along X and Y.
    pub fn size(&self) -> (usize, usize) {
        (self.nx, self.ny)
    }

    /// Centre of column (ix, iy) in the workpiece's frame.
    pub fn at(&self, ix: usize, iy: usize) -> [f64; 2] {
        let _ = (ix, iy);
        todo!()
    }

    /// Which face looks up.
    pub fn face_up(&self) -> Face {
        self.face_up
    }

    /// Solid stretch (lo, hi) of a column, `None` if it is empty.
    pub fn column(&self, ix: usize, iy: usize) -> Option<(f32, f32)> {
        let _ = (ix, iy);
        todo!()
    }

    /// Material at a point of the workpiece's frame.
    pub fn material(&self, at: [f64; 3]) -> Material {
        let _ = at;
        todo!()
    }

    /// The column as segments from the bottom up: (from, to, material), touching each other.
    pub fn segments(&self, ix: usize, iy: usize) -> Vec<(f32, f32, Material)> {
        let _ = (ix, iy);
        todo!()
    }

    /// Turns it over about X.
    pub fn flip(&mut self) {
        todo!()
    }

    /// Volume of each material, mm³, in order of [`Material`].
    pub fn volumes(&self) -> Vec<(Material, f64)> {
        todo!()
    }

    /// Tops of the columns as a grid, raised by `shift` (to bring them into a program's frame); `-inf` where empty.
    pub fn tops(&self, shift: f64) -> geom::Grid<f32> {
        let _ = shift;
        todo!()
    }

    /// The same at `factor` times the pitch (every `factor`-th column), for pictures and coarse questions.
    pub fn coarser(&self, factor: usize) -> Self {
        let _ = factor;
        todo!()
    }
}
