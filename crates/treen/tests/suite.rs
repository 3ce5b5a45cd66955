//! Whole jobs, a folder each, with a `job.toml`, what lies beside it (`shop.toml`, `shelf.toml`, `record.toml`), and in
//! `expected.txt` what must come of it. Under `tests/suite/jobs/` at the root: the numbers to set, the programs and the
//! verdict. Under `tests/suite/refusals/` jobs that must be refused: the findings. Where only a few figures of the
//! shelf differ, `shelf-changes.txt` names them: a line `- as it comes` and below it a line `+ as it is in this shop`.
//!
//! A finding is two lines of the latter: `severity code file:line:column message`, with `-` where it has no place, and
//! `  → what to do`. Of message and remedy the file holds the start. With `REWRITE_EXPECTED=1` in the environment the
//! files are written anew; review the difference like code.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use base::{Finding, Quiet, Report, Severity, line_column, sensible};
use proof::{Proof, State};
use route::Plan;
use std::fs;
use std::path::{Path, PathBuf};
use treen::pipeline::{Accuracy, Instead, Pipeline, Understood};
use treen::texts::{Sources, Texts, files_of};

/// Longest start of a message that a rewritten expectation holds, in characters.
const START: usize = 110;

/// Columns of the proof of sound jobs, mm: coarser than for real work.
const PITCH: f64 = 0.3;

fn folders(kind: &str) -> Vec<PathBuf> {
    let root = format!("{}/../../tests/suite/{kind}", env!("CARGO_MANIFEST_DIR"));
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
    let record = text("record.toml").map(|content| texts.put("record.toml", content));
    let files = files_of(texts.content(job), &folder.join("job.toml"));
    Sources { texts, job, shelf, shop, record, files }
}

/// What is expected in a folder; with `REWRITE_EXPECTED` what was got, from now on.
fn expected(folder: &Path, got: &str) -> String {
    let path = folder.join("expected.txt");
    if std::env::var_os("REWRITE_EXPECTED").is_some() {
        fs::write(&path, got).unwrap();
    }
    fs::read_to_string(&path).unwrap_or_default()
}

/// Numbers to set, programs and checks, a line each.
fn outcome(plan: &Plan, proof: &Proof) -> String {
    let mut lines = Vec::new();
    for setup in &plan.setups {
        let z = &setup.zero.z;
        lines.push(format!("setup {}: set Z {:.2}, check {:.2}", setup.id, z.set_to, z.expect));
        for program in &setup.programs {
            let cutters: Vec<String> = program.cutters.iter().map(|n| format!("T{n}")).collect();
            lines.push(format!(
                "program {} {}: {} lines, {:.1} m cut, {:.0} min, {} places to start again",
                program.file,
                cutters.join(" "),
                plan.programs[&program.file].lines().count(),
                program.cut_length_mm / 1000.0,
                program.duration_s / 60.0,
                program.restart_points.len()
            ));
        }
    }
    for check in &proof.checks {
        let state = check.state.word();
        let unit = if check.unit == "1" { "" } else { &check.unit };
        let figure = sensible(check.value, unit);
        lines.push(format!("check {} {state}: {}", check.id, figure.trim_end()));
    }
    lines.join("\n") + "\n"
}

#[test]
fn every_sound_job_of_the_suite_gives_its_programs_and_its_verdict() {
    let mut ran = 0;
    for folder in folders("jobs") {
        let name = folder.file_name().unwrap().to_string_lossy().into_owned();
        let mut pipeline = Pipeline::default();
        let Understood { wish, piece, report } =
            pipeline.understand(&sources(&folder), Accuracy::default().chord).unwrap();
        assert!(!report.has_errors(), "{name}: {report:#?}");
        let plan = pipeline.plan(&wish.unwrap(), &piece.unwrap(), &Quiet).unwrap();
        assert!(!plan.report.has_errors(), "{name}: {:#?}", plan.report);
        let proof = pipeline.prove(&plan, &Instead::new(), PITCH, &Quiet).unwrap().value.unwrap();
        let failing: Vec<_> = proof.checks.iter().filter(|c| c.state == State::Fails).collect();
        assert!(failing.is_empty(), "{name}: {failing:#?}");
        let got = outcome(plan.value.as_ref().unwrap(), &proof);
        assert_eq!(got, expected(&folder, &got), "{name}");
        ran += 1;
    }
    assert!(ran >= 4, "only {ran} jobs ran");
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
    for folder in folders("refusals") {
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
        let text: String = got.iter().map(|line| format!("{}\n", start(line))).collect();
        let expected = expected(&folder, &text);
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
