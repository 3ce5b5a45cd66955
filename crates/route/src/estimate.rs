//! How long a task takes with a cutter, reckoned before any path is planned: what is to be taken away over the rate at
//! which the cutter may take it, and skin over step times feed.
//!
//! Only differences between cutters matter here; the programs have their own times.

use crate::Request;
use crate::allowances::{Allowances, FLANGE, HOLLOW_BEYOND};
use crate::choose::{Speeds, speeds};
use crate::needs::Making;
use crate::setups::hold::{Lies, held};
use crate::setups::{
    ALLOWANCE, Bound, FACING_STEPOVER, FLANGE_LAYER, FLANGE_STEPOVER, HOLLOW_STEPOVER, PASS_RESIN, PASS_WOOD, Shop,
    Steps, foot_joint,
};
use job::{CastForm, Freeing};
use shape::Piece;
use trade::shelf::{Cutter, Task};
use workpiece::Holding;

/// Heights at which a piece is looked at.
const LEVELS: u32 = 128;
/// Roughing takes so many times what its volume takes at the full rate: entries, turns, ways through air. As measured on the
/// examples, 1.4 to 2.0.
const ROUGHING: f64 = 1.6;
/// The same for finishing: turns, entries, overlaps. As measured on the examples, 1.1 to 1.4.
const FINISHING: f64 = 1.25;
/// Ways down to a level and back up, s.
const LEVEL_S: f64 = 6.0;
/// Width of a moat around a piece that is held by tabs, mm.
const MOAT: f64 = 15.0;
/// Rows of facing run out beyond the stock by so much beyond the cutter's radius, both ends together, mm.
const RUN_OUT: f64 = 4.0;

/// A setup as far as its cutters go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Clamping {
    Hollow,
    Level,
    Outside,
    Inside,
    Tray,
}

impl Clamping {
    /// Its id as a setup.
    pub(crate) const fn id(self) -> &'static str {
        match self {
            Self::Hollow => "cavity",
            Self::Level => "level",
            Self::Outside => "outside",
            Self::Inside => "inside",
            Self::Tray => "tray",
        }
    }

    /// Tasks in the order of the cutters in the spindle.
    pub(crate) const fn tasks(self) -> &'static [Task] {
        match self {
            Self::Hollow => &[Task::RoughHollow, Task::FinishHollow],
            Self::Level => &[Task::Face],
            Self::Outside => &[Task::Face, Task::RoughOutside, Task::Engrave, Task::FinishOutside, Task::RoughOutside],
            Self::Inside => &[Task::RoughInside, Task::FinishInside, Task::RoughInside],
            Self::Tray => &[Task::Face, Task::RoughOutside, Task::FinishInside, Task::RoughOutside],
        }
    }

    /// The clampings of a making, in their order.
    pub(crate) fn of(making: &Making<'_>) -> Vec<Self> {
        match (making.one_sided, making.deepest) {
            (true, _) => vec![Self::Tray],
            (false, Some(_)) => vec![Self::Hollow, Self::Level, Self::Outside, Self::Inside],
            (false, None) => vec![Self::Outside, Self::Inside],
        }
    }
}

/// The time of a task, and what it follows from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Estimate {
    /// In all, s.
    pub(crate) seconds: f64,
    /// Volume to be taken away by levels, mm³, and how.
    pub(crate) roughing: Option<(f64, Steps)>,
    /// Skin to be finished, mm², and the step along it, mm.
    pub(crate) finishing: Option<(f64, f64)>,
    /// Feed as reached, mm/min.
    pub(crate) feed: f64,
}

/// What a making is reckoned with.
pub(crate) struct Estimator<'a> {
    pub(crate) shop: Shop<'a>,
    request: &'a Request<'a>,
    solid: Amounts,
    hollow: Holding,
    outside: Holding,
    inside: Holding,
}

/// Volumes, mm³, and areas, mm², that are the same for every cutter.
struct Amounts {
    /// Above the floor, within the inside's skin, up to face A.
    inside: f64,
    inside_skin: f64,
    /// Between the blank's edges and the outside, from the foot plane to the flange (or to the rim, one-sided).
    outside: f64,
    outside_skin: f64,
    /// The flange beyond the outline, seen from above, and how thick.
    flange: [f64; 2],
    hollow: f64,
    hollow_skin: f64,
}

impl<'a> Estimator<'a> {
    pub(crate) fn new(request: &'a Request<'a>, shop: Shop<'a>, making: &Making<'_>) -> Self {
        let solid = Amounts::of(request, &shop.sizes, making.one_sided);
        // The numbers alone are asked for, not how it is said.
        let hollow = held(&shop, Lies::Foot, -shop.sizes.thickness());
        let outside = if making.one_sided { hollow.clone() } else { held(&shop, Lies::Rim, 0.0) };
        let inside = foot_joint(&shop);
        Self { shop, request, solid, hollow, outside, inside }
    }

    /// Time of a task of a clamping with a cutter.
    pub(crate) fn time(&self, clamping: Clamping, task: Task, cutter: &Cutter) -> Estimate {
        let sizes = &self.shop.sizes;
        let resin = self.shop.resin;
        match (clamping, task) {
            (Clamping::Level, _) => self.facing(cutter, sizes.overpour + sizes.levelling, PASS_RESIN, true),
            (Clamping::Tray, Task::Face) => self.facing(cutter, sizes.beyond_rim, PASS_WOOD, false),
            (_, Task::Face) => self.facing(cutter, sizes.beyond_foot, PASS_WOOD, false),
            (_, Task::RoughHollow) => self.roughing(clamping, task, cutter, self.solid.hollow),
            (_, Task::FinishHollow) => {
                let translucent = self.request.job.casts.iter().any(|c| c.translucent);
                let step = HOLLOW_STEPOVER[usize::from(translucent)] * cutter.solid.diameter;
                self.finishing(cutter, self.solid.hollow_skin, step, self.narrowest_turn(cutter), false)
            }
            (Clamping::Tray, Task::RoughOutside) => {
                self.roughing(clamping, task, cutter, self.solid.outside + self.solid.inside)
            }
            (_, Task::RoughOutside) => self.roughing(clamping, task, cutter, self.solid.outside),
            (_, Task::RoughInside) => {
                let mut found = self.roughing(clamping, task, cutter, self.solid.inside);
                let [area, thick] = self.solid.flange;
                let layer = found.roughing.map_or(FLANGE_LAYER, |(_, steps)| steps.down.min(FLANGE_LAYER));
                found.seconds += 60.0 * area * (thick / layer).ceil()
                    / (FLANGE_STEPOVER * cutter.solid.diameter * found.feed.max(1.0));
                found
            }
            // Lettering goes by the same strokes whatever point cuts it.
            (_, Task::Engrave) => {
                let feed = speeds(cutter, self.shop.machine, false).feed;
                Estimate { seconds: LEVEL_S, roughing: None, finishing: None, feed }
            }
            (_, Task::FinishOutside) => {
                self.finishing(cutter, self.solid.outside_skin, self.step(cutter), f64::INFINITY, resin)
            }
            (_, Task::FinishInside) => {
                self.finishing(cutter, self.solid.inside_skin, self.step(cutter), f64::INFINITY, resin)
            }
        }
    }

    /// Step of a ball that leaves the target scallop on what is flat.
    fn step(&self, cutter: &Cutter) -> f64 {
        let (radius, h) = (cutter.solid.radius(), self.shop.scallop);
        2.0 * (2.0 * radius * h - h * h).max(0.0).sqrt()
    }

    /// Radius of the turns that the tip makes in the narrowest drip.
    fn narrowest_turn(&self, cutter: &Cutter) -> f64 {
        let width = crate::needs::narrowest(&self.request.job.casts).map_or(f64::INFINITY, |narrow| narrow.width);
        (0.5 * (width - cutter.solid.diameter)).max(0.2)
    }

    fn facing(&self, cutter: &Cutter, depth: f64, pass: f64, resin: bool) -> Estimate {
        let s = speeds(cutter, self.shop.machine, resin);
        let (length, width) = (2.0 * self.shop.sizes.half.x, 2.0 * self.shop.sizes.half.y);
        let rows = (width / (FACING_STEPOVER * cutter.solid.diameter)).ceil() + 1.0;
        let passes = (depth / pass).ceil().max(1.0);
        let path = rows * (length + cutter.solid.diameter + RUN_OUT) * passes;
        let seconds = 60.0 * path / s.feed.max(1.0) + passes * LEVEL_S;
        Estimate { seconds, roughing: None, finishing: None, feed: s.feed }
    }

    /// The steps of a roughing task, and the speeds.
    fn steps(&self, clamping: Clamping, task: Task, cutter: &Cutter) -> (Steps, Speeds) {
        let sizes = &self.shop.sizes;
        let (holding, top, resin) = match clamping {
            Clamping::Hollow => (&self.hollow, 0.0, false),
            Clamping::Tray => (&self.outside, -sizes.beyond_rim, false),
            Clamping::Level | Clamping::Outside => (&self.outside, sizes.levelled_z(), self.shop.resin),
            Clamping::Inside => (&self.inside, 0.0, self.shop.resin),
        };
        let s = speeds(cutter, self.shop.machine, resin);
        (self.shop.steps(task, cutter, &s, (holding, top)), s)
    }

    /// The greatest step-down that machine, edges and holding bear in a roughing task, and which of them bounds it.
    pub(crate) fn bears(&self, clamping: Clamping, task: Task, cutter: &Cutter) -> (f64, Bound) {
        let (steps, _) = self.steps(clamping, task, cutter);
        (steps.most, steps.bound)
    }

    fn roughing(&self, clamping: Clamping, task: Task, cutter: &Cutter, volume: f64) -> Estimate {
        let (steps, s) = self.steps(clamping, task, cutter);
        let rate = steps.down * steps.over * cutter.solid.diameter * s.feed * steps.share;
        let area = 4.0 * self.shop.sizes.half.x * self.shop.sizes.half.y;
        let levels = (volume / area / steps.down).ceil();
        let seconds = 60.0 * ROUGHING * volume / rate.max(1.0) + levels * LEVEL_S;
        Estimate { seconds, roughing: Some((volume, steps)), finishing: None, feed: s.feed * steps.share }
    }

    /// `turn`: radius of the tightest turns that the path is made of.
    fn finishing(&self, cutter: &Cutter, area: f64, step: f64, turn: f64, resin: bool) -> Estimate {
        let s = speeds(cutter, self.shop.machine, resin);
        // Round a turn the machine goes no faster than √(a r).
        let feed = s.feed.min(60.0 * (self.shop.machine.acceleration[0] * turn).sqrt());
        let seconds = 60.0 * FINISHING * area / (step * feed).max(1e-6);
        Estimate { seconds, roughing: None, finishing: Some((area, step)), feed }
    }
}

impl Amounts {
    fn of(request: &Request<'_>, sizes: &Allowances, one_sided: bool) -> Self {
        let (piece, job) = (request.piece, request.job);
        let outline = &piece.outline;
        let block = 4.0 * sizes.half.x * sizes.half.y;
        let (inside_volume, inside_skin) = swept(piece, [piece.floor_z, piece.height], &|z| piece.inside_inset(z));
        let (outside_volume, outside_skin) = swept(piece, [0.0, piece.height], &|z| piece.outside_inset(z));
        let above = sizes.levelled_z() - piece.height;
        let neck = if one_sided { 0.0 } else { (above - FLANGE).max(0.0) };
        let rim = outline.area_at(piece.inside_inset(piece.height));
        let (mut hollow, mut hollow_skin) = (0.0, 0.0);
        for cast in &job.casts {
            let across = piece.wall + HOLLOW_BEYOND;
            let below = sizes.face_z() - sizes.height;
            let deep = cast.form.level_depth().as_mm() + below;
            let drips = match &cast.form {
                CastForm::RingBand { .. } => None,
                CastForm::RimDrips { count, length, width, .. } => Some((count, length, width)),
                CastForm::River { width, .. } => {
                    let (width, long) = (width.value.as_mm(), 2.0 * outline.half_size().max_element());
                    hollow += width * long * deep;
                    hollow_skin += (width + 2.0 * deep) * long;
                    continue;
                }
                CastForm::Speckle { count, width, .. } => {
                    let (n, wide) = (f64::from(count.value), 0.5 * (width.value[0] + width.value[1]).as_mm());
                    hollow += n * wide * wide * deep;
                    hollow_skin += n * wide * (wide + 4.0 * deep);
                    continue;
                }
            };
            hollow += outline.length() * across * deep;
            hollow_skin += outline.length() * (across + 2.0 * deep);
            if let Some((count, length, width)) = drips {
                let mean = |pair: &[base::Length; 2]| 0.5 * (pair[0].as_mm() + pair[1].as_mm());
                let (n, length, width) = (f64::from(count.value), mean(&length.value), mean(&width.value));
                hollow += n * length * width * across;
                hollow_skin += n * 2.0 * length * (across + width);
            }
        }
        Self {
            inside: inside_volume + if one_sided { 0.0 } else { above * rim },
            inside_skin,
            outside: match job.route.freeing.value {
                Freeing::Tabs if one_sided => outline.length() * MOAT * piece.height,
                _ => block * (piece.height + neck) - outside_volume - neck * outline.area(),
            },
            outside_skin: outside_skin + neck * outline.length(),
            flange: [block - outline.area(), if one_sided { 0.0 } else { above + ALLOWANCE }],
            hollow,
            hollow_skin,
        }
    }
}

/// Volume that a profile encloses between two heights, mm³, and its skin, mm².
fn swept(piece: &Piece, [from, to]: [f64; 2], inset: &dyn Fn(f64) -> f64) -> (f64, f64) {
    let step = (to - from) / f64::from(LEVELS);
    let (mut volume, mut skin) = (0.0, 0.0);
    for k in 0..LEVELS {
        let z = from + step * f64::from(k);
        let (a, b) = (inset(z), inset(z + step));
        let middle = 0.5 * (a + b);
        volume += piece.outline.area_at(middle) * step;
        skin += (piece.outline.length() - std::f64::consts::TAU * middle) * (b - a).hypot(step);
    }
    (volume, skin)
}
