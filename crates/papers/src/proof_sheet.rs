//! The proof sheet: every check with its figure, its limit, the place where it is worst, the block of the program and a
//! picture; what fails and what is on watch first.

use crate::check_view;
use crate::plan_doc::block;
use crate::sheet::{Block, Cell, Picture, Sheet, Table};
use crate::shop_sheet::{limit, paper, place, tally, value};
use crate::turned;
use proof::{Check, Proof, State};
use route::Plan;

/// Share of the width that a picture takes.
const PICTURE: f32 = 0.54;

/// The sheet of a proof.
pub(crate) fn proof_sheet(plan: &Plan, proof: &Proof) -> Sheet {
    let title = format!("{}: the proof", plan.title);
    let below = "Every check of the written programs, on a computed workpiece".to_owned();
    let mut blocks = vec![
        Block::Title { text: title.clone(), below },
        Block::Facts(vec![("Checked".into(), tally(proof))]),
        Block::Text(
            "“Checked” means computed within the limit shown; it does not replace your eyes, ears and hand on the stop. In the \
             pictures the red cross is where the figure is worst, the pointer above the scale is the figure, and the thick line \
             across the scale its limit."
                .into(),
        ),
    ];
    let parts = [(State::Fails, "What fails"), (State::Watch, "What to watch"), (State::Holds, "What holds")];
    for (state, heading) in parts {
        let checks: Vec<&Check> = proof.checks.iter().filter(|c| c.state == state).collect();
        if checks.is_empty() {
            continue;
        }
        blocks.push(Block::Heading(heading.into()));
        // What holds everywhere needs no more than a line.
        let (brief, full): (Vec<_>, Vec<_>) =
            checks.into_iter().partition(|c| state == State::Holds && !check_view::is_seen(c));
        if !brief.is_empty() {
            blocks.push(in_brief(plan, &brief));
        }
        full.into_iter().for_each(|check| blocks.extend(told(plan, check)));
    }
    let budget = turned::budget(plan);
    if !budget.is_empty() {
        blocks.push(Block::Heading("What the turn may cost".into()));
        blocks.extend(budget);
    }
    Sheet {
        title,
        foot: "Made by Treen from the programs in this pack.".into(),
        paper: paper(plan),
        blocks,
        pictures: Default::default(),
    }
}

/// Checks that hold and have no picture.
fn in_brief(plan: &Plan, checks: &[&Check]) -> Block {
    let row = |c: &&Check| [c.title.clone(), place(plan, c), value(c), limit(c), c.id.clone()].map(Cell::from).to_vec();
    let head = ["Check", "Of", "Figure", "Limit", "Name"].map(String::from).to_vec();
    Block::Table(Table { head, widths: vec![4.0, 2.6, 1.7, 2.1, 2.4], rows: checks.iter().map(row).collect() })
}

/// One check.
fn told(plan: &Plan, check: &Check) -> Vec<Block> {
    let mut facts = vec![("Figure".to_owned(), value(check))];
    let mut fact = |name: &str, text: String| {
        if !text.is_empty() {
            facts.push((name.to_owned(), text));
        }
    };
    fact("Limit", limit(check));
    fact("Worst", place(plan, check));
    if let Some(text) = block(plan, check) {
        let file = check.place.as_ref().and_then(|p| p.program.clone()).unwrap_or_default();
        fact("Program", file);
        fact("Block", text);
    }
    fact("Change", check.remedy.clone().unwrap_or_default());
    fact("Assumed", check.assumed.join("; "));
    fact("Name", check.id.clone());
    let mut blocks = vec![Block::Label(check.title.clone()), Block::Facts(facts)];
    if let Some(drawing) = check_view::picture(plan, check) {
        let picture = Picture::Drawing(drawing);
        blocks = vec![Block::Beside { picture, caption: String::new(), share: PICTURE, blocks }];
    }
    blocks
}
