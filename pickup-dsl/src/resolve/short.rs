//! Short forms: what everybody wires, written out as the wires that it stands for.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Coil, LugId, PartId, PartKind, ShortForm};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::wires::{End, Known};
use crate::source::Span;
use crate::syntax::tree::{Item, Statement, Word};

/// The words of short forms.
pub(crate) const SHORT_FORMS: &[&str] = &["coils", "tone-control", "treble-bleed"];

/// Hum that is no more than this share of what the coils would make together is gone, or is partly gone.
const GONE: f64 = 0.1;
const PARTLY: f64 = 0.5;

/// The clauses after the first: `hot lever.1`, by their word.
type Ends<'t> = BTreeMap<&'t str, Items<'t>>;

impl<'t> Build<'_, 't> {
    /// Wires a short form; what it stands for is kept to be shown.
    pub(crate) fn short_form(&mut self, statement: &'t Statement, known: &mut Known) {
        let errors = self.report.errors();
        let mut items = Items::of(&statement.clauses[0]);
        let Some(word) = items.word() else { return };
        let made = match word.text.as_str() {
            "coils" => self.join_coils(items, statement),
            "tone-control" => self.tone_control(items, statement).map(|wires| (wires, String::new())),
            _ => self.treble_bleed(items, statement).map(|wires| (wires, String::new())),
        };
        let Some((wires, chosen)) = made.filter(|_| self.report.errors() == errors) else { return };
        for (a, b) in &wires {
            let end = |lug: LugId| End { lug: Some(lug), span: statement.span };
            self.solder(end(*a), end(*b), known);
        }
        self.short_forms.push(ShortForm { span: statement.span, wires, chosen });
    }

    /// `coils A B in series, hot LUG, link LUG, ground LUG` and `coils A B in parallel, hot LUG, ground LUG`.
    fn join_coils(
        &mut self,
        mut items: Items<'t>,
        statement: &'t Statement,
    ) -> Option<(Vec<(LugId, LugId)>, String)> {
        const HELP: &str = "write `coils neck.slug neck.screw in series, hot volume.3, ground volume.case`";
        let mut coils: Vec<((PartId, usize), Span)> = Vec::new();
        while items.peek_word().is_some_and(|w| w.text != "in") {
            let (id, span) = self.coil_name(&mut items)??;
            if coils.iter().any(|(known, _)| *known == id) {
                self.report.push(Diagnostic::error(Code::SelfJoint, span, "this coil is there already"));
                return None;
            }
            coils.push((id, span));
        }
        let order = items.eat("in").and_then(|_| items.word());
        let series = match order.map(|w| w.text.as_str()) {
            Some("series") => true,
            Some("parallel") => false,
            _ => {
                let diagnostic =
                    missing(items.here(), "`in series` or `in parallel`", items.peek().is_some());
                self.report.push(diagnostic.help(HELP));
                return None;
            }
        };
        finish(&items, |_| false, self.report);
        if coils.len() < 2 {
            self.report.push(
                Diagnostic::error(Code::MissingValue, items.here(), "at least two coils are joined")
                    .help(HELP),
            );
            return None;
        }
        let allowed: &[&str] = if series { &["hot", "link", "ground"] } else { &["hot", "ground"] };
        let mut ends = self.ends_of(statement, allowed)?;
        let hot = self.one_end(&mut ends, "hot", statement, HELP)?;
        let ground = self.one_end(&mut ends, "ground", statement, HELP)?;
        let mut links = Vec::new();
        if let Some(mut link) = ends.remove("link") {
            while link.peek().is_some() {
                links.push(self.lug_at(&mut link)?);
            }
            if links.len() != coils.len() - 1 {
                self.report.push(Diagnostic::error(
                    Code::BadStatement,
                    link.span(),
                    format!("{} coils in series have {} links between them", coils.len(), coils.len() - 1),
                ));
                return None;
            }
        }
        let (turned, chosen) = self.turned(&coils);
        // The end towards hot, and the other.
        let ends: Vec<(LugId, LugId)> = coils
            .iter()
            .zip(&turned)
            .filter_map(|((id, _), turned)| {
                let coil = self.coil_of(*id)?;
                Some(if *turned { (coil.finish, coil.start) } else { (coil.start, coil.finish) })
            })
            .collect();
        let mut wires = Vec::new();
        if series {
            wires.push((hot, ends.first()?.0));
            for (i, pair) in ends.windows(2).enumerate() {
                wires.push((pair[0].1, pair[1].0));
                if let Some(link) = links.get(i) {
                    wires.push((pair[1].0, *link));
                }
            }
            wires.push((ends.last()?.1, ground));
        } else {
            wires.extend(ends.iter().map(|(top, _)| (hot, *top)));
            wires.extend(ends.iter().map(|(_, low)| (*low, ground)));
        }
        let named: Vec<String> = ends
            .iter()
            .map(|(top, _)| {
                let lug = &self.lugs[top.0 as usize];
                format!("{}.{}", self.parts[lug.part.0 as usize].name, lug.name)
            })
            .collect();
        Some((wires, format!("towards hot: {}; {chosen}", named.join(", "))))
    }

    fn coil_of(&self, (part, coil): (PartId, usize)) -> Option<&Coil> {
        match &self.parts[part.0 as usize].kind {
            PartKind::Pickup(pickup) => pickup.coils.get(coil),
            _ => None,
        }
    }

    /// Which coils have their finish towards hot, so that the strings drive hot positive; a coil without a magnet is turned so that its hum opposes.
    fn turned(&self, coils: &[((PartId, usize), Span)]) -> (Vec<bool>, String) {
        let coils: Vec<&Coil> = coils.iter().filter_map(|(id, _)| self.coil_of(*id)).collect();
        let signal = |c: &Coil| if c.strength == 0.0 { 0.0 } else { c.wound * c.pole };
        let hum = |c: &Coil| c.wound * c.turns.value * c.hum_area;
        // A string drives hot positive, so that all coils of all short forms are in phase.
        let mut sum = 0.0;
        let mut turned: Vec<Option<bool>> = coils
            .iter()
            .map(|c| {
                let s = signal(c);
                let turn = s < 0.0;
                (s != 0.0).then(|| {
                    sum += if turn { -hum(c) } else { hum(c) };
                    turn
                })
            })
            .collect();
        for (coil, turn) in coils.iter().zip(&mut turned) {
            if turn.is_none() {
                let turn_it = sum * hum(coil) > 0.0;
                sum += if turn_it { -hum(coil) } else { hum(coil) };
                *turn = Some(turn_it);
            }
        }
        let total: f64 = coils.iter().map(|c| hum(c).abs()).sum();
        let share = if total > 0.0 { sum.abs() / total } else { 0.0 };
        let said = match share {
            s if s <= GONE => "the strings add, hum cancels",
            s if s <= PARTLY => "the strings add, hum cancels partly",
            _ => "the strings add, and so does hum",
        };
        (turned.into_iter().map(|t| t.unwrap_or(false)).collect(), said.to_owned())
    }

    /// `tone-control POT CAPACITOR before VOLUME, capacitor on wiper, ground LUG`.
    fn tone_control(
        &mut self,
        mut items: Items<'t>,
        statement: &'t Statement,
    ) -> Option<Vec<(LugId, LugId)>> {
        const HELP: &str = "write `tone-control tone C1 before volume, ground volume.case`";
        let pot = self.word_of(&mut items, "the tone pot", HELP)?;
        let capacitor = self.word_of(&mut items, "the capacitor", HELP)?;
        let place = items.word();
        let hot = match place.map(|w| w.text.as_str()) {
            Some("before") => {
                let volume = self.word_of(&mut items, "the volume pot", HELP)?;
                self.lug_in(volume, "3")?
            }
            Some("after") => {
                let volume = self.word_of(&mut items, "the volume pot", HELP)?;
                self.lug_in(volume, "2")?
            }
            Some("at") => self.lug_at(&mut items)?,
            _ => {
                let span = place.map_or(items.here(), |w| w.span);
                self.report.push(
                    missing(span, "`before VOLUME`, `after VOLUME` or `at LUG`", place.is_some()).help(HELP),
                );
                return None;
            }
        };
        finish(&items, |_| false, self.report);
        let mut ends = self.ends_of(statement, &["capacitor", "ground"])?;
        let ground = self.one_end(&mut ends, "ground", statement, HELP)?;
        let mut on_lug = false;
        if let Some(mut how) = ends.remove("capacitor") {
            let on = how.eat("on").and_then(|_| how.word());
            match on.map(|w| w.text.as_str()) {
                Some("wiper") => {}
                Some("lug") => on_lug = true,
                _ => {
                    let diagnostic = missing(how.here(), "`on wiper` or `on lug`", how.peek().is_some());
                    self.report.push(diagnostic);
                    return None;
                }
            }
            finish(&how, |_| false, self.report);
        }
        let (end, wiper) = (self.lug_in(pot, "1")?, self.lug_in(pot, "2")?);
        let (near, far) = (self.lug_in(capacitor, "1")?, self.lug_in(capacitor, "2")?);
        let (first, second) = if on_lug { (wiper, end) } else { (end, wiper) };
        Some(vec![(hot, first), (second, near), (far, ground)])
    }

    /// `treble-bleed C3 across POT`, `treble-bleed C3 R3 parallel across POT`, `… series …`, `treble-bleed C3 R3 R4 mixed across POT`.
    fn treble_bleed(
        &mut self,
        mut items: Items<'t>,
        statement: &'t Statement,
    ) -> Option<Vec<(LugId, LugId)>> {
        const HELP: &str = "write `treble-bleed C3 across volume`, `treble-bleed C3 R3 parallel across volume`, `… series …`, or `treble-bleed C3 R3 R4 mixed across volume`";
        let mut parts: Vec<&'t Word> = Vec::new();
        while let Some(word) = items.peek_word() {
            if matches!(word.text.as_str(), "parallel" | "series" | "mixed" | "across") {
                break;
            }
            items.next();
            parts.push(word);
        }
        let how = items.peek_word().map_or("", |w| w.text.as_str());
        let how = if how == "across" { "" } else { how };
        if !how.is_empty() {
            items.next();
        }
        let good = items.eat("across").is_some()
            && matches!((parts.len(), how), (1, "") | (2, "parallel" | "series") | (3, "mixed"));
        if !good {
            let span = statement.clauses[0].span;
            self.report.push(
                Diagnostic::error(Code::BadStatement, span, "this treble bleed can't be read")
                    .label("a capacitor, perhaps resistors and how they lie, and the volume pot")
                    .help(HELP),
            );
            return None;
        }
        let pot = self.word_of(&mut items, "the volume pot", HELP)?;
        finish(&items, |_| false, self.report);
        self.ends_of(statement, &[])?;
        let (top, wiper) = (self.lug_in(pot, "3")?, self.lug_in(pot, "2")?);
        let mut lugs = Vec::new();
        for part in parts {
            lugs.push((self.lug_in(part, "1")?, self.lug_in(part, "2")?));
        }
        Some(match (&lugs[..], how) {
            ([c], _) => vec![(top, c.0), (wiper, c.1)],
            ([c, r], "series") => vec![(top, c.0), (c.1, r.0), (wiper, r.1)],
            ([c, r, s], _) => vec![(top, c.0), (c.0, r.0), (c.1, r.1), (r.1, s.0), (wiper, s.1)],
            ([c, r], _) => vec![(top, c.0), (c.0, r.0), (wiper, c.1), (c.1, r.1)],
            _ => return None,
        })
    }

    /// The clauses after the first, by their word; None once what is wrong has been said.
    fn ends_of(&mut self, statement: &'t Statement, allowed: &[&str]) -> Option<Ends<'t>> {
        let mut ends = Ends::new();
        for clause in &statement.clauses[1..] {
            let mut items = Items::of(clause);
            let word = items.word().filter(|w| allowed.contains(&w.text.as_str()));
            let Some(word) = word else {
                let list = crate::resolve::report::listed(allowed.iter().copied());
                let diagnostic = Diagnostic::error(Code::BadStatement, clause.span, "this has no place here");
                self.report.push(diagnostic.note(format!("here may stand {list}")));
                return None;
            };
            if ends.insert(word.text.as_str(), items).is_some() {
                let text = format!("`{}` is said twice", escape(&word.text));
                self.report.push(Diagnostic::error(Code::RepeatedProperty, word.span, text));
                return None;
            }
        }
        Some(ends)
    }

    fn one_end(
        &mut self,
        ends: &mut Ends<'t>,
        word: &str,
        statement: &Statement,
        help: &str,
    ) -> Option<LugId> {
        let Some(mut items) = ends.remove(word) else {
            let end = Span { start: statement.span.end, ..statement.span };
            self.report.push(missing(end, &format!("`{word}` with its lug"), false).help(help));
            return None;
        };
        let lug = self.lug_at(&mut items);
        finish(&items, |_| false, self.report);
        lug
    }

    fn lug_at(&mut self, items: &mut Items<'t>) -> Option<LugId> {
        match items.peek() {
            Some(Item::Word(word)) => {
                items.next();
                self.lug(word)
            }
            Some(Item::Error(_)) => None,
            other => {
                let diagnostic = missing(items.here(), "a lug", other.is_some());
                self.report.push(diagnostic.help("a lug is written `part.lug`, as in `volume.2`"));
                None
            }
        }
    }

    fn word_of(&mut self, items: &mut Items<'t>, what: &str, help: &str) -> Option<&'t Word> {
        let word = items.word();
        if word.is_none() {
            let diagnostic = missing(items.here(), what, items.peek().is_some()).help(help);
            self.report.push(diagnostic);
        }
        word
    }

    /// Lug `1` of `tone`, or of the gang `tone.low`.
    fn lug_in(&mut self, part: &Word, lug: &str) -> Option<LugId> {
        let whole = Word { span: part.span, text: format!("{}.{lug}", part.text) };
        self.lug(&whole)
    }
}
