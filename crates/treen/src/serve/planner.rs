//! Planning in the background: one plan at a time on a thread of its own, stopped by the next change of its job.
//!
//! The newest plans are kept, the others are forgotten, so that memory stays bounded however many jobs are looked at.

use super::choices;
use super::desk::told;
use super::folder::version_of_sources;
use super::wire::{Event, FileLine, FindingView, Tried, WorkView};
use crate::Trouble;
use crate::pipeline::{Accuracy, Instead, Pipeline};
use crate::texts::Sources;
use base::{Progress, Report, Severity};
use papers::{Pack, PackOptions};
use proof::{Check, State};
use route::Plan;
use std::collections::{BTreeMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use tokio::sync::broadcast::Sender;

/// Plans that are kept. A large one holds about 150 MB.
const KEPT: usize = 3;
/// Progress is told when it has got on by so much, per mille.
const STEP: u64 = 10;
/// Most possibilities of a job that are kept.
const MOST_TRIED: usize = 60;

/// A possibility that is reckoned: of what sources, and which.
type Possibility = (String, String);

/// What is wanted of the thread.
#[derive(Debug)]
struct Task {
    id: String,
    sources: Sources,
    /// A possibility of the job, in the place of the job itself.
    of: Option<Possibility>,
}

/// A finished plan.
#[derive(Debug)]
pub(super) struct Planned {
    /// Version of the sources it was made from.
    pub(super) of: String,
    /// The worst verdict.
    pub(super) state: State,
    /// Programs left out because a check fails.
    pub(super) withheld: Vec<String>,
    /// The files.
    pub(super) pack: Arc<Pack>,
    /// The plan they show.
    pub(super) plan: Arc<Plan>,
    /// The verdicts.
    pub(super) checks: Vec<Check>,
}

/// What is wanted of the thread, and what came of it.
#[derive(Debug, Default)]
struct Book {
    /// Jobs that wait, in order, each once, and then the possibilities of jobs.
    waiting: VecDeque<Task>,
    /// The job in hand and the wish to stop it.
    in_hand: Option<(String, Arc<AtomicBool>)>,
    /// How far each job is.
    work: BTreeMap<String, WorkView>,
    /// Finished plans, the newest last.
    finished: VecDeque<(String, Arc<Planned>)>,
    /// Possibilities of jobs, as far as they were asked for; forgotten once their job changes.
    tried: BTreeMap<String, BTreeMap<Possibility, Tried>>,
    closed: bool,
}

/// The thread that plans.
#[derive(Debug)]
pub(super) struct Planner {
    book: Mutex<Book>,
    wake: Condvar,
    news: Sender<Event>,
    pitch: f64,
}

impl Planner {
    /// Starts the thread. It ends when the planner is stopped for good.
    pub(super) fn start(news: Sender<Event>, pitch: f64, threads: Option<u16>) -> Arc<Self> {
        let planner = Arc::new(Self { book: Mutex::default(), wake: Condvar::new(), news, pitch });
        let worker = planner.clone();
        std::thread::spawn(move || {
            // A pool of its own, so that pictures of the shape need not wait for a plan.
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.map_or(0, usize::from)).build();
            while let Some((task, stop)) = worker.next() {
                let Task { id, sources, of } = &task;
                let quiet = of.is_some();
                let listener = Listener { planner: &worker, id, stop: &stop, quiet, last: AtomicU64::new(u64::MAX) };
                let work = || catch_unwind(AssertUnwindSafe(|| chain(sources, worker.pitch, quiet, &listener)));
                let outcome = match &pool {
                    Ok(pool) => pool.install(work),
                    Err(_) => work(),
                };
                let outcome = outcome.unwrap_or_else(|_| Err(Stopped::Fault("it broke off".to_owned())));
                match of {
                    None => worker.settle(id, &stop, sources, outcome),
                    Some(of) => worker.settle_possibility(id, &stop, of, outcome),
                }
            }
        });
        planner
    }

    /// Asks for a plan; one of this job that is in hand is stopped.
    pub(super) fn ask(&self, id: &str, sources: Sources) {
        let mut book = self.book();
        book.stop(id);
        let first_possibility = book.waiting.iter().position(|task| task.of.is_some()).unwrap_or(book.waiting.len());
        book.waiting.insert(first_possibility, Task { id: id.to_owned(), sources, of: None });
        book.work.insert(id.to_owned(), WorkView::Waiting);
        drop(book);
        self.tell(id, WorkView::Waiting);
        self.wake.notify_all();
    }

    /// Asks for possibilities of a job, each with the sources that it would be made from.
    pub(super) fn reckon(&self, id: &str, of: &str, possibilities: Vec<(String, Sources)>) {
        let mut book = self.book();
        let known = book.tried.entry(id.to_owned()).or_default();
        known.retain(|(old, _), _| old == of);
        let mut new = Vec::new();
        for (key, sources) in possibilities {
            let of = (of.to_owned(), key);
            if known.len() < MOST_TRIED && !known.contains_key(&of) {
                known.insert(of.clone(), Tried::Waiting);
                new.push(Task { id: id.to_owned(), sources, of: Some(of) });
            }
        }
        book.waiting.extend(new);
        drop(book);
        self.wake.notify_all();
    }

    /// The possibilities of a job that were asked for, with how far each is.
    pub(super) fn tried(&self, id: &str, of: &str) -> BTreeMap<String, Tried> {
        let book = self.book();
        let all = book.tried.get(id).into_iter().flatten().filter(|((known, _), _)| known == of);
        all.map(|((_, key), tried)| (key.clone(), tried.clone())).collect()
    }

    /// Stops the plan of a job, whether it waits or is in hand. A finished one stays.
    pub(super) fn stop(&self, id: &str) {
        let mut book = self.book();
        if !book.stop(id) {
            return;
        }
        book.work.remove(id);
        let view = book.view(id);
        drop(book);
        self.tell(id, view);
    }

    /// Stops everything for good.
    pub(super) fn stop_all(&self) {
        let mut book = self.book();
        book.closed = true;
        book.waiting.clear();
        if let Some((_, stop)) = &book.in_hand {
            stop.store(true, Ordering::Relaxed);
        }
        drop(book);
        self.wake.notify_all();
    }

    /// Pitch of the proof's columns, mm.
    pub(super) fn pitch(&self) -> f64 {
        self.pitch
    }

    /// How far a job is.
    pub(super) fn view(&self, id: &str) -> WorkView {
        self.book().view(id)
    }

    /// The finished plan of a job.
    pub(super) fn planned(&self, id: &str) -> Option<Arc<Planned>> {
        self.book().planned(id)
    }

    fn next(&self) -> Option<(Task, Arc<AtomicBool>)> {
        let mut book = self.book();
        loop {
            if book.closed {
                return None;
            }
            if let Some(task) = book.waiting.pop_front() {
                let stop = Arc::new(AtomicBool::new(false));
                book.in_hand = Some((task.id.clone(), stop.clone()));
                return Some((task, stop));
            }
            book = self.wake.wait(book).unwrap_or_else(|broken| broken.into_inner());
        }
    }

    fn settle(&self, id: &str, stop: &AtomicBool, sources: &Sources, outcome: Result<Planned, Stopped>) {
        let mut book = self.book();
        book.in_hand = None;
        // Stopped by a newer wish: that one tells how it goes on.
        if stop.load(Ordering::Relaxed) {
            return;
        }
        book.work.remove(id);
        match outcome {
            Ok(planned) => {
                book.finished.retain(|(other, _)| other != id);
                book.finished.push_back((id.to_owned(), Arc::new(planned)));
                if book.finished.len() > KEPT {
                    book.finished.pop_front();
                }
            }
            Err(Stopped::Refused(findings)) => {
                let of = version_of_sources(sources);
                book.work.insert(id.to_owned(), WorkView::Refused { of, findings });
            }
            Err(Stopped::Fault(text)) => {
                book.work.insert(id.to_owned(), WorkView::Fault { text });
            }
            Err(Stopped::Cancelled) => {}
        }
        let view = book.view(id);
        drop(book);
        self.tell(id, view);
    }

    fn settle_possibility(&self, id: &str, stop: &AtomicBool, of: &Possibility, outcome: Result<Planned, Stopped>) {
        let mut book = self.book();
        book.in_hand = None;
        let tried = match outcome {
            _ if stop.load(Ordering::Relaxed) => return,
            Ok(planned) => Tried::Planned { figures: choices::figures(&planned.plan, &planned.checks) },
            Err(Stopped::Refused(findings)) => {
                let why = findings.iter().filter(|f| f.severity == Severity::Error).map(|f| f.text.clone());
                Tried::Refused { why: why.collect::<Vec<_>>().join("; ") }
            }
            Err(Stopped::Fault(text)) => Tried::Refused { why: text },
            Err(Stopped::Cancelled) => return,
        };
        if let Some(known) = book.tried.get_mut(id).and_then(|all| all.get_mut(of)) {
            *known = tried;
        }
        drop(book);
        let _ = self.news.send(Event::Tried { id: id.to_owned() });
    }

    fn tell(&self, id: &str, work: WorkView) {
        let _ = self.news.send(Event::Work { id: id.to_owned(), work });
    }

    fn book(&self) -> MutexGuard<'_, Book> {
        self.book.lock().unwrap_or_else(|broken| broken.into_inner())
    }
}

impl Book {
    /// Takes a job out of the queue and stops it if it is in hand; whether there was anything to stop.
    fn stop(&mut self, id: &str) -> bool {
        let before = self.waiting.len();
        self.waiting.retain(|task| task.id != id);
        self.tried.remove(id);
        let in_hand = self.in_hand.as_ref().filter(|(other, _)| other == id);
        if let Some((_, stop)) = in_hand {
            stop.store(true, Ordering::Relaxed);
        }
        before != self.waiting.len() || in_hand.is_some()
    }

    fn planned(&self, id: &str) -> Option<Arc<Planned>> {
        self.finished.iter().find(|(other, _)| other == id).map(|(_, planned)| planned.clone())
    }

    fn view(&self, id: &str) -> WorkView {
        if let Some(work) = self.work.get(id) {
            return work.clone();
        }
        self.planned(id).map_or(WorkView::Idle, |planned| WorkView::Planned {
            of: planned.of.clone(),
            state: planned.state,
            withheld: !planned.withheld.is_empty(),
            files: (planned.pack.files.iter())
                .map(|(path, bytes)| FileLine {
                    path: path.clone(),
                    bytes: u32::try_from(bytes.len()).unwrap_or(u32::MAX),
                })
                .collect(),
        })
    }
}

/// Tells how far a plan is, and hears the wish to stop it.
struct Listener<'a> {
    planner: &'a Planner,
    id: &'a str,
    stop: &'a AtomicBool,
    /// Nobody is told how far it is.
    quiet: bool,
    /// What was told last, per mille.
    last: AtomicU64,
}

impl Progress for Listener<'_> {
    fn tell(&self, stage: &str, done: f64) {
        let now = (done.clamp(0.0, 1.0) * 1000.0) as u64;
        let before = self.last.load(Ordering::Relaxed);
        if self.quiet || before.abs_diff(now) < STEP || self.cancelled() {
            return;
        }
        self.last.store(now, Ordering::Relaxed);
        let work = WorkView::Working { stage: stage.to_owned(), done: now as f64 / 1000.0 };
        let mut book = self.planner.book();
        // Once it was stopped, what a newer wish told of the job stands.
        if self.cancelled() {
            return;
        }
        book.work.insert(self.id.to_owned(), work.clone());
        drop(book);
        self.planner.tell(self.id, work);
    }

    fn cancelled(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// Why no plan came of it.
#[derive(Debug)]
enum Stopped {
    Refused(Vec<FindingView>),
    Fault(String),
    Cancelled,
}

impl From<Trouble> for Stopped {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::Cancelled => Self::Cancelled,
            Trouble::Input(text) | Trouble::Fault(text) => Self::Fault(text),
        }
    }
}

/// The whole chain, as `treen plan` runs it; of a possibility nobody reads the papers.
fn chain(sources: &Sources, pitch: f64, no_papers: bool, progress: &dyn Progress) -> Result<Planned, Stopped> {
    let refuse = |report: &Report| match report.has_errors() {
        true => Err(Stopped::Refused(told(report, sources))),
        false => Ok(()),
    };
    let lost = || Stopped::Fault("a stage gave neither a result nor a reason".to_owned());
    progress.tell("reading the job", 0.0);
    let mut pipeline = Pipeline::default();
    let understood = pipeline.understand(sources, Accuracy::default().chord)?;
    refuse(&understood.report)?;
    let (wish, piece) = understood.wish.zip(understood.piece).ok_or_else(lost)?;
    let planned = pipeline.plan(&wish, &piece, progress)?;
    refuse(&planned.report)?;
    let plan = planned.value.clone().ok_or_else(lost)?;
    let proven = pipeline.prove(&planned, &Instead::new(), pitch, progress)?;
    refuse(&proven.report)?;
    let proof = proven.value.clone().ok_or_else(lost)?;
    let options = PackOptions { withhold_programs: proof.fails(), derivations: false };
    let pack = match no_papers {
        true => Arc::default(),
        false => pipeline.papers(&plan, &proven, options, progress)?.value.ok_or_else(lost)?,
    };
    Ok(Planned {
        of: version_of_sources(sources),
        state: proof.checks.iter().map(|check| check.state).max().unwrap_or(State::Fails),
        withheld: plan.programs.keys().filter(|_| options.withhold_programs).cloned().collect(),
        pack,
        plan,
        checks: proof.checks.clone(),
    })
}
