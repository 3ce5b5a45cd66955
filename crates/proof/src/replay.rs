//! The whole route carried out again on a workpiece of columns, from the written programs.

use crate::bed::{Lattice, heights};
use crate::case::{Case, SetupCase};
use crate::frame::piece_to_workpiece;
use crate::motion::{CHORD, Motion};
use crate::{Snapshot, Where};
use base::{Cancelled, Progress};
use geom::{Mesh, Region, Ring};
use glam::{DAffine3, DVec3};
use rayon::prelude::*;
use std::ops::Range;
use workpiece::cut::Clearances;
use workpiece::{Change, History, Hollows, Material, MoveCut, Parted, PourReport, Sweep, Workpiece};

/// Pitch of snapshots and of the first search for loose bodies, mm.
const COARSE: f64 = 0.45;
/// A body rests on its joint if it comes down to it within this, mm: more than any tape stack or glue film.
const JOINT_SLACK: f64 = 0.6;
/// Chords of an arc joined for the columns: n together lie n² times as far from it as one, 0.009 mm at most.
const JOINED: usize = 3;
/// Clearance around neck and shank, and around nut and holder, mm (common practice, no source); around the neck as much
/// more as [`JOINED`] chords lie off their arc.
pub(crate) const CLEARANCES: Clearances = Clearances { shank: 0.2 + (JOINED * JOINED) as f64 * CHORD, holder: 2.0 };
/// Pitch at which the volumes of the made piece are summed, and the flushness of a face looked at, mm.
const FINE: f64 = 0.2;
const FACE: f64 = 0.3;
/// Tops of the target within this lie in one plane, mm.
const SAME_PLANE: f64 = 1e-3;
/// Chords of the dam's round corners, mm.
const DAM_CHORD: f64 = 0.05;

/// What the replay found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Replay {
    pub(crate) snapshots: Vec<Snapshot>,
    pub(crate) carves: Vec<Carve>,
    pub(crate) pours: Vec<Poured>,
    pub(crate) after_levelling: Vec<(u16, Flush)>,
    pub(crate) made_ml: Vec<f64>,
    /// Pitch of the columns, mm.
    pub(crate) pitch: f64,
    /// Where the made piece falls short of the drawn one the most.
    pub(crate) short: Option<Short>,
    /// Why it could not be carried through.
    pub(crate) fault: Option<String>,
}

/// One carving of a setup.
#[derive(Clone, Debug)]
pub(crate) struct Carve {
    pub(crate) setup: String,
    /// Per run, per motion.
    pub(crate) cuts: Vec<Vec<MoveCut>>,
    /// Of the bodies that came loose the one farthest above its limit.
    pub(crate) loose: Option<Loose>,
    /// Distance of the columns on which bodies were told apart, mm.
    pub(crate) resolution: f64,
    /// Diameter of the finest cutter that moved, mm.
    pub(crate) least_diameter: f64,
    /// Least and greatest corner of the workpiece before it, program frame; `None` if nothing was left of it.
    pub(crate) stood: Option<[[f64; 3]; 2]>,
    /// Height of the solid at the touch-off spot before and after, workpiece frame.
    pub(crate) spot: [Option<f64>; 2],
    /// The closed hollows that it leaves, with what room was in them before; where chips stay in them.
    pub(crate) hollows: Option<Hollows>,
}

/// A body that is not held.
#[derive(Clone, Debug)]
pub(crate) struct Loose {
    pub(crate) extent: f64,
    pub(crate) volume_mm3: f64,
    pub(crate) limit: f64,
    pub(crate) place: Where,
}

/// A place where material is missing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Short {
    /// So far the made piece lies below the drawn skin, mm.
    pub(crate) by: f64,
    /// Piece frame.
    pub(crate) at: [f64; 3],
}

/// One pour.
#[derive(Clone, Debug)]
pub(crate) struct Poured {
    pub(crate) cast: u16,
    /// Its places on the piece.
    pub(crate) report: PourReport,
    pub(crate) dam_offset: f64,
    pub(crate) dam_height: f64,
    /// Whether the workpiece was turned over since.
    pub(crate) turned: bool,
}

/// Heights of wood and resin over the plan of the piece.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flush {
    pub(crate) least: f64,
    pub(crate) greatest: f64,
    pub(crate) at: [f64; 3],
    pub(crate) resin_columns: usize,
}

impl Flush {
    /// Difference of the heights.
    pub(crate) fn step(&self) -> f64 {
        self.greatest - self.least
    }
}

/// How far a route was carried out, and on what: another one with the same beginning goes on from here.
#[derive(Clone, Debug)]
pub(crate) struct Stage {
    /// So many changes were made.
    done: usize,
    found: Replay,
    workpiece: Workpiece,
}

/// The workpiece that a change is made to: the blank itself where the route begins, else the one made so far; in words why there
/// is none.
pub(crate) fn changed<'w>(
    workpiece: &'w mut Option<Workpiece>,
    case: &Case<'_>,
    step: &str,
    change: &Change,
) -> Result<&'w mut Workpiece, String> {
    if *change == Change::Blank {
        *workpiece = Some(Workpiece::new(&case.evidence.blank, case.evidence.promise.pitch));
    }
    workpiece.as_mut().ok_or_else(|| format!("step {step} changes a workpiece that does not exist yet"))
}

/// Carries the steps out in order, from where an earlier replay of the same beginning had got to if one is given; notes
/// what came of each change if that is wanted.
pub(crate) fn replay(
    case: &Case<'_>,
    from: Option<&Stage>,
    mut stages: Option<&mut Vec<Stage>>,
    progress: &dyn Progress,
) -> Result<Replay, Cancelled> {
    let known = from.map_or(0, |stage| stage.done);
    let (mut out, mut workpiece) = match from.cloned() {
        Some(stage) => (stage.found, Some(stage.workpiece)),
        None => (Replay { pitch: case.evidence.promise.pitch, ..Replay::default() }, None),
    };
    let changes = case.changes().count().max(1);
    for (done, (step, change)) in case.changes().enumerate().skip(known) {
        progress.go_on()?;
        progress.tell("prove: carry the route out", done as f64 / changes as f64);
        let workpiece = match changed(&mut workpiece, case, &step.id, change) {
            Ok(workpiece) => workpiece,
            Err(fault) => {
                out.fault = Some(fault);
                return Ok(out);
            }
        };
        if let Err(fault) = out.apply(case, &step.id, change, workpiece, progress)? {
            out.fault = Some(fault);
            return Ok(out);
        }
        let coarse = workpiece.coarser(coarse_factor(workpiece));
        out.snapshots.push(Snapshot { step: step.id.clone(), workpiece: coarse });
        if let Some(stages) = stages.as_mut() {
            stages.push(Stage { done: done + 1, found: out.clone(), workpiece: workpiece.clone() });
        }
    }
    match workpiece {
        Some(mut w) => {
            out.made_ml = made(case, &w);
            out.short = short(case, &w);
            w.flip();
            let below = short(case, &w);
            out.short = out.short.into_iter().chain(below).max_by(|a, b| a.by.total_cmp(&b.by));
        }
        None => out.fault = Some("no step makes the blank".into()),
    }
    Ok(out)
}

impl Replay {
    pub(crate) fn apply(
        &mut self,
        case: &Case<'_>,
        step: &str,
        change: &Change,
        workpiece: &mut Workpiece,
        progress: &dyn Progress,
    ) -> Result<Result<(), String>, Cancelled> {
        match change {
            Change::Blank => {}
            Change::Flip => {
                workpiece.flip();
                self.pours.iter_mut().for_each(|p| p.turned = true);
            }
            Change::Pour { cast, from, level, dam_offset, dam_height } => {
                let poured = pour(case, workpiece, (*cast, from, *level), *dam_offset);
                let Some(report) = poured else {
                    return Ok(Err(format!("step {step} pours a cast whose hollow is not among the models")));
                };
                let (dam_offset, dam_height) = (*dam_offset, *dam_height);
                self.pours.push(Poured { cast: *cast, report, dam_offset, dam_height, turned: false });
            }
            Change::Carve { setup } => {
                let Some(of) = case.setup(setup) else {
                    return Ok(Err(format!("step {step} carves setup {setup}, which does not exist")));
                };
                if of.setup.face_up != workpiece.face_up() {
                    return Ok(Err(format!("setup {setup} wants the other face up than the steps before it leave")));
                }
                match carve(case, of, workpiece, progress)? {
                    Ok(carve) => self.carves.push(carve),
                    Err(why) => return Ok(Err(why)),
                }
                self.look_at_casts(case, of, workpiece);
            }
        }
        Ok(Ok(()))
    }

    /// After each carving between a pour and the next turning over: is the face flush? The best moment counts.
    fn look_at_casts(&mut self, case: &Case<'_>, of: &SetupCase<'_>, workpiece: &Workpiece) {
        let mut casts: Vec<u16> = self.pours.iter().filter(|p| !p.turned).map(|p| p.cast).collect();
        casts.sort_unstable();
        casts.dedup();
        for cast in casts {
            let Some(now) = flush(case, of, workpiece, cast) else { continue };
            match self.after_levelling.iter_mut().find(|a| a.0 == cast) {
                Some(before) if now.step() < before.1.step() => before.1 = now,
                Some(_) => {}
                None => self.after_levelling.push((cast, now)),
            }
        }
    }

    pub(crate) fn carve(&self, setup: &str) -> Option<&Carve> {
        self.carves.iter().find(|c| c.setup == setup)
    }
}

fn carve(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    workpiece: &mut Workpiece,
    progress: &dyn Progress,
) -> Result<Result<Carve, String>, Cancelled> {
    if !of.frame.is_sound(of.setup) {
        return Ok(Err(format!("the frame of setup {} is not a rotation about the spindle", of.setup.id)));
    }
    let spot = of.frame.workpiece(of.setup.reference_spot.at);
    let before = top_at(workpiece, spot);
    let extent = bounds(workpiece).map(|corners| {
        let [a, b] = corners.map(|p| of.frame.program(p));
        [std::array::from_fn(|k| a[k].min(b[k])), std::array::from_fn(|k| a[k].max(b[k]))]
    });
    let factor = coarse_factor(workpiece);
    let finer = (factor > 1).then(|| workpiece.coarser(factor / 2));
    let tops = |workpiece: &Workpiece| workpiece.coarser(factor).tops(0.0);
    let stood = (!case.evidence.machine.clears_chips()).then(|| tops(workpiece));
    let mut history = History::new(workpiece, factor);
    let cut = match cut(case, of, workpiece, &mut history, progress)? {
        Ok(cut) => cut,
        Err(why) => return Ok(Err(why)),
    };
    let face = of.frame.workpiece([0.0, 0.0, of.setup.stock.max[2]])[2];
    let hollows = stood.map(|stood| Hollows::new(&stood, &tops(workpiece), face));
    let mut resolution = history.pitch();
    let mut loose = worst_loose(of, &history, &cut.moves);
    // A web narrower than the columns counts as cut: what seems loose is looked at again on finer ones.
    if let (Some(mut finer), true) = (finer, loose.as_ref().is_some_and(|l| l.extent > l.limit)) {
        let mut history = History::new(&finer, 1);
        if let Ok(again) = self::cut(case, of, &mut finer, &mut history, progress)? {
            resolution = history.pitch();
            loose = worst_loose(of, &history, &again.moves);
        }
    }
    Ok(Ok(Carve {
        setup: of.setup.id.clone(),
        least_diameter: cut.moves.iter().map(|m| m.diameter).fold(f64::INFINITY, f64::min),
        cuts: cut.cuts,
        loose,
        resolution,
        stood: extent,
        spot: [before, top_at(workpiece, spot)],
        hollows,
    }))
}

/// What the programs of a setup cut.
pub(crate) struct Cuts {
    /// Per run, per motion.
    pub(crate) cuts: Vec<Vec<MoveCut>>,
    /// The motions that the history knows of, in its order.
    pub(crate) moves: Vec<Moved>,
}

/// Runs the programs of a setup on the workpiece, noting what sinks; in words why that can't be done.
pub(crate) fn cut(
    case: &Case<'_>,
    of: &SetupCase<'_>,
    workpiece: &mut Workpiece,
    history: &mut History,
    progress: &dyn Progress,
) -> Result<Result<Cuts, String>, Cancelled> {
    let mut out = Cuts { cuts: Vec::new(), moves: Vec::new() };
    for (r, run) in of.runs.iter().enumerate() {
        let mut cuts = vec![MoveCut::default(); run.motions.len()];
        let mut start = 0;
        for motions in run.motions.chunk_by(|a, b| a.cutter == b.cutter) {
            let Some(cutter) = case.cutter(motions[0].cutter) else {
                return Ok(Err(format!("{}: a cutter is used that the evidence does not hold", run.file)));
            };
            let diameter = cutter.solid.diameter;
            let point = |p| of.frame.workpiece(p);
            let long = chords(motions);
            let known: Vec<usize> = long.iter().map(|chord| chord.start).collect();
            let sweep =
                |i: &Range<usize>| Sweep { from: point(motions[i.start].from), to: point(motions[i.end - 1].to) };
            let sweeps: Vec<Sweep> = long.iter().map(sweep).collect();
            let solid = cutter.solid_in(&case.evidence.machine);
            let report = workpiece.cut_noting(&solid, &sweeps, CLEARANCES, Some(history), progress)?;
            for (&i, &cut) in known.iter().zip(&report.moves) {
                cuts[start + i] = cut;
                out.moves.push(Moved { run: r, motion: start + i, diameter });
            }
            start += motions.len();
        }
        out.cuts.push(cuts);
    }
    Ok(Ok(out))
}

/// The known motions, chords of one arc joined into longer ones as far as columns can bear; what a joined one takes is
/// told of its first motion.
fn chords(motions: &[Motion]) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::new();
    for (i, motion) in motions.iter().enumerate().filter(|(_, m)| m.is_known()) {
        let goes_on = |chord: &Range<usize>| {
            let first = &motions[chord.start];
            let one_arc = motion.slack > 0.0 && first.slack > 0.0 && first.line == motion.line;
            chord.end == i && chord.len() < JOINED && one_arc && motions[i - 1].to == motion.from
        };
        match out.last_mut() {
            Some(chord) if goes_on(chord) => chord.end = i + 1,
            _ => out.push(i..i + 1),
        }
    }
    out
}

/// A motion that the history knows of.
pub(crate) struct Moved {
    pub(crate) run: usize,
    pub(crate) motion: usize,
    diameter: f64,
}

fn coarse_factor(workpiece: &Workpiece) -> usize {
    (COARSE / workpiece.pitch()).round().max(1.0) as usize
}

fn top_at(workpiece: &Workpiece, at: [f64; 3]) -> Option<f64> {
    let (nx, ny) = workpiece.size();
    let (low, high) = (workpiece.at(0, 0), workpiece.at(nx.checked_sub(1)?, ny.checked_sub(1)?));
    let half = workpiece.pitch() / 2.0;
    let inside = (0..2).all(|k| at[k] >= low[k] - half && at[k] <= high[k] + half);
    let (ix, iy) = workpiece.nearest([at[0], at[1]]).filter(|_| inside)?;
    workpiece.column(ix, iy).map(|c| f64::from(c.1))
}

/// Least and greatest corner of what stands, workpiece frame; in plan half a pitch beyond the outermost columns.
fn bounds(workpiece: &Workpiece) -> Option<[[f64; 3]; 2]> {
    let (nx, ny) = workpiece.size();
    let (mut min, mut max) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for iy in 0..ny {
        for (ix, (lo, hi)) in (0..nx).filter_map(|ix| Some((ix, workpiece.column(ix, iy)?))) {
            let [x, y] = workpiece.at(ix, iy);
            for (k, (low, high)) in [(x, x), (y, y), (f64::from(lo), f64::from(hi))].into_iter().enumerate() {
                min[k] = min[k].min(low);
                max[k] = max[k].max(high);
            }
        }
    }
    let half = workpiece.pitch() / 2.0;
    for k in 0..2 {
        min[k] -= half;
        max[k] += half;
    }
    (min[2] <= max[2]).then_some([min, max])
}

/// Of all bodies that came loose the one farthest above half the diameter of the cutter that freed it; of equals the
/// first.
fn worst_loose(of: &SetupCase<'_>, history: &History, moves: &[Moved]) -> Option<Loose> {
    let joint = of.setup.holding.joint_z + of.lift();
    let first = moves.first()?;
    let mut worst: Option<Loose> = None;
    for Parted { by, body } in history.parted(joint, JOINT_SLACK) {
        let moved = by.map_or(first, |by| &moves[by]);
        let limit = moved.diameter / 2.0;
        let extent = (0..3).map(|k| body.max[k] - body.min[k]).fold(0.0, f64::max);
        if worst.as_ref().is_none_or(|w| extent - limit > w.extent - w.limit) {
            let middle = (DVec3::from_array(body.min) + DVec3::from_array(body.max)) / 2.0;
            let run = &of.runs[moved.run];
            let mut place = of.place(run, &run.motions[moved.motion]);
            place.at = Some(of.frame.piece(middle));
            worst = Some(Loose { extent, volume_mm3: body.volume_mm3, limit, place });
        }
    }
    worst
}

pub(crate) fn pour(
    case: &Case<'_>,
    workpiece: &mut Workpiece,
    (cast, from, level): (u16, &[[f64; 2]], f64),
    dam_offset: f64,
) -> Option<PourReport> {
    let facts = case.evidence.casts.get(usize::from(cast))?;
    let hollow = case.model(&facts.hollow)?;
    let frame = piece_to_workpiece(workpiece.face_up());
    let dam = (dam_offset > 0.0).then(|| mouth(hollow, &frame).offset(dam_offset, DAM_CHORD));
    let mut report = PourReport::default();
    for from in from {
        let at = frame.transform_point3(DVec3::new(from[0], from[1], level));
        report = report.and(workpiece.pour(cast, [at.x, at.y], at.z, dam.as_ref()));
    }
    let back = frame.inverse();
    let places = report.leaks.iter_mut().chain([&mut report.deepest]).chain(&mut report.dam_at);
    places.for_each(|place| *place = back.transform_point3(DVec3::from_array(*place)).to_array());
    Some(report)
}

/// Plan of what faces up of a hollow: its mouth.
pub(crate) fn mouth(hollow: &Mesh, frame: &DAffine3) -> Region {
    let mut rings = Vec::new();
    for i in 0..hollow.triangles.len() {
        let t = hollow.corners(i).map(|p| frame.transform_point3(p).truncate());
        let ring = Ring(t.to_vec());
        if ring.area() > 0.0 {
            rings.push(ring);
        }
    }
    Region { rings }.union(&Region::default())
}

/// Heights over that part of the piece's plan where the setup leaves its highest plane: the face is flush where they
/// agree.
fn flush(case: &Case<'_>, of: &SetupCase<'_>, workpiece: &Workpiece, cast: u16) -> Option<Flush> {
    let frame = piece_to_workpiece(workpiece.face_up());
    let (piece, target) = (case.model(&case.evidence.piece.model)?, case.model(&of.setup.target)?);
    let (lattice, step) = thinned(workpiece, FACE);
    let (planes, over) = (heights(target, &frame, &lattice), heights(piece, &frame, &lattice));
    let mut tops: Vec<(f64, f64, [f64; 2])> = Vec::new();
    for k in (0..planes.len()).filter(|&k| planes[k].is_finite() && over[k].is_finite()) {
        let (ix, iy) = (k % lattice.nx * step, k / lattice.nx * step);
        if let Some((_, hi)) = workpiece.column(ix, iy) {
            tops.push((f64::from(hi), planes[k], workpiece.at(ix, iy)));
        }
    }
    let highest = tops.iter().map(|t| t.1).fold(f64::NEG_INFINITY, f64::max);
    tops.retain(|t| t.1 > highest - SAME_PLANE);
    tops.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (first, last) = (*tops.first()?, *tops.last()?);
    let middle = tops[tops.len() / 2].0;
    // The worst place is the one farthest from the height that most of the face has.
    let worst = if middle - first.0 > last.0 - middle { first } else { last };
    let is_resin = |t: &(f64, f64, [f64; 2])| workpiece.material([t.2[0], t.2[1], t.0 - 1e-3]) == Material::Resin(cast);
    let resin_columns = tops.iter().filter(|t| is_resin(t)).count();
    let at = frame.transform_point3(DVec3::new(worst.2[0], worst.2[1], worst.0)).to_array();
    Some(Flush { least: first.0, greatest: last.0, at, resin_columns })
}

/// The columns that lie about `apart` from each other, and every how many-th they are.
fn thinned(workpiece: &Workpiece, apart: f64) -> (Lattice, usize) {
    let (nx, ny) = workpiece.size();
    let step = ((apart / workpiece.pitch()).round() as usize).max(1);
    let first = workpiece.at(0, 0).into();
    let pitch = workpiece.pitch() * step as f64;
    (Lattice { first, pitch, nx: nx.div_ceil(step), ny: ny.div_ceil(step) }, step)
}

/// Where the made piece lies lowest below the drawn one, seen from the face that is up. On slopes and at edges the lowest skin
/// within a column's distance counts, so that no edge between two columns seems to be missing.
fn short(case: &Case<'_>, workpiece: &Workpiece) -> Option<Short> {
    let piece = case.model(&case.evidence.piece.model)?;
    let frame = piece_to_workpiece(workpiece.face_up());
    let (lattice, step) = thinned(workpiece, FINE);
    let drawn = heights(piece, &frame, &lattice);
    let (nx, ny) = (lattice.nx, lattice.ny);
    let around = |ix: usize, iy: usize| {
        let rows = iy.saturating_sub(1)..(iy + 2).min(ny);
        rows.flat_map(move |y| (ix.saturating_sub(1)..(ix + 2).min(nx)).map(move |x| y * nx + x))
    };
    let worst_of_row = |iy: usize| {
        let places = (0..lattice.nx).filter_map(|ix| {
            let lowest = around(ix, iy).map(|k| drawn[k]).fold(f64::INFINITY, f64::min);
            let made = workpiece.column(ix * step, iy * step).map_or(0.0, |c| f64::from(c.1));
            let [x, y] = workpiece.at(ix * step, iy * step);
            (lowest.is_finite()).then(|| (lowest - made, DVec3::new(x, y, lowest)))
        });
        places.max_by(|a, b| a.0.total_cmp(&b.0))
    };
    let rows: Vec<Option<(f64, DVec3)>> = (0..lattice.ny).into_par_iter().map(worst_of_row).collect();
    let (by, at) = rows.into_iter().flatten().max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Short { by: by.max(0.0), at: frame.inverse().transform_point3(at).to_array() })
}

/// Millilitres of wood, then of each cast, over the plan of the piece: a frame left around it is not part of it.
fn made(case: &Case<'_>, workpiece: &Workpiece) -> Vec<f64> {
    let mut out = vec![0.0; 1 + case.evidence.casts.len()];
    let Some(piece) = case.model(&case.evidence.piece.model) else { return out };
    let (lattice, step) = thinned(workpiece, FINE);
    let over = heights(piece, &piece_to_workpiece(workpiece.face_up()), &lattice);
    let area = lattice.pitch.powi(2);
    let rows: Vec<Vec<f64>> = over
        .par_chunks(lattice.nx)
        .enumerate()
        .map(|(line, over)| {
            let mut row = vec![0.0; out.len()];
            let iy = line * step;
            for (ix, _) in over.iter().enumerate().filter(|o| o.1.is_finite()).map(|(k, o)| (k * step, o)) {
                for (from, to, material) in workpiece.segments(ix, iy) {
                    let kind = match material {
                        Material::Air => continue,
                        Material::Board(_) => 0,
                        Material::Resin(cast) => 1 + usize::from(cast),
                    };
                    if let Some(sum) = row.get_mut(kind) {
                        *sum += f64::from(to - from) * area / 1000.0;
                    }
                }
            }
            row
        })
        .collect();
    for row in rows {
        out.iter_mut().zip(row).for_each(|(all, part)| *all += part);
    }
    out
}
