//! Lengths in sentences and findings, in the maker's units, rounded as a shop reads them.

use base::{Units, mm};

/// One that must be reached: rounded up.
pub(crate) fn up(value: f64, units: Units) -> String {
    in_steps(value, units, f64::ceil)
}

/// One that must be kept to: rounded down.
pub(crate) fn down(value: f64, units: Units) -> String {
    in_steps(value, units, f64::floor)
}

/// One that is told, not kept to.
pub(crate) fn near(value: f64, units: Units) -> String {
    in_steps(value, units, f64::round)
}

/// One that is measured in the shop: to 0.1 mm, or as a fraction of an inch with its remainder and the mm in brackets.
pub(crate) fn shop(value: f64, units: Units) -> String {
    match units {
        Units::Mm => mm(value).print(Units::Mm),
        Units::In => mm(value).print_both(Units::In),
    }
}

/// A small one that a rule does not show: feelers, ridges, margins.
pub(crate) fn fine(value: f64, units: Units) -> String {
    match units {
        Units::Mm => mm(value).to_string(),
        Units::In => format!("{} ({})", mm(value).print_touch_off(Units::In), mm(value)),
    }
}

/// The step of what is named in a finding: a tenth of a millimetre, or 1/32 in.
pub(crate) const fn step(units: Units) -> f64 {
    match units {
        Units::Mm => 0.1,
        Units::In => 25.4 / 32.0,
    }
}

/// In whole steps; what is a step already, but for rounding, stays as it is.
fn in_steps(value: f64, units: Units, round: fn(f64) -> f64) -> String {
    let steps = value / step(units);
    let whole = if (steps - steps.round()).abs() < 1e-6 { steps.round() } else { round(steps) };
    // Whole steps in tenths are not whole in binary; what is told has three decimals at most.
    mm((whole * step(units) * 1000.0).round() / 1000.0).told(units)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_to_reach_is_never_told_too_small_nor_one_to_keep_to_too_large() {
        assert_eq!((up(7.302, Units::Mm), down(7.38, Units::Mm)), ("7.4 mm".to_owned(), "7.3 mm".to_owned()));
        assert_eq!((up(7.3, Units::Mm), down(7.3, Units::Mm)), ("7.3 mm".to_owned(), "7.3 mm".to_owned()));
        assert_eq!(up(6.3, Units::In), "1/4 in (6.35 mm)"); // ISO 80000-3: 1 in = 25.4 mm exactly
        assert_eq!(down(6.4, Units::In), "1/4 in (6.35 mm)");
        assert_eq!(near(64.04, Units::Mm), "64 mm");
    }

    #[test]
    fn shop_lengths_carry_the_millimetres_along() {
        assert_eq!(shop(63.8, Units::Mm), "63.8 mm");
        assert_eq!(shop(63.8, Units::In), "2 33/64 in − 0.1 mm (63.8 mm)");
        assert_eq!(fine(0.1, Units::In), "0.0039 in (0.1 mm)");
        assert_eq!(fine(0.025, Units::Mm), "0.025 mm");
    }
}
