//! Puts the page into the program: every file of `web/dist`, plain and packed, as that folder stands when this is built.
//! Without the folder the program carries no page, and says so where the page would be.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let home = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let dist = home.join("../../web/dist");
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-changed={}", dist.display());
    let mut files = Vec::new();
    gather(&dist, &dist, &mut files)?;
    files.sort();
    let mut text = String::from(
        "/// Name, content and content packed by gzip of each file.\nconst FILES: &[(&str, &[u8], &[u8])] = &[\n",
    );
    for name in &files {
        let path = dist.join(name);
        let path = path.display();
        let _ = writeln!(
            text,
            "({name:?}, include_bytes!({:?}), include_bytes!({:?})),",
            format!("{path}"),
            format!("{path}.gz")
        );
    }
    text.push_str("];\n");
    fs::write(Path::new(&env::var_os("OUT_DIR").unwrap_or_default()).join("page.rs"), text)
}

/// Names from `root` of the files that have a packed one beside them.
fn gather(root: &Path, dir: &Path, files: &mut Vec<String>) -> io::Result<()> {
    let Ok(entries) = fs::read_dir(dir) else { return Ok(()) };
    for entry in entries {
        let path = entry?.path();
        if path.is_dir() {
            gather(root, &path, files)?;
        } else if PathBuf::from(format!("{}.gz", path.display())).is_file() {
            let inner = path.strip_prefix(root).unwrap_or(&path);
            files.push(inner.to_string_lossy().replace('\\', "/"));
        }
    }
    Ok(())
}
