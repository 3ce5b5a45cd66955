//! The map of a check, with the way from the piece to it: so it can be painted on the piece.

use super::wire::MapView;
use geom::{DAffine3, DMat3, DVec3};
use proof::{Check, Map};
use route::Plan;
use workpiece::{Face, Setup};

/// The map of a check that has one.
pub(super) fn map(plan: &Plan, check: &Check) -> Option<MapView> {
    let map = check.map.as_ref()?;
    let setup = map.setup.as_ref().and_then(|id| plan.setups.iter().find(|setup| setup.id == *id));
    Some(MapView {
        title: map.title.clone(),
        unit: map.unit.clone(),
        limit: map.limit,
        range: range(map, &check.sense),
        first: map.first,
        pitch: map.pitch,
        nx: map.nx as u32,
        values: map.values.clone(),
        to_map: setup.map_or([1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0], to_map),
        side: match setup.map(|setup| setup.face_up) {
            None => 0.0,
            Some(Face::Rim) => 1.0,
            Some(Face::Foot) => -1.0,
        },
        scale: papers::VIRIDIS.to_vec(),
    })
}

/// From the piece to the program's frame in plan: the frame of a setup backwards.
fn to_map(setup: &Setup) -> [f64; 8] {
    way(&setup.program_to_piece)
}

fn way(m: &[f64; 16]) -> [f64; 8] {
    let column = |k: usize| DVec3::new(m[k], m[4 + k], m[8 + k]);
    let frame = DAffine3 {
        matrix3: DMat3::from_cols(column(0), column(1), column(2)),
        translation: DVec3::new(m[3], m[7], m[11]),
    };
    let back = frame.inverse();
    let row = |k: usize| {
        let [x, y, z] = [back.matrix3.x_axis, back.matrix3.y_axis, back.matrix3.z_axis].map(|axis| axis[k]);
        [x, y, z, back.translation[k]]
    };
    let [a, b] = [row(0), row(1)];
    [a[0], a[1], a[2], a[3], b[0], b[1], b[2], b[3]]
}

/// Least and greatest value of the scale: of the cells and their limit, from nothing where the limit is one from above.
fn range(map: &Map, sense: &str) -> [f64; 2] {
    let cells = map.values.iter().flatten().map(|v| f64::from(*v)).chain(map.limit).filter(|v| v.is_finite());
    let (low, high) = cells.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)));
    let low = if map.limit.is_some() && sense == "at most" { low.min(0.0) } else { low };
    if high > low { [low, high] } else { [low.min(high), low.min(high) + 1.0] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_of_the_piece_is_found_in_the_frame_of_the_program() {
        // Foot up, the program's zero 52 mm above the foot's plane: (x, y, z) of the program is (x + 3, −y, 52 − z) of the piece.
        let m = [1.0, 0.0, 0.0, 3.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 52.0, 0.0, 0.0, 0.0, 1.0];
        let column = |k: usize| DVec3::new(m[k], m[4 + k], m[8 + k]);
        let frame = DAffine3 {
            matrix3: DMat3::from_cols(column(0), column(1), column(2)),
            translation: DVec3::new(m[3], m[7], m[11]),
        };
        let program = DVec3::new(10.0, 20.0, -5.0);
        let piece = frame.transform_point3(program);
        assert_eq!(piece, DVec3::new(13.0, -20.0, 57.0));
        let row = way(&m);
        let at = |k: usize| row[4 * k] * piece.x + row[4 * k + 1] * piece.y + row[4 * k + 2] * piece.z + row[4 * k + 3];
        assert!((at(0) - 10.0).abs() < 1e-12 && (at(1) - 20.0).abs() < 1e-12, "{} {}", at(0), at(1));
    }
}
