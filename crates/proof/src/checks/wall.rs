//! Wall and floor of the made piece, along the normal, and its volume.

use crate::bed::Bed;
use crate::case::Case;
use crate::map::{Map, Painter, Shown};
use crate::replay::Replay;
use crate::skin::{Point, spread_over};
use crate::verdict::{Check, Where};
use glam::{DAffine3, DVec3};
use rayon::prelude::*;

/// Distance of the points at which walls are measured, mm.
const APART: f64 = 1.0;
/// Upright distance of the places shown in the maps, mm.
const STEP: f64 = 4.0;
/// A skin within this of level belongs to the inside wherever it lies: cosine of 18°.
const LEVEL: f64 = 0.95;
/// An underside within this of level is the foot's: cosine of 1°.
const FLAT: f64 = 0.9998;
/// Near the rim, within this many walls, the skins may round towards each other; there the rim is judged, not the wall.
const RIM: f64 = 0.6;
/// What columns may be off beyond the promise, mm: chords of arcs joined, heights in single precision.
const COLUMNS: f64 = 0.02;
/// Why nothing was measured.
pub(crate) const UNKNOWN: &str = "the model of the piece is missing, or the gouges of its setups are unknown";
/// Triangles handled together.
const CHUNK: usize = 256;

/// A least thickness and where it is.
pub(crate) type Least = Option<(f64, DVec3)>;

/// The least thickness over walls, over the floor, and over the mark under the foot.
pub(crate) type Thin = [Least; 3];

/// Least wall and least floor. `gouges`: the greatest depths found in the setups that finish the skin, `None` if one
/// could not be computed; `thin`: as drawn, `None` without a piece.
pub(crate) fn judge(case: &Case<'_>, gouges: Option<&[f64]>, thin: Option<&Thin>, maps: &Maps) -> Vec<Check> {
    let facts = &case.evidence.piece;
    let mut titles = vec![("wall", "Least wall of the made piece"), ("floor", "Least floor of the made piece")];
    let mut asked = vec![facts.wall, facts.floor];
    if let Some(mark) = &facts.mark {
        titles.push(("floor-over-mark", "Least floor over the mark under the foot"));
        asked.push(facts.floor - mark.depth);
    }
    let (Some(thin), Some(gouges)) = (thin, gouges) else {
        return titles.into_iter().map(|(id, title)| Check::uncomputed(id, title, UNKNOWN)).collect();
    };
    let lost = gouged(gouges);
    let promise = &case.evidence.promise;
    let allowed = 2.0 * (promise.gouge + promise.chord);
    let mut checks = Vec::new();
    for (k, (id, title)) in titles.into_iter().enumerate() {
        let asked = asked[k];
        let Some((least, at)) = thin[k] else {
            checks.push(Check::uncomputed(id, title, "the piece has no such skin that could be measured"));
            continue;
        };
        let remedy = "Ask for a thicker wall or floor, or find the gouge that eats it.";
        checks.push(
            Check::at_least(id, title, least - lost, asked - allowed, "mm")
                .at(Where { at: Some(at.to_array()), ..Where::default() })
                .mapped(maps.get(k).cloned().flatten())
                .remedy(remedy)
                .assuming(format!(
                    "the limit is the {asked:.2} mm asked for less {allowed:.3} mm, the promised accuracy of both skins; \
                     errors of the flip are judged by themselves"
                )),
        );
    }
    checks
}

/// What the two greatest gouges take: both skins may have been cut too deep at the same place.
pub(crate) fn gouged(gouges: &[f64]) -> f64 {
    let mut worst: Vec<f64> = gouges.to_vec();
    worst.sort_by(|a, b| b.total_cmp(a));
    worst.iter().take(2).sum()
}

/// The inside of the piece, ready to be measured.
pub(crate) struct Inside<'a> {
    piece: &'a geom::Mesh,
    points: Vec<Point>,
    /// What the inside is measured to: wall, floor, mark under the foot. The inside itself, always nearer, would be passed by with
    /// every question.
    skins: [Bed; 3],
    /// Thicker is told as this, mm.
    reach: f64,
}

/// Maps of the thickness under the inside skin: wall and floor.
pub(crate) type Maps = [Option<Map>; 2];

impl<'a> Inside<'a> {
    /// `None` without a piece.
    pub(crate) fn of(case: &Case<'a>) -> Option<Self> {
        let facts = &case.evidence.piece;
        let piece = case.model(&facts.model)?;
        let skin = |wanted: &dyn Fn(DVec3, DVec3) -> bool| Bed::of(&[piece], &DAffine3::IDENTITY, wanted);
        // What lies under the foot's flats is floor; what leans is wall, the lowest part of the outside included.
        let skins = [
            skin(&|n, c| n.z > -FLAT && faces_away(n, c) && !facts.in_mark(c.to_array())),
            skin(&|n, c| n.z <= -FLAT && !facts.in_mark(c.to_array())),
            skin(&|_, c| facts.in_mark(c.to_array())),
        ];
        let reach = 1.5 * facts.wall.max(facts.floor) + 2.0;
        Some(Self { piece, points: inside_points(case, piece), skins, reach })
    }

    /// Distance from the inside to the outside skin, the least of each: less each of what may be lost at a place.
    pub(crate) fn least<const N: usize>(&self, losses: &(dyn Fn(&Point) -> [f64; N] + Sync)) -> [Thin; N] {
        let reach = self.reach;
        let of_chunk = |chunk: &[Point]| {
            let mut least: [Thin; N] = [[None; 3]; N];
            for p in chunk {
                let lost = losses(p);
                for (k, skin) in self.skins.iter().enumerate() {
                    // Only what is thinner than the thinnest so far is worth a look.
                    let worth = |i: usize| least[i][k].map_or(reach, |s: (f64, DVec3)| s.0 + lost[i]);
                    let look = (0..N).map(worth).fold(0.0, f64::max).min(reach);
                    let d = skin.distance(p.at, look, &|_, _| true).min(reach);
                    for (least, lost) in least.iter_mut().zip(lost) {
                        if least[k].is_none_or(|s| d - lost < s.0) {
                            least[k] = Some((d - lost, p.at));
                        }
                    }
                }
            }
            least
        };
        let chunks: Vec<[Thin; N]> = self.points.par_chunks(CHUNK).map(of_chunk).collect();
        let least = |i: usize, k: usize| {
            chunks.iter().filter_map(|c| c[i][k]).fold(None, |best: Least, it| match best {
                Some(b) if b.0 <= it.0 => Some(b),
                _ => Some(it),
            })
        };
        std::array::from_fn(|i| std::array::from_fn(|k| least(i, k)))
    }

    /// Every place of the inside that is measured, with its thickness to the outside and to the foot, mm; `None` where thicker
    /// than matters.
    pub(crate) fn each(&self) -> Vec<(Point, [Option<f64>; 2])> {
        let [wall, floor, _] = &self.skins;
        let thick = |p: &Point| {
            let to = |skin: &Bed| Some(skin.distance(p.at, self.reach, &|_, _| true)).filter(|d| *d < self.reach);
            (*p, [wall, floor].map(to))
        };
        self.points.par_iter().map(thick).collect()
    }

    /// The same in plan, of wall and of floor.
    pub(crate) fn maps<const N: usize>(&self, losses: &(dyn Fn(&Point) -> [f64; N] + Sync)) -> [Maps; N] {
        let mut painters = [(); N].map(|()| [(); 2].map(|()| Painter::over_piece(self.piece, Shown::Least)));
        let cell = |p: &Point| painters[0][0].cell(p.at.truncate().to_array());
        let mut points = self.points.clone();
        points.sort_by_cached_key(|p| (cell(p), (p.at.z / APART) as i64));
        // Of an upright wall, every few millimetres tell enough.
        points.dedup_by_key(|p| (cell(p), (p.at.z / STEP) as i64));
        let [wall, floor, _] = &self.skins;
        let thickness = |p: &Point| ([wall, floor].map(|s| s.distance(p.at, self.reach, &|_, _| true)), losses(p));
        let found: Vec<([f64; 2], [f64; N])> = points.par_iter().map(thickness).collect();
        for (p, (thick, lost)) in points.iter().zip(found) {
            for (painters, lost) in painters.iter_mut().zip(lost) {
                for (painter, thick) in painters.iter_mut().zip(thick).filter(|(_, thick)| *thick < self.reach) {
                    painter.dot(p.at.truncate().to_array(), thick - lost);
                }
            }
        }
        painters.map(|[wall, floor]| {
            [wall.finish("Thickness to the outside", "mm", None), floor.finish("Thickness to the foot", "mm", None)]
        })
    }
}

/// Points of the inside skin, one in each cube of a millimetre.
fn inside_points(case: &Case<'_>, piece: &geom::Mesh) -> Vec<Point> {
    let facts = &case.evidence.piece;
    spread_over(piece, APART, |p| {
        let inside = p.normal.z > LEVEL || faces_axis(p.normal, p.at);
        let high = p.at.z > facts.recess + 1e-6 && p.at.z < facts.height - RIM * facts.wall;
        inside && high && !facts.in_mark(p.at.to_array())
    })
}

fn faces_axis(n: DVec3, at: DVec3) -> bool {
    n.z >= -1e-3 && n.truncate().dot(at.truncate()) < 0.0
}

fn faces_away(n: DVec3, at: DVec3) -> bool {
    n.truncate().length() > 0.1 && n.truncate().dot(at.truncate()) > 0.0
}

/// Second opinion: the volume that the columns hold in the end against the piece's.
pub(crate) fn judge_volume(case: &Case<'_>, replay: &Replay) -> Check {
    let (id, title) = ("volume", "Volume of the made piece against the drawn one");
    let (Some(piece), None) = (case.model(&case.evidence.piece.model), &replay.fault) else {
        return Check::uncomputed(id, title, "the piece is missing, or the route could not be carried through");
    };
    let (drawn, made) = (piece.volume() / 1000.0, replay.made_ml.iter().sum::<f64>());
    // What may be left over the skin counts as well as the columns' own 0.5 %.
    let promise = &case.evidence.promise;
    let left = piece.area() / 1000.0 * (promise.scallop + promise.leftover);
    Check::at_most(id, title, (made - drawn).abs(), 0.005 * drawn + left, "ml").remedy(format!(
        "The programs leave {made:.1} ml where the piece has {drawn:.1} ml: something was not cut, or too much was."
    ))
}

/// Missing wood or resin that no cutter took: a thin blank, a board too few, a pour that stayed low.
pub(crate) fn judge_whole(case: &Case<'_>, replay: &Replay) -> Check {
    let (id, title) = ("whole", "Wood or resin missing under the skin of the made piece");
    let (Some(short), None) = (replay.short, &replay.fault) else {
        return Check::uncomputed(id, title, "the piece is missing, or the route could not be carried through");
    };
    let promise = &case.evidence.promise;
    Check::at_most(id, title, short.by, promise.gouge + promise.chord + COLUMNS, "mm")
        .at(Where { at: Some(short.at), ..Where::default() })
        .remedy("Look at the blank: is it as thick and as wide as the sheet says, with every board; and was the hollow filled?")
}
