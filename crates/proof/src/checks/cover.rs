//! Cover: how thick resin stands over wood and wood over resin along the normal, and how steeply they cross the skin.

use crate::bed::Bed;
use crate::case::Case;
use crate::map::{Painter, Shown};
use crate::replay::Replay;
use crate::skin::{Point, spread};
use crate::verdict::{Check, Where};
use glam::{DAffine3, DVec3};
use rayon::prelude::*;
use workpiece::Face;

/// Least skin of resin over wood: where it hides the wood, and where light passes; of wood over resin, mm (common practice,
/// no source).
const RESIN_SKIN: [f64; 2] = [1.5, 3.0];
const WOOD_SKIN: f64 = 2.0;
/// How deep under the skin a boundary is looked for, mm.
const DEEP: f64 = 12.0;
/// Crossing angles: holds from, fails below, degrees.
const CROSSING: [f64; 2] = [45.0, 30.0];
/// Distance of the points, mm.
const APART: f64 = 0.7;
/// A ray begins this far under the skin, so as not to find the skin itself, mm.
const CLEAR: f64 = 0.02;
/// Crossings are read off where the skin over the boundary is thinner than this, mm.
const EDGE: f64 = 0.15;
/// Triangles handled together.
const CHUNK: usize = 256;

#[derive(Clone, Copy)]
struct Found {
    /// Thickness less what is wanted, mm.
    left: f64,
    thickness: f64,
    wanted: f64,
    at: DVec3,
}

#[derive(Clone, Default)]
struct Worst {
    cover: Option<Found>,
    crossing: Option<(f64, DVec3)>,
    resin: usize,
    /// Where in plan the boundary runs along under the skin, and how thick the skin over it is.
    covers: Vec<([f64; 2], f64)>,
}

/// All checks of one cast.
pub(crate) fn judge(case: &Case<'_>, cast: u16, replay: &Replay) -> Vec<Check> {
    let facts = &case.evidence.casts[usize::from(cast)];
    let name = &facts.name;
    let ids = [format!("resin-cover.{name}"), format!("crossing.{name}"), format!("resin-left.{name}")];
    let titles = [
        "Thinnest skin over the boundary of resin and wood",
        "Least angle of that boundary at the skin",
        "Resin left in the piece against the drawn amount",
    ];
    let models = (case.model(&facts.hollow), case.model(&case.evidence.piece.model), case.model(&facts.in_piece));
    let ((Some(hollow), Some(piece), Some(in_piece)), Some(body)) = (models, case.piece(Face::Rim)) else {
        return ids
            .into_iter()
            .zip(titles)
            .map(|(id, t)| Check::uncomputed(id, t, "a model of the cast is missing"))
            .collect();
    };
    let [cover_id, crossing_id, left_id] = ids;
    let resin_skin = RESIN_SKIN[usize::from(facts.translucent)];
    let worst = look(hollow, (piece, body), resin_skin);
    let mut painter = Painter::over_piece(piece, Shown::Least);
    worst.covers.iter().for_each(|&(at, thickness)| painter.dot(at, thickness));
    let cover = match worst.cover {
        Some(f) => Check::at_least(cover_id, titles[0], f.thickness, f.wanted, "mm").at(place(f.at)),
        None if worst.resin > 0 => Check::at_least(cover_id, titles[0], DEEP, resin_skin.max(WOOD_SKIN), "mm")
            .assuming(format!("no boundary of resin and wood runs along under the skin within {DEEP:.0} mm of it; steeper ones are judged by their angle")),
        None => Check::uncomputed(cover_id, titles[0], "no resin shows on the skin of the piece"),
    };
    let cover = cover
        .mapped(painter.finish(titles[0], "mm", None))
        .remedy("Move the cast clearly through the surface or clearly inside it, or make it deeper.");
    let measured = worst.crossing.map_or(90.0, |c| c.0);
    let angle = measured.min(facts.crossing_deg);
    let crossing = Check::at_least(crossing_id, titles[1], angle, CROSSING[1], "°")
        .maybe_at(worst.crossing.map(|c| place(c.1)))
        .watched(angle < CROSSING[0])
        .remedy("Let the cast meet the surface more steeply: thin feather edges flake.");
    vec![cover, crossing, left(case, cast, left_id, titles[2], in_piece.volume() / 1000.0, replay)]
}

fn place(at: DVec3) -> Where {
    Where { at: Some(at.to_array()), ..Where::default() }
}

/// The columns must hold the resin that was drawn: nothing carved away that should show.
fn left(case: &Case<'_>, cast: u16, id: String, title: &str, drawn: f64, replay: &Replay) -> Check {
    let Some(&made) = replay.made_ml.get(1 + usize::from(cast)) else {
        return Check::uncomputed(id, title, "the route could not be carried through");
    };
    let promise = &case.evidence.promise;
    let area = case.model(&case.evidence.casts[usize::from(cast)].in_piece).map_or(0.0, |m| m.area() / 1000.0);
    let limit = 0.01 * drawn + area * (0.15 + promise.scallop + promise.leftover);

    Check::at_most(id, title, (made - drawn).abs(), limit, "ml")
        .remedy(format!("{made:.1} ml of resin are left where {drawn:.1} ml were drawn."))
}

fn look(hollow: &geom::Mesh, (piece, body): (&geom::Mesh, &Bed), resin_skin: f64) -> Worst {
    let resin = Bed::new(&[hollow], &DAffine3::IDENTITY);
    let Some((low, high)) = hollow.bounds() else { return Worst::default() };
    let indices: Vec<usize> = (0..piece.triangles.len()).collect();
    let parts: Vec<Worst> = indices
        .par_chunks(CHUNK)
        .map(|chunk| {
            let mut points: Vec<Point> = Vec::new();
            for &i in chunk {
                let t = piece.corners(i);
                let (min, max) = (t[0].min(t[1]).min(t[2]), t[0].max(t[1]).max(t[2]));
                if min.cmple(high + DEEP).all() && max.cmpge(low - DEEP).all() {
                    spread(&t, APART, &mut points);
                }
            }
            points.iter().fold(Worst::default(), |worst, p| judge_point(&resin, body, (p, resin_skin), worst))
        })
        .collect();
    parts.into_iter().fold(Worst::default(), |mut all, w| {
        all.resin += w.resin;
        all.covers.extend(w.covers);
        if let Some(f) = w.cover.filter(|f| all.cover.is_none_or(|a| f.left < a.left)) {
            all.cover = Some(f);
        }
        if let Some(c) = w.crossing.filter(|c| all.crossing.is_none_or(|a| c.0 < a.0)) {
            all.crossing = Some(c);
        }
        all
    })
}

fn judge_point(resin: &Bed, body: &Bed, (p, resin_skin): (&Point, f64), mut worst: Worst) -> Worst {
    let inside = resin.holds(p.at - p.normal * 1e-3);
    worst.resin += usize::from(inside);
    let wanted = if inside { resin_skin } else { WOOD_SKIN };
    let Some((thickness, normal)) = resin.ray(p.at, -p.normal, DEEP) else { return worst };
    let angle = normal.dot(p.normal).abs().min(1.0).acos().to_degrees();
    if thickness < EDGE && worst.crossing.is_none_or(|c| angle < c.0) {
        worst.crossing = Some((angle, p.at));
    }
    // A boundary that rises steeply to the skin is a crossing; one that runs along under it is a thin skin.
    // Resin beyond the other skin of the piece is not under this one.
    let in_body = || body.ray(p.at - p.normal * CLEAR, -p.normal, thickness - 2.0 * CLEAR).is_none();
    if angle < CROSSING[1] && (thickness <= 2.0 * CLEAR || in_body()) {
        worst.covers.push((p.at.truncate().to_array(), thickness));
        let left = thickness - wanted;
        if worst.cover.is_none_or(|c| left < c.left) {
            worst.cover = Some(Found { left, thickness, wanted, at: p.at });
        }
    }
    worst
}
