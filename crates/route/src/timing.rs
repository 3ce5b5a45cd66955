//! Run time on a machine: of a program, from the events its text really makes, and of moves before they are text.

use paths::Move;
use rs274::interpret::{Event, What};
use trade::figures::motion::{Limits, Segment, time};
use trade::shelf::Machine;

/// Run time up to the end of each event, s. Motion comes to rest wherever something other than motion happens; what the
/// person does at a stop is not counted.
pub(crate) fn times(events: &[Event], machine: &Machine) -> Vec<f64> {
    let limits = Limits::of(machine);
    let mut ends = vec![0.0; events.len()];
    let mut now = 0.0;
    let mut run: Vec<(usize, Segment)> = Vec::new();
    let close = |run: &mut Vec<(usize, Segment)>, now: &mut f64, ends: &mut [f64]| {
        let segments: Vec<Segment> = run.iter().map(|(_, s)| *s).collect();
        for ((index, _), each) in run.drain(..).zip(time(&segments, &limits).each_s) {
            *now += each;
            ends[index] = *now;
        }
    };
    for (index, event) in events.iter().enumerate() {
        match &event.what {
            What::Straight { from, to, feed } => {
                if from.iter().all(|v| v.is_finite()) && from != to {
                    run.push((index, Segment::line(*from, *to, *feed)));
                }
            }
            What::Arc { from, to, centre, sweep, feed, .. } => {
                run.push((index, Segment::arc(*from, *to, [centre[0], centre[1]], *sweep > 0.0, *feed)));
            }
            What::Comment(_) | What::Air(_) | What::WorkOffset(_) => {}
            other => {
                close(&mut run, &mut now, &mut ends);
                if let What::Dwell(seconds) = other {
                    now += seconds;
                }
            }
        }
        ends[index] = now;
    }
    close(&mut run, &mut now, &mut ends);
    // Events without a time of their own end with the one before.
    let mut last = 0.0_f64;
    for end in &mut ends {
        last = last.max(*end);
        *end = last;
    }
    ends
}

/// The moves as segments of the path, and the time of each, s.
pub(crate) fn of_moves(moves: &[Move], machine: &Machine) -> (Vec<Segment>, Vec<f64>) {
    let mut at: Option<[f64; 3]> = None;
    let mut segments = Vec::with_capacity(moves.len());
    for m in moves {
        segments.push(segment(at.unwrap_or(m.to()), m));
        at = Some(m.to());
    }
    let each_s = time(&segments, &Limits::of(machine)).each_s;
    (segments, each_s)
}

/// A move as a segment of the path.
pub(crate) fn segment(from: [f64; 3], m: &Move) -> Segment {
    match *m {
        Move::Rapid { to } => Segment::line(from, to, None),
        Move::Feed { to, feed } => Segment::line(from, to, Some(feed)),
        Move::Arc { to, centre, ccw, feed } => Segment::arc(from, to, centre, ccw, feed),
    }
}
