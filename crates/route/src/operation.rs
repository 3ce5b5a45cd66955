//! Operations: what one cutter does in one go, carried out on the planner's own workpiece so that the next one knows.

use crate::choose::Speeds;
use crate::frame::Frame;
use base::{Cancelled, Quiet};
use paths::Move;
use trade::shelf::{Cutter, Machine};
use workpiece::{Sweep, Workpiece};

/// One operation of a setup.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Operation {
    /// Title, a comment in the program.
    pub(crate) title: String,
    /// Cutter, by number.
    pub(crate) cutter: u32,
    /// Speeds.
    pub(crate) speeds: Speeds,
    /// Moves of the tip, program frame.
    pub(crate) moves: Vec<Move>,
}

/// Chords of arcs on the planner's workpiece lie within this of the arc, mm; the columns there are far coarser.
const ARC_CHORD: f64 = 0.02;

/// Takes away what the operation cuts.
///
/// # Errors
/// [`Cancelled`].
pub(crate) fn carry_out(
    workpiece: &mut Workpiece,
    frame: &Frame,
    cutter: &Cutter,
    machine: &Machine,
    moves: &[Move],
) -> Result<(), Cancelled> {
    let shift = frame.workpiece_shift();
    let sweeps: Vec<Sweep> = straight(moves)
        .windows(2)
        .map(|w| Sweep { from: [w[0][0], w[0][1], w[0][2] + shift], to: [w[1][0], w[1][1], w[1][2] + shift] })
        .collect();
    let clear = workpiece::cut::Clearances { shank: 0.2, holder: 2.0 };
    workpiece.cut(&cutter.solid_in(machine), &sweeps, clear, &Quiet)?;
    Ok(())
}

/// The corners of the path, arcs as chords.
fn straight(moves: &[Move]) -> Vec<[f64; 3]> {
    let mut points: Vec<[f64; 3]> = Vec::with_capacity(moves.len() + 1);
    for m in moves {
        match *m {
            Move::Rapid { to } | Move::Feed { to, .. } => points.push(to),
            Move::Arc { to, centre, ccw, .. } => {
                let Some(&from) = points.last() else { continue };
                arc(&mut points, from, to, centre, ccw);
            }
        }
    }
    points
}

fn arc(points: &mut Vec<[f64; 3]>, from: [f64; 3], to: [f64; 3], centre: [f64; 2], ccw: bool) {
    use std::f64::consts::TAU;
    let start = (from[1] - centre[1]).atan2(from[0] - centre[0]);
    let end = (to[1] - centre[1]).atan2(to[0] - centre[0]);
    let radius = (from[0] - centre[0]).hypot(from[1] - centre[1]);
    let mut sweep = if ccw { (end - start).rem_euclid(TAU) } else { -(start - end).rem_euclid(TAU) };
    if sweep.abs() < 1e-9 {
        sweep = if ccw { TAU } else { -TAU };
    }
    let step = 2.0 * (1.0 - (ARC_CHORD / radius).min(1.0)).acos().max(0.05);
    let n = (sweep.abs() / step).ceil().max(1.0) as usize;
    for i in 1..n {
        let t = i as f64 / n as f64;
        let a = start + sweep * t;
        points.push([centre[0] + radius * a.cos(), centre[1] + radius * a.sin(), from[2] + (to[2] - from[2]) * t]);
    }
    points.push(to);
}
