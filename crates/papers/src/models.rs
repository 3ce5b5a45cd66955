//! The models of a pack: STL for every mesh, the piece in 3MF and GLB, the workpiece before and after each setup in GLB.
//!
//! All stand in the piece's frame, also the workpiece of a setup with the foot face up.

use crate::glb::{self, Part};
use crate::pack::Pack;
use crate::plan_doc::stl_path;
use crate::surface::{Field, material_under};
use crate::{PapersError, stl, threemf};
use glam::Vec3;
use proof::{Proof, Snapshot};
use route::Plan;
use workpiece::{Change, Face, Material, Workpiece};

const FRAME: &str = "piece: z = 0 on the foot plane, X along the grain";
/// Cells of the skin along the longer side in the models before and after a setup: about 5 MB.
const CELLS: usize = 200;
/// How dull wood and resin are in viewers.
const WOOD_ROUGHNESS: f32 = 0.75;
const RESIN_ROUGHNESS: f32 = 0.25;

/// Writes all models.
pub(crate) fn write(plan: &Plan, proof: &Proof, pack: &mut Pack) -> Result<(), PapersError> {
    for (name, mesh) in &plan.models {
        pack.put(stl_path(name), stl::write(mesh, name));
    }
    if let Some(piece) = plan.models.get("models/piece") {
        pack.put("models/piece.3mf", threemf::write(piece, &plan.title, &plan.wood, plan.wood_colour)?);
        pack.put("models/piece.glb", piece_glb(plan, piece)?);
    }
    for setup in &plan.setups {
        let (before, after) = around(plan, proof, &setup.id);
        for (when, snapshot) in [("before", before), ("after", after)] {
            if let Some(snapshot) = snapshot {
                let path = format!("models/setup-{}-{when}.glb", setup.id);
                let bytes = workpiece_glb(plan, &path, &snapshot.workpiece)?;
                pack.put(path, bytes);
            }
        }
    }
    Ok(())
}

/// The pictures of the workpiece before and after the step that runs a setup's programs.
fn around<'a>(plan: &Plan, proof: &'a Proof, setup: &str) -> (Option<&'a Snapshot>, Option<&'a Snapshot>) {
    let carves = |change: &Option<Change>| matches!(change, Some(Change::Carve { setup: s }) if s == setup);
    let step = plan.steps.iter().find(|s| carves(&s.change)).map(|s| s.id.as_str());
    let at = proof.snapshots.iter().position(|s| Some(s.step.as_str()) == step);
    (at.and_then(|k| k.checked_sub(1)).map(|k| &proof.snapshots[k]), at.map(|k| &proof.snapshots[k]))
}

/// Wood and resins as solids of their own, so that each has its colour. Where the solids can't be told apart the skin of
/// the whole piece stands in for the wood.
fn piece_glb(plan: &Plan, piece: &geom::Mesh) -> Result<Vec<u8>, PapersError> {
    let mut wood = piece.clone();
    let mut solids = Vec::new();
    for cast in &plan.casts {
        if let Some(resin) = plan.models.get(&format!("models/cast-{}", cast.name)) {
            wood = wood.minus(resin).unwrap_or(wood);
            solids.push((cast.name.as_str(), stl::welded(resin), cast.colour, RESIN_ROUGHNESS));
        }
    }
    solids.insert(0, (plan.wood.as_str(), stl::welded(&wood), plan.wood_colour, WOOD_ROUGHNESS));
    let parts: Vec<Part<'_>> = solids
        .iter()
        .map(|(name, mesh, colour, roughness)| Part {
            name,
            corners: &mesh.corners,
            normals: None,
            colours: None,
            triangles: &mesh.triangles,
            colour: *colour,
            roughness: *roughness,
        })
        .collect();
    glb::write("models/piece.glb", FRAME, &parts)
}

fn workpiece_glb(plan: &Plan, path: &str, workpiece: &Workpiece) -> Result<Vec<u8>, PapersError> {
    let nothing = || PapersError::unwritable(path, "there is no workpiece left to show");
    let field = Field::new(workpiece, CELLS).ok_or_else(nothing)?;
    let skin = field.skin();
    let colours: Vec<[u8; 3]> = skin
        .corners
        .iter()
        .zip(&skin.normals)
        .map(|(at, normal)| match material_under(workpiece, *at, *normal, field.step * 0.6) {
            Material::Resin(k) => plan.casts.get(k as usize).map_or(plan.wood_colour, |c| c.colour),
            Material::Board(_) | Material::Air => plan.wood_colour,
        })
        .collect();
    let turned = workpiece.face_up() == Face::Foot;
    let piece = |p: &Vec3| if turned { [p.x, -p.y, -p.z] } else { p.to_array() };
    let corners: Vec<[f32; 3]> = skin.corners.iter().map(piece).collect();
    let normals: Vec<[f32; 3]> = skin.normals.iter().map(piece).collect();
    let part = Part {
        name: "workpiece",
        corners: &corners,
        normals: Some(&normals),
        colours: Some(&colours),
        triangles: &skin.triangles,
        colour: plan.wood_colour,
        roughness: WOOD_ROUGHNESS,
    };
    glb::write(path, FRAME, &[part])
}
