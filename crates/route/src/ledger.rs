//! Where the planner writes down what it finds: figures with their why, and findings for the maker.

use base::{Figures, Report};

/// Both books, passed down together.
pub(crate) struct Ledger<'a> {
    /// Figures of the plan.
    pub(crate) figures: &'a mut Figures,
    /// Findings.
    pub(crate) report: &'a mut Report,
}
