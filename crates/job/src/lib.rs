//! The job file: one TOML text that describes the piece, its casts, its blank and the maker's choices.
//!
//! Text goes in, a typed request with places comes out, with every mistake of the text at once. Nothing is looked up
//! in a table here and no geometry is done; what a job cannot know (does the shelf hold this cutter?) is asked later,
//! with the places kept in [`Placed`].

mod request;

pub use request::*;

use base::{FileId, Report};

/// Reads a job. The job is `None` only if the text is too broken to make one; any error in the report stops the work.
pub fn parse(text: &str, file: FileId) -> (Option<Job>, Report) {
    let _ = (text, file);
    todo!("job text")
}

/// The JSON Schema of the job file (a JSON text).
pub fn schema() -> String {
    todo!("job schema")
}

/// A commented job to start from.
pub fn starter(title: &str) -> String {
    let _ = title;
    todo!("starter")
}
