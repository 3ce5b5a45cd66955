//! Regions of the plane bounded by polygons: offsets, joins, tests. Hides the polygon library behind one module.

use glam::DVec2;

/// A closed polygon; the last point joins the first. Counter-clockwise is an outer boundary, clockwise a hole.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Ring(pub Vec<DVec2>);

/// A region: outer rings counter-clockwise, holes clockwise.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Region {
    /// The rings.
    pub rings: Vec<Ring>,
}

impl Ring {
    /// Signed area, positive when counter-clockwise.
    pub fn area(&self) -> f64 {
        todo!()
    }

    /// Length round.
    pub fn perimeter(&self) -> f64 {
        todo!()
    }

    /// Distance of `p` from the boundary.
    pub fn distance(&self, p: DVec2) -> f64 {
        let _ = p;
        todo!()
    }

    /// With points dropped that lie nearer than `tolerance` to the chord of their neighbours.
    pub fn thinned(&self, tolerance: f64) -> Ring {
        let _ = tolerance;
        todo!()
    }
}

impl Region {
    /// A rectangle.
    pub fn rectangle(min: DVec2, max: DVec2) -> Self {
        let _ = (min, max);
        todo!()
    }

    /// Outwards (`by` > 0) or inwards, with round joins true to `arc_tolerance`.
    pub fn offset(&self, by: f64, arc_tolerance: f64) -> Region {
        let _ = (by, arc_tolerance);
        todo!()
    }

    /// This or that.
    pub fn union(&self, other: &Region) -> Region {
        let _ = other;
        todo!()
    }

    /// This without that.
    pub fn minus(&self, other: &Region) -> Region {
        let _ = other;
        todo!()
    }

    /// Both.
    pub fn common(&self, other: &Region) -> Region {
        let _ = other;
        todo!()
    }

    /// Enclosed area.
    pub fn area(&self) -> f64 {
        self.rings.iter().map(Ring::area).sum()
    }

    /// Whether `p` lies inside.
    pub fn contains(&self, p: DVec2) -> bool {
        let _ = p;
        todo!()
    }

    /// The outer rings with their holes, one region each.
    pub fn parts(&self) -> Vec<Region> {
        todo!()
    }
}
