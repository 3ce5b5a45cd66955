//! The shop sheet as PDF: pages set by [`crate::typeset`], written without any date or number of chance.

use crate::PapersError;
use crate::drawing::rgba;
use crate::sheet::Sheet;
use crate::typeset::{self, FONTS, Faces, Item, Page, Weight};
use krilla::Document;
use krilla::color::rgb;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::{BitsPerComponent, CustomImage, Image, ImageColorspace};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::collections::BTreeMap;

/// Writes the sheet; `file` names it where it can't be written.
pub(crate) fn write(sheet: &Sheet, file: &str) -> Result<Vec<u8>, PapersError> {
    let faces = Faces::new()?;
    let pages = typeset::pages(&faces, sheet);
    let mut writer = Writer { faces: &faces, fonts: fonts(file)?, images: images(sheet, file)? };
    let mut document = Document::new();
    let metadata = Metadata::new().title(sheet.title.clone()).language("en".into()).creator("Treen".into());
    document.set_metadata(metadata);
    let (w, h) = typeset::paper_size(sheet.paper);
    let wrong = |why: &str| PapersError::unwritable(file, why);
    for page in &pages {
        let settings = PageSettings::from_wh(w, h).ok_or_else(|| wrong("the paper has no size"))?;
        let mut leaf = document.start_page_with(settings);
        let mut surface = leaf.surface();
        for item in &page.items {
            writer.draw(&mut surface, item);
        }
        surface.finish();
        leaf.finish();
    }
    document.set_outline(outline(&pages));
    document.finish().map_err(|e| wrong(&format!("{e:?}")))
}

fn fonts(file: &str) -> Result<[Font; 3], PapersError> {
    let font = |data: &'static [u8]| {
        Font::new(data.to_vec().into(), 0).ok_or_else(|| PapersError::unwritable(file, "the typeface can't be read"))
    };
    Ok([font(FONTS[0])?, font(FONTS[1])?, font(FONTS[2])?])
}

/// RGB pixels, opaque where nothing else is said.
#[derive(Clone, Hash)]
struct Pixels {
    bytes: Vec<u8>,
    alpha: Option<Vec<u8>>,
    size: (u32, u32),
}

impl CustomImage for Pixels {
    fn color_channel(&self) -> &[u8] {
        &self.bytes
    }
    fn alpha_channel(&self) -> Option<&[u8]> {
        self.alpha.as_deref()
    }
    fn bits_per_component(&self) -> BitsPerComponent {
        BitsPerComponent::Eight
    }
    fn size(&self) -> (u32, u32) {
        self.size
    }
    fn icc_profile(&self) -> Option<&[u8]> {
        None
    }
    fn color_space(&self) -> ImageColorspace {
        ImageColorspace::Rgb
    }
}

fn images(sheet: &Sheet, file: &str) -> Result<BTreeMap<String, Image>, PapersError> {
    let mut images = BTreeMap::new();
    for (path, png) in &sheet.pictures {
        let wrong = |why: String| PapersError::unwritable(file, format!("{path}: {why}"));
        let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().map_err(|e| wrong(e.to_string()))?;
        let room = reader.output_buffer_size().ok_or_else(|| wrong("it is too large".into()))?;
        let mut bytes = vec![0; room];
        let info = reader.next_frame(&mut bytes).map_err(|e| wrong(e.to_string()))?;
        if info.color_type != png::ColorType::Rgb {
            return Err(wrong("it is not in RGB".into()));
        }
        bytes.truncate(info.buffer_size());
        let pixels = Pixels { bytes, alpha: None, size: (info.width, info.height) };
        images.insert(path.clone(), Image::from_custom(pixels, true).map_err(wrong)?);
    }
    Ok(images)
}

fn outline(pages: &[Page]) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for (k, page) in pages.iter().enumerate() {
        for (level, text, y) in &page.marks {
            let to = XyzDestination::new(k, Point::from_xy(0.0, (y - 10.0).max(0.0)));
            let node = OutlineNode::new(text.clone(), to);
            match (level, open.as_mut()) {
                (1, Some(parent)) => parent.push_child(node),
                _ => {
                    if let Some(done) = open.replace(node) {
                        outline.push_child(done);
                    }
                }
            }
        }
    }
    if let Some(done) = open {
        outline.push_child(done);
    }
    outline
}

struct Writer<'a> {
    faces: &'a Faces<'a>,
    fonts: [Font; 3],
    images: BTreeMap<String, Image>,
}

fn fill(colour: [u8; 3]) -> Fill {
    let [r, g, b] = colour;
    Fill { paint: rgb::Color::new(r, g, b).into(), opacity: NormalizedF32::ONE, rule: FillRule::EvenOdd }
}

fn stroke((colour, width): ([u8; 3], f32)) -> Stroke {
    let [r, g, b] = colour;
    Stroke { paint: rgb::Color::new(r, g, b).into(), width, ..Stroke::default() }
}

fn polygon(rings: &[Vec<[f32; 2]>], close: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for ring in rings {
        for (k, [x, y]) in ring.iter().enumerate() {
            if k == 0 { path.move_to(*x, *y) } else { path.line_to(*x, *y) }
        }
        if close {
            path.close();
        }
    }
    path.finish()
}

impl Writer<'_> {
    fn draw(&mut self, surface: &mut Surface<'_>, item: &Item) {
        match item {
            Item::Text { x, y, size, weight, colour, text } => {
                surface.set_fill(Some(fill(*colour)));
                surface.set_stroke(None);
                self.text(surface, Point::from_xy(*x, *y), *weight, *size, text);
            }
            Item::Box { x, y, w, h, fill, line } => {
                let mut path = PathBuilder::new();
                if let Some(rect) = Rect::from_xywh(*x, *y, *w, *h) {
                    path.push_rect(rect);
                }
                paint(surface, path.finish(), *fill, *line);
            }
            Item::Area { rings, fill, line } => paint(surface, polygon(rings, true), Some(*fill), *line),
            Item::Line { points, colour, width } => {
                paint(surface, polygon(std::slice::from_ref(points), false), None, Some((*colour, *width)));
            }
            Item::Cells { x, y, w, h, nx, colours } => {
                let size = (*nx as u32, (colours.len() / nx.max(&1)) as u32);
                let (bytes, alpha) = colours.iter().map(|c| rgba(*c)).map(|[r, g, b, a]| ([r, g, b], a)).unzip();
                let bytes: Vec<[u8; 3]> = bytes;
                let pixels = Pixels { bytes: bytes.concat(), alpha: Some(alpha), size };
                draw_image(surface, Image::from_custom(pixels, false).ok(), [*x, *y, *w, *h]);
            }
            Item::Picture { x, y, w, h, path } => draw_image(surface, self.images.get(path).cloned(), [*x, *y, *w, *h]),
        }
    }

    fn text(&self, surface: &mut Surface<'_>, at: Point, weight: Weight, size: f32, text: &str) {
        let glyphs: Vec<KrillaGlyph> = text
            .char_indices()
            .map(|(k, c)| {
                let (id, advance) = self.faces.glyph(weight, c);
                KrillaGlyph::new(GlyphId::new(id), advance, 0.0, 0.0, 0.0, k..k + c.len_utf8(), None)
            })
            .collect();
        surface.draw_glyphs(at, &glyphs, self.fonts[weight as usize].clone(), text, size, false);
    }
}

/// An image, if there is one, in the box at x and y with a width and a height.
fn draw_image(surface: &mut Surface<'_>, image: Option<Image>, [x, y, w, h]: [f32; 4]) {
    if let (Some(image), Some(size)) = (image, Size::from_wh(w, h)) {
        surface.push_transform(&Transform::from_translate(x, y));
        surface.draw_image(image, size);
        surface.pop();
    }
}

fn paint(surface: &mut Surface<'_>, path: Option<Path>, inside: Option<[u8; 3]>, line: Option<([u8; 3], f32)>) {
    let Some(path) = path else { return };
    surface.set_fill(inside.map(fill));
    surface.set_stroke(line.map(stroke));
    surface.draw_path(&path);
}
