//! Days of the calendar.

/// Whether `2027-03-01` is a day of the Gregorian calendar, from the year 2000 on.
pub(crate) fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return false };
    let number = |s: &str, digits| {
        (s.len() == digits && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse().ok()).flatten()
    };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2)) else {
        return false;
    };
    let year: u32 = year;
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let days: u32 = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    };
    year >= 2000 && (1..=days).contains(&day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_exist_are_dates() {
        // The leap years 2000 and 2028, and 2100 that is none, by the Gregorian rule.
        for right in ["2027-03-01", "2028-02-29", "2000-02-29", "2027-12-31"] {
            assert!(is_date(right), "{right}");
        }
        for wrong in
            ["2027-02-29", "2100-02-29", "2027-13-01", "2027-04-31", "2027-00-10", "2027-3-1", "1999-01-01", "", "x"]
        {
            assert!(!is_date(wrong), "{wrong}");
        }
    }
}
