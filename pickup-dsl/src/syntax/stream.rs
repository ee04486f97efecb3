//! Our tokens as an input of nom, and what all grammar functions share.

use std::cell::{Cell, RefCell};
use std::iter::{Copied, Enumerate};
use std::slice::Iter;

use crate::diagnostic::{Diagnostic, Reports};
use crate::source::Span;
use crate::syntax::brackets::Close;
use crate::syntax::token::{Token, TokenKind};
use nom::{Input, Needed};

/// One file under the parser.
pub(crate) struct State<'a> {
    pub(crate) file: u32,
    pub(crate) text: &'a str,
    /// Without blanks and comments.
    pub(crate) tokens: Vec<Token>,
    /// For each of them, see [`crate::syntax::brackets`].
    pub(crate) pairs: Vec<Option<Close>>,
    /// For each of them: it is the line end that ended a statement.
    pub(crate) ends: RefCell<Vec<bool>>,
    pub(crate) reports: RefCell<Reports>,
    /// Something in the statement at hand can't be read.
    pub(crate) broken: Cell<bool>,
}

impl State<'_> {
    /// Reports a slip after which the statement still has its meaning.
    pub(crate) fn report(&self, diagnostic: Diagnostic) {
        self.reports.borrow_mut().push(diagnostic);
    }

    /// Reports what makes the statement at hand unreadable.
    pub(crate) fn fail(&self, diagnostic: Diagnostic) {
        self.report(diagnostic);
        self.broken.set(true);
    }

    pub(crate) fn span(&self, token: Token) -> Span {
        Span { file: self.file, start: token.start, end: token.end }
    }
}

/// A run of the tokens of a [`State`].
#[derive(Clone, Copy)]
pub(crate) struct Tokens<'a> {
    pub(crate) state: &'a State<'a>,
    /// First token, by index.
    pub(crate) at: usize,
    /// One past the last token.
    pub(crate) end: usize,
    /// How many brackets and braces are around.
    pub(crate) depth: usize,
    /// Whether the innermost of them is round.
    pub(crate) in_brackets: bool,
}

impl<'a> Tokens<'a> {
    pub(crate) fn slice(&self) -> &'a [Token] {
        &self.state.tokens[self.at..self.end]
    }

    pub(crate) fn peek(&self) -> Option<Token> {
        self.slice().first().copied()
    }

    pub(crate) fn peek_kind(&self) -> Option<TokenKind> {
        self.peek().map(|token| token.kind)
    }

    /// The next token if it is of that kind, with its text.
    pub(crate) fn peek_text(&self, kind: TokenKind) -> Option<(Token, &'a str)> {
        self.peek().filter(|token| token.kind == kind).map(|token| (token, token.text(self.state.text)))
    }

    /// The same run from another token on.
    pub(crate) fn from(self, at: usize) -> Self {
        Tokens { at: at.min(self.end), ..self }
    }

    /// What stands between an opening token, which is the next one, and `end`.
    pub(crate) fn inside(self, end: usize, in_brackets: bool) -> Self {
        let end = end.min(self.end);
        Tokens { at: (self.at + 1).min(end), end, depth: self.depth + 1, in_brackets, ..self }
    }
}

impl<'a> Input for Tokens<'a> {
    type Item = Token;
    type Iter = Copied<Iter<'a, Token>>;
    type IterIndices = Enumerate<Copied<Iter<'a, Token>>>;

    fn input_len(&self) -> usize {
        self.end - self.at
    }

    fn take(&self, index: usize) -> Self {
        Tokens { end: self.at + index, ..*self }
    }

    fn take_from(&self, index: usize) -> Self {
        Tokens { at: self.at + index, ..*self }
    }

    fn take_split(&self, index: usize) -> (Self, Self) {
        (self.take_from(index), self.take(index))
    }

    fn position<P: Fn(Token) -> bool>(&self, predicate: P) -> Option<usize> {
        self.iter_elements().position(predicate)
    }

    fn iter_elements(&self) -> Self::Iter {
        self.slice().iter().copied()
    }

    fn iter_indices(&self) -> Self::IterIndices {
        self.iter_elements().enumerate()
    }

    fn slice_index(&self, count: usize) -> Result<usize, Needed> {
        if self.input_len() >= count { Ok(count) } else { Err(Needed::new(count - self.input_len())) }
    }
}
