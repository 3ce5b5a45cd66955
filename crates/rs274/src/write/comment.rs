//! Comments that every control can read: ASCII, no brackets, short lines.

/// Longest text of one comment.
const LONGEST: usize = 60;

/// The comment lines for a text, broken between words.
pub(super) fn comment_lines(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in plain(text).split_whitespace().flat_map(pieces) {
        match lines.last_mut() {
            Some(line) if line.len() + 1 + word.len() <= LONGEST => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines.into_iter().map(|line| format!("({line})")).collect()
}

/// A word cut into pieces that fit on a line; `plain` has left only ASCII.
fn pieces(word: &str) -> impl Iterator<Item = &str> {
    (0..word.len()).step_by(LONGEST).map(|start| &word[start..word.len().min(start + LONGEST)])
}

/// The text in ASCII, without characters that end a comment or that a control takes for an order.
fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match replacement(c) {
            Some(other) => {
                if other.starts_with(',') {
                    out.truncate(out.trim_end().len());
                }
                out.push_str(other);
            }
            None => out.push(c),
        }
    }
    out
}

fn replacement(c: char) -> Option<&'static str> {
    Some(match c {
        '(' | '[' | '{' | ';' => ", ",
        ')' | ']' | '}' => "",
        '!' | '?' => ".",
        '~' | '–' | '—' | '−' => "-",
        '%' => " percent",
        '×' => "x",
        '·' | '•' | '|' => "-",
        '°' => " deg",
        'µ' | 'μ' => "u",
        'Ø' | 'ø' | '⌀' => "dia. ",
        '±' => "+/-",
        '≤' => "at most ",
        '≥' => "at least ",
        '½' => " 1/2",
        '¼' => " 1/4",
        '¾' => " 3/4",
        '″' | '“' | '”' | '„' => "\"",
        '′' | '‘' | '’' => "'",
        '…' => "...",
        '²' => "2",
        '³' => "3",
        'ä' | 'à' | 'á' | 'â' | 'å' => "a",
        'ö' | 'ò' | 'ó' | 'ô' => "o",
        'ü' | 'ù' | 'ú' | 'û' => "u",
        'é' | 'è' | 'ê' | 'ë' => "e",
        'í' | 'ì' | 'î' | 'ï' => "i",
        'ç' => "c",
        'ñ' => "n",
        'ß' => "ss",
        'Ä' | 'À' | 'Á' | 'Â' | 'Å' => "A",
        'Ö' | 'Ò' | 'Ó' | 'Ô' => "O",
        'Ü' | 'Ù' | 'Ú' | 'Û' => "U",
        'É' | 'È' | 'Ê' | 'Ë' => "E",
        c if c.is_whitespace() => " ",
        c if !c.is_ascii_graphic() => "_",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brackets_and_signs_become_plain_words() {
        assert_eq!(
            comment_lines("set dial 3 (about 16 000); 45° – ¼″"),
            ["(set dial 3, about 16 000, 45 deg - 1/4\")"]
        );
        assert!(comment_lines("  ").is_empty());
    }

    #[test]
    fn long_texts_are_broken_between_words() {
        let text = "a long sentence that a person at the machine must be able to read on a narrow display ".repeat(3);
        let lines = comment_lines(&text);
        assert!(lines.len() > 4 && lines.iter().all(|l| l.len() <= LONGEST + 2));
        let joined: Vec<_> = lines.iter().map(|l| l.trim_matches(['(', ')'])).collect();
        assert_eq!(joined.join(" "), text.trim());
        assert_eq!(comment_lines(&"x".repeat(150)).len(), 3);
    }
}
