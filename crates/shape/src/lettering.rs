//! Text as a region of the plane: outlines of a typeface, the one that comes with the program or the maker's, set in a line.

use geom::distance::point_segment;
use geom::{DVec2, Fill, Region, Ring};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};

/// The typeface that comes with the program: Source Sans 3, under the SIL Open Font License (see `fonts/OFL.txt`).
pub const TYPEFACE: &[u8] = include_bytes!("../../../fonts/SourceSans3-Regular.ttf");

/// Letters are moved apart until they are, in no more steps than this.
const MOVES: usize = 64;

/// Height of the capitals, as a share of the typeface's size, where it does not tell. Common practice, no source.
const USUAL_CAPITALS: f64 = 0.7;
/// Nothing that is carved is larger, mm; beyond it a typeface is not meant for the text.
pub(crate) const LARGEST: f64 = 2000.0;
/// The most sides that the strokes of one letter may have: the work on a letter grows with their square.
pub(crate) const MOST_SIDES: usize = 12_000;

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Height of a capital letter without a curve, mm.
    pub cap_height: f64,
    /// Letters stand no nearer to each other than this, mm.
    pub least_gap: f64,
    /// Chords stay this near to the curves, mm.
    pub tolerance: f64,
}

/// One letter where it stands in its line.
#[derive(Clone, Debug, PartialEq)]
pub struct Letter {
    /// Which.
    pub character: char,
    /// Its strokes.
    pub region: Region,
}

/// Why a text cannot be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CannotSet {
    /// The typeface lacks these characters.
    Unknown(Vec<char>),
    /// Nothing of it would be seen.
    Nothing,
    /// Characters of writings whose letters join, change or stand on each other, or that run from right to left: set one after the
    /// other they would say something else.
    Joined(Vec<char>),
    /// The file is no font file, or one without outlines.
    NoTypeface,
    /// Letters whose outlines are broken, or far too intricate.
    Intricate(Vec<char>),
}

/// Blocks of such writings (The Unicode Standard 16.0, code charts): combining marks, from Hebrew to Mandaic, from Devanagari to
/// Tibetan, Myanmar, parts of Hangul, Philippine and Khmer to Mongolian, from Limbu to Vedic signs, more combining marks, joiners and marks of
/// direction, Indic and Meetei extensions, presentation forms, variation selectors, and all from right to left or Indic beyond.
const JOINED: [[u32; 2]; 18] = [
    [0x0300, 0x036f],
    [0x0483, 0x0489],
    [0x0590, 0x08ff],
    [0x0900, 0x109f],
    [0x1100, 0x11ff],
    [0x1700, 0x18af],
    [0x1900, 0x1cff],
    [0x1ab0, 0x1aff],
    [0x1dc0, 0x1dff],
    [0x200b, 0x200f],
    [0x202a, 0x202e],
    [0x2066, 0x2069],
    [0x20d0, 0x20ff],
    [0xa800, 0xabff],
    [0xfb1d, 0xfe0f],
    [0xfe20, 0xfe2f],
    [0xfe70, 0xfeff],
    [0x1_0800, 0x1_1fff],
];

/// Whether a character cannot be set by itself.
fn joins(c: char) -> bool {
    JOINED.iter().any(|[first, last]| (*first..=*last).contains(&u32::from(c)))
}

/// The characters of a text for which something holds, each once.
fn those(text: &str, holds: impl Fn(char) -> bool) -> Vec<char> {
    let mut found: Vec<char> = text.chars().filter(|c| holds(*c)).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// A line of text, read from left to right along X, its capitals centred on the origin.
///
/// # Errors
/// [`CannotSet`].
pub fn line(typeface: &[u8], text: &str, how: &Setting) -> Result<Vec<Letter>, CannotSet> {
    let font = FontRef::new(typeface).map_err(|_| CannotSet::NoTypeface)?;
    if font.outline_glyphs().format().is_none() {
        return Err(CannotSet::NoTypeface);
    }
    let advances = font.glyph_metrics(Size::unscaled(), LocationRef::default());
    let charmap = font.charmap();
    let glyph = |c: char| charmap.map(c).filter(|id| id.to_u32() != 0);
    let scale = how.cap_height / capitals(&font, glyph('H'))?;
    let joined = those(text, joins);
    if !joined.is_empty() {
        return Err(CannotSet::Joined(joined));
    }
    let unknown = those(text, |c| glyph(c).is_none());
    if !unknown.is_empty() {
        return Err(CannotSet::Unknown(unknown));
    }
    let (mut letters, mut intricate): (Vec<Letter>, Vec<char>) = Default::default();
    let mut pen = 0.0;
    for (character, id) in text.chars().filter_map(|c| Some((c, glyph(c)?))) {
        let Some(mut region) = strokes(&font, id, scale, how.tolerance) else {
            intricate.push(character);
            continue;
        };
        shift(&mut region, DVec2::new(pen, 0.0));
        pen += f64::from(advances.advance_width(id).unwrap_or_default()) * scale;
        if region.is_empty() {
            continue;
        }
        let before = letters.len().saturating_sub(2);
        let moved = clear_of(&letters[before..], &mut region, how.least_gap);
        pen += moved;
        letters.push(Letter { character, region });
    }
    if !intricate.is_empty() {
        intricate.sort_unstable();
        intricate.dedup();
        return Err(CannotSet::Intricate(intricate));
    }
    let all = Region { rings: letters.iter().flat_map(|l| l.region.rings.clone()).collect() };
    let Some((low, high)) = all.bounds() else { return Err(CannotSet::Nothing) };
    let centre = DVec2::new((low.x + high.x) / 2.0, how.cap_height / 2.0);
    letters.iter_mut().for_each(|l| shift(&mut l.region, -centre));
    Ok(letters)
}

/// Height of the typeface's capitals in its own units.
fn capitals(font: &FontRef<'_>, capital: Option<GlyphId>) -> Result<f64, CannotSet> {
    let metrics = font.metrics(Size::unscaled(), LocationRef::default());
    let drawn = capital.and_then(|id| strokes(font, id, 1.0, 1.0)).and_then(|region| Some(region.bounds()?.1.y));
    let told = metrics.cap_height.map(f64::from);
    let usual = USUAL_CAPITALS * f64::from(metrics.units_per_em);
    [drawn, told, Some(usual)].into_iter().flatten().find(|height| *height >= 1.0).ok_or(CannotSet::NoTypeface)
}

/// The strokes of a glyph, overlapping ones joined. `None` if they are broken or have far too many sides.
fn strokes(font: &FontRef<'_>, id: GlyphId, scale: f64, tolerance: f64) -> Option<Region> {
    let mut drawn = Drawn { rings: Vec::new(), scale, tolerance, sides: 0, broken: false };
    if let Some(outline) = font.outline_glyphs().get(id) {
        let settings = DrawSettings::unhinted(Size::unscaled(), LocationRef::default());
        if outline.draw(settings, &mut drawn).is_err() || drawn.broken {
            return None;
        }
    }
    // Outer contours of such typefaces run clockwise; in others they are turned by filling.
    let rings = drawn.rings.into_iter().filter(|r| r.len() > 2).map(|mut points| {
        points.reverse();
        Ring(points)
    });
    Some(Region::drawn(rings.collect(), Fill::NonZero))
        .filter(|r| r.rings.iter().map(|r| r.0.len()).sum::<usize>() <= MOST_SIDES)
}

fn shift(region: &mut Region, by: DVec2) {
    region.rings.iter_mut().flat_map(|r| &mut r.0).for_each(|p| *p += by);
}

/// Moves a letter to the right until it is clear of those before it; returns how far.
fn clear_of(before: &[Letter], region: &mut Region, gap: f64) -> f64 {
    let mut moved = 0.0;
    for _ in 0..MOVES {
        let near = before.iter().map(|l| apart(&l.region, region)).fold(f64::INFINITY, f64::min);
        if near >= gap - 1e-6 {
            break;
        }
        // No point comes nearer to its aim than it is moved, so this never goes too far.
        shift(region, DVec2::new(gap - near, 0.0));
        moved += gap - near;
    }
    moved
}

/// Least distance between the outlines of two regions.
fn apart(a: &Region, b: &Region) -> f64 {
    let sides = |r: &Region| r.rings.iter().flat_map(Ring::sides).collect::<Vec<_>>();
    let to = |points: &[(DVec2, DVec2)], sides: &[(DVec2, DVec2)]| {
        let each = |p: DVec2| {
            let to = |&(a, b): &(DVec2, DVec2)| point_segment(p.extend(0.0), a.extend(0.0), b.extend(0.0));
            sides.iter().map(to).fold(f64::INFINITY, f64::min)
        };
        points.iter().map(|s| each(s.0)).fold(f64::INFINITY, f64::min)
    };
    let (a, b) = (sides(a), sides(b));
    to(&a, &b).min(to(&b, &a))
}

/// Contours as they are drawn, curves as chords.
struct Drawn {
    rings: Vec<Vec<DVec2>>,
    scale: f64,
    tolerance: f64,
    sides: usize,
    /// Whether it has more sides than it may, or lies where nothing can be carved.
    broken: bool,
}

impl Drawn {
    fn point(&mut self, x: f32, y: f32) -> DVec2 {
        let point = DVec2::new(f64::from(x), f64::from(y)) * self.scale;
        let near = point.abs().max_element() <= LARGEST;
        self.broken |= !near;
        if near { point } else { DVec2::ZERO }
    }

    fn last(&self) -> DVec2 {
        self.rings.last().and_then(|r| r.last()).copied().unwrap_or_default()
    }

    /// Points of a curve from `bend`, the greatest length of its second derivative: a chord is off by an eighth of that by
    /// the square of its share.
    fn curve(&mut self, bend: f64, at: impl Fn(f64) -> DVec2) {
        let n = (bend / (8.0 * self.tolerance)).sqrt().ceil().max(1.0) as usize;
        self.sides += n;
        if self.sides > 4 * MOST_SIDES {
            self.broken = true;
            return;
        }
        if let Some(ring) = self.rings.last_mut() {
            ring.extend((1..=n).map(|k| at(k as f64 / n as f64)));
        }
    }
}

impl OutlinePen for Drawn {
    fn move_to(&mut self, x: f32, y: f32) {
        let p = self.point(x, y);
        self.rings.push(vec![p]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let p = self.point(x, y);
        self.curve(0.0, |_| p);
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let (a, b, c) = (self.last(), self.point(cx, cy), self.point(x, y));
        let bend = 2.0 * (a - 2.0 * b + c).length();
        self.curve(bend, |t| a.lerp(b, t).lerp(b.lerp(c, t), t));
    }

    fn curve_to(&mut self, cx0: f32, cy0: f32, cx1: f32, cy1: f32, x: f32, y: f32) {
        let (a, b, c, d) = (self.last(), self.point(cx0, cy0), self.point(cx1, cy1), self.point(x, y));
        let bend = 6.0 * (a - 2.0 * b + c).length().max((b - 2.0 * c + d).length());
        self.curve(bend, |t| {
            let (p, q, r) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
            p.lerp(q, t).lerp(q.lerp(r, t), t)
        });
    }

    fn close(&mut self) {
        if let Some(ring) = self.rings.last_mut()
            && ring.len() > 1
            && ring.first() == ring.last()
        {
            ring.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETTING: Setting = Setting { cap_height: 10.0, least_gap: 2.0, tolerance: 0.0025 };

    fn whole(letters: &[Letter]) -> Region {
        Region { rings: letters.iter().flat_map(|l| l.region.rings.clone()).collect() }
    }

    #[test]
    fn capitals_have_their_height_and_letters_their_holes() {
        // Numbers of holes: any reader of the Latin alphabet.
        for (text, holes) in [("H", 0), ("O", 1), ("B", 2), ("8", 2), ("A", 1), ("i", 0), ("%", 2)] {
            let letters = line(TYPEFACE, text, &SETTING).unwrap();
            let rings = &letters[0].region.rings;
            assert_eq!(rings.iter().filter(|r| r.area() < 0.0).count(), holes, "{text}");
        }
        let (low, high) = whole(&line(TYPEFACE, "HEIL", &SETTING).unwrap()).bounds().unwrap();
        assert!((high.y - 5.0).abs() < 0.01 && (low.y + 5.0).abs() < 0.01, "{low} {high}");
        assert!((low.x + high.x).abs() < 1e-9);
    }

    #[test]
    fn text_reads_from_left_to_right_and_is_no_mirror_image() {
        let letters = line(TYPEFACE, "LI", &SETTING).unwrap();
        let middle = |r: &Region| r.bounds().map(|(a, b)| (a + b) / 2.0).unwrap();
        assert!(middle(&letters[0].region).x < middle(&letters[1].region).x);
        // An L has its foot at the bottom right of its stem.
        let l = &letters[0].region;
        let (low, high) = l.bounds().unwrap();
        assert!(
            l.contains(DVec2::new(high.x - 0.3, low.y + 0.3)) && !l.contains(DVec2::new(high.x - 0.3, high.y - 0.3))
        );
        assert!(l.contains(DVec2::new(low.x + 0.3, high.y - 0.3)));
    }

    #[test]
    fn letters_keep_apart() {
        let letters = line(TYPEFACE, "AVATAR  To., 1/2", &SETTING).unwrap();
        for pair in letters.windows(2) {
            let gap = apart(&pair[0].region, &pair[1].region);
            assert!(gap >= 2.0 - 1e-5, "{} {}: {gap}", pair[0].character, pair[1].character);
        }
        assert_eq!(letters.len(), 13, "blanks have no strokes");
    }

    #[test]
    fn what_the_typeface_lacks_is_named() {
        assert_eq!(line(TYPEFACE, "木A木☃", &SETTING), Err(CannotSet::Unknown(vec!['☃', '木'])));
        assert_eq!(line(TYPEFACE, "  ", &SETTING), Err(CannotSet::Nothing));
    }

    /// Arabic joins and runs from right to left, Devanagari changes its order, an accent stands on its letter (but é is one character).
    #[test]
    fn what_would_say_something_else_letter_by_letter_is_refused() {
        for (text, named) in
            [("Ali عمر", vec!['ر', 'ع', 'م']), ("कि", vec!['क', 'ि']), ("Cafe\u{301}", vec!['\u{301}'])]
        {
            assert_eq!(line(TYPEFACE, text, &SETTING), Err(CannotSet::Joined(named)));
        }
        assert!(line(TYPEFACE, "Café Ωж", &SETTING).is_ok());
    }

    /// Another reader of font files: a general-purpose library that shares no code with the one used here.
    #[test]
    fn another_reader_sees_the_same_letters() {
        struct Theirs(Vec<Ring>, [DVec2; 2]);
        impl Theirs {
            fn to(&mut self, curve: impl Fn(f64) -> DVec2) {
                let points = (1..=64).map(|k| curve(f64::from(k) / 64.0));
                self.0.last_mut().unwrap().0.extend(points);
                self.1[0] = curve(1.0);
            }
        }
        let at = |x: f32, y: f32| DVec2::new(f64::from(x), f64::from(y));
        impl ttf_parser::OutlineBuilder for Theirs {
            fn move_to(&mut self, x: f32, y: f32) {
                self.1 = [DVec2::new(x.into(), y.into()); 2];
                self.0.push(Ring(vec![self.1[0]]));
            }
            fn line_to(&mut self, x: f32, y: f32) {
                let (a, b) = (self.1[0], DVec2::new(x.into(), y.into()));
                self.to(|t| a.lerp(b, t));
            }
            fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
                let (a, b, c) = (self.1[0], DVec2::new(x1.into(), y1.into()), DVec2::new(x.into(), y.into()));
                self.to(|t| a.lerp(b, t).lerp(b.lerp(c, t), t));
            }
            fn curve_to(&mut self, _: f32, _: f32, _: f32, _: f32, _: f32, _: f32) {
                unreachable!("the typeface has quadratic curves only");
            }
            fn close(&mut self) {
                let (a, b) = (self.1[0], self.1[1]);
                self.to(|t| a.lerp(b, t));
            }
        }
        let face = ttf_parser::Face::parse(TYPEFACE, 0).unwrap();
        let drawn = |c: char| {
            let mut theirs = Theirs(Vec::new(), [at(0.0, 0.0); 2]);
            face.outline_glyph(face.glyph_index(c).unwrap(), &mut theirs);
            Region::drawn(theirs.0, Fill::NonZero)
        };
        let scale = 10.0 / drawn('H').bounds().unwrap().1.y;
        let mut seen = 0;
        for c in ('!'..='~').chain("ÄÖÜäöüßéèçñøåº№€½©Ωδя".chars()) {
            let ours = whole(&line(TYPEFACE, &c.to_string(), &SETTING).unwrap());
            let theirs = drawn(c);
            let size = |r: &Region| r.bounds().map(|(low, high)| high - low).unwrap();
            let chords: f64 = ours.rings.iter().map(Ring::perimeter).sum::<f64>() * SETTING.tolerance;
            assert!((ours.area() - theirs.area() * scale * scale).abs() < chords, "{c}");
            assert!((size(&ours) - size(&theirs) * scale).abs().max_element() < 6e-3, "{c}");
            seen += 1;
        }
        assert!(seen > 110);
    }

    #[test]
    fn chords_are_true_to_the_tolerance() {
        let off = |a: &Region, b: &Region| {
            let middles = a.rings.iter().flat_map(Ring::sides).map(|(p, q)| (p + q) / 2.0);
            middles.map(|p| b.distance(p)).fold(0.0, f64::max)
        };
        for letter in ["S", "O", "8"] {
            let [coarse, fine] = [0.05, 0.0005]
                .map(|tolerance| whole(&line(TYPEFACE, letter, &Setting { tolerance, ..SETTING }).unwrap()));
            let worst = off(&coarse, &fine);
            assert!(worst <= 0.0506 && worst > 0.01, "{letter}: {worst}");
        }
    }
}
