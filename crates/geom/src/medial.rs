//! The medial axis of a region: the middles of all discs inside that touch its boundary at two places or more (Blum 1967).
//!
//! Straight sides bend it into lines and parabolas. It is found site by site (side, or corner that points inwards): the disc that
//! touches a site at a place grows until it touches another one, and which one that is, is the lowest of closed forms along the
//! site. No step depends on the order of near events, so rounding moves a joint but breaks nothing; joints nearer than [`JOINT`]
//! are one. Time grows with the square of the number of sides of a connected part.

mod envelope;
mod outline;
mod roof;

use crate::Region;
use glam::DVec2;
use outline::Outline;
pub use roof::Roof;

/// Joints of the axis nearer than this are one, mm.
pub const JOINT: f64 = 2e-5;
/// Corners flatter than this are none, mm from the chord of their neighbours.
const STRAIGHT: f64 = 1e-6;
/// A branch is halved no more often than this between two of its discs.
const HALVINGS: u32 = 16;

/// A disc inside the region that touches its boundary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disc {
    /// Its middle.
    pub at: DVec2,
    /// Its radius, mm.
    pub radius: f64,
}

/// Where branches meet or end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joint {
    /// The disc there.
    pub disc: Disc,
    /// At a corner of the region: the sine of half its angle.
    pub corner: Option<f64>,
}

/// A stretch of the axis between two joints; its discs touch the same two sites.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// Joints at its start and end.
    pub ends: [usize; 2],
    /// Discs from start to end, those of the joints included. A disc halfway between two of them, as regards middle and
    /// radius, is off the boundary by no more than the tolerance.
    pub discs: Vec<Disc>,
    /// Sites that the discs touch.
    sites: [usize; 2],
}

/// The axis of a region. Branches run out into every corner that points outwards.
#[derive(Clone, Debug, PartialEq)]
pub struct MedialAxis {
    /// Where branches meet or end.
    pub joints: Vec<Joint>,
    /// Branches.
    pub branches: Vec<Branch>,
    /// Outline of each connected part, and the number of branches up to and with it.
    parts: Vec<(Outline, usize)>,
}

impl Disc {
    /// The disc at a share of the way to another.
    pub fn lerp(&self, to: &Disc, share: f64) -> Disc {
        Disc { at: self.at.lerp(to.at, share), radius: self.radius + (to.radius - self.radius) * share }
    }
}

impl Branch {
    /// Length along its discs, mm.
    pub fn length(&self) -> f64 {
        self.discs.windows(2).map(|w| w[0].at.distance(w[1].at)).sum()
    }
}

impl MedialAxis {
    /// The axis of a region whose rings neither cross nor touch. Listed discs are exact to about [`JOINT`]; between them the
    /// error is no more than `tolerance`.
    pub fn new(region: &Region, tolerance: f64) -> Self {
        let mut axis = Self { joints: Vec::new(), branches: Vec::new(), parts: Vec::new() };
        for part in region.thinned(STRAIGHT).parts() {
            axis.add(Outline::new(&part), tolerance);
        }
        axis
    }

    fn add(&mut self, outline: Outline, tolerance: f64) {
        let first = self.joints.len();
        let corners = (0..outline.sides()).filter(|&v| !outline.is_hollow(v));
        self.joints.extend(corners.map(|v| Joint {
            disc: Disc { at: outline.vertices[v], radius: 0.0 },
            corner: Some(outline.sharpness(v)),
        }));
        for site in outline.all_sites() {
            // Each branch is seen from both its sites: the first one tells it.
            for stretch in outline.facing(site).into_iter().filter(|s| s.of > site) {
                let mut discs = sampled(&outline, site, &stretch, tolerance);
                let ends = [discs[0], discs[discs.len() - 1]].map(|end| self.joint(first, end));
                let length: f64 = discs.windows(2).map(|w| w[0].at.distance(w[1].at)).sum();
                if ends[0] == ends[1] && length < 4.0 * JOINT {
                    continue;
                }
                let last = discs.len() - 1;
                (discs[0], discs[last]) = (self.joints[ends[0]].disc, self.joints[ends[1]].disc);
                self.branches.push(Branch { ends, discs, sites: [site, stretch.of] });
            }
        }
        self.parts.push((outline, self.branches.len()));
    }

    /// The joint at the end of a branch, a new one if there is none.
    fn joint(&mut self, first: usize, disc: Disc) -> usize {
        let found = self.joints[first..].iter().position(|j| j.disc.at.distance(disc.at) < JOINT);
        found.map_or_else(
            || {
                self.joints.push(Joint { disc, corner: None });
                self.joints.len() - 1
            },
            |k| first + k,
        )
    }

    /// Branches that begin or end at each joint, in order.
    pub fn at_joints(&self) -> Vec<Vec<usize>> {
        let mut at = vec![Vec::new(); self.joints.len()];
        for (k, branch) in self.branches.iter().enumerate() {
            for end in branch.ends {
                at[end].push(k);
            }
        }
        at
    }

    /// Without the branches into corners that are all but filled by the disc where the branch begins: what is lost there is no
    /// farther from that disc than `tolerance`. Corners that only chords of a curve make are gone then. A part whose branches are
    /// all gone, a round dot, keeps its greatest disc as a branch of one point.
    pub fn without_blunt_corners(&self, tolerance: f64) -> Vec<Branch> {
        let mut kept = Vec::new();
        let mut from = 0;
        for (_, to) in &self.parts {
            let blunt = |b: &Branch| {
                [(0, 1), (1, 0)].into_iter().any(|(corner, root)| {
                    let root = self.joints[b.ends[root]];
                    let sine = self.joints[b.ends[corner]].corner.filter(|_| root.corner.is_none());
                    sine.is_some_and(|s| root.disc.radius * (1.0 / s - 1.0) <= tolerance)
                })
            };
            let part = &self.branches[from..*to];
            let before = kept.len();
            kept.extend(part.iter().filter(|b| !blunt(b)).cloned());
            if kept.len() == before {
                let ends = part.iter().flat_map(|b| b.ends);
                let radius = |j: usize| self.joints[j].disc.radius;
                let greatest = ends.reduce(|best, j| if radius(j) > radius(best) { j } else { best });
                kept.extend(greatest.map(|j| Branch { ends: [j, j], discs: vec![self.joints[j].disc], sites: [0, 0] }));
            }
            from = *to;
        }
        kept
    }
}

/// Discs along a stretch of a site, so close that those between them are true to the tolerance.
fn sampled(outline: &Outline, site: usize, stretch: &envelope::Stretch, tolerance: f64) -> Vec<Disc> {
    let disc = |u: f64| outline.disc(site, stretch.of, u);
    let (a, b) = (disc(stretch.from), disc(stretch.to));
    let mut out = vec![a];
    let mut open = vec![(stretch.from, a, stretch.to, b, 0)];
    while let Some((u, from, v, to, depth)) = open.pop() {
        let between = from.lerp(&to, 0.5);
        let off = |s: usize| (outline.distance(s, between.at) - between.radius).abs();
        // The error of a chord of such curves is greatest near its middle, though not exactly there.
        if depth < HALVINGS && off(site).max(off(stretch.of)) > 0.7 * tolerance {
            let w = 0.5 * (u + v);
            let middle = disc(w);
            open.extend([(w, middle, v, to, depth + 1), (u, from, w, middle, depth + 1)]);
        } else {
            out.push(to);
        }
    }
    out
}

#[cfg(test)]
mod tests;
