//! The motions of the written programs, arcs made straight within [`CHORD`].

use crate::Evidence;
use rs274::interpret::{Event, What};
use std::f64::consts::TAU;
use trade::figures::motion::{Limits, Segment, time};
use trade::shelf::Machine;
use workpiece::Setup;

/// Greatest distance of a chord from its arc, mm; it is added to every bound that rests on a flattened arc.
pub(crate) const CHORD: f64 = 0.001;

/// Straight motions at feed are told in pieces no longer than this, mm, for what they cut changes along them.
const PIECE: f64 = 8.0;

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
    /// Mark of the dial that the program last told the person to set, from 1.
    pub(crate) dial: Option<usize>,
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

    /// The same in pieces no longer than [`PIECE`], if it is at feed and both ends are known.
    fn pieces(self) -> impl Iterator<Item = Self> {
        let whole = self.feed.is_none() || !self.is_known();
        let n = if whole { 1 } else { (self.length() / PIECE).ceil().max(1.0) as usize };
        let at = move |i: usize| match i {
            0 => self.from,
            i if i == n => self.to,
            i => [0, 1, 2].map(|k| self.from[k] + (self.to[k] - self.from[k]) * i as f64 / n as f64),
        };
        (0..n).map(move |i| Self { from: at(i), to: at(i + 1), ..self })
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

/// A wait of the program.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Waited {
    pub(crate) line: u32,
    pub(crate) seconds: f64,
    /// How many motions were made before it.
    pub(crate) after: usize,
    /// Whether the spindle is told to turn meanwhile.
    pub(crate) turning: bool,
}

/// A straight move or an arc, with the first of its motions.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Course {
    segment: Segment,
    first: usize,
    /// Whether the machine comes to rest before it.
    from_rest: bool,
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
    /// Waits.
    pub(crate) waits: Vec<Waited>,
    /// The path as the machine plans its speed along it.
    courses: Vec<Course>,
    /// Work offsets chosen: line, number as in its G word.
    pub(crate) offsets: Vec<(u32, u32)>,
    /// Lines that shift the zero.
    pub(crate) shifts: Vec<u32>,
    /// Lines from which the control may leave the path (G64).
    pub(crate) leaves_path: Vec<u32>,
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

    /// How long each motion takes on a machine, s: 0 where that is not known.
    pub(crate) fn seconds(&self, machine: &Machine) -> Vec<f64> {
        let limits = Limits::of(machine);
        let mut seconds = vec![0.0; self.motions.len()];
        let ends = self.courses.iter().skip(1).map(|c| c.first).chain([self.motions.len()]);
        let whole: Vec<(Course, usize)> = self.courses.iter().copied().zip(ends).collect();
        for run in whole.chunk_by(|_, next| !next.0.from_rest) {
            let segments: Vec<Segment> = run.iter().map(|(course, _)| course.segment).collect();
            for ((course, end), each) in run.iter().zip(time(&segments, &limits).each_s) {
                let motions = course.first..*end;
                let length: f64 = self.motions[motions.clone()].iter().map(Motion::length).sum();
                for m in motions {
                    seconds[m] = if length > 0.0 { each * self.motions[m].length() / length } else { 0.0 };
                }
            }
        }
        seconds
    }

    fn follow(&mut self, events: &[Event], first: Option<u32>) {
        let mut from_rest = true;
        let (mut cutter, mut rpm, mut dial) = (first, None, None);
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
                dial,
                slack: 0.0,
            };
            let began = self.motions.len();
            match &event.what {
                What::Straight { from, to, feed } => {
                    // Another cutter is longer or shorter: where its tip stands is not known before Z is told.
                    let z = if std::mem::take(&mut changed) { f64::NAN } else { from[2] };
                    let motion = Motion { from: [from[0], from[1], z], to: *to, feed: *feed, ..base };
                    self.motions.extend(motion.pieces());
                    tip = *to;
                    let known = motion.is_known();
                    let segment = Segment::line(motion.from, motion.to, *feed);
                    self.courses.extend(known.then_some(Course { segment, first: began, from_rest }));
                    from_rest = !known;
                }
                What::Arc { from, to, centre, axis, sweep, feed } => {
                    let arc = Arc { from: *from, to: *to, centre: *centre, axis: *axis, sweep: *sweep };
                    let base = Motion { feed: Some(*feed), slack: CHORD, ..base };
                    self.motions.extend(arc.chords().map(|(from, to)| Motion { from, to, ..base }));
                    tip = *to;
                    // An arc about another axis runs as its chords.
                    let flat =
                        (*axis == 2).then(|| Segment::arc(*from, *to, [centre[0], centre[1]], *sweep > 0.0, *feed));
                    let chords = (began..self.motions.len()).map(|first| {
                        let m = &self.motions[first];
                        (first, Segment::line(m.from, m.to, m.feed))
                    });
                    let segments: Vec<(usize, Segment)> = match flat {
                        Some(arc) => vec![(began, arc)],
                        None => chords.collect(),
                    };
                    for (first, segment) in segments {
                        self.courses.push(Course { segment, first, from_rest });
                        from_rest = false;
                    }
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
                What::Dwell(seconds) => {
                    start.iter_mut().for_each(|s| s.waited_s += seconds);
                    let (after, turning) = (self.motions.len(), rpm.is_some_and(|rpm| rpm != 0.0));
                    self.waits.push(Waited { line: event.line, seconds: *seconds, after, turning });
                }
                What::WorkOffset(n) => self.offsets.push((event.line, *n)),
                What::Shifted(_) => self.shifts.push(event.line),
                What::LeavesPath(may) => self.leaves_path.extend(may.then_some(event.line)),
                What::End => self.rests.push((event.line, tip)),
                What::Comment(text) => dial = told_mark(text).or(dial),
                What::Air(_) => {}
            }
            from_rest |=
                matches!(event.what, What::Cutter(_) | What::Spindle(_) | What::Stop | What::Dwell(_) | What::End);
        }
    }
}

/// The mark of the dial that a comment tells the person to set: `dial 3`.
fn told_mark(comment: &str) -> Option<usize> {
    let mut words = comment.split_whitespace().skip_while(|w| !w.eq_ignore_ascii_case("dial"));
    words.next()?;
    words.next()?.parse().ok()
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

    /// A square of 50 mm at 3000 mm/min with a wait at one corner, against the closed form of stops at corners.
    #[test]
    fn times_are_those_of_the_machine() {
        let (shelf, _) = trade::parse(trade::DEFAULT_SHELF, base::FileId(0));
        let machine = shelf.unwrap().machines.swap_remove(1);
        let machine = Machine { acceleration: [500.0, 500.0], corner: 0.0, ..machine };
        let text = "%\nG21 G90 G17 G94 G54\nG0 Z0\nG0 X0 Y0\nG1 X50 F3000\nG1 Y50\nG4 P1\nG1 X0\nG1 Y0\nM2\n%\n";
        let run = Run::of("square.nc", text, Some(1));
        assert_eq!(run.error, None);
        let seconds = run.seconds(&machine);
        let cut: f64 = run.motions.iter().zip(&seconds).filter(|(m, _)| m.feed.is_some()).map(|(_, s)| s).sum();
        assert!((cut - 4.4).abs() < 1e-9, "4 (50/50 + 50/500): {cut}");
        assert_eq!(run.waits, [Waited { line: 7, seconds: 1.0, after: run.motions.len() / 2 + 1, turning: false }]);
        assert!(run.motions.iter().all(|m| m.feed.is_none() || m.length() <= PIECE));
    }
}
