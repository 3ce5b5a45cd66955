//! What the proof says.

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
    /// The figure.
    pub value: f64,
    /// Its limit.
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
