//! The lowest of several parabolas along a stretch: which of them, from where to where.

/// `at[0] + at[1]·u + at[2]·u²`, where `low ≤ u ≤ high`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Curve {
    /// Whose it is.
    pub(super) of: usize,
    /// Coefficients.
    pub(super) at: [f64; 3],
    /// Where it begins.
    pub(super) low: f64,
    /// Where it ends.
    pub(super) high: f64,
}

impl Curve {
    fn value(&self, u: f64) -> f64 {
        value(&self.at, u)
    }
}

/// A stretch on which one curve is the lowest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Whose curve.
    pub(super) of: usize,
    /// From here
    pub(super) from: f64,
    /// to here.
    pub(super) to: f64,
}

/// What is no lower than this counts as equal: well above rounding, far below any tolerance.
const EQUAL: f64 = 1e-11;
/// Stretches shorter than this are none.
const NONE: f64 = 1e-12;
/// Of curves that touch where one begins the lower is found by looking ahead by this share of the whole stretch.
const AHEAD: f64 = 1e-3;

/// The lowest curves from `low` to `high`, none of them above the true lowest by more than [`EQUAL`].
pub(super) fn lowest(curves: &[Curve], low: f64, high: f64) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    let mut at = low;
    let Some(mut now) = starting(curves, at, high - low) else { return out };
    // Every change goes lower or on; the bound only guards against a fault.
    for _ in 0..16 * (curves.len() + 4) {
        let (mut end, mut next) = (now.high.min(high), None);
        for curve in curves {
            if begins_under(curve, &now, (at, end), high - low) {
                (end, next) = (curve.low, Some(*curve));
                continue;
            }
            let (from, to) = (curve.low.max(at), curve.high.min(end));
            let below = [0, 1, 2].map(|k| now.at[k] - curve.at[k] - if k == 0 { EQUAL } else { 0.0 });
            if let Some(u) = first_positive(&below, from, to)
                && u < end
            {
                (end, next) = (u, Some(*curve));
            }
        }
        match out.last_mut() {
            Some(last) if last.of == now.of => last.to = end,
            _ if end - at > NONE => out.push(Stretch { of: now.of, from: at, to: end }),
            _ => {}
        }
        at = end;
        if at >= high - NONE {
            break;
        }
        let Some(follows) = next.or_else(|| starting(curves, at, high - low)) else { break };
        now = follows;
    }
    if let Some(last) = out.last_mut() {
        last.to = high;
    }
    out
}

/// Whether a curve begins between here and there where the lowest one touches it, and goes on below. That of a side meets
/// that of its own end so; where one becomes lower by [`EQUAL`] would be known badly.
fn begins_under(curve: &Curve, now: &Curve, (at, end): (f64, f64), whole: f64) -> bool {
    let u = curve.low;
    let ahead = (u + AHEAD * whole).min(curve.high).min(now.high);
    u > at
        && u < end
        && (curve.value(u) - now.value(u)).abs() <= EQUAL
        && ahead > u
        && curve.value(ahead) < now.value(ahead)
}

/// The lowest of the curves that go on from `at`; of those that are equal there the one that is lower ahead.
fn starting(curves: &[Curve], at: f64, whole: f64) -> Option<Curve> {
    let going = || curves.iter().filter(|c| c.low <= at + NONE && c.high > at + NONE);
    let least = going().map(|c| c.value(at)).fold(f64::INFINITY, f64::min);
    let equal = || going().filter(|c| c.value(at) <= least + EQUAL);
    let ahead = equal().map(|c| c.high).fold(at + AHEAD * whole, f64::min);
    equal().min_by(|a, b| a.value(ahead).total_cmp(&b.value(ahead))).copied()
}

fn value(q: &[f64; 3], u: f64) -> f64 {
    (q[2] * u + q[1]) * u + q[0]
}

/// The first place in `[from, to]` from which on a parabola is above 0.
fn first_positive(q: &[f64; 3], from: f64, to: f64) -> Option<f64> {
    if from >= to {
        return None;
    }
    if value(q, from) > 0.0 {
        return Some(from);
    }
    roots(q).into_iter().find(|&u| u > from && u < to && slope(q, u) > 0.0)
}

fn slope(q: &[f64; 3], u: f64) -> f64 {
    2.0 * q[2] * u + q[1]
}

/// Where a parabola crosses 0, ascending. Neither root is got by subtracting like figures.
fn roots(q: &[f64; 3]) -> Vec<f64> {
    let [c, b, a] = *q;
    if a == 0.0 {
        return if b == 0.0 { Vec::new() } else { vec![-c / b] };
    }
    let under = b * b - 4.0 * a * c;
    if under < 0.0 {
        return Vec::new();
    }
    let big = -0.5 * (b + under.sqrt().copysign(b));
    let mut both = vec![big / a];
    if big != 0.0 {
        both.push(c / big);
    }
    both.retain(|u| u.is_finite());
    both.sort_by(f64::total_cmp);
    both
}

/// The parts of `[low, high]` where a parabola is not below 0.
pub(super) fn not_below(q: &[f64; 3], low: f64, high: f64) -> Vec<(f64, f64)> {
    let mut cuts = vec![low];
    cuts.extend(roots(q).into_iter().filter(|u| *u > low && *u < high));
    cuts.push(high);
    cuts.windows(2).filter(|w| w[1] > w[0] && value(q, 0.5 * (w[0] + w[1])) >= 0.0).map(|w| (w[0], w[1])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn roots_keep_their_digits() {
        // x² − 1e8·x + 1: roots 1e8 and 1e−8 (Vieta: their product is 1).
        let r = roots(&[1.0, -1e8, 1.0]);
        assert!((r[0] * 1e8 - 1.0).abs() < 1e-12 && (r[1] * 1e-8 - 1.0).abs() < 1e-12, "{r:?}");
        assert!(roots(&[1.0, 0.0, 1.0]).is_empty() && roots(&[2.0, -1.0, 0.0]) == [2.0]);
    }

    #[test]
    fn the_parts_not_below_zero() {
        assert_eq!(not_below(&[-1.0, 0.0, 1.0], -3.0, 3.0), [(-3.0, -1.0), (1.0, 3.0)]);
        assert_eq!(not_below(&[1.0, 0.0, -1.0], -3.0, 3.0), [(-1.0, 1.0)]);
        assert_eq!(not_below(&[1.0, 0.0, 0.0], 0.0, 3.0), [(0.0, 3.0)]);
    }

    proptest! {
        #[test]
        fn no_curve_lies_below_the_lowest(
            all in prop::collection::vec((prop::array::uniform3(-2.0..2.0_f64), 0.0..0.6_f64, 0.0..1.0_f64), 0..12),
        ) {
            let mut curves = vec![Curve { of: 0, at: [3.0, 0.1, 0.2], low: 0.0, high: 1.0 }];
            curves.extend(all.iter().enumerate().map(|(k, (at, low, long))| {
                Curve { of: k + 1, at: *at, low: *low, high: (low + long).min(1.0) }
            }));
            let stretches = lowest(&curves, 0.0, 1.0);
            prop_assert_eq!((stretches[0].from, stretches[stretches.len() - 1].to), (0.0, 1.0));
            prop_assert!(stretches.windows(2).all(|w| w[0].to == w[1].from));
            for k in 0..=1000 {
                let u = f64::from(k) / 1000.0;
                // At the very end of a stretch either neighbour may be meant.
                if stretches.iter().any(|s| (s.to - u).abs() < 1e-6) { continue }
                let of = stretches.iter().find(|s| s.from <= u && u <= s.to).unwrap().of;
                let mine = curves.iter().find(|c| c.of == of).unwrap();
                let least = curves.iter().filter(|c| c.low <= u && u <= c.high).map(|c| c.value(u)).fold(f64::INFINITY, f64::min);
                prop_assert!(mine.low <= u && u <= mine.high && mine.value(u) <= least + 2.0 * EQUAL, "{} {} {}", u, mine.value(u), least);
            }
        }
    }
}
