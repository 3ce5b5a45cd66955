//! The whole chain on a small piece: written, judged again, tampered with, stopped; and what is not done twice.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use assert_cmd::Command;
use base::Quiet;
use std::fs;
use std::path::Path;
use treen::pipeline::{Accuracy, Instead, Pipeline};
use treen::texts::{OWN_SHELF, Sources, Texts};

const JOB: &str = include_str!("cases/saucer.toml");
/// Columns coarser than for real work: these tests look at the chain, not at the piece.
const PITCH: &str = "0.5";

fn run(dir: &Path, args: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("treen").unwrap().current_dir(dir).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// The rows of the table that tell of checks.
fn checks(out: &str) -> Vec<&str> {
    out.lines().skip_while(|line| !line.starts_with("checks")).take_while(|line| !line.starts_with("pack")).collect()
}

/// The program with its deepest cut 3 mm deeper.
fn deeper(text: &str) -> String {
    let z = |line: &str| -> Option<f64> {
        line.split(' ')
            .find_map(|word| word.strip_prefix('Z'))
            .filter(|_| line.starts_with("G1"))
            .map(|z| z.parse().unwrap())
    };
    let least = text.lines().filter_map(z).fold(f64::INFINITY, f64::min);
    let change = |line: &str| match z(line) {
        Some(height) if height == least => line.replace(&format!("Z{height:.3}"), &format!("Z{:.3}", height - 3.0)),
        _ => line.to_owned(),
    };
    text.lines().map(|line| change(line) + "\n").collect()
}

/// Every figure of a pack is derived to its end, names are answered, and a pack differs from itself in nothing.
fn figures_say_why(dir: &Path) {
    let (code, list, err) = run(dir, &["why", "pack"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let names: Vec<&str> = list.lines().filter_map(|line| line.split_whitespace().next()).collect();
    assert!(names.len() > 20, "{list}");
    for name in names {
        let (code, out, err) = run(dir, &["why", "pack", name]);
        assert!(code == 0 && out.starts_with(&format!("{name} = ")) && out.contains("source: "), "{name}: {out}{err}");
        assert!(!out.contains("does not hold it"), "{out}");
    }
    let (code, out, _) = run(dir, &["why", "pack/plan.json", "cost"]);
    assert!(code == 0 && out.lines().count() > 2 && out.lines().all(|line| line.starts_with("cost.")), "{out}");
    let (code, out, _) = run(dir, &["why", "pack", "stands"]);
    assert!(code == 0 && out.starts_with("check stands "), "{out}");
    let (code, out, err) = run(dir, &["why", "pack", "cost.totl"]);
    assert!(code == 2 && out.is_empty() && err.contains("did you mean `cost.total`"), "{err}");
    let (code, _, err) = run(dir, &["why", "attic", "cost.total"]);
    assert!(code == 2 && err.contains("attic"), "{err}");
    let (code, out, _) = run(dir, &["compare", "pack", "pack"]);
    assert!(code == 0 && out.contains("No input, no figure and no verdict differs"), "{out}");
    // A dearer hour: the rate is named, and the price that it moved.
    let mut plan: serde_json::Value = serde_json::from_slice(&fs::read(dir.join("pack/plan.json")).unwrap()).unwrap();
    let price = &mut plan["figures"]["cost.total"];
    price["value"] = (price["value"].as_f64().unwrap() * 2.0).into();
    let hands = plan["figures"]["cost.hands"]["inputs"].as_array_mut().unwrap();
    let rate = hands.iter_mut().find(|i| i["from"] == "shelf: rates.hands_h").unwrap();
    rate["value"] = 60.0.into();
    fs::create_dir(dir.join("dearer")).unwrap();
    fs::write(dir.join("dearer/plan.json"), plan.to_string()).unwrap();
    let (code, out, _) = run(dir, &["compare", "pack", "dearer"]);
    assert!(code == 0 && out.contains("shelf: rates.hands_h: 30.0 EUR/h → 60.0 EUR/h"), "{out}");
    assert!(out.contains("+100.000 %  cost.total: ") && out.contains("(by shelf: rates.hands_h)"), "{out}");
}

#[test]
fn a_written_pack_is_judged_again_and_tampering_is_seen() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path();
    fs::write(dir.join("job.toml"), JOB).unwrap();
    let (code, out, err) = run(dir, &["plan", ".", "--out", "pack", "--pitch", PITCH, "--allow-failing"]);
    assert!(code <= 1, "{code}\n{out}{err}");
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let again = run(dir, &["prove", "pack", "--pitch", PITCH]);
    assert_eq!((again.0, checks(&again.1)), (code, checks(&out)), "{}", again.2);

    figures_say_why(dir);
    let plan: serde_json::Value = serde_json::from_slice(&fs::read(dir.join("pack/plan.json")).unwrap()).unwrap();
    let setup = &plan["setups"][0];
    let file = setup["programs"][0]["file"].as_str().unwrap();
    let ours = fs::read_to_string(dir.join("pack").join(file)).unwrap();
    fs::write(dir.join("other.nc"), deeper(&ours)).unwrap();
    fs::write(dir.join("pack").join(file), deeper(&ours)).unwrap();
    let id = setup["id"].as_str().unwrap();
    let gouge = format!("FAILS   gouge.{id}");
    let (code, out, _) = run(dir, &["prove", "pack", "--pitch", PITCH]);
    assert!(code == 1 && out.contains(&gouge), "{out}");

    let with = ["prove", ".", "--pitch", PITCH, "--program", "other.nc", "--setup"];
    let (code, out, _) = run(dir, &[&with[..], &[id]].concat());
    assert!(code == 1 && out.contains(&gouge), "{out}");
    let (code, _, err) = run(dir, &[&with[..], &["attic"]].concat());
    assert!(code == 2 && err.contains("attic") && err.contains(id), "{err}");

    let (code, _, err) = run(dir, &["prove", "pack", "--record", "record.toml"]);
    assert!(code == 2 && err.contains("is a pack"), "{err}");

    fs::remove_file(dir.join("pack").join(file)).unwrap();
    let (code, _, err) = run(dir, &["prove", "pack"]);
    assert!(code == 2 && err.contains(file), "{err}");
}

fn sources(job: &str) -> Sources {
    let mut texts = Texts::default();
    let job = texts.put("job.toml", job);
    let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
    Sources { texts, job, shelf, shop: None, record: None, files: Default::default() }
}

fn through(pipeline: &mut Pipeline, job: &str, pitch: f64) -> (route::Plan, proof::Proof) {
    let wish = pipeline.read(&sources(job)).unwrap().value.unwrap();
    let piece = pipeline.shape(&wish, Accuracy::default().chord).unwrap();
    let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap();
    let proof = pipeline.prove(&plan, &Instead::new(), pitch, &Quiet).unwrap();
    (plan.value.unwrap().as_ref().clone(), proof.value.unwrap().as_ref().clone())
}

#[test]
fn stages_run_again_only_when_their_inputs_change() {
    let mut pipeline = Pipeline::default();
    through(&mut pipeline, JOB, 1.0);
    assert_eq!(pipeline.runs(), [1, 1, 1, 1, 0]);
    through(&mut pipeline, JOB, 1.0);
    assert_eq!(pipeline.runs(), [1, 1, 1, 1, 0]);
    through(&mut pipeline, JOB, 0.8);
    assert_eq!(pipeline.runs(), [1, 1, 1, 2, 0]);
    through(&mut pipeline, &JOB.replace("hardening oil", "hard-wax oil"), 0.8);
    assert_eq!(pipeline.runs(), [2, 1, 2, 3, 0]);
}

/// A tray, and the demo bowl with its hollow, its resin and both its sides.
#[test]
fn any_number_of_threads_gives_the_same_plan_and_verdict() {
    for job in [JOB, include_str!("../../../examples/tidepool/job.toml")] {
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| through(&mut Pipeline::default(), job, 1.0))
        };
        let ((plan, proof), (other_plan, other_proof)) = (with(1), with(3));
        assert!(!plan.programs.is_empty() && plan == other_plan);
        assert!(!proof.checks.is_empty() && proof == other_proof);
    }
}

/// Its levels are as shallow as the joint under its foot asks for.
#[test]
fn a_cup_on_a_small_foot_is_held() {
    let job = include_str!("../../../tests/suite/jobs/nut-cup/job.toml");
    let (_, proof) = through(&mut Pipeline::default(), job, 0.4);
    let holding = proof.checks.iter().find(|c| c.id == "tipping.inside").unwrap();
    assert!(holding.value > 0.4 && holding.value < 0.8, "{}", holding.value);
}
