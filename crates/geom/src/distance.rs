//! Distances between points, segments and triangles.

use glam::DVec3;

/// Distance of a point from a segment.
pub fn point_segment(p: DVec3, a: DVec3, b: DVec3) -> f64 {
    let _ = (p, a, b);
    todo!()
}

/// The point of a triangle nearest to `p`.
pub fn nearest_on_triangle(p: DVec3, t: [DVec3; 3]) -> DVec3 {
    let _ = (p, t);
    todo!()
}

/// Distance of a segment from a triangle (0 if they meet).
pub fn segment_triangle(a: DVec3, b: DVec3, t: [DVec3; 3]) -> f64 {
    let _ = (a, b, t);
    todo!()
}
