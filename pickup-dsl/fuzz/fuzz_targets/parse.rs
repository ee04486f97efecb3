//! The tree holds every byte of the text, every message lies inside it, and messages can be drawn.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pickup_dsl::diagnostic::render_all;
use pickup_dsl::source::Sources;
use pickup_dsl::syntax::parse;
use pickup_dsl::syntax::tree::{Piece, Trivia};

fuzz_target!(|text: &str| {
    let parsed = parse(0, text);
    let mut at = 0;
    for piece in &parsed.tree.pieces {
        let (Piece::Token(span) | Piece::Trivia(Trivia { span, .. })) = piece;
        assert_eq!(span.start, at);
        at = span.end;
    }
    assert_eq!(at as usize, text.len());
    for said in &parsed.diagnostics {
        let fix = said.fix.iter().map(|f| f.span);
        for span in said.secondary.iter().map(|l| l.span).chain(fix).chain([said.primary.span]) {
            assert!(text.get(span.start as usize..span.end as usize).is_some(), "{said:?}");
        }
    }
    let mut sources = Sources::default();
    sources.add("fuzz", text);
    let _ = render_all(&sources, &parsed.diagnostics, false);
});
