//! Room under the nut: whether the stack on the table and the cutter fit between table and nut, and reach down.
//!
//! Stock height counts twice: once for the stock, once for the stick-out that must reach down it. Lengths mm; derived.

/// Least shank inside the collet by its diameter, mm: 20, and 25 from 9 mm up (common practice, no source).
pub fn least_grip(shank_diameter: f64) -> f64 {
    if shank_diameter >= 9.0 { 25.0 } else { 20.0 }
}

/// The machine's room in Z.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// From the nut's face to the table with Z at the top.
    pub gap: f64,
    /// Travel in Z.
    pub travel: f64,
}

/// What stands between table and nut at the clearance plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stack {
    /// Pallet or other hold on the table.
    pub hold: f64,
    /// Carrier board.
    pub carrier: f64,
    /// Tape or glue film.
    pub film: f64,
    /// Stock.
    pub stock: f64,
    /// Clearance over the stock.
    pub clearance: f64,
    /// Stick-out of the cutter.
    pub stickout: f64,
}

impl Stack {
    /// `h_hold + h_carrier + g + stock + clearance + s`.
    pub fn total(&self) -> f64 {
        self.hold + self.carrier + self.film + self.stock + self.clearance + self.stickout
    }
}

impl Room {
    /// Whether the cutter clears the stock: total ≤ gap.
    pub fn fits_above(&self, stack: &Stack) -> bool {
        stack.total() <= self.gap
    }

    /// Lowest point the tip reaches above the table, `gap − travel − s`; below 0 it can reach the table itself.
    pub fn lowest_reach(&self, stickout: f64) -> f64 {
        self.gap - self.travel - stickout
    }

    /// Whether the tip reaches a cut at `lowest` above the table.
    pub fn reaches(&self, stickout: f64, lowest: f64) -> bool {
        self.lowest_reach(stickout) <= lowest
    }

    /// The greatest stock that would fit with the same stick-out; below 0 if none does.
    pub fn greatest_stock(&self, stack: &Stack) -> f64 {
        self.gap - (stack.total() - stack.stock)
    }

    /// The greatest stock when the stick-out must itself be the stock plus `more`: half of what the rest leaves.
    pub fn greatest_stock_reached(&self, stack: &Stack, more: f64) -> f64 {
        (self.gap - (stack.total() - stack.stock - stack.stickout) - more) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    const HOBBY: Room = Room { gap: 115.0, travel: 95.0 };

    /// Stock of 71 mm with a stick-out to match on the weaker machine: 156 > 115.
    #[test]
    fn tall_stock_does_not_fit_the_weaker_machine() {
        let stack = Stack { hold: 0.0, carrier: 0.0, film: 0.0, stock: 71.0, clearance: 5.0, stickout: 80.0 };
        close(stack.total(), 156.0, 1e-12);
        assert!(!HOBBY.fits_above(&stack));
        close(HOBBY.greatest_stock(&stack), 30.0, 1e-12);
        let greatest = HOBBY.greatest_stock_reached(&stack, 9.0);
        let fitted = Stack { stock: greatest, stickout: greatest + 9.0, ..stack };
        close(fitted.total(), HOBBY.gap, 1e-12);
    }

    #[test]
    fn a_short_cutter_does_not_reach_the_table() {
        let sturdy = Room { gap: 170.0, travel: 150.0 };
        close(sturdy.lowest_reach(40.0), -20.0, 1e-12);
        assert!(sturdy.reaches(24.0, 0.0));
        assert!(!Room { gap: 170.0, travel: 95.0 }.reaches(40.0, 10.0));
        assert_eq!((least_grip(6.35), least_grip(12.0)), (20.0, 25.0));
    }
}
