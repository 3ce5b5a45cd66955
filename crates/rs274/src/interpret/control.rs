//! The control's state, and what each line of a program does to it in the order of NISTIR 6556 table 8.

use super::arc;
use super::block::Block;
use super::cycle::{Hole, Manner, Stroke};
use super::value::{Parameters, whole};
use super::words::{Words, check_uses, spoken};
use super::{Event, Panel, What};

/// The control's state while it runs a program.
pub(super) struct Control<'a> {
    line: u32,
    tell: &'a mut dyn FnMut(Event),
    panel: Panel,
    ended: bool,
    parameters: Parameters,
    /// mm from the touched-off zero; NaN where unknown.
    position: [f64; 3],
    /// The program's zero from the touched-off one, mm (G92).
    shift: [f64; 3],
    /// What G92.3 brings back, once the program has set it.
    kept_shift: Option<[f64; 3]>,
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
    /// Strokes of cycles so far.
    strokes: u32,
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

/// No length, mm, and no feed, mm/min, of any machine is greater; beyond, sums would lose their thousandths.
const FARTHEST: f64 = 1e9;
/// Most strokes of all cycles of a program, more than a machine makes in two days: a bound on what a short text can ask for.
const MOST_STROKES: u32 = 1_000_000;
pub(super) const AXES: [u8; 3] = [b'X', b'Y', b'Z'];

/// A length or a feed, if it is one that a machine could have.
fn within_reach(value: f64) -> Result<f64, String> {
    if value.abs() <= FARTHEST { Ok(value) } else { Err(format!("{value:e} mm, or mm/min, is beyond every machine")) }
}

impl<'a> Control<'a> {
    pub(super) fn new(panel: Panel, tell: &'a mut dyn FnMut(Event)) -> Self {
        Self {
            line: 0,
            tell,
            panel,
            ended: false,
            parameters: Parameters::new(),
            position: [f64::NAN; 3],
            shift: [0.0; 3],
            kept_shift: None,
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
            strokes: 0,
        }
    }

    /// Whether M2 or M30 has been run.
    pub(super) fn has_ended(&self) -> bool {
        self.ended
    }

    /// Ends without M2 or M30.
    pub(super) fn run_out(&mut self, line: u32) -> Result<(), String> {
        if self.shift != [0.0; 3] {
            return Err(
                "the zero shifted by G92 stays so after this program: take it back by G92.1, or end by M2".into()
            );
        }
        self.line = line;
        self.tell(What::End);
        Ok(())
    }

    /// Runs a line; `block` is room for it, used again and again.
    pub(super) fn run_line(&mut self, line: u32, code: &str, block: &mut Block) -> Result<(), String> {
        if self.panel.skip_marked_lines && code.trim_start().starts_with('/') {
            return Ok(());
        }
        self.line = line;
        block.read(code, &self.parameters)?;
        self.parameters.extend(block.settings.iter().copied());
        self.run_block(block, &Words::of(block)?)
    }

    fn tell(&mut self, what: What) {
        (self.tell)(Event { line: self.line, what });
    }

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
        if words.g(0) == Some(40) {
            self.dwell(block)?;
        }
        self.set_modes(words);
        if let Some(code @ 920..=923) = words.g(0) {
            self.shift_zero(code, block)?;
        }
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
        if words.g(0) == Some(920) {
            return match words.g(1) {
                None | Some(800) if axes => Ok(None),
                None | Some(800) => Err("G92 needs at least one of X, Y and Z".into()),
                Some(code) => Err(format!("G92 and {} both want the axis words of the line", spoken(code))),
            };
        }
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
        if !self.inverse_time {
            self.feed = self.length(block, b'F')?.or(self.feed);
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
        if let Some(code) = words.m(8) {
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

    fn set_modes(&mut self, words: &Words) {
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
        if let Some(path) = words.g(13) {
            self.tell(What::LeavesPath(path == 640));
        }
        if let Some(distance) = words.g(3) {
            self.incremental = distance == 910;
        }
        if let Some(level) = words.g(10) {
            self.returns_high = Some(level == 980);
        }
    }

    /// §3.5.18: G92 gives the place where the cutter stands the coordinates on the line, in all work offsets, G91 or not.
    fn shift_zero(&mut self, code: u32, block: &Block) -> Result<(), String> {
        let mut shift = self.shift;
        match code {
            920 => {
                for (axis, letter) in AXES.into_iter().enumerate() {
                    let Some(value) = self.length(block, letter)? else { continue };
                    shift[axis] = within_reach(self.known(axis)? - value)?;
                }
                self.kept_shift = Some(shift);
            }
            921 => (shift, self.kept_shift) = ([0.0; 3], Some([0.0; 3])),
            922 => shift = [0.0; 3],
            _ => {
                let unknown = || "G92.3 brings back a shift that this program has not set".to_owned();
                shift = self.kept_shift.ok_or_else(unknown)?;
            }
        }
        self.shift = shift;
        self.tell(What::Shifted(shift));
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
        block.word(letter).map(|value| within_reach(value * self.unit()?)).transpose()
    }

    /// Where the axis words point, mm.
    fn target(&self, block: &Block) -> Result<[f64; 3], String> {
        let mut to = self.position;
        for (axis, letter) in AXES.into_iter().enumerate() {
            let Some(value) = self.length(block, letter)? else { continue };
            to[axis] = within_reach(value + if self.incremental { self.known(axis)? } else { self.shift[axis] })?;
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
            Some(f) if f > 0.0 && way.is_finite() => within_reach(way * f),
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
        if hole.stops_the_spindle() && self.turning == 0.0 {
            return Err(format!("{} stops the spindle in the hole, and the program has not started it", spoken(code)));
        }
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
        let height = self.known(self.axis)?;
        let mut above = self.target(block)?;
        above[self.axis] = height;
        if above != self.position {
            self.go(above, None);
        }
        if height != retract {
            self.go_along(retract, None);
        }
        for &stroke in strokes {
            self.strokes += 1;
            if self.strokes > MOST_STROKES {
                return Err("the cycles make more strokes than any piece needs".into());
            }
            self.make(stroke, feed);
        }
        Ok(())
    }

    fn make(&mut self, stroke: Stroke, feed: f64) {
        match stroke {
            Stroke::Feed(to) => self.go_along(to, Some(feed)),
            Stroke::Rapid(to) if to == self.position[self.axis] => {}
            Stroke::Rapid(to) => self.go_along(to, None),
            Stroke::Dwell(seconds) => self.tell(What::Dwell(seconds)),
            Stroke::Still => self.tell(What::Spindle(0.0)),
            Stroke::TurnAgain => self.tell(What::Spindle(self.turning * self.speed)),
            Stroke::ByHand => {
                self.tell(What::Stop);
                self.position[self.axis] = f64::NAN;
            }
        }
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
        let shift = self.shift[self.axis];
        let (retract, bottom) = if self.incremental { (start + r, start + r + z) } else { (r + shift, z + shift) };
        within_reach(retract.abs().max(bottom.abs()))?;
        if retract < bottom {
            return Err(format!("the retract plane {retract} lies below the bottom {bottom}"));
        }
        let clear = self.clear(start, retract)?;
        let manner = Manner::of(code, kept.dwell, kept.peck)?;
        self.sticky = kept;
        Ok(Hole { retract, bottom, clear, manner })
    }

    /// How high a hole ends (G98, G99).
    fn clear(&self, start: f64, retract: f64) -> Result<f64, String> {
        match self.returns_high {
            _ if start <= retract => Ok(retract),
            Some(true) => Ok(start),
            Some(false) => Ok(retract),
            None => Err("neither G98 nor G99 says how high the cycle returns".into()),
        }
    }
}
