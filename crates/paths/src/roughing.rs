//! Roughing by levels, only where the stock still stands.

use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::{Grid, Region};

/// What to rough.
#[derive(Clone, Debug)]
pub struct Roughing<'a> {
    /// Cutter location over the target (and whatever must not be cut), with the allowance.
    pub location: &'a CutterLocation,
    /// Top of the stock now (`-inf` where there is none).
    pub stock: &'a Grid<f32>,
    /// Where the tip's axis may go.
    pub within: &'a Region,
    /// First level is below this.
    pub top_z: f64,
    /// Last level, at the lowest.
    pub bottom_z: f64,
    /// Greatest step-down.
    pub step_down: f64,
    /// Stepover, fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
    /// Extra distance from the target per level below the flutes, so that the shank cannot rub: (depth, extra per level).
    pub relief: Option<(f64, f64)>,
}

/// Levels from the top down; rings inwards or outwards so that the cutter enters from air where there is any, and by a
/// ramp of the work's angle elsewhere.
///
/// # Errors
/// [`Cancelled`].
pub fn roughing(what: &Roughing<'_>, work: &Work, progress: &dyn Progress) -> Result<Vec<Move>, Cancelled> {
    let _ = (what, work, progress);
    todo!()
}
