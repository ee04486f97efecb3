//! Walks over the statements of a guitar: names first, then parts, wires, plugs, positions, so that their order does not matter.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Choice, Harness, Reference};
use crate::resolve::build::{Build, Declared};
use crate::resolve::choices::{Positions, Wanted};
use crate::resolve::cursor::{Items, Label, finish, missing};
use crate::resolve::load::{Loaded, Role, first_word, is_version_line};
use crate::resolve::pattern::{Head, head, same_name};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{KINDS, Kind, Range, kind};
use crate::resolve::short::SHORT_FORMS;
use crate::resolve::value::value;
use crate::resolve::wires;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Item, Statement};

/// Statements that are no parts.
const OTHERS: &[&str] = &[
    "coilwright",
    "guitar",
    "use",
    "pattern",
    "wire",
    "plug",
    "coupling",
    "position",
    "positions",
    "reference",
    "mains",
    "string-count",
    "intend",
    "mute",
    "expect",
    "curve",
    "coils",
    "tone-control",
    "treble-bleed",
    "variant",
    "geometry",
];
/// Kept for later.
const RESERVED: &[&str] = &["limit", "free", "study"];
/// What the trade also calls them.
const OTHER_NAMES: &[(&str, &str)] = &[
    ("potentiometer", "pot"),
    ("knob", "pot"),
    ("cap", "capacitor"),
    ("choke", "inductor"),
    ("humbucker", "pickup"),
    ("output", "jack"),
    ("socket", "jack"),
    ("selector", "switch"),
    ("toggle", "switch"),
    ("bridge", "strings"),
    ("screen", "shield"),
    ("solder", "wire"),
    ("connect", "wire"),
    ("include", "use"),
    ("import", "use"),
];
/// Mains and strings, where a file does not say.
const MAINS: f64 = 50.0;

/// Statements of a guitar that are not parts, sorted by what they do.
#[derive(Default)]
pub(crate) struct Sorted<'t> {
    pub(crate) parts: Vec<Head<'t>>,
    wires: Vec<&'t Statement>,
    shorts: Vec<&'t Statement>,
    pub(crate) unsolder: Vec<&'t Statement>,
    pub(crate) plugs: Vec<&'t Statement>,
    couplings: Vec<&'t Statement>,
    pub(crate) positions: Vec<&'t Statement>,
    /// `intend` and `mute`.
    intents: Vec<&'t Statement>,
    expects: Vec<&'t Statement>,
    curves: Vec<&'t Statement>,
    /// Those that are said once, by their word.
    pub(crate) once: BTreeMap<&'static str, &'t Statement>,
}

/// Complains of what has no place in a file of patterns.
pub(crate) fn check_patterns_only<'t>(loaded: &'t Loaded, report: &mut Report<'t>) {
    for unit in loaded.units.iter().filter(|u| u.role == Role::Patterns) {
        for (i, statement) in unit.tree.statements.iter().enumerate() {
            if statement.broken || is_version_line(&unit.tree, i) {
                continue;
            }
            let word = first_word(statement);
            if word.is_some_and(|w| matches!(w.text.as_str(), "use" | "pattern")) {
                continue;
            }
            let known = word.is_some_and(|w| kind(&w.text).is_some() || OTHERS.contains(&w.text.as_str()));
            if known {
                report.push(
                    Diagnostic::error(Code::NotHere, statement.span, "a used file holds patterns only")
                        .help("put `pattern` before a part that is to be used by others"),
                );
            } else {
                unknown(statement, report);
            }
        }
    }
}

/// What a statement of an unknown word says.
fn unknown(statement: &Statement, report: &mut Report<'_>) {
    let Some(item) = statement.clauses.first().and_then(|c| c.items.first()) else { return };
    let Item::Word(word) = item else {
        if !matches!(item, Item::Error(_)) {
            report.push(
                missing(item.span(), "the word of a statement", true)
                    .note("a statement starts with a kind of part, or with `wire`, `position` and the like"),
            );
        }
        return;
    };
    let text = word.text.as_str();
    if RESERVED.contains(&text) {
        report.push(
            Diagnostic::error(Code::ReservedWord, word.span, format!("`{text}` is kept for a later version"))
                .help("take the statement out"),
        );
        return;
    }
    let words = || KINDS.iter().map(|k| k.word).chain(OTHERS.iter().copied());
    let known = OTHER_NAMES.iter().find(|(other, _)| *other == text).map(|(_, ours)| *ours);
    let mut diagnostic = Diagnostic::error(
        Code::UnknownStatement,
        word.span,
        format!("`{}` starts no statement", escape(text)),
    );
    diagnostic = match known.or_else(|| report.closest(text, words())) {
        Some(close) => diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close),
        None => diagnostic.note(format!(
            "the parts are {}; the others are {}",
            listed(KINDS.iter().map(|k| k.word)),
            listed(OTHERS.iter().copied())
        )),
    };
    report.push(diagnostic);
}

impl<'t> Build<'_, 't> {
    /// The whole harness. `reference` is the main file's statement when this is the other file that it names.
    ///
    /// What is returned is whole only if no error was reported; the second is the combination that the reference means.
    pub(crate) fn harness(
        mut self,
        reference: Option<&'t Statement>,
    ) -> (Option<Harness>, Option<Choice>, bool) {
        let mut sorted = self.sort();
        if let Some(variant) = self.variant {
            self.vary(variant, &mut sorted);
        }
        self.settings(&sorted);
        // Past a limit or with too many mistakes the harness is refused: nothing more is built.
        for part in &sorted.parts {
            if self.exhausted() {
                break;
            }
            self.build_part(part);
        }
        for statement in &sorted.couplings {
            if self.exhausted() {
                break;
            }
            self.cross_coupling(statement);
        }
        self.check_cross_couplings();
        let geometry = sorted.once.get("geometry").and_then(|statement| self.geometry(statement));
        let mut known = wires::Known::new();
        for statement in &sorted.wires {
            if self.exhausted() {
                break;
            }
            self.wire(statement, &mut known);
        }
        for statement in &sorted.shorts {
            if self.exhausted() {
                break;
            }
            self.short_form(statement, &mut known);
        }
        for statement in &sorted.unsolder {
            self.unsolder(statement);
        }
        let socket = self.socket(self.end_of_file());
        if let Some(socket) = socket {
            self.plug_in(&sorted.plugs, socket);
            if self.outlets.is_empty() && self.report.errors() == 0 {
                let span = self.variant.map_or(socket.span, |v| v.span);
                self.report.push(
                    Diagnostic::error(Code::BadChain, span, "nothing is plugged in any more")
                        .help("say with `plug` what follows the jack here"),
                );
            }
        }
        self.say_assumed_tapers();
        let mut positions = Positions::default();
        for statement in &sorted.positions {
            if self.exhausted() {
                break;
            }
            self.position(statement, &mut positions);
        }
        let named_only = self.named_only(&sorted, &positions);
        if !named_only {
            self.count_positions();
        }
        let (chosen, elsewhere) = match reference {
            Some(statement) => (self.wanted_here(statement, &positions), false),
            // The guitar's reference serves its variants.
            None if self.variant.is_some() => (None, false),
            None => self.main_reference(&sorted, &positions),
        };
        let mut intents = Vec::new();
        for statement in &sorted.intents {
            if self.exhausted() {
                break;
            }
            intents.extend(match first_word(statement) {
                Some(word) if word.text == "mute" => self.mute(statement, &positions),
                _ => self.intend(statement, &positions),
            });
        }
        let curves = self.curves(&sorted.curves);
        let mut expectations = Vec::new();
        for statement in &sorted.expects {
            if self.exhausted() {
                break;
            }
            self.expect(statement, &positions, &curves, &mut expectations);
        }
        let complete = self.report.errors() == 0;
        let (loose, unusual) = if complete { self.look(&intents) } else { (Vec::new(), false) };
        let ground = socket.and_then(|s| self.lug_of(s.part, "sleeve"));
        let harness = ground.filter(|_| complete).map(|ground| Harness {
            title: sorted.once.get("guitar").and_then(|s| title(s)),
            mains: self.mains(&sorted),
            string_count: self.string_count,
            parts: self.parts,
            lugs: self.lugs,
            joints: self.joints,
            cross_couplings: self.cross_couplings,
            ground,
            outlets: self.outlets,
            positions: positions.list,
            named_only,
            reference: match (&chosen, reference) {
                (Some(choice), None) => Reference::Here(choice.clone()),
                _ => Reference::Rest,
            },
            geometry,
            assumptions: self.assumptions,
            derived: self.derived,
            intents,
            expectations,
            loose,
            unusual,
            short_forms: self.short_forms,
        });
        (harness, chosen, elsewhere)
    }

    fn end_of_file(&self) -> Span {
        let tree = &self.loaded.units[self.unit].tree;
        let file = tree.statements.first().map_or(0, |s| s.span.file);
        let end = self.report.sources.get(file).text.len() as u32;
        Span { file, start: end, end }
    }

    /// Names the parts and sorts the rest.
    fn sort(&mut self) -> Sorted<'t> {
        let mut sorted = Sorted::default();
        let tree = &self.loaded.units[self.unit].tree;
        for (i, statement) in tree.statements.iter().enumerate() {
            if !is_version_line(tree, i) {
                self.sort_one(statement, &mut sorted);
            }
        }
        sorted
    }

    /// Puts one statement where it belongs.
    pub(crate) fn sort_one(&mut self, statement: &'t Statement, sorted: &mut Sorted<'t>) {
        let Some(word) = first_word(statement) else {
            if !statement.broken {
                unknown(statement, self.report);
            }
            return;
        };
        let text = word.text.as_str();
        if let Some(kind) = kind(text) {
            self.part_statement(kind, statement, sorted);
            return;
        }
        if text == "wire" || SHORT_FORMS.contains(&text) {
            self.mentions(statement);
        }
        if statement.broken {
            return;
        }
        match text {
            "coilwright" | "use" | "pattern" => {}
            "variant" => return,
            "wire" => sorted.wires.push(statement),
            "plug" => sorted.plugs.push(statement),
            "coupling" => sorted.couplings.push(statement),
            "position" => sorted.positions.push(statement),
            "intend" | "mute" => sorted.intents.push(statement),
            "expect" => sorted.expects.push(statement),
            "curve" => sorted.curves.push(statement),
            "guitar" => self.once("guitar", statement, sorted),
            "positions" => self.once("positions", statement, sorted),
            "reference" => self.once("reference", statement, sorted),
            "mains" => self.once("mains", statement, sorted),
            "string-count" => self.once("string-count", statement, sorted),
            "geometry" => self.once("geometry", statement, sorted),
            short if SHORT_FORMS.contains(&short) => sorted.shorts.push(statement),
            _ => {
                unknown(statement, self.report);
                // What was meant as a part keeps its name, so that its wires are not complained of.
                if let Some(Item::Word(name)) = statement.clauses[0].items.get(1)
                    && !name.text.contains('.')
                {
                    self.names.entry(&name.text).or_insert(Declared {
                        span: name.span,
                        id: None,
                        kind: None,
                        open: true,
                    });
                }
                return;
            }
        }
        if let Some(block) = statement
            .block
            .as_ref()
            .filter(|_| !matches!(text, "wire" | "pattern" | "geometry" | "expect" | "curve"))
        {
            self.report.push(Diagnostic::error(Code::NotHere, block.span, "braces have no meaning here"));
        }
    }

    /// Lugs that exist once a wire mentions them.
    fn mentions(&mut self, statement: &'t Statement) {
        for word in wires::words(statement) {
            if let Some((part, lug)) = word.text.split_once('.')
                && matches!(lug, "cover" | "plate" | "braid")
            {
                self.mentioned.insert((part, lug));
            }
        }
    }

    fn once(&mut self, word: &'static str, statement: &'t Statement, sorted: &mut Sorted<'t>) {
        match sorted.once.get(word) {
            Some(first) => self.report.push(
                Diagnostic::error(Code::RepeatedProperty, statement.span, format!("`{word}` is said twice"))
                    .label("again")
                    .also(first.span, "first here")
                    .help("keep one of them"),
            ),
            None => {
                sorted.once.insert(word, statement);
            }
        }
    }

    pub(crate) fn part_statement(
        &mut self,
        kind: &'static Kind,
        statement: &'t Statement,
        sorted: &mut Sorted<'t>,
    ) {
        let word = statement.clauses[0].items[0].span();
        if statement.broken {
            // Its name is kept, so that nothing else complains of it.
            let name = match statement.clauses[0].items.get(1) {
                Some(Item::Word(name)) if !name.text.contains('.') => {
                    Label { text: &name.text, span: name.span }
                }
                _ => Label { text: kind.word, span: word },
            };
            let declared = Declared { span: name.span, id: None, kind: Some(kind), open: true };
            self.names.entry(name.text).or_insert(declared);
            return;
        }
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        if kind.word == "cable" && items.peek_word().is_some_and(|w| w.text == "none") {
            items.next();
            finish(&items, |_| false, self.report);
            self.no_cable.get_or_insert(statement.span);
            return;
        }
        let Some(head) = head(kind, word, items, statement, self.report) else { return };
        if let Some(first) = self.names.get(head.name.text) {
            let diagnostic = same_name(head.name, first.span, "parts");
            self.report.push(diagnostic);
            return;
        }
        let declared = Declared { span: head.name.span, id: None, kind: Some(kind), open: true };
        self.names.insert(head.name.text, declared);
        sorted.parts.push(head);
    }

    /// `string-count`, which coils need; and mistakes in the title and the mains.
    fn settings(&mut self, sorted: &Sorted<'t>) {
        if let Some(statement) = sorted.once.get("string-count") {
            let range = Range::new((1.0, 64.0), &[]);
            if let Some(count) = self.number(statement, Dimension::Count, range) {
                if libm::trunc(count) == count {
                    self.string_count = count as u32;
                } else {
                    self.report.push(Diagnostic::error(
                        Code::OutOfRange,
                        statement.clauses[0].items[1].span(),
                        "strings are counted 1, 2, 3",
                    ));
                }
            }
        }
        self.mains(sorted);
        if let Some(statement) = sorted.once.get("guitar")
            && title(statement).is_none()
        {
            let here = Items::of(&statement.clauses[0]).span();
            self.report.push(missing(here, "the title in quotes", true).help("write `guitar \"TITLE\"`"));
        }
    }

    fn mains(&mut self, sorted: &Sorted<'t>) -> f64 {
        let range = Range::new((1.0, 1000.0), &[(50.0, 50.0), (60.0, 60.0)]);
        let Some(statement) = sorted.once.get("mains") else { return MAINS };
        self.number(statement, Dimension::Hertz, range).unwrap_or(MAINS)
    }

    /// The one value of a statement.
    fn number(&mut self, statement: &'t Statement, want: Dimension, range: Range) -> Option<f64> {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let read = value(&mut items, want, range, self.report)?;
        finish(&items, |_| false, self.report);
        if let Some(extra) = statement.clauses.get(1) {
            self.report.push(Diagnostic::error(Code::BadStatement, extra.span, "more than can stand here"));
        }
        Some(read.value)
    }

    /// `positions named only`
    fn named_only(&mut self, sorted: &Sorted<'t>, positions: &Positions) -> bool {
        let Some(statement) = sorted.once.get("positions") else { return false };
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let good = items.eat("named").is_some() && items.eat("only").is_some() && items.peek().is_none();
        if !good || statement.clauses.len() > 1 {
            self.report.push(
                Diagnostic::error(Code::BadStatement, statement.span, "`positions` can't be read")
                    .help("write `positions named only`")
                    .fix(statement.span, "positions named only"),
            );
        } else if positions.list.is_empty() && sorted.positions.is_empty() {
            self.report.push(
                Diagnostic::error(
                    Code::UnknownPosition,
                    statement.span,
                    "only named positions are wanted, and none has a name",
                )
                .help("name some with `position \"NAME\" …`"),
            );
        }
        true
    }

    /// The reference of the main file: its combination here, or whether it lies in another file.
    fn main_reference(&mut self, sorted: &Sorted<'t>, positions: &Positions) -> (Option<Choice>, bool) {
        let Some(statement) = sorted.once.get("reference").copied() else { return (None, false) };
        match self.reference(statement) {
            Some(Wanted::Named(name, span)) => (self.position_named(&name, span, positions, false), false),
            Some(Wanted::Chosen(choice)) => (Some(choice), false),
            Some(Wanted::Elsewhere) => (None, true),
            None => (None, false),
        }
    }
}

/// The first `reference` statement of the main file.
pub(crate) fn reference_statement(loaded: &Loaded) -> Option<&Statement> {
    let statements = &loaded.units[0].tree.statements;
    statements.iter().find(|s| !s.broken && first_word(s).is_some_and(|w| w.text == "reference"))
}

fn title(statement: &Statement) -> Option<String> {
    match &statement.clauses[..] {
        [clause] => match &clause.items[..] {
            [_, Item::Text(text)] => Some(text.value.clone()),
            _ => None,
        },
        _ => None,
    }
}
