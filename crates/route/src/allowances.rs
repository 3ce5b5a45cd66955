//! How much more than the piece the blank must be, and the heights that every setup is reckoned from.
//!
//! Symbols as on the shop sheet: `a_f` waste beyond the foot, `a_r` waste beyond the rim, `ℓ` planned loss when levelling,
//! `t_f` flange. All in mm.

use crate::ledger::Ledger;
use base::{Figure, Input, Source};
use geom::{DVec2, Region};
use job::{CastForm, Freeing, Job, RouteKind};
use shape::Piece;
use trade::figures::parting::waste_needed;
use trade::figures::resin::overpour_mm;

/// Thickness of the flange that stays at the rim for the flip.
pub(crate) const FLANGE: f64 = 5.0;
/// Least thickness of the flange that may be left after an uneven levelling.
pub(crate) const FLANGE_LEAST: f64 = 4.0;
/// How far the flange's edges are trimmed inside the sawn edges of the blank, each side.
pub(crate) const EDGE_TRIM: f64 = 1.0;
/// How far hollows run out beyond the outline into the waste.
pub(crate) const HOLLOW_BEYOND: f64 = 4.0;
/// Room between a hollow and its dam.
pub(crate) const DAM_OFFSET: f64 = 6.0;
/// Room between the dam and the blank's edge.
const DAM_EDGE: f64 = 2.0;
/// What faces A and F are faced again by after the wood has rested.
const FACED_AGAIN: f64 = 1.0;
/// Rise of the dam above the pour level.
pub(crate) const DAM_ABOVE_LEVEL: f64 = 5.0;
/// Waste around a piece held by tabs: a moat that the stoutest cutter that roughs has room in, and a bank.
const TAB_MARGIN: f64 = 28.0;
/// What stays uncut under a one-sided piece, to be parted by hand.
pub(crate) const SKIN: f64 = 0.5;
/// Side of a square depth witness, and its depth.
pub(crate) const WITNESS_SIDE: f64 = 12.0;
/// Edge kept between a depth witness and the blank's edges.
const WITNESS_EDGE: f64 = 4.0;
/// The blank grows by no more than this to give the depth witnesses room.
const WITNESS_GROWTH: f64 = 150.0;
/// Depth of a depth witness below the face as it lies: deep enough that some is left after levelling, and not so deep that it
/// goes through the flange. A hole would leave slivers between itself and the passes that mill the flange away.
pub(crate) const WITNESS_DEPTH: f64 = 4.0;
/// Side of the orientation notch at the corner of B and C.
pub(crate) const NOTCH_SIDE: f64 = 8.0;
/// Depth of the notch.
pub(crate) const NOTCH_DEPTH: f64 = 3.0;
/// Rapids keep this far above the stock.
pub(crate) const CLEARANCE: f64 = 5.0;

/// What a good level shows, mm/m.
const LEVEL_SLOPE: f64 = 0.5;

/// Allowances around a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Allowances {
    /// Finished height H.
    pub(crate) height: f64,
    /// Waste beyond the foot.
    pub(crate) beyond_foot: f64,
    /// Waste beyond the rim.
    pub(crate) beyond_rim: f64,
    /// Planned loss when levelling.
    pub(crate) levelling: f64,
    /// Half length and half width of the blank.
    pub(crate) half: DVec2,
    /// How high a cast is poured above face A.
    pub(crate) overpour: f64,
    /// Whether the wood rests between roughing and finishing.
    pub(crate) rest: Rest,
}

/// Where setups stand to a rest of the wood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Rest {
    /// There is none.
    No,
    /// They only rough, and leave so much on both sides.
    Ahead {
        /// mm.
        leave: f64,
    },
    /// They finish what was roughed before it.
    Over,
}

impl Allowances {
    /// z of face A as glued up, piece frame.
    pub(crate) fn face_z(&self) -> f64 {
        self.levelled_z() + self.levelling
    }

    /// z of face A after levelling, piece frame.
    pub(crate) fn levelled_z(&self) -> f64 {
        self.height + self.beyond_rim + self.faced_again()
    }

    /// z of the foot plane as these setups face it, piece frame.
    pub(crate) fn foot_z(&self) -> f64 {
        -self.faced_again()
    }

    /// What stays on faces A and F to be faced again after a rest.
    pub(crate) fn faced_again(&self) -> f64 {
        if self.only_roughs() { FACED_AGAIN } else { 0.0 }
    }

    /// Whether both sides are only roughed.
    pub(crate) fn only_roughs(&self) -> bool {
        matches!(self.rest, Rest::Ahead { .. })
    }

    /// The edges across which the middle is taken before they are cut true.
    pub(crate) fn edges(&self) -> &'static str {
        if self.rest == Rest::Over { "old" } else { "sawn" }
    }

    /// The sizes for the setups after the rest: of the block that those before it leave.
    pub(crate) fn after_rest(&self) -> Self {
        if !self.only_roughs() {
            return *self;
        }
        let half = self.true_half();
        Self { beyond_foot: FACED_AGAIN, levelling: 0.0, overpour: 0.0, half, rest: Rest::Over, ..*self }
    }

    /// Planned thickness of the blank, T0.
    pub(crate) fn thickness(&self) -> f64 {
        self.beyond_foot + self.face_z()
    }

    /// Half sizes of the flange with its edges cut true.
    pub(crate) fn true_half(&self) -> DVec2 {
        self.half - DVec2::splat(EDGE_TRIM)
    }
}

/// Works out the allowances. `ball_radius` is that of the cutter that finishes the outside; `deepest_hollow` the depth of
/// the deepest cast below the rim.
pub(crate) fn allowances(
    job: &Job,
    piece: &Piece,
    ball_radius: f64,
    deepest_pour: f64,
    shrink: f64,
    ledger: &mut Ledger<'_>,
) -> Allowances {
    let Ledger { figures, report } = ledger;
    let units = job.units;
    let one_sided = job.route.kind.value == RouteKind::OneSided;
    let casting = !job.casts.is_empty();
    let parting = parting_rule(piece.rim_slope_deg, ball_radius);
    let beyond_rim = match (&job.blank.beyond_rim, one_sided) {
        (Some(asked), _) => {
            let asked_mm = asked.value.as_mm();
            if !one_sided && asked_mm < parting {
                report
                    .error(
                        "parting",
                        asked.at,
                        format!(
                            "{} beyond the rim is too little: a {} flange and the fillet that a ball of radius {} leaves above it \
                             need {}",
                            units.told(asked_mm),
                            units.told(FLANGE),
                            units.fine(ball_radius),
                            units.up(parting)
                        ),
                    )
                    .hint(format!("set `beyond_rim` to {} or more, or leave it out", units.up(parting)));
            }
            asked_mm
        }
        (None, true) => 1.0,
        (None, false) => (parting * 10.0).ceil() / 10.0,
    };
    figures.put(
        "blank.beyond_rim",
        Figure::new(
            beyond_rim,
            "mm",
            "a_r ≥ t_f + R (1 − cos α) + 0.4 mm",
            vec![
                Input::literal(FLANGE, "mm", "flange t_f"),
                Input::literal(ball_radius, "mm", "ball radius R of the cutter that finishes the outside"),
                Input::literal(piece.rim_slope_deg, "°", "slope α of the outside at the rim"),
            ],
            Source::Derived,
        ),
    );
    let rest = job.route.rest.as_ref().map(|leave| leave.value.as_mm());
    let again = rest.map_or(0.0, |_| FACED_AGAIN);
    let beyond_foot = again
        + match &job.blank.beyond_foot {
            Some(asked) => asked.value.as_mm(),
            None if one_sided => 0.0,
            None => 1.5,
        };
    let levelling = if casting { 1.0 } else { 0.0 };
    let reach = hollow_reach(job, piece);
    // After a rest the edges are cut true once more.
    let trims = EDGE_TRIM * if rest.is_some() { 2.0 } else { 1.0 };
    let margin = if one_sided { 13.0 } else { (12.0 + trims).max(reach + DAM_OFFSET + DAM_EDGE) };
    let tabs = one_sided && job.route.freeing.value == Freeing::Tabs;
    let least = piece.outline.half_size() + DVec2::splat(if tabs { TAB_MARGIN } else { margin });
    let half = match &job.blank.size {
        Some(asked) => {
            let half = DVec2::new(asked.value[0].as_mm(), asked.value[1].as_mm()) / 2.0;
            if half.x < least.x || half.y < least.y {
                report
                    .error(
                        "blank-too-small",
                        asked.at,
                        format!(
                            "the blank is {} × {}, and the piece with its flange and dam needs {} × {}",
                            units.told(half.x * 2.0),
                            units.told(half.y * 2.0),
                            units.up((least.x * 2.0).ceil()),
                            units.up((least.y * 2.0).ceil())
                        ),
                    )
                    .hint("make the blank at least that large, leave `size` out, or make the piece smaller");
            } else if casting {
                let longer = with_witnesses(piece, reach, half);
                if longer != half {
                    report
                        .error(
                            "no-room-for-witness",
                            asked.at,
                            "the corners of the blank have no room for the two depth witnesses beside the dam",
                        )
                        .hint(format!(
                            "make it {} × {}, or leave `size` out",
                            units.up(longer.x * 2.0),
                            units.up(longer.y * 2.0)
                        ));
                }
            }
            half
        }
        None if casting => with_witnesses(piece, reach, least.ceil()),
        None => least.ceil(),
    };
    let span = 2.0 * half.length();
    let overpour = if casting {
        let least = overpour_mm(deepest_pour, shrink, LEVEL_SLOPE, span);
        let chosen = (least * 10.0).ceil() / 10.0;
        figures.put(
            "pour.over",
            Figure::new(
                chosen,
                "mm",
                "over-pour ≥ shrink · depth + slope · span + 0.5 mm",
                vec![
                    Input::literal(shrink, "1", "shelf: resin, shrink"),
                    Input::literal(deepest_pour, "mm", "depth of the deepest hollow"),
                    Input::literal(LEVEL_SLOPE, "mm/m", "a good level's limit"),
                    Input::literal(span, "mm", "diagonal of the blank"),
                ],
                Source::CommonPractice,
            ),
        );
        chosen
    } else {
        0.0
    };
    let all = Allowances {
        height: piece.height,
        beyond_foot,
        beyond_rim,
        levelling,
        half,
        overpour,
        rest: rest.map_or(Rest::No, |leave| Rest::Ahead { leave }),
    };
    figures.put(
        "blank.thickness",
        Figure::new(
            all.thickness(),
            "mm",
            if rest.is_some() { "T0 = a_f + H + a_r + a_n + ℓ" } else { "T0 = a_f + H + a_r + ℓ" },
            vec![
                Input::literal(beyond_foot, "mm", "waste beyond the foot a_f"),
                Input::literal(piece.height, "mm", "job: piece.height"),
                Input::figure("blank.beyond_rim"),
                Input::literal(levelling, "mm", "planned loss when levelling ℓ"),
            ]
            .into_iter()
            .chain(
                rest.map(|_| Input::literal(FACED_AGAIN, "mm", "faced again after the rest, a_n (as much is in a_f)")),
            )
            .collect(),
            Source::Derived,
        ),
    );
    all
}

/// Where the two depth witnesses lie, rim face up, in the order of [`witnesses`].
pub(crate) const WITNESS_WORDS: [&str; 2] = ["front right", "back left"];

/// Centres of the two depth witnesses in opposite corners of a blank, piece frame.
pub(crate) fn witnesses(half: DVec2) -> [DVec2; 2] {
    let c = half - DVec2::splat(WITNESS_EDGE + WITNESS_SIDE / 2.0);
    [DVec2::new(c.x, -c.y), DVec2::new(-c.x, c.y)]
}

/// The blank made longer along the grain until both depth witnesses lie clear of the dam; as it is where they do.
fn with_witnesses(piece: &Piece, hollow_reach: f64, half: DVec2) -> DVec2 {
    let outline = Region { rings: vec![piece.outline.parallel(0.0, 0.05)] };
    let dam = outline.offset(hollow_reach + DAM_OFFSET, 0.05);
    let r = DVec2::splat(WITNESS_SIDE / 2.0 + 1.0);
    let clear = |c: DVec2| dam.common(&Region::rectangle(c - r, c + r)).area() <= 0.0;
    let steps = WITNESS_GROWTH as usize;
    let longer = |k: usize| half + DVec2::new(k as f64, 0.0);
    (0..=steps).map(longer).find(|&h| witnesses(h).into_iter().all(clear)).unwrap_or(longer(steps))
}

/// How far the hollows of a job run out beyond the outline: wide drips run out by half their width and a millimetre.
pub(crate) fn hollow_reach(job: &Job, piece: &Piece) -> f64 {
    job.casts.iter().fold(HOLLOW_BEYOND, |reach, cast| match &cast.form {
        CastForm::RimDrips { width, .. } => reach.max(1.0 + width.value[1].as_mm() / 2.0),
        CastForm::RingBand { .. } => reach,
        CastForm::River { .. } | CastForm::Speckle { .. } => {
            reach.max(shape::cast::reach_beyond(&piece.outline, cast, job.seed))
        }
    })
}

/// Least waste beyond the rim so that the fillet a ball leaves above the flange lies in waste.
pub(crate) fn parting_rule(rim_slope_deg: f64, ball_radius: f64) -> f64 {
    waste_needed(FLANGE, ball_radius, rim_slope_deg)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice: a 1/4 in ball leaves 3.2 mm on an upright wall, 1.6 at 60°, 0.4 at 30°.
    #[test]
    fn fillet_above_the_flange() {
        for (slope, fillet) in [(90.0, 3.175), (60.0, 1.5875), (30.0, 0.4254)] {
            assert!((parting_rule(slope, 3.175) - FLANGE - 0.4 - fillet).abs() < 1e-3);
        }
    }
}
