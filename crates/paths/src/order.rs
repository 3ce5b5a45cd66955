//! In which order pieces of path are cut: each after those it builds on, else the nearest first.

use geom::DVec2;

/// A piece of path for ordering.
#[derive(Clone, Debug, Default)]
pub(crate) struct Piece {
    /// Its points in plan.
    pub(crate) points: Vec<DVec2>,
    /// Whether it may be begun anywhere (its last point equals the first).
    pub(crate) closed: bool,
    /// Whether the cutter is engaged all over on it.
    pub(crate) buried: bool,
    /// Layer: it builds on pieces of the layer before that lie near.
    pub(crate) layer: usize,
}

impl Piece {
    /// Index of the point to begin with, and its distance from `p`.
    pub(crate) fn begin(&self, p: DVec2) -> (usize, f64) {
        if !self.closed {
            return (0, self.points[0].distance(p));
        }
        let d = |i: usize| self.points[i].distance_squared(p);
        let best = (0..self.points.len() - 1).fold(0, |b, i| if d(i) < d(b) { i } else { b });
        (best, d(best).sqrt())
    }

    fn bounds(&self) -> (DVec2, DVec2) {
        self.points.iter().fold((self.points[0], self.points[0]), |(a, b), &p| (a.min(p), b.max(p)))
    }

    /// Whether a point of one comes within `reach` of the other's points.
    fn is_near(&self, other: &Piece, reach: f64) -> bool {
        let ((a, b), (c, d)) = (self.bounds(), other.bounds());
        let r = DVec2::splat(reach);
        if (a - r).cmpgt(d).any() || (c - r).cmpgt(b).any() {
            return false;
        }
        self.points.iter().any(|p| other.points.iter().any(|q| p.distance_squared(*q) < reach * reach))
    }
}

/// For each piece those of the layer before that lie within `reach`: they must be cut first.
pub(crate) fn parents(pieces: &[Piece], reach: f64) -> Vec<Vec<usize>> {
    use rayon::prelude::*;
    // Points nearer to each other than a third of the reach tell no more.
    let coarse: Vec<Piece> =
        pieces.iter().map(|p| Piece { points: spread(&p.points, reach / 3.0), ..p.clone() }).collect();
    let mut layers: Vec<Vec<usize>> = vec![Vec::new(); pieces.iter().map(|p| p.layer + 1).max().unwrap_or(0)];
    for (i, p) in pieces.iter().enumerate() {
        layers[p.layer].push(i);
    }
    (0..pieces.len())
        .into_par_iter()
        .map(|i| {
            let Some(above) = pieces[i].layer.checked_sub(1) else { return Vec::new() };
            layers[above].iter().copied().filter(|&j| coarse[i].is_near(&coarse[j], reach)).collect()
        })
        .collect()
}

fn spread(points: &[DVec2], step: f64) -> Vec<DVec2> {
    let mut out: Vec<DVec2> = Vec::new();
    for &p in &crate::moves::resampled(points, step) {
        if out.last().is_none_or(|q| q.distance(p) > 0.6 * step) {
            out.push(p);
        }
    }
    out
}

/// The next piece: of those whose parents are done the one that begins nearest to `at` (the first one without a place).
pub(crate) fn next(
    pieces: &[Piece],
    parents: &[Vec<usize>],
    done: &[bool],
    at: Option<DVec2>,
) -> Option<(usize, usize)> {
    let mut best: Option<(f64, usize, usize)> = None;
    for i in 0..pieces.len() {
        if done[i] || parents[i].iter().any(|&p| !done[p]) {
            continue;
        }
        let Some(at) = at else { return Some((i, 0)) };
        let (begin, d) = pieces[i].begin(at);
        if best.is_none_or(|b| d < b.0) {
            best = Some((d, i, begin));
        }
    }
    best.map(|(_, i, begin)| (i, begin))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(x: f64, layer: usize) -> Piece {
        Piece { points: vec![DVec2::new(x, 0.0), DVec2::new(x, 10.0)], closed: false, layer, buried: false }
    }

    #[test]
    fn a_piece_waits_for_what_it_builds_on() {
        let pieces = [line(0.0, 0), line(50.0, 0), line(0.5, 1), line(50.5, 1), line(1.0, 2)];
        let parents = parents(&pieces, 2.0);
        assert_eq!(parents, vec![vec![], vec![], vec![0], vec![1], vec![2]]);
        let mut done = vec![false; 5];
        let mut order = Vec::new();
        let mut at = Some(DVec2::new(1.0, 0.0));
        while let Some((i, _)) = next(&pieces, &parents, &done, at) {
            done[i] = true;
            at = pieces[i].points.last().copied();
            order.push(i);
        }
        assert_eq!(order, [0, 2, 4, 1, 3]);
    }
}
