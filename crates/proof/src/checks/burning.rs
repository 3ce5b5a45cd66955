//! Rubbing and burning: the chip load as the machine reaches it under its acceleration, corners and blocks; waits in the work.

use super::contact::{BRUSH_MM, BRUSH_MM3};
use super::load::windows;
use crate::case::{Case, SetupCase};
use crate::map::{Map, Painter, Shown, along};
use crate::motion::{Motion, Run};
use crate::replay::{Carve, Replay};
use crate::verdict::{Check, Where};
use trade::figures::burning::{BURNS_SHARE, PATIENCE_S, Passage, WATCH_SHARE, longest_in_one_place};
use trade::shelf::SpindleControl;

const RUBBING: &str = "Time in one place with less than 0.3 of the asked chip load, as the machine reaches it";
const THIN: &str = "Share of the time in the cut with less than 0.3 of the asked chip load, as the machine reaches it";
/// So much of the time may be cut so, and so much before it is on watch: ways in and entries (common practice, no source).
const THIN_SHARE: [f64; 2] = [0.5, 0.25];
const DWELL: &str = "Time for which the turning cutter stands still in the work";

/// The checks of a setup; two with the burn map, which tells what share is reached where.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Vec<Check> {
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        let uncomputed = |kind, title| Check::uncomputed(of.id(kind), title, why.clone());
        return vec![uncomputed("rubbing", RUBBING), uncomputed("thin-chips", THIN), uncomputed("dwell", DWELL)];
    };
    let passages = passages(case, of, carve);
    let map = map(of, &passages);
    let seen = |check: Check| check.mapped(map.clone());
    vec![seen(rubbing(case, of, &passages)), seen(thin_chips(of, &passages)), dwell(case, of, carve)]
}

/// Per run, what every motion reaches.
fn passages(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Vec<Vec<Passage>> {
    let machine = &case.evidence.machine;
    let mut out: Vec<Vec<Passage>> = Vec::new();
    for run in &of.runs {
        let seconds = run.seconds(machine);
        let passage = |(m, seconds): (&Motion, f64)| {
            let length = if m.is_known() { m.length() } else { 0.0 };
            Passage { to: m.to, length, seconds, share: None }
        };
        out.push(run.motions.iter().zip(seconds).map(passage).collect());
    }
    for window in windows(case, of, &carve.cuts) {
        let asked = window.asked(case);
        for passage in &mut out[window.run][window.motions.clone()] {
            if passage.seconds > 0.0 {
                passage.share = Some(passage.length / passage.seconds * 60.0 / asked);
            }
        }
    }
    out
}

fn rubbing(case: &Case<'_>, of: &SetupCase<'_>, passages: &[Vec<Passage>]) -> Check {
    let mut worst: (f64, Option<(&Run, &Motion)>) = (0.0, None);
    let mut watched = 0.0_f64;
    for (run, passages) in of.runs.iter().zip(passages) {
        let mut from = 0;
        for motions in run.motions.chunk_by(|a, b| a.cutter == b.cutter) {
            let of_cutter = &passages[from..from + motions.len()];
            let radius = case.cutter(motions[0].cutter).map_or(0.0, |c| c.solid.radius());
            let (burns, at) = longest_in_one_place(of_cutter, BURNS_SHARE, radius);
            if burns > worst.0 {
                worst = (burns, Some((run, &motions[at])));
            }
            watched = watched.max(longest_in_one_place(of_cutter, WATCH_SHARE, radius).0);
            from += motions.len();
        }
    }
    Check::at_most(of.id("rubbing"), RUBBING, worst.0, PATIENCE_S, "s")
        .at(of.place_of(worst.1))
        .watched(watched > PATIENCE_S)
        .remedy(FASTER)
        .assuming(MACHINE)
}

const FASTER: &str = "Lower the speed of the spindle, or raise the feed if the machine reaches it here: a tooth that only rubs \
                      burns wood and melts resin.";

fn thin_chips(of: &SetupCase<'_>, passages: &[Vec<Passage>]) -> Check {
    let (mut time, mut thin) = (0.0, 0.0);
    let mut longest: Option<(f64, &Run, &Motion)> = None;
    for (run, passages) in of.runs.iter().zip(passages) {
        for (motion, passage) in run.motions.iter().zip(passages) {
            let Some(share) = passage.share else { continue };
            time += passage.seconds;
            if share < BURNS_SHARE {
                thin += passage.seconds;
                if longest.is_none_or(|l| passage.seconds > l.0) {
                    longest = Some((passage.seconds, run, motion));
                }
            }
        }
    }
    let value = if time > 0.0 { thin / time } else { 0.0 };
    Check::at_most(of.id("thin-chips"), THIN, value, THIN_SHARE[0], "1")
        .at(of.place_of(longest.map(|(_, run, motion)| (run, motion))))
        .watched(value > THIN_SHARE[1])
        .remedy(FASTER)
        .assuming(MACHINE)
}

const MACHINE: &str = "acceleration, corners and blocks of the machine as on the shelf";

/// A wait while the spindle turns, after a motion that cut and before the tip is lifted.
fn dwell(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    // A spindle that a person switches turns, whatever the text says.
    let by_hand = matches!(case.evidence.machine.spindle, SpindleControl::Dial { .. });
    let mut worst: (f64, Where) = (0.0, of.here());
    for (run, cuts) in of.runs.iter().zip(&carve.cuts) {
        for wait in run.waits.iter().filter(|w| w.turning || by_hand) {
            // Chords of one arc tell what they took together at the first of them.
            let line = wait.after.checked_sub(1).map(|last| run.motions[last].line);
            let last = run.motions[..wait.after].iter().zip(cuts).rev().take_while(|(m, _)| Some(m.line) == line);
            let cut =
                last.into_iter().any(|(m, c)| m.feed.is_some() && c.removed_mm3 > BRUSH_MM3 && c.deepest_mm > BRUSH_MM);
            if cut && wait.seconds > worst.0 {
                worst = (wait.seconds, Where { program: Some(run.file.clone()), line: Some(wait.line), ..of.here() });
            }
        }
    }
    Check::at_most(of.id("dwell"), DWELL, worst.0, 0.0, "s")
        .at(worst.1)
        .remedy("Lift the cutter out of the work before this wait, or leave it out.")
}

/// Where in plan which share of the asked chip load is reached, the mean over the time in the cut.
fn map(of: &SetupCase<'_>, passages: &[Vec<Passage>]) -> Option<Map> {
    let mut painter = Painter::over_stock(of, Shown::Least);
    let mut sums = vec![(0.0, 0.0); painter.cells()];
    for (run, passages) in of.runs.iter().zip(passages) {
        for (motion, passage) in run.motions.iter().zip(passages) {
            let Some(share) = passage.share else { continue };
            along(motion, painter.pitch(), |at, part| {
                let sum = &mut sums[painter.cell(at)];
                *sum = (sum.0 + passage.seconds * part, sum.1 + share * passage.seconds * part);
            });
        }
    }
    for (cell, (time, sum)) in sums.into_iter().enumerate().filter(|(_, (time, _))| *time > 0.0) {
        painter.set(cell, sum / time);
    }
    painter.finish("Share of the asked chip load that the machine reaches", "1", None)
}
