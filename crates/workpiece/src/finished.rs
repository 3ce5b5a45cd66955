//! The finished piece as it is drawn, before any of it is made: for a look at it, never for a verdict.

use crate::pour::Pour;
use crate::{Blank, Workpiece};
use geom::{DVec2, Mesh, TriangleIndex};
use rayon::prelude::*;

/// Sides of the cells by which triangles are found, in pitches.
const CELL: f64 = 8.0;

impl Workpiece {
    /// The piece cut out of its blank, rim up, with the resin of each cast where its solid lies. Between its lowest and its
    /// highest point over a place it is taken as solid.
    pub fn finished(blank: &Blank, piece: &Mesh, casts: &[&Mesh], pitch: f64) -> Self {
        let mut work = Self::new(blank, pitch);
        let (lo, hi) = work.stretches(piece);
        work.pours = casts
            .iter()
            .enumerate()
            .map(|(cast, resin)| {
                let (from, to) = work.stretches(resin);
                Pour { cast: cast as u16, from, to }
            })
            .collect();
        (work.lo, work.hi) = (lo, hi);
        work
    }

    /// Lowest and highest point of a solid in each column; upside down where there is none.
    fn stretches(&self, solid: &Mesh) -> (Vec<f32>, Vec<f32>) {
        let index = TriangleIndex::new(solid, CELL * self.pitch);
        (0..self.nx * self.ny)
            .into_par_iter()
            .map(|at| {
                let [x, y] = self.at(at % self.nx, at / self.nx);
                let crossed = index.crossings(solid, DVec2::new(x, y));
                let least = crossed.iter().map(|c| c.0).fold(f64::INFINITY, f64::min);
                let most = crossed.iter().map(|c| c.0).fold(f64::NEG_INFINITY, f64::max);
                (least as f32, most as f32)
            })
            .unzip()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BlankBoard, Material};
    use geom::DVec3;

    /// A box with a box-shaped hollow, and a bar of resin across it: volumes by hand.
    #[test]
    fn volumes_are_those_of_the_solids() {
        let board = BlankBoard { min: [-50.0, -40.0, -2.0], max: [50.0, 40.0, 40.0], wood: "ash".into() };
        let cuboid = |a: [f64; 3], b: [f64; 3]| Mesh::cuboid(DVec3::from_array(a), DVec3::from_array(b));
        let outer = cuboid([-40.0, -30.0, 0.0], [40.0, 30.0, 30.0]);
        let piece = outer.minus(&cuboid([-34.0, -24.0, 8.0], [34.0, 24.0, 31.0])).unwrap();
        let bar = cuboid([-10.0, -45.0, 4.0], [10.0, 45.0, 35.0]).common(&piece).unwrap();
        let work = Workpiece::finished(&Blank { boards: vec![board] }, &piece, &[&bar], 0.5);
        let volumes = work.volumes();
        let of = |m: Material| volumes.iter().find(|(found, _)| *found == m).map_or(0.0, |v| v.1);
        // Under the hollow the bar is 4 mm thick, in the two walls 26.
        let resin = 20.0 * (48.0 * 4.0 + 12.0 * 26.0);
        let whole = 80.0 * 60.0 * 30.0 - 68.0 * 48.0 * 22.0;
        assert!((of(Material::Resin(0)) / resin - 1.0).abs() < 0.01, "{volumes:?} {resin}");
        assert!((of(Material::Board(0)) / (whole - resin) - 1.0).abs() < 0.01, "{volumes:?}");
    }
}
