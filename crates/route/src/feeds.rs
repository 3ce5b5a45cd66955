//! Feeds: how fast each stretch of an operation is cut, and at which speed of the spindle.
//!
//! An operation is carried out on the planner's workpiece first, so that what every stretch takes is known. Its feed is the
//! chip load of what is cut there, wood or resin, made good where the chip comes out thinner than the feed per tooth; then it is
//! lowered by whatever bears less: the holding, the spindle's power, the bending of cutter and machine, the strength of the
//! cutter, the axes. Last, what the machine reaches on this path is computed: where it would be too little for the teeth to cut
//! at all, the spindle turns more slowly. The limit that was the narrowest is noted for every stretch.

mod level_out;
mod limits;
mod speed;

pub(crate) use limits::Limit;

use crate::choose::Speeds;
use crate::operation::Chord;
use crate::timing;
use limits::{Bearing, Stretch};
use paths::Move;
use trade::figures::burning::{BURNS_SHARE, PATIENCE_S, Passage, WATCH_SHARE, longest_in_one_place};
use trade::shelf::{Cutter, Machine, Wood};
use workpiece::{Holding, MoveCut};

/// A move is taken apart for the sake of different feeds only if it is longer than this, mm.
const DIVIDED: f64 = 12.0;
/// Share of the path in the cut on which the machine may stay below [`WATCH_SHARE`] before the spindle is slowed down.
const UNREACHED: f64 = 0.1;
/// A slower spindle must better that share by so much.
const WORTH: f64 = 0.02;

/// What cuts what, held how.
#[derive(Clone, Copy)]
pub(crate) struct Cutting<'a> {
    /// The holding, program frame.
    pub(crate) holding: &'a Holding,
    /// The cutter.
    pub(crate) cutter: &'a Cutter,
    /// The machine.
    pub(crate) machine: &'a Machine,
    /// The wood.
    pub(crate) wood: &'a Wood,
    /// Whether nothing of it is seen or measured: a hollow that resin fills, a face that is faced again.
    pub(crate) hidden: bool,
    /// Pitch of the columns by which what is taken was measured, mm: a width may be short of the true one by so much.
    pub(crate) unsure: f64,
    /// Speeds that the path was planned for.
    pub(crate) planned: &'a Speeds,
}

/// An operation with its feeds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Decided {
    /// The moves; long ones may have been taken apart.
    pub(crate) moves: Vec<Move>,
    /// The spindle.
    pub(crate) speeds: Speeds,
    /// Why the spindle turns no faster, if it is not the cutter or the spindle that sets it; for a person.
    pub(crate) why: String,
    /// Time at feed by what limits it, s, in the order of [`Limit::ALL`].
    pub(crate) bound_s: [f64; Limit::ALL.len()],
}

/// Decides speed and feeds of the moves; `took` says what each chord of them takes.
pub(crate) fn decided(moves: &[Move], took: &[(Chord, MoveCut)], what: &Cutting<'_>) -> Decided {
    let stretches = limits::stretches(moves, took, what);
    let resin = stretches.iter().any(|s| s.bite.is_some_and(|b| b.resin > 0.0));
    let mut best: Option<(f64, Decided)> = None;
    for chosen in speed::to_try(what, resin) {
        let bearing = Bearing::new(what, chosen.rpm, resin);
        let (unreached, tried) = tried(moves, took, &stretches, &bearing, chosen);
        if best.as_ref().is_none_or(|(before, _)| unreached + WORTH < *before) {
            best = Some((unreached, tried));
        }
        if best.as_ref().is_some_and(|(unreached, _)| *unreached <= UNREACHED) {
            break;
        }
    }
    match best {
        Some((_, decided)) => decided,
        None => Decided {
            moves: moves.to_vec(),
            speeds: what.planned.clone(),
            why: String::new(),
            bound_s: [0.0; Limit::ALL.len()],
        },
    }
}

/// The feeds at one speed of the spindle, and the share of the path in the cut on which the machine does not reach them; above 1
/// where it rubs too long in one place.
fn tried(
    moves: &[Move],
    took: &[(Chord, MoveCut)],
    stretches: &[Stretch],
    bearing: &Bearing<'_>,
    chosen: speed::Chosen,
) -> (f64, Decided) {
    let feeds = level_out::level_out(stretches, bearing);
    let (moves, of) = with_feeds(moves, took, stretches, &feeds);
    let machine = bearing.what.machine;
    let (segments, each_s) = timing::of_moves(&moves, machine);
    let mut bound_s = [0.0; Limit::ALL.len()];
    let (mut cut, mut unreached) = (0.0, 0.0);
    let mut passages = Vec::with_capacity(moves.len());
    for (k, m) in moves.iter().enumerate() {
        let (length, seconds) = (segments[k].length(), each_s[k]);
        let mut share = None;
        if let (Some(feed), Some(of)) = (m.feed(), of[k]) {
            let reached = if seconds > 0.0 { length / seconds * 60.0 } else { feed };
            let (_, limit) = feeds[of];
            let kept_back = reached < REACHED * feed;
            bound_s[if kept_back { Limit::Motion } else { limit }.index()] += seconds;
            if let Some(bite) = stretches[of].bite {
                let asked = bearing.asked(Some(&bite));
                cut += length;
                // What something else bears no more of is not the machine's doing.
                unreached += if reached < WATCH_SHARE * asked.min(feed) { length } else { 0.0 };
                share = Some(reached / asked);
            }
        }
        passages.push(Passage { to: m.to(), length, seconds, share });
    }
    let (rubs, _) = longest_in_one_place(&passages, BURNS_SHARE, bearing.what.cutter.solid.radius());
    let unreached = unreached / cut.max(1e-9) + if rubs > PATIENCE_S { 1.0 } else { 0.0 };
    let speed::Chosen { rpm, by_hand, why } = chosen;
    let asked = bearing.asked(None);
    let flutes = f64::from(bearing.what.cutter.flutes.max(1));
    let planned = bearing.what.planned;
    let plunge = ((planned.plunge * rpm / planned.rpm / 10.0).floor() * 10.0).max(10.0);
    let speeds =
        Speeds { rpm, by_hand, feed: asked, plunge, chip_load: asked / (rpm * flutes), leaves: planned.leaves };
    (unreached, Decided { moves, speeds, why, bound_s })
}

/// A feed is reached from this share of it on.
const REACHED: f64 = 0.95;

/// The moves with the feeds of their stretches, and of which stretch each has its feed. A move across several has the least of
/// them, a long one is taken apart where the feed changes.
fn with_feeds(
    moves: &[Move],
    took: &[(Chord, MoveCut)],
    stretches: &[Stretch],
    feeds: &[(f64, Limit)],
) -> (Vec<Move>, Vec<Option<usize>>) {
    let mut of_chord = vec![None; took.len()];
    for (index, stretch) in stretches.iter().enumerate() {
        of_chord[stretch.chords.clone()].fill(Some(index));
    }
    let (mut out, mut of) = (Vec::with_capacity(moves.len()), Vec::with_capacity(moves.len()));
    let mut next = 0;
    for (k, m) in moves.iter().enumerate() {
        let first = next;
        while next < took.len() && took[next].0.of == k {
            next += 1;
        }
        let length: f64 = took[first..next].iter().map(|(chord, _)| chord.length()).sum();
        let mut runs: Vec<(usize, usize)> = Vec::new();
        let stretched = of_chord.iter().enumerate().take(next).skip(first);
        for (chord, stretch) in stretched.filter_map(|(chord, of)| of.map(|stretch| (chord, stretch))) {
            match runs.last_mut() {
                Some((end, slowest)) if length <= DIVIDED || feeds[*slowest].0 == feeds[stretch].0 => {
                    *end = chord;
                    if feeds[stretch].0 < feeds[*slowest].0 {
                        *slowest = stretch;
                    }
                }
                _ => runs.push((chord, stretch)),
            }
        }
        for (i, (end, stretch)) in runs.iter().enumerate() {
            let to = if i + 1 == runs.len() { m.to() } else { took[*end].0.to };
            out.push(m.at_feed(feeds[*stretch].0).ending(to));
            of.push(Some(*stretch));
        }
        if runs.is_empty() {
            out.push(*m);
            of.push(None);
        }
    }
    (out, of)
}

#[cfg(test)]
mod tests;
