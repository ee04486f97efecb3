//! Text → tokens → tree. Parsing never fails: what can't be read becomes an `Error` node and a diagnostic.
//!
//! [`lexer`] cuts the text, `brackets` finds which bracket closes which, `parser` builds the [`tree`], `quantity` joins a number with its
//! unit and tolerance, and [`literal`] reads it once the place where it stands says what is wanted.

use std::cell::{Cell, RefCell};

pub(crate) mod brackets;
pub mod lexer;
pub mod literal;
mod number;
mod parser;
mod quantity;
mod region;
mod stream;
pub mod token;
pub mod tree;
pub mod unit;

pub use parser::NESTING_LIMIT;

use crate::diagnostic::{Code, Diagnostic};
use crate::source::Span;
use stream::{State, Tokens};
use token::{Token, TokenKind};
use tree::{Piece, Statement, Tree, Trivia, TriviaKind};

/// Largest text of one file, in bytes.
pub const FILE_LIMIT: usize = 1 << 20;

/// A tree and all that was found wrong on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed {
    /// The whole text, errors included.
    pub tree: Tree,
    /// In order of place.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads one source text; `file` is its index in the [`Sources`](crate::source::Sources) set.
#[must_use]
pub fn parse(file: u32, text: &str) -> Parsed {
    if text.len() > FILE_LIMIT {
        return too_large(file, text);
    }
    let lexed = lexer::lex(file, text);
    let tokens: Vec<Token> = lexed.tokens.iter().copied().filter(|token| !token.is_trivia()).collect();
    let state = State {
        file,
        text,
        pairs: brackets::pair(&tokens, text),
        ends: RefCell::new(vec![false; tokens.len()]),
        reports: RefCell::new(lexed.reports),
        broken: Cell::new(false),
        tokens,
    };
    let input = Tokens { state: &state, at: 0, end: state.tokens.len(), depth: 0, in_brackets: false };
    // The grammar takes every token, so there is no rest, and it has no way to fail.
    let statements = parser::statements(input).map_or_else(|_| Vec::new(), |(_, statements)| statements);
    let pieces = pieces(file, &lexed.tokens, &state.ends.borrow());
    Parsed { tree: Tree { statements, pieces }, diagnostics: state.reports.take().finish() }
}

/// All tokens in order, told from what only separates them.
fn pieces(file: u32, tokens: &[Token], ends: &[bool]) -> Vec<Piece> {
    let mut ends = ends.iter().copied();
    tokens
        .iter()
        .map(|token| {
            let span = Span { file, start: token.start, end: token.end };
            let ends_statement = !token.is_trivia() && ends.next().unwrap_or(false);
            match token.kind {
                TokenKind::Blank => Piece::Trivia(Trivia { span, kind: TriviaKind::Blank }),
                TokenKind::Comment => Piece::Trivia(Trivia { span, kind: TriviaKind::Comment }),
                TokenKind::LineEnd if !ends_statement => {
                    Piece::Trivia(Trivia { span, kind: TriviaKind::LineEnd })
                }
                _ => Piece::Token(span),
            }
        })
        .collect()
}

/// A text over the limit isn't looked into: one broken statement and one message.
fn too_large(file: u32, text: &str) -> Parsed {
    let end = u32::try_from(text.len()).unwrap_or(u32::MAX);
    let span = Span { file, start: 0, end };
    let first_line = text.bytes().take(FILE_LIMIT).position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(0);
    let message = format!("a file of {} bytes; the limit is {FILE_LIMIT}", text.len());
    let place = Span { file, start: 0, end: first_line as u32 };
    Parsed {
        tree: Tree {
            statements: vec![Statement { span, clauses: Vec::new(), block: None, broken: true }],
            pieces: vec![Piece::Token(span)],
        },
        diagnostics: vec![Diagnostic::error(Code::TooLarge, place, message)],
    }
}
