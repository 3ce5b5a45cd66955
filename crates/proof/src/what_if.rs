//! What would be left of wall and floor if the turning over were off by other amounts than the sheet and the machine allow:
//! the losses of the check of the flip, asked again with other numbers on the places that were measured once.

use crate::Evidence;
use crate::case::Case;
use crate::checks::flip;
use crate::checks::wall::Inside;
use trade::figures::flip::{Errors as Bounds, Place, worst};

/// Errors of a turning over that may be asked about; the others stay as they are allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Errors {
    /// The middle along X and Y, and the height, mm.
    pub within: [f64; 3],
    /// Axes out of square, mm/m.
    pub square: f64,
    /// Lean of the spindle, mm/m.
    pub lean: f64,
}

/// A piece that is turned over, its thickness measured at every place of its inside.
#[derive(Clone, Debug)]
pub struct Turning {
    /// All that the sheet and the machine allow.
    bounds: Bounds,
    /// Each place with its thickness to the outside and to the foot, mm.
    places: Vec<(Place, [Option<f64>; 2])>,
}

/// The turning over of a piece; `None` where nothing is turned, its readings are unknown, or there is no model of the piece.
pub fn turning(evidence: &Evidence) -> Option<Turning> {
    let case = Case::read(evidence);
    let inside = Inside::of(&case)?.each();
    let (bounds, places) = flip::turned(&case, inside.iter().map(|(point, _)| point))?;
    Some(Turning { bounds, places: places.into_iter().zip(inside.into_iter().map(|(_, thick)| thick)).collect() })
}

impl Turning {
    /// What the sheet and the machine allow.
    pub fn allowed(&self) -> Errors {
        let Bounds { centre, height, square, lean, .. } = self.bounds;
        Errors { within: [centre[0], centre[1], height], square: square * 1e3, lean: lean * 1e3 }
    }

    /// Least wall and least floor with all errors at once, as drawn: what gouges take is not in it. `None` where there is no such
    /// skin.
    pub fn left(&self, errors: &Errors) -> [Option<f64>; 2] {
        let [x, y, height] = errors.within;
        let (square, lean) = (errors.square * 1e-3, errors.lean * 1e-3);
        let bounds = Bounds { centre: [x, y], height, square, lean, ..self.bounds };
        let mut least = [None; 2];
        for (place, thick) in &self.places {
            let lost = worst(&bounds.losses(place));
            for (least, thick) in least.iter_mut().zip(thick) {
                let left = thick.map(|thick| thick - lost);
                *least = match (*least, left) {
                    (Some(a), Some(b)) => Some(f64::min(a, b)),
                    (a, b) => a.or(b),
                };
            }
        }
        least
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a wall of 6 mm across X at 80 mm from the axis of the turn, 20 mm deep, and a floor of 8 mm.
    #[test]
    fn what_is_left_moves_with_the_errors() {
        let place = |x: f64, y: f64, depth: f64, normal: [f64; 3]| Place { x, y, depth, normal };
        let turning = Turning {
            bounds: Bounds { tape: 0.1, ..Bounds::default() },
            places: vec![
                (place(90.0, 80.0, 20.0, [-1.0, 0.0, 0.0]), [Some(6.0), None]),
                (place(0.0, 0.0, 50.0, [0.0, 0.0, 1.0]), [None, Some(8.0)]),
            ],
        };
        let left = |within: [f64; 3], square: f64, lean: f64| {
            turning.left(&Errors { within, square, lean }).map(Option::unwrap)
        };
        let near = |a: [f64; 2], b: [f64; 2]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12);
        assert_eq!(turning.allowed(), Errors { within: [0.0; 3], square: 0.0, lean: 0.0 });
        // What is not asked about stays: the tape takes 0.1 mm of the floor.
        assert!(near(left([0.0; 3], 0.0, 0.0), [6.0, 7.9]));
        assert!(near(left([0.2, 0.5, 0.3], 0.0, 0.0), [5.8, 7.6]));
        // 2 · 0.5 mm/m · 80 mm, and 2 · 1 mm/m · 20 mm.
        assert!(near(left([0.0; 3], 0.5, 0.0), [5.92, 7.9]));
        assert!(near(left([0.0; 3], 0.0, 1.0), [5.96, 7.9]));
    }
}
