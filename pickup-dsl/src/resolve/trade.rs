//! What the trade calls switches and constructions that the language has under another name (common practice, no source).

/// A hint for a word that is no body of the library, and the body to write in its place, if it can only be one.
pub(crate) fn body_called(word: &str) -> Option<(String, Option<&'static str>)> {
    let word = word.to_ascii_lowercase();
    let has = |parts: &[&str]| parts.iter().any(|part| word.contains(part));
    let one = |body| Some((format!("did you mean `{body}`?"), Some(body)));
    if word.starts_with("on-on-on") {
        let how = "there are two: `on-on-on-A`, where in the middle pole A has moved and pole B not yet, and `on-on-on-B`, the other way \
                   round; measure which commons and lugs meet in the middle of yours";
        return Some((how.to_owned(), None));
    }
    match () {
        () if has(&["super", "four-pole", "4-pole"]) && has(&["lever", "way"]) => one("lever-5-super"),
        () if has(&["five", "5"]) && has(&["way", "lever", "blade"]) => one("lever-5"),
        () if has(&["three", "3"]) && has(&["toggle"]) => one("toggle-3"),
        () if has(&["three", "3"]) && has(&["lever", "blade"]) => one("lever-3"),
        () if has(&["three", "3"]) && has(&["way"]) => {
            Some(("a toggle is `toggle-3`, a lever `lever-3`".to_owned(), None))
        }
        () if word == "dpdt" => {
            Some(("`on-on`, or with a middle `on-off-on`, `on-on-on-A` or `on-on-on-B`".to_owned(), None))
        }
        () => None,
    }
}

/// The constructions that a word of the trade may stand for.
pub(crate) fn construction_called(word: &str) -> &'static [&'static str] {
    match word.to_ascii_lowercase().as_str() {
        "rod" | "rods" | "single-rods" => &["single-rod"],
        "steel" | "single-pole" | "single-poles" => &["single-steel"],
        "single" | "single-coil" => &["single-rod", "single-steel"],
        "open" | "uncovered" | "coverless" | "double-uncovered" => &["double-open"],
        "nickel" | "nickel-silver" | "double-nickel-silver" => &["double-nickel"],
        "brass" => &["double-brass"],
        "covered" | "cover" | "double-covered" | "double-cover" => &["double-nickel", "double-brass"],
        "double" | "double-coil" | "humbucker" | "humbucking" => {
            &["double-open", "double-nickel", "double-brass"]
        }
        _ => &[],
    }
}

/// A throw that the library calls `mid`.
pub(crate) fn is_middle(word: &str) -> bool {
    matches!(word.to_ascii_lowercase().as_str(), "middle" | "centre" | "center")
}

/// Advice where a lug 4 or 5, or a third pole, is asked of a lever with two poles of three lugs.
pub(crate) fn wider_lever(lugs: &[&str], wanted: &str) -> Option<&'static str> {
    let is_small = lugs.contains(&"B.3") && !lugs.contains(&"B.4") && !lugs.contains(&"C.common");
    if is_small && (wanted.starts_with("C.") || wanted.starts_with("D.")) {
        return Some("this one has two poles of three lugs; with four of five lugs it is `lever-5-super`");
    }
    let pole = wanted.strip_suffix(".4").or_else(|| wanted.strip_suffix(".5"))?;
    let has = |n: u8| lugs.iter().any(|lug| lug.strip_prefix(pole) == Some(&format!(".{n}")));
    (has(3) && !has(4)).then_some(
        "a pole of this one has three lugs, and its stops in between join two of them; with five lugs a pole it is `lever-5-super`",
    )
}

#[cfg(test)]
mod tests {
    use super::{body_called, wider_lever};

    #[test]
    fn words_of_the_trade_find_their_body() {
        for (word, body) in [
            ("five-way", Some("lever-5")),
            ("5-way-blade", Some("lever-5")),
            ("three-way-toggle", Some("toggle-3")),
            ("super-5-way", Some("lever-5-super")),
            ("on-on-on", None),
            ("3-way", None),
        ] {
            let (hint, found) = body_called(word).expect("a hint");
            assert_eq!(found, body, "{word}");
            assert!(!hint.is_empty());
        }
        assert_eq!(body_called("half-moon"), None);
    }

    #[test]
    fn a_fourth_lug_is_on_a_wider_lever() {
        let lugs = ["A.common", "A.1", "A.2", "A.3", "frame"];
        assert!(wider_lever(&lugs, "A.4").is_some());
        assert_eq!(wider_lever(&lugs, "A.3"), None);
        assert_eq!(wider_lever(&lugs, "C.4"), None);
        let lugs = ["A.common", "A.1", "A.2", "A.3", "B.common", "B.1", "B.2", "B.3", "frame"];
        assert!(wider_lever(&lugs, "C.common").is_some_and(|advice| advice.contains("two poles")));
        assert_eq!(wider_lever(&lugs, "A.com"), None);
    }
}
