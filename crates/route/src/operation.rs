//! Operations: what one cutter does in one go, carried out on the planner's own workpiece so that the next one knows.

use crate::choose::Speeds;
use crate::feeds::Limit;
use crate::frame::Frame;
use base::{Cancelled, Quiet};
use paths::Move;
use trade::shelf::{Cutter, Machine};
use workpiece::{MoveCut, Sweep, Workpiece};

/// One operation of a setup.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Operation {
    /// Title, a comment in the program.
    pub(crate) title: String,
    /// Cutter, by number.
    pub(crate) cutter: u32,
    /// Speeds.
    pub(crate) speeds: Speeds,
    /// Why the spindle turns no faster, for a person; empty if cutter or spindle set it.
    pub(crate) why: String,
    /// Time at feed by what limits it, s, in the order of [`Limit::ALL`].
    pub(crate) bound_s: [f64; Limit::ALL.len()],
    /// Moves of the tip, program frame.
    pub(crate) moves: Vec<Move>,
    /// Before which of them it stops for the chips to be taken out.
    pub(crate) stops: Vec<usize>,
}

/// Chords of arcs on the planner's workpiece lie within this of the arc, mm; the columns there are far coarser.
const ARC_CHORD: f64 = 0.02;

/// Straight moves are looked at in pieces no longer than this, mm.
const PIECE: f64 = 4.0;

/// A straight stretch of the path, program frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chord {
    /// From.
    pub(crate) from: [f64; 3],
    /// To.
    pub(crate) to: [f64; 3],
    /// Index of the move that it belongs to.
    pub(crate) of: usize,
}

impl Chord {
    /// Its length, mm.
    pub(crate) fn length(&self) -> f64 {
        (0..3).map(|k| (self.to[k] - self.from[k]).powi(2)).sum::<f64>().sqrt()
    }
}

/// Takes away what the operation cuts, and says what each stretch of the path took.
///
/// # Errors
/// [`Cancelled`].
pub(crate) fn carry_out(
    workpiece: &mut Workpiece,
    frame: &Frame,
    cutter: &Cutter,
    machine: &Machine,
    moves: &[Move],
) -> Result<Vec<(Chord, MoveCut)>, Cancelled> {
    let shift = frame.workpiece_shift();
    let lifted = |p: [f64; 3]| [p[0], p[1], p[2] + shift];
    let chords = chords(moves);
    let sweeps: Vec<Sweep> = chords.iter().map(|c| Sweep { from: lifted(c.from), to: lifted(c.to) }).collect();
    let clear = workpiece::cut::Clearances { shank: 0.2, holder: 2.0 };
    let report = workpiece.cut(&cutter.solid_in(machine), &sweeps, clear, &Quiet)?;
    Ok(chords.into_iter().zip(report.moves).collect())
}

/// The path, arcs as chords.
fn chords(moves: &[Move]) -> Vec<Chord> {
    let mut chords: Vec<Chord> = Vec::with_capacity(moves.len());
    let mut at: Option<[f64; 3]> = None;
    for (of, m) in moves.iter().enumerate() {
        let mut points = Vec::new();
        match (*m, at) {
            (Move::Arc { to, centre, ccw, .. }, Some(from)) => arc(&mut points, from, to, centre, ccw),
            (Move::Feed { to, .. }, Some(from)) => line(&mut points, from, to),
            _ => points.push(m.to()),
        }
        for to in points {
            chords.extend(at.map(|from| Chord { from, to, of }));
            at = Some(to);
        }
    }
    chords
}

/// In pieces, so that wood and resin along it are told apart.
fn line(points: &mut Vec<[f64; 3]>, from: [f64; 3], to: [f64; 3]) {
    let n = (Chord { from, to, of: 0 }.length() / PIECE).ceil().max(1.0) as usize;
    let at = |i: usize| [0, 1, 2].map(|k| from[k] + (to[k] - from[k]) * i as f64 / n as f64);
    points.extend((1..n).map(at));
    points.push(to);
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
