//! `intend` and `mute`: what a file says is meant, and which unusual values that covers.

use std::collections::BTreeSet;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Intent, Meant, PartId, Place, Subject};
use crate::intents::{Intents, Thing, or_meant};
use crate::resolve::build::Build;
use crate::resolve::choices::Positions;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::report::listed;
use crate::source::Span;
use crate::syntax::tree::{Clause, Item, Statement};

const FORM: &str =
    "write `intend WORD of PART in SWITCH THROW, because \"REASON\"`; all but the word may be left out";
const MUTE_FORM: &str = "write `mute \"NAME\"` or `mute SWITCH THROW`";

impl<'t> Build<'_, 't> {
    /// `intend WORD [of THING [and THING …]] [in "NAME" | in SWITCH THROW, …] [, because "REASON"]`
    pub(crate) fn intend(&mut self, statement: &'t Statement, positions: &Positions) -> Option<Intent> {
        let (clauses, because) = self.reason(statement);
        let mut items = Items::of(clauses.first()?);
        items.next();
        let word = match items.word() {
            Some(word) => word,
            None => {
                let here = missing(items.here(), "the word of a warning", items.peek().is_some());
                self.report.push(here.help(FORM));
                return None;
            }
        };
        let Some(code) = Code::of_word(&word.text) else {
            let diagnostic = Diagnostic::error(
                Code::BadStatement,
                word.span,
                format!("`{}` is no warning that can be meant", escape(&word.text)),
            );
            let diagnostic = match self.report.closest(&word.text, Code::words()) {
                Some(close) => diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close),
                None => diagnostic.note(format!("the words are {}", listed(Code::words()))),
            };
            self.report.push(diagnostic);
            return None;
        };
        let mut of = Vec::new();
        if items.eat("of").is_some() {
            loop {
                of.push(self.subject(&mut items)?);
                if items.eat("and").is_none() {
                    break;
                }
            }
        }
        let place = if items.eat("in").is_some() {
            self.place(items, &clauses[1..], positions)?
        } else {
            finish(&items, |_| false, self.report);
            if let Some(extra) = clauses.get(1) {
                let extra = Diagnostic::error(Code::BadStatement, extra.span, "more than can stand here");
                self.report.push(extra.help(FORM));
            }
            Place::Everywhere
        };
        Some(Intent { what: Meant::Warning(code), of, place, because, span: statement.span })
    }

    /// `mute "NAME"`, `mute SWITCH THROW, … [, because "REASON"]`
    pub(crate) fn mute(&mut self, statement: &'t Statement, positions: &Positions) -> Option<Intent> {
        let (clauses, because) = self.reason(statement);
        let mut items = Items::of(clauses.first()?);
        items.next();
        if items.peek().is_none() {
            self.report.push(missing(items.here(), "the position that is silent", false).help(MUTE_FORM));
            return None;
        }
        let place = self.place(items, &clauses[1..], positions)?;
        Some(Intent { what: Meant::Mute, of: Vec::new(), place, because, span: statement.span })
    }

    /// The clauses before the reason, and the reason.
    fn reason(&mut self, statement: &'t Statement) -> (&'t [Clause], Option<String>) {
        let Some((last, before)) = statement.clauses.split_last() else { return (&[], None) };
        let mut items = Items::of(last);
        if before.is_empty() || items.eat("because").is_none() {
            return (&statement.clauses, None);
        }
        let because = match items.peek() {
            Some(Item::Text(text)) => {
                items.next();
                finish(&items, |_| false, self.report);
                Some(text.value.clone())
            }
            other => {
                let missing = missing(items.here(), "the reason in quotes", other.is_some());
                self.report.push(missing.help("write `because \"REASON\"`"));
                None
            }
        };
        (before, because)
    }

    /// A part, or a coil, lug or gang of one.
    pub(crate) fn subject(&mut self, items: &mut Items<'t>) -> Option<Subject> {
        let Some(word) = items.word() else {
            let here = missing(items.here(), "a part or a lug", items.peek().is_some());
            self.report.push(here.help(FORM));
            return None;
        };
        let (name, inside) = word.text.split_once('.').unwrap_or((&word.text, ""));
        let declared = self.part(name, word.span)?;
        let part = declared.id?;
        if !inside.is_empty() && !self.has_inside(part, inside) {
            let names = self.lug_names(part);
            let mut known: BTreeSet<&str> = names.iter().copied().collect();
            known.extend(names.iter().filter_map(|n| n.split_once('.').map(|(head, _)| head)));
            let mut diagnostic = Diagnostic::error(
                Code::UnknownLug,
                word.span,
                format!("`{}` has no `{}`", escape(name), escape(inside)),
            )
            .also(declared.span, "declared here");
            if let Some(close) = self.report.closest(inside, known.iter().copied()) {
                diagnostic = diagnostic.help(format!("did you mean `{name}.{close}`?"));
            }
            if !declared.open {
                self.report.push(diagnostic);
            }
            return None;
        }
        Some(Subject { part, inside: inside.to_owned() })
    }

    fn has_inside(&self, part: PartId, inside: &str) -> bool {
        let within = |lug: &str| lug.strip_prefix(inside).is_some_and(|r| r.is_empty() || r.starts_with('.'));
        self.lug_names(part).into_iter().any(within)
    }

    fn place(&mut self, mut items: Items<'t>, more: &'t [Clause], positions: &Positions) -> Option<Place> {
        let Some(Item::Text(text)) = items.peek() else {
            let choice = self.choice(items, more)?;
            return Some(Place::Throws(choice));
        };
        items.next();
        finish(&items, |_| false, self.report);
        if let Some(extra) = more.first() {
            let message = "a named position has all of its throws already";
            self.report.push(Diagnostic::error(Code::BadStatement, extra.span, message));
        }
        Some(Place::Position(self.position_named(&text.value, text.span, positions, false)?))
    }

    /// Values outside their usual range and doubtful readings: takes out those that are meant, and says of the others how to say so. Whether there are others.
    pub(crate) fn settle_values(&mut self, intents: &Intents<'_>) -> bool {
        let statements = &self.loaded.units[self.unit].tree.statements;
        let parts = &self.parts;
        let owner = |span: Span| {
            let statement = statements.iter().find(|s| within(span, s.span))?;
            let part = parts.iter().position(|part| within(part.span, statement.span))?;
            Some((PartId(part as u32), parts[part].name.as_str()))
        };
        let mut any = false;
        self.report.retain(|diagnostic| {
            let Some(word) = diagnostic
                .code
                .word()
                .filter(|_| matches!(diagnostic.code, Code::UnusualValue | Code::DoubtfulReading))
            else {
                return true;
            };
            let owner = owner(diagnostic.primary.span);
            let about: Vec<Thing<'_>> = owner.iter().map(|(part, _)| (*part, "")).collect();
            if intents.hold(diagnostic.code, &about, |place| *place == Place::Everywhere) {
                return false;
            }
            let of = owner.map(|(_, name)| format!(" of {name}")).unwrap_or_default();
            let advice = diagnostic.help.take().unwrap_or_default();
            diagnostic.help = Some(or_meant(&advice, &format!("intend {word}{of}")));
            any |= diagnostic.code == Code::UnusualValue;
            true
        });
        any
    }
}

fn within(inner: Span, outer: Span) -> bool {
    inner.file == outer.file && outer.start <= inner.start && inner.end <= outer.end
}
