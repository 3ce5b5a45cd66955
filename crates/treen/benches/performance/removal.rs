//! Removal of stock: a cutter swept along many short moves, beside a plain compiled loop over the same columns.

use crate::location::{cutter, depth, one_thread};
use base::Quiet;
use geom::DVec2;
use std::f64::consts::TAU;
use trade::cutter::Form;
use workpiece::{Blank, BlankBoard, Clearances, Sweep, Workpiece};

/// Columns stand from −90 to 90, mm; thickness of the block, mm.
const HALF: f64 = 90.0;
const THICK: f64 = 60.0;

/// A cutter swept along many moves.
pub(crate) struct Case {
    pub(crate) name: &'static str,
    form: Form,
    /// mm.
    diameter: f64,
    /// Distance of the columns, mm.
    pitch: f64,
    pub(crate) moves: Vec<Sweep>,
    /// What they take, mm³, as an array library found it on heights at the same places.
    volume: f64,
}

/// Seconds of the processor for ours, in the order of time and for the last state alone, and for the loop, one thread each.
pub(crate) struct Timed {
    pub(crate) ours: f64,
    pub(crate) whole: f64,
    pub(crate) plain: f64,
}

/// So near must all come to that volume, and ours to the loop's heights, mm, but for a few columns that an upright wall runs
/// through to a hair: those stand or fall by rounding.
const VOLUME: f64 = 1e-6;
const APART: f64 = 2e-3;
const ON_WALLS: usize = 8;
/// The middle of so many runs counts.
const RUNS: usize = 3;

/// A ball along a fine spiral over the rippled bowl, also on finer columns and in more moves, and a square end level by level.
pub(crate) fn cases() -> Vec<Case> {
    let levels = (1..=12).flat_map(|k| {
        let level = -3.0 * f64::from(k);
        spiral(8_000, 50.0, 4.8).into_iter().map(move |s| Sweep { from: at(s.from, level), to: at(s.to, level) })
    });
    let ball = |name, moves, pitch, volume| {
        let moves = spiral(moves, 56.0, 0.5);
        Case { name, form: Form::Ball, diameter: 6.0, pitch, moves, volume }
    };
    let name = "flat 6 mm, 96 000 moves in twelve levels";
    let flat =
        Case { name, form: Form::Flat, diameter: 12.0, pitch: 0.1, moves: levels.collect(), volume: 325_925.640 };
    vec![
        ball("ball 3 mm, 200 000 moves of 0.1 mm", 200_000, 0.1, 339_598.548),
        flat,
        ball("ball 3 mm, 200 000 moves of 0.1 mm, columns 0.05 mm apart", 200_000, 0.05, 339_598.99),
        ball("ball 3 mm, 1 000 000 moves of 0.02 mm", 1_000_000, 0.1, 339_599.025),
    ]
}

fn at(p: [f64; 3], z: f64) -> [f64; 3] {
    [p[0], p[1], z]
}

/// A spiral of Archimedes inwards, its moves of one length, on the rippled bowl.
fn spiral(moves: u32, from: f64, pitch: f64) -> Vec<Sweep> {
    let place = |k: u32| {
        let angle = TAU * from / pitch * (1.0 - f64::from(k) / f64::from(moves)).sqrt();
        let rho = pitch * angle / TAU;
        let (x, y) = (rho * angle.cos(), rho * angle.sin());
        [x, y, depth(DVec2::new(x, y))]
    };
    (0..moves).map(|k| Sweep { from: place(k), to: place(k + 1) }).collect()
}

/// Cuts a fresh block by the loop and by ours, which in the order of time also tells what each move removed.
pub(crate) fn timed(case: &Case) -> Timed {
    let Case { name, form, diameter, pitch, moves, volume } = case;
    let half = HALF + pitch / 2.0;
    let board = BlankBoard { min: [-half, -half, -THICK], max: [half, half, 0.0], wood: "any".into() };
    let fresh = Workpiece::new(&Blank { boards: vec![board] }, *pitch);
    let (nx, ny) = fresh.size();
    let mut heights = Vec::new();
    let plain = middle(|| {
        heights = vec![0.0_f32; nx * ny];
        let begun = processor();
        plain(&mut heights, (nx, ny, fresh.at(0, 0), *pitch), moves, *form, diameter / 2.0);
        processor() - begun
    });
    let cutter = cutter(*form, *diameter);
    let by = |cut: &(dyn Fn(&mut Workpiece) + Sync)| {
        let mut block = fresh.clone();
        let seconds = middle(|| {
            block = fresh.clone();
            one_thread(|| {
                let begun = processor();
                cut(&mut block);
                processor() - begun
            })
        });
        let height = |k: usize| block.column(k % nx, k / nx).map_or(-THICK, |c| f64::from(c.1));
        let apart = (0..nx * ny).filter(|&k| (height(k) - f64::from(heights[k])).abs() > APART).count();
        assert!(apart <= ON_WALLS, "{name}: {apart} columns apart");
        let taken = -(0..nx * ny).map(height).sum::<f64>() * pitch * pitch;
        assert!((taken / volume - 1.0).abs() < VOLUME, "{name}: {taken} mm³");
        seconds
    };
    let none = Clearances { shank: 0.0, holder: 0.0 };
    let ours = by(&|block| drop(block.cut(&cutter, moves, none, &Quiet).unwrap()));
    let whole = by(&|block| block.cut_whole(&cutter, moves, &Quiet).unwrap());
    let of_plain = -heights.iter().map(|z| f64::from(*z)).sum::<f64>() * pitch * pitch;
    assert!((of_plain / volume - 1.0).abs() < VOLUME, "{name}: {of_plain} mm³");
    Timed { ours, whole, plain }
}

/// The middle of some runs.
pub(crate) fn middle(mut run: impl FnMut() -> f64) -> f64 {
    let mut seconds: Vec<f64> = (0..RUNS).map(|_| run()).collect();
    seconds.sort_by(f64::total_cmp);
    seconds[RUNS / 2]
}

/// Seconds that this thread has had of a processor, as the Linux kernel tells it (its sched-stats.rst).
pub(crate) fn processor() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap();
    told.split(' ').next().and_then(|nanoseconds| nanoseconds.parse::<f64>().ok()).unwrap() / 1e9
}

/// The lowest the swept tip comes over each column, move by move: closed forms in the upright plane of the move.
fn plain(
    heights: &mut [f32],
    (nx, ny, first, pitch): (usize, usize, [f64; 2], f64),
    moves: &[Sweep],
    form: Form,
    radius: f64,
) {
    for Sweep { from: a, to: b } in moves {
        let range = |k: usize, n: usize| {
            let low = ((a[k].min(b[k]) - radius - first[k]) / pitch).ceil().max(0.0) as usize;
            let high = (((a[k].max(b[k]) + radius - first[k]) / pitch).floor() + 1.0).max(0.0) as usize;
            low..high.min(n)
        };
        let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12);
        let (ux, uy, slope) = ((b[0] - a[0]) / length, (b[1] - a[1]) / length, (b[2] - a[2]) / length);
        let lean = slope / (1.0 + slope * slope).sqrt();
        for iy in range(1, ny) {
            let py = first[1] + iy as f64 * pitch - a[1];
            for ix in range(0, nx) {
                let px = first[0] + ix as f64 * pitch - a[0];
                let (along, across) = (px * ux + py * uy, py * ux - px * uy);
                let square = radius * radius - across * across;
                if square < 0.0 {
                    continue;
                }
                let half = square.sqrt();
                let z = if form == Form::Ball {
                    let t = (along - lean * half).clamp(0.0, length);
                    let under = square - (along - t).powi(2);
                    if under < 0.0 {
                        continue;
                    }
                    a[2] + slope * t + radius - under.sqrt()
                } else {
                    let (low, high) = ((along - half).max(0.0), (along + half).min(length));
                    if low > high {
                        continue;
                    }
                    a[2] + slope * if slope > 0.0 { low } else { high }
                };
                let height = &mut heights[iy * nx + ix];
                *height = height.min(z as f32);
            }
        }
    }
}
