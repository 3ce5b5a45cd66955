//! Run times on the sheets against an integration in steps of 0.1 ms of the same limits: every program of every example.
//!
//! The integration knows no sweeps over the whole program: at every step it speeds up if it could still brake for every
//! limit ahead, holds its speed if it could, and slows down otherwise.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

mod support;

use base::Quiet;
use rayon::prelude::*;
use rs274::interpret::{Event, What, run};
use support::sources;
use trade::figures::motion::corner_speed;
use trade::shelf::Machine;
use treen::pipeline::{Accuracy, Pipeline};

/// Step, s.
const STEP: f64 = 1e-4;
/// The sheet counts whole seconds.
const ROUNDING_S: f64 = 0.6;

/// A stretch between two corners.
struct Stretch {
    length: f64,
    /// Greatest speed on it, mm/s, and acceleration along it, mm/s².
    speed: f64,
    acceleration: f64,
    /// Greatest speed at its beginning.
    entry: f64,
}

/// A motion with what is needed at its corners.
struct Leg {
    length: f64,
    speed: f64,
    acceleration: f64,
    start: [f64; 3],
    end: [f64; 3],
}

fn least_over(shares: [f64; 3], limits: [f64; 3]) -> f64 {
    (0..3).filter(|&k| shares[k] > 0.0).map(|k| limits[k] / shares[k]).fold(f64::INFINITY, f64::min)
}

fn line(machine: &Machine, from: [f64; 3], to: [f64; 3], feed: Option<f64>) -> Leg {
    let d = [0, 1, 2].map(|k| to[k] - from[k]);
    let length = d.iter().map(|v| v * v).sum::<f64>().sqrt();
    let u = d.map(|v| v / length);
    let axes = |[xy, z]: [f64; 2], by: f64| [xy * by, xy * by, z * by];
    let top = axes(if feed.is_some() { machine.feed_max } else { machine.rapid }, 1.0 / 60.0);
    let shares = u.map(f64::abs);
    let speed =
        least_over(shares, top).min(feed.map_or(f64::INFINITY, |f| f / 60.0)).min(length * machine.blocks_per_s);
    Leg { length, speed, acceleration: least_over(shares, axes(machine.acceleration, 1.0)), start: u, end: u }
}

/// An arc in the XY plane, perhaps with a rise.
fn arc(machine: &Machine, from: [f64; 3], to: [f64; 3], centre: [f64; 3], sweep: f64, feed: f64) -> Leg {
    let radius = (from[0] - centre[0]).hypot(from[1] - centre[1]);
    let (flat, rise) = (radius * sweep.abs(), to[2] - from[2]);
    let length = flat.hypot(rise);
    let tangent = |p: [f64; 3]| {
        let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
        let r = x.hypot(y);
        [-sweep.signum() * y / r * flat / length, sweep.signum() * x / r * flat / length, rise / length]
    };
    // Somewhere on the way either axis of the plane sees all of the speed.
    let shares = [flat / length, flat / length, (rise / length).abs()];
    let acceleration = least_over(shares, [machine.acceleration[0], machine.acceleration[0], machine.acceleration[1]]);
    let top = least_over(shares, [machine.feed_max[0], machine.feed_max[0], machine.feed_max[1]]) / 60.0;
    let speed = top.min(feed / 60.0).min(length * machine.blocks_per_s).min((acceleration * radius).sqrt());
    Leg { length, speed, acceleration, start: tangent(from), end: tangent(to) }
}

fn turn(u: [f64; 3], w: [f64; 3]) -> f64 {
    let cross = [u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]];
    let long = cross.iter().map(|v| v * v).sum::<f64>().sqrt();
    long.atan2((0..3).map(|k| u[k] * w[k]).sum())
}

fn stretches(legs: &[Leg], corner: f64) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    for (i, leg) in legs.iter().enumerate() {
        let entry = match i.checked_sub(1).map(|b| &legs[b]) {
            None => 0.0,
            Some(b) => {
                let spare = b.length.min(leg.length) / 2.0;
                corner_speed(turn(b.end, leg.start), spare, corner, b.acceleration.min(leg.acceleration))
            }
        };
        out.push(Stretch { length: leg.length, speed: leg.speed, acceleration: leg.acceleration, entry });
    }
    out
}

/// Whether braking from `v`, `at` mm into stretch `i`, keeps below every limit ahead.
fn can_brake(path: &[Stretch], i: usize, at: f64, v: f64) -> bool {
    if v > path[i].speed {
        return false;
    }
    let mut squared = v * v - 2.0 * path[i].acceleration * (path[i].length - at).max(0.0);
    for s in &path[i + 1..] {
        if squared <= 0.0 {
            return true;
        }
        let cap = s.entry.min(s.speed);
        if squared > cap * cap {
            return false;
        }
        squared -= 2.0 * s.acceleration * s.length;
    }
    squared <= 0.0
}

/// Runs a path from rest to rest, s.
fn integrate(path: &[Stretch]) -> f64 {
    let (mut i, mut at, mut v, mut t) = (0, 0.0, 0.0_f64, 0.0);
    while i < path.len() {
        let a = path[i].acceleration;
        let (faster, slower) = ((v + a * STEP).min(path[i].speed), (v - a * STEP).max(a * STEP * 0.5));
        let after = |w: f64| {
            let (mut k, mut place) = (i, at + (v + w) / 2.0 * STEP);
            while k < path.len() && place >= path[k].length {
                place -= path[k].length;
                k += 1;
            }
            (k, place)
        };
        let may = |w: f64| {
            let (k, place) = after(w);
            // A step may not run over a corner faster than it allows either.
            let corners = (i + 1..=k.min(path.len() - 1)).all(|c| w <= path[c].entry.max(a * STEP));
            corners && (k >= path.len() || can_brake(path, k, place, w))
        };
        let next = if faster > v && may(faster) {
            faster
        } else if v > 0.0 && may(v) {
            v
        } else {
            slower
        };
        let (k, place) = after(next);
        (i, at, v) = (k, place, next);
        t += STEP;
    }
    t
}

/// Run time of a program: paths between stops of the motion, and waits.
fn run_time(events: &[Event], machine: &Machine) -> f64 {
    let mut paths: Vec<Vec<Leg>> = vec![Vec::new()];
    let mut waits = 0.0;
    for event in events {
        match event.what {
            What::Straight { from, to, feed } if from.iter().all(|v| v.is_finite()) && from != to => {
                paths.last_mut().unwrap().push(line(machine, from, to, feed));
            }
            What::Arc { from, to, centre, sweep, feed, .. } => {
                paths.last_mut().unwrap().push(arc(machine, from, to, centre, sweep, feed));
            }
            What::Dwell(seconds) => {
                waits += seconds;
                paths.push(Vec::new());
            }
            What::Stop | What::Cutter(_) | What::Spindle(_) | What::Chosen(_) => paths.push(Vec::new()),
            _ => {}
        }
    }
    waits + paths.par_iter().map(|legs| integrate(&stretches(legs, machine.corner))).sum::<f64>()
}

#[test]
fn the_times_on_the_sheets_agree_with_an_integration_in_small_steps() {
    for name in ["tidepool", "clover", "pantry-tray"] {
        let mut pipeline = Pipeline::default();
        let wish = pipeline.read(&sources(name)).unwrap().value.unwrap();
        let piece = pipeline.shape(&wish, Accuracy::default().chord).unwrap();
        let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap().value.unwrap();
        let sheets: Vec<_> = plan.setups.iter().flat_map(|s| &s.programs).collect();
        assert!(!sheets.is_empty());
        let off: Vec<f64> = sheets
            .par_iter()
            .map(|sheet| {
                let stepped = run_time(&run(&plan.programs[&sheet.file]).unwrap(), &plan.machine);
                let off = (sheet.duration_s - stepped).abs();
                assert!(
                    off <= 0.02 * stepped + ROUNDING_S,
                    "{name}, {}: {} s on the sheet, {stepped:.1} s in steps",
                    sheet.file,
                    sheet.duration_s
                );
                off / stepped
            })
            .collect();
        println!("{name}: off by {:.2} % at most", off.into_iter().fold(0.0, f64::max) * 100.0);
    }
}
