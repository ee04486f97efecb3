//! Values and words that stand right after the name, without the word of their property.

use crate::diagnostic::{Code, Diagnostic};
use crate::resolve::cursor::{Items, finish};
use crate::resolve::report::listed;
use crate::resolve::schema::{Property, Shape};
use crate::resolve::value::MARKS;
use crate::resolve::value::letter_first;
use crate::syntax::literal::{Fit, looks_like_value};
use crate::syntax::tree::{Dimension, Item, Number};

use super::Use;
use super::reader::Reader;
use super::taper::{is_taper_share, taper_slip};
use crate::resolve::coil::MODES;

/// What a winder counts, before or after the number.
const TURNS: &str = "turns";

impl<'t> Reader<'_, 't> {
    /// Values and words right after the name.
    pub(super) fn positional(&mut self, mut head: Items<'t>) {
        let kind = self.uses.kind;
        while let Some(item) = head.peek() {
            match item {
                Item::Number(number) if self.are_turns(&head) => {
                    if let Some(property) = kind.property(TURNS) {
                        let items = head.split(1);
                        head.next();
                        self.add(property, number.span, items, &[]);
                    }
                }
                Item::Number(number) => {
                    if !self.number(number, &mut head) {
                        return;
                    }
                }
                Item::Word(word) => {
                    if let Some(property) = self.code_word(&head) {
                        let items = head.split(value_length(&head, property.reading));
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
                // A bare number is never the wire: it would be taken for a resistance.
                Shape::Value(Dimension::Wire) if number.fits(Dimension::Wire) != Fit::Certain => None,
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
            let items = head.split(value_length(head, property.reading));
            self.add(property, number.span, items, &[]);
            return true;
        }
        let taken = find(&places, Fit::Certain).or_else(|| find(&places, Fit::Possible));
        if let Some(first) = taken.and_then(|p| self.uses.get(p.word)).cloned() {
            let again = Use { span: number.span, ..first.clone() };
            self.repeated(&first, &again);
        } else if let Some((_, dimension)) = places
            .iter()
            .find(|(_, dimension)| number.converted(*dimension).is_some())
            .or(free.first())
            .or(places.first())
        {
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
        head.split(value_length(head, false));
        true
    }

    /// `5000 turns` of what has turns.
    fn are_turns(&self, head: &Items<'t>) -> bool {
        matches!(head.rest(), [Item::Number(_), Item::Word(word), ..] if word.text == TURNS)
            && self.uses.kind.property(TURNS).is_some()
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
        if let Some((written, _)) = self.changed_over(head.rest()) {
            let hint = self.no_property(word.span, &word.text);
            self.report.push(hint.help(format!("did you mean `{written}`, after a comma?")));
            return;
        }
        self.unknown_word(word.span, &word.text);
    }
}

/// How many items a value without its word takes, with what says how it was read where it may be a `reading`.
pub(super) fn value_length(items: &Items<'_>, reading: bool) -> usize {
    let rest = items.rest();
    let number = usize::from(matches!(rest.first(), Some(Item::Word(_)))) + 1;
    let is_mark = |item: &&Item| matches!(item, Item::Word(w) if MARKS.contains(&w.text.as_str()));
    let value = number + rest.iter().skip(number).take_while(is_mark).count();
    match rest.get(value..) {
        Some([Item::Word(at), Item::Number(_), Item::Word(mode), ..])
            if reading && at.text == "at" && MODES.contains(&mode.text.as_str()) =>
        {
            value + 3
        }
        Some([Item::Word(at), Item::Number(_), ..]) if reading && at.text == "at" => value + 2,
        Some([Item::Word(at), ..]) if reading && at.text == "at" => value + 1,
        _ => value,
    }
}

/// How many items a positional word and what belongs to it take.
pub(super) fn word_length(property: &Property, items: &Items<'_>) -> usize {
    if property.shape != Shape::Taper {
        return 1;
    }
    match items.rest() {
        [Item::Word(code), ..] if code.text == "code" => 3,
        [_, Item::Number(n), ..] if is_taper_share(n) => 2,
        _ => 1,
    }
}
