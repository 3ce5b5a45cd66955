//! The resin plan: volumes from the hollow, layers, mix, seal coat, what to buy.

use crate::Request;
use crate::allowances::{Allowances, DAM_OFFSET};
use crate::curing::{CELL, Curing, Pouring, curing, pot_life_min};
use crate::ledger::Ledger;
use crate::plan::{CastLayer, CastPlan};
use crate::shown;
use base::{Figure, Figures, Input, Report, Source};
use geom::mesh::SolidError;
use geom::slice::level as level_section;
use geom::{DVec2, Mesh, Region, Ring};
use job::CastSpec;
use shape::cast::Cast;
use std::collections::{BTreeMap, BTreeSet};
use trade::figures::cure::kinetics::{HEAT_J_KG, Kinetics, kinetics_source};
use trade::figures::resin::{
    ACTIVATION_J_MOL, CUP_FILLED, POUR_ML_MIN, STIR_MIN, cup_min, cups, layers as sound_layers, seal_g as seal_of,
    split, to_buy_g,
};
use trade::shelf::{Resin, Shelf};

/// So many layers more than the sheet asks for are tried to keep a cast cool.
const MORE_LAYERS: usize = 3;
/// Density of a wood that the shelf does not hold, kg/m³.
const USUAL_WOOD: f64 = 650.0;
/// Time until a seal that the shelf does not hold is tacky, h.
const USUAL_TACK: f64 = 3.0;

/// A cast to be planned.
#[derive(Clone, Copy)]
pub(crate) struct Casting<'a> {
    /// The request.
    pub(crate) request: &'a Request<'a>,
    /// As the job has it.
    pub(crate) spec: &'a CastSpec,
    /// Its solids.
    pub(crate) cast: &'a Cast,
    /// The resin as poured.
    pub(crate) poured: &'a Mesh,
    /// Of this resin.
    pub(crate) resin: &'a Resin,
}

/// Plans the pouring of one cast.
pub(crate) fn cast_plan(of: &Casting<'_>, sizes: &Allowances, ledger: &mut Ledger<'_>) -> Option<CastPlan> {
    let Ledger { figures, report } = ledger;
    let Casting { spec, cast, poured, resin, .. } = *of;
    let name = &cast.name;
    let level = sizes.face_z() + sizes.overpour;
    let depth = level - cast.bottom_z;
    let depths = layers(of, depth, report)?;
    let hollow_ml = cast.hollow.volume() / 1000.0;
    let in_piece_ml = cast.in_piece.volume() / 1000.0;
    let poured_ml = poured.volume() / 1000.0;
    let ring = dam(&cast.hollow, sizes);
    let reserve = to_buy_g(1.0, 1.0, 0.0);
    let to_mix_ml = poured_ml * reserve;
    figures.put(
        format!("cast.{name}.volume"),
        Figure::new(
            poured_ml,
            "ml",
            "V = hollow + inside of the dam · over-pour",
            vec![
                Input::literal(hollow_ml, "ml", "enclosed by the hollow's skin up to face A (divergence theorem)"),
                Input::literal(ring.area(), "mm²", "inside of the dam on face A"),
                Input::figure("pour.over"),
            ],
            Source::Derived,
        ),
    );
    figures.put(
        format!("cast.{name}.to_mix"),
        Figure::new(
            to_mix_ml,
            "ml",
            "mix = V · (1 + left in cups + kept back)",
            vec![
                Input::figure(format!("cast.{name}.volume")),
                Input::literal(reserve - 1.0, "1", "left in cups (3–6 %) and kept back for leaks (5–10 %)"),
            ],
            Source::CommonPractice,
        ),
    );
    let seal_g = seal_grams(&cast.hollow, sizes.face_z());
    figures.put(
        format!("cast.{name}.seal"),
        Figure::new(
            seal_g,
            "g",
            "seal = Σ area · rate(angle between surface and grain)",
            vec![Input::literal(
                cast.hollow.area(),
                "mm²",
                "skin of the hollow, by the angle of each facet to the grain",
            )],
            Source::CommonPractice,
        ),
    );
    let mass = to_mix_ml * resin.density_g_ml;
    figures.put(
        format!("cast.{name}.mass"),
        Figure::new(
            mass,
            "g",
            "m = V · ρ",
            vec![
                Input::figure(format!("cast.{name}.to_mix")),
                Input::literal(resin.density_g_ml, "g/ml", format!("shelf: resin \"{}\"", resin.name)),
            ],
            Source::Derived,
        ),
    );
    let (layers, curing) = cool_enough(of, sizes, &depths, (to_mix_ml, reserve), report)?;
    let plan = CastPlan {
        name: name.clone(),
        resin: resin.clone(),
        colour: spec.colour.value,
        translucent: spec.translucent,
        poured_ml,
        in_piece_ml,
        to_mix_ml,
        layers,
        seal_g,
        pigment_g: mass * spec.pigment.value,
        level,
        dam_length: ring.rings.iter().map(Ring::perimeter).sum(),
        crossing_deg: cast.crossing_deg,
        curing,
    };
    shown::cast(&plan, (reserve, spec.pigment.value, sizes.overpour), figures);
    put_cups(&plan, of.request.shelf.supplies.cup_ml, figures);
    put_curing(&plan, of, figures);
    Some(plan)
}

/// Enters in which cups each layer is mixed.
fn put_cups(plan: &CastPlan, cup_ml: f64, figures: &mut Figures) {
    for (k, layer) in plan.layers.iter().enumerate() {
        let id = |what: &str| format!("cast.{}.layer{}.{what}", plan.name, k + 1);
        let mut put = |what: &str, value: f64, unit: &str, formula: &str, inputs: Vec<Input>, source: Source| {
            figures.put(id(what), Figure::new(value, unit, formula, inputs, source));
        };
        put(
            "cups",
            f64::from(layer.cups),
            "1",
            "fewest equal cups, each filled to three quarters at most and poured out within the pot life of its mass",
            vec![
                Input::figure(id("volume")),
                Input::literal(cup_ml, "ml", "shelf: supplies.cup_ml"),
                Input::literal(CUP_FILLED, "1", "filled to, for stirring"),
                Input::literal(STIR_MIN, "min", "weighing, stirring, scraping"),
                Input::literal(POUR_ML_MIN, "ml/min", "pouring"),
            ],
            Source::CommonPractice,
        );
        let each = f64::from(layer.cups.max(1));
        for (what, of, whole, unit) in [
            ("cup_resin", "resin", layer.resin_g, "g"),
            ("cup_hardener", "hardener", layer.hardener_g, "g"),
            ("cup_resin_volume", "resin_volume", layer.resin_ml, "ml"),
            ("cup_hardener_volume", "hardener_volume", layer.hardener_ml, "ml"),
        ] {
            let inputs = vec![Input::figure(id(of)), Input::figure(id("cups"))];
            put(what, whole / each, unit, "layer / cups", inputs, Source::Derived);
        }
    }
}

/// The layers with their mixes, and how they cure: as few as the sheet allows, and one more for as long as that is what keeps them
/// from growing too warm.
fn cool_enough(
    of: &Casting<'_>,
    sizes: &Allowances,
    fewest: &[f64],
    (to_mix_ml, reserve): (f64, f64),
    report: &mut Report,
) -> Option<(Vec<CastLayer>, Curing)> {
    let Casting { request, spec, cast, poured, resin } = *of;
    let depth: f64 = fewest.iter().sum();
    let wood = request.shelf.wood(&request.job.blank.wood.value);
    let wood_kg_m3 = wood.map_or(USUAL_WOOD, |w| w.density_kg_m3);
    let tack_h = tack_at_22(request.shelf);
    let (half, face) = (sizes.half, sizes.face_z());
    let mut chosen = None;
    for count in fewest.len()..=fewest.len() + MORE_LAYERS {
        let depths = vec![depth / count as f64; count];
        if count > fewest.len() && depths[0] < resin.layer_least {
            break;
        }
        let planned = match split_into_layers(cast, &depths, to_mix_ml, reserve, resin) {
            Ok(planned) => planned,
            Err(fault) => {
                let text = format!(
                    "the hollow “{}” cannot be cut at the height of a layer, so its mix is not known: {fault}",
                    cast.name
                );
                report.error("cast-solid", spec.at, text).hint("change a size or the seed a little");
                return None;
            }
        };
        let planned = in_cups(of, planned);
        let masses: Vec<f64> = planned.iter().map(|l| l.grams() / f64::from(l.cups.max(1))).collect();
        let pouring = Pouring {
            poured,
            blank: [[-half.x, -half.y, -sizes.beyond_foot], [half.x, half.y, face]],
            heights: [cast.bottom_z, cast.bottom_z + depth],
            layers: &depths,
            masses: &masses,
            wood_kg_m3,
            resin,
            tack_h,
            hours: &request.shelf.hours,
        };
        let curing = match curing(&pouring) {
            Ok(curing) => curing,
            Err(fault) => {
                let text = format!("how warm the resin of “{}” grows is not known: {fault}", cast.name);
                let hint = "look at `heat_j_g`, `activation_kj_mol`, `film_gel_h` and `pot_life_min` of the resin";
                report.error("cast-cure", spec.resin.at, text).hint(hint);
                return None;
            }
        };
        let [harmless, spoilt] = curing.limits_c;
        let cool = curing.peak().usual <= harmless && curing.peak().hot <= spoilt;
        chosen = Some((planned, curing));
        if cool {
            break;
        }
    }
    let (planned, curing) = chosen?;
    tell_warmth(of, &curing, report);
    tell_haste(of, &planned, &curing, report);
    Some((planned, curing))
}

/// The layers with the cups in which they are mixed; where even small cups gel too soon, in the fewest that they fit into.
fn in_cups(of: &Casting<'_>, layers: Vec<CastLayer>) -> Vec<CastLayer> {
    let Casting { request, resin, .. } = *of;
    let (kinetics, day_c, cup_ml) = (Kinetics::of(resin), request.shelf.hours.day_c, request.shelf.supplies.cup_ml);
    let pot_life = |grams: f64| pot_life_min(resin, &kinetics, day_c, grams);
    let fitting = |ml: f64| cups(ml, cup_ml, resin.density_g_ml, &|_| f64::INFINITY).unwrap_or(1);
    let count = |ml: f64| cups(ml, cup_ml, resin.density_g_ml, &pot_life).unwrap_or_else(|| fitting(ml));
    layers.into_iter().map(|layer| CastLayer { cups: count(layer.ml), ..layer }).collect()
}

/// Tells of a mix that gels before it can be poured out.
fn tell_haste(of: &Casting<'_>, layers: &[CastLayer], curing: &Curing, report: &mut Report) {
    let late = |(layer, pot_life): (&CastLayer, &f64)| {
        let needs = cup_min(layer.ml / f64::from(layer.cups.max(1)));
        (needs > *pot_life).then_some((needs, *pot_life))
    };
    let Some((needs, pot_life)) = layers.iter().zip(&curing.pot_life_min).find_map(late) else { return };
    let text = format!(
        "a cup of \"{}\" for “{}” can be poured for {pot_life:.0} min at {:.0} °C, and stirring and pouring it takes about {needs:.0} min",
        of.resin.name, of.spec.name.value, of.request.shelf.hours.day_c
    );
    report.warning("pot-life-short", of.spec.resin.at, text).hint("mix by two, work cooler, or take a slower resin");
}

/// Time until the shelf's seal is tacky at 22 °C, h.
fn tack_at_22(shelf: &Shelf) -> f64 {
    shelf.resins.iter().find(|r| r.seal).map_or(USUAL_TACK, |r| r.recoat_h[0])
}

/// Tells of a cast that grows too warm, and of a shop too cold for it.
fn tell_warmth(of: &Casting<'_>, curing: &Curing, report: &mut Report) {
    let Casting { request, spec, resin, .. } = *of;
    let (name, hours, at) = (&spec.name.value, &request.shelf.hours, spec.resin.at);
    let near = |mm: f64| request.job.units.near(mm);
    let (peak, [harmless, spoilt]) = (curing.peak(), curing.limits_c);
    let cooler = format!(
        "pour in a cooler room, make the cast shallower (a plain layer stays below {harmless:.0} °C up to {} deep by day, {} if it is {:.0} °C), or take a slower resin",
        near(curing.safe_mm.usual),
        near(curing.safe_mm.hot),
        curing.rooms_c[0]
    );
    if peak.usual > spoilt {
        let text = format!(
            "“{name}” would heat itself to {:.0} °C in \"{}\": from {spoilt:.0} °C on resin yellows, boils and cracks",
            peak.usual, resin.name
        );
        report.error("cast-too-warm", at, text).hint(cooler);
    } else if peak.usual > harmless || peak.hot > spoilt {
        let text = format!(
            "“{name}” heats itself to {:.0} °C in \"{}\", and to {:.0} °C if the shop is at {:.0} °C; above {harmless:.0} °C it may yellow and draw bubbles",
            peak.usual, resin.name, peak.hot, curing.rooms_c[0]
        );
        report.warning("cast-warm", at, text).hint(cooler);
    }
    let warm_up =
        format!("keep it at {:.0} °C or warmer by day and night, or take a resin for a colder shop", resin.least_c);
    if hours.day_c < resin.least_c {
        let text = format!(
            "the shop is at {:.0} °C by day, and \"{}\" cures from {:.0} °C on",
            hours.day_c, resin.name, resin.least_c
        );
        report.error("shop-too-cold", at, text).hint(warm_up);
    } else if !curing.carve_h.usual.is_finite() {
        let text = format!("in this shop “{name}” does not grow hard in two months of \"{}\"", resin.name);
        report.error("cast-stays-soft", at, text).hint(warm_up);
    }
}

/// Enters how the layers of a cast heat and cure.
fn put_curing(plan: &CastPlan, of: &Casting<'_>, figures: &mut Figures) {
    const LAW: &str =
        "greatest T of ρ c ∂T/∂t = ∇·(k ∇T) + ρ H ∂a/∂t, ∂a/∂t = (k₁ + k₂ a)(1 − a)², in the cells of its hollow";
    let (hours, resin, curing) = (&of.request.shelf.hours, &plan.resin, &plan.curing);
    let shelf = |what: &str| format!("shelf: resin \"{}\", {what}", resin.name);
    let pace = match resin.film_gel_h {
        Some(h) => Input::literal(h, "h", shelf("film_gel_h")),
        None => Input::literal(resin.pot_life_min, "min", shelf("pot_life_min of 200 g at 22 °C")),
    };
    let energy = resin
        .activation_kj_mol
        .map_or(Input::literal(ACTIVATION_J_MOL / 1000.0, "kJ/mol", "generic activation energy E₁ = E₂"), |e| {
            Input::literal(e, "kJ/mol", shelf("activation_kj_mol"))
        });
    let heat = match (resin.heat_j_g, resin.sheet_peak) {
        (Some(h), _) => Input::literal(h, "J/g", shelf("heat_j_g")),
        (None, Some(_)) => Input::literal(
            Kinetics::of(resin).heat / 1000.0,
            "J/g",
            shelf("sheet_peak, H fitted to that of a plain layer"),
        ),
        _ => Input::literal(HEAT_J_KG / 1000.0, "J/g", "generic heat of reaction H"),
    };
    let wood = of.request.shelf.wood(&of.request.job.blank.wood.value);
    let density = Input::literal(wood.map_or(USUAL_WOOD, |w| w.density_kg_m3), "kg/m³", "shelf: wood, density");
    let room = |shop: &str| match shop {
        "hot" => vec![Input::literal(curing.rooms_c[0], "°C", "shelf: hours.day_c and 4 K, day and night")],
        "cold" => vec![Input::literal(hours.night_c, "°C", "shelf: hours.night_c, day and night")],
        _ => vec![
            Input::literal(hours.day_c, "°C", "shelf: hours.day_c"),
            Input::literal(hours.night_c, "°C", "shelf: hours.night_c"),
        ],
    };
    let chemistry = [pace, energy, heat, density];
    let mut put = |id: String, value: f64, unit: &str, formula: &str, inputs: Vec<Input>, source: Source| {
        figures.put(format!("cast.{}.{id}", plan.name), Figure::new(value, unit, formula, inputs, source));
    };
    let named = |id: &str, shop: &str| match shop {
        "usual" => id.to_owned(),
        "hot" => format!("{id}_least"),
        _ => format!("{id}_most"),
    };
    let of_cast = |id: &str| Input::figure(format!("cast.{}.{id}", plan.name));
    for (k, layer) in curing.layers.iter().enumerate() {
        let n = k + 1;
        let solved = |shop: &str| {
            let mut inputs = vec![of_cast(&format!("layer{n}.depth"))];
            inputs.extend(chemistry.iter().cloned().chain(room(shop)));
            inputs.push(Input::literal(CELL, "mm", "cells no larger than"));
            inputs
        };
        for (shop, cure) in layer.named() {
            let id = if shop == "usual" { format!("layer{n}.peak") } else { format!("layer{n}.peak_{shop}") };
            put(id, cure.peak_c, "°C", LAW, solved(shop), kinetics_source());
        }
        put(
            format!("layer{n}.peak_after"),
            layer.usual.peak_h,
            "h",
            "when T is greatest",
            solved("usual"),
            kinetics_source(),
        );
        put(
            format!("layer{n}.gel"),
            layer.usual.gel_h,
            "h",
            "when the least a reaches 0.577, the gel point of a four-hydrogen amine",
            solved("usual"),
            kinetics_source(),
        );
        put(
            format!("layer{n}.pot_life"),
            curing.pot_life_min[k],
            "min",
            "least of the sheet’s and 0.48 of the time in which the cup gels by day, (m / 200 g)^(2/3) keeping its heat",
            vec![
                Input::literal(resin.pot_life_min, "min", shelf("pot_life_min of 200 g at 22 °C")),
                Input::literal(hours.day_c, "°C", "shelf: hours.day_c"),
                of_cast(&format!("layer{n}.cup_resin")),
                of_cast(&format!("layer{n}.cup_hardener")),
            ],
            Source::CommonPractice,
        );
    }
    for (k, (next, last)) in curing.next_h.iter().zip(&curing.last_h).enumerate() {
        let n = k + 1;
        for ((shop, value), (_, layer)) in next.named().into_iter().zip(curing.layers[k].named()) {
            let mut inputs = vec![
                Input::literal(resin.recoat_h[0], "h", shelf("recoat_h, from")),
                Input::literal(layer.green_from_h, "h", "model: a ≥ 0.5 and within 5 K of the room"),
            ];
            inputs.extend(room(shop));
            let formula = "later of sheet · f(T) and model";
            put(named(&format!("layer{n}.next"), shop), value, "h", formula, inputs, Source::CommonPractice);
        }
        put(
            format!("layer{n}.next_until"),
            *last,
            "h",
            "earlier of sheet · f(T) and model",
            vec![
                Input::literal(resin.recoat_h[1], "h", shelf("recoat_h, to")),
                Input::literal(curing.layers[k].usual.green_to_h, "h", "model: mean a reaches 0.75"),
                Input::figure("cure.factor"),
            ],
            Source::CommonPractice,
        );
    }
    if let Some(layer) = curing.layers.last() {
        for ((shop, value), (_, layer)) in curing.carve_h.named().into_iter().zip(layer.named()) {
            let mut inputs = vec![
                Input::literal(resin.carve_h, "h", shelf("carve_h")),
                Input::literal(layer.hard_h, "h", "model: the softest place is hard at the room’s warmth"),
                Input::literal(resin.tg_c, "°C", shelf("tg_c")),
            ];
            inputs.extend(room(shop));
            put(named("carve", shop), value, "h", "later of sheet · f(T) and model", inputs, Source::CommonPractice);
        }
    }
    put(
        "full_cure".into(),
        curing.full_h,
        "h",
        "sheet · f",
        vec![Input::literal(resin.cure_h, "h", shelf("cure_h")), Input::figure("cure.factor")],
        Source::CommonPractice,
    );
    for (id, value) in ["harmless", "spoilt"].into_iter().zip(curing.limits_c) {
        let limit = resin.peak_c.map_or_else(
            || Input::literal(value, "°C", "60 without harm, spoilt from 80"),
            |c| Input::literal(c, "°C", shelf("peak_c")),
        );
        let formula = "limit of the sheet, or 80 °C; without harm up to 20 K below it, and to 60 °C at most";
        put(id.into(), value, "°C", formula, vec![limit], Source::CommonPractice);
    }
    put(
        "tack".into(),
        curing.tack_h,
        "h",
        "sheet · f",
        vec![
            Input::literal(tack_at_22(of.request.shelf), "h", "shelf: the seal’s recoat_h, from; 3 h without a seal"),
            Input::figure("cure.factor"),
        ],
        Source::CommonPractice,
    );
    for (shop, value) in curing.safe_mm.named() {
        let id = if shop == "usual" { "safe_depth".to_owned() } else { format!("safe_depth_{shop}") };
        let formula =
            "greatest depth of a plain layer on 25 mm of wood whose peak stays harmless, no more than the sheet’s";
        let mut inputs = vec![Input::literal(resin.layer_greatest, "mm", shelf("layer_greatest")), of_cast("harmless")];
        inputs.extend(chemistry.iter().cloned().chain(room(shop)));
        put(id, value, "mm", formula, inputs, kinetics_source());
    }
}

/// The layers from the bottom up; the last also takes what is mixed for the over-pour.
///
/// # Errors
/// The hollow cannot be cut at the height of a layer.
fn split_into_layers(
    cast: &Cast,
    depths: &[f64],
    to_mix_ml: f64,
    reserve: f64,
    resin: &Resin,
) -> Result<Vec<CastLayer>, SolidError> {
    let (mut below, mut height) = (0.0, cast.bottom_z);
    let mut planned = Vec::with_capacity(depths.len());
    for (k, depth) in depths.iter().enumerate() {
        height += depth;
        let last = k + 1 == depths.len();
        let upto = if last { to_mix_ml } else { volume_below(&cast.hollow, height)? / 1000.0 * reserve };
        planned.push(layer(*depth, upto - below, resin));
        below = upto;
    }
    Ok(planned)
}

/// The layers' depths, or the finding that there is no sound number of them.
fn layers(of: &Casting<'_>, depth: f64, report: &mut Report) -> Option<Vec<f64>> {
    let (spec, resin, units) = (of.spec, of.resin, of.request.job.units);
    let none = match sound_layers(depth, resin.layer_least, resin.layer_greatest) {
        Ok(depths) => return Some(depths),
        Err(none) => none,
    };
    let near = |value| units.near(value);
    let (n, each) = (none.layers, near(none.each));
    let why = if n == 1 {
        format!("one layer of {each} is too thin")
    } else {
        // As the fewest layers that are thin enough are too thin already, one less is too deep.
        format!("{n} layers of {each} are too thin, and {} of {} too deep", n - 1, near(depth / f64::from(n - 1)))
    };
    let text = format!(
        "the resin of “{}” stands {} deep, over-pour and the waste above the rim included; \"{}\" is poured {} to {} deep at a time, so {why}",
        spec.name.value,
        near(depth),
        resin.name,
        near(none.least),
        near(none.greatest)
    );
    report.error("no-sound-layers", spec.resin.at, text).hint(other_depths(of, depth, none.layers));
    None
}

/// Resins that pour to this depth, and the depths to which this one does.
fn other_depths(of: &Casting<'_>, depth: f64, layers: u32) -> String {
    let (resin, units) = (of.resin, of.request.job.units);
    let pours = |r: &&Resin| !r.seal && sound_layers(depth, r.layer_least, r.layer_greatest).is_ok();
    let others: Vec<String> = of.request.shelf.resins.iter().filter(pours).map(|r| format!("\"{}\"", r.name)).collect();
    let deeper = resin.layer_least * f64::from(layers) - depth;
    let shallower = depth - resin.layer_greatest * f64::from(layers - 1);
    let mut remedies = Vec::new();
    if !others.is_empty() {
        remedies.push(format!("take {}, which pours to this depth", others.join(" or ")));
    }
    remedies.push(format!("make the cast {} deeper", units.up(deeper)));
    if layers > 1 {
        remedies.push(format!("make it {} shallower", units.up(shallower)));
    }
    remedies.join("; or ")
}

/// One layer, split by mass and by volume.
fn layer(depth: f64, ml: f64, resin: &Resin) -> CastLayer {
    let mass = split(ml * resin.density_g_ml, resin.hardener_by_mass);
    let volume = split(ml, resin.hardener_by_volume);
    CastLayer { depth, ml, resin_g: mass.a, hardener_g: mass.b, resin_ml: volume.a, hardener_ml: volume.b, cups: 1 }
}

/// Where to pour a layer up to `level`: one point in each part of the hollow that is not joined to the others below it.
pub(crate) fn pour_points(cast: &Cast, level: f64) -> Vec<[f64; 2]> {
    let Some((_, high)) = cast.hollow.bounds() else { return Vec::new() };
    let section = level_section(&cast.hollow, level.min(high.z) - UNDER_LEVEL);
    let point = |part: &Region| match part.contains(cast.pour_at) {
        true => Some(cast.pour_at),
        false => part.inner_point(),
    };
    section.parts().iter().filter_map(point).map(|p| p.to_array()).collect()
}

/// Sections are taken this far under a level, mm: no corner of the hollow lies there.
const UNDER_LEVEL: f64 = 0.0137;

/// The opening of a hollow in the plane `z`, from its facets that lie in that plane.
pub(crate) fn opening(hollow: &Mesh, z: f64) -> Region {
    let mut next: BTreeMap<u32, u32> = BTreeMap::new();
    let mut edges: BTreeSet<(u32, u32)> = BTreeSet::new();
    for (i, t) in hollow.triangles.iter().enumerate() {
        if hollow.corners(i).iter().all(|p| (p.z - z).abs() < 1e-6) {
            edges.extend((0..3).map(|k| (t[k], t[(k + 1) % 3])));
        }
    }
    for (a, b) in &edges {
        if !edges.contains(&(*b, *a)) {
            next.insert(*a, *b);
        }
    }
    let mut rings = Vec::new();
    while let Some((&start, _)) = next.first_key_value() {
        let mut ring = Vec::new();
        let mut at = start;
        while let Some(to) = next.remove(&at) {
            ring.push(hollow.vertices[at as usize].truncate());
            at = to;
        }
        rings.push(Ring(ring));
    }
    Region { rings }
}

/// Where the dam of a cast stands: around its opening.
pub(crate) fn dam(hollow: &Mesh, sizes: &Allowances) -> Region {
    opening(hollow, sizes.face_z()).offset(DAM_OFFSET, 0.02)
}

/// The resin as poured: the hollow, and what stands above face A inside the dam.
pub(crate) fn poured(hollow: &Mesh, sizes: &Allowances) -> Result<Mesh, SolidError> {
    let over = Mesh::prism(&dam(hollow, sizes), sizes.face_z(), sizes.face_z() + sizes.overpour);
    hollow.union(&over)
}

/// Volume of the part of a solid below `z`, mm³.
///
/// # Errors
/// The solid's skin is not closed.
fn volume_below(solid: &Mesh, z: f64) -> Result<f64, SolidError> {
    let Some((min, max)) = solid.bounds() else { return Ok(0.0) };
    if z <= min.z || z >= max.z {
        return Ok(if z <= min.z { 0.0 } else { solid.volume() });
    }
    if !solid.is_closed() {
        return Err(SolidError("its skin is not closed".to_owned()));
    }
    let plan = Region::rectangle(min.truncate() - DVec2::ONE, max.truncate() + DVec2::ONE);
    Ok(solid.volume_within(&plan, (min.z, z)))
}

/// Seal coat of a hollow's skin by the angle between surface and grain (along X); the opening is not sealed.
fn seal_grams(hollow: &Mesh, face_z: f64) -> f64 {
    seal_of((0..hollow.triangles.len()).filter_map(|i| {
        let c = hollow.corners(i);
        let normal = (c[1] - c[0]).cross(c[2] - c[0]);
        let opening = c.iter().all(|p| (p.z - face_z).abs() < 1e-6);
        (!opening && normal.length() > 0.0)
            .then(|| (normal.length() / 2.0, (normal.x / normal.length()).abs().min(1.0).asin().to_degrees()))
    }))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use geom::DVec3;

    #[test]
    fn a_box_of_a_hollow_gives_its_opening_and_part_volume() {
        let hollow = Mesh::cuboid(DVec3::ZERO, DVec3::new(40.0, 20.0, 10.0));
        assert!((opening(&hollow, 10.0).area() - 800.0).abs() < 1e-9);
        assert!((volume_below(&hollow, 4.0).unwrap() - 3200.0).abs() < 1e-6);
        assert_eq!(volume_below(&hollow, 0.0), Ok(0.0));
        assert_eq!(volume_below(&hollow, 11.0), Ok(hollow.volume()));
        // Two end-grain walls 20 × 10, two face-grain walls 40 × 10, a floor of 800 mm².
        let want = seal_of([(400.0, 90.0), (1600.0, 0.0)]);
        assert!((seal_grams(&hollow, 10.0) - want).abs() < 1e-9);
    }

    #[test]
    fn a_hollow_that_cannot_be_cut_is_refused_and_never_counted_as_empty() {
        let mut open = Mesh::cuboid(DVec3::ZERO, DVec3::new(40.0, 20.0, 10.0));
        open.triangles.pop();
        assert!(volume_below(&open, 4.0).is_err());
    }
}
