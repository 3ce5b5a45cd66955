//! The programs as texts: readable, starting and ending high, cutters as on the sheet, look-first still, restart lines.

use crate::case::{Case, SetupCase};
use crate::motion::Run;
use crate::verdict::{Check, Where};

/// Rounding of coordinate words, mm.
const ROUNDING: f64 = 0.01;

/// All checks of a setup's texts.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>) -> Vec<Check> {
    vec![reading(of), work_offset(of), cutters(case, of), rise(of), look_first(of), restart(of)]
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

/// Every program must choose the work offset that the zero is set in, before it moves, and no other.
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
    }
    let offset = &of.setup.work_offset;
    let check =
        Check::at_most(of.id("work-offset"), "Work offsets other than the zero's", wrong.len() as f64, 0.0, "1");
    check
        .at(wrong.into_iter().next().unwrap_or_else(|| of.here()))
        .remedy(format!("Every program must say {offset} before its first move: that is where the zero is set."))
}

/// Cutters called but not on the program's sheet, or on no shelf.
fn cutters(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let mut wrong: Vec<(Where, u32)> = Vec::new();
    for (sheet, run) in of.setup.programs.iter().zip(&of.runs) {
        let place = |line| Where { program: Some(run.file.clone()), line: Some(line), ..of.here() };
        let strange = |n: u32| !sheet.cutters.contains(&n) || case.cutter(Some(n)).is_none();
        wrong.extend(run.cutters.iter().filter(|c| strange(c.1)).map(|&(line, n)| (place(line), n)));
        wrong.extend(sheet.cutters.iter().filter(|&&n| case.cutter(Some(n)).is_none()).map(|&n| (place(0), n)));
        // Without a word for the cutter in the text the sheet must leave no choice.
        if run.cutters.is_empty() && sheet.cutters.len() != 1 {
            wrong.push((place(0), 0));
        }
    }
    let check = Check::at_most(of.id("cutters"), "Cutters not as on the sheet", wrong.len() as f64, 0.0, "1");
    match wrong.into_iter().next() {
        Some((place, n)) => check.at(place).remedy(format!("Cutter {n} is called or listed where it does not belong.")),
        None => check.at(of.here()),
    }
}

/// From an unknown place, at the beginning and after every stop, the tip must first rise, alone, above the stock, and only
/// then move sideways.
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
    let title = "Height above the stock of the first moves, at the beginning and after every stop";
    let check = match worst {
        Some((left, place)) => Check::at_least(of.id("rise"), title, left, 0.0, "mm").at(place),
        None => Check::uncomputed(of.id("rise"), title, "no program moves"),
    };
    check.remedy(
        "Begin the program, and go on after every stop, with a move of Z alone, straight up, clear of the stock.",
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
    Check::at_least(id, title, if run.stops == 0 { -1.0 } else { left }, 0.0, "mm")
        .at(of.place(run, lowest))
        .remedy("It must stop at every place it shows and stay above the stock.")
}

/// Every restart line must exist, with the tip where the sheet says.
fn restart(of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("restart"), "Restart lines: distance of the tip from where the sheet says");
    let mut worst = (0.0_f64, of.here());
    for (sheet, run) in of.setup.programs.iter().zip(&of.runs) {
        for point in &sheet.restart_points {
            let off = if (1..=run.lines).contains(&point.line) {
                tip_error(run, point.line, point.at)
            } else {
                f64::INFINITY
            };
            if off > worst.0 {
                let at = Some(of.on_piece(point.at));
                worst = (off, Where { program: Some(run.file.clone()), line: Some(point.line), at, ..of.here() });
            }
        }
    }
    Check::at_most(id, title, worst.0, ROUNDING, "mm")
        .at(worst.1)
        .remedy("Take the restart lines from the written text.")
}

/// Least distance of `at` from the tip's places before, during and after a line.
fn tip_error(run: &Run, line: u32, at: [f64; 3]) -> f64 {
    let after = run.motions.partition_point(|m| m.line < line);
    let near = run.motions[after.saturating_sub(1)..].iter().take_while(|m| m.line <= line.max(run_line(run, after)));
    let gap = |p: &[f64; 3]| (0..3).map(|k| (p[k] - at[k]).abs()).filter(|d| !d.is_nan()).fold(0.0, f64::max);
    near.flat_map(|m| [gap(&m.from), gap(&m.to)]).fold(f64::INFINITY, f64::min)
}

/// Line of the motion at an index, 0 past the end.
fn run_line(run: &Run, index: usize) -> u32 {
    run.motions.get(index).map_or(0, |m| m.line)
}
