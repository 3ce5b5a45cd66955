//! Faults put into the example jobs: every one must be seen by a check that is meant for it, or be proven to do no harm.
//!
//! `docs/faults.md` holds what sees which in every example. To try all of it takes a quarter of an hour: `make faults`, and
//! with `REWRITE_EXPECTED=1` in the environment the page is written anew. Every run of the tests tries each kind in one of the
//! examples. The sound jobs themselves must pass: no false alarm.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

#[path = "faults/kinds.rs"]
mod kinds;
mod support;
#[path = "faults/text.rs"]
mod text;

use base::Quiet;
use kinds::{KINDS, Kind, Spot};
use proof::{Check, Evidence, Judged, Proof, State, prove_again, prove_keeping};
use std::fs;
use support::sources;
use trade::shelf::Cutter;
use treen::pipeline::{Accuracy, Pipeline};

/// Columns of the proof, mm: coarse, for gouge and leftover do not rest on them.
const PITCH: f64 = 0.3;

/// The examples.
const JOBS: [&str; 3] = ["tidepool", "clover", "pantry-tray"];

/// A sound job with its proof.
struct Sound {
    judged: Judged,
    shelf: Vec<Cutter>,
}

impl Sound {
    fn example(name: &str) -> Self {
        let mut pipeline = Pipeline::default();
        let wish = pipeline.read(&sources(name)).unwrap().value.unwrap();
        let piece = pipeline.shape(&wish, Accuracy::default().chord).unwrap();
        let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap().value.unwrap();
        let held = |c: &Cutter| Cutter { at: None, solid: c.solid_in(&plan.machine), ..c.clone() };
        let shelf = wish.shelf.cutters.iter().map(held).collect();
        Self { judged: prove_keeping(papers::evidence_of(&plan, PITCH), &Quiet).unwrap(), shelf }
    }

    /// The evidence with a fault in the first setup that it can be made in; kinds take turns with which they try first.
    fn makes(&self, turn: usize, kind: &Kind) -> Option<(Evidence, usize)> {
        let sound = self.judged.evidence();
        let setups = sound.setups.len();
        (0..setups).map(|k| (turn + k) % setups).find_map(|setup| {
            let mut evidence = sound.clone();
            (kind.make)(&mut evidence, &Spot { setup, shelf: &self.shelf }).then_some((evidence, setup))
        })
    }

    /// What becomes of a fault: what sees it, or what is wrong.
    fn judged(&self, turn: usize, kind: &Kind) -> Result<String, String> {
        let Some((evidence, setup)) = self.makes(turn, kind) else { return Ok("–".to_owned()) };
        let sound = self.judged.evidence();
        let at = &sound.setups[setup].id;
        let proof = prove_again(&evidence, &self.judged, &Quiet).unwrap();
        let failing: Vec<&Check> = proof.checks.iter().filter(|c| c.state == State::Fails).collect();
        if let Some(check) = failing.iter().find(|c| c.remedy.is_none()) {
            return Err(format!("in {at} `{}` does not say what to do", check.id));
        }
        let is_meant = |c: &&&Check| kind.meant.contains(&c.id.split('.').next().unwrap_or_default());
        if let Some(seen) = failing.iter().find(is_meant) {
            return Ok(format!("`{}`", seen.id));
        }
        if !failing.is_empty() {
            return Err(format!("in {at} only {:?} see it", failing.iter().map(|c| &c.id).collect::<Vec<_>>()));
        }
        match kind.harmless {
            Some(_) if self.makes_the_same(&proof) => Ok("no harm".to_owned()),
            Some(_) => Err(format!("in {at} nothing sees it, and the piece differs")),
            None => Err(format!("in {at} nothing sees it")),
        }
    }

    /// Whether the made piece is the same: volumes to what the columns tell apart.
    fn makes_the_same(&self, other: &Proof) -> bool {
        let near = |a: &f64, b: &f64| (a - b).abs() <= 1e-3 * a.abs().max(1.0);
        let (a, b) = (&self.judged.proof().made_ml, &other.made_ml);
        a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(a, b))
    }

    /// What becomes of the kinds that are chosen.
    fn all(&self, chosen: impl Fn(usize) -> bool) -> Vec<Option<Result<String, String>>> {
        let kinds = KINDS.iter().enumerate();
        kinds.map(|(turn, kind)| chosen(turn).then(|| self.judged(turn, kind))).collect()
    }
}

/// Cells by job and kind.
type Cells = Vec<Vec<Option<Result<String, String>>>>;

/// Judges in each job the kinds that are chosen for it.
fn judged(chosen: impl Fn(&[Sound], usize, usize) -> bool + Sync) -> Cells {
    assert!(KINDS.len() >= 60);
    let sounds: Vec<Sound> = JOBS.iter().map(|name| Sound::example(name)).collect();
    for (name, sound) in JOBS.iter().zip(&sounds) {
        let alarms: Vec<&Check> = sound.judged.proof().checks.iter().filter(|c| c.state == State::Fails).collect();
        assert!(alarms.is_empty(), "{name}: {alarms:#?}");
    }
    let (sounds, chosen) = (&sounds, &chosen);
    let cells: Cells = std::thread::scope(|scope| {
        let jobs: Vec<_> =
            (0..JOBS.len()).map(|job| scope.spawn(move || sounds[job].all(|kind| chosen(sounds, job, kind)))).collect();
        jobs.into_iter().map(|job| job.join().unwrap()).collect()
    });
    let mut wrong = Vec::new();
    for (name, column) in JOBS.iter().zip(&cells) {
        for (kind, cell) in KINDS.iter().zip(column) {
            wrong.extend(
                cell.iter().filter_map(|c| c.as_ref().err()).map(|why| format!("{name}: {}: {why}", kind.name)),
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    cells
}

fn path() -> String {
    format!("{}/../../docs/faults.md", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn every_kind_of_fault_is_seen_in_an_example_or_does_no_harm() {
    // The kinds take turns with the examples; one that has nothing to put it into is passed over.
    let cells = judged(|sounds, job, kind| {
        let makes = |job: &usize| sounds[*job].makes(kind, &KINDS[kind]).is_some();
        (0..JOBS.len()).map(|k| (kind + k) % JOBS.len()).find(makes) == Some(job)
    });
    for (k, kind) in KINDS.iter().enumerate() {
        assert_eq!(cells.iter().filter(|column| column[k].is_some()).count(), 1, "{}", kind.name);
    }
    // The page names the kinds of today; what sees each in every example is as it was when it was written.
    let page = fs::read_to_string(path()).unwrap();
    let rows = page.lines().filter_map(|line| line.strip_prefix("| "));
    let told: Vec<&str> = rows.skip(2).filter_map(|row| row.split(" | ").next()).collect();
    assert_eq!(told, KINDS.iter().map(title).collect::<Vec<_>>(), "docs/faults.md");
}

/// A kind as the page names it.
fn title(kind: &Kind) -> String {
    let why = kind.harmless.map(|why| format!(" (no harm where {why})"));
    format!("{}{}", kind.name, why.unwrap_or_default())
}

#[test]
#[ignore = "a quarter of an hour: make faults"]
fn every_fault_is_seen_in_every_example_or_does_no_harm() {
    // `FAULTS=tape` in the environment tries only the kinds with that in their names, and prints what sees them.
    let some = std::env::var("FAULTS").ok();
    let cells = judged(|_, _, kind| some.as_ref().is_none_or(|part| KINDS[kind].name.contains(part)));
    let got = page(&cells);
    if some.is_some() {
        return println!("{got}");
    }
    if std::env::var_os("REWRITE_EXPECTED").is_some() {
        fs::write(path(), &got).unwrap();
    }
    assert_eq!(got, fs::read_to_string(path()).unwrap_or_default(), "docs/faults.md");
}

/// The page of the documents that tells of all this.
fn page(cells: &Cells) -> String {
    let texts = || cells.iter().flatten().flatten().flatten();
    let seen = texts().filter(|c| c.starts_with('`')).count();
    let harmless = texts().filter(|c| *c == "no harm").count();
    let mut page = format!(
        "# Faults, and what sees them\n\nEvery kind of fault is put into every example, where there is something to put it into, and the proof judges the\n\
         result: {} kinds, {} faults, {seen} seen by a check that is meant for them, {harmless} without harm: then the made piece is the same.\n\
         The kinds take turns with the setups. The sound examples pass all checks. Written by `make faults` with `REWRITE_EXPECTED=1`\n\
         (`crates/treen/tests/faults.rs`), which fails if one is seen by no check that is meant for it. `–`: nothing to put it into.\n\n\
         | fault | checks meant for it | {} |\n| --- | --- |{}\n",
        KINDS.len(),
        seen + harmless,
        JOBS.join(" | "),
        " --- |".repeat(JOBS.len())
    );
    for (k, kind) in KINDS.iter().enumerate() {
        let row: Vec<&str> =
            cells.iter().map(|column| column[k].as_ref().and_then(|c| c.as_deref().ok()).unwrap_or("")).collect();
        page += &format!("| {} | {} | {} |\n", title(kind), kind.meant.join(", "), row.join(" | "));
    }
    page
}
