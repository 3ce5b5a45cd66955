//! How even the finishes of the examples are, and how short their paths: measured from the written programs.

use crate::{chosen, operation, planned, table};
use proof::finish::{Finish, Skin, Standing, finish};
use route::Plan;
use rs274::interpret::{What, run};

/// What the comments of finishing say, before ", part 1 of 2".
const FINISHING: [&str; 4] =
    ["finish the outside", "finish the inside", "finish the hollow", "round the inner rim edge"];
/// Stepover in hollows as a share of the ball's diameter: what is meant to be left follows from it (`route/src/setups/cavity.rs`).
const HOLLOW_STEPOVER: [f64; 2] = [0.15, 0.10];
/// What is left on in hollows, below the reach of the cutting edges, mm (`route/src/setups/cavity.rs`).
const HOLLOW_LEFT_ON: f64 = 0.05;
/// Shares of the target between which crests shall lie.
const EVEN: [f64; 2] = [0.6, 1.1];

/// Length at feed, mm, and the number of the ball, of the finishing in a setup; `None` where it has none.
fn run_length(plan: &Plan, setup: &workpiece::Setup) -> Option<(f64, u32)> {
    let mut length = 0.0;
    let mut ball = None;
    for program in &setup.programs {
        let mut cutter = program.cutters.first().copied();
        let mut finishes = false;
        for event in run(&plan.programs[&program.file]).unwrap() {
            match event.what {
                What::Comment(text) => {
                    finishes = operation(&text).map_or(finishes, |title| FINISHING.contains(&title));
                }
                What::Cutter(number) => (cutter, finishes) = (Some(number), false),
                What::Straight { from, to, feed: Some(_) } if finishes => {
                    length += (0..3).map(|k| (to[k] - from[k]).powi(2)).sum::<f64>().sqrt();
                    ball = cutter;
                }
                What::Arc { from, to, centre, sweep, .. } if finishes => {
                    length += ((from[0] - centre[0]).hypot(from[1] - centre[1]) * sweep).hypot(to[2] - from[2]);
                    ball = cutter;
                }
                _ => {}
            }
        }
    }
    ball.map(|ball| (length, ball))
}

/// One finish of several.
fn joined(finishes: Vec<Finish>) -> Finish {
    let higher = |a: Standing, b: Standing| if b.0 > a.0 { b } else { a };
    let join = |mut a: Finish, b: Finish| {
        a.crests.extend(b.crests);
        a.crests.sort_by(|a, b| a.0.total_cmp(&b.0));
        a.corners = (a.corners.0 + b.corners.0, a.corners.1.into_iter().chain(b.corners.1).reduce(higher));
        a.least_length += b.least_length;
        a.least_level += b.least_level;
        a
    };
    finishes.into_iter().reduce(join).unwrap()
}

/// Shares of crests, the greatest, corners, and lengths, a row for each setup that finishes.
pub(crate) fn finishes(out: &mut String) {
    let mut rows = Vec::new();
    for (name, job, shop) in chosen() {
        let plan = planned(job, shop, &base::Quiet).1.value.unwrap();
        let evidence = papers::evidence_of(&plan, 0.5);
        for setup in &plan.setups {
            let Some((length, ball)) = run_length(&plan, setup) else { continue };
            let radius = plan.cutters.iter().find(|c| c.number == ball).unwrap().solid.radius();
            let measured = |skin, scallop, left_on| finish(&evidence, skin, ball, [scallop, left_on]).unwrap();
            let (target, made) = if setup.finishes_skin {
                (plan.scallop, measured(Skin::Of(&setup.id), plan.scallop, 0.0))
            } else {
                let clear = plan.casts.iter().any(|c| c.translucent);
                let stepover = HOLLOW_STEPOVER[usize::from(clear)] * 2.0 * radius;
                let scallop = stepover * stepover / (8.0 * radius);
                let casts = 0..plan.casts.len() as u16;
                (scallop, joined(casts.map(|cast| measured(Skin::Hollow(cast), scallop, HOLLOW_LEFT_ON)).collect()))
            };
            if std::env::var_os("PLACES").is_some() {
                for (mm, [x, y, z]) in &made.crests {
                    eprintln!("{name},{},{:.3},{x:.2},{y:.2},{z:.2}", setup.id, mm / target);
                }
            }
            let at = |(mm, [x, y, z]): Standing| format!("{:.2} at ({x:.1}, {y:.1}, {z:.1})", mm / target);
            let percent = |low: f64, high: f64| format!("{:.1} %", 100.0 * made.share(low * target, high * target));
            rows.push(vec![
                format!("{name}, {}", setup.id),
                format!("{target:.3} mm"),
                percent(EVEN[0], EVEN[1]),
                percent(-1e9, EVEN[0]),
                percent(EVEN[1], 1e9),
                [0.05, 0.5, 0.95].map(|share| format!("{:.2}", made.at(share).0 / target)).join(", "),
                at(made.at(1.0)),
                made.corners.1.map_or("none".to_owned(), |(mm, [x, y, z])| {
                    format!("{:.0} mm², up to {mm:.2} mm at ({x:.1}, {y:.1}, {z:.1})", made.corners.0)
                }),
                format!("{:.1} m", length / 1000.0),
                format!("{:.2}", length / made.least_length),
                format!("{:.2}", length / made.least_level),
            ]);
        }
    }
    let head = [
        "example, setup",
        "target",
        "crests 0.6–1.1 of it",
        "below",
        "above",
        "crests at 5, 50, 95 %",
        "greatest, in targets",
        "corners that its cutters cannot reach",
        "path",
        "over the least length",
        "over the least of level passes",
    ];
    table(out, "How even the finishes are, and how long", &head, &rows);
}
