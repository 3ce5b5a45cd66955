//! Profile passes: along an edge, skim and spring.

use crate::{Move, Work};
use geom::Ring;

/// What to cut along.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile<'a> {
    /// The finished edge seen from above, counter-clockwise around the part.
    pub edge: &'a Ring,
    /// Cutter diameter.
    pub diameter: f64,
    /// Stock left by each round in turn, the last usually 0: `[0.1, 0.0]` for a skim and a spring pass.
    pub leave: &'a [f64],
    /// Top.
    pub from_z: f64,
    /// Bottom.
    pub to_z: f64,
    /// Greatest step-down of the first round; later rounds go full depth in one.
    pub step_down: f64,
}

/// Around the outside of the part, entered from air beside it, all rounds in the same sense.
pub fn profile(what: &Profile<'_>, work: &Work) -> Vec<Move> {
    let _ = (what, work);
    todo!()
}
