//! A standard workload for timing heat and cure: a wave of resin through a block of wood. Its numbers are illustrative, not
//! material data.

use super::body::{Body, Material};
use super::kinetics::Kinetics;

/// The block and its resin: 128 × 128 × 64 cells of 1 mm, closed but for a slow loss at the top.
pub fn workload() -> (Body, Kinetics) {
    let cells = [128_usize, 128, 64];
    let (resin, wood) = ((0.20, 1.87e6), (0.15, 1.05e6));
    let material = |(k, capacity), resin| Material { conductivity: [k; 3], capacity, resin };
    let mut fill = Vec::with_capacity(cells.iter().product());
    for ix in 0..cells[0] {
        let middle = 64.0 + 20.0 * (2.0 * std::f64::consts::PI * ix as f64 / 128.0).sin();
        for iy in 0..cells[1] {
            fill.extend((0..cells[2]).map(|iz| u8::from((iy as f64 - middle).abs() < 12.0 && iz < 40)));
        }
    }
    // The top loses 0.002 of its excess a second.
    let pitch = 1e-3;
    let film = 1.0 / (1.0 / (0.002 * wood.1 * pitch) - pitch / (2.0 * wood.0));
    let body = Body {
        cells,
        pitch: [pitch; 3],
        fill,
        materials: vec![material(wood, 0.0), material(resin, 1.0)],
        films: [[0.0; 2], [0.0; 2], [0.0, film]],
        air_film: 0.0,
    };
    let kinetics = Kinetics {
        prefactor: [0.02 * 3e7, 3e7],
        activation: [7000.0 * crate::figures::resin::GAS_CONSTANT; 2],
        order: [1.0, 1.0],
        heat: 120.0 * resin.1 / 1000.0,
        specific_heat: 1870.0,
        density: 1000.0,
    };
    (body, kinetics)
}
