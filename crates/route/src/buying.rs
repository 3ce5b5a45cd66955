//! What to buy. The list counts whole packs, as they are sold; the cost of the piece counts what of them it uses up.

use crate::plan::{BuyLine, CastPlan};
use crate::setups::hold::INSTANT;
use crate::setups::inside::CARRIER_BEYOND;
use trade::figures::finishing::volume_ml;
use trade::figures::resin::{packs, to_buy_g};
use trade::figures::sanding::sequence;
use trade::shelf::{Finish, Resin, Shelf};
use workpiece::Setup;

/// Density of instant glue, g/ml; from memory.
const INSTANT_GLUE_G_ML: f64 = 1.06;
/// What stays in bottle and brush, as a factor. Common practice, no source.
const REST: f64 = 1.1;

/// A thing sold in packs.
struct Goods<'a> {
    item: String,
    /// What it is for.
    purpose: &'a str,
    /// Sizes sold, in thousandths of `unit`.
    sizes: &'a [f64],
    /// `kg` or `l`.
    unit: &'a str,
    /// Price of a unit.
    price: f64,
}

/// A line for the packs that cover a need, in thousandths of the unit.
fn packed(goods: &Goods<'_>, need: f64) -> BuyLine {
    let small = if goods.unit == "l" { "ml" } else { "g" };
    let found = packs(need, goods.sizes).unwrap_or_default();
    let total: f64 = found.iter().map(|(size, n)| size * f64::from(*n)).sum();
    let words: Vec<String> = found.iter().map(|(size, n)| format!("{n} × {size:.0} {small}")).collect();
    // More than any pack list covers is bought by weight.
    let (bought, packs) = if total > 0.0 { (total, words.join(" + ")) } else { (need, "by weight".to_owned()) };
    let (quantity, used) = (bought / 1000.0, need / 1000.0);
    BuyLine {
        item: goods.item.clone(),
        quantity,
        unit: goods.unit.to_owned(),
        price: goods.price,
        cost: quantity * goods.price,
        used,
        used_cost: used * goods.price,
        note: format!(
            "{packs}, {}; about {} are used, and only those count in the cost of the piece",
            goods.purpose,
            base::sensible(need, small)
        ),
    }
}

/// Resin by resin, and the seal.
pub(crate) fn resins(casts: &[CastPlan], shelf: &Shelf) -> Vec<BuyLine> {
    let mut lines = Vec::new();
    let mut done: Vec<&str> = Vec::new();
    for cast in casts {
        let name = cast.resin.name.as_str();
        if done.contains(&name) {
            continue;
        }
        done.push(name);
        let same = casts.iter().filter(|c| c.resin.name == name);
        let grams: f64 = same.map(|c| c.to_mix_ml * c.resin.density_g_ml).sum();
        lines.push(packed(&resin(&cast.resin, format!("resin \"{name}\", with hardener"), "to pour"), grams));
    }
    let seal: f64 = casts.iter().map(|c| c.seal_g).sum();
    if let (true, Some(found)) = (seal > 0.0, shelf.resins.iter().find(|r| r.seal)) {
        let goods = resin(found, format!("\"{}\", with hardener", found.name), "to seal the hollows");
        lines.push(packed(&goods, to_buy_g(0.0, found.density_g_ml, seal)));
    }
    lines
}

fn resin<'a>(resin: &'a Resin, item: String, purpose: &'a str) -> Goods<'a> {
    Goods { item, purpose, sizes: &resin.packs_g, unit: "kg", price: resin.price_kg }
}

/// Wood glue for the blank, and what holds it: instant glue for tape, the glue under the foot.
pub(crate) fn glues<'s>(wood_glue_g: f64, setups: impl Iterator<Item = &'s Setup>, shelf: &Shelf) -> Vec<BuyLine> {
    let instant = shelf.glue(INSTANT).map_or(0.0, |g| g.spread_g_m2);
    let film = shelf.holding.glue_film * INSTANT_GLUE_G_ML / 1000.0;
    let grams = |setup: &Setup| match (setup.holding.method.as_str(), setup.holding.glue.as_deref()) {
        // On a pallet it is levelled where it was taped for the setup before.
        ("tape", _) if setup.id != "level" || shelf.holding.pallet <= 0.0 => setup.holding.area_mm2 * 1e-6 * instant,
        ("tape", _) | (_, None) => 0.0,
        (_, Some(INSTANT)) => setup.holding.area_mm2 * film,
        (_, Some(glue)) => setup.holding.area_mm2 * 1e-6 * shelf.glue(glue).map_or(0.0, |g| g.spread_g_m2),
    };
    let mut needs =
        vec![("wood glue".to_owned(), wood_glue_g, "for the blank"), (INSTANT.to_owned(), 0.0, "for tape and foot")];
    for setup in setups {
        let (name, grams) = (setup.holding.glue.clone().unwrap_or_default(), grams(setup) * REST);
        match needs.iter_mut().find(|need| need.0 == name) {
            Some(need) => need.1 += grams,
            None if grams > 0.0 => needs.push((name, grams, "for the foot")),
            None => {}
        }
    }
    let mut lines = Vec::new();
    for (name, grams, purpose) in needs.into_iter().filter(|(_, grams, _)| *grams > 0.0) {
        let Some(glue) = shelf.glue(&name) else { continue };
        let goods = Goods { item: name, purpose, sizes: &glue.packs_g, unit: "kg", price: glue.price_kg };
        lines.push(packed(&goods, grams));
    }
    lines
}

/// Sanding ends at this grit.
pub(crate) const LAST_GRIT: u32 = 320;

/// Small things that the piece uses up; they are sold in larger rolls and jars than it needs, so what it uses is listed.
/// `first_grit`: `None` where nothing is sanded.
pub(crate) fn supplies(
    casts: &[CastPlan],
    setups: &[&Setup],
    (skin_mm2, first_grit): (f64, Option<u32>),
    shelf: &Shelf,
) -> Vec<BuyLine> {
    let prices = &shelf.supplies;
    let m2 = |mm2: f64| mm2 * 1e-6;
    let taped =
        setups.iter().filter(|s| s.holding.method == "tape" && (s.id != "level" || shelf.holding.pallet <= 0.0));
    let tape: f64 = taped.map(|s| m2(s.holding.area_mm2)).sum::<f64>() * 2.0;
    let carried: Vec<&&Setup> = setups.iter().filter(|s| s.holding.method == "carrier-glue").collect();
    let size = |s: &Setup, k: usize| s.stock.max[k] - s.stock.min[k];
    let carrier: f64 = carried.iter().map(|s| m2((size(s, 0) + CARRIER_BEYOND) * size(s, 1))).sum();
    let kraft: f64 = carried.iter().map(|s| m2(s.holding.area_mm2)).sum();
    let dam: f64 = casts.iter().map(|c| c.dam_length / 1000.0).sum();
    let pigment: f64 = casts.iter().map(|c| c.pigment_g).sum::<f64>() / 1000.0;
    let ladder: Vec<_> = first_grit.map_or_else(Vec::new, |first| {
        shelf.abrasives.iter().filter(|a| (first..=LAST_GRIT).contains(&a.grit)).copied().collect()
    });
    let steps = sequence(&ladder, !casts.is_empty());
    let grits = steps.len();
    let names: Vec<String> = steps.iter().map(|a| format!("P{}", a.grit)).collect();
    let each = (skin_mm2 * 1e-4 / prices.disc_dm2).ceil();
    let board = format!("carrier board, {:.0} mm", shelf.holding.carrier);
    let ladder = format!("{each:.0} each of {}", names.join(", "));
    let lines = [
        ("masking tape", tape, "m²", prices.tape_m2, "two layers to a stack, glue between".to_owned()),
        (
            board.as_str(),
            carrier,
            "m²",
            prices.carrier_m2,
            "under the foot; it is spoilt where the foot was glued".into(),
        ),
        ("kraft paper", kraft, "m²", prices.kraft_m2, "between foot and carrier".into()),
        (
            "dam, release tape, sealant",
            dam,
            "m",
            prices.dam_m,
            "round the hollows, round the inside of a ring too".into(),
        ),
        ("pigment", pigment, "kg", prices.pigment_kg, "for the resin".into()),
        ("abrasive discs", each * grits as f64, "discs", prices.abrasive_disc, ladder),
    ];
    let used = lines.into_iter().filter(|line| line.1 > 0.0);
    used.map(|(item, quantity, unit, price, note)| BuyLine {
        item: item.to_owned(),
        quantity,
        unit: unit.to_owned(),
        price,
        cost: quantity * price,
        used: quantity,
        used_cost: quantity * price,
        note,
    })
    .collect()
}

/// The finish for a skin.
pub(crate) fn finish(finish: &Finish, skin_mm2: f64) -> BuyLine {
    let goods = Goods {
        item: format!("finish: {}", finish.name),
        purpose: "for all coats and what stays in rag and brush",
        sizes: &finish.packs_ml,
        unit: "l",
        price: finish.price_l,
    };
    packed(&goods, volume_ml(finish, skin_mm2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_packs_are_bought_and_what_is_used_is_counted() {
        let goods =
            Goods { item: "glue".into(), purpose: "for the blank", sizes: &[250.0, 500.0], unit: "kg", price: 11.0 };
        let line = packed(&goods, 13.4);
        assert_eq!((line.quantity, line.cost), (0.25, 2.75));
        assert!((line.used_cost - 0.1474).abs() < 1e-12);
        assert!(line.note.starts_with("1 × 250 g, for the blank; about 13.4 g are used"), "{}", line.note);
        // 260 g: two small ones or a large one hold as much, and one pack is less to carry.
        assert!(packed(&goods, 260.0).note.starts_with("1 × 500 g"));
    }

    #[test]
    fn every_glue_and_finish_of_the_default_shelf_is_sold_in_packs() {
        let shelf = trade::parse(trade::DEFAULT_SHELF, base::FileId(0)).0.unwrap();
        for found in &shelf.finishes {
            let line = finish(found, 80_000.0);
            assert!(line.quantity >= 0.1 && line.quantity >= line.used, "{line:?}");
        }
        let lines = glues(13.0, std::iter::empty(), &shelf);
        assert_eq!((lines.len(), lines[0].quantity), (1, 0.25));
    }
}
