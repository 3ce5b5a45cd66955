//! Checks that involve more than one key but no table and no geometry: what can be seen from the job alone.

use crate::reader::Record;
use crate::{CastForm, CastSpec, FootSpec, OutlineSpec, OutsideSpec, Placed, RouteKind};
use base::{At, Length, Report, Units, mm};

/// The parts of a job that could be read; a part that could not is `None` and its checks are left out, for its own
/// mistake is already told.
pub(crate) struct Parts<'a> {
    pub(crate) units: Units,
    pub(crate) outline: Option<&'a Placed<OutlineSpec>>,
    pub(crate) height: Option<Placed<Length>>,
    pub(crate) wall: Option<Placed<Length>>,
    pub(crate) floor: Option<Placed<Length>>,
    pub(crate) rim_round: Option<Placed<Length>>,
    pub(crate) outside: Option<Placed<OutsideSpec>>,
    pub(crate) foot: Option<Placed<FootSpec>>,
    pub(crate) casts: &'a [Option<CastSpec>],
    /// Names and pigments also of casts that are not whole.
    pub(crate) names: &'a [Placed<String>],
    pub(crate) pigments: &'a [Placed<f64>],
    pub(crate) cast_places: &'a [Option<At>],
    pub(crate) route: Option<Placed<RouteKind>>,
    pub(crate) mark: Option<Placed<&'a Record>>,
}

/// Thinner than this nothing carved from solid wood survives its own making. Common practice, no source.
const LEAST_WALL: Length = mm(1.0);

/// Above this share of the mixed mass the resin may stay soft. Common practice, no source.
const MUCH_PIGMENT: f64 = 0.03;

pub(crate) fn check(parts: &Parts, report: &mut Report) {
    check_outline(parts, report);
    check_wall(parts, report);
    check_heights(parts, report);
    check_foot(parts, report);
    check_cast_names(parts, report);
    check_casts(parts, report);
    check_route(parts, report);
    check_mark(parts, report);
}

fn check_outline(parts: &Parts, report: &mut Report) {
    let Some(Placed { value: OutlineSpec::RoundedRectangle { length, width, corner }, at }) = parts.outline else {
        return;
    };
    let half = length.min(*width) / 2.0;
    if *corner > half {
        let text = format!(
            "the corner radius is {}; expected at most half of the smaller side, {}",
            corner.told(parts.units),
            half.told(parts.units)
        );
        report.error("corner-too-large", *at, text).hint("make the corner smaller, or the outline an ellipse");
    }
}

fn check_wall(parts: &Parts, report: &mut Report) {
    let Some(wall) = parts.wall else { return };
    let shown = wall.value.told(parts.units);
    if wall.value <= Length::ZERO {
        let text =
            format!("the wall is {shown} thick, and no wood can be less than none; expected a thickness above 0");
        report
            .error("negative-wall", wall.at, text)
            .hint("write the thickness without a minus sign, for instance \"6 mm\"");
    } else if wall.value < LEAST_WALL {
        let text = format!("the wall is {shown}; expected {} or more", LEAST_WALL.told(parts.units));
        report.error("thin-wall", wall.at, text).hint("most hardwoods want 5 mm; check the unit");
    } else if let Some(size) = parts.outline.and_then(|outline| outline.value.least_size()) {
        let half = size / 2.0;
        if wall.value >= half {
            let text = format!(
                "the wall is {shown}; expected less than half of the outline's smaller size, {}, or no hollow is left",
                half.told(parts.units)
            );
            report.error("wall-too-thick", wall.at, text).hint("make the wall thinner or the outline larger");
        }
    }
    if let Some(round) = parts.rim_round.filter(|round| wall.value > Length::ZERO && round.value > wall.value) {
        let text = format!("the rim round is {}; expected at most the wall, {shown}", round.value.told(parts.units));
        report.error("rim-round-too-large", round.at, text).hint("make the round smaller or the wall thicker");
    }
}

fn check_heights(parts: &Parts, report: &mut Report) {
    let (Some(floor), Some(height)) = (parts.floor, parts.height) else { return };
    if floor.value >= height.value {
        let text = format!(
            "the floor is {} and the whole piece {} high; expected a floor thinner than the piece",
            floor.value.told(parts.units),
            height.value.told(parts.units)
        );
        report.error("floor-too-thick", floor.at, text).hint("make the floor thinner or the piece higher");
    }
}

fn check_foot(parts: &Parts, report: &mut Report) {
    if let (Some(Placed { value: FootSpec::Recess { depth, .. }, at }), Some(floor)) = (parts.foot, parts.floor)
        && depth >= floor.value
    {
        let text = format!(
            "the recess under the foot is {} deep and the floor {}; expected a recess shallower than the floor",
            depth.told(parts.units),
            floor.value.told(parts.units)
        );
        report.error("recess-too-deep", at, text).hint("1 to 1.5 mm is enough to keep a cupped foot from rocking");
    }
    let size = parts.outline.and_then(|outline| outline.value.least_size());
    let (Some(outside), Some(size)) = (&parts.outside, size) else { return };
    let half = size / 2.0;
    if let Some(foot_inset) = outside.value.foot_inset()
        && foot_inset >= half
    {
        let text = format!(
            "the foot lies {} inside the outline; expected less than half of the outline's smaller size, {}",
            foot_inset.told(parts.units),
            half.told(parts.units)
        );
        report.error("no-foot-left", outside.at, text).hint("draw the foot in less");
    }
}

fn check_cast_names(parts: &Parts, report: &mut Report) {
    for (n, name) in parts.names.iter().enumerate() {
        // Some disks do not tell capitals apart, and the names become part of file names.
        if parts.names[..n].iter().any(|before| before.value.eq_ignore_ascii_case(&name.value)) {
            let text = format!("two casts are named \"{}\"; expected a name of its own for each", name.value);
            report.error("duplicate-name", name.at, text).hint("rename one of them");
        }
        // Beside cast-NAME the pack holds cast-NAME-hollow and cast-NAME-poured.
        let taken = |other: &&Placed<String>| {
            ["-hollow", "-poured"].iter().any(|end| format!("{}{end}", other.value).eq_ignore_ascii_case(&name.value))
        };
        if let Some(other) = parts.names.iter().find(taken) {
            let text = format!(
                "the name \"{}\" is needed for a model of the cast \"{}\"; expected a name of its own for each",
                name.value, other.value
            );
            report.error("duplicate-name", name.at, text).hint("rename one of them");
        }
    }
    for pigment in parts.pigments.iter().filter(|pigment| pigment.value > MUCH_PIGMENT) {
        let text = format!("pigment of {} % of the mixed mass; above 3 % resin may stay soft", pigment.value * 100.0);
        report.warning("much-pigment", pigment.at, text).hint("stay at 1 to 2 %, or cure a trial cup first");
    }
}

fn check_casts(parts: &Parts, report: &mut Report) {
    let Some(height) = parts.height else { return };
    for cast in parts.casts.iter().flatten() {
        let Some(band) = cast.form.band() else {
            check_depth(cast, height, parts.units, report);
            continue;
        };
        if band.value >= height.value {
            let text = format!(
                "the ring of \"{}\" is {} high and the piece {}; expected a ring lower than the piece",
                cast.name.value,
                band.value.told(parts.units),
                height.value.told(parts.units)
            );
            report.error("band-too-high", band.at, text).hint("make the ring lower");
        } else if let CastForm::RimDrips { length, .. } = &cast.form
            && band.value + length.value[1] >= height.value
        {
            let text = format!(
                "the longest drip of \"{}\" ends {} below the rim and the piece is {} high; expected it to end above the foot",
                cast.name.value,
                (band.value + length.value[1]).told(parts.units),
                height.value.told(parts.units)
            );
            report.error("drip-too-long", length.at, text).hint("shorten the drips or lower the ring");
        }
    }
}

fn check_mark(parts: &Parts, report: &mut Report) {
    let Some(Placed { value: mark, at }) = parts.mark else { return };
    let told = |at: At| report.findings.iter().any(|f| f.at.is_some_and(|f| at.start <= f.start && f.start < at.end));
    match [mark.value("text").is_some(), mark.value("drawing").is_some()] {
        [true, true] => {
            let text = "`piece.mark` has both a text and a drawing; expected one of them";
            report.error("text-and-drawing", at, text).hint("take one of them out");
        }
        [false, false] if !at.is_some_and(told) => {
            let text = "`piece.mark` shows nothing; expected a text or a drawing";
            report
                .error("empty-mark", at, text)
                .hint("add `text = \"Alder 14\"`, or `drawing` with the name of an SVG file");
        }
        _ => (),
    }
}

/// What is carved from the rim must end within the piece.
fn check_depth(cast: &CastSpec, height: Placed<Length>, units: Units, report: &mut Report) {
    let depth = cast.form.depth();
    if depth.value >= height.value {
        let text = format!(
            "the hollow of \"{}\" is {} deep and the piece {} high; expected one that ends above the foot",
            cast.name.value,
            depth.value.told(units),
            height.value.told(units)
        );
        report.error("cast-too-deep", depth.at, text).hint("make it less deep");
    }
}

fn check_route(parts: &Parts, report: &mut Report) {
    if !parts.route.is_some_and(|route| route.value == RouteKind::OneSided) {
        return;
    }
    for at in parts.cast_places {
        let text = "a one-sided piece has no cast: this route does not pour resin yet; expected no [[cast]]";
        report.error("one-sided-cast", *at, text).hint("remove the cast, or set `kind = \"two-sided\"` in [route]");
    }
    if let Some(Placed { at, .. }) = parts.mark {
        let text =
            "a one-sided piece is never turned, and a mark under its foot cannot be engraved; expected no `mark`";
        report.error("one-sided-mark", at, text).hint("remove the mark, or set `kind = \"two-sided\"` in [route]");
    }
    if let Some(outside) = parts.outside.as_ref().filter(|o| o.value != OutsideSpec::Straight { draft_deg: 0.0 }) {
        let text = "cut from one side, the outside can only be upright; expected { kind = \"straight\", draft = 0 }";
        let hint = "make the outside upright, or set `kind = \"two-sided\"` in [route]";
        report.error("one-sided-outside", outside.at, text).hint(hint);
    }
}
