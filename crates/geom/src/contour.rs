//! Level sets of a grid.

use crate::{Grid, Region};

/// The region where the grid's value lies below `level` (linear between nodes; outside the grid counts as above).
/// NaN nodes count as above.
pub fn below(grid: &Grid<f64>, level: f64) -> Region {
    let _ = (grid, level);
    todo!()
}
