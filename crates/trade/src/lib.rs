//! What a shop owns and what the trade knows: the shelf, the reference tables, the formulas, each figure with its source.
//!
//! Nothing here sees a job or a workpiece.

pub mod cautions;
pub mod cutter;
pub mod figures;
pub mod shelf;
pub mod tables;

use base::{FileId, Report};

/// The text of the shelf that ships with Treen.
pub const DEFAULT_SHELF: &str = include_str!("shelf/default.toml");

/// What is read off a flip coupon: a file to fill in.
pub const FLIP_READINGS: &str = include_str!("coupons/flip.toml");
/// What is pulled at a pull coupon: a file to fill in.
pub const TAPE_READINGS: &str = include_str!("coupons/tape.toml");

/// Reads a shelf. `None` only if the text is too broken to make one; any error in the report stops the work.
pub fn parse(text: &str, file: FileId) -> (Option<shelf::Shelf>, Report) {
    shelf::parse(text, file)
}

/// Reads an overrides file of one shop over a complete shelf: the machine to use, single figures of a machine by its
/// name, the stick-out (and the greatest speed that goes with it) of a cutter by its number, goods that hold the work, how well
/// work is found again, which cutters and steps are settled for which tasks, and the boards at hand. Nothing else may stand
/// there.
pub fn parse_over(base: &shelf::Shelf, text: &str, file: FileId) -> (Option<shelf::Shelf>, Report) {
    shelf::parse_over(base, text, file)
}

/// Reads what was measured on a coupon. `None` if any of it is wrong.
pub fn parse_readings(text: &str, file: FileId) -> (Option<shelf::Readings>, Report) {
    shelf::parse_readings(text, file)
}

/// The JSON Schema of the shelf file (a JSON text).
pub fn schema() -> String {
    shelf::schema(false)
}

/// The JSON Schema of an overrides file (a JSON text).
pub fn overrides_schema() -> String {
    shelf::schema(true)
}
