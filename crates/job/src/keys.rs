//! The keys of a job: what may stand where, of what kind, within which limits.
//!
//! This is the one source: the reader checks a text by it and the schema is written from it. Limits that involve two
//! keys are in `checks`. Lengths in mm.

use crate::Hold;
use crate::files::FileKind;

/// A table of the job.
pub(crate) struct Table {
    /// What it describes.
    pub(crate) doc: &'static str,
    /// Keys it always has.
    pub(crate) keys: &'static [Key],
    /// If there are any, the key `kind` names one of them and brings its keys along.
    pub(crate) variants: &'static [Variant],
}

/// What `kind = "name"` brings along.
pub(crate) struct Variant {
    pub(crate) name: &'static str,
    pub(crate) doc: &'static str,
    pub(crate) keys: &'static [Key],
}

/// One key.
pub(crate) struct Key {
    pub(crate) name: &'static str,
    pub(crate) required: bool,
    /// A key beside it that takes its place: one of the two stands in the table, not both.
    pub(crate) unless: Option<&'static str>,
    pub(crate) kind: Kind,
    /// What it is for.
    pub(crate) doc: &'static str,
    /// A value as written in a job.
    pub(crate) example: &'static str,
}

/// Limits of a length, mm. `least` itself is allowed only if `closed`.
#[derive(Clone, Copy)]
pub(crate) struct Limits {
    pub(crate) least: f64,
    pub(crate) closed: bool,
    pub(crate) greatest: f64,
}

/// What a value may be.
#[derive(Clone, Copy)]
pub(crate) enum Kind {
    /// Any text of one line.
    Text,
    /// Letters, digits and hyphens: it becomes part of file names.
    Name,
    /// One of a few words.
    Choice(&'static [&'static str]),
    Length(Limits),
    /// Two lengths with their signs.
    Point,
    /// Two lengths; if `ordered`, least and greatest.
    Lengths {
        limits: Limits,
        ordered: bool,
    },
    Number {
        least: f64,
        greatest: f64,
        what: &'static str,
    },
    Count {
        least: u64,
        greatest: u64,
    },
    Flag,
    Date,
    Colour,
    /// `8/4`, or a length.
    Boards,
    /// A file beside the job.
    File(FileKind),
    Table(&'static Table),
    /// Tables in double brackets.
    Tables(&'static Table),
}

/// Nothing in a small shop is longer.
const GREATEST_SIZE: f64 = 2000.0;
const SIZE: Limits = Limits { least: 0.0, closed: false, greatest: GREATEST_SIZE };
const SIZE_OR_ZERO: Limits = Limits { closed: true, ..SIZE };
/// Places, from any middle.
pub(crate) const PLACE: Limits = Limits { least: -GREATEST_SIZE, closed: true, greatest: GREATEST_SIZE };
/// The wall has messages of its own, see `checks`.
const WALL: Limits = PLACE;
const MARK_DEPTH: Limits = Limits { least: 0.1, closed: true, greatest: 3.0 };
const SCALLOP: Limits = Limits { least: 0.001, closed: true, greatest: 0.5 };
/// Less than the usual allowance of roughing is no rest, and more than this does not fit beside the flange.
const LEFT_FOR_REST: Limits = Limits { least: 1.0, closed: true, greatest: 4.0 };
const DRAFT: Kind = Kind::Number { least: 0.0, greatest: 60.0, what: "in degrees from vertical" };
/// The greatest whole number TOML must be able to hold.
const GREATEST_SEED: u64 = i64::MAX as u64;

const fn key(name: &'static str, kind: Kind, example: &'static str, doc: &'static str) -> Key {
    Key { name, required: true, unless: None, kind, doc, example }
}

/// The same, but that another key may stand in its place.
const fn unless(other: &'static str, key: Key) -> Key {
    Key { unless: Some(other), ..key }
}

const fn option(name: &'static str, kind: Kind, example: &'static str, doc: &'static str) -> Key {
    Key { required: false, ..key(name, kind, example, doc) }
}

const fn size(name: &'static str, example: &'static str, doc: &'static str) -> Key {
    key(name, Kind::Length(SIZE), example, doc)
}

const fn variant(name: &'static str, doc: &'static str, keys: &'static [Key]) -> Variant {
    Variant { name, doc, keys }
}

/// What a maker measured while making one piece.
pub(crate) const MEASURED: Table = Table {
    doc: "Measured values of one piece in the making.",
    keys: &[
        option("units", Kind::Choice(&["mm", "in"]), "\"mm\"", "unit of plain numbers; mm if absent"),
        option("blank", Kind::Length(SIZE), "\"65.5 mm\"", "thickness of the blank, mean of its four corners"),
        option(
            "witness",
            Kind::Lengths { limits: SIZE, ordered: false },
            "[\"4.02 mm\", \"3.98 mm\"]",
            "depth of the two witnesses as they were cut: front right, back left",
        ),
        option(
            "witness_left",
            Kind::Lengths { limits: SIZE_OR_ZERO, ordered: false },
            "[\"2.85 mm\", \"2.85 mm\"]",
            "depth left in the two witnesses after levelling: front right, back left",
        ),
        option(
            "moisture",
            Kind::Number { least: 1.0, greatest: 60.0, what: "in per cent of the dry wood" },
            "8.5",
            "reading of the moisture meter on the blank, mean of several places, %",
        ),
        option("tape", Kind::Length(SIZE_OR_ZERO), "\"0.30 mm\"", "tape stack under the outside's setup"),
        option(
            "foot_to_rim",
            Kind::Length(SIZE),
            "\"62.18 mm\"",
            "foot plane to rim face, mean of the middles of the flange's four edges",
        ),
    ],
    variants: &[],
};

/// The whole job.
pub(crate) const JOB: Table = Table {
    doc: "A job: the piece, its casts, its blank and the maker's choices.",
    keys: &[
        key("title", Kind::Text, "\"Tidepool\"", "title on the sheets"),
        option(
            "units",
            Kind::Choice(&["mm", "in"]),
            "\"mm\"",
            "unit of plain numbers, and of what is printed; mm if absent",
        ),
        option(
            "seed",
            Kind::Count { least: 0, greatest: GREATEST_SEED },
            "7",
            "seed of all chance in the piece; 0 if absent",
        ),
        option("start", Kind::Date, "\"2027-03-01\"", "first working day, for the calendar"),
        key("piece", Kind::Table(&PIECE), "{}", "the finished piece"),
        option("cast", Kind::Tables(&CAST), "[]", "hollows filled with resin, in the order they are poured"),
        key("blank", Kind::Table(&BLANK), "{}", "the blank"),
        key("route", Kind::Table(&ROUTE), "{}", "the way the piece is made"),
    ],
    variants: &[],
};

const PIECE: Table = Table {
    doc: "The finished piece, standing on its foot.",
    keys: &[
        unless(
            "mesh",
            key(
                "outline",
                Kind::Table(&OUTLINE),
                "{ kind = \"circle\", diameter = \"190 mm\" }",
                "outline of the rim seen from above",
            ),
        ),
        unless("mesh", size("height", "\"55 mm\"", "finished height")),
        key("wall", Kind::Length(WALL), "\"6 mm\"", "least wall, measured square to its surface"),
        size("floor", "\"7 mm\"", "least floor"),
        unless("mesh", size("floor_radius", "\"14 mm\"", "radius of the fillet between inside wall and floor")),
        unless(
            "mesh",
            option(
                "rim_round",
                Kind::Length(SIZE_OR_ZERO),
                "\"1 mm\"",
                "radius of the round on the inner rim edge; crisp if absent",
            ),
        ),
        unless(
            "mesh",
            key("outside", Kind::Table(&OUTSIDE), "{ kind = \"round\", foot_inset = \"35 mm\" }", "outside profile"),
        ),
        unless("mesh", key("inside", Kind::Table(&INSIDE), "{ kind = \"follow\" }", "inside profile")),
        unless(
            "mesh",
            key("foot", Kind::Table(&FOOT), "{ kind = \"recess\", land = \"8 mm\", depth = \"1.2 mm\" }", "foot"),
        ),
        option(
            "mesh",
            Kind::Table(&MESH),
            "{ file = \"bowl.stl\", units = \"mm\" }",
            "a solid of your own in the place of outline, height, profiles and foot",
        ),
        option("mark", Kind::Table(&MARK), "{ text = \"Alder 14\" }", "lettering engraved under the foot"),
    ],
    variants: &[],
};

const MESH: Table = Table {
    doc: "A solid made or scanned elsewhere, as a closed mesh of triangles.",
    keys: &[
        key("file", Kind::File(FileKind::Solid), "\"bowl.stl\"", "the file it lies in, beside the job"),
        option(
            "units",
            Kind::Choice(&["mm", "cm", "m", "in", "ft"]),
            "\"mm\"",
            "unit of its numbers; STL and OBJ do not tell, 3MF does",
        ),
        option(
            "length",
            Kind::Length(SIZE),
            "\"220 mm\"",
            "length of the finished piece along the grain: the solid is made larger or smaller until it has it",
        ),
        option(
            "up",
            Kind::Choice(&["z", "-z", "y", "-y", "x", "-x"]),
            "\"z\"",
            "which way of the file leads from the foot up to the rim; z if absent",
        ),
        option(
            "turn",
            Kind::Number { least: -360.0, greatest: 360.0, what: "in degrees" },
            "90",
            "how far it is turned on its foot, counter-clockwise seen from above, in degrees; 0 if absent",
        ),
    ],
    variants: &[],
};

const LENGTH_ALONG: Key = size("length", "\"240 mm\"", "size along the grain");
const WIDTH_ACROSS: Key = size("width", "\"160 mm\"", "size across the grain");
const LOBE_DEPTH: Key = key(
    "depth",
    Kind::Number { least: 0.0, greatest: 0.3, what: "as a fraction of the mean radius" },
    "0.1",
    "depth of the waists as a fraction of the mean radius",
);
const DRAFT_KEY: Key = key("draft", DRAFT, "15", "angle of the wall from vertical, in degrees");
const FOOT_INSET: Key =
    key("foot_inset", Kind::Length(SIZE_OR_ZERO), "\"35 mm\"", "how far the foot lies inside the outline");

const OUTLINE: Table = Table {
    doc: "Outline of the rim, seen from above.",
    keys: &[],
    variants: &[
        variant("circle", "A circle.", &[size("diameter", "\"190 mm\"", "its diameter")]),
        variant("ellipse", "An ellipse.", &[LENGTH_ALONG, WIDTH_ACROSS]),
        variant(
            "rounded-rectangle",
            "A rectangle with round corners.",
            &[LENGTH_ALONG, WIDTH_ACROSS, size("corner", "\"30 mm\"", "radius of the corners")],
        ),
        variant(
            "superellipse",
            "Between an ellipse and a rectangle.",
            &[
                LENGTH_ALONG,
                WIDTH_ACROSS,
                key(
                    "power",
                    Kind::Number { least: 2.0, greatest: 8.0, what: "2 for an ellipse, more for squarer shoulders" },
                    "3",
                    "power of the curve: 2 for an ellipse, more for squarer shoulders",
                ),
            ],
        ),
        variant(
            "polygon",
            "A regular polygon with round corners, a side at the front.",
            &[
                size("diameter", "\"200 mm\"", "diameter over the round corners"),
                key("sides", Kind::Count { least: 3, greatest: 12 }, "6", "number of sides"),
                size("corner", "\"30 mm\"", "radius of the corners"),
            ],
        ),
        variant(
            "heart",
            "A heart, its tip at the front.",
            &[
                size("length", "\"200 mm\"", "size along the grain"),
                size("tip", "\"25 mm\"", "radius of the tip"),
                size("cleft", "\"20 mm\"", "radius of the cleft"),
            ],
        ),
        variant(
            "curve",
            "A smooth closed curve through points of your own.",
            &[key("points", Kind::Tables(&OUTLINE_POINT), "[{ at = [90, 0] }]", "the points, in their order round it")],
        ),
        variant(
            "svg",
            "A closed path from a drawing.",
            &[
                key("file", Kind::File(FileKind::Drawing), "\"leaf.svg\"", "the drawing"),
                option(
                    "path",
                    Kind::Text,
                    "\"rim\"",
                    "which of its paths, by its id, or its kind and number such as \"path 2\"; the only one if absent",
                ),
                option("length", Kind::Length(SIZE), "\"240 mm\"", "size along the grain; as drawn if absent"),
                option(
                    "turn",
                    Kind::Number { least: -360.0, greatest: 360.0, what: "in degrees, counter-clockwise" },
                    "90",
                    "by how much it is turned, in degrees, counter-clockwise; as drawn if absent",
                ),
                option("corner", Kind::Length(SIZE), "\"20 mm\"", "radius that every sharp corner gets"),
            ],
        ),
        variant(
            "lobed",
            "Lobes around a circle.",
            &[
                size("diameter", "\"200 mm\"", "diameter over the tips of the lobes"),
                key("lobes", Kind::Count { least: 2, greatest: 24 }, "5", "number of lobes"),
                LOBE_DEPTH,
            ],
        ),
        variant(
            "frilly",
            "Waves around a circle that differ by chance, within the bounds of even ones.",
            &[
                size("diameter", "\"200 mm\"", "diameter over the tips of the waves"),
                key("waves", Kind::Count { least: 2, greatest: 24 }, "9", "number of waves"),
                LOBE_DEPTH,
                option(
                    "uneven",
                    Kind::Number { least: 0.0, greatest: 1.0, what: "0 for waves that are alike" },
                    "0.6",
                    "how much the waves differ, from 0 (alike) to 1; 0.6 if absent",
                ),
                option(
                    "seed",
                    Kind::Count { least: 0, greatest: GREATEST_SEED },
                    "3",
                    "seed of the chance in the outline; 0 if absent",
                ),
            ],
        ),
    ],
};

const OUTLINE_POINT: Table = Table {
    doc: "A point that the outline goes through.",
    keys: &[
        key(
            "at",
            Kind::Point,
            "[\"90 mm\", \"-25 mm\"]",
            "where it is, along the grain and across it, from any place: the middle of the outline's extent becomes the middle of the piece",
        ),
        option(
            "heading",
            Kind::Number { least: -360.0, greatest: 360.0, what: "in degrees from X, counter-clockwise" },
            "90",
            "direction in which the curve runs on there, in degrees from X, counter-clockwise; as it comes if absent",
        ),
        option("corner", Kind::Length(SIZE), "\"20 mm\"", "makes a corner there, with this radius"),
    ],
    variants: &[],
};

const POINTS: Key = key(
    "points",
    Kind::Tables(&POINT),
    "[{ inset = \"4 mm\", height = \"20 mm\" }, { inset = \"30 mm\", height = 0 }]",
    "points of the profile, from the rim downwards",
);
const POINT: Table = Table {
    doc: "A point that a profile runs through.",
    keys: &[
        key("inset", Kind::Length(SIZE_OR_ZERO), "\"4 mm\"", "how far it lies inside the outline"),
        key("height", Kind::Length(SIZE_OR_ZERO), "\"20 mm\"", "its height above the foot plane"),
        option(
            "slope",
            Kind::Number { least: 0.0, greatest: 90.0, what: "in degrees from level" },
            "80",
            "slope of the profile there in degrees from level, 90 for upright; chosen from the neighbours if absent",
        ),
    ],
    variants: &[],
};

const OUTSIDE: Table = Table {
    doc: "Outside profile, from the rim down to the foot.",
    keys: &[],
    variants: &[
        variant("straight", "A straight wall, leaning in towards the foot.", &[DRAFT_KEY]),
        variant("round", "An arc, upright at the rim.", &[FOOT_INSET]),
        variant("ogee", "Two arcs: leaning out at the rim, round below.", &[FOOT_INSET]),
        variant("flared", "A hollow arc, upright at the foot, leaning out all the way to the rim.", &[FOOT_INSET]),
        variant("bell", "A long hollow arc out to the rim above a short round one.", &[FOOT_INSET]),
        variant(
            "footed",
            "A round body on a foot with an upright wall, and a cove between them.",
            &[
                FOOT_INSET,
                size("foot_height", "\"8 mm\"", "height at which the body's arc would meet the foot's wall"),
                option("cove", Kind::Length(SIZE), "\"6 mm\"", "radius between body and foot; 6 mm if absent"),
            ],
        ),
        variant("points", "A smooth curve through given points.", &[POINTS]),
    ],
};

const INSIDE: Table = Table {
    doc: "Inside profile.",
    keys: &[],
    variants: &[
        variant("follow", "Parallel to the outside at the wall's thickness.", &[]),
        variant("straight", "A straight wall of its own, nowhere thinner than `wall`.", &[DRAFT_KEY]),
        variant("points", "A smooth curve of its own through given points, nowhere nearer than `wall`.", &[POINTS]),
    ],
};

const FOOT: Table = Table {
    doc: "What the piece stands on.",
    keys: &[],
    variants: &[
        variant("pad", "Flat all over.", &[]),
        variant(
            "recess",
            "A ring, with a shallow recess inside it.",
            &[size("land", "\"8 mm\"", "width of the ring"), size("depth", "\"1.2 mm\"", "depth of the recess")],
        ),
    ],
};

const MARK: Table = Table {
    doc: "Maker's mark, serial number or line art, engraved under the foot along the grain by a pointed cutter.",
    keys: &[
        option("text", Kind::Text, "\"Alder 14\"", "what it says, in one line; or else a `drawing`"),
        option("drawing", Kind::File(FileKind::Drawing), "\"tree.svg\"", "line art: what is filled and stroked in it"),
        option(
            "height",
            Kind::Length(SIZE),
            "\"10 mm\"",
            "height of its capitals, 10 mm if absent; of a drawing the whole height, 30 mm if absent",
        ),
        option(
            "depth",
            Kind::Length(MARK_DEPTH),
            "\"0.8 mm\"",
            "greatest depth, where wide strokes get a flat floor; 0.8 mm if absent",
        ),
        option(
            "angle",
            Kind::Number { least: 20.0, greatest: 120.0, what: "in degrees" },
            "60",
            "angle between the two sides of its strokes, in degrees; 60 if absent",
        ),
        option(
            "typeface",
            Kind::File(FileKind::Typeface),
            "\"type/hand.ttf\"",
            "a font file of your own; the typeface that comes with treen if absent",
        ),
    ],
    variants: &[],
};

const BAND: Key = size("band", "\"6 mm\"", "height of the ring of resin at the rim");

const CAST_DEPTH: Key = size("depth", "\"20 mm\"", "how deep the hollow reaches below the rim");

const CAST: Table = Table {
    doc: "A hollow carved from the rim side and filled with resin.",
    keys: &[
        key("name", Kind::Name, "\"drips\"", "name, part of file names"),
        key("resin", Kind::Text, "\"medium casting\"", "resin, by its name on the shelf"),
        key("colour", Kind::Colour, "\"#1f7a8c\"", "colour as shown in pictures"),
        option("translucent", Kind::Flag, "false", "whether light passes; false if absent"),
        option(
            "pigment",
            Kind::Number { least: 0.0, greatest: 0.05, what: "as a fraction of the mixed mass" },
            "0.015",
            "pigment as a fraction of the mixed mass; none if absent",
        ),
    ],
    variants: &[
        variant(
            "rim-drips",
            "A ring of resin as the rim, and drips running down the wall from it.",
            &[
                BAND,
                key("count", Kind::Count { least: 1, greatest: 200 }, "9", "how many drips"),
                key(
                    "length",
                    Kind::Lengths { limits: SIZE, ordered: true },
                    "[\"8 mm\", \"20 mm\"]",
                    "least and greatest length below the ring",
                ),
                key(
                    "width",
                    Kind::Lengths { limits: SIZE, ordered: true },
                    "[\"8 mm\", \"12 mm\"]",
                    "least and greatest width",
                ),
            ],
        ),
        variant("ring-band", "A plain ring of resin as the rim.", &[BAND]),
        variant(
            "river",
            "A band that winds across the whole piece.",
            &[
                size("width", "\"28 mm\"", "its width"),
                CAST_DEPTH,
                option(
                    "swing",
                    Kind::Length(SIZE_OR_ZERO),
                    "\"9 mm\"",
                    "how far it swings to either side; 0 if absent",
                ),
                option(
                    "wave",
                    Kind::Length(SIZE),
                    "\"160 mm\"",
                    "length of one bend to the left and one to the right; 160 mm if absent",
                ),
                option(
                    "aside",
                    Kind::Length(PLACE),
                    "\"-12 mm\"",
                    "how far it runs beside the middle, positive to the left of its course; 0 if absent",
                ),
                option(
                    "angle",
                    Kind::Number { least: -180.0, greatest: 180.0, what: "in degrees from the grain" },
                    "90",
                    "its course in degrees from the grain, counter-clockwise seen from above; 0 if absent",
                ),
            ],
        ),
        variant(
            "speckle",
            "Round pockets strewn over the floor by chance.",
            &[
                key("count", Kind::Count { least: 1, greatest: 200 }, "12", "how many pockets"),
                key(
                    "width",
                    Kind::Lengths { limits: SIZE, ordered: true },
                    "[\"6 mm\", \"14 mm\"]",
                    "least and greatest width",
                ),
                CAST_DEPTH,
            ],
        ),
    ],
};

const BLANK: Table = Table {
    doc: "The wood before the first setup.",
    keys: &[
        key("wood", Kind::Text, "\"black walnut\"", "wood, by its name on the shelf"),
        key("boards", Kind::Boards, "\"8/4\"", "thickness of the rough boards, in quarters of an inch or measured"),
        option("board_width", Kind::Length(SIZE), "\"200 mm\"", "width of the rough boards at hand"),
        option(
            "size",
            Kind::Lengths { limits: SIZE, ordered: false },
            "[\"220 mm\", \"220 mm\"]",
            "length and width of the blank; computed if absent",
        ),
        option("beyond_rim", Kind::Length(SIZE), "\"7 mm\"", "waste beyond the rim; computed if absent"),
        option("beyond_foot", Kind::Length(SIZE), "\"1.5 mm\"", "waste beyond the foot; computed if absent"),
    ],
    variants: &[],
};

const ROUTE: Table = Table {
    doc: "The way the piece is made.",
    keys: &[
        key("scallop", Kind::Length(SCALLOP), "\"0.02 mm\"", "greatest scallop left by the finishing cutter"),
        key("finish", Kind::Text, "\"hardening oil\"", "finish, by its name on the shelf"),
        option(
            "first_grit",
            Kind::Count { least: 24, greatest: 3000 },
            "150",
            "abrasive to start sanding with (P number); computed if absent",
        ),
        option(
            "freeing",
            Kind::Choice(&["chips", "tabs"]),
            "\"chips\"",
            "how the piece comes free of the wood around it: all of that into chips, or a moat around the piece with tabs across it, which are sawn by hand; chips if absent",
        ),
        option(
            "hold_blank",
            Kind::Choice(&Hold::WORDS),
            "\"tape\"",
            "what holds the blank rim up before the outside is cut, and a one-sided piece; tape if absent",
        ),
    ],
    variants: &[
        variant(
            "two-sided",
            "Cavity, pour, level, outside, flip, inside.",
            &[
                option(
                    "hold_outside",
                    Kind::Choice(&["tape", "glue", "vacuum"]),
                    "\"tape\"",
                    "what holds it foot up, by the rim face; tape if absent",
                ),
                option(
                    "foot_glue",
                    Kind::Text,
                    "\"instant glue\"",
                    "the glue that holds the foot on its carrier, by its name on the shelf; instant glue if absent",
                ),
                option(
                    "rest",
                    Kind::Length(LEFT_FOR_REST),
                    "\"2.5 mm\"",
                    "rough both sides first and leave so much, let the wood rest, then finish both; no rest if absent",
                ),
                option(
                    "rest_days",
                    Kind::Count { least: 1, greatest: 365 },
                    "14",
                    "days to reckon with for the rest; weighing decides; 14 if absent",
                ),
            ],
        ),
        variant("one-sided", "From one side, on a flat bottom.", &[]),
    ],
};

/// Words that tell of one shop's machine. A job carries none of them, so that others can make the piece too.
const MACHINE_WORDS: &[&str] = &[
    "feed",
    "feeds",
    "feedrate",
    "plunge",
    "rpm",
    "spindle",
    "speed",
    "speeds",
    "machine",
    "controller",
    "cutter",
    "cutters",
    "tool",
    "tools",
    "stickout",
    "stepover",
    "stepdown",
    "collet",
    "travel",
    "zero",
    "rapid",
    "acceleration",
    "chipload",
    "coolant",
];

/// Whether an unknown key tells of a machine: `feed`, `spindle_speed`, `stick-out`.
pub(crate) fn is_machine_word(key: &str) -> bool {
    let key = key.to_lowercase();
    let joined: String = key.chars().filter(|c| c.is_alphanumeric()).collect();
    let mut words = key.split(|c: char| !c.is_alphanumeric());
    MACHINE_WORDS.contains(&joined.as_str()) || words.any(|word| MACHINE_WORDS.contains(&word))
}

impl Table {
    /// All keys that can ever stand here, `kind` included.
    pub(crate) fn all_names(&self) -> Vec<&'static str> {
        let kind = (!self.variants.is_empty()).then_some("kind");
        let of_variants = self.variants.iter().flat_map(|v| v.keys);
        let mut names: Vec<_> = kind.into_iter().chain(self.keys.iter().chain(of_variants).map(|k| k.name)).collect();
        let mut seen = std::collections::BTreeSet::new();
        names.retain(|name| seen.insert(*name));
        names
    }

    pub(crate) fn variant(&self, name: &str) -> Option<&'static Variant> {
        self.variants.iter().find(|v| v.name == name)
    }
}

impl Kind {
    /// What a value of this kind looks like, for messages.
    pub(crate) fn expected(self) -> String {
        match self {
            Self::Text => "a text of one line in quotes".into(),
            Self::Name => "a name of letters, digits and hyphens in quotes".into(),
            Self::Choice(words) => one_of(words.iter().copied()),
            Self::Length(_) => "a length such as \"6 mm\" or \"2 1/4 in\", or a plain number in the job's units".into(),
            Self::Lengths { ordered: true, .. } => "the least and the greatest length in square brackets".into(),
            Self::Point => "two lengths with their signs in square brackets, along the grain and across it".into(),
            Self::Lengths { .. } => "two lengths in square brackets".into(),
            Self::Number { least, greatest, what } => format!("a number from {least} to {greatest}, {what}"),
            Self::Count { least, greatest: GREATEST_SEED } => format!("a whole number of {least} or more"),
            Self::Count { least, greatest } => format!("a whole number from {least} to {greatest}"),
            Self::Flag => "true or false".into(),
            Self::Date => "a date such as \"2027-03-01\"".into(),
            Self::Colour => "a colour such as \"#1f7a8c\"".into(),
            Self::Boards => "quarters of an inch such as \"8/4\", or a measured thickness such as \"52 mm\"".into(),
            Self::File(kind) => format!("the name of {} beside the job, in quotes", kind.noun()),
            Self::Table(_) => "a table".into(),
            Self::Tables(_) => "tables, each under its own [[ ]] heading".into(),
        }
    }
}

/// `"a", "b" or "c"`.
pub(crate) fn one_of<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let quoted: Vec<String> = words.map(|w| format!("\"{w}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}
