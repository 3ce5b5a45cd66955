//! How quickly written programs are read back, and how much memory a long one takes.

use crate::{TIDEPOOL, planned, table};
use base::Quiet;
use rs274::interpret::{Event, Panel, follow, run};
use std::fs::{self, File};
use std::hint::black_box;
use std::io::{BufReader, BufWriter, Write as _};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

/// Bytes of the long program.
const LONG: usize = 100_000_000;

/// The demo bowl's programs one after the other until they are long, and once each; both read from disk by a process of its
/// own, whose memory nothing else has used.
pub(crate) fn programs(out: &mut String) {
    let (_, plan, _) = planned(TIDEPOOL, None, &Quiet);
    let plan = plan.value.unwrap();
    let texts: Vec<&str> = plan.programs.values().map(|text| text.as_ref()).collect();
    let rows = [
        row("told one by one, again and again", &texts, LONG, "told"),
        row("all events kept, once each", &texts, 1, "kept"),
    ];
    let head = ["the demo bowl's programs", "size", "blocks", "read in", "blocks a second", "greatest memory"];
    table(out, "Reading programs, one thread", &head, &rows);
}

fn row(what: &str, texts: &[&str], size: usize, how: &str) -> Vec<String> {
    let path = std::env::temp_dir().join(format!("treen-reading-{}.nc", std::process::id()));
    write_long(&path, texts, size);
    let size = fs::metadata(&path).unwrap().len() as f64 / 1e6;
    let own = Command::new(std::env::current_exe().unwrap()).args(["--bench", CHILD, how]).arg(&path).output().unwrap();
    fs::remove_file(&path).unwrap();
    let told = String::from_utf8(own.stdout).unwrap();
    let [blocks, seconds, memory] = told.split_whitespace().collect::<Vec<_>>()[..] else { panic!("told {told}") };
    let (blocks, seconds): (f64, f64) = (blocks.parse().unwrap(), seconds.parse().unwrap());
    vec![
        what.to_owned(),
        format!("{size:.1} MB"),
        blocks.to_string(),
        format!("{seconds:.2} s"),
        format!("{:.2} million", blocks / seconds / 1e6),
        memory.to_owned() + " MB",
    ]
}

/// The word by which this program calls itself to read alone.
pub(crate) const CHILD: &str = "read-alone";

/// Reads the program that the command line names and prints its blocks, the seconds, and the greatest memory of this process.
pub(crate) fn read_alone() {
    let words: Vec<String> = std::env::args().collect();
    let [.., how, path] = &words[..] else { panic!("no path") };
    let begun = Instant::now();
    let mut last = 0;
    if how == "told" {
        let text = BufReader::with_capacity(1 << 16, File::open(path).unwrap());
        let mut tell = |event| last = black_box::<Event>(event).line;
        follow(text, Panel::default(), &mut tell).unwrap();
    } else {
        let events = run(&fs::read_to_string(path).unwrap()).unwrap();
        last = black_box(events).last().unwrap().line;
    }
    println!("{last} {} {}", begun.elapsed().as_secs_f64(), greatest_memory());
}

/// From here on the greatest memory is measured anew (proc(5), `clear_refs`).
pub(crate) fn forget_greatest_memory() {
    std::fs::write("/proc/self/clear_refs", "5").unwrap();
}

/// Greatest memory of this process, MB, where the system tells.
pub(crate) fn greatest_memory() -> String {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    number.map_or("–".to_owned(), |kib| format!("{:.1}", kib * 1024.0 / 1e6))
}

/// All programs again and again, with one end.
fn write_long(path: &Path, texts: &[&str], size: usize) {
    let mut file = BufWriter::new(File::create(path).unwrap());
    let bodies: Vec<&str> =
        texts.iter().flat_map(|text| text.lines()).filter(|line| !["%", "M2"].contains(line)).collect();
    let mut written = 0;
    while written < size {
        for line in &bodies {
            writeln!(file, "{line}").unwrap();
            written += line.len() + 1;
        }
    }
    writeln!(file, "M2").unwrap();
    file.flush().unwrap();
}
