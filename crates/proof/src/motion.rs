//! The motions of the written programs, arcs made straight within [`CHORD`].

use crate::Evidence;
use rs274::interpret::{Event, What};
use std::f64::consts::TAU;
use workpiece::Setup;

/// Greatest distance of a chord from its arc, mm; it is added to every bound that rests on a flattened arc.
pub(crate) const CHORD: f64 = 0.001;

/// One straight motion of the tip, program frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Motion {
    pub(crate) line: u32,
    pub(crate) cutter: Option<u32>,
    pub(crate) from: [f64; 3],
    pub(crate) to: [f64; 3],
    /// `None` for a rapid.
    pub(crate) feed: Option<f64>,
    /// Speed of the spindle by the program; 0 where it stands, `None` where nothing was said.
    pub(crate) rpm: Option<f64>,
    /// Distance of the true path from this straight one.
    pub(crate) slack: f64,
}

impl Motion {
    /// Whether both ends are known.
    pub(crate) fn is_known(&self) -> bool {
        self.from.iter().chain(&self.to).all(|v| v.is_finite())
    }

    pub(crate) fn length(&self) -> f64 {
        (0..3).map(|k| (self.to[k] - self.from[k]).powi(2)).sum::<f64>().sqrt()
    }

    /// Straight down at feed.
    pub(crate) fn is_plunge(&self) -> bool {
        let still = |k: usize| (self.to[k] - self.from[k]).abs() < 1e-6;
        self.feed.is_some() && still(0) && still(1) && self.to[2] < self.from[2]
    }
}

/// The first motion after a stop.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Resumed {
    /// Its place among the motions.
    pub(crate) motion: usize,
    /// Whether its line moves, or names, X or Y.
    pub(crate) sideways: bool,
}

/// A change of the cutter.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CutterChanged {
    pub(crate) line: u32,
    /// The cutter put in.
    pub(crate) number: u32,
    /// The cutter taken out, if one is known.
    pub(crate) before: Option<u32>,
    /// Where its tip stands meanwhile, NaN where that is unknown.
    pub(crate) tip: [f64; 3],
    /// Whether the spindle is told to turn meanwhile.
    pub(crate) turning: bool,
}

/// From a start of the spindle, by the program or by hand at a stop, to the first move at feed.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Start {
    /// Line that starts it; the first move's where nothing does.
    pub(crate) line: u32,
    /// Waits said in between, s.
    pub(crate) waited_s: f64,
    /// Whether the program stopped for the person since the cutter was put in.
    pub(crate) stopped: bool,
}

/// What one program does.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Run {
    pub(crate) file: String,
    pub(crate) motions: Vec<Motion>,
    /// Speeds set: line, rev/min.
    pub(crate) speeds: Vec<(u32, f64)>,
    /// Cutters put in: what is known of each change.
    pub(crate) changes: Vec<CutterChanged>,
    /// Cutters named by a T word and not put in before something is cut: line, number.
    pub(crate) not_put_in: Vec<(u32, u32)>,
    /// Starts of the spindle with what was waited before the first move at feed.
    pub(crate) starts: Vec<Start>,
    /// Stops for the person.
    pub(crate) stops: usize,
    /// Where the tip stands when the program stops, ends or lets the spindle run down: line and place, NaN where unknown.
    pub(crate) rests: Vec<(u32, [f64; 3])>,
    /// The first motions after them.
    pub(crate) resumed: Vec<Resumed>,
    /// Work offsets chosen: line, number as in its G word.
    pub(crate) offsets: Vec<(u32, u32)>,
    /// Lines of the text.
    pub(crate) lines: u32,
    /// Why it could not be read, with the line.
    pub(crate) error: Option<(u32, String)>,
}

impl Run {
    /// Reads one program. `first` is the cutter that is in the spindle before the program says anything.
    pub(crate) fn read(evidence: &Evidence, file: &str, first: Option<u32>) -> Self {
        match evidence.programs.get(file) {
            Some(text) => Self::of(file, text, first),
            None => Self {
                file: file.to_owned(),
                error: Some((0, format!("there is no program {file}"))),
                ..Self::default()
            },
        }
    }

    /// What a text does.
    pub(crate) fn of(file: &str, text: &str, first: Option<u32>) -> Self {
        let mut run = Self { file: file.to_owned(), lines: text.lines().count() as u32, ..Self::default() };
        match rs274::interpret::run(text) {
            Ok(events) => {
                run.follow(&events, first);
                run.look_at_resumed(text);
            }
            Err(fault) => run.error = Some((fault.line, fault.text)),
        }
        run
    }

    /// A line that names X or Y moves sideways if a person moved the tip meanwhile, whatever it says.
    fn look_at_resumed(&mut self, text: &str) {
        let lines: Vec<&str> = text.lines().collect();
        for resumed in &mut self.resumed {
            let m = &self.motions[resumed.motion];
            let line = lines.get((m.line as usize).wrapping_sub(1)).copied().unwrap_or_default();
            // Comments stand in brackets or behind a semicolon.
            let mut depth = 0_u32;
            let words = line.chars().take_while(|c| *c != ';').filter(|c| {
                depth = if *c == '(' { depth + 1 } else { depth };
                let outside = depth == 0;
                depth = if *c == ')' { depth.saturating_sub(1) } else { depth };
                outside
            });
            let names = words.into_iter().any(|c| matches!(c.to_ascii_uppercase(), 'X' | 'Y'));
            let moves = (0..2).any(|k| m.to[k].is_finite() && m.from[k] != m.to[k]);
            resumed.sideways = names || moves;
        }
    }

    fn follow(&mut self, events: &[Event], first: Option<u32>) {
        let (mut cutter, mut rpm) = (first, None);
        let mut tip = [f64::NAN; 3];
        let (mut stopped, mut changed) = (false, false);
        let mut chosen: Option<(u32, u32)> = None;
        // Since the spindle last stood still; `None` once something was cut.
        let mut start = Some(Start { line: 0, waited_s: 0.0, stopped: false });
        for event in events {
            if stopped && matches!(event.what, What::Straight { .. } | What::Arc { .. }) {
                self.resumed.push(Resumed { motion: self.motions.len(), sideways: true });
                stopped = false;
            }
            if matches!(event.what, What::Straight { feed: Some(_), .. } | What::Arc { .. }) {
                self.not_put_in.extend(chosen.take());
                self.starts
                    .extend(start.take().map(|s| Start { line: if s.line == 0 { event.line } else { s.line }, ..s }));
            }
            let base = Motion {
                line: event.line,
                cutter,
                from: [f64::NAN; 3],
                to: [f64::NAN; 3],
                feed: None,
                rpm,
                slack: 0.0,
            };
            match &event.what {
                What::Straight { from, to, feed } => {
                    // Another cutter is longer or shorter: where its tip stands is not known before Z is told.
                    let z = if std::mem::take(&mut changed) { f64::NAN } else { from[2] };
                    self.motions.push(Motion { from: [from[0], from[1], z], to: *to, feed: *feed, ..base });
                    tip = *to;
                }
                What::Arc { from, to, centre, axis, sweep, feed } => {
                    let arc = Arc { from: *from, to: *to, centre: *centre, axis: *axis, sweep: *sweep };
                    let base = Motion { feed: Some(*feed), slack: CHORD, ..base };
                    self.motions.extend(arc.chords().map(|(from, to)| Motion { from, to, ..base }));
                    tip = *to;
                }
                What::Chosen(n) => chosen = Some((event.line, *n)),
                What::Cutter(n) => {
                    let turning = rpm.is_some_and(|rpm| rpm != 0.0);
                    self.changes.push(CutterChanged { line: event.line, number: *n, before: cutter, tip, turning });
                    (cutter, chosen) = (Some(*n), None);
                    changed = true;
                    start = Some(Start { line: 0, waited_s: 0.0, stopped: false });
                }
                What::Spindle(speed) => {
                    if rpm.is_none_or(|before| before == 0.0) || *speed == 0.0 {
                        let stopped = start.as_ref().is_some_and(|s| s.stopped);
                        start = Some(Start { line: event.line, waited_s: 0.0, stopped });
                    }
                    if *speed == 0.0 {
                        self.rests.push((event.line, tip));
                    }
                    rpm = Some(*speed);
                    self.speeds.push((event.line, *speed));
                }
                What::Stop => {
                    self.stops += 1;
                    self.rests.push((event.line, tip));
                    stopped = true;
                    start.iter_mut().for_each(|s| s.stopped = true);
                }
                What::Dwell(seconds) => start.iter_mut().for_each(|s| s.waited_s += seconds),
                What::WorkOffset(n) => self.offsets.push((event.line, *n)),
                What::End => self.rests.push((event.line, tip)),
                What::Air(_) | What::Comment(_) => {}
            }
        }
    }
}

struct Arc {
    from: [f64; 3],
    to: [f64; 3],
    centre: [f64; 3],
    axis: usize,
    sweep: f64,
}

impl Arc {
    fn chords(&self) -> impl Iterator<Item = ([f64; 3], [f64; 3])> + '_ {
        let (u, v) = ((self.axis + 1) % 3, (self.axis + 2) % 3);
        let radius = |p: &[f64; 3]| (p[u] - self.centre[u]).hypot(p[v] - self.centre[v]);
        let (r0, r1) = (radius(&self.from), radius(&self.to));
        let start = (self.from[v] - self.centre[v]).atan2(self.from[u] - self.centre[u]);
        // A chord over the angle 2h lies r(1 − cos h) inside its arc.
        let half = (1.0 - (CHORD / r0.max(r1).max(CHORD)).min(1.0)).acos().max(1e-4);
        let n = ((self.sweep.abs() / (2.0 * half)).ceil() as usize).clamp(1, (TAU * 1e4) as usize);
        let point = move |i: usize| {
            if i == 0 {
                return self.from;
            }
            if i == n {
                return self.to;
            }
            let t = i as f64 / n as f64;
            let (r, angle) = (r0 + (r1 - r0) * t, start + self.sweep * t);
            let mut p = [0.0; 3];
            p[u] = self.centre[u] + r * angle.cos();
            p[v] = self.centre[v] + r * angle.sin();
            p[self.axis] = self.from[self.axis] + (self.to[self.axis] - self.from[self.axis]) * t;
            p
        };
        (0..n).map(move |i| (point(i), point(i + 1)))
    }
}

/// Which cutter is in the spindle before a program of the setup says anything.
pub(crate) fn first_cutter(setup: &Setup, file: &str) -> Option<u32> {
    let sheet = setup.programs.iter().find(|p| p.file == file).or_else(|| setup.programs.first())?;
    sheet.cutters.first().copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_stay_within_a_thousandth_of_their_arc() {
        let arc =
            Arc { from: [50.0, 0.0, 0.0], to: [0.0, 50.0, -3.0], centre: [0.0, 0.0, 0.0], axis: 2, sweep: TAU / 4.0 };
        let chords: Vec<_> = arc.chords().collect();
        assert!(chords.len() > 50);
        assert_eq!(chords[0].0, arc.from);
        assert_eq!(chords[chords.len() - 1].1, arc.to);
        for (a, b) in &chords {
            let middle = ((a[0] + b[0]) / 2.0).hypot((a[1] + b[1]) / 2.0);
            assert!((50.0 - middle) < CHORD * 1.0001 && (a[0].hypot(a[1]) - 50.0).abs() < 1e-9);
        }
    }
}
