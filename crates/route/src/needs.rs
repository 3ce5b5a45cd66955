//! Everything that the making of a piece asks of its cutters, so that all of it can be looked for before any path.

use crate::Request;
use crate::allowances::{Allowances, CLEARANCE, FLANGE, allowances};
use crate::choose::{Beside, Kind, Need, Side, Strokes, stickout_room};
use crate::concave::Concave;
use crate::ledger::Ledger;
use crate::setups::ALLOWANCE;
use base::{At, Figures, Report};
use job::{CastSpec, RouteKind};
use shape::Piece;
pub(crate) use trade::shelf::Task;
use trade::shelf::{HoldingGoods, Machine};

/// A hollow rounding has this many times the radius of the ball that makes it. Common practice, no source.
pub(crate) const ROUND_ROOM: f64 = 1.05;
/// Stoutest cutters, mm: a facing head, a ball, one that roughs, one with a point.
const STOUTEST: [f64; 4] = [26.0, 13.0, 10.0, 26.0];
/// The stoutest ball for a hollow, mm: a hollow runs out as much farther into the waste as its rounded edge is wide, and takes
/// so much more resin.
const HOLLOW_BALL: f64 = 7.0;
/// A facing pass goes no deeper beside standing stock, mm.
const FACING_DEPTH: f64 = 2.0;
/// The over-pour is reckoned with this much between flange and hollow, mm.
const POUR_GUESS: f64 = 1.5;

/// What keeps a cutter from being stouter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Limit {
    /// Nothing in the piece: no stouter one is used for this.
    Usual,
    /// The narrowest drip.
    Slot,
    /// The fillet between inside wall and floor.
    Fillet,
    /// Corners or waists of the outline.
    Outline,
    /// A hollow of the outside's section.
    Outside,
    /// Corners of the foot's recess.
    Recess,
}

/// What the needs follow from; remedies are looked for by changing it.
#[derive(Clone, Copy)]
pub(crate) struct Making<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) piece: &'a Piece,
    pub(crate) goods: &'a HoldingGoods,
    pub(crate) one_sided: bool,
    pub(crate) sizes: Allowances,
    pub(crate) floor_z: f64,
    /// Depth of the deepest hollow below the rim plane; `None` without casts.
    pub(crate) deepest: Option<f64>,
    /// Diameter of the stoutest cutter that the narrowest drip, pocket or river lets in; infinite without.
    pub(crate) lets_in: f64,
    pub(crate) concave: Concave,
    /// The mark under the foot, and its depth below the foot plane.
    pub(crate) mark: Option<(Strokes, f64)>,
}

impl<'a> Making<'a> {
    /// The making with a ball of that radius for the outside, on which the waste beyond the rim depends.
    pub(crate) fn new(
        request: &Request<'a>,
        machine: &'a Machine,
        concave: Concave,
        (ball_radius, shrink): (f64, f64),
        ledger: &mut Ledger<'_>,
    ) -> Self {
        let (job, piece) = (request.job, request.piece);
        let deepest = deepest_cast(&job.casts);
        let pour = deepest.unwrap_or(0.0) + FLANGE + ball_radius + POUR_GUESS;
        Self {
            machine,
            piece,
            goods: &request.shelf.holding,
            one_sided: job.route.kind.value == RouteKind::OneSided,
            sizes: allowances(job, piece, ball_radius, pour, shrink, ledger),
            floor_z: piece.floor_z,
            deepest,
            lets_in: narrowest(&job.casts).map_or(f64::INFINITY, |narrow| narrow.lets_in),
            concave,
            mark: piece.mark.as_ref().map(|m| {
                let (half_angle_deg, deepest, thinnest) = (m.half_angle_deg, m.deepest, m.stroke);
                (Strokes { half_angle_deg, deepest, thinnest }, m.face_z + deepest)
            }),
        }
    }

    /// The same with another ball, for comparison: nothing is written down.
    pub(crate) fn tried(
        request: &Request<'a>,
        machine: &'a Machine,
        concave: Concave,
        (ball_radius, shrink): (f64, f64),
    ) -> Self {
        Self::looked_at(request, machine, concave, (ball_radius, shrink)).0
    }

    /// Whether nothing of the sizes that follow is wrong with such a ball.
    pub(crate) fn is_sound(
        request: &Request<'a>,
        machine: &'a Machine,
        concave: Concave,
        (ball_radius, shrink): (f64, f64),
    ) -> bool {
        !Self::looked_at(request, machine, concave, (ball_radius, shrink)).1.has_errors()
    }

    fn looked_at(
        request: &Request<'a>,
        machine: &'a Machine,
        concave: Concave,
        (ball_radius, shrink): (f64, f64),
    ) -> (Self, Report) {
        let (mut figures, mut report) = (Figures::default(), Report::default());
        let mut ledger = Ledger { figures: &mut figures, report: &mut report };
        (Self::new(request, machine, concave, (ball_radius, shrink), &mut ledger), report)
    }

    /// The task whose ball settles the waste beyond the rim.
    pub(crate) fn leading(&self) -> Task {
        if self.one_sided { Task::FinishInside } else { Task::FinishOutside }
    }

    /// All tasks, in the order in which a person meets them.
    pub(crate) fn tasks(&self) -> Vec<Task> {
        if self.one_sided {
            return vec![Task::Face, Task::RoughOutside, Task::FinishInside];
        }
        let hollows: &[Task] = if self.deepest.is_some() { &[Task::RoughHollow, Task::FinishHollow] } else { &[] };
        let mark: &[Task] = if self.mark.is_some() { &[Task::Engrave] } else { &[] };
        let (outside, inside) = ([Task::RoughOutside, Task::FinishOutside], [Task::RoughInside, Task::FinishInside]);
        [Task::Face].iter().chain(hollows).chain(&outside).chain(mark).chain(&inside).copied().collect()
    }

    /// What a task asks of its cutter.
    pub(crate) fn need(&self, task: Task) -> Need<'a> {
        let (diameter_max, _) = self.stoutest(task);
        let (depth, stickout_max) = (self.depth(task), self.room(task));
        let strokes = self.mark.map(|m| m.0).filter(|_| task == Task::Engrave);
        Need { kind: kind(task), depth, stickout_max, diameter_max, strokes, beside: self.beside(task) }
    }

    /// The wall that stands beside the cutter.
    fn beside(&self, task: Task) -> Option<Beside<'a>> {
        let top = if self.one_sided { self.sizes.height } else { self.sizes.levelled_z() };
        let (side, left_on) = match task {
            Task::Face | Task::Engrave => return None,
            // Walls of hollows are upright, and their levels are not drawn in.
            Task::RoughHollow | Task::FinishHollow => (Side::Upright(self.depth(task)), 0.0),
            Task::RoughOutside if self.one_sided => (Side::Upright(self.depth(task)), 0.0),
            Task::RoughOutside => (Side::Outside(top - FLANGE), ALLOWANCE),
            Task::FinishOutside => (Side::Outside(top - FLANGE), 0.0),
            Task::RoughInside => (Side::Inside(top), ALLOWANCE),
            Task::FinishInside => (Side::Inside(top), 0.0),
        };
        Some(Beside { piece: self.piece, side, left_on })
    }

    /// Height of what stands beside the cutter at its deepest.
    fn depth(&self, task: Task) -> f64 {
        let s = &self.sizes;
        match task {
            Task::Face => FACING_DEPTH,
            Task::RoughHollow | Task::FinishHollow => self.deepest.unwrap_or(0.0) + s.beyond_rim + s.levelling,
            Task::RoughOutside if self.one_sided => s.height,
            Task::RoughOutside => s.levelled_z() - FLANGE + s.beyond_foot,
            Task::FinishOutside => s.levelled_z() - FLANGE,
            Task::Engrave => self.mark.map_or(0.0, |(_, depth)| depth),
            Task::FinishInside if self.one_sided => s.height - self.floor_z,
            Task::RoughInside | Task::FinishInside => s.levelled_z() - self.floor_z,
        }
    }

    /// Greatest stick-out with which the tip still rises above what lies on the table.
    fn room(&self, task: Task) -> f64 {
        let (s, goods) = (&self.sizes, self.goods);
        let on_table = match task {
            Task::RoughInside | Task::FinishInside if !self.one_sided => {
                s.levelled_z() + goods.carrier + goods.glue_film
            }
            Task::Face => s.thickness() + goods.tape_stack + goods.pallet + s.overpour,
            _ => s.thickness() + goods.tape_stack + goods.pallet,
        };
        stickout_room(self.machine, on_table, CLEARANCE)
    }

    /// Stoutest cutter for a task, and what keeps it from being stouter.
    pub(crate) fn stoutest(&self, task: Task) -> (f64, Limit) {
        let usual = match (task, kind(task)) {
            (Task::FinishHollow, _) => HOLLOW_BALL,
            (_, Kind::Facer) => STOUTEST[0],
            (_, Kind::Ball) => STOUTEST[1],
            (_, Kind::Rougher) => STOUTEST[2],
            (_, Kind::Point) => STOUTEST[3],
        };
        let round = |radius: f64| 2.0 * radius / ROUND_ROOM;
        let c = &self.concave;
        let limits = match task {
            Task::Face | Task::Engrave => vec![],
            Task::RoughHollow | Task::FinishHollow => vec![(self.lets_in, Limit::Slot)],
            Task::RoughOutside if self.one_sided => vec![(round(c.outside_plan), Limit::Outline)],
            Task::RoughOutside => vec![(round(c.recess), Limit::Recess)],
            Task::FinishOutside => {
                vec![(round(c.outside_section), Limit::Outside), (round(c.outside_plan), Limit::Outline)]
            }
            Task::RoughInside => vec![],
            Task::FinishInside => {
                vec![(round(c.inside_section), Limit::Fillet), (round(c.inside_plan), Limit::Outline)]
            }
        };
        let least = |best: (f64, Limit), next: (f64, Limit)| if next.0 < best.0 { next } else { best };
        limits.into_iter().fold((usual, Limit::Usual), least)
    }
}

/// Kind of cutter for a task.
pub(crate) const fn kind(task: Task) -> Kind {
    match task {
        Task::Face => Kind::Facer,
        Task::Engrave => Kind::Point,
        Task::RoughHollow | Task::RoughOutside | Task::RoughInside => Kind::Rougher,
        Task::FinishHollow | Task::FinishOutside | Task::FinishInside => Kind::Ball,
    }
}

/// Depth of the deepest hollow below the rim plane that the casts may ask for.
pub(crate) fn deepest_cast(casts: &[CastSpec]) -> Option<f64> {
    casts.iter().map(depth_of).max_by(f64::total_cmp)
}

/// Depth of the deepest hollow of a cast below the rim plane, mm.
fn depth_of(cast: &CastSpec) -> f64 {
    cast.form.depth().value.as_mm()
}

/// The deepest cast, and where the job says how deep it is.
pub(crate) fn deepest_place(casts: &[CastSpec]) -> Option<(&CastSpec, Option<At>)> {
    let deepest = casts.iter().max_by(|a, b| depth_of(a).total_cmp(&depth_of(b)))?;
    Some((deepest, deepest.form.depth().at.or(deepest.at)))
}

/// A drip, pocket or river.
pub(crate) struct Narrow<'a> {
    /// Its width, mm.
    pub(crate) width: f64,
    /// Diameter of the stoutest cutter that it lets in, mm.
    pub(crate) lets_in: f64,
    /// Its cast.
    pub(crate) cast: &'a CastSpec,
}

/// The one of all casts that lets in the least cutter.
pub(crate) fn narrowest(casts: &[CastSpec]) -> Option<Narrow<'_>> {
    let narrow = casts.iter().filter_map(|cast| {
        let width = cast.form.narrowest()?.value.as_mm();
        Some(Narrow { width, lets_in: width / cast.form.room(), cast })
    });
    narrow.min_by(|a, b| a.lets_in.total_cmp(&b.lets_in))
}
