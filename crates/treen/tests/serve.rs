//! The server, asked without a socket: who is answered, what is saved, what is stopped.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use axum::body::{Body, to_bytes};
use axum::http::{Request, Response, StatusCode};
use futures_util::StreamExt;
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tower::ServiceExt;
use treen::serve::folder::{Folder, version_of};
use treen::serve::{Desk, router};

const SAUCER: &str = include_str!("cases/saucer.toml");
const TIDEPOOL: &str = include_str!("../../../examples/tidepool/job.toml");
const PORT: u16 = 8336;
const HOST: &str = "127.0.0.1:8336";
/// Columns coarser than for real work: these tests look at the server, not at the piece.
const PITCH: f64 = 0.5;

struct Shop {
    home: tempfile::TempDir,
    desk: Arc<Desk>,
}

impl Shop {
    fn new(jobs: &[(&str, &str)]) -> Self {
        let home = tempfile::tempdir().unwrap();
        for (id, text) in jobs {
            std::fs::create_dir_all(home.path().join(id)).unwrap();
            std::fs::write(home.path().join(id).join("job.toml"), text).unwrap();
        }
        let desk = Desk::new(Folder::open(home.path()).unwrap(), PORT, PITCH, Some(1));
        Self { home, desk }
    }

    fn path(&self, inner: &str) -> std::path::PathBuf {
        self.home.path().join(inner)
    }

    async fn send(&self, request: Request<Body>) -> Response<Body> {
        router(self.desk.clone()).oneshot(request).await.unwrap()
    }

    async fn get(&self, path: &str) -> (StatusCode, Value) {
        let request = Request::get(path).header("host", HOST).body(Body::empty()).unwrap();
        read(self.send(request).await).await
    }

    async fn ask(&self, method: &str, path: &str, body: &Value) -> (StatusCode, Value) {
        read(self.send(asking(method, path, body)).await).await
    }

    async fn version(&self, id: &str) -> String {
        self.get(&format!("/api/job?job={id}")).await.1["version"].as_str().unwrap().to_owned()
    }

    /// Waits until a plan has come to an end.
    async fn planned(&self, id: &str) -> Value {
        for _ in 0..2400 {
            let work = self.get(&format!("/api/job?job={id}")).await.1["work"].clone();
            if !["waiting", "working"].contains(&work["is"].as_str().unwrap()) {
                return work;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("the plan of {id} does not end");
    }
}

fn asking(method: &str, path: &str, body: &Value) -> Request<Body> {
    let request = Request::builder().method(method).uri(path).header("host", HOST);
    request.header("content-type", "application/json").body(Body::from(body.to_string())).unwrap()
}

async fn read(answer: Response<Body>) -> (StatusCode, Value) {
    let status = answer.status();
    let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
    (status, serde_json::from_slice(&bytes).unwrap_or(Value::Null))
}

fn set(path: &str, value: &Value) -> Value {
    json!({ "path": path, "to": value })
}

#[tokio::test]
async fn only_our_own_page_is_answered() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let with = |headers: &[(&str, &str)]| {
        let request = headers.iter().fold(Request::get("/api/jobs"), |r, (name, value)| r.header(*name, *value));
        request.body(Body::empty()).unwrap()
    };
    let fine = [
        vec![("host", HOST)],
        vec![("host", "localhost:8336"), ("origin", "http://localhost:8336"), ("sec-fetch-site", "same-origin")],
        vec![("host", "[::1]:8336"), ("sec-fetch-site", "none")],
    ];
    for headers in fine {
        assert_eq!(shop.send(with(&headers)).await.status(), StatusCode::OK, "{headers:?}");
    }
    let foreign = [
        vec![],
        vec![("host", "evil.example:8336")],
        vec![("host", "127.0.0.1")],
        vec![("host", "127.0.0.1:8336.evil.example")],
        vec![("host", "127.0.0.1:83360")],
        vec![("host", HOST), ("origin", "http://evil.example")],
        vec![("host", HOST), ("origin", "https://127.0.0.1:8336")],
        vec![("host", HOST), ("origin", "null")],
        vec![("host", HOST), ("sec-fetch-site", "cross-site")],
        vec![("host", HOST), ("sec-fetch-site", "same-site")],
    ];
    for headers in foreign {
        assert_eq!(shop.send(with(&headers)).await.status(), StatusCode::FORBIDDEN, "{headers:?}");
    }
}

#[tokio::test]
async fn a_change_must_say_that_it_is_json() {
    let shop = Shop::new(&[("a", SAUCER)]);
    for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"] {
        let body = json!({ "based_on": version_of(SAUCER), "text": "" }).to_string();
        let request = Request::post("/api/text?job=a").header("host", HOST).header("content-type", kind);
        assert_eq!(shop.send(request.body(Body::from(body)).unwrap()).await.status(), StatusCode::FORBIDDEN);
    }
    assert_eq!(std::fs::read_to_string(shop.path("a/job.toml")).unwrap(), SAUCER);
}

#[tokio::test]
async fn every_answer_tells_the_browser_what_it_may_do() {
    let shop = Shop::new(&[]);
    for path in ["/", "/api/jobs", "/nothing", "/api/pack/shop-sheet.html?job=a"] {
        let request = Request::get(path).header("host", HOST).body(Body::empty()).unwrap();
        let answer = shop.send(request).await;
        let policy = answer.headers()["content-security-policy"].to_str().unwrap();
        assert!(policy.starts_with("default-src 'none'") && policy.contains("frame-ancestors"), "{path}: {policy}");
        assert!(!policy.contains("script-src 'unsafe") && !policy.contains("http"), "{path}: {policy}");
        assert_eq!(path.contains("pack"), policy.contains("sandbox"));
        assert_eq!(answer.headers()["x-content-type-options"], "nosniff");
    }
}

#[tokio::test]
async fn no_address_leads_out_of_the_folder() {
    let shop = Shop::new(&[("a", SAUCER)]);

    for id in ["..", "../..", "%2e%2e", "a/../..", "/etc", "a%00", "..%5c", ""] {
        for path in ["job", "zip", "pack/../job.toml"] {
            let (status, _) = shop.get(&format!("/api/{path}?job={id}")).await;
            assert!(status.is_client_error(), "{path} of {id}: {status}");
        }
        let (status, _) =
            shop.ask("POST", &format!("/api/text?job={id}"), &json!({ "based_on": "x", "text": "y" })).await;
        assert!(status.is_client_error(), "{id}: {status}");
    }
    let (status, _) = shop.ask("POST", "/api/jobs", &json!({ "name": "../b", "from": null })).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn bodies_are_bounded() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let text = "#".repeat(3 << 20);
    let (status, _) =
        shop.ask("POST", "/api/text?job=a", &json!({ "based_on": version_of(SAUCER), "text": text })).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(std::fs::read_to_string(shop.path("a/job.toml")).unwrap(), SAUCER);
}

#[tokio::test]
async fn a_change_keeps_the_text_and_a_conflict_loses_nothing() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let first = shop.version("a").await;
    let change = |version: &str, mm: f64| json!({ "based_on": version, "set": [set("piece.wall", &json!({ "as": "mm", "value": mm }))] });
    let (status, job) = shop.ask("POST", "/api/edit?job=a", &change(&first, 7.5)).await;
    assert_eq!((status, &job["values"]["piece.wall"]["mm"]), (StatusCode::OK, &json!(7.5)));
    assert_eq!(
        std::fs::read_to_string(shop.path("a/job.toml")).unwrap(),
        SAUCER.replace("wall = \"7 mm\"", "wall = \"7.5 mm\"")
    );
    // Someone saves in an editor meanwhile.
    let theirs = SAUCER.replace("Saucer", "Theirs");
    std::fs::write(shop.path("a/job.toml"), &theirs).unwrap();
    let version = job["version"].as_str().unwrap();
    for (path, body) in [
        ("/api/edit?job=a", change(version, 8.0)),
        ("/api/text?job=a", json!({ "based_on": version, "text": "title = \"Mine\"" })),
    ] {
        let (status, both) = shop.ask("POST", path, &body).await;
        assert_eq!((status, both["now"]["text"].as_str()), (StatusCode::CONFLICT, Some(theirs.as_str())));
    }
    assert_eq!(std::fs::read_to_string(shop.path("a/job.toml")).unwrap(), theirs);
    let (status, _) = shop.ask("POST", "/api/edit?job=a", &change(&version_of(&theirs), 8.0)).await;
    assert_eq!(status, StatusCode::OK);
}

#[tokio::test]
async fn a_text_with_mistakes_is_kept_and_its_mistakes_are_told() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let text = SAUCER.replace("wall = \"7 mm\"", "wal = \"7 mm\"");
    let (status, job) =
        shop.ask("POST", "/api/text?job=a", &json!({ "based_on": version_of(SAUCER), "text": text })).await;
    assert_eq!(status, StatusCode::OK);
    let finding = &job["findings"][0];
    assert_eq!((finding["severity"].as_str(), finding["line"].as_u64()), (Some("error"), Some(9)), "{finding}");
    let (status, work) = shop.ask("POST", "/api/plan?job=a", &Value::Null).await;
    assert_eq!(status, StatusCode::OK, "{work}");
    let work = shop.planned("a").await;
    assert_eq!(work["is"], "refused", "{work}");
    assert_eq!(work["findings"][0]["line"], 9);
}

#[tokio::test]
async fn a_plan_comes_with_every_file_and_is_kept_beside_the_job() {
    let shop = Shop::new(&[("a", SAUCER)]);
    shop.ask("POST", "/api/plan?job=a", &Value::Null).await;
    let work = shop.planned("a").await;
    assert_eq!(work["is"], "planned", "{work}");
    let files: Vec<&str> = work["files"].as_array().unwrap().iter().map(|f| f["path"].as_str().unwrap()).collect();
    for name in
        ["plan.json", "proof.json", "shop-sheet.pdf", "shop-sheet.html", "models/piece.glb", "pictures/piece.png"]
    {
        assert!(files.contains(&name), "{name} in {files:?}");
    }
    for file in &files {
        let request = Request::get(format!("/api/pack/{file}?job=a")).header("host", HOST).body(Body::empty()).unwrap();
        let answer = shop.send(request).await;
        assert_eq!(answer.status(), StatusCode::OK, "{file}");
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        assert_eq!(
            Some(bytes.len() as u64),
            work["files"].as_array().unwrap().iter().find(|f| f["path"] == **file).unwrap()["bytes"].as_u64()
        );
    }
    assert_eq!(shop.get("/api/pack/nothing?job=a").await.0, StatusCode::NOT_FOUND);
    let request = Request::get("/api/zip?job=a").header("host", HOST).body(Body::empty()).unwrap();
    let bytes = to_bytes(shop.send(request).await.into_body(), usize::MAX).await.unwrap();
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    assert_eq!(archive.len(), files.len());
    assert!(archive.by_name("plan.json").is_ok());
    let (status, put) = shop.ask("POST", "/api/keep?job=a", &Value::Null).await;
    assert_eq!((status, put["id"].as_str().map(Path::new)), (StatusCode::OK, Some(Path::new("a/pack"))));
    for file in &files {
        assert!(shop.path("a/pack").join(file).is_file(), "{file}");
    }
    // A change makes the plan old: it can still be looked at, and is not written as if it were of the new text.
    let version = shop.version("a").await;
    let wall = json!({ "based_on": version, "set": [set("piece.wall", &json!({ "as": "mm", "value": 7.5 }))] });
    let (_, job) = shop.ask("POST", "/api/edit?job=a", &wall).await;
    assert_eq!(job["work"]["is"], "planned");
    assert_ne!(job["work"]["of"], job["sources"]);
    assert_eq!(shop.ask("POST", "/api/keep?job=a", &Value::Null).await.0, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_plan_is_stopped_by_the_next_edit() {
    let shop = Shop::new(&[("big", TIDEPOOL)]);
    shop.ask("POST", "/api/plan?job=big", &Value::Null).await;
    let work = async || shop.get("/api/job?job=big").await.1["work"]["is"].as_str().unwrap().to_owned();
    while work().await == "waiting" {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    assert_eq!(work().await, "working");
    let version = shop.version("big").await;
    let wall = json!({ "based_on": version, "set": [set("piece.wall", &json!({ "as": "mm", "value": 6.5 }))] });
    let (status, job) = shop.ask("POST", "/api/edit?job=big", &wall).await;
    assert_eq!((status, job["work"]["is"].as_str()), (StatusCode::OK, Some("idle")));
    // The thread is free again: a small job that comes after is planned long before the large one would have been.
    std::fs::create_dir(shop.path("small")).unwrap();
    std::fs::write(shop.path("small/job.toml"), SAUCER).unwrap();
    shop.ask("POST", "/api/plan?job=small", &Value::Null).await;
    assert_eq!(shop.planned("small").await["is"], "planned");
    assert_eq!(work().await, "idle");
    shop.ask("POST", "/api/plan?job=big", &Value::Null).await;
    let (status, stopped) = shop.ask("DELETE", "/api/plan?job=big", &Value::Null).await;
    assert_eq!((status, stopped["is"].as_str()), (StatusCode::OK, Some("idle")));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn many_pages_and_quick_edits_leave_one_whole_text() {
    let shop = Arc::new(Shop::new(&[("a", SAUCER)]));
    let mut pages = Vec::new();
    for page in 0..50_u32 {
        let shop = shop.clone();
        pages.push(tokio::spawn(async move {
            let (mut saved, mut conflicts) = (0, 0);
            for k in 0..4_u32 {
                let version = shop.version("a").await;
                let wall = 7.0 + f64::from(page * 4 + k) / 100.0;
                let body =
                    json!({ "based_on": version, "set": [set("piece.wall", &json!({ "as": "mm", "value": wall }))] });
                match shop.ask("POST", "/api/edit?job=a", &body).await.0 {
                    StatusCode::OK => saved += 1,
                    StatusCode::CONFLICT => conflicts += 1,
                    other => panic!("{other}"),
                }
            }
            (saved, conflicts)
        }));
    }
    let mut all = (0, 0);
    for page in pages {
        let (saved, conflicts) = page.await.unwrap();
        all = (all.0 + saved, all.1 + conflicts);
    }
    assert_eq!(all.0 + all.1, 200);
    assert!(all.0 > 0, "{all:?}");
    let text = std::fs::read_to_string(shop.path("a/job.toml")).unwrap();
    let wall = text.split("wall = \"").nth(1).unwrap().split(" mm").next().unwrap();
    assert_eq!(text, SAUCER.replace("wall = \"7 mm\"", &format!("wall = \"{wall} mm\"")));
    assert_eq!(std::fs::read_dir(shop.path("a")).unwrap().count(), 1, "nothing half-written is left");
}

#[tokio::test]
async fn a_job_is_begun_from_an_example_or_from_nothing() {
    let shop = Shop::new(&[]);
    let (_, folder) = shop.get("/api/jobs").await;
    assert_eq!(folder["jobs"], json!([]));
    let names: Vec<&str> = folder["examples"].as_array().unwrap().iter().map(|e| e["name"].as_str().unwrap()).collect();
    for name in &names {
        let (status, put) = shop.ask("POST", "/api/jobs", &json!({ "name": format!("My {name}"), "from": name })).await;
        assert_eq!(status, StatusCode::OK, "{put}");
        let (_, job) = shop.get(&format!("/api/job?job=My%20{name}")).await;
        assert_eq!((job["title"].as_str(), &job["findings"]), (Some(format!("My {name}").as_str()), &json!([])));
    }
    let (status, _) = shop.ask("POST", "/api/jobs", &json!({ "name": "Plain", "from": null })).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(shop.get("/api/job?job=Plain").await.1["findings"], json!([]));
    assert_eq!(shop.get("/api/jobs").await.1["jobs"].as_array().unwrap().len(), names.len() + 1);
    let (status, why) = shop.ask("POST", "/api/jobs", &json!({ "name": "Plain", "from": null })).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(why["error"].as_str().unwrap().contains("already"), "{why}");
}

#[tokio::test]
async fn a_job_is_copied_with_the_figures_of_its_shop() {
    let shop = Shop::new(&[
        ("a", SAUCER),
        ("lettered", &SAUCER.replace("[blank]", "mark = { text = \"A\", typeface = \"hand.ttf\" }\n[blank]")),
    ]);
    std::fs::write(shop.path("a/shop.toml"), "use_machine = \"sturdy\"\n").unwrap();
    let (status, put) = shop.ask("POST", "/api/jobs", &json!({ "name": "Thinner", "from": null, "like": "a" })).await;
    assert_eq!((status, put["id"].as_str()), (StatusCode::OK, Some("Thinner")), "{put}");
    let read = |path: &str| std::fs::read_to_string(shop.path(path)).unwrap();
    assert_eq!(read("Thinner/job.toml"), SAUCER.replace("title = \"Saucer\"", "title = \"Thinner\""));
    assert_eq!(read("Thinner/shop.toml"), read("a/shop.toml"));
    assert!(!shop.path("Thinner/shelf.toml").exists(), "the shelf that comes with treen is not written out");
    for like in ["nothing", "..", "lettered"] {
        let (status, _) = shop.ask("POST", "/api/jobs", &json!({ "name": "B", "from": null, "like": like })).await;
        assert!(status.is_client_error(), "{like}: {status}");
        assert!(!shop.path("B").exists());
    }
}

#[tokio::test]
async fn whoever_listens_hears_of_changes_made_in_an_editor() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let request = Request::get("/api/events").header("host", HOST).body(Body::empty()).unwrap();
    let answer = shop.send(request).await;
    assert_eq!(answer.headers()["content-type"], "text/event-stream");
    let mut stream = answer.into_body().into_data_stream();
    let hear = async |stream: &mut axum::body::BodyDataStream| -> Value {
        let bytes = tokio::time::timeout(Duration::from_secs(10), stream.next()).await.unwrap().unwrap().unwrap();
        let text = String::from_utf8(bytes.to_vec()).unwrap();
        serde_json::from_str(text.strip_prefix("data: ").unwrap()).unwrap()
    };
    assert_eq!(hear(&mut stream).await["is"], "hello");
    std::fs::write(shop.path("a/job.toml"), SAUCER.replace("Saucer", "Plate")).unwrap();
    shop.desk.look_around();
    let event = hear(&mut stream).await;
    assert_eq!((event["is"].as_str(), event["id"].as_str()), (Some("changed"), Some("a")));
    assert_eq!(event["sources"], shop.get("/api/job?job=a").await.1["sources"]);
    // The same text again is no change.
    shop.desk.look_around();
    std::fs::create_dir(shop.path("b")).unwrap();
    std::fs::write(shop.path("b/job.toml"), SAUCER).unwrap();
    (0..9).for_each(|_| shop.desk.look_around());
    assert_eq!(hear(&mut stream).await["is"], "jobs");
    shop.desk.close();
    assert!(tokio::time::timeout(Duration::from_secs(10), stream.next()).await.unwrap().is_none(), "the line ends");
}

#[tokio::test]
async fn the_picture_follows_changes_that_are_not_saved() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let head = async |mm: f64| -> Value {
        let ask = json!({ "set": [set("piece.height", &json!({ "as": "mm", "value": mm }))], "pours": false });
        let answer = shop.send(asking("POST", "/api/preview?job=a", &ask)).await;
        assert_eq!(answer.status(), StatusCode::OK);
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
        serde_json::from_slice(&bytes[4..4 + length]).unwrap()
    };
    assert_eq!(head(14.0).await["size_mm"][2], 14.0);
    assert_eq!(head(16.0).await["size_mm"][2], 16.0);
    assert_eq!(std::fs::read_to_string(shop.path("a/job.toml")).unwrap(), SAUCER);
    let wrong = head(-3.0).await;
    assert_eq!(wrong["findings"][0]["field"], "piece.height");
    assert_eq!(wrong["parts"], json!([]));
}

/// What resin to mix takes seconds to reckon: the picture comes without it, and the figure when it is asked for.
#[tokio::test]
async fn the_picture_does_not_wait_for_the_pour() {
    let shop = Shop::new(&[("a", include_str!("../../../examples/tidepool/job.toml"))]);
    let mixed = async |pours: bool| -> String {
        let ask = json!({ "set": [], "pours": pours });
        let answer = shop.send(asking("POST", "/api/preview?job=a", &ask)).await;
        assert_eq!(answer.status(), StatusCode::OK);
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
        let head: Value = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
        assert_eq!(head["parts"].as_array().unwrap().len(), 2, "wood and resin");
        let facts = head["facts"].as_array().unwrap();
        let mix = facts.iter().find(|fact| fact["label"].as_str().unwrap().starts_with("To mix")).unwrap();
        mix["value"].as_str().unwrap().to_owned()
    };
    assert_eq!(mixed(false).await, "…");
    assert!(mixed(true).await.contains(" ml"));
}

/// The lists of a carving, in the order that `CarvingHead` tells.
struct Lists<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Lists<'_> {
    fn next<const N: usize>(&mut self, count: usize) -> Vec<[u8; N]> {
        let all = &self.bytes[self.at..][..N * count];
        self.at += (N * count).next_multiple_of(4);
        all.as_chunks().0.to_vec()
    }

    fn counts(&mut self, count: usize) -> Vec<u16> {
        self.next(count).into_iter().map(u16::from_le_bytes).collect()
    }
}

#[tokio::test]
async fn a_carving_is_told_move_by_move() {
    let shop = Shop::new(&[("a", SAUCER)]);
    let (status, _) = shop.get("/api/carving?job=a&setup=any").await;
    assert_eq!(status, StatusCode::NOT_FOUND, "there is no plan yet");
    shop.ask("POST", "/api/plan?job=a", &Value::Null).await;
    assert_eq!(shop.planned("a").await["is"], "planned");
    let (_, plan) = shop.get("/api/pack/plan.json?job=a").await;
    let (status, _) = shop.get("/api/carving?job=a&setup=elsewhere").await;
    assert_eq!(status, StatusCode::NOT_FOUND);
    for setup in plan["setups"].as_array().unwrap() {
        let path = format!("/api/carving?job=a&setup={}", setup["id"].as_str().unwrap());
        let request = Request::get(&path).header("host", HOST).body(Body::empty()).unwrap();
        let answer = shop.send(request).await;
        assert_eq!(answer.status(), StatusCode::OK);
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        assert!(bytes.len() < 15_000_000, "{}", bytes.len());
        let length = u32::from_le_bytes(bytes[..4].try_into().unwrap()) as usize;
        let head: Value = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
        let number = |name: &str| head[name].as_u64().unwrap() as usize;
        let mut lists = Lists { bytes: &bytes, at: 4 + length };
        let moments = number("moments");
        let columns = (head["columns"][0].as_u64().unwrap() * head["columns"][1].as_u64().unwrap()) as usize;
        let points = lists.next::<6>(moments);
        let does = lists.next::<4>(moments);
        let lines = lists.next::<4>(moments);
        let ends: Vec<f32> = lists.next(moments).into_iter().map(f32::from_le_bytes).collect();
        let (low, mut tops) = (lists.counts(columns), lists.counts(columns));
        let each = lists.next::<1>(columns);
        let segments = lists.next::<4>(number("segments"));
        let sinks = lists.counts(moments);
        let sunk = lists.next::<4>(number("sunk"));
        assert_eq!(lists.at, bytes.len());
        assert_eq!(sinks.iter().map(|n| usize::from(*n)).sum::<usize>(), sunk.len());
        assert_eq!(each.iter().map(|n| usize::from(n[0])).sum::<usize>(), segments.len());
        // The planner times moves in a way of its own, from the events of its texts.
        let told: f64 = setup["programs"].as_array().unwrap().iter().map(|p| p["duration_s"].as_f64().unwrap()).sum();
        let seconds = head["seconds"].as_f64().unwrap();
        assert!((seconds / told - 1.0).abs() < 0.02, "{seconds} {told}");
        assert!(ends.is_sorted() && (f64::from(ends[moments - 1]) - seconds).abs() < 0.01 * seconds);
        // What is cut is cut at feed, and never below the tip.
        let z =
            |counts: u16| head["low_mm"].as_f64().unwrap() + head["height_mm"].as_f64().unwrap() * f64::from(counts);
        let tip = |k: usize| {
            let counts = u16::from_le_bytes(points[k][4..].try_into().unwrap());
            head["min"][2].as_f64().unwrap() + head["step"][2].as_f64().unwrap() * f64::from(counts)
        };
        let mut at = 0;
        for (k, count) in sinks.iter().enumerate() {
            for one in &sunk[at..at + usize::from(*count)] {
                let [column, top] = [0, 2].map(|j| u16::from_le_bytes([one[j], one[j + 1]]));
                // Up to three chords of an arc are carried out together.
                let lowest = (k.saturating_sub(3)..=k).map(tip).fold(f64::INFINITY, f64::min);
                assert!(does[k][0] == 0 && z(top) > lowest - 0.01, "line {:?}", lines[k]);
                assert!(top < tops[usize::from(column)]);
                tops[usize::from(column)] = top;
            }
            at += usize::from(*count);
        }
        assert!(sunk.len() > columns / 4 && tops.iter().zip(&low).all(|(top, low)| top >= low || *top == *low));
        assert!(does.iter().any(|d| d[0] == 0 && d[1] > 20));
    }
}

fn option<'v>(view: &'v Value, key: &str) -> &'v Value {
    let questions = view["questions"].as_array().unwrap().iter();
    let mut options = questions.flat_map(|q| q["options"].as_array().unwrap());
    options.find(|o| o["key"] == key).unwrap_or_else(|| panic!("no {key} in {view}"))
}

#[tokio::test]
async fn choices_are_told_with_what_each_comes_to() {
    let shop = Shop::new(&[("a", SAUCER)]);
    shop.ask("POST", "/api/plan?job=a", &Value::Null).await;
    assert_eq!(shop.planned("a").await["is"], "planned");
    let (_, view) = shop.get("/api/choices?job=a").await;
    assert_eq!(option(&view, "freeing=chips")["comes_to"]["is"], "planned", "it is what the plan at hand came to");
    assert_eq!(option(&view, "freeing=tabs")["comes_to"]["is"], "untried");
    assert_eq!(option(&view, "route.hold_blank=tape")["now"], true, "tape holds where the job says nothing");
    let screws = &option(&view, "route.hold_blank=screws")["set"][0];
    assert_eq!((&screws["path"], &screws["to"]["value"]), (&json!("route.hold_blank"), &json!("screws")));
    let keys = json!({ "keys": ["freeing=tabs", "cutter.finish-inside=1"] });
    let (status, _) = shop.ask("POST", "/api/choices?job=a", &keys).await;
    assert_eq!(status, StatusCode::OK);
    let mut view = Value::Null;
    for _ in 0..2400 {
        view = shop.get("/api/choices?job=a").await.1;
        if keys["keys"]
            .as_array()
            .unwrap()
            .iter()
            .all(|k| option(&view, k.as_str().unwrap())["comes_to"]["is"] != "waiting")
        {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    // What is told of tabs is what planning the job with tabs comes to.
    let told = option(&view, "freeing=tabs")["comes_to"]["figures"].clone();
    assert!(told["machine_s"].as_f64().unwrap() > 0.0, "{view}");
    let now = &option(&view, "freeing=chips")["comes_to"]["figures"];
    assert_ne!(told["machine_s"], now["machine_s"]);
    // A flat cutter finishes no round inside: that is said, not planned.
    let flat = &option(&view, "cutter.finish-inside=1")["comes_to"];
    assert!(flat["is"] == "refused" && flat["why"].as_str().unwrap().len() > 10, "{flat}");
    let set = &option(&view, "freeing=tabs")["set"];
    let wish = json!({ "based_on": shop.version("a").await, "set": set });
    assert_eq!(shop.ask("POST", "/api/edit?job=a", &wish).await.0, StatusCode::OK);
    shop.ask("POST", "/api/plan?job=a", &Value::Null).await;
    shop.planned("a").await;
    let (_, view) = shop.get("/api/choices?job=a").await;
    assert_eq!(option(&view, "freeing=tabs")["comes_to"]["figures"], told);
    assert_eq!(
        option(&view, "freeing=chips")["comes_to"]["is"],
        "untried",
        "an edit forgets what was reckoned before it"
    );
    let unknown = json!({ "keys": ["freeing=magic"] });
    assert_eq!(shop.ask("POST", "/api/choices?job=a", &unknown).await.0, StatusCode::UNPROCESSABLE_ENTITY);
    // What a shop settles is written beside the job; the job's text stays.
    let text = std::fs::read_to_string(shop.path("a/job.toml")).unwrap();
    let wish = json!({ "based_on": "older", "key": "machine=hobby" });
    assert_eq!(shop.ask("POST", "/api/choose?job=a", &wish).await.0, StatusCode::CONFLICT);
    let wish = json!({ "based_on": view["of"], "key": "machine=hobby" });
    assert_eq!(shop.ask("POST", "/api/choose?job=a", &wish).await.0, StatusCode::OK);
    assert!(std::fs::read_to_string(shop.path("a/shop.toml")).unwrap().contains("use_machine = \"hobby\""));
    assert_eq!(std::fs::read_to_string(shop.path("a/job.toml")).unwrap(), text);
    // A piece that is not turned over, of one wood, has no flip and no resin to ask about.
    let (_, view) = shop.ask("POST", "/api/what-if?job=a", &json!({ "errors": null, "warmth_c": [25, 20] })).await;
    assert_eq!((&view["flip"], &view["casts"], &view["warmth_c"]), (&Value::Null, &json!([]), &json!([25.0, 20.0])));
}

#[tokio::test]
async fn a_job_begins_with_a_drawing_or_a_solid() {
    let shop = Shop::new(&[]);
    let send = async |query: &str, kind: &str, bytes: Vec<u8>| {
        let request = Request::post(format!("/api/brought?{query}")).header("host", HOST).header("content-type", kind);
        read(shop.send(request.body(Body::from(bytes)).unwrap()).await).await
    };
    let svg = include_bytes!("../../../examples/leaf/leaf.svg").to_vec();
    let raw = "application/octet-stream";
    assert_eq!(send("name=Fern&file=fern.svg", "text/plain", svg.clone()).await.0, StatusCode::FORBIDDEN);
    assert_eq!(send("name=Fern&file=fern.svg", raw, svg.clone()).await, (StatusCode::OK, json!({ "id": "Fern" })));
    assert_eq!(std::fs::read(shop.path("Fern/fern.svg")).unwrap(), svg);
    assert!(std::fs::read_to_string(shop.path("Fern/job.toml")).unwrap().contains("file = \"fern.svg\""));
    assert_eq!(shop.get("/api/job?job=Fern").await.0, StatusCode::OK);
    // Nothing is written over, nothing lies elsewhere, nothing is larger than a file may be.
    for query in [
        "name=Fern&file=fern.svg",
        "name=Moss&file=..%2Fmoss.svg",
        "name=..%2FMoss&file=moss.svg",
        "name=Moss&file=moss.exe",
    ] {
        assert_eq!(send(query, raw, svg.clone()).await.0, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
    }
    assert_eq!(send("name=Moss&file=moss.svg", raw, vec![0; 33_000_000]).await.0, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(!shop.path("Moss").exists());
    // All examples are offered.
    let (_, folder) = shop.get("/api/jobs").await;
    let names: Vec<&str> = folder["examples"].as_array().unwrap().iter().map(|e| e["name"].as_str().unwrap()).collect();
    let mut there: Vec<String> = (std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples")).unwrap())
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    there.sort();
    let mut names = names;
    names.sort_unstable();
    assert_eq!(names, there);
}
