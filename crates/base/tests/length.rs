//! Lengths as read and as printed, against the tables in `cases/` and against each other.

#![allow(clippy::unwrap_used)]

use base::{Length, Quarters, Units, clock, mm, sensible};
use proptest::prelude::*;

fn cases(text: &str) -> Vec<(usize, Vec<&str>)> {
    let lines = text.lines().enumerate().filter(|(_, line)| !line.starts_with('#'));
    let cases: Vec<_> = lines.map(|(n, line)| (n + 1, line.split(" ; ").map(str::trim).collect())).collect();
    assert!(!cases.is_empty(), "no cases");
    cases
}

#[test]
fn lengths_are_read_as_in_the_cases() {
    for (n, case) in cases(include_str!("cases/read.txt")) {
        let [text, unit, want, ..] = case[..] else { panic!("read.txt:{n}") };
        let got = Length::parse(text, if unit == "in" { Units::In } else { Units::Mm });
        if let Some(part) = want.strip_prefix("error ") {
            let message = got.expect_err(&format!("read.txt:{n}")).to_string();
            assert!(message.contains(part), "read.txt:{n}: {message}");
        } else {
            let got = got.unwrap_or_else(|e| panic!("read.txt:{n}: {e}")).as_mm();
            assert!((got - want.parse::<f64>().unwrap()).abs() < 1e-9, "read.txt:{n}: {got}");
        }
    }
}

#[test]
fn lengths_are_printed_as_in_the_cases() {
    for (n, case) in cases(include_str!("cases/print.txt")) {
        let length = mm(case[0].parse().unwrap());
        let got = [
            length.print(Units::Mm),
            length.print(Units::In),
            length.print_touch_off(Units::Mm),
            length.print_touch_off(Units::In),
        ];
        assert_eq!(got[..], case[1..], "print.txt:{n}");
    }
}

#[test]
fn both_systems_stand_side_by_side() {
    assert_eq!(mm(62.0).print_both(Units::Mm), "62.0 mm (2 7/16 in + 0.1 mm)");
    assert_eq!(mm(57.15).print_both(Units::In), "2 1/4 in (57.1 mm)");
    assert_eq!(mm(6.3500).to_string(), "6.35 mm");
    assert_eq!(mm(-20.0).to_string(), "−20 mm");
}

#[test]
fn boards_are_read_in_quarters() {
    let quarters = Quarters::parse(" 8/4 ").unwrap();
    assert_eq!((quarters.count(), quarters.rough(), quarters.to_string()), (8, mm(50.8), "8/4".to_owned()));
    for wrong in ["8", "8/2", "0/4", "33/4", "two", "-8/4", "8/4 in", ""] {
        assert!(Quarters::parse(wrong).unwrap_err().to_string().contains("expected `4/4`"), "{wrong}");
    }
}

#[test]
fn times_and_amounts_have_no_idle_digits() {
    let times =
        [(0.0, "0:00"), (4.0, "0:01"), (59.0 * 60.0 + 40.0, "1:00"), (72.0 * 3600.0, "72:00"), (f64::NAN, "0:00")];
    for (seconds, want) in times {
        assert_eq!(clock(seconds), want);
    }
    let amounts = [
        (286.4, "286 g"),
        (999.6, "1000 g"),
        (17_912.0, "17\u{a0}900 g"),
        (0.037_249, "0.0372 g"),
        (-1.5, "−1.50 g"),
        (0.0, "0 g"),
    ];
    for (value, want) in amounts {
        assert_eq!(sensible(value, "g"), want);
    }
}

proptest! {
    #[test]
    fn what_is_printed_reads_back(value in -3000.0..3000.0_f64, inch: bool) {
        let units = if inch { Units::In } else { Units::Mm };
        let read = |text: String| Length::parse(&text, units.other()).unwrap().as_mm();
        // Half of the last digit printed: 0.1 mm, 0.01 mm, 0.0001 in; 1e-9 mm for rounding of the numbers.
        prop_assert!((read(mm(value).print(units)) - value).abs() <= 0.05 + 1e-9);
        let half_digit = if inch { 0.00005 * 25.4 } else { 0.005 };
        prop_assert!((read(mm(value).print_touch_off(units)) - value).abs() <= half_digit + 1e-9);
        prop_assert!((read(mm(value).to_string()) - value).abs() <= 0.0005 + 1e-9);
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC*", near in "[-−+ 0-9.,/⁄'\"mcin]{0,12}") {
        for text in [text, near] {
            let read = Length::parse(&text, Units::Mm);
            prop_assert!(read.is_ok_and(|length| length.as_mm().is_finite()) || Length::parse(&text, Units::Mm).is_err());
            let _ = Quarters::parse(&text);
        }
    }
}
