//! The solids that must not be cut, as triangles in buckets, and how deep a sweep goes into them.

use crate::envelope::Swept;
use crate::gap;
use geom::Mesh;
use glam::{DAffine3, DVec2, DVec3};

/// Side of a bucket, mm: about the size of a triangle of a curved skin.
const CELL: f64 = 2.0;

/// The triangles, in the workpiece's frame.
#[derive(Clone, Debug)]
pub(crate) struct Bed {
    triangles: Vec<Facet>,
    low: DVec2,
    cell: f64,
    nx: usize,
    ny: usize,
    starts: Vec<u32>,
    items: Vec<u32>,
    /// Highest corner of the triangles of each bucket.
    tops: Vec<f64>,
}

#[derive(Clone, Copy, Debug)]
struct Facet {
    t: [DVec3; 3],
    /// Outward unit normal; zero where the triangle has no area.
    normal: DVec3,
    min: DVec3,
    max: DVec3,
}

/// How deep, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Depth {
    pub(crate) mm: f64,
    pub(crate) at: DVec3,
}

impl Bed {
    /// Of meshes given in another frame.
    pub(crate) fn new(meshes: &[&Mesh], to_workpiece: &DAffine3) -> Self {
        let mut triangles = Vec::new();
        for mesh in meshes {
            for i in 0..mesh.triangles.len() {
                let t = mesh.corners(i).map(|p| to_workpiece.transform_point3(p));
                let normal = (t[1] - t[0]).cross(t[2] - t[0]).normalize_or_zero();
                let (min, max) = (t[0].min(t[1]).min(t[2]), t[0].max(t[1]).max(t[2]));
                triangles.push(Facet { t, normal, min, max });
            }
        }
        let mut bed = Self {
            triangles,
            low: DVec2::ZERO,
            cell: CELL,
            nx: 1,
            ny: 1,
            starts: Vec::new(),
            items: Vec::new(),
            tops: Vec::new(),
        };
        bed.fill();
        bed
    }

    fn fill(&mut self) {
        let mut bounds: Option<(DVec3, DVec3)> = None;
        for f in &self.triangles {
            bounds = Some(bounds.map_or((f.min, f.max), |(a, b)| (a.min(f.min), b.max(f.max))));
        }
        if let Some((min, max)) = bounds {
            self.low = min.truncate();
            let extent = (max - min).truncate();
            self.cell = CELL.max(extent.max_element() / 1024.0);
            self.nx = (extent.x / self.cell) as usize + 1;
            self.ny = (extent.y / self.cell) as usize + 1;
        }
        let cells = self.nx * self.ny;
        let mut lists: Vec<Vec<u32>> = vec![Vec::new(); cells];
        self.tops = vec![f64::NEG_INFINITY; cells];
        for (i, f) in self.triangles.iter().enumerate() {
            let (from, to) = (self.cell_of(f.min.truncate()), self.cell_of(f.max.truncate()));
            for y in from.1..=to.1 {
                for x in from.0..=to.0 {
                    let c = y * self.nx + x;
                    lists[c].push(i as u32);
                    self.tops[c] = self.tops[c].max(f.max.z);
                }
            }
        }
        self.starts = vec![0; cells + 1];
        for (c, list) in lists.iter().enumerate() {
            self.starts[c + 1] = self.starts[c] + list.len() as u32;
            self.items.extend(list);
        }
    }

    fn cell_of(&self, p: DVec2) -> (usize, usize) {
        let along = |v: f64, low: f64, n: usize| (((v - low) / self.cell).max(0.0) as usize).min(n - 1);
        (along(p.x, self.low.x, self.nx), along(p.y, self.low.y, self.ny))
    }

    /// Greatest depth to which the sweep goes below the skins, bounded from above; depths not above `interest` do not
    /// count (`None`).
    pub(crate) fn depth(&self, swept: &Swept, interest: f64) -> Option<Depth> {
        let (min, max) = swept.plan();
        let floor = swept.lowest();
        let (from, to) = (self.cell_of(min), self.cell_of(max));
        let mut worst: Option<Depth> = None;
        let mut mm = interest;
        for y in from.1..=to.1 {
            for x in from.0..=to.0 {
                let c = y * self.nx + x;
                if self.tops[c] <= floor + mm {
                    continue;
                }
                for &i in &self.items[self.starts[c] as usize..self.starts[c + 1] as usize] {
                    let f = &self.triangles[i as usize];
                    if f.max.z <= floor + mm || !in_plan(f, min, max) {
                        continue;
                    }
                    let first = self.cell_of(f.min.truncate().max(min));
                    if first != (x, y) || plane_bound(swept, f) <= mm {
                        continue;
                    }
                    let (depth, at) = gap::depth(swept, &f.t, mm);
                    if depth > mm {
                        mm = depth;
                        worst = Some(Depth { mm, at });
                    }
                }
            }
        }
        worst
    }

    /// The solid's points on or above which a vertical line leaves it: (z, faces up), ascending.
    pub(crate) fn crossings(&self, at: DVec2) -> Vec<(f64, bool)> {
        let (x, y) = self.cell_of(at);
        let c = y * self.nx + x;
        let mut out = Vec::new();
        for &i in &self.items[self.starts[c] as usize..self.starts[c + 1] as usize] {
            let f = &self.triangles[i as usize];
            if let Some(z) = height(f, at) {
                out.push((z, f.normal.z > 0.0));
            }
        }
        out.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        out
    }

    /// Whether a point lies inside the solid (counted along the vertical line a hair beside it).
    pub(crate) fn holds(&self, p: DVec3) -> bool {
        // A shift of no simple ratio, so that lines through shared edges and vertices do not arise in practice.
        let at = p.truncate() + DVec2::new(1.37e-7, 2.11e-7);
        let above = self.crossings(at).iter().filter(|c| c.0 > p.z).map(|c| if c.1 { 1 } else { -1 }).sum::<i32>();
        above > 0
    }

    /// Calls `visit` with each triangle whose plan box meets the box: corners, outward unit normal.
    pub(crate) fn each_in(&self, min: DVec2, max: DVec2, visit: &mut dyn FnMut(&[DVec3; 3], DVec3)) {
        let (from, to) = (self.cell_of(min), self.cell_of(max));
        for y in from.1..=to.1 {
            for x in from.0..=to.0 {
                let c = y * self.nx + x;
                for &i in &self.items[self.starts[c] as usize..self.starts[c + 1] as usize] {
                    let f = &self.triangles[i as usize];
                    if in_plan(f, min, max) && self.cell_of(f.min.truncate().max(min)) == (x, y) {
                        visit(&f.t, f.normal);
                    }
                }
            }
        }
    }

    /// First crossing of the ray from `p` along the unit vector `d`, not beyond `length`: distance and the outward
    /// normal there.
    pub(crate) fn ray(&self, p: DVec3, d: DVec3, length: f64) -> Option<(f64, DVec3)> {
        let end = p + d * length;
        let mut best: Option<(f64, DVec3)> = None;
        self.each_in(p.truncate().min(end.truncate()), p.truncate().max(end.truncate()), &mut |t, normal| {
            let slope = normal.dot(d);
            if slope == 0.0 {
                return;
            }
            let s = (t[0] - p).dot(normal) / slope;
            let at = p + d * s;
            let inside = (0..3).all(|k| normal.cross(t[(k + 1) % 3] - t[k]).dot(at - t[k]) >= -1e-9);
            if (0.0..=length).contains(&s) && inside && best.is_none_or(|b| s < b.0) {
                best = Some((s, normal));
            }
        });
        best
    }

    /// Distance from the triangles for which `wanted(normal, centroid)` holds; infinite if none lies within `reach`.
    pub(crate) fn distance(&self, p: DVec3, reach: f64, wanted: &dyn Fn(DVec3, DVec3) -> bool) -> f64 {
        // Small patches first: what was found within the patch's own radius is the nearest of all.
        for patch in [reach / 3.0, reach] {
            let mut least = f64::INFINITY;
            self.each_in(p.truncate() - patch, p.truncate() + patch, &mut |t, normal| {
                let (min, max) = (t[0].min(t[1]).min(t[2]), t[0].max(t[1]).max(t[2]));
                if p.distance_squared(p.clamp(min, max)) < least * least && wanted(normal, (t[0] + t[1] + t[2]) / 3.0) {
                    least = least.min(p.distance(geom::distance::nearest_on_triangle(p, *t)));
                }
            });
            if least <= patch {
                return least;
            }
        }
        f64::INFINITY
    }
}

fn in_plan(f: &Facet, min: DVec2, max: DVec2) -> bool {
    f.min.x <= max.x && f.max.x >= min.x && f.min.y <= max.y && f.max.y >= min.y
}

/// No point of the triangle lies deeper below the sweep's skin than its plane reaches into the sweep.
fn plane_bound(swept: &Swept, f: &Facet) -> f64 {
    // The separating direction points from the cutter into the solid: against the outward normal.
    if f.normal.z < 0.0 || f.normal == DVec3::ZERO {
        return f64::INFINITY; // the cutter has no lower side against a plane that faces down
    }
    let envelope = &swept.envelope;
    let plan = f.normal.truncate().length();
    let low = |tip: DVec3| {
        let disc = |radius: f64, z: f64| (tip + DVec3::Z * z).dot(f.normal) - radius * plan;
        disc(envelope.low.radius, envelope.low.z).min(disc(envelope.high.radius, envelope.high.z))
    };
    let nearest = low(swept.from).min(low(swept.to)) - envelope.ball;
    f.t[0].dot(f.normal) - nearest
}

fn height(f: &Facet, at: DVec2) -> Option<f64> {
    if f.normal.z == 0.0 || !in_plan(f, at, at) {
        return None;
    }
    let sides = [0, 1, 2].map(|k| {
        let (a, b) = (f.t[k].truncate(), f.t[(k + 1) % 3].truncate());
        (b - a).perp_dot(at - a)
    });
    let within = sides.iter().all(|&s| s >= 0.0) || sides.iter().all(|&s| s <= 0.0);
    within.then(|| f.t[0].z - (at - f.t[0].truncate()).dot(f.normal.truncate()) / f.normal.z)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::envelope::{Envelope, tests::solid};
    use trade::cutter::Form;

    fn block() -> Bed {
        let m = Mesh::cuboid(DVec3::new(-20.0, -20.0, 0.0), DVec3::new(20.0, 20.0, 10.0));
        Bed::new(&[&m], &DAffine3::IDENTITY)
    }

    fn sweep(form: Form, from: [f64; 3], to: [f64; 3]) -> Swept {
        let envelope = Envelope::of(&solid(form, 6.0));
        Swept { envelope, from: DVec3::from_array(from), to: DVec3::from_array(to) }
    }

    #[test]
    fn resting_on_the_top_is_no_gouge_and_below_it_is() {
        for form in [Form::Flat, Form::Ball, Form::Bull { corner_radius: 0.5 }] {
            let over = sweep(form, [-30.0, 3.0, 10.0], [30.0, 1.0, 10.0]);
            assert_eq!(block().depth(&over, 1e-4), None);
            let into = sweep(form, [-30.0, 3.0, 9.95], [30.0, 1.0, 9.95]);
            let found = block().depth(&into, 1e-4).unwrap();
            assert!((found.mm - 0.05).abs() < 1e-3, "{form:?} {found:?}");
        }
    }

    #[test]
    fn passing_beside_the_wall() {
        for (x, depth) in [(23.0, None), (22.99, Some(0.01)), (22.5, Some(0.5))] {
            let found = block().depth(&sweep(Form::Ball, [x, -40.0, 2.0], [x, 40.0, 2.0]), 1e-4);
            match depth {
                None => assert_eq!(found, None),
                Some(mm) => assert!((found.unwrap().mm - mm).abs() < 1e-3, "{x} {found:?}"),
            }
        }
    }

    #[test]
    fn a_dive_between_two_points_is_found() {
        // Both ends are clear; the middle of the ramp's corner is not: a certificate must not rest on ends alone.
        let into = sweep(Form::Ball, [-26.0, 0.0, 12.0], [26.0, 0.0, 8.0]);
        assert!(block().depth(&into, 1e-4).unwrap().mm > 1.0);
    }

    #[test]
    fn inside_and_rays() {
        let bed = block();
        assert!(bed.holds(DVec3::new(1.0, 2.0, 3.0)) && !bed.holds(DVec3::new(1.0, 2.0, 10.1)));
        assert!(!bed.holds(DVec3::new(25.0, 2.0, 3.0)));
        let (s, n) = bed.ray(DVec3::new(1.0, 2.0, 4.0), DVec3::X, 50.0).unwrap();
        assert!((s - 19.0).abs() < 1e-12 && n == DVec3::X);
        assert_eq!(bed.ray(DVec3::new(1.0, 2.0, 4.0), DVec3::X, 5.0), None);
        assert!((bed.distance(DVec3::new(0.0, 0.0, 12.0), 5.0, &|_, _| true) - 2.0).abs() < 1e-12);
    }
}
