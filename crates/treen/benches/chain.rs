//! How long a maker waits: the demo bowl planned, and judged at the pitch of real work; and how much memory that takes.

#![allow(clippy::unwrap_used)] // a benchmark may stop at the first surprise

use base::Quiet;
use criterion::{Criterion, criterion_group, criterion_main};
use std::time::Duration;
use treen::pipeline::{Accuracy, Instead, Pipeline};
use treen::texts::{OWN_SHELF, Sources, Texts};

fn chain(c: &mut Criterion) {
    let mut texts = Texts::default();
    let job = texts.put("job.toml", include_str!("../../../examples/tidepool/job.toml"));
    let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
    let sources = Sources { texts, job, shelf, shop: None, record: None, files: Default::default() };
    let Accuracy { chord, pitch } = Accuracy::default();
    let wish = Pipeline::default().read(&sources).unwrap().value.unwrap();
    let piece = Pipeline::default().shape(&wish, chord).unwrap();
    let plan = Pipeline::default().plan(&wish, &piece, &Quiet).unwrap();
    assert!(plan.value.is_some(), "{:?}", plan.report);

    // A new pipeline each time, for an old one would hand back what it kept.
    let mut group = c.benchmark_group("tidepool");
    group.sample_size(10).warm_up_time(Duration::from_millis(1)).measurement_time(Duration::from_secs(1));
    group.bench_function("plan", |b| {
        b.iter(|| Pipeline::default().plan(&wish, &piece, &Quiet).unwrap());
    });
    group.bench_function(format!("plan and prove at {pitch} mm"), |b| {
        b.iter(|| {
            let mut pipeline = Pipeline::default();
            let plan = pipeline.plan(&wish, &piece, &Quiet).unwrap();
            pipeline.prove(&plan, &Instead::new(), pitch, &Quiet).unwrap()
        });
    });
    group.finish();
    match peak_mib() {
        Some(mib) => println!("tidepool: greatest memory {mib} MiB"),
        None => println!("tidepool: greatest memory not known on this system"),
    }
}

/// Greatest memory held so far, as the Linux kernel tells it (proc(5), `VmHWM`).
fn peak_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<u64>().ok().map(|kib| kib / 1024)
}

criterion_group!(benches, chain);
criterion_main!(benches);
