//! Holding the work: shear, tear-off and bending of a glued, taped or screwed joint; what vacuum and vise hold.
//!
//! A side force high above the joint bends it: that, not the area, usually decides.

use base::Source;
use std::f64::consts::PI;

/// Where the working strengths come from.
pub fn strength_source() -> Source {
    Source::CommonPractice
}

/// The area that holds, as a section in bending. Centred on the origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Footing {
    /// Area, mm².
    pub area_mm2: f64,
    /// Second moment resisting a force along X, `∫x² dA`, mm⁴.
    pub i_x_mm4: f64,
    /// Second moment resisting a force along Y, `∫y² dA`, mm⁴.
    pub i_y_mm4: f64,
    /// Farthest point in X, mm.
    pub reach_x: f64,
    /// Farthest point in Y, mm.
    pub reach_y: f64,
    /// Whether it is round: no corner lies at both reaches.
    pub round: bool,
}

impl Footing {
    /// A disc.
    pub fn disc(diameter: f64) -> Self {
        Self::ring(diameter, 0.0)
    }

    /// A ring.
    pub fn ring(outer: f64, inner: f64) -> Self {
        let i = PI * (outer.powi(4) - inner.powi(4)) / 64.0;
        let area_mm2 = PI * (outer * outer - inner * inner) / 4.0;
        Self { area_mm2, i_x_mm4: i, i_y_mm4: i, reach_x: outer / 2.0, reach_y: outer / 2.0, round: true }
    }

    /// A rectangle of the size `x` by `y`.
    pub fn rectangle(x: f64, y: f64) -> Self {
        Self {
            area_mm2: x * y,
            i_x_mm4: y * x.powi(3) / 12.0,
            i_y_mm4: x * y.powi(3) / 12.0,
            reach_x: x / 2.0,
            reach_y: y / 2.0,
            round: false,
        }
    }

    /// Four square posts with their centres at (±`x`, ±`y`).
    pub fn posts(side: f64, x: f64, y: f64) -> Self {
        let own = side.powi(4) / 12.0;
        let area = side * side;
        Self {
            area_mm2: 4.0 * area,
            i_x_mm4: 4.0 * (own + area * x * x),
            i_y_mm4: 4.0 * (own + area * y * y),
            reach_x: x + side / 2.0,
            reach_y: y + side / 2.0,
            round: false,
        }
    }

    /// Both together, as one section.
    pub fn with(self, other: Self) -> Self {
        Self {
            area_mm2: self.area_mm2 + other.area_mm2,
            i_x_mm4: self.i_x_mm4 + other.i_x_mm4,
            i_y_mm4: self.i_y_mm4 + other.i_y_mm4,
            reach_x: self.reach_x.max(other.reach_x),
            reach_y: self.reach_y.max(other.reach_y),
            round: self.round && other.round,
        }
    }

    /// The share of it that is really covered by tape or wetted by glue, spread evenly.
    pub fn covered(self, share: f64) -> Self {
        Self { area_mm2: self.area_mm2 * share, i_x_mm4: self.i_x_mm4 * share, i_y_mm4: self.i_y_mm4 * share, ..self }
    }

    /// Section modulus against a force along X, `I/c`, mm³.
    pub fn modulus_x_mm3(&self) -> f64 {
        self.i_x_mm4 / self.reach_x
    }

    /// Section modulus against a force along Y, mm³.
    pub fn modulus_y_mm3(&self) -> f64 {
        self.i_y_mm4 / self.reach_y
    }

    /// Edge stress of a moment in the worst direction, MPa.
    ///
    /// With a corner at both reaches the two stresses add there as a vector: `M √((c_x/I_x)² + (c_y/I_y)²)`.
    pub fn bending_mpa(&self, moment_n_mm: f64) -> f64 {
        let (x, y) = (1.0 / self.modulus_x_mm3(), 1.0 / self.modulus_y_mm3());
        moment_n_mm * if self.round { x.max(y) } else { x.hypot(y) }
    }
}

/// Area of closed rings in plan (holes run the other way round), and the modulus that a moment in its worst direction meets:
/// the edge stress of a moment `M` about the middle of the area is at most `M / modulus`, whichever way it tips.
///
/// With `J = ∫ p pᵀ dA` about the middle, a force towards the unit vector `u` at the height `h` stresses the place `p` by
/// `F h pᵀ J⁻¹ u`, so that the worst is `F h · max |J⁻¹ p|` over the corners. Green's theorem; derived. `None` without an area.
pub fn area_and_modulus(rings: &[Vec<[f64; 2]>]) -> Option<(f64, f64)> {
    let sides = || rings.iter().flat_map(|r| (0..r.len()).map(|i| (r[i], r[(i + 1) % r.len()])));
    let cross = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0];
    let area: f64 = sides().map(|(a, b)| cross(a, b)).sum::<f64>() / 2.0;
    if area.is_nan() || area <= 0.0 {
        return None;
    }
    let first = |k: usize| sides().map(|(a, b)| cross(a, b) * (a[k] + b[k])).sum::<f64>() / (6.0 * area);
    let middle = [first(0), first(1)];
    let second = |i: usize, j: usize| {
        let of = |(a, b): ([f64; 2], [f64; 2])| {
            let (a, b) = ([a[0] - middle[0], a[1] - middle[1]], [b[0] - middle[0], b[1] - middle[1]]);
            cross(a, b) * (2.0 * a[i] * a[j] + a[i] * b[j] + b[i] * a[j] + 2.0 * b[i] * b[j]) / 24.0
        };
        sides().map(of).sum::<f64>()
    };
    let (xx, xy, yy) = (second(0, 0), second(0, 1), second(1, 1));
    let det = xx * yy - xy * xy;
    let worst = rings.iter().flatten().map(|p| {
        let p = [p[0] - middle[0], p[1] - middle[1]];
        ((yy * p[0] - xy * p[1]) / det).hypot((xx * p[1] - xy * p[0]) / det)
    });
    let worst = worst.fold(0.0, f64::max);
    (worst > 0.0).then(|| (area, 1.0 / worst))
}

/// Pressure of the air at a height above the sea, kPa: `101.325 (1 − 2.25577·10⁻⁵ z)^5.25588` (International Standard
/// Atmosphere, troposphere; constants from memory).
pub fn air_kpa(altitude_m: f64) -> f64 {
    101.325 * (1.0 - 2.255_77e-5 * altitude_m).max(0.0).powf(5.255_88)
}

/// Share of the air's pressure that a pump takes away at best (common practice, no source).
const PUMPED: f64 = 0.8;

/// Pressure that holds, kPa: what the gauge shows, and never more than a pump reaches at this height above the sea.
pub fn vacuum_kpa(gauge_kpa: f64, altitude_m: f64) -> f64 {
    gauge_kpa.min(PUMPED * air_kpa(altitude_m))
}

/// What is held by being pressed or sucked on, and slides when friction gives way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pressed {
    /// Force that it takes to lift it straight off, N.
    pub hold_n: f64,
    /// Sideways force for each newton of that force that no lift uses up.
    pub friction: f64,
    /// From the middle of what holds to the edge that it tips over, mm.
    pub arm_mm: f64,
}

impl Pressed {
    /// Sucked on by a pressure over an area: `F = Δp A`.
    pub fn by_vacuum(kpa: f64, area_mm2: f64, friction: f64, arm_mm: f64) -> Self {
        Self { hold_n: kpa * 1e-3 * area_mm2, friction, arm_mm }
    }

    /// Between two jaws: friction on both, `2 μ N`, holds against sliding and lifting alike.
    pub fn by_jaws(jaw_n: f64, friction: f64, arm_mm: f64) -> Self {
        Self { hold_n: 2.0 * friction * jaw_n, friction: 1.0, arm_mm }
    }

    /// Sideways force that makes it slide while it is lifted: `μ (F_hold − F_lift)`, N.
    pub fn slides_at_n(&self, lift_n: f64) -> f64 {
        self.friction * (self.hold_n - lift_n).max(0.0)
    }

    /// Moment that tips it while it is lifted: `(F_hold − F_lift) x`, N mm.
    pub fn tips_at_n_mm(&self, lift_n: f64) -> f64 {
        (self.hold_n - lift_n).max(0.0) * self.arm_mm
    }
}

/// What pulls at the joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// Sideways, in any direction, N.
    pub lateral_n: f64,
    /// Upwards, N.
    pub lift_n: f64,
    /// Height of the cut above the joint, mm.
    pub height: f64,
}

/// What the joint feels, MPa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stress {
    /// In shear, `F/A`.
    pub shear_mpa: f64,
    /// In tension at the worst edge, `F_lift/A + F h c/I`.
    pub tension_mpa: f64,
}

/// Stress of a joint: `τ = F/A`, `σ = F_lift/A + F·h·c/I`, the force in its worst direction.
pub fn joint_stress(footing: &Footing, pull: Pull) -> Stress {
    Stress {
        shear_mpa: pull.lateral_n / footing.area_mm2,
        tension_mpa: pull.lift_n / footing.area_mm2 + footing.bending_mpa(pull.lateral_n * pull.height),
    }
}

/// Share of its strength that pressure-sensitive tape keeps when warm: `1 − (T − 25)/30` above 25 °C, never below 0
/// (common practice, no source).
pub fn tape_share_at(temperature_c: f64) -> f64 {
    (1.0 - (temperature_c - 25.0) / 30.0).clamp(0.0, 1.0)
}

/// Ultimate withdrawal of a wood screw from side grain, `108.25 G² D L`, N (Wood Handbook chapter 8, from memory).
pub fn screw_withdrawal_n(specific_gravity: f64, diameter: f64, thread_length: f64) -> f64 {
    108.25 * specific_gravity * specific_gravity * diameter * thread_length
}

/// Allowed withdrawal of a wood screw from side grain, `19.65 G² D L`, N (US design practice, 2850 G² D lb per inch of thread;
/// from a table of an engineering site): 5.5 times less than the ultimate.
pub fn screw_allowed_n(specific_gravity: f64, diameter: f64, thread_length: f64) -> f64 {
    19.65 * specific_gravity * specific_gravity * diameter * thread_length
}

/// Sideways load of a wood screw in side grain of hardwood, `26.48 D²`, N: the lightest hardwoods' constant (3840 lb/in² in
/// Wood Handbook chapter 8, from memory).
pub fn screw_sideways_n(diameter: f64) -> f64 {
    26.48 * diameter * diameter
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    const SIDE: Pull = Pull { lateral_n: 60.0, lift_n: 0.0, height: 75.0 };

    /// 60 N at 75 mm: on a disc, on a foot ring, and on a disc with four corner posts.
    #[test]
    fn the_stalk_is_judged_by_bending() {
        close(joint_stress(&Footing::disc(70.0), SIDE).tension_mpa, 0.13, 0.005);
        close(joint_stress(&Footing::ring(70.0, 58.0), SIDE).tension_mpa, 0.25, 0.005);
        let posts = Footing::disc(70.0).with(Footing::posts(20.0, 85.0, 85.0));
        close(60.0 * 75.0 / posts.modulus_x_mm3(), 0.03, 0.005);
        // Across the corners it is √2 times as much.
        close(posts.bending_mpa(4500.0), 4500.0 / posts.modulus_x_mm3() * 2f64.sqrt(), 1e-12);
    }

    #[test]
    fn a_disc_of_80_mm() {
        let stress = joint_stress(&Footing::disc(80.0), Pull { lateral_n: 40.0, lift_n: 0.0, height: 60.0 });
        close(stress.shear_mpa * 1000.0, 8.0, 0.05);
        close(stress.tension_mpa * 1000.0, 47.7, 0.05);
    }

    #[test]
    fn tape_on_part_of_a_face() {
        // 120 × 90 mm at 60 %: 6480 mm², 259 N in shear at 0.040 MPa and 162 N straight up at 0.025 MPa.
        let face = Footing::rectangle(120.0, 90.0).covered(0.6);
        close(face.area_mm2 * 0.040, 259.2, 0.05);
        close(face.area_mm2 * 0.025, 162.0, 0.05);
        // 6 M/(w b² cov), tipped over the side.
        close(face.modulus_y_mm3(), 120.0 * 90.0 * 90.0 / 6.0 * 0.6, 1e-6);
        let lift = joint_stress(&face, Pull { lateral_n: 0.0, lift_n: 64.8, height: 50.0 });
        close(lift.tension_mpa, 0.01, 1e-12);
    }

    /// Against a sum over small squares of the section.
    #[test]
    fn second_moments_by_summing() {
        let (outer, inner, pitch) = (70.0_f64, 58.0_f64, 0.1);
        let steps = 800;
        let mut sum = [0.0; 2];
        for i in 0..steps {
            for j in 0..steps {
                let (x, y) = ((f64::from(i) - 399.5) * pitch, (f64::from(j) - 399.5) * pitch);
                let r = x.hypot(y) * 2.0;
                if r < outer && r > inner {
                    sum[0] += pitch * pitch;
                    sum[1] += pitch * pitch * x * x;
                }
            }
        }
        let ring = Footing::ring(outer, inner);
        close(ring.area_mm2 / sum[0], 1.0, 2e-3);
        close(ring.i_x_mm4 / sum[1], 1.0, 2e-3);
    }

    /// Worked example (docs/holding-and-flip.md), and the International Standard Atmosphere: a disc of 200 mm at 70 kPa is held by 2199 N, 770 N sideways at 0.35; the air at 0, 500, 1000,
    /// 1500 and 2000 m, and what a pump reaches there.
    #[test]
    fn vacuum_of_the_reference() {
        let disc = Footing::disc(200.0);
        let held = Pressed::by_vacuum(70.0, disc.area_mm2, 0.35, 100.0);
        close(held.hold_n, 2199.0, 0.5);
        close(held.slides_at_n(0.0), 770.0, 0.5);
        close(held.tips_at_n_mm(199.0), 2000.0 * 100.0, 100.0);
        assert_eq!((held.slides_at_n(3000.0), held.tips_at_n_mm(3000.0)), (0.0, 0.0));
        for (altitude, kpa) in [(0.0, 101.3), (500.0, 95.5), (1000.0, 89.9), (1500.0, 84.6), (2000.0, 79.5)] {
            close(air_kpa(altitude), kpa, 0.05);
        }
        for (altitude, kpa) in [(0.0, 81.1), (1000.0, 71.9), (2000.0, 63.6)] {
            close(vacuum_kpa(95.0, altitude), kpa, 0.06);
        }
        close(vacuum_kpa(60.0, 2000.0), 60.0, 1e-12);
    }

    /// Worked example (docs/holding-and-flip.md): `F = 2 μ N` of two jaws.
    #[test]
    fn jaws_hold_by_friction_on_both() {
        let vise = Pressed::by_jaws(3000.0, 0.3, 40.0);
        close(vise.hold_n, 1800.0, 1e-9);
        close(vise.slides_at_n(300.0), 1500.0, 1e-9);
        close(vise.tips_at_n_mm(300.0), 60_000.0, 1e-6);
    }

    /// Any shape against the closed forms, and a section without symmetry against a sum over small squares in 720 directions.
    #[test]
    fn moduli_of_rings_in_their_worst_direction() {
        let circle = |d: f64, sense: f64| -> Vec<[f64; 2]> {
            (0..720)
                .map(|k| sense * std::f64::consts::TAU * f64::from(k) / 720.0)
                .map(|a| [d / 2.0 * a.cos(), d / 2.0 * a.sin()])
                .collect()
        };
        let (area, modulus) = area_and_modulus(&[circle(70.0, 1.0), circle(58.0, -1.0)]).unwrap();
        let ring = Footing::ring(70.0, 58.0);
        close(area / ring.area_mm2, 1.0, 2e-4);
        close(modulus * ring.bending_mpa(1.0), 1.0, 5e-4);
        let at = |x: f64, y: f64| vec![[x, y], [x + 120.0, y], [x + 120.0, y + 90.0], [x, y + 90.0]];
        let (area, modulus) = area_and_modulus(&[at(13.0, -70.0)]).unwrap();
        close(area, 10_800.0, 1e-6);
        close(modulus * Footing::rectangle(120.0, 90.0).bending_mpa(1.0), 1.0, 1e-9);
        assert_eq!(area_and_modulus(&[]), None);

        let l = vec![[0.0, 0.0], [80.0, 0.0], [80.0, 20.0], [25.0, 20.0], [25.0, 60.0], [0.0, 60.0]];
        let (area, modulus) = area_and_modulus(std::slice::from_ref(&l)).unwrap();
        let pitch = 0.25;
        let squares: Vec<[f64; 2]> = (0..320)
            .flat_map(|i| (0..240).map(move |j| [(f64::from(i) + 0.5) * pitch, (f64::from(j) + 0.5) * pitch]))
            .filter(|p| p[1] < 20.0 || p[0] < 25.0)
            .collect();
        let n = squares.len() as f64;
        close(area, n * pitch * pitch, 1e-6);
        let m = [0, 1].map(|k| squares.iter().map(|p| p[k]).sum::<f64>() / n);
        // A moment towards u: stress a·x + b·y whose resultant is that moment; solved for each direction.
        let sum =
            |i: usize, j: usize| squares.iter().map(|p| (p[i] - m[i]) * (p[j] - m[j])).sum::<f64>() * pitch * pitch;
        let (xx, xy, yy) = (sum(0, 0), sum(0, 1), sum(1, 1));
        let worst = (0..720).map(|k| std::f64::consts::TAU * f64::from(k) / 720.0).flat_map(|t| {
            let (sin, cos) = t.sin_cos();
            let det = xx * yy - xy * xy;
            let (a, b) = ((yy * cos - xy * sin) / det, (xx * sin - xy * cos) / det);
            l.iter().map(move |p| a * (p[0] - m[0]) + b * (p[1] - m[1])).collect::<Vec<_>>()
        });
        close(1.0 / worst.fold(0.0, f64::max) / modulus, 1.0, 1e-3);
    }

    #[test]
    fn warm_tape_and_screws() {
        // Worked example (docs/holding-and-flip.md; Wood Handbook chapter 8, from memory): G 0.55, 4.5 × 20 mm: 535 N allowed.
        close(screw_allowed_n(0.55, 4.5, 20.0), 535.0, 0.5);
        close(screw_withdrawal_n(0.55, 4.5, 20.0) / screw_allowed_n(0.55, 4.5, 20.0), 5.5, 0.02);
        close(screw_sideways_n(4.5), 536.2, 0.1);
        assert_eq!((tape_share_at(20.0), tape_share_at(40.0), tape_share_at(70.0)), (1.0, 0.5, 0.0));
        close(screw_withdrawal_n(0.55, 4.5, 20.0), 2947.0, 0.5);
    }

    proptest::proptest! {
        #[test]
        fn no_direction_is_worse_than_the_worst(x in 10.0..200.0f64, y in 10.0..200.0f64, turn in 0.0..6.3f64) {
            let f = Footing::rectangle(x, y);
            let (sin, cos) = turn.sin_cos();
            let there = 1000.0 * (cos.abs() / f.modulus_x_mm3() + sin.abs() / f.modulus_y_mm3());
            assert!(there <= f.bending_mpa(1000.0) * (1.0 + 1e-12));
        }
    }
}
