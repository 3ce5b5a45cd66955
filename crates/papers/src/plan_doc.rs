//! plan.json and proof.json: versioned documents with a JSON Schema. Field names here are a contract.
//!
//! Lengths mm, feeds mm/min, angles degrees, masses g, volumes ml, times s, temperatures °C. Beside what readers outside
//! the project rely on, the document holds all that is needed to judge the pack again from its own files.

use crate::evidence::cast_of_plan;
use crate::pack::check_picture;
use crate::{PapersError, check_view};
use base::{Figure, FigureId, Figures, Input, Source, Unit, Units};
use proof::{Check, Proof, State, Where};
use route::{BoardLayout, BuyLine, CalendarEntry, CastLayer, CastPlan, Cost, CutLine, Plan};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use trade::cutter::{Form, HolderPart, Solid};
use trade::shelf::{Cutter, HoldingGoods, Machine, Resin};
use workpiece::{Blank, Setup, Step};

/// Version of both documents.
pub const FORMAT: u32 = 1;

/// A JSON object described elsewhere (the schema of the shelf).
type Object = serde_json::Map<String, serde_json::Value>;

/// The whole plan as written to `plan.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanDoc {
    /// Version of this document: 1.
    pub format: u32,
    /// Title.
    pub title: String,
    /// Chord tolerance of the models, mm.
    pub tolerance_mm: f64,
    /// Target scallop, mm.
    pub target_scallop_mm: f64,
    /// What is promised beyond the tolerance of the models.
    pub promise: PromiseDoc,
    /// Motion limits of the machine.
    pub machine: MachineDoc,
    /// Unit system of the printed sheet: `mm` or `in`.
    #[schemars(with = "String")]
    pub units: Units,
    /// The piece.
    pub piece: PieceDoc,
    /// Cutters, by number.
    pub cutters: Vec<CutterDoc>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// Setups in order.
    pub setups: Vec<Setup>,
    /// Figures by name.
    pub figures: BTreeMap<String, FigureDoc>,
    /// Checks of the proof.
    pub checks: Vec<CheckDoc>,
    /// Whether the programs were left out of the pack because a check fails.
    pub programs_withheld: bool,
    /// Casts in the order they are poured.
    pub casts: Vec<CastDoc>,
    /// The glued-up blank.
    pub blank: BlankDoc,
    /// The shop this plan is for.
    pub shop: ShopDoc,
    /// All models in STL, by path in the pack.
    pub models: Vec<String>,
    /// Buy list.
    pub buy: Vec<BuyLine>,
    /// Cut list.
    pub cuts: Vec<CutLine>,
    /// How the boards at hand are sawn.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub layouts: Vec<BoardLayout>,
    /// Calendar.
    pub calendar: Vec<CalendarEntry>,
    /// Cost.
    pub cost: Cost,
    /// What was assumed.
    pub assumed: Vec<String>,
}

/// What is promised, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PromiseDoc {
    /// Gouge beyond the chord tolerance.
    pub gouge_mm: f64,
    /// Leftover beyond the target scallop.
    pub leftover_mm: f64,
}

/// A value for X and Y, and one for Z.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct XyZ {
    /// Along X and Y.
    pub xy: f64,
    /// Along Z.
    pub z: f64,
}

/// Motion limits of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MachineDoc {
    /// Acceleration, mm/s².
    pub accel_mm_s2: XyZ,
    /// Rapid, mm/min.
    pub rapid_mm_min: XyZ,
    /// Deviation allowed at corners, mm.
    pub corner_mm: f64,
}

/// The finished piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PieceDoc {
    /// Path of its model.
    pub model: String,
    /// Volume, ml.
    pub volume_ml: f64,
    /// Wood in it, ml.
    pub wood_ml: f64,
    /// Resin in it, ml, by cast.
    pub resin_ml: BTreeMap<String, f64>,
    /// Least wall as designed, mm.
    pub min_wall_mm: f64,
    /// Least floor as designed, mm.
    pub min_floor_mm: f64,
    /// Overall length, width and height, mm.
    pub size_mm: [f64; 3],
    /// Wall asked for, mm.
    pub wall_mm: f64,
    /// Floor asked for, mm.
    pub floor_mm: f64,
    /// Depth of the foot's recess, mm; 0 without.
    pub recess_mm: f64,
    /// Lettering engraved under the foot, if there is any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<MarkDoc>,
}

/// Lettering engraved under the foot, into the recess if there is one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarkDoc {
    /// What it says; with the foot up it reads along X.
    pub text: String,
    /// Half its length along X and its width along Y: it lies within this of the foot's middle, mm.
    pub half_mm: [f64; 2],
    /// Greatest depth, mm.
    pub depth_mm: f64,
}

/// Shape of a cutter's tip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ShapeDoc {
    /// Square end.
    Flat,
    /// Hemisphere.
    Ball,
    /// Square end with rounded corner.
    Bull,
    /// Point.
    Cone,
    /// Ball at the end of a cone.
    TaperedBall,
}

/// A cutter as held in the machine. Lengths mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutterDoc {
    /// Number: the T word.
    pub number: u32,
    /// Name.
    pub name: String,
    /// Shape of the tip.
    pub shape: ShapeDoc,
    /// Cutting diameter.
    pub diameter: f64,
    /// Corner radius: 0 for flat and cone, half the diameter for ball, the ball's radius for tapered-ball.
    pub corner_radius: f64,
    /// Cone: diameter of the flat at the tip; tapered-ball: diameter of the ball; 0 for the others.
    pub tip_diameter: f64,
    /// Angle of one side from the axis, degrees, for cone and tapered-ball; 0 for the others.
    pub half_angle: f64,
    /// Length of the cutting edges.
    pub flute_length: f64,
    /// Shank diameter.
    pub shank_diameter: f64,
    /// From the tip to the face of the nut.
    pub stickout: f64,
    /// What holds it, upwards from the face of the nut.
    pub holder: Vec<HolderPart>,
    /// Diameter between flutes and shank.
    pub neck_diameter: f64,
    /// Height above the tip at which the shank begins.
    pub neck_length: f64,
    /// Number of flutes.
    pub flutes: u32,
    /// Overall length.
    pub overall_length: f64,
    /// Helix angle, degrees, positive for up-spiral.
    pub helix_angle: f64,
    /// Chip load in hardwood, mm per tooth.
    pub chip_load_wood: f64,
    /// Chip load in resin, mm per tooth.
    pub chip_load_resin: f64,
    /// Greatest speed, rev/min.
    pub rpm_max: f64,
    /// Whether it can plunge straight down.
    pub plunges: bool,
}

/// One figure with its why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FigureDoc {
    /// The value; `null` if it could not be computed.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: String,
    /// The formula in readable form.
    pub formula: String,
    /// What went in.
    pub inputs: Vec<Input>,
    /// Where formula and constants come from.
    pub source: Source,
}

/// One check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckDoc {
    /// Name.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Verdict.
    pub state: State,
    /// The figure; `null` if it could not be computed.
    pub value: Option<f64>,
    /// Its limit; `null` if there is none.
    pub limit: Option<f64>,
    /// Unit of both.
    pub unit: String,
    /// `at least` or `at most` the limit.
    pub sense: String,
    /// Where it is worst.
    #[serde(rename = "where", skip_serializing_if = "Option::is_none", default)]
    pub place: Option<Where>,
    /// What to change.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub remedy: Option<String>,
    /// What was assumed, not measured.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub assumed: Vec<String>,
    /// The block of the program where it is worst.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub block: Option<String>,
    /// Path of its picture.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub picture: Option<String>,
}

/// One cast.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CastDoc {
    /// Name.
    pub name: String,
    /// Path of the model of the resin left in the finished piece.
    pub model: String,
    /// Path of the model of the hollow, up to face A as it lies.
    pub hollow_model: String,
    /// Path of the model of the resin as poured up to the pour level.
    pub poured_model: String,
    /// The resin as it stands on the shelf.
    #[schemars(with = "Object")]
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
    /// Layers in order.
    pub layers: Vec<LayerDoc>,
    /// Seal coat, g.
    pub seal_g: f64,
    /// Pigment, g.
    pub pigment_g: f64,
    /// Pour level, piece z, mm.
    pub level_mm: f64,
    /// Length of the dam, round the inside of a ring too.
    pub dam_length_mm: f64,
    /// Least crossing angle with the finished skin, degrees.
    pub crossing_deg: f64,
    /// How warm each layer grows in the usual shop and in a hot one, °C.
    #[serde(default)]
    pub peaks_c: Vec<[f64; 2]>,
    /// Until the next layer may follow, h; for each layer but the last.
    #[serde(default)]
    pub next_h: Vec<f64>,
    /// Until it is hard enough to be carved, h.
    #[serde(default)]
    pub carve_h: Option<f64>,
}

/// One layer of a pour.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LayerDoc {
    /// Depth, mm.
    pub depth_mm: f64,
    /// Volume to mix for it, losses included.
    pub volume_ml: f64,
    /// Resin part, g.
    pub resin_g: f64,
    /// Hardener part, g.
    pub hardener_g: f64,
    /// Resin part, ml.
    pub resin_ml: f64,
    /// Hardener part, ml.
    pub hardener_ml: f64,
    /// In how many cups it is mixed, one after the other.
    #[serde(default)]
    pub cups: u32,
}

/// The blank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BlankDoc {
    /// Path of its model.
    pub model: String,
    /// Wood by name.
    pub wood: String,
    /// Colour of the wood, for pictures.
    pub wood_colour: [u8; 3],
    /// Its boards in the piece's frame, mm.
    pub boards: Vec<workpiece::BlankBoard>,
}

/// The shop this plan is for; the schema of the shelf describes the entries.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShopDoc {
    /// The machine.
    #[schemars(with = "Object")]
    pub machine: Machine,
    /// Goods that hold the work.
    #[schemars(with = "Object")]
    pub holding: HoldingGoods,
}

/// The proof as written to `proof.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProofDoc {
    /// Version of this document: 1.
    pub format: u32,
    /// Title of the plan.
    pub title: String,
    /// The worst verdict.
    pub state: State,
    /// The checks.
    pub checks: Vec<CheckDoc>,
    /// Wood in the piece as the programs made it, ml; absent if it was not measured.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub made_wood_ml: Option<f64>,
    /// Resin in it, ml, by cast.
    pub made_resin_ml: BTreeMap<String, f64>,
}

/// JSON Schema of `plan.json`.
pub fn plan_schema() -> String {
    schema_text::<PlanDoc>()
}

/// JSON Schema of `proof.json`.
pub fn proof_schema() -> String {
    schema_text::<ProofDoc>()
}

fn schema_text<T: JsonSchema>() -> String {
    let mut text = format!("{:#}", schemars::schema_for!(T).to_value());
    text.push('\n');
    text
}

fn number(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// Path of a model in STL.
pub(crate) fn stl_path(model: &str) -> String {
    format!("{model}.stl")
}

impl PlanDoc {
    /// The document of a plan and its proof.
    pub fn new(plan: &Plan, proof: &Proof, withheld: bool) -> Self {
        Self {
            format: FORMAT,
            title: plan.title.clone(),
            tolerance_mm: plan.chord,
            target_scallop_mm: plan.scallop,
            promise: PromiseDoc { gouge_mm: crate::evidence::GOUGE_MM, leftover_mm: crate::evidence::LEFTOVER_MM },
            machine: MachineDoc::new(&plan.machine),
            units: plan.units,
            piece: PieceDoc::new(plan),
            cutters: plan.cutters.iter().map(|c| CutterDoc::new(c, &plan.machine)).collect(),
            steps: plan.steps.clone(),
            setups: plan.setups.clone(),
            figures: figures(&plan.figures),
            checks: proof.checks.iter().map(|c| CheckDoc::new(plan, c)).collect(),
            programs_withheld: withheld,
            casts: plan.casts.iter().map(CastDoc::new).collect(),
            blank: BlankDoc::new(plan),
            shop: ShopDoc { machine: Machine { at: None, ..plan.machine.clone() }, holding: plan.holding.clone() },
            models: plan.models.keys().map(|k| stl_path(k)).collect(),
            buy: plan.buy.clone(),
            cuts: plan.cuts.clone(),
            layouts: plan.layouts.clone(),
            calendar: plan.calendar.clone(),
            cost: plan.cost.clone(),
            assumed: plan.assumed.clone(),
        }
    }

    /// The ledger of its figures; what could not be computed is no number.
    pub fn ledger(&self) -> Figures {
        let figure = |doc: &FigureDoc| Figure {
            value: doc.value.unwrap_or(f64::NAN),
            unit: Unit(doc.unit.clone()),
            formula: doc.formula.clone(),
            inputs: doc.inputs.clone(),
            source: doc.source.clone(),
        };
        Figures(self.figures.iter().map(|(id, doc)| (FigureId(id.clone()), figure(doc))).collect())
    }

    /// Its text. A number that is not finite where one is required is a fault of the plan, and said so.
    pub(crate) fn text(&self) -> Result<Vec<u8>, PapersError> {
        let text = json_text("plan.json", self)?;
        serde_json::from_slice::<Self>(&text).map_err(|e| PapersError::unwritable("plan.json", e))?;
        Ok(text)
    }

    /// Reads it back.
    ///
    /// # Errors
    /// [`PapersError::Unreadable`] if it is no plan of this version.
    pub fn read(text: &[u8]) -> Result<Self, PapersError> {
        #[derive(Deserialize)]
        struct Version {
            format: u32,
        }
        let wrong = |why: String| PapersError::unreadable("plan.json", why);
        let version: Version = serde_json::from_slice(text).map_err(|e| wrong(e.to_string()))?;
        if version.format != FORMAT {
            return Err(wrong(format!("it has format {}, and this program reads format {FORMAT}", version.format)));
        }
        serde_json::from_slice(text).map_err(|e| wrong(e.to_string()))
    }
}

pub(crate) fn json_text<T: Serialize>(file: &str, value: &T) -> Result<Vec<u8>, PapersError> {
    let mut text = serde_json::to_vec_pretty(value).map_err(|e| PapersError::unwritable(file, e))?;
    text.push(b'\n');
    Ok(text)
}

impl MachineDoc {
    fn new(machine: &Machine) -> Self {
        let xy_z = |[xy, z]: [f64; 2]| XyZ { xy, z };
        Self { accel_mm_s2: xy_z(machine.acceleration), rapid_mm_min: xy_z(machine.rapid), corner_mm: machine.corner }
    }
}

impl PieceDoc {
    fn new(plan: &Plan) -> Self {
        let piece = &plan.piece;
        Self {
            model: stl_path("models/piece"),
            volume_ml: piece.volume_ml,
            wood_ml: piece.wood_ml,
            resin_ml: plan.casts.iter().map(|c| (c.name.clone(), c.in_piece_ml)).collect(),
            min_wall_mm: piece.min_wall,
            min_floor_mm: piece.min_floor,
            size_mm: piece.size,
            wall_mm: piece.wall,
            floor_mm: piece.floor,
            recess_mm: piece.recess,
            mark: piece.mark.as_ref().map(|m| MarkDoc { text: m.text.clone(), half_mm: m.half, depth_mm: m.depth }),
        }
    }
}

impl CutterDoc {
    /// A cutter as held in a machine.
    pub fn new(cutter: &Cutter, machine: &Machine) -> Self {
        let solid = cutter.solid_in(machine);
        let (shape, corner_radius, tip_diameter, half_angle) = match solid.form {
            Form::Flat => (ShapeDoc::Flat, 0.0, 0.0, 0.0),
            Form::Ball => (ShapeDoc::Ball, solid.diameter / 2.0, 0.0, 0.0),
            Form::Bull { corner_radius } => (ShapeDoc::Bull, corner_radius, 0.0, 0.0),
            Form::Cone { half_angle_deg, tip_diameter } => (ShapeDoc::Cone, 0.0, tip_diameter, half_angle_deg),
            Form::TaperedBall { tip_radius, half_angle_deg } => {
                (ShapeDoc::TaperedBall, tip_radius, 2.0 * tip_radius, half_angle_deg)
            }
        };
        Self {
            number: cutter.number,
            name: cutter.name.clone(),
            shape,
            diameter: solid.diameter,
            corner_radius,
            tip_diameter,
            half_angle,
            flute_length: solid.flute_length,
            shank_diameter: solid.shank_diameter,
            stickout: solid.stickout,
            holder: solid.holder,
            neck_diameter: solid.neck_diameter,
            neck_length: solid.neck_length,
            flutes: cutter.flutes,
            overall_length: cutter.overall,
            helix_angle: cutter.helix_deg,
            chip_load_wood: cutter.fz_wood,
            chip_load_resin: cutter.fz_resin,
            rpm_max: cutter.rpm_max,
            plunges: cutter.plunges,
        }
    }

    /// The cutter it describes.
    pub fn cutter(&self) -> Cutter {
        let form = match self.shape {
            ShapeDoc::Flat => Form::Flat,
            ShapeDoc::Ball => Form::Ball,
            ShapeDoc::Bull => Form::Bull { corner_radius: self.corner_radius },
            ShapeDoc::Cone => Form::Cone { half_angle_deg: self.half_angle, tip_diameter: self.tip_diameter },
            ShapeDoc::TaperedBall => {
                Form::TaperedBall { tip_radius: self.corner_radius, half_angle_deg: self.half_angle }
            }
        };
        Cutter {
            number: self.number,
            at: None,
            name: self.name.clone(),
            solid: Solid {
                form,
                diameter: self.diameter,
                flute_length: self.flute_length,
                neck_diameter: self.neck_diameter,
                neck_length: self.neck_length,
                shank_diameter: self.shank_diameter,
                stickout: self.stickout,
                holder: self.holder.clone(),
            },
            flutes: self.flutes,
            overall: self.overall_length,
            helix_deg: self.helix_angle,
            fz_wood: self.chip_load_wood,
            fz_resin: self.chip_load_resin,
            rpm_max: self.rpm_max,
            plunges: self.plunges,
        }
    }
}

fn figures(figures: &Figures) -> BTreeMap<String, FigureDoc> {
    let doc = |figure: &base::Figure| FigureDoc {
        value: number(figure.value),
        unit: figure.unit.0.clone(),
        formula: figure.formula.clone(),
        inputs: figure.inputs.clone(),
        source: figure.source.clone(),
    };
    figures.0.iter().map(|(id, figure)| (id.0.clone(), doc(figure))).collect()
}

impl CheckDoc {
    fn new(plan: &Plan, check: &Check) -> Self {
        Self {
            id: check.id.clone(),
            title: check.title.clone(),
            state: check.state,
            value: number(check.value),
            limit: number(check.limit),
            unit: check.unit.clone(),
            sense: check.sense.clone(),
            place: check.place.clone(),
            remedy: check.remedy.clone(),
            assumed: check.assumed.clone(),
            block: block(plan, check),
            picture: check_view::is_seen(check).then(|| check_picture(check)),
        }
    }
}

/// The block of the program where a check is worst.
pub(crate) fn block(plan: &Plan, check: &Check) -> Option<String> {
    let place = check.place.as_ref()?;
    let line = plan.programs.get(place.program.as_ref()?)?.lines().nth((place.line? as usize).checked_sub(1)?)?;
    Some(line.trim().to_owned())
}

impl CastDoc {
    fn new(cast: &CastPlan) -> Self {
        let facts = cast_of_plan(cast);
        Self {
            name: cast.name.clone(),
            model: stl_path(&format!("models/cast-{}", cast.name)),
            hollow_model: stl_path(&format!("models/cast-{}-hollow", cast.name)),
            poured_model: stl_path(&format!("models/cast-{}-poured", cast.name)),
            resin: cast.resin.clone(),
            colour: cast.colour,
            translucent: cast.translucent,
            poured_ml: cast.poured_ml,
            in_piece_ml: cast.in_piece_ml,
            to_mix_ml: cast.to_mix_ml,
            layers: cast.layers.iter().map(LayerDoc::new).collect(),
            seal_g: cast.seal_g,
            pigment_g: cast.pigment_g,
            level_mm: cast.level,
            dam_length_mm: cast.dam_length,
            crossing_deg: cast.crossing_deg,
            peaks_c: facts.peaks_c,
            next_h: facts.next_h,
            carve_h: facts.carve_h,
        }
    }
}

impl LayerDoc {
    fn new(layer: &CastLayer) -> Self {
        Self {
            depth_mm: layer.depth,
            volume_ml: layer.ml,
            resin_g: layer.resin_g,
            hardener_g: layer.hardener_g,
            resin_ml: layer.resin_ml,
            hardener_ml: layer.hardener_ml,
            cups: layer.cups,
        }
    }
}

impl BlankDoc {
    fn new(plan: &Plan) -> Self {
        Self {
            model: stl_path("models/blank"),
            wood: plan.wood.clone(),
            wood_colour: plan.wood_colour,
            boards: plan.blank.boards.clone(),
        }
    }

    /// The blank it describes.
    pub fn blank(&self) -> Blank {
        Blank { boards: self.boards.clone() }
    }
}

impl ProofDoc {
    /// The document of a proof.
    pub fn new(plan: &Plan, proof: &Proof) -> Self {
        let made = |k: usize| proof.made_ml.get(k).copied().and_then(number);
        let resin = |(k, cast): (usize, &CastPlan)| made(k + 1).map(|ml| (cast.name.clone(), ml));
        Self {
            format: FORMAT,
            title: plan.title.clone(),
            // A proof without a check proves nothing.
            state: proof.checks.iter().map(|c| c.state).max().unwrap_or(State::Fails),
            checks: proof.checks.iter().map(|c| CheckDoc::new(plan, c)).collect(),
            made_wood_ml: made(0),
            made_resin_ml: plan.casts.iter().enumerate().filter_map(resin).collect(),
        }
    }

    pub(crate) fn text(&self) -> Result<Vec<u8>, PapersError> {
        json_text("proof.json", self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use serde_json::{Value, json};

    fn document() -> Value {
        let doc = PlanDoc::new(&fixture::plan(), &fixture::proof(), false);
        serde_json::from_slice(&doc.text().unwrap()).unwrap()
    }

    #[test]
    fn the_documents_obey_their_schemas() {
        let schema: Value = serde_json::from_str(&plan_schema()).unwrap();
        let validator = jsonschema::validator_for(&schema).unwrap();
        let document = document();
        let faults: Vec<String> = validator.iter_errors(&document).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{faults:?}");
        let mut broken = document;
        broken["setups"][0]["program_to_piece"] = json!([1, 2, 3]);
        assert!(!validator.is_valid(&broken));

        let schema: Value = serde_json::from_str(&proof_schema()).unwrap();
        let validator = jsonschema::validator_for(&schema).unwrap();
        let proof = serde_json::to_value(ProofDoc::new(&fixture::plan(), &fixture::proof())).unwrap();
        assert!(validator.is_valid(&proof));
    }

    /// The names that readers outside the project rely on.
    #[test]
    fn the_names_of_the_contract_are_there() {
        let document = document();
        let has = |at: &Value, names: &str| {
            for name in names.split_whitespace() {
                assert!(at.get(name).is_some(), "no `{name}` in {at:.200}");
            }
        };
        has(&document, "format title tolerance_mm target_scallop_mm machine piece cutters steps setups figures checks");
        has(&document["machine"], "accel_mm_s2 rapid_mm_min corner_mm");
        has(&document["machine"]["accel_mm_s2"], "xy z");
        has(&document["piece"], "model volume_ml wood_ml resin_ml min_wall_mm min_floor_mm");
        has(
            &document["cutters"][0],
            "number name shape diameter corner_radius tip_diameter half_angle flute_length shank_diameter stickout holder",
        );
        has(&document["cutters"][0]["holder"][0], "diameter length");
        has(&document["steps"][0], "id kind title needs duration_s wait_s hands_on_s cautions figures");
        let setup = &document["setups"][0];
        has(setup, "id face_up program_to_piece stock target keep holding datums zero reference_spot programs");
        has(setup, "look_first inspect table_z work_offset");
        assert_eq!(setup["program_to_piece"].as_array().unwrap().len(), 16);
        has(&setup["zero"]["z"], "surface set_to check_surface expect within");
        has(&setup["reference_spot"], "at reads");
        has(&setup["programs"][0], "file cutters duration_s cut_length_mm rapid_length_mm restart_points");
        let (_, figure) = document["figures"].as_object().unwrap().iter().next().unwrap();
        has(figure, "value unit formula inputs source");
        has(&document["checks"][0], "id title state value limit unit");
        assert_eq!(setup["face_up"], "rim");
        assert_eq!(document["cutters"][0]["shape"], "flat");
    }

    #[test]
    fn a_cutter_comes_back_as_it_was() {
        let plan = fixture::plan();
        let forms = [
            Form::Flat,
            Form::Ball,
            Form::Bull { corner_radius: 0.5 },
            Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.2 },
            Form::TaperedBall { tip_radius: 0.5, half_angle_deg: 5.0 },
        ];
        for form in forms {
            let mut cutter = plan.cutters[0].clone();
            cutter.solid.form = form;
            cutter.solid = cutter.solid_in(&plan.machine);
            assert_eq!(CutterDoc::new(&cutter, &plan.machine).cutter(), cutter);
        }
    }

    #[test]
    fn a_check_that_could_not_be_computed_has_no_value() {
        let mut proof = fixture::proof();
        proof.checks[0].value = f64::NAN;
        let doc = ProofDoc::new(&fixture::plan(), &proof);
        assert_eq!(serde_json::to_value(&doc).unwrap()["checks"][0]["value"], Value::Null);
    }

    #[test]
    fn a_plan_with_a_number_that_is_none_is_refused() {
        let mut plan = fixture::plan();
        plan.setups[0].table_z = f64::NAN;
        assert!(PlanDoc::new(&plan, &fixture::proof(), false).text().is_err());
    }
}
