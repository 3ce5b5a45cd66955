//! Arcs as a control reads them: pieces of at most a quarter turn whose radii agree after rounding, or chords.

use super::number::Decimals;
use std::f64::consts::{FRAC_PI_2, TAU};

/// How far radii at start and end may differ as written, mm: half of what NISTIR 6556 §3.5.3 allows.
const RADII: f64 = 0.001;
/// How far a written arc or chord may leave the asked arc in the plane, beyond the rounding of its ends, mm.
const AWAY: f64 = 0.002;
/// Arcs shorter than this, or with a greater radius, become chords, mm.
const SHORTEST: f64 = 0.01;
const LARGEST: f64 = 1000.0;

/// An arc as asked for, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    pub(super) from: [f64; 3],
    pub(super) to: [f64; 3],
    pub(super) centre: [f64; 2],
    pub(super) ccw: bool,
}

/// One piece of it, in steps of the last decimal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    Line([i64; 3]),
    Arc { to: [i64; 3], offset: [i64; 2] },
}

/// Two points in the plane nearer than this are one, mm: a full turn.
const SAME: f64 = 1e-9;

impl Asked {
    fn radius(&self) -> f64 {
        (self.from[0] - self.centre[0]).hypot(self.from[1] - self.centre[1])
    }

    /// Radius at the end less radius at the start, mm.
    pub(super) fn mismatch(&self) -> f64 {
        (self.to[0] - self.centre[0]).hypot(self.to[1] - self.centre[1]) - self.radius()
    }

    /// Signed sweep, radians; a full turn where the end is the start.
    fn sweep(&self) -> f64 {
        if (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1]) < SAME {
            return if self.ccw { TAU } else { -TAU };
        }
        let angle = |p: [f64; 3]| (p[1] - self.centre[1]).atan2(p[0] - self.centre[0]);
        signed(angle(self.to) - angle(self.from), self.ccw)
    }

    /// The point at a share of the way.
    fn at(&self, sweep: f64, share: f64) -> [f64; 3] {
        let start = (self.from[1] - self.centre[1]).atan2(self.from[0] - self.centre[0]);
        let (radius, angle) = (self.radius() + self.mismatch() * share, start + sweep * share);
        [
            self.centre[0] + radius * angle.cos(),
            self.centre[1] + radius * angle.sin(),
            self.from[2] + (self.to[2] - self.from[2]) * share,
        ]
    }

    /// The pieces to write, beginning at the written place `start`.
    pub(super) fn pieces(&self, start: [i64; 3], arcs: bool, grid: &Decimals) -> Vec<Piece> {
        let (sweep, radius) = (self.sweep(), self.radius());
        if !arcs || radius > LARGEST || radius * sweep.abs() < SHORTEST {
            return self.chords(sweep, 0.0, 1.0, grid);
        }
        let count = (sweep.abs() / FRAC_PI_2 - 1e-9).ceil().max(1.0) as usize;
        let mut pieces = Vec::new();
        let mut here = start;
        for i in 0..count {
            let (low, high) = (i as f64 / count as f64, (i + 1) as f64 / count as f64);
            let to = self.written(sweep, high, grid);
            match self.offset(here, to, (low + high) / 2.0, sweep / count as f64, grid) {
                Some(offset) => pieces.push(Piece::Arc { to, offset }),
                None => pieces.extend(self.chords(sweep, low, high, grid)),
            }
            here = to;
        }
        pieces
    }

    fn written(&self, sweep: f64, share: f64, grid: &Decimals) -> [i64; 3] {
        let p = if share == 1.0 { self.to } else { self.at(sweep, share) };
        [grid.nearest(p[0]), grid.nearest(p[1]), grid.up(p[2])]
    }

    fn chords(&self, sweep: f64, low: f64, high: f64, grid: &Decimals) -> Vec<Piece> {
        // Sagitta of a chord over the angle s: r (1 − cos(s/2)).
        let step = 2.0 * (1.0 - AWAY / self.radius().max(AWAY)).acos();
        let count = (sweep.abs() * (high - low) / step).ceil().max(1.0) as usize;
        let share = |i: usize| if i == count { high } else { low + (high - low) * i as f64 / count as f64 };
        (1..=count).map(|i| Piece::Line(self.written(sweep, share(i), grid))).collect()
    }

    /// The centre from the start, chosen among the steps around the true one so that the radii agree; `None` if none
    /// does without leaving the asked arc.
    fn offset(&self, from: [i64; 3], to: [i64; 3], middle: f64, sweep: f64, grid: &Decimals) -> Option<[i64; 2]> {
        let (a, b) = ([grid.mm(from[0]), grid.mm(from[1])], [grid.mm(to[0]), grid.mm(to[1])]);
        let near = [grid.nearest(self.centre[0] - a[0]), grid.nearest(self.centre[1] - a[1])];
        let middle = self.at(self.sweep(), middle);
        let mut best: Option<(f64, [i64; 2])> = None;
        for shift in (0..9).map(|k| [k / 3 - 1, k % 3 - 1]) {
            let offset = [near[0] + shift[0], near[1] + shift[1]];
            let centre = [a[0] + grid.mm(offset[0]), a[1] + grid.mm(offset[1])];
            let off = (centre[0] - self.centre[0]).hypot(centre[1] - self.centre[1]);
            let fits = Written { a, b, centre, ccw: self.ccw }.fits(middle, sweep, grid.step());
            if fits && best.is_none_or(|(least, _)| off < least) {
                best = Some((off, offset));
            }
        }
        best.map(|(_, offset)| offset)
    }
}

/// An arc as the control will understand it, mm.
struct Written {
    a: [f64; 2],
    b: [f64; 2],
    centre: [f64; 2],
    ccw: bool,
}

impl Written {
    fn fits(&self, middle: [f64; 3], sweep: f64, step: f64) -> bool {
        let out = |p: [f64; 2]| [p[0] - self.centre[0], p[1] - self.centre[1]];
        let size = |p: [f64; 2]| p[0].hypot(p[1]);
        let (a, b) = (out(self.a), out(self.b));
        let (ra, rb) = (size(a), size(b));
        let turned = signed(b[1].atan2(b[0]) - a[1].atan2(a[0]), self.ccw);
        let off_middle = (size(out([middle[0], middle[1]])) - (ra + rb) / 2.0).abs();
        (ra - rb).abs() < RADII && off_middle <= AWAY + step / 2.0 && (turned - sweep).abs() * ra <= 6.0 * step
    }
}

/// The angle in the sense asked for, from 0 to a full turn.
fn signed(angle: f64, ccw: bool) -> f64 {
    let turned = angle.rem_euclid(TAU);
    if ccw || turned == 0.0 { turned } else { turned - TAU }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_turn_is_four_quarters() {
        let asked = Asked { from: [5.0, 0.0, 0.0], to: [5.0, 0.0, -1.0], centre: [0.0, 0.0], ccw: true };
        let pieces = asked.pieces([5000, 0, 0], true, &Decimals::new(3, false));
        let wanted = [
            Piece::Arc { to: [0, 5000, -250], offset: [-5000, 0] },
            Piece::Arc { to: [-5000, 0, -500], offset: [0, -5000] },
            Piece::Arc { to: [0, -5000, -750], offset: [5000, 0] },
            Piece::Arc { to: [5000, 0, -1000], offset: [0, 5000] },
        ];
        assert_eq!(pieces, wanted);
    }

    #[test]
    fn chords_stay_within_the_tolerance() {
        let asked = Asked { from: [40.0, 0.0, 0.0], to: [0.0, 40.0, 0.0], centre: [0.0, 0.0], ccw: true };
        let grid = Decimals::new(6, false);
        let mut last = [40.0, 0.0];
        let pieces = asked.pieces([40_000_000, 0, 0], false, &grid);
        assert!(pieces.len() > 10 && pieces.len() < 200, "{}", pieces.len());
        for piece in pieces {
            let Piece::Line(to) = piece else { panic!("a chord") };
            let to = [grid.mm(to[0]), grid.mm(to[1])];
            let middle = f64::hypot((last[0] + to[0]) / 2.0, (last[1] + to[1]) / 2.0);
            assert!((middle - 40.0).abs() < 0.002 + 1e-5, "{middle}");
            last = to;
        }
    }
}
