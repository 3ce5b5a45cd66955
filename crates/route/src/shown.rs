//! What the papers show of a plan and no formula elsewhere has entered yet: sizes, layers by the gram, times, what to
//! buy and to cut, numbers to set and to measure. Entered from the plan itself, so that ledger and paper cannot differ.

use crate::buying::LAST_GRIT;
use crate::layup::Layup;
use crate::plan::{BuyLine, CastPlan, PieceSheet};
use base::{Figure, Figures, Input, Source};
use std::collections::BTreeMap;
use trade::figures::finishing::{hours_to_use, volume_ml};
use trade::figures::lumber::{
    ACROSS_SHARE, RESIN_MPA, SUMMER, WINTER, joint_stress_mpa, movement_mm, season_swing, wood_handbook,
};
use trade::figures::sanding::{first_grit, sequence};
use trade::shelf::{Finish, Shelf, ShopLimits, Wood};
use workpiece::{Setup, Step, StepKind};

/// A name as part of a figure's: letters and digits, the rest `-`.
pub(crate) fn slug(name: &str) -> String {
    let words = name.to_lowercase();
    let words = words.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
    words.collect::<Vec<_>>().join("-")
}

/// The pen with which figures are entered.
struct Pen<'a>(&'a mut Figures);

impl Pen<'_> {
    fn enter(&mut self, id: String, (value, unit): (f64, &str), formula: &str, inputs: Vec<Input>, source: Source) {
        self.0.put(id, Figure::new(value, unit, formula, inputs, source));
    }

    fn derived(&mut self, id: String, value: (f64, &str), formula: &str, inputs: Vec<Input>) {
        self.enter(id, value, formula, inputs, Source::Derived);
    }
}

/// Sizes of the piece as designed, and what it is made of.
pub(crate) fn piece(sheet: &PieceSheet, casts: &[CastPlan], mark: f64, figures: &mut Figures) {
    let mut pen = Pen(figures);
    let [length, width, height] = sheet.size;
    for (name, value) in [("length", length), ("width", width)] {
        let outline = Input::literal(value, "mm", "job: piece.outline, across at its widest");
        pen.derived(format!("piece.{name}"), (value, "mm"), "greatest extent of the outline", vec![outline]);
    }
    let asked = |value: f64, key: &str| Input::literal(value, "mm", format!("job: piece.{key}"));
    pen.derived("piece.height".into(), (height, "mm"), "H", vec![asked(height, "height")]);
    pen.derived(
        "piece.min_wall".into(),
        (sheet.min_wall, "mm"),
        "least wall between the two skins along their normal, as designed",
        vec![asked(sheet.wall, "wall")],
    );
    pen.derived(
        "piece.min_floor".into(),
        (sheet.min_floor, "mm"),
        "floor − recess − mark",
        vec![
            asked(sheet.floor, "floor"),
            Input::literal(sheet.recess, "mm", "job: piece.foot, depth of the recess"),
            Input::literal(mark, "mm", "depth of the mark"),
        ],
    );
    let mut inputs = vec![Input::figure("piece.volume")];
    inputs.extend(casts.iter().map(|c| Input::figure(format!("cast.{}.in_piece", c.name))));
    pen.derived("piece.wood_volume".into(), (sheet.wood_ml, "ml"), "V − Σ resin in the piece", inputs);
}

/// A cast: its depth, its layers by mass and volume, pigment and dam.
pub(crate) fn cast(cast: &CastPlan, (reserve, pigment_share, over): (f64, f64, f64), figures: &mut Figures) {
    let mut pen = Pen(figures);
    let (name, resin) = (&cast.name, &cast.resin);
    let id = |what: &str| format!("cast.{name}.{what}");
    let shelf = |what: &str| format!("shelf: resin \"{}\", {what}", resin.name);
    let depth: f64 = cast.layers.iter().map(|l| l.depth).sum();
    pen.derived(
        id("in_piece"),
        (cast.in_piece_ml, "ml"),
        "volume enclosed by the skin of the resin that is left (divergence theorem)",
        vec![Input::literal(cast.in_piece_ml, "ml", "hollow and piece, their common part")],
    );
    pen.derived(
        id("depth"),
        (depth, "mm"),
        "pour level − bottom of the hollow",
        vec![
            Input::literal(cast.level, "mm", "pour level above the foot plane"),
            Input::literal(cast.level - depth, "mm", "bottom of the hollow above the foot plane"),
            Input::figure("pour.over"),
        ],
    );
    pen.derived(
        id("layers"),
        (cast.layers.len() as f64, "1"),
        "fewest equal layers within the depths the resin is poured to",
        vec![
            Input::figure(id("depth")),
            Input::literal(resin.layer_least, "mm", shelf("layer_least")),
            Input::literal(resin.layer_greatest, "mm", shelf("layer_greatest")),
        ],
    );
    pen.derived(
        id("pigment"),
        (cast.pigment_g, "g"),
        "mass · share",
        vec![Input::figure(id("mass")), Input::literal(pigment_share, "1", format!("job: cast \"{name}\", pigment"))],
    );
    pen.derived(
        id("dam_length"),
        (cast.dam_length, "mm"),
        "Σ perimeters of the hollow’s opening, moved outwards",
        vec![Input::literal(crate::allowances::DAM_OFFSET, "mm", "dam outside the hollow (meniscus; common practice)")],
    );
    pen.enter(
        id("dam_height"),
        (crate::allowances::DAM_ABOVE_LEVEL + over, "mm"),
        "over-pour + free board",
        vec![
            Input::figure("pour.over"),
            Input::literal(crate::allowances::DAM_ABOVE_LEVEL, "mm", "dam above the pour level"),
        ],
        Source::CommonPractice,
    );
    pen.derived(
        id("crossing"),
        (cast.crossing_deg, "°"),
        "least angle between the resin’s boundary and the finished skin",
        vec![Input::literal(cast.crossing_deg, "°", "facets of hollow and piece where they meet")],
    );
    for (k, layer) in cast.layers.iter().enumerate() {
        let of = |what: &str| format!("cast.{name}.layer{}.{what}", k + 1);
        pen.derived(
            of("depth"),
            (layer.depth, "mm"),
            "depth / layers",
            vec![Input::figure(id("depth")), Input::figure(id("layers"))],
        );
        pen.derived(
            of("volume"),
            (layer.ml, "ml"),
            "volume of the hollow within the layer · (1 + left in cups + kept back); the last takes the rest of the mix",
            vec![
                Input::figure(id("to_mix")),
                Input::literal(reserve - 1.0, "1", "left in cups (3–6 %) and kept back for leaks (5–10 %)"),
            ],
        );
        let mass = [Input::figure(of("volume")), Input::literal(resin.density_g_ml, "g/ml", shelf("density"))];
        let by_mass = Input::literal(resin.hardener_by_mass, "1", shelf("hardener for 1 of resin by mass"));
        let by_volume = Input::literal(resin.hardener_by_volume, "1", shelf("hardener for 1 of resin by volume"));
        let with = |one: &[Input], other: &Input| one.iter().chain([other]).cloned().collect::<Vec<_>>();
        pen.derived(of("resin"), (layer.resin_g, "g"), "A = V ρ / (1 + h)", with(&mass, &by_mass));
        pen.derived(of("hardener"), (layer.hardener_g, "g"), "B = V ρ h / (1 + h)", with(&mass, &by_mass));
        let volume = [Input::figure(of("volume"))];
        pen.derived(of("resin_volume"), (layer.resin_ml, "ml"), "V / (1 + h)", with(&volume, &by_volume));
        pen.derived(of("hardener_volume"), (layer.hardener_ml, "ml"), "V h / (1 + h)", with(&volume, &by_volume));
        pen.derived(
            of("pigment"),
            (cast.pigment_of(layer), "g"),
            "pigment of the cast · volume / mix",
            vec![Input::figure(id("pigment")), Input::figure(of("volume")), Input::figure(id("to_mix"))],
        );
    }
}

/// The blank, its boards and its joints.
pub(crate) fn blank(layup: &Layup, (shop, density_kg_m3): (&ShopLimits, f64), figures: &mut Figures) {
    let mut pen = Pen(figures);
    let (lo, hi) = layup.blank.bounds();
    for (axis, name) in ["length", "width"].into_iter().enumerate() {
        pen.derived(
            format!("blank.{name}"),
            (hi[axis] - lo[axis], "mm"),
            "outline + 2 · (flange, dam and trimming of the edges), rounded up, or as the job asks",
            vec![Input::figure(format!("piece.{name}"))],
        );
    }
    pen.enter(
        "boards.planed".into(),
        (layup.planed, "mm"),
        "planed thickness of a rough board",
        vec![Input::literal(layup.planed, "mm", "job: blank.boards; shelf: shop.planed or plane_loss")],
        Source::CommonPractice,
    );
    pen.derived(
        "boards.layers".into(),
        (layup.layers as f64, "1"),
        "fewest layers whose planed and glued stack reaches T0 and is faced on both sides",
        vec![
            Input::figure("blank.thickness"),
            Input::figure("boards.planed"),
            Input::literal(shop.glue_face_loss, "mm", "shelf: shop.glue_face_loss"),
        ],
    );
    for (k, cut) in layup.cuts.iter().enumerate() {
        let of = |what: &str| format!("cut.{}.{what}", k + 1);
        pen.derived(of("width"), (cut.width, "mm"), "width / strips", vec![Input::figure("blank.width")]);
        pen.derived(
            of("length"),
            (cut.length, "mm"),
            "length + over-length at both ends",
            vec![Input::figure("blank.length")],
        );
        pen.derived(
            of("count"),
            (f64::from(cut.count), "1"),
            "strips of this width in the layer",
            vec![Input::figure("boards.layers")],
        );
    }
    pen.derived(
        "blank.mass".into(),
        ((hi[0] - lo[0]) * (hi[1] - lo[1]) * (hi[2] - lo[2]) * 1e-6 * density_kg_m3, "g"),
        "length · width · thickness · density at shop moisture",
        vec![
            Input::figure("blank.length"),
            Input::figure("blank.width"),
            Input::figure("blank.thickness"),
            Input::literal(density_kg_m3, "kg/m³", "shelf: wood, density"),
        ],
    );
    if layup.joint_mm2 > 0.0 {
        pen.derived(
            "glue.joints".into(),
            (layup.joint_mm2 * 1e-6, "m²"),
            "faces between layers + edges between strips",
            vec![Input::figure("blank.length"), Input::figure("blank.width"), Input::figure("boards.layers")],
        );
        pen.derived(
            "glue.widest".into(),
            (layup.face_mm2 * 1e-6, "m²"),
            "joint that is pressed at once",
            vec![Input::figure("blank.length"), Input::figure("blank.width")],
        );
    }
}

/// How far the finished bowl goes oval from a heated winter to a damp summer, mm; with resin also the stress where that holds the
/// wood across the grain, MPa.
pub(crate) fn season(width: f64, wood: &Wood, resin: bool, figures: &mut Figures) -> (f64, Option<f64>) {
    let mut pen = Pen(figures);
    let swing = season_swing();
    pen.enter(
        "season.swing".into(),
        (swing, "%"),
        "ΔM = EMC(summer) − EMC(winter)",
        vec![
            Input::literal(WINTER.0, "°C", "heated winter (common practice)"),
            Input::literal(WINTER.1, "1", "its relative humidity"),
            Input::literal(SUMMER.0, "°C", "damp summer (common practice)"),
            Input::literal(SUMMER.1, "1", "its relative humidity"),
        ],
        wood_handbook("eq. 4-5"),
    );
    let oval = movement_mm(width, wood.c_tangential, 0.0, swing);
    pen.enter(
        "season.oval".into(),
        (oval, "mm"),
        "Δ = W · C_t · ΔM; along the grain it hardly moves",
        vec![
            Input::figure("piece.width"),
            Input::literal(wood.c_tangential, "1/%", "shelf: wood, c_tangential"),
            Input::figure("season.swing"),
        ],
        wood_handbook("eq. 13-2, Table 13-5"),
    );
    let stress = resin.then(|| {
        let along =
            trade::tables::wood(&wood.name).and_then(|row| row.modulus_of_elasticity_mpa).unwrap_or(USUAL_STIFFNESS);
        let across = along * ACROSS_SHARE;
        let stress = joint_stress_mpa(wood.c_tangential * swing, across);
        pen.enter(
            "season.joint_stress".into(),
            (stress, "MPa"),
            "σ = C_t ΔM · E_r E_w / (E_r + E_w)",
            vec![
                Input::literal(wood.c_tangential, "1/%", "shelf: wood, c_tangential"),
                Input::figure("season.swing"),
                Input::literal(RESIN_MPA, "MPa", "stiffness of the resin E_r (3–4 GPa)"),
                Input::literal(across, "MPa", "stiffness of the wood across the grain E_w, 0.056 of that along it"),
            ],
            Source::FromMemory { title: "Wood Handbook, chapter 5 (0.056); two springs in a row".into() },
        );
        stress
    });
    (oval, stress)
}

/// Stiffness along the grain of a wood that the tables do not hold, MPa.
const USUAL_STIFFNESS: f64 = 11_000.0;

/// Hours of hands, machine and waiting, step by step and in all.
pub(crate) fn times(steps: &[Step], setups: &[&Setup], casts: &[CastPlan], figures: &mut Figures) {
    let cures = cures(casts);
    let mut pen = Pen(figures);
    let (mut hands, mut waits, mut runs) = (Vec::new(), Vec::new(), Vec::new());
    for step in steps {
        let of = |what: &str| format!("step.{}.{what}", step.id);
        if step.hands_on_s > 0.0 {
            let usual = Input::literal(step.hands_on_s, "s", "hands-on time of such a step; your record replaces it");
            pen.enter(of("hands"), (step.hands_on_s, "s"), "t", vec![usual], Source::CommonPractice);
            hands.push(Input::figure(of("hands")));
        }
        if step.wait_s > 0.0 {
            let by = cures.get(&step.id);
            let wait = by.map_or_else(|| Input::literal(step.wait_s, "s", waiting(step.kind)), Input::figure);
            pen.derived(of("wait"), (step.wait_s, "s"), "wait until its test is met, as likely", vec![wait]);
            waits.push(Input::figure(of("wait")));
            // What cures waits least in a hot shop and most in a cold one.
            for end in ["least", "most"] {
                let Some(name) = by.map(|by| format!("{by}_{end}")) else { continue };
                let Some(hours) = pen.0.value(&name) else { continue };
                let formula = format!("wait until its test is met, at the {end}");
                pen.derived(of(&format!("wait_{end}")), (hours * 3600.0, "s"), &formula, vec![Input::figure(name)]);
            }
        }
    }
    for setup in setups {
        for program in &setup.programs {
            let stem = program.file.rsplit('/').next().unwrap_or(&program.file).trim_end_matches(".nc");
            let id = format!("program.{stem}.time");
            let length = Input::literal(program.cut_length_mm, "mm", "way at feed");
            pen.derived(
                id.clone(),
                (program.duration_s, "s"),
                "Σ over its moves of trapezoids between corner speeds",
                vec![length, Input::literal(program.rapid_length_mm, "mm", "way at rapid")],
            );
            runs.push(Input::figure(id));
        }
    }
    let sum = |seconds: fn(&Step) -> f64| steps.iter().map(seconds).sum::<f64>();
    let run: f64 = setups.iter().flat_map(|s| &s.programs).map(|p| p.duration_s).sum();
    pen.derived("time.hands".into(), (sum(|s| s.hands_on_s), "s"), "Σ hands-on times of all steps", hands);
    pen.derived("time.machine".into(), (run, "s"), "Σ times of all programs", runs);
    pen.derived("time.waiting".into(), (sum(|s| s.wait_s), "s"), "Σ waits of all steps", waits);
}

/// The figure, in hours, that each waiting step of a cast waits by.
fn cures(casts: &[CastPlan]) -> BTreeMap<String, String> {
    let mut by = BTreeMap::new();
    for cast in casts {
        let name = &cast.name;
        by.insert(format!("seal-{name}"), format!("cast.{name}.tack"));
        by.insert(format!("cure-{name}"), format!("cast.{name}.carve"));
        by.extend((1..cast.layers.len()).map(|k| (format!("pour-{name}-{k}"), format!("cast.{name}.layer{k}.next"))));
    }
    by
}

/// Where a wait comes from that no figure explains.
fn waiting(kind: StepKind) -> &'static str {
    match kind {
        StepKind::Glue => "shelf: wood glue, clamp_min and machine_h",
        StepKind::Finish => "shelf: finish, recoat_h between coats and use_h",
        StepKind::Rest => "job: route.rest_days, or 14 days",
        _ => "shelf",
    }
}

/// What is bought, and what of it is used up.
pub(crate) fn buying(lines: &[BuyLine], currency: &str, figures: &mut Figures) {
    let mut pen = Pen(figures);
    for line in lines {
        let of = |what: &str| format!("buy.{}.{what}", slug(&line.item));
        let price =
            Input::literal(line.price, &format!("{currency}/{}", line.unit), format!("shelf: price of {}", line.item));
        // Boards are bought by measure: as much as is used.
        let boards = line.unit == "board feet";
        let used = match boards && line.quantity == 0.0 {
            true => Input::figure("wood.at_hand"),
            false => Input::literal(line.used, &line.unit, format!("the piece uses up ({})", line.note)),
        };
        pen.derived(
            of("quantity"),
            (line.quantity, &line.unit),
            if boards { "board feet; none of what is at hand" } else { "fewest packs that cover what is used" },
            vec![if boards && line.quantity > 0.0 { Input::figure("wood.board_feet") } else { used.clone() }],
        );
        pen.derived(
            of("cost"),
            (line.cost, currency),
            "quantity · price",
            vec![Input::figure(of("quantity")), price.clone()],
        );
        pen.derived(of("used_cost"), (line.used_cost, currency), "used · price", vec![used, price]);
    }
}

/// Numbers to set and to read at each zero, and what is to be measured before a piece is let go.
pub(crate) fn sheets(setups: &[&Setup], figures: &mut Figures) {
    let mut pen = Pen(figures);
    for setup in setups {
        let zero = &setup.zero.z;
        let of = |what: &str| format!("zero.{}.{what}", setup.id);
        let chain = match setup.id.as_str() {
            id @ ("outside" | "inside") => Input::figure(format!("touch.{id}")),
            _ => Input::literal(zero.set_to, "mm", format!("height of {} in the frame of the programs", zero.surface)),
        };
        pen.derived(
            of("set"),
            (zero.set_to, "mm"),
            "height of the touched surface in the frame of the programs",
            vec![chain],
        );
        pen.derived(
            of("check"),
            (zero.expect, "mm"),
            "height of the check surface in the same frame",
            vec![
                Input::figure(of("set")),
                Input::literal(
                    zero.expect - zero.set_to,
                    "mm",
                    format!("{} above {}", zero.check_surface, zero.surface),
                ),
            ],
        );
        pen.derived(
            of("spot"),
            (setup.reference_spot.reads, "mm"),
            "height of the touch-off spot in the same frame",
            vec![Input::literal(setup.reference_spot.reads, "mm", setup.reference_spot.surface.clone())],
        );
        for (k, point) in setup.inspect.iter().enumerate() {
            pen.derived(
                format!("measure.{}.{}", setup.id, k + 1),
                (point.expect, "mm"),
                "size of the piece there, as designed",
                vec![
                    Input::literal(point.expect, "mm", point.what.clone()),
                    Input::literal(point.within, "mm", "may be off by"),
                ],
            );
        }
    }
}

/// What each setup is held by: area, modulus and strengths, or force and friction.
pub(crate) fn holdings(setups: &[&Setup], figures: &mut Figures) {
    let mut pen = Pen(figures);
    for setup in setups {
        let joint = &setup.holding;
        let of = |what: &str| format!("hold.{}.{what}", setup.id);
        let literal =
            |value: f64, unit: &str, from: &str| Input::literal(value, unit, format!("{}: {from}", joint.method));
        let factor = literal(joint.factor, "1", "shelf: safety factor");
        if let Some(on) = &joint.pressed {
            let friction = literal(on.friction, "1", "shelf: friction; two jaws hold by friction alone");
            pen.derived(
                of("force"),
                (on.hold_n, "N"),
                "Δp A, or 2 μ N of two jaws",
                vec![literal(joint.area_mm2, "mm²", "area that holds")],
            );
            pen.enter(
                of("sideways"),
                (on.friction * on.hold_n / joint.factor, "N"),
                "μ F / factor, nothing lifting",
                vec![Input::figure(of("force")), friction, factor],
                Source::CommonPractice,
            );
            let arm = literal(on.arm_mm, "mm", "middle to the edge that it tips over");
            let tip = literal(on.tip_factor, "1", "shelf: safety factor against tipping");
            pen.enter(
                of("moment"),
                (on.hold_n * on.arm_mm / on.tip_factor, "N mm"),
                "F x / factor, nothing lifting",
                vec![Input::figure(of("force")), arm, tip],
                Source::CommonPractice,
            );
            continue;
        }
        let from = "the face or pad that is joined, by the share that is covered, wetted or screwed";
        pen.derived(
            of("area"),
            (joint.area_mm2, "mm²"),
            "Σ over what is joined",
            vec![literal(joint.area_mm2, "mm²", from)],
        );
        pen.derived(
            of("modulus"),
            (joint.section_modulus_mm3, "mm³"),
            "1 / max |J⁻¹ p|, J = ∫ p pᵀ dA: a moment in its worst direction",
            vec![Input::figure(of("area"))],
        );
        let strength = |value: f64, what: &str| literal(value, "MPa", what);
        for (name, what, value, size, unit, formula) in [
            ("sideways", "in shear", joint.shear_mpa, joint.area_mm2, "N", "τ A / factor"),
            ("lift", "in tension", joint.tension_mpa, joint.area_mm2, "N", "σ A / factor"),
            ("moment", "in tension", joint.tension_mpa, joint.section_modulus_mm3, "N mm", "σ W / factor"),
        ] {
            let of_size = if name == "moment" { of("modulus") } else { of("area") };
            let inputs = vec![
                Input::figure(of_size),
                strength(value, &format!("working strength {what}, as the shelf has it or as it is when warm")),
                factor.clone(),
            ];
            pen.enter(of(name), (value * size / joint.factor, unit), formula, inputs, Source::CommonPractice);
        }
    }
}

/// Abrasives and finish of the skin.
pub(crate) fn surface(
    skin_mm2: f64,
    resin: bool,
    (asked, scallop): (Option<u32>, f64),
    (shelf, finish): (&Shelf, &Finish),
    figures: &mut Figures,
) {
    let mut pen = Pen(figures);
    pen.derived(
        "piece.skin".into(),
        (skin_mm2 * 1e-4, "dm²"),
        "Σ areas of the facets of the piece",
        vec![Input::literal(skin_mm2, "mm²", "model of the piece")],
    );
    let first = asked.or_else(|| first_grit(scallop, resin));
    if let Some(grit) = first {
        let input = match asked {
            Some(grit) => Input::literal(f64::from(grit), "1", "job: route.first_grit"),
            None => Input::literal(
                scallop,
                "mm",
                "job: route.scallop; what the programs really leave is a check of the proof",
            ),
        };
        pen.enter(
            "sand.first_grit".into(),
            (f64::from(grit), "P"),
            "P220 to 0.02 mm, P150 to 0.04, P120 to 0.05, P80 to 0.10; half as much in resin",
            vec![input],
            Source::CommonPractice,
        );
        let of: Vec<_> = shelf.abrasives.iter().filter(|a| (grit..=LAST_GRIT).contains(&a.grit)).copied().collect();
        let grits = sequence(&of, resin).len() as f64;
        let each = (skin_mm2 * 1e-4 / shelf.supplies.disc_dm2).ceil();
        pen.enter(
            "sand.discs".into(),
            (grits * each, "discs"),
            "grits · ⌈skin / skin that a disc sands⌉",
            vec![
                Input::figure("sand.first_grit"),
                Input::figure("piece.skin"),
                Input::literal(grits, "1", "grits, each at most 1.6 times finer; every one of the shelf with resin"),
                Input::literal(shelf.supplies.disc_dm2, "dm²", "shelf: supplies.disc_dm2"),
            ],
            Source::CommonPractice,
        );
    }
    let of = |what: &str| format!("shelf: finish \"{}\", {what}", finish.name);
    let coats = Input::literal(f64::from(finish.coats), "1", of("coats"));
    pen.enter(
        "finish.volume".into(),
        (volume_ml(finish, skin_mm2), "ml"),
        "V = area · coats / coverage · 1.15 (rag and brush)",
        vec![
            Input::figure("piece.skin"),
            coats.clone(),
            Input::literal(finish.coverage_m2_l, "m²/l", of("coverage_m2_l")),
        ],
        Source::CommonPractice,
    );
    pen.enter(
        "finish.until_use".into(),
        (hours_to_use(finish), "h"),
        "(coats − 1) · recoat + use",
        vec![
            coats,
            Input::literal(finish.recoat_h, "h", of("recoat_h")),
            Input::literal(finish.use_h, "h", of("use_h")),
        ],
        Source::CommonPractice,
    );
}
