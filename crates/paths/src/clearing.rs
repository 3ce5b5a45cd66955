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
    /// The piece cut last: the way back along it is clear.
    pub(crate) last: Vec<DVec2>,
}

/// Whether the cutter at a place meets what stands before the pass of a layer.
pub(crate) type Blocked<'a> = &'a (dyn Fn(usize, DVec2) -> bool + Sync);

/// Where the tip may go at a level.
pub(crate) struct Level<'a> {
    pub(crate) z: f64,
    /// Whether the tip may stand here at this level.
    pub(crate) may: &'a (dyn Fn(DVec2) -> bool + Sync),
    /// Where known. Then the cutter glides into a piece along an arc, and goes back along the last one if it must.
    pub(crate) blocked: Option<Blocked<'a>>,
}

/// On the way back along a piece the straight way on is tried after every so many of its points.
const BACK_BY: usize = 4;
/// A cutter comes down straight no nearer than this to what stands, mm.
const BESIDE: f64 = 0.3;
/// Links longer than this many radii are lifts.
const FARTHEST: f64 = 40.0;
/// Arcs on which the cutter glides in: radius as a share of its own, and how far they turn, degrees.
const GLIDES: [(f64, f64); 5] = [(2.5, 90.0), (1.6, 90.0), (1.0, 90.0), (0.75, 180.0), (0.55, 180.0)];

impl Clearing<'_> {
    /// Stretches of a ring (in the sense of the cut) where the cutter meets stock above the level.
    pub(crate) fn stretches(&self, ring: &Ring, level: &Level<'_>, meets: &dyn Fn(DVec2) -> bool) -> Vec<Piece> {
        if ring.0.len() < 3 {
            return Vec::new();
        }
        let points = resampled(&opened(&ring.0, 0), SAMPLE);
        let n = points.len() - 1;
        let met: Vec<bool> = points[..n].iter().map(|&p| meets(p)).collect();
        // Short gaps are not worth a lift: the cutter goes on through the air.
        let (gap, widen) = ((3.0 * self.under.radius / SAMPLE) as usize, (AIR / SAMPLE).ceil() as usize);
        // Far from all stock it does not matter whether the tip may be there.
        let matters = bridged(&met, &vec![true; n], gap + 2 * widen, widen);
        let may: Vec<bool> = (0..n).map(|i| matters[i] && (level.may)(points[i])).collect();
        let meets: Vec<bool> = (0..n).map(|i| may[i] && met[i]).collect();
        if !meets.contains(&true) {
            return Vec::new();
        }
        let keep = bridged(&meets, &may, gap, widen);
        let Some(first) = (0..n).find(|&i| keep[i] && !keep[(i + n - 1) % n]) else {
            return vec![Piece { points, closed: true, layer: 0, buried: false }];
        };
        let mut pieces: Vec<Piece> = Vec::new();
        for k in 0..n {
            let i = (first + k) % n;
            if !keep[i] {
                continue;
            }
            match pieces.last_mut() {
                Some(piece) if keep[(i + n - 1) % n] && k > 0 => piece.points.push(points[i]),
                _ => pieces.push(Piece { points: vec![points[i]], closed: false, layer: 0, buried: false }),
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
            let state = self.state(pieces, &done, pieces[i].points[begin]);
            done[i] = true;
            self.cut_piece(&pieces[i], (begin, state), level);
        }
    }

    /// What stands on the way to `to` is no more than what stands before this pass: the first with anything left near by.
    fn state(&self, pieces: &[Piece], done: &[bool], to: DVec2) -> usize {
        let here = self.track.at().map(|p| DVec2::new(p[0], p[1]));
        let way = self.last.iter().copied().chain(here).chain([to]);
        let (lo, hi) = way.fold((to, to), |(lo, hi), p| (lo.min(p), hi.max(p)));
        let beyond = DVec2::splat(2.5 * self.under.radius);
        let (lo, hi) = (lo - beyond, hi + beyond);
        let near = |piece: &&Piece| piece.points.iter().any(|p| p.cmpge(lo).all() && p.cmple(hi).all());
        let left = pieces.iter().zip(done).filter(|(_, done)| !**done).map(|(piece, _)| piece);
        left.filter(near).map(|piece| piece.layer).min().unwrap_or(0)
    }

    fn cut_piece(&mut self, piece: &Piece, (begin, state): (usize, usize), level: &Level<'_>) {
        let mut path =
            if piece.closed { opened(&piece.points[..piece.points.len() - 1], begin) } else { piece.points.clone() };
        let glide = self.glide(&path, state, level);
        let glides = !glide.is_empty();
        path.splice(0..0, glide);
        if !self.link(path[0], state, level) {
            path = self.enter(path, piece.closed && !glides, state, level);
        }
        for p in corners(&path) {
            let to = [p.x, p.y, level.z];
            self.cut_to(to);
            if piece.buried { self.track.buried(to) } else { self.track.feed(to) }
        }
        self.last = path;
    }

    /// An arc from clear ground to the beginning of a path that begins in stock; nothing where the path begins in the clear,
    /// where that is not known, or where there is no room.
    fn glide(&self, path: &[DVec2], state: usize, level: &Level<'_>) -> Vec<DVec2> {
        let (Some(blocked), Some(next)) = (level.blocked, path.get(1)) else { return Vec::new() };
        if !blocked(state, path[0]) {
            return Vec::new();
        }
        let along = (*next - path[0]).normalize_or_zero();
        let aside = if self.work.climb { along.perp() } else { -along.perp() };
        let arc = |(share, turn): (f64, f64)| -> Vec<DVec2> {
            let r = share * self.under.radius;
            let turns = (1..=12).rev().map(|k| f64::from(k) / 12.0 * turn.to_radians());
            turns.map(|t| path[0] + aside * (r * (1.0 - t.cos())) - along * (r * t.sin())).collect()
        };
        let fits = |arc: &Vec<DVec2>| !blocked(state, arc[0]) && resampled(arc, SAMPLE).iter().all(|&p| (level.may)(p));
        GLIDES.into_iter().map(arc).find(fits).unwrap_or_default()
    }

    /// Over to `to` at the level, if the straight way is allowed and short or clear, or the way back along the last piece and
    /// then straight on.
    fn link(&mut self, to: DVec2, state: usize, level: &Level<'_>) -> bool {
        let Some([x, y, z]) = self.track.at() else { return false };
        if z != level.z {
            return false;
        }
        let here = DVec2::new(x, y);
        let may_go = |from: DVec2| {
            let length = from.distance(to);
            let short = length <= 1.5 * self.step;
            let clear = |p: &DVec2| {
                let free = short || level.blocked.is_some_and(|b| !b(state, *p)) || self.is_clear(*p, level.z);
                (level.may)(*p) && free
            };
            length <= FARTHEST * self.under.radius && resampled(&[from, to], SAMPLE).iter().all(clear)
        };
        let mut way = vec![here];
        let mut gone: f64 = 0.0;
        let back = self.last.iter().rev().copied().filter(|_| level.blocked.is_some());
        let mut back = back.skip_while(|p| p.distance(here) < 1e-9);
        while !may_go(way[way.len() - 1]) {
            let before = way.len();
            way.extend(back.by_ref().take(BACK_BY));
            gone += way[before - 1..].windows(2).map(|w| w[0].distance(w[1])).sum::<f64>();
            if way.len() == before || gone > FARTHEST * self.under.radius {
                return false;
            }
        }
        way.push(to);
        let met = |p: &DVec2| match level.blocked {
            Some(blocked) => blocked(state, *p),
            None => !self.is_clear(*p, level.z),
        };
        let clear = !resampled(&way, SAMPLE).iter().any(met);
        for p in &way[1..] {
            let to = [p.x, p.y, level.z];
            self.cut_to(to);
            // Where the way may not be clear, nothing is hurried.
            if clear { self.track.link(to) } else { self.track.buried(to) }
        }
        true
    }

    fn is_clear(&self, p: DVec2, z: f64) -> bool {
        self.stock.top_near(p, self.under.radius) <= z + GONE
    }

    /// Lifted over to the path's beginning and down: straight through air, or by a ramp along the path. Returns what is
    /// still to be cut at the level.
    fn enter(&mut self, path: Vec<DVec2>, closed: bool, state: usize, level: &Level<'_>) -> Vec<DVec2> {
        let z = level.z;
        let around = |k: u8| path[0] + DVec2::from_angle(f64::from(k) * std::f64::consts::FRAC_PI_4) * BESIDE;
        let open = level.blocked.is_some_and(|blocked| !(0..8).any(|k| blocked(state, around(k))));
        if open || self.is_clear(path[0], z) {
            self.down(path[0], z);
            let [x, y] = path[0].to_array();
            self.plunge([x, y, z]);
            return path;
        }
        let may = |points: &[DVec2]| resampled(points, SAMPLE).iter().all(|&p| (level.may)(p));
        let diameter = 2.0 * self.under.radius;
        // To and fro over a short open piece only wears the cutter: a circle about its middle, where there is room.
        let long: f64 = path.windows(2).map(|p| p[0].distance(p[1])).sum();
        let middle = [path[0].midpoint(path[path.len() - 1])];
        let ring = if closed { &path[..path.len() - 1] } else { &middle };
        let circle = if closed || long < diameter { entry_circle(ring, diameter, !self.work.climb, may) } else { None };
        let entry = corners(circle.as_ref().unwrap_or(&path));
        let top =
            resampled(&entry, SAMPLE).iter().map(|&p| self.stock.top_near(p, self.under.radius)).fold(z, f64::max);
        self.down(entry[0], top);
        self.plunge([entry[0].x, entry[0].y, top]);
        let before = self.track.clone();
        let mut rest = ramp(&mut self.track, &entry, closed || circle.is_some(), z, self.work.ramp_deg);
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

    fn cut_to(&mut self, to: [f64; 3]) {
        if let Some(from) = self.track.at() {
            self.stock.cut(from, to, &self.under);
        }
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
