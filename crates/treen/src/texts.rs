//! The texts of a run: read once, known by number in every finding.

use crate::Trouble;
use crate::cli::JobArgs;
use base::FileId;
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
    let bytes =
        std::fs::read(path).map_err(|e| Trouble::input(format!("`{}` can't be read: {e}", path.display()), hint))?;
    let text = String::from_utf8(bytes);
    text.map_err(|_| Trouble::input(format!("`{}` is not plain text (UTF-8 was expected)", path.display()), hint))
}
