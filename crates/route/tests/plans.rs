//! The example jobs, planned: structure, frames, order, figures.
#![allow(clippy::unwrap_used)] // outside of `#[test]` functions the lint does not see that this is a test

use base::{FileId, Quiet};
use route::{Plan, Request, plan};

/// Plans an example with its shop's overrides.
fn planned(name: &str, measured: Option<&job::Measured>) -> Plan {
    let folder = format!("{}/../../examples/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(format!("{folder}/job.toml")).unwrap();
    let (job, report) = job::parse(&text, FileId(0));
    assert!(!report.has_errors(), "{report:#?}");
    let job = job.unwrap();
    let (shelf, report) = trade::parse(trade::DEFAULT_SHELF, FileId(1));
    assert!(!report.has_errors(), "{report:#?}");
    let mut shelf = shelf.unwrap();
    if let Ok(over) = std::fs::read_to_string(format!("{folder}/shop.toml")) {
        let (changed, report) = trade::parse_over(&shelf, &over, FileId(2));
        assert!(!report.has_errors(), "{report:#?}");
        shelf = changed.unwrap();
    }
    let (piece, report) = shape::piece(&job.piece, 0.01);
    assert!(!report.has_errors(), "{report:#?}");
    let piece = piece.unwrap();
    let (made, report) = plan(&Request { job: &job, shelf: &shelf, piece: &piece, measured }, &Quiet).unwrap();
    assert!(!report.has_errors(), "{report:#?}");
    made.unwrap()
}

/// Their resin cures in the usual shop, in layers that stay cool.
#[test]
fn every_example_with_resin_is_in_order_before_its_paths() {
    let folders = std::fs::read_dir(format!("{}/../../examples", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let mut looked_at = 0;
    for folder in folders.map(|entry| entry.unwrap().path()) {
        let text = std::fs::read_to_string(folder.join("job.toml")).unwrap();
        // What needs files of its own is planned with them elsewhere.
        if !job::named_files(&text).is_empty() {
            continue;
        }
        let job = job::parse(&text, FileId(0)).0.unwrap();
        if job.casts.is_empty() || folder.join("shelf.toml").exists() || folder.join("shop.toml").exists() {
            continue;
        }
        let shelf = trade::parse(trade::DEFAULT_SHELF, FileId(1)).0.unwrap();
        let piece = shape::piece(&job.piece, 0.01).0.unwrap();
        let report = route::look_over(&Request { job: &job, shelf: &shelf, piece: &piece, measured: None });
        assert!(!report.has_errors(), "{}: {report:#?}", folder.display());
        let warm = report.findings.iter().any(|f| f.code.starts_with("cast-") || f.code.starts_with("shop-"));
        assert!(!warm, "{}: {report:#?}", folder.display());
        looked_at += 1;
    }
    assert!(looked_at >= 2, "only {looked_at} examples");
}

/// Every figure is derived down to literals: no name that the ledger does not hold, no circle, no figure without inputs.
fn derived(plan: &Plan) {
    for (id, figure) in &plan.figures.0 {
        assert!(!figure.inputs.is_empty() && figure.value.is_finite(), "{}: {figure:?}", id.0);
        for strand in plan.figures.derivation(&id.0).unwrap() {
            assert!(!matches!(strand.what, base::Stem::Missing { .. }), "{}: {strand:?}", id.0);
        }
    }
    for figure in plan.steps.iter().flat_map(|step| &step.figures) {
        assert!(plan.figures.0.contains_key(figure), "{}", figure.0);
    }
}

fn sound(plan: &Plan, setups: &[&str]) {
    derived(plan);
    let ids: Vec<&str> = plan.setups.iter().map(|s| s.id.as_str()).collect();
    assert_eq!(ids, setups);
    for setup in &plan.setups {
        assert!(!setup.programs.is_empty(), "{} has no program", setup.id);
        assert!(plan.programs.contains_key(&setup.look_first));
        for program in &setup.programs {
            assert!(plan.programs.contains_key(&program.file));
            assert!(program.duration_s > 10.0 && program.cut_length_mm > 10.0, "{program:?}");
        }
        assert!(plan.models.contains_key(setup.target.trim_end_matches(".stl")));
    }
    for (name, mesh) in &plan.models {
        let flaws = mesh.flaws(false);
        assert_eq!(flaws.open_edges, 0, "{name} is open");
        assert!(mesh.volume() > 0.0, "{name} is inside out");
    }
    let mut done: Vec<&str> = Vec::new();
    for step in &plan.steps {
        for need in &step.needs {
            assert!(done.contains(&need.as_str()), "{} needs {need}", step.id);
        }
        done.push(&step.id);
    }
    let exact = plan.figures.value("piece.volume_exact").unwrap();
    assert!((plan.piece.volume_ml / exact - 1.0).abs() < 1e-3, "{} ml against {exact}", plan.piece.volume_ml);
}

#[test]
fn tidepool_is_planned_on_the_two_sided_route() {
    let plan = planned("tidepool", None);
    sound(&plan, &["cavity", "level", "outside", "inside"]);
    let kinds: Vec<_> = plan.steps.iter().map(|s| s.id.as_str()).collect();
    let place = |id: &str| kinds.iter().position(|k| *k == id).unwrap_or_else(|| panic!("no step {id}"));
    assert!(place("carve-cavity") < place("seal-tide") && place("seal-tide") < place("dam-tide"));
    assert!(place("dam-tide") < place("pour-tide-1") && place("cure-tide") < place("carve-level"));
    assert!(plan.casts[0].poured_ml > plan.casts[0].in_piece_ml);
}

#[test]
fn clover_is_planned_for_the_small_machine() {
    let plan = planned("clover", None);
    assert_eq!(plan.machine.name, "hobby");
    sound(&plan, &["cavity", "level", "outside", "inside"]);
}

#[test]
fn the_tray_is_planned_on_the_one_sided_route() {
    let plan = planned("pantry-tray", None);
    sound(&plan, &["tray"]);
    assert!(plan.casts.is_empty());
}

/// What was measured changes what is set at touch-off, and no byte of a program.
#[test]
fn a_record_moves_touch_off_numbers_only() {
    let text = "blank = 38.6\nwitness_left = [2.8, 2.8]\ntape = 0.35\nfoot_to_rim = 36.5";
    let (measured, report) = job::parse_measured(text, FileId(3));
    assert!(report.findings.is_empty(), "{report:#?}");
    let (as_planned, as_made) = (planned("clover", None), planned("clover", measured.as_ref()));
    assert_eq!(as_planned.programs, as_made.programs);
    let set = |plan: &Plan, id: &str| plan.setups.iter().find(|s| s.id == id).map(|s| s.zero.z.set_to).unwrap();
    // ε = (4 − 2.8) − 1 = 0.2; set ε − t_t.
    assert!((set(&as_made, "outside") - (0.2 - 0.35)).abs() < 1e-9);
    assert!((set(&as_planned, "outside") + 0.30).abs() < 1e-9);
    assert!((set(&as_made, "inside") - set(&as_planned, "inside") - 0.42).abs() < 0.01);
}
