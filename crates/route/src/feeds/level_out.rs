//! From the greatest feeds of the stretches to feeds that a machine can follow: few changes, and none that it could not reach.

use super::limits::{Bearing, Limit, STRETCH, Stretch};

/// Feeds are steps of this ratio apart, and whole tens, as they are read on a panel; the machine's greatest is one, too.
const STEP: f64 = 1.15;
/// From here on upwards, mm/min; steps above it are counted from it.
const LEAST: f64 = 10.0;

/// The feed of every stretch with its limit: never above the greatest, no faster stretch shorter than the machine needs to get
/// up to its feed and down again, next to a stretch that takes more already as slow as that.
pub(super) fn level_out(stretches: &[Stretch], bearing: &Bearing<'_>) -> Vec<(f64, Limit)> {
    let mut feeds: Vec<(f64, Limit)> = stretches.iter().map(|s| bearing.greatest(s)).collect();
    let top = feeds.iter().map(|f| f.0).fold(0.0, f64::max) / 60.0;
    // Up from rest and down again.
    let run_up = (top * top / bearing.what.machine.acceleration[0]).max(2.0 * STRETCH);
    let mut from = 0;
    for end in 1..=stretches.len() {
        if stretches.get(end).is_some_and(|next| next.goes_on) {
            continue;
        }
        let lengths: Vec<f64> = stretches[from..end].iter().map(|s| s.length).collect();
        let run = &mut feeds[from..end];
        // What a stretch takes is a mean: at its ends it may be what its neighbours take.
        let careful = least_within(run, &lengths, STRETCH.max(bearing.what.cutter.solid.radius()));
        run.copy_from_slice(&opened(&careful, &lengths, run_up / 2.0));
        let greatest = bearing.what.machine.feed_max[0];
        run.iter_mut().for_each(|(feed, _)| *feed = if *feed < greatest { rounded(*feed) } else { greatest });
        from = end;
    }
    feeds
}

/// Down to a step.
fn rounded(feed: f64) -> f64 {
    if feed <= LEAST {
        return LEAST;
    }
    let steps = ((feed / LEAST).ln() / STEP.ln() + 1e-9).floor();
    let stepped = LEAST * STEP.powf(steps);
    ((stepped / 10.0 + 1e-9).floor() * 10.0).max(LEAST)
}

/// No faster stretch is shorter than twice `reach`.
fn opened(feeds: &[(f64, Limit)], lengths: &[f64], reach: f64) -> Vec<(f64, Limit)> {
    greatest_within(&least_within(feeds, lengths, reach), lengths, reach)
}

/// The least of all whose middle lies within `reach` of the middle of each.
fn least_within(feeds: &[(f64, Limit)], lengths: &[f64], reach: f64) -> Vec<(f64, Limit)> {
    within(feeds, lengths, reach, |a, b| a < b)
}

fn greatest_within(feeds: &[(f64, Limit)], lengths: &[f64], reach: f64) -> Vec<(f64, Limit)> {
    within(feeds, lengths, reach, |a, b| a > b)
}

fn within(feeds: &[(f64, Limit)], lengths: &[f64], reach: f64, better: impl Fn(f64, f64) -> bool) -> Vec<(f64, Limit)> {
    let mut middles = Vec::with_capacity(feeds.len());
    let mut at = 0.0;
    for length in lengths {
        middles.push(at + length / 2.0);
        at += length;
    }
    let (mut from, mut end) = (0, 0);
    let best = |i: usize| {
        while middles[i] - middles[from] > reach + 1e-9 {
            from += 1;
        }
        while end < feeds.len() && middles[end] - middles[i] <= reach + 1e-9 {
            end += 1;
        }
        feeds[from..end].iter().fold(feeds[i], |best, f| if better(f.0, best.0) { *f } else { best })
    };
    (0..feeds.len()).map(best).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feeds(values: &[f64]) -> Vec<(f64, Limit)> {
        values.iter().map(|f| (*f, Limit::Chip)).collect()
    }

    fn values(feeds: &[(f64, Limit)]) -> Vec<f64> {
        feeds.iter().map(|f| f.0).collect()
    }

    #[test]
    fn short_fast_stretches_go_and_long_ones_stay() {
        let rough = feeds(&[100.0, 100.0, 300.0, 100.0, 100.0, 300.0, 300.0, 300.0, 300.0, 300.0, 100.0, 50.0, 100.0]);
        let lengths = vec![4.0; rough.len()];
        let smooth = values(&opened(&rough, &lengths, 8.0));
        assert_eq!(smooth[..5], [100.0; 5], "8 mm of 300 within slower ones are not worth it");
        assert_eq!(smooth[5..10], [300.0; 5], "20 mm are");
        assert_eq!(smooth[11], 50.0, "what bears no more stays slow");
        assert!(smooth.iter().zip(&rough).all(|(s, r)| *s <= r.0));
    }

    #[test]
    fn feeds_are_whole_tens_in_steps() {
        let steps: std::collections::BTreeSet<u32> = (50..6000).map(|f| rounded(f64::from(f)) as u32).collect();
        assert!(steps.iter().all(|f| f % 10 == 0) && steps.len() < 40, "{steps:?}");
        assert!((50..6000).all(|f| {
            let (asked, got) = (f64::from(f), rounded(f64::from(f)));
            got <= asked && got >= asked / STEP - 10.0
        }));
    }

    /// Lists from a fixed recurrence.
    #[test]
    fn never_faster_than_borne() {
        let mut seed = 5_u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed >> 16) / 65_536.0
        };
        for length in 1..60 {
            let rough = feeds(&(0..length).map(|_| 50.0 + 5000.0 * next()).collect::<Vec<_>>());
            let (lengths, reach) = (vec![4.0; rough.len()], 1.0 + 19.0 * next());
            let smooth = opened(&rough, &lengths, reach);
            assert!(smooth.iter().zip(&rough).all(|(s, r)| s.0 <= r.0));
            // Doing it again changes nothing.
            assert_eq!(opened(&smooth, &lengths, reach), smooth);
        }
    }
}
