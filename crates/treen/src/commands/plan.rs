//! `treen plan`: a job in, a proven shop pack out.

use super::{at_work, settle, understood};
use crate::cli::PlanArgs;
use crate::pipeline::{Accuracy, Instead, Pipeline};
use crate::texts::Sources;
use crate::{Outcome, Trouble, console, files, summary};
use papers::PackOptions;

pub(crate) fn plan(args: &PlanArgs) -> Result<Outcome, Trouble> {
    let sources = Sources::read(&args.job)?;
    at_work(args.work.threads, |progress| {
        let mut pipeline = Pipeline::default();
        let accuracy = Accuracy { pitch: args.work.pitch, ..Accuracy::default() };
        let (wish, piece) = understood(&mut pipeline, &sources, accuracy.chord)?;
        let planned = pipeline.plan(&wish, &piece, progress)?;
        let plan = settle(&planned, &sources)?;
        let proven = pipeline.prove(&planned, &Instead::new(), accuracy.pitch, progress)?;
        let proof = settle(&proven, &sources)?;
        let options = PackOptions { withhold_programs: proof.fails() && !args.allow_failing, derivations: args.why };
        let pack = settle(&pipeline.papers(&plan, &proven, options, progress)?, &sources)?;
        let withheld = plan.programs.keys().filter(|_| options.withhold_programs).cloned();
        files::write_pack(&args.out, &pack.files, withheld)
            .map_err(|fault| Trouble::input(fault, "name a folder with `--out` that you may write to"))?;
        progress.clear();
        console::say(&summary::of_plan(&plan, &proof, &args.out, options.withhold_programs));
        Ok(if proof.fails() { Outcome::CheckFails } else { Outcome::Done })
    })
}
