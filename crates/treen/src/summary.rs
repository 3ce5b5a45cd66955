//! The table a command ends with: sizes, resin, time, cost, checks; at most 80 columns wide.

use base::{Units, clock, mm, sensible};
use proof::{Check, Proof, State, Where};
use route::{CastPlan, Plan};
use std::path::Path;

/// Widest line.
const WIDTH: usize = 80;
/// Width of the first column.
const LABEL: usize = 10;

/// What `treen plan` ends with.
pub(crate) fn of_plan(plan: &Plan, proof: &Proof, out: &Path, withheld: bool) -> String {
    let mut table = Table::new(&plan.title);
    sizes(plan, &mut table);
    for cast in &plan.casts {
        table.row("resin", &resin(cast));
    }
    table.row("time", &time(plan));
    table.row("cost", &cost(plan));
    checks(proof, &mut table);
    table.row("pack", &out.display().to_string());
    if withheld {
        table.row(
            "",
            "The programs were left out, because a check fails: change what it names and plan again \
             (`--allow-failing` writes them all the same).",
        );
    }
    table.text
}

/// What `treen prove` ends with.
pub(crate) fn of_proof(title: &str, proof: &Proof) -> String {
    let mut table = Table::new(title);
    checks(proof, &mut table);
    table.text
}

fn sizes(plan: &Plan, table: &mut Table) {
    let piece = &plan.piece;
    table.row("piece", &both(plan.units, |units| size(piece.size, units)));
    let print = |value: f64| mm(value).print(plan.units);
    let amounts = [
        format!("wall from {}", print(piece.min_wall)),
        format!("floor from {}", print(piece.min_floor)),
        format!(
            "{} of {}",
            sensible(piece.volume_ml, "ml"),
            if plan.casts.is_empty() { "wood" } else { "wood and resin" }
        ),
    ];
    table.row("", &amounts.join(", "));
    let (min, max) = plan.blank.bounds();
    let blank = [0, 1, 2].map(|k| max[k] - min[k]);
    table.row("blank", &both(plan.units, |units| size(blank, units)));
    let boards = plan.blank.boards.len();
    table.row("", &format!("{}, {boards} {}", plan.wood, if boards == 1 { "board" } else { "boards glued up" }));
}

fn both(first: Units, print: impl Fn(Units) -> String) -> String {
    format!("{} ({})", print(first), print(first.other()))
}

fn size(size: [f64; 3], units: Units) -> String {
    // A length is not broken over two lines.
    size.map(|length| mm(length).print(units).replace(' ', "\u{a0}")).join(" × ")
}

fn resin(cast: &CastPlan) -> String {
    let sum = |part: fn(&route::CastLayer) -> f64| sensible(cast.layers.iter().map(part).sum(), "g");
    let layers = match cast.layers.len() {
        1 => "one layer".to_owned(),
        n => format!("{n} layers"),
    };
    format!(
        "{}: {} of {}, {} resin + {} hardener in {layers}; {} stays in the piece",
        cast.name,
        sensible(cast.to_mix_ml, "ml"),
        cast.resin.name,
        sum(|layer| layer.resin_g),
        sum(|layer| layer.hardener_g),
        sensible(cast.in_piece_ml, "ml"),
    )
}

fn time(plan: &Plan) -> String {
    let hands: f64 = plan.steps.iter().map(|step| step.hands_on_s).sum();
    let wait: f64 = plan.steps.iter().map(|step| step.wait_s).sum();
    let machine: f64 = plan.setups.iter().flat_map(|s| &s.programs).map(|p| p.duration_s).sum();
    let mut text = format!("{} h of hands, {} h of machine, {} of waiting", clock(hands), clock(machine), days(wait));
    if let (Some(first), Some(last)) = (plan.calendar.first(), plan.calendar.last()) {
        text.push_str(&format!("; {} to {}", day(&first.start), day(&last.end)));
    }
    text
}

fn day(moment: &str) -> &str {
    moment.split('T').next().unwrap_or(moment)
}

fn days(seconds: f64) -> String {
    let hours = (seconds / 3600.0).round() as u64;
    if hours >= 24 { format!("{} d {} h", hours / 24, hours % 24) } else { format!("{} h", clock(seconds)) }
}

fn cost(plan: &Plan) -> String {
    let cost = &plan.cost;
    let currency = if cost.currency.is_empty() { String::new() } else { format!(" {}", cost.currency) };
    let outlay = route::outlay(&plan.buy);
    format!(
        "{:.2}{currency} of material used ({outlay:.2}{currency} to buy it by the pack), {:.2}{currency} all in all",
        cost.materials, cost.total
    )
}

fn checks(proof: &Proof, table: &mut Table) {
    let count = |state| proof.checks.iter().filter(|check| check.state == state).count();
    let (holds, watch, fails) = (count(State::Holds), count(State::Watch), count(State::Fails));
    table.row(
        "checks",
        &format!("{holds} hold, {watch} on watch, {fails} {}", if fails == 1 { "fails" } else { "fail" }),
    );
    for state in [State::Fails, State::Watch] {
        for check in proof.checks.iter().filter(|check| check.state == state) {
            table.row(if state == State::Fails { "  FAILS" } else { "  watch" }, &check_line(check));
        }
    }
}

fn check_line(check: &Check) -> String {
    let mut text = format!("{} – {}", check.id, check.title);
    if check.value.is_finite() {
        let [value, limit] = [check.value, check.limit].map(|figure| amount(figure, &check.unit));
        text.push_str(&format!(": {value}, {} {limit}", check.sense));
    }
    if let Some(place) = &check.place {
        text.push_str(&place_words(place));
    }
    if let Some(remedy) = &check.remedy {
        text.push_str(". What to do: ");
        text.push_str(remedy);
    }
    text
}

fn amount(value: f64, unit: &str) -> String {
    match unit {
        "" | "1" => sensible(value, "").trim_end().to_owned(),
        unit => sensible(value, unit),
    }
}

fn place_words(place: &Where) -> String {
    let mut words = Vec::new();
    match (&place.program, &place.setup) {
        (Some(program), _) => words.push(program.clone()),
        (None, Some(setup)) => words.push(format!("setup {setup}")),
        (None, None) => {}
    }
    words.extend(place.line.map(|line| format!("line {line}")));
    words.extend(place.at.map(|[x, y, z]| format!("at x {x:.1}, y {y:.1}, z {z:.1}")));
    if words.is_empty() { String::new() } else { format!(" ({})", words.join(", ")) }
}

/// Rows of a label and a text that is broken between words.
struct Table {
    text: String,
}

impl Table {
    fn new(title: &str) -> Self {
        Self { text: format!("\n{title}\n{}\n", "─".repeat(WIDTH)) }
    }

    fn row(&mut self, label: &str, text: &str) {
        let mut line = format!("{label:<LABEL$}");
        let mut empty = true;
        for word in text.split([' ', '\n']).filter(|word| !word.is_empty()) {
            if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.text.push_str(line.trim_end());
                self.text.push('\n');
                (line, empty) = (" ".repeat(LABEL), true);
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(state: State, value: f64) -> Check {
        Check {
            id: "gouge.outside".into(),
            title: "No cutter below the skin".into(),
            state,
            value,
            limit: 0.02,
            unit: "mm".into(),
            sense: "at most".into(),
            place: Some(Where {
                program: Some("programs/03-outside.nc".into()),
                line: Some(812),
                at: Some([1.0, -2.0, 3.25]),
                setup: None,
            }),
            remedy: Some("plan again, or undo the change in the program".into()),
            assumed: vec![],
            map: None,
        }
    }

    #[test]
    fn failing_checks_come_first_with_figure_limit_place_and_remedy() {
        let checks = vec![
            check(State::Holds, 0.01),
            check(State::Watch, 0.019),
            check(State::Fails, 0.5),
            Check { title: "Wall: could not be checked".into(), ..check(State::Fails, f64::NAN) },
        ];
        let text = of_proof("bowl", &Proof { checks, snapshots: vec![], made_ml: vec![] });
        assert!(text.contains("1 hold, 1 on watch, 2 fail"), "{text}");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains("0.500 mm, at most 0.0200 mm (programs/03-outside.nc, line 812, at x 1.0, y -2.0, z 3.2)"),
            "{words}"
        );
        assert!(words.contains("could not be checked (programs"), "{words}");
        assert!(text.find("FAILS") < text.find("watch "), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
    }

    #[test]
    fn waiting_is_told_in_days_where_it_is_long() {
        assert_eq!(days(3600.0 * 52.0), "2 d 4 h");
        assert_eq!(days(5400.0), "1:30 h");
    }
}
