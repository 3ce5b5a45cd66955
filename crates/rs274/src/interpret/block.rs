//! One line of a program taken apart: words, parameter settings and the comment, with every value worked out (§3.3).

use super::value::{Cursor, Parameters, may_set, whole};

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
    /// All other words, by letter; they count where `said` has the letter's bit.
    words: [f64; 26],
    said: u32,
    /// Parameters to set once all values are read.
    pub(super) settings: Vec<(u32, f64)>,
    /// The last comment.
    pub(super) comment: Option<String>,
    /// The line without blanks and comments, in capitals.
    code: Vec<u8>,
}

fn bit(letter: u8) -> u32 {
    1 << (letter - b'A')
}

impl Block {
    pub(super) fn word(&self, letter: u8) -> Option<f64> {
        (self.said & bit(letter) != 0).then(|| self.words[usize::from(letter - b'A')])
    }

    pub(super) fn has_any(&self, letters: &[u8]) -> bool {
        letters.iter().any(|&letter| self.said & bit(letter) != 0)
    }

    /// Reads a line in place of the one before.
    pub(super) fn read(&mut self, line: &str, parameters: &Parameters) -> Result<(), String> {
        self.g.clear();
        self.m.clear();
        self.settings.clear();
        (self.said, self.comment) = (0, None);
        self.strip(line)?;
        let code = std::mem::take(&mut self.code);
        let told = self.read_code(&mut Cursor { code: &code, at: 0, parameters });
        self.code = code;
        told
    }

    fn read_code(&mut self, cursor: &mut Cursor<'_>) -> Result<(), String> {
        self.may_be_skipped = cursor.take("/");
        skip_comments(cursor);
        if cursor.take("N") {
            line_number(cursor)?;
        }
        loop {
            skip_comments(cursor);
            match cursor.peek() {
                None => return Ok(()),
                Some(b'#') => self.read_setting(cursor)?,
                Some(letter) => self.read_word(letter, cursor)?,
            }
        }
    }

    /// Takes out comments, blanks and lower case.
    fn strip(&mut self, line: &str) -> Result<(), String> {
        self.code.clear();
        let mut at = 0;
        while let Some(&c) = line.as_bytes().get(at) {
            at += 1;
            match c {
                b' ' | b'\t' => {}
                b'(' => {
                    let rest = &line[at..];
                    let Some(end) = rest.find(['(', ')']) else {
                        return Err("a comment is not closed by `)` on its line".into());
                    };
                    if rest.as_bytes()[end] == b'(' {
                        return Err("a comment must not hold another `(`".into());
                    }
                    self.comment = Some(rest[..end].to_owned());
                    self.code.push(COMMENT);
                    at += end + 1;
                }
                c if c.is_ascii_graphic() => self.code.push(c.to_ascii_uppercase()),
                _ => {
                    let c = line[at - 1..].chars().next().unwrap_or_default();
                    return Err(format!("`{}` has no meaning here", c.escape_default()));
                }
            }
        }
        Ok(())
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
                if self.said & bit(letter) != 0 {
                    return Err(format!("the word {} stands twice on the line", letter as char));
                }
                self.said |= bit(letter);
                self.words[usize::from(letter - b'A')] = value;
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
        let mut block = Block::default();
        block.read(line, &Parameters::from([(3, 15.0)])).map(|()| block)
    }

    #[test]
    fn blanks_and_case_mean_nothing() {
        // NISTIR 6556 §3.1: "g0x +0. 12 34y 7" is "g0 x+0.1234 y7".
        let block = read("g0x +0. 12 34y 7").unwrap();
        assert_eq!((block.word(b'X'), block.word(b'Y'), block.g), (Some(0.1234), Some(7.0), vec![0]));
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
