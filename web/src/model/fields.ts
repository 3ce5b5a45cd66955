// What the card of the shape shows: every value a maker may change, in trade words, with the range of its slider.
// Lengths in mm. What is wrong with a value is said by the server; these ranges are only for the hand.
import type { JobView, NewValue, ValueView } from "../wire/wire";

export type Field =
  | { is: "length"; path: string; label: string; least: number; most: number; step: number; note?: string }
  | { is: "number"; path: string; label: string; least: number; most: number; step: number; unit?: string; scale?: number }
  | { is: "choice"; path: string; label: string; options: { value: string; label: string }[] }
  | { is: "kind"; path: string; label: string; options: { kind: string; label: string; toml: string }[] }
  | { is: "colour"; path: string; label: string }
  | { is: "flag"; path: string; label: string; on: string; off: string }
  | { is: "text"; path: string; label: string };

export interface Group {
  title: string;
  fields: Field[];
  /** A cast, by its place in the job. */
  cast?: number;
}

const length = (path: string, label: string, least: number, most: number, step = 0.5, note?: string): Field =>
  ({ is: "length", path, label, least, most, step, ...(note && { note }) });

const plain = (words: readonly string[]) => words.map((value) => ({ value, label: value }));

/** The groups of fields for a job as it stands. */
export function groupsOf(job: JobView): Group[] {
  const has = (path: string) => path in job.values;
  const word = (path: string) => job.values[path]?.text;
  // A piece whose solid comes from elsewhere is shaped elsewhere.
  const solid = Object.keys(job.values).some((path) => path.startsWith("piece.mesh"));
  const groups: Group[] = solid ? [] : [
    { title: "Seen from above", fields: outline(job) },
    {
      title: "Wall and floor",
      fields: [
        length("piece.height", "Height", 10, 150),
        length("piece.wall", "Wall", 2, 20, 0.25, "least, square to its surface"),
        length("piece.floor", "Floor", 2, 25, 0.25),
        length("piece.floor_radius", "Round between wall and floor", 1, 60),
        length("piece.rim_round", "Round of the inner rim edge", 0, 6, 0.25),
      ],
    },
    {
      title: "Outside, inside, foot",
      fields: [
        kind("piece.outside", "Outside wall", [
          ["straight", "Straight", "{ kind = \"straight\", draft = 10 }"],
          ["round", "Round", `{ kind = "round", foot_inset = ${kept(job, "piece.outside.foot_inset", "30 mm")} }`],
          ...drawnIn(job),
          ["ogee", "Hollow above, round below", `{ kind = "ogee", foot_inset = ${kept(job, "piece.outside.foot_inset", "30 mm")} }`],
        ]),
        ...(has("piece.outside.draft") ? [degrees("piece.outside.draft", "Lean of the outside")] : []),
        ...(has("piece.outside.foot_inset") ? [length("piece.outside.foot_inset", "Foot drawn in by", 0, 90)] : []),
        ...(has("piece.outside.foot_height") ? [length("piece.outside.foot_height", "Height of the foot", 2, 40)] : []),
        ...(has("piece.outside.cove") ? [length("piece.outside.cove", "Cove above the foot", 2, 20)] : []),
        ...profilePoints(job, "piece.outside", "outside"),
        kind("piece.inside", "Inside wall", [
          ["follow", "Follows the outside", "{ kind = \"follow\" }"],
          ["straight", "Straight", "{ kind = \"straight\", draft = 10 }"],
        ]),
        ...(has("piece.inside.draft") ? [degrees("piece.inside.draft", "Lean of the inside")] : []),
        ...profilePoints(job, "piece.inside", "inside"),
        kind("piece.foot", "Foot", [
          ["pad", "Flat", "{ kind = \"pad\" }"],
          ["recess", "A ring to stand on", "{ kind = \"recess\", land = \"8 mm\", depth = \"1.2 mm\" }"],
        ]),
        ...(has("piece.foot.land") ? [length("piece.foot.land", "Width of the ring", 3, 30)] : []),
        ...(has("piece.foot.depth") ? [length("piece.foot.depth", "Depth inside the ring", 0.5, 5, 0.1)] : []),
      ],
    },
  ];
  for (let k = 0; has(`cast.${k}.name`) || has(`cast.${k}.kind`); k++) groups.push(cast(job, k));
  groups.push(
    {
      title: "Wood",
      fields: [
        { is: "choice", path: "blank.wood", label: "Wood", options: plain(job.choices.woods) },
        { is: "choice", path: "blank.boards", label: "Boards", options: boards(word("blank.boards")) },
        ...(has("blank.board_width") ? [length("blank.board_width", "Width of the boards", 60, 400, 5)] : []),
      ],
    },
    {
      title: "Making",
      fields: [
        {
          is: "choice", path: "route.kind", label: "Carved",
          options: [{ value: "two-sided", label: "from both sides" }, { value: "one-sided", label: "from one side, flat bottom" }],
        },
        length("route.scallop", "Ridges left to sand", 0.005, 0.2, 0.005),
        { is: "choice", path: "route.finish", label: "Finish", options: plain(job.choices.finishes) },
        { is: "choice", path: "units", label: "Units", options: [{ value: "mm", label: "millimetres" }, { value: "in", label: "inches" }] },
      ],
    },
  );
  return groups;
}

const kind = (path: string, label: string, options: [string, string, string][]): Field =>
  ({ is: "kind", path, label, options: options.map(([kind, label, toml]) => ({ kind, label, toml })) });

const degrees = (path: string, label: string): Field => ({ is: "number", path, label, least: 0, most: 45, step: 1, unit: "°" });

/** Outsides that draw the foot in by a length. */
function drawnIn(job: JobView): [string, string, string][] {
  const inset = kept(job, "piece.outside.foot_inset", "30 mm");
  return [
    ["flared", "Leaning out to the rim", `{ kind = "flared", foot_inset = ${inset} }`],
    ["bell", "A bell on its crown", `{ kind = "bell", foot_inset = ${inset} }`],
    ["footed", "A body on a foot", `{ kind = "footed", foot_inset = ${inset}, foot_height = "8 mm", cove = "5 mm" }`],
  ];
}

/** The points that a profile of the maker's own runs through. */
function profilePoints(job: JobView, profile: string, name: string): Field[] {
  const fields: Field[] = [];
  for (let k = 0; `${profile}.points.${k}.inset` in job.values; k++) {
    const at = (key: string) => `${profile}.points.${k}.${key}`;
    fields.push(length(at("inset"), `Point ${k + 1} of the ${name}: in from the outline`, 0, 120));
    fields.push(length(at("height"), `Point ${k + 1} of the ${name}: up`, 0, 150));
    if (at("slope") in job.values) {
      fields.push({ is: "number", path: at("slope"), label: `Point ${k + 1} of the ${name}: slope`, least: 0, most: 90, step: 1, unit: "°" });
    }
  }
  return fields;
}

/** A length of the job as TOML, so that another kind begins with the size the piece has. */
function kept(job: JobView, path: string, otherwise: string): string {
  const value = job.values[path];
  return JSON.stringify(value?.mm != null ? (value.number === null ? value.text : lengthText(value.mm, job.units)) : otherwise);
}

/** A length as text in the job's units. */
export const lengthText = (mm: number, units: string): string =>
  units === "in" ? `${Math.round((mm / 25.4) * 1e4) / 1e4} in` : `${Math.round(mm * 1e3) / 1e3} mm`;

function outline(job: JobView): Field[] {
  const at = (key: string) => `piece.outline.${key}`;
  const across = job.values[at("diameter")] ?? job.values[at("length")];
  const size = across?.mm ?? 190;
  const text = (mm: number) => JSON.stringify(lengthText(Math.round(mm), job.units));
  const long = job.values[at("length")] ? kept(job, at("length"), "190 mm") : text(size);
  const wide = job.values[at("width")] ? kept(job, at("width"), "140 mm") : text(size * 0.72);
  const round = job.values[at("diameter")] ? kept(job, at("diameter"), "190 mm") : text(size);
  const fields: Field[] = [
    kind("piece.outline", "Outline", [
      ["circle", "Circle", `{ kind = "circle", diameter = ${round} }`],
      ["ellipse", "Ellipse", `{ kind = "ellipse", length = ${long}, width = ${wide} }`],
      ["rounded-rectangle", "Rectangle, corners round", `{ kind = "rounded-rectangle", length = ${long}, width = ${wide}, corner = ${text(size * 0.2)} }`],
      ["superellipse", "Between ellipse and rectangle", `{ kind = "superellipse", length = ${long}, width = ${wide}, power = 3 }`],
      ["polygon", "Polygon, corners round", `{ kind = "polygon", diameter = ${round}, sides = 6, corner = ${text(size * 0.2)} }`],
      ["heart", "Heart", `{ kind = "heart", length = ${long}, tip = ${text(size * 0.13)}, cleft = ${text(size * 0.1)} }`],
      ["lobed", "Lobes", `{ kind = "lobed", diameter = ${round}, lobes = 5, depth = 0.08 }`],
      ["frilly", "Uneven waves", `{ kind = "frilly", diameter = ${round}, waves = 9, depth = 0.06, uneven = 0.6, seed = 3 }`],
    ]),
  ];
  const has = (key: string) => at(key) in job.values;
  if (has("diameter")) fields.push(length(at("diameter"), "Diameter", 60, 400, 1));
  if (has("length")) fields.push(length(at("length"), "Length along the grain", 60, 450, 1));
  if (has("width")) fields.push(length(at("width"), "Width across the grain", 50, 400, 1));
  if (has("corner")) fields.push(length(at("corner"), "Radius of the corners", 5, 120, 1));
  if (has("tip")) fields.push(length(at("tip"), "Radius of the tip", 5, 80, 1));
  if (has("cleft")) fields.push(length(at("cleft"), "Radius of the cleft", 5, 80, 1));
  if (has("power")) fields.push({ is: "number", path: at("power"), label: "Squareness", least: 2, most: 8, step: 0.1 });
  if (has("sides")) fields.push({ is: "number", path: at("sides"), label: "Sides", least: 3, most: 12, step: 1 });
  if (has("lobes")) fields.push({ is: "number", path: at("lobes"), label: "Lobes", least: 2, most: 24, step: 1 });
  if (has("waves")) fields.push({ is: "number", path: at("waves"), label: "Waves", least: 2, most: 24, step: 1 });
  if (has("depth")) fields.push({ is: "number", path: at("depth"), label: "Depth of the waists", least: 0, most: 0.3, step: 0.01, unit: "%", scale: 100 });
  if (has("uneven")) fields.push({ is: "number", path: at("uneven"), label: "Unevenness", least: 0, most: 1, step: 0.05, unit: "%", scale: 100 });
  if (has("seed")) fields.push({ is: "number", path: at("seed"), label: "Other waves", least: 0, most: 99, step: 1 });
  return fields;
}

function cast(job: JobView, k: number): Group {
  const at = (key: string) => `cast.${k}.${key}`;
  const form = job.values[at("kind")]?.text;
  const fields: Field[] = [
    { is: "choice", path: at("resin"), label: "Resin", options: plain(job.choices.resins) },
    { is: "colour", path: at("colour"), label: "Colour" },
    { is: "flag", path: at("translucent"), label: "Light", on: "passes through", off: "is kept out" },
    { is: "number", path: at("pigment"), label: "Pigment", least: 0, most: 0.06, step: 0.001, unit: "%", scale: 100 },
  ];
  if (form === "rim-drips" || form === "ring-band") fields.push(length(at("band"), "Height of the ring", 2, 40));
  if (form === "river") {
    fields.push(
      length(at("width"), "Width of the river", 6, 80),
      length(at("depth"), "Depth below the rim", 4, 120),
      ...(at("swing") in job.values ? [length(at("swing"), "Swing to either side", 0, 60)] : []),
      ...(at("wave") in job.values ? [length(at("wave"), "Length of a wave", 40, 400, 1)] : []),
      ...(at("aside") in job.values ? [length(at("aside"), "Beside the middle", -120, 120)] : []),
      ...(at("angle") in job.values
        ? [{ is: "number", path: at("angle"), label: "Turned from the grain", least: -90, most: 90, step: 1, unit: "°" } as Field]
        : []),
      { is: "number", path: "seed", label: "Another course", least: 0, most: 99, step: 1 },
    );
  }
  if (form === "speckle") {
    fields.push(
      { is: "number", path: at("count"), label: "Pockets", least: 1, most: 60, step: 1 },
      length(at("width.0"), "Narrowest pocket", 4, 40),
      length(at("width.1"), "Widest pocket", 4, 60),
      length(at("depth"), "Depth below the rim", 4, 120),
      { is: "number", path: "seed", label: "Other places", least: 0, most: 99, step: 1 },
    );
  }
  if (form === "rim-drips") {
    fields.push(
      { is: "number", path: at("count"), label: "Drips", least: 1, most: 40, step: 1 },
      length(at("length.0"), "Shortest drip", 2, 60),
      length(at("length.1"), "Longest drip", 2, 80),
      length(at("width.0"), "Narrowest drip", 4, 30),
      length(at("width.1"), "Widest drip", 4, 40),
      { is: "number", path: "seed", label: "Other drips", least: 0, most: 99, step: 1 },
    );
  }
  return { title: `Resin “${job.values[at("name")]?.text ?? k + 1}”`, fields, cast: k };
}

const QUARTERS = ["4/4", "5/4", "6/4", "8/4", "10/4", "12/4", "16/4"];

function boards(now: string | undefined) {
  const known = now === undefined || QUARTERS.includes(now) ? QUARTERS : [now, ...QUARTERS];
  return plain(known);
}

/** The number a slider stands at, in its own unit. */
export function standing(field: Field, value: ValueView | undefined): number | null {
  if (field.is === "length") return value?.mm ?? null;
  if (field.is === "number") return value?.number ?? null;
  return null;
}

/** What a slider or a typed text makes of a value. */
export const slid = (field: Field, at: number): NewValue =>
  field.is === "length" ? { as: "mm", value: at } : { as: "number", value: at };

/** A typed text as a value; `null` if a number was expected and it is none. */
export function typed(field: Field, text: string): NewValue | null {
  if (field.is !== "number") return { as: "text", value: text.trim() };
  const number = Number(text.replace(",", ".").replace(/[%°\s]/g, ""));
  return text.trim() !== "" && Number.isFinite(number) ? { as: "number", value: number / (field.scale ?? 1) } : null;
}

/** A number of a field as text, in the unit it is shown in. */
export const shownNumber = (field: Field & { is: "number" }, at: number): string =>
  String(Math.round(at * (field.scale ?? 1) * 1000) / 1000);

/** Forms of resin that can be added. */
export type Form = "ring-band" | "rim-drips" | "river";

/** The TOML of a new cast. */
export function newCast(job: JobView, form: Form): string {
  const taken = new Set<string>();
  for (let k = 0; job.values[`cast.${k}.name`]; k++) taken.add(job.values[`cast.${k}.name`]!.text);
  const name = ["rim", "tide", "ring", "glaze", "band", "sea"].find((word) => !taken.has(word)) ?? `cast-${taken.size + 1}`;
  const resin = job.choices.resins[0] ?? "deep pour";
  // A river reaches under the floor, so that it shows there too.
  const depth = (job.values["piece.height"]?.mm ?? 30) - (job.values["piece.floor"]?.mm ?? 8) + 3;
  const forms: Record<Form, string> = {
    "rim-drips": "band = \"6 mm\"\ncount = 9\nlength = [\"8 mm\", \"16 mm\"]\nwidth = [\"9 mm\", \"13 mm\"]\n",
    "ring-band": "band = \"8 mm\"\n",
    river: `width = "28 mm"\ndepth = ${JSON.stringify(lengthText(depth, job.units))}\nswing = "10 mm"\nwave = "180 mm"\nangle = 0\n`,
  };
  return `name = "${name}"\nresin = ${JSON.stringify(resin)}\ncolour = "#1f7a8c"\ntranslucent = false\npigment = 0.015\nkind = "${form}"\n${forms[form]}`;
}
