//! Choosing cutters from the shelf for a machine, a reach and a room.

use base::Report;
use trade::cutter::Form;
use trade::shelf::{Cutter, Machine, Shelf, SpindleControl};

/// Room between nut and work when the cutter is at its deepest, mm.
pub(crate) const NUT_CLEAR: f64 = 2.0;

/// What an operation asks of its cutter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Need<'a> {
    /// For messages: `roughing the inside`.
    pub(crate) what: &'a str,
    /// Height of standing material beside the cutter at its deepest, mm.
    pub(crate) depth: f64,
    /// Greatest stick-out that still fits between nut at the top and work, mm.
    pub(crate) stickout_max: f64,
    /// Greatest cutting diameter, mm.
    pub(crate) diameter_max: f64,
}

/// Greatest stick-out that lets the tip rise to `clearance` above stock whose top is `height` above the machine's table.
pub(crate) fn stickout_room(machine: &Machine, height: f64, clearance: f64) -> f64 {
    machine.gap - height - clearance
}

/// The flat cutter that roughs: it must reach with the nut clear of the work, and fit a collet; the flutes should
/// reach too, and a stout cutter beats a thin one.
pub(crate) fn rougher<'a>(
    shelf: &'a Shelf,
    machine: &Machine,
    need: Need<'_>,
    report: &mut Report,
) -> Option<&'a Cutter> {
    let found = candidates(shelf, machine, need)
        .filter(|c| c.solid.form == Form::Flat && c.helix_deg > 0.0 && c.flutes >= 2)
        .max_by(|a, b| {
            let key = |c: &Cutter| (c.solid.flute_length >= need.depth, c.solid.diameter, -c.solid.stickout);
            let (ka, kb) = (key(a), key(b));
            ka.0.cmp(&kb.0).then(ka.1.total_cmp(&kb.1)).then(ka.2.total_cmp(&kb.2))
        });
    require(found, need, "flat up-spiral cutter", report)
}

/// The ball that finishes: as near to 6 mm as the shelf has (finer ones take all day, stouter ones leave a tall fillet above
/// the flange), reaching with the nut clear; a necked one where the flutes are shorter than the wall.
pub(crate) fn ball<'a>(shelf: &'a Shelf, machine: &Machine, need: Need<'_>, report: &mut Report) -> Option<&'a Cutter> {
    let found = candidates(shelf, machine, need).filter(|c| c.solid.form == Form::Ball).min_by(|a, b| {
        let key = |c: &Cutter| {
            let rubs = c.solid.flute_length < need.depth && c.solid.neck_diameter >= c.solid.diameter;
            ((c.solid.diameter - 6.0).abs() > 1.5, rubs, c.solid.stickout)
        };
        let (ka, kb) = (key(a), key(b));
        ka.0.cmp(&kb.0).then(ka.1.cmp(&kb.1)).then(ka.2.total_cmp(&kb.2))
    });
    require(found, need, "ball nose", report)
}

/// The widest flat cutter for facing; it never goes deeper than its flutes.
pub(crate) fn facer<'a>(
    shelf: &'a Shelf,
    machine: &Machine,
    need: Need<'_>,
    report: &mut Report,
) -> Option<&'a Cutter> {
    let found = candidates(shelf, machine, need)
        .filter(|c| c.solid.form == Form::Flat && c.flutes >= 2)
        .max_by(|a, b| a.solid.diameter.total_cmp(&b.solid.diameter).then(b.number.cmp(&a.number)));
    require(found, need, "flat cutter", report)
}

fn candidates<'a>(shelf: &'a Shelf, machine: &Machine, need: Need<'_>) -> impl Iterator<Item = &'a Cutter> {
    let collets = machine.collets.clone();
    shelf.cutters.iter().filter(move |c| {
        collets.iter().any(|k| (k - c.solid.shank_diameter).abs() < 0.03)
            && c.solid.stickout >= need.depth + NUT_CLEAR
            && c.solid.stickout <= need.stickout_max
            && c.solid.diameter <= need.diameter_max
    })
}

fn require<'a>(found: Option<&'a Cutter>, need: Need<'_>, kind: &str, report: &mut Report) -> Option<&'a Cutter> {
    if found.is_none() {
        report
            .error(
                "missing-cutter",
                None,
                format!(
                    "no {kind} on the shelf fits {}: it must stick out {:.0} to {:.0} mm, be at most {:.1} mm thick, and its shank fit a collet of this machine",
                    need.what,
                    need.depth + NUT_CLEAR,
                    need.stickout_max.max(0.0),
                    need.diameter_max
                ),
            )
            .hint("add such a cutter to the shelf, make the piece lower or its details wider, or use a machine with more room under the nut");
    }
    found
}

/// Speed and feed of a cutter in a material on a machine.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Speeds {
    /// rev/min.
    pub(crate) rpm: f64,
    /// Cutting feed, mm/min.
    pub(crate) feed: f64,
    /// Plunge and ramp feed, mm/min.
    pub(crate) plunge: f64,
    /// What to set by hand where the machine does not.
    pub(crate) by_hand: String,
    /// Chip load, mm per tooth.
    pub(crate) chip_load: f64,
}

/// Speeds: the fastest the cutter bears at its stick-out, and the chip load that this machine bears; `resin` where any is cut.
pub(crate) fn speeds(cutter: &Cutter, machine: &Machine, resin: bool) -> Speeds {
    let (rpm, by_hand) = match &machine.spindle {
        SpindleControl::Program { least_rpm, greatest_rpm, .. } => {
            (cutter.rpm_max.clamp(*least_rpm, *greatest_rpm), String::new())
        }
        SpindleControl::Dial { rpm } => {
            let fitting =
                rpm.iter().enumerate().filter(|(_, r)| **r <= cutter.rpm_max).max_by(|a, b| a.1.total_cmp(b.1));
            let (mark, rpm) = fitting.map_or((0, rpm.first().copied().unwrap_or(8000.0)), |(i, r)| (i, *r));
            (rpm, format!("dial {} (about {:.0})", mark + 1, rpm))
        }
    };
    let chip_load = machine.chip_load_share * if resin { cutter.fz_resin } else { cutter.fz_wood };
    let feed = (rpm * f64::from(cutter.flutes) * chip_load).min(machine.feed_max[0]);
    let feed = (feed / 10.0).floor() * 10.0;
    let plunge = ((feed * 0.25).min(machine.feed_max[1]) / 10.0).floor() * 10.0;
    Speeds { rpm, feed, plunge: plunge.max(10.0), by_hand, chip_load: feed / (rpm * f64::from(cutter.flutes)) }
}
