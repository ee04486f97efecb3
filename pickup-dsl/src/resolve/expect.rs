//! `expect` and `curve`: what a file expects of its positions.
//!
//! `expect CLAIM [, in PLACE] [, with KNOB SETTING …] [, at LUG] [, for BUILDS] [, because "REASON"]`, or
//! `expect in PLACE … { CLAIM … }` for several claims.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Builds, Expectation, LugId, PartId, PartKind, Place};
use crate::resolve::build::Build;
use crate::resolve::choices::Positions;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::report::listed;
use crate::resolve::schema::Range;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Clause, Dimension, Item, Statement};

mod claim;
mod curve;

pub(crate) use curve::Curves;

/// Expectations of one harness.
const LIMIT: usize = 4096;
/// Words that start a clause after the claim.
const WORDS: &[&str] = &["in", "with", "at", "for", "because"];
const FORM: &str = "after the claim may stand `in \"NAME\"` or `in SWITCH THROW`, `with KNOB SETTING`, `at JACK.LUG`, \
                    `for every build`, `because \"REASON\"`";

/// What is said around a claim; what is said of one claim of a block wins over what is said of the block.
#[derive(Debug, Clone, Default)]
struct Around {
    places: Option<Vec<Place>>,
    knobs: Option<Vec<(PartId, f64)>>,
    hot: Option<LugId>,
    builds: Option<Builds>,
    because: Option<String>,
    /// Where each word was said.
    said: BTreeMap<&'static str, Span>,
}

impl<'t> Build<'_, 't> {
    /// Reads one statement; what is wrong with it has been said.
    pub(crate) fn expect(
        &mut self,
        statement: &'t Statement,
        positions: &Positions,
        curves: &Curves,
        list: &mut Vec<Expectation>,
    ) {
        let Some((head, more)) = statement.clauses.split_first() else { return };
        let mut items = Items::of(head);
        items.next();
        let Some(block) = &statement.block else {
            list.extend(self.one(items, more, Around::default(), positions, curves));
            return;
        };
        let Some(around) = self.around(items, more, Around::default(), positions) else { return };
        for inner in block.statements.iter().filter(|s| !s.broken) {
            if list.len() >= LIMIT || self.exhausted() {
                let text = format!("more than {LIMIT} expectations");
                self.report.push(Diagnostic::error(Code::TooLarge, inner.span, text));
                return;
            }
            if let Some(block) = &inner.block {
                let text = "a claim has no braces of its own";
                self.report.push(Diagnostic::error(Code::NotHere, block.span, text));
                continue;
            }
            let Some((claim, more)) = inner.clauses.split_first() else { continue };
            list.extend(self.one(Items::of(claim), more, around.clone(), positions, curves));
        }
    }

    /// One claim with what stands around it.
    fn one(
        &mut self,
        mut items: Items<'t>,
        more: &'t [Clause],
        block: Around,
        positions: &Positions,
        curves: &Curves,
    ) -> Option<Expectation> {
        let span = items.span();
        if items.peek_word().is_some_and(|w| WORDS.contains(&w.text.as_str())) {
            let message = missing(items.here(), "what is expected", true);
            self.report.push(
                message.help("write `expect level at least -6dB, in \"NAME\"`; braces hold several claims"),
            );
            return None;
        }
        let claim = self.claim(&mut items, positions, curves)?;
        finish(&items, |word| WORDS.contains(&word), self.report);
        let around = match more.split_first() {
            None => block,
            Some((first, rest)) => self.around(Items::of(first), rest, block, positions)?,
        };
        let text = self.report.text(span).split_whitespace().collect::<Vec<_>>().join(" ");
        Some(Expectation {
            claim,
            places: around.places.unwrap_or_default(),
            knobs: around.knobs.unwrap_or_default(),
            hot: around.hot,
            builds: around.builds.unwrap_or(Builds::Nominal),
            because: around.because,
            text,
            span,
        })
    }

    /// The clauses after a claim, or those of a block's head.
    fn around(
        &mut self,
        head: Items<'t>,
        more: &'t [Clause],
        block: Around,
        positions: &Positions,
    ) -> Option<Around> {
        let errors = self.report.errors();
        let mut around = Around { said: BTreeMap::new(), ..block };
        let mut known = true;
        let (mut items, mut rest) = (head, more);
        loop {
            let next = rest.iter().position(starts_around).unwrap_or(rest.len());
            let (own, after) = rest.split_at(next);
            known &= self.clause(items, own, positions, &mut around);
            let Some((first, later)) = after.split_first() else { break };
            (items, rest) = (Items::of(first), later);
        }
        (known && self.report.errors() == errors).then_some(around)
    }

    /// One of them. False if it can't be read, which has been said, or names what a variant took out.
    fn clause(
        &mut self,
        mut items: Items<'t>,
        own: &'t [Clause],
        positions: &Positions,
        around: &mut Around,
    ) -> bool {
        let here = items.here();
        let Some(word) = items.word().and_then(|w| WORDS.iter().find(|word| **word == w.text)) else {
            if !matches!(items.peek(), Some(Item::Error(_))) {
                let message = missing(here, "`in`, `with`, `at`, `for` or `because`", true);
                self.report.push(message.help(FORM));
            }
            return false;
        };
        if let Some(first) = around.said.insert(word, here) {
            self.report.push(
                Diagnostic::error(Code::RepeatedProperty, here, format!("`{word}` is said twice"))
                    .label("again")
                    .also(first, "first here")
                    .help("one of them says all: `in \"A\" and \"B\"`, `with volume 7, tone 3`"),
            );
            return false;
        }
        let alone = |build: &mut Self, items: &Items<'t>| {
            finish(items, |_| false, build.report);
            if let Some(extra) = own.first() {
                let text = "more than can stand here";
                build.report.push(Diagnostic::error(Code::BadStatement, extra.span, text).help(FORM));
            }
        };
        match *word {
            "in" => around.places = self.places(items, own, positions),
            "with" => around.knobs = self.knobs(items, own),
            "at" => {
                around.hot = Some(match self.outlet(&mut items) {
                    Some(hot) => hot,
                    None => return false,
                });
                alone(self, &items);
            }
            "for" => {
                around.builds = Some(match self.builds(&mut items) {
                    Some(builds) => builds,
                    None => return false,
                });
                alone(self, &items);
            }
            _ => {
                let Some(Item::Text(text)) = items.next() else {
                    let missing = missing(here, "the reason in quotes", true);
                    self.report.push(missing.help("write `because \"REASON\"`"));
                    return false;
                };
                alone(self, &items);
                around.because = Some(text.value.clone());
            }
        }
        (*word != "in" || around.places.is_some()) && (*word != "with" || around.knobs.is_some())
    }

    /// `"A" and "B"`, or the throws that positions have in common.
    fn places(
        &mut self,
        mut items: Items<'t>,
        own: &'t [Clause],
        positions: &Positions,
    ) -> Option<Vec<Place>> {
        let mut places = Vec::new();
        while let Some(Item::Text(text)) = items.peek() {
            items.next();
            places.push(Place::Position(self.position_named(&text.value, text.span, positions, false)?));
            if items.eat("and").is_none() {
                finish(&items, |_| false, self.report);
                if let Some(extra) = own.first() {
                    let message = "a named position has all of its throws already";
                    let help = "several names are joined by `and`";
                    self.report.push(Diagnostic::error(Code::BadStatement, extra.span, message).help(help));
                    return None;
                }
                return Some(places);
            }
        }
        if !places.is_empty() {
            let missing = missing(items.here(), "a position's name in quotes", items.peek().is_some());
            self.report.push(missing.help("write `in \"A\" and \"B\"`"));
            return None;
        }
        if items.peek().is_none() {
            let missing = missing(items.here(), "a position", false);
            self.report.push(missing.help("write `in \"NAME\"`, or the throws: `in lever 2, split up`"));
            return None;
        }
        if let ([Item::Word(word)], []) = (items.rest(), own)
            && positions.list.iter().any(|position| position.name == word.text)
        {
            let text = "a position's name stands in quotes";
            let quoted = format!("\"{}\"", word.text);
            self.report.push(Diagnostic::error(Code::BadStatement, word.span, text).fix(word.span, quoted));
            return None;
        }
        Some(vec![Place::Throws(self.choice(items, own)?)])
    }

    /// `volume 7, tone 3`
    fn knobs(&mut self, first: Items<'t>, own: &'t [Clause]) -> Option<Vec<(PartId, f64)>> {
        let mut knobs: Vec<(PartId, f64)> = Vec::new();
        let help = "write `with volume 7, tone 3`";
        for mut items in std::iter::once(first).chain(own.iter().map(Items::of)) {
            let here = items.here();
            let Some(word) = items.word() else {
                self.report.push(missing(here, "a pot", items.peek().is_some()).help(help));
                return None;
            };
            let declared = self.part(&word.text, word.span)?;
            let setting = value(&mut items, Dimension::Knob, Range::new((0.0, 10.0), &[]), self.report)?;
            finish(&items, |_| false, self.report);
            let id = declared.id?;
            if !matches!(self.parts[id.0 as usize].kind, PartKind::Pot(_)) {
                let text = format!("`{}` is no pot", escape(&word.text));
                self.report.push(
                    Diagnostic::error(Code::UnknownName, word.span, text)
                        .also(declared.span, "declared here")
                        .help(help),
                );
                return None;
            }
            if knobs.iter().any(|(known, _)| *known == id) {
                let text = format!("`{}` is said twice", escape(&word.text));
                self.report.push(Diagnostic::error(Code::RepeatedProperty, word.span, text));
                return None;
            }
            knobs.push((id, setting.value));
        }
        knobs.sort_by_key(|(id, _)| *id);
        Some(knobs)
    }

    /// The hot lug of an outlet.
    fn outlet(&mut self, items: &mut Items<'t>) -> Option<LugId> {
        let here = items.here();
        let lug = match items.word() {
            Some(word) => self.lug(word)?,
            None => {
                let missing = missing(here, "a lug of the jack", items.peek().is_some());
                self.report.push(missing.help("write `at out.ring`"));
                return None;
            }
        };
        if self.outlets.iter().any(|outlet| outlet.hot == lug) {
            return Some(lug);
        }
        // Without outlets something else is wrong, which has been said.
        if !self.outlets.is_empty() {
            let text = "nothing is heard at this lug";
            let hot = self.outlets.iter().map(|outlet| {
                let lug = &self.lugs[outlet.hot.0 as usize];
                format!("{}.{}", self.parts[lug.part.0 as usize].name, lug.name)
            });
            let hot: Vec<String> = hot.collect();
            let note = format!("the outputs are {}", listed(hot.iter().map(String::as_str)));
            self.report.push(Diagnostic::error(Code::UnknownLug, here, text).note(note));
        }
        None
    }

    /// `every build`, `95% of builds`
    fn builds(&mut self, items: &mut Items<'t>) -> Option<Builds> {
        let help = "write `for every build`, or `for 95% of builds`";
        if items.eat("every").is_some() {
            if items.eat("build").is_some() {
                return Some(Builds::Every);
            }
            self.report.push(missing(items.here(), "`build`", items.peek().is_some()).help(help));
            return None;
        }
        if !matches!(items.peek(), Some(Item::Number(_))) {
            self.report.push(missing(items.here(), "how many builds", items.peek().is_some()).help(help));
            return None;
        }
        let here = items.here();
        let share = value(items, Dimension::Share, Range::new((0.0, 1.0), &[]), self.report)?.value;
        if items.eat("of").is_none() || items.eat("builds").is_none() {
            self.report.push(missing(items.here(), "`of builds`", items.peek().is_some()).help(help));
            return None;
        }
        if share <= 0.0 || share >= 1.0 {
            let text = "a share of builds lies between 0 % and 100 %";
            self.report.push(
                Diagnostic::error(Code::OutOfRange, here, text).help("all of them are `for every build`"),
            );
            return None;
        }
        Some(Builds::Share(share))
    }
}

fn starts_around(clause: &Clause) -> bool {
    Items::of(clause).peek_word().is_some_and(|w| WORDS.contains(&w.text.as_str()))
}
