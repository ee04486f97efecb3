//! The concrete tree: every byte of the text is in it, in order.
//!
//! A file is a list of statements; a statement is clauses of items and perhaps a block of statements. What the words mean is not known here.

use crate::source::Span;

/// A run of text between tokens: blanks, comments, line ends. Kept for the formatter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trivia {
    /// Where.
    pub span: Span,
    /// What sort.
    pub kind: TriviaKind,
}

/// Sorts of trivia.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TriviaKind {
    /// Spaces and tabs.
    Blank,
    /// `--` to the end of the line.
    Comment,
    /// A line end that ends no statement (empty line, inside brackets).
    LineEnd,
}

/// A whole file.
#[derive(Debug, Clone, PartialEq)]
pub struct Tree {
    /// Its statements in order.
    pub statements: Vec<Statement>,
    /// All tokens and trivia in order: concatenating their spans' text gives the file back.
    pub pieces: Vec<Piece>,
}

/// One token or piece of trivia of the lossless sequence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Piece {
    /// A token.
    Token(Span),
    /// Trivia.
    Trivia(Trivia),
}

/// `clause, clause { block }`.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    /// From its first item to its last (or the closing brace).
    pub span: Span,
    /// Never empty, except in an error statement.
    pub clauses: Vec<Clause>,
    /// What stands in braces.
    pub block: Option<Block>,
    /// True when a syntax error was reported in it: later stages skip it silently.
    pub broken: bool,
}

/// Items between commas.
#[derive(Debug, Clone, PartialEq)]
pub struct Clause {
    /// From first to last item.
    pub span: Span,
    /// At least one.
    pub items: Vec<Item>,
}

/// A braced list of statements.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Braces included.
    pub span: Span,
    /// Statements in order.
    pub statements: Vec<Statement>,
}

/// One item of a clause.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A name, keyword or dotted lug.
    Word(Word),
    /// A number with its unit.
    Number(Number),
    /// Quoted text, quotes and escapes removed.
    Text(Text),
    /// `( … )`.
    Group(Group),
    /// Could not be read; a diagnostic says why.
    Error(Span),
}

impl Item {
    /// Its place.
    #[must_use]
    pub fn span(&self) -> Span {
        match self {
            Item::Word(w) => w.span,
            Item::Number(n) => n.span,
            Item::Text(t) => t.span,
            Item::Group(g) => g.span,
            Item::Error(s) => *s,
        }
    }
}

/// `neck.screw.finish`: segments between dots.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// The whole word.
    pub span: Span,
    /// The word as written.
    pub text: String,
}

impl Word {
    /// The segments between dots.
    pub fn segments(&self) -> impl Iterator<Item = &str> {
        self.text.split('.')
    }
}

/// Quoted text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// Quotes included.
    pub span: Span,
    /// Without quotes.
    pub value: String,
}

/// `( … )`: items, commas dropped.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Brackets included.
    pub span: Span,
    /// Items in order.
    pub items: Vec<Item>,
}

/// A number token. A blank may stand between digits and unit (`250 kΩ`), and before a tolerance: both are part of the span.
/// What it means depends on the place (`5m` is metres for a cable, milliohms for a contact): `literal` reads it against a [`Dimension`].
#[derive(Debug, Clone, PartialEq)]
pub struct Number {
    /// Number, unit and tolerance.
    pub span: Span,
    /// Number and unit as written, without tolerance and without a blank between; slips that the parser reported are mended in it.
    /// This is also the name of a lug or throw that is called by a number.
    pub text: String,
    /// The digits as a plain decimal, sign included: `4.7` for `4k7`. Values are read from it, so that each is rounded once.
    pub decimal: String,
    /// The digits' value, the multiplier letter not yet applied (`4k7` is 4.7).
    pub digits: f64,
    /// What follows or interleaves the digits, as written: `k`, `kΩ`, `pF/m`, `%`, or empty.
    pub suffix: String,
    /// `5%`, `+80/-20%`, `K`.
    pub tolerance: Option<Tolerance>,
}

/// What a place wants; each is read to SI units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// Ω; the unit may be left out.
    Ohms,
    /// F; a bare number is an error with two readings.
    Farads,
    /// H.
    Henries,
    /// Hz.
    Hertz,
    /// m.
    Metres,
    /// V.
    Volts,
    /// V/√Hz, written `5nV`.
    VoltDensity,
    /// A/√Hz, written `0.5pA`.
    AmpereDensity,
    /// F/m.
    FaradsPerMetre,
    /// Ω/H.
    OhmsPerHenry,
    /// 0.6 or 60 %; may exceed 1.
    Share,
    /// A whole or broken count: turns, gauge, string number.
    Count,
    /// 0 to 10.
    Knob,
    /// A plain ratio, or `6dB` (20 lg).
    Gain,
    /// dB, written `6dB`; may be negative.
    Decibels,
    /// °C, written `28degC` or `28°C`.
    Celsius,
    /// Bare diameter of magnet wire in m: a plain number or `42 AWG` is a gauge, `0.063mm` the diameter itself.
    Wire,
}

/// Limits of a value as shares of it: `5%` is (0.05, 0.05), `+80/-20%` is (0.8, 0.2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Upwards.
    pub up: f64,
    /// Downwards, positive.
    pub down: f64,
}
