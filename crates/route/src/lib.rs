//! The planner: from job, shelf and shape to steps, setups, programs, calendar and cost. It never judges itself.

pub mod plan;

pub use plan::*;

use base::{Cancelled, Progress, Report};

/// What the planner is given.
#[derive(Clone, Copy)]
pub struct Request<'a> {
    /// The job.
    pub job: &'a job::Job,
    /// The shelf.
    pub shelf: &'a trade::shelf::Shelf,
    /// The piece.
    pub piece: &'a shape::Piece,
}

/// Plans the whole making. `None` if the report has errors.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn plan(request: &Request<'_>, progress: &dyn Progress) -> Result<(Option<Plan>, Report), Cancelled> {
    let _ = (request.job, progress);
    todo!()
}
