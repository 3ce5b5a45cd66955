//! `treen look`: pictures of the finished piece, before anything is planned.

use super::{at_work, pass, understood};
use crate::cli::LookArgs;
use crate::pipeline::{Accuracy, Pipeline};
use crate::texts::{Sources, job_file};
use crate::{Outcome, Trouble, console, files};

/// Names of the sheet and of the section.
const NAMES: [&str; 2] = ["look.png", "section.svg"];

pub(crate) fn look(args: &LookArgs) -> Result<Outcome, Trouble> {
    let sources = Sources::read(&args.job)?;
    at_work(None, |_| {
        let mut pipeline = Pipeline::default();
        let (wish, piece) = understood(&mut pipeline, &sources, Accuracy::default().chord)?;
        let piece = piece.value.ok_or_else(|| Trouble::Fault("the shape was made and is not there".into()))?;
        let (settled, found) = route::sketch(&wish.request(&piece));
        pass(&found, &sources)?;
        let settled = settled.ok_or_else(|| Trouble::Fault("nothing is wrong and there is nothing to see".into()))?;
        let pictures = papers::look(&wish.job.title, &piece.mesh, &settled, wish.job.units)
            .map_err(|fault| Trouble::Fault(fault.to_string()))?;
        let beside = job_file(&args.job.job).parent().map(|dir| dir.join("look"));
        let dir = args.out.clone().or(beside).unwrap_or_default();
        for (name, bytes) in NAMES.into_iter().zip(pictures) {
            files::write_over(&dir.join(name), &bytes)
                .map_err(|fault| Trouble::input(fault, "name a folder with `--out` that you may write to"))?;
        }
        let [sheet, section] = NAMES.map(|name| dir.join(name).display().to_string());
        console::say(&format!("Wrote {sheet} (from the front, from above, at the foot) and {section}.\n"));
        Ok(Outcome::Done)
    })
}
