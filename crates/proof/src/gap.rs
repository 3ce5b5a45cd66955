//! The gap between a swept cutter and a triangle, with a bound that holds whatever the rounding of the search.
//!
//! Both sets are convex, so the gap is the distance of the origin from their difference: E. G. Gilbert, D. W. Johnson,
//! S. S. Keerthi, "A fast procedure for computing the distance between complex objects in three-dimensional space",
//! *IEEE J. Robotics and Automation* 4(2), 1988. Every direction the search tries bounds the gap from below by the
//! supports of the two sets alone; that bound is what is returned.

use crate::envelope::{Envelope, Swept};
use glam::DVec3;

/// Rounds before the search gives up; the bound reached so far still holds.
const ROUNDS: usize = 48;
/// The search ends when distance and bound agree within this, mm.
const CLOSE: f64 = 1e-6;

/// What the search found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gap {
    /// The gap is certainly not smaller than this (0 if they may meet).
    pub(crate) at_least: f64,
    /// The point of the triangle nearest to the cutter.
    pub(crate) on_triangle: DVec3,
}

/// Gap between the swept solid and the triangle; the search stops early once it is certainly not below `enough`.
pub(crate) fn gap(swept: &Swept, t: &[DVec3; 3], enough: f64) -> Gap {
    let core = Core::new(swept, t);
    let ball = swept.envelope.ball;
    let found = core.distance(t, enough + ball);
    Gap { at_least: (found.at_least - ball).max(0.0), ..found }
}

/// Whether the swept solid and the triangle certainly do not meet.
pub(crate) fn are_apart(swept: &Swept, t: &[DVec3; 3]) -> bool {
    gap(swept, t, CLOSE).at_least > 0.0
}

/// Greatest depth to which points of the triangle lie beneath the skin of the swept solid, bounded from above within
/// about [`CLOSE`]; 0 if none does. With `interest` ≥ 0 a depth certainly not above it is reported as `interest`.
pub(crate) fn depth(swept: &Swept, t: &[DVec3; 3], interest: f64) -> (f64, DVec3) {
    let ball = swept.envelope.ball;
    let core = swept.with(Envelope { ball: 0.0, ..swept.envelope });
    let found = gap(&core, t, (ball - interest).max(CLOSE));
    if found.at_least > 0.0 {
        return ((ball - found.at_least).max(0.0), found.on_triangle);
    }
    // Deeper than the rounding of the edge: shrink the solid until it lets go of the triangle.
    let apart = |by: f64| swept.envelope.eroded(by).is_none_or(|envelope| are_apart(&swept.with(envelope), t));
    if interest > ball && apart(interest) {
        return (interest, found.on_triangle);
    }
    let (mut held, mut free) = (ball, interest.max(ball).max(CLOSE));
    while !apart(free) {
        held = free;
        free *= 2.0;
    }
    while free - held > CLOSE.max(free * 1e-3) {
        let middle = (held + free) / 2.0;
        if apart(middle) {
            free = middle;
        } else {
            held = middle;
        }
    }
    (free, found.on_triangle)
}

/// The discs of the two ends, cut off at the triangle's top: what is higher cannot be nearer.
struct Core {
    columns: [(DVec3, f64, f64); 4],
}

impl Core {
    fn new(swept: &Swept, t: &[DVec3; 3]) -> Self {
        let top = t[0].z.max(t[1].z).max(t[2].z);
        let (low, high) = (swept.envelope.low, swept.envelope.high);
        let column = |tip: DVec3, radius: f64, z: f64| {
            let base = tip + DVec3::Z * z;
            (base, (top - base.z).max(0.0), radius)
        };
        Self {
            columns: [
                column(swept.from, low.radius, low.z),
                column(swept.to, low.radius, low.z),
                column(swept.from, high.radius, high.z),
                column(swept.to, high.radius, high.z),
            ],
        }
    }

    /// The point farthest along `n`.
    fn support(&self, n: DVec3) -> DVec3 {
        let plan = n.truncate().length();
        let out = if plan > 0.0 { n.truncate() / plan } else { glam::DVec2::ZERO };
        let mut best = (f64::NEG_INFINITY, DVec3::ZERO);
        for &(base, height, radius) in &self.columns {
            let p = base + (out * radius).extend(if n.z > 0.0 { height } else { 0.0 });
            let along = p.dot(n);
            if along > best.0 {
                best = (along, p);
            }
        }
        best.1
    }

    fn distance(&self, t: &[DVec3; 3], enough: f64) -> Gap {
        let mut simplex = Simplex::default();
        let centre = (t[0] + t[1] + t[2]) / 3.0;
        let mut v = centre - self.columns[0].0;
        let mut at_least: f64 = 0.0;
        for _ in 0..ROUNDS {
            let length = v.length();
            if length < 1e-12 {
                return Gap { at_least: 0.0, on_triangle: simplex.on_triangle(t, centre) };
            }
            // Farthest of the cutter towards the triangle, nearest of the triangle towards the cutter.
            let k = self.support(v);
            let i = nearest_corner(t, v);
            let w = t[i] - k;
            at_least = at_least.max(v.dot(w) / length);
            let done = at_least >= enough || (!simplex.is_empty() && length - at_least < CLOSE);
            if done || simplex.holds(w) {
                break;
            }
            simplex.push(w, i);
            match simplex.nearest() {
                Some(next) => v = next,
                None => return Gap { at_least: 0.0, on_triangle: simplex.on_triangle(t, centre) },
            }
        }
        Gap { at_least, on_triangle: simplex.on_triangle(t, centre) }
    }
}

fn nearest_corner(t: &[DVec3; 3], v: DVec3) -> usize {
    let d = [t[0].dot(v), t[1].dot(v), t[2].dot(v)];
    if d[0] <= d[1] && d[0] <= d[2] {
        0
    } else if d[1] <= d[2] {
        1
    } else {
        2
    }
}

/// Up to four points of the difference, each with the corner of the triangle it came from and its weight in the nearest
/// point.
#[derive(Clone, Copy, Debug, Default)]
struct Simplex {
    points: [(DVec3, usize, f64); 4],
    count: usize,
}

impl Simplex {
    fn is_empty(&self) -> bool {
        self.count == 0
    }

    fn push(&mut self, w: DVec3, corner: usize) {
        if self.count < 4 {
            self.points[self.count] = (w, corner, 0.0);
            self.count += 1;
        }
    }

    fn holds(&self, w: DVec3) -> bool {
        self.points[..self.count].iter().any(|p| p.0 == w)
    }

    fn on_triangle(&self, t: &[DVec3; 3], otherwise: DVec3) -> DVec3 {
        let used = &self.points[..self.count];
        let sum: f64 = used.iter().map(|p| p.2).sum();
        if sum > 0.0 { used.iter().map(|p| t[p.1] * (p.2 / sum)).sum() } else { otherwise }
    }

    /// The point nearest to the origin; the simplex shrinks to the points it needs. `None` if the origin lies inside.
    fn nearest(&mut self) -> Option<DVec3> {
        let p = self.points;
        let (weights, at): ([f64; 4], DVec3) = match self.count {
            1 => ([1.0, 0.0, 0.0, 0.0], p[0].0),
            2 => {
                let w = on_segment(p[0].0, p[1].0);
                ([w[0], w[1], 0.0, 0.0], p[0].0 * w[0] + p[1].0 * w[1])
            }
            3 => {
                let w = on_triangle(p[0].0, p[1].0, p[2].0);
                ([w[0], w[1], w[2], 0.0], p[0].0 * w[0] + p[1].0 * w[1] + p[2].0 * w[2])
            }
            _ => self.nearest_on_faces()?,
        };
        let mut kept = Self::default();
        for k in 0..4 {
            if weights[k] > 0.0 {
                kept.points[kept.count] = (p[k].0, p[k].1, weights[k]);
                kept.count += 1;
            }
        }
        *self = kept;
        Some(at)
    }

    fn nearest_on_faces(&self) -> Option<([f64; 4], DVec3)> {
        let p = self.points.map(|p| p.0);
        let mut best: Option<([f64; 4], DVec3)> = None;
        let mut inside = true;
        for [i, j, k, opposite] in [[0, 1, 2, 3], [0, 1, 3, 2], [0, 2, 3, 1], [1, 2, 3, 0]] {
            let n = (p[j] - p[i]).cross(p[k] - p[i]);
            let (far, origin) = (n.dot(p[opposite] - p[i]), n.dot(-p[i]));
            if far * origin > 0.0 {
                continue; // the origin lies on the inner side of this face
            }
            inside = false;
            let w = on_triangle(p[i], p[j], p[k]);
            let at = p[i] * w[0] + p[j] * w[1] + p[k] * w[2];
            if best.is_none_or(|b| at.length_squared() < b.1.length_squared()) {
                let mut weights = [0.0; 4];
                (weights[i], weights[j], weights[k]) = (w[0], w[1], w[2]);
                best = Some((weights, at));
            }
        }
        if inside { None } else { best }
    }
}

/// Weights of the point of a segment nearest to the origin.
fn on_segment(a: DVec3, b: DVec3) -> [f64; 2] {
    let d = b - a;
    let along = -a.dot(d);
    let length2 = d.length_squared();
    if along <= 0.0 || length2 == 0.0 {
        [1.0, 0.0]
    } else if along >= length2 {
        [0.0, 1.0]
    } else {
        [1.0 - along / length2, along / length2]
    }
}

/// Weights of the point of a triangle nearest to the origin.
fn on_triangle(a: DVec3, b: DVec3, c: DVec3) -> [f64; 3] {
    let n = (b - a).cross(c - a);
    let n2 = n.length_squared();
    let (u, v, w) = (n.dot(b.cross(c)), n.dot(c.cross(a)), n.dot(a.cross(b)));
    if n2 > 0.0 && u > 0.0 && v > 0.0 && w > 0.0 {
        return [u / (u + v + w), v / (u + v + w), w / (u + v + w)];
    }
    let mut best = ([1.0, 0.0, 0.0], a.length_squared());
    for (i, j, p, q) in [(0, 1, a, b), (1, 2, b, c), (0, 2, a, c)] {
        let s = on_segment(p, q);
        let d = (p * s[0] + q * s[1]).length_squared();
        if d < best.1 {
            let mut weights = [0.0; 3];
            (weights[i], weights[j]) = (s[0], s[1]);
            best = (weights, d);
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::envelope::tests::solid;
    use proptest::prelude::*;
    use trade::cutter::Form;

    fn swept(form: Form, to: DVec3) -> Swept {
        Swept::new(Envelope::of(&solid(form, 6.0)), DVec3::ZERO, to)
    }

    fn floor(z: f64) -> [DVec3; 3] {
        [DVec3::new(-50.0, -50.0, z), DVec3::new(90.0, -50.0, z), DVec3::new(0.0, 90.0, z)]
    }

    #[test]
    fn over_a_floor_gap_and_depth_are_heights() {
        for form in [Form::Flat, Form::Ball, Form::Bull { corner_radius: 1.0 }] {
            let s = swept(form, DVec3::new(4.0, 2.0, 1.0));
            assert!((gap(&s, &floor(-1.5), 9.0).at_least - 1.5).abs() < 1e-5);
            for z in [0.004, 0.3, 2.0] {
                let (found, at) = depth(&s, &floor(z), 0.0);
                assert!((found - z).abs() < 2e-3 * z + 1e-5 && found > z - 1e-6, "{form:?} {z}: {found}");
                assert!((at.z - z).abs() < 1e-9);
            }
            assert_eq!(depth(&s, &floor(-0.1), 0.0).0, 0.0);
        }
    }

    #[test]
    fn a_ball_against_a_sloped_plane() {
        // The centre at height 3 over z = x·tan 30° less a shift: distance (3 + h)·cos 30° − 3.
        let (sin, cos) = 30.0_f64.to_radians().sin_cos();
        for h in [0.4, 0.46, 0.5, 1.0] {
            let on = |x: f64, y: f64| DVec3::new(x, y, x * sin / cos - h);
            let t = [on(-40.0, -40.0), on(60.0, -40.0), on(0.0, 70.0)];
            let exact = (3.0 + h) * cos - 3.0;
            let s = swept(Form::Ball, DVec3::new(0.0, 5.0, 0.0));
            if exact > 0.0 {
                assert!((gap(&s, &t, 9.0).at_least - exact).abs() < 1e-5);
            } else {
                assert!((depth(&s, &t, 0.0).0 + exact).abs() < 1e-5);
            }
        }
    }

    fn point() -> impl Strategy<Value = DVec3> {
        (-9.0..9.0_f64, -9.0..9.0_f64, -7.0..3.0_f64).prop_map(|(x, y, z)| DVec3::new(x, y, z))
    }

    proptest! {
        #[test]
        fn samples_of_the_triangle_agree(k in 0..5_usize, a in point(), b in point(), c in point(), to in point()) {
            let bull = Form::Bull { corner_radius: 1.0 };
            let cone = Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.4 };
            let tapered = Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 8.0 };
            let s = swept([Form::Flat, Form::Ball, bull, cone, tapered][k], to);
            let n = 60;
            let mut least = f64::INFINITY;
            for i in 0..=n {
                for j in 0..=n - i {
                    let q = a + (b - a) * (f64::from(i) / f64::from(n)) + (c - a) * (f64::from(j) / f64::from(n));
                    least = least.min(s.distance(q));
                }
            }
            let coarse = (b - a).length().max((c - a).length()).max((c - b).length()) / f64::from(n);
            let t = [a, b, c];
            if least > coarse {
                let g = gap(&s, &t, f64::INFINITY).at_least;
                prop_assert!(g <= least + 1e-6 && g >= least - coarse - 1e-6, "gap {} samples {}", g, least);
            }
            let (d, _) = depth(&s, &t, 0.0);
            prop_assert!(d >= -least - 1e-6, "depth {} samples {}", d, -least);
        }
    }
}
