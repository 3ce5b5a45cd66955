//! Burning and gumming: a tooth that is fed less than it should take rubs, heats wood and resin, and blunts.
//!
//! What counts is the chip load that the machine reaches, not the one that was asked for, and how long it stays in one place.
//! Limits: common practice, no source.

use base::Source;

/// Below this share of the asked chip load a place is to be watched.
pub const WATCH_SHARE: f64 = 0.6;
/// Below this share it burns, if that lasts longer than [`PATIENCE_S`] in one place.
pub const BURNS_SHARE: f64 = 0.3;
/// How long a place bears it, s.
pub const PATIENCE_S: f64 = 2.0;

/// Where the limits come from.
pub fn source() -> Source {
    Source::CommonPractice
}

/// A straight move of the tip in its order, as the machine makes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// Where it ends.
    pub to: [f64; 3],
    /// Its length, mm.
    pub length: f64,
    /// How long it takes, s.
    pub seconds: f64,
    /// Share of the asked chip load that a tooth takes; `None` in air.
    pub share: Option<f64>,
}

/// Longest time for which the tip stays in one place (within `radius`) while its teeth take less than the share `below`, s, with
/// the index of the passage at which it is reached; 0 and 0 if there is none.
pub fn longest_in_one_place(passages: &[Passage], below: f64, radius: f64) -> (f64, usize) {
    let rubs = |p: &Passage| match p.share {
        // Of a long move only a part lies in one place.
        Some(share) if share < below => p.seconds * (2.0 * radius / p.length.max(1e-9)).min(1.0),
        _ => 0.0,
    };
    let apart = |a: &Passage, b: &Passage| (0..3).map(|k| (a.to[k] - b.to[k]).powi(2)).sum::<f64>().sqrt();
    let (mut from, mut time, mut longest) = (0, 0.0_f64, (0.0, 0));
    for (i, passage) in passages.iter().enumerate() {
        time += rubs(passage);
        // What was done before the tip was last farther away is over: the place has cooled.
        if let Some(left) = (from..i).rev().find(|k| apart(&passages[*k], passage) > radius) {
            time -= passages[from..=left].iter().map(rubs).sum::<f64>();
            from = left + 1;
        }
        if time > longest.0 {
            longest = (time, i);
        }
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    /// Along X in steps of a millimetre.
    fn line(n: usize, seconds: f64, share: Option<f64>) -> Vec<Passage> {
        (0..n).map(|i| Passage { to: [i as f64, 0.0, 0.0], length: 1.0, seconds, share }).collect()
    }

    #[test]
    fn time_in_one_place_is_that_within_the_radius() {
        // 1 mm in 0.5 s: four steps end within 3 mm of the last of them.
        close(longest_in_one_place(&line(100, 0.5, Some(0.2)), BURNS_SHARE, 3.0).0, 2.0, 1e-9);
        assert_eq!(longest_in_one_place(&line(100, 0.5, Some(0.4)), BURNS_SHARE, 3.0), (0.0, 0));
        assert_eq!(longest_in_one_place(&line(100, 0.5, None), BURNS_SHARE, 3.0), (0.0, 0));
    }

    #[test]
    fn a_helix_in_one_place_and_a_long_move_are_told_apart() {
        let turn = |i: usize| {
            let t = i as f64 * 0.1;
            Passage { to: [t.cos(), t.sin(), -0.01 * t], length: 0.1, seconds: 0.05, share: Some(0.1) }
        };
        let helix: Vec<Passage> = (0..400).map(turn).collect();
        close(longest_in_one_place(&helix, BURNS_SHARE, 3.0).0, 20.0, 1e-9);
        let long = [Passage { to: [600.0, 0.0, 0.0], length: 600.0, seconds: 100.0, share: Some(0.1) }];
        close(longest_in_one_place(&long, BURNS_SHARE, 3.0).0, 1.0, 1e-9);
    }

    /// A lap later the same place is another passage: it has cooled.
    #[test]
    fn coming_back_is_not_staying() {
        let mut there_and_back = line(50, 0.2, Some(0.2));
        let mut back = there_and_back.clone();
        back.reverse();
        let one = longest_in_one_place(&there_and_back, BURNS_SHARE, 3.0).0;
        there_and_back.extend(back);
        assert!(longest_in_one_place(&there_and_back, BURNS_SHARE, 3.0).0 <= 2.0 * one + 1e-9);
    }
}
