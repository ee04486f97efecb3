//! Which bracket closes which, found in one pass before the grammar runs: the grammar then never has to guess or go back.

use crate::syntax::token::{Token, TokenKind};

/// Where an opening bracket or brace ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Close {
    /// Its partner, by token index.
    At(usize),
    /// It has none; what it holds can go no further than this token.
    Missing(usize),
}

/// For each token that opens, where it closes; `None` for all others. `tokens` holds no blanks or comments.
pub(crate) fn pair(tokens: &[Token], text: &str) -> Vec<Option<Close>> {
    let strict = pair_by(tokens, |_, _| false);
    let brace_open = tokens
        .iter()
        .zip(&strict)
        .any(|(token, close)| token.kind == TokenKind::OpenBrace && matches!(close, Some(Close::Missing(_))));
    if !brace_open {
        return strict;
    }
    // Counting alone blames the outermost brace when an inner one is forgotten: the indentation knows better.
    let indents = indents(tokens, text);
    pair_by(tokens, |open, close| {
        let (_, open_indent) = indents[open];
        let (first_on_line, close_indent) = indents[close];
        first_on_line && close_indent < open_indent
    })
}

/// `skips(open, close)` says that the brace `open` can't be the one that `close` closes.
fn pair_by(tokens: &[Token], skips: impl Fn(usize, usize) -> bool) -> Vec<Option<Close>> {
    let mut pairs = vec![None; tokens.len()];
    let mut open: Vec<usize> = Vec::new();
    let mut braces_open = 0usize;
    for (i, token) in tokens.iter().enumerate() {
        let is_bracket = |j: &usize| tokens[*j].kind == TokenKind::OpenBracket;
        match token.kind {
            TokenKind::OpenBracket => open.push(i),
            TokenKind::CloseBracket => {
                if let Some(j) = open.pop_if(|j| is_bracket(j)) {
                    pairs[j] = Some(Close::At(i));
                }
            }
            TokenKind::OpenBrace | TokenKind::CloseBrace => {
                while let Some(j) = open.pop_if(|j| is_bracket(j)) {
                    pairs[j] = Some(Close::Missing(i));
                }
                if token.kind == TokenKind::OpenBrace {
                    open.push(i);
                    braces_open += 1;
                    continue;
                }
                // The last brace standing is never passed over: then this closing one would be stray.
                while braces_open > 1
                    && let Some(j) = open.pop_if(|j| skips(*j, i))
                {
                    pairs[j] = Some(Close::Missing(i));
                    braces_open -= 1;
                }
                if let Some(j) = open.pop() {
                    pairs[j] = Some(Close::At(i));
                    braces_open -= 1;
                }
            }
            _ => {}
        }
    }
    for j in open {
        pairs[j] = Some(Close::Missing(tokens.len()));
    }
    pairs
}

/// For each token: whether it is the first of its line, and the indentation of that line.
fn indents(tokens: &[Token], text: &str) -> Vec<(bool, usize)> {
    let mut indents = Vec::with_capacity(tokens.len());
    let mut indent = 0;
    let mut first = true;
    for token in tokens {
        if first {
            let before = &text.as_bytes()[..token.start as usize];
            indent = before.iter().rev().take_while(|b| matches!(b, b' ' | b'\t')).count();
        }
        indents.push((first, indent));
        first = token.kind == TokenKind::LineEnd;
    }
    indents
}
