//! The classical limit of self-heating: beyond it no steady state balances what a reaction gives off.
//!
//! It neglects that the resin is used up, so it is the cautious side: a warning light, while the march gives figures.

use super::kinetics::{KELVIN, Kinetics};
use crate::figures::resin::GAS_CONSTANT;
use base::Source;

/// Critical values with faces held at the room's temperature: slab by half its thickness, long cylinder and sphere by radius.
pub const CRITICAL_SLAB: f64 = 0.878;
/// Long cylinder.
pub const CRITICAL_CYLINDER: f64 = 2.00;
/// Sphere.
pub const CRITICAL_SPHERE: f64 = 3.32;

/// Where the critical values come from.
pub fn runaway_source() -> Source {
    Source::Published {
        title: "Frank-Kamenetskii (1938), as quoted in Thermal explosions and the disappearance of criticality at small activation \
                energies, Proc. R. Soc. A (1979)"
            .to_owned(),
        place: "abstract: 0.878, 2.00, 3.32".to_owned(),
    }
}

/// `δ = E q L² / (k R T²)` of a body of half thickness or radius `size_mm` in a room of this temperature, with `q` the
/// greatest heat given off at that temperature, W/m³.
pub fn delta(kinetics: &Kinetics, celsius: f64, size_mm: f64) -> f64 {
    let kelvin = celsius + KELVIN;
    let q = kinetics.density * kinetics.heat * kinetics.greatest_rate(celsius);
    let l = size_mm * 1e-3;
    kinetics.activation[1] * q * l * l / (super::kinetics::CONDUCTIVITY * GAS_CONSTANT * kelvin * kelvin)
}

/// Critical value of a slab whose faces have a film: `1/δ_c = 1/0.878 + e/Bi`, `Bi = h L / k`; within 5 %, on the low side.
pub fn critical_slab(biot: f64) -> f64 {
    1.0 / (1.0 / CRITICAL_SLAB + std::f64::consts::E / biot)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    /// The worked case: at 25 °C the generic deep pour has its critical half thickness at 39.9 mm with faces held, and at
    /// 25 mm 0.345.
    #[test]
    fn the_worked_case() {
        let deep = Kinetics::generic(48.0);
        close(delta(&deep, 25.0, 39.9), CRITICAL_SLAB, 0.005);
        close(delta(&deep, 25.0, 25.0), 0.345, 0.002);
        close(critical_slab(0.8), 0.22, 0.004);
    }

    /// The interpolation against values computed for the slab: within 5 %, none above.
    #[test]
    fn films_lower_the_critical_value() {
        for (biot, want) in
            [(0.1, 0.0356), (0.3, 0.100), (0.5, 0.157), (1.0, 0.271), (2.0, 0.421), (5.0, 0.619), (10.0, 0.729)]
        {
            let got = critical_slab(biot);
            assert!(got <= want * 1.001 && got > want * 0.949, "Bi {biot}: {got}, {want}");
        }
    }
}
