//! What is settled before the first path: sizes, glue-up, cutters, hollows and their resin. All that is wrong with any
//! of it is found here, at once.

use crate::Request;
use crate::allowances::Allowances;
use crate::casting::{Casting, cast_plan, poured};
use crate::choose::{Kind, Need, by_preference, lacks};
use crate::concave::Concave;
use crate::layup::{Layup, layup};
use crate::ledger::Ledger;
use crate::missing::{Search, tell};
use crate::needs::{Making, Task};
use crate::plan::CastPlan;
use crate::setups::{PlanFault, SPOT_BESIDE, solid};
use base::Report;
use geom::Mesh;
use shape::cast::{Cast, CastRoom, casts};
use trade::shelf::{Cutter, Finish, Machine, Resin, Shelf, Wood};

/// Radius of the ball that sizes are reckoned with where the shelf holds none at all, mm.
const STAND_IN_RADIUS: f64 = 3.0;

/// What the planner looked up on the shelf.
pub(crate) struct Found<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) wood: &'a Wood,
    pub(crate) finish: &'a Finish,
    pub(crate) resins: Vec<&'a Resin>,
}

/// What is settled.
pub(crate) struct Prepared<'a> {
    pub(crate) making: Making<'a>,
    pub(crate) layup: Layup,
    pub(crate) cutters: Cutters<'a>,
    pub(crate) shapes: Vec<Cast>,
    pub(crate) casts: Vec<CastPlan>,
    pub(crate) poured: Vec<Mesh>,
}

/// The cutter for each task; all are there once the report has no errors.
pub(crate) struct Cutters<'a>(Vec<(Task, Option<&'a Cutter>)>);

impl<'a> Cutters<'a> {
    /// The cutter for a task.
    ///
    /// # Errors
    /// [`PlanFault::NoCutter`] if the shelf has none.
    pub(crate) fn of(&self, task: Task) -> Result<&'a Cutter, PlanFault> {
        self.get(task).ok_or(PlanFault::NoCutter)
    }

    fn get(&self, task: Task) -> Option<&'a Cutter> {
        self.0.iter().find(|(t, _)| *t == task).and_then(|(_, cutter)| *cutter)
    }
}

/// Settles all that comes before the paths. `None` if the report has errors.
///
/// # Errors
/// [`PlanFault::Solid`] if a solid operation fails.
pub(crate) fn prepare<'a>(
    request: &Request<'a>,
    found: &Found<'a>,
    ledger: &mut Ledger<'_>,
) -> Result<Option<Prepared<'a>>, PlanFault> {
    let (making, cutters) = cutters(request, found, ledger);
    let (piece, sizes) = (request.piece, making.sizes);
    let clear_of = [piece.floor_z, sizes.height, 0.0, piece.recess.map_or(0.0, |[d, _]| d)];
    let layup = layup(request, &sizes, &clear_of, found.wood, ledger);
    let shapes = hollows(request, found, &making, &cutters, ledger);
    let (mut cast_plans, mut solids) = (Vec::new(), Vec::new());
    for shape in &shapes {
        let of = |c: &(&job::CastSpec, &&'a Resin)| c.0.name.value == shape.name;
        let Some((spec, resin)) = request.job.casts.iter().zip(&found.resins).find(of) else { continue };
        let poured = solid(poured(&shape.hollow, &sizes), "the resin as poured")?;
        let cast = Casting { request, spec, cast: shape, poured: &poured, resin };
        cast_plans.extend(cast_plan(&cast, &sizes, ledger));
        solids.push(poured);
    }
    within_travel(request, found.machine, &sizes, ledger.report);
    if let Some(measured) = request.measured.filter(|_| !making.one_sided) {
        crate::measured::look(measured, &sizes, (&request.shelf.holding, request.job.units), ledger.report);
    }
    let settled = layup.filter(|_| !ledger.report.has_errors());
    Ok(settled.map(|layup| Prepared { making, layup, cutters, shapes, casts: cast_plans, poured: solids }))
}

/// Tells of a blank that the machine cannot go round. The proof looks at every move; this saves planning what cannot be.
fn within_travel(request: &Request<'_>, machine: &Machine, sizes: &Allowances, report: &mut Report) {
    let units = request.job.units;
    // The touch-off spot lies to the right of the blank.
    let axes =
        [("X", 2.0 * sizes.half.x, machine.travel[0], SPOT_BESIDE), ("Y", 2.0 * sizes.half.y, machine.travel[1], 0.0)];
    let too_long: Vec<_> = axes.into_iter().filter(|(_, size, travel, beside)| size + beside > *travel).collect();
    if too_long.is_empty() {
        return;
    }
    let told = too_long.iter().map(|(name, size, travel, beside)| {
        let spot = match *beside > 0.0 {
            true => format!(", {} of it for the touch-off spot", units.near(*beside)),
            false => String::new(),
        };
        format!("{} long in {name} where the machine moves {}{spot}", units.near(*size), units.near(*travel))
    });
    let over = too_long.iter().map(|(_, size, travel, beside)| size + beside - travel).fold(0.0, f64::max);
    let text = format!(
        "the blank is too large for the machine \"{}\": {}",
        machine.name,
        told.collect::<Vec<_>>().join(", and ")
    );
    let hint = format!("make the piece {} smaller, or take a machine that moves farther", units.up(over));
    report.error("larger-than-travel", request.job.piece.outline.at, text).hint(hint);
}

/// Chooses all cutters and tells which are missing. The ball that finishes comes first, for the waste beyond the rim
/// depends on it.
fn cutters<'a>(request: &Request<'a>, found: &Found<'a>, ledger: &mut Ledger<'_>) -> (Making<'a>, Cutters<'a>) {
    let (shelf, machine) = (request.shelf, found.machine);
    let concave = Concave::of(request.piece);
    let shrink = found.resins.iter().map(|r| r.shrink).fold(0.0, f64::max);
    let tried = |radius: f64| Making::tried(request, machine, concave, (radius, shrink));
    let balls = shelf.cutters.iter().filter(|c| Kind::Ball.is(c));
    let mut options: Vec<(Option<&Cutter>, Making<'_>)> =
        balls.map(|ball| (Some(ball), tried(ball.solid.radius()))).collect();
    if options.is_empty() {
        options.push((None, tried(STAND_IN_RADIUS)));
    }
    let leading = leading_ball(shelf, machine, &options);
    let radius = leading.or_else(|| nearest_ball(machine, &options)).map_or(STAND_IN_RADIUS, |c| c.solid.radius());
    let making = Making::new(request, machine, concave, (radius, shrink), ledger);
    let chosen = |task: Task| {
        if task == making.leading() { leading } else { crate::choose::best(shelf, machine, &making.need(task)) }
    };
    let cutters = Cutters(making.tasks().into_iter().map(|task| (task, chosen(task))).collect());
    let missing: Vec<Task> = cutters.0.iter().filter(|(_, c)| c.is_none()).map(|(task, _)| *task).collect();
    tell(&Search { request, making, options, shrink }, &missing, ledger.report);
    if let Some(point) = cutters.get(Task::Engrave) {
        crate::strokes::look(request, machine, point, ledger.report);
    }
    (making, cutters)
}

/// The ball that finishes what all sizes depend on, each judged by the sizes that it would itself lead to: one with which all
/// else can be done, too, if there is one.
fn leading_ball<'a>(
    shelf: &Shelf,
    machine: &Machine,
    options: &[(Option<&'a Cutter>, Making<'a>)],
) -> Option<&'a Cutter> {
    let serving = options.iter().filter_map(|(ball, making)| {
        let (ball, need) = ((*ball)?, making.need(making.leading()));
        let others = making.tasks().into_iter().filter(|task| *task != making.leading());
        let undone = others.filter(|task| crate::choose::best(shelf, machine, &making.need(*task)).is_none()).count();
        lacks(ball, machine, &need).is_empty().then_some((ball, need, undone))
    });
    let preferred = |a: &(&Cutter, Need, usize), b: &(&Cutter, Need, usize)| {
        a.2.cmp(&b.2).then(by_preference(Kind::Ball, (a.0, a.1.depth), (b.0, b.1.depth)))
    };
    serving.min_by(preferred).map(|(ball, ..)| ball)
}

/// The ball that lacks the least, to go on with where none serves.
fn nearest_ball<'a>(machine: &Machine, options: &[(Option<&'a Cutter>, Making<'a>)]) -> Option<&'a Cutter> {
    let lacking = |(ball, making): &(Option<&'a Cutter>, Making<'a>)| {
        let ball = (*ball)?;
        Some((lacks(ball, machine, &making.need(making.leading())).len(), ball))
    };
    options.iter().filter_map(lacking).min_by_key(|(lacks, _)| *lacks).map(|(_, ball)| ball)
}

/// The hollows of the casts. Where their ball is missing, one is taken that the narrowest drip lets in, so that other
/// mistakes show as well.
fn hollows(
    request: &Request<'_>,
    found: &Found<'_>,
    making: &Making<'_>,
    cutters: &Cutters<'_>,
    ledger: &mut Ledger<'_>,
) -> Vec<Cast> {
    if request.job.casts.is_empty() || making.one_sided {
        return Vec::new();
    }
    let ball = cutters.get(Task::FinishHollow);
    let (stoutest, _) = making.stoutest(Task::FinishHollow);
    let room = CastRoom {
        face_z: making.sizes.face_z(),
        cutter_radius: ball.map_or_else(|| STAND_IN_RADIUS.min(stoutest / 2.0), |c| c.solid.radius()),
        least_tongue: if found.wood.ring_porous { 4.0 } else { 3.0 },
        beyond_outline: crate::allowances::HOLLOW_BEYOND,
    };
    let (made, findings) = casts(request.piece, &request.job.casts, request.job.seed, &room, request.piece.tolerance);
    ledger.report.absorb(findings);
    made
}
