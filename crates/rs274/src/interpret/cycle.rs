//! The drilling cycles G81, G82 and G83 as plain moves (§3.5.16).

/// One hole, coordinates along the drilling axis in mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hole {
    /// Retract plane.
    pub(super) retract: f64,
    /// Bottom.
    pub(super) bottom: f64,
    /// Height to return to.
    pub(super) clear: f64,
    /// Depth of one peck.
    pub(super) peck: Option<f64>,
    /// Wait at the bottom, s.
    pub(super) dwell: Option<f64>,
}

/// One move of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Stroke {
    Rapid(f64),
    Feed(f64),
    Dwell(f64),
}

/// How far above the last bottom a peck's rapid stops: 0.010 in (from memory; the report says "backed off a bit").
const BACK_OFF: f64 = 0.254;
/// Pecks in one hole beyond which the depth of a peck is surely a mistake.
const MOST_PECKS: f64 = 10_000.0;

impl Hole {
    /// The strokes once the cutter stands above the hole in the retract plane.
    pub(super) fn strokes(&self) -> Result<Vec<Stroke>, String> {
        let mut strokes = Vec::new();
        if let Some(peck) = self.peck {
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
        strokes.extend(self.dwell.map(Stroke::Dwell));
        strokes.push(Stroke::Rapid(self.clear));
        Ok(strokes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pecks_go_down_by_q_and_out_to_r() {
        let hole = Hole { retract: 1.0, bottom: -4.0, clear: 5.0, peck: Some(2.0), dwell: None };
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
        assert_eq!(hole.strokes().unwrap(), wanted);
        assert!(Hole { peck: Some(1e-9), ..hole }.strokes().is_err());
    }
}
