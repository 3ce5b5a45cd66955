//! Smooth profiles through given points, of arcs in pairs.
//!
//! Between two points with their headings stand two arcs that touch at their join (a biarc with equal tangent lengths:
//! K. M. Bolton, "Biarc curves", Computer-Aided Design 7, 1975; from memory). So parallels stay exact, and the slope
//! has no jump anywhere. Where no slope is given the heading is that of the circle through the point and its neighbours.

use crate::profile::{Profile, Stretch};
use geom::DVec2;
use std::f64::consts::FRAC_PI_2;

/// An arc flatter than this, as height over its chord, is a line.
const STRAIGHT: f64 = 1e-9;
/// Rounding of an angle, radians.
const EPSILON: f64 = 1e-9;

/// A point with its heading, if one is given (unit vector, downwards).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Through {
    pub(crate) point: DVec2,
    pub(crate) heading: Option<DVec2>,
}

/// The curve through all points, which must fall and run inwards; if it cannot without turning back, the number of the
/// point before the place.
pub(crate) fn smooth(points: &[Through]) -> Result<Profile, usize> {
    let headings: Vec<DVec2> = (0..points.len()).map(|k| heading(points, k)).collect();
    let mut stretches = Vec::new();
    for k in 1..points.len() {
        let pair = biarc([points[k - 1].point, points[k].point], [headings[k - 1], headings[k]]);
        let pair = pair.filter(|pair| pair.iter().all(runs_down_and_in)).ok_or(k - 1)?;
        stretches.extend(pair.into_iter().filter(|s| s.length() > 0.0));
    }
    Ok(Profile { stretches })
}

/// The heading given at a point, or that of the circle through it and its neighbours.
fn heading(points: &[Through], k: usize) -> DVec2 {
    if let Some(given) = points[k].heading {
        return given;
    }
    let side = |k: usize| points[k + 1].point - points[k].point;
    let last = points.len() - 1;
    if last == 1 {
        // Two points alone: the other's heading, turned over the chord.
        let along = side(0).normalize();
        return points[1 - k].heading.map_or(along, |other| in_quarter(mirrored(other, along)));
    }
    let through = |a: DVec2, b: DVec2| (a * (b.length() / a.length()) + b * (a.length() / b.length())).normalize();
    match k {
        0 => in_quarter(mirrored(through(side(0), side(1)), side(0).normalize())),
        k if k == last => in_quarter(mirrored(through(side(k - 2), side(k - 1)), side(k - 1).normalize())),
        k => through(side(k - 1), side(k)),
    }
}

/// A direction turned over an axis: the heading at the other end of a circle's chord.
fn mirrored(heading: DVec2, along: DVec2) -> DVec2 {
    2.0 * heading.dot(along) * along - heading
}

/// The nearest heading that still runs down and in.
fn in_quarter(heading: DVec2) -> DVec2 {
    DVec2::new(heading.x.max(0.0), heading.y.min(0.0)).normalize_or(DVec2::NEG_Y)
}

fn biarc(ends: [DVec2; 2], headings: [DVec2; 2]) -> Option<[Stretch; 2]> {
    let [p, q] = ends;
    let [t, u] = headings;
    let chord = q - p;
    // |chord − s (t + u)| = 2 s: the join lies midway between the two tangents' ends.
    let both = t + u;
    let (a, b) = (4.0 - both.length_squared(), chord.dot(both));
    let s = if a < EPSILON {
        chord.length_squared() / (2.0 * b)
    } else {
        (-b + (b * b + a * chord.length_squared()).sqrt()) / a
    };
    if !(s > 0.0 && s.is_finite()) {
        return None;
    }
    let join = 0.5 * (p + t * s + q - u * s);
    Some([arc(p, t, join), arc_to(join, q, u)])
}

/// The arc that leaves `from` along `heading` and ends in `to`.
fn arc(from: DVec2, heading: DVec2, to: DVec2) -> Stretch {
    let chord = to - from;
    let aside = heading.perp().dot(chord);
    if aside.abs() <= STRAIGHT * chord.length() {
        return Stretch::Line { from, to };
    }
    let signed = chord.length_squared() / (2.0 * aside);
    let centre = from + heading.perp() * signed;
    let begin = (from - centre).to_angle();
    Stretch::Arc { centre, radius: signed.abs(), from: begin, to: begin + 2.0 * heading.angle_to(chord) }
}

/// The arc that leaves `from` and ends in `to` along `heading`: the other kind walked backwards.
fn arc_to(from: DVec2, to: DVec2, heading: DVec2) -> Stretch {
    match arc(to, -heading, from) {
        Stretch::Line { .. } => Stretch::Line { from, to },
        Stretch::Arc { centre, radius, from, to } => Stretch::Arc { centre, radius, from: to, to: from },
    }
}

/// Whether a stretch falls and runs inwards all the way.
fn runs_down_and_in(s: &Stretch) -> bool {
    let turn = match *s {
        Stretch::Line { .. } => 0.0,
        Stretch::Arc { from, to, .. } => (to - from).abs(),
    };
    let fine = |h: DVec2| h.x >= -1e-7 && h.y <= 1e-7;
    turn <= FRAC_PI_2 + EPSILON && fine(s.heading(0.0)) && fine(s.heading(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn free(points: &[[f64; 2]]) -> Vec<Through> {
        points.iter().map(|&[d, z]| Through { point: DVec2::new(d, z), heading: None }).collect()
    }

    /// Points of a circle give that circle again.
    #[test]
    fn points_on_a_circle_give_its_arcs() {
        let at = |deg: f64| [40.0 + 40.0 * deg.to_radians().cos(), 40.0 + 40.0 * deg.to_radians().sin()];
        let p = smooth(&free(&[185.0, 200.0, 222.0, 240.0, 255.0].map(at))).unwrap();
        assert_eq!(p.stretches.len(), 8);
        for s in &p.stretches {
            let Stretch::Arc { centre, radius, .. } = *s else { panic!("{s:?}") };
            assert!(centre.distance(DVec2::splat(40.0)) < 1e-6 && (radius - 40.0).abs() < 1e-6, "{s:?}");
        }
    }

    #[test]
    fn points_on_a_line_give_a_line() {
        let p = smooth(&free(&[[0.0, 30.0], [4.0, 20.0], [12.0, 0.0]])).unwrap();
        assert!(p.stretches.iter().all(|s| matches!(s, Stretch::Line { .. })), "{p:?}");
    }

    #[test]
    fn stretches_join_without_a_kink_and_keep_given_slopes() {
        let mut points = free(&[[0.0, 50.0], [3.0, 42.0], [5.0, 25.0], [20.0, 6.0], [34.0, 0.0]]);
        points[0].heading = Some(DVec2::from_angle(-0.9));
        points[2].heading = Some(DVec2::NEG_Y);
        let p = smooth(&points).unwrap();
        assert!(p.stretches[0].heading(0.0).distance(DVec2::from_angle(-0.9)) < 1e-9);
        for w in p.stretches.windows(2) {
            assert!(w[0].end().distance(w[1].start()) < 1e-9);
            assert!(w[0].heading(1.0).distance(w[1].heading(0.0)) < 1e-9, "{w:?}");
        }
        for point in &points {
            assert!((p.inset_at(point.point.y) - point.point.x).abs() < 1e-9);
        }
        let heights: Vec<f64> = (0..=500).map(|k| f64::from(k) * 0.1).collect();
        assert!(heights.windows(2).all(|w| p.inset_at(w[1]) <= p.inset_at(w[0]) + 1e-9));
    }

    #[test]
    fn a_curve_that_would_turn_back_names_its_place() {
        let mut points = free(&[[0.0, 30.0], [1.0, 20.0], [30.0, 18.0], [31.0, 0.0]]);
        points[1].heading = Some(DVec2::NEG_Y);
        points[2].heading = Some(DVec2::NEG_Y);
        assert_eq!(smooth(&points), Err(1));
    }
}
