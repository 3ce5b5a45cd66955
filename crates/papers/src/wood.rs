//! Colour of wood in pictures: growth rings, fibres and pores as functions of the place in the board.
//!
//! Invented for looks from hash noise; it says nothing about the boards at hand. Each board has its own heart and tint.

use glam::Vec3;

/// Hash of a lattice point to 0…1 (integer mixing, the same on every machine).
fn hash(x: i32, y: i32, z: i32, seed: u32) -> f32 {
    let mut h = (x as u32).wrapping_mul(0x8da6_b343) ^ (y as u32).wrapping_mul(0xd816_3841);
    h ^= (z as u32).wrapping_mul(0xcb1a_b31f) ^ seed.wrapping_mul(0x1656_67b1);
    h = (h ^ (h >> 15)).wrapping_mul(0x2c1b_3c6d);
    h = (h ^ (h >> 12)).wrapping_mul(0x297a_2d39);
    ((h ^ (h >> 15)) >> 8) as f32 / 16_777_216.0
}

/// Smooth noise from 0 to 1 with features of size 1.
fn noise(at: Vec3, seed: u32) -> f32 {
    let base = at.floor();
    let t = at - base;
    let t = t * t * (3.0 - 2.0 * t);
    let [x, y, z] = base.as_ivec3().to_array();
    let row = |dy: i32, dz: i32| {
        let (a, b) = (hash(x, y + dy, z + dz, seed), hash(x + 1, y + dy, z + dz, seed));
        a + (b - a) * t.x
    };
    let layer = |dz: i32| {
        let (a, b) = (row(0, dz), row(1, dz));
        a + (b - a) * t.y
    };
    let (a, b) = (layer(0), layer(1));
    a + (b - a) * t.z
}

/// Colour in linear light at a point of a board (piece frame, mm, fibres along X).
pub(crate) fn wood(base: Vec3, board: u16, at: Vec3) -> Vec3 {
    let seed = 7 + 31 * u32::from(board);
    let pick = |k: i32| hash(k, 0, 0, seed);
    // The heart lies outside the board, so that faces show bowed stripes and ends show arcs.
    let side = if pick(1) < 0.5 { -1.0 } else { 1.0 };
    let heart = Vec3::new(0.0, (pick(2) - 0.5) * 60.0, side * (35.0 + 45.0 * pick(3)));
    let wander = Vec3::new(at.x * 0.008, at.y * 0.02, at.z * 0.02);
    let sway = Vec3::new(0.0, noise(wander, seed) - 0.5, noise(wander, seed + 1) - 0.5) * 14.0;
    let out = at - heart + sway;
    let radius =
        (out.y * out.y + out.z * out.z).sqrt() + (noise(at * Vec3::new(0.02, 0.09, 0.09), seed + 2) - 0.5) * 2.0;
    let ring = radius / (2.6 + 2.2 * pick(4));
    let (year, t) = (ring.floor(), ring - ring.floor());
    // Early wood pale, late wood darker towards the end of the year, then a quick return.
    let late = if t < 0.86 { (t / 0.86).powi(3) } else { 1.0 - (t - 0.86) / 0.14 };
    let strength = 0.55 + 0.9 * hash(year as i32, 1, 0, seed);
    let fibre = noise(at * Vec3::new(0.05, 1.7, 1.7), seed + 3) - 0.5;
    let fine = noise(at * Vec3::new(0.16, 4.0, 4.0), seed + 4) - 0.5;
    let pore = (noise(at * Vec3::new(0.11, 2.4, 2.4), seed + 5) - 0.80).max(0.0) * 2.4;
    let broad = noise(at * Vec3::new(0.006, 0.05, 0.05), seed + 6) - 0.5;
    let tint = 0.80 + 0.26 * pick(5);
    let light = tint * (1.08 - 0.30 * late * strength + 0.16 * fibre + 0.10 * fine + 0.20 * broad - pore);
    let warm = Vec3::new(1.0, 1.0 - 0.035 * (pick(6) - 0.5) - 0.05 * late, 1.0 - 0.10 * (pick(6) - 0.5) - 0.09 * late);
    base * warm * light.max(0.15)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_stays_within_its_range_and_varies() {
        let values: Vec<f32> = (0..1000).map(|k| noise(Vec3::new(k as f32 * 0.37, k as f32 * 0.11, -3.3), 5)).collect();
        assert!(values.iter().all(|v| (0.0..=1.0).contains(v)));
        let mean = values.iter().sum::<f32>() / 1000.0;
        assert!((mean - 0.5).abs() < 0.05, "{mean}");
        assert!(values.iter().any(|v| *v < 0.25) && values.iter().any(|v| *v > 0.75));
    }

    #[test]
    fn wood_keeps_near_its_colour() {
        let base = Vec3::new(0.4, 0.25, 0.12);
        let mut sum = Vec3::ZERO;
        for k in 0..2000 {
            let at = Vec3::new((k % 50) as f32 * 3.1, (k / 50) as f32 * 1.3, (k % 7) as f32);
            sum += wood(base, (k % 3) as u16, at);
        }
        let ratio = sum / 2000.0 / base;
        assert!(ratio.min_element() > 0.7 && ratio.max_element() < 1.2, "{ratio}");
    }
}
