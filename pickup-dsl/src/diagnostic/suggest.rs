//! Did you mean.

use strsim::damerau_levenshtein;

/// The candidate that was probably meant, or `None`.
///
/// A candidate that differs only in the case of its letters wins at once. Else the one with the fewest slips (a letter added, left out,
/// changed, or two swapped), the first of equals, if there is at most one slip for every three letters of the longer word. So `tp`
/// finds `tip`, but `C2` doesn't find `C1`, nor `A.4` `A.1`: a changed digit is another part, not a slip.
#[must_use]
pub fn did_you_mean<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        if candidate == word || only_digits_differ(candidate, word) {
            continue;
        }
        if candidate.to_lowercase() == word.to_lowercase() {
            return Some(candidate);
        }
        let other = candidate.chars().count();
        let allowed = length.max(other) / 3;
        // The difference in length alone costs as many slips; this spares the long comparison.
        if length.abs_diff(other) > allowed || best.is_some_and(|(slips, _)| slips <= length.abs_diff(other))
        {
            continue;
        }
        let slips = damerau_levenshtein(word, candidate);
        if slips <= allowed && best.is_none_or(|(fewest, _)| slips < fewest) {
            best = Some((slips, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// The same word but for other digits in the same places.
fn only_digits_differ(a: &str, b: &str) -> bool {
    let is_digit = |c: char| c.is_ascii_digit();
    a.len() == b.len() && a.chars().zip(b.chars()).all(|(a, b)| a == b || is_digit(a) && is_digit(b))
}

#[cfg(test)]
mod tests {
    use super::did_you_mean;

    #[test]
    fn slips_find_their_word() {
        let words = ["inductance", "capacitance", "construction", "tip", "C1", "C3", "sleeve", "tone.1"];
        for (word, meant) in [
            ("inductence", Some("inductance")),
            ("capacitanec", Some("capacitance")),
            ("tp", Some("tip")),
            ("TIP", Some("tip")),
            ("sleve", Some("sleeve")),
            ("C2", None),
            ("tone.12", Some("tone.1")),
            ("tone.3", None),
            ("pole", None),
            ("", None),
        ] {
            assert_eq!(did_you_mean(word, words), meant, "{word}");
        }
    }

    #[test]
    fn the_first_of_equals_is_taken() {
        assert_eq!(did_you_mean("tones", ["tone1", "tone2"]), Some("tone1"));
        assert_eq!(did_you_mean("tone", ["ton", "tone"]), Some("ton"));
    }
}
