//! The evidence, read: programs run, frames made, cutters found.

use crate::bed::Bed;
use crate::envelope::{Envelope, Swept};
use crate::frame::{Frame, piece_to_workpiece};
use crate::motion::{Motion, Run, first_cutter};
use crate::{Evidence, Where};
use geom::Mesh;
use glam::DVec3;
use rayon::prelude::*;
use std::sync::OnceLock;
use trade::shelf::Cutter;
use workpiece::{Change, Face, Setup, Step};

/// The evidence with its programs run.
pub(crate) struct Case<'a> {
    pub(crate) evidence: &'a Evidence,
    pub(crate) setups: Vec<SetupCase<'a>>,
    /// The piece, rim up and foot up, made when it is first asked for.
    piece: [OnceLock<Option<Bed>>; 2],
}

/// One setup with its programs run.
pub(crate) struct SetupCase<'a> {
    pub(crate) setup: &'a Setup,
    pub(crate) frame: Frame,
    pub(crate) runs: Vec<Run>,
    pub(crate) look: Run,
    /// Made when they are first asked for; several checks do.
    strokes: OnceLock<Result<Vec<Stroke>, String>>,
    bed: OnceLock<Bed>,
}

/// A motion as a swept cutter in the workpiece's frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stroke {
    pub(crate) swept: Swept,
    /// Index of the run and of the motion in it.
    pub(crate) run: usize,
    pub(crate) motion: usize,
}

impl AsRef<Swept> for Stroke {
    fn as_ref(&self) -> &Swept {
        &self.swept
    }
}

/// The steps that change the workpiece, in order.
pub(crate) fn changes(evidence: &Evidence) -> impl Iterator<Item = (&Step, &Change)> {
    evidence.steps.iter().filter_map(|step| Some((step, step.change.as_ref()?)))
}

impl<'a> Case<'a> {
    pub(crate) fn read(evidence: &'a Evidence) -> Self {
        let read = |setup: &'a Setup| SetupCase {
            setup,
            frame: Frame::of(setup),
            runs: setup
                .programs
                .par_iter()
                .map(|p| Run::read(evidence, &p.file, first_cutter(setup, &p.file)))
                .collect(),
            look: Run::read(evidence, &setup.look_first, first_cutter(setup, &setup.look_first)),
            strokes: OnceLock::new(),
            bed: OnceLock::new(),
        };
        Self { evidence, setups: evidence.setups.par_iter().map(read).collect(), piece: Default::default() }
    }

    /// The steps that change the workpiece, in order.
    pub(crate) fn changes(&self) -> impl Iterator<Item = (&'a Step, &'a Change)> {
        changes(self.evidence)
    }

    pub(crate) fn cutter(&self, number: Option<u32>) -> Option<&'a Cutter> {
        self.evidence.cutters.iter().find(|c| Some(c.number) == number)
    }

    pub(crate) fn model(&self, name: &str) -> Option<&'a Mesh> {
        self.evidence.models.get(name)
    }

    /// The piece as it lies with this face up; `None` without a model of it.
    pub(crate) fn piece(&self, face_up: Face) -> Option<&Bed> {
        let made = || Some(Bed::new(&[self.model(&self.evidence.piece.model)?], &piece_to_workpiece(face_up)));
        self.piece[usize::from(face_up == Face::Foot)].get_or_init(made).as_ref()
    }

    /// What must remain in a setup and what must not be touched, as far as there are models of it.
    pub(crate) fn bed<'s>(&self, of: &'s SetupCase<'a>) -> &'s Bed {
        of.bed.get_or_init(|| {
            let meshes: Vec<&Mesh> = of.kept().filter_map(|name| self.model(name)).collect();
            Bed::new(&meshes, &of.frame.piece_to_workpiece)
        })
    }

    /// The known motions of a setup as swept cutters, or why they cannot be had.
    pub(crate) fn strokes<'s>(&self, of: &'s SetupCase<'a>) -> Result<&'s [Stroke], String> {
        of.strokes.get_or_init(|| self.sweep(of)).as_deref().map_err(Clone::clone)
    }

    fn sweep(&self, of: &SetupCase<'a>) -> Result<Vec<Stroke>, String> {
        if !of.frame.is_sound(of.setup) {
            return Err("the setup's frame is not a rotation about the spindle".into());
        }
        let mut out = Vec::new();
        for (r, run) in of.runs.iter().enumerate() {
            if let Some((line, why)) = &run.error {
                return Err(format!("{}, line {line}: {why}", run.file));
            }
            for (m, motion) in run.motions.iter().enumerate().filter(|(_, m)| m.is_known()) {
                let Some(cutter) = self.cutter(motion.cutter) else {
                    return Err(format!("{}, line {}: the cutter is not among those named", run.file, motion.line));
                };
                let point = |p| DVec3::from_array(of.frame.workpiece(p));
                let envelope = Envelope::of(&cutter.solid);
                let swept = Swept::new(envelope, point(motion.from), point(motion.to));
                out.push(Stroke { swept, run: r, motion: m });
            }
        }
        Ok(out)
    }

    /// The setup of that name.
    pub(crate) fn setup(&self, id: &str) -> Option<&SetupCase<'a>> {
        self.setups.iter().find(|s| s.setup.id == id)
    }

    /// Names of the setups carved before the first pour of a cast, in order.
    pub(crate) fn carved_before(&self, cast: u16) -> Vec<&SetupCase<'a>> {
        let mut out = Vec::new();
        for (_, change) in self.changes() {
            match change {
                Change::Pour { cast: c, .. } if *c == cast => return out,
                Change::Carve { setup } => out.extend(self.setup(setup)),
                Change::Flip => out.clear(),
                _ => {}
            }
        }
        Vec::new()
    }
}

impl SetupCase<'_> {
    pub(crate) fn id(&self, check: &str) -> String {
        format!("{check}.{}", self.setup.id)
    }

    /// Names of the models of what must remain and of what must not be touched.
    pub(crate) fn kept(&self) -> impl Iterator<Item = &String> {
        std::iter::once(&self.setup.target).chain(&self.setup.keep)
    }

    /// The first of them of which there is no model, or an empty one.
    pub(crate) fn unknown<'s>(&'s self, case: &Case<'_>) -> Option<&'s String> {
        self.kept().find(|name| case.model(name).is_none_or(|m| m.triangles.is_empty()))
    }

    /// All motions with their run.
    pub(crate) fn motions(&self) -> impl Iterator<Item = (&Run, &Motion)> {
        self.runs.iter().flat_map(|run| run.motions.iter().map(move |m| (run, m)))
    }

    /// A place in a program, and on the piece if the point (program frame) is known.
    pub(crate) fn place(&self, run: &Run, motion: &Motion) -> Where {
        let at = motion.to.iter().all(|v| v.is_finite()).then(|| self.on_piece(motion.to));
        Where { setup: Some(self.setup.id.clone()), program: Some(run.file.clone()), line: Some(motion.line), at }
    }

    /// The place of a move, or the setup where there is none.
    pub(crate) fn place_of(&self, at: Option<(&Run, &Motion)>) -> Where {
        at.map_or_else(|| self.here(), |(run, motion)| self.place(run, motion))
    }

    /// A point of the program's frame on the piece.
    pub(crate) fn on_piece(&self, at: [f64; 3]) -> [f64; 3] {
        self.frame.program_to_piece.transform_point3(DVec3::from_array(at)).to_array()
    }

    /// The setup as a place.
    pub(crate) fn here(&self) -> Where {
        Where { setup: Some(self.setup.id.clone()), ..Where::default() }
    }

    /// Height of the workpiece's frame above the program's.
    pub(crate) fn lift(&self) -> f64 {
        self.frame.program_to_workpiece.translation.z
    }

    /// Numbers of the cutters that move in it, ascending.
    pub(crate) fn cutters(&self) -> Vec<u32> {
        let mut numbers: Vec<u32> = self.motions().filter_map(|(_, m)| m.cutter).collect();
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }
}
