//! The server's addresses as an OpenAPI 3.1 document, for whoever would drive it from elsewhere on this machine.

use super::wire::{
    CarvingHead, ChoicesView, ChooseAsk, ConflictView, Event, FolderView, JobView, MapView, NewJob, PreviewAsk,
    PreviewHead, PutAt, ReckonAsk, SaveEdits, SaveText, TroubleView, WhatIfAsk, WhatIfView, WorkView,
};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde_json::{Map, Value, json};

/// The document.
pub fn document() -> Value {
    let mut settings = SchemaSettings::draft2020_12();
    settings.definitions_path = "/components/schemas".into();
    let mut of = settings.into_generator();
    let mut paths = Map::new();
    let (job, file) = (true, false);
    let mut put = |path: &str, method: &str, says: &str, of_job: bool, body: Option<Value>, answer: Value| {
        let mut operation = json!({
            "summary": says,
            "responses": {
                "200": { "description": "done", "content": answer },
                "409": { "description": "the file has changed meanwhile; nothing was written",
                         "content": { "application/json": { "schema": { "$ref": "#/components/schemas/ConflictView" } } } },
                "4XX": { "description": "refused, and why",
                         "content": { "application/json": { "schema": { "$ref": "#/components/schemas/TroubleView" } } } },
            },
        });
        let mut parameters = Vec::new();
        if of_job {
            parameters.push(json!({ "name": "job", "in": "query", "required": true, "schema": { "type": "string" } }));
        }
        if path == "/api/map" {
            parameters
                .push(json!({ "name": "check", "in": "query", "required": true, "schema": { "type": "string" } }));
        }
        if path == "/api/brought" {
            for name in ["name", "file"] {
                parameters
                    .push(json!({ "name": name, "in": "query", "required": true, "schema": { "type": "string" } }));
            }
        }
        if path == "/api/carving" {
            parameters
                .push(json!({ "name": "setup", "in": "query", "required": true, "schema": { "type": "string" } }));
        }
        if path.contains("{file}") {
            parameters.push(json!({ "name": "file", "in": "path", "required": true, "schema": { "type": "string" } }));
        }
        operation["parameters"] = parameters.into();
        if let Some(body) = body {
            operation["requestBody"] = json!({ "required": true, "content": body });
        }
        let entry = paths.entry(path.to_owned()).or_insert_with(|| json!({}));
        entry[method] = operation;
    };
    let bytes = json!({ "application/octet-stream": {} });
    put(
        "/api/jobs",
        "get",
        "The folder's jobs, and examples to start from.",
        file,
        None,
        content::<FolderView>(&mut of),
    );
    let new = Some(content::<NewJob>(&mut of));
    put("/api/jobs", "post", "Begins a job.", file, new, content::<PutAt>(&mut of));
    let raw = Some(bytes.clone());
    put("/api/brought", "post", "Begins a job with a drawing or a solid.", file, raw, content::<PutAt>(&mut of));
    put("/api/job", "get", "A job as it stands in its file.", job, None, content::<JobView>(&mut of));
    let text = Some(content::<SaveText>(&mut of));
    put("/api/text", "post", "Saves a whole text.", job, text, content::<JobView>(&mut of));
    let edits = Some(content::<SaveEdits>(&mut of));
    put("/api/edit", "post", "Saves changes of single values.", job, edits, content::<JobView>(&mut of));
    let ask = Some(content::<PreviewAsk>(&mut of));
    put("/api/preview", "post", "The piece with changes that are not saved: see PreviewHead.", job, ask, bytes.clone());
    put("/api/plan", "post", "Starts planning.", job, None, content::<WorkView>(&mut of));
    put("/api/plan", "delete", "Stops planning.", job, None, content::<WorkView>(&mut of));
    put("/api/pack/{file}", "get", "A file of the pack.", job, None, bytes.clone());
    put("/api/carving", "get", "The carving of a setup, move by move: see CarvingHead.", job, None, bytes);
    put("/api/choices", "get", "What can be chosen, and what it comes to.", job, None, content::<ChoicesView>(&mut of));
    let keys = Some(content::<ReckonAsk>(&mut of));
    put("/api/choices", "post", "Asks what possibilities come to.", job, keys, content::<ChoicesView>(&mut of));
    let key = Some(content::<ChooseAsk>(&mut of));
    put("/api/choose", "post", "Settles a possibility for the shop.", job, key, content::<JobView>(&mut of));
    let ask = Some(content::<WhatIfAsk>(&mut of));
    put("/api/what-if", "post", "What other errors and another warmth do.", job, ask, content::<WhatIfView>(&mut of));
    put("/api/map", "get", "The figures of a check in plan.", job, None, content::<MapView>(&mut of));
    put("/api/film", "get", "The whole making as an animated picture.", job, None, json!({ "image/gif": {} }));
    put("/api/zip", "get", "The whole pack.", job, None, json!({ "application/zip": {} }));
    put("/api/keep", "post", "Writes the pack beside the job.", job, None, content::<PutAt>(&mut of));
    let events = json!({ "text/event-stream": { "schema": of.subschema_for::<Event>() } });
    put("/api/events", "get", "What happens, as it happens.", file, None, events);
    for more in [
        of.subschema_for::<CarvingHead>(),
        of.subschema_for::<ConflictView>(),
        of.subschema_for::<PreviewHead>(),
        of.subschema_for::<TroubleView>(),
    ] {
        debug_assert!(more.get("$ref").is_some());
    }
    json!({
        "openapi": "3.1.0",
        "info": { "title": "Treen's page", "version": env!("CARGO_PKG_VERSION"), "description":
            "For this machine only. Every change comes as application/json, files as application/octet-stream. Lengths are mm unless a name says otherwise." },
        "paths": paths,
        "components": { "schemas": of.take_definitions(true) },
    })
}

fn content<T: JsonSchema>(of: &mut SchemaGenerator) -> Value {
    json!({ "application/json": { "schema": of.subschema_for::<T>() } })
}
