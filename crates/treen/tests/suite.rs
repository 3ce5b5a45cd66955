//! Whole jobs that must be refused: `tests/suite/refusals/NAME/` at the root, each with a `job.toml`, what lies beside
//! it (`shop.toml`, `shelf.toml`), and in `expected.txt` the findings that it must give. Where only a few figures of the
//! shelf differ, `shelf-changes.txt` names them: a line `- as it comes` and below it a line `+ as it is in this shop`.
//!
//! A finding is two lines of the latter: `severity code file:line:column message`, with `-` where it has no place, and
//! `  → what to do`. Of message and remedy the file holds the start. With `REWRITE_EXPECTED=1` in the environment the
//! files are written anew; review the difference like code.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use base::{Finding, Quiet, Report, Severity, line_column};
use std::fs;
use std::path::{Path, PathBuf};
use treen::pipeline::{Accuracy, Pipeline, Understood};
use treen::texts::{Sources, Texts};

/// Longest start of a message that a rewritten expectation holds, in characters.
const START: usize = 110;

fn folders() -> Vec<PathBuf> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/suite/refusals");
    let mut folders: Vec<PathBuf> = fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    folders
}

/// The shelf that comes with treen, with the changes made: each finds its line, and only one.
fn changed_shelf(changes: &str) -> String {
    let mut shelf = trade::DEFAULT_SHELF.to_owned();
    for pair in changes.lines().collect::<Vec<_>>().chunks(2) {
        let [old, new] = pair else { panic!("a change without its second line: {pair:?}") };
        let (old, new) = (old.strip_prefix("- ").unwrap(), new.strip_prefix("+ ").unwrap());
        let is_it = |line: &&str| line.trim() == old;
        assert_eq!(shelf.lines().filter(is_it).count(), 1, "`{old}` on the shelf");
        shelf = shelf.lines().map(|line| if is_it(&line) { new } else { line }).collect::<Vec<_>>().join("\n");
    }
    shelf
}

/// The texts in a folder; the shelf that comes with treen where it has none.
fn sources(folder: &Path) -> Sources {
    let mut texts = Texts::default();
    let text = |name: &str| fs::read_to_string(folder.join(name)).ok();
    let job = texts.put("job.toml", text("job.toml").unwrap());
    let changed = || changed_shelf(&text("shelf-changes.txt").unwrap_or_default());
    let shelf = texts.put("shelf.toml", text("shelf.toml").unwrap_or_else(changed));
    let shop = text("shop.toml").map(|content| texts.put("shop.toml", content));
    Sources { texts, job, shelf, shop, record: None }
}

/// All findings up to and with those of the first stage that has errors, where the program stops too.
fn findings(sources: &Sources) -> Report {
    let mut pipeline = Pipeline::default();
    let Understood { wish, piece, report: mut all } = pipeline.understand(sources, Accuracy::default().chord).unwrap();
    if let (Some(wish), Some(piece), false) = (wish, piece, all.has_errors()) {
        let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap();
        assert!(plan.value.is_none() || !plan.report.has_errors(), "a plan in spite of errors");
        all.absorb(plan.report);
    }
    all
}

/// The two lines of a finding, whole.
fn lines(finding: &Finding, texts: &Texts) -> [String; 2] {
    let severity = match finding.severity {
        Severity::Note => "note",
        Severity::Warning => "warning",
        Severity::Error => "error",
    };
    let place = finding.at.map_or("-".to_owned(), |at| {
        let text = texts.get(at.file).unwrap();
        let (line, column) = line_column(&text.content, at.start);
        format!("{}:{line}:{column}", text.name)
    });
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let remedy = finding.hint.as_deref().map(one_line).unwrap_or_default();
    [format!("{severity} {} {place} {}", finding.code, one_line(&finding.text)), format!("  → {remedy}")]
}

fn start(line: &str) -> &str {
    let cut = line.char_indices().nth(START).map_or(line.len(), |(at, _)| at);
    line[..cut].trim_end()
}

#[test]
fn every_job_of_the_suite_is_refused_for_its_reasons() {
    let mut ran = 0;
    let mut wrong = Vec::new();
    for folder in folders() {
        let name = folder.file_name().unwrap().to_string_lossy().into_owned();

        let sources = sources(&folder);
        let report = findings(&sources);
        if !report.has_errors() {
            wrong.push(format!("{name}: nothing was refused"));
            continue;
        }
        let helpless = report.findings.iter().filter(|f| f.hint.is_none());
        wrong.extend(helpless.map(|f| format!("{name}: it does not say what to do: {}", f.text)));
        let got: Vec<String> = report.findings.iter().flat_map(|f| lines(f, &sources.texts)).collect();
        let path = folder.join("expected.txt");
        if std::env::var_os("REWRITE_EXPECTED").is_some() {
            let text: String = got.iter().map(|line| format!("{}\n", start(line))).collect();
            fs::write(&path, text).unwrap();
        }
        let expected = fs::read_to_string(&path).unwrap_or_default();
        let expected: Vec<&str> = expected.lines().collect();
        // A start must hold more than severity, code, place and a word, lest it agree with anything.
        let whole = expected.iter().step_by(2).all(|line| line.split(' ').count() > 4);
        let same = got.len() == expected.len() && got.iter().zip(&expected).all(|(g, e)| g.starts_with(e));
        if !(whole && same) {
            wrong.push(format!("{name}: expected\n{}\ngot\n{}", expected.join("\n"), got.join("\n")));
        }
        ran += 1;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
    assert!(ran >= 14, "only {ran} jobs ran");
}
