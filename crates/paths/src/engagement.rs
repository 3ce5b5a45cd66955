//! How far a cutter is engaged in what stands, and the way into it on which that stays bounded.

use crate::inside::Inside;
use geom::{DVec2, Region};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_PI_2, PI};

/// Pitch of the rows in which what stands is looked up, mm.
const PITCH: f64 = 0.4;
/// Size of the cells that keep the sides of what stands, in radii of the cutter.
const CELL: f64 = 0.4;
/// So little of an engagement is none: chords lie off their arcs.
const GRAZE: f64 = 0.01;
/// On a way in: distance of its places, how sharply it may turn, and its greatest length, in radii.
const STEP: f64 = 0.06;
const TURN: f64 = 0.3;
const LONGEST: f64 = 9.0;
/// It turns no farther than this in all, radians: enough to curl up in a hole.
const MOST_TURNED: f64 = 3.6;
/// Turns tried at each place of a way in, as shares of the sharpest: away from what stands as fast as may be.
const TURNS: [f64; 13] = [1.0, 0.8, 0.6, 0.45, 0.3, 0.2, 0.1, 0.0, -0.1, -0.2, -0.3, -0.4, -0.55];

/// What stands at a level, as a cutter meets it.
#[derive(Clone, Debug)]
pub(crate) struct Engagement {
    stands: Inside,
    sides: Sides,
    /// Radius of the cutter, mm.
    reach: f64,
    /// Angle over which a straight cut of the full width engages it, radians.
    full: f64,
    /// What stands is on the right of a cut (climb).
    climb: bool,
}

impl Engagement {
    /// `width`: of a straight cut that engages the cutter as far as is allowed, mm.
    pub(crate) fn new(stands: &Region, (reach, width): (f64, f64), climb: bool) -> Self {
        let full = (1.0 - width / reach).acos();
        Self { stands: Inside::new(stands, PITCH), sides: Sides::new(stands, CELL * reach), reach, full, climb }
    }

    /// Angle over which the leading half of the cutter at `p`, moving along `along` (of length 1), stands in material, as a
    /// ratio of that of a straight cut of the full width. Exact for the polygons of what stands.
    pub(crate) fn ratio(&self, p: DVec2, along: DVec2) -> f64 {
        // Of a function that is 1 in what stands and 0 elsewhere, integrated over the angle by parts.
        let begins = f64::from(u8::from(self.stands.contains(p - along.perp() * self.reach)));
        let (mut jumps, mut moments) = (0.0, 0.0);
        self.sides.crossed((p, self.reach), along, |at, jump| {
            jumps += jump;
            moments += jump * along.perp_dot(at).atan2(along.dot(at));
        });
        let angle = FRAC_PI_2 * (2.0 * begins + jumps) - moments;
        angle.clamp(0.0, PI) / self.full
    }

    /// Whether nothing stands at the cutter's edge all round, but for a graze.
    fn is_clear(&self, p: DVec2, along: DVec2) -> bool {
        self.ratio(p, along) <= GRAZE && self.ratio(p, -along) <= GRAZE
    }

    /// A straight cut's width that engages the cutter `ratio` times as far as the full width does, as a share of that.
    pub(crate) fn share(&self, ratio: f64) -> f64 {
        (1.0 - (ratio * self.full).cos()) / (1.0 - self.full.cos())
    }

    /// The shortest way from the clear to `to`, arriving along `along`, on which the engagement exceeds `most` nowhere; found
    /// from its end backwards, turning away from what stands as sharply as that allows. Its last place is `to`.
    pub(crate) fn way_in(
        &self,
        (to, along): (DVec2, DVec2),
        most: f64,
        may: &dyn Fn(DVec2) -> bool,
    ) -> Option<Vec<DVec2>> {
        let step = STEP * self.reach;
        let sense = if self.climb { -1.0 } else { 1.0 };
        let behind = self.ratio(to, -along).max(most);
        let mut way = vec![to];
        let (mut p, mut heading) = (to, along);
        let mut turned: f64 = 0.0;
        let mut first = 0_usize;
        for _ in 0..(LONGEST / STEP) as usize {
            let sharpest = STEP / TURN;
            // Turns change little from place to place.
            let next = (first.saturating_sub(2)..TURNS.len()).find_map(|k| {
                let turn = TURNS[k] * sharpest;
                let towards = DVec2::from_angle(sense * turn).rotate(heading);
                let before = p - towards * step;
                let engaged = self.ratio(before, towards);
                // With nothing before it, it must not back into the far side of a hole.
                let leaves = engaged < 0.5 && self.ratio(before, -towards) > behind;
                (turned + turn <= MOST_TURNED && engaged <= most && !leaves && may(before))
                    .then_some((before, towards, turn, k))
            });
            let (before, towards, turn, k) = next?;
            (p, heading, first) = (before, towards, k);
            turned += turn;
            way.push(p);
            // Out of all that stands, whichever way the cutter went.
            if self.is_clear(p, heading) {
                way.reverse();
                return Some(way);
            }
        }
        None
    }
}

/// The sides of a region by square cells, each in the cell of its middle; cut so short that none is longer than a cell.
#[derive(Clone, Debug)]
struct Sides {
    low: DVec2,
    cell: f64,
    count: [usize; 2],
    /// Where the sides of each cell begin among all, and where the last cell's end.
    begins: Vec<u32>,
    all: Vec<(DVec2, DVec2)>,
}

impl Sides {
    fn new(region: &Region, cell: f64) -> Self {
        let (low, high) = region.bounds().unwrap_or_default();
        let count = ((high - low) / cell).floor().max(DVec2::ZERO).to_array().map(|n| n as usize + 1);
        let short = |(a, b): (DVec2, DVec2)| {
            let n = (a.distance(b) / cell).ceil().max(1.0);
            (0..n as u32).map(move |k| (a.lerp(b, f64::from(k) / n), a.lerp(b, (f64::from(k) + 1.0) / n)))
        };
        let sides = || region.rings.iter().flat_map(|ring| ring.sides()).flat_map(short);
        let of = |(a, b): (DVec2, DVec2)| {
            let [x, y] = ((a.midpoint(b) - low) / cell).max(DVec2::ZERO).to_array();
            (y as usize).min(count[1] - 1) * count[0] + (x as usize).min(count[0] - 1)
        };
        let mut begins = vec![0_u32; count[0] * count[1] + 1];
        sides().for_each(|side| begins[of(side) + 1] += 1);
        for k in 1..begins.len() {
            begins[k] += begins[k - 1];
        }
        let mut next = begins.clone();
        let mut all = vec![(DVec2::ZERO, DVec2::ZERO); begins[begins.len() - 1] as usize];
        for side in sides() {
            let place = &mut next[of(side)];
            all[*place as usize] = side;
            *place += 1;
        }
        Self { low, cell, count, begins, all }
    }

    /// Tells where the leading half of a circle goes into the region (1) or out of it (−1), counter-clockwise, each place
    /// relative to the middle.
    fn crossed(&self, (middle, radius): (DVec2, f64), along: DVec2, mut tell: impl FnMut(DVec2, f64)) {
        let beside = along.perp() * radius;
        // How far the half circle bulges along each axis.
        let bulge = |forth: f64, end: f64| if forth > 0.0 { radius } else { end };
        let aside = beside.abs();
        let most = middle + DVec2::new(bulge(along.x, aside.x), bulge(along.y, aside.y));
        let least = middle - DVec2::new(bulge(-along.x, aside.x), bulge(-along.y, aside.y));
        let half = DVec2::splat(0.5 * self.cell);
        let index = |p: DVec2| ((p - self.low) / self.cell).floor();
        let (from, to) = (index(least - half).max(DVec2::ZERO), index(most + half));
        let square = radius * radius;
        // Farther from the circle than half a side and half a cell's diagonal no cell has sides that cross it.
        let far = (0.5 + FRAC_1_SQRT_2) * self.cell;
        for iy in from.y as usize..((to.y + 1.0).max(0.0) as usize).min(self.count[1]) {
            for ix in from.x as usize..((to.x + 1.0).max(0.0) as usize).min(self.count[0]) {
                let cell = iy * self.count[0] + ix;
                let sides = &self.all[self.begins[cell] as usize..self.begins[cell + 1] as usize];
                let centre = self.low + (DVec2::new(ix as f64, iy as f64) + 0.5) * self.cell;
                if sides.is_empty() || (centre.distance(middle) - radius).abs() > far {
                    continue;
                }
                for &(a, b) in sides {
                    let (a, b) = (a - middle, b - middle);
                    let (a2, b2) = (a.length_squared(), b.length_squared());
                    let (goes_in, comes_out) = match (a2 < square, b2 < square) {
                        (true, true) => continue,
                        (true, false) => (false, true),
                        (false, true) => (true, false),
                        (false, false) => (true, true),
                    };
                    let side = b - a;
                    let (long, towards) = (side.length_squared(), -a.dot(side));
                    // a + t·side lies on the circle.
                    let within = towards * towards - long * (a2 - square);
                    if goes_in && comes_out && (within <= 0.0 || towards <= 0.0 || towards >= long) {
                        continue;
                    }
                    let root = within.max(0.0).sqrt();
                    // What stands is on the left of a side: one that goes out of the circle is gone over into it.
                    for (crosses, t, jump) in [(goes_in, towards - root, -1.0), (comes_out, towards + root, 1.0)] {
                        let at = a + side * (t / long);
                        if crosses && at.dot(along) > 0.0 {
                            tell(at, jump);
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RADIUS: f64 = 3.0;
    const WIDTH: f64 = 2.52;

    fn limit() -> f64 {
        (1.0 - WIDTH / RADIUS).acos()
    }

    /// A straight cut of width `w` engages the cutter over acos(1 − w/R).
    #[test]
    fn a_straight_cut_is_engaged_by_the_arc_cosine() {
        let below = Region::rectangle(DVec2::new(-50.0, -50.0), DVec2::new(50.0, 0.0));
        let engagement = Engagement::new(&below, (RADIUS, WIDTH), true);
        for width in [0.1, 0.5, 1.0, 2.0, 2.52, 3.0, 4.0, 5.5] {
            let ratio = engagement.ratio(DVec2::new(0.3, RADIUS - width), DVec2::X);
            let want = (1.0 - width / RADIUS).acos() / limit();
            assert!((ratio - want).abs() < 1e-9, "{width}: {ratio} for {want}");
            let width = width.min(WIDTH);
            assert!((engagement.share((1.0 - width / RADIUS).acos() / limit()) - width / WIDTH).abs() < 1e-9);
        }
    }

    /// On a circle of radius `c` within a hole of radius `ρ` the edges meet where the cosine is (ρ² − c² − R²)/(2 c R).
    #[test]
    fn in_a_hole_it_is_engaged_farther() {
        for (hole, circle) in [(5.7_f64, 4.5_f64), (10.0, 9.0), (30.0, 29.0), (30.0, 29.36)] {
            let block = Region::rectangle(DVec2::splat(-60.0), DVec2::splat(60.0));
            let stands = block.minus(&Region::disc(DVec2::ZERO, hole, 1e-5));
            let engagement = Engagement::new(&stands, (RADIUS, WIDTH), true);
            let cosine = (hole * hole - circle * circle - RADIUS * RADIUS) / (2.0 * circle * RADIUS);
            let ratio = engagement.ratio(DVec2::new(circle, 0.0), DVec2::Y);
            assert!((ratio - cosine.acos() / limit()).abs() < 2e-3, "{hole}, {circle}: {ratio}");
        }
    }

    /// Against 20 000 directions looked at one by one, on stars with a hole, some sides long and some short.
    #[test]
    fn the_angle_is_that_of_many_directions() {
        const COUNT: u32 = 20_000;
        let star = |points: u32, inner: f64, outer: f64, fine: f64| {
            let p = |i: u32| {
                DVec2::from_angle(0.3 + PI * f64::from(i) / f64::from(points)) * [outer, inner][i as usize % 2]
            };
            let ring = geom::Ring((0..2 * points).map(p).collect());
            Region { rings: vec![ring] }.offset(fine, 0.01).minus(&Region::disc(
                DVec2::new(0.4, 0.2),
                0.6 * inner,
                0.01,
            ))
        };
        let mut greatest: f64 = 0.0;
        for stands in [star(5, 4.0, 11.0, 0.0), star(9, 6.0, 8.0, 0.3), star(3, 5.0, 30.0, -0.2)] {
            let engagement = Engagement::new(&stands, (RADIUS, WIDTH), true);
            for k in 0..200 {
                let p = DVec2::from_angle(0.7 * f64::from(k)) * (0.07 * f64::from(k));
                let along = DVec2::from_angle(2.1 * f64::from(k));
                let turned =
                    |i: u32| DVec2::from_angle(PI * ((f64::from(i) + 0.5) / f64::from(COUNT) - 0.5)).rotate(along);
                let met = (0..COUNT).filter(|&i| stands.contains(p + turned(i) * RADIUS)).count();
                let want = PI * met as f64 / f64::from(COUNT) / limit();
                let got = engagement.ratio(p, along);
                assert!((got - want).abs() < 2e-3, "{got} for {want} at {p} along {along}");
                greatest = greatest.max(want);
            }
        }
        assert!(greatest > 1.5);
    }

    /// Along a wall and in a hole hardly wider than the cutter, either way round: from the clear, nowhere engaged too far.
    #[test]
    fn a_way_in_is_bounded() {
        let below = Region::rectangle(DVec2::new(-80.0, -50.0), DVec2::new(80.0, 0.0));
        let block = Region::rectangle(DVec2::splat(-60.0), DVec2::splat(60.0));
        let hole = block.minus(&Region::disc(DVec2::ZERO, 5.7, 1e-3));
        for (stands, to, along) in
            [(&below, DVec2::new(0.0, RADIUS - WIDTH), DVec2::X), (&hole, DVec2::new(4.45, 0.0), DVec2::Y)]
        {
            for climb in [true, false] {
                let along = if climb { along } else { -along };
                let engagement = Engagement::new(stands, (RADIUS, WIDTH), climb);
                let way = engagement.way_in((to, along), 1.05, &|_| true).unwrap();
                assert_eq!(way.last(), Some(&to));
                assert!(engagement.is_clear(way[0], along), "begins in the clear");
                for pair in way.windows(2) {
                    let ratio = engagement.ratio(pair[0], (pair[1] - pair[0]).normalize());
                    assert!(ratio <= 1.05 + 1e-9, "{ratio} at {}", pair[0]);
                }
            }
        }
    }
}
