//! What a plan holds.

use crate::curing::Curing;
use base::{Figures, Units};
use geom::Mesh;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use trade::shelf::{Cutter, HoldingGoods, Machine, Resin};
use workpiece::{Blank, Setup, Step};

/// A line of the buy list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BuyLine {
    /// What.
    pub item: String,
    /// How much.
    pub quantity: f64,
    /// In which unit.
    pub unit: String,
    /// Price of one unit.
    pub price: f64,
    /// Cost of the quantity.
    pub cost: f64,
    /// How much of it the piece uses up, in the same unit.
    pub used: f64,
    /// Cost of that; it is what the cost of the piece counts.
    pub used_cost: f64,
    /// Remark.
    pub note: String,
}

/// A piece to cut from boards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutLine {
    /// Part: `layer 1, strip 1`.
    pub part: String,
    /// Wood.
    pub wood: String,
    /// Rough board: `8/4` or the measured thickness.
    pub board: String,
    /// Planed thickness, mm.
    pub thickness: f64,
    /// Width after jointing, mm.
    pub width: f64,
    /// Length, mm.
    pub length: f64,
    /// How many.
    pub count: u32,
    /// Remark (grain, over-length).
    pub note: String,
}

/// A board at hand and how it is sawn. Lengths mm, along the grain from its first end, across it from its first edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardLayout {
    /// What it is called: wood, thickness, length and width.
    pub board: String,
    /// Rough thickness.
    pub rough: f64,
    /// Length.
    pub length: f64,
    /// Width.
    pub width: f64,
    /// Cut off at both ends.
    pub ends: f64,
    /// Kerf of a cut.
    pub kerf: f64,
    /// Parts that it yields.
    pub parts: Vec<LaidPart>,
    /// Defects that they keep clear of.
    pub defects: Vec<LaidDefect>,
    /// Pieces worth keeping: from and to along the grain, from and to across it.
    pub offcuts: Vec<[[f64; 2]; 2]>,
    /// Cuts in their order, but for those at the ends.
    pub cuts: Vec<SawCut>,
    /// The same in words.
    pub says: Vec<String>,
}

/// A part on a board, with what is jointed off its edges.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LaidPart {
    /// Line of the cut list, from 1.
    pub line: usize,
    /// From and to along the grain.
    pub along: [f64; 2],
    /// From and to across it.
    pub across: [f64; 2],
}

/// A defect of a board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LaidDefect {
    /// What it is.
    pub what: String,
    /// From and to along the grain.
    pub along: [f64; 2],
    /// From and to across it.
    pub across: [f64; 2],
}

/// A straight cut through a section of a board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SawCut {
    /// Along the grain; else across it.
    pub rip: bool,
    /// Near side of the kerf.
    pub at: f64,
    /// The section, along the grain.
    pub along: [f64; 2],
    /// And across it.
    pub across: [f64; 2],
}

/// One cast as planned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CastPlan {
    /// Name.
    pub name: String,
    /// The resin as it stands on the shelf.
    pub resin: Resin,
    /// Colour.
    pub colour: [u8; 3],
    /// Whether light passes.
    pub translucent: bool,
    /// Volume of the hollow up to the pour level, ml.
    pub poured_ml: f64,
    /// Volume left in the finished piece, ml.
    pub in_piece_ml: f64,
    /// Volume to mix with losses, ml.
    pub to_mix_ml: f64,
    /// Layers: depth mm, resin part g, hardener part g, resin ml, hardener ml.
    pub layers: Vec<CastLayer>,
    /// Seal coat, g.
    pub seal_g: f64,
    /// Pigment, g.
    pub pigment_g: f64,
    /// Pour level, piece z.
    pub level: f64,
    /// Length of the dam, round the inside of a ring too, mm.
    pub dam_length: f64,
    /// Least crossing angle, degrees.
    pub crossing_deg: f64,
    /// How its layers heat and cure.
    pub curing: Curing,
}

impl CastPlan {
    /// Pigment for one of its layers, g.
    pub fn pigment_of(&self, layer: &CastLayer) -> f64 {
        self.pigment_g * layer.ml / self.to_mix_ml
    }
}

/// One layer of a pour.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CastLayer {
    /// Depth, mm.
    pub depth: f64,
    /// Volume, ml.
    pub ml: f64,
    /// Resin part, g.
    pub resin_g: f64,
    /// Hardener part, g.
    pub hardener_g: f64,
    /// Resin part, ml.
    pub resin_ml: f64,
    /// Hardener part, ml.
    pub hardener_ml: f64,
    /// In how many cups it is mixed, one after the other.
    pub cups: u32,
}

impl CastLayer {
    /// Resin and hardener, g.
    pub fn grams(&self) -> f64 {
        self.resin_g + self.hardener_g
    }
}

/// A stretch of the calendar.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalendarEntry {
    /// Step.
    pub step: String,
    /// Title.
    pub title: String,
    /// Likely start, `YYYY-MM-DDTHH:MM` local time.
    pub start: String,
    /// Likely end.
    pub end: String,
    /// Whether it is waiting rather than work.
    pub waiting: bool,
}

/// What the piece costs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cost {
    /// Currency.
    pub currency: String,
    /// Materials: what the piece uses up, not what is bought for it.
    pub materials: f64,
    /// Hands.
    pub hands: f64,
    /// Machine.
    pub machine: f64,
    /// Overhead and yield.
    pub overhead: f64,
    /// All in all.
    pub total: f64,
}

/// The finished piece in figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PieceSheet {
    /// Overall length, width, height, mm.
    pub size: [f64; 3],
    /// Volume, ml.
    pub volume_ml: f64,
    /// Wood, ml.
    pub wood_ml: f64,
    /// Least wall as designed, mm.
    pub min_wall: f64,
    /// Least floor as designed, mm.
    pub min_floor: f64,
    /// Wall asked for.
    pub wall: f64,
    /// Floor asked for.
    pub floor: f64,
    /// Depth of the foot's recess.
    pub recess: f64,
    /// Lettering engraved under the foot.
    pub mark: Option<MarkSheet>,
}

/// Lettering engraved under the foot, into the recess if there is one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MarkSheet {
    /// What it says.
    pub text: String,
    /// Half its length along X and its width along Y: it lies within this of the foot's middle, mm.
    pub half: [f64; 2],
    /// Greatest depth, mm.
    pub depth: f64,
}

/// The whole plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Title.
    pub title: String,
    /// How figures are printed.
    pub units: Units,
    /// Chord tolerance of shapes, mm.
    pub chord: f64,
    /// Target scallop, mm.
    pub scallop: f64,
    /// The piece.
    pub piece: PieceSheet,
    /// Wood by name.
    pub wood: String,
    /// Colour of the wood, for pictures.
    pub wood_colour: [u8; 3],
    /// The machine.
    pub machine: Machine,
    /// Goods that hold.
    pub holding: HoldingGoods,
    /// Cutters used, by number.
    pub cutters: Vec<Cutter>,
    /// Blank.
    pub blank: Blank,
    /// Casts.
    pub casts: Vec<CastPlan>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// Setups in order.
    pub setups: Vec<Setup>,
    /// Figures.
    pub figures: Figures,
    /// Closed meshes, piece frame, by the path they get in the pack without extension: `models/piece`,
    /// `models/cast-NAME`, `models/cast-NAME-hollow`, `models/cast-NAME-poured`, `models/blank`, `models/setup-ID-target`, `models/keep-ID-table`.
    /// (Setups and evidence name them with `.stl`.)
    pub models: BTreeMap<String, Mesh>,
    /// Program texts by path in the pack: `programs/NN-setup-Tn.nc`.
    pub programs: BTreeMap<String, String>,
    /// Buy list.
    pub buy: Vec<BuyLine>,
    /// Cut list.
    pub cuts: Vec<CutLine>,
    /// How the boards at hand are sawn.
    pub layouts: Vec<BoardLayout>,
    /// Calendar.
    pub calendar: Vec<CalendarEntry>,
    /// Cost.
    pub cost: Cost,
    /// What was assumed.
    pub assumed: Vec<String>,
}
