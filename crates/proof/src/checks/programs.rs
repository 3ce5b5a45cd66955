//! The programs as texts: readable, starting and ending high, cutters as on the sheet, spindle up to
//! speed, look-first still, restart lines.

use crate::case::{Case, SetupCase};
use crate::motion::{Motion, Run, Start};
use crate::verdict::{Check, Where};
use trade::shelf::SpindleControl;
use workpiece::RestartPoint;

/// Rounding of coordinate words, mm.
const ROUNDING: f64 = 0.01;

/// All checks of a setup's texts.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>) -> Vec<Check> {
    vec![
        reading(of),
        work_offset(of),
        path_kept(of),
        cutters(case, of),
        spin_up(case, of),
        rise(of),
        look_first(of),
        restart(case, of),
    ]
}

fn all<'c>(of: &'c SetupCase<'_>) -> impl Iterator<Item = &'c Run> {
    of.runs.iter().chain([&of.look])
}

fn reading(of: &SetupCase<'_>) -> Check {
    let faults: Vec<(&Run, &(u32, String))> = all(of).filter_map(|r| r.error.as_ref().map(|e| (r, e))).collect();
    let mut check =
        Check::at_most(of.id("reading"), "Programs that cannot be read", faults.len() as f64, 0.0, "1").at(of.here());
    if of.runs.is_empty() {
        check = Check::uncomputed(of.id("reading"), "Programs that cannot be read", "the setup has no programs");
    }
    if let Some((run, (line, why))) = faults.first() {
        check.place = Some(Where { program: Some(run.file.clone()), line: Some(*line), ..of.here() });
        check = check.remedy(format!("Correct line {line} of {}: {why}.", run.file));
    }
    check
}

/// Every program must choose the work offset that the zero is set in, before it moves, and no other, nor shift it: a shift by
/// G92 outlasts a program that is broken off, and adds to one that stood before.
fn work_offset(of: &SetupCase<'_>) -> Check {
    let digits: String = of.setup.work_offset.chars().filter(char::is_ascii_digit).collect();
    let mut wrong: Vec<Where> = Vec::new();
    for run in all(of).filter(|run| run.error.is_none()) {
        let place = |line| Where { program: Some(run.file.clone()), line: Some(line), ..of.here() };
        let first = run.motions.first().map_or(u32::MAX, |m| m.line);
        if run.offsets.first().is_none_or(|(line, _)| *line > first) {
            wrong.push(place(first.min(run.lines)));
        }
        wrong.extend(run.offsets.iter().filter(|(_, n)| n.to_string() != digits).map(|(line, _)| place(*line)));
        wrong.extend(run.shifts.iter().map(|line| place(*line)));
    }
    let offset = &of.setup.work_offset;
    let check =
        Check::at_most(of.id("work-offset"), "Work offsets other than the zero's", wrong.len() as f64, 0.0, "1");
    check.at(wrong.into_iter().next().unwrap_or_else(|| of.here())).remedy(format!(
        "Every program must say {offset} before its first move and not shift it (G92): that is where the zero is set."
    ))
}

/// In the mode of G64 a control cuts corners to keep its feed; what is proven here is the path that is written.
fn path_kept(of: &SetupCase<'_>) -> Check {
    let lines = all(of).flat_map(|run| run.leaves_path.iter().map(move |line| (run, *line)));
    let lines: Vec<(&Run, u32)> = lines.collect();
    let place = lines.first().map_or_else(
        || of.here(),
        |(run, line)| Where { program: Some(run.file.clone()), line: Some(*line), ..of.here() },
    );
    let title = "Lines from which the control may leave the path";
    Check::at_most(of.id("path-kept"), title, lines.len() as f64, 0.0, "1").at(place).remedy(
        "Leave G64 out, or say G61: how far the control cuts corners under G64 stands in no program, so nothing is proven there.",
    )
}

/// Cutters called but not on the program's sheet, or on no shelf; named but never put in; changed while the spindle turns.
fn cutters(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let mut wrong: Vec<(Where, String)> = Vec::new();
    for (sheet, run) in of.setup.programs.iter().zip(&of.runs) {
        let mut note = |line: Option<u32>, why: String| {
            wrong.push((Where { program: Some(run.file.clone()), line, ..of.here() }, why));
        };
        let belongs = |n: u32| sheet.cutters.contains(&n) && case.cutter(Some(n)).is_some();
        for change in &run.changes {
            let n = change.number;
            if !belongs(n) {
                note(Some(change.line), format!("Cutter {n} is called where it does not belong."));
            }
            if change.turning {
                note(Some(change.line), format!("The spindle turns while cutter {n} is put in: stop it first (M5)."));
            }
        }
        for &(line, n) in &run.not_put_in {
            note(Some(line), format!("T{n} names a cutter and nothing stops for it to be put in: say M0 on its line."));
        }
        for &n in sheet.cutters.iter().filter(|&&n| !belongs(n)) {
            note(None, format!("Cutter {n} is listed and is not on the shelf."));
        }
        // Without a word for the cutter in the text the sheet must leave no choice.
        let called = |n: &u32| run.changes.iter().any(|c| c.number == *n) || (sheet.cutters.len() == 1);
        for n in sheet.cutters.iter().filter(|n| run.error.is_none() && !called(n)) {
            note(None, format!("Cutter {n} is listed and the program never calls for it."));
        }
    }
    let check = Check::at_most(of.id("cutters"), "Cutters not as on the sheet", wrong.len() as f64, 0.0, "1");
    match wrong.into_iter().next() {
        Some((place, why)) => check.at(place).remedy(why),
        None => check.at(of.here()),
    }
}

/// Nothing may be cut before the spindle is up to speed: where the program starts it, it must wait as long as the shelf
/// says; where a person does, it must stop for that after every change of the cutter.
fn spin_up(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let id = of.id("spin-up");
    let starts = of.runs.iter().flat_map(|run| run.starts.iter().map(move |start| (run, start)));
    let place =
        |(run, start): (&Run, &Start)| Where { program: Some(run.file.clone()), line: Some(start.line), ..of.here() };
    match case.evidence.machine.spindle {
        SpindleControl::Program { start_wait_s, .. } => {
            let title = "Wait for the spindle to come up to speed before anything is cut";
            match starts.min_by(|a, b| a.1.waited_s.total_cmp(&b.1.waited_s)) {
                Some(least) => Check::at_least(id, title, least.1.waited_s, start_wait_s, "s")
                    .at(place(least))
                    .remedy(format!("Wait {start_wait_s} s (G4) after the spindle's start at this line.")),
                None => Check::uncomputed(id, title, "no program of the setup cuts at feed"),
            }
        }
        SpindleControl::Dial { .. } => {
            let title = "Cuts without a stop at which the spindle is switched on";
            let without: Vec<_> = starts.filter(|(_, start)| !start.stopped).collect();
            Check::at_most(id, title, without.len() as f64, 0.0, "1")
                .at(without.first().map_or_else(|| of.here(), |&first| place(first)))
                .remedy("Stop (M0) after the cutter is in, so that the spindle can be switched on by hand before this line.")
        }
    }
}

/// From an unknown place, at the beginning and after every stop, the tip must first rise, alone, above the stock, and only
/// then move sideways. It stops, ends and lets the spindle run down only above the stock.
fn rise(of: &SetupCase<'_>) -> Check {
    let top = of.setup.stock.max[2];
    let mut worst: Option<(f64, Where)> = None;
    for run in all(of) {
        for m in run.motions.iter().filter(|m| !m.is_known()) {
            let unknown = |k: usize| !m.from[k].is_finite();
            let sideways = (0..2).any(|k| m.to[k].is_finite() && (unknown(k) || m.from[k] != m.to[k]));
            // While anything is unknown the tip must be above the stock: before a move sideways, and after a rise.
            let height = match (unknown(2), sideways) {
                (true, true) => f64::NEG_INFINITY,
                (true, false) => m.to[2],
                (false, _) => m.from[2].min(m.to[2]),
            };
            if worst.as_ref().is_none_or(|w| height - top < w.0) {
                worst = Some((height - top, of.place(run, m)));
            }
        }
    }
    for run in all(of) {
        for resumed in &run.resumed {
            let m = &run.motions[resumed.motion];
            let left = if resumed.sideways { f64::NEG_INFINITY } else { m.to[2] - top };
            if worst.as_ref().is_none_or(|w| left < w.0) {
                worst = Some((left, of.place(run, m)));
            }
        }
    }
    for run in all(of) {
        for &(line, tip) in run.rests.iter().filter(|(_, tip)| tip[2].is_finite()) {
            if worst.as_ref().is_none_or(|w| tip[2] - top < w.0) {
                let at = tip.iter().all(|v| v.is_finite()).then(|| of.on_piece(tip));
                worst =
                    Some((tip[2] - top, Where { program: Some(run.file.clone()), line: Some(line), at, ..of.here() }));
            }
        }
    }
    let title = "Height above the stock of the first moves, at every stop and after it, and at the end";
    let check = match worst {
        Some((left, place)) => Check::at_least(of.id("rise"), title, left, 0.0, "mm").at(place),
        None => Check::uncomputed(of.id("rise"), title, "no program moves"),
    };
    check.remedy(
        "Begin the program, and go on after every stop, with a move of Z alone, straight up, clear of the stock; stop and end only there.",
    )
}

/// The look-first program must not start the spindle nor come near the stock.
fn look_first(of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("look-first"), "Look-first program: height above the stock, spindle off");
    let run = &of.look;
    if run.error.is_some() || run.motions.is_empty() {
        return Check::uncomputed(id, title, "the look-first program is missing or cannot be read");
    }
    if let Some((line, _)) = run.speeds.iter().find(|s| s.1 != 0.0) {
        let place = Where { program: Some(run.file.clone()), line: Some(*line), ..of.here() };
        return Check::at_least(id, title, -1.0, 0.0, "mm")
            .at(place)
            .remedy("The spindle must stand still in the look-first program.");
    }
    let heights = run.motions.iter().filter(|m| m.to[2].is_finite());
    let Some(lowest) = heights.min_by(|a, b| a.to[2].total_cmp(&b.to[2])) else {
        return Check::uncomputed(id, title, "no height is known");
    };
    let left = lowest.to[2] - of.setup.stock.max[2];
    // Every place that it goes to is a place to look at.
    let goes = |m: &&Motion| (0..2).any(|k| m.to[k].is_finite() && m.from[k] != m.to[k]);
    let looks = run.motions.iter().filter(goes).count();
    Check::at_least(id, title, if run.stops == 0 || run.stops < looks { -1.0 } else { left }, 0.0, "mm")
        .at(of.place(run, lowest))
        .remedy("It must stop at every place it shows and stay above the stock.")
}

/// The lines from a restart line to the end must be a program of their own: it rises first, alone, above the stock, goes to
/// where the sheet says, has the spindle up to speed, and then makes the very moves that the whole program makes there.
fn restart(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("restart"), "Restart lines: distance of the tip from where the sheet says");
    let mut worst = (0.0_f64, of.here(), "Take the restart lines from the written text.".to_owned());
    for (sheet, run) in of.setup.programs.iter().zip(&of.runs) {
        let text = case.evidence.programs.get(&run.file).map_or("", String::as_str);
        for point in &sheet.restart_points {
            let (off, why) = match begun_again(case, of, (run, text), point) {
                Ok(off) => (off, worst.2.clone()),
                Err(why) => (f64::INFINITY, format!("From line {} on {why}.", point.line)),
            };
            if off > worst.0 {
                let at = Some(of.on_piece(point.at));
                worst = (off, Where { program: Some(run.file.clone()), line: Some(point.line), at, ..of.here() }, why);
            }
        }
    }
    Check::at_most(id, title, worst.0, ROUNDING, "mm").at(worst.1).remedy(worst.2)
}

/// How far the tip of the whole program is, at that line, from where the sheet says.
fn begun_again(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    (run, text): (&Run, &str),
    point: &RestartPoint,
) -> Result<f64, String> {
    if !(1..=run.lines).contains(&point.line) {
        return Err("there is no text".into());
    }
    let first = run.motions.iter().find(|m| m.line >= point.line).and_then(|m| m.cutter);
    let rest: Vec<&str> = text.lines().skip(point.line as usize - 1).collect();
    let again = Run::of(&run.file, &rest.join("\n"), first);
    if let Some((line, why)) = again.error {
        return Err(format!("the text is no program (line {}: {why})", line + point.line - 1));
    }
    let risen =
        again.motions.first().filter(|m| m.to[2] >= of.setup.stock.max[2] && m.to[..2].iter().all(|v| v.is_nan()));
    if risen.is_none() {
        return Err("the first move is not straight up, clear of the stock".into());
    }
    if again.offsets.first().map(|o| o.1) != run.offsets.first().map(|o| o.1) {
        return Err("the work offset is not said".into());
    }
    if let SpindleControl::Program { start_wait_s, .. } = case.evidence.machine.spindle
        && again.starts.first().is_some_and(|start| start.waited_s < start_wait_s)
    {
        return Err("the spindle is not up to speed before the first cut".into());
    }
    let whole: Vec<&Motion> = run.motions.iter().filter(|m| m.line >= point.line).collect();
    let same = |(k, (a, b)): (usize, (&Motion, &&Motion))| {
        let there = (0..3).all(|axis| a.to[axis] == b.to[axis] || (k == 0 && a.to[axis].is_nan()));
        there && a.feed == b.feed && a.cutter == b.cutter && (a.rpm == b.rpm || a.feed.is_none())
    };
    if again.motions.len() != whole.len() || !again.motions.iter().zip(&whole).enumerate().all(same) {
        return Err("the moves are not those of the whole program".into());
    }
    let here = whole.first().map_or([f64::NAN; 3], |m| m.to);
    let off = (0..3).map(|k| (here[k] - point.at[k]).abs());
    Ok(off.map(|d| if d.is_nan() { f64::INFINITY } else { d }).fold(0.0, f64::max))
}
