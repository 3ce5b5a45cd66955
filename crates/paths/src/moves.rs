//! Moves of the tip, and what all strategies are told.

/// One move of the tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    /// As fast as the machine goes, in a straight line; only through air.
    Rapid {
        /// Target.
        to: [f64; 3],
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
        /// Centre.
        centre: [f64; 2],
        /// Counter-clockwise seen from +Z.
        ccw: bool,
        /// mm/min along the path.
        feed: f64,
    },
}

/// What every strategy is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Work {
    /// Height at which the tip may travel anywhere, mm.
    pub safe_z: f64,
    /// Rapids come down to this far above standing material before feeding, mm.
    pub approach: f64,
    /// Feed when cutting, mm/min.
    pub feed: f64,
    /// Feed when ramping or plunging, mm/min.
    pub plunge_feed: f64,
    /// Ramp angle, degrees.
    pub ramp_deg: f64,
    /// Whether the cutter can plunge straight down.
    pub plunges: bool,
    /// Climb (else conventional).
    pub climb: bool,
    /// Greatest distance of a move from the true path, either side, mm.
    pub tolerance: f64,
}
