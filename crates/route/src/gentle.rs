//! Feeds no faster than the work's holding bears: where a stretch would pull harder than planned for, it is cut more slowly.

use crate::choose::Speeds;
use crate::operation::Chord;
use paths::Move;
use trade::figures::cutting::{Cut, Resistance};
use trade::shelf::{Cutter, Wood};
use workpiece::{Holding, MoveCut};

/// Share of its strength that a joint is planned to be put to by any stretch.
const BEARS: f64 = 0.75;
/// Stretches are about this long, mm; what is taken is averaged over them.
const STRETCH: f64 = 4.0;
/// A feed is lowered to no less than this share: slower, a tooth rubs.
const SLOWEST: f64 = 0.35;
/// Shares that are tried, from the whole down.
const TRIED: u32 = 14;

/// What pulls at what.
#[derive(Clone, Copy)]
pub(crate) struct Grip<'a> {
    /// The holding, program frame.
    pub(crate) holding: &'a Holding,
    /// The cutter.
    pub(crate) cutter: &'a Cutter,
    /// Its speeds.
    pub(crate) speeds: &'a Speeds,
    /// The wood.
    pub(crate) wood: &'a Wood,
}

/// The moves, slowed down where `chords` (what each took, with the move it belongs to) pull too hard.
pub(crate) fn gentled(moves: Vec<Move>, chords: &[(Chord, MoveCut)], grip: &Grip<'_>) -> Vec<Move> {
    let mut shares = vec![1.0_f64; moves.len()];
    let feed = |k: usize| match moves[k] {
        Move::Rapid { .. } => None,
        Move::Feed { feed, .. } | Move::Arc { feed, .. } => Some(feed),
    };
    let mut from = 0;
    let mut length = 0.0;
    for end in 1..=chords.len() {
        length += chords[end - 1].0.length();
        let breaks = |next: usize| feed(chords[next].0.of) != feed(chords[from].0.of);
        if end < chords.len() && length < STRETCH && !breaks(end) {
            continue;
        }
        let stretch = &chords[from..end];
        if let Some(feed) = feed(stretch[0].0.of) {
            let share = grip.share(stretch, feed);
            stretch.iter().for_each(|(chord, _)| shares[chord.of] = shares[chord.of].min(share));
        }
        (from, length) = (end, 0.0);
    }
    let slowed = |feed: f64, share: f64| if share < 1.0 { (feed * share / 10.0).floor() * 10.0 } else { feed };
    let each = moves.into_iter().zip(shares).map(|(m, share)| match m {
        Move::Feed { to, feed } => Move::Feed { to, feed: slowed(feed, share) },
        Move::Arc { to, centre, ccw, feed } => Move::Arc { to, centre, ccw, feed: slowed(feed, share) },
        rapid @ Move::Rapid { .. } => rapid,
    });
    each.collect()
}

impl Grip<'_> {
    /// The greatest share of the feed at which a stretch pulls no harder than the joint is planned for.
    fn share(&self, stretch: &[(Chord, MoveCut)], feed: f64) -> f64 {
        let solid = &self.cutter.solid;
        let removed: f64 = stretch.iter().map(|(_, cut)| f64::from(cut.removed_mm3)).sum();
        let deepest = stretch.iter().map(|(_, cut)| f64::from(cut.deepest_mm)).fold(0.0, f64::max);
        let length: f64 = stretch.iter().map(|(chord, _)| chord.length()).sum();
        let ap = deepest.min(solid.flute_length);
        if removed <= 0.0 || ap <= 0.0 || length <= 0.0 {
            return 1.0;
        }
        let resin = stretch.iter().any(|(_, cut)| cut.resin);
        let material = if resin { Resistance::resin() } else { Resistance::wood(self.wood.density_kg_m3) };
        let lowest = stretch.iter().flat_map(|(c, _)| [c.from[2], c.to[2]]).fold(f64::INFINITY, f64::min);
        let height = (lowest + ap - self.holding.joint_z).max(0.0);
        let flutes = f64::from(self.cutter.flutes.max(1));
        let used = |share: f64| {
            let cut = Cut {
                diameter: solid.diameter,
                flutes: self.cutter.flutes,
                ap,
                ae: (removed / (ap * length)).min(solid.diameter),
                fz: share * feed / (self.speeds.rpm * flutes),
                rpm: self.speeds.rpm,
            };
            self.holding.used(cut.pull(material, self.cutter.helix_deg, height))
        };
        let shares = (0..=TRIED).map(|k| 1.0 - (1.0 - SLOWEST) * f64::from(k) / f64::from(TRIED));
        shares.into_iter().find(|share| used(*share) <= BEARS).unwrap_or(SLOWEST)
    }
}
