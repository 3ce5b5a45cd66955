//! A real job from text to pack and back: what is judged again from the files is what was judged from the plan.
#![allow(clippy::unwrap_used)]

use base::{FileId, Quiet};
use papers::{PackOptions, evidence_of, pack, plan_schema, proof_schema, read_pack};
use route::{Plan, Request, plan};

/// Columns of this test, mm: coarse, for nothing is judged here.
const PITCH: f64 = 1.0;

fn planned(name: &str) -> Plan {
    let text =
        std::fs::read_to_string(format!("{}/../../examples/{name}/job.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let job = job::parse(&text, FileId(0)).0.unwrap();
    let shelf = trade::parse(trade::DEFAULT_SHELF, FileId(1)).0.unwrap();
    let piece = shape::piece(&job.piece, 0.01).0.unwrap();
    plan(&Request { job: &job, shelf: &shelf, piece: &piece, measured: None }, &Quiet).unwrap().0.unwrap()
}

fn obeys(schema: &str, document: &[u8]) -> Vec<String> {
    let schema = serde_json::from_str(schema).unwrap();
    let document = serde_json::from_slice(document).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    validator.iter_errors(&document).map(|fault| fault.to_string()).collect()
}

#[test]
fn the_pack_of_the_tray_says_all_that_the_plan_says() {
    let plan = planned("pantry-tray");
    let evidence = evidence_of(&plan, PITCH);
    let proof = proof::prove(&evidence, &Quiet).unwrap();
    let pack = pack(&plan, &proof, &PackOptions::default(), &Quiet).unwrap();
    assert_eq!(obeys(&plan_schema(), &pack.files["plan.json"]), Vec::<String>::new());
    assert_eq!(obeys(&proof_schema(), &pack.files["proof.json"]), Vec::<String>::new());

    let (mut back, _) = read_pack(&|file| pack.files.get(file).cloned(), PITCH).unwrap();
    assert_eq!(back.models.len(), evidence.models.len());
    for (name, mesh) in &evidence.models {
        let read = &back.models[name];
        assert_eq!(read.flaws(false).open_edges, 0, "{name} is open after STL");
        // f32 moves corners by 8e-6 mm at most within 128 mm, 3e-5 within 512 mm: far below 1e-6 of these volumes.
        assert!((read.volume() / mesh.volume() - 1.0).abs() < 1e-6, "{name}");
    }
    back.models = evidence.models.clone();
    assert_eq!(back, evidence);

    let gltf = gltf::Gltf::from_slice(&pack.files["models/setup-tray-after.glb"]).unwrap();
    assert_eq!(gltf.meshes().count(), 1);
}
