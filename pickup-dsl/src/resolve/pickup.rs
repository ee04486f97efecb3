//! Pickups: coils, how they are coupled, what was joined at the factory, and their metal parts.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::metal::OF_PICKUP;
use crate::harness::{Assumption, CoverCapacitance, JointKind, LugId, PartKind, Pickup};
use crate::resolve::build::Build;
use crate::resolve::coil::{Assumed, Ends, Shared, coil, read_construction};
use crate::resolve::coupling;
use crate::resolve::cursor::{Items, Label, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::schema::{COIL, Range};
use crate::resolve::show::digits;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Clause, Dimension, Item, Word};

/// A coil's name, place, properties and ends.
struct Winding<'t> {
    name: &'t str,
    span: Span,
    /// None for a lone coil, whose properties are the part's.
    uses: Option<Uses<'t>>,
    ends: Ends<'t>,
}

impl<'t> Build<'_, 't> {
    /// A `coil` of its own or a `pickup`. Its lugs exist even where its values fail; `open` tells that they may not be all.
    pub(crate) fn pickup(&mut self, name: Label<'t>, uses: &Uses<'t>, open: &mut bool) -> Option<PartKind> {
        let errors = self.report.errors();
        *open |= !uses.clean;
        let windings = self.windings(name, uses, open);
        if windings.is_empty() {
            if !*open {
                self.report.push(
                    Diagnostic::error(Code::MissingValue, name.span, "a pickup holds at least one coil")
                        .help("write its coils in braces: `coil slug 4k 2.2H`"),
                );
            }
            *open = true;
            return None;
        }
        for use_ in uses.all("lead") {
            self.colour(use_, uses, *open);
        }
        self.metal_lugs(name, uses);
        self.links(uses, *open);
        let capacitances = self.metal_capacitances(uses, &windings, *open);
        let braided = self.bonds(uses, *open);
        let (coils, assumed) = self.coils(uses, &windings);
        if coils.len() < windings.len() {
            return None;
        }
        let pairs = coils.len() * (coils.len() - 1) / 2;
        if !self.room_for(pairs, name.span) {
            return None;
        }
        let (couplings, coupling) = coupling::inside(uses, &coils, name.span, self.report)?;
        self.say_assumed(
            name,
            &coils.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(),
            &assumed,
            coupling,
        );
        (self.report.errors() == errors).then_some(PartKind::Pickup(Pickup {
            coils,
            couplings,
            capacitances,
            stacked: uses.has("stacked"),
            braided,
        }))
    }

    /// The coils with their lugs.
    fn windings(&mut self, name: Label<'t>, uses: &Uses<'t>, open: &mut bool) -> Vec<Winding<'t>> {
        let mut windings = Vec::new();
        if uses.kind.word == "coil" {
            let taps: Vec<_> = uses.all("tap").cloned().collect();
            *open |= taps.iter().any(is_nowhere);
            let ends = self.ends("", name.span, taps);
            windings.push(Winding { name: "", span: name.span, uses: None, ends });
        }
        for use_ in uses.all("coil") {
            let Some(coil_name) = use_.name else { continue };
            if coil_name.text.contains('.') {
                let mut diagnostic =
                    Diagnostic::error(Code::BadName, coil_name.span, "a coil's name has no dot");
                if coil_name.text.starts_with(|c: char| c.is_ascii_digit()) {
                    let value = escape(coil_name.text);
                    diagnostic = diagnostic.label("a value, where the name should stand").help(format!(
                        "each coil of a pickup has a name: `coil screw {value}`; a pickup of one coil is a part by itself: `coil {} {value}`",
                        escape(name.text)
                    ));
                }
                self.report.push(diagnostic);
                *open = true;
                continue;
            }
            let mut own = Uses::new(&COIL);
            for layer in &use_.layers {
                own.overlay(Uses::read(&COIL, layer, self.report));
            }
            *open |= !own.clean;
            let taps: Vec<_> = own.all("tap").cloned().collect();
            *open |= taps.iter().any(is_nowhere);
            let ends = self.ends(coil_name.text, coil_name.span, taps);
            windings.push(Winding { name: coil_name.text, span: coil_name.span, uses: Some(own), ends });
        }
        windings
    }

    fn ends(&mut self, coil: &str, span: Span, taps: Vec<Use<'t>>) -> Ends<'t> {
        let lug = |end: &str| if coil.is_empty() { end.to_owned() } else { format!("{coil}.{end}") };
        let start = self.add_lug(lug("start"), span);
        let finish = self.add_lug(lug("finish"), span);
        let mut placed = Vec::new();
        for tap in taps {
            let Some(name) = tap.name else { continue };
            let id = self.add_lug(lug(name.text), name.span);
            placed.push((tap, id));
        }
        Ends { start, finish, taps: placed }
    }

    /// `lead COLOUR slug.start`: the colour is the same metal as the coil end.
    fn colour(&mut self, use_: &Use<'t>, uses: &Uses<'t>, open: bool) {
        let Some(colour) = use_.name else { return };
        let mut items = use_.items;
        let Some(end) = self.expect_own_lug(&mut items, "a coil end", open) else { return };
        use_.finish(&items, uses.kind, self.report);
        let lug = self.add_lug(colour.text, colour.span);
        self.join(lug, end, use_.span.to(use_.items.span()), JointKind::Colour);
    }

    /// Adds `cover`, `plate` and `braid` where a property, a bond, a jumper or a wire mentions them.
    fn metal_lugs(&mut self, name: Label<'t>, uses: &Uses<'t>) {
        for metal in OF_PICKUP {
            let inside = uses.has(metal)
                || ["wire", "bond", "jumper"].iter().any(|p| uses.all(p).any(|u| mentions(u, metal)));
            if inside || self.mentioned.contains(&(name.text, metal)) {
                self.add_lug(metal, name.span);
            }
        }
    }

    /// Factory wires and jumpers.
    fn links(&mut self, uses: &Uses<'t>, open: bool) {
        for use_ in uses.all("wire") {
            self.inner_wire(use_, uses, open);
        }
        for use_ in uses.all("jumper") {
            let mut items = use_.items;
            let Some(a) = self.expect_own_lug(&mut items, "a lug", open) else { continue };
            if items.eat("to").is_none() {
                let diagnostic = missing(items.here(), "`to`", items.peek().is_some())
                    .help("write `jumper cover to plate`");
                self.report.push(diagnostic);
                continue;
            }
            let Some(b) = self.expect_own_lug(&mut items, "a lug", open) else { continue };
            use_.finish(&items, uses.kind, self.report);
            let mut cut = false;
            for clause in use_.more {
                let mut rest = Items::of(clause);
                cut |= rest.eat("cut").is_some();
                use_.finish(&rest, uses.kind, self.report);
            }
            if !cut {
                self.join(a, b, use_.span.to(use_.items.span()), JointKind::Factory);
            }
        }
    }

    /// `wire slug.finish to screw.finish, …`, as outside, between lugs of this pickup.
    fn inner_wire(&mut self, use_: &Use<'t>, uses: &Uses<'t>, open: bool) {
        let mut items = use_.items;
        let Some(mut from) = self.expect_own_lug(&mut items, "a lug", open) else { return };
        let mut last = from;
        let mut any = false;
        while items.eat("to").is_some() {
            any = true;
            from = last;
            if let Some(Item::Group(group)) = items.peek() {
                items.next();
                let mut inner = Items::new(&group.items, group.span);
                while inner.peek().is_some() {
                    let place = inner.here();
                    let Some(to) = self.expect_own_lug(&mut inner, "a lug", open) else { return };
                    self.join(from, to, place, JointKind::Factory);
                }
                break;
            }
            let place = items.here();
            let Some(to) = self.expect_own_lug(&mut items, "a lug", open) else { return };
            self.join(from, to, place, JointKind::Factory);
            last = to;
        }
        if !any {
            let diagnostic = missing(items.here(), "`to`", items.peek().is_some());
            self.report.push(diagnostic);
            return;
        }
        use_.finish(&items, uses.kind, self.report);
        for clause in use_.more {
            let mut rest = Items::of(clause);
            let Some(to) = self.expect_own_lug(&mut rest, "a lug", open) else { return };
            self.join(from, to, clause.span, JointKind::Factory);
            use_.finish(&rest, uses.kind, self.report);
        }
    }

    /// `bond (screw.start cover braid)`; true if one is a braided single conductor's: a coil end and the braid.
    fn bonds(&mut self, uses: &Uses<'t>, open: bool) -> bool {
        let mut braided = false;
        for use_ in uses.all("bond") {
            let mut items = use_.items;
            let Some(Item::Group(group)) = items.peek() else {
                let diagnostic = missing(items.here(), "the bracket with the lugs", items.peek().is_some())
                    .help("write `bond (screw.start cover braid)`");
                self.report.push(diagnostic);
                continue;
            };
            items.next();
            use_.finish(&items, uses.kind, self.report);
            let mut inner = Items::new(&group.items, group.span);
            let mut lugs = Vec::new();
            while inner.peek().is_some() {
                let place = inner.here();
                let Some(lug) = self.expect_own_lug(&mut inner, "a lug", open) else { break };
                lugs.push((lug, place));
            }
            if lugs.len() < 2 && inner.peek().is_none() {
                self.report.push(Diagnostic::error(
                    Code::BadProperty,
                    group.span,
                    "a bond joins at least two lugs",
                ));
            }
            for pair in lugs.windows(2) {
                self.join(pair[0].0, pair[1].0, pair[1].1, JointKind::Bond);
            }
            let names: Vec<_> = lugs.iter().map(|(l, _)| self.lugs[l.0 as usize].name.as_str()).collect();
            braided |= names.contains(&"braid") && names.iter().any(|n| !OF_PICKUP.contains(n));
        }
        braided
    }

    /// `cover 40pF from slug.finish`; the cover lies over the outer turns, plate and poles at the inner ones.
    fn metal_capacitances(
        &mut self,
        uses: &Uses<'t>,
        windings: &[Winding<'t>],
        open: bool,
    ) -> Vec<CoverCapacitance> {
        let mut list = Vec::new();
        let part = self.next_part();
        for metal in ["cover", "plate"] {
            let Some(use_) = uses.get(metal) else { continue };
            let mut items = use_.items;
            if items.peek().is_none() {
                continue;
            }
            let range = Range::new((0.0, 1e-6), &[(1e-12, 500e-12)]);
            let Some(capacitance) = value(&mut items, Dimension::Farads, range, self.report) else {
                continue;
            };
            let first = &windings[0].ends;
            let mut lead = if metal == "cover" { first.finish } else { first.start };
            if items.eat("from").is_some() {
                let Some(lug) = self.expect_own_lug(&mut items, "a coil lead", open) else { continue };
                lead = lug;
            }
            use_.finish(&items, uses.kind, self.report);
            if let Some(metal) = self.lug_of(part, metal) {
                list.push(CoverCapacitance { metal, lead, capacitance });
            }
        }
        list
    }

    fn coils(
        &mut self,
        uses: &Uses<'t>,
        windings: &[Winding<'t>],
    ) -> (Vec<crate::harness::Coil>, Vec<Assumed>) {
        let mut shared = Shared::default();
        if uses.kind.word == "pickup" {
            shared.construction =
                uses.get("construction").and_then(|u| read_construction(u, uses, self.report));
            shared.strength = uses.value("strength", self.report).map(|v| v.value);
            shared.hum_area = uses.value("hum-area", self.report).map(|v| v.value);
        }
        let count = self.string_count;
        windings
            .iter()
            .filter_map(|w| {
                coil(w.uses.as_ref().unwrap_or(uses), w.name, w.span, &w.ends, shared, count, self.report)
            })
            .unzip()
    }

    /// One line of the report for each pickup.
    fn say_assumed(
        &mut self,
        name: Label<'t>,
        coils: &[&str],
        assumed: &[Assumed],
        coupling: Option<String>,
    ) {
        let mut said = shared_phrases(coils, assumed.iter().map(|a| &a.phrases));
        let turns: Vec<_> = coils
            .iter()
            .zip(assumed)
            .filter_map(|(coil, a)| a.turns.as_ref().map(|(n, from)| (*coil, libm::round(*n), from)))
            .collect();
        if let Some((_, _, from)) = turns.first() {
            let each: Vec<_> = turns
                .iter()
                .map(
                    |(coil, n, _)| {
                        if coil.is_empty() { digits(*n) } else { format!("{coil} {}", digits(*n)) }
                    },
                )
                .collect();
            said.push(format!("turns from the resistance, {from}: {}", each.join(", ")));
        }
        said.extend(coupling);
        if !said.is_empty() {
            self.assume(format!("{}: {}", name.text, said.join("; ")), name.span);
        }
        let derived = shared_phrases(coils, assumed.iter().map(|a| &a.derived));
        if !derived.is_empty() {
            let text = format!("{}: {}", name.text, derived.join("; "));
            self.derived.push(Assumption { text, span: name.span });
        }
    }

    fn expect_own_lug(&mut self, items: &mut Items<'t>, what: &str, open: bool) -> Option<LugId> {
        match items.peek() {
            Some(Item::Word(word)) => {
                items.next();
                self.own_lug(word, open)
            }
            Some(Item::Error(_)) => None,
            other => {
                let diagnostic = missing(items.here(), what, other.is_some());
                self.report.push(diagnostic);
                None
            }
        }
    }
}

/// What is said of each coil, once for those of which the same is said.
fn shared_phrases<'a>(coils: &[&str], of_each: impl Iterator<Item = &'a Vec<String>>) -> Vec<String> {
    let mut phrases: Vec<(&str, Vec<&str>)> = Vec::new();
    for (coil, said) in coils.iter().zip(of_each) {
        for phrase in said {
            match phrases.iter_mut().find(|(p, _)| p == phrase) {
                Some((_, of)) => of.push(coil),
                None => phrases.push((phrase, vec![coil])),
            }
        }
    }
    phrases
        .into_iter()
        .map(|(phrase, of)| {
            if of.len() < coils.len() { format!("{phrase} of {}", of.join(", ")) } else { phrase.to_owned() }
        })
        .collect()
}

/// Whether a link's items or clauses name that lug.
fn mentions(use_: &Use<'_>, metal: &str) -> bool {
    let is = |word: &Word| word.text == metal;
    let in_items = |items: &[Item]| {
        items.iter().any(|item| match item {
            Item::Word(word) => is(word),
            Item::Group(group) => group.items.iter().any(|i| matches!(i, Item::Word(w) if is(w))),
            _ => false,
        })
    };
    in_items(use_.items.rest()) || use_.more.iter().any(|c: &Clause| in_items(&c.items))
}

/// A tap that does not say where it is, so that what stands for its name may be none.
fn is_nowhere(tap: &Use<'_>) -> bool {
    tap.items.peek_word().is_none_or(|word| word.text != "at")
}
