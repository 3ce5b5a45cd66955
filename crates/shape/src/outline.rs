//! Outlines: smooth closed curves about the origin, counter-clockwise, with their normals, curvature and parallels.

use base::Report;
use geom::{DVec2, Ring};
use job::{OutlineSpec, Placed};

/// A smooth outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    // fields are the implementer's
}

impl Outline {
    /// Checks the sizes and builds the curve.
    pub fn new(spec: &Placed<OutlineSpec>, report: &mut Report) -> Option<Self> {
        let _ = (spec, report);
        todo!()
    }

    /// Area enclosed, mm² (closed form or to 1e-9 relative).
    pub fn area(&self) -> f64 {
        todo!()
    }

    /// Length round, mm.
    pub fn length(&self) -> f64 {
        todo!()
    }

    /// Least radius of convex curvature: the greatest inset (exclusive) that keeps the parallel smooth.
    pub fn reach_inwards(&self) -> f64 {
        todo!()
    }

    /// Least radius of concave curvature (infinite for convex outlines): the greatest outset that keeps it smooth.
    pub fn reach_outwards(&self) -> f64 {
        todo!()
    }

    /// Half extents along X and Y.
    pub fn half_size(&self) -> DVec2 {
        todo!()
    }

    /// The parallel at `inset` (negative: outwards), within `tolerance` of the true curve.
    pub fn parallel(&self, inset: f64, tolerance: f64) -> Ring {
        let _ = (inset, tolerance);
        todo!()
    }
}
