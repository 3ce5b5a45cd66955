//! What the columns tell of every move: rapids through material, plunges, flutes, shank, holder.

use crate::case::{Case, SetupCase};
use crate::motion::{Motion, Run};
use crate::replay::{CLEARANCES, Carve, Replay};
use crate::verdict::Check;
use workpiece::MoveCut;

/// Volume below which a move counts as not cutting, mm³, and rise below which it only brushes, mm: the rounding of
/// heights held in single precision at the edges of columns.
pub(crate) const BRUSH_MM3: f32 = 0.02;
pub(crate) const BRUSH_MM: f32 = 0.02;

/// All checks of a setup that rest on its moves' cuts.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Vec<Check> {
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        let kinds = ["rapid", "plunge", "flute", "shank", "holder"];
        return kinds.iter().map(|k| Check::uncomputed(of.id(k), title(k), why.clone())).collect();
    };
    vec![
        rapid(of, carve),
        plunge(case, of, carve),
        flute(case, of, carve),
        touch(of, carve, "shank", |c| c.shank_mm, CLEARANCES.shank),
        touch(of, carve, "holder", |c| c.holder_mm, CLEARANCES.holder),
    ]
}

fn title(kind: &str) -> &'static str {
    match kind {
        "rapid" => "Material taken by rapid moves",
        "plunge" => "Material taken straight down by a cutter that cannot plunge",
        "flute" => "Material above the cutting edges",
        "shank" => "Neck or shank against standing material",
        _ => "Nut or holder against standing material",
    }
}

/// The motions with their cuts.
fn pairs<'r>(of: &'r SetupCase<'_>, carve: &'r Carve) -> impl Iterator<Item = (&'r Run, &'r Motion, &'r MoveCut)> {
    let runs = of.runs.iter().zip(&carve.cuts);
    runs.flat_map(|(run, cuts)| run.motions.iter().zip(cuts).map(move |(m, c)| (run, m, c)))
}

/// The greatest value with its move.
fn worst<'r>(
    of: &'r SetupCase<'_>,
    carve: &'r Carve,
    value: impl Fn(&Run, &Motion, &MoveCut) -> f64,
) -> (f64, Option<(&'r Run, &'r Motion)>) {
    pairs(of, carve).fold((0.0, None), |best, (run, motion, cut)| {
        let v = value(run, motion, cut);
        if v > best.0 { (v, Some((run, motion))) } else { best }
    })
}

fn removes(cut: &MoveCut) -> bool {
    cut.removed_mm3 > BRUSH_MM3 && cut.deepest_mm > BRUSH_MM
}

fn rapid(of: &SetupCase<'_>, carve: &Carve) -> Check {
    let taken = |_: &Run, m: &Motion, c: &MoveCut| {
        if m.feed.is_none() && removes(c) { f64::from(c.removed_mm3) } else { 0.0 }
    };
    let (value, at) = worst(of, carve, taken);
    Check::at_most(of.id("rapid"), title("rapid"), value, 0.0, "mm³")
        .at(of.place_of(at))
        .remedy("Raise the tip above the standing material before this rapid move.")
}

/// A sliver one column wide and this tall, shaved off a wall on the way down, is below what columns can tell, mm.
const SLIVER: f64 = 10.0;

fn plunge(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let taken = |_: &Run, m: &Motion, c: &MoveCut| {
        let cannot = case.cutter(m.cutter).is_none_or(|c| !c.plunges);
        if m.is_plunge() && cannot && removes(c) { f64::from(c.removed_mm3) } else { 0.0 }
    };
    let (value, at) = worst(of, carve, taken);
    let pitch = case.evidence.promise.pitch;
    Check::at_most(of.id("plunge"), title("plunge"), value, SLIVER * pitch * pitch, "mm³")
        .at(of.place_of(at))
        .remedy("Enter on a ramp, or use a cutter whose edges reach to the middle.")
}

fn flute(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let over = |_: &Run, m: &Motion, c: &MoveCut| {
        let edge = case.cutter(m.cutter).map_or(0.0, |c| c.solid.flute_length);
        if removes(c) { (f64::from(c.deepest_mm) - edge - f64::from(BRUSH_MM)).max(0.0) } else { 0.0 }
    };
    let (value, at) = worst(of, carve, over);
    Check::at_most(of.id("flute"), title("flute"), value, 0.0, "mm")
        .at(of.place_of(at))
        .remedy("Take less depth in one level, or use a cutter with longer edges.")
}

fn touch(of: &SetupCase<'_>, carve: &Carve, kind: &str, value: impl Fn(&MoveCut) -> f32, clearance: f64) -> Check {
    let (value, at) = worst(of, carve, |_, _, c| f64::from((value(c) - BRUSH_MM).max(0.0)));
    Check::at_most(of.id(kind), title(kind), value, 0.0, "mm").at(of.place_of(at)).remedy(format!(
        "Material stands this far above the {kind}'s lower end within {clearance:.2} mm of it: more stick-out, a \
             slimmer cutter, or more room beside the wall."
    ))
}
