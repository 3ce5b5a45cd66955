//! Finding the triangles over a patch of the XY plane.

use crate::Mesh;
use glam::DVec2;

/// Most cells along one axis, whatever size was asked for.
const MOST_CELLS: f64 = 2048.0;

/// Buckets of triangles on an XY lattice.
#[derive(Clone, Debug)]
pub struct TriangleIndex {
    low: DVec2,
    cell: f64,
    nx: usize,
    ny: usize,
    /// Where each cell's triangles start in `items`; one more than there are cells.
    starts: Vec<u32>,
    /// Triangles of the cells, ascending within a cell.
    items: Vec<u32>,
    /// XY box of each triangle: least x, least y, greatest x, greatest y.
    boxes: Vec<[f64; 4]>,
}

impl TriangleIndex {
    /// Builds the index. `cell` is the bucket size in mm.
    pub fn new(mesh: &Mesh, cell: f64) -> Self {
        let (low, high) = mesh.bounds().map_or((DVec2::ZERO, DVec2::ZERO), |(a, b)| (a.truncate(), b.truncate()));
        let cell = cell.max((high - low).max_element() / MOST_CELLS).max(f64::MIN_POSITIVE);
        let count = |extent: f64| (extent / cell) as usize + 1;
        let boxes = (0..mesh.triangles.len())
            .map(|i| {
                let [a, b, c] = mesh.corners(i).map(|p| p.truncate());
                let (min, max) = (a.min(b).min(c), a.max(b).max(c));
                [min.x, min.y, max.x, max.y]
            })
            .collect();
        let (nx, ny) = (count(high.x - low.x), count(high.y - low.y));
        let mut it = Self { low, cell, nx, ny, starts: vec![0; nx * ny + 1], items: Vec::new(), boxes };
        it.fill();
        it
    }

    fn fill(&mut self) {
        for i in 0..self.boxes.len() {
            for c in self.cells_of(i) {
                self.starts[c + 1] += 1;
            }
        }
        for c in 0..self.nx * self.ny {
            self.starts[c + 1] += self.starts[c];
        }
        let mut next = self.starts.clone();
        self.items = vec![0; self.starts[self.nx * self.ny] as usize];
        for i in 0..self.boxes.len() {
            for c in self.cells_of(i) {
                self.items[next[c] as usize] = i as u32;
                next[c] += 1;
            }
        }
    }

    fn cells_of(&self, i: usize) -> impl Iterator<Item = usize> + use<> {
        let [x0, y0, x1, y1] = self.boxes[i];
        let (from, to) = (self.cell_of(DVec2::new(x0, y0)), self.cell_of(DVec2::new(x1, y1)));
        let nx = self.nx;
        (from.1..=to.1).flat_map(move |y| (from.0..=to.0).map(move |x| y * nx + x))
    }

    fn cell_of(&self, p: DVec2) -> (usize, usize) {
        let along = |v: f64, low: f64, n: usize| (((v - low) / self.cell).max(0.0) as usize).min(n - 1);
        (along(p.x, self.low.x, self.nx), along(p.y, self.low.y, self.ny))
    }

    /// Calls `visit` once for every triangle whose XY box meets the box `min`–`max`, in ascending order of index.
    pub fn each_in(&self, min: DVec2, max: DVec2, visit: &mut dyn FnMut(u32)) {
        let mut found = Vec::new();
        self.gather(min, max, &mut found);
        found.into_iter().for_each(visit);
    }

    /// The triangles whose XY box meets the box `min`–`max`, ascending, in place of what `found` held: for callers in a
    /// loop, who keep the vector.
    pub fn gather(&self, min: DVec2, max: DVec2, found: &mut Vec<u32>) {
        found.clear();
        let (from, to) = (self.cell_of(min), self.cell_of(max));
        for y in from.1..=to.1 {
            for x in from.0..=to.0 {
                let c = y * self.nx + x;
                for &i in &self.items[self.starts[c] as usize..self.starts[c + 1] as usize] {
                    let b = self.boxes[i as usize];
                    let meets = b[0] <= max.x && b[2] >= min.x && b[1] <= max.y && b[3] >= min.y;
                    if !meets {
                        continue;
                    }
                    // A triangle in several cells is taken in the first one that query and triangle share.
                    let first = self.cell_of(DVec2::new(b[0].max(min.x), b[1].max(min.y)));
                    if first == (x, y) {
                        found.push(i);
                    }
                }
            }
        }
        if from != to {
            found.sort_unstable();
        }
    }

    /// The z of each crossing of the vertical line through `at` with the mesh and whether the surface there faces up
    /// (ascending z).
    ///
    /// A line through an edge or a vertex is decided as if it stood a hair to +x (and much less to +y), alike for all
    /// triangles, so that a closed mesh is entered as often as it is left. Upright triangles are never crossed.
    pub fn crossings(&self, mesh: &Mesh, at: DVec2) -> Vec<(f64, bool)> {
        let mut out = Vec::new();
        self.crossed(mesh, at, &mut |_, crossing| out.push(crossing));
        out.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        out
    }

    /// The crossings as [`TriangleIndex::crossings`] gives them, each with its triangle, in ascending order of triangles.
    pub(crate) fn crossed(&self, mesh: &Mesh, at: DVec2, visit: &mut dyn FnMut(u32, (f64, bool))) {
        let mut found = Vec::new();
        self.gather(at, at, &mut found);
        for i in found {
            if let Some(crossing) = crossing(mesh, i as usize, at) {
                visit(i, crossing);
            }
        }
    }
}

fn crossing(mesh: &Mesh, i: usize, at: DVec2) -> Option<(f64, bool)> {
    let t = mesh.corners(i);
    let sides = [0, 1, 2].map(|k| left_of(t[k].truncate(), t[(k + 1) % 3].truncate(), at));
    let up = match sides {
        [Some(true), Some(true), Some(true)] => true,
        [Some(false), Some(false), Some(false)] => false,
        _ => return None,
    };
    let n = (t[1] - t[0]).cross(t[2] - t[0]);
    let z = t[0].z - ((at.x - t[0].x) * n.x + (at.y - t[0].y) * n.y) / n.z;
    let low = t[0].z.min(t[1].z).min(t[2].z);
    let high = t[0].z.max(t[1].z).max(t[2].z);
    // The clamp also settles the nearly upright ones, where the quotient loses its digits.
    (n.z != 0.0).then(|| (z.clamp(low, high), up))
}

/// Whether `p` (shifted by a hair) lies left of a → b; `None` if a and b coincide in plan. Worked out from the same end
/// whichever way the edge is asked for, so that two neighbours always agree.
fn left_of(a: DVec2, b: DVec2, p: DVec2) -> Option<bool> {
    let turned = (a.x, a.y) > (b.x, b.y);
    let (a, b) = if turned { (b, a) } else { (a, b) };
    let d = b - a;
    let side = d.perp_dot(p - a);
    let sign = if side != 0.0 {
        side > 0.0
    } else if d.y != 0.0 {
        d.y < 0.0
    } else if d.x != 0.0 {
        d.x > 0.0
    } else {
        return None;
    };
    Some(sign != turned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DVec3;
    use proptest::prelude::*;

    #[test]
    fn a_line_through_corners_and_edges_enters_and_leaves_once() {
        let m = Mesh::cuboid(DVec3::new(-1.0, -1.0, 2.0), DVec3::new(1.0, 1.0, 5.0));
        let index = TriangleIndex::new(&m, 0.3);
        for at in [DVec2::ZERO, DVec2::new(0.5, 0.5), DVec2::new(-1.0, -1.0), DVec2::new(-1.0, 0.2)] {
            assert_eq!(index.crossings(&m, at), vec![(2.0, false), (5.0, true)], "{at}");
        }
        for at in [DVec2::new(1.0, 0.0), DVec2::new(1.1, 0.0), DVec2::new(9.0, 9.0)] {
            assert!(index.crossings(&m, at).is_empty(), "{at}");
        }
    }

    #[test]
    fn an_empty_mesh_has_no_triangles_anywhere() {
        let index = TriangleIndex::new(&Mesh::default(), 1.0);
        index.each_in(DVec2::splat(-9.0), DVec2::splat(9.0), &mut |_| panic!("nothing to visit"));
    }

    fn soup(points: &[(f64, f64, f64)]) -> Mesh {
        let vertices: Vec<DVec3> = points.iter().map(|&(x, y, z)| DVec3::new(x, y, z)).collect();
        let triangles = (0..vertices.len() as u32 / 3).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
        Mesh { vertices, triangles }
    }

    proptest! {
        #[test]
        fn the_same_as_looking_at_every_triangle(
            points in prop::collection::vec((-9.0..9.0_f64, -9.0..9.0_f64, -1.0..1.0_f64), 3..90),
            at in (-10.0..10.0_f64, -10.0..10.0_f64), size in (0.0..6.0_f64, 0.0..6.0_f64), cell in 0.2..7.0_f64,
        ) {
            let m = soup(&points);
            let (min, max) = (DVec2::new(at.0, at.1), DVec2::new(at.0 + size.0, at.1 + size.1));
            let mut got = Vec::new();
            TriangleIndex::new(&m, cell).each_in(min, max, &mut |i| got.push(i));
            let meets = |i: &u32| {
                let [a, b, c] = m.corners(*i as usize).map(|p| p.truncate());
                a.min(b).min(c).cmple(max).all() && a.max(b).max(c).cmpge(min).all()
            };
            let want: Vec<u32> = (0..m.triangles.len() as u32).filter(meets).collect();
            prop_assert_eq!(got, want);
        }
    }
}
