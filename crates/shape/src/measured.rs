//! A solid from elsewhere as a piece: its outline and its section, measured on the mesh.
//!
//! The outline is a smooth curve through corners of the rim's outer edge. The inset of a skin at a height is that of the parallel
//! of the outline with the same area (Steiner's formula turned round), so that heights, slopes and widths are what they are for a
//! piece that was drawn. The bodies that are cut come from the mesh itself and are not rounded by any of this.

use crate::brought::place;
use crate::joined::Part;
use crate::outline::{LEAST_LEFT, Outline};
use crate::profile::{Profile, Stretch};
use crate::section::Section;
use crate::skins::{Skins, Unparted};
use base::{At, Report, Units};
use geom::slice::level;
use geom::{DVec2, DVec3, Mesh, Nearest, Region, Ring};
use job::PieceSpec;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Corners of the rim's edge lie within this of the outline, mm.
const OUTLINE_WITHIN: f64 = 0.03;
/// The middles of its sides lie within this of it, mm: the chords of the mesh itself.
const SIDES_WITHIN: f64 = 0.15;
/// How many points the outline is first led through.
const POINTS: [usize; 7] = [24, 36, 48, 72, 108, 162, 240];
/// The width of the rim may differ by this round the piece, mm: the neck that holds the flange is cut back by more.
const EVEN_RIM: f64 = 0.4;
/// Heights at which a skin is measured, closer together near its ends.
const LEVELS: u32 = 160;
/// Measured profiles are thinned to this, mm.
const THINNED: f64 = 0.01;
/// A level is cut this far from a face, mm: the cut would be nowhere in the face itself.
const OFF_FACE: f64 = 0.003;
/// A floor with a smaller flat has none that is worth a cutter of its own, mm².
const LEAST_FLAT: f64 = 400.0;
/// Walls of a recess may lean by this over its depth, mm.
const UPRIGHT: f64 = 0.1;
/// What lies within this above the lowest place of the hollow is its floor, mm; the rest is wall.
const FLOOR_WITHIN: f64 = 1.0;
/// A wall may be thinner than asked for by this, mm: the mesh's own chords.
const CHORDS: f64 = 0.02;
/// Places at which walls are measured, about.
const PLACES: usize = 60_000;

/// What a piece from elsewhere is known by.
pub(crate) struct Measured {
    pub(crate) outline: Outline,
    pub(crate) section: Section,
    pub(crate) skins: Skins,
    /// Whether the floor of the hollow is level enough for a flat cutter.
    pub(crate) flat_floor: bool,
}

/// Measures a solid; `None` if the report says why it cannot be planned.
pub(crate) fn measured(spec: &PieceSpec, mesh: Mesh, at: Option<At>, report: &mut Report) -> Option<Measured> {
    let mut it = Measuring { spec, at, report };
    let skins = Skins::of(mesh).map_err(|why| it.unparted(&why)).ok()?;
    let mouth = it.mouth(&skins)?;
    let outline = it.outline(&skins.edge())?;
    it.even(&outline, &mouth)?;
    let (walls, fine) = it.walls(&skins);
    let (section, flat_floor) = it.section(&outline, &skins, walls)?;
    fine.then_some(Measured { outline, section, skins, flat_floor })
}

struct Measuring<'a> {
    spec: &'a PieceSpec,
    at: Option<At>,
    report: &'a mut Report,
}

impl Measuring<'_> {
    fn units(&self) -> Units {
        self.spec.units
    }

    fn refuse<T>(&mut self, code: &str, text: String, hint: &str) -> Option<T> {
        self.report.error(code, self.at, text).hint(hint);
        None
    }

    fn unparted(&mut self, why: &Unparted) {
        let units = self.units();
        let (text, hint) = match why {
            Unparted::NotAtRim { at } => (
                format!(
                    "the outside is cut from the foot and the hollow from the rim, and they do not meet in a level rim: at {} \
                     they meet below it",
                    place(*at, units)
                ),
                "only pieces that are widest at a level rim can be planned",
            ),
            Unparted::SeveralEdges { at } => (
                format!("the solid goes right through: seen from above there is an opening at {}", place(*at, units)),
                "only pieces with a closed floor can be planned",
            ),
            Unparted::NoHollow => ("the solid has no hollow".to_owned(), "only pieces with a hollow can be planned"),
        };
        self.refuse::<()>("mesh-not-planned", text, hint);
    }

    fn mouth(&mut self, skins: &Skins) -> Option<Ring> {
        let mut mouths = skins.mouths();
        if mouths.len() == 1 {
            return mouths.pop();
        }
        let text = format!("the solid has {} hollows side by side", mouths.len());
        self.refuse("mesh-not-planned", text, "only pieces with one hollow can be planned")
    }

    /// A smooth curve through corners of a ring: of all that keep to it, the one with the widest rounds.
    fn outline(&mut self, ring: &Ring) -> Option<Outline> {
        let made: Vec<Result<Outline, (f64, DVec2)>> =
            POINTS.into_par_iter().map(|count| outline_through(ring, count)).collect();
        let round = |outline: &Outline| outline.reach_inwards().min(outline.reach_outwards());
        let mut best: Option<&Outline> = None;
        for outline in made.iter().flatten() {
            // Of equal ones the first, with the fewest points.
            if best.is_none_or(|best| round(outline) > 1.01 * round(best)) {
                best = Some(outline);
            }
        }
        if let Some(best) = best {
            return Some(best.clone());
        }
        let (off, at) = made.into_iter().rev().find_map(Result::err).unwrap_or_default();
        let units = self.units();
        let text = format!(
            "no smooth outline leads through the outer edge of the rim: it would pass the edge at x {}, y {} by {}",
            units.told(at.x),
            units.told(at.y),
            units.fine(off)
        );
        self.refuse("mesh-not-planned", text, "smooth the rim and round its corners where the solid was made")
    }

    /// Whether the rim is as wide everywhere.
    fn even(&mut self, outline: &Outline, mouth: &Ring) -> Option<()> {
        let (least, greatest) = insets(outline, mouth);
        if greatest - least <= EVEN_RIM {
            return Some(());
        }
        let text = format!(
            "the rim is {} wide at one place and {} at another",
            self.units().told(least),
            self.units().told(greatest)
        );
        self.refuse("mesh-not-planned", text, "only pieces with an even rim can be planned")
    }

    /// Least wall and floor, both told where they are less than asked for; and whether they are not.
    fn walls(&mut self, skins: &Skins) -> ([f64; 2], bool) {
        let outside = skins.outside();
        let nearest = Nearest::new(&outside);
        let places = skins.hollow_places(PLACES);
        let floor_z = places.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
        let measure = |p: &DVec3| {
            let other = nearest.to(*p)?;
            let way = *p - other;
            let thick = way.length();
            Some((p.z <= floor_z + FLOOR_WITHIN && way.z > 0.9 * thick, thick, *p))
        };
        // Up at the rim an edge may be broken or rounded: there the wall is thinner, and meant to be.
        let round = skins.height - self.spec.wall.value.as_mm();

        let found: Vec<(bool, f64, DVec3)> = places.par_iter().filter(|p| p.z <= round).filter_map(measure).collect();
        let mut least = [f64::INFINITY; 2];
        let mut fine = true;
        let asked = [(false, "wall", self.spec.wall), (true, "floor", self.spec.floor)];
        for (k, (floor, what, wanted)) in asked.into_iter().enumerate() {
            let these = found.iter().filter(|f| f.0 == floor);
            let Some((_, thick, at)) = these.min_by(|a, b| a.1.total_cmp(&b.1)) else { continue };
            least[k] = *thick;
            if *thick < wanted.value.as_mm() - CHORDS {
                let units = self.units();
                let text = format!(
                    "the {what} is only {} thick at {}, and {} are asked for",
                    units.down(*thick),
                    place(*at, units),
                    wanted.value.told(units)
                );
                let hint = format!(
                    "ask for a {what} of {} if that will do, or thicken the solid where it was made",
                    units.down(*thick)
                );
                self.report.error("mesh-thin", wanted.at, text).hint(hint);
                fine = false;
            }
        }
        (least, fine)
    }

    fn section(&mut self, outline: &Outline, skins: &Skins, walls: [f64; 2]) -> Option<(Section, bool)> {
        let most = outline.reach_inwards() - LEAST_LEFT;
        let height = skins.height;
        let body = skins.outside_body(height + 1.0);
        let hollow = skins.hollow_body(height + 1.0);
        let floor_z = hollow.bounds()?.0.z;
        let foot = level(&body, OFF_FACE);
        let foot_inset = foot.rings.iter().filter(|r| r.area() > 0.0).map(|r| insets(outline, r).1).fold(0.0, f64::max);
        if foot_inset > most {
            let text = format!(
                "the foot lies {} inside the outline, and its tightest corner allows {}",
                self.units().up(foot_inset),
                self.units().down(most)
            );
            return self.refuse("mesh-not-planned", text, "make the corners of the rim rounder, or the foot wider");
        }
        let recess = self.recess(outline, &body, &foot, foot_inset)?;
        let flat = level(&hollow, floor_z + OFF_FACE);
        let flat_inset = flat.rings.first().map_or(f64::INFINITY, |ring| insets(outline, ring).1 + OFF_FACE);
        let flat_floor = flat.rings.len() == 1 && flat.area() >= LEAST_FLAT && flat_inset < most;
        let measure = |mesh: &Mesh, low: f64| {
            let heights = (0..LEVELS).map(|k| {
                let share = (1.0 - (PI * (f64::from(k) + 0.5) / f64::from(LEVELS)).cos()) / 2.0;
                height - (height - low) * share
            });
            let heights: Vec<f64> = heights.collect();
            let inset = |z: &f64| {
                let rings = level(mesh, *z).rings;
                let area: f64 = rings.iter().map(Ring::area).filter(|a| *a > 0.0).sum();
                DVec2::new(inset_of(outline, area).min(most), *z)
            };
            heights.par_iter().map(inset).collect::<Vec<_>>()
        };
        let mut outside = measure(&body, 0.0);
        outside.insert(0, DVec2::new(0.0, height));
        outside.push(DVec2::new(foot_inset, 0.0));
        let mut inside = measure(&hollow, floor_z);
        let mouth = skins.mouths().first().map_or(0.0, |ring| inset_of(outline, ring.area()));
        inside.insert(0, DVec2::new(mouth, height));
        let last = inside.last().map_or(mouth, |p| p.x);
        inside.push(DVec2::new(if flat_floor { flat_inset } else { last }, floor_z));
        let section = Section {
            outside: profile(outside),
            inside: profile(inside),
            floor_z,
            recess,
            least_wall: walls[0].min(walls[1]),
        };
        Some((section, flat_floor))
    }

    /// Depth and land of a recess under the foot: one hollow with upright walls and a level ceiling.
    fn recess(&mut self, outline: &Outline, body: &Mesh, foot: &Region, foot_inset: f64) -> Option<Option<[f64; 2]>> {
        let holes: Vec<&Ring> = foot.rings.iter().filter(|r| r.area() < 0.0).collect();
        let Some(hole) = holes.first() else { return Some(None) };
        let hole = Ring(hole.0.iter().rev().copied().collect());
        let inner = Region { rings: vec![hole.clone()] };
        let within = body.vertices.iter().filter(|v| v.z > 2.0 * OFF_FACE && inner.contains(v.truncate()));
        let (low, high) = within.fold((f64::INFINITY, 0.0_f64), |(low, high), v| (low.min(v.z), high.max(v.z)));
        let leaning = |depth: f64| {
            let top = level(body, depth - OFF_FACE);
            let area: f64 = top.rings.iter().map(Ring::area).filter(|a| *a < 0.0).sum();
            inset_of(outline, -area) - inset_of(outline, hole.area())
        };
        if holes.len() == 1
            && high > low.max(4.0 * OFF_FACE) - UPRIGHT
            && high - low < UPRIGHT
            && leaning(low) < UPRIGHT
        {
            let land = insets(outline, &hole).1 + OFF_FACE - foot_inset;
            return Some(Some([low, land]));
        }
        let text = "the hollow under the foot is no recess with upright walls and a level ceiling".to_owned();
        self.refuse("mesh-not-planned", text, "make the foot flat, or its recess level with upright walls")
    }
}

/// The curve of lines and arcs through so many corners of a ring, in the directions that it has there; or how far and where it
/// leaves the ring.
fn outline_through(ring: &Ring, count: usize) -> Result<Outline, (f64, DVec2)> {
    // Without corners on straight sides, which say nothing.
    let thin = ring.thinned(THINNED / 10.0);
    let at: Vec<(DVec2, DVec2)> =
        picked(&thin, count).into_iter().map(|k| (thin.0[k], DVec2::from_angle(heading(&thin, k)))).collect();
    let parts = (0..at.len()).flat_map(|k| two_arcs(at[k], at[(k + 1) % at.len()])).collect();
    let outline = Outline::of_parts(parts);
    if outline.reach_inwards() <= LEAST_LEFT {
        return Err((f64::INFINITY, ring.0[0]));
    }
    let drawn = outline.parallel(0.0, 0.005);
    let farthest = |places: &mut dyn Iterator<Item = DVec2>| {
        let each = places.map(|p| (drawn.distance(p), p));
        each.fold((0.0, DVec2::ZERO), |most, one| if one.0 > most.0 { one } else { most })
    };
    let corner = farthest(&mut ring.0.iter().copied());
    let side = farthest(&mut ring.sides().map(|(a, b)| (a + b) / 2.0));
    if corner.0 > OUTLINE_WITHIN {
        return Err(corner);
    }
    if side.0 > SIDES_WITHIN { Err(side) } else { Ok(outline) }
}

/// Two arcs from a place and direction to another that go on smoothly, their tangents as long (K. M. Bolton, "Biarc curves",
/// Computer-Aided Design 7, 1975; from memory).
fn two_arcs((p, from): (DVec2, DVec2), (q, to): (DVec2, DVec2)) -> [Part; 2] {
    let (way, both) = (q - p, from + to);
    let turn = 2.0 * (1.0 - from.dot(to));
    let along = way.dot(both);
    let reach = if turn < 1e-12 {
        way.length_squared() / (2.0 * along)
    } else {
        ((along * along + turn * way.length_squared()).sqrt() - along) / turn
    };
    let middle = (p + from * reach + q - to * reach) / 2.0;
    [arc(p, from, middle), reversed_arc(middle, q, to)]
}

/// The arc, or line, that leaves a place in a direction and ends at another.
fn arc(p: DVec2, heading: DVec2, q: DVec2) -> Part {
    let chord = q - p;
    let half = heading.perp_dot(chord).atan2(heading.dot(chord));
    if half.abs() < 1e-9 {
        return Part::Line { from: p, to: q };
    }
    let radius = chord.length() / (2.0 * half.sin());
    let centre = p + heading.perp() * radius;
    Part::Arc { centre, radius: radius.abs(), from: (p - centre).to_angle(), sweep: 2.0 * half }
}

/// The arc, or line, from a place that ends at another in a direction.
fn reversed_arc(p: DVec2, q: DVec2, heading: DVec2) -> Part {
    match arc(q, -heading, p) {
        Part::Arc { centre, radius, from, sweep } => Part::Arc { centre, radius, from: from + sweep, sweep: -sweep },
        _ => Part::Line { from: p, to: q },
    }
}

/// How much longer than both its neighbours a side is that is meant to be straight.
const STRAIGHT: f64 = 3.0;

/// The length of side k of a ring, from corner k on, any k.
fn side(ring: &Ring, k: usize) -> DVec2 {
    let n = ring.0.len();
    ring.0[(k + 1) % n] - ring.0[k % n]
}

fn is_straight(ring: &Ring, k: usize) -> bool {
    let n = ring.0.len();
    let around = side(ring, k + n - 1).length().max(side(ring, k + 1).length());
    side(ring, k).length() > STRAIGHT * around
}

/// Corners of a ring, some of them left out evenly, the ends of straight sides kept. Where a ring bends more it has more corners,
/// if it was made for the eye or the cutter.
fn picked(ring: &Ring, count: usize) -> Vec<usize> {
    let n = ring.0.len();
    let count = count.min(n);
    let mut picked: Vec<usize> = (0..count).map(|k| k * n / count).collect();
    picked.extend((0..n).filter(|&k| is_straight(ring, k)).flat_map(|k| [k, (k + 1) % n]));
    picked.sort_unstable();
    picked.dedup();
    picked
}

/// The direction of a ring at a corner, radians: along a straight side, otherwise that of the circle through its neighbours.
fn heading(ring: &Ring, k: usize) -> f64 {
    let n = ring.0.len();
    let (before, after) = (side(ring, k + n - 1), side(ring, k));
    if is_straight(ring, k + n - 1) {
        return before.to_angle();
    }
    if is_straight(ring, k) {
        return after.to_angle();
    }
    let turn = before.perp_dot(after).atan2(before.dot(after));
    before.to_angle() + turn * before.length() / (before.length() + after.length())
}

/// Least and greatest distance of a ring's corners from the outline.
fn insets(outline: &Outline, ring: &Ring) -> (f64, f64) {
    let drawn = outline.parallel(0.0, 0.002);
    let each = ring.0.iter().map(|p| drawn.distance(*p));
    each.fold((f64::INFINITY, 0.0), |(least, most), d| (least.min(d), most.max(d)))
}

/// The inset at which the parallel has this area: `A − L d + π d² = a`.
fn inset_of(outline: &Outline, area: f64) -> f64 {
    let (length, less) = (outline.length(), (outline.area() - area).max(0.0));
    (length - (length * length - 4.0 * PI * less).max(0.0).sqrt()) / (2.0 * PI)
}

/// A profile through points from the top down: insets never decrease, and points within [`THINNED`] of a chord are left out.
fn profile(mut points: Vec<DVec2>) -> Profile {
    for k in 1..points.len() {
        points[k].x = points[k].x.max(points[k - 1].x);
    }
    let mut kept = vec![points[0]];
    thin(&points, &mut kept);
    let stretches = kept.windows(2).map(|w| Stretch::Line { from: w[0], to: w[1] }).collect();
    Profile { stretches }
}

/// Keeps what a chord does not show (D. H. Douglas, T. K. Peucker 1973), without the first point.
fn thin(points: &[DVec2], kept: &mut Vec<DVec2>) {
    let (first, last) = (points[0], points[points.len() - 1]);
    let along = (last - first).normalize_or_zero();
    let off = |p: DVec2| along.perp_dot(p - first).abs();
    let farthest = (1..points.len() - 1).max_by(|&a, &b| off(points[a]).total_cmp(&off(points[b])));
    match farthest.filter(|&k| off(points[k]) > THINNED) {
        Some(k) => {
            thin(&points[..=k], kept);
            thin(&points[k..], kept);
        }
        None => kept.push(last),
    }
}
