//! What is laid before the proof: from a plan, or from the files of a pack.

use crate::plan_doc::{CastDoc, stl_path};
use crate::{PapersError, PlanDoc, stl};
use geom::Mesh;
use proof::{CastFacts, Evidence, MarkFacts, PieceFacts, Promise};
use route::{CastPlan, Plan};
use std::collections::BTreeMap;
use trade::shelf::{Cutter, Machine};
use workpiece::Setup;

/// Gouge promised beyond the chord tolerance, mm.
pub(crate) const GOUGE_MM: f64 = 0.01;
/// Leftover promised beyond the target scallop, mm.
pub(crate) const LEFTOVER_MM: f64 = 0.02;

/// What the proof looks at, from a plan. Meshes keep their full precision.
pub fn evidence_of(plan: &Plan, pitch_mm: f64) -> Evidence {
    Evidence {
        promise: Promise {
            chord: plan.chord,
            gouge: GOUGE_MM,
            scallop: plan.scallop,
            leftover: LEFTOVER_MM,
            pitch: pitch_mm,
        },
        machine: Machine { at: None, ..plan.machine.clone() },
        cutters: plan.cutters.iter().map(|c| held(c, &plan.machine)).collect(),
        holding: plan.holding.clone(),
        blank: plan.blank.clone(),
        piece: PieceFacts {
            model: stl_path("models/piece"),
            height: plan.piece.size[2],
            wall: plan.piece.wall,
            floor: plan.piece.floor,
            recess: plan.piece.recess,
            mark: plan.piece.mark.as_ref().map(|m| MarkFacts { half: m.half, depth: m.depth }),
        },
        casts: plan.casts.iter().map(cast_of_plan).collect(),
        steps: plan.steps.clone(),
        setups: plan.setups.clone(),
        models: plan.models.iter().map(|(name, mesh)| (stl_path(name), mesh.clone())).collect(),
        programs: plan.programs.clone(),
    }
}

fn held(cutter: &Cutter, machine: &Machine) -> Cutter {
    Cutter { at: None, solid: cutter.solid_in(machine), ..cutter.clone() }
}

pub(crate) fn cast_of_plan(cast: &CastPlan) -> CastFacts {
    CastFacts {
        name: cast.name.clone(),
        hollow: stl_path(&format!("models/cast-{}-hollow", cast.name)),
        in_piece: stl_path(&format!("models/cast-{}", cast.name)),
        resin: cast.resin.clone(),
        translucent: cast.translucent,
        to_mix_ml: cast.to_mix_ml,
        layers: cast.layers.iter().map(|l| l.depth).collect(),
        crossing_deg: cast.crossing_deg,
        peaks_c: cast.curing.layers.iter().map(|l| [l.usual.peak_c, l.hot.peak_c]).collect(),
        next_h: cast.curing.next_h.iter().map(|next| next.usual).collect(),
        carve_h: Some(cast.curing.carve_h.usual),
    }
}

/// What the proof looks at, from the files of a pack: `plan.json`, the models in STL, and the program texts as they lie
/// there now. `files` gives the bytes of a path in the pack.
///
/// # Errors
/// [`PapersError::Missing`] or [`PapersError::Unreadable`], naming the file.
pub fn read_pack(files: &dyn Fn(&str) -> Option<Vec<u8>>, pitch_mm: f64) -> Result<(Evidence, PlanDoc), PapersError> {
    let get = |file: &str| files(file).ok_or_else(|| PapersError::Missing { file: file.to_owned() });
    let doc = PlanDoc::read(&get("plan.json")?)?;
    let mut models: BTreeMap<String, Mesh> = BTreeMap::new();
    for name in named_models(&doc) {
        let mesh = stl::read(&name, &get(&name)?)?;
        models.insert(name, mesh);
    }
    let mut programs = BTreeMap::new();
    for name in doc.setups.iter().flat_map(named_programs) {
        let text = String::from_utf8(get(name)?)
            .map_err(|_| PapersError::unreadable(name, "it is not plain text (UTF-8 was expected)"))?;
        programs.insert(name.to_owned(), text);
    }
    Ok((evidence_of_doc(&doc, models, programs, pitch_mm), doc))
}

/// Every model the document names, once.
fn named_models(doc: &PlanDoc) -> Vec<String> {
    let mut names: Vec<String> = doc.models.clone();
    names.push(doc.piece.model.clone());
    names.extend(doc.casts.iter().flat_map(|c| [c.model.clone(), c.hollow_model.clone()]));
    names.extend(doc.setups.iter().flat_map(|s| std::iter::once(&s.target).chain(&s.keep).cloned()));
    names.sort();
    names.dedup();
    names
}

fn named_programs(setup: &Setup) -> impl Iterator<Item = &str> {
    std::iter::once(setup.look_first.as_str())
        .chain(setup.programs.iter().map(|p| p.file.as_str()))
        .filter(|file| !file.is_empty())
}

fn evidence_of_doc(
    doc: &PlanDoc,
    models: BTreeMap<String, Mesh>,
    programs: BTreeMap<String, String>,
    pitch_mm: f64,
) -> Evidence {
    Evidence {
        promise: Promise {
            chord: doc.tolerance_mm,
            gouge: doc.promise.gouge_mm,
            scallop: doc.target_scallop_mm,
            leftover: doc.promise.leftover_mm,
            pitch: pitch_mm,
        },
        machine: doc.shop.machine.clone(),
        cutters: doc.cutters.iter().map(|c| c.cutter()).collect(),
        holding: doc.shop.holding.clone(),
        blank: doc.blank.blank(),
        piece: PieceFacts {
            model: doc.piece.model.clone(),
            height: doc.piece.size_mm[2],
            wall: doc.piece.wall_mm,
            floor: doc.piece.floor_mm,
            recess: doc.piece.recess_mm,
            mark: doc.piece.mark.as_ref().map(|m| MarkFacts { half: m.half_mm, depth: m.depth_mm }),
        },
        casts: doc.casts.iter().map(cast_of_doc).collect(),
        steps: doc.steps.clone(),
        setups: doc.setups.clone(),
        models,
        programs,
    }
}

fn cast_of_doc(cast: &CastDoc) -> CastFacts {
    CastFacts {
        name: cast.name.clone(),
        hollow: cast.hollow_model.clone(),
        in_piece: cast.model.clone(),
        resin: cast.resin.clone(),
        translucent: cast.translucent,
        to_mix_ml: cast.to_mix_ml,
        layers: cast.layers.iter().map(|l| l.depth_mm).collect(),
        crossing_deg: cast.crossing_deg,
        peaks_c: cast.peaks_c.clone(),
        next_h: cast.next_h.clone(),
        carve_h: cast.carve_h,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::{PackOptions, pack};

    #[test]
    fn a_pack_read_back_gives_the_same_evidence() {
        let plan = fixture::plan();
        let pack = pack(&plan, &fixture::proof(), &PackOptions::default(), &base::Quiet).unwrap();
        let (read, doc) = read_pack(&|file| pack.files.get(file).cloned(), 0.1).unwrap();
        let mut straight = evidence_of(&plan, 0.1);
        assert_eq!(doc.title, plan.title);
        // Models pass through f32 STL: same triangles, corners within half a step of f32 at 128 mm (4e-6 mm).
        assert_eq!(straight.models.keys().collect::<Vec<_>>(), read.models.keys().collect::<Vec<_>>());
        for (name, mesh) in &straight.models {
            let back = &read.models[name];
            assert_eq!(mesh.triangles.len(), back.triangles.len());
            for t in 0..mesh.triangles.len() {
                let corners = |m: &Mesh| m.triangles[t].map(|v| m.vertices[v as usize]);
                let apart = corners(mesh).into_iter().zip(corners(back)).map(|(a, b)| a.distance(b));
                assert!(apart.fold(0.0, f64::max) < 8e-6);
            }
        }
        straight.models = read.models.clone();
        assert_eq!(straight, read);
    }

    #[test]
    fn a_changed_program_is_seen_and_a_lost_one_named() {
        let plan = fixture::plan();
        let pack = pack(&plan, &fixture::proof(), &PackOptions::default(), &base::Quiet).unwrap();
        let name = plan.programs.keys().next().unwrap().clone();
        let tampered = |file: &str| {
            if file == name { Some(b"G0 Z0".to_vec()) } else { pack.files.get(file).cloned() }
        };
        let (read, _) = read_pack(&tampered, 0.1).unwrap();
        assert_eq!(read.programs[&name], "G0 Z0");
        let lost = |file: &str| pack.files.get(file).filter(|_| file != name).cloned();
        let error = read_pack(&lost, 0.1).unwrap_err();
        assert!(matches!(error, PapersError::Missing { file } if file == name));
    }

    #[test]
    fn another_version_is_refused() {
        let error = read_pack(&|_| Some(br#"{ "format": 2 }"#.to_vec()), 0.1).unwrap_err();
        assert!(error.to_string().contains("format 2"), "{error}");
    }
}
