//! Going down into material along the path that will be cut there, at the work's ramp angle.

use crate::moves::{Track, opened};
use geom::DVec2;

/// A way round that is shorter than this, in radii of the cutter, is rather drilling: no ramp goes down along it.
pub(crate) const LEAST_ROUND: f64 = 1.6;

/// Goes down from where the tip is to `z` along `path` (which begins under the tip), to and fro or round and round, and
/// ends on a point of the path. Returns the path still to be cut at `z` from there: all of it.
pub(crate) fn ramp(track: &mut Track<'_>, path: &[DVec2], closed: bool, z: f64, ramp_deg: f64) -> Vec<DVec2> {
    let fall = ramp_deg.clamp(0.5, 45.0).to_radians().tan();
    let Some(mut at) = track.at() else { return path.to_vec() };
    let total: f64 = path.windows(2).map(|p| p[0].distance(p[1])).sum();
    if total < 1e-6 || path.len() < 2 || at[2] <= z {
        track.plunge([at[0], at[1], z]);
        return path.to_vec();
    }
    let n = path.len() - 1;
    let (mut i, mut forward) = (0_usize, true);
    loop {
        let next = if forward { i + 1 } else { i - 1 };
        let q = path[next];
        let here = DVec2::new(at[0], at[1]);
        let length = here.distance(q);
        let down = at[2] - z;
        if length * fall >= down {
            // Reached within this side.
            let stop = here.lerp(q, if length > 0.0 { (down / fall / length).min(1.0) } else { 1.0 });
            track.plunge([stop.x, stop.y, z]);
            return rest(path, closed, if forward { i } else { next }, stop);
        }
        at = [q.x, q.y, at[2] - length * fall];
        track.plunge(at);
        i = next;
        if forward && i == n {
            if closed {
                i = 0;
            } else {
                forward = false;
            }
        } else if !forward && i == 0 {
            forward = true;
        }
    }
}

/// A circle about the middle of a ring that is too short to ramp in on, if `fits` allows one of some size.
/// Counter-clockwise, unless `reversed`.
pub(crate) fn entry_circle(
    ring: &[DVec2],
    diameter: f64,
    reversed: bool,
    fits: impl Fn(&[DVec2]) -> bool,
) -> Option<Vec<DVec2>> {
    let perimeter: f64 = opened(ring, 0).windows(2).map(|p| p[0].distance(p[1])).sum();
    if perimeter >= LEAST_ROUND * 0.5 * diameter || ring.is_empty() {
        return None;
    }
    let middle = ring.iter().sum::<DVec2>() / ring.len() as f64;
    let circle = |share: f64| -> Vec<DVec2> {
        (0..=24)
            .map(|k| {
                let turn = std::f64::consts::TAU * f64::from(k % 24) / 24.0;
                middle + DVec2::from_angle(if reversed { -turn } else { turn }) * (share * diameter)
            })
            .collect()
    };
    [0.35, 0.28, 0.2, 0.14].into_iter().map(circle).find(|c| fits(c))
}

/// The whole path to be cut at depth, begun at `stop` on side `side`.
fn rest(path: &[DVec2], closed: bool, side: usize, stop: DVec2) -> Vec<DVec2> {
    if closed {
        let ring = &path[..path.len() - 1];
        let mut out = vec![stop];
        out.extend(opened(ring, (side + 1) % ring.len()).into_iter().take(ring.len()));
        out.push(stop);
        // Over the beginning of the round once more.
        return out;
    }
    // Back to the beginning at depth, then all along.
    let mut out = vec![stop];
    out.extend(path[..=side].iter().rev());
    out.extend(&path[1..]);
    out
}
