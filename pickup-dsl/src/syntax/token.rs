//! The kinds of tokens, trivia included.

/// What a run of bytes is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TokenKind {
    /// A name, keyword or dotted lug; also a throw's name such as `1-2`.
    Word,
    /// A unit with a stroke that stands apart from its number: `pF/m`.
    UnitRatio,
    /// Digits and all that hangs on them: `4k7`, `100pF/m`, `60%`, `-0.1`.
    Number,
    /// `±5%`, `+80/-20%`.
    Tolerance,
    /// A `%` that stands apart from its number.
    Percent,
    /// Text in double quotes.
    Text,
    /// `,`
    Comma,
    /// `(`
    OpenBracket,
    /// `)`
    CloseBracket,
    /// `{`
    OpenBrace,
    /// `}`
    CloseBrace,
    /// A line end, `\n` or `\r\n`.
    LineEnd,
    /// Spaces and tabs.
    Blank,
    /// `--` to the end of the line.
    Comment,
    /// What has no place in the language; reported by the lexer.
    Bad,
}

/// A kind and its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Token {
    /// Blanks and comments, which the grammar never sees.
    #[must_use]
    pub fn is_trivia(self) -> bool {
        matches!(self.kind, TokenKind::Blank | TokenKind::Comment)
    }

    /// Its bytes of `text`.
    #[must_use]
    pub fn text(self, text: &str) -> &str {
        text.get(self.start as usize..self.end as usize).unwrap_or("")
    }
}
