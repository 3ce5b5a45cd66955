//! Long operations in parts, so that no program keeps a person at the machine for longer than they can stand by, and the
//! places to start again from. Either is only possible where the tip travels at the safe height, so a long stretch (a
//! spiral over a whole bowl) is lifted out of now and then.

use crate::choose::Speeds;
use crate::operation::Operation;
use crate::timing;
use paths::Move;
use trade::shelf::{CutterChange, Machine};

/// A program runs no longer than this where its moves leave a choice, s (common practice, no source).
const LONGEST_S: f64 = 45.0 * 60.0;
/// Share of it that parts of one operation are planned for: starts of the spindle and the way in come on top.
const PLANNED: f64 = 0.95;
/// Places to start again from lie at least so far apart, and so far from the program's end, s.
const AGAIN_EVERY_S: f64 = 600.0;
const AGAIN_BEFORE_END_S: f64 = 120.0;
/// No stretch without a travel runs for longer, s, so that a program can be parted and started again (common practice, no
/// source).
const STRETCH_S: f64 = 900.0;
/// Where a stretch is lifted out of may lie this far from where it would be best, s.
const ABOUT_S: f64 = 15.0;
/// After a lift at least so much of the path is run once more, so that both ends of a stretch blend, mm.
const ONCE_MORE: f64 = 3.0;
/// Rapids come down to this far above the path, mm.
const ABOVE: f64 = 2.0;
/// Heights closer than this are the same, mm.
const SAME: f64 = 1e-6;

/// A part of an operation, or the whole of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part<'a> {
    /// The operation.
    pub(crate) operation: &'a Operation,
    /// Its moves in this part.
    pub(crate) moves: &'a [Move],
    /// Index of the first of them in the operation.
    pub(crate) first: usize,
    /// Which part it is of how many, from 1.
    pub(crate) of: [usize; 2],
}

impl Part<'_> {
    /// Title for the comment in the program.
    pub(crate) fn title(&self) -> String {
        let [part, parts] = self.of;
        let title = &self.operation.title;
        if parts == 1 { title.clone() } else { format!("{title}, part {part} of {parts}") }
    }

    /// Indices of the moves before which it stops for the chips.
    pub(crate) fn stops(&self) -> Vec<usize> {
        let within = self.first..self.first + self.moves.len();
        self.operation.stops.iter().filter(|i| within.contains(i)).map(|i| i - self.first).collect()
    }

    /// Indices of the moves before which a program may be started again.
    pub(crate) fn again(&self, machine: &Machine, safe_z: f64) -> Vec<usize> {
        let ends = ends(self.moves, machine);
        let total = ends.last().copied().unwrap_or(0.0);
        let mut last = 0.0;
        let mut out = Vec::new();
        for i in travels(self.moves, safe_z) {
            let now = ends[i - 1];
            if now - last >= AGAIN_EVERY_S && total - now >= AGAIN_BEFORE_END_S {
                out.push(i);
                last = now;
            }
        }
        out
    }
}

/// Parts that go into one file: neighbours with the same cutter, or any neighbours where the machine stops for a change,
/// as long as the file does not get too long.
pub(crate) fn groups<'a>(operations: &'a [Operation], machine: &Machine, safe_z: f64) -> Vec<Vec<Part<'a>>> {
    let together = machine.cutter_change == CutterChange::ByHandInProgram;
    let mut groups: Vec<Vec<Part<'a>>> = Vec::new();
    let mut long = 0.0;
    for (part, time_s) in operations.iter().flat_map(|o| parts(o, machine, safe_z)) {
        let alike = |g: &Vec<Part<'_>>| together || g.iter().all(|p| p.operation.cutter == part.operation.cutter);
        match groups.last_mut().filter(|g| alike(g) && long + time_s <= LONGEST_S) {
            Some(group) => {
                group.push(part);
                long += time_s;
            }
            None => {
                groups.push(vec![part]);
                long = time_s;
            }
        }
    }
    groups
}

/// The operation in as few parts as keep within the longest time, as equal as its travels allow, with their times, s.
fn parts<'a>(operation: &'a Operation, machine: &Machine, safe_z: f64) -> Vec<(Part<'a>, f64)> {
    let moves = &operation.moves;
    let ends = ends(moves, machine);
    let total = ends.last().copied().unwrap_or(0.0);
    let wanted = (total / (PLANNED * LONGEST_S)).ceil().max(1.0);
    let travels = travels(moves, safe_z);
    let mut cuts: Vec<usize> = Vec::new();
    for k in 1..wanted as usize {
        let at = total * k as f64 / wanted;
        let nearest = travels.iter().copied().min_by(|&a, &b| {
            let off = |i: usize| (ends[i - 1] - at).abs();
            off(a).total_cmp(&off(b))
        });
        cuts.extend(nearest.filter(|i| cuts.last().is_none_or(|last| last < i)));
    }
    let bounds: Vec<usize> = std::iter::once(0).chain(cuts).chain([moves.len()]).collect();
    let count = bounds.len() - 1;
    let part = |(k, w): (usize, &[usize])| {
        let before = if w[0] == 0 { 0.0 } else { ends[w[0] - 1] };
        let time_s = if w[1] == 0 { 0.0 } else { ends[w[1] - 1] - before };
        (Part { operation, moves: &moves[w[0]..w[1]], first: w[0], of: [k + 1, count] }, time_s)
    };
    bounds.windows(2).enumerate().map(part).collect()
}

/// Moves that go from one place at the safe height to another.
pub(crate) fn travels(moves: &[Move], safe_z: f64) -> Vec<usize> {
    let safe = |m: &Move| (m.to()[2] - safe_z).abs() < SAME;
    let travel = |&i: &usize| matches!(moves[i], Move::Rapid { .. }) && safe(&moves[i]) && safe(&moves[i - 1]);
    (1..moves.len()).filter(travel).collect()
}

/// The moves, with lifts out of stretches that would run longer than [`STRETCH_S`] without a travel.
///
/// The tip goes straight up, which leaves any surface that was cut from above, over to a place that it passed a little before,
/// and straight down there: through air, for it has been there. What lies between the two is run once more.
pub(crate) fn lifted(moves: Vec<Move>, speeds: &Speeds, machine: &Machine, safe_z: f64) -> (Vec<Move>, Moved) {
    let ends = ends(&moves, machine);
    let bounds: Vec<usize> = std::iter::once(0).chain(travels(&moves, safe_z)).chain([moves.len()]).collect();
    let lifts: Vec<(usize, usize)> = bounds.windows(2).flat_map(|w| lifts(&moves[..w[1]], w[0], &ends)).collect();
    with_lifts(moves, &lifts, (safe_z, speeds.plunge))
}

/// Where moves lie after lifts were put between them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Moved {
    /// The travels that were put in.
    pub(crate) travels: Vec<usize>,
    /// From which index on, and which index then.
    runs: Vec<(usize, usize)>,
}

impl Moved {
    /// Where a move is now; of one that is made twice, where it is made first.
    pub(crate) fn index(&self, before: usize) -> usize {
        let run = self.runs.iter().rev().find(|(from, _)| *from <= before);
        run.map_or(before, |(from, now)| now + before - from)
    }
}

/// The moves with lifts: from the end of one move up, over, and down to the end of an earlier one, at the plunging feed.
pub(crate) fn with_lifts(
    moves: Vec<Move>,
    lifts: &[(usize, usize)],
    (safe_z, plunge): (f64, f64),
) -> (Vec<Move>, Moved) {
    if lifts.is_empty() {
        return (moves, Moved::default());
    }
    let (mut out, mut moved) = (Vec::with_capacity(moves.len()), Moved::default());
    let mut next = 0;
    for &(back, at) in lifts {
        let ([x, y, _], [u, v, w]) = (moves[at].to(), moves[back].to());
        out.extend_from_slice(&moves[next..=at]);
        moved.travels.push(out.len() + 1);
        out.extend([[x, y, safe_z], [u, v, safe_z], [u, v, (w + ABOVE).min(safe_z)]].map(|to| Move::Rapid { to }));
        out.push(Move::Feed { to: [u, v, w], feed: plunge });
        next = back + 1;
        moved.runs.push((at + 1, out.len() + at + 1 - next));
    }
    out.extend_from_slice(&moves[next..]);
    (out, moved)
}

/// The move whose end to come back to, if the path is lifted out of after move `at`; `from` is where it was last.
pub(crate) fn lift_at(moves: &[Move], from: usize, at: usize) -> Option<usize> {
    let goes_on = moves.get(at + 1).is_some_and(is_feed);
    if goes_on { way_back(moves, from, at).map(|(back, _)| back) } else { None }
}

/// Where a stretch, the moves from `first` on, is lifted out of: (the move whose end to come back to, the move whose end to
/// lift from).
fn lifts(moves: &[Move], first: usize, ends: &[f64]) -> Vec<(usize, usize)> {
    let time = |i: usize| ends[i] - ends[first];
    let total = if moves.len() > first { time(moves.len() - 1) } else { 0.0 };
    let parts = (total / STRETCH_S).ceil().max(1.0);
    let mut out: Vec<(usize, usize)> = Vec::new();
    for k in 1..parts as usize {
        let best = total * k as f64 / parts;
        let near =
            (first + 1..moves.len() - 1).filter(|&i| (time(i) - best).abs() <= ABOUT_S && is_feed(&moves[i + 1]));
        let from = out.last().map_or(first, |&(_, at)| at);
        let ways = near.filter_map(|i| way_back(moves, from, i).map(|(back, length)| (length, back, i)));
        out.extend(ways.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, back, at)| (back, at)));
    }
    out
}

/// The last move before `at` whose end lies [`ONCE_MORE`] or farther back along a path cut at feed, and how far.
fn way_back(moves: &[Move], from: usize, at: usize) -> Option<(usize, f64)> {
    let mut length = 0.0;
    for i in (from + 1..=at).rev() {
        if !is_feed(&moves[i]) {
            return None;
        }
        length += timing::segment(moves[i - 1].to(), &moves[i]).length();
        if length >= ONCE_MORE {
            return is_feed(&moves[i - 1]).then_some((i - 1, length));
        }
    }
    None
}

fn is_feed(m: &Move) -> bool {
    m.feed().is_some()
}

/// When each move ends, s.
fn ends(moves: &[Move], machine: &Machine) -> Vec<f64> {
    let (_, each) = timing::of_moves(moves, machine);
    let sum = |now: &mut f64, each: f64| {
        *now += each;
        Some(*now)
    };
    each.into_iter().scan(0.0, sum).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feeds::Limit;

    /// `n` strokes of a metre at 1 m/min with travels between them.
    fn strokes(cutter: u32, n: usize) -> Operation {
        let stroke = |k: usize| {
            let y = k as f64;
            [
                Move::Rapid { to: [0.0, y, 20.0] },
                Move::Rapid { to: [0.0, y, 1.0] },
                Move::Feed { to: [0.0, y, 0.0], feed: 500.0 },
                Move::Feed { to: [1000.0, y, 0.0], feed: 1000.0 },
                Move::Rapid { to: [1000.0, y, 20.0] },
            ]
        };
        let (why, bound_s) = (String::new(), [0.0; Limit::ALL.len()]);
        let moves = (0..n).flat_map(stroke).collect();
        Operation { title: "strokes".into(), cutter, speeds: speeds(), why, bound_s, moves, stops: Vec::new() }
    }

    fn speeds() -> Speeds {
        let by_hand = String::new();
        Speeds { rpm: 16_000.0, by_hand, feed: 1000.0, plunge: 500.0, chip_load: 0.05, leaves: 0.0 }
    }

    fn machine(change: CutterChange) -> Machine {
        let (shelf, _) = trade::parse(trade::DEFAULT_SHELF, base::FileId(0));
        let machines = shelf.map(|s| s.machines).unwrap_or_default();
        Machine { cutter_change: change, ..machines.into_iter().next().unwrap() }
    }

    #[test]
    fn a_long_operation_is_cut_where_the_tip_travels_and_nothing_is_lost() {
        let machine = machine(CutterChange::FilePerCutter);
        let operation = strokes(3, 96);
        let parts = parts(&operation, &machine, 20.0);
        assert_eq!(parts.len(), 3, "a good two hours");
        assert!(parts.iter().all(|(_, time_s)| *time_s <= LONGEST_S && *time_s > 0.7 * LONGEST_S));
        let joined: Vec<Move> = parts.iter().flat_map(|(p, _)| p.moves.to_vec()).collect();
        assert_eq!(joined, operation.moves);
        assert!(parts.iter().all(|(p, _)| matches!(p.moves[0], Move::Rapid { to } if to[2] == 20.0)));
        let again = parts[0].0.again(&machine, 20.0);
        assert!((3..=4).contains(&again.len()), "every ten minutes of 42: {again:?}");
        assert!(again.iter().all(|i| i % 5 == 0), "{again:?}");
    }

    #[test]
    fn a_stroke_without_travels_stays_whole() {
        let machine = machine(CutterChange::FilePerCutter);
        let mut operation = strokes(3, 1);
        operation.moves.truncate(4);
        operation.moves.push(Move::Feed { to: [0.0, 0.0, 0.0], feed: 10.0 });
        assert_eq!(parts(&operation, &machine, 20.0).len(), 1);
    }

    /// An hour along one spiral: it is lifted out of after every quarter, comes back to where it has been, and nothing is left
    /// out or cut in another order.
    #[test]
    fn a_long_spiral_is_lifted_out_of_and_gone_on_with() {
        let machine = machine(CutterChange::FilePerCutter);
        let at = |k: u32| {
            let (turn, radius) = (f64::from(k) * 0.05, 40.0 - 0.0004 * f64::from(k));
            [radius * turn.cos(), radius * turn.sin(), -0.0005 * f64::from(k)]
        };
        let mut moves = vec![Move::Rapid { to: [40.0, 0.0, 20.0] }, Move::Rapid { to: [40.0, 0.0, 2.0] }];
        moves.extend((0..33_000).map(|k| Move::Feed { to: at(k), feed: 1000.0 }));
        let end = moves[moves.len() - 1].to();
        moves.push(Move::Rapid { to: [end[0], end[1], 20.0] });
        let whole = ends(&moves, &machine)[moves.len() - 1];
        assert!((3000.0..4500.0).contains(&whole), "{whole} s");
        let (out, _) = lifted(moves.clone(), &speeds(), &machine, 20.0);
        let (ends, travels) = (ends(&out, &machine), travels(&out, 20.0));
        assert_eq!(travels.len() as f64, (whole / STRETCH_S).ceil() - 1.0);
        let bounds: Vec<usize> = [0].into_iter().chain(travels.iter().copied()).chain([out.len() - 1]).collect();
        assert!(bounds.windows(2).all(|w| ends[w[1]] - ends[w[0]] <= STRETCH_S + 2.0 * ABOUT_S));
        for &i in &travels {
            let (lift, down) = (out[i - 2].to(), out[i + 2].to());
            let back = out[..i - 1].iter().rposition(|m| m.to() == down).expect("has been there");
            assert!((2..=4).contains(&(i - 2 - back)), "about 2 mm a move, 3 mm once more");
            assert_eq!(out[i - 1].to(), [lift[0], lift[1], 20.0], "straight up");
            assert_eq!(out[i + 1].to(), [down[0], down[1], down[2] + ABOVE], "straight down");
        }
        // Without what a lift adds, the moves are what they were.
        let mut joined = out.clone();
        for &i in travels.iter().rev() {
            let back = joined[..i - 1].iter().rposition(|m| m.to() == joined[i + 2].to()).expect("has been there");
            joined.drain(back + 1..=i + 2);
        }
        assert_eq!(joined, moves);
    }

    #[test]
    fn files_hold_one_cutter_or_several_and_not_too_much() {
        let operations = [strokes(3, 10), strokes(3, 10), strokes(6, 10), strokes(6, 20)];
        let sizes = |change| {
            let machine = machine(change);
            groups(&operations, &machine, 20.0).iter().map(Vec::len).collect::<Vec<_>>()
        };
        assert_eq!(sizes(CutterChange::FilePerCutter), [2, 2]);
        assert_eq!(sizes(CutterChange::ByHandInProgram), [3, 1]);
    }
}
