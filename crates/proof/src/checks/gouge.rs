//! Gouge: the swept cutter below the true skin of what must remain or must not be touched, certified for every move.

use crate::bed::{Bed, Depth};
use crate::case::{Case, SetupCase, Stroke};
use crate::verdict::Check;
use base::{Cancelled, Progress};
use rayon::prelude::*;

/// Moves judged together; fixed, so that the result does not depend on the number of threads.
const CHUNK: usize = 512;
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
    let mut meshes = Vec::new();
    for name in std::iter::once(&of.setup.target).chain(&of.setup.keep) {
        match case.model(name).filter(|m| !m.triangles.is_empty()) {
            Some(mesh) => meshes.push(mesh),
            None => return Ok((Check::uncomputed(id, TITLE, format!("the model {name} is missing")), None)),
        }
    }
    let strokes = match case.strokes(of) {
        Ok(strokes) => strokes,
        Err(why) => return Ok((Check::uncomputed(id, TITLE, why), None)),
    };
    let bed = Bed::new(&meshes, &of.frame.piece_to_workpiece);
    let worst = deepest(&bed, of, &strokes, progress)?;
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

fn deepest(
    bed: &Bed,
    of: &SetupCase<'_>,
    strokes: &[Stroke],
    progress: &dyn Progress,
) -> Result<Option<(Depth, usize)>, Cancelled> {
    let chunks: Vec<Option<(Depth, usize)>> = strokes
        .par_chunks(CHUNK)
        .enumerate()
        .map(|(n, chunk)| {
            let mut worst: Option<(Depth, usize)> = None;
            for (k, stroke) in chunk.iter().enumerate() {
                if progress.cancelled() {
                    return None;
                }
                let slack = of.runs[stroke.run].motions[stroke.motion].slack;
                let known = worst.map_or(UNNOTICED, |w| w.0.mm);
                if let Some(found) = bed.depth(&stroke.swept, (known - slack).max(0.0)) {
                    worst = Some((Depth { mm: found.mm + slack, ..found }, n * CHUNK + k));
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
