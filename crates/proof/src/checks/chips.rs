//! Chips that pack in closed hollows between two stops, where nothing on the machine clears them away.

use crate::case::{Case, SetupCase};
use crate::motion::{Motion, Run};
use crate::replay::Replay;
use crate::verdict::Check;
use workpiece::chips::FULL;

const TITLE: &str = "Loose chips in a closed hollow between two stops, as a share of the room in it";

/// The check of a setup; none where the machine clears the chips away.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Option<Check> {
    if case.evidence.machine.clears_chips() {
        return None;
    }
    let id = of.id("chips");
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        return Some(Check::uncomputed(id, TITLE, why));
    };
    let mut hollows = carve.hollows.clone()?;
    let mut worst: (f64, Option<(&Run, &Motion)>) = (0.0, None);
    for (run, cuts) in of.runs.iter().zip(&carve.cuts) {
        // Between two programs they are taken out, as the sheet says, and at every stop.
        hollows.empty();
        let mut stops = run.resumed.iter().map(|r| r.motion).peekable();
        for (k, (motion, cut)) in run.motions.iter().zip(cuts).enumerate() {
            while stops.next_if(|&stop| stop <= k).is_some() {
                hollows.empty();
            }
            let Some(cutter) = case.cutter(motion.cutter).filter(|_| motion.is_known()) else { continue };
            let tip = of.frame.workpiece(motion.to);
            let full = hollows.took(tip, f64::from(cut.removed_mm3), cutter.solid.diameter);
            if full > worst.0 {
                worst = (full, Some((run, motion)));
            }
        }
    }
    let check = Check::at_most(id, TITLE, worst.0, 1.0, "1")
        .at(of.place_of(worst.1))
        .watched(worst.0 > FULL)
        .remedy("Stop before this line, cutter up and spindle off, and take the chips out; or have air or extraction on the cutter and say so on the shelf (`extraction = true`).")
        .assuming("chips take 3.5 times the room of the solid and stay in a closed hollow deeper than 1.5 diameters of the cutter");
    Some(check)
}
