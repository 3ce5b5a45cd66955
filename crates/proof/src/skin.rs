//! Points spread over a skin, and how far each still lies beneath the nearest sweep of a cutter.

use crate::envelope::{Swept, Together};
use base::{Cancelled, Progress};
use geom::Mesh;
use glam::{DVec3, UVec3};
use rayon::prelude::*;
use std::ops::Range;

/// Distance of the points, mm.
pub(crate) const SPACING: f64 = 0.25;
/// Side of the cubes that hold points together, mm.
const CELL: f64 = 1.0;
/// Sweeps that are passed over together where none of them comes near.
const TOGETHER: usize = 8;
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

/// Points over a whole mesh for which `wanted` holds, one in each cube of this side.
pub(crate) fn spread_over(mesh: &Mesh, apart: f64, wanted: impl Fn(&Point) -> bool) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    (0..mesh.triangles.len()).for_each(|i| spread(&mesh.corners(i), apart, &mut points));
    points.retain(wanted);
    let cube = |p: &Point| (p.at / apart).floor().to_array().map(|v| v as i64);
    points.sort_by_key(cube);
    points.dedup_by_key(|p| cube(p));
    points
}

/// Lets every sweep lower what is left at the points near it. Points at `enough` or below are left alone.
///
/// The last sweeps come first: they finish the skin, and what they leave tells which others need not be looked at.
pub(crate) fn wear(
    points: &mut [Point],
    sweeps: &[impl AsRef<Swept> + Sync],
    enough: f64,
    progress: &dyn Progress,
) -> Result<(), Cancelled> {
    let Some(low) = least_corner(points) else { return Ok(()) };
    let rows = rows(points, low, enough);
    let near = near(&rows, low.y, sweeps);
    let worn: Vec<Vec<(u32, f64)>> = rows
        .into_par_iter()
        .zip(&near)
        .map(|(row, near)| if progress.cancelled() { Vec::new() } else { row.worn(sweeps, near, enough) })
        .collect();
    progress.go_on()?;
    for (i, left) in worn.into_iter().flatten() {
        points[i as usize].left = left;
    }
    Ok(())
}

fn least_corner(points: &[Point]) -> Option<DVec3> {
    points.iter().map(|p| p.at).reduce(DVec3::min)
}

/// A band of points in Y, in stacks along X.
struct Row {
    low: f64,
    stacks: Vec<Vec<Cell>>,
}

/// The points of one cube that may still learn something.
struct Cell {
    centre: DVec3,
    /// Mean normal of the skin there.
    normal: DVec3,
    /// Farthest of the points from the plane through the centre, and from the centre.
    thick: f64,
    radius: f64,
    points: Vec<(u32, DVec3)>,
    left: Vec<f64>,
    /// Greatest of `left`, not above [`FAR`].
    most: f64,
}

fn rows(points: &[Point], low: DVec3, enough: f64) -> Vec<Row> {
    let cube = |p: &Point| ((p.at - low) / CELL).as_uvec3();
    let mut order: Vec<(UVec3, u32)> =
        points.iter().enumerate().filter(|(_, p)| p.left > enough).map(|(i, p)| (cube(p), i as u32)).collect();
    order.par_sort_unstable_by_key(|(c, i)| (c.y, c.x, c.z, *i));
    let last = order.last().map_or(0, |o| o.0.y as usize);
    let mut rows: Vec<Row> = (0..=last).map(|_| Row { low: low.x, stacks: Vec::new() }).collect();
    for members in order.chunk_by(|a, b| a.0 == b.0) {
        let (row, x) = (&mut rows[members[0].0.y as usize], members[0].0.x as usize);
        row.stacks.resize_with(row.stacks.len().max(x + 1), Vec::new);
        row.stacks[x].push(Cell::new(points, members));
    }
    rows
}

/// For each row the sweeps that come near it, the last first.
fn near(rows: &[Row], low: f64, sweeps: &[impl AsRef<Swept>]) -> Vec<Vec<u32>> {
    let mut near = vec![Vec::new(); rows.len()];
    let last = rows.len() as f64 - 1.0;
    for (i, s) in sweeps.iter().enumerate().rev() {
        let (min, max) = s.as_ref().plan();
        let from = ((min.y - FAR - low) / CELL).floor().max(0.0);
        let to = ((max.y + FAR - low) / CELL).floor().min(last);
        if from <= to {
            (from as usize..=to as usize).for_each(|y| near[y].push(i as u32));
        }
    }
    near
}

impl Row {
    /// What is left at the points that lost something.
    fn worn(mut self, sweeps: &[impl AsRef<Swept>], near: &[u32], enough: f64) -> Vec<(u32, f64)> {
        let mut settled: Vec<Cell> = Vec::new();
        let mut rest = near;
        while let Some(&first) = rest.first() {
            let mut all = Together::new(sweeps[first as usize].as_ref());
            let more = rest[1..].iter().take(TOGETHER - 1).take_while(|&&s| all.takes(sweeps[s as usize].as_ref()));
            let count = 1 + more.count();
            let group: Vec<(&Swept, Range<usize>)> = rest[..count]
                .iter()
                .map(|&s| {
                    let swept = sweeps[s as usize].as_ref();
                    (swept, self.reached(swept))
                })
                .collect();
            rest = &rest[count..];
            let from = group.iter().map(|s| s.1.start).min().unwrap_or(0);
            let end = group.iter().map(|s| s.1.end).max().unwrap_or(0);
            for x in from..end {
                let stack = &mut self.stacks[x];
                let mut done = false;
                for cell in stack.iter_mut().filter(|c| c.may_be_near(&all)) {
                    for (swept, _) in group.iter().filter(|s| s.1.contains(&x)) {
                        if cell.reaches(swept.lowest()) && cell.is_near(swept.at_least(cell.centre)) {
                            cell.wear(swept, enough);
                            if cell.most <= enough {
                                done = true;
                                break;
                            }
                        }
                    }
                }
                if done {
                    settled.extend(stack.extract_if(.., |cell| cell.most <= enough));
                }
            }
        }
        let cells = self.stacks.into_iter().flatten().chain(settled);
        cells.flat_map(|c| c.points.into_iter().map(|p| p.0).zip(c.left)).collect()
    }

    /// The stacks that a sweep may come near.
    fn reached(&self, swept: &Swept) -> Range<usize> {
        let (min, max) = swept.plan();
        let from = ((min.x - FAR - self.low) / CELL).floor().max(0.0) as usize;
        let end = ((max.x + FAR - self.low) / CELL).floor() + 1.0;
        let end = (end.max(0.0) as usize).min(self.stacks.len());
        from.min(end)..end
    }
}

impl Cell {
    fn new(points: &[Point], members: &[(UVec3, u32)]) -> Self {
        let points = || members.iter().map(|m| &points[m.1 as usize]);
        let low = points().map(|p| p.at).fold(DVec3::INFINITY, DVec3::min);
        let high = points().map(|p| p.at).fold(DVec3::NEG_INFINITY, DVec3::max);
        let centre = (low + high) / 2.0;
        let normal = points().map(|p| p.normal).sum::<DVec3>().normalize_or(DVec3::Z);
        let most = |of: &dyn Fn(DVec3) -> f64| points().map(|p| of(p.at - centre)).fold(0.0, f64::max);
        let mut cell = Self {
            centre,
            normal,
            thick: most(&|d| d.dot(normal).abs()),
            radius: most(&|d| d.length()),
            points: members.iter().zip(points()).map(|(m, p)| (m.1, p.at)).collect(),
            left: points().map(|p| p.left).collect(),
            most: 0.0,
        };
        cell.look();
        cell
    }

    /// Whether tips at that height may come near it.
    fn reaches(&self, lowest: f64) -> bool {
        self.centre.z + self.radius >= lowest - FAR
    }

    fn may_be_near(&self, all: &Together) -> bool {
        self.reaches(all.lowest()) && all.at_least(self.centre).is_none_or(|bound| self.is_near(bound))
    }

    /// Whether what keeps such a distance from the centre may come nearer to a point than what is left there, as the skin is
    /// nearly flat in so small a cube. See `Envelope::at_least`.
    fn is_near(&self, (distance, slope): (f64, Option<DVec3>)) -> bool {
        let change = slope.map_or(self.radius, |slope| {
            let along = slope.dot(self.normal);
            along.abs() * self.thick + (1.0 - along * along).max(0.0).sqrt() * self.radius
        });
        distance - change < self.most
    }

    fn wear(&mut self, swept: &Swept, enough: f64) {
        let mut changed = false;
        for ((_, at), left) in self.points.iter().zip(&mut self.left) {
            if *left > enough {
                let distance = swept.distance(*at);
                changed |= distance < *left;
                *left = left.min(distance);
            }
        }
        if changed {
            self.look();
        }
    }

    fn look(&mut self) {
        self.most = self.left.iter().copied().fold(f64::NEG_INFINITY, f64::max).min(FAR);
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
            Swept::new(envelope, DVec3::new(-5.0, y, 0.0), DVec3::new(25.0, y, 0.0))
        };
        let sweeps: Vec<Swept> = (0..26).map(pass).collect();
        let mut points = floor();
        wear(&mut points, &sweeps, 0.0, &Quiet).unwrap();
        let worst = points.iter().map(|p| p.left).fold(0.0, f64::max);
        let exact = (s / 2.0).hypot(r) - r; // normal distance at the cusp's foot on the floor
        assert!(worst <= exact + 1e-9 && worst > exact * 0.5, "{worst} {exact}");
    }
}
