//! Z as a chain of measured values: from the planned sizes and the maker's own measurements to the one number to set
//! at each touch-off. The programs stay as they are.
//!
//! All lengths mm, up positive. The floor's thickness depends on the last touch alone, not on carrier, glue or tape.
//! Derived: sums of lengths.

/// How far a check reading may lie from what is expected, mm (common practice, no source).
pub const READING: f64 = 0.3;
/// Least that must be left to face off the foot, mm (common practice, no source).
pub const LEAST_FACING: f64 = 0.5;
/// How far the lowest cut of the outside stays above the tape, mm (common practice, no source).
pub const ABOVE_TAPE: f64 = 0.2;

/// What was planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Planned {
    /// Finished height H.
    pub height: f64,
    /// Waste beyond the rim, a_r.
    pub beyond_rim: f64,
    /// Waste beyond the foot, a_f.
    pub beyond_foot: f64,
    /// Loss planned for levelling, ℓ.
    pub levelling: f64,
    /// Flange, t_f.
    pub flange: f64,
    /// Least flange that still holds, t_f,min.
    pub flange_least: f64,
    /// Depth of the witness pockets as cut, w.
    pub witness: f64,
}

impl Planned {
    /// Thickness of the blank, `T0 = a_f + H + a_r + ℓ`.
    pub fn blank(&self) -> f64 {
        self.beyond_foot + self.height + self.beyond_rim + self.levelling
    }

    /// Foot plane to face A, `H + a_r`.
    pub fn foot_to_rim_face(&self) -> f64 {
        self.height + self.beyond_rim
    }

    /// Greatest ε with which the same programs may go on, `t_f − t_f,min`.
    pub fn greatest_excess(&self) -> f64 {
        self.flange - self.flange_least
    }

    /// Lowest cut that the outside's programs may hold, above the table less tape: `(t_f − t_f,min) + 0.2`.
    pub fn lowest_outside_cut(&self) -> f64 {
        self.greatest_excess() + ABOVE_TAPE
    }
}

/// After levelling: what the witness pockets say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levelled {
    /// Taken off face A, `ℓ_m = w − w_m`.
    pub taken: f64,
    /// ε, taken off A beyond the plan; below 0 if too little.
    pub excess: f64,
    /// Thickness of the levelled blank, `T_m = T0_m − ℓ_m`.
    pub thickness: f64,
    /// Difference of the two pockets: the tilt over their distance.
    pub tilt: f64,
}

/// Reads the two witness pockets, `cut` deep before levelling and `left` deep after it; `blank` is the thickness measured
/// before (mean of four corners).
pub fn levelled(planned: &Planned, blank: f64, cut: [f64; 2], left: [f64; 2]) -> Levelled {
    let lost = [cut[0] - left[0], cut[1] - left[1]];
    let taken = (lost[0] + lost[1]) / 2.0;
    Levelled { taken, excess: taken - planned.levelling, thickness: blank - taken, tilt: (lost[0] - lost[1]).abs() }
}

/// Greatest difference of the two pockets over their distance: 0.15 mm in 200 mm (common practice, no source).
pub fn tilt_allowed(distance: f64) -> f64 {
    0.15 * distance / 200.0
}

/// The outside: touch the bare table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutsideTouch {
    /// Number to set on the table, `ε − t_t`.
    pub set: f64,
    /// What the top of the blank should then read, `ε + T_m`, give or take [`READING`].
    pub expect_on_blank: f64,
    /// What facing the foot takes off, `ε + T_m − (H + a_r)`.
    pub facing: f64,
    /// The flange as it comes out, `t_f − ε`.
    pub flange: f64,
}

/// Touch-off of the outside; `tape` is the measured stack t_t.
pub fn outside(planned: &Planned, levelled: &Levelled, tape: f64) -> OutsideTouch {
    let top = levelled.excess + levelled.thickness;
    OutsideTouch {
        set: levelled.excess - tape,
        expect_on_blank: top,
        facing: top - planned.foot_to_rim_face(),
        flange: planned.flange - levelled.excess,
    }
}

/// Why the outside must not be cut with the same programs.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ChainBroken {
    /// Too much was taken off face A.
    #[error("{excess:.2} mm too much was taken off the rim face; the flange bears {most:.2} mm at most")]
    Excess {
        /// ε, mm.
        excess: f64,
        /// t_f − t_f,min, mm.
        most: f64,
    },
    /// Too little is left to face the foot.
    #[error("only {facing:.2} mm is left to face the foot; it needs {LEAST_FACING} mm")]
    Facing {
        /// What is left, mm.
        facing: f64,
    },
}

/// Whether the outside may be cut with the same programs.
///
/// # Errors
/// [`ChainBroken`] with the figure that says no.
pub fn may_cut_outside(planned: &Planned, levelled: &Levelled, touch: &OutsideTouch) -> Result<(), ChainBroken> {
    let most = planned.greatest_excess();
    if levelled.excess > most {
        return Err(ChainBroken::Excess { excess: levelled.excess, most });
    }
    if touch.facing < LEAST_FACING {
        return Err(ChainBroken::Facing { facing: touch.facing });
    }
    Ok(())
}

/// The inside: touch the top of the flange, which is face A.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InsideTouch {
    /// Number to set on the flange's top, `L_m − (H + a_r)`.
    pub set: f64,
    /// What the carrier should then read, `−(H + a_r) − g`, give or take [`READING`]. The reading of the first cutter
    /// there is the number that every later cutter is set to.
    pub expect_on_carrier: f64,
}

/// Touch-off of the inside; `foot_to_rim_face` is L_m as measured at the four corners of the flange.
pub fn inside(planned: &Planned, foot_to_rim_face: f64, glue_film: f64) -> InsideTouch {
    let planned = planned.foot_to_rim_face();
    InsideTouch { set: foot_to_rim_face - planned, expect_on_carrier: -planned - glue_film }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;
    use crate::figures::room::{Room, Stack};

    const PLANNED: Planned = Planned {
        height: 55.0,
        beyond_rim: 7.5,
        beyond_foot: 1.5,
        levelling: 1.2,
        flange: 5.0,
        flange_least: 4.0,
        witness: 8.0,
    };

    /// A whole piece, worked with pencil and paper, to 0.01 mm.
    #[test]
    fn the_worked_example() {
        close(PLANNED.blank(), 65.2, 1e-9);
        let levelled = levelled(&PLANNED, 65.5, [8.0; 2], [6.55, 6.55]);
        close(levelled.taken, 1.45, 1e-9);
        close(levelled.excess, 0.25, 1e-9);
        close(levelled.thickness, 64.05, 1e-9);
        let touch = outside(&PLANNED, &levelled, 0.30);
        close(touch.set, -0.05, 1e-9);
        close(touch.expect_on_blank, 64.30, 1e-9);
        close(touch.facing, 1.80, 1e-9);
        close(touch.flange, 4.75, 1e-9);
        assert_eq!(may_cut_outside(&PLANNED, &levelled, &touch), Ok(()));
        let touch = inside(&PLANNED, 62.18, 0.10);
        close(touch.set, -0.32, 1e-9);
        close(touch.expect_on_carrier, -62.60, 1e-9);
        let stack = Stack { hold: 0.0, carrier: 18.0, film: 0.1, stock: 62.2, clearance: 5.0, stickout: 62.0 };
        let room = Room { gap: 170.0, travel: 150.0 };
        close(stack.total(), 147.3, 1e-9);
        assert!(room.fits_above(&stack));
    }

    #[test]
    fn a_broken_chain_is_not_cut() {
        let much = levelled(&PLANNED, 65.5, [8.0; 2], [5.7, 5.7]);
        let touch = outside(&PLANNED, &much, 0.3);
        assert!(matches!(may_cut_outside(&PLANNED, &much, &touch), Err(ChainBroken::Excess { .. })));
        let thin = levelled(&PLANNED, 63.5, [8.0; 2], [6.8, 6.8]);
        let touch = outside(&PLANNED, &thin, 0.3);
        assert!(matches!(may_cut_outside(&PLANNED, &thin, &touch), Err(ChainBroken::Facing { .. })));
    }

    #[test]
    fn tilt_and_lowest_cut() {
        let tilted = levelled(&PLANNED, 65.5, [8.0; 2], [6.5, 6.6]);
        close(tilted.tilt, 0.1, 1e-9);
        close(tilt_allowed(200.0), 0.15, 1e-12);
        // The lowest cut stays off the tape even at the greatest excess.
        close(PLANNED.lowest_outside_cut(), PLANNED.greatest_excess() + ABOVE_TAPE, 1e-12);
    }

    proptest::proptest! {
        /// What the outside really cuts: the foot plane lies `H` above where the rim will be, whatever was measured.
        #[test]
        fn the_cavity_keeps_its_place(over in -0.5..0.9f64, blank in 64.5..67.0f64, tape in 0.2..0.5f64) {
            let w_m = PLANNED.witness - PLANNED.levelling - over;
            let levelled = levelled(&PLANNED, blank, [8.0; 2], [w_m, w_m]);
            let touch = outside(&PLANNED, &levelled, tape);
            // Heights above the table: face A lies on the tape; the foot is cut at z3 = H + a_r with the table at `set`.
            let foot = PLANNED.foot_to_rim_face() - touch.set;
            let face_a = tape;
            // Face A lost ε beyond the plan, so the foot must come ε closer to it for H to stay with the cavity.
            close(foot - face_a, PLANNED.foot_to_rim_face() - levelled.excess, 1e-9);
        }
    }
}
