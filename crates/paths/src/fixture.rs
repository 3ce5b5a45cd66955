//! Cutters and surfaces that the tests of several strategies share.

use geom::{DVec3, Mesh};
use std::f64::consts::TAU;
use trade::cutter::{Form, Solid};

/// A plain cutter with a shank as thick as its edges.
pub(crate) fn cutter(form: Form, diameter: f64) -> Solid {
    Solid {
        form,
        diameter,
        flute_length: 30.0,
        neck_diameter: diameter,
        neck_length: 30.0,
        shank_diameter: diameter,
        stickout: 40.0,
        holder: Vec::new(),
    }
}

/// A surface of revolution from its profile (r, z), from the middle outwards; level pieces and walls allowed.
pub(crate) fn turned(profile: &[(f64, f64)], around: usize) -> Mesh {
    waved(profile, around, |_| 1.0)
}

/// The same with radii scaled by a function of the angle.
pub(crate) fn waved(profile: &[(f64, f64)], around: usize, wave: impl Fn(f64) -> f64) -> Mesh {
    let mut mesh = Mesh::default();
    for &(r, z) in profile {
        for j in 0..around {
            let angle = TAU * j as f64 / around as f64;
            let (sin, cos) = angle.sin_cos();
            let r = r * wave(angle);
            mesh.vertices.push(DVec3::new(r * cos, r * sin, z));
        }
    }
    for i in 0..profile.len() - 1 {
        for j in 0..around {
            let id = |i: usize, j: usize| (i * around + j % around) as u32;
            mesh.triangles.push([id(i, j), id(i + 1, j), id(i + 1, j + 1)]);
            mesh.triangles.push([id(i, j), id(i + 1, j + 1), id(i, j + 1)]);
        }
    }
    mesh
}
