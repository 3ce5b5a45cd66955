//! The proof: checks made from the written programs and the workpiece alone.
//!
//! It never asks the planner and shares no code with it; what is judged is what the machine will run.

mod bed;
pub mod checks;
mod envelope;
pub mod evidence;
mod frame;
mod gap;
mod motion;
mod skin;
pub mod verdict;

pub use evidence::{CastFacts, Evidence, PieceFacts, Promise};
pub use verdict::{Check, Proof, Snapshot, State, Where};

use base::{Cancelled, Progress};

/// Judges the evidence.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn prove(evidence: &Evidence, progress: &dyn Progress) -> Result<Proof, Cancelled> {
    let _ = (evidence, progress);
    todo!()
}
