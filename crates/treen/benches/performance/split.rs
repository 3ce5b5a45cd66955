//! A bowl's volume split into resin and wood by an upright prism, and a library of solid operations in Python on the same.

use crate::dilation::python;
use crate::location::{MESHES, bowl, one_thread};
use crate::removal::{middle, processor};
use geom::{DVec2, DVec3, Mesh, Region, Ring};
use std::f64::consts::PI;

/// Half the side of the block and its thickness, mm; its top is at 0.
const HALF: f64 = 90.0;
const THICK: f64 = 50.0;
/// Stations along the prism; its underside and top, mm.
const STATIONS: u32 = 400;
const LEVELS: (f64, f64) = (-60.0, 5.0);
/// Volumes of resin and wood as the library finds them on these triangles, mm³, and how near ours must come. (Ever finer meshes
/// run to 100 498.5 and 1 174 639.4.)
const VOLUMES: [f64; 2] = [100_498.999, 1_174_643.406];
const NEAR: f64 = 2e-3;

/// The rippled bowl's hollow as a closed solid of a million triangles: its skin looks out, a fan lies over the rim.
fn hollow() -> Mesh {
    let [sectors, rings, _] = MESHES[1];
    let mut mesh = bowl([sectors, rings, 0]);
    mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
    let middle = mesh.vertices.len() as u32;
    mesh.vertices.push(DVec3::ZERO);
    let rim = |j: usize| (1 + (rings - 1) * sectors + j % sectors) as u32;
    mesh.triangles.extend((0..sectors).map(|j| [middle, rim(j), rim(j + 1)]));
    mesh
}

/// A band along a wave.
fn river() -> Region {
    let side = |across: f64| {
        let place = move |k: u32| {
            let x = -95.0 + 190.0 * f64::from(k) / f64::from(STATIONS);
            DVec2::new(x, 15.0 * (2.0 * PI * x / 60.0).sin() + across)
        };
        (0..=STATIONS).map(place)
    };
    Region { rings: vec![Ring(side(-10.0).chain(side(10.0).rev()).collect())] }
}

/// Our seconds of the processor.
pub(crate) fn ours() -> f64 {
    let block = Mesh::cuboid(DVec3::new(-HALF, -HALF, -THICK), DVec3::new(HALF, HALF, 0.0));
    let (hollow, river) = (hollow(), river());
    let within = |mesh: &Mesh| mesh.volume_within(&river, LEVELS);
    middle(|| {
        // The hollow lies within the block: what is left in the prism, and in all.
        let ([resin, whole], seconds) = one_thread(|| {
            let begun = processor();
            let split = [within(&block) - within(&hollow), block.volume() - hollow.volume()];
            (split, processor() - begun)
        });
        for (got, want) in [resin, whole - resin].into_iter().zip(VOLUMES) {
            assert!((got - want).abs() < NEAR, "{got} mm³ for {want}");
        }
        seconds
    })
}

/// The library's seconds; `None` where it is not at hand.
pub(crate) fn library() -> Option<f64> {
    Some(python(include_str!("split.py"), &[])?[0])
}
