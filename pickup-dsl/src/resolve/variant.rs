//! Variants: the guitar of the file with some statements taken out, replaced or added.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{JointKind, LugId};
use crate::resolve::build::{Build, Declared};
use crate::resolve::cursor::{Items, Label, missing};
use crate::resolve::load::{Loaded, first_word};
use crate::resolve::pattern::{Head, head, same_name};
use crate::resolve::report::Report;
use crate::resolve::schema::{Kind, kind};
use crate::resolve::statements::Sorted;
use crate::source::Span;
use crate::syntax::tree::{Item, Statement};

/// Variants of one file.
const VARIANT_LIMIT: usize = 32;
/// Statements that a variant can't have.
const NOT_IN_VARIANTS: &[&str] = &["coilwright", "guitar", "use", "pattern", "reference", "variant"];

/// The variants of the main file, by name; mistakes in their heads are said.
pub(crate) fn variants<'t>(loaded: &'t Loaded, report: &mut Report<'t>) -> Vec<(&'t str, &'t Statement)> {
    let mut list: Vec<(&str, &Statement)> = Vec::new();
    let mut said: BTreeMap<&str, Span> = BTreeMap::new();
    let statements = &loaded.units[0].tree.statements;
    for statement in statements.iter().filter(|s| first_word(s).is_some_and(|w| w.text == "variant")) {
        if statement.broken {
            continue;
        }
        let help = "write `variant \"long cable\" { cable 10m }`";
        let (Item::Text(name), [_]) = (
            statement.clauses[0].items.get(1).unwrap_or(&statement.clauses[0].items[0]),
            &statement.clauses[..],
        ) else {
            let here = Items::of(&statement.clauses[0]).span();
            report.push(
                missing(here, "the variant's name in quotes and its changes in braces", true).help(help),
            );
            continue;
        };
        if statement.clauses[0].items.len() > 2 || statement.block.is_none() || name.value.is_empty() {
            let text = "a variant has a name in quotes and its changes in braces";
            report.push(Diagnostic::error(Code::BadStatement, statement.clauses[0].span, text).help(help));
            continue;
        }
        if let Some(first) = said.insert(&name.value, name.span) {
            report.push(
                Diagnostic::error(
                    Code::SameName,
                    name.span,
                    format!("two variants are called `{}`", escape(&name.value)),
                )
                .label("again")
                .also(first, "first here")
                .help("give one of them another name"),
            );
            continue;
        }
        if list.len() == VARIANT_LIMIT {
            let text = format!("more than {VARIANT_LIMIT} variants");
            report.push(Diagnostic::error(Code::TooLarge, name.span, text));
            break;
        }
        list.push((&name.value, statement));
    }
    list
}

impl<'t> Build<'_, 't> {
    /// Takes the statements of the variant into what was sorted of the guitar.
    pub(crate) fn vary(&mut self, variant: &'t Statement, sorted: &mut Sorted<'t>) {
        let Some(block) = &variant.block else { return };
        let mut plugged = false;
        for statement in block.statements.iter().filter(|s| !s.broken) {
            let Some(word) = first_word(statement) else {
                self.not_here(statement.span);
                continue;
            };
            let text = word.text.as_str();
            if let Some(kind) = kind(text) {
                self.vary_part(kind, statement, sorted);
                continue;
            }
            if NOT_IN_VARIANTS.contains(&text) {
                self.not_here(word.span);
                continue;
            }
            match text {
                "unsolder" => sorted.unsolder.push(statement),
                "remove" => self.remove(statement, sorted),
                "plug" if !plugged => {
                    plugged = true;
                    sorted.plugs = vec![statement];
                }
                "position" => {
                    let name = |s: &Statement| match s.clauses[0].items.get(1) {
                        Some(Item::Text(text)) => Some(text.value.clone()),
                        _ => None,
                    };
                    let own = name(statement);
                    match sorted.positions.iter_mut().find(|s| own.is_some() && name(s) == own) {
                        Some(place) => *place = statement,
                        None => sorted.positions.push(statement),
                    }
                }
                "positions" => drop(sorted.once.insert("positions", statement)),
                "mains" => drop(sorted.once.insert("mains", statement)),
                "geometry" => drop(sorted.once.insert("geometry", statement)),
                "string-count" => drop(sorted.once.insert("string-count", statement)),
                _ => self.sort_one(statement, sorted),
            }
        }
    }

    fn not_here(&mut self, span: Span) {
        self.report.push(
            Diagnostic::error(Code::NotHere, span, "this has no place in a variant")
                .note("a variant says parts, wires, plugs, positions, `unsolder` and `remove`"),
        );
    }

    /// A part of the guitar with other properties, in place of one, or a part more.
    fn vary_part(&mut self, kind: &'static Kind, statement: &'t Statement, sorted: &mut Sorted<'t>) {
        let mut items = Items::of(&statement.clauses[0]);
        let word = items.here();
        items.next();
        if kind.word == "cable" && items.peek_word().is_some_and(|w| w.text == "none") {
            self.no_cable.get_or_insert(statement.span);
            let cables: Vec<_> =
                sorted.parts.iter().filter(|h| h.kind.word == "cable").map(|h| h.name.text).collect();
            for cable in cables {
                self.take_out(cable, sorted);
                self.names.remove(cable);
            }
            return;
        }
        let Some(head) = head(kind, word, items, statement, self.report) else { return };
        // The only cable or amp of the guitar is meant where no name is said.
        let alone = |h: &&mut Head<'t>| std::ptr::eq(h.kind, kind);
        let unnamed = head.name.span == word;
        let count = sorted.parts.iter().filter(|h| std::ptr::eq(h.kind, kind)).count();
        let place = if unnamed && count == 1 {
            sorted.parts.iter_mut().find(alone)
        } else {
            sorted.parts.iter_mut().find(|h| h.name.text == head.name.text)
        };
        let Some(place) = place else {
            self.part_statement(kind, statement, sorted);
            return;
        };
        let name = place.name.text;
        if let Some(first) = self.varied.insert(name, head.name.span) {
            let diagnostic =
                same_name(Label { text: name, span: head.name.span }, first, "parts of the variant");
            self.report.push(diagnostic);
            return;
        }
        if std::ptr::eq(place.kind, kind) && head.base.is_none() {
            self.over.insert(name, head.layer);
        } else {
            let name = place.name;
            *place = Head { name, ..head };
            self.names
                .insert(name.text, Declared { span: name.span, id: None, kind: Some(kind), open: true });
        }
    }

    /// `remove C3 R3`: the parts go, with all their wires.
    fn remove(&mut self, statement: &'t Statement, sorted: &mut Sorted<'t>) {
        for clause in &statement.clauses {
            let mut items = Items::of(clause);
            if std::ptr::eq(clause, &statement.clauses[0]) {
                items.next();
            }
            if items.peek().is_none() {
                self.report.push(missing(items.here(), "a part", false).help("write `remove C3, R3`"));
            }
            while let Some(item) = items.next() {
                let Item::Word(word) = item else {
                    self.report.push(missing(item.span(), "a part", true).help("write `remove C3, R3`"));
                    return;
                };
                if self.part(&word.text, word.span).is_some() {
                    self.take_out(&word.text, sorted);
                }
            }
        }
    }

    fn take_out(&mut self, name: &str, sorted: &mut Sorted<'t>) {
        sorted.parts.retain(|h| h.name.text != name);
        if let Some(declared) = self.names.get_mut(name) {
            // Known, so that its wires are let go without a word.
            *declared = Declared { span: declared.span, id: None, kind: None, open: true };
        }
    }

    /// `unsolder A to B`: the wire between them goes. `unsolder A`: all wires on that lug.
    pub(crate) fn unsolder(&mut self, statement: &'t Statement) {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let help = "write `unsolder volume.2 to C3.2`, or `unsolder volume.2` for all wires on that lug";
        let a = self.lug_after(&mut items, help);
        let b = if items.eat("to").is_some() { Some(self.lug_after(&mut items, help)) } else { None };
        crate::resolve::cursor::finish(&items, |_| false, self.report);
        if let Some(extra) = statement.clauses.get(1) {
            let text = "more than can stand here";
            self.report.push(Diagnostic::error(Code::BadStatement, extra.span, text).help(help));
        }
        let Some(a) = a else { return };
        if b == Some(None) {
            return;
        }
        let b = b.flatten();
        let before = self.joints.len();
        let is = |j: &crate::harness::Joint| {
            j.kind == JointKind::Wire
                && match b {
                    Some(b) => (j.a, j.b) == (a, b) || (j.b, j.a) == (a, b),
                    None => j.a == a || j.b == a,
                }
        };
        self.joints.retain(|j| !is(j));
        if self.joints.len() == before {
            self.report.push(
                Diagnostic::error(Code::UnknownName, statement.span, "there is no such wire to unsolder")
                    .note("a wire lies between the two lugs that its statement names one after the other"),
            );
        }
    }

    fn lug_after(&mut self, items: &mut Items<'t>, help: &str) -> Option<LugId> {
        let Some(word) = items.word() else {
            self.report.push(missing(items.here(), "a lug", items.peek().is_some()).help(help));
            return None;
        };
        self.lug(word)
    }
}
