//! Derivations: a figure with all that went into it, down to job, shelf and tables, as a list of strands to be drawn.

use crate::{Figure, FigureId, Figures, Input, Source, Unit, Units, clock, mm, sensible};
use std::collections::BTreeSet;

/// One line of a derivation. The first is the figure itself; what went into it follows, one level deeper.
#[derive(Clone, Debug, PartialEq)]
pub struct Strand<'a> {
    /// For each level from the first below the figure down to this one: whether no other input follows on that level.
    pub last: Vec<bool>,
    /// What stands there.
    pub what: Stem<'a>,
}

/// What stands in a line of a derivation.
#[derive(Clone, Debug, PartialEq)]
pub enum Stem<'a> {
    /// A figure; its inputs follow.
    Figure {
        /// Its name.
        id: &'a FigureId,
        /// Its value, formula and source.
        figure: &'a Figure,
    },
    /// A figure whose inputs stand further up already.
    Again {
        /// Its name.
        id: &'a FigureId,
        /// Its value, formula and source.
        figure: &'a Figure,
    },
    /// A name that the ledger does not hold.
    Missing {
        /// The name.
        id: &'a FigureId,
    },
    /// A value from the job, the shelf, a table or a measurement.
    Literal {
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'a Unit,
        /// Where it is from.
        from: &'a str,
    },
}

impl Figures {
    /// The derivation of a figure, inputs below what they went into; each figure is derived once. `None` for a name
    /// that is not in the ledger.
    ///
    /// ```
    /// use base::{Figure, Figures, Input, Source, Stem};
    /// let mut figures = Figures::default();
    /// let area = Input::literal(2.0, "m²", "job: area");
    /// figures.put("coat.volume", Figure::new(0.2, "l", "V = A / cover", vec![area], Source::Derived));
    /// let strands = figures.derivation("coat.volume").unwrap();
    /// assert!(matches!(strands[1].what, Stem::Literal { from: "job: area", .. }));
    /// ```
    pub fn derivation(&self, id: &str) -> Option<Vec<Strand<'_>>> {
        let (id, figure) = self.0.get_key_value(&FigureId(id.to_owned()))?;
        let mut strands = Vec::new();
        self.follow(id, figure, &[], &mut BTreeSet::new(), &mut strands);
        Some(strands)
    }

    fn follow<'a>(
        &'a self,
        id: &'a FigureId,
        figure: &'a Figure,
        last: &[bool],
        seen: &mut BTreeSet<&'a FigureId>,
        strands: &mut Vec<Strand<'a>>,
    ) {
        let new = seen.insert(id);
        let what =
            if new || figure.inputs.is_empty() { Stem::Figure { id, figure } } else { Stem::Again { id, figure } };
        strands.push(Strand { last: last.to_owned(), what });
        if !new {
            return;
        }
        for (k, input) in figure.inputs.iter().enumerate() {
            let mut last = last.to_owned();
            last.push(k + 1 == figure.inputs.len());
            match input {
                Input::Literal { value, unit, from } => {
                    strands.push(Strand { last, what: Stem::Literal { value: *value, unit, from } });
                }
                Input::Figure { figure } => match self.0.get_key_value(figure) {
                    Some((id, figure)) => self.follow(id, figure, &last, seen, strands),
                    None => strands.push(Strand { last, what: Stem::Missing { id: figure } }),
                },
            }
        }
    }
}

/// A value with its unit as it is shown to a person: lengths as the maker reads them, times by the clock as well.
///
/// ```
/// use base::{Units, told_value};
/// assert_eq!(told_value(63.8, "mm", Units::In), "2 33/64 in − 0.1 mm");
/// assert_eq!(told_value(4380.0, "s", Units::Mm), "4380 s (1:13 h)");
/// assert_eq!(told_value(0.0185, "mm", Units::Mm), "0.0185 mm");
/// assert_eq!(told_value(0.04, "1", Units::Mm), "0.0400");
/// ```
pub fn told_value(value: f64, unit: &str, units: Units) -> String {
    /// Below this a length is told in mm with three digits: no rule shows it.
    const FINE_MM: f64 = 1.0;
    match unit {
        _ if !value.is_finite() => "not computed".to_owned(),
        "mm" if value == 0.0 || value.abs() >= FINE_MM => mm(value).print(units),
        "s" if value.abs() >= 60.0 => format!("{} ({} h)", sensible(value, "s"), clock(value)),
        "" | "1" => sensible(value, "").trim_end().to_owned(),
        unit => sensible(value, unit),
    }
}

impl Figure {
    /// Its value as it is shown to a person.
    pub fn told(&self, units: Units) -> String {
        told_value(self.value, &self.unit.0, units)
    }
}

impl Source {
    /// In words, as printed beside a figure.
    pub fn words(&self) -> String {
        match self {
            Self::Published { title, place } => format!("{title}: {place}"),
            Self::Derived => "follows from geometry or arithmetic alone".to_owned(),
            Self::CommonPractice => "common practice, no source".to_owned(),
            Self::FromMemory { title } => format!("from memory, not opened: {title}"),
            Self::Measured { on } => format!("measured: {on}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(inputs: Vec<Input>) -> Figure {
        Figure::new(1.0, "1", "f", inputs, Source::Derived)
    }

    #[test]
    fn shared_inputs_are_derived_once_and_what_is_missing_is_told() {
        let mut figures = Figures::default();
        figures.put("top", figure(vec![Input::figure("left"), Input::figure("right")]));
        figures.put("left", figure(vec![Input::figure("base")]));
        figures.put("right", figure(vec![Input::figure("base"), Input::figure("gone")]));
        figures.put("base", figure(vec![Input::literal(2.0, "mm", "job: x")]));
        let strands = figures.derivation("top").unwrap();
        let shape: Vec<(usize, &str)> = strands
            .iter()
            .map(|s| match &s.what {
                Stem::Figure { id, .. } => (s.last.len(), id.0.as_str()),
                Stem::Again { id, .. } => (s.last.len(), if id.0 == "base" { "base again" } else { "?" }),
                Stem::Missing { id } => (s.last.len(), if id.0 == "gone" { "gone is missing" } else { "?" }),
                Stem::Literal { from, .. } => (s.last.len(), *from),
            })
            .collect();
        let want = [
            (0, "top"),
            (1, "left"),
            (2, "base"),
            (3, "job: x"),
            (1, "right"),
            (2, "base again"),
            (2, "gone is missing"),
        ];
        assert_eq!(shape, want);
        assert_eq!(strands[3].last, [false, true, true]);
        assert_eq!(figures.derivation("nothing"), None);
    }

    #[test]
    fn a_circle_in_a_file_edited_by_hand_comes_to_an_end() {
        let mut figures = Figures::default();
        figures.put("a", figure(vec![Input::figure("b")]));
        figures.put("b", figure(vec![Input::figure("a")]));
        assert_eq!(figures.derivation("a").unwrap().len(), 3);
    }
}
