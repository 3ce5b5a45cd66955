//! Upright prisms over regions of the plane.

use crate::{Mesh, Region};
use earcut::Earcut;
use glam::DVec2;

/// Points nearer to the chord of their neighbours than this are left out before a face is cut into triangles, mm: a point
/// exactly on a straight side would be skipped by the triangles and leave the skin open.
const STRAIGHT: f64 = 1e-6;

impl Mesh {
    /// The solid over `region` from `bottom` to `top`. Empty for an empty region.
    pub fn prism(region: &Region, bottom: f64, top: f64) -> Self {
        let mut mesh = Self::default();
        for part in region.parts() {
            mesh.add_prism(&part, bottom, top);
        }
        mesh
    }

    fn add_prism(&mut self, part: &Region, bottom: f64, top: f64) {
        let rings: Vec<_> = part.rings.iter().map(|r| r.thinned(STRAIGHT)).filter(|r| r.0.len() > 2).collect();
        let base = self.vertices.len() as u32;
        let plan: Vec<DVec2> = rings.iter().flat_map(|r| r.0.iter().copied()).collect();
        let count = plan.len() as u32;
        let mut start = 0;
        let mut holes: Vec<u32> = Vec::new();
        for ring in &rings {
            if start > 0 {
                holes.push(start);
            }
            let n = ring.0.len() as u32;
            for k in 0..n {
                let (a, b) = (base + start + k, base + start + (k + 1) % n);
                self.triangles.extend([[a, b, b + count], [a, b + count, a + count]]);
            }
            start += n;
        }
        self.vertices.extend(plan.iter().map(|p| p.extend(bottom)));
        self.vertices.extend(plan.iter().map(|p| p.extend(top)));
        for [a, b, c] in faces(&plan, &holes) {
            self.triangles.push([base + count + a, base + count + b, base + count + c]);
            self.triangles.push([base + a, base + c, base + b]);
        }
    }
}

/// A polygon without holes, cut into triangles that go round counter-clockwise. Each of its sides is the side of a triangle.
pub fn ears(ring: &[DVec2]) -> Vec<[u32; 3]> {
    let n = ring.len() as u32;
    let cut = faces(ring, &[]);
    let mut sides: Vec<(u32, u32)> = cut.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]).collect();
    sides.sort_unstable();
    // Corners on a straight line are skipped by the cutting: a side over them is none of the polygon's and has nobody beyond.
    let skips = |a: u32, b: u32| (a + 1) % n != b && sides.binary_search(&(b, a)).is_err();
    let mut out = Vec::new();
    // Triangles with those of their sides that have not been looked at yet.
    let mut open: Vec<([u32; 3], [bool; 3])> = cut.iter().rev().map(|&t| (t, [true; 3])).collect();
    while let Some((t, fresh)) = open.pop() {
        let skipping = (0..3).find(|&k| fresh[k] && skips(t[k], t[(k + 1) % 3]));
        let Some(k) = skipping else {
            out.push(t);
            continue;
        };
        // A fan from the corner opposite, over all that were skipped.
        let (a, b, c) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
        let steps = (b + n - a) % n;
        for j in 0..steps {
            let (first, last) = (j == 0, j + 1 == steps);
            let sides = [false, last && fresh[(k + 1) % 3], first && fresh[(k + 2) % 3]];
            open.push(([(a + j) % n, (a + j + 1) % n, c], sides));
        }
    }
    out
}

/// A polygon whose holes begin at the given corners, cut into triangles that go round counter-clockwise.
fn faces(plan: &[DVec2], holes: &[u32]) -> Vec<[u32; 3]> {
    let mut corners: Vec<u32> = Vec::new();
    Earcut::new().earcut(plan.iter().map(|p| p.to_array()), holes, &mut corners);
    let turned = |t: &[u32]| {
        let [p, q, r] = [t[0], t[1], t[2]].map(|k| plan[k as usize]);
        if (q - p).perp_dot(r - p) > 0.0 { [t[0], t[1], t[2]] } else { [t[0], t[2], t[1]] }
    };
    corners.chunks_exact(3).map(turned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_on_straight_sides_are_kept() {
        // An L with many corners on its sides.
        let corners =
            [(0, 0), (3, 0), (3, 2), (1, 2), (1, 4), (0, 4)].map(|(x, y)| DVec2::new(f64::from(x), f64::from(y)));
        let side = |k: usize| (0..4).map(move |j| corners[k].lerp(corners[(k + 1) % 6], f64::from(j) / 4.0));
        let ring: Vec<DVec2> = (0..6).flat_map(side).collect();
        let cut = ears(&ring);
        assert_eq!(cut.len(), ring.len() - 2);
        for k in 0..24_u32 {
            let uses = cut.iter().filter(|t| (0..3).any(|j| t[j] == k && t[(j + 1) % 3] == (k + 1) % 24)).count();
            assert_eq!(uses, 1, "{k}");
        }
        let area: f64 =
            cut.iter().map(|t| t.map(|v| ring[v as usize])).map(|[a, b, c]| (b - a).perp_dot(c - a) / 2.0).sum();
        assert!((area - 8.0).abs() < 1e-12);
    }

    #[test]
    fn a_ring_with_a_hole_is_closed_and_holds_its_volume() {
        let ring = Region::disc(DVec2::ZERO, 40.0, 0.005).minus(&Region::disc(DVec2::new(5.0, 2.0), 25.0, 0.005));
        let mesh = Mesh::prism(&ring, 3.0, 5.5);
        assert_eq!(mesh.flaws(true), crate::mesh::Flaws::default());
        let exact = std::f64::consts::PI * (40.0 * 40.0 - 25.0 * 25.0) * 2.5;
        assert!((mesh.volume() / exact - 1.0).abs() < 1e-3);
        assert!((mesh.volume() - ring.area() * 2.5).abs() < 1e-6 * exact);
    }
}
