//! The shelf: machines, cutters, boards, woods, resins, glues, tapes, abrasives, finishes, rates, working hours.
//!
//! Lengths in mm, feeds in mm/min, temperatures in °C, masses in g unless a name says otherwise.

mod blank;
mod checks;
mod choices;
mod fields;
mod overrides;
mod places;
mod reader;
mod readings;

use crate::cutter::{HolderPart, Solid};
use crate::figures::lumber;
use base::{At, FileId, Report};
pub use choices::{Choice, Sense, Task};
use places::Places;
use reader::{Notes, Section};
pub use readings::{Readings, TapePulls};
use serde::{Deserialize, Serialize};
use toml::de::DeTable;

/// Reads a whole shelf; every key must be there.
pub(crate) fn parse(text: &str, file: FileId) -> (Option<Shelf>, Report) {
    let (shelf, places, mut report) = walk(text, file, true, blank::blank_shelf(), fields::shelf);
    if let Read::Whole(shelf) = &shelf {
        checks::check(shelf, &places, &mut report);
    }
    (shelf.whole(), report)
}

/// Reads overrides of one shop over a complete shelf.
pub(crate) fn parse_over(base: &Shelf, text: &str, file: FileId) -> (Option<Shelf>, Report) {
    let (shelf, places, mut report) = walk(text, file, false, base.clone(), overrides::apply);
    let mut before = Report::default();
    checks::check(base, &Places::default(), &mut before);
    let mut after = Report::default();
    match &shelf {
        Read::Whole(shelf) => checks::check(shelf, &places, &mut after),
        Read::Partly(shelf) => checks::machine_in_use(shelf, &places, &mut after),
    }
    // What is wrong with the shelf itself was told when it was read.
    after.findings.retain(|f| !before.findings.iter().any(|b| (&b.code, &b.text) == (&f.code, &f.text)));
    report.absorb(after);
    (shelf.whole(), report)
}

/// A text as it could be read.
enum Read<T> {
    /// Every value of the text.
    Whole(T),
    /// Some values could not be read: no honest shelf.
    Partly(T),
}

impl<T> Read<T> {
    fn whole(self) -> Option<T> {
        match self {
            Self::Whole(shelf) => Some(shelf),
            Self::Partly(_) => None,
        }
    }
}

fn walk<T>(
    text: &str,
    file: FileId,
    complete: bool,
    mut into: T,
    fill: impl FnOnce(&mut Section<'_>, &mut T),
) -> (Read<T>, Places, Report) {
    let notes = Notes::new(file, complete);
    let (table, errors) = DeTable::parse_recoverable(text);
    let end = text.len();
    for error in errors {
        let at = notes.at(error.span().unwrap_or(end..end));
        notes.unread("syntax", at, format!("this cannot be read as TOML: {}", error.message().trim()), SYNTAX_HINT);
    }
    let whole = notes.at(0..text.lines().next().map_or(0, str::len));
    let mut section = Section::read(table.get_ref(), whole, &notes);
    fill(&mut section, &mut into);
    section.finish();
    let unread = notes.unread.get();
    let read = if unread { Read::Partly(into) } else { Read::Whole(into) };
    (read, notes.places.into_inner(), notes.report.into_inner())
}

const SYNTAX_HINT: &str = "write `key = value` on one line, text in double quotes, an inch mark inside quotes as \\\", \
                           [table] headings in brackets, and each key only once";

/// Reads what was measured on a coupon.
pub(crate) fn parse_readings(text: &str, file: FileId) -> (Option<Readings>, Report) {
    let (read, _, report) = walk(text, file, true, Readings::default(), readings::walk);
    match read {
        Read::Whole(it) if !report.has_errors() => (Some(it), report),
        _ => (None, report),
    }
}

/// The JSON Schema of a shelf file, or of an overrides file.
pub(crate) fn schema(overrides: bool) -> String {
    let mut section = Section::describe(!overrides);
    if overrides {
        overrides::describe(&mut section);
    } else {
        fields::shelf(&mut section, &mut blank::blank_shelf());
    }
    let mut schema = section.into_schema();
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema".into();
    schema["title"] = if overrides { "Overrides of one shop" } else { "Shelf" }.into();
    format!("{schema:#}\n")
}

/// Everything a shop owns. Lists keep the order of the file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shelf {
    /// The machine to use, by name.
    pub use_machine: String,
    /// Machines.
    pub machines: Vec<Machine>,
    /// Cutters.
    pub cutters: Vec<Cutter>,
    /// What the overrides of this shop settle about the use of cutters, at most once for each task.
    pub choices: Vec<Choice>,
    /// Woods.
    pub woods: Vec<Wood>,
    /// Rough boards at hand.
    #[serde(default)]
    pub boards: Vec<BoardAtHand>,
    /// Resins.
    pub resins: Vec<Resin>,
    /// Glues.
    pub glues: Vec<Glue>,
    /// Holding: tape stack, carriers, films.
    pub holding: HoldingGoods,
    /// Screws, vacuum and vise.
    #[serde(default)]
    pub clamping: Clamping,
    /// How well work is found again.
    #[serde(default)]
    pub finding: Finding,
    /// Abrasives, coarse to fine.
    pub abrasives: Vec<Abrasive>,
    /// Finishes.
    pub finishes: Vec<Finish>,
    /// Small things that every piece uses up.
    pub supplies: Supplies,
    /// Woodworking machines' limits.
    pub shop: ShopLimits,
    /// Prices and rates.
    pub rates: Rates,
    /// Working hours and temperatures.
    pub hours: Hours,
}

impl Shelf {
    /// The machine in use.
    pub fn machine(&self) -> Option<&Machine> {
        self.machines.iter().find(|m| m.name == self.use_machine)
    }

    /// A cutter by its number.
    pub fn cutter(&self, number: u32) -> Option<&Cutter> {
        self.cutters.iter().find(|c| c.number == number)
    }

    /// A wood by name.
    pub fn wood(&self, name: &str) -> Option<&Wood> {
        self.woods.iter().find(|w| w.name == name)
    }

    /// A resin by name.
    pub fn resin(&self, name: &str) -> Option<&Resin> {
        self.resins.iter().find(|r| r.name == name)
    }

    /// A glue by name.
    pub fn glue(&self, name: &str) -> Option<&Glue> {
        self.glues.iter().find(|g| g.name == name)
    }

    /// A finish by name.
    pub fn finish(&self, name: &str) -> Option<&Finish> {
        self.finishes.iter().find(|f| f.name == name)
    }
}

/// How the spindle's speed is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum SpindleControl {
    /// By hand on a dial: the speed of each mark, from mark 1 upwards.
    Dial {
        /// Speeds in rev/min.
        rpm: Vec<f64>,
    },
    /// By the program, within a range.
    Program {
        /// Least, rev/min.
        least_rpm: f64,
        /// Greatest, rev/min.
        greatest_rpm: f64,
        /// From this speed on it has its full power, rev/min; below, in proportion to the speed.
        full_power_rpm: f64,
        /// Wait after starting, s.
        start_wait_s: f64,
    },
}

/// How a cutter is changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CutterChange {
    /// One program file per cutter; the machine knows nothing of a change.
    FilePerCutter,
    /// One file per setup; stops for a change by hand, touched off again with a puck.
    ByHandInProgram,
}

/// A 3-axis router.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Machine {
    /// Name.
    pub name: String,
    /// Where it stands in the shelf text.
    pub at: Option<At>,
    /// Travel in X, Y, Z.
    pub travel: [f64; 3],
    /// From the nut's face to the table with Z at the top.
    pub gap: f64,
    /// Spindle.
    pub spindle: SpindleControl,
    /// Power at the cutter, W.
    pub power_w: f64,
    /// Nut and spindle nose, upwards from the nut's face.
    pub holder: Vec<HolderPart>,
    /// Shank diameters that fit the collets owned.
    pub collets: Vec<f64>,
    /// Greatest cutting feed in XY and Z, mm/min.
    pub feed_max: [f64; 2],
    /// Rapid in XY and Z, mm/min.
    pub rapid: [f64; 2],
    /// Acceleration in XY and Z, mm/s².
    pub acceleration: [f64; 2],
    /// Deviation allowed at corners by the controller, mm.
    pub corner: f64,
    /// Stiffness at the tip, N/mm.
    pub stiffness_n_mm: f64,
    /// Backlash, mm.
    pub backlash: f64,
    /// Out-of-squareness of X and Y, mm/m.
    pub squareness_mm_m: f64,
    /// Lean of the spindle, mm/m.
    pub lean_mm_m: f64,
    /// By which test piece of this shop squareness and lean were measured, if they were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flip_measured: Option<String>,
    /// Blocks read per second.
    pub blocks_per_s: f64,
    /// Whether arcs in the XY plane are read.
    pub arcs: bool,
    /// How a cutter is changed.
    pub cutter_change: CutterChange,
    /// Decimals in a coordinate word in mm, and in inch.
    pub decimals: [u32; 2],
    /// Whether programs are written in inch.
    pub inch: bool,
    /// Whether an air or extraction relay is switched by M8/M9.
    pub air_relay: bool,
    /// Whether air or extraction clears the chips away while it cuts.
    pub extraction: bool,
    /// Whether blocks carry line numbers.
    pub line_numbers: bool,
    /// Share of the full chip load this machine bears (1 sturdy, 0.5 hobby).
    pub chip_load_share: f64,
    /// Step-down in hardwood as a multiple of the diameter.
    pub step_down_d: f64,
}

impl Machine {
    /// Power at the cutter at a speed, W: full from a certain speed on, below in proportion to it.
    pub fn power_at(&self, rpm: f64) -> f64 {
        match self.spindle {
            SpindleControl::Program { full_power_rpm, .. } if rpm < full_power_rpm => {
                self.power_w * rpm / full_power_rpm
            }
            _ => self.power_w,
        }
    }

    /// Whether chips are cleared away while it cuts.
    pub fn clears_chips(&self) -> bool {
        self.extraction || self.air_relay
    }
}

/// A cutter on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cutter {
    /// Number, unique; the T word.
    pub number: u32,
    /// Where it stands in the shelf text.
    pub at: Option<At>,
    /// Name in trade words: `ball 1/4 in, long`.
    pub name: String,
    /// Geometry; `holder` is empty here and filled from the machine by [`Cutter::solid_in`].
    pub solid: Solid,
    /// Number of flutes.
    pub flutes: u32,
    /// Overall length.
    pub overall: f64,
    /// Helix angle, degrees, positive for up-spiral.
    pub helix_deg: f64,
    /// Chip load in hardwood, mm per tooth (sturdy machine).
    pub fz_wood: f64,
    /// Chip load in resin, mm per tooth.
    pub fz_resin: f64,
    /// Greatest speed at that stick-out, rev/min.
    pub rpm_max: f64,
    /// Whether it can plunge straight down.
    pub plunges: bool,
}

impl Cutter {
    /// The solid as held in a machine.
    pub fn solid_in(&self, machine: &Machine) -> Solid {
        Solid { holder: machine.holder.clone(), ..self.solid.clone() }
    }

    /// Length of shank inside the collet.
    pub fn grip(&self) -> f64 {
        self.overall - self.solid.stickout
    }
}

/// A wood in this shop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Wood {
    /// Name.
    pub name: String,
    /// Density at shop moisture, kg/m³.
    pub density_kg_m3: f64,
    /// Change of dimension per 1 % moisture, tangential.
    pub c_tangential: f64,
    /// Radial.
    pub c_radial: f64,
    /// Least wall that holds.
    pub least_wall: f64,
    /// Ring-porous (needs wider tongues).
    pub ring_porous: bool,
    /// Colour of face grain, for pictures.
    pub colour: [u8; 3],
    /// Price per board foot by quarters: (quarters, price).
    pub price_bf: Vec<(u32, f64)>,
    /// Cautions peculiar to it.
    pub caution: Option<String>,
}

/// Rough boards at hand, alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoardAtHand {
    /// Wood by its name.
    pub wood: String,
    /// Where it stands in the shelf text.
    pub at: Option<At>,
    /// Thickness in quarters of an inch as it was sold; `None` where it was measured.
    pub quarters: Option<u32>,
    /// Rough thickness, mm.
    pub rough: f64,
    /// Along the grain, mm.
    pub length: f64,
    /// Across it, mm.
    pub width: f64,
    /// How many there are.
    pub count: u32,
    /// Reading of the moisture meter, %.
    pub moisture: Option<f64>,
    /// What no part may have in it.
    pub defects: Vec<Defect>,
}

impl BoardAtHand {
    /// Thickness it planes to, mm. `None` if the shelf does not say.
    pub fn planed(&self, shop: &ShopLimits) -> Option<f64> {
        match self.quarters {
            Some(quarters) => lumber::planed_mm(shop, quarters),
            None => Some(lumber::planed_from_measured_mm(shop, self.rough)),
        }
    }
}

/// A knot, a check, wane: a stretch of a board, mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Defect {
    /// What it is.
    pub what: String,
    /// From and to along the grain, from the first end.
    pub along: [f64; 2],
    /// From and to across it, from the first edge.
    pub across: [f64; 2],
}

/// A resin system.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Resin {
    /// Name.
    pub name: String,
    /// Hardener for 1 part of resin by volume.
    pub hardener_by_volume: f64,
    /// Hardener for 1 part of resin by mass.
    pub hardener_by_mass: f64,
    /// Density mixed, g/ml.
    pub density_g_ml: f64,
    /// Viscosity, mPa·s.
    pub viscosity_mpa_s: f64,
    /// Pot life of 200 g at 22 °C, min.
    pub pot_life_min: f64,
    /// Least layer; 0 for a film.
    pub layer_least: f64,
    /// Greatest layer.
    pub layer_greatest: f64,
    /// Gel at 22 °C, h.
    pub gel_h: f64,
    /// Recoat window without scuffing, h.
    pub recoat_h: [f64; 2],
    /// Carve from (by test), h.
    pub carve_h: f64,
    /// Full cure, h.
    pub cure_h: f64,
    /// Shrink used for sink, fraction of depth.
    pub shrink: f64,
    /// Softening temperature, °C.
    pub tg_c: f64,
    /// Heat of the whole reaction from the data sheet, J/g of mix; without it the generic 300.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_j_g: Option<f64>,
    /// Activation energy from the data sheet, kJ/mol; without it the generic 57.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub activation_kj_mol: Option<f64>,
    /// Gel time of a thin film at 22 °C from the data sheet, h; without it the cure is scaled to the pot life.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub film_gel_h: Option<f64>,
    /// Warmest that a pour may grow by the data sheet, °C; without it 80.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peak_c: Option<f64>,
    /// A peak that the data sheet tells: depth of a plain layer on wood, mm, and how warm it grows at 22 °C, °C. The heat of reaction
    /// is fitted to it where the sheet does not give that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_peak: Option<[f64; 2]>,
    /// Least shop temperature, °C.
    pub least_c: f64,
    /// Price per kg.
    pub price_kg: f64,
    /// Whether it is a penetrating seal.
    pub seal: bool,
    /// Sizes of pack sold, g (resin and hardener together).
    pub packs_g: Vec<f64>,
}

/// A glue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Glue {
    /// Name: `wood glue`, `instant glue`, `hot glue`.
    pub name: String,
    /// Spread, g/m².
    pub spread_g_m2: f64,
    /// Open time, min.
    pub open_min: f64,
    /// Clamp time, min.
    pub clamp_min: f64,
    /// Before machining, h.
    pub machine_h: f64,
    /// Working strength before factor in shear, MPa.
    pub shear_mpa: f64,
    /// In tension, MPa.
    pub tension_mpa: f64,
    /// Price per kg.
    pub price_kg: f64,
    /// Sizes of pack sold, g.
    pub packs_g: Vec<f64>,
}

/// Goods that hold the work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HoldingGoods {
    /// Tape stack with its instant glue (t_t), mm.
    pub tape_stack: f64,
    /// Share of the face covered by tape.
    pub tape_cover: f64,
    /// Working strength before factor of the tape stack in shear, MPa.
    pub tape_shear_mpa: f64,
    /// In tension, MPa.
    pub tape_tension_mpa: f64,
    /// Safety factor of tape.
    pub tape_factor: f64,
    /// Safety factor of glue.
    pub glue_factor: f64,
    /// Glue film (g), mm.
    pub glue_film: f64,
    /// Carrier board thickness, mm.
    pub carrier: f64,
    /// Internal bond of the carrier board, MPa.
    pub carrier_bond_mpa: f64,
    /// Pallet board thickness, mm; 0 when the blank lies on the table.
    pub pallet: f64,
    /// By which test piece of this shop the tape was measured, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tape_measured: Option<String>,
}

/// Screws, vacuum and vise. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clamping {
    /// Screws from beneath into the waste at the corners: diameter, mm.
    pub screw_diameter: f64,
    /// Thread in the blank, mm.
    pub screw_thread: f64,
    /// Safety factor of screws.
    pub screw_factor: f64,
    /// What the gauge of the vacuum shows, kPa below the air.
    pub vacuum_kpa: f64,
    /// Height of the shop above the sea, m.
    pub altitude_m: f64,
    /// Friction of the gasket.
    pub vacuum_friction: f64,
    /// Whether a gauge is watched: the factors are 2 against sliding and 2.5 against tipping with it, 3 and 4 without.
    pub vacuum_gauge: bool,
    /// Force of one jaw of the vise, N.
    pub vise_n: f64,
    /// Length of its jaws, mm.
    pub vise_jaw: f64,
    /// How high they grip, mm.
    pub vise_grip: f64,
    /// Friction of its jaws.
    pub vise_friction: f64,
    /// Safety factor of the vise.
    pub vise_factor: f64,
}

impl Default for Clamping {
    fn default() -> Self {
        Self {
            screw_diameter: 4.5,
            screw_thread: 20.0,
            screw_factor: 2.0,
            vacuum_kpa: 60.0,
            altitude_m: 0.0,
            vacuum_friction: 0.3,
            vacuum_gauge: true,
            vise_n: 3000.0,
            vise_jaw: 120.0,
            vise_grip: 12.0,
            vise_friction: 0.3,
            vise_factor: 2.0,
        }
    }
}

/// How well work is found again, mm. Common practice, no source, until a coupon or the maker's own readings say better.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The middle between two sawn edges, and readings along one of them.
    pub sawn: f64,
    /// The middle between two edges cut true, with an indicator.
    pub indicated: f64,
    /// Two readings of an indicator along a true edge.
    pub along: f64,
    /// A touched height.
    pub touched: f64,
    /// The stack of tape, off its thickness.
    pub tape_off: f64,
    /// Heights of a true face that lies on its carrier.
    pub heights: f64,
    /// A carrier, off the flat over its length.
    pub carrier_flat: f64,
}

impl Default for Finding {
    fn default() -> Self {
        Self {
            sawn: 0.2,
            indicated: 0.06,
            along: 0.06,
            touched: 0.05,
            tape_off: 0.05,
            heights: 0.15,
            carrier_flat: 0.1,
        }
    }
}

/// An abrasive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Abrasive {
    /// P number.
    pub grit: u32,
    /// Mean grain, µm.
    pub grain_um: f64,
}

/// A finish.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finish {
    /// Name.
    pub name: String,
    /// Coats.
    pub coats: u32,
    /// Between coats, h.
    pub recoat_h: f64,
    /// Before use, h.
    pub use_h: f64,
    /// Coverage, m²/l.
    pub coverage_m2_l: f64,
    /// Price per litre.
    pub price_l: f64,
    /// Sizes of pack sold, ml.
    pub packs_ml: Vec<f64>,
    /// Whether rags can heat by themselves.
    pub self_heating: bool,
    /// Whether it is sprayed or thinned, so that vapour and mist can burn.
    pub sprayed: bool,
}

/// Least and greatest sizes of the woodworking machines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShopLimits {
    /// Planer: width.
    pub planer_width: f64,
    /// Planer: least length.
    pub planer_least_length: f64,
    /// Planer: least thickness.
    pub planer_least_thickness: f64,
    /// Jointer: width.
    pub jointer_width: f64,
    /// Table saw: kerf.
    pub kerf: f64,
    /// Table saw: least rip.
    pub least_rip: f64,
    /// Snipe at each end.
    pub snipe: f64,
    /// Clamps owned.
    pub clamps: u32,
    /// Force of one clamp, N.
    pub clamp_n: f64,
    /// Planed thickness from rough by quarters: (quarters, mm).
    pub planed: Vec<(u32, f64)>,
    /// Loss of a measured rough board in planing.
    pub plane_loss: f64,
    /// Loss per jointed edge.
    pub joint_loss: f64,
    /// Loss per glued face.
    pub glue_face_loss: f64,
}

/// Prices of small things that every piece uses up, in the maker's currency.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Supplies {
    /// Masking tape, one layer, per m².
    pub tape_m2: f64,
    /// Carrier board, per m².
    pub carrier_m2: f64,
    /// Kraft paper between foot and carrier, per m².
    pub kraft_m2: f64,
    /// Dam with its release tape and sealant, per metre.
    pub dam_m: f64,
    /// Pigment, per kg.
    pub pigment_kg: f64,
    /// Abrasive, per disc.
    pub abrasive_disc: f64,
    /// Skin that a disc sands, dm².
    pub disc_dm2: f64,
    /// Largest cup that resin is mixed in, up to its brim, ml.
    pub cup_ml: f64,
}

/// Prices and rates, in the maker's currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rates {
    /// Name of the currency, printed only.
    pub currency: String,
    /// Hands, per hour.
    pub hands_h: f64,
    /// Machine, per hour.
    pub machine_h: f64,
    /// Power, per kWh.
    pub power_kwh: f64,
    /// Overhead, fraction.
    pub overhead: f64,
    /// Yield, fraction.
    pub yield_share: f64,
}

/// Working hours and temperatures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hours {
    /// First working hour of a day.
    pub from_h: f64,
    /// Last.
    pub to_h: f64,
    /// Working days, Monday = 1.
    pub days: Vec<u8>,
    /// Shop by day, °C.
    pub day_c: f64,
    /// Shop by night, °C.
    pub night_c: f64,
    /// Relative humidity of the shop, 0 to 1.
    pub humidity: f64,
}

#[cfg(test)]
mod tests;
