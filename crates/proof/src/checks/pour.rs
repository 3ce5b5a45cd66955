//! The pours: leaks, dam, layers, amount, heat and cure, and whether resin and wood end up flush.

use crate::case::Case;
use crate::evidence::CastFacts;
use crate::replay::{Poured, Replay};
use crate::verdict::{Check, Where};
use trade::figures::cure::kinetics::peak_limits_c;
use workpiece::{Step, StepKind};

/// A dam stands this far above the flood, and this far outside the hollow, mm (common practice, no source).
const DAM_ABOVE: f64 = 5.0;
const DAM_OUTSIDE: f64 = 6.0;
/// Resin and wood agree within this after levelling, mm.
const FLUSH: f64 = 0.05;
/// Rounding of depths measured on columns, mm.
const ROUNDING: f64 = 0.05;

/// All checks of one cast.
pub(crate) fn judge(case: &Case<'_>, cast: u16, replay: &Replay) -> Vec<Check> {
    let facts = &case.evidence.casts[usize::from(cast)];
    let id = |kind: &str| format!("{kind}.{}", facts.name);
    let pours: Vec<&Poured> = replay.pours.iter().filter(|p| p.cast == cast).collect();
    if pours.is_empty() {
        let why = replay.fault.clone().unwrap_or_else(|| "the cast is never poured".into());
        let kinds = ["leak", "dam", "resin-depth", "resin-amount", "peak", "cured", "flush"];
        return kinds.iter().map(|k| Check::uncomputed(id(k), *k, why.clone())).collect();
    }
    let mut checks = vec![leak(id("leak"), &pours), dam(id("dam"), &pours)];
    checks.extend(depth(case, cast, &pours));
    checks.push(amount(case, cast, &pours));
    checks.push(peak(id("peak"), facts, &pours));
    checks.extend(next_layers(case, facts, &pours));
    checks.push(cured(id("cured"), case, facts));
    checks.push(flush(case, cast, replay));
    checks
}

fn on_piece(at: [f64; 3]) -> Where {
    Where { at: Some(at), ..Where::default() }
}

fn leak(id: String, pours: &[&Poured]) -> Check {
    let leaks: Vec<[f64; 3]> = pours.iter().flat_map(|p| p.report.leaks.iter().copied()).collect();
    let empty = pours.iter().any(|p| p.report.leaks.is_empty() && p.report.volume_mm3 <= 0.0);
    if empty {
        return Check::uncomputed(
            id,
            "Places where the resin would run off",
            "a pour fills nothing at its point and level",
        );
    }
    Check::at_most(id, "Places where the resin would run off", leaks.len() as f64, 0.0, "1")
        .maybe_at(leaks.first().copied().or(pours.first().map(|p| p.report.deepest)).map(on_piece))
        .remedy("Build a dam round the hollow, or keep the hollow away from the blank's edge.")
        .assuming("openings as small as the pitch of the columns are found, open glue seams are not: flood a thin first layer and look")
}

fn dam(id: String, pours: &[&Poured]) -> Check {
    let title = "Height of the dam above the flood, beyond what is wanted";
    let mut worst: Option<(f64, &Poured)> = None;
    for p in pours.iter().filter(|p| p.report.dam_mm > ROUNDING) {
        let outside = if p.dam_offset >= DAM_OUTSIDE - 1e-9 { f64::INFINITY } else { p.dam_offset - DAM_OUTSIDE };
        let left = (p.dam_height - p.report.dam_mm - DAM_ABOVE + ROUNDING).min(outside);
        if worst.is_none_or(|w| left < w.0) {
            worst = Some((left, p));
        }
    }
    // Where the hollow holds the resin by itself the height that is there is all surplus.
    let unneeded = || pours.iter().map(|p| (p.dam_height, *p)).max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((left, at)) = worst.or_else(unneeded) else {
        return Check::uncomputed(id, title, "the cast is never poured");
    };
    let place = at.report.dam_at.unwrap_or(at.report.deepest);
    Check::at_least(id, title, left, 0.0, "mm").at(on_piece(place)).remedy(format!(
        "Make the dam at least {DAM_ABOVE} mm higher than the resin, and {DAM_OUTSIDE} mm outside the hollow."
    ))
}

fn depth(case: &Case<'_>, cast: u16, pours: &[&Poured]) -> Vec<Check> {
    let facts = &case.evidence.casts[usize::from(cast)];
    let depths = pours.iter().map(|p| p.report.depth[1]);
    let planned = facts.layers.iter().copied();
    // Where one step stands for several layers, the planned depths are the layers, and they must add up.
    let by_layer = pours.len() == facts.layers.len().max(1);
    let list: Vec<f64> = if by_layer { depths.clone().collect() } else { planned.clone().collect() };
    let greatest = list.iter().copied().fold(0.0, f64::max);
    let least = list.iter().copied().fold(f64::INFINITY, f64::min);
    let poured: f64 = depths.sum();
    let off = if by_layer { 0.0 } else { (poured - planned.sum::<f64>()).abs() };
    let resin = &facts.resin;
    let place =
        pours.iter().max_by(|a, b| a.report.depth[1].total_cmp(&b.report.depth[1])).map(|p| on_piece(p.report.deepest));
    let name = &facts.name;
    vec![
        Check::at_most(
            format!("resin-depth.{name}"),
            "Deepest layer",
            greatest.max(if off > 1.0 { poured } else { 0.0 }),
            resin.layer_greatest + ROUNDING,
            "mm",
        )
        .maybe_at(place.clone())
        .remedy("Pour it in more layers, or take a resin for deep pours: a deep layer boils or cracks."),
        Check::at_least(
            format!("resin-least-depth.{name}"),
            "Shallowest layer",
            least,
            resin.layer_least - ROUNDING,
            "mm",
        )
        .maybe_at(place)
        .remedy("Pour in fewer layers, or take a resin for thin layers: a thin layer stays soft."),
    ]
}

fn amount(case: &Case<'_>, cast: u16, pours: &[&Poured]) -> Check {
    let facts = &case.evidence.casts[usize::from(cast)];
    let poured: f64 = pours.iter().map(|p| p.report.volume_mm3).sum::<f64>() / 1000.0;
    Check::at_least(format!("resin-amount.{}", facts.name), "Resin to mix", facts.to_mix_ml, poured, "ml")
        .maybe_at(pours.first().map(|p| on_piece(p.report.deepest)))
        .remedy("Mix more: the hollow takes more than is planned.")
}

fn peak(id: String, facts: &CastFacts, pours: &[&Poured]) -> Check {
    let title = "Warmest that a layer grows by its own heat";
    let known = facts.peaks_c.iter().flatten().all(|c| c.is_finite());
    if !known || facts.layers.is_empty() || facts.peaks_c.len() != facts.layers.len() {
        return Check::uncomputed(id, title, "how warm each layer grows was not followed");
    }
    let [harmless, spoilt] = peak_limits_c(&facts.resin);
    let most = |shop: usize| facts.peaks_c.iter().map(|p| p[shop]).fold(f64::NEG_INFINITY, f64::max);
    let (usual, hot) = (most(0), most(1));
    // The layer that grows warmest, where each was poured by itself.
    let worst = facts.peaks_c.iter().position(|p| p[0] == usual).and_then(|k| pours.get(k)).or(pours.first());
    Check::at_most(id, title, usual, spoilt, "°C")
        .watched(usual > harmless || hot > spoilt)
        .maybe_at(worst.map(|p| on_piece(p.report.deepest)))
        .remedy(format!(
            "Pour in more layers or in a cooler room, or take a slower resin: above {harmless:.0} °C resin may yellow, from {spoilt:.0} °C on it boils and cracks; four degrees warmer this one comes to {hot:.0} °C."
        ))
        .assuming("heat of the cure by the pot life or the data sheet on the shelf: a thermometer in the first pour tells")
}

fn wait_h(step: &Step) -> f64 {
    step.wait_s / 3600.0
}

/// Each layer but the last waits until the next may follow.
fn next_layers(case: &Case<'_>, facts: &CastFacts, pours: &[&Poured]) -> Option<Check> {
    let (id, title) = (format!("layers.{}", facts.name), "Least wait between layers");
    if facts.layers.len() < 2 {
        return None;
    }
    let of_cast = |s: &&Step| s.kind == StepKind::Pour && s.cast.as_deref() == Some(&facts.name);
    let steps: Vec<&Step> = case.evidence.steps.iter().filter(of_cast).collect();
    let known = facts.next_h.len() + 1 == facts.layers.len() && facts.next_h.iter().all(|h| h.is_finite());
    if !known || steps.len() != facts.layers.len() {
        return Some(Check::uncomputed(id, title, "when the next layer may follow is not known"));
    }
    let least = steps.iter().zip(&facts.next_h).min_by(|a, b| {
        let beyond = |(step, next): &(&&Step, &f64)| wait_h(step) - **next;
        beyond(a).total_cmp(&beyond(b))
    });
    let (step, next) = least?;
    Some(
        Check::at_least(id, title, wait_h(step), next - HOUR_ROUNDING, "h")
            .maybe_at(pours.first().map(|p| on_piece(p.report.deepest)))
            .remedy("Wait longer: on a layer that is still liquid or hot the next one heats both."),
    )
}

/// It waits until its softest place is hard.
fn cured(id: String, case: &Case<'_>, facts: &CastFacts) -> Check {
    let title = "Wait from the last pour to the first cut";
    let Some(needs) = facts.carve_h.filter(|h| h.is_finite()) else {
        return Check::uncomputed(id, title, "when it is hard enough to be carved is not known");
    };
    let of_cast = |s: &&Step| s.kind == StepKind::Cure && s.cast.as_deref() == Some(&facts.name);
    let Some(step) = case.evidence.steps.iter().find(of_cast) else {
        return Check::uncomputed(id, title, "no step lets it cure");
    };
    Check::at_least(id, title, wait_h(step), needs - HOUR_ROUNDING, "h")
        .remedy("Let it cure longer: soft resin winds itself round the cutter. The test decides, not the date.")
        .assuming("the shop's temperatures by day and night, from the shelf")
}

/// Rounding of times, h.
const HOUR_ROUNDING: f64 = 1e-6;

fn flush(case: &Case<'_>, cast: u16, replay: &Replay) -> Check {
    let facts = &case.evidence.casts[usize::from(cast)];
    let (id, title) = (format!("flush.{}", facts.name), "Step between resin and wood after levelling");
    let Some((_, flush)) = replay.after_levelling.iter().find(|a| a.0 == cast) else {
        return Check::uncomputed(id, title, "nothing levels the face after the pour");
    };
    if flush.resin_columns == 0 {
        return Check::uncomputed(id, title, "no resin is left in the face after levelling: it was cut away");
    }
    Check::at_most(id, title, flush.step(), FLUSH, "mm")
        .at(on_piece(flush.at))
        .remedy("Level the whole face in one plane, deep enough to meet wood and resin everywhere.")
}
