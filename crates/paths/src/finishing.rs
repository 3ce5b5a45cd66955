//! Finishing with the stepover from the target scallop on the real slope.

use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::Region;

/// What to finish.
#[derive(Clone, Debug)]
pub struct Finishing<'a> {
    /// Cutter location over the target, no allowance (or the allowance that stays).
    pub location: &'a CutterLocation,
    /// Where the tip's axis may go.
    pub within: &'a Region,
    /// Highest tip height to finish at.
    pub top_z: f64,
    /// Lowest tip height.
    pub bottom_z: f64,
    /// Greatest scallop, mm, measured along the normal.
    pub scallop: f64,
    /// Radius that makes the scallop (ball radius, corner radius of a bull), mm.
    pub tip_radius: f64,
    /// Cutter diameter.
    pub diameter: f64,
    /// Level rings above this slope, rings in plan below it, degrees.
    pub steep_deg: f64,
    /// Overlap of the two, mm.
    pub overlap: f64,
}

/// What was made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Finished {
    /// The moves.
    pub moves: Vec<Move>,
    /// Greatest scallop by the spacing and slope as made, mm.
    pub worst_scallop: f64,
}

/// Level rings on steep walls from the top down, rings in plan on the rest.
///
/// # Errors
/// [`Cancelled`].
pub fn finishing(what: &Finishing<'_>, work: &Work, progress: &dyn Progress) -> Result<Finished, Cancelled> {
    let _ = (what, work, progress);
    todo!()
}
