//! A river: a band of one width whose middle is a sine wave, from waste to waste across the whole piece.

use crate::outline::{Outline, Station};
use geom::{DVec2, Region};
use std::f64::consts::PI;

/// Places across the band that are looked at where it leaves the piece.
const ACROSS: i32 = 16;
/// Step along the band by which its ends are found, mm.
const STEP: f64 = 0.5;

/// The band's course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct River {
    /// Half its width, mm.
    pub(crate) half: f64,
    /// Swing of its middle to either side, mm.
    pub(crate) swing: f64,
    /// Length of a whole wave, mm.
    pub(crate) wave: f64,
    /// Its place in the wave at the middle of the piece, radians.
    pub(crate) phase: f64,
    /// How far it runs beside the middle, mm.
    pub(crate) aside: f64,
    /// Direction of its course.
    pub(crate) along: DVec2,
}

impl River {
    /// Least radius of its middle, mm: at the crest of a wave `λ² / 4π² a`.
    pub(crate) fn tightest(&self) -> f64 {
        (self.wave / (2.0 * PI)).powi(2) / self.swing
    }

    /// A point of the middle and its left normal, `u` mm along the course.
    fn middle(&self, u: f64) -> (DVec2, DVec2) {
        let k = 2.0 * PI / self.wave;
        let (sin, cos) = (k * u + self.phase).sin_cos();
        let to_plan = |p: DVec2| self.along.rotate(p);
        let heading = DVec2::new(1.0, self.swing * k * cos).normalize();
        (to_plan(DVec2::new(u, self.aside + self.swing * sin)), to_plan(heading.perp()))
    }

    /// From where to where along the course its middle must run, so that all of it is `beyond` outside of the outline at
    /// both ends. `None` if it misses the piece.
    pub(crate) fn ends(&self, outline: &Outline, beyond: f64) -> Option<[f64; 2]> {
        let grown = Region { rings: vec![outline.parallel(0.0, 0.05)] }.offset(beyond, 0.02);
        let touches = |u: f64| {
            let (p, left) = self.middle(u);
            (-ACROSS..=ACROSS).any(|k| grown.contains(p + left * (self.half * f64::from(k) / f64::from(ACROSS))))
        };
        let steps = ((outline.half_size().length() + beyond + self.half) / STEP).ceil() as i32;
        let inside: Vec<f64> = (-steps..=steps).map(|k| f64::from(k) * STEP).filter(|&u| touches(u)).collect();
        Some([inside.first()? - STEP, inside.last()? + STEP])
    }

    /// The curve around the band, counter-clockwise from the middle of its first end, round at both ends, its chords true to `tolerance`.
    pub(crate) fn stations(&self, [from, to]: [f64; 2], tolerance: f64) -> Vec<Station> {
        // The farther side of a bend is the longer way, but the nearer side bends more.
        let bend = self.tightest() - self.half;
        let most = if bend.is_finite() {
            (8.0 * tolerance * bend).sqrt() * bend / (bend + 2.0 * self.half)
        } else {
            to - from
        };
        let steps = ((to - from) / most).ceil().max(1.0) as usize;
        let around = crate::profile::arc_steps(self.half, PI, tolerance).next_multiple_of(2);
        let side = |right: bool| {
            (0..=steps).map(move |k| {
                let (p, left) = self.middle(from + (to - from) * k as f64 / steps as f64);
                let outward = if right { -left } else { left };
                Station { point: p + outward * self.half, outward }
            })
        };
        let cap = |u: f64, right_first: bool| {
            let (p, left) = self.middle(u);
            let first = if right_first { -left } else { left };
            (1..around).map(move |k| {
                let outward = DVec2::from_angle(PI * k as f64 / around as f64).rotate(first);
                Station { point: p + outward * self.half, outward }
            })
        };
        let mut stations: Vec<Station> = side(true).collect();
        stations.extend(cap(to, true));
        stations.extend(side(false).rev());
        stations.extend(cap(from, false));
        stations.rotate_right(around / 2);
        stations
    }

    /// How far it runs beyond the outline, mm.
    pub(crate) fn reach(&self, outline: &Outline, beyond: f64) -> f64 {
        let Some(ends) = self.ends(outline, beyond) else { return 0.0 };
        let ring = outline.parallel(0.0, 0.05);
        let out = self.stations(ends, 0.05).into_iter().filter(|s| !ring.holds(s.point));
        out.map(|s| ring.distance(s.point)).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::{Report, mm};
    use geom::Ring;
    use job::{OutlineSpec, Placed};

    fn plate() -> Outline {
        let spec = Placed { value: OutlineSpec::Circle { diameter: mm(200.0) }, at: None };
        Outline::new(&spec, base::Units::Mm, &mut Report::default()).unwrap()
    }

    fn river() -> River {
        River { half: 12.0, swing: 10.0, wave: 150.0, phase: 0.7, aside: 8.0, along: DVec2::from_angle(0.4) }
    }

    #[test]
    fn every_point_of_its_curve_lies_half_its_width_from_its_middle() {
        let r = river();
        let ends = r.ends(&plate(), 4.0).unwrap();
        let middle: Vec<DVec2> =
            (0..=20_000).map(|k| r.middle(ends[0] + (ends[1] - ends[0]) * f64::from(k) / 2e4).0).collect();
        let stations = r.stations(ends, 0.01);
        for s in &stations {
            let distance = middle.iter().map(|m| m.distance(s.point)).fold(f64::INFINITY, f64::min);
            assert!((distance - 12.0).abs() < 1e-3, "{distance}");
        }
        let ring = Ring(stations.iter().map(|s| s.point).collect());
        for (a, b) in ring.sides() {
            let m = 0.5 * (a + b);
            let distance = middle.iter().map(|p| p.distance(m)).fold(f64::INFINITY, f64::min);
            assert!((distance - 12.0).abs() < 0.0105, "{distance}");
        }
        // A band of constant width: its length times its width, and a disc at its ends.
        let long: f64 = middle.windows(2).map(|w| w[0].distance(w[1])).sum();
        assert!((ring.area() / (long * 24.0 + PI * 144.0) - 1.0).abs() < 1e-3);
    }

    #[test]
    fn it_ends_outside_of_the_piece() {
        let r = river();
        let ends = r.ends(&plate(), 4.0).unwrap();
        for u in ends {
            let (p, left) = r.middle(u);
            assert!([-12.0, 0.0, 12.0].iter().all(|&v| (p + left * v).length() >= 104.0 - 0.1));
        }
        // A millimetre's slack and half the width at least, and what the slant of the rim adds across the band.
        let reach = r.reach(&plate(), 4.0);
        assert!((15.9..40.0).contains(&reach), "{reach}");
        assert!(River { aside: 130.0, ..r }.ends(&plate(), 4.0).is_none());
    }
}
