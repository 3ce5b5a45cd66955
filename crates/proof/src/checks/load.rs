//! What the cutting asks of teeth, holding, spindle and cutter, stretch by stretch, from the written feeds and speeds.

use super::contact::{BRUSH_MM, BRUSH_MM3};
use crate::bed::Depth;
use crate::case::{Case, SetupCase};
use crate::envelope::{Disc, Envelope, Swept};
use crate::map::{Painter, Shown};
use crate::motion::{Motion, Run};
use crate::replay::Replay;
use crate::verdict::Check;
use glam::DVec3;
use rayon::prelude::*;
use std::ops::Range;
use trade::figures::cutting::{Cut, Resistance};
use trade::figures::deflection::{BEARABLE_MM, CARBIDE_BEARS_MPA, HIDDEN_MM, MEASURED_MM, root_stress_mpa, tip_mm};
use trade::figures::holding::Pull;
use trade::shelf::{Cutter, SpindleControl};
use workpiece::{Bite, Holding, MoveCut, Taken};

/// Length over which the engagement is averaged, mm: several columns.
const WINDOW: f64 = 4.0;
/// Less resin than this share of what is cut does not set the chip load: specks at the edge of a cast.
const SPECK: f64 = 0.05;
/// Density of a dense hardwood where the wood is not in the book, kg/m³.
const DENSE: f64 = 750.0;
/// Thickest chip as a share of the asked one that a cutter bears for a moment; on watch above the second.
const OVERLOAD: [f64; 2] = [1.25, 1.05];
/// Shares of strength and power above which a check is on watch.
const WATCHED: f64 = 0.8;
const POWER_WATCHED: f64 = 0.9;
/// Windows looked at together for bending; fixed, so that the result does not depend on the number of threads.
const TOGETHER: usize = 256;

/// A stretch of motions in the cut, by one cutter at one speed and feed.
pub(crate) struct Window<'c> {
    /// Which run, and which of its motions.
    pub(crate) run: usize,
    pub(crate) motions: Range<usize>,
    pub(crate) cutter: &'c Cutter,
    /// rev/min.
    pub(crate) rpm: f64,
    /// Feed, mm/min.
    feed: f64,
    bite: Bite,
}

impl Window<'_> {
    /// Width of the cut as a share of the cutter's diameter at the top of it.
    pub(crate) fn engaged(&self) -> f64 {
        (self.bite.ae / self.bite.top.diameter.max(f64::MIN_POSITIVE)).min(1.0)
    }

    fn flutes(&self) -> u32 {
        self.cutter.flutes.max(1)
    }

    /// Feed of the full chip load in what it cuts, mm/min.
    pub(crate) fn asked(&self, case: &Case<'_>) -> f64 {
        let fz = if self.bite.resin > SPECK { self.cutter.fz_resin } else { self.cutter.fz_wood };
        fz * case.evidence.machine.chip_load_share * self.rpm * f64::from(self.flutes())
    }

    fn cut(&self) -> Cut {
        self.bite.cut(self.flutes(), self.feed / (self.rpm * f64::from(self.flutes())), self.rpm)
    }

    fn material(&self, density: f64) -> Resistance {
        if self.bite.resin > 0.0 { Resistance::resin() } else { Resistance::wood(density) }
    }
}

/// The stretches of a setup that cut, each about as long as [`WINDOW`].
///
/// `cuts` is what each motion of each run took.
pub(crate) fn windows<'c>(case: &Case<'c>, of: &SetupCase<'_>, cuts: &[Vec<MoveCut>]) -> Vec<Window<'c>> {
    let mut out = Vec::new();
    for (r, (run, cuts)) in of.runs.iter().zip(cuts).enumerate() {
        for motions in stretches(run) {
            let part = &run.motions[motions.clone()];
            let Some(cutter) = case.cutter(part[0].cutter) else { continue };
            let taken = part.iter().zip(&cuts[motions.clone()]).filter(|(m, _)| m.is_known());
            let taken = taken.map(|(m, cut)| Taken { from: m.from, to: m.to, cut });
            let Some(bite) = Bite::of(&cutter.solid, taken, (f64::from(BRUSH_MM3), f64::from(BRUSH_MM))) else {
                continue;
            };
            let Some(feed) = part[0].feed else { continue };
            let rpm = speed(case, &part[0], cutter.rpm_max);
            out.push(Window { run: r, motions, cutter, rpm, feed, bite });
        }
    }
    out
}

/// Stretches of motions by one cutter at one speed and feed.
fn stretches(run: &Run) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let (mut from, mut length) = (0, 0.0);
    for (i, m) in run.motions.iter().enumerate() {
        let first = &run.motions[from];
        let breaks = m.cutter != first.cutter || m.rpm != first.rpm || m.feed != first.feed;
        if breaks || length >= WINDOW {
            out.push(from..i);
            (from, length) = (i, 0.0);
        }
        if m.is_known() {
            length += m.length();
        }
    }
    out.push(from..run.motions.len());
    out.retain(|w| !w.is_empty() && run.motions[w.start].feed.is_some());
    out
}

fn title(kind: &str) -> &'static str {
    match kind {
        "tooth-load" => "Thickest chip as a share of what cutter and machine bear",
        "power" => "Power at the cutter as a share of what the spindle has at its speed",
        "deflection" => "Depth to which the bent cutter goes below the true surface",
        "cutter-strength" => "Bending stress in the cutter",
        "shear" => "Joint against being pushed off sideways (1 = just holds with its factor)",
        "tear-off" => "Joint against being lifted straight off (1 = just holds with its factor)",
        _ => "Joint against being tipped off over its edge (1 = just holds with its factor)",
    }
}

/// All checks of forces of a setup.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Vec<Check> {
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        let kinds = ["tooth-load", "power", "deflection", "cutter-strength", "shear", "tear-off", "tipping"];
        return kinds.iter().map(|k| Check::uncomputed(of.id(k), title(k), why.clone())).collect();
    };
    let windows = windows(case, of, &carve.cuts);
    let density = density(case);
    let mut checks = vec![
        tooth_load(case, of, &windows),
        power(case, of, &windows, density),
        deflection(case, of, &windows, density),
        strength(of, &windows, density),
    ];
    let ways: [Way; 3] = [("shear", Holding::sheared), ("tear-off", Holding::torn_off), ("tipping", Holding::tipped)];
    checks.extend(ways.map(|way| holding(of, &windows, density, way)));
    checks
}

/// The greatest value with its motion, 0 without any window; and all of them in plan.
fn worst<'r>(
    of: &'r SetupCase<'_>,
    windows: &[Window<'_>],
    value: impl Fn(&Window<'_>) -> f64,
) -> (f64, Option<(&'r Run, &'r Motion)>, Painter) {
    let (mut most, mut at) = (0.0, None);
    let mut painter = Painter::over_stock(of, Shown::Greatest);
    for window in windows {
        let v = value(window);
        of.runs[window.run].motions[window.motions.clone()].iter().for_each(|m| painter.motion(m, v));
        // What is not a number must not pass for a small one.
        if v > most || v.is_nan() {
            (most, at) = (if v.is_nan() { f64::INFINITY } else { v }, Some(place(of, window)));
        }
    }
    (most, at, painter)
}

fn place<'r>(of: &'r SetupCase<'_>, window: &Window<'_>) -> (&'r Run, &'r Motion) {
    let run = &of.runs[window.run];
    (run, &run.motions[window.motions.start])
}

fn tooth_load(case: &Case<'_>, of: &SetupCase<'_>, windows: &[Window<'_>]) -> Check {
    // A narrow cut, and an edge that leans, make thinner chips than the feed per tooth.
    let (value, at, painter) = worst(of, windows, |w| w.feed / w.asked(case) * w.bite.chip_share());
    Check::at_most(of.id("tooth-load"), title("tooth-load"), value, OVERLOAD[0], "1")
        .at(of.place_of(at))
        .mapped(painter.finish(title("tooth-load"), "1", Some(OVERLOAD[0])))
        .watched(value > OVERLOAD[1])
        .remedy("Lower the feed at this line, or raise the speed.")
}

fn power(case: &Case<'_>, of: &SetupCase<'_>, windows: &[Window<'_>], density: f64) -> Check {
    let machine = &case.evidence.machine;
    let (value, at, painter) = worst(of, windows, |w| w.cut().power_w(w.material(density)) / machine.power_at(w.rpm));
    Check::at_most(of.id("power"), title("power"), value, 1.0, "1")
        .at(of.place_of(at))
        .mapped(painter.finish(title("power"), "1", Some(1.0)))
        .watched(value > POWER_WATCHED)
        .remedy(
            "Lower the feed at this line, take less depth or width, or raise the speed if power falls off below it.",
        )
        .assuming(FORCES)
}

fn strength(of: &SetupCase<'_>, windows: &[Window<'_>], density: f64) -> Check {
    let (value, at, painter) = worst(of, windows, |w| {
        let cut = w.cut();
        root_stress_mpa(&w.cutter.solid, cut.bending_n(w.material(density), w.cutter.helix_deg), cut.ap)
    });
    Check::at_most(of.id("cutter-strength"), title("cutter-strength"), value, CARBIDE_BEARS_MPA, "MPa")
        .at(of.place_of(at))
        .mapped(painter.finish(title("cutter-strength"), "MPa", Some(CARBIDE_BEARS_MPA)))
        .watched(value > WATCHED * CARBIDE_BEARS_MPA)
        .remedy("Less depth or width, a lower feed at this line, or a stouter or shorter cutter.")
        .assuming(FORCES)
}

const FORCES: &str = "cutting forces from typical constants for hardwood and resin (±50 %)";

/// The cutter put aside by as much as it bends, in every direction: does it go below the true surface?
fn deflection(case: &Case<'_>, of: &SetupCase<'_>, windows: &[Window<'_>], density: f64) -> Check {
    let id = of.id("deflection");
    if let Some(name) = of.unknown(case) {
        return Check::uncomputed(id, title("deflection"), format!("the model {name} is missing"));
    }
    let bends = |w: &Window<'_>| {
        let force = w.cut().bending_n(w.material(density), w.cutter.helix_deg);
        tip_mm(&w.cutter.solid, force, case.evidence.machine.stiffness_n_mm)
    };
    let mut bent: Vec<(f64, &Window<'_>)> = windows.iter().map(|w| (bends(w), w)).collect();
    if bent.iter().any(|b| !b.0.is_finite()) {
        return Check::uncomputed(id, title("deflection"), "stiffness, feed or speed is missing");
    }
    bent.sort_by(|a, b| b.0.total_cmp(&a.0));
    let promise = case.evidence.promise.gouge + case.evidence.promise.chord;
    let bed = case.bed(of);
    let mut worst: Option<(Depth, &Window<'_>)> = None;
    for group in bent.chunks(TOGETHER) {
        let known = worst.map_or(0.0, |w| w.0.mm);
        // No deeper than it bends and its path may gouge.
        if group[0].0 + promise < known {
            break;
        }
        let deepest = |&(by, window): &(f64, &'_ Window<'_>)| {
            let run = &of.runs[window.run];
            let depths = run.motions[window.motions.clone()].iter().filter(|m| m.is_known()).filter_map(|m| {
                let point = |p| DVec3::from_array(of.frame.workpiece(p));
                bed.depth(&Swept::new(aside(&window.cutter.solid, by), point(m.from), point(m.to)), known)
            });
            depths.fold(None, |best: Option<Depth>, d| if best.is_none_or(|b| d.mm > b.mm) { Some(d) } else { best })
        };
        let found: Vec<Option<Depth>> = group.par_iter().map(deepest).collect();
        for (depth, (_, window)) in found.into_iter().zip(group) {
            if let Some(depth) = depth.filter(|d| worst.is_none_or(|w| d.mm > w.0.mm)) {
                worst = Some((depth, *window));
            }
        }
    }
    let value = worst.map_or(0.0, |w| w.0.mm);
    let at = worst.map(|w| place(of, w.1));
    let (_, _, painter) = self::worst(of, windows, bends);
    let bearable = promise + if of.setup.finishes_skin { BEARABLE_MM } else { HIDDEN_MM };
    Check::at_most(id, title("deflection"), value, MEASURED_MM + promise, "mm")
        .at(of.place_of(at))
        .mapped(painter.finish("How far the cutter bends", "mm", None))
        .watched(value > bearable)
        .remedy("Lower the feed at this line, leave less for this cut, or use a stouter or shorter cutter.")
        .assuming(FORCES)
        .assuming("stiffness of the machine as on the shelf")
}

/// The cutter's envelope wherever it may be put aside by so much.
fn aside(solid: &trade::cutter::Solid, by: f64) -> Envelope {
    let wider = |disc: Disc| Disc { radius: disc.radius + by, ..disc };
    let envelope = Envelope::of(solid);
    Envelope { low: wider(envelope.low), high: wider(envelope.high), ..envelope }
}

/// A way in which a joint gives way: the check's kind, and the share of its strength that a pull takes.
type Way = (&'static str, fn(&Holding, Pull) -> f64);

/// One of them under the peak force, with its factor, as a share of its strength.
fn holding(of: &SetupCase<'_>, windows: &[Window<'_>], density: f64, (kind, used): Way) -> Check {
    let joint = &of.setup.holding;
    let id = of.id(kind);
    if !joint.is_known() {
        return Check::uncomputed(id, title(kind), "area, modulus and strengths of the joint must be above 0");
    }
    let (value, at, painter) = worst(of, windows, |w| {
        let height = (w.bite.top_z - joint.joint_z).max(0.0);
        used(joint, w.cut().pull(w.material(density), w.cutter.helix_deg, height))
    });
    Check::at_most(id, title(kind), value, 1.0, "1")
        .at(of.place_of(at))
        .mapped(painter.finish(title(kind), "1", Some(1.0)))
        .watched(value > WATCHED)
        .remedy("A larger or stronger joint, a smaller step-down or stepover, or a slower feed at this place.")
        .assuming(format!("{FORCES}, factor 1.5 for planning"))
        .assuming(match &joint.measured {
            Some(by) => format!("strength of the joint ({}) as measured: {by}", joint.method),
            None => format!("strength of the joint ({}) as on the shelf, not measured", joint.method),
        })
}

/// Speed by the program, else that of the dial's mark told in it, else the greatest that the cutter bears.
fn speed(case: &Case<'_>, motion: &Motion, most: f64) -> f64 {
    match (&case.evidence.machine.spindle, motion.rpm) {
        (_, Some(rpm)) if rpm > 0.0 => rpm,
        (SpindleControl::Dial { rpm }, _) if motion.dial.is_some_and(|mark| (1..=rpm.len()).contains(&mark)) => {
            motion.dial.map_or(most, |mark| rpm[mark - 1])
        }
        (SpindleControl::Dial { rpm }, _) => {
            rpm.iter().copied().filter(|&r| r <= most).fold(0.0, f64::max).max(rpm.first().copied().unwrap_or(most))
        }
        (SpindleControl::Program { least_rpm, .. }, _) => *least_rpm,
    }
}

/// Density of the heaviest wood in the blank with the water of a shop, kg/m³.
pub(crate) fn density(case: &Case<'_>) -> f64 {
    let boards = case.evidence.blank.boards.iter();
    let mut names: Vec<&str> = boards.map(|b| b.wood.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    // Specific gravity counts the ovendry mass; a shop's 8 % of water comes on top.
    let books = names.into_iter().filter_map(trade::tables::wood);
    let known = books.map(|w| 1080.0 * w.specific_gravity).fold(0.0, f64::max);
    if known > 0.0 { known } else { DENSE }
}
