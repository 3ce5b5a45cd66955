//! Casts of wells: a river across the piece, pockets strewn over its floor.

use super::{CLEARLY_THROUGH, Cast, EDGE_FACTOR, Maker, RESIN_SKIN, apart, stream_of};
use crate::crossing::Crossing;
use crate::drips::uniform;
use crate::outline::{Insets, Outline, Station};
use crate::river::River;
use crate::well::Well;
use base::{Length, Report};
use geom::{DVec2, DVec3};
use job::{CastForm, CastSpec, Placed};
use rand_pcg::Pcg32;
use std::f64::consts::PI;

/// Least skin of wood under a hollow, mm. Common practice, no source.
const WOOD_SKIN: f64 = 2.0;
/// Nearer to the floor than this a hollow's bottom may not lie above it, mm. Common practice, no source.
const ABOVE_FLOOR: f64 = 1.0;
/// Deeper than this times its width a hollow traps air in thick resin. Common practice, no source.
const DEEPEST_SLOT: f64 = 3.0;
/// Least radius of wood that a river bends around, mm: less is a point that breaks. Common practice, no source.
const LEAST_BEND: f64 = 6.0;
/// Places tried for each pocket.
const TRIES: u32 = 4000;

/// How far a river runs beyond the outline, mm; other casts do not.
pub fn reach_beyond(outline: &Outline, spec: &CastSpec, seed: u64) -> f64 {
    let CastForm::River { width, .. } = &spec.form else { return 0.0 };
    // The cutter is not chosen yet; no fillet is wider than half the river.
    river(spec, seed).map_or(0.0, |r| r.reach(outline, CLEARLY_THROUGH + 0.5 * width.value.as_mm()))
}

/// The course of a river, from its sizes and its own chance.
fn river(spec: &CastSpec, seed: u64) -> Option<River> {
    let CastForm::River { width, swing, wave, aside, angle_deg, .. } = &spec.form else { return None };
    let mut chance = Pcg32::new(seed, stream_of(&spec.name.value));
    Some(River {
        half: 0.5 * width.value.as_mm(),
        swing: swing.value.as_mm(),
        wave: wave.value.as_mm(),
        phase: uniform(&mut chance, 0.0, 2.0 * PI),
        aside: aside.as_mm(),
        along: DVec2::from_angle(angle_deg.to_radians()),
    })
}

impl Maker<'_> {
    pub(super) fn river(&self, seed: u64, report: &mut Report) -> Option<Cast> {
        let CastForm::River { width, depth, swing, .. } = &self.spec.form else { return None };
        let course = river(self.spec, seed)?;
        let (units, at) = (self.piece.units, swing.at.or(self.spec.at));
        let fine = self.check_width(width.value.as_mm(), width.at, report);
        let bottom_z = self.bottom(depth, width.value, report)?;
        if !fine {
            return None;
        }
        if course.tightest() - course.half < LEAST_BEND {
            let text = format!(
                "the river's bends have a radius of {} in its middle, and {} wide it leaves points of wood inside them",
                units.near(course.tightest()),
                units.told(width.value.as_mm())
            );
            let (half, wave) = (course.half + LEAST_BEND, course.wave);
            let most = (wave / (2.0 * PI)).powi(2) / half;
            let hint = format!("let it swing {} at most, or make its wave longer", units.down(most));
            report.error("tight-bend", at, text).hint(hint);
            return None;
        }
        let fillet = EDGE_FACTOR * self.room.cutter_radius;
        let Some(ends) = course.ends(&self.piece.outline, self.room.beyond_outline.max(CLEARLY_THROUGH + fillet))
        else {
            let text = "the river runs beside the piece";
            report.error("cast-misses", self.spec.at, text).hint("bring `aside` nearer to 0");
            return None;
        };
        let well = Well { stations: course.stations(ends, 0.5 * self.tolerance), bottom_z, fillet };
        self.wells(&[well], depth, report)
    }

    pub(super) fn speckle(&self, seed: u64, report: &mut Report) -> Option<Cast> {
        let CastForm::Speckle { count, width, depth } = &self.spec.form else { return None };
        let fine = self.check_width(width.value[0].as_mm(), width.at, report);
        let bottom_z = self.bottom(depth, width.value[0], report)?;
        if bottom_z > self.piece.floor_z {
            let text = "pockets are strewn over the floor, and these end above it";
            let hint = format!("make them {} deep or deeper", self.piece.units.up(self.floor_depth()));
            report.error("cast-above-floor", depth.at, text).hint(hint);
            return None;
        }
        if !fine {
            return None;
        }
        let places = self.strewn(count.value, width.value.map(Length::as_mm), seed);
        if (places.len() as u32) < count.value {
            let text = format!(
                "{} pockets do not fit on the floor with {} of wood between them",
                count.value,
                self.piece.units.up(self.room.least_tongue)
            );
            let hint = match places.len() {
                0 => "make them narrower".to_owned(),
                n => format!("ask for {n} of them, or make them narrower"),
            };
            report.error("pockets-do-not-fit", count.at, text).hint(hint);
            return None;
        }
        let fillet = EDGE_FACTOR * self.room.cutter_radius;
        let wells: Vec<Well> = places
            .iter()
            .map(|&(centre, radius)| {
                let steps = crate::profile::arc_steps(radius, 2.0 * PI, 0.5 * self.tolerance).next_multiple_of(2);
                let turn = |k: usize| DVec2::from_angle(2.0 * PI * k as f64 / steps as f64);
                let station = |k| Station { point: centre + turn(k) * radius, outward: turn(k) };
                Well { stations: (0..steps).map(station).collect(), bottom_z, fillet }
            })
            .collect();
        self.wells(&wells, depth, report)
    }

    /// Middles and radii of pockets that lie on the level floor, apart from each other, up to the first that finds no place.
    fn strewn(&self, count: u32, width: [f64; 2], seed: u64) -> Vec<(DVec2, f64)> {
        let mut chance = Pcg32::new(seed, stream_of(&self.spec.name.value));
        let (outline, half) = (&self.piece.outline, self.piece.outline.half_size());
        let edge = self.piece.section().inside.bottom().x;
        let floor = outline.stations(Insets { least: 0.0, greatest: edge }, self.tolerance);
        let floor = geom::Ring(floor.iter().map(|s| s.inset(edge)).collect());
        let mut places: Vec<(DVec2, f64)> = Vec::new();
        for _ in 0..count {
            let radius = 0.5 * uniform(&mut chance, width[0], width[1]);
            let found = (0..TRIES).find_map(|_| {
                let p = DVec2::new(uniform(&mut chance, -half.x, half.x), uniform(&mut chance, -half.y, half.y));
                let clear = |&(q, r): &(DVec2, f64)| p.distance(q) >= radius + r + self.room.least_tongue;
                (floor.holds(p) && floor.distance(p) >= radius + CLEARLY_THROUGH && places.iter().all(clear))
                    .then_some(p)
            });
            let Some(p) = found else { break };
            places.push((p, radius));
        }
        places
    }

    /// From the rim down to a skin of resin under the floor.
    fn floor_depth(&self) -> f64 {
        self.piece.height - self.piece.floor_z + RESIN_SKIN[usize::from(self.spec.translucent)]
    }

    /// z of the level bottom: clear of the floor on either side, with wood left below it.
    fn bottom(&self, depth: &Placed<Length>, narrowest: Length, report: &mut Report) -> Option<f64> {
        let (units, piece) = (self.piece.units, self.piece);
        let deep = depth.value.as_mm();
        let bottom_z = piece.height - deep;
        let at = depth.at.or(self.spec.at);
        let foot = piece.recess.map_or(0.0, |[recess, _]| recess);
        if bottom_z < foot + WOOD_SKIN {
            let text = format!(
                "a hollow {} deep leaves {} of wood under it, and {} is the least",
                units.told(deep),
                units.fine((bottom_z - foot).max(0.0)),
                units.told(WOOD_SKIN)
            );
            let hint =
                format!("make it {} deep at most, or the floor thicker", units.down(piece.height - foot - WOOD_SKIN));
            report.error("thin-wood", at, text).hint(hint);
            return None;
        }
        let skin = RESIN_SKIN[usize::from(self.spec.translucent)];
        if bottom_z > piece.floor_z - skin && bottom_z < piece.floor_z + ABOVE_FLOOR {
            let text = format!(
                "the bottom of a hollow {} deep runs along the floor, which is {} below the rim",
                units.told(deep),
                units.told(piece.height - piece.floor_z)
            );
            let hint = format!(
                "make it {} deep or deeper, so that resin shows in the floor, or {} at most",
                units.up(self.floor_depth()),
                units.down(piece.height - piece.floor_z - ABOVE_FLOOR)
            );
            report.error("grazing-cast", at, text).hint(hint);
            return None;
        }
        if deep > DEEPEST_SLOT * narrowest.as_mm() {
            let text = format!(
                "a hollow {} deep and {} wide traps air under thick resin",
                units.told(deep),
                units.told(narrowest.as_mm())
            );
            report.warning("deep-slot", at, text).hint("pour it in thin layers with a slow resin, or make it wider");
        }
        Some(bottom_z)
    }

    /// The wells as one cast.
    fn wells(&self, wells: &[Well], depth: &Placed<Length>, report: &mut Report) -> Option<Cast> {
        let least = Crossing { degrees: 90.0, at: DVec3::NAN };
        let crossing = wells.iter().fold(least, |c, w| c.least(w.crossing(self.piece)));
        let hint =
            "let it cross the wall more squarely: more in the middle, straighter, or where the outside is steeper";
        if !self.check_crossing(crossing, depth.at.or(self.spec.at), hint, report) {
            return None;
        }
        let hollow = apart(wells.iter().map(|well| well.mesh(self.room.face_z, 0.5 * self.tolerance)));
        let in_piece = self.resin_of(&hollow, report)?;
        let middle = wells[0].ring();
        let pour_at = geom::Region { rings: vec![middle] }.inner_point()?;
        let corner = wells.iter().map(|w| tightest(&w.stations)).fold(f64::INFINITY, f64::min);
        Some(Cast {
            name: self.spec.name.value.clone(),
            hollow,
            in_piece,
            bottom_z: wells[0].bottom_z,
            ring: false,
            pour_at,
            crossing_deg: crossing.degrees,
            crossing_at: crossing.at.to_array(),
            least_concave: corner.min(wells[0].fillet),
            least_tongue: f64::INFINITY,
        })
    }
}

/// Least radius of a curve where it is convex: that is where the hollow has its corners.
fn tightest(stations: &[Station]) -> f64 {
    let next = stations.iter().cycle().skip(1);
    stations.iter().zip(next).fold(f64::INFINITY, |least, (a, b)| {
        let turn = a.outward.angle_to(b.outward);
        if turn > 1e-9 { least.min(a.point.distance(b.point) / (2.0 * (0.5 * turn).sin())) } else { least }
    })
}
