//! Line drawings: shapes on a sheet, dimensions, and how they become SVG. HTML and PDF take the same shapes.

use crate::html::base64;
use crate::picture::png_bytes;
use crate::threemf::xml;
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
    /// Cells of one colour each, row by row from the top; without a colour what lies beneath shows.
    Cells { at: [f32; 2], size: [f32; 2], nx: usize, colours: Vec<Option<[u8; 3]>> },
    /// A text.
    Text { at: [f32; 2], size: f32, anchor: Anchor, text: String },
}

pub(crate) const INK: [u8; 3] = [40, 36, 32];

/// A dimension line with arrowheads, its extension lines and its text. `from` is where the extension lines begin (y for
/// a level dimension, x for an upright one).
pub(crate) fn dimension(shapes: &mut Vec<Shape>, a: [f32; 2], b: [f32; 2], from: [f32; 2], text: f32, label: &str) {
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

pub(crate) fn arrow(tip: [f32; 2], other: [f32; 2], size: f32) -> Shape {
    let (dx, dy) = (other[0] - tip[0], other[1] - tip[1]);
    let long = (dx * dx + dy * dy).sqrt().max(1e-6);
    // Between near ends the arrow shrinks rather than cross its fellow.
    let size = size.min(long * 0.45);
    let (dx, dy) = (dx / long * size, dy / long * size);
    let back = [tip[0] + dx, tip[1] + dy];
    let ring = vec![tip, [back[0] - dy * 0.28, back[1] + dx * 0.28], [back[0] + dy * 0.28, back[1] - dx * 0.28]];
    Shape::Area { rings: vec![ring], fill: INK, line: INK, width: 0.0 }
}

impl Drawing {
    /// Its shapes, made larger by `scale` and moved so that its upper left corner lies at `to`.
    pub(crate) fn placed(self, scale: f32, to: [f32; 2]) -> Vec<Shape> {
        let put = |p: &mut [f32; 2]| *p = [to[0] + p[0] * scale, to[1] + p[1] * scale];
        let mut shapes = self.shapes;
        for shape in &mut shapes {
            match shape {
                Shape::Area { rings, width, .. } => {
                    rings.iter_mut().flatten().for_each(put);
                    *width *= scale;
                }
                Shape::Line { points, width, .. } => {
                    points.iter_mut().for_each(put);
                    *width *= scale;
                }
                Shape::Cells { at, size, .. } => {
                    put(at);
                    *size = size.map(|v| v * scale);
                }
                Shape::Text { at, size, .. } => {
                    put(at);
                    *size *= scale;
                }
            }
        }
        shapes
    }

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

/// A cell as red, green, blue and opacity.
pub(crate) fn rgba(colour: Option<[u8; 3]>) -> [u8; 4] {
    colour.map_or([0; 4], |[r, g, b]| [r, g, b, 255])
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
        Shape::Cells { at: [x, y], size: [w, h], nx, colours } => {
            let pixels: Vec<u8> = colours.iter().flat_map(|c| rgba(*c)).collect();
            let ny = colours.len() / nx.max(&1);
            // Written in memory, pixels of a known number can't fail to become a PNG.
            let data = base64(&png_bytes(&pixels, *nx, ny, png::ColorType::Rgba).unwrap_or_default());
            writeln!(
                out,
                r#"<image x="{x:.2}" y="{y:.2}" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none" style="image-rendering:pixelated" href="data:image/png;base64,{data}"/>"#
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
