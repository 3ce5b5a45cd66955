//! One file for each command.

mod check;
mod compare;
mod coupon;
mod film;
mod look;
mod plan;
mod prove;
mod schema;
mod start;
mod why;

use crate::cli::{Args, Command, ShelfCommand};
use crate::console::{self, Console};
use crate::pipeline::{Pipeline, Staged, Understood, Wish};
use crate::texts::Sources;
use crate::{Outcome, Trouble, messages, texts};
use base::Report;
use papers::PlanDoc;
use shape::Piece;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<Outcome, Trouble> {
    match &args.command {
        Command::Plan(args) => plan::plan(args),
        Command::Prove(args) => prove::prove(args),
        Command::Why(args) => why::why(args),
        Command::Compare(args) => compare::compare(args),
        Command::Check(args) => check::check(args),
        Command::Serve(args) => crate::serve::serve(args),
        Command::Look(args) => look::look(args),
        Command::Film(args) => film::film(args),
        Command::New { name } => start::new_job(name),
        Command::Record { job } => start::record(job),
        Command::Coupon(command) => coupon::coupon(command),
        Command::Shelf(ShelfCommand::Init { dir }) => start::shelf(dir),
        Command::Schema { of } => schema::print(*of),
    }
}

/// The folder of a pack, if that is what is named.
fn pack_folder(what: &Path) -> Option<PathBuf> {
    match what.file_name() {
        Some(name) if name == "plan.json" => what.parent().map(Path::to_owned),
        _ => what.join("plan.json").is_file().then(|| what.to_owned()),
    }
}

/// The plan that lies in a pack.
fn plan_in(pack: &Path) -> Result<PlanDoc, Trouble> {
    const HINT: &str = "name the folder of a pack that `treen plan JOB --out DIR` wrote, or its plan.json";
    let Some(folder) = pack_folder(pack) else {
        return Err(Trouble::input(format!("`{}` is no pack: no plan.json lies in it", pack.display()), HINT));
    };
    let path = folder.join("plan.json");
    let text = texts::read_text(&path, HINT)?;
    PlanDoc::read(text.as_bytes()).map_err(|e| Trouble::input(format!("`{}`: {e}", path.display()), HINT))
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
