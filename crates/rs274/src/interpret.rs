//! Reading programs: text to the motions a machine would make (NISTIR 6556 §3).
//!
//! A second opinion on what a control will do, so it refuses whatever it cannot know: the machine's homes, its table of
//! cutter lengths, offsets set by the program. Position, feed and units are unknown until the program states them. A
//! change by hand is a T word on the line of an M0.

mod arc;
mod block;
mod cycle;
mod value;

use block::Block;
use cycle::{Hole, Stroke};
use value::{Parameters, whole};

/// One event, in the order of execution. Positions in mm in the program's frame (work offset applied as zero).
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Line in the text, from 1.
    pub line: u32,
    /// What happens.
    pub what: What,
}

/// What a machine does.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Straight motion. The first motion of an axis starts from an unknown place: `from` is NaN there, and `to` while
    /// the axis has not been named.
    Straight {
        /// Start.
        from: [f64; 3],
        /// End.
        to: [f64; 3],
        /// `None` for rapid; mm/min otherwise.
        feed: Option<f64>,
    },
    /// Arc or helix about an axis parallel to `axis` (2 = Z for the XY plane).
    Arc {
        /// Start.
        from: [f64; 3],
        /// End.
        to: [f64; 3],
        /// Centre; the coordinate along the axis is the start's.
        centre: [f64; 3],
        /// 0, 1 or 2: X, Y, Z.
        axis: usize,
        /// Sweep in radians, signed, positive counter-clockwise seen from the positive end of the axis.
        sweep: f64,
        /// mm/min.
        feed: f64,
    },
    /// Cutter named by a T word; it is not in the spindle yet.
    Chosen(u32),
    /// Cutter in the spindle from now on.
    Cutter(u32),
    /// Spindle turns at rev/min, clockwise (negative: M4, counter-clockwise); 0 stops it.
    Spindle(f64),
    /// Air or coolant on or off.
    Air(bool),
    /// Waits, s.
    Dwell(f64),
    /// Stops for the person.
    Stop,
    /// Comment or message.
    Comment(String),
    /// Work offset chosen: 54 … 59, 591 … 593 for 59.1 … 59.3.
    WorkOffset(u32),
    /// End of the program.
    End,
}

/// A fault of the text, with its line.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("line {line}: {text}")]
pub struct ReadError {
    /// Line, from 1.
    pub line: u32,
    /// What is wrong and what was expected.
    pub text: String,
}

/// The switches on the machine's panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Panel {
    /// Lines that begin with `/` are left out.
    pub skip_marked_lines: bool,
}

/// Runs a program with every switch off. Everything unknown is an error: nothing is skipped silently.
///
/// # Errors
/// The first [`ReadError`].
pub fn run(text: &str) -> Result<Vec<Event>, ReadError> {
    run_with(text, Panel::default())
}

/// Runs a program with the panel's switches set.
///
/// # Errors
/// The first [`ReadError`].
pub fn run_with(text: &str, panel: Panel) -> Result<Vec<Event>, ReadError> {
    let lines = lines_of(text);
    let span = span_of(&lines)?;
    let mut control = Control::new();
    for &(line, code) in &lines[span.first..span.end] {
        control.line = line;
        control.run_line(code, panel).map_err(|text| ReadError { line, text })?;
        if control.ended {
            return Ok(control.events);
        }
    }
    if !span.marked {
        let text = "the program has no end: M2, M30, or a `%` before and after it".into();
        return Err(ReadError { line: lines.last().map_or(1, |l| l.0), text });
    }
    control.line = lines[span.end].0;
    control.tell(What::End);
    Ok(control.events)
}

/// Lines with their numbers; a line ends with CR, LF or both.
fn lines_of(text: &str) -> Vec<(u32, &str)> {
    let mut lines = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let end = rest.find(['\r', '\n']).unwrap_or(rest.len());
        let (line, tail) = rest.split_at(end);
        lines.push((lines.len() as u32 + 1, line));
        rest = tail.strip_prefix("\r\n").or_else(|| tail.get(1..)).unwrap_or("");
    }
    lines
}

/// Which lines are the program.
struct Extent {
    first: usize,
    end: usize,
    /// Between two lines of `%`.
    marked: bool,
}

fn span_of(lines: &[(u32, &str)]) -> Result<Extent, ReadError> {
    let percent = |l: &(u32, &str)| l.1.trim() == "%";
    let Some(start) = lines.iter().position(|l| !l.1.trim().is_empty()) else {
        return Err(ReadError { line: 1, text: "the program is empty".into() });
    };
    if !percent(&lines[start]) {
        return Ok(Extent { first: start, end: lines.len(), marked: false });
    }
    match lines[start + 1..].iter().position(percent) {
        Some(between) => Ok(Extent { first: start + 1, end: start + 1 + between, marked: true }),
        None => Err(ReadError {
            line: lines[start].0,
            text: "the program opens with `%`, but no second `%` ends it".into(),
        }),
    }
}

/// The control's state while it runs a program.
struct Control {
    line: u32,
    events: Vec<Event>,
    ended: bool,
    parameters: Parameters,
    /// mm; NaN where unknown.
    position: [f64; 3],
    /// mm per unit of the program.
    unit: Option<f64>,
    /// Axis perpendicular to the plane.
    axis: usize,
    incremental: bool,
    /// F counts moves per minute.
    inverse_time: bool,
    /// mm/min.
    feed: Option<f64>,
    /// Motion in force, G word times ten.
    motion: Option<u32>,
    sticky: Sticky,
    /// Cycles return to where they began (G98) or to the retract plane (G99).
    returns_high: Option<bool>,
    offset: u32,
    speed: f64,
    /// +1 clockwise, −1 counter-clockwise, 0 still.
    turning: f64,
    slot: Option<u32>,
}

/// What cycles keep from line to line, mm and s.
#[derive(Clone, Copy, Debug, Default)]
struct Sticky {
    kind: u32,
    retract: Option<f64>,
    bottom: Option<f64>,
    dwell: Option<f64>,
    peck: Option<f64>,
}

/// Most events of a program: a bound on what repeated cycles can ask for.
const MOST_EVENTS: usize = 20_000_000;
const AXES: [u8; 3] = [b'X', b'Y', b'Z'];

impl Control {
    fn new() -> Self {
        Self {
            line: 0,
            events: Vec::new(),
            ended: false,
            parameters: Parameters::new(),
            position: [f64::NAN; 3],
            unit: None,
            axis: 2,
            incremental: false,
            inverse_time: false,
            feed: None,
            motion: None,
            sticky: Sticky::default(),
            returns_high: None,
            offset: 54,
            speed: 0.0,
            turning: 0.0,
            slot: None,
        }
    }

    fn tell(&mut self, what: What) {
        self.events.push(Event { line: self.line, what });
    }

    fn run_line(&mut self, code: &str, panel: Panel) -> Result<(), String> {
        if panel.skip_marked_lines && code.trim_start().starts_with('/') {
            return Ok(());
        }
        let block = Block::read(code, &self.parameters)?;
        for &(number, value) in &block.settings {
            self.parameters.insert(number, value);
        }
        if self.events.len() > MOST_EVENTS {
            return Err("the program makes more moves than any piece needs".into());
        }
        let words = Words::of(&block)?;
        self.run_block(&block, &words)
    }

    /// The order of NISTIR 6556 table 8.
    fn run_block(&mut self, block: &Block, words: &Words) -> Result<(), String> {
        let motion = self.motion_of(block, words)?;
        check_uses(block, words, motion)?;
        if let Some(text) = &block.comment {
            self.tell(What::Comment(text.trim().to_owned()));
        }
        if let Some(mode) = words.g(5) {
            self.set_feed_mode(mode == 930);
        }
        self.set_rates(block, words)?;
        self.change_cutter(block, words)?;
        self.switch(words);
        if words.has_g(40) {
            self.dwell(block)?;
        }
        self.set_modes(words)?;
        self.motion = words.g(1).or(self.motion);
        if let Some(code) = motion {
            self.make_motion(code, block)?;
        }
        self.stop(words);
        Ok(())
    }

    /// The motion this line makes: named on it, or in force and used by axis words.
    fn motion_of(&self, block: &Block, words: &Words) -> Result<Option<u32>, String> {
        let axes = block.has_any(&AXES);
        match words.g(1) {
            Some(800) if axes => Err("axis words beside G80, which makes no motion".into()),
            Some(800) => Ok(None),
            Some(code) if !axes => Err(format!("{} needs at least one of X, Y and Z", spoken(code))),
            Some(code) => Ok(Some(code)),
            None if !axes => Ok(None),
            None => match self.motion {
                None | Some(800) => Err("axis words, but no motion (G0, G1, G2, G3) is in force".into()),
                motion => Ok(motion),
            },
        }
    }

    fn set_feed_mode(&mut self, inverse: bool) {
        if inverse != self.inverse_time {
            self.feed = None;
        }
        self.inverse_time = inverse;
    }

    fn set_rates(&mut self, block: &Block, words: &Words) -> Result<(), String> {
        for letter in [b'F', b'S', b'T'] {
            if let Some(value) = block.word(letter).filter(|v| *v < 0.0) {
                return Err(format!("{}{value}: it must not be below 0", letter as char));
            }
        }
        if let (Some(f), false) = (block.word(b'F'), self.inverse_time) {
            self.feed = Some(f * self.unit()?);
        }
        if let Some(speed) = block.word(b'S') {
            self.speed = speed;
            if self.turning != 0.0 && words.m(7).is_none() {
                self.tell(What::Spindle(self.turning * speed));
            }
        }
        Ok(())
    }

    /// T, M6, and the change by hand: T on the line of an M0.
    fn change_cutter(&mut self, block: &Block, words: &Words) -> Result<(), String> {
        if let Some(slot) = block.word(b'T') {
            let slot = whole(slot, "a T word")?;
            self.slot = Some(slot);
            self.tell(What::Chosen(slot));
        }
        if words.m(6).is_some() {
            let Some(slot) = self.slot else {
                return Err("M6 before any T: which cutter?".into());
            };
            if self.turning != 0.0 {
                self.turning = 0.0;
                self.tell(What::Spindle(0.0));
            }
            self.tell(What::Cutter(slot));
        }
        Ok(())
    }

    fn switch(&mut self, words: &Words) {
        if let Some(code) = words.m(7) {
            self.turning = [1.0, -1.0, 0.0][(code as usize - 3).min(2)];
            self.tell(What::Spindle(if code == 5 { 0.0 } else { self.turning * self.speed }));
        }
        for &code in words.m.iter().filter(|&&(group, _)| group == 8).map(|(_, code)| code) {
            self.tell(What::Air(code != 9));
        }
    }

    fn dwell(&mut self, block: &Block) -> Result<(), String> {
        match block.word(b'P') {
            Some(seconds) if seconds >= 0.0 => self.tell(What::Dwell(seconds)),
            Some(seconds) => return Err(format!("G4 P{seconds}: a wait must not be below 0")),
            None => return Err("G4 needs P, the seconds to wait".into()),
        }
        Ok(())
    }

    fn set_modes(&mut self, words: &Words) -> Result<(), String> {
        if let Some(plane) = words.g(2) {
            self.axis = match plane {
                170 => 2,
                180 => 1,
                _ => 0,
            };
        }
        if let Some(units) = words.g(6) {
            let unit = if units == 200 { 25.4 } else { 1.0 };
            if self.unit.is_some_and(|old| old != unit) {
                self.feed = None;
            }
            self.unit = Some(unit);
        }
        if let Some(system) = words.g(12) {
            let system = if system % 10 == 0 { system / 10 } else { system };
            if system != self.offset {
                self.position = [f64::NAN; 3];
            }
            self.offset = system;
            self.tell(What::WorkOffset(system));
        }
        if let Some(distance) = words.g(3) {
            self.incremental = distance == 910;
        }
        if let Some(level) = words.g(10) {
            self.returns_high = Some(level == 980);
        }
        Ok(())
    }

    fn stop(&mut self, words: &Words) {
        match words.m(4) {
            Some(2 | 30) => {
                self.ended = true;
                self.tell(What::End);
            }
            Some(code) => {
                self.tell(What::Stop);
                if let (0, Some(slot)) = (code, self.slot.filter(|_| words.by_hand)) {
                    self.tell(What::Cutter(slot));
                }
            }
            None => {}
        }
    }

    fn unit(&self) -> Result<f64, String> {
        self.unit.ok_or_else(|| "a length or a feed before G20 or G21 has set the unit".into())
    }

    fn length(&self, block: &Block, letter: u8) -> Result<Option<f64>, String> {
        block.word(letter).map(|value| Ok(value * self.unit()?)).transpose()
    }

    /// Where the axis words point, mm.
    fn target(&self, block: &Block) -> Result<[f64; 3], String> {
        let mut to = self.position;
        for (axis, letter) in AXES.into_iter().enumerate() {
            let Some(value) = self.length(block, letter)? else { continue };
            to[axis] = if self.incremental { self.known(axis)? + value } else { value };
        }
        Ok(to)
    }

    fn known(&self, axis: usize) -> Result<f64, String> {
        let at = self.position[axis];
        let unknown = || format!("where {} stands is not known here", AXES[axis] as char);
        if at.is_finite() { Ok(at) } else { Err(unknown()) }
    }

    fn make_motion(&mut self, code: u32, block: &Block) -> Result<(), String> {
        match code {
            0 => self.straight(block, false),
            10 => self.straight(block, true),
            20 | 30 => self.arc(block, code == 30),
            _ => self.cycle(code, block),
        }
    }

    fn straight(&mut self, block: &Block, cutting: bool) -> Result<(), String> {
        let (from, to) = (self.position, self.target(block)?);
        let way = (0..3).map(|i| if to[i].is_nan() { 0.0 } else { (to[i] - from[i]).powi(2) }).sum::<f64>().sqrt();
        let feed = if cutting { Some(self.feed_for(block, way)?) } else { None };
        self.go(to, feed);
        Ok(())
    }

    fn go(&mut self, to: [f64; 3], feed: Option<f64>) {
        self.tell(What::Straight { from: self.position, to, feed });
        self.position = to;
    }

    /// The feed in mm/min for a way of this length.
    fn feed_for(&self, block: &Block, way: f64) -> Result<f64, String> {
        if !self.inverse_time {
            let none = || "a cut before any feed (F) is set".to_owned();
            return self.feed.filter(|f| *f > 0.0).ok_or_else(none);
        }
        match block.word(b'F') {
            Some(f) if f > 0.0 && way.is_finite() => Ok(way * f),
            Some(f) if f > 0.0 => Err("inverse-time feed from a place that is not known".into()),
            _ => Err("in inverse-time feed (G93) every cut needs its own F above 0".into()),
        }
    }

    fn arc(&mut self, block: &Block, ccw: bool) -> Result<(), String> {
        let (c, a, b) = (self.axis, (self.axis + 1) % 3, (self.axis + 2) % 3);
        if !block.has_any(&[AXES[a], AXES[b]]) {
            return Err(format!("an arc needs {} or {}", AXES[a] as char, AXES[b] as char));
        }
        let (from, to) = (self.position, self.target(block)?);
        let start = [self.known(a)?, self.known(b)?];
        if block.has_any(&[AXES[c]]) {
            self.known(c)?;
        }
        let tolerance = if self.unit()? == 1.0 { 0.002 } else { 0.0002 * 25.4 };
        let span = arc::Span { start, end: [to[a], to[b]], ccw, tolerance };
        let turn = self.turn(block, span)?;
        let mut centre = from;
        (centre[a], centre[b]) = (turn.centre[0], turn.centre[1]);
        let radius = (start[0] - centre[a]).hypot(start[1] - centre[b]);
        let rise = if to[c].is_nan() { 0.0 } else { to[c] - from[c] };
        let feed = self.feed_for(block, (radius * turn.sweep).hypot(rise))?;
        self.tell(What::Arc { from, to, centre, axis: c, sweep: turn.sweep, feed });
        self.position = to;
        Ok(())
    }

    fn turn(&self, block: &Block, span: arc::Span) -> Result<arc::Turn, String> {
        const OFFSETS: [u8; 3] = [b'I', b'J', b'K'];
        let (c, a, b) = (self.axis, (self.axis + 1) % 3, (self.axis + 2) % 3);
        let offset = [self.length(block, OFFSETS[a])?, self.length(block, OFFSETS[b])?];
        if block.word(OFFSETS[c]).is_some() {
            return Err(format!("{} does not lie in the arc's plane", OFFSETS[c] as char));
        }
        match (self.length(block, b'R')?, offset) {
            (Some(_), [Some(_), _] | [_, Some(_)]) => Err("an arc has either R or a centre, not both".into()),
            (Some(radius), _) => arc::from_radius(span, radius),
            (None, [None, None]) => {
                let pair = [OFFSETS[a] as char, OFFSETS[b] as char];
                Err(format!("an arc needs its centre ({}, {}) or its radius (R)", pair[0], pair[1]))
            }
            (None, [i, j]) => arc::from_centre(span, [i.unwrap_or(0.0), j.unwrap_or(0.0)]),
        }
    }

    fn cycle(&mut self, code: u32, block: &Block) -> Result<(), String> {
        if self.inverse_time {
            return Err("drilling cycles do not go with inverse-time feed (G93)".into());
        }
        let feed = self.feed_for(block, 0.0)?;
        let start = self.known(self.axis)?;
        let hole = self.hole(code, block, start)?;
        let repeats = block.word(b'L').map_or(Ok(1), |l| whole(l, "L"))?;
        if !(1..=9999).contains(&repeats) {
            return Err("L repeats a cycle 1 to 9999 times".into());
        }
        let strokes = hole.strokes()?;
        if start < hole.retract {
            self.go_along(hole.retract, None);
        }
        for _ in 0..repeats {
            self.drill(block, hole.retract, &strokes, feed)?;
        }
        Ok(())
    }

    fn drill(&mut self, block: &Block, retract: f64, strokes: &[Stroke], feed: f64) -> Result<(), String> {
        let mut above = self.target(block)?;
        above[self.axis] = self.position[self.axis];
        if above != self.position {
            self.go(above, None);
        }
        if above[self.axis] != retract {
            self.go_along(retract, None);
        }
        for &stroke in strokes {
            match stroke {
                Stroke::Feed(to) => self.go_along(to, Some(feed)),
                Stroke::Rapid(to) if to == self.position[self.axis] => {}
                Stroke::Rapid(to) => self.go_along(to, None),
                Stroke::Dwell(seconds) => self.tell(What::Dwell(seconds)),
            }
        }
        if self.events.len() > MOST_EVENTS {
            return Err("the cycle makes more moves than any piece needs".into());
        }
        Ok(())
    }

    fn go_along(&mut self, height: f64, feed: Option<f64>) {
        let mut to = self.position;
        to[self.axis] = height;
        self.go(to, feed);
    }

    /// The hole of this line, with what stays in force from the line before.
    fn hole(&mut self, code: u32, block: &Block, start: f64) -> Result<Hole, String> {
        let old = if self.sticky.kind == code { self.sticky } else { Sticky::default() };
        let kept = Sticky {
            kind: code,
            retract: self.length(block, b'R')?.or(old.retract),
            bottom: self.length(block, AXES[self.axis])?.or(old.bottom),
            dwell: block.word(b'P').or(old.dwell),
            peck: self.length(block, b'Q')?.or(old.peck),
        };
        let (Some(r), Some(z)) = (kept.retract, kept.bottom) else {
            return Err(format!("{} needs R and the bottom of the hole", spoken(code)));
        };
        let (retract, bottom) = if self.incremental { (start + r, start + r + z) } else { (r, z) };
        if retract < bottom {
            return Err(format!("the retract plane {retract} lies below the bottom {bottom}"));
        }
        let clear = self.clear(start, retract)?;
        let (dwell, peck) = cycle_extras(code, &kept)?;
        self.sticky = kept;
        Ok(Hole { retract, bottom, clear, peck, dwell })
    }

    fn clear(&self, start: f64, retract: f64) -> Result<f64, String> {
        match self.returns_high {
            _ if start <= retract => Ok(retract),
            Some(true) => Ok(start),
            Some(false) => Ok(retract),
            None => Err("neither G98 nor G99 says how high the cycle returns".into()),
        }
    }
}

fn cycle_extras(code: u32, kept: &Sticky) -> Result<(Option<f64>, Option<f64>), String> {
    match code {
        820 => match kept.dwell {
            Some(p) if p >= 0.0 => Ok((Some(p), None)),
            _ => Err("G82 needs P, the seconds to wait, not below 0".into()),
        },
        830 => match kept.peck {
            Some(q) if q > 0.0 => Ok((None, Some(q))),
            _ => Err("G83 needs Q, the depth of a peck, above 0".into()),
        },
        _ => Ok((None, None)),
    }
}

/// The G and M words of a line, one of a group.
struct Words {
    g: Vec<(u8, u32)>,
    m: Vec<(u8, u32)>,
    /// A T word on the line of an M0.
    by_hand: bool,
}

impl Words {
    fn of(block: &Block) -> Result<Self, String> {
        if block.m.len() > 4 {
            return Err("a line has at most four M words".into());
        }
        let g = grouped(&block.g, group_of_g)?;
        let m = grouped(&block.m, group_of_m)?;
        let by_hand = block.word(b'T').is_some() && m.iter().all(|(group, _)| *group != 6);
        Ok(Self { g, m, by_hand })
    }

    fn g(&self, group: u8) -> Option<u32> {
        self.g.iter().find(|(its, _)| *its == group).map(|(_, code)| *code)
    }

    fn m(&self, group: u8) -> Option<u32> {
        self.m.iter().find(|(its, _)| *its == group).map(|(_, code)| *code)
    }

    fn has_g(&self, code: u32) -> bool {
        self.g.iter().any(|(_, its)| *its == code)
    }
}

fn grouped(codes: &[u32], group: fn(u32) -> Result<u8, String>) -> Result<Vec<(u8, u32)>, String> {
    let mut found: Vec<(u8, u32)> = Vec::new();
    for &code in codes {
        let its = group(code)?;
        // M7 and M8 may both be on (table 4); everything else stands once per group.
        let both = |other: u32| matches!((code, other), (7, 8) | (8, 7));
        if found.iter().any(|&(group, other)| group == its && !both(other)) {
            return Err("two words of one group on a line contradict each other".into());
        }
        found.push((its, code));
    }
    Ok(found)
}

/// A G word as written.
fn spoken(code: u32) -> String {
    if code.is_multiple_of(10) { format!("G{}", code / 10) } else { format!("G{}.{}", code / 10, code % 10) }
}

/// The modal group of a G word (table 4), or why it is refused.
fn group_of_g(code: u32) -> Result<u8, String> {
    let why = match code {
        0 | 10 | 20 | 30 | 800 | 810 | 820 | 830 => return Ok(1),
        40 => return Ok(0),
        170 | 180 | 190 => return Ok(2),
        900 | 910 => return Ok(3),
        930 | 940 => return Ok(5),
        200 | 210 => return Ok(6),
        400 => return Ok(7),
        490 => return Ok(8),
        980 | 990 => return Ok(10),
        540 | 550 | 560 | 570 | 580 | 590 | 591 | 592 | 593 => return Ok(12),
        610 | 611 | 640 => return Ok(13),
        100 => "it moves the work zero, which is set by touching off",
        280 | 300 => "the machine's home is not known here",
        382 => "where a probe stops is not known here",
        410 | 420 => "radius compensation depends on the cutter table of the machine",
        430 => "it needs the machine's table of cutter lengths",
        530 => "machine coordinates are not known here",
        840..=890 if code.is_multiple_of(10) => "this cycle is not understood here",
        920..=923 => "it shifts the work zero behind the maker's back",
        _ => "it is not a word of NISTIR 6556",
    };
    Err(format!("{} is refused: {why}", spoken(code)))
}

fn group_of_m(code: u32) -> Result<u8, String> {
    match code {
        0 | 1 | 2 | 30 | 60 => Ok(4),
        6 => Ok(6),
        3..=5 => Ok(7),
        7..=9 => Ok(8),
        48 | 49 => Ok(9),
        _ => Err(format!("M{code} is not a word of NISTIR 6556")),
    }
}

/// Refuses words that nothing on the line uses.
fn check_uses(block: &Block, words: &Words, motion: Option<u32>) -> Result<(), String> {
    let arc = matches!(motion, Some(20 | 30));
    let cycle = matches!(motion, Some(810 | 820 | 830));
    let (dwells, dwell_cycle) = (words.has_g(40), motion == Some(820));
    if dwells && dwell_cycle {
        return Err("G4 and G82 would share one P".into());
    }
    let unused = [
        (b'D', false, "radius compensation (G41, G42), which is refused"),
        (b'H', false, "cutter length (G43), which is refused"),
        (b'I', arc, "arcs"),
        (b'J', arc, "arcs"),
        (b'K', arc, "arcs"),
        (b'L', cycle, "drilling cycles"),
        (b'P', dwells || dwell_cycle, "waits (G4) and G82"),
        (b'Q', motion == Some(830), "G83"),
        (b'R', arc || cycle, "arcs and drilling cycles"),
    ];
    match unused.iter().find(|(letter, used, _)| !used && block.word(*letter).is_some()) {
        Some((letter, _, by)) => Err(format!("{} has nothing to belong to: it is for {by}", *letter as char)),
        None => Ok(()),
    }
}
