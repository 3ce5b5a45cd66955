//! What an earlier proof still tells of evidence that was changed since.
//!
//! To certify sweeps against true triangles and to carry the route out take most of the time of a proof. A change of one
//! program leaves what was found for the other setups, and the workpiece up to it, as they are.

use crate::Evidence;
use crate::case::{Case, SetupCase, changes};
use crate::replay::Stage;
use crate::verdict::{Check, Proof};
use workpiece::{Change, Setup};

/// Evidence that was judged, its proof, and how the workpiece stood after each change.
#[derive(Clone, Debug)]
pub struct Judged {
    pub(crate) evidence: Evidence,
    pub(crate) proof: Proof,
    pub(crate) stages: Vec<Stage>,
}

impl Judged {
    /// What was judged.
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// What was found.
    pub fn proof(&self) -> &Proof {
        &self.proof
    }
}

/// Which findings hold again: those that rest on nothing that has changed.
pub(crate) struct Known<'a> {
    before: Option<&'a Judged>,
    /// Setup by setup, whether its sweeps and what they are held against are the same.
    same: Vec<bool>,
    /// So many changes of the workpiece are the same from the first on.
    changes: usize,
    /// Whether all of them are.
    same_course: bool,
}

impl<'a> Known<'a> {
    pub(crate) fn of(case: &Case<'_>, before: Option<&'a Judged>) -> Self {
        let now = case.evidence;
        let Some(judged) = before.filter(|b| same_solids(&b.evidence, now)) else {
            return Self { before: None, same: vec![false; now.setups.len()], changes: 0, same_course: false };
        };
        let then = &judged.evidence;
        let same_setup = |((a, b), of): ((&Setup, &Setup), &SetupCase<'_>)| {
            let solid = |e: &Evidence, n: u32| e.cutters.iter().find(|c| c.number == n).map(|c| c.solid.clone());
            // The same text moves the same cutters.
            same_sweeps((then, a), (now, b)) && of.cutters().into_iter().all(|n| solid(then, n) == solid(now, n))
        };
        let same: Vec<bool> = then.setups.iter().zip(&now.setups).zip(&case.setups).map(same_setup).collect();
        let bare = |(step, change): (&workpiece::Step, &Change)| (step.id.clone(), change.clone());
        let course = |e| changes(e).map(bare).collect::<Vec<_>>();
        let (past, present) = (course(then), course(now));
        // The course of a route rests on more than the sweeps: on the wood, and on where each setup is held and touched.
        let on_same_ground = |change: &Change| match change {
            Change::Carve { setup } => then.setups.iter().zip(&now.setups).zip(&same).any(|((a, b), same)| {
                let spot = |s: &Setup| (s.reference_spot.at, s.holding.joint_z, s.face_up);
                a.id == *setup && *same && spot(a) == spot(b)
            }),
            _ => true,
        };
        let alike = past.iter().zip(&present).take_while(|(a, b)| a == b && on_same_ground(&a.1)).count();
        let same_wood = then.blank == now.blank
            && then.machine.holder == now.machine.holder
            && then.machine.clears_chips() == now.machine.clears_chips();
        Self { before, same, changes: if same_wood { alike } else { 0 }, same_course: past == present }
    }

    /// A check that rests on the setup `k` alone.
    pub(crate) fn of_setup(&self, id: &str, k: usize) -> Option<Check> {
        self.check(id).filter(|_| self.same[k])
    }

    /// A check that rests on the setups up to `k`.
    pub(crate) fn up_to(&self, id: &str, k: usize) -> Option<Check> {
        self.check(id).filter(|_| self.same[..=k].iter().all(|same| *same))
    }

    /// A check that rests on all setups and on the course of the steps.
    pub(crate) fn of_all(&self, id: &str) -> Option<Check> {
        self.check(id).filter(|_| self.same_course && self.same.iter().all(|same| *same))
    }

    /// The last stage of the route that its changes leave as it was.
    pub(crate) fn stage(&self) -> Option<&'a Stage> {
        self.before?.stages.get(self.changes.checked_sub(1)?)
    }

    /// What could not be computed is tried again.
    fn check(&self, id: &str) -> Option<Check> {
        self.before?.proof.checks.iter().find(|c| c.id == id && c.value.is_finite()).cloned()
    }
}

/// Everything beside the setups and the wood that gouge, leftover, walls and the replay rest on.
fn same_solids(a: &Evidence, b: &Evidence) -> bool {
    let hollows =
        |e: &Evidence| e.casts.iter().map(|c| (c.name.clone(), c.hollow.clone(), c.translucent)).collect::<Vec<_>>();
    a.promise == b.promise
        && a.piece == b.piece
        && a.setups.len() == b.setups.len()
        && hollows(a) == hollows(b)
        && a.models == b.models
}

/// Whether the moves of two setups, and what they are held against, are the same; how the work is held counts for nothing
/// here.
fn same_sweeps((before, a): (&Evidence, &Setup), (now, b): (&Evidence, &Setup)) -> bool {
    let solids = |s: &Setup| (s.id.clone(), s.program_to_piece, s.stock, s.target.clone(), s.keep.clone());
    let sheets = |s: &Setup| s.programs.iter().map(|p| (p.file.clone(), p.cutters.clone())).collect::<Vec<_>>();
    let same_texts = || a.programs.iter().all(|p| before.programs.get(&p.file) == now.programs.get(&p.file));
    solids(a) == solids(b)
        && (a.finishes_skin, a.only_roughs) == (b.finishes_skin, b.only_roughs)
        && sheets(a) == sheets(b)
        && same_texts()
}
