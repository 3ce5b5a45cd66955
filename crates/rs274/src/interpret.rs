//! Reading programs: text to the motions a machine would make.

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
    /// Straight motion. The first motion of an axis starts from an unknown place: `from` is NaN there.
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
    /// Cutter in the spindle from now on.
    Cutter(u32),
    /// Spindle turns (clockwise) at rev/min; 0 stops it.
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

/// Runs a program. Everything unknown is an error: nothing is skipped silently.
///
/// # Errors
/// The first [`ReadError`].
pub fn run(text: &str) -> Result<Vec<Event>, ReadError> {
    let _ = text;
    todo!()
}
