//! The page's types are written from the server's: `web/src/wire/wire.ts` says what the Rust types say, or this fails.
//! `REWRITE_EXPECTED=1` writes it anew.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use papers::{PlanDoc, ProofDoc};
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};
use std::fmt::Write as _;
use treen::serve::wire::{
    CarvingHead, ChoicesView, ChooseAsk, ConflictView, Event, FolderView, JobView, MapView, NewJob, PreviewAsk,
    PreviewHead, PutAt, ReckonAsk, SaveEdits, SaveText, TroubleView, WhatIfAsk, WhatIfView,
};

const PATH: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../web/src/wire/wire.ts");

/// JSON Schemas of all that goes over the wire, by name.
fn schemas() -> Map<String, Value> {
    // As it is sent, what is always written is always there.
    let mut of = SchemaSettings::draft2020_12().for_serialize().into_generator();
    of.subschema_for::<FolderView>();
    of.subschema_for::<JobView>();
    of.subschema_for::<SaveText>();
    of.subschema_for::<SaveEdits>();
    of.subschema_for::<ConflictView>();
    of.subschema_for::<PreviewAsk>();
    of.subschema_for::<PreviewHead>();
    of.subschema_for::<CarvingHead>();
    of.subschema_for::<ChoicesView>();
    of.subschema_for::<ReckonAsk>();
    of.subschema_for::<MapView>();
    of.subschema_for::<ChooseAsk>();
    of.subschema_for::<WhatIfAsk>();
    of.subschema_for::<WhatIfView>();
    of.subschema_for::<NewJob>();
    of.subschema_for::<PutAt>();
    of.subschema_for::<TroubleView>();
    of.subschema_for::<Event>();
    of.subschema_for::<PlanDoc>();
    of.subschema_for::<ProofDoc>();
    of.take_definitions(true)
}

fn text(schemas: &Map<String, Value>) -> String {
    let mut out = String::from("// Written by crates/treen/tests/wire.rs from the server's types. Do not edit.\n");
    for (name, schema) in schemas {
        let doc = schema["description"].as_str().unwrap_or_default().lines().next().unwrap_or_default();
        let _ = write!(out, "\n/** {doc} */\nexport type {name} = {};\n", type_of(schema, 0));
    }
    out
}

/// A schema as a TypeScript type.
fn type_of(schema: &Value, depth: usize) -> String {
    if let Some(reference) = schema["$ref"].as_str() {
        return reference.rsplit('/').next().unwrap().to_owned();
    }
    if let Some(only) = schema.get("const") {
        return only.to_string();
    }
    let listed = |list: &Value, with: &str| {
        let types: Vec<String> = list.as_array().unwrap().iter().map(|s| type_of(s, depth)).collect();
        types.join(with)
    };
    if let Some(words) = schema["enum"].as_array() {
        return words.iter().map(Value::to_string).collect::<Vec<_>>().join(" | ");
    }
    for key in ["oneOf", "anyOf"] {
        if schema.get(key).is_some() {
            let variants = listed(&schema[key], " | ");
            // A table that is one of several may have keys of its own beside them.
            return match schema.get("properties") {
                Some(_) => format!("{} & ({variants})", object(schema, depth)),
                None => variants,
            };
        }
    }
    if let Some(types) = schema["type"].as_array() {
        let one = |kind: &Value| {
            let mut schema = schema.clone();
            schema["type"] = kind.clone();
            type_of(&schema, depth)
        };
        return types.iter().map(one).collect::<Vec<_>>().join(" | ");
    }
    match schema["type"].as_str() {
        Some("string") => "string".to_owned(),
        Some("number" | "integer") => "number".to_owned(),
        Some("boolean") => "boolean".to_owned(),
        Some("null") => "null".to_owned(),
        Some("array") => array(schema, depth),
        Some("object") => object(schema, depth),
        other => panic!("no TypeScript for {other:?} in {schema}"),
    }
}

fn array(schema: &Value, depth: usize) -> String {
    if let Some(items) = schema["prefixItems"].as_array() {
        return format!("[{}]", items.iter().map(|s| type_of(s, depth)).collect::<Vec<_>>().join(", "));
    }
    let item = type_of(&schema["items"], depth);
    match (schema["minItems"].as_u64(), schema["maxItems"].as_u64()) {
        (Some(least), Some(most)) if least == most && most <= 4 => {
            format!("[{}]", vec![item; most as usize].join(", "))
        }
        _ if item.contains([' ', '{']) => format!("({item})[]"),
        _ => format!("{item}[]"),
    }
}

fn object(schema: &Value, depth: usize) -> String {
    let Some(properties) = schema["properties"].as_object() else {
        return match schema.get("additionalProperties") {
            Some(values) if values.is_object() => format!("Record<string, {}>", type_of(values, depth)),
            _ => "Record<string, unknown>".to_owned(),
        };
    };
    let required = |name: &str| schema["required"].as_array().is_some_and(|all| all.contains(&json!(name)));
    let indent = "  ".repeat(depth + 1);
    let mut out = String::from("{\n");
    for (name, value) in properties {
        let mark = if required(name) { "" } else { "?" };
        let _ = writeln!(out, "{indent}{name}{mark}: {};", type_of(value, depth + 1));
    }
    out + &"  ".repeat(depth) + "}"
}

#[test]
fn the_page_knows_the_server_s_types() {
    let now = text(&schemas());
    if std::env::var_os("REWRITE_EXPECTED").is_some() {
        std::fs::create_dir_all(std::path::Path::new(PATH).parent().unwrap()).unwrap();
        std::fs::write(PATH, &now).unwrap();
    }
    let written = std::fs::read_to_string(PATH).unwrap_or_default();
    assert!(written == now, "the types of the page have drifted: run this test with REWRITE_EXPECTED=1");
}

#[test]
fn types_are_written_as_typescript_has_them() {
    let cases = [
        (json!({ "type": "string" }), "string"),
        (json!({ "type": ["number", "null"] }), "number | null"),
        (json!({ "type": "array", "items": { "type": ["number", "null"] } }), "(number | null)[]"),
        (json!({ "type": "array", "items": { "type": "number" }, "minItems": 2, "maxItems": 2 }), "[number, number]"),
        (json!({ "enum": ["mm", "in"] }), "\"mm\" | \"in\""),
        (json!({ "$ref": "#/$defs/Step" }), "Step"),
        (json!({ "type": "object", "additionalProperties": { "type": "number" } }), "Record<string, number>"),
        (
            json!({ "type": "object", "properties": { "a": { "const": "x" }, "b": { "type": "boolean" } }, "required": ["a"] }),
            "{\n  a: \"x\";\n  b?: boolean;\n}",
        ),
    ];
    for (schema, wanted) in cases {
        assert_eq!(type_of(&schema, 0), wanted);
    }
}

#[test]
fn every_address_and_type_is_in_the_document() {
    let document = treen::serve::openapi();
    assert_eq!(document["openapi"], "3.1.0");
    let text = document.to_string();
    for part in text.split("\"$ref\":\"#/components/schemas/").skip(1) {
        let name = part.split('"').next().unwrap();
        assert!(document["components"]["schemas"].get(name).is_some(), "{name} is named and not described");
    }
    assert!(!text.contains("#/$defs"), "a type is looked for in another place");
    let served = include_str!("../src/serve/api.rs").matches(".route(").count();
    // All but the document itself.
    assert_eq!(document["paths"].as_object().unwrap().len(), served - 1);
}
