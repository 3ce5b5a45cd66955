//! Which crate may use which, and other rules of the house. A new arrow is a decision: give its reason in ARCHITECTURE.md.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use std::fs;
use std::path::{Path, PathBuf};

const MAY_USE: &[(&str, &[&str])] = &[
    ("base", &[]),
    ("geom", &["base"]),
    ("rs274", &["base"]),
    ("job", &["base"]),
    ("trade", &["base"]),
    ("shape", &["base", "geom", "job"]),
    ("workpiece", &["base", "geom", "trade"]),
    ("paths", &["base", "geom", "trade", "workpiece"]),
    ("route", &["base", "geom", "job", "trade", "rs274", "shape", "workpiece", "paths"]),
    ("proof", &["base", "geom", "trade", "rs274", "workpiece"]),
    ("papers", &["base", "geom", "job", "trade", "rs274", "shape", "workpiece", "route", "proof"]),
    ("treen", &["base", "geom", "job", "trade", "rs274", "shape", "workpiece", "paths", "route", "proof", "papers"]),
];

/// The outside world: only `treen` may touch it.
const OUTSIDE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "SystemTime",
    "Instant::now",
    "Zoned::now",
    "Timestamp::now",
    "thread_rng",
    "println!",
    "print!",
    "dbg!",
];

fn crates() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

fn crate_names() -> Vec<String> {
    let entries = fs::read_dir(crates()).unwrap().map(|entry| entry.unwrap());
    let folders = entries.filter(|entry| entry.path().join("Cargo.toml").is_file());
    let mut names: Vec<String> = folders.map(|entry| entry.file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn sources(folder: &Path) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push((path.display().to_string(), fs::read_to_string(&path).unwrap()));
        }
    }
    found
}

/// The code before the unit tests at the end of a file.
fn before_tests(code: &str) -> &str {
    code.split("\n#[cfg(test)]\nmod tests").next().unwrap_or(code)
}

/// `std::fs` also as `use std::{fs, …}`: the whole statement on one line without blanks.
fn uses_of_std(code: &str) -> Vec<String> {
    let statements = code.split("use std::{").skip(1).filter_map(|rest| rest.split(';').next());
    statements.flat_map(|list| list.split([',', '{', '}']).map(|word| format!("std::{}", word.trim()))).collect()
}

#[test]
fn every_crate_has_its_line_and_every_line_its_crate() {
    let mut listed: Vec<&str> = MAY_USE.iter().map(|(name, _)| *name).collect();
    listed.sort_unstable();
    assert_eq!(crate_names(), listed);
}

#[test]
fn lower_layers_know_nothing_of_upper_ones() {
    let mut arrows = 0;
    for name in crate_names() {
        let line = MAY_USE.iter().find(|(it, _)| *it == name);
        let (_, allowed) = line.unwrap_or_else(|| panic!("`{name}` has no line in MAY_USE"));
        let manifest = fs::read_to_string(crates().join(&name).join("Cargo.toml")).unwrap();
        for word in manifest.split(|c: char| !c.is_alphanumeric() && c != '-' && c != '_') {
            let ours = word != name && MAY_USE.iter().any(|(it, _)| *it == word);
            assert!(!ours || allowed.contains(&word), "`{name}` must not use `{word}`");
            arrows += usize::from(ours);
        }
    }
    assert!(arrows > 20, "only {arrows} arrows seen");
}

#[test]
fn arrows_only_point_down() {
    for (n, (name, allowed)) in MAY_USE.iter().enumerate() {
        for used in *allowed {
            assert!(MAY_USE[..n].iter().any(|(it, _)| it == used), "`{name}` → `{used}` does not point down");
        }
    }
}

#[test]
fn every_module_says_what_it_is() {
    let mut seen = 0;
    for name in crate_names() {
        for (path, code) in sources(&crates().join(&name).join("src")) {
            let first = code.lines().next().unwrap_or_default();
            assert!(
                first.starts_with("//! ") && first.len() > 20,
                "{path}: the first line must say what the module is"
            );
            seen += 1;
        }
    }
    assert!(seen > 40, "only {seen} modules seen");
}

#[test]
fn only_the_top_touches_the_outside_world() {
    for name in crate_names().iter().filter(|name| *name != "treen") {
        for (path, code) in sources(&crates().join(name).join("src")) {
            let code = before_tests(&code);
            let plain: String =
                code.lines().filter(|l| !l.trim_start().starts_with("//")).map(|l| format!("{l}\n")).collect();
            for word in OUTSIDE {
                assert!(!plain.contains(word), "{path}: `{word}` belongs to the crate `treen`");
                let listed =
                    uses_of_std(&plain).iter().any(|used| used == word || used.starts_with(&format!("{word}::")));
                assert!(!listed, "{path}: `{word}` belongs to the crate `treen`");
            }
        }
    }
}

#[test]
fn planner_and_proof_never_meet() {
    let of = |name: &str| sources(&crates().join(name).join("src"));
    for (path, code) in of("proof") {
        assert!(!code.contains("route::") && !code.contains("paths::"), "{path}: the proof must not ask the planner");
    }
    for (path, code) in of("route").into_iter().chain(of("paths")) {
        assert!(!code.contains("proof::"), "{path}: the planner never judges itself");
    }
}

#[test]
fn the_code_map_names_every_crate() {
    let path = crates().parent().unwrap().join("ARCHITECTURE.md");
    let Ok(map) = fs::read_to_string(&path) else { return };
    for name in crate_names() {
        assert!(
            map.contains(&format!("`{name}`")) || map.contains(&format!("crates/{name}")),
            "ARCHITECTURE.md does not name `{name}`"
        );
    }
    for word in map.split(|c: char| !c.is_alphanumeric() && !"/_-".contains(c)) {
        if let Some(rest) = word.strip_prefix("crates/").filter(|rest| !rest.is_empty()) {
            let folder = crates().join(rest.trim_end_matches('/'));
            assert!(
                folder.exists() || folder.with_extension("rs").exists(),
                "ARCHITECTURE.md names `{word}`, which is not there"
            );
        }
    }
}
