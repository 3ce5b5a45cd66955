//! What must not touch: neck, shank and holder against standing material.

use crate::band::Band;
use crate::cut::Clearances;
use crate::sweep::{Track, rise};
use trade::cutter::Solid;

/// Columns of a block along each side.
pub(crate) const BLOCK: usize = 16;

/// A cylinder about the axis that must stay clear.
#[derive(Clone, Copy, Debug)]
struct Part {
    /// Its radius and the clearance around it.
    reach: f64,
    /// Height above the tip at which it begins.
    start: f64,
    holder: bool,
}

/// Neck, shank and holder with their clearances.
#[derive(Clone, Debug)]
pub(crate) struct Guard {
    parts: Vec<Part>,
}

impl Guard {
    pub(crate) fn new(cutter: &Solid, clearances: Clearances) -> Self {
        let mut parts = Vec::new();
        let mut add = |diameter: f64, clearance: f64, start: f64, holder: bool| {
            let part = Part { reach: diameter / 2.0 + clearance, start, holder };
            // Within the path of the edges nothing is left standing higher than their underside.
            let swept = part.reach <= cutter.radius() && rise(cutter, part.reach.max(0.0)) <= start;
            if !swept && part.reach > 0.0 {
                parts.push(part);
            }
        };
        if cutter.neck_length > cutter.flute_length {
            add(cutter.neck_diameter, clearances.shank, cutter.flute_length, false);
        }
        add(cutter.shank_diameter, clearances.shank, cutter.neck_length.max(cutter.flute_length), false);
        let mut start = cutter.stickout;
        for part in &cutter.holder {
            add(part.diameter, clearances.holder, start, true);
            start += part.length;
        }
        Self { parts }
    }

    /// Farthest any of them reaches from the axis.
    pub(crate) fn reach(&self) -> f64 {
        self.parts.iter().fold(0.0, |most, part| most.max(part.reach))
    }

    /// Height above the tip from which anything is guarded.
    pub(crate) fn lowest_start(&self) -> f64 {
        self.parts.iter().fold(f64::INFINITY, |least, part| least.min(part.start))
    }

    /// Greatest rise of standing material above the start of (neck or shank, holder) during a move.
    pub(crate) fn rise(&self, band: &Band, tops: &mut Tops, track: &Track) -> (f32, f32) {
        let (mut shank, mut holder) = (0.0f32, 0.0f32);
        for part in &self.parts {
            let most = if part.holder { &mut holder } else { &mut shank };
            part.rise(band, tops, track, most);
        }
        (shank, holder)
    }
}

impl Part {
    /// Raises `most` to the greatest rise of material above the part's start.
    fn rise(&self, band: &Band, tops: &mut Tops, track: &Track, most: &mut f32) {
        let level = (track.lowest() + self.start) as f32;
        if tops.most <= level + *most {
            return;
        }
        let (low, high) = track.rows(self.reach);
        let (first_row, end_row) = band.row_range(track.y0 + low, track.y0 + high);
        let end_x = track.ux * track.length;
        let (from, to) = (track.x0 + end_x.min(0.0) - self.reach, track.x0 + end_x.max(0.0) + self.reach);
        let (first, end) = band.column_range(from, to);
        if first_row >= end_row || first >= end {
            return;
        }
        for block_y in first_row / BLOCK..=(end_row - 1) / BLOCK {
            for block_x in first / BLOCK..=(end - 1) / BLOCK {
                if tops.stands_above(band.hi, block_x, block_y, level + *most)
                    && self.is_near(band, track, block_x, block_y)
                {
                    self.rise_in_block(band, track, (block_x, block_y), level, most);
                }
            }
        }
    }

    /// Whether a block may lie within reach of the move.
    fn is_near(&self, band: &Band, track: &Track, block_x: usize, block_y: usize) -> bool {
        let middle = |block: usize| (block * BLOCK) as f64 + (BLOCK as f64 - 1.0) / 2.0;
        let x = band.x0 + middle(block_x) * band.pitch - track.x0;
        let y = band.y0 + middle(block_y) * band.pitch - track.y0;
        let (a, b) = track.local(x, y);
        let away = a - a.clamp(0.0, track.length);
        let corner = BLOCK as f64 * band.pitch * std::f64::consts::FRAC_1_SQRT_2;
        away.hypot(b) <= self.reach + corner
    }

    /// The part is a flat disc: over a point it is lowest at one end of the time it covers it.
    fn rise_in_block(&self, band: &Band, track: &Track, block: (usize, usize), level: f32, most: &mut f32) {
        let (first_x, first_y) = (block.0 * BLOCK, block.1 * BLOCK);
        let (end_x, end_y) = ((first_x + BLOCK).min(band.nx), (first_y + BLOCK).min(band.hi.len() / band.nx));
        for row in first_y..end_y {
            let y = band.y0 + row as f64 * band.pitch - track.y0;
            for ix in first_x..end_x {
                let at = row * band.nx + ix;
                let top = band.hi[at];
                // Columns cut through in this very run keep a low top until its end; they stand nowhere.
                if top - level <= *most || top <= band.lo[at] {
                    continue;
                }
                let (a, b) = track.local(band.x0 + ix as f64 * band.pitch - track.x0, y);
                let h2 = self.reach * self.reach - b * b;
                if h2 < 0.0 {
                    continue;
                }
                let (from, to) = ((a - h2.sqrt()).max(0.0), (a + h2.sqrt()).min(track.length));
                if from <= to {
                    let tip = track.z0 + track.slope * if track.slope < 0.0 { to } else { from };
                    *most = most.max((f64::from(top) - tip - self.start) as f32);
                }
            }
        }
    }
}

/// Highest top of each block of a band, brought up to date only where it is asked for.
pub(crate) struct Tops {
    nx: usize,
    across: usize,
    /// Highest top, or more where `stale`.
    highest: Vec<f32>,
    stale: Vec<bool>,
    /// Highest top in the band when it was begun: cutting only lowers it.
    pub(crate) most: f32,
}

impl Tops {
    pub(crate) fn new(hi: &[f32], nx: usize) -> Self {
        let across = nx.div_ceil(BLOCK);
        let down = (hi.len() / nx).div_ceil(BLOCK);
        let mut highest = vec![f32::NEG_INFINITY; across * down];
        for (row, line) in hi.chunks(nx).enumerate() {
            let blocks = &mut highest[row / BLOCK * across..][..across];
            for (block, part) in blocks.iter_mut().zip(line.chunks(BLOCK)) {
                *block = part.iter().fold(*block, |most, z| most.max(*z));
            }
        }
        let most = highest.iter().fold(f32::NEG_INFINITY, |most, z| most.max(*z));
        Self { nx, across, stale: vec![false; highest.len()], highest, most }
    }

    /// Columns `from` to `to` (exclusive) of a row were lowered.
    #[inline]
    pub(crate) fn touch(&mut self, row: usize, from: usize, to: usize) {
        let line = row / BLOCK * self.across;
        self.stale[line + from / BLOCK..=line + (to - 1) / BLOCK].fill(true);
    }

    /// Whether any top of the block is above `level`.
    fn stands_above(&mut self, hi: &[f32], block_x: usize, block_y: usize, level: f32) -> bool {
        let block = block_y * self.across + block_x;
        if self.highest[block] > level && self.stale[block] {
            let columns = block_x * BLOCK..((block_x + 1) * BLOCK).min(self.nx);
            let rows = hi.chunks(self.nx).skip(block_y * BLOCK).take(BLOCK);
            self.highest[block] =
                rows.flat_map(|row| &row[columns.clone()]).fold(f32::NEG_INFINITY, |most, z| most.max(*z));
            self.stale[block] = false;
        }
        self.highest[block] > level
    }
}
