//! The boundary of where the tip may stand at a height, exact to the cutter location.

use crate::CutterLocation;
use crate::location::{Near, Touched};
use geom::{DVec2, Grid, Region, Ring, contour};
use rayon::prelude::*;

/// Heights this little below the level count as at it, mm.
const AT: f64 = 1e-4;

/// Ground lower than this below the level is not looked at, mm.
const DEEP: f64 = 5.0;

/// How far the boundary is looked for, step by step, in widths.
const STEPS: [f64; 4] = [0.06, 0.2, 0.5, 1.0];

/// The farthest place found blocked and the nearest found free, each with its height above the level.
#[derive(Default)]
struct Bracket {
    blocked: Option<(f64, f64)>,
    free: Option<(f64, f64)>,
}

/// Where a chord meets the level, a hair below it, well within its ends.
fn chord((lo, above): (f64, f64), (hi, below): (f64, f64)) -> f64 {
    let t = lo + (hi - lo) * (above + 0.5 * AT) / (above - below);
    t.clamp(lo + 0.02 * (hi - lo), hi - 0.02 * (hi - lo))
}

/// The tip at height `z` over a mesh.
#[derive(Clone, Copy)]
pub(crate) struct Limit<'a> {
    pub(crate) location: &'a CutterLocation,
    /// The same made ready for the patch where it is asked.
    pub(crate) near: Option<&'a Near<'a>>,
    pub(crate) z: f64,
}

impl Limit<'_> {
    /// How far the lowest tip height lies above the level (at most [`DEEP`] below).
    fn above(&self, p: DVec2, touched: &mut Touched) -> f64 {
        let floor = self.z - DEEP;
        let height = match self.near {
            Some(near) => near.height_beside(p.x, p.y, floor, touched),
            None => self.location.height_beside(p.x, p.y, floor, touched),
        };
        height - self.z
    }

    /// Whether the tip may stand at `p`.
    pub(crate) fn clears(&self, p: DVec2) -> bool {
        self.location.clears(p.x, p.y, self.z)
    }

    /// The last point, going from `p` against `air`, where the tip may stand, to `accuracy` in plan or 0.1 µm in height;
    /// `None` if there is none within `width` either way.
    ///
    /// What the cutter touches at one place tells where to look next: the place where that alone lets it pass. Most often
    /// nothing else is in the way there. The first look is `likely` along `air`.
    pub(crate) fn settle(
        &self,
        p: DVec2,
        (air, likely): (DVec2, f64),
        (width, accuracy): (f64, f64),
        touched: &mut Touched,
    ) -> Option<DVec2> {
        let mut found = Bracket::default();
        let mut steps = STEPS.iter().map(|s| s * width);
        let mut t = likely.clamp(-width, width);
        for round in 0..80 {
            let v = self.above(p + air * t, touched);
            *(if v > 0.0 { &mut found.blocked } else { &mut found.free }) = Some((t, v));
            if let (None, Some((free, v))) = (found.blocked, found.free) {
                // Often what is touched is in the way right behind.
                let behind = free - 0.1 * accuracy;
                let in_the_way = self.location.alone(touched, p + air * behind).is_some_and(|z| z > self.z);
                found.blocked = in_the_way.then_some((behind, -v));
            }
            let guess = || if v > -DEEP { self.passes(touched, p, air, (t, v), 0.3 * width) } else { None };
            t = match (found.blocked, found.free) {
                (Some((lo, _)), Some((hi, v))) if hi - lo <= accuracy || v >= -AT => return Some(p + air * hi),
                (Some(lo), Some(hi)) => match guess().filter(|&t| t > lo.0 && t < hi.0) {
                    Some(t) if round % 3 != 2 => t,
                    // Now and then a halving, for walls are no straight lines.
                    _ if round % 3 != 1 => 0.5 * (lo.0 + hi.0),
                    _ => chord(lo, hi),
                },
                (Some((lo, _)), None) => match guess().filter(|&t| t > lo && t < width) {
                    Some(t) => t,
                    None => steps.find(|&t| t > lo)?,
                },
                (None, Some((hi, _))) => match guess().filter(|&t| t < hi && t > -width) {
                    Some(t) => t,
                    None => -steps.find(|&t| -t < hi)?,
                },
                (None, None) => return None,
            };
        }
        found.blocked.and(found.free).map(|(hi, _)| p + air * hi)
    }

    /// Where on the way from `p` along `air` what is touched at `t`, `v` above the level, lets the tip pass; `None` if that
    /// is not within `width` of there.
    fn passes(&self, touched: &Touched, p: DVec2, air: DVec2, (t, v): (f64, f64), width: f64) -> Option<f64> {
        let over = |t: f64| Some(self.location.beyond(touched, p + air * t)? - self.z + 0.5 * AT);
        let (mut a, mut fa) = (t, v + 0.5 * AT);
        let (mut b, mut fb) = (t, fa);
        let mut step = 0.05 * width * fa.signum();
        while fa * fb > 0.0 {
            (a, fa) = (b, fb);
            b += step;
            if (b - t).abs() > width {
                return None;
            }
            fb = over(b)?;
            step *= 2.0;
        }
        // Regula falsi with the Illinois rule (Dowell and Jarratt 1971).
        for _ in 0..40 {
            let c = (a * fb - b * fa) / (fb - fa);
            let fc = over(c)?;
            if fc.abs() < 0.2 * AT || (b - a).abs() < 1e-9 {
                return Some(c);
            }
            if fc * fb < 0.0 {
                (a, fa) = (b, fb);
            } else {
                fa *= 0.5;
            }
            (b, fb) = (c, fc);
        }
        Some(b)
    }

    /// Where the tip may stand, from heights on a lattice: the contour settled on the exact one to `accuracy`.
    pub(crate) fn region(&self, heights: &Grid<f64>, accuracy: f64) -> Region {
        let rough = contour::below(heights, self.z);
        let width = 2.0 * heights.pitch;
        let rings = rough.rings.par_iter().map(|r| self.settled(r, width, accuracy)).collect::<Vec<_>>();
        Region { rings: rings.into_iter().filter(|r| r.0.len() > 2).collect() }
    }

    fn settled(&self, ring: &Ring, width: f64, accuracy: f64) -> Ring {
        let n = ring.0.len();
        let mut touched = Touched::default();
        let place = |i: usize| {
            let (a, p, b) = (ring.0[(i + n - 1) % n], ring.0[i], ring.0[(i + 1) % n]);
            let air = (b - a).perp().normalize_or_zero();
            self.settle(p, (air, 0.0), (width, accuracy), &mut touched).or_else(|| self.clears(p).then_some(p))
        };
        Ring((0..n).filter_map(place).collect())
    }
}
