//! A tree of boxes over the triangles of a mesh: which of them lie near a box in space, and which place of them is nearest.
//!
//! Triangles are sorted along a space-filling curve (G. M. Morton 1966) and shared out evenly over the leaves of a complete
//! binary tree, so that its depth is bounded whatever the triangles are.

use crate::Mesh;
use crate::distance::nearest_on_triangle;
use glam::DVec3;
use rayon::prelude::*;

/// Triangles in a leaf, at most.
const LEAF: usize = 4;
/// Bits of a coordinate in a code.
const BITS: u32 = 21;

/// A box in space: least and greatest corner.
pub(crate) type Bounds = (DVec3, DVec3);

/// Whether two boxes share a point.
pub(crate) fn meet(a: &Bounds, b: &Bounds) -> bool {
    a.0.cmple(b.1).all() && b.0.cmple(a.1).all()
}

/// The box of a triangle.
pub(crate) fn bounds_of([a, b, c]: [DVec3; 3]) -> Bounds {
    (a.min(b).min(c), a.max(b).max(c))
}

pub(crate) struct Tree {
    /// Triangles in the order of the leaves.
    order: Vec<u32>,
    leaves: usize,
    /// Node 1 is the root, node n has the children 2n and 2n + 1; leaf k is node `leaves + k`.
    boxes: Vec<Bounds>,
}

impl Tree {
    pub(crate) fn new(mesh: &Mesh) -> Self {
        let (low, high) = mesh.bounds().unwrap_or_default();
        let scale = f64::from((1_u32 << BITS) - 1) / (high - low).max(DVec3::splat(f64::MIN_POSITIVE));
        let code = |i: u32| {
            let (a, b) = bounds_of(mesh.corners(i as usize));
            let at = ((a + b) / 2.0 - low) * scale;
            (spread(at.x as u64) | spread(at.y as u64) << 1 | spread(at.z as u64) << 2, i)
        };
        let mut codes: Vec<(u64, u32)> = (0..mesh.triangles.len() as u32).into_par_iter().map(code).collect();
        codes.par_sort_unstable();
        let leaves = codes.len().div_ceil(LEAF).next_power_of_two();
        let nothing = (DVec3::INFINITY, DVec3::NEG_INFINITY);
        let mut it =
            Self { order: codes.into_iter().map(|(_, i)| i).collect(), leaves, boxes: vec![nothing; 2 * leaves] };
        let join = |a: Bounds, b: Bounds| (a.0.min(b.0), a.1.max(b.1));
        for leaf in 0..leaves {
            let of = |&i: &u32| bounds_of(mesh.corners(i as usize));
            it.boxes[leaves + leaf] = it.leaf(leaf).iter().map(of).fold(nothing, join);
        }
        for node in (1..leaves).rev() {
            it.boxes[node] = join(it.boxes[2 * node], it.boxes[2 * node + 1]);
        }
        it
    }

    pub(crate) fn leaves(&self) -> usize {
        self.leaves
    }

    /// The triangles of a leaf.
    pub(crate) fn leaf(&self, leaf: usize) -> &[u32] {
        let n = self.order.len();
        &self.order[leaf * n / self.leaves..(leaf + 1) * n / self.leaves]
    }

    pub(crate) fn bounds(&self, leaf: usize) -> &Bounds {
        &self.boxes[self.leaves + leaf]
    }

    /// Calls `visit` for every leaf from `first` on whose box meets the given one.
    pub(crate) fn each_near(&self, near: &Bounds, first: usize, mut visit: impl FnMut(usize)) {
        // A node whose last leaf comes before the first one is left out.
        let last = |node: usize| {
            let down = self.leaves.ilog2() - node.ilog2();
            ((node + 1) << down) - 1 - self.leaves
        };
        let mut open = vec![1];
        while let Some(node) = open.pop() {
            if last(node) < first || !meet(&self.boxes[node], near) {
                continue;
            }
            if node >= self.leaves {
                visit(node - self.leaves);
            } else {
                open.extend([2 * node + 1, 2 * node]);
            }
        }
    }
}

/// A mesh made ready for the question which place of it is nearest.
pub struct Nearest<'a> {
    mesh: &'a Mesh,
    tree: Tree,
}

impl<'a> Nearest<'a> {
    /// Of a mesh.
    pub fn new(mesh: &'a Mesh) -> Self {
        Self { mesh, tree: Tree::new(mesh) }
    }

    /// The nearest place of the skin to `p`; `None` if there are no triangles.
    pub fn to(&self, p: DVec3) -> Option<DVec3> {
        let tree = &self.tree;
        let away = |node: usize| {
            let (low, high) = tree.boxes[node];
            (low - p).max(p - high).max(DVec3::ZERO).length_squared()
        };
        let mut best = (f64::INFINITY, None);
        let mut open = vec![(away(1), 1)];
        while let Some((at_least, node)) = open.pop() {
            if at_least >= best.0 {
                continue;
            }
            if node >= tree.leaves {
                for &i in tree.leaf(node - tree.leaves) {
                    let found = nearest_on_triangle(p, self.mesh.corners(i as usize));
                    let distance = found.distance_squared(p);
                    if distance < best.0 {
                        best = (distance, Some(found));
                    }
                }
            } else {
                // The nearer one is looked at first.
                let mut both = [2 * node, 2 * node + 1].map(|n| (away(n), n));
                both.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.cmp(&a.1)));
                open.extend(both);
            }
        }
        best.1
    }
}

/// The lowest 21 bits with two empty ones between each.
fn spread(v: u64) -> u64 {
    let mut v = v & 0x1f_ffff;
    for (shift, mask) in [
        (32, 0x001f_0000_0000_ffff),
        (16, 0x001f_0000_ff00_00ff),
        (8, 0x100f_00f0_0f00_f00f),
        (4, 0x10c3_0c30_c30c_30c3),
        (2, 0x1249_2492_4924_9249),
    ] {
        v = (v | v << shift) & mask;
    }
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_are_spread_in_threes() {
        for v in [0, 1, 2, 0b1011, 0x1f_ffff] {
            let slow: u64 = (0..21).map(|bit| ((v >> bit) & 1) << (3 * bit)).sum();
            assert_eq!(spread(v), slow);
        }
    }

    #[test]
    fn the_nearest_place_is_that_of_a_block() {
        let block = Mesh::cuboid(DVec3::ZERO, DVec3::new(3.0, 4.0, 5.0));
        let nearest = Nearest::new(&block);
        assert!(nearest.to(DVec3::new(1.0, 2.0, 9.0)).unwrap().abs_diff_eq(DVec3::new(1.0, 2.0, 5.0), 1e-12));
        assert!(nearest.to(DVec3::new(5.0, 6.0, 7.0)).unwrap().abs_diff_eq(DVec3::new(3.0, 4.0, 5.0), 1e-12));
        assert!(nearest.to(DVec3::new(1.5, 0.4, 2.5)).unwrap().abs_diff_eq(DVec3::new(1.5, 0.0, 2.5), 1e-12));
        assert_eq!(Nearest::new(&Mesh::default()).to(DVec3::ZERO), None);
    }

    #[test]
    fn what_is_near_is_found_as_by_looking_at_all() {
        // Boxes in a row, all of one size, some twice.
        let mut mesh = Mesh::default();
        for k in 0..37 {
            let one = Mesh::cuboid(DVec3::new(f64::from(k * k % 23), 0.0, 0.0), DVec3::new(f64::from(k), 1.0, 1.0));
            let n = mesh.vertices.len() as u32;
            mesh.vertices.extend(one.vertices);
            mesh.triangles.extend(one.triangles.iter().map(|t| t.map(|v| v + n)));
        }
        let tree = Tree::new(&mesh);
        for k in 0..40 {
            let near = (DVec3::new(f64::from(k) - 0.3, 0.2, 0.2), DVec3::new(f64::from(k) + 0.3, 0.4, 3.0));
            let is_near = |i: &u32| meet(&bounds_of(mesh.corners(*i as usize)), &near);
            let mut found = Vec::new();
            tree.each_near(&near, 0, |leaf| found.extend(tree.leaf(leaf).iter().copied().filter(is_near)));
            found.sort_unstable();
            let all: Vec<u32> = (0..mesh.triangles.len() as u32).filter(is_near).collect();
            assert_eq!(found, all);
            let mut later = Vec::new();
            tree.each_near(&near, 9, |leaf| later.push(leaf));
            assert!(later.iter().all(|&leaf| leaf >= 9));
        }
    }
}
