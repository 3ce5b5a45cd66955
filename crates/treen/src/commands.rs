//! One file for each command.

mod check;
mod plan;
mod prove;
mod schema;
mod start;

use crate::cli::{Args, Command, ShelfCommand};
use crate::console::{self, Console};
use crate::pipeline::{Pipeline, Staged, Understood, Wish};
use crate::texts::Sources;
use crate::{Outcome, Trouble, messages};
use base::Report;
use shape::Piece;
use std::sync::Arc;

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<Outcome, Trouble> {
    match &args.command {
        Command::Plan(args) => plan::plan(args),
        Command::Prove(args) => prove::prove(args),
        Command::Check(args) => check::check(args),
        Command::New { name } => start::new_job(name),
        Command::Record { job } => start::record(job),
        Command::Shelf(ShelfCommand::Init { dir }) => start::shelf(dir),
        Command::Schema { of } => schema::print(*of),
    }
}

/// Runs long work on the wanted number of threads, with progress on the terminal.
fn at_work<T: Send>(
    threads: Option<u16>,
    work: impl FnOnce(&Console) -> Result<T, Trouble> + Send,
) -> Result<T, Trouble> {
    let console = Console::new();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.map_or(0, usize::from)).build();
    let pool = pool.map_err(|e| Trouble::Fault(format!("no threads to work with: {e}")))?;
    let result = pool.install(|| work(&console));
    console.clear();
    result
}

/// What the texts ask for and its shape; stops with all that is wrong with either.
fn understood(pipeline: &mut Pipeline, sources: &Sources, chord: f64) -> Result<(Arc<Wish>, Staged<Piece>), Trouble> {
    let Understood { wish, piece, report } = pipeline.understand(sources, chord)?;
    pass(&report, sources)?;
    wish.zip(piece).ok_or_else(|| Trouble::Fault("the texts gave neither a job nor a reason".into()))
}

/// The result of a stage; its warnings are printed, its errors stop the work.
fn settle<T>(staged: &Staged<T>, sources: &Sources) -> Result<Arc<T>, Trouble> {
    pass(&staged.report, sources)?;
    staged.value.clone().ok_or_else(|| Trouble::Fault("a stage gave neither a result nor a reason".into()))
}

/// Prints warnings and goes on; stops at an error, with everything that was found.
fn pass(report: &Report, sources: &Sources) -> Result<(), Trouble> {
    let text = messages::render(report, &sources.texts, console::coloured());
    if report.has_errors() {
        return Err(Trouble::Input(text));
    }
    console::complain(&text);
    Ok(())
}
