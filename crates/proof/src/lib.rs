//! The proof: checks made from the written programs and the workpiece alone.
//!
//! It never asks the planner; the geometry that judges gouge, leftover, walls and cover is its own, and so is the reader of the
//! texts. What is judged is what the machine will run.
//!
//! The order of work: every program is read and run ([`rs274::interpret`]), the route is carried out again on columns,
//! the sweeps are certified against the true triangles, and each subject is judged in a file of its own under `checks`.

mod bed;
mod before;
mod case;
pub mod checks;
mod envelope;
pub mod evidence;
pub mod finish;
mod frame;
mod gap;
pub mod map;
mod motion;
mod replay;
mod skin;
mod tree;
pub mod verdict;
pub mod watch;
pub mod what_if;

pub use before::Judged;
pub use evidence::{CastFacts, Evidence, MarkFacts, PieceFacts, Promise};
pub use map::Map;
pub use verdict::{Check, Proof, Snapshot, State, Where};

use base::{Cancelled, Progress};
use before::Known;
use case::Case;
use checks::{
    abrasive, burning, chips, contact, cover, flip, frames, gouge, leftover, load, loose, order, pour, programs, room,
    stands, stock, touch_off, wall,
};
use replay::Stage;

/// Judges the evidence.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn prove(evidence: &Evidence, progress: &dyn Progress) -> Result<Proof, Cancelled> {
    judge(evidence, None, None, progress)
}

/// The same, kept so that evidence which differs from this little is judged sooner.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn prove_keeping(evidence: Evidence, progress: &dyn Progress) -> Result<Judged, Cancelled> {
    let mut stages = Vec::new();
    let proof = judge(&evidence, None, Some(&mut stages), progress)?;
    Ok(Judged { evidence, proof, stages })
}

/// The same as [`prove`], sooner where much of the evidence was judged before: what was found then and rests on nothing
/// that has changed since is taken from there.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn prove_again(evidence: &Evidence, before: &Judged, progress: &dyn Progress) -> Result<Proof, Cancelled> {
    judge(evidence, Some(before), None, progress)
}

fn judge(
    evidence: &Evidence,
    before: Option<&Judged>,
    stages: Option<&mut Vec<Stage>>,
    progress: &dyn Progress,
) -> Result<Proof, Cancelled> {
    let case = Case::read(evidence);
    let known = Known::of(&case, before);
    // Neither needs the other: one goes by columns, the other by true triangles.
    let (replay, skins) = rayon::join(
        || replay::replay(&case, known.stage(), stages, progress),
        || Skins::judge(&case, &known, progress),
    );
    let (replay, skins) = (replay?, skins?);
    let targets = known.of_all("targets").unwrap_or_else(|| frames::judge_targets(&case));
    let mut checks = vec![order::judge(&case), frames::judge_models(&case), targets];
    for (of, skin) in case.setups.iter().zip(skins.setups) {
        checks.push(frames::judge(of));
        checks.extend(programs::judge(&case, of));
        checks.push(stock::judge(of, &replay));
        checks.extend(skin);
        checks.extend(contact::judge(&case, of, &replay));
        checks.extend(load::judge(&case, of, &replay));
        checks.extend(burning::judge(&case, of, &replay));
        checks.extend(chips::judge(&case, of, &replay));
        checks.push(loose::judge(of, &replay));
        checks.extend(room::judge(&case, of));
        checks.push(touch_off::judge(&case, of, &replay));
    }
    for (cast, hollow) in (0..).zip(skins.hollows) {
        checks.push(hollow);
        checks.extend(pour::judge(&case, cast, &replay));
        checks.extend(cover::judge(&case, cast, &replay));
    }
    checks.extend(skins.walls);
    checks.extend(abrasive::judge(&case, &checks));
    checks.push(stands::judge(&case));
    checks.push(wall::judge_whole(&case, &replay));
    checks.push(wall::judge_volume(&case, &replay));
    progress.go_on()?;
    Ok(Proof { checks, snapshots: replay.snapshots, made_ml: replay.made_ml })
}

/// What the sweeps of the programs say of the true triangles, without any columns.
struct Skins {
    /// Gouge and leftover of each setup.
    setups: Vec<Vec<Check>>,
    /// Leftover in the hollow of each cast.
    hollows: Vec<Check>,
    walls: Vec<Check>,
}

impl Skins {
    fn judge(case: &Case<'_>, known: &Known<'_>, progress: &dyn Progress) -> Result<Self, Cancelled> {
        let mut setups = Vec::new();
        // Greatest depths in the setups that finish the skin; `None` if one is unknown.
        let mut gouges: Option<Vec<f64>> = Some(Vec::new());
        for (done, of) in case.setups.iter().enumerate() {
            progress.tell("prove: judge the setups", done as f64 / case.setups.len() as f64);
            let (check, depth) = match known.of_setup(&of.id("gouge"), done) {
                Some(check) => (check.clone(), Some(check.value)),
                None => gouge::judge(case, of, progress)?,
            };
            if of.setup.finishes_skin {
                gouges = gouges.zip(depth).map(|(mut all, depth)| {
                    all.push(depth);
                    all
                });
            }
            let mut checks = vec![check];
            checks.extend(match known.of_setup(&of.id("leftover"), done) {
                Some(check) => Some(check),
                None => leftover::judge(case, of, progress)?,
            });
            checks.push(match known.up_to(&of.id("features"), done) {
                Some(check) => check,
                None => leftover::judge_features(case, of, progress)?,
            });
            setups.push(checks);
        }
        let casts = 0..case.evidence.casts.len() as u16;
        let hollow = |cast: u16| {
            let name = &case.evidence.casts[usize::from(cast)].name;
            match known.of_all(&format!("hollow.{name}")) {
                Some(check) => Ok(check),
                None => leftover::judge_hollow(case, cast, progress),
            }
        };
        let hollows = casts.map(hollow).collect::<Result<_, _>>()?;
        progress.tell("prove: walls", 0.0);
        let gouges = gouges.as_deref().filter(|g| !g.is_empty());
        let losses = flip::losses(case);
        let inside = wall::Inside::of(case);
        let thin = inside.as_ref().map(|inside| inside.least(&losses));
        let [drawn_map, worst_map, _] = inside.as_ref().map(|inside| inside.maps(&losses)).unwrap_or_default();
        let [drawn, worst, likely] = [0, 1, 2].map(|k| thin.as_ref().map(|thin| &thin[k]));
        let mut walls = wall::judge(case, gouges, drawn, &drawn_map);
        walls.extend(flip::judge(case, gouges, worst.zip(likely).map(|(a, b)| [a, b]), &worst_map));
        walls.extend(flip::judge_casts(case));
        Ok(Self { setups, hollows, walls })
    }
}
