//! `treen why`: the derivation of a figure as a tree, down to job, shelf and tables.

use super::plan_in;
use crate::cli::WhyArgs;
use crate::{Outcome, Trouble, console};
use base::{Figures, Stem, Strand, Units, near, told_value};
use papers::PlanDoc;
use papers::plan_doc::CheckDoc;

pub(crate) fn why(args: &WhyArgs) -> Result<Outcome, Trouble> {
    let doc = plan_in(&args.pack)?;
    console::say(&answer(&doc, args.figure.as_deref())?);
    Ok(Outcome::Done)
}

/// What is printed.
fn answer(doc: &PlanDoc, name: Option<&str>) -> Result<String, Trouble> {
    let figures = doc.ledger();
    let Some(name) = name else { return Ok(list(&figures, "", doc.units)) };
    if let Some(strands) = figures.derivation(name) {
        return Ok(tree(&strands, doc.units));
    }
    if let Some(check) = doc.checks.iter().find(|check| check.id == name) {
        return Ok(judged(check, doc.units));
    }
    let listed = list(&figures, &format!("{}.", name.trim_end_matches('.')), doc.units);
    if !listed.is_empty() {
        return Ok(listed);
    }
    let known = figures.0.keys().map(|id| id.0.as_str()).chain(doc.checks.iter().map(|check| check.id.as_str()));
    let near: Vec<String> = near(name, known.clone()).into_iter().take(6).map(|name| format!("`{name}`")).collect();
    let having: Vec<String> = known.filter(|known| known.contains(name)).take(6).map(|n| format!("`{n}`")).collect();
    let meant = if near.is_empty() { having } else { near };
    let hint = match meant.is_empty() {
        true => String::new(),
        false => format!("did you mean {}? ", meant.join(" or ")),
    };
    let text = format!("this pack has no figure and no check `{name}`");
    Err(Trouble::input(text, &format!("{hint}leave the name away, and all figures are listed")))
}

/// Names, values and formulas of the figures that begin so.
fn list(figures: &Figures, start: &str, units: Units) -> String {
    let rows: Vec<[String; 3]> = figures
        .0
        .iter()
        .filter(|(id, _)| id.0.starts_with(start))
        .map(|(id, figure)| [id.0.clone(), figure.told(units), figure.formula.clone()])
        .collect();
    let width = |k: usize| rows.iter().map(|row| row[k].chars().count()).max().unwrap_or(0);
    let (names, values) = (width(0), width(1));
    rows.iter().map(|[name, value, formula]| format!("{name:<names$}  {value:>values$}  {formula}\n")).collect()
}

/// The derivation, drawn with branches.
fn tree(strands: &[Strand<'_>], units: Units) -> String {
    let mut text = String::new();
    for (k, strand) in strands.iter().enumerate() {
        let mut rails = String::new();
        for last in strand.last.iter().take(strand.last.len().saturating_sub(1)) {
            rails.push_str(if *last { "   " } else { "│  " });
        }
        let (branch, beside) = match strand.last.last() {
            None => ("", ""),
            Some(true) => ("└─ ", "   "),
            Some(false) => ("├─ ", "│  "),
        };
        let deeper = strands.get(k + 1).is_some_and(|next| next.last.len() > strand.last.len());
        let below = format!("{rails}{beside}{}", if deeper { "│    " } else { "     " });
        let mut line = |start: &str, words: &str| text.push_str(&format!("{start}{words}\n"));
        let first = format!("{rails}{branch}");
        match &strand.what {
            Stem::Figure { id, figure } => {
                line(&first, &format!("{} = {}", id.0, figure.told(units)));
                line(&below, &figure.formula);
                line(&below, &format!("source: {}", figure.source.words()));
            }
            Stem::Again { id, figure } => {
                line(&first, &format!("{} = {}, derived above", id.0, figure.told(units)));
            }
            Stem::Missing { id } => line(&first, &format!("{}: this pack does not hold it", id.0)),
            Stem::Literal { value, unit, from } => {
                line(&first, &format!("{}   {from}", told_value(*value, &unit.0, units)));
            }
        }
    }
    text
}

/// What a check of the proof found.
fn judged(check: &CheckDoc, units: Units) -> String {
    let told = |value: Option<f64>| value.map_or("not computed".to_owned(), |v| told_value(v, &check.unit, units));
    let mut text = format!("check {} {}: {}\n", check.id, check.state.word(), check.title);
    text.push_str(&format!("     {}", told(check.value)));
    if check.limit.is_some() {
        text.push_str(&format!(", {} {}", check.sense, told(check.limit)));
    }
    text.push('\n');
    let lines = check.remedy.iter().map(|r| format!("what to do: {r}"));
    let assumed = check.assumed.iter().map(|a| format!("assumed: {a}"));
    for line in lines.chain(assumed).chain(check.picture.iter().map(|p| format!("picture: {p}"))) {
        text.push_str(&format!("     {line}\n"));
    }
    text.push_str("     source: measured by the proof on the written programs and the computed workpiece\n");
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::{Figure, Input, Source};

    #[test]
    fn a_tree_is_drawn_down_to_its_literals() {
        let mut figures = Figures::default();
        let cover = Input::literal(12.0, "m²/l", "shelf: finish, coverage");
        let area = Figure::new(0.5, "m²", "A", vec![Input::literal(0.5, "m²", "skin")], Source::Derived);
        figures.put("area", area);
        let inputs = vec![Input::figure("area"), cover];
        figures.put("coat", Figure::new(0.0417, "l", "V = A / cover", inputs, Source::CommonPractice));
        let want = "coat = 0.0417 l\n\
                    │    V = A / cover\n\
                    │    source: common practice, no source\n\
                    ├─ area = 0.500 m²\n\
                    │  │    A\n\
                    │  │    source: follows from geometry or arithmetic alone\n\
                    │  └─ 0.500 m²   skin\n\
                    └─ 12.0 m²/l   shelf: finish, coverage\n";
        assert_eq!(tree(&figures.derivation("coat").unwrap(), Units::Mm), want);
    }
}
