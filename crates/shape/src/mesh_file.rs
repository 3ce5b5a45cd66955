//! Files of solids from elsewhere: STL (text and binary), OBJ and 3MF, from bytes to one triangle mesh.
//!
//! No count in a file is believed: memory grows with the bytes that are there, up to [`MOST_TRIANGLES`], and what unfolds
//! (compressed parts, copies of copies) is bounded too. Whether the mesh is the skin of a solid is asked later.

mod obj;
mod stl;
mod threemf;

use geom::{DVec3, Mesh};

/// A mesh of more triangles is refused: at this size reading and checking take about 2 GB.
pub const MOST_TRIANGLES: usize = 5_000_000;
/// Greater coordinates are no sizes in any unit.
const GREATEST: f64 = 1e9;

/// What a file holds.
#[derive(Clone, Debug, PartialEq)]
pub struct MeshFile {
    /// Its triangles, in its own unit. Corners of equal coordinates are one vertex, and triangles with two equal corners are
    /// left out.
    pub mesh: Mesh,
    /// Millimetres of its unit, where the file says it.
    pub unit_mm: Option<f64>,
}

/// Why a file gives no mesh.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// What is wrong and where.
    pub text: String,
    /// What to do.
    pub hint: String,
}

impl Unreadable {
    fn new(text: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { text: text.into(), hint: hint.into() }
    }

    fn too_many() -> Self {
        Self::new(
            format!("it holds more than {MOST_TRIANGLES} triangles"),
            "thin it to fewer triangles: a bowl shows no more than a million",
        )
    }
}

/// Reads a file; the ending of its name says what it is.
///
/// # Errors
/// [`Unreadable`] if it is no such file, or holds no triangles.
pub fn read(name: &str, bytes: &[u8]) -> Result<MeshFile, Unreadable> {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase()).unwrap_or_default();
    let (soup, unit_mm) = match ending.as_str() {
        "stl" => (stl::read(bytes)?, None),
        "obj" => (obj::read(bytes)?, None),
        "3mf" => (threemf::read(bytes)?, Some(1.0)),
        _ => {
            return Err(Unreadable::new(
                format!("what kind of file {name:?} is cannot be told from the end of its name"),
                "give a solid as .stl, .obj or .3mf",
            ));
        }
    };
    let mesh = soup.welded();
    if mesh.triangles.is_empty() {
        return Err(Unreadable::new(
            "it holds no triangles",
            "write the solid out again as a closed mesh of triangles, not as points, lines or curves",
        ));
    }
    Ok(MeshFile { mesh, unit_mm })
}

/// A word as a coordinate.
fn number(word: &[u8]) -> Option<f64> {
    let value: f64 = std::str::from_utf8(word).ok()?.parse().ok()?;
    sound(value).then_some(value)
}

/// Whether a number can be a coordinate.
fn sound(value: f64) -> bool {
    value.abs() <= GREATEST
}

/// A corner from its words, or what is wrong with one of them.
fn corner(words: [Option<&[u8]>; 3]) -> Result<DVec3, String> {
    let mut at = [0.0; 3];
    for (value, word) in at.iter_mut().zip(words) {
        let word = word.ok_or("a corner has three coordinates, and here are fewer")?;
        *value = number(word).ok_or_else(|| format!("{} is no coordinate", told(word)))?;
    }
    Ok(DVec3::from_array(at))
}

/// A word as shown in a message.
fn told(word: &[u8]) -> String {
    let shown: String =
        String::from_utf8_lossy(&word[..word.len().min(24)]).chars().filter(|c| !c.is_control()).collect();
    format!("“{shown}”")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_tells_the_kind_and_an_unknown_one_is_told() {
        let refusal = read("bowl.blob", b"solid").unwrap_err();
        assert!(refusal.text.contains("bowl.blob") && refusal.hint.contains(".stl"), "{refusal:?}");
        assert!(read("bowl", b"").is_err());
        assert!(read("BOWL.STL", b"solid x\nendsolid x\n").unwrap_err().text.contains("no triangles"));
    }

    #[test]
    fn coordinates_are_finite_and_of_this_world() {
        for word in ["nan", "inf", "-infinity", "1e300", "", "0x10", "1,5", "1_0"] {
            assert_eq!(number(word.as_bytes()), None, "{word}");
        }
        for (word, value) in [("-1.5e+2", -150.0), (".5", 0.5), ("+3", 3.0), ("1.", 1.0)] {
            assert_eq!(number(word.as_bytes()), Some(value));
        }
    }
}
