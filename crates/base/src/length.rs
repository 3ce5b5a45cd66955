//! Lengths, and how a maker writes and reads them.

use serde::{Deserialize, Serialize};

/// A length, held in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Length(f64);

/// A length of `value` millimetres.
pub const fn mm(value: f64) -> Length {
    Length(value)
}

impl Length {
    /// A length of `value` inches (1 in = 25.4 mm exactly).
    pub const fn from_inches(value: f64) -> Self {
        Self(value * 25.4)
    }

    /// In millimetres.
    pub const fn as_mm(self) -> f64 {
        self.0
    }

    /// In inches.
    pub const fn as_inches(self) -> f64 {
        self.0 / 25.4
    }
}

/// The unit system in which figures are printed for this maker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches, as fractions where a rule is read.
    In,
}
