//! calendar.ics: the likely course of the making (RFC 5545).
//!
//! Times are local without a zone ("floating", RFC 5545 §3.3.5 form 1): the shop's own clock. Lines end in CRLF and are
//! folded so that none is longer than 75 octets (§3.1). UID and DTSTAMP follow from the plan alone.

use crate::PapersError;
use jiff::civil::DateTime;
use route::CalendarEntry;

const FILE: &str = "calendar.ics";

/// The calendar as text.
pub(crate) fn ics(title: &str, entries: &[CalendarEntry]) -> Result<Vec<u8>, PapersError> {
    let mut out = String::new();
    line(&mut out, "BEGIN:VCALENDAR");
    line(&mut out, "VERSION:2.0");
    line(&mut out, "PRODID:-//Treen//Shop calendar 1//EN");
    for (k, entry) in entries.iter().enumerate() {
        event(&mut out, title, k, entry)?;
    }
    line(&mut out, "END:VCALENDAR");
    Ok(out.into_bytes())
}

fn event(out: &mut String, title: &str, k: usize, entry: &CalendarEntry) -> Result<(), PapersError> {
    let start = stamp(&entry.start)?;
    let end = stamp(&entry.end)?;
    line(out, "BEGIN:VEVENT");
    line(out, &format!("UID:{}-{k}-{}@treen.invalid", plain(title), plain(&entry.step)));
    line(out, &format!("DTSTAMP:{start}Z"));
    line(out, &format!("DTSTART:{start}"));
    if end > start {
        line(out, &format!("DTEND:{end}"));
    }
    line(out, &format!("SUMMARY:{}", escaped(&entry.title)));
    line(out, &format!("DESCRIPTION:{}", escaped(&describe(title, entry))));
    // Waiting leaves the maker free (§3.8.2.7).
    line(out, if entry.waiting { "TRANSP:TRANSPARENT" } else { "TRANSP:OPAQUE" });
    line(out, if entry.waiting { "CATEGORIES:WAITING" } else { "CATEGORIES:WORK" });
    line(out, "END:VEVENT");
    Ok(())
}

fn describe(title: &str, entry: &CalendarEntry) -> String {
    if entry.waiting {
        format!("{title}: waiting. The likely time only; \"ready\" is a test, not a date.")
    } else {
        format!("{title}: step {}.", entry.step)
    }
}

/// `20261201T083000` from `2026-12-01T08:30`.
fn stamp(text: &str) -> Result<String, PapersError> {
    let time: DateTime =
        text.parse().map_err(|e| PapersError::unwritable(FILE, format!("`{text}` is no time of the calendar: {e}")))?;
    Ok(time.strftime("%Y%m%dT%H%M%S").to_string())
}

/// Letters, digits and hyphens only.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect()
}

/// TEXT values: backslash, semicolon, comma and line break are escaped (§3.3.11).
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,").replace("\r\n", "\\n").replace('\n', "\\n")
}

/// One content line, folded at 75 octets without splitting a character.
fn line(out: &mut String, text: &str) {
    let mut room = 75;
    let mut used = 0;
    for c in text.chars() {
        if used + c.len_utf8() > room {
            out.push_str("\r\n ");
            room = 74;
            used = 0;
        }
        out.push(c);
        used += c.len_utf8();
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;
    use icalendar::{Calendar, CalendarComponent, Component};

    fn entry(step: &str, title: &str, waiting: bool) -> CalendarEntry {
        CalendarEntry {
            step: step.into(),
            title: title.into(),
            start: "2026-12-01T08:30".into(),
            end: "2026-12-01T10:00".into(),
            waiting,
        }
    }

    #[test]
    fn lines_are_folded_at_75_octets_and_end_in_crlf() {
        let long = "Säge, hoble; füge: ".repeat(12);
        let text = String::from_utf8(ics("Tray", &[entry("mill", &long, false)]).unwrap()).unwrap();
        assert!(text.ends_with("\r\n"));
        let lines: Vec<&str> = text.trim_end().split("\r\n").collect();
        assert!(lines.iter().all(|l| l.len() <= 75 && !l.contains('\n')));
        assert!(lines.iter().any(|l| l.starts_with(' ')));
    }

    #[test]
    fn a_reader_we_did_not_write_finds_every_event() {
        let title = "Mill, joint; glue";
        let long = format!("{title} {}", "again ".repeat(30));
        let bytes = ics("Tray", &[entry("mill", &long, false), entry("glue", "Glue dries", true)]).unwrap();
        let calendar: Calendar = String::from_utf8(bytes).unwrap().parse().unwrap();
        let events: Vec<_> = calendar
            .components
            .iter()
            .filter_map(|c| if let CalendarComponent::Event(e) = c { Some(e) } else { None })
            .collect();
        assert_eq!(events.len(), 2);
        assert_eq!(events[0].get_summary().unwrap().replace("\\,", ",").replace("\\;", ";"), long);
        assert_eq!(events[0].property_value("DTSTART"), Some("20261201T083000"));
        assert_eq!(events[0].property_value("DTEND"), Some("20261201T100000"));
        assert_ne!(events[0].get_uid(), events[1].get_uid());
        assert!(events.iter().all(|e| e.get_start().is_some() && e.get_timestamp().is_some()));
    }

    #[test]
    fn a_time_that_is_none_is_refused() {
        let mut bad = entry("mill", "Mill", false);
        bad.start = "tomorrow".into();
        assert!(ics("Tray", &[bad]).is_err());
    }
}
