//! Casts: hollows a vertical cutter can make, carved from the rim face, in the piece's frame.

use base::Report;
use geom::{DVec2, Mesh};
use job::CastSpec;

/// What the making must leave for a cast, and what the cutter can reach; comes from the planner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CastRoom {
    /// z of the face the hollow is carved from: H + a_r + ℓ.
    pub face_z: f64,
    /// Radius of the finest cutter for hollows, mm.
    pub cutter_radius: f64,
    /// Least width of a tongue of wood between drips, mm (3; 4 in ring-porous wood).
    pub least_tongue: f64,
    /// How far beyond the outline hollows run into the waste, mm (≥ 1).
    pub beyond_outline: f64,
}

/// One cast as solids.
#[derive(Clone, Debug, PartialEq)]
pub struct Cast {
    /// Its name in the job.
    pub name: String,
    /// The whole hollow, from its bottom up to `face_z` exactly (closed mesh).
    pub hollow: Mesh,
    /// The resin left in the finished piece: hollow ∩ piece.
    pub in_piece: Mesh,
    /// Least z of the hollow.
    pub bottom_z: f64,
    /// A point in plan to pour from (deepest place).
    pub pour_at: DVec2,
    /// Least angle between the hollow's skin and the finished skin where they cross, degrees, and where.
    pub crossing_deg: f64,
    /// Where that is.
    pub crossing_at: [f64; 3],
    /// Least radius of its concave edges in plan and section, mm.
    pub least_concave: f64,
    /// Least width of wood between drips, mm (infinite without drips).
    pub least_tongue: f64,
}

/// Builds the solids of the casts of a piece.
pub fn casts(
    piece: &crate::Piece,
    specs: &[CastSpec],
    seed: u64,
    room: &CastRoom,
    tolerance: f64,
) -> (Vec<Cast>, Report) {
    let _: (&crate::Piece, &[CastSpec], u64, &CastRoom, f64) = (piece, specs, seed, room, tolerance);
    todo!()
}
