//! Lines of a text that may be longer than memory (§3.3): a line ends with CR, LF or both.

use super::ReadError;
use std::io::{BufRead, ErrorKind};

/// Most characters on a line (§3.3).
const LONGEST: usize = 256;
/// What is kept of a line, bytes: one more than so many characters may need.
const MOST_KEPT: usize = 4 * LONGEST + 1;

/// Goes through a text line by line, and keeps no more than one.
pub(super) struct Lines<R> {
    text: R,
    line: Vec<u8>,
    number: u32,
    /// The line ended with CR: a LF right after it belongs to it.
    after_cr: bool,
}

impl<R: BufRead> Lines<R> {
    /// Stands before the first line.
    pub(super) fn of(text: R) -> Self {
        Self { text, line: Vec::with_capacity(MOST_KEPT), number: 0, after_cr: false }
    }

    /// Goes to the next line; false, and stays, at the end of the text.
    pub(super) fn advance(&mut self) -> Result<bool, ReadError> {
        self.line.clear();
        let mut found = false;
        loop {
            let bytes = match self.text.fill_buf() {
                Ok(bytes) => bytes,
                Err(e) if e.kind() == ErrorKind::Interrupted => continue,
                Err(e) => {
                    let text = format!("the text cannot be read on from here: {e}");
                    return Err(ReadError { line: self.number.saturating_add(1), text });
                }
            };
            if bytes.first() == Some(&b'\n') && std::mem::take(&mut self.after_cr) {
                self.text.consume(1);
                continue;
            }
            found |= !bytes.is_empty();
            let end = bytes.iter().position(|b| matches!(b, b'\r' | b'\n'));
            let part = &bytes[..end.unwrap_or(bytes.len())];
            let room = MOST_KEPT - self.line.len();
            self.line.extend_from_slice(&part[..part.len().min(room)]);
            self.after_cr = end.is_some_and(|k| bytes[k] == b'\r');
            let over = end.is_some() || bytes.is_empty();
            let used = part.len() + usize::from(end.is_some());
            self.text.consume(used);
            if over {
                self.number = self.number.saturating_add(u32::from(found));
                return Ok(found);
            }
        }
    }

    /// Number of the line, from 1; of the last one at the end of the text.
    pub(super) fn number(&self) -> u32 {
        self.number
    }

    pub(super) fn is_blank(&self) -> bool {
        self.line.trim_ascii().is_empty()
    }

    pub(super) fn is_percent(&self) -> bool {
        self.line.trim_ascii() == b"%"
    }

    /// The line without its end.
    pub(super) fn text(&self) -> Result<&str, String> {
        if self.line.len() == MOST_KEPT {
            return Err(too_long());
        }
        let text = std::str::from_utf8(&self.line).map_err(|_| "the line holds bytes that are no text (UTF-8)")?;
        if text.len() > LONGEST && text.chars().count() > LONGEST { Err(too_long()) } else { Ok(text) }
    }
}

fn too_long() -> String {
    format!("a line has at most {LONGEST} characters")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::BufReader;

    fn all(text: &[u8], buffer: usize) -> Vec<(u32, usize)> {
        let mut lines = Lines::of(BufReader::with_capacity(buffer, text));
        let mut found = Vec::new();
        while lines.advance().unwrap() {
            found.push((lines.number(), lines.line.len()));
        }
        found
    }

    #[test]
    fn every_kind_of_line_end_counts_once_wherever_the_buffer_ends() {
        let text = b"a\r\nbb\rccc\n\n\r\r\n\n\rdddd";
        let wanted = [(1, 1), (2, 2), (3, 3), (4, 0), (5, 0), (6, 0), (7, 0), (8, 0), (9, 4)];
        for buffer in 1..20 {
            assert_eq!(all(text, buffer), wanted, "buffer of {buffer}");
        }
        assert_eq!((all(b"", 4), all(b"x\r\n", 2)), (vec![], vec![(1, 1)]));
    }

    #[test]
    fn no_more_than_a_line_is_kept() {
        let text = [&[b'x'; 100_000][..], b"\nyy"].concat();
        assert_eq!(all(&text, 64), [(1, MOST_KEPT), (2, 2)]);
    }
}
