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
        What::LeavesPath(may) => format!("{} path", if *may { "leaves" } else { "keeps" }),
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

/// An expression as a tree, to be worked out by plain arithmetic.
#[derive(Clone, Debug)]
enum Tree {
    Number(f64),
    Parameter(u32),
    Function(&'static str, Box<Tree>),
    Angle(Box<Tree>, Box<Tree>),
    Pair(&'static str, Box<Tree>, Box<Tree>),
}

/// Parameters that the program of the test sets, from #1 on.
const SET: [f64; 3] = [2.5, -4.0, 7.0];

impl Tree {
    /// NISTIR 6556 §3.3.2.3 and §3.3.2.4: angles in degrees, FIX down, FUP up, whatever is not 0 is true.
    fn value(&self) -> f64 {
        let truth = |yes: bool| f64::from(u8::from(yes));
        match self {
            Self::Number(value) => *value,
            Self::Parameter(number) => SET[*number as usize - 1],
            Self::Angle(y, x) => y.value().atan2(x.value()).to_degrees(),
            Self::Function(name, of) => match (*name, of.value()) {
                ("ABS", x) => x.abs(),
                ("ACOS", x) => x.acos().to_degrees(),
                ("ASIN", x) => x.asin().to_degrees(),
                ("COS", x) => x.to_radians().cos(),
                ("EXP", x) => x.exp(),
                ("FIX", x) => x.floor(),
                ("FUP", x) => x.ceil(),
                ("LN", x) => x.ln(),
                ("ROUND", x) => x.round(),
                ("SIN", x) => x.to_radians().sin(),
                ("SQRT", x) => x.sqrt(),
                ("TAN", x) => x.to_radians().tan(),
                (other, _) => panic!("no function {other}"),
            },
            Self::Pair(name, a, b) => match (*name, a.value(), b.value()) {
                ("**", a, b) => a.powf(b),
                ("*", a, b) => a * b,
                ("/", a, b) => a / b,
                ("MOD", a, b) => (a % b + if a % b < 0.0 { b.abs() } else { 0.0 }) + 0.0,
                ("+", a, b) => a + b,
                ("-", a, b) => a - b,
                ("OR", a, b) => truth(a != 0.0 || b != 0.0),
                ("XOR", a, b) => truth((a != 0.0) != (b != 0.0)),
                ("AND", a, b) => truth(a != 0.0 && b != 0.0),
                (other, ..) => panic!("no operator {other}"),
            },
        }
    }

    /// Whether it and all its parts are numbers that a machine could reach.
    fn exists(&self) -> bool {
        let parts = match self {
            Self::Number(_) | Self::Parameter(_) => true,
            Self::Function(_, of) => of.exists(),
            Self::Angle(a, b) | Self::Pair(_, a, b) => a.exists() && b.exists(),
        };
        parts && self.value().abs() <= 1e9
    }

    fn rank(&self) -> u8 {
        match self {
            Self::Pair("**", ..) => 2,
            Self::Pair("*" | "/" | "MOD", ..) => 1,
            Self::Pair(..) => 0,
            _ => 3,
        }
    }

    /// As text with no more brackets than the ranks need: equal ranks run from left to right.
    fn text(&self) -> String {
        let within = |it: &Self, bare: bool| if bare { it.text() } else { format!("[{}]", it.text()) };
        match self {
            Self::Number(value) => format!("{value:.3}"),
            Self::Parameter(number) => format!("#{number}"),
            Self::Function(name, of) => format!("{name}[{}]", of.text()),
            Self::Angle(y, x) => format!("atan[{}]/[{}]", y.text(), x.text()),
            Self::Pair(name, a, b) => {
                let (left, right) = (within(a, a.rank() >= self.rank()), within(b, b.rank() > self.rank()));
                format!("{left} {name} {right}")
            }
        }
    }
}

fn tree() -> impl Strategy<Value = Tree> {
    const FUNCTIONS: [&str; 12] =
        ["ABS", "ACOS", "ASIN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"];
    const PAIRS: [&str; 9] = ["**", "*", "/", "MOD", "+", "-", "OR", "XOR", "AND"];
    let leaf = prop_oneof![
        (-9000..9000_i32).prop_map(|k| Tree::Number(f64::from(k) / 1000.0)),
        (-3..4_i32).prop_map(|k| Tree::Number(f64::from(k))),
        (1..=SET.len() as u32).prop_map(Tree::Parameter),
    ];
    leaf.prop_recursive(4, 12, 2, |inner| {
        let two = (inner.clone(), inner.clone());
        prop_oneof![
            1 => (prop::sample::select(&FUNCTIONS[..]), inner).prop_map(|(name, of)| Tree::Function(name, of.into())),
            1 => two.clone().prop_map(|(y, x)| Tree::Angle(y.into(), x.into())),
            4 => (prop::sample::select(&PAIRS[..]), two).prop_map(|(n, (a, b))| Tree::Pair(n, a.into(), b.into())),
        ]
    })
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

    #[test]
    fn expressions_agree_with_plain_arithmetic(tree in tree()) {
        let text = format!("g21 #1=2.5 #2=-4 #3=7\ng0 x[{}]\nm2", tree.text());
        prop_assume!(text.lines().all(|line| line.len() <= 256));
        let wanted = tree.value();
        match run(&text) {
            Ok(events) => {
                let What::Straight { to, .. } = events[0].what else { panic!("{events:?}") };
                prop_assert!((to[0] - wanted).abs() <= 1e-9 * (1.0 + wanted.abs()), "{} for {wanted}: {text}", to[0]);
            }
            // Refused where a part of it does not exist, or grows too great.
            Err(error) => {
                let why = ["does not exist", "division by 0", "beyond"];
                prop_assert!(why.iter().any(|why| error.text.contains(why)), "{error}: {text}");
                prop_assert!(!tree.exists(), "{error}: {text}");
            }
        }
    }

    /// Start and end on a circle by the closed form; R is kept off half and full turns, where the centre is ill-conditioned (§3.5.3.1).
    #[test]
    fn arcs_by_radius_and_by_centre_are_the_same_in_every_plane(
        axis in 0..3_usize,
        centre in (-50.0..50.0_f64, -50.0..50.0_f64),
        radius in 1.0..80.0_f64,
        begin in 0.0..6.2_f64,
        turn in prop_oneof![0.1..2.8_f64, 3.5..6.0_f64],
        rise in -3.0..3.0_f64,
        ccw in any::<bool>(),
        inch in any::<bool>(),
    ) {
        let sweep = if ccw { turn } else { -turn };
        let unit = if inch { 25.4 } else { 1.0 };
        let (a, b) = ((axis + 1) % 3, (axis + 2) % 3);
        let at = |angle: f64, along: f64| {
            let mut p = [0.0; 3];
            (p[a], p[b], p[axis]) = (centre.0 + radius * angle.cos(), centre.1 + radius * angle.sin(), along);
            p
        };
        let (from, to) = (at(begin, 0.0), at(begin + sweep, rise));
        let words = |letters: [&str; 3], p: [f64; 3]| (0..3).map(|k| format!("{}{:.9} ", letters[k], p[k])).collect::<String>();
        let mut offset = [centre.0 - from[a], centre.1 - from[b]].map(|v| format!("{v:.9}"));
        offset[0].insert_str(0, ["I", "J", "K"][a]);
        offset[1].insert_str(0, ["I", "J", "K"][b]);
        let long = if turn > std::f64::consts::PI { -radius } else { radius };
        for shape in [offset.join(" "), format!("R{long:.9}")] {
            let text = format!(
                "{} {}\nF9\nG0 {}\n{} {} {shape}\nM2\n",
                if inch { "G20" } else { "G21" },
                ["G19", "G18", "G17"][axis],
                words(["X", "Y", "Z"], from),
                if ccw { "G3" } else { "G2" },
                words(["X", "Y", "Z"], to),
            );
            let events = run(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
            let What::Arc { centre: c, axis: about, sweep: turned, feed, .. } = events[1].what else { panic!("{text}") };
            prop_assert!(about == axis && (feed - 9.0 * unit).abs() < 1e-9);
            prop_assert!((turned - sweep).abs() < 1e-6, "{turned} for {sweep}: {text}");
            prop_assert!((c[a] / unit - centre.0).hypot(c[b] / unit - centre.1) < 1e-5, "{c:?}: {text}");
        }
    }
}
