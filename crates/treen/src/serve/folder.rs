//! The folder that is served, and the fence around it: no path outside it is read or written, not by a link either.

use super::wire::TroubleView;
use crate::texts::{OWN_SHELF, Sources, Texts, files_of};
use crate::{Trouble, files};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::{ErrorKind, Read, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::Mutex;

/// The largest text that is read or written, bytes.
pub const GREATEST_TEXT: usize = 1 << 20;
/// Folders below the served one that are looked into.
const DEPTH: usize = 4;
/// Entries looked at before giving up on a folder that is no workshop folder.
const MOST_ENTRIES: usize = 20_000;
/// The job's file.
const JOB: &str = "job.toml";
/// Files beside it that the plan is made from.
const SHOP: &str = "shop.toml";
const BESIDE: [&str; 2] = ["shelf.toml", "shop.toml"];

/// Why a file was not read or written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// There is no such job or file in the folder.
    NotThere(String),
    /// It may not be done, and why.
    NotAllowed(String),
    /// The text has changed since the version it was to be based on.
    Conflict,
    /// The system says no.
    Fault(String),
}

impl Refusal {
    /// In words.
    pub fn told(&self) -> TroubleView {
        let (error, hint) = match self {
            Self::NotThere(what) => (format!("there is no {what} here"), "look whether it was moved or renamed"),
            Self::NotAllowed(why) => (why.clone(), "take another name or file"),
            Self::Conflict => {
                ("the file has changed meanwhile; nothing was written".to_owned(), "look at both, keep one")
            }
            Self::Fault(why) => (why.clone(), "look whether the folder may be written to and the disk has room"),
        };
        TroubleView { error, hint: hint.to_owned() }
    }
}

/// A text and its version.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobText {
    /// The text.
    pub text: String,
    /// Its version.
    pub version: String,
}

/// The served folder.
#[derive(Debug)]
pub struct Folder {
    /// Without links.
    root: PathBuf,
    /// One change at a time.
    writing: Mutex<()>,
}

impl Folder {
    /// Opens a folder.
    ///
    /// # Errors
    /// [`Trouble::Input`] if it is not there.
    pub fn open(path: &Path) -> Result<Self, Trouble> {
        let hint = "name the folder your jobs lie in, or make it";
        let root = path.canonicalize().map_err(|e| Trouble::input(format!("`{}`: {e}", path.display()), hint))?;
        if !root.is_dir() {
            return Err(Trouble::input(format!("`{}` is a file, and a folder was expected", path.display()), hint));
        }
        Ok(Self { root, writing: Mutex::default() })
    }

    /// Its path.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The jobs in it, by the folder each lies in, in order.
    pub fn jobs(&self) -> Vec<String> {
        let mut found = Vec::new();
        let mut left = MOST_ENTRIES;
        self.look_into(&self.root, DEPTH, &mut left, &mut found);
        found.sort();
        found
    }

    fn look_into(&self, dir: &Path, depth: usize, left: &mut usize, found: &mut Vec<String>) {
        let Ok(entries) = std::fs::read_dir(dir) else { return };
        for entry in entries.flatten() {
            if *left == 0 {
                return;
            }
            *left -= 1;
            let name = entry.file_name();
            let hidden = name.to_string_lossy().starts_with('.');
            // A link to a folder is no folder here: nothing is followed out of the fence.
            let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
            if name == JOB && self.id_of(dir).is_some_and(|id| self.file(&id, JOB).is_ok()) {
                found.extend(self.id_of(dir));
            } else if is_folder && !hidden && depth > 0 && name != "node_modules" && name != "target" {
                self.look_into(&entry.path(), depth - 1, left, found);
            }
        }
    }

    fn id_of(&self, dir: &Path) -> Option<String> {
        let inner = dir.strip_prefix(&self.root).ok()?;
        let parts: Option<Vec<&str>> = inner.components().map(|c| c.as_os_str().to_str()).collect();
        Some(parts?.join("/")).map(|id| if id.is_empty() { ".".to_owned() } else { id })
    }

    /// The folder of a job, from its id.
    fn dir(&self, job: &str) -> Result<PathBuf, Refusal> {
        let inner = Path::new(if job == "." { "" } else { job });
        let plain = inner.components().all(|part| matches!(part, Component::Normal(_)));
        if job.is_empty() || !plain || job.contains(['\\', '\0']) {
            return Err(Refusal::NotAllowed(format!("“{job}” is no folder within this one")));
        }
        Ok(self.root.join(inner))
    }

    /// A file beside a job, with every link followed; refused if that leads out of the folder.
    fn file(&self, job: &str, name: &str) -> Result<PathBuf, Refusal> {
        let path = self.dir(job)?.join(name);
        let path = path.canonicalize().map_err(|e| match e.kind() {
            ErrorKind::NotFound | ErrorKind::NotADirectory => Refusal::NotThere(format!("{job}/{name}")),
            _ => Refusal::Fault(format!("{job}/{name}: {e}")),
        })?;
        if !path.starts_with(&self.root) {
            return Err(Refusal::NotAllowed(format!("{job}/{name} leads out of this folder")));
        }
        if !path.is_file() {
            return Err(Refusal::NotAllowed(format!("{job}/{name} is no file")));
        }
        Ok(path)
    }

    /// Where a file beside a job would stand that is not there yet. What stands there as a link to nothing is replaced, not followed.
    fn new_file(&self, job: &str, name: &str) -> Result<PathBuf, Refusal> {
        let dir = self.dir(job)?.canonicalize().map_err(|_| Refusal::NotThere(job.to_owned()))?;
        match dir.starts_with(&self.root) {
            true => Ok(dir.join(name)),
            false => Err(Refusal::NotAllowed(format!("{job} leads out of this folder"))),
        }
    }

    /// A job's text.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn read(&self, job: &str) -> Result<JobText, Refusal> {
        let text = self.text(job, JOB)?;
        Ok(JobText { version: version_of(&text), text })
    }

    fn text(&self, job: &str, name: &str) -> Result<String, Refusal> {
        let path = self.file(job, name)?;
        let fault = |e: std::io::Error| Refusal::Fault(format!("{job}/{name}: {e}"));
        let file = std::fs::File::open(path).map_err(fault)?;
        let mut bytes = Vec::new();
        file.take(GREATEST_TEXT as u64 + 1).read_to_end(&mut bytes).map_err(fault)?;
        if bytes.len() > GREATEST_TEXT {
            return Err(Refusal::NotAllowed(format!("{job}/{name} is larger than any such text: more than 1 MB")));
        }
        String::from_utf8(bytes)
            .map_err(|_| Refusal::NotAllowed(format!("{job}/{name} is not plain text in UTF-8: save it as that")))
    }

    /// All that a job is planned from, with this text in the place of the file's if one is given.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn sources(&self, job: &str, text: Option<&str>) -> Result<Sources, Refusal> {
        let mut texts = Texts::default();
        let name = |file: &str| if job == "." { file.to_owned() } else { format!("{job}/{file}") };
        let text = text.map_or_else(|| self.text(job, JOB), |text| Ok(text.to_owned()))?;
        let number = texts.put(name(JOB), text);
        let [shelf, shop] = BESIDE.map(|file| match self.text(job, file) {
            Ok(text) => Ok(Some((name(file), text))),
            Err(Refusal::NotThere(_)) => Ok(None),
            Err(refusal) => Err(refusal),
        });
        let shelf = match shelf? {
            Some((name, text)) => texts.put(name, text),
            None => texts.put(OWN_SHELF, trade::DEFAULT_SHELF),
        };
        let shop = shop?.map(|(name, text)| texts.put(name, text));
        // What the job names is read from beside its file, and from nowhere else.
        let files = files_of(texts.content(number), &self.file(job, JOB)?);
        Ok(Sources { job: number, shelf, shop, record: None, texts, files })
    }

    /// Saves a job's text if it still stands at this version. The file is replaced whole or not at all.
    ///
    /// # Errors
    /// [`Refusal::Conflict`] if it does not; nothing is written then.
    pub fn write(&self, job: &str, based_on: &str, text: &str) -> Result<JobText, Refusal> {
        if text.len() > GREATEST_TEXT {
            return Err(Refusal::NotAllowed("the text is larger than any job: more than 1 MB".to_owned()));
        }
        self.replace(job, JOB, text, &|| Ok(self.read(job)?.version == based_on))?;
        Ok(JobText { text: text.to_owned(), version: version_of(text) })
    }

    /// Writes the shop's own file beside a job whole or not at all, if it still is what it was; `None` where there was none.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn write_shop(&self, job: &str, before: Option<&str>, text: &str) -> Result<(), Refusal> {
        self.replace(job, SHOP, text, &|| match self.text(job, SHOP) {
            Ok(now) => Ok(before == Some(now.as_str())),
            Err(Refusal::NotThere(_)) => Ok(before.is_none()),
            Err(refusal) => Err(refusal),
        })
    }

    /// Puts a text in the place of a file of a job whole or not at all, if it still is what it should be.
    fn replace(
        &self,
        job: &str,
        name: &str,
        text: &str,
        is_same: &dyn Fn() -> Result<bool, Refusal>,
    ) -> Result<(), Refusal> {
        let _alone = self.writing.lock().unwrap_or_else(|broken| broken.into_inner());
        let path = match self.file(job, name) {
            Err(Refusal::NotThere(_)) => self.new_file(job, name)?,
            found => found?,
        };
        let fault = |e: std::io::Error| Refusal::Fault(format!("{job}/{name} can't be written: {e}"));
        let parent = path.parent().unwrap_or(&self.root);
        let mut new = tempfile::NamedTempFile::new_in(parent).map_err(fault)?;
        new.write_all(text.as_bytes()).map_err(fault)?;
        new.as_file().sync_all().map_err(fault)?;
        // A new file gets what the job's has.
        let before =
            std::fs::metadata(&path).or_else(|_| std::fs::metadata(self.file(job, JOB).unwrap_or(path.clone())));
        new.as_file().set_permissions(before.map_err(fault)?.permissions()).map_err(fault)?;
        if !is_same()? {
            return Err(Refusal::Conflict);
        }
        new.persist(&path).map_err(|e| fault(e.error))?;
        Ok(())
    }

    /// Begins a job in a new folder.
    ///
    /// # Errors
    /// [`Refusal`], also if the folder exists.
    pub fn begin(&self, name: &str, contents: &[(&str, &[u8])]) -> Result<String, Refusal> {
        let name = name.trim();
        let plain = |c: char| !c.is_control() && !"/\\:*?\"<>|".contains(c);
        if name.is_empty() || name.starts_with('.') || name.len() > 80 || !name.chars().all(plain) {
            let why = format!("“{name}” can't be the name of a folder: take a plain name, such as tidepool");
            return Err(Refusal::NotAllowed(why));
        }
        let _alone = self.writing.lock().unwrap_or_else(|broken| broken.into_inner());
        let dir = self.dir(name)?;
        std::fs::create_dir(&dir).map_err(|e| match e.kind() {
            ErrorKind::AlreadyExists => Refusal::NotAllowed(format!("there is a folder “{name}” already")),
            _ => Refusal::Fault(format!("{name}: {e}")),
        })?;
        for (file, bytes) in contents {
            files::write_over(&dir.join(file), bytes).map_err(|fault| Refusal::Fault(fault.to_string()))?;
        }
        Ok(name.to_owned())
    }

    /// Writes a pack into the folder `pack` beside a job, and says where that is.
    ///
    /// # Errors
    /// [`Refusal`]; before the first file is in place, nothing has changed.
    pub fn keep(
        &self,
        job: &str,
        pack: &BTreeMap<String, Vec<u8>>,
        withheld: impl IntoIterator<Item = String>,
    ) -> Result<String, Refusal> {
        let _alone = self.writing.lock().unwrap_or_else(|broken| broken.into_inner());
        let job_file = self.file(job, JOB)?;
        let dir = job_file.with_file_name("pack");
        // Neither the folder nor one of its folders may lead out of the fence.
        let inner = ["programs", "models", "pictures"].map(|name| dir.join(name));
        for path in std::iter::once(&dir).chain(&inner) {
            let is_link = std::fs::symlink_metadata(path).is_ok_and(|meta| meta.file_type().is_symlink());
            if is_link {
                return Err(Refusal::NotAllowed(format!(
                    "{} is a link; a pack is written to plain folders",
                    path.display()
                )));
            }
        }
        files::write_pack(&dir, pack, withheld).map_err(|fault| Refusal::Fault(fault.to_string()))?;
        let inner = dir.strip_prefix(&self.root).unwrap_or(&dir);
        Ok(inner.display().to_string())
    }

    /// What tells cheaply whether a job's files have changed, and those of these names that it is planned from, too: times
    /// and sizes.
    pub fn stamp(&self, job: &str, named: &[String]) -> Vec<(u64, u128)> {
        let mark = |name: &str| {
            let path = self.file(job, name).ok()?;
            let meta = std::fs::metadata(path).ok()?;
            let time = meta.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
            Some((meta.len(), time.as_nanos()))
        };
        let named = named.iter().map(String::as_str);
        [JOB, BESIDE[0], BESIDE[1]].into_iter().chain(named).map(|name| mark(name).unwrap_or_default()).collect()
    }
}

/// The version of a text: the beginning of its SHA-256.
pub fn version_of(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(12).map(|byte| format!("{byte:02x}")).collect()
}

/// The version of all that a plan is made from.
pub fn version_of_sources(sources: &Sources) -> String {
    let files = [Some(sources.job), Some(sources.shelf), sources.shop];
    let mut versions: Vec<String> =
        files.iter().map(|file| file.map_or(String::new(), |f| version_of(sources.texts.content(f)))).collect();
    // The files that a job names stand there with the hashes of their contents.
    versions.extend(serde_json::to_string(&sources.files));
    version_of(&versions.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn home() -> (tempfile::TempDir, Folder) {
        let home = tempfile::tempdir().unwrap();
        for (path, text) in [("shop/a/job.toml", "a"), ("shop/b/deep/job.toml", "b"), ("outside/job.toml", "secret")] {
            let path = home.path().join(path);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        }
        let folder = Folder::open(&home.path().join("shop")).unwrap();
        (home, folder)
    }

    #[test]
    fn jobs_are_found_by_their_folders() {
        let (_home, folder) = home();
        assert_eq!(folder.jobs(), ["a", "b/deep"]);
        assert_eq!(folder.read("b/deep").unwrap().text, "b");
        std::fs::write(folder.root().join("job.toml"), "here").unwrap();
        assert_eq!(folder.jobs(), [".", "a", "b/deep"]);
        assert_eq!(folder.read(".").unwrap().text, "here");
    }

    #[test]
    fn nothing_outside_is_read_or_written() {
        let (home, folder) = home();
        for id in ["..", "../outside", "a/../../outside", "/etc", "", "a/./..", "a\0", "..\\outside"] {
            assert!(matches!(folder.read(id), Err(Refusal::NotAllowed(_))), "{id}");
            assert!(folder.write(id, "x", "y").is_err(), "{id}");
        }
        for name in ["../x", "..", ".x", "", "a/b", "x\ny"] {
            assert!(folder.begin(name, &[("job.toml", &b""[..])]).is_err(), "{name:?}");
        }
        assert_eq!(std::fs::read_to_string(home.path().join("outside/job.toml")).unwrap(), "secret");
    }

    #[cfg(unix)]
    #[test]
    fn no_link_leads_out() {
        use std::os::unix::fs::symlink;
        let (home, folder) = home();
        let shop = folder.root();
        symlink(home.path().join("outside"), shop.join("link")).unwrap();
        std::fs::create_dir(shop.join("c")).unwrap();
        symlink(home.path().join("outside/job.toml"), shop.join("c/job.toml")).unwrap();
        symlink(home.path().join("outside/job.toml"), shop.join("a/shelf.toml")).unwrap();
        assert_eq!(folder.jobs(), ["a", "b/deep"]);
        for id in ["link", "c"] {
            assert!(matches!(folder.read(id), Err(Refusal::NotAllowed(_))), "{id}");
            assert!(matches!(folder.write(id, &version_of("secret"), "new"), Err(Refusal::NotAllowed(_))), "{id}");
        }
        assert!(matches!(folder.sources("a", None), Err(Refusal::NotAllowed(_))), "a shelf outside is not read");
        symlink(home.path().join("outside"), shop.join("b/deep/pack")).unwrap();
        let pack = BTreeMap::from([("plan.json".to_owned(), b"{}".to_vec())]);
        assert!(matches!(folder.keep("b/deep", &pack, []), Err(Refusal::NotAllowed(_))));
        assert!(!home.path().join("outside/plan.json").exists());
        assert_eq!(std::fs::read_to_string(home.path().join("outside/job.toml")).unwrap(), "secret");
        // A link that stays inside is fine, and stays a link.
        std::fs::create_dir(shop.join("d")).unwrap();
        symlink(shop.join("a/job.toml"), shop.join("d/job.toml")).unwrap();
        folder.write("d", &version_of("a"), "a2").unwrap();
        assert_eq!(folder.read("a").unwrap().text, "a2");
        assert!(std::fs::symlink_metadata(shop.join("d/job.toml")).unwrap().file_type().is_symlink());
    }

    #[test]
    fn a_text_that_changed_meanwhile_is_not_written_over() {
        let (_home, folder) = home();
        let first = folder.read("a").unwrap().version;
        let second = folder.write("a", &first, "mine").unwrap().version;
        assert_eq!(folder.write("a", &first, "theirs"), Err(Refusal::Conflict));
        assert_eq!(folder.read("a").unwrap().text, "mine");
        assert!(folder.write("a", &second, "theirs").is_ok());
        assert!(folder.write("a", &version_of("theirs"), &"x".repeat(GREATEST_TEXT + 1)).is_err());
    }

    #[test]
    fn what_a_shop_settles_is_written_beside_the_job_and_nowhere_else() {
        let (home, folder) = home();
        let id = folder.jobs().into_iter().find(|id| id != ".").unwrap();
        folder.write_shop(&id, None, "use_machine = \"hobby\"\n").unwrap();
        let path = folder.root().join(&id).join("shop.toml");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "use_machine = \"hobby\"\n");
        assert!(matches!(folder.write_shop(&id, None, "x = 1\n"), Err(Refusal::Conflict)));
        assert!(matches!(folder.write_shop(&id, Some("other"), "x = 1\n"), Err(Refusal::Conflict)));
        assert!(folder.write_shop("../elsewhere", None, "x = 1\n").is_err());
        #[cfg(unix)]
        {
            let outside = tempfile::tempdir().unwrap();
            std::fs::remove_file(&path).unwrap();
            std::os::unix::fs::symlink(outside.path().join("shop.toml"), &path).unwrap();
            folder.write_shop(&id, None, "x = 1\n").unwrap();
            assert!(!outside.path().join("shop.toml").exists(), "a link to nothing is not followed");
        }
        drop(home);
    }

    #[test]
    fn a_job_is_begun_only_where_none_is() {
        let (_home, folder) = home();
        assert_eq!(folder.begin("Plum bowl ", &[("job.toml", &b"x"[..])]), Ok("Plum bowl".into()));
        assert_eq!(folder.read("Plum bowl").unwrap().text, "x");
        assert!(matches!(folder.begin("a", &[("job.toml", &b"x"[..])]), Err(Refusal::NotAllowed(_))));
    }
}
