//! Maps: where in plan which figure of a check stands.

use crate::case::SetupCase;
use crate::motion::Motion;
use geom::Mesh;

/// Cells along the longer side of a map, and the least pitch, mm.
const CELLS: f64 = 180.0;
const FINEST: f64 = 0.5;

/// The figures of a check in plan, the worst of each cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    /// What the cells tell.
    pub title: String,
    /// Unit of the cells.
    pub unit: String,
    /// The check's limit, if the cells tell its own figure.
    pub limit: Option<f64>,
    /// Setup in whose program frame the cells lie; without, the piece's frame, seen from the rim.
    pub setup: Option<String>,
    /// Middle of the first cell, mm.
    pub first: [f64; 2],
    /// Distance of the cells, mm.
    pub pitch: f64,
    /// Cells in a row.
    pub nx: usize,
    /// The figure of each cell, row by row with y rising; `None` where the check looked at nothing.
    pub values: Vec<Option<f32>>,
}

/// Which figure of several in a cell is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shown {
    Greatest,
    Least,
}

/// A map in the making.
#[derive(Clone, Debug)]
pub(crate) struct Painter {
    setup: Option<String>,
    low: [f64; 2],
    pitch: f64,
    nx: usize,
    ny: usize,
    shown: Shown,
    values: Vec<Option<f32>>,
}

impl Painter {
    /// Over the stock of a setup, in the frame of its programs.
    pub(crate) fn over_stock(of: &SetupCase<'_>, shown: Shown) -> Self {
        let (low, high) = (of.setup.stock.min, of.setup.stock.max);
        Self::over(Some(of.setup.id.clone()), [low[0], low[1]], [high[0], high[1]], shown)
    }

    /// Over a model in the frame of the piece.
    pub(crate) fn over_piece(model: &Mesh, shown: Shown) -> Self {
        let (low, high) = model.bounds().unwrap_or_default();
        Self::over(None, [low.x, low.y], [high.x, high.y], shown)
    }

    fn over(setup: Option<String>, low: [f64; 2], high: [f64; 2], shown: Shown) -> Self {
        let [x, y] = [high[0] - low[0], high[1] - low[1]];
        let pitch = (x.max(y) / CELLS).max(FINEST);
        let cells = |length: f64| ((length / pitch).ceil().max(1.0)) as usize;
        let (nx, ny) = (cells(x), cells(y));
        Self { setup, low, pitch, nx, ny, shown, values: vec![None; nx * ny] }
    }

    /// Which cell a place lies in, as an index.
    pub(crate) fn cell(&self, at: [f64; 2]) -> usize {
        let along =
            |k: usize, n: usize| ((at[k] - self.low[k]) / self.pitch).floor().clamp(0.0, n as f64 - 1.0) as usize;
        along(1, self.ny) * self.nx + along(0, self.nx)
    }

    /// Distance of the cells, mm.
    pub(crate) fn pitch(&self) -> f64 {
        self.pitch
    }

    /// How many cells there are.
    pub(crate) fn cells(&self) -> usize {
        self.values.len()
    }

    pub(crate) fn dot(&mut self, at: [f64; 2], value: f64) {
        let cell = self.cell(at);
        self.set(cell, value);
    }

    pub(crate) fn set(&mut self, cell: usize, value: f64) {
        let (value, shown) = (value as f32, self.shown);
        let old = &mut self.values[cell];
        let worse = |old: f32| match shown {
            Shown::Greatest => value > old,
            Shown::Least => value < old,
        };
        if old.is_none_or(worse) {
            *old = Some(value);
        }
    }

    /// All cells under a motion.
    pub(crate) fn motion(&mut self, m: &Motion, value: f64) {
        along(m, self.pitch, |at, _| self.dot(at, value));
    }

    /// The map; none if nothing was painted.
    pub(crate) fn finish(self, title: &str, unit: &str, limit: Option<f64>) -> Option<Map> {
        self.values.iter().any(Option::is_some).then(|| Map {
            title: title.to_owned(),
            unit: unit.to_owned(),
            limit,
            setup: self.setup,
            first: self.low.map(|v| v + self.pitch / 2.0),
            pitch: self.pitch,
            nx: self.nx,
            values: self.values,
        })
    }
}

/// Places along a known motion in plan, half a pitch apart or nearer, each with the share of the motion it stands for.
pub(crate) fn along(m: &Motion, pitch: f64, mut put: impl FnMut([f64; 2], f64)) {
    if !m.is_known() {
        return;
    }
    let length = (m.to[0] - m.from[0]).hypot(m.to[1] - m.from[1]);
    let n = (length / (0.5 * pitch)).ceil().max(1.0);
    for i in 0..n as usize {
        let t = (i as f64 + 0.5) / n;
        let at = |k: usize| m.from[k] + t * (m.to[k] - m.from[k]);
        put([at(0), at(1)], 1.0 / n);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_shows_the_worst_and_places_outside_go_to_its_edge() {
        for (shown, wanted) in [(Shown::Greatest, 3.0), (Shown::Least, 1.0)] {
            let mut painter = Painter::over(None, [-10.0, 0.0], [10.0, 5.0], shown);
            [2.0, 3.0, 1.0].into_iter().for_each(|v| painter.dot([-9.9, 0.1], v));
            painter.dot([99.0, 99.0], 7.0);
            let map = painter.finish("wall", "mm", Some(2.0)).unwrap();
            assert_eq!((map.values[0], *map.values.last().unwrap()), (Some(wanted), Some(7.0)));
            assert_eq!((map.nx, map.values.len()), (40, 40 * 10));
            assert_eq!(map.first, [-9.75, 0.25]);
            assert_eq!(map.values.iter().flatten().count(), 2);
        }
        assert!(Painter::over(None, [0.0; 2], [400.0; 2], Shown::Least).finish("", "", None).is_none());
    }
}
