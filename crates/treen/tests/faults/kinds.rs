//! The faults: what goes wrong in a text, on a sheet, on a shelf, in the wood, in the order of the steps.

use super::text::{
    each, edit, edit_all, edit_file, events, files, is_code, last, long_cuts, map, map_all, middle, replace, retracts,
    swap, word,
};
use geom::{DVec3, Mesh};
use proof::Evidence;
use rs274::interpret::{Event, What};
use trade::cutter::Form;
use trade::shelf::{Cutter, SpindleControl};
use workpiece::{Change, Face, StepKind};

/// Where a fault is put.
pub(crate) struct Spot<'a> {
    /// Index of the setup.
    pub(crate) setup: usize,
    /// All cutters of the shop, as its machine holds them.
    pub(crate) shelf: &'a [Cutter],
}

/// One kind of fault.
pub(crate) struct Kind {
    /// What goes wrong.
    pub(crate) name: &'static str,
    /// The checks meant for it, by the first part of their names: any one of them must fail.
    pub(crate) meant: &'static [&'static str],
    /// Makes the fault; `false` where there is nothing to make it of.
    pub(crate) make: fn(&mut Evidence, &Spot<'_>) -> bool,
    /// Why some pieces suffer nothing from it; then the made piece must be the same.
    pub(crate) harmless: Option<&'static str>,
}

const fn kind(name: &'static str, meant: &'static [&'static str], make: fn(&mut Evidence, &Spot<'_>) -> bool) -> Kind {
    Kind { name, meant, make, harmless: None }
}

const fn maybe(
    name: &'static str,
    meant: &'static [&'static str],
    harmless: &'static str,
    make: fn(&mut Evidence, &Spot<'_>) -> bool,
) -> Kind {
    Kind { name, meant, make, harmless: Some(harmless) }
}

/// A cutter in the wrong place: too deep, or not there.
const OFF: &[&str] = &["gouge", "leftover", "features", "hollow", "tooth-load", "restart"];

/// Why a whole circle in the place of an arc may do no harm.
const ROUND: &str = "the rest of the circle runs where all is cut away";

/// All kinds.
pub(crate) const KINDS: &[Kind] = &[
    // The text.
    kind("cuts here and there 0.1 mm deeper", &["gouge"], |e, at| {
        let top = top(e, at);
        skin(e, at)
            && edit_all(e, at.setup, |lines| {
                let some: Vec<usize> = long_cuts(lines, top).into_iter().step_by(23).collect();
                each(some.into_iter().rev(), |k| deeper(lines, k, 0.1))
            })
    }),
    kind("the whole program 0.1 mm deeper", &["gouge"], |e, at| shift(e, at, 'Z', -0.1)),
    kind("the whole program 0.2 mm higher", &["leftover", "features", "hollow"], |e, at| shift(e, at, 'Z', 0.2)),
    kind("the whole program 0.3 mm aside in X", &["gouge"], |e, at| skin(e, at) && shift(e, at, 'X', 0.3)),
    kind("the whole program 0.3 mm aside in Y", &["gouge"], |e, at| skin(e, at) && shift(e, at, 'Y', 0.3)),
    maybe("the program mirrored across Y", OFF, "the setup is the same on both sides", |e, at| {
        edit_all(e, at.setup, |lines| map_all(lines, 'X', |x| -x) | map_all(lines, 'I', |i| -i) | turned(lines))
    }),
    maybe("X and Y exchanged", OFF, "the setup is the same either way", |e, at| {
        edit_all(e, at.setup, |lines| each(lines.iter_mut(), swap_axes) | turned(lines))
    }),
    kind("the program larger by 1 in 100", &["gouge", "leftover"], |e, at| {
        skin(e, at) && edit_all(e, at.setup, |lines| each(['X', 'Y', 'I', 'J'], |l| map_all(lines, l, |v| v * 1.01)))
    }),
    kind("millimetres read as inches", &["travel", "gouge"], |e, at| {
        edit_all(e, at.setup, |lines| replace(lines, "G21", "G20"))
    }),
    kind("no units", &["reading"], |e, at| {
        edit(e, at.setup, |lines| replace(lines, "G21", "") || replace(lines, "G20", ""))
    }),
    kind("distances counted on", &["rise", "reading", "gouge", "travel"], |e, at| {
        edit_all(e, at.setup, |lines| replace(lines, "G90", "G91"))
    }),
    kind("arcs in another plane", &["reading", "gouge"], |e, at| {
        edit(e, at.setup, |lines| has_arc(lines) && replace(lines, "G17", "G18"))
    }),
    kind("another work offset", &["work-offset"], |e, at| edit(e, at.setup, |lines| replace(lines, "G54", "G55"))),
    kind("no work offset", &["work-offset"], |e, at| edit(e, at.setup, |lines| replace(lines, "G54", ""))),
    kind("a program cut off in the middle", &["reading"], |e, at| edit(e, at.setup, half)),
    kind("a program cut off and ended", &["leftover", "features", "hollow", "volume"], |e, at| {
        edit_last(e, at.setup, |lines| {
            let top = lines.iter().find(|l| is_code(l) && l.starts_with("G0 Z")).cloned();
            half(lines);
            lines.extend(top);
            lines.extend(["M5", "M2", "%"].map(str::to_owned));
            true
        })
    }),
    kind("the beginning of a program lost", &["reading", "work-offset"], |e, at| {
        edit(e, at.setup, |lines| {
            lines.drain(1..lines.len() / 2);
            true
        })
    }),
    maybe("a line said twice", OFF, "to go where one stands is to stand", |e, at| {
        edit(e, at.setup, |lines| match last(lines, |w| matches!(w, What::Straight { feed: Some(_), .. })) {
            Some(k) => {
                lines.insert(k, lines[k].clone());
                true
            }
            None => false,
        })
    }),
    maybe("an arc said twice", &["reading", "gouge", "travel"], ROUND, |e, at| {
        skin(e, at)
            && edit_last(e, at.setup, |lines| match arc(lines) {
                Some(k) => {
                    lines.insert(k, lines[k].clone());
                    true
                }
                None => false,
            })
    }),
    maybe("an arc the other way round", &["gouge", "reading", "plunge", "rapid", "travel"], ROUND, |e, at| {
        edit_last(e, at.setup, |lines| match arc(lines) {
            Some(k) => turn(&mut lines[k]),
            None => false,
        })
    }),
    kind("I and J of an arc exchanged", &["reading"], |e, at| {
        edit_last(e, at.setup, |lines| match uneven_arc(lines) {
            Some(k) => swap(&mut lines[k], 'I', 'J'),
            None => false,
        })
    }),
    kind("the centre of an arc lost", &["reading"], |e, at| {
        edit_last(e, at.setup, |lines| match arc(lines) {
            Some(k) => {
                let words: Vec<&str> = lines[k].split(' ').filter(|w| !w.starts_with(['I', 'J'])).collect();
                lines[k] = words.join(" ");
                true
            }
            None => false,
        })
    }),
    kind("retracts lost", &["rapid"], |e, at| {
        let top = top(e, at);
        edit_all(e, at.setup, |lines| {
            let lost = retracts(lines, top);
            lost.iter().rev().for_each(|&k| drop(lines.remove(k)));
            !lost.is_empty()
        })
    }),
    kind("a cut run as a rapid", &["rapid"], |e, at| {
        let top = top(e, at);
        edit(e, at.setup, |lines| {
            let some: Vec<usize> = long_cuts(lines, top - 0.2).into_iter().step_by(23).collect();
            each(some, |k| rapid(lines, k))
        })
    }),
    kind("straight down by a cutter that cannot", &["plunge"], |e, at| {
        let top = top(e, at);
        e.cutters.iter_mut().for_each(|c| c.plunges = false);
        edit(e, at.setup, |lines| match first_cut(lines) {
            Some((k, [x, y, z])) => {
                let scale = unit(lines);
                let word = |v: f64| format!("{:.4}", v / scale);
                let up = format!("G0 Z{}", word(top + 5.0));
                let down = format!("G1 Z{}", word(top - 12.0));
                let back = format!("G0 X{} Y{}", word(x), word(y));
                lines.splice(k..k, [up.clone(), "G0 X0 Y0".into(), down, up, back, format!("G0 Z{}", word(z))]);
                true
            }
            None => false,
        })
    }),
    kind("feed three times as high", &["tooth-load", "tipping", "power", "feed", "deflection"], |e, at| {
        edit_all(e, at.setup, |lines| map_all(lines, 'F', |f| 3.0 * f))
    }),
    kind("feed a tenth", &["rubbing", "thin-chips"], |e, at| {
        edit_all(e, at.setup, |lines| map_all(lines, 'F', |f| 0.1 * f))
    }),
    kind("no feed", &["reading"], |e, at| {
        edit(e, at.setup, |lines| {
            lines.iter_mut().filter(|l| is_code(l)).for_each(|l| {
                let words: Vec<&str> = l.split(' ').filter(|w| !w.starts_with('F')).collect();
                *l = words.join(" ");
            });
            true
        })
    }),
    kind("feed in minutes for a move", &["reading", "feed", "tooth-load", "rubbing"], |e, at| {
        edit(e, at.setup, |lines| replace(lines, "G94", "G93"))
    }),
    kind("spindle at half speed", &["tooth-load", "spindle", "power"], |e, at| {
        edit_all(e, at.setup, |lines| map_all(lines, 'S', |s| 0.5 * s))
    }),
    kind("spindle at three times the speed", &["spindle"], |e, at| {
        edit_all(e, at.setup, |lines| map_all(lines, 'S', |s| 3.0 * s))
    }),
    kind("the spindle never started", &["spin-up", "spindle"], |e, at| {
        edit_all(e, at.setup, |lines| switched(lines) && all(lines, "M3", ""))
    }),
    kind("the spindle turns the wrong way", &["spindle", "spin-up"], |e, at| {
        edit_all(e, at.setup, |lines| switched(lines) && all(lines, "M3", "M4"))
    }),
    kind("no wait for the spindle", &["spin-up"], |e, at| {
        edit_all(e, at.setup, |lines| switched(lines) && drop_all(lines, "G4"))
    }),
    kind("a wait in the work", &["dwell"], |e, at| {
        let top = top(e, at);
        edit(e, at.setup, |lines| {
            let some: Vec<usize> = long_cuts(lines, top - 0.2).into_iter().step_by(23).collect();
            some.iter().rev().for_each(|k| lines.insert(k + 1, "G4 P3".into()));
            !some.is_empty()
        })
    }),
    kind("a stop in the work", &["rise"], |e, at| {
        let top = top(e, at);
        edit(e, at.setup, |lines| match long_cuts(lines, top - 0.2).first().copied() {
            Some(k) => {
                lines.insert(k + 1, "M0".into());
                true
            }
            None => false,
        })
    }),
    kind("the end in the work", &["rise"], |e, at| {
        edit(e, at.setup, |lines| match lines.iter().rposition(|l| l.starts_with("G0 Z")) {
            Some(k) => {
                lines.remove(k);
                true
            }
            None => false,
        })
    }),
    kind("aside before up", &["rise"], |e, at| {
        edit(e, at.setup, |lines| match lines.iter().position(|l| l.starts_with("G0 Z")) {
            Some(k) => {
                lines.insert(k, "G0 X0 Y0".into());
                true
            }
            None => false,
        })
    }),
    kind("travel 12 mm lower", &["rapid", "rise", "plunge"], |e, at| {
        edit_all(e, at.setup, |lines| {
            let by = 12.0 / unit(lines);
            each(lines.iter_mut().filter(|l| l.starts_with("G0 ")), |l| map(l, 'Z', |z| z - by))
        })
    }),
    kind("a cutter that nobody has", &["cutters"], |e, at| {
        edit(e, at.setup, |lines| match lines.iter().position(|l| is_code(l) && word(l, 'T').is_some()) {
            Some(k) => map_whole(&mut lines[k], 'T', 98),
            None => false,
        })
    }),
    kind("no stop to put the cutter in", &["cutters"], |e, at| {
        edit(e, at.setup, |lines| {
            match lines.iter_mut().find(|l| is_code(l) && word(l, 'T').is_some() && l.contains("M0")) {
                Some(line) => {
                    *line = line.replace(" M0", "");
                    true
                }
                None => false,
            }
        })
    }),
    kind("the spindle turns while a cutter is put in", &["cutters"], |e, at| {
        edit(e, at.setup, |lines| match lines.iter().position(|l| is_code(l) && word(l, 'T').is_some()) {
            Some(k) => {
                lines.insert(k, "S9000 M3".into());
                true
            }
            None => false,
        })
    }),
    kind("a word that no machine knows", &["reading"], |e, at| put(e, at, "G1 $1")),
    kind("a decimal comma", &["reading"], |e, at| {
        edit(e, at.setup, |lines| match first_cut(lines) {
            Some((k, _)) => {
                lines[k] = lines[k].replacen('.', ",", 1);
                true
            }
            None => false,
        })
    }),
    kind("an O for a nought", &["reading"], |e, at| edit(e, at.setup, |lines| replace(lines, "G0 Z", "GO Z"))),
    kind("compensation for the cutter's radius", &["reading"], |e, at| put(e, at, "G41 D1")),
    kind("an offset set by the program", &["reading", "gouge", "rise", "work-offset"], |e, at| put(e, at, "G92 Z0")),
    kind("a length from the machine's table", &["reading", "gouge", "rise"], |e, at| put(e, at, "G43 H9")),
    kind("a comment that never ends", &["reading"], |e, at| put(e, at, "(done")),
    kind("a program lost", &["reading"], |e, at| {
        let file = files(e, at.setup)[0].clone();
        e.programs.remove(&file).is_some()
    }),
    kind("the program of another setup", &["gouge", "cutters", "leftover", "travel"], |e, at| {
        let Some(other) =
            (0..e.setups.len()).find(|&k| k != at.setup && e.setups[k].face_up != e.setups[at.setup].face_up)
        else {
            return false;
        };
        let (mine, theirs) = (files(e, at.setup)[0].clone(), files(e, other)[0].clone());
        let text = e.programs[&theirs].clone();
        e.programs.insert(mine, text).is_some()
    }),
    kind("another cutter at the change", &["cutters", "gouge", "leftover", "spindle"], |e, at| {
        let numbers: Vec<u32> = e.cutters.iter().map(|c| c.number).collect();
        edit(e, at.setup, |lines| match lines.iter().position(|l| is_code(l) && word(l, 'T').is_some()) {
            Some(k) => {
                let now = word(&lines[k], 'T').map(|t| t as u32);
                let other = numbers.iter().find(|n| Some(**n) != now);
                other.is_some_and(|&n| map_whole(&mut lines[k], 'T', n))
            }
            None => false,
        })
    }),
    kind("look-first with the spindle on", &["look-first"], |e, at| {
        let file = e.setups[at.setup].look_first.clone();
        edit_file(e, &file, |lines| match lines.iter().position(|l| l.starts_with("G0 Z")) {
            Some(k) => {
                lines.insert(k + 1, "S9000 M3".into());
                true
            }
            None => false,
        })
    }),
    kind("look-first without a stop", &["look-first"], |e, at| {
        let file = e.setups[at.setup].look_first.clone();
        edit_file(e, &file, |lines| replace(lines, "M0", ""))
    }),
    kind("look-first into the work", &["look-first", "rise"], |e, at| {
        let file = e.setups[at.setup].look_first.clone();
        edit_file(e, &file, |lines| map_all(lines, 'Z', |z| z - 30.0))
    }),
    kind("a restart line too early", &["restart"], |e, at| {
        let points = e.setups[at.setup].programs.iter_mut().flat_map(|p| p.restart_points.iter_mut());
        each(points, |point| {
            point.line -= 1;
            true
        })
    }),
    // Cutters and machine.
    kind("a cutter 0.5 mm too thick", &["gouge"], |e, at| skin(e, at) && resized(e, at, 0.5)),
    kind("a cutter 0.5 mm too thin", &["leftover", "features"], |e, at| skin(e, at) && resized(e, at, -0.5)),
    kind(
        "the next cutter of the shelf",
        &["gouge", "leftover", "features", "hollow", "flute", "shank", "plunge", "deflection", "tooth-load", "holder"],
        |e, at| {
            let Some(&number) = e.setups[at.setup].programs.iter().flat_map(|p| &p.cutters).last() else {
                return false;
            };
            let Some(k) = at.shelf.iter().position(|c| c.number == number) else { return false };
            let other = at.shelf[(k + 1) % at.shelf.len()].clone();
            change_cutter(e, number, |c| *c = Cutter { number, ..other.clone() })
        },
    ),
    kind("short edges", &["flute"], |e, at| {
        let number = deepest(e, at);
        change_cutter(e, number, |c| c.solid.flute_length = 1.5)
    }),
    kind("a shank thicker than the edges", &["shank", "flute"], |e, at| {
        let number = deepest(e, at);
        change_cutter(e, number, |c| {
            c.solid.neck_diameter = c.solid.diameter + 2.0;
            c.solid.shank_diameter = c.solid.diameter + 2.0;
            c.solid.flute_length = c.solid.flute_length.min(6.0);
        })
    }),
    maybe("the cutter too far in the collet", &["holder"], "nothing stands as high beside it", |e, at| {
        let deep = deep(e, at);
        let numbers: Vec<u32> = e.setups[at.setup].programs.iter().flat_map(|p| p.cutters.clone()).collect();
        let short = |c: &&Cutter| numbers.contains(&c.number) && c.solid.flute_length + 8.0 < 0.7 * deep;
        let Some(number) = e.cutters.iter().find(short).map(|c| c.number) else { return false };
        change_cutter(e, number, |c| {
            c.solid.stickout = c.solid.flute_length + 2.0;
            c.solid.neck_length = c.solid.neck_length.min(c.solid.stickout);
        })
    }),
    kind("a cutter too long to be put in", &["change-room", "nut-room"], |e, at| {
        let number = first_number(e, at);
        let gap = e.machine.gap;
        change_cutter(e, number, |c| c.overall = 3.0 * gap)
    }),
    kind("hardly any shank in the collet", &["collet"], |e, at| {
        let number = first_number(e, at);
        change_cutter(e, number, |c| c.overall = c.solid.stickout + 8.0)
    }),
    kind("a collet that is not owned", &["collet"], |e, _| {
        e.machine.collets.clear();
        true
    }),
    kind("a smaller machine", &["travel"], |e, _| {
        e.machine.travel[0] = 60.0;
        true
    }),
    kind("too little room under the spindle", &["nut-room", "change-room"], |e, _| {
        e.machine.gap = 40.0;
        true
    }),
    kind("a weak spindle", &["power"], |e, _| {
        e.machine.power_w = 15.0;
        true
    }),
    kind("a limp machine", &["deflection"], |e, _| {
        e.machine.stiffness_n_mm = 5.0;
        true
    }),
    kind("a sluggish machine", &["rubbing", "thin-chips"], |e, _| {
        e.machine.acceleration = [4.0, 4.0];
        true
    }),
    kind("axes too slow for the feed", &["feed"], |e, _| {
        e.machine.feed_max = [100.0, 60.0];
        true
    }),
    kind("a spindle slower to start", &["spin-up"], |e, _| match &mut e.machine.spindle {
        SpindleControl::Program { start_wait_s, .. } => {
            *start_wait_s += 30.0;
            true
        }
        SpindleControl::Dial { .. } => false,
    }),
    kind("a cutter that must not turn so fast", &["spindle"], |e, at| {
        let number = first_number(e, at);
        change_cutter(e, number, |c| c.rpm_max = 1000.0)
    }),
    kind("a shelf with a tenth of the chip load", &["tooth-load"], |e, at| {
        let number = first_number(e, at);
        change_cutter(e, number, |c| {
            c.fz_wood *= 0.1;
            c.fz_resin *= 0.1;
        })
    }),
    // Holding, table, zero.
    kind("too little tape", &["shear", "tipping"], |e, at| {
        let holding = &mut e.setups[at.setup].holding;
        holding.area_mm2 *= 0.01;
        holding.section_modulus_mm3 *= 0.001;
        true
    }),
    kind("tape that hardly sticks", &["shear", "tipping"], |e, at| {
        let holding = &mut e.setups[at.setup].holding;
        holding.shear_mpa *= 0.01;
        holding.tension_mpa *= 0.01;
        true
    }),
    kind("no carrier under the work", &["table"], |e, at| {
        let top = top(e, at);
        e.setups[at.setup].table_z = top - 1.0;
        true
    }),
    kind("a touch-off spot in the air", &["touch-off"], |e, at| {
        e.setups[at.setup].reference_spot.at[2] += 4.0;
        true
    }),
    kind("a touch-off spot that is cut away", &["touch-off"], |e, at| {
        let stock = e.setups[at.setup].stock;
        let spot = &mut e.setups[at.setup].reference_spot;
        spot.at = [0.5 * (stock.min[0] + stock.max[0]), 0.5 * (stock.min[1] + stock.max[1]), stock.max[2] - 1.0];
        spot.reads = spot.at[2];
        true
    }),
    kind("the zero lower by the tape's thickness", &["gouge"], |e, at| skin(e, at) && zero(e, at, 2, -0.3)),
    kind("the zero higher by the tape's thickness", &["leftover"], |e, at| skin(e, at) && zero(e, at, 2, 0.3)),
    kind("the edge touched 0.3 mm off", &["gouge"], |e, at| skin(e, at) && zero(e, at, 0, 0.3)),
    kind("a mirror for a turn", &["frames"], |e, at| {
        for k in [1, 5, 9] {
            e.setups[at.setup].program_to_piece[k] *= -1.0;
        }
        true
    }),
    kind("the sheet says the other face up", &["order", "frames"], |e, at| {
        let face = &mut e.setups[at.setup].face_up;
        *face = if *face == Face::Rim { Face::Foot } else { Face::Rim };
        true
    }),
    // The blank.
    kind("a board missing", &["stock", "whole", "leak"], |e, _| {
        let middle = e.blank.boards.len() / 2;
        let many = e.blank.boards.len() > 1;
        if many {
            e.blank.boards.remove(middle);
        }
        many
    }),
    kind("the blank 2 mm thin on top", &["stock"], |e, _| thinner(e, 2.0)),
    kind("the blank 8 mm too thick", &["stock"], |e, _| thinner(e, -8.0)),
    kind("the blank 6 mm narrow", &["stock"], |e, _| {
        let most = e.blank.bounds().1[0];
        e.blank.boards.iter_mut().filter(|b| (b.max[0] - most).abs() < 1e-6).for_each(|b| b.max[0] -= 6.0);
        true
    }),
    kind("a hole in the blank", &["whole", "leak", "volume", "dam", "flush"], |e, _| hole(e)),
    // The order of the steps.
    kind("sealed after the pour", &["order"], |e, _| {
        let Some(seal) = e.steps.iter().position(|s| s.kind == StepKind::Seal) else { return false };
        let Some(pour) = e.steps.iter().position(|s| s.kind == StepKind::Pour) else { return false };
        let step = e.steps.remove(seal);
        e.steps.insert(pour, step);
        true
    }),
    kind("no dam", &["order", "leak", "dam"], |e, _| without(e, StepKind::Dam)),
    kind("not sealed", &["order"], |e, _| without(e, StepKind::Seal)),
    kind("not cured", &["order"], |e, _| without(e, StepKind::Cure)),
    kind("not turned over", &["order"], |e, _| without(e, StepKind::Flip)),
    kind("not glued", &["order"], |e, _| e.blank.boards.len() > 1 && without(e, StepKind::Glue)),
    kind("not fastened", &["order"], |e, _| without(e, StepKind::Hold)),
    kind("no zero set", &["order"], |e, _| without(e, StepKind::Zero)),
    kind("not measured before it is let go", &["order"], |e, _| without(e, StepKind::Inspect)),
    kind("a setup left out", &["order"], |e, at| {
        let id = e.setups[at.setup].id.clone();
        let before = e.steps.len();
        e.steps.retain(|s| !matches!(&s.change, Some(Change::Carve { setup }) if *setup == id));
        e.steps.len() < before
    }),
    kind("poured before the hollow is carved", &["order"], |e, _| {
        let Some(pour) = e.steps.iter().position(|s| s.kind == StepKind::Pour) else { return false };
        let Some(carve) = e.steps.iter().position(|s| matches!(s.change, Some(Change::Carve { .. }))) else {
            return false;
        };
        let step = e.steps.remove(pour);
        e.steps.insert(carve, step);
        true
    }),
    // Resin.
    kind("a layer deeper than the resin bears", &["resin-depth"], |e, _| {
        cast(e, |c| c.resin.layer_greatest = 0.5 * c.layers.iter().copied().fold(0.0, f64::max))
    }),
    kind("a layer too thin to harden", &["resin-least-depth"], |e, _| {
        cast(e, |c| c.resin.layer_least = 2.0 * c.layers.iter().copied().fold(0.0, f64::max))
    }),
    kind("too little resin mixed", &["resin-amount"], |e, _| cast(e, |c| c.to_mix_ml *= 0.7)),
    kind("a dam too low", &["dam"], |e, _| pour(e, |_, _, height| *height = 0.5)),
    kind("a dam too near", &["dam", "leak"], |e, _| pour(e, |_, offset, _| *offset = 1.0)),
    kind("poured without a dam", &["leak", "dam"], |e, _| {
        pour(e, |_, offset, height| {
            *offset = 0.0;
            *height = 0.0;
        })
    }),
    kind("poured 4 mm short", &["flush", "resin-left", "resin-cover"], |e, _| pour(e, |level, _, _| *level -= 4.0)),
    kind("a lip of resin that flakes", &["crossing"], |e, _| cast(e, |c| c.crossing_deg = 20.0)),
    // What it is held against.
    kind("a solid with a hole in its skin", &["models"], |e, at| {
        let target = e.setups[at.setup].target.clone();
        e.models.get_mut(&target).is_some_and(|mesh| mesh.triangles.pop().is_some())
    }),
    kind("a target without a part of the piece", &["targets"], |e, at| {
        let Some((low, high)) = e.models[&e.piece.model].bounds() else { return false };
        let corner = Mesh::cuboid(DVec3::new(0.8 * high.x, low.y - 1.0, low.z - 1.0), high + DVec3::splat(1.0));
        let target = e.setups[at.setup].target.clone();
        e.models[&target].minus(&corner).is_ok_and(|less| e.models.insert(target, less).is_some())
    }),
    kind("edges found within 3 mm only", &["flip-wall"], |e, at| {
        let found = &mut e.setups[at.setup].alignment;
        let told = found.as_mut().map(|by| by.centre = 3.0).is_some();
        told && e.setups[at.setup].face_up == Face::Rim && skin(e, at) && e.setups.len() > 1
    }),
    kind("a machine far out of square", &["flip-wall"], |e, _| {
        e.machine.squareness_mm_m = 60.0;
        e.setups.len() > 1
    }),
    kind("a spindle that leans", &["flip-wall"], |e, _| {
        e.machine.lean_mm_m = 150.0;
        e.setups.len() > 1
    }),
    kind("the height of the second side within 4 mm only", &["flip-floor"], |e, at| {
        let found = &mut e.setups[at.setup].alignment;
        let told = found.as_mut().map(|by| by.height = 4.0).is_some();
        told && e.setups[at.setup].face_up == Face::Rim && skin(e, at) && e.setups.len() > 1
    }),
    kind("a wall thinner than asked", &["wall"], |e, _| {
        e.piece.wall *= 2.0;
        true
    }),
    kind("a floor thinner than asked", &["floor"], |e, _| {
        e.piece.floor *= 2.0;
        true
    }),
    kind("corners left to the control", &["path-kept"], |e, at| put(e, at, "G64")),
    kind("the zero of the setup before still set", &["gouge", "leftover", "features", "table", "rapid"], |e, at| {
        let table = |setup: usize| e.setups[setup].machine_table_z;
        let by = if at.setup > 0 { table(at.setup) - table(at.setup - 1) } else { 0.0 };
        by.abs() > 0.1 && zero(e, at, 2, by)
    }),
    kind("a pour that boils", &["peak"], |e, _| cast(e, |c| c.peaks_c.iter_mut().for_each(|p| *p = [95.0, 110.0]))),
    kind("carved before the resin is hard", &["cured"], |e, _| {
        each(&mut e.steps, |s| {
            let cures = s.kind == StepKind::Cure;
            s.wait_s *= if cures { 0.3 } else { 1.0 };
            cures
        })
    }),
];

fn top(e: &Evidence, at: &Spot<'_>) -> f64 {
    e.setups[at.setup].stock.max[2]
}

fn skin(e: &Evidence, at: &Spot<'_>) -> bool {
    e.setups[at.setup].finishes_skin
}

/// Changes the last program of a setup that can be changed: there the skin is finished.
fn edit_last(e: &mut Evidence, setup: usize, change: impl Fn(&mut Vec<String>) -> bool) -> bool {
    let files: Vec<String> = e.setups[setup].programs.iter().rev().map(|p| p.file.clone()).collect();
    files.iter().any(|file| edit_file(e, file, &change))
}

/// Millimetres in a unit of the text.
fn unit(lines: &[String]) -> f64 {
    if lines.iter().any(|l| is_code(l) && l.split_whitespace().any(|w| w == "G20")) { 25.4 } else { 1.0 }
}

fn shift(e: &mut Evidence, at: &Spot<'_>, letter: char, by: f64) -> bool {
    edit_all(e, at.setup, |lines| {
        let by = by / unit(lines);
        map_all(lines, letter, |v| v + by)
    })
}

/// Lowers a cut that runs level, and goes back to its height after it.
fn deeper(lines: &mut Vec<String>, k: usize, by: f64) -> bool {
    let Some(z) = events(lines).iter().find_map(|e| match e.what {
        What::Straight { to, .. } if e.line as usize == k + 1 => Some(to[2]),
        _ => None,
    }) else {
        return false;
    };
    let scale = unit(lines);
    lines.insert(k, format!("G1 Z{:.4}", (z - by) / scale));
    let words: Vec<&str> = lines[k + 1].split(' ').filter(|w| !w.starts_with('Z')).collect();
    lines[k + 1] = words.join(" ");
    lines.insert(k + 2, format!("G1 Z{:.4}", z / scale));
    true
}

fn half(lines: &mut Vec<String>) -> bool {
    lines.truncate(lines.len() / 2);
    true
}

fn has_arc(lines: &[String]) -> bool {
    arc(lines).is_some()
}

/// No turn of a way down or of a link.
fn is_long_arc(what: &What) -> bool {
    match what {
        What::Arc { from, centre, sweep, .. } => {
            let radius = (from[0] - centre[0]).hypot(from[1] - centre[1]);
            radius > 5.0 && sweep.abs() < 2.0 && radius * sweep.abs() > 2.0
        }
        _ => false,
    }
}

fn arc(lines: &[String]) -> Option<usize> {
    let longest = |e: &Event| match e.what {
        What::Arc { from, centre, .. } => (from[0] - centre[0]).hypot(from[1] - centre[1]),
        _ => 0.0,
    };
    let events = events(lines);
    let arcs = events.iter().filter(|e| is_long_arc(&e.what));
    arcs.max_by(|a, b| longest(a).total_cmp(&longest(b)).then(b.line.cmp(&a.line))).map(|e| e.line as usize - 1)
}

/// An arc whose centre lies elsewhere if I and J are exchanged.
fn uneven_arc(lines: &[String]) -> Option<usize> {
    middle(lines, |w| match w {
        What::Arc { from, to, centre, .. } => {
            let (i, j) = (centre[0] - from[0], centre[1] - from[1]);
            let (x, y) = (from[0] + j, from[1] + i);
            let radius = |p: &[f64; 3]| (p[0] - x).hypot(p[1] - y);
            is_long_arc(w) && (radius(from) - radius(to)).abs() > 1.0
        }
        _ => false,
    })
}

fn turn(line: &mut String) -> bool {
    let turned = if line.contains("G2 ") { line.replacen("G2 ", "G3 ", 1) } else { line.replacen("G3 ", "G2 ", 1) };
    let differs = turned != *line;
    *line = turned;
    differs
}

/// Turns all arcs the other way round, as a mirror does.
fn turned(lines: &mut [String]) -> bool {
    each(lines.iter_mut().filter(|l| is_code(l)), turn)
}

fn swap_axes(line: &mut String) -> bool {
    if !is_code(line) || line.starts_with('T') {
        return false;
    }
    let other = |c: char| match c {
        'X' => 'Y',
        'Y' => 'X',
        'I' => 'J',
        'J' => 'I',
        c => c,
    };
    let words = line.split_whitespace().map(|w| {
        let mut letters = w.chars();
        letters.next().map_or_else(String::new, |c| format!("{}{}", other(c), letters.as_str()))
    });
    let swapped = words.collect::<Vec<_>>().join(" ");
    let differs = swapped != *line;
    *line = swapped;
    differs
}

fn rapid(lines: &mut [String], k: usize) -> bool {
    let words: Vec<&str> =
        lines[k].split(' ').filter(|w| !w.starts_with('F')).map(|w| if w == "G1" { "G0" } else { w }).collect();
    lines[k] = words.join(" ");
    lines[k].starts_with("G0")
}

/// Index of the line of the first straight cut aside, and where it begins, mm.
fn first_cut(lines: &[String]) -> Option<(usize, [f64; 3])> {
    events(lines).iter().find_map(|e| match e.what {
        What::Straight { feed: Some(_), from, to } if from[0] != to[0] => Some((e.line as usize - 1, from)),
        _ => None,
    })
}

fn all(lines: &mut [String], old: &str, new: &str) -> bool {
    each(lines.iter_mut().filter(|l| is_code(l)), |line| {
        let is = |w: &str| w == old;
        let had = line.split(' ').any(is);
        *line = line
            .split(' ')
            .map(|w| if is(w) { new } else { w })
            .filter(|w| !w.is_empty())
            .collect::<Vec<_>>()
            .join(" ");
        had
    })
}

fn drop_all(lines: &mut Vec<String>, start: &str) -> bool {
    let before = lines.len();
    lines.retain(|l| !l.starts_with(start));
    lines.len() < before
}

/// Whether the program switches the spindle itself.
fn switched(lines: &[String]) -> bool {
    lines.iter().any(|l| is_code(l) && l.split(' ').any(|w| w == "M3"))
}

fn map_whole(line: &mut String, letter: char, value: u32) -> bool {
    let words = line.split(' ').map(|w| if w.starts_with(letter) { format!("{letter}{value}") } else { w.to_owned() });
    *line = words.collect::<Vec<_>>().join(" ");
    true
}

/// Puts a line in before the first cut.
fn put(e: &mut Evidence, at: &Spot<'_>, line: &str) -> bool {
    edit(e, at.setup, |lines| match first_cut(lines) {
        Some((k, _)) => {
            lines.insert(k, line.to_owned());
            true
        }
        None => false,
    })
}

fn change_cutter(e: &mut Evidence, number: u32, change: impl Fn(&mut Cutter)) -> bool {
    let Some(cutter) = e.cutters.iter_mut().find(|c| c.number == number) else { return false };
    let before = cutter.clone();
    change(cutter);
    *cutter != before
}

/// Number of the cutter that a setup finishes with.
fn last_number(e: &Evidence, at: &Spot<'_>) -> u32 {
    e.setups[at.setup].programs.iter().flat_map(|p| &p.cutters).last().copied().unwrap_or(0)
}

fn first_number(e: &Evidence, at: &Spot<'_>) -> u32 {
    e.setups[at.setup].programs.iter().flat_map(|p| &p.cutters).next().copied().unwrap_or(0)
}

/// Number of the cutter that goes deepest, by the order of the programs.
fn deepest(e: &Evidence, at: &Spot<'_>) -> u32 {
    first_number(e, at)
}

/// How far the setup goes below the top of its stock, mm.
fn deep(e: &Evidence, at: &Spot<'_>) -> f64 {
    let files = files(e, at.setup);
    let lowest = files.iter().flat_map(|file| {
        let lines: Vec<String> = e.programs[file].lines().map(str::to_owned).collect();
        events(&lines).into_iter().filter_map(|e| match e.what {
            What::Straight { to, .. } | What::Arc { to, .. } => Some(to[2]),
            _ => None,
        })
    });
    top(e, at) - lowest.filter(|z| z.is_finite()).fold(f64::INFINITY, f64::min)
}

fn resized(e: &mut Evidence, at: &Spot<'_>, by: f64) -> bool {
    let number = last_number(e, at);
    change_cutter(e, number, |c| {
        c.solid.diameter += by;
        if let Form::Bull { corner_radius } = &mut c.solid.form {
            *corner_radius += by / 4.0;
        }
    })
}

/// Moves the setup's zero along one of the program's axes.
fn zero(e: &mut Evidence, at: &Spot<'_>, axis: usize, by: f64) -> bool {
    let m = &mut e.setups[at.setup].program_to_piece;
    for row in 0..3 {
        m[4 * row + 3] += m[4 * row + axis] * by;
    }
    true
}

/// Halves the board in the middle with a gap between, as wide as a knot.
fn hole(e: &mut Evidence) -> bool {
    let middle = e.blank.boards.len() / 2;
    let board = e.blank.boards[middle].clone();
    let x = 0.5 * (board.min[0] + board.max[0]);
    e.blank.boards[middle].max[0] = x - 6.0;
    let mut rest = board;
    rest.min[0] = x + 6.0;
    e.blank.boards.insert(middle + 1, rest);
    true
}

fn thinner(e: &mut Evidence, by: f64) -> bool {
    let most = e.blank.bounds().1[2];
    e.blank.boards.iter_mut().filter(|b| (b.max[2] - most).abs() < 1e-6).for_each(|b| b.max[2] -= by);
    true
}

fn without(e: &mut Evidence, kind: StepKind) -> bool {
    match e.steps.iter().position(|s| s.kind == kind) {
        Some(k) => {
            e.steps.remove(k);
            true
        }
        None => false,
    }
}

fn cast(e: &mut Evidence, change: impl Fn(&mut proof::CastFacts)) -> bool {
    each(&mut e.casts, |c| {
        change(c);
        true
    })
}

fn pour(e: &mut Evidence, change: impl Fn(&mut f64, &mut f64, &mut f64)) -> bool {
    each(&mut e.steps, |s| match &mut s.change {
        Some(Change::Pour { level, dam_offset, dam_height, .. }) => {
            change(level, dam_offset, dam_height);
            true
        }
        _ => false,
    })
}
