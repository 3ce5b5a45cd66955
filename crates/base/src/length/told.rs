//! Lengths in sentences and findings, in the maker's units, rounded as a shop reads them. All values in mm.

use super::{MM_PER_INCH, Units, mm};

impl Units {
    /// One that must be reached: rounded up.
    ///
    /// ```
    /// use base::Units;
    /// assert_eq!(Units::Mm.up(7.302), "7.4 mm");
    /// assert_eq!(Units::In.up(6.3), "1/4 in (6.35 mm)"); // ISO 80000-3: 1 in = 25.4 mm exactly
    /// ```
    pub fn up(self, value: f64) -> String {
        self.in_steps(value, f64::ceil)
    }

    /// One that must be kept to: rounded down.
    ///
    /// ```
    /// use base::Units;
    /// assert_eq!(Units::Mm.down(7.38), "7.3 mm");
    /// ```
    pub fn down(self, value: f64) -> String {
        self.in_steps(value, f64::floor)
    }

    /// One that is told, not kept to.
    pub fn near(self, value: f64) -> String {
        self.in_steps(value, f64::round)
    }

    /// One that was asked for: as it is.
    pub fn told(self, value: f64) -> String {
        mm(value).told(self)
    }

    /// One that is measured in the shop: to 0.1 mm, or as a fraction of an inch with its remainder and the mm in brackets.
    ///
    /// ```
    /// use base::Units;
    /// assert_eq!(Units::In.shop(63.8), "2 33/64 in − 0.1 mm (63.8 mm)");
    /// ```
    pub fn shop(self, value: f64) -> String {
        match self {
            Self::Mm => mm(value).print(self),
            Self::In => mm(value).print_both(self),
        }
    }

    /// One that is set by a rule: in whole millimetres or sixteenths of an inch.
    ///
    /// ```
    /// use base::Units;
    /// assert_eq!((Units::Mm.ruler(31.75), Units::In.ruler(32.0)), ("32 mm".to_owned(), "1 1/4 in".to_owned()));
    /// ```
    pub fn ruler(self, value: f64) -> String {
        let step = match self {
            Self::Mm => 1.0,
            Self::In => MM_PER_INCH / 16.0,
        };
        let length = mm((value / step).round() * step);
        match self {
            Self::Mm => length.to_string(),
            Self::In => length.print(self),
        }
    }

    /// A small one that a rule does not show, to 0.01 mm where it is above that: feelers, ridges, margins.
    ///
    /// ```
    /// use base::Units;
    /// assert_eq!(Units::In.fine(0.1), "0.0039 in (0.1 mm)");
    /// ```
    pub fn fine(self, value: f64) -> String {
        let parts = if value.abs() < 0.1 { 1000.0 } else { 100.0 };
        let length = mm((value * parts).round() / parts);
        match self {
            Self::Mm => length.to_string(),
            Self::In => format!("{} ({length})", length.print_touch_off(self)),
        }
    }

    /// The step of what is named in a finding, mm: a tenth of a millimetre, or 1/32 in.
    pub const fn step(self) -> f64 {
        match self {
            Self::Mm => 0.1,
            Self::In => MM_PER_INCH / 32.0,
        }
    }

    /// In whole steps; what is a step already, but for rounding, stays as it is.
    fn in_steps(self, value: f64, round: fn(f64) -> f64) -> String {
        let steps = value / self.step();
        let whole = if (steps - steps.round()).abs() < 1e-6 { steps.round() } else { round(steps) };
        // Whole steps in tenths are not whole in binary; what is told has three decimals at most.
        self.told((whole * self.step() * 1000.0).round() / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_to_reach_is_never_told_too_small_nor_one_to_keep_to_too_large() {
        assert_eq!((Units::Mm.up(7.302), Units::Mm.down(7.38)), ("7.4 mm".to_owned(), "7.3 mm".to_owned()));
        assert_eq!((Units::Mm.up(7.3), Units::Mm.down(7.3)), ("7.3 mm".to_owned(), "7.3 mm".to_owned()));
        assert_eq!(Units::In.down(6.4), "1/4 in (6.35 mm)");
        assert_eq!(Units::Mm.near(64.04), "64 mm");
    }

    #[test]
    fn shop_lengths_carry_the_millimetres_along() {
        assert_eq!(Units::Mm.shop(63.8), "63.8 mm");
        assert_eq!(Units::Mm.fine(0.025), "0.025 mm");
        assert_eq!(Units::Mm.fine(4.9849), "4.98 mm");
    }
}
