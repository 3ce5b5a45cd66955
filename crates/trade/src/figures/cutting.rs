//! Chips and forces: feed and chip load, engagement, chip thickness, the linear edge model of cutting force, power, lift.
//!
//! Symbols: `D` diameter, `z` flutes, `n` rev/min, `f` feed, `fz` feed per tooth, `ap` axial depth, `ae` radial
//! engagement, `φ` engagement angle, `h` chip thickness.

use super::holding::Pull;
use base::Source;
use std::f64::consts::PI;

/// Factor on computed forces for holding checks: blunt edges, hard spots (common practice, no source; 1.3–2).
pub const PLANNING_FACTOR: f64 = 1.5;

/// Greatest correction for thin chips: below that the runout of the cutter rules (common practice, no source).
pub const THINNING_CAP: f64 = 2.0;

/// Least mean chip thickness, about the radius of the edge; thinner it rubs and burns (common practice, no source).
pub const LEAST_CHIP_MM: f64 = 0.010;

/// Where the force model comes from.
///
/// The constants are engineering estimates, ±50 %: wood brackets the 32–38 N/mm² measured on particleboard
/// (B. Pałubicki, Materials 14 (2021) 2208, abstract); epoxy follows from its yield strength.
pub fn force_source() -> Source {
    Source::FromMemory {
        title: "linear edge force model (Y. Altintas, Manufacturing Automation); constants estimated, ±50 %".to_owned(),
    }
}

/// Feed `f = n · z · fz`, mm/min.
pub fn feed_mm_min(rpm: f64, flutes: u32, fz: f64) -> f64 {
    rpm * f64::from(flutes) * fz
}

/// Chip load `fz = f / (n · z)`, mm per tooth.
pub fn chip_load_mm(feed_mm_min: f64, rpm: f64, flutes: u32) -> f64 {
    feed_mm_min / (rpm * f64::from(flutes))
}

/// Cutting speed `v_c = π D n / 60 000`, m/s.
pub fn cutting_speed_m_s(diameter: f64, rpm: f64) -> f64 {
    PI * diameter * rpm / 60_000.0
}

/// Engagement angle `φ = arccos(1 − 2 ae/D)`, radians; a slot (`ae ≥ D`) gives π.
pub fn engagement_rad(diameter: f64, ae: f64) -> f64 {
    (1.0 - 2.0 * (ae / diameter).clamp(0.0, 1.0)).acos()
}

/// Greatest chip thickness: `fz sin φ` up to half the diameter, `fz` beyond.
pub fn chip_greatest_mm(fz: f64, diameter: f64, ae: f64) -> f64 {
    let e = ae / diameter;
    if e < 0.5 { 2.0 * fz * (e * (1.0 - e)).max(0.0).sqrt() } else { fz }
}

/// Mean chip thickness over the engagement, `2 fz ae / (D φ)`; 0 without engagement.
pub fn chip_mean_mm(fz: f64, diameter: f64, ae: f64) -> f64 {
    let phi = engagement_rad(diameter, ae);
    if phi > 0.0 { 2.0 * fz * ae.min(diameter) / (diameter * phi) } else { 0.0 }
}

/// What to multiply `fz` by so that the greatest chip is as thick as in a full cut, up to [`THINNING_CAP`].
pub fn chip_thinning(diameter: f64, ae: f64) -> f64 {
    let e = ae / diameter;
    if e >= 0.5 {
        return 1.0;
    }
    (0.5 / (e * (1.0 - e)).max(0.0).sqrt()).min(THINNING_CAP)
}

/// Effective diameter of a ball at depth `ap` on a surface tilted by `slope_deg`.
pub fn ball_effective_diameter(diameter: f64, ap: f64, slope_deg: f64) -> f64 {
    let angle = slope_deg.to_radians() + ((diameter - 2.0 * ap.min(diameter / 2.0)) / diameter).acos();
    if angle < PI / 2.0 { diameter * angle.sin() } else { diameter }
}

/// How a material resists cutting: `F_t = (Kc h + Ke) b` on one tooth with the edge length `b`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resistance {
    /// Kc, N/mm².
    pub kc_n_mm2: f64,
    /// Ke, N/mm.
    pub ke_n_mm: f64,
}

impl Resistance {
    /// Wood of mixed grain, sharp carbide: Kc 20, Ke 2.0 at 700 kg/m³, both in proportion to the density.
    pub fn wood(density_kg_m3: f64) -> Self {
        let share = density_kg_m3 / 700.0;
        Self { kc_n_mm2: 20.0 * share, ke_n_mm: 2.0 * share }
    }

    /// Cured clear epoxy: about three times the force of hardwood at the same chip.
    pub fn resin() -> Self {
        Self { kc_n_mm2: 120.0, ke_n_mm: 2.0 }
    }

    /// With a dull edge: Ke × 2.5 (2–3, common practice, no source).
    pub fn dull(self) -> Self {
        Self { ke_n_mm: 2.5 * self.ke_n_mm, ..self }
    }
}

/// One state of cutting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Cutter's diameter, mm.
    pub diameter: f64,
    /// Flutes.
    pub flutes: u32,
    /// Axial depth, mm.
    pub ap: f64,
    /// Radial engagement, mm.
    pub ae: f64,
    /// Feed per tooth, mm.
    pub fz: f64,
    /// Spindle speed, rev/min.
    pub rpm: f64,
}

impl Cut {
    /// Engagement angle, radians.
    pub fn engagement_rad(&self) -> f64 {
        engagement_rad(self.diameter, self.ae)
    }

    /// Material removed, `ap · ae · f`, mm³/s.
    pub fn removal_mm3_s(&self) -> f64 {
        self.ap * self.ae.min(self.diameter) * feed_mm_min(self.rpm, self.flutes, self.fz) / 60.0
    }

    /// Peak tangential force on one tooth, `(Kc h_max + Ke) ap`, N.
    pub fn peak_tooth_n(&self, material: Resistance) -> f64 {
        (material.kc_n_mm2 * chip_greatest_mm(self.fz, self.diameter, self.ae) + material.ke_n_mm) * self.ap
    }

    /// Most teeth in the cut at one time, at least one.
    pub fn teeth_in_cut(&self) -> u32 {
        let teeth = f64::from(self.flutes) * self.engagement_rad() / (2.0 * PI);
        // A tooth enters where another leaves at exact fractions; rounding must not count a third.
        ((teeth - 1e-9).ceil() as u32).clamp(1, self.flutes.max(1))
    }

    /// Mean tangential force of all teeth, `z ap/2π · (Kc fz (1 − cos φ) + Ke φ)`, N.
    pub fn mean_tangential_n(&self, material: Resistance) -> f64 {
        let phi = self.engagement_rad();
        let chip = material.kc_n_mm2 * self.fz * (1.0 - phi.cos());
        f64::from(self.flutes) * self.ap / (2.0 * PI) * (chip + material.ke_n_mm * phi)
    }

    /// Power at the cutter, mean force times cutting speed, W.
    pub fn power_w(&self, material: Resistance) -> f64 {
        self.mean_tangential_n(material) * cutting_speed_m_s(self.diameter, self.rpm)
    }

    /// Mean torque, mN·m.
    pub fn torque_mn_m(&self, material: Resistance) -> f64 {
        self.mean_tangential_n(material) * self.diameter / 2.0
    }

    /// Sideways force to hold the work against: peak tooth × teeth in cut × [`PLANNING_FACTOR`], N, in any direction.
    pub fn lateral_n(&self, material: Resistance) -> f64 {
        self.peak_tooth_n(material) * f64::from(self.teeth_in_cut()) * PLANNING_FACTOR
    }

    /// What it pulls at the work with, `height` mm above the joint that holds it.
    pub fn pull(&self, material: Resistance, helix_deg: f64, height: f64) -> Pull {
        Pull { lateral_n: self.lateral_n(material), lift_n: self.lift_n(material, helix_deg), height }
    }

    /// Lift to hold the work down against, N.
    pub fn lift_n(&self, material: Resistance, helix_deg: f64) -> f64 {
        lift_n(self.lateral_n(material), helix_deg)
    }
}

/// Upward pull of an up-spiral edge, `F_t tan(helix)`, N; 0 for straight and down-spiral edges, which do not lift.
pub fn lift_n(tangential_n: f64, helix_deg: f64) -> f64 {
    tangential_n * helix_deg.max(0.0).to_radians().tan()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    const WOOD_CUT: Cut = Cut { diameter: 6.0, flutes: 2, ap: 3.0, ae: 2.4, fz: 0.10, rpm: 18_000.0 };
    const RESIN_CUT: Cut = Cut { diameter: 6.0, flutes: 2, ap: 1.5, ae: 2.4, fz: 0.05, rpm: 18_000.0 };

    #[test]
    fn feed_speed_and_removal_agree() {
        close(chip_load_mm(3600.0, 18_000.0, 2), 0.100, 1e-12);
        close(feed_mm_min(18_000.0, 2, 0.1), 3600.0, 1e-9);
        close(cutting_speed_m_s(6.0, 18_000.0), 5.655, 5e-4);
        close(WOOD_CUT.removal_mm3_s(), 432.0, 1e-9);
    }

    /// Circular-path geometry, worked by hand.
    #[test]
    fn engagement_and_chip_thickness() {
        let rows = [
            (0.6, 0.05, 36.87, 0.0300, 0.01554, 1.6667),
            (2.4, 0.10, 78.46, 0.09798, 0.05842, 1.0206),
            (6.0, 0.05, 180.0, 0.0500, 0.03183, 1.0),
        ];
        for (ae, fz, phi, greatest, mean, thinning) in rows {
            close(engagement_rad(6.0, ae).to_degrees(), phi, 0.005);
            close(chip_greatest_mm(fz, 6.0, ae), greatest, 5e-6);
            close(chip_mean_mm(fz, 6.0, ae), mean, 5e-6);
            close(chip_thinning(6.0, ae), thinning, 5e-5);
        }
        assert_eq!(chip_thinning(6.0, 0.01), THINNING_CAP);
        assert_eq!(chip_mean_mm(0.1, 6.0, 0.0), 0.0);
    }

    #[test]
    fn the_mean_chip_is_the_mean_of_the_chip() {
        // Against a sum over the engagement in small steps.
        let (phi, steps) = (WOOD_CUT.engagement_rad(), 20_000);
        let mean: f64 = (0..steps).map(|i| 0.1 * (phi * (f64::from(i) + 0.5) / f64::from(steps)).sin()).sum::<f64>()
            / f64::from(steps);
        close(chip_mean_mm(0.1, 6.0, 2.4), mean, 1e-9);
    }

    #[test]
    fn a_ball_works_with_less_than_its_diameter() {
        close(ball_effective_diameter(6.0, 0.5, 0.0), 3.317, 5e-4);
        close(ball_effective_diameter(6.0, 0.5, 15.0), 4.498, 5e-4);
        close(ball_effective_diameter(6.0, 0.5, 80.0), 6.0, 1e-12);
    }

    #[test]
    fn forces_of_the_worked_cases() {
        let (wood, resin) = (Resistance::wood(700.0), Resistance::resin());
        close(WOOD_CUT.mean_tangential_n(wood), 4.143, 5e-4);
        close(WOOD_CUT.power_w(wood), 23.43, 5e-3);
        close(WOOD_CUT.torque_mn_m(wood), 12.43, 5e-3);
        close(WOOD_CUT.peak_tooth_n(wood), 11.88, 5e-3);
        close(RESIN_CUT.mean_tangential_n(resin), 3.600, 5e-4);
        close(RESIN_CUT.power_w(resin), 20.35, 1e-2);
        close(RESIN_CUT.peak_tooth_n(resin), 11.82, 5e-3);
    }

    #[test]
    fn specific_force_is_kc_plus_ke_over_the_mean_chip() {
        let wood = Resistance::wood(700.0);
        let specific = WOOD_CUT.power_w(wood) * 1000.0 / WOOD_CUT.removal_mm3_s();
        close(specific, 54.24, 5e-3);
        close(specific, wood.kc_n_mm2 + wood.ke_n_mm / chip_mean_mm(0.1, 6.0, 2.4), 1e-9);
    }

    #[test]
    fn teeth_and_lift() {
        assert_eq!(WOOD_CUT.teeth_in_cut(), 1);
        assert_eq!(Cut { ae: 6.0, ..WOOD_CUT }.teeth_in_cut(), 1);
        assert_eq!(Cut { flutes: 3, ae: 6.0, ..WOOD_CUT }.teeth_in_cut(), 2);
        close(lift_n(11.88, 30.0), 6.859, 5e-4);
        assert_eq!(lift_n(11.88, -30.0), 0.0);
        close(WOOD_CUT.lateral_n(Resistance::wood(700.0)), 1.5 * 11.878, 2e-3);
    }
}
