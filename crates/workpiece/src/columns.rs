//! The columns themselves.

use crate::pour::Pour;
use crate::{Blank, Face, Material, Sunk};
use rayon::prelude::*;

/// Share of a column's width by which a blank may miss a whole number of columns and still count as whole: rounding.
const WHOLE: f64 = 1e-6;

/// The simulated workpiece at one moment. Cells are point samples at cell centres; heights in mm, `f32`.
#[derive(Clone, Debug, PartialEq)]
pub struct Workpiece {
    /// Distance of columns, mm.
    pub(crate) pitch: f64,
    /// Columns along X.
    pub(crate) nx: usize,
    /// Columns along Y.
    pub(crate) ny: usize,
    /// Underside of each column, row by row; `+inf` where the column is empty.
    pub(crate) lo: Vec<f32>,
    /// Top of each column; `-inf` where the column is empty.
    pub(crate) hi: Vec<f32>,
    /// Which face of the piece looks up.
    pub(crate) face_up: Face,
    /// The boards.
    pub(crate) blank: Blank,
    /// Poured resins.
    pub(crate) pours: Vec<Pour>,
}

/// A board as one row of columns meets it: (index, first x, last x, underside, top) in the workpiece's frame.
type Crossed = (u16, f64, f64, f64, f64);

impl Workpiece {
    /// A fresh blank, rim face up. The lattice covers the blank's bounds, symmetric about the origin.
    pub fn new(blank: &Blank, pitch: f64) -> Self {
        let (min, max) = blank.bounds();
        let count = |k: usize| {
            let reach = min[k].abs().max(max[k].abs());
            if reach.is_finite() { ((2.0 * reach / pitch - WHOLE).ceil() as usize).max(1) } else { 1 }
        };
        let (nx, ny) = (count(0), count(1));
        let mut fresh = Self {
            pitch,
            nx,
            ny,
            lo: vec![f32::INFINITY; nx * ny],
            hi: vec![f32::NEG_INFINITY; nx * ny],
            face_up: Face::Rim,
            blank: blank.clone(),
            pours: Vec::new(),
        };
        for iy in 0..ny {
            let crossed: Vec<Crossed> = fresh.boards_at(fresh.y(iy)).collect();
            for (_, from, to, bottom, top) in crossed {
                for ix in 0..nx {
                    let x = fresh.x(ix);
                    if x >= from && x <= to {
                        let at = iy * nx + ix;
                        fresh.lo[at] = fresh.lo[at].min(bottom as f32);
                        fresh.hi[at] = fresh.hi[at].max(top as f32);
                    }
                }
            }
        }
        fresh
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
        [self.x(ix), self.y(iy)]
    }

    /// The column whose cell holds the point, `None` off the lattice.
    pub fn nearest(&self, at: [f64; 2]) -> Option<(usize, usize)> {
        let index = |v: f64, n: usize| {
            let i = (v / self.pitch + (n as f64 - 1.0) / 2.0).round();
            (i >= 0.0 && i < n as f64).then_some(i as usize)
        };
        Some((index(at[0], self.nx)?, index(at[1], self.ny)?))
    }

    /// Which face looks up.
    pub fn face_up(&self) -> Face {
        self.face_up
    }

    /// The blank it was made from.
    pub fn blank(&self) -> &Blank {
        &self.blank
    }

    /// Solid stretch (lo, hi) of a column, `None` if it is empty.
    pub fn column(&self, ix: usize, iy: usize) -> Option<(f32, f32)> {
        let at = iy * self.nx + ix;
        (self.lo[at] < self.hi[at]).then(|| (self.lo[at], self.hi[at]))
    }

    /// Material at a point of the workpiece's frame.
    ///
    /// The point takes the material of the column whose cell it lies in.
    pub fn material(&self, at: [f64; 3]) -> Material {
        let Some((ix, iy)) = self.nearest([at[0], at[1]]) else { return Material::Air };
        match self.column(ix, iy) {
            Some((lo, hi)) if at[2] >= f64::from(lo) && at[2] <= f64::from(hi) => self.label(ix, iy, at[2]),
            _ => Material::Air,
        }
    }

    /// The column as segments from the bottom up: (from, to, material), touching each other.
    pub fn segments(&self, ix: usize, iy: usize) -> Vec<(f32, f32, Material)> {
        let Some((lo, hi)) = self.column(ix, iy) else { return Vec::new() };
        let at = iy * self.nx + ix;
        let x = self.x(ix);
        let mut marks = vec![lo, hi];
        for (_, from, to, bottom, top) in self.boards_at(self.y(iy)) {
            if x >= from && x <= to {
                marks.extend([bottom as f32, top as f32]);
            }
        }
        marks.extend(self.pours.iter().flat_map(|p| [p.from[at], p.to[at]]));
        marks.retain(|&z| z >= lo && z <= hi);
        marks.sort_by(f32::total_cmp);
        let mut segments: Vec<(f32, f32, Material)> = Vec::new();
        for pair in marks.windows(2).filter(|pair| pair[0] < pair[1]) {
            let middle = 0.5 * (f64::from(pair[0]) + f64::from(pair[1]));
            let material = self.label(ix, iy, middle);
            match segments.last_mut() {
                Some(last) if last.2 == material => last.1 = pair[1],
                _ => segments.push((pair[0], pair[1], material)),
            }
        }
        segments
    }

    /// Turns it over about X.
    pub fn flip(&mut self) {
        let nx = self.nx;
        turn_over(&mut self.lo, &mut self.hi, nx);
        for pour in &mut self.pours {
            turn_over(&mut pour.from, &mut pour.to, nx);
        }
        self.face_up = match self.face_up {
            Face::Rim => Face::Foot,
            Face::Foot => Face::Rim,
        };
    }

    /// Volume of each material, mm³, in order of [`Material`]; materials that are all gone are left out.
    pub fn volumes(&self) -> Vec<(Material, f64)> {
        let boards = self.blank.boards.len();
        let casts = self.pours.iter().map(|p| usize::from(p.cast) + 1).max().unwrap_or(0);
        let rows: Vec<Vec<f64>> = (0..self.ny).into_par_iter().map(|iy| self.row_heights(iy, boards, casts)).collect();
        let mut sums = vec![0.0; boards + casts];
        for row in &rows {
            sums.iter_mut().zip(row).for_each(|(sum, part)| *sum += part);
        }
        let cell = self.pitch * self.pitch;
        let name = |i: usize| if i < boards { Material::Board(i as u16) } else { Material::Resin((i - boards) as u16) };
        sums.iter().enumerate().filter(|(_, sum)| **sum > 0.0).map(|(i, sum)| (name(i), sum * cell)).collect()
    }

    /// Lowers a column as a history of this very lattice (every column of it followed) noted it.
    pub fn lower(&mut self, sunk: &Sunk) {
        if let Some(top) = self.hi.get_mut(sunk.column as usize) {
            *top = top.min(sunk.top);
        }
    }

    /// Tops of the columns as a grid, raised by `shift` (to bring them into a program's frame); `-inf` where empty.
    pub fn tops(&self, shift: f64) -> geom::Grid<f32> {
        let origin = geom::DVec2::new(self.x(0), self.y(0));
        let top = |(lo, hi): (&f32, &f32)| if lo < hi { (f64::from(*hi) + shift) as f32 } else { f32::NEG_INFINITY };
        let values = self.lo.iter().zip(&self.hi).map(top).collect();
        geom::Grid { origin, pitch: self.pitch, nx: self.nx, ny: self.ny, values }
    }

    /// The same at `factor` times the pitch (every `factor`-th column), for pictures and coarse questions.
    ///
    /// Where both the factor and a count of columns are even no symmetric choice exists; the columns taken then lie
    /// half a fine pitch before their place.
    pub fn coarser(&self, factor: usize) -> Self {
        let factor = factor.max(1);
        let (nx, first_x) = thinned(self.nx, factor);
        let (ny, first_y) = thinned(self.ny, factor);
        let pick = |values: &[f32]| {
            let rows = (0..ny).map(|iy| (first_y + iy * factor) * self.nx + first_x);
            rows.flat_map(|row| (0..nx).map(move |ix| values[row + ix * factor])).collect::<Vec<f32>>()
        };
        let pours = self.pours.iter();
        Self {
            pitch: self.pitch * factor as f64,
            nx,
            ny,
            lo: pick(&self.lo),
            hi: pick(&self.hi),
            face_up: self.face_up,
            blank: self.blank.clone(),
            pours: pours.map(|p| Pour { cast: p.cast, from: pick(&p.from), to: pick(&p.to) }).collect(),
        }
    }

    /// x of a column's centre.
    pub(crate) fn x(&self, ix: usize) -> f64 {
        (ix as f64 - (self.nx as f64 - 1.0) / 2.0) * self.pitch
    }

    /// y of a column's centre.
    pub(crate) fn y(&self, iy: usize) -> f64 {
        (iy as f64 - (self.ny as f64 - 1.0) / 2.0) * self.pitch
    }

    /// What the column is made of at height `z`, whether or not it still stands there.
    fn label(&self, ix: usize, iy: usize, z: f64) -> Material {
        let at = iy * self.nx + ix;
        let holds = |p: &&Pour| f64::from(p.from[at]) <= z && z <= f64::from(p.to[at]);
        if let Some(pour) = self.pours.iter().rev().find(holds) {
            return Material::Resin(pour.cast);
        }
        // Tops are rounded to f32 and may stand a hair outside the board: take the nearest one.
        let x = self.x(ix);
        let mut best = (f64::INFINITY, Material::Air);
        for (board, from, to, bottom, top) in self.boards_at(self.y(iy)) {
            let away = (bottom - z).max(z - top).max(0.0);
            if x >= from && x <= to && away < best.0 {
                best = (away, Material::Board(board));
            }
        }
        best.1
    }

    /// The boards that a row at `y` of the workpiece's frame crosses.
    fn boards_at(&self, y: f64) -> impl Iterator<Item = Crossed> + '_ {
        let turned = self.face_up == Face::Foot;
        let y = if turned { -y } else { y };
        let boards = self.blank.boards.iter().enumerate().filter(move |(_, b)| y >= b.min[1] && y <= b.max[1]);
        boards.map(move |(i, b)| {
            let (bottom, top) = if turned { (-b.max[2], -b.min[2]) } else { (b.min[2], b.max[2]) };
            (i as u16, b.min[0], b.max[0], bottom, top)
        })
    }

    /// Heights of every material summed along a row, boards first.
    fn row_heights(&self, iy: usize, boards: usize, casts: usize) -> Vec<f64> {
        let mut crossed: Vec<Crossed> = self.boards_at(self.y(iy)).collect();
        crossed.sort_by(|a, b| a.3.total_cmp(&b.3));
        let mut sums = vec![0.0; boards + casts];
        for ix in 0..self.nx {
            let at = iy * self.nx + ix;
            let (lo, hi) = (f64::from(self.lo[at]), f64::from(self.hi[at]));
            if lo >= hi {
                continue;
            }
            for pour in &self.pours {
                sums[boards + usize::from(pour.cast)] += shared((lo, hi), pour.stretch(at));
            }
            let x = self.x(ix);
            let mut bare = lo;
            for &(board, _, _, bottom, top) in crossed.iter().filter(|b| x >= b.1 && x <= b.2) {
                // Side by side boards meet in one line; a column on it belongs to the first.
                let stretch = (bottom.max(lo), top.min(hi));
                if stretch.1 <= bare && bottom < bare {
                    continue;
                }
                bare = bare.max(stretch.1);
                let resin: f64 = self.pours.iter().map(|p| shared(stretch, p.stretch(at))).sum();
                sums[usize::from(board)] += (stretch.1 - stretch.0).max(0.0) - resin;
            }
        }
        sums
    }
}

/// Length that two stretches share.
pub(crate) fn shared(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.1.min(b.1) - a.0.max(b.0)).max(0.0)
}

/// Turns stretches over: rows in reverse, heights with the other sign, tops for undersides.
fn turn_over(from: &mut Vec<f32>, to: &mut Vec<f32>, nx: usize) {
    for values in [&mut *from, &mut *to] {
        let ny = values.len() / nx;
        for iy in 0..ny / 2 {
            let (front, back) = values.split_at_mut((ny - 1 - iy) * nx);
            front[iy * nx..(iy + 1) * nx].swap_with_slice(&mut back[..nx]);
        }
        values.iter_mut().for_each(|z| *z = -*z);
    }
    std::mem::swap(from, to);
}

/// Count and first index of every `factor`-th of `n` places, symmetric where that can be.
pub(crate) fn thinned(n: usize, factor: usize) -> (usize, usize) {
    let mut steps = (n - 1) / factor;
    if factor % 2 == 1 && (n - 1 - steps * factor) % 2 == 1 {
        steps = steps.saturating_sub(1);
    }
    (steps + 1, (n - 1 - steps * factor) / 2)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::BlankBoard;

    pub(crate) fn board(min: [f64; 3], max: [f64; 3]) -> BlankBoard {
        BlankBoard { min, max, wood: "walnut".to_owned() }
    }

    /// One board, centred, from z = `bottom` to z = `top`.
    pub(crate) fn slab(half: f64, bottom: f64, top: f64, pitch: f64) -> Workpiece {
        let boards = vec![board([-half, -half, bottom], [half, half, top])];
        Workpiece::new(&Blank { boards }, pitch)
    }

    /// Two layers of two boards each, joined on x = 0 below and on y = 0 above.
    fn four_boards() -> Blank {
        Blank {
            boards: vec![
                board([-10.0, -8.0, 0.0], [0.0, 8.0, 5.0]),
                board([0.0, -8.0, 0.0], [10.0, 8.0, 5.0]),
                board([-10.0, -8.0, 5.0], [10.0, 0.0, 12.0]),
                board([-10.0, 0.0, 5.0], [10.0, 8.0, 12.0]),
            ],
        }
    }

    #[test]
    fn lattice_is_symmetric_and_covers_the_blank() {
        let w = slab(107.5, 0.0, 50.0, 0.1);
        assert_eq!(w.size(), (2150, 2150));
        assert_eq!(w.at(0, 0)[0], -w.at(2149, 0)[0]);
        assert!((w.at(0, 0)[0] + 107.45).abs() < 1e-9);
        let w = slab(9.05, 0.0, 1.0, 0.1);
        assert_eq!(w.size().0, 181);
        assert_eq!(w.at(90, 90), [0.0, 0.0]);
    }

    #[test]
    fn volumes_of_boards_are_their_boxes() {
        let w = Workpiece::new(&four_boards(), 0.25);
        let volumes = w.volumes();
        let want = [800.0, 800.0, 1120.0, 1120.0];
        assert_eq!(volumes.len(), 4);
        for (i, (material, volume)) in volumes.iter().enumerate() {
            assert_eq!(*material, Material::Board(i as u16));
            assert!((volume - want[i]).abs() < 1e-6, "{i}: {volume}");
        }
    }

    #[test]
    fn a_column_on_a_glue_line_counts_once() {
        // An odd number of columns puts one on x = 0 and one on y = 0.
        let boards = vec![board([-10.5, -8.5, 0.0], [0.0, 8.5, 5.0]), board([0.0, -8.5, 0.0], [10.5, 8.5, 5.0])];
        let w = Workpiece::new(&Blank { boards }, 1.0);
        assert_eq!(w.size(), (21, 17));
        let sum: f64 = w.volumes().iter().map(|v| v.1).sum();
        assert!((sum - 21.0 * 17.0 * 5.0).abs() < 1e-6, "{sum}");
    }

    #[test]
    fn materials_follow_the_flip() {
        let mut w = Workpiece::new(&four_boards(), 0.5);
        let places = [[-4.1, 3.1, 2.0], [4.1, 3.1, 2.0], [4.1, -3.1, 7.0], [4.1, 3.1, 11.0]];
        let before: Vec<Material> = places.iter().map(|p| w.material(*p)).collect();
        assert_eq!(before, [0, 1, 2, 3].map(Material::Board));
        w.flip();
        assert_eq!(w.face_up(), Face::Foot);
        let after: Vec<Material> = places.iter().map(|p| w.material([p[0], -p[1], -p[2]])).collect();
        assert_eq!(before, after);
        assert_eq!(w.material([0.1, 0.1, 1.0]), Material::Air);
        assert_eq!(w.material([11.0, 0.1, -1.0]), Material::Air);
    }

    #[test]
    fn segments_cover_the_column_and_touch() {
        let mut w = Workpiece::new(&four_boards(), 0.5);
        for _ in 0..2 {
            for (ix, iy) in [(0, 0), (20, 16), (39, 31), (5, 20)] {
                let (lo, hi) = w.column(ix, iy).unwrap();
                let segments = w.segments(ix, iy);
                assert_eq!(segments.len(), 2);
                assert_eq!((segments[0].0, segments[1].1), (lo, hi));
                assert_eq!(segments[0].1, segments[1].0);
                assert_ne!(segments[0].2, segments[1].2);
            }
            w.flip();
        }
    }

    #[test]
    fn flip_moves_heights_and_twice_is_nothing() {
        let mut w = slab(5.0, 1.0, 7.0, 0.5);
        w.hi[3] = 2.5;
        w.hi[w.nx + 4] = f32::NEG_INFINITY;
        w.lo[w.nx + 4] = f32::INFINITY;
        let before = w.clone();
        w.flip();
        assert_eq!(w.column(3, w.ny - 1), Some((-2.5, -1.0)));
        assert_eq!(w.column(4, w.ny - 2), None);
        assert_ne!(w, before);
        w.flip();
        let bytes = |v: &[f32]| v.iter().map(|z| z.to_bits()).collect::<Vec<u32>>();
        assert_eq!(bytes(&w.lo), bytes(&before.lo));
        assert_eq!(bytes(&w.hi), bytes(&before.hi));
        assert_eq!(w, before);
    }

    #[test]
    fn coarser_keeps_places_and_volume() {
        let mut w = slab(9.05, 0.0, 4.0, 0.1);
        for iy in 0..w.ny {
            for ix in 0..w.nx {
                w.hi[iy * w.nx + ix] = (4.0 + 0.1 * w.x(ix) - 0.05 * w.y(iy)) as f32;
            }
        }
        let coarse = w.coarser(4);
        assert_eq!(coarse.size(), (46, 46));
        for (ix, iy) in [(0, 0), (22, 7), (45, 45)] {
            let [x, y] = coarse.at(ix, iy);
            let top = f64::from(coarse.column(ix, iy).unwrap().1);
            assert!((top - (4.0 + 0.1 * x - 0.05 * y)).abs() < 1e-5);
        }
        let tops = coarse.tops(-4.0);
        assert!((f64::from(tops.values[0]) - (0.1 * tops.origin.x - 0.05 * tops.origin.y)).abs() < 1e-5);
    }
}
