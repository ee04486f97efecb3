//! Reads one writing of a part's properties: values right after the name, then clauses, then the block.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::cursor::{Items, Label, finish, label, missing};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{Key, Property, Shape};
use crate::resolve::value::letter_first;
use crate::source::Span;
use crate::syntax::literal::{Fit, looks_like_value};
use crate::syntax::tree::{Block, Clause, Item, Number};

use super::positional::{value_length, word_length};
use super::taper::taper_slip;
use super::{Layer, Use, UseKey, Uses};

pub(super) struct Reader<'r, 't> {
    pub(super) uses: Uses<'t>,
    pub(super) report: &'r mut Report<'t>,
}

impl<'t> Reader<'_, 't> {
    pub(super) fn layer(&mut self, layer: &Layer<'t>) {
        self.positional(layer.head);
        self.clauses(layer.clauses, false);
        let Some(block) = layer.block else { return };
        for statement in &block.statements {
            if statement.broken {
                self.uses.clean = false;
                continue;
            }
            self.statement(&statement.clauses, statement.block.as_ref());
        }
    }

    /// A statement of the block: clauses, the first of which may take the others and the inner block.
    fn statement(&mut self, clauses: &'t [Clause], inner: Option<&'t Block>) {
        let is_coil = clauses
            .first()
            .and_then(|c| Items::of(c).peek_word())
            .and_then(|w| self.uses.kind.property(&w.text))
            .is_some_and(|p| p.shape == Shape::Coil);
        if is_coil {
            self.coil(&clauses[0], &clauses[1..], inner);
            return;
        }
        self.clauses(clauses, true);
        if let Some(inner) = inner {
            self.report.push(
                Diagnostic::error(Code::NotHere, inner.span, "braces have no meaning here")
                    .note("only coils in a pickup have properties of their own"),
            );
        }
    }

    fn clauses(&mut self, clauses: &'t [Clause], in_block: bool) {
        let mut rest = clauses;
        while let Some((clause, following)) = rest.split_first() {
            let mut taken = 0;
            let first = Items::of(clause).peek_word();
            match first.and_then(|w| self.uses.kind.property(&w.text)) {
                Some(property) if property.shape == Shape::Coil => {
                    if !in_block {
                        self.report.push(
                            Diagnostic::error(
                                Code::NotHere,
                                clause.span,
                                "the coils of a pickup stand in its braces",
                            )
                            .help("write `pickup NAME { … }` with each coil on a line of its own"),
                        );
                        return;
                    }
                    self.coil(clause, following, None);
                    return;
                }
                Some(property) => {
                    let mut items = Items::of(clause);
                    items.next();
                    taken = match property.shape {
                        Shape::OwnList => following.iter().take_while(|c| !self.starts_property(c)).count(),
                        Shape::OwnThen(words) => {
                            following.iter().take_while(|c| starts_with(c, words)).count()
                        }
                        _ => 0,
                    };
                    self.property(property, clause.items[0].span(), items, &following[..taken]);
                }
                None => self.unknown(clause),
            }
            rest = &following[taken..];
        }
    }

    fn starts_property(&self, clause: &Clause) -> bool {
        // A wire's clauses are lugs; `cover` may be both, and alone it is the lug.
        let word = Items::of(clause).peek_word();
        clause.items.len() > 1 && word.is_some_and(|w| self.uses.kind.property(&w.text).is_some())
            || word.is_some_and(|w| self.uses.kind.property(&w.text).is_some_and(|p| p.shape == Shape::Flag))
    }

    fn coil(&mut self, head: &'t Clause, clauses: &'t [Clause], block: Option<&'t Block>) {
        let Some(property) = self.uses.kind.property("coil") else { return };
        let mut items = Items::of(head);
        let word = items.here();
        items.next();
        let Some(name) = self.name("a name for the coil", &mut items) else { return };
        let layer = Layer { head: items, clauses, block };
        let use_ = Use {
            property,
            span: word.to(name.span),
            items,
            more: &[],
            name: Some(name),
            layers: vec![layer],
        };
        self.insert((property.word, name.text.to_owned()), use_);
    }

    fn name(&mut self, what: &str, items: &mut Items<'t>) -> Option<Label<'t>> {
        items.expect_label(what, self.report)
    }

    pub(super) fn add(
        &mut self,
        property: &'static Property,
        span: Span,
        mut items: Items<'t>,
        more: &'t [Clause],
    ) {
        let mut name = None;
        let key = match property.key {
            Key::Word => String::new(),
            Key::Group(group) => {
                let use_ = Use { property, span, items, more, name, layers: Vec::new() };
                self.check_flag(&use_);
                return self.insert((group, String::new()), use_);
            }
            Key::Named => {
                let Some(found) = self.name(&format!("a name after `{}`", property.word), &mut items) else {
                    return;
                };
                name = Some(found);
                found.text.to_owned()
            }
            Key::Lugs => lugs_key(items, more),
        };
        let use_ = Use { property, span, items, more, name, layers: Vec::new() };
        self.check_flag(&use_);
        self.insert((property.word, key), use_);
    }

    /// Adds a property; where only a comma is missing before the next one, says so and reads on.
    pub(super) fn property(
        &mut self,
        property: &'static Property,
        span: Span,
        mut items: Items<'t>,
        more: &'t [Clause],
    ) {
        let length = match property.shape {
            Shape::Value(_) => value_length(&items, property.reading),
            Shape::Flag => 0,
            Shape::Taper => word_length(property, &items),
            _ => return self.add(property, span, items, more),
        };
        let kind = self.uses.kind;
        let next = match items.rest().get(length) {
            Some(Item::Word(word)) => kind.property(&word.text).map(|p| (p, word.span)),
            _ => None,
        };
        let Some((next, next_span)) = next.filter(|_| items.rest().len() > length) else {
            return self.add(property, span, items, more);
        };
        let own = items.split(length);
        self.add(property, span, own, more);
        finish(&items, |w| kind.property(w).is_some(), self.report);
        items.next();
        self.property(next, next_span, items, &[]);
    }

    fn check_flag(&mut self, use_: &Use<'t>) {
        if use_.property.shape == Shape::Flag {
            use_.finish(&use_.items, self.uses.kind, self.report);
        }
    }

    fn insert(&mut self, key: UseKey, use_: Use<'t>) {
        if let Some(&first) = self.uses.index.get(&key) {
            self.repeated(&self.uses.list[first].clone(), &use_);
            return;
        }
        self.uses.index.insert(key, self.uses.list.len());
        self.uses.list.push(use_);
    }

    pub(super) fn repeated(&mut self, first: &Use<'t>, again: &Use<'t>) {
        let word = again.property.word;
        let (code, message) = if first.property.word == word {
            match again.name {
                Some(name) if again.property.key == Key::Named => {
                    let what = if word == "lead" { "lead colour" } else { word };
                    (Code::SameName, format!("the {what} `{}` is there twice", escape(name.text)))
                }
                _ => (Code::RepeatedProperty, format!("`{word}` is said twice")),
            }
        } else {
            (Code::RepeatedProperty, format!("`{word}` and `{}` say the same thing", first.property.word))
        };
        self.report.push(
            Diagnostic::error(code, again.name.map_or(again.span, |n| n.span), message)
                .label("again")
                .also(first.name.map_or(first.span, |n| n.span), "first here")
                .help("keep one of them"),
        );
    }

    fn unknown(&mut self, clause: &'t Clause) {
        match &clause.items[0] {
            Item::Word(word) => {
                if let Some(mended) = looks_like_value(&word.text) {
                    self.report.push(letter_first(&word.text, word.span, &mended));
                } else if let Some(hint) = taper_slip(self.uses.kind, &word.text, word.span, self.report) {
                    self.report.push(hint);
                } else if let Some((written, span)) = self.changed_over(&clause.items) {
                    let hint = self.no_property(word.span, &word.text);
                    self.report.push(
                        hint.help(format!("did you mean `{written}`?")).fix(word.span.to(span), written),
                    );
                } else {
                    self.unknown_word(word.span, &word.text);
                }
            }
            Item::Number(number) => self.wordless(number),
            Item::Error(_) => self.uses.clean = false,
            Item::Text(_) | Item::Group(_) => {
                self.report.push(missing(clause.items[0].span(), "the word of a property", true));
            }
        }
    }

    /// A number that starts a clause: its word is missing.
    fn wordless(&mut self, number: &Number) {
        let fitting = |fit| {
            self.uses.kind.properties.iter().find(|p| match p.shape {
                Shape::Value(dimension) => !self.uses.has(p.word) && number.fits(dimension) == fit,
                _ => false,
            })
        };
        let found = fitting(Fit::Certain).or_else(|| fitting(Fit::Possible));
        let before = Span { end: number.span.start, ..number.span };
        let mut diagnostic = Diagnostic::error(Code::BadStatement, number.span, "a value without its word")
            .note("only right after the name a value may stand without its word");
        if let Some(property) = found {
            diagnostic = diagnostic
                .help(format!("write `{} {}`", property.word, number.text))
                .fix(before, format!("{} ", property.word));
        }
        self.report.push(diagnostic);
    }

    /// `reverse wound` as it is written: `wound reverse`; and the second word's place.
    pub(super) fn changed_over(&self, items: &[Item]) -> Option<(String, Span)> {
        let [Item::Word(value), Item::Word(word), ..] = items else { return None };
        let property = self.uses.kind.property(&word.text)?;
        let takes_one = !matches!(property.shape, Shape::Flag | Shape::Coil);
        (takes_one && items.len() == 2).then(|| (format!("{} {}", word.text, escape(&value.text)), word.span))
    }

    pub(super) fn no_property(&self, span: Span, word: &str) -> Diagnostic {
        let kind = self.uses.kind;
        let shown = escape(word);
        let mut diagnostic = Diagnostic::error(
            Code::UnknownProperty,
            span,
            format!("{} has no property `{shown}`", kind.noun),
        );
        if kind.properties.is_empty() {
            diagnostic = diagnostic.note(format!("{} has no properties", kind.noun));
        } else {
            diagnostic = diagnostic.note(format!("{} has {}", kind.noun, listed(kind.words())));
        }
        diagnostic
    }

    pub(super) fn unknown_word(&mut self, span: Span, word: &str) {
        let kind = self.uses.kind;
        let mut diagnostic = self.no_property(span, word);
        if let Some(close) = self.report.closest(word, kind.words()) {
            diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(span, close);
        }
        self.report.push(diagnostic);
    }
}

fn starts_with(clause: &Clause, words: &[&str]) -> bool {
    Items::of(clause).peek_word().is_some_and(|w| words.contains(&w.text.as_str()))
}

fn lugs_key(items: Items<'_>, more: &[Clause]) -> String {
    let mut names: Vec<_> = items
        .rest()
        .iter()
        .chain(more.iter().flat_map(|c| &c.items))
        .flat_map(|item| match item {
            Item::Group(group) => group.items.iter().filter_map(label).map(|l| l.text).collect(),
            item => label(item).map(|l| l.text).into_iter().collect::<Vec<_>>(),
        })
        .filter(|t| *t != "to" && *t != "cut")
        .collect();
    names.sort_unstable();
    names.join(" ")
}
