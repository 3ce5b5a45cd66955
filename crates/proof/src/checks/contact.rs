//! What the columns tell of every move: rapids through material, plunges, flutes, shank, holder, holding force.

use crate::case::{Case, SetupCase};
use crate::motion::{Motion, Run};
use crate::replay::{CLEARANCES, Carve, Replay};
use crate::verdict::Check;
use trade::figures::cutting::{Cut, Resistance, chip_greatest_mm};
use trade::figures::holding::Pull;
use workpiece::MoveCut;

/// Volume below which a move counts as not cutting, mm³, and rise below which it only brushes, mm: the rounding of
/// heights held in single precision at the edges of columns.
const BRUSH_MM3: f32 = 0.02;
const BRUSH_MM: f32 = 0.02;
/// Length over which the engagement is averaged, mm: several columns.
const WINDOW: f64 = 4.0;
/// Density of a dense hardwood where the wood is not in the book, kg/m³.
const DENSE: f64 = 750.0;

/// All checks of a setup that rest on its moves' cuts.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Vec<Check> {
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        let kinds = ["rapid", "plunge", "flute", "shank", "holder", "tooth-load", "rubbing", "holding"];
        return kinds.iter().map(|k| Check::uncomputed(of.id(k), title(k), why.clone())).collect();
    };
    vec![
        rapid(of, carve),
        plunge(case, of, carve),
        flute(case, of, carve),
        touch(of, carve, "shank", |c| c.shank_mm, CLEARANCES.shank),
        touch(of, carve, "holder", |c| c.holder_mm, CLEARANCES.holder),
        tooth_load(case, of, carve),
        rubbing(case, of, carve),
        holding(case, of, carve),
    ]
}

fn title(kind: &str) -> &'static str {
    match kind {
        "rapid" => "Material taken by rapid moves",
        "plunge" => "Material taken straight down by a cutter that cannot plunge",
        "flute" => "Material above the cutting edges",
        "shank" => "Neck or shank against standing material",
        "holder" => "Nut or holder against standing material",
        "tooth-load" => "Thickest chip as a share of what cutter and machine bear",
        "rubbing" => "Share of the way in the cut on which a tooth takes less than 0.3 of its chip",
        _ => "Holding against the greatest cutting force (1 = just holds with its factor)",
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

/// Feed per tooth beyond the asked one that a cutter bears for a moment, as a ratio; on watch above the second.
const OVERLOAD: [f64; 2] = [1.25, 1.05];
/// A tooth that takes less than this share of its chip rubs and burns; so much of the way may be cut so, and so much before it
/// is on watch: ramps and entries (common practice, no source).
const RUBS: f64 = 0.3;
const RUBBED: [f64; 2] = [0.5, 0.25];
/// A move that falls or rises more steeply than this, mm in mm, is a way in or out: there the feed is that of plunging.
const WAY_IN: f64 = 0.2;

/// Feed per tooth as programmed, as a share of the shelf's chip load for the material that is cut; `None` in air.
fn tooth_share(case: &Case<'_>, motion: &Motion, cut: &MoveCut) -> Option<f64> {
    let (feed, cutter) = (motion.feed.filter(|_| removes(cut))?, case.cutter(motion.cutter)?);
    let asked = if cut.resin { cutter.fz_resin } else { cutter.fz_wood } * case.evidence.machine.chip_load_share;
    Some(feed / (speed(case, motion, cutter.rpm_max) * f64::from(cutter.flutes.max(1))) / asked)
}

fn tooth_load(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    // A narrow cut makes thinner chips than the feed per tooth.
    let (value, at) = worst(of, carve, |_, m, c| {
        let (Some(share), Some(cutter)) = (tooth_share(case, m, c), case.cutter(m.cutter)) else { return 0.0 };
        let diameter = cutter.solid.diameter;
        let ae = f64::from(c.removed_mm3) / (f64::from(c.deepest_mm) * m.length()).max(1e-9);
        share * chip_greatest_mm(1.0, diameter, ae.min(diameter))
    });
    Check::at_most(of.id("tooth-load"), title("tooth-load"), value, OVERLOAD[0], "1")
        .at(of.place_of(at))
        .watched(value > OVERLOAD[1])
        .remedy("Lower the feed at this line, or raise the speed.")
}

fn rubbing(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let (mut all, mut rubbed) = (0.0, 0.0);
    let mut longest: Option<(f64, &Run, &Motion)> = None;
    for (run, motion, cut) in pairs(of, carve).filter(|(_, m, _)| m.is_known()) {
        let (length, rise) = (motion.length(), (motion.to[2] - motion.from[2]).abs());
        let Some(share) = tooth_share(case, motion, cut).filter(|_| rise < WAY_IN * length) else { continue };
        all += length;
        if share < RUBS {
            rubbed += length;
            if longest.is_none_or(|l| length > l.0) {
                longest = Some((length, run, motion));
            }
        }
    }
    let value = if all > 0.0 { rubbed / all } else { 0.0 };
    Check::at_most(of.id("rubbing"), title("rubbing"), value, RUBBED[0], "1")
        .at(of.place_of(longest.map(|(_, r, m)| (r, m))))
        .watched(value > RUBBED[1])
        .remedy("Raise the feed, or lower the speed of the spindle: a tooth that only rubs burns wood and melts resin.")
        .assuming("chip loads as programmed; what the machine reaches in short moves is less")
}

/// Shear and tension of the joint under the peak force, with its factor, as a share of the strength.
fn holding(case: &Case<'_>, of: &SetupCase<'_>, carve: &Carve) -> Check {
    let joint = &of.setup.holding;
    let id = of.id("holding");
    let sizes = [joint.area_mm2, joint.section_modulus_mm3, joint.shear_mpa, joint.tension_mpa, joint.factor];
    if !sizes.iter().all(|&v| v > 0.0) {
        return Check::uncomputed(id, title("holding"), "area, modulus and strengths of the joint must be above 0");
    }
    let density = density(case);
    let mut peak: (f64, Option<(&Run, &Motion)>) = (0.0, None);
    for (run, cuts) in of.runs.iter().zip(&carve.cuts) {
        for (from, to) in windows(run) {
            let Some(pull) = pull(case, of, density, (&run.motions[from..to], &cuts[from..to])) else { continue };
            let used = joint.used(pull);
            if used > peak.0 {
                peak = (used, Some((run, &run.motions[from])));
            }
        }
    }
    Check::at_most(id, title("holding"), peak.0, 1.0, "1")
        .at(of.place_of(peak.1))
        .watched(peak.0 > 0.8)
        .remedy("A larger or stronger joint, a smaller step-down or stepover, or a slower feed at this place.")
        .assuming("cutting forces from typical constants for hardwood and resin (±50 %), factor 1.5 for planning")
        .assuming(format!("strength of the joint ({}) as on the shelf, not measured", joint.method))
}

/// Stretches of motions by the same cutter at the same feed, each about as long as [`WINDOW`].
fn windows(run: &Run) -> Vec<(usize, usize)> {
    let mut out = Vec::new();
    let mut from = 0;
    let mut length = 0.0;
    for (i, m) in run.motions.iter().enumerate() {
        let first = &run.motions[from];
        if m.cutter != first.cutter || m.feed != first.feed || length >= WINDOW {
            out.push((from, i));
            (from, length) = (i, 0.0);
        }
        if m.is_known() {
            length += m.length();
        }
    }
    out.push((from, run.motions.len()));
    out
}

/// Pull of a stretch that cuts.
fn pull(case: &Case<'_>, of: &SetupCase<'_>, density: f64, (motions, cuts): (&[Motion], &[MoveCut])) -> Option<Pull> {
    let first = motions.first()?;
    let (feed, cutter) = (first.feed?, case.cutter(first.cutter)?);
    let removed: f64 = cuts.iter().map(|c| f64::from(c.removed_mm3)).sum();
    let ap = cuts.iter().map(|c| f64::from(c.deepest_mm)).fold(0.0, f64::max).min(cutter.solid.flute_length);
    let length: f64 = motions.iter().map(Motion::length).sum();
    if removed <= f64::from(BRUSH_MM3) || ap <= f64::from(BRUSH_MM) || length <= 0.0 {
        return None;
    }
    let rpm = speed(case, first, cutter.rpm_max);
    let cut = Cut {
        diameter: cutter.solid.diameter,
        flutes: cutter.flutes,
        ap,
        ae: (removed / (ap * length)).min(cutter.solid.diameter),
        fz: feed / (rpm * f64::from(cutter.flutes.max(1))),
        rpm,
    };
    let resin = cuts.iter().any(|c| c.resin);
    let material = if resin { Resistance::resin() } else { Resistance::wood(density) };
    let lowest = motions.iter().flat_map(|m| [m.from[2], m.to[2]]).fold(f64::INFINITY, f64::min);
    let height = (lowest + ap - of.setup.holding.joint_z).max(0.0);
    Some(cut.pull(material, cutter.helix_deg, height))
}

/// Speed by the program, else the greatest mark of the dial that the cutter bears.
fn speed(case: &Case<'_>, motion: &Motion, most: f64) -> f64 {
    use trade::shelf::SpindleControl;
    match (&case.evidence.machine.spindle, motion.rpm) {
        (_, Some(rpm)) if rpm > 0.0 => rpm,
        (SpindleControl::Dial { rpm }, _) => {
            rpm.iter().copied().filter(|&r| r <= most).fold(0.0, f64::max).max(rpm.first().copied().unwrap_or(most))
        }
        (SpindleControl::Program { least_rpm, .. }, _) => *least_rpm,
    }
}

fn density(case: &Case<'_>) -> f64 {
    let boards = case.evidence.blank.boards.iter();
    let mut names: Vec<&str> = boards.map(|b| b.wood.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    // Specific gravity counts the ovendry mass; a shop's 8 % of water comes on top.
    let books = names.into_iter().filter_map(trade::tables::wood);
    let known = books.map(|w| 1080.0 * w.specific_gravity).fold(0.0, f64::max);
    if known > 0.0 { known } else { DENSE }
}
