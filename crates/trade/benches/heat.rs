//! Heat and cure of the standard workload: plain explicit steps, and the march to the same error.
//!
//! Prints seconds by the clock and of the processor's threads together where the system tells them. The first number on the
//! command line is the threads (2 without it); `full` also runs all 10 000 plain steps in long numbers, against which the
//! march is held.

use std::hint::black_box;
use std::ops::ControlFlow;
use std::time::Instant;
use trade::figures::cure::march::{Accuracy, Course, State, march, march_plainly};
use trade::figures::cure::number::Number;
use trade::figures::cure::wave::workload;

/// The workload: seconds a step, and how many.
const STEP_S: f64 = 0.5;
const STEPS: usize = 10_000;
/// Steps measured and scaled up.
const MEASURED: usize = 500;

fn timed<T>(name: &str, scale: f64, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let made = black_box(work());
    println!("{name}: {:.3} s", start.elapsed().as_secs_f64() * scale);
    made
}

fn told(state: &State) {
    let most = |list: &[f64]| list.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mean = state.celsius.iter().sum::<f64>() / state.celsius.len() as f64;
    println!(
        "    mean {:.4} K, greatest {:.3} K, greatest conversion {:.4}",
        mean + 273.15,
        most(&state.celsius) + 273.15,
        most(&state.conversion)
    );
}

fn marched<N: Number>(name: &str, step_k: f64) -> Course {
    let (body, kinetics) = workload();
    let start = State::fresh(&body, 25.0);
    let accuracy = Accuracy { step_k, longest_s: f64::INFINITY, fixed_s: None };
    let course = timed(name, 1.0, || {
        march::<N>(&body, &kinetics, &start, &|_| 25.0, (STEPS as f64 * STEP_S, accuracy), &mut |_| {
            ControlFlow::Continue(())
        })
    });
    let course = course.expect("the workload is sound");
    println!("    {} steps, {} evaluations", course.moments.len() - 1, course.evaluations);
    course
}

fn main() {
    let mut threads = 2;
    let mut full = false;
    for word in std::env::args().skip(1) {
        full |= word == "full";
        threads = word.parse().unwrap_or(threads);
    }
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
    pool.install(|| {
        println!("{threads} threads");
        let (body, kinetics) = workload();
        let start = State::fresh(&body, 25.0);
        let scale = STEPS as f64 / MEASURED as f64;
        let go = (STEP_S, MEASURED);
        timed("plain explicit steps, f32, scaled to 10 000", scale, || {
            march_plainly::<f32>(&body, &kinetics, &start, 25.0, go)
        })
        .expect("sound");
        timed("plain explicit steps, f64, scaled to 10 000", scale, || {
            march_plainly::<f64>(&body, &kinetics, &start, 25.0, go)
        })
        .expect("sound");
        let marches: Vec<(f64, Course)> = [0.3, 0.1, 0.03]
            .into_iter()
            .map(|k| (k, marched::<f32>(&format!("march, f32, {k} K a step"), k)))
            .collect();
        if full {
            let all = (STEP_S, STEPS);
            let reference = timed("all plain explicit steps, f64", 1.0, || {
                march_plainly::<f64>(&body, &kinetics, &start, 25.0, all)
            })
            .expect("sound");
            told(&reference);
            for (step_k, course) in &marches {
                let off = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                println!(
                    "march at {step_k} K a step: temperatures within {:.4} K, conversions within {:.5}",
                    off(&course.end.celsius, &reference.celsius),
                    off(&course.end.conversion, &reference.conversion)
                );
            }
        }
    });
}
