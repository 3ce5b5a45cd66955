//! The angle at which a hollow crosses the finished skins: where it is small, wood or resin ends in a feather.

use crate::band::Band;
use crate::drips::Drip;
use crate::piece::Piece;
use geom::DVec3;
use std::f64::consts::FRAC_PI_2;

/// The least angle of crossing so far, and where.
#[derive(Clone, Copy)]
pub(crate) struct Crossing {
    /// Angle between the two skins, degrees.
    pub(crate) degrees: f64,
    /// A point where they meet at it.
    pub(crate) at: DVec3,
}

impl Crossing {
    /// The lesser of two.
    pub(crate) fn least(self, other: Self) -> Self {
        if other.degrees < self.degrees { other } else { self }
    }

    /// Where the ring's level bottom passes the skins: their own slope.
    pub(crate) fn of_band(piece: &Piece, band: &Band) -> Self {
        let z = band.bottom_z;
        let s = piece.outline.station(0.0);
        let outside = Crossing { degrees: piece.outside_slope_deg(z), at: s.inset(piece.outside_inset(z)).extend(z) };
        let inside = Crossing { degrees: piece.inside_slope_deg(z), at: s.inset(piece.inside_inset(z)).extend(z) };
        outside.least(inside)
    }

    /// Least crossing over a drip: across its round bottom and up its sides to the ring.
    pub(crate) fn of_drip(piece: &Piece, band: &Band, drip: &Drip) -> Self {
        const STEPS: i32 = 16;
        let radius = drip.bullet.radius;
        let mut least = Crossing { degrees: 90.0, at: DVec3::NAN };
        for k in -STEPS..=STEPS {
            let (sin, cos) = (FRAC_PI_2 * f64::from(k) / f64::from(STEPS)).sin_cos();
            let z = drip.bullet.bottom_z + radius * (1.0 - cos);
            if z <= band.bottom_z {
                least = least.least(Self::beside(piece, drip, radius * sin, z, [sin, cos]));
            }
            let fall = band.bottom_z - drip.bullet.bottom_z - radius;
            if k.abs() == STEPS && fall > 0.0 {
                let heights = (1..=STEPS).map(|i| band.bottom_z - fall * f64::from(i - 1) / f64::from(STEPS));
                least = heights.fold(least, |c, z| c.least(Self::beside(piece, drip, radius * sin, z, [sin, 0.0])));
            }
        }
        least
    }

    /// Angle between a drip's skin (normal: `normal[0]` sideways, `normal[1]` down) and both skins of the wall.
    fn beside(piece: &Piece, drip: &Drip, aside: f64, z: f64, normal: [f64; 2]) -> Self {
        let across = piece.outline.station(drip.u).outward.perp();
        let of_drip = (across * normal[0]).extend(-normal[1]);
        let skin = |inset: f64, slope_deg: f64| {
            let Some(s) = piece.outline.beside(drip.u, inset, aside) else {
                // The curve turned away within the drip's width: the worst there is.
                return Crossing { degrees: 0.0, at: piece.outline.station(drip.u).inset(inset).extend(z) };
            };
            let (sin, cos) = slope_deg.to_radians().sin_cos();
            let of_wall = (s.outward * sin).extend(-cos);
            Crossing { degrees: angle_between(of_drip, of_wall), at: s.inset(inset).extend(z) }
        };
        let outside = skin(piece.outside_inset(z), piece.outside_slope_deg(z));
        // The inside looks the other way, up and in; a normal turned round leaves the angle as it is.
        outside.least(skin(piece.inside_inset(z), piece.inside_slope_deg(z)))
    }
}

/// Acute angle between two planes from their normals, degrees.
pub(crate) fn angle_between(a: DVec3, b: DVec3) -> f64 {
    a.cross(b).length().atan2(a.dot(b).abs()).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_are_acute() {
        assert!((angle_between(DVec3::Z, DVec3::new(0.0, 1.0, -1.0)) - 45.0).abs() < 1e-12);
        assert!((angle_between(DVec3::Z, DVec3::NEG_Z)).abs() < 1e-12);
    }
}
