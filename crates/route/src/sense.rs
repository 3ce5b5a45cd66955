//! Climb or conventional, and why: what backlash, grain and the edges of resin ask for.
//!
//! The spindle turns clockwise seen from above, so where a cutter touches a wall its edges run to the left of the wall's normal
//! (`v = z × n`), whichever way the cutter goes round. What the sense settles is the chip: in climb it ends at the wall, thin; in
//! conventional it begins there and lifts what it meets out of the wall. Only on a plane does the sense turn the edges' way:
//! on a ring around what stays they run inwards in climb, outwards in conventional.
//!
//! Everything is told in the machine's frame, boards along X. All but closed forms is common practice, no source.

use crate::setups::Shop;
use base::{Figure, Input, Source};
use geom::{DVec2, DVec3};
use shape::Piece;
use std::ops::RangeInclusive;
use trade::shelf::{Sense, Task};

/// With more backlash than this roughing is conventional, mm. Common practice, no source.
const PLAY: f64 = 0.05;
/// Fibres tear where, followed ahead of an edge, they dive into the work this steeply, degrees: less steep they lie in the skin,
/// steeper they are end grain, which crumbles rather than splits. Common practice, no source.
const TEARING_DEG: RangeInclusive<f64> = 10.0..=60.0;
/// Where the walls lie that are met against the grain, as a piece lies on the machine: see [`tears`].
const QUARTERS: &str = "back right and front left as it lies";
/// Less of a skin than this is none.
const NONE: f64 = 0.005;
/// Heights at which a skin is looked at.
const LEVELS: u32 = 64;
/// Its sections keep within this of the true curve, mm.
const SECTION: f64 = 0.002;
/// Ground less steep than this counts as a plane, degrees.
const LEVEL_DEG: f64 = 2.0;
/// Edges of the rim whose angles differ by less are as sharp as each other, degrees.
const SAME_EDGE_DEG: f64 = 1.0;

impl Shop<'_> {
    /// The sense of a task's cut. Roughing on a machine with backlash is conventional: in climb the cutter would pull the table
    /// through its play. All else is climb.
    pub(crate) fn sense(&self, task: Task) -> Sense {
        match self.settled_sense(task) {
            Some(sense) => sense,
            None if task.roughs() && self.machine.backlash > PLAY => Sense::Conventional,
            None => Sense::Climb,
        }
    }

    /// The sense of a task and why, in a sentence; skins have [`Shop::skin_words`].
    pub(crate) fn sense_words(&self, task: Task) -> String {
        let sense = self.sense(task);
        let because = match sense {
            _ if self.settled_sense(task).is_some() => "as settled in shop.toml",
            Sense::Conventional => "for in climb the cutter would pull the machine through its backlash",
            Sense::Climb if task.roughs() => "for the machine has little backlash",
            Sense::Climb => "for a clean skin",
        };
        format!("In {}, {because}.", sense.words())
    }

    fn settled_sense(&self, task: Task) -> Option<Sense> {
        self.shelf.choices.iter().find(|c| c.task == task).and_then(|c| c.sense)
    }

    /// Where a ball makes skin: the sense and why, in a sentence, and the share of the skin that is met against the grain.
    pub(crate) fn skin_words(&self, task: Task) -> Option<(String, Figure)> {
        let skin = Skin::of(task)?;
        let (share, sense) = (against(self.piece, skin), self.sense(task));
        let settled = if self.settled_sense(task).is_some() { ", as settled in shop.toml" } else { "" };
        let met = if share < NONE {
            "its edges meet nothing of this skin against the grain".to_owned()
        } else {
            let resin = if self.resin { " and edges of resin" } else { "" };
            let then = match sense {
                Sense::Climb => {
                    format!("conventional would lift fibres{resin} out of the wall there, climb ends its chip thin")
                }
                Sense::Conventional => format!("look there for fibres{resin} lifted out of the wall"),
            };
            format!(
                "either way round its edges meet {:.0} % of this skin against the grain, {QUARTERS}; {then}",
                100.0 * share
            )
        };
        let says = format!("The ball finishes in {}{settled}: {met}.", sense.words());
        let from = vec![
            Input::literal(*TEARING_DEG.start(), "°", "fibres dive ahead of the edge from"),
            Input::literal(*TEARING_DEG.end(), "°", "to"),
            Input::literal(f64::from(LEVELS), "1", "sections of the wall, edges run along z × normal"),
        ];
        Some((
            says,
            Figure::new(share, "1", "skin met against the grain / skin of the walls", from, Source::CommonPractice),
        ))
    }

    /// Why the rim is faced in climb, in a sentence, and the angle of its outer edge.
    pub(crate) fn rim_words(&self) -> (String, Figure) {
        let [outer, inner] = rim_edges_deg(self.piece);
        let chips = if self.resin { "resin chips" } else { "wood breaks" };
        let over = if self.rim_round > 0.0 {
            "the outer edge and out over the inner, which the ball rounds afterwards".to_owned()
        } else if inner - outer < SAME_EDGE_DEG {
            "the outer edge and out over the inner, as sharp but shorter and less seen".to_owned()
        } else {
            format!("the outer edge, the sharper ({outer:.0}°), and out over the inner ({inner:.0}°)")
        };
        let says = format!(
            "The last pass over the rim is a ring in climb: its teeth run in over {over}; {chips} where they run out."
        );
        let from = Input::literal(outer, "°", "slope of the outside at the rim");
        (
            says,
            Figure::new(outer, "°", "outer edge of the rim = slope of the outside there", vec![from], Source::Derived),
        )
    }
}

/// Skins that a ball finishes in sight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Skin {
    /// Cut rim up.
    Inside,
    /// Cut foot up.
    Outside,
}

impl Skin {
    const fn of(task: Task) -> Option<Self> {
        match task {
            Task::FinishInside => Some(Self::Inside),
            Task::FinishOutside => Some(Self::Outside),
            _ => None,
        }
    }
}

/// Angles of wood or resin at the outer and the inner edge of the rim, degrees. Walls never lean over, so that the outer is never
/// the blunter of the two.
fn rim_edges_deg(piece: &Piece) -> [f64; 2] {
    [piece.rim_slope_deg, 180.0 - piece.inside_slope_deg(piece.height)]
}

/// Share of a skin's walls that the edges meet against the grain.
fn against(piece: &Piece, skin: Skin) -> f64 {
    let lowest = if skin == Skin::Inside { piece.floor_z } else { 0.0 };
    let (mut met, mut all) = (0.0, 0.0);
    for k in 0..LEVELS {
        let z = lowest + (piece.height - lowest) * (f64::from(k) + 0.5) / f64::from(LEVELS);
        let (inset, slope) = match skin {
            Skin::Inside => (piece.inside_inset(z), piece.inside_slope_deg(z)),
            Skin::Outside => (piece.outside_inset(z), piece.outside_slope_deg(z)),
        };
        if slope < LEVEL_DEG {
            continue;
        }
        let (sin, cos) = slope.to_radians().sin_cos();
        for (a, b) in piece.outline.parallel(inset, SECTION).sides() {
            let outward = -(b - a).normalize_or_zero().perp();
            // Turned over about X for the outside.
            let level = if skin == Skin::Inside { -outward } else { DVec2::new(outward.x, -outward.y) };
            let area = a.distance(b) / sin;
            all += area;
            if tears((level * sin).extend(cos)) {
                met += area;
            }
        }
    }
    if all > 0.0 { met / all } else { 0.0 }
}

/// Whether fibres along X tear where a cutter makes a skin with this normal, which points out of the work: whether, followed
/// ahead of the edge, they dive into it. That is so only where the normal's x and y have the same sign.
fn tears(normal: DVec3) -> bool {
    let ahead = normal.truncate().normalize_or_zero().perp().x;
    let dive = (-normal.x * ahead.signum()).atan2(ahead.abs());
    TEARING_DEG.contains(&dive.to_degrees())
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::FileId;

    fn piece(outline: &str, inside: &str) -> Piece {
        drafted(outline, inside, 0.0)
    }

    fn drafted(outline: &str, inside: &str, draft: f64) -> Piece {
        let text = format!(
            r##"
            title = "Bowl"
            [piece]
            outline = {{ {outline} }}
            height = 40
            wall = 8
            floor = 8
            floor_radius = 8
            outside = {{ kind = "straight", draft = {draft} }}
            inside = {inside}
            foot = {{ kind = "pad" }}
            [blank]
            wood = "black cherry"
            boards = "8/4"
            [route]
            kind = "two-sided"
            scallop = 0.02
            finish = "shellac"
            "##
        );
        let (job, report) = job::parse(&text, FileId(0));
        let job = job.unwrap_or_else(|| panic!("{report:#?}"));
        let (piece, report) = shape::piece(&job.piece, 0.05);
        piece.unwrap_or_else(|| panic!("{report:#?}"))
    }

    /// Brute force: a point of the edge is turned a little further about the spindle's axis, clockwise; a fibre through the
    /// place on the wall is followed the same way, and lies in the work or not.
    #[test]
    fn an_edge_turned_about_its_axis_meets_the_fibres_as_told() {
        for k in 0..720 {
            let (sin, cos) = (f64::from(k) * 0.5 + 0.25).to_radians().sin_cos();
            let normal = DVec2::new(cos, sin);
            let turned = DVec2::from_angle(-1e-4).rotate(-normal) + normal; // where the edge at the wall is next
            let fibre = DVec2::X * turned.x.signum();
            let dive = (-fibre.dot(normal)).atan2(fibre.dot(turned.normalize()));
            assert_eq!(tears(normal.extend(0.0)), (10.0..=60.0).contains(&dive.to_degrees()), "{normal}");
            // In the sectors of a quarter turn apart that the words name: the wall of a hollow lies against its normal.
            assert!(!tears(normal.extend(0.0)) || normal.x * normal.y > 0.0);
        }
        assert!(!tears(DVec3::Z), "fibres lie in a plane");
    }

    /// Upright round walls: all angles are as frequent, half of them run against the grain: (60° − 10°)/180°. Corners of a quarter
    /// circle on straight walls: 50°/90° of two of the four.
    #[test]
    fn shares_of_upright_walls_are_closed_forms() {
        let round = piece("kind = \"circle\", diameter = 160", "{ kind = \"follow\" }");
        assert!((against(&round, Skin::Outside) - 50.0 / 180.0).abs() < 0.005, "{}", against(&round, Skin::Outside));
        let (length, width, corner) = (200.0, 120.0, 30.0);
        let tray = piece(
            &format!("kind = \"rounded-rectangle\", length = {length}, width = {width}, corner = {corner}"),
            "{ kind = \"follow\" }",
        );
        let quarter = std::f64::consts::FRAC_PI_2 * corner;
        let whole = 2.0 * (length + width - 4.0 * corner) + 4.0 * quarter;
        let exact = 2.0 * quarter * (50.0 / 90.0) / whole;
        assert!((against(&tray, Skin::Outside) - exact).abs() < 0.003, "{} {exact}", against(&tray, Skin::Outside));
        // On a cone of slope α fibres dive by atan(sin α · tan θ) where they would by θ on an upright wall.
        let cone = drafted("kind = \"circle\", diameter = 160", "{ kind = \"follow\" }", 30.0);
        let upright = |dive: f64| (dive.to_radians().tan() / 60.0_f64.to_radians().sin()).atan().to_degrees();
        let exact = (upright(60.0) - upright(10.0)) / 180.0;
        assert!((against(&cone, Skin::Outside) - exact).abs() < 0.005, "{} {exact}", against(&cone, Skin::Outside));
    }

    /// A wall that leans by its draft: a sharp outer edge, an inner one that is blunt by as much.
    #[test]
    fn the_outer_edge_of_a_rim_is_the_sharper() {
        let text = "{ kind = \"follow\" }";
        let [outer, inner] = rim_edges_deg(&drafted("kind = \"circle\", diameter = 160", text, 20.0));
        assert!((outer - 70.0).abs() < 1e-9 && (inner - 110.0).abs() < 1e-9, "{outer} {inner}");
    }
}
