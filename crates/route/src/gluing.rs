//! The glue-up in figures: how much glue, how hard it is pressed, how many clamps, how long.

use crate::layup::Layup;
use base::{Figure, Figures, Input, Source};
use trade::figures::lumber::{clamp_force_n, clamp_pressure_mpa, clamps_needed, glue_g};
use trade::shelf::{Glue, Shelf, Wood};

/// Squeezed out and left on the brush: 10–15 % (common practice, no source).
const WASTE: f64 = 0.1;
/// Specific gravity from density: oven-dry mass on the volume at 8 to 12 % of moisture.
const MOIST: f64 = 1.1;

/// What a glue-up asks for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gluing {
    /// Glue in all, g.
    pub(crate) glue_g: f64,
    /// On each joint, g/m².
    pub(crate) spread_g_m2: f64,
    /// To close it in, min.
    pub(crate) open_min: f64,
    /// To leave it clamped, min.
    pub(crate) clamp_min: f64,
    /// Before it is faced, h.
    pub(crate) machine_h: f64,
    /// Pressure, MPa.
    pub(crate) pressure_mpa: f64,
    /// Force on the widest joint, N.
    pub(crate) force_n: f64,
    /// Clamps for it.
    pub(crate) clamps: u32,
    /// Force of one, N.
    pub(crate) clamp_n: f64,
}

impl Gluing {
    /// Of a lay-up, with the shelf's wood glue.
    pub(crate) fn of(layup: &Layup, shelf: &Shelf, wood: &Wood) -> Self {
        let usual = |value: fn(&Glue) -> f64, without: f64| shelf.glue("wood glue").map_or(without, value);
        let spread_g_m2 = usual(|g| g.spread_g_m2, 180.0);
        let pressure_mpa = clamp_pressure_mpa(wood.density_kg_m3 / 1000.0 / MOIST);
        let force_n = clamp_force_n(pressure_mpa, layup.face_mm2);
        Self {
            glue_g: glue_g(layup.joint_mm2, spread_g_m2, WASTE),
            spread_g_m2,
            open_min: usual(|g| g.open_min, 8.0),
            clamp_min: usual(|g| g.clamp_min, 60.0),
            machine_h: usual(|g| g.machine_h, 24.0),
            pressure_mpa,
            force_n,
            clamps: clamps_needed(force_n, shelf.shop.clamp_n),
            clamp_n: shelf.shop.clamp_n,
        }
    }

    /// Enters it.
    pub(crate) fn enter(&self, layup: &Layup, wood: &Wood, figures: &mut Figures) {
        if layup.joint_mm2 <= 0.0 {
            return;
        }
        let mut put = |id: &str, value: f64, unit: &str, formula: &str, inputs: Vec<Input>, source: Source| {
            figures.put(id, Figure::new(value, unit, formula, inputs, source));
        };
        put(
            "glue.mass",
            self.glue_g,
            "g",
            "m = joint area · spread · (1 + waste)",
            vec![
                Input::figure("glue.joints"),
                Input::figure("glue.spread"),
                Input::literal(WASTE, "1", "waste, 10–15 %"),
            ],
            Source::CommonPractice,
        );
        for (id, value, unit, key) in [
            ("glue.spread", self.spread_g_m2, "g/m²", "spread_g_m2"),
            ("glue.open", self.open_min, "min", "open_min"),
            ("glue.clamped", self.clamp_min, "min", "clamp_min"),
            ("glue.rest", self.machine_h, "h", "machine_h"),
        ] {
            let from = Input::literal(value, unit, format!("shelf: wood glue, {key}"));
            put(id, value, unit, "as the glue’s sheet has it", vec![from], Source::CommonPractice);
        }
        put(
            "glue.pressure",
            self.pressure_mpa,
            "MPa",
            "middle of the band for the density: 0.7–1.0 up to 0.45, 0.85–1.2 up to 0.60, 1.2–1.7 above",
            vec![Input::literal(wood.density_kg_m3, "kg/m³", "shelf: wood, density")],
            Source::CommonPractice,
        );
        put(
            "glue.force",
            self.force_n,
            "N",
            "F = pressure · widest joint",
            vec![Input::figure("glue.pressure"), Input::figure("glue.widest")],
            Source::Derived,
        );
        put(
            "glue.clamps",
            f64::from(self.clamps),
            "1",
            "F / force of one clamp, rounded up",
            vec![Input::figure("glue.force"), Input::literal(self.clamp_n, "N", "shelf: shop.clamp_n")],
            Source::Derived,
        );
    }
}
