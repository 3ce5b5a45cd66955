//! The ground a pour runs over: flooding, lips, edges.

use crate::{Workpiece, spans};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Columns, and around them a ring of nothing.
pub(crate) struct Ground<'a> {
    workpiece: &'a Workpiece,
    /// Per column and one more all round: whether the dam holds it in; `None` without a dam.
    inside: Option<Vec<bool>>,
}

/// What a flood reached.
pub(crate) struct Wet {
    /// Flooded columns, ascending.
    pub(crate) columns: Vec<usize>,
    /// Flooded columns beside an edge over which it runs off, ascending.
    pub(crate) leaks: Vec<usize>,
    /// Lowest flooded column beside the dam, if it came there.
    pub(crate) lowest_at_dam: Option<usize>,
}

/// What lies beside a column.
enum Beside {
    Column(usize),
    /// Nothing: off the lattice or an empty column.
    Edge,
    /// Beyond the dam.
    Dam,
}

impl<'a> Ground<'a> {
    pub(crate) fn new(workpiece: &'a Workpiece, dam: Option<&geom::Region>) -> Self {
        let wide = workpiece.nx + 2;
        let inside = dam.map(|region| {
            let mut inside = vec![false; wide * (workpiece.ny + 2)];
            for (row, places) in inside.chunks_mut(wide).enumerate() {
                let pitch = workpiece.pitch;
                let y = workpiece.y(0) + (row as f64 - 1.0) * pitch;
                spans::mark(region, y, workpiece.x(0) - pitch, pitch, places);
            }
            inside
        });
        Self { workpiece, inside }
    }

    pub(crate) fn is_solid(&self, at: usize) -> bool {
        self.workpiece.lo[at] < self.workpiece.hi[at]
    }

    fn top(&self, at: usize) -> f32 {
        self.workpiece.hi[at]
    }

    fn beside(&self, at: usize) -> [Beside; 4] {
        let (nx, ny) = (self.workpiece.nx, self.workpiece.ny);
        let (ix, iy) = (at % nx, at / nx);
        // Places of the widened lattice, one more to each side.
        [(ix, iy + 1), (ix + 2, iy + 1), (ix + 1, iy), (ix + 1, iy + 2)].map(|(wx, wy)| {
            if self.inside.as_ref().is_some_and(|inside| !inside[wy * (nx + 2) + wx]) {
                return Beside::Dam;
            }
            let on_lattice = (1..=nx).contains(&wx) && (1..=ny).contains(&wy);
            let next = if on_lattice { (wy - 1) * nx + wx - 1 } else { 0 };
            if on_lattice && self.is_solid(next) { Beside::Column(next) } else { Beside::Edge }
        })
    }

    fn is_inside(&self, at: usize) -> bool {
        let nx = self.workpiece.nx;
        self.inside.as_ref().is_none_or(|inside| inside[(at / nx + 1) * (nx + 2) + at % nx + 1])
    }

    /// All columns below `level` that the flood reaches from `start`, side by side.
    pub(crate) fn flood(&self, start: usize, level: f32) -> Wet {
        let mut wet = Wet { columns: Vec::new(), leaks: Vec::new(), lowest_at_dam: None };
        if self.top(start) >= level || !self.is_inside(start) {
            return wet;
        }
        let mut seen = vec![false; self.workpiece.hi.len()];
        seen[start] = true;
        let mut open = vec![start];
        while let Some(at) = open.pop() {
            let mut leaks = false;
            for beside in self.beside(at) {
                match beside {
                    Beside::Column(next) if self.top(next) < level && !seen[next] => {
                        seen[next] = true;
                        open.push(next);
                    }
                    Beside::Column(_) => {}
                    Beside::Edge => leaks = true,
                    Beside::Dam => {
                        let lowest = wet.lowest_at_dam.into_iter().chain([at]);
                        wet.lowest_at_dam = lowest.min_by_key(|&at| (order(self.top(at)), at));
                    }
                }
            }
            if leaks {
                wet.leaks.push(at);
            }
        }
        wet.columns = (0..seen.len()).filter(|at| seen[*at]).collect();
        wet.leaks.sort_unstable();
        wet
    }

    /// The lowest level at which a flood from `start` spills: over an edge, or, with a dam, to where the dam stands.
    /// The least, over all ways out, of the highest column on the way.
    ///
    /// Columns are taken lowest first; those no higher than the level reached so far need no queue.
    pub(crate) fn lip(&self, start: usize) -> f32 {
        let mut seen = vec![false; self.workpiece.hi.len()];
        seen[start] = true;
        let mut queue = BinaryHeap::from([Reverse((order(self.top(start)), start))]);
        let mut level = f32::NEG_INFINITY;
        let mut open = Vec::new();
        while let Some(Reverse((_, lowest))) = queue.pop() {
            level = level.max(self.top(lowest));
            open.push(lowest);
            while let Some(at) = open.pop() {
                for beside in self.beside(at) {
                    match beside {
                        Beside::Column(next) if !seen[next] => {
                            seen[next] = true;
                            if self.top(next) <= level {
                                open.push(next);
                            } else {
                                queue.push(Reverse((order(self.top(next)), next)));
                            }
                        }
                        Beside::Column(_) => {}
                        // A hole within the dam is a leak, not a lip that a dam could raise.
                        Beside::Edge if self.inside.is_some() => {}
                        Beside::Edge | Beside::Dam => return level,
                    }
                }
            }
        }
        f32::INFINITY
    }

    /// The lowest of `columns` (ascending) in each connected stretch of them, corners counted as touching.
    pub(crate) fn places(&self, columns: &[usize]) -> Vec<usize> {
        let nx = self.workpiece.nx;
        let mut todo: Vec<bool> = vec![true; columns.len()];
        let mut places = Vec::new();
        for i in 0..columns.len() {
            if !todo[i] {
                continue;
            }
            todo[i] = false;
            let (mut open, mut lowest) = (vec![columns[i]], columns[i]);
            while let Some(at) = open.pop() {
                if (order(self.top(at)), at) < (order(self.top(lowest)), lowest) {
                    lowest = at;
                }
                let (ix, iy) = (at % nx, at / nx);
                for y in iy.saturating_sub(1)..=iy + 1 {
                    for x in ix.saturating_sub(1)..=(ix + 1).min(nx - 1) {
                        if let Ok(k) = columns.binary_search(&(y * nx + x))
                            && std::mem::take(&mut todo[k])
                        {
                            open.push(columns[k]);
                        }
                    }
                }
            }
            places.push(lowest);
        }
        places
    }

    /// Length of the outer border of `columns`, by Crofton's formula over four directions of lines (rows, columns, both
    /// diagonals): half the sum over directions of angle × distance of the lines × crossings. For a border in all
    /// directions alike its error vanishes; a straight border errs by up to some 5 %.
    pub(crate) fn length_round(&self, columns: &[usize]) -> f64 {
        let Some(box_) = Bounds::of(columns, self.workpiece.nx) else { return 0.0 };
        let filled = box_.without_islands(columns, self.workpiece.nx);
        let (wide, high) = (box_.wide(), box_.high());
        let crossings = |dx: usize, dy: isize| {
            let mut n = 0u64;
            for y in 0..high {
                let Some(other) = y.checked_add_signed(dy).filter(|y| *y < high) else { continue };
                n += (0..wide - dx).filter(|x| filled[y * wide + x] != filled[other * wide + x + dx]).count() as u64;
            }
            n as f64
        };
        let straight = crossings(1, 0) + crossings(0, 1);
        let diagonal = crossings(1, 1) + crossings(1, -1);
        let angle = std::f64::consts::FRAC_PI_4;
        0.5 * angle * self.workpiece.pitch * (straight + diagonal * std::f64::consts::FRAC_1_SQRT_2)
    }

    /// Least distance from the border of the flooded `columns` to nothing: off the lattice or an empty column.
    pub(crate) fn edge_distance(&self, columns: &[usize]) -> f64 {
        let (nx, ny) = (self.workpiece.nx, self.workpiece.ny);
        let mut wet = vec![false; nx * ny];
        columns.iter().for_each(|&at| wet[at] = true);
        let is_border = |at: usize| {
            let dry = |next: Beside| !matches!(next, Beside::Column(next) if wet[next]);
            self.beside(at).into_iter().any(dry)
        };
        let sideways = self.distances_in_rows();
        let in_row =
            |ix: usize, iy: Option<usize>| iy.filter(|iy| *iy < ny).map_or(0.0, |iy| f64::from(sideways[iy * nx + ix]));
        let mut best = f64::INFINITY;
        for &at in columns.iter().filter(|at| is_border(**at)) {
            let (ix, iy) = (at % nx, at / nx);
            let mut away = 0;
            while (away as f64) < best {
                best = best.min(in_row(ix, iy.checked_sub(away)).hypot(away as f64));
                best = best.min(in_row(ix, Some(iy + away)).hypot(away as f64));
                away += 1;
            }
        }
        ((best - 1.0) * self.workpiece.pitch).max(0.0)
    }

    /// For each column how many columns away in its row nothing lies.
    fn distances_in_rows(&self) -> Vec<u32> {
        let nx = self.workpiece.nx;
        let mut all = vec![0u32; self.workpiece.hi.len()];
        for (row, distances) in all.chunks_mut(nx).enumerate() {
            let mut run = 0;
            for (ix, distance) in distances.iter_mut().enumerate() {
                run = if self.is_solid(row * nx + ix) { run + 1 } else { 0 };
                *distance = run;
            }
            let mut run = 0;
            for (ix, distance) in distances.iter_mut().enumerate().rev() {
                run = if self.is_solid(row * nx + ix) { run + 1 } else { 0 };
                *distance = run.min(*distance);
            }
        }
        all
    }
}

/// A whole number in the same order as the height.
fn order(z: f32) -> i32 {
    let bits = z.to_bits() as i32;
    bits ^ (((bits >> 31) as u32) >> 1) as i32
}

/// The box of some columns with one place more on each side.
struct Bounds {
    first_x: usize,
    end_x: usize,
    first_y: usize,
    end_y: usize,
}

impl Bounds {
    fn of(columns: &[usize], nx: usize) -> Option<Self> {
        let first_y = columns.first()? / nx;
        let end_y = columns.last()? / nx + 1;
        let first_x = columns.iter().map(|at| at % nx).min()?;
        let end_x = columns.iter().map(|at| at % nx).max()? + 1;
        Some(Self { first_x, end_x, first_y, end_y })
    }

    fn wide(&self) -> usize {
        self.end_x - self.first_x + 2
    }

    fn high(&self) -> usize {
        self.end_y - self.first_y + 2
    }

    /// The columns and all that they surround, within the box.
    fn without_islands(&self, columns: &[usize], nx: usize) -> Vec<bool> {
        let (wide, high) = (self.wide(), self.high());
        let mut filled = vec![true; wide * high];
        let mut wet = vec![false; wide * high];
        for at in columns {
            wet[(at / nx - self.first_y + 1) * wide + at % nx - self.first_x + 1] = true;
        }
        filled[0] = false;
        let mut open = vec![0];
        while let Some(at) = open.pop() {
            let (x, y) = (at % wide, at / wide);
            for (px, py) in [(x.wrapping_sub(1), y), (x + 1, y), (x, y.wrapping_sub(1)), (x, y + 1)] {
                if px < wide && py < high && filled[py * wide + px] && !wet[py * wide + px] {
                    filled[py * wide + px] = false;
                    open.push(py * wide + px);
                }
            }
        }
        filled
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::slab;

    fn disc(w: &Workpiece, cx: f64, cy: f64, r: f64) -> Vec<usize> {
        let inside = |at: &usize| (w.x(at % w.nx) - cx).hypot(w.y(at / w.nx) - cy) <= r;
        (0..w.hi.len()).filter(inside).collect()
    }

    #[test]
    fn heights_keep_their_order_as_whole_numbers() {
        let heights = [f32::NEG_INFINITY, -3.5, -1e-20, -0.0, 0.0, 1e-20, 2.0, 1e9, f32::INFINITY];
        assert!(heights.windows(2).all(|pair| order(pair[0]) < order(pair[1])));
    }

    #[test]
    fn length_round_a_disc_and_a_square() {
        let w = slab(20.0, 0.0, 1.0, 0.1);
        let ground = Ground::new(&w, None);
        let length = ground.length_round(&disc(&w, 1.0, -2.0, 12.0));
        assert!((length / (24.0 * std::f64::consts::PI) - 1.0).abs() < 0.005, "{length}");
        let square: Vec<usize> =
            (0..w.hi.len()).filter(|at| w.x(at % w.nx).abs() < 8.0 && w.y(at / w.nx).abs() < 8.0).collect();
        let length = ground.length_round(&square);
        assert!((length / 64.0 - 1.0).abs() < 0.06, "{length}");
        // An island within needs no dam.
        let ring: Vec<usize> =
            disc(&w, 0.0, 0.0, 12.0).into_iter().filter(|at| w.x(at % w.nx).hypot(w.y(at / w.nx)) > 5.0).collect();
        let length = ground.length_round(&ring);
        assert!((length / (24.0 * std::f64::consts::PI) - 1.0).abs() < 0.005, "{length}");
    }

    #[test]
    fn edge_distance_of_a_disc() {
        let mut w = slab(20.0, 0.0, 1.0, 0.1);
        let pool = disc(&w, -6.0, 3.0, 10.0);
        assert!((Ground::new(&w, None).edge_distance(&pool) - 4.0).abs() < 0.11);
        // A hole at (6, 12): 15 mm from the disc's centre, so 5 mm from its border less the hole's 1 mm.
        for at in disc(&w, 6.0, 12.0, 1.0) {
            (w.lo[at], w.hi[at]) = (f32::INFINITY, f32::NEG_INFINITY);
        }
        let pool = disc(&w, -6.0, 3.0, 10.0);
        assert!((Ground::new(&w, None).edge_distance(&pool) - 4.0).abs() < 0.15);
        for at in disc(&w, 4.0, 10.5, 1.0) {
            (w.lo[at], w.hi[at]) = (f32::INFINITY, f32::NEG_INFINITY);
        }
        // √(10² + 7.5²) = 12.5.
        assert!((Ground::new(&w, None).edge_distance(&pool) - 1.5).abs() < 0.15);
    }
}
