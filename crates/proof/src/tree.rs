//! Triangles in a tree of boxes, for questions that only concern those nearby.
//!
//! The triangles are put in order along a curve that keeps neighbours together (G. M. Morton, "A computer oriented
//! geodetic data base and a new technique in file sequencing", IBM, 1966); the tree halves that order again and again.

use geom::Mesh;
use glam::{DAffine3, DVec3};

/// Triangles of a leaf.
const LEAF: usize = 4;
/// Steps of the curve along each axis: 2 to this power.
const BITS: u32 = 10;

/// A triangle with what is asked of it most.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Facet {
    pub(crate) t: [DVec3; 3],
    /// Outward unit normal; zero where the triangle has no area.
    pub(crate) normal: DVec3,
    pub(crate) bounds: Bounds,
}

/// An axis-parallel box.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bounds {
    pub(crate) min: DVec3,
    pub(crate) max: DVec3,
}

/// A question to the triangles.
pub(crate) trait Seek {
    /// How promising what lies in a box is, least first; `None` if it does not matter.
    fn rank(&self, bounds: &Bounds) -> Option<f64>;

    /// Whether a box of that rank still matters, after what was found since.
    fn matters(&self, _rank: f64) -> bool {
        true
    }

    /// Looks at a triangle.
    fn look(&mut self, facet: &Facet);
}

/// The tree: node 1 is the root, the children of node n are 2n and 2n + 1, the last layer are the leaves.
#[derive(Clone, Debug)]
pub(crate) struct Tree {
    facets: Vec<Facet>,
    nodes: Vec<Bounds>,
    leaves: usize,
}

impl Facet {
    pub(crate) fn new(t: [DVec3; 3]) -> Self {
        let normal = (t[1] - t[0]).cross(t[2] - t[0]).normalize_or_zero();
        Self { t, normal, bounds: Bounds::of(&t) }
    }

    /// Its centre of gravity.
    pub(crate) fn centroid(&self) -> DVec3 {
        (self.t[0] + self.t[1] + self.t[2]) / 3.0
    }
}

impl Bounds {
    const EMPTY: Self = Self { min: DVec3::INFINITY, max: DVec3::NEG_INFINITY };

    fn of(t: &[DVec3; 3]) -> Self {
        Self { min: t[0].min(t[1]).min(t[2]), max: t[0].max(t[1]).max(t[2]) }
    }

    fn with(self, other: &Self) -> Self {
        Self { min: self.min.min(other.min), max: self.max.max(other.max) }
    }

    /// Square of the distance of a point.
    pub(crate) fn distance_squared(&self, p: DVec3) -> f64 {
        p.distance_squared(p.clamp(self.min, self.max))
    }

    fn is_empty(&self) -> bool {
        self.min.x > self.max.x
    }
}

impl Tree {
    /// Of the triangles, `wanted` by outward normal and centroid, of meshes given in another frame.
    pub(crate) fn of(meshes: &[&Mesh], to_workpiece: &DAffine3, wanted: impl Fn(DVec3, DVec3) -> bool) -> Self {
        let mut facets = Vec::new();
        for mesh in meshes {
            for i in 0..mesh.triangles.len() {
                let facet = Facet::new(mesh.corners(i).map(|p| to_workpiece.transform_point3(p)));
                if wanted(facet.normal, facet.centroid()) {
                    facets.push(facet);
                }
            }
        }
        let facets = in_order(facets);
        let leaves = facets.len().div_ceil(LEAF).max(1).next_power_of_two();
        let mut nodes = vec![Bounds::EMPTY; 2 * leaves];
        for (leaf, facets) in facets.chunks(LEAF).enumerate() {
            nodes[leaves + leaf] = facets.iter().fold(Bounds::EMPTY, |all, f| all.with(&f.bounds));
        }
        for node in (1..leaves).rev() {
            nodes[node] = nodes[2 * node].with(&nodes[2 * node + 1]);
        }
        Self { facets, nodes, leaves }
    }

    /// Asks a question.
    pub(crate) fn ask(&self, seek: &mut impl Seek) {
        // Each layer leaves at most one sibling waiting.
        let mut waiting = [(0, 0.0); usize::BITS as usize];
        let mut count = 0;
        if let Some(rank) = self.rank(seek, 1) {
            waiting[0] = (1, rank);
            count = 1;
        }
        while count > 0 {
            count -= 1;
            let (node, rank) = waiting[count];
            if !seek.matters(rank) {
                continue;
            }
            if node >= self.leaves {
                let from = (node - self.leaves) * LEAF;
                self.facets[from..(from + LEAF).min(self.facets.len())].iter().for_each(|f| seek.look(f));
                continue;
            }
            let mut push = |node: usize, rank: f64| {
                waiting[count] = (node, rank);
                count += 1;
            };
            match (self.rank(seek, 2 * node), self.rank(seek, 2 * node + 1)) {
                // The one to be looked at first goes on top.
                (Some(a), Some(b)) if a <= b => {
                    push(2 * node + 1, b);
                    push(2 * node, a);
                }
                (a, b) => {
                    a.into_iter().for_each(|a| push(2 * node, a));
                    b.into_iter().for_each(|b| push(2 * node + 1, b));
                }
            }
        }
    }

    fn rank(&self, seek: &impl Seek, node: usize) -> Option<f64> {
        let bounds = &self.nodes[node];
        if bounds.is_empty() { None } else { seek.rank(bounds) }
    }
}

fn in_order(facets: Vec<Facet>) -> Vec<Facet> {
    let all = facets.iter().fold(Bounds::EMPTY, |all, f| all.with(&f.bounds));
    let extent = (all.max - all.min).max_element();
    let scale = if extent > 0.0 { f64::from((1 << BITS) - 1) / extent } else { 0.0 };
    let mut keys: Vec<(u32, u32)> = Vec::with_capacity(facets.len());
    for (i, f) in facets.iter().enumerate() {
        let cell = (((f.bounds.min + f.bounds.max) / 2.0 - all.min) * scale).as_uvec3();
        keys.push((spaced(cell.x) | spaced(cell.y) << 1 | spaced(cell.z) << 2, i as u32));
    }
    keys.sort_unstable();
    keys.iter().map(|k| facets[k.1 as usize]).collect()
}

/// The lowest ten bits, two places between each and the next.
fn spaced(v: u32) -> u32 {
    let v = (v | v << 16) & 0x0300_00ff;
    let v = (v | v << 8) & 0x0300_f00f;
    let v = (v | v << 4) & 0x030c_30c3;
    (v | v << 2) & 0x0924_9249
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Nearest {
        p: DVec3,
        least: f64,
        looked: usize,
    }

    impl Seek for Nearest {
        fn rank(&self, bounds: &Bounds) -> Option<f64> {
            Some(bounds.distance_squared(self.p)).filter(|&d| self.matters(d))
        }
        fn matters(&self, rank: f64) -> bool {
            rank < self.least * self.least
        }
        fn look(&mut self, facet: &Facet) {
            self.looked += 1;
            self.least = self.least.min(self.p.distance(geom::distance::nearest_on_triangle(self.p, facet.t)));
        }
    }

    #[test]
    fn the_nearest_of_many_is_found_by_looking_at_few() {
        let balls: Vec<Mesh> = (0..7)
            .map(|k| {
                let cuboid = Mesh::cuboid(DVec3::splat(f64::from(k) * 3.0), DVec3::splat(f64::from(k) * 3.0 + 1.0));
                cuboid.transformed(&DAffine3::from_rotation_z(f64::from(k)))
            })
            .collect();
        let tree = Tree::of(&balls.iter().collect::<Vec<_>>(), &DAffine3::IDENTITY, |_, _| true);
        assert_eq!(tree.facets.len(), 7 * 12);
        for n in 0..50 {
            let p = DVec3::new(f64::from(n) * 0.4 - 4.0, (f64::from(n) * 1.7).sin() * 9.0, f64::from(n % 9) * 2.0);
            let all = tree.facets.iter().map(|f| p.distance(geom::distance::nearest_on_triangle(p, f.t)));
            let mut nearest = Nearest { p, least: f64::INFINITY, looked: 0 };
            tree.ask(&mut nearest);
            assert_eq!(nearest.least, all.fold(f64::INFINITY, f64::min));
            assert!(nearest.looked < 60, "{}", nearest.looked);
        }
    }

    #[test]
    fn bits_are_spaced_by_two() {
        assert_eq!(spaced(0b11_1111_1111), 0b1001_0010_0100_1001_0010_0100_1001);
        assert_eq!(spaced(0b101), 0b100_0001);
    }
}
