//! What is settled before the first path: sizes, glue-up, cutters, hollows and their resin. All that is wrong with any
//! of it is found here, at once.

use crate::Request;
use crate::allowances::Allowances;
use crate::casting::{Casting, cast_plan, poured};
use crate::cutters::{Cutters, STAND_IN_RADIUS, cutters};
use crate::layup::{Layup, layup};
use crate::ledger::Ledger;
use crate::needs::{Making, Task};
use crate::plan::CastPlan;
use crate::setups::{PlanFault, SPOT_BESIDE, solid};
use base::Report;
use geom::Mesh;
use shape::cast::{Cast, CastRoom, casts};
use trade::shelf::{Finish, Machine, Resin, Wood};

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

/// Settles all that comes before the paths; without `pours` all but how the resin is poured, which takes a while. `None` if
/// the report has errors.
///
/// # Errors
/// [`PlanFault::Solid`] if a solid operation fails.
pub(crate) fn prepare<'a>(
    request: &Request<'a>,
    found: &Found<'a>,
    pours: bool,
    ledger: &mut Ledger<'_>,
) -> Result<Option<Prepared<'a>>, PlanFault> {
    let (making, cutters) = cutters(request, found, ledger);
    let (piece, sizes) = (request.piece, making.sizes);
    let clear_of = [piece.floor_z, sizes.height, 0.0, piece.recess.map_or(0.0, |[d, _]| d)];
    let layup = layup(request, &sizes, &clear_of, found.wood, ledger);
    let shapes = hollows(request, found, &making, &cutters, ledger);
    let (mut cast_plans, mut solids) = (Vec::new(), Vec::new());
    for shape in shapes.iter().filter(|_| pours) {
        let of = |c: &(&job::CastSpec, &&'a Resin)| c.0.name.value == shape.name;
        let Some((spec, resin)) = request.job.casts.iter().zip(&found.resins).find(of) else { continue };
        let poured = solid(poured(&shape.hollow, &sizes), "the resin as poured")?;
        let cast = Casting { request, spec, cast: shape, poured: &poured, resin };
        cast_plans.extend(cast_plan(&cast, &sizes, ledger));
        solids.push(poured);
    }
    if let Some(layup) = &layup {
        crate::moisture::look(request, layup, ledger);
    }
    crate::rest::look(request, found.wood, ledger.figures, ledger.report);
    let lowest = shapes.iter().filter_map(|s| s.hollow.bounds()).map(|(low, _)| low.z).fold(sizes.face_z(), f64::min);
    crate::setups::hold::look(request, &sizes, sizes.face_z() - lowest, ledger.report);
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
