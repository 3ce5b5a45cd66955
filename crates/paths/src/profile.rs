//! Profile passes: along an edge, skim and spring.

use crate::moves::{Track, levels, opened};
use crate::{Move, Work};
use geom::{DVec2, Region, Ring};

/// The tip's axis starts this much farther out than the cutter's radius, mm: stock standing less proud is cleared.
pub const LEAD: f64 = 4.0;
/// Every round goes on past its beginning, mm.
const OVERLAP: f64 = 2.0;

/// What to cut along.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile<'a> {
    /// The finished edge seen from above, counter-clockwise around the part.
    pub edge: &'a Ring,
    /// Cutter diameter.
    pub diameter: f64,
    /// Stock left by each round in turn, the last usually 0: `[0.1, 0.0]` for a skim and a spring pass.
    pub leave: &'a [f64],
    /// Top.
    pub from_z: f64,
    /// Bottom.
    pub to_z: f64,
    /// Greatest step-down of the first round; later rounds go full depth in one.
    pub step_down: f64,
}

/// Around the outside of the part, entered from air beside it, all rounds in the same sense.
///
/// The stock may stand proud of the edge by less than [`LEAD`] where the rounds begin, the middle of the longest side.
pub fn profile(what: &Profile<'_>, work: &Work) -> Vec<Move> {
    let mut track = Track::new(work);
    for (k, leave) in what.leave.iter().enumerate() {
        let Some(round) = round(what, *leave, work) else { continue };
        let depths = if k == 0 { levels(what.from_z, what.to_z, what.step_down) } else { vec![what.to_z] };
        for z in depths {
            let lead = round.lead;
            track.hop(lead.x, lead.y, (what.from_z + work.approach).min(work.safe_z));
            track.plunge([lead.x, lead.y, z]);
            for p in &round.path {
                track.feed([p.x, p.y, z]);
            }
            track.feed([round.out.x, round.out.y, z]);
        }
    }
    track.finish()
}

/// One round: from `lead` along `path` to `out`.
struct Round {
    lead: DVec2,
    path: Vec<DVec2>,
    out: DVec2,
}

fn round(what: &Profile<'_>, leave: f64, work: &Work) -> Option<Round> {
    let r = what.diameter / 2.0;
    let edge = Region { rings: vec![what.edge.clone()] };
    // Chords of an outward offset lie inside its arcs: half the tolerance is added so that they do not enter the part.
    let half = 0.5 * work.tolerance;
    let outer = edge.offset(r + leave + half, half);
    let mut ring = outer.rings.into_iter().find(|ring| ring.area() > 0.0)?.0;
    let n = ring.len();
    let side = |i: usize| ring[i].distance(ring[(i + 1) % n]);
    let longest = (0..n).fold(0, |b, i| if side(i) > side(b) + 1e-9 { i } else { b });
    let (a, b) = (ring[longest], ring[(longest + 1) % n]);
    let begin = a.midpoint(b);
    // The part lies on the left of its outline: outwards is to the right.
    let outwards = -(b - a).perp().normalize_or_zero();
    ring.rotate_left((longest + 1) % n);
    ring.push(begin);
    if work.climb {
        // Clockwise, the part on the right of the cutter.
        ring.reverse();
    } else {
        ring.rotate_right(1);
    }
    let mut path = opened(&ring, 0);
    let onward = (path[1] - path[0]).normalize_or_zero() * OVERLAP.min(path[0].distance(path[1]));
    let end = begin + onward;
    path.push(end);
    let away = outwards * (LEAD - leave).max(1.0);
    Some(Round { lead: begin + away, path, out: end + away })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moves::tests::{WORK, check_frame, feeds};

    fn flange() -> Ring {
        Ring(vec![DVec2::new(-60.0, -50.0), DVec2::new(60.0, -50.0), DVec2::new(60.0, 50.0), DVec2::new(-60.0, 50.0)])
    }

    #[test]
    fn rounds_keep_their_distance_and_sense() {
        let edge = flange();
        for climb in [true, false] {
            let work = Work { climb, ..WORK };
            let what =
                Profile { edge: &edge, diameter: 6.0, leave: &[0.1, 0.0], from_z: 5.0, to_z: 0.5, step_down: 3.0 };
            let moves = profile(&what, &work);
            check_frame(&moves, &work);
            let mut turned = 0.0;
            for (a, b) in feeds(&moves, |a, b| a[2] == b[2]) {
                let (a, b) = (DVec2::new(a[0], a[1]), DVec2::new(b[0], b[1]));
                for k in 0..=50 {
                    let d = edge.distance(a.lerp(b, k as f64 / 50.0));
                    assert!(d >= 3.0 - 1e-5, "cuts {} into the part", 3.0 - d);
                }
                turned += a.perp_dot(b);
            }
            // Twice the area of three rounds, negative when clockwise.
            assert!(if climb { turned < -3.0 * 24000.0 } else { turned > 3.0 * 24000.0 }, "{climb}: {turned}");
            let last = feeds(&moves, |a, b| a[2] == 0.5 && b[2] == 0.5);
            let worst = last.iter().map(|(a, _)| edge.distance(DVec2::new(a[0], a[1]))).fold(f64::INFINITY, f64::min);
            assert!(worst < 3.0 + WORK.tolerance);
            for (a, b) in feeds(&moves, |a, b| a[2] > b[2]) {
                assert!(edge.distance(DVec2::new(a[0], a[1])) >= 3.0 + LEAD - 1e-6 && b[2] >= 0.5);
            }
        }
    }
}
