//! Finding the triangles over a patch of the XY plane.

use crate::Mesh;
use glam::DVec2;

/// Buckets of triangles on an XY lattice.
#[derive(Clone, Debug)]
pub struct TriangleIndex {
    // fields are the implementer's
}

impl TriangleIndex {
    /// Builds the index. `cell` is the bucket size in mm.
    pub fn new(mesh: &Mesh, cell: f64) -> Self {
        let _ = (mesh, cell);
        todo!()
    }

    /// Calls `visit` once for every triangle whose XY box meets the box `min`–`max`, in ascending order of index.
    pub fn each_in(&self, min: DVec2, max: DVec2, visit: &mut dyn FnMut(u32)) {
        let _ = (min, max, visit);
        todo!()
    }

    /// Calls `visit` with the z of each crossing of the vertical line through `at` with the mesh and whether the
    /// surface there faces up (ascending z).
    pub fn crossings(&self, mesh: &Mesh, at: DVec2) -> Vec<(f64, bool)> {
        let _ = (mesh, at);
        todo!()
    }
}
