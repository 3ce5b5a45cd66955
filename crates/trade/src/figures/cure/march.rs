//! Marching heat and cure through time with an error control.
//!
//! Runge–Kutta–Chebyshev of second order: as many cheap explicit stages as the stiffness of the conduction asks for, so
//! that a step `s` stages long reaches about `0.65 s²` times as far as a plain explicit one (B. P. Sommeijer, L. F.
//! Shampine, J. G. Verwer, RKC: an explicit solver for parabolic PDEs, J. Comput. Appl. Math. 88 (1998) 315–326; its
//! coefficients and its estimate of the local error, from memory and checked by the tests' observed order). Every
//! cell of every stage is reckoned from the stage before alone: the same bits for any number of threads.

use super::body::{Body, Stretch};
use super::kinetics::{Form, GEL, Kinetics, Law};
use super::number::Number;
use rayon::prelude::*;
use std::ops::ControlFlow;

/// Errors of a march.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MarchFault {
    /// The step fell below what can be reckoned.
    #[error("heat and cure cannot be followed any further {at_s:.0} s after the pour")]
    Stuck {
        /// When.
        at_s: f64,
    },
    /// A number of the body or of the resin is not usable.
    #[error("the body holds no resin or no cells, or a number of it is not finite")]
    Empty,
}

/// How closely it is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Error of temperature allowed in one step, K. Of the conversion 1/200 of it is allowed.
    pub step_k: f64,
    /// Longest step, s.
    pub longest_s: f64,
    /// Steps of this length instead of steps by error, s.
    pub fixed_s: Option<f64>,
}

impl Default for Accuracy {
    fn default() -> Self {
        Self { step_k: 0.02, longest_s: 7200.0, fixed_s: None }
    }
}

/// How it stands after a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time since the pour, s.
    pub time_s: f64,
    /// Warmest resin, °C.
    pub hottest_c: f64,
    /// Its cell.
    pub hottest_cell: usize,
    /// Least conversion of all cells of resin.
    pub least: f64,
    /// Mean conversion.
    pub mean: f64,
    /// Share of the resin that has gelled.
    pub gelled: f64,
    /// Temperature of the room, °C.
    pub room_c: f64,
}

/// Temperatures and conversions of all cells.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// Temperature of each cell, °C; cells of air hold the start's.
    pub celsius: Vec<f64>,
    /// Conversion of each reacting cell, in the order of the cells.
    pub conversion: Vec<f64>,
}

impl State {
    /// Everything equally warm and unreacted.
    pub fn fresh(body: &Body, celsius: f64) -> Self {
        let reacting = (0..body.len()).filter(|i| body.material(*i).is_some_and(|m| m.resin > 0.0)).count();
        Self { celsius: vec![celsius; body.len()], conversion: vec![0.0; reacting] }
    }
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// How it stood after each step.
    pub moments: Vec<Moment>,
    /// How it stood at the end.
    pub end: State,
    /// Evaluations of the whole body.
    pub evaluations: usize,
}

impl Course {
    /// The hottest moment.
    pub fn peak(&self) -> Option<&Moment> {
        self.moments.iter().max_by(|a, b| a.hottest_c.total_cmp(&b.hottest_c))
    }

    /// When a value of the moments first reaches a level, s, between moments by a straight line.
    pub fn reached(&self, level: f64, value: impl Fn(&Moment) -> f64) -> Option<f64> {
        let after = self.moments.iter().position(|m| value(m) >= level)?;
        let (b, Some(a)) = (&self.moments[after], after.checked_sub(1).map(|k| &self.moments[k])) else {
            return Some(self.moments[after].time_s);
        };
        let share = (level - value(a)) / (value(b) - value(a));
        Some(a.time_s + share.clamp(0.0, 1.0) * (b.time_s - a.time_s))
    }
}

/// Most stages of one step.
const MOST_STAGES: usize = 200;
/// Error of conversion allowed for an error of 1 K.
const CONVERSION_PER_K: f64 = 1.0 / 200.0;
/// Cells that are worth a thread of their own.
const CHUNK: usize = 4096;

/// Marches from a state on until `until_s`, or until the watcher breaks off. The room's temperature is a function of the
/// time, °C.
///
/// # Errors
/// [`MarchFault`].
pub fn march<N: Number>(
    body: &Body,
    kinetics: &Kinetics,
    start: &State,
    room: &dyn Fn(f64) -> f64,
    (until_s, accuracy): (f64, Accuracy),
    watch: &mut dyn FnMut(&Moment) -> ControlFlow<()>,
) -> Result<Course, MarchFault> {
    let mut marcher = Marcher::<N>::new(body, kinetics, start)?;
    let reference = marcher.reference;
    let room = |t: f64| N::of(room(t) - reference);
    let mut time = 0.0;
    marcher.slopes_at_start(room(0.0));
    let mut step = accuracy.fixed_s.unwrap_or_else(|| marcher.first_step(accuracy.step_k)).min(until_s);
    let (mut last_error, mut last_step): (Option<f64>, f64) = (None, step);
    let mut moments = vec![marcher.moment(0.0, room(0.0).wide())];
    while time < until_s * (1.0 - 1e-12) {
        step =
            step.min(until_s - time).min(if accuracy.fixed_s.is_some() { f64::INFINITY } else { accuracy.longest_s });
        let stiffness = marcher.stiffness();
        let reach = |s: usize| 0.653 * ((s * s) as f64 - 1.0) / stiffness;
        step = step.min(reach(MOST_STAGES));
        let stages = (2..=MOST_STAGES).find(|s| reach(*s) >= step).unwrap_or(MOST_STAGES);
        let error = marcher.step(stages, step, &|share| room(time + share * step), accuracy.step_k);
        let fixed = accuracy.fixed_s.is_some();
        if error.is_nan() || (error > 1.0 && !fixed) {
            let shrink = if error.is_nan() { 0.1 } else { (0.8 * error.powf(-1.0 / 3.0)).max(0.1) };
            step *= shrink;
            if step < 1e-9 * until_s.min(1e6) {
                return Err(MarchFault::Stuck { at_s: time });
            }
            continue;
        }
        marcher.accept();
        time += step;
        let moment = marcher.moment(time, room(time).wide());
        moments.push(moment);
        if watch(&moment).is_break() {
            break;
        }
        if !fixed {
            let root = error.max(1e-6).powf(1.0 / 3.0);
            let mut factor = 0.8 / root;
            if let Some(before) = last_error {
                factor = factor.min(0.8 / root * (before / root) * (step / last_step)).max(0.1 * factor);
            }
            (last_error, last_step) = (Some(root), step);
            step *= factor.clamp(0.1, 5.0);
        }
    }
    Ok(Course { moments, end: marcher.state(start), evaluations: marcher.evaluations })
}

/// Marches by `steps` plain explicit (Euler) steps of `step_s`: the yardstick against which the other march is held. Both
/// slopes are taken at the old state; a step longer than conduction allows grows without bound.
///
/// # Errors
/// [`MarchFault::Empty`].
pub fn march_plainly<N: Number>(
    body: &Body,
    kinetics: &Kinetics,
    start: &State,
    room_c: f64,
    (step_s, steps): (f64, usize),
) -> Result<State, MarchFault> {
    let mut marcher = Marcher::<N>::new(body, kinetics, start)?;
    let room = N::of(room_c - marcher.reference);
    let (zero, one) = (N::of(0.0), N::of(1.0));
    let factors = Stage { rest: zero, one, two: zero, rate: N::of(step_s), first: zero };
    for _ in 0..steps {
        let mut next = std::mem::take(&mut marcher.next);
        marcher.stage::<NOTHING>(&factors, Some(&marcher.now), room, &mut next);
        marcher.next = std::mem::replace(&mut marcher.now, next);
    }
    Ok(marcher.state(start))
}

/// Values of all cells, and of all reacting ones.
#[derive(Clone, Debug, Default)]
struct Field<N> {
    warmth: Vec<N>,
    cure: Vec<N>,
}

impl<N: Number> Field<N> {
    fn like(cells: usize, reacting: usize) -> Self {
        Self { warmth: vec![N::default(); cells], cure: vec![N::default(); reacting] }
    }
}

/// A part of the body that one thread works on: whole planes across X.
#[derive(Clone, Copy, Debug)]
struct Part {
    cells: [usize; 2],
    reacting: [usize; 2],
    stretches: [usize; 2],
}

struct Marcher<'a, N> {
    body: &'a Body,
    kinetics: &'a Kinetics,
    law: Law<N>,
    /// Temperatures are held above this, °C.
    reference: f64,
    stretches: Vec<Stretch<N>>,
    conduction: f64,
    parts: Vec<Part>,
    /// Solution at the start of the step and its slopes, and at the end.
    now: Field<N>,
    slope: Field<N>,
    next: Field<N>,
    next_slope: Field<N>,
    spare: Field<N>,
    evaluations: usize,
}

/// Factors of one stage: `Y_j = rest Y₀ + one Y_{j−1} + two Y_{j−2} + rate F_{j−1} + first F₀`.
#[derive(Clone, Copy, Debug)]
struct Stage<N> {
    rest: N,
    one: N,
    two: N,
    rate: N,
    first: N,
}

impl<'a, N: Number> Marcher<'a, N> {
    fn new(body: &'a Body, kinetics: &'a Kinetics, start: &State) -> Result<Self, MarchFault> {
        let reference = start.celsius.iter().copied().fold(0.0, |sum: f64, c| sum + c) / body.len().max(1) as f64;
        let (stretches, conduction) = body.stretches::<N>(kinetics.density * kinetics.heat);
        let sound = conduction.is_finite() && reference.is_finite() && kinetics.heat.is_finite();
        if stretches.is_empty() || !sound || start.celsius.len() != body.len() {
            return Err(MarchFault::Empty);
        }
        let reacting = start.conversion.len();
        let field = || Field::like(body.len(), reacting);
        let mut now = field();
        now.warmth.iter_mut().zip(&start.celsius).for_each(|(to, c)| *to = N::of(c - reference));
        now.cure.iter_mut().zip(&start.conversion).for_each(|(to, a)| *to = N::of(*a));
        let parts = parts(body, &stretches, reacting);
        Ok(Self {
            body,
            kinetics,
            law: kinetics.law(reference),
            reference,
            stretches,
            conduction,
            parts,
            now,
            slope: field(),
            next: field(),
            next_slope: field(),
            spare: field(),
            evaluations: 0,
        })
    }

    fn slopes_at_start(&mut self, room: N) {
        let mut slope = std::mem::take(&mut self.slope);
        self.slopes(&self.now, room, &mut slope);
        self.slope = slope;
        self.evaluations += 1;
    }

    /// A first step so short that a straight line errs by a tenth of what is allowed, as far as slopes tell.
    fn first_step(&self, step_k: f64) -> f64 {
        let warmest = self.slope.warmth.iter().fold(0.0, |most: f64, s| most.max(s.wide().abs()));
        let curing = self.slope.cure.iter().fold(0.0, |most: f64, s| most.max(s.wide().abs())) / CONVERSION_PER_K;
        (step_k / warmest.max(curing).max(1e-30)).min(1.0 / self.stiffness().max(1e-30) * 4.0).max(1e-6)
    }

    /// Bound of the fastest decay anywhere, 1/s: Gershgorin's circles of the conduction, and the cure at the warmest cell.
    fn stiffness(&self) -> f64 {
        let parts =
            self.now.warmth.par_chunks(CHUNK).map(|part| part.iter().fold(N::of(-1e30), |most, t| most.larger(*t)));
        let warmest = parts.reduce(|| N::of(-1e30), N::larger).wide() + self.reference;
        let [k1, k2] = self.kinetics.constants(warmest);
        let [m, n] = self.kinetics.order;
        let cure = if self.now.cure.is_empty() { 0.0 } else { (n + m) * (k1 + k2) };
        1.05 * (self.conduction + cure) + 1e-12
    }

    /// One step with so many stages; the result lies in `next`. Returns the error in shares of what is allowed.
    fn step(&mut self, stages: usize, step: f64, room: &dyn Fn(f64) -> N, step_k: f64) -> f64 {
        let chebyshev = Chebyshev::new(stages);
        let (mut before, mut last) = (std::mem::take(&mut self.spare), std::mem::take(&mut self.next));
        let first = Stage {
            rest: N::of(1.0),
            one: N::of(0.0),
            two: N::of(0.0),
            rate: N::of(0.0),
            first: N::of(chebyshev.first * step),
        };
        self.stage::<START>(&first, None, N::default(), &mut last);
        for j in 2..=stages {
            let (mut factors, share) = chebyshev.stage::<N>(j, step);
            if j == 2 {
                // Y₀ is the stage before the last.
                factors.rest = factors.rest + factors.two;
                self.stage::<START>(&factors, Some(&last), room(share), &mut before);
            } else {
                self.stage::<BOTH>(&factors, Some(&last), room(share), &mut before);
            }
            std::mem::swap(&mut before, &mut last);
        }
        self.evaluations += stages;
        let mut slope = std::mem::take(&mut self.next_slope);
        self.slopes(&last, room(1.0), &mut slope);
        self.next_slope = slope;
        (self.next, self.spare) = (last, before);
        self.error(step, step_k)
    }

    /// The estimate of the local error: `0.8 (Y₀ − Y₁) + 0.4 h (F₀ + F₁)`, greatest of all cells.
    fn error(&self, step: f64, step_k: f64) -> f64 {
        let (n8, n4) = (N::of(0.8), N::of(0.4 * step));
        // What is no number must not be passed over.
        let larger = |most: N, error: N| if error > most || error.is_no_number() { error } else { most };
        let worst = |now: &[N], next: &[N], slope: &[N], next_slope: &[N]| {
            let parts = now
                .par_chunks(CHUNK)
                .zip(next.par_chunks(CHUNK))
                .zip(slope.par_chunks(CHUNK).zip(next_slope.par_chunks(CHUNK)));
            let worst = parts.map(|((now, next), (slope, next_slope))| {
                let each = now.iter().zip(next).zip(slope.iter().zip(next_slope));
                each.fold(N::default(), |most, ((y0, y1), (f0, f1))| {
                    larger(most, (n8 * (*y0 - *y1) + n4 * (*f0 + *f1)).size())
                })
            });
            worst.reduce(N::default, larger).wide()
        };
        let warmth = worst(&self.now.warmth, &self.next.warmth, &self.slope.warmth, &self.next_slope.warmth);
        let cure = worst(&self.now.cure, &self.next.cure, &self.slope.cure, &self.next_slope.cure);
        let share = [warmth / step_k, cure / (step_k * CONVERSION_PER_K)];
        if share[0].is_nan() || share[1].is_nan() { f64::NAN } else { share[0].max(share[1]) }
    }

    fn accept(&mut self) {
        std::mem::swap(&mut self.now, &mut self.next);
        std::mem::swap(&mut self.slope, &mut self.next_slope);
    }

    /// Slopes of all cells.
    fn slopes(&self, of: &Field<N>, room: N, into: &mut Field<N>) {
        let (zero, one) = (N::of(0.0), N::of(1.0));
        let factors = Stage { rest: zero, one: zero, two: zero, rate: one, first: zero };
        self.stage::<NOTHING>(&factors, Some(of), room, into);
    }

    /// One stage over all cells: from Y_{j−1} into the place of Y_{j−2}. `KEPT` says what of those before counts.
    fn stage<const KEPT: u8>(&self, factors: &Stage<N>, last: Option<&Field<N>>, room: N, into: &mut Field<N>) {
        let (mut warmth, mut cure) = (&mut into.warmth[..], &mut into.cure[..]);
        let mut work = Vec::with_capacity(self.parts.len());
        for part in &self.parts {
            let (head, rest) = warmth.split_at_mut(part.cells[1] - part.cells[0]);
            let (own, others) = cure.split_at_mut(part.reacting[1] - part.reacting[0]);
            (warmth, cure) = (rest, others);
            work.push((part, head, own));
        }
        let run = |(part, warmth, cure): (&Part, &mut [N], &mut [N])| match last {
            Some(last) => self.stage_part::<KEPT>(factors, part, last, room, (warmth, cure)),
            None => self.first_part(factors, part, (warmth, cure)),
        };
        if work.len() == 1 { work.into_iter().for_each(run) } else { work.into_par_iter().for_each(run) }
    }

    /// The first stage asks for no new slopes.
    fn first_part(&self, factors: &Stage<N>, part: &Part, (warmth, cure): (&mut [N], &mut [N])) {
        let go = |to: &mut [N], from: &[N], slope: &[N]| {
            to.iter_mut().zip(from.iter().zip(slope)).for_each(|(to, (y, f))| *to = *y + factors.first * *f);
        };
        let [a, b] = part.cells;
        go(warmth, &self.now.warmth[a..b], &self.slope.warmth[a..b]);
        let [a, b] = part.reacting;
        go(cure, &self.now.cure[a..b], &self.slope.cure[a..b]);
    }

    fn stage_part<const KEPT: u8>(
        &self,
        factors: &Stage<N>,
        part: &Part,
        last: &Field<N>,
        room: N,
        (warmth, cure): (&mut [N], &mut [N]),
    ) {
        let [_, ny, nz] = self.body.cells;
        let t = &last.warmth[..];
        for stretch in &self.stretches[part.stretches[0]..part.stretches[1]] {
            let Stretch { start, len, beside, .. } = *stretch;
            // A neighbour that is not there has no exchange; its place in the list is the cell's own.
            let across = |k: usize, at: Option<usize>| {
                let at = at.filter(|_| beside[k] != N::default()).unwrap_or(start);
                &t[at..at + len]
            };
            let beyond = |at: Option<usize>| at.and_then(|at| t.get(at)).copied().unwrap_or_default();
            let near = Near {
                own: &t[start..start + len],
                across: [
                    across(0, start.checked_sub(ny * nz)),
                    across(1, Some(start + ny * nz)),
                    across(2, start.checked_sub(nz)),
                    across(3, Some(start + nz)),
                ],
                beyond: [beyond(start.checked_sub(1)), beyond(Some(start + len))],
                before: kept::<N, KEPT>(&self.now.warmth, start, len),
                slope: kept::<N, KEPT>(&self.slope.warmth, start, len),
            };
            let to = &mut warmth[start - part.cells[0]..start - part.cells[0] + len];
            match stretch.reactive {
                None => conducting::<N, KEPT>(stretch, factors, room, &near, to),
                Some(first) => {
                    let reacting = Reacting {
                        last: &last.cure[first..first + len],
                        before: kept::<N, KEPT>(&self.now.cure, first, len),
                        slope: kept::<N, KEPT>(&self.slope.cure, first, len),
                    };
                    let cure = &mut cure[first - part.reacting[0]..first - part.reacting[0] + len];
                    let law = &self.law;
                    match law.form {
                        Form::OneTwo => {
                            curing::<N, KEPT>(stretch, (factors, room), (&near, &reacting), (to, cure), |t, a| {
                                law.one_two(t, a)
                            });
                        }
                        Form::OneOne => {
                            curing::<N, KEPT>(stretch, (factors, room), (&near, &reacting), (to, cure), |t, a| {
                                law.one_one(t, a)
                            });
                        }
                        Form::Any => {
                            curing::<N, KEPT>(stretch, (factors, room), (&near, &reacting), (to, cure), |t, a| {
                                law.any(t, a)
                            })
                        }
                    }
                }
            }
        }
    }

    /// How it stands now.
    fn moment(&self, time_s: f64, room: f64) -> Moment {
        let mut moment = Moment {
            time_s,
            hottest_c: f64::NEG_INFINITY,
            hottest_cell: 0,
            least: 1.0,
            mean: 0.0,
            gelled: 0.0,
            room_c: room + self.reference,
        };
        let (mut all, mut sum, mut gelled) = (0.0, 0.0, 0.0);
        for stretch in &self.stretches {
            let Some(first) = stretch.reactive else { continue };
            // Cells that are resin in part count by their resin.
            let share = stretch.resin;
            for k in 0..stretch.len {
                let (warmth, a) = (self.now.warmth[stretch.start + k].wide(), self.now.cure[first + k].wide());
                if warmth + self.reference > moment.hottest_c {
                    (moment.hottest_c, moment.hottest_cell) = (warmth + self.reference, stretch.start + k);
                }
                moment.least = moment.least.min(a);
                all += share;
                sum += share * a;
                gelled += if a >= GEL { share } else { 0.0 };
            }
        }
        if all > 0.0 {
            (moment.mean, moment.gelled) = (sum / all, gelled / all);
        }
        moment
    }

    fn state(&self, start: &State) -> State {
        let mut celsius = start.celsius.clone();
        for stretch in &self.stretches {
            let own = stretch.start..stretch.start + stretch.len;
            let warmth = &self.now.warmth[own.clone()];
            celsius[own].iter_mut().zip(warmth).for_each(|(to, from)| *to = from.wide() + self.reference);
        }
        State { celsius, conversion: self.now.cure.iter().map(|a| a.wide()).collect() }
    }
}

/// Values that a stage keeps of those before; none where it keeps nothing.
#[inline(always)]
fn kept<N, const KEPT: u8>(of: &[N], start: usize, len: usize) -> &[N] {
    if KEPT == NOTHING { &[] } else { &of[start..start + len] }
}

/// What a stage keeps of those before it: nothing, the start of the step, or that and the stage before the last.
const NOTHING: u8 = 0;
const START: u8 = 1;
const BOTH: u8 = 2;

/// Values around the cells of a stretch.
struct Near<'s, N> {
    own: &'s [N],
    across: [&'s [N]; 4],
    /// Next along Z, below and above.
    beyond: [N; 2],
    before: &'s [N],
    slope: &'s [N],
}

/// Values of the cure in a stretch.
struct Reacting<'s, N> {
    last: &'s [N],
    before: &'s [N],
    slope: &'s [N],
}

#[inline(always)]
fn conducting<N: Number, const KEPT: u8>(
    stretch: &Stretch<N>,
    f: &Stage<N>,
    room: N,
    near: &Near<'_, N>,
    to: &mut [N],
) {
    let n = to.len();
    let [xm, xp, ym, yp] = near.across.map(|s| &s[..n]);
    let own = &near.own[..n];
    let (before, slope) = if KEPT == NOTHING { (own, own) } else { (&near.before[..n], &near.slope[..n]) };
    let [gxm, gxp, gym, gyp] = stretch.beside.map(|g| g * f.rate);
    let gz = stretch.along * f.rate;
    let across = |i: usize| (gxm * xm[i] + gxp * xp[i]) + (gym * ym[i] + gyp * yp[i]);
    let kept = |i: usize, two: N| match KEPT {
        NOTHING => N::default(),
        START => f.rest * before[i] + f.first * slope[i],
        _ => f.rest * before[i] + f.two * two + f.first * slope[i],
    };
    let (out, gain) = (f.one - stretch.out * f.rate - (gz + gz), stretch.room * room * f.rate);
    if n > 2 {
        let (below, above, inner) = (&own[..n - 2], &own[2..], &mut to[1..n - 1]);
        for i in 0..n - 2 {
            let new = out * own[i + 1] + (across(i + 1) + (gz * (below[i] + above[i]) + gain));
            inner[i] = new + kept(i + 1, inner[i]);
        }
    }
    for i in [0, n - 1].into_iter().take(n.min(2)) {
        let [low, high] = stretch.ends.map(|[g, film]| (g * f.rate, film * f.rate));
        let (g0, t0) = if i > 0 { (gz, own[i - 1]) } else { (low.0, near.beyond[0]) };
        let (g1, t1) = if i + 1 < n { (gz, own[i + 1]) } else { (high.0, near.beyond[1]) };
        let film = (if i > 0 { N::default() } else { low.1 }) + (if i + 1 < n { N::default() } else { high.1 });
        let out = f.one - stretch.out * f.rate - (g0 + g1) - film;
        let new = out * own[i] + (across(i) + ((g0 * t0 + g1 * t1) + (gain + film * room)));
        to[i] = new + kept(i, to[i]);
    }
}

#[inline(always)]
fn curing<N: Number, const KEPT: u8>(
    stretch: &Stretch<N>,
    (f, room): (&Stage<N>, N),
    (near, reacting): (&Near<'_, N>, &Reacting<'_, N>),
    (to, cure): (&mut [N], &mut [N]),
    law: impl Fn(N, N) -> N,
) {
    conducting::<N, KEPT>(stretch, f, room, near, to);
    let n = to.len();
    let (own, cure) = (&near.own[..n], &mut cure[..n]);
    let last = &reacting.last[..n];
    let (before, slope) = if KEPT == NOTHING { (last, last) } else { (&reacting.before[..n], &reacting.slope[..n]) };
    let warms = stretch.warms;
    for i in 0..n {
        let grows = f.rate * law(own[i], last[i]);
        to[i] = to[i] + warms * grows;
        let new = f.one * last[i] + grows;
        cure[i] = match KEPT {
            NOTHING => new,
            START => new + (f.rest * before[i] + f.first * slope[i]),
            _ => new + (f.rest * before[i] + f.two * cure[i] + f.first * slope[i]),
        };
    }
}

/// The body in parts of whole planes across X, each worth a thread.
fn parts<N>(body: &Body, stretches: &[Stretch<N>], reacting: usize) -> Vec<Part> {
    let plane = body.cells[1] * body.cells[2];
    let planes = CHUNK.div_ceil(plane).max(body.cells[0].div_ceil(16)).max(1);
    let mut parts = Vec::new();
    let first_from = |cell: usize| stretches.partition_point(|s| s.start < cell);
    let reacting_from = |at: usize| stretches[at..].iter().find_map(|s| s.reactive).unwrap_or(reacting);
    for from in (0..body.cells[0]).step_by(planes) {
        let to = (from + planes).min(body.cells[0]);
        let stretches = [first_from(from * plane), first_from(to * plane)];
        let reacting = stretches.map(reacting_from);
        parts.push(Part { cells: [from * plane, to * plane], reacting, stretches });
    }
    parts
}

/// The coefficients of a step with `s` stages, from Chebyshev's polynomials.
struct Chebyshev {
    w0: f64,
    w1: f64,
    /// T_j, T′_j, T″_j at w0.
    t: Vec<[f64; 3]>,
    b: Vec<f64>,
    /// Factor of the first stage.
    first: f64,
}

impl Chebyshev {
    fn new(s: usize) -> Self {
        const DAMPING: f64 = 2.0 / 13.0;
        let w0 = 1.0 + DAMPING / (s * s) as f64;
        let mut t = vec![[1.0, 0.0, 0.0], [w0, 1.0, 0.0]];
        for j in 2..=s {
            let ([a, a1, a2], [b, b1, b2]) = (t[j - 2], t[j - 1]);
            t.push([2.0 * w0 * b - a, 2.0 * b + 2.0 * w0 * b1 - a1, 4.0 * b1 + 2.0 * w0 * b2 - a2]);
        }
        let w1 = t[s][1] / t[s][2];
        let mut b: Vec<f64> = t.iter().map(|[_, d, dd]| dd / (d * d)).collect();
        (b[0], b[1]) = (b[2], b[2]);
        let first = b[1] * w1;
        Self { w0, w1, t, b, first }
    }

    /// Factors of stage `j` for a step, and at which share of the step its slopes are taken.
    fn stage<N: Number>(&self, j: usize, step: f64) -> (Stage<N>, f64) {
        let Self { w0, w1, t, b, .. } = self;
        let (mu, nu) = (2.0 * b[j] * w0 / b[j - 1], -b[j] / b[j - 2]);
        let rate = 2.0 * b[j] * w1 / b[j - 1];
        let first = -(1.0 - b[j - 1] * t[j - 1][0]) * rate;
        let share = match j {
            2 => self.share(2) / t[2][1],
            j => self.share(j - 1),
        };
        let stage = Stage {
            rest: N::of(1.0 - mu - nu),
            one: N::of(mu),
            two: N::of(nu),
            rate: N::of(rate * step),
            first: N::of(first * step),
        };
        (stage, share)
    }

    /// Share of the step reached by stage `j` from the second on.
    fn share(&self, j: usize) -> f64 {
        self.w1 * self.t[j][2] / self.t[j][1]
    }
}
