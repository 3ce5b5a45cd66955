//! What page and server say to each other. The page's types are written from these (`crates/treen/tests/wire.rs`).

use proof::State;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The folder that is served.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FolderView {
    /// Its name.
    pub folder: String,
    /// Version of the program.
    pub version: String,
    /// Its jobs.
    pub jobs: Vec<JobLine>,
    /// Examples to start from.
    pub examples: Vec<ExampleLine>,
}

/// One job of the folder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobLine {
    /// The folder it lies in, from the served one; `.` for that itself.
    pub id: String,
    /// Title; the folder's name if the text has none.
    pub title: String,
}

/// An example to start from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExampleLine {
    /// Its name.
    pub name: String,
    /// What it is, in one sentence.
    pub says: String,
}

/// A job as it stands in its file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JobView {
    /// See [`JobLine::id`].
    pub id: String,
    /// Title.
    pub title: String,
    /// The file, from the served folder.
    pub file: String,
    /// Version of the text; changes are made against it.
    pub version: String,
    /// Version of all that the plan is made from: the job, the shelf and `shop.toml`.
    pub sources: String,
    /// The text.
    pub text: String,
    /// `mm` or `in`.
    pub units: String,
    /// Values by path: `piece.wall`, `cast.0.length.1`.
    pub values: BTreeMap<String, ValueView>,
    /// What is wrong with the text.
    pub findings: Vec<FindingView>,
    /// Names the shelf knows.
    pub choices: Choices,
    /// How far its plan is.
    pub work: WorkView,
}

/// One value of a job's text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ValueView {
    /// As written, without quotes.
    pub text: String,
    /// As a length, mm, if it reads as one.
    pub mm: Option<f64>,
    /// As a number, if it is one.
    pub number: Option<f64>,
}

/// Names the shelf knows.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Choices {
    /// Woods.
    pub woods: Vec<String>,
    /// Resins to cast.
    pub resins: Vec<String>,
    /// Finishes.
    pub finishes: Vec<String>,
}

/// A finding with its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FindingView {
    /// `error`, `warning` or `note`.
    #[schemars(with = "String")]
    pub severity: base::Severity,
    /// Its short name.
    pub code: String,
    /// What is wrong.
    pub text: String,
    /// What to do.
    pub hint: Option<String>,
    /// The file it is in.
    pub file: Option<String>,
    /// Line from 1.
    pub line: Option<u32>,
    /// Column from 1, in characters.
    pub column: Option<u32>,
    /// Path of the value it is about, as in [`JobView::values`].
    pub field: Option<String>,
}

/// How far a job's plan is.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum WorkView {
    /// Not planned.
    #[default]
    Idle,
    /// Waits for another plan.
    Waiting,
    /// Being planned.
    Working {
        /// What is being done.
        stage: String,
        /// From 0 to 1 within the stage.
        done: f64,
    },
    /// Planned and judged.
    Planned {
        /// [`JobView::sources`] it was planned from.
        of: String,
        /// The worst verdict.
        state: State,
        /// Whether the programs were left out because a check fails.
        withheld: bool,
        /// Files of the pack.
        files: Vec<FileLine>,
    },
    /// The input is wrong.
    Refused {
        /// [`JobView::sources`] it was refused for.
        of: String,
        /// Why.
        findings: Vec<FindingView>,
    },
    /// A fault of ours.
    Fault {
        /// What happened.
        text: String,
    },
}

/// A file of the pack.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FileLine {
    /// Path in the pack.
    pub path: String,
    /// Size.
    pub bytes: u32,
}

/// A whole text to save.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaveText {
    /// Version it was made from.
    pub based_on: String,
    /// The text.
    pub text: String,
}

/// Changes of single values to save, keeping comments and order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SaveEdits {
    /// Version they were made from.
    pub based_on: String,
    /// The changes.
    pub set: Vec<Edit>,
}

/// A change of one value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Edit {
    /// Its path, as in [`JobView::values`]; a table's path for a whole table.
    pub path: String,
    /// What it becomes.
    pub to: NewValue,
}

/// What a value becomes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "as")]
pub enum NewValue {
    /// A length, written in the unit that stood there.
    Mm {
        /// In mm.
        value: f64,
    },
    /// A text, also a length as the maker writes it.
    Text {
        /// The text.
        value: String,
    },
    /// A number.
    Number {
        /// The number.
        value: f64,
    },
    /// Yes or no.
    Flag {
        /// Which.
        value: bool,
    },
    /// A table on one line, given as TOML: `{ kind = "pad" }`.
    Table {
        /// Its text.
        toml: String,
    },
    /// A further table under this name, given as the TOML of its keys.
    More {
        /// Its text.
        toml: String,
    },
    /// Taken out.
    Gone,
}

/// The file has changed meanwhile: nothing was written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConflictView {
    /// The job as it stands now.
    pub now: JobView,
}

/// What to look at before it is saved.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PreviewAsk {
    /// Changes on top of the file's text.
    pub set: Vec<Edit>,
    /// Whether to reckon how the resin is poured and cures, too: that takes seconds.
    pub pours: bool,
}

/// What comes before the numbers of a preview: `u32` length, this as JSON, then for each part its corners as `u16` × 3
/// (padded to 4 bytes), its normals as `i8` × 4 and its triangles as `u32` × 3, all little endian.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PreviewHead {
    /// Its parts, in order.
    pub parts: Vec<PartHead>,
    /// What was found, of the text and of the shape.
    pub findings: Vec<FindingView>,
    /// What is known before any planning.
    pub facts: Vec<Fact>,
    /// Chord tolerance of the picture, mm.
    pub tolerance_mm: f64,
    /// Boards of the blank: least and greatest corner, mm.
    pub boards: Vec<[[f64; 3]; 2]>,
    /// Length, width and height of the piece, mm.
    pub size_mm: Option<[f64; 3]>,
}

/// One part of a preview: a corner is `min + step · u16`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PartHead {
    /// Its name.
    pub name: String,
    /// Wood or resin.
    pub is: PartKind,
    /// Colour.
    pub colour: [u8; 3],
    /// Whether light passes.
    pub translucent: bool,
    /// Number of corners.
    pub corners: u32,
    /// Number of triangles.
    pub triangles: u32,
    /// Least corner, mm.
    pub min: [f64; 3],
    /// Size of one count along each axis, mm.
    pub step: [f64; 3],
}

/// What a part is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PartKind {
    /// Wood.
    Wood,
    /// Resin.
    Resin,
}

/// What comes before the numbers of a carving: `u32` length, this as JSON, then, each list padded to 4 bytes and all little
/// endian: of each moment the point where the tip ends (`u16` × 3), what it does ([`DOES`]) and its engagement in 255ths
/// (`u8` × 2) with its part (`u16`), its line (`u32`) and when it ends, s (`f32`); of each column its underside and its top
/// (`u16` each, two lists), the number of its segments (`u8`) and of each of these, from the bottom up, its end and its
/// material (`u16` × 2); of each moment how many columns sink (`u16`), and of each of these the column and its new top
/// (`u16` × 2).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CarvingHead {
    /// Paths of its programs.
    pub files: Vec<String>,
    /// Stretches of one program with one cutter.
    pub parts: Vec<CarvingPart>,
    /// Number of moments.
    pub moments: u32,
    /// A point of the tip is `min + step · u16` (workpiece frame, mm).
    pub min: [f64; 3],
    /// See `min`.
    pub step: [f64; 3],
    /// Columns along X and Y.
    pub columns: [u32; 2],
    /// Place of the first column, mm.
    pub origin: [f64; 2],
    /// Distance of the columns, mm.
    pub pitch_mm: f64,
    /// A height of a column is `low_mm + height_mm · u16`.
    pub low_mm: f64,
    /// See `low_mm`.
    pub height_mm: f64,
    /// Number of segments.
    pub segments: u32,
    /// How often a column sinks.
    pub sunk: u32,
    /// Looks of the materials.
    pub materials: Vec<MaterialLook>,
    /// Boards of the blank: least and greatest corner (workpiece frame, mm).
    pub boards: Vec<[[f64; 3]; 2]>,
    /// The colour scale viridis from low to high.
    pub scale: Vec<[u8; 3]>,
    /// Distance of the columns on which the engagement was measured, mm.
    pub measured_mm: f64,
    /// How long all of it takes, s.
    pub seconds: f64,
}

/// What a moment of a carving does, by its number.
pub const DOES: [&str; 4] = ["feed", "rapid", "wait", "set by hand"];

/// A stretch of one program with one cutter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CarvingPart {
    /// Index of its program.
    pub file: u32,
    /// Number of its cutter.
    pub cutter: u32,
}

/// The look of a material.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MaterialLook {
    /// Wood or resin.
    pub is: PartKind,
    /// Colour.
    pub colour: [u8; 3],
}

/// A figure in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Fact {
    /// What.
    pub label: String,
    /// How much, in the maker's units.
    pub value: String,
}

/// What the maker may choose about a job, with what each possibility would come to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChoicesView {
    /// [`JobView::sources`] it is of.
    pub of: String,
    /// What can be chosen.
    pub questions: Vec<Question>,
    /// Cutters of the shelf: number and name.
    pub cutters: Vec<(u32, String)>,
    /// What cutters are wanted for: key and words.
    pub tasks: Vec<(String, String)>,
}

/// Something to choose.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Question {
    /// What.
    pub title: String,
    /// Whether it is settled for the shop (`shop.toml`), not in the job.
    pub in_shop: bool,
    /// The possibilities.
    pub options: Vec<OptionView>,
}

/// One possibility.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OptionView {
    /// Its name among all.
    pub key: String,
    /// In words.
    pub label: String,
    /// Whether it is so now.
    pub now: bool,
    /// Changes of the job's text that choose it; none where it is settled for the shop.
    pub set: Vec<Edit>,
    /// What it would come to.
    pub comes_to: Tried,
}

/// How far a possibility is reckoned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum Tried {
    /// Not asked for.
    Untried,
    /// Waits its turn, or is being planned.
    Waiting,
    /// Planned and judged.
    Planned {
        /// What it comes to.
        figures: ChoiceFigures,
    },
    /// It can't be made so.
    Refused {
        /// Why.
        why: String,
    },
}

/// What a plan comes to: time, money and what is not as it should be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChoiceFigures {
    /// Time at the machine, s.
    pub machine_s: f64,
    /// Time of hands, s.
    pub hands_s: f64,
    /// Time of waiting, s.
    pub wait_s: f64,
    /// Cost of the piece.
    pub cost: f64,
    /// In which currency.
    pub currency: String,
    /// Titles of the checks that fail.
    pub fails: Vec<String>,
    /// Titles of the checks on watch.
    pub watch: Vec<String>,
}

/// Possibilities to be reckoned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReckonAsk {
    /// Their keys.
    pub keys: Vec<String>,
}

/// A possibility that is settled for the shop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChooseAsk {
    /// [`ChoicesView::of`] it was chosen from.
    pub based_on: String,
    /// Its key.
    pub key: String,
}

/// Other errors of the turning over, and another warmth of the shop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WhatIfAsk {
    /// Errors; what the sheet and the machine allow without them.
    pub errors: Option<FlipErrors>,
    /// Warmth by day and by night, °C; the shelf's without it.
    pub warmth_c: Option<[f64; 2]>,
}

/// Errors of the turning over.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FlipErrors {
    /// Readings along X, Y and Z, mm.
    pub within_mm: [f64; 3],
    /// Axes out of square, mm/m.
    pub square_mm_m: f64,
    /// Lean of the spindle, mm/m.
    pub lean_mm_m: f64,
}

/// What would be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WhatIfView {
    /// What would be left after the turning over; none where nothing is turned.
    pub flip: Option<FlipLeft>,
    /// Warmth by day and by night, °C.
    pub warmth_c: [f64; 2],
    /// The casts.
    pub casts: Vec<CastTimes>,
}

/// What would be left of wall and floor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FlipLeft {
    /// With these errors.
    pub errors: FlipErrors,
    /// Least wall and least floor, mm.
    pub left_mm: [Option<f64>; 2],
    /// What is asked for, mm.
    pub asked_mm: [f64; 2],
    /// What must be left at least, mm.
    pub least_mm: [Option<f64>; 2],
}

/// Times of a cast by its sheet, for another warmth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CastTimes {
    /// Its name.
    pub name: String,
    /// Pot life of 200 g by day, min.
    pub pot_life_min: f64,
    /// When the next layer may follow, from and to, h.
    pub next_h: [f64; 2],
    /// When it can be carved, h.
    pub carve_h: f64,
    /// Whether the shop is warm enough for it.
    pub warm_enough: bool,
}

/// The figures of a check in plan, to be painted on the piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MapView {
    /// What the cells tell.
    pub title: String,
    /// Unit of the cells.
    pub unit: String,
    /// The limit, if the cells tell the figure that has it.
    pub limit: Option<f64>,
    /// Least and greatest value of the scale.
    pub range: [f64; 2],
    /// Middle of the first cell, mm.
    pub first: [f64; 2],
    /// Distance of the cells, mm.
    pub pitch: f64,
    /// Cells in a row.
    pub nx: u32,
    /// Row by row with y rising; none where nothing was looked at.
    pub values: Vec<Option<f32>>,
    /// A place (x, y, z) of the piece lies in the map at (a x + b y + c z + d, e x + f y + g z + h).
    pub to_map: [f64; 8],
    /// Which way the skin looks that is meant: along z of the piece, against it, or either where it is 0.
    pub side: f64,
    /// The colour scale viridis from low to high.
    pub scale: Vec<[u8; 3]>,
}

/// A new job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NewJob {
    /// Title; also the name of its folder.
    pub name: String,
    /// Name of the example to start from; without it a plain commented job.
    pub from: Option<String>,
    /// A job of the folder to copy, in the place of an example.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub like: Option<String>,
}

/// Where something was put.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PutAt {
    /// The job, or the folder.
    pub id: String,
}

/// Why something was not done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TroubleView {
    /// What is wrong.
    pub error: String,
    /// What to do.
    pub hint: String,
}

/// What is told to whoever listens.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum Event {
    /// The line is open, or something was missed: look at everything anew.
    Hello,
    /// Jobs have come or gone.
    Jobs,
    /// The files of a job have changed.
    Changed {
        /// The job.
        id: String,
        /// Its new [`JobView::sources`].
        sources: String,
    },
    /// A possibility was reckoned.
    Tried {
        /// The job.
        id: String,
    },
    /// A plan has got on.
    Work {
        /// The job.
        id: String,
        /// How far it is.
        work: WorkView,
    },
}
