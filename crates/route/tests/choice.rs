//! The planner's choice of cutters against brute force: every combination really planned, by the times of its programs.
#![allow(clippy::unwrap_used)] // outside of `#[test]` functions the lint does not see that this is a test

use base::{FileId, Quiet};
use route::{Plan, Request, plan};
use std::collections::BTreeSet;

const JOB: &str = r##"
    title = "Cup"
    [piece]
    outline = { kind = "circle", diameter = 80 }
    height = 30
    wall = 6
    floor = 7
    floor_radius = 13
    outside = { kind = "round", foot_inset = 16 }
    inside = { kind = "follow" }
    foot = { kind = "pad" }
    [blank]
    wood = "black cherry"
    boards = "8/4"
    [route]
    kind = "two-sided"
    scallop = 0.03
    finish = "shellac"
"##;

fn planned(shop: &str) -> Option<Plan> {
    let job = job::parse(JOB, FileId(0)).0.unwrap();
    let shelf = trade::parse(trade::DEFAULT_SHELF, FileId(1)).0.unwrap();
    let shelf = trade::parse_over(&shelf, shop, FileId(2)).0.unwrap();
    let piece = shape::piece(&job.piece, 0.05).0.unwrap();
    plan(&Request { job: &job, shelf: &shelf, piece: &piece, measured: None }, &Quiet).unwrap().0
}

/// Minutes of the programs of the inside's setup, four more for each cutter in each program: what a change takes.
fn minutes(plan: &Plan) -> f64 {
    let inside = plan.setups.iter().find(|s| s.id == "inside").unwrap();
    inside.programs.iter().map(|p| p.duration_s / 60.0 + 4.0 * p.cutters.len() as f64).sum()
}

#[test]
fn no_other_combination_of_cutters_is_much_quicker_when_really_planned() {
    let own = planned("").unwrap();
    let taken: BTreeSet<u32> = own
        .setups
        .iter()
        .filter(|s| s.id == "inside")
        .flat_map(|s| s.programs.iter().flat_map(|p| p.cutters.clone()))
        .collect();
    let mut all = Vec::new();
    for rough in [1, 2, 4] {
        for ball in [5, 6, 9] {
            let settled = |task: &str, number: u32| format!("[[choice]]\nfor = \"{task}\"\ncutter = {number}\n");
            let shop = settled("rough-inside", rough) + &settled("finish-inside", ball);
            let Some(plan) = planned(&shop) else { continue };
            println!("T{rough} and T{ball}: {:.1} min", minutes(&plan));
            all.push(minutes(&plan));
        }
    }
    println!("chosen {taken:?}: {:.1} min", minutes(&own));
    assert!(all.len() >= 4, "only {} combinations can be planned", all.len());
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    let most = all.iter().copied().fold(0.0, f64::max);
    assert!(most > 1.2 * least, "the combinations do not differ: {least} to {most}");
    assert!(minutes(&own) <= 1.05 * least, "{} min, where {least} can be had", minutes(&own));
}
