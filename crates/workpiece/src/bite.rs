//! What a stretch of path takes, as a depth and a width of cut: the state of cutting that the formulas of force speak of.

use crate::MoveCut;
use trade::cutter::{Form, Solid};
use trade::figures::cutting::{Cut, Edge};

/// A move steeper than this, mm in mm, meets the same columns again and again: their count tells no width.
const LEVEL: f64 = 0.02;

/// A straight move of the tip and what it took.
#[derive(Clone, Copy, Debug)]
pub struct Taken<'a> {
    /// From.
    pub from: [f64; 3],
    /// To.
    pub to: [f64; 3],
    /// What it took.
    pub cut: &'a MoveCut,
}

impl Taken<'_> {
    fn length(&self) -> f64 {
        (0..3).map(|k| (self.to[k] - self.from[k]).powi(2)).sum::<f64>().sqrt()
    }

    fn is_level(&self) -> bool {
        (self.to[2] - self.from[2]).abs() <= LEVEL * self.length()
    }
}

/// What is in the cut over a stretch of path, on the average of its length; depths are the greatest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bite {
    /// Axial depth in the cut, no more than the flutes, mm.
    pub ap: f64,
    /// Width of the cut, mm.
    pub ae: f64,
    /// Length of edge in the cut, mm.
    pub edge: f64,
    /// The edge at the top of the cut.
    pub top: Edge,
    /// Height of the top of the cut, same frame as the moves, mm.
    pub top_z: f64,
    /// Share of resin in what is cut.
    pub resin: f64,
}

impl Bite {
    /// What the stretch takes on the average; `None` where it takes less than a brush (`brush` mm³, mm deep).
    pub fn of<'a>(
        solid: &Solid,
        stretch: impl Iterator<Item = Taken<'a>> + Clone,
        (brush_mm3, brush_mm): (f64, f64),
    ) -> Option<Self> {
        let cuts = || stretch.clone().filter(|t| t.cut.removed_mm3 > 0.0);
        let removed: f64 = cuts().map(|t| f64::from(t.cut.removed_mm3)).sum();
        let length: f64 = stretch.clone().map(|t| t.length()).sum();
        let deepest = cuts().map(|t| f64::from(t.cut.deepest_mm)).fold(0.0, f64::max);
        if removed <= brush_mm3 || deepest <= brush_mm || length <= 0.0 {
            return None;
        }
        let lowest = cuts().map(|t| f64::from(t.cut.lowest_mm)).fold(f64::INFINITY, f64::min);
        let top = deepest.min(solid.flute_length.max(lowest));
        let ap = (top - lowest).max(brush_mm);
        let mut ae = removed / (ap * length);
        // Where the stock's top is uneven the width is what is wide, not the mean of it.
        if solid.form == Form::Flat && stretch.clone().all(|t| t.is_level()) {
            ae = ae.max(cuts().map(|t| f64::from(t.cut.swept_mm2)).sum::<f64>() / length);
        }
        let (high, low) = (Edge::at(solid, top), Edge::at(solid, lowest));
        let tip = stretch.clone().flat_map(|t| [t.from[2], t.to[2]]).fold(f64::INFINITY, f64::min);
        Some(Self {
            ap,
            ae: ae.min(solid.diameter),
            edge: (high.length - low.length).max(ap),
            top: high,
            top_z: tip + top,
            resin: cuts().map(|t| f64::from(t.cut.resin_mm3)).sum::<f64>() / removed,
        })
    }

    /// The same, wider by what its measure may be short of, mm: strips narrower than a few columns are met by more or fewer.
    #[must_use]
    pub fn wider(self, by: f64) -> Self {
        Self { ae: self.ae + by, ..self }
    }

    /// The state of cutting at a feed per tooth and a speed.
    pub fn cut(&self, flutes: u32, fz: f64, rpm: f64) -> Cut {
        let ae = self.ae.min(self.top.diameter);
        Cut { diameter: self.top.diameter, flutes, ap: self.ap, edge: self.edge, ae, fz, rpm }
    }

    /// Greatest chip thickness as a share of the feed per tooth.
    pub fn chip_share(&self) -> f64 {
        self.top.chip_share(self.ae)
    }

    /// How much faster than in a full cut the feed may be, for the chip to be as thick.
    pub fn thinning(&self) -> f64 {
        self.top.thinning(self.ae)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::slab;
    use crate::sweep::tests::plain;
    use crate::{Clearances, Sweep};
    use base::Quiet;

    const CLEAR: Clearances = Clearances { shank: 0.25, holder: 2.0 };

    /// The bite of the last of some moves into a slab whose top is at 0, cut in short pieces.
    fn last(moves: &[(&Solid, [f64; 3], [f64; 3])]) -> Bite {
        let mut slab = slab(30.0, -20.0, 0.0, 0.1);
        let mut bite = None;
        for (cutter, from, to) in moves {
            let n = 30;
            let at = |i: i32| {
                let t = f64::from(i) / f64::from(n);
                [0, 1, 2].map(|k: usize| from[k] + t * (to[k] - from[k]))
            };
            let sweeps: Vec<Sweep> = (0..n).map(|i| Sweep { from: at(i), to: at(i + 1) }).collect();
            let report = slab.cut(cutter, &sweeps, CLEAR, &Quiet).unwrap();
            // Away from the ends, where the cutter comes into the cut.
            let inner = sweeps.iter().zip(&report.moves).skip(8).take(14);
            bite = Bite::of(cutter, inner.map(|(s, cut)| Taken { from: s.from, to: s.to, cut }), (0.0, 0.0));
        }
        bite.unwrap()
    }

    /// Along X at a place across and a height.
    fn along(cutter: &Solid, y: f64, z: f64) -> (&Solid, [f64; 3], [f64; 3]) {
        (cutter, [-15.0, y, z], [15.0, y, z])
    }

    #[test]
    fn side_cuts_have_their_depth_and_width() {
        let flat = plain(Form::Flat, 6.0);
        let bite = last(&[along(&flat, 0.0, -3.0), along(&flat, 2.4, -3.0)]);
        assert!((bite.ap - 3.0).abs() < 1e-4 && (bite.ae - 2.4).abs() < 0.02, "{bite:?}");
        assert!(bite.top_z.abs() < 1e-4 && bite.resin == 0.0);
        assert!((bite.thinning() - 1.0206).abs() < 1e-3, "the factor for 2.4 mm of 6");
        let full = last(&[along(&flat, 0.0, -3.0)]);
        assert!((full.ae - 6.0).abs() < 0.1 && full.thinning() == 1.0, "{full:?}");
    }

    #[test]
    fn a_ball_in_a_groove() {
        let ball = plain(Form::Ball, 6.0);
        let bite = last(&[along(&ball, 0.0, -0.5)]);
        // Half a millimetre deep the groove is 3.317 mm wide; its section is that of a segment, its edge the arc.
        let kappa = (2.5_f64 / 3.0).acos();
        let section = 9.0 * kappa - 2.5 * 3.0 * kappa.sin();
        assert!((bite.ap - 0.5).abs() < 0.01 && (bite.ae * bite.ap - section).abs() < 0.03, "{bite:?} {section}");
        assert!((bite.top.diameter - 3.317).abs() < 0.02 && (bite.edge - 3.0 * kappa).abs() < 0.15, "{bite:?}");
    }

    #[test]
    fn a_ball_cuts_a_wall_with_its_side() {
        let (flat, ball) = (plain(Form::Flat, 6.0), plain(Form::Ball, 6.0));
        // A strip 0.4 mm wide beside a deep groove: the ball's surface crosses it between 1.66 mm and 3 mm above the tip.
        let bite = last(&[along(&flat, 0.0, -14.0), along(&ball, 0.4, -9.0)]);
        let low = 3.0 - (9.0_f64 - 2.6 * 2.6).sqrt();
        assert!(bite.ap < 9.0 - low + 1e-3 && bite.ap > 9.0 - low - 0.2, "{bite:?}");
        assert!(bite.top.sine == 1.0 && (bite.ae - 0.4).abs() < 0.05, "{bite:?}");
    }

    #[test]
    fn air_is_no_bite() {
        let flat = plain(Form::Flat, 6.0);
        let cut = MoveCut::default();
        let air = [Taken { from: [0.0; 3], to: [5.0, 0.0, 0.0], cut: &cut }];
        assert!(Bite::of(&flat, air.into_iter(), (0.0, 0.0)).is_none());
    }
}
