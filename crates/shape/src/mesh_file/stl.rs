//! STL: a list of facets with three corners each, as text or as 50 bytes.
//!
//! After the description by its inventors' 1989 interface specification, as reprinted in handbooks (from memory): 80 bytes of
//! title, a count, and for each facet normal, three corners (little-endian 32-bit numbers) and two bytes more. The normals are
//! not read: the order of the corners says the same.

use super::{MOST_TRIANGLES, Unreadable, corner, sound, told};
use geom::{DVec3, Mesh};

const HEAD: usize = 84;
const FACET: usize = 50;
const AGAIN: &str = "write the file out again, or copy it again: it does not end as it should";

/// The facets as triangles of their own.
pub(super) fn read(bytes: &[u8]) -> Result<Mesh, Unreadable> {
    let count = bytes.get(80..HEAD).and_then(|c| c.try_into().ok()).map(|c| u32::from_le_bytes(c) as usize);
    if let Some(count) = count
        && count.checked_mul(FACET).and_then(|n| n.checked_add(HEAD)) == Some(bytes.len())
    {
        return binary(&bytes[HEAD..]);
    }
    if bytes.trim_ascii_start().get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"solid")) && is_text(bytes) {
        return text(bytes);
    }
    let there = bytes.len().saturating_sub(HEAD) / FACET;
    Err(Unreadable::new(
        match count {
            Some(count) => format!("it says that it holds {count} triangles, and it has the bytes of {there}"),
            None => format!("{} bytes are too few for an STL file", bytes.len()),
        },
        AGAIN,
    ))
}

/// Whether the beginning holds no byte that text cannot hold.
fn is_text(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(512)];
    !head.iter().any(|&b| b < 9 || (14..32).contains(&b))
}

fn binary(facets: &[u8]) -> Result<Mesh, Unreadable> {
    if facets.len() / FACET > MOST_TRIANGLES {
        return Err(Unreadable::too_many());
    }
    let mut mesh = Mesh::default();
    mesh.vertices.reserve_exact(facets.len() / FACET * 3);
    for (i, facet) in facets.chunks_exact(FACET).enumerate() {
        let value = |at: usize| {
            let b = &facet[at..at + 4];
            f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        };
        for k in [12, 24, 36] {
            let at = [value(k), value(k + 4), value(k + 8)];
            if !at.into_iter().all(sound) {
                let text = format!("a corner of its triangle {} lies at {at:?}, which is no place", i + 1);
                return Err(Unreadable::new(text, "write the file out again: some of its numbers are broken"));
            }
            mesh.vertices.push(DVec3::from_array(at));
        }
    }
    mesh.triangles = (0..mesh.vertices.len() as u32 / 3).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    Ok(mesh)
}

/// Where the text is within solid, facet and loop.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Within {
    Nothing,
    Solid,
    Facet,
    Loop,
    LoopDone,
}

fn text(bytes: &[u8]) -> Result<Mesh, Unreadable> {
    let mut mesh = Mesh::default();
    let mut within = Within::Nothing;
    let mut corners: Vec<DVec3> = Vec::with_capacity(3);
    let mut last = 0;
    // Lines end with a line feed, or in very old files with a carriage return alone.
    let end = if bytes.contains(&b'\n') { b'\n' } else { b'\r' };
    for (i, line) in bytes.split(|&b| b == end).enumerate() {
        last = i + 1;
        let mut words = line.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
        let wrong = |text: String| {
            Unreadable::new(format!("line {last}: {text}"), "write the file out again, best as binary STL")
        };
        // A line may hold several words of the language; `vertex` and its numbers stand on one line.
        while let Some(word) = words.next() {
            let is = |what: &str| word.eq_ignore_ascii_case(what.as_bytes());
            within = match within {
                // What follows the word on its line is a name.
                Within::Nothing if is("solid") => {
                    words.by_ref().for_each(drop);
                    Within::Solid
                }
                Within::Solid if is("endsolid") => {
                    words.by_ref().for_each(drop);
                    Within::Nothing
                }
                Within::Solid if is("facet") => {
                    // The normal: a word and three numbers, however broken.
                    words.by_ref().take(4).for_each(drop);
                    Within::Facet
                }
                Within::Facet if is("outer") => {
                    words.next();
                    corners.clear();
                    Within::Loop
                }
                Within::Loop if is("vertex") => {
                    corners.push(corner([words.next(), words.next(), words.next()]).map_err(wrong)?);
                    if corners.len() > 3 {
                        return Err(wrong("a facet has three corners, and this is the fourth".into()));
                    }
                    Within::Loop
                }
                Within::Loop if is("endloop") && corners.len() == 3 => {
                    let first = mesh.vertices.len() as u32;
                    mesh.vertices.extend_from_slice(&corners);
                    mesh.triangles.push([first, first + 1, first + 2]);
                    if mesh.triangles.len() > MOST_TRIANGLES {
                        return Err(Unreadable::too_many());
                    }
                    Within::LoopDone
                }
                Within::LoopDone if is("endfacet") => Within::Solid,
                _ => {
                    let expected = match within {
                        Within::Nothing => "`solid`",
                        Within::Solid => "`facet` or `endsolid`",
                        Within::Facet => "`outer loop`",
                        Within::Loop => "`vertex`, or `endloop` after three of them",
                        Within::LoopDone => "`endfacet`",
                    };
                    return Err(wrong(format!("{} stands where {expected} was expected", told(word))));
                }
            };
        }
    }
    if within != Within::Nothing {
        return Err(Unreadable::new(format!("it ends on line {last} before `endsolid`"), AGAIN));
    }
    Ok(mesh)
}
