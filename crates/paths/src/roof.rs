//! A height on a grid above which the tip surely is clear: most questions of roughing need no closer look.

use crate::CutterLocation;
use crate::dilation::dilated;
use geom::{DVec2, Grid};

/// Pitch, in radii of the cutter, and the most nodes.
const PITCH: f64 = 0.1;
const MOST: f64 = 2e6;
/// Far more than rounding to `f32`, mm.
const ROUNDING: f64 = 1e-3;

/// Nowhere below the lowest tip height within half a pitch around each node, along both axes.
pub(crate) struct Roof(Option<Grid<f32>>);

impl Roof {
    /// The greatest heights of the mesh in the squares of a grid, seen by the cutter: a point in the square of one node and
    /// an axis in that of another are as far apart as the nodes are, less at most the diagonal of a square.
    pub(crate) fn new(location: &CutterLocation) -> Self {
        let Some((lo, hi)) = location.bounds() else { return Self(None) };
        let reach = location.reach();
        let (lo, hi) = (lo - DVec2::splat(1.5 * reach), hi + DVec2::splat(1.5 * reach));
        let pitch = (PITCH * reach).max(((hi - lo).element_product() / MOST).sqrt());
        let mut tops = Grid::covering(lo, hi, pitch, f32::NEG_INFINITY);
        location.raise(&mut tops);
        let apart = std::f64::consts::SQRT_2 * pitch;
        Self(Some(dilated(&tops, reach + apart, |rho| location.rise((rho - apart).max(0.0)))))
    }

    /// Whether the tip surely may stand at `p` at the height `z`.
    pub(crate) fn clears(&self, p: DVec2, allowance: f64, z: f64) -> bool {
        let Some(tips) = &self.0 else { return false };
        let at = ((p - tips.origin) / tips.pitch).round();
        let within = at.cmpge(DVec2::ZERO).all() && at.x < tips.nx as f64 && at.y < tips.ny as f64;
        within && f64::from(tips.values[tips.index(at.x as usize, at.y as usize)]) + allowance + ROUNDING <= z
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{cutter, waved};
    use trade::cutter::Form;

    /// What it calls clear is clear, and of what is clear by more than the ground rises over a few squares it misses nothing.
    #[test]
    fn what_is_clear_by_the_roof_is_clear() {
        let profile: Vec<(f64, f64)> = (0..=40).map(|k| f64::from(k) * 0.5).map(|r| (r, 0.02 * r * r - 6.0)).collect();
        let mesh = waved(&profile, 90, |t| 1.0 + 0.1 * (5.0 * t).cos());
        for (form, allowance) in [(Form::Flat, 0.6), (Form::Ball, 0.0), (Form::Bull { corner_radius: 1.0 }, 0.3)] {
            let location = CutterLocation::new(&mesh, &cutter(form, 5.0), allowance);
            let roof = Roof::new(&location);
            let mut clear = 0;
            for k in 0..120 * 120 {
                let p = DVec2::new(f64::from(k % 120), f64::from(k / 120)) * 0.37 - DVec2::splat(22.0);
                for z in [-5.0, -3.0, -1.0, 1.5] {
                    let high = location.height_above(p.x, p.y, -100.0);
                    if roof.clears(p, location.allowance(), z) {
                        assert!(location.clears(p.x, p.y, z), "{form:?} at {p}, {z}");
                        clear += 1;
                    } else if p.length() < 14.0 {
                        assert!(z < high + 2.0, "{form:?} at {p}: {z} is well above {high}");
                    }
                }
            }
            assert!(clear > 10_000, "{clear}");
        }
    }
}
