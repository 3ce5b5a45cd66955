//! The maker's record of measured values: it changes what is set at touch-off, never a byte of a program.

use crate::files::Files;
use crate::keys::MEASURED;
use crate::reader::{Reading, Value, read};
use crate::request::Placed;
use base::{FileId, Length, Report};
use serde::{Deserialize, Serialize};

/// What was measured so far; what is missing stays as planned.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Thickness of the blank before the first setup (T0m).
    pub blank: Option<Placed<Length>>,
    /// Depth of the two witnesses as they were cut (w).
    pub witness: Option<Placed<[Length; 2]>>,
    /// Depth left in the two witnesses after levelling (w_m).
    pub witness_left: Option<Placed<[Length; 2]>>,
    /// Moisture of the blank by the meter, %.
    pub moisture: Option<Placed<f64>>,
    /// Tape stack under the outside's setup (t_t).
    pub tape: Option<Placed<Length>>,
    /// Foot plane to rim face (L_m).
    pub foot_to_rim: Option<Placed<Length>>,
}

/// Reads a record. `None` if a value in it could not be read.
///
/// ```
/// let (measured, report) = job::parse_measured("blank = '65.5 mm'\ntape = 0.3", base::FileId(0));
/// assert!(report.findings.is_empty());
/// assert_eq!(measured.unwrap().blank.map(|b| b.value), Some(base::mm(65.5)));
/// ```
pub fn parse_measured(text: &str, file: FileId) -> (Option<Measured>, Report) {
    let whole = (&MEASURED, "a record of measured values");
    let Reading { record, report, .. } = read(text, file, whole, &Files::default());
    let length = |key: &str| match record.value(key) {
        Some(Placed { value: Value::Length(value), at }) => Some(Placed { value: *value, at: *at }),
        _ => None,
    };
    let pair = |key: &str| match record.value(key) {
        Some(Placed { value: Value::Lengths(value), at }) => Some(Placed { value: *value, at: *at }),
        _ => None,
    };
    let measured = Measured {
        blank: length("blank"),
        witness: pair("witness"),
        witness_left: pair("witness_left"),
        moisture: match record.value("moisture") {
            Some(Placed { value: Value::Number(value), at }) => Some(Placed { value: *value, at: *at }),
            _ => None,
        },
        tape: length("tape"),
        foot_to_rim: length("foot_to_rim"),
    };
    ((!report.has_errors()).then_some(measured), report)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reading_of_a_meter_is_a_number() {
        let measured = parse_measured("moisture = 8.5", FileId(0)).0.unwrap();
        assert_eq!(measured.moisture.map(|m| m.value), Some(8.5));
        assert!(parse_measured("moisture = 90", FileId(0)).0.is_none());
    }

    #[test]
    fn a_mistake_is_told_with_the_nearest_key() {
        let (measured, report) = parse_measured("witness_lift = [6.5, 6.6]\nblank = \"thick\"", FileId(0));
        assert!(measured.is_none());
        let codes: Vec<&str> = report.findings.iter().map(|f| f.code.as_str()).collect();
        assert!(codes.contains(&"unknown-key"), "{codes:?}");
        assert_eq!(report.findings.len(), 2, "{report:#?}");
    }
}
