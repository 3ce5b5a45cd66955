//! The geometry of G2 and G3 (§3.5.3): centre and sweep from either format.

use std::f64::consts::{PI, TAU};

/// Start, end and turning sense in the plane, mm: first and second axis in the order that makes the sense positive.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    pub(super) start: [f64; 2],
    pub(super) end: [f64; 2],
    pub(super) ccw: bool,
    /// By how much the radii at start and end may differ: 0.002 mm or 0.0002 in (§3.5.3).
    pub(super) tolerance: f64,
}

/// Where an arc turns, and how far (radians, positive counter-clockwise).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Turn {
    pub(super) centre: [f64; 2],
    pub(super) sweep: f64,
}

/// An arc from its centre, given from the start.
pub(super) fn from_centre(span: Span, offset: [f64; 2]) -> Result<Turn, String> {
    let centre = [span.start[0] + offset[0], span.start[1] + offset[1]];
    let out = |p: [f64; 2]| [p[0] - centre[0], p[1] - centre[1]];
    let (a, b) = (out(span.start), out(span.end));
    let (ra, rb) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
    if (ra - rb).abs() > span.tolerance {
        return Err(format!("the radius is {ra:.4} mm at the arc's start and {rb:.4} mm at its end"));
    }
    if ra <= span.tolerance {
        return Err("the arc's centre is its start".into());
    }
    let full = if span.ccw { TAU } else { -TAU };
    if span.start == span.end {
        return Ok(Turn { centre, sweep: full });
    }
    let turned = (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]);
    if turned.abs() < LEAST_TURN {
        return Err("start and end of the arc lie in one line from its centre: nothing or a full turn?".into());
    }
    let sweep = if (turned > 0.0) == span.ccw { turned } else { turned + full };
    Ok(Turn { centre, sweep })
}

/// Below this angle, radians, rounding decides between nothing and a full turn.
const LEAST_TURN: f64 = 1e-9;

/// An arc from its radius: positive up to half a turn, negative beyond.
pub(super) fn from_radius(span: Span, radius: f64) -> Result<Turn, String> {
    let chord = [span.end[0] - span.start[0], span.end[1] - span.start[1]];
    let half = chord[0].hypot(chord[1]) / 2.0;
    if half == 0.0 {
        return Err("an arc with R cannot end where it starts".into());
    }
    if half > radius.abs() + span.tolerance {
        return Err(format!("R{radius} is too small: half the way to the end is {half:.4} mm"));
    }
    let rise = (radius * radius - half * half).max(0.0).sqrt();
    let left = span.ccw == (radius > 0.0);
    let along = if left { rise } else { -rise } / (2.0 * half);
    let centre = [
        (span.start[0] + span.end[0]) / 2.0 - chord[1] * along,
        (span.start[1] + span.end[1]) / 2.0 + chord[0] * along,
    ];
    let small = 2.0 * (half / radius.abs()).min(1.0).asin();
    let turned = if radius > 0.0 { small.min(PI) } else { TAU - small };
    Ok(Turn { centre, sweep: if span.ccw { turned } else { -turned } })
}
