//! Whether the first abrasive levels the ridges that the programs really leave: the greatest of them, as found on the skin.

use crate::case::Case;
use crate::verdict::Check;
use trade::figures::sanding::{LEAST_GRIT, first_grit, levels_mm};
use workpiece::StepKind;

/// From the checks of what is left on the skins. `None` where nothing is sanded.
pub(crate) fn judge(case: &Case<'_>, checks: &[Check]) -> Option<Check> {
    let (id, title) = ("first-abrasive", "Highest ridge on the finished skin, for the first abrasive");
    let sand = case.evidence.steps.iter().find(|s| s.kind == StepKind::Sand)?;
    let left = |c: &&Check| case.setups.iter().any(|of| of.setup.finishes_skin && of.id("leftover") == c.id);
    let worst = checks.iter().filter(left).max_by(|a, b| a.value.total_cmp(&b.value));
    let Some(worst) = worst.filter(|c| c.value.is_finite()) else {
        return Some(Check::uncomputed(id, title, "what is left on a finished skin is not known"));
    };
    let resin = !case.evidence.casts.is_empty();
    let coarsest = levels_mm(LEAST_GRIT, resin);
    let ridge = worst.value.max(0.0);
    let fits = sand.grit.is_some_and(|grit| ridge <= levels_mm(grit, resin));
    let remedy = match (first_grit(ridge, resin), sand.grit) {
        (Some(_), Some(_)) if fits => "Begin with the abrasive that the sheet names.".to_owned(),
        (Some(needed), _) => format!("Begin with P{needed}, or ask for a finer `scallop`."),
        (None, _) => "Cut it again with a finer `scallop`, or scrape the ridges first.".to_owned(),
    };
    let mut check = Check::at_most(id, title, ridge, coarsest, "mm")
        .remedy(remedy)
        .assuming("what a grit levels: common practice, half as much in resin, for scratches show")
        .watched(!fits);
    if let Some(place) = worst.place.clone() {
        check = check.at(place);
    }
    Some(check)
}
