//! What must hold between the figures of a shelf: the geometry of cutters, the sense of machines and resins.

use super::places::Places;
use super::{BoardAtHand, Cutter, Machine, Resin, Shelf, SpindleControl};
use crate::cutter::Form;
use base::{Report, suggestion};

/// Rounding of sizes typed with two decimals, mm.
const TYPED: f64 = 0.011;

/// Looks at a complete shelf; findings are shown where `places` says the figures stand.
pub(super) fn check(shelf: &Shelf, places: &Places, report: &mut Report) {
    names(shelf, places, report);
    let book = &mut Book { places, report };
    shelf.machines.iter().for_each(|m| machine(m, book));
    shelf.cutters.iter().for_each(|c| cutter(c, book));
    shelf.resins.iter().enumerate().for_each(|(i, r)| resin(r, i, book));
    shelf.boards.iter().enumerate().for_each(|(i, b)| board(b, i, shelf, book));
    lists(shelf, book);
}

/// Findings, and where to show them.
struct Book<'a> {
    places: &'a Places,
    report: &'a mut Report,
}

impl Book<'_> {
    /// A finding at the first of these keys that the text has.
    fn wrong(&mut self, code: &str, (table, keys): (&str, &[&str]), text: String, hint: &str) {
        self.report.error(code, self.places.of(table, keys), text).hint(hint);
    }
}

/// Whether the machine in use is on the shelf.
pub(super) fn machine_in_use(shelf: &Shelf, places: &Places, report: &mut Report) {
    if shelf.machine().is_none() {
        report
            .error(
                "no-such-machine",
                places.of("use_machine", &[]),
                format!("`use_machine` names `{}`, which is not on the shelf", shelf.use_machine),
            )
            .hint(suggestion(&shelf.use_machine, shelf.machines.iter().map(|m| m.name.as_str())));
    }
}

fn names(shelf: &Shelf, places: &Places, report: &mut Report) {
    machine_in_use(shelf, places, report);
    let numbers: Vec<String> = shelf.cutters.iter().map(|c| c.number.to_string()).collect();
    let lists: [(&str, &str, Vec<&str>); 6] = [
        ("machine", "name", shelf.machines.iter().map(|m| m.name.as_str()).collect()),
        ("wood", "name", shelf.woods.iter().map(|w| w.name.as_str()).collect()),
        ("resin", "name", shelf.resins.iter().map(|r| r.name.as_str()).collect()),
        ("glue", "name", shelf.glues.iter().map(|g| g.name.as_str()).collect()),
        ("finish", "name", shelf.finishes.iter().map(|f| f.name.as_str()).collect()),
        ("cutter", "number", numbers.iter().map(String::as_str).collect()),
    ];
    for (kind, key, names) in lists {
        for (i, name) in names.iter().enumerate().filter(|(i, name)| names[..*i].contains(name)) {
            let at = places.of(&format!("{kind}[{i}]"), &[key]);
            report.error("twice", at, format!("there are two {kind}s `{name}`")).hint("give each its own");
        }
    }
}

fn machine(m: &Machine, book: &mut Book<'_>) {
    let table = format!("machine {}", m.name);
    let mut wrong = |keys: &[&str], text: String, hint: &str| {
        book.wrong("machine", (&table, keys), format!("machine `{}`: {text}", m.name), hint);
    };
    match &m.spindle {
        SpindleControl::Program { least_rpm, greatest_rpm, .. } if least_rpm > greatest_rpm => {
            let text = format!("its least speed {least_rpm} is above its greatest {greatest_rpm}");
            wrong(&["spindle.least_rpm", "spindle.greatest_rpm"], text, "exchange them");
        }
        SpindleControl::Dial { rpm } if rpm.windows(2).any(|w| w[0] >= w[1]) => {
            let text = "the speeds of its dial do not rise from mark to mark".to_owned();
            wrong(&["spindle.dial_rpm"], text, "write them from mark 1 upwards");
        }
        _ => {}
    }
    for (i, axis) in ["XY", "Z"].iter().enumerate() {
        if m.feed_max[i] > m.rapid[i] {
            let text = format!("its cutting feed in {axis}, {}, is above its rapid, {}", m.feed_max[i], m.rapid[i]);
            wrong(&["feed_max", "rapid"], text, "the rapid is the fastest the axis can go");
        }
    }
    if m.decimals[0] < 2 || m.decimals[1] < 3 {
        let text = format!("{} decimals in mm and {} in inch round too coarsely", m.decimals[0], m.decimals[1]);
        wrong(&["decimals"], text, "at least 2 in mm and 3 in inch");
    }
}

fn cutter(c: &Cutter, book: &mut Book<'_>) {
    let s = &c.solid;
    let table = format!("cutter {}", c.number);
    let mut wrong = |keys: &[&str], text: String, hint: &str| {
        book.wrong("cutter", (&table, keys), format!("cutter {} `{}`: {text}", c.number, c.name), hint);
    };
    if s.flute_length > s.stickout {
        let text = format!("its flutes ({} mm) are longer than its stick-out ({} mm)", s.flute_length, s.stickout);
        wrong(&["flute_length", "stickout"], text, "let it stick out farther: the collet must not grip the flutes");
    }
    if s.stickout >= c.overall {
        let text = format!("it sticks out {} mm and is only {} mm long", s.stickout, c.overall);
        wrong(&["stickout", "overall"], text, "leave at least 20 mm of shank in the collet");
    }
    if s.neck_length < s.flute_length {
        let text = format!(
            "its neck ends {} mm above the tip, within the flutes, which are {} mm long",
            s.neck_length, s.flute_length
        );
        wrong(&["neck_length", "flute_length"], text, "without a neck write the flute length for `neck_length`");
    } else if s.neck_length > s.stickout && s.flute_length <= s.stickout {
        let text = format!(
            "it sticks out {} mm, and its neck ends only {} mm above the tip: the collet would grip the neck",
            s.stickout, s.neck_length
        );
        let hint = format!(
            "let it stick out {} mm or more; without a neck write the flute length for `neck_length`",
            s.neck_length
        );
        wrong(&["stickout", "neck_length"], text, &hint);
    }
    if let Some(why) = form_fault(&s.form, s.diameter, s.flute_length) {
        wrong(&["corner_radius", "half_angle_deg", "flute_length"], why, "measure the cutter again");
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

fn resin(r: &Resin, index: usize, book: &mut Book<'_>) {
    let table = format!("resin[{index}]");
    let mut wrong = |keys: &[&str], text: String, hint: &str| {
        book.wrong("resin", (&table, keys), format!("resin `{}`: {text}", r.name), hint);
    };
    if r.layer_least >= r.layer_greatest {
        let text = format!("its least layer {} is not below its greatest {}", r.layer_least, r.layer_greatest);
        wrong(&["layer_least"], text, "look at its data sheet");
    }
    if r.recoat_h[0] >= r.recoat_h[1] {
        wrong(&["recoat_h"], "its recoat window ends before it begins".to_owned(), "write it as [from, to]");
    }
    if r.gel_h > r.carve_h || r.carve_h > r.cure_h {
        let text =
            format!("gel ({} h), carving ({} h) and full cure ({} h) are out of order", r.gel_h, r.carve_h, r.cure_h);
        wrong(&["carve_h"], text, "gel comes first, full cure last");
    }
    // Hardeners of epoxy weigh 0.80 to 1.15 times as much as the resin; beyond that the two ratios contradict.
    let relative = r.hardener_by_mass / r.hardener_by_volume;
    if !(0.7..=1.3).contains(&relative) {
        let text = format!(
            "its ratios by volume and by mass contradict: the hardener would weigh {relative:.2} times the resin"
        );
        wrong(&["by_volume", "by_mass"], text, "write parts of A first, then parts of B, as on the label");
    }
}

fn board(b: &BoardAtHand, index: usize, shelf: &Shelf, book: &mut Book<'_>) {
    let table = format!("board[{index}]");
    if shelf.wood(&b.wood).is_none() {
        let text = format!("a board is of `{}`, a wood that is not on the shelf", b.wood);
        let hint = suggestion(&b.wood, shelf.woods.iter().map(|w| w.name.as_str()));
        book.wrong("no-such-wood", (&table, &["wood"]), text, &hint);
    }
    if b.quarters.is_some() && b.planed(&shelf.shop).is_none() {
        let text = "the shelf does not say what a board of this thickness planes down to".to_owned();
        let hint = "add it to `planed` in [shop], or measure the board: thickness = \"52 mm\"";
        book.wrong("unknown-board", (&table, &["thickness"]), text, hint);
    }
    for (i, defect) in b.defects.iter().enumerate() {
        for (key, [from, to], size) in [("along", defect.along, b.length), ("across", defect.across, b.width)] {
            if from >= to || from >= size {
                let text = format!("`{}` lies from {from} to {to} mm {key} a board of {size} mm", defect.what);
                let hint = "measure from the first end, or the first edge, first where it begins, then where it ends";
                book.wrong("defect", (&format!("{table}.defect[{i}]"), &[key]), text, hint);
            }
        }
    }
}

fn lists(shelf: &Shelf, book: &mut Book<'_>) {
    for (i, w) in shelf.abrasives.windows(2).enumerate() {
        if w[0].grit >= w[1].grit || w[0].grain_um <= w[1].grain_um {
            let text = format!("P{} after P{}: the abrasives do not run from coarse to fine", w[1].grit, w[0].grit);
            book.wrong("abrasives", (&format!("abrasive[{}]", i + 1), &["grit"]), text, "sort them by grit");
        }
    }
    for (i, (quarters, thickness)) in shelf.shop.planed.iter().enumerate() {
        let rough = f64::from(*quarters) * 25.4 / 4.0;
        if *thickness >= rough {
            let text = format!("{quarters}/4 is {rough} mm rough and cannot plane to {thickness} mm");
            book.wrong("planed", (&format!("shop.planed[{i}]"), &["thickness"]), text, "measure a planed board");
        }
    }
    if shelf.hours.from_h >= shelf.hours.to_h {
        let text = "the working day ends before it begins".to_owned();
        book.wrong("hours", ("hours", &["to_h"]), text, "hours run from 0 to 24");
    }
}
