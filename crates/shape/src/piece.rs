//! The finished piece, and the solids its making passes through.

use crate::Outline;
use crate::brought::brought;
use crate::mark::{Mark, Place, fault, mark};
use crate::measured::{Measured, measured};
use crate::outline::{Insets, LEAST_LEFT, Station};
use crate::section::{Section, section};
use crate::skins::Skins;
use crate::sweep;
use base::{At, Report, Units};
use geom::slice::level;
use geom::{DVec2, Mesh, Region, Ring};
use job::PieceSpec;

/// A foot narrower than this fraction of the rim tips easily. Common practice, no source.
const STEADY_FOOT: f64 = 0.38;
/// Neighbouring rows of facets meet at no more than this angle for each mm of the tolerance, radians: 0.7° at 0.01 mm. Passes `d`
/// apart astride a bend of `θ` leave `d θ/4` more between them than on either side of it, which shows beside a scallop of
/// 0.02 mm long before the chords do.
const BEND: f64 = 1.25;
/// The slope at the rim of a solid from elsewhere is that so far below it, mm: a corner may be broken by a hair.
const RIM_SLOPE: f64 = 0.5;

/// The piece as exact outline and profiles, and as a closed mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// The maker's units, for what is said of the piece.
    pub units: Units,
    /// Outline of the rim.
    pub outline: Outline,
    /// Finished height H, mm.
    pub height: f64,
    /// Least wall asked for, mm.
    pub wall: f64,
    /// Least floor asked for, mm.
    pub floor: f64,
    /// z of the inside floor, mm (floor plus the recess).
    pub floor_z: f64,
    /// Depth and land of the foot's recess, mm, if it has one.
    pub recess: Option<[f64; 2]>,
    /// Inset of the foot's edge, mm.
    pub foot_inset: f64,
    /// Lettering engraved under the foot, if it has any.
    pub mark: Option<Mark>,
    /// Closed mesh of the finished piece.
    pub mesh: Mesh,
    /// Volume in closed form, mm³ (Steiner); the mark's is its solid's.
    pub volume_exact: f64,
    /// Least wall along the normal as built, mm (the round of the rim's inner edge left out).
    pub least_wall: f64,
    /// Slope of the outside wall at the rim, degrees from horizontal (90 = upright).
    pub rim_slope_deg: f64,
    /// Chord tolerance of the mesh, mm.
    pub tolerance: f64,
    /// Whether the inside floor is level, so that a flat cutter makes it.
    pub flat_floor: bool,
    /// Exact profiles of outside and inside; of a solid from elsewhere measured ones.
    section: Section,
    /// The skins of a solid from elsewhere.
    skins: Option<Skins>,
}

/// Builds the piece. `None` if the report has errors.
pub fn piece(spec: &PieceSpec, tolerance: f64) -> (Option<Piece>, Report) {
    let mut report = Report::default();
    if let Some(mesh) = &spec.mesh {
        let made = brought(mesh, spec.units, &mut report).filter(|_| !report.has_errors());
        let made = made.and_then(|made| measured(spec, made.mesh, mesh.at, &mut report));
        let mut piece = made.map(|made| Piece::from_elsewhere(spec, made, tolerance));
        if let Some(piece) = &mut piece {
            piece.engrave(spec, &mut report);
        }
        return (piece.filter(|_| !report.has_errors()), report);
    }
    let outline = Outline::new(&spec.outline, spec.units, &mut report);
    let section = section(spec, &mut report);
    let (Some(outline), Some(section)) = (outline, section) else { return (None, report) };
    if !(tolerance > 0.0 && tolerance.is_finite()) {
        let text = format!("the chord tolerance is {}, and it must be above 0", spec.units.told(tolerance));
        report
            .error("chord-tolerance", spec.at, text)
            .hint(format!("the usual tolerance is {}", spec.units.fine(0.01)));
    }
    check_insets(spec, &outline, &section, &mut report);
    check_foot(spec, &outline, &section, &mut report);
    if report.has_errors() {
        return (None, report);
    }
    let mut piece = Piece::of(spec, outline, section, tolerance);
    piece.engrave(spec, &mut report);
    (Some(piece).filter(|_| !report.has_errors()), report)
}

/// Every inset must stay clear of the reach, where sections would fold or vanish.
fn check_insets(spec: &PieceSpec, outline: &Outline, section: &Section, report: &mut Report) {
    let most = outline.reach_inwards() - LEAST_LEFT;
    let mut check = |what: &str, inset: f64, at: Option<At>, hint: &str| {
        if inset > most {
            let place = |p: DVec2| format!(" (x {}, y {} from its middle)", spec.units.near(p.x), spec.units.near(p.y));
            let text = format!(
                "{what} lies {} inside the outline, but the outline's tightest corner{} allows {}: beyond that its section \
                 folds and nothing is left",
                spec.units.up(inset),
                outline.tightest().map(place).unwrap_or_default(),
                spec.units.down(most)
            );
            report.error("inset-beyond-reach", at, text).hint(hint);
        }
    };
    let foot = section.outside.bottom().x;
    check("the foot's edge", foot, spec.outside.at, "draw the foot in less, or give the outline rounder corners");
    if let Some([_, land]) = section.recess {
        let hint = "make the land narrower, draw the foot in less, or leave the foot flat";
        check("the recess of the foot", foot + land, spec.foot.at, hint);
    }
    let rim = section.inside.top().x;
    if rim > most {
        check("the inner edge of the rim", rim, spec.wall.at, "make the wall thinner, or the piece larger");
    } else {
        let hint = "make the wall thinner, the floor radius or the draft smaller, or the outline's corners rounder";
        check("the edge of the inside floor", section.inside.bottom().x, spec.inside.at, hint);
    }
}

fn check_foot(spec: &PieceSpec, outline: &Outline, section: &Section, report: &mut Report) {
    let half = outline.half_size().min_element();
    let share = (half - section.outside.bottom().x) / half;
    if (0.0..STEADY_FOOT).contains(&share) {
        report
            .warning(
                "small-foot",
                spec.outside.at,
                format!("the foot is {share:.2} of the rim's width; below {STEADY_FOOT} a piece tips easily"),
            )
            .hint(format!("draw the foot in by {} at most", spec.units.down(half * (1.0 - STEADY_FOOT))));
    }
}

impl Piece {
    fn of(spec: &PieceSpec, outline: Outline, section: Section, tolerance: f64) -> Self {
        let foot_inset = section.outside.bottom().x;
        let recessed = section.recess.map_or(0.0, |[depth, land]| depth * outline.area_at(foot_inset + land));
        let volume_exact = section.outside.volume(&outline) - section.inside.volume(&outline) - recessed;
        let height = spec.height.value.as_mm();
        let mut piece = Self {
            units: spec.units,
            height,
            wall: spec.wall.value.as_mm(),
            floor: spec.floor.value.as_mm(),
            floor_z: section.floor_z,
            recess: section.recess,
            foot_inset,
            mark: None,
            mesh: Mesh::default(),
            volume_exact,
            least_wall: section.least_wall,
            rim_slope_deg: section.outside.slope_deg_at(height),
            tolerance,
            flat_floor: true,
            outline,
            section,
            skins: None,
        };
        let mut rows = piece.outside_rows();
        rows.extend(piece.inside_rows().into_iter().rev());
        piece.mesh = sweep::body(&piece.stations(0.0), &rows);
        piece
    }

    /// A solid from elsewhere.
    fn from_elsewhere(spec: &PieceSpec, made: Measured, tolerance: f64) -> Self {
        let Measured { outline, section, skins, flat_floor } = made;
        Self {
            units: spec.units,
            height: skins.height,
            wall: spec.wall.value.as_mm(),
            floor: spec.floor.value.as_mm(),
            floor_z: section.floor_z,
            recess: section.recess,
            foot_inset: section.outside.bottom().x,
            mark: None,
            volume_exact: skins.mesh.volume(),
            mesh: skins.mesh.clone(),
            least_wall: section.least_wall,
            rim_slope_deg: section.outside.slope_deg_at(skins.height - RIM_SLOPE),
            tolerance,
            flat_floor,
            outline,
            section,
            skins: Some(skins),
        }
    }

    /// Whether it is a solid from elsewhere.
    pub fn is_from_elsewhere(&self) -> bool {
        self.skins.is_some()
    }

    /// Where a calliper in a direction finds the wall at a height, and what it reads.
    pub fn calliper(&self, direction: DVec2, z: f64) -> (DVec2, f64) {
        let (outer, inner) = (self.outside_inset(z), self.inside_inset(z));
        let station = self.outline.farthest(direction, self.tolerance);
        let slope = self.outside_slope_deg(z).to_radians().sin();
        if self.skins.is_none() {
            return (station.inset(outer), (inner - outer) * slope);
        }
        // Along the normal through the wall of the mesh itself.
        let mut at: Vec<f64> = Vec::new();
        for (a, b) in level(&self.mesh, z).rings.iter().flat_map(Ring::sides) {
            let [p, q] = [a, b].map(|c| (c - station.point).perp_dot(station.outward));
            if (p < 0.0) != (q < 0.0) {
                at.push((station.point - a.lerp(b, p / (p - q))).dot(station.outward));
            }
        }
        at.sort_by(f64::total_cmp);
        match at[..] {
            [outer, inner, ..] => (station.inset(outer), (inner - outer) * slope),
            _ => (station.inset(outer), (inner - outer) * slope),
        }
    }

    /// Length along X at a height.
    pub fn length_at(&self, z: f64) -> f64 {
        let bounds = self.skins.as_ref().and_then(|_| level(&self.mesh, z).bounds());
        match bounds {
            Some((low, high)) => high.x - low.x,
            None => self.outline.size(self.tolerance).x - 2.0 * self.outside_inset(z),
        }
    }

    /// Takes the mark out of the foot, if one is asked for.
    fn engrave(&mut self, spec: &PieceSpec, report: &mut Report) {
        let Some(wanted) = &spec.mark else { return };
        let land = self.recess.map_or(0.0, |[_, land]| land);
        let face = foot_up(&self.outline.parallel(self.foot_inset + land, self.tolerance));
        let place = Place {
            units: self.units,
            face: Region { rings: vec![face] },
            recess: self.recess.map_or(0.0, |[depth, _]| depth),
            floor: self.floor,
            tolerance: self.tolerance,
        };
        let Some(mark) = mark(wanted, &place, report) else { return };
        match self.mesh.minus(&mark.groove) {
            Ok(mesh) => self.mesh = mesh,
            Err(why) => fault(wanted, &why.to_string(), report),
        }
        self.volume_exact -= mark.volume();
        self.mark = Some(mark);
    }

    /// Inset of the outside surface at height z (0 ≤ z ≤ H).
    pub fn outside_inset(&self, z: f64) -> f64 {
        self.section.outside.inset_at(z)
    }

    /// Inset of the inside surface at height z (floor_z ≤ z ≤ H).
    pub fn inside_inset(&self, z: f64) -> f64 {
        self.section.inside.inset_at(z)
    }

    /// Slope of the outside from horizontal at height z, degrees.
    pub fn outside_slope_deg(&self, z: f64) -> f64 {
        self.section.outside.slope_deg_at(z)
    }

    /// Slope of the inside from horizontal at height z, degrees.
    pub fn inside_slope_deg(&self, z: f64) -> f64 {
        self.section.inside.slope_deg_at(z)
    }

    /// The exact profiles.
    pub fn section(&self) -> &Section {
        &self.section
    }

    /// The outside as a full body (no hollow), with its foot and recess, carried straight up from the rim to `top_z`.
    pub fn outside_body(&self, top_z: f64) -> Mesh {
        if let Some(skins) = &self.skins {
            return skins.outside_body(top_z);
        }
        let mut rows = self.outside_rows();
        if top_z > self.height {
            rows.push(DVec2::new(0.0, top_z));
        }
        sweep::body(&self.stations(0.0), &rows)
    }

    /// The inside as a full body, carried straight up from the rim to `top_z`: what is cut out of the piece.
    pub fn inside_body(&self, top_z: f64) -> Mesh {
        if let Some(skins) = &self.skins {
            return skins.hollow_body(top_z);
        }
        let mut rows = self.inside_rows();
        if top_z > self.height {
            rows.push(DVec2::new(self.section.inside.top().x, top_z));
        }
        sweep::body(&self.stations(0.0), &rows)
    }

    /// A full prism of the outline moved by `inset` (negative: outwards, within the outline's reach) from `bottom_z`
    /// to `top_z`.
    pub fn prism(&self, inset: f64, bottom_z: f64, top_z: f64) -> Mesh {
        self.tapered([inset, inset], [bottom_z, top_z])
    }

    /// The same with an inset of its own at the bottom and at the top.
    pub fn tapered(&self, insets: [f64; 2], heights: [f64; 2]) -> Mesh {
        let rows = [0, 1].map(|k| DVec2::new(insets[k], heights[k]));
        sweep::body(&self.stations(insets[0]), &rows)
    }

    /// Rows of the outside from the middle of the foot up to the rim.
    fn outside_rows(&self) -> Vec<DVec2> {
        let mut rows = Vec::new();
        if let Some([depth, land]) = self.recess {
            let inner = self.foot_inset + land;
            rows.extend([DVec2::new(inner, depth), DVec2::new(inner, 0.0)]);
        }
        rows.extend(self.section.outside.points(0.5 * self.tolerance, BEND * self.tolerance).into_iter().rev());
        rows
    }

    /// Rows of the inside from the floor's edge up to the rim.
    fn inside_rows(&self) -> Vec<DVec2> {
        let mut rows = self.section.inside.points(0.5 * self.tolerance, BEND * self.tolerance);
        rows.reverse();
        rows
    }

    /// Stations for all insets of the piece and the given one: the bodies of one piece share them, so that surfaces
    /// they have in common are the same triangles.
    fn stations(&self, and: f64) -> Vec<Station> {
        let recess = self.recess.map_or(0.0, |[_, land]| self.foot_inset + land);
        let deepest = self.foot_inset.max(recess).max(self.section.inside.bottom().x);
        let insets = Insets { least: and.min(0.0), greatest: and.max(deepest) };
        self.outline.stations(insets, 0.5 * self.tolerance)
    }
}

/// A ring of the piece's plan as seen with the foot up (y reversed), still counter-clockwise.
pub fn foot_up(ring: &Ring) -> Ring {
    Ring(ring.0.iter().rev().map(|p| DVec2::new(p.x, -p.y)).collect())
}
