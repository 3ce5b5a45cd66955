//! What was measured on a coupon: thicknesses of walls and floor, pulls on tape.

use super::reader::{List, Range, Section, within};
use crate::figures::coupon::FlipReadings;

/// Readings on coupons, as far as there are any.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// On the flip coupon, with the machine it was cut on.
    pub flip: Option<(String, FlipReadings)>,
    /// On pull coupons.
    pub tape: Option<TapePulls>,
}

/// Pulls on taped squares.
#[derive(Clone, Debug, PartialEq)]
pub struct TapePulls {
    /// Sides of the square that is taped, mm.
    pub side: [f64; 2],
    /// Forces at which it came off straight, N.
    pub straight_n: Vec<f64>,
    /// Forces at which it slid off sideways, N; none if only pulled straight.
    pub sideways_n: Vec<f64>,
}

const WALL: Range = within(0.5, 100.0);
const FORCE: List = List { range: within(0.5, 20_000.0), fewest: 3, most: 100, lengths: false };

pub(super) fn walk(s: &mut Section<'_>, it: &mut Readings) {
    if s.has("flip") || s.describing() {
        s.optional(|s| s.table("flip", "readings on the flip coupon", |s| it.flip = Some(flip(s))));
    }
    if s.has("tape") || s.describing() {
        s.optional(|s| s.table("tape", "pulls on the pull coupon", |s| it.tape = Some(tape(s))));
    }
    if it.flip.is_none() && it.tape.is_none() {
        s.refuse(
            "no-readings",
            "there are no readings in this file; expected a [flip] or a [tape] table".into(),
            "`treen coupon flip DIR` and `treen coupon tape DIR` write a file to fill in",
        );
    }
}

fn flip(s: &mut Section<'_>) -> (String, FlipReadings) {
    let mut machine = String::new();
    s.text("machine", &mut machine, "machine it was cut on, by its name on the shelf");
    let mut it = FlipReadings {
        aside: 0.0,
        depths: [0.0; 2],
        right: [[0.0; 2]; 2],
        left: [[0.0; 2]; 2],
        back: [[0.0; 2]; 2],
        front: [[0.0; 2]; 2],
        floor_out: [0.0; 2],
        floor: [0.0; 4],
        within: 0.0,
    };
    s.length("within", within(0.001, 0.5), &mut it.within, "a reading may be off by, mm");
    s.length("aside", within(5.0, 500.0), &mut it.aside, "walls are read so far from their middle, mm");
    s.array("depths", true, within(0.5, 300.0), &mut it.depths, "depths below the rim: upper and lower, mm");
    s.array("floor_out", true, within(5.0, 500.0), &mut it.floor_out, "floor read so far out along X, along Y, mm");
    let walls: [(&'static str, &mut [f64; 2], &'static str); 8] = {
        let [right_back, right_front] = &mut it.right;
        let [left_back, left_front] = &mut it.left;
        let [back_right, back_left] = &mut it.back;
        let [front_right, front_left] = &mut it.front;
        [
            ("right_back", right_back, "right wall, towards the back: upper, lower, mm"),
            ("right_front", right_front, "right wall, towards the front: upper, lower, mm"),
            ("left_back", left_back, "left wall, towards the back: upper, lower, mm"),
            ("left_front", left_front, "left wall, towards the front: upper, lower, mm"),
            ("back_right", back_right, "back wall, towards the right: upper, lower, mm"),
            ("back_left", back_left, "back wall, towards the left: upper, lower, mm"),
            ("front_right", front_right, "front wall, towards the right: upper, lower, mm"),
            ("front_left", front_left, "front wall, towards the left: upper, lower, mm"),
        ]
    };
    for (key, slot, what) in walls {
        s.array(key, true, WALL, slot, what);
    }
    s.array("floor", true, WALL, &mut it.floor, "floor at the right, left, back, front, mm");
    if !s.describing() && it.depths[1] - it.depths[0] < 1.0 {
        s.refuse_at(
            "depths",
            "depths-too-near",
            "the lower depth lies no deeper than the upper; expected 1 mm more at least".into(),
            "write the upper depth first, both from the rim down",
        );
    }
    (machine, it)
}

fn tape(s: &mut Section<'_>) -> TapePulls {
    let mut it = TapePulls { side: [0.0; 2], straight_n: Vec::new(), sideways_n: Vec::new() };
    s.array("side", true, within(5.0, 500.0), &mut it.side, "sides of the taped square, mm");
    s.numbers("straight_n", FORCE, &mut it.straight_n, "forces at which it came off straight, N");
    s.optional(|s| s.numbers("sideways_n", FORCE, &mut it.sideways_n, "forces at which it slid off sideways, N"));
    it
}
