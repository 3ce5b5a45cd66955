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
    let bounds: Vec<usize> =
        std::iter::once(0).chain(travels(&moves, safe_z).into_iter().filter(|&i| i > 0)).chain([moves.len()]).collect();
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
        let ends = took[next..].iter().position(|(chord, _)| chord.to == m.to());
        if let Some(more) = ends.filter(|_| k > 0) {
            next += more + 1;
        }
        out.push(if last { took.len() } else { next });
    }
    out
}
