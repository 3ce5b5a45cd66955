//! A band of rows, cut by one thread: all moves that reach it, in order.
//!
//! Bands are always the same rows, and what they report is added up from the first band to the last, so the number of
//! threads changes nothing.

use crate::guard::{BLOCK, Guard, Tops};
use crate::pour::Pour;
use crate::sweep::{CHUNK, Track, Underside, WithUnderside, envelope, with_underside};
use base::{Cancelled, Progress};
use trade::cutter::Solid;

/// Rows of a band; a whole number of blocks.
pub(crate) const ROWS: usize = 4 * BLOCK;

/// Moves between two looks at whether the maker wants to stop.
const PATIENCE: usize = 1024;

/// Columns handled side by side.
const LANES: usize = 8;

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
    let (lo, hi) = (&band.lo[at..at + n], &mut band.hi[at..at + n]);
    let losses = &mut [0.0f32; CHUNK][..n];
    for (((loss, z), bottom), top) in losses.iter_mut().zip(heights).zip(lo).zip(hi.iter()) {
        let left = if z > bottom { *z } else { *bottom };
        *loss = if *top > left { *top - left } else { 0.0 };
    }
    // Counted by their bits, for comparisons of floats are not counted in vectors: 0 − bits borrows unless all are 0.
    let columns = losses.iter().fold(0, |n, loss| n + (loss.to_bits().wrapping_neg() >> 31));
    if columns == 0 {
        return false;
    }
    share.deepest = share.deepest.max(deepest(losses, hi, tip));
    for (top, z) in hi.iter_mut().zip(heights) {
        *top = if z < top { *z } else { *top };
    }
    share.columns += u64::from(columns);
    share.taken += f64::from(sum(losses));
    share.wood |= band.pours.is_empty();
    true
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
