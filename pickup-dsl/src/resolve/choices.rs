//! Positions: combinations of throws, their names, and the one that the others are compared with.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Choice, NamedPosition, PartKind};
use crate::positions::POSITION_LIMIT;
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, missing};
use crate::source::Span;
use crate::syntax::tree::{Clause, Item, Statement};

/// Named positions so far.
#[derive(Debug, Default)]
pub(crate) struct Positions {
    pub(crate) list: Vec<NamedPosition>,
    by_choice: BTreeMap<Choice, Span>,
    by_name: BTreeMap<String, (usize, Span)>,
}

/// `reference …` as written.
#[derive(Debug)]
pub(crate) enum Wanted {
    /// A position by its name.
    Named(String, Span),
    /// A combination.
    Chosen(Choice),
    /// A position of another file: of that name, or of these throws, which are read against that file.
    Elsewhere,
}

impl<'t> Build<'_, 't> {
    /// `lever 1, mode up`: None once what is wrong has been said.
    pub(crate) fn choice(&mut self, first: Items<'t>, more: &'t [Clause]) -> Option<Choice> {
        let errors = self.report.errors();
        let mut choice: Choice = Vec::new();
        let mut said: BTreeMap<_, Span> = BTreeMap::new();
        let mut known = true;
        for mut items in std::iter::once(first).chain(more.iter().map(Items::of)) {
            while items.peek().is_some() {
                let Some(word) = items.word() else {
                    if !matches!(items.peek(), Some(Item::Error(_))) {
                        self.report.push(
                            missing(items.here(), "a switch", true)
                                .help("write `position \"NAME\" lever 1, mode up`"),
                        );
                    }
                    return None;
                };
                let throw =
                    items.expect_label(&format!("a throw of `{}`", escape(&word.text)), self.report)?;
                let Some(declared) = self.part(&word.text, word.span) else {
                    known = false;
                    continue;
                };
                if declared.kind.is_some_and(|k| k.word != "switch") {
                    self.report.push(
                        Diagnostic::error(
                            Code::UnknownName,
                            word.span,
                            format!("`{}` is no switch", escape(&word.text)),
                        )
                        .also(declared.span, "declared here")
                        .note("a position says the throws of switches; knobs are at rest in it"),
                    );
                    continue;
                }
                let Some(id) = declared.id else {
                    known = false;
                    continue;
                };
                let PartKind::Switch(switch) = &self.parts[id.0 as usize].kind else {
                    known = false;
                    continue;
                };
                if let Some(first) = said.insert(id, word.span) {
                    self.report.push(
                        Diagnostic::error(
                            Code::RepeatedProperty,
                            word.span,
                            format!("`{}` is said twice", escape(&word.text)),
                        )
                        .also(first, "first here"),
                    );
                    continue;
                }
                match switch.throws.iter().position(|t| t.name == throw.text) {
                    Some(found) => choice.push((id, found)),
                    None => {
                        let diagnostic =
                            self.unknown_throw(throw, &switch.throws).also(declared.span, "the switch");
                        self.report.push_of(declared.span, diagnostic);
                    }
                }
            }
        }
        (known && self.report.errors() == errors).then_some(choice)
    }

    /// The combination without throws at rest, in order of the parts: equal for equal positions.
    fn normal(&self, choice: &Choice) -> Choice {
        let mut normal: Choice = choice
            .iter()
            .copied()
            .filter(|(id, throw)| match &self.parts[id.0 as usize].kind {
                PartKind::Switch(switch) => switch.rest != *throw,
                _ => true,
            })
            .collect();
        normal.sort_unstable();
        normal
    }

    /// `position "NAME" lever 1, mode up`
    pub(crate) fn position(&mut self, statement: &'t Statement, positions: &mut Positions) {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let Some(Item::Text(text)) = items.peek() else {
            self.report.push(
                missing(items.here(), "the position's name in quotes", items.peek().is_some())
                    .help("write `position \"NAME\" lever 1, mode up`"),
            );
            return;
        };
        items.next();
        if let Some((_, first)) = positions.by_name.get(&text.value) {
            self.report.push(
                Diagnostic::error(
                    Code::SameName,
                    text.span,
                    format!("two positions are called `{}`", escape(&text.value)),
                )
                .label("again")
                .also(*first, "first here")
                .help("give one of them another name"),
            );
            return;
        }
        positions.by_name.insert(text.value.clone(), (usize::MAX, text.span));
        let Some(choice) = self.choice(items, &statement.clauses[1..]) else { return };
        if let Some(first) = positions.by_choice.insert(self.normal(&choice), text.span) {
            self.report.push(
                Diagnostic::error(Code::SamePosition, text.span, "this combination has a name already")
                    .also(first, "its first name")
                    .note("switches that a position does not mention are at rest"),
            );
            return;
        }
        positions.by_name.insert(text.value.clone(), (positions.list.len(), text.span));
        positions.list.push(NamedPosition { name: text.value.clone(), choice, span: statement.span });
    }

    /// The combination of that name.
    pub(crate) fn position_named(
        &mut self,
        name: &str,
        span: Span,
        positions: &Positions,
        elsewhere: bool,
    ) -> Option<Choice> {
        match positions.by_name.get(name) {
            Some((at, _)) => positions.list.get(*at).map(|p| p.choice.clone()),
            None => {
                let place = if elsewhere { " in that file" } else { "" };
                let names = positions.by_name.keys().map(String::as_str);
                let mut diagnostic = Diagnostic::error(
                    Code::UnknownPosition,
                    span,
                    format!("no position is called `{}`{place}", escape(name)),
                );
                if let Some(close) = self.report.closest(name, names) {
                    diagnostic = diagnostic
                        .help(format!("did you mean `{}`?", escape(close)))
                        .fix(span, format!("\"{}\"", close.replace('\\', "\\\\").replace('"', "\\\"")));
                } else if positions.by_name.is_empty() {
                    diagnostic = diagnostic.note("no position has a name");
                }
                self.report.push(diagnostic);
                None
            }
        }
    }

    /// `reference "NAME"`, `reference lever 2, mode up`, `reference from "other.harness" …`
    pub(crate) fn reference(&mut self, statement: &'t Statement) -> Option<Wanted> {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let from = matches!(items.rest(), [Item::Word(from), Item::Text(_), ..] if from.text == "from");
        if from {
            return Some(Wanted::Elsewhere);
        }
        if items.peek_word().is_some_and(|w| w.text == "from") && !self.names.contains_key("from") {
            items.next();
            self.report.push(
                missing(items.here(), "the path in quotes", items.peek().is_some())
                    .help("write `reference from \"other.harness\" \"NAME\"`"),
            );
            return None;
        }
        self.wanted(items, &statement.clauses[1..])
    }

    /// The position that follows `reference` or `reference from "…"`.
    fn wanted(&mut self, mut items: Items<'t>, more: &'t [Clause]) -> Option<Wanted> {
        if let Some(Item::Text(text)) = items.peek() {
            items.next();
            crate::resolve::cursor::finish(&items, |_| false, self.report);
            if let Some(clause) = more.first() {
                self.report.push(Diagnostic::error(
                    Code::BadStatement,
                    clause.span,
                    "a named position has all of its throws already",
                ));
            }
            return Some(Wanted::Named(text.value.clone(), text.span));
        }
        Some(Wanted::Chosen(self.choice(items, more)?))
    }

    /// In the build of the other file: the combination that the main file's statement means there.
    pub(crate) fn wanted_here(&mut self, statement: &'t Statement, positions: &Positions) -> Option<Choice> {
        let mut items = Items::of(&statement.clauses[0]);
        items.split(3);
        match self.wanted(items, &statement.clauses[1..])? {
            Wanted::Named(name, span) => self.position_named(&name, span, positions, true),
            Wanted::Chosen(choice) => Some(choice),
            Wanted::Elsewhere => None,
        }
    }

    /// Whether there are not too many positions, by multiplication before any is made.
    pub(crate) fn count_positions(&mut self) {
        let mut product: u64 = 1;
        for part in &self.parts {
            let PartKind::Switch(switch) = &part.kind else { continue };
            let throws = switch.throws.iter().filter(|t| !t.between).count() as u64;
            product = product.saturating_mul(throws.max(1));
            if product > POSITION_LIMIT {
                self.report.push(
                    Diagnostic::error(
                        Code::TooManyPositions,
                        part.span,
                        format!("the switches have more than {POSITION_LIMIT} positions"),
                    )
                    .label("the limit is passed with this switch")
                    .help("name the positions that matter and write `positions named only`"),
                );
                return;
            }
        }
    }
}
