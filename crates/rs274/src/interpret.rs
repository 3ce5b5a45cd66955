//! Reading programs: text to the motions a machine would make (NISTIR 6556 §3).
//!
//! A second opinion on what a control will do, so it refuses whatever it cannot know, and skips nothing silently. Position,
//! feed and units are unknown until the program states them. A change by hand is a T word on the line of an M0.
//!
//! Positions are those of the touched-off zero. A shift of it by G92 is known, for the program itself states it: it is
//! followed and told as [`What::Shifted`], taking it that none stands when the program begins (M2 and M30 leave none,
//! §3.6.1), and a program that ends by `%` alone with its zero shifted is refused. Refused, too, with the reason at their line:
//!
//! - machine coordinates (G53), homes (G28, G30) and origins set in machine coordinates (G10 L2, parameters from 5001 on):
//!   where the touched-off zero lies in them only the machine knows;
//! - cutter lengths and radius compensation (G43, G41, G42): they stand in a table of the machine;
//! - probing (G38.2), which ends where the probe touches;
//! - G84 and G87, which need a spindle that keeps in step with the feed or stops at an angle.

mod arc;
mod block;
mod control;
mod cycle;
mod lines;
mod value;
mod words;

use block::Block;
use control::Control;
use lines::Lines;
use std::io::BufRead;

/// One event, in the order of execution. Positions in mm from the touched-off zero of the work offset in force.
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
    /// G92, G92.1, G92.2 or G92.3: the program's zero lies here from now on, seen from the touched-off one, in mm.
    Shifted([f64; 3]),
    /// Whether the control may leave the path to keep its feed through corners (G64), by how much only it knows; G61 and G61.1
    /// keep to the path.
    LeavesPath(bool),
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

/// Runs a program with every switch off.
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
    let mut events = Vec::new();
    follow(text.as_bytes(), panel, &mut |event| events.push(event))?;
    Ok(events)
}

/// Runs a program of any length and tells each event as it happens; what it keeps meanwhile is bounded by the longest line
/// (256 characters) and the parameters (5000), not by the text. Of a program that is refused, the events before the fault
/// have been told.
///
/// ```
/// use rs274::interpret::{Panel, What, follow};
/// let text = std::io::Cursor::new("g21\ng0 z5\nf300\ng1 z-1\nm2\n"); // or a file in a `BufReader`
/// let mut lowest = f64::INFINITY;
/// follow(text, Panel::default(), &mut |event| {
///     if let What::Straight { to, .. } = event.what {
///         lowest = lowest.min(to[2]);
///     }
/// })?;
/// assert_eq!(lowest, -1.0);
/// # Ok::<(), rs274::interpret::ReadError>(())
/// ```
///
/// # Errors
/// The first [`ReadError`]; one of the source of the text, too, stands at its line.
pub fn follow(text: impl BufRead, panel: Panel, tell: &mut dyn FnMut(Event)) -> Result<(), ReadError> {
    let fault = |line, text: &str| Err(ReadError { line, text: text.into() });
    let mut lines = Lines::of(text);
    let mut more = lines.advance()?;
    while more && lines.is_blank() {
        more = lines.advance()?;
    }
    if !more {
        return fault(1, "the program is empty");
    }
    let opened = lines.is_percent().then(|| lines.number());
    if opened.is_some() {
        more = lines.advance()?;
    }
    let (mut control, mut block) = (Control::new(panel, tell), Block::default());
    while more && !control.has_ended() {
        let line = lines.number();
        let closes = opened.is_some() && lines.is_percent();
        let ran = if closes {
            control.run_out(line)
        } else {
            lines.text().and_then(|code| control.run_line(line, code, &mut block))
        };
        ran.map_err(|text| ReadError { line, text })?;
        if closes {
            return Ok(());
        }
        more = lines.advance()?;
    }
    // What follows the end is not read, but for the `%` that closes.
    while more && opened.is_some() && !lines.is_percent() {
        more = lines.advance()?;
    }
    match opened {
        Some(line) if !more => fault(line, "the program opens with `%`, but no second `%` ends it"),
        None if !control.has_ended() => {
            fault(lines.number(), "the program has no end: M2, M30, or a `%` before and after it")
        }
        _ => Ok(()),
    }
}
