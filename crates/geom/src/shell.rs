//! What a mesh from elsewhere is as a skin: its bodies, its holes, where its triangles do not fit together or cross. Triangles
//! that are only turned over are turned back.

use crate::Mesh;
use crate::crossing;
use crate::index::TriangleIndex;
use glam::DVec3;
use rayon::prelude::*;

/// Corners of holes nearer to each other than this are made one, mm: numbers of 32 bits and of few decimals miss each other by
/// less, and no tolerance sees it.
pub const SAME_PLACE: f64 = 0.002;
/// Crossings that are counted; more say no more.
const MOST_CROSSINGS: usize = 10_000;
/// Pairs of triangles that are looked at, before the search is given up (half a minute).
const MOST_PAIRS: usize = 2_000_000_000;

/// A mesh, examined. All lists are in the order of the triangles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shell {
    /// The mesh with turned triangles turned back: bodies that are closed enclose a volume above 0.
    pub mesh: Mesh,
    /// Triangles that were turned back.
    pub turned: usize,
    /// Corners of holes that were made one with others.
    pub joined: usize,
    /// Holes: closed rings of edges with a triangle on one side only.
    pub holes: Vec<Hole>,
    /// Edges of more than two triangles that cannot be told apart as two skins that touch.
    pub crowded: Vec<[DVec3; 2]>,
    /// Where a skin has one side only, like a strip that is twisted and joined.
    pub one_sided: Vec<DVec3>,
    /// Parts that hang together by edges.
    pub bodies: Vec<Body>,
}

/// A ring of open edges.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Its corners in order.
    pub corners: Vec<DVec3>,
}

impl Hole {
    /// Length round.
    pub fn length(&self) -> f64 {
        let n = self.corners.len();
        (0..n).map(|k| self.corners[k].distance(self.corners[(k + 1) % n])).sum()
    }

    /// The middle of its corners.
    pub fn middle(&self) -> DVec3 {
        self.corners.iter().copied().sum::<DVec3>() / self.corners.len().max(1) as f64
    }
}

/// A part that hangs together by edges.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Its triangles.
    pub triangles: usize,
    /// What it encloses, as a size above 0.
    pub volume: f64,
    /// Least and greatest corner.
    pub bounds: (DVec3, DVec3),
    /// Whether it lies inside another one: a void.
    pub inside: bool,
}

/// What the search for crossings found.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossings {
    /// How many pairs cross, at most about ten thousand.
    pub count: usize,
    /// Where the first of them lie.
    pub places: Vec<DVec3>,
    /// Whether all of the mesh was looked at.
    pub whole: bool,
}

/// Edges between triangles.
struct Edge {
    ends: (u32, u32),
    triangle: u32,
    /// Whether the triangle runs from the lesser to the greater end.
    ahead: bool,
}

fn edges(mesh: &Mesh) -> Vec<Edge> {
    let of = |(i, t): (usize, &[u32; 3])| {
        let t = *t;
        [0, 1, 2].map(|k| {
            let (p, q) = (t[k], t[(k + 1) % 3]);
            Edge { ends: (p.min(q), p.max(q)), triangle: i as u32, ahead: p < q }
        })
    };
    let mut all: Vec<Edge> = mesh.triangles.par_iter().enumerate().flat_map_iter(of).collect();
    all.par_sort_unstable_by_key(|e| (e.ends, e.triangle));
    all
}

/// Sets of triangles, each triangle turned alike (`false`) or over (`true`) against the first of its set.
struct Sets {
    parent: Vec<u32>,
    turned: Vec<bool>,
}

impl Sets {
    fn find(&mut self, i: u32) -> (u32, bool) {
        let (mut at, mut turned) = (i, false);
        while self.parent[at as usize] != at {
            turned ^= self.turned[at as usize];
            at = self.parent[at as usize];
        }
        // Everything on the way points to the root from now on.
        let (root, mut next, mut rest) = (at, i, turned);
        while self.parent[next as usize] != next {
            let (up, own) = (self.parent[next as usize], self.turned[next as usize]);
            self.parent[next as usize] = root;
            self.turned[next as usize] = rest;
            rest ^= own;
            next = up;
        }
        (root, turned)
    }

    /// Joins two triangles; false if they were joined the other way round before.
    fn join(&mut self, a: u32, b: u32, over: bool) -> bool {
        let ((a, ta), (b, tb)) = (self.find(a), self.find(b));
        if a == b {
            return ta ^ tb == over;
        }
        let (first, second) = (a.min(b), a.max(b));
        self.parent[second as usize] = first;
        self.turned[second as usize] = ta ^ tb ^ over;
        true
    }
}

impl Shell {
    /// Examines a mesh whose vertices count as one where their indices are equal (see [`Mesh::welded`]).
    pub fn of(mesh: Mesh) -> Self {
        let mut shell = Self::once(mesh);
        if !shell.holes.is_empty() {
            let (closer, joined) = closer(&shell);
            if joined > 0 {
                let turned = shell.turned;
                shell = Self::once(closer);
                shell.joined = joined;
                shell.turned += turned;
            }
        }
        shell
    }

    fn once(mut mesh: Mesh) -> Self {
        let count = mesh.triangles.len() as u32;
        let mut sets = Sets { parent: (0..count).collect(), turned: vec![false; count as usize] };
        let edges = edges(&mesh);
        let place = |v: u32| mesh.vertices[v as usize];
        let (mut one_sided, mut crowds) = (Vec::new(), Vec::new());
        for uses in edges.chunk_by(|e, f| e.ends == f.ends) {
            match uses {
                [_] => {}
                [a, b] => {
                    if !sets.join(a.triangle, b.triangle, a.ahead == b.ahead) {
                        one_sided.push((place(a.ends.0) + place(a.ends.1)) / 2.0);
                    }
                }
                _ => crowds.push(uses),
            }
        }
        let roots: Vec<(u32, bool)> = (0..count).map(|i| sets.find(i)).collect();
        drop(sets);
        let (bodies, flips) = bodies(&mesh, &roots);
        let turned_over = |i: u32| roots[i as usize].1 ^ flips[roots[i as usize].0 as usize];
        // Skins that touch along an edge run along it as often one way as the other.
        let balanced = |uses: &[Edge]| {
            let ahead = uses.iter().filter(|e| e.ahead ^ turned_over(e.triangle)).count();
            2 * ahead == uses.len()
        };
        let crowded = crowds.into_iter().filter(|uses| !balanced(uses));
        let crowded = crowded.map(|uses| [place(uses[0].ends.0), place(uses[0].ends.1)]).collect();
        let open = edges.chunk_by(|e, f| e.ends == f.ends).filter(|uses| uses.len() == 1).map(|uses| {
            let (a, b) = uses[0].ends;
            if uses[0].ahead ^ turned_over(uses[0].triangle) { (a, b) } else { (b, a) }
        });
        let holes = rings(open.collect(), &mesh);
        let mut turned = 0;
        for i in 0..count {
            if turned_over(i) {
                mesh.triangles[i as usize].swap(1, 2);
                turned += 1;
            }
        }
        Self { mesh, turned, joined: 0, holes, crowded, one_sided, bodies }
    }

    /// Triangles that cross each other by more than `slack`, mm.
    pub fn crossings(&self, slack: f64) -> Crossings {
        let found = crossing::pairs(&self.mesh, slack, MOST_CROSSINGS, MOST_PAIRS);
        let middle = |i: u32| self.mesh.corners(i as usize).into_iter().sum::<DVec3>() / 3.0;
        let places = found.pairs.iter().take(8).map(|&(i, j)| (middle(i) + middle(j)) / 2.0).collect();
        Crossings { count: found.pairs.len(), places, whole: found.whole }
    }
}

/// Finds the bodies, and for each first triangle of a set whether the set must be turned over.
fn bodies(mesh: &Mesh, roots: &[(u32, bool)]) -> (Vec<Body>, Vec<bool>) {
    let (low, high) = mesh.bounds().unwrap_or_default();
    let o = (low + high) / 2.0;
    let mut number = vec![usize::MAX; roots.len()];
    let (mut firsts, mut bodies): (Vec<u32>, Vec<Body>) = Default::default();
    for (i, &(root, over)) in roots.iter().enumerate() {
        let slot = &mut number[root as usize];
        if *slot == usize::MAX {
            *slot = bodies.len();
            firsts.push(root);
            let bounds = (DVec3::INFINITY, DVec3::NEG_INFINITY);
            bodies.push(Body { triangles: 0, volume: 0.0, bounds, inside: false });
        }
        let body = &mut bodies[*slot];
        let [a, b, c] = mesh.corners(i);
        let volume = (a - o).dot((b - o).cross(c - o)) / 6.0;
        body.volume += if over { -volume } else { volume };
        body.triangles += 1;
        body.bounds = (body.bounds.0.min(a).min(b).min(c), body.bounds.1.max(a).max(b).max(c));
    }
    let mut flips = vec![false; roots.len()];
    for (&root, body) in firsts.iter().zip(&mut bodies) {
        flips[root as usize] = body.volume < 0.0;
        body.volume = body.volume.abs();
    }
    if bodies.len() > 1 {
        find_voids(mesh, roots, &firsts, &mut bodies);
    }
    (bodies, flips)
}

/// Marks the bodies of which a corner lies inside another one; not where there are more than can be meant.
fn find_voids(mesh: &Mesh, roots: &[(u32, bool)], firsts: &[u32], bodies: &mut [Body]) {
    const MOST_BODIES: usize = 1000;
    if firsts.len() > MOST_BODIES {
        return;
    }
    let cell = mesh.bounds().map_or(1.0, |(low, high)| (high - low).max_element() / 256.0);
    let index = TriangleIndex::new(mesh, cell);
    for (body, &first) in firsts.iter().enumerate() {
        // A place inside the triangle, so that the line through it meets no edge of its own body.
        let [a, b, c] = mesh.corners(first as usize);
        let at = (a + b * 2.0 + c * 3.0) / 6.0;
        let mut above = std::collections::BTreeMap::<u32, usize>::new();
        index.crossed(mesh, at.truncate(), &mut |triangle, (z, _)| {
            let root = roots[triangle as usize].0;
            if z > at.z && root != first {
                *above.entry(root).or_default() += 1;
            }
        });
        bodies[body].inside = above.values().any(|n| n % 2 == 1);
    }
}

/// Open edges as rings: the one that goes on from a corner is the first that is left there.
fn rings(mut open: Vec<(u32, u32)>, mesh: &Mesh) -> Vec<Hole> {
    open.sort_unstable();
    let mut gone = vec![false; open.len()];
    let mut holes = Vec::new();
    for start in 0..open.len() {
        let mut corners = Vec::new();
        let mut at = Some(start);
        while let Some(edge) = at {
            gone[edge] = true;
            corners.push(mesh.vertices[open[edge].0 as usize]);
            let to = open[edge].1;
            let first = open.partition_point(|e| e.0 < to);
            at = (first..open.len()).take_while(|&k| open[k].0 == to).find(|&k| !gone[k]);
        }
        if corners.len() > 1 || !gone[start] {
            holes.push(Hole { corners });
        }
    }
    holes
}

/// The mesh with corners of holes made one where they lie within [`SAME_PLACE`], and how many were.
fn closer(shell: &Shell) -> (Mesh, usize) {
    let key = |p: DVec3| p.to_array().map(f64::to_bits);
    let mut rim: Vec<DVec3> = shell.holes.iter().flat_map(|h| h.corners.iter().copied()).collect();
    rim.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.z.total_cmp(&b.z)));
    rim.dedup();
    // Each goes to the first one before it in the order that is near enough and stays where it is.
    let mut to: Vec<usize> = (0..rim.len()).collect();
    for k in 0..rim.len() {
        let near = |j: &usize| to[*j] == *j && rim[*j].distance(rim[k]) <= SAME_PLACE;
        let from = rim.partition_point(|p| p.x < rim[k].x - SAME_PLACE);
        // Not more than a few hundred lie beside each other where a file is meant well.
        if let Some(j) = (from.max(k.saturating_sub(512))..k).find(near) {
            to[k] = j;
        }
    }
    let mut moved: Vec<([u64; 3], DVec3)> =
        (0..rim.len()).filter(|&k| to[k] != k).map(|k| (key(rim[k]), rim[to[k]])).collect();
    moved.sort_unstable_by_key(|m| m.0);
    let mut mesh = shell.mesh.clone();
    for v in &mut mesh.vertices {
        if let Ok(k) = moved.binary_search_by_key(&key(*v), |m| m.0) {
            *v = moved[k].1;
        }
    }
    (mesh.welded(), moved.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::{DAffine3, DVec3 as V};

    fn cube() -> Mesh {
        Mesh::cuboid(V::ZERO, V::new(1.0, 2.0, 3.0))
    }

    fn with(mut a: Mesh, b: &Mesh) -> Mesh {
        let n = a.vertices.len() as u32;
        a.vertices.extend(&b.vertices);
        a.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + n)));
        a
    }

    #[test]
    fn a_good_skin_stays_as_it_is() {
        let shell = Shell::of(cube());
        assert_eq!(shell.mesh, cube());
        assert_eq!((shell.turned, shell.joined, shell.holes.len(), shell.crowded.len()), (0, 0, 0, 0));
        assert_eq!(shell.bodies.len(), 1);
        assert!((shell.bodies[0].volume - 6.0).abs() < 1e-12);
        assert_eq!(shell.crossings(0.0), Crossings { count: 0, places: vec![], whole: true });
    }

    #[test]
    fn turned_triangles_are_turned_back() {
        for which in 0..4096_u32 {
            let mut mesh = cube();
            for (k, t) in mesh.triangles.iter_mut().enumerate() {
                if which >> k & 1 == 1 {
                    t.swap(1, 2);
                }
            }
            let shell = Shell::of(mesh);
            assert!((shell.mesh.volume() - 6.0).abs() < 1e-12);
            assert_eq!(shell.turned, which.count_ones() as usize);
            assert!(shell.mesh.is_closed() && shell.holes.is_empty());
        }
    }

    #[test]
    fn holes_are_found_as_rings() {
        let mut mesh = cube();
        mesh.triangles.drain(2..4); // the top
        mesh.triangles.remove(0); // half of the bottom
        let shell = Shell::of(mesh);
        let mut lengths: Vec<f64> = shell.holes.iter().map(Hole::length).collect();
        lengths.sort_by(f64::total_cmp);
        assert_eq!(shell.holes.len(), 2);
        assert!((lengths[0] - (3.0 + 5.0_f64.sqrt())).abs() < 1e-12 && (lengths[1] - 6.0).abs() < 1e-12);
        assert!(shell.holes.iter().any(|h| h.middle().abs_diff_eq(V::new(0.5, 1.0, 3.0), 1e-12)));
    }

    #[test]
    fn corners_that_miss_each_other_by_rounding_are_made_one() {
        let mut soup = Mesh::default();
        for i in 0..12 {
            let shake = |p: V, k: usize| p + 0.0004 * V::new((i as f64).sin(), (k as f64).cos(), (i + k) as f64 % 2.0);
            let [a, b, c] = cube().corners(i);
            soup.vertices.extend([shake(a, 0), shake(b, 1), shake(c, 2)]);
            let n = 3 * i as u32;
            soup.triangles.push(if i % 5 == 0 { [n, n + 2, n + 1] } else { [n, n + 1, n + 2] });
        }
        let shell = Shell::of(soup);
        assert!(shell.holes.is_empty() && shell.joined > 0, "{shell:?}");
        assert_eq!(shell.mesh.vertices.len(), 8);
        assert!((shell.mesh.volume() - 6.0).abs() < 0.02);
    }

    #[test]
    fn bodies_are_counted_and_voids_told() {
        let within = Mesh::cuboid(V::splat(0.25), V::splat(0.75));
        let beside = cube().transformed(&DAffine3::from_translation(V::new(5.0, 0.0, 0.0)));
        let shell = Shell::of(with(with(cube(), &within), &beside));
        let told: Vec<bool> = shell.bodies.iter().map(|b| b.inside).collect();
        assert_eq!(told, [false, true, false]);
    }

    #[test]
    fn three_leaves_on_an_edge_are_crowded_and_two_skins_that_touch_are_not() {
        let mut fin = cube();
        fin.vertices.push(V::new(-1.0, -1.0, 1.0));
        let shared = fin.triangles[0];
        fin.triangles.push([shared[0], shared[1], 8]);
        assert_eq!(Shell::of(fin).crowded.len(), 1);
        let corner = cube().transformed(&DAffine3::from_translation(V::new(1.0, 2.0, 0.0)));
        let touching = Shell::of(with(cube(), &corner).welded());
        assert!(touching.crowded.is_empty() && touching.holes.is_empty());
        assert_eq!(touching.bodies.len(), 2);
    }

    #[test]
    fn a_twisted_strip_has_one_side() {
        let mut strip = Mesh::default();
        for k in 0..6_u32 {
            let a = f64::from(k) * std::f64::consts::TAU / 6.0;
            let across = V::new(a.cos() * (a / 2.0).cos(), a.sin() * (a / 2.0).cos(), (a / 2.0).sin());
            let middle = V::new(a.cos(), a.sin(), 0.0) * 5.0;
            strip.vertices.extend([middle - across, middle + across]);
            let (p, q) = (2 * k, 2 * k + 1);
            let (r, s) = if k < 5 { (p + 2, p + 3) } else { (1, 0) };
            strip.triangles.extend([[p, r, s], [p, s, q]]);
        }
        assert!(!Shell::of(strip).one_sided.is_empty());
    }

    #[test]
    fn crossings_are_placed() {
        let other = cube().transformed(&DAffine3::from_translation(V::new(0.5, 0.6, 0.7)));
        let found = Shell::of(with(cube(), &other)).crossings(1e-6);
        assert!(found.count > 4 && found.whole);
        assert!(found.places.iter().all(|p| p.cmpge(V::ZERO).all() && p.cmple(V::splat(4.0)).all()));
        // Less deep than the slack is no crossing.
        let beside = cube().transformed(&DAffine3::from_translation(V::new(1.0 - 1e-4, 0.6, 0.7)));
        assert_eq!(Shell::of(with(cube(), &beside)).crossings(1e-3).count, 0);
        let near = cube().transformed(&DAffine3::from_translation(V::new(1.0 - 1e-2, 0.6, 0.7)));
        assert!(Shell::of(with(cube(), &near)).crossings(1e-3).count > 0);
    }
}
