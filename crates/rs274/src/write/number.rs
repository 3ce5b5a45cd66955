//! Coordinates as counts of the last decimal, and as text.

/// The grid on which a program's coordinates lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Decimals {
    count: u32,
    /// Steps of the last decimal per mm.
    per_mm: f64,
}

/// A value this little above a step is that step: what adding up in binary leaves, in steps.
const NOISE: f64 = 1e-6;

impl Decimals {
    pub(super) fn new(count: u32, inch: bool) -> Self {
        let count = count.min(6);
        let scale = 10_f64.powi(count as i32);
        Self { count, per_mm: if inch { scale / 25.4 } else { scale } }
    }

    /// To the nearest step.
    pub(super) fn nearest(&self, mm: f64) -> i64 {
        (mm * self.per_mm).round() as i64
    }

    /// To the next step up.
    pub(super) fn up(&self, mm: f64) -> i64 {
        (mm * self.per_mm - NOISE).ceil() as i64
    }

    pub(super) fn mm(&self, steps: i64) -> f64 {
        steps as f64 / self.per_mm
    }

    /// One step, mm.
    pub(super) fn step(&self) -> f64 {
        1.0 / self.per_mm
    }

    pub(super) fn text(&self, steps: i64) -> String {
        fixed(steps, self.count)
    }
}

/// A count of the last of `decimals` as text, always with a point, never a minus before zero.
pub(super) fn fixed(steps: i64, decimals: u32) -> String {
    let sign = if steps < 0 { "-" } else { "" };
    let (scale, size) = (10_u64.pow(decimals), steps.unsigned_abs());
    let (whole, part) = (size / scale, size % scale);
    if decimals == 0 { format!("{sign}{whole}.") } else { format!("{sign}{whole}.{part:0w$}", w = decimals as usize) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_have_a_point_and_no_negative_zero() {
        let three = Decimals::new(3, false);
        assert_eq!(three.text(three.nearest(-0.0004)), "0.000");
        assert_eq!(three.text(three.nearest(-12.3456)), "-12.346");
        assert_eq!(three.text(three.up(-0.0999)), "-0.099");
        assert_eq!(three.text(three.up(0.1 + 0.2)), "0.300");
        assert_eq!(three.text(three.up(0.30001)), "0.301");
        assert_eq!(fixed(12, 0), "12.");
        let inch = Decimals::new(4, true);
        assert_eq!(inch.text(inch.nearest(6.35)), "0.2500");
        assert_eq!(inch.text(inch.up(25.4)), "1.0000");
    }
}
