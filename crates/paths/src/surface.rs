//! Paths that lie on the cutter-location surface: points in plan dropped to it, refined until chords are true.

use crate::CutterLocation;
use crate::location::Touched;
use crate::moves::{off_chord, resampled, thinned};
use geom::DVec2;

/// Distance of first samples along a path, mm: a bump rounded by the cutter rises little in between.
const SAMPLE: f64 = 0.35;
/// Chords shorter than this in plan are not split: they stand at a wall, mm.
const SHORT: f64 = 1e-3;

/// Tangent of the slope from which a chord goes up or down a wall.
const WALL: f64 = 1.0;

/// A drop of more than this that is steeper than [`FALL_SLOPE`] is a fall, mm: smaller ones are within a finishing cut.
const FALL: f64 = 0.15;
/// Tangent of the slope from which a drop is a fall: 84°, steeper than the draft of any wall that is followed downwards.
const FALL_SLOPE: f64 = 9.5;

/// Whether the tip would drop along a wall from `a` to `b`.
pub(crate) fn is_fall(a: [f64; 3], b: [f64; 3]) -> bool {
    let drop = a[2] - b[2];
    drop > FALL && drop > FALL_SLOPE * (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Points in plan dropped to the cutter location, but never below `floor`.
#[derive(Clone, Copy)]
pub(crate) struct Surface<'a> {
    pub(crate) location: &'a CutterLocation,
    pub(crate) floor: f64,
    pub(crate) tolerance: f64,
}

impl Surface<'_> {
    /// The lowest tip at a point.
    fn drop(&self, p: DVec2, touched: &mut Touched) -> [f64; 3] {
        [p.x, p.y, self.location.height_beside(p.x, p.y, self.floor, touched)]
    }

    /// A path in plan laid on the surface. Its chords never lie below the surface by more than the tolerance where it was
    /// looked at: half of it for splitting, half for thinning.
    pub(crate) fn lay(&self, plan: &[DVec2]) -> Vec<[f64; 3]> {
        let samples = resampled(plan, SAMPLE);
        let mut out: Vec<[f64; 3]> = Vec::with_capacity(samples.len());
        let mut touched = Touched::default();
        for p in samples {
            let q = self.drop(p, &mut touched);
            if let Some(&last) = out.last() {
                self.split(last, q, &mut touched, &mut out);
            }
            out.push(q);
        }
        thinned(&out, 0.45 * self.tolerance)
    }

    /// Points between `a` and `b` (neither included) until the middle of every chord lies on the surface.
    fn split(&self, a: [f64; 3], b: [f64; 3], touched: &mut Touched, out: &mut Vec<[f64; 3]>) {
        let (p, q) = (DVec2::new(a[0], a[1]), DVec2::new(b[0], b[1]));
        if p.distance(q) < SHORT {
            // A step in the surface: up (or down) on the side where the tip is high anyway.
            let (x, y) = if a[2] < b[2] { (a[0], a[1]) } else { (b[0], b[1]) };
            if (a[2] - b[2]).abs() > self.tolerance {
                out.push([x, y, a[2].max(b[2])]);
            }
            return;
        }
        let m = self.drop(p.midpoint(q), touched);
        let mut off = |t: f64| off_chord(self.drop(p.lerp(q, t), touched), a, b);
        // Going up or down a wall the chord may cross an edge beside its middle.
        let is_wall = (a[2] - b[2]).abs() > WALL * p.distance(q);
        if off_chord(m, a, b) > 0.5 * self.tolerance || (is_wall && off(0.25).max(off(0.75)) > 0.5 * self.tolerance) {
            self.split(a, m, touched, out);
            out.push(m);
            self.split(m, b, touched, out);
        }
    }
}
