//! The glued-up blank: which board lies where.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a point of the workpiece is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Nothing.
    Air,
    /// Board by its index in [`Blank::boards`].
    Board(u16),
    /// Resin by the index of its cast.
    Resin(u16),
}

/// One planed board in the blank, in the piece's frame, mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlankBoard {
    /// Least corner.
    pub min: [f64; 3],
    /// Greatest corner.
    pub max: [f64; 3],
    /// Wood, by name on the shelf.
    pub wood: String,
}

/// The blank in the piece's frame: boards without gaps; where two meet is a glue line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Blank {
    /// Boards, bottom layer first.
    pub boards: Vec<BlankBoard>,
}

impl Blank {
    /// Least and greatest corner of the whole blank.
    pub fn bounds(&self) -> ([f64; 3], [f64; 3]) {
        let mut min = [f64::INFINITY; 3];
        let mut max = [f64::NEG_INFINITY; 3];
        for board in &self.boards {
            for k in 0..3 {
                min[k] = min[k].min(board.min[k]);
                max[k] = max[k].max(board.max[k]);
            }
        }
        (min, max)
    }
}
