//! Switches: contact tables, written out or as a plain selector.

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{LugId, Moves, PartKind, Switch, Throw};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Label, label, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::listed;
use crate::resolve::trade;
use crate::source::Span;
use crate::syntax::tree::{Group, Item};

impl<'t> Build<'_, 't> {
    /// A switch. Its lugs exist even where its throws fail; `open` tells that they may not be all.
    pub(crate) fn switch(&mut self, name: Label<'t>, uses: &Uses<'t>, open: &mut bool) -> Option<PartKind> {
        let errors = self.report.errors();
        *open |= !uses.clean;
        let mut throws = Vec::new();
        if let Some(use_) = uses.get("lugs") {
            self.listed_lugs(use_, uses, open);
        } else if let Some(use_) = uses.get("poles") {
            throws = self.selector(use_, uses, open);
        } else if !*open {
            self.report.push(
                Diagnostic::error(Code::MissingValue, name.span, "a switch needs its contact table")
                    .label("neither a body nor lugs are named")
                    .help("name a body, as in `is push-pull`, or write its `lugs (…)` and a `throw … joins (…)` for each throw"),
            );
            *open = true;
        }
        if self.lug_of(self.next_part(), "frame").is_none() {
            self.add_lug("frame", name.span);
        }
        // A throw that is written out replaces the selector's of that name; two written ones are a property said twice.
        let plain: BTreeMap<String, usize> =
            throws.iter().enumerate().map(|(i, t): (_, &Throw)| (t.name.clone(), i)).collect();
        for use_ in uses.all("throw") {
            if !self.room_for(1, use_.span) {
                *open = true;
                return None;
            }
            let Some(throw) = self.throw(use_, uses, *open) else { continue };
            match plain.get(&throw.name) {
                Some(at) => throws[*at] = throw,
                None => throws.push(throw),
            }
        }
        let contact = uses.value("contact", self.report);
        if self.report.errors() > errors || *open {
            // What is left may be half of it: nothing more can be said of rest or throws.
            *open |= throws.is_empty();
            return None;
        }
        if throws.is_empty() {
            self.report.push(
                Diagnostic::error(Code::MissingValue, name.span, "a switch needs at least one throw")
                    .help("write `throw 1 joins (A.common A.1)`"),
            );
            return None;
        }
        let rest = self.rest(name, uses, &throws)?;
        let moves = if uses.has("make-first") { Moves::MakeFirst } else { Moves::BreakFirst };
        Some(PartKind::Switch(Switch { throws, rest, moves, momentary: uses.has("momentary"), contact }))
    }

    fn listed_lugs(&mut self, use_: &Use<'t>, uses: &Uses<'t>, open: &mut bool) {
        let mut items = use_.items;
        let Some(Item::Group(group)) = items.peek() else {
            let diagnostic = missing(items.here(), "the bracket with the lugs", items.peek().is_some())
                .help("write `lugs (A.common A.1 A.2)`");
            self.report.push(diagnostic);
            *open = true;
            return;
        };
        items.next();
        use_.finish(&items, uses.kind, self.report);
        let Some(labels) = self.labels(group, "a lug") else {
            *open = true;
            return;
        };
        for lug in labels {
            self.add_lug(lug.text, lug.span);
        }
    }

    /// `poles (A B) throws (1 2 3)`: the common of each pole to its throw of that name.
    fn selector(&mut self, use_: &Use<'t>, uses: &Uses<'t>, open: &mut bool) -> Vec<Throw> {
        let mut items = use_.items;
        let help = "write `poles (A B) throws (1 2 3)`";
        let read = (|| {
            let Some(Item::Group(poles)) = items.peek() else {
                self.report.push(
                    missing(items.here(), "the bracket with the poles", items.peek().is_some()).help(help),
                );
                return None;
            };
            items.next();
            if items.eat("throws").is_none() {
                self.report.push(missing(items.here(), "`throws`", items.peek().is_some()).help(help));
                return None;
            }
            let Some(Item::Group(throws)) = items.peek() else {
                self.report.push(
                    missing(items.here(), "the bracket with the throws", items.peek().is_some()).help(help),
                );
                return None;
            };
            items.next();
            use_.finish(&items, uses.kind, self.report);
            Some((self.labels(poles, "a pole")?, self.labels(throws, "a throw")?))
        })();
        let Some((poles, throws)) = read else {
            *open = true;
            return Vec::new();
        };
        // Counted before it is made: two short lists make a long table.
        if !self.room_for(poles.len().saturating_mul(throws.len()).saturating_mul(2), use_.span) {
            *open = true;
            return Vec::new();
        }
        let mut seen = BTreeSet::new();
        for throw in &throws {
            if throw.text == "common" || !seen.insert(throw.text) {
                self.report.push(same_throw(*throw));
                *open = true;
                return Vec::new();
            }
        }
        let mut table: Vec<Throw> = throws
            .iter()
            .map(|t| Throw { name: t.text.to_owned(), joins: Vec::new(), between: false })
            .collect();
        for pole in poles {
            let common = self.add_lug(format!("{}.common", pole.text), pole.span);
            for (label, throw) in throws.iter().zip(&mut table) {
                let lug = self.add_lug(format!("{}.{}", pole.text, label.text), pole.span);
                throw.joins.push(vec![common, lug]);
            }
        }
        table
    }

    /// The names in a bracket.
    fn labels(&mut self, group: &'t Group, what: &str) -> Option<Vec<Label<'t>>> {
        let mut labels = Vec::new();
        for item in &group.items {
            match label(item) {
                Some(found) => labels.push(found),
                None if matches!(item, Item::Error(_)) => return None,
                None => {
                    self.report.push(missing(item.span(), what, true));
                    return None;
                }
            }
        }
        if labels.is_empty() {
            self.report.push(missing(group.span, what, false));
            return None;
        }
        Some(labels)
    }

    /// `throw 1 [between] joins (A.common A.1) …`
    fn throw(&mut self, use_: &Use<'t>, uses: &Uses<'t>, open: bool) -> Option<Throw> {
        let name = use_.name?;
        let mut items = use_.items;
        let between = items.eat("between").is_some();
        let mut joins = Vec::new();
        if items.eat("joins").is_some() {
            if !matches!(items.peek(), Some(Item::Group(_))) {
                let diagnostic =
                    missing(items.here(), "the bracket with the joined lugs", items.peek().is_some())
                        .help("write `joins (A.common A.1)`, one bracket a joint");
                self.report.push(diagnostic);
                return None;
            }
            while let Some(Item::Group(group)) = items.peek() {
                items.next();
                joins.push(self.joint(group, open)?);
            }
        } else if let Some(Item::Group(group)) = items.peek() {
            let before = Span { end: group.span.start, ..group.span };
            self.report.push(
                missing(group.span, "`joins`", true)
                    .help(format!("write `throw {} joins (…)`", escape(name.text)))
                    .fix(before, "joins "),
            );
            return None;
        }
        use_.finish(&items, uses.kind, self.report);
        Some(Throw { name: name.text.to_owned(), joins, between })
    }

    fn joint(&mut self, group: &'t Group, open: bool) -> Option<Vec<LugId>> {
        let labels = self.labels(group, "a lug")?;
        if labels.len() == 1 {
            self.report.push(
                Diagnostic::error(Code::BadProperty, group.span, "a joint joins at least two lugs")
                    .help("a throw that joins nothing has no `joins`"),
            );
            return None;
        }
        if !self.room_for(labels.len(), group.span) {
            return None;
        }
        let mut lugs: Vec<LugId> = Vec::new();
        let mut seen = BTreeSet::new();
        let mut all = true;
        for lug in labels {
            match self.lug_of(self.next_part(), lug.text) {
                Some(found) if !seen.insert(found) => {
                    self.report.push(Diagnostic::error(
                        Code::BadProperty,
                        lug.span,
                        format!("`{}` is twice in one joint", escape(lug.text)),
                    ));
                    all = false;
                }
                Some(found) => lugs.push(found),
                None => {
                    all = false;
                    if !open {
                        self.unlisted(lug);
                    }
                }
            }
        }
        all.then_some(lugs)
    }

    fn unlisted(&mut self, lug: Label<'t>) {
        let mut names = self.lug_names(self.next_part());
        names.reverse();
        let mut diagnostic = Diagnostic::error(
            Code::UnknownLug,
            lug.span,
            format!("the switch has no lug `{}`", escape(lug.text)),
        )
        .note(format!("its lugs are {}", listed(names.iter().copied())));
        if let Some(close) = self.report.closest(lug.text, names.iter().copied()) {
            diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(lug.span, close);
        }
        self.report.push(diagnostic);
    }

    fn rest(&mut self, name: Label<'t>, uses: &Uses<'t>, throws: &[Throw]) -> Option<usize> {
        let Some(use_) = uses.get("rest") else {
            let first = throws.iter().position(|t| !t.between);
            if first.is_none() {
                self.report.push(Diagnostic::error(
                    Code::MissingValue,
                    name.span,
                    "all throws of the switch are in between",
                ));
            }
            return first;
        };
        let mut items = use_.items;
        let rest = items.expect_label("a throw", self.report)?;
        use_.finish(&items, uses.kind, self.report);
        match throws.iter().position(|t| t.name == rest.text) {
            Some(found) if !throws[found].between => Some(found),
            Some(_) => {
                self.report.push(Diagnostic::error(
                    Code::BadProperty,
                    rest.span,
                    "a switch can't rest in between two throws",
                ));
                None
            }
            None => {
                let diagnostic = self.unknown_throw(rest, throws);
                self.report.push(diagnostic);
                None
            }
        }
    }

    /// No such throw.
    pub(crate) fn unknown_throw(&self, throw: Label<'_>, throws: &[Throw]) -> Diagnostic {
        let names = || throws.iter().map(|t| t.name.as_str());
        let diagnostic = Diagnostic::error(
            Code::UnknownThrow,
            throw.span,
            format!("the switch has no throw `{}`", escape(throw.text)),
        )
        .note(format!("its throws are {}", listed(names())));
        match self.report.closest(throw.text, names()) {
            Some(close) => diagnostic.help(format!("did you mean `{close}`?")).fix(throw.span, close),
            None if trade::is_middle(throw.text) && names().any(|name| name == "mid") => {
                diagnostic.help("did you mean `mid`?").fix(throw.span, "mid")
            }
            None if throws.iter().any(|throw| throw.name.contains('-'))
                && throw.text.parse::<u8>().is_ok() =>
            {
                diagnostic.help(
                    "its stops in between have two numbers; a lever with five of its own is `lever-5-super`",
                )
            }
            None => diagnostic,
        }
    }
}

fn same_throw(throw: Label<'_>) -> Diagnostic {
    let text = if throw.text == "common" {
        "a throw of a selector can't be called `common`".to_owned()
    } else {
        format!("the throw `{}` is there twice", escape(throw.text))
    };
    Diagnostic::error(Code::SameName, throw.span, text)
}
