//! The section through the finished piece along X, with its main sizes.

use crate::drawing::{Drawing, INK, Shape, dimension};
use base::{Units, mm};
use geom::Mesh;
use geom::slice::{Across, slice};
use route::Plan;

/// What is cut.
pub(crate) struct Cut<'a> {
    pub(crate) piece: &'a Mesh,
    pub(crate) wood: [u8; 3],
    /// Resin left in the piece, and its colour.
    pub(crate) resins: Vec<(&'a Mesh, [u8; 3])>,
    pub(crate) units: Units,
}

impl<'a> Cut<'a> {
    /// The finished piece of a plan.
    pub(crate) fn of(plan: &'a Plan) -> Option<Self> {
        let resin =
            |cast: &route::CastPlan| plan.models.get(&format!("models/cast-{}", cast.name)).map(|m| (m, cast.colour));
        Some(Self {
            piece: plan.models.get("models/piece")?,
            wood: plan.wood_colour,
            resins: plan.casts.iter().filter_map(resin).collect(),
            units: plan.units,
        })
    }
}

/// Draws the section, if the piece can be cut there.
pub(crate) fn section(cut: &Cut<'_>) -> Option<Drawing> {
    let (piece, units) = (cut.piece, cut.units);
    let (min, max) = piece.bounds()?;
    let (length, height) = ((max.x - min.x) as f32, (max.z - min.z) as f32);
    let text = (length / 36.0).max(3.0);
    let (left, top) = (text * 1.2, text * 1.0);
    // On paper: x to the right, z up.
    let place = |x: f64, z: f64| [left + (x - min.x) as f32, top + (max.z - z) as f32];
    let rings_of = |mesh: &Mesh| -> Vec<Vec<[f32; 2]>> {
        slice(mesh, Across::Y, AXIS).iter().map(|ring| ring.iter().map(|p| place(p[0], p[1])).collect()).collect()
    };
    let pale = |c: [u8; 3]| c.map(|v| 255 - ((255 - u16::from(v)) * 11 / 20) as u8);
    let mut shapes = vec![Shape::Area { rings: rings_of(piece), fill: pale(cut.wood), line: INK, width: text / 14.0 }];
    for (resin, colour) in &cut.resins {
        shapes.push(Shape::Area { rings: rings_of(resin), fill: *colour, line: INK, width: text / 22.0 });
    }
    let bottom = top + height + text * 1.9;
    let [x0, y0] = place(min.x, min.z);
    let [x1, y1] = place(max.x, max.z);
    dimension(&mut shapes, [x0, bottom], [x1, bottom], [y0, y0], text, &label(max.x - min.x, units));
    let right = left + length + text * 1.6;
    dimension(&mut shapes, [right, y0], [right, y1], [x1, x1], text, &label(max.z - min.z, units));
    if let Some((low, high)) = floor(piece) {
        let [x, y_low] = place(0.0, low);
        let [_, y_high] = place(0.0, high);
        dimension(&mut shapes, [x, y_low], [x, y_high], [x, x], text, &label(high - low, units));
    }
    Some(Drawing { width: right + text * 9.5, height: bottom + text * 1.6, shapes })
}

fn label(size: f64, units: Units) -> String {
    mm(size).print(units)
}

/// Lowest solid stretch on the axis of the piece: the floor.
fn floor(piece: &Mesh) -> Option<(f64, f64)> {
    let mut at: Vec<f64> = Vec::new();
    for ring in slice(piece, Across::Y, AXIS) {
        for k in 0..ring.len() {
            let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
            // Half open, so that a corner on the axis counts once; a hair off the axis, where corners often lie.
            let (a, b) = (p[0] - AXIS, q[0] - AXIS);
            if (a < 0.0) != (b < 0.0) {
                at.push(p[1] + (q[1] - p[1]) * a / (a - b));
            }
        }
    }
    at.sort_by(f64::total_cmp);
    (at.len() >= 2).then(|| (at[0], at[1]))
}

/// The cuts stand this far off the planes of symmetry, where corners of the meshes lie, mm.
const AXIS: f64 = 1.3e-4;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// A box with a box-shaped hollow open at the top: the floor is 7 of 40 mm.
    fn tray() -> Mesh {
        let solid = fixture::block([-90.0, -60.0, 0.0], [90.0, 60.0, 40.0]);
        solid.minus(&fixture::block([-80.0, -50.0, 7.0], [80.0, 50.0, 50.0])).unwrap()
    }

    #[test]
    fn the_floor_is_measured_on_the_axis() {
        let (low, high) = floor(&tray()).unwrap();
        assert!(low.abs() < 1e-9 && (high - 7.0).abs() < 1e-9, "{low} {high}");
    }

    #[test]
    fn the_drawing_names_its_sizes() {
        let mut plan = fixture::plan();
        plan.models.insert("models/piece".into(), tray());
        let svg = section(&Cut::of(&plan).unwrap()).unwrap().svg(false, "Section");
        for size in ["180.0 mm", "40.0 mm", "7.0 mm"] {
            assert!(svg.contains(size), "{size}");
        }
        assert!(svg.starts_with("<?xml") && svg.ends_with("</svg>\n"));
    }
}
