//! The known word nearest to a mistyped one.

/// The word of `known` that `word` was most likely meant to be; `None` if none is near enough to suggest.
///
/// Near is a third of its letters mistyped, at least one and a swap of neighbours counting as one; of equals the
/// first. Capitals, blanks, `-` and `_` do not count.
///
/// ```
/// assert_eq!(base::nearest("heigth", ["wall", "height", "floor"]), Some("height"));
/// assert_eq!(base::nearest("colour", ["wall", "height", "floor"]), None);
/// ```
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = plain(word);
    let (distance, best) = known.into_iter().map(|k| (edits(&word, &plain(k)), k)).min_by_key(|(d, _)| *d)?;
    (distance <= (word.len() / 3).max(1)).then_some(best)
}

/// A word longer than this many letters is no slip of a known one; it bounds the work.
const LONGEST: usize = 64;

fn plain(word: &str) -> Vec<char> {
    let letters = word.chars().filter(|c| !matches!(c, ' ' | '-' | '_'));
    letters.flat_map(char::to_lowercase).take(LONGEST).collect()
}

/// Insertions, deletions, replacements and swaps of neighbours that turn `a` into `b` (optimal string alignment).
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let replaced = above[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = replaced.min(above[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut above, row);
    }
    above[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_slips_are_understood() {
        let keys = ["outline", "height", "wall", "floor", "floor_radius", "rim_round", "foot"];
        let slips = [("hieght", "height"), ("wal", "wall"), ("flor", "floor"), ("floor-radius", "floor_radius")];
        for (slip, meant) in slips {
            assert_eq!(nearest(slip, keys), Some(meant));
        }
        assert_eq!(nearest("thickness", keys), None);
        assert_eq!(nearest("x", []), None);
    }

    #[test]
    fn distances_agree_with_known_ones() {
        let chars = |s: &str| s.chars().collect::<Vec<_>>();
        // kitten → sitting is 3 in every textbook on edit distance; a swap is 1 by Damerau (1964), from memory.
        for (a, b, want) in [("kitten", "sitting", 3), ("ab", "ba", 1), ("", "abc", 3), ("abc", "abc", 0)] {
            assert_eq!(edits(&chars(a), &chars(b)), want);
        }
    }
}
