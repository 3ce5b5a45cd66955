//! Pouring: a flood from a point up to a level, and where it would leak.

use crate::Workpiece;

/// A resin that was poured: per column the stretch it fills (workpiece frame), NaN where it is not.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pour {
    /// Index of the cast.
    pub(crate) cast: u16,
    /// From.
    pub(crate) from: Vec<f32>,
    /// To.
    pub(crate) to: Vec<f32>,
}

/// What a pour did, or would do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PourReport {
    /// Volume filled, mm³.
    pub volume_mm3: f64,
    /// Deepest and shallowest filling, mm.
    pub depth: [f64; 2],
    /// Places (x, y) on the blank's edge where the flood would run off, and the height of the lowest lip there.
    pub leaks: Vec<[f64; 3]>,
    /// Height of the flood above the lowest lip around it: a dam this high is needed (0: the hollow holds it).
    pub dam_mm: f64,
    /// Length round the flooded area, mm: the length of the dam.
    pub dam_length_mm: f64,
    /// Least distance of the flooded area from the blank's edge, mm.
    pub edge_mm: f64,
}

impl Workpiece {
    /// Floods from the point `from` up to height `level` (workpiece frame). With `dam` a ring in plan stands around the
    /// hollow and holds what rises above the face; without it the flood may run over the face and off the edge.
    ///
    /// Fills the columns unless it leaks.
    pub fn pour(&mut self, cast: u16, from: [f64; 2], level: f64, dam: Option<&geom::Region>) -> PourReport {
        let _ = (cast, from, level, dam);
        todo!()
    }
}
