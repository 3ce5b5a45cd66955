//! Points spread over a skin, and how far each still lies beneath the nearest sweep of a cutter.

use crate::envelope::Swept;
use base::{Cancelled, Progress};
use glam::{DVec2, DVec3};
use rayon::prelude::*;

/// Distance of the points, mm.
pub(crate) const SPACING: f64 = 0.25;
/// Width of a band in Y and of a bucket in X, mm.
const CELL: f64 = 2.0;
/// A point farther than this from a sweep learns nothing from it, mm.
pub(crate) const FAR: f64 = 1.0;

/// One point. Workpiece frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Point {
    pub(crate) at: DVec3,
    /// Outward unit normal of the skin.
    pub(crate) normal: DVec3,
    /// Least signed distance from the sweeps so far: what is left there, negative where the cutter went below.
    pub(crate) left: f64,
}

/// Points over a triangle, not farther apart than `spacing`, none on its border.
pub(crate) fn spread(t: &[DVec3; 3], spacing: f64, out: &mut Vec<Point>) {
    let normal = (t[1] - t[0]).cross(t[2] - t[0]).normalize_or_zero();
    if normal == DVec3::ZERO {
        return;
    }
    // The longest side is the base; rows run along it.
    let side = |k: usize| (t[(k + 1) % 3] - t[k]).length();
    let k = (0..3).fold(0, |best, k| if side(k) > side(best) { k } else { best });
    let (a, b, c) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
    let length = side(k);
    let tall = (b - a).cross(c - a).length() / length;
    let rows = (tall / spacing).ceil().max(1.0);
    for row in 0..rows as usize {
        let v = (row as f64 + 0.5) / rows;
        let (from, to) = (a + (c - a) * v, b + (c - b) * v);
        let columns = (length * (1.0 - v) / spacing).ceil().max(1.0);
        for column in 0..columns as usize {
            let at = from + (to - from) * ((column as f64 + 0.5) / columns);
            out.push(Point { at, normal, left: f64::INFINITY });
        }
    }
}

/// Lets every sweep lower what is left at the points near it. Points at `enough` or below are left alone.
pub(crate) fn wear(
    points: &mut [Point],
    sweeps: &[Swept],
    enough: f64,
    progress: &dyn Progress,
) -> Result<(), Cancelled> {
    let Some(bounds) = bounds(points) else { return Ok(()) };
    let bands = Bands::new(points, bounds);
    let near = bands.sweeps(sweeps);
    let worn: Vec<Vec<(u32, f64)>> = bands
        .rows
        .par_iter()
        .zip(&near)
        .map(|(row, near)| if progress.cancelled() { Vec::new() } else { row.wear(points, sweeps, near, enough) })
        .collect();
    progress.go_on()?;
    for (i, left) in worn.into_iter().flatten() {
        points[i as usize].left = left;
    }
    Ok(())
}

fn bounds(points: &[Point]) -> Option<(DVec2, DVec2)> {
    let first = points.first()?.at.truncate();
    Some(points.iter().fold((first, first), |(a, b), p| (a.min(p.at.truncate()), b.max(p.at.truncate()))))
}

struct Bands {
    low: DVec2,
    rows: Vec<Row>,
}

/// A band of points in buckets along X.
struct Row {
    low: f64,
    /// Points of each bucket, and their least and greatest z.
    buckets: Vec<Bucket>,
}

#[derive(Clone, Debug)]
struct Bucket {
    points: Vec<u32>,
    z: (f64, f64),
}

impl Bands {
    fn new(points: &[Point], (low, high): (DVec2, DVec2)) -> Self {
        let nx = ((high.x - low.x) / CELL) as usize + 1;
        let ny = ((high.y - low.y) / CELL) as usize + 1;
        let empty = Bucket { points: Vec::new(), z: (f64::INFINITY, f64::NEG_INFINITY) };
        let mut rows: Vec<Row> = (0..ny).map(|_| Row { low: low.x, buckets: vec![empty.clone(); nx] }).collect();
        for (i, p) in points.iter().enumerate() {
            let (x, y) = (((p.at.x - low.x) / CELL) as usize, ((p.at.y - low.y) / CELL) as usize);
            let bucket = &mut rows[y].buckets[x];
            bucket.points.push(i as u32);
            bucket.z = (bucket.z.0.min(p.at.z), bucket.z.1.max(p.at.z));
        }
        Self { low, rows }
    }

    /// For each band the sweeps that come near it, in order.
    fn sweeps(&self, sweeps: &[Swept]) -> Vec<Vec<u32>> {
        let mut near = vec![Vec::new(); self.rows.len()];
        let last = self.rows.len() as f64 - 1.0;
        for (i, s) in sweeps.iter().enumerate() {
            let (min, max) = s.plan();
            let from = ((min.y - FAR - self.low.y) / CELL).floor().max(0.0);
            let to = ((max.y + FAR - self.low.y) / CELL).floor().min(last);
            if from <= to {
                (from as usize..=to as usize).for_each(|y| near[y].push(i as u32));
            }
        }
        near
    }
}

impl Row {
    fn wear(&self, points: &[Point], sweeps: &[Swept], near: &[u32], enough: f64) -> Vec<(u32, f64)> {
        let mut left: Vec<Vec<f64>> =
            self.buckets.iter().map(|b| b.points.iter().map(|&i| points[i as usize].left).collect()).collect();
        for &s in near {
            let swept = &sweeps[s as usize];
            let (min, max) = swept.plan();
            let floor = swept.lowest() - FAR;
            let from = ((min.x - FAR - self.low) / CELL).floor().max(0.0) as usize;
            let to = ((max.x + FAR - self.low) / CELL).floor();
            if to < 0.0 {
                continue;
            }
            let end = (to as usize + 1).min(self.buckets.len());
            let from = from.min(end);
            for (bucket, left) in self.buckets[from..end].iter().zip(&mut left[from..end]) {
                if bucket.z.1 < floor {
                    continue;
                }
                for (&i, left) in bucket.points.iter().zip(left) {
                    let p = points[i as usize].at;
                    if *left > enough && p.z >= floor {
                        *left = left.min(swept.distance(p));
                    }
                }
            }
        }
        let pairs = self.buckets.iter().zip(&left).flat_map(|(b, l)| b.points.iter().copied().zip(l.iter().copied()));
        pairs.filter(|&(i, l)| l < points[i as usize].left).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::envelope::{Envelope, tests::solid};
    use base::Quiet;
    use trade::cutter::Form;

    fn floor() -> Vec<Point> {
        let mut points = Vec::new();
        let corner = |x: f64, y: f64| DVec3::new(x, y, 0.0);
        spread(&[corner(0.0, 0.0), corner(20.0, 0.0), corner(20.0, 20.0)], SPACING, &mut points);
        spread(&[corner(0.0, 0.0), corner(20.0, 20.0), corner(0.0, 20.0)], SPACING, &mut points);
        points
    }

    #[test]
    fn points_are_dense_and_on_the_skin() {
        let points = floor();
        assert!((points.len() as f64 - 400.0 / (SPACING * SPACING)).abs() < 400.0);
        let near = |p: DVec3| points.iter().map(|q| q.at.distance(p)).fold(f64::INFINITY, f64::min);
        for p in [(0.1, 0.1), (10.0, 10.0), (19.9, 0.1), (3.3, 17.0)] {
            assert!(near(DVec3::new(p.0, p.1, 0.0)) < SPACING);
        }
    }

    #[test]
    fn a_ball_leaves_the_scallop_of_the_closed_form() {
        // Passes s apart leave h with s² = 8Rh − 4h² (plane geometry).
        let (r, s) = (3.0_f64, 1.0);
        let envelope = Envelope::of(&solid(Form::Ball, 2.0 * r));
        let pass = |i: i32| {
            let y = -2.0 + f64::from(i) * s;
            Swept { envelope, from: DVec3::new(-5.0, y, 0.0), to: DVec3::new(25.0, y, 0.0) }
        };
        let sweeps: Vec<Swept> = (0..26).map(pass).collect();
        let mut points = floor();
        wear(&mut points, &sweeps, 0.0, &Quiet).unwrap();
        let worst = points.iter().map(|p| p.left).fold(0.0, f64::max);
        let exact = (s / 2.0).hypot(r) - r; // normal distance at the cusp's foot on the floor
        assert!(worst <= exact + 1e-9 && worst > exact * 0.5, "{worst} {exact}");
    }
}
