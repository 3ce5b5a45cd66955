//! Chips and forces: feed and chip load, engagement, chip thickness, the linear edge model of cutting force, power, lift.
//!
//! Symbols: `D` diameter, `z` flutes, `n` rev/min, `f` feed, `fz` feed per tooth, `ap` axial depth, `ae` radial
//! engagement, `φ` engagement angle, `h` chip thickness.

use super::holding::Pull;
use crate::cutter::{Form, Solid};
use base::Source;
use std::f64::consts::PI;

/// Factor on computed forces for holding checks: blunt edges, hard spots (common practice, no source; 1.3–2).
pub const PLANNING_FACTOR: f64 = 1.5;

/// Greatest correction for thin chips: below that the runout of the cutter rules (common practice, no source).
pub const THINNING_CAP: f64 = 2.0;

/// Radial force as a share of the tangential one, sharp edges (0.3–0.6, common practice, no source).
pub const RADIAL_SHARE: f64 = 0.5;

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

/// Greatest surface speed in resin, m/s: faster, it gums (common practice, no source; 2–6).
pub const RESIN_SPEED_M_S: f64 = 6.0;

/// Greatest speed at which a cutter's edge passes through resin no faster than [`RESIN_SPEED_M_S`], rev/min.
pub fn resin_rpm(diameter: f64) -> f64 {
    RESIN_SPEED_M_S * 60_000.0 / (PI * diameter)
}

/// Where an edge stands at a height above the tip: the diameter that it turns on, and the sine of the angle between its
/// normal and the axis (1 where it is upright).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// mm.
    pub diameter: f64,
    /// sin κ.
    pub sine: f64,
    /// Length of edge from the tip up to there, mm.
    pub length: f64,
}

impl Edge {
    /// The edge of a cutter at a height above its tip, mm.
    pub fn at(solid: &Solid, height: f64) -> Self {
        let height = height.max(0.0);
        let whole = solid.diameter;
        match solid.form {
            Form::Flat => Self { diameter: whole, sine: 1.0, length: height },
            Form::Ball => Self::on_corner(whole, whole / 2.0, height),
            Form::Bull { corner_radius } => Self::on_corner(whole, corner_radius, height),
            Form::Cone { half_angle_deg, tip_diameter } => Self::on_cone(whole, tip_diameter, half_angle_deg, height),
            Form::TaperedBall { tip_radius, half_angle_deg } => {
                // The ball meets the cone where its normal leans by the half angle above the horizontal.
                let meets = tip_radius * (1.0 - half_angle_deg.to_radians().sin());
                if height <= meets {
                    return Self::on_corner(2.0 * tip_radius, tip_radius, height);
                }
                let below = Self::on_corner(2.0 * tip_radius, tip_radius, meets);
                let cone = Self::on_cone(whole, below.diameter, half_angle_deg, height - meets);
                Self { length: below.length + cone.length, ..cone }
            }
        }
    }

    fn on_corner(whole: f64, corner: f64, height: f64) -> Self {
        if height >= corner {
            return Self { diameter: whole, sine: 1.0, length: corner * PI / 2.0 + height - corner };
        }
        let kappa = (1.0 - height / corner).acos();
        let sine = kappa.sin();
        Self { diameter: whole - 2.0 * corner * (1.0 - sine), sine, length: corner * kappa }
    }

    fn on_cone(whole: f64, tip: f64, half_angle_deg: f64, height: f64) -> Self {
        let (tan, cos) = (half_angle_deg.to_radians().tan(), half_angle_deg.to_radians().cos());
        let diameter = tip + 2.0 * height * tan;
        if diameter < whole {
            return Self { diameter, sine: cos, length: height / cos };
        }
        let edge = (whole - tip) / (2.0 * tan);
        Self { diameter: whole, sine: 1.0, length: edge / cos + height - edge }
    }

    /// Greatest chip thickness as a share of the feed per tooth, for a cut of the width `ae` whose top is here:
    /// `sin κ · sin φ`.
    pub fn chip_share(&self, ae: f64) -> f64 {
        self.sine * chip_greatest_mm(1.0, self.diameter, ae.min(self.diameter))
    }

    /// What to multiply the feed per tooth by so that the greatest chip is as thick as in a full cut with an upright edge,
    /// up to [`THINNING_CAP`].
    pub fn thinning(&self, ae: f64) -> f64 {
        (1.0 / self.chip_share(ae).max(1e-9)).clamp(1.0, THINNING_CAP)
    }
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
    /// Length of edge in that depth, mm: the depth itself where the edge is upright, more on a ball.
    pub edge: f64,
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

    /// Peak tangential force on one tooth, `Kc h_max ap + Ke b`, N: on an edge that leans, chips are thinner by `sin κ` and the
    /// edge longer by as much, so the first part is that of an upright one.
    pub fn peak_tooth_n(&self, material: Resistance) -> f64 {
        material.kc_n_mm2 * chip_greatest_mm(self.fz, self.diameter, self.ae) * self.ap + material.ke_n_mm * self.edge
    }

    /// Greatest force that bends the cutter, N: peak tooth × teeth in cut, as far as their edges are in the cut at one time,
    /// with the radial part `c_r` = 0.5 across it.
    pub fn bending_n(&self, material: Resistance, helix_deg: f64) -> f64 {
        let upright = f64::from(self.teeth_in_cut());
        let at_once = if self.ap > 0.0 { self.edges_at_once_mm(helix_deg) / (upright * self.ap) } else { 1.0 };
        self.peak_tooth_n(material) * upright * at_once.min(1.0) * RADIAL_SHARE.hypot(1.0)
    }

    /// Height of edge, all teeth together, that is in the cut at one time at most, mm. An edge on a helix comes into the cut bit
    /// by bit: of one tooth no more than `R φ / tan β`, and `⌈z (φ + ap tan β / R) / 2π⌉` teeth.
    fn edges_at_once_mm(&self, helix_deg: f64) -> f64 {
        let tan = helix_deg.abs().to_radians().tan();
        let (radius, phi) = (self.diameter / 2.0, self.engagement_rad());
        let of_one = if tan > 0.0 { (radius * phi / tan).min(self.ap) } else { self.ap };
        let teeth = f64::from(self.flutes) * (phi + self.ap * tan / radius) / (2.0 * PI);
        of_one * (teeth - 1e-9).ceil().clamp(1.0, f64::from(self.flutes.max(1)))
    }

    /// Most teeth in the cut at one time, at least one.
    pub fn teeth_in_cut(&self) -> u32 {
        let teeth = f64::from(self.flutes) * self.engagement_rad() / (2.0 * PI);
        // A tooth enters where another leaves at exact fractions; rounding must not count a third.
        ((teeth - 1e-9).ceil() as u32).clamp(1, self.flutes.max(1))
    }

    /// Mean tangential force of all teeth, `z/2π · (Kc fz (1 − cos φ) ap + Ke φ b)`, N.
    pub fn mean_tangential_n(&self, material: Resistance) -> f64 {
        let phi = self.engagement_rad();
        let chip = material.kc_n_mm2 * self.fz * (1.0 - phi.cos()) * self.ap;
        f64::from(self.flutes) / (2.0 * PI) * (chip + material.ke_n_mm * phi * self.edge)
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

    const WOOD_CUT: Cut = Cut { diameter: 6.0, flutes: 2, ap: 3.0, edge: 3.0, ae: 2.4, fz: 0.10, rpm: 18_000.0 };
    const RESIN_CUT: Cut = Cut { diameter: 6.0, flutes: 2, ap: 1.5, edge: 1.5, ae: 2.4, fz: 0.05, rpm: 18_000.0 };

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

    fn solid(form: Form, diameter: f64) -> Solid {
        let holder = Vec::new();
        let (flute_length, stickout) = (20.0, 40.0);
        let (neck_diameter, shank_diameter) = (diameter, diameter);
        Solid { form, diameter, flute_length, neck_diameter, neck_length: 20.0, shank_diameter, stickout, holder }
    }

    /// The chip on a ball: h · sin κ, on the circle that the edge turns on at that depth.
    #[test]
    fn chips_on_leaning_edges() {
        let ball = solid(Form::Ball, 6.0);
        for depth in [0.1, 0.5, 1.7, 3.0] {
            let edge = Edge::at(&ball, depth);
            close(edge.diameter, ball_effective_diameter(6.0, depth, 0.0), 1e-12);
            close(edge.sine, edge.diameter / 6.0, 1e-12);
            // A groove of the full width: the chip is fz · sin κ.
            close(edge.chip_share(edge.diameter), edge.sine, 1e-12);
        }
        assert_eq!(Edge::at(&ball, 5.0), Edge { diameter: 6.0, sine: 1.0, length: 1.5 * PI + 2.0 });
        // At 0.5 mm and a width of 0.6: sin κ 0.5528, e = 0.6/3.317 = 0.1809, 2 √(e (1 − e)) = 0.7699.
        close(Edge::at(&ball, 0.5).chip_share(0.6), 0.5528 * 0.7699, 1e-4);
        assert_eq!(Edge::at(&ball, 0.5).thinning(0.6), THINNING_CAP);
        // An upright edge: the factors of the table.
        for (ae, factor) in [(0.6, 1.6667), (2.4, 1.0206), (6.0, 1.0)] {
            close(Edge::at(&solid(Form::Flat, 6.0), 3.0).thinning(ae), factor, 5e-5);
        }
    }

    /// Against the edge measured in many short pieces.
    #[test]
    fn edges_are_as_long_as_they_are() {
        let forms = [
            Form::Flat,
            Form::Ball,
            Form::Bull { corner_radius: 1.5 },
            Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.4 },
            Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 10.0 },
        ];
        for form in forms {
            let cutter = solid(form, 6.0);
            let steps = 40_000;
            let rim = |i: u32| {
                let height = 4.0 * f64::from(i) / f64::from(steps);
                (Edge::at(&cutter, height).diameter / 2.0, height)
            };
            let mut sum = 0.0;
            for i in 0..steps {
                let ((r0, z0), (r1, z1)) = (rim(i), rim(i + 1));
                sum += (r1 - r0).hypot(z1 - z0);
            }
            // A flat end and a bull's have no edge counted across the bottom.
            close(Edge::at(&cutter, 4.0).length, sum, 2e-3);
        }
    }

    #[test]
    fn resin_is_cut_slowly() {
        close(cutting_speed_m_s(9.525, resin_rpm(9.525)), RESIN_SPEED_M_S, 1e-12);
        close(resin_rpm(6.35), 18_046.0, 0.5);
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

    /// Against teeth turned in small steps: how much of their edges lies within the engagement.
    #[test]
    fn edges_on_a_helix_come_into_the_cut_bit_by_bit() {
        let tall = Cut { diameter: 9.525, ap: 28.5, edge: 28.5, ae: 0.15, ..WOOD_CUT };
        for (cut, helix) in [(tall, 30.0_f64), (WOOD_CUT, 30.0), (Cut { ae: 6.0, ..WOOD_CUT }, 30.0), (tall, 0.0)] {
            let (phi, slope) = (cut.engagement_rad(), helix.to_radians().tan() / (cut.diameter / 2.0));
            let mut most = 0.0_f64;
            for turn in 0..720 {
                let mut inside = 0.0;
                for tooth in 0..cut.flutes {
                    let first = f64::from(turn) * PI / 360.0 + f64::from(tooth) * 2.0 * PI / f64::from(cut.flutes);
                    let heights = (0..500).map(|k| cut.ap * (f64::from(k) + 0.5) / 500.0);
                    inside += heights.filter(|z| (first - z * slope).rem_euclid(2.0 * PI) < phi).count() as f64;
                }
                most = most.max(inside * cut.ap / 500.0);
            }
            let bound = cut.edges_at_once_mm(helix);
            assert!(most <= bound * 1.02 && bound <= 2.2 * most, "{most} within {bound}");
        }
        // Upright, or little deep: the whole edge.
        let wood = Resistance::wood(700.0);
        close(WOOD_CUT.bending_n(wood, 30.0), 11.878 * 1.25_f64.sqrt(), 5e-3);
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
