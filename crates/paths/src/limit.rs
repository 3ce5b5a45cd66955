//! The boundary of where the tip may stand at a height, exact to the cutter location.

use crate::CutterLocation;
use crate::location::Touched;
use geom::{DVec2, Grid, Region, Ring, contour};
use rayon::prelude::*;

/// Heights this little below the level count as at it, mm.
const AT: f64 = 1e-4;

/// The tip at height `z` over a mesh.
#[derive(Clone, Copy)]
pub(crate) struct Limit<'a> {
    pub(crate) location: &'a CutterLocation,
    pub(crate) z: f64,
}

impl Limit<'_> {
    /// How far the lowest tip height lies above the level (at most 5 mm below).
    fn above(&self, p: DVec2, touched: &mut Touched) -> f64 {
        self.location.height_beside(p.x, p.y, self.z - 5.0, touched) - self.z
    }

    /// Whether the tip may stand at `p`.
    pub(crate) fn clears(&self, p: DVec2) -> bool {
        self.location.clears(p.x, p.y, self.z)
    }

    /// The last point, going from `p` against `air`, where the tip may stand, to `accuracy` in plan or 0.1 µm in height;
    /// `None` if there is none within `width` either way.
    pub(crate) fn settle(&self, p: DVec2, air: DVec2, width: f64, accuracy: f64) -> Option<DVec2> {
        let mut touched = Touched::default();
        let mut f = |t: f64| self.above(p + air * t, &mut touched);
        let f0 = f(0.0);
        let ((mut lo, mut flo), (mut hi, mut fhi)) = if f0 > 0.0 {
            let mut lo = (0.0, f0);
            let found = [0.06, 0.2, 0.5, 1.0].iter().find_map(|s| {
                let t = s * width;
                let v = f(t);
                if v <= 0.0 {
                    return Some((t, v));
                }
                lo = (t, v);
                None
            });
            (lo, found?)
        } else {
            let mut hi = (0.0, f0);
            let found = [0.06, 0.2, 0.5, 1.0].iter().find_map(|s| {
                let t = -s * width;
                let v = f(t);
                if v > 0.0 {
                    return Some((t, v));
                }
                hi = (t, v);
                None
            });
            (found?, hi)
        };
        for round in 0..60 {
            if hi - lo <= accuracy || fhi >= -AT {
                break;
            }
            // A chord's guess, nudged to the safe side; every third time a halving, for walls are no straight lines.
            let chord = lo + (hi - lo) * (flo + 0.5 * AT) / (flo - fhi);
            let t = if round % 3 == 2 {
                0.5 * (lo + hi)
            } else {
                chord.clamp(lo + 0.02 * (hi - lo), hi - 0.02 * (hi - lo))
            };
            let v = f(t);
            if v > 0.0 {
                (lo, flo) = (t, v);
            } else {
                (hi, fhi) = (t, v);
            }
        }
        Some(p + air * hi)
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
        let place = |i: usize| {
            let (a, p, b) = (ring.0[(i + n - 1) % n], ring.0[i], ring.0[(i + 1) % n]);
            let air = (b - a).perp().normalize_or_zero();
            self.settle(p, air, width, accuracy).or_else(|| self.clears(p).then_some(p))
        };
        Ring((0..n).filter_map(place).collect())
    }
}
