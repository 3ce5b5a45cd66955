//! Volume of that part of a solid that stands within an upright prism, without the solid that they have in common.
//!
//! A line upwards from the prism's floor meets the skin at heights whose sum, skins that look up counted up and skins that
//! look down counted down, is the length that lies inside the solid (each height no lower than the floor and no higher than
//! the top). So the volume is the sum over the triangles of the integral of that height over what their plan shares with the
//! prism's, with the sign of their plan: Gauss's theorem for a vector that points up. The heights are linear, so the
//! integral over a piece of plan is its area times the height at its middle: nothing is sampled.
//!
//! The prism's plan is told by its sides the same way: a place lies in the plan as often as there are sides above it that
//! run to the left, less those that run to the right. Between two neighbouring corners of the plan (a strip) sides are
//! straight lines; a triangle is cut at the borders of the strips and at those lines alone that pass through it.

use crate::{Mesh, Region};
use glam::{DVec2, DVec3};
use rayon::prelude::*;
use std::ops::Range;

/// Triangles that one thread adds up in a row; sums are put together in the order of the triangles.
const CHUNK: usize = 1 << 14;

impl Mesh {
    /// Volume of what the solid shares with the prism over `plan` from `bottom` to `top`, mm³. Exact but for rounding; places
    /// that rings of the plan go round twice count twice. What the skin must be is what [`Mesh::volume`] needs: closed.
    pub fn volume_within(&self, plan: &Region, (bottom, top): (f64, f64)) -> f64 {
        let prism = Prism { strips: Strips::new(plan), bottom, top };
        let part = |chunk: &[[u32; 3]]| {
            let corner = |v: u32| self.vertices[v as usize];
            chunk.iter().map(|&[a, b, c]| prism.under(&[corner(a), corner(b), corner(c)])).sum::<f64>()
        };
        let sums: Vec<f64> = self.triangles.par_chunks(CHUNK).map(part).collect();
        sums.iter().sum()
    }
}

struct Prism {
    strips: Strips,
    bottom: f64,
    top: f64,
}

/// The plan between neighbouring corners.
struct Strips {
    /// Corners, from left to right.
    x: Vec<f64>,
    /// Least and greatest y: what lies beyond either is not in the plan.
    y: (f64, f64),
    /// For each strip where its sides begin among `sides`.
    first: Vec<usize>,
    sides: Vec<Side>,
    /// For each of as many equal parts of the width the strip in which it begins.
    at: Vec<usize>,
}

/// A side as a line.
#[derive(Clone, Copy)]
struct Side {
    x: f64,
    y: f64,
    rise: f64,
    /// What lies below it counts so often.
    counts: f64,
}

impl Side {
    /// How far above the line a place is.
    fn over(&self, p: DVec3) -> f64 {
        p.y - self.y - self.rise * (p.x - self.x)
    }
}

impl Strips {
    fn new(plan: &Region) -> Self {
        let upright = |(a, b): &(DVec2, DVec2)| a.x == b.x;
        let sides: Vec<(DVec2, DVec2)> = plan.rings.iter().flat_map(|r| r.sides()).filter(|s| !upright(s)).collect();
        let mut x: Vec<f64> = sides.iter().flat_map(|(a, b)| [a.x, b.x]).collect();
        x.sort_by(f64::total_cmp);
        x.dedup();
        let count = x.len().saturating_sub(1);
        let mut lists: Vec<Vec<Side>> = vec![Vec::new(); count];
        for &(a, b) in &sides {
            let side = Side { x: a.x, y: a.y, rise: (b.y - a.y) / (b.x - a.x), counts: (a.x - b.x).signum() };
            let strip = |v: f64| x.partition_point(|x| *x < v);
            lists[strip(a.x.min(b.x))..strip(a.x.max(b.x))].iter_mut().for_each(|list| list.push(side));
        }
        let mut first = vec![0];
        first.extend(lists.iter().scan(0, |n, list| {
            *n += list.len();
            Some(*n)
        }));
        let part = |k: usize| x[0] + (x[count] - x[0]) * k as f64 / count as f64;
        let at = (0..count).map(|k| x.partition_point(|x| *x <= part(k)).saturating_sub(1)).collect();
        let y =
            sides.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (a, _)| (low.min(a.y), high.max(a.y)));
        Self { first, sides: lists.concat(), at, x, y }
    }

    fn sides(&self, strip: usize) -> &[Side] {
        &self.sides[self.first[strip]..self.first[strip + 1]]
    }

    /// The strips that have something between two places.
    fn between(&self, left: f64, right: f64) -> Range<usize> {
        let count = self.at.len();
        if count == 0 || right <= self.x[0] || left >= self.x[count] {
            return 0..0;
        }
        let part = (left - self.x[0]) / (self.x[count] - self.x[0]) * count as f64;
        // One part to the left, for rounding.
        let mut from = self.at[(part as usize).saturating_sub(1).min(count - 1)];
        while self.x[from + 1] <= left {
            from += 1;
        }
        let mut end = from + 1;
        while end < count && self.x[end] < right {
            end += 1;
        }
        from..end
    }
}

impl Prism {
    /// The integral of the height above the floor over what the triangle shares with the plan.
    fn under(&self, t: &[DVec3; 3]) -> f64 {
        let (low, high) = (t[0].min(t[1]).min(t[2]), t[0].max(t[1]).max(t[2]));
        if high.z <= self.bottom || high.y <= self.strips.y.0 || low.y >= self.strips.y.1 {
            return 0.0;
        }
        let strips = self.strips.between(low.x, high.x);
        // Mostly all strips see the same: the triangle counts as a whole, or not at all.
        let mut whole = None;
        for strip in strips.clone() {
            let sees = self.whole(strip, low, high);
            if sees.is_none() || whole.is_some_and(|whole| Some(whole) != sees) {
                return strips.map(|strip| self.in_strip(strip, t)).sum();
            }
            whole = sees;
        }
        let inside =
            strips.end > strips.start && low.x >= self.strips.x[strips.start] && high.x <= self.strips.x[strips.end];
        match whole {
            Some(0.0) | None => 0.0,
            Some(counts) if inside && low.z >= self.bottom && high.z <= self.top => counts * integral(t, self.bottom),
            Some(counts) if inside => counts * self.column(&Piece::new(t)),
            Some(_) => strips.map(|strip| self.in_strip(strip, t)).sum(),
        }
    }

    /// How often everything between two corners counts in a strip; `None` if a side passes there.
    fn whole(&self, strip: usize, low: DVec3, high: DVec3) -> Option<f64> {
        let mut counts = 0.0;
        for side in self.strips.sides(strip) {
            let slack = [side.over(DVec3::new(low.x, low.y, 0.0)), side.over(DVec3::new(high.x, low.y, 0.0))];
            if slack[0] >= 0.0 && slack[1] >= 0.0 {
                continue; // wholly above it
            }
            let lift = high.y - low.y;
            if slack[0] + lift > 0.0 || slack[1] + lift > 0.0 {
                return None;
            }
            counts += side.counts;
        }
        Some(counts)
    }

    /// The part of a triangle in one strip.
    fn in_strip(&self, strip: usize, t: &[DVec3; 3]) -> f64 {
        let (from, to) = (self.strips.x[strip], self.strips.x[strip + 1]);
        let piece = Piece::new(t).kept(|p| p.x - from).kept(|p| to - p.x);
        if piece.count < 3 {
            return 0.0;
        }
        let below = |side: &Side| side.counts * self.column(&piece.kept(|p| -side.over(p)));
        self.strips.sides(strip).iter().map(below).sum()
    }

    /// The integral of the height above the floor, no higher than the top.
    fn column(&self, piece: &Piece) -> f64 {
        let heights = || piece.corners[..piece.count].iter().map(|p| p.z);
        if heights().all(|z| z >= self.bottom && z <= self.top) {
            return piece.integral(self.bottom);
        }
        let above = piece.kept(|p| p.z - self.bottom);
        above.integral(self.bottom) - above.kept(|p| p.z - self.top).integral(self.top)
    }
}

/// A convex piece of a triangle.
#[derive(Clone, Copy)]
struct Piece {
    corners: [DVec3; MOST],
    count: usize,
}

/// Three corners, one more for each of the five planes it may be cut at, and some to spare for what rounding bends.
const MOST: usize = 12;

impl Piece {
    fn new(t: &[DVec3; 3]) -> Self {
        let mut corners = [DVec3::ZERO; MOST];
        corners[..3].copy_from_slice(t);
        Self { corners, count: 3 }
    }

    /// What lies where `inside` is not negative; it must be linear (Sutherland and Hodgman 1974).
    fn kept(&self, inside: impl Fn(DVec3) -> f64) -> Self {
        let mut kept = Self { corners: [DVec3::ZERO; MOST], count: 0 };
        let mut push = |p: DVec3| {
            if kept.count < MOST {
                kept.corners[kept.count] = p;
                kept.count += 1;
            }
        };
        for i in 0..self.count {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % self.count]);
            let (u, v) = (inside(a), inside(b));
            if u >= 0.0 {
                push(a);
            }
            if (u > 0.0 && v < 0.0) || (u < 0.0 && v > 0.0) {
                push(a + (b - a) * (u / (u - v)));
            }
        }
        kept
    }

    /// The integral of the height above `floor` over the piece's plan; negative for what looks down.
    fn integral(&self, floor: f64) -> f64 {
        let corner = |i: usize| self.corners[i];
        (2..self.count).map(|i| integral(&[corner(0), corner(i - 1), corner(i)], floor)).sum()
    }
}

/// The integral of the height above `floor` over the triangle's plan; negative for what looks down.
fn integral([a, b, c]: &[DVec3; 3], floor: f64) -> f64 {
    let area = (b - a).truncate().perp_dot((c - a).truncate()) / 2.0;
    area * ((a.z + b.z + c.z) / 3.0 - floor)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::solid::tests::sphere;
    use crate::{DAffine3, Ring};
    use proptest::prelude::*;
    use std::f64::consts::{PI, TAU};

    fn everywhere() -> (f64, f64) {
        (-1e3, 1e3)
    }

    fn strip(half: f64) -> Region {
        Region::rectangle(DVec2::new(-half, -100.0), DVec2::new(half, 100.0))
    }

    #[test]
    fn a_box_is_shared_box_by_box() {
        let cube = Mesh::cuboid(DVec3::new(-1.0, -2.0, -3.0), DVec3::new(4.0, 5.0, 6.0));
        let plan = Region::rectangle(DVec2::new(1.0, 2.0), DVec2::new(9.0, 9.0));
        assert!((cube.volume_within(&plan, everywhere()) - 3.0 * 3.0 * 9.0).abs() < 1e-11);
        assert!((cube.volume_within(&plan, (-1.0, 2.5)) - 3.0 * 3.0 * 3.5).abs() < 1e-11);
        assert_eq!(cube.volume_within(&plan, (7.0, 9.0)), 0.0);
        assert_eq!(cube.volume_within(&Region::default(), everywhere()), 0.0);
        let beside = Region::rectangle(DVec2::new(4.0, 0.0), DVec2::new(9.0, 9.0));
        assert!(cube.volume_within(&beside, everywhere()).abs() < 1e-12);
    }

    /// Half a shell between two balls, cut by |x| ≤ a: at every x two half discs whose areas differ by π(Ro² − Ri²)/2,
    /// so V = π·a·(Ro² − Ri²).
    #[test]
    fn a_slice_of_half_a_shell_is_as_thick_everywhere() {
        let (outer, inner, a) = (70.0, 62.0, 20.0);
        let want = PI * a * (outer * outer - inner * inner);
        let of = |n: usize| {
            let lower = (-1e3, 0.0);
            sphere(outer, n).volume_within(&strip(a), lower) - sphere(inner, n).volume_within(&strip(a), lower)
        };
        let off = [60, 240].map(|n| (of(n) / want - 1.0).abs());
        // Facets lie inside the balls; four times as fine they lose a sixteenth.
        assert!(off[1] < 5e-4 && off[1] < off[0] / 12.0, "{off:?}");
    }

    #[test]
    fn a_hole_in_the_plan_counts_not() {
        let cube = Mesh::cuboid(DVec3::splat(-5.0), DVec3::splat(5.0));
        let ring = |r: f64, n: usize, sense: f64| {
            let corner = |k: usize| DVec2::from_angle(sense * TAU * k as f64 / n as f64) * r;
            Ring((0..n).map(corner).collect())
        };
        let plan = Region { rings: vec![ring(4.0, 100, 1.0), ring(2.0, 7, -1.0)] };
        assert!((cube.volume_within(&plan, everywhere()) - 10.0 * plan.area()).abs() < 1e-9);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Against the solid that a library of solid operations makes of both, and against the rest.
        #[test]
        fn agrees_with_the_solid_in_common(
            x in -6.0..6.0_f64, y in -6.0..6.0_f64, turn in 0.0..3.0_f64, n in 3..20_usize,
            low in -6.0..2.0_f64, high in 0.5..8.0_f64,
        ) {
            let by = DAffine3::from_rotation_x(turn) * DAffine3::from_rotation_z(0.3 + turn);
            let ball = sphere(5.0, 14).transformed(&by);
            // A star.
            let corner = |k: usize| {
                let r = if k.is_multiple_of(2) { 4.0 } else { 1.5 };
                DVec2::new(x, y) + DVec2::from_angle(turn + PI * k as f64 / n as f64) * r
            };
            let plan = Region { rings: vec![Ring((0..2 * n).map(corner).collect())] };
            let shared = ball.common(&Mesh::prism(&plan, low, low + high)).unwrap().volume();
            let got = ball.volume_within(&plan, (low, low + high));
            prop_assert!((got - shared).abs() < 1e-7, "{got} {shared}");
            let all = Region::rectangle(DVec2::splat(-9.0), DVec2::splat(9.0));
            let parts = [(-9.0, low), (low, low + high), (low + high, 20.0)].map(|part| ball.volume_within(&all, part));
            prop_assert!((parts.iter().sum::<f64>() - ball.volume()).abs() < 1e-10);
        }
    }
}
