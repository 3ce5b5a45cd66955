//! Frames: rotations only (a mirrored heart or word cannot be written), spindle upright; models closed, and every target
//! holds the piece.

use crate::CastFacts;
use crate::bed::Bed;
use crate::case::{Case, SetupCase};
use crate::skin::{FAR, Point, spread_over};
use crate::verdict::{Check, Where};
use geom::Mesh;
use glam::{DAffine3, DVec3};
use rayon::prelude::*;
use workpiece::Change;

/// How far a matrix of nine digits may be from a rotation.
const ROUNDING: f64 = 1e-6;

/// Distance of the points at which targets are compared with the piece, mm.
const APART: f64 = 1.0;

/// Judges one setup's frame.
pub(crate) fn judge(of: &SetupCase<'_>) -> Check {
    let (off, determinant) = of.frame.deviation(of.setup);
    let mirrored = if determinant > 0.0 { 0.0 } else { 2.0 };
    Check::at_most(of.id("frames"), "Frame of the setup: distance from a rotation", off.max(mirrored), ROUNDING, "1")
        .at(of.here())
        .remedy("The frame must be a rotation about the spindle (or a turn over) and a shift, never a mirror.")
}

/// Models with an open skin: what is not a solid cannot be judged against.
pub(crate) fn judge_models(case: &Case<'_>) -> Check {
    let open: Vec<&String> =
        case.evidence.models.iter().filter(|(_, m)| !m.is_closed()).map(|(name, _)| name).collect();
    let check = Check::at_most("models", "Models whose skin is not closed", open.len() as f64, 0.0, "1");
    check
        .remedy(format!("Make these solids whole: {}.", open.iter().map(|s| s.as_str()).collect::<Vec<_>>().join(", ")))
}

/// What a setup must leave holds the piece: a target that lacks a part of it would let the programs cut that part away.
pub(crate) fn judge_targets(case: &Case<'_>) -> Check {
    let (id, title) = ("targets", "Piece outside of what the setups must leave");
    let Some(piece) = case.model(&case.evidence.piece.model) else {
        return Check::uncomputed(id, title, "the model of the piece is missing");
    };
    // Both solids are true within the chord tolerance.
    let limit = 2.0 * case.evidence.promise.chord + 1e-3;
    let points = spread_over(piece, APART, |_| true);
    let mut worst: Option<(f64, DVec3, &SetupCase<'_>)> = None;
    for of in &case.setups {
        let Some(target) = case.model(&of.setup.target) else {
            return Check::uncomputed(id, title, format!("the target of setup {} is missing", of.setup.id));
        };
        // What is to be resin is not there before its pour.
        let still_empty = hollows_before(case, &of.setup.id);
        let bed = Bed::new(&[target], &DAffine3::IDENTITY);
        let empty = Bed::new(&still_empty, &DAffine3::IDENTITY);
        let off = |bed: &Bed, at: DVec3| if bed.holds(at) { 0.0 } else { bed.distance(at, FAR, &|_, _| true).min(FAR) };
        let outside = |p: &Point| match off(&bed, p.at) {
            out if out > limit && off(&empty, p.at) <= limit => 0.0,
            out => out,
        };
        let farthest = points.par_iter().map(|p| (outside(p), p.at)).reduce_with(|a, b| if b.0 > a.0 { b } else { a });
        if let Some((off, at)) = farthest.filter(|f| worst.as_ref().is_none_or(|w| f.0 > w.0)) {
            worst = Some((off, at, of));
        }
    }
    let Some((off, at, of)) = worst else {
        return Check::uncomputed(id, title, "the piece has no skin, or there is no setup");
    };
    Check::at_most(id, title, off, limit, "mm").at(Where { at: Some(at.to_array()), ..of.here() }).remedy(format!(
        "The target of setup {} lacks a part of the piece (1 mm stands for more): plan again.",
        of.setup.id
    ))
}

/// Hollows of the casts that are not poured yet when a setup is carved.
fn hollows_before<'c>(case: &'c Case<'_>, setup: &str) -> Vec<&'c Mesh> {
    let steps = &case.evidence.steps;
    let carved = steps.iter().position(|s| matches!(&s.change, Some(Change::Carve { setup: s }) if s == setup));
    let poured = |cast: usize| {
        steps.iter().position(|s| matches!(&s.change, Some(Change::Pour { cast: c, .. }) if usize::from(*c) == cast))
    };
    let later = |&(cast, _): &(usize, &CastFacts)| carved.is_some() && poured(cast) > carved;
    case.evidence.casts.iter().enumerate().filter(later).filter_map(|(_, c)| case.model(&c.hollow)).collect()
}
