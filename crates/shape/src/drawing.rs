//! Drawings: the lines and curves of an SVG file (SVG 1.1, SVG 2), in mm, y up.
//!
//! Read are the basic shapes and paths with groups, `use`, nested `svg`, transforms, view boxes and units (a unit of no name is a
//! CSS pixel, 1/96 in). What can't be read (text, pictures) is named, so that nobody thinks it was. Style sheets are not read;
//! attributes and `style` are. Nothing outside the file is ever looked up.

use geom::{DVec2, Fill, Region, Ring};
use kurbo::{Affine, Arc, Point, Shape, SvgArc, Vec2};
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeMap;
use std::str::FromStr;
use svgtypes::{AspectRatio, LengthUnit, NumberListParser, PathParser, PathSegment, Transform, ViewBox};

/// Millimetres of a CSS pixel (CSS Values and Units 4, section 6.2).
const PIXEL: f64 = 25.4 / 96.0;
/// Height of a font where a length is given in `em`, pixels (the usual `medium`).
const EM: f64 = 16.0;
/// Curves stand for arcs within this share of their radius.
const ARC_SHARE: f64 = 1e-7;
/// Nothing is drawn farther away, mm.
const FARTHEST: f64 = 1e5;
/// The most elements that are looked at, repeated ones counted each time.
const MOST_ELEMENTS: usize = 100_000;
/// The most lines and curves in all.
const MOST_SEGMENTS: usize = 400_000;
/// Elements lie in each other no deeper.
const DEEPEST: usize = 256;
/// What entities may unfold to, bytes.
const MOST_UNFOLDED: usize = 16 << 20;
/// What may be carved of a drawing: so many shapes, and so many chords of its curves.
const MOST_SHAPES: usize = 2000;
const MOST_CHORDS: usize = 200_000;
/// Ends nearer than this close a contour, mm.
const CLOSED: f64 = 0.01;

/// A file's shapes, in its order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// What was drawn.
    pub shapes: Vec<Shaped>,
    /// Kinds of elements that were left out, such as `text`, each once.
    pub left_out: Vec<String>,
}

/// One shape.
#[derive(Clone, Debug, PartialEq)]
pub struct Shaped {
    /// Its `id`, if it has one.
    pub id: Option<String>,
    /// Its kind and number among those of its kind: `path 3`.
    pub number: String,
    /// Its contours.
    pub contours: Vec<Contour>,
    /// How it is filled; `None` if it is not.
    pub fill: Option<Fill>,
    /// Width of its stroke, mm; `None` if it has none.
    pub stroke: Option<f64>,
}

/// Lines and curves end to end.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// The control points of each: a line's are spaced evenly.
    pub segments: Vec<[DVec2; 4]>,
    /// Whether its end meets its start.
    pub closed: bool,
}

/// Why a file is no drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoDrawing(pub String);

type Outcome<T> = Result<T, NoDrawing>;

fn no<T>(why: impl Into<String>) -> Outcome<T> {
    Err(NoDrawing(why.into()))
}

impl Shaped {
    /// What it is called, for messages.
    pub fn name(&self) -> String {
        self.id.as_ref().map_or_else(|| self.number.clone(), |id| format!("\"{}\"", clip(id)))
    }
}

/// Chords of a curve within a tolerance: a chord is off by an eighth of the second derivative by the square of its share.
fn chords([a, b, c, d]: &[DVec2; 4], tolerance: f64) -> usize {
    let bend = 6.0 * (*a - 2.0 * *b + *c).length().max((*b - 2.0 * *c + *d).length());
    (bend / (8.0 * tolerance)).sqrt().ceil().clamp(1.0, MOST_CHORDS as f64) as usize
}

impl Contour {
    /// Points along it, its curves as chords within a tolerance.
    pub fn flattened(&self, tolerance: f64) -> Vec<DVec2> {
        let mut points: Vec<DVec2> = self.segments.first().map(|s| s[0]).into_iter().collect();
        for segment in &self.segments {
            let (&[a, b, c, d], n) = (segment, chords(segment, tolerance));
            points.extend((1..=n).map(|k| {
                let t = k as f64 / n as f64;
                let (p, q, r) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
                p.lerp(q, t).lerp(q.lerp(r, t), t)
            }));
        }
        points
    }
}

impl Drawing {
    /// What is filled and stroked, as a region within a tolerance.
    ///
    /// # Errors
    /// [`NoDrawing`] if that is far too intricate to be carved.
    pub fn region(&self, tolerance: f64) -> Outcome<Region> {
        let contours = || self.shapes.iter().flat_map(|s| &s.contours);
        let chords: usize = contours().flat_map(|c| &c.segments).map(|s| chords(s, tolerance)).sum();
        if self.shapes.len() > MOST_SHAPES || chords > MOST_CHORDS {
            return no("is far too intricate to be carved");
        }
        let mut all = Region::default();
        for shape in &self.shapes {
            if let Some(fill) = shape.fill {
                let rings = shape.contours.iter().map(|c| Ring(c.flattened(tolerance))).collect();
                all = all.union(&Region::drawn(rings, fill));
            }
            if let Some(width) = shape.stroke {
                all = all.union(&stroked(&shape.contours, width, tolerance));
            }
        }
        Ok(all)
    }
}

/// What a round pen of a width covers.
fn stroked(contours: &[Contour], width: f64, tolerance: f64) -> Region {
    let mut path = kurbo::BezPath::new();
    for contour in contours {
        let at = |p: DVec2| Point::new(p.x, p.y);
        let Some(first) = contour.segments.first() else { continue };
        path.move_to(at(first[0]));
        contour.segments.iter().for_each(|&[_, b, c, d]| path.curve_to(at(b), at(c), at(d)));
        if contour.closed {
            path.close_path();
        }
    }
    let pen = kurbo::Stroke::new(width).with_caps(kurbo::Cap::Round).with_join(kurbo::Join::Round);
    let outline = kurbo::stroke(path, &pen, &kurbo::StrokeOpts::default(), tolerance);
    let mut rings: Vec<Ring> = Vec::new();
    kurbo::flatten(outline.path_elements(tolerance), tolerance, |element| match element {
        kurbo::PathEl::MoveTo(p) => rings.push(Ring(vec![DVec2::new(p.x, p.y)])),
        kurbo::PathEl::LineTo(p) => rings.iter_mut().last().into_iter().for_each(|r| r.0.push(DVec2::new(p.x, p.y))),
        _ => (),
    });
    Region::drawn(rings, Fill::NonZero)
}

/// Reads the text of an SVG file.
///
/// # Errors
/// [`NoDrawing`] if it is no SVG, its path data is broken, or it is made to do harm.
pub fn read(bytes: &[u8]) -> Outcome<Drawing> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return no(match bytes {
            [0x1f, 0x8b, ..] => "is packed (SVGZ); unpack it first",
            _ => "is no text in UTF-8",
        });
    };
    looks_harmless(text)?;
    let options =
        ParsingOptions { allow_dtd: true, nodes_limit: 4 * MOST_ELEMENTS as u32, ..ParsingOptions::default() };
    let document = match Document::parse_with_options(text, options) {
        Ok(document) => document,
        Err(why) => return no(format!("is no XML: {why}")),
    };
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return no(format!("is XML, but no SVG: its root is <{}>", clip(root.tag_name().name())));
    }
    let mut named = BTreeMap::new();
    for node in document.descendants() {
        if let Some(id) = node.attribute("id") {
            named.entry(id).or_insert(node);
        }
    }
    let mut reader = Reader { named, drawing: Drawing::default(), elements: 0, segments: 0, counts: BTreeMap::new() };
    let to_page = reader.viewport(root, true)?;
    // The page's y runs down.
    let up = Affine::new([PIXEL, 0.0, 0.0, -PIXEL, 0.0, 0.0]);
    let style = Style { fill: true, rule: Fill::NonZero, stroke: false, width: 1.0 };
    reader.children(root, Place { to_page: up * to_page, style: style.of(root)?, depth: 0 })?;
    Ok(reader.drawing)
}

/// Depth and entities are looked at before the text is parsed.
fn looks_harmless(text: &str) -> Outcome<()> {
    let (mut depth, mut deepest) = (0_usize, 0);
    for part in text.split('<').skip(1) {
        if part.starts_with('/') {
            depth = depth.saturating_sub(1);
        } else if !part.starts_with(['!', '?']) && !part.split('>').next().is_some_and(|tag| tag.ends_with('/')) {
            depth += 1;
        }
        deepest = deepest.max(depth);
    }
    if deepest > 4 * DEEPEST {
        return no("has elements within elements far too deep");
    }
    let longest = text.split("<!ENTITY").skip(1).map(|part| part.find('>').unwrap_or(part.len())).max().unwrap_or(0);
    // An entity may name others up to 255 times in all.
    let unfolded = text.matches('&').count().saturating_mul(255).saturating_mul(longest);
    if unfolded > MOST_UNFOLDED {
        return no("declares entities that unfold to far too much");
    }
    Ok(())
}

/// At most 40 characters, on one line.
fn clip(text: &str) -> String {
    text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// What an element inherits of paint.
#[derive(Clone, Copy, Debug)]
struct Style {
    fill: bool,
    rule: Fill,
    stroke: bool,
    /// Pixels.
    width: f64,
}

impl Style {
    fn of(mut self, node: Node<'_, '_>) -> Outcome<Self> {
        let painted = |value: &str, before: bool| match value.trim() {
            "none" | "transparent" => false,
            "inherit" => before,
            _ => true,
        };
        if let Some(value) = property(node, "fill") {
            self.fill = painted(value, self.fill);
        }
        if let Some(value) = property(node, "stroke") {
            self.stroke = painted(value, self.stroke);
        }
        match property(node, "fill-rule").map(str::trim) {
            Some("evenodd") => self.rule = Fill::EvenOdd,
            Some("nonzero") => self.rule = Fill::NonZero,
            _ => (),
        }
        if let Some(value) = property(node, "stroke-width").filter(|v| v.trim() != "inherit") {
            self.width = pixels(value, 0.0)?;
        }
        Ok(self)
    }
}

/// A property from `style`, which comes first, or an attribute.
fn property<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    let declared =
        |part: &'a str| part.split_once(':').filter(|(key, _)| key.trim() == name).map(|(_, value)| value.trim());
    let style = node.attribute("style").and_then(|style| style.split(';').rev().find_map(declared));
    style.or_else(|| node.attribute(name))
}

/// A length in pixels; `whole` is what percents are of.
fn pixels(text: &str, whole: f64) -> Outcome<f64> {
    let Ok(length) = svgtypes::Length::from_str(text.trim()) else {
        return no(format!("has \"{}\" where a length should stand", clip(text)));
    };
    let per = match length.unit {
        LengthUnit::None | LengthUnit::Px => 1.0,
        LengthUnit::In => 96.0,
        LengthUnit::Cm => 96.0 / 2.54,
        LengthUnit::Mm => 96.0 / 25.4,
        LengthUnit::Pt => 96.0 / 72.0,
        LengthUnit::Pc => 16.0,
        LengthUnit::Em => EM,
        LengthUnit::Ex => EM / 2.0,
        LengthUnit::Percent => whole / 100.0,
    };
    Ok(length.number * per)
}

/// Where an element stands.
#[derive(Clone, Copy)]
struct Place {
    to_page: Affine,
    style: Style,
    depth: usize,
}

struct Reader<'a, 'd> {
    /// Elements by their `id`, the first of several.
    named: BTreeMap<&'a str, Node<'a, 'd>>,
    drawing: Drawing,
    elements: usize,
    segments: usize,
    counts: BTreeMap<&'static str, usize>,
}

impl<'a, 'd> Reader<'a, 'd> {
    /// From the units inside an `svg` to those around it.
    fn viewport(&self, node: Node<'a, 'd>, root: bool) -> Outcome<Affine> {
        let view = match node.attribute("viewBox").map(ViewBox::from_str) {
            None => None,
            Some(Ok(view)) => Some(view),
            Some(Err(_)) => return no("has a broken viewBox"),
        };
        let size = |name: &str, inner: Option<f64>| match node.attribute(name) {
            // A share of a page that nobody knows: as large as inside.
            Some(text) if !(root && text.trim().ends_with('%')) => pixels(text, 0.0).map(Some),
            _ => Ok(inner),
        };
        let (width, height) = (size("width", view.map(|v| v.w))?, size("height", view.map(|v| v.h))?);
        let at = |name: &str| node.attribute(name).filter(|_| !root).map_or(Ok(0.0), |text| pixels(text, 0.0));
        let shift = Affine::translate((at("x")?, at("y")?));
        let (Some(view), Some(width), Some(height)) = (view, width, height) else { return Ok(shift) };
        if !(view.w > 0.0 && view.h > 0.0 && width > 0.0 && height > 0.0) {
            return no("has a page of no size");
        }
        let fit = node.attribute("preserveAspectRatio").and_then(|text| AspectRatio::from_str(text).ok());
        let (x, y) = (width / view.w, height / view.h);
        let scale = match fit {
            Some(AspectRatio { align: svgtypes::Align::None, .. }) => [x, y],
            Some(AspectRatio { slice: true, .. }) => [x.max(y); 2],
            _ => [x.min(y); 2],
        };
        // Where in its page the drawing lies does not matter, but for a nested one.
        let spare = [width - view.w * scale[0], height - view.h * scale[1]];
        let middle = if root { Vec2::ZERO } else { Vec2::new(spare[0] / 2.0, spare[1] / 2.0) };
        Ok(shift
            * Affine::translate(middle)
            * Affine::scale_non_uniform(scale[0], scale[1])
            * Affine::translate((-view.x, -view.y)))
    }

    fn children(&mut self, node: Node<'a, 'd>, place: Place) -> Outcome<()> {
        for child in node.children().filter(Node::is_element) {
            self.element(child, place)?;
        }
        Ok(())
    }

    fn element(&mut self, node: Node<'a, 'd>, mut place: Place) -> Outcome<()> {
        self.elements += 1;
        if self.elements > MOST_ELEMENTS {
            return no(format!("draws more than {MOST_ELEMENTS} elements"));
        }
        place.depth += 1;
        if place.depth > DEEPEST {
            return no("has elements within elements far too deep, or within themselves");
        }
        let svg = node.tag_name().namespace().is_none_or(|space| space == "http://www.w3.org/2000/svg");
        let hidden = property(node, "display") == Some("none")
            || matches!(property(node, "visibility"), Some("hidden" | "collapse"));
        if !svg || hidden {
            return Ok(());
        }
        place.style = place.style.of(node)?;
        if let Some(text) = node.attribute("transform") {
            let Ok(Transform { a, b, c, d, e, f }) = Transform::from_str(text) else {
                return no(format!("has a broken transform: \"{}\"", clip(text)));
            };
            place.to_page *= Affine::new([a, b, c, d, e, f]);
        }
        match node.tag_name().name() {
            "g" | "a" | "switch" => self.children(node, place),
            "svg" => {
                place.to_page *= self.viewport(node, false)?;
                self.children(node, place)
            }
            "use" => self.repeat(node, place),
            "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon" => self.shape(node, place),
            // They draw nothing where they stand.
            "defs" | "symbol" | "title" | "desc" | "metadata" | "style" | "script" | "clipPath" | "mask" | "marker"
            | "pattern" | "linearGradient" | "radialGradient" | "filter" | "view" | "cursor" | "animate"
            | "animateTransform" | "set" => Ok(()),
            other => {
                let other = clip(other);
                if !self.drawing.left_out.contains(&other) && self.drawing.left_out.len() < 16 {
                    self.drawing.left_out.push(other);
                }
                Ok(())
            }
        }
    }

    /// What a `use` draws.
    fn repeat(&mut self, node: Node<'a, 'd>, mut place: Place) -> Outcome<()> {
        let href = node.attribute("href").or_else(|| node.attribute(("http://www.w3.org/1999/xlink", "href")));
        let Some(id) = href.and_then(|href| href.trim().strip_prefix('#')) else {
            return no("uses something that lies outside the file, which is never looked up");
        };
        let Some(&meant) = self.named.get(id) else {
            return no(format!("uses \"{}\", which it does not hold", clip(id)));
        };
        let at = |name: &str| node.attribute(name).map_or(Ok(0.0), |text| pixels(text, 0.0));
        place.to_page *= Affine::translate((at("x")?, at("y")?));
        if meant.tag_name().name() != "symbol" {
            return self.element(meant, place);
        }
        place.style = place.style.of(meant)?;
        place.depth += 1;
        place.to_page *= self.viewport(meant, false)?;
        if place.depth > DEEPEST {
            return no("has elements within themselves");
        }
        self.children(meant, place)
    }

    fn shape(&mut self, node: Node<'a, 'd>, place: Place) -> Outcome<()> {
        let kind = match node.tag_name().name() {
            "path" => "path",
            "rect" => "rect",
            "circle" => "circle",
            "ellipse" => "ellipse",
            "line" => "line",
            "polyline" => "polyline",
            _ => "polygon",
        };
        let count = self.counts.entry(kind).or_default();
        *count += 1;
        let number = format!("{kind} {count}");
        let id = node.attribute("id").map(str::to_owned);
        let name = id.as_deref().map_or_else(|| number.clone(), |id| format!("\"{}\"", clip(id)));
        let size = |key: &str| match node.attribute(key) {
            None | Some("auto") => Ok(None),
            Some(text) => pixels(text, 0.0).map(Some),
        };
        let of = |key: &str| size(key).map(Option::unwrap_or_default);
        let mut pen = Pen::default();
        match kind {
            "path" => pen.path(node.attribute("d").unwrap_or_default(), &name, MOST_SEGMENTS - self.segments)?,
            "rect" => {
                let (x, y, w, h) = (of("x")?, of("y")?, of("width")?, of("height")?);
                let (rx, ry) = (size("rx")?, size("ry")?);
                let rx = rx.or(ry).unwrap_or_default().clamp(0.0, (w / 2.0).max(0.0));
                let ry = ry.or(size("rx")?).unwrap_or_default().clamp(0.0, (h / 2.0).max(0.0));
                if w > 0.0 && h > 0.0 {
                    pen.rectangle([x, y, w, h], [rx, ry]);
                }
            }
            "circle" => pen.ellipse([of("cx")?, of("cy")?], [of("r")?; 2]),
            "ellipse" => {
                let (rx, ry) = (size("rx")?, size("ry")?);
                let radii = [rx.or(ry).unwrap_or_default(), ry.or(rx).unwrap_or_default()];
                pen.ellipse([of("cx")?, of("cy")?], radii);
            }
            "line" => {
                pen.start(Point::new(of("x1")?, of("y1")?));
                pen.line(Point::new(of("x2")?, of("y2")?));
            }
            _ => {
                let text = node.attribute("points").unwrap_or_default();
                let numbers: Result<Vec<f64>, _> = NumberListParser::from(text).take(2 * MOST_SEGMENTS + 1).collect();
                let Some(numbers) = numbers.ok().filter(|all| all.len() % 2 == 0) else {
                    return no(format!("has broken points in {name}"));
                };
                for (k, p) in numbers.chunks_exact(2).map(|p| Point::new(p[0], p[1])).enumerate() {
                    if k == 0 { pen.start(p) } else { pen.line(p) }
                }
                if kind == "polygon" {
                    pen.close();
                }
            }
        }
        let contours = pen.contours(place.to_page, &name)?;
        self.segments += contours.iter().map(|c| c.segments.len()).sum::<usize>();
        if self.segments > MOST_SEGMENTS {
            return no(format!("has more than {MOST_SEGMENTS} lines and curves"));
        }
        let Style { fill, rule, stroke, width } = place.style;
        // A stroke's width under a transform: as much as areas grow.
        let width = width * place.to_page.determinant().abs().sqrt();
        let width = Some(width).filter(|w| stroke && *w > 0.0 && *w < FARTHEST);
        if !contours.is_empty() {
            self.drawing.shapes.push(Shaped { id, number, contours, fill: fill.then_some(rule), stroke: width });
        }
        Ok(())
    }
}

/// Draws contours in the units of an element.
#[derive(Default)]
struct Pen {
    contours: Vec<(Vec<[Point; 4]>, bool)>,
    at: Point,
    start: Point,
    /// Whether the next line begins a contour.
    lifted: bool,
}

impl Pen {
    fn start(&mut self, p: Point) {
        (self.at, self.start, self.lifted) = (p, p, true);
    }

    fn curve(&mut self, b: Point, c: Point, d: Point) {
        if self.lifted || self.contours.is_empty() {
            self.contours.push((Vec::new(), false));
            self.lifted = false;
        }
        if let Some((segments, _)) = self.contours.last_mut() {
            segments.push([self.at, b, c, d]);
        }
        self.at = d;
    }

    fn line(&mut self, p: Point) {
        self.curve(self.at.lerp(p, 1.0 / 3.0), self.at.lerp(p, 2.0 / 3.0), p);
    }

    fn arc(&mut self, arc: Arc, to: Point) {
        let tolerance = ARC_SHARE * arc.radii.x.max(arc.radii.y);
        let mut pieces: Vec<[Point; 3]> = Vec::new();
        if tolerance > 0.0 && tolerance.is_finite() {
            arc.to_cubic_beziers(tolerance, |b, c, d| pieces.push([b, c, d]));
        }
        // It ends where it was told to, not where it was reckoned to.
        match pieces.last_mut() {
            Some(last) => last[2] = to,
            None => return self.line(to),
        }
        pieces.into_iter().for_each(|[b, c, d]| self.curve(b, c, d));
    }

    fn close(&mut self) {
        if !self.lifted
            && let Some((segments, _)) = self.contours.last()
            && !segments.is_empty()
        {
            if self.at != self.start {
                self.line(self.start);
            }
            if let Some((_, closed)) = self.contours.last_mut() {
                *closed = true;
            }
        }
        self.start(self.start);
    }

    fn ellipse(&mut self, [x, y]: [f64; 2], [rx, ry]: [f64; 2]) {
        if rx > 0.0 && ry > 0.0 {
            let first = Point::new(x + rx, y);
            self.start(first);
            self.arc(Arc::new((x, y), (rx, ry), 0.0, std::f64::consts::TAU, 0.0), first);
            self.close();
        }
    }

    fn rectangle(&mut self, [x, y, w, h]: [f64; 4], [rx, ry]: [f64; 2]) {
        let (right, low) = (x + w, y + h);
        self.start(Point::new(x + rx, y));
        let corners = [
            (Point::new(right - rx, y), Point::new(right, y + ry)),
            (Point::new(right, low - ry), Point::new(right - rx, low)),
            (Point::new(x + rx, low), Point::new(x, low - ry)),
            (Point::new(x, y + ry), Point::new(x + rx, y)),
        ];
        for (k, (from, to)) in corners.into_iter().enumerate() {
            if self.at != from {
                self.line(from);
            }
            if rx > 0.0 && ry > 0.0 {
                let quarter = std::f64::consts::FRAC_PI_2;
                // Counted as the page's y runs down.
                let begin = quarter * (k as f64 - 1.0);
                let centre = [(right - rx, y + ry), (right - rx, low - ry), (x + rx, low - ry), (x + rx, y + ry)][k];
                self.arc(Arc::new(centre, (rx, ry), begin, quarter, 0.0), to);
            }
        }
        self.close();
    }

    /// Path data (SVG 2, section 9.3).
    fn path(&mut self, data: &str, name: &str, room: usize) -> Outcome<()> {
        // The control points that smooth curves mirror.
        let (mut cubic, mut quadratic) = (None, None);
        for (count, segment) in PathParser::from(data).enumerate() {
            let segment = match segment {
                Ok(segment) if count < room => segment,
                Ok(_) => return no(format!("has more than {MOST_SEGMENTS} lines and curves")),
                Err(why) => return no(format!("has broken path data in {name}, at its command {}: {why}", count + 1)),
            };
            let from = self.at;
            let place = |abs: bool, x: f64, y: f64| if abs { Point::new(x, y) } else { from + Vec2::new(x, y) };
            let mirrored = |p: Option<Point>| p.map_or(from, |p| from + (from - p));
            let (mut next_cubic, mut next_quadratic) = (None, None);
            match segment {
                PathSegment::MoveTo { abs, x, y } => self.start(place(abs, x, y)),
                PathSegment::LineTo { abs, x, y } => self.line(place(abs, x, y)),
                PathSegment::HorizontalLineTo { abs, x } => self.line(Point::new(place(abs, x, 0.0).x, from.y)),
                PathSegment::VerticalLineTo { abs, y } => self.line(Point::new(from.x, place(abs, 0.0, y).y)),
                PathSegment::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                    let c = place(abs, x2, y2);
                    self.curve(place(abs, x1, y1), c, place(abs, x, y));
                    next_cubic = Some(c);
                }
                PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                    let c = place(abs, x2, y2);
                    self.curve(mirrored(cubic), c, place(abs, x, y));
                    next_cubic = Some(c);
                }
                PathSegment::Quadratic { abs, x1, y1, x, y } => {
                    next_quadratic = Some(self.quadratic(place(abs, x1, y1), place(abs, x, y)));
                }
                PathSegment::SmoothQuadratic { abs, x, y } => {
                    next_quadratic = Some(self.quadratic(mirrored(quadratic), place(abs, x, y)));
                }
                PathSegment::EllipticalArc { abs, rx, ry, x_axis_rotation, large_arc, sweep, x, y } => {
                    let to = place(abs, x, y);
                    let x_rotation = x_axis_rotation.to_radians();
                    let told = SvgArc { from, to, radii: Vec2::new(rx, ry), x_rotation, large_arc, sweep };
                    match Arc::from_svg_arc(&told) {
                        Some(arc) => self.arc(arc, to),
                        None => self.line(to),
                    }
                }
                PathSegment::ClosePath { .. } => self.close(),
            }
            (cubic, quadratic) = (next_cubic, next_quadratic);
        }
        Ok(())
    }

    fn quadratic(&mut self, control: Point, to: Point) -> Point {
        self.curve(self.at.lerp(control, 2.0 / 3.0), to.lerp(control, 2.0 / 3.0), to);
        control
    }

    /// What was drawn, in mm, without what has no length.
    fn contours(self, to_page: Affine, name: &str) -> Outcome<Vec<Contour>> {
        let mut contours = Vec::new();
        for (segments, mut closed) in self.contours {
            let on_page = |p: Point| {
                let p = to_page * p;
                DVec2::new(p.x, p.y)
            };
            let mut segments: Vec<[DVec2; 4]> = segments.into_iter().map(|s| s.map(on_page)).collect();
            if segments.iter().flatten().any(|p| !p.is_finite() || p.abs().max_element() > FARTHEST) {
                return no(format!("has {name} reach farther than anything is carved"));
            }
            segments.retain(|[a, b, c, d]| a != b || b != c || c != d);
            let (Some(first), Some(last)) = (segments.first().map(|s| s[0]), segments.last_mut()) else { continue };
            if last[3].distance(first) <= CLOSED {
                last[3] = first;
                closed = true;
            }
            contours.push(Contour { segments, closed });
        }
        Ok(contours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_pcg::Pcg32;
    use rand_pcg::rand_core::Rng;
    use std::f64::consts::PI;

    fn page(inner: &str) -> Drawing {
        // A user unit is a mm, so figures below are those in the text.
        let text = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='400mm' height='400mm' viewBox='0 0 400 400'>{inner}</svg>"
        );
        read(text.as_bytes()).unwrap_or_else(|NoDrawing(why)| panic!("{inner}: {why}"))
    }

    fn path(data: &str) -> Vec<Contour> {
        page(&format!("<path d='{data}'/>")).shapes.remove(0).contours
    }

    /// Segments as in the file: y down.
    fn points(data: &str) -> Vec<DVec2> {
        let flip = |p: DVec2| DVec2::new(p.x, -p.y);
        path(data).iter().flat_map(|c| c.segments.iter().flatten()).map(|p| flip(*p)).collect()
    }

    fn same(a: &str, b: &str) {
        let (p, q) = (points(a), points(b));
        assert_eq!(p.len(), q.len(), "{a} and {b}");
        assert!(p.iter().zip(&q).all(|(p, q)| p.distance(*q) < 1e-9), "{a} and {b}: {p:?} {q:?}");
    }

    fn area(contours: &[Contour]) -> f64 {
        contours.iter().map(|c| Ring(c.flattened(1e-6)).area()).sum()
    }

    /// SVG 2, sections 9.3.1 to 9.3.9: what its text and examples say is the same.
    #[test]
    fn path_data_is_read_as_the_standard_says() {
        same("M 100 100 L 200 200", "M100 100L200 200");
        same("M 100 200 L 200 100 L -100 -200", "M 100 200 L 200 100 -100 -200");
        same("M 100 200 L 200 100 L -100 -200", "M 100 200 200 100 -100 -200");
        same("M 100-200 L 1 1", "M 100,-200 L 1,1");
        same("M 0.6.5 L 1 1", "M 0.6,0.5 L 1,1");
        same("m 100 100 l 200 0 l -100 200 z", "M 100 100 L 300 100 L 200 300 Z");
        same("M10 20 h 30 v 40 H 10 V 5", "M10 20 L40 20 L40 60 L10 60 L10 5");
        // A move after a close starts from where the contour began.
        same("m 10 10 l 20 0 0 20 z m 50 50 l 5 0", "M10 10 L30 10 L30 30 Z M60 60 L65 60");
        // Smooth curves mirror the control point of one of their kind only.
        same(
            "M100,200 C100,100 250,100 250,200 S400,300 400,200",
            "M100,200 C100,100 250,100 250,200 C250,300 400,300 400,200",
        );
        same("M100,200 L250,200 S400,300 400,200", "M100,200 L250,200 C250,200 400,300 400,200");
        same("M200,300 Q400,50 600,300 T1000,300", "M200,300 Q400,50 600,300 Q800,550 1000,300");
        same("M200,300 C1,1 2,2 600,300 T1000,300", "M200,300 C1,1 2,2 600,300 Q600,300 1000,300");
        // A quadratic is the cubic two thirds of the way.
        same("M0,0 Q30,60 60,0", "M0,0 C20,40 40,40 60,0");
        // Flags need nothing between them and what follows.
        same("M10-20A5.5.3-4 110-.1", "M10,-20 A5.5,0.3 -4 1 1 0,-0.1");
        // A radius of 0 makes a line, one of less than nothing counts without its sign, one too small grows.
        same("M0,0 A0,5 0 0 1 30,0", "M0,0 L30,0");
        same("M0,0 A-20,30 0 0 1 30,0", "M0,0 A20,30 0 0 1 30,0");
        same("M0,0 A10,10 0 0 1 60,0", "M0,0 A30,30 0 0 1 60,0");
    }

    /// The pie of the standard's example `arcs01` is three quarters of a disc; two arcs with a turned axis make an ellipse, πab.
    #[test]
    fn arcs_enclose_their_areas() {
        let pie = path("M300,200 h-150 a150,150 0 1,0 150,-150 z");
        assert!((area(&pie).abs() / (0.75 * PI * 150.0 * 150.0) - 1.0).abs() < 1e-6, "{}", area(&pie));
        let end = DVec2::from_angle(30_f64.to_radians()) * 80.0;
        let ellipse = path(&format!(
            "M{},{} A80,50 30 0 1 {},{} A80 50 30 0 1 {} {} z",
            -end.x, -end.y, end.x, end.y, -end.x, -end.y
        ));
        assert!((area(&ellipse).abs() / (PI * 80.0 * 50.0) - 1.0).abs() < 1e-6);
    }

    /// SVG 2, chapter 10: rectangles, their rounds, circles and ellipses, polygons, by area and size.
    #[test]
    fn basic_shapes_have_their_areas() {
        let of = |shape: &str| area(&page(shape).shapes[0].contours).abs();
        let close =
            |shape: &str, want: f64| assert!((of(shape) / want - 1.0).abs() < 1e-6, "{shape}: {} {want}", of(shape));
        close("<rect x='5' y='6' width='70' height='30'/>", 2100.0);
        close("<rect width='70' height='30' rx='10'/>", 2100.0 - (4.0 - PI) * 100.0);
        close("<rect width='70' height='30' rx='10' ry='5'/>", 2100.0 - (4.0 - PI) * 50.0);
        close("<rect width='70' height='30' rx='100' ry='100'/>", 2100.0 - (4.0 - PI) * 35.0 * 15.0);
        close("<circle cx='9' cy='9' r='60'/>", PI * 3600.0);
        close("<ellipse rx='60' ry='20'/>", PI * 1200.0);
        close("<polygon points='0,0 40,0 40,30'/>", 600.0);
        assert!(!page("<polyline points='0,0 40,0 40,30'/>").shapes[0].contours[0].closed);
        assert!(page("<polyline points='0,0 40,0 40,30 0,0'/>").shapes[0].contours[0].closed);
    }

    /// Another reader of path data, that of a general-purpose library of curves, sees the same lengths and areas.
    #[test]
    fn another_reader_sees_the_same_paths() {
        let mut chance = Pcg32::new(5, 0);
        let mut below = |end: u32| chance.next_u32() % end;
        for _ in 0..400 {
            let mut data = format!("M{} {}", below(300), below(300));
            for _ in 0..1 + below(9) {
                let (command, numbers) = [
                    ("L", 2),
                    ("l", 2),
                    ("H", 1),
                    ("h", 1),
                    ("V", 1),
                    ("v", 1),
                    ("C", 6),
                    ("c", 6),
                    ("S", 4),
                    ("s", 4),
                    ("Q", 4),
                    ("q", 4),
                    ("T", 2),
                    ("t", 2),
                    ("A", 7),
                    ("a", 7),
                    ("z", 0),
                    ("m", 2),
                ][below(18) as usize];
                // After anything but a curve of their own kind it mirrors a control point, where the standard says not to.
                let before = data.chars().rev().find(char::is_ascii_alphabetic).unwrap_or('M');
                if ("sS".contains(command) && !"cCsS".contains(before))
                    || ("tT".contains(command) && !"qQtT".contains(before))
                {
                    continue;
                }
                data.push_str(command);
                for k in 0..numbers {
                    let flag = numbers == 7 && (k == 3 || k == 4);
                    let number = if flag { below(2) as f64 } else { f64::from(below(3000)) / 10.0 - 100.0 };
                    data.push_str(&format!(" {number}"));
                }
            }
            let theirs = kurbo::BezPath::from_svg(&data).unwrap();
            let ours: f64 = page(&format!("<path d='{data}'/>"))
                .shapes
                .iter()
                .flat_map(|s| &s.contours)
                .flat_map(|c| &c.segments)
                .map(|s| {
                    let [a, b, c, d] = s.map(|p| Point::new(p.x, p.y));
                    kurbo::ParamCurveArclen::arclen(&kurbo::CubicBez::new(a, b, c, d), 1e-9)
                })
                .sum();
            // Its arcs are good to 0.1 of a unit only.
            let wanted = theirs.perimeter(1e-9);
            assert!((ours - wanted).abs() < 1e-4 * wanted.max(1.0) + 0.05, "{data}: {ours} {wanted}");
        }
    }

    #[test]
    fn units_views_and_transforms_lead_to_mm() {
        let size = |text: &str| {
            let drawing = read(text.as_bytes()).unwrap();
            let all = drawing.shapes.iter().flat_map(|s| &s.contours).flat_map(|c| c.segments.iter().flatten());
            let (low, high) = all.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(l, h), p| (l.min(*p), h.max(*p)));
            high - low
        };
        let near = |text: &str, x: f64, y: f64| {
            assert!((size(text) - DVec2::new(x, y)).length() < 1e-6, "{text}: {}", size(text))
        };
        let rect = "<rect width='96' height='48'/></svg>";
        near(&format!("<svg>{rect}"), 25.4, 12.7);
        near(&format!("<svg viewBox='0 0 96 96' width='3in' height='3in'>{rect}"), 76.2, 38.1);
        near(&format!("<svg viewBox='0 0 96 96' width='20cm' height='96cm'>{rect}"), 200.0, 100.0);
        near(
            &format!("<svg viewBox='0 0 96 96' width='20cm' height='96cm' preserveAspectRatio='none'>{rect}"),
            200.0,
            480.0,
        );
        near(&format!("<svg viewBox='0 0 96 96' width='100%' height='100%'>{rect}"), 25.4, 12.7);
        near(
            "<svg viewBox='0 0 10 10' width='10mm' height='10mm'><g transform='scale(3) rotate(90)'><rect width='5' height='2' transform='matrix(2 0 0 1 7 7)'/></g></svg>",
            6.0,
            30.0,
        );
        near(
            "<svg viewBox='0 0 10 10' width='10mm' height='10mm'><defs><rect id='r' width='5' height='2'/></defs><use href='#r' transform='scale(2)'/></svg>",
            10.0,
            4.0,
        );
        near(
            "<svg viewBox='0 0 10 10' width='10mm' height='10mm'><symbol id='s' viewBox='0 0 1 1' width='8' height='8'><rect width='1' height='0.5'/></symbol><use href='#s' x='3'/></svg>",
            8.0,
            4.0,
        );
        near(
            "<svg viewBox='0 0 10 10' width='10mm' height='10mm'><rect width='5pt' height='2pc'/></svg>",
            5.0 * 96.0 / 72.0,
            32.0,
        );
    }

    #[test]
    fn fills_strokes_and_what_is_hidden() {
        let drawing = page(
            "<g fill='none' style='stroke: #123; stroke-width: 4'><line x1='0' y1='50' x2='100' y2='50'/></g><rect width='9' height='9' display='none'/><text>A</text><image/><text/>",
        );
        assert_eq!(drawing.left_out, ["text", "image"]);
        assert_eq!(drawing.shapes.len(), 1);
        assert_eq!((drawing.shapes[0].fill, drawing.shapes[0].stroke), (None, Some(4.0)));
        let covered = drawing.region(1e-4).unwrap().area();
        assert!((covered / (400.0 + PI * 4.0) - 1.0).abs() < 1e-4, "{covered}");
        // A ring within a ring the same way round is a hole by the one rule, and none by the other.
        let two = "M0,0 h90 v90 h-90 z M30,30 h30 v30 h-30 z";
        let of = |rule: &str| page(&format!("<path fill-rule='{rule}' d='{two}'/>")).region(1e-3).unwrap().area();
        assert!((of("evenodd") - 7200.0).abs() < 1e-3 && (of("nonzero") - 8100.0).abs() < 1e-3);
    }

    #[test]
    fn files_that_mean_harm_end_in_a_plain_error() {
        let within = |open: &str, n: usize| format!("<svg>{}{}</svg>", open.repeat(n), "</g>".repeat(n));
        let lol: String = (1..10).map(|k| format!("<!ENTITY l{k} '{}'>", format!("&l{};", k - 1).repeat(10))).collect();
        let bomb = format!("<!DOCTYPE svg [<!ENTITY l0 'lol'>{lol}]><svg><title>&l9;</title></svg>");
        let wide = format!(
            "<!DOCTYPE svg [<!ENTITY a '{}'>]><svg><title>{}</title></svg>",
            "x".repeat(100_000),
            "&a;".repeat(100_000)
        );
        let outside = "<!DOCTYPE svg [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><svg><title>&a;</title></svg>";
        let grows: String =
            (1..40).map(|k| format!("<g id='g{k}'><use href='#g{0}'/><use href='#g{0}'/></g>", k - 1)).collect();
        let itself = "<svg><g id='a'><use href='#a'/></g></svg>";
        for (words, text) in [
            ("far too deep", within("<g>", 1_000_000)),
            ("far too deep", within("<g a='/>'>", 300_000)),
            ("entities", wide),
            ("", bomb),
            ("", outside.to_owned()),
            ("elements", format!("<svg><g id='g0'><circle r='1'/></g>{grows}</svg>")),
            ("themselves", itself.to_owned()),
            ("outside the file", "<svg><use href='https://example.org/a.svg#b'/></svg>".to_owned()),
            ("farther than", "<svg><path d='M0,0 L1e300,1e300'/></svg>".to_owned()),
            ("broken path data", "<svg><path d='M0,0 L1e400,1'/></svg>".to_owned()),
            ("broken path data", "<svg><path d='M0,0 L NaN,4'/></svg>".to_owned()),
            ("broken viewBox", "<svg viewBox='0 0 0 0' width='1' height='1'/>".to_owned()),
            ("no SVG", "<html/>".to_owned()),
            ("no XML", "<svg><path".to_owned()),
        ] {
            match read(text.as_bytes()) {
                Err(NoDrawing(why)) => assert!(why.contains(words), "{words}: {why}"),
                Ok(drawing) => assert!(words.is_empty() && drawing.shapes.is_empty(), "{words}"),
            }
        }
        assert!(read(&[0x1f, 0x8b, 8]).unwrap_err().0.contains("packed"));
        assert!(read(&[0xff, 0xfe, 8]).unwrap_err().0.contains("UTF-8"));
    }
}
