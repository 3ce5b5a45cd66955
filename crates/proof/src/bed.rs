//! The solids that must not be cut: how deep a sweep goes into them, and what lies near a point.

use crate::envelope::Swept;
use crate::gap;
use crate::tree::{Bounds, Facet, Seek, Tree};
use geom::Mesh;
use glam::{DAffine3, DVec2, DVec3};

/// The triangles, in the workpiece's frame.
#[derive(Clone, Debug)]
pub(crate) struct Bed {
    tree: Tree,
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
        Self::of(meshes, to_workpiece, |_, _| true)
    }

    /// Only of the triangles that are `wanted` by outward normal and centroid: where most are not, the others need not be passed
    /// by with every question.
    pub(crate) fn of(meshes: &[&Mesh], to_workpiece: &DAffine3, wanted: impl Fn(DVec3, DVec3) -> bool) -> Self {
        Self { tree: Tree::of(meshes, to_workpiece, wanted) }
    }

    /// Greatest depth to which the sweep goes below the skins, bounded from above; depths not above `interest` do not
    /// count (`None`).
    pub(crate) fn depth(&self, swept: &Swept, interest: f64) -> Option<Depth> {
        let mut deepest = Deepest::new(swept, interest);
        self.tree.ask(&mut deepest);
        deepest.worst
    }

    /// The triangles that rise above `floor` within a box of the plan.
    pub(crate) fn near(&self, (min, max): (DVec2, DVec2), floor: f64) -> Vec<Facet> {
        let mut near = Near { min, max, floor, found: Vec::new() };
        self.tree.ask(&mut near);
        near.found
    }

    /// Whether a point lies inside the solid (counted along the vertical line a hair beside it).
    pub(crate) fn holds(&self, p: DVec3) -> bool {
        // A shift of no simple ratio, so that lines through shared edges and vertices do not arise in practice.
        let mut above = Above { p: p + DVec3::new(1.37e-7, 2.11e-7, 0.0), count: 0 };
        self.tree.ask(&mut above);
        above.count > 0
    }

    /// First crossing of the ray from `p` along the unit vector `d`, not beyond `length`: distance and the outward
    /// normal there.
    pub(crate) fn ray(&self, p: DVec3, d: DVec3, length: f64) -> Option<(f64, DVec3)> {
        let mut ray = Ray { p, d, length, best: None };
        self.tree.ask(&mut ray);
        ray.best
    }

    /// Distance from the triangles for which `wanted(normal, centroid)` holds; infinite if none lies within `reach`.
    pub(crate) fn distance(&self, p: DVec3, reach: f64, wanted: &dyn Fn(DVec3, DVec3) -> bool) -> f64 {
        let mut nearest = Nearest { p, squared: reach * reach, wanted, found: false };
        self.tree.ask(&mut nearest);
        if nearest.found { nearest.squared.sqrt() } else { f64::INFINITY }
    }
}

/// Points of the plan in rows.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lattice {
    pub(crate) first: DVec2,
    pub(crate) pitch: f64,
    pub(crate) nx: usize,
    pub(crate) ny: usize,
}

impl Lattice {
    pub(crate) fn at(&self, ix: usize, iy: usize) -> DVec2 {
        self.first + DVec2::new(ix as f64, iy as f64) * self.pitch
    }

    /// Indices, the ends exclusive, of the points in a box, perhaps one more to each side.
    fn within(&self, min: DVec2, max: DVec2) -> ((usize, usize), (usize, usize)) {
        let from = ((min - self.first) / self.pitch).floor().max(DVec2::ZERO);
        let end = ((max - self.first) / self.pitch).floor().max(-DVec2::ONE) + 2.0;
        ((from.x as usize, from.y as usize), ((end.x as usize).min(self.nx), (end.y as usize).min(self.ny)))
    }
}

/// Greatest height of the triangles of a mesh given in another frame over each point of a lattice, row by row; `-inf` where there
/// is none.
pub(crate) fn heights(mesh: &Mesh, to_workpiece: &DAffine3, lattice: &Lattice) -> Vec<f64> {
    let mut heights = vec![f64::NEG_INFINITY; lattice.nx * lattice.ny];
    for i in 0..mesh.triangles.len() {
        let f = Facet::new(mesh.corners(i).map(|p| to_workpiece.transform_point3(p)));
        let (from, end) = lattice.within(f.bounds.min.truncate(), f.bounds.max.truncate());
        for iy in from.1..end.1 {
            for ix in from.0..end.0 {
                if let Some(z) = height(&f, lattice.at(ix, iy)) {
                    let highest = &mut heights[iy * lattice.nx + ix];
                    *highest = highest.max(z);
                }
            }
        }
    }
    heights
}

struct Near {
    min: DVec2,
    max: DVec2,
    floor: f64,
    found: Vec<Facet>,
}

impl Seek for Near {
    fn rank(&self, bounds: &Bounds) -> Option<f64> {
        (bounds.max.z > self.floor && in_plan(bounds, self.min, self.max)).then_some(0.0)
    }

    fn look(&mut self, f: &Facet) {
        if self.rank(&f.bounds).is_some() {
            self.found.push(*f);
        }
    }
}

/// The deepest place of a sweep so far.
pub(crate) struct Deepest<'a> {
    swept: &'a Swept,
    min: DVec2,
    max: DVec2,
    floor: f64,
    mm: f64,
    pub(crate) worst: Option<Depth>,
}

impl<'a> Deepest<'a> {
    pub(crate) fn new(swept: &'a Swept, interest: f64) -> Self {
        let (min, max) = swept.plan();
        Self { swept, min, max, floor: swept.lowest(), mm: interest, worst: None }
    }
}

impl Seek for Deepest<'_> {
    fn rank(&self, bounds: &Bounds) -> Option<f64> {
        if bounds.max.z <= self.floor + self.mm || !in_plan(bounds, self.min, self.max) {
            return None;
        }
        let (middle, half) = ((bounds.min + bounds.max) / 2.0, (bounds.max - bounds.min) / 2.0);
        let (distance, slope) = self.swept.at_least(middle);
        let rank = distance - slope.map_or(half.length(), |s| s.abs().dot(half));
        self.matters(rank).then_some(rank)
    }

    fn matters(&self, rank: f64) -> bool {
        -rank > self.mm
    }

    fn look(&mut self, f: &Facet) {
        if self.rank(&f.bounds).is_none() || plane_bound(self.swept, f) <= self.mm {
            return;
        }
        let (depth, at) = gap::depth(self.swept, &f.t, self.mm);
        if depth > self.mm {
            self.mm = depth;
            self.worst = Some(Depth { mm: depth, at });
        }
    }
}

/// Skins above a point that face up, less those that face down.
struct Above {
    p: DVec3,
    count: i32,
}

impl Seek for Above {
    fn rank(&self, bounds: &Bounds) -> Option<f64> {
        let at = self.p.truncate();
        (bounds.max.z > self.p.z && in_plan(bounds, at, at)).then_some(0.0)
    }

    fn look(&mut self, f: &Facet) {
        if height(f, self.p.truncate()).is_some_and(|z| z > self.p.z) {
            self.count += if f.normal.z > 0.0 { 1 } else { -1 };
        }
    }
}

struct Ray {
    p: DVec3,
    d: DVec3,
    length: f64,
    best: Option<(f64, DVec3)>,
}

impl Seek for Ray {
    fn rank(&self, bounds: &Bounds) -> Option<f64> {
        let end = self.p + self.d * self.length;
        let (low, high) = (self.p.min(end), self.p.max(end));
        (bounds.min.cmple(high).all() && bounds.max.cmpge(low).all()).then_some(0.0)
    }

    fn look(&mut self, f: &Facet) {
        let slope = f.normal.dot(self.d);
        if slope == 0.0 {
            return;
        }
        let s = (f.t[0] - self.p).dot(f.normal) / slope;
        let at = self.p + self.d * s;
        let inside = (0..3).all(|k| f.normal.cross(f.t[(k + 1) % 3] - f.t[k]).dot(at - f.t[k]) >= -1e-9);
        // Of equal distances the one that does not depend on the order of looking.
        let key = |b: (f64, DVec3)| (b.0, b.1.x, b.1.y, b.1.z);
        if (0.0..=self.length).contains(&s) && inside && self.best.is_none_or(|b| key((s, f.normal)) < key(b)) {
            self.best = Some((s, f.normal));
        }
    }
}

struct Nearest<'a> {
    p: DVec3,
    squared: f64,
    wanted: &'a dyn Fn(DVec3, DVec3) -> bool,
    found: bool,
}

impl Seek for Nearest<'_> {
    fn rank(&self, bounds: &Bounds) -> Option<f64> {
        Some(bounds.distance_squared(self.p)).filter(|&d| self.matters(d))
    }

    fn matters(&self, rank: f64) -> bool {
        rank < self.squared
    }

    fn look(&mut self, f: &Facet) {
        let near = f.bounds.distance_squared(self.p) < self.squared;
        if near && (self.wanted)(f.normal, f.centroid()) {
            let squared = self.p.distance_squared(geom::distance::nearest_on_triangle(self.p, f.t));
            if squared < self.squared {
                (self.squared, self.found) = (squared, true);
            }
        }
    }
}

fn in_plan(bounds: &Bounds, min: DVec2, max: DVec2) -> bool {
    bounds.min.x <= max.x && bounds.max.x >= min.x && bounds.min.y <= max.y && bounds.max.y >= min.y
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
    if f.normal.z == 0.0 || !in_plan(&f.bounds, at, at) {
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
        Swept::new(envelope, DVec3::from_array(from), DVec3::from_array(to))
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
