//! What the shop sheet says: the first page, a block for every step, the checks and what was assumed.

use crate::PackOptions;
use crate::pack::step_picture;
use crate::sheet::{Block, Cell, Mark, Paper, Picture, Sheet, Table};
use crate::{board_view, check_view, mark, plan_view, section, turned};
use base::{Input, Units, clock, mm, sensible, told_value};
use proof::{Check, Proof, State};
use route::{CastPlan, Plan};
use std::collections::{BTreeMap, BTreeSet};
use trade::cautions::{CLOSING, Subject, cautions_for};
use trade::shelf::{Cutter, SpindleControl};
use workpiece::{Face, Setup, Step, StepKind, Zero, ZeroAxis};

/// Days in seconds.
const DAY: f64 = 86_400.0;

/// Sets out the sheet. `pictures` are the PNG files of the pack by path.
pub(crate) fn shop_sheet(
    plan: &Plan,
    proof: &Proof,
    options: &PackOptions,
    pictures: BTreeMap<String, Vec<u8>>,
) -> Sheet {
    let mut blocks = first_page(plan, proof, options.withhold_programs, &pictures);
    blocks.push(Block::NewPage);
    blocks.push(Block::Heading("Step by step".into()));
    let mut shown = BTreeSet::new();
    for (k, step) in plan.steps.iter().enumerate() {
        blocks.extend(step_blocks((plan, proof), k, step, &pictures, &mut shown));
    }
    blocks.extend(closing(plan, proof));
    if options.derivations {
        blocks.extend(derivations(plan));
    }
    Sheet { title: plan.title.clone(), foot: CLOSING.to_owned(), paper: paper(plan), blocks, pictures }
}

/// Paper of a maker's sheets.
pub(crate) fn paper(plan: &Plan) -> Paper {
    if plan.units == Units::In { Paper::Letter } else { Paper::A4 }
}

fn first_page(plan: &Plan, proof: &Proof, withheld: bool, pictures: &BTreeMap<String, Vec<u8>>) -> Vec<Block> {
    let [x, y, z] = plan.piece.size.map(|v| mm(v).print(plan.units));
    let mut out = vec![Block::Title { text: plan.title.clone(), below: format!("{}, {x} × {y} × {z}", plan.wood) }];
    if withheld {
        out.push(Block::Caution {
            strong: true,
            lines: vec![
                "A check fails, so the programs were left out of this pack. Do not cut. See “What was checked” on the \
                 last pages for what to change."
                    .into(),
            ],
        });
    }
    let facts = vec![Block::Facts(summary(plan, proof))];
    let path = "pictures/piece.png".to_owned();
    if pictures.contains_key(&path) {
        let caption = "The piece as the programs make it, before sanding.".into();
        out.push(Block::Beside { picture: Picture::Png(path), caption, share: 0.56, blocks: facts });
    } else {
        out.extend(facts);
    }
    let emergency = cautions_for(Subject::Emergencies).into_iter().map(|c| c.text.to_owned());
    out.push(Block::Label("Emergencies".into()));
    out.push(Block::Caution { strong: true, lines: emergency.filter(|t| t != CLOSING).collect() });
    out.extend(shopping(plan));
    out.extend(cutters_needed(plan));
    out.extend(calendar(plan));
    if let Some(drawing) = section::Cut::of(plan).and_then(|cut| section::section(&cut)) {
        out.push(Block::Heading("Section".into()));
        let caption = "Section along the grain through the middle. Measure the piece, not the paper.".into();
        out.push(Block::Drawing { drawing, caption });
    }
    if let (Some(drawing), Some(mark)) = (mark::mark(plan), &plan.piece.mark) {
        out.push(Block::Heading("Mark under the foot".into()));
        let facts = vec![("Says".into(), mark.text.clone()), ("Depth".into(), mm(mark.depth).print(plan.units))];
        out.push(Block::Beside {
            picture: Picture::Drawing(drawing),
            caption: "The foot as it is engraved, foot up, the front at the bottom.".into(),
            share: 0.4,
            blocks: vec![Block::Facts(facts)],
        });
    }
    out
}

fn summary(plan: &Plan, proof: &Proof) -> Vec<(String, String)> {
    let (units, piece) = (plan.units, &plan.piece);
    let both = |v: f64| mm(v).print_both(units);
    let mut facts: Vec<(String, String)> = vec![
        ("Length".into(), both(piece.size[0])),
        ("Width".into(), both(piece.size[1])),
        ("Height".into(), both(piece.size[2])),
        ("Wall at least".into(), both(piece.min_wall)),
        ("Floor at least".into(), both(piece.min_floor)),
        ("Wood".into(), format!("{}, {} in the piece", plan.wood, sensible(piece.wood_ml, "ml"))),
    ];
    for cast in &plan.casts {
        let (mix, left) = (sensible(cast.to_mix_ml, "ml"), sensible(cast.in_piece_ml, "ml"));
        facts.push((
            format!("Resin, {}", cast.name),
            format!("{}: mix {mix}, {left} stays in the piece", cast.resin.name),
        ));
    }
    let sum = |time: fn(&Step) -> f64| plan.steps.iter().map(time).sum::<f64>();
    let run: f64 = plan.setups.iter().flat_map(|s| &s.programs).map(|p| p.duration_s).sum();
    facts.push(("Hands".into(), format!("{} h", clock(sum(|s| s.hands_on_s)))));
    facts.push((
        "Machine".into(),
        format!(
            "{} h in {} setup{}, on the {}",
            clock(run),
            plan.setups.len(),
            if plan.setups.len() == 1 { "" } else { "s" },
            plan.machine.name
        ),
    ));
    facts.push(("Waiting".into(), format!("{:.1} days", sum(|s| s.wait_s) / DAY)));
    if plan.cost.total > 0.0 {
        let cost = &plan.cost;
        let all = format!("{:.2} {} in all, {:.2} of it for materials", cost.total, cost.currency, cost.materials);
        facts.push(("Cost".into(), all));
    }
    facts.push(("Checked".into(), tally(proof)));
    facts
}

/// How many checks hold, are to be watched, and fail.
pub(crate) fn tally(proof: &Proof) -> String {
    let count = |state: State| proof.checks.iter().filter(|c| c.state == state).count();
    format!(
        "{} checks: {} hold, {} to watch, {} fail",
        proof.checks.len(),
        count(State::Holds),
        count(State::Watch),
        count(State::Fails)
    )
}

fn shopping(plan: &Plan) -> Vec<Block> {
    let mut out = Vec::new();
    if !plan.buy.is_empty() {
        out.push(Block::Heading("To buy".into()));
        let rows = plan.buy.iter().map(|l| {
            vec![
                Cell::strong(&l.item),
                format!("{} {}", crate::lists::amount(l.quantity), l.unit).into(),
                format!("{:.2} {}", l.cost, plan.cost.currency).into(),
                l.note.as_str().into(),
            ]
        });
        out.push(table(&["What", "How much", "Cost", "Remark"], &[3.0, 2.0, 1.5, 4.0], rows.collect()));
    }
    if !plan.cuts.is_empty() {
        out.push(Block::Heading("To cut from boards".into()));
        let size = |v: f64| mm(v).print(plan.units);
        let rows = plan.cuts.iter().enumerate().map(|(k, l)| {
            vec![
                Cell::strong(format!("{}: {} × {}", k + 1, l.count, l.part)),
                format!("{} {}", l.wood, l.board).into(),
                size(l.thickness).into(),
                size(l.width).into(),
                size(l.length).into(),
                l.note.as_str().into(),
            ]
        });
        let head = ["Part", "Board", "Planed to", "Width", "Length", "Remark"];
        out.push(table(&head, &[2.4, 2.0, 1.7, 1.7, 1.7, 3.2], rows.collect()));
    }
    if let Some(drawing) = board_view::cut_layout(plan) {
        out.push(Block::Heading("Cut layout on the boards at hand".into()));
        let caption = "To scale. Parts bear the number of their line in the cut list; each is wider by what is jointed off its edges.";
        out.push(Block::Drawing { drawing, caption: caption.into() });
        for (k, board) in plan.layouts.iter().enumerate() {
            let share = |what: &str| plan.figures.value(&format!("board.{}.{what}", k + 1));
            out.push(Block::Label(format!("Board {}: {}", k + 1, board.board)));
            let used = share("use").zip(share("waste")).map(|(used, waste)| {
                let [used, waste] = [used, waste].map(|v| 100.0 * v);
                format!("{used:.0} % of it goes into parts, {waste:.0} % is waste, the rest is worth keeping.")
            });
            out.push(Block::Points(used.into_iter().chain(board.says.iter().cloned()).collect()));
        }
    }
    out
}

fn table(head: &[&str], widths: &[f32], rows: Vec<Vec<Cell>>) -> Block {
    let head = head.iter().map(|s| (*s).to_owned()).collect();
    Block::Table(Table { head, widths: widths.to_vec(), rows })
}

fn cutters_needed(plan: &Plan) -> Vec<Block> {
    let rows = plan.cutters.iter().map(|c| cutter_row(c, plan)).collect();
    vec![Block::Heading("Cutters".into()), cutter_table(rows)]
}

fn cutter_table(rows: Vec<Vec<Cell>>) -> Block {
    let head = ["No.", "Cutter", "Shows below the nut", "In the collet", "Edges"];
    table(&head, &[0.7, 3.4, 3.2, 2.6, 2.4], rows)
}

/// The stick-out is a least value: shorter, and the nut comes too near the work.
fn cutter_row(cutter: &Cutter, plan: &Plan) -> Vec<Cell> {
    let units = plan.units;
    vec![
        Cell::strong(format!("T{}", cutter.number)),
        format!("{}, shank {}", cutter.name, mm(cutter.solid.shank_diameter)).into(),
        Cell::strong(mm(cutter.solid.stickout).print_both(units)),
        mm(cutter.grip()).print(units).into(),
        format!("{} flutes, {} long", cutter.flutes, mm(cutter.solid.flute_length).print(units)).into(),
    ]
}

fn calendar(plan: &Plan) -> Vec<Block> {
    if plan.calendar.is_empty() {
        return Vec::new();
    }
    let when = |text: &str| text.replacen('T', ", ", 1);
    let rows = plan.calendar.iter().map(|e| {
        let title = if e.waiting { Cell::from(format!("waiting: {}", e.title)) } else { Cell::strong(&e.title) };
        vec![title, when(&e.start).into(), when(&e.end).into()]
    });
    vec![
        Block::Heading("Calendar".into()),
        Block::Text(
            "The likely course. “Ready” is a test, not a date: where a step waits for a test, trust the test.".into(),
        ),
        table(&["What", "From", "To"], &[5.0, 2.2, 2.2], rows.collect()),
    ]
}

fn step_blocks(
    (plan, proof): (&Plan, &Proof),
    k: usize,
    step: &Step,
    pictures: &BTreeMap<String, Vec<u8>>,
    shown: &mut BTreeSet<String>,
) -> Vec<Block> {
    let mut out = vec![Block::Step { number: k + 1, title: step.title.clone(), when: step_time(plan, step) }];
    let mut body = Vec::new();
    let says = unsaid(plan, step);
    if !says.is_empty() {
        body.push(Block::Ticks(says));
    }
    if let Some(cast) = plan.casts.iter().find(|c| Some(&c.name) == step.cast.as_ref()) {
        body.extend(cast_blocks(plan, step, cast));
    }
    let setup = plan.setups.iter().find(|s| Some(&s.id) == step.setup.as_ref());
    if let Some(setup) = setup.filter(|_| step.kind == StepKind::Hold) {
        body.extend(hold_blocks(setup));
    }
    let mut facts = figure_facts(plan, step);
    if step.kind == StepKind::Sand {
        facts.extend(ridges(proof));
    }
    if let Some(setup) = setup.filter(|_| matches!(step.kind, StepKind::Carve | StepKind::Level)) {
        let z = &setup.zero.z;
        let set = touch(z.set_to, plan.units);
        facts.splice(
            0..0,
            [
                ("Face up".into(), face_up(setup).into()),
                ("Held by".into(), setup.holding.says.clone()),
                (
                    "Zero".into(),
                    format!(
                        "X and Y in {}; Z {set} on {}",
                        setup.zero.x.surface.trim_end_matches(" across X"),
                        z.surface
                    ),
                ),
                ("Look first".into(), format!("{}, spindle off, hand on the stop", setup.look_first)),
            ],
        );
    }
    if !facts.is_empty() {
        body.push(Block::Facts(facts));
    }
    match shown_beside(plan, k, pictures) {
        Some((picture, caption, share)) => {
            out.push(Block::Beside { picture, caption: caption.into(), share, blocks: body });
        }
        None => out.extend(body),
    }
    if let Some(setup) = setup {
        out.extend(setup_blocks(plan, step, setup));
    }
    out.extend(step_cautions(step, shown));
    out
}

/// The picture of a step: the workpiece that it leaves, a drawing of what is done, or the workpiece as it lies meanwhile.
fn shown_beside(plan: &Plan, k: usize, pictures: &BTreeMap<String, Vec<u8>>) -> Option<(Picture, &'static str, f32)> {
    let step = &plan.steps[k];
    let picture = |step: &Step| step_picture(plan, &step.id).filter(|path| pictures.contains_key(path));
    if let Some(path) = picture(step) {
        return Some((Picture::Png(path), "The workpiece after this step, as computed.", 0.42));
    }
    let setup = plan.setups.iter().find(|s| Some(&s.id) == step.setup.as_ref());
    let drawing = match (step.kind, setup) {
        (StepKind::Mill | StepKind::Glue, _) => {
            plan_view::layup(plan).map(|d| (d, "How the boards lie, seen from the end of the blank."))
        }
        (StepKind::Zero, Some(setup)) => Some((plan_view::zero(plan, setup), "From above, as it lies on the machine.")),
        (StepKind::Inspect, Some(setup)) if !setup.inspect.is_empty() => {
            Some((plan_view::inspect(plan, setup), "Where to measure, from above; numbers as in the table."))
        }
        (StepKind::Dam, _) => {
            let cast = plan.casts.iter().position(|c| Some(&c.name) == step.cast.as_ref());
            // The hollow lies as the last setup before the dam left it.
            let carved = plan.steps[..k].iter().rev().find_map(|s| s.setup.as_ref());
            let setup = plan.setups.iter().find(|s| Some(&s.id) == carved);
            let drawing = cast.zip(setup).and_then(|(cast, setup)| plan_view::dam(plan, cast, setup));
            drawing.map(|d| (d, "From above: the hollow, the dam (red line), where to pour."))
        }
        _ => None,
    };
    if let Some((drawing, caption)) = drawing {
        return Some((Picture::Drawing(drawing), caption, 0.36));
    }
    let before = plan.steps[..k].iter().rev().find_map(picture)?;
    Some((Picture::Png(before), "The workpiece as it is now, as computed.", 0.3))
}

/// What the step says, without what its tables say again.
fn unsaid(plan: &Plan, step: &Step) -> Vec<String> {
    let setup = plan.setups.iter().find(|s| Some(&s.id) == step.setup.as_ref());
    let listed = |line: &&String| {
        let line = line.to_lowercase();
        setup.is_some_and(|s| match step.kind {
            StepKind::Hold => line == s.holding.says.to_lowercase(),
            StepKind::Inspect => s.inspect.iter().any(|p| line.starts_with(&p.what.to_lowercase())),
            _ => false,
        })
    };
    step.says.iter().filter(|line| !listed(line)).cloned().collect()
}

fn step_time(plan: &Plan, step: &Step) -> String {
    let mut parts = Vec::new();
    if step.duration_s > 0.0 {
        parts.push(format!("{} h", clock(step.duration_s)));
    }
    if step.wait_s > 0.0 {
        let range = ["least", "most"].map(|end| plan.figures.value(&format!("step.{}.wait_{end}", step.id)));
        let told = |seconds: f64| match seconds >= DAY {
            _ if !seconds.is_finite() => "no end".to_owned(),
            true => format!("{:.1} days", seconds / DAY),
            false => format!("{} h", clock(seconds)),
        };
        let range = match range {
            [Some(least), Some(most)] => format!(" (at the least {}, at the most {})", told(least), told(most)),
            _ => String::new(),
        };
        parts.push(format!("then wait {}{range}", told(step.wait_s)));
    }
    parts.join(", ")
}

/// A caution is printed in full where it first applies; later steps recall it by its first words.
fn step_cautions(step: &Step, shown: &mut BTreeSet<String>) -> Vec<Block> {
    let mut lines = Vec::new();
    let mut again = Vec::new();
    for text in step.cautions.iter().filter(|t| *t != CLOSING) {
        if shown.insert(text.clone()) {
            lines.push(text.clone());
        } else {
            again.push(opening(text));
        }
    }
    if !again.is_empty() {
        lines.push(format!("As before: {}.", again.join("; ")));
    }
    if lines.is_empty() { Vec::new() } else { vec![Block::Caution { strong: false, lines }] }
}

/// The first clause, without its full stop.
fn opening(text: &str) -> String {
    let end = text.find([':', '.', ';']).unwrap_or(text.len());
    let mut words = text[..end].to_owned();
    if let Some(first) = words.get(..1).map(str::to_lowercase) {
        words.replace_range(..1, &first);
    }
    words
}

fn figure_facts(plan: &Plan, step: &Step) -> Vec<(String, String)> {
    let fact = |id: &base::FigureId| {
        let figure = plan.figures.0.get(id)?;
        let name = id.0.rsplit('.').take(2).collect::<Vec<_>>().into_iter().rev().collect::<Vec<_>>().join(" ");
        let value = if figure.unit.0 == "mm" {
            mm(figure.value).print(plan.units)
        } else {
            sensible(figure.value, if figure.unit.0 == "1" { "" } else { &figure.unit.0 })
        };
        Some((name.replace('_', " "), format!("{}   ({})", value.trim(), figure.formula)))
    };
    step.figures.iter().filter_map(fact).collect()
}

/// What the programs really leave for the abrasive, as the proof found it.
fn ridges(proof: &Proof) -> Option<(String, String)> {
    let check = proof.checks.iter().find(|c| c.id == "first-abrasive")?;
    let remedy = check.remedy.iter().filter(|_| check.state != State::Holds);
    let told: Vec<String> = std::iter::once(value(check)).chain(remedy.cloned()).collect();
    Some(("Highest ridge found".into(), told.join(". ")))
}

fn cast_blocks(plan: &Plan, step: &Step, cast: &CastPlan) -> Vec<Block> {
    let units = plan.units;
    match step.kind {
        StepKind::Pour => {
            let grams = |v: f64| format!("{v:.0} g");
            let rows = cast.layers.iter().enumerate().map(|(k, l)| {
                vec![
                    Cell::strong(format!("{}", k + 1)),
                    mm(l.depth).print(units).into(),
                    Cell::strong(grams(l.resin_g)),
                    Cell::strong(grams(l.hardener_g)),
                    format!("{:.0} + {:.0} ml", l.resin_ml, l.hardener_ml).into(),
                    l.cups.to_string().into(),
                    pour_within(cast, k).into(),
                    next_window(cast, k).into(),
                ]
            });
            let head = [
                "Layer",
                "Deep",
                "Resin (A)",
                "Hardener (B)",
                "By volume",
                "Cups",
                "Pour a cup within",
                "The next layer",
            ];
            let mut out = vec![table(&head, &[0.9, 1.3, 1.3, 1.6, 1.8, 0.8, 1.4, 2.2], rows.collect())];
            if cast.pigment_g > 0.0 {
                out.push(Block::Facts(vec![("Pigment in all".into(), sensible(cast.pigment_g, "g"))]));
            }
            out
        }
        StepKind::Cure => fully_cured(plan, step, cast),
        _ => Vec::new(),
    }
}

/// The day on which a cast is fully cured, by the calendar.
fn fully_cured(plan: &Plan, step: &Step, cast: &CastPlan) -> Vec<Block> {
    let begun = plan.calendar.iter().find(|e| e.step == step.id && e.waiting);
    let day = begun.and_then(|e| route::day_after(&e.start, cast.curing.full_h));
    let fact = |day: String| {
        Block::Facts(vec![(
            "Fully cured".into(),
            format!("about {day}; until then no heat, no finish that needs hard resin"),
        )])
    };
    day.map(fact).into_iter().collect()
}

/// Pot life of a cup of a layer.
fn pour_within(cast: &CastPlan, k: usize) -> String {
    cast.curing.pot_life_min.get(k).map_or_else(String::new, |min| format!("{min:.0} min"))
}

/// From when until when the next layer may follow.
fn next_window(cast: &CastPlan, k: usize) -> String {
    match (cast.curing.next_h.get(k), cast.curing.last_h.get(k)) {
        (Some(next), Some(last)) if *last > next.usual => format!("after {:.0} to {last:.0} h", next.usual),
        (Some(next), _) => format!("after {:.0} h, sanded", next.usual),
        _ => String::new(),
    }
}

fn setup_blocks(plan: &Plan, step: &Step, setup: &Setup) -> Vec<Block> {
    match step.kind {
        StepKind::Zero => {
            let mut out = zero_blocks(plan, setup);
            out.extend(turned::worksheet(plan, setup));
            if setup.id == "inside" {
                out.extend(turned::budget(plan));
            }
            out
        }
        StepKind::Carve | StepKind::Level => carve_blocks(plan, setup),
        StepKind::Inspect => inspect_blocks(plan, setup),
        _ => Vec::new(),
    }
}

fn face_up(setup: &Setup) -> &'static str {
    match setup.face_up {
        Face::Rim => "rim face up",
        Face::Foot => "foot face up",
    }
}

fn hold_blocks(setup: &Setup) -> Vec<Block> {
    let datums = &setup.datums;
    vec![Block::Facts(vec![
        ("Face up".into(), face_up(setup).into()),
        ("Held by".into(), setup.holding.says.clone()),
        ("Rim face A".into(), datums.A.clone()),
        ("Long edge B".into(), datums.B.clone()),
        ("Short edge C".into(), datums.C.clone()),
    ])]
}

fn zero_blocks(plan: &Plan, setup: &Setup) -> Vec<Block> {
    let touch = |v: f64| touch(v, plan.units);
    let Zero { x, y, z } = &setup.zero;
    let row = |name: &str, axis: &ZeroAxis| {
        let (low, high) = (axis.expect - axis.within, axis.expect + axis.within);
        vec![
            Cell::strong(name),
            axis.surface.as_str().into(),
            Cell::strong(touch(axis.set_to)),
            axis.check_surface.as_str().into(),
            format!("{} to {}", touch(low), touch(high)).into(),
            Cell::to_fill(),
        ]
    };
    let head = ["Axis", "Touch", "Set to", "Then touch", "It should read", "It reads"];
    let rows = vec![row("X", x), row("Y", y), row("Z", z)];
    let spot = &setup.reference_spot;
    let every = format!(
        "{}, at X {} Y {}. It reads {} there; set every further cutter to the number the first one read.",
        spot.surface,
        touch(spot.at[0]),
        touch(spot.at[1]),
        touch(spot.reads)
    );
    vec![
        table(&head, &[0.8, 3.2, 1.7, 3.0, 2.6, 1.6], rows),
        Block::Facts(vec![("Work offset".into(), setup.work_offset.clone()), ("Every cutter".into(), every)]),
    ]
}

fn carve_blocks(plan: &Plan, setup: &Setup) -> Vec<Block> {
    let length = |v: f64| match plan.units {
        Units::Mm => format!("{:.1} m", v / 1000.0),
        Units::In => format!("{:.0} ft", v / 304.8),
    };
    let rows = setup.programs.iter().map(|p| {
        let cutters: Vec<String> = p.cutters.iter().map(|n| format!("T{n}")).collect();
        vec![
            Cell::strong(&p.file),
            cutters.join(", ").into(),
            Cell::strong(format!("{} h", clock(p.duration_s))),
            length(p.cut_length_mm).into(),
            restarts(p, plan.units).into(),
        ]
    });
    let head = ["Program", "Cutter", "Time", "Cut", "Start again at line of the text"];
    let mut out = vec![table(&head, &[4.2, 1.1, 1.2, 1.1, 4.0], rows.collect())];
    let used: BTreeSet<u32> = setup.programs.iter().flat_map(|p| p.cutters.iter().copied()).collect();
    let rows = plan.cutters.iter().filter(|c| used.contains(&c.number)).map(|c| cutter_row(c, plan)).collect();
    out.push(cutter_table(rows));
    if setup.programs.iter().any(|p| !p.restart_points.is_empty()) {
        let spindle = match plan.machine.spindle {
            SpindleControl::Program { .. } => "it rises, starts the spindle and waits before it moves on",
            SpindleControl::Dial { .. } => "it rises before it moves on; switch the spindle on yourself first",
        };
        out.push(Block::Text(format!(
            "To start again after a stop: same cutter, same zero, nothing moved. Bring the tip up by hand, clear of everything, and run from \
             the line above that lies before the place where it stopped: {spindle}. Was the zero lost, set it anew first."
        )));
    }
    out
}

/// At most this many points to start again are printed; plan.json has them all.
const RESTARTS: usize = 6;

fn restarts(program: &workpiece::ProgramSheet, units: Units) -> String {
    let points = &program.restart_points;
    let some = points.iter().step_by(points.len().div_ceil(RESTARTS).max(1));
    let text: Vec<String> = some
        .map(|p| format!("{} ({} h, X {} Y {})", p.line, clock(p.time_s), units.near(p.at[0]), units.near(p.at[1])))
        .collect();
    if text.is_empty() { "its first line".into() } else { text.join(", ") }
}

fn inspect_blocks(plan: &Plan, setup: &Setup) -> Vec<Block> {
    if setup.inspect.is_empty() {
        return Vec::new();
    }
    let size = |v: f64| touch(v, plan.units);
    let rows = setup.inspect.iter().enumerate().map(|(k, p)| {
        vec![
            Cell::strong((k + 1).to_string()),
            p.what.as_str().into(),
            Cell::strong(size(p.expect)),
            format!("{} to {}", size((p.expect - p.within).max(0.0)), size(p.expect + p.within)).into(),
            Cell::to_fill(),
        ]
    });
    vec![
        Block::Label("Measure before you let go".into()),
        table(&["No.", "What", "Expected", "Go on within", "Measured"], &[0.6, 4.8, 1.7, 3.0, 1.8], rows.collect()),
    ]
}

fn closing(plan: &Plan, proof: &Proof) -> Vec<Block> {
    let mut out = vec![
        Block::NewPage,
        Block::Heading("What was checked".into()),
        Block::Text(
            "Each check was made on the written programs and a computed workpiece, not on the shop’s own. “Checked” \
             means computed within the limit shown; it does not replace your eyes, ears and hand on the stop."
                .into(),
        ),
    ];
    if let Some(stack) = plan.figures.0.get(&base::FigureId("accuracy.stack".into())) {
        let value = format!("{}   ({})", measured(stack.value, "mm"), stack.formula);
        out.push(Block::Facts(vec![("Errors of the programs, added up".into(), value)]));
    }
    out.push(check_table(plan, proof));
    for check in proof.checks.iter().filter(|c| c.id.starts_with("rubbing.")) {
        let Some(drawing) = check_view::picture(plan, check) else { continue };
        let caption = format!("{}. Dark places may burn: look there first.", place(plan, check));
        out.push(Block::Drawing { drawing, caption });
    }
    let assumed: BTreeSet<&String> = proof.checks.iter().flat_map(|c| &c.assumed).collect();
    let lines: Vec<String> = plan.assumed.iter().chain(assumed).cloned().collect();
    if !lines.is_empty() {
        out.push(Block::Heading("What was assumed, not measured".into()));
        out.push(Block::Points(lines));
    }
    out
}

/// Every figure of the plan with its formula, what went in and its source. What goes into another figure stands in its
/// own row, so that every derivation can be followed by its names.
fn derivations(plan: &Plan) -> Vec<Block> {
    let input = |input: &Input| match input {
        Input::Figure { figure } => figure.0.clone(),
        Input::Literal { value, unit, from } => format!("{from}: {}", told_value(*value, &unit.0, plan.units)),
    };
    let rows = plan.figures.0.iter().map(|(id, figure)| {
        let inputs: Vec<String> = figure.inputs.iter().map(input).collect();
        vec![
            Cell::strong(&id.0),
            figure.told(plan.units).into(),
            format!("{}.  From: {}.", figure.formula, inputs.join("; ")).into(),
            figure.source.words().into(),
        ]
    });
    vec![
        Block::NewPage,
        Block::Heading("Where each figure comes from".into()),
        Block::Text(
            "Names of other rows stand for their figures; job, shelf and tables are named where a value is theirs."
                .into(),
        ),
        table(&["Figure", "Value", "Formula, and what went in", "Source"], &[2.2, 1.6, 5.6, 3.0], rows.collect()),
    ]
}

fn check_table(plan: &Plan, proof: &Proof) -> Block {
    let rows = proof.checks.iter().map(|c| {
        let mark = match c.state {
            State::Holds => Mark::Good,
            State::Watch => Mark::Look,
            State::Fails => Mark::Bad,
        };
        let state = Cell { text: c.state.word().into(), strong: true, mark: Some(mark), to_fill: false };
        vec![state, c.title.as_str().into(), value(c).into(), limit(c).into(), worst_and_remedy(plan, c).into()]
    });
    table(
        &["State", "Check", "Figure", "Limit", "Where it is worst, and what to change"],
        &[1.3, 4.0, 1.7, 2.1, 4.2],
        rows.collect(),
    )
}

fn worst_and_remedy(plan: &Plan, check: &Check) -> String {
    let parts = [Some(place(plan, check)).filter(|p| !p.is_empty()), check.remedy.clone()];
    parts.into_iter().flatten().collect::<Vec<_>>().join(". ")
}

/// The figure of a check with its unit.
pub(crate) fn value(check: &Check) -> String {
    match check.value.abs() {
        value if value.is_nan() => "not computed".into(),
        // The proof writes what it could not find as a great number.
        value if value < 999_999.0 => measured(check.value, &check.unit),
        _ => "not found".into(),
    }
}

/// Its limit, or nothing.
pub(crate) fn limit(check: &Check) -> String {
    if check.limit.is_finite() {
        format!("{} {}", check.sense, measured(check.limit, &check.unit))
    } else {
        String::new()
    }
}

/// A number that is set or measured; the controls of many machines show mm whatever the rule in the hand.
fn touch(value: f64, units: Units) -> String {
    let own = mm(value).print_touch_off(units);
    if units == Units::Mm { own } else { format!("{own} ({})", mm(value).print_touch_off(Units::Mm)) }
}

/// Three digits, but a small length never as 0.
pub(crate) fn measured(value: f64, unit: &str) -> String {
    if unit == "mm" && value != 0.0 && value.abs() < 0.1 {
        format!("{value:.4} mm").replace('-', "−")
    } else {
        sensible(value, if unit == "1" { "" } else { unit })
    }
}

/// Where it is worst, in words.
pub(crate) fn place(plan: &Plan, check: &Check) -> String {
    let mut parts = Vec::new();
    if let Some(at) = &check.place {
        if let Some(setup) = &at.setup {
            let title = plan.setups.iter().find(|s| s.id == *setup).map_or(setup.as_str(), |s| s.title.as_str());
            parts.push(title.to_owned());
        }
        if let Some(line) = at.line {
            parts.push(format!("line {line}"));
        }
        if let Some([x, y, z]) = at.at {
            parts.push(format!("X {x:.1} Y {y:.1} Z {z:.1} mm of the piece"));
        }
    }
    parts.join(", ")
}
