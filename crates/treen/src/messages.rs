//! Findings as a person reads them: file, line, column, the excerpt, what was expected, what to do; all at once.

use crate::texts::{Text, Texts};
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use base::{At, Finding, Report, Severity};
use std::ops::Range;

/// Widest line of a message.
const WIDTH: usize = 100;

/// All findings, worst last, so that what stops the work is what the eye falls on.
pub fn render(report: &Report, texts: &Texts, coloured: bool) -> String {
    let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
    let renderer = renderer.decor_style(DecorStyle::Unicode).term_width(WIDTH);
    let mut findings: Vec<&Finding> = report.findings.iter().collect();
    findings.sort_by_key(|finding| finding.severity);
    let mut out = String::new();
    for finding in findings {
        out.push_str(&renderer.render(&groups(finding, texts)));
        out.push_str("\n\n");
    }
    out
}

fn groups<'a>(finding: &'a Finding, texts: &'a Texts) -> Vec<Group<'a>> {
    let level = match finding.severity {
        Severity::Note => Level::NOTE,
        Severity::Warning => Level::WARNING,
        Severity::Error => Level::ERROR,
    };
    let title = level.primary_title(finding.text.as_str()).id(finding.code.as_str());
    let place = finding.at.and_then(|at| Some((at, texts.get(at.file)?)));
    let mut group = match place {
        Some((at, text)) => title.element(excerpt(text, at)),
        None => Group::with_title(title),
    };
    if let Some(hint) = &finding.hint {
        group = group.element(Level::HELP.with_name("what to do").message(hint.as_str()));
    }
    vec![group]
}

fn excerpt(text: &Text, at: At) -> Snippet<'_, annotate_snippets::Annotation<'_>> {
    let span = span_in(&text.content, at);
    Snippet::source(text.content.as_str()).path(text.name.as_str()).annotation(AnnotationKind::Primary.span(span))
}

/// The span within the text, on character borders, and on one line where it runs on.
fn span_in(text: &str, at: At) -> Range<usize> {
    let border = |mut i: usize| {
        i = i.min(text.len());
        while !text.is_char_boundary(i) {
            i -= 1;
        }
        i
    };
    let (start, end) = (border(at.start as usize), border(at.end as usize));
    let line = text[start..].find('\n').map_or(text.len(), |length| start + length);
    start..end.clamp(start, line.max(start))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_names_file_line_column_excerpt_and_remedy() {
        let mut texts = Texts::default();
        let file = texts.put("bowl/job.toml", "[piece]\nwall = \"-3 mm\"\n");
        let mut report = Report::default();
        let at = At { file, start: 15, end: 22 };
        report
            .error("negative-wall", Some(at), "the wall is −3 mm; above 0 was expected")
            .hint("write `wall = \"6 mm\"`");
        let text = render(&report, &texts, false);
        for part in
            ["bowl/job.toml:2:8", "wall = \"-3 mm\"", "above 0 was expected", "what to do: write", "negative-wall"]
        {
            assert!(text.contains(part), "{part} in\n{text}");
        }
    }

    #[test]
    fn wild_places_are_no_trouble() {
        let mut texts = Texts::default();
        let file = texts.put("job", "Ä\nb");
        for (start, end) in [(1, 1), (0, 99), (99, 3), (2, 4)] {
            let mut report = Report::default();
            report.warning("x", Some(At { file, start, end }), "words");
            assert!(render(&report, &texts, false).contains("words"));
        }
        let mut report = Report::default();
        report.error("x", Some(At { file: base::FileId(7), start: 0, end: 1 }), "no such file");
        report.add(Severity::Note, "y", None, "a note");
        let text = render(&report, &texts, true);
        assert!(text.find("a note").unwrap() < text.find("no such file").unwrap());
    }
}
