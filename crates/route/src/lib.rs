//! The planner: from job, shelf and shape to steps, setups, programs, calendar and cost. It never judges itself.
//!
//! Read `planner` first, then one file of `setups` each for a clamping on the machine.

mod allowances;
mod buying;
mod calendar;
mod casting;
mod chips;
mod choose;
mod concave;
mod cost;
mod curing;
mod cutters;
mod estimate;
mod feeds;
mod frame;
mod gluing;
mod goods;
mod layup;
mod ledger;
mod measured;
mod missing;
mod moisture;
mod needs;
mod operation;
mod parts;
mod plan;
mod planner;
mod prepare;
mod programs;
mod rest;
mod sawing;
mod sense;
mod setups;
mod shank;
mod shown;
mod steps;
mod strokes;
mod timing;
mod turned;

pub use calendar::day_after;
pub use cost::outlay;
pub use curing::{Curing, LayerCure, Shops};
pub use goods::strangers;
pub use plan::*;
pub use planner::{Settled, look_over, plan, settle, sketch};

/// What the planner is given.
#[derive(Clone, Copy)]
pub struct Request<'a> {
    /// The job.
    pub job: &'a job::Job,
    /// The shelf.
    pub shelf: &'a trade::shelf::Shelf,
    /// The piece.
    pub piece: &'a shape::Piece,
    /// What the maker measured so far.
    pub measured: Option<&'a job::Measured>,
}
