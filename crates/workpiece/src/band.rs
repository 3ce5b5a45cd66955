//! A band of rows, cut by one thread: all moves that reach it, in order.
//!
//! Bands are always the same rows, and what they report is added up from the first band to the last, so the number of
//! threads changes nothing.

use crate::guard::{BLOCK, Guard, Tops};
use crate::history::Noted;
use crate::lids::{Lids, SIDE};
use crate::pour::Pour;
use crate::sweep::{CHUNK, Track, Underside, WithUnderside, clamp, envelope, plane_below, with_underside};
use base::{Cancelled, Progress};
use std::ops::Range;
use trade::cutter::Solid;

/// Rows of a band; a whole number of blocks.
pub(crate) const ROWS: usize = 4 * BLOCK;

/// Moves between two looks at whether the maker wants to stop.
const PATIENCE: usize = 1024;

/// Blocks handled side by side.
const BLOCKS: usize = CHUNK / SIDE;

/// 0, 1, 2, … as numbers.
const STEPS: [f32; CHUNK] = {
    let mut steps = [0.0; CHUNK];
    let mut i = 0;
    while i < CHUNK {
        steps[i] = i as f32;
        i += 1;
    }
    steps
};

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
            let one = OneMove { band: self, tops: &mut tops, lids: &mut lids, cut, index: i };
            let mut share = with_underside(cutter, cut.track.slope, one);
            (share.shank, share.holder) = guard.rise(self, &mut tops, &cut.track);
            shares.push(share);
        }
        self.empty_what_is_through();
        Ok(shares)
    }

    /// Columns cut down to their underside or deeper are gone.
    fn empty_what_is_through(&mut self) {
        for (lo, hi) in self.lo.iter_mut().zip(self.hi.iter_mut()) {
            if *hi <= *lo {
                (*lo, *hi) = (f32::INFINITY, f32::NEG_INFINITY);
            }
        }
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
}

impl WithUnderside for OneMove<'_, '_> {
    type Out = Share;

    fn run<U: Underside>(mut self, underside: U) -> Share {
        let track = &self.cut.track;
        let goes_on = self.cut.goes_on && track.length > 0.0;
        let after = if goes_on { -underside.greatest_lead() } else { f64::NEG_INFINITY };
        let mut share = Share::default();
        let (low, high) = track.rows(underside.radius());
        let (first, end) = self.band.row_range(track.y0 + low, track.y0 + high);
        for down in first / SIDE..end.div_ceil(SIDE) {
            let rows = first.max(down * SIDE)..end.min((down + 1) * SIDE);
            let blocks = self.blocks(underside.radius(), &rows);
            if self.open(&underside, down, blocks, after) {
                self.cut_blocks(&underside, down, rows, after, &mut share);
            }
        }
        share
    }
}

impl OneMove<'_, '_> {
    /// The blocks that may lie within `reach` of the move in a few rows.
    fn blocks(&self, reach: f64, rows: &Range<usize>) -> Range<usize> {
        let (band, track) = (&*self.band, &self.cut.track);
        let y = |row: usize| band.y0 + row as f64 * band.pitch - track.y0;
        let (end_x, end_y) = (track.ux * track.length, track.uy * track.length);
        let beside = (y(rows.start) - end_y.max(0.0)).max(end_y.min(0.0) - y(rows.end - 1)).max(0.0);
        let half = (reach * reach - beside * beside).max(0.0).sqrt();
        let (from, end) = (track.x0 + end_x.min(0.0) - half, track.x0 + end_x.max(0.0) + half);
        let (from, end) = band.column_range(from, end);
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
        let mut any = false;
        for across in blocks.clone() {
            let x = band.x0 + middle(across) - track.x0;
            let (a, b) = track.local(x, y);
            let away = a - clamp(a, track.length);
            let open = a >= behind
                && away * away + b * b <= reach * reach
                && self.lids.may_sink((across, down), || plane_below(underside, track, (a, b)));
            self.lids.open[across] = open;
            any |= open;
        }
        self.lids.asked = blocks;
        any
    }

    /// Cuts the rows of one row of blocks where they are open.
    fn cut_blocks<U: Underside>(
        &mut self,
        underside: &U,
        down: usize,
        rows: Range<usize>,
        after: f64,
        share: &mut Share,
    ) {
        for row in rows {
            let Some((mut at, end)) = self.span(underside.radius(), row, after) else { continue };
            while at < end {
                let width = self.lids.open[at..end].iter().take(BLOCKS).take_while(|open| **open).count();
                if width > 0 {
                    self.cut_row(underside, row, at..at + width, share);
                }
                // What ended the stretch is shut, or the next chunk begins there.
                at += if width == BLOCKS { width } else { width + 1 };
            }
        }
        self.lids.settle(self.band.hi, down);
    }

    /// First and last (exclusive) of the blocks looked at that the move reaches in a row.
    fn span(&self, reach: f64, row: usize, after: f64) -> Option<(usize, usize)> {
        let (band, track) = (&*self.band, &self.cut.track);
        let y = band.y0 + row as f64 * band.pitch - track.y0;
        let (min, max) = track.span(reach, y, after)?;
        let (ix, end) = band.column_range(track.x0 + min, track.x0 + max);
        Some(((ix / SIDE).max(self.lids.asked.start), end.div_ceil(SIDE).min(self.lids.asked.end)))
    }

    /// Cuts some blocks' columns of one row. Points beyond the cutter come out as "not reached".
    fn cut_row<U: Underside>(&mut self, underside: &U, row: usize, blocks: Range<usize>, share: &mut Share) {
        let (band, track) = (&mut *self.band, &self.cut.track);
        let (ix, end) = (blocks.start * SIDE, (blocks.end * SIDE).min(band.nx));
        let mut heights = [0.0f32; CHUNK];
        let heights = &mut heights[..end - ix];
        let x = band.x0 + ix as f64 * band.pitch - track.x0;
        let y = band.y0 + row as f64 * band.pitch - track.y0;
        envelope(underside, track, x, y, band.pitch, heights);
        let at = row * band.nx + ix;
        let tip = Tip::new(track, underside.radius(), x, y, band.pitch);
        if take(band, at, heights, &tip, &mut self.lids.hit[blocks], share) {
            self.tops.touch(row, ix, end);
            if let Some(mut line) = band.noted.as_deref_mut().and_then(|noted| noted.row(row)) {
                line.note(ix, &band.hi[at..at + (end - ix)], self.index);
            }
        }
    }
}

/// Lowest height of the tip while the cutter's disc may be over a point: along a row a straight line, clamped.
struct Tip {
    start: f32,
    step: f32,
    least: f32,
    most: f32,
}

impl Tip {
    fn new(track: &Track, radius: f64, x: f64, y: f64, pitch: f64) -> Self {
        let (a, _) = track.local(x, y);
        // Falling, the tip is lowest as it leaves the point behind; rising, as it comes.
        let ahead = radius * -track.slope.signum();
        let end = track.slope * track.length;
        Self {
            start: (track.z0 + track.slope * (a + ahead)) as f32,
            step: (track.slope * pitch * track.ux) as f32,
            least: (track.z0 + end.min(0.0)) as f32,
            most: (track.z0 + end.max(0.0)) as f32,
        }
    }

    #[inline(always)]
    fn at(&self, i: f32) -> f32 {
        let z = self.start + i * self.step;
        let z = if z > self.least { z } else { self.least };
        if z < self.most { z } else { self.most }
    }
}

/// Lowers the columns from `at` on to `heights` and notes what that took, and in which blocks; tells whether it was
/// anything.
fn take(band: &mut Band, at: usize, heights: &[f32], tip: &Tip, hit: &mut [bool], share: &mut Share) -> bool {
    let n = heights.len();
    let (lo, hi) = (&band.lo[at..at + n], &mut band.hi[at..at + n]);
    let losses = &mut [0.0f32; CHUNK][..n];
    for (((loss, z), bottom), top) in losses.iter_mut().zip(heights).zip(lo).zip(hi.iter()) {
        let left = if z > bottom { *z } else { *bottom };
        *loss = if *top > left { *top - left } else { 0.0 };
    }
    let mut counts = [0; BLOCKS];
    for (count, losses) in counts.iter_mut().zip(losses.chunks(SIDE)) {
        *count = some(losses);
    }
    let columns: u32 = counts.iter().sum();
    if columns == 0 {
        return false;
    }
    hit.iter_mut().zip(counts).for_each(|(hit, count)| *hit |= count > 0);
    share.deepest = share.deepest.max(deepest(losses, hi, tip));
    share.lowest = share.lowest.min(lowest(losses, hi, tip));
    share.columns += u64::from(columns);
    share.taken += f64::from(sum(losses));
    materials(band, at, (heights, losses), &counts, share);
    let hi = &mut band.hi[at..at + n];
    for (top, z) in hi.iter_mut().zip(heights) {
        *top = if z < top { *z } else { *top };
    }
    true
}

/// How many are not 0. Counted by their bits, for comparisons of floats are not counted in vectors: 0 − bits borrows
/// unless all are 0.
#[inline(always)]
fn some(losses: &[f32]) -> u32 {
    losses.iter().fold(0, |n, loss| n + (loss.to_bits().wrapping_neg() >> 31))
}

/// Greatest height above the tip of columns that lost something.
///
/// The bits of positive numbers, read as whole numbers, have the order of the numbers: their maximum needs no branch.
fn deepest(losses: &[f32], tops: &[f32], tip: &Tip) -> f32 {
    let depths = losses.iter().zip(tops).zip(&STEPS);
    let bits = depths.map(|((loss, top), i)| {
        let depth = top - tip.at(*i);
        (if *loss > 0.0 { depth } else { 0.0 }).to_bits() as i32
    });
    f32::from_bits(bits.fold(0, |most, bits| if bits > most { bits } else { most }) as u32)
}

/// Least height above the tip to which columns came down that lost something; infinite if none did.
fn lowest(losses: &[f32], tops: &[f32], tip: &Tip) -> f32 {
    let heights = losses.iter().zip(tops).zip(&STEPS);
    let bits = heights.map(|((loss, top), i)| {
        let left = top - loss - tip.at(*i);
        let left = if left > 0.0 { left } else { 0.0 };
        (if *loss > 0.0 { left } else { f32::INFINITY }).to_bits() as i32
    });
    f32::from_bits(
        bits.fold(f32::INFINITY.to_bits() as i32, |least, bits| if bits < least { bits } else { least }) as u32
    )
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

/// Notes what the columns from `at` on lose: resin, wood or both; `counts` of them in each block.
fn materials(band: &Band, at: usize, (heights, losses): (&[f32], &[f32]), counts: &[u32], share: &mut Share) {
    let across = band.nx.div_ceil(SIDE);
    let first = at / band.nx / SIDE * across + at % band.nx / SIDE;
    for (block, losses) in losses.chunks(SIDE).enumerate().filter(|(block, _)| counts[*block] > 0) {
        if !band.with_resin[first + block] {
            share.wood = true;
            continue;
        }
        for (i, _) in losses.iter().enumerate().filter(|(_, loss)| **loss > 0.0) {
            let column = block * SIDE + i;
            let (lo, hi) = (band.lo[at + column], band.hi[at + column]);
            let lost = (f64::from(heights[column].max(lo)), f64::from(hi));
            let stretch = |p: &Pour| crate::columns::shared(lost, p.stretch(band.first + at + column));
            let resin: f64 = band.pours.iter().map(stretch).sum();
            share.resin += resin;
            share.wood |= lost.1 - lost.0 - resin > BARE;
        }
    }
}
