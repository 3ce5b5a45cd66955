//! Closed triangle meshes: volume, checks, transforms, solid operations.

use glam::{DAffine3, DVec3};

/// A triangle mesh; triangles wind counter-clockwise seen from outside.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Mesh {
    /// Vertices, mm.
    pub vertices: Vec<DVec3>,
    /// Triangles as indices of vertices.
    pub triangles: Vec<[u32; 3]>,
}

/// What is wrong with a mesh as the skin of a solid.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Flaws {
    /// Edges that are not shared by exactly two triangles of opposite sense.
    pub open_edges: usize,
    /// Triangles with (nearly) no area.
    pub degenerate: usize,
    /// Pairs of triangles that cross each other (only when asked for).
    pub crossing: usize,
}

/// Why a solid operation gave nothing.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("solid operation failed: {0}")]
pub struct SolidError(pub String);

impl Mesh {
    /// An axis-parallel box.
    pub fn cuboid(min: DVec3, max: DVec3) -> Self {
        let _ = (min, max);
        todo!()
    }

    /// Corners of triangle `i`.
    pub fn corners(&self, i: usize) -> [DVec3; 3] {
        self.triangles[i].map(|v| self.vertices[v as usize])
    }

    /// Enclosed volume, mm³ (divergence theorem).
    pub fn volume(&self) -> f64 {
        todo!()
    }

    /// Area of the skin, mm².
    pub fn area(&self) -> f64 {
        todo!()
    }

    /// Least and greatest corner; `None` for an empty mesh.
    pub fn bounds(&self) -> Option<(DVec3, DVec3)> {
        todo!()
    }

    /// Moved by a rigid motion (determinant +1).
    pub fn transformed(&self, by: &DAffine3) -> Self {
        let _ = by;
        todo!()
    }

    /// Edges, areas and, if asked, crossings.
    pub fn flaws(&self, look_for_crossings: bool) -> Flaws {
        let _ = look_for_crossings;
        todo!()
    }

    /// This or that.
    ///
    /// # Errors
    /// [`SolidError`] if an input is not the skin of a solid.
    pub fn union(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        let _ = other;
        todo!()
    }

    /// This without that.
    ///
    /// # Errors
    /// As [`Mesh::union`].
    pub fn minus(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        let _ = other;
        todo!()
    }

    /// Both this and that.
    ///
    /// # Errors
    /// As [`Mesh::union`].
    pub fn common(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        let _ = other;
        todo!()
    }
}
