//! The formulas of the trade: pure functions, one subject a file, each with its source and a worked example as test.
//!
//! Lengths mm, forces N, stresses MPa (N/mm²), feeds mm/min, speeds rev/min, unless a name says otherwise.

pub mod burning;
pub mod chain;
pub mod coupon;
pub mod cure;
pub mod cutting;
pub mod deflection;
pub mod finishing;
pub mod flip;
pub mod holding;
pub mod lumber;
pub mod motion;
pub mod parting;
pub mod resin;
pub mod room;
pub mod sanding;
pub mod sawing;
pub mod scallop;

#[cfg(test)]
mod close {
    /// Fails unless `got` is within `tolerance` of `want`.
    pub(crate) fn close(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "got {got}, want {want} ± {tolerance}");
    }
}
