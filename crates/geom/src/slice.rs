//! Plane sections of closed meshes.

use crate::mesh::Mesh;
use crate::plane::{Region, Ring};
use glam::{DVec2, DVec3};
use std::collections::BTreeMap;

/// An edge of a mesh: its corners, the lower index first.
type Edge = (u32, u32);

/// The axis a mesh is cut across.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Across {
    /// An upright cut; its rings are (x, z).
    Y,
    /// A level cut; its rings are (x, y).
    Z,
}

impl Across {
    fn height(self, p: DVec3) -> f64 {
        if self == Self::Y { p.y } else { p.z }
    }

    fn place(self, p: DVec3) -> [f64; 2] {
        if self == Self::Y { [p.x, p.z] } else { [p.x, p.y] }
    }

    fn crossing(self, at: f64, a: DVec3, b: DVec3) -> [f64; 2] {
        let (from, to) = (self.height(a), self.height(b));
        self.place(a.lerp(b, (at - from) / (to - from)))
    }
}

/// Closed rings of the section of a closed mesh at a place of the axis, where no corner of the mesh should lie.
pub fn slice(mesh: &Mesh, across: Across, at: f64) -> Vec<Vec<[f64; 2]>> {
    // From each edge of the mesh that is crossed to the next one, walking each triangle in its own sense.
    let mut next: BTreeMap<Edge, (Edge, [f64; 2])> = BTreeMap::new();
    let above = |v: u32| across.height(mesh.vertices[v as usize]) > at;
    for triangle in &mesh.triangles {
        let mut enter = None;
        let mut leave = None;
        for k in 0..3 {
            let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
            let edge = (a.min(b), a.max(b));
            match (above(a), above(b)) {
                (false, true) => {
                    enter = Some((edge, across.crossing(at, mesh.vertices[a as usize], mesh.vertices[b as usize])))
                }
                (true, false) => leave = Some(edge),
                _ => {}
            }
        }
        if let (Some((from, at)), Some(to)) = (enter, leave) {
            next.insert(from, (to, at));
        }
    }
    let mut rings = Vec::new();
    while let Some((&start, _)) = next.first_key_value() {
        let mut ring = Vec::new();
        let mut edge = start;
        while let Some((to, at)) = next.remove(&edge) {
            ring.push(at);
            edge = to;
        }
        if ring.len() > 2 {
            rings.push(ring);
        }
    }
    rings
}

/// The level section of a closed mesh at a height where none of its corners lies.
pub fn level(mesh: &Mesh, z: f64) -> Region {
    let ring = |points: Vec<[f64; 2]>| Ring(points.into_iter().map(DVec2::from_array).collect());
    let mut region = Region { rings: slice(mesh, Across::Z, z).into_iter().map(ring).collect() };
    // The rings are walked in the sense of the triangles; outer ones go counter-clockwise in a region.
    if region.area() < 0.0 {
        region.rings.iter_mut().for_each(|ring| ring.0.reverse());
    }
    region
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_of_a_tray_have_their_areas() {
        let solid = Mesh::cuboid(DVec3::new(-90.0, -60.0, 0.0), DVec3::new(90.0, 60.0, 40.0));
        let tray = solid.minus(&Mesh::cuboid(DVec3::new(-80.0, -50.0, 7.0), DVec3::new(80.0, 50.0, 50.0))).unwrap();
        let area = |across, at| -> f64 {
            let ring_area = |ring: &Vec<[f64; 2]>| {
                let cross = |k: usize| {
                    let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                    p[0] * q[1] - p[1] * q[0]
                };
                (0..ring.len()).map(cross).sum::<f64>() / 2.0
            };
            slice(&tray, across, at).iter().map(ring_area).sum::<f64>().abs()
        };
        assert!((area(Across::Y, 1e-4) - (180.0 * 40.0 - 160.0 * 33.0)).abs() < 1e-6);
        assert!((area(Across::Z, 20.0) - (180.0 * 120.0 - 160.0 * 100.0)).abs() < 1e-6);
        assert_eq!(slice(&tray, Across::Z, 20.0).len(), 2);
    }
}
