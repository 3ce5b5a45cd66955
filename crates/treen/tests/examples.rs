//! The example jobs, planned and judged: no check may fail, and the number of threads changes no byte.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

mod support;

use base::{Quiet, Units};
use proof::{Check, Proof, State};
use route::Plan;
use std::sync::Arc;
use support::sources;
use treen::pipeline::{Accuracy, Instead, Pipeline};

/// Columns of the proof, mm: coarser than for real work, fine enough to see every fault that would matter.
const PITCH: f64 = 0.3;

/// Plans and judges an example on so many threads.
fn proven(name: &str, threads: usize) -> (Arc<Plan>, Arc<Proof>) {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let (plan, [proof]) = pool.install(|| proven_at(name, [PITCH]));
    (plan, proof)
}

/// Plans an example and judges it with columns so far apart.
fn proven_at<const N: usize>(name: &str, pitches: [f64; N]) -> (Arc<Plan>, [Arc<Proof>; N]) {
    let mut pipeline = Pipeline::default();
    let wish = pipeline.read(&sources(name)).unwrap().value.unwrap();
    let piece = pipeline.shape(&wish, Accuracy::default().chord).unwrap();
    let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap();
    let proofs = pitches.map(|pitch| pipeline.prove(&plan, &Instead::new(), pitch, &Quiet).unwrap().value.unwrap());
    (plan.value.unwrap(), proofs)
}

/// Columns half as far apart may move a figure, never across a limit.
fn no_verdict_rests_on_the_columns(name: &str, pitch: f64) {
    let (_, [coarse, fine]) = proven_at(name, [pitch, pitch / 2.0]);
    assert_eq!(coarse.checks.len(), fine.checks.len());
    let passes = |check: &Check| check.state != State::Fails;
    for (a, b) in coarse.checks.iter().zip(&fine.checks) {
        if a.state != b.state {
            println!(
                "{name}: {} {:?} {:.4} at {pitch} mm, {:?} {:.4} at half of it",
                a.id, a.state, a.value, b.state, b.value
            );
        }
        assert_eq!((&a.id, passes(a)), (&b.id, passes(b)), "{name}: {} and {}", a.value, b.value);
    }
}

/// Prints the checks that do not hold. None may fail, and what every job must be judged by must have been judged.
fn nothing_fails(name: &str, plan: &Plan, proof: &Proof) {
    for check in proof.checks.iter().filter(|check| check.state != State::Holds) {
        let Check { id, state, value, unit, sense, limit, .. } = check;
        let remedy = check.remedy.as_deref().unwrap_or("no remedy");
        println!("{name}: {state:?} {id}: {value:.3} {unit}, {sense} {limit:.3}; {remedy}");
    }
    let failing = proof.checks.iter().filter(|check| check.state == State::Fails);
    assert_eq!(failing.map(|check| check.id.as_str()).collect::<Vec<_>>(), Vec::<&str>::new(), "{name}");
    let of_setup = ["reading", "gouge", "rapid", "holder", "tipping", "travel", "table"];
    let of_cast = ["leak", "flush", "resin-left"];
    let of = |kinds: &[&str], name: &str| kinds.iter().map(|kind| format!("{kind}.{name}")).collect::<Vec<_>>();
    let mut wanted = ["order", "wall", "floor", "volume"].map(str::to_owned).to_vec();
    wanted.extend(plan.setups.iter().flat_map(|setup| of(&of_setup, &setup.id)));
    wanted.extend(plan.casts.iter().flat_map(|cast| of(&of_cast, &cast.name)));
    for id in wanted {
        assert!(proof.checks.iter().any(|check| check.id == id), "{name}: `{id}` was not judged");
    }
}

/// Every step says each sentence and each caution once; in a job in inches no length stands in mm but in brackets.
fn sheets_read_well(name: &str, plan: &Plan) {
    for step in &plan.steps {
        for lines in [&step.says, &step.cautions] {
            let twice = lines.iter().enumerate().find(|(i, line)| lines[..*i].contains(line));
            assert_eq!(twice, None, "{name}: {}", step.id);
        }
        step.says.iter().filter(|_| plan.units == Units::In).for_each(|line| speaks_in_inches(name, line));
    }
    for setup in plan.setups.iter().filter(|_| plan.units == Units::In) {
        let zero = [&setup.zero.x, &setup.zero.y, &setup.zero.z].map(|axis| [&axis.surface, &axis.check_surface]);
        let lines = zero.into_iter().flatten().chain([&setup.holding.says]);
        lines.chain(setup.inspect.iter().map(|point| &point.what)).for_each(|line| speaks_in_inches(name, line));
    }
}

fn speaks_in_inches(name: &str, line: &str) {
    let outside: String = line.split('(').map(|part| part.split_once(')').map_or(part, |(_, rest)| rest)).collect();
    // The remainder of a fraction is in mm, and so are its brackets.
    let lengths = outside.split(" mm").count() - 1;
    let remainders = outside.matches(" in + ").count() + outside.matches(" in − ").count();
    assert_eq!(lengths, remainders, "{name}: {line}");
}

/// Everything is bought in whole packs, boards aside, and the cost of the piece is that of what it uses up.
fn buying_adds_up(name: &str, plan: &Plan) {
    let used: f64 = plan.buy.iter().map(|line| line.used_cost).sum();
    assert!((plan.cost.materials - used).abs() < 1e-9, "{name}");
    for line in &plan.buy {
        assert!(line.quantity >= line.used && line.cost >= line.used_cost, "{name}: {line:?}");
        let sold_loose = ["board feet", "m", "m²", "discs"].contains(&line.unit.as_str()) || line.item == "pigment";
        let whole = sold_loose || (line.quantity * 1000.0 % 50.0).abs() < 1e-6;
        assert!(whole, "{name}: {} {} of {}", line.quantity, line.unit, line.item);
    }
}

/// Plans and judges an example on so many threads, and looks at all of it.
fn sound(name: &str, threads: usize) -> (Arc<Plan>, Arc<Proof>) {
    let (plan, proof) = proven(name, threads);
    nothing_fails(name, &plan, &proof);
    sheets_read_well(name, &plan);
    buying_adds_up(name, &plan);
    (plan, proof)
}

#[test]
fn tidepool_is_sound() {
    sound("tidepool", 2);
}

#[test]
fn clover_is_sound() {
    sound("clover", 2);
}

#[test]
fn the_heart_is_sound() {
    sound("sweetheart", 2);
}

#[test]
fn the_tray_is_sound_and_the_same_on_any_number_of_threads() {
    let (plan, proof) = sound("pantry-tray", 3);
    let (other_plan, other_proof) = proven("pantry-tray", 1);
    assert!(!plan.programs.is_empty() && plan.programs == other_plan.programs);
    let bytes = |proof: &Proof| serde_json::to_string(&(&proof.checks, &proof.made_ml)).unwrap();
    assert_eq!(bytes(&proof), bytes(&other_proof));
    assert!(plan == other_plan && proof == other_proof);
}

#[test]
fn no_verdict_on_the_tray_rests_on_the_columns() {
    no_verdict_rests_on_the_columns("pantry-tray", PITCH);
}

/// `cargo test --release -p treen --test examples -- --ignored --nocapture`
#[test]
#[ignore = "takes minutes: all examples at the pitch of real work"]
fn no_verdict_on_any_example_rests_on_the_columns() {
    ["tidepool", "clover", "pantry-tray", "sweetheart"]
        .into_iter()
        .for_each(|name| no_verdict_rests_on_the_columns(name, 0.1));
}
