//! Writing programs: a typed program and the abilities of a machine make a text.
//!
//! Only words that every control of the language reads the same way are used: G0 to G4, G17, G20 or G21, G40, G49, a work
//! offset, G80, G90, G94, M0, M2, M3, M5, M8, M9. Z is rounded up, X and Y to the nearest step; what is said is always
//! relative to the place as written, so that rounding never adds up. A cutter changed by hand is `T5 M0` after a comment.

mod arc;
mod comment;
mod number;

use arc::{Asked, Piece};
use comment::comment_lines;
use number::{Decimals, fixed};

/// What a machine's control can read.
///
/// The default is a plain control: mm, 3 decimals, arcs, everything else by hand, one file per cutter.
#[derive(Clone, Debug, PartialEq)]
pub struct Capabilities {
    /// Arcs in the XY plane.
    pub arcs: bool,
    /// Inch instead of mm.
    pub inch: bool,
    /// Decimals of a coordinate word in the program's unit.
    pub decimals: u32,
    /// The spindle's speed and start are set by the program.
    pub spindle: bool,
    /// Wait after a spindle start, s.
    pub start_wait_s: f64,
    /// A relay for air or extraction is switched by M8/M9.
    pub air_relay: bool,
    /// Line numbers.
    pub line_numbers: bool,
    /// Cutter changes by hand inside a program (M0 with a comment); otherwise one file per cutter.
    pub change_in_program: bool,
}

/// One thing a program does. Positions in mm in the program's frame, feeds in mm/min.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A comment a person can follow.
    Say(String),
    /// Have this cutter in the spindle (stop for a change where it is not yet).
    Cutter {
        /// Number on the shelf.
        number: u32,
        /// What the person must put in, and what to set.
        note: String,
    },
    /// Start the spindle at a speed (a comment with the dial mark where it is set by hand).
    Spindle {
        /// rev/min.
        rpm: f64,
        /// What to set by hand where the machine does not set it: `dial 3 (about 16 000)`.
        by_hand: String,
    },
    /// Air on.
    AirOn,
    /// Air off.
    AirOff,
    /// Rapid to a point; `None` keeps the axis.
    Rapid {
        /// X.
        x: Option<f64>,
        /// Y.
        y: Option<f64>,
        /// Z.
        z: Option<f64>,
    },
    /// Straight at feed.
    Feed {
        /// Target.
        to: [f64; 3],
        /// mm/min along the path.
        feed: f64,
    },
    /// Arc or helix in XY at feed; a full turn where it ends above or below its start.
    Arc {
        /// Target.
        to: [f64; 3],
        /// Centre in X and Y, absolute.
        centre: [f64; 2],
        /// Counter-clockwise seen from +Z.
        ccw: bool,
        /// mm/min along the path.
        feed: f64,
    },
    /// Stop until the person starts again, with what to look at.
    Pause(String),
    /// The same with the spindle standing still, so that a person can reach the work; then it turns as before.
    Still(String),
    /// Wait.
    Dwell(f64),
    /// A place at the safe height to start again from: the lines from here to the end are a program of their own, which
    /// rises, starts the spindle where the program does that, and waits.
    Again,
}

/// The comment that [`Act::Again`] begins with.
pub const AGAIN: &str = "Start again from this line";

/// A program before it is text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Program {
    /// Title in the first comment.
    pub title: String,
    /// Further opening comments.
    pub remarks: Vec<String>,
    /// Work offset: 54 to 59.
    pub work_offset: u32,
    /// Height of the first and last Z move, mm in the program's frame.
    pub safe_z: f64,
    /// Work content, from the first cutter on.
    pub acts: Vec<Act>,
}

impl Default for Capabilities {
    fn default() -> Self {
        Self {
            arcs: true,
            inch: false,
            decimals: 3,
            spindle: false,
            start_wait_s: 0.0,
            air_relay: false,
            line_numbers: false,
            change_in_program: false,
        }
    }
}

/// Farthest coordinate, mm.
const FARTHEST: f64 = 100_000.0;

/// Writes the text: conservative subset, one command of a kind per line, Z rounded upwards (never down into the work).
///
/// # Errors
/// A [`WriteError`] if an act cannot be said to this machine.
pub fn write(program: &Program, capabilities: &Capabilities) -> Result<String, WriteError> {
    let mut pen = Pen::new(program, capabilities);
    pen.begin(program)?;
    for (act, what) in program.acts.iter().enumerate() {
        pen.act = act;
        pen.put(what)?;
    }
    pen.end();
    Ok(pen.text)
}

/// Writes line after line and knows where the machine then stands.
struct Pen<'a> {
    text: String,
    can: &'a Capabilities,
    grid: Decimals,
    /// Index of the act being written.
    act: usize,
    number: u32,
    safe_z: i64,
    /// As asked, mm.
    asked: [Option<f64>; 3],
    /// As written, in steps of the last decimal.
    written: [Option<i64>; 3],
    /// The next motion names all known axes.
    in_full: bool,
    /// F as last written.
    feed: Option<i64>,
    cutter: Option<u32>,
    work_offset: u32,
    /// Speed the spindle was told.
    rpm: Option<f64>,
    /// What was told to set by hand.
    by_hand: String,
    air: bool,
}

impl<'a> Pen<'a> {
    fn new(program: &Program, can: &'a Capabilities) -> Self {
        let grid = Decimals::new(can.decimals, can.inch);
        Self {
            text: String::new(),
            can,
            grid,
            act: 0,
            number: 0,
            safe_z: grid.up(program.safe_z),
            asked: [None, None, Some(program.safe_z)],
            written: [None; 3],
            in_full: true,
            feed: None,
            cutter: None,
            work_offset: program.work_offset,
            rpm: None,
            by_hand: String::new(),
            air: false,
        }
    }

    fn begin(&mut self, program: &Program) -> Result<(), WriteError> {
        self.check_coordinate(program.safe_z)?;
        if !(54..=59).contains(&program.work_offset) {
            return Err(WriteError::WorkOffset { offset: program.work_offset });
        }
        self.text.push_str("%\n");
        self.say(&program.title);
        for remark in &program.remarks {
            self.say(remark);
        }
        self.modes();
        self.rise();
        Ok(())
    }

    /// Everything a program must not take for granted.
    fn modes(&mut self) {
        self.line(if self.can.inch { "G20" } else { "G21" });
        self.line("G17 G40 G49");
        self.line("G80 G90 G94");
        self.line(&format!("G{}", self.work_offset));
    }

    fn again(&mut self) -> Result<(), WriteError> {
        if self.written[2] != Some(self.safe_z) {
            return Err(WriteError::NotSafe { act: self.act });
        }
        self.say(AGAIN);
        self.modes();
        self.go_on();
        match self.rpm {
            Some(rpm) if self.can.spindle => self.start_spindle(rpm)?,
            Some(_) => {
                let text = format!("The spindle must be running: {}", self.by_hand);
                self.say(text.trim_end_matches([' ', ':']));
            }
            None => {}
        }
        if self.air {
            self.air(true);
        }
        Ok(())
    }

    fn end(&mut self) {
        self.rise();
        match (self.can.spindle, self.can.air_relay) {
            (true, true) => {}
            (true, false) => self.say("End. Air off"),
            (false, true) => self.say("End. Switch the spindle off"),
            (false, false) => self.say("End. Switch the spindle off, air off"),
        }
        for code in ["M5", "M9", "M2"] {
            self.line(code);
        }
        self.text.push_str("%\n");
    }

    fn put(&mut self, act: &Act) -> Result<(), WriteError> {
        match act {
            Act::Say(text) => self.say(text),
            Act::Cutter { number, note } => self.cutter(*number, note)?,
            Act::Spindle { rpm, by_hand } => self.spindle(*rpm, by_hand)?,
            Act::AirOn => self.air(true),
            Act::AirOff => self.air(false),
            Act::Rapid { x, y, z } => self.rapid([*x, *y, *z])?,
            Act::Feed { to, feed } => self.feed(*to, *feed)?,
            Act::Arc { to, centre, ccw, feed } => self.arc(*to, *centre, *ccw, *feed)?,
            Act::Pause(text) => self.pause(text),
            Act::Still(text) => self.still(text)?,
            Act::Dwell(seconds) => self.dwell(*seconds)?,
            Act::Again => self.again()?,
        }
        Ok(())
    }

    /// One block.
    fn line(&mut self, words: &str) {
        if self.can.line_numbers {
            self.number = if self.number >= 99_990 { 10 } else { self.number + 10 };
            self.text.push_str(&format!("N{} ", self.number));
        }
        self.text.push_str(words);
        self.text.push('\n');
    }

    fn say(&mut self, text: &str) {
        for comment in comment_lines(text) {
            self.text.push_str(&comment);
            self.text.push('\n');
        }
    }

    fn pause(&mut self, text: &str) {
        self.say(text);
        self.line("M0");
        self.go_on();
    }

    fn still(&mut self, text: &str) -> Result<(), WriteError> {
        self.rise();
        if self.can.spindle {
            self.line("M5");
            self.pause(text);
            return self.rpm.map_or(Ok(()), |rpm| self.start_spindle(rpm));
        }
        self.say(&format!("Switch the spindle off. {text}"));
        let again = format!("Then switch it on again: {}", self.by_hand);
        self.pause(again.trim_end_matches([' ', ':']));
        Ok(())
    }

    /// After a stop, at which a person may have moved the tip: Z alone first, to the safe height, then all that is in force
    /// is said.
    fn go_on(&mut self) {
        self.line(&format!("G0 Z{}", self.grid.text(self.safe_z)));
        self.written[2] = Some(self.safe_z);
        self.asked[2] = Some(self.grid.mm(self.safe_z));
        self.in_full = true;
        self.feed = None;
    }

    fn cutter(&mut self, number: u32, note: &str) -> Result<(), WriteError> {
        if self.cutter == Some(number) {
            return Ok(());
        }
        let text = format!("Cutter {number}: {note}");
        if self.can.change_in_program {
            self.rise();
            self.line("M5");
            self.say(&text);
            if !self.can.spindle {
                self.say("Switch the spindle off first");
            }
            self.line(&format!("T{number} M0"));
            self.go_on();
        } else if self.cutter.is_some() {
            return Err(WriteError::SecondCutter { act: self.act });
        } else {
            self.say(&text);
        }
        self.cutter = Some(number);
        Ok(())
    }

    fn spindle(&mut self, rpm: f64, by_hand: &str) -> Result<(), WriteError> {
        if !rpm.is_finite() || !(1.0..=1.0e6).contains(&rpm) {
            return Err(WriteError::NoFeed { act: self.act });
        }
        self.rpm = Some(rpm);
        by_hand.clone_into(&mut self.by_hand);
        if self.can.spindle {
            return self.start_spindle(rpm);
        }
        self.pause(&format!("Switch the spindle on: {by_hand}"));
        Ok(())
    }

    fn start_spindle(&mut self, rpm: f64) -> Result<(), WriteError> {
        self.line(&format!("S{rpm:.0} M3"));
        self.dwell(self.can.start_wait_s)
    }

    fn air(&mut self, on: bool) {
        self.air = on;
        match (self.can.air_relay, on) {
            (true, true) => self.line("M8"),
            (true, false) => self.line("M9"),
            (false, true) => self.say("Air on"),
            (false, false) => self.say("Air off"),
        }
    }

    fn dwell(&mut self, seconds: f64) -> Result<(), WriteError> {
        if !(0.0..=86_400.0).contains(&seconds) {
            return Err(WriteError::BadDwell { act: self.act });
        }
        // Up to the next tenth: never shorter than asked.
        let tenths = (seconds * 10.0 - 1e-6).ceil() as i64;
        if tenths > 0 {
            self.line(&format!("G4 P{}", fixed(tenths, 1)));
        }
        Ok(())
    }

    /// Up to the safe height, if not there or higher already.
    fn rise(&mut self) {
        if self.written[2].is_some_and(|z| z >= self.safe_z) {
            return;
        }
        let mut to = self.written;
        to[2] = Some(self.safe_z);
        self.move_to("G0", to, None, None);
        self.asked[2] = Some(self.grid.mm(self.safe_z));
    }

    fn rapid(&mut self, to: [Option<f64>; 3]) -> Result<(), WriteError> {
        let mut target = self.written;
        for axis in 0..3 {
            let Some(value) = to[axis] else { continue };
            self.check_coordinate(value)?;
            self.asked[axis] = Some(value);
            target[axis] = Some(self.steps(axis, value));
        }
        self.move_to("G0", target, None, None);
        Ok(())
    }

    fn feed(&mut self, to: [f64; 3], feed: f64) -> Result<(), WriteError> {
        self.start()?;
        let feed = self.feed_steps(feed)?;
        for (axis, value) in to.into_iter().enumerate() {
            self.check_coordinate(value)?;
            self.asked[axis] = Some(value);
        }
        let target = [0, 1, 2].map(|axis| Some(self.steps(axis, to[axis])));
        self.move_to("G1", target, None, Some(feed));
        Ok(())
    }

    fn arc(&mut self, to: [f64; 3], centre: [f64; 2], ccw: bool, feed: f64) -> Result<(), WriteError> {
        let (from, here) = self.start()?;
        let feed = self.feed_steps(feed)?;
        for value in to.into_iter().chain(centre) {
            self.check_coordinate(value)?;
        }
        let asked = Asked { from, to, centre, ccw };
        if asked.mismatch().abs() > 0.002 {
            return Err(WriteError::ArcRadius { act: self.act, difference: asked.mismatch() });
        }
        for piece in asked.pieces(here, self.can.arcs, &self.grid) {
            match piece {
                Piece::Line(to) => self.move_to("G1", to.map(Some), None, Some(feed)),
                Piece::Arc { to, .. } if self.written[..2] == [Some(to[0]), Some(to[1])] => {
                    self.move_to("G1", to.map(Some), None, Some(feed));
                }
                Piece::Arc { to, offset } => {
                    self.move_to(if ccw { "G3" } else { "G2" }, to.map(Some), Some(offset), Some(feed));
                }
            }
        }
        self.asked = to.map(Some);
        Ok(())
    }

    /// Where the machine stands, as asked and as written.
    fn start(&self) -> Result<([f64; 3], [i64; 3]), WriteError> {
        let unknown = WriteError::UnknownStart { act: self.act };
        match (self.asked, self.written) {
            ([Some(x), Some(y), Some(z)], [Some(i), Some(j), Some(k)]) => Ok(([x, y, z], [i, j, k])),
            _ => Err(unknown),
        }
    }

    /// Writes a motion, unless it ends where it starts. Arcs name both axes of their plane.
    fn move_to(&mut self, code: &str, to: [Option<i64>; 3], offset: Option<[i64; 2]>, feed: Option<i64>) {
        if to == self.written {
            return;
        }
        let mut words = code.to_owned();
        for (axis, letter) in ['X', 'Y', 'Z'].into_iter().enumerate() {
            let always = self.in_full || (offset.is_some() && axis < 2);
            if let Some(steps) = to[axis].filter(|_| always || to[axis] != self.written[axis]) {
                words.push_str(&format!(" {letter}{}", self.grid.text(steps)));
            }
        }
        if let Some([i, j]) = offset {
            words.push_str(&format!(" I{} J{}", self.grid.text(i), self.grid.text(j)));
        }
        if let Some(steps) = feed.filter(|_| feed != self.feed) {
            words.push_str(&format!(" F{}", fixed(steps, self.feed_decimals())));
            self.feed = feed;
        }
        self.line(&words);
        self.in_full = self.in_full && to.contains(&None);
        self.written = to;
    }

    fn steps(&self, axis: usize, mm: f64) -> i64 {
        if axis == 2 { self.grid.up(mm) } else { self.grid.nearest(mm) }
    }

    fn feed_decimals(&self) -> u32 {
        if self.can.inch { 2 } else { 1 }
    }

    /// Down to the last decimal: never faster than asked.
    fn feed_steps(&self, feed: f64) -> Result<i64, WriteError> {
        let scale = if self.can.inch { 100.0 / 25.4 } else { 10.0 };
        let steps = (feed * scale + 1e-6).floor();
        if (1.0..1.0e9).contains(&steps) { Ok(steps as i64) } else { Err(WriteError::NoFeed { act: self.act }) }
    }

    fn check_coordinate(&self, mm: f64) -> Result<(), WriteError> {
        match mm.is_finite() {
            false => Err(WriteError::NotANumber { act: self.act }),
            true if mm.abs() > FARTHEST => Err(WriteError::TooFar { act: self.act }),
            true => Ok(()),
        }
    }
}

/// Why a program could not be written.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WriteError {
    /// A coordinate that is not a number.
    #[error("act {act}: a coordinate is not a number")]
    NotANumber {
        /// Index of the act.
        act: usize,
    },
    /// A feed or a speed that is not above 0.
    #[error("act {act}: a feed must be above 0")]
    NoFeed {
        /// Index of the act.
        act: usize,
    },
    /// A second cutter in a file for a machine that wants a file per cutter.
    #[error("act {act}: this machine wants one file per cutter")]
    SecondCutter {
        /// Index of the act.
        act: usize,
    },
    /// An arc whose radii at start and end differ.
    #[error("act {act}: the arc's start and end lie {difference} mm apart in radius")]
    ArcRadius {
        /// Index of the act.
        act: usize,
        /// mm.
        difference: f64,
    },
    /// A coordinate farther out than any machine reaches.
    #[error("act {act}: a coordinate lies more than {} m out", FARTHEST / 1000.0)]
    TooFar {
        /// Index of the act.
        act: usize,
    },
    /// A cut before a rapid has said where it starts.
    #[error("act {act}: a cut needs a rapid to its start before it")]
    UnknownStart {
        /// Index of the act.
        act: usize,
    },
    /// A place to start again from that is not at the safe height.
    #[error("act {act}: the tip is not at the safe height, and a program must not start again there")]
    NotSafe {
        /// Index of the act.
        act: usize,
    },
    /// A wait that is not a time.
    #[error("act {act}: a wait must be 0 s or more")]
    BadDwell {
        /// Index of the act.
        act: usize,
    },
    /// A work offset outside 54 to 59.
    #[error("G{offset} is not a work offset: it must be 54 to 59")]
    WorkOffset {
        /// What was asked for.
        offset: u32,
    },
}
