//! OBJ: lines of text, each a keyword and its values. Read are corners (`v`) and faces (`f`) of three or more corners; names,
//! groups, colours, textures, normals, points and lines say nothing about the solid.

use super::{MOST_TRIANGLES, Unreadable, corner, told};
use geom::{DVec2, DVec3, Mesh};

/// A face of more corners is refused: nothing that is meant has so many.
const MOST_CORNERS: usize = 100_000;
/// Curved surfaces, which hold no triangles.
const CURVED: [&[u8]; 9] = [b"cstype", b"deg", b"bmat", b"step", b"curv", b"curv2", b"surf", b"vp", b"parm"];

/// The faces, cut into triangles.
pub(super) fn read(bytes: &[u8]) -> Result<Mesh, Unreadable> {
    let mut mesh = Mesh::default();
    let mut words: Vec<&[u8]> = Vec::new();
    let mut face: Vec<u32> = Vec::new();
    for (i, line) in bytes.split(|&b| b == b'\n').enumerate() {
        let wrong = |text: String| {
            Unreadable::new(
                format!("line {}: {text}", i + 1),
                "write the file out again as triangles, or as STL or 3MF",
            )
        };
        let line = line.trim_ascii_end();
        // A backslash at the end carries the line on.
        let (line, goes_on) = line.strip_suffix(b"\\").map_or((line, false), |line| (line, true));
        words.extend(line.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty()));
        if goes_on {
            continue;
        }
        match words.first().copied() {
            Some(b"v") => {
                mesh.vertices.push(corner([1, 2, 3].map(|k| words.get(k).copied())).map_err(wrong)?);
                if mesh.vertices.len() > 3 * MOST_TRIANGLES {
                    return Err(Unreadable::too_many());
                }
            }
            Some(b"f") => {
                face.clear();
                for word in &words[1..] {
                    if word.starts_with(b"#") {
                        break;
                    }
                    let known = mesh.vertices.len();
                    face.push(index(word, known).ok_or_else(|| {
                        wrong(format!("{} names none of the {known} corners that stand before it", told(word)))
                    })?);
                }
                if !(3..=MOST_CORNERS).contains(&face.len()) {
                    return Err(wrong(format!("a face of {} corners is none", face.len())));
                }
                cut(&face, &mut mesh);
                if mesh.triangles.len() > MOST_TRIANGLES {
                    return Err(Unreadable::too_many());
                }
            }
            Some(word) if CURVED.contains(&word) => {
                return Err(wrong(format!("{} belongs to a curved surface, and only flat faces are read", told(word))));
            }
            Some(word) if !known(word) => return Err(wrong(format!("{} is no word of an OBJ file", told(word)))),
            _ => {}
        }
        words.clear();
    }
    Ok(mesh)
}

/// Words that say nothing about the solid, and comments.
fn known(word: &[u8]) -> bool {
    const SILENT: [&[u8]; 14] = [
        b"vt", b"vn", b"g", b"o", b"s", b"mg", b"usemtl", b"mtllib", b"usemap", b"maplib", b"p", b"l", b"lod", b"bevel",
    ];
    const SHADES: [&[u8]; 5] = [b"c_interp", b"d_interp", b"shadow_obj", b"trace_obj", b"end"];
    word.starts_with(b"#") || SILENT.contains(&word) || SHADES.contains(&word)
}

/// Of `7`, `7/1`, `7//3`, `-1/…` the corner: counted from 1, or backwards from the last one.
fn index(word: &[u8], known: usize) -> Option<u32> {
    let first = word.split(|&b| b == b'/').next()?;
    let at: i64 = std::str::from_utf8(first).ok()?.parse().ok()?;
    let at = if at < 0 { at.checked_add(known as i64)? } else { at.checked_sub(1)? };
    usize::try_from(at).ok().filter(|&at| at < known).map(|at| at as u32)
}

/// Cuts a face into triangles: from its first corner if it is convex, by ears otherwise.
fn cut(face: &[u32], mesh: &mut Mesh) {
    let at = |k: usize| mesh.vertices[face[k % face.len()] as usize];
    let n = face.len();
    // Newell's normal: twice the face's directed area.
    let o = at(0);
    let normal = (0..n).fold(DVec3::ZERO, |sum, k| sum + (at(k) - o).cross(at(k + 1) - o));
    let convex = n == 3 || (0..n).all(|k| (at(k + 1) - at(k)).cross(at(k + 2) - at(k + 1)).dot(normal) >= 0.0);
    if convex || normal == DVec3::ZERO {
        mesh.triangles.extend((1..n - 1).map(|k| [face[0], face[k], face[k + 1]]));
        return;
    }
    let (x, y) = normal.normalize_or(DVec3::Z).any_orthonormal_pair();
    let flat: Vec<DVec2> = (0..n).map(|k| DVec2::new((at(k) - o).dot(x), (at(k) - o).dot(y))).collect();
    mesh.triangles.extend(geom::ears(&flat).into_iter().map(|t| t.map(|k| face[k as usize])));
}
