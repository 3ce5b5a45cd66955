//! Blanks what is not TOML, so that the rest of a text can be read all the same.

use base::{At, FileId, Report};
use std::ops::Range;
use toml::de::DeTable;

/// After so many lines that are not TOML the text is something else.
const MOST_MENDINGS: usize = 100;

/// The text with every line blanked that is not TOML, byte for byte as long; each first cause is reported.
///
/// The parser recovers, too, but leaves off at a line without `=`; a maker wants to hear of the lines below as well.
pub(crate) fn mend(text: &str, file: FileId, report: &mut Report) -> String {
    let mut mended = text.to_owned();
    let mut last: Option<(String, usize)> = None;
    for _ in 0..MOST_MENDINGS {
        let Some((start, end, message)) = first_error(&mended) else { return mended };
        let here = broken_lines(&mended, start);
        // What a line opens and does not close goes wrong on the next one; so see which of the two is the cause.
        let above = line_above(&mended, here.start).filter(|above| {
            let errors_without = |lines: &Range<usize>| DeTable::parse_recoverable(&blanked(&mended, lines)).1.len();
            errors_without(above) < errors_without(&here)
        });
        let follows = |before: usize| mended[before.min(here.start)..here.start].trim().is_empty();
        if let Some(above) = above {
            let close = mended[above.clone()].trim_end().len();
            let at = At::new(file, above.start..above.start + close);
            let text = format!("this cannot be read as TOML: what this line opens is not closed ({message})");
            report.error("syntax", Some(at), text).hint(SYNTAX_HINT);
            mended = blanked(&mended, &above);
            continue;
        }
        // What was opened far above fails again on each line below: that is still the same mistake.
        if !last.as_ref().is_some_and(|(same, before)| *same == message && follows(*before)) {
            let text = format!("this cannot be read as TOML: {message}");
            let line = mended[here.clone()].lines().next().unwrap_or_default();
            report.error("syntax", Some(At::new(file, start..end)), text).hint(hint_for(line, &message));
        }
        mended = blanked(&mended, &here);
        last = Some((message, here.end));
    }
    String::new()
}

/// Where the first mistake of a text begins and ends, and what it is.
fn first_error(text: &str) -> Option<(usize, usize, String)> {
    let (_, errors) = DeTable::parse_recoverable(text);
    let last = text.trim_end().len();
    let place = |span: Option<Range<usize>>| span.filter(|s| s.start < last).unwrap_or(last..last);
    let spans = errors.iter().map(|e| (place(e.span()), e.message().trim()));
    spans.min_by_key(|(span, _)| span.start).map(|(span, message)| (span.start, span.end, message.to_owned()))
}

/// The last line above `start` that is not blank.
fn line_above(text: &str, start: usize) -> Option<Range<usize>> {
    let end = text[..start].trim_end().len();
    let line = text[..end].rfind('\n').map_or(0, |n| n + 1);
    (line < end).then_some(line..end)
}

/// Every byte but line ends a blank, so that all places stay where they are.
fn blanked(text: &str, lines: &Range<usize>) -> String {
    let blank: String = text[lines.clone()].bytes().map(|b| if b == b'\n' { '\n' } else { ' ' }).collect();
    [&text[..lines.start], &blank, &text[lines.end..]].concat()
}

/// What to do about a line, by the slips that makers know.
fn hint_for(line: &str, message: &str) -> String {
    let (key, value) = line.split_once('=').unwrap_or(("", ""));
    let (key, value) = (key.trim(), value.split('#').next().unwrap_or_default().trim());
    let digits = |text: &str| !text.trim().is_empty() && text.trim().bytes().all(|b| b.is_ascii_digit());
    let pair = |sign: char| value.split_once(sign).filter(|(a, b)| digits(a.trim_start_matches('-')) && digits(b));
    if let Some((whole, decimals)) = pair(',') {
        return format!(
            "a number without quotes has a decimal point: `{key} = {0}.{1}`; with a comma it goes in quotes: `{key} = \"{0},{1} mm\"`",
            whole.trim(),
            decimals.trim()
        );
    }
    if pair('/').is_some() {
        return format!("a fraction goes in quotes, with its unit: `{key} = \"{value} in\"`");
    }
    if value.contains(['“', '”', '„', '‘', '’']) {
        return "use straight quotes, \" and not “ or ”; a plain text editor keeps them straight".to_owned();
    }
    if value.starts_with('"') && value.ends_with("\"\"") && value.len() > 2 {
        let inches = value.trim_matches('"');
        return format!("an inch mark would end the text: write `{key} = \"{inches} in\"`");
    }
    if message.contains("duplicate key") {
        return "the same name stands above already: keep one of the two".to_owned();
    }
    if line.trim_start().starts_with('{') {
        return "a job is written in TOML, a line for each `key = value`; `treen new NAME` writes one to start from"
            .to_owned();
    }
    SYNTAX_HINT.to_owned()
}

const SYNTAX_HINT: &str = "write `key = value` on one line, text in double quotes, an inch mark inside quotes as \\\", \
                           [table] headings in brackets, and each key only once";

/// The line a mistake begins on; from a broken heading all up to the next one, for its keys belong nowhere.
///
/// Spans of what is never closed reach to the end of the text, so their ends say nothing.
fn broken_lines(text: &str, mistake: usize) -> Range<usize> {
    let mistake = text.floor_char_boundary(mistake);
    let start = text[..mistake].rfind('\n').map_or(0, |n| n + 1);
    let line_end = |from: usize| text[from..].find('\n').map_or(text.len(), |n| from + n + 1);
    let mut end = line_end(mistake);
    if text[start..].trim_start().starts_with('[') {
        while end < text.len() && !text[end..].trim_start_matches([' ', '\t']).starts_with('[') {
            end = line_end(end);
        }
    }
    start..end
}
