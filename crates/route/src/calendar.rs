//! The calendar: steps laid into working hours, waits run on by night.

use crate::plan::CalendarEntry;
use jiff::civil::{Date, DateTime};
use jiff::{Span, ToSpan};
use trade::shelf::Hours;
use workpiece::Step;

/// First day where the job names none: a Monday, so that the plan reads the same every time it is made.
const NO_START: &str = "2027-01-04";

/// Lays the steps out, one maker, in the order of the route.
pub(crate) fn calendar(steps: &[Step], hours: &Hours, start: Option<&str>) -> Vec<CalendarEntry> {
    let first: Date = start.unwrap_or(NO_START).parse().unwrap_or_else(|_| jiff::civil::date(2027, 1, 4));
    let mut now = at_hour(first, hours.from_h);
    let mut entries = Vec::new();
    for step in steps {
        now = working(now, hours);
        let begin = now;
        let mut left = step.duration_s.max(step.hands_on_s);
        while left > 0.0 {
            now = working(now, hours);
            let until = at_hour(now.date(), hours.to_h);
            let room = (until - now).total(jiff::Unit::Second).unwrap_or(0.0);
            let take = left.min(room.max(1.0));
            now = later(now, take);
            left -= take;
        }
        if step.duration_s > 0.0 {
            entries.push(entry(step, begin, now, false));
        }
        if step.wait_s > 0.0 {
            let from = now;
            now = later(now, step.wait_s);
            entries.push(entry(step, from, now, true));
        }
    }
    entries
}

/// The day that lies so many hours after a moment of the calendar, `YYYY-MM-DD`. `None` if the moment cannot be read.
pub fn day_after(moment: &str, hours: f64) -> Option<String> {
    let from: DateTime = moment.parse().ok()?;
    Some(later(from, hours * 3600.0).date().to_string())
}

fn entry(step: &Step, start: DateTime, end: DateTime, waiting: bool) -> CalendarEntry {
    let print = |t: DateTime| t.strftime("%Y-%m-%dT%H:%M").to_string();
    CalendarEntry { step: step.id.clone(), title: step.title.clone(), start: print(start), end: print(end), waiting }
}

/// The next moment at or after `t` that lies in working hours.
fn working(t: DateTime, hours: &Hours) -> DateTime {
    let mut t = t;
    for _ in 0..15 {
        let works = hours.days.contains(&(t.date().weekday().to_monday_one_offset() as u8));
        if works && t < at_hour(t.date(), hours.from_h) {
            return at_hour(t.date(), hours.from_h);
        }
        if works && t < at_hour(t.date(), hours.to_h) {
            return t;
        }
        let next = t.date().tomorrow().unwrap_or(t.date());
        t = at_hour(next, hours.from_h);
    }
    t
}

fn at_hour(date: Date, hour: f64) -> DateTime {
    later(date.at(0, 0, 0, 0), hour * 3600.0)
}

fn later(t: DateTime, seconds: f64) -> DateTime {
    let span: Span = (seconds.round() as i64).seconds();
    t.checked_add(span).unwrap_or(t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use workpiece::StepKind;

    fn step(id: &str, hours: f64, wait: f64) -> Step {
        Step {
            id: id.into(),
            kind: StepKind::Reminder,
            title: id.into(),
            needs: vec![],
            gives: vec![],
            duration_s: hours * 3600.0,
            wait_s: wait * 3600.0,
            hands_on_s: hours * 3600.0,
            setup: None,
            cast: None,
            says: vec![],
            cautions: vec![],
            figures: vec![],
            change: None,
            grit: None,
        }
    }

    #[test]
    fn a_day_is_counted_on() {
        assert_eq!(day_after("2027-02-26T16:00", 7.0 * 24.0).as_deref(), Some("2027-03-05"));
        assert_eq!(day_after("soon", 1.0), None);
    }

    #[test]
    fn work_keeps_to_hours_and_waits_run_by_night() {
        let hours =
            Hours { from_h: 9.0, to_h: 17.0, days: vec![1, 2, 3, 4, 5], day_c: 21.0, night_c: 16.0, humidity: 0.45 };
        // 2027-03-05 is a Friday.
        let plan =
            calendar(&[step("a", 6.0, 0.0), step("b", 3.0, 20.0), step("c", 1.0, 0.0)], &hours, Some("2027-03-05"));
        assert_eq!((plan[0].start.as_str(), plan[0].end.as_str()), ("2027-03-05T09:00", "2027-03-05T15:00"));
        assert_eq!((plan[1].start.as_str(), plan[1].end.as_str()), ("2027-03-05T15:00", "2027-03-08T10:00"));
        assert_eq!(plan[2].end, "2027-03-09T06:00");
        assert!(plan[2].waiting);
        assert_eq!(plan[3].start, "2027-03-09T09:00");
    }
}
