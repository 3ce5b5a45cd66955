//! Cutter location: the lowest tip height at which a cutter does not enter a mesh, exact over facets, edges, vertices.

use geom::Mesh;
use trade::cutter::Solid;

/// A mesh made ready for one cutter.
#[derive(Clone, Debug)]
pub struct CutterLocation {
    // fields are the implementer's
}

impl CutterLocation {
    /// `allowance` mm are left on everywhere (the cutter is thought thicker by it: radius, corner and below the tip).
    pub fn new(mesh: &Mesh, cutter: &Solid, allowance: f64) -> Self {
        let _ = (mesh, cutter, allowance);
        todo!()
    }

    /// Lowest tip height at (x, y); `None` where no triangle lies under the cutter.
    pub fn height(&self, x: f64, y: f64) -> Option<f64> {
        let _ = (x, y);
        todo!()
    }
}
