//! Texts to throw at the parser: shared by the property tests.

use proptest::prelude::{Just, Strategy, any, prop_oneof};

/// Words of the language, pieces of numbers, brackets and hostile characters in any order.
fn soup() -> impl Strategy<Value = String> {
    let token = prop_oneof![
        proptest::sample::select(vec![
            "coil",
            "pot",
            "wire",
            "to",
            "volume.2",
            "lever.A.3",
            "neck",
            "1-2",
            "code",
            "H",
            "K",
            "m",
            "F",
            "measured",
            "nF",
            "kΩ",
            "pF/m",
            "mfd",
            "K:",
            "=",
            "R47",
        ]),
        proptest::sample::select(vec![
            "4k7", "250", "k", "22nF", "0.022uF", "60%", "5%", "±5%", "+80/-20%", "-0.1", "-", "±", "%",
            "4,7", "1,2,3", "104", "4E7", "1e9", ".5", "1.", "--", "-- note",
        ]),
        proptest::sample::select(vec![
            "(",
            ")",
            "{",
            "}",
            ",",
            "\n",
            "\r\n",
            "\r",
            " ",
            "\t",
            "\"",
            "\"text\"",
            "\"a\\\"b\"",
            "\\",
            ".",
            "/",
            "\u{202e}",
            "\u{200b}",
            "\u{feff}",
            "\0",
            "“",
            "’",
            "é",
            "調",
            "√",
            "#",
            "//",
        ]),
    ];
    proptest::collection::vec((token, prop_oneof![Just(" "), Just(""), Just("\n")]), 0..60)
        .prop_map(|list| list.into_iter().flat_map(|(token, gap)| [token, gap]).collect())
}

/// Any text at all, or a soup of tokens.
pub(crate) fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![any::<String>(), soup()]
}
