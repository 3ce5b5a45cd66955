//! One carving to be looked at: each of its motions with its time and what it took, and every column as it sinks.
//!
//! It is the replay of the proof, on columns as coarse as whoever looks can bear. Nothing is judged by it.

use crate::Evidence;
use crate::case::Case;
use crate::checks::load;
use crate::frame::piece_to_workpiece;
use crate::replay::{self, Replay};
use base::{Cancelled, Progress};
use workpiece::{Change, History, Sunk, Workpiece};

/// A column's top is noted anew once it has sunk this far, mm: no more is to be seen.
const SEEN: f32 = 0.05;

/// A carving of a setup.
#[derive(Clone, Debug)]
pub struct Watched {
    /// Its programs, in order.
    pub files: Vec<String>,
    /// Everything the tip does, in order.
    pub moments: Vec<Moment>,
    /// The workpiece before the first of them, as coarse as it is shown.
    pub stood: Workpiece,
    /// Columns of it that sank, in order; [`Sunk::moves`] is the index of the moment that lowered it.
    pub sunk: Vec<Sunk>,
    /// Pitch of the columns that the engagement was measured on, mm.
    pub pitch: f64,
}

/// A straight motion of the tip, or a wait.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Which of the programs.
    pub file: usize,
    /// Line in it, from 1.
    pub line: u32,
    /// Number of the cutter.
    pub cutter: u32,
    /// Where the tip begins, workpiece frame, mm.
    pub from: [f64; 3],
    /// Where it ends.
    pub to: [f64; 3],
    /// What it does.
    pub does: Does,
    /// When it ends, counted from the start of the first program, s.
    pub ends_s: f64,
    /// Width of the cut as a share of the cutter's diameter at the top of it, on the average of some millimetres; 0 in the air.
    pub engaged: f64,
}

/// What the tip does in a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Does {
    /// Moves at a feed.
    Feed,
    /// Moves as fast as the machine can.
    Rapid,
    /// Stands still as long as the program says.
    Wait,
}

/// The carving of a setup, after all that comes before it, shown with at most so many columns along a side; in words why
/// it can't be shown.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn watch(
    evidence: &Evidence,
    setup: &str,
    columns: usize,
    progress: &dyn Progress,
) -> Result<Result<Watched, String>, Cancelled> {
    let case = Case::read(evidence);
    let (mut found, mut workpiece) = (Replay::default(), None);
    for (step, change) in case.changes() {
        progress.go_on()?;
        let workpiece = match replay::changed(&mut workpiece, &case, &step.id, change) {
            Ok(workpiece) => workpiece,
            Err(why) => return Ok(Err(why)),
        };
        if matches!(change, Change::Carve { setup: of } if of == setup) {
            return carving(&case, setup, workpiece, columns, progress);
        }
        if let Err(why) = found.apply(&case, &step.id, change, workpiece, progress)? {
            return Ok(Err(why));
        }
    }
    Ok(Err(format!("no step carves setup {setup}")))
}

/// A part of the making.
#[derive(Clone, Copy, Debug)]
pub struct Sight<'a> {
    /// The step.
    pub step: &'a str,
    /// What it changes.
    pub change: &'a Change,
    /// How much of the change is done: above 0, 1 once all of it is.
    pub done: f64,
    /// The workpiece by then.
    pub workpiece: &'a Workpiece,
}

/// Carries the whole making out for looking at: after each change, and within carvings and pours that many times.
///
/// # Errors
/// [`Cancelled`] if the maker stops; in words why it can't be carried out.
pub fn making(
    evidence: &Evidence,
    [carvings, pours]: [usize; 2],
    progress: &dyn Progress,
    see: &mut dyn FnMut(Sight<'_>),
) -> Result<Result<(), String>, Cancelled> {
    let case = Case::read(evidence);
    let (mut found, mut workpiece) = (Replay::default(), None);
    // Casts with the levels of their pours so far.
    let mut levels: Vec<(u16, f64)> = Vec::new();
    for (step, change) in case.changes() {
        progress.go_on()?;
        let workpiece = match replay::changed(&mut workpiece, &case, &step.id, change) {
            Ok(workpiece) => workpiece,
            Err(why) => return Ok(Err(why)),
        };
        let mut show = |done: f64, workpiece: &Workpiece| see(Sight { step: &step.id, change, done, workpiece });
        match change {
            Change::Carve { setup } => {
                let watched = match carving(&case, setup, &mut workpiece.clone(), usize::MAX, progress)? {
                    Ok(watched) => watched,
                    Err(why) => return Ok(Err(why)),
                };
                let whole = watched.moments.last().map_or(0.0, |moment| moment.ends_s);
                let (mut standing, mut next) = (watched.stood, watched.sunk.iter().peekable());
                for part in 1..carvings {
                    let done = part as f64 / carvings as f64;
                    let until = |sunk: &&Sunk| watched.moments[sunk.moves as usize].ends_s <= done * whole;
                    while let Some(sunk) = next.next_if(until) {
                        standing.lower(sunk);
                    }
                    show(done, &standing);
                }
            }
            Change::Pour { cast, from, level, dam_offset, .. } => {
                let risen = levels.iter().rev().find(|(of, _)| of == cast).map(|(_, level)| *level);
                let lowest = risen.unwrap_or_else(|| lowest_level(&case, *cast, workpiece));
                levels.push((*cast, *level));
                for part in 1..pours {
                    let done = part as f64 / pours as f64;
                    let mut standing = workpiece.clone();
                    let level = lowest + (level - lowest) * done;
                    if replay::pour(&case, &mut standing, (*cast, from, level), *dam_offset).is_some() {
                        show(done, &standing);
                    }
                }
            }
            Change::Blank | Change::Flip => {}
        }
        if let Err(why) = found.apply(&case, &step.id, change, workpiece, progress)? {
            return Ok(Err(why));
        }
        see(Sight { step: &step.id, change, done: 1.0, workpiece });
    }
    Ok(Ok(()))
}

/// The bottom of a cast's hollow as it lies now (piece z, mm).
fn lowest_level(case: &Case<'_>, cast: u16, workpiece: &Workpiece) -> f64 {
    let frame = piece_to_workpiece(workpiece.face_up());
    let heights = case.evidence.casts.get(usize::from(cast)).and_then(|facts| case.model(&facts.hollow));
    let points = heights.iter().flat_map(|mesh| &mesh.vertices);
    // The lowest point as it lies now, told in the piece's frame.
    let lowest = points.min_by(|a, b| frame.transform_point3(**a).z.total_cmp(&frame.transform_point3(**b).z));
    lowest.map_or(0.0, |point| point.z)
}

fn carving(
    case: &Case<'_>,
    setup: &str,
    workpiece: &mut Workpiece,
    columns: usize,
    progress: &dyn Progress,
) -> Result<Result<Watched, String>, Cancelled> {
    let Some(of) = case.setup(setup) else { return Ok(Err(format!("there is no setup {setup}"))) };
    if !of.frame.is_sound(of.setup) || of.setup.face_up != workpiece.face_up() {
        return Ok(Err(format!("the frame of setup {setup} does not fit the workpiece")));
    }
    let (nx, ny) = workpiece.size();
    let factor = nx.max(ny).div_ceil(columns.max(1));
    let stood = workpiece.coarser(factor);
    let mut history = History::noting(workpiece, factor, SEEN);
    let cuts = match replay::cut(case, of, workpiece, &mut history, progress)? {
        Ok(cuts) => cuts,
        Err(why) => return Ok(Err(why)),
    };
    let mut engaged: Vec<Vec<f64>> = of.runs.iter().map(|run| vec![0.0; run.motions.len()]).collect();
    for window in load::windows(case, of, &cuts.cuts) {
        engaged[window.run][window.motions.clone()].fill(window.engaged());
    }
    let (mut moments, mut now) = (Vec::new(), 0.0);
    // Where each motion stands among the moments.
    let mut places: Vec<Vec<u32>> = Vec::new();
    for (file, run) in of.runs.iter().enumerate() {
        let seconds = run.seconds(&case.evidence.machine);
        let mut waits = run.waits.iter().peekable();
        let mut place = Vec::with_capacity(run.motions.len());
        for (k, motion) in run.motions.iter().enumerate() {
            let to = of.frame.workpiece(motion.to);
            let moment = Moment {
                file,
                line: motion.line,
                cutter: motion.cutter.unwrap_or(0),
                from: of.frame.workpiece(motion.from),
                to,
                does: if motion.feed.is_some() { Does::Feed } else { Does::Rapid },
                ends_s: 0.0,
                engaged: engaged[file][k],
            };
            while let Some(wait) = waits.next_if(|wait| wait.after <= k) {
                now += wait.seconds;
                let stands =
                    Moment { line: wait.line, to: moment.from, does: Does::Wait, ends_s: now, engaged: 0.0, ..moment };
                moments.extend(motion.is_known().then_some(stands));
            }
            place.push(moments.len() as u32);
            now += seconds[k];
            moments.extend(motion.is_known().then_some(Moment { ends_s: now, ..moment }));
        }
        now += waits.map(|wait| wait.seconds).sum::<f64>();
        places.push(place);
    }
    let mut sunk = history.sunk();
    for one in &mut sunk {
        // Chords of an arc are carried out some at a time: what sinks has sunk once the last of them is done.
        let (by, next) = (&cuts.moves[one.moves as usize - 1], cuts.moves.get(one.moves as usize));
        let motions = &of.runs[by.run].motions;
        let end = next.filter(|next| next.run == by.run).map_or(motions.len(), |next| next.motion);
        let last = (by.motion..end).rev().find(|k| motions[*k].is_known()).unwrap_or(by.motion);
        one.moves = places[by.run][last];
    }
    let files = of.runs.iter().map(|run| run.file.clone()).collect();
    Ok(Ok(Watched { files, moments, stood, sunk, pitch: case.evidence.promise.pitch }))
}
