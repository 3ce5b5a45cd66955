//! Cutter location on a million triangles of a rippled bowl with seven lobes: places on a lattice, one thread.

#![allow(clippy::unwrap_used)] // a benchmark may stop at the first surprise

use criterion::{Criterion, criterion_group, criterion_main};
use geom::{DVec2, DVec3, Mesh};
use paths::CutterLocation;
use std::f64::consts::{PI, TAU};
use std::time::Duration;
use trade::cutter::{Form, Solid};

/// Sectors and rings of the bowl, rings of the flat around it.
const FINE: [usize; 3] = [1120, 437, 10];
/// Half the side of the work area, mm.
const HALF: f64 = 90.0;

/// Radius of the rim.
fn rim(angle: f64) -> f64 {
    64.0 * (1.0 + 0.1 * (7.0 * angle).cos())
}

/// The bowl as a mesh of triangles between rays and rings, flat outside the rim.
fn bowl([sectors, rings, flats]: [usize; 3]) -> Mesh {
    let mut mesh = Mesh { vertices: vec![DVec3::new(0.0, 0.0, -40.0)], triangles: Vec::new() };
    for ring in 1..=rings + flats {
        for sector in 0..sectors {
            let angle = TAU * sector as f64 / sectors as f64;
            let (sin, cos) = angle.sin_cos();
            let (rho, z) = if ring < rings {
                let s = ring as f64 / rings as f64;
                (s * rim(angle), -40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * PI * s).sin() * (PI * s).sin())
            } else {
                let edge = HALF / cos.abs().max(sin.abs());
                (rim(angle) + (edge - rim(angle)) * (ring - rings) as f64 / flats as f64, 0.0)
            };
            mesh.vertices.push(DVec3::new(rho * cos, rho * sin, z));
        }
    }
    let at = |ring: usize, sector: usize| (1 + (ring - 1) * sectors + sector % sectors) as u32;
    for j in 0..sectors {
        mesh.triangles.push([0, at(1, j), at(1, j + 1)]);
        for ring in 1..rings + flats {
            let (a, b, c, d) = (at(ring, j), at(ring + 1, j), at(ring + 1, j + 1), at(ring, j + 1));
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

fn cutter(form: Form) -> Solid {
    Solid {
        form,
        diameter: 6.0,
        flute_length: 60.0,
        neck_diameter: 6.0,
        neck_length: 60.0,
        shank_diameter: 6.0,
        stickout: 80.0,
        holder: Vec::new(),
    }
}

fn location(c: &mut Criterion) {
    let mesh = bowl(FINE);
    println!("{} triangles", mesh.triangles.len());
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let mut group = c.benchmark_group("location");
    group.sample_size(10).warm_up_time(Duration::from_millis(1)).measurement_time(Duration::from_secs(1));
    for (name, form, mean) in [
        ("ball 3 mm", Form::Ball, -9.904_435),
        ("flat 3 mm", Form::Flat, -9.336_712),
        ("bull 3/1 mm", Form::Bull { corner_radius: 1.0 }, -9.519_824),
        ("cone 3 mm, 30°", Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, -10.476_559),
    ] {
        let cutter = cutter(form);
        let location = CutterLocation::new(&mesh, &cutter, 0.0);
        let grid = || location.grid(DVec2::splat(-89.91), 0.18, 1000, 1000).values.iter().sum::<f64>() / 1e6;
        // Means known from an independent computation to 5e-6.
        let all = grid();
        assert!((all - mean).abs() < 5e-6, "{name}: {all}");
        group.bench_function(format!("{name}, a million places"), |b| b.iter(|| one.install(grid)));
        group.bench_function(format!("{name}, made ready"), |b| b.iter(|| CutterLocation::new(&mesh, &cutter, 0.0)));
    }
    group.finish();
}

criterion_group!(benches, location);
criterion_main!(benches);
