//! Lengths: the type and its arithmetic. How a maker writes them is in `read`, how they are printed in `print`, and how
//! sentences tell them in `told`.

mod print;
mod read;
mod told;

pub use print::{clock, sensible};
pub use read::{LengthError, Quarters};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A length, held in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Length(f64);

/// A length of `value` millimetres.
pub const fn mm(value: f64) -> Length {
    Length(value)
}

/// Millimetres in an inch, exactly (international inch, ISO 80000-3).
pub(crate) const MM_PER_INCH: f64 = 25.4;

impl Length {
    /// No length at all.
    pub const ZERO: Self = Self(0.0);

    /// A length of `value` inches (1 in = 25.4 mm exactly).
    pub const fn from_inches(value: f64) -> Self {
        Self(value * MM_PER_INCH)
    }

    /// In millimetres.
    pub const fn as_mm(self) -> f64 {
        self.0
    }

    /// In inches.
    pub const fn as_inches(self) -> f64 {
        self.0 / MM_PER_INCH
    }

    /// The lesser of two lengths.
    pub const fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The greater of two lengths.
    pub const fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }

    /// Without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}

impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Length {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Mul<Length> for f64 {
    type Output = Length;
    fn mul(self, length: Length) -> Length {
        Length(self * length.0)
    }
}

impl Div<f64> for Length {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

impl Div for Length {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.0 / other.0
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Self>>(lengths: I) -> Self {
        lengths.fold(Self::ZERO, Add::add)
    }
}

/// The unit system in which figures are printed for this maker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches, as fractions where a rule is read.
    In,
}

impl Units {
    /// The other system.
    pub const fn other(self) -> Self {
        match self {
            Self::Mm => Self::In,
            Self::In => Self::Mm,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_is_25_4_mm_and_back() {
        assert_eq!(Length::from_inches(2.25), mm(57.15)); // ISO 80000-3: 1 in = 25.4 mm exactly
        assert_eq!(mm(57.15).as_inches(), 2.25);
    }

    #[test]
    fn lengths_reckon_like_numbers() {
        let mut sum: Length = [mm(55.0), mm(7.5), mm(1.5), mm(1.25)].into_iter().sum();
        assert_eq!(sum, mm(65.25));
        sum -= mm(0.25);
        sum += mm(1.0);
        assert_eq!(sum / 2.0 - mm(3.0), mm(30.0));
        assert_eq!(2.0 * mm(3.0), mm(3.0) * 2.0);
        assert_eq!(mm(9.0) / mm(2.0), 4.5);
        assert_eq!((-mm(3.0)).abs().max(mm(2.0)).min(mm(2.5)), mm(2.5));
    }
}
