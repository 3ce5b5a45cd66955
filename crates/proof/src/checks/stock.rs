//! The workpiece before a setup against the sheet's: first heights, retracts and travel are laid by the latter.

use crate::case::SetupCase;
use crate::replay::Replay;
use crate::verdict::Check;

/// Wood may be larger or smaller than the sheet says by this much, mm (common practice, no source: what a maker measures).
const WITHIN: f64 = 0.3;
/// At its sides a lip may stand out that no program takes and a knife does, so much beyond the sheet, mm.
const LIP: f64 = 1.0;

/// Judges one setup.
pub(crate) fn judge(of: &SetupCase<'_>, replay: &Replay) -> Check {
    let (id, title) = (of.id("stock"), "Workpiece before the setup: off the sheet's size");
    let Some([min, max]) = replay.carve(&of.setup.id).and_then(|carve| carve.stood) else {
        return Check::uncomputed(id, title, "the route could not be carried through up to this setup");
    };
    let sheet = &of.setup.stock;
    // Columns tell the sides to within a pitch, heights exactly.
    let off = |(k, said, beyond): (usize, f64, f64)| match k {
        2 => (beyond.abs(), k, said, beyond),
        _ => ((beyond - LIP).max(-beyond) - replay.pitch, k, said, beyond),
    };
    let sides = (0..3).flat_map(|k| {
        let (low, high) = (sheet.min[k], sheet.max[k]);
        [(k, low, low - min[k]), (k, high, max[k] - high)]
    });
    let far = sides.map(off);
    let Some((by, k, said, beyond)) = far.max_by(|a, b| a.0.total_cmp(&b.0)) else {
        return Check::uncomputed(id, title, "the sheet names no stock");
    };
    let axis = ["X", "Y", "Z"][k];
    Check::at_most(id, title, by.max(0.0), WITHIN, "mm").at(of.here()).remedy(format!(
        "Along {axis} the sheet lets the workpiece end at {said:.1} mm (program frame), and it {} by {:.1} mm: make the blank as \
         the sheet says, or plan the job for the one at hand.",
        if beyond > 0.0 { "goes beyond that" } else { "falls short of it" },
        beyond.abs()
    ))
}
