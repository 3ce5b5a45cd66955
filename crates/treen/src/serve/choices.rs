//! What the maker may choose, and what each choice would come to: every one is planned and proven as a job of its own,
//! one after the other, once it is asked for.

use super::edit::edited;
use super::wire::{ChoiceFigures, Edit, NewValue, OptionView, Question, Tried};
use crate::pipeline::Wish;
use crate::texts::Sources;
use job::{Freeing, Hold, Job, Placed, RouteKind};
use proof::{Check, State};
use route::Plan;
use trade::shelf::{Shelf, Task};
use workpiece::StepKind;

/// What roughing leaves and for how many days the wood rests, where the maker would let it (common practice, no source).
const REST: (&str, u32) = ("2.5 mm", 14);
/// Ridges that may be left to sand, as a share of what is asked for.
const FINER: f64 = 0.5;
const COARSER: f64 = 2.0;
/// How much warmer the shop may be kept, °C by day and night.
const WARMER: [f64; 2] = [5.0, 10.0];

/// One of the possibilities, and what it changes.
#[derive(Clone, Debug, PartialEq)]
struct Offer {
    key: String,
    label: String,
    now: bool,
    /// Changes of the job's text.
    set: Vec<Edit>,
}

/// What can be chosen for a job, with what is known of each; `tried` says how far a possibility is.
pub(super) fn questions(wish: &Wish, tried: &dyn Fn(&str) -> Tried, asked: &[String]) -> Vec<Question> {
    let (job, shelf) = (&wish.job, &wish.shelf);
    let mut out = Vec::new();
    let mut put = |title: &str, in_shop: bool, offers: Vec<Offer>| {
        if offers.len() < 2 {
            return;
        }
        let option = |offer: Offer| OptionView {
            comes_to: tried(&offer.key),
            key: offer.key,
            label: offer.label,
            now: offer.now,
            set: offer.set,
        };
        out.push(Question { title: title.to_owned(), in_shop, options: offers.into_iter().map(option).collect() });
    };
    put("How the piece comes free", false, freeing(job));
    let route = &job.route;
    put("What holds the blank rim up", false, holding("route.hold_blank", route.hold_blank.as_ref(), &Hold::ALL));
    if route.kind.value == RouteKind::TwoSided {
        let by_face = [Hold::Tape, Hold::Glue, Hold::Vacuum];
        put("What holds it foot up", false, holding("route.hold_outside", route.hold_outside.as_ref(), &by_face));
    }
    put("Rest between roughing and finishing", false, rest(job));
    put("Ridges left to sand", false, scallop(job));
    put(
        "Finish",
        false,
        named("finish", &job.route.finish.value, "route.finish", shelf.finishes.iter().map(|f| &f.name)),
    );
    for (k, cast) in job.casts.iter().enumerate() {
        let resins = shelf.resins.iter().filter(|r| !r.seal).map(|r| &r.name);
        let offers = named(&format!("resin.{k}"), &cast.resin.value, &format!("cast.{k}.resin"), resins);
        put(&format!("Resin of “{}”", cast.name.value), false, offers);
    }
    put("Warmth of the shop while resin cures", true, warmth(job, shelf));
    put("Machine", true, machines(shelf));
    put("Cutters", true, cutters(shelf, asked));
    out
}

fn offer(key: String, label: impl Into<String>, now: bool, set: Vec<Edit>) -> Offer {
    Offer { key, label: label.into(), now, set }
}

fn set(path: &str, to: NewValue) -> Edit {
    Edit { path: path.to_owned(), to }
}

fn text(value: impl Into<String>) -> NewValue {
    NewValue::Text { value: value.into() }
}

fn freeing(job: &Job) -> Vec<Offer> {
    if job.route.kind.value != RouteKind::OneSided {
        return Vec::new();
    }
    let now = job.route.freeing.value;
    vec![
        offer(
            "freeing=chips".into(),
            "All around it is milled away",
            now == Freeing::Chips,
            vec![set("route.freeing", text("chips"))],
        ),
        offer(
            "freeing=tabs".into(),
            "A moat, and tabs sawn by hand",
            now == Freeing::Tabs,
            vec![set("route.freeing", text("tabs"))],
        ),
    ]
}

fn holding(path: &str, now: Option<&Placed<Hold>>, all: &[Hold]) -> Vec<Offer> {
    let now = now.map_or(Hold::Tape, |hold| hold.value);
    let label = |hold| match hold {
        Hold::Tape => "Tape on both faces, glue between",
        Hold::Glue => "Glue and paper, straight on",
        Hold::Screws => "Screws from beneath, at the corners",
        Hold::Vacuum => "Vacuum",
        Hold::Vise => "A vise",
    };
    let offered = |hold: &Hold| {
        offer(format!("{path}={}", hold.word()), label(*hold), *hold == now, vec![set(path, text(hold.word()))])
    };
    all.iter().map(offered).collect()
}

fn rest(job: &Job) -> Vec<Offer> {
    if job.route.kind.value != RouteKind::TwoSided {
        return Vec::new();
    }
    let now = job.route.rest.is_some();
    let gone = vec![set("route.rest", NewValue::Gone), set("route.rest_days", NewValue::Gone)];
    let (length, days) = REST;
    let some =
        vec![set("route.rest", text(length)), set("route.rest_days", NewValue::Number { value: f64::from(days) })];
    let rests = format!("Roughed, then the wood rests for {days} days");
    vec![
        offer("rest=none".into(), "None: roughed and finished in one go", !now, gone),
        offer(
            "rest=some".into(),
            if now { "As the job says".to_owned() } else { rests },
            now,
            if now { Vec::new() } else { some },
        ),
    ]
}

fn scallop(job: &Job) -> Vec<Offer> {
    let now = job.route.scallop.value.as_mm();
    let share = |share: f64| {
        let mm = (now * share * 1000.0).round() / 1000.0;
        let label = super::edit::told(mm, job.units);
        offer(format!("scallop={mm}"), label, share == 1.0, vec![set("route.scallop", NewValue::Mm { value: mm })])
    };
    vec![share(FINER), share(1.0), share(COARSER)]
}

fn named<'a>(key: &str, now: &str, path: &str, names: impl Iterator<Item = &'a String>) -> Vec<Offer> {
    names.map(|name| offer(format!("{key}={name}"), name, name == now, vec![set(path, text(name))])).collect()
}

fn warmth(job: &Job, shelf: &Shelf) -> Vec<Offer> {
    if job.casts.is_empty() {
        return Vec::new();
    }
    let hours = &shelf.hours;
    let label = |by: f64| format!("{:.0} °C by day, {:.0} °C by night", hours.day_c + by, hours.night_c + by);
    let as_it_is = offer("warmth=0".into(), label(0.0), true, Vec::new());
    std::iter::once(as_it_is)
        .chain(WARMER.map(|by| offer(format!("warmth={by}"), label(by), false, Vec::new())))
        .collect()
}

fn machines(shelf: &Shelf) -> Vec<Offer> {
    let one = |name: &String| offer(format!("machine={name}"), name, *name == shelf.use_machine, Vec::new());
    shelf.machines.iter().map(|machine| one(&machine.name)).collect()
}

/// The planner's own choice, what the shop has settled, and whatever was asked for.
fn cutters(shelf: &Shelf, asked: &[String]) -> Vec<Offer> {
    let name = |task: Task, number: u32| {
        let cutter = shelf.cutters.iter().find(|c| c.number == number)?;
        Some(format!("T{number} {} for {}", cutter.name, task.words()))
    };
    let settled = shelf.choices.iter().filter_map(|choice| Some((choice.task, choice.cutter?)));
    let settled: Vec<(Task, u32)> = settled.collect();
    let as_it_is = match settled.is_empty() {
        true => "The planner chooses".to_owned(),
        false => settled.iter().filter_map(|(task, number)| name(*task, *number)).collect::<Vec<_>>().join("; "),
    };
    let other = asked.iter().filter_map(|key| {
        let (task, number) = cutter_of(key)?;
        Some(offer(key.clone(), name(task, number)?, false, Vec::new()))
    });
    std::iter::once(offer("cutters=now".into(), as_it_is, true, Vec::new())).chain(other).collect()
}

fn cutter_of(key: &str) -> Option<(Task, u32)> {
    let (task, number) = key.strip_prefix("cutter.")?.split_once('=')?;
    let task = Task::ALL.into_iter().find(|known| known.key() == task)?;
    Some((task, number.parse().ok()?))
}

/// The texts with a possibility chosen.
///
/// # Errors
/// In words, if it is none or does not fit the texts.
pub(super) fn chosen(sources: &Sources, wish: &Wish, key: &str) -> Result<Sources, String> {
    let known = questions(wish, &|_| Tried::Untried, &[key.to_owned()]);
    let found = known.iter().find_map(|q| Some((q.in_shop, q.options.iter().find(|option| option.key == key)?)));
    let (in_shop, option) = found.ok_or_else(|| format!("“{key}” is nothing that can be chosen here"))?;
    let mut out = sources.clone();
    if in_shop {
        let before = sources.shop.map_or("", |file| sources.texts.content(file));
        let text = in_the_shop(before, &wish.shelf, key)?;
        let name = sources.texts.get(sources.job).map_or("job.toml", |text| text.name.as_str());
        out.shop = Some(out.texts.put(name.replace("job.toml", "shop.toml"), text));
    } else {
        let text = edited(sources.texts.content(sources.job), &option.set)?;
        let name = sources.texts.get(sources.job).map_or(String::new(), |text| text.name.clone());
        out.job = out.texts.put(name, text);
    }
    Ok(out)
}

/// The shop's own file with a possibility chosen.
fn in_the_shop(before: &str, shelf: &Shelf, key: &str) -> Result<String, String> {
    let mut document: toml_edit::DocumentMut =
        before.parse().map_err(|e: toml_edit::TomlError| format!("shop.toml has a mistake: {}", e.message()))?;
    if let Some(name) = key.strip_prefix("machine=") {
        document["use_machine"] = toml_edit::value(name);
    } else if let Some(by) = key.strip_prefix("warmth=").and_then(|by| by.parse::<f64>().ok()) {
        if !document.contains_key("hours") {
            document["hours"] = toml_edit::table();
        }
        document["hours"]["day_c"] = toml_edit::value(shelf.hours.day_c + by);
        document["hours"]["night_c"] = toml_edit::value(shelf.hours.night_c + by);
    } else if let Some((task, number)) = cutter_of(key) {
        let choices =
            document.entry("choice").or_insert(toml_edit::Item::ArrayOfTables(toml_edit::ArrayOfTables::new()));
        let choices = choices.as_array_of_tables_mut().ok_or("`choice` in shop.toml is no list of tables")?;
        let settled = choices.iter_mut().find(|one| one.get("for").and_then(|of| of.as_str()) == Some(task.key()));
        match settled {
            Some(one) => one["cutter"] = toml_edit::value(i64::from(number)),
            None => {
                let mut one = toml_edit::Table::new();
                one["for"] = toml_edit::value(task.key());
                one["cutter"] = toml_edit::value(i64::from(number));
                choices.push(one);
            }
        }
    }
    Ok(document.to_string())
}

/// What a plan and its proof come to.
pub(super) fn figures(plan: &Plan, checks: &[Check]) -> ChoiceFigures {
    let of = |state: State| checks.iter().filter(|c| c.state == state).map(|c| c.title.clone()).collect();
    let carves = plan.steps.iter().filter(|s| matches!(s.kind, StepKind::Carve | StepKind::Level));
    ChoiceFigures {
        machine_s: carves.map(|s| s.duration_s).sum(),
        hands_s: plan.steps.iter().map(|s| s.hands_on_s).sum(),
        wait_s: plan.steps.iter().map(|s| s.wait_s).sum(),
        cost: plan.cost.total,
        currency: plan.cost.currency.clone(),
        fails: of(State::Fails),
        watch: of(State::Watch),
    }
}
