//! Finding the work with an indicator: where to touch, which way to turn, how far; and what errors of the turn cost.

use crate::plan_view;
use crate::sheet::{Block, Cell, Picture, Table};
use crate::shop_sheet::measured;
use base::{Figure, FigureId, Input};
use route::Plan;
use trade::figures::flip::{NAMES, WORDS};
use workpiece::Setup;

/// Setups, in the order in which their losses are listed.
const SETUPS: [&str; 3] = ["inside", "outside", "cavity"];
/// Surfaces of a budget.
const SURFACES: [(&str, &str); 4] =
    [("wall", "Wall"), ("floor", "Floor"), ("rim", "Height of the rim"), ("cast", "Resin against the piece")];

fn figure<'p>(plan: &'p Plan, id: &str) -> Option<&'p Figure> {
    plan.figures.0.get(&FigureId(id.to_owned()))
}

/// A length as small as a reading.
fn fine(plan: &Plan, value: f64) -> String {
    plan.units.fine(value)
}

/// The worksheet of a setup whose work is laid anew; nothing where it is not.
pub(crate) fn worksheet(plan: &Plan, setup: &Setup) -> Vec<Block> {
    let rows = readings(plan, setup);
    let Some(found) = setup.alignment.as_ref().filter(|_| !rows.is_empty()) else { return Vec::new() };
    let fine = |value: f64| fine(plan, value);
    let shims = found.carrier_length > 0.0;
    let mut lines = vec![
        format!(
            "Indicator in the spindle, spindle off, its foot against the long edge in front: read at 1, move along X by {}, read at 2. Go on within {}.",
            plan.units.shop(found.edge_apart),
            fine(found.edge_differs)
        ),
        "Does the edge lie farther back at 2 than at 1, turn the work clockwise as you see it from above, so that 2 comes towards you; farther in front, the other way. Read both again.".into(),
        format!(
            "Read 3 and 4, then 1 and 5, as positions of the machine: the middle is half of their sum. With the zero set both sides read alike; do they differ by D, the zero moves by D / 2 towards the side that reads more. Go on within {}.",
            fine(2.0 * found.centre)
        ),
    ];
    let heights = format!("heights at 6, 7, 8 and 9 go on within {}", fine(found.heights_differ));
    lines.push(if shims {
        format!("Indicator from above: {heights}. More, and a shim goes under the end of the carrier that lies low.")
    } else {
        format!(
            "Indicator from above: {heights}. More, and it comes off again: look for chips or crumbs of glue under it."
        )
    });
    let mut head = vec!["Two readings differ by", "Far corner moves by"];
    let mut widths = vec![2.2, 2.2];
    if shims {
        head.push("Shim under the low end");
        widths.push(2.4);
    }
    head.push("Read");
    widths.push(1.4);
    let table = Block::Table(Table { head: head.into_iter().map(String::from).collect(), widths, rows });
    vec![
        Block::Label("Finding it with an indicator".into()),
        Block::Beside {
            picture: Picture::Drawing(plan_view::contacts(plan, setup)),
            caption: "Where to touch, from above, to scale. Measure the work, not the paper.".into(),
            share: 0.4,
            blocks: vec![Block::Ticks(lines)],
        },
        table,
    ]
}

/// What to do about a reading, row by row.
fn readings(plan: &Plan, setup: &Setup) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    while let Some(corner) = figure(plan, &format!("find.{}.corner.{}", setup.id, rows.len() + 1)) {
        let Some(Input::Literal { value: reading, .. }) = corner.inputs.first() else { break };
        let mut row = vec![fine(plan, *reading).into(), Cell::strong(fine(plan, corner.value))];
        row.extend(
            figure(plan, &format!("find.{}.shim.{}", setup.id, rows.len() + 1))
                .map(|f| Cell::from(fine(plan, f.value))),
        );
        row.push(Cell::to_fill());
        rows.push(row);
    }
    rows
}

/// What the errors of the turn cost, surface by surface, with the single largest; nothing for a piece that is not turned over.
pub(crate) fn budget(plan: &Plan) -> Vec<Block> {
    let mut rows = Vec::new();
    for (surface, words) in SURFACES {
        let of = |what: &str| figure(plan, &format!("flip.{surface}.{what}")).map(|f| measured(f.value, "mm"));
        let (Some(worst), Some(expected), Some(tried)) = (of("worst"), of("expected"), of("simulated_95")) else {
            continue;
        };
        rows.push(vec![
            Cell::strong(words),
            Cell::strong(worst),
            expected.into(),
            tried.into(),
            largest(plan, surface).into(),
        ]);
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let head = ["Off by the turn", "At worst", "As expected", "19 of 20 pieces tried", "Most of it from"];
    let head = head.into_iter().map(String::from).collect();
    vec![
        Block::Text(
            "What readings, tape, carrier and machine may be off by, followed to the skin cut second, where that loses most. Expected: the root \
             of the sum of squares; tried: pieces made by chance, each error anywhere within its bound."
                .into(),
        ),
        Block::Table(Table { head, widths: vec![2.6, 1.3, 1.4, 1.8, 4.0], rows }),
    ]
}

/// The greatest items of a budget.
fn largest(plan: &Plan, surface: &str) -> String {
    let mut items: Vec<(f64, &str)> = Vec::new();
    for setup in SETUPS {
        for (name, words) in NAMES.into_iter().zip(WORDS) {
            items.extend(figure(plan, &format!("flip.{surface}.{setup}.{name}")).map(|f| (f.value, words)));
        }
    }
    items.sort_by(|a, b| b.0.total_cmp(&a.0));
    let told: Vec<String> =
        items.iter().take(2).map(|(value, words)| format!("{words}: {}", measured(*value, "mm"))).collect();
    told.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use base::Source;
    use workpiece::Alignment;

    fn put(plan: &mut Plan, id: &str, value: f64, inputs: Vec<Input>) {
        plan.figures.put(id, Figure::new(value, "mm", "f", inputs, Source::Derived));
    }

    #[test]
    fn a_reading_tells_how_far_to_turn() {
        let mut plan = fixture::plan();
        assert!(worksheet(&plan, &plan.setups[0]).is_empty());
        put(&mut plan, "find.cavity.corner.1", 0.125, vec![Input::literal(0.1, "mm", "two readings differ by")]);
        let mut setup = plan.setups[0].clone();
        setup.alignment = Some(Alignment {
            centre: 0.2,
            edge_differs: 0.2,
            edge_apart: 150.0,
            height: 0.05,
            heights_differ: 0.3,
            heights_apart: [150.0, 90.0],
            tape: 0.0,
            carrier_flat: 0.0,
            carrier_length: 0.0,
        });
        let blocks = worksheet(&plan, &setup);
        let Some(Block::Table(table)) = blocks.last() else { panic!("{blocks:?}") };
        // Without a carrier nothing is shimmed.
        let told: Vec<&str> = table.rows[0].iter().map(|c| c.text.as_str()).collect();
        assert_eq!((table.rows.len(), told), (1, vec!["0.1 mm", "0.13 mm", ""]));
    }

    #[test]
    fn the_budget_names_what_costs_most() {
        let mut plan = fixture::plan();
        assert!(budget(&plan).is_empty());
        for (id, value) in [("worst", 0.3), ("expected", 0.15), ("simulated_95", 0.14)] {
            put(&mut plan, &format!("flip.wall.{id}"), value, Vec::new());
        }
        for (id, value) in [("askew", 0.05), ("lean-x", 0.2), ("centre-x", 0.06)] {
            put(&mut plan, &format!("flip.wall.inside.{id}"), value, Vec::new());
        }
        let blocks = budget(&plan);
        let Some(Block::Table(table)) = blocks.last() else { panic!("{blocks:?}") };
        let most = table.rows[0].last().map(|c| c.text.as_str());
        assert_eq!(
            most,
            Some("spindle leaning along X, doubled: 0.200 mm; middle between the edges across X: 0.0600 mm")
        );
    }
}
