//! Room: travel, height under the nut, grip of the collet, speeds and feeds of the machine, table and carrier.

use crate::case::{Case, SetupCase};
use crate::motion::{Motion, Run};
use crate::verdict::{Check, Where};
use trade::shelf::SpindleControl;

/// Rounding of coordinate words, mm.
const ROUNDING: f64 = 0.002;
/// Grip wanted in the collet for shanks up to 6.35 mm, and for thicker ones, mm (common practice, no source).
const GRIP: [f64; 2] = [20.0, 25.0];

/// All checks of a setup against the machine.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>) -> Vec<Check> {
    if of.motions().next().is_none() {
        let kinds = ["travel", "nut-room", "change-room", "collet", "spindle", "feed", "table"];
        return kinds.iter().map(|k| Check::uncomputed(of.id(k), *k, "no motion could be read")).collect();
    }
    vec![
        travel(case, of),
        nut_room(case, of),
        change_room(case, of),
        collet(case, of),
        spindle(case, of),
        feed(case, of),
        table(of),
    ]
}

/// Motions of the programs and of the look-first one.
fn all<'c>(of: &'c SetupCase<'_>) -> impl Iterator<Item = (&'c Run, &'c Motion)> {
    of.motions().chain(of.look.motions.iter().map(|m| (&of.look, m)))
}

fn travel(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let machine = &case.evidence.machine;
    let spot = of.setup.reference_spot.at;
    let mut worst = (f64::INFINITY, 0);
    for (k, &beside) in spot.iter().enumerate().take(2) {
        let ends = all(of).flat_map(|(_, m)| [m.from[k], m.to[k]]).filter(|v| v.is_finite()).chain([beside]);
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        let left = machine.travel[k] - (high - low);
        if left < worst.0 {
            worst = (left, k);
        }
    }
    let axis = ["X", "Y"][worst.1];
    Check::at_least(of.id("travel"), "Travel left beyond moves and touch-off spot", worst.0, 0.0, "mm")
        .at(of.here())
        .remedy(format!("The moves are longer in {axis} than the machine travels: a smaller piece, or turned by 90°."))
        .assuming("the workpiece stands where the travel is centred on its moves")
}

/// The nut's face must stay between the lowest and the highest place the machine can bring it to.
fn nut_room(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let (machine, title) = (&case.evidence.machine, "Height left between the nut's range and the moves");
    let top = of.setup.machine_table_z + machine.gap;
    let bottom = top - machine.travel[2];
    let mut worst: Option<(f64, &Run, &Motion, bool)> = None;
    for (run, m) in all(of) {
        let Some(cutter) = case.cutter(m.cutter) else {
            return Check::uncomputed(of.id("nut-room"), title, format!("{}: the cutter is unknown", run.file));
        };
        for z in [m.from[2], m.to[2]].into_iter().filter(|z| z.is_finite()) {
            let nut = z + cutter.solid.stickout;
            for (left, high) in [(top - nut, true), (nut - bottom, false)] {
                if worst.is_none_or(|w| left < w.0) {
                    worst = Some((left, run, m, high));
                }
            }
        }
    }
    let Some((left, run, motion, high)) = worst else {
        return Check::uncomputed(of.id("nut-room"), title, "no height is known");
    };
    let remedy = if high {
        format!("The nut would have to rise {:.1} mm higher than it can: lower stock, or a shorter stick-out.", -left)
    } else {
        format!("The nut would have to come {:.1} mm lower than it can: a longer stick-out, or a riser board.", -left)
    };
    Check::at_least(of.id("nut-room"), title, left + ROUNDING, 0.0, "mm").at(of.place(run, motion)).remedy(remedy)
}

/// A cutter comes out of its collet, and goes in, downwards: between nut and what lies beneath there must be room for its
/// whole length. Where a program stops for the change, at that place; else anywhere beside the workpiece, Z at the top.
fn change_room(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("change-room"), "Room under the nut to take cutters out and put them in");
    let table = of.setup.table_z.max(of.setup.machine_table_z);
    let at_the_top = of.setup.machine_table_z + case.evidence.machine.gap - table;
    let mut rooms: Vec<(f64, Where)> = Vec::new();
    for number in of.cutters() {
        let Some(cutter) = case.cutter(Some(number)) else {
            return Check::uncomputed(id, title, format!("cutter {number} is not among those named"));
        };
        rooms.push((at_the_top - cutter.overall, of.here()));
    }
    for run in &of.runs {
        // At the beginning nobody knows where the tip stands: the person chooses the place.
        for change in run.changes.iter().filter(|c| c.tip.iter().all(|v| v.is_finite())) {
            let pair = (case.cutter(change.before), case.cutter(Some(change.number)));
            let (Some(out), Some(new)) = pair else {
                return Check::uncomputed(
                    id,
                    title,
                    format!("{}, line {}: a cutter is unknown", run.file, change.line),
                );
            };
            let nut = change.tip[2] + out.solid.stickout;
            let (stock, reach) = (&of.setup.stock, new.solid.shank_diameter.max(new.solid.diameter) / 2.0);
            let over = (0..2).all(|k| change.tip[k] > stock.min[k] - reach && change.tip[k] < stock.max[k] + reach);
            let beneath = if over { stock.max[2] } else { table };
            let place = Where {
                program: Some(run.file.clone()),
                line: Some(change.line),
                at: Some(of.on_piece(change.tip)),
                ..of.here()
            };
            rooms.push((nut - beneath - out.overall.max(new.overall), place));
        }
    }
    match rooms.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((left, place)) => Check::at_least(id, title, left + ROUNDING, 0.0, "mm")
            .at(place)
            .remedy("Stop for the change higher, and beside the workpiece; or take a shorter cutter."),
        None => Check::uncomputed(id, title, "no cutter moves in this setup"),
    }
}

fn collet(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("collet"), "Shank left in the collet beyond what is needed");
    let mut worst: Option<(f64, String)> = None;
    for number in of.cutters() {
        let Some(cutter) = case.cutter(Some(number)) else {
            return Check::uncomputed(id, title, format!("cutter {number} is not among those named"));
        };
        let shank = cutter.solid.shank_diameter;
        if !case.evidence.machine.collets.iter().any(|c| (c - shank).abs() <= 0.01) {
            let remedy = format!("No collet fits the {shank} mm shank of cutter {number}: buy one, or choose another.");
            return Check::at_least(id, title, -1.0, 0.0, "mm").at(of.here()).remedy(remedy);
        }
        let left = cutter.grip() - GRIP[usize::from(shank > 6.35 + 1e-9)];
        if worst.as_ref().is_none_or(|w| left < w.0) {
            worst = Some((left, format!("Push cutter {number} ({}) deeper into the collet.", cutter.name)));
        }
    }
    match worst {
        Some((left, remedy)) => Check::at_least(id, title, left, 0.0, "mm").at(of.here()).remedy(remedy),
        None => Check::uncomputed(id, title, "no cutter moves in this setup"),
    }
}

/// How far the speeds stay inside what machine and cutters bear.
fn spindle(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let (id, title) = (of.id("spindle"), "Speed left to the limits of spindle and cutter");
    let machine = &case.evidence.machine;
    let mut worst = (f64::INFINITY, of.here());
    let mut note = |left: f64, place: Where| {
        if left < worst.0 {
            worst = (left, place);
        }
    };
    let dialled = matches!(machine.spindle, SpindleControl::Dial { .. });
    for (run, m) in of.motions().filter(|(_, m)| m.feed.is_some()) {
        let Some(cutter) = case.cutter(m.cutter) else {
            return Check::uncomputed(id, title, format!("{}: the cutter is unknown", run.file));
        };
        match (&machine.spindle, m.rpm) {
            (SpindleControl::Dial { rpm }, None | Some(0.0)) => {
                // The person sets it: there must be a mark that the cutter bears.
                note(cutter.rpm_max - rpm.iter().copied().fold(f64::INFINITY, f64::min), of.place(run, m));
            }
            (SpindleControl::Dial { rpm }, Some(speed)) => {
                let off = rpm.iter().map(|r| (r - speed).abs()).fold(f64::INFINITY, f64::min);
                note(if off > 1.0 { -off } else { cutter.rpm_max - speed }, of.place(run, m));
            }
            (SpindleControl::Program { least_rpm, greatest_rpm, .. }, speed) => {
                let speed = speed.unwrap_or(0.0);
                let left = (speed - least_rpm).min(greatest_rpm - speed).min(cutter.rpm_max - speed);
                note(left, of.place(run, m));
            }
        }
    }
    let mut check = Check::at_least(id, title, worst.0, 0.0, "rev/min")
        .at(worst.1)
        .remedy("Set a speed within the spindle's range (or on a mark of its dial) that the cutter bears.");
    if dialled {
        check = check.assuming("the speed is set by hand on the dial as the program's comment says");
    }
    check
}

fn feed(case: &Case<'_>, of: &SetupCase<'_>) -> Check {
    let most = case.evidence.machine.feed_max;
    let mut worst: Option<(f64, &Run, &Motion)> = None;
    for (run, m) in of.motions().filter(|(_, m)| m.is_known() && m.length() > 0.0) {
        let Some(feed) = m.feed else { continue };
        let plan = (m.to[0] - m.from[0]).hypot(m.to[1] - m.from[1]) / m.length();
        let rise = (m.to[2] - m.from[2]).abs() / m.length();
        let used = (feed * plan / most[0]).max(feed * rise / most[1]);
        if worst.is_none_or(|w| used > w.0) {
            worst = Some((used, run, m));
        }
    }
    let (id, title) = (of.id("feed"), "Feed as a share of what the machine moves at");
    match worst {
        Some((used, run, m)) => Check::at_most(id, title, used, 1.0 + 1e-6, "1")
            .at(of.place(run, m))
            .remedy("Lower the feed at this line, or correct the machine's limits on the shelf."),
        None => Check::uncomputed(id, title, "nothing is cut at feed in this setup"),
    }
}

fn table(of: &SetupCase<'_>) -> Check {
    let setup = of.setup;
    let floor = setup.table_z.max(setup.machine_table_z);
    let lowest = of.motions().filter(|(_, m)| m.to[2].is_finite()).min_by(|a, b| a.1.to[2].total_cmp(&b.1.to[2]));
    let (id, title) = (of.id("table"), "Lowest cut above table or carrier");
    match lowest {
        Some((run, m)) => Check::at_least(id, title, m.to[2] - floor + ROUNDING, 0.0, "mm")
            .at(of.place(run, m))
            .remedy("The tip goes below the surface that carries the workpiece: raise the path."),
        None => Check::uncomputed(id, title, "no height is known"),
    }
}
