//! Connected bodies: what would come loose.

use crate::Workpiece;

/// A connected body.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Least corner of its box (workpiece frame).
    pub min: [f64; 3],
    /// Greatest corner.
    pub max: [f64; 3],
    /// Whether any of its columns rests on the holding plane.
    pub held: bool,
}

impl Workpiece {
    /// Bodies of columns that touch sideways over overlapping stretches. A body is held if a column of it reaches down
    /// to `hold_z` + `slack` within the region `hold` (everywhere if `None`).
    pub fn bodies(&self, hold_z: f64, slack: f64, hold: Option<&geom::Region>) -> Vec<Body> {
        let _ = (hold_z, slack, hold);
        todo!()
    }
}
