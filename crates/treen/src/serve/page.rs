//! The files of the page, carried in the program. The build script takes them from `web/dist` as they stand there.

use super::guard::refusal;
use axum::http::header::{ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, VARY};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{Html, IntoResponse, Response};

include!(concat!(env!("OUT_DIR"), "/page.rs"));

const FONTS: [(&str, &[u8]); 2] = [
    ("fonts/regular.ttf", include_bytes!("../../../../fonts/SourceSans3-Regular.ttf")),
    ("fonts/semibold.ttf", include_bytes!("../../../../fonts/SourceSans3-SemiBold.ttf")),
];

const WITHOUT: &str = "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\"><title>Treen</title>\
    <h1>This program carries no page</h1><p>It was built where the page had not been made. In the project's folder, with \
    Node 20 or newer on the machine, <code>make page</code> makes it; then build the program again. Every command of the \
    command line works without it.</p></html>";

/// Whether the program carries the page.
pub(super) fn is_built() -> bool {
    !FILES.is_empty()
}

/// A file of the page; the page itself for `/`.
pub(super) fn file(path: &str, headers: &HeaderMap) -> Response {
    let name = path.trim_start_matches('/');
    let name = if name.is_empty() { "index.html" } else { name };
    if let Some((_, bytes)) = FONTS.iter().find(|(file, _)| *file == name) {
        return ([(CONTENT_TYPE, "font/ttf"), (CACHE_CONTROL, "max-age=86400")], *bytes).into_response();
    }
    let Some((_, plain, packed)) = FILES.iter().find(|(file, ..)| *file == name) else {
        return match name {
            "index.html" => Html(WITHOUT).into_response(),
            _ => refusal(StatusCode::NOT_FOUND, "there is nothing here", "begin at /"),
        };
    };
    let packs = headers.get(ACCEPT_ENCODING).and_then(|v| v.to_str().ok()).is_some_and(|v| v.contains("gzip"));
    // The names of scripts do not change with their content, so every load asks again.
    let kind = [(CONTENT_TYPE, kind_of(name)), (CACHE_CONTROL, "no-cache"), (VARY, "accept-encoding")];
    if packs { (kind, [(CONTENT_ENCODING, "gzip")], *packed).into_response() } else { (kind, *plain).into_response() }
}

/// The type of a file by the end of its name.
pub(super) fn kind_of(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "json" => "application/json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "pdf" => "application/pdf",
        "csv" => "text/csv; charset=utf-8",
        "ics" => "text/calendar; charset=utf-8",
        "nc" => "text/plain; charset=us-ascii",
        "glb" => "model/gltf-binary",
        "stl" => "model/stl",
        "3mf" => "model/3mf",
        _ => "application/octet-stream",
    }
}
