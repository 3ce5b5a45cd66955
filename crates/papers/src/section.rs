//! The section through the finished piece along X, with its main sizes: a line drawing for SVG, HTML and PDF.

use crate::threemf::xml;
use base::{Units, mm};
use geom::{DVec3, Mesh};
use route::Plan;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A drawing in its own units, y down.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Drawing {
    pub(crate) width: f32,
    pub(crate) height: f32,
    pub(crate) shapes: Vec<Shape>,
}

/// Where a text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
}

/// One thing drawn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shape {
    /// Closed rings, filled by the even-odd rule, with an outline.
    Area { rings: Vec<Vec<[f32; 2]>>, fill: [u8; 3], line: [u8; 3], width: f32 },
    /// A line.
    Line { points: Vec<[f32; 2]>, line: [u8; 3], width: f32 },
    /// A text.
    Text { at: [f32; 2], size: f32, anchor: Anchor, text: String },
}

const INK: [u8; 3] = [40, 36, 32];

/// Draws the section, if the piece can be cut there.
pub(crate) fn section(plan: &Plan) -> Option<Drawing> {
    let piece = plan.models.get("models/piece")?;
    let (min, max) = piece.bounds()?;
    let (length, height) = ((max.x - min.x) as f32, (max.z - min.z) as f32);
    let text = (length / 36.0).max(3.0);
    let (left, top) = (text * 1.2, text * 1.0);
    // On paper: x to the right, z up.
    let place = |x: f64, z: f64| [left + (x - min.x) as f32, top + (max.z - z) as f32];
    let rings_of = |mesh: &Mesh| -> Vec<Vec<[f32; 2]>> {
        sliced(mesh).iter().map(|ring| ring.iter().map(|p| place(p[0], p[1])).collect()).collect()
    };
    let pale = |c: [u8; 3]| c.map(|v| 255 - ((255 - u16::from(v)) * 11 / 20) as u8);
    let mut shapes =
        vec![Shape::Area { rings: rings_of(piece), fill: pale(plan.wood_colour), line: INK, width: text / 14.0 }];
    for cast in &plan.casts {
        if let Some(resin) = plan.models.get(&format!("models/cast-{}", cast.name)) {
            shapes.push(Shape::Area { rings: rings_of(resin), fill: cast.colour, line: INK, width: text / 22.0 });
        }
    }
    let bottom = top + height + text * 1.9;
    let [x0, y0] = place(min.x, min.z);
    let [x1, y1] = place(max.x, max.z);
    dimension(&mut shapes, [x0, bottom], [x1, bottom], [y0, y0], text, &label(max.x - min.x, plan.units));
    let right = left + length + text * 1.6;
    dimension(&mut shapes, [right, y0], [right, y1], [x1, x1], text, &label(max.z - min.z, plan.units));
    if let Some((low, high)) = floor(piece) {
        let [x, y_low] = place(0.0, low);
        let [_, y_high] = place(0.0, high);
        dimension(&mut shapes, [x, y_low], [x, y_high], [x, x], text, &label(high - low, plan.units));
    }
    Some(Drawing { width: right + text * 9.5, height: bottom + text * 1.6, shapes })
}

fn label(size: f64, units: Units) -> String {
    mm(size).print(units)
}

/// A dimension line with arrowheads, its extension lines and its text. `from` is where the extension lines begin (y for
/// a level dimension, x for an upright one).
fn dimension(shapes: &mut Vec<Shape>, a: [f32; 2], b: [f32; 2], from: [f32; 2], text: f32, label: &str) {
    let width = text / 24.0;
    let upright = a[0] == b[0];
    let line = |points: Vec<[f32; 2]>| Shape::Line { points, line: INK, width };
    for (end, start) in [(a, from[0]), (b, from[1])] {
        let begin = if upright { [start, end[1]] } else { [end[0], start] };
        if begin != end {
            shapes.push(line(vec![begin, end]));
        }
    }
    shapes.push(line(vec![a, b]));
    for (tip, other) in [(a, b), (b, a)] {
        shapes.push(arrow(tip, other, text * 0.55));
    }
    let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
    let (at, anchor) = if upright {
        ([a[0] + text * 0.45, middle[1] + text * 0.35], Anchor::Start)
    } else {
        ([middle[0], a[1] + text * 1.15], Anchor::Middle)
    };
    shapes.push(Shape::Text { at, size: text, anchor, text: label.to_owned() });
}

fn arrow(tip: [f32; 2], other: [f32; 2], size: f32) -> Shape {
    let (dx, dy) = (other[0] - tip[0], other[1] - tip[1]);
    let long = (dx * dx + dy * dy).sqrt().max(1e-6);
    // Between near ends the arrow shrinks rather than cross its fellow.
    let size = size.min(long * 0.45);
    let (dx, dy) = (dx / long * size, dy / long * size);
    let back = [tip[0] + dx, tip[1] + dy];
    let ring = vec![tip, [back[0] - dy * 0.28, back[1] + dx * 0.28], [back[0] + dy * 0.28, back[1] - dx * 0.28]];
    Shape::Area { rings: vec![ring], fill: INK, line: INK, width: 0.0 }
}

/// Lowest solid stretch on the axis of the piece: the floor.
fn floor(piece: &Mesh) -> Option<(f64, f64)> {
    let mut at: Vec<f64> = Vec::new();
    for ring in sliced(piece) {
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

/// An edge of a mesh: its corners, the lower index first.
type Edge = (u32, u32);

/// Closed rings (x, z) of the section near y = 0.
fn sliced(mesh: &Mesh) -> Vec<Vec<[f64; 2]>> {
    // From each edge of the mesh that is crossed to the next one, walking each triangle in its own sense.
    let mut next: BTreeMap<Edge, (Edge, [f64; 2])> = BTreeMap::new();
    let above = |v: u32| mesh.vertices[v as usize].y > AXIS;
    for triangle in &mesh.triangles {
        let mut enter = None;
        let mut leave = None;
        for k in 0..3 {
            let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
            let edge = (a.min(b), a.max(b));
            match (above(a), above(b)) {
                (false, true) => enter = Some((edge, crossing(mesh.vertices[a as usize], mesh.vertices[b as usize]))),
                (true, false) => leave = Some(edge),
                _ => {}
            }
        }
        if let (Some((from, at)), Some(to)) = (enter, leave) {
            next.insert(from, (to, at));
        }
    }
    let mut rings = Vec::new();
    while let Some((&start, _)) = next.first_key_value() {
        let mut ring = Vec::new();
        let mut edge = start;
        while let Some((to, at)) = next.remove(&edge) {
            ring.push(at);
            edge = to;
        }
        if ring.len() > 2 {
            rings.push(ring);
        }
    }
    rings
}

fn crossing(a: DVec3, b: DVec3) -> [f64; 2] {
    let p = a.lerp(b, (AXIS - a.y) / (b.y - a.y));
    [p.x, p.z]
}

impl Drawing {
    /// As SVG. `embedded` leaves out the XML declaration.
    pub(crate) fn svg(&self, embedded: bool, title: &str) -> String {
        let mut out = String::new();
        if !embedded {
            out.push_str("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
        }
        let (w, h) = (self.width, self.height);
        let _ = writeln!(
            out,
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w:.2} {h:.2}" width="{w:.2}mm" height="{h:.2}mm" role="img"><title>{}</title>"#,
            xml(title)
        );
        for shape in &self.shapes {
            shape_svg(&mut out, shape);
        }
        out.push_str("</svg>\n");
        out
    }
}

fn shape_svg(out: &mut String, shape: &Shape) {
    let hex = |[r, g, b]: [u8; 3]| format!("#{r:02x}{g:02x}{b:02x}");
    let path = |points: &[[f32; 2]]| -> String {
        points
            .iter()
            .enumerate()
            .map(|(k, [x, y])| format!("{}{x:.3} {y:.3}", if k == 0 { 'M' } else { 'L' }))
            .collect()
    };
    let _ = match shape {
        Shape::Area { rings, fill, line, width } => {
            let d: String = rings.iter().map(|r| path(r) + "Z").collect();
            let (fill, line) = (hex(*fill), hex(*line));
            writeln!(
                out,
                r#"<path d="{d}" fill="{fill}" fill-rule="evenodd" stroke="{line}" stroke-width="{width:.3}"/>"#
            )
        }
        Shape::Line { points, line, width } => {
            writeln!(
                out,
                r#"<path d="{}" fill="none" stroke="{}" stroke-width="{width:.3}"/>"#,
                path(points),
                hex(*line)
            )
        }
        Shape::Text { at: [x, y], size, anchor, text } => {
            let anchor = if *anchor == Anchor::Middle { "middle" } else { "start" };
            writeln!(
                out,
                r#"<text x="{x:.2}" y="{y:.2}" font-size="{size:.2}" text-anchor="{anchor}" font-family="'Source Sans 3', sans-serif" fill="{}">{}</text>"#,
                hex(INK),
                xml(text)
            )
        }
    };
}

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
    fn the_section_of_a_tray_has_its_area() {
        let rings = sliced(&tray());
        assert_eq!(rings.len(), 1);
        let ring = &rings[0];
        let cross = |k: usize| {
            let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
            p[0] * q[1] - p[1] * q[0]
        };
        let area: f64 = (0..ring.len()).map(cross).sum::<f64>() / 2.0;
        assert!((area.abs() - (180.0 * 40.0 - 160.0 * 33.0)).abs() < 1e-6, "{area}");
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
        let svg = section(&plan).unwrap().svg(false, "Section");
        for size in ["180.0 mm", "40.0 mm", "7.0 mm"] {
            assert!(svg.contains(size), "{size}");
        }
        assert!(svg.starts_with("<?xml") && svg.ends_with("</svg>\n"));
    }
}
