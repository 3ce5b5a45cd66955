//! One line of a program taken apart: words, parameter settings and the comment, with every value worked out (§3.3).

use super::value::{Cursor, Parameters, may_set, whole};

/// Most characters on a line (§3.3).
const LONGEST: usize = 256;
/// Stands for a comment in the code, so that no number reaches across it.
const COMMENT: u8 = b'(';

/// What a line says.
#[derive(Debug, Default)]
pub(super) struct Block {
    /// Begins with `/`.
    pub(super) may_be_skipped: bool,
    /// G words, times ten: 591 for G59.1.
    pub(super) g: Vec<u32>,
    /// M words.
    pub(super) m: Vec<u32>,
    /// All other words, by letter.
    words: [Option<f64>; 26],
    /// Parameters to set once all values are read.
    pub(super) settings: Vec<(u32, f64)>,
    /// The last comment.
    pub(super) comment: Option<String>,
}

impl Block {
    pub(super) fn word(&self, letter: u8) -> Option<f64> {
        self.words[usize::from(letter - b'A')]
    }

    pub(super) fn has_any(&self, letters: &[u8]) -> bool {
        letters.iter().any(|&letter| self.word(letter).is_some())
    }

    /// Reads a line.
    pub(super) fn read(line: &str, parameters: &Parameters) -> Result<Self, String> {
        if line.chars().count() > LONGEST {
            return Err(format!("a line has at most {LONGEST} characters"));
        }
        let mut block = Self::default();
        let code = block.strip(line)?;
        let mut cursor = Cursor { code: &code, at: 0, parameters };
        block.may_be_skipped = cursor.take("/");
        skip_comments(&mut cursor);
        if cursor.take("N") {
            line_number(&mut cursor)?;
        }
        loop {
            skip_comments(&mut cursor);
            match cursor.peek() {
                None => return Ok(block),
                Some(b'#') => block.read_setting(&mut cursor)?,
                Some(letter) => block.read_word(letter, &mut cursor)?,
            }
        }
    }

    /// Takes out comments, blanks and lower case.
    fn strip(&mut self, line: &str) -> Result<Vec<u8>, String> {
        let mut code = Vec::new();
        let mut open: Option<String> = None;
        for c in line.chars() {
            match (&mut open, c) {
                (Some(_), '(') => return Err("a comment must not hold another `(`".into()),
                (Some(text), ')') => {
                    self.comment = Some(std::mem::take(text));
                    open = None;
                    code.push(COMMENT);
                }
                (Some(text), c) => text.push(c),
                (None, '(') => open = Some(String::new()),
                (None, ' ' | '\t') => {}
                (None, c) if c.is_ascii_graphic() => code.push(c.to_ascii_uppercase() as u8),
                (None, c) => return Err(format!("`{}` has no meaning here", c.escape_default())),
            }
        }
        if open.is_some() { Err("a comment is not closed by `)` on its line".into()) } else { Ok(code) }
    }

    fn read_setting(&mut self, cursor: &mut Cursor<'_>) -> Result<(), String> {
        cursor.at += 1;
        let number = cursor.parameter_number()?;
        may_set(number)?;
        if !cursor.take("=") {
            return Err(format!("expected `=` after #{number}"));
        }
        let value = cursor.value()?;
        self.settings.push((number, value));
        Ok(())
    }

    fn read_word(&mut self, letter: u8, cursor: &mut Cursor<'_>) -> Result<(), String> {
        cursor.at += 1;
        match letter {
            b'G' => {
                let tenths = cursor.value()? * 10.0;
                self.g.push(whole(tenths, "ten times a G word")?);
            }
            b'M' => self.m.push(whole(cursor.value()?, "an M word")?),
            b'D' | b'F' | b'H'..=b'L' | b'P'..=b'T' | b'X'..=b'Z' => {
                let value = cursor.value()?;
                let slot = &mut self.words[usize::from(letter - b'A')];
                if slot.replace(value).is_some() {
                    return Err(format!("the word {} stands twice on the line", letter as char));
                }
            }
            b'A' | b'B' | b'C' => return Err(format!("{} turns an axis this machine does not have", letter as char)),
            b'N' => return Err("a line number must stand first, and only once".into()),
            b'/' => return Err("`/` must stand first on its line".into()),
            b'%' => return Err("`%` must stand alone on its line".into()),
            other => return Err(format!("`{}` is not a word of this language", other as char)),
        }
        Ok(())
    }
}

fn skip_comments(cursor: &mut Cursor<'_>) {
    while cursor.peek() == Some(COMMENT) {
        cursor.at += 1;
    }
}

fn line_number(cursor: &mut Cursor<'_>) -> Result<(), String> {
    let start = cursor.at;
    while matches!(cursor.peek(), Some(b'0'..=b'9')) {
        cursor.at += 1;
    }
    match cursor.at - start {
        1..=5 if cursor.peek() != Some(b'.') => Ok(()),
        _ => Err("a line number has 1 to 5 digits, no sign and no point".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(line: &str) -> Result<Block, String> {
        Block::read(line, &Parameters::from([(3, 15.0)]))
    }

    #[test]
    fn blanks_and_case_mean_nothing() {
        // NISTIR 6556 §3.1: "g0x +0. 12 34y 7" is "g0 x+0.1234 y7".
        let block = read("g0x +0. 12 34y 7").unwrap();
        assert_eq!((block.g, block.words[23], block.words[24]), (vec![0], Some(0.1234), Some(7.0)));
        let block = read("/ N00099 G01 X+003.50 (one) M03(two)").unwrap();
        assert!(block.may_be_skipped);
        assert_eq!((block.g, block.m, block.comment.as_deref()), (vec![10], vec![3], Some("two")));
    }

    #[test]
    fn settings_wait_for_the_end_of_the_line() {
        // NISTIR 6556 §3.3.2.2: "#3=6 G1 X#3" uses the old value.
        let block = read("#3=6 G1 X#3").unwrap();
        assert_eq!((block.word(b'X'), block.settings), (Some(15.0), vec![(3, 6.0)]));
    }

    #[test]
    fn a_number_does_not_reach_across_a_comment() {
        assert!(read("X1(a)2").is_err());
    }
}
