//! `treen schema`: the JSON Schemas of the files, for editors and for tools that read packs.

use crate::cli::SchemaOf;
use crate::{Outcome, Trouble, console};

pub(crate) fn print(of: SchemaOf) -> Result<Outcome, Trouble> {
    let mut text = match of {
        SchemaOf::Job => job::schema(),
        SchemaOf::Shelf => trade::schema(),
        SchemaOf::Shop => trade::overrides_schema(),
        SchemaOf::Record => job::measured_schema(),
        SchemaOf::Plan => papers::plan_schema(),
        SchemaOf::Proof => papers::proof_schema(),
    };
    if !text.ends_with('\n') {
        text.push('\n');
    }
    console::say(&text);
    Ok(Outcome::Done)
}
