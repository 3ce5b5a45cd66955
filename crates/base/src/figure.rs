//! Figures: every number shown to a person, with the formula, the inputs and the source behind it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Name of a figure, unique in a plan: `blank.thickness`, `cast.drips.volume`, `setup.inside.peak_force`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct FigureId(pub String);

/// Unit of a figure as printed: `mm`, `ml`, `g`, `s`, `N`, `MPa`, `°C`, `1` for a plain number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Unit(pub String);

/// What a figure was computed from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Input {
    /// Another figure of the same plan.
    Figure {
        /// Its name.
        figure: FigureId,
    },
    /// A literal from the job, the shelf, a table or a measurement.
    Literal {
        /// The value.
        value: f64,
        /// Its unit.
        unit: Unit,
        /// Where it is from: `job: piece.height`, `shelf: resin "medium casting"`.
        from: String,
    },
}

/// Where a formula or a value comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Source {
    /// `place` is the table, page or equation: enough to open the book and find the number.
    Published {
        /// Title, with year and author where it helps.
        title: String,
        /// Table, page, equation.
        place: String,
    },
    /// Follows from geometry or arithmetic alone.
    Derived,
    /// A rule of the trade with no publication behind it; printed as such on every sheet.
    CommonPractice,
    /// A published source is known, but the value was quoted from memory.
    FromMemory {
        /// The source believed to hold it.
        title: String,
    },
    /// Measured in this shop.
    Measured {
        /// By what, when.
        on: String,
    },
}

/// One figure. `formula` reads as in a book (`m = V · ρ`); its symbols are explained by `inputs`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Figure {
    /// The value, in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: Unit,
    /// The formula in readable form.
    pub formula: String,
    /// What went in.
    pub inputs: Vec<Input>,
    /// Where formula and constants come from.
    pub source: Source,
}

/// All figures of a plan, by name (ordered, so that the same plan gives the same bytes).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Figures(pub BTreeMap<FigureId, Figure>);

impl Figures {
    /// Records a figure and returns its name.
    pub fn put(&mut self, id: impl Into<String>, figure: Figure) -> FigureId {
        let id = FigureId(id.into());
        self.0.insert(id.clone(), figure);
        id
    }

    /// The value of a figure, if it was recorded.
    pub fn value(&self, id: &str) -> Option<f64> {
        self.0.get(&FigureId(id.to_owned())).map(|f| f.value)
    }
}

impl Input {
    /// A literal input.
    pub fn literal(value: f64, unit: &str, from: impl Into<String>) -> Self {
        Self::Literal { value, unit: Unit(unit.to_owned()), from: from.into() }
    }

    /// A reference to another figure.
    pub fn figure(id: impl Into<String>) -> Self {
        Self::Figure { figure: FigureId(id.into()) }
    }
}

impl Figure {
    /// A figure from its parts.
    pub fn new(value: f64, unit: &str, formula: impl Into<String>, inputs: Vec<Input>, source: Source) -> Self {
        Self { value, unit: Unit(unit.to_owned()), formula: formula.into(), inputs, source }
    }
}
