//! What is left of wall and floor if the turning over is off by all that the sheet and the machine allow, and how far a cast
//! then lies off the piece.
//!
//! What a place loses is the closed form of `trade::figures::flip`, at the places and normals of the skin itself.

use super::wall::{Maps, Thin, UNKNOWN, gouged};
use crate::case::{Case, SetupCase};
use crate::skin::{Point, spread_over};
use crate::verdict::{Check, Where};
use glam::{DAffine3, DVec3};
use trade::figures::flip::{Errors, Place, expected, worst};
use workpiece::{Alignment, Face};

/// At least so much of the wall asked for must be left, and less than the second is on watch (common practice, no source).
const LEFT: [f64; 2] = [0.6, 0.85];
/// A cast may lie so far off the piece: what runs clearly through a skin, or clearly within it, stays so, mm (common practice,
/// no source).
const CAST_OFF: f64 = 1.0;
/// Distance of the places looked at on a cast, mm.
const APART: f64 = 3.0;

/// A place of a skin in the frame of the program that follows the turn; `top` is the height of the face its zero is on.
fn place(at: DVec3, normal: DVec3, top: f64) -> Place {
    Place { x: at.x, y: at.y, depth: top - at.z, normal: normal.to_array() }
}

/// A setup that is found by readings, with what it may be off by.
struct Found<'a, 'e> {
    of: &'a SetupCase<'e>,
    by: &'e Alignment,
    errors: Errors,
    to_program: DAffine3,
}

impl<'a, 'e> Found<'a, 'e> {
    /// `None` if its readings are not told, or are none.
    fn of(case: &Case<'e>, of: &'a SetupCase<'e>) -> Option<Self> {
        let by = of.setup.alignment.as_ref().filter(|by| by.is_known())?;
        let to_program = of.frame.program_to_piece.inverse();
        Some(Self { of, by, errors: by.errors(&case.evidence.machine), to_program })
    }

    /// A place of the piece's skin, in the frame of the program that follows the turn.
    fn place_of(&self, p: &Point) -> Place {
        let (at, normal) = (self.to_program.transform_point3(p.at), self.to_program.transform_vector3(p.normal));
        // Foot up, the face that the zero is on lies at 0, below; rim up, it is the top of the stock.
        let top = if self.of.setup.face_up == Face::Rim { self.of.setup.stock.max[2] } else { 0.0 };
        let depth_of = place(at, normal, top);
        Place { depth: depth_of.depth.abs(), ..depth_of }
    }

    fn losses(&self, errors: &Errors, p: &Point) -> trade::figures::flip::Losses {
        errors.losses(&self.place_of(p))
    }
}

/// The setup whose zero is found again after the turn, if the two skins are finished with different faces up.
fn second<'a, 'e>(case: &'a Case<'e>) -> Option<&'a SetupCase<'e>> {
    let finishing = |face: Face| case.setups.iter().rposition(|of| of.setup.finishes_skin && of.setup.face_up == face);
    Some(&case.setups[finishing(Face::Rim)?.max(finishing(Face::Foot)?)])
}

/// What the setup after the turn may be off by, and these places of the inside in its frame; `None` where nothing is turned, or its
/// readings are unknown.
pub(crate) fn turned<'p>(case: &Case<'_>, points: impl Iterator<Item = &'p Point>) -> Option<(Errors, Vec<Place>)> {
    let found = Found::of(case, second(case)?)?;
    Some((found.errors, points.map(|p| found.place_of(p)).collect()))
}

/// What a place of the inside skin loses, mm: nothing, all at once, and what is to be expected. Not a number if the readings of
/// the setup are unknown.
pub(crate) fn losses(case: &Case<'_>) -> impl Fn(&Point) -> [f64; 3] + Sync {
    let turned = second(case).map(|of| Found::of(case, of));
    move |p| match &turned {
        None => [0.0; 3],
        Some(None) => [0.0, f64::INFINITY, f64::INFINITY],
        Some(Some(found)) => {
            let each = found.losses(&found.errors, p);
            [0.0, worst(&each), expected(&each)]
        }
    }
}

/// Wall and floor, with all errors at once and with those to be expected; `None` without a piece.
pub(crate) fn judge(case: &Case<'_>, gouges: Option<&[f64]>, thin: Option<[&Thin; 2]>, maps: &Maps) -> Vec<Check> {
    let Some(of) = second(case) else { return Vec::new() };
    let titles = [
        ("flip-wall", "Least wall if the turning over is off by all that is allowed"),
        ("flip-floor", "Least floor if the turning over is off by all that is allowed"),
    ];
    let facts = &case.evidence.piece;
    let all_uncomputed = |why: &str| titles.into_iter().map(|(id, title)| Check::uncomputed(id, title, why)).collect();
    let (Some([worst, likely]), Some(gouges)) = (thin, gouges) else { return all_uncomputed(UNKNOWN) };
    let Some(Found { by, .. }) = Found::of(case, of) else {
        return all_uncomputed("the setup does not tell by which readings it is found");
    };
    let machine = &case.evidence.machine;
    let gouged = gouged(gouges);
    let check = |(k, (id, title)): (usize, (&str, &str))| {
        let asked = [facts.wall, facts.floor][k];
        let (Some((least, at)), Some((usual, _))) = (worst[k], likely[k]) else {
            return Check::uncomputed(id, title, "the piece has no such skin that could be measured");
        };
        let left = least - gouged;
        Check::at_least(id, title, left, LEFT[0] * asked, "mm")
            .at(Where { setup: Some(of.setup.id.clone()), at: Some(at.to_array()), ..Where::default() })
            .mapped(maps[k].clone())
            .remedy(
                "Find the edges closer than the sheet allows, set the axes square and the spindle upright (the flip coupon shows \
                 by how much they are off), or ask for a thicker wall or floor.",
            )
            .assuming(format!(
                "the middle off by {:.2} mm, the edge askew by {:.2} mm in {:.0} mm, heights off by {:.2} mm and {:.2} mm by the tape, \
                 a tilt of {:.2} mm in {:.0} mm, axes out of square by {} mm/m and a spindle that leans by {} mm/m, doubled by the \
                 turn, all at once; {:.2} mm is what to expect",
                by.centre,
                by.edge_differs,
                by.edge_apart,
                by.height,
                by.tape,
                by.heights_differ,
                by.heights_apart[0],
                machine.squareness_mm_m,
                machine.lean_mm_m,
                usual - gouged
            ))
            .watched(left < LEFT[1] * asked)
    };
    titles.into_iter().enumerate().map(check).collect()
}

/// How far the casts may lie off the piece: hollow and outside are cut from different sides. None without a cast that is
/// followed by a turn.
pub(crate) fn judge_casts(case: &Case<'_>) -> Option<Check> {
    let (id, title) =
        ("flip-cast", "How far a cast lies off the piece, as expected, if readings are off by all that is allowed");
    let by_id = |id: &str| case.setups.iter().find(|of| of.setup.id == id);
    let (hollow, outside) = (by_id("cavity")?, by_id("outside")?);
    let Some((hollow, outside)) = Found::of(case, hollow).zip(Found::of(case, outside)) else {
        return Some(Check::uncomputed(id, title, "hollow or outside does not tell by which readings it is found"));
    };
    // What the machine is off by counts once for both.
    let of_hollow = Errors { square: 0.0, lean: 0.0, ..hollow.errors };
    let mut most: Option<(f64, f64, DVec3)> = None;
    for cast in &case.evidence.casts {
        let Some(mesh) = case.model(&cast.in_piece) else {
            return Some(Check::uncomputed(id, title, format!("the model {} is missing", cast.in_piece)));
        };
        for p in spread_over(mesh, APART, |_| true) {
            let each = [outside.losses(&outside.errors, &p), hollow.losses(&of_hollow, &p)].concat();
            let usual = expected(&each);
            if most.is_none_or(|m| usual > m.0) {
                most = Some((usual, worst(&each), p.at));
            }
        }
    }
    let (usual, all, at) = most?;
    let check = Check::at_most(id, title, usual, CAST_OFF, "mm")
        .at(Where { setup: Some(outside.of.setup.id.clone()), at: Some(at.to_array()), ..Where::default() })
        .remedy(
            "Find the blank closer than the sheet allows in the first and in the third setup, or set the axes square.",
        )
        .assuming(format!("{all:.2} mm if all is off at once"))
        .watched(all > CAST_OFF);
    Some(check)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a place 70 mm below the face of the zero and 90 mm behind the axis of the turn, seen in the program's frame.
    #[test]
    fn a_place_is_as_deep_as_it_lies_below_the_zero() {
        let machine_is_off = Errors { square: 0.5e-3, lean: 1e-3, ..Errors::default() };
        let lost = machine_is_off.losses(&place(DVec3::new(40.0, -90.0, -65.0), DVec3::NEG_X, 5.0));
        assert!((worst(&lost) - (0.09 + 0.14)).abs() < 1e-12);
        assert!((expected(&lost) - 0.09f64.hypot(0.14)).abs() < 1e-12);
    }
}
