//! Upright prisms over regions of the plane.

use crate::{Mesh, Region};
use earcut::Earcut;
use glam::DVec3;

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
        let plan: Vec<[f64; 2]> = rings.iter().flat_map(|r| r.0.iter().map(|p| p.to_array())).collect();
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
        self.vertices.extend(plan.iter().map(|p| DVec3::new(p[0], p[1], bottom)));
        self.vertices.extend(plan.iter().map(|p| DVec3::new(p[0], p[1], top)));
        let mut faces: Vec<u32> = Vec::new();
        Earcut::new().earcut(plan.iter().copied(), &holes, &mut faces);
        for t in faces.chunks_exact(3) {
            let [a, b, c] = [t[0], t[1], t[2]];
            let (p, q, r) = (plan[a as usize], plan[b as usize], plan[c as usize]);
            let turn = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
            let [a, b, c] = if turn > 0.0 { [a, b, c] } else { [a, c, b] };
            self.triangles.push([base + count + a, base + count + b, base + count + c]);
            self.triangles.push([base + a, base + c, base + b]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DVec2;

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
