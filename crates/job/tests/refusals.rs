//! Jobs that must be refused: `refusals/NAME/job.toml` with the findings they must give in `expected.txt`.
//!
//! A line of the latter is `code line:column message`, in the order of the text, warnings included. With
//! `REWRITE_EXPECTED=1` in the environment the files are written anew; review the difference like code.

#![allow(clippy::unwrap_used)]

use base::{FileId, Finding, line_column};
use std::fs;
use std::path::PathBuf;

fn folders() -> Vec<PathBuf> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/refusals");
    let mut folders: Vec<PathBuf> = fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    folders
}

fn line(text: &str, finding: &Finding) -> String {
    let (line, column) = line_column(text, finding.at.expect("every mistake of a text has a place").start);
    format!("{} {line}:{column} {}", finding.code, finding.text)
}

#[test]
fn every_refusal_gives_its_findings() {
    let folders = folders();
    assert!(folders.len() >= 14, "only {} refusals", folders.len());
    for folder in folders {
        let name = folder.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(folder.join("job.toml")).unwrap();
        let (_, report) = job::parse(&text, FileId(0));
        assert!(report.has_errors(), "{name}: nothing was refused");
        let got: Vec<String> = report.findings.iter().map(|f| line(&text, f)).collect();
        if std::env::var_os("REWRITE_EXPECTED").is_some() {
            fs::write(folder.join("expected.txt"), got.join("\n") + "\n").unwrap();
        }
        let expected = fs::read_to_string(folder.join("expected.txt")).unwrap();
        let expected: Vec<&str> = expected.lines().collect();
        assert_eq!(got, expected, "{name}");
    }
}

#[test]
fn every_error_says_what_to_do_or_what_was_expected() {
    for folder in folders() {
        let text = fs::read_to_string(folder.join("job.toml")).unwrap();
        for finding in job::parse(&text, FileId(0)).1.findings {
            let helpful = finding.hint.is_some() || finding.text.contains("expected");
            assert!(helpful, "{}: {finding:?}", folder.display());
        }
    }
}
