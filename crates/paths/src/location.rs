//! Cutter location: the lowest tip height at which a cutter does not enter a mesh, exact over facets, edges, vertices.
//!
//! The tip height needed by one point of the surface is its height less the rise of the cutter's underside at its
//! distance from the axis. Over a facet or an edge that is a concave function, so its maximum is found in closed form
//! (bracketed Newton for a bull's corner over an edge). Facets and edges lie in square cells, the highest first; cells
//! are visited in the order of the best they could give, until none can better what was found.

use crate::contact::{Edge, Facet, Underside};
use geom::{DVec2, DVec3, Grid, Mesh};
use rayon::prelude::*;
use trade::cutter::Solid;

/// Marks an item of a cell as an edge.
const EDGE: u32 = 1 << 31;
/// Gradients differing by less than this across an edge do not make a valley.
const VALLEY: f64 = 1e-8;
/// Facets lower than this are slivers, mm.
const SLIVER: f64 = 1e-5;
/// Cells per cutter radius.
const FINE: f64 = 2.0;
/// Cells under the cutter, at most.
const UNDER: usize = 49;

/// A facet or edge in a cell.
#[derive(Clone, Copy, Debug)]
struct Item {
    /// Its greatest height within the cell.
    top: f64,
    /// Which one.
    id: u32,
}

/// A mesh made ready for one cutter.
#[derive(Clone, Debug)]
pub struct CutterLocation {
    under: Underside,
    /// Without the allowance: what really cuts.
    bare: Underside,
    allowance: f64,
    facets: Vec<Facet>,
    edges: Vec<Edge>,
    cells: Cells,
}

/// The facet or edge that the cutter touched last.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Touched(Option<u32>);

/// A plane above everything in a cell: z ≤ height + gradient · (q − middle), and z ≤ top.
#[derive(Clone, Copy, Debug)]
struct Lid {
    top: f64,
    height: f64,
    gradient: [f64; 2],
}

/// Square cells over the mesh with their items, the highest first.
#[derive(Clone, Debug)]
struct Cells {
    origin: [f64; 2],
    size: f64,
    nx: usize,
    ny: usize,
    lids: Vec<Lid>,
    start: Vec<u32>,
    /// How many of a cell's items are facets.
    facets: Vec<u32>,
    items: Vec<Item>,
}

impl CutterLocation {
    /// `allowance` mm are left on everywhere (the cutter is thought thicker by it: radius, corner and below the tip).
    pub fn new(mesh: &Mesh, cutter: &Solid, allowance: f64) -> Self {
        let allowance = allowance.max(0.0);
        let under = Underside::new(cutter, allowance);
        let corners = |i: usize| mesh.corners(i).map(|v| v.to_array());
        let mut facets = Vec::with_capacity(mesh.triangles.len());
        let mut plans = Vec::with_capacity(mesh.triangles.len());
        for i in 0..mesh.triangles.len() {
            let t = corners(i);
            if let Some(facet) = Facet::new(t, &under) {
                facets.push(facet);
                plans.push(t);
            }
        }
        let edges = edges(mesh, &under);
        let cells = Cells::new(mesh, &plans, &edges, (under.radius / FINE).max(0.25));
        Self { under, bare: Underside::new(cutter, 0.0), allowance, facets, edges, cells }
    }

    /// Lowest tip height at (x, y); `None` where no triangle lies under the cutter.
    pub fn height(&self, x: f64, y: f64) -> Option<f64> {
        let z = self.height_above(x, y, f64::NEG_INFINITY);
        (z > f64::NEG_INFINITY).then_some(z)
    }

    /// The greater of `floor` and the lowest tip height at (x, y): quick where the surface lies below `floor`.
    pub fn height_above(&self, x: f64, y: f64, floor: f64) -> f64 {
        self.height_beside(x, y, floor, &mut Touched::default())
    }

    /// The same, quicker where the last place lay near: what was touched there is looked at first.
    pub(crate) fn height_beside(&self, x: f64, y: f64, floor: f64, touched: &mut Touched) -> f64 {
        let mut best = floor - self.allowance;
        if let Some(z) = touched.0.and_then(|id| self.contact(id, x, y, best)) {
            best = best.max(z);
        }
        self.search(x, y, &mut best, touched, |_| false);
        (best + self.allowance).max(floor)
    }

    /// Whether the tip may stand at (x, y, z).
    pub(crate) fn clears(&self, x: f64, y: f64, z: f64) -> bool {
        let mut best = z - self.allowance;
        !self.search(x, y, &mut best, &mut Touched::default(), |higher| higher + self.allowance > z)
    }

    /// Raises `best` to the highest contact, until none can better it or `enough` of one; whether it was enough.
    fn search(&self, x: f64, y: f64, best: &mut f64, touched: &mut Touched, enough: impl Fn(f64) -> bool) -> bool {
        let mut near = [(0.0_f64, 0.0_f64, 0_u32); UNDER];
        let count = self.cells.under(x, y, &self.under, *best, &mut near);
        let near = &mut near[..count];
        while let Some(pick) = (0..near.len()).max_by(|&i, &j| near[i].0.total_cmp(&near[j].0)) {
            let (bound, rise, cell) = near[pick];
            if bound <= *best {
                break;
            }
            near[pick].0 = f64::NEG_INFINITY;
            // Facets first: most contacts are theirs, and then few edges need a closer look.
            let (facets, edges) = self.cells.split(cell as usize);
            for items in [facets, edges] {
                for item in items {
                    if item.top - rise <= *best {
                        break;
                    }
                    if let Some(z) = self.contact(item.id, x, y, *best)
                        && z > *best
                    {
                        (*best, *touched) = (z, Touched(Some(item.id)));
                        if enough(z) {
                            return true;
                        }
                    }
                }
            }
        }
        false
    }

    /// Tip height asked for by one item; `None` where it is not touched, or cannot ask for more than `best`.
    #[inline]
    fn contact(&self, id: u32, x: f64, y: f64, best: f64) -> Option<f64> {
        if id & EDGE == 0 {
            self.facets[id as usize].contact(x, y, best)
        } else {
            self.edges[(id & !EDGE) as usize].contact(x, y, &self.under, best)
        }
    }

    /// Tip heights on a lattice, `-inf` where nothing lies below; computed in parallel, row by row.
    pub fn grid(&self, origin: DVec2, pitch: f64, nx: usize, ny: usize) -> Grid<f64> {
        let mut grid = Grid::filled(origin, pitch, nx, ny, f64::NEG_INFINITY);
        if nx > 0 {
            grid.values.par_chunks_mut(nx).enumerate().for_each(|(iy, row)| {
                let y = origin.y + iy as f64 * pitch;
                let mut touched = Touched::default();
                for (ix, z) in row.iter_mut().enumerate() {
                    *z = self.height_beside(origin.x + ix as f64 * pitch, y, f64::NEG_INFINITY, &mut touched);
                }
            });
        }
        grid
    }

    /// Radius of the cutter with the allowance, mm.
    pub fn reach(&self) -> f64 {
        self.under.radius
    }

    /// The cutter's underside as it cuts.
    pub(crate) fn bare(&self) -> &Underside {
        &self.bare
    }

    /// What is left on everywhere, mm.
    pub fn allowance(&self) -> f64 {
        self.allowance
    }
}

impl Cells {
    fn new(mesh: &Mesh, plans: &[[[f64; 3]; 3]], edges: &[Edge], least: f64) -> Self {
        let (mut min, mut max) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for v in &mesh.vertices {
            min = [min[0].min(v.x), min[1].min(v.y)];
            max = [max[0].max(v.x), max[1].max(v.y)];
        }
        if !(max[0] >= min[0] && max[1] >= min[1]) || (plans.is_empty() && edges.is_empty()) {
            return Self {
                origin: [0.0; 2],
                size: 1.0,
                nx: 0,
                ny: 0,
                lids: Vec::new(),
                start: vec![0],
                facets: Vec::new(),
                items: Vec::new(),
            };
        }
        // Never more cells than about the triangles are worth.
        let size = least.max(((max[0] - min[0]) * (max[1] - min[1]) / 4.0e6).sqrt());
        let count = |k: usize| ((max[k] - min[k]) / size) as usize + 1;
        let (nx, ny) = (count(0), count(1));
        let mut cells = Self {
            origin: min,
            size,
            nx,
            ny,
            lids: Vec::new(),
            start: Vec::new(),
            facets: Vec::new(),
            items: Vec::new(),
        };
        let mut placed: Vec<(u32, Item)> = Vec::new();
        for (i, t) in plans.iter().enumerate() {
            cells.place_facet(t, i as u32, &mut placed);
        }
        for (i, e) in edges.iter().enumerate() {
            let ends = e.ends();
            let (lo, hi) = (lower(&ends), upper(&ends));
            cells.each(lo, hi, |cell, min, max| {
                if let Some([p, q]) = e.within(min, max) {
                    let top = p[2].max(q[2]);
                    placed.push((cell, Item { top, id: i as u32 | EDGE }));
                }
            });
        }
        placed.sort_unstable_by(|a, b| {
            let kind = (a.1.id & EDGE).cmp(&(b.1.id & EDGE));
            a.0.cmp(&b.0).then(kind).then(b.1.top.total_cmp(&a.1.top)).then(a.1.id.cmp(&b.1.id))
        });
        cells.start = vec![0; nx * ny + 1];
        for (cell, _) in &placed {
            cells.start[*cell as usize + 1] += 1;
        }
        for c in 0..nx * ny {
            cells.start[c + 1] += cells.start[c];
        }
        cells.items = placed.into_iter().map(|(_, item)| item).collect();
        let facets = |c: usize| cells.items(c).partition_point(|i| i.id & EDGE == 0) as u32;
        cells.facets = (0..nx * ny).map(facets).collect();
        cells.lids = (0..nx * ny).into_par_iter().map(|c| cells.lid(c, plans, edges)).collect();
        cells
    }

    /// The lid of a cell: as steep as its facets are on average.
    fn lid(&self, cell: usize, plans: &[[[f64; 3]; 3]], edges: &[Edge]) -> Lid {
        let items = self.items(cell);
        let Some(top) = items.iter().map(|i| i.top).reduce(f64::max) else {
            return Lid { top: f64::NEG_INFINITY, height: f64::NEG_INFINITY, gradient: [0.0; 2] };
        };
        let (mut sum, mut count) = ([0.0; 2], 0.0);
        for item in items.iter().filter(|i| i.id & EDGE == 0) {
            let n = normal(&plans[item.id as usize]);
            let g = [-n[0] / n[2], -n[1] / n[2]];
            if g[0].abs() + g[1].abs() < 10.0 {
                sum = [sum[0] + g[0], sum[1] + g[1]];
                count += 1.0;
            }
        }
        let gradient = if count > 0.0 { [sum[0] / count, sum[1] / count] } else { [0.0; 2] };
        let slack = 1e-9 * (1.0 + self.size);
        let min = self.corner(cell).map(|v| v - slack);
        let max = min.map(|v| v + self.size + 2.0 * slack);
        let middle = [0.5 * (min[0] + max[0]), 0.5 * (min[1] + max[1])];
        let mut height = f64::NEG_INFINITY;
        let mut over = |p: [f64; 3]| {
            height = height.max(p[2] - gradient[0] * (p[0] - middle[0]) - gradient[1] * (p[1] - middle[1]));
        };
        for item in items {
            if item.id & EDGE != 0 {
                edges[(item.id & !EDGE) as usize].within(min, max).into_iter().flatten().for_each(&mut over);
                continue;
            }
            // A facet's part in the cell has its corners where its edges meet the cell, or in corners of the cell.
            let t = &plans[item.id as usize];
            for k in 0..3 {
                Edge::new(t[k], t[(k + 1) % 3]).within(min, max).into_iter().flatten().for_each(&mut over);
            }
            let n = normal(t);
            for (x, y) in [(min[0], min[1]), (min[0], max[1]), (max[0], min[1]), (max[0], max[1])] {
                if !apart(t, [x, y], [x, y]) {
                    over([x, y, t[0][2] - (n[0] * (x - t[0][0]) + n[1] * (y - t[0][1])) / n[2]]);
                }
            }
        }
        Lid { top, height: height + 1e-7, gradient }
    }

    /// Least corner of a cell.
    fn corner(&self, cell: usize) -> [f64; 2] {
        [self.origin[0] + (cell % self.nx) as f64 * self.size, self.origin[1] + (cell / self.nx) as f64 * self.size]
    }

    /// Calls `visit` with every cell meeting a box in plan, and the cell's own box (a hair larger).
    fn each(&self, lo: [f64; 2], hi: [f64; 2], mut visit: impl FnMut(u32, [f64; 2], [f64; 2])) {
        let slack = 1e-9 * (1.0 + self.size);
        let index = |v: f64, k: usize, n: usize| (((v - self.origin[k]) / self.size).max(0.0) as usize).min(n - 1);
        let (x0, x1) = (index(lo[0] - slack, 0, self.nx), index(hi[0] + slack, 0, self.nx));
        let (y0, y1) = (index(lo[1] - slack, 1, self.ny), index(hi[1] + slack, 1, self.ny));
        for iy in y0..=y1 {
            for ix in x0..=x1 {
                let min = [self.origin[0] + ix as f64 * self.size, self.origin[1] + iy as f64 * self.size];
                visit(
                    (iy * self.nx + ix) as u32,
                    [min[0] - slack, min[1] - slack],
                    [min[0] + self.size + slack, min[1] + self.size + slack],
                );
            }
        }
    }

    fn place_facet(&self, t: &[[f64; 3]; 3], id: u32, placed: &mut Vec<(u32, Item)>) {
        let n = normal(t);
        let top = t.iter().map(|v| v[2]).fold(f64::NEG_INFINITY, f64::max);
        self.each(lower(t), upper(t), |cell, min, max| {
            if apart(t, min, max) {
                return;
            }
            let plane = |x: f64, y: f64| t[0][2] - (n[0] * (x - t[0][0]) + n[1] * (y - t[0][1])) / n[2];
            let corner = [(min[0], min[1]), (min[0], max[1]), (max[0], min[1]), (max[0], max[1])];
            let in_cell = corner.iter().map(|c| plane(c.0, c.1)).fold(f64::NEG_INFINITY, f64::max);
            placed.push((cell, Item { top: top.min(in_cell + 1e-9), id }));
        });
    }

    fn items(&self, cell: usize) -> &[Item] {
        &self.items[self.start[cell] as usize..self.start[cell + 1] as usize]
    }

    /// Facets and edges of a cell, each the highest first.
    fn split(&self, cell: usize) -> (&[Item], &[Item]) {
        self.items(cell).split_at(self.facets[cell] as usize)
    }

    /// Cells under a cutter at (x, y) that could give more than `best`: (bound, least rise of the underside, cell).
    fn under(&self, x: f64, y: f64, under: &Underside, best: f64, near: &mut [(f64, f64, u32); UNDER]) -> usize {
        let r = under.radius + 1e-9;
        let first = |v: f64, k: usize| ((v - r - self.origin[k]) / self.size).floor().max(0.0);
        let last = |v: f64, k: usize| ((v + r - self.origin[k]) / self.size).floor();
        let (x0, x1) = (first(x, 0), last(x, 0).min(self.nx as f64 - 1.0));
        let (y0, y1) = (first(y, 1), last(y, 1).min(self.ny as f64 - 1.0));
        if !(x1 >= x0 && y1 >= y0) {
            return 0;
        }
        let mut count = 0;
        for iy in y0 as usize..=y1 as usize {
            let low = self.origin[1] + iy as f64 * self.size;
            let dy = (low - y).max(y - low - self.size).max(0.0);
            for ix in x0 as usize..=x1 as usize {
                let cell = iy * self.nx + ix;
                let lid = &self.lids[cell];
                if lid.top <= best {
                    continue;
                }
                let left = self.origin[0] + ix as f64 * self.size;
                let dx = (left - x).max(x - left - self.size).max(0.0);
                let d = (dx * dx + dy * dy).sqrt() - 1e-8;
                if d > under.radius {
                    continue;
                }
                let rise = under.rise(d);
                let half = 0.5 * self.size;
                let to = [left + half - x, low + half - y];
                let bound = (lid.top - rise).min(lid.bound(to, half, under));
                if bound > best {
                    near[count] = (bound, rise, cell as u32);
                    count += 1;
                }
            }
        }
        count
    }
}

impl Lid {
    /// What the cell could give at most: the tangent of the concave function lid − underside, taken at the cell's middle
    /// (drawn in under the cutter) and at its best corner. `to` leads from the axis to the middle.
    #[inline]
    fn bound(&self, to: [f64; 2], half: f64, under: &Underside) -> f64 {
        let rho = (to[0] * to[0] + to[1] * to[1]).sqrt();
        let limit = 0.97 * under.radius;
        let share = if rho > limit { limit / rho } else { 1.0 };
        let at = rho * share;
        let s = if at > 0.0 { under.slope(at) / at } else { 0.0 };
        let rate = [self.gradient[0] - s * to[0] * share, self.gradient[1] - s * to[1] * share];
        // From the point where the tangent is taken to the middle, then to the corner.
        let back = [to[0] * (1.0 - share), to[1] * (1.0 - share)];
        let value = self.height - self.gradient[0] * back[0] - self.gradient[1] * back[1] - under.rise(at);
        value + rate[0] * back[0] + rate[1] * back[1] + (rate[0].abs() + rate[1].abs()) * half
    }
}

/// Edges that can be touched. For a smooth underside these are not the bottoms of valleys between two facets that face
/// up, and ridges between such facets are touched only within a window; their ends are then points of their own.
fn edges(mesh: &Mesh, under: &Underside) -> Vec<Edge> {
    let place = |v: u32| mesh.vertices[v as usize].to_array();
    let sides = sides(mesh);
    let groups = || sides.chunk_by(|s, t| (s.0, s.1) == (t.0, t.1));
    if !under.is_smooth() {
        return groups().map(|group| Edge::new(place(group[0].0), place(group[0].1))).collect();
    }
    let gradients: Vec<Option<[f64; 2]>> = (0..mesh.triangles.len()).map(|i| gradient(mesh, i)).collect();
    let mut edges = Vec::new();
    // Points that can be touched, and points not surrounded by facets that face up.
    let (mut touched, mut open) = (vec![false; mesh.vertices.len()], vec![false; mesh.vertices.len()]);
    for group in groups() {
        let (a, b, _) = group[0];
        let edge = Edge::new(place(a), place(b));
        match meeting(mesh, &gradients, group) {
            Some((_, steepens)) if steepens > VALLEY => continue,
            Some((facets, _)) => edges.push(edge.between(facets, under)),
            None => {
                edges.push(edge);
                open[a as usize] = true;
                open[b as usize] = true;
            }
        }
        touched[a as usize] = true;
        touched[b as usize] = true;
    }
    // Mean of the gradients around each point, and how far they differ from it.
    let (mut sums, mut spreads) = (vec![(DVec2::ZERO, 0.0); mesh.vertices.len()], vec![0.0_f64; mesh.vertices.len()]);
    for (t, g) in mesh.triangles.iter().zip(&gradients) {
        for &v in t {
            match g {
                Some(g) => {
                    let (sum, count) = &mut sums[v as usize];
                    *sum += DVec2::from_array(*g);
                    *count += 1.0;
                }
                None => open[v as usize] = true,
            }
        }
    }
    let mean = |v: usize| sums[v].0 / sums[v].1;
    for (t, g) in mesh.triangles.iter().zip(&gradients) {
        for (&v, g) in t.iter().flat_map(|v| g.as_ref().map(|g| (v, g))) {
            spreads[v as usize] = spreads[v as usize].max(mean(v as usize).distance(DVec2::from_array(*g)));
        }
    }
    let point = |v: usize| match open[v] {
        true => Edge::new(place(v as u32), place(v as u32)),
        false => Edge::corner(place(v as u32), mean(v).to_array(), spreads[v], under),
    };
    edges.extend((0..mesh.vertices.len()).filter(|&v| touched[v]).map(point));
    edges
}

/// The sides of all triangles as (lower vertex, higher vertex, triangle), sorted.
fn sides(mesh: &Mesh) -> Vec<(u32, u32, u32)> {
    let mut sides: Vec<(u32, u32, u32)> = Vec::with_capacity(mesh.triangles.len() * 3);
    for (i, t) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            sides.push((a.min(b), a.max(b), i as u32));
        }
    }
    sides.sort_unstable();
    sides
}

/// Gradient of a facet that faces up; `None` for others, and for slivers whose direction rounding makes unsure.
fn gradient(mesh: &Mesh, i: usize) -> Option<[f64; 2]> {
    let t = mesh.corners(i).map(|v| v.to_array());
    let n = normal(&t);
    let twice_area = (n[0] * n[0] + n[1] * n[1] + n[2] * n[2]).sqrt();
    let side = |k: usize| DVec3::from_array(t[k]).distance(DVec3::from_array(t[(k + 1) % 3]));
    let longest = side(0).max(side(1)).max(side(2));
    (n[2] > 1e-6 * twice_area && twice_area > SLIVER * longest).then(|| [-n[0] / n[2], -n[1] / n[2]])
}

/// Where two facets that face up meet along an edge, one on either side: their gradients, and by how much the surface
/// steepens across the edge, more than 0 in a valley, less on a ridge. `edge` holds its sides as [`sides`] gives them.
fn meeting(mesh: &Mesh, gradients: &[Option<[f64; 2]>], edge: &[(u32, u32, u32)]) -> Option<([[f64; 2]; 2], f64)> {
    let [(a, b, first), (_, _, second)] = *edge else { return None };
    let facets = [gradients[first as usize]?, gradients[second as usize]?];
    let (a, b) = (mesh.vertices[a as usize], mesh.vertices[b as usize]);
    let across = DVec2::new(-(b.y - a.y), b.x - a.x).normalize_or_zero();
    let aside = |i: u32| {
        let t = mesh.corners(i as usize);
        ((t[0] + t[1] + t[2]) / 3.0 - a).truncate().dot(across)
    };
    let (ci, cj) = (aside(first), aside(second));
    let [ri, rj] = facets.map(|g| DVec2::from_array(g).dot(across));
    (ci * cj < 0.0).then_some((facets, if ci > 0.0 { ri - rj } else { rj - ri }))
}

fn normal(t: &[[f64; 3]; 3]) -> [f64; 3] {
    let u = [t[1][0] - t[0][0], t[1][1] - t[0][1], t[1][2] - t[0][2]];
    let v = [t[2][0] - t[0][0], t[2][1] - t[0][1], t[2][2] - t[0][2]];
    [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
}

fn lower(points: &[[f64; 3]]) -> [f64; 2] {
    points.iter().fold([f64::INFINITY; 2], |m, p| [m[0].min(p[0]), m[1].min(p[1])])
}

fn upper(points: &[[f64; 3]]) -> [f64; 2] {
    points.iter().fold([f64::NEG_INFINITY; 2], |m, p| [m[0].max(p[0]), m[1].max(p[1])])
}

/// Whether a side of the triangle parts it from the box in plan.
fn apart(t: &[[f64; 3]; 3], min: [f64; 2], max: [f64; 2]) -> bool {
    (0..3).any(|k| {
        let (p, q, o) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
        let n = [-(q[1] - p[1]), q[0] - p[0]];
        let inner = n[0] * (o[0] - p[0]) + n[1] * (o[1] - p[1]);
        let sign = if inner >= 0.0 { 1.0 } else { -1.0 };
        let far = |k: usize| if n[k] * sign > 0.0 { max[k] } else { min[k] };
        sign * (n[0] * (far(0) - p[0]) + n[1] * (far(1) - p[1])) < 0.0
    })
}
