//! The steps of the route in the maker's words, as a graph of what needs what.

use crate::buying::LAST_GRIT;
use crate::casting::pour_points;
use crate::choose::Speeds;
use crate::cutters::Why;
use crate::feeds::Limit;
use crate::gluing::Gluing;
use crate::layup::Layup;
use crate::moisture::Moisture;
use crate::plan::{CastLayer, CastPlan};
use crate::rest::rest_movement;
use crate::setups::{Planned, Shop};
use crate::turned::{Accepted, CAST_OFF, WALL_SHARE};
use base::{FigureId, Units};
use job::{Freeing, Job};
use shape::cast::Cast;
use trade::cautions::{Subject, cautions_for};
use trade::figures::finishing::volume_ml;
use trade::figures::lumber::JOINT_WATCH_MPA;
use trade::figures::sanding::sequence;
use trade::shelf::Finish;
use workpiece::{Change, Face, Setup, Step, StepKind};

/// Minutes in seconds.
const MIN: f64 = 60.0;
/// Hours in seconds.
const H: f64 = 3600.0;

/// Hands-on times, common practice, no source; the record of a shop replaces them.
mod usual {
    use super::MIN;
    pub(super) const MILL: f64 = 20.0 * MIN;
    pub(super) const MILL_EACH: f64 = 6.0 * MIN;
    pub(super) const GLUE: f64 = 25.0 * MIN;
    pub(super) const TRIM: f64 = 30.0 * MIN;
    pub(super) const HOLD: f64 = 15.0 * MIN;
    pub(super) const ZERO: f64 = 12.0 * MIN;
    pub(super) const LOOK: f64 = 4.0 * MIN;
    pub(super) const CUTTER: f64 = 4.0 * MIN;
    pub(super) const CHIPS: f64 = MIN;
    pub(super) const REST: f64 = 10.0 * MIN;
    pub(super) const SEAL: f64 = 15.0 * MIN;
    pub(super) const DAM: f64 = 20.0 * MIN;
    pub(super) const POUR: f64 = 20.0 * MIN;
    pub(super) const CLEAR: f64 = 10.0 * MIN;
    pub(super) const INSPECT: f64 = 10.0 * MIN;
    pub(super) const RELEASE: f64 = 10.0 * MIN;
    pub(super) const FLIP: f64 = 3.0 * MIN;
    pub(super) const TABS: f64 = 10.0 * MIN;
    pub(super) const COAT: f64 = 15.0 * MIN;
}

/// Boards from this thickness on should rest, mm (common practice, no source).
const THICK: f64 = 50.0;
/// Days of rest to reckon with (common practice, no source).
const REST_DAYS: f64 = 14.0;

/// A route being written down.
pub(crate) struct Route {
    /// Steps so far.
    pub(crate) steps: Vec<Step>,
}

impl Route {
    fn add(&mut self, id: impl Into<String>, kind: StepKind, title: impl Into<String>, needs: &[&str]) -> &mut Step {
        self.steps.push(Step {
            id: id.into(),
            kind,
            title: title.into(),
            needs: needs.iter().map(|n| (*n).to_owned()).collect(),
            gives: Vec::new(),
            duration_s: 0.0,
            wait_s: 0.0,
            hands_on_s: 0.0,
            setup: None,
            cast: None,
            says: Vec::new(),
            cautions: Vec::new(),
            figures: Vec::new(),
            change: None,
            grit: None,
        });
        let last = self.steps.len() - 1;
        &mut self.steps[last]
    }

    fn last(&self) -> String {
        self.steps.last().map_or_else(String::new, |s| s.id.clone())
    }
}

trait Told {
    fn hands(&mut self, seconds: f64) -> &mut Self;
    fn waits(&mut self, seconds: f64) -> &mut Self;
    fn gives(&mut self, what: &str) -> &mut Self;
    fn says(&mut self, sentence: impl Into<String>) -> &mut Self;
    fn warns(&mut self, subject: Subject<'_>) -> &mut Self;
    fn shows(&mut self, figure: &str) -> &mut Self;
}

impl Told for Step {
    fn hands(&mut self, seconds: f64) -> &mut Self {
        self.duration_s += seconds;
        self.hands_on_s += seconds;
        self
    }

    fn waits(&mut self, seconds: f64) -> &mut Self {
        self.wait_s = seconds;
        self
    }

    fn gives(&mut self, what: &str) -> &mut Self {
        self.gives.push(what.to_owned());
        self
    }

    fn says(&mut self, sentence: impl Into<String>) -> &mut Self {
        self.says.push(sentence.into());
        self
    }

    fn warns(&mut self, subject: Subject<'_>) -> &mut Self {
        for caution in cautions_for(subject) {
            if !self.cautions.iter().any(|c| c == caution.text) {
                self.cautions.push(caution.text.to_owned());
            }
        }
        self
    }

    fn shows(&mut self, figure: &str) -> &mut Self {
        self.figures.push(FigureId(figure.to_owned()));
        self
    }
}

/// What the steps are written from.
pub(crate) struct Content<'a> {
    /// The job.
    pub(crate) job: &'a Job,
    /// The shop.
    pub(crate) shop: &'a Shop<'a>,
    /// The glue-up.
    pub(crate) layup: &'a Layup,
    /// The setups in order, programs written.
    pub(crate) planned: &'a [Planned],
    /// The casts.
    pub(crate) casts: &'a [CastPlan],
    /// Their shapes.
    pub(crate) shapes: &'a [Cast],
    /// The glue-up in figures.
    pub(crate) gluing: Gluing,
    /// How wet the wood is.
    pub(crate) moisture: Moisture,
    /// How far the bowl goes oval from winter to summer, mm, and the stress where resin holds it, MPa, if there is resin.
    pub(crate) season: (f64, Option<f64>),
    /// Why the cutters are what they are.
    pub(crate) why: &'a [Why],
    /// What each setup may be found off by at most.
    pub(crate) accepted: &'a [(String, Accepted)],
    /// Skin of the piece, mm².
    pub(crate) skin_mm2: f64,
    /// Hours of sanding.
    pub(crate) sanding_h: f64,
    /// First grit; `None` where the scallop is too high to sand.
    pub(crate) first_grit: Option<u32>,
    /// Finish.
    pub(crate) finish: &'a Finish,
}

impl Content<'_> {
    /// A length that is measured in the shop.
    fn length(&self, value: f64) -> String {
        self.job.units.shop(value)
    }

    /// A length too small for a rule.
    fn fine(&self, value: f64) -> String {
        self.job.units.fine(value)
    }

    /// One of two usual ways to name a size.
    fn either(&self, metric: &'static str, inch: &'static str) -> &'static str {
        match self.job.units {
            Units::Mm => metric,
            Units::In => inch,
        }
    }
}

/// Writes the whole route down.
pub(crate) fn steps(c: &Content<'_>) -> Vec<Step> {
    let mut route = Route { steps: Vec::new() };
    blank(c, &mut route);
    let mut up = Face::Rim;
    for planned in c.planned {
        if planned.setup.face_up != up {
            up = planned.setup.face_up;
            flip(c, &mut route, planned);
        }
        setup(c, planned, &mut route);
        if planned.setup.id == "rough-inside" {
            rest(c, &mut route);
        }
        if planned.setup.id == "cavity" {
            casting(c, &mut route);
        }
    }
    ending(c, &mut route);
    route.steps
}

fn blank(c: &Content<'_>, route: &mut Route) {
    let pieces: u32 = c.layup.cuts.iter().map(|l| l.count).sum();
    let sizes = &c.shop.sizes;
    let step = route.add("mill", StepKind::Mill, "Mill the boards", &[]);
    step.hands(usual::MILL + usual::MILL_EACH * f64::from(pieces))
        .gives("flat boards of one thickness, edges jointed")
        .says(c.moisture.of_the_boards())
        .says("Rough-cut over length. Flatten one face, plane the other parallel in the long board, never a short piece through the planer.")
        .says(format!("Plane to {}. Joint one edge, rip, joint again, then cross-cut to the cut list.", c.length(c.layup.planed)))
        .says(c.layup.layouts.first().map_or_else(
            || "All boards are to be bought; write what you have into the shelf ([[board]]), and it is sawn first.".to_owned(),
            |_| "Saw the boards at hand as the cut layout shows, cut by cut: rips in pieces long enough for the saw, first.".to_owned(),
        ))
        .warns(Subject::Milling)
        .warns(Subject::Species(&c.shop.wood.name))
        .shows("wood.board_feet")
        .shows("wood.waste")
        .shows("blank.mass");
    if !c.layup.layouts.is_empty() {
        step.shows("wood.at_hand");
    }
    if c.job.route.rest.is_none() && c.planned.iter().any(|p| p.setup.id == "outside") {
        step.says(advice_to_rest(c));
    }
    if let Some(caution) = &c.shop.wood.caution {
        step.cautions.push(caution.clone());
    }
    let mut last = "mill";
    if c.layup.layers > 1 || c.layup.strips > 1 {
        route
            .add("glue", StepKind::Glue, "Glue the blank", &["mill"])
            .hands(usual::GLUE)
            .waits(c.gluing.clamp_min * MIN + c.gluing.machine_h * H)
            .gives("one block")
            .says(format!(
                "{}, {} in all, grain all one way, joints of one layer not over those of the next. {} Dry-fit first.",
                counted(c.layup.layers, "layer"),
                counted(c.layup.cuts.iter().map(|cut| cut.count as usize).sum(), "strip"),
                ring_direction(c.layup)
            ))
            .says(format!(
                "Spread {:.0} g of glue in all ({:.0} g/m², one face of each joint, and a tenth more); close within {:.0} min.",
                c.gluing.glue_g, c.gluing.spread_g_m2, c.gluing.open_min
            ))
            .says(format!(
                "Press with {:.2} N/mm²: {:.0} kN on the widest joint, {} clamps of {:.1} kN, or cauls and fewer strips at a time.",
                c.gluing.pressure_mpa,
                c.gluing.force_n / 1000.0,
                c.gluing.clamps,
                c.gluing.clamp_n / 1000.0
            ))
            .says(format!(
                "Leave it clamped {:.0} min, then {:.0} h before you face it, or the joints sink later.",
                c.gluing.clamp_min, c.gluing.machine_h
            ))
            .warns(Subject::GlueUp)
            .shows("glue.mass")
            .shows("glue.clamps");
        last = "glue";
    }
    let trim = route.add("trim", StepKind::Trim, "Square the blank and mark its faces", &[last]);
    trim.hands(usual::TRIM)
        .gives("blank of known size, faces marked")
        .says(format!(
            "Face the block parallel to {} (this is T0), saw it to {} long and {} wide, grain along the length.",
            c.length(sizes.thickness()),
            c.length(sizes.half.x * 2.0),
            c.length(sizes.half.y * 2.0)
        ))
        .says("Mark on the wood: rim face A, long edge B (it will lie to the front), short edge C (to the left), foot face F; and on both faces and both edges the corner where B and C meet: B/C.")
        .says(format!(
            "Straightedge on F: a feeler of {} must not pass. Measure the thickness at the four corners and write it down.",
            c.fine(0.1)
        ))
        .warns(Subject::Milling)
        .shows("blank.thickness");
    trim.change = Some(Change::Blank);
}

/// Which way the growth rings of neighbours look, so that they do not all cup the same way (common practice, no source).
fn ring_direction(layup: &Layup) -> &'static str {
    match (layup.layers > 1, layup.strips > 1) {
        (true, _) => "Heart faces to heart faces and bark faces to bark faces: then layers that cup hold each other.",
        (false, true) => {
            "Turn the rings of neighbours the other way, heart up, heart down, unless all are quarter-sawn."
        }
        (false, false) => "",
    }
}

/// How often the programs of a setup stop for the chips.
fn chip_stops(planned: &Planned) -> usize {
    planned.operations.iter().map(|o| o.stops.len()).sum()
}

/// What sets the feeds of a setup, and why a spindle turns no faster.
fn feed_sentences(planned: &Planned) -> Vec<String> {
    let mut out = Vec::new();
    for operation in planned.operations.iter().filter(|o| !o.why.is_empty()) {
        let Speeds { rpm, by_hand, .. } = &operation.speeds;
        let speed = if by_hand.is_empty() { format!("{rpm:.0} rev/min") } else { by_hand.clone() };
        let sentence = format!("{}: {speed}, {}.", capital(&operation.title), operation.why);
        if !out.contains(&sentence) {
            out.push(sentence);
        }
    }
    let shares = planned.bound_shares();
    let mut told: Vec<(f64, Limit)> = shares.into_iter().filter(|(share, _)| *share >= 0.05).collect();
    told.sort_by(|a, b| b.0.total_cmp(&a.0));
    let words: Vec<String> =
        told.iter().map(|(share, limit)| format!("{} {:.0} %", limit.words(), 100.0 * share)).collect();
    if !words.is_empty() {
        out.push(format!("What sets the feeds, by time: {}.", words.join(", ")));
    }
    out
}

fn flip(c: &Content<'_>, route: &mut Route, to: &Planned) {
    let up = to.setup.face_up;
    let last = route.last();
    // Without resin no notch is cut: the corner was marked by hand.
    let mark = if c.casts.is_empty() { "corner marked B/C" } else { "notch" };
    let (title, words) = match up {
        Face::Foot => {
            let lies = if c.casts.is_empty() { "lies" } else { "is underneath now," };
            let words = format!(
                "Turn it about the long direction: the front edge goes to the back. The {mark} {lies} back left."
            );
            ("Turn it over, foot up", words)
        }
        Face::Rim => {
            let words = format!(
                "Turn it about the long direction: the back edge comes to the front. The {mark} is front left again."
            );
            ("Turn it over, rim up", words)
        }
    };
    let step = route.add(format!("flip-{}", to.setup.id), StepKind::Flip, title, &[&last]);
    step.hands(usual::FLIP).gives(if up == Face::Foot { "foot up" } else { "rim up" }).says(words);
    step.change = Some(Change::Flip);
}

fn setup(c: &Content<'_>, planned: &Planned, route: &mut Route) {
    let s = &planned.setup;
    let id = s.id.as_str();
    let last = route.last();
    let step = route.add(format!("hold-{id}"), StepKind::Hold, format!("{}: hold it", s.title), &[&last]);
    step.hands(usual::HOLD).gives("held").says(s.holding.says.clone()).warns(Subject::Holding);
    for figure in ["sideways", "moment"] {
        step.shows(&format!("hold.{id}.{figure}"));
    }
    step.setup = Some(id.into());

    let hold = route.last();
    let step = route.add(format!("zero-{id}"), StepKind::Zero, format!("{}: set the zero", s.title), &[&hold]);
    step.hands(usual::ZERO)
        .gives("zero set and checked")
        .says("Set X, Y and Z to the numbers of this setup, then touch the check surfaces.")
        .says("A reading outside its range: stop, and look for glue or chips under the work before anything is cut.");
    step.setup = Some(id.into());
    finding(c, s, step);

    let zero = route.last();
    let leveling = id == "level";
    let kind = if leveling { StepKind::Level } else { StepKind::Carve };
    let run: f64 = s.programs.iter().map(|p| p.duration_s).sum();
    let cutters: usize = s.programs.iter().map(|p| p.cutters.len()).sum();
    let step = route.add(format!("carve-{id}"), kind, format!("{}: carve", s.title), &[&zero]);
    step.duration_s = run;
    step.hands(usual::LOOK + usual::CUTTER * cutters as f64)
        .gives(&format!("{} carved", s.title))
        .says(format!("Run {} first: the spindle stays off, it stops at each corner. Look.", s.look_first))
        .warns(Subject::Carving { resin: !c.casts.is_empty() });
    for program in &s.programs {
        let names: Vec<String> = program
            .cutters
            .iter()
            .filter_map(|n| c.shop.shelf.cutter(*n))
            .map(|k| format!("T{} {}, {} below the nut", k.number, k.name, c.length(k.solid.stickout)))
            .collect();
        step.says(format!("{}: {}.", program.file, names.join("; then ")));
    }
    for why in c.why.iter().filter(|why| why.setup == id) {
        step.says(why.says.clone()).shows(&why.figure);
    }
    for sentence in feed_sentences(planned) {
        step.says(sentence);
    }
    let stops = chip_stops(planned);
    if stops > 0 {
        step.hands(usual::CHIPS * stops as f64).says(format!(
            "Nothing clears the chips away on this machine, and packed chips are cut again: they burn the wood and tear work loose. The programs stop {}, cutter up, before chips fill the hollow: spindle off, take them out with a vacuum or a brush, never by hand near the cutter. Take them out at each change of the cutter and between programs, too.",
            times(stops)
        ));
    }
    if let Some(mark) = c.shop.piece.mark.as_ref().filter(|_| id == "outside") {
        step.says(format!(
            "The mark “{}” reads along X, from left to right as you stand before the machine, {} deep.",
            mark.text,
            c.fine(mark.deepest)
        ));
    }
    if id == "inside" {
        step.says("Stand by while the flange is taken away, hand on the stop. Nothing larger than a grain of rice should fly.");
    }
    step.setup = Some(id.into());
    step.change = Some(Change::Carve { setup: id.into() });

    let carve = route.last();
    let step = route.add(
        format!("inspect-{id}"),
        StepKind::Inspect,
        format!("{}: measure before you let go", s.title),
        &[&carve],
    );
    step.hands(usual::INSPECT).gives("measured");
    for point in &s.inspect {
        let (expect, within) = (c.length(point.expect), c.fine(point.within));
        let line = format!("{}: {expect}, give or take {within}.", capital(&point.what));
        // The same may be measured at two places; the sheet has a line to fill in for each.
        if !step.says.contains(&line) {
            step.says(line);
        }
    }
    step.says("Voids or torn grain: fill, let cure, run the finishing program again on the same zero.");
    step.setup = Some(id.into());

    if id == "cavity" && c.shop.goods.pallet > 0.0 {
        return; // stays on its pallet until it has been levelled
    }
    let inspect = route.last();
    let step = route.add(format!("release-{id}"), StepKind::Release, format!("{}: release", s.title), &[&inspect]);
    let heat = if c.casts.is_empty() { "40 °C" } else { "40 °C at most: resin softens" };
    step.hands(usual::RELEASE).gives("free").says(match s.holding.method.as_str() {
        "screws" => "Draw the screws from beneath.".to_owned(),
        "vacuum" => "Let the air in; never pry while it holds.".to_owned(),
        "vise" => "Open the vise, the other hand on the work.".to_owned(),
        _ => format!("Slide a thin wedge in from a corner along the grain, with spirit or gentle warmth ({heat})."),
    });
    if s.face_up == Face::Foot {
        step.says("Never lever on the flange.").says("Pare off the thin lip below the true edges with a knife. Scrape every crumb of glue off A and off the land of the foot.");
    }
    if id == "cavity" {
        step.says("It goes off the machine for the pour and the cure: the edges B and C bring it back.");
    }
    let tabs = c.shop.freeing == Freeing::Tabs;
    if id == "tray" && !tabs {
        step.says("Cut the skin around the foot with a knife or a fine saw, then sand the edge.");
    }
    step.setup = Some(id.into());
    if id == "tray" && tabs {
        saw_tabs(c, route);
    }
}

/// How well a setup is found, what of it may be accepted, and what an error there costs.
fn finding(c: &Content<'_>, setup: &Setup, step: &mut Step) {
    let Some((_, most)) = c.accepted.iter().find(|(id, _)| *id == setup.id) else { return };
    let Some(found) = &setup.alignment else { return };
    step.says(format!(
        "Sweep the long edge at two places {} apart: within {}. Two opposite edges read alike within {}, twice what the middle may be off.",
        c.length(found.edge_apart),
        c.fine(found.edge_differs),
        c.fine(2.0 * found.centre)
    ));
    let bears = format!("{} along the edge or {} across", c.fine(most.edge), c.fine(2.0 * most.centre));
    match setup.id.as_str() {
        "inside" => step
            .says(format!(
                "Here every tenth comes off the wall: up to {bears} it keeps {:.0} % of what was asked for, all else at its worst.",
                100.0 * (1.0 - WALL_SHARE)
            ))
            .shows("flip.wall.worst")
            .shows("flip.wall.expected"),
        "cavity" => step
            .says(format!(
                "This setup forgives: an error here thins nothing, for the outside, and with it the edges for the turn, are cut after it; it only moves the resin in the piece. Up to {bears} that stays within {} of its place.",
                c.fine(CAST_OFF)
            ))
            .shows("flip.cast.worst")
            .shows("flip.cast.expected"),
        _ => step.says(format!(
            "This setup forgives, too: the edges for the turn are cut with the outside, so an error here thins nothing. Up to {bears} there is wood to trim{}.",
            if c.casts.is_empty() { "" } else { " and the resin lies where it should" }
        )),
    };
}

fn saw_tabs(c: &Content<'_>, route: &mut Route) {
    let count = crate::setups::tray::tabs(c.shop.piece, c.shop.sizes.half).len();
    let last = route.last();
    let step = route.add("saw-tabs", StepKind::Reminder, "Saw the tabs, and sand", &[&last]);
    step.hands(usual::TABS)
        .gives("the piece alone")
        .says(format!(
            "Saw through the {count} tabs at the two ends with a fine hand saw, {} off the wall, the piece lying flat and held: across the fibres, so that nothing splits off.",
            c.fine(0.5)
        ))
        .says(format!(
            "Cut the skin of {} around the foot with a knife, pare the stubs of the tabs down to the wall, then sand the edge.",
            c.fine(crate::allowances::SKIN)
        ))
        .warns(Subject::Sanding { resin: false });
}

fn casting(c: &Content<'_>, route: &mut Route) {
    let goods = c.shop;
    for (index, cast) in c.casts.iter().enumerate() {
        let name = &cast.name;
        let last = route.last();
        let (tack, hours) = (cast.curing.tack_h, &goods.shelf.hours);
        let step = route.add(format!("seal-{name}"), StepKind::Seal, format!("Seal the hollow “{name}”"), &[&last]);
        step.hands(usual::SEAL)
            .waits(tack * H)
            .gives("sealed, tacky")
            .says(c.moisture.before_casting())
            .says("Tape over the depth witnesses and the notch. Blow and vacuum the pores; the wood at 20 to 25 °C and cooling, never warming.")
            .says(format!(
                "Brush {:.0} g into the hollow, twice where the grain stands open (the two ends).",
                cast.seal_g
            ))
            .says(format!("Go on when a gloved finger leaves a print but pulls no strings, about {tack:.0} h."))
            .warns(Subject::ResinMixing)
            .shows(&format!("cast.{name}.seal"));
        step.cast = Some(name.clone());

        let sealed = route.last();
        let height = c.shop.sizes.overpour + crate::allowances::DAM_ABOVE_LEVEL;
        let step = route.add(format!("dam-{name}"), StepKind::Dam, format!("Build the dam for “{name}”"), &[&sealed]);
        step.hands(usual::DAM)
            .gives("dam stands, level")
            .says(format!(
                "Dam {} long in all, at least {} from the hollow all round (round the inside of a ring too), {} high or more, release tape inside, seams sealed.",
                c.job.units.near(cast.dam_length),
                c.length(crate::allowances::DAM_OFFSET),
                c.length(height)
            ))
            .says(format!(
                "Level face A both ways with a {} level lying on A itself, not on the bench.",
                c.either("300 mm", "12 in")
            ));
        step.cast = Some(name.clone());

        let mut before = route.last();
        let count = cast.layers.len();
        let bottom = cast.level - cast.layers.iter().map(|l| l.depth).sum::<f64>();
        let mut level = bottom;
        for (k, layer) in cast.layers.iter().enumerate() {
            level += layer.depth;
            let points = pour_points(&c.shapes[index], level);
            let into = match points.len() {
                0 | 1 => "from the lowest point".to_owned(),
                n => format!("into each of the {n} hollows, which are not joined yet, to the same height"),
            };
            let wait = cast.curing.next_h.get(k).map_or(0.0, |next| next.usual * H);
            let step = route.add(
                format!("pour-{name}-{}", k + 1),
                StepKind::Pour,
                format!("Pour “{name}”, layer {} of {count}", k + 1),
                &[&before],
            );
            step.hands(usual::POUR)
                .waits(wait)
                .gives("poured")
                .says(mix(layer))
                .says(format!(
                    "Pigment {:.1} g{}. Pour a cup within {:.0} min {into}; first {}, let it gel, look for leaks, then up to {} deep.",
                    cast.pigment_of(layer),
                    if layer.cups > 1 { format!(", {:.1} g to each cup", cast.pigment_of(layer) / f64::from(layer.cups)) } else { String::new() },
                    cast.curing.pot_life_min[k],
                    c.either("1 to 2 mm", "1/16 in (1 to 2 mm)"),
                    c.length(level - bottom)
                ))
                .says("Leave what stays in the cup in a thin layer outdoors; a full cup grows hot.")
                .says(self_heating(cast, k))
                .warns(Subject::Pouring)
                .shows(&format!("cast.{name}.to_mix"))
                .shows(&format!("cast.{name}.layer{}.peak", k + 1));
            if let Some(sentence) = next_layer(cast, k) {
                step.says(sentence);
            }
            if hours.night_c < cast.resin.least_c {
                step.says(format!(
                    "Nights of {:.0} °C are below the {:.0} °C that this resin asks for: cover it and keep it warm.",
                    hours.night_c, cast.resin.least_c
                ));
            }
            step.cast = Some(name.clone());
            step.change = Some(Change::Pour {
                cast: index as u16,
                from: points,
                level,
                dam_offset: crate::allowances::DAM_OFFSET,
                dam_height: height,
            });
            before = route.last();
        }
        let carve = &cast.curing.carve_h;
        let step = route.add(format!("cure-{name}"), StepKind::Cure, format!("Let “{name}” cure"), &[&before]);
        step.waits(carve.usual * H)
            .gives("hard enough to carve")
            .says(format!(
                "About {:.1} days at this shop's temperature (at the least {:.1}, at the most {}, as it is between {:.0} and {:.0} °C), dust-covered{}.",
                carve.usual / 24.0,
                carve.hot / 24.0,
                days_or_more(carve.cold),
                hours.night_c,
                cast.curing.rooms_c[0],
                if c.shop.goods.pallet > 0.0 { ", on its pallet, off the machine" } else { "" }
            ))
            .says(format!("It is fully cured after about {:.0} days.", cast.curing.full_h / 24.0))
            .shows(&format!("cast.{name}.carve"))
            .shows(&format!("cast.{name}.full_cure"))
            .says("Ready by test, not by date: no mark from a thumbnail and crisp chips from a trial cut (Shore D 75 or more). Soft resin winds itself round the cutter.")
            .warns(Subject::Cure);
        step.cast = Some(name.clone());

        let cured = route.last();
        let step =
            route.add(format!("clear-{name}"), StepKind::Reminder, format!("Take the dam of “{name}” off"), &[&cured]);
        step.hands(usual::CLEAR)
            .gives("face A free of all that stands up")
            .says("Pull off the dam, the release tape and the tape over witnesses and notch.")
            .says("Scrape off drops beside the hollow and the ridge where resin climbed the dam: nothing may stand higher than the resin.")
            .warns(Subject::Sanding { resin: true });
        step.cast = Some(name.clone());
    }
}

/// What to weigh for a layer, cup by cup.
fn mix(layer: &CastLayer) -> String {
    let each = f64::from(layer.cups.max(1));
    let one = format!(
        "{:.0} g of resin, then {:.0} g of hardener ({:.0} ml and {:.0} ml)",
        layer.resin_g / each,
        layer.hardener_g / each,
        layer.resin_ml / each,
        layer.hardener_ml / each
    );
    let weigh = "Weigh, do not pour by eye.";
    match layer.cups {
        0 | 1 => format!("{:.0} g in all: {one}. {weigh}", layer.grams()),
        n => format!(
            "{:.0} g in all, in {n} cups, each with {one}. {weigh} Mix the next cup when the one before is poured out: a large one grows hot and gels.",
            layer.grams()
        ),
    }
}

/// How warm a layer grows by itself.
fn self_heating(cast: &CastPlan, k: usize) -> String {
    let Some(layer) = cast.curing.layers.get(k) else { return String::new() };
    let [hot_c, day_c, _] = cast.curing.rooms_c;
    let (peak, hot) = (layer.usual.peak_c, layer.hot.peak_c);
    if hot < hot_c + HARDLY_K {
        return format!("A layer this thin hardly warms itself: it grows hard slowly. Keep the room at {day_c:.0} °C.");
    }
    format!(
        "It heats itself to about {peak:.0} °C, warmest after {:.0} h ({hot:.0} °C if the room is at {hot_c:.0} °C): no lid, no blanket until it has cooled.",
        layer.usual.peak_h
    )
}

/// A layer that grows no warmer than so many K above the room hardly heats itself.
const HARDLY_K: f64 = 2.0;

/// When the layer after this one may follow.
fn next_layer(cast: &CastPlan, k: usize) -> Option<String> {
    let (next, last) = (cast.curing.next_h.get(k)?, cast.curing.last_h.get(k)?);
    let from = format!(
        "The next layer follows after about {:.0} h ({:.0} to {:.0} h), when this one takes a fingerprint and does not stick to the glove",
        next.usual, next.hot, next.cold
    );
    Some(if *last > next.usual {
        format!("{from}; later than {last:.0} h let it cure and sand it first.")
    } else {
        format!("{from}; sand it first: it is past the time in which layers grow together.")
    })
}

/// Days, or that it takes longer than is reckoned.
fn days_or_more(hours: f64) -> String {
    if hours.is_finite() { format!("{:.1}", hours / 24.0) } else { "more than 60".to_owned() }
}

fn ending(c: &Content<'_>, route: &mut Route) {
    let last = route.last();
    let resin = !c.casts.is_empty();
    let step = route.add("sand", StepKind::Sand, "Sand", &[&last]);
    step.grit = c.first_grit;
    step.hands(c.sanding_h * H)
        .gives(&format!("sanded to P{LAST_GRIT}"))
        .says(c.first_grit.map_or_else(
            || format!("The ridges of {} are too high to sand: scrape them first.", c.fine(c.shop.scallop)),
            |grit| {
                let of = c.shop.shelf.abrasives.iter().filter(|a| (grit..=LAST_GRIT).contains(&a.grit));
                let ladder: Vec<_> = of.copied().collect();
                let grits: Vec<String> = sequence(&ladder, resin).iter().map(|a| format!("P{}", a.grit)).collect();
                format!(
                    "Start with P{grit} on the ridges of {} that the ball leaves, then {}{}",
                    c.fine(c.shop.scallop),
                    grits.get(1..).unwrap_or_default().join(", "),
                    if resin { "; hard block across wood and resin, soft pads dish the wood." } else { ", along the grain in the last." }
                )
            },
        ))
        .says("Sand each grit until the scratches of the one before are gone, and vacuum between them. Look against a low light.")
        .warns(Subject::Sanding { resin })
        .shows("sand.hours")
        .shows("sand.discs");
    let finer: Vec<String> =
        c.shop.shelf.abrasives.iter().filter(|a| a.grit > LAST_GRIT).map(|a| format!("P{}", a.grit)).collect();
    if resin && !finer.is_empty() {
        step.says(format!(
            "For gloss the resin alone goes on, wet: {}, then polish. On the wood it would close the pores against the finish.",
            finer.join(", ")
        ));
    }
    if !c.casts.is_empty() {
        step.says("Keep resin below 40 °C: light pressure, fresh paper.");
    }
    let finish = c.finish;
    route
        .add("finish", StepKind::Finish, "Finish", &["sand"])
        .hands(usual::COAT * f64::from(finish.coats))
        .waits((finish.recoat_h * f64::from(finish.coats.saturating_sub(1)) + finish.use_h) * H)
        .gives("finished")
        .says(format!(
            "{}: {} coats, {:.0} h between them, {:.0} days before use.",
            capital(&finish.name),
            finish.coats,
            finish.recoat_h,
            finish.use_h / 24.0
        ))
        .says(format!(
            "About {:.0} ml in all for the {:.1} dm² of skin, rag and brush included; hours at 20 °C and in moving air, up to twice as long where it is cold or damp.",
            volume_ml(finish, c.skin_mm2),
            c.skin_mm2 * 1e-4
        ))
        .says("No food before it is fully cured. Ask the supplier for a written statement on food for the cured product; this sheet makes none.")
        .says(format!(
            "Hand it over as: {}, {}, finished with {}; wash by hand, do not soak.",
            c.job.title, c.job.blank.wood.value, finish.name
        ))
        .says(seasons(c))
        .shows("finish.volume")
        .shows("finish.until_use")
        .shows("season.oval")
        .warns(Subject::Finishing { self_heating: finish.self_heating, sprayed: finish.sprayed })
        .warns(Subject::HandOver);
}

/// How the finished bowl moves with the seasons.
fn seasons(c: &Content<'_>) -> String {
    let (oval, stress) = c.season;
    let moves =
        format!("From a heated winter to a damp summer it goes oval by about {} across the grain", c.fine(oval));
    match stress {
        Some(stress) if stress > JOINT_WATCH_MPA => format!(
            "{moves}, and where resin holds it the joint bears up to {stress:.0} N/mm²: keep it from radiators, sun and damp, or it may open."
        ),
        _ => format!("{moves}."),
    }
}

/// When a rest between roughing and finishing is worth its days (common practice, no source).
fn advice_to_rest(c: &Content<'_>) -> String {
    if c.layup.planed >= THICK {
        format!(
            "Boards {} thick seldom lie still once they are hollowed: set `rest` in the job's [route], and both sides are roughed before the wood rests.",
            c.length(c.layup.planed)
        )
    } else {
        format!(
            "If moisture differs by more, or a board cups by more than {} over {} when it is cut open, set `rest` in the job's [route]: both sides are roughed first, the wood rests, then both are finished.",
            c.length(1.0),
            c.length(150.0)
        )
    }
}

/// What roughing has freed moves for a while: it rests before it is finished.
fn rest(c: &Content<'_>, route: &mut Route) {
    let last = route.last();
    let days = c.job.route.rest_days.as_ref().map_or(REST_DAYS, |days| f64::from(days.value));
    let step = route.add("rest", StepKind::Rest, "Let the roughed bowl rest", &[&last]);
    step.hands(usual::REST)
        .waits(days * 24.0 * H)
        .gives("wood at rest")
        .says(format!(
            "Weigh it and write weight and date on the flange. Stand it on edge in the shop, air all round, out of the sun, for about {days:.0} days."
        ))
        .says("Ready by weight, not by date: go on when it loses or gains less than 0.2 % of its weight in a day.")
        .says(format!(
            "It may go oval by about {} until then; {} were left all over for that.",
            c.fine(rest_movement(c.shop)),
            c.fine(c.shop.allowance())
        ))
        .says("Mark A, B, C and the corner B/C again where chips took the marks.")
        .shows("rest.movement");
}

/// `once`, `twice`, `3 times`.
fn times(n: usize) -> String {
    match n {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

/// `1 layer`, `2 layers`.
fn counted(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}
