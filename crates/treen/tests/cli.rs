//! The command line as a maker meets it: words, files, exit codes.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use assert_cmd::Command;
use std::fs;
use std::path::Path;

fn treen(dir: &Path) -> Command {
    let mut command = Command::cargo_bin("treen").unwrap();
    command.current_dir(dir).env("NO_COLOR", "1");
    command
}

fn run(dir: &Path, args: &[&str]) -> (i32, String, String) {
    let output = treen(dir).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn schemas_are_json() {
    let home = tempfile::tempdir().unwrap();
    for of in ["job", "shelf", "shop", "plan", "proof"] {
        let (code, out, err) = run(home.path(), &["schema", of]);
        assert_eq!(code, 0, "{of}: {err}");
        let schema: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert!(schema["properties"].as_object().is_some_and(|p| p.len() > 2), "{of}: {out}");
    }
}

#[test]
fn a_new_job_and_its_shelf_are_in_order() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    assert_eq!(run(home.path(), &["shelf", "init", "puddle"]).0, 0);
    assert!(home.path().join("puddle/shelf.toml").is_file());
    let (code, out, err) = run(home.path(), &["check", "puddle"]);
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("puddle"), "{out}");
}

#[test]
fn nothing_is_written_over() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    fs::write(home.path().join("puddle/job.toml"), "mine").unwrap();
    let (code, _, err) = run(home.path(), &["new", "puddle"]);
    assert_eq!(code, 2);
    assert!(err.contains("job.toml") && err.contains("left alone"), "{err}");
    assert_eq!(fs::read_to_string(home.path().join("puddle/job.toml")).unwrap(), "mine");
    assert_eq!(run(home.path(), &["new", "../puddle"]).0, 2);
}

#[test]
fn a_wrong_job_is_told_with_place_and_remedy_all_at_once() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let path = home.path().join("puddle/job.toml");
    let good = fs::read_to_string(&path).unwrap();
    let height = good.lines().find(|l| l.trim_start().starts_with("height")).unwrap();
    let wall = good.lines().find(|l| l.trim_start().starts_with("wall")).unwrap();
    fs::write(&path, good.replace(height, "heigth = \"70 mm\"").replace(wall, "wall = \"-3 mm\"")).unwrap();
    for command in [&["check", "puddle"][..], &["plan", "puddle", "--out", "pack"]] {
        let (code, out, err) = run(home.path(), command);
        assert_eq!((code, out.as_str()), (2, ""), "{err}");
        let line = good.lines().position(|l| l == wall).unwrap() + 1;
        assert!(err.contains(&format!("job.toml:{line}:")), "{err}");
        for part in ["heigth", "`height`", "-3 mm", "what to do"] {
            assert!(err.contains(part), "{part} in\n{err}");
        }
        assert!(!home.path().join("pack").exists(), "nothing is written for a wrong job");
    }
}

#[test]
fn overrides_of_the_shop_are_read_and_checked() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    fs::write(home.path().join("puddle/shop.toml"), "use_machine = \"no such machine\"\n").unwrap();
    let (code, _, err) = run(home.path(), &["check", "puddle"]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("shop.toml:1:") && err.contains("no such machine"), "{err}");
}

#[test]
fn files_that_are_not_there_are_named() {
    let home = tempfile::tempdir().unwrap();
    for args in [&["check", "nowhere.toml"][..], &["plan", "nowhere.toml", "--out", "x"], &["prove", "nowhere.toml"]] {
        let (code, _, err) = run(home.path(), args);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("nowhere.toml") && err.contains("what to do"), "{err}");
    }
    fs::write(home.path().join("plan.json"), "{}").unwrap();
    let (code, _, err) = run(home.path(), &["prove", "."]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("plan.json"), "{err}");
}

#[test]
fn unknown_words_are_wrong_input() {
    let home = tempfile::tempdir().unwrap();
    for args in [&["bake"][..], &["plan"], &["plan", "x", "--out", "y", "--pitch", "7"], &["schema", "bowl"]] {
        assert_eq!(run(home.path(), args).0, 2);
    }
    assert_eq!(run(home.path(), &["--version"]).0, 0);
}
