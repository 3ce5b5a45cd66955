//! 3MF (ISO/IEC 25422; core specification 1.3, production extension 1.1): a zip package whose model parts hold meshes, and
//! objects put together from other objects, each with a transform.
//!
//! All items of the build are laid together in mm. Objects that are supports or loose surfaces are left out. A package that
//! asks for an extension which changes what the solid is (lattices, booleans, displaced surfaces, encryption …) is refused.

use super::{MOST_TRIANGLES, Unreadable, number, told};
use geom::{DAffine3, DMat3, DVec3, Mesh};
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::{QName, ResolveResult};
use quick_xml::reader::NsReader;
use std::collections::BTreeMap;
use std::io::{self, BufRead, BufReader, Cursor, Read};

const CORE: &[u8] = b"http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
const PRODUCTION: &[u8] = b"http://schemas.microsoft.com/3dmanufacturing/production/2015/06";
/// Extensions that leave the solid as it is: parts in several files, and colours.
const HARMLESS: [&[u8]; 3] = [CORE, PRODUCTION, b"http://schemas.microsoft.com/3dmanufacturing/material/2015/02"];
const PACKAGES: &[u8] = b"http://schemas.openxmlformats.org/package/2006/relationships";
/// Type of the relationship that names the first model part.
const MODEL: &[u8] = b"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";

/// All parts together unfold to no more bytes than this.
const MOST_BYTES: u64 = 1 << 30;
/// Neither a tag nor the text between two tags is longer.
const LONGEST_RUN: usize = 1 << 20;
/// Objects made of objects made of objects …
const DEEPEST: usize = 16;
/// Objects laid down in all.
const MOST_COPIES: usize = 10_000;
/// Files in the package.
const MOST_ENTRIES: usize = 10_000;

const AGAIN: &str = "write the file out again, or give the solid as STL";

fn broken(text: impl Into<String>) -> Unreadable {
    Unreadable::new(text, AGAIN)
}

/// The beginning of what a reader says: it may quote half the file.
fn short(error: &dyn std::fmt::Display) -> String {
    let text = error.to_string();
    let mut shown: String = text.chars().take(120).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

/// All that is to be built, in mm.
pub(super) fn read(bytes: &[u8]) -> Result<Mesh, Unreadable> {
    let mut package = Package::open(bytes)?;
    let first = package.first_part()?;
    let mut parts: BTreeMap<String, Part> = BTreeMap::new();
    let mut waiting = vec![first.clone()];
    while let Some(name) = waiting.pop() {
        if parts.contains_key(&name) {
            continue;
        }
        let part = package.part(&name)?;
        let others = part.objects.values().flat_map(|o| &o.components).chain(&part.items);
        waiting.extend(others.filter_map(|piece| piece.path.clone()));
        parts.insert(name, part);
    }
    let mut laid = Laid { parts: &parts, mesh: Mesh::default(), copies: 0 };
    let root = &parts[&first];
    if root.items.is_empty() {
        return Err(broken("its build is empty: nothing in it is meant to be made"));
    }
    for item in &root.items {
        laid.lay(item, &first, DAffine3::IDENTITY, 0)?;
    }
    Ok(laid.mesh)
}

/// One model part.
#[derive(Debug, Default)]
struct Part {
    /// Millimetres of its unit.
    unit: f64,
    objects: BTreeMap<u32, Object>,
    items: Vec<Copy>,
}

#[derive(Debug, Default)]
struct Object {
    /// Supports and loose surfaces are no part of the solid.
    solid: bool,
    /// In the part's unit.
    mesh: Mesh,
    components: Vec<Copy>,
}

/// An object laid down somewhere.
#[derive(Debug)]
struct Copy {
    /// In another part.
    path: Option<String>,
    object: u32,
    /// In the unit of the part that says it.
    transform: DAffine3,
}

/// What has been laid down so far.
struct Laid<'a> {
    parts: &'a BTreeMap<String, Part>,
    mesh: Mesh,
    copies: usize,
}

impl Laid<'_> {
    /// Lays down a copy that `part` asks for; `to` leads from mm in the part's frame to mm in the build's.
    fn lay(&mut self, copy: &Copy, part: &str, to: DAffine3, depth: usize) -> Result<(), Unreadable> {
        self.copies += 1;
        if depth > DEEPEST || self.copies > MOST_COPIES {
            return Err(broken(format!(
                "its objects are made of other objects more than {DEEPEST} deep or more than {MOST_COPIES} times in all"
            )));
        }
        let unit = self.parts[part].unit;
        let shift = copy.transform.translation * unit;
        let to = to * DAffine3 { translation: shift, ..copy.transform };
        let place = copy.path.as_deref().unwrap_or(part);
        let found = self.parts.get(place).and_then(|p| Some((p, p.objects.get(&copy.object)?)));
        let Some((from, object)) = found else {
            return Err(broken(format!("its object {} is missing in {place}", copy.object)));
        };
        if !object.solid {
            return Ok(());
        }
        if self.mesh.triangles.len() + object.mesh.triangles.len() > MOST_TRIANGLES {
            return Err(Unreadable::too_many());
        }
        let base = self.mesh.vertices.len() as u32;
        // A mirror turns the triangles inside out.
        let turned = to.matrix3.determinant() < 0.0;
        self.mesh.vertices.extend(object.mesh.vertices.iter().map(|&v| to.transform_point3(v * from.unit)));
        self.mesh.triangles.extend(object.mesh.triangles.iter().map(|t| {
            let [a, b, c] = t.map(|v| v + base);
            if turned { [a, c, b] } else { [a, b, c] }
        }));
        for component in &object.components {
            self.lay(component, place, to, depth + 1)?;
        }
        Ok(())
    }
}

/// The zip with its parts by name, upper and lower case alike.
struct Package<'a> {
    zip: zip::ZipArchive<Cursor<&'a [u8]>>,
    entries: BTreeMap<String, usize>,
    /// Bytes that may still be unfolded.
    left: u64,
}

/// The name of a part without its leading slash, in lower case.
fn plain(name: &str) -> String {
    name.trim_start_matches('/').to_ascii_lowercase()
}

impl<'a> Package<'a> {
    fn open(bytes: &'a [u8]) -> Result<Self, Unreadable> {
        let zip = zip::ZipArchive::new(Cursor::new(bytes))
            .map_err(|e| broken(format!("it is no whole 3MF package: {}", short(&e))))?;
        if zip.len() > MOST_ENTRIES {
            return Err(broken(format!("it holds {} files", zip.len())));
        }
        let mut entries = BTreeMap::new();
        for i in 0..zip.len() {
            if let Some(Ok(name)) = zip.name_for_index(i) {
                entries.insert(plain(&name), i);
            }
        }
        Ok(Self { zip, entries, left: MOST_BYTES })
    }

    /// The name of the part at which the model begins.
    fn first_part(&mut self) -> Result<String, Unreadable> {
        let mut found = None;
        self.each("_rels/.rels", |namespace, start, _| {
            let is = |key: &str, value: &[u8]| attribute(start, key).is_ok_and(|v| v.is_some_and(|v| v == value));
            if namespace == PACKAGES && start.local_name().as_ref() == b"Relationship" && is("Type", MODEL) {
                found = Some(text_of(attribute(start, "Target")?, "Target")?);
            }
            Ok(())
        })?;
        found.map(|name| plain(&name)).ok_or_else(|| broken("it names no model"))
    }

    fn part(&mut self, name: &str) -> Result<Part, Unreadable> {
        let mut reading = Reading::default();
        self.each(name, |namespace, start, spaces| reading.begin(namespace, start, spaces))?;
        reading.finish(name)
    }

    /// Calls `visit` for the beginning of every element of a part, with the name space of the element.
    fn each(
        &mut self,
        name: &str,
        mut visit: impl FnMut(&[u8], &BytesStart<'_>, Spaces<'_>) -> Result<(), Unreadable>,
    ) -> Result<(), Unreadable> {
        let Some(&entry) = self.entries.get(name) else {
            return Err(broken(format!("its part {name} is missing")));
        };
        let file = self
            .zip
            .by_index(entry)
            .map_err(|e| broken(format!("its part {name} cannot be unfolded: {}", short(&e))))?;
        let mut reader = NsReader::from_reader(Runs { inner: BufReader::new(file.take(self.left)), run: 0 });
        let mut buffer = Vec::new();
        let wrong = |at: u64, text: String| broken(format!("in its part {name}, at byte {at}: {text}"));
        let mut open = 0_usize;
        loop {
            buffer.clear();
            let event = reader.read_event_into(&mut buffer);
            let at = reader.buffer_position();
            let event = event.map_err(|e| wrong(at, short(&e)))?;
            open += usize::from(matches!(event, Event::Start(_)));
            match event {
                Event::Start(start) | Event::Empty(start) => {
                    let spaces = |attribute: &[u8]| match reader.resolve_attribute(QName(attribute)).0 {
                        ResolveResult::Bound(space) => Some(space.as_ref().to_vec()),
                        _ => None,
                    };
                    let (space, _) = reader.resolve_element(start.name());
                    let space = if let ResolveResult::Bound(space) = space { space.into_inner() } else { b"" };
                    visit(space, &start, &spaces).map_err(|e| wrong(at, e.text))?;
                }
                Event::DocType(_) => {
                    return Err(wrong(at, "it brings definitions of its own (DOCTYPE), which 3MF forbids".into()));
                }
                // An end without a beginning is an error of the reader.
                Event::End(_) => open = open.saturating_sub(1),
                Event::Eof => break,
                _ => {}
            }
        }
        let spent = reader.buffer_position();
        if spent >= self.left {
            return Err(Unreadable::new(
                format!("it unfolds to more than {} MB", MOST_BYTES >> 20),
                "write the solid with fewer triangles: a bowl shows no more than a million",
            ));
        }
        if open > 0 {
            return Err(wrong(spent, "it ends in the middle".into()));
        }
        self.left -= spent;
        Ok(())
    }
}

/// The name space of an attribute by its name with the prefix.
type Spaces<'a> = &'a dyn Fn(&[u8]) -> Option<Vec<u8>>;

/// Stops a reader in a tag or text that does not end.
struct Runs<R> {
    inner: R,
    run: usize,
}

impl<R: BufRead> Read for Runs<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.inner.read(into)
    }
}

impl<R: BufRead> BufRead for Runs<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.run > LONGEST_RUN {
            return Err(io::Error::other("a tag or a text does not end"));
        }
        let bytes = self.inner.fill_buf()?;
        self.run = match bytes.iter().rposition(|&b| b == b'>') {
            Some(at) => bytes.len() - at,
            None => self.run + bytes.len(),
        };
        Ok(bytes)
    }

    fn consume(&mut self, count: usize) {
        self.inner.consume(count);
    }
}

/// A part as far as it has been read.
#[derive(Default)]
struct Reading {
    part: Part,
    begun: bool,
    /// The object whose mesh or components come now.
    object: Option<u32>,
}

impl Reading {
    fn begin(&mut self, namespace: &[u8], start: &BytesStart<'_>, spaces: Spaces<'_>) -> Result<(), Unreadable> {
        if namespace != CORE {
            return Ok(());
        }
        match start.local_name().as_ref() {
            b"model" => self.model(start, spaces),
            b"object" => {
                let id = whole(start, "id")?;
                let kind = attribute(start, "type")?;
                let solid = kind.is_none_or(|k| k == b"model" || k == b"solidsupport");
                if self.part.objects.insert(id, Object { solid, ..Object::default() }).is_some() {
                    return Err(broken(format!("there are two objects {id}")));
                }
                self.object = Some(id);
                Ok(())
            }
            b"vertex" => {
                let at = [real(start, "x")?, real(start, "y")?, real(start, "z")?];
                let mesh = self.mesh()?;
                if mesh.vertices.len() > 3 * MOST_TRIANGLES {
                    return Err(Unreadable::too_many());
                }
                mesh.vertices.push(DVec3::from_array(at));
                Ok(())
            }
            b"triangle" => {
                let corners = [whole(start, "v1")?, whole(start, "v2")?, whole(start, "v3")?];
                let mesh = self.mesh()?;
                let known = mesh.vertices.len();
                if let Some(none) = corners.iter().find(|&&v| v as usize >= known) {
                    return Err(broken(format!("a triangle names the corner {none}, and there are {known}")));
                }
                if mesh.triangles.len() >= MOST_TRIANGLES {
                    return Err(Unreadable::too_many());
                }
                mesh.triangles.push(corners);
                Ok(())
            }
            b"component" => {
                let copy = copy(start, spaces)?;
                self.object()?.components.push(copy);
                Ok(())
            }
            b"item" => {
                self.part.items.push(copy(start, spaces)?);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn model(&mut self, start: &BytesStart<'_>, spaces: Spaces<'_>) -> Result<(), Unreadable> {
        self.begun = true;
        self.part.unit = match attribute(start, "unit")?.as_deref() {
            None | Some(b"millimeter") => 1.0,
            Some(b"micron") => 0.001,
            Some(b"centimeter") => 10.0,
            Some(b"meter") => 1000.0,
            Some(b"inch") => 25.4,
            Some(b"foot") => 304.8,
            Some(unit) => return Err(broken(format!("{} is no unit of 3MF", told(unit)))),
        };
        let required = attribute(start, "requiredextensions")?.unwrap_or_default();
        for prefix in required.split(u8::is_ascii_whitespace).filter(|p| !p.is_empty()) {
            let space = spaces(&[prefix, b":x"].concat());
            if !space.as_deref().is_some_and(|space| HARMLESS.contains(&space)) {
                return Err(Unreadable::new(
                    format!("it needs the extension {}, by which the solid is more than its triangles", told(prefix)),
                    "write the file out again as plain triangles, or as STL",
                ));
            }
        }
        Ok(())
    }

    fn object(&mut self) -> Result<&mut Object, Unreadable> {
        let object = self.object.and_then(|id| self.part.objects.get_mut(&id));
        object.ok_or_else(|| broken("a mesh or a component stands outside any object"))
    }

    fn mesh(&mut self) -> Result<&mut Mesh, Unreadable> {
        Ok(&mut self.object()?.mesh)
    }

    fn finish(self, name: &str) -> Result<Part, Unreadable> {
        if self.begun { Ok(self.part) } else { Err(broken(format!("its part {name} holds no model"))) }
    }
}

/// A component or an item.
fn copy(start: &BytesStart<'_>, spaces: Spaces<'_>) -> Result<Copy, Unreadable> {
    let mut path = None;
    for found in start.attributes().with_checks(false) {
        let found = found.map_err(|e| broken(short(&e)))?;
        let key = found.key;
        if key.local_name().as_ref() == b"path"
            && key.prefix().is_some()
            && spaces(key.as_ref()).as_deref() == Some(PRODUCTION)
        {
            let value = found.unescape_value().map_err(|e| broken(short(&e)))?;
            path = Some(plain(&value));
        }
    }
    let transform = match attribute(start, "transform")? {
        Some(text) => transform(&text)?,
        None => DAffine3::IDENTITY,
    };
    Ok(Copy { path, object: whole(start, "objectid")?, transform })
}

/// Twelve numbers, a row vector times the matrix: the first three are where X goes.
fn transform(text: &[u8]) -> Result<DAffine3, Unreadable> {
    let mut at = [0.0; 12];
    let mut words = text.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
    for value in &mut at {
        let word = words.next().unwrap_or_default();
        *value = number(word).ok_or_else(|| broken(format!("{} is no transform of twelve numbers", told(text))))?;
    }
    let row = |k: usize| DVec3::new(at[k], at[k + 1], at[k + 2]);
    let matrix = DMat3::from_cols(row(0), row(3), row(6));
    if words.next().is_some() || matrix.determinant().abs() < 1e-9 {
        return Err(broken(format!("{} is no transform that keeps a solid a solid", told(text))));
    }
    Ok(DAffine3::from_mat3_translation(matrix, row(9)))
}

/// An attribute without a name space, as written; the values that are read hold nothing to unfold.
fn attribute(start: &BytesStart<'_>, key: &str) -> Result<Option<Vec<u8>>, Unreadable> {
    let found = start.attributes().with_checks(false).find(|a| match a {
        Ok(a) => a.key.as_ref() == key.as_bytes(),
        Err(_) => true,
    });
    found.transpose().map(|a| a.map(|a| a.value.into_owned())).map_err(|e| broken(short(&e)))
}

fn text_of(value: Option<Vec<u8>>, key: &str) -> Result<String, Unreadable> {
    let value = value.ok_or_else(|| broken(format!("{key} is missing")))?;
    String::from_utf8(value).map_err(|_| broken(format!("{key} is no text")))
}

fn real(start: &BytesStart<'_>, key: &str) -> Result<f64, Unreadable> {
    let word = attribute(start, key)?.unwrap_or_default();
    number(word.trim_ascii()).ok_or_else(|| broken(format!("{key} is {}, which is no coordinate", told(&word))))
}

fn whole(start: &BytesStart<'_>, key: &str) -> Result<u32, Unreadable> {
    let word = attribute(start, key)?.unwrap_or_default();
    let value = std::str::from_utf8(word.trim_ascii()).ok().and_then(|w| w.parse().ok());
    value.ok_or_else(|| broken(format!("{key} is {}, which is no whole number", told(&word))))
}
