//! The stock as a strategy sees it: tops on a coarse lattice, never lower than they are, cut down as the moves are made.

use crate::contact::Underside;
use geom::{DVec2, Grid};
use rayon::prelude::*;

/// Coarse pitch aimed at, mm.
const PITCH: f64 = 0.5;
/// Stock standing no more than this above a level is as good as gone, mm.
pub(crate) const GONE: f64 = 0.02;

/// Tops of square cells; each is the highest top within its cell.
#[derive(Clone, Debug)]
pub(crate) struct Stock {
    tops: Grid<f32>,
    /// Half a cell's diagonal.
    half: f64,
}

/// How far the nearest stock above a level is, in plan.
#[derive(Clone, Debug)]
pub(crate) struct Standing {
    distance: Grid<f64>,
}

impl Stock {
    pub(crate) fn new(tops: &Grid<f32>) -> Self {
        let factor = (PITCH / tops.pitch).round().max(1.0) as usize;
        let (nx, ny) = (tops.nx.div_ceil(factor), tops.ny.div_ceil(factor));
        let shift = 0.5 * (factor as f64 - 1.0) * tops.pitch;
        let pitch = tops.pitch * factor as f64;
        let mut coarse = Grid::filled(tops.origin + DVec2::splat(shift), pitch, nx, ny, f32::NEG_INFINITY);
        for iy in 0..tops.ny {
            for ix in 0..tops.nx {
                let top = &mut coarse.values[(iy / factor) * nx + ix / factor];
                *top = top.max(tops.values[iy * tops.nx + ix]);
            }
        }
        Self { tops: coarse, half: pitch * std::f64::consts::FRAC_1_SQRT_2 }
    }

    /// Range of indices whose nodes lie within `r` of `v` along one axis.
    fn range(&self, lo: f64, hi: f64, k: usize) -> std::ops::Range<usize> {
        let n = if k == 0 { self.tops.nx } else { self.tops.ny };
        let at = |v: f64| (v - self.tops.origin[k]) / self.tops.pitch;
        let (a, b) = (at(lo).ceil().max(0.0), at(hi).floor() + 1.0);
        (a as usize).min(n)..(b.max(0.0) as usize).min(n)
    }

    /// Highest stock within `r` of a point, `-inf` where there is none.
    pub(crate) fn top_near(&self, p: DVec2, r: f64) -> f64 {
        let r = r + self.half;
        let mut top = f32::NEG_INFINITY;
        for iy in self.range(p.y - r, p.y + r, 1) {
            for ix in self.range(p.x - r, p.x + r, 0) {
                let value = self.tops.values[iy * self.tops.nx + ix];
                if value > top && self.tops.at(ix, iy).distance_squared(p) <= r * r {
                    top = value;
                }
            }
        }
        f64::from(top)
    }

    /// Takes away what the cutter sweeps on a straight move; only cells swept whole are lowered.
    pub(crate) fn cut(&mut self, from: [f64; 3], to: [f64; 3], under: &Underside) {
        let (a, b) = (DVec2::new(from[0], from[1]), DVec2::new(to[0], to[1]));
        let z = from[2].max(to[2]);
        let least = z as f32;
        let r = under.radius;
        let along = b - a;
        let scale = along.length_squared();
        let (lo, hi) = (a.min(b) - DVec2::splat(r), a.max(b) + DVec2::splat(r));
        for iy in self.range(lo.y, hi.y, 1) {
            for ix in self.range(lo.x, hi.x, 0) {
                let i = iy * self.tops.nx + ix;
                // What lies below the move is not cut, wherever it lies.
                if self.tops.values[i] <= least {
                    continue;
                }
                let p = self.tops.at(ix, iy);
                let t = if scale > 0.0 { ((p - a).dot(along) / scale).clamp(0.0, 1.0) } else { 0.0 };
                let d = p.distance(a + along * t) + self.half;
                if d <= r {
                    let top = &mut self.tops.values[i];
                    *top = top.min((z + under.rise(d)) as f32);
                }
            }
        }
    }

    /// Distances from the stock that stands above `z`, known as far as `margin` outside the lattice.
    pub(crate) fn standing(&self, z: f64, margin: f64) -> Standing {
        let pitch = self.tops.pitch;
        let pad = (margin / pitch).ceil() as usize + 1;
        let (nx, ny) = (self.tops.nx + 2 * pad, self.tops.ny + 2 * pad);
        let limit = (z + GONE) as f32;
        let mut stands = vec![false; nx * ny];
        for iy in 0..self.tops.ny {
            for ix in 0..self.tops.nx {
                stands[(iy + pad) * nx + ix + pad] = self.tops.values[iy * self.tops.nx + ix] > limit;
            }
        }
        let gaps = distances(nx, ny, &stands);
        let origin = self.tops.origin - DVec2::splat(pad as f64 * pitch);
        let mut distance = Grid::filled(origin, pitch, nx, ny, 0.0);
        for (d, gap) in distance.values.iter_mut().zip(gaps) {
            *d = (gap * pitch - self.half).max(0.0);
        }
        Standing { distance }
    }
}

/// Distance of every node of a lattice from the nearest marked one, in pitches, exact: along the rows first, then across.
pub(crate) fn distances(nx: usize, ny: usize, marked: &[bool]) -> Vec<f64> {
    let far = ((nx * nx + ny * ny) as f64).sqrt() + 1.0;
    let mut rows = vec![far; nx * ny];
    rows.par_chunks_mut(nx.max(1)).zip(marked.par_chunks(nx.max(1))).for_each(|(row, marked)| {
        let mut gap = far;
        for (d, &m) in row.iter_mut().zip(marked) {
            gap = if m { 0.0 } else { gap + 1.0 };
            *d = gap.min(far);
        }
        gap = far;
        for d in row.iter_mut().rev() {
            gap = if *d == 0.0 { 0.0 } else { gap + 1.0 };
            *d = d.min(gap);
        }
    });
    let column = |ix: usize| nearest(&(0..ny).map(|iy| rows[iy * nx + ix]).collect::<Vec<_>>());
    let columns: Vec<Vec<f64>> = (0..nx).into_par_iter().map(column).collect();
    rows.par_chunks_mut(nx.max(1)).enumerate().for_each(|(iy, row)| {
        row.iter_mut().zip(&columns).for_each(|(d, column)| *d = column[iy]);
    });
    rows
}

/// For each place on a line the least of √(f² + distance²): lower envelope of parabolas (Felzenszwalb and Huttenlocher 2012).
fn nearest(f: &[f64]) -> Vec<f64> {
    let n = f.len();
    let mut apex = vec![0_usize; n];
    let mut from = vec![f64::NEG_INFINITY; n];
    let mut k = 0;
    for q in 1..n {
        loop {
            let p = apex[k];
            let (fq, fp) = (f[q] * f[q] + (q * q) as f64, f[p] * f[p] + (p * p) as f64);
            let s = (fq - fp) / (2.0 * (q as f64 - p as f64));
            if s <= from[k] && k > 0 {
                k -= 1;
            } else {
                k += 1;
                (apex[k], from[k]) = (q, s);
                break;
            }
        }
    }
    let count = k + 1;
    let mut k = 0;
    (0..n)
        .map(|q| {
            while k + 1 < count && from[k + 1] < q as f64 {
                k += 1;
            }
            let d = q as f64 - apex[k] as f64;
            (d * d + f[apex[k]] * f[apex[k]]).sqrt()
        })
        .collect()
}

impl Standing {
    /// Distance of the nearest standing stock from a point, never too great.
    pub(crate) fn distance(&self, p: DVec2) -> f64 {
        let g = &self.distance;
        let at = (p - g.origin) / g.pitch;
        if !(at.x >= 0.0 && at.y >= 0.0 && at.x < g.nx as f64 - 1.0 && at.y < g.ny as f64 - 1.0) {
            return f64::INFINITY;
        }
        let (ix, iy) = (at.x as usize, at.y as usize);
        let (u, v) = (at.x - ix as f64, at.y - iy as f64);
        let f = |dx: usize, dy: usize| g.values[(iy + dy) * g.nx + ix + dx];
        (f(0, 0) * (1.0 - u) + f(1, 0) * u) * (1.0 - v) + (f(0, 1) * (1.0 - u) + f(1, 1) * u) * v
    }

    /// The distances themselves.
    pub(crate) fn grid(&self) -> &Grid<f64> {
        &self.distance
    }

    /// Whether anything stands at all.
    pub(crate) fn any(&self) -> bool {
        self.distance.values.contains(&0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use trade::cutter::{Form, Solid};

    fn flat(diameter: f64) -> Underside {
        let solid = Solid {
            form: Form::Flat,
            diameter,
            flute_length: 20.0,
            neck_diameter: diameter,
            neck_length: 20.0,
            shank_diameter: diameter,
            stickout: 30.0,
            holder: Vec::new(),
        };
        Underside::new(&solid, 0.0)
    }

    #[test]
    fn distances_agree_with_a_search_over_all_cells() {
        let mut tops = Grid::filled(DVec2::new(-10.0, -8.0), 0.5, 41, 33, -5.0_f32);
        for (ix, iy) in [(3, 4), (30, 8), (31, 9), (12, 32)] {
            tops.values[iy * 41 + ix] = 1.0;
        }
        let stock = Stock::new(&tops);
        let standing = stock.standing(0.0, 6.0);
        let grid = standing.grid();
        for iy in 0..grid.ny {
            for ix in 0..grid.nx {
                let p = grid.at(ix, iy);
                let want = [(3, 4), (30, 8), (31, 9), (12, 32)]
                    .iter()
                    .map(|&(a, b)| tops.at(a, b).distance(p) - 0.25 * 2.0_f64.sqrt())
                    .fold(f64::INFINITY, f64::min)
                    .max(0.0);
                assert!((grid.values[iy * grid.nx + ix] - want).abs() < 1e-9);
            }
        }
        assert!(standing.any() && !stock.standing(2.0, 1.0).any());
    }

    #[test]
    fn a_cut_never_takes_more_than_the_cutter_swept() {
        let tops = Grid::filled(DVec2::ZERO, 0.1, 300, 200, 0.0_f32);
        let mut stock = Stock::new(&tops);
        stock.cut([8.0, 10.0, -2.0], [20.0, 10.0, -3.0], &flat(6.0));
        assert_eq!(stock.top_near(DVec2::new(14.0, 10.0), 1.0), -2.0);
        assert_eq!(stock.top_near(DVec2::new(14.0, 13.2), 0.0), 0.0);
        assert_eq!(stock.top_near(DVec2::new(14.0, 60.0), 1.0), f64::NEG_INFINITY);
    }
}
