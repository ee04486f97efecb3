//! Parts defined once and used again.

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::cursor::{Items, Label, missing};
use crate::resolve::load::{Loaded, first_word};
use crate::resolve::properties::{Layer, Uses};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{KINDS, Kind, kind};
use crate::resolve::trade;
use crate::source::Span;
use crate::syntax::tree::{Item, Statement};

/// Properties that patterns may put into one harness, over all uses.
const TAKEN_LIMIT: usize = 1_000_000;

/// The head of `KIND NAME [is PATTERN] …` and what follows.
#[derive(Debug, Clone)]
pub(crate) struct Head<'t> {
    pub(crate) kind: &'static Kind,
    /// The name; for a part without one, the kind's word.
    pub(crate) name: Label<'t>,
    pub(crate) base: Option<Label<'t>>,
    pub(crate) layer: Layer<'t>,
}

#[derive(Debug)]
struct Pattern<'t> {
    head: Head<'t>,
    unit: usize,
}

/// All patterns of all files.
#[derive(Debug, Default)]
pub(crate) struct Patterns<'t> {
    list: Vec<Pattern<'t>>,
    /// By file and name; None for one that could not be read.
    by_name: BTreeMap<(usize, &'t str), Option<usize>>,
    taken: usize,
}

/// Reads the head of a part or pattern; `items` start after the kind's word.
pub(crate) fn head<'t>(
    kind: &'static Kind,
    word: Span,
    mut items: Items<'t>,
    statement: &'t Statement,
    report: &mut Report<'t>,
) -> Option<Head<'t>> {
    let own = Label { text: kind.word, span: word };
    let name = match items.peek() {
        Some(Item::Word(w)) if !kind.name_optional || !is_property_word(kind, &w.text) => {
            items.next();
            Label { text: &w.text, span: w.span }
        }
        _ if kind.name_optional => own,
        other => {
            report.push(
                missing(items.here(), &format!("a name for the {}", kind.word), other.is_some())
                    .help("a name starts with a letter"),
            );
            return None;
        }
    };
    if name.text.contains('.') {
        report.push(
            Diagnostic::error(Code::BadName, name.span, format!("`{}` can't name a part", escape(name.text)))
                .label("a dot stands between a part and its lug"),
        );
        return None;
    }
    let base = match items.eat("is") {
        None => None,
        Some(_) => match items.word() {
            Some(w) => Some(Label { text: &w.text, span: w.span }),
            None => {
                report.push(missing(items.here(), "the name of a pattern", items.peek().is_some()));
                return None;
            }
        },
    };
    let layer = Layer {
        head: items,
        clauses: statement.clauses.get(1..).unwrap_or(&[]),
        block: statement.block.as_ref(),
    };
    Some(Head { kind, name, base, layer })
}

fn is_property_word(kind: &Kind, word: &str) -> bool {
    kind.positional_word(word).is_some() || word == "is" || (kind.word == "cable" && word == "none")
}

impl<'t> Patterns<'t> {
    /// Whether the main file defines any: it may be meant to be used by another.
    pub(crate) fn in_main_file(&self) -> bool {
        self.by_name.keys().any(|(file, _)| *file == 0)
    }

    /// Collects the patterns of all files.
    pub(crate) fn collect(loaded: &'t Loaded, report: &mut Report<'t>) -> Self {
        let mut patterns = Patterns::default();
        for (unit, file) in loaded.units.iter().enumerate() {
            for statement in &file.tree.statements {
                if first_word(statement).is_some_and(|w| w.text == "pattern") {
                    patterns.add(unit, statement, report);
                }
            }
        }
        for pattern in &patterns.list {
            Uses::read(pattern.head.kind, &pattern.head.layer, report).check_values(report);
        }
        patterns
    }

    fn add(&mut self, unit: usize, statement: &'t Statement, report: &mut Report<'t>) {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        if statement.broken {
            if let [_, Item::Word(name), ..] = items.rest() {
                self.by_name.insert((unit, &name.text), None);
            }
            return;
        }
        let Some(word) = items.word() else {
            report.push(
                missing(items.here(), "the kind of part", items.peek().is_some())
                    .help("write `pattern KIND NAME …`, for example `pattern pickup twin { … }`"),
            );
            return;
        };
        let Some(kind) = kind(&word.text) else {
            let kinds = KINDS.iter().map(|k| k.word);
            let mut diagnostic = Diagnostic::error(
                Code::UnknownStatement,
                word.span,
                format!("`{}` is no kind of part", escape(&word.text)),
            )
            .note(format!("the kinds are {}", listed(kinds.clone())));
            if let Some(close) = report.closest(&word.text, kinds) {
                diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close);
            }
            report.push(diagnostic);
            if let Some(name) = items.word() {
                self.by_name.insert((unit, &name.text), None);
            }
            return;
        };
        let Some(head) = head(kind, word.span, items, statement, report) else { return };
        let key = (unit, head.name.text);
        if let Some(Some(first)) = self.by_name.get(&key) {
            report.push(same_name(head.name, self.list[*first].head.name.span, "patterns"));
            return;
        }
        self.by_name.insert(key, Some(self.list.len()));
        self.list.push(Pattern { head, unit });
    }

    /// All properties of a part, its patterns' included; None when a pattern can't be had (which has been said).
    pub(crate) fn expand(
        &mut self,
        loaded: &'t Loaded,
        head: &Head<'t>,
        unit: usize,
        report: &mut Report<'t>,
    ) -> Option<Uses<'t>> {
        let mut chain: Vec<usize> = Vec::new();
        let mut seen = BTreeSet::new();
        let mut next = head.base.map(|base| (base, unit));
        while let Some((base, from)) = next {
            let found = self.find(loaded, base, from, head.kind, report)?;
            if !seen.insert(found) {
                let start = chain.iter().position(|c| *c == found).unwrap_or(0);
                let circle: Vec<_> = chain[start..].iter().map(|c| self.list[*c].head.name.text).collect();
                let span = self.list[found].head.name.span;
                report.push(
                    Diagnostic::error(
                        Code::CircularUse,
                        span,
                        "patterns that are made of each other in a circle",
                    )
                    .note(format!("the circle: {}", listed(circle))),
                );
                return None;
            }
            chain.push(found);
            let pattern = &self.list[found];
            next = pattern.head.base.map(|base| (base, pattern.unit));
            if self.too_much(1, head.name.span, report) {
                return None;
            }
        }
        let mut uses = Uses::new(head.kind);
        for found in chain.into_iter().rev() {
            let layer = Uses::read(head.kind, &self.list[found].head.layer, report);
            if self.too_much(layer.len(), head.name.span, report) {
                return None;
            }
            uses.overlay(layer);
        }
        uses.overlay(Uses::read(head.kind, &head.layer, report));
        Some(uses)
    }

    fn too_much(&mut self, more: usize, span: Span, report: &mut Report<'t>) -> bool {
        self.taken += more;
        let over = self.taken > TAKEN_LIMIT;
        if over && self.taken - more <= TAKEN_LIMIT {
            report.push(Diagnostic::error(
                Code::TooLarge,
                span,
                format!("patterns bring in more than {TAKEN_LIMIT} properties"),
            ));
        }
        over
    }

    fn find(
        &self,
        loaded: &'t Loaded,
        name: Label<'t>,
        unit: usize,
        wanted: &'static Kind,
        report: &mut Report<'t>,
    ) -> Option<usize> {
        let (place, local) = match name.text.split_once('.') {
            None => (unit, name.text),
            Some((alias, local)) => match loaded.units[unit].aliases.get(alias) {
                Some(target) => ((*target)?, local),
                None => {
                    let aliases = loaded.units[unit].aliases.keys().map(String::as_str);
                    let mut diagnostic = Diagnostic::error(
                        Code::UnknownPattern,
                        name.span,
                        format!("no file is called `{}`", escape(alias)),
                    )
                    .help(format!("bring it in with `use \"….harness\" as {alias}`"));
                    if let Some(close) = report.closest(alias, aliases) {
                        diagnostic = diagnostic.help(format!("did you mean `{close}`?"));
                    }
                    report.push(diagnostic);
                    return None;
                }
            },
        };
        let in_library = || self.by_name.get(&(loaded.library, local)).filter(|_| !name.text.contains('.'));
        match self.by_name.get(&(place, local)).or_else(in_library) {
            Some(Some(found)) if std::ptr::eq(self.list[*found].head.kind, wanted) => Some(*found),
            Some(Some(found)) => {
                let pattern = &self.list[*found].head;
                report.push(
                    Diagnostic::error(
                        Code::UnknownPattern,
                        name.span,
                        format!(
                            "`{}` is a pattern of {}, not of {}",
                            escape(name.text),
                            pattern.kind.noun,
                            wanted.noun
                        ),
                    )
                    .also(pattern.name.span, "defined here"),
                );
                None
            }
            Some(None) => None,
            None => {
                self.unknown(loaded, name, place, local, wanted, report);
                None
            }
        }
    }

    fn unknown(
        &self,
        loaded: &Loaded,
        name: Label<'t>,
        place: usize,
        local: &str,
        wanted: &'static Kind,
        report: &mut Report<'t>,
    ) {
        let of = |unit: usize| {
            self.list
                .iter()
                .filter(move |p| p.unit == unit && std::ptr::eq(p.head.kind, wanted))
                .map(|p| p.head.name.text)
        };
        let is_body = wanted.word == "switch" && !name.text.contains('.');
        let candidates: Vec<_> =
            of(place).chain(is_body.then(|| of(loaded.library)).into_iter().flatten()).collect();
        let what = if is_body { "switch body" } else { "pattern" };
        let mut diagnostic = Diagnostic::error(
            Code::UnknownPattern,
            name.span,
            format!("no {what} is called `{}`", escape(name.text)),
        );
        if !candidates.is_empty() {
            diagnostic = diagnostic.note(format!("there are {}", listed(candidates.iter().copied())));
        }
        let trade = if is_body { trade::body_called(local) } else { None };
        if let Some((hint, body)) = trade {
            diagnostic = diagnostic.help(hint);
            report.push(if let Some(body) = body { diagnostic.fix(name.span, body) } else { diagnostic });
            return;
        }
        diagnostic = match report.closest(local, candidates.iter().copied()) {
            Some(close) => {
                let prefix =
                    name.text.split_once('.').map_or(String::new(), |(alias, _)| format!("{alias}."));
                diagnostic
                    .help(format!("did you mean `{prefix}{close}`?"))
                    .fix(name.span, format!("{prefix}{close}"))
            }
            None => diagnostic.help(format!("define it with `pattern {} {local} …`", wanted.word)),
        };
        report.push(diagnostic);
    }
}

/// Two things of one name.
pub(crate) fn same_name(again: Label<'_>, first: Span, what: &str) -> Diagnostic {
    Diagnostic::error(Code::SameName, again.span, format!("two {what} are called `{}`", escape(again.text)))
        .label("again")
        .also(first, "first here")
        .help("give one of them another name")
}
