//! Lobed levels with islands, taken inwards again and again until nothing is left; the polygon library in Python on the same.

use crate::dilation::python;
use geom::{DVec2, Region, Ring};
use std::f64::consts::TAU;
use std::time::Instant;

/// Levels, and the vertices of their outer rings and of their islands.
const LEVELS: u32 = 44;
const OUTER: u32 = 4096;
const ISLAND: u32 = 256;
/// Depth of a step, mm, and accuracy of its arcs, twice that of thinning.
const STEP: f64 = 2.4;
const ARC: f64 = 0.005;
/// Rings in all, and their area within 40, mm².
const RINGS: usize = 1423;
const AREA: f64 = 1_169_770.0;

fn ring(vertices: u32, point: impl Fn(f64) -> DVec2) -> Ring {
    Ring((0..vertices).map(|i| point(TAU * f64::from(i) / f64::from(vertices))).collect())
}

fn level(k: u32) -> Region {
    let k = f64::from(k);
    let outer = ring(OUTER, |t| {
        let rim = 64.0 * (1.0 + 0.1 * (7.0 * t).cos());
        DVec2::from_angle(t) * (rim * (1.0 - k / 44.0).powf(0.25) + 0.3 * (61.0 * t + k).sin())
    });
    let island = |j: u32| {
        let middle = DVec2::from_angle(TAU * f64::from(j) / 5.0 + 0.1 * k) * 16.0;
        ring(ISLAND, move |t| middle + DVec2::from_angle(t) * (3.0 + 0.5 * (3.0 * t + k).cos()))
    };
    let islands = Region { rings: (0..5).map(island).collect() };
    Region { rings: vec![outer] }.minus(&islands)
}

/// Our seconds on one thread: the middle of three runs.
pub(crate) fn ours() -> f64 {
    let levels: Vec<Region> = (0..LEVELS).map(level).collect();
    let mut seconds = [0.0; 3].map(|_: f64| {
        let begun = Instant::now();
        let (mut rings, mut area) = (0, 0.0);
        for level in &levels {
            let mut left = level.clone();
            while !left.is_empty() {
                left = left.offset(-STEP, ARC).thinned(0.5 * ARC);
                rings += left.rings.len();
                area += left.area();
            }
        }
        let took = begun.elapsed().as_secs_f64();
        assert!(rings == RINGS && (area - AREA).abs() < 40.0, "{rings} rings, {area} mm²");
        took
    });
    seconds.sort_by(f64::total_cmp);
    seconds[1]
}

/// The library's seconds; `None` where it is not at hand.
pub(crate) fn library() -> Option<f64> {
    Some(python(include_str!("slices.py"), &[])?[0])
}
