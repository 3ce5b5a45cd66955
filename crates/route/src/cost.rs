//! What the piece costs: materials, hands, machine, overhead.

use crate::plan::{BuyLine, Cost};
use crate::shown::slug;
use base::{Figure, Figures, Input, Source};
use trade::shelf::{Machine, Rates};
use workpiece::{Step, StepKind};

/// What is paid for all that is bought, in whole packs.
pub fn outlay(buy: &[BuyLine]) -> f64 {
    buy.iter().map(|line| line.cost).sum()
}

/// Adds it up.
pub(crate) fn cost(buy: &[BuyLine], steps: &[Step], machine: &Machine, rates: &Rates, figures: &mut Figures) -> Cost {
    let materials: f64 = buy.iter().map(|b| b.used_cost).sum();
    let outlay = outlay(buy);
    let hands_h: f64 = steps.iter().map(|s| s.hands_on_s).sum::<f64>() / 3600.0;
    let machine_h: f64 =
        steps.iter().filter(|s| matches!(s.kind, StepKind::Carve | StepKind::Level)).map(|s| s.duration_s).sum::<f64>()
            / 3600.0;
    let hands = hands_h * rates.hands_h;
    let power = machine_h * machine.power_w / 1000.0 * rates.power_kwh;
    let running = machine_h * rates.machine_h + power;
    let plain = materials + hands + running;
    let total = plain * (1.0 + rates.overhead) / rates.yield_share;
    for (id, value, of, formula) in [
        ("cost.materials", materials, "used_cost", "Σ over the buy list of price · what the piece uses up"),
        ("cost.outlay", outlay, "cost", "Σ over the buy list of price · what is bought, in whole packs"),
    ] {
        let inputs = buy.iter().map(|line| Input::figure(format!("buy.{}.{of}", slug(&line.item)))).collect();
        figures.put(id, Figure::new(value, &rates.currency, formula, inputs, Source::Derived));
    }
    let rate = |value: f64, unit: &str, key: &str| Input::literal(value, unit, format!("shelf: {key}"));
    let (per_hour, hour) = (format!("{}/h", rates.currency), "h");
    let inputs = vec![Input::figure("time.hands"), rate(rates.hands_h, &per_hour, "rates.hands_h")];
    figures.put("cost.hands", Figure::new(hands, &rates.currency, "hands · rate", inputs, Source::Derived));
    let inputs = vec![
        Input::literal(machine_h, hour, "programs, by the steps that carve and level"),
        rate(rates.machine_h, &per_hour, "rates.machine_h"),
        rate(machine.power_w, "W", "machine, power_w"),
        rate(rates.power_kwh, &format!("{}/kWh", rates.currency), "rates.power_kwh"),
    ];
    let formula = "hours · (rate + power · price of power)";
    figures.put("cost.machine", Figure::new(running, &rates.currency, formula, inputs, Source::Derived));
    figures.put(
        "cost.total",
        Figure::new(
            total,
            &rates.currency,
            "price = (materials + hands + machine) · (1 + overhead) / yield",
            vec![
                Input::figure("cost.materials"),
                Input::figure("cost.hands"),
                Input::figure("cost.machine"),
                Input::literal(rates.overhead, "1", "shelf: rates.overhead"),
                Input::literal(rates.yield_share, "1", "shelf: rates.yield"),
            ],
            Source::CommonPractice,
        ),
    );
    Cost { currency: rates.currency.clone(), materials, hands, machine: running, overhead: total - plain, total }
}
