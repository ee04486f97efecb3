//! Clauses and blocks → properties of a part, by the schema of its kind. Later layers win over earlier ones.

mod taper;

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::Valued;
use crate::resolve::cursor::{Items, Label, finish, label, missing};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{COIL, Key, Kind, Property, Shape};
use crate::resolve::value::{letter_first, value};
use crate::source::Span;
use crate::syntax::literal::{Fit, looks_like_value};
use crate::syntax::tree::{Block, Clause, Dimension, Item, Number};

pub(crate) use taper::bare_letter;
use taper::taper_slip;

/// One writing of a part's properties: what follows the name, the clauses, the block.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Layer<'t> {
    /// What follows the name (and `is PATTERN`) in the first clause.
    pub(crate) head: Items<'t>,
    pub(crate) clauses: &'t [Clause],
    pub(crate) block: Option<&'t Block>,
}

/// One property as written.
#[derive(Debug, Clone)]
pub(crate) struct Use<'t> {
    pub(crate) property: &'static Property,
    /// Its word, or the value that stands without one.
    pub(crate) span: Span,
    /// What follows the word (and the name, for named ones).
    pub(crate) items: Items<'t>,
    /// The clauses after it that belong to it.
    pub(crate) more: &'t [Clause],
    /// The name of a named one.
    pub(crate) name: Option<Label<'t>>,
    /// A coil's own writings, earliest first.
    pub(crate) layers: Vec<Layer<'t>>,
}

type UseKey = (&'static str, String);

/// All properties of a part.
#[derive(Debug)]
pub(crate) struct Uses<'t> {
    pub(crate) kind: &'static Kind,
    list: Vec<Use<'t>>,
    index: BTreeMap<UseKey, usize>,
    /// False when something in it could not be read, so that what is missing may just not have been understood.
    pub(crate) clean: bool,
}

impl<'t> Uses<'t> {
    pub(crate) fn new(kind: &'static Kind) -> Self {
        Uses { kind, list: Vec::new(), index: BTreeMap::new(), clean: true }
    }

    /// Reads one layer.
    pub(crate) fn read(kind: &'static Kind, layer: &Layer<'t>, report: &mut Report<'t>) -> Self {
        let errors = report.errors();
        let mut reader = Reader { uses: Uses::new(kind), report };
        reader.layer(layer);
        let mut uses = reader.uses;
        uses.clean &= report.errors() == errors;
        uses
    }

    /// Puts a later layer over this one.
    pub(crate) fn overlay(&mut self, over: Uses<'t>) {
        self.clean &= over.clean;
        let mut keys: Vec<_> = over.index.into_iter().collect();
        keys.sort_by_key(|(_, i)| *i);
        for ((key, _), mut use_) in keys.into_iter().zip(over.list) {
            match self.index.get(&key) {
                Some(&at) if use_.property.shape == Shape::Coil => {
                    let base = &mut self.list[at];
                    base.layers.append(&mut use_.layers);
                    base.span = use_.span;
                }
                Some(&at) => self.list[at] = use_,
                None => {
                    self.index.insert(key, self.list.len());
                    self.list.push(use_);
                }
            }
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.list.len()
    }

    /// The property of that word.
    pub(crate) fn get(&self, word: &str) -> Option<&Use<'t>> {
        self.list.iter().find(|u| u.property.word == word)
    }

    pub(crate) fn has(&self, word: &str) -> bool {
        self.get(word).is_some()
    }

    /// All properties of that word, in order.
    pub(crate) fn all<'a>(&'a self, word: &'a str) -> impl Iterator<Item = &'a Use<'t>> {
        self.list.iter().filter(move |u| u.property.word == word)
    }

    /// The value of a property that is one value.
    pub(crate) fn value(&self, word: &str, report: &mut Report<'t>) -> Option<Valued> {
        self.get(word)?.value(self.kind, report)
    }

    /// The value of a property, and its absence an error.
    pub(crate) fn required(&self, word: &str, name: Span, report: &mut Report<'t>) -> Option<Valued> {
        if !self.has(word) {
            if self.clean {
                let property = self.kind.property(word)?;
                let Shape::Value(dimension) = property.shape else { return None };
                report.push(
                    Diagnostic::error(Code::MissingValue, name, format!("`{word}` is missing"))
                        .label(format!("{} needs {}", self.kind.noun, dimension.wanted()))
                        .help(format!("write it after the name, like `{}`", dimension.example())),
                );
            }
            return None;
        }
        self.value(word, report)
    }

    /// Reads all plain values once, so that the mistakes of a pattern show even if nothing uses it.
    pub(crate) fn check_values(&self, report: &mut Report<'t>) {
        for use_ in &self.list {
            match use_.property.shape {
                Shape::Value(_) => {
                    use_.value(self.kind, report);
                }
                Shape::Coil => {
                    for layer in &use_.layers {
                        Uses::read(&COIL, layer, report).check_values(report);
                    }
                }
                _ => {}
            }
        }
    }
}

impl<'t> Use<'t> {
    fn value(&self, kind: &Kind, report: &mut Report<'t>) -> Option<Valued> {
        let Shape::Value(dimension) = self.property.shape else { return None };
        let mut items = self.items;
        let read = value(&mut items, dimension, self.property.range, report)?;
        finish(&items, |word| kind.property(word).is_some(), report);
        Some(read)
    }

    /// Says so if items are left over.
    pub(crate) fn finish(&self, items: &Items<'t>, kind: &Kind, report: &mut Report<'t>) {
        finish(items, |word| kind.property(word).is_some(), report);
    }
}

struct Reader<'r, 't> {
    uses: Uses<'t>,
    report: &'r mut Report<'t>,
}

impl<'t> Reader<'_, 't> {
    fn layer(&mut self, layer: &Layer<'t>) {
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

    fn add(&mut self, property: &'static Property, span: Span, mut items: Items<'t>, more: &'t [Clause]) {
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
    fn property(
        &mut self,
        property: &'static Property,
        span: Span,
        mut items: Items<'t>,
        more: &'t [Clause],
    ) {
        let length = match property.shape {
            Shape::Value(_) => value_length(&items),
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

    fn repeated(&mut self, first: &Use<'t>, again: &Use<'t>) {
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

    /// Values and words right after the name.
    fn positional(&mut self, mut head: Items<'t>) {
        let kind = self.uses.kind;
        while let Some(item) = head.peek() {
            match item {
                Item::Number(number) => {
                    if !self.number(number, &mut head) {
                        return;
                    }
                }
                Item::Word(word) => {
                    if let Some(property) = self.code_word(&head) {
                        let items = head.split(value_length(&head));
                        self.add(property, word.span, items, &[]);
                    } else if let Some(property) = kind.positional_word(&word.text) {
                        let mut items = head.split(word_length(property, &head));
                        if property.shape == Shape::Flag {
                            items.next();
                        }
                        self.add(property, word.span, items, &[]);
                    } else {
                        self.stray_word(head);
                        return;
                    }
                }
                Item::Error(_) => {
                    self.uses.clean = false;
                    return;
                }
                Item::Text(_) | Item::Group(_) => {
                    finish(&head, |_| false, self.report);
                    return;
                }
            }
        }
    }

    /// `code 104` right after the name of what has a capacitance.
    fn code_word(&self, head: &Items<'t>) -> Option<&'static Property> {
        let is_code = head.peek_word().is_some_and(|word| word.text == "code");
        self.uses
            .kind
            .properties
            .iter()
            .find(|p| is_code && p.positional && p.shape == Shape::Value(Dimension::Farads))
    }

    fn number(&mut self, number: &'t Number, head: &mut Items<'t>) -> bool {
        let kind = self.uses.kind;
        let places: Vec<_> = kind
            .properties
            .iter()
            .filter_map(|p| match p.shape {
                Shape::Value(dimension) if p.positional => Some((p, dimension)),
                _ => None,
            })
            .collect();
        let free: Vec<_> = places.iter().copied().filter(|(p, _)| !self.uses.has(p.word)).collect();
        let find = |list: &[(&'static Property, Dimension)], fit| {
            list.iter().find(|(_, d)| number.fits(*d) == fit).map(|(p, _)| *p)
        };
        // Digits alone are better taken where they can be read than where they would need a unit.
        let readable = || {
            free.iter()
                .find(|(_, d)| number.fits(*d) == Fit::Possible && number.read(*d).is_ok())
                .map(|(p, _)| *p)
        };
        let found = find(&free, Fit::Certain).or_else(readable).or_else(|| find(&free, Fit::Possible));
        if let Some(property) = found {
            let items = head.split(value_length(head));
            self.add(property, number.span, items, &[]);
            return true;
        }
        let taken = find(&places, Fit::Certain).or_else(|| find(&places, Fit::Possible));
        if let Some(first) = taken.and_then(|p| self.uses.get(p.word)).cloned() {
            let again = Use { span: number.span, ..first.clone() };
            self.repeated(&first, &again);
        } else if let Some((_, dimension)) = free.first().or(places.first()) {
            let wanted: Vec<_> = places.iter().map(|(p, _)| p.word).collect();
            if let Err(diagnostic) = number.read(*dimension) {
                let diagnostic = if places.len() > 1 {
                    diagnostic.note(format!(
                        "after the name of {} may stand its {}",
                        kind.noun,
                        listed(wanted)
                    ))
                } else {
                    diagnostic
                };
                self.report.push(diagnostic);
            }
        } else {
            self.report.push(Diagnostic::error(
                Code::BadStatement,
                number.span,
                format!("{} has no value that could stand here without its word", kind.noun),
            ));
        }
        self.uses.clean = false;
        head.split(value_length(head));
        true
    }

    fn stray_word(&mut self, head: Items<'t>) {
        let kind = self.uses.kind;
        let Some(word) = head.peek_word() else { return };
        if let Some(mended) = looks_like_value(&word.text) {
            self.report.push(letter_first(&word.text, word.span, &mended));
            return;
        }
        if let Some(property) = kind.property(&word.text) {
            finish(&head, |w| kind.property(w).is_some(), self.report);
            let mut items = head;
            items.next();
            self.property(property, word.span, items, &[]);
            return;
        }
        if let Some(hint) = taper_slip(kind, &word.text, word.span, self.report) {
            self.report.push(hint);
            return;
        }
        self.unknown_word(word.span, &word.text);
    }

    fn unknown(&mut self, clause: &'t Clause) {
        match &clause.items[0] {
            Item::Word(word) => {
                if let Some(mended) = looks_like_value(&word.text) {
                    self.report.push(letter_first(&word.text, word.span, &mended));
                } else if let Some(hint) = taper_slip(self.uses.kind, &word.text, word.span, self.report) {
                    self.report.push(hint);
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

    fn unknown_word(&mut self, span: Span, word: &str) {
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
        if let Some(close) = self.report.closest(word, kind.words()) {
            diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(span, close);
        }
        self.report.push(diagnostic);
    }
}

fn starts_with(clause: &Clause, words: &[&str]) -> bool {
    Items::of(clause).peek_word().is_some_and(|w| words.contains(&w.text.as_str()))
}

/// How many items a value without its word takes.
fn value_length(items: &Items<'_>) -> usize {
    let rest = items.rest();
    let number = usize::from(matches!(rest.first(), Some(Item::Word(_)))) + 1;
    let marked =
        matches!(rest.get(number), Some(Item::Word(w)) if w.text == "measured" || w.text == "assumed");
    number + usize::from(marked)
}

/// How many items a positional word and what belongs to it take.
fn word_length(property: &Property, items: &Items<'_>) -> usize {
    if property.shape != Shape::Taper {
        return 1;
    }
    match items.rest() {
        [Item::Word(code), ..] if code.text == "code" => 3,
        [_, Item::Number(n), ..] if is_taper_share(n) => 2,
        _ => 1,
    }
}

/// `15%` or `0.15` after a taper: no track is under an ohm.
pub(crate) fn is_taper_share(number: &Number) -> bool {
    match number.fits(Dimension::Share) {
        Fit::Certain => true,
        Fit::Possible => number.digits < 1.0,
        Fit::No => false,
    }
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
