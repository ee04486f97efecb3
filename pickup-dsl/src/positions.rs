//! Every combination of throws, with stable keys and names.

use crate::harness::{Choice, Harness};

/// One combination of all switches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Position {
    /// Sorted `switch=throw` pairs by name, rest throws left out, joined by `, `; `rest` when all are at rest.
    pub key: String,
    /// The name that the file gives it.
    pub name: Option<String>,
    /// The throw of each switch, in the order of [`Harness::switches`].
    pub throws: Vec<usize>,
}

/// Which combinations are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wanted {
    /// In-between detents too.
    pub between: bool,
    /// All combinations even where the file says `positions named only`.
    pub all: bool,
}

/// More than 4,096 combinations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{count} positions, more than the {limit} that are compiled")]
pub struct TooManyPositions {
    /// How many there are (saturating).
    pub count: u64,
    /// The limit.
    pub limit: u64,
}

/// The combinations in order: the first switch of the file turns slowest.
///
/// # Errors
/// [`TooManyPositions`], found by multiplication before any is made.
pub fn positions(harness: &Harness, wanted: Wanted) -> Result<Vec<Position>, TooManyPositions> {
    let _ = (harness, wanted);
    todo!()
}

/// The combination that a choice means: unmentioned switches at rest.
#[must_use]
pub fn position_of(harness: &Harness, choice: &Choice) -> Position {
    let _ = (harness, choice);
    todo!()
}
