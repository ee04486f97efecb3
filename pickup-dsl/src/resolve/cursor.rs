//! Walks over the items of a clause.

use crate::diagnostic::{Code, Diagnostic};
use crate::resolve::report::Report;
use crate::source::Span;
use crate::syntax::tree::{Clause, Item, Word};

/// The items that are still to be read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Items<'t> {
    items: &'t [Item],
    /// An empty place after the last item: where something missing would stand.
    end: Span,
}

impl<'t> Items<'t> {
    pub(crate) fn new(items: &'t [Item], whole: Span) -> Self {
        Items { items, end: Span { start: whole.end, ..whole } }
    }

    pub(crate) fn of(clause: &'t Clause) -> Self {
        Items::new(&clause.items, clause.span)
    }

    pub(crate) fn rest(&self) -> &'t [Item] {
        self.items
    }

    pub(crate) fn peek(&self) -> Option<&'t Item> {
        self.items.first()
    }

    pub(crate) fn peek_word(&self) -> Option<&'t Word> {
        match self.peek() {
            Some(Item::Word(word)) => Some(word),
            _ => None,
        }
    }

    pub(crate) fn next(&mut self) -> Option<&'t Item> {
        let (first, rest) = self.items.split_first()?;
        self.items = rest;
        Some(first)
    }

    /// Takes the next item if it is a word.
    pub(crate) fn word(&mut self) -> Option<&'t Word> {
        let word = self.peek_word()?;
        self.next();
        Some(word)
    }

    /// Takes the next item if it is that word.
    pub(crate) fn eat(&mut self, text: &str) -> Option<Span> {
        let word = self.peek_word().filter(|w| w.text == text)?;
        self.next();
        Some(word.span)
    }

    /// The next `count` items as a list of their own.
    pub(crate) fn split(&mut self, count: usize) -> Items<'t> {
        let (taken, rest) = self.items.split_at(count.min(self.items.len()));
        let end = taken.last().map_or(self.end, |i| i.span());
        self.items = rest;
        Items { items: taken, end: Span { start: end.end, ..end } }
    }

    /// The next item's place, or where one would stand.
    pub(crate) fn here(&self) -> Span {
        self.peek().map_or(self.end, Item::span)
    }

    /// All that is left, as one place.
    pub(crate) fn span(&self) -> Span {
        match (self.items.first(), self.items.last()) {
            (Some(first), Some(last)) => first.span().to(last.span()),
            _ => self.end,
        }
    }

    /// Takes a name that may be a number too, as throws are called: `1`, `1-2`, `up`.
    pub(crate) fn label(&mut self) -> Option<Label<'t>> {
        let label = label(self.peek()?)?;
        self.next();
        Some(label)
    }

    /// Takes a name (or, with `what` for the message, says that it is missing).
    pub(crate) fn expect_label(&mut self, what: &str, report: &mut Report<'t>) -> Option<Label<'t>> {
        let label = self.label();
        if label.is_none() {
            report.push(missing(self.here(), what, self.peek().is_some()));
        }
        label
    }
}

/// A name with its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Label<'t> {
    pub(crate) text: &'t str,
    pub(crate) span: Span,
}

/// The item as a throw's or lug's name.
pub(crate) fn label(item: &Item) -> Option<Label<'_>> {
    match item {
        Item::Word(word) => Some(Label { text: &word.text, span: word.span }),
        Item::Number(number) if number.tolerance.is_none() => {
            Some(Label { text: &number.text, span: number.span })
        }
        _ => None,
    }
}

/// `what` should stand at that place.
pub(crate) fn missing(here: Span, what: &str, something_else: bool) -> Diagnostic {
    let (code, message) = if something_else {
        (Code::BadStatement, format!("{what} should stand here"))
    } else {
        (Code::MissingValue, format!("{what} is missing"))
    };
    Diagnostic::error(code, here, message).label("expected here")
}

/// Says so if anything is left over; `known` tells which words start a property, so that a missing comma is seen.
pub(crate) fn finish<'t>(items: &Items<'t>, known: impl Fn(&str) -> bool, report: &mut Report<'t>) {
    let Some(item) = items.peek() else { return };
    if matches!(item, Item::Error(_)) {
        return;
    }
    let span = items.span();
    if let Some(word) = items.peek_word()
        && known(&word.text)
    {
        let text = &report.sources.get(word.span.file).text;
        let before = text.get(..word.span.start as usize).unwrap_or("").trim_end().len() as u32;
        report.push(
            Diagnostic::error(
                Code::BadStatement,
                word.span,
                format!("`{}` starts another property", word.text),
            )
            .label("a comma is missing before it")
            .help("put a comma or a new line between two properties")
            .fix(Span { start: before, end: before, ..word.span }, ","),
        );
        return;
    }
    report.push(
        Diagnostic::error(Code::BadStatement, span, "more than can stand here").label("this is left over"),
    );
}
