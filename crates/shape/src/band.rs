//! The section of a ring of resin, in (d, z): a level bottom, upright sides, fillets between them.

use crate::profile::{Profile, Stretch};
use geom::DVec2;
use std::f64::consts::{FRAC_PI_2, PI};

/// The ring's section, in (d, z).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Band {
    /// Inset of its outer side (negative: in the waste).
    pub(crate) outer: f64,
    /// Inset of its inner side.
    pub(crate) inner: f64,
    /// z of its level bottom.
    pub(crate) bottom_z: f64,
    /// Radius of the fillets between bottom and sides.
    pub(crate) fillet: f64,
}

impl Band {
    /// The section's points, in the sense a ring needs: out along the bottom, up, in along the top, down.
    pub(crate) fn rows(&self, face_z: f64, tolerance: f64) -> Vec<DVec2> {
        let r = self.fillet;
        let arc =
            |d: f64, from: f64, to: f64| Stretch::Arc { centre: DVec2::new(d, self.bottom_z + r), radius: r, from, to };
        // Inset grows inwards: the inner fillet turns from pointing in (angle 0) to pointing down (−90°).
        let inner = Profile { stretches: vec![arc(self.inner - r, 0.0, -FRAC_PI_2)] }.points(tolerance, PI);
        let outer = Profile { stretches: vec![arc(self.outer + r, -FRAC_PI_2, -PI)] }.points(tolerance, PI);
        let mut rows = vec![DVec2::new(self.inner, face_z)];
        rows.extend(inner);
        rows.extend(outer);
        rows.push(DVec2::new(self.outer, face_z));
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ring_is_a_section_swept_round() {
        let band = Band { outer: -5.0, inner: 12.0, bottom_z: 40.0, fillet: 3.0 };
        let rows = band.rows(60.0, 1e-5);
        let area = (0..rows.len()).map(|i| rows[i].perp_dot(rows[(i + 1) % rows.len()])).sum::<f64>() / 2.0;
        // A rectangle without the two corners outside of the fillets; clockwise, for insets run to the left.
        let want = 17.0 * 20.0 - 2.0 * (9.0 - PI * 9.0 / 4.0);
        assert!((area.abs() - want).abs() < 1e-3, "{area} {want}");
        assert!(area < 0.0);
    }
}
