//! How wet the wood is against the room and the resin: whether to wait, and how long.

use crate::Request;
use crate::layup::Layup;
use crate::ledger::Ledger;
use base::{At, Figure, Input, Source};
use trade::figures::lumber::{
    CASTING_MOISTURE, DIFFUSION_M2_S, MOISTURE_POINTS, SPOILING_MOISTURE, drying_days, equilibrium_moisture,
    humidity_for, wood_handbook,
};

/// The wood's moisture, as far as it was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Moisture {
    /// Wettest reading of the boards that are used, or of the blank if that was measured, %; and where it stands.
    reading: Option<(f64, Option<At>)>,
    /// Driest reading, %.
    driest: Option<f64>,
    /// What wood comes to rest at in this shop, %.
    rest: f64,
    /// Mean temperature of the shop, °C.
    mean_c: f64,
    /// What dries: the thickness of a board, or of the blank where that was measured, mm.
    thickness: f64,
    /// Days until the wettest is dry enough to cast on.
    drying_days: f64,
}

impl Moisture {
    /// Of the wood of a job.
    pub(crate) fn of(request: &Request<'_>, layup: &Layup) -> Self {
        let hours = &request.shelf.hours;
        let share = (hours.to_h - hours.from_h) / 24.0;
        let mean_c = share * hours.day_c + (1.0 - share) * hours.night_c;
        let rest = equilibrium_moisture(mean_c, hours.humidity);
        let of_blank = request.measured.and_then(|m| m.moisture).map(|m| (m.value, m.at));
        let readings: Vec<(f64, Option<At>)> = of_blank.map_or_else(|| layup.readings.clone(), |one| vec![one]);
        let reading = readings.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0));
        let thickness = if of_blank.is_some() {
            let (low, high) = layup.blank.bounds();
            high[2] - low[2]
        } else {
            layup.planed
        };
        Self {
            reading,
            driest: readings.iter().map(|r| r.0).min_by(f64::total_cmp),
            rest,
            mean_c,
            thickness,
            drying_days: reading.map_or(0.0, |(wet, _)| drying_days(thickness, wet, CASTING_MOISTURE, rest)),
        }
    }

    /// What the sheet says of the boards.
    pub(crate) fn of_the_boards(&self) -> String {
        let rest = format!("wood comes to rest at about {:.1} % in this shop", self.rest);
        match self.reading {
            None => format!(
                "Let the boards lie in the shop for a week or more ({rest}), then measure moisture: 6 to 9 %, all within 2 points of each other. Write it down (`moisture` of the board on the shelf, or of the record)."
            ),
            Some((wet, _)) => format!(
                "The wettest reading is {wet:.1} %; {rest}. Boards within 2 points of each other and of that stay flat."
            ),
        }
    }

    /// What it says before the hollow is sealed.
    pub(crate) fn before_casting(&self) -> String {
        let ask = format!(
            "Measure the moisture in the hollow and beside it, at several places: {CASTING_MOISTURE:.0} % at most. From {SPOILING_MOISTURE:.0} % on resin foams on the wood, goes cloudy and lets go of it later."
        );
        match self.reading {
            Some((wet, _)) if wet > CASTING_MOISTURE => {
                format!("{ask} The last reading was {wet:.1} %: {}.", self.wait())
            }
            _ => ask,
        }
    }

    /// How long to wait.
    fn wait(&self) -> String {
        if self.drying_days.is_finite() {
            let days = self.drying_days.ceil();
            let days = if days <= 1.0 { "a day".to_owned() } else { format!("{days:.0} days") };
            format!("let it dry for about {days} more in the shop, and measure again")
        } else {
            "in this shop it never gets there: dry the air".to_owned()
        }
    }
}

/// Enters the figures and tells of wood too wet to cast on, of boards that differ, and of a shop in which wood stays wet.
pub(crate) fn look(request: &Request<'_>, layup: &Layup, ledger: &mut Ledger<'_>) {
    let Ledger { figures, report } = ledger;
    let of = Moisture::of(request, layup);
    let hours = &request.shelf.hours;
    figures.put(
        "wood.rest",
        Figure::new(
            of.rest,
            "%",
            "equilibrium moisture of wood at the mean temperature and the humidity of the shop",
            vec![
                Input::literal(hours.day_c, "°C", "shelf: hours.day_c"),
                Input::literal(hours.night_c, "°C", "shelf: hours.night_c"),
                Input::literal(hours.to_h - hours.from_h, "h", "shelf: working hours"),
                Input::literal(hours.humidity, "1", "shelf: hours.humidity"),
            ],
            wood_handbook("eq. 4-5"),
        ),
    );
    let Some((wet, at)) = of.reading else { return };
    let from = Input::literal(wet, "%", "wettest reading: shelf, board, moisture; or the record");
    figures.put("wood.moisture", Figure::new(wet, "%", "M", vec![from], Source::Derived));
    let driest = of.driest.unwrap_or(wet);
    if wet - driest > MOISTURE_POINTS {
        let text = format!(
            "the boards differ by {:.1} points of moisture ({driest:.1} to {wet:.1} %): glued together they pull each other crooked",
            wet - driest
        );
        let hint = format!("let them lie side by side until they are within {MOISTURE_POINTS:.0} points of each other");
        report.warning("boards-differ", at, text).hint(hint);
    }
    if !request.job.casts.is_empty() && wet > CASTING_MOISTURE {
        let text = format!(
            "the wood is at {wet:.1} %; resin is cast on {CASTING_MOISTURE:.0} % or less, and from {SPOILING_MOISTURE:.0} % on it foams, goes cloudy and lets go of the wood"
        );
        let hint = if of.drying_days.is_finite() {
            figures.put("wood.drying", drying(&of));
            format!("{} ({:.1} % is where it comes to rest there)", of.wait(), of.rest)
        } else {
            format!(
                "wood comes to rest at {:.1} % in this shop: bring the humidity below {:.0} %, then wait and measure again",
                of.rest,
                100.0 * humidity_for(CASTING_MOISTURE, of.mean_c)
            )
        };
        if wet > SPOILING_MOISTURE {
            report.error("wood-too-wet", at, text).hint(hint);
        } else {
            report.warning("wood-wet", at, text).hint(hint);
        }
    } else if (wet - of.rest).abs() > MOISTURE_POINTS && request.job.route.rest.is_none() {
        let text = format!(
            "the wood is at {wet:.1} % and comes to rest at {:.1} % in this shop: it will move while it is carved",
            of.rest
        );
        let hint = "let it lie in the shop for some weeks, or set `rest` in the job's [route]: both sides are roughed, the wood rests, then both are finished";
        report.warning("wood-not-at-rest", at, text).hint(hint);
    }
}

fn drying(of: &Moisture) -> Figure {
    Figure::new(
        of.drying_days,
        "d",
        "(M − rest) / (M₀ − rest) = 8/π² Σ (2n + 1)⁻² exp(−(2n + 1)² π² D t / L²)",
        vec![
            Input::figure("wood.moisture"),
            Input::figure("wood.rest"),
            Input::literal(CASTING_MOISTURE, "%", "M, wettest to cast on"),
            Input::literal(of.thickness, "mm", "thickness L of a board; of the blank where that was measured"),
            Input::literal(DIFFUSION_M2_S, "m²/s", "D, bound water across the grain, order of size"),
        ],
        Source::FromMemory {
            title: "J. Crank, The Mathematics of Diffusion; J. F. Siau, Transport Processes in Wood (D)".into(),
        },
    )
}
