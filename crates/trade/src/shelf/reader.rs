//! One walk over a table of the shelf text that reads it, or describes it as a JSON Schema.
//!
//! The keys are declared once, in `fields.rs`. Reading collects every mistake with its place; a key that is missing
//! is a finding, never a silent default, unless the text is an overrides file.

use super::places::Places;
use base::{At, FileId, Finding, Length, Quarters, Report, Units, nearest};
use serde_json::{Map, Value, json};
use std::cell::{Cell, RefCell};
use toml::de::{DeTable, DeValue};

/// Spanned words of the text.
type Spanned<T> = toml::Spanned<T>;

/// What is shared by the whole walk over one text.
pub(super) struct Notes {
    /// The text.
    pub(super) file: FileId,
    /// Whether every key must be there (false in an overrides file).
    pub(super) complete: bool,
    /// What was found.
    pub(super) report: RefCell<Report>,
    /// Whether a value could not be read, so that no honest shelf can be made.
    pub(super) unread: Cell<bool>,
    /// Where everything stands.
    pub(super) places: RefCell<Places>,
}

impl Notes {
    pub(super) fn new(file: FileId, complete: bool) -> Self {
        Self { file, complete, report: RefCell::default(), unread: Cell::new(false), places: RefCell::default() }
    }

    pub(super) fn at(&self, span: std::ops::Range<usize>) -> At {
        At { file: self.file, start: clamp_u32(span.start), end: clamp_u32(span.end) }
    }

    /// Records a value that cannot be read, and what to do about it.
    pub(super) fn unread(&self, code: &str, at: At, text: String, hint: &str) {
        self.unread.set(true);
        let mut report = self.report.borrow_mut();
        let finding = report.error(code, Some(at), text);
        if !hint.is_empty() {
            finding.hint(hint);
        }
    }
}

fn clamp_u32(x: usize) -> u32 {
    u32::try_from(x).unwrap_or(u32::MAX)
}

/// Where a number must lie, ends included. Wide enough for any shop, narrow enough to catch a wrong unit.
#[derive(Clone, Copy)]
pub(super) struct Range {
    pub(super) least: f64,
    pub(super) greatest: f64,
}

/// From `least` to `greatest`, ends included.
pub(super) const fn within(least: f64, greatest: f64) -> Range {
    Range { least, greatest }
}

/// A table being walked.
pub(super) struct Section<'a> {
    way: Way<'a>,
    /// Its path from the top of the text; empty for the whole text.
    path: String,
    known: Vec<&'static str>,
}

enum Way<'a> {
    /// Reading a text.
    Read { table: &'a DeTable<'a>, at: At, notes: &'a Notes, complete: bool },
    /// Describing the text as a JSON Schema.
    Describe { properties: Map<String, Value>, required: Vec<Value>, complete: bool },
}

impl<'a> Section<'a> {
    /// The whole text.
    pub(super) fn read(table: &'a DeTable<'a>, at: At, notes: &'a Notes) -> Self {
        Self::within(String::new(), table, at, notes)
    }

    fn within(path: String, table: &'a DeTable<'a>, at: At, notes: &'a Notes) -> Self {
        notes.places.borrow_mut().put(path.clone(), at);
        Self { way: Way::Read { table, at, notes, complete: notes.complete }, path, known: Vec::new() }
    }

    pub(super) fn describe(complete: bool) -> Self {
        let way = Way::Describe { properties: Map::new(), required: Vec::new(), complete };
        Self { way, path: String::new(), known: Vec::new() }
    }

    /// Whether this walk writes a schema.
    pub(super) fn describing(&self) -> bool {
        matches!(self.way, Way::Describe { .. })
    }

    /// Where the table stands, when reading.
    pub(super) fn place(&self) -> Option<At> {
        match &self.way {
            Way::Read { at, .. } => Some(*at),
            Way::Describe { .. } => None,
        }
    }

    /// Lets the places of this table be found under another name as well.
    pub(super) fn known_as(&self, name: &str) {
        if let Way::Read { notes, .. } = &self.way {
            notes.places.borrow_mut().also(&self.path, name);
        }
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// Whether the text has the key.
    pub(super) fn has(&self, key: &str) -> bool {
        match &self.way {
            Way::Read { table, .. } => table.get(key).is_some(),
            Way::Describe { .. } => false,
        }
    }

    /// Calls `walk` with all keys optional: for keys that only some kinds need.
    pub(super) fn optional(&mut self, walk: impl FnOnce(&mut Self)) {
        let before = self.set_complete(false);
        walk(self);
        self.set_complete(before);
    }

    /// Calls `walk` with all keys needed, even in an overrides file: for things that are replaced as a whole.
    pub(super) fn needed(&mut self, walk: impl FnOnce(&mut Self)) {
        let before = self.set_complete(true);
        walk(self);
        self.set_complete(before);
    }

    fn set_complete(&mut self, to: bool) -> bool {
        let (Way::Read { complete, .. } | Way::Describe { complete, .. }) = &mut self.way;
        std::mem::replace(complete, to)
    }

    /// A number in a range.
    pub(super) fn number(&mut self, key: &'static str, range: Range, slot: &mut f64, what: &'static str) {
        let schema = || json!({ "type": "number", "minimum": range.least, "maximum": range.greatest });
        if let Some((value, at, notes)) = self.take(key, what, schema)
            && let Some(x) = number_of(value, at, key, range, notes)
        {
            *slot = x;
        }
    }

    /// A length in mm, as a plain number or as text with its unit.
    pub(super) fn length(&mut self, key: &'static str, range: Range, slot: &mut f64, what: &'static str) {
        if let Some((value, at, notes)) = self.take(key, what, || length_schema(range))
            && let Some(x) = length_of(value, at, key, range, notes)
        {
            *slot = x;
        }
    }

    /// Thickness of a rough board: in quarters of an inch, as text such as `8/4`, or measured.
    pub(super) fn board(
        &mut self,
        key: &'static str,
        range: Range,
        (quarters, rough): (&mut Option<u32>, &mut f64),
        what: &'static str,
    ) {
        let Some((value, at, notes)) = self.take(key, what, || length_schema(range)) else { return };
        let text = if let DeValue::String(text) = value { text } else { "" };
        if let Ok(count) = Quarters::parse(text) {
            (*quarters, *rough) = (Some(count.count()), f64::from(count.count()) * 25.4 / 4.0);
        } else if let Some(x) = length_of(value, at, key, range, notes) {
            (*quarters, *rough) = (None, x);
        }
    }

    /// A whole number.
    pub(super) fn count(&mut self, key: &'static str, range: Range, slot: &mut u32, what: &'static str) {
        let schema = || json!({ "type": "integer", "minimum": range.least, "maximum": range.greatest });
        if let Some((value, at, notes)) = self.take(key, what, schema)
            && let Some(x) = count_of(value, at, key, range, notes)
        {
            *slot = x;
        }
    }

    /// Yes or no.
    pub(super) fn flag(&mut self, key: &'static str, slot: &mut bool, what: &'static str) {
        if let Some((value, at, notes)) = self.take(key, what, || json!({ "type": "boolean" })) {
            match value {
                DeValue::Boolean(b) => *slot = *b,
                other => wrong_type(notes, at, key, "true or false", other),
            }
        }
    }

    /// Words.
    pub(super) fn text(&mut self, key: &'static str, slot: &mut String, what: &'static str) {
        let schema = || json!({ "type": "string", "minLength": 1 });
        if let Some((value, at, notes)) = self.take(key, what, schema) {
            match value {
                DeValue::String(s) if !s.trim().is_empty() => *slot = s.to_string(),
                DeValue::String(_) => {
                    notes.unread(
                        "empty",
                        at,
                        format!("`{key}` is empty; expected text"),
                        "write a word between the quotes",
                    );
                }
                other => wrong_type(notes, at, key, "text in quotation marks", other),
            }
        }
    }

    /// One of a few words.
    pub(super) fn choice(&mut self, key: &'static str, words: &[&'static str], what: &'static str) -> Option<usize> {
        let (value, at, notes) = self.take(key, what, || json!({ "enum": words }))?;
        let DeValue::String(s) = value else {
            wrong_type(notes, at, key, &format!("one of {}", words.join(", ")), value);
            return None;
        };
        let found = words.iter().position(|w| w == s);
        if found.is_none() {
            let near = nearest(s, words.iter().copied());
            let hint =
                near.map_or_else(|| format!("use one of {}", words.join(", ")), |w| format!("did you mean `{w}`?"));
            notes.unread(
                "unknown-word",
                at,
                format!("`{key}` cannot be `{s}`: expected one of {}", words.join(", ")),
                &hint,
            );
        }
        found
    }

    /// A list of numbers (`lengths`: each may carry a unit), `fewest` at least.
    pub(super) fn numbers(&mut self, key: &'static str, shape: List, slot: &mut Vec<f64>, what: &'static str) {
        let Some((value, at, notes)) = self.take(key, what, || shape.schema()) else { return };
        let DeValue::Array(array) = value else {
            wrong_type(notes, at, key, "a list of numbers in square brackets", value);
            return;
        };
        if array.len() < shape.fewest || array.len() > shape.most {
            let want = if shape.fewest == shape.most {
                format!("exactly {}", shape.fewest)
            } else {
                format!("at least {}", shape.fewest)
            };
            notes.unread("wrong-length", at, format!("`{key}` has {} numbers; expected {want}", array.len()), what);
            return;
        }
        let one = if shape.lengths { length_of } else { number_of };
        let read: Vec<Option<f64>> =
            array.iter().map(|v| one(v.get_ref(), notes.at(v.span()), key, shape.range, notes)).collect();
        if let Some(all) = read.into_iter().collect() {
            *slot = all;
        }
    }

    /// A list of exactly `N` numbers.
    pub(super) fn array<const N: usize>(
        &mut self,
        key: &'static str,
        lengths: bool,
        range: Range,
        slot: &mut [f64; N],
        what: &'static str,
    ) {
        let mut list = slot.to_vec();
        self.numbers(key, List { range, fewest: N, most: N, lengths }, &mut list, what);
        if let Ok(all) = list.try_into() {
            *slot = all;
        }
    }

    /// A table inside this one.
    pub(super) fn table(&mut self, key: &'static str, what: &'static str, walk: impl FnOnce(&mut Section<'_>)) {
        if let Way::Describe { complete, .. } = self.way {
            let mut inner = Section::describe(complete);
            walk(&mut inner);
            let schema = inner.into_schema();
            self.take(key, what, || schema);
            return;
        }
        let Some((value, at, notes)) = self.take(key, what, || Value::Null) else { return };
        let DeValue::Table(table) = value else {
            wrong_type(notes, at, key, "a table", value);
            return;
        };
        let mut inner = Section::within(self.path_of(key), table, at, notes);
        walk(&mut inner);
        inner.finish();
    }

    /// A list of tables, read as a whole: every key of every item is needed, in an overrides file too.
    pub(super) fn tables<T>(
        &mut self,
        key: &'static str,
        what: &'static str,
        slot: &mut Vec<T>,
        mut item: impl FnMut(&mut Section<'_>) -> T,
    ) {
        if let Way::Describe { complete, .. } = self.way {
            let mut inner = Section::describe(complete);
            let _ = item(&mut inner);
            let items = inner.into_schema();
            self.take(key, what, || json!({ "type": "array", "minItems": 1, "items": items }));
            return;
        }
        let mut found = Vec::new();
        if self.each_table(key, what, |inner| inner.needed(|inner| found.push(item(inner)))) {
            *slot = found;
        }
    }

    /// Walks a list of tables; false if there is none to walk.
    pub(super) fn each_table(
        &mut self,
        key: &'static str,
        what: &'static str,
        mut walk: impl FnMut(&mut Section<'_>),
    ) -> bool {
        let Some((value, at, notes)) = self.take(key, what, || Value::Null) else { return false };
        let DeValue::Array(array) = value else {
            wrong_type(notes, at, key, &format!("a list of tables, each headed [[{key}]]"), value);
            return false;
        };
        if array.is_empty() {
            notes.unread("empty", at, format!("`{key}` is empty"), "write at least one");
        }
        for (i, one) in array.iter().enumerate() {
            let at = notes.at(one.span());
            let DeValue::Table(table) = one.get_ref() else {
                wrong_type(notes, at, key, "a table", one.get_ref());
                continue;
            };
            let mut inner = Section::within(format!("{}[{i}]", self.path_of(key)), table, at, notes);
            walk(&mut inner);
            inner.finish();
        }
        true
    }

    /// Adds a finding of the caller at this table.
    pub(super) fn refuse(&self, code: &str, text: String, hint: &str) {
        if let Way::Read { at, notes, .. } = &self.way {
            notes.unread(code, *at, text, hint);
        }
    }

    /// Adds a finding of the caller at a key, or at this table if it has no such key.
    pub(super) fn refuse_at(&self, key: &str, code: &str, text: String, hint: &str) {
        if let Way::Read { at, notes, table, .. } = &self.way {
            let at = table.get(key).map_or(*at, |value| notes.at(value.span()));
            notes.unread(code, at, text, hint);
        }
    }

    /// Reports keys that nobody asked for.
    pub(super) fn finish(self) {
        let Way::Read { table, notes, at, .. } = &self.way else { return };
        let mut strangers: Vec<_> = table.keys().filter(|k| !self.known.contains(&k.get_ref().as_ref())).collect();
        strangers.sort_by_key(|k| k.span().start);
        for key in strangers {
            let word = key.get_ref();
            let near = nearest(word, self.known.iter().copied().filter(|k| table.get(*k).is_none()));
            let hint = match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the keys here are {}", self.known.join(", ")),
            };
            if let Some(near) = near {
                // What was meant by the stranger is not missing as well.
                let missing = missing_text(near, "");
                let of_it = |f: &Finding| f.code == "missing-key" && f.at == Some(*at) && f.text.starts_with(&missing);
                notes.report.borrow_mut().findings.retain(|f| !of_it(f));
            }
            notes
                .report
                .borrow_mut()
                .error("unknown-key", Some(notes.at(key.span())), format!("`{word}` is not a key of {}", self.name()))
                .hint(hint);
        }
    }

    /// How a person calls this table.
    fn name(&self) -> String {
        let table = self.path.split('[').next().unwrap_or_default();
        match (table.is_empty(), self.path.contains('[')) {
            (true, _) => "this file".to_owned(),
            (false, true) => format!("[[{table}]]"),
            (false, false) => format!("[{table}]"),
        }
    }

    /// The schema of what was declared.
    pub(super) fn into_schema(self) -> Value {
        let Way::Describe { properties, required, .. } = self.way else { return Value::Null };
        json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false })
    }

    /// Declares a key; the value if the text has it.
    fn take(
        &mut self,
        key: &'static str,
        what: &'static str,
        schema: impl FnOnce() -> Value,
    ) -> Option<(&'a DeValue<'a>, At, &'a Notes)> {
        self.known.push(key);
        let path = self.path_of(key);
        match &mut self.way {
            Way::Describe { properties, required, complete } => {
                let mut schema = schema();
                schema["description"] = json!(what);
                properties.insert(key.to_owned(), schema);
                if *complete {
                    required.push(json!(key));
                }
                None
            }
            Way::Read { table, at, notes, complete } => {
                let found: Option<&'a Spanned<DeValue<'a>>> = table.get(key);
                if found.is_none() && *complete {
                    notes.unread(
                        "missing-key",
                        *at,
                        missing_text(key, &format!(" ({what})")),
                        &format!("add `{key} = …`"),
                    );
                }
                let found = found.map(|v| (v.get_ref(), notes.at(v.span()), *notes));
                if let Some((_, at, notes)) = found {
                    notes.places.borrow_mut().put(path, at);
                }
                found
            }
        }
    }
}

/// What a list of numbers must look like.
#[derive(Clone, Copy)]
pub(super) struct List {
    pub(super) range: Range,
    pub(super) fewest: usize,
    pub(super) most: usize,
    pub(super) lengths: bool,
}

impl List {
    fn schema(self) -> Value {
        let Range { least, greatest } = self.range;
        let items = if self.lengths {
            length_schema(self.range)
        } else {
            json!({ "type": "number", "minimum": least, "maximum": greatest })
        };
        let mut schema = json!({ "type": "array", "items": items, "minItems": self.fewest });
        if self.most != usize::MAX {
            schema["maxItems"] = json!(self.most);
        }
        schema
    }
}

fn missing_text(key: &str, what: &str) -> String {
    format!("`{key}` is missing here{what}")
}

fn length_schema(range: Range) -> Value {
    json!({ "anyOf": [
        { "type": "number", "minimum": range.least, "maximum": range.greatest },
        { "type": "string", "pattern": "[0-9]" },
    ] })
}

fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn wrong_type(notes: &Notes, at: At, key: &str, expected: &str, found: &DeValue<'_>) {
    let text = format!("`{key}` is {}; expected {expected}", kind_of(found));
    let hint = match found {
        DeValue::String(_) if expected.contains("number") => "numbers stand without quotes",
        _ => "see how the shelf that comes with treen has it: `treen shelf init DIR` writes it out",
    };
    notes.unread("wrong-type", at, text, hint);
}

fn plain_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|x| x as f64),
        DeValue::Float(x) => x.as_str().parse().ok().filter(|x: &f64| x.is_finite()),
        _ => None,
    }
}

fn in_range(x: f64, at: At, key: &str, range: Range, notes: &Notes) -> Option<f64> {
    if (range.least..=range.greatest).contains(&x) {
        return Some(x);
    }
    let text = format!("`{key}` is {x}; expected a number from {} to {}", range.least, range.greatest);
    notes.unread("out-of-range", at, text, "look at the unit: lengths are in mm unless they carry one");
    None
}

fn number_of(value: &DeValue<'_>, at: At, key: &str, range: Range, notes: &Notes) -> Option<f64> {
    let Some(x) = plain_number(value) else {
        wrong_type(notes, at, key, "a number", value);
        return None;
    };
    in_range(x, at, key, range, notes)
}

fn length_of(value: &DeValue<'_>, at: At, key: &str, range: Range, notes: &Notes) -> Option<f64> {
    let DeValue::String(text) = value else { return number_of(value, at, key, range, notes) };
    match Length::parse(text, Units::Mm) {
        Ok(x) => in_range(x.as_mm(), at, key, range, notes),
        Err(why) => {
            notes.unread(
                "not-a-length",
                at,
                format!("`{key}` is not a length: {why}"),
                "write 6, \"6 mm\" or \"1/4 in\"",
            );
            None
        }
    }
}

fn count_of(value: &DeValue<'_>, at: At, key: &str, range: Range, notes: &Notes) -> Option<u32> {
    let DeValue::Integer(_) = value else {
        wrong_type(notes, at, key, "a whole number", value);
        return None;
    };
    // The range of every count lies within u32, so the conversion is exact.
    number_of(value, at, key, range, notes).map(|x| x as u32)
}
