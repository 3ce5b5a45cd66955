//! What cutters are wanted for, and what the maker of this shop has settled about it.

use super::reader::{Section, within};
use base::At;
use serde::{Deserialize, Serialize};

/// What a cutter is wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Task {
    /// Facing blank, resin and foot.
    Face,
    /// Roughing the hollows for the resin.
    RoughHollow,
    /// Finishing them.
    FinishHollow,
    /// Roughing the outside.
    RoughOutside,
    /// Finishing the outside.
    FinishOutside,
    /// Engraving the mark under the foot.
    Engrave,
    /// Roughing the inside.
    RoughInside,
    /// Finishing the inside.
    FinishInside,
}

impl Task {
    /// All of them, in the order in which a person meets them.
    pub const ALL: [Self; 8] = [
        Self::Face,
        Self::RoughHollow,
        Self::FinishHollow,
        Self::RoughOutside,
        Self::FinishOutside,
        Self::Engrave,
        Self::RoughInside,
        Self::FinishInside,
    ];

    /// In words that follow “for”.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Face => "facing",
            Self::RoughHollow => "roughing the hollow",
            Self::FinishHollow => "finishing the hollow",
            Self::RoughOutside => "roughing the outside",
            Self::FinishOutside => "finishing the outside",
            Self::Engrave => "engraving the mark",
            Self::RoughInside => "roughing the inside",
            Self::FinishInside => "finishing the inside",
        }
    }

    /// As it is written in a file.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::RoughHollow => "rough-hollow",
            Self::FinishHollow => "finish-hollow",
            Self::RoughOutside => "rough-outside",
            Self::FinishOutside => "finish-outside",
            Self::Engrave => "engrave",
            Self::RoughInside => "rough-inside",
            Self::FinishInside => "finish-inside",
        }
    }

    /// Whether a cutter takes a volume away by levels in it.
    pub const fn roughs(self) -> bool {
        matches!(self, Self::RoughHollow | Self::RoughOutside | Self::RoughInside)
    }
}

/// What the maker has settled for a task; the planner chooses the rest. Lengths mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// The task.
    pub task: Task,
    /// Where it stands.
    pub at: Option<At>,
    /// The cutter, by its number.
    pub cutter: Option<u32>,
    /// Step-down of roughing.
    pub step_down: Option<f64>,
    /// Stepover of roughing, fraction of the diameter.
    pub stepover: Option<f64>,
    /// Sense of the cut.
    pub sense: Option<Sense>,
}

/// Which way the edges go through the work, seen from the feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Sense {
    /// With the feed: the chip begins thick.
    Climb,
    /// Against it: the chip begins thin.
    Conventional,
}

impl Sense {
    /// In trade words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Climb => "climb",
            Self::Conventional => "conventional",
        }
    }
}

const WHAT: &str = "what this shop settles about a task; the planner chooses the rest";

/// Reads the choices; `known` are the numbers of the cutters on the shelf.
pub(super) fn apply(s: &mut Section<'_>, known: &[u32], choices: &mut Vec<Choice>) {
    s.each_table("choice", WHAT, |s| {
        let before = choices.len();
        choices.extend(choice(s));
        if let [rest @ .., last] = &choices[..]
            && choices.len() > before
        {
            if rest.iter().any(|c| c.task == last.task) {
                let text = format!("`{}` is settled twice", last.task.key());
                s.refuse_at("for", "settled-twice", text, "write one [[choice]] for each task");
            }
            if let Some(number) = last.cutter.filter(|n| !known.contains(n)) {
                let text = format!("there is no cutter `{number}` on the shelf");
                let listed: Vec<String> = known.iter().map(u32::to_string).collect();
                s.refuse_at("cutter", "no-such-cutter", text, &format!("there are {}", listed.join(", ")));
            }
        }
    });
}

/// Declares the same for the schema.
pub(super) fn describe(s: &mut Section<'_>) {
    s.tables("choice", WHAT, &mut Vec::new(), choice);
}

fn choice(s: &mut Section<'_>) -> Option<Choice> {
    let mut found = None;
    s.needed(|s| found = s.choice("for", &Task::ALL.map(Task::key), "the task"));
    let task = Task::ALL[found.unwrap_or(0)];
    let (mut number, mut step_down, mut stepover) = (0, 0.0, 0.0);
    s.count("cutter", within(1.0, 9999.0), &mut number, "number of the cutter on the shelf");
    if task.roughs() || s.describing() {
        s.length("step_down", within(0.1, 50.0), &mut step_down, "step-down of roughing, mm");
        s.number("stepover", within(0.1, 0.6), &mut stepover, "stepover of roughing, fraction of the diameter");
    }
    let mut sense = None;
    if !matches!(task, Task::Face | Task::Engrave) || s.describing() {
        let both = [Sense::Climb, Sense::Conventional];
        sense = s.choice("sense", &both.map(Sense::words), "sense of the cut").map(|k| both[k]);
    }
    Some(Choice {
        task: found.map(|_| task)?,
        at: s.place(),
        cutter: (number > 0).then_some(number),
        step_down: (step_down > 0.0).then_some(step_down),
        stepover: (stepover > 0.0).then_some(stepover),
        sense,
    })
}
