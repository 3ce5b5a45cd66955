//! `treen film`: the whole making as an animated picture.

use super::{at_work, settle, understood};
use crate::cli::FilmArgs;
use crate::pipeline::{Accuracy, Pipeline, paper_trouble};
use crate::texts::{Sources, job_file};
use crate::{Outcome, Trouble, console, files};

pub(crate) fn film(args: &FilmArgs) -> Result<Outcome, Trouble> {
    let sources = Sources::read(&args.job)?;
    at_work(args.threads, |console| {
        let mut pipeline = Pipeline::default();
        let (wish, piece) = understood(&mut pipeline, &sources, Accuracy::default().chord)?;
        let plan = settle(&pipeline.plan(&wish, &piece, console)?, &sources)?;
        let bytes = papers::film(&plan, console).map_err(paper_trouble)?;
        let beside = job_file(&args.job.job).with_file_name("film.gif");
        let path = args.out.clone().unwrap_or(beside);
        files::write_over(&path, &bytes)
            .map_err(|fault| Trouble::input(fault, "name a file with `--out` that you may write"))?;
        let (size, path) = (bytes.len() as f64 / 1e6, path.display());
        console::say(&format!(
            "Wrote {path} ({size:.1} MB). It shows the making as planned; `treen plan` proves it.\n"
        ));
        Ok(Outcome::Done)
    })
}
