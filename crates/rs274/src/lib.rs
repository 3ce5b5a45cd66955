//! The control language RS-274/NGC (NISTIR 6556) and ISO 6983-1: reader, interpreter, writer.
//!
//! It knows nothing of what a cutter is for, of setups or of the planner. Reader and writer share no code, so that what
//! is read back is a second opinion. Lengths in mm, feeds in mm/min after reading, whatever the text's units.

pub mod interpret;
pub mod write;
