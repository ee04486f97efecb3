//! Formatting twice is formatting once, the words stay, and so does the meaning.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pickup_dsl::format::format;
use pickup_dsl::resolve::{NoFiles, compile};
use pickup_dsl::syntax::lexer::lex;
use pickup_dsl::syntax::token::TokenKind;

/// Tokens that carry meaning.
fn words(text: &str) -> Vec<(TokenKind, &str)> {
    let tokens = lex(0, text).tokens.into_iter();
    let tokens = tokens.filter(|t| !t.is_trivia() && t.kind != TokenKind::LineEnd);
    tokens.map(|t| (t.kind, t.text(text))).collect()
}

/// What a text means, places left out.
fn meaning(text: &str) -> Option<String> {
    let shown = format!("{:?}", compile("fuzz", text, &NoFiles).harness?);
    let mut parts = shown.split("Span {");
    let mut out = parts.next().unwrap_or("").to_owned();
    out.extend(parts.map(|part| part.split_once('}').map_or("", |(_, rest)| rest)));
    Some(out)
}

fuzz_target!(|text: &str| {
    let once = format(text);
    assert_eq!(format(&once), once);
    assert_eq!(words(text), words(&once));
    if text.len() < 10_000 {
        assert_eq!(meaning(text), meaning(&once));
    }
});
