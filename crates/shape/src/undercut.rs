//! Undercut: skin that an upright cutter cannot reach, neither from the rim nor from the foot.
//!
//! A place of the skin can be reached if the air a hair off it is open to the sky or to the ground: the upright line through
//! it meets no material above, or none below. The hair, [`UNSEEN`], is what nobody sees or measures. How deep an undercut is
//! tells the way from there, level and through air, to where an upright line is open.

use geom::{DVec2, DVec3, Mesh, TriangleIndex};
use rayon::prelude::*;

/// Undercuts that are not deeper count as none, mm.
pub const UNSEEN: f64 = 0.02;
/// Samples of the skin lie about this far from each other, as a share of the greatest size.
const SHARE: f64 = 1.0 / 300.0;
/// Samples on one triangle, at most.
const MOST_ON_ONE: usize = 200_000;
/// Places whose depth is measured, at most.
const MOST_MEASURED: usize = 2000;
/// Directions in which a way out is looked for.
const WAYS: usize = 16;

/// The undercut of a solid.
#[derive(Clone, Debug, PartialEq)]
pub struct Undercut {
    /// Skin that cannot be reached, mm².
    pub area: f64,
    /// How deep it lies at the worst place, mm: infinite for a void without a way out.
    pub depth: f64,
    /// The worst place.
    pub worst: DVec3,
    /// Places of it, spread over all of it.
    pub places: Vec<DVec3>,
}

/// Measures the undercut; none if all skin can be reached.
pub fn undercut(mesh: &Mesh) -> Option<Undercut> {
    let (low, high) = mesh.bounds()?;
    let size = (high - low).max_element();
    let step = size * SHARE;
    let columns = Columns::of(mesh);
    // In equal parts, so that the sums do not depend on the number of threads.
    let part = |from: usize| {
        let mut found = Vec::new();
        for i in from..(from + 4096).min(mesh.triangles.len()) {
            hidden_on(&columns, i, step, &mut found);
        }
        found
    };
    let parts: Vec<Vec<Hidden>> = (0..mesh.triangles.len()).into_par_iter().step_by(4096).map(part).collect();
    let hidden: Vec<Hidden> = parts.into_iter().flatten().collect();
    let area = hidden.iter().map(|h| h.area).sum();
    let every = hidden.len().div_ceil(MOST_MEASURED).max(1);
    let spread: Vec<&Hidden> = hidden.iter().step_by(every).collect();
    let depths: Vec<f64> = spread.par_iter().map(|h| columns.depth(h, size)).collect();
    let worst = (0..spread.len()).reduce(|a, b| if depths[b] > depths[a] { b } else { a })?;
    Some(Undercut {
        area,
        depth: depths[worst],
        worst: spread[worst].at,
        places: spread.iter().map(|h| h.at).collect(),
    })
}

/// A place of the skin that cannot be reached, and the skin it stands for.
struct Hidden {
    at: DVec3,
    /// Out of the material.
    normal: DVec3,
    area: f64,
}

/// Adds the places of a triangle that cannot be reached.
fn hidden_on(columns: &Columns<'_>, i: usize, step: f64, found: &mut Vec<Hidden>) {
    let [a, b, c] = columns.mesh.corners(i);
    let normal = (b - a).cross(c - a);
    let area = normal.length() / 2.0;
    let normal = normal.normalize_or_zero();
    let places = places_on([a, b, c], step);
    let share = area / places.len().max(1) as f64;
    let hidden = places.into_iter().filter(|at| !columns.is_open(*at + normal * UNSEEN));
    found.extend(hidden.map(|at| Hidden { at, normal, area: share }));
}

/// Places on a triangle about `step` from each other, one at least; none if it has no area.
pub(crate) fn places_on([a, b, c]: [DVec3; 3], step: f64) -> Vec<DVec3> {
    let area = (b - a).cross(c - a).length() / 2.0;
    if area == 0.0 {
        return Vec::new();
    }
    let count = ((area / (step * step)).ceil() as usize).clamp(1, MOST_ON_ONE);
    let at = |[s, t]: [f64; 2]| a + (b - a) * s + (c - a) * t;
    if count == 1 { vec![at([1.0 / 3.0; 2])] } else { (0..count).map(|k| at(spread(k))).collect() }
}

/// The k-th of places spread evenly over a triangle (multiples of the powers of 1/g, g³ = g + 1, folded into the triangle; after
/// M. Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018; from memory).
fn spread(k: usize) -> [f64; 2] {
    const G: f64 = 1.324_717_957_244_746;
    let n = k as f64 + 0.5;
    let (s, t) = ((n / G).fract(), (n / (G * G)).fract());
    if s + t > 1.0 { [1.0 - s, 1.0 - t] } else { [s, t] }
}

/// Upright lines through a mesh.
pub(crate) struct Columns<'a> {
    mesh: &'a Mesh,
    index: TriangleIndex,
}

impl<'a> Columns<'a> {
    pub(crate) fn of(mesh: &'a Mesh) -> Self {
        let size = mesh.bounds().map_or(1.0, |(low, high)| (high - low).max_element());
        Self { mesh, index: TriangleIndex::new(mesh, size * SHARE / 2.0) }
    }

    /// Whether the middle of a triangle is open to the ground; `None` where it has no area.
    pub(crate) fn open_below(&self, i: usize) -> Option<bool> {
        let [a, b, c] = self.mesh.corners(i);
        let normal = (b - a).cross(c - a).try_normalize()?;
        Some(self.around((a + b + c) / 3.0 + normal * UNSEEN)[1] == 0)
    }

    /// How often the skin lies above and below a place on its upright line.
    fn around(&self, p: DVec3) -> [usize; 2] {
        let crossings = self.index.crossings(self.mesh, p.truncate());
        let above = crossings.iter().filter(|(z, _)| *z > p.z).count();
        [above, crossings.len() - above]
    }

    fn is_open(&self, p: DVec3) -> bool {
        self.around(p).contains(&0)
    }

    /// The least level way through air to an open place: looked for in steps that grow by a quarter, then by halving.
    fn depth(&self, hidden: &Hidden, size: f64) -> f64 {
        let from = hidden.at + hidden.normal * UNSEEN;
        let mut least = f64::INFINITY;
        for k in 0..WAYS {
            let way = DVec2::from_angle(std::f64::consts::TAU * k as f64 / WAYS as f64).extend(0.0);
            let mut by = UNSEEN;
            while by / 1.25 < size.min(least) {
                let [above, below] = self.around(from + way * by);
                if above == 0 || below == 0 {
                    let (mut closed, mut open) = (by / 1.25, by);
                    for _ in 0..8 {
                        let middle = (closed + open) / 2.0;
                        *(if self.is_open(from + way * middle) { &mut open } else { &mut closed }) = middle;
                    }
                    least = least.min(open);
                    break;
                } else if above % 2 == 1 {
                    break;
                }
                by *= 1.25;
            }
        }
        least
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn cuboid(low: [f64; 3], high: [f64; 3]) -> Mesh {
        Mesh::cuboid(DVec3::from_array(low), DVec3::from_array(high))
    }

    #[test]
    fn blocks_bowls_and_upright_walls_have_none() {
        let block = cuboid([-30.0, -20.0, 0.0], [30.0, 20.0, 25.0]);
        assert_eq!(undercut(&block), None);
        let tray = block.minus(&cuboid([-25.0, -15.0, 5.0], [25.0, 15.0, 30.0])).unwrap();
        assert_eq!(undercut(&tray), None);
        let both = tray.minus(&cuboid([-20.0, -10.0, -1.0], [20.0, 10.0, 2.0])).unwrap();
        assert_eq!(undercut(&both), None);
    }

    #[test]
    fn a_groove_round_the_inside_is_measured() {
        // A pocket of 40 × 20 under a mouth of 40 × 20 with a groove 4 mm deep, from 8 to 14 mm high, along one long side.
        let block = cuboid([-30.0, -20.0, 0.0], [30.0, 20.0, 25.0]);
        let open = block.minus(&cuboid([-20.0, -10.0, 5.0], [20.0, 10.0, 30.0])).unwrap();
        let grooved = open.minus(&cuboid([-20.0, 9.0, 8.0], [20.0, 14.0, 14.0])).unwrap();
        let found = undercut(&grooved).unwrap();
        // Back 40 × 6, top and bottom 40 × 4, two ends 6 × 4.
        let area = 40.0 * 6.0 + 2.0 * 40.0 * 4.0 + 2.0 * 6.0 * 4.0;
        assert!((found.area / area - 1.0).abs() < 0.02, "{found:?}");
        assert!((found.depth / 4.0 - 1.0).abs() < 0.02, "{}", found.depth);
        assert!(found.worst.y > 13.9 && (7.9..14.1).contains(&found.worst.z), "{}", found.worst);
        assert!(found.places.iter().all(|p| p.y > 9.9 && p.z > 7.9 && p.z < 14.1));
    }

    #[test]
    fn a_belly_that_both_sides_reach_is_none_and_a_void_is_without_end() {
        // A ball, and a ball with a ball inside: skin 4π r².
        let ball = |radius: f64| {
            let rows: Vec<DVec2> =
                (0..=64).map(|k| DVec2::from_angle(PI * (f64::from(k) / 64.0 - 0.5)) * radius).collect();
            revolved(&rows)
        };
        assert_eq!(undercut(&ball(30.0)), None);
        let hollow = ball(30.0).minus(&ball(20.0)).unwrap();
        let found = undercut(&hollow).unwrap();
        assert!((found.area / (4.0 * PI * 400.0) - 1.0).abs() < 0.02, "{}", found.area);
        assert_eq!(found.depth, f64::INFINITY);
    }

    #[test]
    fn less_than_the_hair_is_not_told() {
        // A cup whose wall leans in by 0.015 or 0.3 mm over its depth.
        for (lean, told) in [(0.015, false), (0.3, true)] {
            let rows = [[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [25.0, 40.0], [25.0 + lean, 6.0], [0.0, 6.0]];
            let cup = revolved(&rows.map(DVec2::from_array));
            let found = undercut(&cup);
            assert_eq!(found.is_some(), told, "{found:?}");
            if let Some(found) = found {
                assert!((found.depth - (lean - UNSEEN)).abs() < 0.02, "{}", found.depth);
            }
        }
    }

    /// A profile turned about the upright axis, its ends on the axis.
    fn revolved(rows: &[DVec2]) -> Mesh {
        const N: u32 = 128;
        let mut mesh = Mesh::default();
        for row in rows {
            for k in 0..N {
                let radial = DVec2::from_angle(2.0 * PI * f64::from(k) / f64::from(N)) * row.x;
                mesh.vertices.push(radial.extend(row.y));
            }
        }
        for r in 0..rows.len() as u32 - 1 {
            for k in 0..N {
                let (a, b) = (r * N + k, r * N + (k + 1) % N);
                mesh.triangles.extend([[a, b, b + N], [a, b + N, a + N]]);
            }
        }
        // Rings on the axis become one corner.
        for v in &mut mesh.vertices {
            if v.truncate().length() < 1e-9 {
                *v = DVec3::new(0.0, 0.0, v.z);
            }
        }
        mesh.welded()
    }
}
