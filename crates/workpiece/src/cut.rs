//! Cutting: a cutter swept along straight moves takes everything above its lower envelope.

use crate::Workpiece;
use base::{Cancelled, Progress};
use trade::cutter::Solid;

/// One straight motion of the tip in the workpiece's frame, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Start of the tip.
    pub from: [f64; 3],
    /// End of the tip.
    pub to: [f64; 3],
}

/// What one move did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MoveCut {
    /// Volume taken, mm³.
    pub removed_mm3: f32,
    /// Greatest height of material taken above the tip at that place, mm (0: cut air).
    pub deepest_mm: f32,
    /// Area of the plan that lost material, mm².
    pub swept_mm2: f32,
    /// Whether resin was cut.
    pub resin: bool,
    /// Whether wood was cut.
    pub wood: bool,
    /// Greatest rise of standing material above the start of the neck or shank while it lay within the neck's or shank's
    /// radius plus its clearance, mm (0: clear).
    pub shank_mm: f32,
    /// The same for the holder.
    pub holder_mm: f32,
}

/// What a run of moves did, one entry per move.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CutReport {
    /// In the order of the moves.
    pub moves: Vec<MoveCut>,
}

/// Clearances kept around the parts that must not touch, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearances {
    /// Around neck and shank.
    pub shank: f64,
    /// Around nut and holder.
    pub holder: f64,
}

impl Workpiece {
    /// Cuts along the moves in order. The result does not depend on the number of threads.
    ///
    /// # Errors
    /// [`Cancelled`] if the maker stops; the workpiece is then partly cut.
    pub fn cut(
        &mut self,
        cutter: &Solid,
        moves: &[Sweep],
        clearances: Clearances,
        progress: &dyn Progress,
    ) -> Result<CutReport, Cancelled> {
        let _ = (cutter, moves, clearances, progress);
        todo!()
    }
}
