//! The solid a bullet-shaped cutter leaves when it is moved level along a straight line: half a ball below, upright
//! walls above, round at both ends in plan.

use crate::profile::arc_steps;
use geom::{DVec2, Mesh};
use std::f64::consts::{FRAC_PI_2, PI};

/// A slot with a round bottom, from plan point `from` to plan point `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bullet {
    /// Middle of the one end, in plan.
    pub(crate) from: DVec2,
    /// Middle of the other end, in plan.
    pub(crate) to: DVec2,
    /// Radius of the half ball and half the width of the slot, mm.
    pub(crate) radius: f64,
    /// Least z, mm.
    pub(crate) bottom_z: f64,
}

impl Bullet {
    /// Least distance in plan between the walls of two slots, mm (negative if they run into each other).
    pub(crate) fn gap(&self, other: &Self) -> f64 {
        segments_apart([self.from, self.to], [other.from, other.to]) - self.radius - other.radius
    }

    /// Volume from the bottom up to `top_z`, mm³: a ball and a cylinder cut in half, and a block.
    #[cfg(test)]
    pub(crate) fn volume(&self, top_z: f64) -> f64 {
        let (r, length) = (self.radius, self.from.distance(self.to));
        let upright = top_z - self.bottom_z - r;
        let plan = PI * r * r + 2.0 * r * length;
        2.0 / 3.0 * PI * r.powi(3) + 0.5 * PI * r * r * length + plan * upright
    }

    /// The solid up to `top_z`, its round parts within `tolerance` (half of it along the plan, half along the section).
    pub(crate) fn mesh(&self, top_z: f64, tolerance: f64) -> Mesh {
        let along = (self.to - self.from).normalize();
        let steps = arc_steps(self.radius, PI, 0.5 * tolerance);
        let levels = arc_steps(self.radius, FRAC_PI_2, 0.5 * tolerance);
        let mut rows: Vec<[f64; 2]> = (1..=levels)
            .map(|k| {
                let (sin, cos) = (FRAC_PI_2 * k as f64 / levels as f64).sin_cos();
                [self.radius * sin, self.bottom_z + self.radius * (1.0 - cos)]
            })
            .collect();
        rows.push([self.radius, top_z]);

        // The rim of the slot in plan, counter-clockwise: round the `to` end, then round the `from` end.
        let turn = |k: usize| along.rotate(DVec2::from_angle(-FRAC_PI_2 + PI * k as f64 / steps as f64));
        let rim = |radius: f64, z: f64| {
            let one = (0..=steps).map(move |k| self.to + turn(k) * radius);
            let other = (0..=steps).map(move |k| self.from - turn(k) * radius);
            one.chain(other).map(move |p| p.extend(z))
        };
        let mut mesh = Mesh::default();
        for [radius, z] in &rows {
            mesh.vertices.extend(rim(*radius, *z));
        }
        let around = 2 * (steps + 1);
        for i in 0..rows.len() - 1 {
            for j in 0..around {
                let (a, b) = (i * around + j, i * around + (j + 1) % around);
                mesh.triangles.push([a, b, b + around].map(|v| v as u32));
                mesh.triangles.push([a, b + around, a + around].map(|v| v as u32));
            }
        }
        self.close(&mut mesh, 0, steps, self.bottom_z, false);
        self.close(&mut mesh, (rows.len() - 1) * around, steps, top_z, true);
        mesh
    }

    /// Joins the rim that begins at vertex `first` to the middle line at height `z`.
    fn close(&self, mesh: &mut Mesh, first: usize, steps: usize, z: f64, up: bool) {
        let (to, from) = (mesh.vertices.len(), mesh.vertices.len() + 1);
        mesh.vertices.extend([self.to.extend(z), self.from.extend(z)]);
        let (to_end, from_start, from_end) = (first + steps, first + steps + 1, first + 2 * steps + 1);
        let mut add = |[a, b, c]: [usize; 3]| {
            let seen = if up { [a, b, c] } else { [b, a, c] };
            mesh.triangles.push(seen.map(|v| v as u32));
        };
        for k in 0..steps {
            add([first + k, first + k + 1, to]);
            add([from_start + k, from_start + k + 1, from]);
        }
        for [a, b, c, d] in [[to_end, from_start, from, to], [from_end, first, to, from]] {
            add([a, b, c]);
            add([a, c, d]);
        }
    }
}

/// Least distance between two segments of the plane; 0 if they cross.
fn segments_apart(a: [DVec2; 2], b: [DVec2; 2]) -> f64 {
    let side = |[p, q]: [DVec2; 2], r: DVec2| (q - p).perp_dot(r - p);
    if side(a, b[0]) * side(a, b[1]) < 0.0 && side(b, a[0]) * side(b, a[1]) < 0.0 {
        return 0.0;
    }
    let to = |[p, q]: [DVec2; 2], r: DVec2| {
        let t = (r - p).dot(q - p) / (q - p).length_squared();
        r.distance(p + (q - p) * if t.is_finite() { t.clamp(0.0, 1.0) } else { 0.0 })
    };
    to(a, b[0]).min(to(a, b[1])).min(to(b, a[0])).min(to(b, a[1]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bullet() -> Bullet {
        Bullet { from: DVec2::new(60.0, 20.0), to: DVec2::new(48.0, 9.0), radius: 4.5, bottom_z: 11.0 }
    }

    #[test]
    fn the_mesh_is_sound_and_holds_its_volume() {
        let mesh = bullet().mesh(40.0, 0.01);
        assert_eq!(mesh.flaws(true), geom::mesh::Flaws::default());
        assert!((mesh.volume() / bullet().volume(40.0) - 1.0).abs() < 2e-3, "{}", mesh.volume());
        let fine = bullet().mesh(40.0, 0.0005);
        assert!((fine.volume() / bullet().volume(40.0) - 1.0).abs() < 1e-4);
        let (low, high) = mesh.bounds().unwrap();
        assert_eq!([low.z, high.z], [11.0, 40.0]);
    }

    #[test]
    fn facets_keep_the_tolerance() {
        let b = bullet();
        let mesh = b.mesh(40.0, 0.02);
        let mut worst = 0.0_f64;
        for i in 0..mesh.triangles.len() {
            let [p, q, r] = mesh.corners(i);
            for m in [(p + q + r) / 3.0, (p + q) / 2.0, (q + r) / 2.0] {
                let flat = segments_apart([b.from, b.to], [m.truncate(), m.truncate()]);
                let below = (b.bottom_z + b.radius - m.z).max(0.0);
                let round = (flat.hypot(below) - b.radius).abs();
                worst = worst.max(round.min((40.0 - m.z).abs()));
            }
        }
        assert!(worst <= 0.02 && worst > 0.004, "{worst}");
    }

    #[test]
    fn gaps_are_measured_between_walls() {
        let a = Bullet { from: DVec2::ZERO, to: DVec2::new(10.0, 0.0), radius: 2.0, bottom_z: 0.0 };
        let b = Bullet { from: DVec2::new(3.0, 9.0), to: DVec2::new(10.0, 7.0), radius: 3.0, bottom_z: 0.0 };
        assert!((a.gap(&b) - (b.to.distance(DVec2::new(10.0, 0.0)) - 5.0)).abs() < 1e-12);
        let across = Bullet { from: DVec2::new(5.0, -4.0), to: DVec2::new(5.0, 4.0), radius: 1.0, bottom_z: 0.0 };
        assert!((a.gap(&across) + 3.0).abs() < 1e-12);
    }
}
