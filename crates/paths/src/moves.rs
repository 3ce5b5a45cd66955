//! Moves of the tip, and what all strategies are told.

use geom::DVec2;

/// One move of the tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    /// As fast as the machine goes, in a straight line; only through air.
    Rapid {
        /// Target.
        to: [f64; 3],
    },
    /// Straight at feed.
    Feed {
        /// Target.
        to: [f64; 3],
        /// mm/min along the path.
        feed: f64,
    },
    /// Arc or helix in XY at feed.
    Arc {
        /// Target.
        to: [f64; 3],
        /// Centre.
        centre: [f64; 2],
        /// Counter-clockwise seen from +Z.
        ccw: bool,
        /// mm/min along the path.
        feed: f64,
    },
}

/// What every strategy is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Work {
    /// Height at which the tip may travel anywhere, mm.
    pub safe_z: f64,
    /// Rapids come down to this far above standing material before feeding, mm.
    pub approach: f64,
    /// Feed when cutting, mm/min.
    pub feed: f64,
    /// Feed on the way over ground that is clear, mm/min.
    pub link_feed: f64,
    /// Feed when ramping or plunging, mm/min.
    pub plunge_feed: f64,
    /// Ramp angle, degrees.
    pub ramp_deg: f64,
    /// Whether the cutter can plunge straight down.
    pub plunges: bool,
    /// Climb (else conventional).
    pub climb: bool,
    /// Greatest distance of a move from the true path, either side, mm.
    pub tolerance: f64,
}

impl Move {
    /// Where it ends.
    pub fn to(&self) -> [f64; 3] {
        match *self {
            Self::Rapid { to } | Self::Feed { to, .. } | Self::Arc { to, .. } => to,
        }
    }

    /// Its feed, mm/min; `None` for a rapid.
    pub fn feed(&self) -> Option<f64> {
        match *self {
            Self::Rapid { .. } => None,
            Self::Feed { feed, .. } | Self::Arc { feed, .. } => Some(feed),
        }
    }

    /// The same at another feed; a rapid stays one.
    #[must_use]
    pub fn at_feed(self, feed: f64) -> Self {
        match self {
            Self::Rapid { to } => Self::Rapid { to },
            Self::Feed { to, .. } => Self::Feed { to, feed },
            Self::Arc { to, centre, ccw, .. } => Self::Arc { to, centre, ccw, feed },
        }
    }

    /// The same, ending elsewhere on its course.
    #[must_use]
    pub fn ending(self, to: [f64; 3]) -> Self {
        match self {
            Self::Rapid { .. } => Self::Rapid { to },
            Self::Feed { feed, .. } => Self::Feed { to, feed },
            Self::Arc { centre, ccw, feed, .. } => Self::Arc { to, centre, ccw, feed },
        }
    }
}

/// Share of the cutting feed that a cutter engaged all over bears. Common practice, no source.
const ENGAGED: f64 = 0.6;

/// Moves as they are put together: rapids across only at the safe height, everything else at feed.
#[derive(Clone, Debug)]
pub(crate) struct Track<'a> {
    work: &'a Work,
    moves: Vec<Move>,
    at: Option<[f64; 3]>,
}

impl<'a> Track<'a> {
    pub(crate) fn new(work: &'a Work) -> Self {
        Self { work, moves: Vec::new(), at: None }
    }

    /// Where the tip is; `None` before the first move.
    pub(crate) fn at(&self) -> Option<[f64; 3]> {
        self.at
    }

    /// The moves so far.
    pub(crate) fn moves(&self) -> &[Move] {
        &self.moves
    }

    /// Up, across and down again by rapids to `clear_z`, which lies in air (never above the safe height).
    pub(crate) fn hop(&mut self, x: f64, y: f64, clear_z: f64) {
        let safe = self.work.safe_z;
        if let Some([u, v, w]) = self.at
            && w < safe
        {
            self.rapid([u, v, safe]);
        }
        self.rapid([x, y, safe]);
        if clear_z < safe {
            self.rapid([x, y, clear_z]);
        }
    }

    /// Straight at the cutting feed.
    pub(crate) fn feed(&mut self, to: [f64; 3]) {
        self.push(to, self.work.feed);
    }

    /// Straight at the feed of a cutter that is engaged all over.
    pub(crate) fn buried(&mut self, to: [f64; 3]) {
        self.push(to, ENGAGED * self.work.feed);
    }

    /// Straight over clear ground.
    pub(crate) fn link(&mut self, to: [f64; 3]) {
        self.push(to, self.work.link_feed);
    }

    /// Down at the plunging feed; on a ramp as fast as goes down no faster than that, nor across faster than a cutter bears
    /// that is engaged all over.
    pub(crate) fn plunge(&mut self, to: [f64; 3]) {
        let feed = match self.at() {
            Some(from) => {
                let (run, fall) = ((to[0] - from[0]).hypot(to[1] - from[1]), from[2] - to[2]);
                let steepness = fall.max(0.0) / run.hypot(fall).max(1e-9);
                let across = if run > 0.0 { ENGAGED * self.work.feed } else { self.work.plunge_feed };
                (self.work.plunge_feed / steepness.max(1e-9)).min(across).max(self.work.plunge_feed)
            }
            None => self.work.plunge_feed,
        };
        self.push(to, feed);
    }

    /// Lifted out.
    pub(crate) fn finish(mut self) -> Vec<Move> {
        if let Some([x, y, z]) = self.at
            && z < self.work.safe_z
        {
            self.rapid([x, y, self.work.safe_z]);
        }
        self.moves
    }

    fn rapid(&mut self, to: [f64; 3]) {
        if self.at != Some(to) {
            self.moves.push(Move::Rapid { to });
            self.at = Some(to);
        }
    }

    fn push(&mut self, to: [f64; 3], feed: f64) {
        if self.at != Some(to) {
            self.moves.push(Move::Feed { to, feed });
            self.at = Some(to);
        }
    }
}

/// Heights from just below `from` down to `to`, evenly, none lower than `step` below the one before.
pub(crate) fn levels(from: f64, to: f64, step: f64) -> Vec<f64> {
    let depth = from - to;
    if depth <= 0.0 || step <= 0.0 {
        return Vec::new();
    }
    let n = (depth / step - 1e-9).ceil().max(1.0) as usize;
    (1..=n).map(|k| if k == n { to } else { from - depth * k as f64 / n as f64 }).collect()
}

/// Points of an open path at distances of at most `step`, its own points included.
pub(crate) fn resampled(points: &[DVec2], step: f64) -> Vec<DVec2> {
    let mut out: Vec<DVec2> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let n = (pair[0].distance(pair[1]) / step).ceil().max(1.0) as usize;
        out.extend((1..=n).map(|k| pair[0].lerp(pair[1], k as f64 / n as f64)));
    }
    out
}

/// The ring as an open path that ends where it began, begun at vertex `first`.
pub(crate) fn opened(ring: &[DVec2], first: usize) -> Vec<DVec2> {
    let n = ring.len();
    (0..=n).map(|k| ring[(first + k) % n.max(1)]).collect()
}

/// How far a point lies off a chord: by distance, or by how much it stands above it, whichever is more.
pub(crate) fn off_chord(p: [f64; 3], a: [f64; 3], b: [f64; 3]) -> f64 {
    let off = geom::distance::point_segment(p.into(), a.into(), b.into());
    let (u, v) = (DVec2::new(b[0] - a[0], b[1] - a[1]), DVec2::new(p[0] - a[0], p[1] - a[1]));
    let t = if u.length_squared() > 0.0 { (u.dot(v) / u.length_squared()).clamp(0.0, 1.0) } else { 0.0 };
    off.max(p[2] - a[2] - t * (b[2] - a[2]))
}

/// The points that must stay so that no dropped one lies off the line by more than `tolerance` (Douglas and Peucker 1973).
pub(crate) fn thinned(points: &[[f64; 3]], tolerance: f64) -> Vec<[f64; 3]> {
    if points.len() < 3 {
        return points.to_vec();
    }
    let mut keep = vec![false; points.len()];
    (keep[0], keep[points.len() - 1]) = (true, true);
    // Runs are kept short, so that a long path takes no more than linear time.
    let mut open: Vec<(usize, usize)> = Vec::new();
    let mut start = 0;
    while start + 1 < points.len() {
        let end = (start + 64).min(points.len() - 1);
        keep[end] = true;
        open.push((start, end));
        start = end;
    }
    while let Some((a, b)) = open.pop() {
        let off = |k: usize| off_chord(points[k], points[a], points[b]);
        let worst = (a + 1..b).map(|k| (k, off(k))).fold((0, tolerance), |w, k| if k.1 > w.1 { k } else { w });
        if worst.0 > 0 {
            keep[worst.0] = true;
            open.extend([(a, worst.0), (worst.0, b)]);
        }
    }
    (0..points.len()).filter(|&i| keep[i]).map(|i| points[i]).collect()
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::contact::Underside;
    use geom::{DVec3, Grid};

    pub(crate) const WORK: Work = Work {
        safe_z: 20.0,
        approach: 2.0,
        feed: 1500.0,
        link_feed: 3000.0,
        plunge_feed: 400.0,
        ramp_deg: 3.0,
        plunges: false,
        climb: true,
        tolerance: 0.005,
    };

    /// Begins and ends at the safe height; rapids go across there only.
    #[track_caller]
    pub(crate) fn check_frame(moves: &[Move], work: &Work) {
        assert!(matches!(moves.first(), Some(Move::Rapid { to }) if to[2] == work.safe_z), "begins with a rapid");
        assert!(matches!(moves.last(), Some(Move::Rapid { to }) if to[2] == work.safe_z), "ends with a rapid");
        for pair in moves.windows(2) {
            let (a, b) = (pair[0].to(), pair[1].to());
            assert!(b.iter().all(|v| v.is_finite()));
            if matches!(pair[1], Move::Rapid { .. }) && (a[0] != b[0] || a[1] != b[1]) {
                assert!(a[2] == work.safe_z && b[2] == work.safe_z, "a rapid across at {a:?} to {b:?}");
            }
        }
    }

    /// Straight feed moves (from, to) that pass the test.
    pub(crate) fn feeds(moves: &[Move], keep: impl Fn([f64; 3], [f64; 3]) -> bool) -> Vec<([f64; 3], [f64; 3])> {
        moves
            .windows(2)
            .filter(|p| matches!(p[1], Move::Feed { .. }))
            .map(|p| (p[0].to(), p[1].to()))
            .filter(|(a, b)| keep(*a, *b))
            .collect()
    }

    /// A plain simulation for tests: the cutter stamped every 0.1 mm on a height grid.
    pub(crate) struct Carved {
        pub(crate) tops: Grid<f32>,
        under: Underside,
        /// Greatest height of stock above the underside on a feed move, mm.
        pub(crate) deepest: f64,
        /// Where that was.
        pub(crate) deepest_at: [f64; 3],
        /// The same on rapids.
        pub(crate) rapid_into: f64,
    }

    impl Carved {
        pub(crate) fn new(tops: &Grid<f32>, under: Underside) -> Self {
            Self { tops: tops.clone(), under, deepest: 0.0, deepest_at: [0.0; 3], rapid_into: 0.0 }
        }

        pub(crate) fn run(&mut self, moves: &[Move]) {
            for pair in moves.windows(2) {
                let (a, b) = (DVec3::from_array(pair[0].to()), DVec3::from_array(pair[1].to()));
                let n = (a.distance(b) / 0.1).ceil().max(1.0) as usize;
                let feed = matches!(pair[1], Move::Feed { .. });
                for k in 0..=n {
                    self.stamp(a.lerp(b, k as f64 / n as f64), feed);
                }
            }
        }

        fn stamp(&mut self, tip: DVec3, feed: bool) {
            let g = &mut self.tops;
            let r = self.under.radius;
            let range = |v: f64, o: f64, n: usize| {
                let lo = ((v - r - o) / g.pitch).ceil().clamp(0.0, n as f64) as usize;
                lo..(((v + r - o) / g.pitch).floor() + 1.0).clamp(lo as f64, n as f64) as usize
            };
            for iy in range(tip.y, g.origin.y, g.ny) {
                for ix in range(tip.x, g.origin.x, g.nx) {
                    let d = (g.origin + DVec2::new(ix as f64, iy as f64) * g.pitch).distance(tip.truncate());
                    if d > r {
                        continue;
                    }
                    let z = tip.z + self.under.rise(d);
                    let top = &mut g.values[iy * g.nx + ix];
                    let over = f64::from(*top) - z;
                    if over <= 0.0 {
                        continue;
                    }
                    if !feed {
                        self.rapid_into = self.rapid_into.max(over);
                    } else {
                        if over > self.deepest {
                            (self.deepest, self.deepest_at) = (over, tip.to_array());
                        }
                        *top = z as f32;
                    }
                }
            }
        }
    }

    #[test]
    fn levels_are_even_and_end_exactly() {
        assert_eq!(levels(3.0, 0.0, 1.0), [2.0, 1.0, 0.0]);
        assert_eq!(levels(3.0, 0.0, 1.6), [1.5, 0.0]);
        assert!(levels(0.0, 0.0, 1.0).is_empty());
    }

    #[test]
    fn thinning_keeps_within_the_tolerance() {
        let points: Vec<[f64; 3]> = (0..500).map(|i| [0.1 * i as f64, (0.05 * i as f64).sin(), 0.0]).collect();
        let thin = thinned(&points, 0.01);
        assert!(thin.len() < 200);
        for p in &points {
            let p = DVec3::from_array(*p);
            let off = thin
                .windows(2)
                .map(|s| geom::distance::point_segment(p, DVec3::from_array(s[0]), DVec3::from_array(s[1])))
                .fold(f64::INFINITY, f64::min);
            assert!(off <= 0.01 + 1e-12);
        }
    }
}
