//! The rate law of a cold-curing epoxy and what follows from it alone.
//!
//! `da/dt = (k₁ + k₂ aᵐ) (1 − a)ⁿ`, `kᵢ = Aᵢ exp(−Eᵢ / R T)` (M. R. Kamal, S. Sourour, Polym. Eng. Sci. 13 (1973) 59, from
//! memory). `k₁` is the reaction helped by hydroxyls already there, `k₂` by those that the cure itself makes.

use super::body::Material;
use super::number::Number;
use super::slab::{CELL_MM, Slab};
use crate::figures::resin::{ACTIVATION_J_MOL, GAS_CONSTANT};
use crate::shelf::Resin;
use base::Source;

/// Kelvin at 0 °C.
pub const KELVIN: f64 = 273.15;
/// Gel point of a diepoxide and a diamine with four hydrogens, `1/√3` (Flory–Stockmayer, equal reactivity).
pub const GEL: f64 = 0.577_350_269_189_625_8;
/// Ratio `k₁ / k₂` of the generic set.
const SEED: f64 = 0.05;
/// Heat of reaction of the generic set, J/kg of mix: 105 kJ per mole of epoxide with 10–20 % of diluent.
pub const HEAT_J_KG: f64 = 300_000.0;
/// Specific heat of the liquid and rubbery mix, J/(kg K); 1800–2100, from memory.
pub const SPECIFIC_HEAT: f64 = 1800.0;
/// Conductivity of unfilled epoxy, W/(m K): 0.17–0.22, from memory.
pub const CONDUCTIVITY: f64 = 0.20;
/// Glass transition of the fresh mix, °C, and the shape of its rise with the cure (DiBenedetto; Pascault and Williams
/// 1990, from memory; ± 15 K).
const TG_FRESH_C: f64 = -40.0;
const TG_SHAPE: f64 = 0.4;
/// A cup is poured by this share of the time in which it gels. Chosen so that tins of both families (35 min for 6 mm layers, 8 h
/// for 45 mm) give the generic sets within a tenth; common practice, no source.
const POURED_BY: f64 = 0.48;
/// Mass for which the shelf gives a pot life, g.
const CUP_G: f64 = 200.0;
/// Share of the heat that a cup of that mass keeps while it gels (common practice, no source).
const CUP_KEEPS: f64 = 0.75;
/// Temperature at which the shelf gives a pot life, K.
const REFERENCE_K: f64 = crate::figures::resin::REFERENCE_C + KELVIN;

/// Heats of reaction among which one is looked for that gives the peak of a data sheet, J/kg, and how often they are halved.
const HEATS_J_KG: [f64; 2] = [50_000.0, 700_000.0];
const HALVINGS: usize = 14;
/// The board under the layer of a data sheet: kg/m³, % and mm (common practice, no source).
const SHEET_WOOD_KG_M3: f64 = 650.0;
const SHEET_WOOD_MOISTURE: f64 = 8.0;
const SHEET_WOOD_MM: f64 = 25.0;
/// Below this a peak is harmless, °C (50–60; common practice, no source).
const HARMLESS_C: f64 = 60.0;
/// Above this a cast is spoilt, °C: it yellows, boils, cracks (common practice, no source).
const SPOILT_C: f64 = 80.0;

/// Up to which a pour of a resin may warm itself without harm, and from which it is spoilt, °C. The sheet's limit rules; harmless is
/// what stays 20 K below it, and 60 °C at most.
pub fn peak_limits_c(resin: &Resin) -> [f64; 2] {
    let spoilt = resin.peak_c.unwrap_or(SPOILT_C);
    [HARMLESS_C.min(spoilt - (SPOILT_C - HARMLESS_C)), spoilt]
}

/// The parameters of a resin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kinetics {
    /// Prefactors A₁, A₂, 1/s.
    pub prefactor: [f64; 2],
    /// Activation energies E₁, E₂, J/mol.
    pub activation: [f64; 2],
    /// Orders m and n.
    pub order: [f64; 2],
    /// Heat of the whole reaction, J/kg of mix.
    pub heat: f64,
    /// Specific heat, J/(kg K).
    pub specific_heat: f64,
    /// Density, kg/m³.
    pub density: f64,
}

/// Where the rate law and its energies come from, and over which range they were fitted.
pub fn kinetics_source() -> Source {
    Source::Published {
        title: "Riccardi, Adabbo, Williams, J. Appl. Polym. Sci. 29 (1984) 2481; Barral et al., ibid. 56 (1995) 1029; \
                Lascano et al., Polymers 11 (2019) 391"
            .to_owned(),
        place: "abstracts: autocatalytic path 52–62 kJ/mol, fitted at 60–110 °C and extrapolated to a shop’s; generic set, \
                prefactors by the pot life on the shelf: calibrate to your resin"
            .to_owned(),
    }
}

impl Kinetics {
    /// The generic set for a film that gels in so many hours at 25 °C: E₁ = E₂ = 57 kJ/mol, m = 1, n = 2, k₁/k₂ = 0.05.
    pub fn generic(film_gel_h_at_25: f64) -> Self {
        let set = Self {
            prefactor: [SEED, 1.0],
            activation: [ACTIVATION_J_MOL; 2],
            order: [1.0, 2.0],
            heat: HEAT_J_KG,
            specific_heat: SPECIFIC_HEAT,
            density: 1100.0,
        };
        set.faster(set.isothermal_s(GEL, 25.0) / (film_gel_h_at_25 * 3600.0))
    }

    /// A resin of the shelf: the generic set, scaled to its data sheet. A gel time of a thin film rules; without it the
    /// pot life of 200 g does. Heat and activation energy are the sheet's where it gives them.
    pub fn of(resin: &Resin) -> Self {
        let mut set = Self { density: resin.density_g_ml * 1000.0, ..Self::generic(1.0) };
        if let Some(heat) = resin.heat_j_g {
            set.heat = heat * 1000.0;
        }
        if let Some(energy) = resin.activation_kj_mol {
            set.activation = [energy * 1000.0; 2];
        }
        match (resin.sheet_peak, resin.heat_j_g) {
            (Some([depth, celsius]), None) => set.heated_to(depth, celsius, resin),
            _ => set.paced(resin),
        }
    }

    /// As quick as the sheet says: by the gel time of a film, or else by the pot life.
    fn paced(self, resin: &Resin) -> Self {
        let at = REFERENCE_K - KELVIN;
        match resin.film_gel_h {
            Some(hours) => self.faster(self.isothermal_s(GEL, at) / (hours * 3600.0)),
            None => self.faster(self.cup_s(at, CUP_G) / (resin.pot_life_min * 60.0)),
        }
    }

    /// With the heat of reaction that lets a plain layer of this depth on wood grow so warm at 22 °C, by halving; the nearest where
    /// no heat does.
    fn heated_to(self, depth_mm: f64, celsius: f64, resin: &Resin) -> Self {
        let with = |heat: f64| Self { heat, ..self }.paced(resin);
        let wood = Material::wood(SHEET_WOOD_KG_M3, SHEET_WOOD_MOISTURE, crate::figures::resin::REFERENCE_C);
        let slab = Slab { depth_mm, wood, wood_mm: SHEET_WOOD_MM, cell_mm: CELL_MM };
        let [mut low, mut high] = HEATS_J_KG;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            // What cannot be marched is too hot by far.
            let peak = slab.peak_c(&with(middle), crate::figures::resin::REFERENCE_C).unwrap_or(f64::INFINITY);
            if peak < celsius { low = middle } else { high = middle }
        }
        with(0.5 * (low + high))
    }

    /// The same with every reaction `factor` times as fast: every isothermal time is divided by it exactly.
    pub fn faster(self, factor: f64) -> Self {
        Self { prefactor: self.prefactor.map(|a| a * factor), ..self }
    }

    /// `k₁` and `k₂` at a temperature, 1/s.
    pub fn constants(&self, celsius: f64) -> [f64; 2] {
        let k = |i: usize| self.prefactor[i] * (-self.activation[i] / (GAS_CONSTANT * (celsius + KELVIN))).exp();
        [k(0), k(1)]
    }

    /// `da/dt`, 1/s.
    pub fn rate(&self, celsius: f64, conversion: f64) -> f64 {
        let ([k1, k2], [m, n]) = (self.constants(celsius), self.order);
        let a = conversion.clamp(0.0, 1.0);
        (k1 + k2 * a.powf(m)) * (1.0 - a).powf(n)
    }

    /// The greatest `da/dt` at a temperature, 1/s, by the closed form of m = 1, n = 2 where it holds.
    pub fn greatest_rate(&self, celsius: f64) -> f64 {
        if self.order == [1.0, 2.0] {
            let [k1, k2] = self.constants(celsius);
            return self.rate(celsius, ((k2 - 2.0 * k1) / (3.0 * k2)).max(0.0));
        }
        (0..=1000).map(|i| self.rate(celsius, f64::from(i) / 1000.0)).fold(0.0, f64::max)
    }

    /// How much warmer the insulated mix grows by the whole reaction, K: `H / c_p`.
    pub fn adiabatic_rise(&self) -> f64 {
        self.heat / self.specific_heat
    }

    /// Time to a conversion at one temperature, s. For m = 1, n = 2 the closed form
    /// `a / (K (1 − a)) + (k₂ / K²) ln((k₁ + k₂ a) / (k₁ (1 − a)))`, `K = k₁ + k₂`; else by quadrature.
    pub fn isothermal_s(&self, conversion: f64, celsius: f64) -> f64 {
        if self.order == [1.0, 2.0] {
            let ([k1, k2], a) = (self.constants(celsius), conversion);
            let k = k1 + k2;
            return a / (k * (1.0 - a)) + k2 / (k * k) * ((k1 + k2 * a) / (k1 * (1.0 - a))).ln();
        }
        simpson(|a| 1.0 / self.rate(celsius, a), 0.0, conversion)
    }

    /// Time from the mixing to a conversion in a mass that keeps the share `kept` of its heat, s: with 1 the adiabatic
    /// limit, `T = T₀ + a H / c_p`.
    pub fn insulated_s(&self, conversion: f64, start_c: f64, kept: f64) -> f64 {
        simpson(|a| 1.0 / self.rate(start_c + kept * a * self.adiabatic_rise(), a), 0.0, conversion)
    }

    /// Pot life of a cup of so many grams, s. A cup sheds its heat through its skin, so that what it keeps against what it
    /// sheds grows as the square of its size, `m^(2/3)`; 200 g keep three quarters.
    pub fn cup_s(&self, celsius: f64, grams: f64) -> f64 {
        let against = CUP_KEEPS / (1.0 - CUP_KEEPS) * (grams / CUP_G).cbrt().powi(2);
        POURED_BY * self.insulated_s(GEL, celsius, against / (1.0 + against))
    }

    /// When a thin film that stood at `conversion` at the first of two times reaches another, s; `None` if it does not before
    /// the second. Midpoint rule in steps of ten minutes, in a room of changing temperature (°C by s).
    pub fn film_until(&self, conversion: f64, level: f64, times: [f64; 2], room: &dyn Fn(f64) -> f64) -> Option<f64> {
        const STEP_S: f64 = 600.0;
        let (mut a, mut t) = (conversion, times[0]);
        while a < level {
            if t >= times[1] {
                return None;
            }
            let half = a + 0.5 * STEP_S * self.rate(room(t), a);
            let grows = STEP_S * self.rate(room(t + 0.5 * STEP_S), half);
            if a + grows >= level {
                return Some(t + STEP_S * (level - a) / grows);
            }
            (a, t) = (a + grows, t + STEP_S);
        }
        Some(t)
    }

    /// Softening temperature at a conversion, °C, for a resin that softens at `full_c` when wholly cured:
    /// `T_g = T_g0 + (T_g∞ − T_g0) λ a / (1 − (1 − λ) a)` (DiBenedetto; from memory, ± 15 K).
    pub fn softens_c(conversion: f64, full_c: f64) -> f64 {
        TG_FRESH_C + (full_c - TG_FRESH_C) * TG_SHAPE * conversion / (1.0 - (1.0 - TG_SHAPE) * conversion)
    }

    /// Conversion at which a resin that softens at `full_c` when wholly cured is hard at a temperature: the same, turned round.
    /// At most 0.95: a resin that softens below the shop's warmth never grows hard there.
    pub fn hard_from(celsius: f64, full_c: f64) -> f64 {
        let share = ((celsius - TG_FRESH_C) / (full_c - TG_FRESH_C)).clamp(0.0, 1.0);
        (share / (TG_SHAPE + share * (1.0 - TG_SHAPE))).min(0.95)
    }

    /// The law in the form the marching needs.
    pub(super) fn law<N: Number>(&self, reference_c: f64) -> Law<N> {
        let [e1, e2] = self.activation;
        Law {
            form: match self.order {
                [1.0, 2.0] if e1 == e2 => Form::OneTwo,
                [1.0, 1.0] if e1 == e2 => Form::OneOne,
                _ => Form::Any,
            },
            kelvin: N::of(reference_c + KELVIN),
            // A exp(−E/RT) = exp(ln A − E/RT): no factor overflows the shorter numbers.
            logarithm: self.prefactor.map(|a| N::of(a.max(f64::MIN_POSITIVE).ln().max(-80.0))),
            over_gas: self.activation.map(|e| N::of(-e / GAS_CONSTANT)),
            seed: N::of(self.prefactor[0] / self.prefactor[1].max(f64::MIN_POSITIVE)),
            order: self.order.map(N::of),
            without_second: self.prefactor[1] == 0.0,
        }
    }
}

/// Which form of the law is reckoned, the common ones without powers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// m = 1, n = 2, one energy.
    OneTwo,
    /// m = 1, n = 1, one energy.
    OneOne,
    /// Anything else.
    Any,
}

/// The law as reckoned cell by cell, for temperatures above a reference.
#[derive(Clone, Copy, Debug)]
pub(super) struct Law<N> {
    pub(super) form: Form,
    kelvin: N,
    logarithm: [N; 2],
    over_gas: [N; 2],
    seed: N,
    order: [N; 2],
    without_second: bool,
}

impl<N: Number> Law<N> {
    #[inline(always)]
    fn constant(&self, i: usize, excess: N) -> N {
        (self.logarithm[i] + self.over_gas[i] / (excess + self.kelvin)).exp()
    }

    /// Form [`Form::OneTwo`].
    #[inline(always)]
    pub(super) fn one_two(&self, excess: N, a: N) -> N {
        let left = N::of(1.0) - a;
        self.constant(1, excess) * (self.seed + a) * left * left
    }

    /// Form [`Form::OneOne`].
    #[inline(always)]
    pub(super) fn one_one(&self, excess: N, a: N) -> N {
        self.constant(1, excess) * (self.seed + a) * (N::of(1.0) - a)
    }

    /// Any form.
    #[inline(always)]
    pub(super) fn any(&self, excess: N, a: N) -> N {
        let (zero, one) = (N::of(0.0), N::of(1.0));
        let a = if a < zero {
            zero
        } else if a > one {
            one
        } else {
            a
        };
        let helped = if self.without_second { zero } else { self.constant(1, excess) * a.power(self.order[0]) };
        (self.constant(0, excess) + helped) * (one - a).power(self.order[1])
    }
}

/// Simpson's rule in 2000 parts: the integrands here are smooth, and it is exact to nine digits for them.
fn simpson(f: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    const PARTS: u32 = 2000;
    let h = (to - from) / f64::from(PARTS);
    let inner: f64 = (1..PARTS).map(|i| f(from + h * f64::from(i)) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
    h / 3.0 * (f(from) + inner + f(to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    /// The two reference sets, to the digits to which they are given: k at 25 °C, times of a thin film, and of a large
    /// insulated mass.
    #[test]
    fn the_generic_sets_have_their_reference_times() {
        for (gel, k1, film, adiabatic) in
            [(4.003, 1.51827e-5, [1.096, 4.003, 12.19], 0.857), (48.0, 1.26626e-6, [13.14, 48.00, 146.2], 10.28)]
        {
            let set = Kinetics::generic(gel);
            close(set.constants(25.0)[0] / k1, 1.0, 2e-3);
            for (a, want) in [0.1, GEL, 0.9].into_iter().zip(film) {
                close(set.isothermal_s(a, 25.0) / 3600.0 / want, 1.0, 1e-3);
            }
            close(set.insulated_s(GEL, 25.0, 1.0) / 3600.0 / adiabatic, 1.0, 2e-3);
        }
        close(Kinetics::generic(4.003).isothermal_s(GEL, 20.0) / 3600.0, 5.926, 5e-3);
        close(Kinetics::generic(4.003).adiabatic_rise(), 166.7, 0.05);
    }

    #[test]
    fn the_closed_form_is_the_integral_of_the_law() {
        let set = Kinetics::generic(10.0);
        let by_parts = simpson(|a| 1.0 / set.rate(22.0, a), 0.0, 0.85);
        close(by_parts / set.isothermal_s(0.85, 22.0), 1.0, 1e-7);
        let film = set.film_until(0.0, 0.85, [0.0, 1e9], &|_| 22.0).unwrap();
        close(film / set.isothermal_s(0.85, 22.0), 1.0, 1e-4);
        assert_eq!(set.film_until(0.2, 0.85, [0.0, 3600.0], &|_| 22.0), None);
        // Largest rate at a = 0.30, 0.1715 k₂.
        close(set.greatest_rate(25.0) / set.constants(25.0)[1], 0.1715, 5e-5);
        close(set.rate(25.0, 0.30) / set.greatest_rate(25.0), 1.0, 1e-6);
    }

    /// A tin of each family, as shelves have them: 200 g at 22 °C keep their pot life, twice as much mix keeps less, and the
    /// film gels within a fifth of its generic set (35 min and 4 h at 25 °C, 8 h and 48 h).
    #[test]
    fn a_pot_life_scales_the_whole_cure() {
        let shelf = crate::parse(crate::DEFAULT_SHELF, base::FileId(0)).0.unwrap();
        for (name, pot_min, film_h) in [("table-top", 35.0, 4.003), ("deep pour", 480.0, 48.0)] {
            let tin = shelf.resin(name).unwrap();
            let set = Kinetics::of(tin);
            close(set.cup_s(22.0, 200.0) / 60.0 / pot_min, 1.0, 1e-9);
            assert!(set.cup_s(22.0, 400.0) < set.cup_s(22.0, 200.0) * 0.98);
            close(set.isothermal_s(GEL, 25.0) / 3600.0 / film_h, 1.0, 0.2);
            let sheet = Resin { film_gel_h: Some(5.0), heat_j_g: Some(250.0), ..tin.clone() };
            let set = Kinetics::of(&sheet);
            close(set.isothermal_s(GEL, 22.0) / 3600.0, 5.0, 1e-9);
            assert_eq!(set.heat, 250_000.0);
        }
    }

    /// What a data sheet tells rules: an energy of 51.2 kJ/mol makes 30 °C just twice as quick as 20 °C; the peak of a plain layer
    /// gives the heat back that it was reckoned with; a limit of the sheet moves what is harmless with it.
    #[test]
    fn a_data_sheet_overrides_the_tables() {
        let shelf = crate::parse(crate::DEFAULT_SHELF, base::FileId(0)).0.unwrap();
        let tin = shelf.resin("deep pour").unwrap();
        let sheet = Resin { activation_kj_mol: Some(51.2), ..tin.clone() };
        close(Kinetics::of(&sheet).constants(30.0)[1] / Kinetics::of(&sheet).constants(20.0)[1], 2.0, 0.002);
        let wood = Material::wood(SHEET_WOOD_KG_M3, SHEET_WOOD_MOISTURE, 22.0);
        let slab = Slab { depth_mm: 40.0, wood, wood_mm: SHEET_WOOD_MM, cell_mm: CELL_MM };
        let known = Resin { heat_j_g: Some(350.0), ..tin.clone() };
        let peak = slab.peak_c(&Kinetics::of(&known), 22.0).unwrap();
        assert!(peak > 30.0, "{peak}");
        let told = Resin { sheet_peak: Some([40.0, peak]), ..tin.clone() };
        close(Kinetics::of(&told).heat / 350_000.0, 1.0, 0.005);
        // The heat of the sheet comes before its peak.
        let both = Resin { sheet_peak: Some([40.0, 90.0]), ..known };
        assert_eq!(Kinetics::of(&both).heat, 350_000.0);
        assert_eq!(peak_limits_c(tin), [60.0, 80.0]);
        assert_eq!(peak_limits_c(&Resin { peak_c: Some(65.0), ..tin.clone() }), [45.0, 65.0]);
        assert_eq!(peak_limits_c(&Resin { peak_c: Some(100.0), ..tin.clone() }), [60.0, 100.0]);
    }

    #[test]
    fn hardness_follows_the_softening_temperature() {
        close(Kinetics::softens_c(0.0, 50.0), -40.0, 1e-12);
        close(Kinetics::softens_c(1.0, 50.0), 50.0, 1e-12);
        let hard = Kinetics::hard_from(22.0, 50.0);
        close(Kinetics::softens_c(hard, 50.0), 22.0, 1e-9);
        close(hard, 0.847, 1e-3);
        assert!(Kinetics::hard_from(30.0, 46.0) > hard);
    }
}
