//! Standing: how far the finished piece may be tilted before it tips over its foot.
//!
//! The centre of mass is that of the solids, wood and each cast with its own density; the foot is the convex hull of what
//! touches the table. Tilted about the nearest side of the hull, the piece tips once its centre stands above that side:
//! `tan α = d / h`, with `d` from the centre's plumb line to the side and `h` its height (statics).

use super::load::density;
use crate::case::Case;
use crate::verdict::{Check, Where};
use geom::Mesh;
use glam::{DVec2, DVec3};

/// A piece must bear this tilt, and less than the second is on watch, degrees (common practice, no source).
const TILT: [f64; 2] = [10.0, 20.0];
/// What lies no higher than this touches the table, mm.
const TOUCHES: f64 = 0.1;

/// Judges the finished piece.
pub(crate) fn judge(case: &Case<'_>) -> Check {
    let (id, title) = ("stands", "Tilt at which the finished piece tips over");
    let Some(piece) = case.model(&case.evidence.piece.model) else {
        return Check::uncomputed(id, title, "the model of the piece is missing");
    };
    let wood = density(case) / 1000.0;
    let mut mass = weighed(piece, wood);
    for cast in &case.evidence.casts {
        let Some(resin) = case.model(&cast.in_piece) else {
            return Check::uncomputed(id, title, format!("the model {} is missing", cast.in_piece));
        };
        // The piece's mesh holds the cast as well.
        let more = weighed(resin, cast.resin.density_g_ml - wood);
        mass = (mass.0 + more.0, mass.1 + more.1);
    }
    let foot = hull(piece.vertices.iter().filter(|v| v.z <= TOUCHES).map(|v| v.truncate()).collect());
    if mass.0.is_nan() || mass.0 <= 0.0 || foot.len() < 3 {
        return Check::uncomputed(id, title, "the piece has no mass, or no face to stand on");
    }
    let centre = mass.1 / mass.0;
    let Some((least, side)) = nearest_side(&foot, centre.truncate()) else {
        return Check::uncomputed(id, title, "the piece has no face to stand on");
    };
    let tilt = least.atan2(centre.z).to_degrees();
    Check::at_least(id, title, tilt, TILT[0], "°")
        .at(Where { at: Some([side.x, side.y, 0.0]), ..Where::default() })
        .watched(tilt < TILT[1])
        .remedy("A wider foot, a lower piece, or less weight to the side of it.")
}

/// Mass in g and mass times place, by the divergence theorem over a closed mesh; density in g/ml.
fn weighed(mesh: &Mesh, density: f64) -> (f64, DVec3) {
    let mut sum = (0.0, DVec3::ZERO);
    for i in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(i);
        let volume = a.dot(b.cross(c)) / 6000.0;
        sum = (sum.0 + density * volume, sum.1 + density * volume * (a + b + c) / 4.0);
    }
    sum
}

/// Convex hull, counter-clockwise, by A. M. Andrew's monotone chain (*Information Processing Letters* 9, 1979).
fn hull(mut points: Vec<DVec2>) -> Vec<DVec2> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let mut out: Vec<DVec2> = Vec::new();
    let back = points.iter().rev().skip(1);
    let mut begun = 1;
    for (k, p) in points.iter().chain(back).enumerate() {
        if k == points.len() {
            begun = out.len();
        }
        while out.len() > begun && (out[out.len() - 1] - out[out.len() - 2]).perp_dot(*p - out[out.len() - 1]) <= 0.0 {
            out.pop();
        }
        out.push(*p);
    }
    out.pop();
    out
}

/// Distance inwards from the side of the hull that is nearest, negative outside, and the nearest place of that side.
fn nearest_side(hull: &[DVec2], p: DVec2) -> Option<(f64, DVec2)> {
    let sides = hull.iter().zip(hull.iter().cycle().skip(1));
    let inwards = sides.filter_map(|(a, b)| {
        let along = (*b - *a).try_normalize()?;
        Some((along.perp_dot(p - *a), *a + along * along.dot(p - *a).clamp(0.0, a.distance(*b))))
    });
    inwards.min_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a block 60 by 40 by 20 mm tips over its long side at atan(20 / 10).
    #[test]
    fn a_block_has_its_centre_in_its_middle_and_tips_over_its_long_side() {
        let block = Mesh::cuboid(DVec3::new(-30.0, -20.0, 0.0), DVec3::new(30.0, 20.0, 20.0));
        let (mass, moment) = weighed(&block, 0.65);
        assert!((mass - 31.2).abs() < 1e-9 && (moment / mass).distance(DVec3::new(0.0, 0.0, 10.0)) < 1e-9);
        let foot = hull(block.vertices.iter().filter(|v| v.z <= TOUCHES).map(|v| v.truncate()).collect());
        assert_eq!(foot.len(), 4);
        let (least, at) = nearest_side(&foot, DVec2::new(3.0, -1.0)).unwrap();
        assert!((least - 19.0).abs() < 1e-9 && at.distance(DVec2::new(3.0, -20.0)) < 1e-9);
        assert!(nearest_side(&foot, DVec2::new(0.0, 25.0)).unwrap().0 < 0.0, "outside of it nothing stands");
    }

    #[test]
    fn a_hull_leaves_out_what_lies_within_or_on_its_sides() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0], [4.0, 4.0]];
        let hull = hull(square.map(DVec2::from_array).to_vec());
        assert_eq!(hull, [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]].map(DVec2::from_array));
    }
}
