//! `curve NAME { 100Hz 0dB … }`: a response to be held against.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::pattern::same_name;
use crate::resolve::schema::{ANY, Range};
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Statement};

/// Points of one curve.
const LIMIT: usize = 10_000;
const FORM: &str = "write `curve NAME { 100Hz 0dB, 1kHz 0.4dB, 3kHz 5dB }`";

/// One curve: (Hz, dB), rising.
pub(crate) type Points = Vec<(f64, f64)>;

/// The curves of a file by name, with their places; None for one that can't be read, which has been said.
pub(crate) type Curves = BTreeMap<String, (Span, Option<Points>)>;

impl<'t> Build<'_, 't> {
    /// Reads all curves.
    pub(crate) fn curves(&mut self, statements: &[&'t Statement]) -> Curves {
        let mut curves = Curves::new();
        for statement in statements {
            let Some(head) = statement.clauses.first() else { continue };
            let mut items = Items::of(head);
            items.next();
            let Some(name) = items.expect_label("a name for the curve", self.report) else { continue };
            finish(&items, |_| false, self.report);
            if let Some((first, _)) = curves.get(name.text) {
                let diagnostic = same_name(name, *first, "curves");
                self.report.push(diagnostic);
                continue;
            }
            let points = self.points(statement);
            curves.insert(name.text.to_owned(), (name.span, points));
        }
        curves
    }

    fn points(&mut self, statement: &'t Statement) -> Option<Points> {
        let Some(block) = statement.block.as_ref().filter(|_| statement.clauses.len() == 1) else {
            let end = Span { start: statement.span.end, ..statement.span };
            self.report.push(missing(end, "the curve's points in braces", false).help(FORM));
            return None;
        };
        let mut points: Vec<(f64, f64)> = Vec::new();
        let audible = Range::new((1.0, 1e6), &[]);
        for clause in block.statements.iter().flat_map(|s| &s.clauses) {
            let mut items = Items::of(clause);
            let here = items.here();
            let frequency = value(&mut items, Dimension::Hertz, audible, self.report)?.value;
            let level = value(&mut items, Dimension::Decibels, ANY, self.report)?.value;
            finish(&items, |_| false, self.report);
            if points.last().is_some_and(|(last, _)| *last >= frequency) {
                let text = "the frequencies of a curve rise";
                self.report.push(Diagnostic::error(Code::BadProperty, here, text).help(FORM));
                return None;
            }
            if points.len() == LIMIT {
                let text = format!("more than {LIMIT} points in a curve");
                self.report.push(Diagnostic::error(Code::TooLarge, here, text));
                return None;
            }
            points.push((frequency, level));
        }
        if points.len() < 2 {
            let text = format!("a curve has two points or more, this has {}", points.len());
            self.report.push(Diagnostic::error(Code::MissingValue, block.span, text).help(FORM));
            return None;
        }
        Some(points)
    }
}
