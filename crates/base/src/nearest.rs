//! The known words nearest to a mistyped one.

/// The words of `known` that `word` was most likely meant to be, the nearest first.
///
/// Near is a third of the letters of the shorter word mistyped, a swap of neighbours counting as one, or a word that
/// holds all words of the other (`walnut`, `black walnut`). Capitals, blanks, `-` and `_` do not count. A number is
/// near to none: 99 is no slip of 9.
///
/// ```
/// assert_eq!(base::near("walnut", ["red oak", "black walnut"]), ["black walnut"]);
/// assert_eq!(base::near("99", ["9", "98"]), [""; 0]);
/// ```
pub fn near<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let mut found: Vec<(usize, &str)> = known.into_iter().filter_map(|k| Some((distance(word, k)?, k))).collect();
    found.sort_by_key(|(distance, _)| *distance);
    found.into_iter().map(|(_, k)| k).collect()
}

/// The word of `known` that `word` was most likely meant to be; `None` if none is near enough to suggest.
///
/// ```
/// assert_eq!(base::nearest("heigth", ["wall", "height", "floor"]), Some("height"));
/// assert_eq!(base::nearest("colour", ["wall", "height", "floor"]), None);
/// ```
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    near(word, known).first().copied()
}

/// What to do about a name that is not among the `known` ones: what it was most likely meant to be, then the others.
///
/// ```
/// let woods = ["black cherry", "black walnut", "white ash"];
/// assert_eq!(
///     base::suggestion("walnut", woods),
///     "did you mean \"black walnut\"? There are also: black cherry, white ash"
/// );
/// assert_eq!(base::suggestion("plastic", woods), "take one of: black cherry, black walnut, white ash");
/// ```
pub fn suggestion<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    let near = near(word, known.iter().copied());
    let others: Vec<&str> = known.into_iter().filter(|k| !near.contains(k)).collect();
    let meant = near.iter().map(|n| format!("\"{n}\"")).collect::<Vec<_>>().join(" or ");
    match (near.is_empty(), others.is_empty()) {
        (true, true) => "there is none to take".to_owned(),
        (true, false) => format!("take one of: {}", others.join(", ")),
        (false, true) => format!("did you mean {meant}?"),
        (false, false) => format!("did you mean {meant}? There are also: {}", others.join(", ")),
    }
}

/// A word longer than this many letters is no slip of a known one; it bounds the work.
const LONGEST: usize = 64;
/// Below this many letters any word is a few slips away from any other.
const SHORTEST: usize = 3;

/// Slips between a word and a known one, if they are near.
fn distance(word: &str, known: &str) -> Option<usize> {
    let (a, b) = (plain(word), plain(known));
    let shorter = a.len().min(b.len());
    let slips = edits(&a, &b);
    let lettered = |w: &[char]| w.iter().any(|c| c.is_alphabetic());
    if slips == 0 || !lettered(&a) || !lettered(&b) || shorter < SHORTEST {
        return (slips == 0).then_some(0);
    }
    let within = slips <= (shorter / 3).max(1);
    // A word of several is nearer than a slip of two letters, and farther than one of one.
    (within || holds(word, known) || holds(known, word)).then_some(if within { slips } else { 1 })
}

/// Whether all words of `part` are words of `whole`.
fn holds(whole: &str, part: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        text.split([' ', '-', '_']).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
    };
    let whole = words(whole);
    let part = words(part);
    !part.is_empty() && part.iter().all(|w| whole.contains(w))
}

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
    fn nothing_far_fetched_is_suggested() {
        // A third of "one-sided" mistyped is not what "both-sided" is; numbers and very short words are near to none.
        assert_eq!(nearest("both-sided", ["two-sided", "one-sided"]), None);
        assert_eq!(nearest("99", ["1", "9", "10"]), None);
        assert_eq!(nearest("cm", ["mm", "in"]), None);
        assert_eq!(nearest("MM", ["mm", "in"]), Some("mm"));
    }

    #[test]
    fn a_word_of_a_name_is_enough_and_the_nearest_comes_first() {
        let oils = ["mineral oil and wax", "hardening oil", "shellac"];
        assert_eq!(near("oil", oils), ["mineral oil and wax", "hardening oil"]);
        assert_eq!(near("hardening oils", oils), ["hardening oil"]);
        assert_eq!(near("black walnut boards", ["black walnut", "white ash"]), ["black walnut"]);
        assert_eq!(suggestion("shelac", ["shellac"]), "did you mean \"shellac\"?");
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
