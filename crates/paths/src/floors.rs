//! Rings in plan on ground that is not steep, from its edge inwards, each laid on the exact cutter location.

use crate::ground::{Ground, PITCH, Stroke};
use crate::moves::{opened, resampled};
use crate::surface::{Surface, is_fall};
use crate::walls::stroke;
use geom::{DVec2, Region, Ring};
use rayon::prelude::*;

/// Steps are this much of what the scallop allows where rings have corners, which may lie a little wider then, and elsewhere.
const CORNERED: f64 = 0.85;
const SMOOTH: f64 = 1.0;
/// Ground below this slope is flat, degrees.
const FLAT_DEG: f64 = 2.0;
/// Flat ground narrower than this many steps is cut with what is around it.
const WIDE: f64 = 2.0;
/// The lattice's slopes reach this far beyond the foot of a wall, mm.
const BLURRED: f64 = 1.5 * PITCH;
/// A step of this share of the one without corners is as good as that.
const MOSTLY: f64 = 0.95;
/// How well it is found how wide flat ground is, and how much wider than nothing its last ring is, in steps.
const WIDTH_MET: f64 = 0.02;
/// Where corners of neighbouring rings lie this many steps apart, the ground between them gets a stroke of its own.
const CORNER: f64 = 1.35;
/// Distance of places where the slope is looked at along a ring, mm.
const LOOK: f64 = 1.5;
/// Distance of such places across it, mm.
const LOOK_AHEAD: f64 = 0.2;

/// A ring whose sides lie within this share of a step of each other is one line.
const THIN: f64 = 0.1;

/// A set of rings, and how far inwards of it the next one lies.
struct Layer {
    region: Region,
    looks: Vec<(DVec2, DVec2)>,
    step: f64,
}

impl Layer {
    /// Its rings, those that fill its corners towards the next, and the greatest scallop left.
    fn rings(&self, inner: &Region, ground: &Ground<'_>) -> (Vec<Ring>, f64) {
        // Corners lie wider apart only where both rings have them.
        let wide = turn(&self.region).min(turn(inner));
        let worst = left(ground, &self.looks, self.step, wide);
        let corners = corners(&self.region, inner, self.step, chord(ground));
        (self.region.rings.iter().cloned().chain(corners).collect(), worst)
    }
}

/// Strokes from the edge of a zone inwards, and the greatest scallop left. Each part of the zone for itself, and what of it is flat
/// for itself again, for a demanding place in one sets no step in another.
pub(crate) fn floors(ground: &Ground<'_>, zone: &Region) -> (Vec<Stroke>, f64) {
    let chord = chord(ground);
    let wide = WIDE * flat_step(ground);
    // Up to a wall it is flat, though the lattice sees a slope there.
    let flat = ground.flatter_than(FLAT_DEG).offset(-wide, chord).offset(wide + BLURRED, chord).thinned(chord);
    let within = zone.common(&flat);
    // Slivers are the contours' unevenness.
    let fine = 4.0 * chord;
    let others =
        if within.is_empty() { zone.clone() } else { zone.minus(&within).offset(-fine, chord).offset(fine, chord) };
    // Beside what is not flat its own ring runs along the border.
    let inner = within.minus(&others.offset(flat_step(ground), chord)).thinned(chord);
    let flats = inner.parts().into_iter().map(|part| (part, true));
    let parts: Vec<(Region, bool)> = others.parts().into_iter().map(|part| (part, false)).chain(flats).collect();
    let made: Vec<(Vec<Stroke>, f64)> =
        parts.into_par_iter().map(|(part, is_flat)| floor(ground, part, is_flat)).collect();
    let worst = made.iter().map(|m| m.1).fold(0.0, f64::max);
    (made.into_iter().flat_map(|m| m.0).collect(), worst)
}

/// Distance of rings on flat ground without corners.
fn flat_step(ground: &Ground<'_>) -> f64 {
    SMOOTH * (ground.tip.distance(0.0) + 0.7 * ground.tip.flat)
}

/// The step on flat ground for which its rings fill it evenly: so that the innermost leave a step between their sides, or none.
fn even_step(part: &Region, step: f64, chord: f64) -> f64 {
    let (mut narrow, mut wide) = (0.0, step);
    while !part.offset(-wide, chord).is_empty() {
        (narrow, wide) = (wide, wide + step);
    }
    while wide - narrow > WIDTH_MET * step {
        let middle = 0.5 * (narrow + wide);
        if part.offset(-middle, chord).is_empty() { wide = middle } else { narrow = middle }
    }
    let halves = (2.0 * narrow / step).ceil().max(1.0);
    (2.0 * narrow / halves - WIDTH_MET * step).max(0.5 * step)
}

/// The strokes of one part.
fn floor(ground: &Ground<'_>, part: Region, is_flat: bool) -> (Vec<Stroke>, f64) {
    let surface =
        Surface { location: ground.what.location, floor: ground.what.bottom_z, tolerance: ground.work.tolerance };
    let chord = chord(ground);
    let mut even = f64::INFINITY;
    let mut region = part;
    let mut layers: Vec<Layer> = Vec::new();
    while !region.rings.is_empty() {
        let looks = looks(&region);
        let share = (1.0 / turn(&region)).clamp(CORNERED, SMOOTH);
        let mut step = step(ground, &looks, share);
        // Once nothing asks for less any more, all the rest is filled evenly.
        if is_flat && even.is_infinite() && step >= MOSTLY * flat_step(ground) {
            even = even_step(&region, step, chord);
        }
        step = step.min(even);
        let inner = region.offset(-step, chord).thinned(2.0 * chord);
        layers.push(Layer { region, looks, step });
        region = inner;
    }
    let innermost = Region::default();
    let inner = |k: usize| layers.get(k + 1).map_or(&innermost, |next| &next.region);
    let made: Vec<(Vec<Ring>, f64)> =
        layers.par_iter().enumerate().map(|(k, layer)| layer.rings(inner(k), ground)).collect();
    let worst = made.iter().map(|m| m.1).fold(0.0, f64::max);
    let rings = made.iter().enumerate().flat_map(|(k, (rings, _))| rings.iter().map(move |r| (r, k)));
    let rings: Vec<(&Ring, usize)> = rings.collect();
    let strokes: Vec<Vec<Stroke>> = rings
        .into_par_iter()
        .map(|(ring, layer)| {
            let pieces = match one_way(ring, THIN * layers[layer].step) {
                Some(line) => without_falls(surface.lay(&line), false),
                None => without_falls(surface.lay(&path(ring, ground.work.climb)), true),
            };
            pieces.into_iter().filter_map(|(points, closed)| stroke(points, closed, layer)).collect()
        })
        .collect();
    (strokes.into_iter().flatten().collect(), worst)
}

/// One side of a ring so thin that both of its sides lie within `width` of each other: cutting there and back would be the
/// same cut twice.
pub(crate) fn one_way(ring: &Ring, width: f64) -> Option<Vec<DVec2>> {
    let points = &ring.0;
    let farthest = |from: DVec2| {
        let d = |i: usize| points[i].distance_squared(from);
        (0..points.len()).fold(0, |best, i| if d(i) > d(best) { i } else { best })
    };
    let end = farthest(*points.first()?);
    let line = opened(points, end);
    let other = (0..line.len()).find(|&i| line[i] == points[farthest(line[0])])?;
    let (there, back) = (&line[..=other], &line[other..]);
    let flat = |p: DVec2| p.extend(0.0);
    let off = |p: DVec2, side: &[DVec2]| geom::distance::point_segment(flat(p), flat(side[0]), flat(side[1]));
    let near = |side: &[DVec2], other: &[DVec2]| {
        resampled(side, width).iter().all(|p| other.windows(2).any(|w| off(*p, w) <= width))
    };
    (there.len() > 1 && back.len() > 1 && near(there, back) && near(back, there)).then(|| there.to_vec())
}

/// Accuracy of the rings' courses in plan, mm: how far aside of its place a ring lies changes its scallop, never its depth.
fn chord(ground: &Ground<'_>) -> f64 {
    (0.25 * ground.work.tolerance).max(0.002)
}

/// A path, or the stretches of it between places where the surface falls away under the tip: down there the cutter
/// goes by a ramp, not by dropping along the wall.
fn without_falls(path: Vec<[f64; 3]>, closed: bool) -> Vec<(Vec<[f64; 3]>, bool)> {
    if !closed {
        let parts = path.chunk_by(|a, b| !is_fall(*a, *b));
        return parts.filter(|p| p.len() > 1).map(|p| (p.to_vec(), false)).collect();
    }
    let falls: Vec<usize> = (0..path.len().saturating_sub(1)).filter(|&i| is_fall(path[i], path[i + 1])).collect();
    let Some(&first) = falls.first() else { return vec![(path, true)] };
    // The last point repeats the first: begin behind a fall and come back to it.
    let n = path.len() - 1;
    let mut pieces = vec![Vec::new()];
    for k in 0..n {
        let (i, next) = ((first + 1 + k) % n, (first + 2 + k) % n);
        if let Some(piece) = pieces.last_mut() {
            piece.push(path[i]);
        }
        if is_fall(path[i], path[next]) {
            pieces.push(Vec::new());
        }
    }
    pieces.into_iter().filter(|p| p.len() > 1).map(|p| (p, false)).collect()
}

/// Rings go inwards, so what is still to be cut lies inside: climb has it on the right.
fn path(ring: &Ring, climb: bool) -> Vec<DVec2> {
    let mut path = opened(&ring.0, 0);
    if climb {
        path.reverse();
    }
    path
}

/// Places along the rings, with the direction there.
fn looks(region: &Region) -> Vec<(DVec2, DVec2)> {
    let mut looks = Vec::new();
    for pair in region.rings.iter().flat_map(|r| r.sides()) {
        let along = (pair.1 - pair.0).normalize_or_zero();
        looks.extend(resampled(&[pair.0, pair.1], LOOK).into_iter().skip(1).map(|p| (p, along)));
    }
    looks
}

/// Step in plan to the next ring: the greatest that everything on the way allows, from every place along the rings.
fn step(ground: &Ground<'_>, looks: &[(DVec2, DVec2)], share: f64) -> f64 {
    let tip = &ground.tip;
    let mut step = tip.distance(0.0) + 0.7 * tip.flat;
    for &(p, along) in looks {
        let mut inwards = 0.0;
        while inwards <= step {
            let allowed = share * tip.step(&ground.gentle(p + along.perp() * inwards), along);
            // Where the ground ahead asks for less, the next ring lies just before it.
            step = step.min(allowed.max(inwards - LOOK_AHEAD));
            inwards += LOOK_AHEAD;
        }
    }
    step.max(0.02)
}

/// The greatest scallop a step leaves, `wide` times as wide in corners.
fn left(ground: &Ground<'_>, looks: &[(DVec2, DVec2)], step: f64, wide: f64) -> f64 {
    let mut worst: f64 = 0.0;
    for &(p, along) in looks {
        let mut inwards = 0.0;
        while inwards <= step {
            let shape = ground.gentle(p + along.perp() * inwards);
            worst = worst.max(ground.tip.left_by_step(step * wide, &shape, along));
            inwards += LOOK_AHEAD;
        }
    }
    worst
}

/// How many steps apart the sharpest corners of neighbouring rings lie, as far as no stroke of their own fills them.
fn turn(region: &Region) -> f64 {
    let mut widest: f64 = 1.0;
    for ring in &region.rings {
        // Without the unevenness of a contour from a lattice.
        let ring = ring.thinned(0.05);
        let n = ring.0.len();
        for i in 0..n {
            let (a, p, b) = (ring.0[(i + n - 1) % n], ring.0[i], ring.0[(i + 1) % n]);
            let (u, v) = ((p - a).normalize_or_zero(), (b - p).normalize_or_zero());
            if u.perp_dot(v) > 0.0 {
                // Turning by τ, offset corners lie 1/cos(τ/2) steps apart.
                widest = widest.max(1.0 / (0.5 * (1.0 + u.dot(v))).max(1e-6).sqrt());
            }
        }
    }
    widest.min(CORNER)
}

/// Rings round the ground farther than half a step from both of two neighbouring rings.
fn corners(region: &Region, inner: &Region, step: f64, chord: f64) -> Vec<Ring> {
    let between = region.offset(-0.5 * step, chord).minus(&inner.offset(0.5 * step + 2.0 * chord, chord));
    // A sharp corner leaves a gap half as long as the corners are farther apart.
    let least = 0.5 * (CORNER - 1.0) * step;
    between
        .parts()
        .into_iter()
        .filter(|part| part.bounds().is_some_and(|(lo, hi)| (hi - lo).max_element() > least))
        .filter(|part| part.area() > 0.1 * least * least)
        .filter_map(|part| part.rings.into_iter().next())
        .collect()
}
