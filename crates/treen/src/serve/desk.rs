//! What the server holds: the folder, the planner, and the line to everyone who listens.

use super::edit::{edited, units_word, values};
use super::folder::{Folder, Refusal, version_of_sources};
use super::planner::{Planned, Planner};
use super::wire::{
    Choices, ChoicesView, ChooseAsk, ConflictView, Edit, Event, ExampleLine, FindingView, FolderView, JobLine, JobView,
    MapView, NewJob, NewValue, PreviewAsk, ReckonAsk, Tried, WhatIfAsk, WhatIfView, WorkView,
};
use super::{brought, carving, choices, events, maps, preview, what_if};
use crate::pipeline::{Pipeline, Wish};
use crate::texts::{OWN_SHELF, Sources};
use base::{FileId, Finding, Quiet, Report, line_column};
use proof::what_if::Turning;
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard};
use tokio::sync::broadcast::{Receiver, Sender};
use tokio::sync::{Semaphore, watch};
use trade::shelf::Task;

/// An example to start from.
struct Example {
    name: &'static str,
    /// What it is.
    says: &'static str,
    job: &'static str,
    /// Files beside the job: the shop's own figures, a drawing.
    beside: &'static [(&'static str, &'static str)],
}

macro_rules! example {
    ($name:literal, $says:literal $(, $beside:literal)*) => {
        Example {
            name: $name,
            says: $says,
            job: include_str!(concat!("../../../../examples/", $name, "/job.toml")),
            beside: &[$(($beside, include_str!(concat!("../../../../examples/", $name, "/", $beside)))),*],
        }
    };
}

const EXAMPLES: [Example; 11] = [
    example!("tidepool", "A round walnut bowl, its rim of sea-coloured resin that runs down the wall."),
    example!("clover", "A bowl of four lobes with a ring of resin, in inches, on a small machine.", "shop.toml"),
    example!("pantry-tray", "A flat-bottomed tray of one wood, carved from one side."),
    example!("sweetheart", "A heart with a rim of resin.", "shop.toml"),
    example!("oxbow", "A long dish with a river of resin across it, and pebbles of resin in its floor."),
    example!("compote", "A bowl on a foot with a cove."),
    example!("harebell", "A bell that widens towards its rim."),
    example!("brim", "A plate with a wide brim, its profile through points."),
    example!("leaf", "A dish like a leaf, its outline from a drawing.", "leaf.svg"),
    example!("pebble", "A dish like a pebble, its outline through points."),
    example!("flip-coupon", "No bowl: a small piece that shows by how much your machine is off after turning over."),
];

/// Pictures of a shape that are computed at the same time.
const PREVIEWS: usize = 2;
/// Reckonings of how resin is poured that are made at the same time: they take seconds, and no picture waits for them.
const RECKONINGS: usize = 1;
/// Carvings and films that are kept to be looked at again, up to 15 MB each.
const SIGHTS: usize = 4;

/// Of what sources, and what.
type SightOf = (String, String);

/// What was seen of the folder when it was last looked at.
#[derive(Debug, Default)]
struct Seen {
    jobs: BTreeMap<String, Known>,
    looks: u32,
}

/// A job as it was when it was last looked at.
#[derive(Clone, Debug)]
struct Known {
    /// The files that it names.
    named: Vec<String>,
    stamp: Vec<(u64, u128)>,
    /// Version of its sources.
    version: String,
}

/// The server's state, shared by all requests.
#[derive(Debug)]
pub struct Desk {
    folder: Folder,
    planner: Arc<Planner>,
    news: Sender<Event>,
    closing: watch::Sender<bool>,
    port: u16,
    seen: Mutex<Seen>,
    previews: Semaphore,
    reckonings: Semaphore,
    watching: Semaphore,
    /// Carvings and films looked at lately, the newest last.
    sights: Mutex<VecDeque<(SightOf, Arc<Vec<u8>>)>>,
    /// The turning over that was asked about last, and of what sources.
    turning: Mutex<Option<(String, Option<Turning>)>>,
}

/// Why a change was not made.
#[derive(Debug)]
pub(super) enum NotSaved {
    Refused(Refusal),
    /// What stands there now.
    Conflict(Box<ConflictView>),
    /// The changes do not fit the text.
    Unfit(String),
}

impl From<Refusal> for NotSaved {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl Desk {
    /// A desk for a folder, reached at a port of this machine; the proof looks at this pitch, mm.
    pub fn new(folder: Folder, port: u16, pitch: f64, threads: Option<u16>) -> Arc<Self> {
        let news = events::line();
        let desk = Self {
            folder,
            planner: Planner::start(news.clone(), pitch, threads),
            news,
            closing: watch::Sender::new(false),
            port,
            seen: Mutex::default(),
            previews: Semaphore::new(PREVIEWS),
            reckonings: Semaphore::new(RECKONINGS),
            watching: Semaphore::new(1),
            sights: Mutex::default(),
            turning: Mutex::default(),
        };
        desk.look_around();
        Arc::new(desk)
    }

    /// The folder.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    pub(super) fn port(&self) -> u16 {
        self.port
    }

    pub(super) fn planner(&self) -> &Planner {
        &self.planner
    }

    pub(super) fn previews(&self, pours: bool) -> &Semaphore {
        if pours { &self.reckonings } else { &self.previews }
    }

    pub(super) fn watching(&self) -> &Semaphore {
        &self.watching
    }

    pub(super) fn listen(&self) -> Receiver<Event> {
        self.news.subscribe()
    }

    /// Tells everyone that the server ends, and stops the plan in hand.
    pub fn close(&self) {
        self.planner.stop_all();
        self.closing.send_replace(true);
    }

    /// Returns once the desk is closed.
    pub(super) async fn closed(&self) {
        let mut closing = self.closing.subscribe();
        let _ = closing.wait_for(|closed| *closed).await;
    }

    /// The folder as the page shows it.
    pub(super) fn view(&self) -> FolderView {
        let name = self.folder.root().file_name().map(|n| n.to_string_lossy().into_owned());
        let line = |id: String| {
            let title = self.folder.read(&id).ok().and_then(|job| title_of(&job.text));
            JobLine { title: title.unwrap_or_else(|| id.clone()), id }
        };
        let example = |one: &Example| ExampleLine { name: one.name.into(), says: one.says.into() };
        FolderView {
            folder: name.unwrap_or_else(|| self.folder.root().display().to_string()),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            jobs: self.folder.jobs().into_iter().map(line).collect(),
            examples: EXAMPLES.iter().map(example).collect(),
        }
    }

    /// A job as it stands in its file.
    pub(super) fn job(&self, id: &str) -> Result<JobView, Refusal> {
        let text = self.folder.read(id)?;
        let sources = self.folder.sources(id, Some(&text.text))?;
        let (found, choices) = understood(&sources);
        Ok(JobView {
            id: id.to_owned(),
            title: title_of(&text.text).unwrap_or_else(|| id.to_owned()),
            file: sources.texts.get(sources.job).map_or(String::new(), |t| t.name.clone()),
            version: text.version,
            sources: version_of_sources(&sources),
            units: units_word(&text.text).to_owned(),
            values: values(&text.text).into_iter().map(|(path, (value, _))| (path, value)).collect(),
            findings: told(&found, &sources),
            choices,
            work: self.planner.view(id),
            text: text.text,
        })
    }

    /// Saves a whole text.
    pub(super) fn save(&self, id: &str, based_on: &str, text: &str) -> Result<JobView, NotSaved> {
        match self.folder.write(id, based_on, text) {
            Ok(_) => {
                // A plan in hand is of the older text.
                self.planner.stop(id);
                let job = self.job(id)?;
                self.changed(&job);
                Ok(job)
            }
            Err(Refusal::Conflict) => Err(NotSaved::Conflict(Box::new(ConflictView { now: self.job(id)? }))),
            Err(refusal) => Err(refusal.into()),
        }
    }

    /// Saves changes of single values.
    pub(super) fn save_edits(&self, id: &str, based_on: &str, edits: &[Edit]) -> Result<JobView, NotSaved> {
        let text = self.folder.read(id)?;
        if text.version != based_on {
            return Err(NotSaved::Conflict(Box::new(ConflictView { now: self.job(id)? })));
        }
        let text = edited(&text.text, edits).map_err(NotSaved::Unfit)?;
        self.save(id, based_on, &text)
    }

    /// The picture of a job with changes that are not saved.
    pub(super) fn preview(&self, id: &str, ask: &PreviewAsk) -> Result<Vec<u8>, NotSaved> {
        let edits = &ask.set[..];
        let text = self.folder.read(id)?.text;
        // A text that can't be read is shown as it is, with its mistakes.
        let text = if edits.is_empty() { text } else { edited(&text, edits).map_err(NotSaved::Unfit)? };
        let sources = self.folder.sources(id, Some(&text))?;
        preview::preview(&sources, !edits.is_empty(), ask.pours)
            .map_err(|fault| NotSaved::Refused(Refusal::Fault(fault)))
    }

    /// Begins a job.
    pub(super) fn begin(&self, new: &NewJob) -> Result<String, Refusal> {
        let texts = match (&new.like, &new.from) {
            (Some(like), _) => self.copied(like, &new.name)?,
            (None, None) => vec![("job.toml", job::starter(&new.name))],
            (None, Some(name)) => {
                let found = EXAMPLES.iter().find(|example| example.name == name);
                let Example { job, beside, .. } =
                    found.ok_or_else(|| Refusal::NotThere(format!("example “{name}”")))?;
                let beside = beside.iter().map(|(file, text)| (*file, (*text).to_owned()));
                [("job.toml", titled(job, &new.name)?)].into_iter().chain(beside).collect()
            }
        };
        let files: Vec<(&str, &[u8])> = texts.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        self.put_job(&new.name, &files)
    }

    /// Begins a job with a drawing for its outline, or with a solid.
    pub(super) fn begin_with(&self, name: &str, file: &str, bytes: &[u8]) -> Result<String, Refusal> {
        let text = brought::job_with(name, file)?;
        self.put_job(name, &[("job.toml", text.as_bytes()), (file, bytes)])
    }

    fn put_job(&self, name: &str, files: &[(&str, &[u8])]) -> Result<String, Refusal> {
        let id = self.folder.begin(name, files)?;
        self.look_around();
        let _ = self.news.send(Event::Jobs);
        Ok(id)
    }

    /// The texts of a job under another title.
    fn copied(&self, like: &str, title: &str) -> Result<Vec<(&'static str, String)>, Refusal> {
        let sources = self.folder.sources(like, None)?;
        let text = sources.texts.content(sources.job);
        if !job::named_files(text).is_empty() {
            let why = "this job names files that lie beside it: copy its whole folder, then change the title";
            return Err(Refusal::NotAllowed(why.to_owned()));
        }
        let mut texts = vec![("job.toml", titled(text, title)?)];
        let beside = [("shelf.toml", Some(sources.shelf)), ("shop.toml", sources.shop)];
        for (name, text) in beside.into_iter().filter_map(|(name, file)| Some((name, sources.texts.get(file?)?))) {
            if text.name != OWN_SHELF {
                texts.push((name, text.content.clone()));
            }
        }
        Ok(texts)
    }

    /// Starts planning a job.
    pub(super) fn plan(&self, id: &str) -> Result<WorkView, Refusal> {
        let sources = self.folder.sources(id, None)?;
        self.planner.ask(id, sources);
        Ok(self.planner.view(id))
    }

    /// The finished plan of a job, if it is at hand.
    pub(super) fn planned(&self, id: &str) -> Result<Arc<Planned>, Refusal> {
        self.planner.planned(id).ok_or_else(|| Refusal::NotThere(format!("plan of {id}")))
    }

    /// The carving of a setup of the finished plan, to be looked at.
    pub(super) fn carving(&self, id: &str, setup: &str) -> Result<Arc<Vec<u8>>, Refusal> {
        self.looked_at(id, format!("carving {setup}"), |plan| carving::carving(plan, setup, self.planner.pitch()))
    }

    /// The film of the finished plan.
    pub(super) fn film(&self, id: &str) -> Result<Arc<Vec<u8>>, Refusal> {
        let fault = |why: papers::PapersError| Refusal::Fault(why.to_string());
        self.looked_at(id, "film".to_owned(), |plan| papers::film(plan, &Quiet).map_err(fault))
    }

    /// What can be chosen about a job, with what is known of each possibility.
    pub(super) fn choices(&self, id: &str) -> Result<ChoicesView, Refusal> {
        let sources = self.folder.sources(id, None)?;
        let of = version_of_sources(&sources);
        let wish = wished(&sources)?;
        let tried = self.planner.tried(id, &of);
        let asked: Vec<String> = tried.keys().cloned().collect();
        // What is so now is what the plan at hand came to.
        let now = self.planner.planned(id).filter(|planned| planned.of == of);
        let now = now.map(|planned| Tried::Planned { figures: choices::figures(&planned.plan, &planned.checks) });
        let mut questions = choices::questions(&wish, &|key| tried.get(key).cloned().unwrap_or(Tried::Untried), &asked);
        for option in questions.iter_mut().flat_map(|q| &mut q.options).filter(|option| option.now) {
            option.comes_to = now.clone().unwrap_or(Tried::Untried);
        }
        let cutters = wish.shelf.cutters.iter().map(|c| (c.number, c.name.clone())).collect();
        let tasks = Task::ALL.iter().map(|task| (task.key().to_owned(), task.words().to_owned())).collect();
        Ok(ChoicesView { of, questions, cutters, tasks })
    }

    /// Asks what possibilities would come to.
    pub(super) fn reckon(&self, id: &str, ask: &ReckonAsk) -> Result<ChoicesView, Refusal> {
        let sources = self.folder.sources(id, None)?;
        let wish = wished(&sources)?;
        let possible = |key: &String| choices::chosen(&sources, &wish, key).map(|chosen| (key.clone(), chosen));
        let possibilities: Vec<_> =
            ask.keys.iter().map(possible).collect::<Result<_, _>>().map_err(Refusal::NotAllowed)?;
        self.planner.reckon(id, &version_of_sources(&sources), possibilities);
        self.choices(id)
    }

    /// Settles a possibility for the shop, in `shop.toml` beside the job.
    pub(super) fn choose(&self, id: &str, ask: &ChooseAsk) -> Result<JobView, NotSaved> {
        let sources = self.folder.sources(id, None)?;
        if version_of_sources(&sources) != ask.based_on {
            return Err(NotSaved::Conflict(Box::new(ConflictView { now: self.job(id)? })));
        }
        let wish = wished(&sources)?;
        let chosen = choices::chosen(&sources, &wish, &ask.key).map_err(NotSaved::Unfit)?;
        let shop = chosen.shop.filter(|shop| Some(*shop) != sources.shop);
        let Some(text) = shop.map(|shop| chosen.texts.content(shop)) else {
            return Err(NotSaved::Unfit("that is chosen in the job, not for the shop".to_owned()));
        };
        let before = sources.shop.map(|shop| sources.texts.content(shop));
        match self.folder.write_shop(id, before, text) {
            Err(Refusal::Conflict) => Err(NotSaved::Conflict(Box::new(ConflictView { now: self.job(id)? }))),
            Err(refusal) => Err(refusal.into()),
            Ok(()) => {
                self.planner.stop(id);
                let job = self.job(id)?;
                self.changed(&job);
                Ok(job)
            }
        }
    }

    /// The map of a check of the plan at hand.
    pub(super) fn map(&self, id: &str, check: &str) -> Result<MapView, Refusal> {
        let planned = self.planned(id)?;
        let found = planned.checks.iter().find(|known| known.id == check);
        found
            .and_then(|check| maps::map(&planned.plan, check))
            .ok_or_else(|| Refusal::NotThere(format!("map of {check}")))
    }

    /// What would be with other errors and another warmth, from the plan at hand.
    pub(super) fn what_if(&self, id: &str, ask: &WhatIfAsk) -> Result<WhatIfView, Refusal> {
        let planned = self.planned(id)?;
        let mut kept = self.turning.lock().unwrap_or_else(|broken| broken.into_inner());
        if kept.as_ref().is_none_or(|(of, _)| *of != planned.of) {
            let turning = proof::what_if::turning(&papers::evidence_of(&planned.plan, self.planner.pitch()));
            *kept = Some((planned.of.clone(), turning));
        }
        let turning = kept.as_ref().and_then(|(_, turning)| turning.as_ref());
        let hours = wished(&self.folder.sources(id, None)?)?.shelf.hours.clone();
        Ok(what_if::what_if((&planned.plan, &planned.checks), turning, &hours, ask))
    }

    /// Something made of a finished plan; it is made once, as long as it is kept.
    fn looked_at(
        &self,
        id: &str,
        what: String,
        make: impl FnOnce(&route::Plan) -> Result<Vec<u8>, Refusal>,
    ) -> Result<Arc<Vec<u8>>, Refusal> {
        let planned = self.planned(id)?;
        let of = (planned.of.clone(), what);
        let kept = || self.sights.lock().unwrap_or_else(|broken| broken.into_inner());
        if let Some((_, bytes)) = kept().iter().find(|(known, _)| *known == of) {
            return Ok(bytes.clone());
        }
        let bytes = Arc::new(make(&planned.plan)?);
        let mut kept = kept();
        kept.push_back((of, bytes.clone()));
        if kept.len() > SIGHTS {
            kept.pop_front();
        }
        Ok(bytes)
    }

    /// Writes the pack of a job beside it.
    pub(super) fn keep(&self, id: &str) -> Result<String, Refusal> {
        let planned = self.planned(id)?;
        if self.job(id)?.sources != planned.of {
            return Err(Refusal::NotAllowed(
                "the job has changed since it was planned: plan it again first".to_owned(),
            ));
        }
        self.folder.keep(id, &planned.pack.files, planned.withheld.iter().cloned())
    }

    /// Looks whether files were changed, came or went, and tells it. Called often.
    pub fn look_around(&self) {
        let mut seen = self.seen();
        // Known files are looked at every time, for new ones now and then.
        let all = seen.looks.is_multiple_of(8);
        seen.looks = seen.looks.wrapping_add(1);
        let ids = if all { self.folder.jobs() } else { seen.jobs.keys().cloned().collect() };
        let mut changed = Vec::new();
        let mut now = BTreeMap::new();
        for id in ids {
            let before = seen.jobs.get(&id);
            if let Some(known) = before
                && self.folder.stamp(&id, &known.named) == known.stamp
            {
                now.insert(id, known.clone());
                continue;
            }
            let Ok(sources) = self.folder.sources(&id, None) else { continue };
            let known = self.known(&id, sources.texts.content(sources.job), version_of_sources(&sources));
            if before.is_some_and(|old| old.version != known.version) {
                changed.push((id.clone(), known.version.clone()));
            }
            now.insert(id, known);
        }
        let others = now.keys().ne(seen.jobs.keys());
        let first = seen.looks == 1;
        seen.jobs = now;
        drop(seen);
        for (id, version) in changed {
            self.planner.stop(&id);
            let _ = self.news.send(Event::Changed { id, sources: version });
        }
        if others && !first {
            let _ = self.news.send(Event::Jobs);
        }
    }

    /// Tells of a change made here.
    fn changed(&self, job: &JobView) {
        let known = self.known(&job.id, &job.text, job.sources.clone());
        self.seen().jobs.insert(job.id.clone(), known);
        let _ = self.news.send(Event::Changed { id: job.id.clone(), sources: job.sources.clone() });
    }

    fn known(&self, id: &str, text: &str, version: String) -> Known {
        let named: Vec<String> = job::named_files(text).into_iter().map(|(name, _)| name).collect();
        Known { stamp: self.folder.stamp(id, &named), named, version }
    }

    fn seen(&self) -> MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(|broken| broken.into_inner())
    }
}

/// What the texts ask for, if they can be read.
fn wished(sources: &Sources) -> Result<Arc<Wish>, Refusal> {
    let read = Pipeline::default().read(sources).map_err(|fault| Refusal::Fault(format!("{fault:?}")))?;
    read.value.ok_or_else(|| Refusal::NotAllowed("the job has mistakes: mend them first".to_owned()))
}

/// A job's text with another title.
fn titled(text: &str, title: &str) -> Result<String, Refusal> {
    let to = NewValue::Text { value: title.trim().to_owned() };
    edited(text, &[Edit { path: "title".into(), to }]).map_err(Refusal::NotAllowed)
}

fn title_of(text: &str) -> Option<String> {
    values(text).remove("title").map(|(title, _)| title.text).filter(|title| !title.trim().is_empty())
}

/// What is wrong with the texts, and the names the shelf knows.
fn understood(sources: &Sources) -> (Report, Choices) {
    let found = Pipeline::default().read(sources).map(|staged| staged.report).unwrap_or_default();
    let shelf = trade::parse(sources.texts.content(sources.shelf), sources.shelf).0;
    let choices = shelf.map_or_else(Choices::default, |shelf| Choices {
        woods: shelf.woods.iter().map(|w| w.name.clone()).collect(),
        resins: shelf.resins.iter().filter(|r| !r.seal).map(|r| r.name.clone()).collect(),
        finishes: shelf.finishes.iter().map(|f| f.name.clone()).collect(),
    });
    (found, choices)
}

/// Findings with their places in words, the worst first.
pub(super) fn told(report: &Report, sources: &Sources) -> Vec<FindingView> {
    let values = values(sources.texts.content(sources.job));
    let field = |file: FileId, start: u32| {
        let holds = |place: &std::ops::Range<usize>| file == sources.job && place.contains(&(start as usize));
        values.iter().find(|(_, (_, place))| holds(place)).map(|(path, _)| path.clone())
    };
    let view = |finding: &Finding| {
        let place = finding.at.and_then(|at| Some((at, sources.texts.get(at.file)?)));
        let spot = place.map(|(at, text)| line_column(&text.content, at.start));
        FindingView {
            severity: finding.severity,
            code: finding.code.clone(),
            text: finding.text.clone(),
            hint: finding.hint.clone(),
            file: place.map(|(_, text)| text.name.clone()),
            line: spot.map(|(line, _)| line as u32),
            column: spot.map(|(_, column)| column as u32),
            field: finding.at.and_then(|at| field(at.file, at.start)),
        }
    };
    let mut findings: Vec<&Finding> = report.findings.iter().collect();
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    findings.into_iter().map(view).collect()
}
