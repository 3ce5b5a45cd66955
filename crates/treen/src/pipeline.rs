//! The whole chain, from texts to papers: parse → shape → route → proof → papers.
//!
//! The only place that knows it. Each stage is a function of the one before; its last result is kept with the hash of
//! its inputs and used again when they have not changed.

use crate::Trouble;
use crate::memo::{Key, Memo};
use crate::texts::Sources;
use base::{Progress, Report};
use job::{Job, Measured};
use papers::{Pack, PackOptions};
use proof::Proof;
use route::Plan;
use shape::Piece;
use std::collections::BTreeMap;
use std::sync::Arc;
use trade::shelf::Shelf;

/// What a stage came to: its result unless a finding stops the work, all findings, and the key of its inputs.
#[derive(Clone, Debug)]
pub struct Staged<T> {
    /// The result.
    pub value: Option<Arc<T>>,
    /// What was found on the way.
    pub report: Report,
    key: Key,
}

/// What the texts ask for.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// The job.
    pub job: Job,
    /// The shelf, with this shop's overrides.
    pub shelf: Shelf,
    /// What the maker measured so far.
    pub measured: Option<Measured>,
}

impl Wish {
    /// What the planner is given.
    pub fn request<'a>(&'a self, piece: &'a Piece) -> route::Request<'a> {
        route::Request { job: &self.job, shelf: &self.shelf, piece, measured: self.measured.as_ref() }
    }
}

/// What the texts ask for and the shape they describe, as far as both could be made, and all that is wrong with them.
#[derive(Clone, Debug)]
pub struct Understood {
    /// What is asked for.
    pub wish: Option<Arc<Wish>>,
    /// The piece.
    pub piece: Option<Staged<Piece>>,
    /// What was found.
    pub report: Report,
}

/// Accuracy of shapes and proof, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Chord tolerance of curved surfaces.
    pub chord: f64,
    /// Pitch of the proof's columns.
    pub pitch: f64,
}

impl Default for Accuracy {
    fn default() -> Self {
        Self { chord: 0.01, pitch: 0.1 }
    }
}

/// Programs to judge in the place of ours, by their path in the pack.
pub type Instead = BTreeMap<String, String>;

/// The chain with a memo for each stage.
#[derive(Debug, Default)]
pub struct Pipeline {
    wish: Memo<Staged<Wish>>,
    piece: Memo<Staged<Piece>>,
    plan: Memo<Staged<Plan>>,
    proof: Memo<Staged<Proof>>,
    pack: Memo<Staged<Pack>>,
}

impl Pipeline {
    /// Reads the texts.
    ///
    /// # Errors
    /// [`Trouble::Fault`] only.
    pub fn read(&mut self, sources: &Sources) -> Result<Staged<Wish>, Trouble> {
        let content = |file| sources.texts.content(file);
        let others = [sources.shop, sources.record].map(|file| file.map(content));
        let key = key("parse", &(content(sources.job), content(sources.shelf), others, &sources.files))?;
        self.wish.get(key, || {
            let (wish, report) = wish_of(sources);
            Ok(staged(wish, report, key))
        })
    }

    /// Reads the texts and makes the shape; all that is wrong with either comes in one report.
    ///
    /// # Errors
    /// [`Trouble::Fault`] only.
    pub fn understand(&mut self, sources: &Sources, chord: f64) -> Result<Understood, Trouble> {
        let Staged { value: wish, mut report, .. } = self.read(sources)?;
        let piece = wish.as_ref().map(|wish| self.shape(wish, chord)).transpose()?;
        if let Some(piece) = &piece {
            report.absorb_new(piece.report.clone());
        }
        Ok(Understood { wish, piece, report })
    }

    /// Makes the piece's shape.
    ///
    /// # Errors
    /// [`Trouble::Fault`] only.
    pub fn shape(&mut self, wish: &Wish, chord: f64) -> Result<Staged<Piece>, Trouble> {
        let key = key("shape", &(&wish.job.piece, chord))?;
        self.piece.get(key, || {
            let (piece, report) = shape::piece(&wish.job.piece, chord);
            Ok(staged(piece, report, key))
        })
    }

    /// Plans the making.
    ///
    /// # Errors
    /// [`Trouble::Cancelled`] if the maker stops.
    pub fn plan(
        &mut self,
        wish: &Wish,
        piece: &Staged<Piece>,
        progress: &dyn Progress,
    ) -> Result<Staged<Plan>, Trouble> {
        let key = key("route", &(&wish.job, &wish.shelf, &wish.measured, piece.key.hex()))?;
        let Some(piece) = &piece.value else { return Ok(staged(None, Report::default(), key)) };
        self.plan.get(key, || {
            let (plan, report) = route::plan(&wish.request(piece), progress)?;
            Ok(staged(plan, report, key))
        })
    }

    /// Judges a plan from its program texts, some of them perhaps replaced.
    ///
    /// # Errors
    /// [`Trouble::Cancelled`] if the maker stops.
    pub fn prove(
        &mut self,
        plan: &Staged<Plan>,
        instead: &Instead,
        pitch: f64,
        progress: &dyn Progress,
    ) -> Result<Staged<Proof>, Trouble> {
        let key = key("proof", &(plan.key.hex(), instead, pitch))?;
        let Some(plan) = &plan.value else { return Ok(staged(None, Report::default(), key)) };
        self.proof.get(key, || {
            let mut evidence = papers::evidence_of(plan, pitch);
            evidence.programs.extend(instead.clone());
            Ok(staged(Some(proof::prove(&evidence, progress)?), Report::default(), key))
        })
    }

    /// Sets out the papers of a plan that was judged.
    ///
    /// # Errors
    /// [`Trouble::Cancelled`] if the maker stops, [`Trouble::Fault`] if a paper can't be made.
    pub fn papers(
        &mut self,
        plan: &Plan,
        proof: &Staged<Proof>,
        options: PackOptions,
        progress: &dyn Progress,
    ) -> Result<Staged<Pack>, Trouble> {
        let key = key("papers", &(proof.key.hex(), options.withhold_programs, options.derivations))?;
        let Some(proof) = &proof.value else { return Ok(staged(None, Report::default(), key)) };
        self.pack.get(key, || {
            let pack = papers::pack(plan, proof, &options, progress).map_err(paper_trouble)?;
            Ok(staged(Some(pack), Report::default(), key))
        })
    }

    /// How often parse, shape, route, proof and papers have run.
    pub fn runs(&self) -> [u32; 5] {
        [self.wish.runs(), self.piece.runs(), self.plan.runs(), self.proof.runs(), self.pack.runs()]
    }
}

/// Judges a pack again from the files that lie in it.
///
/// # Errors
/// [`Trouble::Input`] if the pack is not whole, [`Trouble::Cancelled`] if the maker stops.
pub fn prove_pack(
    files: &dyn Fn(&str) -> Option<Vec<u8>>,
    pitch: f64,
    progress: &dyn Progress,
) -> Result<(Proof, papers::PlanDoc), Trouble> {
    let (evidence, doc) = papers::read_pack(files, pitch).map_err(paper_trouble)?;
    Ok((proof::prove(&evidence, progress)?, doc))
}

fn wish_of(sources: &Sources) -> (Option<Wish>, Report) {
    let content = |file| sources.texts.content(file);
    let (job, mut report) = job::parse_with(content(sources.job), sources.job, &sources.files);
    let (mut shelf, found) = trade::parse(content(sources.shelf), sources.shelf);
    report.absorb(found);
    if let Some(base) = &shelf {
        report.absorb_new(route::strangers(&job::names(content(sources.job), sources.job), base));
    }
    if let (Some(base), Some(shop)) = (&shelf, sources.shop) {
        let (over, found) = trade::parse_over(base, content(shop), shop);
        report.absorb(found);
        shelf = over;
    }
    let mut measured = None;
    if let Some(file) = sources.record {
        let (record, found) = job::parse_measured(content(file), file);
        report.absorb(found);
        measured = record;
    }
    (job.zip(shelf).map(|(job, shelf)| Wish { job, shelf, measured }), report)
}

fn staged<T>(value: Option<T>, report: Report, key: Key) -> Staged<T> {
    Staged { value: value.map(Arc::new), report, key }
}

fn key<T: serde::Serialize>(stage: &str, inputs: &T) -> Result<Key, Trouble> {
    Key::of(stage, inputs).map_err(|e| Trouble::Fault(format!("the inputs of `{stage}` have no hash: {e}")))
}

/// What to tell when a paper can't be made.
pub(crate) fn paper_trouble(error: papers::PapersError) -> Trouble {
    match error {
        papers::PapersError::Cancelled(_) => Trouble::Cancelled,
        papers::PapersError::Unwritable { .. } => Trouble::Fault(error.to_string()),
        _ => Trouble::input(
            error,
            "plan the job again with `treen plan JOB --out DIR`, or give the folder of a whole pack",
        ),
    }
}
