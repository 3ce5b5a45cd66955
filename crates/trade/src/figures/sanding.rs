//! Sanding: the first grit for a scallop, the ladder of grits, hours and discs.

use crate::shelf::Abrasive;

/// Scallops that a first grit still levels, mm, finest grit first: P220, P150, P120 (common practice, no source);
/// P80 by the same reckoning, half its grain of 0.201 mm.
const FIRST: [(u32, f64); 4] = [(220, 0.02), (150, 0.04), (120, 0.05), (80, 0.10)];

/// The finest grit that levels a scallop. In resin half as high a scallop, for scratches show.
/// `None` if it is too high to sand: cut again or scrape.
pub fn first_grit(scallop_mm: f64, in_resin: bool) -> Option<u32> {
    let scallop = if in_resin { 2.0 * scallop_mm } else { scallop_mm };
    // Half a micrometre: a scallop set to the limit must not fail it by rounding.
    FIRST.iter().find(|(_, limit)| scallop <= limit + 5e-4).map(|(grit, _)| *grit)
}

/// The grits to use from the shelf: from the finest that is coarse enough to start, up to `last`.
/// Empty if the scallop is too high, or the shelf has none coarse enough.
pub fn ladder(abrasives: &[Abrasive], scallop_mm: f64, in_resin: bool, last: u32) -> Vec<Abrasive> {
    let start = first_grit(scallop_mm, in_resin)
        .and_then(|grit| abrasives.iter().filter(|a| a.grit <= grit).map(|a| a.grit).max());
    let Some(start) = start else { return Vec::new() };
    abrasives.iter().filter(|a| a.grit >= start && a.grit <= last.max(start)).copied().collect()
}

/// Minutes of handwork down to P320: 18 min per dm² from a scallop of 0.02 mm, 60 % more at 0.05 mm, in proportion
/// between and beyond (common practice, no source).
pub fn sanding_min(area_mm2: f64, scallop_mm: f64) -> f64 {
    let more = 0.6 * ((scallop_mm - 0.02) / 0.03).max(0.0);
    area_mm2 / 10_000.0 * 18.0 * (1.0 + more)
}

/// Discs of 150 mm worn per grit: one for 0.25 m² of hardwood, one for 0.12 m² of resin (common practice, no source).
pub fn discs(wood_mm2: f64, resin_mm2: f64) -> u32 {
    (wood_mm2 / 250_000.0 + resin_mm2 / 120_000.0).ceil() as u32
}

/// Deepest scratches of a grit, mm: between a quarter and half of its grain (common practice, no source).
pub fn scratch_mm(grain_um: f64) -> [f64; 2] {
    [grain_um / 4000.0, grain_um / 2000.0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    fn shelf() -> Vec<Abrasive> {
        crate::parse(crate::DEFAULT_SHELF, base::FileId(0)).0.unwrap().abrasives
    }

    #[test]
    fn first_grits_of_the_rule() {
        let cases = [(0.02, Some(220)), (0.03, Some(150)), (0.05, Some(120)), (0.09, Some(80)), (0.2, None)];
        for (scallop, grit) in cases {
            assert_eq!(first_grit(scallop, false), grit, "{scallop}");
        }
        assert_eq!(first_grit(0.02, true), Some(150));
    }

    /// A grit takes off at most half its grain in one round, so every limit lies below that.
    #[test]
    fn every_first_grit_can_reach_the_valleys() {
        for (grit, limit) in FIRST {
            let grain = shelf().iter().find(|a| a.grit == grit).map(|a| a.grain_um).unwrap();
            assert!(limit <= grain / 2000.0, "P{grit}");
        }
    }

    #[test]
    fn ladders_come_from_the_shelf() {
        let grits = |l: Vec<Abrasive>| l.iter().map(|a| a.grit).collect::<Vec<_>>();
        assert_eq!(grits(ladder(&shelf(), 0.035, false, 320)), [150, 180, 220, 240, 320]);
        assert_eq!(grits(ladder(&shelf()[1..], 0.09, false, 320)), Vec::<u32>::new());
        assert_eq!(grits(ladder(&shelf(), 0.5, false, 320)), Vec::<u32>::new());
    }

    #[test]
    fn hours_and_discs() {
        close(sanding_min(10_000.0, 0.02), 18.0, 1e-12);
        close(sanding_min(10_000.0, 0.05), 28.8, 1e-12);
        close(sanding_min(50_000.0, 0.01), 90.0, 1e-12);
        assert_eq!(discs(250_000.0, 60_000.0), 2);
        assert_eq!(scratch_mm(201.0), [0.05025, 0.1005]);
    }
}
