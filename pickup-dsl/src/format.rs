//! A harness file in its canonical form.
//!
//! Two blanks of indentation for each brace or bracket, one blank between items and after a comma, none before it, at most one empty line
//! in a row and none at the edges of a block, a comment two blanks after what it follows. Line breaks are the author's and stay. Lines of
//! statements that can't be read stay byte for byte.
//!
//! The formatter reads tokens, not meaning: the tokens before and after are equal, and formatting twice is formatting once.

use crate::source::Span;
use crate::syntax::brackets::{Close, pair};
use crate::syntax::token::{Token, TokenKind};
use crate::syntax::tree::Statement;
use crate::syntax::{FILE_LIMIT, lexer, parse};

/// Formats a text. A text whose braces don't balance, or that is over the size limit, is given back as it is: its shape is not known.
#[must_use]
pub fn format(text: &str) -> String {
    if text.len() > FILE_LIMIT {
        return text.to_owned();
    }
    let tokens = lexer::lex(0, text).tokens;
    if !braces_balance(&tokens) {
        return text.to_owned();
    }
    let mut broken = Vec::new();
    parse(0, text).tree.statements.iter().for_each(|statement| collect_broken(statement, &mut broken));
    let mut writer =
        Writer { text, out: String::with_capacity(text.len()), empty_lines: 0, after_open: true };
    let mut level = 0;
    let mut broken = broken.into_iter().peekable();
    for line in lines(&tokens, &paired(&tokens, text)) {
        // Both are in order of place, so one pass sees which lines a broken statement touches.
        while broken.next_if(|span| span.end <= line.start()).is_some() {}
        let verbatim = broken.peek().is_some_and(|span| span.start < line.end());
        let closers = line.items().take_while(|(_, level)| *level < 0).count() as i64;
        if verbatim {
            writer.verbatim(&line);
        } else {
            writer.line(&line, (level - closers).max(0) as usize);
        }
        level += line.items().map(|(_, level)| level).sum::<i64>();
    }
    writer.finish()
}

fn braces_balance(tokens: &[Token]) -> bool {
    let mut open = 0usize;
    for token in tokens {
        match token.kind {
            TokenKind::OpenBrace => open += 1,
            TokenKind::CloseBrace if open == 0 => return false,
            TokenKind::CloseBrace => open -= 1,
            _ => {}
        }
    }
    open == 0
}

/// The outermost broken statements, in order of place.
fn collect_broken(statement: &Statement, out: &mut Vec<Span>) {
    if statement.broken {
        out.push(statement.span);
    } else if let Some(block) = &statement.block {
        block.statements.iter().for_each(|inner| collect_broken(inner, out));
    }
}

/// For each token: 1 if it opens, -1 if it closes, 0 for all others and for brackets without a partner.
fn paired(tokens: &[Token], text: &str) -> Vec<i64> {
    let (places, seen): (Vec<usize>, Vec<Token>) =
        tokens.iter().copied().enumerate().filter(|(_, token)| !token.is_trivia()).unzip();
    let mut levels = vec![0; tokens.len()];
    for (open, close) in pair(&seen, text).into_iter().enumerate() {
        if let Some(Close::At(close)) = close {
            levels[places[open]] = 1;
            levels[places[close]] = -1;
        }
    }
    levels
}

/// The tokens of one line, its line end included.
struct Line<'a> {
    tokens: &'a [Token],
    levels: &'a [i64],
}

impl Line<'_> {
    fn start(&self) -> u32 {
        self.tokens.first().map_or(0, |token| token.start)
    }

    fn end(&self) -> u32 {
        self.tokens.last().map_or(0, |token| token.end)
    }

    /// All but blanks and the line end, each with its change of level.
    fn items(&self) -> impl Iterator<Item = (Token, i64)> {
        let items = self.tokens.iter().copied().zip(self.levels.iter().copied());
        items.filter(|(token, _)| !matches!(token.kind, TokenKind::Blank | TokenKind::LineEnd))
    }
}

fn lines<'a>(tokens: &'a [Token], levels: &'a [i64]) -> impl Iterator<Item = Line<'a>> {
    let mut at = 0;
    tokens.split_inclusive(|token| token.kind == TokenKind::LineEnd).map(move |tokens| {
        let from = at;
        at += tokens.len();
        Line { tokens, levels: &levels[from..at] }
    })
}

struct Writer<'a> {
    text: &'a str,
    out: String,
    empty_lines: usize,
    /// At the start of the file or of a block: no empty line here.
    after_open: bool,
}

impl Writer<'_> {
    /// As it is, line end included.
    fn verbatim(&mut self, line: &Line<'_>) {
        if self.empty_lines > 0 {
            self.out.push('\n');
        }
        self.out.push_str(self.text.get(line.start() as usize..line.end() as usize).unwrap_or(""));
        self.empty_lines = 0;
        self.after_open = false;
    }

    fn line(&mut self, line: &Line<'_>, level: usize) {
        let mut previous: Option<TokenKind> = None;
        for (token, _) in line.items() {
            match previous {
                None => self.start_line(token.kind, level),
                Some(previous) => self.out.push_str(gap(previous, token.kind)),
            }
            let written = token.text(self.text);
            // A lone `\r` at the end of a comment would become part of the line end.
            self.out.push_str(if token.kind == TokenKind::Comment { written.trim_end() } else { written });
            previous = Some(token.kind);
        }
        match previous {
            Some(last) => {
                self.out.push('\n');
                self.after_open = last == TokenKind::OpenBrace;
            }
            None => self.empty_lines += 1,
        }
    }

    fn start_line(&mut self, first: TokenKind, level: usize) {
        if self.empty_lines > 0 && !self.after_open && first != TokenKind::CloseBrace {
            self.out.push('\n');
        }
        self.empty_lines = 0;
        self.out.extend(std::iter::repeat_n("  ", level));
    }

    fn finish(self) -> String {
        self.out
    }
}

/// What stands between two tokens of a line.
fn gap(before: TokenKind, after: TokenKind) -> &'static str {
    match (before, after) {
        (_, TokenKind::Comment) => "  ",
        (_, TokenKind::Comma | TokenKind::CloseBracket) | (TokenKind::OpenBracket, _) => "",
        _ => " ",
    }
}
