//! Outlines: smooth closed curves about the origin, counter-clockwise, with their normals, curvature and parallels.
//!
//! Points and normals are analytic. Where a rounded rectangle passes from a side to a corner both have the same normal,
//! so its parallels are exact too (sides shift, corner radii shrink). Lengths in mm, insets positive inwards.

use base::Report;
use geom::{DVec2, Ring};
use job::{OutlineSpec, Placed};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Radius, mm, that must be left on the tightest convex corner of an inset section, so that a mesh can show it.
pub const LEAST_LEFT: f64 = 0.25;

/// Greatest depth of lobes as a fraction of the mean radius.
const GREATEST_LOBE_DEPTH: f64 = 0.3;

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

#[derive(Clone, Copy, Debug, PartialEq)]
enum Curve {
    Ellipse {
        a: f64,
        b: f64,
    },
    /// Half lengths of the straight sides and the corner radius.
    Rounded {
        a: f64,
        b: f64,
        corner: f64,
    },
    Lobed {
        mean: f64,
        lobes: f64,
        depth: f64,
    },
}

impl Outline {
    /// Checks the sizes and builds the curve.
    pub fn new(spec: &Placed<OutlineSpec>, report: &mut Report) -> Option<Self> {
        match Curve::new(&spec.value) {
            Ok(curve) => Some(Self::of(curve)),
            Err((text, hint)) => {
                report.error("outline-size", spec.at, text).hint(hint);
                None
            }
        }
    }

    fn of(curve: Curve) -> Self {
        Self {
            curve,
            area: curve.area(),
            length: curve.length(),
            reach_inwards: curve.reach_inwards(),
            reach_outwards: curve.reach_outwards(),
            half_size: curve.half_size(),
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
    /// or, where that is smaller, the least distance of a tangent from the origin (narrow waists).
    pub fn reach_inwards(&self) -> f64 {
        self.reach_inwards
    }

    /// Least radius of concave curvature (infinite for convex outlines): the greatest outset that keeps it smooth.
    pub fn reach_outwards(&self) -> f64 {
        self.reach_outwards
    }

    /// Half extents along X and Y.
    pub fn half_size(&self) -> DVec2 {
        self.half_size
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

/// Whether the curve stays within the tolerance of its chord, measured at seven places and both ends of the range.
fn chord_keeps(curve: &Curve, [from, to]: [f64; 2], insets: Insets, tolerance: f64) -> bool {
    let (a, b) = (curve.station(from), curve.station(to));
    (1..8).all(|k| {
        let middle = curve.station(from + (to - from) * f64::from(k) / 8.0);
        [insets.least, insets.greatest].iter().all(|&d| {
            let (p, q) = (a.inset(d), b.inset(d));
            let along = (q - p).normalize_or_zero();
            along.perp_dot(middle.inset(d) - p).abs() <= tolerance
        })
    })
}

impl Curve {
    fn new(spec: &OutlineSpec) -> Result<Self, (String, String)> {
        let sizes = |text: String| (text, "give sizes above 0".to_owned());
        let positive = |x: f64| x.is_finite() && x > 0.0;
        match *spec {
            OutlineSpec::Circle { diameter } => {
                let r = diameter.as_mm() / 2.0;
                if !positive(r) {
                    return Err(sizes(format!("a circle of {} mm is no outline", diameter.as_mm())));
                }
                Ok(Self::Ellipse { a: r, b: r })
            }
            OutlineSpec::Ellipse { length, width } => {
                let (a, b) = (length.as_mm() / 2.0, width.as_mm() / 2.0);
                if !positive(a) || !positive(b) {
                    return Err(sizes(format!("an ellipse of {} × {} mm is no outline", 2.0 * a, 2.0 * b)));
                }
                Ok(Self::Ellipse { a, b })
            }
            OutlineSpec::RoundedRectangle { length, width, corner } => {
                rounded(length.as_mm(), width.as_mm(), corner.as_mm())
            }
            OutlineSpec::Lobed { diameter, lobes, depth } => lobed(diameter.as_mm(), lobes, depth),
        }
    }

    fn period(&self) -> f64 {
        match *self {
            Self::Rounded { a, b, corner } => 4.0 * (a + b) + TAU * corner,
            _ => TAU,
        }
    }

    /// Parameter ranges in which the curve is analytic, in order round it.
    fn spans(&self) -> Vec<[f64; 2]> {
        match *self {
            Self::Ellipse { .. } => equal_spans(4),
            Self::Lobed { lobes, .. } => equal_spans((2.0 * lobes) as usize),
            Self::Rounded { a, b, corner } => {
                let quarter = FRAC_PI_2 * corner;
                let mut spans = Vec::new();
                let mut at = 0.0;
                for step in [b, quarter, 2.0 * a, quarter, 2.0 * b, quarter, 2.0 * a, quarter, b] {
                    if step > 0.0 {
                        spans.push([at, at + step]);
                        at += step;
                    }
                }
                spans
            }
        }
    }

    fn station(&self, u: f64) -> Station {
        match *self {
            Self::Ellipse { a, b } => {
                let (sin, cos) = u.sin_cos();
                Station { point: DVec2::new(a * cos, b * sin), outward: DVec2::new(b * cos, a * sin).normalize() }
            }
            Self::Rounded { a, b, corner } => rounded_station(a, b, corner, u),
            Self::Lobed { mean, lobes, depth } => {
                let radial = DVec2::from_angle(u);
                let r = mean * (1.0 + depth * (lobes * u).cos());
                let slope = -mean * depth * lobes * (lobes * u).sin();
                Station { point: radial * r, outward: (radial * r - radial.perp() * slope).normalize() }
            }
        }
    }

    fn area(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } => PI * a * b,
            Self::Rounded { a, b, corner } => 4.0 * a * b + 4.0 * (a + b) * corner + PI * corner * corner,
            // ½ ∫ r² dθ.
            Self::Lobed { mean, depth, .. } => PI * mean * mean * (1.0 + 0.5 * depth * depth),
        }
    }

    fn length(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } if a == b => TAU * a,
            Self::Ellipse { a, b } => periodic(|u| (a * u.sin()).hypot(b * u.cos())),
            Self::Rounded { .. } => self.period(),
            Self::Lobed { mean, lobes, depth } => periodic(|u| {
                let (sin, cos) = (lobes * u).sin_cos();
                mean * (1.0 + depth * cos).hypot(depth * lobes * sin)
            }),
        }
    }

    fn reach_inwards(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } => (a * a / b).min(b * b / a),
            Self::Rounded { corner, .. } => corner,
            Self::Lobed { lobes, .. } => {
                let tightest = greatest(PI / lobes, |u| self.lobed_curvature(u));
                let farthest = greatest(PI / lobes, |u| {
                    let s = self.station(u);
                    -s.point.dot(s.outward)
                });
                (1.0 / tightest).min(-farthest)
            }
        }
    }

    fn reach_outwards(&self) -> f64 {
        match *self {
            Self::Lobed { lobes, .. } => {
                let hollowest = greatest(PI / lobes, |u| -self.lobed_curvature(u));
                if hollowest > 0.0 { 1.0 / hollowest } else { f64::INFINITY }
            }
            _ => f64::INFINITY,
        }
    }

    /// `κ = (r² + 2 r'² − r r'') / (r² + r'²)^{3/2}`, the curvature of a curve in polar coordinates.
    fn lobed_curvature(&self, u: f64) -> f64 {
        let Self::Lobed { mean, lobes, depth } = *self else { return f64::NAN };
        let (sin, cos) = (lobes * u).sin_cos();
        let r = mean * (1.0 + depth * cos);
        let r1 = -mean * depth * lobes * sin;
        let r2 = -mean * depth * lobes * lobes * cos;
        (r * r + 2.0 * r1 * r1 - r * r2) / (r * r + r1 * r1).powf(1.5)
    }

    fn half_size(&self) -> DVec2 {
        match *self {
            Self::Ellipse { a, b } => DVec2::new(a, b),
            Self::Rounded { a, b, corner } => DVec2::new(a + corner, b + corner),
            Self::Lobed { mean, depth, .. } => {
                DVec2::new(mean * (1.0 + depth), greatest(TAU, |u| self.station(u).point.y.abs()))
            }
        }
    }
}

fn rounded(length: f64, width: f64, corner: f64) -> Result<Curve, (String, String)> {
    let least = length.min(width);
    let fine = |x: f64| x.is_finite() && x > 0.0;
    if !fine(length) || !fine(width) || !fine(corner) || corner > least / 2.0 {
        return Err((
            format!("a rectangle of {length} × {width} mm cannot have corners of radius {corner} mm"),
            format!("choose a corner radius above 0 and up to {} mm", least.max(0.0) / 2.0),
        ));
    }
    Ok(Curve::Rounded { a: length / 2.0 - corner, b: width / 2.0 - corner, corner })
}

fn lobed(diameter: f64, lobes: u32, depth: f64) -> Result<Curve, (String, String)> {
    if !(diameter.is_finite() && diameter > 0.0 && (2..=24).contains(&lobes)) {
        return Err((
            format!("an outline of {lobes} lobes and {diameter} mm cannot be made"),
            "choose 2 to 24 lobes and a diameter above 0".to_owned(),
        ));
    }
    if !(0.0..=GREATEST_LOBE_DEPTH).contains(&depth) {
        return Err((
            format!("a lobe depth of {depth} is outside 0 to {GREATEST_LOBE_DEPTH}"),
            format!("choose a depth from 0 (round) to {GREATEST_LOBE_DEPTH}"),
        ));
    }
    Ok(Curve::Lobed { mean: diameter / 2.0 / (1.0 + depth), lobes: f64::from(lobes), depth })
}

fn equal_spans(count: usize) -> Vec<[f64; 2]> {
    let at = |k: usize| TAU * k as f64 / count as f64;
    (0..count).map(|k| [at(k), at(k + 1)]).collect()
}

/// The rounded rectangle by arc length from the middle of its +X side.
fn rounded_station(a: f64, b: f64, corner: f64, u: f64) -> Station {
    let quarter = FRAC_PI_2 * corner;
    let corners = [DVec2::new(a, b), DVec2::new(-a, b), DVec2::new(-a, -b), DVec2::new(a, -b)];
    let sides = [2.0 * a, 2.0 * b, 2.0 * a, 2.0 * b];
    if u < b {
        return Station { point: DVec2::new(a + corner, u), outward: DVec2::X };
    }
    let mut left = u - b;
    for k in 0..4 {
        let from = FRAC_PI_2 * k as f64;
        if left <= quarter {
            let outward = DVec2::from_angle(from + left / corner);
            return Station { point: corners[k] + outward * corner, outward };
        }
        left -= quarter;
        let outward = [DVec2::Y, DVec2::NEG_X, DVec2::NEG_Y, DVec2::X][k];
        if left < sides[k] || k == 3 {
            return Station { point: corners[k] + outward * corner + outward.perp() * left, outward };
        }
        left -= sides[k];
    }
    Station { point: DVec2::new(a + corner, 0.0), outward: DVec2::X }
}

/// ∫ over a full turn of a smooth periodic function: the trapezium rule converges faster than any power; doubled until
/// it stands still to 1e-13.
fn periodic(f: impl Fn(f64) -> f64) -> f64 {
    let sum = |n: u32| (0..n).map(|k| f(TAU * f64::from(k) / f64::from(n))).sum::<f64>() * TAU / f64::from(n);
    let mut n = 256;
    let mut last = sum(n);
    while n < 1 << 20 {
        n *= 2;
        let next = sum(n);
        if (next - last).abs() <= 1e-13 * next.abs() {
            return next;
        }
        last = next;
    }
    last
}

/// Greatest value of a smooth function on 0 to `end`: the best of a fine row of samples, refined by golden section.
fn greatest(end: f64, f: impl Fn(f64) -> f64) -> f64 {
    const SAMPLES: u32 = 2000;
    let at = |k: u32| end * f64::from(k) / f64::from(SAMPLES);
    let best = (0..=SAMPLES).fold(0, |best, k| if f(at(k)) > f(at(best)) { k } else { best });
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(SAMPLES)));
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..60 {
        let (p, q) = (high - golden * (high - low), low + golden * (high - low));
        if f(p) > f(q) { high = q } else { low = p }
    }
    f(0.5 * (low + high)).max(f(at(best)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::mm;

    fn outline(spec: OutlineSpec) -> Outline {
        let mut report = Report::default();
        Outline::new(&Placed { value: spec, at: None }, &mut report).unwrap()
    }

    fn all() -> Vec<Outline> {
        vec![
            outline(OutlineSpec::Circle { diameter: mm(190.0) }),
            outline(OutlineSpec::Ellipse { length: mm(240.0), width: mm(170.0) }),
            outline(OutlineSpec::RoundedRectangle { length: mm(260.0), width: mm(160.0), corner: mm(45.0) }),
            outline(OutlineSpec::RoundedRectangle { length: mm(160.0), width: mm(160.0), corner: mm(80.0) }),
            outline(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 4, depth: 0.08 }),
            outline(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 3, depth: 0.0 }),
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
            for k in 0..100_000 {
                let p = o.station(o.period() * f64::from(k) / 1e5).point;
                (x, y) = (x.max(p.x.abs()), y.max(p.y.abs()));
            }
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
        ] {
            let mut report = Report::default();
            assert!(Outline::new(&Placed { value: spec, at: None }, &mut report).is_none());
            assert!(report.has_errors() && report.findings[0].hint.is_some());
        }
    }
}
