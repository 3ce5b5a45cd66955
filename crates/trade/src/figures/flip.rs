//! How far the two sides of a piece may lie apart after the turn, and what wall, floor or cast loses by it.
//!
//! The second side is cut from a zero that is found again, and errors of the machine that shift both sides alike in its own
//! frame shift them against each other once the piece is turned. With `n` the normal of the skin cut second, at a place `(x, y)`
//! and the depth `d` below the face that the zero is on, all in the frame of the program that follows the turn, and bounds
//! that are reached with either sign, a place loses
//!
//! | by | at most |
//! | --- | --- |
//! | the middle found between two edges, off by e | `\|nx\| e`, `\|ny\| e` |
//! | an edge that runs askew, θ = reading / distance | `\|nx y − ny x\| θ` |
//! | axes out of square by q: the turn about X sends y to −y | `\|nx\| 2 q \|y\|` |
//! | a spindle that leans by φ | `\|nx\| 2 φ d`, `\|ny\| 2 φ d` |
//! | the touched height, off by h, and the tape under the first side, by t | `\|nz\| h`, `\|nz\| t` |
//! | a face that lies tilted by τ, by its seat or by the carrier under it | `\|nx d + nz x\| τ`, `\|ny d + nz y\| τ` |
//!
//! Along Y the lean of the Z travel alone would be turned onto itself; cutters of other stick-outs shift by it all the same,
//! so that it counts in full. That errors double in a turn is common practice, no source; the sums are geometry. Lengths mm.

use std::f64::consts::FRAC_1_SQRT_2;

/// Number of the items of a budget.
pub const ITEMS: usize = 12;

/// What each item is called in a ledger, in order.
pub const NAMES: [&str; ITEMS] = [
    "centre-x",
    "centre-y",
    "askew",
    "square",
    "lean-x",
    "lean-y",
    "height",
    "tape",
    "seat-x",
    "seat-y",
    "carrier-x",
    "carrier-y",
];

/// The same in words.
pub const WORDS: [&str; ITEMS] = [
    "middle between the edges across X",
    "middle between the edges across Y",
    "edge that runs askew",
    "axes out of square, doubled",
    "spindle leaning along X, doubled",
    "spindle leaning along Y, doubled",
    "touched height",
    "tape under the first side",
    "seat tilted along X",
    "seat tilted along Y",
    "carrier tilted along X",
    "carrier tilted along Y",
];

/// How a loss depends on its error, item by item.
pub const FORMULAS: [&str; ITEMS] = [
    "|nx| e",
    "|ny| e",
    "|nx y − ny x| θ",
    "|nx| 2 q |y|",
    "|nx| 2 φ d",
    "|ny| 2 φ d",
    "|nz| h",
    "|nz| t",
    "|nx d + nz x| τ",
    "|ny d + nz y| τ",
    "|nx d + nz x| τ",
    "|ny d + nz y| τ",
];

/// Bounds of what may be off, each reached with either sign and independent of the others. Angles as tangents (mm in mm).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Errors {
    /// The middle found between two edges, along X and along Y.
    pub centre: [f64; 2],
    /// The edge that was swept runs askew: difference of two readings over their distance.
    pub askew: f64,
    /// X and Y out of square, as they are: the turn doubles it.
    pub square: f64,
    /// Lean of the spindle, as it is: the turn doubles it.
    pub lean: f64,
    /// The touched height.
    pub height: f64,
    /// The tape under the first side, where the height between both faces was not measured.
    pub tape: f64,
    /// Tilt of the seat along X and along Y: chips, an uneven film of glue.
    pub seat: [f64; 2],
    /// Tilt of the carrier itself.
    pub carrier: [f64; 2],
}

/// A place of the skin that is cut second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where, in the plan of the program.
    pub x: f64,
    /// Where, in the plan of the program.
    pub y: f64,
    /// Depth below the face that the zero is on.
    pub depth: f64,
    /// Unit normal of the skin.
    pub normal: [f64; 3],
}

/// What a place loses, item by item, each at its bound.
pub type Losses = [f64; ITEMS];

impl Errors {
    /// The bounds of all items, in order.
    pub fn bounds(&self) -> [f64; ITEMS] {
        let Self { centre, askew, square, lean, height, tape, seat, carrier } = *self;
        [centre[0], centre[1], askew, square, lean, lean, height, tape, seat[0], seat[1], carrier[0], carrier[1]]
    }

    /// What a place loses by each, at its bound.
    pub fn losses(&self, at: &Place) -> Losses {
        let (bounds, shares) = (self.bounds(), shares(at));
        std::array::from_fn(|k| bounds[k] * shares[k])
    }
}

/// What a place loses by one unit of each error.
pub fn shares(at: &Place) -> [f64; ITEMS] {
    let [nx, ny, nz] = at.normal;
    let depth = at.depth.max(0.0);
    let tilt = [(nx * at.depth + nz * at.x).abs(), (ny * at.depth + nz * at.y).abs()];
    [
        nx.abs(),
        ny.abs(),
        (nx * at.y - ny * at.x).abs(),
        nx.abs() * 2.0 * at.y.abs(),
        nx.abs() * 2.0 * depth,
        ny.abs() * 2.0 * depth,
        nz.abs(),
        nz.abs(),
        tilt[0],
        tilt[1],
        tilt[0],
        tilt[1],
    ]
}

/// All at their bounds at once, `Σ b`: for "will it break through".
pub fn worst(losses: &[f64]) -> f64 {
    losses.iter().sum()
}

/// Root of the sum of squares, `√Σ b²`: what to expect.
pub fn expected(losses: &[f64]) -> f64 {
    losses.iter().map(|l| l * l).sum::<f64>().sqrt()
}

/// Standard deviation if each is as likely anywhere within its bound, `√(Σ b² / 3)`.
pub fn deviation(losses: &[f64]) -> f64 {
    expected(losses) / 3f64.sqrt()
}

/// What many turns of a piece come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Simulated {
    /// Mean loss, mm.
    pub mean: f64,
    /// Standard deviation, mm.
    pub deviation: f64,
    /// Standard error of the mean.
    pub mean_error: f64,
    /// Standard error of the deviation, from the fourth moment: `√((μ₄ − σ⁴) / n) / 2σ`.
    pub deviation_error: f64,
    /// Exceeded by one turn in twenty.
    pub of_95: f64,
    /// The greatest.
    pub most: f64,
}

/// Makes a piece `turns` times, each error of each of its setups drawn anywhere within its bound, and moves the side as a
/// solid: turned, tilted, sheared and shifted, not by the sums of the closed form. The same seed gives the same turns.
pub fn simulate(setups: &[Errors], at: &Place, turns: usize, seed: u64) -> Simulated {
    let mut chance = Chance(seed);
    let bounds: Vec<_> = setups.iter().map(Errors::bounds).collect();
    let mut one = |bounds: &[f64; ITEMS]| moved(&bounds.map(|b| b * chance.either_side()), at);
    let mut lost: Vec<f64> = (0..turns).map(|_| bounds.iter().map(&mut one).sum()).collect();
    let n = turns as f64;
    let moment = |mean: f64, power: i32| lost.iter().map(|l| (l - mean).powi(power)).sum::<f64>() / n;
    let mean = moment(0.0, 1);
    let (second, fourth) = (moment(mean, 2), moment(mean, 4));
    let deviation = second.sqrt();
    let deviation_error =
        if deviation > 0.0 { ((fourth - second * second).max(0.0) / n).sqrt() / (2.0 * deviation) } else { 0.0 };
    lost.sort_by(f64::total_cmp);
    let of_95 = lost.get((0.95 * n) as usize).copied().unwrap_or(0.0);
    let most = lost.last().copied().unwrap_or(0.0);
    Simulated { mean, deviation, mean_error: deviation / n.sqrt(), deviation_error, of_95, most }
}

/// How far a place of the skin is moved along its normal by these very errors, in the order of the items: as much wall is there more.
pub(crate) fn moved(drawn: &[f64; ITEMS], at: &Place) -> f64 {
    let [cx, cy, askew, square, lean_x, lean_y, height, tape, seat_x, seat_y, carrier_x, carrier_y] = *drawn;
    let p = [at.x, at.y, -at.depth];
    // Tilted about Y and about X, then turned about Z, each by its angle.
    let (sin, cos) = (seat_x + carrier_x).atan().sin_cos();
    let q = [cos * p[0] + sin * p[2], p[1], cos * p[2] - sin * p[0]];
    let (sin, cos) = (seat_y + carrier_y).atan().sin_cos();
    let q = [q[0], cos * q[1] + sin * q[2], cos * q[2] - sin * q[1]];
    let (sin, cos) = askew.atan().sin_cos();
    let q = [cos * q[0] - sin * q[1], sin * q[0] + cos * q[1], q[2]];
    // Each side is sheared by the machine, the first one turned about X: y and z of its shear have changed their signs.
    let sheared = |y: f64, z: f64| [square * y + lean_x * z, lean_y * z];
    let (first, second) = (sheared(-p[1], -p[2].min(0.0)), sheared(p[1], p[2].min(0.0)));
    let apart = [second[0] - first[0] + cx, second[1] - first[1] + cy, height + tape];
    (0..3).map(|k| at.normal[k] * (q[k] - p[k] + apart[k])).sum()
}

/// Numbers between −1 and 1, the same for the same seed (SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA 2014; constants from memory, held against its published first values).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn either_side(&mut self) -> f64 {
        // 53 bits: a double holds no more.
        (self.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// How far the middle may be off at most, all else as it is: the places lose no more than `allowed` in the worst case.
/// Below 0 if they lose more without it.
pub fn centre_allowed(errors: &Errors, places: &[Place], allowed: f64) -> f64 {
    let without = Errors { centre: [0.0; 2], ..*errors };
    let most = |at: &Place| {
        let [x, y, ..] = shares(at);
        (allowed - worst(&without.losses(at))) / (x + y)
    };
    places.iter().filter(|p| p.normal[0].hypot(p.normal[1]) > FLAT).map(most).fold(f64::INFINITY, f64::min)
}

/// How far askew the edge may run at most, all else as it is, mm in mm.
pub fn askew_allowed(errors: &Errors, places: &[Place], allowed: f64) -> f64 {
    let without = Errors { askew: 0.0, ..*errors };
    let most = |at: &Place| (allowed - worst(&without.losses(at))) / shares(at)[2];
    places.iter().filter(|p| shares(p)[2] > FLAT).map(most).fold(f64::INFINITY, f64::min)
}

/// A skin this near to level, or a lever this short, asks nothing of the plan.
const FLAT: f64 = 1e-6;

/// Error of the middle between two edges, each touched to within `touch` once: `touch / √2`.
pub fn middle_error(touch: f64) -> f64 {
    touch * FRAC_1_SQRT_2
}

/// What two readings of an indicator along an edge say: the work is turned by `reading / apart` (small angles), and its far
/// corner, `reach` from the place about which it is turned back, has to move by `reach` times that.
pub fn corner_move(reading: f64, apart: f64, reach: f64) -> f64 {
    reading / apart * reach
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    const BOUNDS: Errors = Errors {
        centre: [0.06, 0.05],
        askew: 0.3e-3,
        square: 0.5e-3,
        lean: 1e-3,
        height: 0.05,
        tape: 0.03,
        seat: [0.4e-3, 0.6e-3],
        carrier: [0.1e-3, 0.2e-3],
    };

    fn places() -> Vec<Place> {
        let ways = [[-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0], [-0.6, 0.0, 0.8], [-0.48, -0.64, 0.6]];
        let at = [(40.0, -90.0, 70.0), (-80.0, 20.0, 5.0), (0.0, 60.0, 30.0)];
        at.iter().flat_map(|&(x, y, depth)| ways.map(|normal| Place { x, y, depth, normal })).collect()
    }

    /// By hand: 0.5 mm/m out of square at 90 mm from the axis of the turn is 0.09 mm, a lean of
    /// 1 mm/m at a depth of 70 mm is 0.14 mm.
    #[test]
    fn errors_of_the_machine_double_in_the_turn() {
        let wall = Place { x: 40.0, y: -90.0, depth: 70.0, normal: [-1.0, 0.0, 0.0] };
        let lost = BOUNDS.losses(&wall);
        close(lost[3], 0.09, 1e-12);
        close(lost[4], 0.14, 1e-12);
        // A wall across Y does not feel the square, a level floor neither square nor lean.
        let across = Place { normal: [0.0, -1.0, 0.0], ..wall };
        assert_eq!((BOUNDS.losses(&across)[3], BOUNDS.losses(&across)[4]), (0.0, 0.0));
        let floor = BOUNDS.losses(&Place { normal: [0.0, 0.0, 1.0], ..wall });
        assert_eq!(floor[..6], [0.0; 6]);
        close(floor[8], 40.0 * 0.4e-3, 1e-12);
    }

    /// Worked example of a wall (docs/holding-and-flip.md): worst case 0.310 mm, root of the sum of squares 0.1212 mm.
    #[test]
    fn the_published_wall_budget() {
        let side = [0.02, 0.02, 0.01];
        let items = [&[0.08, 0.06, 0.05, 0.02][..], &side, &side].concat();
        close(worst(&items), 0.310, 1e-12);
        close(expected(&items), 0.1212, 5e-5);
        close(deviation(&items), 0.1212 / 3f64.sqrt(), 5e-5);
    }

    /// By hand: 0.06 mm over 180 mm is 0.3333 mrad, and 0.040 mm at 120 mm; the centre from two touches.
    #[test]
    fn the_published_sweep_of_an_edge() {
        close(corner_move(0.06, 180.0, 1000.0), 0.3333, 5e-5);
        close(corner_move(0.06, 180.0, 120.0), 0.040, 1e-12);
        close(middle_error(0.05), 0.035_355, 1e-6);
    }

    /// The solid that is really moved agrees with the sums: no bias, the same spread, both within their standard errors
    /// (3 of them, for 2 × 15 comparisons), and nothing beyond the worst case.
    #[test]
    fn chance_agrees_with_the_closed_form() {
        for (k, at) in places().iter().enumerate() {
            let losses = BOUNDS.losses(at);
            let many = simulate(&[BOUNDS], at, 40_000, 7 + k as u64);
            close(many.mean, 0.0, 3.0 * many.mean_error);
            close(many.deviation, deviation(&losses), 3.0 * many.deviation_error);
            assert!(many.deviation_error < 0.01 * many.deviation, "{many:?}");
            assert!(many.most <= worst(&losses) * (1.0 + 1e-3), "{many:?} {}", worst(&losses));
            assert!(many.of_95 < expected(&losses), "{many:?} {}", expected(&losses));
        }
    }

    #[test]
    fn the_same_seed_turns_the_same_way() {
        let at = places()[3];
        assert_eq!(simulate(&[BOUNDS], &at, 100, 5), simulate(&[BOUNDS], &at, 100, 5));
        assert_ne!(simulate(&[BOUNDS], &at, 100, 5), simulate(&[BOUNDS], &at, 100, 6));
        // First values of the generator from the seed 1234567, as published with its reference code (from memory).
        let mut chance = Chance(1_234_567);
        assert_eq!([chance.next(), chance.next()], [6_457_827_717_110_365_317, 3_203_168_211_198_807_973]);
    }

    /// Every single error alone, by the solid that is moved: the closed form is its slope.
    #[test]
    fn each_item_is_the_slope_of_the_moved_solid() {
        for at in places() {
            for (k, share) in shares(&at).into_iter().enumerate() {
                let mut drawn = [0.0; ITEMS];
                drawn[k] = 1e-6;
                close(moved(&drawn, &at).abs() * 1e6, share, 1e-3);
            }
        }
    }

    #[test]
    fn what_may_be_accepted_uses_the_budget_up() {
        let places = places();
        let allowed = 0.8;
        let most = |errors: &Errors| {
            let wall = places.iter().filter(|p| p.normal[0].hypot(p.normal[1]) > 0.0);
            wall.map(|p| worst(&errors.losses(p))).fold(0.0, f64::max)
        };
        let e = centre_allowed(&BOUNDS, &places, allowed);
        close(most(&Errors { centre: [e; 2], ..BOUNDS }), allowed, 1e-12);
        let askew = askew_allowed(&BOUNDS, &places, allowed);
        close(most(&Errors { askew, ..BOUNDS }), allowed, 1e-12);
        assert!(centre_allowed(&BOUNDS, &places, 0.01) < 0.0);
    }
}
