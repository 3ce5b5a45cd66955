//! The job file: one TOML text that describes the piece, its casts, its blank and the maker's choices.
//!
//! Text goes in, a typed request with places comes out, with every mistake of the text at once. Nothing is looked up
//! in a table here and no geometry is done; what a job cannot know (does the shelf hold this cutter?) is asked later,
//! with the places kept in [`Placed`].

mod build;
mod checks;
mod date;
mod files;
mod keys;
mod measured;
mod mend;
mod reader;
mod request;
mod schema;
mod starter;

pub use files::{Content, FileKind, Files, JobFile};
pub use measured::{Measured, parse_measured};
pub use request::*;

use base::{At, FileId, Report};
use reader::Reading;

/// Reads a job that names no files, as [`parse_with`] does.
///
/// ```
/// let (job, report) = job::parse("title = 'Tidepool'\nhieght = 55", base::FileId(0));
/// assert!(job.is_none());
/// assert!(report.findings.iter().any(|f| f.code == "unknown-key"));
/// ```
pub fn parse(text: &str, file: FileId) -> (Option<Job>, Report) {
    parse_with(text, file, &Files::default())
}

/// Reads a job and gives it the files it names. The job is `None` only if the text is too broken to make one; any error in the report stops the work.
///
/// Findings come in the order of the text.
pub fn parse_with(text: &str, file: FileId, files: &Files) -> (Option<Job>, Report) {
    if let Some(report) = nothing_in(text, file) {
        return (None, report);
    }
    let Reading { record, units, mut report, .. } = reader::read(text, file, (&keys::JOB, "a job"), files);
    let job = build::build(&record, units, &mut report);
    report.findings.sort_by_key(|f| f.at.map(|at| at.start));
    (job, report)
}

/// One finding for a text without a single key, instead of one for each key it lacks.
fn nothing_in(text: &str, file: FileId) -> Option<Report> {
    let blank = |line: &str| line.trim().is_empty() || line.trim_start().starts_with('#');
    text.lines().all(blank).then(|| {
        let mut report = Report::default();
        let what = "there is nothing in this file; expected a job: a title, a [piece], a [blank] and a [route]";
        report
            .error("empty-job", Some(At::new(file, 0..0)), what)
            .hint("begin a job with `treen new NAME`, and edit what it writes");
        report
    })
}

/// What a job asks of the shelf by name. A text with mistakes elsewhere still gives its names, so that those which no
/// shelf knows can be told along with the rest.
///
/// ```
/// let names = job::names("[blank]\nwood = 'walnut'\nboards = 'thick'", base::FileId(0));
/// assert_eq!(names.wood.map(|w| w.value).as_deref(), Some("walnut"));
/// ```
pub fn names(text: &str, file: FileId) -> Names {
    build::names(&reader::read(text, file, (&keys::JOB, "a job"), &Files::default()).record)
}

/// The files that a job names, each once, with what they should be: read them and give them to [`parse_with`].
///
/// ```
/// let text = "[piece]\nmark = { text = 'Alder', typeface = 'type/hand.ttf' }";
/// assert_eq!(job::named_files(text), [("type/hand.ttf".to_owned(), job::FileKind::Typeface)]);
/// ```
pub fn named_files(text: &str) -> Vec<(String, FileKind)> {
    let mut named = reader::read(text, FileId(0), (&keys::JOB, "a job"), &Files::default()).named;
    let mut seen = std::collections::BTreeSet::new();
    named.retain(|(name, _)| seen.insert(name.clone()));
    named
}

/// The JSON Schema of the job file (a JSON text).
pub fn schema() -> String {
    schema::schema()
}

/// The JSON Schema of the record of measured values (a JSON text).
pub fn measured_schema() -> String {
    schema::measured_schema()
}

/// A commented record of measured values to fill in, for the piece with this title.
///
/// ```
/// let (measured, report) = job::parse_measured(&job::record_starter("Tidepool"), base::FileId(0));
/// assert_eq!(measured, Some(job::Measured::default()));
/// assert!(report.findings.is_empty());
/// ```
pub fn record_starter(title: &str) -> String {
    starter::record_starter(title)
}

/// A commented job to start from.
///
/// ```
/// let (job, report) = job::parse(&job::starter("Tidepool"), base::FileId(0));
/// assert_eq!(job.map(|j| j.title).as_deref(), Some("Tidepool"));
/// assert!(report.findings.is_empty());
/// ```
pub fn starter(title: &str) -> String {
    starter::starter(title)
}
