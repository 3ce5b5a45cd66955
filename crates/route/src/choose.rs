//! Choosing cutters from the shelf for a machine, a reach and a room; and the speeds to run them at.

use crate::shank::{Wall, too_near};
use shape::Piece;
use trade::cutter::Form;
use trade::shelf::{Cutter, Machine, Shelf, SpindleControl};

/// Room between nut and work when the cutter is at its deepest, mm.
pub(crate) const NUT_CLEAR: f64 = 2.0;
/// Two sizes of a shank or a collet that differ by no more are the same, mm.
const SAME_SHANK: f64 = 0.03;

/// Kinds of cutter an operation can ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Roughs: flat, cutting upwards, two flutes or more.
    Rougher,
    /// Finishes curved skin.
    Ball,
    /// Faces planes.
    Facer,
    /// Engraves: a cone.
    Point,
}

impl Kind {
    /// Whether a cutter is of this kind.
    pub(crate) fn is(self, c: &Cutter) -> bool {
        match self {
            Self::Rougher => c.solid.form == Form::Flat && c.helix_deg > 0.0 && c.flutes >= 2,
            Self::Ball => c.solid.form == Form::Ball,
            Self::Facer => c.solid.form == Form::Flat && c.flutes >= 2,
            Self::Point => matches!(c.solid.form, Form::Cone { .. }),
        }
    }

    /// In trade words.
    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Rougher => "flat up-spiral cutter",
            Self::Ball => "ball nose",
            Self::Facer => "flat cutter",
            Self::Point => "pointed cutter",
        }
    }
}

/// What an operation asks of its cutter.
#[derive(Clone, Copy)]
pub(crate) struct Need<'a> {
    /// Of this kind.
    pub(crate) kind: Kind,
    /// Height of standing material beside the cutter at its deepest, mm.
    pub(crate) depth: f64,
    /// Greatest stick-out that still fits between nut at the top and work, mm.
    pub(crate) stickout_max: f64,
    /// Greatest cutting diameter, mm.
    pub(crate) diameter_max: f64,
    /// What strokes ask of a pointed cutter.
    pub(crate) strokes: Option<Strokes>,
    /// The wall that its neck and shank must clear.
    pub(crate) beside: Option<Beside<'a>>,
}

/// Strokes to be engraved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Strokes {
    /// Angle between side and middle of their section, degrees.
    pub(crate) half_angle_deg: f64,
    /// How deep they go, mm.
    pub(crate) deepest: f64,
    /// Width of the thinnest, mm.
    pub(crate) thinnest: f64,
}

impl Need<'_> {
    /// The kind of cutter, and at what angle its sides stand where that matters.
    pub(crate) fn words(&self) -> String {
        match self.strokes {
            Some(s) => format!("{} of {}°", self.kind.words(), 2.0 * s.half_angle_deg),
            None => self.kind.words().to_owned(),
        }
    }
}

/// A wall of a piece beside the cutter.
#[derive(Clone, Copy)]
pub(crate) struct Beside<'a> {
    /// The piece.
    pub(crate) piece: &'a Piece,
    /// Which of its walls.
    pub(crate) side: Side,
    /// What is left on it by the cutter, mm.
    pub(crate) left_on: f64,
}

/// Walls.
#[derive(Clone, Copy)]
pub(crate) enum Side {
    /// An upright one of that height.
    Upright(f64),
    /// The inside, from the floor up to this height of the piece.
    Inside(f64),
    /// The outside, from this height of the piece down to the foot.
    Outside(f64),
}

impl Beside<'_> {
    /// By how much neck or shank of a cutter come too near, mm; 0 or less where they clear the wall.
    fn too_near(&self, cutter: &Cutter) -> f64 {
        let piece = self.piece;
        let wall = |height: f64, run: &dyn Fn(f64) -> f64, slope_deg: &dyn Fn(f64) -> f64| {
            too_near(&cutter.solid, &Wall { run, height, slope_deg }, self.left_on)
        };
        match self.side {
            Side::Upright(height) => wall(height, &|_| 0.0, &|_| 90.0),
            Side::Inside(top) => {
                let z = |h: f64| (piece.floor_z + h).min(piece.height);
                wall(top - piece.floor_z, &|h| -piece.inside_inset(z(h)), &|h| piece.inside_slope_deg(z(h)))
            }
            Side::Outside(top) => {
                let z = |h: f64| (top - h).clamp(0.0, piece.height);
                wall(top, &|h| piece.outside_inset(z(h)), &|h| piece.outside_slope_deg(z(h)))
            }
        }
    }
}

/// What a cutter of the right kind lacks for a need.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Lack {
    /// It does not reach deep enough with the nut clear of the work, by so many mm.
    Reach(f64),
    /// It sticks out too far for its tip to rise above the stock, by so many mm.
    Room(f64),
    /// It is too thick, by so many mm.
    Thick(f64),
    /// Its shank fits no collet of the machine.
    Collet,
    /// The angle between its sides, degrees, is not that of the strokes.
    Angle(f64),
    /// Its edges do not go deep enough, by so many mm.
    Edge(f64),
    /// The flat at its point is too wide for the thinnest stroke, by so many mm.
    Blunt(f64),
    /// Its neck or shank would rub a wall as steep as this, too near by so many mm.
    Shank(f64),
}

/// Angles that differ by no more are the same, degrees.
const SAME_ANGLE: f64 = 0.05;
/// A stroke is this much wider than the flat of the point. Common practice, no source.
const STROKE_ROOM: f64 = 1.15;

/// What a pointed cutter lacks for strokes.
fn lacks_for(strokes: &Strokes, c: &Cutter) -> Vec<Lack> {
    let Form::Cone { half_angle_deg, tip_diameter } = c.solid.form else { return Vec::new() };
    let mut lacks = Vec::new();
    if (half_angle_deg - strokes.half_angle_deg).abs() > SAME_ANGLE {
        lacks.push(Lack::Angle(2.0 * half_angle_deg));
    }
    let cone = (c.solid.diameter - tip_diameter) / 2.0 / half_angle_deg.to_radians().tan();
    let edge = cone.min(c.solid.flute_length);
    if edge < strokes.deepest {
        lacks.push(Lack::Edge(strokes.deepest - edge));
    }
    if STROKE_ROOM * tip_diameter > strokes.thinnest {
        lacks.push(Lack::Blunt(tip_diameter - strokes.thinnest / STROKE_ROOM));
    }
    lacks
}

/// Greatest stick-out that lets the tip rise to `clearance` above stock whose top is `height` above the machine's table.
pub(crate) fn stickout_room(machine: &Machine, height: f64, clearance: f64) -> f64 {
    machine.gap - height - clearance
}

/// Depth to which a cutter that sticks out so far cuts with the nut clear of the work, mm.
pub(crate) fn reach(stickout: f64) -> f64 {
    stickout - NUT_CLEAR
}

/// What a cutter lacks for a need; nothing if it serves.
pub(crate) fn lacks(c: &Cutter, machine: &Machine, need: &Need<'_>) -> Vec<Lack> {
    let s = &c.solid;
    let mut lacks = Vec::new();
    if !machine.collets.iter().any(|k| (k - s.shank_diameter).abs() < SAME_SHANK) {
        lacks.push(Lack::Collet);
    }
    if s.diameter > need.diameter_max {
        lacks.push(Lack::Thick(s.diameter - need.diameter_max));
    }
    if reach(s.stickout) < need.depth {
        lacks.push(Lack::Reach(need.depth - reach(s.stickout)));
    }
    if s.stickout > need.stickout_max {
        lacks.push(Lack::Room(s.stickout - need.stickout_max));
    }
    lacks.extend(need.strokes.iter().flat_map(|strokes| lacks_for(strokes, c)));
    let near = need.beside.map_or(0.0, |wall| wall.too_near(c));
    if near > 1e-9 {
        lacks.push(Lack::Shank(near));
    }
    lacks
}

/// The cutters of the shelf that serve for a need, in the shelf's order.
pub(crate) fn serving<'a>(shelf: &'a Shelf, machine: &Machine, need: &Need<'_>) -> Vec<&'a Cutter> {
    shelf.cutters.iter().filter(|c| need.kind.is(c) && lacks(c, machine, need).is_empty()).collect()
}

/// Speed and feed of a cutter in a material on a machine.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Speeds {
    /// rev/min.
    pub(crate) rpm: f64,
    /// Cutting feed, mm/min.
    pub(crate) feed: f64,
    /// Plunge and ramp feed, mm/min.
    pub(crate) plunge: f64,
    /// What to set by hand where the machine does not.
    pub(crate) by_hand: String,
    /// Chip load, mm per tooth.
    pub(crate) chip_load: f64,
    /// Room left sideways to the finished shape, mm: what roughing leaves; all there is in facing.
    pub(crate) leaves: f64,
}

impl Speeds {
    /// The same for an operation that leaves so much to the next.
    pub(crate) fn leaving(self, leaves: f64) -> Self {
        Self { leaves, ..self }
    }
}

/// Feed over clear ground, as a multiple of the cutting feed. Common practice, no source.
pub(crate) const LINK_FEED: f64 = 3.0;

/// Speeds to plan a path with: the fastest the cutter bears at its stick-out, and the chip load that this machine bears; `resin`
/// where any is cut. What the path then takes decides its feeds: see [`crate::feeds`].
pub(crate) fn speeds(cutter: &Cutter, machine: &Machine, resin: bool) -> Speeds {
    let (rpm, by_hand) = match &machine.spindle {
        SpindleControl::Program { least_rpm, greatest_rpm, .. } => {
            (cutter.rpm_max.clamp(*least_rpm, *greatest_rpm), String::new())
        }
        SpindleControl::Dial { rpm } => {
            let fitting =
                rpm.iter().enumerate().filter(|(_, r)| **r <= cutter.rpm_max).max_by(|a, b| a.1.total_cmp(b.1));
            let (mark, rpm) = fitting.map_or((0, rpm.first().copied().unwrap_or(8000.0)), |(i, r)| (i, *r));
            (rpm, format!("dial {} (about {:.0})", mark + 1, rpm))
        }
    };
    let chip_load = machine.chip_load_share * if resin { cutter.fz_resin } else { cutter.fz_wood };
    let feed = (rpm * f64::from(cutter.flutes) * chip_load).min(machine.feed_max[0]);
    let feed = (feed / 10.0).floor() * 10.0;
    let plunge = ((feed * 0.25).min(machine.feed_max[1]) / 10.0).floor() * 10.0;
    let chip_load = feed / (rpm * f64::from(cutter.flutes));
    Speeds { rpm, feed, plunge: plunge.max(10.0), by_hand, chip_load, leaves: 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shelf() -> Shelf {
        trade::parse(trade::DEFAULT_SHELF, base::FileId(0)).0.unwrap()
    }

    #[test]
    fn what_a_cutter_lacks_is_told_by_how_much() {
        let shelf = shelf();
        let hobby = &shelf.machines[0];
        let need =
            Need { kind: Kind::Ball, depth: 75.0, stickout_max: 74.5, diameter_max: 6.0, strokes: None, beside: None };
        // Ball 6: 6.35 across, 76 out of the nut, shank 6.35, for which the hobby machine has a collet.
        let found = lacks(shelf.cutter(6).unwrap(), hobby, &need);
        let [Lack::Thick(thick), Lack::Reach(short), Lack::Room(over)] = found[..] else { panic!("{found:?}") };
        assert!((thick - 0.35).abs() < 1e-12 && (short - 1.0).abs() < 1e-12 && (over - 1.5).abs() < 1e-12);
        assert!(lacks(shelf.cutter(9).unwrap(), hobby, &need).contains(&Lack::Collet));
    }

    #[test]
    fn what_serves_reaches_fits_and_gets_in() {
        let shelf = shelf();
        let sturdy = shelf.machine().unwrap();
        let need =
            |kind, depth| Need { kind, depth, stickout_max: 90.0, diameter_max: 13.0, strokes: None, beside: None };
        let numbers = |need: Need<'_>| serving(&shelf, sturdy, &need).iter().map(|c| c.number).collect::<Vec<_>>();
        assert_eq!(numbers(need(Kind::Ball, 50.0)), [6, 9]);
        assert_eq!(numbers(need(Kind::Ball, 80.0)), [0; 0]);
        assert!(numbers(need(Kind::Facer, 2.0)).iter().all(|n| *n != 14)); // no. 14 is wider than 13 mm
    }

    #[test]
    fn a_pointed_cutter_has_the_angle_the_edge_and_the_point_of_the_strokes() {
        let shelf = shelf();
        let sturdy = shelf.machine().unwrap();
        // Cutter 13: 60° between its sides, 0.1 mm at the point, edges 11 mm high and (12.7 − 0.1)/2/tan 30° = 10.91 mm as a cone.
        let found = |half_angle_deg, deepest, thinnest| {
            let strokes = Some(Strokes { half_angle_deg, deepest, thinnest });
            let need =
                Need { kind: Kind::Point, depth: 2.0, stickout_max: 90.0, diameter_max: 26.0, strokes, beside: None };
            (serving(&shelf, sturdy, &need).first().map(|c| c.number), lacks(shelf.cutter(13).unwrap(), sturdy, &need))
        };
        assert_eq!(found(30.0, 0.8, 1.2), (Some(13), vec![]));
        assert_eq!(found(45.0, 0.8, 1.2), (None, vec![Lack::Angle(60.0)]));
        let (none, lacks) = found(30.0, 12.0, 0.1);
        let [Lack::Edge(edge), Lack::Blunt(blunt)] = lacks[..] else { panic!("{lacks:?}") };
        assert!(none.is_none() && (edge - 1.088).abs() < 1e-3 && (blunt - (0.1 - 0.1 / 1.15)).abs() < 1e-12);
    }
}
