//! The outside's profile, family by family: from the rim's outer edge (inset 0, height H) down to the foot's edge.

use crate::profile::{Profile, Stretch};
use crate::smooth::{Through, smooth};
use base::{At, Report, Units};
use geom::DVec2;
use job::{OutsideSpec, PieceSpec, ProfilePoint};
use std::f64::consts::PI;

/// Where the two arcs of an ogee meet, as fractions of the foot's inset and of the height. Common practice, no source.
const OGEE_JOIN: DVec2 = DVec2::new(0.15, 0.6);
/// Where the two arcs of a bell meet. Common practice, no source.
const BELL_JOIN: DVec2 = DVec2::new(0.6, 0.4);
/// Steepest draft that is still a wall, degrees from upright. Common practice, no source.
pub(crate) const GREATEST_DRAFT_DEG: f64 = 60.0;
/// A drawn-in foot below this is upright, mm.
const UPRIGHT: f64 = 1e-6;

/// What cannot be, and what to do.
type Refusal = (String, String);

/// The outside profile; insets never decrease towards the foot.
pub(crate) fn outside(spec: &PieceSpec, report: &mut Report) -> Option<Profile> {
    let (height, units) = (spec.height.value.as_mm(), spec.units);
    let made = match &spec.outside.value {
        OutsideSpec::Straight { draft_deg } => straight(*draft_deg, height),
        OutsideSpec::Round { foot_inset } => round(foot_inset.as_mm(), height, units),
        OutsideSpec::Ogee { foot_inset } => two_arcs("an ogee", OGEE_JOIN, foot_inset.as_mm(), height, units),
        OutsideSpec::Bell { foot_inset } => two_arcs("a bell", BELL_JOIN, foot_inset.as_mm(), height, units),
        OutsideSpec::Flared { foot_inset } => flared(foot_inset.as_mm(), height, units),
        OutsideSpec::Footed { foot_inset, foot_height, cove } => {
            footed([foot_inset, foot_height, cove].map(|l| l.as_mm()), height, units)
        }
        OutsideSpec::Points { points } => return through(spec, points, report),
    };
    match made {
        Ok(profile) => Some(profile),
        Err((text, hint)) => {
            report.error("outside-profile", spec.outside.at, text).hint(hint);
            None
        }
    }
}

fn straight(draft_deg: f64, height: f64) -> Result<Profile, Refusal> {
    if !(0.0..=GREATEST_DRAFT_DEG).contains(&draft_deg) {
        return Err((
            format!("an outside draft of {draft_deg}° is outside 0° to {GREATEST_DRAFT_DEG}°"),
            "choose a draft from 0° (upright) upwards; the wall leans in towards the foot".to_owned(),
        ));
    }
    let foot = DVec2::new(height * draft_deg.to_radians().tan(), 0.0);
    Ok(Profile { stretches: vec![Stretch::Line { from: DVec2::new(0.0, height), to: foot }] })
}

/// One arc, upright at the rim: `ρ = (d_f² + H²) / (2 d_f)` from `(ρ − d_f)² + H² = ρ²`.
fn round(foot_inset: f64, height: f64, units: Units) -> Result<Profile, Refusal> {
    if !(0.0..=height).contains(&foot_inset) {
        return Err((
            format!(
                "one arc, upright at the rim, cannot draw the foot in by {} over a height of {}",
                units.told(foot_inset),
                units.told(height)
            ),
            format!("choose a foot inset from 0 to the height, {}", units.told(height)),
        ));
    }
    if foot_inset < UPRIGHT {
        return straight(0.0, height);
    }
    Ok(Profile { stretches: vec![round_arc(DVec2::new(0.0, height), DVec2::new(foot_inset, 0.0))] })
}

/// The arc that is upright at its upper end and runs in to its lower end.
fn round_arc(top: DVec2, bottom: DVec2) -> Stretch {
    let (across, fall) = (bottom.x - top.x, top.y - bottom.y);
    let radius = (across * across + fall * fall) / (2.0 * across);
    let sweep = fall.atan2(radius - across);
    Stretch::Arc { centre: top + DVec2::new(radius, 0.0), radius, from: PI, to: PI + sweep }
}

/// The arc that leans out at its upper end and is upright at its lower: the other kind turned over.
fn hollow_arc(top: DVec2, bottom: DVec2) -> Stretch {
    let (across, rise) = (bottom.x - top.x, top.y - bottom.y);
    let radius = (across * across + rise * rise) / (2.0 * across);
    let lean = rise.atan2(radius - across);
    Stretch::Arc { centre: bottom - DVec2::new(radius, 0.0), radius, from: lean, to: 0.0 }
}

/// Two arcs that meet upright at `join` (fractions of inset and height): hollow above it, so that the rim leans out,
/// round below.
fn two_arcs(name: &str, join: DVec2, foot_inset: f64, height: f64, units: Units) -> Result<Profile, Refusal> {
    // Neither arc may run beyond level.
    let greatest = height * (join.y / (1.0 - join.x)).min((1.0 - join.y) / join.x);
    if !(foot_inset > UPRIGHT && foot_inset <= greatest) {
        return Err((
            format!("{name} {} high cannot draw the foot in by {}", units.told(height), units.told(foot_inset)),
            format!("choose a foot inset above 0 and up to {}, or another profile", units.down(greatest)),
        ));
    }
    let join = join * DVec2::new(foot_inset, height);
    let upper = hollow_arc(DVec2::new(0.0, height), join);
    Ok(Profile { stretches: vec![upper, round_arc(join, DVec2::new(foot_inset, 0.0))] })
}

fn flared(foot_inset: f64, height: f64, units: Units) -> Result<Profile, Refusal> {
    if !(foot_inset > UPRIGHT && foot_inset <= height) {
        return Err((
            format!(
                "a flare {} high cannot draw the foot in by {}: its rim would lie level",
                units.told(height),
                units.told(foot_inset)
            ),
            format!("choose a foot inset above 0 and up to the height, {}", units.told(height)),
        ));
    }
    Ok(Profile { stretches: vec![hollow_arc(DVec2::new(0.0, height), DVec2::new(foot_inset, 0.0))] })
}

/// A round body, a cove that touches it and the foot's upright wall, and that wall.
fn footed([foot_inset, foot_height, cove]: [f64; 3], height: f64, units: Units) -> Result<Profile, Refusal> {
    let rim = DVec2::new(0.0, height);
    if !(foot_height > 0.0 && foot_height < height && foot_inset > UPRIGHT && foot_inset <= height - foot_height) {
        return Err((
            format!(
                "a foot {} high cannot stand {} inside the outline of a piece {} high",
                units.told(foot_height),
                units.told(foot_inset),
                units.told(height)
            ),
            format!(
                "choose a foot lower than the piece, and a foot inset of at most what is above it, {}",
                units.down((height - foot_height).max(0.0))
            ),
        ));
    }
    let body = round_arc(rim, DVec2::new(foot_inset, foot_height));
    let Stretch::Arc { centre, radius, .. } = body else { return straight(0.0, height) };
    // The cove's centre lies its radius outside of the wall and of the body.
    let x = foot_inset - cove;
    let drop = ((radius + cove).powi(2) - (x - centre.x).powi(2)).max(0.0).sqrt();
    let middle = DVec2::new(x, centre.y - drop);
    let toward_body = (centre - middle).to_angle();
    if !(cove > 0.0 && x > 0.0 && middle.y >= 0.0 && (0.0..PI / 2.0).contains(&toward_body)) {
        let told = units.told(cove);
        return Err((
            format!("a cove of {told} does not fit between the body and a foot {} high", units.told(foot_height)),
            "make the cove smaller, or the foot higher".to_owned(),
        ));
    }
    let touch = (middle - centre).to_angle().rem_euclid(2.0 * PI);
    let mut stretches = vec![
        Stretch::Arc { centre, radius, from: PI, to: touch },
        Stretch::Arc { centre: middle, radius: cove, from: toward_body, to: 0.0 },
    ];
    if middle.y > 0.0 {
        stretches.push(Stretch::Line { from: DVec2::new(foot_inset, middle.y), to: DVec2::new(foot_inset, 0.0) });
    }
    Ok(Profile { stretches })
}

/// The smooth curve through the maker's points; the rim's edge is its first point, also where it is not given.
fn through(spec: &PieceSpec, points: &[ProfilePoint], report: &mut Report) -> Option<Profile> {
    let (height, units) = (spec.height.value, spec.units);
    let mut list = points.to_vec();
    if let Some(first) = points.first().filter(|p| p.height.value < height) {
        let rim = ProfilePoint { inset: job::Placed::default(), height: spec.height, slope_deg: None };
        list.insert(0, ProfilePoint { inset: job::Placed { value: base::mm(0.0), at: first.inset.at }, ..rim });
    } else if let Some(first) = points.first().filter(|p| p.inset.value > base::mm(0.0)) {
        let text = format!(
            "at the rim, {} up, the outside lies {} inside the outline, and the outline is the rim's",
            units.told(height.as_mm()),
            units.told(first.inset.value.as_mm())
        );
        report.error("outside-profile", first.inset.at, text).hint("begin with an inset of 0, or below the rim");
        return None;
    }
    if let Some(last) = points.last().filter(|p| p.height.value > base::mm(0.0)) {
        let text = format!("the outside ends {} above the foot plane", units.told(last.height.value.as_mm()));
        report.error("outside-profile", last.height.at, text).hint("end with a point of height 0, the foot's edge");
        return None;
    }
    curve(&list, spec.outside.at, "outside-profile", units, report)
}

/// The smooth curve through points that run down and in.
pub(crate) fn curve(
    points: &[ProfilePoint],
    at: Option<At>,
    code: &'static str,
    units: Units,
    report: &mut Report,
) -> Option<Profile> {
    if points.len() < 2 {
        report.error(code, at, "a profile of less than two points").hint("give the points from the rim downwards");
        return None;
    }
    for pair in points.windows(2) {
        let [inset, height] = [pair[1].inset, pair[1].height];
        if height.value >= pair[0].height.value || inset.value < pair[0].inset.value {
            let text = format!(
                "the point {} inside the outline and {} up does not lie below and inside the one before it",
                units.told(inset.value.as_mm()),
                units.told(height.value.as_mm())
            );
            let hint = "give the points from the rim downwards; a vertical cutter reaches no wall that runs out again";
            report.error(code, inset.at.or(at), text).hint(hint);
            return None;
        }
    }
    let heading = |deg: f64| DVec2::from_angle(-deg.to_radians());
    let list: Vec<Through> = points
        .iter()
        .map(|p| Through {
            point: DVec2::new(p.inset.value.as_mm(), p.height.value.as_mm()),
            heading: p.slope_deg.map(heading),
        })
        .collect();
    match smooth(&list) {
        Ok(profile) => Some(profile),
        Err(k) => {
            let [above, below] = [k, k + 1].map(|k| units.told(list[k].point.y));
            let text = format!("between {above} and {below} up no smooth curve runs down and in at the slopes there");
            let hint = "give a slope nearer to the line between the two points, or a point between them";
            report.error(code, points[k + 1].inset.at.or(at), text).hint(hint);
            None
        }
    }
}
