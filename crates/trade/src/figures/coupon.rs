//! What readings on two small test pieces say about the machine and the tape of a shop.
//!
//! **Flip coupon**: a small tray with straight walls, its outside cut foot up and its inside cut rim up. Where the inside lies against
//! the outside is read off the walls: `u = (left − right) / 2` along X, `(front − back) / 2` along Y, at two places along each
//! wall and at two depths d, and off the floor at its four ends. With `c` the centre, `θ` the edge askew, `q` out of square, `φ`
//! the lean, `τ` the tilt of the seat:
//!
//! * `∂ux/∂y = 2q − θ`, `∂uy/∂x = θ`, so `q = (∂ux/∂y + ∂uy/∂x) / 2`,
//! * `∂ux/∂d = −2φx − τx`, the floor rises by `−τx` along X, so `φx = −(∂ux/∂d + τx) / 2`; the same along Y,
//! * `c` is `u` in the middle of the piece at the depth 0.
//!
//! **Pull coupon**: a taped square pulled off straight, and pushed off sideways: the least force by its area.
//!
//! Derived: geometry and the spread of sums of independent readings. Lengths mm, forces N, stresses MPa, angles mm in mm.

/// Thicknesses read off a flip coupon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlipReadings {
    /// Walls are read so far to both sides of their middle.
    pub aside: f64,
    /// Depths below the rim at which walls are read: upper and lower.
    pub depths: [f64; 2],
    /// Right wall: at the back and at the front, upper and lower.
    pub right: [[f64; 2]; 2],
    /// Left wall, the same.
    pub left: [[f64; 2]; 2],
    /// Back wall: at the right and at the left, upper and lower.
    pub back: [[f64; 2]; 2],
    /// Front wall, the same.
    pub front: [[f64; 2]; 2],
    /// The floor is read so far from the middle, along X and along Y.
    pub floor_out: [f64; 2],
    /// Floor at the right, the left, the back, the front.
    pub floor: [f64; 4],
    /// A reading may be off by so much.
    pub within: f64,
}

/// A value with what it may be off by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// The value, with its sign.
    pub value: f64,
    /// It may be off by so much: the root of the sum of squares of its readings' errors.
    pub within: f64,
}

impl Known {
    /// What to reckon with: its size, and as much again as it may be off.
    pub fn bound(&self) -> f64 {
        self.value.abs() + self.within
    }
}

/// What a flip coupon says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibrated {
    /// X and Y out of square.
    pub square: Known,
    /// Lean of the spindle along X and along Y.
    pub lean: [Known; 2],
    /// Middle of the inside against that of the outside, mm.
    pub centre: [Known; 2],
    /// The edge found askew.
    pub askew: Known,
    /// Tilt of the seat along X and along Y.
    pub tilt: [Known; 2],
}

/// Reads a flip coupon.
pub fn flip(r: &FlipReadings) -> Calibrated {
    // u[a][d]: how far the inside lies along an axis, at the two places a aside and the two depths d.
    let apart = |high: &[[f64; 2]; 2], low: &[[f64; 2]; 2]| -> [[f64; 2]; 2] {
        std::array::from_fn(|a| std::array::from_fn(|d| (low[a][d] - high[a][d]) / 2.0))
    };
    let of_place = |u: &[[f64; 2]; 2], a: usize| (u[a][0] + u[a][1]) / 2.0;
    let of_depth = |u: &[[f64; 2]; 2], d: usize| (u[0][d] + u[1][d]) / 2.0;
    let [ux, uy] = [apart(&r.right, &r.left), apart(&r.back, &r.front)];
    let deeper = r.depths[1] - r.depths[0];
    let along = |u: &[[f64; 2]; 2]| (of_place(u, 0) - of_place(u, 1)) / (2.0 * r.aside);
    let down = |u: &[[f64; 2]; 2]| (of_depth(u, 1) - of_depth(u, 0)) / deeper;
    let [right, left, back, front] = r.floor;
    let tilt = [(left - right) / (2.0 * r.floor_out[0]), (front - back) / (2.0 * r.floor_out[1])];

    let half = std::f64::consts::FRAC_1_SQRT_2 * r.within;
    let (along_off, down_off) = (half / (2.0 * r.aside), half / deeper);
    let tilt_off = r.floor_out.map(|out| std::f64::consts::SQRT_2 * r.within / (2.0 * out));
    let mean_depth = (r.depths[0] + r.depths[1]) / 2.0;
    let centre = |u: &[[f64; 2]; 2]| Known {
        value: (of_depth(u, 0) + of_depth(u, 1)) / 2.0 - down(u) * mean_depth,
        within: (half / 2.0).hypot(mean_depth * down_off),
    };
    let lean = |k: usize, u: &[[f64; 2]; 2]| Known {
        value: -(down(u) + tilt[k]) / 2.0,
        within: down_off.hypot(tilt_off[k]) / 2.0,
    };
    Calibrated {
        square: Known { value: (along(&ux) + along(&uy)) / 2.0, within: along_off * std::f64::consts::SQRT_2 / 2.0 },
        lean: [lean(0, &ux), lean(1, &uy)],
        centre: [centre(&ux), centre(&uy)],
        askew: Known { value: along(&uy), within: along_off },
        tilt: [0, 1].map(|k| Known { value: tilt[k], within: tilt_off[k] }),
    }
}

/// Strength of a taped joint from pulls on an area: the least of them, MPa. `None` without a pull or an area.
pub fn strength_mpa(pulls_n: &[f64], area_mm2: f64) -> Option<f64> {
    let least = pulls_n.iter().copied().fold(f64::INFINITY, f64::min);
    (least.is_finite() && least > 0.0 && area_mm2 > 0.0).then(|| least / area_mm2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;
    use crate::figures::flip::{ITEMS, Place, moved};

    /// Readings on a coupon made by a machine with these very errors (in the order of a flip budget), each rounded to `step`.
    fn readings(errors: &[f64; ITEMS], step: f64) -> FlipReadings {
        let (aside, depths, out, wall, floor) = (40.0, [3.0, 21.0], 45.0, 8.0, 8.0);
        let read = |nominal: f64, x: f64, y: f64, depth: f64, normal: [f64; 3]| {
            let thick = nominal + moved(errors, &Place { x, y, depth, normal });
            if step > 0.0 { (thick / step).round() * step } else { thick }
        };
        let wall_at = |normal: [f64; 3]| -> [[f64; 2]; 2] {
            [1.0, -1.0].map(|side: f64| {
                depths.map(|d| {
                    // The skin faces the middle; `side` is +Y along walls across X, +X along the others.
                    let (x, y) = if normal[0] != 0.0 {
                        (-normal[0] * 52.0, side * aside)
                    } else {
                        (side * aside, -normal[1] * 52.0)
                    };
                    read(wall, x, y, d, normal)
                })
            })
        };
        let up = [0.0, 0.0, 1.0];
        FlipReadings {
            aside,
            depths,
            right: wall_at([-1.0, 0.0, 0.0]),
            left: wall_at([1.0, 0.0, 0.0]),
            back: wall_at([0.0, -1.0, 0.0]),
            front: wall_at([0.0, 1.0, 0.0]),
            floor_out: [out; 2],
            floor: [(out, 0.0), (-out, 0.0), (0.0, out), (0.0, -out)].map(|(x, y)| read(floor, x, y, 24.0, up)),
            within: step.max(0.001),
        }
    }

    /// cx, cy, θ, q, φx, φy, height, tape, τx, τy, carrier.
    const MACHINE: [f64; ITEMS] =
        [0.07, -0.04, 0.4e-3, 0.9e-3, 1.1e-3, -0.6e-3, 0.05, 0.02, 0.5e-3, -0.3e-3, 0.2e-3, 0.1e-3];

    /// A machine made up, its coupon measured without error: its own errors come back.
    #[test]
    fn a_known_machine_is_found_again() {
        let found = flip(&readings(&MACHINE, 0.0));
        close(found.square.value, 0.9e-3, 1e-6);
        close(found.lean[0].value, 1.1e-3, 2e-6);
        close(found.lean[1].value, -0.6e-3, 2e-6);
        close(found.askew.value, 0.4e-3, 1e-6);
        close(found.centre[0].value, 0.07, 1e-4);
        close(found.centre[1].value, -0.04, 1e-4);
        close(found.tilt[0].value, 0.7e-3, 1e-6);
        close(found.tilt[1].value, -0.2e-3, 1e-6);
    }

    /// With a calliper of 0.01 mm the values come back within what they say they may be off.
    #[test]
    fn a_calliper_finds_it_within_what_it_says() {
        let found = flip(&readings(&MACHINE, 0.01));
        for (known, truth) in [
            (found.square, 0.9e-3),
            (found.lean[0], 1.1e-3),
            (found.lean[1], -0.6e-3),
            (found.centre[0], 0.07),
            (found.centre[1], -0.04),
            (found.askew, 0.4e-3),
        ] {
            close(known.value, truth, known.within + 1e-6);
            assert!(known.bound() >= truth.abs() - 1e-6);
        }
        close(found.square.within, 0.01 / (4.0 * 40.0), 1e-12);
    }

    /// Each spread against the slopes of the formula itself, reading by reading.
    #[test]
    fn what_it_may_be_off_follows_from_its_readings() {
        let base = readings(&[0.0; ITEMS], 0.0);
        let r = base.within;
        let mut squares = [0.0; 4];
        let told = |r: &FlipReadings| {
            let f = flip(r);
            [f.square.value, f.lean[0].value, f.centre[0].value, f.tilt[1].value]
        };
        let rest = told(&base);
        let mut add = |change: &dyn Fn(&mut FlipReadings)| {
            let mut off = base;
            change(&mut off);
            let now = told(&off);
            (0..4).for_each(|k| squares[k] += (now[k] - rest[k]).powi(2));
        };
        for a in 0..2 {
            for d in 0..2 {
                add(&|o| o.right[a][d] += r);
                add(&|o| o.left[a][d] += r);
                add(&|o| o.back[a][d] += r);
                add(&|o| o.front[a][d] += r);
            }
        }
        (0..4).for_each(|k| add(&|o| o.floor[k] += r));
        let f = flip(&base);
        let said = [f.square.within, f.lean[0].within, f.centre[0].within, f.tilt[1].within];
        (0..4).for_each(|k| close(squares[k].sqrt(), said[k], 1e-12));
    }

    /// Worked example (docs/holding-and-flip.md): 162 N straight off 6480 mm² of tape is 25 kPa, 259 N sideways 40 kPa.
    #[test]
    fn pulls_give_strengths() {
        close(strength_mpa(&[170.0, 162.0, 181.0], 6480.0).unwrap(), 0.025, 1e-12);
        close(strength_mpa(&[259.2], 6480.0).unwrap(), 0.040, 1e-12);
        assert_eq!(
            (strength_mpa(&[], 2500.0), strength_mpa(&[50.0], 0.0), strength_mpa(&[0.0], 1.0)),
            (None, None, None)
        );
    }
}
