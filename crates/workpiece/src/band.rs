//! A band of rows, cut by one thread: all moves that reach it, in order.
//!
//! Bands are always the same rows, and what they report is added up from the first band to the last, so the number of
//! threads changes nothing.

use crate::guard::{BLOCK, Guard, Tops};
use crate::history::Noted;
use crate::lids::{Lids, SIDE};
use crate::pour::Pour;
use crate::sweep::{Strides, Track, Underside, WithUnderside, clamp, envelope, plane_below, with_underside};
use base::{Cancelled, Progress};
use std::ops::Range;
use trade::cutter::Solid;

/// Rows of a band; a whole number of blocks.
pub(crate) const ROWS: usize = 4 * BLOCK;

/// Moves between two looks at whether the maker wants to stop.
const PATIENCE: usize = 1024;

/// Cosine of the angle to the rows from which on a move tells where along them it begins.
const ALONG_X: f64 = 0.05;

/// Shortest bare stretch that counts as wood, mm: above the rounding of heights held in `f32`.
const BARE: f64 = 1e-4;

/// A move, ready to be cut.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cut {
    pub(crate) track: Track,
    /// Whether it begins where the move before it ended: then the cutter has been at its start already.
    pub(crate) goes_on: bool,
}

/// What one move did in one band.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Share {
    /// Sum of heights taken, mm, and of those of resin among them.
    pub(crate) taken: f64,
    pub(crate) resin: f64,
    /// Columns that lost material.
    pub(crate) columns: u64,
    pub(crate) deepest: f32,
    /// Infinite while nothing was taken.
    pub(crate) lowest: f32,
    pub(crate) wood: bool,
    pub(crate) shank: f32,
    pub(crate) holder: f32,
}

impl Default for Share {
    fn default() -> Self {
        Self {
            taken: 0.0,
            columns: 0,
            deepest: 0.0,
            lowest: f32::INFINITY,
            resin: 0.0,
            wood: false,
            shank: 0.0,
            holder: 0.0,
        }
    }
}

impl Share {
    /// Adds what the same move did in the next band.
    pub(crate) fn add(&mut self, next: &Share) {
        self.taken += next.taken;
        self.columns += next.columns;
        self.deepest = self.deepest.max(next.deepest);
        self.lowest = self.lowest.min(next.lowest);
        self.resin += next.resin;
        self.wood |= next.wood;
        self.shank = self.shank.max(next.shank);
        self.holder = self.holder.max(next.holder);
    }
}

/// The rows of a band and what lies in them.
pub(crate) struct Band<'a> {
    pub(crate) pitch: f64,
    pub(crate) nx: usize,
    /// Centre of the band's first column.
    pub(crate) x0: f64,
    pub(crate) y0: f64,
    /// Index of the band's first column among all.
    pub(crate) first: usize,
    pub(crate) lo: &'a mut [f32],
    pub(crate) hi: &'a mut [f32],
    pub(crate) pours: &'a [Pour],
    /// For each block of the lids whether it holds resin; see [`with_resin`].
    pub(crate) with_resin: Vec<bool>,
    /// Where to note what sinks.
    pub(crate) noted: Option<&'a mut Noted>,
}

/// For each block of columns (row by row of blocks) whether any resin stands in it; `first` is the index of the first
/// column of `lo` and `hi` among all.
pub(crate) fn with_resin(pours: &[Pour], (lo, hi): (&[f32], &[f32]), first: usize, nx: usize) -> Vec<bool> {
    let across = nx.div_ceil(SIDE);
    let mut found = vec![false; across * (hi.len() / nx).div_ceil(SIDE)];
    for pour in pours {
        let stretches = pour.from[first..].iter().zip(&pour.to[first..]);
        for (at, ((lo, hi), (from, to))) in lo.iter().zip(hi).zip(stretches).enumerate() {
            if from.max(*lo) < to.min(*hi) {
                found[at / nx / SIDE * across + at % nx / SIDE] = true;
            }
        }
    }
    found
}

impl Band<'_> {
    fn rows(&self) -> usize {
        self.hi.len() / self.nx
    }

    /// Cuts the moves `which` of `cuts` in order and tells what each did.
    pub(crate) fn cut(
        &mut self,
        cutter: &Solid,
        guard: &Guard,
        cuts: &[Cut],
        which: &[u32],
        progress: &dyn Progress,
    ) -> Result<Vec<Share>, Cancelled> {
        let mut tops = Tops::new(self.hi, self.nx);
        let mut lids = Lids::new(self.hi, self.nx, self.pitch);
        let mut shares = Vec::with_capacity(which.len());
        for (n, &i) in which.iter().enumerate() {
            if n % PATIENCE == 0 {
                progress.go_on()?;
            }
            let cut = &cuts[i as usize];
            let lanes = Lanes::default();
            let one = OneMove { band: self, tops: &mut tops, lids: &mut lids, cut, index: i, lanes };
            let mut share = with_underside(cutter, cut.track.slope, one);
            (share.shank, share.holder) = guard.rise(self, &mut tops, &cut.track);
            shares.push(share);
        }
        empty_what_is_through(self.lo, self.hi);
        Ok(shares)
    }

    /// First and last row (exclusive) between two heights of the plan.
    pub(crate) fn row_range(&self, from: f64, to: f64) -> (usize, usize) {
        indices(from - self.y0, to - self.y0, self.pitch, self.rows())
    }

    /// First and last column (exclusive) between two x.
    pub(crate) fn column_range(&self, from: f64, to: f64) -> (usize, usize) {
        indices(from - self.x0, to - self.x0, self.pitch, self.nx)
    }
}

/// Columns cut down to their underside or deeper are gone.
pub(crate) fn empty_what_is_through(lo: &mut [f32], hi: &mut [f32]) {
    for (lo, hi) in lo.iter_mut().zip(hi) {
        if *hi <= *lo {
            (*lo, *hi) = (f32::INFINITY, f32::NEG_INFINITY);
        }
    }
}

/// Indices `i` below `n` with `from ≤ i · pitch ≤ to`, one more to each side to be safe from rounding.
fn indices(from: f64, to: f64, pitch: f64, n: usize) -> (usize, usize) {
    // Casts cut off towards zero: for what is left after `max` that is rounding down.
    let start = (from / pitch).max(0.0) as usize;
    let end = ((to / pitch + 2.0).max(0.0) as usize).min(n);
    (start.min(end), end)
}

/// A move about to be cut into a band.
struct OneMove<'b, 'a> {
    band: &'b mut Band<'a>,
    tops: &'b mut Tops,
    lids: &'b mut Lids,
    cut: &'b Cut,
    /// Its place in the run.
    index: u32,
    lanes: Lanes,
}

/// What a move did, by the columns' places in their blocks: added up only at its end.
struct Lanes {
    taken: [f32; SIDE],
    columns: [u32; SIDE],
    /// Greatest and least heights as bits: those of positive numbers, read as whole numbers, have the order of the numbers, so that
    /// their greatest and least need no branch.
    deepest: [i32; SIDE],
    lowest: [i32; SIDE],
}

impl Default for Lanes {
    fn default() -> Self {
        let never = f32::INFINITY.to_bits() as i32;
        Self { taken: [0.0; SIDE], columns: [0; SIDE], deepest: [0; SIDE], lowest: [never; SIDE] }
    }
}

impl Lanes {
    fn add_to(&self, share: &mut Share) {
        share.taken += f64::from(sum(&self.taken));
        share.columns += self.columns.iter().map(|n| u64::from(*n)).sum::<u64>();
        let heights = |bits: &[i32; SIDE]| bits.map(|bits| f32::from_bits(bits as u32));
        share.deepest = heights(&self.deepest).into_iter().fold(share.deepest, f32::max);
        share.lowest = heights(&self.lowest).into_iter().fold(share.lowest, f32::min);
    }
}

impl WithUnderside for OneMove<'_, '_> {
    type Out = Share;

    fn run<U: Underside>(mut self, underside: U) -> Share {
        let track = &self.cut.track;
        let goes_on = self.cut.goes_on && track.length > 0.0;
        let after = if goes_on { -underside.greatest_lead() } else { f64::NEG_INFINITY };
        let mut share = Share::default();
        let tip = Tip::new(track, underside.radius(), self.band.pitch);
        let (low, high) = track.rows(underside.radius());
        let (first, end) = self.band.row_range(track.y0 + low, track.y0 + high);
        for down in first / SIDE..end.div_ceil(SIDE) {
            let rows = first.max(down * SIDE)..end.min((down + 1) * SIDE);
            let blocks = self.blocks(underside.radius(), after, &rows);
            if self.open(&underside, down, blocks, after) {
                for row in rows {
                    self.cut_row(&underside, row, after, &tip, &mut share);
                }
                self.lids.settle(self.band.hi, down);
            }
        }
        self.lanes.add_to(&mut share);
        share
    }
}

impl OneMove<'_, '_> {
    /// The blocks that may lie within `reach` of the move in a few rows, but for what lies no farther along it than `after`.
    fn blocks(&self, reach: f64, after: f64, rows: &Range<usize>) -> Range<usize> {
        let (band, track) = (&*self.band, &self.cut.track);
        let y = |row: usize| band.y0 + row as f64 * band.pitch - track.y0;
        let (end_x, end_y) = (track.ux * track.length, track.uy * track.length);
        let beside = (y(rows.start) - end_y.max(0.0)).max(end_y.min(0.0) - y(rows.end - 1)).max(0.0);
        let half = (reach * reach - beside * beside).max(0.0).sqrt();
        let (mut from, mut end) = (end_x.min(0.0) - half, end_x.max(0.0) + half);
        if track.ux.abs() > ALONG_X {
            let x = (after - (y(rows.start) * track.uy).max(y(rows.end - 1) * track.uy)) / track.ux;
            if track.ux > 0.0 {
                from = from.max(x);
            } else {
                end = end.min(x);
            }
        }
        let (from, end) = band.column_range(track.x0 + from, track.x0 + end);
        from / SIDE..end.div_ceil(SIDE)
    }

    /// Marks the blocks that the move may cut; tells whether there are any. What lies no farther along the move than
    /// `after` was covered before it began.
    fn open<U: Underside>(&mut self, underside: &U, down: usize, blocks: Range<usize>, after: f64) -> bool {
        let (band, track) = (&*self.band, &self.cut.track);
        let half = self.lids.middle();
        let behind = after - half * (track.ux.abs() + track.uy.abs());
        let reach = underside.radius() + half * std::f64::consts::SQRT_2;
        let middle = |block: usize| (block * SIDE) as f64 * band.pitch + half;
        let y = band.y0 + middle(down) - track.y0;
        self.lids.open.clear();
        let lowest = track.lowest() as f32;
        for across in blocks {
            if !self.lids.stands_above((across, down), lowest) {
                continue;
            }
            let x = band.x0 + middle(across) - track.x0;
            let (a, b) = track.local(x, y);
            let away = a - clamp(a, track.length);
            let open = a >= behind
                && away * away + b * b <= reach * reach
                && self.lids.may_sink((across, down), || plane_below(underside, track, (a, b)));
            if open {
                self.lids.open.push(across);
            }
        }
        !self.lids.open.is_empty()
    }

    /// Cuts the columns of the open blocks in one row. Points beyond the cutter come out as "not reached".
    fn cut_row<U: Underside>(&mut self, underside: &U, row: usize, after: f64, tip: &Tip, share: &mut Share) {
        let track = &self.cut.track;
        let (pitch, x0) = (self.band.pitch, self.band.x0 - track.x0);
        let y = self.band.y0 + row as f64 * pitch - track.y0;
        let half = self.lids.middle();
        let behind = after - half * track.ux.abs();
        let reach = underside.radius() + half;
        for k in 0..self.lids.open.len() {
            let block = self.lids.open[k];
            let x = x0 + (block * SIDE) as f64 * pitch;
            if !U::TELLS_REACH {
                let (a, b) = track.local(x + half, y);
                let away = a - clamp(a, track.length);
                if a < behind || away * away + b * b > reach * reach {
                    continue;
                }
            }
            let heights = envelope(underside, track, (x, y), &tip.strides);
            let whole = (block + 1) * SIDE <= self.band.nx;
            let took = if whole {
                self.take::<true>(row, block, &heights, (tip, x, y), share)
            } else {
                self.take::<false>(row, block, &heights, (tip, x, y), share)
            };
            if took {
                self.lids.hit[block] = true;
            }
        }
    }

    /// Lowers a block's columns of one row to `heights` and notes what that took; tells whether it was anything. `WHOLE` unless
    /// the block is cut off by the band's side.
    #[inline(always)]
    fn take<const WHOLE: bool>(
        &mut self,
        row: usize,
        block: usize,
        heights: &[f32; SIDE],
        (tip, x, y): (&Tip, f64, f64),
        share: &mut Share,
    ) -> bool {
        let band = &mut *self.band;
        let ix = block * SIDE;
        let (at, n) = (row * band.nx + ix, if WHOLE { SIDE } else { band.nx - ix });
        // Beyond the last column there is nothing to lose.
        let (lo, mut hi) = (load(&band.lo[at..][..n], f32::INFINITY), load(&band.hi[at..][..n], f32::NEG_INFINITY));
        let mut losses = [0.0f32; SIDE];
        for i in 0..SIDE {
            let left = if heights[i] > lo[i] { heights[i] } else { lo[i] };
            let loss = hi[i] - left;
            losses[i] = if loss > 0.0 { loss } else { 0.0 };
        }
        if losses.iter().fold(0, |any, loss| any | loss.to_bits()) == 0 {
            return false;
        }
        let start = tip.start(&self.cut.track, x, y);
        let lanes = &mut self.lanes;
        for i in 0..SIDE {
            let (loss, depth) = (losses[i], hi[i] - tip.at(start, i));
            let left = depth - loss;
            let left = if left > 0.0 { left } else { 0.0 };
            let cut = loss > 0.0;
            let deepest = (if cut && depth > 0.0 { depth } else { 0.0 }).to_bits() as i32;
            let lowest = (if cut { left } else { f32::INFINITY }).to_bits() as i32;
            lanes.taken[i] += loss;
            lanes.columns[i] += u32::from(cut);
            lanes.deepest[i] = if deepest > lanes.deepest[i] { deepest } else { lanes.deepest[i] };
            lanes.lowest[i] = if lowest < lanes.lowest[i] { lowest } else { lanes.lowest[i] };
        }
        materials(band, at, (heights, &losses), (row / SIDE, block), share);
        for i in 0..SIDE {
            hi[i] = if heights[i] < hi[i] { heights[i] } else { hi[i] };
        }
        band.hi[at..][..n].copy_from_slice(&hi[..n]);
        self.tops.touch(row, ix, ix + n);
        if let Some(mut line) = band.noted.as_deref_mut().and_then(|noted| noted.row(row)) {
            line.note(ix, &hi[..n], self.index);
        }
        true
    }
}

/// Eight values; `beyond` in the place of those that are missing.
#[inline(always)]
pub(crate) fn load(values: &[f32], beyond: f32) -> [f32; SIDE] {
    values.try_into().unwrap_or_else(|_| std::array::from_fn(|i| values.get(i).copied().unwrap_or(beyond)))
}

/// Lowest height of the tip while the cutter's disc may be over a point: along a row a straight line, clamped.
struct Tip {
    /// Falling, the tip is lowest as it leaves the point behind; rising, as it comes.
    ahead: f64,
    /// What it rises to each column of a block.
    rises: [f32; SIDE],
    strides: Strides,
    least: f32,
    most: f32,
}

impl Tip {
    fn new(track: &Track, radius: f64, pitch: f64) -> Self {
        let end = track.slope * track.length;
        Self {
            ahead: radius * -track.slope.signum(),
            rises: std::array::from_fn(|i| i as f32 * (track.slope * pitch * track.ux) as f32),
            strides: Strides::new(track, pitch),
            least: (track.z0 + end.min(0.0)) as f32,
            most: (track.z0 + end.max(0.0)) as f32,
        }
    }

    /// Its height for a point seen from the start of the track, before clamping.
    #[inline(always)]
    fn start(&self, track: &Track, x: f64, y: f64) -> f32 {
        let (a, _) = track.local(x, y);
        (track.z0 + track.slope * (a + self.ahead)) as f32
    }

    /// Its height so many columns on.
    #[inline(always)]
    fn at(&self, start: f32, columns: usize) -> f32 {
        let z = start + self.rises[columns];
        let z = if z > self.least { z } else { self.least };
        if z < self.most { z } else { self.most }
    }
}

/// Sum in lanes, always in the same order.
fn sum(values: &[f32]) -> f32 {
    let (whole, rest) = values.as_chunks::<4>();
    let (mut a, mut b, mut c, mut d) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
    for four in whole {
        a += four[0];
        b += four[1];
        c += four[2];
        d += four[3];
    }
    rest.iter().fold((a + c) + (b + d), |sum, v| sum + v)
}

/// Notes what a block's columns from `at` on lose: resin, wood or both.
#[inline(always)]
fn materials(
    band: &Band,
    at: usize,
    (heights, losses): (&[f32; SIDE], &[f32; SIDE]),
    (down, across): (usize, usize),
    share: &mut Share,
) {
    if !band.with_resin[down * band.nx.div_ceil(SIDE) + across] {
        share.wood = true;
        return;
    }
    for (i, _) in losses.iter().enumerate().filter(|(_, loss)| **loss > 0.0) {
        let (lo, hi) = (band.lo[at + i], band.hi[at + i]);
        let lost = (f64::from(heights[i].max(lo)), f64::from(hi));
        let stretch = |p: &Pour| crate::columns::shared(lost, p.stretch(band.first + at + i));
        let resin: f64 = band.pours.iter().map(stretch).sum();
        share.resin += resin;
        share.wood |= lost.1 - lost.0 - resin > BARE;
    }
}
