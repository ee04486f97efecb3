//! Clauses and blocks → properties of a part, by the schema of its kind. Later layers win over earlier ones.

mod positional;
mod reader;
mod taper;

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::Valued;
use crate::resolve::cursor::{Items, Label, finish};
use crate::resolve::report::Report;
use crate::resolve::schema::{COIL, Kind, Property, Shape};
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Block, Clause};

use reader::Reader;
pub(crate) use taper::{bare_letter, is_taper_share};

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

    /// Leaves out the property of that word.
    pub(crate) fn forget(&mut self, word: &'static str) {
        if let Some(at) = self.list.iter().position(|u| u.property.word == word) {
            self.list.remove(at);
            self.index.retain(|_, i| *i != at);
            for i in self.index.values_mut().filter(|i| **i > at) {
                *i -= 1;
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
        if !self.property.reading {
            self.finish(&items, kind, report);
        }
        Some(read)
    }

    /// The value, and what is said of how it was read.
    pub(crate) fn reading(&self, report: &mut Report<'t>) -> Option<(Valued, Items<'t>)> {
        let Shape::Value(dimension) = self.property.shape else { return None };
        let mut items = self.items;
        let read = value(&mut items, dimension, self.property.range, report)?;
        Some((read, items))
    }

    /// Says so if items are left over.
    pub(crate) fn finish(&self, items: &Items<'t>, kind: &Kind, report: &mut Report<'t>) {
        finish(items, |word| kind.property(word).is_some(), report);
    }
}
