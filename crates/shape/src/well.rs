//! A hollow with a level bottom, upright sides and a fillet between them, over a smooth band in plan.
//!
//! Its sections are parallels of the curve, so the fillet is exact, and a vertical cutter with a radius below the
//! fillet's reaches all of it.

use crate::crossing::{Crossing, angle_between};
use crate::outline::Station;
use crate::piece::Piece;
use crate::profile::{Profile, Stretch};
use crate::sweep;
use geom::{DVec2, DVec3, Mesh, Ring};
use std::f64::consts::{FRAC_PI_2, PI};

/// Places along the sides are at most this far apart where crossings are looked at, mm.
const ALONG: f64 = 0.25;
/// Levels over the fillet at which crossings are looked at.
const LEVELS: u32 = 16;

/// The hollow.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Well {
    /// Its curve, counter-clockwise, from the one end of the band round the other; the normals point out into the wood. An
    /// even number of them.
    pub(crate) stations: Vec<Station>,
    /// z of its level bottom, mm.
    pub(crate) bottom_z: f64,
    /// Radius between bottom and sides, mm; no corner of the curve is tighter.
    pub(crate) fillet: f64,
}

impl Well {
    /// The solid up to `face_z`; its fillet within `tolerance`.
    pub(crate) fn mesh(&self, face_z: f64, tolerance: f64) -> Mesh {
        let r = self.fillet;
        let corner = Stretch::Arc { centre: DVec2::new(r, self.bottom_z + r), radius: r, from: PI, to: 1.5 * PI };
        let mut rows = Profile { stretches: vec![corner] }.points(tolerance, PI);
        rows.reverse();
        rows.push(DVec2::new(0.0, face_z));
        sweep::band(&self.stations, &rows)
    }

    /// The curve as a ring.
    pub(crate) fn ring(&self) -> Ring {
        Ring(self.stations.iter().map(|s| s.point).collect())
    }

    /// The least angle at which its sides, its fillet and its bottom cross the skins of the piece.
    pub(crate) fn crossing(&self, piece: &Piece) -> Crossing {
        let outline = Ring(piece.outline.parallel(0.0, 0.1 * piece.tolerance.max(0.01)).0);
        let mut least = Crossing { degrees: 90.0, at: DVec3::NAN };
        for skin in [Skin::Outside, Skin::Inside] {
            for (s, next) in self.stations.iter().zip(self.stations.iter().cycle().skip(1)) {
                for found in self.crossings(piece, skin, &outline, s).into_iter().flatten() {
                    least = least.least(found);
                }
                let steps = (s.point.distance(next.point) / ALONG).ceil().max(1.0) as u32;
                let between = (1..steps).map(|k| s.between(next, f64::from(k) / f64::from(steps)));
                let sides = between.filter_map(|s| self.on_side(piece, skin, &outline, &s));
                least = sides.fold(least, Crossing::least);
            }
            if let Some(found) = self.bottom_crossing(piece, skin, &outline) {
                least = least.least(found);
            }
        }
        least
    }

    /// Where the profile of the hollow at one station passes a skin: on its side, or on its fillet.
    fn crossings(&self, piece: &Piece, skin: Skin, outline: &Ring, s: &Station) -> [Option<Crossing>; 2] {
        let top = self.bottom_z + self.fillet;
        let seen = |p: DVec2| skin.at(piece, outline, p);
        // From the side down to the bottom: how high the skin lies above the hollow's own.
        let level = |k: u32| {
            let (sin, cos) = (FRAC_PI_2 * f64::from(k) / f64::from(LEVELS)).sin_cos();
            let p = s.inset(self.fillet * (1.0 - cos));
            let z = top - self.fillet * sin;
            let normal = (s.outward * cos).extend(-sin);
            seen(p).map(|skin| (skin.z - z, Crossing { degrees: angle_between(normal, skin.normal), at: p.extend(z) }))
        };
        let mut on_fillet: Option<Crossing> = None;
        let mut before = level(0);
        for k in 1..=LEVELS {
            let now = level(k);
            if let (Some((a, one)), Some((b, other))) = (before, now)
                && (a < 0.0) != (b < 0.0)
            {
                let here = one.least(other);
                on_fillet = Some(on_fillet.map_or(here, |c| c.least(here)));
            }
            before = now;
        }
        [self.on_side(piece, skin, outline, s), on_fillet]
    }

    fn on_side(&self, piece: &Piece, skin: Skin, outline: &Ring, s: &Station) -> Option<Crossing> {
        let seen = skin.at(piece, outline, s.point).filter(|skin| skin.z >= self.bottom_z + self.fillet)?;
        Some(Crossing { degrees: angle_between(s.outward.extend(0.0), seen.normal), at: s.point.extend(seen.z) })
    }

    /// The slope of a skin where the level bottom passes it, if it does.
    fn bottom_crossing(&self, piece: &Piece, skin: Skin, outline: &Ring) -> Option<Crossing> {
        let floor = Ring(self.stations.iter().map(|s| s.inset(self.fillet)).collect());
        let (inset, slope_deg) = skin.where_at(piece, self.bottom_z)?;
        let ring = piece.outline.parallel(inset, piece.tolerance);
        let at = ring.0.iter().copied().find(|&p| floor.holds(p) && outline.holds(p))?;
        Some(Crossing { degrees: slope_deg, at: at.extend(self.bottom_z) })
    }
}

/// One of the piece's two skins.
#[derive(Clone, Copy)]
enum Skin {
    Outside,
    Inside,
}

/// A skin over one place in plan.
struct Seen {
    z: f64,
    normal: DVec3,
}

impl Skin {
    /// Inset and slope (degrees from level) at a height, where the skin has that height.
    fn where_at(self, piece: &Piece, z: f64) -> Option<(f64, f64)> {
        match self {
            Self::Outside => {
                (0.0..=piece.height).contains(&z).then(|| (piece.outside_inset(z), piece.outside_slope_deg(z)))
            }
            Self::Inside => {
                (piece.floor_z < z && z <= piece.height).then(|| (piece.inside_inset(z), piece.inside_slope_deg(z)))
            }
        }
    }

    /// The skin above a place: rim, wall, and floor or foot. `None` beside the piece.
    fn at(self, piece: &Piece, outline: &Ring, p: DVec2) -> Option<Seen> {
        if !outline.holds(p) {
            return None;
        }
        let (foot, inward) = nearest(outline, p);
        let inset = foot.distance(p);
        let (low, high) = match self {
            Self::Outside => (0.0, piece.height),
            Self::Inside => (piece.floor_z, piece.height),
        };
        let inset_at = |z: f64| match self {
            Self::Outside => piece.outside_inset(z),
            Self::Inside => piece.inside_inset(z),
        };
        let level = |z: f64| Some(Seen { z, normal: DVec3::Z });
        if inset <= inset_at(high) {
            return level(high);
        }
        if inset >= inset_at(low) {
            return level(low);
        }
        let (mut below, mut above) = (low, high);
        for _ in 0..40 {
            let middle = 0.5 * (below + above);
            if inset_at(middle) > inset { below = middle } else { above = middle }
        }
        let slope = match self {
            Self::Outside => piece.outside_slope_deg(below),
            Self::Inside => piece.inside_slope_deg(below),
        };
        let (sin, cos) = slope.to_radians().sin_cos();
        Some(Seen { z: below, normal: (inward * sin).extend(cos) })
    }
}

/// The nearest point of a ring to a point inside it, and the direction from there to the point.
fn nearest(ring: &Ring, p: DVec2) -> (DVec2, DVec2) {
    let mut best = (f64::INFINITY, DVec2::ZERO, DVec2::ZERO);
    for (a, b) in ring.sides() {
        let along = b - a;
        let t = ((p - a).dot(along) / along.length_squared()).clamp(0.0, 1.0);
        let foot = a + along * t;
        let distance = foot.distance_squared(p);
        if distance < best.0 {
            best = (distance, foot, along.perp().normalize_or_zero());
        }
    }
    let toward = (p - best.1).normalize_or(best.2);
    (best.1, toward)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round(centre: DVec2, radius: f64, count: u32) -> Vec<Station> {
        let turn = |k: u32| DVec2::from_angle(2.0 * PI * f64::from(k) / f64::from(count));
        (0..count).map(|k| Station { point: centre + turn(k) * radius, outward: turn(k) }).collect()
    }

    /// A round well is a cylinder without the ring under its fillet: Pappus, with the centroid of the corner between a
    /// square and its quarter disc at `r (10 − 3π) / (12 − 3π)` from the corner's own sides.
    #[test]
    fn a_round_well_is_closed_and_holds_its_volume() {
        let well = Well { stations: round(DVec2::new(30.0, -12.0), 9.0, 720), bottom_z: 10.0, fillet: 3.0 };
        let mesh = well.mesh(30.0, 1e-4);
        assert_eq!(mesh.flaws(true), geom::mesh::Flaws::default());
        let corner = 9.0 * (1.0 - PI / 4.0);
        let from_side = 3.0 * (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI);
        let want = PI * 81.0 * 20.0 - corner * 2.0 * PI * (9.0 - from_side);
        assert!((mesh.volume() / want - 1.0).abs() < 1e-4, "{} {want}", mesh.volume());
    }
}
