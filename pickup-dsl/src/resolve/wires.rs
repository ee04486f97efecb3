//! Wires: one statement, one or more joints.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{JointKind, LugId};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, missing};
use crate::source::Span;
use crate::syntax::tree::{Item, Statement, Word};

/// Wires so far, by their two ends, to see one that is there twice.
pub(crate) type Known = BTreeMap<(LugId, LugId), Span>;

/// Lugs in a wire statement, brackets included.
pub(crate) fn words(statement: &Statement) -> impl Iterator<Item = &Word> {
    statement.clauses.iter().flat_map(|c| &c.items).flat_map(|item| {
        let (one, many) = match item {
            Item::Word(word) => (Some(word), &[][..]),
            Item::Group(group) => (None, &group.items[..]),
            _ => (None, &[][..]),
        };
        one.into_iter().chain(many.iter().filter_map(|i| if let Item::Word(w) = i { Some(w) } else { None }))
    })
}

impl<'t> Build<'_, 't> {
    /// `wire A to B to C`, `wire A to B, C`, `wire A to (B, C)`: the last list starts from the lug before the last `to`.
    pub(crate) fn wire(&mut self, statement: &'t Statement, known: &mut Known) {
        let mut items = Items::of(&statement.clauses[0]);
        if let (Some(block), Some(Item::Word(last))) = (&statement.block, items.rest().last())
            && last.text == "to"
        {
            self.report.push(
                Diagnostic::error(Code::BadStatement, block.span, "braces round a list of lugs")
                    .help("a list of lugs stands in `( )`: `wire A to (B, C)`"),
            );
            return;
        }
        items.next();
        let Some(first) = self.end(&mut items) else { return };
        let mut from = first;
        let mut last = Some(first);
        let mut wired = false;
        while let Some(to) = items.eat("to") {
            wired = true;
            let Some(start) = last else {
                self.report.push(
                    Diagnostic::error(Code::BadStatement, to, "nothing can follow a list of lugs")
                        .help("write the list last, or two wires"),
                );
                return;
            };
            from = start;
            if let Some(Item::Group(group)) = items.peek() {
                items.next();
                if group.items.is_empty() {
                    self.report.push(missing(group.span, "a lug", false));
                }
                self.list(from, Items::new(&group.items, group.span), known);
                last = None;
            } else {
                let Some(end) = self.end(&mut items) else { return };
                self.solder(from, end, known);
                last = Some(end);
            }
        }
        if items.peek().is_some() || !wired {
            self.no_to(&items, wired);
            return;
        }
        for clause in &statement.clauses[1..] {
            let mut rest = Items::of(clause);
            if let [Item::Group(group)] = rest.rest() {
                self.list(from, Items::new(&group.items, group.span), known);
                continue;
            }
            let Some(end) = self.end(&mut rest) else { return };
            self.solder(from, end, known);
            if let Some(to) = rest.eat("to") {
                self.report.push(
                    Diagnostic::error(
                        Code::BadStatement,
                        to,
                        "after a comma stands one more end of the same wire's list",
                    )
                    .help("start a new `wire` for this one"),
                );
                return;
            }
            crate::resolve::cursor::finish(&rest, |_| false, self.report);
        }
        if let Some(block) = &statement.block {
            self.report.push(
                Diagnostic::error(Code::NotHere, block.span, "a wire has no properties")
                    .help("a list of lugs stands in `( )`"),
            );
        }
    }

    fn no_to(&mut self, items: &Items<'t>, wired: bool) {
        let here = items.here();
        let diagnostic = match items.peek() {
            Some(Item::Error(_)) => return,
            Some(Item::Word(word))
                if word.text.contains('.') || self.names.contains_key(word.text.as_str()) =>
            {
                let before = Span { end: here.start, ..here };
                let diagnostic =
                    Diagnostic::error(Code::BadStatement, here, "`to` is missing between two lugs")
                        .label("before this");
                if wired {
                    diagnostic.help("put a comma or `to` before it").fix(before, "to ")
                } else {
                    diagnostic.help("write `wire A to B`").fix(before, "to ")
                }
            }
            Some(Item::Word(word)) if !wired && items.rest().len() > 1 => {
                Diagnostic::error(Code::BadStatement, word.span, "`to` should stand here")
                    .help("write `wire A to B`")
                    .fix(word.span, "to")
            }
            Some(_) => Diagnostic::error(Code::BadStatement, items.span(), "more than can stand here")
                .label("this is left over"),
            None => missing(here, "the other end", false).help("write `wire A to B`"),
        };
        self.report.push(diagnostic);
    }

    fn list(&mut self, from: End, mut items: Items<'t>, known: &mut Known) {
        while items.peek().is_some() && !self.report.is_full() {
            let Some(end) = self.end(&mut items) else { return };
            self.solder(from, end, known);
        }
    }

    /// One end: a lug, or None in it when what is wrong with it has been said.
    fn end(&mut self, items: &mut Items<'t>) -> Option<End> {
        match items.peek() {
            Some(Item::Word(word)) => {
                items.next();
                if let Some(Item::Number(number)) = items.peek()
                    && !word.text.contains('.')
                    && self.names.contains_key(word.text.as_str())
                {
                    items.next();
                    let span = word.span.to(number.span);
                    let whole = format!("{}.{}", word.text, number.text.trim_start_matches('.'));
                    self.report.push(
                        Diagnostic::error(Code::NoLug, span, "a lug is written in one piece")
                            .help(format!("write `{}`", escape(&whole)))
                            .fix(span, whole),
                    );
                    return Some(End { lug: None, span });
                }
                Some(End { lug: self.lug(word), span: word.span })
            }
            Some(Item::Error(_)) => None,
            other => {
                let diagnostic = missing(items.here(), "a lug", other.is_some())
                    .help("a lug is written `part.lug`, as in `volume.2`");
                self.report.push(diagnostic);
                None
            }
        }
    }

    pub(crate) fn solder(&mut self, from: End, to: End, known: &mut Known) {
        let (Some(a), Some(b)) = (from.lug, to.lug) else { return };
        let span = if from.span < to.span { from.span.to(to.span) } else { to.span };
        if a == b {
            let name = self.report.text(to.span);
            let message = format!("a wire from `{}` to itself", escape(name));
            self.report.push(
                Diagnostic::error(Code::SelfJoint, to.span, message)
                    .help("one of the two ends is probably another lug"),
            );
            return;
        }
        let pair = if a < b { (a, b) } else { (b, a) };
        if let Some(first) = known.insert(pair, to.span) {
            self.report.push(
                Diagnostic::warning(Code::SameJoint, to.span, "this wire is there already")
                    .label("again")
                    .also(first, "first here")
                    .help("take one of them out"),
            );
        }
        self.join(a, b, span, JointKind::Wire);
    }
}

/// One end of a wire: its lug, unless what is wrong with it has been said.
#[derive(Debug, Clone, Copy)]
pub(crate) struct End {
    pub(crate) lug: Option<LugId>,
    pub(crate) span: Span,
}
