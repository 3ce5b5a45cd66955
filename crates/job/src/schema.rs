//! The JSON Schema of a job, written from the table of keys (JSON Schema draft 2020-12).
//!
//! It says less than the reader does: limits that depend on a unit or on another key cannot be put into it.

use crate::files::{FileKind, GREATEST_PATH};
use crate::keys::{JOB, Key, Kind, MEASURED, Table};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// A length in words: number or fraction of an inch, a unit or none, a remainder or none. No length is negative here.
const LENGTH_PATTERN: &str = concat!(
    r#"^\s*\+?\s*(([0-9]+([.,][0-9]*)?|[.,][0-9]+)\s*(mm|cm|m|in|inch|inches|"|″|”|'')?"#,
    r#"|([0-9]+(\s+|\s*-\s*))?[0-9]+\s*[/⁄]\s*[0-9]+\s*(in|inch|inches|"|″|”|'')?)"#,
    r"(\s+[-−+]\s*[0-9.,]+\s*mm)?\s*$"
);
const BOARDS_PATTERN: &str = r"^\s*[0-9]+\s*/\s*4\s*$";

pub(crate) fn schema() -> String {
    whole(&JOB, "Treen job")
}

pub(crate) fn measured_schema() -> String {
    whole(&MEASURED, "Treen record of measured values")
}

fn whole(spec: &Table, title: &str) -> String {
    let mut root = table(spec);
    root.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    root.insert("title".into(), json!(title));
    let text = serde_json::to_string_pretty(&Value::Object(root));
    // Maps with text keys can always be written.
    text.unwrap_or_default() + "\n"
}

fn table(spec: &Table) -> Map<String, Value> {
    let mut out = Map::new();
    out.insert("description".into(), json!(spec.doc));
    if spec.variants.is_empty() {
        out.extend(object(spec.keys.iter(), None));
        return out;
    }
    let one_of = spec.variants.iter().map(|v| {
        let mut variant = object(spec.keys.iter().chain(v.keys), Some(v.name));
        variant.insert("description".into(), json!(v.doc));
        Value::Object(variant)
    });
    out.insert("oneOf".into(), one_of.collect());
    out
}

fn object<'a>(keys: impl Iterator<Item = &'a Key> + Clone, kind: Option<&str>) -> Map<String, Value> {
    let of_kind = kind.map(|kind| ("kind".to_owned(), json!({ "const": kind })));
    let properties: Map<_, _> =
        of_kind.into_iter().chain(keys.clone().map(|k| (k.name.to_owned(), value(k)))).collect();
    let always = keys.clone().filter(|k| k.required && k.unless.is_none());
    let required = kind.map(|_| "kind").into_iter().chain(always.map(|k| k.name));
    let mut out = Map::new();
    out.insert("type".into(), json!("object"));
    out.insert("properties".into(), Value::Object(properties));
    out.insert("required".into(), required.collect());
    let others: BTreeSet<&str> = keys.clone().filter_map(|k| k.unless).collect();
    let choices = others.into_iter().map(|other| {
        let mine = keys.clone().filter(|k| k.unless == Some(other));
        let needed: Vec<&str> = mine.clone().filter(|k| k.required).map(|k| k.name).collect();
        let none: Vec<Value> = mine.map(|k| json!({ "required": [k.name] })).collect();
        json!({ "oneOf": [
            { "required": [other], "not": { "anyOf": none } },
            { "required": needed, "not": { "required": [other] } },
        ] })
    });
    let choices: Vec<Value> = choices.collect();
    if !choices.is_empty() {
        out.insert("allOf".into(), Value::Array(choices));
    }
    out.insert("additionalProperties".into(), json!(false));
    out
}

fn value(key: &Key) -> Value {
    let mut out = match kind(key.kind) {
        Value::Object(out) => out,
        other => Map::from_iter([("const".to_owned(), other)]),
    };
    out.insert("description".into(), json!(key.doc));
    Value::Object(out)
}

fn kind(kind: Kind) -> Value {
    match kind {
        Kind::Text => json!({ "type": "string", "minLength": 1, "maxLength": crate::reader::GREATEST_TEXT }),
        Kind::Name => json!({ "type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9-]*$", "maxLength": 40 }),
        Kind::Choice(words) => json!({ "enum": words }),
        Kind::Length(limits) => length(limits.closed && limits.least == 0.0),
        Kind::Point => json!({ "type": "array", "items": signed_length(), "minItems": 2, "maxItems": 2 }),
        Kind::Lengths { .. } => json!({ "type": "array", "items": length(false), "minItems": 2, "maxItems": 2 }),
        Kind::Number { least, greatest, .. } => json!({ "type": "number", "minimum": least, "maximum": greatest }),
        Kind::Count { least, greatest } => json!({ "type": "integer", "minimum": least, "maximum": greatest }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Date => json!({ "type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" }),
        Kind::Colour => json!({ "type": "string", "pattern": "^#[0-9A-Fa-f]{6}$" }),
        Kind::Boards => {
            let lengths = length(false);
            json!({ "anyOf": [{ "type": "string", "pattern": BOARDS_PATTERN }, lengths] })
        }
        Kind::File(kind) => json!({ "type": "string", "pattern": path_pattern(kind), "maxLength": GREATEST_PATH }),
        Kind::Table(spec) => Value::Object(table(spec)),
        Kind::Tables(spec) => json!({ "type": "array", "items": table(spec) }),
    }
}

fn signed_length() -> Value {
    let signed = LENGTH_PATTERN.replacen(r"\+?", "[-−+]?", 1);
    json!({ "anyOf": [{ "type": "number" }, { "type": "string", "pattern": signed }] })
}

/// A path down from the job's folder, with one of the endings in any mixture of capitals and small letters.
fn path_pattern(kind: FileKind) -> String {
    let any_case = |end: &str| -> String {
        let each = |c: char| {
            if c.is_ascii_alphabetic() { format!("[{}{c}]", c.to_ascii_uppercase()) } else { format!("[{c}]") }
        };
        end.chars().map(each).collect()
    };
    let endings: Vec<String> = kind.endings().iter().map(|end| any_case(end)).collect();
    format!(r#"^(?!/)(?!.*//)(?!(.*/)?\.\.?(/|$))[^\\:*?"<>|]*({})$"#, endings.join("|"))
}

fn length(zero: bool) -> Value {
    let limit = if zero { "minimum" } else { "exclusiveMinimum" };
    json!({ "anyOf": [{ "type": "number", limit: 0 }, { "type": "string", "pattern": LENGTH_PATTERN }] })
}
