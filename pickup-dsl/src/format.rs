//! A harness file in its canonical form.
//!
//! Two blanks of indentation for each brace or bracket, one blank between items and after a comma, none before it, at most one empty line
//! in a row and none at the edges of a block, a comment two blanks after what it follows. In lines that follow each other, comments stand
//! below each other, and so does what follows the names of positions, throws, coils, pots, resistors and capacitors. Line breaks are the
//! author's and stay. Lines of statements that can't be read stay byte for byte.
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
    let mut writer = Writer {
        text,
        out: String::with_capacity(text.len()),
        rows: Vec::new(),
        empty_lines: 0,
        after_open: true,
    };
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
    /// Lines without an empty one between them: what stands in columns is known when all are.
    rows: Vec<Row>,
    empty_lines: usize,
    /// At the start of the file or of a block: no empty line here.
    after_open: bool,
}

impl Writer<'_> {
    /// As it is, line end included.
    fn verbatim(&mut self, line: &Line<'_>) {
        self.write_rows();
        if self.empty_lines > 0 {
            self.out.push('\n');
        }
        self.out.push_str(self.text.get(line.start() as usize..line.end() as usize).unwrap_or(""));
        self.empty_lines = 0;
        self.after_open = false;
    }

    fn line(&mut self, line: &Line<'_>, level: usize) {
        let mut row = Row { indent: 2 * level, ..Row::default() };
        let mut previous: Option<TokenKind> = None;
        for (place, (token, _)) in line.items().enumerate() {
            let written = token.text(self.text);
            if token.kind == TokenKind::Comment {
                // A lone `\r` at the end of a comment would become part of the line end.
                row.comment = Some(written.trim_end().to_owned());
            } else {
                match place {
                    0 if COLUMNS.contains(&written) => row.keyword = Some(written.to_owned()),
                    2 if row.keyword.is_some() && is_item(token.kind) => {
                        row.head = Some(row.body.chars().count())
                    }
                    _ => {}
                }
                row.body.push_str(previous.map_or("", |previous| gap(previous, token.kind)));
                row.body.push_str(written);
            }
            previous = Some(token.kind);
        }
        let Some(last) = previous else {
            self.empty_lines += 1;
            return;
        };
        let first_closes = line.items().next().is_some_and(|(first, _)| first.kind == TokenKind::CloseBrace);
        if self.empty_lines > 0 {
            self.write_rows();
            if !self.after_open && !first_closes {
                self.out.push('\n');
            }
        }
        self.empty_lines = 0;
        self.after_open = last == TokenKind::OpenBrace;
        self.rows.push(row);
    }

    fn write_rows(&mut self) {
        let mut rows = std::mem::take(&mut self.rows);
        for run in rows.chunk_by_mut(Row::is_column_with) {
            let widest = run.iter().filter_map(|row| row.head).max().unwrap_or(0);
            run.iter_mut().for_each(|row| row.widen(widest));
        }
        for run in rows.chunk_by(|a, b| a.is_annotated() && b.is_annotated()) {
            let widest = run.iter().map(Row::width).max().unwrap_or(0);
            for row in run {
                let line = format!("{}{}", " ".repeat(row.indent), row.body);
                self.out.push_str(&line);
                if let Some(comment) = &row.comment {
                    let blanks = if row.body.is_empty() { 0 } else { widest + 2 - row.width() };
                    self.out.extend(std::iter::repeat_n(' ', blanks));
                    self.out.push_str(comment);
                }
                self.out.push('\n');
            }
        }
    }

    fn finish(mut self) -> String {
        self.write_rows();
        self.out
    }
}

/// Statements whose names are columns: what follows the name starts at one place in lines that follow each other.
const COLUMNS: [&str; 6] = ["position", "throw", "coil", "pot", "resistor", "capacitor"];

/// One line in the making.
#[derive(Default)]
struct Row {
    indent: usize,
    /// A word of [`COLUMNS`], if it starts the line.
    keyword: Option<String>,
    /// Characters of the body up to what follows the name, without the blank between.
    head: Option<usize>,
    body: String,
    comment: Option<String>,
}

impl Row {
    fn is_column_with(&self, other: &Row) -> bool {
        self.keyword.is_some() && self.keyword == other.keyword && self.indent == other.indent
    }

    /// A comment stands behind something.
    fn is_annotated(&self) -> bool {
        self.comment.is_some() && !self.body.is_empty()
    }

    fn width(&self) -> usize {
        self.indent + self.body.chars().count()
    }

    /// Blanks behind the name.
    fn widen(&mut self, widest: usize) {
        if let Some(head) = self.head
            && let Some((at, _)) = self.body.char_indices().nth(head)
        {
            self.body.insert_str(at, &" ".repeat(widest - head));
        }
    }
}

/// Neither a comma nor a brace nor a bracket.
fn is_item(kind: TokenKind) -> bool {
    !matches!(
        kind,
        TokenKind::Comma
            | TokenKind::OpenBrace
            | TokenKind::CloseBrace
            | TokenKind::OpenBracket
            | TokenKind::CloseBracket
    )
}

/// What stands between two tokens of a line.
fn gap(before: TokenKind, after: TokenKind) -> &'static str {
    match (before, after) {
        (_, TokenKind::Comma | TokenKind::CloseBracket) | (TokenKind::OpenBracket, _) => "",
        _ => " ",
    }
}
