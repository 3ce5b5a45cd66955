//! Which cutter does what: of all that serve, those with which the making takes the least time, changes of cutter counted;
//! and why, in a sentence each.
//!
//! Nothing is bought by it: a ball for which the blank would need another board, or the resin another pour, comes after all
//! for which it does not.

use crate::Request;
use crate::choose::{Kind, lacks, serving};
use crate::concave::Concave;
use crate::estimate::{Clamping, Estimate, Estimator};
use crate::layup::layup;
use crate::ledger::Ledger;
use crate::missing::{Search, tell};
use crate::needs::{Making, Task};
use crate::prepare::Found;
use crate::setups::{Bound, PlanFault, Shop};
use base::{Figure, Figures, Input, Quiet, Report, Source};
use std::collections::BTreeMap;
use trade::cutter::Form;
use trade::figures::resin::layers;
use trade::shelf::{Choice, Cutter};

/// Radius of the ball that sizes are reckoned with where the shelf holds none at all, mm.
pub(crate) const STAND_IN_RADIUS: f64 = 3.0;
/// A cutter is changed in so many seconds, looking and touching off included. Common practice, no source.
pub(crate) const CHANGE_S: f64 = 240.0;
/// Times that differ by less are the same to a person, s.
const NO_MATTER: f64 = 30.0;

/// The cutter for each task; all are there once the report has no errors.
pub(crate) struct Cutters<'a> {
    chosen: BTreeMap<Task, &'a Cutter>,
    /// Why each, by setup.
    pub(crate) why: Vec<Why>,
}

/// Why a cutter does a task in a setup.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Why {
    /// The setup, by its id.
    pub(crate) setup: &'static str,
    /// The figure that tells how the time was reckoned.
    pub(crate) figure: String,
    /// In words.
    pub(crate) says: String,
}

impl<'a> Cutters<'a> {
    /// The cutter for a task.
    ///
    /// # Errors
    /// [`PlanFault::NoCutter`] if the shelf has none.
    pub(crate) fn of(&self, task: Task) -> Result<&'a Cutter, PlanFault> {
        self.get(task).ok_or(PlanFault::NoCutter)
    }

    pub(crate) fn get(&self, task: Task) -> Option<&'a Cutter> {
        self.chosen.get(&task).copied()
    }
}

/// A making with one of the balls as the one that finishes, on which the waste beyond the rim depends.
type Trial<'a> = (Option<&'a Cutter>, Making<'a>);

/// What can be chosen from for a making.
struct Candidates<'a>(BTreeMap<Task, Vec<&'a Cutter>>);

/// A complete choice.
struct Picked<'a> {
    /// What must be bought for it: boards and pours.
    bought: [usize; 2],
    /// Radius of the ball that the waste beyond the rim follows from, mm.
    ball_radius: f64,
    seconds: f64,
    chosen: BTreeMap<Task, &'a Cutter>,
}

/// Chooses all cutters, or tells which are missing.
pub(crate) fn cutters<'a>(
    request: &Request<'a>,
    found: &Found<'a>,
    ledger: &mut Ledger<'_>,
) -> (Making<'a>, Cutters<'a>) {
    let (shelf, machine) = (request.shelf, found.machine);
    let concave = Concave::of(request.piece);
    let shrink = found.resins.iter().map(|r| r.shrink).fold(0.0, f64::max);
    let tried = |radius: f64| Making::tried(request, machine, concave, (radius, shrink));
    let balls = shelf.cutters.iter().filter(|c| Kind::Ball.is(c));
    let mut options: Vec<Trial<'_>> = balls.map(|ball| (Some(ball), tried(ball.solid.radius()))).collect();
    if options.is_empty() {
        options.push((None, tried(STAND_IN_RADIUS)));
    }
    let settled = Settled(&shelf.choices);
    let sound = |radius: f64| Making::is_sound(request, machine, concave, (radius, shrink));
    let complete: Vec<(usize, Picked<'_>)> = options
        .iter()
        .enumerate()
        .filter_map(|(k, option)| {
            let mut picked = picked(request, found, option, &settled)?;
            if !option.0.is_some_and(|ball| sound(ball.solid.radius())) {
                picked.bought = [usize::MAX; 2];
            }
            Some((k, picked))
        })
        .collect();
    // Where it cannot be done with any, the one that asks for the least waste: what it lacks is the least that helps.
    let waste = |p: &Picked<'_>| if p.bought[0] == usize::MAX { p.ball_radius } else { 0.0 };
    let order = |a: &Picked<'_>, b: &Picked<'_>| {
        a.bought.cmp(&b.bought).then(waste(a).total_cmp(&waste(b))).then(a.seconds.total_cmp(&b.seconds))
    };
    let best = complete.iter().min_by(|(_, a), (_, b)| order(a, b));
    let leading = match best {
        Some((k, _)) => options[*k].0,
        None => settled.ball(shelf, &options).or_else(|| nearest_ball(request, &options)),
    };
    let radius = leading.map_or(STAND_IN_RADIUS, |c| c.solid.radius());
    let making = Making::new(request, machine, concave, (radius, shrink), ledger);
    let Some((_, picked)) = best else {
        let chosen = what_there_is(request, &making, leading);
        let missing: Vec<Task> = making.tasks().into_iter().filter(|task| !chosen.contains_key(task)).collect();
        let search = Search { request, making, options, shrink };
        tell(&search, &missing, ledger.report);
        settled.tell(&search, &missing, ledger.report);
        return (making, Cutters { chosen, why: Vec::new() });
    };
    // With the other balls, for the task on which the sizes depend.
    let others: Vec<(&Cutter, &Picked<'_>)> = complete
        .iter()
        .filter_map(|(k, p)| Some((options[*k].0?, p)))
        .filter(|(c, _)| c.solid.radius() != radius)
        .collect();
    let search = Search { request, making, options: options.clone(), shrink };
    settled.tell(&search, &[], ledger.report);
    if let Some(point) = picked.chosen.get(&Task::Engrave) {
        crate::strokes::look(request, machine, point, ledger.report);
    }
    let estimator = Estimator::new(request, shop(request, found, &making), &making);
    settled.tell_steps((&estimator, &making), &picked.chosen, ledger.report);
    let why = reasons(&estimator, (request, &making), (picked, &others), ledger);
    (making, Cutters { chosen: picked.chosen.clone(), why })
}

/// What the maker has settled.
struct Settled<'a>(&'a [Choice]);

impl Settled<'_> {
    fn of(&self, task: Task) -> Option<&Choice> {
        self.0.iter().find(|c| c.task == task)
    }

    fn number(&self, task: Task) -> Option<u32> {
        self.of(task).and_then(|c| c.cutter)
    }

    /// The ball that is settled for the task that the sizes depend on.
    fn ball<'a>(&self, shelf: &'a trade::shelf::Shelf, options: &[Trial<'a>]) -> Option<&'a Cutter> {
        let task = options.first()?.1.leading();
        shelf.cutter(self.number(task)?).filter(|c| Kind::Ball.is(c))
    }

    /// Tells of settled choices that cannot be kept to. Tasks that are `missing` anyway were told of.
    fn tell(&self, search: &Search<'_, '_>, missing: &[Task], report: &mut Report) {
        let shelf = search.request.shelf;
        let tasks = search.making.tasks();
        for choice in self.0 {
            let task = choice.task;
            if !tasks.contains(&task) {
                let text = format!("a choice is settled for {}, which this piece does not need", task.words());
                report.warning("idle-choice", choice.at, text).hint("nothing follows from it; take it out");
                continue;
            }
            let Some(cutter) = choice.cutter.and_then(|number| shelf.cutter(number)) else { continue };
            let need = search.making.need(task);
            let mut reasons: Vec<String> = Vec::new();
            if !need.kind.is(cutter) {
                reasons.push(format!("is no {}", need.kind.words()));
            } else {
                let found = lacks(cutter, search.making.machine, &need);
                reasons.extend(found.iter().map(|lack| search.lack_in_words(cutter, *lack)));
            }
            if !reasons.is_empty() {
                let what = format!("{}, settled for {},", crate::missing::named(cutter), task.words());
                let text = format!("{what} cannot do it: it {}", reasons.join(", and "));
                let hint = match missing.contains(&task) {
                    true => "no other cutter of the shelf can, either; see there",
                    false => "settle another cutter, or take the choice out and let the plan choose",
                };
                report.error("settled-cutter", choice.at, text).hint(hint);
            }
        }
    }

    /// Tells of settled step-downs that are deeper than can be.
    fn tell_steps(
        &self,
        (estimator, making): (&Estimator<'_>, &Making<'_>),
        chosen: &BTreeMap<Task, &Cutter>,
        report: &mut Report,
    ) {
        let units = making.piece.units;
        for clamping in Clamping::of(making) {
            for choice in self.0.iter().filter(|c| clamping.tasks().contains(&c.task)) {
                let (Some(cutter), Some(asked)) = (chosen.get(&choice.task), choice.step_down) else { continue };
                let (most, bound) = estimator.bears(clamping, choice.task, cutter);
                if asked > most + 1e-9 {
                    let text = format!(
                        "for {} a step-down of {} is settled; {} takes {} at most, {}",
                        choice.task.words(),
                        units.fine(asked),
                        crate::missing::named(cutter),
                        units.down(most),
                        as_deep(bound)
                    );
                    let hint =
                        "settle no more than that, or take `step_down` out: the plan then takes the most that can be";
                    report.error("settled-step", choice.at, text).hint(hint);
                }
            }
        }
    }
}

/// What there is of cutters where not all can be found, for what is told of the rest.
fn what_there_is<'a>(
    request: &Request<'a>,
    making: &Making<'a>,
    leading: Option<&'a Cutter>,
) -> BTreeMap<Task, &'a Cutter> {
    let each = making.tasks().into_iter().filter_map(|task| {
        let need = making.need(task);
        let found = serving(request.shelf, making.machine, &need);
        let own = leading.filter(|c| task == making.leading() && found.iter().any(|f| f.number == c.number));
        let other = if task == making.leading() { None } else { found.first().copied() };
        Some((task, own.or(other)?))
    });
    each.collect()
}

/// The ball that lacks the least, to go on with where none serves: one with which most else can be done.
fn nearest_ball<'a>(request: &Request<'a>, options: &[Trial<'a>]) -> Option<&'a Cutter> {
    let lacking = |(ball, making): &Trial<'a>| {
        let ball = (*ball)?;
        let own = lacks(ball, making.machine, &making.need(making.leading())).len();
        let others = making.tasks().into_iter().filter(|task| *task != making.leading());
        let undone = others.filter(|t| serving(request.shelf, making.machine, &making.need(*t)).is_empty()).count();
        Some(((own, undone), ball))
    };
    options.iter().filter_map(lacking).min_by_key(|(lacks, _)| *lacks).map(|(_, ball)| ball)
}

impl<'a> Candidates<'a> {
    /// `None` if there is none for some task.
    fn of(request: &Request<'a>, (ball, making): &Trial<'a>, settled: &Settled<'_>) -> Option<Self> {
        let mut all = BTreeMap::new();
        for task in making.tasks() {
            let mut found = serving(request.shelf, making.machine, &making.need(task));
            if task == making.leading() {
                found.retain(|c| ball.is_some_and(|ball| ball.number == c.number));
            }
            if let Some(number) = settled.number(task) {
                found.retain(|c| c.number == number);
            }
            if task == Task::Engrave {
                // The finest point: its strokes have the sharpest corners.
                found.sort_by(|a, b| point(a).total_cmp(&point(b)).then(a.number.cmp(&b.number)));
                found.truncate(1);
            }
            if found.is_empty() {
                return None;
            }
            all.insert(task, found);
        }
        Some(Self(all))
    }
}

/// Diameter of the flat at a point, mm.
fn point(cutter: &Cutter) -> f64 {
    match cutter.solid.form {
        Form::Cone { tip_diameter, .. } => tip_diameter,
        _ => f64::INFINITY,
    }
}

/// The quickest choice for a making, if there is one.
fn picked<'a>(
    request: &Request<'a>,
    found: &Found<'a>,
    option: &Trial<'a>,
    settled: &Settled<'_>,
) -> Option<Picked<'a>> {
    let making = &option.1;
    let candidates = Candidates::of(request, option, settled)?;
    let estimator = Estimator::new(request, shop(request, found, making), making);
    let (seconds, chosen) = quickest(&estimator, making, &candidates);
    let ball_radius = option.0.map_or(0.0, |ball| ball.solid.radius());
    Some(Picked { bought: bought(request, found, making), ball_radius, seconds, chosen })
}

fn shop<'a>(request: &Request<'a>, found: &Found<'a>, making: &Making<'a>) -> Shop<'a> {
    Shop::new(request, found.machine, found.wood, making.sizes, &Quiet)
}

/// Boards to be glued one on the other, and layers to be poured; far too many where it cannot be done at all.
fn bought(request: &Request<'_>, found: &Found<'_>, making: &Making<'_>) -> [usize; 2] {
    let (mut figures, mut report) = (Figures::default(), Report::default());
    let mut ledger = Ledger { figures: &mut figures, report: &mut report };
    let piece = request.piece;
    let clear_of = [piece.floor_z, making.sizes.height, 0.0, piece.recess.map_or(0.0, |[d, _]| d)];
    let stack = layup(request, &making.sizes, &clear_of, found.wood, &mut ledger);
    let boards = stack.filter(|_| !report.has_errors()).map_or(usize::MAX, |stack| stack.layers);
    let pour = |resin: &&trade::shelf::Resin| {
        let deepest =
            making.deepest.unwrap_or(0.0) + making.sizes.face_z() - making.sizes.height + making.sizes.overpour;
        layers(deepest, resin.layer_least, resin.layer_greatest).map_or(usize::MAX, |layers| layers.len())
    };
    [boards, found.resins.iter().map(pour).max().unwrap_or(0)]
}

/// The assignment of cutters that takes the least time, and that time, s.
fn quickest<'a>(
    estimator: &Estimator<'_>,
    making: &Making<'a>,
    candidates: &Candidates<'a>,
) -> (f64, BTreeMap<Task, &'a Cutter>) {
    let clampings = Clamping::of(making);
    let mut best: Option<(f64, BTreeMap<Task, &Cutter>)> = None;
    // Facing is the only task that two setups share.
    for facer in &candidates.0[&Task::Face] {
        let mut total = 0.0;
        let mut chosen = BTreeMap::from([(Task::Face, *facer)]);
        for clamping in &clampings {
            let (seconds, own) = quickest_in(estimator, *clamping, candidates, facer);
            total += seconds;
            chosen.extend(own);
        }
        if best.as_ref().is_none_or(|(least, _)| total < *least) {
            best = Some((total, chosen));
        }
    }
    best.unwrap_or_default()
}

/// The same for one setup, its facing cutter given.
fn quickest_in<'a>(
    estimator: &Estimator<'_>,
    clamping: Clamping,
    candidates: &Candidates<'a>,
    facer: &'a Cutter,
) -> (f64, BTreeMap<Task, &'a Cutter>) {
    let mut tasks: Vec<Task> = clamping.tasks().to_vec();
    tasks.sort_unstable();
    tasks.dedup();
    let mut all: Vec<BTreeMap<Task, &Cutter>> = vec![BTreeMap::new()];
    for task in tasks {
        let own = candidates.0.get(&task).map_or(&[][..], Vec::as_slice);
        let of_task = if task == Task::Face { std::slice::from_ref(&facer) } else { own };
        if of_task.is_empty() {
            continue; // No mark to engrave.
        }
        all = all
            .iter()
            .flat_map(|so_far| {
                of_task.iter().map(|c| so_far.iter().map(|(t, c)| (*t, *c)).chain([(task, *c)]).collect())
            })
            .collect();
    }
    let timed = all.into_iter().map(|chosen| (seconds(estimator, clamping, &chosen), chosen));
    timed.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default()
}

/// Time of a setup with these cutters, changes between them counted, s.
fn seconds(estimator: &Estimator<'_>, clamping: Clamping, chosen: &BTreeMap<Task, &Cutter>) -> f64 {
    let cutting: f64 = chosen.iter().map(|(task, cutter)| estimator.time(clamping, *task, cutter).seconds).sum();
    let in_spindle: Vec<u32> = clamping.tasks().iter().filter_map(|t| chosen.get(t)).map(|c| c.number).collect();
    let changes = 1 + in_spindle.windows(2).filter(|pair| pair[0] != pair[1]).count();
    cutting + CHANGE_S * changes as f64
}

/// A sentence and a figure for each task of each setup.
fn reasons(
    estimator: &Estimator<'_>,
    (request, making): (&Request<'_>, &Making<'_>),
    (picked, others): (&Picked<'_>, &[(&Cutter, &Picked<'_>)]),
    ledger: &mut Ledger<'_>,
) -> Vec<Why> {
    let mut all = Vec::new();
    for clamping in Clamping::of(making) {
        let mut told: Vec<Task> = Vec::new();
        let of_setup: BTreeMap<Task, &Cutter> = picked
            .chosen
            .iter()
            .filter(|(task, _)| clamping.tasks().contains(task))
            .map(|(task, cutter)| (*task, *cutter))
            .collect();
        let total = seconds(estimator, clamping, &of_setup);
        for task in clamping.tasks() {
            // A point is chosen for its fineness, not for time.
            let wanted = *task != Task::Engrave && !told.contains(task);
            let Some(cutter) = of_setup.get(task).filter(|_| wanted) else { continue };
            told.push(*task);
            let estimate = estimator.time(clamping, *task, cutter);
            let next = if *task == making.leading() {
                let each = others.iter().map(|(other, with)| Other {
                    more: with.seconds - picked.seconds,
                    cutter: other,
                    bought: [0, 1].map(|k| with.bought[k] > picked.bought[k]),
                });
                each.min_by(|a, b| a.more.total_cmp(&b.more))
            } else {
                let swapped = serving(request.shelf, making.machine, &making.need(*task));
                let each = swapped.into_iter().filter(|c| c.number != cutter.number).map(|other| {
                    let mut with = of_setup.clone();
                    with.insert(*task, other);
                    Other { more: seconds(estimator, clamping, &with) - total, cutter: other, bought: [false; 2] }
                });
                each.min_by(|a, b| a.more.total_cmp(&b.more))
            };
            let settled = Settled(&request.shelf.choices).number(*task).is_some();
            let figure = format!("choice.{}.{}", clamping.id(), task.key());
            ledger.figures.put(figure.clone(), reckoned(&estimate, cutter));
            let mut says = sentence(request, *task, (cutter, &estimate), (next, settled));
            let skin = estimator.shop.skin_words(*task);
            if skin.is_none() && *task != Task::Face {
                says.push_str(&format!(" {}", estimator.shop.sense_words(*task)));
            }
            all.push(Why { setup: clamping.id(), figure, says });
            if let Some((says, value)) = skin {
                let figure = format!("grain.{}", clamping.id());
                ledger.figures.put(figure.clone(), value);
                all.push(Why { setup: clamping.id(), figure, says });
            }
        }
        if clamping == Clamping::Inside {
            let (says, edge) = estimator.shop.rim_words();
            ledger.figures.put("rim.edge", edge);
            all.push(Why { setup: clamping.id(), figure: "rim.edge".into(), says });
        }
    }
    all
}

/// Another cutter for a task.
struct Other<'a> {
    /// How much longer all takes with it, changes of cutter counted, s.
    more: f64,
    cutter: &'a Cutter,
    /// Whether it needs another board, another pour.
    bought: [bool; 2],
}

/// “For roughing the inside: T2 flat 3/8 in long, 4.8 mm deep and 4.0 mm wide at a time, about 12 min; T4 … would take about
/// 9 min more.”
fn sentence(
    request: &Request<'_>,
    task: Task,
    (cutter, estimate): (&Cutter, &Estimate),
    (next, settled): (Option<Other<'_>>, bool),
) -> String {
    let units = request.job.units;
    let minutes = |seconds: f64| format!("about {:.0} min", (seconds / 60.0).max(1.0));
    let how = match (estimate.roughing, estimate.finishing) {
        (Some((_, steps)), _) => {
            let bound = if steps.settled { "as settled in shop.toml" } else { as_deep(steps.bound) };
            let (deep, wide) = (units.shop(steps.down), units.shop(steps.over * cutter.solid.diameter));
            format!(", {deep} deep ({bound}) and {wide} wide at a time")
        }
        (_, Some((_, step))) => format!(", rows {} apart", units.fine(step)),
        _ => String::new(),
    };
    let named = |other: &Other<'_>| format!("T{} {}", other.cutter.number, other.cutter.name);
    let why = match next {
        Some(other) if settled && other.more < -NO_MATTER => {
            format!(", as settled in shop.toml; {} would save {}", named(&other), minutes(-other.more))
        }
        _ if settled => ", as settled in shop.toml; no other cutter is quicker".to_owned(),
        None => "; the shelf has no other that reaches, fits and gets in".to_owned(),
        Some(other) if other.more < -NO_MATTER && other.bought != [false; 2] => {
            let what = if other.bought[0] { "the blank another board" } else { "the resin another pour" };
            format!(
                "; {} would save {}, but needs more waste beyond the rim, and with it {what}",
                named(&other),
                minutes(-other.more)
            )
        }
        Some(other) if other.more <= NO_MATTER => format!("; {} would be no quicker", named(&other)),
        Some(other) => format!(
            "; {}, the next best, would take {} more, changes of cutter counted",
            named(&other),
            minutes(other.more)
        ),
    };
    let words = task.words();
    format!("For {words}: T{} {}{how}, {}{why}.", cutter.number, cutter.name, minutes(estimate.seconds))
}

const fn as_deep(bound: Bound) -> &'static str {
    match bound {
        Bound::Machine => "as deep as the machine bears",
        Bound::Edges => "as deep as its edges are long",
        Bound::Holding => "as deep as the holding bears",
    }
}

/// How the time of a task was reckoned.
fn reckoned(estimate: &Estimate, cutter: &Cutter) -> Figure {
    let feed = Input::literal(estimate.feed, "mm/min", "feed as reached");
    let (formula, inputs) = match (estimate.roughing, estimate.finishing) {
        (Some((volume, steps)), _) => (
            "t = k · V / (step-down · stepover · feed), and ways between levels",
            vec![
                Input::literal(volume / 1000.0, "ml", "volume V to be roughed"),
                Input::literal(steps.down, "mm", "step-down"),
                Input::literal(steps.over * cutter.solid.diameter, "mm", "stepover"),
                feed,
            ],
        ),
        (_, Some((area, step))) => (
            "t = k · A / (step · feed)",
            vec![
                Input::literal(area * 1e-4, "dm²", "skin A to be finished"),
                Input::literal(step, "mm", "step along the skin"),
                feed,
            ],
        ),
        _ => ("t = rows · length / feed", vec![Input::literal(cutter.solid.diameter, "mm", "diameter"), feed]),
    };
    Figure::new(estimate.seconds, "s", formula, inputs, Source::CommonPractice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::planner::look_over;
    use base::FileId;
    use trade::shelf::Shelf;

    const JOB: &str = r##"
        title = "Bowl"
        [piece]
        outline = { kind = "circle", diameter = 160 }
        height = 34
        wall = 6
        floor = 7
        floor_radius = 14
        outside = { kind = "round", foot_inset = 25 }
        inside = { kind = "follow" }
        foot = { kind = "pad" }
        [blank]
        wood = "black cherry"
        boards = "8/4"
        [route]
        kind = "two-sided"
        scallop = 0.02
        finish = "shellac"
    "##;

    fn shelf(over: &str) -> Shelf {
        let shelf = trade::parse(trade::DEFAULT_SHELF, FileId(1)).0.unwrap();
        let (shelf, report) = trade::parse_over(&shelf, over, FileId(2));
        assert!(report.findings.is_empty(), "{report:#?}");
        shelf.unwrap()
    }

    /// Numbers of the chosen cutters by task, the reasons, and what is found before planning.
    fn chosen(text: &str, shelf: &Shelf) -> (BTreeMap<Task, u32>, Vec<Why>, Report) {
        let job = job::parse(text, FileId(0)).0.unwrap();
        let piece = shape::piece(&job.piece, 0.05).0.unwrap();
        let request = Request { job: &job, shelf, piece: &piece, measured: None };
        let found = Found {
            machine: shelf.machine().unwrap(),
            wood: shelf.wood(&job.blank.wood.value).unwrap(),
            finish: shelf.finish(&job.route.finish.value).unwrap(),
            resins: Vec::new(),
        };
        let (mut figures, mut report) = (Figures::default(), Report::default());
        let (_, cutters) = cutters(&request, &found, &mut Ledger { figures: &mut figures, report: &mut report });
        assert!(cutters.why.iter().all(|why| figures.value(&why.figure).is_some_and(|s| s > 0.0)));
        let numbers = cutters.chosen.iter().map(|(task, c)| (*task, c.number)).collect();
        (numbers, cutters.why, look_over(&request))
    }

    fn says<'w>(why: &'w [Why], task: &str) -> &'w str {
        &why.iter().find(|w| w.figure.ends_with(task)).unwrap().says
    }

    #[test]
    fn the_wide_ball_that_saves_more_than_half_is_taken_and_the_sentence_says_so() {
        let (numbers, why, report) = chosen(JOB, &shelf(""));
        assert!(!report.has_errors(), "{report:#?}");
        assert_eq!(numbers[&Task::FinishInside], 9);
        let sentence = says(&why, "finish-inside");
        assert!(sentence.starts_with("For finishing the inside: T9 ball 12 mm, rows 0.98 mm apart"), "{sentence}");
        assert!(sentence.contains("would take about") && sentence.contains("min more"), "{sentence}");
        // By hand: √(8 R h) · n z fz of nos. 9 and 6, from the shelf's table.
        let rate = |diameter: f64, rpm: f64, fz: f64| (4.0 * diameter * 0.02).sqrt() * rpm * 2.0 * fz;
        assert!(rate(12.0, 14000.0, 0.15) > 2.0 * rate(6.35, 12000.0, 0.06));
    }

    #[test]
    fn another_shelf_is_planned_for_or_what_it_lacks_is_told() {
        // Three cutters of inch sizes are enough for a low bowl, and for what they cannot do they are not taken.
        let mut three = shelf("");
        three.cutters.retain(|c| [3, 5, 7].contains(&c.number));
        let (numbers, _, report) = chosen(&JOB.replace("height = 34", "height = 26"), &three);
        assert!(!report.has_errors(), "{report:#?}");
        assert_eq!((numbers[&Task::Face], numbers[&Task::RoughInside], numbers[&Task::FinishInside]), (3, 3, 5));
        three.cutters.retain(|c| c.number != 5 && c.number != 7);
        let (_, _, report) = chosen(JOB, &three);
        let texts: Vec<&str> = report.findings.iter().map(|f| f.text.as_str()).collect();
        assert!(texts.iter().any(|t| t.contains("no ball nose on the shelf at all")), "{texts:#?}");
        // The small machine has collets for none of the stout ones.
        let weak = shelf("use_machine = \"hobby\"");
        let (numbers, why, report) = chosen(JOB, &weak);
        assert!(!report.has_errors(), "{report:#?}");
        assert!(numbers.values().all(|n| ![1, 2, 9, 11].contains(n)), "{numbers:?}");
        assert!(says(&why, "rough-inside").contains("In conventional"), "{why:#?}");
    }

    #[test]
    fn what_is_settled_is_kept_to_or_refused_with_its_reason() {
        let settled = |text: &str| chosen(JOB, &shelf(text));
        let (numbers, why, report) = settled("[[choice]]\nfor = \"finish-inside\"\ncutter = 6\n");
        assert!(!report.has_errors(), "{report:#?}");
        assert_eq!(numbers[&Task::FinishInside], 6);
        assert!(says(&why, "finish-inside").contains("settled in shop.toml; T9 ball 12 mm would save"), "{why:#?}");
        let grain = |why: &[Why], setup: &str| says(why, &format!("grain.{setup}")).to_owned();
        let climb = grain(&why, "outside");
        assert!(
            climb.starts_with("The ball finishes in climb: either way round") && climb.contains("lift fibres out"),
            "{climb}"
        );
        let (_, why, _) = settled("[[choice]]\nfor = \"finish-inside\"\nsense = \"conventional\"\n");
        let turned = grain(&why, "inside");
        assert!(turned.contains("conventional, as settled") && turned.contains("look there for fibres"), "{turned}");
        assert_eq!(grain(&why, "outside"), climb);
        let cases = [
            ("for = \"finish-inside\"\ncutter = 7", "settled-cutter", "reaches"),
            ("for = \"finish-inside\"\ncutter = 3", "settled-cutter", "is no ball nose"),
            ("for = \"rough-inside\"\nstep_down = 30", "settled-step", "at most"),
            ("for = \"rough-hollow\"\ncutter = 3", "idle-choice", "does not need"),
        ];
        for (text, code, words) in cases {
            let tall = JOB.replace("height = 34", "height = 45");
            let (_, _, report) = chosen(&tall, &shelf(&format!("[[choice]]\n{text}\n")));
            let found = report.findings.iter().find(|f| f.code == code);
            let found = found.unwrap_or_else(|| panic!("{text}: {report:#?}"));
            assert!(found.text.contains(words) && found.at.is_some_and(|at| at.file == FileId(2)), "{found:#?}");
            assert_eq!(report.has_errors(), code != "idle-choice", "{text}");
        }
    }
}
