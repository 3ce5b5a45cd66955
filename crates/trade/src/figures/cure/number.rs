//! The numbers the marching reckons in: `f64`, or `f32` where four digits suffice and speed counts.
//!
//! The exponential is our own: a few multiplications that the compiler turns into vectors, the same bits on every machine.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A floating-point number.
pub trait Number:
    Copy
    + Send
    + Sync
    + PartialOrd
    + Default
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// From `f64`, rounded.
    fn of(value: f64) -> Self;
    /// To `f64`.
    fn wide(self) -> f64;
    /// `eˣ` for x from −80 to 80, to about the last digit.
    fn exp(self) -> Self;
    /// `self` to a power.
    fn power(self, exponent: Self) -> Self;
    /// Absolute value.
    fn size(self) -> Self;
    /// The larger.
    fn larger(self, other: Self) -> Self;
    /// Whether it is none.
    fn is_no_number(self) -> bool;
}

impl Number for f64 {
    fn of(value: f64) -> Self {
        value
    }

    fn wide(self) -> f64 {
        self
    }

    #[inline(always)]
    fn exp(self) -> Self {
        // 1.5 · 2⁵²: added, it leaves the nearest whole number in the last bits.
        const ROUND: f64 = 6_755_399_441_055_744.0;
        const LN2_HIGH: f64 = 0.693_147_180_369_123_8;
        const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
        let shifted = self * std::f64::consts::LOG2_E + ROUND;
        let whole = shifted - ROUND;
        let r = (self - whole * LN2_HIGH) - whole * LN2_LOW;
        // Taylor's series to r¹²: below 2e-17 for |r| ≤ ln 2 / 2.
        let mut sum = 1.0 / 479_001_600.0;
        for k in [
            1.0 / 39_916_800.0,
            1.0 / 3_628_800.0,
            1.0 / 362_880.0,
            1.0 / 40_320.0,
            1.0 / 5_040.0,
            1.0 / 720.0,
            1.0 / 120.0,
            1.0 / 24.0,
            1.0 / 6.0,
            0.5,
            1.0,
            1.0,
        ] {
            sum = sum * r + k;
        }
        sum * f64::from_bits((shifted.to_bits().wrapping_add(1023)) << 52)
    }

    fn power(self, exponent: Self) -> Self {
        self.powf(exponent)
    }

    #[inline(always)]
    fn size(self) -> Self {
        self.abs()
    }

    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        if other > self { other } else { self }
    }

    #[inline(always)]
    fn is_no_number(self) -> bool {
        self.is_nan()
    }
}

impl Number for f32 {
    fn of(value: f64) -> Self {
        value as f32
    }

    fn wide(self) -> f64 {
        f64::from(self)
    }

    #[inline(always)]
    fn exp(self) -> Self {
        // 1.5 · 2²³: added, it leaves the nearest whole number in the last bits.
        const ROUND: f32 = 12_582_912.0;
        const LN2_HIGH: f32 = 0.693_359_4;
        const LN2_LOW: f32 = -2.121_944_4e-4;
        let shifted = self * std::f32::consts::LOG2_E + ROUND;
        let whole = shifted - ROUND;
        let r = (self - whole * LN2_HIGH) - whole * LN2_LOW;
        // Taylor's series to r⁷: below 1e-8 for |r| ≤ ln 2 / 2.
        let mut sum = 1.0 / 5_040.0;
        for k in [1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0] {
            sum = sum * r + k;
        }
        sum * f32::from_bits((shifted.to_bits().wrapping_add(127)) << 23)
    }

    fn power(self, exponent: Self) -> Self {
        self.powf(exponent)
    }

    #[inline(always)]
    fn size(self) -> Self {
        self.abs()
    }

    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        if other > self { other } else { self }
    }

    #[inline(always)]
    fn is_no_number(self) -> bool {
        self.is_nan()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exponential_is_that_of_the_standard_library() {
        for i in -8000..=8000 {
            let x = f64::from(i) * 0.01;
            assert!((Number::exp(x) / f64::exp(x) - 1.0).abs() < 1e-14, "{x}");
            let short = x as f32;
            assert!((f64::from(Number::exp(short)) / f64::from(short).exp() - 1.0).abs() < 4e-7, "{x}");
        }
    }
}
