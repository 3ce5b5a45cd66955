//! A band of rows, cut by one thread: all moves that reach it, in order.
//!
//! Bands are always the same rows, and what they report is added up from the first band to the last, so the number of
//! threads changes nothing.

use crate::guard::{BLOCK, Guard, Tops};
use crate::pour::Pour;
use crate::sweep::{CHUNK, Track, Underside, WithUnderside, envelope, with_underside};
use base::{Cancelled, Progress};
use std::array::from_fn;
use trade::cutter::Solid;

/// Rows of a band; a whole number of blocks.
pub(crate) const ROWS: usize = 4 * BLOCK;

/// Moves between two looks at whether the maker wants to stop.
const PATIENCE: usize = 1024;

/// Values handled side by side.
const LANES: usize = 8;

/// Their numbers.
const LANE: [f32; LANES] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];

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
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Share {
    /// Sum of heights taken, mm.
    pub(crate) taken: f64,
    /// Columns that lost material.
    pub(crate) columns: u64,
    pub(crate) deepest: f32,
    pub(crate) resin: bool,
    pub(crate) wood: bool,
    pub(crate) shank: f32,
    pub(crate) holder: f32,
}

impl Share {
    /// Adds what the same move did in the next band.
    pub(crate) fn add(&mut self, next: &Share) {
        self.taken += next.taken;
        self.columns += next.columns;
        self.deepest = self.deepest.max(next.deepest);
        self.resin |= next.resin;
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
        let mut shares = Vec::with_capacity(which.len());
        for (n, &i) in which.iter().enumerate() {
            if n % PATIENCE == 0 {
                progress.go_on()?;
            }
            let cut = &cuts[i as usize];
            let one = OneMove { band: self, tops: &mut tops, cut };
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
    cut: &'b Cut,
}

impl WithUnderside for OneMove<'_, '_> {
    type Out = Share;

    fn run<U: Underside>(self, underside: U) -> Share {
        let Self { band, tops, cut } = self;
        let track = &cut.track;
        let mut share = Share::default();
        let after = if cut.goes_on && track.length > 0.0 { -underside.greatest_lead() } else { f64::NEG_INFINITY };
        let (low, high) = track.rows(underside.radius());
        let (first, end) = band.row_range(track.y0 + low, track.y0 + high);
        for row in first..end {
            let y = band.y0 + row as f64 * band.pitch - track.y0;
            let Some((min, max)) = track.span(underside.radius(), y, after) else { continue };
            let (mut ix, end) = band.column_range(track.x0 + min, track.x0 + max);
            while ix < end {
                // Whole lanes where the row has room: points beyond the cutter come out as "not reached".
                let wanted = (end - ix).next_multiple_of(LANES).min(CHUNK).min(band.nx - ix);
                let mut heights = [0.0f32; CHUNK];
                let heights = &mut heights[..wanted];
                let x = band.x0 + ix as f64 * band.pitch - track.x0;
                envelope(&underside, track, x, y, band.pitch, heights);
                let at = row * band.nx + ix;
                if take(band, at, heights, &Tip::new(track, underside.radius(), x, y, band.pitch), &mut share) {
                    tops.touch(row, ix, ix + wanted);
                }
                ix += wanted;
            }
        }
        share
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

/// Lowers the columns from `at` on to `heights` and notes what that took; tells whether it was anything.
fn take(band: &mut Band, at: usize, heights: &[f32], tip: &Tip, share: &mut Share) -> bool {
    let n = heights.len();
    let known = share.resin && share.wood;
    if !(known || band.pours.is_empty()) {
        materials(band, at, heights, share);
    }
    let (heights, rest) = heights.as_chunks::<LANES>();
    let (lo, lo_rest) = band.lo[at..at + n].as_chunks::<LANES>();
    let (hi, hi_rest) = band.hi[at..at + n].as_chunks_mut::<LANES>();
    let mut sums = Sums::default();
    for (k, ((z, lo), hi)) in heights.iter().zip(lo).zip(hi).enumerate() {
        sums.add(z, lo, hi, tip, (k * LANES) as f32);
    }
    if !rest.is_empty() {
        // The end of the row: filled up with columns that are not reached.
        let mut lanes = ([f32::INFINITY; LANES], [f32::INFINITY; LANES], [f32::NEG_INFINITY; LANES]);
        lanes.0[..rest.len()].copy_from_slice(rest);
        lanes.1[..rest.len()].copy_from_slice(lo_rest);
        lanes.2[..rest.len()].copy_from_slice(hi_rest);
        sums.add(&lanes.0, &lanes.1, &mut lanes.2, tip, (n - rest.len()) as f32);
        hi_rest.copy_from_slice(&lanes.2[..hi_rest.len()]);
    }
    if sums.any {
        sums.close(share);
        share.wood |= band.pours.is_empty() && share.columns > 0;
    }
    sums.any
}

/// Sums over a few dozen columns, lane by lane.
#[derive(Default)]
struct Sums {
    any: bool,
    taken: [f32; LANES],
    columns: [u32; LANES],
    deepest: [f32; LANES],
}

impl Sums {
    /// Side by side columns, the first of them the `i`-th of the row's piece. Written in steps over whole lanes and
    /// with masks in place of branches, which the compiler turns into vector code.
    #[inline(always)]
    fn add(&mut self, heights: &[f32; LANES], lo: &[f32; LANES], hi: &mut [f32; LANES], tip: &Tip, i: f32) {
        let lower = (0..LANES).fold(0, |n, k| n + u32::from(heights[k] < hi[k]));
        if lower == 0 {
            return;
        }
        self.any = true;
        let left: [f32; LANES] = from_fn(|k| if heights[k] > lo[k] { heights[k] } else { lo[k] });
        let loss: [f32; LANES] = from_fn(|k| hi[k] - left[k]);
        let loss: [f32; LANES] = from_fn(|k| if loss[k] > 0.0 { loss[k] } else { 0.0 });
        let lost: [u32; LANES] = from_fn(|k| u32::from(loss[k] > 0.0));
        let depth: [f32; LANES] = from_fn(|k| hi[k] - tip.at(i + LANE[k]));
        let depth: [f32; LANES] = from_fn(|k| f32::from_bits(depth[k].to_bits() & lost[k].wrapping_neg()));
        for k in 0..LANES {
            self.taken[k] += loss[k];
        }
        for k in 0..LANES {
            self.columns[k] += lost[k];
        }
        for k in 0..LANES {
            self.deepest[k] = if depth[k] > self.deepest[k] { depth[k] } else { self.deepest[k] };
        }
        for k in 0..LANES {
            hi[k] = if heights[k] < hi[k] { heights[k] } else { hi[k] };
        }
    }

    fn close(&self, share: &mut Share) {
        share.taken += self.taken.iter().map(|v| f64::from(*v)).sum::<f64>();
        share.columns += u64::from(self.columns.iter().sum::<u32>());
        share.deepest = self.deepest.iter().fold(share.deepest, |most, v| most.max(*v));
    }
}

/// Notes what the columns from `at` on lose: resin, wood or both.
fn materials(band: &Band, at: usize, heights: &[f32], share: &mut Share) {
    for (i, z) in heights.iter().enumerate() {
        let (lo, hi) = (band.lo[at + i], band.hi[at + i]);
        let lost = (f64::from(z.max(lo)), f64::from(hi));
        if lost.0 >= lost.1 {
            continue;
        }
        let stretch = |p: &Pour| crate::columns::shared(lost, p.stretch(band.first + at + i));
        let resin: f64 = band.pours.iter().map(stretch).sum();
        share.resin |= resin > 0.0;
        share.wood |= lost.1 - lost.0 - resin > BARE;
    }
}
