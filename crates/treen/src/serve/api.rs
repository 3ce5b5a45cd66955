//! What can be asked: each address of the server and what answers it.

use super::desk::{Desk, NotSaved};
use super::folder::{GREATEST_TEXT, Refusal};
use super::guard::{PAPERS_AT, guard, json, refusal};
use super::wire::{ChooseAsk, NewJob, PreviewAsk, PutAt, ReckonAsk, SaveEdits, SaveText, WhatIfAsk};
use super::{events, openapi, page};
use axum::Router;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::io::{Cursor, Write};
use std::sync::Arc;

/// The largest body that is read, bytes: a text and its wrapping.
const GREATEST_BODY: usize = 2 * GREATEST_TEXT;

/// The largest drawing or solid that is taken, bytes.
const GREATEST_FILE: usize = 32_000_000;

/// A job to begin with a file.
#[derive(Debug, Deserialize)]
struct Brought {
    name: String,
    file: String,
}

/// Which job is meant.
#[derive(Debug, Deserialize)]
struct Of {
    job: String,
}

/// Which setup of which job is meant.
#[derive(Debug, Deserialize)]
struct OfSetup {
    job: String,
    setup: String,
}

/// Which check of which job is meant.
#[derive(Debug, Deserialize)]
struct OfCheck {
    job: String,
    check: String,
}

/// The server's addresses.
pub fn router(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/api/jobs", get(jobs).post(begin))
        .route("/api/brought", post(brought).layer(DefaultBodyLimit::max(GREATEST_FILE)))
        .route("/api/job", get(job))
        .route("/api/text", post(save))
        .route("/api/edit", post(save_edits))
        .route("/api/preview", post(preview))
        .route("/api/plan", post(plan).delete(stop))
        .route(&format!("{PAPERS_AT}{{*file}}"), get(paper))
        .route("/api/zip", get(zip))
        .route("/api/carving", get(carving))
        .route("/api/film", get(film))
        .route("/api/choices", get(choices).post(reckon))
        .route("/api/choose", post(choose))
        .route("/api/what-if", post(what_if))
        .route("/api/map", get(map))
        .route("/api/keep", post(keep))
        .route("/api/events", get(listen))
        .route("/api/openapi.json", get(async || json(&openapi::document())))
        .fallback(get(pages))
        .layer(DefaultBodyLimit::max(GREATEST_BODY))
        .layer(from_fn_with_state(desk.clone(), guard))
        .with_state(desk)
}

/// Work that touches the disk or computes, off the threads that answer.
async fn at_work(desk: Arc<Desk>, work: impl FnOnce(&Desk) -> Response + Send + 'static) -> Response {
    let done = tokio::task::spawn_blocking(move || work(&desk)).await;
    done.unwrap_or_else(|_| {
        let hint = "please report it, with the job and the shelf";
        refusal(StatusCode::INTERNAL_SERVER_ERROR, "treen has made a mistake; nothing was written", hint)
    })
}

/// What a body says.
fn asked<T: DeserializeOwned>(body: &Bytes) -> Result<T, Box<Response>> {
    serde_json::from_slice(body).map_err(|why| {
        let hint = "send what /api/openapi.json describes";
        Box::new(refusal(StatusCode::BAD_REQUEST, &format!("the request can't be read: {why}"), hint))
    })
}

fn no(why: &Refusal) -> Response {
    let status = match why {
        Refusal::NotThere(_) => StatusCode::NOT_FOUND,
        Refusal::NotAllowed(_) => StatusCode::UNPROCESSABLE_ENTITY,
        Refusal::Conflict => StatusCode::CONFLICT,
        Refusal::Fault(_) => StatusCode::INTERNAL_SERVER_ERROR,
    };
    (status, json(&why.told())).into_response()
}

fn answer<T: serde::Serialize>(outcome: Result<T, NotSaved>) -> Response {
    match outcome {
        Ok(value) => json(&value),
        Err(NotSaved::Refused(why)) => no(&why),
        Err(NotSaved::Conflict(both)) => (StatusCode::CONFLICT, json(&*both)).into_response(),
        Err(NotSaved::Unfit(why)) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &why, "change it in the text instead"),
    }
}

async fn jobs(State(desk): State<Arc<Desk>>) -> Response {
    at_work(desk, |desk| json(&desk.view())).await
}

async fn begin(State(desk): State<Arc<Desk>>, body: Bytes) -> Response {
    let new: NewJob = match asked(&body) {
        Ok(new) => new,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.begin(&new).map(|id| PutAt { id }).map_err(NotSaved::from))).await
}

async fn brought(State(desk): State<Arc<Desk>>, Query(of): Query<Brought>, body: Bytes) -> Response {
    at_work(desk, move |desk| {
        answer(desk.begin_with(&of.name, &of.file, &body).map(|id| PutAt { id }).map_err(NotSaved::from))
    })
    .await
}

async fn job(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| answer(desk.job(&of.job).map_err(NotSaved::from))).await
}

async fn save(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let new: SaveText = match asked(&body) {
        Ok(new) => new,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.save(&of.job, &new.based_on, &new.text))).await
}

async fn save_edits(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let new: SaveEdits = match asked(&body) {
        Ok(new) => new,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.save_edits(&of.job, &new.based_on, &new.set))).await
}

async fn preview(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let ask: PreviewAsk = match asked(&body) {
        Ok(ask) => ask,
        Err(wrong) => return *wrong,
    };
    let looking = desk.clone();
    // However many ask, only a few are computed at once; the others wait their turn.
    let Ok(_turn) = desk.previews(ask.pours).acquire().await else {
        return StatusCode::SERVICE_UNAVAILABLE.into_response();
    };
    at_work(looking, move |desk| match desk.preview(&of.job, &ask) {
        Ok(bytes) => ([(CONTENT_TYPE, "application/octet-stream")], bytes).into_response(),
        Err(why) => answer::<()>(Err(why)),
    })
    .await
}

async fn choices(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| answer(desk.choices(&of.job).map_err(NotSaved::from))).await
}

async fn reckon(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let ask: ReckonAsk = match asked(&body) {
        Ok(ask) => ask,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.reckon(&of.job, &ask).map_err(NotSaved::from))).await
}

async fn choose(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let ask: ChooseAsk = match asked(&body) {
        Ok(ask) => ask,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.choose(&of.job, &ask))).await
}

async fn what_if(State(desk): State<Arc<Desk>>, Query(of): Query<Of>, body: Bytes) -> Response {
    let ask: WhatIfAsk = match asked(&body) {
        Ok(ask) => ask,
        Err(wrong) => return *wrong,
    };
    at_work(desk, move |desk| answer(desk.what_if(&of.job, &ask).map_err(NotSaved::from))).await
}

async fn map(State(desk): State<Arc<Desk>>, Query(of): Query<OfCheck>) -> Response {
    at_work(desk, move |desk| answer(desk.map(&of.job, &of.check).map_err(NotSaved::from))).await
}

async fn plan(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| answer(desk.plan(&of.job).map_err(NotSaved::from))).await
}

async fn stop(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| {
        desk.planner().stop(&of.job);
        json(&desk.planner().view(&of.job))
    })
    .await
}

async fn paper(State(desk): State<Arc<Desk>>, Path(file): Path<String>, Query(of): Query<Of>) -> Response {
    match desk.planned(&of.job) {
        Ok(planned) => match planned.pack.files.get(&file) {
            Some(bytes) => ([(CONTENT_TYPE, page::kind_of(&file))], bytes.clone()).into_response(),
            None => no(&Refusal::NotThere(format!("file {file} in the pack"))),
        },
        Err(why) => no(&why),
    }
}

async fn zip(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| match desk.planned(&of.job) {
        Ok(planned) => match packed(&planned.pack) {
            Ok(bytes) => ([(CONTENT_TYPE, "application/zip")], bytes).into_response(),
            Err(fault) => no(&Refusal::Fault(format!("the pack can't be packed: {fault}"))),
        },
        Err(why) => no(&why),
    })
    .await
}

fn packed(pack: &papers::Pack) -> zip::result::ZipResult<Vec<u8>> {
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in &pack.files {
        writer.start_file(name.as_str(), zip::write::SimpleFileOptions::default())?;
        writer.write_all(bytes)?;
    }
    Ok(writer.finish()?.into_inner())
}

async fn carving(State(desk): State<Arc<Desk>>, Query(of): Query<OfSetup>) -> Response {
    looked_at(desk, "application/octet-stream", move |desk| desk.carving(&of.job, &of.setup)).await
}

async fn film(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    looked_at(desk, "image/gif", move |desk| desk.film(&of.job)).await
}

/// Something made of a finished plan. One is made at a time; whoever waits for the same finds it made.
async fn looked_at(
    desk: Arc<Desk>,
    kind: &'static str,
    make: impl FnOnce(&Desk) -> Result<Arc<Vec<u8>>, Refusal> + Send + 'static,
) -> Response {
    let looking = desk.clone();
    let Ok(_turn) = desk.watching().acquire().await else { return StatusCode::SERVICE_UNAVAILABLE.into_response() };
    at_work(looking, move |desk| match make(desk) {
        Ok(bytes) => ([(CONTENT_TYPE, kind)], Bytes::from_owner(Shared(bytes))).into_response(),
        Err(why) => no(&why),
    })
    .await
}

/// Bytes that others hold, too.
struct Shared(Arc<Vec<u8>>);

impl AsRef<[u8]> for Shared {
    fn as_ref(&self) -> &[u8] {
        &self.0
    }
}

async fn keep(State(desk): State<Arc<Desk>>, Query(of): Query<Of>) -> Response {
    at_work(desk, move |desk| answer(desk.keep(&of.job).map(|id| PutAt { id }).map_err(NotSaved::from))).await
}

async fn listen(State(desk): State<Arc<Desk>>) -> impl IntoResponse {
    events::stream(desk)
}

async fn pages(uri: Uri, headers: HeaderMap) -> Response {
    page::file(uri.path(), &headers)
}
