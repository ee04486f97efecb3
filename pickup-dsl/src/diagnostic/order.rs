//! How many messages are shown, and in which order.

use crate::diagnostic::{Code, Diagnostic, Severity};

/// Most messages for one set of sources.
pub const MESSAGE_LIMIT: usize = 200;

/// A list that stops growing at [`MESSAGE_LIMIT`], so that a hostile file can't fill the memory with messages.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reports {
    list: Vec<Diagnostic>,
    dropped: usize,
}

impl Reports {
    /// Keeps the message if there is room.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        if self.list.len() < MESSAGE_LIMIT {
            self.list.push(diagnostic);
        } else {
            self.dropped += 1;
        }
    }

    /// Takes over all of another list.
    pub fn append(&mut self, other: Reports) {
        self.dropped += other.dropped;
        for diagnostic in other.list {
            self.push(diagnostic);
        }
    }

    /// True when nothing was said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Sorted by place, cut at the limit.
    #[must_use]
    pub fn finish(self) -> Vec<Diagnostic> {
        cap(sorted(self.list, false), self.dropped)
    }
}

/// Errors first, then warnings, each in order of place; at most [`MESSAGE_LIMIT`], the last of which then says how many are missing.
#[must_use]
pub fn sort_and_cap(diagnostics: Vec<Diagnostic>) -> Vec<Diagnostic> {
    cap(sorted(diagnostics, true), 0)
}

fn sorted(mut list: Vec<Diagnostic>, errors_first: bool) -> Vec<Diagnostic> {
    let rank = |d: &Diagnostic| errors_first && d.severity == Severity::Warning;
    // Stable, so that messages for one place keep the order in which they were found.
    list.sort_by_key(|d| (rank(d), d.primary.span, d.code));
    list.dedup();
    list
}

fn cap(mut list: Vec<Diagnostic>, dropped: usize) -> Vec<Diagnostic> {
    let missing = list.len().saturating_sub(MESSAGE_LIMIT) + dropped;
    if missing == 0 {
        return list;
    }
    list.truncate(MESSAGE_LIMIT - 1);
    if let Some(span) = list.last().map(|d| d.primary.span) {
        let text = format!("more than {MESSAGE_LIMIT} messages; the rest is not shown");
        // Warnings alone, however many, are no error.
        let severity = list.iter().map(|d| d.severity).min().unwrap_or(Severity::Error);
        let said = Diagnostic { severity, ..Diagnostic::error(Code::TooLarge, span, text) };
        list.push(said.help("mend the first ones and try again"));
    }
    list
}

#[cfg(test)]
mod tests {
    use super::{MESSAGE_LIMIT, Reports, sort_and_cap};
    use crate::diagnostic::{Code, Diagnostic, Severity};
    use crate::source::Span;

    fn at(start: u32) -> Span {
        Span { file: 0, start, end: start + 1 }
    }

    #[test]
    fn errors_come_first_and_then_the_order_is_that_of_the_file() {
        let list = vec![
            Diagnostic::warning(Code::IdlePot, at(1), "idle"),
            Diagnostic::error(Code::BadNumber, at(9), "late"),
            Diagnostic::error(Code::BadNumber, at(2), "early"),
        ];
        let texts: Vec<_> = sort_and_cap(list).into_iter().map(|d| d.message).collect();
        assert_eq!(texts, ["early", "late", "idle"]);
    }

    #[test]
    fn the_limit_is_kept_and_said() {
        let list: Vec<_> = (0..500).map(|i| Diagnostic::error(Code::BadNumber, at(i), "x")).collect();
        let mut reports = Reports::default();
        list.iter().cloned().for_each(|d| reports.push(d));
        for capped in [sort_and_cap(list), reports.finish()] {
            assert_eq!(capped.len(), MESSAGE_LIMIT);
            assert_eq!(capped[MESSAGE_LIMIT - 1].code, Code::TooLarge);
            assert!(capped.iter().all(|d| d.severity == Severity::Error));
        }
    }
}
