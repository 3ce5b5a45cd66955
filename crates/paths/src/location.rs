//! Cutter location: the lowest tip height at which a cutter does not enter a mesh, exact over facets, edges, vertices.
//!
//! The tip height needed by one point of the surface is its height less the rise of the cutter's underside at its
//! distance from the axis. Over a facet or an edge that is a concave function, so its maximum is found in closed form
//! (bracketed Newton for a bull's corner over an edge). Facets with their edges and points lie in the leaves of a tree,
//! which are visited in the order of the best they could give, until none can better what was found.

use crate::contact::{Edge, Facet, Sides, Underside};
use crate::tree::{Patch, Tree};
use geom::{DVec2, DVec3, Grid, Mesh};
use rayon::prelude::*;
use trade::cutter::{Form, Solid};

/// Marks what is touched as an edge or a point.
const EDGE: u32 = 1 << 31;
/// Gradients that differ across an edge by less than this make no ridge.
const RIDGE: f64 = 1e-8;
/// Facets lower than this are slivers, mm.
const SLIVER: f64 = 1e-5;

/// Where more leaves than this could be touched from a patch, it is no use to pick them out.
const FEW: usize = 64;

/// Facets longer than this in plan are looked for piece by piece, in radii of the cutter.
const LARGE: f64 = 4.0;

/// A mesh made ready for one cutter.
#[derive(Clone, Debug)]
pub struct CutterLocation {
    under: Underside,
    /// Without the allowance: what really cuts.
    bare: Underside,
    allowance: f64,
    tree: Tree,
    /// What the tree's leaves hold, in their order.
    facets: Vec<Facet>,
    sides: Vec<Sides>,
    edges: Vec<Edge>,
    /// Where the facets and the edges of each leaf begin; the last entry ends them.
    begins: Vec<[u32; 2]>,
    /// What is wider than the edges above them, from the lowest up: how far above the tip it begins, and its own location.
    above: Vec<(f64, CutterLocation)>,
}

/// Room to keep off what must stay, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clear {
    /// Around neck and shank.
    pub shank: f64,
    /// Around nut and spindle.
    pub holder: f64,
}

/// The facet or edge that the cutter touched last.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Touched(Option<u32>);

/// A cutter location asked many times at places of one patch and heights above a floor: what matters there is picked out once.
/// Elsewhere it answers, too, no quicker than the whole.
#[derive(Clone, Debug)]
pub(crate) struct Near<'a> {
    location: &'a CutterLocation,
    patch: Patch,
    floor: f64,
    /// `None` if too much matters there.
    tree: Option<Tree>,
    /// The parts above the edges.
    above: Vec<Near<'a>>,
}

/// What a tree's leaf holds.
#[derive(Clone, Copy)]
enum Of {
    /// A facet with the edges and points that it owns.
    Triangle(u32),
    /// A facet alone.
    Facet(u32),
    /// An edge or point alone.
    Edge(u32),
}

/// A part of a large facet, or of its edge.
#[derive(Clone, Copy)]
struct Piece {
    corners: [DVec3; 3],
    of: Of,
}

impl Piece {
    /// Its longest side in plan.
    fn size(&self) -> f64 {
        (0..3).map(|k| self.side(k)).fold(0.0, f64::max)
    }

    fn side(&self, k: usize) -> f64 {
        (self.corners[(k + 1) % 3] - self.corners[k]).truncate().length()
    }

    /// Halved across its longest side until it is no larger than `limit`.
    fn cut(self, limit: f64, pieces: &mut Vec<Piece>) {
        if self.size() <= limit {
            pieces.push(self);
            return;
        }
        let longest = (0..3).fold(0, |best, k| if self.side(k) > self.side(best) { k } else { best });
        let [a, b, c] = [0, 1, 2].map(|k| self.corners[(longest + k) % 3]);
        let middle = a.midpoint(b);
        Piece { corners: [a, middle, c], ..self }.cut(limit, pieces);
        Piece { corners: [middle, b, c], ..self }.cut(limit, pieces);
    }
}

impl CutterLocation {
    /// `allowance` mm are left on everywhere (the cutter is thought thicker by it: radius, corner and below the tip).
    pub fn new(mesh: &Mesh, cutter: &Solid, allowance: f64) -> Self {
        let allowance = allowance.max(0.0);
        let under = Underside::new(cutter, allowance);
        let facet = |i: u32| Facet::new(mesh.corners(i as usize).map(|v| v.to_array()), &under);
        let mut edges = edges(mesh, &under);
        edges.par_sort_by_key(|(owner, _)| *owner);
        let owned =
            |i: u32| edges.partition_point(|(o, _)| *o < i) as u32..edges.partition_point(|(o, _)| *o <= i) as u32;
        let count = mesh.triangles.len() as u32;
        let limit = LARGE * under.radius;
        let mut pieces = Vec::new();
        let mut ids: Vec<u32> = Vec::with_capacity(mesh.triangles.len());
        for i in 0..count {
            let whole = Piece { corners: mesh.corners(i as usize), of: Of::Facet(i) };
            if whole.size() <= limit {
                if facet(i).is_some() || !owned(i).is_empty() {
                    ids.push(i);
                }
                continue;
            }
            if facet(i).is_some() {
                whole.cut(limit, &mut pieces);
            }
            for e in owned(i) {
                let [p, q] = edges[e as usize].1.ends().map(DVec3::from_array);
                let n = ((q - p).truncate().length() / limit).ceil().max(1.0);
                let at = |k: f64| p.lerp(q, k / n);
                let part = |k: u32| [at(k.into()), at(f64::from(k) + 1.0), at(f64::from(k) + 1.0)];
                pieces.extend((0..n as u32).map(|k| Piece { corners: part(k), of: Of::Edge(e) }));
            }
        }
        ids.extend((0..pieces.len() as u32).map(|k| count + k));
        let corners = |id: u32| match id.checked_sub(count) {
            None => mesh.corners(id as usize),
            Some(k) => pieces[k as usize].corners,
        };
        let (tree, leaves) = Tree::new(&ids, corners, &under);
        let (mut begins, mut held) = (vec![[0, 0]], Vec::new());
        let (mut facets, mut sides) = (Vec::<Facet>::new(), Vec::new());
        for ids in leaves.each() {
            let first = facets.len();
            let mut enter = |of: Option<(Facet, Sides)>| {
                let (facet, edges) = of.unzip();
                facets.extend(facet);
                sides.extend(edges);
            };
            for &id in ids {
                let of = id.checked_sub(count).map_or(Of::Triangle(id), |k| pieces[k as usize].of);
                match of {
                    Of::Triangle(i) => {
                        enter(facet(i));
                        held.extend(owned(i).map(|e| edges[e as usize].1));
                    }
                    Of::Facet(i) => enter(facet(i)),
                    Of::Edge(e) => held.push(edges[e as usize].1),
                }
            }
            // A flat rests on level ground as a whole: one point of it tells so wherever it lies under the flat.
            if under.flat > 0.0 && facets[first..].iter().any(Facet::is_level) {
                let corners = ids.iter().flat_map(|&id| corners(id)).map(|p| p.to_array());
                held.extend(corners.max_by(|p, q| p[2].total_cmp(&q[2])).map(|p| Edge::new(p, p)));
            }
            begins.push([facets.len() as u32, held.len() as u32]);
        }
        let bare = Underside::new(cutter, 0.0);
        Self { under, bare, allowance, tree, facets, sides, edges: held, begins, above: Vec::new() }
    }

    /// The same with neck, shank and holder kept off `mesh`, too, as long as the tip goes no lower than `lowest`: parts that
    /// cannot meet anything then, or lie behind others, are left out, and cost nothing.
    pub fn keeping_off(mut self, mesh: &Mesh, cutter: &Solid, clear: Clear, lowest: f64) -> Self {
        let top = mesh.bounds().map_or(f64::NEG_INFINITY, |(_, hi)| hi.z);
        let mut parts = vec![
            (cutter.flute_length, cutter.neck_diameter / 2.0 + clear.shank),
            (cutter.neck_length, cutter.shank_diameter / 2.0 + clear.shank),
        ];
        let mut from = cutter.stickout;
        for part in &cutter.holder {
            parts.push((from - clear.holder, part.diameter / 2.0 + clear.holder));
            from += part.length;
        }
        parts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut widest = self.under.radius;
        for (lift, radius) in parts {
            if radius > widest && lift < top - lowest {
                widest = radius;
                let part = Solid { form: Form::Flat, diameter: 2.0 * radius, holder: Vec::new(), ..cutter.clone() };
                self.above.push((lift, Self::new(mesh, &part, 0.0)));
            }
        }
        self
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
        let tip = self.edges_height(&self.tree, [x, y], floor, touched);
        self.above.iter().fold(tip, |z, (lift, part)| part.height_above(x, y, z + lift) - lift)
    }

    /// The same for the edges alone, over the leaves of a tree.
    fn edges_height(&self, tree: &Tree, [x, y]: [f64; 2], floor: f64, touched: &mut Touched) -> f64 {
        let mut best = floor - self.allowance;
        if let Some(z) = touched.0.and_then(|id| self.contact(id, x, y, best)) {
            best = best.max(z);
        }
        self.search(tree, [x, y], &mut best, touched, |_| false);
        (best + self.allowance).max(floor)
    }

    /// Made ready for questions at places of a patch, about heights above `floor`.
    pub(crate) fn near(&self, patch: Patch, floor: f64) -> Near<'_> {
        let tree = self.tree.near(&patch, floor - self.allowance, FEW);
        let above = self.above.iter().map(|(lift, part)| part.near(patch, floor + lift)).collect();
        Near { location: self, patch, floor, tree, above }
    }

    /// The height that is needed at `p` for what was touched last, if it is touched there.
    pub(crate) fn alone(&self, touched: &Touched, p: DVec2) -> Option<f64> {
        Some(self.contact(touched.0?, p.x, p.y, f64::NEG_INFINITY)? + self.allowance)
    }

    /// The same, but a facet is thought to go on beyond its sides, and an edge is asked wherever it lies under the cutter.
    pub(crate) fn beyond(&self, touched: &Touched, p: DVec2) -> Option<f64> {
        let id = touched.0?;
        let z = match id & EDGE {
            0 => self.facets[id as usize].plane_height(p.x, p.y),
            _ => self.edges[(id & !EDGE) as usize].anywhere().contact(p.x, p.y, &self.under, f64::NEG_INFINITY)?,
        };
        Some(z + self.allowance)
    }

    /// Whether the tip may stand at (x, y, z).
    pub(crate) fn clears(&self, x: f64, y: f64, z: f64) -> bool {
        self.edges_clear(&self.tree, [x, y], z, &mut Touched::default())
            && self.above.iter().all(|(lift, part)| part.clears(x, y, z + lift))
    }

    /// The same for the edges alone, over the leaves of a tree; what was touched last is looked at first.
    fn edges_clear(&self, tree: &Tree, [x, y]: [f64; 2], z: f64, touched: &mut Touched) -> bool {
        let mut best = z - self.allowance;
        let in_the_way = |higher: f64| higher + self.allowance > z;
        !touched.0.and_then(|id| self.contact(id, x, y, best)).is_some_and(in_the_way)
            && !self.search(tree, [x, y], &mut best, touched, in_the_way)
    }

    /// Raises `best` to the highest contact, until none can better it or `enough` of one; whether it was enough.
    fn search(
        &self,
        tree: &Tree,
        [x, y]: [f64; 2],
        best: &mut f64,
        touched: &mut Touched,
        enough: impl Fn(f64) -> bool,
    ) -> bool {
        tree.search(x, y, best, |leaf, best| {
            let [[facet, edge], [facets_end, edges_end]] = [self.begins[leaf], self.begins[leaf + 1]];
            let mut found = |id: u32, z: f64, best: &mut f64| {
                (*best, *touched) = (z, Touched(Some(id)));
                enough(z)
            };
            // Facets first: most contacts are theirs, and then few edges need a closer look.
            for (id, held) in (facet..facets_end).zip(&self.facets[facet as usize..facets_end as usize]) {
                let z = held.plane_height(x, y);
                if z > *best && held.is_within(&self.sides[id as usize], x, y) && found(id, z, best) {
                    return true;
                }
            }
            for (id, held) in (edge..edges_end).zip(&self.edges[edge as usize..edges_end as usize]) {
                if let Some(z) = held.contact(x, y, &self.under, *best)
                    && z > *best
                    && found(id | EDGE, z, best)
                {
                    return true;
                }
            }
            false
        })
    }

    /// Tip height asked for by one item; `None` where it is not touched, or cannot ask for more than `best`.
    #[inline]
    fn contact(&self, id: u32, x: f64, y: f64, best: f64) -> Option<f64> {
        if id & EDGE == 0 {
            let facet = &self.facets[id as usize];
            let z = facet.plane_height(x, y);
            (z > best && facet.is_within(&self.sides[id as usize], x, y)).then_some(z)
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

    /// Least and greatest corner in plan of what can be touched.
    pub(crate) fn bounds(&self) -> Option<(DVec2, DVec2)> {
        self.tree.leaves().map(|leaf| (leaf.min, leaf.max)).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }

    /// Raises the values of a grid to what can be touched within half a pitch of each node, along both axes, or higher.
    pub(crate) fn raise(&self, tops: &mut Grid<f32>) {
        let half = DVec2::splat(0.5 * tops.pitch);
        for leaf in self.tree.leaves() {
            let (xs, ys) = tops.nodes_in(leaf.min - half, leaf.max + half);
            for iy in ys {
                for ix in xs.clone() {
                    let (at, i) = (tops.at(ix, iy), tops.index(ix, iy));
                    tops.values[i] = tops.values[i].max(leaf.top_within(at - half, at + half) as f32);
                }
            }
        }
    }

    /// Rise of the underside at a distance from the axis, with the allowance, mm.
    pub(crate) fn rise(&self, rho: f64) -> f64 {
        self.under.rise(rho)
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

impl Near<'_> {
    /// As [`CutterLocation::height_beside`].
    pub(crate) fn height_beside(&self, x: f64, y: f64, floor: f64, touched: &mut Touched) -> f64 {
        if let Some(tree) = self.tree.as_ref().filter(|_| self.patch.holds(DVec2::new(x, y))) {
            let tip = self.location.edges_height(tree, [x, y], floor.max(self.floor), touched);
            let parts = self.above.iter().zip(&self.location.above);
            let z = parts
                .fold(tip, |z, (near, (lift, _))| near.height_beside(x, y, z + lift, &mut Touched::default()) - lift);
            // Below its floor it knows nothing.
            if z > self.floor || floor >= self.floor {
                return z;
            }
        }
        self.location.height_beside(x, y, floor, touched)
    }

    /// As [`CutterLocation::clears`]; what was touched last is looked at first.
    pub(crate) fn clears(&self, x: f64, y: f64, z: f64, touched: &mut Touched) -> bool {
        match &self.tree {
            Some(tree) if z >= self.floor && self.patch.holds(DVec2::new(x, y)) => {
                self.location.edges_clear(tree, [x, y], z, touched)
                    && self
                        .above
                        .iter()
                        .zip(&self.location.above)
                        .all(|(near, (lift, _))| near.clears(x, y, z + lift, &mut Touched::default()))
            }
            _ => self.location.clears(x, y, z),
        }
    }
}

/// Edges and points that can be touched, each with the first of its facets. No underside touches the bottom of a valley
/// between two facets that face up, nor an edge within a plane, but where it touches these facets as well. Ridges between
/// such facets are touched only within a window, if the cutter bears their slopes; their ends are then points of their own.
fn edges(mesh: &Mesh, under: &Underside) -> Vec<(u32, Edge)> {
    let place = |v: u32| mesh.vertices[v as usize].to_array();
    let sides = sides(mesh);
    let gradients: Vec<Option<[f64; 2]>> =
        (0..mesh.triangles.len()).into_par_iter().map(|i| gradient(mesh, i)).collect();
    let borne = |gradients: &[[f64; 2]; 2]| gradients.iter().all(|g| under.bears(g[0].hypot(g[1])));
    let mut edges = Vec::new();
    // Points that can be touched, and points not surrounded by facets that face up and that the cutter bears.
    let (mut touched, mut open) = (vec![false; mesh.vertices.len()], vec![false; mesh.vertices.len()]);
    for group in sides.chunk_by(|s, t| (s.0, s.1) == (t.0, t.1)) {
        let (a, b, first) = group[0];
        let edge = Edge::new(place(a), place(b));
        match meeting(mesh, &gradients, group) {
            Some((_, steepens)) if steepens > -RIDGE => continue,
            Some((facets, _)) if borne(&facets) => edges.push((first, edge.between(facets, under))),
            _ => {
                edges.push((first, edge));
                open[a as usize] = true;
                open[b as usize] = true;
            }
        }
        touched[a as usize] = true;
        touched[b as usize] = true;
    }
    // Mean of the gradients around each point, how far they differ from it, and its first facet.
    let (mut sums, mut spreads) = (vec![(DVec2::ZERO, 0.0); mesh.vertices.len()], vec![0.0_f64; mesh.vertices.len()]);
    let mut owners = vec![u32::MAX; mesh.vertices.len()];
    for ((i, t), g) in (0..).zip(&mesh.triangles).zip(&gradients) {
        for &v in t {
            owners[v as usize] = owners[v as usize].min(i);
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
    let point = |v: usize| match open[v] || !under.bears(mean(v).length() + spreads[v]) {
        true => Edge::new(place(v as u32), place(v as u32)),
        false => Edge::corner(place(v as u32), mean(v).to_array(), spreads[v], under),
    };
    edges.extend((0..mesh.vertices.len()).filter(|&v| touched[v]).map(|v| (owners[v], point(v))));
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
    sides.par_sort_unstable();
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
