//! Finishes: how much to buy, how long until use.

use crate::shelf::Finish;

/// What stays in rag and brush, as a factor (common practice, no source).
pub const REST: f64 = 1.15;

/// Finish to buy for an area, `area · coats / coverage · 1.15`, ml.
pub fn volume_ml(finish: &Finish, area_mm2: f64) -> f64 {
    area_mm2 * 1e-6 * f64::from(finish.coats) / finish.coverage_m2_l * 1000.0 * REST
}

/// From the first coat to use, h.
pub fn hours_to_use(finish: &Finish) -> f64 {
    f64::from(finish.coats.saturating_sub(1)) * finish.recoat_h + finish.use_h
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    #[test]
    fn three_coats_of_oil_on_a_bowl() {
        let oil = Finish {
            name: "oil".to_owned(),
            coats: 3,
            recoat_h: 24.0,
            use_h: 336.0,
            coverage_m2_l: 12.0,
            price_l: 25.0,
            packs_ml: vec![500.0],
            self_heating: true,
            sprayed: false,
        };
        // 0.08 m² · 3 / 12 m²/l = 20 ml, and 15 % more.
        close(volume_ml(&oil, 80_000.0), 23.0, 1e-9);
        close(hours_to_use(&oil), 384.0, 1e-9);
    }
}
