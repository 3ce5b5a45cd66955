//! The mark under the foot as a pointed cutter engraves it, and what of it is too thin for the cutter.

use crate::Request;
use crate::setups::{PATH_TOLERANCE, Shop};
use base::Report;
use paths::engraving::{Engraving, too_thin};
use shape::Mark;
use trade::cutter::Form;
use trade::shelf::{Cutter, Machine};

/// Greatest depth of a pass in hardwood on a machine that takes a step-down of one diameter, mm. Common practice, no source.
const PASS: f64 = 1.5;

/// What the strategy is told; the mark's face lies at `surface_z` in the program's frame.
pub(crate) fn engraving_of<'a>(mark: &'a Mark, cutter: &Cutter, shop: &Shop<'_>, surface_z: f64) -> Engraving<'a> {
    told(mark, cutter, shop.machine, (surface_z, shop.scallop))
}

fn told<'a>(mark: &'a Mark, cutter: &Cutter, machine: &Machine, (surface_z, ridge): (f64, f64)) -> Engraving<'a> {
    let tip_diameter = match cutter.solid.form {
        Form::Cone { tip_diameter, .. } => tip_diameter,
        _ => 0.0,
    };
    Engraving {
        region: &mark.region,
        axis: &mark.axis,
        surface_z,
        deepest: mark.deepest,
        half_angle_deg: mark.half_angle_deg,
        tip_diameter,
        step_down: PASS * machine.step_down_d.min(1.0),
        ridge,
    }
}

/// Tells of strokes that the cutter's point leaves out.
pub(crate) fn look(request: &Request<'_>, machine: &Machine, cutter: &Cutter, report: &mut Report) {
    let (Some(mark), Some(spec)) = (&request.piece.mark, &request.job.piece.mark) else { return };
    let units = request.job.units;
    for thin in too_thin(&told(mark, cutter, machine, (0.0, 0.0)), PATH_TOLERANCE) {
        let text = format!(
            "a stroke of the mark is only {} wide near ({}, {}) as seen with the foot up, and the point of cutter {} is wider: it is left out",
            units.fine(thin.width),
            units.near(thin.at.x),
            units.near(thin.at.y),
            cutter.number
        );
        report
            .warning("stroke-left-out", spec.value.height.at.or(spec.at), text)
            .hint("make the mark higher, or put a pointed cutter with a finer point on the shelf");
    }
}
