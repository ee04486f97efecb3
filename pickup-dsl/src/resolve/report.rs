//! Collects messages: one per cause, never without end.

use std::cell::Cell;
use std::collections::BTreeSet;

use crate::diagnostic::suggest::did_you_mean;
use crate::diagnostic::{Code, Diagnostic, Label, Severity};
use crate::source::{Sources, Span};

/// Errors and warnings kept each; more than are ever shown, so that the shown ones are the first of the file.
const KEPT: usize = 500;
/// Mistakes after which nothing more is looked at, repeats of a pattern's included.
const ENOUGH: usize = 20_000;
/// Words that are compared with names, over all messages.
const COMPARISONS: usize = 200_000;
/// Longest list of alternatives in a message.
const LISTED: usize = 24;

/// Messages of one compile.
#[derive(Debug)]
pub(crate) struct Report<'s> {
    pub(crate) sources: &'s Sources,
    list: Vec<Diagnostic>,
    seen: BTreeSet<(Code, Span)>,
    errors: usize,
    kept_errors: usize,
    comparisons: Cell<usize>,
}

impl<'s> Report<'s> {
    pub(crate) fn new(sources: &'s Sources) -> Self {
        Report {
            sources,
            list: Vec::new(),
            seen: BTreeSet::new(),
            errors: 0,
            kept_errors: 0,
            comparisons: Cell::new(0),
        }
    }

    /// Adds a message unless the same was said of the same place (a pattern's mistake shows up once for each use).
    pub(crate) fn push(&mut self, diagnostic: Diagnostic) {
        let is_error = diagnostic.severity == Severity::Error;
        self.errors += usize::from(is_error);
        let kept = if is_error { self.kept_errors } else { self.list.len() - self.kept_errors };
        if kept < KEPT && self.seen.insert((diagnostic.code, diagnostic.primary.span)) {
            self.kept_errors += usize::from(is_error);
            self.list.push(diagnostic);
        }
    }

    /// Adds a message about something declared at `subject`. Where the same is wrong with it elsewhere, or the very same was said of
    /// another place, and neither has a mend, it joins that message: one mistaken idea of a part, one message.
    pub(crate) fn push_of(&mut self, subject: Span, diagnostic: Diagnostic) {
        let alike = |known: &&mut Diagnostic| {
            known.code == diagnostic.code
                && known.notes == diagnostic.notes
                && (known.message == diagnostic.message
                    || known.secondary.iter().any(|label| label.span == subject))
        };
        let mended = |d: &Diagnostic| d.fix.is_some() || d.help.is_some();
        let known = if mended(&diagnostic) { None } else { self.list.iter_mut().find(alike) };
        match known.filter(|known| !mended(known)) {
            Some(known) => {
                self.errors += 1;
                if self.seen.insert((diagnostic.code, diagnostic.primary.span)) {
                    let label = Label { span: diagnostic.primary.span, text: "nor this".to_owned() };
                    known.secondary.push(label);
                }
            }
            None => self.push(diagnostic),
        }
    }

    /// Whether a brace is open to the end of that file: what it swallowed is not missing.
    pub(crate) fn has_open_brace(&self, file: u32) -> bool {
        let open = |d: &Diagnostic| d.code == Code::OpenBracket && d.primary.span.file == file;
        self.list.iter().any(open)
    }

    /// Takes out the warnings that `keep` refuses; it may add to the others.
    pub(crate) fn retain(&mut self, mut keep: impl FnMut(&mut Diagnostic) -> bool) {
        self.list.retain_mut(|d| d.severity == Severity::Error || keep(d));
    }

    /// Errors so far, repeats and those too many to keep included.
    pub(crate) fn errors(&self) -> usize {
        self.errors
    }

    /// True when looking further would show nothing more.
    pub(crate) fn is_full(&self) -> bool {
        self.kept_errors >= KEPT || self.errors >= ENOUGH
    }

    /// The candidate that was probably meant. Each costs a comparison, and a hostile file has many of both: after some there are no
    /// more suggestions.
    pub(crate) fn closest<'a>(
        &self,
        word: &str,
        candidates: impl IntoIterator<Item = &'a str>,
    ) -> Option<&'a str> {
        let left = COMPARISONS.saturating_sub(self.comparisons.get());
        let counted = candidates.into_iter().take(left).inspect(|_| self.comparisons.update(|c| c + 1));
        did_you_mean(word, counted)
    }

    /// Messages kept so far.
    pub(crate) fn len(&self) -> usize {
        self.list.len()
    }

    /// Adds a note to the messages from the one of that index on.
    pub(crate) fn note_from(&mut self, first: usize, note: &str) {
        for diagnostic in &mut self.list[first..] {
            diagnostic.notes.push(note.to_owned());
        }
    }

    /// The text of a place.
    pub(crate) fn text(&self, span: Span) -> &'s str {
        self.sources.text(span)
    }

    pub(crate) fn into_list(self) -> Vec<Diagnostic> {
        self.list
    }
}

/// `` `a`, `b` and `c` ``; long lists are cut.
pub(crate) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let mut quoted = Vec::new();
    let mut more = false;
    for name in names {
        if quoted.len() == LISTED {
            more = true;
            break;
        }
        quoted.push(format!("`{name}`"));
    }
    if more {
        return format!("{} and more", quoted.join(", "));
    }
    match quoted.pop() {
        None => "nothing".to_owned(),
        Some(last) if quoted.is_empty() => last,
        Some(last) => format!("{} and {last}", quoted.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::{Report, listed};
    use crate::diagnostic::{Code, Diagnostic};
    use crate::source::{Sources, Span};

    #[test]
    fn lists_read_as_a_person_writes_them() {
        assert_eq!(listed([]), "nothing");
        assert_eq!(listed(["a"]), "`a`");
        assert_eq!(listed(["a", "b", "c"]), "`a`, `b` and `c`");
    }

    #[test]
    fn one_cause_is_said_once() {
        let sources = Sources::default();
        let mut report = Report::new(&sources);
        let span = Span { file: 0, start: 1, end: 2 };
        report.push(Diagnostic::error(Code::UnknownName, span, "x"));
        report.push(Diagnostic::error(Code::UnknownName, span, "x"));
        assert_eq!(report.into_list().len(), 1);
    }
}
