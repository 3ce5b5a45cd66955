//! Reads lengths as makers write them: `6`, `6,35 mm`, `2 1/4 in`, `2-1/4"`, `12 cm`; boards as `8/4`.
//!
//! What could be meant in two ways is refused, not guessed: `1,000 mm` may be one or a thousand.

use super::{Length, MM_PER_INCH, Units};
use std::fmt;

/// What a length may look like, for messages.
const EXPECTED: &str = "a length such as `6`, `6.35 mm`, `6,35 mm`, `12 cm`, `0.25 in`, `2 1/4 in` or `2-1/4\"`";

/// Above this, in mm, a number is a slip of the pen (1 km).
const GREATEST_MM: f64 = 1e6;

/// Why a text is no length.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// There is nothing to read.
    #[error("it is empty; expected {EXPECTED}")]
    Empty,
    /// The number cannot be read.
    #[error("`{0}` is not a number; expected {EXPECTED}")]
    Number(String),
    /// A comma before exactly three digits may part thousands or decimals.
    #[error("`{0}` can be read in two ways; expected a decimal point (`1.5`), and no mark between thousands (`1500`)")]
    Comma(String),
    /// The unit is not one of ours.
    #[error("`{0}` is not a unit of length here; expected mm, cm, m, in or \"")]
    Unit(String),
    /// Feet.
    #[error("feet are not read here; expected mm, cm, m, in or \" (1 ft is 12 in, or 304.8 mm)")]
    Feet,
    /// A fraction without an inch mark where millimetres are the rule.
    #[error("the fraction `{0}` has no unit, and lengths are in mm here; expected `{0} in` or `{0}\"`")]
    FractionWithoutInch(String),
    /// A fraction with a metric unit.
    #[error(
        "the fraction `{0}` has a metric unit; fractions are read in inches only: write decimals, such as `6.35 mm`"
    )]
    MetricFraction(String),
    /// The fraction cannot be meant so.
    #[error(
        "`{0}` is not a fraction of an inch: the lower number must be from 1 to 128, and after a whole number the upper one must be less than it"
    )]
    Fraction(String),
    /// `8/4` where a length is wanted.
    #[error("`{0}` is the thickness of a board in quarters of an inch, not a length; expected {EXPECTED}")]
    QuartersForLength(String),
    /// Not quarters.
    #[error(
        "`{0}` is not a board thickness in quarters of an inch; expected `4/4`, `5/4`, `6/4`, `8/4` … up to `32/4`"
    )]
    Quarters(String),
    /// Larger than any workshop.
    #[error("`{0}` is more than a kilometre")]
    TooLarge(String),
}

impl Length {
    /// Reads a length; a number without a unit is in `default`.
    ///
    /// ```
    /// use base::{Length, Units, mm};
    /// assert_eq!(Length::parse("2 1/4\"", Units::Mm)?, mm(57.15));
    /// assert_eq!(Length::parse("6,35", Units::Mm)?, mm(6.35));
    /// # Ok::<(), base::LengthError>(())
    /// ```
    ///
    /// # Errors
    /// [`LengthError`], whose text says what was expected.
    pub fn parse(text: &str, default: Units) -> Result<Self, LengthError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(LengthError::Empty);
        }
        let (negative, size) = match strip_sign(text) {
            Some((negative, rest)) => (negative, rest.trim_start()),
            None => (false, text),
        };
        let (main, rest) = split_remainder(size);
        let length = parse_size(main, default)?;
        let rest = rest.map_or(Ok(Self::ZERO), parse_remainder)?;
        Ok(if negative { rest - length } else { rest + length })
    }
}

/// `true` for a minus (typed or printed), `false` for a plus, and what follows it.
fn strip_sign(text: &str) -> Option<(bool, &str)> {
    let negative = text.strip_prefix(['-', '−']).map(|rest| (true, rest));
    negative.or_else(|| text.strip_prefix('+').map(|rest| (false, rest)))
}

/// Parts `2 33/64 in − 0.1 mm`, as we print it, before the sign of the remainder. A sign is one only between
/// spaces, after an inch mark; so `2-1/4"` stays whole.
fn split_remainder(text: &str) -> (&str, Option<&str>) {
    let sign = [" - ", " − ", " + "].iter().filter_map(|sign| text.find(sign)).min();
    match sign {
        Some(at) if text[..at].ends_with(['n', 'h', 's', '"', '″', '”']) => (&text[..at], Some(&text[at + 1..])),
        _ => (text, None),
    }
}

fn parse_remainder(text: &str) -> Result<Length, LengthError> {
    let not_a_number = || LengthError::Number(text.to_owned());
    let (negative, rest) = strip_sign(text).ok_or_else(not_a_number)?;
    let number = rest.trim().strip_suffix("mm").ok_or_else(not_a_number)?;
    let value = decimal(number.trim())?;
    Ok(Length(if negative { -value } else { value }))
}

fn parse_size(text: &str, default: Units) -> Result<Length, LengthError> {
    // The unit begins at the first character that no number holds.
    let in_number = |c: char| c.is_ascii_digit() || c.is_whitespace() || matches!(c, '.' | ',' | '/' | '-' | '⁄');
    let split = text.find(|c| !in_number(c)).unwrap_or(text.len());
    let (number, unit) = (text[..split].trim_end(), text[split..].trim());
    if number.is_empty() {
        return Err(LengthError::Number(text.to_owned()));
    }
    let scale = unit_scale(unit)?;
    let value = if number.contains(['/', '⁄']) {
        parse_fraction(number, unit, default)? * MM_PER_INCH
    } else {
        let default_scale = if default == Units::In { MM_PER_INCH } else { 1.0 };
        decimal(number)? * scale.unwrap_or(default_scale)
    };
    if value < GREATEST_MM { Ok(Length(value)) } else { Err(LengthError::TooLarge(text.to_owned())) }
}

/// Millimetres in a unit; `None` if no unit is written.
fn unit_scale(unit: &str) -> Result<Option<f64>, LengthError> {
    match unit {
        "" => Ok(None),
        "mm" => Ok(Some(1.0)),
        "cm" => Ok(Some(10.0)),
        "m" => Ok(Some(1000.0)),
        "in" | "inch" | "inches" | "\"" | "″" | "”" | "''" => Ok(Some(MM_PER_INCH)),
        "ft" | "foot" | "feet" => Err(LengthError::Feet),
        _ if unit.starts_with(['\'', '′', '’']) => Err(LengthError::Feet),
        _ => Err(LengthError::Unit(unit.to_owned())),
    }
}

/// A plain number with a point or a comma, no sign, no exponent.
fn decimal(text: &str) -> Result<f64, LengthError> {
    let not_a_number = || LengthError::Number(text.to_owned());
    let (whole, decimals) = text.split_once(['.', ',']).unwrap_or((text, ""));
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(decimals) || (whole.is_empty() && decimals.is_empty()) {
        return Err(if thousands(text) { LengthError::Comma(text.to_owned()) } else { not_a_number() });
    }
    if thousands(text) && !whole.trim_start_matches('0').is_empty() {
        return Err(LengthError::Comma(text.to_owned()));
    }
    let value: f64 = format!("0{whole}.{decimals}0").parse().map_err(|_| not_a_number())?;
    if value.is_finite() { Ok(value) } else { Err(LengthError::TooLarge(text.to_owned())) }
}

/// Whether every comma stands before three digits, so that it may part thousands.
fn thousands(text: &str) -> bool {
    let mut groups = text.split(',').skip(1).peekable();
    let three = |group: &str| {
        let whole = group.split('.').next().unwrap_or_default();
        whole.len() == 3 && whole.bytes().all(|b| b.is_ascii_digit())
    };
    groups.peek().is_some() && groups.all(three)
}

/// Inches of `2 1/4`, `2-1/4` or `1/8`.
fn parse_fraction(number: &str, unit: &str, default: Units) -> Result<f64, LengthError> {
    let wrong = || LengthError::Fraction(number.to_owned());
    let (upper, lower) = number.split_once(['/', '⁄']).ok_or_else(wrong)?;
    let (whole, upper) = match upper.trim_end().rsplit_once(|c: char| c.is_whitespace() || c == '-') {
        Some((whole, upper)) => (Some(integer(whole).ok_or_else(wrong)?), upper),
        None => (None, upper),
    };
    let (upper, lower) = (integer(upper).ok_or_else(wrong)?, integer(lower).ok_or_else(wrong)?);
    if !(1..=128).contains(&lower) || (whole.is_some() && upper >= lower) {
        return Err(wrong());
    }
    match unit {
        "" if whole.is_none() && upper >= lower => return Err(LengthError::QuartersForLength(number.to_owned())),
        "" if default == Units::Mm => return Err(LengthError::FractionWithoutInch(number.to_owned())),
        "mm" | "cm" | "m" => return Err(LengthError::MetricFraction(number.to_owned())),
        _ => {}
    }
    Ok(f64::from(whole.unwrap_or(0)) + f64::from(upper) / f64::from(lower))
}

fn integer(text: &str) -> Option<u32> {
    let text = text.trim();
    text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

/// Nominal thickness of a rough board in quarters of an inch: `8/4` is two inches before planing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quarters(u32);

impl Quarters {
    /// Reads `8/4`.
    ///
    /// # Errors
    /// [`LengthError::Quarters`] for anything else than 1/4 to 32/4.
    pub fn parse(text: &str) -> Result<Self, LengthError> {
        let quarters = text.split_once('/').filter(|(_, lower)| lower.trim() == "4").and_then(|(n, _)| integer(n));
        quarters.filter(|n| (1..=32).contains(n)).map(Self).ok_or_else(|| LengthError::Quarters(text.trim().to_owned()))
    }

    /// How many quarters of an inch.
    pub const fn count(self) -> u32 {
        self.0
    }

    /// Thickness of the rough board.
    pub const fn rough(self) -> Length {
        Length::from_inches(self.0 as f64 / 4.0)
    }
}

impl fmt::Display for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/4", self.0)
    }
}
