//! Switches as contact tables.

use super::{LugId, Valued};

/// A switch.
#[derive(Debug, Clone, PartialEq)]
pub struct Switch {
    /// In order of the file.
    pub throws: Vec<Throw>,
    /// Index of the rest throw.
    pub rest: usize,
    /// How it moves.
    pub moves: Moves,
    /// Springs back to rest.
    pub momentary: bool,
    /// Ω of each closed contact; None: exact.
    pub contact: Option<Valued>,
}

/// One throw.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Throw {
    /// Its name.
    pub name: String,
    /// Sets of lugs that it joins.
    pub joins: Vec<Vec<LugId>>,
    /// An in-between detent: compiled when asked for.
    pub between: bool,
}

/// What the contacts do on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Moves {
    /// All open on the way.
    BreakFirst,
    /// Old and new joined on the way.
    MakeFirst,
}
