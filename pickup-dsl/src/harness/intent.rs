//! What a file says is meant: warnings that are none, and positions that are silent on purpose.

use super::{Choice, Harness, LugId, PartId};
use crate::diagnostic::Code;
use crate::source::Span;

/// One `intend` or `mute` statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Intent {
    /// What it is about.
    pub what: Meant,
    /// The parts, coils or lugs that it names; empty: any.
    pub of: Vec<Subject>,
    /// The positions that it names.
    pub place: Place,
    /// The reason that it gives.
    pub because: Option<String>,
    /// The statement.
    pub span: Span,
}

/// What is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Meant {
    /// `intend`: what the warning of that code says.
    Warning(Code),
    /// `mute`: silence, by hot at ground or by an open switch.
    Mute,
}

/// A part, or something inside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Subject {
    /// The part.
    pub part: PartId,
    /// Its coil, lug or gang; empty: the part as a whole, and all in it.
    pub inside: String,
}

/// Where something is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// Wherever it happens.
    Everywhere,
    /// In every position with all of these throws.
    Throws(Choice),
    /// In one position: these throws, all other switches at rest.
    Position(Choice),
}

impl Subject {
    /// Whether that thing of that part is meant.
    #[must_use]
    pub fn covers(&self, part: PartId, inside: &str) -> bool {
        let within =
            || inside.strip_prefix(&self.inside).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
        self.part == part && (self.inside.is_empty() || within())
    }
}

impl Place {
    /// Whether the position with these throws, in order of [`Harness::switches`], is meant.
    #[must_use]
    pub fn covers(&self, harness: &Harness, throws: &[usize]) -> bool {
        let (choice, others_at_rest) = match self {
            Place::Everywhere => return true,
            Place::Throws(choice) => (choice, false),
            Place::Position(choice) => (choice, true),
        };
        harness.switches().zip(throws).all(|((id, switch), &throw)| {
            match choice.iter().find(|(chosen, _)| *chosen == id) {
                Some((_, wanted)) => *wanted == throw,
                None => !others_at_rest || throw == switch.rest,
            }
        })
    }
}

impl Harness {
    /// No wire reaches the lug, of a part that is wired otherwise and works with it only.
    #[must_use]
    pub fn is_loose(&self, lug: LugId) -> bool {
        self.loose.binary_search(&lug).is_ok()
    }
}
