//! The tightest hollow roundings of a piece: what the cutters must be fine enough for.
//!
//! A ball makes a hollow rounding if its radius is no larger, in the section and in plan. In plan a wall that leans by
//! the slope α from horizontal is less hollow than its outline: its radius is ρ / sin α (Meusnier's theorem).

use shape::Piece;
use shape::profile::{Profile, Stretch};

/// Heights at which walls are looked at.
const LEVELS: u32 = 256;
/// What a ball may leave in the corner between two straight stretches of a section, mm.
const IN_CORNER: f64 = 0.01;
/// Turns below this are none, radians.
const EVEN: f64 = 1e-6;

/// A least radius, mm, infinite where nothing is hollow, of each kind of rounding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Concave {
    /// Between inside wall and floor, and any hollow of the inside's section.
    pub(crate) inside_section: f64,
    /// Corners of the inside seen from above.
    pub(crate) inside_plan: f64,
    /// Hollows of the outside's section.
    pub(crate) outside_section: f64,
    /// Waists of the outside seen from above.
    pub(crate) outside_plan: f64,
    /// Corners of the foot's recess seen from above.
    pub(crate) recess: f64,
}

impl Concave {
    /// Measures a piece on its exact curves.
    pub(crate) fn of(piece: &Piece) -> Self {
        let section = piece.section();
        let (corner, waist) = (piece.outline.reach_inwards(), piece.outline.reach_outwards());
        let plan = |from: f64, radius: &dyn Fn(f64) -> f64, slope_deg: &dyn Fn(f64) -> f64| {
            let heights = (0..=LEVELS).map(|k| from + (piece.height - from) * f64::from(k) / f64::from(LEVELS));
            heights.map(|z| radius(z) / slope_deg(z).to_radians().sin().max(1e-9)).fold(f64::INFINITY, f64::min)
        };
        Self {
            // Both profiles run down from the rim: the hollow of the inside is to their left, the outside to their right.
            inside_section: tightest(&section.inside, 1.0),
            outside_section: tightest(&section.outside, -1.0),
            inside_plan: plan(piece.floor_z, &|z| corner - piece.inside_inset(z), &|z| piece.inside_slope_deg(z)),
            outside_plan: plan(0.0, &|z| waist + piece.outside_inset(z), &|z| piece.outside_slope_deg(z)),
            recess: piece.recess.map_or(f64::INFINITY, |[_, land]| corner - piece.foot_inset - land),
        }
    }
}

/// Least radius of the arcs that turn to the given side: 1 left, −1 right; and of the corners between lines, where a ball may
/// leave [`IN_CORNER`]: chords of an arc within that of it let in the ball that the arc lets in.
fn tightest(profile: &Profile, side: f64) -> f64 {
    let radius = |stretch: &Stretch| match *stretch {
        Stretch::Arc { radius, from, to, .. } if (to - from) * side > 0.0 => radius,
        _ => f64::INFINITY,
    };
    let corner = |pair: &[Stretch]| {
        let (Stretch::Line { .. }, Stretch::Line { .. }) = (pair[0], pair[1]) else { return f64::INFINITY };
        let (before, after) = (pair[0].heading(1.0), pair[1].heading(0.0));
        let turn = before.perp_dot(after).atan2(before.dot(after)) * side;
        if turn > EVEN { IN_CORNER / (1.0 / (turn / 2.0).cos() - 1.0) } else { f64::INFINITY }
    };
    let arcs = profile.stretches.iter().map(radius).fold(f64::INFINITY, f64::min);
    profile.stretches.windows(2).map(corner).fold(arcs, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn concave(outline: &str, outside: &str, rest: &str) -> Concave {
        let text = format!(
            "title = 'x'\n[piece]\noutline = {outline}\nheight = 40\nwall = 6\nfloor = 6\noutside = {outside}\n{rest}\n\
             [blank]\nwood = 'white ash'\nboards = '8/4'\n[route]\nkind = 'two-sided'\nscallop = 0.02\nfinish = 'shellac'\n"
        );
        let (job, report) = job::parse(&text, base::FileId(0));
        assert!(!report.has_errors(), "{report:?}");
        let (piece, report) = shape::piece(&job.unwrap().piece, 0.05);
        assert!(!report.has_errors(), "{report:?}");
        Concave::of(&piece.unwrap())
    }

    #[test]
    fn the_fillet_is_the_tightest_of_a_round_bowl() {
        let found = concave(
            "{ kind = 'circle', diameter = 160 }",
            "{ kind = 'straight', draft = 20 }",
            "floor_radius = 9\nrim_round = 1\ninside = { kind = 'follow' }\nfoot = { kind = 'recess', land = 8, depth = 1 }",
        );
        assert!((found.inside_section - 9.0).abs() < 1e-9);
        assert_eq!((found.outside_section, found.outside_plan), (f64::INFINITY, f64::INFINITY));
        // Circles: half the diameter less what foot and land are drawn in, 40 mm · tan 20° + 8 mm.
        let drawn_in = 40.0 * 20.0_f64.to_radians().tan() + 8.0;
        assert!((found.recess - (80.0 - drawn_in)).abs() < 1e-9);
        assert!(found.inside_plan > 50.0);
    }

    #[test]
    fn corners_lose_the_wall_and_an_ogee_is_hollow_outside() {
        let found = concave(
            "{ kind = 'rounded-rectangle', length = 200, width = 150, corner = 20 }",
            "{ kind = 'straight', draft = 0 }",
            "floor_radius = 9\ninside = { kind = 'follow' }\nfoot = { kind = 'pad' }",
        );
        // Upright walls: the corner's 20 mm less the wall's 6.
        assert!((found.inside_plan - 14.0).abs() < 1e-6, "{found:?}");
        let found = concave(
            "{ kind = 'circle', diameter = 160 }",
            "{ kind = 'ogee', foot_inset = 20 }",
            "floor_radius = 9\ninside = { kind = 'follow' }\nfoot = { kind = 'pad' }",
        );
        // The upper arc runs 3 mm in over 16 mm of height: ρ = (3² + 16²) / (2 · 3).
        assert!((found.outside_section - 265.0 / 6.0).abs() < 1e-9, "{found:?}");
    }
}
