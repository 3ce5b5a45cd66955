//! What the shelf lacks for a making: which cutter, what the nearest one falls short of, and the least change that helps.
//!
//! All that is missing is told at once. A remedy is found by asking the same needs again with another height, depth or
//! machine, so what it names does serve.

use crate::Request;
use crate::choose::{Kind, Lack, NUT_CLEAR, Need, lacks, reach, serving};
use crate::concave::Concave;
use crate::needs::{Limit, Making, ROUND_ROOM, Task, deepest_place, kind, narrowest};
use base::{At, Report, Units, mm};
use job::{CastForm, CastSpec};
use trade::figures::room::least_grip;
use trade::shelf::{Cutter, Machine};

/// What helps shanks past a steep wall.
const LEAN: &str = "lean the wall by a degree or more (`draft`)";
/// Least depth of a vessel that a remedy may leave, mm.
const LEAST_DEPTH: f64 = 5.0;

/// The making, and how it would be with every other ball on the shelf as the one that finishes.
pub(crate) struct Search<'a, 'r> {
    /// The request.
    pub(crate) request: &'r Request<'a>,
    /// The making as it is planned.
    pub(crate) making: Making<'a>,
    /// Each ball of the shelf with its making; `None` stands for a ball that the shelf does not hold.
    pub(crate) options: Vec<(Option<&'a Cutter>, Making<'a>)>,
    /// Greatest shrinkage of the resins, fraction.
    pub(crate) shrink: f64,
}

/// Why no cutter serves for a task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cause {
    /// A detail is smaller than the cutter.
    Detail(Limit),
    /// A hollow is too deep for the cutters.
    Hollow,
    /// The piece is too high for cutters or machine.
    Height,
    /// A wall is so steep that necks or shanks rub.
    Steep,
    /// Nothing of the piece: the shelf has no such cutter, or the machine no collet for it.
    Shelf,
}

/// Tells all that is missing for these tasks.
pub(crate) fn tell(search: &Search<'_, '_>, missing: &[Task], report: &mut Report) {
    let mut groups: Vec<(Cause, Option<Kind>, Vec<Task>)> = Vec::new();
    for task in missing {
        for cause in search.causes(*task) {
            // A detail is one mistake, however many cutters it is too small for.
            let of = (!matches!(cause, Cause::Detail(_))).then_some(kind(*task));
            match groups.iter_mut().find(|(c, k, _)| (*c, *k) == (cause, of)) {
                Some((_, _, tasks)) => tasks.push(*task),
                None => groups.push((cause, of, vec![*task])),
            }
        }
    }
    let high: Vec<Task> = groups.iter().filter(|(c, ..)| *c == Cause::Height).flat_map(|(.., t)| t.clone()).collect();
    for (cause, _, tasks) in &groups {
        match cause {
            Cause::Detail(limit) => search.detail(*limit, tasks, report),
            Cause::Hollow => search.hollow(tasks, report),
            Cause::Height => search.height(tasks, &high, report),
            Cause::Steep => search.steep(tasks, report),
            Cause::Shelf => search.shelf(tasks, report),
        }
    }
}

impl<'a> Search<'a, '_> {
    fn units(&self) -> Units {
        self.request.job.units
    }

    /// A length in a message: one that must be reached rounded up, one that must be kept to rounded down.
    fn up(&self, value: f64) -> String {
        self.units().up(value)
    }

    fn down(&self, value: f64) -> String {
        self.units().down(value)
    }

    fn machine(&self) -> &'a Machine {
        self.making.machine
    }

    /// Cutters of the kind that a task wants.
    fn of_kind(&self, task: Task) -> impl Iterator<Item = &'a Cutter> {
        self.request.shelf.cutters.iter().filter(move |c| kind(task).is(c))
    }

    fn serves(&self, need: &Need<'_>) -> bool {
        !serving(self.request.shelf, self.machine(), need).is_empty()
    }

    fn causes(&self, task: Task) -> Vec<Cause> {
        let need = self.making.need(task);
        let (_, limit) = self.making.stoutest(task);
        let stout = Need { diameter_max: f64::INFINITY, ..need };
        // A wall so steep that shanks rub is told of once all else would serve.
        if self.serves(&Need { beside: None, ..need }) {
            return vec![Cause::Steep];
        }
        let need = Need { beside: None, ..need };
        let stout = Need { beside: None, ..stout };
        let short = Need { depth: 0.0, stickout_max: f64::INFINITY, ..need };
        let deep = || match task {
            Task::RoughHollow | Task::FinishHollow if self.serves(&Need { depth: 0.0, ..need }) => Cause::Hollow,
            _ => Cause::Height,
        };
        let detail = limit != Limit::Usual;
        match (detail && self.serves(&stout), self.serves(&short)) {
            (true, _) => vec![Cause::Detail(limit)],
            (false, true) => vec![deep()],
            (false, false) if detail && self.serves(&Need { diameter_max: f64::INFINITY, ..short }) => {
                vec![Cause::Detail(limit), deep()]
            }
            (false, false) => vec![Cause::Shelf],
        }
    }

    /// Whether the shelf can do these tasks after a change.
    fn can(&self, tasks: &[Task], change: &dyn Fn(&mut Making<'a>)) -> bool {
        self.options.iter().any(|(ball, making)| {
            let mut changed = *making;
            change(&mut changed);
            self.done(tasks, *ball, &changed)
        })
    }

    /// Whether the shelf can do these tasks if this ball is the one that finishes, and the ball that.
    fn done(&self, tasks: &[Task], ball: Option<&Cutter>, making: &Making<'_>) -> bool {
        let leads = |ball: &Cutter| lacks(ball, making.machine, &making.need(making.leading())).is_empty();
        let others = tasks.iter().filter(|task| **task != making.leading());
        let mut needs = others.map(|task| making.need(*task));
        ball.map_or(!tasks.contains(&making.leading()), leads)
            && needs.all(|need| !serving(self.request.shelf, making.machine, &need).is_empty())
    }

    /// The greatest size between two at which the tasks can be done, in whole steps of what is printed.
    fn greatest(&self, tasks: &[Task], (low, high): (f64, f64), change: &dyn Fn(&mut Making<'a>, f64)) -> Option<f64> {
        let step = self.units().step();
        let can = |steps: i64| self.can(tasks, &|making| change(making, steps as f64 * step));
        // What can be done at a size can be done at any smaller one: reach is needed less, and room is gained.
        let (mut good, mut bad) = ((low / step).ceil() as i64, (high / step).ceil() as i64);
        if bad <= good || !can(good) {
            return None;
        }
        while bad - good > 1 {
            let middle = good + (bad - good) / 2;
            if can(middle) { good = middle } else { bad = middle }
        }
        Some(good as f64 * step)
    }

    /// The cutter of the right kind that falls short of a need by the least, and of what.
    fn nearest(&self, task: Task) -> Option<(&'a Cutter, Vec<Lack>)> {
        let need = self.making.need(task);
        let all = self.of_kind(task).map(|c| (c, lacks(c, self.machine(), &need)));
        all.min_by(|a, b| a.1.len().cmp(&b.1.len()).then(shortfall(&a.1).total_cmp(&shortfall(&b.1))))
    }

    /// The task of a group that falls short the most.
    fn hardest(&self, tasks: &[Task]) -> Task {
        let by = |task: &Task| self.nearest(*task).map_or(f64::INFINITY, |(_, lacks)| shortfall(&lacks));
        tasks.iter().copied().max_by(|a, b| by(a).total_cmp(&by(b))).unwrap_or(Task::Face)
    }

    fn height(&self, tasks: &[Task], all_high: &[Task], report: &mut Report) {
        let height = &self.request.job.piece.height;
        let least = self.making.floor_z + LEAST_DEPTH;
        let lowered = |making: &mut Making<'a>, height: f64| {
            making.deepest = making.deepest.map(|d| d.min(height - least));
            making.sizes.height = height;
        };
        let drawn = self.request.job.piece.mesh.is_none();
        let greatest = drawn.then(|| self.greatest(all_high, (least, height.value.as_mm()), &lowered)).flatten();
        let greatest = greatest.and_then(|h| self.sure(all_high, (least, h)));
        let shorter = |h: f64| self.making.deepest.is_some_and(|d| d > h - least);
        let too = |h| if shorter(h) { ", with casts that end above its floor" } else { "" };
        let lower = greatest.map(|h| format!("make the piece {} high or lower{}", self.down(h), too(h)));
        let mut remedies: Vec<String> = lower.into_iter().collect();
        remedies.extend(self.other_remedies(tasks, all_high));
        self.reach(tasks, height.at, remedies, report);
    }

    /// The greatest height, not above the second, at which a piece of that height really can be made: a lower piece has another
    /// shape, and with it other waste beyond its rim.
    fn sure(&self, tasks: &[Task], (least, greatest): (f64, f64)) -> Option<f64> {
        let step = self.units().step();
        let can = |steps: i64| self.can_at(tasks, steps as f64 * step);
        let mut bad = (greatest / step).round() as i64;
        if can(bad) {
            return Some(greatest);
        }
        // Down in growing strides, then between the last two.
        let mut stride = 1;
        let mut good = bad - stride;
        while !can(good) {
            (bad, stride) = (good, stride * 2);
            good = bad - stride;
            if good as f64 * step < least {
                return None;
            }
        }
        while bad - good > 1 {
            let middle = good + (bad - good) / 2;
            if can(middle) { good = middle } else { bad = middle }
        }
        Some(good as f64 * step)
    }

    /// Whether the tasks can be done for the piece made anew with another height.
    fn can_at(&self, tasks: &[Task], height: f64) -> bool {
        let mut job = self.request.job.clone();
        job.piece.height.value = mm(height);
        // What else is wrong with such a piece is told when it is asked for.
        let Some(piece) = shape::piece(&job.piece, self.request.piece.tolerance).0 else { return true };
        let request = Request { job: &job, shelf: self.request.shelf, piece: &piece, measured: None };
        let concave = Concave::of(&piece);
        self.options.iter().any(|(ball, before)| {
            let radius = ball.map_or(0.0, |ball| ball.solid.radius());
            self.done(tasks, *ball, &Making::tried(&request, before.machine, concave, (radius, self.shrink)))
        })
    }

    fn hollow(&self, tasks: &[Task], report: &mut Report) {
        let Some((cast, at)) = deepest_place(&self.request.job.casts) else { return };
        let deepest = self.making.deepest.unwrap_or(0.0);
        let greatest = self.greatest(tasks, (0.0, deepest), &|making, depth| making.deepest = Some(depth));
        let shallower = greatest.and_then(|depth| self.shallower(cast, depth));
        let mut remedies: Vec<String> = shallower.into_iter().collect();
        remedies.extend(self.other_remedies(tasks, tasks));
        self.reach(tasks, at, remedies, report);
    }

    fn shallower(&self, cast: &CastSpec, depth: f64) -> Option<String> {
        match &cast.form {
            CastForm::RimDrips { band, .. } if depth > band.value.as_mm() => {
                Some(format!("make the drips {} long or shorter", self.down(depth - band.value.as_mm())))
            }
            CastForm::RingBand { .. } if depth > 0.0 => {
                Some(format!("make the band {} high or lower", self.down(depth)))
            }
            CastForm::River { .. } | CastForm::Speckle { .. } if depth > 0.0 => {
                Some(format!("make it {} deep or less", self.down(depth)))
            }
            _ => None,
        }
    }

    /// What can be done without a change of the piece.
    fn other_remedies(&self, tasks: &[Task], all: &[Task]) -> Vec<String> {
        let shelf = self.request.shelf;
        let others = shelf.machines.iter().filter(|m| m.name != self.machine().name);
        let fit = others.filter(|m| self.can(all, &|making| making.machine = m));
        let mut remedies: Vec<String> =
            fit.map(|m| format!("make it on the machine \"{0}\" (`use_machine = \"{0}\"`)", m.name)).collect();
        let task = self.hardest(tasks);
        let need = self.making.need(task);
        let wanted = need.depth + NUT_CLEAR;
        if wanted > need.stickout_max {
            return remedies;
        }
        if let Some((cutter, found)) = self.nearest(task) {
            let grip = cutter.overall - wanted;
            if matches!(found[..], [Lack::Reach(_)]) && grip >= least_grip(cutter.solid.shank_diameter) {
                remedies.push(format!(
                    "let cutter {} stick out {} ({} of it stay in the collet), and write that and the speed it bears then into shop.toml beside the job",
                    cutter.number,
                    self.up(wanted),
                    self.down(grip)
                ));
            }
        }
        remedies.push(format!(
            "put a {} on the shelf that sticks out {} to {}",
            need.words(),
            self.up(wanted),
            self.down(need.stickout_max)
        ));
        remedies
    }

    /// A finding about a cutter that reaches too little, or has too little room.
    fn reach(&self, tasks: &[Task], at: Option<At>, remedies: Vec<String>, report: &mut Report) {
        let task = self.hardest(tasks);
        let need = self.making.need(task);
        let (what, kind, machine) = (listed(tasks), need.words(), &self.machine().name);
        let room = reach(need.stickout_max);
        let text = if room <= 0.0 {
            format!(
                "for {what} a {kind} must reach {} deep, and above the stock the machine \"{machine}\" leaves no room under its nut for any cutter",
                self.up(need.depth)
            )
        } else if room < need.depth {
            format!(
                "for {what} a {kind} must reach {} deep, and above the stock the machine \"{machine}\" has room under its nut for cutters that reach {}: no cutter can do both",
                self.up(need.depth),
                self.down(room)
            )
        } else {
            format!(
                "for {what} a {kind} must reach {} deep and be at most {} thick; {}",
                self.up(need.depth),
                self.down(need.diameter_max),
                self.nearest_in_words(task)
            )
        };
        let finding = report.error("missing-cutter", at.or(self.request.job.piece.at), text);
        if remedies.is_empty() {
            finding.hint("make the piece lower, or use a machine with more room under its nut");
        } else {
            finding.hint(remedies.join("; or "));
        }
    }

    /// A finding about a wall beside which every cutter that reaches down it rubs.
    fn steep(&self, tasks: &[Task], report: &mut Report) {
        let task = self.hardest(tasks);
        let need = self.making.need(task);
        let place = &self.request.job.piece;
        let (at, easier) = match task {
            Task::FinishOutside | Task::RoughOutside => (place.outside.at, LEAN),
            Task::FinishInside | Task::RoughInside => (place.inside.at, LEAN),
            _ => (deepest_place(&self.request.job.casts).and_then(|(_, at)| at), "make the hollow less deep"),
        };
        let text = format!(
            "for {} a {} must reach {} deep beside a wall so steep that necks and shanks rub and burn; {}",
            listed(tasks),
            need.kind.words(),
            self.up(need.depth),
            self.nearest_in_words(task)
        );
        let hint = format!(
            "{easier}; or put a {} on the shelf whose edges reach {} deep, or whose neck is thinner than its edges by {} all round",
            need.kind.words(),
            self.up(need.depth),
            self.units().fine(crate::shank::SHANK_CLEAR)
        );
        report.error("steep-wall", at.or(self.request.job.piece.at), text).hint(hint);
    }

    /// A finding about the shelf alone.
    fn shelf(&self, tasks: &[Task], report: &mut Report) {
        let task = self.hardest(tasks);
        let need = self.making.need(task);
        let text = format!(
            "for {} a {} is needed that reaches {} deep and is at most {} thick; {}",
            listed(tasks),
            need.words(),
            self.up(need.depth),
            self.down(need.diameter_max),
            self.nearest_in_words(task)
        );
        let sizes: Vec<String> = self.machine().collets.iter().map(|c| mm(*c).to_string()).collect();
        let shank = format!("put one with a shank of {} on the shelf", sizes.join(" or "));
        let collet = self.nearest(task).filter(|(_, lacks)| lacks.contains(&Lack::Collet));
        let remedies = collet.map(|(c, _)| {
            format!("get a collet for {} and list it under `collets` of the machine", mm(c.solid.shank_diameter))
        });
        let remedies: Vec<String> = std::iter::once(shank).chain(remedies).chain(self.other_angle(task)).collect();
        let mark = self.request.job.piece.mark.as_ref().and_then(|m| m.value.angle_deg.at.or(m.at));
        let at = mark.filter(|_| task == Task::Engrave).or(self.request.job.piece.at);
        report.error("missing-cutter", at, text).hint(remedies.join("; or "));
    }

    /// The angle at which a pointed cutter of the shelf would engrave the mark.
    fn other_angle(&self, task: Task) -> Option<String> {
        let (cutter, found) = self.nearest(task)?;
        let [Lack::Angle(angle)] = found[..] else { return None };
        Some(format!("set `angle` of the mark to {}, that of {}", angle, named(cutter)))
    }

    fn nearest_in_words(&self, task: Task) -> String {
        let need = self.making.need(task);
        let Some((cutter, found)) = self.nearest(task) else {
            return format!("there is no {} on the shelf at all", need.kind.words());
        };
        let words: Vec<String> = found.iter().map(|lack| self.lack_in_words(cutter, *lack)).collect();
        format!("the nearest on the shelf, {}, {}", named(cutter), words.join(" and "))
    }

    pub(crate) fn lack_in_words(&self, cutter: &Cutter, lack: Lack) -> String {
        let s = &cutter.solid;
        match lack {
            Lack::Reach(short) => format!("reaches {}, {} short", self.down(reach(s.stickout)), self.up(short)),
            Lack::Room(over) => format!(
                "sticks out {}, {} too far for its tip to rise above the stock",
                mm(s.stickout).told(self.units()),
                self.up(over)
            ),
            Lack::Thick(over) => {
                format!("is {} thick, {} too much", mm(s.diameter).told(self.units()), self.up(over))
            }
            Lack::Angle(is) => {
                format!("has {}° between its sides, and the strokes another angle", is)
            }
            Lack::Edge(short) => format!("has edges that end {} too low for the depth of the strokes", self.up(short)),
            Lack::Blunt(over) => format!("has a point that is {} too wide for the thinnest stroke", self.up(over)),
            Lack::Collet => format!(
                "has a shank of {}, which fits no collet of the machine \"{}\"",
                mm(s.shank_diameter).told(self.units()),
                self.machine().name
            ),
            Lack::Shank(near) => {
                format!("comes {} too near to the wall with its neck or shank and would rub", self.up(near))
            }
        }
    }

    /// A finding about a detail smaller than the finest cutter that reaches it.
    fn detail(&self, limit: Limit, tasks: &[Task], report: &mut Report) {
        let finest: Vec<(Task, &Cutter)> = tasks.iter().filter_map(|t| Some((*t, self.finest(*t)?))).collect();
        let thickest = finest.iter().map(|(_, c)| c.solid.diameter).fold(0.0, f64::max);
        let each: Vec<String> = finest.iter().map(|(task, c)| format!("{} for {}", named(c), task.words())).collect();
        let depth = tasks.iter().map(|t| self.making.need(*t).depth).fold(0.0, f64::max);
        let lets_in = tasks.iter().map(|t| self.making.stoutest(*t).0).fold(f64::INFINITY, f64::min);
        let detail = self.detail_in_words(limit, lets_in, thickest);
        let text = format!(
            "detail smaller than the cutter: {}, and the finest on the shelf that {} {} deep {} {}; expected {} or more, {}",
            detail.what.replace("SIZE", &mm((detail.is * 1000.0).round() / 1000.0).told(self.units())),
            if each.len() > 1 { "reach" } else { "reaches" },
            self.up(depth),
            if each.len() > 1 { "are" } else { "is" },
            each.join(" and "),
            self.up(detail.least),
            detail.rule
        );
        let hint = format!("{}; or put a finer cutter on the shelf that reaches as deep", detail.remedy);
        report.error("detail-too-small", detail.at.or(self.request.job.piece.at), text).hint(hint);
    }

    /// The finest cutter that would serve for a task if the detail were larger; otherwise the finest of its kind.
    fn finest(&self, task: Task) -> Option<&'a Cutter> {
        let stout = Need { diameter_max: f64::INFINITY, ..self.making.need(task) };
        let thin = |a: &&Cutter, b: &&Cutter| a.solid.diameter.total_cmp(&b.solid.diameter);
        let reaching = self.of_kind(task).filter(|c| lacks(c, self.machine(), &stout).is_empty());
        reaching.min_by(thin).or_else(|| self.of_kind(task).min_by(thin))
    }

    /// What the detail is; it lets in a cutter of diameter `lets_in`, and must let in one of `cutter`.
    fn detail_in_words(&self, limit: Limit, lets_in: f64, cutter: f64) -> Detail {
        let job = self.request.job;
        let piece = &job.piece;
        let narrow = narrowest(&job.casts);
        let (times, over, of) = match &narrow {
            Some(narrow) if limit == Limit::Slot => (narrow.cast.form.room(), 1.0, "width"),
            _ => (ROUND_ROOM, 2.0, "radius"),
        };
        let (is, least) = (lets_in * times / over, cutter * times / over);
        let rule = format!("{times} times the cutter's {of}");
        let size = self.up(least);
        let (what, at, remedy) = match limit {
            Limit::Slot | Limit::Usual => (
                "the narrowest of the hollows are SIZE wide",
                narrow.and_then(|narrow| width_place(narrow.cast)),
                format!("set the least `width` to {size} or more"),
            ),
            Limit::Fillet => (
                "the fillet between inside wall and floor has a radius of SIZE",
                piece.floor_radius.at,
                format!("set `floor_radius` to {size} or more"),
            ),
            Limit::Outline => (
                "seen from above the tightest hollow of the outline has a radius of SIZE",
                piece.outline.at,
                format!("make the outline rounder: {size} or more there"),
            ),
            Limit::Outside => (
                "the hollow of the outside's profile has a radius of SIZE",
                piece.outside.at,
                "draw the foot in less, or take another profile".to_owned(),
            ),
            Limit::Recess => (
                "seen from above the corners of the foot's recess have a radius of SIZE",
                piece.foot.at,
                "make the land narrower, draw the foot in less, or leave the foot flat".to_owned(),
            ),
        };
        Detail { what, is, least, rule, at, remedy }
    }
}

fn width_place(cast: &CastSpec) -> Option<At> {
    cast.form.narrowest().map_or(cast.at, |width| width.at)
}

/// A detail that is too small.
struct Detail {
    /// In words, with SIZE for how large it is.
    what: &'static str,
    is: f64,
    least: f64,
    rule: String,
    at: Option<At>,
    remedy: String,
}

/// How much is lacking in all, mm; a collet counts as nothing, for it can be bought.
fn shortfall(lacks: &[Lack]) -> f64 {
    let each = lacks.iter().map(|lack| match lack {
        Lack::Reach(by) | Lack::Room(by) | Lack::Thick(by) | Lack::Shank(by) => *by,
        Lack::Angle(_) | Lack::Edge(_) | Lack::Blunt(_) | Lack::Collet => 0.0,
    });
    each.sum()
}

pub(crate) fn named(cutter: &Cutter) -> String {
    format!("cutter {} “{}”", cutter.number, cutter.name)
}

/// `roughing the outside, roughing the inside`.
fn listed(tasks: &[Task]) -> String {
    let words: Vec<&str> = tasks.iter().map(|t| t.words()).collect();
    match words.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::planner::look_over;
    use base::FileId;

    /// What is found before planning on the weaker machine, for a bowl with these changes of its text.
    fn findings(changes: &[(&str, &str)]) -> Report {
        let mut text = JOB.to_owned();
        for (from, to) in changes {
            assert!(text.contains(from), "{from}");
            text = text.replacen(from, to, 1);
        }
        let (job, mut report) = job::parse(&text, FileId(0));
        let job = job.unwrap();
        let shelf = trade::parse(trade::DEFAULT_SHELF, FileId(1)).0.unwrap();
        let (shelf, _) = trade::parse_over(&shelf, "use_machine = \"hobby\"", FileId(2));
        let (piece, found) = shape::piece(&job.piece, 0.05);
        report.absorb(found);
        let (piece, shelf) = (piece.unwrap(), shelf.unwrap());
        report.absorb(look_over(&Request { job: &job, shelf: &shelf, piece: &piece, measured: None }));
        report
    }

    const JOB: &str = r##"
        title = "Bowl"
        [piece]
        outline = { kind = "circle", diameter = 150 }
        height = 60
        wall = 6
        floor = 7
        floor_radius = 12
        outside = { kind = "round", foot_inset = 20 }
        inside = { kind = "follow" }
        foot = { kind = "pad" }
        [[cast]]
        name = "drips"
        kind = "rim-drips"
        resin = "medium casting"
        colour = "#1f7a8c"
        band = 5
        count = 6
        length = [6, 10]
        width = [8, 10]
        [blank]
        wood = "black cherry"
        boards = "8/4"
        [route]
        kind = "two-sided"
        scallop = 0.02
        finish = "shellac"
    "##;

    fn with_code<'r>(report: &'r Report, code: &str) -> Vec<&'r base::Finding> {
        report.findings.iter().filter(|f| f.code == code).collect()
    }

    /// The number after some words of the hint.
    fn named(finding: &base::Finding, words: &str) -> f64 {
        let hint = finding.hint.as_deref().unwrap();
        let rest = hint.split(words).nth(1).unwrap_or_else(|| panic!("no {words:?} in {hint}"));
        rest.split_whitespace().next().unwrap().parse().unwrap()
    }

    fn place(finding: &base::Finding, changes: &[(&str, &str)]) -> String {
        let text = changes.iter().fold(JOB.to_owned(), |text, (from, to)| text.replacen(from, to, 1));
        let at = finding.at.unwrap();
        text[at.start as usize..at.end as usize].to_owned()
    }

    #[test]
    fn the_height_that_is_named_serves_and_a_step_more_does_not() {
        let found = findings(&[]);
        let high = with_code(&found, "missing-cutter");
        assert!(high.len() >= 2, "{found:#?}");
        assert!(high.iter().all(|f| place(f, &[]) == "60"), "{high:#?}");
        let height = named(high[0], "make the piece ");
        assert!((25.0..60.0).contains(&height), "{height}");
        let at = |height: f64| {
            let text = format!("height = {height:.1}");
            with_code(&findings(&[("height = 60", &text)]), "missing-cutter").len()
        };
        assert_eq!((at(height), at(height + 0.1) > 0), (0, true), "{height}");
    }

    #[test]
    fn the_width_that_is_named_serves_and_less_does_not() {
        let narrow = [("height = 60", "height = 34"), ("width = [8, 10]", "width = [3, 10]")];
        let found = findings(&narrow);
        let [finding] = with_code(&found, "detail-too-small")[..] else { panic!("{found:#?}") };
        assert_eq!(place(finding, &narrow), "[3, 10]");
        let width = named(finding, "`width` to ");
        // 1.15 times a quarter of an inch: finer ones have shanks too thick for the depth.
        assert!((width - 1.15 * 6.35).abs() < 0.1, "{width}");
        let at = |width: f64| {
            let text = format!("width = [{width:.1}, 10]");
            findings(&[narrow[0], (narrow[1].0, &text)]).has_errors()
        };
        assert_eq!((at(width), at(width - 0.1)), (false, true));
    }

    #[test]
    fn the_fillet_that_is_named_serves_and_less_does_not() {
        let tight = [("height = 60", "height = 34"), ("floor_radius = 12", "floor_radius = 1")];
        let found = findings(&tight);
        let [finding] = with_code(&found, "detail-too-small")[..] else { panic!("{found:#?}") };
        assert_eq!(place(finding, &tight), "1");
        let radius = named(finding, "`floor_radius` to ");
        let at = |radius: f64| {
            let text = format!("floor_radius = {radius:.1}");
            let found = findings(&[tight[0], (tight[1].0, &text)]);
            // A ball fine enough for less may have too thick a shank.
            ["detail-too-small", "steep-wall"].map(|code| with_code(&found, code).len()).iter().sum::<usize>()
        };
        assert_eq!((at(radius), at(radius - 0.1)), (0, 1));
    }

    #[test]
    fn missing_cutters_do_not_hide_what_else_is_wrong() {
        let found = findings(&[("count = 6", "count = 90"), ("boards = \"8/4\"", "boards = \"7/4\"")]);
        for code in ["missing-cutter", "drips-do-not-fit", "unknown-board"] {
            assert!(!with_code(&found, code).is_empty(), "{code} in {found:#?}");
        }
    }
}
