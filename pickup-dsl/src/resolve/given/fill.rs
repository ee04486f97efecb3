//! A pattern with values in the places of their names.

use crate::syntax::tree::{Block, Clause, Group, Item, Statement};

use super::Arguments;

/// Words after which a name stands, not a value.
const NAMED: &[&str] = &["coil", "tap", "lead", "gang", "throw", "pattern"];

/// Copies with the values filled in; gives up past a number of items.
pub(super) struct Filling<'a> {
    values: &'a Arguments,
    left: usize,
    used: usize,
}

impl<'a> Filling<'a> {
    pub(super) fn new(values: &'a Arguments, left: usize) -> Self {
        Filling { values, left, used: 0 }
    }

    /// The pattern and how many items it has; None when they would be too many.
    pub(super) fn pattern(&mut self, plain: &Statement) -> Option<(Statement, usize)> {
        // `pattern KIND NAME [is BASE]` stays as it is.
        let items = &plain.clauses[0].items;
        let head = match items.get(3) {
            Some(Item::Word(w)) if w.text == "is" => 5,
            _ => 3,
        };
        let made = self.statement(plain, head.min(items.len()))?;
        Some((made, self.used))
    }

    fn statement(&mut self, plain: &Statement, fixed: usize) -> Option<Statement> {
        let mut clauses = Vec::with_capacity(plain.clauses.len());
        for (i, clause) in plain.clauses.iter().enumerate() {
            let named = matches!(clause.items.first(),
                Some(Item::Word(w)) if NAMED.contains(&w.text.as_str()));
            // The first word says what the clause is, unless it is all of it: `moves` for `make-first`.
            let first = if clause.items.len() == 1 { 0 } else { 1 + usize::from(named) };
            let fixed = if i == 0 && fixed > 0 { fixed } else { first };
            clauses.push(self.clause(clause, fixed)?);
        }
        let block = match &plain.block {
            None => None,
            Some(block) => {
                let mut statements = Vec::with_capacity(block.statements.len());
                for statement in &block.statements {
                    statements.push(self.statement(statement, 0)?);
                }
                Some(Block { span: block.span, statements })
            }
        };
        Some(Statement { span: plain.span, clauses, block, broken: plain.broken })
    }

    fn clause(&mut self, clause: &Clause, fixed: usize) -> Option<Clause> {
        let mut items = Vec::with_capacity(clause.items.len());
        for (i, item) in clause.items.iter().enumerate() {
            if i < fixed {
                items.push(item.clone());
            } else {
                self.item(item, &mut items)?;
            }
        }
        Some(Clause { span: clause.span, items })
    }

    fn item(&mut self, item: &Item, into: &mut Vec<Item>) -> Option<()> {
        let count = match item {
            Item::Word(word) => match self.values.get(&word.text) {
                Some(value) => {
                    let count = value.iter().map(size).sum();
                    self.take(count)?;
                    into.extend(value.iter().cloned());
                    return Some(());
                }
                None => 1,
            },
            Item::Group(group) => {
                let mut items = Vec::with_capacity(group.items.len());
                for inner in &group.items {
                    self.item(inner, &mut items)?;
                }
                into.push(Item::Group(Group { span: group.span, items }));
                return self.take(1);
            }
            _ => 1,
        };
        self.take(count)?;
        into.push(item.clone());
        Some(())
    }

    fn take(&mut self, count: usize) -> Option<()> {
        self.used = self.used.saturating_add(count);
        (self.used <= self.left).then_some(())
    }
}

/// Items in an item.
fn size(item: &Item) -> usize {
    match item {
        Item::Group(group) => 1 + group.items.iter().map(size).sum::<usize>(),
        _ => 1,
    }
}

/// Whether the name stands in the pattern.
pub(super) fn stands_in(plain: &Statement, name: &str) -> bool {
    fn item_is(item: &Item, name: &str) -> bool {
        match item {
            Item::Word(word) => word.text == name,
            Item::Group(group) => group.items.iter().any(|i| item_is(i, name)),
            _ => false,
        }
    }
    plain.clauses.iter().any(|c| c.items.iter().any(|i| item_is(i, name)))
        || plain.block.as_ref().is_some_and(|b| b.statements.iter().any(|s| stands_in(s, name)))
}
