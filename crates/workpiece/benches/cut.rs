//! Cutting long runs of short moves: a ball nose along a spiral in a rippled bowl, a flat end in levels.

use base::Quiet;
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use std::f64::consts::TAU;
use trade::cutter::{Form, Solid};
use workpiece::{Blank, BlankBoard, Clearances, Sweep, Workpiece};

/// Height of a rippled bowl with seven lobes.
fn bowl(x: f64, y: f64) -> f64 {
    let s = x.hypot(y) / (64.0 * (1.0 + 0.1 * (7.0 * y.atan2(x)).cos()));
    if s >= 1.0 {
        return 0.0;
    }
    let pi = std::f64::consts::PI;
    -40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * pi * s).sin() * (pi * s).sin()
}

/// `n` moves of equal length running inwards along an Archimedean spiral of the given pitch.
fn spiral(n: u32, outermost: f64, pitch: f64, height: &dyn Fn(f64, f64) -> f64) -> Vec<Sweep> {
    let point = |k: u32| {
        let angle = TAU * outermost / pitch * (1.0 - f64::from(k) / f64::from(n)).sqrt();
        let r = pitch * angle / TAU;
        let (x, y) = (r * angle.cos(), r * angle.sin());
        [x, y, height(x, y)]
    };
    (0..n).map(|k| Sweep { from: point(k), to: point(k + 1) }).collect()
}

fn cutter(form: Form, diameter: f64) -> Solid {
    Solid {
        form,
        diameter,
        flute_length: 60.0,
        neck_diameter: diameter,
        neck_length: 60.0,
        shank_diameter: diameter,
        stickout: 80.0,
        holder: Vec::new(),
    }
}

fn slab() -> Workpiece {
    let board = BlankBoard { min: [-90.05, -90.05, -50.0], max: [90.05, 90.05, 0.0], wood: "walnut".to_owned() };
    Workpiece::new(&Blank { boards: vec![board] }, 0.1)
}

fn run(mut w: Workpiece, cutter: &Solid, moves: &[Sweep]) -> Workpiece {
    let clear = Clearances { shank: 0.25, holder: 2.0 };
    w.cut(cutter, moves, clear, &Quiet).expect("nobody stops it");
    w
}

fn cut(c: &mut Criterion) {
    let mut group = c.benchmark_group("cut");
    group.sample_size(10);
    let ball = (cutter(Form::Ball, 6.0), spiral(200_000, 56.0, 0.5, &bowl));
    group.bench_function("ball 3 mm, 200 000 moves, 0.1 mm", |b| {
        b.iter_batched(slab, |w| run(w, &ball.0, &ball.1), BatchSize::PerIteration);
    });
    let levels = (1..=12).flat_map(|k| spiral(8000, 50.0, 4.8, &move |_, _| -3.0 * f64::from(k)));
    let flat = (cutter(Form::Flat, 12.0), levels.collect::<Vec<Sweep>>());
    group.bench_function("flat 6 mm, 96 000 moves, 0.1 mm", |b| {
        b.iter_batched(slab, |w| run(w, &flat.0, &flat.1), BatchSize::PerIteration);
    });
    group.finish();
}

criterion_group!(benches, cut);
criterion_main!(benches);
