//! Sanding: the first grit for a scallop, the ladder of grits, hours and discs.

use crate::shelf::Abrasive;

/// Scallops that a first grit still levels, mm, finest grit first: P220, P150, P120 (common practice, no source);
/// P80 by the same reckoning, half its grain of 0.201 mm.
const FIRST: [(u32, f64); 4] = [(220, 0.02), (150, 0.04), (120, 0.05), (80, 0.10)];

/// The coarsest grit that a scallop is sanded with: what it does not level is cut again or scraped.
pub const LEAST_GRIT: u32 = 80;

/// The highest scallop that a grit levels, mm; half as high in resin.
pub fn levels_mm(grit: u32, in_resin: bool) -> f64 {
    let most = FIRST.iter().filter(|(of, _)| *of >= grit).map(|(_, limit)| *limit).fold(0.0, f64::max);
    // As in `first_grit`.
    (most + 5e-4) * if in_resin { 0.5 } else { 1.0 }
}

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

/// Of a ladder those that are needed on wood: each at most 1.6 times finer in its grain than the one before, as few as do
/// (common practice, no source). In resin every step is taken, for scratches show.
pub fn sequence(ladder: &[Abrasive], in_resin: bool) -> Vec<Abrasive> {
    if in_resin {
        return ladder.to_vec();
    }
    let mut taken: Vec<Abrasive> = Vec::new();
    for (k, abrasive) in ladder.iter().enumerate() {
        let Some(last) = taken.last() else {
            taken.push(*abrasive);
            continue;
        };
        let next_is_too_fine = ladder.get(k + 1).is_none_or(|next| last.grain_um > FINER * next.grain_um);
        if next_is_too_fine {
            taken.push(*abrasive);
        }
    }
    taken
}

/// A step of a sequence is no finer than this.
const FINER: f64 = 1.6;

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

    /// Common practice: P80 – P120 – P180 – P220 is a usual sequence, each at most 1.6 times finer.
    #[test]
    fn sequences_of_the_reference() {
        let grits = |l: Vec<Abrasive>| l.iter().map(|a| a.grit).collect::<Vec<_>>();
        let of = |first: u32, last: u32| -> Vec<Abrasive> {
            shelf().into_iter().filter(|a| (first..=last).contains(&a.grit)).collect()
        };
        assert_eq!(grits(sequence(&of(80, 220), false)), [80, 120, 180, 220]);
        assert_eq!(grits(sequence(&of(150, 320), false)), [150, 220, 320]);
        assert_eq!(grits(sequence(&of(80, 220), true)), [80, 120, 150, 180, 220]);
        assert!(sequence(&[], false).is_empty());
        // From P80 to P120 is 1.608, and the shelf has nothing between; above P400 it has pads only.
        let all = sequence(&of(80, 400), false);
        assert!(all.windows(2).all(|w| w[0].grain_um <= 1.61 * w[1].grain_um), "{all:?}");
    }

    #[test]
    fn what_a_grit_levels_is_what_it_is_chosen_for() {
        for grit in [80, 120, 150, 220] {
            for resin in [false, true] {
                let most = levels_mm(grit, resin);
                assert_eq!(first_grit(most - 1e-6, resin), Some(grit));
                assert_ne!(first_grit(most + 1e-6, resin), Some(grit));
            }
        }
        // Between two of the rule, what the finer levels; coarser than all, what the coarsest does.
        assert_eq!((levels_mm(180, false), levels_mm(60, false)), (levels_mm(220, false), levels_mm(80, false)));
        assert_eq!(levels_mm(320, false), 5e-4);
    }

    #[test]
    fn hours_and_discs() {
        close(sanding_min(10_000.0, 0.02), 18.0, 1e-12);
        close(sanding_min(10_000.0, 0.05), 28.8, 1e-12);
        close(sanding_min(50_000.0, 0.01), 90.0, 1e-12);
        assert_eq!(discs(250_000.0, 60_000.0), 2);
        // Common practice: P80 scratches 50 to 100 µm deep, P120 30 to 60, P220 17 to 35.
        for (grain, [least, most]) in [(201.0, [0.05, 0.1]), (125.0, [0.03, 0.06]), (68.0, [0.017, 0.035])] {
            let [from, to] = scratch_mm(grain);
            close(from, least, 2e-3);
            close(to, most, 3e-3);
        }
    }
}
