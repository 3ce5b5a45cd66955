//! The cut layout of the boards at hand: all boards to one scale, parts, kerfs in the order of the cuts, defects, what is kept.

use crate::drawing::{Anchor, Drawing, INK, Shape, arrow};
use crate::plan_view::{MARK, pale};
use base::mm;
use route::{BoardLayout, Plan};

/// Width of the drawing and height of texts, mm on paper.
const WIDTH: f32 = 176.0;
const TEXT: f32 = 3.0;
/// Room over each board for its name and the numbers of cuts.
const OVER: f32 = 4.6 * TEXT;
/// Room below the last for the scale.
const BELOW: f32 = 3.4 * TEXT;
const WASTE: [u8; 3] = [214, 208, 200];
const KEPT: [u8; 3] = [255, 255, 255];
const DEFECT: [u8; 3] = [92, 78, 66];

/// Draws the boards; none without boards at hand.
pub(crate) fn cut_layout(plan: &Plan) -> Option<Drawing> {
    let longest = plan.layouts.iter().map(|b| b.length).max_by(f64::total_cmp)?;
    let scale = f64::from(WIDTH - 2.0) / longest;
    let mut shapes = Vec::new();
    let mut top = 0.0;
    for (k, board) in plan.layouts.iter().enumerate() {
        let sheet = Sheet { scale, low: [1.0, top + OVER], board };
        sheet.draw(k + 1, plan, &mut shapes);
        top += OVER + (board.width * scale) as f32;
    }
    scale_bar(&mut shapes, scale, [1.0, top + TEXT], plan);
    Some(Drawing { width: WIDTH, height: top + BELOW, shapes })
}

/// A board on paper. Its first end is on the left, its first edge on top.
struct Sheet<'a> {
    scale: f64,
    low: [f32; 2],
    board: &'a BoardLayout,
}

impl Sheet<'_> {
    fn at(&self, along: f64, across: f64) -> [f32; 2] {
        [self.low[0] + (along * self.scale) as f32, self.low[1] + (across * self.scale) as f32]
    }

    fn area(&self, along: [f64; 2], across: [f64; 2], fill: [u8; 3]) -> Shape {
        let corners = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(x, y)| self.at(along[x], across[y]));
        Shape::Area { rings: vec![corners.to_vec()], fill, line: INK, width: 0.18 }
    }

    /// A text in the middle of a stretch, if there is room for it.
    fn label(&self, along: [f64; 2], across: [f64; 2], lines: &[String], shapes: &mut Vec<Shape>) {
        let [x0, y0] = self.at(along[0], across[0]);
        let [x1, y1] = self.at(along[1], across[1]);
        let longest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0).max(1) as f32;
        let size = TEXT.min((x1 - x0) / (0.56 * longest)).min((y1 - y0) / (1.2 * lines.len() as f32));
        // Smaller than this nobody reads; the list below has the sizes.
        if size < 0.5 * TEXT {
            return;
        }
        let first = (y0 + y1) / 2.0 - 0.6 * size * (lines.len() as f32 - 1.0) + 0.35 * size;
        shapes.extend(lines.iter().zip(0_u8..).map(|(text, k)| Shape::Text {
            at: [(x0 + x1) / 2.0, first + 1.2 * size * f32::from(k)],
            size,
            anchor: Anchor::Middle,
            text: text.clone(),
        }));
    }

    fn draw(&self, number: usize, plan: &Plan, shapes: &mut Vec<Shape>) {
        let (board, whole) = (self.board, [0.0, self.board.width]);
        let text = |at: [f32; 2], text: String| Shape::Text { at, size: TEXT, anchor: Anchor::Start, text };
        let name = format!("Board {number}: {}", board.board);
        shapes.push(text([self.low[0], self.low[1] - 2.6 * TEXT], name));
        shapes.push(self.area([0.0, board.length], whole, WASTE));
        for [along, across] in &board.offcuts {
            shapes.push(self.area(*along, *across, KEPT));
            self.label(*along, *across, &["keep".to_owned()], shapes);
        }
        let print = |size: f64| mm(size).print(plan.units);
        for part in &board.parts {
            shapes.push(self.area(part.along, part.across, pale(plan.wood_colour)));
            let Some(line) = plan.cuts.get(part.line - 1) else { continue };
            let lines = [format!("no. {}", part.line), format!("{} × {}", print(line.length), print(line.width))];
            self.label(part.along, part.across, &lines, shapes);
        }
        for defect in &board.defects {
            let within = |range: [f64; 2], most: f64| range.map(|v| v.min(most));
            shapes.push(self.area(within(defect.along, board.length), within(defect.across, board.width), DEFECT));
        }
        self.cuts(shapes);
        // The grain.
        let y = self.low[1] - 1.0 * TEXT;
        let [right, _] = self.at(board.length, 0.0);
        let long = 12.0_f32.min(right - self.low[0]);
        let (from, to) = ([right - long, y], [right, y]);
        shapes.push(Shape::Line { points: vec![from, to], line: INK, width: 0.2 });
        shapes.push(arrow(to, from, TEXT * 0.6));
        shapes.push(Shape::Text {
            at: [right - long - 5.0, y + 0.3 * TEXT],
            size: 0.8 * TEXT,
            anchor: Anchor::Middle,
            text: "grain".into(),
        });
    }

    /// Cuts as red lines in their kerfs, numbered at their ends: crosscuts above, rips at the left of their section.
    fn cuts(&self, shapes: &mut Vec<Shape>) {
        let board = self.board;
        for end in [board.ends, board.length - board.ends] {
            let points = vec![self.at(end, 0.0), self.at(end, board.width)];
            shapes.push(Shape::Line { points, line: MARK, width: 0.25 });
        }
        for (k, cut) in board.cuts.iter().enumerate() {
            let middle = cut.at + board.kerf / 2.0;
            let (from, to) = match cut.rip {
                true => (self.at(cut.along[0], middle), self.at(cut.along[1], middle)),
                false => (self.at(middle, cut.across[0]), self.at(middle, cut.across[1])),
            };
            shapes.push(Shape::Line { points: vec![from, to], line: MARK, width: 0.35 });
            let at = if cut.rip { [from[0] + 1.6, from[1]] } else { [from[0], from[1] + 1.6] };
            let size = 0.72 * TEXT;
            let corner = |k: usize| {
                let angle = std::f32::consts::TAU * k as f32 / 20.0;
                [at[0] + 1.35 * angle.cos(), at[1] + 1.35 * angle.sin()]
            };
            shapes.push(Shape::Area { rings: vec![(0..20).map(corner).collect()], fill: KEPT, line: MARK, width: 0.2 });
            let text = (k + 1).to_string();
            shapes.push(Shape::Text { at: [at[0], at[1] + 0.35 * size], size, anchor: Anchor::Middle, text });
        }
    }
}

/// A bar of a round length, so that the drawing can be measured.
fn scale_bar(shapes: &mut Vec<Shape>, scale: f64, at: [f32; 2], plan: &Plan) {
    let step = if plan.units == base::Units::In { 254.0 } else { 200.0 };
    let end = at[0] + (step * scale) as f32;
    for points in [vec![at, [end, at[1]]], vec![at, [at[0], at[1] - 1.0]], vec![[end, at[1]], [end, at[1] - 1.0]]] {
        shapes.push(Shape::Line { points, line: INK, width: 0.3 });
    }
    let text = format!(
        "{}   red: cuts in their order   grey: waste   dark: defect   white: worth keeping",
        mm(step).print(plan.units)
    );
    shapes.push(Shape::Text { at: [at[0], at[1] + 1.3 * TEXT], size: 0.85 * TEXT, anchor: Anchor::Start, text });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Everything is drawn within the paper, and to one scale: a part of 180 mm on a board of 900 mm is a fifth of it long.
    #[test]
    fn boards_are_drawn_to_scale() {
        let plan = fixture::plan();
        let drawing = cut_layout(&plan).unwrap();
        let on = |p: &[f32; 2]| p[0] >= 0.0 && p[0] <= drawing.width && p[1] >= 0.0 && p[1] <= drawing.height;
        let width = |rings: &[Vec<[f32; 2]>]| {
            let x: Vec<f32> = rings.iter().flatten().map(|p| p[0]).collect();
            x.iter().copied().fold(f32::MIN, f32::max) - x.iter().copied().fold(f32::MAX, f32::min)
        };
        let mut widths = Vec::new();
        for shape in &drawing.shapes {
            match shape {
                Shape::Area { rings, .. } => {
                    assert!(rings.iter().flatten().all(on));
                    widths.push(width(rings));
                }
                Shape::Line { points, .. } => assert!(points.iter().all(on)),
                Shape::Text { at, .. } => assert!(on(at)),
                Shape::Cells { .. } => {}
            }
        }
        let whole = widths.iter().copied().fold(0.0, f32::max);
        assert!((whole - (WIDTH - 2.0)).abs() < 0.01);
        let part = &plan.layouts[0].parts[0];
        let want = whole * ((part.along[1] - part.along[0]) / plan.layouts[0].length) as f32;
        assert!(widths.iter().any(|w| (w - want).abs() < 0.01), "{want} in {widths:?}");
        let mut bare = plan;
        bare.layouts.clear();
        assert!(cut_layout(&bare).is_none());
    }
}
