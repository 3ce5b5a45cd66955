//! `treen check`: what is wrong with a job, without planning it.

use super::{pass, understood};
use crate::cli::CheckArgs;
use crate::pipeline::{Accuracy, Pipeline};
use crate::texts::Sources;
use crate::{Outcome, Trouble, console};
use base::mm;

pub(crate) fn check(args: &CheckArgs) -> Result<Outcome, Trouble> {
    let sources = Sources::read(&args.job)?;
    let mut pipeline = Pipeline::default();
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
