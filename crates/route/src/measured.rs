//! What the maker measured changes the numbers to set at touch-off, and nothing in a program: what the programs cannot bear
//! is an error.

use crate::allowances::{Allowances, FLANGE, FLANGE_LEAST, WITNESS_DEPTH, witnesses};
use base::{At, Figure, Figures, Input, Length, Report, Source, Units};
use job::{Measured, Placed};
use trade::figures::chain::{
    ChainBroken, Levelled, OutsideTouch, Planned, inside, levelled, may_cut_outside, outside, tilt_allowed,
};
use trade::shelf::HoldingGoods;
use workpiece::Setup;

/// A blank may stand so much higher than planned, mm: well within what programs rise above it, and what the first facing pass
/// bears.
const HIGHER: f64 = 0.5;
/// A witness may be cut so much deeper or shallower than programmed, mm; a stack of tape is as thick as this, mm.
const WITNESS_OFF: f64 = 0.5;
const TAPE: [f64; 2] = [0.05, 1.0];
/// Foot plane to rim face may be off the plan by so much, mm: more than all touch-offs and passes add up to.
const RIM_OFF: f64 = 1.0;

/// The planned sizes of the chain of heights.
pub(crate) fn planned_chain(sizes: &Allowances) -> Planned {
    Planned {
        height: sizes.height,
        beyond_rim: sizes.levelled_z() - sizes.height,
        beyond_foot: sizes.beyond_foot,
        levelling: sizes.levelling,
        flange: FLANGE,
        flange_least: FLANGE_LEAST,
        witness: WITNESS_DEPTH,
    }
}

/// The chain of heights as far as it was measured, the rest as planned. All in mm.
struct Known {
    plan: Planned,
    /// Depth of the witnesses as cut.
    cut: [f64; 2],
    level: Levelled,
    tape: f64,
    rim: f64,
}

impl Known {
    fn new(measured: &Measured, sizes: &Allowances, goods: &HoldingGoods) -> Self {
        let plan = planned_chain(sizes);
        let one = |of: Option<Placed<Length>>, planned: f64| of.map_or(planned, |l| l.value.as_mm());
        let two = |of: Option<Placed<[Length; 2]>>| of.map(|pair| pair.value.map(|l| l.as_mm()));
        let cut = two(measured.witness).unwrap_or([WITNESS_DEPTH; 2]);
        // Not measured yet: as much is taken off as is planned.
        let left = two(measured.witness_left).unwrap_or(cut.map(|w| w - plan.levelling));
        let level = levelled(&plan, one(measured.blank, plan.blank()), cut, left);
        let tape = one(measured.tape, goods.tape_stack);
        // What levelling took off beyond the plan is missing from A.
        let rim = one(measured.foot_to_rim, plan.foot_to_rim_face() - level.excess);
        Self { plan, cut, level, tape, rim }
    }
}

/// Tells of measured values that the programs, which do not change, cannot bear.
pub(crate) fn look(measured: &Measured, sizes: &Allowances, in_shop: (&HoldingGoods, Units), report: &mut Report) {
    if sizes.only_roughs() {
        look_once(&Measured { foot_to_rim: None, tape: None, ..*measured }, sizes, in_shop, report);
        look_once(&after_rest(measured), &sizes.after_rest(), in_shop, report);
    } else {
        look_once(measured, sizes, in_shop, report);
    }
}

fn look_once(measured: &Measured, sizes: &Allowances, (goods, units): (&HoldingGoods, Units), report: &mut Report) {
    let Known { plan, cut, level, tape, rim } = Known::new(measured, sizes, goods);
    let planned = Known::new(&Measured::default(), sizes, goods);
    let left_at: Option<At> = measured.witness_left.or(measured.witness).and_then(|w| w.at);
    let height_at = measured.blank.and_then(|l| l.at).or(left_at);
    let [a, b] = witnesses(sizes.half);
    let most = tilt_allowed(a.distance(b));
    if level.tilt > most {
        let text = format!(
            "the two witnesses (`witness_left`) differ by {}; expected {} at most: the levelled face is tilted",
            units.fine(level.tilt),
            units.fine(most)
        );
        report
            .error("measured-tilt", left_at, text)
            .hint("level the face again on a clean table, then measure both witnesses");
    }
    if let Some(wrong) = cut.into_iter().find(|w| (w - WITNESS_DEPTH).abs() > WITNESS_OFF) {
        let text = format!(
            "a witness is said to be cut {} deep; expected {}, give or take {}",
            units.fine(wrong),
            units.fine(WITNESS_DEPTH),
            units.fine(WITNESS_OFF)
        );
        report
            .error("measured-witness", measured.witness.and_then(|w| w.at), text)
            .hint("measure from face A beside the pocket to its floor; if it is so, the first setup was cut from a wrong zero");
    }
    if !(TAPE[0]..=TAPE[1]).contains(&tape) {
        let text = format!(
            "the tape stack is {} thick; expected {} to {}",
            units.fine(tape),
            units.fine(TAPE[0]),
            units.fine(TAPE[1])
        );
        report
            .error("measured-tape", measured.tape.and_then(|l| l.at), text)
            .hint("measure ten layers and divide by ten, times the layers used, and 0.03 mm for the glue");
    }
    let touch = outside(&plan, &level, tape);
    match may_cut_outside(&plan, &level, &touch) {
        Err(ChainBroken::Excess { excess, most }) => {
            let text = format!(
                "levelling took {} more off the rim face than planned (`witness_left`); the flange bears {} at most",
                units.fine(excess),
                units.fine(most)
            );
            report.error("measured-levelling", left_at, text).hint("plan the bowl anew, less tall by what is missing");
        }
        Err(ChainBroken::Facing { facing }) => {
            let text = format!(
                "only {} is left to face the foot (`blank`, `witness_left`); expected {} at least",
                units.fine(facing),
                units.fine(trade::figures::chain::LEAST_FACING)
            );
            report
                .error("measured-facing", height_at, text)
                .hint("measure again; if it is so, plan the bowl anew, less tall");
        }
        Ok(()) => {}
    }
    let higher = touch.expect_on_blank - outside(&plan, &planned.level, tape).expect_on_blank;
    if higher > HIGHER {
        let text = format!(
            "the blank will stand {} higher than planned with its foot up (`blank`, `witness_left`); expected {} at most: the programs begin lower than its top",
            units.fine(higher),
            units.fine(HIGHER)
        );
        let hint = format!("plane {} off the foot face, measure, and plan again with the new record", units.up(higher));
        report.error("measured-blank", height_at, text).hint(hint);
    }
    let off = rim - (planned.rim - level.excess);
    if off.abs() > RIM_OFF {
        let text = format!(
            "foot plane to rim face (`foot_to_rim`) is {} off the plan; expected {} at most",
            units.fine(off.abs()),
            units.fine(RIM_OFF)
        );
        report.error("measured-foot-to-rim", measured.foot_to_rim.and_then(|l| l.at), text).hint(
            "measure at the middles of the flange’s four edges, from the foot plane; if it is so, the outside was cut from a wrong zero",
        );
    }
}

/// What of the measurements still tells something after a rest.
fn after_rest(measured: &Measured) -> Measured {
    Measured { blank: None, witness: None, witness_left: None, ..*measured }
}

/// The outside's zero on the table.
fn set_outside(setup: &mut Setup, touch: &OutsideTouch) {
    setup.zero.z.set_to = touch.set;
    setup.zero.z.expect = touch.expect_on_blank;
    setup.reference_spot.reads = touch.set;
    setup.reference_spot.at[2] = touch.set;
    setup.machine_table_z += touch.set - setup.table_z;
    setup.table_z = touch.set;
}

/// Puts the numbers to set, as they follow from plan and measurements, on the sheets of the setups.
pub(crate) fn touch_off(
    measured: &Measured,
    sizes: &Allowances,
    goods: &HoldingGoods,
    setups: &mut [&mut Setup],
    figures: &mut Figures,
) {
    for setup in setups {
        // After a rest the heights begin anew from face A as it was faced again.
        let before_rest = sizes.only_roughs() && setup.id == "rough-outside";
        let (measured, sizes) = if before_rest || !sizes.only_roughs() {
            (*measured, *sizes)
        } else {
            (after_rest(measured), sizes.after_rest())
        };
        let Known { plan, level, tape, rim, .. } = Known::new(&measured, &sizes, goods);
        match setup.id.as_str() {
            "rough-outside" => set_outside(setup, &outside(&plan, &level, tape)),
            "outside" => {
                let touch = outside(&plan, &level, tape);
                set_outside(setup, &touch);
                // The last place to measure is L_m.
                if let Some(rim_face) = setup.inspect.last_mut() {
                    rim_face.expect = plan.foot_to_rim_face() - level.excess;
                }
                figures.put(
                    "touch.outside",
                    Figure::new(
                        touch.set,
                        "mm",
                        "set = ε − t_t,  ε = (w − w_m) − ℓ",
                        vec![
                            Input::literal(level.excess, "mm", "ε: taken off A beyond the plan"),
                            Input::literal(tape, "mm", "tape stack t_t"),
                        ],
                        Source::Derived,
                    ),
                );
            }
            "inside" => {
                let touch = inside(&plan, rim, goods.glue_film);
                setup.zero.z.set_to = touch.set;
                setup.zero.z.expect = touch.expect_on_carrier;
                // L_m as measured holds what the tape was off.
                if let (Some(found), Some(_)) = (&mut setup.alignment, measured.foot_to_rim) {
                    found.tape = 0.0;
                }
                figures.put(
                    "touch.inside",
                    Figure::new(
                        touch.set,
                        "mm",
                        "set = L_m − (H + a_r)",
                        vec![
                            Input::literal(rim, "mm", "foot plane to rim face L_m"),
                            Input::literal(plan.foot_to_rim_face(), "mm", "as planned, H + a_r"),
                        ],
                        Source::Derived,
                    ),
                );
            }
            _ => {}
        }
    }
}
