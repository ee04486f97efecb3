//! The harness while it is made: parts, lugs, joints, and the names that lead to them.

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{
    Assumption, CrossCoupling, Joint, JointKind, Lug, LugId, Outlet, Part, PartId, PartKind, ShortForm,
};
use crate::resolve::load::Loaded;
use crate::resolve::pattern::Patterns;
use crate::resolve::properties::Layer;
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::Kind;
use crate::resolve::trade;
use crate::source::Span;
use crate::syntax::tree::{Statement, Word};

/// Most lugs, joints, contacts and couplings of a harness together.
const ELEMENT_LIMIT: usize = 100_000;

/// A part's name and how far it got.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Declared {
    pub(crate) span: Span,
    /// None until it is built, and for statements that could not be read.
    pub(crate) id: Option<PartId>,
    /// None where even the kind is unknown.
    pub(crate) kind: Option<&'static Kind>,
    /// Its lugs may not all be known, because something in it was not understood.
    pub(crate) open: bool,
}

/// A harness in the making.
#[derive(Debug)]
pub(crate) struct Build<'r, 't> {
    pub(crate) loaded: &'t Loaded,
    pub(crate) unit: usize,
    pub(crate) patterns: &'r mut Patterns<'t>,
    pub(crate) report: &'r mut Report<'t>,
    pub(crate) string_count: u32,
    pub(crate) names: BTreeMap<&'t str, Declared>,
    pub(crate) parts: Vec<Part>,
    pub(crate) lugs: Vec<Lug>,
    pub(crate) joints: Vec<Joint>,
    pub(crate) cross_couplings: Vec<CrossCoupling>,
    pub(crate) outlets: Vec<Outlet>,
    pub(crate) assumptions: Vec<Assumption>,
    pub(crate) derived: Vec<Assumption>,
    pub(crate) short_forms: Vec<ShortForm>,
    /// What the variant says of parts of the guitar, over what the guitar says.
    pub(crate) over: BTreeMap<&'t str, Layer<'t>>,
    /// Parts that the variant has spoken of.
    pub(crate) varied: BTreeMap<&'t str, Span>,
    /// The variant that this is a build of.
    pub(crate) variant: Option<&'t Statement>,
    /// `part.lug` as wires mention them, for lugs that exist only when mentioned.
    pub(crate) mentioned: BTreeSet<(&'t str, &'t str)>,
    /// Pots whose audio share is assumed.
    pub(crate) assumed_tapers: Vec<(String, &'static str, Span)>,
    /// `cable none` was said there.
    pub(crate) no_cable: Option<Span>,
    by_name: BTreeMap<(PartId, String), LugId>,
    /// Whether the file has no jack, once somebody has asked.
    jackless: OnceCell<bool>,
    pub(crate) elements: usize,
}

impl<'r, 't> Build<'r, 't> {
    pub(crate) fn new(
        loaded: &'t Loaded,
        unit: usize,
        patterns: &'r mut Patterns<'t>,
        report: &'r mut Report<'t>,
    ) -> Self {
        Build {
            loaded,
            unit,
            patterns,
            report,
            string_count: 6,
            names: BTreeMap::new(),
            parts: Vec::new(),
            lugs: Vec::new(),
            joints: Vec::new(),
            cross_couplings: Vec::new(),
            outlets: Vec::new(),
            assumptions: Vec::new(),
            derived: Vec::new(),
            short_forms: Vec::new(),
            over: BTreeMap::new(),
            varied: BTreeMap::new(),
            variant: None,
            mentioned: BTreeSet::new(),
            assumed_tapers: Vec::new(),
            no_cable: None,
            by_name: BTreeMap::new(),
            jackless: OnceCell::new(),
            elements: 0,
        }
    }

    /// Counts elements before they are made.
    ///
    /// Returns false, and says so once, when there would be too many.
    pub(crate) fn room_for(&mut self, more: usize, span: Span) -> bool {
        let before = self.elements;
        self.elements = self.elements.saturating_add(more);
        if self.elements <= ELEMENT_LIMIT {
            return true;
        }
        if before <= ELEMENT_LIMIT {
            self.report.push(
                Diagnostic::error(
                    Code::TooLarge,
                    span,
                    format!("more than {ELEMENT_LIMIT} lugs, joints, contacts and couplings together"),
                )
                .label("the limit is passed here"),
            );
        }
        false
    }

    /// True when nothing more is worth looking at: the harness is refused anyway.
    pub(crate) fn exhausted(&self) -> bool {
        self.elements > ELEMENT_LIMIT || self.report.is_full()
    }

    /// The index that the part in the making will have.
    pub(crate) fn next_part(&self) -> PartId {
        PartId(self.parts.len() as u32)
    }

    /// Adds a lug to the part in the making; two of one name are an error.
    pub(crate) fn add_lug(&mut self, name: impl Into<String>, span: Span) -> LugId {
        let (part, name) = (self.next_part(), name.into());
        let id = LugId(self.lugs.len() as u32);
        if !self.room_for(1, span) {
            return self.by_name.get(&(part, name)).copied().unwrap_or(LugId(0));
        }
        if let Some(known) = self.by_name.get(&(part, name.clone())) {
            self.report.push(
                Diagnostic::error(Code::SameName, span, format!("two lugs are called `{}`", escape(&name)))
                    .help("give one of them another name"),
            );
            return *known;
        }
        self.by_name.insert((part, name.clone()), id);
        self.lugs.push(Lug { part, name });
        id
    }

    /// Finishes the part in the making; its lugs are those from `first` on.
    pub(crate) fn add_part(&mut self, name: &str, kind: PartKind, first: u32, span: Span) -> PartId {
        let id = self.next_part();
        self.parts.push(Part { name: name.to_owned(), kind, lugs: first..self.lugs.len() as u32, span });
        id
    }

    /// The lug of that name in a part, finished or in the making.
    pub(crate) fn lug_of(&self, part: PartId, name: &str) -> Option<LugId> {
        self.by_name.get(&(part, name.to_owned())).copied()
    }

    /// Names of a part's lugs, in order.
    pub(crate) fn lug_names(&self, part: PartId) -> Vec<&str> {
        match self.parts.get(part.0 as usize) {
            Some(part) => part.lugs.clone().map(|l| self.lugs[l as usize].name.as_str()).collect(),
            None => self.lugs.iter().rev().take_while(|l| l.part == part).map(|l| l.name.as_str()).collect(),
        }
    }

    pub(crate) fn join(&mut self, a: LugId, b: LugId, span: Span, kind: JointKind) {
        if self.room_for(1, span) {
            self.joints.push(Joint { a, b, span, kind });
        }
    }

    pub(crate) fn assume(&mut self, text: String, span: Span) {
        self.assumptions.push(Assumption { text, span });
    }

    /// The declared part of that name; an unknown one is an error.
    pub(crate) fn part(&mut self, name: &str, span: Span) -> Option<Declared> {
        if let Some(declared) = self.names.get(name) {
            return Some(*declared);
        }
        let mut diagnostic =
            Diagnostic::error(Code::UnknownName, span, format!("no part is called `{}`", escape(name)));
        diagnostic = match self.report.closest(name, self.names.keys().copied()) {
            Some(close) => diagnostic
                .help(format!("did you mean `{close}`?"))
                .also(self.names[close].span, format!("`{close}` is declared here"))
                .fix(span, close),
            None => diagnostic.note(format!("the parts are {}", listed(self.names.keys().copied()))),
        };
        if let Some(lug) = trade_word(name)
            && let [(jack, ..)] = self.of_kind("jack")[..]
        {
            diagnostic.notes.clear();
            let whole = self.report.text(Span { end: span.end.saturating_add(1), ..span });
            // `output.tip` names the lug already.
            if whole.ends_with('.') {
                diagnostic.help = Some(format!("the jack is called `{jack}`"));
                diagnostic = diagnostic.fix(span, jack.to_owned());
            } else {
                diagnostic.help = Some(format!("{} is the jack's {lug}: `{jack}.{lug}`", escape(name)));
                diagnostic = diagnostic.fix(span, format!("{jack}.{lug}"));
            }
        }
        if let Some(line) = whole_line(name) {
            diagnostic.notes.clear();
            diagnostic = diagnostic.help(format!("add the line `{line}`"));
        }
        // The same name again is the same part that is not there.
        self.report.push_of(span, diagnostic);
        None
    }

    /// The lug that `part.lug` names; None once what is wrong has been said.
    pub(crate) fn lug(&mut self, word: &Word) -> Option<LugId> {
        let (name, lug) = word.text.split_once('.').unwrap_or((&word.text, ""));
        let name_span = Span { end: word.span.start + name.len() as u32, ..word.span };
        let is_plug = matches!(lug, "tip" | "sleeve" | "ring");
        let jackless = || *self.jackless.get_or_init(|| self.of_kind("jack").is_empty());
        if is_plug && !self.names.contains_key(name) && jackless() {
            // That there is no jack is said once.
            return None;
        }
        let declared = self.part(name, name_span)?;
        let part = declared.id?;
        if let Some(found) = self.lug_of(part, lug) {
            return Some(found);
        }
        let names = self.lug_names(part);
        if lug.is_empty() {
            if let [_] = names[..] {
                return Some(LugId(self.parts[part.0 as usize].lugs.start));
            }
            let list = listed(
                names.iter().map(|l| format!("{name}.{l}")).collect::<Vec<_>>().iter().map(String::as_str),
            );
            let diagnostic =
                Diagnostic::error(Code::NoLug, word.span, format!("`{}` is a part, not a lug", escape(name)))
                    .note(format!("its lugs are {list}"))
                    .also(declared.span, "declared here")
                    .help(format!("write which of them, as in `{name}.{}`", names.first().unwrap_or(&"")));
            if !declared.open {
                self.report.push(diagnostic);
            }
            return None;
        }
        if declared.open {
            return None;
        }
        // A short form says the part alone; its lug is what the form makes it.
        let lug_span = Span { start: (name_span.end + 1).min(word.span.end), ..word.span };
        let subject = declared.span;
        let diagnostic = self.unknown_lug(name, lug, lug_span, part).also(subject, "declared here");
        self.report.push_of(subject, diagnostic);
        None
    }

    fn unknown_lug(&self, name: &str, lug: &str, span: Span, part: PartId) -> Diagnostic {
        let names = self.lug_names(part);
        let mut diagnostic = Diagnostic::error(
            Code::UnknownLug,
            span,
            format!("`{}` has no lug `{}`", escape(name), escape(lug)),
        );
        if let [""] = names[..] {
            return diagnostic
                .note(format!("`{name}` has one lug, which is named by the part alone"))
                .help(format!("write `{name}`"));
        }
        let inside = inside(&names, lug);
        if !inside.is_empty() {
            return not_a_lug(&format!("{name}.{lug}"), span, &inside);
        }
        diagnostic = diagnostic.note(format!("its lugs are {}", listed(names.iter().copied())));
        let kind = self.parts.get(part.0 as usize).map(|part| &part.kind);
        // A lug that another body has is no slip of the pen.
        if let Some(advice) = trade::wider_lever(&names, lug) {
            diagnostic = diagnostic.help(advice);
        } else if let Some(close) = self.report.closest(lug, names.iter().copied()) {
            diagnostic = diagnostic.help(format!("did you mean `{name}.{close}`?")).fix(span, close);
        } else if self.parts.get(part.0 as usize).is_some_and(|p| matches!(p.kind, PartKind::Pickup(_)))
            && matches!(lug, "start" | "finish")
        {
            diagnostic = diagnostic.help(format!("name the coil too: `{name}.COIL.{lug}`"));
        } else if let (Some(PartKind::Jack(_)), Some(meant)) = (kind, trade_word(lug)) {
            diagnostic = diagnostic.help(format!("{lug} is the {meant}: `{name}.{meant}`")).fix(span, meant);
        } else if let Some(PartKind::Pot(_)) = kind {
            diagnostic = diagnostic.help("`1` and `3` are the ends of the track, `2` is the wiper");
        } else if lug == "ring" {
            diagnostic = diagnostic.help("only a `stereo` jack has a ring");
        }
        diagnostic
    }

    /// A lug of the part in the making, named as inside it: `slug.start`, `cover`.
    pub(crate) fn own_lug(&mut self, word: &Word, open: bool) -> Option<LugId> {
        let part = self.next_part();
        if let Some(found) = self.lug_of(part, &word.text) {
            return Some(found);
        }
        if open {
            return None;
        }
        let mut names = self.lug_names(part);
        names.reverse();
        let inside = inside(&names, &word.text);
        let diagnostic = if inside.is_empty() {
            let diagnostic = Diagnostic::error(
                Code::UnknownLug,
                word.span,
                format!("there is no lug `{}` here", escape(&word.text)),
            )
            .note(format!("there are {}", listed(names.iter().copied())));
            match self.report.closest(&word.text, names.iter().copied()) {
                Some(close) => diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close),
                None => diagnostic,
            }
        } else {
            not_a_lug(&word.text, word.span, &inside)
        };
        self.report.push(diagnostic);
        None
    }
}

/// The statement that is missing where a part is called by the word that declares it.
fn whole_line(name: &str) -> Option<&'static str> {
    match name {
        "strings" => Some("strings"),
        "shield" => Some("shield"),
        _ => None,
    }
}

/// The lug of a jack that goes by another word at the bench.
fn trade_word(word: &str) -> Option<&'static str> {
    match word.to_ascii_lowercase().as_str() {
        "ground" | "gnd" | "earth" => Some("sleeve"),
        "hot" | "output" => Some("tip"),
        _ => None,
    }
}

/// Lugs whose names start with that one and a dot.
fn inside<'n>(names: &[&'n str], lug: &str) -> Vec<&'n str> {
    names.iter().copied().filter(|l| l.strip_prefix(lug).is_some_and(|rest| rest.starts_with('.'))).collect()
}

/// A coil, gang or pole where one of its lugs is needed.
fn not_a_lug(name: &str, span: Span, inside: &[&str]) -> Diagnostic {
    Diagnostic::error(Code::NoLug, span, format!("`{}` has several lugs", escape(name)))
        .note(format!("they are {}", listed(inside.iter().copied())))
        .help("write which of them")
}
