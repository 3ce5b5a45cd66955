//! Flat-bottomed pockets: depth witnesses, notches.

use crate::{Move, Work};
use geom::Region;

/// What to cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Pocket<'a> {
    /// The pocket seen from above.
    pub region: &'a Region,
    /// Top of the stock.
    pub from_z: f64,
    /// Bottom.
    pub to_z: f64,
    /// Greatest step-down.
    pub step_down: f64,
    /// Stepover, fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Ramps in, clears from the middle outwards, ends with a round along the wall.
pub fn pocket(what: &Pocket<'_>, work: &Work) -> Vec<Move> {
    let _ = (what, work);
    todo!()
}
