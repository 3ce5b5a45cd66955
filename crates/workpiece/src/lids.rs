//! Lids: over each small block of columns an inclined plane that no top stands above.
//!
//! Most of what lies under a finishing cutter is where it should be already. The envelope of a move is a convex
//! function of the plan (the least over time of a convex function of place and time), so it lies above each of its own
//! tangent planes; where such a plane clears a block's lid the move cannot cut there, and its columns need not be
//! looked at. Inclined lids follow slopes, so that this tells even where the cutter rolls along a steep wall.

/// Columns of a block along each side.
pub(crate) const SIDE: usize = 8;

/// A lid counts as cleared from this height on, mm: far above the rounding of heights held in `f32`.
pub(crate) const CLEAR: f64 = 1e-4;

/// A plane: height at a point, rise per length along x and y.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plane {
    pub(crate) z: f64,
    pub(crate) x: f64,
    pub(crate) y: f64,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Lid {
    /// Height over the block's middle.
    z: f32,
    pub(crate) x: f32,
    pub(crate) y: f32,
    /// No top of the block stands above this.
    pub(crate) highest: f32,
    /// Whether columns sank since: the lid still holds, but a lower one would, too.
    stale: bool,
}

/// The lids of a band.
pub(crate) struct Lids {
    nx: usize,
    across: usize,
    pitch: f64,
    lids: Vec<Lid>,
    /// The blocks side by side that may be cut by the move at hand.
    pub(crate) open: Vec<usize>,
    /// Of all blocks side by side: were they.
    pub(crate) hit: Vec<bool>,
}

impl Lids {
    pub(crate) fn new(hi: &[f32], nx: usize, pitch: f64) -> Self {
        let across = nx.div_ceil(SIDE);
        let down = (hi.len() / nx).div_ceil(SIDE);
        let lids = (0..across * down).map(|block| lid(hi, nx, (block % across, block / across), pitch)).collect();
        Self { nx, across, pitch, lids, open: Vec::new(), hit: vec![false; across] }
    }

    /// Offset of a block's middle from the centre of its first column.
    pub(crate) fn middle(&self) -> f64 {
        (SIDE as f64 - 1.0) / 2.0 * self.pitch
    }

    /// Whether any top of the block may stand above a height.
    #[inline(always)]
    pub(crate) fn stands_above(&self, block: (usize, usize), height: f32) -> bool {
        self.lids[block.1 * self.across + block.0].highest > height
    }

    /// Whether something that stays above the plane (given over the block's middle) may still lower the block.
    #[inline(always)]
    pub(crate) fn may_sink(&self, block: (usize, usize), under: impl FnOnce() -> Plane) -> bool {
        let lid = &self.lids[block.1 * self.across + block.0];
        let under = under();
        let tilt = (under.x - f64::from(lid.x)).abs() + (under.y - f64::from(lid.y)).abs();
        if tilt == 0.0 && lid.x == 0.0 && lid.y == 0.0 {
            // On a level floor nothing is rounded but the height itself: a floor cut once is not looked at again.
            return (under.z as f32) < lid.z;
        }
        under.z - tilt * self.middle() - CLEAR < f64::from(lid.z)
    }

    /// After a move has been through the open blocks of a row of them: a lid is fitted anew once nothing sinks under it
    /// any more.
    pub(crate) fn settle(&mut self, hi: &[f32], down: usize) {
        for &across in &self.open {
            let at = down * self.across + across;
            if std::mem::take(&mut self.hit[across]) {
                self.lids[at].stale = true;
            } else if self.lids[at].stale {
                self.lids[at] = lid(hi, self.nx, (across, down), self.pitch);
            }
        }
    }
}

/// Fits a lid: inclined as the block's corners are, and just high enough.
pub(crate) fn lid(hi: &[f32], nx: usize, block: (usize, usize), pitch: f64) -> Lid {
    let columns = block.0 * SIDE..((block.0 + 1) * SIDE).min(nx);
    let rows = || hi.chunks_exact(nx).skip(block.1 * SIDE).take(SIDE).map(|row| &row[columns.clone()]);
    let (Some(first), Some(last)) = (rows().next(), rows().next_back()) else {
        return Lid { z: f32::NEG_INFINITY, x: 0.0, y: 0.0, highest: f32::NEG_INFINITY, stale: false };
    };
    let (wide, deep) = ((columns.len() - 1) as f32, (rows().len() - 1) as f32);
    let (a, b, c, d) = (first[0], first[columns.len() - 1], last[0], last[columns.len() - 1]);
    let step = |rise: f32, n: f32| if n > 0.0 && rise.is_finite() { rise / (2.0 * n) } else { 0.0 };
    let (x, y) = (step((b - a) + (d - c), wide), step((c - a) + (d - b), deep));
    let middle = (SIDE as f32 - 1.0) / 2.0;
    let (mut z, mut highest) = (f32::NEG_INFINITY, f32::NEG_INFINITY);
    for (j, row) in rows().enumerate() {
        let base = (j as f32 - middle) * y;
        for (i, top) in row.iter().enumerate() {
            let over = top - base - (i as f32 - middle) * x;
            z = if over > z { over } else { z };
            highest = if *top > highest { *top } else { highest };
        }
    }
    Lid { z, x: x / pitch as f32, y: y / pitch as f32, highest, stale: false }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_top_stands_above_its_lid() {
        let (nx, pitch) = (21, 0.1);
        let height = |k: usize| {
            let (x, y) = (k % nx, k / nx);
            if k % 37 == 5 { f32::NEG_INFINITY } else { 3.0 + 0.2 * x as f32 - 0.1 * y as f32 + (k as f32).sin() }
        };
        let hi: Vec<f32> = (0..nx * 20).map(height).collect();
        let lids = Lids::new(&hi, nx, pitch);
        let mut met = 0;
        for (k, top) in hi.iter().enumerate() {
            let (ix, iy) = (k % nx, k / nx);
            let lid = &lids.lids[iy / SIDE * lids.across + ix / SIDE];
            let along = |i: usize| ((i % SIDE) as f64 * pitch - lids.middle()) as f32;
            assert!(*top <= lid.z + along(ix) * lid.x + along(iy) * lid.y + 1e-5);
            met += 1;
        }
        assert_eq!(met, 420);
    }

    #[test]
    fn an_inclined_face_has_a_close_lid() {
        let nx = 16;
        let hi: Vec<f32> = (0..nx * 8).map(|k| 0.05 * (k % nx) as f32).collect();
        let lids = Lids::new(&hi, nx, 0.1);
        let over = |z: f64| Plane { z, x: 0.5, y: 0.0 };
        assert!(!lids.may_sink((0, 0), || over(0.175 + 0.001)) && lids.may_sink((0, 0), || over(0.175 - 0.001)));
        assert!(lids.may_sink((0, 0), || Plane { z: 0.3, x: 0.0, y: 0.0 }));
    }
}
