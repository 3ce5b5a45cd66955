//! Writes `docs/performance.md`: how quick cutter location is beside a general-purpose library, how times grow with triangles,
//! pitch and size, and what the programs of the examples are like. Everything in one run on one machine.

#![allow(clippy::unwrap_used)] // a benchmark may stop at the first surprise

mod dilation;
mod finish;
mod location;
mod reading;
mod removal;
mod rough;
mod slices;
mod split;
mod stages;

use base::{Progress, Quiet};
use location::{CUTTERS, Library, MESHES, bowl, cutter, places};
use paths::CutterLocation;
use proof::Proof;
use route::Plan;
use rs274::write::AGAIN;
use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Instant;
use treen::pipeline::{Accuracy, Instead, Pipeline, Staged};
use treen::texts::{OWN_SHELF, Sources, Texts};

macro_rules! job {
    ($folder:literal) => {
        include_str!(concat!("../../../../", $folder, "/job.toml"))
    };
}

/// Jobs whose paths are measured: name, job, shop.
const JOBS: [(&str, &str, Option<&str>); 7] = [
    ("tidepool", job!("examples/tidepool"), None),
    ("clover", job!("examples/clover"), Some(include_str!("../../../../examples/clover/shop.toml"))),
    ("pantry-tray", job!("examples/pantry-tray"), None),
    ("egg-bowl", job!("tests/suite/jobs/egg-bowl"), None),
    ("key-tray", job!("tests/suite/jobs/key-tray"), None),
    ("nut-cup", job!("tests/suite/jobs/nut-cup"), None),
    (
        "reed-dish",
        job!("tests/suite/jobs/reed-dish"),
        Some(include_str!("../../../../tests/suite/jobs/reed-dish/shop.toml")),
    ),
];

/// The jobs whose names stand on the command line, or all of them.
fn chosen() -> impl Iterator<Item = (&'static str, &'static str, Option<&'static str>)> {
    let named: Vec<String> = std::env::args().filter(|a| JOBS.iter().any(|job| job.0 == a)).collect();
    JOBS.into_iter().filter(move |job| named.is_empty() || named.iter().any(|name| name == job.0))
}

/// The operation that a program's comment names, parts of one by one name; `None` for what the comment says of other things.
fn operation(comment: &str) -> Option<&str> {
    let aside =
        [AGAIN, "Take the chips", "then go on", "Air o", "Switch the spindle", "Then switch it on", "The spindle must"];
    let title = comment.split(", part").next().unwrap_or_default().trim();
    aside.iter().all(|begins| !title.starts_with(begins)).then_some(title)
}

/// Triangles of the middle mesh, whose means are known.
const MIDDLE: usize = 1;
/// Pitches of the proof, mm, and diameters of a bowl, mm.
const PITCHES: [f64; 4] = [0.4, 0.2, 0.1, 0.05];
const DIAMETERS: [u32; 4] = [100, 200, 300, 400];
/// Longest bar, in characters.
const BAR: f64 = 40.0;

fn main() {
    // Run by the test runner, too, which has no time for it.
    if !std::env::args().any(|a| a == "--bench") {
        return;
    }
    if std::env::args().any(|a| a == reading::CHILD) {
        return reading::read_alone();
    }
    let mut out = String::from(HEAD);
    // `-- finish`, `-- rough`, `-- stages`, `-- pitch`, `-- reading`, `-- removal` or `-- split` looks at that one alone, and writes nothing.
    type Measure = fn(&mut String);
    let alone: [(&str, Measure); 7] = [
        ("pitch", by_pitch),
        ("finish", finish::finishes),
        ("rough", rough::roughings),
        ("stages", by_stage),
        ("removal", removals),
        ("split", splits),
        ("reading", reading::programs),
    ];
    if let Some((_, measure)) = alone.into_iter().find(|(name, _)| std::env::args().any(|a| a == *name)) {
        measure(&mut out);
        println!("{out}");
        return;
    }
    beside_the_library(&mut out);
    over_a_grid(&mut out);
    slices_inwards(&mut out);
    removals(&mut out);
    splits(&mut out);
    by_triangles(&mut out);
    by_stage(&mut out);
    reading::programs(&mut out);
    by_pitch(&mut out);
    by_size(&mut out);
    examples(&mut out);
    finish::finishes(&mut out);
    rough::roughings(&mut out);
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/performance.md");
    std::fs::write(path, &out).unwrap();
    println!("{out}");
}

const HEAD: &str = "# How quick it is

Written by `make bench`, all in one run on one machine; on another the seconds differ, the ratios hardly. Two threads where
nothing else is said, built for the processor at hand.
Libraries in Python are timed where the variable `PYTHON` names an interpreter that has numpy, scipy, opencv, pyclipr and manifold3d.
";

fn table(out: &mut String, title: &str, head: &[&str], rows: &[Vec<String>]) {
    let _ = writeln!(out, "\n## {title}\n\n| {} |", head.join(" | "));
    let _ = writeln!(out, "|{}", " --- |".repeat(head.len()));
    for row in rows {
        let _ = writeln!(out, "| {} |", row.join(" | "));
    }
}

/// A bar as long as the value is of the greatest.
fn bar(value: f64, greatest: f64) -> String {
    "▇".repeat((value / greatest * BAR).round().max(1.0) as usize)
}

fn greatest(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::MIN_POSITIVE, f64::max)
}

/// A cutter swept over columns, beside a plain compiled loop.
fn removals(out: &mut String) {
    let row = |case: removal::Case| {
        let timed = removal::timed(&case);
        vec![
            case.name.to_owned(),
            format!("{:.2} s", timed.plain),
            format!("{:.2} s", timed.ours),
            format!("{:.0}", case.moves.len() as f64 / timed.ours),
            format!("{:.1}", timed.plain / timed.ours),
            format!("{:.2} s", timed.whole),
            format!("{:.1}", timed.plain / timed.whole),
        ]
    };
    let rows: Vec<Vec<String>> = removal::cases().into_iter().map(row).collect();
    let head = [
        "swept over columns 0.1 mm apart",
        "plain compiled loop",
        "in the order of time",
        "moves a second",
        "times as quick",
        "the last state alone",
        "times as quick",
    ];
    table(out, "Removal of stock, one thread, seconds of the processor", &head, &rows);
}

/// Volumes of resin and wood of a bowl of a million triangles, one thread, beside a library that makes the solids.
fn splits(out: &mut String) {
    let (ours, library) = (split::ours(), split::library());
    let theirs = library.map_or(["–".to_owned(), "–".to_owned()], |seconds| {
        [format!("{seconds:.2} s"), format!("{:.0}", seconds / ours)]
    });
    let row = [vec![format!("{ours:.3} s")], theirs.into()].concat();
    let head =
        ["980 000 triangles by a prism of 400 stations", "library (manifold3d in C++), processor", "times as quick"];
    table(out, "Volumes of resin and wood in a bowl, one thread", &head, &[row]);
}

/// A million places on a million triangles, one thread; the library at some of them, scaled up.
fn beside_the_library(out: &mut String) {
    let mesh = bowl(MESHES[MIDDLE]);
    let library = Library::new(&mesh);
    let rows: Vec<Vec<String>> = CUTTERS
        .into_iter()
        .map(|(name, form, mean)| {
            let begun = Instant::now();
            let location = CutterLocation::new(&mesh, &cutter(form, 6.0), 0.0);
            let ready = begun.elapsed().as_secs_f64();
            let (ours, got) = places(&location);
            assert!((got - mean).abs() < 5e-6, "{name}: {got}");
            let (theirs, off) = library.seconds(&location, form);
            assert!(off < 2e-5, "{name}: {off} mm apart");
            let ratio = format!("{:.0}", theirs / ours);
            vec![name.to_owned(), format!("{ready:.2} s"), format!("{ours:.2} s"), format!("{theirs:.0} s"), ratio]
        })
        .collect();
    let head = ["cutter", "made ready", "a million places", "library (parry3d-f64), scaled up", "times as quick"];
    table(out, &format!("Cutter location on {} triangles, one thread", mesh.triangles.len()), &head, &rows);
}

/// Lowest tip heights over a height grid, one thread, beside general-purpose libraries.
fn over_a_grid(out: &mut String) {
    let row = |case: &dilation::Case| {
        let ((nodes, ours), library) = (case.ours(), case.library());
        let theirs = library.map_or(["–".to_owned(), "–".to_owned()], |(name, seconds)| {
            [format!("{seconds:.1} s ({name})"), format!("{:.0}", seconds / ours)]
        });
        [
            vec![case.name.to_owned(), format!("{} mm", case.pitch()), nodes.to_string(), format!("{ours:.3} s")],
            theirs.into(),
        ]
        .concat()
    };
    let rows: Vec<Vec<String>> = dilation::CASES.iter().map(row).collect();
    let head = ["cutter", "pitch", "nodes", "all nodes", "library, scaled up", "times as quick"];
    table(out, "Lowest tip heights over a height grid, one thread", &head, &rows);
}

/// Levels taken inwards until nothing is left, one thread, beside the polygon library itself.
fn slices_inwards(out: &mut String) {
    let (ours, library) = (slices::ours(), slices::library());
    let theirs = library.map_or(["–".to_owned(), "–".to_owned()], |seconds| {
        [format!("{seconds:.2} s"), format!("{:.2}", seconds / ours)]
    });
    let row = [vec![format!("{ours:.2} s")], theirs.into()].concat();
    let head = ["44 lobed levels with islands, 1423 rings", "library (Clipper2 in C++)", "times as quick"];
    table(out, "Levels taken inwards until nothing is left, one thread", &head, &[row]);
}

fn by_triangles(out: &mut String) {
    let (_, form, _) = CUTTERS[0];
    let measured: Vec<(usize, f64, f64)> = MESHES
        .into_iter()
        .map(|rings| {
            let mesh = bowl(rings);
            let begun = Instant::now();
            let location = CutterLocation::new(&mesh, &cutter(form, 6.0), 0.0);
            (mesh.triangles.len(), begun.elapsed().as_secs_f64(), places(&location).0)
        })
        .collect();
    let most = greatest(measured.iter().map(|m| m.1 + m.2));
    let row = |&(n, ready, at): &(usize, f64, f64)| {
        vec![n.to_string(), format!("{ready:.2} s"), format!("{at:.2} s"), bar(ready + at, most)]
    };
    let rows: Vec<Vec<String>> = measured.iter().map(row).collect();
    table(out, "Ball, a million places, by triangles", &["triangles", "made ready", "places", "both"], &rows);
}

/// Plans a job; what planned it, the plan, and the seconds it took.
fn planned(job: &str, shop: Option<&str>, progress: &dyn Progress) -> (Pipeline, Staged<Plan>, f64) {
    let mut texts = Texts::default();
    let job = texts.put("job.toml", job);
    let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
    let shop = shop.map(|content| texts.put("shop.toml", content));
    let mut pipeline = Pipeline::default();
    let wish = pipeline
        .read(&Sources { texts, job, shelf, shop, record: None, files: Default::default() })
        .unwrap()
        .value
        .unwrap();
    let begun = Instant::now();
    let piece = pipeline.shape(&wish, Accuracy::default().chord).unwrap();
    let plan = pipeline.plan(&wish, &piece, progress).unwrap();
    let seconds = begun.elapsed().as_secs_f64();
    (pipeline, plan, seconds)
}

/// Plans a job and judges it at a pitch; seconds of each.
fn through(job: &str, shop: Option<&str>, pitch: f64) -> (Arc<Plan>, Arc<Proof>, [f64; 2]) {
    let (mut pipeline, plan, planned) = planned(job, shop, &Quiet);
    let begun = Instant::now();
    let proof = pipeline.prove(&plan, &Instead::new(), pitch, &Quiet).unwrap();
    (plan.value.unwrap(), proof.value.unwrap(), [planned, begun.elapsed().as_secs_f64()])
}

const TIDEPOOL: &str = include_str!("../../../../examples/tidepool/job.toml");

/// Where the time of planning goes.
fn by_stage(out: &mut String) {
    let stages = stages::Stages::new();
    let (_, _, whole) = planned(TIDEPOOL, None, &stages);
    let (told, paths) = stages.seconds();
    let most = greatest(told.iter().map(|t| t.1));
    let row = |name: &str, seconds: f64| vec![name.to_owned(), format!("{seconds:.2} s"), bar(seconds, most)];
    let mut rows: Vec<Vec<String>> = told.iter().map(|(name, seconds)| row(name, *seconds)).collect();
    for (name, seconds) in [
        ("all paths: solids and location, roughing, finishing, fitting, carrying out, feeds of all setups", paths),
        ("the whole of planning", whole),
    ] {
        rows.push(vec![name.to_owned(), format!("{seconds:.2} s"), String::new()]);
    }
    table(
        out,
        "The demo bowl planned, from one word of the planner to the next; skins of later setups are laid out meanwhile",
        &["from", "for", ""],
        &rows,
    );
}

fn by_pitch(out: &mut String) {
    let measured: Vec<(f64, [f64; 2], String)> = PITCHES
        .into_iter()
        .map(|pitch| {
            reading::forget_greatest_memory();
            let (_, _, seconds) = through(TIDEPOOL, None, pitch);
            (pitch, seconds, format!("{} MB", reading::greatest_memory()))
        })
        .collect();
    let most = greatest(measured.iter().map(|m| m.1[1]));
    let row = |(pitch, [planned, proven], memory): &(f64, [f64; 2], String)| {
        let seconds = [planned, proven].map(|s| format!("{s:.1} s"));
        [vec![format!("{pitch} mm")], seconds.into(), vec![memory.clone(), bar(*proven, most)]].concat()
    };
    let rows: Vec<Vec<String>> = measured.iter().map(row).collect();
    table(
        out,
        "The demo bowl, by the pitch of the proof's columns",
        &["pitch", "planned", "proven", "greatest memory", ""],
        &rows,
    );
}

fn by_size(out: &mut String) {
    let job = |diameter: u32| {
        format!(
            "title = \"bowl\"\nunits = \"mm\"\n[piece]\noutline = {{ kind = \"circle\", diameter = {diameter} }}\n\
             height = 40\nwall = 6\nfloor = 7\nfloor_radius = 14\noutside = {{ kind = \"round\", foot_inset = 20 }}\n\
             inside = {{ kind = \"follow\" }}\nfoot = {{ kind = \"pad\" }}\n[blank]\nwood = \"sugar maple\"\nboards = \"8/4\"\n\
             [route]\nkind = \"two-sided\"\nscallop = 0.02\nfinish = \"hardening oil\"\n"
        )
    };
    let measured: Vec<(u32, usize, [f64; 2])> = DIAMETERS
        .into_iter()
        .map(|diameter| {
            let (plan, _, seconds) = through(&job(diameter), None, 0.2);
            (diameter, plan.programs.values().map(|text| text.lines().count()).sum(), seconds)
        })
        .collect();
    let most = greatest(measured.iter().map(|m| m.2[0] + m.2[1]));
    let row = |&(diameter, lines, [planned, proven]): &(u32, usize, [f64; 2])| {
        vec![
            format!("{diameter} mm"),
            format!("{planned:.1} s"),
            format!("{proven:.1} s"),
            lines.to_string(),
            bar(planned + proven, most),
        ]
    };
    let rows: Vec<Vec<String>> = measured.iter().map(row).collect();
    let head = ["diameter", "planned", "proven at 0.2 mm", "lines of programs", ""];
    table(out, "A round bowl of wood, by its diameter", &head, &rows);
}

fn examples(out: &mut String) {
    let clover = include_str!("../../../../examples/clover/job.toml");
    let small = include_str!("../../../../examples/clover/shop.toml");
    let tray = include_str!("../../../../examples/pantry-tray/job.toml");
    let mut rows = Vec::new();
    for (name, job, shop) in
        [("tidepool", TIDEPOOL, None), ("clover", clover, Some(small)), ("pantry-tray", tray, None)]
    {
        let (plan, proof, [planned, proven]) = through(job, shop, 0.1);
        let worst = |kind: &str| {
            let of = proof.checks.iter().filter(|c| c.id.starts_with(kind));
            greatest(of.map(|c| c.value))
        };
        let programs = || plan.setups.iter().flat_map(|s| &s.programs);
        let minutes: f64 = programs().map(|p| p.duration_s).sum::<f64>() / 60.0;
        let longest = greatest(programs().map(|p| p.duration_s)) / 60.0;
        rows.push(vec![
            name.to_owned(),
            format!("{planned:.1} s"),
            format!("{proven:.1} s"),
            format!("{:.4} mm", worst("gouge.")),
            format!("{:.4} mm of {} + 0.02", worst("leftover."), plan.scallop),
            format!("{:.2}", worst("tipping.")),
            format!("{minutes:.0} min, the longest program {longest:.0}"),
            plan.programs.values().map(|text| text.lines().count()).sum::<usize>().to_string(),
        ]);
    }
    let head = [
        "example",
        "planned",
        "proven at 0.1 mm",
        "worst gouge (0.02 mm)",
        "most left over",
        "tipping (1)",
        "machine",
        "lines",
    ];
    table(out, "The examples", &head, &rows);
}
