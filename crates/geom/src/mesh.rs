//! Closed triangle meshes: measures, transforms, checks, solid operations.

use crate::{crossing, solid};
use glam::{DAffine3, DVec3};
use rayon::slice::ParallelSliceMut as _;

/// A triangle whose area is below this counts as degenerate, mm² (a square micrometre: a thousandth of what any
/// tolerance of the project can tell apart).
pub const LEAST_AREA: f64 = 1e-6;

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
    /// Triangles with (nearly) no area: less than [`LEAST_AREA`].
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
        let corner = |i: usize| {
            let pick = |bit: usize, a: f64, b: f64| if i & bit == 0 { a } else { b };
            DVec3::new(pick(1, min.x, max.x), pick(2, min.y, max.y), pick(4, min.z, max.z))
        };
        // Two triangles a side: bottom, top, front (−y), back, left (−x), right.
        let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        Self { vertices: (0..8).map(corner).collect(), triangles }
    }

    /// Corners of triangle `i`.
    pub fn corners(&self, i: usize) -> [DVec3; 3] {
        let [a, b, c] = self.triangles[i];
        [self.vertices[a as usize], self.vertices[b as usize], self.vertices[c as usize]]
    }

    /// Outward normal of triangle `i` with the length of twice its area.
    pub fn normal2(&self, i: usize) -> DVec3 {
        let [a, b, c] = self.corners(i);
        (b - a).cross(c - a)
    }

    /// Enclosed volume, mm³ (divergence theorem, about the middle of the bounds so that far meshes keep their digits).
    pub fn volume(&self) -> f64 {
        let Some((min, max)) = self.bounds() else { return 0.0 };
        let o = (min + max) / 2.0;
        let six_fold = |i: usize| {
            let [a, b, c] = self.corners(i);
            (a - o).dot((b - o).cross(c - o))
        };
        (0..self.triangles.len()).map(six_fold).sum::<f64>() / 6.0
    }

    /// Area of the skin, mm².
    pub fn area(&self) -> f64 {
        (0..self.triangles.len()).map(|i| self.normal2(i).length()).sum::<f64>() / 2.0
    }

    /// Least and greatest corner; `None` for an empty mesh.
    pub fn bounds(&self) -> Option<(DVec3, DVec3)> {
        let first = *self.vertices.first()?;
        Some(self.vertices.iter().fold((first, first), |(lo, hi), &v| (lo.min(v), hi.max(v))))
    }

    /// Moved by a rigid motion (determinant +1).
    pub fn transformed(&self, by: &DAffine3) -> Self {
        let vertices = self.vertices.iter().map(|&v| by.transform_point3(v)).collect();
        Self { vertices, triangles: self.triangles.clone() }
    }

    /// With vertices of exactly equal coordinates made one, and triangles dropped that lost a corner by it.
    /// Vertices keep the order of their first use.
    pub fn welded(&self) -> Self {
        let key = |v: DVec3| (v + DVec3::ZERO).to_array().map(f64::to_bits); // −0 + 0 = +0
        let mut order: Vec<([u64; 3], u32)> = self.vertices.iter().map(|&v| key(v)).zip(0..).collect();
        order.par_sort_unstable();
        let mut first = vec![0_u32; self.vertices.len()];
        for same in order.chunk_by(|a, b| a.0 == b.0) {
            same.iter().for_each(|&(_, i)| first[i as usize] = same[0].1);
        }
        drop(order);
        let mut fresh = vec![u32::MAX; self.vertices.len()];
        let mut out = Self::default();
        for t in &self.triangles {
            let t = t.map(|v| first[v as usize]);
            if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
                continue;
            }
            out.triangles.push(t.map(|v| {
                if fresh[v as usize] == u32::MAX {
                    fresh[v as usize] = out.vertices.len() as u32;
                    out.vertices.push(self.vertices[v as usize]);
                }
                fresh[v as usize]
            }));
        }
        out
    }

    /// Edges, areas and, if asked, crossings. Vertices count as one where their indices are equal.
    pub fn flaws(&self, look_for_crossings: bool) -> Flaws {
        Flaws {
            open_edges: self.edges(|ahead, back| ahead == 1 && back == 1),
            degenerate: (0..self.triangles.len()).filter(|&i| self.normal2(i).length() < 2.0 * LEAST_AREA).count(),
            crossing: if look_for_crossings {
                crossing::pairs(self, crossing::SLACK, usize::MAX, usize::MAX).pairs.len()
            } else {
                0
            },
        }
    }

    /// Whether every edge is used as often in one sense as in the other, so that the mesh encloses a volume.
    pub fn is_closed(&self) -> bool {
        self.edges(|ahead, back| ahead == back) == 0
    }

    /// Number of edges for which `fine(uses in ascending sense, uses in descending sense)` is false.
    fn edges(&self, fine: impl Fn(usize, usize) -> bool) -> usize {
        let mut all: Vec<(u32, u32, bool)> = Vec::with_capacity(self.triangles.len() * 3);
        for &[a, b, c] in &self.triangles {
            for (p, q) in [(a, b), (b, c), (c, a)] {
                all.push((p.min(q), p.max(q), p < q));
            }
        }
        all.sort_unstable();
        all.chunk_by(|e, f| (e.0, e.1) == (f.0, f.1))
            .filter(|uses| {
                let ahead = uses.iter().filter(|e| e.2).count();
                !fine(ahead, uses.len() - ahead)
            })
            .count()
    }

    /// This or that.
    ///
    /// # Errors
    /// [`SolidError`] if an input is not the skin of a solid.
    pub fn union(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        solid::combine(self, other, solid::Operation::Union)
    }

    /// This without that.
    ///
    /// # Errors
    /// As [`Mesh::union`].
    pub fn minus(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        solid::combine(self, other, solid::Operation::Minus)
    }

    /// Both this and that.
    ///
    /// # Errors
    /// As [`Mesh::union`].
    pub fn common(&self, other: &Mesh) -> Result<Mesh, SolidError> {
        solid::combine(self, other, solid::Operation::Common)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DVec3 as V;

    #[test]
    fn a_cuboid_has_the_measures_of_a_cuboid() {
        let m = Mesh::cuboid(V::new(-1.0, 2.0, 3.0), V::new(1.0, 5.0, 7.0));
        assert!((m.volume() - 24.0).abs() < 1e-12);
        assert!((m.area() - 2.0 * (6.0 + 8.0 + 12.0)).abs() < 1e-12);
        assert_eq!(m.bounds(), Some((V::new(-1.0, 2.0, 3.0), V::new(1.0, 5.0, 7.0))));
        assert_eq!(m.flaws(true), Flaws::default());
        assert!(m.is_closed());
    }

    #[test]
    fn a_missing_triangle_opens_three_edges() {
        let mut m = Mesh::cuboid(V::ZERO, V::ONE);
        m.triangles.pop();
        assert_eq!(m.flaws(false).open_edges, 3);
        assert!(!m.is_closed());
    }

    #[test]
    fn a_turned_triangle_is_seen() {
        let mut m = Mesh::cuboid(V::ZERO, V::ONE);
        m.triangles[0].swap(0, 1);
        assert_eq!(m.flaws(false).open_edges, 3);
    }

    #[test]
    fn a_sliver_counts_as_degenerate() {
        let mut m = Mesh::cuboid(V::ZERO, V::ONE);
        m.vertices.push(V::new(0.5, 0.0, 0.0));
        m.triangles.push([0, 8, 1]);
        assert_eq!(m.flaws(false).degenerate, 1);
    }

    #[test]
    fn overlapping_boxes_cross() {
        let a = Mesh::cuboid(V::ZERO, V::ONE);
        let b = a.transformed(&DAffine3::from_translation(V::new(0.5, 0.4, 0.3)));
        let n = a.vertices.len() as u32;
        let mut both = a.clone();
        both.vertices.extend(b.vertices);
        both.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + n)));
        assert!(both.flaws(true).crossing > 0);
        assert_eq!(both.flaws(false).crossing, 0);
    }

    #[test]
    fn welding_closes_a_soup() {
        let m = Mesh::cuboid(V::ZERO, V::ONE);
        let mut soup = Mesh::default();
        for i in 0..m.triangles.len() {
            let n = soup.vertices.len() as u32;
            soup.vertices.extend(m.corners(i));
            soup.triangles.push([n, n + 1, n + 2]);
        }
        assert!(!soup.is_closed());
        let welded = soup.welded();
        assert_eq!(welded.vertices.len(), 8);
        assert_eq!(welded.flaws(true), Flaws::default());
    }
}
