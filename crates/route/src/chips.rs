//! Stops for the chips, where nothing on the machine clears them away and a closed hollow would fill with them.

use crate::operation::Chord;
use crate::parts::{lift_at, travels, with_lifts};
use paths::Move;
use workpiece::chips::FULL;
use workpiece::{Hollows, MoveCut};

/// Share of a hollow's room that chips are planned to take; the rest is for what the planner's columns cannot tell.
const PLANNED: f64 = FULL - 0.1;
/// A place where the tip travels anyway is taken for a stop if a hollow is at least so full there.
const WORTH: f64 = 0.25;

/// The moves, and before which of them the program stops. Lifts are put in where no travel comes in time.
///
/// `took` says what each chord of the path takes; the moves follow the same path, perhaps in shorter pieces. What is cut is
/// told to the hollows.
pub(crate) fn with_stops(
    moves: Vec<Move>,
    took: &[(Chord, MoveCut)],
    hollows: &mut Hollows,
    diameter: f64,
    (safe_z, plunge): (f64, f64),
) -> (Vec<Move>, Vec<usize>) {
    let chords = chords_of(&moves, took);
    let cut = |hollows: &mut Hollows, k: usize| {
        let taken = took[chords[k]..chords[k + 1]].iter();
        taken.map(|(c, cut)| hollows.took(c.to, f64::from(cut.removed_mm3), diameter)).fold(0.0, f64::max)
    };
    let bounds: Vec<usize> = std::iter::once(0).chain(travels(&moves, safe_z)).chain([moves.len()]).collect();
    let (mut lifts, mut stops): (Vec<(usize, usize)>, Vec<usize>) = (Vec::new(), Vec::new());
    for w in bounds.windows(2) {
        if hollows.fullest() >= WORTH {
            let mut ahead = hollows.clone();
            if (w[0]..w[1]).any(|k| cut(&mut ahead, k) > PLANNED) {
                stops.push(w[0]);
                hollows.empty();
            }
        }
        let mut from = w[0];
        for k in w[0]..w[1] {
            if cut(hollows, k) > PLANNED
                && let Some(back) = lift_at(&moves[..w[1]], from, k)
            {
                lifts.push((back, k));
                from = k;
                hollows.empty();
            }
        }
    }
    let (moves, moved) = with_lifts(moves, &lifts, (safe_z, plunge));
    let mut all: Vec<usize> = stops.into_iter().map(|i| moved.index(i)).chain(moved.travels.iter().copied()).collect();
    all.sort_unstable();
    (moves, all)
}

/// The first chord of each move, and one past the last of all: both follow the same path.
fn chords_of(moves: &[Move], took: &[(Chord, MoveCut)]) -> Vec<usize> {
    let mut out = vec![0];
    let mut next = 0;
    for (k, m) in moves.iter().enumerate() {
        let last = k + 1 == moves.len();
        // A move ends where one of the chords does; the first of the moves, which comes from nowhere, has none.
        let end = || took[next..].iter().position(|(chord, _)| chord.to == m.to());
        next += if k == 0 { 0 } else { end().map_or(0, |more| more + 1) };
        out.push(if last { took.len() } else { next });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use geom::{DVec2, Grid};

    /// Side of a square hole, and of the block that it is in, mm.
    const HOLE: f64 = 20.0;
    const BLOCK: f64 = 40.0;
    const DIAMETER: f64 = 6.0;
    const SAFE: f64 = 5.0;

    fn block(depth: f32) -> Grid<f32> {
        let half = DVec2::splat(BLOCK / 2.0);
        let mut tops = Grid::covering(-half, half, 0.5, 0.0_f32);
        for iy in 0..tops.ny {
            for ix in 0..tops.nx {
                let p = tops.at(ix, iy).abs();
                if p.max_element() < HOLE / 2.0 {
                    let node = tops.index(ix, iy);
                    tops.values[node] = -depth;
                }
            }
        }
        tops
    }

    /// The hole from 10 mm to 20 mm deep in layers of 1 mm, each to and fro in rows without a travel.
    fn layers() -> Vec<Move> {
        let mut moves = vec![Move::Rapid { to: [-8.0, -8.0, SAFE] }, Move::Rapid { to: [-8.0, -8.0, -9.0] }];
        for layer in 1..=10 {
            for row in 0..=16 {
                let (y, z, side) =
                    (f64::from(row) - 8.0, -10.0 - f64::from(layer), if row % 2 == 0 { 1.0 } else { -1.0 });
                moves.push(Move::Feed { to: [-8.0 * side, y, z], feed: 1000.0 });
                moves.push(Move::Feed { to: [8.0 * side, y, z], feed: 1000.0 });
            }
        }
        moves.push(Move::Rapid { to: [8.0, 8.0, SAFE] });
        moves
    }

    /// What each move takes: a row its share of the layer.
    fn taken(moves: &[Move]) -> Vec<(Chord, MoveCut)> {
        let row = (HOLE * HOLE / 17.0) as f32;
        let take = |(k, m): (usize, &[Move])| {
            let (from, to) = (m[0].to(), m[1].to());
            let cuts = m[1].feed().is_some() && from[1..] == to[1..];
            let cut = MoveCut { removed_mm3: if cuts { row } else { 0.0 }, ..MoveCut::default() };
            (Chord { from, to, of: k + 1 }, cut)
        };
        moves.windows(2).enumerate().map(take).collect()
    }

    /// Chips take 3.5 times the room (common practice: 3 to 4): a hole 10 mm deep is half full after 1.7 mm more, and so on.
    #[test]
    fn a_hole_is_emptied_before_it_is_half_full_and_nothing_is_left_out() {
        let moves = layers();
        let took = taken(&moves);
        let mut hollows = Hollows::new(&block(10.0), &block(20.0), 0.0);
        let (out, stops) = with_stops(moves.clone(), &took, &mut hollows, DIAMETER, (SAFE, 300.0));
        // Depth times 1/(1 − 0.5/3.5) at each stop: ln 2 / ln 1.167 = 4.5 times until it is twice as deep.
        assert_eq!(stops.len(), 4);
        let up = |i: usize| matches!(out[i], Move::Rapid { to } if to[2] == SAFE) && out[i - 1].to()[2] == SAFE;
        assert!(stops.iter().all(|&i| up(i)), "it stops where the tip has gone up");
        // Every place that was cut still is, in the same order.
        let mut wanted = moves.iter().filter(|m| m.feed().is_some()).map(Move::to).peekable();
        for m in &out {
            wanted.next_if(|to| *to == m.to());
        }
        assert_eq!(wanted.next(), None);
        let mut again = Hollows::new(&block(10.0), &block(20.0), 0.0);
        let whole =
            took.iter().map(|(c, cut)| again.took(c.to, f64::from(cut.removed_mm3), DIAMETER)).fold(0.0, f64::max);
        assert!((whole - 3.5 * 0.5).abs() < 0.1, "{whole} without a stop");
        assert!(hollows.fullest() <= PLANNED + 0.01);
    }

    #[test]
    fn a_travel_that_comes_in_time_is_taken() {
        let mut moves = layers();
        // One travel after the first layer: 3.5 mm of 11 mm are chips there, too many for another layer.
        let at = 2 + 34;
        let (a, b) = (moves[at - 1].to(), moves[at].to());
        let over = [[a[0], a[1], SAFE], [b[0], b[1], SAFE], [b[0], b[1], -10.0]];
        moves.splice(at..at, over.map(|to| Move::Rapid { to }));
        let took = taken(&moves);
        let mut hollows = Hollows::new(&block(10.0), &block(20.0), 0.0);
        let (_, stops) = with_stops(moves, &took, &mut hollows, DIAMETER, (SAFE, 300.0));
        assert_eq!(stops[0], at + 1, "before the travel that was there");
    }
}
