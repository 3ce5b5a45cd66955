//! Frames: rotations only (a mirrored heart or word cannot be written), spindle upright, models closed.

use crate::case::{Case, SetupCase};
use crate::verdict::Check;

/// How far a matrix of nine digits may be from a rotation.
const ROUNDING: f64 = 1e-6;

/// Judges one setup's frame.
pub(crate) fn judge(of: &SetupCase<'_>) -> Check {
    let (off, determinant) = of.frame.deviation(of.setup);
    let mirrored = if determinant > 0.0 { 0.0 } else { 2.0 };
    Check::at_most(of.id("frames"), "Frame of the setup: distance from a rotation", off.max(mirrored), ROUNDING, "1")
        .at(of.here())
        .remedy("The frame must be a rotation about the spindle (or a turn over) and a shift, never a mirror.")
}

/// Models with an open skin: what is not a solid cannot be judged against.
pub(crate) fn judge_models(case: &Case<'_>) -> Check {
    let open: Vec<&String> =
        case.evidence.models.iter().filter(|(_, m)| !m.is_closed()).map(|(name, _)| name).collect();
    let check = Check::at_most("models", "Models whose skin is not closed", open.len() as f64, 0.0, "1");
    check
        .remedy(format!("Make these solids whole: {}.", open.iter().map(|s| s.as_str()).collect::<Vec<_>>().join(", ")))
}
