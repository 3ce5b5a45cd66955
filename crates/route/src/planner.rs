//! The planner: from the request to the whole plan, stage by stage.

use crate::casting::{dam, pour_points};
use crate::cutters::Why;
use crate::gluing::Gluing;
use crate::goods::{casting_resin, strangers};
use crate::layup::Layup;
use crate::ledger::Ledger;
use crate::measured::touch_off;
use crate::moisture::Moisture;
use crate::needs::Task;
use crate::plan::{BoardLayout, BuyLine, CastPlan, CutLine, MarkSheet, PieceSheet, Plan};
use crate::prepare::{Found, Prepared, prepare};
use crate::programs::programs;
use crate::setups::hold::{Lies, under};
use crate::setups::{
    FIT_TOLERANCE, PATH_TOLERANCE, PlanFault, Planned, Shop, cavity, inside, level, outside, reface, tray,
};
use crate::steps::{Content, steps};
use crate::{Request, buying, calendar, cost, shown, turned};
use base::{Cancelled, Figure, Figures, Input, Progress, Report, Source, mm, suggestion};
use geom::{DVec3, Mesh};
use job::{CastForm, CastSpec, FootSpec, Freeing, Names, RouteKind};
use shape::Piece;
use shape::cast::Cast;
use std::collections::BTreeMap;
use trade::figures::sanding::{first_grit, sanding_min};
use trade::shelf::{Cutter, HoldingGoods, Machine, Resin};
use workpiece::{Blank, Workpiece};

/// Pitch of the planner's own workpiece, mm: fine enough to know where stock stands. The proof looks closer.
const PLANNING_PITCH: f64 = 0.4;

/// A piece is held by so many tabs at least. Common practice, no source.
const LEAST_TABS: usize = 4;

/// Plans the whole making. `None` if the report has errors.
///
/// # Errors
/// [`Cancelled`] if the maker stops.
pub fn plan(request: &Request<'_>, progress: &dyn Progress) -> Result<(Option<Plan>, Report), Cancelled> {
    let mut report = Report::default();
    let mut figures = Figures::default();
    let Some(found) = look_up(request, &mut report) else { return Ok((None, report)) };
    match made(request, &found, &mut figures, &mut report, progress) {
        Ok(plan) => Ok((plan.filter(|_| !report.has_errors()), report)),
        Err(PlanFault::Cancelled(cancelled)) => Err(cancelled),
        Err(PlanFault::NoCutter) => Ok((None, report)),
        Err(fault) => {
            tell_fault(request, &fault, &mut report);
            Ok((None, report))
        }
    }
}

/// All that is wrong with a job before any path is planned: what the shelf lacks, sizes, boards, hollows, resin.
pub fn look_over(request: &Request<'_>) -> Report {
    settle(request).1
}

/// What is known of a making before any path is planned: the glue-up, the hollows, their resin, and what of it to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// The glued-up blank.
    pub blank: Blank,
    /// What to cut for it.
    pub cuts: Vec<CutLine>,
    /// How the boards at hand are sawn.
    pub layouts: Vec<BoardLayout>,
    /// The hollows and the resin left in the piece, as solids.
    pub hollows: Vec<Cast>,
    /// Colour of each as shown, and whether light passes.
    pub looks: Vec<([u8; 3], bool)>,
    /// How each is poured; none in a sketch.
    pub casts: Vec<CastPlan>,
    /// Boards and resins to buy.
    pub buy: Vec<BuyLine>,
    /// Colour of the wood, for pictures.
    pub wood_colour: [u8; 3],
}

/// Settles all that comes before the paths. `None` if the report has errors.
pub fn settle(request: &Request<'_>) -> (Option<Settled>, Report) {
    settled(request, true)
}

/// The same without how the resin is poured and cures, which takes seconds: enough to draw the piece.
pub fn sketch(request: &Request<'_>) -> (Option<Settled>, Report) {
    settled(request, false)
}

fn settled(request: &Request<'_>, pours: bool) -> (Option<Settled>, Report) {
    let (mut report, mut figures) = (Report::default(), Figures::default());
    let Some(found) = look_up(request, &mut report) else { return (None, report) };
    let settled = match prepare(request, &found, pours, &mut Ledger { figures: &mut figures, report: &mut report }) {
        Ok(prepared) => prepared.map(|Prepared { layup, shapes, casts, .. }| Settled {
            buy: layup.buy.into_iter().chain(buying::resins(&casts, request.shelf)).collect(),
            blank: layup.blank,
            cuts: layup.cuts,
            layouts: layup.layouts,
            looks: shapes.iter().filter_map(|shape| look_of(&request.job.casts, &shape.name)).collect(),
            hollows: shapes,
            casts,
            wood_colour: found.wood.colour,
        }),
        Err(fault) => {
            tell_fault(request, &fault, &mut report);
            None
        }
    };
    (settled.filter(|_| !report.has_errors()), report)
}

/// Colour of a cast as shown, and whether light passes.
fn look_of(casts: &[CastSpec], name: &str) -> Option<([u8; 3], bool)> {
    casts.iter().find(|spec| spec.name.value == name).map(|spec| (spec.colour.value, spec.translucent))
}

fn tell_fault(request: &Request<'_>, fault: &PlanFault, report: &mut Report) {
    report
        .error("plan-fault", request.job.piece.at, fault.to_string())
        .hint("this is a fault of the planner, not of the job; a slightly different size may get round it");
}

fn look_up<'a>(request: &Request<'a>, report: &mut Report) -> Option<Found<'a>> {
    let (job, shelf) = (request.job, request.shelf);
    report.absorb(strangers(&Names::of(job), shelf));
    if shelf.machine().is_none() {
        report
            .error("unknown-machine", None, format!("the shelf holds no machine called \"{}\"", shelf.use_machine))
            .hint(suggestion(&shelf.use_machine, shelf.machines.iter().map(|m| m.name.as_str())));
    }
    let resins: Option<Vec<&Resin>> = job.casts.iter().map(|c| casting_resin(shelf, &c.resin.value)).collect();
    let (wood, finish) = (shelf.wood(&job.blank.wood.value)?, shelf.finish(&job.route.finish.value)?);
    let found = Found { machine: shelf.machine()?, wood, finish, resins: resins? };
    let (wall, least) = (job.piece.wall.value, mm(found.wood.least_wall));
    if wall < least {
        let (wall, least) = (wall.told(job.units), least.told(job.units));
        let text = format!("the wall is {wall}, and a wall of {} holds from {least}", found.wood.name);
        report.warning("thin-wall", job.piece.wall.at, text).hint(format!("make the wall {least} or more"));
    }
    if job.route.kind.value == RouteKind::OneSided && matches!(job.piece.foot.value, FootSpec::Recess { .. }) {
        report
            .error("recess-one-sided", job.piece.foot.at, "a recess under the foot cannot be carved from the rim side")
            .hint("set foot = { kind = \"pad\" }, or take the two-sided route");
    }
    let lean = request.piece.foot_inset;
    if job.route.kind.value == RouteKind::OneSided && request.piece.is_from_elsewhere() {
        if lean > UPRIGHT {
            let text = format!(
                "cut from one side, the outside can only be upright, and the foot of this solid lies {} inside its rim",
                job.units.told(lean)
            );
            report
                .error("one-sided-outside", job.piece.outline.at, text)
                .hint("set `kind = \"two-sided\"` in [route], or make the outside upright where the solid was made");
        }
        if request.piece.recess.is_some() {
            report
                .error(
                    "recess-one-sided",
                    job.piece.foot.at,
                    "a recess under the foot cannot be carved from the rim side",
                )
                .hint("take the two-sided route, or fill the recess where the solid was made");
        }
    }
    if let Some(glue) = job.route.foot_glue.as_ref().filter(|glue| shelf.glue(&glue.value).is_none()) {
        report
            .error("unknown-glue", glue.at, format!("the shelf holds no glue called \"{}\"", glue.value))
            .hint(suggestion(&glue.value, shelf.glues.iter().map(|g| g.name.as_str())));
    }
    freed(request, report);
    Some(found)
}

/// An outside that leans by less is upright, mm.
const UPRIGHT: f64 = 0.05;

/// Tabs hold a piece only where the wood around it stands beside it.
fn freed(request: &Request<'_>, report: &mut Report) {
    let (job, freeing) = (request.job, &request.job.route.freeing);
    if freeing.value != Freeing::Tabs {
        return;
    }
    if job.route.kind.value != RouteKind::OneSided {
        report
            .error(
                "tabs-two-sided",
                freeing.at,
                "tabs would hold a two-sided piece by the waste above its rim, which has to be faced away: then nothing holds",
            )
            .hint("leave `freeing` out: the flange becomes chips; or take the one-sided route");
        return;
    }
    // The blank's size does not matter for where the tabs are.
    let tabs = tray::tabs(request.piece, request.piece.outline.half_size());
    if tabs.len() < LEAST_TABS {
        report
            .error(
                "tabs-find-no-place",
                freeing.at,
                format!(
                    "tabs stand at the two ends, where fibres run through them from the piece to the wood around it; this outline is square enough to the grain there for {} of them, expected {LEAST_TABS} or more",
                    tabs.len()
                ),
            )
            .hint("leave `freeing` out: all around the piece becomes chips; or turn the piece so that its blunt ends lie along the grain");
    }
}

fn made(
    request: &Request<'_>,
    found: &Found<'_>,
    figures: &mut Figures,
    report: &mut Report,
    progress: &dyn Progress,
) -> Result<Option<Plan>, PlanFault> {
    let (job, machine) = (request.job, found.machine);
    progress.tell("sizes and cutters", 0.0);
    let Some(prepared) = prepare(request, found, true, &mut Ledger { figures, report })? else { return Ok(None) };
    let Prepared { making, layup, cutters, shapes, casts, poured } = prepared;
    let sizes = making.sizes;
    let shop = Shop::new(request, machine, found.wood, sizes, progress);
    let mut workpiece = Workpiece::new(&layup.blank, PLANNING_PITCH);
    let mut planned: Vec<Planned> = Vec::new();
    let face_cutter = cutters.of(Task::Face)?;
    let hollows = |workpiece: &mut Workpiece, planned: &mut Vec<Planned>| -> Result<(), PlanFault> {
        if !shop.resin {
            return Ok(());
        }
        progress.tell("hollow for the resin", 0.1);
        let translucent = job.casts.iter().any(|c| c.translucent);
        let hollow = cavity::Cutters { rough: cutters.of(Task::RoughHollow)?, ball: cutters.of(Task::FinishHollow)? };
        let mut flats: Vec<f64> = job.casts.iter().map(|c| sizes.height - c.form.level_depth().as_mm()).collect();
        flats.sort_by(|a, b| b.total_cmp(a));
        let pockets = job.casts.iter().filter(|c| matches!(c.form, CastForm::Speckle { .. }));
        let pocket = pockets.filter_map(|c| c.form.narrowest()).map(|w| w.value.as_mm()).fold(f64::INFINITY, f64::min);
        let look = cavity::Look { translucent, flats: &flats, pocket };
        planned.push(cavity::cavity(&shop, &shapes, look, hollow, workpiece)?);
        for (index, (cast, plan)) in shapes.iter().zip(&casts).enumerate() {
            let dam = dam(&cast.hollow, &sizes);
            for at in pour_points(cast, plan.level) {
                workpiece.pour(index as u16, at, plan.level, Some(&dam));
            }
        }
        progress.tell("level", 0.3);
        planned.push(level::level(&shop, face_cutter, workpiece)?);
        Ok(())
    };
    if making.one_sided {
        hollows(&mut workpiece, &mut planned)?;
        progress.tell("inside and outside", 0.3);
        let both = inside::Cutters {
            task: Task::RoughOutside,
            rough: cutters.of(Task::RoughOutside)?,
            ball: cutters.of(Task::FinishInside)?,
        };
        planned.push(tray::tray(&shop, face_cutter, both, &mut workpiece)?);
    } else {
        let (rough, ball) = (cutters.of(Task::RoughOutside)?, cutters.of(Task::FinishOutside)?);
        let point = request.piece.mark.as_ref().map(|_| cutters.of(Task::Engrave)).transpose()?;
        let outer = outside::Cutters { facer: face_cutter, rough, ball, point };
        let inner = inside::Cutters {
            task: Task::RoughInside,
            rough: cutters.of(Task::RoughInside)?,
            ball: cutters.of(Task::FinishInside)?,
        };
        let ready = |shop: &Shop<'_>| -> Result<_, PlanFault> {
            let (outside, inside) = rayon::join(|| outside::ready(shop, outer), || inside::ready(shop, inner));
            Ok((outside?, inside?))
        };
        let both = |shop: &Shop<'_>, (outside, inside), workpiece: &mut Workpiece, planned: &mut Vec<Planned>| {
            progress.tell("outside", 0.4);
            workpiece.flip();
            planned.push(outside::outside(shop, outer, outside, workpiece)?);
            progress.tell("inside", 0.7);
            workpiece.flip();
            planned.push(inside::inside(shop, inner, inside, workpiece)?);
            Ok::<(), PlanFault>(())
        };
        let before = || -> Result<(), PlanFault> {
            hollows(&mut workpiece, &mut planned)?;
            if sizes.only_roughs() {
                both(&shop, ready(&shop)?, &mut workpiece, &mut planned)?;
                planned.push(reface::reface(&shop, face_cutter, &mut workpiece)?);
            }
            Ok(())
        };
        // What comes last does not wait for what comes first, as far as it lies on the piece alone.
        let last = Shop { sizes: sizes.after_rest(), ..shop };
        let (before, ready) = rayon::join(before, || ready(&last));
        before?;
        both(&last, ready?, &mut workpiece, &mut planned)?;
    }
    if report.has_errors() {
        return Ok(None);
    }
    progress.tell("programs", 0.9);
    finish(request, found, &shop, &layup, planned, (&shapes, &poured), (casts, &cutters.why), std::mem::take(figures))
        .map(Some)
}

#[allow(clippy::too_many_arguments)]
fn finish(
    request: &Request<'_>,
    found: &Found<'_>,
    shop: &Shop<'_>,
    layup: &Layup,
    mut planned: Vec<Planned>,
    (shapes, poured_solids): (&[Cast], &[Mesh]),
    (casts, why): (Vec<CastPlan>, &[Why]),
    mut figures: Figures,
) -> Result<Plan, PlanFault> {
    let (job, shelf, piece) = (request.job, request.shelf, request.piece);
    let texts = programs(&mut planned, shelf, found.machine, &job.title, job.units)?;
    let mut models: BTreeMap<String, Mesh> = BTreeMap::new();
    for p in &mut planned {
        let id = p.setup.id.clone();
        p.setup.target = format!("models/setup-{id}-target.stl");
        p.setup.keep = vec![format!("models/keep-{id}-table.stl")];
        models.insert(format!("models/setup-{id}-target"), p.target.clone());
        models.insert(format!("models/keep-{id}-table"), p.keep.clone());
        let seconds: f64 = p.setup.programs.iter().map(|s| s.duration_s).sum();
        figures.put(
            format!("setup.{id}.time"),
            Figure::new(
                seconds,
                "s",
                "Σ over moves of trapezoids between corner speeds",
                vec![
                    Input::literal(found.machine.acceleration[0], "mm/s²", "shelf: machine, acceleration XY"),
                    Input::literal(found.machine.rapid[0], "mm/min", "shelf: machine, rapid XY"),
                ],
                Source::Published {
                    title: "Kunz and Stilman, Time-Optimal Trajectory Generation for Path Following, Robotics: Science and Systems VIII, 2012".into(),
                    place: "circular blends".into(),
                },
            ),
        );
    }
    for p in &planned {
        put_limits(p, &mut figures);
    }
    let measured = request.measured.copied().unwrap_or_default();
    let mut sheets: Vec<&mut workpiece::Setup> = planned.iter_mut().map(|p| &mut p.setup).collect();
    let goods = HoldingGoods { tape_stack: under(shop, Lies::Rim), ..shelf.holding.clone() };
    touch_off(&measured, &shop.sizes, &goods, &mut sheets, &mut figures);
    let sheets: Vec<&workpiece::Setup> = planned.iter().map(|p| &p.setup).collect();
    let of_piece = (piece, &shop.sizes.after_rest(), !casts.is_empty());
    let accepted = turned::budgets(of_piece, found.machine, &sheets, &mut figures);
    turned::worksheets(&sheets, &mut figures);
    models.insert("models/piece".into(), piece.mesh.clone());
    let (lo, hi) = layup.blank.bounds();
    models.insert("models/blank".into(), Mesh::cuboid(DVec3::from_array(lo), DVec3::from_array(hi)));
    for (shape, poured) in shapes.iter().zip(poured_solids) {
        models.insert(format!("models/cast-{}", shape.name), shape.in_piece.clone());
        models.insert(format!("models/cast-{}-hollow", shape.name), shape.hollow.clone());
        models.insert(format!("models/cast-{}-poured", shape.name), poured.clone());
    }

    let volume_ml = piece.mesh.volume() / 1000.0;
    let resin_ml: f64 = casts.iter().map(|c| c.in_piece_ml).sum();
    let hours = &shelf.hours;
    let day_h = hours.to_h - hours.from_h;
    let cure_factor = trade::figures::resin::time_by_day_and_night(1.0, hours.day_c, day_h, hours.night_c);
    figures.put(
        "cure.factor",
        Figure::new(
            cure_factor,
            "1",
            "f = 1 / mean of exp(−E/R · (1/T − 1/295.15 K)), E = 57 kJ/mol",
            vec![
                Input::literal(hours.day_c, "°C", "shelf: hours.day"),
                Input::literal(hours.night_c, "°C", "shelf: hours.night"),
                Input::literal(day_h, "h", "shelf: working hours"),
            ],
            trade::figures::resin::time_source(),
        ),
    );
    figures.put("accuracy.stack", error_stack(piece, found.machine));
    let skin_dm2 = piece.mesh.area() * 1e-4;
    let sanding_h = sanding_min(piece.mesh.area(), shop.scallop) / 60.0;
    figures.put(
        "sand.hours",
        Figure::new(
            sanding_h,
            "h",
            "t = 18 min/dm² · area · (1 + 0.6 · (scallop − 0.02) / 0.03)",
            vec![
                Input::literal(skin_dm2, "dm²", "skin of the piece"),
                Input::literal(shop.scallop, "mm", "job: route.scallop"),
            ],
            Source::CommonPractice,
        ),
    );
    shown::surface(
        piece.mesh.area(),
        shop.resin,
        (job.route.first_grit.map(|g| g.value), shop.scallop),
        (shelf, found.finish),
        &mut figures,
    );
    let gluing = Gluing::of(layup, shelf, found.wood);
    gluing.enter(layup, found.wood, &mut figures);
    for (id, value, from) in [
        ("piece.volume", volume_ml, "mesh of the piece (divergence theorem)"),
        ("piece.volume_exact", piece.volume_exact / 1000.0, "outline and profile in closed form (Steiner's formula)"),
    ] {
        figures.put(id, Figure::new(value, "ml", "V", vec![Input::literal(value, "ml", from)], Source::Derived));
    }

    let grit = job.route.first_grit.map(|g| g.value).or_else(|| first_grit(shop.scallop, shop.resin));
    let steps = steps(&Content {
        job,
        shop,
        layup,
        planned: &planned,
        casts: &casts,
        shapes,
        gluing,
        moisture: Moisture::of(request, layup),
        season: shown::season(piece.outline.size(piece.tolerance).y, found.wood, !casts.is_empty(), &mut figures),
        why,
        accepted: &accepted,
        skin_mm2: piece.mesh.area(),
        sanding_h,
        first_grit: grit,
        finish: found.finish,
    });
    let mut buy = layup.buy.clone();
    buy.extend(buying::resins(&casts, shelf));
    buy.extend(buying::glues(gluing.glue_g, planned.iter().map(|p| &p.setup), shelf));
    buy.push(buying::finish(found.finish, piece.mesh.area()));
    let sheets: Vec<&workpiece::Setup> = planned.iter().map(|p| &p.setup).collect();
    shown::times(&steps, &sheets, &casts, &mut figures);
    shown::sheets(&sheets, &mut figures);
    shown::holdings(&sheets, &mut figures);
    buy.extend(buying::supplies(&casts, &sheets, (piece.mesh.area(), grit), shelf));
    shown::buying(&buy, &shelf.rates.currency, &mut figures);
    let cost = cost::cost(&buy, &steps, found.machine, &shelf.rates, &mut figures);
    let calendar = calendar::calendar(&steps, hours, job.start.as_ref().map(|s| s.value.as_str()));
    let cutters = used_cutters(&planned, shelf);
    let size = piece.outline.size(piece.tolerance);
    let sheet = PieceSheet {
        size: [size.x, size.y, piece.height],
        volume_ml,
        wood_ml: volume_ml - resin_ml,
        min_wall: piece.least_wall,
        min_floor: piece.floor_z
            - piece.recess.map_or(0.0, |[d, _]| d)
            - piece.mark.as_ref().map_or(0.0, |m| m.deepest),
        wall: piece.wall,
        floor: piece.floor,
        recess: piece.recess.map_or(0.0, |[d, _]| d),
        mark: piece.mark.as_ref().map(|m| MarkSheet {
            text: m.text.clone(),
            half: m.half.to_array(),
            depth: m.deepest,
        }),
    };
    shown::piece(&sheet, &casts, sheet.mark.as_ref().map_or(0.0, |m| m.depth), &mut figures);
    shown::blank(layup, (&shelf.shop, found.wood.density_kg_m3), &mut figures);
    Ok(Plan {
        title: job.title.clone(),
        units: job.units,
        chord: piece.tolerance,
        scallop: shop.scallop,
        piece: sheet,
        wood: found.wood.name.clone(),
        wood_colour: found.wood.colour,
        machine: found.machine.clone(),
        holding: shelf.holding.clone(),
        cutters,
        blank: layup.blank.clone(),
        casts,
        steps,
        setups: planned.into_iter().map(|p| p.setup).collect(),
        figures,
        models,
        programs: texts,
        buy,
        cuts: layup.cuts.clone(),
        layouts: layup.layouts.clone(),
        calendar,
        cost,
        assumed: assumed(shop, job.start.is_none()),
    })
}

/// What sets the feeds of a setup.
fn put_limits(planned: &Planned, figures: &mut Figures) {
    for (share, limit) in planned.bound_shares().into_iter().filter(|(share, _)| *share > 0.0) {
        let inputs = vec![Input::literal(
            planned.operations.len() as f64,
            "1",
            "operations, each stretch at the least of its limits",
        )];
        let figure = Figure::new(share, "1", "time at feed set by this limit / time at feed", inputs, Source::Derived);
        figures.put(format!("feeds.{}.{}", planned.setup.id, limit.id()), figure);
    }
}

/// How far the tip's path may be off the true shape at worst, before the machine adds what is its own.
fn error_stack(piece: &Piece, machine: &Machine) -> Figure {
    let inch = usize::from(machine.inch);
    let step = 10_f64.powi(-(machine.decimals[inch] as i32)) * [1.0, 25.4][inch];
    Figure::new(
        piece.tolerance + PATH_TOLERANCE + FIT_TOLERANCE + step / 2.0,
        "mm",
        "e = chord of the shape + chord of the path + fit of arcs + rounding",
        vec![
            Input::literal(piece.tolerance, "mm", "chord tolerance of the shape"),
            Input::literal(PATH_TOLERANCE, "mm", "path between its points"),
            Input::literal(FIT_TOLERANCE, "mm", "lines and arcs fitted through the path"),
            Input::literal(step / 2.0, "mm", "half a step of the last decimal; Z is rounded up"),
        ],
        Source::Derived,
    )
}

fn used_cutters(planned: &[Planned], shelf: &trade::shelf::Shelf) -> Vec<Cutter> {
    let mut numbers: Vec<u32> = planned.iter().flat_map(|p| p.operations.iter().map(|o| o.cutter)).collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers.iter().filter_map(|n| shelf.cutter(*n).cloned()).collect()
}

fn assumed(shop: &Shop<'_>, no_start: bool) -> Vec<String> {
    let mut all = vec![
        match &shop.goods.tape_measured {
            Some(by) => format!("holding strength of glue from the shelf; of tape as measured: {by}"),
            None => "holding strength of tape and glue from the shelf, not from a pull test of yours".to_owned(),
        },
        "cutting forces from planning figures (± 50 %), not measured".to_owned(),
        match &shop.machine.flip_measured {
            Some(by) => format!("stiffness of the machine from the shelf; squareness and lean as measured: {by}"),
            None => "stiffness, squareness and lean of the machine from the shelf".to_owned(),
        },
        format!(
            "the machine follows its program but for {} at corners (shelf); that comes on top of the proof's figures",
            shop.piece.units.fine(shop.machine.corner)
        ),
        "hands-on times of the steps: common practice; your own record replaces them".to_owned(),
    ];
    if shop.resin {
        all.push(
            "times of the resin: the shelf's, scaled to the mean shop temperature; the test decides, not the date"
                .to_owned(),
        );
        all.push("leaks are looked for at the pitch of the columns; seams and pores are not seen".to_owned());
    }
    if no_start {
        all.push("the calendar starts on Monday 4 January 2027, for the job names no `start`".to_owned());
    }
    all
}
