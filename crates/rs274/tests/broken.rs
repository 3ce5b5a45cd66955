//! Broken and random programs: the reader neither panics nor hangs nor grows beyond its bounds, tells the same whatever the
//! buffer it reads from, and never tells a jump or a place that is no number. And what was written comes back, move by move.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use rs274::interpret::{Event, Panel, ReadError, What, follow, run, run_with};
use rs274::write::{Act, Capabilities, Program, write};
use std::io::BufReader;
use std::time::{Duration, Instant};

/// Random numbers by Steele, Lea and Flood's SplitMix64 (2014; constants from memory): the same on every machine.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn pick<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }

    fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// What programs are made of, right and wrong.
const WORDS: &[&str] = &[
    "G0",
    "G1",
    "G2",
    "G3",
    "G4",
    "G17",
    "G18",
    "G19",
    "G20",
    "G21",
    "G40",
    "G43",
    "G49",
    "G53",
    "G54",
    "G55",
    "G59.3",
    "G61",
    "G64",
    "G80",
    "G81",
    "G82",
    "G83",
    "G84",
    "G85",
    "G86",
    "G88",
    "G89",
    "G90",
    "G91",
    "G92",
    "G92.1",
    "G92.2",
    "G92.3",
    "G93",
    "G94",
    "G98",
    "G99",
    "M0",
    "M1",
    "M2",
    "M3",
    "M4",
    "M5",
    "M6",
    "M7",
    "M8",
    "M9",
    "M30",
    "M48",
    "M60",
    "X",
    "Y",
    "Z",
    "I",
    "J",
    "K",
    "R",
    "P",
    "Q",
    "L9999",
    "L2",
    "F",
    "S",
    "T",
    "N10",
    "1",
    "-2.5",
    ".5",
    "+3",
    "0.0001",
    "99999999",
    "#1",
    "#1=",
    "##2",
    "#5221=",
    "[",
    "]",
    "[1+2]",
    "[2**9]",
    "[1/0]",
    "ATAN[1]/[2]",
    "SIN[30]",
    "EXP[700]",
    "SQRT[-1]",
    "MOD",
    "XOR",
    "AND",
    "**",
    "*",
    "/",
    "(",
    ")",
    "(say)",
    "%",
    "\n",
    "\n",
    "\n",
    "\r",
    "\r\n",
    " ",
    "\t",
    "/",
    ";",
    "é",
    "\u{0}",
    "\n%\n",
    "X1 Y1\n",
    "G1 X5 Y5 Z-1 F300\n",
    "G2 X1 Y1 R1\n",
    "G3 X10 Y0 I5 J0\n",
    "G81 X1 Z-1 R1\n",
    "G83 X1 Z-9 R1 Q.01 L99\n",
];

/// Lines that are right in most places.
const LINES: &[&str] = &[
    "G21",
    "G20",
    "G0 X1 Y1 Z1",
    "G1 X5 Y5 Z-1 F300",
    "G2 X1 Y1 R9",
    "G3 I5",
    "G18",
    "G17",
    "G19",
    "G91",
    "G90",
    "G92 X3 Z1",
    "G92.1",
    "G92.2",
    "G99 G81 X1 Z-1 R1",
    "G98",
    "G83 X1 Z-9 R1 Q.1 L9",
    "G86 X1 Z-1 R2 P1",
    "G89 Z-2 R2 P0",
    "X2 Y3",
    "S900 M3",
    "M5",
    "T2 M6",
    "T3 M0",
    "G4 P1",
    "G93",
    "G94 F99",
    "G1 X1 F2",
    "#1=3 #2=[#1+1]",
    "G0 X#1",
    "G80",
    "(a word)",
    "/G0 X9",
    "N7 M8",
    "G55",
    "G54",
    "%",
];

/// Programs to break: the cases, and one as written.
fn seeds() -> Vec<Vec<u8>> {
    let motions = include_str!("cases/motions.txt").split("\n== ").skip(1).map(|case| {
        let program = case.split_once('\n').unwrap().1.split_once("\n--\n").unwrap().0;
        format!("g21\nf600\n{program}\nm2\n").into_bytes()
    });
    let refusals = include_str!("cases/refusals.txt").lines().filter_map(|line| line.split_once("=>"));
    let refusals = refusals.map(|(program, _)| program.replace('|', "\n").into_bytes());
    let (acts, can) = written(&mut Dice(7));
    let ours =
        write(&Program { title: "bowl".into(), work_offset: 54, safe_z: 15.0, acts, ..Program::default() }, &can);
    motions.chain(refusals).chain([ours.unwrap().into_bytes()]).collect()
}

/// A text of random words, or a program with some of its bytes, words and lines changed.
fn text(dice: &mut Dice, seeds: &[Vec<u8>]) -> Vec<u8> {
    if dice.one_in(4) {
        let opening = dice.pick(&["", "G21 F100\nG0 X0 Y0 Z5\n", "%\nG21 G99\nG0 X1 Y1 Z1 F9 S9 M3\n"]);
        let words = (0..dice.below(120)).map(|_| dice.pick(WORDS)).collect::<String>();
        return format!("{opening}{words}\nM2").into_bytes();
    }
    let mut text = seeds[dice.below(seeds.len())].clone();
    let most = dice.below(6);
    for _ in 0..1 + dice.below(most) {
        change(&mut text, dice, seeds);
    }
    text
}

fn change(text: &mut Vec<u8>, dice: &mut Dice, seeds: &[Vec<u8>]) {
    let (a, b) = (dice.below(text.len()), dice.below(text.len()));
    let part = a.min(b)..a.max(b);
    match dice.below(12) {
        0 if !text.is_empty() => text[a] = dice.next() as u8,
        1 => drop(text.drain(part)),
        2 if text.len() < 20_000 => {
            let again = text[part].repeat(1 + dice.below(20));
            text.splice(b..b, again);
        }
        3 => text.reverse(),
        4 => {
            let other = &seeds[dice.below(seeds.len())];
            text.splice(a..a, other.iter().copied());
        }
        5..=7 => {
            let word = dice.pick(WORDS);
            text.splice(a..a, word.bytes());
        }
        _ => {
            let line = text[a..].iter().position(|b| *b == b'\n').map_or(a, |k| a + k + 1);
            let new = dice.pick(LINES);
            text.splice(line..line, new.bytes().chain(*b"\n"));
        }
    }
}

/// What reading told, in a few numbers.
#[derive(Debug, PartialEq)]
struct Told {
    events: u64,
    /// Of all events, as they are shown: places that are not known show as such and agree.
    sum: u64,
    result: Result<(), ReadError>,
}

/// Reads a text through a buffer of a few bytes and looks at every event.
fn reads(text: &[u8], buffer: usize, panel: Panel) -> Told {
    let (mut events, mut sum, mut at) = (0, 0_u64, [f64::NAN; 3]);
    let result = follow(BufReader::with_capacity(buffer, text), panel, &mut |event| {
        events += 1;
        if let What::Straight { from, to, .. } | What::Arc { from, to, .. } = &event.what {
            for k in 0..3 {
                assert!(from[k].is_nan() || from[k] == at[k], "a jump to {event:?}");
                assert!(!to[k].is_infinite(), "{event:?}");
            }
            at = *to;
        }
        if let What::Arc { centre, axis, sweep, feed, .. } = &event.what {
            let known = (0..3).all(|k| k == *axis || centre[k].is_finite());
            assert!(known && sweep.is_finite() && feed.is_finite(), "{event:?}");
        }
        if events <= FEW {
            sum = fold(sum, &event);
        }
    });
    Told { events, sum, result }
}

/// Events that are compared one by one.
const FEW: u64 = 500;

fn fold(sum: u64, event: &Event) -> u64 {
    format!("{event:?}").bytes().fold(sum, |sum, b| sum.wrapping_mul(0x0100_0000_01b3) ^ u64::from(b))
}

/// Reads one broken text in two ways and compares.
fn try_text(text: &[u8], dice: &mut Dice) -> Told {
    let panel = Panel { skip_marked_lines: dice.one_in(2) };
    let told = reads(text, 1 + dice.below(90), panel);
    // A line tells at most 13 things of its own; all cycles together make at most a million strokes, with two moves a hole.
    let lines = text.iter().filter(|b| matches!(b, b'\r' | b'\n')).count() as u64 + 1;
    assert!(told.events <= 13 * lines + 3_000_000, "{} events of {lines} lines", told.events);
    if let Ok(text) = std::str::from_utf8(text) {
        let whole = run_with(text, panel);
        match (&told.result, whole) {
            (Ok(()), Ok(events)) => {
                let sum = events.iter().take(FEW as usize).fold(0, fold);
                assert_eq!((told.events, told.sum), (events.len() as u64, sum));
            }
            (Err(one), Err(other)) => assert_eq!(*one, other),
            (one, other) => panic!("{one:?}, but {other:?}"),
        }
    }
    told
}

/// Random acts of a program, ends and centres on its steps, and a machine for it.
fn written(dice: &mut Dice) -> (Vec<Act>, Capabilities) {
    let inch = dice.one_in(2);
    let can = Capabilities {
        arcs: !dice.one_in(3),
        inch,
        decimals: if inch { 4 } else { 3 },
        spindle: dice.one_in(2),
        line_numbers: dice.one_in(4),
        ..Capabilities::default()
    };
    let mut at = [0.0, 0.0, 5.0];
    let mut acts = vec![Act::Rapid { x: Some(at[0]), y: Some(at[1]), z: Some(at[2]) }];
    for _ in 0..dice.below(40) {
        let to = [dice.between(-300.0, 300.0), dice.between(-300.0, 300.0), dice.between(-60.0, 20.0)];
        let feed = dice.between(50.0, 6000.0);
        match dice.below(4) {
            0 => acts.push(Act::Rapid { x: Some(to[0]), y: Some(to[1]), z: Some(to[2]) }),
            1 => {
                let (radius, begin, turn) = (dice.between(1.0, 90.0), dice.between(0.0, 6.2), dice.between(0.05, 6.2));
                let ccw = dice.one_in(2);
                let end = if ccw { begin + turn } else { begin - turn };
                let centre = [at[0] - radius * begin.cos(), at[1] - radius * begin.sin()];
                let to =
                    [centre[0] + radius * end.cos(), centre[1] + radius * end.sin(), at[2] - dice.between(0.0, 3.0)];
                acts.push(Act::Arc { to, centre, ccw, feed });
                at = to;
                continue;
            }
            _ => acts.push(Act::Feed { to, feed }),
        }
        at = to;
    }
    (acts, can)
}

/// Writes a random program, reads it, and compares ends, lengths and feeds. Returns how many moves came back.
fn comes_back(dice: &mut Dice) -> usize {
    let (acts, can) = written(dice);
    let program =
        Program { title: "bowl".into(), work_offset: 54, safe_z: 25.0, acts: acts.clone(), ..Program::default() };
    let text = write(&program, &can).unwrap();
    let events = run(&text).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let step = if can.inch { 25.4e-4 } else { 1e-3 };
    let near = |a: [f64; 3], b: [f64; 3]| (0..3).all(|k| (a[k] - b[k]).abs() <= 1.01 * step);
    let mut next = events.iter();
    let mut at = [0.0, 0.0, 5.0];
    // The program rises first, from a place that is not known.
    assert!(next.any(|event| matches!(event.what, What::Straight { to, .. } if near(to, at))), "{text}");
    for act in &acts[1..] {
        let (to, wanted_feed, wanted) = match *act {
            Act::Rapid { x: Some(x), y: Some(y), z: Some(z) } => ([x, y, z], None, length(at, [x, y, z])),
            Act::Feed { to, feed } => (to, Some(feed), length(at, to)),
            Act::Arc { to, centre, ccw, feed } => {
                let angle = |p: [f64; 3]| (p[1] - centre[1]).atan2(p[0] - centre[0]);
                let turn = if ccw { angle(to) - angle(at) } else { angle(at) - angle(to) };
                let round = turn.rem_euclid(std::f64::consts::TAU) * (at[0] - centre[0]).hypot(at[1] - centre[1]);
                (to, Some(feed), round.hypot(to[2] - at[2]))
            }
            _ => unreachable!("no other acts are made"),
        };
        let (mut found, mut moves) = (0.0, 0);
        let reached = loop {
            let Some(event) = next.next() else { break false };
            let (end, way, feed) = match event.what {
                What::Straight { from, to, feed } => (to, length(from, to), feed),
                What::Arc { from, to, centre, sweep, feed, .. } => {
                    let round = sweep * (from[0] - centre[0]).hypot(from[1] - centre[1]);
                    (to, round.hypot(to[2] - from[2]), Some(feed))
                }
                _ => continue,
            };
            (found, moves) = (found + way, moves + 1);
            let slower = feed.is_some() == wanted_feed.is_some() && feed <= wanted_feed.map(|f| f + 1e-5);
            assert!(slower, "{feed:?} for {act:?}");
            if near(end, to) && (found - wanted).abs() <= 0.05 + 0.002 * wanted {
                break true;
            }
        };
        assert!(reached, "{act:?}: {found} mm for {wanted}\n{text}");
        assert!(moves <= 2000, "{moves} moves for {act:?}");
        at = to;
    }
    acts.len()
}

fn length(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt()
}

/// Counts of a run.
#[derive(Debug, Default)]
struct Counts {
    texts: u64,
    accepted: u64,
    events: u64,
    written: u64,
    moves_back: u64,
    slowest: Duration,
}

fn rounds(seed: u64, mut goes_on: impl FnMut(&Counts) -> bool) -> Counts {
    let (mut dice, seeds, mut counts) = (Dice(seed), seeds(), Counts::default());
    while goes_on(&counts) {
        let text = text(&mut dice, &seeds);
        let begun = Instant::now();
        let told = try_text(&text, &mut dice);
        counts.slowest = counts.slowest.max(begun.elapsed());
        counts.texts += 1;
        counts.accepted += u64::from(told.result.is_ok());
        counts.events += told.events;
        if counts.texts % 16 == 0 {
            counts.moves_back += comes_back(&mut dice) as u64;
            counts.written += 1;
        }
    }
    counts
}

#[test]
fn broken_texts_are_refused_or_read_and_written_ones_come_back() {
    let counts = rounds(1, |counts| counts.texts < 4000);
    assert!(counts.accepted > counts.texts / 20 && counts.accepted < counts.texts / 2, "{counts:?}");
    assert!(counts.moves_back > 2000, "{counts:?}");
}

/// `READING_SECONDS=600 cargo test --release -p rs274 --test broken -- --ignored --nocapture`; another `READING_SEED` reads others.
#[test]
#[ignore = "takes as long as it is told to"]
fn broken_texts_for_as_long_as_wanted() {
    let told = |name: &str, usual: u64| std::env::var(name).map_or(usual, |value| value.parse().unwrap());
    let (seconds, begun) = (told("READING_SECONDS", 60), Instant::now());
    let counts = rounds(told("READING_SEED", 2), |_| begun.elapsed().as_secs() < seconds);
    println!("{counts:#?}");
    assert!(counts.accepted > 0 && counts.accepted < counts.texts, "{counts:?}");
}
