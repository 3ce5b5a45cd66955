//! Bending of a cutter under a side force at its tip: a stepped cantilever, plus the give of the machine.

use crate::cutter::{Form, Solid};
use base::Source;
use std::f64::consts::PI;

/// Young's modulus of cemented carbide, N/mm² (from memory; 580–600 GPa).
pub const E_CARBIDE: f64 = 600_000.0;
/// Young's modulus of high-speed steel, N/mm² (from memory).
pub const E_STEEL: f64 = 210_000.0;
/// Diameter of a plain bar as stiff as the flutes, as a share of the cutting diameter.
pub const FLUTE_SHARE: f64 = 0.80;

/// Sizes of a piece are measured to this before it is let go, mm (common practice, no source).
pub const MEASURED_MM: f64 = 0.3;
/// What bending may cost of them, mm: a third.
pub const BEARABLE_MM: f64 = MEASURED_MM / 3.0;
/// The same where nothing is seen or measured of it, as in a hollow that resin fills, mm (common practice, no source).
pub const HIDDEN_MM: f64 = 0.2;
/// Bending stress that a carbide cutter bears for long, MPa: a fifth of the rupture strength of fine-grained carbide, for blows
/// and for the notch of the flutes (from memory).
pub const CARBIDE_BEARS_MPA: f64 = 600.0;

/// Where the share of the flutes comes from; the beam itself is derived.
pub fn source() -> Source {
    Source::FromMemory {
        title: "L. Kops, D. T. Vo, Determination of the Equivalent Diameter of an End Mill Based on its Compliance, CIRP Annals 39 (1990)"
            .to_owned(),
    }
}

/// One length of a stepped bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// Its length, mm.
    pub length: f64,
    /// Its diameter, mm.
    pub diameter: f64,
}

fn second_moment(diameter: f64) -> f64 {
    PI * diameter.powi(4) / 64.0
}

/// Deflection at the free end of a stepped cantilever, bars listed from the tip:
/// `δ = F/(3E) · Σ (z₁³ − z₀³)/I`, `z` from the tip. mm.
pub fn cantilever_mm(force_n: f64, e_n_mm2: f64, bars: &[Bar]) -> f64 {
    let mut z = 0.0_f64;
    let mut sum = 0.0;
    for bar in bars {
        let next = z + bar.length;
        sum += (next.powi(3) - z.powi(3)) / second_moment(bar.diameter);
        z = next;
    }
    force_n / (3.0 * e_n_mm2) * sum
}

/// Bending stress at the root of a plain bar, `32 F L / (π d³)`, MPa.
pub fn bending_stress_mpa(force_n: f64, length: f64, diameter: f64) -> f64 {
    32.0 * force_n * length / (PI * diameter.powi(3))
}

/// Greatest bending stress of a cutter under a side force, at the end of its flutes, of its neck or at the nut, MPa.
///
/// A blunt cutter takes all of it at its tip, the worst case. The tip of a pointed one is no thicker than what it cuts is deep:
/// there the force is spread evenly over `depth`, so that a section at `z` bears `F z² / 2 depth` down to it and `F (z − depth/2)`
/// above (a cantilever under an even load).
pub fn root_stress_mpa(solid: &Solid, force_n: f64, depth: f64) -> f64 {
    let pointed = matches!(solid.form, Form::Cone { .. } | Form::TaperedBall { .. });
    let (spread, slices) = if pointed { (depth, SLICES as usize) } else { (0.0, 0) };
    let mut from = 0.0;
    let stress = bars(solid).into_iter().enumerate().map(|(k, bar)| {
        // A slice is as thick as in its middle.
        let z = from + if k < slices { 0.5 * bar.length } else { bar.length };
        from += bar.length;
        let arm = if z < spread { z * z / (2.0 * spread) } else { z - 0.5 * spread };
        bending_stress_mpa(force_n, arm, bar.diameter)
    });
    stress.fold(0.0, f64::max)
}

/// A cutter as bars from the tip to the nut: flutes at [`FLUTE_SHARE`], neck, shank.
pub fn bars(solid: &Solid) -> Vec<Bar> {
    let flutes = solid.flute_length.min(solid.stickout);
    let neck = (solid.neck_length.min(solid.stickout) - flutes).max(0.0);
    let shank = (solid.stickout - flutes - neck).max(0.0);
    let mut bars = fluted(solid, flutes);
    bars.push(Bar { length: neck, diameter: solid.neck_diameter });
    bars.push(Bar { length: shank, diameter: solid.shank_diameter });
    bars.retain(|b| b.length > 0.0);
    bars
}

/// Slices of a pointed cutter's flutes; more change the result by less than 1 %.
const SLICES: u32 = 64;

fn fluted(solid: &Solid, length: f64) -> Vec<Bar> {
    let (tip, half_angle_deg) = match solid.form {
        Form::Flat | Form::Ball | Form::Bull { .. } => {
            return vec![Bar { length, diameter: FLUTE_SHARE * solid.diameter }];
        }
        Form::Cone { half_angle_deg, tip_diameter } => (tip_diameter, half_angle_deg),
        Form::TaperedBall { tip_radius, half_angle_deg } => (2.0 * tip_radius, half_angle_deg),
    };
    let widening = 2.0 * half_angle_deg.to_radians().tan();
    (0..SLICES)
        .map(|i| {
            let z = length * (f64::from(i) + 0.5) / f64::from(SLICES);
            let diameter = FLUTE_SHARE * (tip + widening * z).min(solid.diameter);
            Bar { length: length / f64::from(SLICES), diameter }
        })
        .collect()
}

/// Deflection of a carbide cutter at its tip, mm, without the machine.
pub fn cutter_mm(solid: &Solid, force_n: f64) -> f64 {
    cantilever_mm(force_n, E_CARBIDE, &bars(solid))
}

/// Deflection at the tip with the machine's own give, mm.
pub fn tip_mm(solid: &Solid, force_n: f64, stiffness_n_mm: f64) -> f64 {
    cutter_mm(solid, force_n) + force_n / stiffness_n_mm
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    fn bar(length: f64, diameter: f64) -> Bar {
        Bar { length, diameter }
    }

    /// Beam formula `F L³/(3 E I)`, worked by hand.
    #[test]
    fn the_worked_cases() {
        close(cantilever_mm(30.0, E_CARBIDE, &[bar(30.0, 6.0)]), 0.007074, 1e-6);
        close(cantilever_mm(30.0, E_STEEL, &[bar(30.0, 6.0)]), 0.020210, 1e-6);
        close(cantilever_mm(30.0, E_CARBIDE, &[bar(20.0, 4.8), bar(10.0, 6.0)]), 0.010095, 1e-6);
        close(cantilever_mm(30.0, E_CARBIDE, &[bar(30.0, 4.8)]), 0.017269, 1e-6);
        close(cantilever_mm(20.0, E_CARBIDE, &[bar(25.0, 3.175)]), 0.034804, 1e-6);
        close(bending_stress_mpa(30.0, 30.0, 6.0), 42.4, 0.05);
    }

    #[test]
    fn a_quarter_inch_shank_at_three_stick_outs() {
        for (l, d) in [(40.0, 0.009), (50.0, 0.018), (75.0, 0.061)] {
            close(cantilever_mm(20.0, 580_000.0, &[bar(l, 6.35)]), d, 5e-4);
        }
    }

    /// A 3 mm cutter with 12 mm of flutes on a 6 mm shank, 32 mm out: its flutes break before its shank.
    #[test]
    fn stress_is_greatest_where_the_flutes_end() {
        let solid = Solid {
            form: Form::Flat,
            diameter: 3.0,
            flute_length: 12.0,
            neck_diameter: 6.0,
            neck_length: 12.0,
            shank_diameter: 6.0,
            stickout: 32.0,
            holder: Vec::new(),
        };
        close(root_stress_mpa(&solid, 10.0, 3.0), bending_stress_mpa(10.0, 12.0, 2.4), 1e-9);
        close(root_stress_mpa(&solid, 10.0, 3.0), 88.4, 0.05);
        let plain = Solid { diameter: 6.0, flute_length: 1e-6, neck_length: 1e-6, ..solid };
        close(root_stress_mpa(&plain, 30.0, 3.0) / bending_stress_mpa(30.0, 32.0, 6.0), 1.0, 1e-6);
    }

    /// A point cutting 1 mm deep: the sections of a cantilever under an even load, by the hundredth of a millimetre.
    #[test]
    fn a_point_bears_what_is_spread_along_it() {
        let solid = Solid {
            form: Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.1 },
            diameter: 12.7,
            flute_length: 11.0,
            neck_diameter: 6.35,
            neck_length: 11.0,
            shank_diameter: 6.35,
            stickout: 24.0,
            holder: Vec::new(),
        };
        let section = |z: f64| {
            let moment = if z < 1.0 { 10.0 * z * z / 2.0 } else { 10.0 * (z - 0.5) };
            32.0 * moment / (PI * (0.8 * (0.1 + 2.0 * z * 30.0_f64.to_radians().tan())).powi(3))
        };
        let by_hand = (1..1000).map(|k| section(0.01 * f64::from(k))).fold(0.0, f64::max);
        close(root_stress_mpa(&solid, 10.0, 1.0) / by_hand, 1.0, 0.06); // in slices of a sixth of a millimetre
        assert!(root_stress_mpa(&solid, 10.0, 0.0) > 3.0 * by_hand, "all of it on the tip");
    }

    #[test]
    fn on_a_light_machine_the_machine_gives_most() {
        let solid = Solid {
            form: Form::Ball,
            diameter: 6.35,
            flute_length: 25.0,
            neck_diameter: 5.9,
            neck_length: 76.0,
            shank_diameter: 6.35,
            stickout: 76.0,
            holder: Vec::new(),
        };
        let bars = bars(&solid);
        assert_eq!(bars, [bar(25.0, 0.8 * 6.35), bar(51.0, 5.9)]);
        close(tip_mm(&solid, 20.0, 60.0) - cutter_mm(&solid, 20.0), 0.333, 5e-4);
    }

    #[test]
    fn a_tapered_cutter_lies_between_its_two_ends() {
        let mut solid = Solid {
            form: Form::TaperedBall { tip_radius: 1.5, half_angle_deg: 2.86 },
            diameter: 5.85,
            flute_length: 30.0,
            neck_diameter: 6.0,
            neck_length: 30.0,
            shank_diameter: 6.0,
            stickout: 50.0,
            holder: Vec::new(),
        };
        let tapered = cutter_mm(&solid, 10.0);
        solid.form = Form::Flat;
        let thick = cutter_mm(&solid, 10.0);
        solid.diameter = 3.0;
        assert!(thick < tapered && tapered < cutter_mm(&solid, 10.0));
    }

    #[test]
    fn cutting_a_bar_in_two_changes_nothing() {
        let whole = cantilever_mm(20.0, E_CARBIDE, &[bar(25.0, 3.0)]);
        close(cantilever_mm(20.0, E_CARBIDE, &[bar(9.0, 3.0), bar(16.0, 3.0)]), whole, 1e-12);
    }
}
