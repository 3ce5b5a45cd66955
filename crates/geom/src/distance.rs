//! Distances between points, segments and triangles.
//!
//! Nearest point of a triangle by its Voronoi regions, segments by their parameters, after C. Ericson, *Real-Time
//! Collision Detection*, 2005, §5.1.5 and §5.1.9 (from memory). Degenerate segments and triangles are taken for what is
//! left of them.

use glam::DVec3;

/// Distance of a point from a segment.
pub fn point_segment(p: DVec3, a: DVec3, b: DVec3) -> f64 {
    p.distance(nearest_on_segment(p, a, b))
}

/// The point of a segment nearest to `p`.
pub fn nearest_on_segment(p: DVec3, a: DVec3, b: DVec3) -> DVec3 {
    let d = b - a;
    let along = (p - a).dot(d);
    if along <= 0.0 {
        return a; // also where the segment is a point
    }
    let length2 = d.length_squared();
    if along >= length2 { b } else { a + d * (along / length2) }
}

/// The point of a triangle nearest to `p`.
pub fn nearest_on_triangle(p: DVec3, t: [DVec3; 3]) -> DVec3 {
    let [a, b, c] = t;
    let n = (b - a).cross(c - a);
    // Within the three planes upright on the edges the foot of the perpendicular is the answer.
    let inside = |u: DVec3, v: DVec3| n.cross(v - u).dot(p - u) >= 0.0;
    let n2 = n.length_squared();
    if n2 > 0.0 && inside(a, b) && inside(b, c) && inside(c, a) {
        return p - n * ((p - a).dot(n) / n2);
    }
    let mut best = nearest_on_segment(p, a, b);
    for (u, v) in [(b, c), (c, a)] {
        let q = nearest_on_segment(p, u, v);
        if p.distance_squared(q) < p.distance_squared(best) {
            best = q;
        }
    }
    best
}

/// Distance of two segments.
pub fn segment_segment(a: DVec3, b: DVec3, c: DVec3, d: DVec3) -> f64 {
    let (u, v, w) = (b - a, d - c, a - c);
    let (uu, uv, vv) = (u.length_squared(), u.dot(v), v.length_squared());
    let det = uu * vv - uv * uv;
    // Ends against the other segment cover every case but that of two inner points.
    let mut least = point_segment(a, c, d).min(point_segment(b, c, d));
    least = least.min(point_segment(c, a, b)).min(point_segment(d, a, b));
    if det > 0.0 {
        let (uw, vw) = (u.dot(w), v.dot(w));
        let (s, t) = ((uv * vw - vv * uw) / det, (uu * vw - uv * uw) / det);
        if (0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t) {
            least = least.min((w + u * s - v * t).length());
        }
    }
    least
}

/// Distance of a segment from a triangle (0 if they meet).
pub fn segment_triangle(a: DVec3, b: DVec3, t: [DVec3; 3]) -> f64 {
    if meets(a, b, t) {
        return 0.0;
    }
    let mut least = a.distance(nearest_on_triangle(a, t)).min(b.distance(nearest_on_triangle(b, t)));
    for k in 0..3 {
        least = least.min(segment_segment(a, b, t[k], t[(k + 1) % 3]));
    }
    least
}

fn meets(a: DVec3, b: DVec3, t: [DVec3; 3]) -> bool {
    let n = (t[1] - t[0]).cross(t[2] - t[0]);
    let (da, db) = ((a - t[0]).dot(n), (b - t[0]).dot(n));
    if da == db || da * db > 0.0 {
        return false; // beside the plane, or in it: then an edge or an end is nearest
    }
    let p = a + (b - a) * (da / (da - db));
    (0..3).all(|k| n.cross(t[(k + 1) % 3] - t[k]).dot(p - t[k]) >= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const T: [DVec3; 3] = [DVec3::new(0.0, 0.0, 0.0), DVec3::new(4.0, 0.0, 0.0), DVec3::new(0.0, 3.0, 0.0)];

    #[test]
    fn the_regions_of_a_triangle() {
        let near = |x, y, z| nearest_on_triangle(DVec3::new(x, y, z), T);
        assert_eq!(near(1.0, 1.0, 7.0), DVec3::new(1.0, 1.0, 0.0));
        assert_eq!(near(-1.0, -2.0, 1.0), DVec3::ZERO);
        assert_eq!(near(2.0, -5.0, 0.0), DVec3::new(2.0, 0.0, 0.0));
        assert_eq!(near(9.0, -1.0, 0.0), DVec3::new(4.0, 0.0, 0.0));
        // The hypotenuse: 3x + 4y = 12; from (4, 3) the foot lies 12/5 away (closed form).
        assert!((near(4.0, 3.0, 0.0).distance(DVec3::new(4.0, 3.0, 0.0)) - 2.4).abs() < 1e-12);
    }

    #[test]
    fn segments_and_triangles() {
        let d = |a: [f64; 3], b: [f64; 3]| segment_triangle(DVec3::from_array(a), DVec3::from_array(b), T);
        assert_eq!(d([1.0, 1.0, -1.0], [1.0, 1.0, 1.0]), 0.0);
        assert_eq!(d([1.0, 1.0, 2.0], [1.0, 1.0, 5.0]), 2.0);
        assert_eq!(d([-1.0, -5.0, 1.0], [-1.0, 5.0, 1.0]), 2.0_f64.sqrt());
        assert_eq!(d([1.0, 1.0, 0.0], [9.0, 9.0, 0.0]), 0.0);
    }

    #[test]
    fn degenerate_ones_are_what_is_left_of_them() {
        let p = DVec3::new(0.0, 0.0, 5.0);
        assert_eq!(point_segment(p, DVec3::ZERO, DVec3::ZERO), 5.0);
        assert_eq!(nearest_on_triangle(p, [DVec3::ZERO, DVec3::X, DVec3::X]), DVec3::ZERO);
        assert_eq!(segment_segment(p, p, DVec3::ZERO, DVec3::X), 5.0);
    }

    fn point() -> impl Strategy<Value = DVec3> {
        (-5.0..5.0_f64, -5.0..5.0_f64, -5.0..5.0_f64).prop_map(|(x, y, z)| DVec3::new(x, y, z))
    }

    proptest! {
        #[test]
        fn no_point_of_the_triangle_is_nearer(p in point(), a in point(), b in point(), c in point()) {
            let best = p.distance(nearest_on_triangle(p, [a, b, c]));
            let mut least = f64::INFINITY;
            for i in 0..=40 {
                for j in 0..=40 - i {
                    let q = a + (b - a) * (f64::from(i) / 40.0) + (c - a) * (f64::from(j) / 40.0);
                    least = least.min(p.distance(q));
                }
            }
            let coarse = (b - a).length().max((c - a).length()).max((c - b).length()) / 40.0;
            prop_assert!(best <= least + 1e-9 && best >= least - coarse);
        }

        #[test]
        fn no_pair_of_points_is_nearer(a in point(), b in point(), c in point(), d in point(), e in point()) {
            let best = segment_triangle(a, b, [c, d, e]);
            let mut least = f64::INFINITY;
            for i in 0..=200 {
                let q = a + (b - a) * (f64::from(i) / 200.0);
                least = least.min(q.distance(nearest_on_triangle(q, [c, d, e])));
            }
            prop_assert!(best <= least + 1e-9 && best >= least - (b - a).length() / 200.0);
        }
    }
}
