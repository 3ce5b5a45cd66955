//! Writing programs: a typed program and the abilities of a machine make a text.

/// What a machine's control can read.
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
        /// What to set by hand where the machine does not set it.
        by_hand: String,
    },
    /// Stop the spindle.
    SpindleOff,
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
    /// Arc or helix in XY at feed.
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
    /// Wait.
    Dwell(f64),
}

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

/// Writes the text: conservative subset, one command of a kind per line, Z rounded upwards (never down into the work).
///
/// # Errors
/// A [`WriteError`] if an act cannot be said to this machine.
pub fn write(program: &Program, capabilities: &Capabilities) -> Result<String, WriteError> {
    let _ = (program, capabilities);
    todo!()
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
}
