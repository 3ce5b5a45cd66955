//! Outlines: smooth closed curves about the origin, counter-clockwise, with their normals, curvature and parallels.
//!
//! Points and normals are analytic. Where a rounded rectangle passes from a side to a corner both have the same normal,
//! so its parallels are exact too (sides shift, corner radii shrink). Lengths in mm, insets positive inwards.

use crate::curve::Curve;
use crate::joined::{Joined, Part};
use base::{Report, Units};
use geom::{DVec2, Ring};
use job::{OutlineSpec, Placed};
use std::f64::consts::PI;

/// Radius, mm, that must be left on the tightest convex corner of an inset section, so that a mesh can show it.
pub const LEAST_LEFT: f64 = 0.25;

/// Samples of a span when points are shared out along it.
const SPAN_SAMPLES: usize = 48;

/// A smooth outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    curve: Curve,
    area: f64,
    length: f64,
    reach_inwards: f64,
    reach_outwards: f64,
    half_size: DVec2,
}

/// A point of an outline with its normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// The point.
    pub point: DVec2,
    /// Unit normal pointing outwards.
    pub outward: DVec2,
}

impl Station {
    /// A place on the way to the next, its normal turned evenly.
    pub(crate) fn between(&self, next: &Self, t: f64) -> Self {
        let outward = self.outward.lerp(next.outward, t).normalize_or(self.outward);
        Self { point: self.point.lerp(next.point, t), outward }
    }

    /// The point moved inwards along the normal (negative: outwards).
    pub fn inset(&self, by: f64) -> DVec2 {
        self.point - self.outward * by
    }
}

/// A range of insets, mm: all sections of one mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Insets {
    /// The outermost (may be negative).
    pub least: f64,
    /// The innermost.
    pub greatest: f64,
}

impl Outline {
    /// Checks the sizes and builds the curve; mistakes are told in the maker's units.
    pub fn new(spec: &Placed<OutlineSpec>, units: Units, report: &mut Report) -> Option<Self> {
        match Curve::new(&spec.value, units) {
            Ok(curve) => Some(Self::of(curve)),
            Err((text, hint)) => {
                report.error("outline-size", spec.at, text).hint(hint);
                None
            }
        }
    }

    /// Of lines and arcs that go on smoothly and close, counter-clockwise about the origin.
    pub(crate) fn of_parts(parts: Vec<Part>) -> Self {
        Self::of(Curve::Joined(Joined::begun_on_x(parts)))
    }

    fn of(curve: Curve) -> Self {
        Self {
            area: curve.area(),
            length: curve.length(),
            reach_inwards: curve.reach_inwards(),
            reach_outwards: curve.reach_outwards(),
            half_size: curve.half_size(),
            curve,
        }
    }

    /// Area enclosed, mm² (closed form).
    pub fn area(&self) -> f64 {
        self.area
    }

    /// Length round, mm (closed form, or quadrature to 1e-12 relative).
    pub fn length(&self) -> f64 {
        self.length
    }

    /// Area enclosed by the parallel at `inset`, mm²: `A − L d + π d²` (Steiner).
    pub fn area_at(&self, inset: f64) -> f64 {
        self.area - self.length * inset + PI * inset * inset
    }

    /// The greatest inset (exclusive) that keeps the parallel smooth and simple: the least radius of convex curvature
    /// or, where that is smaller, the least distance of a tangent from the origin (narrow waists); of free outlines the least of all
    /// discs inside that touch them and reach no farther.
    pub fn reach_inwards(&self) -> f64 {
        self.reach_inwards
    }

    /// Where a free outline allows no more, from the middle of its extent, mm; `None` for the named ones.
    pub fn tightest(&self) -> Option<DVec2> {
        self.curve.tightest().map(|reach| reach.at)
    }

    /// Least radius of concave curvature (infinite for convex outlines): the greatest outset that keeps it smooth; of free outlines
    /// also the narrowest bay.
    pub fn reach_outwards(&self) -> f64 {
        self.reach_outwards
    }

    /// Half sides of the least rectangle about the origin that holds it.
    pub fn half_size(&self) -> DVec2 {
        self.half_size
    }

    /// A station that lies farthest in a direction, within `tolerance` of the farthest; of several, one of them.
    pub fn farthest(&self, direction: DVec2, tolerance: f64) -> Station {
        let first = self.station(0.0);
        let stations = self.stations(Insets { least: 0.0, greatest: 0.0 }, tolerance);
        let along = |s: &Station| s.point.dot(direction);
        stations.into_iter().fold(first, |best, s| if along(&s) > along(&best) { s } else { best })
    }

    /// Length along X and width along Y, each within twice the tolerance.
    pub fn size(&self, tolerance: f64) -> DVec2 {
        let [right, back, left, front] =
            [DVec2::X, DVec2::Y, DVec2::NEG_X, DVec2::NEG_Y].map(|d| self.farthest(d, tolerance).point);
        DVec2::new(right.x - left.x, back.y - front.y)
    }

    /// The parallel at `inset` (negative: outwards), within `tolerance` of the true curve. The inset must lie within
    /// the reach on either side.
    pub fn parallel(&self, inset: f64, tolerance: f64) -> Ring {
        let stations = self.stations(Insets { least: inset, greatest: inset }, tolerance);
        Ring(stations.iter().map(|s| s.inset(inset)).collect())
    }

    /// Length of the parameter range round the curve; the parameter runs counter-clockwise from the +X side.
    pub fn period(&self) -> f64 {
        self.curve.period()
    }

    /// Point and normal at a parameter (any value; it wraps round).
    pub fn station(&self, u: f64) -> Station {
        self.curve.station(u.rem_euclid(self.curve.period()))
    }

    /// Stations such that the polygons through them at *all* insets of the range keep within `tolerance` of the true
    /// parallels: convex parts are coarsest at the least inset, concave parts at the greatest.
    pub fn stations(&self, insets: Insets, tolerance: f64) -> Vec<Station> {
        let mut stations = Vec::new();
        for [from, to] in self.curve.spans() {
            let ends = share_out(&self.curve, [from, to], insets, tolerance);
            stations.extend(ends.iter().map(|&u| self.curve.station(u)));
        }
        stations
    }

    /// The station whose point at `inset` lies `aside` beside the normal of station `u` (to its left seen outwards),
    /// found by bisection to 1e-12 of the period. `None` if the curve turns away before.
    pub fn beside(&self, u: f64, inset: f64, aside: f64) -> Option<Station> {
        let home = self.station(u);
        let across = home.outward.perp();
        let off = |u: f64| (self.station(u).inset(inset) - home.inset(inset)).dot(across) - aside;
        if aside == 0.0 {
            return Some(home);
        }
        let sense = aside.signum();
        let step = self.period() / 720.0;
        let found = (1..=180).find(|&k| off(u + sense * step * f64::from(k)) * sense >= 0.0)?;
        let (mut near, mut far) = (sense * step * f64::from(found - 1), sense * step * f64::from(found));
        while (far - near).abs() > 1e-12 * self.period() {
            let middle = 0.5 * (near + far);
            if middle == near || middle == far {
                break;
            }
            if off(u + middle) * sense >= 0.0 { far = middle } else { near = middle }
        }
        Some(self.station(u + far))
    }
}

/// Parameters along a span, its end left out, so that chords keep the tolerance at both ends of the inset range.
///
/// A chord over du stays within `|(s − d φ') φ'| du² / 8` (speed s, turning φ' of the normal per parameter), so points
/// are shared out by the root of that. The result is then measured, and the number raised until it holds.
fn share_out(curve: &Curve, [from, to]: [f64; 2], insets: Insets, tolerance: f64) -> Vec<f64> {
    let du = (to - from) / SPAN_SAMPLES as f64;
    let mut density: Vec<f64> = (0..SPAN_SAMPLES)
        .map(|k| {
            let (p, q) = (curve.station(from + du * k as f64), curve.station(from + du * (k + 1) as f64));
            let turn = p.outward.perp_dot(q.outward).abs() / du;
            let chord = |d: f64| p.inset(d).distance(q.inset(d)) / du;
            (chord(insets.least).max(chord(insets.greatest)) * turn / (8.0 * tolerance)).sqrt()
        })
        .collect();
    let most = density.iter().fold(0.0, |a: f64, &b| a.max(b));
    if most * (to - from) < 1e-9 {
        return vec![from];
    }
    density.iter_mut().for_each(|d| *d = d.max(0.3 * most));
    let total: f64 = density.iter().sum::<f64>() * du;
    let mut count = total.ceil().max(1.0) as usize;
    loop {
        let ends = spread(&density, [from, to], count);
        if ends.windows(2).all(|w| chord_keeps(curve, [w[0], w[1]], insets, tolerance)) {
            return ends[..count].to_vec();
        }
        count += 1 + count / 32;
    }
}

/// `count + 1` parameters from one end of the span to the other with equal shares of the density between them.
fn spread(density: &[f64], [from, to]: [f64; 2], count: usize) -> Vec<f64> {
    let du = (to - from) / density.len() as f64;
    let total: f64 = density.iter().sum();
    let mut ends = vec![from];
    let (mut k, mut before) = (0, 0.0);
    for i in 1..count {
        let want = total * i as f64 / count as f64;
        while k + 1 < density.len() && before + density[k] < want {
            before += density[k];
            k += 1;
        }
        ends.push(from + du * (k as f64 + (want - before) / density[k]));
    }
    ends.push(to);
    ends
}

/// Whether the curve stays within the tolerance of its chord at both ends of the range: measured at seven places, and between
/// them by the parabola through the farthest and its neighbours.
fn chord_keeps(curve: &Curve, [from, to]: [f64; 2], insets: Insets, tolerance: f64) -> bool {
    let (a, b) = (curve.station(from), curve.station(to));
    let between: [Station; 7] = std::array::from_fn(|k| curve.station(from + (to - from) * (k + 1) as f64 / 8.0));
    [insets.least, insets.greatest].iter().all(|&d| {
        let (p, q) = (a.inset(d), b.inset(d));
        let along = (q - p).normalize_or_zero();
        let mut off = [0.0; 9];
        for (off, s) in off[1..8].iter_mut().zip(&between) {
            *off = along.perp_dot(s.inset(d) - p).abs();
        }
        let k = (1..8).fold(4, |best, k| if off[k] > off[best] { k } else { best });
        let (slope, bend) = (off[k + 1] - off[k - 1], 2.0 * off[k] - off[k - 1] - off[k + 1]);
        let above = if bend > 0.0 { slope * slope / (8.0 * bend) } else { 0.0 };
        off[k] + above <= tolerance
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::mm;
    use job::OutlinePoint;
    use std::f64::consts::TAU;

    fn outline(spec: OutlineSpec) -> Outline {
        let mut report = Report::default();
        Outline::new(&Placed { value: spec, at: None }, Units::Mm, &mut report).unwrap()
    }

    fn cornered([x, y]: [f64; 2], corner: f64) -> OutlinePoint {
        OutlinePoint { at: [mm(x), mm(y)], heading_deg: None, corner: Some(mm(corner)) }
    }

    /// A bean with a corner at one end.
    fn bean() -> OutlineSpec {
        let free = |x, y| OutlinePoint { corner: None, ..cornered([x, y], 1.0) };
        let points = vec![
            cornered([120.0, 30.0], 30.0),
            free(0.0, 95.0),
            free(-110.0, 20.0),
            free(-60.0, -40.0),
            free(20.0, -22.0),
        ];
        OutlineSpec::Curve { points }
    }

    fn all() -> Vec<Outline> {
        vec![
            outline(OutlineSpec::Circle { diameter: mm(190.0) }),
            outline(OutlineSpec::Ellipse { length: mm(240.0), width: mm(170.0) }),
            outline(OutlineSpec::RoundedRectangle { length: mm(260.0), width: mm(160.0), corner: mm(45.0) }),
            outline(OutlineSpec::RoundedRectangle { length: mm(160.0), width: mm(160.0), corner: mm(80.0) }),
            outline(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 4, depth: 0.08 }),
            outline(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 3, depth: 0.0 }),
            outline(OutlineSpec::Frilly { diameter: mm(190.0), waves: 7, depth: 0.04, uneven: 0.8, seed: 3 }),
            outline(OutlineSpec::Superellipse { length: mm(240.0), width: mm(170.0), power: 4.0 }),
            outline(OutlineSpec::Superellipse { length: mm(200.0), width: mm(180.0), power: 2.5 }),
            outline(OutlineSpec::Polygon { diameter: mm(200.0), sides: 6, corner: mm(40.0) }),
            outline(OutlineSpec::Polygon { diameter: mm(180.0), sides: 3, corner: mm(50.0) }),
            outline(OutlineSpec::Polygon { diameter: mm(180.0), sides: 5, corner: mm(90.0) }),
            outline(OutlineSpec::Heart { length: mm(200.0), tip: mm(30.0), cleft: mm(25.0) }),
            outline(bean()),
            outline(OutlineSpec::Curve {
                points: [[0.0, 0.0], [190.0, 10.0], [70.0, 150.0]].map(|p| cornered(p, 28.0)).to_vec(),
            }),
        ]
    }

    fn polygon_area(points: &[DVec2]) -> f64 {
        (0..points.len()).map(|i| points[i].perp_dot(points[(i + 1) % points.len()])).sum::<f64>() / 2.0
    }

    fn polygon_length(points: &[DVec2]) -> f64 {
        (0..points.len()).map(|i| points[i].distance(points[(i + 1) % points.len()])).sum()
    }

    /// Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 17.1: E(m = 0.5) = 1.350 643 881 0.
    #[test]
    fn length_of_an_ellipse_is_the_complete_elliptic_integral() {
        let e = outline(OutlineSpec::Ellipse { length: mm(200.0), width: mm(200.0 * 0.5_f64.sqrt()) });
        assert!((e.length() / (4.0 * 100.0) - 1.350_643_881_0).abs() < 2e-10, "{}", e.length());
    }

    #[test]
    fn area_and_length_agree_with_fine_polygons() {
        for o in all() {
            let points: Vec<DVec2> = (0..200_000).map(|k| o.station(o.period() * f64::from(k) / 2e5).point).collect();
            assert!((polygon_area(&points) / o.area() - 1.0).abs() < 1e-8, "{o:?}");
            assert!((polygon_length(&points) / o.length() - 1.0).abs() < 1e-8, "{o:?}");
        }
    }

    #[test]
    fn normals_stand_upright_on_the_curve() {
        for o in all() {
            for k in 0..997 {
                let u = o.period() * (f64::from(k) + 0.31) / 997.0;
                let h = 1e-5 * o.period() / TAU;
                let along = (o.station(u + h).point - o.station(u - h).point).normalize();
                let s = o.station(u);
                assert!(along.dot(s.outward).abs() < 1e-4, "{o:?} at {u}");
                assert!(along.perp_dot(s.outward) < -0.999, "{o:?} at {u}: normal must point outwards");
            }
        }
    }

    #[test]
    fn frills_differ_by_seed_and_keep_their_bounds() {
        let [depth, uneven] = [0.06, 1.0];
        let frilly = |seed| OutlineSpec::Frilly { diameter: mm(200.0), waves: 9, depth, uneven, seed };
        let radii = |seed: u64| {
            let o = outline(frilly(seed));
            (0..3600).map(|k| o.station(TAU * f64::from(k) / 3600.0).point.length()).collect::<Vec<f64>>()
        };
        for seed in 0..20 {
            let all = radii(seed);
            let (low, high) = all.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), r| (a.min(*r), b.max(*r)));
            assert!((high - 100.0).abs() < 0.01 && low > 100.0 * (1.0 - depth) / (1.0 + depth), "{low} to {high}");
            assert_ne!(all, radii(seed + 1));
        }
        // Alike, they are lobes.
        let even = outline(OutlineSpec::Frilly { diameter: mm(200.0), waves: 9, depth, uneven: 0.0, seed: 5 });
        let lobed = outline(OutlineSpec::Lobed { diameter: mm(200.0), lobes: 9, depth });
        assert!((0..100).all(|k| even.station(f64::from(k)).point.distance(lobed.station(f64::from(k)).point) < 1e-9));
    }

    /// Closed forms: Lamé's area `4ab Γ(1 + 1/n)² / Γ(1 + 2/n)`, here `4ab · 0.927037338650686` at n = 4 (Γ(5/4) = 0.906402477055477,
    /// Γ(3/2) = √π/2; Abramowitz & Stegun, table 6.1); a hexagon of side s with corners of radius c; a heart from its square and half
    /// discs, less what the tip's round takes, and what the cleft's fills.
    #[test]
    fn areas_of_new_figures_by_closed_forms() {
        let o = outline(OutlineSpec::Superellipse { length: mm(240.0), width: mm(170.0), power: 4.0 });
        assert!((o.area() / (240.0 * 170.0 * 0.927_037_338_650_686) - 1.0).abs() < 1e-12, "{}", o.area());
        let o = outline(OutlineSpec::Polygon { diameter: mm(200.0), sides: 6, corner: mm(40.0) });
        let (s, c) = (60.0, 40.0);
        assert!((o.area() - (1.5 * 3.0_f64.sqrt() * s * s + 6.0 * s * c + PI * c * c)).abs() < 1e-8);
        let [length, tip, cleft] = [200.0, 30.0, 25.0];
        let o = outline(OutlineSpec::Heart { length: mm(length), tip: mm(tip), cleft: mm(cleft) });
        let r = length / (2.0 + 2.0_f64.sqrt());
        // Between the cleft's circle and the two it touches: the triangle of centres less its sectors; the two of the half discs
        // have half a lens in common.
        let aside = r / 2.0_f64.sqrt();
        let height = ((r + cleft).powi(2) - aside * aside).sqrt();
        let at_right = height.atan2(-aside);
        let lens = r * r * (PI / 4.0 - 0.5);
        let filled = aside * height - r * r * (PI - at_right) + lens - cleft * cleft * (at_right - PI / 2.0);
        let figure = 4.0 * r * r + PI * r * r - tip * tip * (1.0 - PI / 4.0) + filled;
        assert!((o.area() - figure).abs() < 1e-8, "{} {figure}", o.area());
        assert!((o.half_size().x - length / 2.0).abs() < 1e-9);
        assert!((o.reach_outwards() - cleft).abs() < 1e-9 && (o.reach_inwards() - tip).abs() < 1e-9);
    }

    /// Steiner: the parallel of a smooth curve encloses `A − L d + π d²` and is `L − 2 π d` long.
    #[test]
    fn parallels_obey_steiner() {
        for o in all() {
            for d in [-15.0, -2.0, 4.0, 20.0, 0.9 * o.reach_inwards()] {
                let ring = o.parallel(d, 1e-4);
                let length = o.length() - TAU * d;
                // The polygon lies within 1e-4 mm of the parallel all round.
                assert!((polygon_area(&ring.0) - o.area_at(d)).abs() < 1e-4 * length, "{o:?} at {d}");
                assert!((polygon_length(&ring.0) - length).abs() < 1e-4 * TAU, "{o:?} at {d}");
            }
        }
    }

    #[test]
    fn stations_keep_the_tolerance_for_every_inset_of_the_range() {
        for o in all() {
            let insets = Insets { least: -12.0, greatest: 0.8 * o.reach_inwards() };
            for tolerance in [0.1, 0.005] {
                let stations = o.stations(insets, tolerance);
                for d in [-12.0, 0.0, 10.0, insets.greatest] {
                    let fine: Vec<DVec2> =
                        (0..20_000).map(|k| o.station(o.period() * f64::from(k) / 2e4).inset(d)).collect();
                    let worst = farthest_from_polygon(&fine, &stations.iter().map(|s| s.inset(d)).collect::<Vec<_>>());
                    assert!(worst <= tolerance * 1.0001, "{o:?} at {d}: {worst}");
                }
                assert!(stations.len() < 4000, "{}", stations.len());
            }
        }
    }

    fn farthest_from_polygon(fine: &[DVec2], polygon: &[DVec2]) -> f64 {
        let n = polygon.len();
        let gap = |p: DVec2, k: usize| {
            let (a, b) = (polygon[k % n], polygon[(k + 1) % n]);
            p.distance(a + (b - a) * ((p - a).dot(b - a) / (b - a).length_squared()).clamp(0.0, 1.0))
        };
        // Both run round in the same sense from the same place, so the nearest side moves on only.
        let mut k = 0;
        fine.iter().fold(0.0, |worst: f64, &p| {
            while k < n && gap(p, k + 1) <= gap(p, k) {
                k += 1;
            }
            worst.max(gap(p, k))
        })
    }

    #[test]
    fn the_reach_is_where_parallels_lose_their_smoothness() {
        let o = outline(OutlineSpec::Ellipse { length: mm(200.0), width: mm(100.0) });
        assert!((o.reach_inwards() - 25.0).abs() < 1e-12);
        let o = outline(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 4, depth: 0.08 });
        // At a tip r = 90, r'' = −16 · 0.08 · mean: κ = (r² − r r'')/r³.
        let mean: f64 = 90.0 / 1.08;
        let tip = (90.0 + 16.0 * 0.08 * mean) / 8100.0;
        assert!((o.reach_inwards() - 1.0 / tip).abs() < 1e-9);
        let waist = mean * 0.92;
        let hollow = -(waist - 16.0 * 0.08 * mean) / (waist * waist);
        assert!((o.reach_outwards() - 1.0 / hollow).abs() < 1e-6);
    }

    #[test]
    fn half_sizes_are_the_extents() {
        for o in all() {
            let (mut x, mut y) = (0.0_f64, 0.0_f64);
            let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
            for k in 0..100_000 {
                let p = o.station(o.period() * f64::from(k) / 1e5).point;
                (x, y) = (x.max(p.x.abs()), y.max(p.y.abs()));
                (low, high) = (low.min(p), high.max(p));
            }
            assert!(((high - low) - o.size(1e-3)).length() < 3e-3, "{o:?}: {low} {high}");
            assert!((o.half_size() - DVec2::new(x, y)).length() < 1e-5, "{o:?}: {x} {y}");
        }
    }

    #[test]
    fn a_neighbour_is_found_beside_the_normal() {
        for o in all() {
            for k in 0..40 {
                let u = o.period() * f64::from(k) / 40.0;
                for aside in [-5.0, -0.1, 0.0, 3.0] {
                    let s = o.beside(u, 8.0, aside).unwrap();
                    let home = o.station(u);
                    assert!(((s.inset(8.0) - home.inset(8.0)).dot(home.outward.perp()) - aside).abs() < 1e-7);
                }
            }
        }
    }

    #[test]
    fn impossible_sizes_are_refused_with_what_to_do() {
        for spec in [
            OutlineSpec::Circle { diameter: mm(0.0) },
            OutlineSpec::Ellipse { length: mm(100.0), width: mm(-1.0) },
            OutlineSpec::RoundedRectangle { length: mm(100.0), width: mm(60.0), corner: mm(31.0) },
            OutlineSpec::Lobed { diameter: mm(100.0), lobes: 1, depth: 0.1 },
            OutlineSpec::Lobed { diameter: mm(100.0), lobes: 5, depth: 0.4 },
            OutlineSpec::Superellipse { length: mm(100.0), width: mm(60.0), power: 1.5 },
            OutlineSpec::Polygon { diameter: mm(100.0), sides: 6, corner: mm(51.0) },
            OutlineSpec::Polygon { diameter: mm(100.0), sides: 2, corner: mm(10.0) },
            OutlineSpec::Heart { length: mm(100.0), tip: mm(70.0), cleft: mm(10.0) },
            OutlineSpec::Heart { length: mm(100.0), tip: mm(10.0), cleft: mm(0.0) },
        ] {
            let mut report = Report::default();
            assert!(Outline::new(&Placed { value: spec, at: None }, Units::Mm, &mut report).is_none());
            assert!(report.has_errors() && report.findings[0].hint.is_some());
        }
    }
}
