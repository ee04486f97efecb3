//! Text → tokens. Every byte lands in exactly one token, whatever the text.

use crate::diagnostic::escape::{escape, is_hidden};
use crate::diagnostic::{Code, Diagnostic, Reports};
use crate::source::Span;
use crate::syntax::token::{Token, TokenKind};
use unicode_ident::{is_xid_continue, is_xid_start};

/// Longest name, in bytes.
pub const NAME_LIMIT: usize = 128;
/// Longest number, in characters.
pub const NUMBER_LIMIT: usize = 64;

/// Tokens in order and what was wrong with them.
#[derive(Debug)]
pub struct Lexed {
    /// Their texts, one after the other, are the text.
    pub tokens: Vec<Token>,
    /// In order of place.
    pub reports: Reports,
}

/// Cuts a text into tokens.
#[must_use]
pub fn lex(file: u32, text: &str) -> Lexed {
    let mut lexer = Lexer { file, text, at: 0, brackets: 0, squares: 0, reports: Reports::default() };
    let mut tokens = Vec::new();
    while lexer.at < text.len() {
        let start = lexer.at;
        let kind = lexer.next_token();
        debug_assert!(lexer.at > start, "each token takes at least a byte");
        tokens.push(Token { kind, start: start as u32, end: lexer.at as u32 });
    }
    Lexed { tokens, reports: lexer.reports }
}

struct Lexer<'a> {
    file: u32,
    text: &'a str,
    at: usize,
    /// Round brackets open; only used to tell a decimal comma from a list.
    brackets: usize,
    /// Square ones open: they are read as round ones.
    squares: usize,
    reports: Reports,
}

impl<'a> Lexer<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn span(&self, start: usize, end: usize) -> Span {
        Span { file: self.file, start: start as u32, end: end as u32 }
    }

    fn next_token(&mut self) -> TokenKind {
        let rest = self.rest();
        let mut chars = rest.chars();
        let (Some(first), second) = (chars.next(), chars.next()) else { return TokenKind::Bad };
        match first {
            '\u{feff}' if self.at == 0 => self.take(first.len_utf8(), TokenKind::Blank),
            ' ' | '\t' => self.take_while(is_blank, TokenKind::Blank),
            '\n' => self.take(1, TokenKind::LineEnd),
            '\r' if second == Some('\n') => self.take(2, TokenKind::LineEnd),
            '-' if second == Some('-') => self.take(line_length(rest), TokenKind::Comment),
            '"' => self.quoted(),
            ',' => self.take(1, TokenKind::Comma),
            '(' => {
                self.brackets += 1;
                self.take(1, TokenKind::OpenBracket)
            }
            ')' => {
                self.brackets = self.brackets.saturating_sub(1);
                self.take(1, TokenKind::CloseBracket)
            }
            '[' => self.square(true),
            ']' => self.square(false),
            // Braces never stand in brackets, so an open bracket was forgotten.
            '{' | '}' => {
                self.brackets = 0;
                self.take(1, if first == '{' { TokenKind::OpenBrace } else { TokenKind::CloseBrace })
            }
            '%' => self.take(1, TokenKind::Percent),
            '±' => self.take(tolerance_length(rest), TokenKind::Tolerance),
            '+' | '-' if is_tolerance(rest) => self.take(tolerance_length(rest), TokenKind::Tolerance),
            '+' | '-' if starts_number(&rest[1..]) => self.number(),
            _ if starts_number(rest) => self.number(),
            c if is_name_start(c) => self.word(),
            c => self.bad(c, second),
        }
    }

    /// A square bracket is read as a round one; of a pair just the first is reported.
    fn square(&mut self, opens: bool) -> TokenKind {
        if opens || self.squares == 0 {
            let span = self.span(self.at, self.at + 1);
            let (written, right) = if opens { ('[', "(") } else { (']', ")") };
            self.reports.push(
                Diagnostic::error(Code::StrayCharacter, span, format!("`{written}` has no place here"))
                    .help("lists stand in `( )`, properties in `{ }`")
                    .fix(span, right),
            );
        }
        if opens {
            self.squares += 1;
            self.brackets += 1;
            return self.take(1, TokenKind::OpenBracket);
        }
        self.squares = self.squares.saturating_sub(1);
        self.brackets = self.brackets.saturating_sub(1);
        self.take(1, TokenKind::CloseBracket)
    }

    /// The line so far begins with that word.
    fn line_begins(&self, word: &str) -> bool {
        let before = &self.text[..self.at];
        let line = &before[before.rfind('\n').map_or(0, |i| i + 1)..];
        line.split_whitespace().next() == Some(word)
    }

    fn take(&mut self, length: usize, kind: TokenKind) -> TokenKind {
        self.at += length;
        kind
    }

    fn take_while(&mut self, accept: impl Fn(char) -> bool, kind: TokenKind) -> TokenKind {
        let rest = self.rest();
        self.take(rest.find(|c| !accept(c)).unwrap_or(rest.len()), kind)
    }

    fn quoted(&mut self) -> TokenKind {
        let start = self.at;
        let rest = self.rest();
        let mut escaped = false;
        for (i, c) in rest.char_indices().skip(1) {
            match c {
                '\n' => break,
                _ if escaped => {
                    if c != '"' && c != '\\' {
                        let span = self.span(start + i - 1, start + i + c.len_utf8());
                        self.reports.push(
                            Diagnostic::error(
                                Code::StrayCharacter,
                                span,
                                "a backslash before a character that needs none",
                            )
                            .help("write `\\\\` for a backslash and `\\\"` for a quote"),
                        );
                    }
                    escaped = false;
                }
                '\\' => escaped = true,
                '"' => return self.take(i + 1, TokenKind::Text),
                _ => {}
            }
        }
        let length = line_length(rest);
        let span = self.span(start, start + length);
        self.reports.push(
            Diagnostic::error(Code::OpenText, span, "quoted text does not end on its line")
                .label("starts here")
                .help("close the text with `\"`"),
        );
        self.take(length, TokenKind::Bad)
    }

    fn number(&mut self) -> TokenKind {
        let (length, kind) = number_length(self.rest(), self.brackets > 0);
        self.take(length, kind)
    }

    fn word(&mut self) -> TokenKind {
        let rest = self.rest();
        if let Some(length) = sharp_note(rest).filter(|_| self.brackets > 0) {
            return self.take(length, TokenKind::Word);
        }
        let start = self.at;
        let mut length = name_length(rest);
        // A name with something hidden in it: said once, and read as the name that it looks like.
        while let Some((hidden, after)) = hidden_inside(&rest[length..]) {
            self.hidden(start + length, hidden);
            length += hidden + after;
        }
        while let Some(after) = rest[length..].strip_prefix('.') {
            let segment = name_length(after);
            if segment == 0 {
                break;
            }
            length += 1 + segment;
        }
        if crate::syntax::unit::may_have_stroke(&rest[..length])
            && let Some(divisor) = crate::syntax::unit::divisor_length(&rest[length..])
        {
            return self.take(length + divisor, TokenKind::UnitRatio);
        }
        if rest[..length].split('.').any(|segment| segment.len() > NAME_LIMIT) {
            let span = self.span(start, start + length);
            self.reports.push(
                Diagnostic::error(Code::TooLarge, span, format!("a name longer than {NAME_LIMIT} bytes"))
                    .help("shorten the name"),
            );
            return self.take(length, TokenKind::Bad);
        }
        self.take(length, TokenKind::Word)
    }

    /// Characters that can't be seen.
    fn hidden(&mut self, start: usize, length: usize) {
        let first = self.text[start..].chars().next().map_or(String::new(), String::from);
        let span = self.span(start, start + length);
        self.reports.push(
            Diagnostic::error(Code::HiddenCharacter, span, "a character that can't be seen")
                .label(format!("`{}`", escape(&first)))
                .note("control and bidirectional characters may only stand in comments and text")
                .help("take it out")
                .fix(span, ""),
        );
    }

    fn bad(&mut self, first: char, second: Option<char>) -> TokenKind {
        let start = self.at;
        let rest = self.rest();
        // A comment in another habit's form: the whole of it is one mistake.
        if matches!(first, '#' | ';') || (first == '/' && matches!(second, Some('/' | '*'))) {
            let length = line_length(rest);
            let mark = if first == '/' { 2 } else { 1 };
            self.reports.push(
                Diagnostic::error(
                    Code::StrayCharacter,
                    self.span(start, start + mark),
                    format!("`{}` has no place here", &rest[..mark]),
                )
                .help("a comment starts with `--`")
                .fix(self.span(start, start + mark), "--"),
            );
            return self.take(length, TokenKind::Bad);
        }
        if is_hidden(first) || first == '\r' {
            let length =
                rest.find(|c| !is_hidden(c) && c != '\r').unwrap_or(rest.len()).max(first.len_utf8());
            // A `\r` that belongs to the line end after the run stays with it.
            let length = if length > 1 && rest[..length].ends_with('\r') && rest[length..].starts_with('\n') {
                length - 1
            } else {
                length
            };
            self.hidden(start, length);
            return self.take(length, TokenKind::Bad);
        }
        let arrow = ["->", "=>", "→", "⇒"].into_iter().find(|arrow| rest.starts_with(arrow));
        let arrow = arrow.or_else(|| rest.starts_with("- ").then_some("-"));
        if let Some(arrow) = arrow.filter(|_| self.line_begins("wire")) {
            let span = self.span(start, start + arrow.len());
            self.reports.push(
                Diagnostic::error(Code::StrayCharacter, span, format!("`{arrow}` has no place here"))
                    .help("a wire goes `to` its other end")
                    .fix(span, "to"),
            );
            return self.take(arrow.len(), TokenKind::Bad);
        }
        let length = match foreign_text(rest) {
            Some(length) => length,
            None => rest.find(|c| c != first).unwrap_or(rest.len()),
        };
        let span = self.span(start, start + length);
        let mut report = Diagnostic::error(
            Code::StrayCharacter,
            span,
            format!("`{}` has no place here", escape(&first.to_string())),
        );
        report = match first {
            c if is_foreign_quote(c) => {
                let inner =
                    rest[..length].trim_matches(is_foreign_quote).replace('\\', "\\\\").replace('"', "\\\"");
                report.help("text stands in straight double quotes").fix(span, format!("\"{inner}\""))
            }
            '\u{a0}' | '\u{2007}' | '\u{202f}' | '\u{2009}' | '\u{3000}' => {
                report.label("this is not a plain blank").help("use a plain blank").fix(span, " ")
            }
            '=' | ':' => {
                let blank = |c: Option<char>| c.is_some_and(is_blank);
                let around = (blank(self.text[..start].chars().last()), blank(rest[length..].chars().next()));
                let (taken, put) = match around {
                    (true, true) => (1, ""),
                    (false, false) => (0, " "),
                    _ => (0, ""),
                };
                report
                    .help("a value follows its word with just a blank between")
                    .fix(self.span(start, start + length + taken), put)
            }
            '.' => report.help("a lug is written `part.lug`, in one piece"),
            '–' | '—' | '−' => report.help("use the plain `-`").fix(span, "-"),
            '_' | '-' => report.help("a name starts with a letter"),
            _ => report,
        };
        self.reports.push(report);
        self.take(length, TokenKind::Bad)
    }
}

fn is_foreign_quote(c: char) -> bool {
    matches!(c, '“' | '”' | '„' | '«' | '»' | '‘' | '’' | '\'')
}

/// Text in quotes that the language doesn't know: up to the next such quote on the line, so that the pair is one mistake.
fn foreign_text(rest: &str) -> Option<usize> {
    let mut chars = rest.char_indices();
    let (_, open) = chars.next().filter(|(_, c)| is_foreign_quote(*c))?;
    // An apostrophe closes nothing but what one of its kind opened.
    let closes = |c: char| match open {
        '“' | '”' | '„' => matches!(c, '“' | '”'),
        '«' | '»' => matches!(c, '«' | '»'),
        _ => matches!(c, '‘' | '’' | '\''),
    };
    let (end, close) = chars.take_while(|(_, c)| *c != '\n').find(|(_, c)| closes(*c))?;
    Some(end + close.len_utf8())
}

/// Bytes up to the line end, which is not counted.
fn line_length(rest: &str) -> usize {
    let line = &rest[..rest.find('\n').unwrap_or(rest.len())];
    if line.len() < rest.len() { line.strip_suffix('\r').unwrap_or(line).len() } else { line.len() }
}

fn is_name_start(c: char) -> bool {
    is_xid_start(c) && !is_hidden(c)
}

fn is_name_part(c: char) -> bool {
    is_xid_continue(c) && !is_hidden(c)
}

/// Letters, digits, `_` and single `-`; two dashes start a comment.
fn name_length(rest: &str) -> usize {
    for (i, c) in rest.char_indices() {
        let dash = c == '-' && i > 0 && !rest[i + 1..].starts_with('-');
        if !dash && !is_name_part(c) {
            return i;
        }
    }
    rest.len()
}

/// Bytes of hidden characters between two parts of a name, and of the part that follows.
fn hidden_inside(rest: &str) -> Option<(usize, usize)> {
    let hidden = rest.find(|c| !is_hidden(c)).filter(|length| *length > 0)?;
    let after = rest[hidden..].find(|c| !is_name_part(c)).unwrap_or(rest.len() - hidden);
    (after > 0).then_some((hidden, after))
}

fn starts_number(rest: &str) -> bool {
    let digits = rest.strip_prefix('.').unwrap_or(rest);
    digits.starts_with(|c: char| c.is_ascii_digit())
}

fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t')
}

fn starts_divisor(rest: &str) -> bool {
    rest.strip_prefix('/').is_some_and(|after| after.starts_with(is_divisor))
}

fn is_divisor(c: char) -> bool {
    c == '√' || is_name_start(c)
}

/// How far a number goes, and whether it is one: `1-2` names a throw.
fn number_length(rest: &str, in_brackets: bool) -> (usize, TokenKind) {
    let mut plain = true; // only digits, and decimal commas, so far
    let mut is_word = false;
    let mut previous = '\0';
    for (i, c) in rest.char_indices() {
        let after = &rest[i + c.len_utf8()..];
        let digit_next = after.starts_with(|c: char| c.is_ascii_digit());
        let go_on = match c {
            '+' | '-' if i == 0 => true,
            '+' | '-' if matches!(previous, 'e' | 'E') && digit_next && !is_word => true,
            '-' if is_word || (plain && previous.is_ascii_digit()) => {
                let name_next = after.starts_with(is_name_part);
                is_word |= name_next;
                name_next
            }
            ',' => {
                plain && previous.is_ascii_digit() && digit_next && (!in_brackets || is_decimal_comma(after))
            }
            '%' if !is_word => return (i + 1, TokenKind::Number),
            '.' => true,
            '/' if !is_word => starts_divisor(&rest[i..]),
            '√' => previous == '/',
            '°' => plain && previous.is_ascii_digit() && after.starts_with('C'),
            c => is_name_part(c),
        };
        if !go_on {
            return (i, if is_word { TokenKind::Word } else { TokenKind::Number });
        }
        plain &= c.is_ascii_digit() || c == ',';
        previous = c;
    }
    (rest.len(), if is_word { TokenKind::Word } else { TokenKind::Number })
}

/// The length of a note such as `F#3`, which stands in the brackets of `notes`.
fn sharp_note(rest: &str) -> Option<usize> {
    let [b'A'..=b'G', b'#', b'0'..=b'9', ..] = rest.as_bytes() else { return None };
    (!rest[3..].starts_with(is_name_part)).then_some(3)
}

/// In brackets `1,2` is a list, but `4,7k` is a slip.
fn is_decimal_comma(after: &str) -> bool {
    let unit = after.trim_start_matches(|c: char| c.is_ascii_digit());
    unit.starts_with(|c| is_name_start(c) || c == '%')
}

/// `+80/-20%`, `-20/+80%`, `+/-5%`, `+5%`, but not `-0.1`.
fn is_tolerance(rest: &str) -> bool {
    let run = &rest[..tolerance_length(rest)];
    let signs = run.matches(['+', '-']).count();
    run.contains(|c: char| c.is_ascii_digit()) && (signs == 2 || (run.starts_with('+') && run.contains('%')))
}

/// Never looks further than a number may be long, so that a row of signs can't make the lexer slow.
fn tolerance_length(rest: &str) -> usize {
    let mut previous = '\0';
    for (i, c) in rest.char_indices() {
        let go_on = c.is_ascii_digit()
            || matches!(c, '.' | '%' | '/' | '+')
            || (c == '±' && i == 0)
            || (c == '-' && !rest[i + 1..].starts_with('-'))
            || (is_blank(c)
                && (is_blank(previous)
                    || (previous == '±' && starts_number(rest[i..].trim_start_matches(is_blank)))));
        if !go_on || i >= NUMBER_LIMIT {
            return i;
        }
        previous = c;
    }
    rest.len()
}
