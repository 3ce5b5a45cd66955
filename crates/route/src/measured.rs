//! What the maker measured changes the numbers to set at touch-off, and nothing in a program.

use crate::allowances::{Allowances, FLANGE, FLANGE_LEAST, WITNESS_DEPTH};
use base::{Figure, Figures, Input, Source};
use job::Measured;
use trade::figures::chain::{Levelled, Planned, inside, levelled, outside};
use trade::shelf::HoldingGoods;
use workpiece::Setup;

/// The planned sizes of the chain of heights.
pub(crate) fn planned_chain(sizes: &Allowances) -> Planned {
    Planned {
        height: sizes.height,
        beyond_rim: sizes.beyond_rim,
        beyond_foot: sizes.beyond_foot,
        levelling: sizes.levelling,
        flange: FLANGE,
        flange_least: FLANGE_LEAST,
        witness: WITNESS_DEPTH,
    }
}

/// Puts the numbers to set, as they follow from plan and measurements, on the sheets of the setups.
pub(crate) fn touch_off(
    measured: &Measured,
    sizes: &Allowances,
    goods: &HoldingGoods,
    setups: &mut [&mut Setup],
    figures: &mut Figures,
) {
    let plan = planned_chain(sizes);
    let blank = measured.blank.map_or(plan.blank(), |l| l.as_mm());
    let left = measured.witness_left.map_or([WITNESS_DEPTH - plan.levelling; 2], |w| w.map(|l| l.as_mm()));
    let level: Levelled = levelled(&plan, blank, left);
    let tape = measured.tape.map_or(goods.tape_stack, |l| l.as_mm());
    let rim = measured.foot_to_rim.map_or(plan.foot_to_rim_face(), |l| l.as_mm());
    for setup in setups {
        match setup.id.as_str() {
            "outside" => {
                let touch = outside(&plan, &level, tape);
                setup.zero.z.set_to = touch.set;
                setup.zero.z.expect = touch.expect_on_blank;
                setup.reference_spot.reads = touch.set;
                setup.machine_table_z += touch.set - setup.table_z;
                setup.table_z = touch.set;
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
