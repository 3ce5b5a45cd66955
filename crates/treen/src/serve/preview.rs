//! The piece as a picture in space while a value is being changed: its shape and its resin, coarse, and what is known of
//! the making before any path is planned.
//!
//! Corners are counted in 65 535ths of the part's size, normals in 127ths: that shows, nothing is judged by it.

use super::desk::told;
use super::edit;
use super::wire::{Fact, PartHead, PartKind, PreviewHead};
use crate::pipeline::Pipeline;
use crate::texts::Sources;
use base::{Severity, Units, sensible};
use geom::{DVec3, Mesh};
use job::Job;
use route::Settled;
use shape::Piece;
use std::collections::BTreeMap;
use trade::shelf::Shelf;

/// Chord tolerance of the picture at rest, mm.
const CHORD: f64 = 0.1;
/// The same while a value is being changed.
const CHORD_MOVING: f64 = 0.4;
/// Facets that meet at less than this are one smooth surface, as a cosine (32°).
const SMOOTH: f64 = 0.848;

/// The picture as [`PreviewHead`] says, coarser while it is `moving`; with `pours` also how the resin is poured and cures, which
/// takes seconds.
///
/// # Errors
/// In words, for faults of ours.
pub(super) fn preview(sources: &Sources, moving: bool, pours: bool) -> Result<Vec<u8>, String> {
    let chord = if moving { CHORD_MOVING } else { CHORD };
    let mut pipeline = Pipeline::default();
    let understood = pipeline.understand(sources, chord).map_err(|e| format!("{e:?}"))?;
    let mut report = understood.report;
    let mut head = PreviewHead {
        parts: Vec::new(),
        findings: Vec::new(),
        facts: Vec::new(),
        tolerance_mm: chord,
        boards: Vec::new(),
        size_mm: None,
    };
    let mut bytes = Vec::new();
    if let Some((wish, piece)) = understood.wish.zip(understood.piece.and_then(|piece| piece.value)) {
        let request = wish.request(&piece);
        let (settled, found) = if pours { route::settle(&request) } else { route::sketch(&request) };
        report.absorb_new(found);
        let size = piece.outline.size(piece.tolerance);
        head.size_mm = Some([size.x, size.y, piece.height]);
        head.facts = facts(&wish.job, &wish.shelf, &piece, settled.as_ref());
        head.boards = settled.iter().flat_map(|s| &s.blank.boards).map(|b| [b.min, b.max]).collect();
        // The hollow reaches beyond the piece on all sides, so no two skins lie on each other where it is taken out.
        let mut wood = piece.mesh.clone();
        for (hollow, &(colour, translucent)) in settled.iter().flat_map(|s| s.hollows.iter().zip(&s.looks)) {
            wood = wood.minus(&hollow.hollow).unwrap_or(wood);
            let look = (hollow.name.as_str(), PartKind::Resin, colour, translucent);
            put(&hollow.in_piece, look, &mut head, &mut bytes);
        }
        let colour = wish.shelf.wood(&wish.job.blank.wood.value).map_or([160, 120, 80], |w| w.colour);
        put(&wood, (&wish.job.blank.wood.value, PartKind::Wood, colour, false), &mut head, &mut bytes);
    }
    head.findings = told(&report, sources);
    head.findings.retain(|finding| finding.severity != Severity::Note);
    let mut text = serde_json::to_vec(&head).map_err(|e| e.to_string())?;
    // The numbers begin at a multiple of four.
    text.resize(text.len().next_multiple_of(4), b' ');
    let length = u32::try_from(text.len()).map_err(|e| e.to_string())?;
    Ok([&length.to_le_bytes()[..], &text, &bytes].concat())
}

/// What is known before any planning.
fn facts(job: &Job, shelf: &Shelf, piece: &Piece, settled: Option<&Settled>) -> Vec<Fact> {
    let units: Units = job.units;
    let mut facts = Vec::new();
    let mut put = |label: &str, value: String| facts.push(Fact { label: label.to_owned(), value });
    let size = piece.outline.size(piece.tolerance);
    let lengths = [size.x, size.y, piece.height].map(|v| edit::told(v, units));
    put("Size", lengths.join(" × "));
    put("Least wall", edit::told(piece.least_wall, units));
    let Some(settled) = settled else {
        put("Volume", sensible(piece.volume_exact / 1000.0, "ml"));
        return facts;
    };
    let left: Vec<f64> = settled.hollows.iter().map(|hollow| hollow.in_piece.volume() / 1000.0).collect();
    put("Wood in it", sensible(piece.volume_exact / 1000.0 - left.iter().sum::<f64>(), "ml"));
    for (hollow, ml) in settled.hollows.iter().zip(left) {
        put(&format!("Resin in “{}”", hollow.name), sensible(ml, "ml"));
        let Some(cast) = settled.casts.iter().find(|cast| cast.name == hollow.name) else {
            put(&format!("To mix for “{}”", hollow.name), "…".to_owned());
            continue;
        };
        let layers = cast.layers.len();
        let poured = if layers == 1 { "one pour".to_owned() } else { format!("{layers} pours") };
        put(&format!("To mix for “{}”", cast.name), format!("{}, {poured}", sensible(cast.to_mix_ml, "ml")));
    }
    let (lo, hi) = settled.blank.bounds();
    let blank: Vec<String> = (0..3).map(|k| edit::told(hi[k] - lo[k], units)).collect();
    put("Blank", blank.join(" × "));
    let count: u32 = settled.cuts.iter().map(|cut| cut.count).sum();
    put("Glued from", if count == 1 { "one board".to_owned() } else { format!("{count} boards") });
    let cost: f64 = settled.buy.iter().map(|line| line.used_cost).sum();
    let known = settled.casts.len() == settled.hollows.len();
    put("Wood and resin in it", if known { format!("{cost:.2} {}", shelf.rates.currency) } else { "…".to_owned() });
    facts
}

type Look<'a> = (&'a str, PartKind, [u8; 3], bool);

/// Adds a part.
fn put(mesh: &Mesh, (name, is, colour, translucent): Look<'_>, head: &mut PreviewHead, bytes: &mut Vec<u8>) {
    let min = mesh.vertices.iter().copied().fold(DVec3::INFINITY, DVec3::min);
    let max = mesh.vertices.iter().copied().fold(DVec3::NEG_INFINITY, DVec3::max);
    if !(max - min).is_finite() {
        return;
    }
    let step = (max - min).max(DVec3::splat(1e-6)) / f64::from(u16::MAX);
    let (corners, triangles) = creased(mesh);
    for (vertex, _) in &corners {
        let count = ((mesh.vertices[*vertex as usize] - min) / step).round();
        bytes.extend(count.to_array().iter().flat_map(|v| (*v as u16).to_le_bytes()));
    }
    bytes.resize(bytes.len().next_multiple_of(4), 0);
    for (_, normal) in &corners {
        bytes.extend(normal.map(i8::cast_unsigned));
        bytes.push(0);
    }
    bytes.extend(triangles.iter().flatten().flat_map(|v| v.to_le_bytes()));
    head.parts.push(PartHead {
        name: name.to_owned(),
        is,
        colour,
        translucent,
        corners: corners.len() as u32,
        triangles: triangles.len() as u32,
        min: min.to_array(),
        step: step.to_array(),
    });
}

/// A vertex and the normal it has on one of the smooth surfaces that meet there.
type Corner = (u32, [i8; 3]);

/// Corners with normals, smooth but for edges, and triangles of them.
fn creased(mesh: &Mesh) -> (Vec<Corner>, Vec<[u32; 3]>) {
    let normals: Vec<DVec3> = (0..mesh.triangles.len()).map(|i| mesh.normal2(i)).collect();
    let mut around: Vec<Vec<u32>> = vec![Vec::new(); mesh.vertices.len()];
    for (i, triangle) in mesh.triangles.iter().enumerate() {
        for v in triangle {
            around[*v as usize].push(i as u32);
        }
    }
    let mut corners: Vec<Corner> = Vec::new();
    let mut known: BTreeMap<Corner, u32> = BTreeMap::new();
    let mut triangles = Vec::with_capacity(mesh.triangles.len());
    for (i, triangle) in mesh.triangles.iter().enumerate() {
        let own = normals[i].normalize_or_zero();
        if own == DVec3::ZERO {
            continue;
        }
        triangles.push(triangle.map(|v| {
            let near = around[v as usize].iter().map(|k| normals[*k as usize]);
            let sum: DVec3 = near.filter(|n| n.normalize_or_zero().dot(own) > SMOOTH).sum();
            let corner = (v, sum.normalize_or(own).to_array().map(|x| (x * 127.0).round() as i8));
            *known.entry(corner).or_insert_with(|| {
                corners.push(corner);
                corners.len() as u32 - 1
            })
        }));
    }
    (corners, triangles)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::texts::{OWN_SHELF, Texts};

    fn sources(job: &str) -> Sources {
        let mut texts = Texts::default();
        let job = texts.put("job.toml", job);
        let shelf = texts.put(OWN_SHELF, trade::DEFAULT_SHELF);
        Sources { job, shelf, shop: None, record: None, texts, files: job::Files::default() }
    }

    /// Head, and the volume each part's numbers enclose, ml (divergence theorem).
    fn read(bytes: &[u8]) -> (PreviewHead, Vec<f64>) {
        let u32_at = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
        let length = u32_at(0) as usize;
        let head: PreviewHead = serde_json::from_slice(&bytes[4..4 + length]).unwrap();
        let mut at = 4 + length;
        let mut volumes = Vec::new();
        for part in &head.parts {
            let (n, m) = (part.corners as usize, part.triangles as usize);
            let point = |k: usize| {
                DVec3::from_array([0, 1, 2].map(|j| {
                    let at = at + 6 * k + 2 * j;
                    let count = u16::from_le_bytes(bytes[at..at + 2].try_into().unwrap());
                    part.min[j] + part.step[j] * f64::from(count)
                }))
            };
            let points: Vec<DVec3> = (0..n).map(point).collect();
            let index = (at + 6 * n).next_multiple_of(4) + 4 * n;
            let triangle = |k: usize| [0, 1, 2].map(|j| points[u32_at(index + 12 * k + 4 * j) as usize]);
            let volume: f64 = (0..m).map(triangle).map(|[a, b, c]| a.dot(b.cross(c)) / 6.0).sum();
            volumes.push(volume / 1000.0);
            at = index + 12 * m;
        }
        assert_eq!(at, bytes.len());
        (head, volumes)
    }

    #[test]
    fn the_picture_holds_the_volume_of_the_piece() {
        // A plain cylinder with a straight pocket: π/4 (100² · 30 − 84² · 22) mm³ in closed form.
        let job = r#"title = "x"
units = "mm"
[piece]
outline = { kind = "circle", diameter = "100 mm" }
height = "30 mm"
wall = "8 mm"
floor = "8 mm"
floor_radius = "1 mm"
rim_round = "0 mm"
outside = { kind = "straight", draft = 0 }
inside = { kind = "straight", draft = 0 }
foot = { kind = "pad" }
[blank]
wood = "black walnut"
boards = "8/4"
[route]
kind = "one-sided"
scallop = "0.02 mm"
finish = "hardening oil"
"#;
        let (head, volumes) = read(&preview(&sources(job), false, false).unwrap());
        assert_eq!(head.parts.len(), 1, "{:?}", head.findings);
        let exact = std::f64::consts::PI / 4.0 * (100.0_f64.powi(2) * 30.0 - 84.0_f64.powi(2) * 22.0) / 1000.0;
        // The fillet of 1 mm adds (1 − π/4) mm² around the floor; chords of 0.1 mm take off at most 0.3 %.
        let fillet = (1.0 - std::f64::consts::FRAC_PI_4) * std::f64::consts::PI * 83.6 / 1000.0;
        assert!((volumes[0] / (exact + fillet) - 1.0).abs() < 0.005, "{volumes:?} {exact}");
        assert_eq!(head.size_mm.map(|s| s[2]), Some(30.0));
    }

    #[test]
    fn wood_and_resin_make_up_the_piece() {
        let job = include_str!("../../../../examples/tidepool/job.toml");
        let (head, volumes) = read(&preview(&sources(job), false, false).unwrap());
        assert_eq!(head.parts.iter().map(|p| p.is).collect::<Vec<_>>(), [PartKind::Resin, PartKind::Wood]);
        // What the two enclose is the piece in closed form (Steiner's formula), to the chords and counts of the picture.
        let piece = Pipeline::default().understand(&sources(job), 0.01).unwrap().piece.and_then(|p| p.value).unwrap();
        let exact = piece.volume_exact / 1000.0;
        assert!(((volumes[0] + volumes[1]) / exact - 1.0).abs() < 0.01, "{volumes:?} {exact}");
        assert!(volumes[0] > 10.0, "{volumes:?}");
        assert!(head.facts.iter().any(|fact| fact.label == "Blank"));
        assert!(!head.boards.is_empty());
        assert!(head.findings.iter().all(|f| f.severity != Severity::Error), "{:?}", head.findings);
    }

    #[test]
    fn a_job_with_mistakes_tells_them_and_shows_nothing() {
        let job = include_str!("../../../../examples/tidepool/job.toml").replace("\"6 mm\"\nfloor", "\"-6 mm\"\nfloor");
        let (head, volumes) = read(&preview(&sources(&job), false, false).unwrap());
        assert!(volumes.is_empty());
        let finding = head.findings.iter().find(|f| f.severity == Severity::Error).unwrap();
        assert_eq!(finding.field.as_deref(), Some("piece.wall"));
        assert_eq!(finding.line, Some(10));
    }
}
