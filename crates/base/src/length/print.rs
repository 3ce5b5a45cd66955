//! Prints lengths, times and amounts for the shop: no more digits than a rule, a dial or a scale shows.
//!
//! A figure in inches is a fraction a rule bears, with what is left over in mm, so that nothing is lost by it.

use super::{Length, Units};
use std::fmt;

/// Finest mark of an inch rule.
const PARTS_OF_INCH: i64 = 64;

impl Length {
    /// For a rule: to 0.1 mm, or to 1/64 in with the remainder in mm where it is 0.05 mm or more.
    ///
    /// ```
    /// use base::{Units, mm};
    /// assert_eq!(mm(63.8).print(Units::Mm), "63.8 mm");
    /// assert_eq!(mm(63.8).print(Units::In), "2 33/64 in − 0.1 mm");
    /// ```
    pub fn print(self, units: Units) -> String {
        match units {
            Units::Mm => format!("{} mm", fixed(self.as_mm(), 1)),
            Units::In => self.print_fraction(),
        }
    }

    /// In the maker's units, and in the other ones in brackets.
    pub fn print_both(self, first: Units) -> String {
        format!("{} ({})", self.print(first), self.print(first.other()))
    }

    /// For messages: as short as can be in mm, or in inches with the mm in brackets.
    ///
    /// ```
    /// use base::{Units, mm};
    /// assert_eq!(mm(57.15).told(Units::Mm), "57.15 mm");
    /// assert_eq!(mm(57.15).told(Units::In), "2 1/4 in (57.15 mm)");
    /// ```
    pub fn told(self, units: Units) -> String {
        match units {
            Units::Mm => self.to_string(),
            Units::In => format!("{} ({self})", self.print(Units::In)),
        }
    }

    /// For a touch-off: to 0.01 mm, or to 0.0005 in or better (four decimals).
    pub fn print_touch_off(self, units: Units) -> String {
        match units {
            Units::Mm => format!("{} mm", fixed(self.as_mm(), 2)),
            Units::In => format!("{} in", fixed(self.as_inches(), 4)),
        }
    }

    fn print_fraction(self) -> String {
        let size = self.abs();
        let parts = (size.as_inches() * PARTS_OF_INCH as f64).round();
        let rest = size - Self::from_inches(parts / PARTS_OF_INCH as f64);
        // A length is far below 2^53 parts; `as` only saturates for what no shop holds.
        let parts = parts as i64;
        let sign = if self.as_mm() < 0.0 && parts > 0 { "−" } else { "" };
        let inches = format!("{sign}{} in", mixed_number(parts));
        if rest.abs().as_mm() < 0.05 {
            return inches;
        }
        // The sign before the inches stands for the inches alone, so the remainder carries its own.
        let up = (rest.as_mm() > 0.0) == (self.as_mm() >= 0.0);
        format!("{inches} {} {} mm", if up { '+' } else { '−' }, fixed(rest.abs().as_mm(), 1))
    }
}

/// `2 33/64` for 161 parts, in lowest terms.
fn mixed_number(parts: i64) -> String {
    let (whole, over) = (parts / PARTS_OF_INCH, parts % PARTS_OF_INCH);
    if over == 0 {
        return whole.to_string();
    }
    let common = 1_i64 << over.trailing_zeros(); // 64 is a power of two, so this is the greatest common divisor
    let fraction = format!("{}/{}", over / common, PARTS_OF_INCH / common);
    if whole == 0 { fraction } else { format!("{whole} {fraction}") }
}

/// With a true minus sign, and never "−0.0".
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|b| matches!(b, b'0' | b'.')) => zero.to_owned(),
        Some(size) => format!("−{size}"),
        None => text,
    }
}

impl fmt::Display for Length {
    /// As short as can be, in mm, to 0.001 mm: for messages.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = fixed(self.as_mm(), 3);
        write!(f, "{} mm", text.trim_end_matches('0').trim_end_matches('.'))
    }
}

/// Hours and minutes, `1:05`; what takes any time at all takes at least a minute.
///
/// ```
/// assert_eq!(base::clock(3_890.0), "1:05");
/// ```
pub fn clock(seconds: f64) -> String {
    let minutes = if seconds > 0.0 { (seconds / 60.0).round().max(1.0) as u64 } else { 0 };
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// An amount to three significant digits with its unit, thousands parted by a no-break space: `286 g`, `0.0372 m²`.
///
/// ```
/// assert_eq!(base::sensible(1.23456, "l"), "1.23 l");
/// ```
pub fn sensible(value: f64, unit: &str) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{} {unit}", if value == 0.0 { 0.0 } else { value });
    }
    // Written with an exponent first, so that 999.6 becomes 1000 and not 1.00e3 with a digit too many.
    let exponent: i32 = format!("{value:.2e}").rsplit_once('e').and_then(|(_, e)| e.parse().ok()).unwrap_or(0);
    let decimals = (2 - exponent).max(0) as usize;
    let tens = 10_f64.powi((exponent - 2).max(0));
    let rounded = if exponent > 2 { (value / tens).round() * tens } else { value };
    let text = fixed(rounded, decimals);
    format!("{} {unit}", group_thousands(&text))
}

/// Five digits and more are parted into threes; four are read at a glance.
fn group_thousands(text: &str) -> String {
    let (sign, number) = text.strip_prefix('−').map_or(("", text), |number| ("−", number));
    let (whole, decimals) = number.split_once('.').map_or((number, None), |(w, d)| (w, Some(d)));
    let mut out = sign.to_owned();
    for (n, digit) in whole.char_indices() {
        if n > 0 && whole.len() > 4 && (whole.len() - n) % 3 == 0 {
            out.push('\u{a0}');
        }
        out.push(digit);
    }
    if let Some(decimals) = decimals {
        out.push('.');
        out.push_str(decimals);
    }
    out
}
