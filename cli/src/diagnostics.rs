//! Messages about files: shown on standard error, counted, listed in notes.

use pickup_dsl::diagnostic::render::render_all;
use pickup_dsl::diagnostic::{Diagnostic, Severity};
use pickup_dsl::source::Sources;

use crate::output;

/// Shows all messages. Colour is put in here and taken out again by a stream that is no terminal.
pub(crate) fn say(found: &[Diagnostic], sources: &Sources) {
    if !found.is_empty() {
        output::say(&render_all(sources, found, true));
        output::say("\n");
    }
}

/// `2 errors`, `1 error, 3 warnings`, `nothing found`.
#[must_use]
pub(crate) fn count(found: &[Diagnostic]) -> String {
    let of = |severity| found.iter().filter(|d| d.severity == severity).count();
    let said: Vec<String> = [(of(Severity::Error), "error"), (of(Severity::Warning), "warning")]
        .into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| plural(n, word))
        .collect();
    if said.is_empty() { "nothing found".to_owned() } else { said.join(", ") }
}

/// `1 error`, `2 errors`.
#[must_use]
pub(crate) fn plural(n: usize, word: &str) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{n} {word}{s}")
}
