//! Drawings seen from above, true to the plan: where a setup's zero, touch-off spot and datums are, where to measure, where
//! the dam stands; and how boards lie in the blank.

use crate::drawing::{Anchor, Drawing, INK, Shape, arrow};
use base::mm;
use geom::slice::level;
use geom::{DAffine3, DVec2, DVec3, Mesh, Region, Ring};
use proof::Map;
use route::Plan;
use workpiece::{Change, Setup};

const PAPER: [u8; 3] = [255, 255, 255];
const SOFT: [u8; 3] = [138, 128, 118];
pub(crate) const MARK: [u8; 3] = [179, 38, 30];
/// Meshes are cut this far below their top, mm.
const BELOW: f64 = 0.013;
/// Chords of the dam's round corners, mm.
const CHORD: f64 = 0.2;

/// A sheet of paper over a stretch of plan.
struct View {
    low: DVec2,
    high: DVec2,
    /// Size of text, mm of the plan.
    text: f32,
    shapes: Vec<Shape>,
}

impl View {
    /// A view that shows the box with room for a line of text all round.
    fn over(low: DVec2, high: DVec2) -> Self {
        let text = ((high - low).max_element() / 21.0) as f32;
        let margin = DVec2::splat(f64::from(text) * 2.0);
        Self { low: low - margin, high: high + margin, text, shapes: Vec::new() }
    }

    fn at(&self, p: DVec2) -> [f32; 2] {
        [(p.x - self.low.x) as f32, (self.high.y - p.y) as f32]
    }

    fn rings(&self, rings: &[Ring]) -> Vec<Vec<[f32; 2]>> {
        rings.iter().map(|ring| ring.0.iter().map(|p| self.at(*p)).collect()).collect()
    }

    fn area(&mut self, rings: &[Ring], fill: [u8; 3]) {
        let width = self.text / 14.0;
        self.shapes.push(Shape::Area { rings: self.rings(rings), fill, line: INK, width });
    }

    fn line(&mut self, points: &[DVec2], line: [u8; 3], width: f32) {
        let points = points.iter().map(|p| self.at(*p)).collect();
        self.shapes.push(Shape::Line { points, line, width: self.text * width });
    }

    /// A closed line.
    fn ring(&mut self, ring: &Ring, line: [u8; 3], width: f32) {
        let closed: Vec<DVec2> = ring.0.iter().chain(ring.0.first()).copied().collect();
        self.line(&closed, line, width);
    }

    fn arrow(&mut self, from: DVec2, to: DVec2) {
        self.line(&[from, to], INK, 0.08);
        self.shapes.push(arrow(self.at(to), self.at(from), self.text * 0.7));
    }

    fn dot(&mut self, at: DVec2, radius: f64, fill: [u8; 3]) {
        let corner = |k: usize| at + DVec2::from_angle(std::f64::consts::TAU * k as f64 / 24.0) * radius;
        let ring = Ring((0..24).map(corner).collect());
        self.shapes.push(Shape::Area { rings: self.rings(&[ring]), fill, line: INK, width: self.text / 16.0 });
    }

    /// A text whose middle lies at the place, and no farther out than the paper.
    fn text(&mut self, at: DVec2, text: &str) {
        let [x, y] = self.at(at);
        // About half the width of the letters; the typeface is not known here.
        let half = text.chars().count() as f32 * self.text * 0.25;
        let width = (self.high.x - self.low.x) as f32;
        let x = x.min(width - half).max(half.min(width / 2.0));
        let size = self.text;
        self.shapes.push(Shape::Text { at: [x, y + size * 0.35], size, anchor: Anchor::Middle, text: text.to_owned() });
    }

    fn drawing(self) -> Drawing {
        let size = self.high - self.low;
        Drawing { width: size.x as f32, height: size.y as f32, shapes: self.shapes }
    }
}

pub(crate) fn pale(c: [u8; 3]) -> [u8; 3] {
    c.map(|v| 255 - ((255 - u16::from(v)) * 2 / 5) as u8)
}

/// Just below the top of a mesh.
fn top(mesh: &Mesh) -> Option<Region> {
    let (_, high) = mesh.bounds()?;
    Some(level(mesh, high.z - BELOW))
}

/// The setup seen from above: stock, outline of the piece under it, in the program's frame.
struct Above {
    view: View,
    to_program: DAffine3,
    stock: [DVec2; 2],
}

impl Above {
    fn new(plan: &Plan, setup: &Setup, with: DVec2) -> Self {
        let columns = glam::DMat4::from_cols_array(&setup.program_to_piece).transpose();
        let to_program = DAffine3::from_mat4(columns).inverse();
        let plane = |p: [f64; 3]| DVec2::new(p[0], p[1]);
        let (low, high) = (plane(setup.stock.min), plane(setup.stock.max));
        let mut above = Self { view: View::over(low.min(with), high.max(with)), to_program, stock: [low, high] };
        above.view.area(&Region::rectangle(low, high).rings, pale(plan.wood_colour));
        if let Some(section) = plan.models.get("models/piece").and_then(top) {
            for ring in &section.rings {
                let moved = Ring(ring.0.iter().map(|p| above.place(p.extend(0.0))).collect());
                above.view.ring(&moved, SOFT, 0.07);
            }
        }
        above
    }

    /// A point of the piece in the plan of the program.
    fn place(&self, p: DVec3) -> DVec2 {
        self.to_program.transform_point3(p).truncate()
    }

    /// Edges B and C, which lie on the −Y and −X sides of the piece as it stands.
    fn datums(&mut self, notched: bool) {
        let [low, high] = self.stock;
        let half = (high - low) / 2.0;
        let turn = |d: DVec3| self.to_program.transform_vector3(d).truncate();
        let (b, c) = (turn(DVec3::NEG_Y), turn(DVec3::NEG_X));
        let gap = f64::from(self.view.text) * 0.9;
        let middle = (low + high) / 2.0;
        for (name, side) in [("B", b), ("C", c)] {
            self.view.text(middle + side * (half + gap) - side.perp() * half * 0.55, name);
        }
        let corner = middle + (b + c) * half;
        let into = -(b + c) * f64::from(self.view.text) * 1.3;
        let mark = Ring(vec![corner, corner + DVec2::new(into.x, 0.0), corner + DVec2::new(0.0, into.y)]);
        self.view.area(&[mark], SOFT);
        if notched {
            let label = DVec2::new(into.x * 1.6, into.y * 1.5);
            self.view.text(corner + label, "notch");
        }
    }
}

/// A plan without words: the work as it lies in a setup, or the piece seen from its rim.
pub(crate) struct Plain(Above);

/// The plan of a setup, or of the piece.
pub(crate) fn plain(plan: &Plan, setup: Option<&Setup>) -> Plain {
    if let Some(setup) = setup {
        return Plain(Above::new(plan, setup, DVec2::ZERO));
    }
    let piece = plan.models.get("models/piece");
    let (low, high) = piece.and_then(Mesh::bounds).unwrap_or_default();
    let (low, high) = (low.truncate(), high.truncate());
    let mut above = Above { view: View::over(low, high), to_program: DAffine3::IDENTITY, stock: [low, high] };
    let middle = piece.map(silhouette).unwrap_or_default();
    above.view.area(&middle.rings, pale(plan.wood_colour));
    if let Some(section) = piece.and_then(top) {
        section.rings.iter().for_each(|ring| above.view.ring(ring, SOFT, 0.07));
    }
    Plain(above)
}

/// What a mesh covers in plan, by a few level sections of it.
fn silhouette(mesh: &Mesh) -> Region {
    let Some((low, high)) = mesh.bounds() else { return Region::default() };
    let at = |k: usize| low.z + (high.z - low.z) * (k as f64 + 0.4977) / 8.0;
    let outer = |region: Region| Region { rings: region.rings.into_iter().filter(|r| r.area() > 0.0).collect() };
    (0..8).map(|k| outer(level(mesh, at(k)))).fold(Region::default(), |all, r| all.union(&r))
}

impl Plain {
    /// Lays the cells of a map over the work, in the colours of their figures.
    pub(crate) fn cells(&mut self, map: &Map, colour: &dyn Fn(f64) -> [u8; 3]) {
        let ny = map.values.len() / map.nx.max(1);
        let rows = (0..ny).rev().flat_map(|iy| &map.values[iy * map.nx..][..map.nx]);
        let colours = rows.map(|v| v.map(|v| colour(f64::from(v)))).collect();
        let corner = DVec2::from_array(map.first) - map.pitch / 2.0 + DVec2::new(0.0, map.pitch * ny as f64);
        let size = [map.nx as f32 * map.pitch as f32, ny as f32 * map.pitch as f32];
        let cells = Shape::Cells { at: self.0.view.at(corner), size, nx: map.nx, colours };
        // Above the work, below the outlines.
        self.0.view.shapes.insert(1, cells);
    }

    /// A cross over a place of the piece.
    pub(crate) fn cross(&mut self, at: [f64; 3]) {
        let view = &self.0.view;
        let marks = cross_at(view.at(self.0.place(DVec3::from_array(at))), view.text * 1.2);
        self.0.view.shapes.extend(marks);
    }

    pub(crate) fn drawing(self) -> Drawing {
        self.0.view.drawing()
    }
}

/// A cross that leaves its middle free, on white so that it shows on every colour.
pub(crate) fn cross_at([x, y]: [f32; 2], size: f32) -> Vec<Shape> {
    let arm = |[dx, dy]: [f32; 2]| {
        let from = [x + dx * size * 0.3, y + dy * size * 0.3];
        vec![from, [x + dx * size, y + dy * size]]
    };
    let arms = [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]].map(arm);
    let drawn = |line: [u8; 3], width: f32| arms.clone().map(|points| Shape::Line { points, line, width });
    drawn(PAPER, size * 0.34).into_iter().chain(drawn(MARK, size * 0.16)).collect()
}

/// Whether a notch marks the corner of B and C.
fn notched(plan: &Plan) -> bool {
    plan.setups.iter().any(|s| s.id == "cavity")
}

/// Where the zero of a setup is, and where to touch off.
pub(crate) fn zero(plan: &Plan, setup: &Setup) -> Drawing {
    let spot = DVec2::new(setup.reference_spot.at[0], setup.reference_spot.at[1]);
    // Room for the words beside the spot.
    let mut above = Above::new(plan, setup, spot * 1.06);
    above.datums(notched(plan));
    let [low, high] = above.stock;
    let view = &mut above.view;
    let reach = (high - low).min_element() * 0.24;
    for (name, axis) in [("X", DVec2::X), ("Y", DVec2::Y)] {
        view.arrow(DVec2::ZERO, axis * reach);
        view.text(axis * (reach + f64::from(view.text) * 0.8), name);
    }
    let step = f64::from(view.text);
    view.dot(DVec2::ZERO, step * 0.28, PAPER);
    view.text(DVec2::new(-step * 1.6, -step), "X 0, Y 0");
    view.dot(spot, step * 0.42, MARK);
    view.text(spot - DVec2::new(0.0, step * 1.25), "touch off");
    above.view.drawing()
}

/// Where an indicator touches the work of a setup: 1 and 2 along the edge in front, 3 and 4 left and right, 1 and 5 front and back,
/// 6 to 9 from above at the middles of the edges.
pub(crate) fn contacts(plan: &Plan, setup: &Setup) -> Drawing {
    let mut above = Above::new(plan, setup, DVec2::ZERO);
    let [low, high] = above.stock;
    let middle = (low + high) / 2.0;
    let apart = setup.alignment.as_ref().map_or(0.0, |found| found.edge_apart);
    let view = &mut above.view;
    let step = f64::from(view.text);
    let touches = [
        ("1", DVec2::new(middle.x - apart / 2.0, low.y), DVec2::Y),
        ("2", DVec2::new(middle.x + apart / 2.0, low.y), DVec2::Y),
        ("3", DVec2::new(low.x, middle.y), DVec2::X),
        ("4", DVec2::new(high.x, middle.y), DVec2::NEG_X),
        ("5", DVec2::new(middle.x, high.y), DVec2::NEG_Y),
    ];
    for (name, at, way) in touches {
        view.arrow(at - way * step * 1.1, at);
        view.text(at + way * step * 0.9, name);
    }
    let half = (high - low) / 2.0 - 2.4 * step;
    for (name, side) in [("6", DVec2::X), ("7", DVec2::Y), ("8", DVec2::NEG_X), ("9", DVec2::NEG_Y)] {
        let at = middle + side * half;
        view.dot(at, step * 0.3, PAPER);
        view.text(at - side * step * 1.1, name);
    }
    above.view.drawing()
}

/// The places to measure after a setup, numbered as in its table.
pub(crate) fn inspect(plan: &Plan, setup: &Setup) -> Drawing {
    let mut above = Above::new(plan, setup, DVec2::ZERO);
    above.datums(notched(plan));
    let mut told: Vec<(DVec2, String)> = Vec::new();
    for (k, point) in setup.inspect.iter().enumerate() {
        let at = above.place(DVec3::from_array(point.at));
        let number = (k + 1).to_string();
        // What is measured at one place shares its dot.
        match told.iter_mut().find(|(p, _)| p.distance(at) < f64::from(above.view.text) * 1.5) {
            Some((_, numbers)) => *numbers += &format!(", {number}"),
            None => told.push((at, number)),
        }
    }
    let view = &mut above.view;
    for (at, numbers) in told {
        let step = f64::from(view.text);
        view.dot(at, step * 0.35, MARK);
        view.text(at + DVec2::new(0.0, step * 1.05), &numbers);
    }
    above.view.drawing()
}

/// The hollow of a cast, its dam and where to pour, in the setup that carved it.
pub(crate) fn dam(plan: &Plan, cast: usize, setup: &Setup) -> Option<Drawing> {
    let named = &plan.casts.get(cast)?;
    let mouth = top(plan.models.get(&format!("models/cast-{}-hollow", named.name))?)?;
    let (from, offset) = plan.steps.iter().find_map(|s| match &s.change {
        Some(Change::Pour { cast: c, from, dam_offset, .. }) if usize::from(*c) == cast => Some((from, *dam_offset)),
        _ => None,
    })?;
    let mut above = Above::new(plan, setup, DVec2::ZERO);
    above.datums(notched(plan));
    let place = |ring: &Ring| Ring(ring.0.iter().map(|p| above.place(p.extend(0.0))).collect());
    let hollow: Vec<Ring> = mouth.rings.iter().map(place).collect();
    let ring: Vec<Ring> = mouth.offset(offset, CHORD).rings.iter().map(place).collect();
    let points: Vec<DVec2> = from.iter().map(|p| above.place(DVec3::new(p[0], p[1], 0.0))).collect();
    let view = &mut above.view;
    view.area(&hollow, named.colour);
    if offset > 0.0 {
        ring.iter().for_each(|r| view.ring(r, MARK, 0.22));
    }
    let step = f64::from(view.text);
    points.iter().for_each(|&at| view.dot(at, step * 0.35, PAPER));
    view.text(DVec2::ZERO, if points.len() > 1 { "pour at the white dots first" } else { "pour at the white dot" });
    Some(above.view.drawing())
}

/// The boards in the blank, seen from its end.
pub(crate) fn layup(plan: &Plan) -> Option<Drawing> {
    let (low, high) = plan.blank.bounds();
    let end = |p: [f64; 3]| DVec2::new(p[1], p[2]);
    let (low, high) = (end(low), end(high));
    if !(high - low).cmpgt(DVec2::ZERO).all() {
        return None;
    }
    let mut view = View::over(low, high);
    for board in &plan.blank.boards {
        view.area(&Region::rectangle(end(board.min), end(board.max)).rings, pale(plan.wood_colour));
        let middle = (end(board.min) + end(board.max)) / 2.0;
        let width = board.max[1] - board.min[1];
        let label = mm(width).print(plan.units);
        // A narrow strip has no room for its size; the cut list has it.
        if label.chars().count() as f64 * 0.5 * f64::from(view.text) < width {
            view.text(middle, &label);
        }
    }
    let step = f64::from(view.text);
    let size = |length: f64| mm(length).print(plan.units);
    let text = format!("{} wide, {} thick", size(high.x - low.x), size(high.y - low.y));
    view.text(DVec2::new((low.x + high.x) / 2.0, high.y + step), &text);
    view.text(DVec2::new((low.x + high.x) / 2.0, low.y - step), "end grain towards you; long edge B on the left");
    Some(view.drawing())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    fn texts(drawing: &Drawing) -> Vec<&str> {
        let text = |s: &'_ Shape| if let Shape::Text { text, .. } = s { Some(text.len()) } else { None };
        assert!(drawing.shapes.iter().filter_map(text).all(|n| n > 0));
        drawing
            .shapes
            .iter()
            .filter_map(|s| if let Shape::Text { text, .. } = s { Some(text.as_str()) } else { None })
            .collect()
    }

    #[test]
    fn the_views_name_what_they_show_and_stay_on_their_paper() {
        let plan = fixture::plan();
        for setup in &plan.setups {
            let (zero, measured, touched) = (zero(&plan, setup), inspect(&plan, setup), contacts(&plan, setup));
            for word in ["X 0, Y 0", "touch off", "B", "C"] {
                assert!(texts(&zero).contains(&word), "{word} in {:?}", texts(&zero));
            }
            if !setup.inspect.is_empty() {
                assert!(texts(&measured).iter().any(|t| t.starts_with('1')), "{:?}", texts(&measured));
            }
            for number in 1..=9 {
                assert!(texts(&touched).contains(&number.to_string().as_str()), "{:?}", texts(&touched));
            }
            for drawing in [zero, measured, touched] {
                let on =
                    |p: &[f32; 2]| p[0] >= -1e-3 && p[1] >= -1e-3 && p[0] <= drawing.width && p[1] <= drawing.height;
                assert!(drawing.shapes.iter().all(|s| match s {
                    Shape::Area { rings, .. } => rings.iter().flatten().all(on),
                    Shape::Line { points, .. } => points.iter().all(on),
                    Shape::Cells { at, size, .. } => on(at) && on(&[at[0] + size[0], at[1] + size[1]]),
                    Shape::Text { at, .. } => on(at),
                }));
            }
        }
        assert!(texts(&layup(&plan).unwrap()).iter().any(|t| t.contains("thick")));
    }
}
