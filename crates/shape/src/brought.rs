//! A solid from elsewhere, laid as the job says and looked over: what is wrong with it is told with its name and place.
//!
//! Places are in the piece's frame (z = 0 on the foot plane, origin at the middle of its extent), where the maker finds them
//! again whatever the file's own frame was.

use crate::mesh_file;
use crate::undercut::{Undercut, undercut};
use base::{At, Report, Severity, Units};
use geom::shell::{SAME_PLACE, Shell};
use geom::{DAffine3, DMat3, DVec2, DVec3, Mesh};
use job::{MeshSpec, MeshUnits, Placed, Way};

/// Nothing in a small shop is longer, mm.
const GREATEST_SIZE: f64 = 2000.0;
/// Smaller things are not carved this way, mm. Common practice, no source.
const LEAST_SIZE: f64 = 15.0;
/// What lies lower than this above the lowest place touches the table, mm (the proof judges by the same).
const TOUCHES: f64 = 0.05;
/// An undercut up to this is left as it is and told; a deeper one is not the piece that was meant, mm.
const SLIGHT_UNDERCUT: f64 = 0.2;

/// A solid as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Brought {
    /// Its skin, mm, standing on z = 0.
    pub mesh: Mesh,
    /// What no cutter reaches, if anything.
    pub undercut: Option<Undercut>,
}

/// Reads and lays a solid; `None` if it cannot be the piece. `Brought` may come with errors in the report: then it is only good
/// to be shown.
pub fn brought(spec: &Placed<MeshSpec>, units: Units, report: &mut Report) -> Option<Brought> {
    let file = &spec.value.file;
    let name = &file.value.name;
    let found = match mesh_file::read(name, file.value.content.bytes()) {
        Ok(found) => found,
        Err(why) => {
            report.error("mesh-unreadable", file.at, format!("`{name}` cannot be read: {}", why.text)).hint(why.hint);
            return None;
        }
    };
    let turned = found.mesh.transformed(&stance(&spec.value));
    let scale = scale(spec, units, &turned, found.unit_mm, report)?;
    let laid = laid(turned, scale)?;
    if !check_size(spec, units, &laid, report) {
        return None;
    }
    let shell = Shell::of(laid);
    let mut look = Look { spec, units, report };
    if !look.over(&shell) {
        return None;
    }
    let mesh = shell.mesh;
    look.stands(&mesh);
    let undercut = undercut(&mesh);
    if let Some(undercut) = &undercut {
        look.undercut(undercut, mesh.area());
    }
    Some(Brought { mesh, undercut })
}

/// The turn from the file's frame to the piece's.
fn stance(spec: &MeshSpec) -> DAffine3 {
    let Way { axis, back } = spec.up.value;
    let row = |x: f64, y: f64, z: f64| DVec3::new(x, y, z);
    let rows = match (axis, back) {
        (0, false) => [row(0.0, 0.0, -1.0), DVec3::Y, DVec3::X],
        (0, true) => [DVec3::Z, DVec3::Y, row(-1.0, 0.0, 0.0)],
        (1, false) => [DVec3::X, row(0.0, 0.0, -1.0), DVec3::Y],
        (1, true) => [DVec3::X, DVec3::Z, row(0.0, -1.0, 0.0)],
        (_, false) => [DVec3::X, DVec3::Y, DVec3::Z],
        (_, true) => [DVec3::X, row(0.0, -1.0, 0.0), row(0.0, 0.0, -1.0)],
    };
    let up = DMat3::from_cols(rows[0], rows[1], rows[2]).transpose();
    DAffine3::from_mat3(quarter_turns(spec.turn_deg.value) * up)
}

/// A turn about Z; quarters of a turn are exact.
fn quarter_turns(degrees: f64) -> DMat3 {
    let (sin, cos) = match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        other => other.to_radians().sin_cos(),
    };
    DMat3::from_cols(DVec3::new(cos, sin, 0.0), DVec3::new(-sin, cos, 0.0), DVec3::Z)
}

/// Millimetres in one of the file's units, from what file and job say.
fn scale(spec: &Placed<MeshSpec>, units: Units, mesh: &Mesh, says: Option<f64>, report: &mut Report) -> Option<f64> {
    let (low, high) = mesh.bounds()?;
    let size = high - low;
    if let (Some(_), Some(told)) = (says, &spec.value.units) {
        let text = "a 3MF file tells the unit of its numbers itself; expected no `units`";
        report.error("mesh-units", told.at, text).hint("take `units` away, or give the `length` the piece should have");
        return None;
    }
    match (&spec.value.units, &spec.value.length) {
        (Some(_), Some(length)) => {
            let text = "`units` and `length` both tell how large the solid is; expected one of the two";
            report.error("mesh-units", length.at, text).hint("take one of them away");
            None
        }
        (None, Some(length)) => Some(length.value.as_mm() / size.x).filter(|s| s.is_finite()).or_else(|| {
            report.error("mesh-size", length.at, "the solid has no length").hint("turn it, or give another solid");
            None
        }),
        (Some(told), None) => Some(told.value.mm()),
        (None, None) if says.is_some() => says,
        (None, None) => {
            let [x, y, z] = size.to_array().map(shown);
            let text = format!(
                "`{}` does not tell the unit of its numbers, and as it stands it is {x} × {y} × {z} of them",
                spec.value.file.value.name
            );
            let fitting: Vec<String> = MeshUnits::ALL
                .into_iter()
                .filter(|unit| fits(size * unit.mm()))
                .map(|unit| format!("`units = \"{}\"` ({})", unit.word(), three(size * unit.mm(), units)))
                .collect();
            let hint = match fitting.is_empty() {
                true => "give the `length` that the piece should have along the grain".to_owned(),
                false => format!("add {}, or the `length` it should have along the grain", fitting.join(" or ")),
            };
            report.error("mesh-units", spec.at, text).hint(hint);
            None
        }
    }
}

/// A size without a unit.
fn shown(value: f64) -> String {
    let digits = if value.abs() < 10.0 { 3 } else { 1 };
    format!("{value:.digits$}")
}

fn three(size: DVec3, units: Units) -> String {
    size.to_array().map(|v| units.told(v)).join(" × ")
}

fn fits(size: DVec3) -> bool {
    size.max_element() <= GREATEST_SIZE && size.truncate().min_element() >= LEAST_SIZE && size.z > 1.0
}

/// Scaled, its foot on z = 0 and the middle of its extent over the origin.
fn laid(mut mesh: Mesh, scale: f64) -> Option<Mesh> {
    let (low, high) = mesh.bounds()?;
    let middle = (low + high) / 2.0;
    let origin = DVec3::new(middle.x, middle.y, low.z);
    mesh.vertices.iter_mut().for_each(|v| *v = (*v - origin) * scale);
    Some(mesh)
}

fn check_size(spec: &Placed<MeshSpec>, units: Units, mesh: &Mesh, report: &mut Report) -> bool {
    let Some((low, high)) = mesh.bounds() else { return false };
    let size = high - low;
    if fits(size) {
        return true;
    }
    let at = spec.value.units.map(|u| u.at).or(spec.value.length.map(|l| l.at)).unwrap_or(spec.at);
    let text = format!(
        "the solid would be {}: nothing that is carved here is larger than {} or smaller than {} across",
        three(size, units),
        units.told(GREATEST_SIZE),
        units.told(LEAST_SIZE)
    );
    report
        .error("mesh-size", at, text)
        .hint("correct `units`, or give the `length` the piece should have along the grain");
    false
}

/// A place as the maker finds it.
pub(crate) fn place(p: DVec3, units: Units) -> String {
    let at = |v: f64| if v < -5e-4 { format!("−{}", units.told(-v)) } else { units.told(v.abs()) };
    format!("x {}, y {}, {} above the foot", at(p.x), at(p.y), at(p.z))
}

/// Tells what is wrong with a skin.
struct Look<'a> {
    spec: &'a Placed<MeshSpec>,
    units: Units,
    report: &'a mut Report,
}

impl Look<'_> {
    fn at(&self) -> Option<At> {
        self.spec.value.file.at
    }

    fn error(&mut self, code: &str, text: String, hint: &str) {
        let at = self.at();
        self.report.error(code, at, text).hint(hint);
    }

    /// Whether the skin encloses one solid.
    fn over(&mut self, shell: &Shell) -> bool {
        let (units, before) = (self.units, self.report.findings.len());
        let name = self.spec.value.file.value.name.clone();
        if !shell.holes.is_empty() {
            let widest = shell.holes.iter().max_by(|a, b| a.length().total_cmp(&b.length()));
            let (round, at) = widest.map_or((0.0, DVec3::ZERO), |h| (h.length(), h.middle()));
            let text = format!(
                "the skin of `{name}` is open in {} {}: the widest is {} round and lies at {}",
                shell.holes.len(),
                if shell.holes.len() == 1 { "place" } else { "places" },
                units.told(round),
                place(at, units)
            );
            self.error(
                "mesh-holes",
                text,
                "close the holes where the solid was made: only a closed skin tells wood from air",
            );
        }
        if let Some([a, b]) = shell.crowded.first() {
            let text = format!(
                "in `{name}` more than two triangles share an edge {} times, first at {}",
                shell.crowded.len(),
                place((*a + *b) / 2.0, units)
            );
            self.error("mesh-edges", text, "take inner walls and doubled faces away where the solid was made");
        }
        if let Some(at) = shell.one_sided.first() {
            let text = format!("the skin of `{name}` is twisted: it has no inside, seen at {}", place(*at, units));
            self.error("mesh-twisted", text, "make the solid anew where it was made: its faces contradict each other");
        }
        if self.report.findings.len() > before {
            return false;
        }
        self.bodies(shell);
        let crossings = shell.crossings(SAME_PLACE);
        if let Some(at) = crossings.places.first() {
            let text = format!(
                "the skin of `{name}` crosses itself: {} pairs of triangles, first at {}",
                crossings.count,
                place(*at, units)
            );
            self.error("mesh-crossing", text, "join the parts into one solid where it was made");
        } else if !crossings.whole {
            let text =
                format!("`{name}` has so many triangles over each other that it cannot be told whether they cross");
            self.error("mesh-crossing", text, "thin the solid where it was made");
        }
        if shell.turned > 0 {
            let text = format!("{} triangles of `{name}` faced the wrong way and were turned over", shell.turned);
            let at = self.at();
            self.report.warning("mesh-turned", at, text).hint("look at the picture of the piece before you carve");
        }
        if shell.joined > 0 {
            let text = format!(
                "{} corners of `{name}` missed each other by up to {} and were joined",
                shell.joined,
                units.fine(SAME_PLACE)
            );
            let at = self.at();
            self.report.warning("mesh-joined", at, text).hint("write the solid with more digits");
        }
        !self.report.findings[before..].iter().any(|f| f.severity == Severity::Error)
    }

    fn bodies(&mut self, shell: &Shell) {
        let units = self.units;
        if shell.bodies.len() < 2 {
            return;
        }
        let name = self.spec.value.file.value.name.clone();
        let mut order: Vec<usize> = (0..shell.bodies.len()).collect();
        order.sort_by(|&a, &b| shell.bodies[b].volume.total_cmp(&shell.bodies[a].volume));
        let told: Vec<String> = order
            .iter()
            .take(4)
            .map(|&k| {
                let body = &shell.bodies[k];
                let middle = (body.bounds.0 + body.bounds.1) / 2.0;
                let what = if body.inside { "a void" } else { "a body" };
                format!("{what} of {} at {}", base::sensible(body.volume / 1000.0, "ml"), place(middle, units))
            })
            .collect();
        let more = if order.len() > 4 { " …" } else { "" };
        let text = format!("`{name}` holds {} bodies and not one: {}{more}", order.len(), told.join("; "));
        let hint = match shell.bodies.iter().any(|b| b.inside) {
            true => "fill the void where the solid was made: no cutter gets into it",
            false => "join the bodies, or take away what does not belong to the piece",
        };
        self.error("mesh-bodies", text, hint);
    }

    /// Whether the solid stands on what touches the table.
    fn stands(&mut self, mesh: &Mesh) {
        let touching: Vec<DVec2> = mesh.vertices.iter().filter(|v| v.z <= TOUCHES).map(|v| v.truncate()).collect();
        let (low, high) =
            touching.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), p| (low.min(*p), high.max(*p)));
        let middle = middle_of_mass(mesh);
        // In every direction something that touches lies beyond the middle of mass.
        let tips = (0..64).any(|k| {
            let way = DVec2::from_angle(std::f64::consts::TAU * f64::from(k) / 64.0);
            touching.iter().all(|p| (*p - middle).dot(way) <= 0.0)
        });
        if tips {
            let size = (high - low).max(DVec2::ZERO);
            let text = format!(
                "the solid does not stand: what touches the table is {} × {}, and the middle of its mass lies beside that",
                self.units.told(size.x),
                self.units.told(size.y)
            );
            let at = self.spec.value.up.at.or(self.spec.at);
            let hint = "say with `up` which way leads from its foot to its rim, or give the solid a flat foot";
            self.report.error("mesh-stance", at, text).hint(hint);
        }
        let index = geom::TriangleIndex::new(mesh, 1.0);
        let crossings = index.crossings(mesh, middle);
        let height = mesh.bounds().map_or(0.0, |(_, high)| high.z);
        if let (Some((first, _)), Some((last, _))) = (crossings.first(), crossings.last())
            && *first > height - last
            && *first > 0.25 * height
        {
            let text = format!(
                "in its middle the solid is open {} from below and {} from above: it seems to stand on its rim",
                self.units.told(*first),
                self.units.told(height - last)
            );
            let at = self.spec.value.up.at.or(self.spec.at);
            let way = self.spec.value.up.value;
            let other = format!("{}{}", if way.back { "" } else { "-" }, ["x", "y", "z"][way.axis]);
            self.report.warning("mesh-stance", at, text).hint(format!("if so, write `up = \"{other}\"`"));
        }
    }

    fn undercut(&mut self, undercut: &Undercut, area: f64) {
        let units = self.units;
        let depth = match undercut.depth.is_finite() {
            true => format!("{} deep", units.told(undercut.depth)),
            false => "without a way out".to_owned(),
        };
        let text = format!(
            "{:.1} % of the skin ({:.1} cm²) lies in an undercut that no upright cutter reaches, neither from the rim nor from the \
             foot; it is {depth} at {}",
            100.0 * undercut.area / area,
            undercut.area / 100.0,
            place(undercut.worst, units)
        );
        let slight = undercut.depth <= SLIGHT_UNDERCUT;
        let severity = if slight { Severity::Warning } else { Severity::Error };
        let hint = match slight {
            true => "it will be filled with wood; give its walls a little draft if that matters",
            false => "fill it or open it where the solid was made, or turn the solid with `up`",
        };
        let at = self.at();
        self.report.add(severity, "mesh-undercut", at, text).hint(hint);
    }
}

/// The middle of mass of a closed mesh, seen from above.
fn middle_of_mass(mesh: &Mesh) -> DVec2 {
    let (mut sum, mut volume) = (DVec2::ZERO, 0.0);
    for i in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(i);
        let part = a.dot(b.cross(c));
        sum += (a + b + c).truncate() * (part / 4.0);
        volume += part;
    }
    if volume > 0.0 { sum / volume } else { DVec2::ZERO }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each way leads up, and the turn is a rotation.
    #[test]
    fn the_stance_is_a_rotation_that_leads_up() {
        for axis in 0..3 {
            for back in [false, true] {
                for turn in [0.0, 90.0, 180.0, -90.0, 33.0] {
                    let at = None;
                    let content = job::Content::new(Vec::new());
                    let spec = MeshSpec {
                        file: Placed { value: job::JobFile { name: String::new(), content }, at },
                        units: None,
                        length: None,
                        up: Placed { value: Way { axis, back }, at },
                        turn_deg: Placed { value: turn, at },
                    };
                    let by = stance(&spec).matrix3;
                    let way = DVec3::AXES[axis] * if back { -1.0 } else { 1.0 };
                    assert!((by * way).abs_diff_eq(DVec3::Z, 1e-15), "{axis} {back}");
                    assert!((by.determinant() - 1.0).abs() < 1e-12);
                }
            }
        }
    }
}
