//! Who may ask, and what a browser may do with the answers.
//!
//! The page is served to this machine only, but every other page in the maker's browser can reach this address, too.
//! So a request must name this address as its host (or a foreign name was pointed here) and, where the browser says
//! which page it comes from, that page must be ours.

use super::desk::Desk;
use super::wire::TroubleView;
use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, HeaderName, HeaderValue, ORIGIN, REFERRER_POLICY,
    X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// For the page itself: nothing from elsewhere, no script or style but its own files.
const PAGE: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' blob: data:; \
                    connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// For papers shown within the page: they bring their own style and pictures, and run nothing.
const PAPER: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src 'self'; base-uri 'none'; \
                     form-action 'none'; frame-ancestors 'self'; sandbox";

/// For papers that the browser itself shows, such as PDF: its viewer needs its own scripts and styles.
const PLAIN: &str = "frame-ancestors 'self'";

/// Where papers are.
pub(super) const PAPERS_AT: &str = "/api/pack/";

/// Lets a request through, or says why not; puts what the browser must keep to on the answer.
pub(super) async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let policy = match path.strip_prefix(PAPERS_AT) {
        None => PAGE,
        Some(file) if file.ends_with(".pdf") => PLAIN,
        Some(_) => PAPER,
    };
    let mut answer = match refused(request.method(), request.headers(), desk.port()) {
        Some(why) => refusal(StatusCode::FORBIDDEN, why, "open the page at the address `treen serve` prints"),
        None => next.run(request).await,
    };
    let headers = answer.headers_mut();
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    for (name, value) in [
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=()"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    answer
}

fn refused(method: &Method, headers: &HeaderMap, port: u16) -> Option<&'static str> {
    let word = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let ours = |host: &str| ["127.0.0.1", "localhost", "[::1]"].iter().any(|name| host == format!("{name}:{port}"));
    if !word(HOST).is_some_and(ours) {
        return Some("this address goes by another name");
    }
    if word(ORIGIN).is_some_and(|origin| !origin.strip_prefix("http://").is_some_and(ours)) {
        return Some("another page asked for this");
    }
    let site = word(HeaderName::from_static("sec-fetch-site"));
    if site.is_some_and(|site| !matches!(site, "same-origin" | "none")) {
        return Some("another page asked for this");
    }
    // A form of another page can send anything but this, and old browsers do not say where it comes from.
    let changes = !matches!(*method, Method::GET | Method::HEAD);
    let kind = word(CONTENT_TYPE).unwrap_or_default();
    if changes && !["application/json", "application/octet-stream"].iter().any(|ours| kind.starts_with(ours)) {
        return Some("a change must come as application/json, a file as application/octet-stream");
    }
    None
}

/// An answer that says what is wrong and what to do.
pub(super) fn refusal(status: StatusCode, error: &str, hint: &str) -> Response {
    let trouble = TroubleView { error: error.to_owned(), hint: hint.to_owned() };
    (status, json(&trouble)).into_response()
}

/// An answer in JSON.
pub(super) fn json<T: serde::Serialize>(value: &T) -> Response {
    match serde_json::to_vec(value) {
        Ok(bytes) => ([(CONTENT_TYPE, "application/json")], bytes).into_response(),
        Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}
