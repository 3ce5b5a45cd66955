//! The piece's section: the profiles of its outside and inside, made from what the job asks for.
//!
//! The inside is found from parallels: the centre of the fillet between wall and floor lies on the parallel of the
//! wall at the fillet's radius, at that radius above the floor; the wall's end and the fillet's beginning are then the
//! same point by construction. The round of the inner rim edge is found in the same way from the other side.

use crate::outside::{GREATEST_DRAFT_DEG, curve, outside};
use crate::profile::{Profile, Stretch};
use base::{Report, Units};
use geom::DVec2;
use job::{FootSpec, InsideSpec, PieceSpec, ProfilePoint};
use std::f64::consts::{FRAC_PI_2, PI};

/// Flat of the rim that must be left beside a round, mm. Common practice, no source.
const LEAST_RIM_FLAT: f64 = 0.5;
/// Depth of the hollow that makes a piece a vessel at all, mm.
const LEAST_DEPTH: f64 = 1.0;
/// Rounding that the wall's exact distance may show, mm.
const WALL_EPSILON: f64 = 1e-6;
/// Heights at which the inside is compared with the outside before distances are taken.
const LEVELS: u32 = 400;

/// Outside and inside of the piece in (d, z).
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// From the rim's outer edge down to the foot's edge.
    pub outside: Profile,
    /// From the rim's inner edge down to the edge of the floor.
    pub inside: Profile,
    /// z of the inside floor, mm.
    pub floor_z: f64,
    /// Depth and land of the foot's recess, mm.
    pub recess: Option<[f64; 2]>,
    /// Least wall along the normal, mm, the round of the rim's edge left out.
    pub least_wall: f64,
}

/// The section a job asks for. `None` if the report has errors.
pub fn section(spec: &PieceSpec, report: &mut Report) -> Option<Section> {
    let recess = foot(spec, report);
    let sizes_are_fine = check_sizes(spec, recess, report);
    let outside = outside(spec, report)?;
    if !sizes_are_fine {
        return None;
    }
    let floor_z = spec.floor.value.as_mm() + recess.map_or(0.0, |r| r[0]);
    let inside = inside(spec, &outside, floor_z, report)?;
    let least_wall = check_wall(spec, &outside, &inside, report)?;
    let inside = with_rim_round(spec, inside, report)?;
    Some(Section { outside, inside, floor_z, recess, least_wall })
}

fn foot(spec: &PieceSpec, report: &mut Report) -> Option<[f64; 2]> {
    let FootSpec::Recess { land, depth } = spec.foot.value else { return None };
    let (land, depth) = (land.as_mm(), depth.as_mm());
    if !(land > 0.0 && depth > 0.0) {
        let told = |size| spec.units.told(size);
        let usual = match spec.units {
            Units::Mm => "land 6 to 10 mm, depth 1 to 1.5 mm",
            Units::In => "land 1/4 to 3/8 in, depth 3/64 to 1/16 in",
        };
        let text = format!("a recess {} deep inside a land of {} is no foot", told(depth), told(land));
        report
            .error("foot-size", spec.foot.at, text)
            .hint(format!("give land and depth above 0 (usual: {usual}), or leave the foot flat"));
    }
    Some([depth, land])
}

fn check_sizes(spec: &PieceSpec, recess: Option<[f64; 2]>, report: &mut Report) -> bool {
    let mut fine = true;
    for (name, size) in [("height", &spec.height), ("wall", &spec.wall), ("floor", &spec.floor)] {
        if !(size.value.as_mm() > 0.0 && size.value.as_mm().is_finite()) {
            let text = format!("the {name} is {}, and it must be above 0", size.value.told(spec.units));
            report.error("piece-size", size.at, text).hint(format!("give the {name} a size above 0"));
            fine = false;
        }
    }
    for (name, size) in [("floor_radius", &spec.floor_radius), ("rim_round", &spec.rim_round)] {
        if !(size.value.as_mm() >= 0.0 && size.value.as_mm().is_finite()) {
            let text = format!("{name} is {}, and it must be 0 or more", size.value.told(spec.units));
            report.error("piece-size", size.at, text).hint("give a radius of 0 or more");
            fine = false;
        }
    }
    let floor_z = spec.floor.value.as_mm() + recess.map_or(0.0, |r| r[0]);
    let height = spec.height.value.as_mm();
    if fine && floor_z > height - LEAST_DEPTH {
        let told = |size| spec.units.told(size);
        let text = format!(
            "the floor lies {} above the foot plane, so a height of {} leaves no hollow",
            told(floor_z),
            told(height)
        );
        let hint =
            format!("make the height at least {}, or floor and recess lower", spec.units.up(floor_z + LEAST_DEPTH));
        report.error("no-hollow", spec.floor.at, text).hint(hint);
        fine = false;
    }
    fine
}

/// The inside profile with its fillet, without the round of the rim.
fn inside(spec: &PieceSpec, outside: &Profile, floor_z: f64, report: &mut Report) -> Option<Profile> {
    let height = spec.height.value.as_mm();
    let wall = spec.wall.value.as_mm();
    let Some(follow) = outside.parallel(wall).and_then(|p| p.below(height)) else {
        let text = format!(
            "a wall of {} is thicker than the outside's curve allows: nothing is left inside",
            spec.units.told(wall)
        );
        report.error("wall-too-thick", spec.wall.at, text).hint("make the wall thinner, or the outside less round");
        return None;
    };
    let skin = match &spec.inside.value {
        InsideSpec::Follow => follow,
        InsideSpec::Points { points } => own_inside(spec, points, floor_z, report)?,
        &InsideSpec::Straight { draft_deg } => {
            if !(0.0..=GREATEST_DRAFT_DEG).contains(&draft_deg) {
                let text = format!("an inside draft of {draft_deg}° is outside 0° to {GREATEST_DRAFT_DEG}°");
                report
                    .error("inside-draft", spec.inside.at, text)
                    .hint("choose a draft of 0° or more: a vertical cutter cannot reach under a wall");
                return None;
            }
            straight_inside(follow.top(), draft_deg, floor_z)
        }
    };
    let fillet = spec.floor_radius.value.as_mm();
    let made = with_fillet(&skin, fillet, height, floor_z);
    if made.is_none() {
        let text = format!(
            "a fillet of {} between wall and floor does not fit: the hollow is {} deep",
            spec.units.told(fillet),
            spec.units.down(height - floor_z)
        );
        let greatest = greatest_that(height, |r| with_fillet(&skin, r, height, floor_z).is_some());
        let hint = match greatest {
            Some(r) => format!("choose a floor radius up to {}", spec.units.down(r)),
            None => "the wall does not come down to the floor: raise the floor, or draw the foot in less".to_owned(),
        };
        report.error("floor-radius", spec.floor_radius.at, text).hint(hint);
    }
    made
}

/// The maker's own curve, from the rim's inner edge down.
fn own_inside(spec: &PieceSpec, points: &[ProfilePoint], floor_z: f64, report: &mut Report) -> Option<Profile> {
    let (height, units) = (spec.height.value, spec.units);
    if let Some(first) = points.first().filter(|p| p.height.value != height) {
        let text = format!(
            "the inside begins {} up, and the rim lies {} up",
            units.told(first.height.value.as_mm()),
            units.told(height.as_mm())
        );
        report.error("inside-profile", first.height.at, text).hint("begin with the rim's inner edge");
        return None;
    }
    // What lies below the floor is not made, however it bends.
    let whole = curve(points, spec.inside.at, "inside-profile", units, report)?;
    if whole.bottom().y < floor_z { whole.above(floor_z) } else { Some(whole) }
}

fn straight_inside(rim: DVec2, draft_deg: f64, floor_z: f64) -> Profile {
    let across = (rim.y - floor_z) * draft_deg.to_radians().tan();
    Profile { stretches: vec![Stretch::Line { from: rim, to: DVec2::new(rim.x + across, floor_z) }] }
}

/// The skin cut off where a fillet of radius `r` touches it and the floor plane, and the fillet.
fn with_fillet(skin: &Profile, r: f64, height: f64, floor_z: f64) -> Option<Profile> {
    let centres = skin.parallel(r)?.down_to(floor_z + r)?;
    let centre = centres.bottom();
    if (centre.y - floor_z - r).abs() > 1e-7 {
        return None;
    }
    let mut inside = centres.parallel(-r)?.below(height)?;
    if r > 0.0 {
        let last = centres.stretches.last()?;
        let toward_wall = -last.heading(1.0).perp();
        let from = toward_wall.y.atan2(toward_wall.x).rem_euclid(2.0 * PI);
        if from < 1.5 * PI - 1e-9 {
            inside.stretches.push(Stretch::Arc { centre, radius: r, from, to: 1.5 * PI });
        }
    }
    Some(inside)
}

/// Checks the wall along the normal and returns its least value.
fn check_wall(spec: &PieceSpec, outside: &Profile, inside: &Profile, report: &mut Report) -> Option<f64> {
    let asked = spec.wall.value.as_mm();
    let (least, at) = wall(outside, inside);
    if least >= asked - WALL_EPSILON {
        return Some(least);
    }
    let text = format!(
        "the wall is {} along its normal {} above the foot plane, and {} is asked for",
        spec.units.fine(round_down(least)),
        spec.units.near(at.y),
        spec.units.told(asked)
    );
    let hint = match spec.inside.value {
        InsideSpec::Points { .. } => "move the points nearest to it farther in".to_owned(),
        InsideSpec::Follow => "make the floor thicker or the outside less round".to_owned(),
        InsideSpec::Straight { .. } => least_draft_hint(spec, outside, inside),
    };
    report.error("thin-wall", spec.inside.at.or(spec.wall.at), text).hint(hint);
    None
}

/// The least inside draft that keeps the wall, to 0.1° and rounded up.
fn least_draft_hint(spec: &PieceSpec, outside: &Profile, inside: &Profile) -> String {
    let (asked, floor_z) = (spec.wall.value.as_mm(), inside.bottom().y);
    let keeps = |draft_deg: f64| {
        let skin = straight_inside(inside.top(), draft_deg, floor_z);
        let made = with_fillet(&skin, spec.floor_radius.value.as_mm(), inside.top().y, floor_z);
        made.is_some_and(|p| wall(outside, &p).0 >= asked - WALL_EPSILON)
    };
    let tenths = (0..=(10.0 * GREATEST_DRAFT_DEG) as u32).map(|k| f64::from(k) / 10.0);
    match tenths.into_iter().find(|&d| keeps(d)) {
        Some(draft) => format!("choose an inside draft of at least {draft:.1}°, or let the inside follow the outside"),
        None => "no draft keeps this wall: let the inside follow the outside".to_owned(),
    }
}

/// Least distance of the inside from the outside, and where on the inside; 0 where they cross.
fn wall(outside: &Profile, inside: &Profile) -> (f64, DVec2) {
    match inside.lies_inside(outside, LEVELS) {
        Ok(()) => inside.least_distance(outside),
        Err(at) => (0.0, at),
    }
}

/// The inside with its rim edge rounded.
fn with_rim_round(spec: &PieceSpec, inside: Profile, report: &mut Report) -> Option<Profile> {
    let (r, height) = (spec.rim_round.value.as_mm(), spec.height.value.as_mm());
    if r == 0.0 {
        return Some(inside);
    }
    let made = rounded_rim(&inside, r, height);
    if made.is_none() {
        let text = format!(
            "the rim is {} wide and cannot take a round of {}",
            spec.units.down(inside.top().x),
            spec.units.told(r)
        );
        let greatest = greatest_that(height, |r| r == 0.0 || rounded_rim(&inside, r, height).is_some());
        let hint = format!(
            "choose a rim round up to {} (a flat of {} must be left)",
            spec.units.down(greatest.unwrap_or(0.0)),
            spec.units.fine(LEAST_RIM_FLAT)
        );
        report.error("rim-round", spec.rim_round.at, text).hint(hint);
    }
    made
}

fn rounded_rim(inside: &Profile, r: f64, height: f64) -> Option<Profile> {
    // The fillet at the floor must stay whole: only the wall above it may give way to the round.
    let centres = inside.parallel(-r)?.below(height - r)?;
    let centre = centres.top();
    if (centre.y - (height - r)).abs() > 1e-7 || centre.x < LEAST_RIM_FLAT {
        return None;
    }
    let toward_hollow = centres.stretches.first()?.heading(0.0).perp();
    let round = Stretch::Arc { centre, radius: r, from: FRAC_PI_2, to: toward_hollow.y.atan2(toward_hollow.x) };
    let mut stretches = vec![round];
    stretches.extend(centres.parallel(r)?.stretches);
    Some(Profile { stretches })
}

/// The greatest radius up to `most` that fits, by bisection (what fits at r is taken to fit below r too).
fn greatest_that(most: f64, fits: impl Fn(f64) -> bool) -> Option<f64> {
    if !fits(0.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, most);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if fits(middle) { low = middle } else { high = middle }
    }
    Some(low)
}

/// To 0.01 mm, downwards: what is too thin must not look right.
fn round_down(x: f64) -> f64 {
    (x * 100.0 + 1e-6).floor() / 100.0
}
