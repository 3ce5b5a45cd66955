//! The G and M words of a line by their modal groups (§3.4, table 4), and which other words they use.

use super::block::Block;
use super::cycle::waits;

/// The G and M words of a line, one of a group.
pub(super) struct Words {
    /// G words times ten, by group.
    g: [Option<u32>; 14],
    m: [Option<u32>; 10],
    /// A T word without M6: with M0 on its line it is a change by hand.
    pub(super) by_hand: bool,
}

impl Words {
    pub(super) fn of(block: &Block) -> Result<Self, String> {
        let (mut g, mut m) = ([None; 14], [None; 10]);
        for &code in &block.g {
            put(&mut g, group_of_g(code)?, code)?;
        }
        if block.m.len() > 4 {
            return Err("a line has at most four M words".into());
        }
        for &code in &block.m {
            put(&mut m, group_of_m(code)?, code)?;
        }
        Ok(Self { g, m, by_hand: block.word(b'T').is_some() && m[6].is_none() })
    }

    /// The G word of a group, times ten.
    pub(super) fn g(&self, group: usize) -> Option<u32> {
        self.g[group]
    }

    /// The M word of a group; of M7 and M8 on one line the last.
    pub(super) fn m(&self, group: usize) -> Option<u32> {
        self.m[group]
    }
}

fn put(groups: &mut [Option<u32>], group: usize, code: u32) -> Result<(), String> {
    match groups[group].replace(code) {
        // M7 and M8 may both be on (table 4); everything else stands once per group.
        Some(other) if !matches!((code, other), (7, 8) | (8, 7)) => {
            Err("two words of one group on a line contradict each other".into())
        }
        _ => Ok(()),
    }
}

/// A G word as written.
pub(super) fn spoken(code: u32) -> String {
    if code.is_multiple_of(10) { format!("G{}", code / 10) } else { format!("G{}.{}", code / 10, code % 10) }
}

/// The modal group of a G word (table 4), or why it is refused.
fn group_of_g(code: u32) -> Result<usize, String> {
    let why = match code {
        0 | 10 | 20 | 30 | 800 | 810 | 820 | 830 | 850 | 860 | 880 | 890 => return Ok(1),
        40 | 920..=923 => return Ok(0),
        170 | 180 | 190 => return Ok(2),
        900 | 910 => return Ok(3),
        930 | 940 => return Ok(5),
        200 | 210 => return Ok(6),
        400 => return Ok(7),
        490 => return Ok(8),
        980 | 990 => return Ok(10),
        540 | 550 | 560 | 570 | 580 | 590 | 591 | 592 | 593 => return Ok(12),
        610 | 611 | 640 => return Ok(13),
        100 => "it moves the work zero, which is set by touching off, to a place in machine coordinates",
        280 | 300 => "the machine's home is not known here",
        382 => "where a probe stops is not known here",
        410 | 420 => "radius compensation depends on the cutter table of the machine",
        430 => "it needs the machine's table of cutter lengths",
        530 => "machine coordinates are not known here",
        700 | 710 => "the words for units are G20 (inch) and G21 (mm)",
        840 => "a tap needs a spindle that turns back in step with the feed",
        870 => "boring from behind needs a spindle that stops at an angle",
        _ => "it is not a word of NISTIR 6556",
    };
    Err(format!("{} is refused: {why}", spoken(code)))
}

fn group_of_m(code: u32) -> Result<usize, String> {
    match code {
        0 | 1 | 2 | 30 | 60 => Ok(4),
        6 => Ok(6),
        3..=5 => Ok(7),
        7..=9 => Ok(8),
        48 | 49 => Ok(9),
        _ => Err(format!("M{code} is not a word of NISTIR 6556")),
    }
}

/// Refuses words that nothing on the line uses.
pub(super) fn check_uses(block: &Block, words: &Words, motion: Option<u32>) -> Result<(), String> {
    let arc = matches!(motion, Some(20 | 30));
    let cycle = motion.is_some_and(|code| code > 800);
    let (dwells, dwell_cycle) = (words.g(0) == Some(40), motion.is_some_and(waits));
    if dwells && dwell_cycle {
        return Err("G4 and the cycle would share one P".into());
    }
    if !block.has_any(b"DHIJKLPQR") {
        return Ok(());
    }
    let unused = [
        (b'D', false, "radius compensation (G41, G42), which is refused"),
        (b'H', false, "cutter length (G43), which is refused"),
        (b'I', arc, "arcs"),
        (b'J', arc, "arcs"),
        (b'K', arc, "arcs"),
        (b'L', cycle, "drilling cycles"),
        (b'P', dwells || dwell_cycle, "waits (G4) and cycles that wait (G82, G86, G88, G89)"),
        (b'Q', motion == Some(830), "G83"),
        (b'R', arc || cycle, "arcs and drilling cycles"),
    ];
    match unused.iter().find(|(letter, used, _)| !used && block.word(*letter).is_some()) {
        Some((letter, _, by)) => Err(format!("{} has nothing to belong to: it is for {by}", *letter as char)),
        None => Ok(()),
    }
}
