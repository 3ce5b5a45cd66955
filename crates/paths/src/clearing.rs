//! Clearing at one level: stretches of rings where stock stands, linked through what is already clear, entered from air
//! or down a ramp.

use crate::contact::Underside;
use crate::engagement::Engagement;
use crate::entry::{entry_circle, ramp};
use crate::inside::Inside;
use crate::moves::{Track, opened, resampled};
use crate::order::{Piece, next, parents};
use crate::stock::{GONE, Stock};
use crate::{Move, Work};
use geom::{DVec2, Ring};
use std::ops::RangeInclusive;

/// Distance of samples along a path, mm.
const SAMPLE: f64 = 0.5;
/// The same on straight ways, which may lead along what must not be cut with nothing to spare.
const ON_WAYS: f64 = 0.2;
/// Stretches begin and end this far outside the stock, mm.
const AIR: f64 = 0.5;

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

/// What stands before the pass of a layer.
pub(crate) struct Before {
    /// What the tip went along in the pass before, ground that nothing is met on among it: round and round, at [`ROUND`].
    pub(crate) rings: Vec<Vec<DVec2>>,
    /// Where the cutter meets it by more than a brush.
    pub(crate) blocked: Inside,
    pub(crate) engagement: Engagement,
}

/// Where the tip may go at a level.
pub(crate) struct Level<'a> {
    pub(crate) z: f64,
    /// Whether the tip may stand here at this level.
    pub(crate) may: &'a (dyn Fn(DVec2) -> bool + Sync),
    /// By layers and after the last, where known. Then the cutter glides into a piece, and goes back along the last one or
    /// round along the pass before if it must.
    pub(crate) before: &'a [Before],
}

/// On the way back along a piece the straight way on is tried after every so many of its points.
const BACK_BY: usize = 4;
/// A cutter comes down straight no nearer than this to what stands, mm.
const BESIDE: f64 = 0.3;
/// Rapids going down keep this far from what stands, mm.
const DOWN_CLEAR: f64 = 0.5;
/// Places beside a path's beginning are tried in so many rounds, up to this many radii away.
const BESIDES: u32 = 8;
const FARTHEST_BESIDE: f64 = 3.0;
/// Links longer than this many radii are lifts.
const FARTHEST: f64 = 40.0;
/// Distance of the places on rings that links lead along, mm; and how far off such a ring they may begin and end, in radii.
pub(crate) const ROUND: f64 = 1.0;
const OFF_ROUND: f64 = 10.0;
/// Arcs on which the cutter glides in: radius as a share of its own, and how far they turn, degrees.
const GLIDES: [(f64, f64); 5] = [(2.5, 90.0), (1.6, 90.0), (1.0, 90.0), (0.75, 180.0), (0.55, 180.0)];

/// Where the engagement exceeds the limit by this ratio all the same, and so many radii before and after, the cutter goes slowly.
const SLOWED: f64 = 1.06;
const AROUND: f64 = 0.5;
/// Engagement on the way into a piece, at most, as a ratio of the limit.
const BOUNDED: [f64; 4] = [1.02, 1.035, 1.06, 1.1];

/// What of a level is not cut yet.
struct Left<'a> {
    pieces: &'a [Piece],
    done: &'a [bool],
    /// What lies so far from a way has no part in it, mm.
    beyond: f64,
}

impl Left<'_> {
    /// What stands on a way is no more than what stands before this pass: the first with anything left near by. (After all
    /// passes where nothing is left.)
    fn layer(&self, way: impl Iterator<Item = DVec2>) -> usize {
        let none = (DVec2::INFINITY, DVec2::NEG_INFINITY);
        let (lo, hi) = way.fold(none, |(lo, hi), p| (lo.min(p), hi.max(p)));
        let (lo, hi) = (lo - self.beyond, hi + self.beyond);
        let near = |piece: &&Piece| piece.points.iter().any(|p| p.cmpge(lo).all() && p.cmple(hi).all());
        let left = self.pieces.iter().zip(self.done).filter(|(_, done)| !**done).map(|(piece, _)| piece);
        left.filter(near).map(|piece| piece.layer).min().unwrap_or(usize::MAX)
    }
}

impl Level<'_> {
    /// Whether it is known that the cutter at `p` meets nothing before a layer's pass.
    fn clear(&self, layer: usize, p: DVec2) -> bool {
        let before = self.before.get(layer).or(self.before.last());
        before.is_some_and(|before| !before.blocked.contains(p))
    }
}

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
            let left = Left { pieces, done: &done, beyond: 2.5 * self.under.radius };
            self.cut_piece(i, begin, &left, level);
            done[i] = true;
        }
    }

    fn cut_piece(&mut self, i: usize, begin: usize, left: &Left<'_>, level: &Level<'_>) {
        let piece = &left.pieces[i];
        let here = self.track.at().map(|p| DVec2::new(p[0], p[1]));
        let state = left.layer(self.last.iter().copied().chain(here).chain([piece.points[begin]]));
        let mut path =
            if piece.closed { opened(&piece.points[..piece.points.len() - 1], begin) } else { piece.points.clone() };
        let glide = self.glide(&path, state, level);
        let glides = !glide.is_empty();
        path.splice(0..0, glide);
        if !self.link(path[0], state, left, level) {
            path = self.enter(path, piece.closed && !glides, state, level);
        }
        for (stretch, slow) in self.paced(&path, piece, level) {
            for p in corners(&path[stretch]) {
                let to = [p.x, p.y, level.z];
                self.cut_to(to);
                if slow { self.track.buried(to) } else { self.track.feed(to) }
            }
        }
        self.last = path;
    }

    /// Stretches of a path, with the place that each begins at, and whether the cutter is engaged so far there that it goes
    /// slowly.
    fn paced(&self, path: &[DVec2], piece: &Piece, level: &Level<'_>) -> Vec<(RangeInclusive<usize>, bool)> {
        let Some(last) = path.len().checked_sub(1) else { return Vec::new() };
        let Some(before) = level.before.get(piece.layer).filter(|_| !piece.buried) else {
            return vec![(0..=last, piece.buried)];
        };
        let crowded = |i: &usize| {
            let along = (path[i + 1] - path[*i]).normalize_or_zero();
            let places = [path[*i], path[*i].midpoint(path[i + 1])];
            places.into_iter().any(|p| before.engagement.ratio(p, along) > SLOWED)
        };
        let met: Vec<usize> = (0..last).filter(crowded).collect();
        let mut slow = vec![false; last];
        for i in met {
            for sense in [false, true] {
                let (mut gone, mut at) = (0.0, i);
                while gone < AROUND * self.under.radius {
                    slow[at] = true;
                    gone += path[at].distance(path[at + 1]);
                    match if sense { Some(at + 1).filter(|&k| k < last) } else { at.checked_sub(1) } {
                        Some(next) => at = next,
                        None => break,
                    }
                }
            }
        }
        let mut out: Vec<(RangeInclusive<usize>, bool)> = Vec::new();
        let mut begin = 0;
        for end in 1..=last {
            if end == last || slow[end] != slow[begin] {
                out.push((begin..=end, slow[begin]));
                begin = end;
            }
        }
        if out.is_empty() { vec![(0..=last, false)] } else { out }
    }

    /// A way from clear ground to the beginning of a path that begins in stock; nothing where the path begins in the clear,
    /// where that is not known, or where there is no room.
    fn glide(&self, path: &[DVec2], state: usize, level: &Level<'_>) -> Vec<DVec2> {
        let (Some(before), Some(next)) = (level.before.get(state), path.get(1)) else { return Vec::new() };
        if !before.blocked.contains(path[0]) {
            return Vec::new();
        }
        // On a ring it arrives along the chord past its beginning.
        let n = path.len();
        let before_it = if n > 3 && path[0] == path[n - 1] { path[n - 2] } else { path[0] };
        let along = (*next - before_it).normalize_or_zero();
        let bounded = BOUNDED.into_iter().find_map(|most| before.engagement.way_in((path[0], along), most, level.may));
        if let Some(mut way) = bounded {
            way.pop();
            return way;
        }
        let aside = if self.work.climb { along.perp() } else { -along.perp() };
        let arc = |(share, turn): (f64, f64)| -> Vec<DVec2> {
            let r = share * self.under.radius;
            let turns = (1..=12).rev().map(|k| f64::from(k) / 12.0 * turn.to_radians());
            turns.map(|t| path[0] + aside * (r * (1.0 - t.cos())) - along * (r * t.sin())).collect()
        };
        let fits = |arc: &Vec<DVec2>| {
            !before.blocked.contains(arc[0]) && resampled(arc, SAMPLE).iter().all(|&p| (level.may)(p))
        };
        GLIDES.into_iter().map(arc).find(fits).unwrap_or_default()
    }

    /// Over to `to` at the level, if the straight way is allowed and short or clear, or the way back along the last piece and
    /// then straight on, or one along the pass before.
    fn link(&mut self, to: DVec2, state: usize, left: &Left<'_>, level: &Level<'_>) -> bool {
        let Some([x, y, z]) = self.track.at() else { return false };
        if z != level.z {
            return false;
        }
        let here = DVec2::new(x, y);
        let met = |p: &DVec2| match level.before.get(state) {
            Some(before) => before.blocked.contains(*p),
            None => !self.is_clear(*p, level.z),
        };
        let straight = self.way(here, to, state, level);
        let Some(way) = straight.or_else(|| self.round((here, to), state, left, level)) else { return false };
        // Where the way may not be clear, nothing is hurried.
        let clear: Vec<bool> = way.windows(2).map(|part| !resampled(part, SAMPLE).iter().any(met)).collect();
        for (p, clear) in way[1..].iter().zip(clear) {
            let to = [p.x, p.y, level.z];
            self.cut_to(to);
            if clear { self.track.link(to) } else { self.track.buried(to) }
        }
        true
    }

    /// Straight on, at once or after going back along the last piece.
    fn way(&self, here: DVec2, to: DVec2, state: usize, level: &Level<'_>) -> Option<Vec<DVec2>> {
        let farthest = FARTHEST * self.under.radius;
        let may_go = |from: DVec2| {
            let length = from.distance(to);
            length <= farthest
                && if length <= 1.5 * self.step {
                    resampled(&[from, to], ON_WAYS).iter().all(|&p| (level.may)(p))
                } else {
                    self.leads((from, to), state, level)
                }
        };
        let mut way = vec![here];
        let mut gone: f64 = 0.0;
        let back = self.last.iter().rev().copied().filter(|_| !level.before.is_empty());
        let mut back = back.skip_while(|p| p.distance(here) < 1e-9);
        while !may_go(way[way.len() - 1]) {
            let before = way.len();
            way.extend(back.by_ref().take(BACK_BY));
            gone += long(&way[before - 1..]);
            if way.len() == before || gone > farthest {
                return None;
            }
        }
        way.push(to);
        Some(way)
    }

    /// Whether the straight way is allowed and clear.
    fn leads(&self, (from, to): (DVec2, DVec2), state: usize, level: &Level<'_>) -> bool {
        let free = |p: &DVec2| (level.clear(state, *p) || self.is_clear(*p, level.z)) && (level.may)(*p);
        resampled(&[from, to], ON_WAYS).iter().all(free)
    }

    /// Along a ring of the pass before, cut short wherever the straight way is clear.
    fn round(
        &self,
        (here, to): (DVec2, DVec2),
        state: usize,
        left: &Left<'_>,
        level: &Level<'_>,
    ) -> Option<Vec<DVec2>> {
        let before = level.before.get(state)?;
        let off = OFF_ROUND * self.under.radius;
        let nearest = |ring: &[DVec2], p: DVec2| {
            let i =
                (0..ring.len()).min_by(|&a, &b| ring[a].distance_squared(p).total_cmp(&ring[b].distance_squared(p)))?;
            (ring[i].distance(p) <= off).then_some(i)
        };
        let farthest = FARTHEST * self.under.radius;
        let ways = before.rings.iter().filter_map(|ring| {
            let (i, j) = (nearest(ring, here)?, nearest(ring, to)?);
            let n = ring.len();
            let forth = (j + n - i) % n;
            let way = |sense: usize, count: usize| -> Vec<DVec2> {
                let along = (0..=count).map(|k| ring[(i + k * sense) % n]);
                [here].into_iter().chain(along).chain([to]).collect()
            };
            Some([way(1, forth), way(n - 1, n - forth)])
        });
        let mut ways: Vec<Vec<DVec2>> = ways.flatten().filter(|way| long(way) <= farthest).collect();
        ways.sort_by(|a, b| long(a).total_cmp(&long(b)));
        // Here more may be done than there, and more may stand on a way that leads far round.
        let leads = |from: DVec2, to: DVec2| {
            let parts = resampled(&[from, to], self.under.radius);
            parts.windows(2).all(|part| self.leads((part[0], part[1]), left.layer(part.iter().copied()), level))
        };
        ways.into_iter().find_map(|way| {
            let mut short = vec![way[0]];
            let mut at = 0;
            while at + 1 < way.len() {
                let mut on = leads(way[at], way[at + 1]).then_some(at + 1)?;
                let mut stride = 1;
                while on + 1 < way.len() {
                    let next = (on + stride).min(way.len() - 1);
                    if leads(way[at], way[next]) {
                        on = next;
                        stride *= 2;
                    } else if stride == 1 {
                        break;
                    } else {
                        stride = 1;
                    }
                }
                at = on;
                short.push(way[at]);
            }
            Some(short)
        })
    }

    fn is_clear(&self, p: DVec2, z: f64) -> bool {
        self.stock.top_near(p, self.under.radius) <= z + GONE
    }

    /// Lifted over to the path's beginning and down: straight through air, or by a ramp along the path. Returns what is
    /// still to be cut at the level.
    fn enter(&mut self, path: Vec<DVec2>, closed: bool, state: usize, level: &Level<'_>) -> Vec<DVec2> {
        let z = level.z;
        if let Some(beside) = self.beside(path[0], state, level) {
            self.down(beside, z);
            self.plunge([beside.x, beside.y, z]);
            return if beside == path[0] { path } else { [vec![beside], path].concat() };
        }
        let may = |points: &[DVec2]| resampled(points, SAMPLE).iter().all(|&p| (level.may)(p));
        let diameter = 2.0 * self.under.radius;
        // To and fro over a short open piece only wears the cutter: a circle about its middle, where there is room.
        let middle = [path[0].midpoint(path[path.len() - 1])];
        let ring = if closed { &path[..path.len() - 1] } else { &middle };
        let circle =
            if closed || long(&path) < diameter { entry_circle(ring, diameter, !self.work.climb, may) } else { None };
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

    /// A place at or near `p` where the cutter comes down clear of what stands, and from where the straight way to `p` is
    /// clear.
    fn beside(&self, p: DVec2, state: usize, level: &Level<'_>) -> Option<DVec2> {
        let turned = |k: u32, of: u32| DVec2::from_angle(f64::from(k) / f64::from(of) * std::f64::consts::TAU);
        let open = |q: DVec2| (0..8).all(|k| level.clear(state, q + turned(k, 8) * BESIDE));
        let wide = |q: DVec2| self.stock.top_near(q, self.under.radius + DOWN_CLEAR) <= level.z + GONE;
        let free = |q: &DVec2| (level.may)(*q) && level.clear(state, *q);
        let leads = |q: DVec2| resampled(&[q, p], ON_WAYS).iter().rev().skip(1).all(free);
        let places = || {
            (0..=BESIDES).flat_map(|round| {
                let out = f64::from(round) / f64::from(BESIDES) * FARTHEST_BESIDE * self.under.radius;
                (0..if round == 0 { 1 } else { 16 }).map(move |k| p + turned(k, 16) * out)
            })
        };
        let known = !level.before.is_empty();
        // Where there is more room, a rapid goes down farther.
        let place = places().find(|&q| wide(q) && (q == p || known && leads(q)));
        place
            .or_else(|| (open(p) || self.is_clear(p, level.z)).then_some(p))
            .or_else(|| places().find(|&q| open(q) && leads(q)))
    }

    /// By rapids to above the stock at `p`.
    fn down(&mut self, p: DVec2, z: f64) {
        let top = self.stock.top_near(p, self.under.radius + DOWN_CLEAR).max(z);
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

/// Length of a path, mm.
fn long(path: &[DVec2]) -> f64 {
    path.windows(2).map(|p| p[0].distance(p[1])).sum()
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
