//! Overrides of one shop, in a file beside the job: the machine to use, single figures of a machine, stick-outs, what was measured
//! of tape and of finding the work again, choices of cutters, and the boards at hand.

use super::reader::Section;
use super::{Cutter, Machine, Shelf};
use super::{blank, choices, fields};
use base::suggestion;

/// Changes `shelf` by what the overrides say.
pub(super) fn apply(s: &mut Section<'_>, shelf: &mut Shelf) {
    s.text("use_machine", &mut shelf.use_machine, "name of the machine to use");
    s.each_table("machine", "figures of a machine, by its name", |s| machine(s, &mut shelf.machines));
    s.each_table("cutter", "stick-out of a cutter, by its number", |s| cutter(s, &mut shelf.cutters));
    s.table("holding", "goods that hold the work", |s| fields::holding(s, &mut shelf.holding));
    s.table("clamping", "screws, vacuum and vise", |s| fields::clamping(s, &mut shelf.clamping));
    s.table("finding", "how well work is found again", |s| fields::finding(s, &mut shelf.finding));
    fields::boards(s, &mut shelf.boards);
    s.table("hours", "how warm the shop is", |s| fields::warmth(s, &mut shelf.hours));
    let known: Vec<u32> = shelf.cutters.iter().map(|c| c.number).collect();
    choices::apply(s, &known, &mut shelf.choices);
}

fn machine(s: &mut Section<'_>, machines: &mut [Machine]) {
    let mut name = String::new();
    s.text("name", &mut name, "name of the machine");
    match machines.iter_mut().find(|m| m.name == name) {
        Some(one) => {
            fields::machine(s, one);
            s.known_as(&format!("machine {name}"));
        }
        None => {
            fields::machine(s, &mut blank::blank_machine());
            refuse_stranger(s, "machine", "name", &name, machines.iter().map(|m| m.name.clone()));
        }
    }
}

fn cutter(s: &mut Section<'_>, cutters: &mut [Cutter]) {
    let mut number = 0;
    s.count("number", super::reader::within(1.0, 9999.0), &mut number, "number of the cutter");
    let known = cutters.iter().map(|c| c.number.to_string()).collect::<Vec<_>>();
    let mut stranger = blank::blank_cutter();
    let found = cutters.iter_mut().find(|c| c.number == number);
    let missing = found.is_none();
    let one = found.unwrap_or(&mut stranger);
    fields::stickout(s, one);
    fields::rpm_max(s, one);
    s.known_as(&format!("cutter {number}"));
    if missing {
        let name = if number == 0 { String::new() } else { number.to_string() };
        refuse_stranger(s, "cutter", "number", &name, known.into_iter());
    }
}

fn refuse_stranger(s: &Section<'_>, kind: &str, key: &str, name: &str, known: impl Iterator<Item = String>) {
    let known: Vec<String> = known.collect();
    if name.is_empty() {
        s.refuse(
            "missing-key",
            format!("`{key}` is missing here: which {kind} is meant?"),
            &format!("add `{key} = …`"),
        );
        return;
    }
    let hint = suggestion(name, known.iter().map(String::as_str));
    s.refuse_at(key, &format!("no-such-{kind}"), format!("there is no {kind} `{name}` on the shelf"), &hint);
}

/// Declares the same for the schema.
pub(super) fn describe(s: &mut Section<'_>) {
    s.text("use_machine", &mut String::new(), "name of the machine to use");
    let (mut machines, mut cutters) = (Vec::new(), Vec::new());
    s.tables("machine", "figures of a machine, by its name", &mut machines, |s| {
        let mut one = blank::blank_machine();
        fields::machine(s, &mut one);
        one
    });
    s.tables("cutter", "stick-out of a cutter, by its number", &mut cutters, |s| {
        let mut one = blank::blank_cutter();
        s.count("number", super::reader::within(1.0, 9999.0), &mut one.number, "number of the cutter");
        fields::stickout(s, &mut one);
        fields::rpm_max(s, &mut one);
        one
    });
    let mut shelf = blank::blank_shelf();
    s.table("holding", "goods that hold the work", |s| fields::holding(s, &mut shelf.holding));
    s.table("clamping", "screws, vacuum and vise", |s| fields::clamping(s, &mut shelf.clamping));
    s.table("finding", "how well work is found again", |s| fields::finding(s, &mut shelf.finding));
    fields::boards(s, &mut Vec::new());
    s.table("hours", "how warm the shop is", |s| fields::warmth(s, &mut shelf.hours));
    choices::describe(s);
}
