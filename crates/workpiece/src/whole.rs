//! A whole path at once: the last state alone, and nothing told of any move.
//!
//! Each column ends at the least of all envelopes over it, whatever the order, so the moves may be taken in the order that
//! promises most, and most of them need not be looked at. Block by block of columns:
//!
//! 1. **Inclined plane.** Let the tops of the block lie below a plane that rises by `g` per length, and let the tip stand `H`
//!    above it. The underside `c`, `u` away in plan, stands `H + c(|u|) − g·u` above the plane; `c` is convex, so that is
//!    least where a plane so inclined touches it, and above 0 there no top can sink. Of a ball a cap comes below the plane,
//!    and it must also reach the block. So runs of moves, then moves, are told apart, many at once ([`Incline`]).
//! 2. **Promise.** The move that promises most over the middle of the block is cut first, then one for each quarter: after
//!    that the plane lies close to where the tops will end.
//! 3. **Distance.** A top sinks under a ball only if it lies within the ball's way: its distance in space from the way of the
//!    ball's middle tells, without a root ([`Capsule`]).
//! 4. What is left is cut by its exact envelope, the one that [`Workpiece::cut`] takes.

use crate::Workpiece;
use crate::band::{ROWS, empty_what_is_through, load};
use crate::cut::Sweep;
use crate::lids::{CLEAR, Lid, SIDE, lid};
use crate::sweep::{Strides, Track, Underside, WithUnderside, clamp, envelope, with_underside};
use base::{Cancelled, Progress};
use rayon::prelude::*;
use std::ops::Range;
use trade::cutter::{Form, Solid};

/// Blocks of a patch along each side; the runs that may reach a patch are gathered once.
const PATCH: usize = 4;
/// A run holds no more moves than this,
const MOST_MOVES: usize = 32;
/// and is no longer than so many blocks.
const LENGTH: f64 = 2.0;
/// See `Incline::nearer`.
const NEARER: f64 = 1e-6;
/// Half of a block, in columns.
const HALF: f64 = (SIDE as f64 - 1.0) / 2.0;

impl Workpiece {
    /// Cuts along all moves and keeps only what stands in the end: the state in which [`Workpiece::cut`] leaves it, several
    /// times quicker. Where moves join, the same height may be reached by either of them, so tops may differ by the rounding
    /// of their heights. Neither the number of threads nor the order of the moves changes the result.
    ///
    /// # Errors
    /// [`Cancelled`] if the maker stops; the workpiece is then partly cut.
    pub fn cut_whole(&mut self, cutter: &Solid, moves: &[Sweep], progress: &dyn Progress) -> Result<(), Cancelled> {
        let mut lines = Lines::default();
        moves.iter().for_each(|m| lines.push(&Track::new(m.from, m.to), 0.0, 0.0));
        let path = Path { tip: Tip::new(cutter), lines, runs: runs(moves, LENGTH * SIDE as f64 * self.pitch) };
        let (pitch, nx, x0) = (self.pitch, self.nx, self.x(0));
        let starts: Vec<f64> = (0..self.ny.div_ceil(ROWS)).map(|band| self.y(band * ROWS)).collect();
        let bands = self.lo.par_chunks_mut(ROWS * nx).zip(self.hi.par_chunks_mut(ROWS * nx)).zip(starts);
        bands.with_max_len(1).try_for_each(|((lo, hi), y0)| {
            progress.go_on()?;
            Band { path: &path, pitch, nx, x0, y0, lo, hi }.cut();
            Ok(())
        })
    }
}

/// What is asked of the tip beside its envelopes.
struct Tip<'a> {
    solid: &'a Solid,
    radius: f64,
    /// Radius of a ball nose, 0 for other forms.
    ball: f64,
}

impl<'a> Tip<'a> {
    fn new(solid: &'a Solid) -> Self {
        let radius = solid.radius();
        Self { solid, radius, ball: if solid.form == Form::Ball { radius } else { 0.0 } }
    }

    /// How far above a plane that rises by `steep` the tip stands that touches it.
    fn over(&self, steep: f64) -> f64 {
        struct Over(f64);
        impl WithUnderside for Over {
            type Out = f64;
            fn run<U: Underside>(self, underside: U) -> f64 {
                let at = underside.touch(self.0);
                self.0 * at - underside.rise(at * at)
            }
        }
        with_underside(self.solid, 0.0, Over(steep))
    }
}

/// All moves, made ready.
struct Path<'a> {
    tip: Tip<'a>,
    lines: Lines,
    runs: Vec<Run>,
}

/// Moves end to end, seen as one: the tip stays within `off` of the chord in plan, no more than `under` below it, and within
/// `away` in space.
struct Run {
    moves: Range<usize>,
    chord: Track,
    off: f64,
    under: f64,
    away: f64,
}

/// The moves in runs no longer than `length` unless one move is.
fn runs(moves: &[Sweep], length: f64) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut start = 0;
    let mut left = length;
    for (i, m) in moves.iter().enumerate() {
        let goes_on = i > start && i - start < MOST_MOVES && moves[i - 1].to == m.from;
        let own = (m.to[0] - m.from[0]).abs() + (m.to[1] - m.from[1]).abs();
        if i > start && !(goes_on && own <= left) {
            runs.push(run(moves, start..i));
            (start, left) = (i, length);
        }
        left -= own;
    }
    if start < moves.len() {
        runs.push(run(moves, start..moves.len()));
    }
    runs
}

fn run(moves: &[Sweep], which: Range<usize>) -> Run {
    let chord = Track::new(moves[which.start].from, moves[which.end - 1].to);
    let (mut off, mut under, mut away) = (0.0_f64, 0.0_f64, 0.0_f64);
    for to in moves[which.start..which.end - 1].iter().map(|m| m.to) {
        let (a, b) = chord.local(to[0] - chord.x0, to[1] - chord.y0);
        let t = clamp(a, chord.length);
        let (beside, below) = ((a - t).hypot(b), chord.z0 + chord.slope * t - to[2]);
        off = off.max(beside);
        under = under.max(below);
        away = away.max(beside.hypot(below));
    }
    Run { moves: which, chord, off, under, away }
}

/// An inclined plane over a block, as a tip sees it that would cut below it.
struct Incline {
    /// Middle of the block.
    x: f64,
    y: f64,
    /// Rise along x and y, and up the slope.
    gx: f64,
    gy: f64,
    steep: f64,
    /// Direction up the slope in plan; sine and cosine of its angle.
    up: (f64, f64),
    sine: f64,
    cosine: f64,
    /// How far above the plane at its own place a tip stands that touches it.
    over: f64,
    /// Radius of a ball nose, 0 for other forms.
    ball: f64,
    /// Cutting radius.
    radius: f64,
    /// A length on the plane over its plan, up the slope.
    stretch: f64,
    /// What a square millimetre of distance adds to a promise: of equals the nearest promises most.
    nearer: f64,
    /// Whether heights may be compared as they are.
    level: bool,
    /// The block reaches so far from its middle along or across the slope; its radius.
    side: f64,
    half: f64,
}

impl Incline {
    fn new(tip: &Tip, (x, y): (f64, f64), (gx, gy): (f64, f64), pitch: f64) -> Self {
        let steep = gx.hypot(gy);
        let up = if steep > 0.0 { (gx / steep, gy / steep) } else { (1.0, 0.0) };
        let cosine = 1.0 / (1.0 + steep * steep).sqrt();
        let half = HALF * pitch;
        let side = half * (up.0.abs() + up.1.abs());
        Self {
            x,
            y,
            gx,
            gy,
            steep,
            up,
            sine: steep * cosine,
            cosine,
            over: tip.over(steep),
            ball: tip.ball,
            radius: tip.radius,
            stretch: 1.0 / cosine,
            nearer: if tip.ball > 0.0 { 0.5 / (tip.ball * cosine) } else { NEARER },
            level: steep == 0.0 && tip.ball == 0.0,
            side,
            half: half * std::f64::consts::SQRT_2,
        }
    }

    /// Looks at lines: for each that may sink what stands up to `level` above the plane and no higher than `highest`, how it
    /// promises to do so.
    ///
    /// Of a ball whose middle is `e` from the plane, along its normal, a cap of radius √(R² − e²) lies below it, about the
    /// foot of the middle: it must reach the block.
    #[inline(always)]
    fn look(&self, lines: [&[f64]; FIGURES], (level, highest): (f64, f64), out: &mut Vec<Promise>) {
        let n = lines[0].len();
        let [x, y, z, ux, uy, length, slope, off, under] = lines.map(|row| &row[..n]);
        out.resize(n, Promise::default());
        let ball2 = self.ball * self.ball;
        for (i, out) in out[..n].iter_mut().enumerate() {
            let (x, y) = (x[i] - self.x, y[i] - self.y);
            let (off, under) = (off[i], under[i]);
            let (ax, ay) = (ux[i] * length[i], uy[i] * length[i]);
            let fall = slope[i] * length[i] - self.gx * ax - self.gy * ay;
            let slack = under + self.steep * off;
            let height = z[i] - self.gx * x - self.gy * y - self.over + least(fall, 0.0) - slack;
            let (s, t) = (x * self.up.0 + y * self.up.1, y * self.up.0 - x * self.up.1);
            let (ds, dt) = (ax * self.up.0 + ay * self.up.1, ay * self.up.0 - ax * self.up.1);
            let higher = (fall.abs() + 2.0 * slack) * self.cosine * self.sine;
            let depth = (level - height + CLEAR) * self.cosine;
            let e = self.ball - depth;
            let foot = e * self.sine;
            let above = s + least(ds, 0.0) - off + foot - self.side;
            let below = -(s + most(ds, 0.0) + off + higher + foot) - self.side;
            let beside = most(t + least(dt, 0.0), -t - most(dt, 0.0)) - off - self.side;
            let up = most(most(above, below), 0.0) * self.stretch;
            let across = most(beside, 0.0);
            // Beyond its equator a ball goes over into a cylinder.
            let upright = e <= self.ball * self.sine;
            let meets = (depth > 0.0) & (upright | (up * up + across * across < ball2 - e * e));
            // On a level floor nothing is rounded but the height itself: a floor cut once is not looked at again.
            let meets = if self.level { (height as f32) < level as f32 } else { meets };
            // Nearest in plan.
            let (a, b) = (-x * ux[i] - y * uy[i], x * uy[i] - y * ux[i]);
            let away = a - clamp(a, length[i]);
            let distance = (away * away + b * b).sqrt() - off - self.half;
            let distance = most(distance, 0.0);
            let under_ball = ball2 - distance * distance;
            let rise = self.ball - most(under_ball, 0.0).sqrt();
            let lowest = z[i] + least(slope[i] * length[i], 0.0) - under;
            let meets = meets & (distance <= self.radius) & (lowest + rise < highest);
            *out = Promise {
                height: if meets { height } else { f64::INFINITY },
                up: s + 0.5 * ds + self.ball * self.sine,
                across: t + 0.5 * dt,
            };
        }
    }

    /// About how high the tip leaves what is over a place of the block: of several the least promises most.
    #[inline(always)]
    fn promise(&self, of: &Promise, (up, across): (f64, f64)) -> f64 {
        let (up, across) = ((of.up - up) * self.stretch, of.across - across);
        of.height + (up * up + across * across) * self.nearer
    }
}

/// How a line promises to sink a block.
#[derive(Clone, Copy, Default)]
struct Promise {
    /// Height over the middle of the block of the lowest plane, inclined as the block, that touches the tip there; infinite if
    /// it cannot sink the block.
    height: f64,
    /// About where it touches it, from the middle of the block up the slope and across it.
    up: f64,
    across: f64,
}

#[inline(always)]
fn least(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

#[inline(always)]
fn most(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The tops of a row against a ball on a straight way, without a root: a top can only sink if it lies in the ball's way, or
/// above its middle within its radius. Seen from the middle of the block, in `f32`.
struct Capsule {
    /// From the start of the way of the ball's middle to the columns of a row, and that start.
    dx: [f32; SIDE],
    y: f32,
    z: f32,
    /// Direction and length of the way, its least height.
    ex: f32,
    ey: f32,
    ez: f32,
    length: f32,
    least: f32,
    /// Square of the distance up to which a top counts as met.
    reach: f32,
}

/// Squares of distances in `f32` may be wrong by this share of the squares they are made of: the ten steps that lead to one are
/// each rounded by less than 6e-8.
const ROUNDED: f64 = 2e-6;

impl Capsule {
    /// Of a ball that stays within `away` of the track in space.
    fn new(block: &Block, ball: f64, track: &Track, away: f64) -> Self {
        // Only what of the way is in reach of the block: so all lengths are small ones.
        let (x, y) = (block.x - track.x0, block.y - track.y0);
        let reach = ball + away + HALF * block.pitch * std::f64::consts::SQRT_2;
        let (along, _) = track.local(x, y);
        let (from, to) = (clamp(along - reach, track.length), clamp(along + reach, track.length));
        let (x, y, z) = (x - from * track.ux, y - from * track.uy, track.z0 + from * track.slope + ball);
        let fall = track.slope * (to - from);
        let stretch = (1.0 + track.slope * track.slope).sqrt();
        let length = (to - from) * stretch;
        let rise = fall.abs() + 2.0 * away;
        let reach = (ball * ball + rise * rise).sqrt() + away;
        let size = reach + length;
        Self {
            dx: std::array::from_fn(|i| ((i as f64 - HALF) * block.pitch + x) as f32),
            y: -y as f32,
            z: z as f32,
            ex: (track.ux / stretch) as f32,
            ey: (track.uy / stretch) as f32,
            ez: (track.slope / stretch) as f32,
            length: length as f32,
            least: (z + least(fall, 0.0) - away) as f32,
            reach: (reach * reach + ROUNDED * size * (size + z.abs())) as f32,
        }
    }

    /// Those of some rows of which any top is met, as bits.
    fn rows(&self, block: &Block, rows: u8) -> u8 {
        let met = |r: usize| self.meets(&block.tops[r], ((r as f64 - HALF) * block.pitch) as f32);
        (0..SIDE).fold(0, |all, r| if rows >> r & 1 == 1 && met(r) { all | 1 << r } else { all })
    }

    /// Whether any top of a row, `y` from the middle of the block, is met. A top above the lowest middle of the ball is taken
    /// there: if the ball meets it at all, then no farther away than its radius and what the way rises.
    #[inline(always)]
    fn meets(&self, tops: &[f32; SIDE], y: f32) -> bool {
        let dy = y - self.y;
        let (start, square) = (dy * self.ey, dy * dy);
        let mut nearest = [f32::INFINITY; SIDE];
        for i in 0..SIDE {
            let top = if tops[i] < self.least { tops[i] } else { self.least };
            let (dx, dz) = (self.dx[i], top - self.z);
            let along = start + dx * self.ex + dz * self.ez;
            let t = if along > 0.0 { along } else { 0.0 };
            let t = if t < self.length { t } else { self.length };
            nearest[i] = square + dx * dx + dz * dz - t * (along + along - t);
        }
        nearest.iter().fold(false, |met, d| met | (*d < self.reach))
    }
}

/// Figures of a line.
const FIGURES: usize = 9;

/// Tracks, and how far the tip may be beside and below them; each of their figures in a row of its own, so that many are looked
/// at at once.
#[derive(Default)]
struct Lines {
    figures: [Vec<f64>; FIGURES],
}

impl Lines {
    fn clear(&mut self) {
        self.figures.iter_mut().for_each(Vec::clear);
    }

    fn push(&mut self, track: &Track, off: f64, under: f64) {
        let Track { x0, y0, z0, ux, uy, length, slope } = *track;
        let figures = [x0, y0, z0, ux, uy, length, slope, off, under];
        self.figures.iter_mut().zip(figures).for_each(|(row, figure)| row.push(figure));
    }

    fn of(&self, which: Range<usize>) -> [&[f64]; FIGURES] {
        self.figures.each_ref().map(|row| &row[which.clone()])
    }

    fn track(&self, i: usize) -> Track {
        let [x0, y0, z0, ux, uy, length, slope, ..] = self.figures.each_ref().map(|row| row[i]);
        Track { x0, y0, z0, ux, uy, length, slope }
    }
}

/// The runs that may reach a patch.
#[derive(Default)]
struct Near {
    which: Vec<u32>,
    lines: Lines,
}

impl Near {
    fn clear(&mut self) {
        self.which.clear();
        self.lines.clear();
    }

    fn push(&mut self, i: u32, run: &Run) {
        self.which.push(i);
        self.lines.push(&run.chord, run.off, run.under);
    }
}

/// Rows of the workpiece that one thread cuts.
struct Band<'a> {
    path: &'a Path<'a>,
    pitch: f64,
    nx: usize,
    x0: f64,
    y0: f64,
    lo: &'a mut [f32],
    hi: &'a mut [f32],
}

/// The tops of a block of columns; none where the workpiece ends.
struct Block {
    tops: [[f32; SIDE]; SIDE],
    /// Its middle.
    x: f64,
    y: f64,
    pitch: f64,
}

impl Block {
    fn lid(&self) -> Lid {
        lid(self.tops.as_flattened(), SIDE, (0, 0), self.pitch)
    }

    /// The most that stands above a plane through the height 0 of its middle.
    fn level(&self, slope: (f64, f64)) -> f64 {
        let rise: [f32; SIDE] = std::array::from_fn(|i| ((i as f64 - HALF) * self.pitch * slope.0) as f32);
        let mut most = [f32::NEG_INFINITY; SIDE];
        for (r, row) in self.tops.iter().enumerate() {
            let across = ((r as f64 - HALF) * self.pitch * slope.1) as f32;
            for i in 0..SIDE {
                let over = row[i] - across;
                most[i] = if over > most[i] { over } else { most[i] };
            }
        }
        let over = |i: usize| f64::from(most[i] - rise[i]);
        (0..SIDE).map(over).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Kept from block to block.
struct Work {
    /// The last look: how it was inclined, what stood above it and in all.
    incline: Incline,
    level: (f64, f64),
    /// How the tops of the last block that was cut are inclined.
    slope: (f64, f64),
    /// Of the near runs, and of the moves of one.
    runs: Vec<Promise>,
    moves: Vec<Promise>,
    /// Those of the near runs that may sink the block, and by what they promise.
    promising: Vec<u32>,
    order: Vec<(f64, usize)>,
}

impl Work {
    fn new(tip: &Tip) -> Self {
        let incline = Incline::new(tip, (0.0, 0.0), (0.0, 0.0), 1.0);
        let (runs, moves, promising, order) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self { incline, level: (0.0, 0.0), slope: (0.0, 0.0), runs, moves, promising, order }
    }
}

impl Band<'_> {
    fn cut(&mut self) {
        let across = self.nx.div_ceil(SIDE * PATCH);
        let down = (self.hi.len() / self.nx).div_ceil(SIDE * PATCH);
        let mut near = Near::default();
        let mut work = Work::new(&self.path.tip);
        for (j, lists) in self.by_patch(across, down).chunks(across).enumerate() {
            for (i, list) in lists.iter().enumerate().filter(|(_, list)| !list.is_empty()) {
                near.clear();
                list.iter().for_each(|&k| near.push(k, &self.path.runs[k as usize]));
                self.patch((i, j), &near, &mut work);
            }
        }
    }

    /// For each patch the runs that may cut it.
    fn by_patch(&self, across: usize, down: usize) -> Vec<Vec<u32>> {
        let side = (PATCH * SIDE) as f64 * self.pitch;
        let half = side * std::f64::consts::FRAC_1_SQRT_2;
        let highest = self.highest(across, down);
        let most = highest.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let (left, front) = (self.x0 - self.pitch / 2.0, self.y0 - self.pitch / 2.0);
        let mut lists = vec![Vec::new(); across * down];
        for (k, run) in self.path.runs.iter().enumerate() {
            let (chord, reach) = (&run.chord, self.path.tip.radius + run.off);
            let lowest = chord.lowest() - run.under;
            if lowest >= f64::from(most) {
                continue;
            }
            let (low, high) = chord.rows(reach);
            let range = |from: f64, to: f64, start: f64, n: usize| {
                let index = |v: f64| ((v - start) / side).max(0.0) as usize;
                index(from).min(n)..(index(to) + 1).min(if to < start { 0 } else { n })
            };
            let end = chord.ux * chord.length;
            let columns = range(chord.x0 + end.min(0.0) - reach, chord.x0 + end.max(0.0) + reach, left, across);
            for j in range(chord.y0 + low, chord.y0 + high, front, down) {
                for i in columns.clone() {
                    let (x, y) = (left + (i as f64 + 0.5) * side, front + (j as f64 + 0.5) * side);
                    let (a, b) = chord.local(x - chord.x0, y - chord.y0);
                    let away = (a - clamp(a, chord.length)).hypot(b) - half;
                    if away <= reach && lowest < f64::from(highest[j * across + i]) {
                        lists[j * across + i].push(k as u32);
                    }
                }
            }
        }
        lists
    }

    /// Highest top of each patch.
    fn highest(&self, across: usize, down: usize) -> Vec<f32> {
        let mut highest = vec![f32::NEG_INFINITY; across * down];
        for (row, line) in self.hi.chunks_exact(self.nx).enumerate() {
            let patches = &mut highest[row / (SIDE * PATCH) * across..][..across];
            for (most, part) in patches.iter_mut().zip(line.chunks(SIDE * PATCH)) {
                *most = part.iter().fold(*most, |most, z| if *z > most { *z } else { most });
            }
        }
        highest
    }

    fn patch(&mut self, patch: (usize, usize), near: &Near, work: &mut Work) {
        let blocks = |at: usize, n: usize| at * PATCH..((at + 1) * PATCH).min(n.div_ceil(SIDE));
        for down in blocks(patch.1, self.hi.len() / self.nx) {
            for across in blocks(patch.0, self.nx) {
                self.block((across, down), near, work);
            }
        }
    }

    /// Cuts one block. The first look, inclined as the last block was, takes the move that promises most over the middle; the
    /// second, inclined as the tops are then, those that promise most over each quarter; the third goes through all that may
    /// still sink the block.
    fn block(&mut self, at: (usize, usize), near: &Near, work: &mut Work) {
        let mut block = self.load(at);
        let mut one = OneBlock { band: self, at, block: &mut block, near, hit: false };
        if !one.look(work.slope, work) {
            return;
        }
        one.best(work, (0.0, 0.0));
        let lid = one.block.lid();
        if one.look((f64::from(lid.x), f64::from(lid.y)), work) {
            let quarter = HALF * one.band.pitch / 2.0;
            for at in [(-quarter, -quarter), (quarter, -quarter), (-quarter, quarter), (quarter, quarter)] {
                one.best(work, at);
            }
            let lid = one.block.lid();
            if one.look((f64::from(lid.x), f64::from(lid.y)), work) {
                one.all(work);
            }
        }
        if one.hit {
            let lid = block.lid();
            work.slope = (f64::from(lid.x), f64::from(lid.y));
            self.store(at, &block);
        }
    }

    fn load(&self, at: (usize, usize)) -> Block {
        let middle = |start: f64, i: usize| start + ((i * SIDE) as f64 + HALF) * self.pitch;
        let mut tops = [[f32::NEG_INFINITY; SIDE]; SIDE];
        for (row, tops) in self.rows(at).zip(&mut tops) {
            *tops = load(&self.hi[self.columns(at, row)], f32::NEG_INFINITY);
        }
        Block { tops, x: middle(self.x0, at.0), y: middle(self.y0, at.1), pitch: self.pitch }
    }

    fn store(&mut self, at: (usize, usize), block: &Block) {
        for (row, tops) in self.rows(at).zip(&block.tops) {
            let columns = self.columns(at, row);
            self.hi[columns.clone()].copy_from_slice(&tops[..columns.len()]);
            empty_what_is_through(&mut self.lo[columns.clone()], &mut self.hi[columns]);
        }
    }

    fn rows(&self, at: (usize, usize)) -> Range<usize> {
        at.1 * SIDE..((at.1 + 1) * SIDE).min(self.hi.len() / self.nx)
    }

    /// The columns of a block in a row of the band.
    fn columns(&self, at: (usize, usize), row: usize) -> Range<usize> {
        row * self.nx + at.0 * SIDE..row * self.nx + ((at.0 + 1) * SIDE).min(self.nx)
    }
}

/// A block about to be cut.
struct OneBlock<'b, 'a> {
    band: &'b Band<'a>,
    at: (usize, usize),
    block: &'b mut Block,
    near: &'b Near,
    /// Whether anything was taken.
    hit: bool,
}

impl OneBlock<'_, '_> {
    /// Looks at all near runs, inclined in some way; tells whether any may sink the block.
    fn look(&mut self, slope: (f64, f64), work: &mut Work) -> bool {
        let path = self.band.path;
        work.incline = Incline::new(&path.tip, (self.block.x, self.block.y), slope, self.block.pitch);
        let level = (self.block.level(slope), f64::from(self.block.lid().highest));
        work.incline.look(self.near.lines.of(0..self.near.which.len()), level, &mut work.runs);
        work.level = level;
        work.promising.clear();
        work.promising.extend((0..work.runs.len() as u32).filter(|i| work.runs[*i as usize].height < f64::INFINITY));
        !work.promising.is_empty()
    }

    /// Cuts the move that promises most over a place of the block.
    fn best(&mut self, work: &mut Work, at: (f64, f64)) {
        let path = self.band.path;
        let which = work.promising.iter().map(|i| *i as usize);
        let Some(run) = best(which, &work.runs, &work.incline, at) else { return };
        let moves = &path.runs[self.near.which[run] as usize].moves;
        work.incline.look(path.lines.of(moves.clone()), work.level, &mut work.moves);
        if let Some(one) = best(0..moves.len(), &work.moves, &work.incline, at) {
            self.cut(moves.start + one, ALL_ROWS);
        }
    }

    /// Cuts all moves that may sink the block, those of the most promising run first.
    fn all(&mut self, work: &mut Work) {
        let path = self.band.path;
        work.order.clear();
        let promise = |i: &u32| (work.incline.promise(&work.runs[*i as usize], (0.0, 0.0)), *i as usize);
        work.order.extend(work.promising.iter().map(promise));
        work.order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for &(_, i) in &work.order {
            let run = &path.runs[self.near.which[i] as usize];
            let rows = self.met(&run.chord, run.away, ALL_ROWS);
            if rows == 0 {
                continue;
            }
            work.incline.look(path.lines.of(run.moves.clone()), work.level, &mut work.moves);
            let mut any = false;
            for (k, _) in work.moves.iter().enumerate().filter(|(_, of)| of.height < f64::INFINITY) {
                any |= self.cut(run.moves.start + k, rows);
            }
            if any {
                work.level.0 = self.block.level((work.incline.gx, work.incline.gy));
            }
        }
    }

    /// The rows in which the ball that goes along a track may meet a top.
    fn met(&self, track: &Track, away: f64, rows: u8) -> u8 {
        let ball = self.band.path.tip.ball;
        if ball > 0.0 { Capsule::new(self.block, ball, track, away).rows(self.block, rows) } else { rows }
    }

    /// Cuts one move in some rows.
    fn cut(&mut self, which: usize, rows: u8) -> bool {
        let path = self.band.path;
        let track = path.lines.track(which);
        let rows = self.met(&track, 0.0, rows);
        if rows == 0 {
            return false;
        }
        let Band { pitch, x0, y0, .. } = *self.band;
        let first = (x0 - track.x0 + (self.at.0 * SIDE) as f64 * pitch, y0, self.at.1 * SIDE);
        let tops = &mut self.block.tops;
        let any = with_underside(path.tip.solid, track.slope, OneMove { tops, track: &track, first, pitch, rows });
        self.hit |= any;
        any
    }
}

/// All rows of a block, as bits.
const ALL_ROWS: u8 = u8::MAX;

fn best(which: impl Iterator<Item = usize>, of: &[Promise], incline: &Incline, at: (f64, f64)) -> Option<usize> {
    let mut best = (f64::INFINITY, None);
    for i in which {
        let promise = incline.promise(&of[i], at);
        if promise < best.0 {
            best = (promise, Some(i));
        }
    }
    best.1
}

/// A move about to be cut into some rows of a block.
struct OneMove<'b> {
    tops: &'b mut [[f32; SIDE]; SIDE],
    track: &'b Track,
    /// x of the first column seen from the start of the track; y of the band's first row; the block's first row in the band.
    first: (f64, f64, usize),
    pitch: f64,
    rows: u8,
}

impl WithUnderside for OneMove<'_> {
    type Out = bool;

    fn run<U: Underside>(self, underside: U) -> bool {
        let (x, y0, row) = self.first;
        let strides = Strides::new(self.track, self.pitch);
        let mut any = false;
        for (r, tops) in self.tops.iter_mut().enumerate().filter(|(r, _)| self.rows >> r & 1 == 1) {
            let y = y0 + (row + r) as f64 * self.pitch - self.track.y0;
            let heights = envelope(&underside, self.track, (x, y), &strides);
            for i in 0..SIDE {
                let lower = heights[i] < tops[i];
                tops[i] = if lower { heights[i] } else { tops[i] };
                any |= lower;
            }
        }
        any
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Clearances;
    use crate::columns::tests::slab;
    use crate::sweep::tests::{forms, plain};
    use base::Quiet;

    fn chain(points: &[[f64; 3]]) -> Vec<Sweep> {
        points.windows(2).map(|pair| Sweep { from: pair[0], to: pair[1] }).collect()
    }

    /// Fine moves along a wave, long and steep ones, plunges, moves through air.
    fn paths() -> Vec<Vec<Sweep>> {
        let fine = |i: i32| {
            let t = f64::from(i) * 0.02;
            let (x, y) = (9.0 * (0.9 * t).cos(), 8.0 * (1.31 * t).sin());
            [x, y, -4.0 + 1.5 * (0.8 * x).sin() + 0.1 * y]
        };
        let wide = |i: i32| {
            let t = f64::from(i);
            let z = if i % 17 == 0 { 5.0 } else { -2.0 + 3.0 * (0.37 * t).sin() };
            [13.0 * (0.71 * t).sin(), 13.0 * (0.43 * t).cos(), z]
        };
        let drilled = |i: i32| {
            let t = f64::from(i / 2);
            [10.0 * (0.9 * t).sin(), 10.0 * (1.7 * t).cos(), if i % 2 == 0 { 1.0 } else { -5.0 }]
        };
        vec![
            chain(&(0..2500).map(fine).collect::<Vec<_>>()),
            chain(&(0..70).map(wide).collect::<Vec<_>>()),
            chain(&(0..24).map(drilled).collect::<Vec<_>>()),
        ]
    }

    fn whole(cutter: &Solid, moves: &[Sweep], start: &Workpiece) -> Workpiece {
        let mut w = start.clone();
        w.cut_whole(cutter, moves, &Quiet).unwrap();
        w
    }

    /// The heights are those of the moves cut one by one in the order of time, to the last bit.
    #[test]
    fn it_leaves_what_the_moves_one_by_one_leave() {
        for cutter in forms() {
            for moves in paths() {
                let mut single = slab(13.0, -6.5, 0.0, 0.13);
                let start = single.clone();
                let none = Clearances { shank: 0.0, holder: 0.0 };
                for one in &moves {
                    single.cut(&cutter, std::slice::from_ref(one), none, &Quiet).unwrap();
                }
                let whole = whole(&cutter, &moves, &start);
                let bits = |w: &Workpiece| w.hi.iter().map(|z| z.to_bits()).collect::<Vec<u32>>();
                assert!(whole != start && bits(&whole) == bits(&single) && whole.lo == single.lo, "{:?}", cutter.form);
            }
        }
    }

    #[test]
    fn order_and_threads_change_nothing() {
        let (start, ball) = (slab(13.0, -6.5, 0.0, 0.1), plain(Form::Ball, 6.0));
        for mut moves in paths() {
            let pool = |n: usize| rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
            let one = pool(1).install(|| whole(&ball, &moves, &start));
            assert_eq!(one, pool(3).install(|| whole(&ball, &moves, &start)));
            let n = moves.len();
            moves.reverse();
            moves.rotate_left(n / 3);
            assert_eq!(one, whole(&ball, &moves, &start));
        }
    }

    #[test]
    fn a_plane_touches_the_underside_where_it_is_said_to() {
        // Against a search along the radius.
        for cutter in forms() {
            let tip = Tip::new(&cutter);
            for steep in [0.0, 0.01, 0.3, 1.0, 2.5, 20.0] {
                let over = tip.over(steep);
                let under = |k: i32| {
                    let r = cutter.radius() * f64::from(k) / 20_000.0;
                    steep * r - crate::sweep::rise(&cutter, r)
                };
                let most = (0..=20_000).map(under).fold(f64::NEG_INFINITY, f64::max);
                assert!(over >= most - 1e-12 && over - most < 1e-3 * (1.0 + steep), "{:?} {steep}", cutter.form);
            }
        }
    }

    #[test]
    fn a_run_holds_its_moves() {
        for moves in paths() {
            let runs = runs(&moves, 1.6);
            assert_eq!(runs.iter().map(|r| r.moves.len()).sum::<usize>(), moves.len());
            for run in &runs {
                let c = &run.chord;
                for m in &moves[run.moves.clone()] {
                    for k in 0..=8 {
                        let p: [f64; 3] =
                            std::array::from_fn(|i| m.from[i] + (m.to[i] - m.from[i]) * f64::from(k) / 8.0);
                        let (a, b) = c.local(p[0] - c.x0, p[1] - c.y0);
                        let t = clamp(a, c.length);
                        assert!((a - t).hypot(b) <= run.off + 1e-9);
                        assert!(c.z0 + c.slope * t - p[2] <= run.under + c.slope.abs() * run.off + 1e-9);
                    }
                }
            }
        }
    }
}
