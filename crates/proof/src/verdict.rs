//! What the proof says.

use crate::map::Map;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use workpiece::Workpiece;

/// How a check stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Within its limit.
    Holds,
    /// Look at it.
    Watch,
    /// Beyond its limit, or it could not be computed.
    Fails,
}

impl State {
    /// As a word: `holds`, `watch`, `fails`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::Watch => "watch",
            Self::Fails => "fails",
        }
    }
}

/// Where a check is worst.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Where {
    /// Setup.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub setup: Option<String>,
    /// Program file.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub program: Option<String>,
    /// Line in it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub line: Option<u32>,
    /// Point on the piece, piece frame, mm.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<[f64; 3]>,
}

/// One check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Check {
    /// Name: `gouge.outside`, `wall`, `leak.drips`.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Verdict.
    pub state: State,
    /// The figure; not a number where it could not be computed.
    pub value: f64,
    /// Its limit; not a number where the figure is none.
    pub limit: f64,
    /// Unit of both.
    pub unit: String,
    /// `at least` or `at most` the limit.
    pub sense: String,
    /// Where it is worst.
    #[serde(rename = "where", skip_serializing_if = "Option::is_none", default)]
    pub place: Option<Where>,
    /// What to change.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub remedy: Option<String>,
    /// What was assumed, not measured.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub assumed: Vec<String>,
    /// Where in plan which figure stands, if it is found place by place.
    #[serde(skip)]
    pub map: Option<Map>,
}

/// The workpiece after a step, as the programs made it.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// Step.
    pub step: String,
    /// The workpiece, at a pitch fit for pictures.
    pub workpiece: Workpiece,
}

/// The whole proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// The checks, in a fixed order.
    pub checks: Vec<Check>,
    /// The workpiece after every step that changes it.
    pub snapshots: Vec<Snapshot>,
    /// Volumes of the made piece in ml: wood, then each cast.
    pub made_ml: Vec<f64>,
}

impl Proof {
    /// Whether any check fails.
    pub fn fails(&self) -> bool {
        self.checks.iter().any(|c| c.state == State::Fails)
    }
}

impl Check {
    /// A figure that must not be above its limit. What is not a number fails.
    pub(crate) fn at_most(id: impl Into<String>, title: impl Into<String>, value: f64, limit: f64, unit: &str) -> Self {
        Self::new(id, title, (value, limit, unit), "at most", value <= limit)
    }

    /// A figure that must not be below its limit. What is not a number fails.
    pub(crate) fn at_least(
        id: impl Into<String>,
        title: impl Into<String>,
        value: f64,
        limit: f64,
        unit: &str,
    ) -> Self {
        Self::new(id, title, (value, limit, unit), "at least", value >= limit)
    }

    /// A check that could not be computed: it fails, has no figure, and says why.
    pub(crate) fn uncomputed(id: impl Into<String>, title: impl Into<String>, why: impl Into<String>) -> Self {
        let title = format!("{}: could not be checked", title.into());
        let check = Self::new(id, title, (f64::NAN, f64::NAN, "1"), "at most", false);
        Self { value: f64::NAN, ..check }.remedy(why)
    }

    fn new(
        id: impl Into<String>,
        title: impl Into<String>,
        (value, limit, unit): (f64, f64, &str),
        sense: &str,
        good: bool,
    ) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            state: if good { State::Holds } else { State::Fails },
            // A text of numbers knows no infinity: what was not found counts as a great way off.
            value: if value.is_finite() { value } else { UNKNOWN.copysign(value) },
            limit,
            unit: unit.to_owned(),
            sense: sense.to_owned(),
            place: None,
            remedy: None,
            assumed: Vec::new(),
            map: None,
        }
    }

    /// Where it is worst.
    pub(crate) fn at(mut self, place: Where) -> Self {
        self.place = Some(place);
        self
    }

    /// Where it is worst, if known.
    pub(crate) fn maybe_at(mut self, place: Option<Where>) -> Self {
        self.place = place;
        self
    }

    /// What to change; kept only where the check does not hold.
    pub(crate) fn remedy(mut self, text: impl Into<String>) -> Self {
        if self.state != State::Holds {
            self.remedy = Some(text.into());
        }
        self
    }

    /// Where which figure stands.
    pub(crate) fn mapped(mut self, map: Option<Map>) -> Self {
        self.map = map;
        self
    }

    /// What was assumed.
    pub(crate) fn assuming(mut self, text: impl Into<String>) -> Self {
        self.assumed.push(text.into());
        self
    }

    /// On watch instead of holding where `if_so`.
    pub(crate) fn watched(mut self, if_so: bool) -> Self {
        if if_so && self.state == State::Holds {
            self.state = State::Watch;
        }
        self
    }
}

/// Stands for a figure that is infinite or not a number.
const UNKNOWN: f64 = 999_999.0;
