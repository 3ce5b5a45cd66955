//! Gouge: the swept cutter below the true skin of what must remain or must not be touched, certified for every move.

use crate::bed::{Bed, Deepest, Depth};
use crate::case::{Case, SetupCase, Stroke};
use crate::envelope::Swept;
use crate::tree::{Facet, Seek};
use crate::verdict::Check;
use base::{Cancelled, Progress};
use glam::DVec2;
use rayon::prelude::*;

/// Moves judged together; fixed, so that the result does not depend on the number of threads.
const CHUNK: usize = 512;
/// Strokes are looked at together as long as they spread no farther than this, mm, and there are at least so many.
const TOGETHER: f64 = 6.0;
const WORTH: usize = 4;
/// Every so many-th is looked at first.
const FEW: usize = 61;
/// Depths below this are not told apart from none, mm.
const UNNOTICED: f64 = 0.0005;
const TITLE: &str = "Cutter below the true surface";

/// Judges one setup; also gives the greatest depth found, mm, if it could be computed.
pub(crate) fn judge(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    progress: &dyn Progress,
) -> Result<(Check, Option<f64>), Cancelled> {
    let id = of.id("gouge");
    progress.tell(&format!("prove: gouges of {}", of.setup.id), 0.0);
    let promise = &case.evidence.promise;
    if let Some(name) = of.unknown(case) {
        return Ok((Check::uncomputed(id, TITLE, format!("the model {name} is missing")), None));
    }
    let strokes = match case.strokes(of) {
        Ok(strokes) => strokes,
        Err(why) => return Ok((Check::uncomputed(id, TITLE, why), None)),
    };
    let worst = deepest(case.bed(of), of, strokes, progress)?;
    let value = worst.map_or(UNNOTICED, |w| w.0.mm);
    let place = worst.map(|(depth, i)| {
        let (run, motion) = (&of.runs[strokes[i].run], strokes[i].motion);
        let mut place = of.place(run, &run.motions[motion]);
        place.at = Some(of.frame.piece(depth.at));
        place
    });
    let check = Check::at_most(id, TITLE, value, promise.gouge + promise.chord, "mm")
        .maybe_at(place)
        .remedy("Lift the path at this line, or plan the setup again: the program cuts into what must remain.");
    Ok((check, Some(value)))
}

/// Greatest depth of all strokes. A few taken all over come first: what they show lets most others be passed over.
fn deepest(
    bed: &Bed,
    of: &SetupCase<'_>,
    strokes: &[Stroke],
    progress: &dyn Progress,
) -> Result<Option<(Depth, usize)>, Cancelled> {
    let few: Vec<usize> = (0..strokes.len()).step_by(FEW).collect();
    let first = deepest_of(bed, of, strokes, (&few, UNNOTICED), progress)?;
    let all: Vec<usize> = (0..strokes.len()).collect();
    let deeper = deepest_of(bed, of, strokes, (&all, first.map_or(UNNOTICED, |f| f.0.mm)), progress)?;
    Ok(deeper.or(first))
}

/// Greatest depth above `known` among some of the strokes.
fn deepest_of(
    bed: &Bed,
    of: &SetupCase<'_>,
    strokes: &[Stroke],
    (which, known): (&[usize], f64),
    progress: &dyn Progress,
) -> Result<Option<(Depth, usize)>, Cancelled> {
    let chunks: Vec<Option<(Depth, usize)>> = which
        .par_chunks(CHUNK)
        .map(|chunk| {
            let mut worst: Option<(Depth, usize)> = None;
            for group in groups(strokes, chunk) {
                if progress.cancelled() {
                    return None;
                }
                let near = Near::of(bed, strokes, group);
                for &i in group {
                    let slack = of.runs[strokes[i].run].motions[strokes[i].motion].slack;
                    let known = worst.map_or(known, |w| w.0.mm);
                    if let Some(found) = near.depth(&strokes[i].swept, (known - slack).max(0.0)) {
                        worst = Some((Depth { mm: found.mm + slack, ..found }, i));
                    }
                }
            }
            worst
        })
        .collect();
    progress.go_on()?;
    Ok(chunks.into_iter().flatten().fold(None, |best: Option<(Depth, usize)>, it| match best {
        Some(b) if b.0.mm >= it.0.mm => Some(b),
        _ => Some(it),
    }))
}

/// Stretches of strokes that stay close together, so that what lies near them is looked up once.
fn groups<'c>(strokes: &[Stroke], chunk: &'c [usize]) -> Vec<&'c [usize]> {
    let mut out = Vec::new();
    let mut rest = chunk;
    while let Some(&first) = rest.first() {
        let mut all = strokes[first].swept.plan();
        let room = 2.0 * strokes[first].swept.envelope.reach() + TOGETHER;
        let close = |&&i: &&usize| {
            let (min, max) = strokes[i].swept.plan();
            all = (all.0.min(min), all.1.max(max));
            (all.1 - all.0).max_element() <= room
        };
        let count = rest[1..].iter().take_while(close).count() + 1;
        out.push(&rest[..count]);
        rest = &rest[count..];
    }
    out
}

/// What the strokes of a group may touch.
enum Near<'a> {
    All(&'a Bed),
    Some(Vec<Facet>),
}

impl<'a> Near<'a> {
    fn of(bed: &'a Bed, strokes: &[Stroke], group: &[usize]) -> Self {
        if group.len() < WORTH {
            return Self::All(bed);
        }
        let sweeps = || group.iter().map(|&i| &strokes[i].swept);
        let floor = sweeps().map(Swept::lowest).fold(f64::INFINITY, f64::min);
        let boxes = sweeps().map(Swept::plan);
        let all = boxes.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |all, b| (all.0.min(b.0), all.1.max(b.1)));
        Self::Some(bed.near(all, floor))
    }

    fn depth(&self, swept: &Swept, interest: f64) -> Option<Depth> {
        match self {
            Self::All(bed) => bed.depth(swept, interest),
            Self::Some(facets) => {
                let mut deepest = Deepest::new(swept, interest);
                facets.iter().for_each(|f| deepest.look(f));
                deepest.worst
            }
        }
    }
}
