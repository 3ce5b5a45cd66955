//! The texts of a run: read once, known by number in every finding.

use crate::Trouble;
use crate::cli::JobArgs;
use base::{FileId, line_column};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Name of the shelf that comes with treen, in messages.
pub const OWN_SHELF: &str = "(the shelf that comes with treen; `treen shelf init .` writes it out)";

/// One text and the name a person knows it by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// Path as given.
    pub name: String,
    /// Content.
    pub content: String,
}

/// Texts by [`FileId`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    list: Vec<Text>,
}

impl Texts {
    /// Keeps a text and numbers it.
    pub fn put(&mut self, name: impl Into<String>, content: impl Into<String>) -> FileId {
        self.list.push(Text { name: name.into(), content: content.into() });
        FileId((self.list.len() - 1) as u16)
    }

    /// Reads a file and keeps it.
    fn read(&mut self, path: &Path, hint: &str) -> Result<FileId, Trouble> {
        let content = read_text(path, hint)?;
        Ok(self.put(path.display().to_string(), content))
    }

    /// A text by its number.
    pub fn get(&self, file: FileId) -> Option<&Text> {
        self.list.get(usize::from(file.0))
    }

    /// The content of a text; empty if there is none of this number.
    pub fn content(&self, file: FileId) -> &str {
        self.get(file).map_or("", |text| &text.content)
    }
}

/// The texts a job is planned from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sources {
    /// All texts.
    pub texts: Texts,
    /// The job.
    pub job: FileId,
    /// The shelf.
    pub shelf: FileId,
    /// The overrides of one shop.
    pub shop: Option<FileId>,
    /// What the maker measured so far.
    pub record: Option<FileId>,
}

impl Sources {
    /// Reads the job (a file, or a folder with a `job.toml`), what lies beside it, and the files named with it.
    ///
    /// # Errors
    /// [`Trouble::Input`] if a file can't be read.
    pub(crate) fn read(args: &JobArgs) -> Result<Self, Trouble> {
        let mut texts = Texts::default();
        let path = job_file(&args.job);
        let beside = |name: &str| Some(path.with_file_name(name)).filter(|path| path.is_file());
        let job = texts.read(&path, "name a job file, or begin one with `treen new NAME`")?;
        let shelf = match args.shelf.clone().or_else(|| beside("shelf.toml")) {
            Some(path) => texts.read(&path, "name a shelf file, or write one with `treen shelf init DIR`")?,
            None => texts.put(OWN_SHELF, trade::DEFAULT_SHELF),
        };
        let shop =
            beside("shop.toml").map(|path| texts.read(&path, "make it readable, or take it away")).transpose()?;
        let record = args.record.as_deref().map(|path| texts.read(path, "name the record of what you measured"));
        Ok(Self { job, shelf, shop, record: record.transpose()?, texts })
    }
}

/// The job file in a folder, or the file itself.
pub fn job_file(path: &Path) -> PathBuf {
    if path.is_dir() { path.join("job.toml") } else { path.to_owned() }
}

/// Reads a text file.
///
/// # Errors
/// [`Trouble::Input`] if it can't be read or is no text.
pub fn read_text(path: &Path, hint: &str) -> Result<String, Trouble> {
    let name = path.display();
    let bytes = std::fs::read(path).map_err(|error| {
        let why = match error.kind() {
            ErrorKind::NotFound => "is not there".to_owned(),
            ErrorKind::IsADirectory => "is a folder, and a file was expected".to_owned(),
            ErrorKind::PermissionDenied => "may not be read by you".to_owned(),
            _ => format!("can't be read: {error}"),
        };
        Trouble::input(format!("`{name}` {why}"), hint)
    })?;
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let bad = error.as_bytes().get(good).copied().unwrap_or_default();
        let before = String::from_utf8_lossy(&error.as_bytes()[..good]);
        let (line, column) = line_column(&before, u32::try_from(good).unwrap_or(u32::MAX));
        let excerpt = before.lines().last().filter(|_| !before.ends_with('\n')).unwrap_or_default();
        let text = format!(
            "`{name}` is not plain text: {name}:{line}:{column}: after “{}” stands the byte {bad:#04x}; UTF-8 was expected",
            excerpt.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>()
        );
        Trouble::input(text, "save it as plain text in UTF-8, or name another file")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trouble(bytes: &[u8]) -> String {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("job.toml");
        std::fs::write(&path, bytes).unwrap();
        match read_text(&path, "do this") {
            Err(Trouble::Input(text)) => text,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_is_no_text_is_shown_where_it_ends_to_be_one() {
        let text = trouble(b"title = \"x\"\nwood = \"H\xf6lzer\"\n");
        assert!(text.contains("job.toml:2:10: after “wood = \"H” stands the byte 0xf6"), "{text}");
        assert!(trouble(b"\xff").contains("job.toml:1:1:"));
    }

    #[test]
    fn folders_and_files_that_are_not_there_are_told_plainly() {
        let home = tempfile::tempdir().unwrap();
        for (path, words) in [(home.path().to_owned(), "is a folder"), (home.path().join("x"), "is not there")] {
            let Err(Trouble::Input(text)) = read_text(&path, "do this") else { panic!("{path:?} was read") };
            assert!(text.contains(words) && text.contains("do this"), "{text}");
        }
    }
}
