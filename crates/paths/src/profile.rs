//! Profile passes: along an edge, skim and spring.

use crate::moves::{Track, levels, opened};
use crate::{Move, Work};
use geom::{DVec2, Region, Ring};

/// The tip's axis starts this much farther out than the cutter's radius, mm: stock standing less proud is cleared.
pub const LEAD: f64 = 4.0;
/// Every round goes on past its beginning, mm.
const OVERLAP: f64 = 2.0;

/// Beside a tab the tip goes down so much farther out than it cuts, mm: roughing has left less than that standing.
const ASIDE: f64 = 0.8;

/// What must stay across the way: a box from below up to a height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tab {
    /// Seen from above, least corner.
    pub min: DVec2,
    /// Greatest corner.
    pub max: DVec2,
    /// Its top.
    pub top_z: f64,
}

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
    /// What is passed over.
    pub tabs: &'a [Tab],
}

/// Around the outside of the part, entered from air beside it, all rounds in the same sense.
///
/// Tabs are passed over at their height, straight up before them, and straight down behind them where roughing has made room.
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
            follow(&mut track, what, (&round.path, *leave, z), work);
            track.feed([round.out.x, round.out.y, z]);
        }
    }
    track.finish()
}

/// Along a path at a height, over the tabs that are higher.
fn follow(track: &mut Track<'_>, what: &Profile<'_>, (path, leave, z): (&[DVec2], f64, f64), work: &Work) {
    let boxes: Vec<Tab> = what.tabs.iter().filter(|t| t.top_z > z).map(|t| t.grown(what.diameter / 2.0)).collect();
    let mut over = None;
    track.feed([path[0].x, path[0].y, z]);
    for pair in path.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let mut cuts: Vec<f64> =
            boxes.iter().filter_map(|t| t.crossed(a, b)).flatten().filter(|t| *t > 0.0 && *t < 1.0).collect();
        cuts.push(1.0);
        cuts.sort_by(f64::total_cmp);
        let mut from = 0.0;
        for to in cuts {
            let (p, q) = (a.lerp(b, from), a.lerp(b, to));
            let middle = p.midpoint(q);
            let now = boxes.iter().filter(|t| t.holds(middle)).map(|t| t.top_z).reduce(f64::max);
            if now != over {
                // Away from the part, which lies to the right in climb.
                let left = (b - a).perp().normalize_or_zero();
                let out = p + (if work.climb { left } else { -left }) * (leave + ASIDE);
                match (over, now) {
                    (Some(top), None) => {
                        track.feed([out.x, out.y, top]);
                        track.plunge([out.x, out.y, z]);
                        track.feed([p.x, p.y, z]);
                    }
                    (_, Some(top)) => track.feed([p.x, p.y, top]),
                    (None, None) => {}
                }
                over = now;
            }
            track.feed([q.x, q.y, over.unwrap_or(z)]);
            from = to;
        }
    }
}

impl Tab {
    fn grown(&self, by: f64) -> Self {
        Self { min: self.min - DVec2::splat(by), max: self.max + DVec2::splat(by), ..*self }
    }

    fn holds(&self, p: DVec2) -> bool {
        p.cmpge(self.min).all() && p.cmple(self.max).all()
    }

    /// Where the straight way from `a` to `b` enters and leaves it, as shares of the way.
    fn crossed(&self, a: DVec2, b: DVec2) -> Option<[f64; 2]> {
        let (mut enter, mut leave) = (f64::NEG_INFINITY, f64::INFINITY);
        for k in 0..2 {
            let (from, along, lo, hi) = (a[k], b[k] - a[k], self.min[k], self.max[k]);
            if along == 0.0 {
                if from < lo || from > hi {
                    return None;
                }
                continue;
            }
            let (s, t) = ((lo - from) / along, (hi - from) / along);
            (enter, leave) = (enter.max(s.min(t)), leave.min(s.max(t)));
        }
        (enter < leave).then_some([enter, leave])
    }
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
    // It begins clear of the tabs.
    let clear = |i: usize| {
        let p = ring[i].midpoint(ring[(i + 1) % n]);
        what.tabs.iter().all(|t| !t.grown(2.0 * what.diameter).holds(p))
    };
    let better = |i: usize, b: usize| (clear(i), side(i) - 1e-9) > (clear(b), side(b));
    let longest = (0..n).fold(0, |b, i| if better(i, b) { i } else { b });
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
            let what = Profile {
                edge: &edge,
                diameter: 6.0,
                leave: &[0.1, 0.0],
                from_z: 5.0,
                to_z: 0.5,
                step_down: 3.0,
                tabs: &[],
            };
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

    /// In either sense: the cutter never enters a tab, is down everywhere else, and goes down only off the wall.
    #[test]
    fn tabs_are_passed_over_and_all_else_is_cut_down() {
        let edge = flange();
        let tab = |x: f64, y: f64| Tab {
            min: DVec2::new(x.min(x * 1.3), y - 4.0),
            max: DVec2::new(x.max(x * 1.3), y + 4.0),
            top_z: 3.0,
        };
        let tabs = [tab(60.0, -20.0), tab(60.0, 15.0), tab(-60.0, 15.0)];
        for climb in [true, false] {
            let work = Work { climb, ..WORK };
            let what = Profile {
                edge: &edge,
                diameter: 6.0,
                leave: &[0.1, 0.0],
                from_z: 9.0,
                to_z: 0.5,
                step_down: 3.0,
                tabs: &tabs,
            };
            let moves = profile(&what, &work);
            check_frame(&moves, &work);
            let mut cut = vec![false; 440];
            for (a, b) in feeds(&moves, |_, _| true) {
                let (a, b) = (geom::DVec3::from_array(a), geom::DVec3::from_array(b));
                for k in 0..=100 {
                    let p = a.lerp(b, f64::from(k) / 100.0);
                    let plan = p.truncate();
                    assert!(edge.distance(plan) >= 3.0 - 1e-5 || edge_outside(plan), "enters the part at {p}");
                    for t in &tabs {
                        let near = plan.clamp(t.min, t.max).distance(plan) < 3.0 - 1e-6;
                        assert!(!near || p.z >= t.top_z - 1e-9, "{climb}: enters a tab at {p}");
                    }
                    let beside = edge.distance(plan) < 3.0 + 0.05;
                    if p.z <= 0.5 + 1e-9 && beside && (plan.x.abs() < 60.0 || plan.y.abs() < 50.0) {
                        cut[place(plan)] = true;
                    }
                }
                if b.z < a.z - 1e-9 && a.truncate().distance(b.truncate()) < 1e-9 && a.z <= 3.0 + 1e-9 && a.z < 9.0 {
                    assert!(edge.distance(a.truncate()) >= 3.0 + ASIDE - 1e-6, "goes down at the wall at {a}");
                }
            }
            // Per millimetre of the edge, but where a tab and the cutter's radius beside it are.
            let missing = (0..440).filter(|&k| !cut[k]).count();
            assert!((3 * 14 - 6..=3 * 14 + 6 + 24).contains(&missing), "{climb}: {missing} mm are not cut down");
        }
    }

    fn edge_outside(p: DVec2) -> bool {
        p.x.abs() > 60.0 || p.y.abs() > 50.0
    }

    /// The place along the edge in mm, corners as they come.
    fn place(p: DVec2) -> usize {
        let q = p.clamp(DVec2::new(-60.0, -50.0), DVec2::new(60.0, 50.0));
        let along = if q.y <= -50.0 {
            q.x + 60.0
        } else if q.x >= 60.0 {
            120.0 + q.y + 50.0
        } else if q.y >= 50.0 {
            220.0 + 60.0 - q.x
        } else {
            340.0 + 50.0 - q.y
        };
        (along as usize).min(439)
    }
}
