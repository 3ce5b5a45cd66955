//! When columns were lowered: a thinned record of a run of cuts, and what came loose in it, and at which move.
//!
//! Two neighbours are one as long as their stretches overlap: while both tops stand above the higher of their two
//! undersides. Undersides never move, so every pair has one moment at which it parts, and every column one at which it
//! is gone. Read backwards, pairs only ever join: a union-find run from the last move to the first
//! (R. E. Tarjan, "Efficiency of a good but not linear set union algorithm", *J. ACM* 22(2), 1975) meets every body at
//! the very move that freed it. One pass thus answers for the state after each of any number of moves.
//!
//! **Resolution.** Every n-th column of the workpiece is followed, each for itself, as its top stands at that point. A
//! web between two bodies that is narrower than the distance of the columns followed may be missed (then a body is
//! called loose too early); a kerf that is narrower may be, too (then it is called held): no cutter is so thin.

use crate::Workpiece;
use crate::band::ROWS;
use crate::columns::thinned;
use rayon::prelude::*;

/// A column's top is noted anew once it has sunk this far, mm, unless asked otherwise; where it nears its underside, every time.
const STEP: f32 = 0.25;
/// A skin thinner than this holds nothing together, mm (common practice, no source).
const SKIN: f32 = 0.05;
/// No column.
const NONE: u32 = u32::MAX;
/// Stands for the moment of what never happens.
const NEVER: u32 = u32::MAX;

/// A column sank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sunk {
    /// Which of the columns followed, X fastest.
    pub column: u32,
    /// Moves done by then over all runs of the history, this one included.
    pub moves: u32,
    /// Where its top stands now (workpiece frame), mm.
    pub top: f32,
}

/// The columns of one band that are followed, and what happened to them, in order.
#[derive(Clone, Debug)]
pub(crate) struct Noted {
    /// Every so many-th column, from this one on.
    step: usize,
    first_x: usize,
    /// First row of the band that is followed, if any.
    first_y: usize,
    nx: usize,
    /// Index of the band's first followed column.
    first: usize,
    /// Moves done before this run.
    before: u32,
    /// Tops as last noted.
    last: Vec<f32>,
    /// From this height down every change is noted.
    watch: Vec<f32>,
    /// A top is noted anew once it has sunk this far, mm.
    each: f32,
    events: Vec<Sunk>,
}

/// A row of the band that is followed.
pub(crate) struct NotedRow<'a> {
    noted: &'a mut Noted,
    from: usize,
}

/// A thinned record of cuts.
#[derive(Clone, Debug)]
pub struct History {
    nx: usize,
    ny: usize,
    pitch: f64,
    origin: [f64; 2],
    lo: Vec<f32>,
    /// Tops before the first move.
    start: Vec<f32>,
    bands: Vec<Noted>,
    moves: u32,
}

/// A connected body.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Least corner of its box (workpiece frame).
    pub min: [f64; 3],
    /// Greatest corner.
    pub max: [f64; 3],
}

/// A body that came loose.
#[derive(Clone, Debug, PartialEq)]
pub struct Parted {
    /// Index of the move that freed it, counted over all runs of the history; `None` if it was never held.
    pub by: Option<usize>,
    /// The body right after that move.
    pub body: Body,
}

impl History {
    /// Begins a record of every `factor`-th column.
    pub fn new(workpiece: &Workpiece, factor: usize) -> Self {
        Self::noting(workpiece, factor, STEP)
    }

    /// The same, noting a column's top anew once it has sunk by `each` mm.
    pub fn noting(workpiece: &Workpiece, factor: usize, each: f32) -> Self {
        let factor = factor.max(1);
        let (nx, first_x) = thinned(workpiece.nx, factor);
        let (ny, first_y) = thinned(workpiece.ny, factor);
        let pick = |values: &[f32]| {
            let rows = (0..ny).map(|iy| (first_y + iy * factor) * workpiece.nx + first_x);
            rows.flat_map(|row| (0..nx).map(move |ix| values[row + ix * factor])).collect::<Vec<f32>>()
        };
        let (lo, start) = (pick(&workpiece.lo), pick(&workpiece.hi));
        let mut history = Self {
            nx,
            ny,
            pitch: workpiece.pitch * factor as f64,
            origin: workpiece.at(first_x, first_y),
            lo,
            start,
            bands: Vec::new(),
            moves: 0,
        };
        let watch: Vec<f32> = (0..nx * ny).map(|c| history.watch(c)).collect();
        for band in 0..workpiece.ny.div_ceil(ROWS) {
            // Followed rows r with band · ROWS ≤ first_y + r · factor < (band + 1) · ROWS.
            let row_from = |row: usize| row.saturating_sub(first_y).div_ceil(factor).min(ny);
            let (from, end) = (row_from(band * ROWS), row_from((band + 1) * ROWS));
            history.bands.push(Noted {
                step: factor,
                first_x,
                first_y: first_y + from * factor - band * ROWS,
                nx,
                first: from * nx,
                before: 0,
                last: history.start[from * nx..end * nx].to_vec(),
                watch: watch[from * nx..end * nx].to_vec(),
                each,
                events: Vec::new(),
            });
        }
        history
    }

    /// Distance of the columns followed, mm.
    pub fn pitch(&self) -> f64 {
        self.pitch
    }

    /// Every sinking that was noted, in order of the moves, those of one move by column.
    pub fn sunk(&self) -> Vec<Sunk> {
        let mut all: Vec<Sunk> = self.bands.iter().flat_map(|band| band.events.iter().copied()).collect();
        all.sort_unstable_by_key(|sunk| (sunk.moves, sunk.column));
        all
    }

    /// The bands, ready for a run of so many moves.
    pub(crate) fn run(&mut self, moves: usize) -> &mut [Noted] {
        let before = self.moves;
        self.moves += moves as u32;
        self.bands.iter_mut().for_each(|b| b.before = before);
        &mut self.bands
    }

    /// Height at which the last of a column's pairs parts.
    fn watch(&self, column: usize) -> f32 {
        let lows = self.neighbours(column).map(|n| self.lo[n]).filter(|lo| lo.is_finite());
        lows.fold(self.lo[column], f32::max) + SKIN
    }

    fn neighbours(&self, column: usize) -> impl Iterator<Item = usize> {
        let (x, y, nx, ny) = (column % self.nx, column / self.nx, self.nx, self.ny);
        let beside = [(x > 0, 1), (y > 0, nx)].into_iter().filter(|n| n.0).map(move |n| column - n.1);
        let beyond = [(x + 1 < nx, 1), (y + 1 < ny, nx)].into_iter().filter(|n| n.0).map(move |n| column + n.1);
        beside.chain(beyond)
    }

    /// What came loose, in order of time: every body that no column holds, as it was right after the move that freed
    /// it. A column holds if it reaches down to `hold_z` + `slack`.
    pub fn parted(&self, hold_z: f64, slack: f64) -> Vec<Parted> {
        let film = Film::new(self);
        let holds = |c: usize| f64::from(self.lo[c]) <= hold_z + slack;
        let gone: Vec<u32> = (0..self.lo.len()).into_par_iter().map(|c| film.moment(c, self.lo[c])).collect();
        let mut pairs = self.pairs(&film);
        pairs.par_sort_unstable_by(|a, b| b.moment.cmp(&a.moment).then(a.columns.cmp(&b.columns)));
        let mut sets = Sets::new((0..self.lo.len()).map(holds));
        let mut parted = Vec::new();
        for batch in pairs.chunk_by(|a, b| a.moment == b.moment) {
            let moment = batch[0].moment;
            // The loose bodies as they stood after that move.
            let mut loose: Vec<(u32, [u32; 2])> = Vec::new();
            for &c in batch.iter().flat_map(|p| &p.columns).filter(|&&c| moment < NEVER && gone[c as usize] > moment) {
                let root = sets.root(c);
                if !sets.held[root as usize] {
                    loose.push((root, sets.ends[root as usize]));
                }
            }
            loose.sort_unstable();
            loose.dedup();
            batch.iter().for_each(|p| sets.join(p.columns));
            for (root, ends) in loose {
                let now = sets.root(root);
                if sets.held[now as usize] {
                    let body = self.body(&film, sets.members(ends), moment);
                    parted.push(Parted { by: Some(moment as usize - 1), body });
                }
            }
        }
        parted.extend(self.never_held(&film, &mut sets, &gone));
        parted.reverse();
        parted
    }

    /// Pairs of neighbours that touched at some time, with the number of moves after which they no longer did.
    fn pairs(&self, film: &Film) -> Vec<Pair> {
        let rows: Vec<Vec<Pair>> = (0..self.ny)
            .into_par_iter()
            .map(|y| {
                let columns = y * self.nx..(y + 1) * self.nx;
                let both = columns.flat_map(|c| self.neighbours(c).filter(move |n| *n > c).map(move |n| (c, n)));
                let timed = both.map(|(a, b)| {
                    let z = self.lo[a].max(self.lo[b]) + SKIN;
                    Pair { moment: film.moment(a, z).min(film.moment(b, z)), columns: [a as u32, b as u32] }
                });
                timed.filter(|p| p.moment > 0).collect()
            })
            .collect();
        rows.concat()
    }

    /// Bodies loose before the first move, the last column first.
    fn never_held(&self, film: &Film, sets: &mut Sets, gone: &[u32]) -> Vec<Parted> {
        let mut out = Vec::new();
        for c in (0..self.lo.len() as u32).rev().filter(|&c| gone[c as usize] > 0) {
            if sets.root(c) == c && !sets.held[c as usize] {
                let ends = sets.ends[c as usize];
                out.push(Parted { by: None, body: self.body(film, sets.members(ends), 0) });
            }
        }
        out
    }

    /// The body of these columns after so many moves.
    fn body(&self, film: &Film, columns: impl Iterator<Item = u32>, moves: u32) -> Body {
        let (half, cell) = (self.pitch / 2.0, self.pitch * self.pitch);
        let mut body = Body { volume_mm3: 0.0, min: [f64::INFINITY; 3], max: [f64::NEG_INFINITY; 3] };
        for c in columns.map(|c| c as usize) {
            let (x, y) = (c % self.nx, c / self.nx);
            let at = [self.origin[0] + x as f64 * self.pitch, self.origin[1] + y as f64 * self.pitch];
            let (lo, hi) = (f64::from(self.lo[c]), f64::from(film.top(c, moves)));
            for (k, at) in at.into_iter().enumerate() {
                body.min[k] = body.min[k].min(at - half);
                body.max[k] = body.max[k].max(at + half);
            }
            (body.min[2], body.max[2]) = (body.min[2].min(lo), body.max[2].max(hi));
            body.volume_mm3 += (hi - lo) * cell;
        }
        body
    }
}

impl Noted {
    /// The followed columns of a row of the band, if it is one of them.
    pub(crate) fn row(&mut self, row: usize) -> Option<NotedRow<'_>> {
        let line = row.checked_sub(self.first_y).filter(|d| d % self.step == 0)? / self.step;
        let from = line * self.nx;
        (from < self.last.len()).then_some(NotedRow { noted: self, from })
    }
}

impl NotedRow<'_> {
    /// Notes the tops from column `from` of the row on, after a move of the run.
    pub(crate) fn note(&mut self, from: usize, tops: &[f32], move_of_run: u32) {
        let noted = &mut *self.noted;
        let first = from.saturating_sub(noted.first_x).div_ceil(noted.step);
        for x in first..noted.nx {
            let Some(&top) = tops.get(noted.first_x + x * noted.step - from) else { break };
            let at = self.from + x;
            let last = noted.last[at];
            if top < last && (top <= last - noted.each || top <= noted.watch[at]) {
                noted.last[at] = top;
                let moves = noted.before + move_of_run + 1;
                noted.events.push(Sunk { column: (noted.first + at) as u32, moves, top });
            }
        }
    }
}

/// Two columns beside each other, and after how many moves they no longer touched.
#[derive(Clone, Copy, Debug)]
struct Pair {
    moment: u32,
    columns: [u32; 2],
}

/// The events column by column, each in order of time.
struct Film<'a> {
    start: &'a [f32],
    starts: Vec<u32>,
    events: Vec<(u32, f32)>,
}

impl<'a> Film<'a> {
    fn new(history: &'a History) -> Self {
        let mut starts = vec![0u32; history.lo.len() + 1];
        let all = || history.bands.iter().flat_map(|b| &b.events);
        all().for_each(|e| starts[e.column as usize + 1] += 1);
        for c in 1..starts.len() {
            starts[c] += starts[c - 1];
        }
        let mut next = starts.clone();
        let mut events = vec![(0, 0.0); starts[history.lo.len()] as usize];
        for e in all() {
            let slot = &mut next[e.column as usize];
            events[*slot as usize] = (e.moves, e.top);
            *slot += 1;
        }
        Self { start: &history.start, starts, events }
    }

    fn of(&self, column: usize) -> &[(u32, f32)] {
        &self.events[self.starts[column] as usize..self.starts[column + 1] as usize]
    }

    /// After how many moves the column's top stood no longer above `z`: 0 if it never did, [`NEVER`] if it still does.
    fn moment(&self, column: usize, z: f32) -> u32 {
        if self.start[column] <= z {
            return 0;
        }
        let events = self.of(column);
        events.get(events.partition_point(|e| e.1 > z)).map_or(NEVER, |e| e.0)
    }

    /// Top of the column after so many moves.
    fn top(&self, column: usize, moves: u32) -> f32 {
        let events = self.of(column);
        let done = events.partition_point(|e| e.0 <= moves);
        if done == 0 { self.start[column] } else { events[done - 1].1 }
    }
}

/// Sets of columns that are one body; the members of each in a chain.
struct Sets {
    parent: Vec<u32>,
    /// Valid for roots.
    held: Vec<bool>,
    /// First and last of the chain; valid for roots.
    ends: Vec<[u32; 2]>,
    next: Vec<u32>,
}

impl Sets {
    fn new(held: impl Iterator<Item = bool>) -> Self {
        let held: Vec<bool> = held.collect();
        let n = held.len() as u32;
        Self { parent: (0..n).collect(), held, ends: (0..n).map(|c| [c, c]).collect(), next: vec![NONE; n as usize] }
    }

    fn root(&mut self, mut c: u32) -> u32 {
        while self.parent[c as usize] != c {
            let above = self.parent[self.parent[c as usize] as usize];
            self.parent[c as usize] = above;
            c = above;
        }
        c
    }

    /// Chains are put one behind the other, so that a piece of a chain seen before stays what it was.
    fn join(&mut self, [a, b]: [u32; 2]) {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return;
        }
        let (first, second) = (a.min(b) as usize, a.max(b) as usize);
        self.parent[second] = first as u32;
        self.held[first] |= self.held[second];
        self.next[self.ends[first][1] as usize] = self.ends[second][0];
        self.ends[first][1] = self.ends[second][1];
    }

    /// The chain between two ends.
    fn members(&self, [first, last]: [u32; 2]) -> impl Iterator<Item = u32> {
        let next = move |&c: &u32| (c != last).then(|| self.next[c as usize]);
        std::iter::successors(Some(first), next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::slab;
    use crate::sweep::tests::plain;
    use crate::{Clearances, Sweep};
    use base::Quiet;
    use std::f64::consts::{PI, TAU};
    use trade::cutter::Form;

    const CLEAR: Clearances = Clearances { shank: 0.0, holder: 0.0 };

    /// A slab from z = 0 to 10 whose underside is 4 mm higher outside a stalk of that radius.
    fn on_a_stalk(half: f64, stalk: f64, pitch: f64) -> Workpiece {
        let mut w = slab(half, 0.0, 10.0, pitch);
        for k in 0..w.lo.len() {
            if w.x(k % w.nx).hypot(w.y(k / w.nx)) > stalk {
                w.lo[k] = 4.0;
            }
        }
        w
    }

    fn cut(w: &mut Workpiece, diameter: f64, points: &[[f64; 3]], history: &mut History) {
        let sweeps: Vec<Sweep> = points.windows(2).map(|p| Sweep { from: p[0], to: p[1] }).collect();
        w.cut_noting(&plain(Form::Flat, diameter), &sweeps, CLEAR, Some(history), &Quiet).unwrap();
    }

    fn circle(r: f64, z: f64, n: u32) -> Vec<[f64; 3]> {
        let point = |i: u32| {
            let angle = TAU * f64::from(i) / f64::from(n);
            [r * angle.cos(), r * angle.sin(), z]
        };
        (0..=n).map(point).collect()
    }

    #[test]
    fn a_ring_comes_loose_as_its_circle_closes() {
        for factor in [1, 4] {
            let mut w = on_a_stalk(20.0, 6.0, 0.1);
            let mut history = History::new(&w, factor);
            let n = 360;
            // The first circle leaves a skin of 1 mm; the second goes through; the third splits what is loose already.
            cut(&mut w, 1.0, &circle(8.5, 5.0, n), &mut history);
            assert_eq!(history.parted(0.0, 0.1), []);
            cut(&mut w, 1.0, &circle(8.5, 3.0, n), &mut history);
            cut(&mut w, 1.0, &circle(12.5, 3.0, n), &mut history);
            let parted = history.parted(0.0, 0.1);
            assert_eq!(parted.len(), 1, "{parted:?}");
            let by = parted[0].by.unwrap() as u32;
            // One chord is 0.15 mm: the web is gone a few before the last, as the cutter is 1 mm wide.
            assert!((2 * n - 12..2 * n).contains(&by), "{by}");
            let body = &parted[0].body;
            let want = (1600.0 - 81.0 * PI) * 6.0;
            assert!((body.volume_mm3 / want - 1.0).abs() < 5e-3, "{} {want}", body.volume_mm3);
            let coarse = 0.1 * factor as f64;
            assert!((body.max[0] - 20.0).abs() < coarse && (body.min[2], body.max[2]) == (4.0, 10.0));
            // Nothing holds it at all where the joint lies lower.
            let never = history.parted(-2.0, 0.1);
            assert!(never.iter().any(|p| p.by.is_none() && p.body.volume_mm3 > want));
        }
    }

    /// Loose bodies at one moment, by plain flooding over columns that touch.
    fn loose_now(w: &Workpiece) -> Vec<(usize, Vec<usize>)> {
        let overlap = |a: usize, b: usize| w.hi[a].min(w.hi[b]) > w.lo[a].max(w.lo[b]) + SKIN;
        let mut seen = vec![false; w.hi.len()];
        let mut out = Vec::new();
        for first in 0..w.hi.len() {
            if seen[first] || w.hi[first] <= w.lo[first] {
                continue;
            }
            let (mut body, mut next) = (Vec::new(), vec![first]);
            seen[first] = true;
            while let Some(c) = next.pop() {
                body.push(c);
                let (x, y) = (c % w.nx, c / w.nx);
                let around = [(x > 0, 1, 0), (x + 1 < w.nx, 0, 1), (y > 0, w.nx, 0), (y + 1 < w.ny, 0, w.nx)];
                for n in around.into_iter().filter(|a| a.0).map(|a| c - a.1 + a.2) {
                    if !seen[n] && w.hi[n] > w.lo[n] && overlap(c, n) {
                        seen[n] = true;
                        next.push(n);
                    }
                }
            }
            if body.iter().all(|&c| w.lo[c] > 0.1) {
                body.sort_unstable();
                out.push((first, body));
            }
        }
        out
    }

    #[test]
    fn every_move_agrees_with_a_search_right_after_it() {
        let mut w = on_a_stalk(8.0, 3.0, 0.5);
        let mut history = History::new(&w, 1);
        let point = |i: u32| {
            let t = f64::from(i);
            [9.0 * (2.3 * t).sin(), 9.0 * (1.7 * t + 0.4).cos(), if i % 5 == 4 { 5.5 } else { 3.5 }]
        };
        let points: Vec<[f64; 3]> = (0..60).map(point).collect();
        let mut was_loose = vec![false; w.hi.len()];
        let mut want = Vec::new();
        for (i, pair) in points.windows(2).enumerate() {
            cut(&mut w, 1.2, pair, &mut history);
            for (_, body) in loose_now(&w) {
                // Whole bodies come loose, or they were loose before and shrank.
                if !was_loose[body[0]] {
                    let volume: f64 = body.iter().map(|&c| f64::from(w.hi[c] - w.lo[c]) * 0.25).sum();
                    want.push((i, volume));
                }
                body.iter().for_each(|&c| was_loose[c] = true);
            }
        }
        assert!(want.len() > 5, "{want:?}");
        let mut got: Vec<(usize, f64)> =
            history.parted(0.0, 0.1).iter().map(|p| (p.by.unwrap(), p.body.volume_mm3)).collect();
        let order = |a: &(usize, f64), b: &(usize, f64)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1));
        got.sort_by(order);
        want.sort_by(order);
        assert_eq!(got.len(), want.len(), "{got:?} {want:?}");
        for (got, want) in got.iter().zip(&want) {
            // Tops are noted in steps, so volumes are a little too great at most.
            assert!(got.0 == want.0 && (got.1 - want.1).abs() <= 0.3 * want.1 + 0.1, "{got:?} {want:?}");
        }
    }
}
