//! A solid from elsewhere with its undercut: a level and an upright cut through the worst place, what no cutter reaches in red.

use crate::drawing::{Drawing, INK, Shape};
use base::Units;
use geom::slice::{Across, slice};
use geom::{DVec3, Mesh};
use shape::undercut::Undercut;

const WOOD: [u8; 3] = [222, 200, 170];
/// Red with a dark edge: told from the wood in grey, too.
const UNREACHED: [u8; 3] = [196, 30, 30];
/// Dots lie at most this far off a cut, as a share of the greatest size.
const BESIDE: f64 = 0.02;
/// A cut stands this far off the worst place: corners of the mesh may lie in its plane, mm.
const OFF: f64 = 1.3e-4;

/// Draws the undercut, as SVG.
pub fn undercut_svg(mesh: &Mesh, undercut: &Undercut, units: Units) -> String {
    drawing(mesh, undercut, units).svg(false, "Undercut")
}

fn drawing(mesh: &Mesh, undercut: &Undercut, units: Units) -> Drawing {
    let (low, high) = mesh.bounds().unwrap_or_default();
    let size = high - low;
    let text = (size.x as f32 / 36.0).max(3.0);
    let worst = undercut.worst;
    let mut shapes = Vec::new();
    // Seen from above, X to the right and Y up; below it the upright cut, X to the right and Z up.
    let top = text * 2.2;
    let plan = |p: DVec3| [text + (p.x - low.x) as f32, top + (high.y - p.y) as f32];
    let second = top + size.y as f32 + text * 3.4;
    let upright = |p: DVec3| [text + (p.x - low.x) as f32, second + (high.z - p.z) as f32];
    let cuts = [
        (
            format!("Level cut, {} above the foot", units.told(worst.z)),
            slice(mesh, Across::Z, worst.z + OFF)
                .into_iter()
                .map(|ring| ring.into_iter().map(|[x, y]| plan(DVec3::new(x, y, 0.0))).collect())
                .collect::<Vec<Vec<[f32; 2]>>>(),
            top,
        ),
        (
            format!("Upright cut along X, at y {}", units.shop(worst.y)),
            slice(mesh, Across::Y, worst.y + OFF)
                .into_iter()
                .map(|ring| ring.into_iter().map(|[x, z]| upright(DVec3::new(x, 0.0, z))).collect())
                .collect(),
            second,
        ),
    ];
    for (title, rings, y) in cuts {
        shapes.push(Shape::Text {
            at: [text, y - text * 0.7],
            size: text,
            anchor: crate::drawing::Anchor::Start,
            text: title,
        });
        shapes.push(Shape::Area { rings, fill: WOOD, line: INK, width: text / 14.0 });
    }
    let beside = size.max_element() * BESIDE;
    for p in &undercut.places {
        if (p.z - worst.z).abs() <= beside {
            shapes.push(dot(plan(*p), text * 0.14));
        }
        if (p.y - worst.y).abs() <= beside {
            shapes.push(dot(upright(*p), text * 0.14));
        }
    }
    for at in [plan(worst), upright(worst)] {
        shapes.extend(cross(at, text * 0.6));
    }
    let bottom = second + size.z as f32 + text * 1.6;
    let depth = match undercut.depth.is_finite() {
        true => format!("{} deep at the cross", units.told(undercut.depth)),
        false => "without a way out".to_owned(),
    };
    let says = format!("red: what no upright cutter reaches, {:.1} cm², {depth}", undercut.area / 100.0);
    shapes.push(Shape::Text { at: [text, bottom], size: text, anchor: crate::drawing::Anchor::Start, text: says });
    Drawing { width: size.x as f32 + text * 12.0, height: bottom + text, shapes }
}

/// A diamond.
fn dot([x, y]: [f32; 2], r: f32) -> Shape {
    let ring = vec![[x - r, y], [x, y - r], [x + r, y], [x, y + r]];
    Shape::Area { rings: vec![ring], fill: UNREACHED, line: UNREACHED, width: 0.0 }
}

fn cross([x, y]: [f32; 2], r: f32) -> [Shape; 2] {
    let line = |a: [f32; 2], b: [f32; 2]| Shape::Line { points: vec![a, b], line: INK, width: r / 4.0 };
    [line([x - r, y - r], [x + r, y + r]), line([x - r, y + r], [x + r, y - r])]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    #[test]
    fn both_cuts_show_the_bore_and_the_cross_at_its_end() {
        let block = fixture::block([-50.0, -40.0, 0.0], [50.0, 40.0, 50.0]);
        let bored = block.minus(&fixture::block([-10.0, -60.0, 15.0], [10.0, 0.0, 35.0])).unwrap();
        let found = shape::undercut::undercut(&bored).unwrap();
        let drawn = drawing(&bored, &found, Units::Mm);
        let areas: Vec<usize> = drawn
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Area { rings, fill, .. } if *fill == WOOD => Some(rings.len()),
                _ => None,
            })
            .collect();
        // The level cut is open at the front, the upright one shows the bore as a hole.
        assert_eq!(areas, [1, 2]);
        let dots = drawn.shapes.iter().filter(|s| matches!(s, Shape::Area { fill, .. } if *fill == UNREACHED)).count();
        assert!(dots > 20, "{dots}");
        let svg = undercut_svg(&bored, &found, Units::Mm);
        assert!(
            svg.contains("36.0 cm²") || svg.contains("35.9 cm²") || svg.contains("36.1 cm²"),
            "{}",
            &svg[svg.len() - 400..]
        );
        assert!(svg.starts_with("<?xml") && svg.ends_with("</svg>\n"));
    }
}
