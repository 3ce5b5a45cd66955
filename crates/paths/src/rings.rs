//! Given rings cut level by level, only where stock stands: for the flange that leaves as chips, outside in.

use crate::{Move, Work};
use geom::{Grid, Ring};

/// What to cut.
#[derive(Clone, Debug)]
pub struct Rings<'a> {
    /// Paths of the tip's axis in the order to be cut.
    pub rings: &'a [Ring],
    /// Levels from the top down.
    pub levels: &'a [f64],
    /// Top of the stock now.
    pub stock: &'a Grid<f32>,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Stretches of the rings where the cutter meets stock above the level, linked at feed where the way is clear and short,
/// else lifted; entered from air or by ramping along the ring.
pub fn rings(what: &Rings<'_>, work: &Work) -> Vec<Move> {
    let _ = (what, work);
    todo!()
}
