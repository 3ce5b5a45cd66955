//! What is laid before the proof.

use geom::Mesh;
use std::collections::BTreeMap;
use trade::shelf::{Cutter, HoldingGoods, Machine, Resin};
use workpiece::{Blank, Setup, Step};

/// The accuracy that was promised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Promise {
    /// Chord tolerance of the shapes, mm.
    pub chord: f64,
    /// Gouge beyond the chord tolerance, mm.
    pub gouge: f64,
    /// Target scallop, mm.
    pub scallop: f64,
    /// Leftover beyond the target scallop, mm.
    pub leftover: f64,
    /// Pitch of the columns, mm.
    pub pitch: f64,
}

/// The finished piece. Lengths mm, piece frame.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceFacts {
    /// Key of its mesh in [`Evidence::models`].
    pub model: String,
    /// Height H.
    pub height: f64,
    /// Least wall asked for.
    pub wall: f64,
    /// Least floor asked for.
    pub floor: f64,
    /// Depth of the foot's recess, 0 without.
    pub recess: f64,
    /// Lettering engraved under the foot, into the recess if there is one.
    pub mark: Option<MarkFacts>,
}

/// What lies this far above the face under the foot is none of that face, mm.
const ON_FACE: f64 = 1e-3;

impl PieceFacts {
    /// Whether a place on the piece's skin belongs to the mark under its foot.
    pub(crate) fn in_mark(&self, at: [f64; 3]) -> bool {
        self.mark.is_some_and(|m| {
            let within = (0..2).all(|k| at[k].abs() <= m.half[k] + ON_FACE);
            within && at[2] > self.recess + ON_FACE && at[2] < self.recess + m.depth + ON_FACE
        })
    }
}

/// Lettering under the foot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarkFacts {
    /// It lies within this of the foot's middle along X and Y, mm.
    pub half: [f64; 2],
    /// Greatest depth, mm.
    pub depth: f64,
}

/// One cast.
#[derive(Clone, Debug, PartialEq)]
pub struct CastFacts {
    /// Name.
    pub name: String,
    /// Key of the hollow's mesh.
    pub hollow: String,
    /// Key of the mesh of the resin left in the piece.
    pub in_piece: String,
    /// The resin.
    pub resin: Resin,
    /// Whether light passes.
    pub translucent: bool,
    /// Volume to have at hand, ml.
    pub to_mix_ml: f64,
    /// Depths of its layers, mm, in order.
    pub layers: Vec<f64>,
    /// Least crossing angle of its skin with the finished skin, degrees.
    pub crossing_deg: f64,
    /// How warm each of its layers grows, °C, in the usual shop and in a hot one: the heat and the cure were followed once, for the
    /// plan.
    pub peaks_c: Vec<[f64; 2]>,
    /// Until the next layer may follow, h; for each layer but the last.
    pub next_h: Vec<f64>,
    /// Until its softest place is hard enough to be carved, h; `None` if that is not known.
    pub carve_h: Option<f64>,
}

/// Everything the proof may look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// What was promised.
    pub promise: Promise,
    /// The machine.
    pub machine: Machine,
    /// Cutters named by the setups.
    pub cutters: Vec<Cutter>,
    /// Goods that hold the work.
    pub holding: HoldingGoods,
    /// The glued-up blank.
    pub blank: Blank,
    /// The piece.
    pub piece: PieceFacts,
    /// The casts, in pouring order.
    pub casts: Vec<CastFacts>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// Setups.
    pub setups: Vec<Setup>,
    /// Closed meshes by the names the setups use, piece frame.
    pub models: BTreeMap<String, Mesh>,
    /// Program texts by file name, look-first ones included.
    pub programs: BTreeMap<String, String>,
}
