//! Profiles: plane curves of lines and arcs in (d, z), d the inset from the outline.
//!
//! A profile runs downwards from the rim: z falls (or stays), d grows (or stays), so a vertical cutter reaches all of
//! it and a section at any height is one inset. Parallels of lines and arcs are lines and arcs again: walls are exact.
//! Both axes in mm; angles in radians.

use crate::outline::Outline;
use geom::DVec2;
use std::f64::consts::PI;

/// Rounding that sums of a few hundred millimetres cannot help, mm.
const EPSILON: f64 = 1e-9;

/// Points of a polyline nearer than this are one, mm: a mesh would show needles.
const LEAST_STEP: f64 = 1e-6;

/// A stretch of a profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stretch {
    /// A straight line.
    Line {
        /// Upper end.
        from: DVec2,
        /// Lower end.
        to: DVec2,
    },
    /// An arc about `centre`, from one angle to another (either sense).
    Arc {
        /// Centre.
        centre: DVec2,
        /// Radius, above 0.
        radius: f64,
        /// Angle of the upper end.
        from: f64,
        /// Angle of the lower end.
        to: f64,
    },
}

/// A chain of stretches from the rim down, each beginning where the one before ends.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// The stretches.
    pub stretches: Vec<Stretch>,
}

impl Stretch {
    /// The upper end.
    pub fn start(&self) -> DVec2 {
        self.at(0.0)
    }

    /// The lower end.
    pub fn end(&self) -> DVec2 {
        self.at(1.0)
    }

    /// The point at a fraction of the way, by length.
    pub fn at(&self, t: f64) -> DVec2 {
        match *self {
            Self::Line { from, to } => from + (to - from) * t,
            Self::Arc { centre, radius, from, to } => centre + DVec2::from_angle(from + (to - from) * t) * radius,
        }
    }

    /// Unit direction of travel at a fraction of the way.
    pub fn heading(&self, t: f64) -> DVec2 {
        match *self {
            Self::Line { from, to } => (to - from).normalize_or_zero(),
            Self::Arc { from, to, .. } => DVec2::from_angle(from + (to - from) * t).perp() * (to - from).signum(),
        }
    }

    /// Length along the curve.
    pub fn length(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.distance(to),
            Self::Arc { radius, from, to, .. } => radius * (to - from).abs(),
        }
    }

    /// The parallel at `by` to the left of travel: the inner side of a wall that is walked down from the rim.
    /// `None` where an arc would lose its radius.
    pub fn parallel(&self, by: f64) -> Option<Self> {
        match *self {
            Self::Line { from, to } => {
                let aside = self.heading(0.0).perp() * by;
                Some(Self::Line { from: from + aside, to: to + aside })
            }
            Self::Arc { centre, radius, from, to } => {
                let radius = radius - by * (to - from).signum();
                (radius > EPSILON).then_some(Self::Arc { centre, radius, from, to })
            }
        }
    }

    /// Fraction of the way at which the stretch has height z, if it has (a level stretch: none).
    pub fn fraction_at_height(&self, z: f64) -> Option<f64> {
        let t = match *self {
            Self::Line { from, to } => (from.y - z) / (from.y - to.y),
            Self::Arc { centre, radius, from, to } => {
                let sine = (z - centre.y) / radius;
                if sine.abs() > 1.0 + EPSILON {
                    return None;
                }
                // Of the two angles with this sine take the one on the arc's own side.
                let low = sine.clamp(-1.0, 1.0).asin();
                let middle = 0.5 * (from + to);
                let angle = if middle.cos() >= 0.0 { low } else { PI - low };
                let turns = ((middle - angle) / (2.0 * PI)).round();
                (angle + 2.0 * PI * turns - from) / (to - from)
            }
        };
        (t.is_finite() && (-EPSILON..=1.0 + EPSILON).contains(&t)).then(|| t.clamp(0.0, 1.0))
    }

    /// The part between two fractions of the way (they may lie outside 0 to 1: carried on along the same curve).
    pub fn part(&self, t0: f64, t1: f64) -> Self {
        match *self {
            Self::Line { .. } => Self::Line { from: self.at(t0), to: self.at(t1) },
            Self::Arc { centre, radius, from, to } => {
                Self::Arc { centre, radius, from: from + (to - from) * t0, to: from + (to - from) * t1 }
            }
        }
    }

    /// Carried on downwards along the same curve to height z, or as far as it goes down.
    pub fn carried_down_to(&self, z: f64) -> Self {
        match *self {
            Self::Line { from, to } if from.y - to.y > EPSILON => self.part(0.0, (from.y - z) / (from.y - to.y)),
            Self::Line { .. } => *self,
            Self::Arc { centre, radius, from, to } => {
                let lowest = if to > from { 1.5 * PI } else { -0.5 * PI };
                let whole = Self::Arc { centre, radius, from, to: lowest };
                whole.fraction_at_height(z).map_or(whole, |t| whole.part(0.0, t))
            }
        }
    }

    /// Distance of a point from the stretch.
    pub fn distance(&self, p: DVec2) -> f64 {
        match *self {
            Self::Line { from, to } => {
                let along = to - from;
                let t = (p - from).dot(along) / along.length_squared();
                p.distance(if t.is_finite() { from + along * t.clamp(0.0, 1.0) } else { from })
            }
            Self::Arc { centre, radius, .. } => {
                let ends = p.distance(self.start()).min(p.distance(self.end()));
                match self.fraction_facing(p - centre) {
                    Some(_) => ends.min((p.distance(centre) - radius).abs()),
                    None => ends,
                }
            }
        }
    }

    /// Fraction of the way at which an arc lies in the given direction from its centre, if it does.
    fn fraction_facing(&self, direction: DVec2) -> Option<f64> {
        let Self::Arc { from, to, .. } = *self else { return None };
        let middle = 0.5 * (from + to);
        let angle = direction.to_angle();
        let angle = angle + 2.0 * PI * ((middle - angle) / (2.0 * PI)).round();
        let t = (angle - from) / (to - from);
        (0.0..=1.0).contains(&t).then_some(t)
    }

    /// Fractions of the way at which the distance to `other` can be least: the ends, the feet of the perpendiculars
    /// from the other's ends and centre, and (arc against line) where the tangents agree.
    fn nearest_candidates(&self, other: &Self) -> Vec<f64> {
        let mut points = vec![other.start(), other.end()];
        if let Self::Arc { centre, .. } = *other {
            points.push(centre);
        }
        let mut found = vec![0.0, 1.0];
        match *self {
            Self::Line { from, to } => {
                let along = to - from;
                let feet = points.iter().map(|&p| (p - from).dot(along) / along.length_squared());
                found.extend(feet.filter(|t| (0.0..=1.0).contains(t)));
            }
            Self::Arc { centre, .. } => {
                let mut directions: Vec<DVec2> = points.iter().flat_map(|&p| [p - centre, centre - p]).collect();
                if let Self::Line { .. } = *other {
                    let upright = other.heading(0.0).perp();
                    directions.extend([upright, -upright]);
                }
                found.extend(directions.iter().filter_map(|&d| self.fraction_facing(d)));
            }
        }
        found
    }

    /// Closed form of `∫ d dz` and `∫ d² dz` (z falling counts positive), and of `∫ dz`.
    fn moments(&self) -> [f64; 3] {
        match *self {
            Self::Line { from, to } => {
                let fall = from.y - to.y;
                let (a, b) = (from.x, to.x);
                [fall, fall * 0.5 * (a + b), fall * (a * a + a * b + b * b) / 3.0]
            }
            // d = c + ρ cos t, dz = ρ cos t dt.
            Self::Arc { centre, radius: r, from, to } => {
                let c = centre.x;
                let s1 = |t: f64| r * t.sin();
                let s2 = |t: f64| r * r * (0.5 * t + 0.25 * (2.0 * t).sin());
                let s3 = |t: f64| r * r * r * (t.sin() - t.sin().powi(3) / 3.0);
                let whole = |f: &dyn Fn(f64) -> f64| f(from) - f(to);
                let (i1, i2, i3) = (whole(&s1), whole(&s2), whole(&s3));
                [i1, c * i1 + i2, c * c * i1 + 2.0 * c * i2 + i3]
            }
        }
    }
}

impl Profile {
    /// The highest point.
    pub fn top(&self) -> DVec2 {
        self.stretches.first().map_or(DVec2::NAN, Stretch::start)
    }

    /// The lowest point.
    pub fn bottom(&self) -> DVec2 {
        self.stretches.last().map_or(DVec2::NAN, Stretch::end)
    }

    /// The stretch and the fraction of the way along it at height z (the nearest end outside the profile's height).
    fn locate(&self, z: f64) -> Option<(&Stretch, f64)> {
        if z >= self.top().y {
            // Where the profile begins with a level touch (a rounded edge), the top is that touch.
            return self.stretches.first().map(|s| (s, 0.0));
        }
        let found = self.stretches.iter().find_map(|s| s.fraction_at_height(z).map(|t| (s, t)));
        found.or_else(|| self.stretches.last().map(|s| (s, 1.0)))
    }

    /// Inset at height z (that of the nearest end outside the profile's height).
    pub fn inset_at(&self, z: f64) -> f64 {
        self.locate(z).map_or(f64::NAN, |(s, t)| s.at(t).x)
    }

    /// Slope at height z, degrees from horizontal (90 = upright).
    pub fn slope_deg_at(&self, z: f64) -> f64 {
        self.locate(z).map_or(f64::NAN, |(s, t)| {
            let heading = s.heading(t);
            heading.y.abs().atan2(heading.x.abs()).to_degrees()
        })
    }

    /// The parallel at `by` to the inner side (negative: the outer). `None` where an arc loses its radius.
    pub fn parallel(&self, by: f64) -> Option<Self> {
        let stretches = self.stretches.iter().map(|s| s.parallel(by)).collect::<Option<Vec<_>>>()?;
        Some(Self { stretches })
    }

    /// Cut off at height z, or its last stretch carried on along the same curve as far as it goes down to z.
    /// `None` if all of it lies above.
    pub fn down_to(&self, z: f64) -> Option<Self> {
        let mut longer = self.clone();
        if let Some(last) = longer.stretches.last_mut().filter(|last| last.start().y >= z - EPSILON) {
            *last = last.carried_down_to(z);
        }
        longer.above(z)
    }

    /// The part at and below height z; `None` if nothing is.
    pub fn below(&self, z: f64) -> Option<Self> {
        let mut stretches = Vec::new();
        for s in &self.stretches {
            if s.start().y <= z + EPSILON {
                stretches.push(*s);
            } else if s.end().y < z - EPSILON {
                stretches.push(s.part(s.fraction_at_height(z)?, 1.0));
            }
        }
        (!stretches.is_empty()).then_some(Self { stretches })
    }

    /// The part at and above height z; `None` if nothing is.
    pub fn above(&self, z: f64) -> Option<Self> {
        let mut stretches = Vec::new();
        for s in &self.stretches {
            if s.end().y >= z - EPSILON {
                stretches.push(*s);
            } else if s.start().y > z + EPSILON {
                stretches.push(s.part(0.0, s.fraction_at_height(z)?));
            }
        }
        (!stretches.is_empty()).then_some(Self { stretches })
    }

    /// Least distance between two profiles and the point of this one where it is: exact for lines and arcs that do not
    /// cross (see [`Profile::lies_inside`]).
    pub fn least_distance(&self, other: &Self) -> (f64, DVec2) {
        let mut least = (f64::INFINITY, DVec2::NAN);
        for mine in &self.stretches {
            for theirs in &other.stretches {
                for t in mine.nearest_candidates(theirs) {
                    let p = mine.at(t);
                    let distance = theirs.distance(p);
                    if distance < least.0 {
                        least = (distance, p);
                    }
                }
            }
        }
        least
    }

    /// Whether this profile has a greater inset than `other` at each of `levels` heights between its ends and at its
    /// stretches' ends; if not, where.
    pub fn lies_inside(&self, other: &Self, levels: u32) -> Result<(), DVec2> {
        let (top, bottom) = (self.top().y, self.bottom().y);
        let heights = (0..=levels).map(|k| top + (bottom - top) * f64::from(k) / f64::from(levels));
        for z in heights.chain(self.stretches.iter().map(|s| s.end().y)) {
            let d = self.inset_at(z);
            if d <= other.inset_at(z) {
                return Err(DVec2::new(d, z));
            }
        }
        Ok(())
    }

    /// Points of a polyline within `tolerance` of the profile (both ends included; equal steps on each arc), whose sides meet
    /// at no more than `bend` radians on an arc.
    pub fn points(&self, tolerance: f64, bend: f64) -> Vec<DVec2> {
        let mut points = vec![self.top()];
        for s in &self.stretches {
            let steps = match *s {
                Stretch::Line { .. } => 1,
                Stretch::Arc { radius, from, to, .. } => {
                    let bends = ((to - from).abs() / bend - EPSILON).ceil() as usize;
                    arc_steps(radius, to - from, tolerance).max(bends)
                }
            };
            points.extend((1..=steps).map(|k| s.at(k as f64 / steps as f64)));
        }
        points.dedup_by(|a, b| a.distance(*b) < LEAST_STEP);
        points
    }

    /// Volume of the body whose sections are the outline at this profile's insets, between the profile's ends, in
    /// closed form: `∫ (A − L d + π d²) dz` (Steiner).
    pub fn volume(&self, outline: &Outline) -> f64 {
        let sum =
            self.stretches.iter().map(Stretch::moments).fold([0.0; 3], |a, b| [a[0] + b[0], a[1] + b[1], a[2] + b[2]]);
        outline.area() * sum[0] - outline.length() * sum[1] + PI * sum[2]
    }
}

/// Steps for an arc such that its chords stay within the tolerance: `r (1 − cos(step/2)) ≤ tolerance`.
pub fn arc_steps(radius: f64, sweep: f64, tolerance: f64) -> usize {
    let step = 2.0 * (1.0 - (tolerance / radius).min(1.0)).acos();
    ((sweep.abs() / step) - EPSILON).ceil().max(1.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::{Report, mm};
    use job::{OutlineSpec, Placed};

    fn quarter() -> Profile {
        // A quarter of a circle of 40 mm, upright at (0, 40), level at (40, 0).
        Profile {
            stretches: vec![Stretch::Arc { centre: DVec2::new(40.0, 40.0), radius: 40.0, from: PI, to: 1.5 * PI }],
        }
    }

    #[test]
    fn an_arc_tells_inset_and_slope() {
        let p = quarter();
        assert!((p.inset_at(40.0 - 40.0 * 0.5_f64.sqrt()) - (40.0 - 40.0 * 0.5_f64.sqrt())).abs() < 1e-12);
        assert!((p.slope_deg_at(40.0) - 90.0).abs() < 1e-9);
        assert!((p.slope_deg_at(40.0 - 20.0) - 60.0).abs() < 1e-9);
        assert!(p.slope_deg_at(0.0).abs() < 1e-6);
    }

    #[test]
    fn a_parallel_of_an_arc_keeps_its_centre() {
        let inner = quarter().parallel(6.0).unwrap().down_to(10.0).unwrap();
        assert!((inner.top() - DVec2::new(6.0, 40.0)).length() < 1e-12);
        assert!((inner.bottom() - DVec2::new(40.0, 40.0)).length() - 34.0 < 1e-12);
        assert!((inner.bottom().y - 10.0).abs() < 1e-12);
        let (least, _) = inner.least_distance(&quarter());
        assert!((least - 6.0).abs() < 1e-12);
        assert!(quarter().parallel(41.0).is_none());
    }

    #[test]
    fn a_line_is_carried_on_below_its_end() {
        let p = Profile { stretches: vec![Stretch::Line { from: DVec2::new(0.0, 10.0), to: DVec2::new(5.0, 0.0) }] };
        let inner = p.parallel(5.0_f64.sqrt()).unwrap().below(10.0).unwrap().down_to(0.0).unwrap();
        assert!((inner.top() - DVec2::new(2.5, 10.0)).length() < 1e-12);
        assert!((inner.bottom() - DVec2::new(7.5, 0.0)).length() < 1e-12);
    }

    /// Pappus: a half ball is a circle outline whose profile is a quarter circle; volume 2/3 π r³.
    #[test]
    fn the_volume_of_a_half_ball() {
        let mut report = Report::default();
        let spec = Placed { value: OutlineSpec::Circle { diameter: mm(80.0) }, at: None };
        let outline = Outline::new(&spec, base::Units::Mm, &mut report).unwrap();
        let want = 2.0 / 3.0 * PI * 40.0_f64.powi(3);
        assert!((quarter().volume(&outline) / want - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_volume_of_a_frustum() {
        let mut report = Report::default();
        let spec = Placed { value: OutlineSpec::Circle { diameter: mm(100.0) }, at: None };
        let outline = Outline::new(&spec, base::Units::Mm, &mut report).unwrap();
        let p = Profile { stretches: vec![Stretch::Line { from: DVec2::new(0.0, 30.0), to: DVec2::new(20.0, 0.0) }] };
        let want = PI * 30.0 / 3.0 * (50.0 * 50.0 + 50.0 * 30.0 + 30.0 * 30.0);
        assert!((p.volume(&outline) / want - 1.0).abs() < 1e-12);
    }

    #[test]
    fn least_distance_agrees_with_brute_force() {
        let arc = |x: f64, y: f64, radius: f64, from: f64, to: f64| Stretch::Arc {
            centre: DVec2::new(x, y),
            radius,
            from,
            to,
        };
        let line = |a: f64, b: f64, c: f64, d: f64| Stretch::Line { from: DVec2::new(a, b), to: DVec2::new(c, d) };
        let pairs = [
            (arc(40.0, 40.0, 40.0, PI, 1.5 * PI), arc(45.0, 38.0, 30.0, PI, 1.4 * PI)),
            (arc(40.0, 40.0, 40.0, PI, 1.5 * PI), line(8.0, 40.0, 30.0, 12.0)),
            (line(0.0, 30.0, 3.0, 0.0), line(5.0, 29.0, 6.0, 4.0)),
            (arc(-30.0, 30.0, 32.0, 0.5, 0.0), line(6.0, 50.0, 14.0, 20.0)),
        ];
        for (a, b) in pairs {
            let (p, q) = (Profile { stretches: vec![a] }, Profile { stretches: vec![b] });
            let brute = (0..=2000).fold(f64::INFINITY, |least: f64, i| {
                let x = a.at(f64::from(i) / 2000.0);
                (0..=2000).fold(least, |least, j| least.min(x.distance(b.at(f64::from(j) / 2000.0))))
            });
            let (exact, _) = p.least_distance(&q);
            assert!(exact <= brute + 1e-12 && brute - exact < 1e-3, "{exact} against {brute}");
            assert!((exact - q.least_distance(&p).0).abs() < 1e-12);
        }
    }

    #[test]
    fn polylines_keep_the_tolerance() {
        let points = quarter().points(0.01, PI);
        for w in points.windows(2) {
            let middle = (w[0] + w[1]) / 2.0;
            assert!((middle.distance(DVec2::new(40.0, 40.0)) - 40.0).abs() <= 0.01 + 1e-12);
        }
        assert!(points.len() < 50);
        let bent = quarter().points(0.01, 0.01);
        let most = bent.windows(3).map(|w| (w[1] - w[0]).angle_to(w[2] - w[1]).abs()).fold(0.0, f64::max);
        assert!(most <= 0.01 + 1e-9 && bent.len() == 159, "{most} {}", bent.len());
    }
}
