// Written by crates/treen/tests/wire.rs from the server's types. Do not edit.

/** The folder that is served. */
export type FolderView = {
  folder: string;
  version: string;
  jobs: JobLine[];
  examples: ExampleLine[];
};

/** One job of the folder. */
export type JobLine = {
  id: string;
  title: string;
};

/** An example to start from. */
export type ExampleLine = {
  name: string;
  says: string;
};

/** A job as it stands in its file. */
export type JobView = {
  id: string;
  title: string;
  file: string;
  version: string;
  sources: string;
  text: string;
  units: string;
  values: Record<string, ValueView>;
  findings: FindingView[];
  choices: Choices;
  work: WorkView;
};

/** One value of a job's text. */
export type ValueView = {
  text: string;
  mm: number | null;
  number: number | null;
};

/** A finding with its place. */
export type FindingView = {
  severity: string;
  code: string;
  text: string;
  hint: string | null;
  file: string | null;
  line: number | null;
  column: number | null;
  field: string | null;
};

/** Names the shelf knows. */
export type Choices = {
  woods: string[];
  resins: string[];
  finishes: string[];
};

/** How far a job's plan is. */
export type WorkView = {
  is: "idle";
} | {
  is: "waiting";
} | {
  is: "working";
  stage: string;
  done: number;
} | {
  is: "planned";
  of: string;
  state: State;
  withheld: boolean;
  files: FileLine[];
} | {
  is: "refused";
  of: string;
  findings: FindingView[];
} | {
  is: "fault";
  text: string;
};

/** How a check stands. */
export type State = "holds" | "watch" | "fails";

/** A file of the pack. */
export type FileLine = {
  path: string;
  bytes: number;
};

/** A whole text to save. */
export type SaveText = {
  based_on: string;
  text: string;
};

/** Changes of single values to save, keeping comments and order. */
export type SaveEdits = {
  based_on: string;
  set: Edit[];
};

/** A change of one value. */
export type Edit = {
  path: string;
  to: NewValue;
};

/** What a value becomes. */
export type NewValue = {
  as: "mm";
  value: number;
} | {
  as: "text";
  value: string;
} | {
  as: "number";
  value: number;
} | {
  as: "flag";
  value: boolean;
} | {
  as: "table";
  toml: string;
} | {
  as: "more";
  toml: string;
} | {
  as: "gone";
};

/** The file has changed meanwhile: nothing was written. */
export type ConflictView = {
  now: JobView;
};

/** What to look at before it is saved. */
export type PreviewAsk = {
  set: Edit[];
  pours: boolean;
};

/** What comes before the numbers of a preview: `u32` length, this as JSON, then for each part its corners as `u16` × 3 */
export type PreviewHead = {
  parts: PartHead[];
  findings: FindingView[];
  facts: Fact[];
  tolerance_mm: number;
  boards: ([[number, number, number], [number, number, number]])[];
  size_mm: [number, number, number] | null;
};

/** One part of a preview: a corner is `min + step · u16`. */
export type PartHead = {
  name: string;
  is: PartKind;
  colour: [number, number, number];
  translucent: boolean;
  corners: number;
  triangles: number;
  min: [number, number, number];
  step: [number, number, number];
};

/** What a part is made of. */
export type PartKind = "wood" | "resin";

/** A figure in words. */
export type Fact = {
  label: string;
  value: string;
};

/** What comes before the numbers of a carving: `u32` length, this as JSON, then, each list padded to 4 bytes and all little */
export type CarvingHead = {
  files: string[];
  parts: CarvingPart[];
  moments: number;
  min: [number, number, number];
  step: [number, number, number];
  columns: [number, number];
  origin: [number, number];
  pitch_mm: number;
  low_mm: number;
  height_mm: number;
  segments: number;
  sunk: number;
  materials: MaterialLook[];
  boards: ([[number, number, number], [number, number, number]])[];
  scale: ([number, number, number])[];
  measured_mm: number;
  seconds: number;
};

/** A stretch of one program with one cutter. */
export type CarvingPart = {
  file: number;
  cutter: number;
};

/** The look of a material. */
export type MaterialLook = {
  is: PartKind;
  colour: [number, number, number];
};

/** What the maker may choose about a job, with what each possibility would come to. */
export type ChoicesView = {
  of: string;
  questions: Question[];
  cutters: ([number, string])[];
  tasks: ([string, string])[];
};

/** Something to choose. */
export type Question = {
  title: string;
  in_shop: boolean;
  options: OptionView[];
};

/** One possibility. */
export type OptionView = {
  key: string;
  label: string;
  now: boolean;
  set: Edit[];
  comes_to: Tried;
};

/** How far a possibility is reckoned. */
export type Tried = {
  is: "untried";
} | {
  is: "waiting";
} | {
  is: "planned";
  figures: ChoiceFigures;
} | {
  is: "refused";
  why: string;
};

/** What a plan comes to: time, money and what is not as it should be. */
export type ChoiceFigures = {
  machine_s: number;
  hands_s: number;
  wait_s: number;
  cost: number;
  currency: string;
  fails: string[];
  watch: string[];
};

/** Possibilities to be reckoned. */
export type ReckonAsk = {
  keys: string[];
};

/** The figures of a check in plan, to be painted on the piece. */
export type MapView = {
  title: string;
  unit: string;
  limit: number | null;
  range: [number, number];
  first: [number, number];
  pitch: number;
  nx: number;
  values: (number | null)[];
  to_map: number[];
  side: number;
  scale: ([number, number, number])[];
};

/** A possibility that is settled for the shop. */
export type ChooseAsk = {
  based_on: string;
  key: string;
};

/** Other errors of the turning over, and another warmth of the shop. */
export type WhatIfAsk = {
  errors: FlipErrors | null;
  warmth_c: [number, number] | null;
};

/** Errors of the turning over. */
export type FlipErrors = {
  within_mm: [number, number, number];
  square_mm_m: number;
  lean_mm_m: number;
};

/** What would be. */
export type WhatIfView = {
  flip: FlipLeft | null;
  warmth_c: [number, number];
  casts: CastTimes[];
};

/** What would be left of wall and floor. */
export type FlipLeft = {
  errors: FlipErrors;
  left_mm: [number | null, number | null];
  asked_mm: [number, number];
  least_mm: [number | null, number | null];
};

/** Times of a cast by its sheet, for another warmth. */
export type CastTimes = {
  name: string;
  pot_life_min: number;
  next_h: [number, number];
  carve_h: number;
  warm_enough: boolean;
};

/** A new job. */
export type NewJob = {
  name: string;
  from: string | null;
  like?: string | null;
};

/** Where something was put. */
export type PutAt = {
  id: string;
};

/** Why something was not done. */
export type TroubleView = {
  error: string;
  hint: string;
};

/** What is told to whoever listens. */
export type Event = {
  is: "hello";
} | {
  is: "jobs";
} | {
  is: "changed";
  id: string;
  sources: string;
} | {
  is: "tried";
  id: string;
} | {
  is: "work";
  id: string;
  work: WorkView;
};

/** The whole plan as written to `plan.json`. */
export type PlanDoc = {
  format: number;
  title: string;
  tolerance_mm: number;
  target_scallop_mm: number;
  promise: PromiseDoc;
  machine: MachineDoc;
  units: string;
  piece: PieceDoc;
  cutters: CutterDoc[];
  steps: Step[];
  setups: Setup[];
  figures: Record<string, FigureDoc>;
  checks: CheckDoc[];
  programs_withheld: boolean;
  casts: CastDoc[];
  blank: BlankDoc;
  shop: ShopDoc;
  models: string[];
  buy: BuyLine[];
  cuts: CutLine[];
  layouts?: BoardLayout[];
  calendar: CalendarEntry[];
  cost: Cost;
  assumed: string[];
};

/** What is promised, mm. */
export type PromiseDoc = {
  gouge_mm: number;
  leftover_mm: number;
};

/** Motion limits of the machine. */
export type MachineDoc = {
  accel_mm_s2: XyZ;
  rapid_mm_min: XyZ;
  corner_mm: number;
};

/** A value for X and Y, and one for Z. */
export type XyZ = {
  xy: number;
  z: number;
};

/** The finished piece. */
export type PieceDoc = {
  model: string;
  volume_ml: number;
  wood_ml: number;
  resin_ml: Record<string, number>;
  min_wall_mm: number;
  min_floor_mm: number;
  size_mm: [number, number, number];
  wall_mm: number;
  floor_mm: number;
  recess_mm: number;
  mark?: MarkDoc | null;
};

/** Lettering engraved under the foot, into the recess if there is one. */
export type MarkDoc = {
  text: string;
  half_mm: [number, number];
  depth_mm: number;
};

/** A cutter as held in the machine. Lengths mm. */
export type CutterDoc = {
  number: number;
  name: string;
  shape: ShapeDoc;
  diameter: number;
  corner_radius: number;
  tip_diameter: number;
  half_angle: number;
  flute_length: number;
  shank_diameter: number;
  stickout: number;
  holder: HolderPart[];
  neck_diameter: number;
  neck_length: number;
  flutes: number;
  overall_length: number;
  helix_angle: number;
  chip_load_wood: number;
  chip_load_resin: number;
  rpm_max: number;
  plunges: boolean;
};

/** Shape of a cutter's tip. */
export type ShapeDoc = "flat" | "ball" | "bull" | "cone" | "tapered-ball";

/** A cylinder of the holder (collet nut, spindle nose), measured upwards from the nut's face. */
export type HolderPart = {
  diameter: number;
  length: number;
};

/** One step of the route. */
export type Step = {
  id: string;
  kind: StepKind;
  title: string;
  needs: string[];
  gives: string[];
  duration_s: number;
  wait_s: number;
  hands_on_s: number;
  setup?: string | null;
  cast?: string | null;
  grit?: number | null;
  says: string[];
  cautions: string[];
  figures: FigureId[];
  change?: Change | null;
};

/** Kinds of step. */
export type StepKind = "mill" | "glue" | "trim" | "hold" | "zero" | "carve" | "seal" | "dam" | "pour" | "cure" | "level" | "flip" | "rest" | "release" | "sand" | "finish" | "inspect" | "reminder";

/** Name of a figure, unique in a plan: `blank.thickness`, `cast.drips.volume`, `setup.inside.peak_force`. */
export type FigureId = string;

/** What a step does to the simulated workpiece. */
export type Change = {
  does: "blank";
} | {
  does: "carve";
  setup: string;
} | {
  does: "pour";
  cast: number;
  from: ([number, number])[];
  level: number;
  dam_offset: number;
  dam_height: number;
} | {
  does: "flip";
};

/** One clamping of the workpiece on the machine. */
export type Setup = {
  id: string;
  title: string;
  face_up: Face;
  program_to_piece: number[];
  stock: Box3;
  target: string;
  keep: string[];
  table_z: number;
  machine_table_z: number;
  work_offset: string;
  holding: Holding;
  datums: Datums;
  zero: Zero;
  alignment?: Alignment | null;
  reference_spot: ReferenceSpot;
  programs: ProgramSheet[];
  look_first: string;
  inspect: InspectPoint[];
  finishes_skin: boolean;
  only_roughs: boolean;
};

/** A face of the piece. */
export type Face = "rim" | "foot";

/** An axis-parallel box. */
export type Box3 = {
  min: [number, number, number];
  max: [number, number, number];
};

/** How the workpiece is held in a setup. */
export type Holding = {
  method: string;
  glue?: string | null;
  says: string;
  joint_z: number;
  area_mm2: number;
  section_modulus_mm3: number;
  shear_mpa: number;
  tension_mpa: number;
  factor: number;
  pressed?: PressedOn | null;
  measured?: string | null;
};

/** Work that is pressed or sucked on. */
export type PressedOn = {
  hold_n: number;
  friction: number;
  arm_mm: number;
  tip_factor: number;
};

/** Where the datums are now, in words. */
export type Datums = {
  A: string;
  B: string;
  C: string;
};

/** The work zero. */
export type Zero = {
  x: ZeroAxis;
  y: ZeroAxis;
  z: ZeroAxis;
};

/** How one axis is zeroed. */
export type ZeroAxis = {
  surface: string;
  set_to: number;
  check_surface: string;
  expect: number;
  within: number;
};

/** Readings by which a setup is found, each with its greatest difference. */
export type Alignment = {
  centre: number;
  edge_differs: number;
  edge_apart: number;
  height: number;
  heights_differ: number;
  heights_apart: [number, number];
  tape: number;
  carrier_flat: number;
  carrier_length: number;
};

/** A spot to touch off every cutter of the setup. */
export type ReferenceSpot = {
  at: [number, number, number];
  reads: number;
  surface: string;
};

/** A program file of a setup. */
export type ProgramSheet = {
  file: string;
  cutters: number[];
  duration_s: number;
  cut_length_mm: number;
  rapid_length_mm: number;
  restart_points: RestartPoint[];
};

/** A line to start again from. */
export type RestartPoint = {
  line: number;
  at: [number, number, number];
  time_s: number;
};

/** A place to measure. */
export type InspectPoint = {
  what: string;
  at: [number, number, number];
  expect: number;
  within: number;
};

/** One figure with its why. */
export type FigureDoc = {
  value: number | null;
  unit: string;
  formula: string;
  inputs: Input[];
  source: Source;
};

/** What a figure was computed from. */
export type Input = {
  figure: FigureId;
} | {
  value: number;
  unit: Unit;
  from: string;
};

/** Unit of a figure as printed: `mm`, `ml`, `g`, `s`, `N`, `MPa`, `°C`, `1` for a plain number. */
export type Unit = string;

/** Where a formula or a value comes from. */
export type Source = {
  kind: "published";
  title: string;
  place: string;
} | {
  kind: "derived";
} | {
  kind: "common-practice";
} | {
  kind: "from-memory";
  title: string;
} | {
  kind: "measured";
  on: string;
};

/** One check. */
export type CheckDoc = {
  id: string;
  title: string;
  state: State;
  value: number | null;
  limit: number | null;
  unit: string;
  sense: string;
  where?: Where | null;
  remedy?: string | null;
  assumed?: string[];
  block?: string | null;
  picture?: string | null;
};

/** Where a check is worst. */
export type Where = {
  setup?: string | null;
  program?: string | null;
  line?: number | null;
  at?: [number, number, number] | null;
};

/** One cast. */
export type CastDoc = {
  name: string;
  model: string;
  hollow_model: string;
  poured_model: string;
  resin: Record<string, unknown>;
  colour: [number, number, number];
  translucent: boolean;
  poured_ml: number;
  in_piece_ml: number;
  to_mix_ml: number;
  layers: LayerDoc[];
  seal_g: number;
  pigment_g: number;
  level_mm: number;
  dam_length_mm: number;
  crossing_deg: number;
  peaks_c: ([number, number])[];
  next_h: number[];
  carve_h: number | null;
};

/** One layer of a pour. */
export type LayerDoc = {
  depth_mm: number;
  volume_ml: number;
  resin_g: number;
  hardener_g: number;
  resin_ml: number;
  hardener_ml: number;
  cups: number;
};

/** The blank. */
export type BlankDoc = {
  model: string;
  wood: string;
  wood_colour: [number, number, number];
  boards: BlankBoard[];
};

/** One planed board in the blank, in the piece's frame, mm. */
export type BlankBoard = {
  min: [number, number, number];
  max: [number, number, number];
  wood: string;
};

/** The shop this plan is for; the schema of the shelf describes the entries. */
export type ShopDoc = {
  machine: Record<string, unknown>;
  holding: Record<string, unknown>;
};

/** A line of the buy list. */
export type BuyLine = {
  item: string;
  quantity: number;
  unit: string;
  price: number;
  cost: number;
  used: number;
  used_cost: number;
  note: string;
};

/** A piece to cut from boards. */
export type CutLine = {
  part: string;
  wood: string;
  board: string;
  thickness: number;
  width: number;
  length: number;
  count: number;
  note: string;
};

/** A board at hand and how it is sawn. Lengths mm, along the grain from its first end, across it from its first edge. */
export type BoardLayout = {
  board: string;
  rough: number;
  length: number;
  width: number;
  ends: number;
  kerf: number;
  parts: LaidPart[];
  defects: LaidDefect[];
  offcuts: ([[number, number], [number, number]])[];
  cuts: SawCut[];
  says: string[];
};

/** A part on a board, with what is jointed off its edges. */
export type LaidPart = {
  line: number;
  along: [number, number];
  across: [number, number];
};

/** A defect of a board. */
export type LaidDefect = {
  what: string;
  along: [number, number];
  across: [number, number];
};

/** A straight cut through a section of a board. */
export type SawCut = {
  rip: boolean;
  at: number;
  along: [number, number];
  across: [number, number];
};

/** A stretch of the calendar. */
export type CalendarEntry = {
  step: string;
  title: string;
  start: string;
  end: string;
  waiting: boolean;
};

/** What the piece costs. */
export type Cost = {
  currency: string;
  materials: number;
  hands: number;
  machine: number;
  overhead: number;
  total: number;
};

/** The proof as written to `proof.json`. */
export type ProofDoc = {
  format: number;
  title: string;
  state: State;
  checks: CheckDoc[];
  made_wood_ml?: number | null;
  made_resin_ml: Record<string, number>;
};
