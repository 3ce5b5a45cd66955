//! Triangles of one mesh that cross each other.
//!
//! Touching is not crossing: an edge must pierce the inside of the other triangle by more than a slack, or two triangles of
//! one plane must overlap by more than it. On which side of a plane a corner lies is decided without rounding (J. R. Shewchuk,
//! "Adaptive precision floating-point arithmetic and fast robust geometric predicates", 1997).

use crate::Mesh;
use crate::tree::{Bounds, Tree, bounds_of, meet};
use glam::{DVec2, DVec3};
use rayon::prelude::*;
use robust::{Coord3D, orient3d};

/// Depth below which two triangles of an exact mesh count as touching only, mm: above the rounding of f64 at a metre (1e-13
/// mm), far below every tolerance.
pub(crate) const SLACK: f64 = 1e-9;

/// Leaves that are looked at between two glances at the work done.
const BLOCK: usize = 4096;

/// What a search for crossings came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Found {
    /// Pairs of triangles, ascending.
    pub(crate) pairs: Vec<(u32, u32)>,
    /// Whether all triangles were looked at.
    pub(crate) whole: bool,
}

/// Pairs of triangles that cross by more than `slack`. Stops early where more than `most` have been found, or where more
/// than `work` pairs lay near each other.
pub(crate) fn pairs(mesh: &Mesh, slack: f64, most: usize, work: usize) -> Found {
    let tree = Tree::new(mesh);
    let mut found = Found { pairs: Vec::new(), whole: true };
    let mut done = 0;
    for from in (0..tree.leaves()).step_by(BLOCK) {
        if found.pairs.len() > most || done > work {
            found.whole = false;
            break;
        }
        let left = work - done;
        let block = from..(from + BLOCK).min(tree.leaves());
        let parts: Vec<_> = block.into_par_iter().map(|leaf| pairs_of(mesh, &tree, leaf, slack, left)).collect();
        for (pairs, near) in parts {
            found.pairs.extend(pairs);
            done += near;
        }
    }
    found.pairs.sort_unstable();
    found
}

/// Crossing pairs whose first triangle lies in a leaf, and how many pairs lay near each other.
fn pairs_of(mesh: &Mesh, tree: &Tree, leaf: usize, slack: f64, work: usize) -> (Vec<(u32, u32)>, usize) {
    let (mut pairs, mut done) = (Vec::new(), 0);
    let mine: Vec<(u32, Bounds)> = tree.leaf(leaf).iter().map(|&i| (i, bounds_of(mesh.corners(i as usize)))).collect();
    tree.each_near(tree.bounds(leaf), leaf, |other| {
        if done > work {
            return;
        }
        for (n, (i, near)) in mine.iter().enumerate() {
            let others = tree.leaf(other);
            for &j in if other == leaf { &others[n + 1..] } else { others } {
                done += 1;
                if meet(near, &bounds_of(mesh.corners(j as usize))) && cross(mesh, *i as usize, j as usize, slack) {
                    pairs.push((*i.min(&j), *i.max(&j)));
                }
            }
        }
    });
    (pairs, done)
}

fn cross(mesh: &Mesh, i: usize, j: usize, slack: f64) -> bool {
    let (ti, tj) = (mesh.triangles[i], mesh.triangles[j]);
    let (a, b) = (mesh.corners(i), mesh.corners(j));
    let shared = ti.iter().filter(|v| tj.contains(v)).count();
    let (Some(na), Some(_)) = (unit_normal(a), unit_normal(b)) else { return false };
    if in_one_plane(a, na, b, slack) {
        return overlap_in_plane(a, b, na, slack);
    }
    shared < 2 && (pierces(a, ti, b, tj, slack) || pierces(b, tj, a, ti, slack))
}

fn unit_normal([a, b, c]: [DVec3; 3]) -> Option<DVec3> {
    let n = (b - a).cross(c - a);
    (n.length() > SLACK * SLACK).then(|| n.normalize())
}

fn in_one_plane(a: [DVec3; 3], normal: DVec3, b: [DVec3; 3], slack: f64) -> bool {
    b.iter().all(|p| (*p - a[0]).dot(normal).abs() <= slack)
}

/// Six times the volume of a tetrahedron, its sign without rounding: above 0 where `d` lies on the inner side of `a b c`.
fn volume6(a: DVec3, b: DVec3, c: DVec3, d: DVec3) -> f64 {
    let coord = |p: DVec3| Coord3D { x: p.x, y: p.y, z: p.z };
    orient3d(coord(a), coord(b), coord(c), coord(d))
}

/// Whether an edge of `a` that shares no vertex with `b` goes through the inside of `b`: by more than `slack` on either side
/// of its plane, and farther than that from each of its edges.
fn pierces(a: [DVec3; 3], ia: [u32; 3], b: [DVec3; 3], ib: [u32; 3], slack: f64) -> bool {
    let area2 = (b[1] - b[0]).cross(b[2] - b[0]).length();
    (0..3).any(|k| {
        let l = (k + 1) % 3;
        if ib.contains(&ia[k]) || ib.contains(&ia[l]) {
            return false;
        }
        let (p, q) = (a[k], a[l]);
        let sides = [p, q].map(|p| volume6(b[0], b[1], b[2], p));
        if sides[0] * sides[1] >= 0.0 || sides.iter().any(|v| v.abs() <= slack * area2) {
            return false;
        }
        // The volume over two edges is the distance of their lines times the area they span.
        let turn = sides[1].signum();
        (0..3).all(|m| {
            let (from, to) = (b[m], b[(m + 1) % 3]);
            volume6(p, q, from, to) * turn > slack * (q - p).cross(to - from).length()
        })
    })
}

/// Whether two triangles of one plane share area (separating axes in the plane).
fn overlap_in_plane(a: [DVec3; 3], b: [DVec3; 3], normal: DVec3, slack: f64) -> bool {
    let x = normal.any_orthonormal_vector();
    let y = normal.cross(x);
    let flat = |t: [DVec3; 3]| t.map(|p| DVec2::new((p - a[0]).dot(x), (p - a[0]).dot(y)));
    let (a, b) = (flat(a), flat(b));
    let apart = |from: [DVec2; 3]| {
        (0..3).any(|k| {
            let edge = from[(k + 1) % 3] - from[k];
            let axis = edge.perp() / edge.length();
            let span = |t: [DVec2; 3]| {
                let d = t.map(|p| p.dot(axis));
                (d[0].min(d[1]).min(d[2]), d[0].max(d[1]).max(d[2]))
            };
            let (s, t) = (span(a), span(b));
            s.1 <= t.0 + slack || t.1 <= s.0 + slack
        })
    };
    !apart(a) && !apart(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two(a: [[f64; 3]; 3], b: [[f64; 3]; 3]) -> Mesh {
        let vertices: Vec<DVec3> = a.iter().chain(&b).map(|&p| DVec3::from_array(p)).collect();
        Mesh { vertices, triangles: vec![[0, 1, 2], [3, 4, 5]] }.welded()
    }

    fn pairs(mesh: &Mesh) -> Vec<(u32, u32)> {
        super::pairs(mesh, SLACK, usize::MAX, usize::MAX).pairs
    }

    const FLAT: [[f64; 3]; 3] = [[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [0.0, 4.0, 0.0]];

    #[test]
    fn piercing_crosses_and_touching_does_not() {
        let through = [[1.0, 1.0, -1.0], [1.0, 1.0, 1.0], [5.0, 5.0, 0.0]];
        let on_top = [[1.0, 1.0, 0.0], [2.0, 1.0, 1.0], [1.0, 2.0, 1.0]];
        assert_eq!(pairs(&two(FLAT, through)).len(), 1);
        assert_eq!(pairs(&two(FLAT, on_top)).len(), 0);
    }

    #[test]
    fn a_shared_vertex_does_not_hide_a_crossing() {
        let from_corner = [[0.0, 0.0, 0.0], [2.0, 1.0, 1.0], [2.0, 1.0, -1.0]];
        assert_eq!(pairs(&two(FLAT, from_corner)).len(), 1);
    }

    #[test]
    fn triangles_of_one_plane_cross_where_they_overlap() {
        let beside = [[4.0, 0.0, 0.0], [4.0, 4.0, 0.0], [0.0, 4.0, 0.0]];
        let over = [[1.0, 1.0, 0.0], [9.0, 1.0, 0.0], [9.0, 9.0, 0.0]];
        let folded_back = [[4.0, 0.0, 0.0], [0.0, 0.0, 0.0], [1.0, 1.0, 0.0]];
        assert_eq!(pairs(&two(FLAT, beside)).len(), 0);
        assert_eq!(pairs(&two(FLAT, over)).len(), 1);
        assert_eq!(pairs(&two(FLAT, folded_back)).len(), 1);
    }
}
