//! What holds for any text whatever.

use pickup_dsl::diagnostic::order::MESSAGE_LIMIT;
use pickup_dsl::diagnostic::{Code, Severity};
use pickup_dsl::source::Span;
use pickup_dsl::syntax::tree::{Dimension, Item, Piece, Statement};
use pickup_dsl::syntax::{FILE_LIMIT, NESTING_LIMIT, Parsed, parse};
use proptest::prelude::{any, prop_assert, prop_assert_eq, proptest};
use soup::any_text;

#[path = "properties/soup.rs"]
mod soup;

fn span_of(piece: &Piece) -> Span {
    match piece {
        Piece::Token(span) => *span,
        Piece::Trivia(trivia) => trivia.span,
    }
}

/// All spans of a statement, inside out.
fn spans(statement: &Statement, out: &mut Vec<(Span, Span)>) {
    for clause in &statement.clauses {
        out.push((clause.span, statement.span));
        clause.items.iter().for_each(|item| item_spans(item, clause.span, out));
    }
    if let Some(block) = &statement.block {
        out.push((block.span, statement.span));
        for inner in &block.statements {
            out.push((inner.span, block.span));
            spans(inner, out);
        }
    }
}

fn item_spans(item: &Item, around: Span, out: &mut Vec<(Span, Span)>) {
    out.push((item.span(), around));
    if let Item::Group(group) = item {
        group.items.iter().for_each(|inner| item_spans(inner, group.span, out));
    }
}

fn numbers<'a>(items: &'a [Item], out: &mut Vec<&'a pickup_dsl::syntax::tree::Number>) {
    for item in items {
        match item {
            Item::Number(number) => out.push(number),
            Item::Group(group) => numbers(&group.items, out),
            _ => {}
        }
    }
}

fn has_error(statement: &Statement) -> bool {
    statement.broken || statement.block.as_ref().is_some_and(|block| block.statements.iter().any(has_error))
}

fn on_bounds(text: &str, span: Span) -> bool {
    text.get(span.start as usize..span.end as usize).is_some()
}

proptest! {
    #[test]
    fn every_byte_is_in_the_tree(text in any_text()) {
        let Parsed { tree, .. } = parse(0, &text);
        let mut at = 0;
        for span in tree.pieces.iter().map(span_of) {
            prop_assert_eq!(span.start, at);
            prop_assert!(span.end > span.start && on_bounds(&text, span));
            at = span.end;
        }
        prop_assert_eq!(at as usize, text.len());
    }

    #[test]
    fn spans_lie_inside_the_text_and_inside_each_other(text in any_text()) {
        let Parsed { tree, .. } = parse(0, &text);
        let mut all = Vec::new();
        tree.statements.iter().for_each(|s| spans(s, &mut all));
        for (inner, outer) in all {
            prop_assert!(on_bounds(&text, inner));
            prop_assert!(outer.start <= inner.start && inner.end <= outer.end, "{:?} {:?}", inner, outer);
        }
        prop_assert!(tree.statements.windows(2).all(|pair| pair[0].span.end <= pair[1].span.start));
    }

    #[test]
    fn messages_are_few_and_in_order_and_point_into_the_text(text in any_text()) {
        let Parsed { diagnostics, .. } = parse(0, &text);
        prop_assert!(diagnostics.len() <= MESSAGE_LIMIT);
        prop_assert!(diagnostics.windows(2).all(|pair| pair[0].primary.span <= pair[1].primary.span));
        for diagnostic in &diagnostics {
            prop_assert!(on_bounds(&text, diagnostic.primary.span), "{:?}", diagnostic);
            prop_assert!(diagnostic.fix.as_ref().is_none_or(|fix| on_bounds(&text, fix.span)));
        }
    }

    /// A statement is skipped later exactly because something was said.
    #[test]
    fn what_is_broken_was_reported(text in any_text()) {
        let Parsed { tree, diagnostics } = parse(0, &text);
        if tree.statements.iter().any(has_error) {
            prop_assert!(diagnostics.iter().any(|d| d.severity == Severity::Error));
        }
    }

    /// Each number reads as something finite, or says why not.
    #[test]
    fn numbers_are_finite(text in any_text()) {
        let Parsed { tree, .. } = parse(0, &text);
        let mut found = Vec::new();
        tree.statements.iter().flat_map(|s| &s.clauses).for_each(|c| numbers(&c.items, &mut found));
        for number in found {
            prop_assert!(number.digits.is_finite());
            for want in [Dimension::Ohms, Dimension::Farads, Dimension::Gain, Dimension::Share, Dimension::Metres] {
                if let Ok(value) = number.read(want) {
                    prop_assert!(value.is_finite());
                }
            }
            let _ = number.capacitor_code();
        }
    }

    #[test]
    #[cfg(feature = "render")]
    fn any_message_can_be_drawn_at_its_place(text in any_text(), from in 0u32..80, length in 0u32..20) {
        use pickup_dsl::diagnostic::Diagnostic;
        let mut sources = pickup_dsl::source::Sources::default();
        let file = sources.add("a\u{202e}b.harness", text.clone());
        let Parsed { diagnostics, .. } = parse(file, &text);
        let span = Span { file, start: from, end: from + length };
        let odd = Diagnostic::warning(Code::IdlePot, span, text.clone()).also(span, text.clone()).fix(span, text.clone());
        for diagnostic in diagnostics.iter().chain([&odd]) {
            let drawn = pickup_dsl::diagnostic::render(&sources, diagnostic, false);
            let hidden = |c: char| pickup_dsl::diagnostic::escape::is_hidden(c);
            prop_assert!(!drawn.contains(hidden), "{:?}", drawn);
        }
        for diagnostic in &diagnostics {
            let place = sources.place(diagnostic.primary.span);
            let drawn = pickup_dsl::diagnostic::render(&sources, diagnostic, false);
            let arrow = format!("--> a\\u{{202e}}b.harness:{}:{}\n", place.line, place.column);
            prop_assert!(drawn.contains(&arrow), "{}\n{}", arrow, drawn);
        }
    }

    #[test]
    fn nesting_of_any_depth_is_survived(depth in 0usize..3000, open in "[({]", closed in any::<bool>()) {
        let head = if open == "{" { "a {\n" } else { "(" };
        let mut text = format!("word {}", head.repeat(depth));
        if closed {
            text.push_str(&(if open == "{" { "}\n" } else { ")" }).repeat(depth));
        }
        let Parsed { diagnostics, .. } = parse(0, &text);
        prop_assert_eq!(diagnostics.is_empty(), depth == 0 || (closed && depth <= NESTING_LIMIT), "{}", diagnostics.len());
    }
}

/// Texts that would take forever if any part of the parser looked over the same bytes again for each token.
/// Not timed: with a square-time step this test runs for minutes instead of a blink.
#[test]
fn hostile_texts() {
    for piece in [
        "(", "{", "\"", "\"\" ", "(\n", "a{\n", ")", "}", ",", "+-", "±", "1,", "1-2", "(1,", "--\n",
        "\u{202e}", "“", "'", "a.", "\\", "4k7 ", "1 %", "\n", "\r", "( {", "(\n,", "a, ", "#\n", "- ",
        "«a‘",
    ] {
        let text = piece.repeat(FILE_LIMIT / 8 / piece.len());
        let parsed = parse(0, &text);
        assert!(parsed.diagnostics.len() <= MESSAGE_LIMIT, "{piece:?}");
    }
}

#[test]
fn a_text_over_the_limit_is_refused_with_one_message() {
    let text = "a\n".repeat(FILE_LIMIT / 2 + 1);
    let parsed = parse(0, &text);
    assert_eq!(parsed.diagnostics.iter().map(|d| d.code).collect::<Vec<_>>(), [Code::TooLarge]);
    assert_eq!(parse(0, &text[..FILE_LIMIT]).diagnostics, []);
}
