//! What would be if the turning over were off by more or less, or the shop warmer or colder: in closed form, from a plan
//! that is at hand.

use super::wire::{CastTimes, FlipErrors, FlipLeft, WhatIfAsk, WhatIfView};
use proof::Check;
use proof::what_if::{Errors, Turning};
use route::Plan;
use trade::figures::resin::{time_by_day_and_night, time_factor};
use trade::shelf::{Hours, Resin};

/// Answers for a plan with its checks, its turning over if it has one, and the hours of its shop.
pub(super) fn what_if(
    (plan, checks): (&Plan, &[Check]),
    turning: Option<&Turning>,
    hours: &Hours,
    ask: &WhatIfAsk,
) -> WhatIfView {
    let warmth_c = ask.warmth_c.unwrap_or([hours.day_c, hours.night_c]);
    WhatIfView {
        flip: turning.map(|turning| flip((plan, checks), turning, ask.errors)),
        warmth_c,
        casts: plan.casts.iter().map(|cast| times(&cast.name, &cast.resin, hours, warmth_c)).collect(),
    }
}

fn flip((plan, checks): (&Plan, &[Check]), turning: &Turning, asked: Option<FlipErrors>) -> FlipLeft {
    let allowed = turning.allowed();
    let errors = asked.map_or(allowed, |errors| Errors {
        within: errors.within_mm,
        square: errors.square_mm_m,
        lean: errors.lean_mm_m,
    });
    let (now, then) = (turning.left(&allowed), turning.left(&errors));
    let check = |id: &str| checks.iter().find(|check| check.id == id);
    let both = [check("flip-wall"), check("flip-floor")];
    // What gouges took stands in the check and stays as it is.
    let left = |k: usize| Some(then[k]? - (now[k]? - both[k]?.value).max(0.0));
    FlipLeft {
        errors: FlipErrors { within_mm: errors.within, square_mm_m: errors.square, lean_mm_m: errors.lean },
        left_mm: [left(0), left(1)],
        asked_mm: [plan.piece.wall, plan.piece.floor],
        least_mm: both.map(|check| check.map(|check| check.limit)),
    }
}

/// Times of the sheet, scaled as the reaction goes (Arrhenius); what the model of heat adds is reckoned with a plan.
fn times(name: &str, resin: &Resin, hours: &Hours, [day_c, night_c]: [f64; 2]) -> CastTimes {
    let day_h = hours.to_h - hours.from_h;
    let scaled = |sheet: f64| time_by_day_and_night(sheet, day_c, day_h, night_c);
    CastTimes {
        name: name.to_owned(),
        pot_life_min: resin.pot_life_min * time_factor(day_c),
        next_h: resin.recoat_h.map(scaled),
        carve_h: scaled(resin.carve_h),
        warm_enough: day_c.min(night_c) >= resin.least_c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_follow_the_law_of_arrhenius() {
        let shelf = trade::parse(trade::DEFAULT_SHELF, base::FileId(0)).0.unwrap();
        let resin = shelf.resins.iter().find(|r| !r.seal).unwrap();
        let at = |day: f64, night: f64| times("x", resin, &shelf.hours, [day, night]);
        // At 22 °C the sheet holds.
        let sheet = at(22.0, 22.0);
        assert!((sheet.carve_h - resin.carve_h).abs() < 1e-9 && (sheet.pot_life_min - resin.pot_life_min).abs() < 1e-9);
        // By hand: exp(57 000 / 8.314 · (1/305.15 − 1/295.15)) = 0.4671 ten degrees warmer.
        let warm = at(32.0, 32.0);
        assert!((warm.carve_h / sheet.carve_h - 0.4671).abs() < 5e-4, "{}", warm.carve_h / sheet.carve_h);
        // A cold night slows what a warm day does, but never beyond what the cold alone does.
        let mixed = at(32.0, 22.0);
        assert!(mixed.carve_h > warm.carve_h && mixed.carve_h < sheet.carve_h);
        assert_eq!(mixed.pot_life_min, warm.pot_life_min, "cups are filled by day");
        assert!(!at(22.0, resin.least_c - 1.0).warm_enough && sheet.warm_enough);
    }
}
