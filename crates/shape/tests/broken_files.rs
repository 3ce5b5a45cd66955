//! Drawings and typefaces that are broken or mean harm: each is read or refused, and never stops the program.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use base::{Report, Units, mm};
use job::{Content, DrawnOutline, JobFile, OutlineSpec, Placed};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use shape::Outline;
use shape::drawing;
use shape::lettering::{Setting, TYPEFACE, line};
use std::time::{Duration, Instant};

/// Sound drawings that use what the reader knows.
const DRAWINGS: [&str; 4] = [
    "<svg xmlns='http://www.w3.org/2000/svg' width='18cm' height='12cm' viewBox='0 0 360 240'><g transform='translate(180 120) rotate(9)' style='fill:#7a9a4a;stroke:none'><path id='rim' d='m -160 20 c -6 -90 80 -124 150 -112 s 150 52 168 92 c 4 46 -70 98 -150 104 s -164 -4 -168 -84 z'/></g></svg>",
    "<?xml version='1.0'?><!DOCTYPE svg [<!ENTITY red '#f00'>]><svg viewBox='0 0 100 100' preserveAspectRatio='none' width='300' height='90mm'><symbol id='s' viewBox='0 0 9 9'><circle cx='4' cy='4' r='4'/></symbol><use href='#s' x='3' fill='&red;'/><use href='#s' transform='scale(2,-1)'/><text>A</text></svg>",
    "<svg><path d='M10-20A55.5.3-4 110-.1Q3 4 5 60T90 80H4V-70S4 5 60 7L1 1zm4 4l50 0 0 40z' fill-rule='evenodd' stroke='#000' stroke-width='2mm'/><rect x='1' y='2' width='90' height='50' rx='12'/></svg>",
    "<svg viewBox='-60 -60 120 120' width='120mm' height='120mm'><polygon points='50,0 15,14 0,50 -15,14 -50,0 -15,-14 0,-50 15,-14'/></svg>",
];

const WORDS: [&str; 24] = [
    "1e308",
    "-1e308",
    "1e-308",
    "NaN",
    "0",
    "-",
    ".",
    "999999999999",
    "M",
    "z",
    "A1 1 0 11",
    "C",
    "<g>",
    "</g>",
    "<",
    "&",
    "&a;",
    "'",
    "%",
    "em",
    "\0",
    "href='#s'",
    "<use href='#rim'/>",
    "scale(0)",
];

/// Counts of what was tried.
#[derive(Debug, Default)]
struct Counts {
    files: u64,
    read: u64,
    made: u64,
    slowest: Duration,
}

/// A number below another.
fn below(chance: &mut Pcg32, end: usize) -> usize {
    chance.next_u32() as usize % end.max(1)
}

/// A file with a few bytes changed, taken out, doubled, or words put in; now and then only noise.
fn broken(sound: &[u8], chance: &mut Pcg32) -> Vec<u8> {
    let mut bytes = sound.to_vec();
    if below(chance, 50) == 0 {
        return (0..below(chance, 400)).map(|_| chance.next_u32() as u8).collect();
    }
    // Often nothing worse than other figures, so that what comes after reading is tried too.
    for _ in 0..below(chance, 12) {
        let at = below(chance, bytes.len());
        if bytes[at].is_ascii_digit() {
            bytes[at] = b"0123456789.-"[below(chance, 12)];
        }
    }
    for _ in 0..below(chance, 3) {
        let (at, to) = (below(chance, bytes.len()), below(chance, bytes.len()));
        let (from, to) = (at.min(to), at.max(to));
        match below(chance, 7) {
            0 => bytes.truncate(to.max(1)),
            1 => drop(bytes.drain(from..to.min(from + 40))),
            2 => {
                let part = bytes[from..to.min(from + 200)].to_vec();
                let again = 1 + below(chance, 4);
                bytes.splice(at..at, part.repeat(again));
            }
            3 | 4 => drop(bytes.splice(at..at, WORDS[below(chance, WORDS.len())].bytes())),
            5 if !bytes.is_empty() => bytes[at] = chance.next_u32() as u8,
            _ if !bytes.is_empty() => bytes[at] ^= 1 << below(chance, 8),
            _ => (),
        }
    }
    bytes
}

/// Reads broken drawings, and makes outlines and line art of those that can be read.
fn drawings(seed: u64, go_on: impl Fn(&Counts) -> bool) -> Counts {
    let (mut chance, mut counts) = (Pcg32::new(seed, 1), Counts::default());
    while go_on(&counts) {
        let bytes = broken(DRAWINGS[below(&mut chance, DRAWINGS.len())].as_bytes(), &mut chance);
        let begun = Instant::now();
        if let Ok(drawing) = drawing::read(&bytes) {
            counts.read += 1;
            if let Ok(region) = drawing.region(0.05) {
                assert!(region.rings.iter().flat_map(|r| &r.0).all(|p| p.is_finite()));
            }
        }
        let told = bytes.clone();
        let path = [None, Some("rim".to_owned()), Some("path 1".to_owned()), Some("polygon 1".to_owned())];
        let spec = DrawnOutline {
            file: JobFile { name: "a.svg".into(), content: Content::new(bytes) },
            path: path[below(&mut chance, 4)].clone(),
            length: [None, Some(mm(200.0))][below(&mut chance, 2)],
            turn_deg: below(&mut chance, 360) as f64,
            corner: [None, Some(mm(8.0))][below(&mut chance, 2)],
        };
        let mut report = Report::default();
        match Outline::new(&Placed { value: OutlineSpec::Drawing(spec), at: None }, Units::Mm, &mut report) {
            Some(outline) => {
                counts.made += 1;
                let ring = outline.parallel(0.5 * outline.reach_inwards(), 0.05);
                let shrinks = outline.area() > 0.0 && ring.area() > 0.0 && ring.area() < outline.area();
                assert!(shrinks, "{}", String::from_utf8_lossy(&told));
            }
            None => assert!(report.has_errors() && report.findings.iter().all(|f| f.hint.is_some())),
        }
        counts.slowest = counts.slowest.max(begun.elapsed());
        counts.files += 1;
    }
    counts
}

/// Sets a line in broken typefaces.
fn typefaces(seed: u64, go_on: impl Fn(&Counts) -> bool) -> Counts {
    let (mut chance, mut counts) = (Pcg32::new(seed, 2), Counts::default());
    let setting = Setting { cap_height: 10.0, least_gap: 2.0, tolerance: 0.01 };
    while go_on(&counts) {
        let mut bytes = broken(TYPEFACE, &mut chance);
        // The tables' heads lie in front, where one byte does the most.
        for _ in 0..below(&mut chance, 4) {
            let at = below(&mut chance, 600.min(bytes.len()));
            if let Some(byte) = bytes.get_mut(at) {
                *byte = chance.next_u32() as u8;
            }
        }
        let begun = Instant::now();
        if let Ok(letters) = line(&bytes, "Bell &8", &setting) {
            counts.read += 1;
            counts.made += u64::from(letters.len() == 6);
            assert!(letters.iter().flat_map(|l| &l.region.rings).flat_map(|r| &r.0).all(|p| p.is_finite()));
        }
        counts.slowest = counts.slowest.max(begun.elapsed());
        counts.files += 1;
    }
    counts
}

#[test]
fn broken_drawings_are_read_or_refused() {
    let counts = drawings(1, |counts| counts.files < 1500);
    assert!(counts.read > 300 && counts.made > 50 && counts.made < counts.files / 2, "{counts:?}");
}

#[test]
fn broken_typefaces_are_read_or_refused() {
    let counts = typefaces(1, |counts| counts.files < 100);
    assert!(counts.read > 10 && counts.read < counts.files, "{counts:?}");
}

/// `READING_SECONDS=600 cargo test --release -p shape --test broken_files -- --ignored --nocapture`, half of it for drawings and half
/// for typefaces; another `READING_SEED` reads others.
#[test]
#[ignore = "takes as long as it is told to"]
fn broken_files_for_as_long_as_wanted() {
    let told = |name: &str, usual: u64| std::env::var(name).map_or(usual, |value| value.parse().unwrap());
    let (seconds, seed) = (told("READING_SECONDS", 20), told("READING_SEED", 2));
    let begun = Instant::now();
    println!("drawings {:?}", drawings(seed, |_| begun.elapsed().as_secs() < seconds / 2));
    println!("typefaces {:?}", typefaces(seed, |_| begun.elapsed().as_secs() < seconds));
}
