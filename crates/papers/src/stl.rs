//! STL, binary: 80 bytes of header, a count, then 50 bytes a triangle (normal, three corners, attribute), little endian.
//!
//! The layout is that of the original description of 1989, as repeated in ISO/ASTM 52915 texts and checked here by a
//! reader we did not write. Corners are f32 mm; a triangle that closes up in f32 is left out, with its neighbours' edges
//! still meeting, so that a closed mesh stays closed.

use crate::PapersError;
use geom::{DVec3, Mesh};
use std::collections::HashMap;

const HEADER: usize = 80;
const RECORD: usize = 50;

/// The mesh as f32 corners, welded, without triangles that have closed up.
pub(crate) struct Welded {
    /// Corners, mm.
    pub(crate) corners: Vec<[f32; 3]>,
    /// Triangles.
    pub(crate) triangles: Vec<[u32; 3]>,
}

/// Welds equal f32 corners. The order of corners is that of their first use.
pub(crate) fn weld(triangles: impl Iterator<Item = [[f32; 3]; 3]>) -> Welded {
    let mut welded = Welded { corners: Vec::new(), triangles: Vec::new() };
    let mut known: HashMap<[u32; 3], u32> = HashMap::new();
    for corners in triangles {
        let triangle = corners.map(|corner| {
            // 0.0 and -0.0 are one place.
            let key = corner.map(|v| (v + 0.0).to_bits());
            *known.entry(key).or_insert_with(|| {
                welded.corners.push(corner.map(|v| v + 0.0));
                welded.corners.len() as u32 - 1
            })
        });
        let [a, b, c] = triangle;
        if a != b && b != c && c != a {
            welded.triangles.push(triangle);
        }
    }
    welded
}

/// A mesh in f32, welded.
pub(crate) fn welded(mesh: &Mesh) -> Welded {
    let corner = |v: u32| mesh.vertices[v as usize].to_array().map(|x| x as f32);
    weld(mesh.triangles.iter().map(|t| t.map(corner)))
}

/// Writes a mesh.
pub(crate) fn write(mesh: &Mesh, title: &str) -> Vec<u8> {
    let welded = welded(mesh);
    let mut out = Vec::with_capacity(HEADER + 4 + RECORD * welded.triangles.len());
    // A binary file must not begin with `solid`, or readers take it for the text form.
    let head: Vec<u8> = format!("binary STL, mm, {title}").bytes().filter(u8::is_ascii).take(HEADER).collect();
    out.extend_from_slice(&head);
    out.resize(HEADER, b' ');
    out.extend_from_slice(&(welded.triangles.len() as u32).to_le_bytes());
    for triangle in &welded.triangles {
        let corners = triangle.map(|v| welded.corners[v as usize]);
        for value in normal(corners).into_iter().chain(corners.into_iter().flatten()) {
            out.extend_from_slice(&value.to_le_bytes());
        }
        out.extend_from_slice(&[0, 0]);
    }
    out
}

fn normal(corners: [[f32; 3]; 3]) -> [f32; 3] {
    let [a, b, c] = corners.map(|p| DVec3::from_array(p.map(f64::from)));
    (b - a).cross(c - a).normalize_or_zero().to_array().map(|v| v as f32)
}

/// Reads a mesh and welds equal corners.
///
/// # Errors
/// [`PapersError::Unreadable`] if it is not binary STL of finite numbers.
pub(crate) fn read(file: &str, bytes: &[u8]) -> Result<Mesh, PapersError> {
    let wrong = |why: &str| PapersError::unreadable(file, why);
    let count = bytes.get(HEADER..HEADER + 4).ok_or_else(|| wrong("it is shorter than the header of a binary STL"))?;
    let count = u32::from_le_bytes([count[0], count[1], count[2], count[3]]) as usize;
    let records = &bytes[HEADER + 4..];
    if records.len() != count * RECORD {
        return Err(wrong(&format!(
            "it announces {count} triangles but holds bytes for {:.1}: a binary STL was expected",
            records.len() as f64 / RECORD as f64
        )));
    }
    let number = |record: &[u8], k: usize| {
        let at = 12 + 4 * k;
        f32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]])
    };
    let corners = |record: &[u8]| [0, 3, 6].map(|k| [0, 1, 2].map(|j| number(record, k + j)));
    let triangles: Vec<[[f32; 3]; 3]> = records.chunks_exact(RECORD).map(corners).collect();
    if triangles.iter().flatten().flatten().any(|v| !v.is_finite()) {
        return Err(wrong("a coordinate is not a number"));
    }
    let welded = weld(triangles.into_iter());
    Ok(Mesh {
        vertices: welded.corners.into_iter().map(|p| DVec3::from_array(p.map(f64::from))).collect(),
        triangles: welded.triangles,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Corners of a unit box in the order x fastest, and its twelve triangles.
    pub(crate) fn block(size: [f64; 3]) -> Mesh {
        let vertices = (0..8)
            .map(|k| {
                let bit = |b: usize| f64::from(u8::from(k >> b & 1 == 1));
                DVec3::new(bit(0) * size[0], bit(1) * size[1], bit(2) * size[2])
            })
            .collect();
        let triangles = vec![
            [0, 2, 1],
            [1, 2, 3],
            [4, 5, 6],
            [5, 7, 6],
            [0, 1, 4],
            [1, 5, 4],
            [2, 6, 3],
            [3, 6, 7],
            [0, 4, 2],
            [2, 4, 6],
            [1, 3, 5],
            [3, 7, 5],
        ];
        Mesh { vertices, triangles }
    }

    #[test]
    fn write_then_read_is_the_same_block() {
        let mesh = block([30.0, 20.0, 10.0]);
        let back = read("x.stl", &write(&mesh, "block")).unwrap();
        assert_eq!(back.triangles.len(), 12);
        assert_eq!(back.vertices.len(), 8);
        let corners = |m: &Mesh, t: usize| m.triangles[t].map(|v| m.vertices[v as usize].to_array());
        for t in 0..12 {
            assert_eq!(corners(&mesh, t), corners(&back, t));
        }
    }

    #[test]
    fn a_reader_we_did_not_write_agrees() {
        let bytes = write(&block([30.0, 20.0, 10.0]), "block");
        let other = stl_io::read_stl(&mut std::io::Cursor::new(bytes)).unwrap();
        other.validate().unwrap();
        assert_eq!((other.faces.len(), other.vertices.len()), (12, 8));
    }

    #[test]
    fn a_sliver_that_closes_up_leaves_no_hole() {
        // One edge of the top is split by a corner 1e-9 mm from another: in f32 they are one.
        let mut mesh = block([1000.0, 1000.0, 1000.0]);
        mesh.vertices.push(DVec3::new(1000.0 - 1e-9, 0.0, 1000.0));
        // Triangle 4-5-6 becomes 4-8-6 with the sliver 8-5-6; below, 1-5-4 becomes 1-8-4 with the sliver 1-5-8.
        mesh.triangles[2] = [8, 5, 6];
        mesh.triangles.push([4, 8, 6]);
        mesh.triangles[5] = [1, 5, 8];
        mesh.triangles.push([1, 8, 4]);
        let back = read("x.stl", &write(&mesh, "block")).unwrap();
        let mut edges = std::collections::BTreeMap::new();
        for [a, b, c] in back.triangles {
            for (from, to) in [(a, b), (b, c), (c, a)] {
                *edges.entry((from.min(to), from.max(to))).or_insert(0) += if from < to { 1 } else { -1 };
            }
        }
        assert_eq!(edges.len(), 18);
        assert!(edges.values().all(|n| *n == 0));
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(read("x.stl", b"solid text").is_err());
        let mut short = write(&block([1.0; 3]), "block");
        short.pop();
        assert!(read("x.stl", &short).is_err());
        let mut nan = write(&block([1.0; 3]), "block");
        nan[HEADER + 4 + 12..HEADER + 4 + 16].copy_from_slice(&f32::NAN.to_le_bytes());
        assert!(read("x.stl", &nan).is_err());
    }
}
