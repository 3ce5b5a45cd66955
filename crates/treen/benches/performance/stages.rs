//! Where the time of planning goes: the stages that the planner tells of, and all paths together.

use base::Progress;
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

/// Stages before and after the paths.
const BESIDE: [&str; 2] = ["sizes and cutters", "programs"];

/// Listens to the planner and sums up the seconds from one word to the next by the stage told.
pub(crate) struct Stages(Mutex<Told>);

struct Told {
    since: Instant,
    stage: Option<usize>,
    /// In the order in which they were first told.
    sums: Vec<(String, f64)>,
}

impl Told {
    fn goes_on(&mut self, stage: Option<&str>) {
        let now = Instant::now();
        if let Some(k) = self.stage {
            self.sums[k].1 += now.duration_since(self.since).as_secs_f64();
        }
        self.since = now;
        self.stage = stage.map(|stage| {
            self.sums.iter().position(|(name, _)| name == stage).unwrap_or_else(|| {
                self.sums.push((stage.to_owned(), 0.0));
                self.sums.len() - 1
            })
        });
    }
}

impl Stages {
    pub(crate) fn new() -> Self {
        Self(Mutex::new(Told { since: Instant::now(), stage: None, sums: Vec::new() }))
    }

    /// Seconds of each stage, planning being over; with them those of all paths: solids of the setups, cutter location,
    /// roughing, finishing, fitting, carrying out and feeds, without what is settled before and written after.
    pub(crate) fn seconds(self) -> (Vec<(String, f64)>, f64) {
        let mut told = self.0.into_inner().unwrap_or_else(PoisonError::into_inner);
        told.goes_on(None);
        let paths = told.sums.iter().filter(|(name, _)| !BESIDE.contains(&name.as_str())).map(|(_, s)| s).sum();
        (told.sums, paths)
    }
}

impl Progress for Stages {
    fn tell(&self, stage: &str, _done: f64) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).goes_on(Some(stage));
    }
}
