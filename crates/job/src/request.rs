//! What a job asks for, as types.

use crate::JobFile;
use base::{At, Length, Units};
use serde::{Deserialize, Serialize};

/// A value together with the place in the job text it came from (`None`: a default).
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub at: Option<At>,
}

/// One job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// Title on the sheets.
    pub title: String,
    /// How figures are printed for this maker.
    pub units: Units,
    /// Seed of all chance in the piece.
    pub seed: u64,
    /// First working day, `YYYY-MM-DD`, for the calendar.
    pub start: Option<Placed<String>>,
    /// The finished piece.
    pub piece: PieceSpec,
    /// Casts, in the order they are poured.
    pub casts: Vec<CastSpec>,
    /// The blank.
    pub blank: BlankSpec,
    /// The route.
    pub route: RouteSpec,
}

/// What a job asks of the shelf by name, as far as it could be read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Names {
    /// The wood.
    pub wood: Option<Placed<String>>,
    /// The finish.
    pub finish: Option<Placed<String>>,
    /// The resins of the casts, in their order.
    pub resins: Vec<Placed<String>>,
}

impl Names {
    /// The names of a whole job.
    pub fn of(job: &Job) -> Self {
        Self {
            wood: Some(job.blank.wood.clone()),
            finish: Some(job.route.finish.clone()),
            resins: job.casts.iter().map(|cast| cast.resin.clone()).collect(),
        }
    }
}

/// The finished piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PieceSpec {
    /// Place of the `[piece]` table.
    pub at: Option<At>,
    /// The maker's units, for what is said of the piece.
    pub units: Units,
    /// Outline of the rim seen from above.
    pub outline: Placed<OutlineSpec>,
    /// Finished height H.
    pub height: Placed<Length>,
    /// Least wall along the normal.
    pub wall: Placed<Length>,
    /// Least floor.
    pub floor: Placed<Length>,
    /// Outside profile.
    pub outside: Placed<OutsideSpec>,
    /// Inside profile.
    pub inside: Placed<InsideSpec>,
    /// Radius of the fillet between inside wall and floor.
    pub floor_radius: Placed<Length>,
    /// Foot.
    pub foot: Placed<FootSpec>,
    /// Radius of the round on the inner rim edge; 0 for a crisp edge.
    pub rim_round: Placed<Length>,
    /// Lettering engraved under the foot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<Placed<MarkSpec>>,
    /// A solid from elsewhere. Where there is one, outline, height, profiles, rim and foot are its own: the fields say nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mesh: Option<Placed<MeshSpec>>,
}

/// A solid from elsewhere and how it is laid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeshSpec {
    /// The file it lies in.
    pub file: Placed<JobFile>,
    /// Unit of its numbers, where the maker says it.
    pub units: Option<Placed<MeshUnits>>,
    /// Length along the grain to which it is made larger or smaller.
    pub length: Option<Placed<Length>>,
    /// Which way of the file leads from the foot up to the rim.
    pub up: Placed<Way>,
    /// Turn on its foot, degrees, counter-clockwise seen from above.
    pub turn_deg: Placed<f64>,
}

/// Units of the numbers in a file of a solid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum MeshUnits {
    /// Millimetres.
    Millimetres,
    /// Centimetres.
    Centimetres,
    /// Metres.
    Metres,
    /// Inches.
    Inches,
    /// Feet.
    Feet,
}

impl MeshUnits {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Millimetres, Self::Centimetres, Self::Metres, Self::Inches, Self::Feet];

    /// As written in a job.
    pub fn word(self) -> &'static str {
        match self {
            Self::Millimetres => "mm",
            Self::Centimetres => "cm",
            Self::Metres => "m",
            Self::Inches => "in",
            Self::Feet => "ft",
        }
    }

    /// Millimetres in one (exact: the inch is 25.4 mm since 1959).
    pub fn mm(self) -> f64 {
        match self {
            Self::Millimetres => 1.0,
            Self::Centimetres => 10.0,
            Self::Metres => 1000.0,
            Self::Inches => 25.4,
            Self::Feet => 304.8,
        }
    }
}

/// A way along an axis of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Way {
    /// 0, 1 or 2: x, y, z.
    pub axis: usize,
    /// Towards lesser coordinates.
    pub back: bool,
}

/// Lettering or line art engraved under the foot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MarkSpec {
    /// What it shows.
    pub shows: MarkShows,
    /// Height of its capitals, or of the whole drawing.
    pub height: Placed<Length>,
    /// Greatest depth.
    pub depth: Placed<Length>,
    /// Angle between the two sides of a stroke, degrees.
    pub angle_deg: Placed<f64>,
}

/// What a mark shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum MarkShows {
    /// A line of text.
    Text {
        /// What it says.
        text: Placed<String>,
        /// The maker's own typeface, if any.
        typeface: Option<Placed<JobFile>>,
    },
    /// What is filled and stroked in a drawing.
    Drawing(Placed<JobFile>),
}

/// Outlines, centred on the origin, X along the grain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum OutlineSpec {
    /// A circle.
    Circle {
        /// Its diameter.
        diameter: Length,
    },
    /// An ellipse.
    Ellipse {
        /// Along X.
        length: Length,
        /// Along Y.
        width: Length,
    },
    /// A rectangle with round corners.
    RoundedRectangle {
        /// Along X.
        length: Length,
        /// Along Y.
        width: Length,
        /// Corner radius.
        corner: Length,
    },
    /// Lobes whose heights and distances differ by chance, within those of even ones.
    Frilly {
        /// Diameter over the tips (circumscribed circle).
        diameter: Length,
        /// Number of waves, 2 to 24.
        waves: u32,
        /// Depth of the waists as a fraction of the mean radius, 0 to 0.3.
        depth: f64,
        /// How much they differ, 0 (alike) to 1.
        uneven: f64,
        /// Seed of the chance.
        seed: u64,
    },
    /// `|2x/length|ⁿ + |2y/width|ⁿ = 1`.
    Superellipse {
        /// Along X.
        length: Length,
        /// Along Y.
        width: Length,
        /// The power n, 2 (an ellipse) to 8.
        power: f64,
    },
    /// A regular polygon with round corners, a side at the front.
    Polygon {
        /// Diameter over the round corners.
        diameter: Length,
        /// Number of sides, 3 to 12.
        sides: u32,
        /// Corner radius.
        corner: Length,
    },
    /// A heart, its tip at the front.
    Heart {
        /// Along X.
        length: Length,
        /// Radius of the tip.
        tip: Length,
        /// Radius of the cleft.
        cleft: Length,
    },
    /// A smooth closed curve through points.
    Curve {
        /// The points, in their order round it.
        points: Vec<OutlinePoint>,
    },
    /// As an SVG file shows it.
    Drawing(DrawnOutline),
    /// `r(θ) = r0 (1 + depth cos(n θ))`, scaled so that the greatest radius is `diameter / 2`.
    Lobed {
        /// Diameter over the lobe tips (circumscribed circle).
        diameter: Length,
        /// Number n of lobes, 2 or more.
        lobes: u32,
        /// Depth of the waists as a fraction of the mean radius, 0 to 0.3.
        depth: f64,
    },
}

/// An outline that an SVG file shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DrawnOutline {
    /// The file.
    pub file: JobFile,
    /// Which of its paths, by its `id` or its kind and number (`path 2`); the only one if absent.
    pub path: Option<String>,
    /// Its size along X, once it is turned; as it is drawn if absent.
    pub length: Option<Length>,
    /// By how much it is turned, degrees, counter-clockwise.
    pub turn_deg: f64,
    /// Radius of all its corners, if it may have any.
    pub corner: Option<Length>,
}

/// A point that a free outline goes through.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OutlinePoint {
    /// Where it is: along the grain, and across it. Only how the points lie to each other counts.
    pub at: [Length; 2],
    /// The direction in which the curve goes on there, degrees from X, counter-clockwise.
    pub heading_deg: Option<f64>,
    /// If there is a corner: its radius.
    pub corner: Option<Length>,
}

impl OutlineSpec {
    /// The smaller size: across the waists for lobes, so that nothing wider than it fits everywhere. `None` where only the
    /// curve itself tells.
    pub fn least_size(&self) -> Option<Length> {
        Some(match *self {
            Self::Circle { diameter } => diameter,
            Self::Ellipse { length, width }
            | Self::RoundedRectangle { length, width, .. }
            | Self::Superellipse { length, width, .. } => length.min(width),
            Self::Polygon { diameter, sides, corner } => {
                let flat = (std::f64::consts::PI / f64::from(sides)).cos();
                diameter * flat + corner * (2.0 * (1.0 - flat))
            }
            // The side of its square.
            Self::Heart { length, .. } => length * (2.0 / (2.0 + std::f64::consts::SQRT_2)),
            Self::Lobed { diameter, depth, .. } | Self::Frilly { diameter, depth, .. } => {
                diameter * ((1.0 - depth) / (1.0 + depth))
            }
            Self::Curve { .. } | Self::Drawing(_) => return None,
        })
    }
}

/// Outside profiles. The section at any height is the outline moved inwards along its own normal by an inset; the
/// profile gives the inset by height, 0 at the rim.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum OutsideSpec {
    /// A straight wall leaning in towards the foot.
    Straight {
        /// Angle from vertical in degrees, 0 or more.
        draft_deg: f64,
    },
    /// An arc, upright at the rim, drawn in to the foot.
    Round {
        /// How far the foot lies inside the outline.
        foot_inset: Length,
    },
    /// Two arcs joined smoothly: leaning out at the rim, round below.
    Ogee {
        /// How far the foot lies inside the outline.
        foot_inset: Length,
    },
    /// A hollow arc, upright at the foot, leaning out all the way to the rim.
    Flared {
        /// How far the foot lies inside the outline.
        foot_inset: Length,
    },
    /// A bell stood on its crown: a long hollow arc out to the rim above a short round one.
    Bell {
        /// How far the foot lies inside the outline.
        foot_inset: Length,
    },
    /// A round body on a foot with an upright wall, and a cove between them.
    Footed {
        /// How far the foot's wall lies inside the outline.
        foot_inset: Length,
        /// Where the body's arc would meet the foot's wall, above the foot plane.
        foot_height: Length,
        /// Radius of the cove.
        cove: Length,
    },
    /// A smooth curve through given points, from the rim down to the foot.
    Points {
        /// The points.
        points: Vec<ProfilePoint>,
    },
}

impl OutsideSpec {
    /// How far the foot lies inside the outline, where the job says so.
    pub fn foot_inset(&self) -> Option<Length> {
        match self {
            Self::Straight { .. } => None,
            Self::Round { foot_inset }
            | Self::Ogee { foot_inset }
            | Self::Flared { foot_inset }
            | Self::Bell { foot_inset }
            | Self::Footed { foot_inset, .. } => Some(*foot_inset),
            Self::Points { points } => points.last().map(|p| p.inset.value),
        }
    }
}

/// A point that a profile runs through.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProfilePoint {
    /// How far inside the outline, along its normal.
    pub inset: Placed<Length>,
    /// Above the foot plane.
    pub height: Placed<Length>,
    /// Slope of the profile there, degrees from level (90 = upright); chosen from the neighbours if absent.
    pub slope_deg: Option<f64>,
}

/// Inside profiles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum InsideSpec {
    /// Parallel to the outside at the wall's thickness, with a fillet to the floor.
    Follow,
    /// Its own straight wall; nowhere thinner than the wall asked for.
    Straight {
        /// Angle from vertical in degrees.
        draft_deg: f64,
    },
    /// A smooth curve through given points, from the rim's inner edge down.
    Points {
        /// The points.
        points: Vec<ProfilePoint>,
    },
}

/// Feet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum FootSpec {
    /// Flat all over.
    Pad,
    /// A ring to stand on, with a shallow recess inside it.
    Recess {
        /// Width of the ring.
        land: Length,
        /// Depth of the recess.
        depth: Length,
    },
}

/// A hollow to be filled with resin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CastSpec {
    /// Place of the `[[cast]]` table.
    pub at: Option<At>,
    /// Name, unique in the job; part of file names.
    pub name: Placed<String>,
    /// Resin, by its name on the shelf.
    pub resin: Placed<String>,
    /// Colour as shown, `#rrggbb`.
    pub colour: Placed<[u8; 3]>,
    /// Whether light passes (asks for thicker skins and finer cavities).
    pub translucent: bool,
    /// Pigment as a fraction of the mixed mass.
    pub pigment: Placed<f64>,
    /// What it looks like.
    pub form: CastForm,
}

/// Forms of casts. All are vertical-cutter hollows by construction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum CastForm {
    /// A ring of resin as the rim, and drips running down the wall from it.
    RimDrips {
        /// Height of the plain ring at the rim.
        band: Placed<Length>,
        /// How many drips.
        count: Placed<u32>,
        /// Range of their length below the ring.
        length: Placed<[Length; 2]>,
        /// Range of their width.
        width: Placed<[Length; 2]>,
    },
    /// A plain ring of resin as the rim.
    RingBand {
        /// Its height on the piece.
        band: Placed<Length>,
    },
    /// A band that winds across the whole piece.
    River {
        /// Its width.
        width: Placed<Length>,
        /// How deep it reaches below the rim.
        depth: Placed<Length>,
        /// How far it swings to either side.
        swing: Placed<Length>,
        /// Length of one bend to the left and one to the right.
        wave: Placed<Length>,
        /// How far it runs beside the middle, positive to its left.
        aside: Length,
        /// Its course, degrees from the grain, counter-clockwise seen from above.
        angle_deg: f64,
    },
    /// Round pockets strewn over the floor by chance.
    Speckle {
        /// How many.
        count: Placed<u32>,
        /// Range of their width.
        width: Placed<[Length; 2]>,
        /// How deep they reach below the rim.
        depth: Placed<Length>,
    },
}

impl CastForm {
    /// How deep the hollow reaches below the rim at most, and where the job says so.
    pub fn depth(&self) -> Placed<Length> {
        match self {
            Self::RimDrips { band, length, .. } => Placed { value: band.value + length.value[1], at: length.at },
            Self::RingBand { band } => *band,
            Self::River { depth, .. } | Self::Speckle { depth, .. } => *depth,
        }
    }

    /// Depth of its level bottom below the rim.
    pub fn level_depth(&self) -> Length {
        match self {
            Self::RimDrips { band, .. } => band.value,
            other => other.depth().value,
        }
    }

    /// How many times as wide as the cutter its narrowest place must be. Slots: common practice, no source. A pocket that stands
    /// alone is entered by a helix around its middle, whose way is 0.8 of the cutter's diameter long at least, with what roughing
    /// leaves on its wall.
    pub const fn room(&self) -> f64 {
        match self {
            Self::Speckle { .. } => 1.45,
            Self::RimDrips { .. } | Self::RingBand { .. } | Self::River { .. } => 1.15,
        }
    }

    /// Its narrowest width, where it is not a ring that runs all round.
    pub fn narrowest(&self) -> Option<Placed<Length>> {
        match self {
            Self::RimDrips { width, .. } | Self::Speckle { width, .. } => {
                Some(Placed { value: width.value[0], at: width.at })
            }
            Self::River { width, .. } => Some(*width),
            Self::RingBand { .. } => None,
        }
    }

    /// Height of its ring of resin at the rim, if it has one.
    pub fn band(&self) -> Option<&Placed<Length>> {
        match self {
            Self::RimDrips { band, .. } | Self::RingBand { band } => Some(band),
            Self::River { .. } | Self::Speckle { .. } => None,
        }
    }
}

/// The blank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlankSpec {
    /// Place of the `[blank]` table.
    pub at: Option<At>,
    /// Wood, by its name on the shelf.
    pub wood: Placed<String>,
    /// Thickness of the boards to use, quarters of an inch (`8/4`) or measured rough thickness.
    pub boards: Placed<BoardThickness>,
    /// Width of the rough boards at hand, if known.
    pub board_width: Option<Placed<Length>>,
    /// Length and width of the blank; computed if absent.
    pub size: Option<Placed<[Length; 2]>>,
    /// Waste beyond the rim (a_r); computed by the parting rule if absent.
    pub beyond_rim: Option<Placed<Length>>,
    /// Waste beyond the foot (a_f).
    pub beyond_foot: Option<Placed<Length>>,
}

/// Thickness of a rough board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum BoardThickness {
    /// Nominal, in quarters of an inch: 8 for `8/4`.
    Quarters(u32),
    /// Measured.
    Measured(Length),
}

/// Which way the piece is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum RouteKind {
    /// Cavity, level, outside, flip, inside.
    TwoSided,
    /// From one side, flat bottom; cut out leaving a skin.
    OneSided,
}

/// How a piece comes free of the wood around it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Freeing {
    /// All of that wood is milled to chips.
    #[default]
    Chips,
    /// A moat is cut around the piece; tabs hold it until they are sawn by hand.
    Tabs,
}

/// What holds the work in a setup, where the maker chooses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Hold {
    /// Tape on both faces, instant glue between.
    Tape,
    /// Instant glue and kraft paper, straight on.
    Glue,
    /// Screws from beneath into the waste at the corners.
    Screws,
    /// Vacuum.
    Vacuum,
    /// A vise.
    Vise,
}

impl Hold {
    /// All, in the order of [`Hold::WORDS`].
    pub const ALL: [Self; 5] = [Self::Tape, Self::Glue, Self::Screws, Self::Vacuum, Self::Vise];
    /// As written in a job.
    pub const WORDS: [&'static str; 5] = ["tape", "glue", "screws", "vacuum", "vise"];

    /// As written in a job.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }
}

/// The route's choices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RouteSpec {
    /// Place of the `[route]` table.
    pub at: Option<At>,
    /// Which way.
    pub kind: Placed<RouteKind>,
    /// Greatest scallop after finishing.
    pub scallop: Placed<Length>,
    /// Finish, by its name on the shelf.
    pub finish: Placed<String>,
    /// Abrasive the maker starts sanding with, P number; computed from the scallop if absent.
    pub first_grit: Option<Placed<u32>>,
    /// How the piece comes free of what is around it.
    pub freeing: Placed<Freeing>,
    /// What holds the blank rim up before the outside is cut, and a one-sided piece; tape if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold_blank: Option<Placed<Hold>>,
    /// What holds it foot up; tape if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold_outside: Option<Placed<Hold>>,
    /// The glue under the foot, by its name on the shelf; instant glue if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foot_glue: Option<Placed<String>>,
    /// What roughing leaves on both sides before the wood rests, if it does.
    pub rest: Option<Placed<Length>>,
    /// Days to reckon with for the rest.
    pub rest_days: Option<Placed<u32>>,
}
