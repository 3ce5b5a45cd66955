//! A tree over facets that tells how high a part of a mesh could lift a cutter at most.
//!
//! Every node stands for a box in plan with a lid, a plane that nothing in the box pierces. The underside of the cutter is
//! replaced by a paraboloid that lies below it and touches it where a plane as steep as the lid would, so that the greatest
//! height of lid over paraboloid is found axis by axis. Eight nodes are bounded at once.

use crate::contact::Underside;
use geom::{DVec2, DVec3};
use rayon::prelude::*;

/// Children of a node.
const WIDE: usize = 8;
/// Facets of a leaf, at most.
const LEAF: usize = 4;
/// A node of more facets than this is made on several threads.
const MANY: usize = 4096;
/// Nodes and leaves waiting in order in a search, at most.
const WAITING: usize = 64;
/// Lids are no steeper than this: of steeper ground the greatest height says as much.
const STEEPEST: f64 = 20.0;
/// What could lift the cutter no more than this above what was found is not looked at, mm: on level ground all does alike.
const TIE: f64 = 1e-9;
/// Marks a leaf among children.
const IS_LEAF: u32 = 1 << 31;
/// Rounding in all steps of a bound, relative to the lengths in it.
const ROUNDING: f64 = 1e-14;

/// One value for each child.
type Each = [f64; WIDE];

/// Children, each a box with its lid; those that are missing have a lid at minus infinity.
#[derive(Clone, Debug)]
struct Node {
    /// Middle and half size of the boxes.
    middle: [Each; 2],
    half: [Each; 2],
    /// Gradient of the lids.
    gradient: [Each; 2],
    /// Their height in the middle less that of the paraboloid on its axis, and the latter.
    height: Each,
    lift: Each,
    /// Greatest height of what lies in the boxes, or of the lids where that is less.
    top: Each,
    /// The paraboloids rise by so many times the distance squared,
    curve: Each,
    /// and touch the lids at so many times the gradient from the axis.
    touch: Each,
    /// A flank leans on the lid at so many times the gradient: 1, or less where it is gentler than the lid.
    lean: Each,
    /// Nodes or leaves.
    child: [u32; WIDE],
}

/// What the cutter is to a search.
#[derive(Clone, Copy, Debug)]
struct Shadow {
    radius_squared: f64,
    /// Paraboloids below the underside, from the gentlest to the steepest place: curve, and height on the axis.
    paraboloids: [[f64; 2]; 3],
    /// Of a pointed form: steepness of the flank, and its height when run on down to the axis.
    flank: Option<[f64; 2]>,
}

/// The tree.
#[derive(Clone, Debug)]
pub(crate) struct Tree {
    nodes: Vec<Node>,
    /// So many nodes from the first on have none above them.
    roots: u32,
    shadow: Shadow,
}

/// A rectangle in plan, turned as may be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patch {
    pub(crate) middle: DVec2,
    /// From the middle to those of two sides at right angles.
    pub(crate) halves: [DVec2; 2],
}

impl Patch {
    /// Whether a place lies in it.
    pub(crate) fn holds(&self, p: DVec2) -> bool {
        let to = p - self.middle;
        self.halves.iter().all(|half| to.dot(*half).abs() <= half.length_squared())
    }
}

/// Facets in the order of the tree's leaves.
#[derive(Clone, Debug, Default)]
pub(crate) struct Leaves {
    /// The facets.
    pub(crate) order: Vec<u32>,
    /// Where each leaf begins in the order; the last one ends with it.
    pub(crate) begins: Vec<usize>,
}

impl Leaves {
    /// The facets of each leaf.
    pub(crate) fn each(&self) -> impl Iterator<Item = &[u32]> {
        let ends = self.begins.iter().skip(1).copied().chain([self.order.len()]);
        self.begins.iter().zip(ends).map(|(&begin, end)| &self.order[begin..end])
    }
}

/// The box in plan of a leaf, and what lies above it.
pub(crate) struct Cover {
    pub(crate) min: DVec2,
    pub(crate) max: DVec2,
    middle: DVec2,
    gradient: DVec2,
    /// Of the lid in the middle, and the greatest of all.
    height: f64,
    top: f64,
}

impl Cover {
    /// Greatest height of what lies in the leaf and in a box that meets it, or more.
    pub(crate) fn top_within(&self, min: DVec2, max: DVec2) -> f64 {
        let highest = DVec2::select(self.gradient.cmpgt(DVec2::ZERO), max.min(self.max), min.max(self.min));
        self.top.min(self.height + self.gradient.dot(highest - self.middle))
    }
}

/// What is known of some facets: their box, and a plane above them by its gradient and its height in the box's middle.
struct Lid {
    min: DVec3,
    max: DVec3,
    gradient: DVec2,
    height: f64,
}

/// Part of a tree before it is laid out: a leaf of so many facets, or a node.
enum Grown {
    Leaf(usize),
    Node(Box<Node>, Vec<Grown>),
}

/// A facet and its middle.
struct Seat {
    middle: DVec3,
    id: u32,
}

/// What a tree is grown from.
struct Seed<'a, C> {
    corners: C,
    under: &'a Underside,
    /// The longest of all lengths in a bound.
    size: f64,
}

impl Tree {
    /// Over the facets named, whose corners are given by `corners`.
    pub(crate) fn new<C>(ids: &[u32], corners: C, under: &Underside) -> (Self, Leaves)
    where
        C: Fn(u32) -> [DVec3; 3] + Sync,
    {
        let seat = |&id: &u32| Seat { middle: corners(id).iter().sum::<DVec3>() / 3.0, id };
        let mut seats: Vec<Seat> = ids.par_iter().map(seat).collect();
        let greatest = |&id: &u32| corners(id).iter().map(|p| p.abs().max_element()).fold(0.0, f64::max);
        let size = ids.par_iter().map(greatest).reduce(|| 0.0, f64::max) + 2.0 * under.radius;
        let seed = Seed { corners, under, size };
        let mut tree = Self { nodes: Vec::new(), roots: 0, shadow: Shadow::new(under) };
        let mut begins = Vec::new();
        if !seats.is_empty() {
            let root = seed.node(&mut seats);
            tree.lay(root, &mut begins, &mut 0);
            tree.roots = 1;
        }
        (tree, Leaves { order: seats.into_iter().map(|seat| seat.id).collect(), begins })
    }

    /// A tree of the leaves alone that could lift the cutter above `floor` where its axis stands in a patch; `None` if they are
    /// more than `most`.
    pub(crate) fn near(&self, patch: &Patch, floor: f64, most: usize) -> Option<Self> {
        let mut picked = Self { nodes: Vec::new(), roots: 0, shadow: self.shadow };
        let mut count = 0;
        let mut open: Vec<u32> = (0..self.roots).collect();
        while let Some(at) = open.pop() {
            let node = &self.nodes[at as usize];
            let bounds = node.seen_from(patch).bounds(patch.middle.to_array(), &self.shadow);
            for k in (0..WIDE).filter(|&k| bounds[k] > floor) {
                if node.child[k] & IS_LEAF == 0 {
                    open.push(node.child[k]);
                    continue;
                }
                if count == most {
                    return None;
                }
                if count % WIDE == 0 {
                    picked.nodes.push(Node::bare());
                    picked.roots += 1;
                }
                picked.nodes[count / WIDE].take(count % WIDE, node, k);
                count += 1;
            }
        }
        Some(picked)
    }

    /// The leaves, by what lies above them.
    pub(crate) fn leaves(&self) -> impl Iterator<Item = Cover> + '_ {
        let is_leaf = |&(node, k): &(&Node, usize)| node.child[k] & IS_LEAF != 0 && node.top[k] > f64::NEG_INFINITY;
        self.nodes.iter().flat_map(|node| (0..WIDE).map(move |k| (node, k))).filter(is_leaf).map(|(node, k)| {
            let [middle, half, gradient] =
                [node.middle, node.half, node.gradient].map(|v| DVec2::new(v[0][k], v[1][k]));
            let height = node.height[k] + node.lift[k];
            Cover { min: middle - half, max: middle + half, middle, gradient, height, top: node.top[k] }
        })
    }

    /// Lays out a part, and tells where it is.
    fn lay(&mut self, part: Grown, begins: &mut Vec<usize>, laid: &mut usize) -> u32 {
        match part {
            Grown::Leaf(facets) => {
                begins.push(*laid);
                *laid += facets;
                (begins.len() - 1) as u32 | IS_LEAF
            }
            Grown::Node(node, children) => {
                let at = self.nodes.len();
                self.nodes.push(*node);
                for (k, child) in children.into_iter().enumerate() {
                    self.nodes[at].child[k] = self.lay(child, begins, laid);
                }
                at as u32
            }
        }
    }

    /// Shows the leaves that could lift the cutter above `best`, the most promising first, until none is left or `look`,
    /// which is given a leaf and what is best so far, says that it was enough; whether it did.
    #[inline]
    pub(crate) fn search(&self, x: f64, y: f64, best: &mut f64, mut look: impl FnMut(usize, &mut f64) -> bool) -> bool {
        if self.nodes.is_empty() {
            return false;
        }
        let axis = [x, y];
        let mut waiting = Waiting::new();
        // What is found on the way straight down makes most bounds vain.
        let mut down = true;
        let mut next = Some((f64::INFINITY, 0));
        (1..self.roots).for_each(|root| waiting.insert(f64::INFINITY, root));
        while let Some((bound, at)) = next.take().or_else(|| waiting.pop()) {
            if bound <= *best + TIE {
                continue;
            }
            if at & IS_LEAF != 0 {
                if look((at & !IS_LEAF) as usize, best) {
                    return true;
                }
                down = false;
                continue;
            }
            let node = &self.nodes[at as usize];
            let bounds = node.bounds(axis, &self.shadow);
            let least = *best + TIE;
            let mut open = (0..WIDE).fold(0_u32, |open, k| open | (u32::from(bounds[k] > least) << k));
            if down {
                let greatest = (1..WIDE).fold(0, |best, k| if bounds[k] > bounds[best] { k } else { best });
                next = Some((bounds[greatest], node.child[greatest]));
                open &= !(1 << greatest);
            }
            while open != 0 {
                let k = open.trailing_zeros() as usize;
                open &= open - 1;
                waiting.insert(bounds[k], node.child[k]);
            }
        }
        false
    }
}

/// Nodes and leaves that wait for a closer look, the most promising last; where there are too many, the least promising
/// are put aside.
struct Waiting {
    places: [(f64, u32); WAITING],
    count: usize,
    aside: Vec<(f64, u32)>,
}

impl Waiting {
    fn new() -> Self {
        Self { places: [(0.0, 0); WAITING], count: 0, aside: Vec::new() }
    }

    #[inline(always)]
    fn insert(&mut self, bound: f64, at: u32) {
        if self.count == WAITING {
            self.aside.push(self.places[0]);
            self.places.copy_within(1.., 0);
            self.count -= 1;
        }
        let mut place = self.count;
        while place > 0 && self.places[place - 1].0 > bound {
            self.places[place] = self.places[place - 1];
            place -= 1;
        }
        self.places[place] = (bound, at);
        self.count += 1;
    }

    #[inline(always)]
    fn pop(&mut self) -> Option<(f64, u32)> {
        if self.count == 0 {
            return self.aside.pop();
        }
        self.count -= 1;
        Some(self.places[self.count])
    }
}

impl Shadow {
    fn new(under: &Underside) -> Self {
        Self {
            radius_squared: (under.radius + 1e-9).powi(2),
            paraboloids: [0.0, 1.3, 4.0].map(|slope| under.paraboloid(slope).into()),
            flank: under.flank_line(),
        }
    }
}

impl Node {
    /// A node without children.
    fn bare() -> Self {
        let zero = [0.0; WIDE];
        let low = [f64::NEG_INFINITY; WIDE];
        Self {
            middle: [zero; 2],
            half: [zero; 2],
            gradient: [zero; 2],
            height: low,
            lift: zero,
            top: low,
            curve: zero,
            touch: zero,
            lean: zero,
            child: [IS_LEAF; WIDE],
        }
    }

    /// Takes over the child `from` of another node as its child `k`.
    fn take(&mut self, k: usize, node: &Self, from: usize) {
        for axis in 0..2 {
            self.middle[axis][k] = node.middle[axis][from];
            self.half[axis][k] = node.half[axis][from];
            self.gradient[axis][k] = node.gradient[axis][from];
        }
        self.height[k] = node.height[from];
        self.lift[k] = node.lift[from];
        self.top[k] = node.top[from];
        self.curve[k] = node.curve[from];
        self.touch[k] = node.touch[from];
        self.lean[k] = node.lean[from];
        self.child[k] = node.child[from];
    }

    /// So that from the middle of a patch it looks no lower than from anywhere in it: moving the axis is moving the boxes the
    /// other way, which lifts their lids by the gradient.
    fn seen_from(&self, patch: &Patch) -> Self {
        let mut node = self.clone();
        for half in patch.halves {
            for (axis, by) in half.to_array().into_iter().enumerate() {
                node.half[axis].iter_mut().for_each(|h| *h += by.abs());
            }
            for (k, height) in node.height.iter_mut().enumerate() {
                *height += (self.gradient[0][k] * half.x + self.gradient[1][k] * half.y).abs();
            }
        }
        node
    }

    /// How high each child could lift a cutter on this axis at most.
    #[inline(always)]
    fn bounds(&self, axis: [f64; 2], shadow: &Shadow) -> Each {
        let mut bounds = [0.0; WIDE];
        for (i, bound) in bounds.iter_mut().enumerate() {
            let (mut lid, mut far) = (self.height[i], 0.0);
            for (k, axis) in axis.iter().enumerate() {
                let half = self.half[k][i];
                let gradient = self.gradient[k][i];
                // All from the middle of the box: the axis, where the lid would be touched, and the nearest place.
                let to = axis - self.middle[k][i];
                let best = clamp(to + gradient * self.touch[i], half);
                let off = best - to;
                lid += gradient * best - self.curve[i] * (off * off);
                let apart = clamp(to, half) - to;
                far += apart * apart;
            }
            let [p, q, r] = shadow.paraboloids.map(|[curve, lift]| curve * far + lift);
            // Nowhere below the tip, to the last bit: else level ground would seem to lift a flat above itself.
            let rise = greater(greater(greater(p, q), r), 0.0);
            let mut least = lesser(lid, self.top[i] - rise);
            if let Some(flank) = shadow.flank {
                least = lesser(least, self.over_flank(i, axis, far.sqrt(), flank));
            }
            *bound = if far > shadow.radius_squared { f64::NEG_INFINITY } else { least };
        }
        bounds
    }

    /// How high the child `i`, `apart` from the axis, could lift a flank at most.
    ///
    /// The cone of the flank is nowhere below a plane that leans on it: on the side of the nearest place of the child, or
    /// uphill where the child lies around the axis.
    #[inline(always)]
    fn over_flank(&self, i: usize, axis: [f64; 2], apart: f64, [steep, height]: [f64; 2]) -> f64 {
        let mut lid = self.height[i] + self.lift[i];
        let per_apart = 1.0 / apart;
        for (k, axis) in axis.iter().enumerate() {
            let half = self.half[k][i];
            let gradient = self.gradient[k][i];
            let to = axis - self.middle[k][i];
            let leaning =
                if apart > 0.0 { (clamp(to, half) - to) * per_apart * steep } else { gradient * self.lean[i] };
            lid += leaning * to + (gradient - leaning).abs() * half;
        }
        lesser(lid, self.top[i] - steep * apart) - height
    }
}

impl<C: Fn(u32) -> [DVec3; 3] + Sync> Seed<'_, C> {
    /// A node over some facets, which are put into its order.
    fn node(&self, seats: &mut [Seat]) -> Grown {
        let many = seats.len() > MANY;
        let mut parts = vec![seats];
        while parts.len() < WIDE {
            parts = parts.into_iter().flat_map(halves).collect();
        }
        parts.retain(|part| !part.is_empty());
        let grow = |seats: &mut [Seat]| {
            let lid = self.lid(seats);
            (lid, if seats.len() <= LEAF { Grown::Leaf(seats.len()) } else { self.node(seats) })
        };
        let grown: Vec<(Lid, Grown)> =
            if many { parts.into_par_iter().map(grow).collect() } else { parts.into_iter().map(grow).collect() };
        let mut node = Node::bare();
        for (k, (lid, _)) in grown.iter().enumerate() {
            self.place(lid, &mut node, k);
        }
        Grown::Node(Box::new(node), grown.into_iter().map(|(_, part)| part).collect())
    }

    fn lid(&self, seats: &[Seat]) -> Lid {
        let (mut min, mut max, mut normal) = (DVec3::INFINITY, DVec3::NEG_INFINITY, DVec3::ZERO);
        for seat in seats {
            let [a, b, c] = (self.corners)(seat.id);
            min = min.min(a).min(b).min(c);
            max = max.max(a).max(b).max(c);
            let n = (b - a).cross(c - a);
            normal += n * n.z.signum();
        }
        let slope = if normal.z > 0.0 { -normal.truncate() / normal.z } else { DVec2::ZERO };
        let gradient = slope.clamp_length_max(STEEPEST);
        let middle = (min + max).truncate() / 2.0;
        let over = |p: DVec3| p.z - gradient.dot(p.truncate() - middle);
        let height = seats.iter().flat_map(|seat| (self.corners)(seat.id)).map(over).fold(f64::NEG_INFINITY, f64::max);
        Lid { min, max, gradient, height }
    }

    /// Enters a lid as the child `k` of a node, with what rounding may take.
    fn place(&self, lid: &Lid, node: &mut Node, k: usize) {
        let steepness = lid.gradient.length();
        let flank = self.under.flank_line().map_or(0.0, |[steep, _]| steep);
        let slack = ROUNDING * (1.0 + steepness + flank) * self.size;
        let mut corner = lid.height;
        for axis in 0..2 {
            let middle = 0.5 * (lid.min[axis] + lid.max[axis]);
            let half = (lid.max[axis] - middle).max(middle - lid.min[axis]);
            node.middle[axis][k] = middle;
            node.half[axis][k] = half + ROUNDING * self.size;
            node.gradient[axis][k] = lid.gradient[axis];
            corner += lid.gradient[axis].abs() * half;
        }
        let (curve, lift) = self.under.paraboloid(steepness);
        node.height[k] = lid.height - lift + slack;
        node.lift[k] = lift;
        node.top[k] = lid.max.z.min(corner + slack);
        node.curve[k] = curve;
        node.touch[k] = 0.5 / curve;
        node.lean[k] = (flank / steepness).min(1.0);
    }
}

/// Parts facets into two halves across the direction in which they lie farthest apart.
fn halves(seats: &mut [Seat]) -> [&mut [Seat]; 2] {
    let (mut min, mut max) = (DVec3::INFINITY, DVec3::NEG_INFINITY);
    for seat in seats.iter() {
        (min, max) = (min.min(seat.middle), max.max(seat.middle));
    }
    let size = max - min;
    let axis = (0..3).fold(0, |best, k| if size[k] > size[best] { k } else { best });
    let half = seats.len() / 2;
    if half > 0 {
        let along = |a: &Seat, b: &Seat| a.middle[axis].total_cmp(&b.middle[axis]).then(a.id.cmp(&b.id));
        seats.select_nth_unstable_by(half, along);
    }
    seats.split_at_mut(half).into()
}

/// Within ± `limit`; compare and select, which becomes one instruction for all children.
#[inline(always)]
fn clamp(value: f64, limit: f64) -> f64 {
    let below = if value < limit { value } else { limit };
    if below > -limit { below } else { -limit }
}

#[inline(always)]
fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

#[inline(always)]
fn lesser(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}
