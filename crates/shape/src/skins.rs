//! The skin of a solid in its parts: what is cut from the foot, what is cut from the rim, and the flat of the rim between them.
//!
//! The outside is what an upright line reaches from below, upright walls on the outer side included; the rim's flat lies at the
//! very top; the hollows are the rest. Where outside, rim and hollows meet, the skin is cut open and closed again with upright
//! walls and a lid: so the bodies are made of the solid's own triangles.

use crate::undercut::{Columns, places_on};
use geom::{DVec2, DVec3, Mesh, Ring, ears};
use rayon::prelude::*;

/// The rim's flat may be off by this, mm; corners of it are put on the level.
const LEVEL: f64 = 0.005;

/// The parts of a skin.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Skins {
    /// The whole solid, its rim level.
    pub(crate) mesh: Mesh,
    /// Height, mm.
    pub(crate) height: f64,
    outside: Vec<[u32; 3]>,
    hollows: Vec<[u32; 3]>,
    /// Edge of the outside at the rim.
    edge: Vec<u32>,
    /// Edges of the hollows at the rim, as the hollows' triangles run.
    mouths: Vec<Vec<u32>>,
}

/// Why a skin has no such parts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Unparted {
    /// Somewhere below the rim the solid is wider than what is cut from the foot, or the rim is not level.
    NotAtRim { at: DVec3 },
    /// The outside has several edges at the rim.
    SeveralEdges { at: DVec3 },
    /// All of it is outside.
    NoHollow,
}

impl Skins {
    pub(crate) fn of(mut mesh: Mesh) -> Result<Self, Unparted> {
        let height = mesh.bounds().map_or(0.0, |(_, high)| high.z);
        for v in &mut mesh.vertices {
            if (v.z - height).abs() <= LEVEL {
                v.z = height;
            }
        }
        let mesh = mesh.welded();
        let columns = Columns::of(&mesh);
        let (mut outside, mut hollows) = (Vec::new(), Vec::new());
        let mut thin = Vec::new();
        let at_rim = |t: &[u32; 3]| t.iter().all(|&v| mesh.vertices[v as usize].z == height);
        let part_of = |(i, t): (usize, &[u32; 3])| (!at_rim(t)).then(|| columns.open_below(i));
        let parts: Vec<Option<Option<bool>>> = mesh.triangles.par_iter().enumerate().map(part_of).collect();
        for (&t, part) in mesh.triangles.iter().zip(parts) {
            match part {
                None => {}
                Some(Some(true)) => outside.push(t),
                Some(Some(false)) => hollows.push(t),
                Some(None) => thin.push(t),
            }
        }
        // A triangle without an area goes with its neighbours: to the outside if that closes more of its edge.
        let sides = [sides_of(&outside), sides_of(&hollows)];
        for t in thin {
            let joins = |others: &[(u32, u32)]| {
                (0..3).filter(|&k| others.binary_search(&(t[(k + 1) % 3], t[k])).is_ok()).count()
            };
            if joins(&sides[0]) >= joins(&sides[1]) { outside.push(t) } else { hollows.push(t) }
        }
        let at = |ring: &[u32]| {
            let lowest = ring.iter().map(|&v| mesh.vertices[v as usize]).reduce(|a, b| if b.z < a.z { b } else { a });
            lowest.unwrap_or_default()
        };
        let edges = rings(&outside);
        let mouths = rings(&hollows);
        for ring in edges.iter().chain(&mouths) {
            let lowest = at(ring);
            if lowest.z < height {
                return Err(Unparted::NotAtRim { at: lowest });
            }
        }
        let [edge] = &edges[..] else {
            let at = edges.get(1).map_or(DVec3::ZERO, |ring| at(ring));
            return Err(Unparted::SeveralEdges { at });
        };
        if hollows.is_empty() {
            return Err(Unparted::NoHollow);
        }
        Ok(Self { height, outside, hollows, edge: edge.clone(), mouths, mesh })
    }

    /// The outside as a full body, carried straight up from the rim to `top_z`.
    pub(crate) fn outside_body(&self, top_z: f64) -> Mesh {
        self.closed(self.outside.clone(), std::slice::from_ref(&self.edge), top_z)
    }

    /// The hollows as full bodies, carried straight up from the rim to `top_z`: what is cut out.
    pub(crate) fn hollow_body(&self, top_z: f64) -> Mesh {
        let turned: Vec<[u32; 3]> = self.hollows.iter().map(|&[a, b, c]| [a, c, b]).collect();
        let mouths: Vec<Vec<u32>> = self.mouths.iter().map(|m| m.iter().rev().copied().collect()).collect();
        self.closed(turned, &mouths, top_z)
    }

    /// The outer edge of the rim seen from above, counter-clockwise.
    pub(crate) fn edge(&self) -> Ring {
        self.plan(&self.edge)
    }

    /// The inner edges of the rim seen from above, counter-clockwise.
    pub(crate) fn mouths(&self) -> Vec<Ring> {
        self.mouths.iter().map(|m| self.plan(m)).collect()
    }

    /// Places on the hollows' skin: corners and places between them, no more than about `most`.
    pub(crate) fn hollow_places(&self, most: usize) -> Vec<DVec3> {
        let mut corners: Vec<u32> = self.hollows.iter().flatten().copied().collect();
        corners.sort_unstable();
        corners.dedup();
        let every = corners.len().div_ceil(most).max(1);
        let mut places: Vec<DVec3> =
            corners.into_iter().step_by(every).map(|v| self.mesh.vertices[v as usize]).collect();
        let triangles = self.hollows.iter().map(|t| t.map(|v| self.mesh.vertices[v as usize]));
        let area: f64 = triangles.clone().map(|[a, b, c]| (b - a).cross(c - a).length() / 2.0).sum();
        let step = (2.0 * area / most as f64).sqrt();
        let every = self.hollows.len().div_ceil(most).max(1);
        places.extend(triangles.step_by(every).flat_map(|t| places_on(t, step)));
        places
    }

    /// The triangles of the outside.
    pub(crate) fn outside(&self) -> Mesh {
        Mesh { vertices: self.mesh.vertices.clone(), triangles: self.outside.clone() }.welded()
    }

    fn plan(&self, ring: &[u32]) -> Ring {
        let mut ring = Ring(ring.iter().map(|&v| self.mesh.vertices[v as usize].truncate()).collect());
        if ring.area() < 0.0 {
            ring.0.reverse();
        }
        ring
    }

    /// A part of the skin, closed by upright walls from its edges up to `top_z` and lids on them. The edges run as the
    /// triangles do.
    fn closed(&self, mut triangles: Vec<[u32; 3]>, edges: &[Vec<u32>], top_z: f64) -> Mesh {
        let mut vertices = self.mesh.vertices.clone();
        for edge in edges {
            let n = edge.len();
            // Seen from above, the edge of a part that lies below its lid runs clockwise: its triangles are on the far side.
            let plan: Vec<DVec2> = edge.iter().rev().map(|&v| vertices[v as usize].truncate()).collect();
            let mut lid: Vec<u32> = edge.iter().rev().copied().collect();
            if top_z > self.height {
                let first = vertices.len() as u32;
                let top: Vec<u32> = (0..n as u32).map(|k| first + k).collect();
                vertices.extend(
                    edge.iter().map(|&v| self.mesh.vertices[v as usize].truncate().extend(top_z)).collect::<Vec<_>>(),
                );
                for k in 0..n {
                    let l = (k + 1) % n;
                    // The wall runs against the part's own edge.
                    triangles.extend([[edge[l], edge[k], top[k]], [edge[l], top[k], top[l]]]);
                }
                lid = top.into_iter().rev().collect();
            }
            triangles.extend(ears(&plan).into_iter().map(|t| t.map(|k| lid[k as usize])));
        }
        Mesh { vertices, triangles }.welded()
    }
}

/// The sides of triangles, ascending.
fn sides_of(part: &[[u32; 3]]) -> Vec<(u32, u32)> {
    let mut all: Vec<(u32, u32)> = part.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]).collect();
    all.sort_unstable();
    all
}

/// The edges of a part of a skin as rings, running as its triangles do.
fn rings(part: &[[u32; 3]]) -> Vec<Vec<u32>> {
    let all = sides_of(part);
    let open: Vec<(u32, u32)> = all.iter().copied().filter(|&(a, b)| all.binary_search(&(b, a)).is_err()).collect();
    let mut gone = vec![false; open.len()];
    let mut rings = Vec::new();
    for start in 0..open.len() {
        let mut ring = Vec::new();
        let mut at = (!gone[start]).then_some(start);
        while let Some(edge) = at {
            gone[edge] = true;
            ring.push(open[edge].0);
            let to = open[edge].1;
            let first = open.partition_point(|e| e.0 < to);
            at = (first..open.len()).take_while(|&k| open[k].0 == to).find(|&k| !gone[k]);
        }
        if !ring.is_empty() {
            rings.push(ring);
        }
    }
    rings
}
