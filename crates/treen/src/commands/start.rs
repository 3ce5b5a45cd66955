//! `treen new`, `treen record` and `treen shelf init`: files to start from, never written over.

use crate::texts::{files_of, job_file, read_text};
use crate::{Outcome, Trouble, console, files};
use base::FileId;
use std::path::{Component, Path};

pub(crate) fn new_job(name: &str) -> Result<Outcome, Trouble> {
    let mut parts = Path::new(name).components();
    if name.trim().is_empty() || !matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None)) {
        return Err(Trouble::input(
            format!("`{name}` can't be the name of a folder"),
            "give a plain name, such as `tidepool`",
        ));
    }
    let path = Path::new(name).join("job.toml");
    write(&path, &job::starter(name))?;
    console::say(&format!(
        "Wrote {0}. Edit it, look at it with `treen check {1}`, plan it with `treen plan {1} --out {1}/pack`.\n",
        path.display(),
        quoted(name),
    ));
    Ok(Outcome::Done)
}

pub(crate) fn record(job: &Path) -> Result<Outcome, Trouble> {
    let file = job_file(job);
    let text = read_text(&file, "name a job file, or begin one with `treen new NAME`")?;
    let (parsed, _) = job::parse_with(&text, FileId(0), &files_of(&text, &file));
    let path = file.with_file_name("record.toml");
    write(&path, &job::record_starter(&parsed.map_or_else(|| file.display().to_string(), |job| job.title)))?;
    console::say(&format!(
        "Wrote {}. Fill in what you measure, then plan again with `--record {0}`: numbers to set change, programs do not.\n",
        path.display()
    ));
    Ok(Outcome::Done)
}

pub(crate) fn shelf(dir: &Path) -> Result<Outcome, Trouble> {
    let path = dir.join("shelf.toml");
    write(&path, trade::DEFAULT_SHELF)?;
    console::say(&format!(
        "Wrote {}. Put your own figures in. A shelf.toml beside a job is found by itself; `--shelf FILE` names another.\n",
        path.display()
    ));
    Ok(Outcome::Done)
}

fn quoted(name: &str) -> String {
    if name.contains(' ') { format!("\"{name}\"") } else { name.to_owned() }
}

/// Writes a file that is not there yet.
pub(super) fn write(path: &Path, text: &str) -> Result<(), Trouble> {
    files::write_new(path, text).map_err(|fault| {
        let hint = match fault.why.kind() {
            std::io::ErrorKind::AlreadyExists => {
                "it is there already, and is left alone: move it away, or take another name"
            }
            _ => "name a folder that you may write to",
        };
        Trouble::input(fault, hint)
    })
}
