//! The solid under a roof of even slope over a region, upside down: what a pointed tool leaves that follows the medial axis.

use super::{Branch, Disc, MedialAxis, outline::Outline};
use crate::{Mesh, mesh::SolidError};
use glam::{DVec2, DVec3};

/// How a roof stands over its region.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roof {
    /// Depth over distance from the boundary.
    pub slope: f64,
    /// Where it is flat, mm below the boundary.
    pub deepest: f64,
    /// Height of the solid above the boundary, which lies at z = 0, mm: upright sides.
    pub above: f64,
}

impl MedialAxis {
    /// The solid whose underside falls from the region's boundary inwards, no deeper than asked, and whose sides stand upright
    /// above it. True to the tolerance of the axis times the slope; what it is off, it is too deep.
    ///
    /// # Errors
    /// [`SolidError`] if the skin does not close.
    pub fn roof(&self, roof: &Roof) -> Result<Mesh, SolidError> {
        let flat_at = roof.deepest / roof.slope;
        let mut mesh = Mesh::default();
        let mut from = 0;
        for (outline, to) in &self.parts {
            let branches: Vec<Branch> = self.branches[from..*to]
                .iter()
                .map(|b| Branch { discs: cut_at(&b.discs, flat_at), ..b.clone() })
                .collect();
            from = *to;
            let mut cells: Vec<Vec<&Branch>> = vec![Vec::new(); 2 * outline.sides()];
            for branch in &branches {
                branch.sites.iter().for_each(|&s| cells[s].push(branch));
            }
            for site in outline.all_sites() {
                add_cell(&mut mesh, outline, site, &chain(outline, site, &cells[site]), (roof, flat_at));
            }
        }
        add_top(&mut mesh, roof.above);
        self.parts.iter().for_each(|(outline, _)| add_sides(&mut mesh, outline, roof.above));
        let mesh = mesh.welded();
        if mesh.is_closed() { Ok(mesh) } else { Err(SolidError("the skin of the roof does not close".into())) }
    }
}

/// With discs of exactly that radius put in where it is passed.
fn cut_at(discs: &[Disc], radius: f64) -> Vec<Disc> {
    let mut out: Vec<Disc> = discs.first().copied().into_iter().collect();
    for w in discs.windows(2) {
        let (a, b) = (w[0].radius - radius, w[1].radius - radius);
        if a * b < 0.0 {
            out.push(Disc { radius, ..w[0].lerp(&w[1], a / (a - b)) });
        }
        out.push(w[1]);
    }
    out
}

/// The discs round the far side of a site's cell, along the site.
fn chain(outline: &Outline, site: usize, branches: &[&Branch]) -> Vec<Disc> {
    let foot = |d: &Disc| outline.foot(site, d.at);
    let mut runs: Vec<(f64, Vec<Disc>)> = branches
        .iter()
        .map(|b| {
            let (first, last) = (b.discs[0], b.discs[b.discs.len() - 1]);
            let mut discs = b.discs.clone();
            // A corner of the region has no foot but itself.
            if foot(&first) > foot(&last) {
                discs.reverse();
            }
            (0.5 * (foot(&first) + foot(&last)), discs)
        })
        .collect();
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut all: Vec<Disc> = runs.into_iter().flat_map(|r| r.1).collect();
    all.dedup_by(|a, b| a.at == b.at);
    all
}

/// The slope over a cell, and the flat parts in it.
fn add_cell(mesh: &mut Mesh, outline: &Outline, site: usize, chain: &[Disc], (roof, flat_at): (&Roof, f64)) {
    let n = chain.len();
    let over = |k: usize| chain[k].radius > flat_at;
    let depth = |k: usize| -chain[k].radius.min(flat_at) * roof.slope;
    let deep = |p: DVec2| p.extend(-roof.deepest);
    // Where the rim of the flat lies on the way from a corner to a disc's middle.
    let rim = |from: DVec2, k: usize| match over(k) {
        true => from + (chain[k].at - from) * (flat_at / chain[k].radius),
        false => chain[k].at,
    };
    let runs = chain_runs(n, &over);
    if let Some(v) = site.checked_sub(outline.sides()) {
        let v = outline.vertices[v];
        let lower: Vec<DVec3> = (0..n).map(|k| rim(v, k).extend(depth(k))).collect();
        lower.windows(2).for_each(|w| add_triangle(mesh, [v.extend(0.0), w[1], w[0]]));
        for k in runs.into_iter().flat_map(|(from, to)| from.saturating_sub(1)..(to + 1).min(n - 1)) {
            let [a, b] = [k, k + 1].map(|j| deep(chain[j].at));
            add_triangle(mesh, [lower[k], lower[k + 1], b]);
            add_triangle(mesh, [lower[k], b, a]);
        }
        return;
    }
    let (start, end) = (outline.vertices[site], outline.vertices[outline.next[site]]);
    // Discs at the ends of the chain that lie over the flat touch the side at its own ends.
    let ends = |k: usize| if k == 0 { rim(start, k) } else { rim(end, k) };
    let mut slope = vec![start.extend(0.0)];
    for k in (0..n).filter(|&k| !over(k) || k == 0 || k + 1 == n) {
        slope.push(if over(k) { ends(k) } else { chain[k].at }.extend(depth(k)));
    }
    slope.push(end.extend(0.0));
    add_under(mesh, &slope);
    for (from, to) in runs {
        let first = if from == 0 { ends(0) } else { chain[from - 1].at };
        let last = if to + 1 == n { ends(n - 1) } else { chain[to + 1].at };
        let middle = (from..=to).map(|k| chain[k].at);
        let flat: Vec<DVec3> = std::iter::once(first).chain(middle).chain([last]).map(deep).collect();
        add_under(mesh, &flat);
    }
}

/// First and last of each run for which the test is true.
fn chain_runs(n: usize, test: &dyn Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for k in (0..n).filter(|&k| test(k)) {
        match runs.last_mut() {
            Some(run) if run.1 + 1 == k => run.1 = k,
            _ => runs.push((k, k)),
        }
    }
    runs
}

/// The polygon between a path that never turns back and the straight way from its start to its end, the polygon on the path's
/// right: cut off from the path as soon as a corner can be (as of a monotone polygon: Garey, Johnson, Preparata, Tarjan 1978).
/// Points in line with their neighbours keep their place.
fn add_under(mesh: &mut Mesh, path: &[DVec3]) {
    let mut path = path.to_vec();
    path.dedup();
    let Some((&last, path)) = path.split_last() else { return };
    let mut open: Vec<DVec3> = Vec::new();
    for &p in path {
        while let [.., a, b] = open[..]
            && (b - a).truncate().perp_dot((p - b).truncate()) < 0.0
        {
            add_triangle(mesh, [a, p, b]);
            open.pop();
        }
        open.push(p);
    }
    open.windows(2).for_each(|w| add_triangle(mesh, [w[0], last, w[1]]));
}

/// A triangle given counter-clockwise as seen from above, as part of an underside.
fn add_triangle(mesh: &mut Mesh, [a, b, c]: [DVec3; 3]) {
    let base = mesh.vertices.len() as u32;
    mesh.vertices.extend([a, b, c]);
    mesh.triangles.push([base, base + 2, base + 1]);
}

/// The face on top: what lies under it, seen from the other side. Cut into triangles by itself it might skip corners that lie in
/// line with others.
fn add_top(mesh: &mut Mesh, above: f64) {
    for k in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(k).map(|p| p.truncate().extend(above));
        let base = mesh.vertices.len() as u32;
        mesh.vertices.extend([a, c, b]);
        mesh.triangles.push([base, base + 1, base + 2]);
    }
}

/// The upright sides.
fn add_sides(mesh: &mut Mesh, outline: &Outline, above: f64) {
    let base = mesh.vertices.len() as u32;
    let n = outline.sides() as u32;
    mesh.vertices.extend(outline.vertices.iter().map(|p| p.extend(0.0)));
    mesh.vertices.extend(outline.vertices.iter().map(|p| p.extend(above)));
    for (i, &j) in outline.next.iter().enumerate() {
        let (a, b) = (base + i as u32, base + j as u32);
        mesh.triangles.extend([[a, b, b + n], [a, b + n, a + n]]);
    }
}
