//! Holding the work: shear, tear-off and bending of a glued or taped joint.
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

    #[test]
    fn warm_tape_and_screws() {
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
