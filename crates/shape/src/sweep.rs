//! Meshes from rows of sections: every row is the outline at one inset and one height.
//!
//! All rows share the same stations, so neighbouring rows are joined by a strip of quads. The chord tolerance is split:
//! one half along the plan (the stations), the other along the section (the rows). Both add up, for the mixed second
//! derivative of such a surface lies in the surface and lifts no facet off it.

use crate::outline::Station;
use geom::{DVec2, DVec3, Mesh, ears};

/// Points of a cap's ring below which it is closed by a fan.
const FAN: usize = 16;

/// A closed body from rows (d, z): its first row is closed by a level cap that looks down, its last by one that looks
/// up. Rows must run so that the outside lies on the right, seen with d to the left and z up: out along the bottom, up
/// the outside, in along the top, down the inside.
pub(crate) fn body(stations: &[Station], rows: &[DVec2]) -> Mesh {
    let mut mesh = strips(stations, rows, false);
    let last = (rows.len() - 1) * stations.len();
    let plan = |d: f64| -> Vec<DVec2> { stations.iter().map(|s| s.inset(d)).collect() };
    let (bottom, top) = (rows[0], rows[rows.len() - 1]);
    cap(&mut mesh, 0, &plan(bottom.x), bottom.y, false);
    cap(&mut mesh, last, &plan(top.x), top.y, true);
    mesh
}

/// A closed ring from rows (d, z) that return to the first, in the same sense as for [`body`].
pub(crate) fn ring(stations: &[Station], rows: &[DVec2]) -> Mesh {
    strips(stations, rows, true)
}

/// A closed body from rows (d, z) over a band that is symmetric about the line from its first station to the one half round:
/// its level bottom and top are ladders from one side to the other.
pub(crate) fn band(stations: &[Station], rows: &[DVec2]) -> Mesh {
    let mut mesh = strips(stations, rows, false);
    let n = stations.len();
    for (row, up) in [(0, false), (rows.len() - 1, true)] {
        let first = row * n;
        let mut add = |[a, b, c]: [usize; 3]| {
            let [a, b, c] = [a, b, c].map(|v| first + v % n);
            mesh.triangles.push(triangle(if up { [a, b, c] } else { [a, c, b] }));
        };
        for k in 0..n / 2 {
            // From the first station on one side, and back from it on the other.
            let [a, b, c, d] = [k, k + 1, n - k - 1, n - k];
            if k > 0 {
                add([a, b, d]);
            }
            if b != c {
                add([b, c, d]);
            }
        }
    }
    mesh
}

fn strips(stations: &[Station], rows: &[DVec2], closed: bool) -> Mesh {
    let n = stations.len();
    let mut mesh = Mesh::default();
    for row in rows {
        mesh.vertices.extend(stations.iter().map(|s| s.inset(row.x).extend(row.y)));
    }
    let strips = if closed { rows.len() } else { rows.len() - 1 };
    for i in 0..strips {
        let (low, high) = (i * n, (i + 1) % rows.len() * n);
        for j in 0..n {
            let k = (j + 1) % n;
            mesh.triangles.push(triangle([low + j, low + k, high + k]));
            mesh.triangles.push(triangle([low + j, high + k, high + j]));
        }
    }
    mesh
}

fn triangle(of: [usize; 3]) -> [u32; 3] {
    of.map(|v| v as u32)
}

/// Closes a ring of vertices (counter-clockwise in plan) with level triangles.
///
/// Rings of half the size and half the points lie inside one another down to a fan, which keeps triangles compact;
/// where a coarse ring would fold (deeply waisted outlines), the whole cap is one fan about the origin, and where not all
/// of it is seen from there, ears are cut off it.
fn cap(mesh: &mut Mesh, first: usize, plan: &[DVec2], z: f64, up: bool) {
    let mut points = plan.to_vec();
    let mut outer: Vec<usize> = (0..plan.len()).collect();
    let mut triangles = Vec::new();
    while outer.len() > FAN {
        let inner: Vec<usize> = (0..outer.len().div_ceil(2)).map(|k| points.len() + k).collect();
        points.extend(outer.iter().step_by(2).map(|&v| points[v] * 0.5).collect::<Vec<_>>());
        step_down(&outer, &inner, &mut triangles);
        outer = inner;
    }
    fan(&outer, points.len(), &mut triangles);
    points.push(DVec2::ZERO);
    let grows =
        |t: &[usize; 3], points: &[DVec2]| (points[t[1]] - points[t[0]]).perp_dot(points[t[2]] - points[t[0]]) > 0.0;
    if !triangles.iter().all(|t| grows(t, &points)) {
        points.truncate(plan.len());
        points.push(DVec2::ZERO);
        triangles.clear();
        fan(&(0..plan.len()).collect::<Vec<_>>(), plan.len(), &mut triangles);
        if !triangles.iter().all(|t| grows(t, &points)) {
            points.truncate(plan.len());
            triangles = ears(plan).iter().map(|t| t.map(|v| v as usize)).collect();
        }
    }
    let added = mesh.vertices.len();
    let vertex = |v: usize| if v < plan.len() { first + v } else { added + v - plan.len() };
    mesh.triangles.extend(triangles.iter().map(|&[a, b, c]| {
        let [a, b, c] = [a, b, c].map(vertex);
        triangle(if up { [a, b, c] } else { [a, c, b] })
    }));
    mesh.vertices.extend(points[plan.len()..].iter().map(|p| DVec3::new(p.x, p.y, z)));
}

/// Joins a ring to one inside it that has every second of its points.
fn step_down(outer: &[usize], inner: &[usize], triangles: &mut Vec<[usize; 3]>) {
    let (n, m) = (outer.len(), inner.len());
    for k in 0..m {
        let (o, i, i_next) = (outer[2 * k], inner[k], inner[(k + 1) % m]);
        if 2 * k + 1 == n {
            triangles.extend([[o, outer[0], i_next], [o, i_next, i]]);
            continue;
        }
        let (middle, next) = (outer[2 * k + 1], outer[(2 * k + 2) % n]);
        triangles.extend([[o, middle, i], [middle, next, i_next], [middle, i_next, i]]);
    }
}

fn fan(ring: &[usize], centre: usize, triangles: &mut Vec<[usize; 3]>) {
    triangles.extend((0..ring.len()).map(|k| [ring[k], ring[(k + 1) % ring.len()], centre]));
}
