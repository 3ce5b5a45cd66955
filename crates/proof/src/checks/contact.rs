//! What the columns tell of every move: rapids through material, plunges, flutes, shank, holder.

use crate::case::{Case, SetupCase};
use crate::map::{Painter, Shown};
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

/// The greatest value, with its move and a map of all; moves without a value are not asked.
fn judged(
    of: &SetupCase<'_>,
    carve: &Carve,
    (kind, limit, unit): (&str, f64, &str),
    value: impl Fn(&Motion, &MoveCut) -> Option<f64>,
) -> Check {
    let mut worst = (0.0, None);
    let mut painter = Painter::over_stock(of, Shown::Greatest);
    for (run, motion, cut) in pairs(of, carve) {
        let Some(v) = value(motion, cut) else { continue };
        painter.motion(motion, v);
        if v > worst.0 {
            worst = (v, Some((run, motion)));
        }
    }
    Check::at_most(of.id(kind), title(kind), worst.0, limit, unit).at(of.place_of(worst.1)).mapped(painter.finish(
        title(kind),
        unit,
        Some(limit),
    ))
}

fn removes(cut: &MoveCut) -> bool {
    cut.removed_mm3 > BRUSH_MM3 && cut.deepest_mm > BRUSH_MM
}

/// What a move takes, mm³; nothing if it only brushes.
fn removed(cut: &MoveCut) -> f64 {
    if removes(cut) { f64::from(cut.removed_mm3) } else { 0.0 }
}

fn rapid(of: &SetupCase<'_>, carve: &Carve) -> Check {
    let taken = |m: &Motion, c: &MoveCut| m.feed.is_none().then(|| removed(c));
    judged(of, carve, ("rapid", 0.0, "mm³"), taken)
        .remedy("Raise the tip above the standing material before this rapid move.")
}

/// A sliver one column wide and this tall, shaved off a wall on the way down, is below what columns can tell, mm.
const SLIVER: f64 = 10.0;
/// And a crumb that the sides of the edges shave off a wall harms no cutter, mm³ (common practice, no source).
const CRUMB: f64 = 0.1;

fn plunge(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let cannot = |m: &Motion| case.cutter(m.cutter).is_none_or(|c| !c.plunges);
    let taken = |m: &Motion, c: &MoveCut| (m.is_plunge() && cannot(m)).then(|| removed(c));
    let pitch = case.evidence.promise.pitch;
    judged(of, carve, ("plunge", (SLIVER * pitch * pitch).max(CRUMB), "mm³"), taken)
        .remedy("Enter on a ramp, or use a cutter whose edges reach to the middle.")
}

fn flute(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let over = |m: &Motion, c: &MoveCut| {
        let edge = case.cutter(m.cutter).map_or(0.0, |c| c.solid.flute_length);
        removes(c).then(|| (f64::from(c.deepest_mm) - edge - f64::from(BRUSH_MM)).max(0.0))
    };
    judged(of, carve, ("flute", 0.0, "mm"), over)
        .remedy("Take less depth in one level, or use a cutter with longer edges.")
}

fn touch(of: &SetupCase<'_>, carve: &Carve, kind: &str, value: impl Fn(&MoveCut) -> f32, clearance: f64) -> Check {
    let stands = |_: &Motion, c: &MoveCut| Some(f64::from((value(c) - BRUSH_MM).max(0.0)));
    judged(of, carve, (kind, 0.0, "mm"), stands).remedy(format!(
        "Material stands this far above the {kind}'s lower end within {clearance:.2} mm of it: more stick-out, a \
             slimmer cutter, or more room beside the wall."
    ))
}
