//! Solid operations: the library behind them is known here and nowhere else.

use crate::{Mesh, mesh::SolidError};
use glam::DVec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::{BooleanEngine, Error, MeshGL64, OpType};

/// What to do with two solids.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Operation {
    Union,
    Minus,
    Common,
}

/// Combines two closed meshes. The quick engine works first; where its result does not close, the engine with rational
/// arithmetic repeats the work.
pub(crate) fn combine(a: &Mesh, b: &Mesh, operation: Operation) -> Result<Mesh, SolidError> {
    let (a, b) = (a.welded(), b.welded());
    for (name, m) in [("first", &a), ("second", &b)] {
        check(name, m)?;
    }
    if a.triangles.is_empty() || b.triangles.is_empty() {
        return Ok(with_nothing(a, b, operation));
    }
    let (ma, mb) = (import(&a), import(&b));
    let op = match operation {
        Operation::Union => OpType::Add,
        Operation::Minus => OpType::Subtract,
        Operation::Common => OpType::Intersect,
    };
    let mut last = String::new();
    for engine in [BooleanEngine::Exact, BooleanEngine::Robust] {
        let made = ma.boolean_with_engine(&mb, op, engine);
        if made.status() != Error::NoError {
            last = format!("{:?}", made.status());
            continue;
        }
        let mesh = export(&made);
        if mesh.is_closed() && mesh.vertices.iter().all(|v| v.is_finite()) {
            return Ok(mesh);
        }
        last = "the result has open edges".to_owned();
    }
    Err(SolidError(last))
}

fn check(name: &str, m: &Mesh) -> Result<(), SolidError> {
    if !m.vertices.iter().all(|v| v.is_finite()) {
        return Err(SolidError(format!("the {name} solid has a vertex that is not a number")));
    }
    if !m.is_closed() {
        return Err(SolidError(format!("the skin of the {name} solid is open")));
    }
    if m.volume() < 0.0 {
        return Err(SolidError(format!("the {name} solid is inside out")));
    }
    Ok(())
}

fn with_nothing(a: Mesh, b: Mesh, operation: Operation) -> Mesh {
    match operation {
        Operation::Union if a.triangles.is_empty() => b,
        Operation::Union | Operation::Minus => a,
        Operation::Common => Mesh::default(),
    }
}

fn import(m: &Mesh) -> Manifold {
    let gl = MeshGL64 {
        num_prop: 3,
        vert_properties: m.vertices.iter().flat_map(|v| v.to_array()).collect(),
        tri_verts: m.triangles.iter().flatten().map(|&v| u64::from(v)).collect(),
        ..MeshGL64::default()
    };
    let strict = Manifold::from_mesh_gl64(&gl);
    // Skins that touch themselves along an edge are still solids, but only the second engine reads them.
    if strict.status() == Error::NoError { strict } else { Manifold::from_mesh_gl64_robust(&gl) }
}

fn export(m: &Manifold) -> Mesh {
    let gl = m.get_mesh_gl64(-1);
    let stride = gl.num_prop.max(3) as usize;
    let vertices = gl.vert_properties.chunks_exact(stride).map(|p| DVec3::new(p[0], p[1], p[2])).collect();
    let mut to: Vec<u32> = (0..gl.vert_properties.len() as u32 / stride as u32).collect();
    for (&from, &into) in gl.merge_from_vert.iter().zip(&gl.merge_to_vert) {
        to[from as usize] = into as u32;
    }
    let triangles = gl.tri_verts.chunks_exact(3).map(|t| [t[0], t[1], t[2]].map(|v| to[v as usize])).collect();
    Mesh { vertices, triangles }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use glam::{DAffine3, DQuat};
    use proptest::prelude::*;
    use std::f64::consts::{PI, TAU};

    pub(crate) fn sphere(radius: f64, n: usize) -> Mesh {
        let mut m = Mesh::default();
        m.vertices.push(DVec3::new(0.0, 0.0, -radius));
        for i in 1..n {
            let t = PI * i as f64 / n as f64 - PI / 2.0;
            for j in 0..2 * n {
                let p = TAU * j as f64 / (2 * n) as f64;
                m.vertices.push(radius * DVec3::new(t.cos() * p.cos(), t.cos() * p.sin(), t.sin()));
            }
        }
        m.vertices.push(DVec3::new(0.0, 0.0, radius));
        let at = |i: usize, j: usize| (1 + (i - 1) * 2 * n + j % (2 * n)) as u32;
        let top = m.vertices.len() as u32 - 1;
        for j in 0..2 * n {
            m.triangles.push([0, at(1, j + 1), at(1, j)]);
            m.triangles.push([top, at(n - 1, j), at(n - 1, j + 1)]);
            for i in 1..n - 1 {
                m.triangles.push([at(i, j), at(i, j + 1), at(i + 1, j + 1)]);
                m.triangles.push([at(i, j), at(i + 1, j + 1), at(i + 1, j)]);
            }
        }
        m
    }

    fn second_opinion(a: &Mesh, b: &Mesh, op: boolmesh::prelude::OpType) -> f64 {
        use boolmesh::prelude::*;
        let read = |m: &Mesh| {
            let ps: Vec<f64> = m.vertices.iter().flat_map(|v| v.to_array()).collect();
            let ts: Vec<usize> = m.triangles.iter().flatten().map(|&v| v as usize).collect();
            Manifold::new(&ps, &ts).unwrap()
        };
        let out = compute_boolean(&read(a), &read(b), op).unwrap();
        let vertices = out.ps.iter().map(|p| DVec3::new(p.x, p.y, p.z)).collect();
        let corners: Vec<u32> = out.hs.iter().map(|h| h.tail as u32).collect();
        let triangles = corners.chunks_exact(3).map(|t| [t[0], t[1], t[2]]).collect();
        Mesh { vertices, triangles }.volume()
    }

    #[test]
    fn spheres_give_the_lens_of_the_closed_form() {
        // Two spheres of radius r, centres d apart: lens V = π(4r + d)(2r − d)² / 12.
        let (r, d, n) = (10.0, 6.0, 60);
        let a = sphere(r, n);
        let b = a.transformed(&DAffine3::from_rotation_translation(DQuat::from_rotation_x(0.3), DVec3::X * d));
        let lens = PI * (4.0 * r + d) * (2.0 * r - d) * (2.0 * r - d) / 12.0;
        let common = a.common(&b).unwrap();
        assert!((common.volume() / lens - 1.0).abs() < 2e-3, "{} {lens}", common.volume());
        let (minus, union) = (a.minus(&b).unwrap(), a.union(&b).unwrap());
        assert!((minus.volume() + common.volume() - a.volume()).abs() < 1e-6);
        assert!((union.volume() + common.volume() - a.volume() - b.volume()).abs() < 1e-6);
        for m in [&common, &minus, &union] {
            assert_eq!(m.flaws(false).open_edges, 0);
        }
        use boolmesh::prelude::OpType;
        for (ours, op) in [(&common, OpType::Intersect), (&minus, OpType::Subtract), (&union, OpType::Add)] {
            let theirs = second_opinion(&a, &b, op);
            assert!((ours.volume() - theirs).abs() < 1e-4 * theirs, "{} {theirs}", ours.volume());
        }
    }

    #[test]
    fn boxes_with_faces_in_one_plane_are_exact() {
        let a = Mesh::cuboid(DVec3::ZERO, DVec3::splat(10.0));
        let b = Mesh::cuboid(DVec3::new(5.0, 0.0, 2.0), DVec3::new(15.0, 10.0, 10.0));
        assert!((a.common(&b).unwrap().volume() - 5.0 * 10.0 * 8.0).abs() < 1e-9);
        assert!((a.minus(&b).unwrap().volume() - 600.0).abs() < 1e-9);
        assert!((a.union(&b).unwrap().volume() - 1400.0).abs() < 1e-9);
    }

    #[test]
    fn what_does_not_meet_is_empty_in_common() {
        let a = Mesh::cuboid(DVec3::ZERO, DVec3::ONE);
        let b = Mesh::cuboid(DVec3::splat(2.0), DVec3::splat(3.0));
        assert_eq!(a.common(&b).unwrap().triangles.len(), 0);
        assert!(a.minus(&a).unwrap().volume().abs() < 1e-12);
    }

    #[test]
    fn an_open_skin_is_refused() {
        let a = Mesh::cuboid(DVec3::ZERO, DVec3::ONE);
        let mut b = a.clone();
        b.triangles.pop();
        assert!(a.union(&b).is_err());
        let mut inside_out = a.clone();
        inside_out.triangles.iter_mut().for_each(|t| t.swap(0, 1));
        assert!(inside_out.minus(&a).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn parts_add_up_to_the_whole(x in -6.0..6.0_f64, y in -6.0..6.0_f64, z in -6.0..6.0_f64, turn in 0.0..3.0_f64) {
            let a = Mesh::cuboid(DVec3::splat(-4.0), DVec3::new(4.0, 5.0, 3.0));
            let by = DAffine3::from_rotation_translation(DQuat::from_rotation_y(turn), DVec3::new(x, y, z));
            let b = sphere(5.0, 10).transformed(&by);
            let common = a.common(&b).unwrap().volume();
            prop_assert!((a.minus(&b).unwrap().volume() + common - a.volume()).abs() < 1e-6);
            prop_assert!((a.union(&b).unwrap().volume() + common - a.volume() - b.volume()).abs() < 1e-6);
        }
    }
}
