//! Makes a [`Job`] from records whose values are already right, and has the parts checked against each other.

use crate::checks::{Parts, check};
use crate::reader::{Record, Value};
use crate::{
    BlankSpec, BoardThickness, CastForm, CastSpec, DrawnOutline, FootSpec, Freeing, Hold, InsideSpec, Job, JobFile,
    MarkShows, MarkSpec, MeshSpec, MeshUnits, Names, OutlinePoint, OutlineSpec, OutsideSpec, PieceSpec, Placed,
    ProfilePoint, RouteKind, RouteSpec, Way,
};
use base::{Length, Report, Units, mm};

/// The job, if no part of it is missing or wrong in itself. Checks across parts run on whatever could be read.
pub(crate) fn build(root: &Record, units: Units, report: &mut Report) -> Option<Job> {
    let piece = root.record("piece").map(|p| p.value);
    let blank = root.record("blank").map(|b| b.value);
    let route = root.record("route").map(|r| r.value);
    let cast_records = root.records("cast");
    let casts: Vec<Option<CastSpec>> = cast_records.iter().map(cast_spec).collect();
    let outline = piece.and_then(|p| p.part("outline", outline_spec));
    let parts = Parts {
        units,
        outline: outline.as_ref(),
        height: piece.and_then(|p| p.get("height")),
        wall: piece.and_then(|p| p.get("wall")),
        floor: piece.and_then(|p| p.get("floor")),
        rim_round: piece.and_then(|p| p.get("rim_round")),
        outside: piece.and_then(|p| p.part("outside", outside_spec)),
        foot: piece.and_then(|p| p.part("foot", foot_spec)),
        casts: &casts,
        names: &cast_records.iter().filter_map(|c| c.get("name")).collect::<Vec<_>>(),
        pigments: &cast_records.iter().filter_map(|c| c.get("pigment")).collect::<Vec<_>>(),
        cast_places: &cast_records.iter().map(|c| c.at).collect::<Vec<_>>(),
        route: route.and_then(route_kind),
        mark: piece.and_then(|p| p.record("mark")),
    };
    check(&parts, report);
    Some(Job {
        title: root.get("title")?.value,
        units,
        seed: root.get("seed").map_or(0, |s| s.value),
        start: root.get("start"),
        piece: piece_spec(piece?, units)?,
        casts: casts.into_iter().collect::<Option<_>>()?,
        blank: blank_spec(blank?)?,
        route: route_spec(route?)?,
    })
}

/// What a job asks of the shelf by name, also where other parts of it are wrong.
pub(crate) fn names(root: &Record) -> Names {
    let of = |table: &str, key: &str| root.record(table).and_then(|t| t.value.get(key));
    Names {
        wood: of("blank", "wood"),
        finish: of("route", "finish"),
        resins: root.records("cast").iter().filter_map(|cast| cast.get("resin")).collect(),
    }
}

fn piece_spec(piece: &Record, units: Units) -> Option<PieceSpec> {
    if piece.record("mesh").is_some() {
        return brought_spec(piece, units);
    }
    Some(PieceSpec {
        at: piece.at,
        units,
        outline: piece.part("outline", outline_spec)?,
        height: piece.get("height")?,
        wall: piece.get("wall")?,
        floor: piece.get("floor")?,
        outside: piece.part("outside", outside_spec)?,
        inside: piece.part("inside", inside_spec)?,
        floor_radius: piece.get("floor_radius")?,
        foot: piece.part("foot", foot_spec)?,
        rim_round: piece.get("rim_round").unwrap_or(Placed { value: mm(0.0), at: None }),
        mark: mark_of(piece)?,
        mesh: None,
    })
}

/// A piece whose shape comes from a file.
fn brought_spec(piece: &Record, units: Units) -> Option<PieceSpec> {
    let mesh = piece.part("mesh", mesh_spec)?;
    let at = mesh.at;
    let nothing = Placed { value: Length::ZERO, at };
    Some(PieceSpec {
        at: piece.at,
        units,
        outline: Placed { value: OutlineSpec::Circle { diameter: Length::ZERO }, at },
        height: nothing,
        wall: piece.get("wall")?,
        floor: piece.get("floor")?,
        outside: Placed { value: OutsideSpec::Straight { draft_deg: 0.0 }, at },
        inside: Placed { value: InsideSpec::Follow, at },
        floor_radius: nothing,
        foot: Placed { value: FootSpec::Pad, at },
        rim_round: nothing,
        mark: mark_of(piece)?,
        mesh: Some(mesh),
    })
}

fn mesh_spec(mesh: &Record) -> Option<MeshSpec> {
    let units = mesh.get("units").and_then(|word: Placed<String>| {
        let value = MeshUnits::ALL.into_iter().find(|units| units.word() == word.value)?;
        Some(Placed { value, at: word.at })
    });
    let up = mesh.get("up").map_or(Placed { value: "z".to_owned(), at: None }, |up: Placed<String>| up);
    let axis = ["x", "y", "z"].iter().position(|axis| up.value.ends_with(axis))?;
    Some(MeshSpec {
        file: mesh.get("file")?,
        units,
        length: mesh.get("length"),
        up: Placed { value: Way { axis, back: up.value.starts_with('-') }, at: up.at },
        turn_deg: mesh.get("turn").unwrap_or(Placed { value: 0.0, at: None }),
    })
}

/// The mark, if there is one; `None` if there is one that could not be read.
fn mark_of(piece: &Record) -> Option<Option<Placed<MarkSpec>>> {
    match piece.record("mark") {
        Some(_) => Some(Some(piece.part("mark", mark_spec)?)),
        None => Some(None),
    }
}

/// How uneven frills are, if the job does not say: each as of a hand.
const FRILLS_UNEVEN: f64 = 0.6;
/// Radius between body and foot, if the job does not say. Common practice, no source: what common ball cutters reach.
const COVE: Length = mm(6.0);
/// Length of a river's two bends, if the job does not say. Common practice, no source: one and a half over a plate.
const WAVE: Length = mm(160.0);
/// Capitals of a mark are so high, if the job does not say. Common practice, no source: strokes are 1.2 mm wide then.
const MARK_HEIGHT: Length = mm(10.0);
/// A drawn mark is so high, if the job does not say. Common practice, no source.
const DRAWN_MARK_HEIGHT: Length = mm(30.0);
/// A mark's greatest depth, if the job does not say. Common practice, no source.
const MARK_DEPTH: Length = mm(0.8);
/// Angle between the sides of a mark's strokes, if the job does not say: the commonest pointed cutter's, degrees.
const MARK_ANGLE: f64 = 60.0;

fn mark_spec(mark: &Record) -> Option<MarkSpec> {
    let shows = match (mark.get("text"), mark.get("drawing")) {
        (Some(text), None) => MarkShows::Text { text, typeface: mark.get("typeface") },
        (None, Some(drawing)) => MarkShows::Drawing(drawing),
        _ => return None,
    };
    let usual = match shows {
        MarkShows::Text { .. } => MARK_HEIGHT,
        MarkShows::Drawing(_) => DRAWN_MARK_HEIGHT,
    };
    Some(MarkSpec {
        shows,
        height: mark.get("height").unwrap_or(Placed { value: usual, at: None }),
        depth: mark.get("depth").unwrap_or(Placed { value: MARK_DEPTH, at: None }),
        angle_deg: mark.get("angle").unwrap_or(Placed { value: MARK_ANGLE, at: None }),
    })
}

fn outline_spec(outline: &Record) -> Option<OutlineSpec> {
    let length = |key| outline.get(key).map(|l: Placed<Length>| l.value);
    Some(match outline.kind?.value {
        "circle" => OutlineSpec::Circle { diameter: length("diameter")? },
        "ellipse" => OutlineSpec::Ellipse { length: length("length")?, width: length("width")? },
        "rounded-rectangle" => OutlineSpec::RoundedRectangle {
            length: length("length")?,
            width: length("width")?,
            corner: length("corner")?,
        },
        "frilly" => OutlineSpec::Frilly {
            diameter: length("diameter")?,
            waves: outline.get("waves")?.value,
            depth: outline.get("depth")?.value,
            uneven: outline.get("uneven").map_or(FRILLS_UNEVEN, |u| u.value),
            seed: outline.get("seed").map_or(0, |s| s.value),
        },
        "superellipse" => OutlineSpec::Superellipse {
            length: length("length")?,
            width: length("width")?,
            power: outline.get("power")?.value,
        },
        "polygon" => OutlineSpec::Polygon {
            diameter: length("diameter")?,
            sides: outline.get("sides")?.value,
            corner: length("corner")?,
        },
        "heart" => OutlineSpec::Heart { length: length("length")?, tip: length("tip")?, cleft: length("cleft")? },
        "curve" => {
            OutlineSpec::Curve { points: outline.records("points").iter().map(outline_point).collect::<Option<_>>()? }
        }
        "svg" => OutlineSpec::Drawing(DrawnOutline {
            file: outline.get("file")?.value,
            path: outline.get("path").map(|path| path.value),
            length: length("length"),
            turn_deg: outline.get("turn").map_or(0.0, |turn| turn.value),
            corner: length("corner"),
        }),
        "lobed" => OutlineSpec::Lobed {
            diameter: length("diameter")?,
            lobes: outline.get("lobes")?.value,
            depth: outline.get("depth")?.value,
        },
        _ => return None,
    })
}

fn outline_point(point: &Record) -> Option<OutlinePoint> {
    Some(OutlinePoint {
        at: point.get("at")?.value,
        heading_deg: point.get("heading").map(|heading| heading.value),
        corner: point.get("corner").map(|corner| corner.value),
    })
}

fn outside_spec(outside: &Record) -> Option<OutsideSpec> {
    Some(match outside.kind?.value {
        "straight" => OutsideSpec::Straight { draft_deg: outside.get("draft")?.value },
        "round" => OutsideSpec::Round { foot_inset: outside.get("foot_inset")?.value },
        "ogee" => OutsideSpec::Ogee { foot_inset: outside.get("foot_inset")?.value },
        "flared" => OutsideSpec::Flared { foot_inset: outside.get("foot_inset")?.value },
        "bell" => OutsideSpec::Bell { foot_inset: outside.get("foot_inset")?.value },
        "footed" => OutsideSpec::Footed {
            foot_inset: outside.get("foot_inset")?.value,
            foot_height: outside.get("foot_height")?.value,
            cove: outside.get("cove").map_or(COVE, |c| c.value),
        },
        "points" => OutsideSpec::Points { points: profile_points(outside)? },
        _ => return None,
    })
}

fn inside_spec(inside: &Record) -> Option<InsideSpec> {
    Some(match inside.kind?.value {
        "follow" => InsideSpec::Follow,
        "straight" => InsideSpec::Straight { draft_deg: inside.get("draft")?.value },
        "points" => InsideSpec::Points { points: profile_points(inside)? },
        _ => return None,
    })
}

fn profile_points(profile: &Record) -> Option<Vec<ProfilePoint>> {
    let point = |of: &Record| {
        let slope: Option<Placed<f64>> = of.get("slope");
        Some(ProfilePoint { inset: of.get("inset")?, height: of.get("height")?, slope_deg: slope.map(|s| s.value) })
    };
    profile.records("points").iter().map(point).collect()
}

fn foot_spec(foot: &Record) -> Option<FootSpec> {
    Some(match foot.kind?.value {
        "pad" => FootSpec::Pad,
        "recess" => FootSpec::Recess { land: foot.get("land")?.value, depth: foot.get("depth")?.value },
        _ => return None,
    })
}

fn cast_spec(cast: &Record) -> Option<CastSpec> {
    let form = match cast.kind?.value {
        "rim-drips" => CastForm::RimDrips {
            band: cast.get("band")?,
            count: cast.get("count")?,
            length: cast.get("length")?,
            width: cast.get("width")?,
        },
        "ring-band" => CastForm::RingBand { band: cast.get("band")? },
        "river" => CastForm::River {
            width: cast.get("width")?,
            depth: cast.get("depth")?,
            swing: cast.get("swing").unwrap_or(Placed { value: mm(0.0), at: None }),
            wave: cast.get("wave").unwrap_or(Placed { value: WAVE, at: None }),
            aside: cast.get("aside").map_or(mm(0.0), |a| a.value),
            angle_deg: cast.get("angle").map_or(0.0, |a| a.value),
        },
        "speckle" => {
            CastForm::Speckle { count: cast.get("count")?, width: cast.get("width")?, depth: cast.get("depth")? }
        }
        _ => return None,
    };
    Some(CastSpec {
        at: cast.at,
        name: cast.get("name")?,
        resin: cast.get("resin")?,
        colour: cast.get("colour")?,
        translucent: cast.get("translucent").is_some_and(|t| t.value),
        pigment: cast.get("pigment").unwrap_or_default(),
        form,
    })
}

fn blank_spec(blank: &Record) -> Option<BlankSpec> {
    Some(BlankSpec {
        at: blank.at,
        wood: blank.get("wood")?,
        boards: blank.get("boards")?,
        board_width: blank.get("board_width"),
        size: blank.get("size"),
        beyond_rim: blank.get("beyond_rim"),
        beyond_foot: blank.get("beyond_foot"),
    })
}

fn route_kind(route: &Record) -> Option<Placed<RouteKind>> {
    let kind = route.kind?;
    let value = match kind.value {
        "two-sided" => RouteKind::TwoSided,
        "one-sided" => RouteKind::OneSided,
        _ => return None,
    };
    Some(Placed { value, at: kind.at })
}

fn freeing(route: &Record) -> Placed<Freeing> {
    let word: Option<Placed<String>> = route.get("freeing");
    word.map_or_else(Placed::default, |word| Placed {
        value: if word.value == "tabs" { Freeing::Tabs } else { Freeing::Chips },
        at: word.at,
    })
}

fn hold(route: &Record, key: &str) -> Option<Placed<Hold>> {
    let word: Placed<String> = route.get(key)?;
    let of = Hold::ALL.into_iter().find(|hold| hold.word() == word.value)?;
    Some(Placed { value: of, at: word.at })
}

fn route_spec(route: &Record) -> Option<RouteSpec> {
    Some(RouteSpec {
        at: route.at,
        kind: route_kind(route)?,
        scallop: route.get("scallop")?,
        finish: route.get("finish")?,
        first_grit: route.get("first_grit"),
        freeing: freeing(route),
        hold_blank: hold(route, "hold_blank"),
        hold_outside: hold(route, "hold_outside"),
        foot_glue: route.get("foot_glue"),
        rest: route.get("rest"),
        rest_days: route.get("rest_days"),
    })
}

/// Takes a value of one type out of the many a record can hold.
trait FromValue: Sized {
    fn from_value(value: &Value) -> Option<Self>;
}

macro_rules! from_value {
    ($($type:ty: $pattern:pat => $result:expr,)*) => {$(
        impl FromValue for $type {
            fn from_value(value: &Value) -> Option<Self> {
                match value {
                    $pattern => $result,
                    _ => None,
                }
            }
        }
    )*};
}

from_value! {
    String: Value::Text(text) => Some(text.clone()),
    Length: Value::Length(length) => Some(*length),
    [Length; 2]: Value::Lengths(pair) => Some(*pair),
    f64: Value::Number(number) => Some(*number),
    u64: Value::Count(count) => Some(*count),
    u32: Value::Count(count) => u32::try_from(*count).ok(),
    bool: Value::Flag(flag) => Some(*flag),
    [u8; 3]: Value::Colour(colour) => Some(*colour),
    BoardThickness: Value::Boards(boards) => Some(*boards),
    JobFile: Value::File(file) => Some(file.clone()),
}

impl Record {
    fn get<T: FromValue>(&self, key: &str) -> Option<Placed<T>> {
        let placed = self.value(key)?;
        Some(Placed { value: T::from_value(&placed.value)?, at: placed.at })
    }

    fn record(&self, key: &str) -> Option<Placed<&Record>> {
        let placed = self.value(key)?;
        match &placed.value {
            Value::Record(record) => Some(Placed { value: record, at: placed.at }),
            _ => None,
        }
    }

    /// The tables in double brackets below this one.
    fn records(&self, key: &str) -> &[Self] {
        match self.value(key).map(|v| &v.value) {
            Some(Value::Records(records)) => records,
            _ => &[],
        }
    }

    /// A table below this one, made into a type.
    fn part<T>(&self, key: &str, make: impl Fn(&Record) -> Option<T>) -> Option<Placed<T>> {
        let record = self.record(key)?;
        Some(Placed { value: make(record.value)?, at: record.at })
    }
}
