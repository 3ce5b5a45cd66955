//! The curves outlines are made of: points, normals, curvature, area and length, each from its own formula.
//!
//! Parameters run counter-clockwise from the +X side: the polar or eccentric angle, for lines and arcs the length. Lengths
//! in mm.

use crate::free::{self, Free, Reach};
use crate::joined::Joined;
use crate::outline::Station;
use base::{Length, Units};
use geom::DVec2;
use job::OutlineSpec;
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Greatest depth of lobes as a fraction of the mean radius.
const GREATEST_LOBE_DEPTH: f64 = 0.3;
/// Greatest power of a superellipse: beyond it the corners are nearly sharp.
const GREATEST_POWER: f64 = 8.0;
/// Which of the rows of chance of a seed the frills take.
const FRILLS: u64 = 0x0f71;

/// One kind of curve with its sizes. Circles are ellipses of equal half axes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Curve {
    Ellipse {
        a: f64,
        b: f64,
    },
    /// `|x/a|ⁿ + |y/b|ⁿ = 1`, n at least 2 (G. Lamé, *Examen des différentes méthodes*, 1818).
    Super {
        a: f64,
        b: f64,
        power: f64,
    },
    /// Rounded polygons and hearts.
    Joined(Joined),
    /// Through given points, or as it was drawn.
    Free(Free),
    /// `r(θ) = mean (1 + Σ depth cos(count θ − phase))`.
    Wavy {
        mean: f64,
        waves: Vec<Wave>,
    },
}

/// Waves round a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wave {
    count: f64,
    depth: f64,
    phase: f64,
}

/// Radius of a wavy curve over its mean, and the first and second derivatives of that by the angle.
fn wavy(waves: &[Wave], u: f64) -> [f64; 3] {
    waves.iter().fold([1.0, 0.0, 0.0], |[r, r1, r2], w| {
        let (sin, cos) = (w.count * u - w.phase).sin_cos();
        [r + w.depth * cos, r1 - w.depth * w.count * sin, r2 - w.depth * w.count * w.count * cos]
    })
}

/// What is looked at of waves that repeat: from a tip to a waist where they are alike, else all round.
fn repeats(waves: &[Wave]) -> f64 {
    match waves {
        [only] => PI / only.count,
        _ => TAU,
    }
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
            OutlineSpec::Superellipse { length, width, power } => superellipse([length, width], power, units),
            OutlineSpec::Polygon { diameter, sides, corner } => polygon(diameter, sides, corner, units),
            OutlineSpec::Heart { length, tip, cleft } => heart([length, tip, cleft], units),
            OutlineSpec::Lobed { diameter, lobes, depth } => lobed(diameter, lobes, depth, units),
            OutlineSpec::Curve { ref points } => free::through(points, units).map(Self::Free),
            OutlineSpec::Drawing(ref drawn) => free::drawn(drawn, units).map(Self::Free),
            OutlineSpec::Frilly { diameter, waves, depth, uneven, seed } => {
                frilly(diameter, waves, [depth, uneven], seed, units)
            }
        }
    }

    pub(crate) fn period(&self) -> f64 {
        match *self {
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.length(),
            _ => TAU,
        }
    }

    /// Parameter ranges in which the curve is analytic, in order round it.
    pub(crate) fn spans(&self) -> Vec<[f64; 2]> {
        match *self {
            Self::Ellipse { .. } => equal_spans(4),
            Self::Super { .. } => equal_spans(8),
            Self::Wavy { ref waves, .. } => {
                equal_spans(waves.iter().map(|w| 2.0 * w.count).fold(0.0, f64::max) as usize)
            }
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.spans(),
        }
    }

    pub(crate) fn station(&self, u: f64) -> Station {
        match *self {
            Self::Ellipse { a, b } => {
                let (sin, cos) = u.sin_cos();
                Station { point: DVec2::new(a * cos, b * sin), outward: DVec2::new(b * cos, a * sin).normalize() }
            }
            Self::Super { a, b, power } => {
                let radial = DVec2::from_angle(u);
                let scaled = (radial / DVec2::new(a, b)).abs();
                let sum = scaled.x.powf(power) + scaled.y.powf(power);
                let steep = DVec2::new(scaled.x.powf(power - 1.0) / a, scaled.y.powf(power - 1.0) / b);
                Station { point: radial * sum.powf(-1.0 / power), outward: (steep * radial.signum()).normalize() }
            }
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.station(u),
            Self::Wavy { mean, ref waves } => {
                let radial = DVec2::from_angle(u);
                let [r, slope, _] = wavy(waves, u).map(|v| mean * v);
                Station { point: radial * r, outward: (radial * r - radial.perp() * slope).normalize() }
            }
        }
    }

    pub(crate) fn area(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } => PI * a * b,
            // ½ ∫ r² dθ.
            Self::Super { .. } => periodic(|u| 0.5 * self.station(u).point.length_squared()),
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.area(),
            // ½ ∫ r² dθ.
            Self::Wavy { mean, ref waves } => {
                PI * mean * mean * (1.0 + 0.5 * waves.iter().map(|w| w.depth * w.depth).sum::<f64>())
            }
        }
    }

    pub(crate) fn length(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } if a == b => TAU * a,
            Self::Ellipse { a, b } => periodic(|u| (a * u.sin()).hypot(b * u.cos())),
            // ds = r / cos ψ dθ, ψ between radius and normal.
            Self::Super { .. } => periodic(|u| {
                let s = self.station(u);
                s.point.length_squared() / s.point.dot(s.outward)
            }),
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.length(),
            Self::Wavy { mean, ref waves } => periodic(|u| {
                let [r, slope, _] = wavy(waves, u);
                mean * r.hypot(slope)
            }),
        }
    }

    pub(crate) fn reach_inwards(&self) -> f64 {
        match *self {
            Self::Ellipse { a, b } => (a * a / b).min(b * b / a),
            Self::Super { .. } => 1.0 / greatest(FRAC_PI_2, |u| self.super_curvature(u)),
            Self::Joined(ref joined) => joined.reach_inwards(),
            Self::Free(ref free) => free.reach[0].by,
            Self::Wavy { ref waves, .. } => {
                let tightest = greatest(repeats(waves), |u| self.wavy_curvature(u));
                let farthest = greatest(repeats(waves), |u| {
                    let s = self.station(u);
                    -s.point.dot(s.outward)
                });
                (1.0 / tightest).min(-farthest)
            }
        }
    }

    /// Where a free outline limits its parallels inwards.
    pub(crate) fn tightest(&self) -> Option<Reach> {
        match self {
            Self::Free(free) => Some(free.reach[0]),
            _ => None,
        }
    }

    pub(crate) fn reach_outwards(&self) -> f64 {
        match *self {
            Self::Wavy { ref waves, .. } => {
                let hollowest = greatest(repeats(waves), |u| -self.wavy_curvature(u));
                if hollowest > 0.0 { 1.0 / hollowest } else { f64::INFINITY }
            }
            Self::Joined(ref joined) => joined.reach_outwards(),
            Self::Free(ref free) => free.reach[1].by,
            Self::Ellipse { .. } | Self::Super { .. } => f64::INFINITY,
        }
    }

    /// `κ = (F_xx F_y² + F_yy F_x²) / (F_x² + F_y²)^{3/2}`, the curvature of `F(x, y) = 1` without mixed terms.
    fn super_curvature(&self, u: f64) -> f64 {
        let Self::Super { a, b, power } = *self else { return f64::NAN };
        let (size, point) = (DVec2::new(a, b), self.station(u).point.abs());
        let scaled = point / size;
        let first = DVec2::new(scaled.x.powf(power - 1.0), scaled.y.powf(power - 1.0)) * power / size;
        let second = DVec2::new(scaled.x.powf(power - 2.0), scaled.y.powf(power - 2.0));
        let second = second * power * (power - 1.0) / (size * size);
        (second.x * first.y * first.y + second.y * first.x * first.x) / first.length().powi(3)
    }

    /// `κ = (r² + 2 r'² − r r'') / (r² + r'²)^{3/2}`, the curvature of a curve in polar coordinates.
    fn wavy_curvature(&self, u: f64) -> f64 {
        let Self::Wavy { mean, ref waves } = *self else { return f64::NAN };
        let [r, r1, r2] = wavy(waves, u).map(|v| mean * v);
        (r * r + 2.0 * r1 * r1 - r * r2) / (r * r + r1 * r1).powf(1.5)
    }

    pub(crate) fn half_size(&self) -> DVec2 {
        match *self {
            Self::Ellipse { a, b } => DVec2::new(a, b),
            Self::Super { a, b, .. } => DVec2::new(a, b),
            Self::Joined(ref joined) | Self::Free(Free { ref joined, .. }) => joined.half_size(),
            Self::Wavy { .. } => {
                let extent = |axis: DVec2| greatest(TAU, |u| self.station(u).point.dot(axis).abs());
                DVec2::new(extent(DVec2::X), extent(DVec2::Y))
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
    let (a, b) = (length / 2.0 - corner, width / 2.0 - corner);
    let corners = [[a, b], [-a, b], [-a, -b], [a, -b]].map(DVec2::from_array);
    Ok(Curve::Joined(Joined::around(&corners, corner)))
}

fn superellipse(sizes: [Length; 2], power: f64, units: Units) -> Result<Curve, (String, String)> {
    let [length, width] = sizes.map(Length::as_mm);
    let fine = |x: f64| x.is_finite() && x > 0.0;
    if !fine(length) || !fine(width) || !(2.0..=GREATEST_POWER).contains(&power) {
        return Err((
            format!(
                "a superellipse of {} × {} with the power {power} cannot be made",
                units.told(length),
                units.told(width)
            ),
            format!("choose sizes above 0 and a power from 2 (an ellipse) to {GREATEST_POWER} (nearly a rectangle)"),
        ));
    }
    Ok(Curve::Super { a: length / 2.0, b: width / 2.0, power })
}

/// A side lies at the front.
fn polygon(across: Length, sides: u32, corner: Length, units: Units) -> Result<Curve, (String, String)> {
    let (diameter, corner) = (across.as_mm(), corner.as_mm());
    let least = diameter / 2.0 - corner;
    if !(diameter.is_finite() && diameter > 0.0 && corner > 0.0 && least >= 0.0 && (3..=12).contains(&sides)) {
        return Err((
            format!(
                "a polygon of {sides} sides and {} cannot have corners of radius {}",
                across.told(units),
                units.told(corner)
            ),
            format!(
                "choose 3 to 12 sides and a corner radius above 0 and up to {}",
                units.down(diameter.max(0.0) / 2.0)
            ),
        ));
    }
    let turn = TAU / f64::from(sides);
    let at = |k: u32| DVec2::from_angle(-FRAC_PI_2 + turn * (f64::from(k) + 0.5)) * least;
    Ok(Curve::Joined(Joined::around(&(0..sides).map(at).collect::<Vec<_>>(), corner)))
}

fn heart(sizes: [Length; 3], units: Units) -> Result<Curve, (String, String)> {
    let [length, tip, cleft] = sizes.map(Length::as_mm);
    let made = if length.is_finite() && length > 0.0 { Joined::heart(length, tip, cleft) } else { None };
    made.map(Curve::Joined).ok_or_else(|| {
        (
            format!(
                "a heart {} long cannot have a tip of radius {} and a cleft of radius {}",
                units.told(length),
                units.told(tip),
                units.told(cleft)
            ),
            format!("choose a tip above 0 and below {}, and a cleft above 0", units.down(length.max(0.0) * 0.58)),
        )
    })
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
    let wave = Wave { count: f64::from(lobes), depth, phase: 0.0 };
    Ok(Curve::Wavy { mean: diameter / 2.0 / (1.0 + depth), waves: vec![wave] })
}

/// Waves whose heights and distances differ by chance: those one more and one fewer round the circle are added to them.
fn frilly(
    across: Length,
    waves: u32,
    [depth, uneven]: [f64; 2],
    seed: u64,
    units: Units,
) -> Result<Curve, (String, String)> {
    if !(0.0..=1.0).contains(&uneven) {
        return Err((
            format!("waves uneven by {uneven} cannot be made"),
            "choose how uneven they are from 0 (alike) to 1".to_owned(),
        ));
    }
    let Curve::Wavy { mean: least, waves: even } = lobed(across, waves, depth, units)? else {
        return Err(("no waves".to_owned(), "choose 2 to 24 waves".to_owned()));
    };
    let mut chance = Pcg32::new(seed, FRILLS);
    let mut share = || f64::from(chance.next_u32()) / f64::from(u32::MAX);
    let mut beside =
        |count: f64| Wave { count, depth: 0.25 * depth * uneven * (0.5 + 0.5 * share()), phase: TAU * share() };
    let main = Wave { depth: depth * (1.0 - 0.5 * uneven), ..even[0] };
    let waves = vec![main, beside(main.count - 1.0), beside(main.count + 1.0)];
    let reach = greatest(TAU, |u| wavy(&waves, u)[0]);
    Ok(Curve::Wavy { mean: least * (1.0 + depth) / reach, waves })
}

fn equal_spans(count: usize) -> Vec<[f64; 2]> {
    let at = |k: usize| TAU * k as f64 / count as f64;
    (0..count).map(|k| [at(k), at(k + 1)]).collect()
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

/// Greatest value on 0 to `end` of a smooth function that goes on beyond, repeating or as in a mirror: the best of a fine row of samples, refined by golden section.
fn greatest(end: f64, f: impl Fn(f64) -> f64) -> f64 {
    const SAMPLES: u32 = 2000;
    let at = |k: u32| end * f64::from(k) / f64::from(SAMPLES);
    let best = (0..=SAMPLES).fold(0, |best, k| if f(at(k)) > f(at(best)) { k } else { best });
    let (mut low, mut high) = (at(best) - at(1), at(best) + at(1));
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..60 {
        let (p, q) = (high - golden * (high - low), low + golden * (high - low));
        if f(p) > f(q) { high = q } else { low = p }
    }
    f(0.5 * (low + high)).max(f(at(best)))
}
