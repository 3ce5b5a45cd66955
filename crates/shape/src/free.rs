//! Free outlines: a smooth closed curve through given points, or whatever lines and curves were drawn, made smooth.
//!
//! Through points goes a cubic spline, its parameter spaced by the root of the distances (E. T. Y. Lee, *Choosing nodes in
//! parametric curve interpolation*, Computer-Aided Design 21, 1989), so its curvature has no jumps, but at points whose
//! direction is given. Corners are rounded by arcs that touch both sides. The outline is moved so that the middle of its extent
//! is the origin. Lengths in mm.

use crate::drawing::{self, Drawing, NoDrawing, Shaped};
use crate::joined::{Cubic, Joined, Part};
use crate::outline::Station;
use base::Units;
use geom::{DVec2, Ring};
use job::{DrawnOutline, OutlinePoint};
use std::f64::consts::PI;

/// Gaps up to this are closed, and what is shorter is left out, mm.
const NOTHING: f64 = 1e-6;
/// Sides that meet at no more than this angle are meant to go on smoothly: drawings are rounded to a few digits, and some are all chords. Radians.
const SMOOTH: f64 = 0.07;
/// Sides that turn by nearly half a turn run back along each other, radians short of it.
const BACK: f64 = 0.03;
/// By no more than this, mm, such a place is moved to make it smooth.
const SLIP: f64 = 0.01;
/// Sides whose directions differ by less are smooth as they are, radians: a parallel's error goes with the square of it.
const EVEN: f64 = 1e-3;
/// Circles through places nearer to each other than this say more of rounding than of the outline, mm; bends are looked at apart.
const LEAST_CHORD: f64 = 0.05;
/// Smaller pieces are not made this way, mm. Common practice, no source.
const LEAST_SIZE: f64 = 15.0;
/// The most lines and curves that an outline may have.
const MOST_PARTS: usize = 1000;
/// Larger ones do not fit any small shop, mm.
const GREATEST_SIZE: f64 = 2000.0;
/// Places at which the reach is looked for, round the whole outline: so many, and where it is long one each half mm, up to a most.
const LOOKS: [f64; 2] = [1600.0, 6000.0];
const LOOK_SPACING: f64 = 0.5;
/// Samples along one part where the touching place of an arc is looked for.
const SAMPLES: u32 = 64;

/// A free outline with how far its parallels go.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Free {
    pub(crate) joined: Joined,
    /// Greatest insets inwards and outwards, and where they are limited.
    pub(crate) reach: [Reach; 2],
}

/// How far a parallel may go, exclusive, and the place that sets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reach {
    pub(crate) by: f64,
    pub(crate) at: DVec2,
}

/// Why lines and curves make no outline. Places are where they were drawn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Flaw {
    Tiny { size: DVec2 },
    Huge { size: DVec2 },
    Intricate { parts: usize },
    Crossing { at: DVec2 },
    Corner { at: DVec2, degrees: f64 },
    Round { at: DVec2, radius: f64 },
    Tight { at: DVec2, radius: f64 },
}

impl Flaw {
    /// What is wrong with `whole` (`the curve`), and what to do.
    pub(crate) fn told(&self, whole: &str, units: Units) -> (String, String) {
        let place = |at: DVec2| format!("x {}, y {}", units.told(at.x), units.told(at.y));
        match *self {
            Self::Tiny { size } => (
                format!("{whole} is only {} × {}", units.near(size.x), units.near(size.y)),
                format!("make it {} or more each way, and check its unit", units.told(LEAST_SIZE)),
            ),
            Self::Huge { size } => (
                format!("{whole} is {} × {}", units.near(size.x), units.near(size.y)),
                format!("make it {} or less each way, and check its unit", units.told(GREATEST_SIZE)),
            ),
            Self::Intricate { parts } => (
                format!("{whole} has {parts} lines and curves; expected {MOST_PARTS} or fewer"),
                "draw it with fewer and longer curves".to_owned(),
            ),
            Self::Crossing { at } => (
                format!("{whole} crosses or touches itself near {}", place(at)),
                "move it apart there; an outline goes round once, without loops".to_owned(),
            ),
            Self::Corner { at, degrees } => (
                format!(
                    "{whole} has a sharp corner at {}, where it turns by {degrees:.0}°; a wall cannot follow it",
                    place(at)
                ),
                "give its corners a radius with `corner`, more than the wall is thick".to_owned(),
            ),
            Self::Round { at, radius } => (
                format!("a round of radius {} does not fit the corner of {whole} at {}", units.told(radius), place(at)),
                "make the radius smaller, or the lines and curves that meet there longer".to_owned(),
            ),
            Self::Tight { at, radius } => (
                format!(
                    "{whole} leaves only a radius of {} near {}: it bends too tightly or comes too near to itself",
                    units.fine(radius),
                    place(at)
                ),
                format!(
                    "draw it rounder or wider there: {} at least, and more than the wall is thick",
                    units.told(LEAST_ROUND)
                ),
            ),
        }
    }
}

/// Tighter than this no outline is carved, mm. Common practice, no source.
const LEAST_ROUND: f64 = 1.0;

/// The curve through points.
pub(crate) fn through(points: &[OutlinePoint], units: Units) -> Result<Free, (String, String)> {
    let n = points.len();
    if n < 3 {
        let text = format!("the curve has {n} points; expected 3 or more");
        return Err((text, "add points, in their order round the outline".to_owned()));
    }
    let at: Vec<DVec2> = points.iter().map(|p| DVec2::new(p.at[0].as_mm(), p.at[1].as_mm())).collect();
    if let Some(k) = (0..n).find(|&k| at[k].distance(at[(k + 1) % n]) < NOTHING.max(1e-3)) {
        let text = format!("points {} and {} of the curve lie in one place", k + 1, (k + 1) % n + 1);
        return Err((text, "take one of them out; the curve closes by itself".to_owned()));
    }
    let corner: Vec<Option<f64>> = points.iter().map(|p| p.corner.map(|c| c.as_mm())).collect();
    let heading: Vec<Option<DVec2>> =
        points.iter().map(|p| p.heading_deg.map(|d| DVec2::from_angle(d.to_radians()))).collect();
    let sides = spline(&at, &heading, &corner.iter().map(Option::is_some).collect::<Vec<_>>());
    closed(sides, &|k| corner[k]).map_err(|flaw| flaw.told("the curve", units))
}

/// The outline that a drawing shows.
pub(crate) fn drawn(spec: &DrawnOutline, units: Units) -> Result<Free, (String, String)> {
    let file = format!("\"{}\"", spec.file.name);
    let drawing = drawing::read(spec.file.content.bytes())
        .map_err(|NoDrawing(why)| (format!("the drawing {file} {why}"), "save it anew as plain SVG".to_owned()))?;
    let shape = chosen(&drawing, spec, &file)?;
    let whole = format!("{} of {file}", shape.name());
    let contour = match &shape.contours[..] {
        [only] => only,
        several => {
            let text = format!("{whole} has {} contours; an outline has one", several.len());
            return Err((text, "take its holes and other parts out, or make each a path of its own".to_owned()));
        }
    };
    if !contour.closed {
        let ends = [contour.segments.first().map(|s| s[0]), contour.segments.last().map(|s| s[3])];
        let [start, end] = ends.map(Option::unwrap_or_default);
        let text = format!("{whole} is open: its ends lie {} apart", units.near(start.distance(end)));
        return Err((text, "close it in the drawing".to_owned()));
    }
    let turn = DVec2::from_angle(spec.turn_deg.to_radians());
    let turned: Vec<Part> = contour.segments.iter().map(|s| part(s.map(|p| turn.rotate(p)))).collect();
    let (low, high) = extent(turned.iter());
    let scale = spec.length.map_or(1.0, |length| length.as_mm() / (high.x - low.x));
    if !(scale > 0.0 && scale.is_finite()) {
        return Err((format!("{whole} has no length"), "draw an outline that encloses something".to_owned()));
    }
    let middle = (low + high) / 2.0;
    let place = |p: DVec2| (turn.rotate(p) - middle) * scale;
    let sides = contour.segments.iter().map(|s| part(s.map(place))).collect();
    closed(sides, &|_| spec.corner.map(|c| c.as_mm())).map_err(|flaw| {
        let (text, hint) = flaw.told(&whole, units);
        (format!("{text} (places are from its middle)"), hint)
    })
}

/// The shape that is meant, if it is clear which.
fn chosen<'a>(drawing: &'a Drawing, spec: &DrawnOutline, file: &str) -> Result<&'a Shaped, (String, String)> {
    let names = || {
        let mut names: Vec<String> = drawing.shapes.iter().take(12).map(Shaped::name).collect();
        names.extend((drawing.shapes.len() > 12).then(|| "…".to_owned()));
        names.join(", ")
    };
    if let Some(wanted) = &spec.path {
        let is_it = |s: &&Shaped| s.id.as_ref() == Some(wanted) || s.number == *wanted;
        return drawing
            .shapes
            .iter()
            .find(is_it)
            .ok_or_else(|| (format!("the drawing {file} has no path \"{wanted}\""), format!("it has {}", names())));
    }
    match &drawing.shapes[..] {
        [only] => Ok(only),
        [] => {
            let left_out = match &drawing.left_out[..] {
                [] => String::new(),
                kinds => format!("; what it has of {} is not read", kinds.join(", ")),
            };
            let hint = "draw the outline as a path; turn text into paths first";
            Err((format!("the drawing {file} shows no path{left_out}"), hint.to_owned()))
        }
        several => Err((
            format!("the drawing {file} shows {} paths: {}; an outline is one", several.len(), names()),
            "name the one that is meant with `path`".to_owned(),
        )),
    }
}

/// A line or a curve by its four control points.
fn part([a, b, c, d]: [DVec2; 4]) -> Part {
    let along = (d - a).normalize_or_zero();
    let aside = |p: DVec2| along.perp_dot(p - a).abs();
    let forwards = (b - a).dot(along) >= 0.0 && (d - c).dot(along) >= 0.0 && (c - b).dot(along) >= 0.0;
    let straight = forwards && along != DVec2::ZERO && aside(b).max(aside(c)) < 1e-9;
    if straight { Part::Line { from: a, to: d } } else { Part::Cubic(Cubic::new([a, b, c, d])) }
}

/// The sides of a closed cubic spline, the k-th from point k on. At a corner it ends straight on both sides.
fn spline(at: &[DVec2], heading: &[Option<DVec2>], corner: &[bool]) -> Vec<Part> {
    let n = at.len();
    let step: Vec<f64> = (0..n).map(|k| at[k].distance(at[(k + 1) % n]).sqrt()).collect();
    let free = |fixed: &[Option<DVec2>]| tangents(at, &step, fixed, corner);
    let mut ends = free(&vec![None; n]);
    if heading.iter().any(Option::is_some) {
        // As fast as it would be there by itself, in the direction that is asked for.
        let fixed: Vec<Option<DVec2>> = (0..n).map(|k| heading[k].map(|h| h * ends[k][1].length())).collect();
        ends = free(&fixed);
    }
    let side = |k: usize| {
        let (a, b, third) = (at[k], at[(k + 1) % n], step[k] / 3.0);
        part([a, a + ends[k][1] * third, b - ends[(k + 1) % n][0] * third, b])
    };
    (0..n).map(side).collect()
}

/// Derivatives at each point, of the side that comes and of the side that goes; they differ at corners only.
fn tangents(at: &[DVec2], step: &[f64], fixed: &[Option<DVec2>], corner: &[bool]) -> Vec<[DVec2; 2]> {
    let n = at.len();
    // Unknowns 2k and 2k + 1 are those of point k; where it is no corner, they are set equal.
    let mut rows = vec![vec![0.0; 2 * n]; 2 * n];
    let mut right = vec![DVec2::ZERO; 2 * n];
    for k in 0..n {
        let (before, after) = ((k + n - 1) % n, (k + 1) % n);
        let (come, go) = (2 * k, 2 * k + 1);
        let slope = |a: usize, b: usize| (at[b] - at[a]) / step[a];
        if corner[k] {
            // No bend where a side ends.
            (rows[come][come], rows[come][2 * before + 1]) = (2.0, 1.0);
            right[come] = 3.0 * slope(before, k);
            (rows[go][go], rows[go][2 * after]) = (2.0, 1.0);
            right[go] = 3.0 * slope(k, after);
            continue;
        }
        (rows[come][come], rows[come][go]) = (1.0, -1.0);
        if let Some(fixed) = fixed[k] {
            rows[go][go] = 1.0;
            right[go] = fixed;
            continue;
        }
        // The second derivatives of both sides agree.
        let (p, q) = (1.0 / step[before], 1.0 / step[k]);
        rows[go][2 * before + 1] += p;
        rows[go][go] += 2.0 * (p + q);
        rows[go][2 * after] += q;
        right[go] = 3.0 * (p * slope(before, k) + q * slope(k, after));
    }
    let found = solved(rows, right);
    (0..n).map(|k| [found[2 * k], found[2 * k + 1]]).collect()
}

/// Solves linear equations by elimination, the largest pivot first.
fn solved(mut rows: Vec<Vec<f64>>, mut right: Vec<DVec2>) -> Vec<DVec2> {
    let n = rows.len();
    for k in 0..n {
        let pivot = (k..n).fold(k, |best, i| if rows[i][k].abs() > rows[best][k].abs() { i } else { best });
        rows.swap(k, pivot);
        right.swap(k, pivot);
        let (head, below) = rows.split_at_mut(k + 1);
        for (i, row) in below.iter_mut().enumerate().filter(|(_, row)| row[k] != 0.0) {
            let share = row[k] / head[k][k];
            (k..n).for_each(|j| row[j] -= share * head[k][j]);
            let from = right[k];
            right[k + 1 + i] -= share * from;
        }
    }
    for k in (0..n).rev() {
        let known: DVec2 = (k + 1..n).map(|j| rows[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / rows[k][k];
    }
    right
}

/// Makes a smooth outline of sides that follow each other and close. `corner` is the radius for the corner before a side, by the
/// side's number.
pub(crate) fn closed(sides: Vec<Part>, corner: &dyn Fn(usize) -> Option<f64>) -> Result<Free, Flaw> {
    let mut sides: Vec<(Part, Option<f64>)> = sides.into_iter().enumerate().map(|(k, s)| (s, corner(k))).collect();
    sides.retain(|(s, _)| s.length() > NOTHING);
    if sides.len() > MOST_PARTS {
        return Err(Flaw::Intricate { parts: sides.len() });
    }
    let (low, high) = extent(sides.iter().map(|(s, _)| s));
    if (high - low).min_element() < LEAST_SIZE {
        return Err(Flaw::Tiny { size: (high - low).max(DVec2::ZERO) });
    }
    if (high - low).max_element() > GREATEST_SIZE {
        return Err(Flaw::Huge { size: high - low });
    }
    if sides.iter().map(|(s, _)| s.area()).sum::<f64>() < 0.0 {
        // The corner before a side then comes after it.
        let radii: Vec<Option<f64>> = sides.iter().map(|(_, c)| *c).collect();
        let n = sides.len();
        sides = (0..n).rev().map(|k| (sides[k].0.reversed(), radii[(k + 1) % n])).collect();
    }
    let parts: Vec<Part> = sides.iter().map(|(s, _)| *s).collect();
    if let Some(at) = crossing(&flattened(&parts)) {
        return Err(Flaw::Crossing { at });
    }
    let parts = rounded(&parts, &sides.iter().map(|(_, c)| *c).collect::<Vec<_>>())?;
    // A round may have swept across what lies beside its corner.
    if let Some(at) = crossing(&flattened(&parts)) {
        return Err(Flaw::Crossing { at });
    }
    let (low, high) = extent(parts.iter());
    let middle = (low + high) / 2.0;
    let joined = Joined::begun_on_x(parts.iter().map(|p| p.shifted(-middle)).collect());
    let looks = looks(joined.parts());
    let reach = [1.0, -1.0].map(|inwards| reach(joined.parts(), &looks, inwards));
    match reach.iter().find(|r| r.by < LEAST_ROUND) {
        Some(tight) => Err(Flaw::Tight { at: tight.at + middle, radius: tight.by.max(0.0) }),
        None => Ok(Free { joined, reach }),
    }
}

fn extent<'a>(parts: impl Iterator<Item = &'a Part>) -> (DVec2, DVec2) {
    let places = parts.flat_map(Part::corners).map(|s| s.point);
    places.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), p| (low.min(p), high.max(p)))
}

/// Chords a few hundredths of a mm from the sides.
fn flattened(parts: &[Part]) -> Ring {
    let mut points = Vec::new();
    for part in parts {
        let n = match part {
            Part::Line { .. } => 1,
            _ => (part.length().sqrt() * 3.0).ceil().clamp(8.0, 200.0) as u32,
        };
        points.extend((0..n).map(|k| part.station(part.length() * f64::from(k) / f64::from(n)).point));
    }
    Ring(points)
}

/// Where a ring crosses or touches itself.
fn crossing(ring: &Ring) -> Option<DVec2> {
    let sides: Vec<(DVec2, DVec2)> = ring.sides().collect();
    let n = sides.len();
    let mut order: Vec<usize> = (0..n).collect();
    let left = |k: usize| sides[k].0.x.min(sides[k].1.x);
    order.sort_by(|&a, &b| left(a).total_cmp(&left(b)));
    for (at, &i) in order.iter().enumerate() {
        let (a, b) = sides[i];
        let (right, low, high) = (a.x.max(b.x), a.y.min(b.y), a.y.max(b.y));
        for &j in order[at + 1..].iter().take_while(|&&j| left(j) <= right) {
            let (c, d) = sides[j];
            let apart = i.abs_diff(j);
            if apart <= 1 || apart == n - 1 || c.y.min(d.y) > high || c.y.max(d.y) < low {
                continue;
            }
            let beside = |p: DVec2| (b - a).perp_dot(p - a);
            let across = |p: DVec2| (d - c).perp_dot(p - c);
            if beside(c) * beside(d) <= 0.0 && across(a) * across(b) <= 0.0 {
                return Some((a + b + c + d) / 4.0);
            }
        }
    }
    None
}

/// The sides with an arc at every corner.
fn rounded(parts: &[Part], radii: &[Option<f64>]) -> Result<Vec<Part>, Flaw> {
    let n = parts.len();
    let rounds: Vec<Option<Round>> =
        (0..n).map(|k| round(&parts[(k + n - 1) % n], &parts[k], radii[k])).collect::<Result<_, _>>()?;
    let mut all = Vec::new();
    for (k, part) in parts.iter().enumerate() {
        let from = rounds[k].map_or(0.0, |r| r.into);
        let to = rounds[(k + 1) % n].map_or(part.length(), |r| r.out_of);
        if let Some(r) = rounds[k] {
            all.push(r.arc);
        }
        if to - from < -NOTHING {
            let (at, radius) = if from > part.length() - to {
                (part.station(0.0), k)
            } else {
                (part.station(part.length()), (k + 1) % n)
            };
            return Err(Flaw::Round { at: at.point, radius: radii[radius].unwrap_or_default() });
        }
        all.extend(between(part, from, to));
    }
    Ok(all)
}

/// What of a part lies between two places along it.
fn between(part: &Part, from: f64, to: f64) -> Option<Part> {
    let length = part.length();
    let tail = if from > 0.0 { part.split(from)[1] } else { *part };
    if to >= length {
        return Some(tail).filter(|p| p.length() > NOTHING);
    }
    // A cubic's share of what is left, a line's and an arc's length: both are linear in the place.
    let share = (to - from) / (length - from);
    Some(tail.split(share * tail.length())[0]).filter(|p| p.length() > NOTHING)
}

/// The arc at a corner: where it leaves the part before, and where it joins the one after.
#[derive(Clone, Copy, Debug)]
struct Round {
    arc: Part,
    out_of: f64,
    into: f64,
}

fn round(before: &Part, after: &Part, radius: Option<f64>) -> Result<Option<Round>, Flaw> {
    let (end, start) = (before.station(before.length()), after.station(0.0));
    // The cosine alone would tell an even place by 1e-8 only.
    let turn = end.outward.perp_dot(start.outward).atan2(end.outward.dot(start.outward));
    if turn.abs() < EVEN {
        return Ok(None);
    }
    if turn.abs() > PI - BACK {
        return Err(Flaw::Crossing { at: start.point });
    }
    if turn.abs() <= SMOOTH {
        // As round as it may be without moving the place, no longer than fits on both sides, and no flatter than they bend.
        let room = 0.49 * before.length().min(after.length()) / (turn.abs() / 2.0).tan();
        let bend = (before.curvature(before.length()) * turn.signum()).max(after.curvature(0.0) * turn.signum());
        let most = (8.0 * SLIP / (turn * turn)).min(room).min(0.9 / bend.max(1e-12));
        let tries = (0..6).map(|k| most * 0.5_f64.powi(k));
        let mut rounds = tries.filter_map(|radius| touching(before, after, radius * turn.signum()));
        return rounds.next().map(Some).ok_or(Flaw::Corner { at: start.point, degrees: turn.abs().to_degrees() });
    }
    let Some(radius) = radius.filter(|r| *r > 0.0) else {
        return Err(Flaw::Corner { at: start.point, degrees: turn.abs().to_degrees() });
    };
    touching(before, after, radius * turn.signum()).map(Some).ok_or(Flaw::Round { at: start.point, radius })
}

/// The arc of a radius (positive: to the left) that touches the end of one part and the beginning of the next.
fn touching(before: &Part, after: &Part, radius: f64) -> Option<Round> {
    let length = before.length();
    let centre = |back: f64| before.station(length - back).inset(radius);
    let clear = |back: f64| Some(distance(after, centre(back))?.0 - radius.abs());
    let at = |k: u32| length * f64::from(k) / f64::from(SAMPLES);
    // The first place, seen from the corner, where the circle no longer cuts into the next part.
    let found = (1..=SAMPLES).find(|&k| clear(at(k)).is_some_and(|c| c >= 0.0))?;
    let (mut near, mut far) = (at(found - 1), at(found));
    for _ in 0..100 {
        let middle = 0.5 * (near + far);
        if middle == near || middle == far {
            break;
        }
        if clear(middle).is_some_and(|c| c < 0.0) { near = middle } else { far = middle }
    }
    let middle = centre(far);
    let (_, into) = distance(after, middle)?;
    let (from, to) = (before.station(length - far), after.station(into));
    let sweep = from.outward.angle_to(to.outward);
    let arc =
        Part::Arc { centre: middle, radius: radius.abs(), from: (from.outward * radius.signum()).to_angle(), sweep };
    (sweep * radius > 0.0).then_some(Round { arc, out_of: length - far, into })
}

/// Least distance of a part from a place beside it, and where along it that is; `None` if it is at the far end.
fn distance(part: &Part, p: DVec2) -> Option<(f64, f64)> {
    let length = part.length();
    let at = |k: u32| length * f64::from(k) / f64::from(SAMPLES);
    let gap = |along: f64| part.station(along).point.distance(p);
    let best = (0..=SAMPLES).fold(0, |best, k| if gap(at(k)) < gap(at(best)) { k } else { best });
    if best == SAMPLES {
        return None;
    }
    let ahead = |along: f64| {
        let s = part.station(along);
        (p - s.point).dot(s.outward.perp())
    };
    let (mut low, mut high) = (at(best.saturating_sub(1)), at(best + 1));
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if middle == low || middle == high {
            break;
        }
        if ahead(middle) > 0.0 { low = middle } else { high = middle }
    }
    Some((gap(low), low))
}

/// A place on the outline: which part, where along it, and its station.
#[derive(Clone, Copy, Debug)]
struct Look {
    part: usize,
    along: f64,
    spacing: f64,
    station: Station,
}

/// Places all round, the nearer the tighter a part bends.
fn looks(parts: &[Part]) -> Vec<Look> {
    let total: f64 = parts.iter().map(Part::length).sum();
    let mut all = Vec::new();
    let looks = (total / LOOK_SPACING).clamp(LOOKS[0], LOOKS[1]);
    for (k, part) in parts.iter().enumerate() {
        let length = part.length();
        let least = if matches!(part, Part::Line { .. }) { 2.0 } else { 4.0 };
        let n = (looks * length / total).ceil().max(least);
        let spacing = length / n;
        all.extend((0..n as usize).map(|i| {
            let along = spacing * i as f64;
            Look { part: k, along, spacing, station: part.station(along) }
        }));
    }
    all
}

/// Radius of the circle that touches the outline at one station, on its inner side (`sense` 1) or outer side (−1), and passes
/// through a place.
fn circle(s: &Station, sense: f64, through: DVec2) -> f64 {
    let to = through - s.point;
    let deep = -sense * to.dot(s.outward);
    if deep > 0.0 { to.length_squared() / (2.0 * deep) } else { f64::INFINITY }
}

/// The least of all circles on one side that touch the outline and reach no farther: so far parallels are smooth and simple.
fn reach(parts: &[Part], looks: &[Look], sense: f64) -> Reach {
    let mut least = Reach { by: f64::INFINITY, at: DVec2::ZERO };
    let mut keep = |by: f64, at: DVec2| {
        if by < least.by {
            least = Reach { by, at };
        }
    };
    // Bends by themselves.
    for part in parts {
        let length = part.length();
        let bend = |along: f64| part.curvature(along) * sense;
        let at = |k: u32| length * f64::from(k) / f64::from(SAMPLES);
        let best = (0..=SAMPLES).fold(0, |best, k| if bend(at(k)) > bend(at(best)) { k } else { best });
        let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(SAMPLES)));
        for _ in 0..60 {
            let (p, q) = (high - 0.618 * (high - low), low + 0.618 * (high - low));
            if bend(p) > bend(q) { high = q } else { low = p }
        }
        for along in [at(best), 0.5 * (low + high)] {
            let tightest = bend(along);
            // A cusp has no curvature.
            let radius = if tightest.is_nan() { 0.0 } else { 1.0 / tightest.max(0.0) };
            keep(radius, part.station(along).point);
        }
    }
    // One part and another.
    let mut pair: Option<(f64, usize, usize)> = None;
    for (i, p) in looks.iter().enumerate() {
        for (j, q) in looks.iter().enumerate() {
            if p.station.point.distance(q.station.point) < LEAST_CHORD {
                continue;
            }
            let by = circle(&p.station, sense, q.station.point);
            if pair.is_none_or(|(best, ..)| by < best) {
                pair = Some((by, i, j));
            }
        }
    }
    if let Some((mut by, i, j)) = pair {
        let (mut p, mut q) = (looks[i], looks[j]);
        for _ in 0..6 {
            let [ps, qs] = [p, q].map(|look| around(parts, &look));
            for a in &ps {
                for b in qs.iter().filter(|b| b.station.point.distance(a.station.point) >= LEAST_CHORD) {
                    let found = circle(&a.station, sense, b.station.point);
                    if found < by {
                        (by, p, q) = (found, *a, *b);
                    }
                }
            }
            (p.spacing, q.spacing) = (p.spacing / 5.0, q.spacing / 5.0);
        }
        keep(by, p.station.point);
    }
    least
}

/// Places near one, on the same part.
fn around(parts: &[Part], look: &Look) -> Vec<Look> {
    let part = &parts[look.part];
    let at = |k: i32| (look.along + look.spacing * f64::from(k) / 5.0).clamp(0.0, part.length());
    (-5..=5).map(|k| Look { along: at(k), station: part.station(at(k)), ..*look }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::mm;
    use geom::Region;
    use job::{Content, JobFile};
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn point(x: f64, y: f64) -> OutlinePoint {
        OutlinePoint { at: [mm(x), mm(y)], heading_deg: None, corner: None }
    }

    fn corner(x: f64, y: f64, radius: f64) -> OutlinePoint {
        OutlinePoint { corner: Some(mm(radius)), ..point(x, y) }
    }

    fn made(points: &[OutlinePoint]) -> Free {
        through(points, Units::Mm).unwrap_or_else(|(text, hint)| panic!("{text}: {hint}"))
    }

    fn on_circle(n: u32, radius: f64) -> Vec<OutlinePoint> {
        let at = |k: u32| DVec2::from_angle(TAU * f64::from(k) / f64::from(n)) * radius;
        (0..n).map(|k| point(at(k).x, at(k).y)).collect()
    }

    /// Half a waist of 40 mm between two round ends; no formula is used for its reach.
    fn waisted() -> Vec<OutlinePoint> {
        vec![
            point(110.0, 0.0),
            point(75.0, 50.0),
            point(0.0, 20.0),
            point(-75.0, 50.0),
            point(-110.0, 0.0),
            point(-75.0, -50.0),
            point(0.0, -20.0),
            point(75.0, -50.0),
        ]
    }

    /// Corners alone give a polygon with round corners: its area and length in closed form, for a square of side a and corners of r
    /// `a² − (4 − π) r²` and `4 a − (8 − 2 π) r`; clockwise and shifted too.
    #[test]
    fn corners_alone_make_a_round_cornered_polygon() {
        let mut points = vec![
            corner(-20.0, -70.0, 30.0),
            corner(100.0, -70.0, 30.0),
            corner(100.0, 50.0, 30.0),
            corner(-20.0, 50.0, 30.0),
        ];
        for _ in 0..2 {
            let free = made(&points);
            assert!((free.joined.area() - (14_400.0 - (4.0 - PI) * 900.0)).abs() < 1e-7);
            assert!((free.joined.length() - (480.0 - (8.0 - TAU) * 30.0)).abs() < 1e-8);
            assert!((free.joined.half_size() - DVec2::splat(60.0)).length() < 1e-9);
            assert!((free.reach[0].by - 30.0).abs() < 1e-6 && free.reach[1].by > 1e9, "{:?}", free.reach);
            points.reverse();
        }
    }

    /// The spline is C²: its error falls with the fourth power of the spacing (any book on splines), here towards a circle.
    #[test]
    fn a_curve_through_points_of_a_circle_is_nearly_the_circle() {
        let off = |n: u32| {
            let free = made(&on_circle(n, 80.0));
            let [area, length] = [free.joined.area() / (PI * 6400.0), free.joined.length() / (TAU * 80.0)];
            assert!((free.reach[0].by / 80.0 - 1.0).abs() < 8.0 / f64::from(n * n), "{}", free.reach[0].by);
            (area - 1.0).abs().max((length - 1.0).abs())
        };
        let (coarse, fine) = (off(8), off(16));
        assert!(coarse < 4e-3 && fine < coarse / 12.0, "{coarse} {fine}");
    }

    #[test]
    fn curvature_has_no_jumps_and_the_curve_goes_through_its_points() {
        let points = waisted();
        let sides = spline(
            &points.iter().map(|p| DVec2::new(p.at[0].as_mm(), p.at[1].as_mm())).collect::<Vec<_>>(),
            &[None; 8],
            &[false; 8],
        );
        for (k, side) in sides.iter().enumerate() {
            let next = &sides[(k + 1) % 8];
            let (end, start) = (side.station(side.length()), next.station(0.0));
            assert!(end.point.distance(start.point) < 1e-9 && end.outward.distance(start.outward) < 1e-9);
            assert!((side.curvature(side.length()) - next.curvature(0.0)).abs() < 1e-9, "{k}");
            assert!(
                (start.point - DVec2::new(points[(k + 1) % 8].at[0].as_mm(), points[(k + 1) % 8].at[1].as_mm()))
                    .length()
                    < 1e-9
            );
        }
    }

    #[test]
    fn headings_are_kept() {
        let mut points = on_circle(6, 70.0);
        points[1].heading_deg = Some(170.0);
        let joined = made(&points).joined;
        let at = DVec2::new(points[1].at[0].as_mm(), points[1].at[1].as_mm());
        let ends: Vec<Station> = joined.parts().iter().map(|p| p.station(0.0)).collect();
        // The outline was moved by as much as the first point was.
        let moved = ends.iter().map(|s| s.outward.perp().distance(DVec2::from_angle(170_f64.to_radians())));
        assert!(moved.fold(f64::INFINITY, f64::min) < 1e-9, "{at}");
    }

    /// The offsets of polygons know nothing of curves: within the reach their area is Steiner's, beyond it they lose some.
    fn steiner_holds(free: &Free, by: f64) -> f64 {
        let fine = Joined::length(&free.joined) / 4000.0;
        let ring = Ring((0..4000).map(|k| free.joined.station(fine * f64::from(k)).point).collect());
        let mut region = Region { rings: vec![ring] };
        for _ in 0..8 {
            region = region.offset(-by / 8.0, 1e-4).thinned(2e-4);
        }
        region.area() - (free.joined.area() - free.joined.length() * by + PI * by * by)
    }

    #[test]
    fn the_reach_of_a_waist_is_half_of_it() {
        let free = made(&waisted());
        assert!((free.reach[0].by - 20.0).abs() < 0.01 && free.reach[0].at.x.abs() < 1.0, "{:?}", free.reach);
        assert!(steiner_holds(&free, 19.5).abs() < 2.0, "{}", steiner_holds(&free, 19.5));
    }

    #[test]
    fn what_is_no_outline_is_told_with_its_place() {
        let bow = [point(-50.0, -40.0), point(50.0, 40.0), point(50.0, -40.0), point(-50.0, 40.0)];
        let tight = [corner(0.0, 0.0, 0.7), corner(80.0, 0.0, 9.0), corner(80.0, 80.0, 9.0)];
        let small = on_circle(8, 5.0);
        let huge = on_circle(8, 1500.0);
        let thick =
            [corner(0.0, 0.0, 41.0), corner(80.0, 0.0, 41.0), corner(80.0, 80.0, 41.0), corner(0.0, 80.0, 41.0)];
        let twice = [point(0.0, 0.0), point(0.0, 0.0), point(50.0, 80.0), point(-50.0, 80.0)];
        for (words, points) in [
            ("crosses or touches itself near", &bow[..]),
            ("radius of", &tight),
            ("is only 10 mm × 10 mm", &small),
            ("does not fit the corner", &thick),
            ("is 3000 mm × 3000 mm", &huge),
            ("lie in one place", &twice),
            ("has 2 points", &bow[..2]),
        ] {
            let Err((text, hint)) = through(points, Units::Mm) else { panic!("{words}: was made") };
            assert!(text.contains(words) && !hint.is_empty(), "{words}: {text}");
        }
    }

    fn svg(inner: &str) -> DrawnOutline {
        let text = format!("<svg viewBox='0 0 300 300' width='300mm' height='300mm'>{inner}</svg>");
        let file = JobFile { name: "leaf.svg".into(), content: Content::new(text.into_bytes()) };
        DrawnOutline { file, path: None, length: None, turn_deg: 0.0, corner: None }
    }

    /// Disc, ellipse, round-cornered rectangle and stadium in closed form.
    #[test]
    fn drawn_outlines_have_their_areas_lengths_and_reaches() {
        let made = |spec: &DrawnOutline| drawn(spec, Units::Mm).unwrap_or_else(|(text, hint)| panic!("{text}: {hint}"));
        let disc = made(&svg("<circle cx='150' cy='20' r='80'/>"));
        assert!((disc.joined.area() / (PI * 6400.0) - 1.0).abs() < 1e-6);
        assert!((disc.joined.length() / (TAU * 80.0) - 1.0).abs() < 1e-6);
        assert!((disc.reach[0].by - 80.0).abs() < 0.02, "{:?}", disc.reach);
        let ellipse = made(&svg("<ellipse cx='150' cy='20' rx='80' ry='50'/>"));
        assert!((ellipse.reach[0].by - 2500.0 / 80.0).abs() < 0.02, "{:?}", ellipse.reach);
        let sharp = svg("<rect x='9' y='9' width='120' height='70'/>");
        let rounded =
            made(&DrawnOutline { corner: Some(mm(20.0)), turn_deg: 90.0, length: Some(mm(140.0)), ..sharp.clone() });
        // Turned and scaled: 140 × 240.
        assert!((rounded.joined.half_size() - DVec2::new(70.0, 120.0)).length() < 1e-9);
        assert!((rounded.joined.area() - (140.0 * 240.0 - (4.0 - PI) * 400.0)).abs() < 1e-6);
        let stadium = made(&svg("<rect width='200' height='100' rx='50'/>"));
        assert!((stadium.joined.area() - (100.0 * 100.0 + PI * 2500.0)).abs() < 0.01);
        // A circle in chords of 1° is as good as one.
        let chords: String = (0..360)
            .map(|k| DVec2::from_angle(f64::from(k).to_radians()) * 80.0)
            .map(|p| format!("{:.4},{:.4} ", p.x, p.y))
            .collect();
        let polygon = made(&svg(&format!("<polygon points='{chords}'/>")));
        assert!((polygon.joined.area() / (PI * 6400.0) - 1.0).abs() < 1e-4);
        assert!(polygon.reach[0].by > 50.0, "{:?}", polygon.reach);
        assert_eq!(
            polygon.reach[0].by,
            made(&svg(&format!("<g transform='scale(-1 1)'><polygon points='{chords}'/></g>"))).reach[0].by
        );
    }

    #[test]
    fn drawings_that_are_no_outline_are_told_by_the_name_of_their_path() {
        let two = "<circle id='rim' r='70'/><path d='M0,0 h50'/>";
        let of = |spec: &DrawnOutline| {
            drawn(spec, Units::Mm).err().map(|(text, hint)| format!("{text} → {hint}")).unwrap_or_default()
        };
        for (words, spec) in [
            (r#"shows 2 paths: "rim", path 1"#, svg(two)),
            (
                r#"path 1 of "leaf.svg" is open: its ends lie 50 mm apart"#,
                DrawnOutline { path: Some("path 1".into()), ..svg(two) },
            ),
            (r#"has no path "heart" → it has "rim", path 1"#, DrawnOutline { path: Some("heart".into()), ..svg(two) }),
            ("shows no path; what it has of text is not read", svg("<text>A</text>")),
            (r#"path 1 of "leaf.svg" has 2 contours"#, svg("<path d='M0,0 h90 v90 h-90 z M30,30 h30 v30 h-30 z'/>")),
            (r#"rect 1 of "leaf.svg" has a sharp corner at"#, svg("<rect width='90' height='60'/>")),
            (r#"path 1 of "leaf.svg" crosses"#, svg("<path d='M0,0 L90,60 L90,0 L0,60 z'/>")),
            (r#""dot" of "leaf.svg" is only 4 mm"#, svg("<circle id='dot' r='2'/>")),
            (
                "does not fit the corner",
                DrawnOutline { corner: Some(mm(31.0)), ..svg("<rect width='90' height='60'/>") },
            ),
            ("crosses or touches itself", svg("<polygon points='0,0 90,60'/>")),
            ("broken points in polygon 1", svg("<polygon points='50,0 15,1- 0,50 -25,14'/>")),
            ("is no XML", svg("<rect")),
        ] {
            assert!(of(&spec).contains(words), "{words}: {}", of(&spec));
        }
        assert_eq!(of(&DrawnOutline { path: Some("rim".into()), ..svg(two) }), "");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(if cfg!(debug_assertions) { 40 } else { 200 }))]

        /// Any points give an outline whose parallels are simple within its reach, or an error.
        #[test]
        fn any_points_give_an_outline_or_an_error(
            points in prop::collection::vec((-120.0..120.0, -120.0..120.0, prop::option::weighted(0.2, 1.0..60.0), prop::option::weighted(0.1, -360.0..360.0)), 3..9)
        ) {
            // In the order of their angles most of them do not cross.
            let mut points = points;
            points.sort_by(|a, b| f64::atan2(a.1, a.0).total_cmp(&f64::atan2(b.1, b.0)));
            let points: Vec<OutlinePoint> = points
                .iter()
                .map(|&(x, y, corner, heading)| OutlinePoint { at: [mm(x), mm(y)], heading_deg: heading, corner: corner.map(mm) })
                .collect();
            match through(&points, Units::Mm) {
                Err((text, hint)) => prop_assert!(!text.is_empty() && !hint.is_empty()),
                Ok(free) => {
                    prop_assert!(free.joined.area() > 0.0);
                    let by = 0.97 * free.reach[0].by;
                    let missing = steiner_holds(&free, by);
                    prop_assert!(missing.abs() < 3e-3 * free.joined.length().max(300.0), "{} of {:?}", missing, free.reach);
                    // All stations turn smoothly into each other.
                    let n = 5000;
                    let step = free.joined.length() / f64::from(n);
                    for k in 0..n {
                        let [s, t] = [k, k + 1].map(|k| free.joined.station((step * f64::from(k)).min(free.joined.length())));
                        prop_assert!(s.outward.dot(t.outward) > 0.0 && s.outward.is_finite());
                    }
                }
            }
        }
    }
}
