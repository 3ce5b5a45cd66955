//! The schema, judged by a general-purpose validator of JSON Schema (the `jsonschema` crate).

#![allow(clippy::unwrap_used)]

use base::FileId;
use serde_json::{Value, json};
use std::fs;
use toml::de::{DeTable, DeValue};

/// TOML as JSON: what an editor that checks by the schema sees.
fn json_of(value: &DeValue) -> Value {
    match value {
        DeValue::String(text) => json!(text),
        DeValue::Integer(digits) => json!(i64::from_str_radix(digits.as_str(), digits.radix()).unwrap()),
        DeValue::Float(digits) => json!(digits.as_str().parse::<f64>().unwrap()),
        DeValue::Boolean(flag) => json!(flag),
        DeValue::Datetime(date) => json!(date.to_string()),
        DeValue::Array(list) => list.iter().map(|v| json_of(v.get_ref())).collect(),
        DeValue::Table(table) => json_of_table(table),
    }
}

fn json_of_table(table: &DeTable) -> Value {
    Value::Object(table.iter().map(|(k, v)| (k.get_ref().to_string(), json_of(v.get_ref()))).collect())
}

fn json_of_text(text: &str) -> Option<Value> {
    DeTable::parse(text).ok().map(|table| json_of_table(table.get_ref()))
}

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(&job::schema()).unwrap();
    jsonschema::meta::validate(&schema).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

#[test]
fn a_new_job_fits_the_schema() {
    let starter = json_of_text(&job::starter("Tidepool")).unwrap();
    let errors: Vec<String> = validator().iter_errors(&starter).map(|e| e.to_string()).collect();
    assert_eq!(errors, [""; 0]);
}

#[test]
fn broken_jobs_do_not_fit() {
    let validator = validator();
    let starter = job::starter("Tidepool");
    let slips = [
        ("height = \"52 mm\"", "hieght = \"55 mm\""),
        ("height = \"52 mm\"", ""),
        ("height = \"52 mm\"", "height = \"55 furlongs\""),
        ("height = \"52 mm\"", "height = -55"),
        ("wall = \"6 mm\"", "wall = \"-6 mm\""),
        ("kind = \"circle\"", "kind = \"hexagon\""),
        ("kind = \"circle\"", "lobes = 3, kind = \"circle\""),
        ("colour = \"#1f7a8c\"", "colour = \"teal\""),
        ("pigment = 0.015", "pigment = 0.5"),
        ("boards = \"6/4\"", "boards = \"eight\""),
        ("length = [\"8 mm\", \"20 mm\"]", "length = [\"8 mm\"]"),
        ("[[cast]]", "[cast]"),
    ];
    for (right, wrong) in slips {
        assert!(starter.contains(right), "{right}");
        let text = starter.replacen(right, wrong, 1);
        let broken = json_of_text(&text).unwrap();
        assert!(!validator.is_valid(&broken), "the schema accepts {wrong}");
        assert!(job::parse(&text, FileId(0)).1.has_errors(), "the reader accepts {wrong}");
    }
}

/// The schema may accept what the reader refuses (limits across keys), never the other way round.
#[test]
fn what_the_reader_accepts_fits_the_schema() {
    let validator = validator();
    let starter = job::starter("Tidepool");
    let lengths =
        ["55", "55.5", "\"55\"", "\"5,5 cm\"", "\"2 1/4 in\"", "\"2-1/4\\\"\"", "\"0.05 m\"", "\".5 in\"", "\"55mm\""];
    for height in lengths {
        let text = starter.replace("height = \"52 mm\"", &format!("height = {height}"));
        // Half an inch is a length, yet lower than this piece's ring and drips: the value is judged, not the bowl.
        let (_, report) = job::parse(&text, FileId(0));
        assert!(!report.findings.iter().any(|f| f.text.contains("piece.height")), "{height}: {report:?}");
        assert!(validator.is_valid(&json_of_text(&text).unwrap()), "{height}");
    }
}

#[test]
fn every_refusal_is_read_by_the_schema_too() {
    let validator = validator();
    let mut refused = 0;
    for entry in fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/refusals")).unwrap() {
        let text = fs::read_to_string(entry.unwrap().path().join("job.toml")).unwrap();
        refused += usize::from(json_of_text(&text).is_some_and(|json| !validator.is_valid(&json)));
    }
    assert!(refused >= 6, "the schema refuses only {refused} of the jobs that the reader refuses");
}
