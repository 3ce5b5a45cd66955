//! `treen coupon`: small test pieces whose readings calibrate the shelf.

use super::start::write;
use crate::cli::CouponCommand;
use crate::texts::{Texts, read_text};
use crate::{Outcome, Trouble, console, messages};
use std::path::Path;
use trade::figures::coupon::{Known, flip, strength_mpa};
use trade::shelf::{Readings, TapePulls};

/// The piece that is cut from both sides.
const FLIP_JOB: &str = include_str!("../../../../examples/flip-coupon/job.toml");

pub(crate) fn coupon(command: &CouponCommand) -> Result<Outcome, Trouble> {
    match command {
        CouponCommand::Flip { dir } => begin_flip(dir),
        CouponCommand::Tape { dir } => begin_tape(dir),
        CouponCommand::Read { file } => read(file),
    }
}

fn begin_flip(dir: &Path) -> Result<Outcome, Trouble> {
    let (job, readings) = (dir.join("job.toml"), dir.join("readings.toml"));
    write(&job, FLIP_JOB)?;
    write(&readings, trade::FLIP_READINGS)?;
    console::say(&format!(
        "Wrote {} and {}. Plan and cut it as any bowl (`treen plan {2} --out {2}/pack`), fill the readings in, then `treen coupon read {1}`.\n",
        job.display(),
        readings.display(),
        dir.display()
    ));
    Ok(Outcome::Done)
}

fn begin_tape(dir: &Path) -> Result<Outcome, Trouble> {
    let readings = dir.join("readings.toml");
    write(&readings, trade::TAPE_READINGS)?;
    console::say(&format!(
        "Wrote {0}: how to pull, and what to fill in. Then `treen coupon read {0}`.\n",
        readings.display()
    ));
    Ok(Outcome::Done)
}

fn read(file: &Path) -> Result<Outcome, Trouble> {
    const HINT: &str = "name the readings.toml that `treen coupon flip DIR` or `treen coupon tape DIR` wrote";
    let mut texts = Texts::default();
    let id = texts.put(file.display().to_string(), read_text(file, HINT)?);
    let (readings, report) = trade::parse_readings(texts.content(id), id);
    let told = messages::render(&report, &texts, console::coloured());
    match readings {
        Some(readings) => console::say(&answer(&readings)),
        None => return Err(Trouble::Input(told)),
    }
    Ok(Outcome::Done)
}

/// What the readings say, and what to write on the shelf.
fn answer(readings: &Readings) -> String {
    let mut text = String::new();
    let mut shelf = String::new();
    if let Some((machine, walls)) = &readings.flip {
        let said = flip(walls);
        let per_metre = |known: Known| Known { value: 1e3 * known.value, within: 1e3 * known.within };
        let row = |name: &str, formula: &str, known: Known, unit: &str| {
            format!("{name:<22} {:>8.3} ± {:.3} {unit:<5} {formula}\n", known.value, known.within)
        };
        let [cx, cy] = said.centre;
        let [px, py] = said.lean.map(per_metre);
        let [tx, ty] = said.tilt.map(per_metre);
        let square = per_metre(said.square);
        text += &row("out of square", "q = (∂ux/∂y + ∂uy/∂x) / 2", square, "mm/m");
        text += &row("lean along X", "φx = −(∂ux/∂d + τx) / 2", px, "mm/m");
        text += &row("lean along Y", "φy = −(∂uy/∂d + τy) / 2", py, "mm/m");
        text += &row("centre along X", "ux in the middle, at the rim", cx, "mm");
        text += &row("centre along Y", "uy in the middle, at the rim", cy, "mm");
        text += &row("edge askew", "θ = ∂uy/∂x", per_metre(said.askew), "mm/m");
        text += &row("seat tilted along X", "τx = (floor left − floor right) / (2 · floor_out)", tx, "mm/m");
        text += &row("seat tilted along Y", "τy = (floor front − floor back) / (2 · floor_out)", ty, "mm/m");
        // Rounded up: a shelf must not make the machine truer than it was read to be.
        let up = |bound: f64| (bound * 100.0).ceil() / 100.0;
        let (lean, centre) = (up(px.bound().max(py.bound())), up(cx.bound().max(cy.bound())));
        shelf += &format!(
            "[[machine]]\nname = {machine:?}\nsquareness_mm_m = {:.2}\nlean_mm_m = {lean:.2}\nflip_measured = \"flip coupon\"\n\n[finding]\nindicated = {centre:.2}\n\n",
            up(square.bound())
        );
    }
    if let Some(TapePulls { side, straight_n, sideways_n }) = &readings.tape {
        let area = side[0] * side[1];
        let mut entries = String::new();
        for (key, name, pulls) in
            [("tape_tension_mpa", "straight off", straight_n), ("tape_shear_mpa", "sideways", sideways_n)]
        {
            let Some(strength) = strength_mpa(pulls, area) else { continue };
            let least = pulls.iter().copied().fold(f64::INFINITY, f64::min);
            text += &format!(
                "{name:<22} {strength:>8.4} MPa   least of {} pulls / area = {least:.0} N / {area:.0} mm²\n",
                pulls.len()
            );
            // Rounded down: a shelf must not promise more than was pulled.
            entries += &format!("{key} = {:.4}\n", (strength * 1e4).floor() / 1e4);
        }
        shelf += &format!("[holding]\n{entries}tape_measured = \"pull coupon\"\n\n");
    }
    format!(
        "{text}\nOn the shelf, or in a shop.toml beside the job (its size, and as much again as the readings may be off):\n\n{}\n",
        shelf.trim_end()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::FileId;

    /// From filled-in files to entries that a shelf really takes and that change it.
    #[test]
    fn readings_become_entries_that_the_shelf_takes() {
        let filled = trade::FLIP_READINGS
            .replace("right_back = []", "right_back = [8.10, 8.05]")
            .replace("right_front = []", "right_front = [7.98, 7.92]")
            .replace("left_back = []", "left_back = [7.91, 7.95]")
            .replace("left_front = []", "left_front = [8.03, 8.06]")
            .replace("back_right = []", "back_right = [8.00, 8.00]")
            .replace("back_left = []", "back_left = [8.00, 8.00]")
            .replace("front_right = []", "front_right = [8.00, 8.00]")
            .replace("front_left = []", "front_left = [8.00, 8.00]")
            .replace("floor = []", "floor = [7.00, 7.00, 7.00, 7.00]");
        let pulls = "\n[tape]\nside = [50, 50]\nstraight_n = [175, 162, 190]\n";
        let (readings, report) = trade::parse_readings(&(filled + pulls), FileId(0));
        assert!(report.findings.is_empty(), "{report:?}");
        let text = answer(&readings.unwrap());
        // By hand: ux back = −0.095, −0.05; front = 0.025, 0.07; ∂ux/∂y = −0.12 / 68, halved; ∂ux/∂d = 0.045 / 14, halved.
        assert!(text.contains("-0.882 ± 0.074 mm/m"), "{text}");
        assert!(text.contains("-1.607 ± "), "{text}");
        let entries = &text[text.find("[[machine]]").unwrap()..];
        let (shelf, _) = trade::parse(&format!("{}\n[finding]\nindicated = 0.09\n", trade::DEFAULT_SHELF), FileId(0));
        let before = shelf.unwrap();
        let (after, report) = trade::parse_over(&before, entries, FileId(1));
        assert!(report.findings.is_empty(), "{report:?}");
        let after = after.unwrap();
        let (old, new) = (before.machine().unwrap(), after.machine().unwrap());
        assert_eq!((old.squareness_mm_m, new.squareness_mm_m), (0.2, 0.96));
        assert!(new.lean_mm_m > 1.6 && new.flip_measured.is_some() && old.flip_measured.is_none());
        assert_eq!((before.holding.tape_tension_mpa, after.holding.tape_tension_mpa), (0.05, 0.0648));
        // By hand: ux is −0.0125 at a depth of 10, so −0.0446 at the rim, and may be off by 0.0062.
        assert_eq!((before.finding.indicated, after.finding.indicated), (0.09, 0.06));
        assert_eq!(after.holding.tape_shear_mpa, before.holding.tape_shear_mpa);
    }

    #[test]
    fn an_empty_sheet_is_refused_line_by_line() {
        let (readings, report) = trade::parse_readings(trade::FLIP_READINGS, FileId(0));
        assert!(readings.is_none());
        assert_eq!(report.findings.len(), 9, "{report:?}");
        let (readings, report) = trade::parse_readings("", FileId(0));
        assert!(readings.is_none() && report.has_errors());
        let (readings, report) = trade::parse_readings(trade::TAPE_READINGS, FileId(0));
        assert!(readings.is_none() && report.findings.len() == 1, "{report:?}");
    }
}
