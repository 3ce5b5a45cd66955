//! `treen check`: what is wrong with a job, without planning it.

use super::{pass, understood};
use crate::cli::CheckArgs;
use crate::pipeline::{Accuracy, Pipeline};
use crate::texts::Sources;
use crate::{Outcome, Trouble, console, files};
use base::{Report, mm};
use std::path::Path;

pub(crate) fn check(args: &CheckArgs) -> Result<Outcome, Trouble> {
    let sources = Sources::read(&args.job)?;
    let mut pipeline = Pipeline::default();
    if let Some(path) = &args.undercut {
        picture(path, &mut pipeline, &sources)?;
    }
    let (wish, piece) = understood(&mut pipeline, &sources, Accuracy::default().chord)?;
    let piece = piece.value.ok_or_else(|| Trouble::Fault("the shape was made and is not there".into()))?;
    let found = route::look_over(&wish.request(&piece));
    pass(&found, &sources)?;
    let units = wish.job.units;
    console::say(&format!(
        "{}: the text is in order, the shape can be made (wall {}, {}), and boards, cutters and resin of this shelf suffice.\n",
        wish.job.title,
        mm(piece.least_wall).print(units),
        base::sensible(piece.volume_exact / 1000.0, "ml"),
    ));
    Ok(Outcome::Done)
}

/// Draws what no cutter reaches of a solid from elsewhere. What is wrong with the job is told afterwards, as without a picture.
fn picture(path: &Path, pipeline: &mut Pipeline, sources: &Sources) -> Result<(), Trouble> {
    let Some(wish) = pipeline.read(sources)?.value else { return Ok(()) };
    let Some(mesh) = &wish.job.piece.mesh else {
        return Err(Trouble::input(
            "this piece is drawn, and cutters reach all of it: there is no undercut to be seen",
            "leave `--undercut` away",
        ));
    };
    let made = shape::brought::brought(mesh, wish.job.units, &mut Report::default());
    let Some((made, undercut)) = made.and_then(|made| Some((made.mesh, made.undercut?))) else {
        console::say("No undercut was found; no picture is written.\n");
        return Ok(());
    };
    let svg = papers::undercut_svg(&made, &undercut, wish.job.units);
    files::write_new(path, &svg)
        .map_err(|fault| Trouble::input(fault.to_string(), "name a new file in a folder you may write to"))?;
    console::say(&format!("The undercut is drawn in {}.\n", path.display()));
    Ok(())
}
