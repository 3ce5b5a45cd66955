//! `treen prove`: judges a written pack, or a job with another program in the place of one of ours.

use super::{at_work, pack_folder, settle, understood};
use crate::cli::ProveArgs;
use crate::pipeline::{Accuracy, Instead, Pipeline, prove_pack};
use crate::texts::{Sources, read_text};
use crate::{Outcome, Trouble, console, summary};
use proof::Proof;
use std::path::Path;
use workpiece::Setup;

pub(crate) fn prove(args: &ProveArgs) -> Result<Outcome, Trouble> {
    let (proof, title) = match pack_folder(&args.job.job) {
        Some(dir) if args.setup.is_some() => {
            let text = format!("`{}` is a pack, and `--setup` goes with a job", dir.display());
            return Err(Trouble::input(text, "change the program in the pack and prove that, or name the job"));
        }
        Some(dir) if args.job.shelf.is_some() || args.job.record.is_some() => {
            let text = format!("`{}` is a pack: it holds its shelf and what was measured", dir.display());
            return Err(Trouble::input(text, "leave `--shelf` and `--record` away, or name the job"));
        }
        Some(dir) => of_pack(args, &dir)?,
        None => of_job(args)?,
    };
    console::say(&summary::of_proof(&title, &proof));
    Ok(if proof.fails() { Outcome::CheckFails } else { Outcome::Done })
}

fn of_pack(args: &ProveArgs, dir: &Path) -> Result<(Proof, String), Trouble> {
    at_work(args.work.threads, |progress| {
        let read = |name: &str| std::fs::read(dir.join(name)).ok();
        let (proof, doc) = prove_pack(&read, args.work.pitch, progress)?;
        Ok((proof, doc.title))
    })
}

fn of_job(args: &ProveArgs) -> Result<(Proof, String), Trouble> {
    let sources = Sources::read(&args.job)?;
    let program = args.program.as_deref().map(|path| read_text(path, "name the program to judge")).transpose()?;
    at_work(args.work.threads, |progress| {
        let mut pipeline = Pipeline::default();
        let (wish, piece) = understood(&mut pipeline, &sources, Accuracy::default().chord)?;
        let planned = pipeline.plan(&wish, &piece, progress)?;
        let plan = settle(&planned, &sources)?;
        let mut instead = Instead::new();
        if let (Some(setup), Some(text)) = (&args.setup, program) {
            instead.insert(replaced(&plan.setups, setup, args)?, text);
        }
        let proven = pipeline.prove(&planned, &instead, args.work.pitch, progress)?;
        Ok((settle(&proven, &sources)?.as_ref().clone(), plan.title.clone()))
    })
}

/// The path of the program that makes room for the maker's.
fn replaced(setups: &[Setup], id: &str, args: &ProveArgs) -> Result<String, Trouble> {
    let list = |names: &mut dyn Iterator<Item = &str>| names.collect::<Vec<_>>().join(", ");
    let Some(setup) = setups.iter().find(|setup| setup.id == id) else {
        let known = list(&mut setups.iter().map(|s| s.id.as_str()));
        return Err(Trouble::input(format!("this job has no setup `{id}`"), &format!("take one of: {known}")));
    };
    let files: Vec<&str> =
        std::iter::once(setup.look_first.as_str()).chain(setup.programs.iter().map(|p| p.file.as_str())).collect();
    let name_of = |path: &Path| path.file_name().map(|n| n.to_string_lossy().into_owned());
    let wanted = args.instead_of.clone().or_else(|| args.program.as_deref().and_then(name_of));
    let same =
        |file: &&&str| wanted.as_deref().is_some_and(|w| w == **file || name_of(Path::new(file)).as_deref() == Some(w));
    match (files.iter().find(same), &setup.programs[..]) {
        (Some(file), _) => Ok((*file).to_owned()),
        (None, [only]) if args.instead_of.is_none() => Ok(only.file.clone()),
        _ => {
            let text = format!("the setup `{id}` has several programs, and which of them is replaced is not said");
            Err(Trouble::input(text, &format!("add `--instead-of` with one of: {}", list(&mut files.iter().copied()))))
        }
    }
}
