//! Casts: hollows a vertical cutter can make, carved from the rim face, in the piece's frame.
//!
//! A ring band is the outline swept as a ring: a level bottom that passes through both skins of the wall, upright sides
//! in the waste on either side, and fillets between them that lie wholly beyond the skins. Rim drips add slots along
//! the outline's normals. Hollow and resin are joined and cut as solids; everything else is read from exact curves.

mod wells;

pub use wells::reach_beyond;

use crate::band::Band;
use crate::crossing::Crossing;
use crate::drips::{CLEARLY_THROUGH, Drip, Wishes, most, place};
use crate::outline::{Insets, LEAST_LEFT};
use crate::piece::Piece;
use crate::sweep;
use base::{At, Length, Report};
use geom::{DVec2, Mesh};
use job::{CastForm, CastSpec, Placed};

/// Concave edges must be at least this many times as round as the cutter. Common practice, no source.
const EDGE_FACTOR: f64 = 1.05;
/// Least thickness of resin left over wood, mm: opaque and translucent. Common practice, no source.
const RESIN_SKIN: [f64; 2] = [1.5, 3.0];
/// A hollow must cross a finished skin at this angle or steeper, degrees. Common practice, no source.
const STEEP_CROSSING_DEG: f64 = 45.0;
/// Below this the edge of wood or resin is a feather that breaks, degrees. Common practice, no source.
const FEATHER_DEG: f64 = 30.0;
/// Thinner than this an edge is weak, mm. Common practice, no source.
const FEATHER: f64 = 1.5;
/// Volume that two casts may share by rounding, mm³.
const SHARED_EPSILON: f64 = 1e-6;

/// What the making must leave for a cast, and what the cutter can reach; comes from the planner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CastRoom {
    /// z of the face the hollow is carved from: H + a_r + ℓ.
    pub face_z: f64,
    /// Radius of the finest cutter for hollows, mm.
    pub cutter_radius: f64,
    /// Least width of a tongue of wood between drips, mm (3; 4 in ring-porous wood).
    pub least_tongue: f64,
    /// How far beyond the outline hollows run into the waste, mm (≥ 1). They run farther where their rounded edges
    /// must clear the wall: at least 1 mm and the radius of that edge.
    pub beyond_outline: f64,
}

/// One cast as solids.
#[derive(Clone, Debug, PartialEq)]
pub struct Cast {
    /// Its name in the job.
    pub name: String,
    /// The whole hollow, from its bottom up to `face_z` exactly (closed mesh).
    pub hollow: Mesh,
    /// The resin left in the finished piece: hollow ∩ piece.
    pub in_piece: Mesh,
    /// Least z of the hollow.
    pub bottom_z: f64,
    /// Whether it is a plain ring along the wall, made only where the piece needs it.
    pub ring: bool,
    /// A point in plan to pour from (deepest place).
    pub pour_at: DVec2,
    /// Least angle between the hollow's skin and the finished skin where they cross, degrees, and where.
    pub crossing_deg: f64,
    /// Where that is.
    pub crossing_at: [f64; 3],
    /// Least radius of its concave edges in plan and section, mm.
    pub least_concave: f64,
    /// Least width of wood between drips, mm (infinite without drips).
    pub least_tongue: f64,
}

/// Builds the solids of the casts of a piece.
pub fn casts(piece: &Piece, specs: &[CastSpec], seed: u64, room: &CastRoom, tolerance: f64) -> (Vec<Cast>, Report) {
    let mut report = Report::default();
    let mut made: Vec<Cast> = Vec::new();
    if let (true, Some(first)) = (piece.is_from_elsewhere(), specs.first()) {
        let text =
            "casts follow an outline and profiles that were drawn: they cannot be laid into a solid from elsewhere yet";
        report.error("cast-in-mesh", first.at, text).hint("take the casts away, or draw the piece");
        return (made, report);
    }
    for spec in specs {
        let maker = Maker { piece, room, tolerance, spec };
        let Some(cast) = maker.cast(seed, &mut report) else { continue };
        check_apart(&made, &cast, spec, &mut report);
        made.push(cast);
    }
    (made, report)
}

/// Two casts must not share a place: the later would be carved out of the earlier's resin.
fn check_apart(made: &[Cast], cast: &Cast, spec: &CastSpec, report: &mut Report) {
    for other in made {
        let shared = match other.hollow.common(&cast.hollow) {
            Ok(shared) => shared.volume(),
            Err(fault) => {
                report.error("cast-solid", spec.at, format!("casts cannot be compared: {fault}"));
                continue;
            }
        };
        if shared > SHARED_EPSILON {
            let text = format!(
                "the hollows of casts {:?} and {:?} share {:.2} ml of the piece and its waste",
                other.name,
                cast.name,
                shared / 1000.0
            );
            report.error("casts-overlap", spec.at, text).hint("leave one of them out, or make one cast of both");
        }
    }
}

struct Maker<'a> {
    piece: &'a Piece,
    room: &'a CastRoom,
    tolerance: f64,
    spec: &'a CastSpec,
}

impl Maker<'_> {
    fn cast(&self, seed: u64, report: &mut Report) -> Option<Cast> {
        if self.room.face_z < self.piece.height {
            let face = self.piece.units.told(self.room.face_z);
            let text = format!("the face to carve from, z = {face}, lies below the rim");
            report.error("cast-face", self.spec.at, text).hint("leave waste beyond the rim");
            return None;
        }
        match &self.spec.form {
            CastForm::RingBand { band: ring } => {
                let band = self.band(ring, report)?;
                let at = ring.at;
                self.finish(band, &[], at, report)
            }
            CastForm::RimDrips { band: ring, count, length, width } => {
                let band = self.band(ring, report);
                let sizes_are_fine = self.check_drip_sizes(ring, length, width, report);
                let band = band?;
                if !sizes_are_fine {
                    return None;
                }
                let wishes = Wishes {
                    ring_z: band.bottom_z,
                    length: length.value.map(Length::as_mm),
                    width: width.value.map(Length::as_mm),
                    least_tongue: self.room.least_tongue,
                    beyond_outline: self.room.beyond_outline,
                };
                let drips = self.drips(&wishes, count, seed, report)?;
                self.finish(band, &drips, length.at.or(self.spec.at), report)
            }
            CastForm::River { .. } => self.river(seed, report),
            CastForm::Speckle { .. } => self.speckle(seed, report),
        }
    }

    /// The ring's section, clear of both skins.
    fn band(&self, band: &Placed<Length>, report: &mut Report) -> Option<Band> {
        let (asked, at) = (band.value.as_mm(), band.at.or(self.spec.at));
        let units = self.piece.units;
        let skin = RESIN_SKIN[usize::from(self.spec.translucent)];
        if !(asked.is_finite() && asked >= skin) {
            let least = units.up(skin);
            let text =
                format!("a ring {} high is too thin: resin over wood must be at least {least}", units.told(asked));
            report.error("thin-resin", at, text).hint(format!("make the band at least {least}"));
            return None;
        }
        let bottom_z = self.piece.height - asked;
        let lowest = self.piece.floor_z + CLEARLY_THROUGH;
        if bottom_z < lowest {
            let text = format!("a ring {} high reaches down to the inside floor", units.told(asked));
            let hint = format!("make the band {} at most", units.down(self.piece.height - lowest));
            report.error("cast-below-floor", at, text).hint(hint);
            return None;
        }
        let fillet = EDGE_FACTOR * self.room.cutter_radius;
        let outer = -self.room.beyond_outline.max(CLEARLY_THROUGH + fillet);
        let inner = self.piece.inside_inset(bottom_z) + CLEARLY_THROUGH + fillet;
        self.check_reach(outer, inner, at, report).then_some(Band { outer, inner, bottom_z, fillet })
    }

    fn check_reach(&self, outer: f64, inner: f64, at: Option<At>, report: &mut Report) -> bool {
        let (outline, units) = (&self.piece.outline, self.piece.units);
        let mut fine = true;
        if -outer > outline.reach_outwards() - LEAST_LEFT {
            let text = format!(
                "the ring must run {} into the waste, but the outline's waists have a radius of only {}",
                units.up(-outer),
                units.down(outline.reach_outwards())
            );
            report.error("waist-too-tight", at, text).hint("make the lobes shallower or fewer, or use a finer cutter");
            fine = false;
        }
        let most = outline.reach_inwards() - LEAST_LEFT;
        if inner > most {
            let text = format!(
                "the ring's inner side must lie {} inside the outline, but its tightest corner allows {}",
                units.up(inner),
                units.down(most)
            );
            report
                .error("inset-beyond-reach", at, text)
                .hint("make the band lower, the wall thinner or the outline's corners rounder, or use a finer cutter");
            fine = false;
        }
        fine
    }

    fn check_drip_sizes(
        &self,
        band: &Placed<Length>,
        length: &Placed<[Length; 2]>,
        width: &Placed<[Length; 2]>,
        report: &mut Report,
    ) -> bool {
        let before = report.findings.len();
        let units = self.piece.units;
        let (lengths, widths) = (length.value.map(Length::as_mm), width.value.map(Length::as_mm));
        for (name, [low, high], at) in [("length", lengths, length.at), ("width", widths, width.at)] {
            if !(low > 0.0 && low <= high && high.is_finite()) {
                let text = format!("a range of {name} from {} to {} is no range", units.told(low), units.told(high));
                report.error("range", at.or(self.spec.at), text).hint("give the lesser size first, above 0");
            }
        }
        self.check_width(widths[0], width.at, report);
        let hangs = band.value.as_mm() + lengths[0];
        if hangs < 0.5 * widths[1] {
            let (wide, hang) = (units.told(widths[1]), units.told(hangs));
            let text = format!("drips {wide} wide cannot end round only {hang} below the rim");
            let long = units.up(lengths[0] + 0.5 * widths[1] - hangs);
            let hint = format!("make drips at least {long} long, or narrower");
            report.error("drip-too-short", length.at.or(self.spec.at), text).hint(hint);
        }
        let ring_z = self.piece.height - band.value.as_mm();
        let room = ring_z - self.piece.floor_z - CLEARLY_THROUGH;
        if lengths[1] > room {
            let text = format!("drips {} long reach below the inside floor", units.told(lengths[1]));
            let hint = format!("make drips {} long at most", units.down(self.longest_drip(ring_z).min(room).max(0.0)));
            report.error("cast-below-floor", length.at.or(self.spec.at), text).hint(hint);
        }
        report.findings.len() == before
    }

    /// The longest drip whose bottom still crosses both skins steeply, to 0.1 mm downwards.
    fn longest_drip(&self, ring_z: f64) -> f64 {
        let steep = |z: f64| {
            self.piece.inside_slope_deg(z) >= STEEP_CROSSING_DEG
                && self.piece.outside_slope_deg(z) >= STEEP_CROSSING_DEG
        };
        let tenths = ((ring_z - self.piece.floor_z) * 10.0).max(0.0) as u32;
        let fitting = (0..=tenths).map(|k| f64::from(k) / 10.0).take_while(|&length| steep(ring_z - length));
        fitting.last().unwrap_or(0.0)
    }

    fn drips(&self, wishes: &Wishes, count: &Placed<u32>, seed: u64, report: &mut Report) -> Option<Vec<Drip>> {
        let stream = stream_of(&self.spec.name.value);
        let at = count.at.or(self.spec.at);
        if count.value == 0 {
            report.error("no-drips", at, "a cast of 0 drips").hint("ask for 1 drip or more, or for a plain ring band");
            return None;
        }
        let most = most(self.piece, wishes);
        if count.value <= most
            && let Some(drips) = place(self.piece, wishes, count.value, seed, stream)
        {
            return Some(drips);
        }
        let fitting = (1..=most.min(count.value - 1)).rev();
        let fits = fitting.into_iter().find(|&n| place(self.piece, wishes, n, seed, stream).is_some()).unwrap_or(0);
        let text = format!(
            "{} drips do not fit round the rim: wood between them must be at least {} wide and at most 4 times as \
             tall as wide",
            count.value,
            self.piece.units.up(wishes.least_tongue)
        );
        let hint = match fits {
            0 => "make drips narrower or shorter".to_owned(),
            n => format!("ask for {n} drips, or make them narrower or shorter"),
        };
        report.error("drips-do-not-fit", at, text).hint(hint);
        None
    }

    /// Solids and measures from the section of the ring and the drips.
    fn finish(&self, band: Band, drips: &[Drip], at: Option<At>, report: &mut Report) -> Option<Cast> {
        let crossing = drips
            .iter()
            .fold(Crossing::of_band(self.piece, &band), |c, d| c.least(Crossing::of_drip(self.piece, &band, d)));
        let longest = self.longest_drip(band.bottom_z);
        let hint = match &self.spec.form {
            CastForm::RimDrips { .. } if longest > 0.0 => {
                format!("make drips {} long at most", self.piece.units.down(longest))
            }
            _ => "make the band lower, so that it ends where the wall is steep".to_owned(),
        };
        if !self.check_crossing(crossing, at, &hint, report) {
            return None;
        }
        let hollow = match self.hollow(&band, drips) {
            Ok(hollow) => hollow,
            Err(fault) => return self.no_solid(&fault, report),
        };
        let in_piece = self.resin_of(&hollow, report)?;
        let lowest = drips.iter().min_by(|a, b| a.bullet.bottom_z.total_cmp(&b.bullet.bottom_z));
        Some(Cast {
            name: self.spec.name.value.clone(),
            hollow,
            in_piece,
            ring: drips.is_empty(),
            bottom_z: lowest.map_or(band.bottom_z, |d| d.bullet.bottom_z.min(band.bottom_z)),
            pour_at: self.pour_at(&band, lowest),
            crossing_deg: crossing.degrees,
            crossing_at: crossing.at.to_array(),
            least_concave: self.least_concave(&band, drips),
            least_tongue: least_gap(drips),
        })
    }

    /// The resin that a hollow leaves in the finished piece.
    fn resin_of(&self, hollow: &Mesh, report: &mut Report) -> Option<Mesh> {
        match hollow.common(&self.piece.mesh) {
            Ok(in_piece) => Some(in_piece),
            Err(fault) => self.no_solid(&fault, report),
        }
    }

    fn no_solid<T>(&self, fault: &geom::mesh::SolidError, report: &mut Report) -> Option<T> {
        let text = format!("the hollow of cast {:?} cannot be made: {fault}", self.spec.name.value);
        report.error("cast-solid", self.spec.at, text).hint("change a size or the seed a little");
        None
    }

    /// Ring and drips as one solid whose top is exactly the face.
    fn hollow(&self, band: &Band, drips: &[Drip]) -> Result<Mesh, geom::mesh::SolidError> {
        let insets = Insets { least: band.outer, greatest: band.inner };
        let stations = self.piece.outline.stations(insets, 0.5 * self.tolerance);
        let ring = sweep::ring(&stations, &band.rows(self.room.face_z, 0.5 * self.tolerance));
        if drips.is_empty() {
            return Ok(ring);
        }
        // Drips do not touch each other, so together they are one solid.
        let slots = apart(drips.iter().map(|drip| drip.bullet.mesh(self.room.face_z, self.tolerance)));
        let mut hollow = ring.union(&slots)?;
        for v in &mut hollow.vertices {
            if (v.z - self.room.face_z).abs() < 1e-6 {
                v.z = self.room.face_z;
            }
        }
        Ok(hollow)
    }

    /// Whether the narrowest place lets the finest cutter for hollows in.
    fn check_width(&self, narrowest: f64, at: Option<At>, report: &mut Report) -> bool {
        let (units, cutter) = (self.piece.units, 2.0 * self.room.cutter_radius);
        let least = self.spec.form.room() * cutter;
        if narrowest >= least {
            return true;
        }
        let text = format!(
            "detail smaller than the cutter: the hollows are {} wide, and the finest cutter for them is {} across",
            units.told(narrowest),
            units.told(cutter)
        );
        let hint = format!("make them at least {} wide, or use a finer cutter", units.up(least));
        report.error("detail-too-small", at.or(self.spec.at), text).hint(hint);
        false
    }

    fn check_crossing(&self, crossing: Crossing, at: Option<At>, hint: &str, report: &mut Report) -> bool {
        if crossing.degrees >= STEEP_CROSSING_DEG - 1e-9 {
            return true;
        }
        let units = self.piece.units;
        let text = format!(
            "cast {:?} crosses the finished skin at only {:.0}°, {} above the foot plane: its edge is a feather {} wide \
             where it is thinner than {}",
            self.spec.name.value,
            crossing.degrees,
            units.near(crossing.at.z),
            units.near(FEATHER / crossing.degrees.to_radians().tan()),
            units.fine(FEATHER)
        );
        let fails = crossing.degrees < FEATHER_DEG;
        let severity = if fails { base::Severity::Error } else { base::Severity::Warning };
        report.add(severity, "feather-edge", at, text).hint(hint);
        !fails
    }

    /// Least radius of concave edges: fillets, drips, and the ring's sides where they are hollow in plan.
    fn least_concave(&self, band: &Band, drips: &[Drip]) -> f64 {
        let outline = &self.piece.outline;
        let sides = (outline.reach_inwards() - band.outer).min(outline.reach_outwards() + band.inner);
        drips.iter().map(|d| d.bullet.radius).fold(band.fillet.min(sides), f64::min)
    }

    /// The middle of the wall at the lowest drip, or of the ring's bottom on the +X side.
    fn pour_at(&self, band: &Band, lowest: Option<&Drip>) -> DVec2 {
        let middle = |z: f64| 0.5 * (self.piece.outside_inset(z) + self.piece.inside_inset(z));
        match lowest.filter(|d| d.bullet.bottom_z <= band.bottom_z) {
            Some(drip) => self.piece.outline.station(drip.u).inset(middle(drip.bullet.bottom_z)),
            None => self.piece.outline.station(0.0).inset(middle(band.bottom_z)),
        }
    }
}

/// Solids that do not touch each other, as one.
fn apart(solids: impl Iterator<Item = Mesh>) -> Mesh {
    let mut all = Mesh::default();
    for solid in solids {
        let first = all.vertices.len() as u32;
        all.vertices.extend(solid.vertices);
        all.triangles.extend(solid.triangles.iter().map(|t| t.map(|v| v + first)));
    }
    all
}

fn least_gap(drips: &[Drip]) -> f64 {
    let pairs = drips.iter().enumerate().flat_map(|(i, a)| drips[i + 1..].iter().map(move |b| a.bullet.gap(&b.bullet)));
    pairs.fold(f64::INFINITY, f64::min)
}

/// A stream of chance of its own for every name (FNV-1a, 64 bits), so that casts do not change with their order.
fn stream_of(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fowler, Noll, Vo: the published check value of FNV-1a 64 for "a" is af63dc4c8601ec8c (from memory).
    #[test]
    fn streams_come_from_names() {
        assert_eq!(stream_of("a"), 0xaf63_dc4c_8601_ec8c);
        assert_ne!(stream_of("tide"), stream_of("pool"));
    }
}
