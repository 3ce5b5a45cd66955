//! What is left of wall and floor if the turning over is off by all that the sheet and the machine allow.
//!
//! The second side is cut from a zero that is found again, and errors of the machine that shift both sides alike in its own
//! frame shift them against each other once the piece is turned. With `n` the normal of the inside skin, all in the frame of
//! the program that follows the turn, a place loses
//!
//! * `|n·w|` by the readings `w` that the sheet still allows in X, Y and Z,
//! * `|nx| · 2θ|y|` by axes out of square by θ: the turn about X sends y to −y,
//! * `|n in plan| · 2φd` by a spindle that leans by φ, at the depth d below the face that the zero is on.
//!
//! That errors double in a turn is common practice, no source; the sums are geometry.

use super::wall::{Maps, Thin, UNKNOWN, gouged};
use crate::case::{Case, SetupCase};
use crate::skin::Point;
use crate::verdict::{Check, Where};
use glam::DVec3;
use workpiece::Face;

/// At least so much of the wall asked for must be left, and less than the second is on watch (common practice, no source).
const LEFT: [f64; 2] = [0.6, 0.85];

/// What the setup after the turn may be off by.
struct Budget {
    /// Readings allowed along the program's axes, mm.
    within: DVec3,
    /// Out of square and lean, mm/m, as they are: the turn doubles them.
    square: f64,
    lean: f64,
    /// Height of the face that the zero is on.
    top: f64,
}

impl Budget {
    /// The three losses at a place of the inside skin with the normal `n`, program frame, mm.
    fn losses(&self, at: DVec3, n: DVec3) -> [f64; 3] {
        let n = n.abs();
        let doubled = |per_metre: f64| 2e-3 * per_metre;
        let depth = (self.top - at.z).max(0.0);
        [
            n.dot(self.within),
            n.x * doubled(self.square) * at.y.abs(),
            n.truncate().length() * doubled(self.lean) * depth,
        ]
    }
}

/// The setup whose zero is found again after the turn, if the two skins are finished with different faces up.
fn second<'a, 'e>(case: &'a Case<'e>) -> Option<&'a SetupCase<'e>> {
    let finishing = |face: Face| case.setups.iter().rposition(|of| of.setup.finishes_skin && of.setup.face_up == face);
    Some(&case.setups[finishing(Face::Rim)?.max(finishing(Face::Foot)?)])
}

/// What a place of the inside skin loses, mm: nothing, all at once, and what is to be expected.
pub(crate) fn losses(case: &Case<'_>) -> impl Fn(&Point) -> [f64; 3] + Sync {
    let budget = second(case).map(|of| {
        let (zero, machine) = (&of.setup.zero, &case.evidence.machine);
        let budget = Budget {
            within: DVec3::new(zero.x.within, zero.y.within, zero.z.within),
            square: machine.squareness_mm_m,
            lean: machine.lean_mm_m,
            top: of.setup.stock.max[2],
        };
        (budget, of.frame.program_to_piece.inverse())
    });
    move |p| {
        let Some((budget, to_program)) = &budget else { return [0.0; 3] };
        let each = budget.losses(to_program.transform_point3(p.at), to_program.transform_vector3(p.normal));
        // Each error is as likely anywhere within its bound: a third of its square on the mean, and they are independent.
        [0.0, each.iter().sum(), (each.iter().map(|l| l * l).sum::<f64>() / 3.0).sqrt()]
    }
}

/// Wall and floor, with all errors at once and with those to be expected; `None` without a piece.
pub(crate) fn judge(case: &Case<'_>, gouges: Option<&[f64]>, thin: Option<[&Thin; 2]>, maps: &Maps) -> Vec<Check> {
    let Some(of) = second(case) else { return Vec::new() };
    let titles = [
        ("flip-wall", "Least wall if the turning over is off by all that is allowed"),
        ("flip-floor", "Least floor if the turning over is off by all that is allowed"),
    ];
    let facts = &case.evidence.piece;
    let (Some([worst, likely]), Some(gouges)) = (thin, gouges) else {
        return titles.into_iter().map(|(id, title)| Check::uncomputed(id, title, UNKNOWN)).collect();
    };
    let (zero, machine) = (&of.setup.zero, &case.evidence.machine);
    let gouged = gouged(gouges);
    let check = |(k, (id, title)): (usize, (&str, &str))| {
        let asked = [facts.wall, facts.floor][k];
        let (Some((least, at)), Some((usual, _))) = (worst[k], likely[k]) else {
            return Check::uncomputed(id, title, "the piece has no such skin that could be measured");
        };
        let left = least - gouged;
        Check::at_least(id, title, left, LEFT[0] * asked, "mm")
            .at(Where { setup: Some(of.setup.id.clone()), at: Some(at.to_array()), ..Where::default() })
            .mapped(maps[k].clone())
            .remedy(
                "Find the edges closer than the sheet allows, set the axes square and the spindle upright (a small piece cut \
                 from both sides shows by how much they are off), or ask for a thicker wall or floor.",
            )
            .assuming(format!(
                "readings off by {:.2}, {:.2} and {:.2} mm in X, Y and Z, axes out of square by {} mm/m and a spindle that leans \
                 by {} mm/m, doubled by the turn, all at once; {:.2} mm is what to expect",
                zero.x.within,
                zero.y.within,
                zero.z.within,
                machine.squareness_mm_m,
                machine.lean_mm_m,
                usual - gouged
            ))
            .watched(left < LEFT[1] * asked)
    };
    titles.into_iter().enumerate().map(check).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.5 mm/m out of square at 90 mm from the axis of the turn shifts the sides by 0.09 mm against each other, a
    /// lean of 1 mm/m at a depth of 70 mm by 0.14 mm.
    #[test]
    fn errors_of_the_machine_double_in_the_turn() {
        let budget = Budget { within: DVec3::new(0.05, 0.06, 0.3), square: 0.5, lean: 1.0, top: 0.0 };
        let near = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12);
        assert!(near(budget.losses(DVec3::new(40.0, -90.0, -70.0), DVec3::NEG_X), [0.05, 0.09, 0.14]));
        // A wall across Y does not feel the square, a floor only the height.
        assert!(near(budget.losses(DVec3::new(0.0, 90.0, -70.0), DVec3::NEG_Y), [0.06, 0.0, 0.14]));
        assert!(near(budget.losses(DVec3::new(40.0, 90.0, -70.0), DVec3::Z), [0.3, 0.0, 0.0]));
        // Above the zero nothing leans.
        assert!(near(budget.losses(DVec3::new(0.0, 0.0, 5.0), DVec3::X), [0.05, 0.0, 0.0]));
    }
}
