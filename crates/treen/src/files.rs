//! Writing packs: whole or not at all, and nothing else in the folder is touched.
//!
//! All files are written into a folder beside the target first and then moved into place one by one, `plan.json` last;
//! the old `plan.json` goes first, so a pack that was interrupted between two moves can't be taken for a whole one.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path, PathBuf};

/// The document that names the files of a pack.
const PLAN: &str = "plan.json";

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[error("`{}` can't be written: {why}", path.display())]
pub struct WriteFault {
    /// The file or folder.
    pub path: PathBuf,
    /// What the system says.
    pub why: std::io::Error,
}

fn at(path: &Path) -> impl Fn(std::io::Error) -> WriteFault {
    let path = path.to_owned();
    move |why| WriteFault { path: path.clone(), why }
}

/// Writes a pack into `dir`. Programs and models that an earlier plan left there (as its `plan.json` names them) and
/// those in `withheld` are taken away unless they are written anew.
///
/// # Errors
/// [`WriteFault`]; before the first file is moved, nothing in `dir` has changed.
pub fn write_pack(
    dir: &Path,
    files: &BTreeMap<String, Vec<u8>>,
    withheld: impl IntoIterator<Item = String>,
) -> Result<(), WriteFault> {
    std::fs::create_dir_all(dir).map_err(at(dir))?;
    let dir = dir.canonicalize().map_err(at(dir))?;
    let beside = dir.parent().unwrap_or(&dir);
    let staged = tempfile::Builder::new().prefix(".treen-").tempdir_in(beside).map_err(at(beside))?;
    for (name, bytes) in files {
        let path = staged.path().join(name);
        make_parent(&path)?;
        std::fs::write(&path, bytes).map_err(at(&path))?;
    }
    let mut stale = left_by_old_plan(&dir);
    stale.extend(withheld);
    remove(&dir.join(PLAN))?;
    for name in stale.iter().filter(|name| !files.contains_key(*name) && is_ours(name)) {
        remove(&dir.join(name))?;
    }
    for name in files.keys().filter(|name| *name != PLAN).chain(files.contains_key(PLAN).then_some(&PLAN.to_owned())) {
        let path = dir.join(name);
        make_parent(&path)?;
        std::fs::rename(staged.path().join(name), &path).map_err(at(&path))?;
    }
    Ok(())
}

/// Writes a new file, never over an old one.
///
/// # Errors
/// [`WriteFault`], also if the file exists.
pub fn write_new(path: &Path, text: &str) -> Result<(), WriteFault> {
    let file = staged(path, text.as_bytes())?;
    let file = file.persist_noclobber(path).map_err(|e| at(path)(e.error))?;
    readable_by_all(&file).map_err(at(path))
}

/// Writes a file, whole or not at all, over an old one if there is one.
///
/// # Errors
/// [`WriteFault`].
pub fn write_over(path: &Path, bytes: &[u8]) -> Result<(), WriteFault> {
    let file = staged(path, bytes)?;
    let file = file.persist(path).map_err(|e| at(path)(e.error))?;
    readable_by_all(&file).map_err(at(path))
}

/// The bytes in a temporary file beside the path.
fn staged(path: &Path, bytes: &[u8]) -> Result<tempfile::NamedTempFile, WriteFault> {
    use std::io::Write;
    make_parent(path)?;
    let parent = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(parent).map_err(at(parent))?;
    file.write_all(bytes).map_err(at(path))?;
    Ok(file)
}

/// A temporary file is private; a maker's file is as any other.
fn readable_by_all(file: &std::fs::File) -> std::io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.set_permissions(std::fs::Permissions::from_mode(0o644))?;
    }
    let _ = file;
    Ok(())
}

fn make_parent(path: &Path) -> Result<(), WriteFault> {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => std::fs::create_dir_all(parent).map_err(at(parent)),
        _ => Ok(()),
    }
}

fn remove(path: &Path) -> Result<(), WriteFault> {
    match std::fs::remove_file(path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(at(path)(e)),
        _ => Ok(()),
    }
}

/// Programs and models that the `plan.json` in a folder names, and the pictures of its steps; none if there is no such
/// document.
fn left_by_old_plan(dir: &Path) -> BTreeSet<String> {
    let text = std::fs::read(dir.join(PLAN)).unwrap_or_default();
    let mut names = BTreeSet::new();
    let Ok(old) = serde_json::from_slice::<serde_json::Value>(&text) else { return names };
    collect_names(&old, &mut names);
    let pictures = std::fs::read_dir(dir.join("pictures")).into_iter().flatten().flatten();
    names.extend(pictures.map(|entry| format!("pictures/{}", entry.file_name().to_string_lossy())));
    names
}

fn collect_names(value: &serde_json::Value, names: &mut BTreeSet<String>) {
    match value {
        serde_json::Value::String(text) if is_ours(text) => {
            names.insert(text.clone());
        }
        serde_json::Value::Array(list) => list.iter().for_each(|v| collect_names(v, names)),
        serde_json::Value::Object(map) => map.values().for_each(|v| collect_names(v, names)),
        _ => {}
    }
}

/// A path that only a pack writes: a program, a model or the picture of a step in its folder, and no way out of it.
fn is_ours(name: &str) -> bool {
    let path = Path::new(name);
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    let parts: Vec<Component<'_>> = path.components().collect();
    match &parts[..] {
        [Component::Normal(folder), Component::Normal(file)] => match folder.to_str() {
            Some("programs") => extension == "nc",
            Some("models") => matches!(extension, "stl" | "3mf" | "glb"),
            Some("pictures") => file.to_string_lossy().starts_with("step-") && matches!(extension, "png" | "svg"),
            _ => false,
        },
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pack(files: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
        files.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
    }

    fn names(dir: &Path) -> Vec<String> {
        let mut found: Vec<String> = Vec::new();
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            if path.is_dir() {
                found.extend(names(&path).into_iter().map(|inner| format!("{name}/{inner}")));
            } else {
                found.push(name);
            }
        }
        found.sort();
        found
    }

    #[test]
    fn only_what_an_earlier_plan_left_is_taken_away() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("out");
        let plan = r#"{"format": 1, "setups": [{"look_first": "programs/00-look.nc", "note": "../../other.nc",
            "programs": [{"file": "programs/01-a.nc"}, {"file": "programs/02-b.nc"}], "target": "models/x.stl"}]}"#;
        let old = [
            ("plan.json", plan),
            ("programs/01-a.nc", "a"),
            ("programs/02-b.nc", "b"),
            ("models/x.stl", "x"),
            ("pictures/step-02-glue.png", "p"),
        ];
        write_pack(&dir, &pack(&old), []).unwrap();
        std::fs::write(dir.join("programs/mine.nc"), "mine").unwrap();
        std::fs::write(dir.join("pictures/mine.png"), "mine").unwrap();
        std::fs::write(home.path().join("other.nc"), "other").unwrap();
        let new = [("plan.json", "{}"), ("programs/01-a.nc", "new")];
        write_pack(&dir, &pack(&new), ["programs/03-c.nc".to_owned()]).unwrap();
        assert_eq!(names(&dir), ["pictures/mine.png", "plan.json", "programs/01-a.nc", "programs/mine.nc"]);
        assert_eq!(std::fs::read_to_string(dir.join("programs/01-a.nc")).unwrap(), "new");
        assert_eq!(names(home.path()).iter().filter(|n| !n.starts_with("out/")).count(), 1, "{:?}", names(home.path()));
    }

    #[test]
    fn withheld_programs_do_not_stay_from_before() {
        let home = tempfile::tempdir().unwrap();
        write_pack(home.path(), &pack(&[("programs/01-a.nc", "a")]), []).unwrap();
        write_pack(home.path(), &pack(&[("plan.json", "{}")]), ["programs/01-a.nc".to_owned()]).unwrap();
        assert_eq!(names(home.path()), ["plan.json"]);
    }

    #[test]
    fn a_pack_that_can_not_be_written_changes_nothing() {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("out");
        write_pack(&dir, &pack(&[("plan.json", "{}"), ("programs/01-a.nc", "a")]), []).unwrap();
        // A file where a folder is needed.
        assert!(write_pack(&dir, &pack(&[("a", "1"), ("a/b", "2"), ("plan.json", "new")]), []).is_err());
        assert_eq!(names(&dir), ["plan.json", "programs/01-a.nc"]);
        assert_eq!(names(home.path()), ["out/plan.json", "out/programs/01-a.nc"]);
    }

    #[test]
    fn a_new_file_is_never_written_over_an_old_one() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("a/b.toml");
        write_new(&path, "one").unwrap();
        assert!(write_new(&path, "two").is_err());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one");
    }
}
