//! Which parts are sawn from which boards, by straight cuts from edge to edge as a saw makes them: crosscuts and rips.
//!
//! A section of board, what it can still yield: that is found from the two sections that each possible first cut leaves, once for
//! every size of section. What a section yields are the sets of parts none of which is within another; the largest are kept. Cuts are
//! tried where parts laid end to end, from an edge or a flaw on, come to an end: any other cut can be moved there without loss. So
//! the search is exact as long as no section has more such sets than are kept, and its work is bounded. The grain stays along the
//! board: nothing is turned. Sections shorter than the machines take are only crosscut.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::rc::Rc;

/// A stretch of a board, mm: along the grain from the first end, across it from the first edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zone {
    /// From and to along the grain.
    pub along: [f64; 2],
    /// From and to across it.
    pub across: [f64; 2],
}

/// A board to saw from.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// Along the grain, mm.
    pub length: f64,
    /// Across it, mm.
    pub width: f64,
    /// What no part may have in it.
    pub flaws: Vec<Zone>,
    /// What it costs to start it: of boards that yield the same, those are started that cost the least together.
    pub dear: f64,
}

/// Parts of one size, with what is jointed off them afterwards, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Along the grain.
    pub length: f64,
    /// Across it.
    pub width: f64,
    /// How many are wanted.
    pub count: u32,
}

/// The saws, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saw {
    /// What a cut takes.
    pub kerf: f64,
    /// Cut off at both ends of a board: checks and snipe.
    pub end: f64,
    /// Shortest section that is ripped and jointed.
    pub least_length: f64,
}

/// A cut right through a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Along the grain; else across it.
    pub rip: bool,
    /// Near side of the kerf: from the first edge for a rip, from the first end for a crosscut.
    pub at: f64,
    /// The section.
    pub of: Zone,
}

/// A board sawn up.
#[derive(Clone, Debug, PartialEq)]
pub struct Sawn {
    /// Which board.
    pub stock: usize,
    /// Parts by number, and where they lie.
    pub parts: Vec<(usize, Zone)>,
    /// Cuts in their order, without those at the two ends.
    pub cuts: Vec<Cut>,
    /// What is left, flaws and all.
    pub rest: Vec<Zone>,
}

/// How boards are sawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Sawing {
    /// Boards that are started.
    pub boards: Vec<Sawn>,
    /// Of each part, how many they yield.
    pub yields: Vec<u32>,
}

/// How far a search goes.
#[derive(Clone, Copy)]
struct Effort {
    /// Where sections are cut.
    places: Places,
    /// So many sets of parts are kept for a section.
    kept: usize,
    /// So many cuts and sets are tried before it gives up.
    most: usize,
}

/// Where sections are cut: after one part, after some of one kind, or after any.
#[derive(Clone, Copy, PartialEq)]
enum Places {
    One,
    Alike,
    Any,
}

/// Each search goes farther than the one before and is worth more if it comes to its end. The first always does.
const EFFORTS: [Effort; 3] = [
    Effort { places: Places::One, kept: 2, most: 100_000 },
    Effort { places: Places::Alike, kept: 12, most: 300_000 },
    Effort { places: Places::Any, kept: 48, most: 1_000_000 },
];
/// So many sets are kept for the boards together.
const KEPT_TOGETHER: usize = 96;
/// Parts end at no more places than these.
const MOST_ENDS: usize = 20_000;

/// Lengths are whole thousandths of a millimetre, so that they can be compared.
type Um = i64;

fn up(mm: f64) -> Um {
    (mm * 1000.0 - 1e-3).ceil() as Um
}

fn down(mm: f64) -> Um {
    (mm * 1000.0 + 1e-3).floor() as Um
}

/// Saws boards so that they yield the most wood in parts, then with the least dear boards, then with the fewest cuts.
pub fn saw(stock: &[Stock], parts: &[Part], saw: &Saw) -> Sawing {
    let mut sawing = searched(stock, parts, saw);
    // What a board yields is settled: no cut is made any more for a part that another board gives.
    for sawn in &mut sawing.boards {
        let count = |part: usize| sawn.parts.iter().filter(|(k, _)| *k == part).count() as u32;
        let own: Vec<Part> = parts.iter().enumerate().map(|(k, part)| Part { count: count(k), ..*part }).collect();
        let again = searched(&stock[sawn.stock..=sawn.stock], &own, saw);
        let whole = again.yields.iter().zip(&own).all(|(n, part)| *n == part.count);
        if let Some(better) = again.boards.into_iter().next().filter(|b| whole && b.cuts.len() < sawn.cuts.len()) {
            *sawn = Sawn { stock: sawn.stock, ..better };
        }
    }
    sawing
}

fn searched(stock: &[Stock], parts: &[Part], saw: &Saw) -> Sawing {
    let mut best: Option<(Together, Search)> = None;
    for effort in EFFORTS {
        let mut search = Search::new(parts, saw, stock, effort);
        let found = search.together(stock);
        if best.as_ref().is_none_or(|(known, _)| !search.gave_up() && found.order(known).is_lt()) {
            best = Some((found, search));
        }
    }
    let none = || Sawing { boards: Vec::new(), yields: vec![0; parts.len()] };
    best.map_or_else(none, |(best, search)| search.laid_out(stock, &best))
}

/// What some boards yield together.
#[derive(Clone)]
struct Together {
    counts: Vec<u32>,
    area: Um,
    dear: f64,
    cuts: u32,
    picks: Vec<(usize, usize)>,
}

impl Together {
    /// The better first.
    fn order(&self, other: &Self) -> Ordering {
        let area = other.area.cmp(&self.area);
        area.then(self.dear.total_cmp(&other.dear)).then(self.cuts.cmp(&other.cuts))
    }

    /// The best of them, none of which yields no more than another for no less.
    fn best(mut all: Vec<Self>) -> Vec<Self> {
        all.sort_by(|a, b| a.order(b).then_with(|| a.picks.cmp(&b.picks)));
        let mut kept: Vec<Self> = Vec::new();
        for one in all {
            let within = |k: &Self| k.dear <= one.dear && k.counts.iter().zip(&one.counts).all(|(k, c)| k >= c);
            if kept.len() < KEPT_TOGETHER && !kept.iter().any(within) {
                kept.push(one);
            }
        }
        kept
    }
}

/// A section of board: its size, whether it may be ripped, and its flaws as low and high corners from its own low corner.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Section {
    size: [Um; 2],
    rips: bool,
    flaws: Vec<[Um; 4]>,
}

/// How a section is cut up.
#[derive(Clone, Copy)]
enum Node {
    Waste,
    Part(usize),
    /// Across the axis at a distance from the low side. `size` of the section, where it may be larger.
    Cut {
        axis: usize,
        at: Um,
        low: usize,
        high: usize,
        size: Option<[Um; 2]>,
    },
}

/// Parts that a section yields.
#[derive(Clone)]
struct Set {
    counts: Vec<u32>,
    area: Um,
    cuts: u32,
    node: usize,
}

/// What a section yields, the most first, and how often it is trimmed for that.
type Front = (Rc<[Set]>, u32);

struct Search {
    /// Length and width.
    parts: Vec<[Um; 2]>,
    wanted: Vec<u32>,
    kerf: Um,
    end: Um,
    least_length: Um,
    /// Where parts laid side by side with kerfs between them may end, ascending, by axis; 0 first.
    ends: [Vec<Um>; 2],
    /// Where those end after which sections are cut.
    places: [Vec<Um>; 2],
    effort: Effort,
    nodes: Vec<Node>,
    known: BTreeMap<Section, Rc<[Set]>>,
    tried: usize,
}

const WASTE: usize = 0;

impl Search {
    fn new(parts: &[Part], saw: &Saw, stock: &[Stock], effort: Effort) -> Self {
        let sizes: Vec<[Um; 2]> = parts.iter().map(|p| [up(p.length), up(p.width)]).collect();
        let wanted: Vec<u32> = parts.iter().map(|p| p.count).collect();
        let (kerf, least_length) = (up(saw.kerf), up(saw.least_length));
        let largest = |of: fn(&Stock) -> f64| down(stock.iter().map(of).fold(0.0, f64::max));
        let largest = [largest(|b| b.length), largest(|b| b.width)];
        let of = |axis: usize| {
            let each = sizes.iter().zip(&wanted).filter(|(_, n)| **n > 0).map(|(s, n)| (s[axis], Um::from(*n)));
            // A section that is just long enough to be ripped counts like a part.
            let ripped = (axis == 0 && least_length > 0).then_some((least_length, Um::MAX));
            let most = |(size, n): (Um, Um)| (size, n.min((largest[axis] + kerf) / (size + kerf).max(1)));
            let each: Vec<(Um, Um)> = each.chain(ripped).map(most).collect();
            let all = ends(&each, kerf, largest[axis]);
            let places = match effort.places {
                Places::One => with_zero(each.iter().map(|(size, _)| *size).collect()),
                Places::Alike => {
                    let alike = |(s, n): &(Um, Um)| (1..=*n).map(|k| k * (s + kerf) - kerf).collect::<Vec<_>>();
                    with_zero(each.iter().flat_map(alike).collect())
                }
                Places::Any => all.clone(),
            };
            (all, places)
        };
        let ((ends_x, places_x), (ends_y, places_y)) = (of(0), of(1));
        Self {
            parts: sizes,
            wanted,
            kerf,
            end: up(saw.end),
            least_length,
            ends: [ends_x, ends_y],
            places: [places_x, places_y],
            effort,
            nodes: vec![Node::Waste],
            known: BTreeMap::new(),
            tried: 0,
        }
    }

    /// The best that the boards yield together.
    fn together(&mut self, stock: &[Stock]) -> Together {
        let none = Together { counts: vec![0; self.parts.len()], area: 0, dear: 0.0, cuts: 0, picks: Vec::new() };
        let mut all = vec![none.clone()];
        for (index, board) in stock.iter().enumerate() {
            let Some((size, flaws)) = self.within_ends(board) else { continue };
            let rips = size[0] >= self.least_length;
            let (front, _) = self.front(Section { size, rips, flaws });
            let mut next = all.clone();
            for so_far in &all {
                for set in front.iter().filter(|set| set.area > 0) {
                    let counts = self.add(&so_far.counts, &set.counts);
                    let area = self.area(&counts);
                    if area > so_far.area {
                        let mut picks = so_far.picks.clone();
                        picks.push((index, set.node));
                        let (dear, cuts) = (so_far.dear + board.dear, so_far.cuts + set.cuts);
                        next.push(Together { counts, area, dear, cuts, picks });
                    }
                }
            }
            all = Together::best(next);
        }
        all.into_iter().next().unwrap_or(none)
    }

    fn gave_up(&self) -> bool {
        self.tried > self.effort.most
    }

    /// A board without its ends: its size and its flaws.
    fn within_ends(&self, board: &Stock) -> Option<([Um; 2], Vec<[Um; 4]>)> {
        let size = [down(board.length) - 2 * self.end, down(board.width)];
        let flaw =
            |z: &Zone| [down(z.along[0]) - self.end, down(z.across[0]), up(z.along[1]) - self.end, up(z.across[1])];
        let flaws = board.flaws.iter().map(flaw).collect::<Vec<_>>();
        (size[0] > 0 && size[1] > 0).then(|| (size, clipped(&flaws, [0, 0], size)))
    }

    fn add(&self, a: &[u32], b: &[u32]) -> Vec<u32> {
        a.iter().zip(b).zip(&self.wanted).map(|((a, b), most)| (a + b).min(*most)).collect()
    }

    fn area(&self, counts: &[u32]) -> Um {
        counts.iter().zip(&self.parts).map(|(n, [l, w])| Um::from(*n) * l * w).sum()
    }

    /// What a section yields, the most first, and how often it is trimmed for that.
    fn front(&mut self, section: Section) -> Front {
        let size = section.size;
        let section = self.shrunk(section);
        let trims = (0..2).filter(|k| section.size[*k] < size[*k]).count() as u32;
        if let Some(known) = self.known.get(&section) {
            return (Rc::clone(known), trims);
        }
        let made: Rc<[Set]> = self.made(&section).into();
        self.known.insert(section, Rc::clone(&made));
        (made, trims)
    }

    /// A section without flaws yields no more than one in which its parts lie end to end.
    fn shrunk(&self, mut section: Section) -> Section {
        if section.flaws.is_empty() {
            let last = |axis: usize| {
                let ends = &self.ends[axis];
                ends[ends.partition_point(|e| *e <= section.size[axis]).saturating_sub(1)]
            };
            let across = match section.rips {
                true => last(1),
                false if self.parts.iter().any(|p| p[1] == section.size[1]) => section.size[1],
                false => 0,
            };
            section.size = [last(0), across];
        }
        section
    }

    fn made(&mut self, section: &Section) -> Vec<Set> {
        let Section { size, rips, flaws } = section;
        let none = vec![0; self.parts.len()];
        let mut best = Best::default();
        best.put(Set { counts: none.clone(), area: 0, cuts: 0, node: WASTE });
        if size.iter().any(|s| *s <= 0) {
            return best.sets(1);
        }
        if flaws.is_empty() {
            for part in (0..self.parts.len()).filter(|k| self.parts[*k] == *size && self.wanted[*k] > 0) {
                let mut counts = none.clone();
                counts[part] = 1;
                self.nodes.push(Node::Part(part));
                best.put(Set { area: self.area(&counts), counts, cuts: 0, node: self.nodes.len() - 1 });
            }
        }
        let whole = flaws.is_empty().then_some(*size);
        for axis in if *rips { 0..2 } else { 0..1 } {
            for at in self.places(section, axis) {
                self.tried += 1;
                if self.gave_up() {
                    break;
                }
                let [low, high] = self.halves(section, axis, at);
                let fronts = (self.front(low), self.front(high));
                self.joined(fronts, (axis, at, whole), &mut best);
            }
        }
        best.sets(self.effort.kept)
    }

    /// The two sections that a cut leaves.
    fn halves(&self, section: &Section, axis: usize, at: Um) -> [Section; 2] {
        let [mut low, mut high] = [section.size, section.size];
        low[axis] = at;
        high[axis] = (section.size[axis] - at - self.kerf).max(0);
        let mut from = [0, 0];
        from[axis] = at + self.kerf;
        let rips = |size: [Um; 2]| if axis == 0 { size[0] >= self.least_length } else { section.rips };
        let of = |size: [Um; 2], from: [Um; 2]| {
            let flaws = clipped(&section.flaws, from, size);
            Section { size, rips: rips(size), flaws }
        };
        [of(low, [0, 0]), of(high, from)]
    }

    /// Where a section may be cut across an axis.
    fn places(&self, section: &Section, axis: usize) -> Vec<Um> {
        let size = section.size[axis];
        let ends = &self.places[axis];
        let mut places: Vec<Um> = Vec::new();
        if section.flaws.is_empty() {
            // The mirror image of a cut beyond the middle is one before it, if anything lies beyond the cut.
            let mirrored = axis == 1 || self.least_length == 0;
            let least = ends.get(1).copied().unwrap_or(size);
            let kept = |e: &&Um| !mirrored || 2 * **e + self.kerf <= size || **e + self.kerf + least > size;
            places.extend(ends.iter().skip(1).filter(kept));
        } else {
            let starts = section.flaws.iter().map(|f| f[axis + 2]).filter(|s| *s < size);
            let mut starts: Vec<Um> = std::iter::once(0).chain(starts).collect();
            starts.sort_unstable();
            starts.dedup();
            for start in starts {
                // What lies before the start is cut off.
                places.extend((start > 0).then(|| (start - self.kerf).max(0)));
                places.extend(ends.iter().skip(1).map(|e| start + e));
            }
        }
        // A cut at the very edge takes its kerf off a flaw there.
        places.retain(|at| *at < size && (*at > 0 || (!section.flaws.is_empty() && self.kerf > 0)));
        places.sort_unstable();
        places.dedup();
        places
    }

    /// Puts together what the two sections of a cut yield.
    fn joined(
        &mut self,
        ((low, trim_low), (high, trim_high)): (Front, Front),
        (axis, at, size): (usize, Um, Option<[Um; 2]>),
        best: &mut Best,
    ) {
        let trims = |set: &Set, trims: u32| if set.area > 0 { trims } else { 0 };
        for a in &*low {
            for b in &*high {
                self.tried += 1;
                // The sets stand in order of what they yield.
                if a.area + b.area < best.least || a.area + b.area == 0 {
                    break;
                }
                let counts = self.add(&a.counts, &b.counts);
                let cuts = 1 + a.cuts + trims(a, trim_low) + b.cuts + trims(b, trim_high);
                let area = self.area(&counts);
                if area >= best.least && best.wants(&counts, cuts) {
                    self.nodes.push(Node::Cut { axis, at, low: a.node, high: b.node, size });
                    best.put(Set { counts, area, cuts, node: self.nodes.len() - 1 });
                }
            }
        }
        best.thin(self.effort.kept);
    }

    /// The boards with parts and cuts in their places.
    fn laid_out(&self, stock: &[Stock], best: &Together) -> Sawing {
        let mut left = self.wanted.clone();
        let mut boards = Vec::new();
        for (index, node) in &best.picks {
            let (board, mut drawn) = (&stock[*index], Drawn::default());
            let low = [self.end, 0];
            let high = [down(board.length) - self.end, down(board.width)];
            self.draw(*node, [low, high], &mut left, &mut drawn);
            let Drawn { parts, cuts, rest } = drawn;
            boards.push(Sawn { stock: *index, parts, cuts, rest });
        }
        let yields = self.wanted.iter().zip(&left).map(|(wanted, left)| wanted - left).collect();
        Sawing { boards, yields }
    }

    /// Whether a section yields any part that is still wanted.
    fn is_wanted(&self, node: usize, left: &[u32]) -> bool {
        match self.nodes[node] {
            Node::Waste => false,
            Node::Part(part) => left[part] > 0,
            Node::Cut { low, high, .. } => self.is_wanted(low, left) || self.is_wanted(high, left),
        }
    }

    fn draw(&self, node: usize, [low, high]: [[Um; 2]; 2], left: &mut [u32], drawn: &mut Drawn) {
        if (0..2).any(|k| high[k] <= low[k]) {
            return;
        }
        let node = if self.is_wanted(node, left) { node } else { WASTE };
        let (wants, trims_length) = match self.nodes[node] {
            Node::Waste => {
                drawn.rest.push(zone(low, high));
                return;
            }
            Node::Part(part) => (Some(self.parts[part]), true),
            // Too short a section is not ripped: then it is cut to length part by part.
            Node::Cut { size, .. } => (size, size.is_some_and(|s| s[0] >= self.least_length)),
        };
        if let Some(size) = wants {
            for axis in [1, 0] {
                if high[axis] - low[axis] > size[axis] && (axis == 1 || trims_length) {
                    let (mut end, mut start) = (high, low);
                    end[axis] = low[axis] + size[axis];
                    start[axis] = end[axis] + self.kerf;
                    drawn.cut(axis, low[axis] + size[axis], [low, high]);
                    self.draw(WASTE, [start, high], left, drawn);
                    self.draw(node, [low, end], left, drawn);
                    return;
                }
            }
        }
        match self.nodes[node] {
            Node::Waste => {}
            Node::Part(part) => {
                left[part] -= 1;
                drawn.parts.push((part, zone(low, high)));
            }
            Node::Cut { axis, at, low: first, high: second, .. } => {
                let (mut end, mut start) = (high, low);
                end[axis] = low[axis] + at;
                start[axis] = end[axis] + self.kerf;
                drawn.cut(axis, end[axis], [low, high]);
                self.draw(first, [low, end], left, drawn);
                self.draw(second, [start, high], left, drawn);
            }
        }
    }
}

#[derive(Default)]
struct Drawn {
    parts: Vec<(usize, Zone)>,
    cuts: Vec<Cut>,
    rest: Vec<Zone>,
}

impl Drawn {
    fn cut(&mut self, axis: usize, at: Um, [low, high]: [[Um; 2]; 2]) {
        self.cuts.push(Cut { rip: axis == 1, at: at as f64 / 1000.0, of: zone(low, high) });
    }
}

fn zone(low: [Um; 2], high: [Um; 2]) -> Zone {
    let mm = |um: Um| um as f64 / 1000.0;
    Zone { along: [mm(low[0]), mm(high[0])], across: [mm(low[1]), mm(high[1])] }
}

/// Flaws within a part of a section, from its own corner.
fn clipped(flaws: &[[Um; 4]], from: [Um; 2], size: [Um; 2]) -> Vec<[Um; 4]> {
    let clip = |f: &[Um; 4]| {
        let at = |k: usize| (f[k] - from[k % 2]).clamp(0, size[k % 2]);
        let cut = [at(0), at(1), at(2), at(3)];
        (cut[2] > cut[0] && cut[3] > cut[1]).then_some(cut)
    };
    let mut inside: Vec<[Um; 4]> = flaws.iter().filter_map(clip).collect();
    inside.sort_unstable();
    inside.dedup();
    inside
}

/// Where parts laid side by side may end: sizes, and how many of each at most.
fn ends(each: &[(Um, Um)], kerf: Um, largest: Um) -> Vec<Um> {
    let mut sums: Vec<Um> = vec![0];
    for (size, most) in each {
        let more = |s: &Um| {
            let s = *s;
            (1..=*most).map(move |n| s + n * (size + kerf)).take_while(|end| end - kerf <= largest)
        };
        let more: Vec<Um> = sums.iter().flat_map(more).collect();
        sums.extend(more);
        sums.sort_unstable();
        sums.dedup();
        sums.truncate(MOST_ENDS);
    }
    with_zero(sums.into_iter().map(|s| (s - kerf).max(0)).collect())
}

fn with_zero(mut sums: Vec<Um>) -> Vec<Um> {
    sums.push(0);
    sums.sort_unstable();
    sums.dedup();
    sums
}

/// The best sets of parts found so far for a section, each with the fewest cuts.
#[derive(Default)]
struct Best {
    by_counts: BTreeMap<Vec<u32>, Set>,
    /// What yields less is not kept.
    least: Um,
}

impl Best {
    fn wants(&self, counts: &[u32], cuts: u32) -> bool {
        self.by_counts.get(counts).is_none_or(|known| cuts < known.cuts)
    }

    fn put(&mut self, set: Set) {
        self.by_counts.insert(set.counts.clone(), set);
    }

    fn thin(&mut self, keep: usize) {
        if self.by_counts.len() > 4 * keep {
            let sets = std::mem::take(self).sets(keep);
            // The empty set stands last.
            self.least = if sets.len() > keep { sets[keep - 1].area } else { 0 };
            sets.into_iter().for_each(|set| self.put(set));
        }
    }

    /// The largest that are within no other, the most first; nothing at all comes last.
    fn sets(self, keep: usize) -> Vec<Set> {
        let mut sets: Vec<Set> = self.by_counts.into_values().collect();
        sets.sort_by(|a, b| b.area.cmp(&a.area).then(a.cuts.cmp(&b.cuts)).then(a.counts.cmp(&b.counts)));
        let mut kept: Vec<Set> = Vec::new();
        for set in sets {
            let within = |k: &Set| k.counts.iter().zip(&set.counts).all(|(k, c)| k >= c);
            if set.area == 0 || (kept.len() < keep && !kept.iter().any(within)) {
                kept.push(set);
            }
        }
        kept
    }
}

#[cfg(test)]
mod tests;
