//! Resin by the gram: mixing, layers, over-pour, seal coat, times by temperature, what to buy.

use base::Source;

/// Gas constant, J/(mol K).
pub const GAS_CONSTANT: f64 = 8.314_462_618;
/// Activation energy of cold-curing epoxies, J/mol: the published fits lie at 52–62 kJ/mol.
pub const ACTIVATION_J_MOL: f64 = 57_000.0;
/// Temperature at which the times of a resin are given, °C.
pub const REFERENCE_C: f64 = 22.0;
/// Left in cups and on sticks, share (3–6 %, common practice, no source).
pub const CUP_LOSS: f64 = 0.04;
/// Kept back for leaks, share (5–10 %, common practice, no source).
pub const LEAK_RESERVE: f64 = 0.075;
/// What an over-pour stands above all known losses, mm (common practice, no source).
pub const OVERPOUR_REST: f64 = 0.5;
/// Seal coat on a face that runs along the grain, g/m² (120–180, common practice, no source).
pub const SEAL_FACE_G_M2: f64 = 150.0;
/// Seal coat on end grain, in two coats, g/m² (300–450, common practice, no source).
pub const SEAL_END_G_M2: f64 = 375.0;

/// Where the dependence of the times on temperature comes from.
pub fn time_source() -> Source {
    Source::Published {
        title: "C. C. Riccardi, H. E. Adabbo, R. J. J. Williams, Curing reaction of epoxy resins with diamines, J. Appl. Polym. Sci. 29 (1984)"
            .to_owned(),
        place: "abstract: autocatalytic path 58.6 kJ/mol; 57 kJ/mol used, extrapolated to room temperature".to_owned(),
    }
}

/// Parts of a mix: resin A and hardener B.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mix {
    /// Resin.
    pub a: f64,
    /// Hardener.
    pub b: f64,
}

/// Splits a total into resin and hardener; `hardener` is the share for 1 part of resin, by mass or by volume alike.
pub fn split(total: f64, hardener: f64) -> Mix {
    let a = total / (1.0 + hardener);
    Mix { a, b: total - a }
}

/// Hardener by mass from hardener by volume and the two densities.
pub fn by_mass_from_volume(hardener_by_volume: f64, density_a: f64, density_b: f64) -> f64 {
    hardener_by_volume * density_b / density_a
}

/// Greatest relative error of a weighed part on a scale that shows steps of `resolution_g`.
pub fn scale_error(part_g: f64, resolution_g: f64) -> f64 {
    0.5 * resolution_g / part_g
}

/// Why a depth cannot be poured in sound layers.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{depth:.1} mm cannot be poured in layers of {least} to {greatest} mm: {layers} would be {each:.1} mm deep")]
pub struct NoLayers {
    /// Depth wanted, mm.
    pub depth: f64,
    /// Least layer, mm.
    pub least: f64,
    /// Greatest layer, mm.
    pub greatest: f64,
    /// Fewest layers that are not too deep.
    pub layers: u32,
    /// How deep each would be, mm.
    pub each: f64,
}

/// Rounding of a depth, mm: a depth typed as three layers must not need a fourth.
const DEPTH_ROUNDING: f64 = 1e-6;

/// The fewest equal layers, each between `least` and `greatest`.
///
/// # Errors
/// [`NoLayers`] if there is no such number: fewer layers are too deep, more are too thin.
pub fn layers(depth: f64, least: f64, greatest: f64) -> Result<Vec<f64>, NoLayers> {
    let fewest = ((depth - DEPTH_ROUNDING) / greatest).ceil().max(1.0);
    let each = depth / fewest;
    let sound = depth > 0.0 && each >= least - DEPTH_ROUNDING && fewest.is_finite() && fewest < 10_000.0;
    if sound {
        Ok(vec![each; fewest as usize])
    } else {
        Err(NoLayers { depth, least, greatest, layers: fewest as u32, each })
    }
}

/// Least over-pour so that the cured level stands above the surface: `shrink · depth + slope · span + 0.5`, mm.
pub fn overpour_mm(depth: f64, shrink: f64, slope_mm_m: f64, span: f64) -> f64 {
    shrink * depth + slope_mm_m * span / 1000.0 + OVERPOUR_REST
}

/// A cup is filled to this share, so that it can be stirred (common practice, no source).
pub const CUP_FILLED: f64 = 0.75;
/// Weighing, stirring, scraping and stirring again, min (common practice, no source).
pub const STIR_MIN: f64 = 8.0;
/// Pouring into a hollow, slowly from one place, ml/min (common practice, no source).
pub const POUR_ML_MIN: f64 = 100.0;
/// Nobody mixes more cups than this for one layer.
const MOST_CUPS: u32 = 40;

/// Time from the first drop of hardener until a cup is poured out, min.
pub fn cup_min(ml: f64) -> f64 {
    STIR_MIN + ml / POUR_ML_MIN
}

/// In how many equal cups a layer is mixed: as few as fit the cup and are poured out within the pot life of their mass (min, by g).
/// `None` if not even small cups are.
pub fn cups(layer_ml: f64, cup_ml: f64, density_g_ml: f64, pot_life_min: &dyn Fn(f64) -> f64) -> Option<u32> {
    let fewest = (layer_ml / (cup_ml * CUP_FILLED) - 1e-9).ceil().clamp(1.0, f64::from(MOST_CUPS)) as u32;
    (fewest..=MOST_CUPS).find(|n| {
        let ml = layer_ml / f64::from(*n);
        cup_min(ml) <= pot_life_min(ml * density_g_ml)
    })
}

/// Seal coat by the angle between the surface and the grain: 0° along a face, 90° on end grain, g/m².
pub fn seal_rate_g_m2(grain_angle_deg: f64) -> f64 {
    let share = grain_angle_deg.abs().min(90.0) / 90.0;
    SEAL_FACE_G_M2 + (SEAL_END_G_M2 - SEAL_FACE_G_M2) * share
}

/// Seal for a surface in patches of (area mm², angle between surface and grain in degrees), g.
pub fn seal_g(patches: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    patches.into_iter().map(|(area, angle)| area * 1e-6 * seal_rate_g_m2(angle)).sum()
}

/// How many times longer everything takes at `temperature_c` than at 22 °C (Arrhenius, 57 kJ/mol).
pub fn time_factor(temperature_c: f64) -> f64 {
    let kelvin = |c: f64| c + 273.15;
    (ACTIVATION_J_MOL / GAS_CONSTANT * (1.0 / kelvin(temperature_c) - 1.0 / kelvin(REFERENCE_C))).exp()
}

/// Time in a shop that is `day_c` for `day_h` of 24 hours and `night_c` for the rest, for a time given at 22 °C.
///
/// The rate is averaged, not the temperature: warm hours do most of the work.
pub fn time_by_day_and_night(hours_at_reference: f64, day_c: f64, day_h: f64, night_c: f64) -> f64 {
    let share = day_h / 24.0;
    hours_at_reference / (share / time_factor(day_c) + (1.0 - share) / time_factor(night_c))
}

/// Resin to have at hand for the pours and a seal of the same resin, g:
/// `(V ρ + seal) (1 + cup loss + leak reserve)`; `V` is cavity and over-pour together.
pub fn to_buy_g(volume_ml: f64, density_g_ml: f64, seal_g: f64) -> f64 {
    (volume_ml * density_g_ml + seal_g) * (1.0 + CUP_LOSS + LEAK_RESERVE)
}

/// Greatest need that is rounded to packs, g.
const MOST_G: f64 = 1e6;

/// Packs to buy, as (size g, number), largest first: the least resin that covers the need, in the fewest packs.
/// `None` without packs, or beyond a tonne.
pub fn packs(need_g: f64, sizes_g: &[f64]) -> Option<Vec<(f64, u32)>> {
    let sizes: Vec<usize> = sizes_g.iter().map(|s| s.round() as usize).collect();
    let largest = *sizes.iter().max()?;
    if sizes.contains(&0) || !(0.0..=MOST_G).contains(&need_g) || largest as f64 > MOST_G {
        return None;
    }
    let need = need_g.ceil() as usize;
    // last[s]: fewest packs that make s grams exactly, and the last one of them.
    let mut last: Vec<Option<(u32, usize)>> = vec![None; need + largest + 1];
    last[0] = Some((0, 0));
    for sum in 1..last.len() {
        let ways = sizes.iter().enumerate().filter(|(_, size)| **size <= sum);
        last[sum] = ways.filter_map(|(i, size)| last[sum - size].map(|(n, _)| (n + 1, i))).min();
    }
    let mut sum = (need..last.len()).find(|s| last[*s].is_some())?;
    let mut counts = vec![0_u32; sizes.len()];
    while let Some((n, i)) = last[sum]
        && n > 0
    {
        counts[i] += 1;
        sum -= sizes[i];
    }
    let mut bought: Vec<(f64, u32)> = sizes_g.iter().copied().zip(counts).filter(|(_, n)| *n > 0).collect();
    bought.sort_by(|a, b| b.0.total_cmp(&a.0));
    Some(bought)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    #[test]
    fn mixing_by_mass() {
        // 286 g at 100 : 45.
        let mix = split(286.0, 0.45);
        close(mix.a, 197.0, 0.5);
        close(mix.b, 89.0, 0.5);
        assert_eq!(mix.a + mix.b, 286.0);
        close(by_mass_from_volume(0.5, 1.15, 0.98), 0.426, 5e-4);
        // 1 g steps on 22 g of hardener.
        close(scale_error(22.0, 1.0), 0.023, 5e-4);
    }

    #[test]
    fn layers_between_least_and_greatest() {
        assert_eq!(layers(18.0, 5.0, 20.0), Ok(vec![18.0]));
        assert_eq!(layers(60.0, 5.0, 20.0), Ok(vec![20.0; 3]));
        assert_eq!(layers(62.0, 5.0, 20.0), Ok(vec![15.5; 4]));
        assert_eq!(layers(3.0, 5.0, 20.0).unwrap_err().layers, 1);
        // 50 mm: one layer is too deep, two are too thin.
        assert_eq!(layers(50.0, 30.0, 45.0).map_err(|e| (e.layers, e.each)), Err((2, 25.0)));
        assert!(layers(0.0, 0.0, 1.0).is_err() && layers(f64::NAN, 1.0, 2.0).is_err());
    }

    /// 20 mm deep, 2 %, 0.5 mm/m over 240 mm: 1.0 mm.
    #[test]
    fn overpour_of_the_worked_case() {
        close(overpour_mm(20.0, 0.02, 0.5, 240.0), 1.02, 1e-12);
    }

    #[test]
    fn seal_by_grain() {
        assert_eq!((seal_rate_g_m2(0.0), seal_rate_g_m2(90.0), seal_rate_g_m2(45.0)), (150.0, 375.0, 262.5));
        close(seal_g([(100_000.0, 0.0), (20_000.0, 90.0)]), 22.5, 1e-9);
    }

    /// Twice as fast per 10 K, nearly: 2.16 from 20 to 30 °C, 2.11 from 25 to 35 °C; 1.6–1.8 times as long at 15 °C.
    #[test]
    fn times_by_temperature() {
        close(time_factor(20.0) / time_factor(30.0), 2.16, 0.005);
        close(time_factor(25.0) / time_factor(35.0), 2.11, 0.005);
        close(time_factor(15.0), 1.758, 0.005);
        close(time_factor(22.0), 1.0, 1e-12);
        let mixed = time_by_day_and_night(24.0, 21.0, 8.0, 16.0);
        assert!(24.0 * time_factor(21.0) < mixed && mixed < 24.0 * time_factor(16.0));
        close(time_by_day_and_night(24.0, 22.0, 8.0, 22.0), 24.0, 1e-9);
    }

    /// 1 l covers 1 m² at 1 mm; a US gallon at 1/8 in covers 12.8 ft² (an instruction page prints 12).
    #[test]
    fn a_volume_covers_its_area() {
        close(3785.0 / 3.175 / 92_903.04 * 1000.0, 12.8, 0.05);
        // As cups: a litre in cups of 500 ml filled to three quarters makes three, and what is poured is all of it.
        assert_eq!(cups(1000.0, 500.0, 1.08, &|_| 480.0), Some(3));
        assert_eq!(cups(375.0, 500.0, 1.08, &|_| 480.0), Some(1));
        // 8 min of stirring and 100 ml a minute: a cup that gels within 12 min may hold 400 ml.
        assert_eq!(cups(1000.0, 5000.0, 1.08, &|_| 12.0), Some(3));
        // A large cup gels sooner: with 20 min for 200 g, shorter as the mass grows.
        let shorter = |g: f64| 20.0 * (200.0 / g).min(1.0).cbrt();
        let n = cups(1500.0, 5000.0, 1.08, &shorter).unwrap();
        let lasts = |n: u32| cup_min(1500.0 / f64::from(n)) <= shorter(1500.0 / f64::from(n) * 1.08);
        assert!(lasts(n) && !lasts(n - 1));
        assert_eq!(cups(100.0, 500.0, 1.08, &|_| 5.0), None);
    }

    #[test]
    fn what_to_buy() {
        close(to_buy_g(250.0, 1.08, 30.0), 300.0 * 1.115, 1e-9);
        assert_eq!(packs(334.5, &[500.0, 1000.0]), Some(vec![(500.0, 1)]));
        assert_eq!(packs(1200.0, &[500.0, 1000.0, 2000.0]), Some(vec![(1000.0, 1), (500.0, 1)]));
        assert_eq!(packs(2000.0, &[500.0, 1000.0, 2000.0]), Some(vec![(2000.0, 1)]));
        assert_eq!(packs(0.0, &[500.0]), Some(vec![]));
        assert_eq!(packs(10.0, &[]), None);
    }

    proptest::proptest! {
        #[test]
        fn layers_are_sound_and_add_up(depth in 0.1..200.0f64, least in 0.1..20.0f64, more in 0.1..40.0f64) {
            let greatest = least + more;
            match layers(depth, least, greatest) {
                Ok(list) => {
                    close(list.iter().sum::<f64>(), depth, 1e-9);
                    assert!(list.iter().all(|l| *l >= least - 1e-5 && *l <= greatest + 1e-5));
                }
                // By brute force: no number of equal layers would do.
                Err(_) => assert!((1..3000).all(|n| depth / f64::from(n) < least || depth / f64::from(n) > greatest)),
            }
        }

        #[test]
        fn packs_cover_the_need_and_no_pack_is_spare(need in 0.0..9000.0f64) {
            let bought = packs(need, &[750.0, 1500.0, 4000.0]).unwrap();
            let total: f64 = bought.iter().map(|(size, n)| size * f64::from(*n)).sum();
            assert!(total >= need);
            assert!(bought.iter().all(|(size, _)| total - size < need));
        }
    }
}
