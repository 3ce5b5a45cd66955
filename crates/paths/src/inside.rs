//! Quick answers to whether a point lies in a region: most of the plane is decided cell by cell.

use geom::{DVec2, Region};

/// What a cell of the lattice is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Cell {
    Out,
    In,
    /// The boundary comes near: ask the region.
    Edge,
}

/// A region with its cells.
#[derive(Clone, Debug)]
pub(crate) struct Inside<'a> {
    region: &'a Region,
    origin: DVec2,
    pitch: f64,
    nx: usize,
    ny: usize,
    cells: Vec<Cell>,
}

impl<'a> Inside<'a> {
    pub(crate) fn new(region: &'a Region, pitch: f64) -> Self {
        let Some((lo, hi)) = region.bounds() else {
            return Self { region, origin: DVec2::ZERO, pitch, nx: 0, ny: 0, cells: Vec::new() };
        };
        let origin = lo - DVec2::splat(pitch);
        let count = ((hi - lo) / pitch).ceil();
        let (nx, ny) = (count.x as usize + 3, count.y as usize + 3);
        let mut inside = Self { region, origin, pitch, nx, ny, cells: vec![Cell::Out; nx * ny] };
        inside.fill();
        inside.mark_edges();
        inside
    }

    /// Every cell by its middle.
    fn fill(&mut self) {
        for iy in 0..self.ny {
            let y = self.origin.y + (iy as f64 + 0.5) * self.pitch;
            let mut crossings: Vec<(f64, i32)> = Vec::new();
            for (a, b) in self.region.rings.iter().flat_map(|r| r.sides()) {
                if (a.y <= y) != (b.y <= y) {
                    let x = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
                    crossings.push((x, if b.y > a.y { -1 } else { 1 }));
                }
            }
            crossings.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (mut winding, mut next) = (0, 0);
            for ix in 0..self.nx {
                let x = self.origin.x + (ix as f64 + 0.5) * self.pitch;
                while next < crossings.len() && crossings[next].0 <= x {
                    winding += crossings[next].1;
                    next += 1;
                }
                self.cells[iy * self.nx + ix] = if winding > 0 { Cell::In } else { Cell::Out };
            }
        }
    }

    /// All cells that the boundary enters, and their neighbours.
    fn mark_edges(&mut self) {
        for (a, b) in self.region.rings.iter().flat_map(|r| r.sides()) {
            let n = (a.distance(b) / (0.5 * self.pitch)).ceil().max(1.0) as usize;
            for k in 0..=n {
                let at = (a.lerp(b, k as f64 / n as f64) - self.origin) / self.pitch;
                let (cx, cy) = (at.x as usize, at.y as usize);
                for iy in cy.saturating_sub(1)..(cy + 2).min(self.ny) {
                    for ix in cx.saturating_sub(1)..(cx + 2).min(self.nx) {
                        self.cells[iy * self.nx + ix] = Cell::Edge;
                    }
                }
            }
        }
    }

    /// Whether the point lies in the region.
    pub(crate) fn contains(&self, p: DVec2) -> bool {
        let at = (p - self.origin) / self.pitch;
        if !(at.x >= 0.0 && at.y >= 0.0 && at.x < self.nx as f64 && at.y < self.ny as f64) {
            return false;
        }
        match self.cells[at.y as usize * self.nx + at.x as usize] {
            Cell::In => true,
            Cell::Out => false,
            Cell::Edge => self.region.contains(p),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_as_the_region_does() {
        let ring = Region::disc(DVec2::new(3.0, 2.0), 25.0, 0.01).minus(&Region::disc(DVec2::new(0.0, 5.0), 7.3, 0.01));
        let inside = Inside::new(&ring, 0.6);
        let mut count = 0;
        for i in 0..20000 {
            let p = DVec2::new(-30.0 + 0.443 * (i % 150) as f64, -30.0 + 0.451 * (i / 150) as f64);
            assert_eq!(inside.contains(p), ring.contains(p), "{p}");
            count += usize::from(ring.contains(p));
        }
        assert!(count > 5000);
        assert!(!Inside::new(&Region::default(), 1.0).contains(DVec2::ZERO));
    }
}
