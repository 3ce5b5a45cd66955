//! Changes of a program's text.

use proof::Evidence;
use rs274::interpret::{Event, What, run};

/// The files of a setup, the longest text first.
pub(crate) fn files(e: &Evidence, setup: usize) -> Vec<String> {
    let mut files: Vec<String> = e.setups[setup].programs.iter().map(|p| p.file.clone()).collect();
    files.sort_by_key(|file| std::cmp::Reverse(e.programs[file].len()));
    files
}

/// Does it to each, whatever comes of the others; whether it was done to any.
pub(crate) fn each<T>(items: impl IntoIterator<Item = T>, mut change: impl FnMut(T) -> bool) -> bool {
    let mut any = false;
    for item in items {
        any |= change(item);
    }
    any
}

/// Changes one file of a setup, the first that `change` can change.
pub(crate) fn edit(e: &mut Evidence, setup: usize, change: impl Fn(&mut Vec<String>) -> bool) -> bool {
    files(e, setup).iter().any(|file| edit_file(e, file, &change))
}

/// Changes all files of a setup.
pub(crate) fn edit_all(e: &mut Evidence, setup: usize, change: impl Fn(&mut Vec<String>) -> bool) -> bool {
    each(files(e, setup), |file| edit_file(e, &file, &change))
}

/// Changes one file.
pub(crate) fn edit_file(e: &mut Evidence, file: &str, change: impl Fn(&mut Vec<String>) -> bool) -> bool {
    let text = &e.programs[file];
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    if !change(&mut lines) {
        return false;
    }
    let changed = lines.join("\n") + "\n";
    let differs = changed != *text;
    e.programs.insert(file.to_owned(), changed);
    differs
}

/// Replaces the first `old` outside of comments, if there is one.
pub(crate) fn replace(lines: &mut [String], old: &str, new: &str) -> bool {
    match lines.iter_mut().find(|line| is_code(line) && line.contains(old)) {
        Some(line) => {
            *line = line.replacen(old, new, 1);
            true
        }
        None => false,
    }
}

pub(crate) fn is_code(line: &str) -> bool {
    !line.trim_start().starts_with('(') && line.trim() != "%"
}

/// The number behind a letter on a line.
pub(crate) fn word(line: &str, letter: char) -> Option<f64> {
    line.split_whitespace().find_map(|w| w.strip_prefix(letter)).and_then(|v| v.parse().ok())
}

/// Changes the number behind a letter; whether it was there.
pub(crate) fn map(line: &mut String, letter: char, f: impl Fn(f64) -> f64) -> bool {
    if !is_code(line) || word(line, letter).is_none() {
        return false;
    }
    let words = line.split_whitespace().map(|w| match w.strip_prefix(letter).and_then(|v| v.parse::<f64>().ok()) {
        Some(v) => format!("{letter}{:.4}", f(v)),
        None => w.to_owned(),
    });
    *line = words.collect::<Vec<_>>().join(" ");
    true
}

/// Changes that number on all lines.
pub(crate) fn map_all(lines: &mut [String], letter: char, f: impl Fn(f64) -> f64) -> bool {
    each(lines, |line| map(line, letter, &f))
}

/// Two letters change places on a line.
pub(crate) fn swap(line: &mut String, a: char, b: char) -> bool {
    if !is_code(line) || word(line, a).is_none() || word(line, b).is_none() {
        return false;
    }
    let other = |letter: char| if letter == a { b } else { a };
    let words = line.split_whitespace().map(|w| match w.chars().next() {
        Some(c) if c == a || c == b => format!("{}{}", other(c), &w[1..]),
        _ => w.to_owned(),
    });
    *line = words.collect::<Vec<_>>().join(" ");
    true
}

/// What a text makes the machine do; nothing if it cannot be read.
pub(crate) fn events(lines: &[String]) -> Vec<Event> {
    run(&lines.join("\n")).unwrap_or_default()
}

/// Index of the line of the middle one of all events of a kind.
pub(crate) fn middle(lines: &[String], wanted: impl Fn(&What) -> bool) -> Option<usize> {
    let found: Vec<u32> = events(lines).iter().filter(|e| wanted(&e.what)).map(|e| e.line).collect();
    found.get(found.len() / 2).map(|line| *line as usize - 1)
}

/// Index of the line of the last event of a kind.
pub(crate) fn last(lines: &[String], wanted: impl Fn(&What) -> bool) -> Option<usize> {
    events(lines).iter().rfind(|e| wanted(&e.what)).map(|e| e.line as usize - 1)
}

/// Indices of the lines of the level straight cuts below `top` that are longer than 0.5 mm, and of no link: those run faster.
pub(crate) fn long_cuts(lines: &[String], top: f64) -> Vec<usize> {
    let cuts = events(lines).into_iter().filter_map(|e| match e.what {
        What::Straight { from, to, feed: Some(feed) } if to[2] < top && (from[2] - to[2]).abs() < 1e-3 => {
            Some(((to[0] - from[0]).hypot(to[1] - from[1]), feed, e.line as usize - 1))
        }
        _ => None,
    });
    let cuts: Vec<(f64, f64, usize)> = cuts.filter(|c| c.0 > 0.5).collect();
    let mut feeds: Vec<f64> = cuts.iter().map(|c| c.1).collect();
    feeds.sort_by(f64::total_cmp);
    let usual = feeds.get(feeds.len() / 2).copied().unwrap_or_default();
    cuts.into_iter().filter(|c| c.1 <= usual * 1.01).map(|c| c.2).collect()
}

/// Indices of the lines of rapids straight up out of the work that a way aside follows.
pub(crate) fn retracts(lines: &[String], top: f64) -> Vec<usize> {
    let events = events(lines);
    let moves: Vec<&Event> =
        events.iter().filter(|e| matches!(e.what, What::Straight { .. } | What::Arc { .. })).collect();
    let up = |e: &Event| match e.what {
        What::Straight { from, to, feed: None } => from[2] < top && to[2] > top && from[0] == to[0],
        _ => false,
    };
    let aside = |e: &Event| match e.what {
        What::Straight { from, to, feed: None } => (from[0] - to[0]).hypot(from[1] - to[1]) > 5.0,
        _ => false,
    };
    let both = moves.windows(2).filter(|w| up(w[0]) && aside(w[1]) && w[0].line != w[1].line);
    both.map(|w| w[0].line as usize - 1).collect()
}
