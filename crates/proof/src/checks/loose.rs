//! Loose: no body that nothing holds may be larger than half the cutter's diameter, at any moment.

use crate::case::SetupCase;
use crate::replay::Replay;
use crate::verdict::{Check, State};

/// Judges one setup.
pub(crate) fn judge(of: &SetupCase<'_>, replay: &Replay) -> Check {
    let (id, title) = (of.id("loose"), "Largest piece that comes loose");
    let Some(carve) = replay.carve(&of.setup.id) else {
        let why = replay.fault.clone().unwrap_or_else(|| "no step carves this setup".into());
        return Check::uncomputed(id, title, why);
    };
    let limit = carve.loose.as_ref().map_or(carve.least_diameter / 2.0, |l| l.limit);
    if !limit.is_finite() {
        return Check::uncomputed(id, title, "nothing moves in this setup");
    }
    let check = match &carve.loose {
        Some(l) => Check::at_most(id, title, l.extent, limit, "mm").at(l.place.clone()),
        None => Check::at_most(id, title, 0.0, limit, "mm").at(of.here()),
    };
    let check = if check.state == State::Holds {
        check
    } else {
        let volume = carve.loose.as_ref().map_or(0.0, |l| l.volume_mm3);
        check.remedy(format!(
            "This line cuts a body of {volume:.0} mm³ free: mill it to chips from the outside inwards, or leave tabs or \
             posts."
        ))
    };
    check.assuming(format!(
        "bodies are told apart after every move, on columns {:.2} mm apart: a web narrower than that counts as cut",
        carve.resolution
    ))
}
