//! How even a finish is: the scallops that the written programs leave on a skin, measured along its normals, and the least
//! length of path that such scallops ask for. It judges nothing; the benchmark prints it.
//!
//! Places are spread over the skin, each standing for the same area. Around each place the skin is sampled so densely that
//! the crest between two passes cannot be missed: a disc a little wider than the passes' distance holds one wherever it lies. In a
//! round hardly wider than the tip passes lie farther apart on the skin than on the tip's own surface, and discs are as much wider.

use crate::Evidence;
use crate::case::{Case, SetupCase, Stroke};
use crate::checks::leftover::{Reach, facing_up};
use crate::envelope::Swept;
use crate::skin::{FAR, Point, SPACING, spread, wear};
use base::Quiet;
use glam::{DMat3, DVec2, DVec3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Area that each place stands for, mm².
const AREA: f64 = 12.0;
/// Area that each point around a place stands for, as a share of the square of the passes' distance on a plane, and how far they
/// reach from the place, as a share of the passes' distance there.
const DENSE: f64 = 0.0075;
const DISC: f64 = 0.6;
/// Rounds count as no narrower than leaves this share of their radius to the tip's middle: as narrow as is finished.
const NARROWEST: f64 = 0.2;
/// Curvatures are taken from the normals this far around a place, mm, as far as they lean no more than this (cosine).
const AROUND: f64 = 2.0;
const LEANS: f64 = 0.85;
/// A crest above this share of the target may lie in a corner.
const ODD: f64 = 1.2;
/// What goes with the waste and stands no higher than this, in targets, was finished all the same.
const FINISHED: f64 = 3.0;
/// Points below this share of the target are no crests.
const LOW: f64 = 0.25;
/// A place has passes all around it if at least this share of the skin within a distance of passes is there and the cutter's own,
/// by so many points.
const ALL_AROUND: f64 = 0.9;
const MANY: f64 = 113.0;

/// Which skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Skin<'a> {
    /// What a setup of this name finishes of the piece.
    Of(&'a str),
    /// The hollow of a cast.
    Hollow(u16),
}

/// The finish that was meant: its scallop and the radius of the tip that leaves it, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Meant {
    scallop: f64,
    radius: f64,
    /// Left standing evenly on purpose at most, mm.
    left_on: f64,
}

impl Meant {
    /// Distance of passes on a plane.
    fn plane(&self) -> f64 {
        2.0 * (self.scallop * (2.0 * self.radius - self.scallop)).sqrt()
    }

    /// How far the disc around a place reaches on ground that bends so, mm: passes square to a curvature a lie 1/√(1 − ra) times as
    /// far apart on the skin as on a plane.
    fn disc(&self, bends: &Bends) -> f64 {
        let share = (1.0 - self.radius * bends.principal()[1]).clamp(NARROWEST, 1.0);
        DISC * self.plane() / share.sqrt()
    }
}

/// Something left standing: its height, mm (1 stands for more), and its place, piece frame.
pub type Standing = (f64, [f64; 3]);

/// A finish as made.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// The greatest left around each place, over what was left on evenly there on purpose, least first: over the least that is left
    /// around the place, but never over more than was meant to be left on, so that whatever else stands counts whole. Places that no cutter of the setup reaches are not among them, nor are
    /// places where less than the scallop is left and no crest between two passes of the cutter belongs:
    ///
    /// - nearer than about 0.7 distances of passes to the border of what the cutter makes, where the skin ends or another
    ///   cutter leaves no more than the scallop: the first and the last pass have no neighbour there;
    /// - on ground so nearly upright that passes as far apart as on a plane lie aside of each other by less than the scallop:
    ///   the cutter's side, straight above each pass, wipes over the ridge that the pass before left.
    ///
    /// Where more than the scallop is left they count like all others, so no ridge can hide there.
    pub crests: Vec<Standing>,
    /// Area of corners that no cutter of the setup reaches, mm², and the greatest left there.
    pub corners: (f64, Option<Standing>),
    /// Area of the tip's own surface over the widest distance of passes, locally: no path of even scallops is shorter, mm.
    pub least_length: f64,
    /// The same of passes that all run level, as those of one spiral must: in the round above a floor, passes straight up and down
    /// may lie wider, but each would end after a few millimetres, mm.
    pub least_level: f64,
}

impl Finish {
    /// Share of the crests from `low` to `high`.
    pub fn share(&self, low: f64, high: f64) -> f64 {
        let within = self.crests.iter().filter(|c| (low..=high).contains(&c.0)).count();
        within as f64 / self.crests.len().max(1) as f64
    }

    /// The crest that this share of them does not exceed; the greatest for 1.
    pub fn at(&self, share: f64) -> Standing {
        self.crests[((self.crests.len() - 1) as f64 * share).round() as usize]
    }
}

/// Why nothing can be measured.
const NO_PIECE: &str = "there is no model of the piece";

/// Measures a finish from the program texts: the skin that the cutter `number` makes. Where other cutters leave no more than the
/// scallop it is theirs. `left_on`: what is left standing evenly on purpose at most, mm.
///
/// # Errors
/// Why it cannot be measured.
pub fn finish(
    evidence: &Evidence,
    skin: Skin<'_>,
    number: u32,
    [scallop, left_on]: [f64; 2],
) -> Result<Finish, String> {
    let case = Case::read(evidence);
    let radius = case.cutter(Some(number)).ok_or("the cutter is not among those named")?.solid.radius();
    let near = 2.0 * evidence.promise.chord + 1e-3;
    type Which<'a> = &'a (dyn Fn(&Point) -> bool + Sync);
    let measured = |setups: &[&SetupCase<'_>], skin: &[[DVec3; 3]], wanted: Which<'_>, judged: Which<'_>| {
        Asked { case: &case, setups, skin, wanted, judged, number, meant: Meant { scallop, radius, left_on } }.measure()
    };
    match skin {
        Skin::Of(id) => {
            let of = case.setup(id).ok_or("there is no such setup")?;
            let target = case.model(&of.setup.target).ok_or("there is no model of the target")?;
            let body = case.piece(of.setup.face_up).ok_or(NO_PIECE)?;
            let on_piece = |p: &Point| body.distance(p.at, near, &|n, _| n.dot(p.normal) > 0.9) <= near;
            measured(&[of], &facing_up(target, of, false), &on_piece, &|_| true)
        }
        Skin::Hollow(cast) => {
            let hollow = evidence.casts.get(usize::from(cast)).ok_or("there is no such cast")?;
            let hollow = case.model(&hollow.hollow).ok_or("there is no model of the hollow")?;
            let carved = case.carved_before(cast);
            let last = carved.last().ok_or("no setup carves the hollow")?;
            // What lies outside the piece goes with the waste, but is cut with the rest.
            let body = case.piece(last.setup.face_up).ok_or(NO_PIECE)?;
            measured(&carved, &facing_up(hollow, last, true), &|_| true, &|p| body.holds(p.at))
        }
    }
}

/// What is to be measured.
struct Asked<'a> {
    case: &'a Case<'a>,
    /// The setups that cut it; the last one's workpiece frame is meant everywhere.
    setups: &'a [&'a SetupCase<'a>],
    skin: &'a [[DVec3; 3]],
    /// Whether a point of it is to be made at all.
    wanted: &'a (dyn Fn(&Point) -> bool + Sync),
    /// Whether what is left there is looked at.
    judged: &'a (dyn Fn(&Point) -> bool + Sync),
    number: u32,
    meant: Meant,
}

impl Asked<'_> {
    fn measure(&self) -> Result<Finish, String> {
        let scallop = self.meant.scallop;
        let of = self.setups.last().ok_or("no setup")?;
        let mut places = scattered(self.skin, AREA, &|_| true);
        places.retain(|p| (self.wanted)(p));
        worn(&mut places, &self.sweeps(false)?, scallop)?;
        places.retain(|p| p.left > scallop);
        let mut points = Vec::new();
        self.skin.iter().for_each(|t| spread(t, SPACING, &mut points));
        let cubes = Cubes::new(&points, AROUND);
        let bends: Vec<Bends> = places.par_iter().map(|p| Bends::around(p, &cubes)).collect();
        let reaches: Vec<f64> = bends.iter().map(|bends| self.meant.disc(bends)).collect();
        let discs = Cubes::new(&places, reaches.iter().copied().fold(0.0, f64::max));
        let holds = |i: &usize, p: &Point| places[*i].at.distance(p.at) <= reaches[*i];
        let area = DENSE * self.meant.plane().powi(2);
        let mut dense = scattered(self.skin, area, &|p| discs.near(p.at).any(|i| holds(&i, p)));
        // Where something is left on, the valleys count, too.
        let enough = if self.meant.left_on > 0.0 { 0.0 } else { LOW * scallop };
        worn(&mut dense, &self.sweeps(true)?, enough)?;
        let limit = ODD * scallop;
        worn(&mut dense, &self.sweeps(false)?, enough)?;
        let odd: Vec<bool> = dense.par_iter().map(|p| p.left > limit && !(self.wanted)(p)).collect();
        let mut crests: Vec<Point> = places.iter().map(|p| Point { left: f64::NEG_INFINITY, ..*p }).collect();
        let mut valleys = vec![self.meant.left_on; places.len()];
        for (p, _) in dense.iter().zip(&odd).filter(|(_, odd)| !**odd) {
            for i in discs.near(p.at).filter(|i| holds(i, p)) {
                valleys[i] = valleys[i].min(p.left.max(0.0));
                if p.left > crests[i].left {
                    crests[i] = *p;
                }
            }
        }
        crests.iter_mut().zip(&valleys).for_each(|(crest, valley)| crest.left -= valley);
        let reach = Reach::new(self.case, of, limit);
        let is_corner: Vec<bool> = crests.par_iter().map(|p| p.left > limit && !reach.any(p)).collect();
        let told = |i: usize| (crests[i].left.min(FAR), of.frame.piece(crests[i].at));
        // What neither was reached nor can be is no corner: it is made from the other side.
        let own = (0..places.len()).filter(|&i| !is_corner[i] || crests[i].left < FAR);
        let (corners, kept): (Vec<usize>, Vec<usize>) = own.partition(|&i| is_corner[i]);
        let between = self.between_passes(&places)?;
        let highest =
            |of: &[usize]| of.iter().copied().max_by(|&a, &b| crests[a].left.total_cmp(&crests[b].left)).map(told);
        if kept.is_empty() {
            return Err("nothing of the skin is finished by this cutter".into());
        }
        let counts = |i: &&usize| (self.judged)(&places[**i]) && (between[**i] || crests[**i].left > scallop);
        let mut heights: Vec<Standing> = kept.iter().filter(counts).map(|&i| told(i)).collect();
        if heights.is_empty() {
            return Err("no place that is looked at has passes all around it".into());
        }
        heights.sort_by(|a, b| a.0.total_cmp(&b.0));
        let least: Vec<[f64; 2]> =
            kept.par_iter().map(|&i| lengths_per_area(&places[i], &bends[i], self.meant)).collect();
        let made = |i: usize| (self.judged)(&places[i]) || crests[i].left <= FINISHED * scallop;
        let asked = || kept.iter().zip(&least).filter(|(i, _)| made(**i));
        let sum = |which: usize| AREA * asked().map(|(_, lengths)| lengths[which]).sum::<f64>();
        Ok(Finish {
            corners: (AREA * corners.len() as f64, highest(&corners)),
            least_length: sum(0),
            least_level: sum(1),
            crests: heights,
        })
    }

    /// Which places have passes of the cutter all around them that leave a crest between them.
    fn between_passes(&self, places: &[Point]) -> Result<Vec<bool>, String> {
        let apart = self.meant.plane();
        let discs = Cubes::new(places, apart);
        let area = std::f64::consts::PI * apart * apart / MANY;
        let mut around = scattered(self.skin, area, &|p| discs.near(p.at).next().is_some());
        worn(&mut around, &self.sweeps(false)?, self.meant.scallop)?;
        let mut own = vec![0.0; places.len()];
        for p in around.iter().filter(|p| p.left > self.meant.scallop) {
            discs.near(p.at).for_each(|i| own[i] += 1.0);
        }
        let leans = |p: &Point| p.normal.z * apart >= self.meant.scallop;
        Ok(places.iter().zip(own).map(|(p, own)| leans(p) && own >= ALL_AROUND * MANY).collect())
    }

    /// Sweeps of the cutter, or of all others.
    fn sweeps(&self, by_it: bool) -> Result<Vec<Swept>, String> {
        let mut sweeps = Vec::new();
        for setup in self.setups {
            let strokes = self.case.strokes(setup)?;
            let its = |s: &&Stroke| (setup.runs[s.run].motions[s.motion].cutter == Some(self.number)) == by_it;
            sweeps.extend(strokes.iter().filter(its).map(|s| s.swept));
        }
        Ok(sweeps)
    }
}

fn worn(points: &mut [Point], sweeps: &[Swept], enough: f64) -> Result<(), String> {
    wear(points, sweeps, enough, &Quiet).map_err(|e| e.to_string())
}

/// Points scattered evenly and without any order over triangles, each standing for `area`: no row of them can lie along a pass
/// and miss the crest beside it.
fn scattered(skin: &[[DVec3; 3]], area: f64, wanted: &(dyn Fn(&Point) -> bool + Sync)) -> Vec<Point> {
    // The additive sequences of least discrepancy in one and two dimensions (powers of the golden ratio and of the real root
    // of x³ = x + 1).
    const ONE: f64 = 0.618_033_988_749_895;
    let [plastic, squared]: [f64; 2] = [0.754_877_666_246_693, 0.569_840_290_998_053];
    let on = |(i, t): (usize, &[DVec3; 3])| {
        let across = (t[1] - t[0]).cross(t[2] - t[0]);
        let (normal, size) = (across.normalize_or_zero(), 0.5 * across.length());
        let first = (i as f64 * ONE).fract();
        let count = (size / area + first) as usize;
        let point = move |k: usize| {
            let n = (k as f64) + 1000.0 * first;
            let (u, v) = ((n * plastic).fract(), (n * squared).fract());
            let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
            Point { at: t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v, normal, left: f64::INFINITY }
        };
        (0..count).map(point).filter(|p| wanted(p)).collect::<Vec<_>>()
    };
    skin.par_iter().enumerate().flat_map_iter(on).collect()
}

/// Points by the cubes that they lie in.
struct Cubes<'a> {
    side: f64,
    points: &'a [Point],
    of: BTreeMap<[i64; 3], Vec<usize>>,
}

impl<'a> Cubes<'a> {
    fn new(points: &'a [Point], side: f64) -> Self {
        let mut cubes = Self { side, points, of: BTreeMap::new() };
        for (i, p) in points.iter().enumerate() {
            cubes.of.entry(cubes.cube(p.at)).or_default().push(i);
        }
        cubes
    }

    fn cube(&self, at: DVec3) -> [i64; 3] {
        (at / self.side).floor().to_array().map(|v| v as i64)
    }

    /// Indices of the points within the cubes' side of a place.
    fn near(&self, at: DVec3) -> impl Iterator<Item = usize> + '_ {
        let [x, y, z] = self.cube(at);
        let around = (x - 1..=x + 1).flat_map(move |x| (y - 1..=y + 1).map(move |y| [x, y]));
        // The map is in the order of z within each x and y.
        let column = move |[x, y]: [i64; 2]| self.of.range([x, y, z - 1]..=[x, y, z + 1]).flat_map(|(_, of)| of);
        let near = move |i: &&usize| self.points[**i].at.distance_squared(at) <= self.side * self.side;
        around.flat_map(column).filter(near).copied()
    }
}

/// Least lengths of path per area of the skin: the share of the tip's own surface in it, over the distance of passes that leave the
/// scallop there. Of passes in the direction in which they may lie widest, and of level ones.
///
/// Where the skin has the curvatures a and b (above 0 where hollow), the tip's surface has (1 − ra)(1 − rb) of its area, and passes
/// across the direction of a lie 2 √(h (2r − h)(1 − ra)) apart on it (`docs/roughing-and-finishing.md`).
fn lengths_per_area(p: &Point, bends: &Bends, meant: Meant) -> [f64; 2] {
    let share = |hollow: f64| (1.0 - meant.radius * hollow).max(0.0);
    let shares = bends.principal().map(share);
    let least = |apart: f64| if apart > 0.0 { shares[0] * shares[1] / (meant.plane() * apart.sqrt()) } else { 0.0 };
    let widest = shares[0].max(shares[1]);
    // Straight down the skin; on level ground there is no such direction.
    let down = p.normal.cross(DVec3::Z.cross(p.normal)).normalize_or_zero();
    [least(widest), least(if down == DVec3::ZERO { widest } else { share(bends.along(down)) })]
}

/// How the skin bends around a point: its second form in the directions `u` and `v`, 1/mm, above 0 where hollow.
struct Bends {
    u: DVec3,
    v: DVec3,
    uu: f64,
    uv: f64,
    vv: f64,
}

impl Bends {
    /// From how the normals turn (least squares); none where there is nothing to tell.
    fn around(p: &Point, cubes: &Cubes<'_>) -> Self {
        let (u, v) = p.normal.any_orthonormal_pair();
        let mut normal = DMat3::ZERO;
        let mut right = DVec3::ZERO;
        for q in cubes.near(p.at).map(|i| &cubes.points[i]).filter(|q| q.normal.dot(p.normal) > LEANS) {
            let at = DVec2::new((q.at - p.at).dot(u), (q.at - p.at).dot(v));
            let turned = -DVec2::new(q.normal.dot(u), q.normal.dot(v)) / q.normal.dot(p.normal);
            // turned = (uu x + uv y, uv x + vv y): rows for the unknowns uu, uv, vv.
            for (row, value) in [(DVec3::new(at.x, at.y, 0.0), turned.x), (DVec3::new(0.0, at.x, at.y), turned.y)] {
                normal += DMat3::from_cols(row * row.x, row * row.y, row * row.z);
                right += row * value;
            }
        }
        let form = if normal.determinant() < 1e-9 { DVec3::ZERO } else { normal.inverse() * right };
        Self { u, v, uu: form.x, uv: form.y, vv: form.z }
    }

    /// The least and the greatest.
    fn principal(&self) -> [f64; 2] {
        let (middle, off) = (0.5 * (self.uu + self.vv), (0.5 * (self.uu - self.vv)).hypot(self.uv));
        [middle - off, middle + off]
    }

    /// Along a direction square to the normal.
    fn along(&self, direction: DVec3) -> f64 {
        let (x, y) = (direction.dot(self.u), direction.dot(self.v));
        self.uu * x * x + 2.0 * self.uv * x * y + self.vv * y * y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lower half of a hollow ball, its triangles seen from within.
    fn hollow_ball(radius: f64) -> Vec<[DVec3; 3]> {
        let (around, down) = (240, 60);
        let at = |i: usize, j: usize| {
            let (a, b) =
                (std::f64::consts::TAU * i as f64 / around as f64, 0.5 * std::f64::consts::PI * j as f64 / down as f64);
            radius * DVec3::new(b.cos() * a.cos(), b.cos() * a.sin(), -b.sin())
        };
        let quad = |(i, j): (usize, usize)| {
            let [p, q, r, s] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            [[p, q, r], [p, r, s]]
        };
        (0..around).flat_map(|i| (0..down).map(move |j| (i, j))).flat_map(quad).collect()
    }

    #[test]
    fn places_stand_for_equal_areas_and_know_their_curvatures() {
        let radius = 30.0;
        let skin = hollow_ball(radius);
        let area = std::f64::consts::TAU * radius * radius;
        let places = scattered(&skin, AREA, &|_| true);
        assert!((places.len() as f64 * AREA / area - 1.0).abs() < 0.02, "{}", places.len());
        let lower = places.iter().filter(|p| p.at.z < -0.5 * radius).count() as f64;
        assert!((lower * AREA / (0.5 * area) - 1.0).abs() < 0.05, "a zone's area goes with its height: {lower}");
        let mut points = Vec::new();
        skin.iter().for_each(|t| spread(t, SPACING, &mut points));
        let cubes = Cubes::new(&points, AROUND);
        let meant = Meant { scallop: 0.02, radius: 3.0, left_on: 0.0 };
        let mut length = 0.0;
        for p in places.iter().filter(|p| p.at.z < -5.0 && p.at.z > -29.5) {
            assert!(p.normal.dot(p.at) < 0.0);
            for hollow in Bends::around(p, &cubes).principal() {
                assert!((hollow * radius - 1.0).abs() < 0.25, "{} at {}", hollow * radius, p.at);
            }
            let [any, around] = lengths_per_area(p, &Bends::around(p, &cubes), meant);
            assert!((around / any - 1.0).abs() < 0.03, "a ball bends alike in all directions");
            length += AREA * any;
        }
        // The tip's centre runs on a ball of radius 27, in passes as `docs/roughing-and-finishing.md` gives them.
        let distance = 2.0 * (0.02_f64 * 5.98 / (1.0 + 3.0 / 27.0)).sqrt();
        let least = std::f64::consts::TAU * 27.0 * (24.5 / 30.0 * 27.0) / distance;
        assert!((length / least - 1.0).abs() < 0.03, "{length} {least}");
    }

    /// A round of 9 mm along a straight wall: passes along it lie √(1 − 3/9) as far apart as passes that go up and down.
    #[test]
    fn level_passes_in_a_round_lie_nearer() {
        let radius = 9.0;
        let at = |x: f64, a: f64| DVec3::new(x, radius * a.sin(), -radius * a.cos());
        let strip = |j: usize| {
            let [a, b] = [j, j + 1].map(|k| 0.5 * std::f64::consts::PI * k as f64 / 90.0);
            let [p, q, r, s] = [at(0.0, a), at(40.0, a), at(40.0, b), at(0.0, b)];
            [[p, q, r], [p, r, s]]
        };
        let skin: Vec<[DVec3; 3]> = (0..90).flat_map(strip).collect();
        let mut points = Vec::new();
        skin.iter().for_each(|t| spread(t, SPACING, &mut points));
        let cubes = Cubes::new(&points, AROUND);
        let meant = Meant { scallop: 0.02, radius: 3.0, left_on: 0.0 };
        let places = scattered(&skin, AREA, &|p| {
            p.at.x > 3.0 && p.at.x < 37.0 && p.at.y > 3.0 && p.at.z > -7.0 && p.at.z < -3.0
        });
        assert!(!places.is_empty());
        for p in &places {
            let [any, level] = lengths_per_area(p, &Bends::around(p, &cubes), meant);
            let share = 1.0 - 3.0 / radius;
            assert!((any * meant.plane() / share - 1.0).abs() < 0.05, "{any}");
            assert!((level * meant.plane() / share.sqrt() - 1.0).abs() < 0.05, "{level}");
        }
    }
}
