//! Roughing as the written programs do it, on a lattice of tops: how far the cutter is engaged, and where the time goes.
//!
//! Each setup begins with its stock box; what earlier operations of the setup took is gone. Wood and resin are not told apart.

use crate::{chosen, operation, planned, table};
use geom::{DVec2, DVec3};
use route::Plan;
use rs274::interpret::{What, run};
use std::ops::Range;
use trade::cutter::{Form, Solid};
use trade::shelf::{Cutter, SpindleControl};
use workpiece::Setup;

/// What the comments of roughing say, before ", part 1 of 2".
const ROUGHING: [&str; 5] = [
    "rough the hollow",
    "rough the outside down to the flange",
    "rough the inside",
    "clear the outside down to the skin",
    "cut the moat down to the skin and the tabs",
];
/// Pitch of the tops and length of the steps, mm.
const PITCH: f64 = 0.2;
const STEP: f64 = 0.25;
/// The planner's stepover, fraction of the diameter: a straight cut of it is the limit of engagement.
const STEPOVER: f64 = 0.42;
/// How far before the cutter's edge its engagement is looked at, and how high something must stand to engage it, mm.
const AHEAD: f64 = 0.15;
const STANDS: f64 = 0.1;
/// Directions in which it is looked at around the leading half of the cutter.
const DIRECTIONS: u32 = 180;
/// So long after a ramp the cutter still clears the ramp's own wedge, mm.
const ENTRY: f64 = 20.0;
/// Engagements above the limit by this ratio count as over it: the lattice knows no better.
const OVER: f64 = 1.05;
/// Engagements of about the limit tell the feed at which the full width is cut.
const FULL: Range<f64> = 0.85..1.1;
/// What runs at no more than this share of the full chip load in wood is marked as slower: grooves, cut in full width at 0.6.
const MARKED: f64 = 0.62;
/// Places cut at a level that hang together are a region if they measure more than this, mm².
const REGION: f64 = 4.0;

/// A row for each roughing of the examples.
pub(crate) fn roughings(out: &mut String) {
    let mut rows = Vec::new();
    for (name, job, shop) in chosen() {
        let plan = planned(job, shop, &base::Quiet).1.value.unwrap();
        for rough in plan.setups.iter().flat_map(|setup| measured(&plan, setup)) {
            let percent = |share: f64| format!("{:.1} %", 100.0 * share);
            rows.push(vec![
                format!("{name}, {}", rough.title),
                format!("{:.1} mm", rough.diameter),
                format!("{:.1} m", rough.length / 1000.0),
                percent(rough.over),
                format!(
                    "{:.2} at ({:.1}, {:.1}, {:.1})",
                    rough.worst.0, rough.worst.1.x, rough.worst.1.y, rough.worst.1.z
                ),
                percent(rough.slowed),
                format!("{:.2}", rough.time),
                percent(rough.air),
                format!("{:.1}", rough.retracts),
            ]);
        }
    }
    let head = [
        "roughing of",
        "cutter",
        "cut on levels",
        "of it over the limit (1 %)",
        "worst (1.15)",
        "over it and marked as slower",
        "time over volume by allowed rate (1.6)",
        "of it in air (8 %)",
        "retracts per region and level (1)",
    ];
    table(out, "Roughing, measured on the written programs", &head, &rows);
    out.push_str(NOTE);
}

const NOTE: &str = "
The limit is the angle over which a straight cut of 0.42 of the diameter engages the cutter, met to a twentieth; the 20 mm after
a ramp, which clear its wedge, are left out. The allowed rate is that cut at the depth of the levels and at the feed at which such
cuts are run (their median; where there are none, that of the full chip load). Marked as slower is what runs at no more than
0.62 of the full chip load in wood: grooves narrower than about 2.2 cutters, which are cut in full width. Moves in air are all at
feed that meet nothing, links between passes among them.
";

/// Roughing by one operation.
struct Rough {
    title: String,
    diameter: f64,
    /// Length cut on levels, mm; the share of it engaged above the limit and not marked as slower, and the greatest ratio, with
    /// its place; the share engaged above the limit and marked.
    length: f64,
    over: f64,
    worst: (f64, DVec3),
    slowed: f64,
    /// Time at feed over the least that takes the volume, and the share of it in air.
    time: f64,
    air: f64,
    /// Retracts per region and level.
    retracts: f64,
}

/// A straight move, chords of arcs included.
#[derive(Clone, Copy)]
struct Chord {
    from: DVec3,
    to: DVec3,
    /// `None` for a rapid.
    feed: Option<f64>,
    cutter: u32,
    /// rev/min.
    rpm: f64,
}

/// Neighbouring chords of one operation.
struct Operation {
    title: String,
    chords: Vec<Chord>,
}

/// The speed of a dial's mark, told as `2, about 12000`.
fn by_dial(plan: &Plan, mark: &str) -> f64 {
    let SpindleControl::Dial { rpm } = &plan.machine.spindle else { panic!("no dial") };
    rpm[mark.split(',').next().unwrap().trim().parse::<usize>().unwrap() - 1]
}

/// Whether it feeds nowhere.
fn is_idle(operation: &Operation) -> bool {
    operation.chords.iter().all(|chord| chord.feed.is_none())
}

/// The operations of a setup in order, parts of one joined.
fn operations(plan: &Plan, setup: &Setup) -> Vec<Operation> {
    let mut out: Vec<Operation> = Vec::new();
    let mut title = String::new();
    let (mut cutter, mut rpm) = (0, 0.0);
    for sheet in &setup.programs {
        cutter = sheet.cutters.first().copied().unwrap_or(cutter);
        for event in run(&plan.programs[&sheet.file]).unwrap() {
            let mut push = |from: [f64; 3], to: [f64; 3], feed: Option<f64>| {
                if from.iter().chain(&to).any(|v| !v.is_finite()) {
                    return;
                }
                // Between two parts of one operation others lie that only lift and come back.
                while feed.is_some() && out.len() > 1 && is_idle(&out[out.len() - 1]) {
                    out.pop();
                }
                if out.last().is_none_or(|operation| operation.title != title) {
                    out.push(Operation { title: title.clone(), chords: Vec::new() });
                }
                let chord = Chord { from: from.into(), to: to.into(), feed, cutter, rpm };
                out.last_mut().unwrap().chords.push(chord);
            };
            match event.what {
                What::Spindle(speed) if speed != 0.0 => rpm = speed,
                What::Comment(text) => match (operation(&text), text.split_once("dial ")) {
                    (Some(named), _) => title = named.to_owned(),
                    (None, Some((_, mark))) => rpm = by_dial(plan, mark),
                    _ => {}
                },
                What::Cutter(number) => cutter = number,
                What::Straight { from, to, feed } => push(from, to, feed),
                What::Arc { from, to, centre, sweep, feed, .. } => {
                    let (x, y) = (from[0] - centre[0], from[1] - centre[1]);
                    let n = (sweep.abs() * x.hypot(y) / STEP).ceil().max(1.0);
                    let at = |k: f64| {
                        let (sin, cos) = (sweep * k / n).sin_cos();
                        let z = from[2] + (to[2] - from[2]) * k / n;
                        [centre[0] + x * cos - y * sin, centre[1] + x * sin + y * cos, z]
                    };
                    (0..n as u32).for_each(|k| push(at(f64::from(k)), at(f64::from(k) + 1.0), Some(feed)));
                }
                _ => {}
            }
        }
    }
    out
}

/// Each roughing of a setup.
fn measured(plan: &Plan, setup: &Setup) -> Vec<Rough> {
    let mut tops = Tops::new(setup);
    let mut out = Vec::new();
    for Operation { title, chords } in operations(plan, setup) {
        let number = chords.iter().find(|chord| chord.feed.is_some()).map(|chord| chord.cutter);
        let Some(cutter) = plan.cutters.iter().find(|c| Some(c.number) == number) else { continue };
        let mut after = tops.clone();
        chords.iter().filter(|chord| chord.feed.is_some()).for_each(|chord| after.cut(chord, &cutter.solid));
        if ROUGHING.contains(&title.as_str()) && cutter.solid.form == Form::Flat {
            let asked = |rpm: f64| rpm * f64::from(cutter.flutes) * cutter.fz_wood * plan.machine.chip_load_share;
            out.push(rough(title, &chords, (cutter, &asked), (tops, &after)));
        }
        tops = after;
    }
    out
}

/// A short piece of path on a level.
struct Seen {
    feed: f64,
    length: f64,
    /// Engagement as a ratio of the limit, and where.
    ratio: f64,
    at: DVec3,
    /// Whether it is slowed down as cuts in full width are.
    marked: bool,
}

/// `asked`: feed of the full chip load in wood at a speed. `after`: what stands when all of it is done; what is never cut touches
/// no cutter, however near it lies.
fn rough(
    title: String,
    chords: &[Chord],
    (cutter, asked): (&Cutter, &dyn Fn(f64) -> f64),
    (mut tops, after): (Tops, &Tops),
) -> Rough {
    let cutter = &cutter.solid;
    let radius = cutter.radius();
    let limit = ((radius - STEPOVER * cutter.diameter) / (radius + AHEAD)).acos();
    let volume = tops.volume() - after.volume();
    let top = f64::from(tops.z.iter().copied().fold(f32::MIN, f32::max));
    let (mut levels, mut seen): (Vec<f64>, Vec<Seen>) = (Vec::new(), Vec::new());
    let (mut since, mut time, mut air, mut regions, mut retracts) = (0.0, 0.0, 0.0, 0, 0);
    let mut at_level = tops.clone();
    for (k, chord) in chords.iter().enumerate() {
        let Chord { from, to, feed, .. } = *chord;
        let Some(feed) = feed else {
            retracts += usize::from(to.z > from.z && k > 0 && chords[k - 1].feed.is_some());
            continue;
        };
        let length = from.distance(to);
        time += length / feed;
        if from.z != to.z {
            since = if from.truncate() == to.truncate() { since } else { 0.0 };
            tops.cut(chord, cutter);
            continue;
        }
        if levels.iter().all(|z| *z > to.z + 0.02) {
            regions += if levels.is_empty() { 0 } else { tops.regions(&at_level) };
            levels.push(to.z);
            at_level = tops.clone();
        }
        let n = (length / STEP).ceil().max(1.0);
        for i in 0..n as usize {
            let (at, next) = (from.lerp(to, i as f64 / n), from.lerp(to, (i as f64 + 1.0) / n));
            let ratio = tops.angle(after, at, to - from, radius + AHEAD) / limit;
            since += length / n;
            air += if ratio == 0.0 { length / n / feed } else { 0.0 };
            if since > ENTRY {
                let marked = feed <= MARKED * asked(chord.rpm);
                seen.push(Seen { feed, length: length / n, ratio, marked, at });
            }
            tops.cut(&Chord { from: at, to: next, ..*chord }, cutter);
        }
    }
    regions += tops.regions(&at_level);
    let fastest = chords.iter().map(|chord| asked(chord.rpm)).fold(0.0, f64::max);
    let full = full_feed(&seen).unwrap_or(fastest);
    let length = |of: &dyn Fn(&Seen) -> bool| {
        seen.iter().filter(|s| of(s)).map(|s| s.length).fold(0.0, |sum, length| sum + length)
    };
    let cut = length(&|s| s.ratio > 0.0);
    let worst = seen
        .iter()
        .filter(|s| !s.marked)
        .fold((0.0, DVec3::ZERO), |worst, s| if s.ratio > worst.0 { (s.ratio, s.at) } else { worst });
    let depth =
        if levels.len() > 1 { levels.windows(2).map(|z| z[0] - z[1]).fold(0.0, f64::max) } else { top - levels[0] };
    Rough {
        title,
        diameter: cutter.diameter,
        length: cut,
        over: length(&|s| s.ratio > OVER && !s.marked) / cut,
        worst,
        slowed: length(&|s| s.ratio > OVER && s.marked) / cut,
        time: time * STEPOVER * cutter.diameter * depth * full / volume,
        air: air / time,
        retracts: retracts as f64 / regions.max(1) as f64,
    }
}

/// The median feed, by length, of cuts of about the full width that are not slowed down.
fn full_feed(seen: &[Seen]) -> Option<f64> {
    let mut feeds: Vec<(f64, f64)> =
        seen.iter().filter(|s| FULL.contains(&s.ratio) && !s.marked).map(|s| (s.feed, s.length)).collect();
    feeds.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = feeds.iter().map(|f| f.1).sum::<f64>() / 2.0;
    let mut gone = 0.0;
    let middle = feeds.into_iter().find(|f| {
        gone += f.1;
        gone >= half
    });
    middle.map(|f| f.0)
}

/// Tops of the stock on a lattice.
#[derive(Clone)]
struct Tops {
    origin: DVec2,
    size: [usize; 2],
    z: Vec<f32>,
}

impl Tops {
    fn new(setup: &Setup) -> Self {
        let (lo, hi) = (setup.stock.min, setup.stock.max);
        let size = [0, 1].map(|k| ((hi[k] - lo[k]) / PITCH).round().max(1.0) as usize);
        let origin = DVec2::new(lo[0], lo[1]) + 0.5 * PITCH;
        Self { origin, size, z: vec![hi[2] as f32; size[0] * size[1]] }
    }

    fn volume(&self) -> f64 {
        self.z.iter().map(|z| f64::from(*z)).sum::<f64>() * PITCH * PITCH
    }

    /// Nodes between two values along an axis.
    fn range(&self, lo: f64, hi: f64, k: usize) -> Range<usize> {
        let at = |v: f64| ((v - self.origin[k]) / PITCH).clamp(-1.0, self.size[k] as f64);
        at(lo).ceil().max(0.0) as usize..((at(hi).floor() + 1.0) as usize).min(self.size[k])
    }

    /// Takes away what a straight move sweeps; on ramps in steps.
    fn cut(&mut self, chord: &Chord, cutter: &Solid) {
        let Chord { from, to, .. } = *chord;
        let n = if from.z == to.z { 1.0 } else { (from.distance(to) / STEP).ceil().max(1.0) };
        for k in 0..n as u32 {
            let (a, b) = (from.lerp(to, f64::from(k) / n), from.lerp(to, (f64::from(k) + 1.0) / n));
            self.sweep(a, b, a.z.min(b.z), cutter);
        }
    }

    fn sweep(&mut self, a: DVec3, b: DVec3, z: f64, cutter: &Solid) {
        let r = cutter.radius();
        let (a, along) = (a.truncate(), (b - a).truncate());
        let scale = along.length_squared();
        let (lo, hi) = (a.min(a + along), a.max(a + along));
        for iy in self.range(lo.y - r, hi.y + r, 1) {
            for ix in self.range(lo.x - r, hi.x + r, 0) {
                let top = &mut self.z[iy * self.size[0] + ix];
                if f64::from(*top) <= z {
                    continue;
                }
                let p = self.origin + DVec2::new(ix as f64, iy as f64) * PITCH;
                let t = if scale > 0.0 { ((p - a).dot(along) / scale).clamp(0.0, 1.0) } else { 0.0 };
                let d = p.distance(a + along * t);
                if d <= r {
                    *top = top.min((z + rise(cutter, d)) as f32);
                }
            }
        }
    }

    /// Angle over which the leading half meets what will be cut, radians.
    fn angle(&self, after: &Self, tip: DVec3, along: DVec3, radius: f64) -> f64 {
        let along = along.truncate().normalize_or_zero();
        let step = std::f64::consts::PI / f64::from(DIRECTIONS);
        let stands = |k: &u32| {
            let turned = DVec2::from_angle((f64::from(*k) + 0.5) * step - std::f64::consts::FRAC_PI_2).rotate(along);
            let at = ((tip.truncate() + turned * radius - self.origin) / PITCH).round();
            if at.cmplt(DVec2::ZERO).any() || at.x >= self.size[0] as f64 || at.y >= self.size[1] as f64 {
                return false;
            }
            let i = at.y as usize * self.size[0] + at.x as usize;
            f64::from(self.z[i]) > tip.z + STANDS && self.z[i] > after.z[i]
        };
        (0..DIRECTIONS).filter(stands).count() as f64 * step
    }

    /// Regions cut since `before`.
    fn regions(&self, before: &Self) -> usize {
        let [nx, ny] = self.size;
        let mut open: Vec<bool> = self.z.iter().zip(&before.z).map(|(now, then)| *now < *then - 0.2).collect();
        let mut found = 0;
        for begin in 0..nx * ny {
            let (mut stack, mut count) = (Vec::new(), 0);
            if std::mem::take(&mut open[begin]) {
                stack.push(begin);
            }
            while let Some(i) = stack.pop() {
                count += 1;
                let (x, y) = (i % nx, i / nx);
                let beside = [
                    (x > 0, i.wrapping_sub(1)),
                    (x + 1 < nx, i + 1),
                    (y > 0, i.wrapping_sub(nx)),
                    (y + 1 < ny, i + nx),
                ];
                for (_, j) in beside.into_iter().filter(|b| b.0) {
                    if std::mem::take(&mut open[j]) {
                        stack.push(j);
                    }
                }
            }
            found += usize::from(f64::from(count) * PITCH * PITCH > REGION);
        }
        found
    }
}

/// How far the underside lies above the tip at a distance from the axis, for all forms that are rounded at the corner at most.
fn rise(cutter: &Solid, d: f64) -> f64 {
    let corner = cutter.corner_radius().unwrap_or(0.0);
    let out = (d - cutter.radius() + corner).max(0.0);
    corner - (corner * corner - out * out).max(0.0).sqrt()
}
