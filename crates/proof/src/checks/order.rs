//! Order of the steps: what each needs exists and comes before; by hand and by trade nothing is skipped.

use crate::case::Case;
use crate::verdict::{Check, Where};
use workpiece::{Change, Step, StepKind};

/// Judges the order; the figure is the number of faults.
pub(crate) fn judge(case: &Case<'_>) -> Check {
    let steps = &case.evidence.steps;
    if steps.is_empty() {
        return Check::uncomputed("order", "Order of the steps", "there are no steps");
    }
    let mut faults = needs(steps);
    faults.extend(kinds(steps));
    faults.extend(glued(case, steps));
    faults.extend(casts(case, steps));
    faults.extend(faces(case, steps));
    let check = Check::at_most("order", "Faults in the order of the steps", faults.len() as f64, 0.0, "1");
    match faults.into_iter().next() {
        Some((step, why)) => check.at(Where { setup: step.setup.clone(), ..Where::default() }).remedy(why),
        None => check,
    }
}

type Fault<'s> = (&'s Step, String);

fn needs(steps: &[Step]) -> Vec<Fault<'_>> {
    let mut faults = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        if steps[..i].iter().any(|s| s.id == step.id) {
            faults.push((step, format!("Two steps are called {}.", step.id)));
        }
        for need in step.needs.iter().filter(|n| !steps[..i].iter().any(|s| s.id == **n)) {
            faults.push((step, format!("Step {} needs {need}, which does not come before it.", step.id)));
        }
    }
    faults
}

/// Kinds that must have gone before for the same setup or cast. A hold lasts until the workpiece is turned or let go.
fn kinds(steps: &[Step]) -> Vec<Fault<'_>> {
    let mut faults = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        for kind in step.kind.requires() {
            let same = |s: &&Step| s.kind == *kind && s.setup == step.setup && s.cast == step.cast;
            let done = steps[..i].iter().any(|s| same(&s)) || (*kind == StepKind::Hold && still_held(&steps[..i]));
            if !done {
                faults.push((step, format!("Step {} comes without a step of kind {kind:?} before it.", step.id)));
            }
        }
    }
    faults
}

fn still_held(before: &[Step]) -> bool {
    let last = |wanted: &dyn Fn(&Step) -> bool| before.iter().rposition(wanted);
    let held = last(&|s| s.kind == StepKind::Hold);
    let freed = last(&|s| matches!(s.kind, StepKind::Flip | StepKind::Release));
    held.is_some() && held > freed
}

/// The blank comes into being once, and one of several boards not before they are glued.
fn glued<'s>(case: &Case<'_>, steps: &'s [Step]) -> Vec<Fault<'s>> {
    let Some(made) = steps.iter().position(|s| s.change == Some(Change::Blank)) else {
        return steps.first().map(|s| (s, "No step makes the blank.".to_owned())).into_iter().collect();
    };
    let mut faults = Vec::new();
    let boards = case.evidence.blank.boards.len();
    if boards > 1 && !steps[..made].iter().any(|s| s.kind == StepKind::Glue) {
        let why = format!("The blank is made of {boards} boards, and no step before {} glues them.", steps[made].id);
        faults.push((&steps[made], why));
    }
    for again in steps[made + 1..].iter().filter(|s| s.change == Some(Change::Blank)) {
        faults.push((again, format!("Step {} makes the blank a second time.", again.id)));
    }
    faults
}

/// Each cast: hollow carved, sealed, dammed, poured, cured, and only then cut again.
fn casts<'s>(case: &Case<'_>, steps: &'s [Step]) -> Vec<Fault<'s>> {
    let mut faults = Vec::new();
    for (index, facts) in case.evidence.casts.iter().enumerate() {
        let pours = |s: &Step| matches!(&s.change, Some(Change::Pour { cast, .. }) if usize::from(*cast) == index);
        let carves = |s: &Step| matches!(s.change, Some(Change::Carve { .. }));
        let (Some(first), Some(last)) = (steps.iter().position(pours), steps.iter().rposition(pours)) else {
            if let Some(step) = steps.first() {
                faults.push((step, format!("Cast {} is never poured.", facts.name)));
            }
            continue;
        };
        if !steps[..first].iter().any(carves) {
            faults.push((&steps[first], format!("Cast {} is poured before anything is carved.", facts.name)));
        }
        let next = steps[last..].iter().position(carves).map_or(steps.len(), |n| last + n);
        let cured =
            steps[last..next].iter().any(|s| s.kind == StepKind::Cure && s.cast.as_deref() == Some(&facts.name));
        if !cured {
            faults.push((&steps[last], format!("Cast {} is cut before it has cured.", facts.name)));
        }
    }
    faults
}

/// Between setups with different faces up the workpiece is turned over an odd number of times, after its release.
fn faces<'s>(case: &Case<'_>, steps: &'s [Step]) -> Vec<Fault<'s>> {
    let mut faults = Vec::new();
    let mut last: Option<(workpiece::Face, String)> = None;
    let mut flips = 0;
    for step in steps {
        match &step.change {
            Some(Change::Flip) => flips += 1,
            Some(Change::Carve { setup }) => {
                let Some(of) = case.setup(setup) else {
                    faults.push((step, format!("Step {} carves setup {setup}, which does not exist.", step.id)));
                    continue;
                };
                let face = of.setup.face_up;
                if let Some((before, name)) = &last
                    && (*before != face) != (flips % 2 == 1)
                {
                    let why = format!("Between {name} and {setup} the workpiece is not turned as their faces want.");
                    faults.push((step, why));
                }
                (last, flips) = (Some((face, setup.clone())), 0);
            }
            _ => {}
        }
    }
    let carved = |id: &str| steps.iter().any(|s| matches!(&s.change, Some(Change::Carve { setup }) if setup == id));
    for of in case.setups.iter().filter(|s| !carved(&s.setup.id)) {
        if let Some(step) = steps.last() {
            faults.push((step, format!("Setup {} is never carved.", of.setup.id)));
        }
    }
    faults
}
