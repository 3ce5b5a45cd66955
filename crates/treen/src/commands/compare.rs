//! `treen compare`: which inputs differ between two packs, and which figures they moved, the most first.

use super::plan_in;
use crate::cli::CompareArgs;
use crate::{Outcome, Trouble, console};
use base::{Figure, FigureId, Figures, Input, Stem, Units, told_value};
use papers::PlanDoc;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Differences below this share of a value are rounding.
const ROUNDING: f64 = 1e-9;
/// At most so many decimals are shown.
const DIGITS: usize = 15;
/// Inputs named beside a figure that they moved.
const NAMED: usize = 3;

pub(crate) fn compare(args: &CompareArgs) -> Result<Outcome, Trouble> {
    let (before, after) = (plan_in(&args.before)?, plan_in(&args.after)?);
    console::say(&told(&before, &after)?);
    Ok(Outcome::Done)
}

/// An input that both packs have, with another value.
#[derive(Clone, Debug, PartialEq)]
struct Changed {
    from: String,
    unit: String,
    values: [f64; 2],
}

/// A figure that both packs have, with another value.
#[derive(Clone, Debug, PartialEq)]
struct Moved {
    id: FigureId,
    unit: String,
    values: [f64; 2],
    /// The changed inputs it rests on.
    by: Vec<String>,
    /// Whether it is computed in another way.
    otherwise: bool,
}

impl Moved {
    /// Change by the larger of the two values: the order in which figures are told.
    fn share(&self) -> f64 {
        let [a, b] = self.values;
        let share = (b - a).abs() / a.abs().max(b.abs());
        // What could not be computed in one of the packs comes first.
        if share.is_nan() { f64::INFINITY } else { share }
    }
}

fn differ([a, b]: [f64; 2]) -> bool {
    match [a.is_nan(), b.is_nan()] {
        [false, false] => (b - a).abs() > ROUNDING * a.abs().max(b.abs()),
        // Both not computed is no difference.
        [one, other] => one != other,
    }
}

/// The literals of a figure by where they are from; of several alike the first counts first.
fn literals(figure: &Figure) -> BTreeMap<(&str, &str, usize), f64> {
    let mut found = BTreeMap::new();
    for input in &figure.inputs {
        if let Input::Literal { value, unit, from } = input {
            let same = found.keys().filter(|(f, u, _)| (*f, *u) == (from.as_str(), unit.0.as_str())).count();
            found.insert((from.as_str(), unit.0.as_str(), same), *value);
        }
    }
    found
}

/// The inputs that changed, each once, by the figures that both ledgers have.
fn changed_inputs(before: &Figures, after: &Figures) -> Vec<Changed> {
    let mut changed: Vec<Changed> = Vec::new();
    for (id, earlier) in &before.0 {
        let Some(later) = after.0.get(id) else { continue };
        let later = literals(later);
        for (key, value) in literals(earlier) {
            let Some(values) = later.get(&key).map(|other| [value, *other]).filter(|v| differ(*v)) else { continue };
            let input = Changed { from: key.0.to_owned(), unit: key.1.to_owned(), values };
            if !changed.contains(&input) {
                changed.push(input);
            }
        }
    }
    changed
}

/// Whether an input is the maker's own, and not computed on the way.
fn is_chosen(from: &str) -> bool {
    ["job:", "shelf:", "record:"].iter().any(|start| from.starts_with(start))
}

/// The figures that moved, the most first.
fn moved_figures(before: &Figures, after: &Figures, changed: &[Changed]) -> Vec<Moved> {
    let names: BTreeSet<&str> = changed.iter().map(|c| c.from.as_str()).collect();
    let mut moved = Vec::new();
    for (id, earlier) in &before.0 {
        let Some(later) = after.0.get(id) else { continue };
        let values = [earlier.value, later.value];
        if !differ(values) && earlier.unit == later.unit {
            continue;
        }
        let mut by: Vec<String> = Vec::new();
        for strand in after.derivation(&id.0).unwrap_or_default() {
            if let Stem::Literal { from, .. } = strand.what
                && names.contains(from)
                && !by.iter().any(|b| b == from)
            {
                by.push(from.to_owned());
            }
        }
        // What the maker chose explains more than what was computed on the way.
        by.sort_by_key(|from| !is_chosen(from));
        let (unit, otherwise) = (later.unit.0.clone(), earlier.formula != later.formula || earlier.unit != later.unit);
        moved.push(Moved { id: id.clone(), unit, values, by, otherwise });
    }
    moved.sort_by(|a, b| b.share().total_cmp(&a.share()).then_with(|| a.id.cmp(&b.id)));
    moved
}

/// Every leaf of a JSON value by its path.
fn leaves(path: &str, value: &Value, found: &mut BTreeMap<String, String>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match value {
        Value::Object(map) => map.iter().for_each(|(key, value)| leaves(&below(key), value, found)),
        Value::Array(list) => list.iter().enumerate().for_each(|(k, value)| {
            // Entries with a name of their own are the same entry wherever they stand.
            let name = ["number", "name"].iter().find_map(|key| value.get(key));
            let key = name.map_or((k + 1).to_string(), |name| name.to_string().trim_matches('"').to_owned());
            leaves(&below(&key), value, found);
        }),
        other => {
            found.insert(path.to_owned(), other.to_string().trim_matches('"').to_owned());
        }
    }
}

/// The parts of a plan that come from job and shelf as they are.
fn taken_over(doc: &PlanDoc) -> Result<BTreeMap<String, String>, Trouble> {
    let fault = |e: serde_json::Error| Trouble::Fault(format!("the plan cannot be written down again: {e}"));
    let mut found = BTreeMap::new();
    let mut add = |path: &str, value: Result<Value, serde_json::Error>| {
        leaves(path, &value.map_err(fault)?, &mut found);
        Ok::<(), Trouble>(())
    };
    add("machine", serde_json::to_value(&doc.shop.machine))?;
    add("holding", serde_json::to_value(&doc.shop.holding))?;
    add("cutter", serde_json::to_value(&doc.cutters))?;
    add("wood", serde_json::to_value(&doc.blank.wood))?;
    for cast in &doc.casts {
        add(&format!("resin of {}", cast.name), serde_json::to_value(&cast.resin))?;
    }
    add("piece.size", serde_json::to_value(doc.piece.size_mm))?;
    add("piece.wall", serde_json::to_value(doc.piece.wall_mm))?;
    add("piece.floor", serde_json::to_value(doc.piece.floor_mm))?;
    add("scallop", serde_json::to_value(doc.target_scallop_mm))?;
    add("tolerance", serde_json::to_value(doc.tolerance_mm))?;
    Ok(found)
}

/// The whole answer.
fn told(before: &PlanDoc, after: &PlanDoc) -> Result<String, Trouble> {
    let (a, b, units) = (before.ledger(), after.ledger(), after.units);
    let changed = changed_inputs(&a, &b);
    let mut text = format!("{} → {}\n", before.title, after.title);
    let mut section = |title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            text.push_str(&format!("\n{title}\n"));
            lines.iter().for_each(|line| text.push_str(&format!("  {line}\n")));
        }
    };
    let of_job: Vec<&Changed> = changed.iter().filter(|c| is_chosen(&c.from)).collect();
    section("Inputs of job and shelf that changed", of_job.iter().map(|c| input_line(c, units)).collect());
    section("Entries that changed", entries(&taken_over(before)?, &taken_over(after)?));
    let moved = moved_figures(&a, &b, &changed);
    section("Figures that moved, the most first", moved.iter().map(|m| figure_line(m, units)).collect());
    let only = |one: &Figures, other: &Figures| -> Vec<String> {
        one.0
            .iter()
            .filter(|(id, _)| !other.0.contains_key(id))
            .map(|(id, f)| format!("{} = {}", id.0, f.told(units)))
            .collect()
    };
    section("Figures of the first pack alone", only(&a, &b));
    section("Figures of the second pack alone", only(&b, &a));
    section("Checks with another verdict", verdicts(before, after));
    if text.lines().count() == 1 {
        text.push_str("\nNo input, no figure and no verdict differs.\n");
    }
    Ok(text)
}

fn input_line(input: &Changed, units: Units) -> String {
    format!("{}: {}", input.from, from_to(input.values, &input.unit, units))
}

fn from_to(values: [f64; 2], unit: &str, units: Units) -> String {
    let [mut a, mut b] = values.map(|value| told_value(value, unit, units));
    // Where both read alike so many digits are shown that they differ.
    let mut decimals = 1;
    while a == b && decimals < DIGITS {
        [a, b] = values.map(|value| format!("{value:.decimals$} {}", if unit == "1" { "" } else { unit }));
        decimals += 1;
    }
    format!("{} → {}", a.trim_end(), b.trim_end())
}

fn figure_line(moved: &Moved, units: Units) -> String {
    let [a, b] = moved.values;
    let change = match (b - a) / a.abs() {
        share if share.is_finite() => format!("{:+.3} %", share * 100.0).replace('-', "−"),
        _ => "new value".to_owned(),
    };
    let mut line = format!("{:>11}  {}: {}", change, moved.id.0, from_to(moved.values, &moved.unit, units));
    if !moved.by.is_empty() {
        let more = moved.by.len().saturating_sub(NAMED);
        line.push_str(&format!("  (by {}", moved.by[..moved.by.len() - more].join("; ")));
        line.push_str(&if more > 0 { format!("; and {more} more)") } else { ")".to_owned() });
    }
    if moved.otherwise {
        line.push_str("  (computed in another way)");
    }
    line
}

fn entries(before: &BTreeMap<String, String>, after: &BTreeMap<String, String>) -> Vec<String> {
    let paths: BTreeSet<&String> = before.keys().chain(after.keys()).collect();
    let value = |of: &BTreeMap<String, String>, path: &String| of.get(path).cloned().unwrap_or("none".to_owned());
    let both = paths.into_iter().map(|path| (path, value(before, path), value(after, path)));
    both.filter(|(_, a, b)| a != b).map(|(path, a, b)| format!("{path}: {a} → {b}")).collect()
}

fn verdicts(before: &PlanDoc, after: &PlanDoc) -> Vec<String> {
    let states = |doc: &PlanDoc| -> BTreeMap<String, &str> {
        doc.checks.iter().map(|check| (check.id.clone(), check.state.word())).collect()
    };
    let (a, b) = (states(before), states(after));
    let ids: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
    let state = |of: &BTreeMap<String, &str>, id: &String| of.get(id).map_or("not there", |s| *s).to_owned();
    let both = ids.into_iter().map(|id| (id, state(&a, id), state(&b, id)));
    both.filter(|(_, a, b)| a != b).map(|(id, a, b)| format!("{id}: {a} → {b}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::Source;

    fn ledger(height: f64, density: f64) -> Figures {
        let mut figures = Figures::default();
        let job = Input::literal(height, "mm", "job: piece.height");
        let shelf = Input::literal(density, "g/ml", "shelf: resin, density");
        figures.put("volume", Figure::new(height * 4.0, "ml", "V = 4 h", vec![job], Source::Derived));
        let mass = height * 4.0 * density;
        figures.put("mass", Figure::new(mass, "g", "m = V · ρ", vec![Input::figure("volume"), shelf], Source::Derived));
        figures.put("wall", Figure::new(6.0, "mm", "w", vec![], Source::Derived));
        figures
    }

    #[test]
    fn a_changed_input_is_named_once_with_all_that_it_moved() {
        let (a, b) = (ledger(50.0, 1.1), ledger(60.0, 1.0));
        let changed = changed_inputs(&a, &b);
        assert_eq!(
            changed.iter().map(|c| c.from.as_str()).collect::<Vec<_>>(),
            ["shelf: resin, density", "job: piece.height"]
        );
        let moved = moved_figures(&a, &b, &changed);
        // +20 % of the volume, +9.1 % of the mass; the wall stays.
        assert_eq!(moved.iter().map(|m| m.id.0.as_str()).collect::<Vec<_>>(), ["volume", "mass"]);
        assert_eq!(moved[0].by, ["job: piece.height"]);
        assert_eq!(moved[1].by.len(), 2);
        assert!(figure_line(&moved[0], Units::Mm).contains("+20.000 %"));
        assert!(changed_inputs(&a, &a).is_empty() && moved_figures(&a, &a, &[]).is_empty());
    }

    #[test]
    fn what_could_not_be_computed_comes_first_and_rounding_is_no_change() {
        let mut a = ledger(50.0, 1.1);
        let b = ledger(50.0 * (1.0 + 1e-12), 1.1);
        assert!(moved_figures(&a, &b, &[]).is_empty());
        a.put("wall", Figure::new(f64::NAN, "mm", "w", vec![], Source::Derived));
        assert_eq!(moved_figures(&a, &ledger(60.0, 1.1), &[])[0].id.0, "wall");
        assert!(!differ([f64::NAN, f64::NAN]) && differ([f64::NAN, 1.0]) && differ([0.0, 1e-3]) && !differ([0.0, 0.0]));
    }
}
