//! Setting a sheet: widths of words, breaking of lines, rows that stay whole, pages. All in points, y down.

use crate::PapersError;
use crate::drawing::{Anchor, Drawing, Shape};
use crate::picture::png_size;
use crate::sheet::{Block, Cell, Mark, Paper, Picture, Sheet, Table};
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

/// Weights of the typeface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    Regular,
    SemiBold,
    Bold,
}

/// Source Sans 3, under the SIL Open Font License (see `fonts/OFL.txt`).
pub(crate) const FONTS: [&[u8]; 3] = [
    include_bytes!("../../../fonts/SourceSans3-Regular.ttf"),
    include_bytes!("../../../fonts/SourceSans3-SemiBold.ttf"),
    include_bytes!("../../../fonts/SourceSans3-Bold.ttf"),
];

/// One weight with what it takes to measure text.
pub(crate) struct Face<'a> {
    pub(crate) chars: skrifa::charmap::Charmap<'a>,
    pub(crate) metrics: GlyphMetrics<'a>,
}

/// The three weights.
pub(crate) struct Faces<'a>([Face<'a>; 3]);

impl Faces<'_> {
    pub(crate) fn new() -> Result<Self, PapersError> {
        let face = |data: &'static [u8]| -> Result<Face<'static>, PapersError> {
            let font = FontRef::new(data).map_err(|e| PapersError::unwritable("shop-sheet.pdf", e))?;
            // At size 1 the advances are in ems.
            let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
            Ok(Face { chars: font.charmap(), metrics })
        };
        Ok(Self([face(FONTS[0])?, face(FONTS[1])?, face(FONTS[2])?]))
    }

    pub(crate) fn face(&self, weight: Weight) -> &Face<'_> {
        &self.0[weight as usize]
    }

    /// Glyph and advance (ems) of a character; what the typeface lacks becomes a question mark.
    pub(crate) fn glyph(&self, weight: Weight, c: char) -> (u32, f32) {
        let face = self.face(weight);
        let c = if c == '\u{a0}' || c == '\u{202f}' { ' ' } else { c };
        let id = face.chars.map(c).or_else(|| face.chars.map('?')).unwrap_or_default();
        (id.to_u32(), face.metrics.advance_width(id).unwrap_or(0.5))
    }

    pub(crate) fn width(&self, weight: Weight, size: f32, text: &str) -> f32 {
        text.chars().map(|c| self.glyph(weight, c).1).sum::<f32>() * size
    }

    /// Breaks a text into lines no wider than `width`, at spaces; a word that is wider alone is broken inside.
    pub(crate) fn lines(&self, weight: Weight, size: f32, text: &str, width: f32) -> Vec<String> {
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            for word in paragraph.split(' ').filter(|w| !w.is_empty()) {
                let joined = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
                if self.width(weight, size, &joined) <= width {
                    line = joined;
                    continue;
                }
                if !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                line = self.broken(weight, size, word, width, &mut lines);
            }
            lines.push(line);
        }
        lines
    }

    /// Puts what must be broken off a long word into `lines` and returns the rest. Breaks after `/`, `-`, `_` or `.` if it can.
    fn broken(&self, weight: Weight, size: f32, word: &str, width: f32, lines: &mut Vec<String>) -> String {
        let mut rest = word;
        while self.width(weight, size, rest) > width && rest.chars().count() > 1 {
            let mut fits = 0;
            let mut good = 0;
            let mut used = 0.0;
            for (at, c) in rest.char_indices() {
                used += self.glyph(weight, c).1 * size;
                if used > width && at > 0 {
                    break;
                }
                fits = at + c.len_utf8();
                if matches!(c, '/' | '-' | '_' | '.') {
                    good = fits;
                }
            }
            let end = if good > 0 { good } else { fits };
            lines.push(rest[..end].to_owned());
            rest = &rest[end..];
        }
        rest.to_owned()
    }
}

/// Something drawn.
#[derive(Clone, Debug)]
pub(crate) enum Item {
    /// Baseline start.
    Text { x: f32, y: f32, size: f32, weight: Weight, colour: [u8; 3], text: String },
    /// A box; `line` is its outline's width.
    Box { x: f32, y: f32, w: f32, h: f32, fill: Option<[u8; 3]>, line: Option<([u8; 3], f32)> },
    /// Closed rings by the even-odd rule.
    Area { rings: Vec<Vec<[f32; 2]>>, fill: [u8; 3], line: Option<([u8; 3], f32)> },
    /// A line.
    Line { points: Vec<[f32; 2]>, colour: [u8; 3], width: f32 },
    /// Cells of one colour each.
    Cells { x: f32, y: f32, w: f32, h: f32, nx: usize, colours: Vec<Option<[u8; 3]>> },
    /// A picture by its path.
    Picture { x: f32, y: f32, w: f32, h: f32, path: String },
}

/// What stays whole on a page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Row {
    pub(crate) height: f32,
    pub(crate) items: Vec<Item>,
    /// Not to be parted from the next row.
    pub(crate) with_next: bool,
    /// Starts a page.
    pub(crate) new_page: bool,
    /// Mark in the outline of the document: level and text.
    pub(crate) mark: Option<(u8, String)>,
}

/// A page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Page {
    pub(crate) items: Vec<Item>,
    /// Marks with their height on the page.
    pub(crate) marks: Vec<(u8, String, f32)>,
}

const INK: [u8; 3] = [38, 34, 30];
const SOFT: [u8; 3] = [104, 94, 85];
const ACCENT: [u8; 3] = [138, 90, 51];
const PANEL: [u8; 3] = [241, 233, 223];
const RULE: [u8; 3] = [222, 213, 202];
const WARN: ([u8; 3], [u8; 3]) = ([200, 135, 30], [253, 245, 230]);
const STOP: ([u8; 3], [u8; 3]) = ([179, 38, 30], [252, 236, 234]);
const BODY: f32 = 10.0;
const LEADING: f32 = 1.34;
/// Margins of the page.
const MARGIN: f32 = 46.0;
const HEAD_ROOM: f32 = 22.0;
const FOOT_ROOM: f32 = 30.0;

/// Width and height of a paper.
pub(crate) fn paper_size(paper: Paper) -> (f32, f32) {
    match paper {
        // ISO 216 and ANSI/ASME Y14.1 in points.
        Paper::A4 => (595.276, 841.89),
        Paper::Letter => (612.0, 792.0),
    }
}

/// Sets the sheet into pages with heads and feet.
pub(crate) fn pages(faces: &Faces<'_>, sheet: &Sheet) -> Vec<Page> {
    let (w, h) = paper_size(sheet.paper);
    let setter = Setter { faces, sheet };
    let room = h - 2.0 * MARGIN - HEAD_ROOM - FOOT_ROOM;
    let rows = setter.blocks(&sheet.blocks, w - 2.0 * MARGIN, room);
    let mut pages = stack(rows, room);
    let count = pages.len();
    for (k, page) in pages.iter_mut().enumerate() {
        setter.furnish(page, k, count, (w, h));
    }
    pages
}

/// Stacks rows on pages; chains of rows that belong together move on together if they can.
fn stack(rows: Vec<Row>, room: f32) -> Vec<Page> {
    let mut pages = vec![Page::default()];
    let mut y = 0.0;
    let mut k = 0;
    while k < rows.len() {
        let mut end = k;
        while rows[end].with_next && end + 1 < rows.len() {
            end += 1;
        }
        let height: f32 = rows[k..=end].iter().map(|r| r.height).sum();
        if y > 0.0 && (rows[k].new_page || (y + height > room && height <= room)) {
            pages.push(Page::default());
            y = 0.0;
        }
        for row in &rows[k..=end] {
            if y > 0.0 && y + row.height > room {
                pages.push(Page::default());
                y = 0.0;
            }
            if let Some(page) = pages.last_mut() {
                place(page, row, y);
            }
            y += row.height;
        }
        k = end + 1;
    }
    pages
}

fn place(page: &mut Page, row: &Row, y: f32) {
    let (dx, dy) = (MARGIN, MARGIN + HEAD_ROOM + y);
    page.items.extend(row.items.iter().map(|item| moved(item, dx, dy)));
    if let Some((level, text)) = &row.mark {
        page.marks.push((*level, text.clone(), dy));
    }
}

fn moved(item: &Item, dx: f32, dy: f32) -> Item {
    let mut item = item.clone();
    let shift = |points: &mut Vec<[f32; 2]>| points.iter_mut().for_each(|p| *p = [p[0] + dx, p[1] + dy]);
    match &mut item {
        Item::Text { x, y, .. } | Item::Box { x, y, .. } | Item::Cells { x, y, .. } | Item::Picture { x, y, .. } => {
            *x += dx;
            *y += dy;
        }
        Item::Area { rings, .. } => rings.iter_mut().for_each(shift),
        Item::Line { points, .. } => shift(points),
    }
    item
}

/// Width over height of a PNG.
fn aspect(png: &[u8]) -> f32 {
    png_size(png).map_or(1.5, |[w, h]| w as f32 / h as f32)
}

struct Setter<'a> {
    faces: &'a Faces<'a>,
    sheet: &'a Sheet,
}

/// A look of text.
#[derive(Clone, Copy)]
struct Style {
    size: f32,
    weight: Weight,
    colour: [u8; 3],
}

const PLAIN: Style = Style { size: BODY, weight: Weight::Regular, colour: INK };
const STRONG: Style = Style { size: BODY, weight: Weight::SemiBold, colour: INK };
const SMALL: Style = Style { size: 8.6, weight: Weight::Regular, colour: SOFT };

impl Style {
    fn line(self) -> f32 {
        self.size * LEADING
    }
}

impl Setter<'_> {
    fn blocks(&self, blocks: &[Block], width: f32, room: f32) -> Vec<Row> {
        let mut rows = Vec::new();
        let mut new_page = false;
        for block in blocks {
            if matches!(block, Block::NewPage) {
                new_page = true;
                continue;
            }
            let mut set = self.block(block, width, room);
            if let Some(first) = set.first_mut() {
                first.new_page |= new_page;
                new_page = false;
            }
            rows.extend(set);
        }
        rows
    }

    fn block(&self, block: &Block, width: f32, room: f32) -> Vec<Row> {
        match block {
            Block::Title { text, below } => self.title(text, below, width),
            Block::Heading(text) => vec![self.heading(text, width)],
            Block::Label(text) => self.text(text, STRONG, width, [6.0, 1.0], true),
            Block::Step { number, title, when } => vec![self.step(*number, title, when, width)],
            Block::Text(text) => self.text(text, PLAIN, width, [0.0, 6.0], false),
            Block::Ticks(lines) => lines.iter().map(|l| self.point(l, width, true)).collect(),
            Block::Points(lines) => lines.iter().map(|l| self.point(l, width, false)).collect(),
            Block::Facts(facts) => self.facts(facts, width),
            Block::Table(table) => self.table(table, width),
            Block::Caution { strong, lines } => vec![self.caution(*strong, lines, width)],
            Block::Beside { picture, caption, share, blocks } => {
                self.beside((picture, caption, *share), blocks, width, room)
            }
            Block::Drawing { drawing, caption } => vec![self.drawing(drawing, caption, width, room)],
            Block::NewPage => Vec::new(),
        }
    }

    /// Lines of a text with items at their baselines, from `x`, `y` down; returns the height used.
    fn set(&self, items: &mut Vec<Item>, text: &str, style: Style, (x, y): (f32, f32), width: f32) -> f32 {
        let lines = self.faces.lines(style.weight, style.size, text, width);
        let count = lines.len();
        for (k, text) in lines.into_iter().enumerate() {
            let y = y + k as f32 * style.line() + style.size * 1.02;
            items.push(Item::Text { x, y, size: style.size, weight: style.weight, colour: style.colour, text });
        }
        count as f32 * style.line()
    }

    fn text(&self, text: &str, style: Style, width: f32, [above, below]: [f32; 2], with_next: bool) -> Vec<Row> {
        let mut row = Row { with_next, ..Row::default() };
        row.height = above + self.set(&mut row.items, text, style, (0.0, above), width) + below;
        vec![row]
    }

    fn title(&self, text: &str, below: &str, width: f32) -> Vec<Row> {
        let mut row = Row { mark: Some((0, text.to_owned())), ..Row::default() };
        let big = Style { size: 26.0, weight: Weight::Bold, colour: INK };
        let under = Style { size: 12.0, weight: Weight::Regular, colour: SOFT };
        let mut y = self.set(&mut row.items, text, big, (0.0, 0.0), width);
        y += self.set(&mut row.items, below, under, (0.0, y), width);
        row.height = y + 10.0;
        vec![row]
    }

    fn heading(&self, text: &str, width: f32) -> Row {
        let mut row = Row { with_next: true, mark: Some((0, text.to_owned())), ..Row::default() };
        let style = Style { size: 14.0, weight: Weight::Bold, colour: INK };
        let y = 12.0 + self.set(&mut row.items, text, style, (0.0, 12.0), width);
        row.items.push(Item::Line { points: vec![[0.0, y + 1.0], [width, y + 1.0]], colour: ACCENT, width: 1.3 });
        row.height = y + 7.0;
        row
    }

    fn step(&self, number: usize, title: &str, when: &str, width: f32) -> Row {
        let mut row = Row { with_next: true, mark: Some((1, format!("{number}  {title}"))), ..Row::default() };
        let head = Style { size: 12.5, weight: Weight::Bold, colour: INK };
        let white = Style { colour: [255; 3], ..head };
        let (top, pad) = (14.0, 5.0);
        let when_width = self.faces.width(SMALL.weight, 9.5, when);
        let mut texts = Vec::new();
        let used = self.set(&mut texts, title, head, (36.0, top + pad), width - 36.0 - when_width - 18.0);
        let high = used + 2.0 * pad;
        row.items.push(Item::Box { x: 0.0, y: top, w: width, h: high, fill: Some(PANEL), line: None });
        row.items.push(Item::Box { x: 0.0, y: top, w: 28.0, h: high, fill: Some(ACCENT), line: None });
        row.items.extend(texts);
        let label = number.to_string();
        let x = 14.0 - self.faces.width(white.weight, white.size, &label) / 2.0;
        self.set(&mut row.items, &label, white, (x, top + pad), 40.0);
        let soft = Style { size: 9.5, weight: Weight::Regular, colour: SOFT };
        self.set(&mut row.items, when, soft, (width - when_width - 7.0, top + pad + 2.4), when_width + 4.0);
        row.height = top + high + 6.0;
        row
    }

    fn point(&self, text: &str, width: f32, tick: bool) -> Row {
        let mut row = Row::default();
        let used = self.set(&mut row.items, text, PLAIN, (17.0, 0.0), width - 17.0);
        if tick {
            row.items.push(Item::Box { x: 0.5, y: 2.2, w: 8.6, h: 8.6, fill: None, line: Some((SOFT, 0.8)) });
        } else {
            row.items.push(Item::Box { x: 4.5, y: 5.6, w: 3.0, h: 3.0, fill: Some(ACCENT), line: None });
        }
        row.height = used + 4.0;
        row
    }

    fn facts(&self, facts: &[(String, String)], width: f32) -> Vec<Row> {
        let widest = facts.iter().map(|(n, _)| self.faces.width(STRONG.weight, STRONG.size, n)).fold(0.0, f32::max);
        let indent = (widest + 10.0).min(width * 0.4);
        let fact = |(name, value): &(String, String)| {
            let mut row = Row::default();
            let left = self.set(&mut row.items, name, STRONG, (0.0, 0.0), indent - 6.0);
            let right = self.set(&mut row.items, value, PLAIN, (indent, 0.0), width - indent);
            row.height = left.max(right) + 2.5;
            row
        };
        let mut rows: Vec<Row> = facts.iter().map(fact).collect();
        if let Some(last) = rows.last_mut() {
            last.height += 5.0;
        }
        rows
    }

    fn table(&self, table: &Table, width: f32) -> Vec<Row> {
        let all: f32 = table.widths.iter().sum();
        let columns: Vec<f32> = table.widths.iter().map(|w| w / all * width).collect();
        let head: Vec<Cell> = table.head.iter().map(Cell::strong).collect();
        let mut rows = vec![self.table_row(&head, &columns, width, (ACCENT, 1.0))];
        rows[0].with_next = true;
        rows.extend(table.rows.iter().map(|r| self.table_row(r, &columns, width, (RULE, 0.6))));
        if let Some(last) = rows.last_mut() {
            last.height += 8.0;
        }
        rows
    }

    fn table_row(&self, cells: &[Cell], columns: &[f32], width: f32, rule: ([u8; 3], f32)) -> Row {
        let mut row = Row::default();
        let (mut x, mut high) = (0.0, 0.0f32);
        let mut boxes = Vec::new();
        for (cell, w) in cells.iter().zip(columns) {
            if cell.to_fill {
                boxes.push((x, *w));
                high = high.max(20.0);
            } else {
                let colour = match cell.mark {
                    Some(Mark::Good) => [44, 110, 47],
                    Some(Mark::Look) => [138, 90, 0],
                    Some(Mark::Bad) => STOP.0,
                    None => INK,
                };
                let weight = if cell.strong { Weight::SemiBold } else { Weight::Regular };
                let style = Style { size: 9.3, weight, colour };
                high = high.max(self.set(&mut row.items, &cell.text, style, (x, 2.5), w - 7.0) + 5.0);
            }
            x += w;
        }
        for (x, w) in boxes {
            row.items.push(Item::Box { x, y: 2.0, w: w - 3.0, h: high - 4.0, fill: None, line: Some((SOFT, 0.7)) });
        }
        row.items.push(Item::Line { points: vec![[0.0, high], [width, high]], colour: rule.0, width: rule.1 });
        row.height = high;
        row
    }

    fn caution(&self, strong: bool, lines: &[String], width: f32) -> Row {
        let (bar, ground) = if strong { STOP } else { WARN };
        let style = Style { size: 9.5, ..PLAIN };
        let mut texts = Vec::new();
        let (top, pad) = (3.0, 6.0);
        let mut y = top + pad;
        for line in lines {
            y += self.set(&mut texts, line, style, (14.0, y), width - 24.0) + 2.0;
        }
        let high = y - 2.0 + pad - top;
        let mut row = Row { height: top + high + 8.0, ..Row::default() };
        row.items.push(Item::Box { x: 0.0, y: top, w: width, h: high, fill: Some(ground), line: None });
        row.items.push(Item::Box { x: 0.0, y: top, w: 4.0, h: high, fill: Some(bar), line: None });
        row.items.extend(texts);
        row
    }

    /// The picture on the right, blocks on the left; what would make the whole taller than a page goes on below.
    fn beside(
        &self,
        (picture, caption, share): (&Picture, &str, f32),
        blocks: &[Block],
        width: f32,
        room: f32,
    ) -> Vec<Row> {
        let gap = 16.0;
        let w = width * share;
        let mut shown = Row::default();
        let x = width - w;
        let h = match picture {
            Picture::Png(path) => {
                let h = w / self.sheet.pictures.get(path).map_or(1.5, |png| aspect(png));
                shown.items.push(Item::Picture { x, y: 2.0, w, h, path: path.clone() });
                h
            }
            Picture::Drawing(drawing) => {
                let scale = w / drawing.width;
                shown.items.extend(self.shapes(drawing, (x, 2.0), scale));
                drawing.height * scale
            }
        };
        shown.height = 2.0 + h + 3.0 + self.set(&mut shown.items, caption, SMALL, (x, h + 5.0), w) + 6.0;
        let left = self.blocks(blocks, width - w - gap, room);
        let mut y = 0.0;
        let mut rest = Vec::new();
        for (k, row) in left.iter().enumerate() {
            if y + row.height > shown.height.max(120.0) && y > 0.0 && k > 0 && y + row.height > room * 0.8 {
                rest = left[k..].to_vec();
                break;
            }
            shown.items.extend(row.items.iter().map(|item| moved(item, 0.0, y)));
            y += row.height;
        }
        shown.height = shown.height.max(y + 4.0);
        let mut rows = vec![shown];
        rows.extend(rest);
        rows
    }

    fn drawing(&self, drawing: &Drawing, caption: &str, width: f32, room: f32) -> Row {
        let scale = (width / drawing.width).min(room * 0.45 / drawing.height);
        let left = (width - drawing.width * scale) / 2.0;
        let mut row = Row { items: self.shapes(drawing, (left, 0.0), scale), ..Row::default() };
        let y = drawing.height * scale;
        row.height = y + self.set(&mut row.items, caption, SMALL, (0.0, y + 3.0), width) + 9.0;
        row
    }

    /// A drawing with its upper left corner at a place.
    fn shapes(&self, drawing: &Drawing, (left, top): (f32, f32), scale: f32) -> Vec<Item> {
        let put = |[x, y]: [f32; 2]| [left + x * scale, top + y * scale];
        let item = |shape: &Shape| match shape {
            Shape::Area { rings, fill, line, width } => Item::Area {
                rings: rings.iter().map(|r| r.iter().map(|p| put(*p)).collect()).collect(),
                fill: *fill,
                line: (*width > 0.0).then_some((*line, width * scale)),
            },
            Shape::Line { points, line, width } => {
                Item::Line { points: points.iter().map(|p| put(*p)).collect(), colour: *line, width: width * scale }
            }
            Shape::Cells { at, size: [w, h], nx, colours } => {
                let [x, y] = put(*at);
                Item::Cells { x, y, w: w * scale, h: h * scale, nx: *nx, colours: colours.clone() }
            }
            Shape::Text { at, size, anchor, text } => {
                let size = size * scale;
                let [x, y] = put(*at);
                let half = self.faces.width(Weight::Regular, size, text) / 2.0;
                let x = if *anchor == Anchor::Middle { x - half } else { x };
                Item::Text { x, y, size, weight: Weight::Regular, colour: INK, text: text.clone() }
            }
        };
        drawing.shapes.iter().map(item).collect()
    }

    /// Head, foot and page number.
    fn furnish(&self, page: &mut Page, k: usize, count: usize, (w, h): (f32, f32)) {
        let inner = w - 2.0 * MARGIN;
        let number = format!("page {} of {count}", k + 1);
        let mut items = Vec::new();
        let right = w - MARGIN - self.faces.width(SMALL.weight, SMALL.size, &number);
        if k > 0 {
            self.set(&mut items, &self.sheet.title, SMALL, (MARGIN, MARGIN - 6.0), inner * 0.7);
        }
        let y = h - MARGIN - FOOT_ROOM + 12.0;
        items.push(Item::Line { points: vec![[MARGIN, y], [w - MARGIN, y]], colour: RULE, width: 0.6 });
        self.set(&mut items, &number, SMALL, (right, y + 4.0), 100.0);
        self.set(&mut items, &self.sheet.foot, SMALL, (MARGIN, y + 4.0), right - MARGIN - 12.0);
        page.items.extend(items);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_asked_and_no_word_is_lost() {
        let faces = Faces::new().unwrap();
        let text = "Set the 1/4-inch long ball so that 62 mm (2 7/16 in) shows below the nut, not less: \
                    programs/03-outside-a-very-long-file-name-indeed-T12.nc";
        for width in [60.0, 110.0, 240.0] {
            let lines = faces.lines(Weight::Regular, 10.0, text, width);
            assert!(lines.len() > 1);
            assert!(lines.iter().all(|l| faces.width(Weight::Regular, 10.0, l) <= width), "{lines:?}");
            let letters = |s: &str| s.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            assert_eq!(letters(&lines.concat()), letters(text));
        }
    }

    /// Advance widths of the typeface's own `hmtx` table, read with another program: space 200, zero 497 of 1000.
    #[test]
    fn widths_are_those_of_the_typeface() {
        let faces = Faces::new().unwrap();
        assert!((faces.width(Weight::Regular, 1000.0, " ") - 200.0).abs() < 1.0);
        assert!((faces.width(Weight::Regular, 1000.0, "0") - 497.0).abs() < 1.0);
    }

    #[test]
    fn the_typeface_has_every_sign_the_sheet_uses() {
        let faces = Faces::new().unwrap();
        for weight in [Weight::Regular, Weight::SemiBold, Weight::Bold] {
            for c in "±°²³µ·¼½×ßäèéöüΣαερ–’“”…″⁄ℓ→−≤≥".chars() {
                assert!(faces.face(weight).chars.map(c).is_some(), "{c}");
            }
        }
    }

    #[test]
    fn rows_that_belong_together_move_on_together() {
        let row = |height: f32, with_next: bool| Row { height, with_next, ..Row::default() };
        let mut rows = vec![row(80.0, false), row(10.0, true), row(30.0, false)];
        for (k, r) in rows.iter_mut().enumerate() {
            r.mark = Some((0, k.to_string()));
        }
        let pages = stack(rows, 100.0);
        let marks: Vec<Vec<&str>> =
            pages.iter().map(|p| p.marks.iter().map(|(_, text, _)| text.as_str()).collect()).collect();
        assert_eq!(marks, [vec!["0"], vec!["1", "2"]]);
    }
}
