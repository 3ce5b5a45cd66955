//! Touch-off: the reference spot must be there and stay uncut through the setup.

use crate::case::{Case, SetupCase};
use crate::replay::Replay;
use crate::verdict::{Check, Where};
use glam::DVec3;

/// A spot on the workpiece must lie at the height it is said to read, within this, mm.
const WITHIN: f64 = 0.3;
/// A cutter's edge may come this near to the spot without marking it, mm.
const TOUCH: f64 = -0.002;
/// A spot within this of the table or carrier lies on it, mm.
const ON_TABLE: f64 = 0.5;

/// Judges one setup.
pub(crate) fn judge(case: &Case<'_>, of: &SetupCase<'_>, replay: &Replay) -> Check {
    let (id, title) = (of.id("touch-off"), "Touch-off spot: distance of the nearest cut");
    let strokes = match case.strokes(of) {
        Ok(strokes) => strokes,
        Err(why) => return Check::uncomputed(id, title, why),
    };
    let spot = &of.setup.reference_spot;
    let place = Where { at: Some(of.on_piece(spot.at)), ..of.here() };
    if let Err(why) = present(of, replay) {
        return Check::at_least(id, title, -1.0, TOUCH, "mm").at(place).remedy(why);
    }
    let at = DVec3::from_array(of.frame.workpiece(spot.at));
    let mut nearest: Option<(f64, usize)> = None;
    for (i, stroke) in strokes.iter().enumerate() {
        // The bound is told at once, the distance from a ramp is not.
        if nearest.is_some_and(|n| stroke.swept.at_least(at).0 >= n.0) {
            continue;
        }
        let d = stroke.swept.distance(at);
        if nearest.is_none_or(|n| d < n.0) {
            nearest = Some((d, i));
        }
    }
    let Some((distance, i)) = nearest else {
        return Check::uncomputed(id, title, "no program of the setup moves");
    };
    let run = &of.runs[strokes[i].run];
    let mut place = place;
    (place.program, place.line) = (Some(run.file.clone()), Some(run.motions[strokes[i].motion].line));
    Check::at_least(id, title, distance, TOUCH, "mm")
        .at(place)
        .remedy("Name a spot that no program of the setup cuts: beside the workpiece on table or carrier.")
}

/// Whether the spot's surface exists when the setup begins, at the height it is said to read.
fn present(of: &SetupCase<'_>, replay: &Replay) -> Result<(), String> {
    let spot = &of.setup.reference_spot;
    if (spot.reads - spot.at[2]).abs() > WITHIN {
        return Err(format!("The spot lies at {:.2} but is said to read {:.2}.", spot.at[2], spot.reads));
    }
    let tables = [of.setup.table_z, of.setup.machine_table_z];
    let on_table = tables.iter().any(|t| (spot.at[2] - t).abs() <= ON_TABLE);
    let stock = &of.setup.stock;
    let over_stock = (0..2).all(|k| spot.at[k] >= stock.min[k] && spot.at[k] <= stock.max[k]);
    if on_table && !over_stock {
        return Ok(());
    }
    let Some(carve) = replay.carve(&of.setup.id) else {
        return Err("The setup could not be carried out, so the spot is unknown.".into());
    };
    let top = carve.spot[0].map(|z| z - of.lift());
    match top {
        Some(z) if (z - spot.at[2]).abs() <= WITHIN => Ok(()),
        Some(z) => {
            Err(format!("The workpiece's top at the spot is {z:.2}, not {:.2}: it has been cut away.", spot.at[2]))
        }
        None => Err("There is nothing at the spot to touch off on.".into()),
    }
}
