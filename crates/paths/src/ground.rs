//! What finishing knows of the surface: heights, slopes and curvatures on a lattice, and where it is steep.

use crate::finishing::Finishing;
use crate::inside::Inside;
use crate::spacing::{Shape, Tip, shapes};
use crate::stock::distances;
use crate::walls::IN_AIR;
use crate::{Work, order::Piece};
use geom::{DVec2, Grid, Region, contour};

/// Pitch of the lattice, mm.
pub(crate) const PITCH: f64 = 0.45;
/// Zones reach over the limit of steepness by this, degrees.
const SOFT: f64 = 10.0;
/// The zones' borders are true to this, mm; fewer points make their offsets quicker.
const THIN: f64 = 0.004;
/// Passes aim at this share of the scallop: lines and arcs are off their course by a little.
const AIM: f64 = 0.94;
/// The least share aimed at, where the tolerance is wide because nothing shows: what stays evenly is no ridge.
const LEAST_AIM: f64 = 0.7;
/// Ground within this of a bottom that is not finished belongs to it, mm.
const AT_BOTTOM: f64 = 0.01;
/// Heights this far outside the asked range still belong to it, mm.
const SLACK: f64 = 1e-4;

/// A piece of a finishing path.
#[derive(Clone, Debug)]
pub(crate) struct Stroke {
    /// For the ordering.
    pub(crate) piece: Piece,
    /// The tip's places.
    pub(crate) points: Vec<[f64; 3]>,
}

/// The lattice.
pub(crate) struct Ground<'a> {
    pub(crate) what: &'a Finishing<'a>,
    pub(crate) work: &'a Work,
    pub(crate) heights: Grid<f64>,
    pub(crate) shapes: Grid<Shape>,
    pub(crate) inside: Inside,
    pub(crate) tip: Tip,
    /// Highest tip height still to be finished at.
    pub(crate) top_z: f64,
}

impl<'a> Ground<'a> {
    pub(crate) fn new(what: &'a Finishing<'a>, work: &'a Work) -> Option<Self> {
        let (lo, hi) = what.within.bounds()?;
        let margin = DVec2::splat(3.0 * PITCH);
        let size = ((hi - lo + 2.0 * margin) / PITCH).ceil();
        let heights = what.location.grid(lo - margin, PITCH, size.x as usize + 1, size.y as usize + 1);
        let mut shapes = shapes(&heights);
        // In a crease the lattice knows no curvature: taken as no tighter than a third of the tip's radius.
        let limit = if what.tip_radius > 0.0 { 3.0 / what.tip_radius } else { 0.0 };
        for s in &mut shapes.values {
            s.hollow = s.hollow.clamp(-limit, limit);
        }
        let flat = (what.diameter - 2.0 * what.tip_radius).max(0.0);
        // Tips stand a little in the air, and what stays there counts.
        let scallop = (AIM * what.scallop - IN_AIR * work.tolerance).max(LEAST_AIM * what.scallop);
        let tip = Tip { scallop, radius: what.tip_radius, flat };
        Some(Self { what, work, heights, shapes, inside: Inside::new(what.within, PITCH), tip, top_z: what.top_z })
    }

    /// Tangent of the slope from which on it is steep; `soft` leans towards more.
    fn steep(&self, soft: f64) -> f64 {
        (self.what.steep_deg + soft).clamp(1.0, 89.0).to_radians().tan()
    }

    /// Tangent of the slope down to which level rings overlap the rings in plan.
    pub(crate) fn nearly_steep(&self) -> f64 {
        self.steep(-SOFT)
    }

    fn in_range(&self, z: f64) -> bool {
        z <= self.top_z + SLACK && z >= self.what.bottom_z - SLACK
    }

    /// Nodes within the limit.
    pub(crate) fn inside_nodes(&self) -> Vec<bool> {
        let nx = self.heights.nx;
        (0..self.heights.values.len()).map(|i| self.inside.contains(self.heights.at(i % nx, i / nx))).collect()
    }

    /// Nodes on steep ground, within the limit.
    pub(crate) fn steep_nodes(&self) -> Vec<bool> {
        let steep = self.steep(0.0);
        let inside = self.inside_nodes();
        (0..inside.len()).map(|i| self.shapes.values[i].steepness() >= steep && inside[i]).collect()
    }

    /// Nodes where level rings run: steep ones, and those within the overlap that are nearly so.
    pub(crate) fn ring_nodes(&self, steep: &[bool]) -> Vec<bool> {
        let gaps = distances(self.heights.nx, self.heights.ny, steep);
        let nearly = self.nearly_steep();
        let keep = |i: usize| {
            gaps[i] <= 2.0 || (gaps[i] * PITCH <= self.what.overlap && self.shapes.values[i].steepness() >= nearly)
        };
        (0..gaps.len()).map(keep).collect()
    }

    /// Where rings in plan run: ground that is not steep, and what is nearly not steep within the overlap.
    pub(crate) fn floor(&self) -> Region {
        let angles = self.angles();
        let range = contour::below(&self.heights, self.top_z + SLACK).minus(&self.bottom()).common(self.what.within);
        // Specks narrower than the lattice can show are left to the rings.
        let gentle = |deg: f64| contour::below(&angles, deg).thinned(THIN);
        let core = gentle(self.what.steep_deg).offset(-0.3, 0.01).thinned(THIN).offset(0.3, 0.01).thinned(THIN);
        let soft = gentle((self.what.steep_deg + SOFT).min(89.0));
        let zone = core.offset(self.what.overlap, 0.02).common(&soft).common(&range);
        // Without the unevenness of contours from a lattice.
        zone.offset(-0.5, 0.005).thinned(THIN).offset(0.5, 0.005)
    }

    /// Slopes in degrees; NaN where none is known.
    fn angles(&self) -> Grid<f64> {
        let mut angles = Grid::filled(self.heights.origin, PITCH, self.heights.nx, self.heights.ny, f64::NAN);
        for (angle, s) in angles.values.iter_mut().zip(&self.shapes.values) {
            *angle = s.steepness().atan().to_degrees();
        }
        angles
    }

    /// Ground less steep than a slope in degrees.
    pub(crate) fn flatter_than(&self, deg: f64) -> Region {
        contour::below(&self.angles(), deg).thinned(THIN)
    }

    /// Ground too low to be finished.
    pub(crate) fn bottom(&self) -> Region {
        let above = if self.what.finishes_bottom { -SLACK } else { AT_BOTTOM };
        contour::below(&self.heights, self.what.bottom_z + above)
    }

    /// Slope and curvature near a point: the most demanding of the nodes around.
    fn shape(&self, p: DVec2) -> Shape {
        let at = ((p - self.heights.origin) / PITCH)
            .clamp(DVec2::ZERO, DVec2::new(self.heights.nx as f64 - 2.0, self.heights.ny as f64 - 2.0));
        let (ix, iy) = (at.x as usize, at.y as usize);
        let mut worst = Shape { hollow: f64::NEG_INFINITY, ..Shape::default() };
        for (dx, dy) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            let s = self.shapes.values[(iy + dy) * self.heights.nx + ix + dx];
            if s.steepness() > worst.steepness() {
                worst.gradient = s.gradient;
            }
            worst.hollow = worst.hollow.max(s.hollow);
        }
        worst
    }

    /// The same, no steeper than where rings in plan run: what is steeper is cut by level rings. Where a floor ends in a crease the
    /// slope of the lattice is only that from the floor up the wall.
    pub(crate) fn gentle(&self, p: DVec2) -> Shape {
        let shape = self.shape(p);
        let most = if self.tip.is_crease(shape.hollow) { 0.0 } else { self.steep(SOFT) };
        Shape { gradient: shape.gradient.clamp_length_max(most), ..shape }
    }

    /// Whether one of the nodes around a point is marked.
    pub(crate) fn is_marked(&self, nodes: &[bool], p: DVec2) -> bool {
        let at = (p - self.heights.origin) / PITCH;
        if !(at.x >= 0.0 && at.y >= 0.0) {
            return false;
        }
        let (ix, iy) = (at.x as usize, at.y as usize);
        if ix + 1 >= self.heights.nx || iy + 1 >= self.heights.ny {
            return false;
        }
        [(0, 0), (1, 0), (0, 1), (1, 1)].iter().any(|(dx, dy)| nodes[(iy + dy) * self.heights.nx + ix + dx])
    }

    /// Lowest and highest tip height on marked nodes and their neighbours, within the asked range.
    pub(crate) fn height_range(&self, nodes: &[bool]) -> Option<(f64, f64)> {
        self.height_range_of((0..nodes.len()).filter(|&i| nodes[i]))
    }

    /// The same of nodes by index.
    pub(crate) fn height_range_of(&self, nodes: impl Iterator<Item = usize>) -> Option<(f64, f64)> {
        let nx = self.heights.nx;
        let (mut lo, mut hi) = (f64::INFINITY, f64::NEG_INFINITY);
        for i in nodes {
            for j in [i, i.wrapping_sub(1), i + 1, i.wrapping_sub(nx), i + nx] {
                if let Some(&z) = self.heights.values.get(j)
                    && z.is_finite()
                {
                    lo = lo.min(z);
                    hi = hi.max(z);
                }
            }
        }
        let (lo, hi) = (lo.max(self.what.bottom_z), hi.min(self.top_z));
        (lo <= hi).then_some((lo, hi))
    }

    /// Of nodes those that lie in the asked range: (index, height, shape).
    pub(crate) fn asked(&self, nodes: impl Iterator<Item = usize>) -> impl Iterator<Item = (usize, f64, Shape)> {
        nodes
            .filter(|&i| self.in_range(self.heights.values[i]) && !self.shapes.values[i].gradient.is_nan())
            .map(|i| (i, self.heights.values[i], self.shapes.values[i]))
    }

    /// The same of marked nodes.
    pub(crate) fn marked(&self, nodes: &[bool]) -> impl Iterator<Item = (usize, f64, Shape)> {
        self.asked((0..nodes.len()).filter(|&i| nodes[i]))
    }
}
