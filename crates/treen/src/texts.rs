//! The texts of a run: read once, known by number in every finding.

use crate::Trouble;
use crate::cli::JobArgs;
use base::{FileId, line_column};
use job::{Content, Files};
use std::io::{ErrorKind, Read};
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
    /// The files that the job names.
    pub files: Files,
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
        let files = files_of(texts.content(job), &path);
        Ok(Self { job, shelf, shop, record: record.transpose()?, texts, files })
    }
}

/// The files that the text of a job names, read from the folder of its file; for each that can't be, why.
pub fn files_of(job: &str, file: &Path) -> Files {
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut files = Files::default();
    for (name, kind) in job::named_files(job) {
        let found = file_within(folder, &name, kind.greatest_size()).map(Content::new);
        files.put(name, found);
    }
    files
}

/// The bytes of a file in a folder or below it, also when links are followed; or why it can't be read.
fn file_within(folder: &Path, name: &str, most: u64) -> Result<Vec<u8>, String> {
    let plainly = |error: std::io::Error| why(&error);
    let home = folder.canonicalize().map_err(plainly)?;
    let path = home.join(name).canonicalize().map_err(plainly)?;
    if !path.starts_with(&home) {
        return Err("is a link that leads out of the folder of the job".to_owned());
    }
    let about = std::fs::metadata(&path).map_err(plainly)?;
    if !about.is_file() {
        return Err("is no plain file".to_owned());
    }
    let mut bytes = Vec::new();
    // One byte more than allowed is enough to see that there is too much, should the file grow meanwhile.
    let size = match about.len() {
        size if size > most => size,
        _ => std::fs::File::open(&path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes)).map_err(plainly)?
            as u64,
    };
    if size > most {
        return Err(format!("is larger than the {} MB that such a file may have", most >> 20));
    }
    Ok(bytes)
}

/// Why a file can't be read, in plain words.
fn why(error: &std::io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "is not there".to_owned(),
        ErrorKind::IsADirectory => "is a folder, and a file was expected".to_owned(),
        ErrorKind::PermissionDenied => "may not be read by you".to_owned(),
        _ => format!("can't be read: {error}"),
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
    let bytes = std::fs::read(path).map_err(|error| Trouble::input(format!("`{name}` {}", why(&error)), hint))?;
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
    fn files_of_a_job_lie_in_its_folder_and_are_no_larger_than_allowed() {
        let home = tempfile::tempdir().unwrap();
        let job = home.path().join("job");
        std::fs::create_dir_all(job.join("type")).unwrap();
        std::fs::write(job.join("type/hand.ttf"), b"0123456789").unwrap();
        std::fs::write(home.path().join("secret.ttf"), b"secret").unwrap();
        let read = |name, most| file_within(&job, name, most);
        assert_eq!(read("type/hand.ttf", 10).unwrap(), b"0123456789");
        assert!(read("type/hand.ttf", 9).unwrap_err().contains("larger"));
        assert_eq!(read("other.ttf", 9).unwrap_err(), "is not there");
        assert!(read("type", 9).unwrap_err().contains("no plain file"));
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("../secret.ttf", job.join("out.ttf")).unwrap();
            std::os::unix::fs::symlink("type/hand.ttf", job.join("in.ttf")).unwrap();
            std::os::unix::fs::symlink("/dev/zero", job.join("type/zero.ttf")).unwrap();
            assert!(read("out.ttf", 9).unwrap_err().contains("leads out"));
            assert!(read("type/zero.ttf", 9).unwrap_err().contains("leads out"));
            assert_eq!(read("in.ttf", 10).unwrap(), b"0123456789");
        }
        let text = "[piece]\nmark = { text = 'A', typeface = 'type/hand.ttf' }";
        assert_eq!(files_of(text, &job.join("job.toml")).get("type/hand.ttf"), Some(&Ok(Content::new(*b"0123456789"))));
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
