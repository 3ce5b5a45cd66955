//! The drilling and boring cycles G81, G82, G83, G85, G86, G88 and G89 as plain strokes (§3.5.16).

/// One hole, coordinates along the drilling axis in mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hole {
    /// Retract plane.
    pub(super) retract: f64,
    /// Bottom.
    pub(super) bottom: f64,
    /// Height to return to.
    pub(super) clear: f64,
    pub(super) manner: Manner,
}

/// How a hole is made.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    /// Depth of one peck, mm.
    peck: Option<f64>,
    /// Wait at the bottom, s.
    dwell: Option<f64>,
    out: Out,
}

/// How the cutter comes out of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Out {
    Rapid,
    Feed,
    /// Rapid, the spindle standing still.
    Still,
    /// By hand, the spindle standing still.
    ByHand,
}

impl Manner {
    /// The table of §3.5.16.3 to §3.5.16.12 (what is done at the bottom and on the way out: from memory).
    pub(super) fn of(code: u32, dwell: Option<f64>, peck: Option<f64>) -> Result<Self, String> {
        let waits = || match dwell {
            Some(p) if p >= 0.0 => Ok(dwell),
            _ => Err(format!("G{} needs P, the seconds to wait, not below 0", code / 10)),
        };
        let (dwell, out) = match code {
            810 | 830 => (None, Out::Rapid),
            820 => (waits()?, Out::Rapid),
            850 => (None, Out::Feed),
            860 => (waits()?, Out::Still),
            880 => (waits()?, Out::ByHand),
            890 => (waits()?, Out::Feed),
            _ => return Err(format!("G{} is no cycle", code / 10)),
        };
        match (code, peck) {
            (830, Some(q)) if q > 0.0 => Ok(Self { peck, dwell, out }),
            (830, _) => Err("G83 needs Q, the depth of a peck, above 0".into()),
            _ => Ok(Self { peck: None, dwell, out }),
        }
    }
}

/// Whether a cycle waits at the bottom, and so has a P word.
pub(super) fn waits(code: u32) -> bool {
    matches!(code, 820 | 860 | 880 | 890)
}

/// One stroke of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Stroke {
    Rapid(f64),
    Feed(f64),
    Dwell(f64),
    /// The spindle stops.
    Still,
    /// The program stops, and the person takes the cutter out.
    ByHand,
    /// The spindle turns as before.
    TurnAgain,
}

/// How far above the last bottom a peck's rapid stops: 0.010 in (from memory; the report says "backed off a bit").
const BACK_OFF: f64 = 0.254;
/// Pecks in one hole beyond which the depth of a peck is surely a mistake.
const MOST_PECKS: f64 = 10_000.0;

impl Hole {
    pub(super) fn stops_the_spindle(&self) -> bool {
        matches!(self.manner.out, Out::Still | Out::ByHand)
    }

    /// The strokes once the cutter stands above the hole in the retract plane.
    pub(super) fn strokes(&self) -> Result<Vec<Stroke>, String> {
        let mut strokes = Vec::new();
        if let Some(peck) = self.manner.peck {
            if (self.retract - self.bottom) / peck > MOST_PECKS {
                return Err(format!("a peck of {peck} mm needs more than {MOST_PECKS} pecks"));
            }
            let mut depth = self.retract - peck;
            while depth > self.bottom {
                let back = (depth + BACK_OFF).min(self.retract);
                strokes.extend([Stroke::Feed(depth), Stroke::Rapid(self.retract), Stroke::Rapid(back)]);
                depth -= peck;
            }
        }
        strokes.push(Stroke::Feed(self.bottom));
        strokes.extend(self.manner.dwell.map(Stroke::Dwell));
        match self.manner.out {
            Out::Rapid => strokes.push(Stroke::Rapid(self.clear)),
            Out::Feed => strokes.push(Stroke::Feed(self.clear)),
            Out::Still => strokes.extend([Stroke::Still, Stroke::Rapid(self.clear), Stroke::TurnAgain]),
            Out::ByHand => strokes.extend([Stroke::Still, Stroke::ByHand, Stroke::TurnAgain]),
        }
        Ok(strokes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pecks_go_down_by_q_and_out_to_r() {
        let hole =
            |peck| Hole { retract: 1.0, bottom: -4.0, clear: 5.0, manner: Manner::of(830, None, Some(peck)).unwrap() };
        let wanted = [
            Stroke::Feed(-1.0),
            Stroke::Rapid(1.0),
            Stroke::Rapid(-0.746),
            Stroke::Feed(-3.0),
            Stroke::Rapid(1.0),
            Stroke::Rapid(-2.746),
            Stroke::Feed(-4.0),
            Stroke::Rapid(5.0),
        ];
        assert_eq!(hole(2.0).strokes().unwrap(), wanted);
        assert!(hole(1e-9).strokes().is_err());
    }
}
