//! The curves outlines are made of: points, normals, curvature, area and length, each from its own formula.
//!
//! Parameters run counter-clockwise from the +X side: the polar or eccentric angle, for rounded rectangles the arc
//! length. Lengths in mm.

use crate::outline::Station;
use base::{Length, Units};
use geom::DVec2;
use job::OutlineSpec;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Greatest depth of lobes as a fraction of the mean radius.
const GREATEST_LOBE_DEPTH: f64 = 0.3;

/// One kind of curve with its sizes. Circles are ellipses of equal half axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Curve {
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

impl Curve {
    pub(crate) fn new(spec: &OutlineSpec, units: Units) -> Result<Self, (String, String)> {
        let sizes = |text: String| (text, "give sizes above 0".to_owned());
        let positive = |x: f64| x.is_finite() && x > 0.0;
        match *spec {
            OutlineSpec::Circle { diameter } => {
                let r = diameter.as_mm() / 2.0;
                if !positive(r) {
                    return Err(sizes(format!("a circle of {} is no outline", diameter.told(units))));
                }
                Ok(Self::Ellipse { a: r, b: r })
            }
            OutlineSpec::Ellipse { length, width } => {
                let (a, b) = (length.as_mm() / 2.0, width.as_mm() / 2.0);
                if !positive(a) || !positive(b) {
                    return Err(sizes(format!(
                        "an ellipse of {} × {} is no outline",
                        length.told(units),
                        width.told(units)
                    )));
                }
                Ok(Self::Ellipse { a, b })
            }
            OutlineSpec::RoundedRectangle { length, width, corner } => rounded([length, width, corner], units),
            OutlineSpec::Lobed { diameter, lobes, depth } => lobed(diameter, lobes, depth, units),
        }
    }

    pub(crate) fn period(&self) -> f64 {
        match *self {
            Self::Rounded { a, b, corner } => 4.0 * (a + b) + TAU * corner,
            _ => TAU,
        }
    }

    /// Parameter ranges in which the curve is analytic, in order round it.
    pub(crate) fn spans(&self) -> Vec<[f64; 2]> {
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

    pub(crate) fn station(&self, u: f64) -> Station {
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

    pub(crate) fn area(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } => PI * a * b,
            Self::Rounded { a, b, corner } => 4.0 * a * b + 4.0 * (a + b) * corner + PI * corner * corner,
            // ½ ∫ r² dθ.
            Self::Lobed { mean, depth, .. } => PI * mean * mean * (1.0 + 0.5 * depth * depth),
        }
    }

    pub(crate) fn length(&self) -> f64 {
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

    pub(crate) fn reach_inwards(&self) -> f64 {
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

    pub(crate) fn reach_outwards(&self) -> f64 {
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

    pub(crate) fn half_size(&self) -> DVec2 {
        match *self {
            Self::Ellipse { a, b } => DVec2::new(a, b),
            Self::Rounded { a, b, corner } => DVec2::new(a + corner, b + corner),
            Self::Lobed { mean, depth, .. } => {
                DVec2::new(mean * (1.0 + depth), greatest(TAU, |u| self.station(u).point.y.abs()))
            }
        }
    }
}

fn rounded(sizes: [Length; 3], units: Units) -> Result<Curve, (String, String)> {
    let [length, width, corner] = sizes.map(Length::as_mm);
    let least = length.min(width);
    let fine = |x: f64| x.is_finite() && x > 0.0;
    if !fine(length) || !fine(width) || !fine(corner) || corner > least / 2.0 {
        return Err((
            format!(
                "a rectangle of {} × {} cannot have corners of radius {}",
                units.told(length),
                units.told(width),
                units.told(corner)
            ),
            format!("choose a corner radius above 0 and up to {}", units.down(least.max(0.0) / 2.0)),
        ));
    }
    Ok(Curve::Rounded { a: length / 2.0 - corner, b: width / 2.0 - corner, corner })
}

fn lobed(across: Length, lobes: u32, depth: f64, units: Units) -> Result<Curve, (String, String)> {
    let diameter = across.as_mm();
    if !(diameter.is_finite() && diameter > 0.0 && (2..=24).contains(&lobes)) {
        return Err((
            format!("an outline of {lobes} lobes and {} cannot be made", across.told(units)),
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
