//! Regions of the plane bounded by polygons: offsets, joins, tests. Hides the polygon library behind one module.
//!
//! The library counts in whole units of [`GRID`] mm.

use clipper2_rust as library;
use glam::DVec2;
use library::{ClipType, FillRule, Path64, Paths64, Point64};

/// Unit of the library, mm: results lie within half of it (along each axis) of the exact ones.
pub const GRID: f64 = 1e-6;

/// A corner needs no arc if the sides that meet in its place stick out by no more than this share of the arc's tolerance.
const BLUNT: f64 = 0.05;

/// Rings narrower than about twice this are splinters that rounding leaves, units.
const SPLINTER: f64 = 2.0;

/// A closed polygon; the last point joins the first. Counter-clockwise is an outer boundary, clockwise a hole.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Ring(pub Vec<DVec2>);

/// A region: outer rings counter-clockwise, holes clockwise.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Region {
    /// The rings.
    pub rings: Vec<Ring>,
}

/// What counts as enclosed by rings that were drawn by hand (SVG 2, property `fill-rule`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// What they go round, in either sense, more often than in the other.
    NonZero,
    /// What they go round an odd number of times.
    EvenOdd,
}

impl Ring {
    /// The sides, each from its start to its end.
    pub fn sides(&self) -> impl Iterator<Item = (DVec2, DVec2)> + '_ {
        let n = self.0.len();
        (0..n).map(move |i| (self.0[i], self.0[(i + 1) % n]))
    }

    /// Signed area, positive when counter-clockwise.
    pub fn area(&self) -> f64 {
        let Some(&o) = self.0.first() else { return 0.0 };
        self.sides().map(|(a, b)| (a - o).perp_dot(b - o)).sum::<f64>() / 2.0
    }

    /// Length round.
    pub fn perimeter(&self) -> f64 {
        self.sides().map(|(a, b)| a.distance(b)).sum()
    }

    /// Distance of `p` from the boundary.
    pub fn distance(&self, p: DVec2) -> f64 {
        self.sides().map(|(a, b)| point_side(p, a, b)).fold(f64::INFINITY, f64::min)
    }

    /// With points dropped that lie nearer than `tolerance` to the line that stays (Douglas and Peucker 1973, from two
    /// points far apart, which stay).
    pub fn thinned(&self, tolerance: f64) -> Ring {
        let n = self.0.len();
        if n < 4 {
            return self.clone();
        }
        let far_from = |p: DVec2| {
            (0..n).fold(
                0,
                |best, i| {
                    if self.0[i].distance_squared(p) > self.0[best].distance_squared(p) { i } else { best }
                },
            )
        };
        let first = far_from(self.0[0]);
        let second = far_from(self.0[first]);
        let mut keep = vec![false; n];
        keep[first] = true;
        keep[second] = true;
        let mut open = vec![(first, second), (second, first)];
        while let Some((from, to)) = open.pop() {
            let gap = (to + n - from) % n;
            let off = |k: usize| point_side(self.0[(from + k) % n], self.0[from], self.0[to]);
            let worst = (1..gap).map(|k| (k, off(k))).fold((0, tolerance), |w, k| if k.1 > w.1 { k } else { w });
            if worst.0 > 0 {
                let middle = (from + worst.0) % n;
                keep[middle] = true;
                open.extend([(from, middle), (middle, to)]);
            }
        }
        Ring((0..n).filter(|&i| keep[i]).map(|i| self.0[i]).collect())
    }
}

/// How often `sides` go round `p`, counter-clockwise counted up. Of closed rings only those sides are needed that pass the
/// height of `p`.
pub fn winding(sides: impl IntoIterator<Item = (DVec2, DVec2)>, p: DVec2) -> i32 {
    let mut winding = 0;
    for (a, b) in sides {
        if (a.y <= p.y) != (b.y <= p.y) {
            let left = (b - a).perp_dot(p - a) > 0.0;
            if a.y <= p.y && left {
                winding += 1;
            } else if a.y > p.y && !left {
                winding -= 1;
            }
        }
    }
    winding
}

fn point_side(p: DVec2, a: DVec2, b: DVec2) -> f64 {
    crate::distance::point_segment(p.extend(0.0), a.extend(0.0), b.extend(0.0))
}

/// Chords that are tried for a point inside.
const CHORDS: u32 = 24;

impl Region {
    /// A rectangle.
    pub fn rectangle(min: DVec2, max: DVec2) -> Self {
        Self { rings: vec![Ring(vec![min, DVec2::new(max.x, min.y), max, DVec2::new(min.x, max.y)])] }
    }

    /// A disc as a polygon whose sides lie within `tolerance` inside the circle.
    pub fn disc(centre: DVec2, radius: f64, tolerance: f64) -> Self {
        let half = (1.0 - (tolerance / radius).min(0.5)).acos();
        let n = (std::f64::consts::PI / half).ceil().max(8.0) as usize;
        let point = |i: usize| centre + radius * DVec2::from_angle(std::f64::consts::TAU * i as f64 / n as f64);
        Self { rings: vec![Ring((0..n).map(point).collect())] }
    }

    /// What rings drawn in any sense, and perhaps across each other, enclose.
    pub fn drawn(rings: Vec<Ring>, fill: Fill) -> Self {
        let rule = match fill {
            Fill::NonZero => FillRule::NonZero,
            Fill::EvenOdd => FillRule::EvenOdd,
        };
        from_units(&library::boolean_op_64(ClipType::Union, rule, &to_units(&Self { rings }), &Paths64::new()))
    }

    /// Least and greatest corner; `None` for an empty region.
    pub fn bounds(&self) -> Option<(DVec2, DVec2)> {
        let mut points = self.rings.iter().flat_map(|r| &r.0);
        let first = *points.next()?;
        Some(points.fold((first, first), |(lo, hi), &p| (lo.min(p), hi.max(p))))
    }

    /// Whether it has no rings.
    pub fn is_empty(&self) -> bool {
        self.rings.is_empty()
    }

    /// Outwards (`by` > 0) or inwards, with round joins true to `arc_tolerance`: their chords lie inside the arcs, and blunt
    /// corners no farther outside than a twentieth of it.
    ///
    /// A dense outline should be taken inwards in steps, thinned in between: in one go the time grows with the square of
    /// depth over point distance.
    pub fn offset(&self, by: f64, arc_tolerance: f64) -> Region {
        if by == 0.0 || self.rings.is_empty() {
            return self.clone();
        }
        let clean = from_units(&run(ClipType::Union, &to_units(self), &Paths64::new()));
        let shifted = clean.rings.iter().filter_map(|ring| shifted(ring, by, arc_tolerance)).collect();
        Region { rings: shifted }.union(&Region::default())
    }

    /// With points dropped from its rings as [`Ring::thinned`] does; what is no ring then is gone.
    pub fn thinned(&self, tolerance: f64) -> Region {
        Region { rings: self.rings.iter().map(|r| r.thinned(tolerance)).filter(|r| r.0.len() > 2).collect() }
    }

    /// This or that.
    pub fn union(&self, other: &Region) -> Region {
        self.combined(ClipType::Union, other)
    }

    /// This without that.
    pub fn minus(&self, other: &Region) -> Region {
        self.combined(ClipType::Difference, other)
    }

    /// Both.
    pub fn common(&self, other: &Region) -> Region {
        self.combined(ClipType::Intersection, other)
    }

    fn combined(&self, clip: ClipType, other: &Region) -> Region {
        from_units(&run(clip, &to_units(self), &to_units(other)))
    }

    /// Enclosed area.
    pub fn area(&self) -> f64 {
        self.rings.iter().map(Ring::area).sum()
    }

    /// Distance of `p` from the boundary, infinite for an empty region.
    pub fn distance(&self, p: DVec2) -> f64 {
        self.rings.iter().map(|r| r.distance(p)).fold(f64::INFINITY, f64::min)
    }

    /// Whether `p` lies inside (winding number above 0).
    pub fn contains(&self, p: DVec2) -> bool {
        winding(self.rings.iter().flat_map(Ring::sides), p) > 0
    }

    /// A point well inside: the middle of the longest of some level chords. `None` for an empty region.
    pub fn inner_point(&self) -> Option<DVec2> {
        let (lo, hi) = self.bounds()?;
        let mut best: Option<(f64, DVec2)> = None;
        for k in 1..CHORDS {
            let y = lo.y + (hi.y - lo.y) * f64::from(k) / f64::from(CHORDS);
            let mut crossings: Vec<f64> = Vec::new();
            for (a, b) in self.rings.iter().flat_map(Ring::sides).filter(|(a, b)| (a.y > y) != (b.y > y)) {
                crossings.push(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
            }
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                let length = pair[1] - pair[0];
                if best.is_none_or(|b| length > b.0) {
                    best = Some((length, DVec2::new((pair[0] + pair[1]) / 2.0, y)));
                }
            }
        }
        best.map(|b| b.1)
    }

    /// The outer rings with their holes, one region each.
    pub fn parts(&self) -> Vec<Region> {
        let mut parts: Vec<Region> =
            self.rings.iter().filter(|r| r.area() > 0.0).map(|r| Region { rings: vec![r.clone()] }).collect();
        for hole in self.rings.iter().filter(|r| r.area() < 0.0) {
            // The smallest outer ring around it: with nested islands several contain it.
            let holds = |part: &Region| hole.0.iter().filter(|&&p| part.rings[0].holds(p)).count() * 2 > hole.0.len();
            let owner = (0..parts.len())
                .filter(|&i| holds(&parts[i]) && parts[i].rings[0].area() >= -hole.area())
                .min_by(|&i, &j| parts[i].rings[0].area().total_cmp(&parts[j].rings[0].area()));
            if let Some(i) = owner {
                parts[i].rings.push(hole.clone());
            }
        }
        parts
    }
}

impl Ring {
    /// Whether `p` lies within the ring, whichever way round it goes.
    pub fn holds(&self, p: DVec2) -> bool {
        let right_of =
            |&(a, b): &(DVec2, DVec2)| (a.y <= p.y) != (b.y <= p.y) && ((b - a).perp_dot(p - a) > 0.0) == (a.y <= p.y);
        self.sides().filter(right_of).count() % 2 == 1
    }
}

fn run(clip: ClipType, subjects: &Paths64, clips: &Paths64) -> Paths64 {
    library::boolean_op_64(clip, FillRule::Positive, subjects, clips)
}

/// A ring of a region with every side shifted along its normal, to the right (`by` > 0) or to the left. Where it overlaps
/// itself, more than what belongs to the offset is wound round less than once (`by` < 0), or nothing more is wound round at
/// all (`by` > 0). `None` for splinters.
///
/// A strip between each side and where it is shifted to, and a sector at each corner that opens, make up all that lies within
/// |`by`|. At a corner that closes two strips overlap; going round by the corner itself counts both. The two shifted sides
/// are cut where they cross instead, as long as the kite between that place and the corner lies within both strips: the
/// kite is then counted once less, and of strips that overlap in a row there is one more than kites between them. (Not all
/// round a ring: its first corner is always gone round by.) So few sides are left that cross each other, and joining them is
/// quick.
fn shifted(ring: &Ring, by: f64, arc_tolerance: f64) -> Option<Ring> {
    if ring.area().abs() <= SPLINTER * GRID * ring.perimeter() {
        return None;
    }
    let sides: Vec<(DVec2, DVec2, f64)> = ring
        .sides()
        .map(|(a, b)| (a, (b - a).normalize_or_zero(), a.distance(b)))
        .filter(|side| side.2 > 0.0)
        .collect();
    // Half the angle of a chord.
    let chord = (1.0 - (arc_tolerance.max(GRID) / by.abs()).min(1.0)).acos();
    let mut points = Vec::with_capacity(2 * sides.len());
    for (i, &(corner, along, length)) in sides.iter().enumerate() {
        let (_, before, length_before) = sides[(i + sides.len() - 1) % sides.len()];
        let [out, on] = [before, along].map(|along| -along.perp() * by);
        let turn = before.perp_dot(along).atan2(before.dot(along));
        // The kite reaches so far along both sides; at a corner that opens, its tip so far beyond the arc.
        let kite = by.abs() * (0.5 * turn.abs()).tan();
        let beyond = by.abs() / (0.5 * turn).cos() - by.abs();
        if turn * by > 0.0 && beyond > BLUNT * arc_tolerance {
            let chords = (turn.abs() / (2.0 * chord)).ceil().max(1.0);
            points.push(corner + out);
            points.extend(
                (1..chords as u32).map(|k| corner + DVec2::from_angle(turn * f64::from(k) / chords).rotate(out)),
            );
            points.push(corner + on);
        } else if turn * by > 0.0 || (i > 0 && kite <= length.min(length_before)) {
            points.push(corner + (out + on) / (1.0 + before.dot(along)));
        } else {
            points.extend([corner + out, corner, corner + on]);
        }
    }
    Some(Ring(points))
}

fn to_units(region: &Region) -> Paths64 {
    let point = |p: &DVec2| Point64::new((p.x / GRID).round() as i64, (p.y / GRID).round() as i64);
    region.rings.iter().map(|r| r.0.iter().map(point).collect::<Path64>()).collect()
}

fn from_units(paths: &Paths64) -> Region {
    let rings = paths.iter().filter(|p| p.len() > 2);
    Region {
        rings: rings.map(|p| Ring(p.iter().map(|p| DVec2::new(p.x as f64, p.y as f64) * GRID).collect())).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn square(side: f64) -> Region {
        Region::rectangle(DVec2::splat(-side / 2.0), DVec2::splat(side / 2.0))
    }

    fn plain(r: &Region) -> Vec<Vec<[f64; 2]>> {
        r.rings.iter().map(|r| r.0.iter().map(|p| p.to_array()).collect()).collect()
    }

    fn area_of(shapes: &[Vec<Vec<[f64; 2]>>]) -> f64 {
        let ring = |r: &Vec<[f64; 2]>| Ring(r.iter().map(|&p| DVec2::from_array(p)).collect()).area();
        shapes.iter().flatten().map(ring).sum()
    }

    fn star(points: usize, inner: f64, outer: f64, turn: f64) -> Region {
        let p = |i: usize| {
            let r = if i.is_multiple_of(2) { outer } else { inner };
            DVec2::from_angle(turn + PI * i as f64 / points as f64) * r
        };
        Region { rings: vec![Ring((0..2 * points).map(p).collect())] }
    }

    #[test]
    fn a_square_grows_by_sides_and_quarter_discs() {
        // Steiner: A + P·r + π·r².
        let (r, tolerance) = (3.0, 1e-4);
        let grown = square(10.0).offset(r, tolerance);
        let exact = 100.0 + 40.0 * r + PI * r * r;
        assert!((grown.area() - exact).abs() < 2.0 * PI * r * tolerance, "{} {exact}", grown.area());
        assert!(grown.area() <= exact + 1e-4);
        let off = |p: &DVec2| ((p.abs() - 5.0).max(DVec2::ZERO).length() - r).abs();
        assert!(grown.rings[0].0.iter().all(|p| off(p) < 2.0 * GRID));
        let shrunk = square(10.0).offset(-r, tolerance);
        assert!((shrunk.area() - 16.0).abs() < 1e-4);
        assert!(square(10.0).offset(-5.1, tolerance).is_empty());
    }

    #[test]
    fn holes_shrink_when_the_region_grows() {
        let frame = square(20.0).minus(&square(10.0));
        assert_eq!(frame.rings.len(), 2);
        assert!((frame.area() - 300.0).abs() < 1e-9);
        let grown = frame.offset(1.0, 1e-4);
        assert!((grown.area() - (400.0 + 80.0 + PI - 64.0)).abs() < 1e-2);
        assert!(grown.rings.iter().any(|r| r.area() < 0.0));
    }

    #[test]
    fn inside_outside_and_distance() {
        let frame = square(20.0).minus(&square(10.0));
        for (p, inside) in [((0.0, 0.0), false), ((7.0, 0.0), true), ((11.0, 0.0), false), ((-7.0, 9.0), true)] {
            assert_eq!(frame.contains(DVec2::new(p.0, p.1)), inside, "{p:?}");
        }
        assert!((frame.distance(DVec2::new(6.0, 0.0)) - 1.0).abs() < 1e-9);
        assert!((frame.distance(DVec2::new(13.0, 14.0)) - 5.0).abs() < 1e-9);
        assert_eq!(Region::default().distance(DVec2::ZERO), f64::INFINITY);
    }

    #[test]
    fn a_point_inside_lies_inside_of_rings_and_frames() {
        let frame = square(30.0).minus(&square(26.0));
        for region in [square(10.0), frame.clone(), Region::disc(DVec2::new(3.0, -7.0), 2.0, 0.1)] {
            let at = region.inner_point().unwrap();
            assert!(region.contains(at), "{at}");
        }
        assert!(Region::default().inner_point().is_none());
    }

    #[test]
    fn parts_keep_their_own_holes() {
        let frame = |side: f64| square(side).minus(&square(side - 4.0));
        let nested = frame(30.0).union(&frame(16.0));
        let parts = nested.parts();
        assert_eq!(parts.len(), 2);
        for (part, area) in parts.iter().zip([900.0 - 676.0, 256.0 - 144.0]) {
            let found = parts.iter().any(|p| (p.area() - area).abs() < 1e-6);
            assert!(found && part.rings.len() == 2, "{area}");
        }
    }

    #[test]
    fn thinning_stays_within_the_tolerance() {
        let disc = Region::disc(DVec2::new(3.0, 1.0), 50.0, 1e-5).rings.remove(0);
        let thin = disc.thinned(0.01);
        assert!(thin.0.len() < disc.0.len() / 10 && thin.0.len() > 20);
        assert!(disc.0.iter().all(|&p| thin.distance(p) <= 0.01));
        assert_eq!(thin.thinned(0.0).0.len(), thin.0.len());
    }

    #[test]
    fn a_disc_is_true_to_its_tolerance() {
        let d = Region::disc(DVec2::ZERO, 20.0, 0.01);
        let middle = |(a, b): (DVec2, DVec2)| 20.0 - ((a + b) / 2.0).length();
        let worst = d.rings[0].sides().map(middle).fold(0.0, f64::max);
        assert!(worst <= 0.01 && worst > 0.005, "{worst}");
    }

    /// Waves tighter than the offset, islands, and a way through that closes: what is kept is what lies inside and far enough
    /// from the boundary, and what a larger region gains lies near enough to it.
    #[test]
    fn a_wavy_region_is_offset_as_distances_say() {
        let ring = |n: u32, at: f64, radius: f64, wave: f64| {
            let point = |i: u32| {
                let t = 2.0 * PI * f64::from(i) / f64::from(n);
                DVec2::new(at, 0.0) + DVec2::from_angle(t) * (radius + wave * (23.0 * t).sin())
            };
            Region { rings: vec![Ring((0..n).map(point).collect())] }
        };
        let region = ring(2000, 0.0, 20.0, 0.6).minus(&ring(300, 9.0, 4.0, 0.2)).minus(&ring(40, -6.0, 5.0, 1.0));
        let mut judged = 0;
        for by in [-0.3, -1.1, -2.4, 0.4, 1.7] {
            let got = region.offset(by, 0.005);
            for k in 0..40 * 40 {
                let p = DVec2::new(f64::from(k % 40) - 19.7, f64::from(k / 40) - 19.6) * 1.17;
                let depth = region.distance(p) * if region.contains(p) { 1.0 } else { -1.0 } + by;
                if depth.abs() > 0.01 {
                    assert_eq!(got.contains(p), depth > 0.0, "{by} at {p}: {depth}");
                    judged += 1;
                }
            }
        }
        assert!(judged > 7000, "{judged}");
    }

    #[test]
    fn a_region_and_a_splinter_are_offset_as_the_region_alone() {
        let needle = [(0.0, 8.0), (1.0, 6.0), (2.0, 9.0)].map(|(x, y): (f64, f64)| DVec2::new(x * GRID, y)).to_vec();
        for points in [needle.clone(), needle.into_iter().rev().collect()] {
            let mut region = square(10.0);
            region.rings.push(Ring(points));
            for by in [-1.0, 1.0] {
                assert_eq!(region.offset(by, 1e-4), square(10.0).offset(by, 1e-4));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn joins_agree_with_a_second_library(n in 3..9_usize, inner in 2.0..9.0_f64, turn in 0.0..3.0_f64, x in -9.0..9.0_f64) {
            use i_overlay::core::{fill_rule::FillRule, overlay_rule::OverlayRule};
            use i_overlay::float::single::SingleFloatOverlay;
            let (a, mut b) = (star(n, inner, 10.0, turn), star(n + 1, 4.0, 8.0, 0.1));
            b.rings[0].0.iter_mut().for_each(|p| p.x += x);
            for (ours, rule) in [
                (a.union(&b), OverlayRule::Union),
                (a.minus(&b), OverlayRule::Difference),
                (a.common(&b), OverlayRule::Intersect),
            ] {
                let theirs = area_of(&plain(&a).overlay(&plain(&b), rule, FillRule::NonZero));
                prop_assert!((ours.area() - theirs).abs() < 1e-3, "{:?}: {} {}", rule, ours.area(), theirs);
            }
        }

        #[test]
        fn offsets_agree_with_a_second_library(n in 3..9_usize, inner in 4.0..9.0_f64, turn in 0.0..3.0_f64, by in -2.0..4.0_f64) {
            use i_overlay::mesh::float::{outline::offset::OutlineOffset, style::{LineJoin, OutlineStyle}};
            prop_assume!(by.abs() > 0.01);
            let a = star(n, inner, 10.0, turn);
            let style = OutlineStyle::new(by).line_join(LineJoin::Round(0.02));
            let theirs = area_of(&plain(&a).outline(&style));
            let ours = a.offset(by, 1e-4);
            prop_assert!((ours.area() - theirs).abs() < 2e-3 * theirs.abs() + 0.02, "{} {}", ours.area(), theirs);
        }

        #[test]
        fn every_point_of_an_offset_lies_at_its_distance(n in 3..9_usize, inner in 4.0..9.0_f64, by in -3.0..5.0_f64) {
            prop_assume!(by.abs() > 0.01);
            let a = star(n, inner, 10.0, 0.2);
            let tolerance = 1e-3;
            for ring in &a.offset(by, tolerance).rings {
                for (p, q) in ring.sides() {
                    for at in [p, (p + q) / 2.0] {
                        prop_assert!((a.distance(at) - by.abs()).abs() < tolerance + 1e-5, "{} {}", a.distance(at), by);
                    }
                }
            }
        }
    }
}
