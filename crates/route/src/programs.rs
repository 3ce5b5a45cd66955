//! From operations to program texts: one file per cutter, or one per setup where the machine stops for a change by hand.

use crate::choose::Speeds;
use crate::parts::{Part, groups};
use crate::setups::{PlanFault, Planned};
use base::Units;
use paths::Move;
use rayon::prelude::*;
use rs274::interpret::{Event, What, run};
use rs274::write::{AGAIN, Act, Capabilities, Program, write};
use std::collections::BTreeMap;
use trade::shelf::{Cutter, CutterChange, Machine, Shelf, SpindleControl};
use workpiece::{ProgramSheet, RestartPoint};

/// Room beneath a cutter that is changed, and room left above the nut, mm (common practice, no source).
const CHANGE_ROOM: f64 = 10.0;
const BELOW_THE_TOP: f64 = 3.0;
/// What rounding may add to the rise of a move, mm.
const ROUNDED: f64 = 0.002;

/// What the machine's control reads.
pub(crate) fn capabilities(machine: &Machine) -> Capabilities {
    let (spindle, start_wait_s) = match machine.spindle {
        SpindleControl::Program { start_wait_s, .. } => (true, start_wait_s),
        SpindleControl::Dial { .. } => (false, 0.0),
    };
    Capabilities {
        arcs: machine.arcs,
        inch: machine.inch,
        decimals: machine.decimals[usize::from(machine.inch)],
        spindle,
        start_wait_s,
        air_relay: machine.air_relay,
        line_numbers: machine.line_numbers,
        change_in_program: machine.cutter_change == CutterChange::ByHandInProgram,
    }
}

/// What a stop for the chips says.
const CHIPS: &str = "Take the chips out of the hollow, then go on";

/// A program to be written.
struct Wanted<'a> {
    /// Which setup.
    of: usize,
    file: String,
    /// What it carries out; nothing for the look-first program.
    group: Vec<Part<'a>>,
    /// Whether it is the first of its setup that cuts.
    first: bool,
}

/// Writes the programs of all setups, numbered through, and fills in the setups' sheets.
///
/// # Errors
/// [`PlanFault::Program`].
pub(crate) fn programs(
    planned: &mut [Planned],
    shelf: &Shelf,
    machine: &Machine,
    title: &str,
    units: Units,
) -> Result<BTreeMap<String, String>, PlanFault> {
    let can = capabilities(machine);
    let written: Vec<(usize, String, String, Option<ProgramSheet>)> = wanted(planned, machine)
        .into_par_iter()
        .map(|Wanted { of, file, group, first }| {
            let setup = &planned[of];
            let fault = |why: String| PlanFault::Program { file: file.clone(), why };
            if group.is_empty() {
                let text = look_first(setup, title, &can).map_err(fault)?;
                return Ok((of, file, text, None));
            }
            let program = program(setup, (&group, first), &Words { shelf, title, units }, machine);
            let text = write(&program, &can).map_err(|e| fault(e.to_string()))?;
            let events = run(&text).map_err(|e| fault(e.to_string()))?;
            let sheet = sheet(&file, &group, &events, machine);
            Ok((of, file, text, Some(sheet)))
        })
        .collect::<Result<_, PlanFault>>()?;
    let mut texts = BTreeMap::new();
    for (of, file, text, sheet) in written {
        let setup = &mut planned[of].setup;
        match sheet {
            Some(sheet) => setup.programs.push(sheet),
            None => setup.look_first.clone_from(&file),
        }
        texts.insert(file, text);
    }
    Ok(texts)
}

/// Names and contents of all files: for each setup the look-first program, then its groups of operations.
fn wanted<'a>(planned: &'a [Planned], machine: &Machine) -> Vec<Wanted<'a>> {
    let mut wanted: Vec<Wanted<'a>> = Vec::new();
    for (of, setup) in planned.iter().enumerate() {
        let id = &setup.setup.id;
        let file = |wanted: &[Wanted<'_>], end: &str| format!("programs/{:02}-{id}{end}.nc", wanted.len() + 1);
        wanted.push(Wanted { of, file: file(&wanted, "-look"), group: Vec::new(), first: false });
        for (k, group) in groups(&setup.operations, machine, setup.safe_z).into_iter().enumerate() {
            let cutter = group[0].operation.cutter;
            let single = group.iter().all(|p| p.operation.cutter == cutter);
            let end = if single { format!("-T{cutter}") } else { String::new() };
            wanted.push(Wanted { of, file: file(&wanted, &end), group, first: k == 0 });
        }
    }
    wanted
}

/// What the comments of a program are made of.
struct Words<'a> {
    shelf: &'a Shelf,
    title: &'a str,
    units: Units,
}

/// Moves to where a cutter can be changed: straight up, then over the touch-off spot, with room under the nut for the
/// longer of both as far as Z goes.
fn to_the_change(planned: &Planned, shelf: &Shelf, cutters: [u32; 2], gap: f64) -> Vec<Act> {
    let [Some(out), Some(new)] = cutters.map(|number| shelf.cutter(number)) else { return Vec::new() };
    let setup = &planned.setup;
    let wanted = setup.table_z.max(setup.machine_table_z) + out.overall.max(new.overall) + CHANGE_ROOM;
    let highest = setup.machine_table_z + gap - BELOW_THE_TOP;
    let z = (wanted.min(highest) - out.solid.stickout).max(planned.safe_z);
    let [x, y, _] = setup.reference_spot.at;
    vec![Act::Rapid { x: None, y: None, z: Some(z) }, Act::Rapid { x: Some(x), y: Some(y), z: Some(z) }]
}

fn program(planned: &Planned, (group, first): (&[Part<'_>], bool), words: &Words<'_>, machine: &Machine) -> Program {
    let Machine { feed_max, gap, .. } = *machine;
    let setup = &planned.setup;
    let mut acts = Vec::new();
    let mut current = None;
    let mut turning = None;
    for part in group {
        let operation = part.operation;
        if current != Some(operation.cutter) {
            if let Some(before) = current {
                acts.push(Act::AirOff);
                acts.extend(to_the_change(planned, words.shelf, [before, operation.cutter], gap));
            }
            let note = |cutter| cutter_note(cutter, first && current.is_none(), words.units);
            let note = words.shelf.cutter(operation.cutter).map_or_else(String::new, note);
            acts.push(Act::Cutter { number: operation.cutter, note });
            current = Some(operation.cutter);
            turning = None;
        }
        let Speeds { rpm, by_hand, .. } = &operation.speeds;
        if turning != Some(*rpm) {
            acts.push(Act::Spindle { rpm: *rpm, by_hand: by_hand.clone() });
            if turning.is_none() {
                acts.push(Act::AirOn);
            }
            turning = Some(*rpm);
        }
        acts.push(Act::Say(part.title()));
        let again = part.again(machine, planned.safe_z);
        let stops = part.stops();
        // A program that has not cut yet need not stop.
        let fresh = std::ptr::eq(part, &raw const group[0]);
        for (i, act) in limited(part.moves, feed_max).into_iter().enumerate() {
            if stops.contains(&i) && !(fresh && i == 0) {
                acts.push(Act::Still(CHIPS.into()));
            }
            if again.contains(&i) {
                acts.push(Act::Again);
            }
            acts.push(act);
        }
    }
    Program {
        title: format!("{} - setup {}", words.title, setup.id),
        remarks: vec![
            format!("{} face up. Z zero: {}", face(setup), setup.zero.z.surface),
            format!("Set Z as the sheet says, step zero-{}. Check: {}", setup.id, setup.reference_spot.surface),
        ],
        work_offset: 54,
        safe_z: planned.safe_z,
        acts,
    }
}

fn face(setup: &workpiece::Setup) -> &'static str {
    match setup.face_up {
        workpiece::Face::Rim => "rim",
        workpiece::Face::Foot => "foot",
    }
}

/// Numbers to set stand on the sheet alone: what the maker measures may change them, a program never changes.
fn cutter_note(cutter: &Cutter, first: bool, units: Units) -> String {
    let touch = if first {
        "check it on the touch-off spot"
    } else {
        "touch the touch-off spot, set the first cutter's reading"
    };
    format!("{}, {} below the nut; {touch}", cutter.name, units.ruler(cutter.solid.stickout))
}

/// The moves as acts, each at a feed that no axis refuses: on steep moves Z is the slow one.
fn limited(moves: &[Move], feed_max: [f64; 2]) -> Vec<Act> {
    let borne = |at: Option<[f64; 3]>, to, feed| at.map_or(feed, |from| bearable(from, to, feed, feed_max));
    let mut at: Option<[f64; 3]> = None;
    let mut acts = Vec::with_capacity(moves.len());
    for m in moves {
        acts.push(match *m {
            Move::Rapid { to } => Act::Rapid { x: Some(to[0]), y: Some(to[1]), z: Some(to[2]) },
            Move::Feed { to, feed } => Act::Feed { to, feed: borne(at, to, feed) },
            // Judged by its chord, which is steeper than the arc.
            Move::Arc { to, centre, ccw, feed } => Act::Arc { to, centre, ccw, feed: borne(at, to, feed) },
        });
        at = Some(m.to());
    }
    acts
}

/// The feed along a straight move that asks of no axis more than it moves at, in whole tens as it is read on a panel.
fn bearable(from: [f64; 3], to: [f64; 3], feed: f64, feed_max: [f64; 2]) -> f64 {
    let length = distance(from, to);
    let rise = (to[2] - from[2]).abs();
    // Written coordinates are rounded: judge the move a little steeper than it is.
    let steepest = rise + ROUNDED;
    if steepest * feed <= feed_max[1] * length {
        return feed;
    }
    let least = feed_max[1].min(feed);
    ((feed_max[1] * length / steepest / 10.0).floor() * 10.0).clamp((least * 0.5 / 10.0).floor() * 10.0, feed)
}

fn look_first(planned: &Planned, title: &str, can: &Capabilities) -> Result<String, String> {
    let mut acts = vec![Act::Say("Spindle off. At each stop look, then start again.".into())];
    for (at, words) in &planned.look {
        acts.push(Act::Rapid { x: Some(at[0]), y: Some(at[1]), z: Some(at[2]) });
        acts.push(Act::Pause(words.clone()));
    }
    let program = Program {
        title: format!("{title} - setup {} - look first", planned.setup.id),
        remarks: vec!["The spindle stays off in this program.".into()],
        work_offset: 54,
        safe_z: planned.safe_z,
        acts,
    };
    write(&program, &Capabilities { spindle: false, change_in_program: false, ..can.clone() })
        .map_err(|e| e.to_string())
}

fn sheet(file: &str, group: &[Part<'_>], events: &[Event], machine: &Machine) -> ProgramSheet {
    let mut cutters: Vec<u32> = Vec::new();
    for part in group {
        if !cutters.contains(&part.operation.cutter) {
            cutters.push(part.operation.cutter);
        }
    }
    let timed = crate::timing::times(events, machine);
    let (mut cut, mut rapid) = (0.0, 0.0);
    let mut restart_points = Vec::new();
    let mut here = [f64::NAN; 3];
    for (event, at_s) in events.iter().zip(&timed) {
        if let What::Straight { to, .. } | What::Arc { to, .. } = &event.what {
            here = *to;
        }
        match &event.what {
            What::Comment(text) if text == AGAIN => {
                restart_points.push(RestartPoint { line: event.line, at: here, time_s: (at_s * 10.0).round() / 10.0 });
            }
            What::Straight { from, to, feed } if from.iter().all(|v| v.is_finite()) => {
                let length = distance(*from, *to);
                match feed {
                    Some(_) => cut += length,
                    None => rapid += length,
                }
            }
            What::Arc { from, to, centre, sweep, axis, .. } => {
                let k = *axis;
                let radius = (0..3).filter(|i| *i != k).map(|i| (from[i] - centre[i]).powi(2)).sum::<f64>().sqrt();
                cut += (radius * sweep).hypot(to[k] - from[k]);
            }
            _ => {}
        }
    }
    ProgramSheet {
        file: file.to_owned(),
        cutters,
        duration_s: timed.last().copied().unwrap_or(0.0).round(),
        cut_length_mm: cut.round(),
        rapid_length_mm: rapid.round(),
        restart_points,
    }
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt()
}
