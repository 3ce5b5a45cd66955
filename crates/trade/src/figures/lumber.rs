//! Boards and blanks: planed thickness, board feet, density, moisture, movement, clamping, glue.

use crate::shelf::ShopLimits;
use base::Source;

/// One board foot, m³.
pub const BOARD_FOOT_M3: f64 = 0.002_359_737;
/// Assumed fibre saturation point, % moisture (Wood Handbook chapter 4).
pub const FIBRE_SATURATION: f64 = 30.0;

/// The Wood Handbook, at a table or an equation.
pub fn wood_handbook(place: &str) -> Source {
    Source::Published {
        title: "USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010)".to_owned(),
        place: place.to_owned(),
    }
}

/// Thickness a rough board of so many quarters of an inch planes to, from the shelf. `None` if the shelf does not say.
pub fn planed_mm(shop: &ShopLimits, quarters: u32) -> Option<f64> {
    shop.planed.iter().find(|(q, _)| *q == quarters).map(|(_, t)| *t)
}

/// Thickness a measured rough board planes to.
pub fn planed_from_measured_mm(shop: &ShopLimits, measured: f64) -> f64 {
    measured - shop.plane_loss
}

/// The thinnest stock on the shelf's list that planes to at least `thickness`.
pub fn quarters_for(shop: &ShopLimits, thickness: f64) -> Option<u32> {
    shop.planed.iter().filter(|(_, t)| *t >= thickness).map(|(q, _)| *q).min()
}

/// Board feet by the plain formula: thickness (in) × width (in) × length (ft) / 12; below 1 in counts as 1 in.
pub fn board_feet_plain(quarters: u32, width_mm: f64, length_mm: f64) -> f64 {
    let thickness_in = (f64::from(quarters) / 4.0).max(1.0);
    thickness_in * (width_mm / 25.4) * (length_mm / 304.8) / 12.0
}

/// Board feet by the hardwood tally: surface measure (in × whole ft / 12, rounded, halves up) times thickness.
///
/// NHLA, Rules for the Measurement & Inspection of Hardwood & Cypress (second hand); the rules let exact halves go up
/// and down in turn, here they go up.
pub fn board_feet_tally(quarters: u32, width_mm: f64, length_mm: f64) -> f64 {
    let whole_feet = (length_mm / 304.8 + 1e-9).floor();
    let surface = ((width_mm / 25.4) * whole_feet / 12.0).round();
    surface * (f64::from(quarters) / 4.0).max(1.0)
}

/// Density at `moisture` %, `1000 G_x (1 + x/100)`, kg/m³ (Wood Handbook eq. 4-12).
pub fn density_kg_m3(specific_gravity: f64, moisture: f64) -> f64 {
    1000.0 * specific_gravity * (1.0 + moisture / 100.0)
}

/// Shrinkage from green to `moisture` %, `S₀ (1 − x/30)`, % (Wood Handbook chapter 4).
pub fn shrinkage_to(total_percent: f64, moisture: f64) -> f64 {
    total_percent * (1.0 - moisture.clamp(0.0, FIBRE_SATURATION) / FIBRE_SATURATION)
}

/// Change of a width for a change of moisture between 6 and 14 %: `ΔD = D C (M_F − M_I)` (Wood Handbook eq. 13-2), mm.
pub fn movement_mm(width: f64, coefficient: f64, from_moisture: f64, to_moisture: f64) -> f64 {
    width * coefficient * (to_moisture - from_moisture)
}

/// The same outside 6–14 %, from the total shrinkage in percent (Wood Handbook eq. 13-3, from memory), mm.
pub fn movement_wide_mm(width: f64, shrinkage_percent: f64, from_moisture: f64, to_moisture: f64) -> f64 {
    let from = from_moisture.min(FIBRE_SATURATION);
    let to = to_moisture.min(FIBRE_SATURATION);
    let below = FIBRE_SATURATION * 100.0 / shrinkage_percent - FIBRE_SATURATION + from;
    width * (to - from) / below
}

/// Coefficient per 1 % moisture from the total shrinkage, at 10 % moisture: `1 / (100 F/S − F + 10)`.
///
/// Derived from eq. 13-3; reproduces the printed Table 13-5. `F` is 30, or 22 for some cedars, mahogany and teak.
pub fn coefficient_from_shrinkage(shrinkage_percent: f64, fibre_saturation: f64) -> f64 {
    1.0 / (100.0 * fibre_saturation / shrinkage_percent - fibre_saturation + 10.0)
}

/// Coefficient across a face whose rings stand at `ring_angle_deg` (0 flat-sawn): `C_T cos² + C_R sin²`
/// (common practice, no source).
pub fn coefficient_at(c_tangential: f64, c_radial: f64, ring_angle_deg: f64) -> f64 {
    let (sin, cos) = ring_angle_deg.to_radians().sin_cos();
    c_tangential * cos * cos + c_radial * sin * sin
}

/// Equilibrium moisture content in air of `temperature_c` and relative humidity `rh` (0 to below 1), %.
///
/// Wood Handbook eq. 4-5 (Hailwood–Horrobin, fitted by Simpson 1973), coefficients for °C.
pub fn equilibrium_moisture(temperature_c: f64, rh: f64) -> f64 {
    let t = temperature_c;
    let w = 349.0 + 1.29 * t + 0.0135 * t * t;
    let k = 0.805 + 0.000736 * t - 0.00000273 * t * t;
    let k1 = 6.27 - 0.00938 * t - 0.000303 * t * t;
    let k2 = 1.91 + 0.0407 * t - 0.000293 * t * t;
    let kh = k * rh;
    let bound = (k1 * kh + 2.0 * k1 * k2 * kh * kh) / (1.0 + k1 * kh + k1 * k2 * kh * kh);
    1800.0 / w * (kh / (1.0 - kh) + bound)
}

/// Greatest relative humidity in which wood dries to `moisture` %, at `temperature_c`: equation 4-5 turned round, by halving.
pub fn humidity_for(moisture: f64, temperature_c: f64) -> f64 {
    let [mut low, mut high] = [0.0, 0.99];
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if equilibrium_moisture(temperature_c, middle) < moisture { low = middle } else { high = middle }
    }
    low
}

/// How fast bound water moves across the grain of hardwood near room temperature, m²/s: 0.3 to 3 · 10⁻¹⁰ below 15 % (order of size,
/// from memory: J. F. Siau, Transport Processes in Wood, 1984).
pub const DIFFUSION_M2_S: f64 = 1e-10;
/// Wettest wood that resin is cast on, % (6 to 8 is usual, 9 at most: common practice, no source).
pub const CASTING_MOISTURE: f64 = 9.0;
/// From this on wood foams in the resin and shrinks away from it, % (10 to 12; common practice, no source).
pub const SPOILING_MOISTURE: f64 = 12.0;
/// Boards and room agree within so many points of moisture (common practice, no source).
pub const MOISTURE_POINTS: f64 = 2.0;

/// Share of the way to equilibrium that a board still has before it after drying through both faces:
/// `8/π² Σ (2n + 1)⁻² exp(−(2n + 1)² π² D t / L²)` (J. Crank, The Mathematics of Diffusion, from memory).
pub fn drying_left(thickness_mm: f64, seconds: f64) -> f64 {
    let fourier = DIFFUSION_M2_S * seconds / (thickness_mm * 1e-3).powi(2);
    let pi2 = std::f64::consts::PI.powi(2);
    let term = |n: u32| {
        let odd = f64::from(2 * n + 1).powi(2);
        (-odd * pi2 * fourier).exp() / odd
    };
    8.0 / pi2 * (0..200).map(term).sum::<f64>()
}

/// Days in which a board dries from one mean moisture to another in a room where it comes to rest at `rest` %; infinite where it never
/// does. A meter decides; this tells whether to wait for days or for months.
pub fn drying_days(thickness_mm: f64, from: f64, to: f64, rest: f64) -> f64 {
    if from <= to {
        return 0.0;
    }
    if rest >= to {
        return f64::INFINITY;
    }
    let left = (to - rest) / (from - rest);
    let [mut low, mut high] = [0.0, 3650.0];
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if drying_left(thickness_mm, middle * 86_400.0) > left { low = middle } else { high = middle }
    }
    high
}

/// Rooms of a year, °C and relative humidity: a heated winter and a damp summer (common practice, no source).
pub const WINTER: (f64, f64) = (20.0, 0.35);
/// A damp summer.
pub const SUMMER: (f64, f64) = (23.0, 0.60);
/// Stiffness of cured casting resin, MPa (3–4 GPa; textbook table, second hand).
pub const RESIN_MPA: f64 = 3000.0;
/// Stiffness of wood across the grain as a share of that along it (walnut 0.056; Wood Handbook chapter 5, from memory).
pub const ACROSS_SHARE: f64 = 0.056;
/// From this stress on wood or bond line may open: wood bears 4 to 6 MPa across the grain (from memory).
pub const JOINT_WATCH_MPA: f64 = 3.0;

/// How far the moisture of wood swings from a heated winter to a damp summer, % points (Wood Handbook eq. 4-5).
pub fn season_swing() -> f64 {
    equilibrium_moisture(SUMMER.0, SUMMER.1) - equilibrium_moisture(WINTER.0, WINTER.1)
}

/// Stress where wood that shrinks across the grain is held by as thick a piece of resin, MPa: `ε E_r E_w / (E_r + E_w)`.
pub fn joint_stress_mpa(strain: f64, wood_across_mpa: f64) -> f64 {
    strain * RESIN_MPA * wood_across_mpa / (RESIN_MPA + wood_across_mpa)
}

/// Clamping pressure for water-based glue by the density of the wood, MPa: the middle of the usual bands
/// (0.7–1.0 up to 0.45, 0.85–1.2 up to 0.60, 1.2–1.7 above; common practice, no source).
pub fn clamp_pressure_mpa(specific_gravity: f64) -> f64 {
    match specific_gravity {
        g if g <= 0.45 => 0.85,
        g if g <= 0.60 => 1.0,
        _ => 1.4,
    }
}

/// Clamping force, pressure × area, N.
pub fn clamp_force_n(pressure_mpa: f64, area_mm2: f64) -> f64 {
    pressure_mpa * area_mm2
}

/// Number of clamps of `clamp_n` each, rounded up.
pub fn clamps_needed(force_n: f64, clamp_n: f64) -> u32 {
    // A force that is a whole number of clamps must not need one more by rounding.
    (force_n / clamp_n - 1e-9).ceil().max(1.0) as u32
}

/// Glue for a joint, `area × spread × (1 + waste)`, g.
pub fn glue_g(area_mm2: f64, spread_g_m2: f64, waste: f64) -> f64 {
    area_mm2 * 1e-6 * spread_g_m2 * (1.0 + waste)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;
    use crate::{DEFAULT_SHELF, tables};

    fn shop() -> ShopLimits {
        crate::parse(DEFAULT_SHELF, base::FileId(0)).0.unwrap().shop
    }

    #[test]
    fn planed_thickness_and_the_stock_for_it() {
        let shop = shop();
        assert_eq!(planed_mm(&shop, 8), Some(44.5));
        assert_eq!(planed_mm(&shop, 9), None);
        assert_eq!(
            (quarters_for(&shop, 20.5), quarters_for(&shop, 20.6), quarters_for(&shop, 200.0)),
            (Some(4), Some(5), None)
        );
        close(planed_from_measured_mm(&shop, 52.0), 49.0, 1e-12);
    }

    /// S2S sizes of hardwood lumber (NHLA and Wood Handbook chapter 6, from memory): the shelf never promises more.
    #[test]
    fn no_board_planes_thicker_than_the_printed_sizes() {
        let printed =
            [(4, 13.0 / 16.0), (5, 17.0 / 16.0), (6, 21.0 / 16.0), (8, 1.75), (10, 2.25), (12, 2.75), (16, 3.75)];
        for (quarters, inch) in printed {
            assert!(planed_mm(&shop(), quarters).unwrap() <= inch * 25.4 + 0.06, "{quarters}/4");
        }
    }

    #[test]
    fn board_feet_two_ways() {
        close(board_feet_plain(4, 304.8, 304.8), 1.0, 1e-12);
        close(board_feet_plain(8, 203.2, 2438.4), 2.0 * 8.0 * 8.0 / 12.0, 1e-9);
        close(board_feet_plain(2, 304.8, 304.8), 1.0, 1e-12);
        close(304.8 * 304.8 * 25.4 * 1e-9, BOARD_FOOT_M3, 1e-9);
        // 6 1/2 in × 8 ft 5 in of 5/4: surface measure 6.5 · 8 / 12 = 4.33 → 4, times 1.25.
        close(board_feet_tally(5, 6.5 * 25.4, (8.0 + 5.0 / 12.0) * 304.8), 5.0, 1e-12);
    }

    /// Wood Handbook chapter 13: white fir, 232 mm at 8 %, in service at 11 %.
    #[test]
    fn the_worked_example_of_the_handbook() {
        close(movement_mm(232.0, 0.00245, 8.0, 11.0), 1.705, 5e-4);
    }

    #[test]
    fn movement_of_160_mm_for_two_percent() {
        for (c, want) in [(0.00248, 0.79), (0.00274, 0.88), (0.00353, 1.13), (0.00431, 1.38)] {
            close(movement_mm(160.0, c, 7.0, 9.0), want, 0.005);
        }
    }

    /// Table 13-5 against Tables 4-3 and 4-4: the coefficients follow from the shrinkages.
    #[test]
    fn coefficients_follow_from_shrinkage() {
        let mut compared = 0;
        for row in tables::woods().unwrap().iter().filter(|r| r.notes.is_empty()) {
            close(coefficient_from_shrinkage(row.shrink_tangential_pct, 30.0), row.coef_tangential, 1.1e-5);
            close(coefficient_from_shrinkage(row.shrink_radial_pct, 30.0), row.coef_radial, 1.1e-5);
            compared += 1;
        }
        assert!(compared >= 10, "{compared}");
    }

    #[test]
    fn the_two_movement_equations_agree_where_both_hold() {
        let narrow = movement_mm(200.0, coefficient_from_shrinkage(7.8, 30.0), 10.0, 11.0);
        close(movement_wide_mm(200.0, 7.8, 10.0, 11.0), narrow, 1e-9);
        // From green to dry it shrinks by the whole shrinkage.
        close(movement_wide_mm(100.0, 8.0, 30.0, 0.0), -8.0, 1e-9);
    }

    /// Equation 4-5 in both unit systems, and the printed table at 21.1 °C and 50 %: 9.2 %.
    #[test]
    fn equilibrium_moisture_of_three_climates() {
        for (t, rh, want) in [(20.0, 0.50, 9.27), (25.0, 0.65, 11.81), (15.0, 0.80, 16.23), (21.1, 0.50, 9.24)] {
            close(equilibrium_moisture(t, rh), want, 0.006);
        }
    }

    /// Walnut 200 mm wide, flat-sawn, from 9 to 6 %: 1.64 mm, 0.82 %; against resin 4.4 MPa (worked example; 11.6 GPa along the
    /// grain, 0.056 of it across).
    #[test]
    fn a_season_moves_the_wood_and_strains_its_joint() {
        close(movement_mm(200.0, 0.00274, 9.0, 6.0), -1.644, 1e-9);
        close(joint_stress_mpa(0.00822, 11_600.0 * ACROSS_SHARE), 4.4, 0.05);
        // 20 °C at 35 % and 23 °C at 60 %, by the printed table between 6.9 and 7.0, and between 10.8 and 11.0 %.
        close(season_swing(), 3.9, 0.2);
    }

    /// Equation 4-5 turned round: the printed 9.2 % at 21.1 °C is 50 % of humidity again.
    #[test]
    fn a_room_dries_to_what_its_humidity_lets_it() {
        close(humidity_for(9.24, 21.1), 0.50, 0.002);
        close(equilibrium_moisture(20.0, humidity_for(8.0, 20.0)), 8.0, 1e-6);
    }

    /// The series against a board cut into 200 slices and dried step by step; half of the way takes `0.0492 L²/D` (Crank, The
    /// Mathematics of Diffusion, from memory: 0.049).
    #[test]
    fn a_board_dries_through_both_faces() {
        let (mm, slices) = (44.5, 200_usize);
        let pitch = mm * 1e-3 / slices as f64;
        let step = 0.4 * pitch * pitch / DIFFUSION_M2_S;
        let mut wet = vec![1.0_f64; slices];
        let mut seconds = 0.0;
        for day in [3.0, 10.0, 30.0] {
            while seconds < day * 86_400.0 {
                let before = wet.clone();
                for k in 0..slices {
                    // Beyond the faces the wood is at rest with the room: as much below as the first slice is above.
                    let below = if k == 0 { -before[0] } else { before[k - 1] };
                    let above = if k + 1 == slices { -before[k] } else { before[k + 1] };
                    wet[k] += DIFFUSION_M2_S * step / (pitch * pitch) * (below - 2.0 * before[k] + above);
                }
                seconds += step;
            }
            close(drying_left(mm, seconds), wet.iter().sum::<f64>() / slices as f64, 2e-3);
        }
        close(drying_left(mm, 0.0492 * 0.0445 * 0.0445 / DIFFUSION_M2_S), 0.5, 0.002);
        // 8/4 from 11 to 9 % where 8 % is rest: two thirds of the way, weeks; twice as thick, four times as long.
        let days = drying_days(44.5, 11.0, 9.0, 8.0);
        assert!((10.0..40.0).contains(&days), "{days}");
        close(drying_days(89.0, 11.0, 9.0, 8.0) / days, 4.0, 1e-6);
        assert_eq!((drying_days(20.0, 8.0, 9.0, 8.0), drying_days(20.0, 11.0, 9.0, 9.5)), (0.0, f64::INFINITY));
        // Where wood comes to rest wetter than it is, it never dries.
        assert_eq!(drying_days(20.0, 10.5, 9.0, 11.1), f64::INFINITY);
    }

    /// Black walnut, Wood Handbook Table 4-3: 5.5, 7.8 and 12.8 % from green to ovendry. At 12 %, on the way from 30 %, it has shrunk by
    /// 18/30 of that (chapter 4); so a specific gravity of 0.51 on the green volume is 0.55 at 12 % (Tables 5-3: 0.51 and 0.55).
    #[test]
    fn shrinkage_links_the_two_printed_gravities_of_walnut() {
        close(shrinkage_to(7.8, 12.0), 4.68, 1e-9);
        close(0.51 * 100.0 / (100.0 - shrinkage_to(12.8, 12.0)), 0.55, 0.006);
    }

    /// Bands of pressure by density, 0.7–1.0, 0.85–1.2 and 1.2–1.7 MPa, within the 0.7 to 1.7 MPa of the Wood Handbook, chapter 10
    /// (from memory), and below what basswood bears across the grain, 2.6 MPa (Table 5-3).
    #[test]
    fn clamps_press_within_the_printed_bands() {
        for (gravity, band) in [(0.37, 0.7..=1.0), (0.55, 0.85..=1.2), (0.63, 1.2..=1.7)] {
            assert!(band.contains(&clamp_pressure_mpa(gravity)), "{gravity}");
        }
        assert!(clamp_pressure_mpa(0.37) < 2.6);
        // 1 MPa = 145 lbf/in²: on a joint of 8 by 8 inches 100 lbf/in² are 28.5 kN, and clamps of 2 to 5 kN are 6 to 15.
        close(clamp_force_n(100.0 / 145.0, 203.2 * 203.2), 28_480.0, 50.0);
        assert_eq!([2000.0, 5000.0].map(|one| clamps_needed(28_480.0, one)), [15, 6]);
    }

    #[test]
    fn density_shrinkage_rings_clamps_and_glue() {
        close(density_kg_m3(0.50, 8.0), 540.0, 1e-9);
        close(shrinkage_to(8.0, 12.0), 4.8, 1e-12);
        close(coefficient_at(0.004, 0.002, 45.0), 0.003, 1e-12);
        assert_eq!(clamps_needed(clamp_force_n(1.0, 30_000.0), 1500.0), 20);
        assert_eq!(clamps_needed(1.0, 1500.0), 1);
        close(glue_g(100_000.0, 180.0, 0.1), 19.8, 1e-9);
        assert!(clamp_pressure_mpa(0.7) > clamp_pressure_mpa(0.5));
    }
}
