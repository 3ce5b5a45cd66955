//! Facing: a plane cut over a whole region, rows overlapping evenly.

use crate::{Move, Work};
use geom::Region;

/// What to face.
#[derive(Clone, Debug, PartialEq)]
pub struct Facing<'a> {
    /// Area to become flat, seen from above.
    pub region: &'a Region,
    /// Top of the stock.
    pub from_z: f64,
    /// The plane.
    pub to_z: f64,
    /// Greatest depth of one pass.
    pub step_down: f64,
    /// Greatest stepover as a fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Rows along X, the first entered from air; every pass covers the region with the cutter's full width.
pub fn facing(what: &Facing<'_>, work: &Work) -> Vec<Move> {
    let _ = (what, work);
    todo!()
}
