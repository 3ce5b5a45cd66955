//! What a shop owns and what the trade knows: the shelf, the reference tables, the formulas, each figure with its source.
//!
//! Nothing here sees a job or a workpiece.

pub mod cutter;
pub mod shelf;

use base::{FileId, Report};

/// The text of the shelf that ships with Treen.
pub const DEFAULT_SHELF: &str = "";

/// Reads a shelf. `None` only if the text is too broken to make one; any error in the report stops the work.
pub fn parse(text: &str, file: FileId) -> (Option<shelf::Shelf>, Report) {
    let _ = (text, file);
    todo!("shelf text")
}

/// The JSON Schema of the shelf file (a JSON text).
pub fn schema() -> String {
    todo!("shelf schema")
}
