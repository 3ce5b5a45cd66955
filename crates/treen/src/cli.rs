//! The words of the command line.

use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From rough boards to a finished bowl: plans every step, writes the programs and proves them.
#[derive(Debug, Parser)]
#[command(name = "treen", version, about, arg_required_else_help = true)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Plan a job, prove it and write the shop pack.
    Plan(PlanArgs),
    /// Judge a pack again from the programs that lie in it, or a job with another program in the place of one of ours.
    Prove(ProveArgs),
    /// Say why a figure of a pack is what it is: formula, inputs and source, down to job, shelf and tables.
    Why(WhyArgs),
    /// Say which inputs differ between two packs, and which figures they moved.
    Compare(CompareArgs),
    /// Read a job and say what is wrong with it, without planning.
    Check(CheckArgs),
    /// Open the page of a folder of jobs in the browser: shape, route, proof and papers, for whoever would rather look.
    Serve(ServeArgs),
    /// Draw the finished piece: a sheet of three views, and a section with sizes.
    Look(LookArgs),
    /// Write a short film of the whole making, from boards to finished piece, as an animated picture (GIF).
    Film(FilmArgs),
    /// Begin a new job: writes NAME/job.toml.
    New {
        /// Title of the piece; also the name of the folder.
        name: String,
    },
    /// Begin the record of what you measure on a piece: writes record.toml beside the job.
    Record {
        /// The job file, or the folder it lies in.
        job: PathBuf,
    },
    /// Small test pieces that tell how true your machine is and how well your tape holds.
    #[command(subcommand)]
    Coupon(CouponCommand),
    /// What your shop owns.
    #[command(subcommand)]
    Shelf(ShelfCommand),
    /// Print the JSON Schema of a file.
    Schema {
        /// Which file.
        of: SchemaOf,
    },
}

#[derive(Debug, Subcommand)]
pub(crate) enum CouponCommand {
    /// Begin the flip coupon: writes the job of a small tray cut from both sides, and a sheet for its readings.
    Flip {
        /// The folder to write to.
        dir: PathBuf,
    },
    /// Begin the pull coupon of tape: writes a sheet for its pulls.
    Tape {
        /// The folder to write to.
        dir: PathBuf,
    },
    /// Say what filled-in readings mean, and what to write on the shelf.
    Read {
        /// The readings.toml.
        file: PathBuf,
    },
}

#[derive(Debug, clap::Args)]
pub(crate) struct JobArgs {
    /// The job file, or the folder it lies in (for `prove`, the folder of a pack as well).
    pub(crate) job: PathBuf,
    /// The shelf file; without it `shelf.toml` beside the job, and without that the shelf that comes with treen.
    #[arg(long, value_name = "FILE")]
    pub(crate) shelf: Option<PathBuf>,
    /// The record of what you measured so far: changes numbers to set and verdicts, never a program.
    #[arg(long, value_name = "FILE")]
    pub(crate) record: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct WorkArgs {
    /// Column pitch of the proof, mm.
    #[arg(long, value_name = "MM", default_value = "0.1", value_parser = pitch)]
    pub(crate) pitch: f64,
    /// Threads to work with; all cores without it. The result is the same for any number.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct PlanArgs {
    #[command(flatten)]
    pub(crate) job: JobArgs,
    /// The folder to write the pack to.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Write the programs even if a check fails.
    #[arg(long)]
    pub(crate) allow_failing: bool,
    /// Print at the end of the shop sheet where each figure comes from.
    #[arg(long)]
    pub(crate) why: bool,
    #[command(flatten)]
    pub(crate) work: WorkArgs,
}

#[derive(Debug, clap::Args)]
pub(crate) struct FilmArgs {
    #[command(flatten)]
    pub(crate) job: JobArgs,
    /// The file to write; film.gif beside the job without it.
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Threads to work with; all cores without it. The result is the same for any number.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct WhyArgs {
    /// The folder of a pack, or its plan.json.
    pub(crate) pack: PathBuf,
    /// The figure or the check; without it all figures are listed, and with the start of a name those that begin so.
    pub(crate) figure: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct CompareArgs {
    /// The pack before.
    pub(crate) before: PathBuf,
    /// The pack after.
    pub(crate) after: PathBuf,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ProveArgs {
    #[command(flatten)]
    pub(crate) job: JobArgs,
    /// With a job: the setup whose program is replaced.
    #[arg(long, value_name = "ID", requires = "program")]
    pub(crate) setup: Option<String>,
    /// With a job: the program to judge in the place of ours.
    #[arg(long, value_name = "FILE", requires = "setup")]
    pub(crate) program: Option<PathBuf>,
    /// Where the setup has several programs: which of them is replaced.
    #[arg(long, value_name = "NAME", requires = "program")]
    pub(crate) instead_of: Option<String>,
    #[command(flatten)]
    pub(crate) work: WorkArgs,
}

#[derive(Debug, clap::Args)]
pub(crate) struct ServeArgs {
    /// The folder your jobs lie in.
    #[arg(default_value = ".")]
    pub(crate) folder: PathBuf,
    /// Port of this machine; 0 for any that is free.
    #[arg(long, value_name = "N", default_value_t = 8336)]
    pub(crate) port: u16,
    #[command(flatten)]
    pub(crate) work: WorkArgs,
}

#[derive(Debug, clap::Args)]
pub(crate) struct CheckArgs {
    #[command(flatten)]
    pub(crate) job: JobArgs,
    /// Of a solid from elsewhere: write a picture (SVG) of what no cutter reaches.
    #[arg(long, value_name = "FILE")]
    pub(crate) undercut: Option<PathBuf>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct LookArgs {
    #[command(flatten)]
    pub(crate) job: JobArgs,
    /// The folder to write the pictures to; without it `look` beside the job.
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ShelfCommand {
    /// Write the shelf that comes with treen to DIR/shelf.toml, to edit.
    Init {
        /// The folder.
        dir: PathBuf,
    },
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SchemaOf {
    /// The job file.
    Job,
    /// The shelf file.
    Shelf,
    /// The overrides of one shop (shop.toml beside the job).
    Shop,
    /// The record of what was measured on one piece.
    Record,
    /// plan.json.
    Plan,
    /// proof.json.
    Proof,
}

fn pitch(text: &str) -> Result<f64, String> {
    let wrong = || "a pitch from 0.02 to 1 mm was expected, such as 0.1".to_owned();
    let value: f64 = text.trim().trim_end_matches("mm").trim().parse().map_err(|_| wrong())?;
    if (0.02..=1.0).contains(&value) { Ok(value) } else { Err(wrong()) }
}
