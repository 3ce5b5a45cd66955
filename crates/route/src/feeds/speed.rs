//! The speeds of the spindle that may serve an operation, the fastest first.

use super::Cutting;
use trade::figures::cutting::{RESIN_SPEED_M_S, resin_rpm};
use trade::shelf::SpindleControl;

/// Each speed that is tried is this share of the one before.
const SLOWER: f64 = 0.85;

/// A speed of the spindle.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chosen {
    /// rev/min.
    pub(super) rpm: f64,
    /// What to set by hand where the machine does not.
    pub(super) by_hand: String,
    /// Why it is slower than the cutter bears.
    pub(super) why: String,
}

/// The fastest speed that the cutter bears, in resin no faster than it gums, then slower ones for a machine that does not reach
/// the feed. A spindle set by program goes no lower for that than where its power falls off, and never below its least; one set
/// by hand has its marks.
pub(super) fn to_try(what: &Cutting<'_>, resin: bool) -> Vec<Chosen> {
    let diameter = what.cutter.solid.diameter;
    let gums = if resin { resin_rpm(diameter) } else { f64::INFINITY };
    let most = what.cutter.rpm_max.min(gums);
    match &what.machine.spindle {
        SpindleControl::Program { least_rpm, greatest_rpm, full_power_rpm, .. } => {
            let whole = |rpm: f64| (rpm / 100.0).floor() * 100.0;
            let fastest = what.cutter.rpm_max.clamp(*least_rpm, *greatest_rpm);
            let first = if most < fastest { whole(most).max(*least_rpm) } else { fastest };
            let floor = least_rpm.max(*full_power_rpm);
            let mut rpm = first;
            let mut all = vec![Chosen { rpm, by_hand: String::new(), why: why(first, fastest, resin) }];
            while whole(rpm * SLOWER) >= floor {
                rpm = whole(rpm * SLOWER);
                all.push(Chosen { rpm, by_hand: String::new(), why: unreached(fastest) });
            }
            all
        }
        SpindleControl::Dial { rpm } => {
            let fastest = rpm.iter().copied().filter(|r| *r <= what.cutter.rpm_max).fold(0.0, f64::max);
            let mut marks: Vec<(usize, f64)> = rpm.iter().copied().enumerate().filter(|m| m.1 <= most).collect();
            marks.sort_by(|a, b| b.1.total_cmp(&a.1));
            if marks.is_empty() {
                marks.extend(rpm.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1)));
            }
            let first = marks.first().map_or(0.0, |m| m.1);
            let chosen = |(mark, rpm): (usize, f64)| Chosen {
                rpm,
                by_hand: format!("dial {} (about {rpm:.0})", mark + 1),
                why: if rpm == first { why(rpm, fastest, resin) } else { unreached(fastest) },
            };
            marks.into_iter().map(chosen).collect()
        }
    }
}

fn why(rpm: f64, fastest: f64, resin: bool) -> String {
    if !resin || rpm >= fastest {
        return String::new();
    }
    format!("not {fastest:.0} rev/min: faster than {RESIN_SPEED_M_S:.0} m/s at the edge, resin gums")
}

fn unreached(fastest: f64) -> String {
    format!(
        "not {fastest:.0} rev/min: on this path the machine does not reach the feed for that, and teeth that take less rub"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::feeds::tests::with_cutting;

    #[test]
    fn resin_slows_a_thick_cutter_and_power_bounds_it() {
        with_cutting("sturdy", 1, |what| {
            let wood = to_try(what, false);
            assert_eq!((wood[0].rpm, wood[0].why.as_str()), (16_000.0, ""));
            assert!(wood.iter().all(|c| c.rpm >= 9000.0), "where power falls off");
            let resin = to_try(what, true);
            // 6 m/s on 9.525 mm: 12 030.
            assert_eq!(resin[0].rpm, 12_000.0);
            assert!(resin[0].why.contains("gums"), "{:?}", resin[0]);
        });
        // The facing cutter: 6 m/s would be 4511; the spindle's least is 6000.
        with_cutting("sturdy", 14, |what| assert_eq!(to_try(what, true)[0].rpm, 6000.0));
    }

    #[test]
    fn a_dial_has_its_marks() {
        with_cutting("hobby", 3, |what| {
            let rpm: Vec<f64> = to_try(what, false).iter().map(|c| c.rpm).collect();
            assert_eq!(rpm, [16_000.0, 12_000.0, 8000.0]);
            assert_eq!(to_try(what, false)[1].by_hand, "dial 2 (about 12000)");
        });
        with_cutting("hobby", 14, |what| assert_eq!(to_try(what, true)[0].rpm, 8000.0));
    }
}
