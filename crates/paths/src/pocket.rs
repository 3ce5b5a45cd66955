//! Flat-bottomed pockets: depth witnesses, notches.

use crate::entry::{entry_circle, ramp};
use crate::moves::{Track, levels, opened};
use crate::{Move, Work};
use geom::{DVec2, Region, Ring};

/// Rings shorter than this are points the cutter just fits into: left out, mm.
const LEAST: f64 = 0.05;

/// What to cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Pocket<'a> {
    /// The pocket seen from above.
    pub region: &'a Region,
    /// Top of the stock.
    pub from_z: f64,
    /// Bottom.
    pub to_z: f64,
    /// Greatest step-down.
    pub step_down: f64,
    /// Stepover, fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Ramps in, clears from the middle outwards, ends with a round along the wall.
///
/// Corners sharper than the cutter stay round; parts narrower than it are left out.
pub fn pocket(what: &Pocket<'_>, work: &Work) -> Vec<Move> {
    let mut track = Track::new(work);
    let r = what.diameter / 2.0;
    let chord = work.tolerance.max(1e-4);
    // The chords of the inward offset lie on the near side of the wall, so the cutter never enters it.
    let reachable = what.region.offset(-r, chord);
    for part in reachable.parts() {
        let rounds = rounds(&part, what.stepover * what.diameter, work);
        let mut above = what.from_z;
        for z in levels(what.from_z, what.to_z, what.step_down) {
            cut_level(&mut track, (&part, &rounds), (above, z), what, work);
            above = z;
        }
    }
    track.finish()
}

/// Rings from the innermost outwards, in the sense of the cut.
pub(crate) fn rounds(part: &Region, step: f64, work: &Work) -> Vec<Vec<DVec2>> {
    let mut rings: Vec<Ring> = Vec::new();
    let mut now = part.clone();
    while !now.rings.is_empty() && step > 0.0 {
        rings.extend(now.rings.iter().cloned());
        let inner = now.offset(-step, work.tolerance.max(1e-3));
        now = inner.thinned(work.tolerance);
    }
    rings.reverse();
    rings
        .into_iter()
        .filter(|r| r.perimeter() > LEAST)
        .map(|mut r| {
            if !work.climb {
                r.0.reverse();
            }
            r.0
        })
        .collect()
}

/// One level: ramps down where the first ring begins, links to the next ring if the straight way lies in the pocket.
fn cut_level(
    track: &mut Track<'_>,
    (part, rounds): (&Region, &[Vec<DVec2>]),
    (above, z): (f64, f64),
    what: &Pocket<'_>,
    work: &Work,
) {
    let mut fresh = true;
    let inside = |points: &[DVec2]| points.iter().all(|&p| part.contains(p));
    for ring in rounds {
        let at = track.at().map(|p| DVec2::new(p[0], p[1]));
        let nearest =
            |p: DVec2| (0..ring.len()).fold(0, |b, i| if ring[i].distance(p) < ring[b].distance(p) { i } else { b });
        let path = opened(ring, at.map_or(0, nearest));
        let linked = !fresh && at.is_some_and(|p| p.distance(path[0]) <= 1.5 * what.stepover * what.diameter);
        let mut round = path.clone();
        if linked {
            track.feed([path[0].x, path[0].y, z]);
        } else {
            let circle = entry_circle(ring, what.diameter, !work.climb, inside);
            let entry = circle.as_ref().unwrap_or(&path);
            track.hop(entry[0].x, entry[0].y, (what.from_z + work.approach).min(work.safe_z));
            track.plunge([entry[0].x, entry[0].y, above]);
            let rest = ramp(track, entry, true, z, work.ramp_deg);
            if circle.is_some() {
                round.splice(0..0, rest);
            } else {
                round = rest;
            }
        }
        for p in round {
            track.feed([p.x, p.y, z]);
        }
        fresh = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moves::tests::{WORK, check_frame, feeds};
    use geom::distance::point_segment;

    #[test]
    fn a_square_witness_is_cleared_and_its_walls_are_kept() {
        let region = Region::rectangle(DVec2::new(10.0, 10.0), DVec2::new(22.0, 22.0));
        let what = Pocket { region: &region, from_z: 0.0, to_z: -8.0, step_down: 3.0, stepover: 0.42, diameter: 6.0 };
        let moves = pocket(&what, &WORK);
        check_frame(&moves, &WORK);
        let reach = Region::rectangle(DVec2::new(13.0, 13.0), DVec2::new(19.0, 19.0));
        for (a, b) in feeds(&moves, |_, b| b[2] < 0.0) {
            for p in [a, b] {
                let p = DVec2::new(p[0], p[1]);
                assert!(reach.contains(p) || reach.distance(p) < 2e-6, "{p} leaves the pocket");
            }
            let run = (b[0] - a[0]).hypot(b[1] - a[1]);
            // Straight down only from the approach height to what the level before has cleared.
            let cleared = a[2] == 2.0 && (b[2] == 0.0 || b[2] > -8.0);
            assert!(
                cleared || a[2] - b[2] <= run * 3.0_f64.to_radians().tan() + 1e-9,
                "steeper than the ramp: {a:?} {b:?}"
            );
        }
        let floor = feeds(&moves, |a, b| a[2] == -8.0 && b[2] == -8.0);
        for i in 0..=60 {
            for j in 0..=60 {
                let p = DVec2::new(10.0 + 0.2 * i as f64, 10.0 + 0.2 * j as f64);
                // Reached by a disc inside the square?
                let nearest = p.clamp(DVec2::splat(13.0), DVec2::splat(19.0));
                if p.distance(nearest) < 2.99 {
                    let flat = |q: [f64; 3]| DVec2::new(q[0], q[1]).extend(0.0);
                    let near = floor.iter().any(|(a, b)| point_segment(p.extend(0.0), flat(*a), flat(*b)) <= 3.0);
                    assert!(near, "{p} stays standing");
                }
            }
        }
    }

    #[test]
    fn a_pocket_narrower_than_the_cutter_is_left() {
        let region = Region::rectangle(DVec2::ZERO, DVec2::new(5.0, 40.0));
        let what = Pocket { region: &region, from_z: 0.0, to_z: -2.0, step_down: 3.0, stepover: 0.42, diameter: 6.0 };
        assert!(pocket(&what, &WORK).is_empty());
    }
}
