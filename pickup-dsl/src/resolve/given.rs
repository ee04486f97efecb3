//! Patterns whose values are given where they are used: before anything is read, each such use gets a pattern of its own, with the
//! given values in the places of their names. Ranges of switch lugs, `(1 to 6)`, are written out here too.

mod fill;
mod range;

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::cursor::{Items, label, missing};
use crate::resolve::load::{Loaded, first_word};
use crate::resolve::report::listed;
use crate::resolve::schema::{COIL, Kind, kind};
use crate::source::Span;
use crate::syntax::tree::{Block, Clause, Item, Statement};

use fill::Filling;

/// Words, numbers and texts that filled-in patterns and ranges may have, over all uses.
const ITEM_LIMIT: usize = 200_000;
/// Patterns with `given` that may stand on one another.
const DEPTH_LIMIT: usize = 32;

/// A name that stands for a value.
#[derive(Debug, Clone)]
struct Given {
    name: String,
    span: Span,
    /// None: it has to be given.
    default: Option<Vec<Item>>,
}

/// A pattern with `given`.
#[derive(Debug)]
struct Template {
    unit: usize,
    kind: &'static Kind,
    givens: Vec<Given>,
    /// The pattern without its `given`.
    plain: Statement,
    /// Something in its `given` was wrong, which has been said.
    faulty: bool,
}

/// What is given at a use, by name.
type Arguments = BTreeMap<String, Vec<Item>>;

/// Fills in all uses of patterns with `given`, and writes out the ranges.
pub(crate) fn fill_in(loaded: &mut Loaded) {
    let mut work = Work::default();
    work.collect(loaded);
    for unit in 0..loaded.units.len() {
        let mut statements = std::mem::take(&mut loaded.units[unit].tree.statements);
        for (at, statement) in statements.iter_mut().enumerate() {
            match work.of_statement.get(&(unit, at)).copied() {
                Some(template) => work.by_default(loaded, template, statement),
                None => work.statement(loaded, unit, statement, &mut Vec::new()),
            }
        }
        loaded.units[unit].tree.statements = statements;
    }
    for (unit, statement) in work.made {
        loaded.units[unit].tree.statements.push(statement);
    }
    loaded.diagnostics.append(&mut work.diagnostics);
}

#[derive(Debug, Default)]
struct Work {
    templates: Vec<Template>,
    by_name: BTreeMap<(usize, String), usize>,
    of_statement: BTreeMap<(usize, usize), usize>,
    /// All patterns by file and name, those without `given` too.
    known: BTreeSet<(usize, String)>,
    made: Vec<(usize, Statement)>,
    count: usize,
    items: usize,
    diagnostics: Vec<Diagnostic>,
}

impl Work {
    fn collect(&mut self, loaded: &Loaded) {
        for (unit, file) in loaded.units.iter().enumerate() {
            for (at, statement) in file.tree.statements.iter().enumerate() {
                if statement.broken || first_word(statement).is_none_or(|w| w.text != "pattern") {
                    continue;
                }
                let [_, Item::Word(kind_word), Item::Word(name), ..] = &statement.clauses[0].items[..] else {
                    continue;
                };
                self.known.insert((unit, name.text.clone()));
                let Some(kind) = kind(&kind_word.text) else { continue };
                let mut plain = statement.clone();
                let said = self.diagnostics.len();
                let Some(givens) = self.take_givens(kind, &mut plain) else { continue };
                let faulty = self.diagnostics.len() > said;
                let place = self.templates.len();
                // The second of one name is an error, said where patterns are read.
                self.by_name.entry((unit, name.text.clone())).or_insert(place);
                self.of_statement.insert((unit, at), place);
                self.templates.push(Template { unit, kind, givens, plain, faulty });
            }
        }
    }

    /// Takes the `given` clauses and lines out of a pattern; None where there are none.
    fn take_givens(&mut self, kind: &Kind, plain: &mut Statement) -> Option<Vec<Given>> {
        let is_given = |c: &Clause| matches!(c.items.first(), Some(Item::Word(w)) if w.text == "given");
        let mut lists: Vec<Vec<Clause>> = Vec::new();
        if let Some(first) = plain.clauses.iter().skip(1).position(is_given) {
            lists.push(plain.clauses.split_off(first + 1));
        }
        if let Some(block) = &mut plain.block {
            let (given, rest) = std::mem::take(&mut block.statements)
                .into_iter()
                .partition(|s| !s.broken && s.block.is_none() && s.clauses.first().is_some_and(is_given));
            block.statements = rest;
            lists.extend(given.into_iter().map(|s: Statement| s.clauses));
        }
        if lists.is_empty() {
            return None;
        }
        let mut givens: Vec<Given> = Vec::new();
        for list in lists {
            for (i, clause) in list.iter().enumerate() {
                let mut items = Items::of(clause);
                if i == 0 {
                    items.next();
                }
                self.given(kind, items, &mut givens);
            }
        }
        for given in &givens {
            if !fill::stands_in(plain, &given.name) {
                self.diagnostics.push(
                    Diagnostic::error(
                        Code::BadProperty,
                        given.span,
                        format!("`{}` is given and stands nowhere in the pattern", escape(&given.name)),
                    )
                    .help("write it where its value belongs, or take it out"),
                );
            }
        }
        Some(givens)
    }

    /// `hot 4.0k` or `hot`.
    fn given(&mut self, kind: &Kind, mut items: Items<'_>, givens: &mut Vec<Given>) {
        let Some(name) = items.word() else {
            self.diagnostics.push(
                missing(items.here(), "a name that stands for a value", items.peek().is_some()).help(
                    "write `given hot 4.0k, cool 4.1k`; without a value it has to be given at each use",
                ),
            );
            return;
        };
        let shown = escape(&name.text);
        let is_property = kind.property(&name.text).is_some()
            || (kind.word == "pickup" && COIL.property(&name.text).is_some())
            || kind.positional_word(&name.text).is_some();
        if is_property || name.text.contains('.') || matches!(name.text.as_str(), "is" | "to" | "given") {
            self.diagnostics.push(
                Diagnostic::error(Code::BadName, name.span, format!("`{shown}` can't stand for a value"))
                    .label("it has a meaning of its own here")
                    .help("choose another name"),
            );
            return;
        }
        if let Some(first) = givens.iter().find(|g| g.name == name.text) {
            self.diagnostics.push(
                Diagnostic::error(Code::SameName, name.span, format!("`{shown}` is given twice"))
                    .label("again")
                    .also(first.span, "first here"),
            );
            return;
        }
        let default = (items.peek().is_some()).then(|| items.rest().to_vec());
        givens.push(Given { name: name.text.clone(), span: name.span, default });
    }

    /// The pattern itself, with its own values, so that its mistakes show even if nothing uses it.
    fn by_default(&mut self, loaded: &Loaded, template: usize, statement: &mut Statement) {
        let Template { unit, givens, plain, faulty, .. } = &self.templates[template];
        let unit = *unit;
        let values: Option<Arguments> =
            givens.iter().map(|g| Some((g.name.clone(), g.default.clone()?))).collect();
        let place = plain.span;
        let Some(values) = values.filter(|_| !faulty) else {
            // Its mistakes show where it is used.
            *statement = plain.clone();
            statement.broken = true;
            return;
        };
        match Filling::new(&values, ITEM_LIMIT.saturating_sub(self.items)).pattern(plain) {
            Some((filled, count)) => {
                *statement = filled;
                if self.took(count, place) {
                    self.statement(loaded, unit, statement, &mut vec![template]);
                }
            }
            None => {
                statement.broken = true;
                self.took(ITEM_LIMIT + 1, place);
            }
        }
    }

    /// False, and said once, when there would be too much.
    fn took(&mut self, count: usize, place: Span) -> bool {
        let before = self.items;
        self.items = self.items.saturating_add(count);
        if self.items > ITEM_LIMIT && before <= ITEM_LIMIT {
            self.diagnostics.push(Diagnostic::error(
                Code::TooLarge,
                place,
                format!("patterns with `given` and ranges bring in more than {ITEM_LIMIT} words and values"),
            ));
        }
        self.items <= ITEM_LIMIT
    }

    /// A part, a pattern or a variant: its pattern filled in, its ranges written out.
    fn statement(&mut self, loaded: &Loaded, unit: usize, statement: &mut Statement, stack: &mut Vec<usize>) {
        if statement.broken {
            return;
        }
        let Some(word) = first_word(statement) else { return };
        if word.text == "variant" {
            for inner in statement.block.iter_mut().flat_map(|b| &mut b.statements) {
                self.statement(loaded, unit, inner, stack);
            }
            return;
        }
        let skip = usize::from(word.text == "pattern");
        let Some(Item::Word(kind_word)) = statement.clauses[0].items.get(skip) else { return };
        let Some(kind) = kind(&kind_word.text) else { return };
        self.use_of(loaded, unit, kind, skip, statement, stack);
        if kind.word == "switch" {
            let place = statement.span;
            match range::write_out(statement, ITEM_LIMIT.saturating_sub(self.items)) {
                Ok(count) => {
                    self.took(count, place);
                }
                Err(Some(diagnostic)) => {
                    self.diagnostics.push(*diagnostic);
                    statement.broken = true;
                }
                Err(None) => {
                    self.took(ITEM_LIMIT + 1, place);
                    statement.broken = true;
                }
            }
        }
    }

    /// `KIND NAME is PATTERN, hot 3.9k`: the pattern of that name becomes one with these values.
    fn use_of(
        &mut self,
        loaded: &Loaded,
        unit: usize,
        kind: &'static Kind,
        skip: usize,
        statement: &mut Statement,
        stack: &mut Vec<usize>,
    ) {
        let items = &statement.clauses[0].items;
        let is = |at: usize| matches!(items.get(at), Some(Item::Word(w)) if w.text == "is");
        let at = match () {
            () if is(skip + 2) => skip + 3,
            () if kind.name_optional && is(skip + 1) => skip + 2,
            () => return,
        };
        let Some(Item::Word(base)) = items.get(at) else { return };
        let (base_text, base_span) = (base.text.clone(), base.span);
        let Some(template) = self.find(loaded, unit, &base_text) else { return };
        if !std::ptr::eq(self.templates[template].kind, kind) {
            return;
        }
        if let Some(at) = stack.iter().position(|t| *t == template) {
            self.circle(&stack[at..]);
            statement.broken = true;
            return;
        }
        if stack.len() >= DEPTH_LIMIT {
            self.diagnostics.push(Diagnostic::error(
                Code::TooLarge,
                base_span,
                format!("patterns with `given` stand on one another more than {DEPTH_LIMIT} deep"),
            ));
            statement.broken = true;
            return;
        }
        if self.templates[template].faulty {
            statement.broken = true;
            return;
        }
        let Some(values) = self.arguments(template, at, base_span, statement) else {
            statement.broken = true;
            return;
        };
        let mut filling = Filling::new(&values, ITEM_LIMIT.saturating_sub(self.items));
        let Some((mut made, count)) = filling.pattern(&self.templates[template].plain) else {
            self.took(ITEM_LIMIT + 1, base_span);
            return;
        };
        if !self.took(count, base_span) {
            return;
        }
        // No name in a file has a blank.
        self.count += 1;
        let Some(Item::Word(name)) = made.clauses[0].items.get_mut(2) else { return };
        name.text = format!("{} {}", name.text, self.count);
        let local = name.text.clone();
        let home = self.templates[template].unit;
        stack.push(template);
        self.statement(loaded, home, &mut made, stack);
        stack.pop();
        self.made.push((home, made));
        if let Some(Item::Word(base)) = statement.clauses[0].items.get_mut(at) {
            base.text = match base_text.split_once('.') {
                Some((alias, _)) => format!("{alias}.{local}"),
                None => local,
            };
        }
    }

    /// Patterns that are made of each other; said of the first of them, however it is come upon.
    fn circle(&mut self, stack: &[usize]) {
        let name = |t: &usize| match &self.templates[*t].plain.clauses[0].items[2] {
            Item::Word(word) => (word.text.as_str(), word.span),
            other => ("", other.span()),
        };
        let Some(first) = stack.iter().min() else { return };
        let span = name(first).1;
        let diagnostic =
            Diagnostic::error(Code::CircularUse, span, "patterns that are made of each other in a circle")
                .note(format!("the circle: {}", listed(stack.iter().map(|t| name(t).0))));
        self.diagnostics.push(diagnostic);
    }

    fn find(&self, loaded: &Loaded, unit: usize, name: &str) -> Option<usize> {
        let (place, local) = match name.split_once('.') {
            None => (unit, name),
            Some((alias, local)) => ((*loaded.units[unit].aliases.get(alias)?)?, local),
        };
        let key = |place: usize| (place, local.to_owned());
        // A pattern of one's own goes before a body of the library, with `given` or without.
        let from_library = !name.contains('.') && !self.known.contains(&key(place));
        let place = if from_library { loaded.library } else { place };
        self.by_name.get(&key(place)).copied()
    }

    /// Takes what is given out of the statement; None once what is wrong has been said.
    fn arguments(
        &mut self,
        template: usize,
        at: usize,
        base: Span,
        statement: &mut Statement,
    ) -> Option<Arguments> {
        let givens = &self.templates[template].givens;
        let given = |item: Option<&Item>| match item {
            Some(Item::Word(word)) => givens.iter().find(|g| g.name == word.text),
            _ => None,
        };
        let mut found: Vec<Diagnostic> = Vec::new();
        let mut values: BTreeMap<String, (Vec<Item>, Span)> = BTreeMap::new();
        let mut take = |clauses: &mut Vec<Clause>, from: usize| {
            let rest = clauses.split_off(from);
            for clause in rest {
                let Some(name) = given(clause.items.first()) else {
                    clauses.push(clause);
                    continue;
                };
                let span = clause.items[0].span();
                if clause.items.len() < 2 {
                    let end = Span { start: clause.span.end, ..clause.span };
                    found.push(missing(end, &format!("what `{}` is", escape(&name.name)), false));
                } else if let Some((_, first)) = values.get(&name.name) {
                    found.push(
                        Diagnostic::error(
                            Code::RepeatedProperty,
                            span,
                            format!("`{}` is said twice", escape(&name.name)),
                        )
                        .label("again")
                        .also(*first, "first here")
                        .help("keep one of them"),
                    );
                } else {
                    values.insert(name.name.clone(), (clause.items[1..].to_vec(), span));
                }
            }
        };
        take(&mut statement.clauses, 1);
        if let Some(Block { statements, .. }) = &mut statement.block {
            for inner in statements.iter_mut().filter(|s| !s.broken && s.block.is_none()) {
                // What follows a coil or a factory wire on its line is the coil's or the wire's.
                if first_word(inner).is_some_and(|w| !matches!(w.text.as_str(), "coil" | "wire")) {
                    take(&mut inner.clauses, 0);
                }
            }
            statements.retain(|s| s.broken || !s.clauses.is_empty());
        }
        if let Some(item) = statement.clauses[0].items.get(at + 1)
            && let Some(name) = given(Some(item))
        {
            let end = Span { start: base.end, end: base.end, ..base };
            found.push(
                Diagnostic::error(
                    Code::BadStatement,
                    item.span(),
                    format!("`{}` starts another property", escape(&name.name)),
                )
                .label("a comma is missing before it")
                .fix(end, ","),
            );
        }
        let lacking: Vec<&str> = givens
            .iter()
            .filter(|g| g.default.is_none() && !values.contains_key(&g.name))
            .map(|g| g.name.as_str())
            .collect();
        if found.is_empty() && !lacking.is_empty() {
            let pattern = &self.templates[template];
            let mut diagnostic = Diagnostic::error(
                Code::MissingValue,
                base,
                format!("{} is not given", listed(lacking.iter().copied())),
            )
            .label("this pattern needs it")
            .help(format!("write `, {} VALUE` after it", escape(lacking[0])));
            if let Some(g) = pattern.givens.iter().find(|g| g.name == lacking[0]) {
                diagnostic = diagnostic.also(g.span, "the pattern's name for it");
            }
            found.push(diagnostic);
        }
        let complete = found.is_empty();
        let defaults: Vec<(String, Vec<Item>)> =
            givens.iter().filter_map(|g| Some((g.name.clone(), g.default.clone()?))).collect();
        let mut all: Arguments = defaults.into_iter().collect();
        all.extend(values.into_iter().map(|(name, (items, _))| (name, items)));
        self.diagnostics.append(&mut found);
        complete.then_some(all)
    }
}

/// Whether an item is a name that ranges may count: for messages.
fn shown(item: &Item) -> String {
    label(item).map_or_else(String::new, |l| escape(l.text))
}
