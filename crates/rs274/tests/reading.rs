//! Reading: the published examples of NISTIR 6556, what follows from its definitions, and what must be refused.

use proptest::prelude::*;
use rs274::interpret::{Event, Panel, What, follow, run, run_with};
use std::io::{BufReader, Error, Read};

fn spoken(what: &What) -> String {
    let place = |p: &[f64; 3]| format!("{} {} {}", p[0], p[1], p[2]).to_lowercase();
    match what {
        What::Straight { from, to, feed: None } => format!("rapid {} > {}", place(from), place(to)),
        What::Straight { from, to, feed: Some(f) } => format!("feed {} > {} {f}", place(from), place(to)),
        What::Arc { from, to, centre, axis, sweep, feed } => {
            format!("arc {axis} {} > {} {} {} {feed}", place(from), place(to), place(centre), sweep.to_degrees())
        }
        What::Chosen(number) => format!("chosen {number}"),
        What::Cutter(number) => format!("cutter {number}"),
        What::Spindle(rpm) => format!("spindle {rpm}"),
        What::Air(on) => format!("air {}", if *on { "on" } else { "off" }),
        What::Dwell(seconds) => format!("dwell {seconds}"),
        What::Stop => "stop".into(),
        What::Comment(text) => format!("comment {text}"),
        What::WorkOffset(system) => format!("offset {system}"),
        What::Shifted(to) => format!("shifted {}", place(to)),
        What::End => "end".into(),
    }
}

/// Numbers agree to half of the last digit that is written, but no closer than 1e-9.
fn agrees(got: &str, wanted: &str) -> bool {
    let (got, wanted): (Vec<_>, Vec<_>) = (got.split(' ').collect(), wanted.split(' ').collect());
    got.len() == wanted.len()
        && got.iter().zip(&wanted).all(|(g, w)| match (g.parse::<f64>(), w.parse::<f64>()) {
            (Ok(g), Ok(w)) if w.is_nan() => g.is_nan(),
            (Ok(g), Ok(v)) => {
                let digits = w.split_once('.').map_or(9, |(_, part)| part.len() as i32);
                (g - v).abs() <= 0.5 * 10_f64.powi(-digits) + 1e-9
            }
            _ => g == w,
        })
}

#[test]
fn programs_do_what_the_cases_say() {
    let mut ran = 0;
    for case in include_str!("cases/motions.txt").split("\n== ").skip(1) {
        let (title, rest) = case.split_once('\n').unwrap();
        let (program, wanted) = rest.split_once("\n--\n").unwrap_or_else(|| panic!("{title}: no `--`"));
        let events = run(&format!("g21\nf600\n{program}\nm2\n")).unwrap_or_else(|e| panic!("{title}: {e}"));
        let got: Vec<String> = events.iter().map(|event| spoken(&event.what)).collect();
        let wanted: Vec<&str> = wanted.lines().filter(|line| !line.is_empty()).chain(["end"]).collect();
        assert_eq!(got.len(), wanted.len(), "{title}: {got:#?}");
        for (g, w) in got.iter().zip(&wanted) {
            assert!(agrees(g, w), "{title}:\n got {g}\nwant {w}");
        }
        ran += 1;
    }
    assert!(ran >= 25, "only {ran} cases ran");
}

#[test]
fn what_the_language_forbids_is_refused_with_its_line() {
    let mut ran = 0;
    for line in include_str!("cases/refusals.txt").lines().filter(|line| !line.starts_with("# ")) {
        let Some((program, wanted)) = line.split_once("=>") else { panic!("no `=>` in {line}") };
        let (number, words) = wanted.trim().split_once(": ").unwrap();
        let text = program.split('|').map(str::trim).collect::<Vec<_>>().join("\n");
        match run(&text) {
            Ok(events) => panic!("{line}: was read as {events:?}"),
            Err(error) => {
                assert_eq!(error.line.to_string(), number, "{line}: {error}");
                assert!(error.text.contains(words), "{line}: {error}");
            }
        }
        ran += 1;
    }
    assert!(ran >= 80, "only {ran} refusals ran");
}

#[test]
fn a_line_may_hold_256_characters() {
    let of = |length: usize| format!("g21\n(x{})\nm2\n", "y".repeat(length - 3));
    assert!(run(&of(256)).is_ok());
    for letter in ["y", "é", "€", "𝄞"] {
        for length in [257, 343, 344, 513, 514, 1024, 1025, 1026, 5000] {
            let error = run(&of(length).replace('y', letter)).unwrap_err();
            assert!(error.line == 2 && error.text.contains("at most 256"), "{length} of {letter}: {error}");
        }
        assert!(run(&of(256).replace('y', letter)).is_ok());
    }
}

#[test]
fn a_text_that_cannot_be_read_is_refused_at_its_line() {
    struct Broken;
    impl Read for Broken {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(Error::other("the stick was pulled out"))
        }
    }
    let mut told = Vec::new();
    let mut line_of = |text: &[u8]| {
        follow(BufReader::new(text.chain(Broken)), Panel::default(), &mut |event| told.push(event)).unwrap_err().line
    };
    assert_eq!((line_of(b"g21\ng0 x1\ng0 x2"), line_of(b"g21\n(\xff)\nm2\n"), line_of(b"%\n")), (3, 2, 2));
    assert_eq!(told.len(), 1, "{told:?}");
}

#[test]
fn lines_after_the_end_are_not_read() {
    let events = run("%\ng21\nm2\nnonsense\n%\n").unwrap();
    assert_eq!(events, [Event { line: 3, what: What::End }]);
    assert_eq!(run("\r\n%\rg21\r%\rnonsense").unwrap(), [Event { line: 4, what: What::End }]);
}

#[test]
fn marked_lines_are_left_out_only_when_the_switch_is_on() {
    let text = "g21\n/g0 x1\ng0 y2\nm2";
    assert_eq!(run(text).unwrap().len(), 3);
    assert_eq!(run_with(text, Panel { skip_marked_lines: true }).unwrap().len(), 2);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn no_text_makes_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = run(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn no_sequence_of_words_makes_the_reader_panic(
        words in "(g21\n)?([GMXYZIJKRFSTNPQLHD#=\\[\\]()%/.\n 0-9+*-]|G[0-3]|G8[0-3]|MOD|ATAN|SIN\\[|M[0-9]){0,80}\nM2"
    ) {
        let _ = run(&words);
    }
}
