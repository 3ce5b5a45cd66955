//! Triangles of one mesh that cross each other.
//!
//! Touching is not crossing: an edge must pierce the inside of the other triangle by more than [`SLACK`], or two
//! triangles of one plane must overlap.

use crate::Mesh;
use glam::{DVec2, DVec3};
use rayon::prelude::*;

/// Depth below which two triangles count as touching only, mm: above the rounding of f64 at a metre (1e-13 mm), far
/// below every tolerance.
const SLACK: f64 = 1e-9;

/// Most cells along an axis of the bucket lattice.
const MOST_CELLS: usize = 96;

/// Pairs of crossing triangles, ascending.
pub(crate) fn pairs(mesh: &Mesh) -> Vec<(u32, u32)> {
    let Some(buckets) = Buckets::new(mesh) else { return Vec::new() };
    let cells: Vec<&[(u64, u32)]> = buckets.entries.chunk_by(|a, b| a.0 == b.0).collect();
    let found: Vec<Vec<(u32, u32)>> = cells.par_iter().map(|cell| buckets.crossing_in(mesh, cell)).collect();
    let mut all: Vec<(u32, u32)> = found.into_iter().flatten().collect();
    all.sort_unstable();
    all
}

struct Buckets {
    /// (cell, triangle), sorted.
    entries: Vec<(u64, u32)>,
    boxes: Vec<(DVec3, DVec3)>,
    low: DVec3,
    size: DVec3,
}

impl Buckets {
    fn new(mesh: &Mesh) -> Option<Self> {
        let (low, high) = mesh.bounds()?;
        let along = ((mesh.triangles.len() as f64).sqrt() as usize).clamp(1, MOST_CELLS);
        let size = ((high - low) / along as f64).max(DVec3::splat(SLACK));
        let boxes = (0..mesh.triangles.len())
            .map(|i| {
                let [a, b, c] = mesh.corners(i);
                (a.min(b).min(c), a.max(b).max(c))
            })
            .collect();
        let mut it = Self { entries: Vec::new(), boxes, low, size };
        for i in 0..mesh.triangles.len() {
            let (from, to) = (it.cell(it.boxes[i].0), it.cell(it.boxes[i].1));
            for x in from[0]..=to[0] {
                for y in from[1]..=to[1] {
                    it.entries.extend((from[2]..=to[2]).map(|z| (key([x, y, z]), i as u32)));
                }
            }
        }
        it.entries.sort_unstable();
        Some(it)
    }

    fn cell(&self, p: DVec3) -> [u64; 3] {
        ((p - self.low) / self.size).to_array().map(|v| v.max(0.0) as u64)
    }

    fn crossing_in(&self, mesh: &Mesh, cell: &[(u64, u32)]) -> Vec<(u32, u32)> {
        let mut out = Vec::new();
        for (n, &(here, i)) in cell.iter().enumerate() {
            for &(_, j) in &cell[n + 1..] {
                let (a, b) = (self.boxes[i as usize], self.boxes[j as usize]);
                let (low, high) = (a.0.max(b.0), a.1.min(b.1));
                // Each pair is judged once: in the first cell that both share.
                if low.cmple(high).all() && key(self.cell(low)) == here && cross(mesh, i as usize, j as usize) {
                    out.push((i, j));
                }
            }
        }
        out
    }
}

fn key(cell: [u64; 3]) -> u64 {
    (cell[0] << 42) | (cell[1] << 21) | cell[2]
}

fn cross(mesh: &Mesh, i: usize, j: usize) -> bool {
    let (ti, tj) = (mesh.triangles[i], mesh.triangles[j]);
    let (a, b) = (mesh.corners(i), mesh.corners(j));
    let shared = ti.iter().filter(|v| tj.contains(v)).count();
    let (Some(na), Some(nb)) = (unit_normal(a), unit_normal(b)) else { return false };
    if in_one_plane(a, na, b) {
        return overlap_in_plane(a, b, na);
    }
    shared < 2 && (pierces(a, ti, b, nb, tj) || pierces(b, tj, a, na, ti))
}

fn unit_normal([a, b, c]: [DVec3; 3]) -> Option<DVec3> {
    let n = (b - a).cross(c - a);
    (n.length() > SLACK * SLACK).then(|| n.normalize())
}

fn in_one_plane(a: [DVec3; 3], normal: DVec3, b: [DVec3; 3]) -> bool {
    b.iter().all(|p| (*p - a[0]).dot(normal).abs() <= SLACK)
}

/// Whether an edge of `a` that shares no vertex with `b` goes through the inside of `b`.
fn pierces(a: [DVec3; 3], ia: [u32; 3], b: [DVec3; 3], normal: DVec3, ib: [u32; 3]) -> bool {
    (0..3).any(|k| {
        let l = (k + 1) % 3;
        if ib.contains(&ia[k]) || ib.contains(&ia[l]) {
            return false;
        }
        let (p, q) = (a[k], a[l]);
        let (dp, dq) = ((p - b[0]).dot(normal), (q - b[0]).dot(normal));
        if dp.abs() <= SLACK || dq.abs() <= SLACK || dp * dq > 0.0 {
            return false;
        }
        let at = p + (q - p) * (dp / (dp - dq));
        (0..3).all(|m| {
            let edge = b[(m + 1) % 3] - b[m];
            normal.cross(edge).dot(at - b[m]) > SLACK * edge.length()
        })
    })
}

/// Whether two triangles of one plane share area (separating axes in the plane).
fn overlap_in_plane(a: [DVec3; 3], b: [DVec3; 3], normal: DVec3) -> bool {
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
            s.1 <= t.0 + SLACK || t.1 <= s.0 + SLACK
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
