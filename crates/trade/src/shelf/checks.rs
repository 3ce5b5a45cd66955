//! What must hold between the figures of a shelf: the geometry of cutters, the sense of machines and resins.

use super::{Cutter, Machine, Resin, Shelf, SpindleControl};
use crate::cutter::Form;
use base::{At, Report};

/// Rounding of sizes typed with two decimals, mm.
const TYPED: f64 = 0.011;

/// Looks at a complete shelf. `None` places come from a shelf made without a text.
pub(super) fn check(shelf: &Shelf, whole: Option<At>, report: &mut Report) {
    names(shelf, whole, report);
    shelf.machines.iter().for_each(|m| machine(m, report));
    shelf.cutters.iter().for_each(|c| cutter(c, report));
    shelf.resins.iter().for_each(|r| resin(r, whole, report));
    lists(shelf, whole, report);
}

fn names(shelf: &Shelf, whole: Option<At>, report: &mut Report) {
    if shelf.machine().is_none() {
        let known: Vec<&str> = shelf.machines.iter().map(|m| m.name.as_str()).collect();
        report
            .error(
                "no-such-machine",
                whole,
                format!("`use_machine` names `{}`, which is not on the shelf", shelf.use_machine),
            )
            .hint(format!("the machines are {}", known.join(", ")));
    }
    twice(shelf.machines.iter().map(|m| (m.name.as_str(), m.at)), "machine", report);
    twice(shelf.woods.iter().map(|w| (w.name.as_str(), whole)), "wood", report);
    twice(shelf.resins.iter().map(|r| (r.name.as_str(), whole)), "resin", report);
    twice(shelf.glues.iter().map(|g| (g.name.as_str(), whole)), "glue", report);
    twice(shelf.finishes.iter().map(|f| (f.name.as_str(), whole)), "finish", report);
    let numbers: Vec<String> = shelf.cutters.iter().map(|c| c.number.to_string()).collect();
    twice(numbers.iter().map(String::as_str).zip(shelf.cutters.iter().map(|c| c.at)), "cutter", report);
}

fn twice<'n>(names: impl Iterator<Item = (&'n str, Option<At>)>, kind: &str, report: &mut Report) {
    let mut seen: Vec<&str> = Vec::new();
    for (name, at) in names {
        if seen.contains(&name) {
            report.error("twice", at, format!("there are two {kind}s `{name}`")).hint("give each its own");
        }
        seen.push(name);
    }
}

fn machine(m: &Machine, report: &mut Report) {
    let mut wrong = |text: String, hint: &str| {
        report.error("machine", m.at, format!("machine `{}`: {text}", m.name)).hint(hint);
    };
    match &m.spindle {
        SpindleControl::Program { least_rpm, greatest_rpm, .. } if least_rpm > greatest_rpm => {
            wrong(format!("its least speed {least_rpm} is above its greatest {greatest_rpm}"), "exchange them");
        }
        SpindleControl::Dial { rpm } if rpm.windows(2).any(|w| w[0] >= w[1]) => {
            wrong("the speeds of its dial do not rise from mark to mark".to_owned(), "write them from mark 1 upwards");
        }
        _ => {}
    }
    for (i, axis) in ["XY", "Z"].iter().enumerate() {
        if m.feed_max[i] > m.rapid[i] {
            let text = format!("its cutting feed in {axis}, {}, is above its rapid, {}", m.feed_max[i], m.rapid[i]);
            wrong(text, "the rapid is the fastest the axis can go");
        }
    }
    if m.decimals[0] < 2 || m.decimals[1] < 3 {
        wrong(
            format!("{} decimals in mm and {} in inch round too coarsely", m.decimals[0], m.decimals[1]),
            "at least 2 in mm and 3 in inch",
        );
    }
}

fn cutter(c: &Cutter, report: &mut Report) {
    let s = &c.solid;
    let mut wrong = |text: String, hint: &str| {
        report.error("cutter", c.at, format!("cutter {} `{}`: {text}", c.number, c.name)).hint(hint);
    };
    if s.flute_length > s.stickout {
        wrong(
            format!("its flutes ({} mm) are longer than its stick-out ({} mm)", s.flute_length, s.stickout),
            "the collet must not grip the flutes",
        );
    }
    if s.stickout >= c.overall {
        wrong(
            format!("it sticks out {} mm and is only {} mm long", s.stickout, c.overall),
            "leave at least 20 mm of shank in the collet",
        );
    }
    if s.neck_length < s.flute_length || s.neck_length > s.stickout {
        wrong(
            format!(
                "its neck ends at {} mm, and must end between the flutes ({}) and the nut ({})",
                s.neck_length, s.flute_length, s.stickout
            ),
            "without a neck write the flute length",
        );
    }
    if let Some(why) = form_fault(&s.form, s.diameter, s.flute_length) {
        wrong(why, "measure the cutter again");
    }
}

/// Why a tip cannot be, if it cannot.
fn form_fault(form: &Form, diameter: f64, flute_length: f64) -> Option<String> {
    let radius = diameter / 2.0;
    match *form {
        Form::Flat => None,
        Form::Ball => (flute_length + TYPED < radius)
            .then(|| format!("its flutes ({flute_length} mm) end below the ball's equator")),
        Form::Bull { corner_radius } => (corner_radius >= radius)
            .then(|| format!("a corner radius of {corner_radius} mm does not fit a radius of {radius} mm")),
        Form::Cone { half_angle_deg, tip_diameter } => {
            if tip_diameter >= diameter {
                return Some(format!("its tip ({tip_diameter} mm) is not thinner than its diameter ({diameter} mm)"));
            }
            let rise = (radius - tip_diameter / 2.0) / half_angle_deg.to_radians().tan();
            cone_fault(rise, diameter, flute_length)
        }
        Form::TaperedBall { tip_radius, half_angle_deg } => {
            if tip_radius >= radius {
                return Some(format!("its ball (radius {tip_radius} mm) does not fit its diameter ({diameter} mm)"));
            }
            // The cone touches the ball where its normal leans by the half angle.
            let (sin, cos) = half_angle_deg.to_radians().sin_cos();
            let rise = tip_radius * (1.0 - sin) + (radius - tip_radius * cos) / (sin / cos);
            cone_fault(rise, diameter, flute_length)
        }
    }
}

/// The cone must have reached the full diameter where the flutes end (to 0.5 mm: angles are given roughly).
fn cone_fault(rise: f64, diameter: f64, flute_length: f64) -> Option<String> {
    (rise > flute_length + 0.5).then(|| {
        format!(
            "its sides reach {diameter} mm only {rise:.1} mm above the tip, but the flutes end at {flute_length} mm"
        )
    })
}

fn resin(r: &Resin, whole: Option<At>, report: &mut Report) {
    let mut wrong = |text: String, hint: &str| {
        report.error("resin", whole, format!("resin `{}`: {text}", r.name)).hint(hint);
    };
    if r.layer_least >= r.layer_greatest {
        wrong(
            format!("its least layer {} is not below its greatest {}", r.layer_least, r.layer_greatest),
            "look at its data sheet",
        );
    }
    if r.recoat_h[0] >= r.recoat_h[1] {
        wrong("its recoat window ends before it begins".to_owned(), "write it as [from, to]");
    }
    if r.gel_h > r.carve_h || r.carve_h > r.cure_h {
        wrong(
            format!("gel ({} h), carving ({} h) and full cure ({} h) are out of order", r.gel_h, r.carve_h, r.cure_h),
            "gel comes first, full cure last",
        );
    }
    // Hardeners of epoxy weigh 0.80 to 1.15 times as much as the resin; beyond that the two ratios contradict.
    let relative = r.hardener_by_mass / r.hardener_by_volume;
    if !(0.7..=1.3).contains(&relative) {
        wrong(
            format!(
                "its ratios by volume and by mass contradict: the hardener would weigh {relative:.2} times the resin"
            ),
            "write parts of A first, then parts of B, as on the label",
        );
    }
}

fn lists(shelf: &Shelf, whole: Option<At>, report: &mut Report) {
    if shelf.abrasives.windows(2).any(|w| w[0].grit >= w[1].grit || w[0].grain_um <= w[1].grain_um) {
        report.error("abrasives", whole, "the abrasives do not run from coarse to fine").hint("sort them by grit");
    }
    for (quarters, thickness) in &shelf.shop.planed {
        let rough = f64::from(*quarters) * 25.4 / 4.0;
        if *thickness >= rough {
            report
                .error("planed", whole, format!("{quarters}/4 is {rough} mm rough and cannot plane to {thickness} mm"))
                .hint("measure a planed board");
        }
    }
    if shelf.hours.from_h >= shelf.hours.to_h {
        report.error("hours", whole, "the working day ends before it begins").hint("hours run from 0 to 24");
    }
}
