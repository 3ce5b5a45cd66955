//! The finished piece, and the solids its making passes through.

use crate::Outline;
use base::Report;
use geom::Mesh;
use job::PieceSpec;

/// The piece as exact outline and profiles, and as a closed mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Outline of the rim.
    pub outline: Outline,
    /// Finished height H, mm.
    pub height: f64,
    /// Least wall asked for, mm.
    pub wall: f64,
    /// Least floor asked for, mm.
    pub floor: f64,
    /// z of the inside floor, mm (floor plus the recess).
    pub floor_z: f64,
    /// Depth and land of the foot's recess, mm, if it has one.
    pub recess: Option<[f64; 2]>,
    /// Inset of the foot's edge, mm.
    pub foot_inset: f64,
    /// Closed mesh of the finished piece.
    pub mesh: Mesh,
    /// Volume in closed form, mm³ (Steiner).
    pub volume_exact: f64,
    /// Least wall along the normal as built, mm.
    pub least_wall: f64,
    /// Least slope from horizontal of the outside wall near the rim, degrees (90 = upright).
    pub rim_slope_deg: f64,
    /// Chord tolerance of the mesh, mm.
    pub tolerance: f64,
}

/// Builds the piece. `None` if the report has errors.
pub fn piece(spec: &PieceSpec, tolerance: f64) -> (Option<Piece>, Report) {
    let _ = (spec, tolerance);
    todo!()
}

impl Piece {
    /// Inset of the outside surface at height z (0 ≤ z ≤ H).
    pub fn outside_inset(&self, z: f64) -> f64 {
        let _ = z;
        todo!()
    }

    /// Inset of the inside surface at height z (floor_z ≤ z ≤ H).
    pub fn inside_inset(&self, z: f64) -> f64 {
        let _ = z;
        todo!()
    }

    /// Slope of the outside from horizontal at height z, degrees.
    pub fn outside_slope_deg(&self, z: f64) -> f64 {
        let _ = z;
        todo!()
    }

    /// The outside as a full body (no hollow), with its foot and recess, carried straight up from the rim to `top_z`.
    pub fn outside_body(&self, top_z: f64) -> Mesh {
        let _ = top_z;
        todo!()
    }

    /// The inside as a full body, carried straight up from the rim to `top_z`: what is cut out of the piece.
    pub fn inside_body(&self, top_z: f64) -> Mesh {
        let _ = top_z;
        todo!()
    }

    /// A full prism of the outline moved by `inset` (negative: outwards) from `bottom_z` to `top_z`.
    pub fn prism(&self, inset: f64, bottom_z: f64, top_z: f64) -> Mesh {
        let _ = (inset, bottom_z, top_z);
        todo!()
    }
}
