//! The limits of a feed, each named, and the greatest feed that each bears over a stretch of path.

use super::Cutting;
use crate::choose::LINK_FEED;
use crate::operation::Chord;
use paths::Move;
use std::ops::Range;
use trade::figures::cutting::{Resistance, THINNING_CAP};
use trade::figures::deflection::{BEARABLE_MM, CARBIDE_BEARS_MPA, HIDDEN_MM, root_stress_mpa, tip_mm};
use workpiece::{Bite, MoveCut, Taken};

/// Stretches are about this long, mm: what is taken is averaged over several columns of the planner's workpiece.
pub(super) const STRETCH: f64 = 4.0;
/// Share of its strength that a joint is planned to be put to by any stretch; of the spindle's power that is planned for; of what
/// roughing leaves that bending may use up.
const BEARS: f64 = 0.75;
const POWER_SHARE: f64 = 0.8;
const LEFT_SHARE: f64 = 0.5;
/// Share of what thin chips bear in feed that is made use of: widths are known to a column only.
const MADE_GOOD: f64 = 0.85;
/// A feed is lowered to no less than this share of the asked one: slower, a tooth rubs.
const SLOWEST: f64 = 0.35;
/// Halvings by which a feed is found that a limit just bears.
const HALVINGS: usize = 14;
/// Below this volume, mm³, and depth, mm, a stretch cuts air.
const BRUSH: (f64, f64) = (0.02, 0.02);

/// What limits a feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Limit {
    /// The chip load of what is cut, made good for thin chips.
    Chip,
    /// The cutter is engaged all over.
    FullWidth,
    /// It goes down into the work.
    WayIn,
    /// It cuts air.
    Air,
    /// The axes' greatest feed.
    Axes,
    /// What the joint that holds the work bears.
    Holding,
    /// Power of the spindle at its speed.
    Power,
    /// Bending of cutter and machine.
    Bending,
    /// Strength of the cutter.
    Strength,
    /// The machine does not reach the feed: acceleration, corners, blocks.
    Motion,
}

impl Limit {
    /// All, in the order in which they are told.
    pub(crate) const ALL: [Self; 10] = [
        Self::Chip,
        Self::FullWidth,
        Self::WayIn,
        Self::Air,
        Self::Axes,
        Self::Holding,
        Self::Power,
        Self::Bending,
        Self::Strength,
        Self::Motion,
    ];

    /// Its place in [`Self::ALL`].
    pub(crate) fn index(self) -> usize {
        self as usize
    }

    /// In trade words, for a sheet.
    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Chip => "the chip load",
            Self::FullWidth => "cuts in full width",
            Self::WayIn => "ways in",
            Self::Air => "moves in air",
            Self::Axes => "the axes",
            Self::Holding => "the holding",
            Self::Power => "the spindle's power",
            Self::Bending => "bending",
            Self::Strength => "the cutter's strength",
            Self::Motion => "run-up and corners",
        }
    }

    /// Its name among the figures.
    pub(crate) const fn id(self) -> &'static str {
        match self {
            Self::Chip => "chip-load",
            Self::FullWidth => "full-width",
            Self::WayIn => "way-in",
            Self::Air => "air",
            Self::Axes => "axes",
            Self::Holding => "holding",
            Self::Power => "power",
            Self::Bending => "bending",
            Self::Strength => "strength",
            Self::Motion => "motion",
        }
    }
}

/// How a path is meant to be run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Pace {
    /// Cutting.
    Cut,
    /// Over clear ground.
    Link,
    /// At a share of the cutting feed, in full width or on the way down.
    Share(f64),
}

/// Neighbouring chords of one pace.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// Which chords.
    pub(super) chords: Range<usize>,
    /// mm.
    pub(super) length: f64,
    pub(super) pace: Pace,
    /// Whether it goes down.
    pub(super) down: bool,
    /// What it takes; `None` in air.
    pub(super) bite: Option<Bite>,
    /// Whether it goes on from the stretch before, in the same pace.
    pub(super) goes_on: bool,
}

/// The path at feed in stretches; rapids belong to none.
pub(super) fn stretches(moves: &[Move], took: &[(Chord, MoveCut)], what: &Cutting<'_>) -> Vec<Stretch> {
    let pace = |chord: &Chord| moves[chord.of].feed().map(|feed| pace(feed, what.planned.feed));
    let mut out: Vec<Stretch> = Vec::new();
    let mut from = 0;
    let mut length = 0.0;
    for end in 1..=took.len() {
        length += took[end - 1].0.length();
        let breaks = took.get(end).is_none_or(|(next, _)| pace(next) != pace(&took[from].0));
        if length < STRETCH && !breaks {
            continue;
        }
        if let Some(pace) = pace(&took[from].0) {
            let of = &took[from..end];
            let taken = of.iter().map(|(chord, cut)| Taken { from: chord.from, to: chord.to, cut });
            let goes_on = out.last().is_some_and(|s| s.chords.end == from && s.pace == pace);
            out.push(Stretch {
                chords: from..end,
                length,
                pace,
                down: of[of.len() - 1].0.to[2] < of[0].0.from[2],
                bite: Bite::of(&what.cutter.solid, taken, BRUSH).map(|b| b.wider(what.unsure)),
                goes_on,
            });
        }
        (from, length) = (end, 0.0);
    }
    with_resin_beside(&mut out);
    out
}

/// Where resin begins and ends is only known to a column: what is cut right before and after it is taken for resin too.
fn with_resin_beside(stretches: &mut [Stretch]) {
    let resin = |s: &Stretch| s.bite.as_ref().map_or(0.0, |b| b.resin);
    let share: Vec<f64> = stretches.iter().map(resin).collect();
    for (i, stretch) in stretches.iter_mut().enumerate() {
        let beside = &share[i.saturating_sub(1)..(i + 2).min(share.len())];
        if let Some(bite) = &mut stretch.bite {
            bite.resin = beside.iter().copied().fold(bite.resin, f64::max);
        }
    }
}

fn pace(feed: f64, planned: f64) -> Pace {
    match feed / planned {
        share if share > 1.001 => Pace::Link,
        share if share > 0.999 => Pace::Cut,
        share => Pace::Share(share),
    }
}

/// What a limit is put to at a feed, mm/min.
type Used<'b> = Box<dyn Fn(f64) -> f64 + 'b>;

/// What everything bears at one speed of the spindle.
pub(super) struct Bearing<'a> {
    pub(super) what: &'a Cutting<'a>,
    rpm: f64,
    /// Whether the operation cuts resin anywhere.
    resin: bool,
    /// Bending at the tip per newton, mm.
    bends_mm: f64,
}

impl<'a> Bearing<'a> {
    pub(super) fn new(what: &'a Cutting<'a>, rpm: f64, resin: bool) -> Self {
        let solid = &what.cutter.solid;
        Self { what, rpm, resin, bends_mm: tip_mm(solid, 1.0, what.machine.stiffness_n_mm) }
    }

    /// Feed of the full chip load in what a stretch cuts, mm/min; where it cuts nothing, in what the operation cuts.
    pub(super) fn asked(&self, bite: Option<&Bite>) -> f64 {
        let cutter = self.what.cutter;
        let fz = if bite.map_or(self.resin, |b| b.resin > 0.0) { cutter.fz_resin } else { cutter.fz_wood };
        self.rpm * f64::from(cutter.flutes.max(1)) * fz * self.what.machine.chip_load_share
    }

    /// The greatest feed of a stretch, mm/min, and what limits it.
    pub(super) fn greatest(&self, stretch: &Stretch) -> (f64, Limit) {
        let asked = self.asked(stretch.bite.as_ref());
        let (mut feed, mut limit) = match (stretch.pace, &stretch.bite) {
            (Pace::Share(share), _) if stretch.down => (share * asked, Limit::WayIn),
            (Pace::Share(share), _) => (share * asked, Limit::FullWidth),
            // A short way over clear ground lies close to what stands, and is not worth a change of feed.
            (Pace::Link, None) if stretch.length < STRETCH => (asked, Limit::Air),
            (Pace::Link, None) => (LINK_FEED * asked, Limit::Air),
            // What the columns do not see is thin.
            (Pace::Cut, None) => (MADE_GOOD * THINNING_CAP * asked, Limit::Air),
            (_, Some(bite)) => ((MADE_GOOD * bite.thinning()).max(1.0) * asked, Limit::Chip),
        };
        if feed > self.what.machine.feed_max[0] {
            (feed, limit) = (self.what.machine.feed_max[0], Limit::Axes);
        }
        let Some(bite) = &stretch.bite else { return (feed, limit) };
        for (bearing, used) in self.bearings(bite) {
            let slowest = feed.min(SLOWEST * asked);
            if used(feed) > 1.0 {
                (feed, limit) = (just_borne(&used, slowest, feed), bearing);
            }
        }
        (feed, limit)
    }

    /// What each limit of force is put to at a feed, as a share of what it bears.
    fn bearings<'b>(&'b self, bite: &'b Bite) -> [(Limit, Used<'b>); 4] {
        let what = self.what;
        let material = if bite.resin > 0.0 { Resistance::resin() } else { Resistance::wood(what.wood.density_kg_m3) };
        let flutes = what.cutter.flutes.max(1);
        let cut = move |feed: f64| bite.cut(flutes, feed / (self.rpm * f64::from(flutes)), self.rpm);
        let bends = move |feed: f64| cut(feed).bending_n(material, what.cutter.helix_deg);
        let height = (bite.top_z - what.holding.joint_z).max(0.0);
        let may_bend = (LEFT_SHARE * what.planned.leaves).max(if what.hidden { HIDDEN_MM } else { BEARABLE_MM });
        let power = POWER_SHARE * what.machine.power_at(self.rpm);
        let stress_mpa = root_stress_mpa(&what.cutter.solid, 1.0, bite.ap);
        [
            (
                Limit::Holding,
                Box::new(move |f| what.holding.used(cut(f).pull(material, what.cutter.helix_deg, height)) / BEARS),
            ),
            (Limit::Power, Box::new(move |f| cut(f).power_w(material) / power)),
            (Limit::Bending, Box::new(move |f| bends(f) * self.bends_mm / may_bend)),
            (Limit::Strength, Box::new(move |f| bends(f) * stress_mpa / CARBIDE_BEARS_MPA)),
        ]
    }
}

/// The greatest feed between the two at which no more than all is used; the slowest where even that uses more.
fn just_borne(used: &dyn Fn(f64) -> f64, slowest: f64, feed: f64) -> f64 {
    let (mut low, mut high) = (slowest, feed);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        if used(middle) > 1.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    low
}
