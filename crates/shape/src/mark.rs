//! A mark engraved under the foot: its strokes, their medial axis, and the solid that a pointed cutter takes out for them.
//!
//! It is laid out as it reads with the foot up, x along the grain to the right; in the piece's frame that is turned by half
//! a turn about X, never mirrored.

use crate::drawing::{self, NoDrawing};
use crate::lettering::{CannotSet, LARGEST, Letter, MOST_SIDES, Setting, TYPEFACE, line};
use base::{At, Report, Units};
use geom::medial::{MedialAxis, Roof};
use geom::{DAffine3, DMat3, DVec2, DVec3, Mesh, Region};
use job::{JobFile, MarkShows, MarkSpec, Placed};

/// Strokes below this are hard to read once the piece is sanded and oiled, mm. Common practice, no source.
const LEAST_STROKE: f64 = 1.2;
/// Less wood than this between two strokes, or within a letter, breaks out, mm. Common practice, no source.
const LEAST_BETWEEN: f64 = 2.0;
/// Wood that must stay between the mark and the inside, mm. Common practice, no source.
const LEAST_UNDER: f64 = 2.0;
/// Room between the strokes and the edge of the face they are cut into, mm. Common practice, no source.
const MARGIN: f64 = 3.0;
/// The solid of the strokes reaches so far above their face, mm.
const ABOVE: f64 = 0.5;
/// A drawing is first looked at so closely, mm, to find its size.
const ROUGHLY: f64 = 0.02;
/// Share of the piece's chord tolerance for the curves of the letters, and for their medial axis.
const SHARES: [f64; 2] = [0.25, 0.1];

/// The mark as it lies under the foot.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it says.
    pub text: String,
    /// Its strokes seen with the foot up.
    pub region: Region,
    /// Their medial axis.
    pub axis: MedialAxis,
    /// Height of the face it is cut into, piece frame, mm: the recess, or the foot plane.
    pub face_z: f64,
    /// How deep it goes, mm.
    pub deepest: f64,
    /// Angle between side and middle of a stroke's section, degrees.
    pub half_angle_deg: f64,
    /// Width of its thinnest stroke, mm.
    pub stroke: f64,
    /// Half its length and width: it lies within this of the foot's middle, mm.
    pub half: DVec2,
    /// What is taken out for it, and a little of the air above; piece frame.
    pub groove: Mesh,
}

/// What a mark is laid out in.
pub(crate) struct Place {
    /// The maker's units.
    pub(crate) units: Units,
    /// The face it is cut into, seen with the foot up.
    pub(crate) face: Region,
    /// Height of that face above the foot plane, mm.
    pub(crate) recess: f64,
    /// Floor above it, mm.
    pub(crate) floor: f64,
    /// Chord tolerance of the piece, mm.
    pub(crate) tolerance: f64,
}

/// The mark. `None` if it cannot be; the report says why.
pub(crate) fn mark(spec: &Placed<MarkSpec>, place: &Place, report: &mut Report) -> Option<Mark> {
    let (units, wanted) = (place.units, &spec.value);
    let setting = Setting {
        cap_height: wanted.height.value.as_mm(),
        least_gap: LEAST_BETWEEN,
        tolerance: SHARES[0] * place.tolerance,
    };
    let parts = match laid(wanted, &setting) {
        Ok(parts) => parts,
        Err(why) => {
            cannot_lay(spec, &why, report);
            return None;
        }
    };
    let half_angle = (wanted.angle_deg.value / 2.0).to_radians();
    // The cutter leans out over the edge of a recess.
    let margin = MARGIN + place.recess * half_angle.tan();
    let room = place.face.offset(-margin, place.tolerance);
    if !fits(&parts, &room) {
        too_large(spec, &setting, &room, units, report);
        return None;
    }
    let region = whole(&parts);
    let axis = MedialAxis::new(&region, SHARES[1] * place.tolerance);
    let widest = axis.joints.iter().map(|j| j.disc.radius).fold(0.0, f64::max);
    let depth = wanted.depth.value.as_mm();
    let deepest = depth.min(widest / half_angle.tan());
    let left = place.floor - deepest;
    if left < LEAST_UNDER {
        let text = format!(
            "the mark is {} deep and leaves {} of the floor of {}; expected {} or more above it",
            units.fine(deepest),
            units.fine(left),
            units.fine(place.floor),
            units.fine(LEAST_UNDER)
        );
        report
            .error("floor-under-mark", wanted.depth.at.or(spec.at), text)
            .hint("make the floor thicker, or `depth` less");
        return None;
    }
    let stroke = look(spec, &parts, units, report);
    let roof = Roof { slope: 1.0 / half_angle.tan(), deepest, above: ABOVE };
    let turned = DAffine3::from_mat3_translation(
        DMat3::from_diagonal(DVec3::new(1.0, -1.0, -1.0)),
        DVec3::new(0.0, 0.0, place.recess),
    );
    let groove = match axis.roof(&roof) {
        Ok(solid) => solid.transformed(&turned),
        Err(why) => {
            fault(spec, &why.to_string(), report);
            return None;
        }
    };
    let (low, high) = region.bounds()?;
    Some(Mark {
        text: says(wanted),
        region,
        axis,
        face_z: place.recess,
        deepest,
        half_angle_deg: wanted.angle_deg.value / 2.0,
        stroke,
        half: low.abs().max(high.abs()),
        groove,
    })
}

impl Mark {
    /// Volume of wood that it takes out, mm³.
    pub fn volume(&self) -> f64 {
        self.groove.volume() - ABOVE * self.region.area()
    }
}

/// Tells of a fault of ours with the mark.
pub(crate) fn fault(spec: &Placed<MarkSpec>, why: &str, report: &mut Report) {
    let hint = "this is a fault of the program, not of the job; a slightly different height may get round it";
    report.error("mark-solid", spec.at, format!("the solid of the mark could not be made: {why}")).hint(hint);
}

/// A letter, or what hangs together of a drawing.
struct Inked {
    /// What it is, for messages.
    what: String,
    region: Region,
}

/// Why a mark cannot be laid out.
enum CannotLay {
    Set(CannotSet),
    Draw(NoDrawing),
}

/// What a mark says: its text, or the name of its drawing.
fn says(wanted: &MarkSpec) -> String {
    match &wanted.shows {
        MarkShows::Text { text, .. } => text.value.clone(),
        MarkShows::Drawing(file) => file.value.name.clone(),
    }
}

/// The parts of a mark about its middle, at the height that is told.
fn laid(wanted: &MarkSpec, setting: &Setting) -> Result<Vec<Inked>, CannotLay> {
    match &wanted.shows {
        MarkShows::Text { text, typeface } => {
            let typeface = typeface.as_ref().map_or(TYPEFACE, |own| own.value.content.bytes());
            let letters = line(typeface, &text.value, setting).map_err(CannotLay::Set)?;
            let inked = |l: Letter| Inked { what: format!("\"{}\"", l.character), region: l.region };
            Ok(letters.into_iter().map(inked).collect())
        }
        MarkShows::Drawing(file) => {
            drawn(file.value.content.bytes(), setting.cap_height, setting.tolerance).map_err(CannotLay::Draw)
        }
    }
}

/// What is filled and stroked in a drawing, made as high as is told.
fn drawn(bytes: &[u8], height: f64, tolerance: f64) -> Result<Vec<Inked>, NoDrawing> {
    let drawing = drawing::read(bytes)?;
    let nothing = || NoDrawing("shows nothing that is filled or stroked".to_owned());
    let (low, high) = drawing.region(ROUGHLY)?.bounds().ok_or_else(nothing)?;
    let scale = height / (high.y - low.y);
    if !(scale > 0.0 && scale.is_finite() && scale * (high.x - low.x) < LARGEST) {
        return Err(nothing());
    }
    let mut region = drawing.region(tolerance / scale)?;
    let middle = (low + high) / 2.0;
    region.rings.iter_mut().flat_map(|r| &mut r.0).for_each(|p| *p = (*p - middle) * scale);
    let parts = region.parts();
    if parts.iter().any(|part| part.rings.iter().map(|r| r.0.len()).sum::<usize>() > MOST_SIDES) {
        return Err(NoDrawing("is far too intricate to be carved".to_owned()));
    }
    Ok(parts.into_iter().map(|region| Inked { what: "a part".to_owned(), region }).collect())
}

fn whole(parts: &[Inked]) -> Region {
    Region { rings: parts.iter().flat_map(|l| l.region.rings.clone()).collect() }
}

fn fits(parts: &[Inked], room: &Region) -> bool {
    parts.iter().flat_map(|l| &l.region.rings).flat_map(|r| &r.0).all(|p| room.contains(*p))
        && whole(parts).minus(room).area() < 1e-6
}

fn cannot_lay(spec: &Placed<MarkSpec>, why: &CannotLay, report: &mut Report) {
    match (why, &spec.value.shows) {
        (CannotLay::Set(why), MarkShows::Text { text, typeface }) => {
            cannot_set(spec, why, (text.at, typeface.as_ref()), report);
        }
        (CannotLay::Draw(NoDrawing(why)), MarkShows::Drawing(file)) => {
            let text = format!("the drawing \"{}\" of the mark {why}", file.value.name);
            report
                .error("bad-drawing", file.at.or(spec.at), text)
                .hint("save it anew as plain SVG, its text turned into paths, with little in it");
        }
        _ => (),
    }
}

fn cannot_set(
    spec: &Placed<MarkSpec>,
    why: &CannotSet,
    (at, own): (Option<At>, Option<&Placed<JobFile>>),
    report: &mut Report,
) {
    match why {
        CannotSet::Unknown(characters) => {
            let named: Vec<String> = characters.iter().map(|c| format!("\"{c}\" (U+{:04X})", u32::from(*c))).collect();
            let text = format!("the typeface of the mark has no {}; expected characters that it has", named.join(", "));
            let hint = match own {
                None => "it has Latin, Greek and Cyrillic letters, digits and signs; `typeface` names one of your own",
                Some(_) => "choose a typeface that has them, or leave them out",
            };
            report.error("unknown-character", at, text).hint(hint);
        }
        CannotSet::Joined(characters) => {
            let named: Vec<String> = characters.iter().map(|c| format!("U+{:04X}", u32::from(*c))).collect();
            let text = format!(
                "letters join, change or run from right to left where the mark has {}; set one after the other they would say \
                 something else",
                named.join(", ")
            );
            let hint =
                "draw the text, turn it into paths and give it as `drawing`; write an accented letter as one character";
            report.error("joined-writing", at, text).hint(hint);
        }
        CannotSet::Nothing => {
            report
                .error("empty-mark", at, "the mark says nothing; expected a text with letters, digits or signs")
                .hint("write what it should say, or leave `mark` out");
        }
        CannotSet::NoTypeface => {
            let name = own.map_or("the typeface that comes with treen", |own| &own.value.name);
            let text =
                format!("\"{name}\" cannot be read as a typeface; expected a font file with outlines (TTF or OTF)");
            let hint = "choose another font file; some are packed for use on pages only, or hold letters as pictures";
            report.error("bad-typeface", own.and_then(|own| own.at).or(spec.at), text).hint(hint);
        }
        CannotSet::Intricate(characters) => {
            let named: Vec<String> = characters.iter().map(|c| format!("\"{c}\"")).collect();
            let text = format!("the outlines of {} are broken or far too intricate to be carved", named.join(", "));
            report.error("intricate-letters", at, text).hint("leave them out, or choose a plainer typeface");
        }
    }
}

fn too_large(spec: &Placed<MarkSpec>, setting: &Setting, room: &Region, units: Units, report: &mut Report) {
    let text = says(&spec.value);
    let set = |height: f64| laid(&spec.value, &Setting { cap_height: height, ..*setting }).ok();
    let long = set(setting.cap_height).and_then(|l| whole(&l).bounds()).map_or(0.0, |(low, high)| high.x - low.x);
    let (mut good, mut bad) = (0.0, setting.cap_height);
    while bad - good > 0.05 {
        let middle = 0.5 * (good + bad);
        if set(middle).is_some_and(|parts| fits(&parts, room)) { good = middle } else { bad = middle }
    }
    let words = format!(
        "the mark \"{text}\" is {} long at a height of {}, and does not fit under the foot with {} around it",
        units.up(long),
        units.near(setting.cap_height),
        units.near(MARGIN)
    );
    let smaller = match good >= 1.0 {
        true => format!("set `height` to {} or less, ", units.down(good)),
        false => String::new(),
    };
    let shorter = match spec.value.shows {
        MarkShows::Text { .. } => "shorten the text, or ",
        MarkShows::Drawing(_) => "or ",
    };
    report
        .error("mark-too-large", spec.value.height.at.or(spec.at), words)
        .hint(format!("{smaller}{shorter}make the foot larger"));
}

/// Tells of strokes and holes that are small for wood; returns the width of the thinnest stroke.
fn look(spec: &Placed<MarkSpec>, parts: &[Inked], units: Units, report: &mut Report) -> f64 {
    let height = spec.value.height.value.as_mm();
    let at = spec.value.height.at.or(spec.at);
    let widest = |region: &Region| {
        let axis = MedialAxis::new(region, 0.05);
        2.0 * axis.joints.iter().map(|j| j.disc.radius).fold(0.0, f64::max)
    };
    let strokes = parts.iter().flat_map(|l| l.region.parts()).map(|part| widest(&part));
    let stroke = strokes.fold(f64::INFINITY, f64::min);
    if stroke < LEAST_STROKE {
        let text = format!(
            "the thinnest stroke of the mark is {} wide; below {} it is hard to read on wood",
            units.fine(stroke),
            units.fine(LEAST_STROKE)
        );
        let enough = units.up(height * LEAST_STROKE / stroke);
        report
            .warning("thin-stroke", at, text)
            .hint(format!("set `height` to {enough} or more, or try it on scrap first"));
    }
    let mut small: Vec<(f64, &str)> = parts
        .iter()
        .flat_map(|l| l.region.rings.iter().map(|r| (r, l.what.as_str())))
        .filter(|(r, _)| r.area() < 0.0)
        .map(|(r, c)| {
            let mut hole = r.clone();
            hole.0.reverse();
            (widest(&Region { rings: vec![hole] }), c)
        })
        .filter(|(width, _)| *width < LEAST_BETWEEN)
        .collect();
    small.sort_by(|a, b| a.0.total_cmp(&b.0));
    if let Some(&(least, _)) = small.first() {
        let mut names: Vec<&str> = small.iter().map(|(_, what)| *what).collect();
        names.sort_unstable();
        names.dedup();
        let text = format!(
            "the wood inside {} of the mark is only {} wide; below {} it may break out",
            names.join(", "),
            units.fine(least),
            units.fine(LEAST_BETWEEN)
        );
        let enough = units.up(height * LEAST_BETWEEN / least);
        report
            .warning("small-counter", at, text)
            .hint(format!("set `height` to {enough} or more, or try it on scrap first"));
    }
    // Letters are set apart; what is drawn lies where it was drawn.
    let grown = whole(parts).offset(LEAST_BETWEEN / 2.0, 0.02);
    if matches!(spec.value.shows, MarkShows::Drawing(_)) && grown.parts().len() < parts.len() {
        let text = format!(
            "strokes of the mark lie less than {} apart; the wood between them may break out",
            units.fine(LEAST_BETWEEN)
        );
        report
            .warning("narrow-between", at, text)
            .hint("make `height` greater, draw them farther apart, or try it on scrap first");
    }
    stroke
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_common_character_has_a_closed_solid() {
        let letters: String = ('!'..='~').chain("ÄÖÜäöüßéèçñøåº№€½©Ωδя".chars()).collect();
        let (mut seen, mut open) = (0, Vec::new());
        for (height, deepest) in [(4.0, 5.0), (10.0, 0.8), (25.0, 1.7)] {
            let setting = Setting { cap_height: height, least_gap: 2.0, tolerance: 0.0025 };
            for letter in line(TYPEFACE, &letters, &setting).unwrap_or_else(|e| panic!("{e:?}")) {
                let axis = MedialAxis::new(&letter.region, 0.001);
                let solid = axis.roof(&Roof { slope: 1.7, deepest, above: ABOVE });
                let Ok(solid) = solid else {
                    open.push(format!("{} at {height}", letter.character));
                    continue;
                };
                // The plan of its underside is the letter.
                let under: f64 = (0..solid.triangles.len()).map(|i| solid.normal2(i).z.min(0.0)).sum::<f64>() / -2.0;
                let area = letter.region.area();
                assert!((under - area).abs() < 1e-3 * area, "{} at {height}: {under} {area}", letter.character);
                seen += 1;
            }
        }
        assert!(open.is_empty(), "{seen} closed, not so {open:?}");
        assert!(seen > 330, "{seen}");
    }
}
