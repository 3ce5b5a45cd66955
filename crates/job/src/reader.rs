//! Reads a TOML text by the table of keys into records of typed values, and collects every mistake on the way.

use crate::date::is_date;
use crate::files::{FileKind, Files, JobFile, wrong_path};
use crate::keys::{Key, Kind, Limits, PLACE, Table, Variant, is_machine_word, one_of};
use crate::mend::mend;
use crate::{BoardThickness, Placed};
use base::{At, FileId, Length, LengthError, Quarters, Report, Units, nearest};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value that has the right type and lies within its limits.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    Text(String),
    Length(Length),
    Lengths([Length; 2]),
    Number(f64),
    Count(u64),
    Flag(bool),
    Colour([u8; 3]),
    Boards(BoardThickness),
    File(JobFile),
    Record(Record),
    Records(Vec<Record>),
}

/// A table that has been read: only what was right is in it.
#[derive(Clone, Debug)]
pub(crate) struct Record {
    /// Where the table stands.
    pub(crate) at: Option<At>,
    /// The variant its `kind` names.
    pub(crate) kind: Option<Placed<&'static str>>,
    values: BTreeMap<&'static str, Placed<Value>>,
}

impl Record {
    pub(crate) fn value(&self, key: &str) -> Option<&Placed<Value>> {
        self.values.get(key)
    }
}

/// A whole text as it was read.
pub(crate) struct Reading {
    pub(crate) record: Record,
    /// The unit of its plain numbers.
    pub(crate) units: Units,
    /// The files it names, in its order.
    pub(crate) named: Vec<(String, FileKind)>,
    /// What is wrong in it.
    pub(crate) report: Report,
}

/// Reads a text by a table of keys. `whole` is what the text is: `a job`.
pub(crate) fn read(text: &str, file: FileId, (table, whole): (&'static Table, &'static str), files: &Files) -> Reading {
    let mut report = Report::default();
    let mended = mend(text, file, &mut report);
    let (root, _) = DeTable::parse_recoverable(&mended);
    let units = units_of(root.get_ref());
    let complete = report.findings.is_empty();
    let mut reader = Reader { file, units, report, complete, whole, files, named: Vec::new() };
    let record = reader.table(root.get_ref(), Place { at: At::new(file, 0..0), path: "", example: "" }, table);
    Reading { record, units, named: reader.named, report: reader.report }
}

/// Plain numbers depend on it, so it is looked up before all else; if it is wrong, that is told later.
fn units_of(root: &DeTable) -> Units {
    let inch = root.get("units").and_then(|v| v.get_ref().as_str()) == Some("in");
    if inch { Units::In } else { Units::Mm }
}

struct Reader<'a> {
    file: FileId,
    units: Units,
    report: Report,
    /// Whether the text was whole; what a broken one lacks may only have been lost.
    complete: bool,
    /// What the text is.
    whole: &'static str,
    /// What the files hold that a text may name.
    files: &'a Files,
    named: Vec<(String, FileKind)>,
}

/// A table's or value's place and its name with the tables above it.
#[derive(Clone, Copy)]
struct Place<'a> {
    at: At,
    path: &'a str,
    /// A value as it may be written there.
    example: &'static str,
}

impl Place<'_> {
    /// What to write there.
    fn instance(&self) -> String {
        let key = self.path.rsplit('.').next().unwrap_or_default();
        match self.example {
            "{}" | "" => format!("give it a table of its own, headed [{}]", self.path),
            example => format!("write for instance `{key} = {example}`"),
        }
    }

    fn of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }
}

impl Reader<'_> {
    fn at(&self, span: Range<usize>) -> At {
        At::new(self.file, span)
    }

    fn table(&mut self, table: &DeTable, place: Place, spec: &'static Table) -> Record {
        let kind = self.kind(table, place, spec);
        let variant = kind.and_then(|k| spec.variant(k.value));
        let meant = self.unknown_keys(table, place, spec, variant);
        let mut values = BTreeMap::new();
        for key in spec.keys.iter().chain(variant.map_or(&[][..], |v| v.keys)) {
            let path = place.of(key.name);
            let replaced = key.unless.filter(|other| table.contains_key(*other));
            if let Some(value) = table.get(key.name) {
                let at = self.at(value.span());
                if let Some(other) = replaced {
                    let what = format!("stands beside `{}`, which tells it; expected one of the two", place.of(other));
                    let place = Place { at, path: &path, example: key.example };
                    self.refuse::<()>("told-twice", place, &what, "take one of them away");
                    continue;
                }
                if let Some(value) = self.value(value, Place { at, path: &path, example: key.example }, key.kind) {
                    values.insert(key.name, Placed { value, at: Some(at) });
                }
            } else if key.required && replaced.is_none() && self.complete && !meant.contains(&key.name) {
                self.missing(key, place);
            }
        }
        Record { at: (!place.path.is_empty()).then_some(place.at), kind, values }
    }

    fn kind(&mut self, table: &DeTable, place: Place, spec: &'static Table) -> Option<Placed<&'static str>> {
        if spec.variants.is_empty() {
            return None;
        }
        let path = place.of("kind");
        let names = || spec.variants.iter().map(|v| v.name);
        let Some(value) = table.get("kind") else {
            if self.complete {
                let text = format!("`{path}` is missing; expected {}", one_of(names()));
                self.report.error("missing-key", Some(place.at), text).hint("add `kind = …` with one of these words");
            }
            return None;
        };
        let at = self.at(value.span());
        let word = value.get_ref().as_str().unwrap_or_default();
        if let Some(variant) = spec.variant(word) {
            return Some(Placed { value: variant.name, at: Some(at) });
        }
        let text = format!("`{path}` is {}; expected {}", shown(value.get_ref()), one_of(names()));
        let near = nearest(word, names()).map(|near| format!("did you mean \"{near}\"?"));
        let docs = || spec.variants.iter().map(|v| format!("{}: {}", v.name, v.doc)).collect::<Vec<_>>().join(" ");
        self.report.error("unknown-kind", Some(at), text).hint(near.unwrap_or_else(docs));
        None
    }

    /// Tells of keys that do not belong here, and returns the keys they were meant to be.
    fn unknown_keys(
        &mut self,
        table: &DeTable,
        place: Place,
        spec: &Table,
        variant: Option<&Variant>,
    ) -> Vec<&'static str> {
        let mut meant = Vec::new();
        let all = spec.all_names();
        let known: Vec<&'static str> = match variant {
            Some(v) => ["kind"].into_iter().chain(spec.keys.iter().chain(v.keys).map(|k| k.name)).collect(),
            None => all.clone(),
        };
        for (key, _) in table.iter().filter(|(key, _)| !known.contains(&key.get_ref().as_ref())) {
            let (name, at) = (key.get_ref().as_ref(), Some(self.at(key.span())));
            let path = place.of(name);
            if is_machine_word(name) {
                let text = format!(
                    "`{path}` tells of a machine, and a job describes only the piece, so that every shop can make it"
                );
                let hint = "put it on the shelf, or in the file of the shop's own overrides beside the job";
                self.report.error("machine-data", at, text).hint(hint);
                continue;
            }
            let text = match variant.filter(|_| all.contains(&name)) {
                Some(v) => format!("`{path}` does not go with kind \"{}\"", v.name),
                None => format!("`{path}` is not a key of {}", self.whole),
            };
            let near = nearest(name, known.iter().copied().filter(|k| !table.contains_key(*k)));
            meant.extend(near);
            let hint = near.map(|near| format!("did you mean `{near}`?"));
            let hint = hint.unwrap_or_else(|| format!("the keys here are {}", known.join(", ")));
            self.report.error("unknown-key", at, text).hint(hint);
        }
        meant
    }

    fn missing(&mut self, key: &Key, place: Place) {
        let text = format!("`{}` is missing: {}; expected {}", place.of(key.name), key.doc, key.kind.expected());
        let hint = match key.kind {
            Kind::Table(_) if key.example == "{}" => {
                format!("add a table `[{}]`; a job begun with `treen new NAME` shows all it holds", key.name)
            }
            _ => format!("add a line such as `{} = {}`", key.name, key.example),
        };
        self.report.error("missing-key", Some(place.at), text).hint(hint);
    }

    fn value(&mut self, value: &Spanned<DeValue>, place: Place, kind: Kind) -> Option<Value> {
        let raw = value.get_ref();
        match kind {
            Kind::Text => self.text(raw, place),
            Kind::Name => self.name(raw, place),
            Kind::Choice(words) => self.choice(raw, place, words),
            Kind::Length(limits) => self.length(raw, place, kind, limits).map(Value::Length),
            Kind::Lengths { limits, ordered } => self.lengths(raw, place, kind, (limits, ordered)),
            Kind::Point => self.lengths(raw, place, kind, (PLACE, false)),
            Kind::Number { least, greatest, .. } => self.number(raw, place, kind, least..=greatest),
            Kind::Count { least, greatest } => self.count(raw, place, kind, least..=greatest),
            Kind::Flag => raw.as_bool().map(Value::Flag).or_else(|| self.wrong_type(raw, place, kind)),
            Kind::Date => self.date(raw, place),
            Kind::Colour => self.colour(raw, place),
            Kind::Boards => self.boards(raw, place),
            Kind::File(kind) => self.file(raw, place, kind),
            Kind::Table(spec) => match raw.as_table() {
                Some(table) => Some(Value::Record(self.table(table, place, spec))),
                None => self.wrong_type(raw, place, kind),
            },
            Kind::Tables(spec) => self.tables(raw, place, spec),
        }
    }

    fn wrong_type<T>(&mut self, raw: &DeValue, place: Place, kind: Kind) -> Option<T> {
        let text = format!("`{}` is {}; expected {}", place.path, shown(raw), kind.expected());
        self.report.error("wrong-type", Some(place.at), text).hint(place.instance());
        None
    }

    fn refuse<T>(&mut self, code: &str, place: Place, what: &str, hint: &str) -> Option<T> {
        self.report.error(code, Some(place.at), format!("`{}` {what}", place.path)).hint(hint);
        None
    }

    fn text(&mut self, raw: &DeValue, place: Place) -> Option<Value> {
        let Some(text) = raw.as_str() else { return self.wrong_type(raw, place, Kind::Text) };
        if text.trim().is_empty() {
            return self.refuse("empty-text", place, "is empty; expected a text", "write something between the quotes");
        }
        if text.chars().any(char::is_control) || text.chars().count() > GREATEST_TEXT {
            let what =
                format!("has a line break or is longer than {GREATEST_TEXT} characters; expected one short line");
            return self.refuse("long-text", place, &what, "shorten it");
        }
        Some(Value::Text(text.to_owned()))
    }

    fn name(&mut self, raw: &DeValue, place: Place) -> Option<Value> {
        let Some(name) = raw.as_str() else { return self.wrong_type(raw, place, Kind::Name) };
        let right = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
            && name.starts_with(|c: char| c.is_ascii_alphanumeric())
            && name.len() <= GREATEST_NAME;
        if right {
            return Some(Value::Text(name.to_owned()));
        }
        let what = format!("is \"{}\"; expected letters a–z, digits and hyphens, at most {GREATEST_NAME}", clip(name));
        self.refuse("bad-name", place, &what, "the name becomes part of file names: write for instance \"blue-drips\"")
    }

    fn choice(&mut self, raw: &DeValue, place: Place, words: &'static [&'static str]) -> Option<Value> {
        let word = raw.as_str().unwrap_or_default();
        if words.contains(&word) {
            return Some(Value::Text(word.to_owned()));
        }
        let text = format!("`{}` is {}; expected {}", place.path, shown(raw), Kind::Choice(words).expected());
        let near = nearest(word, words.iter().copied()).map(|near| format!("did you mean \"{near}\"?"));
        let hint = near.unwrap_or_else(|| place.instance());
        self.report.error("unknown-word", Some(place.at), text).hint(hint);
        None
    }

    fn length(&mut self, raw: &DeValue, place: Place, kind: Kind, limits: Limits) -> Option<Length> {
        let length = match raw {
            DeValue::String(text) => match Length::parse(text, self.units) {
                Ok(length) => length,
                Err(error) => return self.bad_length(&error, text, place),
            },
            _ => match plain_number(raw) {
                Some(value) if self.units == Units::In => Length::from_inches(value),
                Some(value) => base::mm(value),
                None => return self.wrong_type(raw, place, kind),
            },
        };
        let size = length.as_mm();
        let high_enough = size > limits.least || (limits.closed && size == limits.least);
        if high_enough && size <= limits.greatest {
            return Some(length);
        }
        let (least, greatest) = (base::mm(limits.least), base::mm(limits.greatest));
        let expected = match limits.closed {
            true => format!("from {least} to {greatest}"),
            false => format!("more than {least} and at most {greatest}"),
        };
        // What no shop holds is shown as it was written: its digits would fill the page.
        let is = if size.abs() > 1e6 { shown(raw) } else { self.show(length) };
        let what = format!("is {is}; expected {expected}");
        self.refuse("out-of-range", place, &what, "check the number and its unit")
    }

    fn bad_length<T>(&mut self, error: &LengthError, text: &str, place: Place) -> Option<T> {
        let code = match error {
            LengthError::Unit(_) | LengthError::Feet => "unknown-unit",
            _ => "not-a-length",
        };
        let hint = match error {
            LengthError::Comma(_) => "write decimals with a point, and nothing between thousands".to_owned(),
            LengthError::FractionWithoutInch(fraction) => format!("write \"{fraction} in\""),
            LengthError::Feet => "write the feet as inches (12 to a foot), such as \"7 1/4 in\"".to_owned(),
            _ => place.instance(),
        };
        let text = format!("`{}` = \"{}\": {error}", place.path, clip(text));
        self.report.error(code, Some(place.at), text).hint(hint);
        None
    }

    fn lengths(&mut self, raw: &DeValue, place: Place, kind: Kind, (limits, ordered): (Limits, bool)) -> Option<Value> {
        let Some(list) = raw.as_array().filter(|list| list.len() == 2) else {
            return self.wrong_type(raw, place, kind);
        };
        let read: Vec<Option<Length>> = list
            .iter()
            .map(|v| self.length(v.get_ref(), Place { at: self.at(v.span()), ..place }, Kind::Length(limits), limits))
            .collect();
        let [Some(a), Some(b)] = read[..] else { return None };
        if ordered && a > b {
            let what = format!("runs from {} down to {}; expected the least first", self.show(a), self.show(b));
            return self.refuse("range-reversed", place, &what, "swap the two lengths");
        }
        Some(Value::Lengths([a, b]))
    }

    fn show(&self, length: Length) -> String {
        length.told(self.units)
    }

    fn number(
        &mut self,
        raw: &DeValue,
        place: Place,
        kind: Kind,
        range: std::ops::RangeInclusive<f64>,
    ) -> Option<Value> {
        let Some(number) = plain_number(raw) else { return self.wrong_type(raw, place, kind) };
        if range.contains(&number) {
            return Some(Value::Number(number));
        }
        let what = format!("is {number}; expected {}", kind.expected());
        self.refuse("out-of-range", place, &what, "choose a number within these limits")
    }

    fn count(
        &mut self,
        raw: &DeValue,
        place: Place,
        kind: Kind,
        range: std::ops::RangeInclusive<u64>,
    ) -> Option<Value> {
        let Some(digits) = raw.as_integer() else { return self.wrong_type(raw, place, kind) };
        match u64::from_str_radix(digits.as_str(), digits.radix()) {
            Ok(count) if range.contains(&count) => Some(Value::Count(count)),
            _ => {
                let what = format!("is {digits}; expected {}", kind.expected());
                self.refuse("out-of-range", place, &what, "choose a number within these limits")
            }
        }
    }

    fn date(&mut self, raw: &DeValue, place: Place) -> Option<Value> {
        let text = match raw {
            DeValue::String(text) => text.to_string(),
            DeValue::Datetime(date) if date.time.is_none() => date.to_string(),
            _ => return self.wrong_type(raw, place, Kind::Date),
        };
        if is_date(&text) {
            return Some(Value::Text(text));
        }
        let what =
            format!("is \"{}\"; expected a day that exists, as year-month-day, such as \"2027-03-01\"", clip(&text));
        self.refuse("bad-date", place, &what, "write four digits for the year and two each for month and day")
    }

    fn colour(&mut self, raw: &DeValue, place: Place) -> Option<Value> {
        let Some(text) = raw.as_str() else { return self.wrong_type(raw, place, Kind::Colour) };
        let digits = text.strip_prefix('#').filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()));
        match digits.and_then(|d| u32::from_str_radix(d, 16).ok()) {
            Some(rgb) => Some(Value::Colour([(rgb >> 16) as u8, (rgb >> 8) as u8, rgb as u8])),
            None => {
                let what = format!("is \"{}\"; expected `#` and six digits 0–9, a–f (red, green, blue)", clip(text));
                self.refuse("bad-colour", place, &what, "write for instance \"#1f7a8c\"")
            }
        }
    }

    fn boards(&mut self, raw: &DeValue, place: Place) -> Option<Value> {
        if let Some(quarters) = raw.as_str().and_then(|text| Quarters::parse(text).ok()) {
            return Some(Value::Boards(BoardThickness::Quarters(quarters.count())));
        }
        // A slip in `8/4` is told as one in quarters, not in lengths.
        if let Some(text) = raw.as_str().filter(|t| t.contains('/') && Length::parse(t, Units::In).is_err()) {
            let what = format!("is \"{}\"; expected {}", clip(text), Kind::Boards.expected());
            return self.refuse("bad-boards", place, &what, "boards are sold as 4/4, 5/4, 6/4, 8/4, 10/4, 12/4, 16/4");
        }
        let limits = Limits { least: 0.0, closed: false, greatest: 300.0 };
        self.length(raw, place, Kind::Boards, limits).map(|l| Value::Boards(BoardThickness::Measured(l)))
    }

    fn file(&mut self, raw: &DeValue, place: Place, kind: FileKind) -> Option<Value> {
        let Some(name) = raw.as_str() else { return self.wrong_type(raw, place, Kind::File(kind)) };
        if let Some(expected) = wrong_path(name, kind) {
            let what = format!("is \"{}\"; {expected}", clip(name));
            return self.refuse("bad-path", place, &what, "put the file beside the job, and write its name");
        }
        self.named.push((name.to_owned(), kind));
        match self.files.get(name) {
            Some(Ok(content)) => Some(Value::File(JobFile { name: name.to_owned(), content: content.clone() })),
            found => {
                let why = found.and_then(|f| f.as_ref().err()).map_or("was not given with the job", |why| why);
                let what = format!("names the file \"{name}\", which {why}; expected {}", kind.noun());
                let hint = "put the file beside the job, or write the name of one that is there";
                self.refuse("missing-file", place, &what, hint)
            }
        }
    }

    fn tables(&mut self, raw: &DeValue, place: Place, spec: &'static Table) -> Option<Value> {
        let kind = Kind::Tables(spec);
        let Some(list) = raw.as_array() else {
            let text = format!("`{}` is {}; expected {}", place.path, shown(raw), kind.expected());
            let hint = format!("head each one with [[{}]], in double brackets", place.path);
            self.report.error("wrong-type", Some(place.at), text).hint(hint);
            // One in single brackets is meant as one in double brackets, and may have mistakes of its own.
            let meant = raw.as_table()?;
            return Some(Value::Records(vec![self.table(meant, place, spec)]));
        };
        let mut records = Vec::new();
        for item in list.iter() {
            let place = Place { at: self.at(item.span()), ..place };
            match item.get_ref().as_table() {
                Some(table) => records.push(self.table(table, place, spec)),
                None => return self.wrong_type(item.get_ref(), place, kind),
            }
        }
        Some(Value::Records(records))
    }
}

/// The longest text that fits a line of a sheet.
pub(crate) const GREATEST_TEXT: usize = 100;
/// The longest name that keeps file names short.
const GREATEST_NAME: usize = 40;

/// A finite number as written, whole or not.
fn plain_number(raw: &DeValue) -> Option<f64> {
    let number = match raw {
        // Whole numbers beyond 64 bits are still numbers, only too large for anything here.
        DeValue::Integer(digits) if digits.radix() == 10 => digits.as_str().parse().ok()?,
        DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix()).ok()? as f64,
        DeValue::Float(digits) => digits.as_str().parse().ok()?,
        _ => return None,
    };
    Some(number).filter(|n: &f64| n.is_finite())
}

/// A value as a message shows it.
fn shown(raw: &DeValue) -> String {
    match raw {
        DeValue::String(text) => format!("the text \"{}\"", clip(text)),
        DeValue::Integer(digits) => format!("the number {}", clip(digits.as_str())),
        DeValue::Float(digits) => format!("the number {}", clip(digits.as_str())),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(date) => format!("the date {date}"),
        DeValue::Array(list) => format!("a list of {}", list.len()),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// At most 40 characters, on one line.
fn clip(text: &str) -> String {
    let mut short: String = text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(40).is_some() {
        short.push('…');
    }
    short
}
