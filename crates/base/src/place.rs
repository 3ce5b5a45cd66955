//! Places in a text, and findings about them: collected, not thrown one by one.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Which of the texts of a run (job, shelf, shop overrides, …); the top crate knows their names.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub struct FileId(pub u16);

/// A place: a span of bytes in one text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct At {
    /// The text.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl At {
    /// A place by its bytes.
    pub fn new(file: FileId, bytes: std::ops::Range<usize>) -> Self {
        // Texts are far below 4 GiB; a place beyond would only be shown at the end.
        let clamp = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { file, start: clamp(bytes.start), end: clamp(bytes.end) }
    }
}

/// Line and column (both from 1, the column in characters) of a byte of a text.
///
/// ```
/// assert_eq!(base::line_column("höhe\nwall", 7), (2, 2));
/// ```
pub fn line_column(text: &str, byte: u32) -> (usize, usize) {
    let before: String = text.char_indices().take_while(|(at, _)| *at < byte as usize).map(|(_, c)| c).collect();
    let line_start = before.rfind('\n').map_or(0, |n| n + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// The maker should look; work goes on.
    Warning,
    /// The input is wrong; work stops after this stage.
    Error,
}

/// One thing found wrong, or worth knowing, with the place and what to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// How bad.
    pub severity: Severity,
    /// A short, stable name: `unknown-key`, `negative-wall`, …
    pub code: String,
    /// Where, when it has a place in a text.
    pub at: Option<At>,
    /// What is wrong, and what was expected.
    pub text: String,
    /// What to do.
    pub hint: Option<String>,
}

impl Finding {
    /// Adds what to do.
    pub fn hint(&mut self, hint: impl Into<String>) -> &mut Self {
        self.hint = Some(hint.into());
        self
    }
}

/// All findings of a stage, in the order they were found.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Report {
    /// The findings.
    pub findings: Vec<Finding>,
}

impl Report {
    /// Adds a finding and returns it, so that a hint can follow.
    pub fn add(&mut self, severity: Severity, code: &str, at: Option<At>, text: impl Into<String>) -> &mut Finding {
        self.findings.push(Finding { severity, code: code.to_owned(), at, text: text.into(), hint: None });
        let last = self.findings.len() - 1;
        &mut self.findings[last]
    }

    /// Adds an error.
    pub fn error(&mut self, code: &str, at: Option<At>, text: impl Into<String>) -> &mut Finding {
        self.add(Severity::Error, code, at, text)
    }

    /// Adds a warning.
    pub fn warning(&mut self, code: &str, at: Option<At>, text: impl Into<String>) -> &mut Finding {
        self.add(Severity::Warning, code, at, text)
    }

    /// Whether anything here stops the work.
    pub fn has_errors(&self) -> bool {
        self.findings.iter().any(|f| f.severity == Severity::Error)
    }

    /// Takes over the findings of another report, but none at a place that is known to be wrong: a mistake that shows
    /// again later is told once.
    pub fn absorb_new(&mut self, other: Report) {
        let wrong: Vec<At> =
            self.findings.iter().filter(|f| f.severity == Severity::Error).filter_map(|f| f.at).collect();
        self.findings.extend(other.findings.into_iter().filter(|f| f.at.is_none_or(|at| !wrong.contains(&at))));
    }

    /// Takes over the findings of another report.
    pub fn absorb(&mut self, other: Report) {
        self.findings.extend(other.findings);
    }
}
