//! Clearing at one level: stretches of rings where stock stands, linked through what is already clear, entered from air
//! or down a ramp.

use crate::contact::Underside;
use crate::entry::{entry_circle, ramp};
use crate::moves::{Track, opened, resampled};
use crate::order::{Piece, next, parents};
use crate::stock::{GONE, Stock};
use crate::{Move, Work};
use geom::{DVec2, Ring};

/// Distance of samples along a path, mm.
const SAMPLE: f64 = 0.5;
/// Stretches begin and end this far outside the stock, mm.
const AIR: f64 = 0.8;

/// Cutting of one level after the other.
pub(crate) struct Clearing<'a> {
    pub(crate) track: Track<'a>,
    pub(crate) work: &'a Work,
    pub(crate) stock: Stock,
    /// The cutter as it cuts.
    pub(crate) under: Underside,
    /// Distance of neighbouring rings, mm.
    pub(crate) step: f64,
}

/// Where the tip may go at a level.
pub(crate) struct Level<'a> {
    pub(crate) z: f64,
    /// Whether the tip may stand here at this level.
    pub(crate) may: &'a (dyn Fn(DVec2) -> bool + Sync),
}

impl Clearing<'_> {
    /// Stretches of a ring (in the sense of the cut) where the cutter meets stock above the level.
    pub(crate) fn stretches(&self, ring: &Ring, level: &Level<'_>, meets: &dyn Fn(DVec2) -> bool) -> Vec<Piece> {
        if ring.0.len() < 3 {
            return Vec::new();
        }
        let points = resampled(&opened(&ring.0, 0), SAMPLE);
        let n = points.len() - 1;
        let may: Vec<bool> = points[..n].iter().map(|&p| (level.may)(p)).collect();
        let meets: Vec<bool> = (0..n).map(|i| may[i] && meets(points[i])).collect();
        if !meets.contains(&true) {
            return Vec::new();
        }
        // Short gaps are not worth a lift: the cutter goes on through the air.
        let keep = bridged(&meets, &may, (3.0 * self.under.radius / SAMPLE) as usize, (AIR / SAMPLE).ceil() as usize);
        let Some(first) = (0..n).find(|&i| keep[i] && !keep[(i + n - 1) % n]) else {
            return vec![Piece { points, closed: true, layer: 0 }];
        };
        let mut pieces: Vec<Piece> = Vec::new();
        for k in 0..n {
            let i = (first + k) % n;
            if !keep[i] {
                continue;
            }
            match pieces.last_mut() {
                Some(piece) if keep[(i + n - 1) % n] && k > 0 => piece.points.push(points[i]),
                _ => pieces.push(Piece { points: vec![points[i]], closed: false, layer: 0 }),
            }
        }
        pieces.retain(|p| p.points.len() > 1);
        pieces
    }

    /// Cuts all pieces of a level, each after those it builds on.
    pub(crate) fn cut(&mut self, pieces: &[Piece], level: &Level<'_>) {
        let parents = parents(pieces, 1.3 * self.step + SAMPLE);
        let mut done = vec![false; pieces.len()];
        loop {
            let at = self.track.at().map(|p| DVec2::new(p[0], p[1]));
            let Some((i, begin)) = next(pieces, &parents, &done, at) else { break };
            done[i] = true;
            self.cut_piece(&pieces[i], begin, level);
        }
    }

    fn cut_piece(&mut self, piece: &Piece, begin: usize, level: &Level<'_>) {
        let path =
            if piece.closed { opened(&piece.points[..piece.points.len() - 1], begin) } else { piece.points.clone() };
        let path = if self.link(path[0], level) { path } else { self.enter(path, piece.closed, level) };
        for p in corners(&path) {
            self.feed([p.x, p.y, level.z]);
        }
    }

    /// Over to `to` at the level, if the straight way is short or clear, and allowed.
    fn link(&mut self, to: DVec2, level: &Level<'_>) -> bool {
        let Some([x, y, z]) = self.track.at() else { return false };
        let from = DVec2::new(x, y);
        let length = from.distance(to);
        if z != level.z || length > 40.0 * self.under.radius {
            return false;
        }
        let way = resampled(&[from, to], SAMPLE);
        let short = length <= 1.5 * self.step;
        let clear = |p: &DVec2| (level.may)(*p) && (short || self.is_clear(*p, level.z));
        if !way.iter().all(clear) {
            return false;
        }
        self.feed([to.x, to.y, level.z]);
        true
    }

    fn is_clear(&self, p: DVec2, z: f64) -> bool {
        self.stock.top_near(p, self.under.radius) <= z + GONE
    }

    /// Lifted over to the path's beginning and down: straight through air, or by a ramp along the path. Returns what is
    /// still to be cut at the level.
    fn enter(&mut self, path: Vec<DVec2>, closed: bool, level: &Level<'_>) -> Vec<DVec2> {
        let z = level.z;
        if self.is_clear(path[0], z) || self.work.plunges {
            self.down(path[0], z);
            let [x, y] = path[0].to_array();
            self.plunge([x, y, z]);
            return path;
        }
        let may = |points: &[DVec2]| resampled(points, SAMPLE).iter().all(|&p| (level.may)(p));
        let ring = &path[..path.len() - 1];
        let circle = if closed { entry_circle(ring, 2.0 * self.under.radius, !self.work.climb, may) } else { None };
        let entry = corners(circle.as_ref().unwrap_or(&path));
        let top =
            resampled(&entry, SAMPLE).iter().map(|&p| self.stock.top_near(p, self.under.radius)).fold(z, f64::max);
        self.down(entry[0], top);
        self.plunge([entry[0].x, entry[0].y, top]);
        let before = self.track.clone();
        let mut rest = ramp(&mut self.track, &entry, closed, z, self.work.ramp_deg);
        self.cut_stock_since(&before);
        if circle.is_some() {
            rest.extend(path);
        }
        rest
    }

    /// By rapids to above the stock at `p`.
    fn down(&mut self, p: DVec2, z: f64) {
        let top = self.stock.top_near(p, self.under.radius + 0.5).max(z);
        self.track.hop(p.x, p.y, (top + self.work.approach).min(self.work.safe_z));
    }

    fn feed(&mut self, to: [f64; 3]) {
        if let Some(from) = self.track.at() {
            self.stock.cut(from, to, &self.under);
        }
        self.track.feed(to);
    }

    fn plunge(&mut self, to: [f64; 3]) {
        if let Some(from) = self.track.at() {
            // A vertical move ends at its lower end.
            self.stock.cut(if from[2] > to[2] { to } else { from }, to, &self.under);
        }
        self.track.plunge(to);
    }

    fn cut_stock_since(&mut self, before: &Track<'_>) {
        let mut from = before.at();
        for m in self.track.moves().iter().skip(before.moves().len()) {
            if let (Some(a), Move::Feed { to, .. }) = (from, m) {
                self.stock.cut(a, *to, &self.under);
            }
            from = Some(m.to());
        }
    }
}

/// Widened by `widen` on both sides and joined over gaps of up to `gap` places, as far as allowed; round.
pub(crate) fn bridged(meets: &[bool], may: &[bool], gap: usize, widen: usize) -> Vec<bool> {
    let n = meets.len();
    let mut keep = meets.to_vec();
    for i in (0..n).filter(|&i| meets[i]) {
        for sense in [1, n - 1] {
            let mut j = i;
            for _ in 0..widen {
                j = (j + sense) % n;
                if !may[j] {
                    break;
                }
                keep[j] = true;
            }
        }
    }
    for i in (0..n).filter(|&i| keep[i] && !keep[(i + 1) % n]).collect::<Vec<_>>() {
        let end = (1..=gap + 1).map(|k| (i + k) % n).take_while(|&j| may[j]).find(|&j| keep[j]);
        if let Some(end) = end {
            let mut j = (i + 1) % n;
            while j != end {
                keep[j] = true;
                j = (j + 1) % n;
            }
        }
    }
    keep
}

/// Without the points that lie on the straight line between their neighbours.
fn corners(path: &[DVec2]) -> Vec<DVec2> {
    let mut out: Vec<DVec2> = Vec::with_capacity(path.len());
    for (i, &p) in path.iter().enumerate() {
        let straight = i > 0 && i + 1 < path.len() && {
            let (a, b) = (out[out.len() - 1], path[i + 1]);
            let along = (b - a).normalize_or_zero();
            (p - a).perp_dot(along).abs() < 1e-7 && (p - a).dot(along) >= 0.0 && (b - p).dot(along) >= 0.0
        };
        if !straight {
            out.push(p);
        }
    }
    out
}
