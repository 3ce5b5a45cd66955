//! Treen on the command line: the only part that touches files, the clock, the terminal and signals.
//!
//! It holds no rule of the trade. `pipeline` is the one place that knows the whole chain; `commands` has one file for
//! each command; `messages` and `summary` are what a person reads; `serve` is the page in the
//! browser.

pub mod files;
pub mod memo;
pub mod messages;
pub mod pipeline;
pub mod serve;
pub mod texts;

mod cli;
mod commands;
mod console;
mod outcome;
mod summary;

pub use outcome::{Outcome, Trouble};

use clap::Parser;
use std::process::ExitCode;

/// Runs the command line of this process. Exit codes: 0 done, and every check holds or is on watch; 1 a check fails;
/// 2 the input is wrong; 3 a fault of ours; 130 stopped by the maker, as shells count it.
pub fn run() -> ExitCode {
    let args = cli::Args::parse();
    ExitCode::from(outcome::guarded(|| commands::run(&args)))
}
