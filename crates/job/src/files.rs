//! Files that a job names: a typeface, a drawing, a model. The job gives a name; whoever reads the job gives the bytes.
//!
//! Nothing here reads a disk. [`named_files`](crate::named_files) tells which files a text names, [`Files`] brings what they hold, and
//! from then on each [`JobFile`] carries its bytes wherever the job goes, so that no later stage looks anything up.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a file that a job names may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum FileKind {
    /// A font file with outlines.
    Typeface,
    /// An SVG file.
    Drawing,
    /// A closed mesh of triangles.
    Solid,
}

impl FileKind {
    /// How the names of such files end, in small letters.
    pub fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Typeface => &[".ttf", ".otf"],
            Self::Drawing => &[".svg"],
            Self::Solid => &[".stl", ".3mf", ".obj"],
        }
    }

    /// What it is called, with its article.
    pub fn noun(self) -> &'static str {
        match self {
            Self::Typeface => "a typeface",
            Self::Drawing => "a drawing",
            Self::Solid => "a solid",
        }
    }

    /// The most bytes that such a file may have.
    pub fn greatest_size(self) -> u64 {
        match self {
            // Typefaces of tens of thousands of characters stay below.
            Self::Typeface => 64 << 20,
            Self::Drawing => 16 << 20,
            // Two million triangles as text.
            Self::Solid => 1 << 30,
        }
    }
}

/// A file that a job names, with what it holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobFile {
    /// Its path from the folder of the job, parts parted by `/`.
    pub name: String,
    /// What it holds.
    pub content: Content,
}

/// Bytes of a file. Where they are written out or hashed, their SHA-256 stands for them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Content {
    #[serde(skip)]
    bytes: Arc<[u8]>,
    sha256: String,
}

impl Content {
    /// Takes the bytes of a file.
    pub fn new(bytes: impl Into<Arc<[u8]>>) -> Self {
        let bytes = bytes.into();
        let sha256 = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        Self { bytes, sha256 }
    }

    /// The bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

/// What was found under the names of a job: the content, or in plain words why there is none (`is not there`).
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Files(BTreeMap<String, Result<Content, String>>);

impl Files {
    /// Keeps what was found under a name.
    pub fn put(&mut self, name: impl Into<String>, found: Result<Content, String>) {
        self.0.insert(name.into(), found);
    }

    /// What was found under a name; `None` if nobody looked.
    pub fn get(&self, name: &str) -> Option<&Result<Content, String>> {
        self.0.get(name)
    }
}

/// The longest path that a job may give.
pub(crate) const GREATEST_PATH: usize = 200;

/// What is wrong with a path, if anything: it must lead down from the job's folder on every system.
pub(crate) fn wrong_path(name: &str, kind: FileKind) -> Option<String> {
    let low = name.to_lowercase();
    let foreign = |c: char| c.is_control() || matches!(c, '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|');
    if name.is_empty() || name.len() > GREATEST_PATH || name.contains(foreign) {
        return Some(
            "expected a path of letters, digits and signs that every system knows, with `/` between folders".into(),
        );
    }
    if name.split('/').any(|part| part.is_empty() || part == "." || part == "..") {
        return Some("expected a path that leads down from the folder of the job".into());
    }
    if !kind.endings().iter().any(|end| low.ends_with(end)) {
        let endings: Vec<String> = kind.endings().iter().map(|end| format!("`{end}`")).collect();
        return Some(format!("expected {}, its name ending in {}", kind.noun(), endings.join(" or ")));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_lead_down_from_the_job_on_every_system() {
        for good in ["a.ttf", "type/Alder Hand.OTF", "..a/b..c.ttf", "ä/ö.otf"] {
            assert_eq!(wrong_path(good, FileKind::Typeface), None, "{good}");
        }
        let long = "x".repeat(400) + ".ttf";
        for bad in [
            "",
            "/a.ttf",
            "a//b.ttf",
            "../a.ttf",
            "a/../../b.ttf",
            "./a.ttf",
            "C:a.ttf",
            "a\\b.ttf",
            "\\\\host\\a.ttf",
            "a.ttf/",
            "a\n.ttf",
            "a.woff2",
            "ttf",
            &long,
        ] {
            assert!(wrong_path(bad, FileKind::Typeface).is_some(), "{bad}");
        }
    }

    /// FIPS 180-4's example: SHA-256 of "abc".
    #[test]
    fn content_is_written_as_its_published_hash() {
        let abc = serde_json::to_string(&Content::new(*b"abc")).unwrap();
        assert_eq!(abc, r#"{"sha256":"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}"#);
    }
}
