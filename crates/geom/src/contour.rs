//! Level sets of a grid.
//!
//! Marching squares: each cell of four nodes holds at most two stretches of the boundary. Where opposite corners agree
//! and neighbours do not, the value at the saddle of the bilinear surface decides what is joined.

use crate::{Grid, Region, Ring};
use glam::DVec2;
use std::ops::Range;

/// Cells per side of a tile.
const TILE: usize = 16;

/// The region where the grid's value lies below `level` (linear between nodes; outside the grid counts as above).
/// NaN nodes count as above.
pub fn below(grid: &Grid<f64>, level: f64) -> Region {
    Levels::new(grid).below(level)
}

/// A grid made ready for many level sets: only tiles of cells whose values lie on both sides of a level are looked at.
pub struct Levels<'a> {
    field: Field<'a>,
    /// Least and greatest value on the nodes of each tile of cells, row by row.
    tiles: Vec<(f64, f64)>,
}

impl<'a> Levels<'a> {
    /// Of a grid.
    pub fn new(grid: &'a Grid<f64>) -> Self {
        let field = Field { grid };
        let (across, up) = field.tiles();
        let range = |tile: usize| {
            let (xs, ys) = field.cells_of(tile);
            let mut range = (f64::INFINITY, f64::NEG_INFINITY);
            for y in ys.start..=ys.end {
                for x in xs.start..=xs.end {
                    let v = field.value(x, y);
                    range = (range.0.min(v), range.1.max(v));
                }
            }
            range
        };
        let tiles = (0..across * up).map(range).collect();
        Self { field, tiles }
    }

    /// The region where the grid's value lies below `level`, as [`below`] gives it.
    pub fn below(&self, level: f64) -> Region {
        let field = &self.field;
        let mut steps = Vec::new();
        for (tile, (lo, hi)) in self.tiles.iter().enumerate() {
            if *lo < level && *hi >= level {
                field.steps(level, tile, &mut steps);
            }
        }
        field.trace(level, steps)
    }
}

/// The grid with a border of infinitely high nodes around it; node (1, 1) is the grid's (0, 0).
struct Field<'a> {
    grid: &'a Grid<f64>,
}

impl Field<'_> {
    /// Tiles across and up.
    fn tiles(&self) -> (usize, usize) {
        ((self.grid.nx + 1).div_ceil(TILE), (self.grid.ny + 1).div_ceil(TILE))
    }

    /// Columns and rows of a tile's cells.
    fn cells_of(&self, tile: usize) -> (Range<usize>, Range<usize>) {
        let (x, y) = (tile % self.tiles().0 * TILE, tile / self.tiles().0 * TILE);
        (x..(x + TILE).min(self.grid.nx + 1), y..(y + TILE).min(self.grid.ny + 1))
    }

    fn width(&self) -> usize {
        self.grid.nx + 2
    }

    fn value(&self, x: usize, y: usize) -> f64 {
        let outside = x == 0 || y == 0 || x > self.grid.nx || y > self.grid.ny;
        let v = if outside { f64::INFINITY } else { self.grid.values[(y - 1) * self.grid.nx + x - 1] };
        if v.is_nan() { f64::INFINITY } else { v }
    }

    fn at(&self, x: usize, y: usize) -> DVec2 {
        self.grid.origin + DVec2::new(x as f64 - 1.0, y as f64 - 1.0) * self.grid.pitch
    }

    /// For each lattice edge of a tile that the boundary crosses, the edge it crosses next (the region on its left).
    /// Edge 2n leaves node n to the right, edge 2n + 1 upwards.
    fn steps(&self, level: f64, tile: usize, steps: &mut Vec<(u32, u32)>) {
        let w = self.width();
        let (xs, ys) = self.cells_of(tile);
        for y in ys {
            for x in xs.clone() {
                let v = [self.value(x, y), self.value(x + 1, y), self.value(x + 1, y + 1), self.value(x, y + 1)];
                let n = y * w + x;
                // Bottom, right, top, left.
                let edges = [2 * n, 2 * (n + 1) + 1, 2 * (n + w), 2 * n + 1];
                let step = |(from, to): (usize, usize)| (edges[from] as u32, edges[to] as u32);
                steps.extend(stretches(level, v).into_iter().flatten().map(step));
            }
        }
    }

    /// Where the boundary crosses a lattice edge.
    fn point(&self, level: f64, edge: u32) -> DVec2 {
        let (n, up) = (edge as usize / 2, edge as usize % 2);
        let (x, y) = (n % self.width(), n / self.width());
        let (p, q) = (self.at(x, y), self.at(x + 1 - up, y + up));
        let (a, b) = (self.value(x, y), self.value(x + 1 - up, y + up));
        let t = match (a.is_finite(), b.is_finite()) {
            (true, true) => ((level - a) / (b - a)).clamp(0.0, 1.0),
            (true, false) => 0.0,
            (false, true) => 1.0,
            (false, false) => 0.5,
        };
        p + (q - p) * t
    }

    /// The rings that steps from edge to edge make up: each begins at the first of its edges.
    fn trace(&self, level: f64, mut steps: Vec<(u32, u32)>) -> Region {
        steps.sort_unstable();
        let mut gone = vec![false; steps.len()];
        let mut rings = Vec::new();
        for start in 0..steps.len() {
            let mut points: Vec<DVec2> = Vec::new();
            let mut at = start;
            while !std::mem::replace(&mut gone[at], true) {
                let (edge, next) = steps[at];
                let p = self.point(level, edge);
                if points.last() != Some(&p) {
                    points.push(p);
                }
                let Ok(step) = steps.binary_search_by_key(&next, |step| step.0) else { break };
                at = step;
            }
            while points.len() > 1 && points.first() == points.last() {
                points.pop();
            }
            let ring = Ring(points);
            if ring.0.len() > 2 && ring.area() != 0.0 {
                rings.push(ring);
            }
        }
        Region { rings }
    }
}

/// Stretches of the boundary in a cell as (side of entry, side of exit). Corners run counter-clockwise from the
/// lower left; side k joins corner k to corner k + 1.
fn stretches(level: f64, v: [f64; 4]) -> [Option<(usize, usize)>; 2] {
    let low = v.map(|v| v < level);
    // With the region on its left the boundary enters through the side where a walk counter-clockwise round the
    // corners turns from low to high.
    let mut enter = [0; 2];
    let mut count = 0;
    for k in 0..4 {
        if low[k] && !low[(k + 1) % 4] {
            enter[count] = k;
            count += 1;
        }
    }
    // Exit on the way back: the side where the same run of low corners began.
    let begin = |side: usize| (1..4).map(|k| (side + 4 - k) % 4).find(|&k| !low[k]);
    // Exit on the way ahead: the side where the next run of low corners begins.
    let ahead = |side: usize| (1..4).map(|k| (side + k) % 4).find(|&k| low[(k + 1) % 4]);
    match count {
        0 => [None, None],
        1 => [begin(enter[0]).map(|to| (enter[0], to)), None],
        _ if saddle_is_low(level, v) => enter.map(|e| ahead(e).map(|to| (e, to))),
        _ => enter.map(|e| begin(e).map(|to| (e, to))),
    }
}

fn saddle_is_low(level: f64, v: [f64; 4]) -> bool {
    let saddle = (v[0] * v[2] - v[1] * v[3]) / (v[0] + v[2] - v[1] - v[3]);
    saddle < level
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn grid(nx: usize, ny: usize, pitch: f64, f: impl Fn(DVec2) -> f64) -> Grid<f64> {
        let origin = -DVec2::new(nx as f64 - 1.0, ny as f64 - 1.0) * pitch / 2.0;
        let mut g = Grid::filled(origin, pitch, nx, ny, 0.0);
        for iy in 0..ny {
            for ix in 0..nx {
                let i = g.index(ix, iy);
                g.values[i] = f(g.at(ix, iy));
            }
        }
        g
    }

    #[test]
    fn a_ring_has_an_outer_and_an_inner_boundary() {
        let g = grid(201, 181, 0.1, |p| (p.length() - 6.0).abs());
        let r = below(&g, 2.0);
        assert_eq!(r.rings.len(), 2);
        let mut areas: Vec<f64> = r.rings.iter().map(Ring::area).collect();
        areas.sort_by(f64::total_cmp);
        assert!((areas[0] + PI * 16.0).abs() < 0.02, "{areas:?}");
        assert!((areas[1] - PI * 64.0).abs() < 0.02, "{areas:?}");
        assert!(r.rings.iter().flat_map(|r| &r.0).all(|p| ((p.length() - 6.0).abs() - 2.0).abs() < 2e-3));
    }

    #[test]
    fn what_reaches_the_border_is_closed_along_it() {
        let r = below(&grid(11, 6, 1.0, |_| 0.0), 1.0);
        assert_eq!(r.rings.len(), 1);
        assert_eq!(r.area(), 50.0);
        assert_eq!(below(&grid(11, 6, 1.0, |_| 1.0), 1.0), Region::default());
    }

    #[test]
    fn a_plane_is_cut_exactly() {
        let r = below(&grid(21, 21, 0.5, |p| p.x + 0.25 * p.y), 0.1);
        // Left of x = 0.1 − y/4 in a square of side 10.
        assert!((r.area() - 51.0).abs() < 1e-9);
    }

    #[test]
    fn saddles_follow_the_bilinear_surface() {
        let two = |middle: f64| {
            // Opposite corners low; the values of the others put the saddle below or above the level.
            let values = vec![0.0, middle, middle, 0.0];
            below(&Grid { origin: DVec2::ZERO, pitch: 1.0, nx: 2, ny: 2, values }, 1.0).rings.len()
        };
        assert_eq!(two(1.5), 1); // saddle 0.75
        assert_eq!(two(4.0), 2); // saddle 2
    }

    #[test]
    fn not_a_number_and_infinity_count_as_above() {
        let mut g = grid(5, 5, 1.0, |_| 0.0);
        g.values[12] = f64::NAN;
        g.values[0] = f64::INFINITY;
        let r = below(&g, 1.0);
        assert!(r.rings.iter().flat_map(|r| &r.0).all(|p| p.is_finite()));
        assert!((r.area() - (16.0 - 2.0 - 0.5)).abs() < 1e-9, "{}", r.area());
        g.values = vec![f64::NEG_INFINITY; 25];
        assert!(below(&g, 1.0).rings.iter().flat_map(|r| &r.0).all(|p| p.is_finite()));
    }
}
