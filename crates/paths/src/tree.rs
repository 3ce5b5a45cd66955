//! A tree over facets that tells how high a part of a mesh could lift a cutter at most.
//!
//! Every node stands for a box in plan with a lid, a plane that nothing in the box pierces. The underside of the cutter is
//! replaced by a paraboloid that lies below it and touches it where a plane as steep as the lid would, so that the greatest
//! height of lid over paraboloid is found axis by axis. Eight nodes are bounded at once, in single precision around the middle of
//! their node, lifted by more than that can be off.

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
/// Rounding in all steps of a bound together, relative to the lengths in it.
const ROUNDING: f64 = 8.0 * f32::EPSILON as f64;

/// One value for each child.
type Each = [f32; WIDE];

/// Children, each a box with its lid; those that are missing have a lid at minus infinity.
#[derive(Clone, Debug)]
struct Node {
    /// In plan and height, what the others are counted from.
    origin: [f64; 3],
    /// Greatest height of what lies in the boxes, or of the lids where that is less: exact, for level ground asks for no more.
    top: [f64; WIDE],
    /// Middle and half size of the boxes.
    middle: [Each; 2],
    half: [Each; 2],
    /// Gradient of the lids.
    gradient: [Each; 2],
    /// Their height in the middle less that of the paraboloid on its axis.
    height: Each,
    /// The paraboloids rise by so many times the distance squared,
    curve: Each,
    /// and touch the lids at so many times the gradient from the axis.
    touch: Each,
    /// Height of the paraboloid on its axis.
    lift: Each,
    /// A flank leans on the lid at so many times the gradient: 1, or less where it is gentler than the lid.
    lean: Each,
    /// Nodes or leaves.
    child: [u32; WIDE],
}

/// One of the children of a node.
struct Child {
    middle: DVec2,
    half: DVec2,
    gradient: DVec2,
    height: f64,
    lift: f64,
    top: f64,
    curve: f64,
    lean: f64,
}

/// What the cutter is to a search.
#[derive(Clone, Copy, Debug)]
struct Shadow {
    radius: f64,
    radius_squared: f32,
    /// Paraboloids below the underside, from the gentlest to the steepest place: curve, and height on the axis.
    paraboloids: [[f32; 2]; 3],
    /// Of a pointed form: steepness of the flank, and its height when run on down to the axis.
    flank: Option<[f32; 2]>,
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
    shadow: Shadow,
}

impl Tree {
    /// Over the facets named, whose corners are given by `corners`.
    pub(crate) fn new<C>(ids: &[u32], corners: C, under: &Underside) -> (Self, Leaves)
    where
        C: Fn(u32) -> [DVec3; 3] + Sync,
    {
        let seat = |&id: &u32| Seat { middle: corners(id).iter().sum::<DVec3>() / 3.0, id };
        let mut seats: Vec<Seat> = ids.par_iter().map(seat).collect();
        let shadow = Shadow::new(under);
        let seed = Seed { corners, under, shadow };
        let mut tree = Self { nodes: Vec::new(), roots: 0, shadow };
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
            let (half, height) = node.seen_from(patch);
            let bounds = node.bounds((&half, &height), patch.middle.to_array(), &self.shadow);
            for k in (0..WIDE).filter(|&k| bounds[k] > floor) {
                if node.child[k] & IS_LEAF == 0 {
                    open.push(node.child[k]);
                    continue;
                }
                if count == most {
                    return None;
                }
                if count % WIDE == 0 {
                    picked.nodes.push(Node::bare(node.origin));
                    picked.roots += 1;
                }
                picked.nodes[count / WIDE].place(count % WIDE, &node.child_at(k), &self.shadow, node.child[k]);
                count += 1;
            }
        }
        Some(picked)
    }

    /// The leaves, by what lies above them.
    pub(crate) fn leaves(&self) -> impl Iterator<Item = Cover> + '_ {
        let is_leaf = |&(node, k): &(&Node, usize)| node.child[k] & IS_LEAF != 0 && node.top[k] > f64::NEG_INFINITY;
        self.nodes.iter().flat_map(|node| (0..WIDE).map(move |k| (node, k))).filter(is_leaf).map(|(node, k)| {
            let Child { middle, half, gradient, height, lift, top, .. } = node.child_at(k);
            Cover { min: middle - half, max: middle + half, middle, gradient, height: height + lift, top }
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
            let bounds = node.bounds((&node.half, &node.height), axis, &self.shadow);
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
        let reach = under.radius;
        // Lower by what rounding may take, up to the rim.
        let paraboloid = |slope: f64| {
            let (curve, lift) = under.paraboloid(slope);
            [curve as f32, (lift - ROUNDING * (lift.abs() + curve * reach * reach)) as f32]
        };
        let flank =
            |[steep, height]: [f64; 2]| [steep as f32, (height - ROUNDING * (height.abs() + steep * reach)) as f32];
        Self {
            radius: reach,
            radius_squared: ((reach + 1e-9).powi(2) * (1.0 + ROUNDING)) as f32,
            paraboloids: [0.0, 1.3, 4.0].map(paraboloid),
            flank: under.flank_line().map(flank),
        }
    }
}

impl Node {
    /// A node without children.
    fn bare(origin: [f64; 3]) -> Self {
        let zero = [0.0; WIDE];
        Self {
            origin,
            top: [f64::NEG_INFINITY; WIDE],
            middle: [zero; 2],
            half: [zero; 2],
            gradient: [zero; 2],
            height: [f32::NEG_INFINITY; WIDE],
            curve: zero,
            touch: zero,
            lift: zero,
            lean: zero,
            child: [IS_LEAF; WIDE],
        }
    }

    /// Enters a child, its box widened and its lid lifted by what rounding may take within the reach of a cutter.
    fn place(&mut self, k: usize, child: &Child, shadow: &Shadow, at: u32) {
        let [x, y, z] = self.origin;
        let middle = child.middle - DVec2::new(x, y);
        let height = child.height - z;
        let reach = shadow.radius;
        let steepness = child.gradient.length() + shadow.flank.map_or(0.0, |[steep, _]| steep.into());
        // The farthest that an axis may stand from the origin, and from what lies in the box.
        let far = reach + (middle.abs() + child.half).max_element();
        let off = reach + 2.0 * child.half.max_element();
        let slack =
            height.abs() + child.lift.abs() + 2.0 * (1.0 + steepness) * far + 2.0 * child.curve * off * (off + far);
        for axis in 0..2 {
            self.middle[axis][k] = middle[axis] as f32;
            self.half[axis][k] = (child.half[axis] + ROUNDING * far) as f32;
            self.gradient[axis][k] = child.gradient[axis] as f32;
        }
        self.height[k] = (height + ROUNDING * slack) as f32;
        self.top[k] = child.top;
        self.curve[k] = child.curve as f32;
        self.touch[k] = (0.5 / child.curve) as f32;
        self.lift[k] = child.lift as f32;
        self.lean[k] = child.lean as f32;
        self.child[k] = at;
    }

    /// A child as it was entered.
    fn child_at(&self, k: usize) -> Child {
        let [x, y, z] = self.origin;
        let [middle, half, gradient] =
            [self.middle, self.half, self.gradient].map(|v| DVec2::new(v[0][k].into(), v[1][k].into()));
        let [lift, curve, lean] = [self.lift[k], self.curve[k], self.lean[k]].map(f64::from);
        let height = z + f64::from(self.height[k]);
        Child { middle: middle + DVec2::new(x, y), half, gradient, height, lift, top: self.top[k], curve, lean }
    }

    /// Boxes and lids so that from the middle of a patch they look no lower than from anywhere in it: moving the axis is moving
    /// the boxes the other way, which lifts their lids by the gradient.
    fn seen_from(&self, patch: &Patch) -> ([Each; 2], Each) {
        let (mut half, mut height) = (self.half, self.height);
        for by in patch.halves {
            let by = [by.x, by.y].map(|by| (by * (1.0 + ROUNDING)) as f32);
            for (half, by) in half.iter_mut().zip(by) {
                half.iter_mut().for_each(|h| *h += by.abs());
            }
            for (k, height) in height.iter_mut().enumerate() {
                *height += (self.gradient[0][k] * by[0] + self.gradient[1][k] * by[1]).abs();
            }
        }
        (half, height)
    }

    /// How high each child could lift a cutter on this axis at most, its boxes and the heights of its lids being given.
    #[inline(always)]
    fn bounds(&self, (halves, heights): (&[Each; 2], &Each), axis: [f64; 2], shadow: &Shadow) -> [f64; WIDE] {
        let axis = [(axis[0] - self.origin[0]) as f32, (axis[1] - self.origin[1]) as f32];
        let (mut lids, mut rises) = ([0.0; WIDE], [0.0; WIDE]);
        for i in 0..WIDE {
            let (mut lid, mut far) = (heights[i], 0.0);
            for (k, axis) in axis.iter().enumerate() {
                let half = halves[k][i];
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
            let mut rise = greater(greater(greater(p, q), r), 0.0);
            if let Some([steep, height]) = shadow.flank {
                let apart = far.sqrt();
                rise = greater(rise, steep * apart + height);
                lid = lesser(lid, self.over_flank((i, heights[i]), (axis, halves), apart, [steep, height]));
            }
            lids[i] = if far > shadow.radius_squared { f32::NEG_INFINITY } else { lid };
            rises[i] = rise;
        }
        std::array::from_fn(|i| lesser(self.origin[2] + f64::from(lids[i]), self.top[i] - f64::from(rises[i])))
    }

    /// How high the lid of the child `i`, `apart` from the axis, could lift a flank at most.
    ///
    /// The cone of the flank is nowhere below a plane that leans on it: on the side of the nearest place of the child, or
    /// uphill where the child lies around the axis.
    #[inline(always)]
    fn over_flank(
        &self,
        (i, height): (usize, f32),
        (axis, halves): ([f32; 2], &[Each; 2]),
        apart: f32,
        [steep, flank]: [f32; 2],
    ) -> f32 {
        let mut lid = height + self.lift[i];
        let per_apart = 1.0 / apart;
        for (k, axis) in axis.iter().enumerate() {
            let half = halves[k][i];
            let gradient = self.gradient[k][i];
            let to = axis - self.middle[k][i];
            let leaning =
                if apart > 0.0 { (clamp(to, half) - to) * per_apart * steep } else { gradient * self.lean[i] };
            lid += leaning * to + (gradient - leaning).abs() * half;
        }
        lid - flank
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
        let lids = || grown.iter().map(|(lid, _)| lid);
        let (min, max) = lids().fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |a, b| (a.0.min(b.min), a.1.max(b.max)));
        let mut node = Node::bare(min.midpoint(max).to_array());
        for (k, lid) in lids().enumerate() {
            node.place(k, &self.child(lid), &self.shadow, IS_LEAF);
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

    /// What a search has to know of a lid.
    fn child(&self, lid: &Lid) -> Child {
        let half = 0.5 * (lid.max - lid.min).truncate();
        let steepness = lid.gradient.length();
        let (curve, lift) = self.under.paraboloid(steepness);
        let flank = self.under.flank_line().map_or(0.0, |[steep, _]| steep);
        let corner = lid.height + lid.gradient.abs().dot(half);
        Child {
            middle: lid.min.midpoint(lid.max).truncate(),
            half,
            gradient: lid.gradient,
            height: lid.height - lift,
            lift,
            top: lid.max.z.min(corner + ROUNDING * (corner.abs() + steepness * half.max_element())),
            curve,
            lean: (flank / steepness).min(1.0),
        }
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
fn clamp(value: f32, limit: f32) -> f32 {
    let below = if value < limit { value } else { limit };
    if below > -limit { below } else { -limit }
}

#[inline(always)]
fn greater<T: PartialOrd>(a: T, b: T) -> T {
    if a > b { a } else { b }
}

#[inline(always)]
fn lesser<T: PartialOrd>(a: T, b: T) -> T {
    if a < b { a } else { b }
}
