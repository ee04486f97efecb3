//! What is plugged into the jack: cables, buffers, amp.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Amp, JointKind, Lead, LugId, Outlet, PartId, PartKind};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, Label, missing};
use crate::resolve::report::listed;
use crate::resolve::schema::kind;
use crate::resolve::show::show;
use crate::resolve::value::default;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Item, Statement};

/// The jack's part and place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Socket {
    pub(crate) part: PartId,
    pub(crate) span: Span,
}

/// One chain as it will be joined.
struct Chain {
    hot: LugId,
    is_ring: bool,
    parts: Vec<PartId>,
    span: Span,
}

impl<'t> Build<'_, 't> {
    /// The one jack; none or several are an error.
    pub(crate) fn socket(&mut self, end_of_file: Span) -> Option<Socket> {
        let jacks = self.of_kind("jack");
        match jacks[..] {
            [] if self.report.has_open_brace(end_of_file.file) => None,
            [] => {
                let text = &self.report.sources.get(end_of_file.file).text;
                let new_line = if text.ends_with('\n') || text.is_empty() { "" } else { "\n" };
                let fact = Diagnostic::error(Code::NoJack, end_of_file, "there is no jack")
                    .note("a harness ends at its jack; the sleeve is ground");
                self.report.push(if self.parts.is_empty() && self.patterns.in_main_file() {
                    fact.note("a file of patterns alone is no harness")
                        .help("check the file that uses it, or write `jack out` and wire its parts")
                } else {
                    fact.help("write `jack out` and wire `out.tip` and `out.sleeve`")
                        .fix(end_of_file, format!("{new_line}jack out\n"))
                });
                None
            }
            [(_, part, span)] => Some(Socket { part: part?, span }),
            [(_, _, first), (_, _, second), ..] => {
                self.report.push(
                    Diagnostic::error(Code::NoJack, second, "a harness has one jack")
                        .label("the second")
                        .also(first, "the first"),
                );
                None
            }
        }
    }

    /// Declared parts of a kind, in order of the file.
    pub(crate) fn of_kind(&self, word: &str) -> Vec<(&'t str, Option<PartId>, Span)> {
        let mut found: Vec<_> = self
            .names
            .iter()
            .filter(|(_, d)| d.kind.is_some_and(|k| k.word == word))
            .map(|(name, d)| (*name, d.id, d.span))
            .collect();
        found.sort_by_key(|(_, _, span)| *span);
        found
    }

    /// Joins everything that stands after the jack.
    pub(crate) fn plug_in(&mut self, plugs: &[&'t Statement], socket: Socket) {
        let Some(ground) = self.lug_of(socket.part, "sleeve") else { return };
        let errors = self.report.errors();
        let mut chains: Vec<Chain> = Vec::new();
        if plugs.is_empty() {
            chains.extend(self.usual_chain(socket));
        }
        for plug in plugs {
            let Some(chain) = self.read_plug(plug, socket) else { continue };
            if let Some(first) = chains.iter().find(|c| c.hot == chain.hot) {
                self.report.push(
                    Diagnostic::error(Code::BadChain, chain.span, "two plugs in one socket")
                        .also(first.span, "the first is here"),
                );
                continue;
            }
            chains.push(chain);
        }
        if self.report.errors() > errors {
            return;
        }
        chains.sort_by_key(|c| c.is_ring);
        if let Some(only) = chains.first().filter(|c| c.is_ring) {
            self.report.push(
                Diagnostic::error(Code::BadChain, only.span, "nothing is plugged in at the tip")
                    .help("say what follows the tip too: `plug out.tip to …`"),
            );
            return;
        }
        let mut used: Vec<PartId> = Vec::new();
        for chain in &chains {
            if let Some(again) = chain.parts.iter().find(|p| used.contains(p)) {
                let name = &self.parts[again.0 as usize].name;
                self.report.push(Diagnostic::error(
                    Code::BadChain,
                    chain.span,
                    format!("`{}` is plugged in twice", escape(name)),
                ));
                return;
            }
            used.extend(&chain.parts);
        }
        if let (1, Some(ring)) = (chains.len(), self.lug_of(socket.part, "ring")) {
            // A mono plug's sleeve reaches over the ring's contact.
            self.join(ring, ground, socket.span, JointKind::Plugged);
        }
        for chain in chains {
            self.join_chain(chain, ground);
        }
    }

    fn join_chain(&mut self, chain: Chain, ground: LugId) {
        let span = chain.span;
        let mut hot = chain.hot;
        for part in &chain.parts {
            let (input, output, grounded) = match self.parts[part.0 as usize].kind {
                PartKind::Amp(_) => ("input", "input", "ground"),
                PartKind::Buffer(_) => ("in", "out", "ground"),
                PartKind::Lead(_) => ("in", "out", "screen"),
                _ => return,
            };
            let (Some(input), Some(output), Some(grounded)) =
                (self.lug_of(*part, input), self.lug_of(*part, output), self.lug_of(*part, grounded))
            else {
                return;
            };
            self.join(hot, input, span, JointKind::Plugged);
            self.join(grounded, ground, span, JointKind::Plugged);
            hot = output;
        }
        self.outlets.push(Outlet { hot: chain.hot, chain: chain.parts, amp_input: hot });
    }

    /// Without `plug`: the one cable and the one amp, or what is usual.
    fn usual_chain(&mut self, socket: Socket) -> Option<Chain> {
        let hot = self.lug_of(socket.part, "tip")?;
        let cables = self.of_kind("cable");
        let amps = self.of_kind("amp");
        for (list, what) in [(&cables, "cables"), (&amps, "amps")] {
            if let [(_, _, first), (_, _, second), ..] = list[..] {
                let names = list.iter().map(|(n, ..)| *n);
                self.report.push(
                    Diagnostic::error(
                        Code::BadChain,
                        second,
                        format!("two {what}, and no `plug` says their order"),
                    )
                    .also(first, "the first")
                    .help(format!("write `plug JACK to …` with {} in their order", listed(names))),
                );
                return None;
            }
        }
        let mut parts = Vec::new();
        match (cables.first(), self.no_cable) {
            (Some((_, part, span)), None) => {
                let _ = span;
                parts.push((*part)?);
            }
            (Some((_, _, span)), Some(none)) => {
                self.report.push(
                    Diagnostic::error(
                        Code::BadChain,
                        *span,
                        "a cable, where the file says that there is none",
                    )
                    .also(none, "said here"),
                );
                return None;
            }
            (None, Some(_)) => {}
            (None, None) => parts.push(self.default_cable(socket)?),
        }
        match amps.first() {
            Some((_, part, _)) => parts.push((*part)?),
            None => parts.push(self.default_amp(socket)?),
        }
        Some(Chain { hot, is_ring: false, parts, span: socket.span })
    }

    fn default_cable(&mut self, socket: Socket) -> Option<PartId> {
        let cable = kind("cable")?;
        let (metres, each) = (cable.default("length"), cable.default("per-metre"));
        self.assume(
            format!(
                "cable: {} of {}",
                show(metres, Dimension::Metres),
                show(each, Dimension::FaradsPerMetre)
            ),
            socket.span,
        );
        let lead = Lead { capacitance: default(metres * each, socket.span), resistance: None, outside: true };
        Some(self.extra("cable", cable.lugs, PartKind::Lead(lead), socket.span))
    }

    fn default_amp(&mut self, socket: Socket) -> Option<PartId> {
        let amp = kind("amp")?;
        let ohms = amp.default("resistance");
        self.assume(format!("amp: {}", show(ohms, Dimension::Ohms)), socket.span);
        let kind = PartKind::Amp(Amp { resistance: default(ohms, socket.span), capacitance: None });
        Some(self.extra("amp", amp.lugs, kind, socket.span))
    }

    /// A part that the file does not hold, under a name that is free.
    fn extra(&mut self, word: &str, lugs: &[&str], kind: PartKind, span: Span) -> PartId {
        let taken = |name: &str| self.names.contains_key(name) || self.parts.iter().any(|p| p.name == name);
        let name = std::iter::once(word.to_owned())
            .chain((2..).map(|i| format!("{word}-{i}")))
            .find(|name| !taken(name))
            .unwrap_or_default();
        let first = self.lugs.len() as u32;
        for lug in lugs {
            self.add_lug(*lug, span);
        }
        self.add_part(&name, kind, first, span)
    }

    /// `plug out to lead to pedal to amp`
    fn read_plug(&mut self, statement: &'t Statement, socket: Socket) -> Option<Chain> {
        let help = "write `plug out to cable to amp`";
        if let Some(clause) = statement.clauses.get(1) {
            self.report.push(missing(clause.span, "`to`, not a comma,", true).help(help));
            return None;
        }
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let Some(jack) = items.word() else {
            self.report.push(missing(items.here(), "the jack", items.peek().is_some()).help(help));
            return None;
        };
        let (name, lug) = jack.text.split_once('.').unwrap_or((&jack.text, "tip"));
        let name_span = Span { end: jack.span.start + name.len() as u32, ..jack.span };
        let declared = self.part(name, name_span)?;
        if declared.kind.is_none_or(|k| k.word != "jack") {
            self.report.push(
                Diagnostic::error(Code::BadChain, name_span, format!("`{}` is no jack", escape(name)))
                    .also(declared.span, "declared here")
                    .help(help),
            );
            return None;
        }
        if !matches!(lug, "tip" | "ring") || self.lug_of(socket.part, lug).is_none() {
            let diagnostic = if lug == "ring" {
                Diagnostic::error(Code::UnknownLug, jack.span, "only a `stereo` jack has a ring")
                    .also(socket.span, "declared here")
            } else {
                Diagnostic::error(Code::UnknownLug, jack.span, "a plug's hot contact is the tip or the ring")
            };
            self.report.push(diagnostic);
            return None;
        }
        let hot = self.lug_of(socket.part, lug)?;
        let mut parts = Vec::new();
        let mut amp: Option<Label<'t>> = None;
        while items.eat("to").is_some() {
            let Some(Item::Word(word)) = items.next() else {
                self.report.push(missing(items.here(), "a cable, a buffer or the amp", false).help(help));
                return None;
            };
            let label = Label { text: word.text.as_str(), span: word.span };
            let part = self.link(label, amp)?;
            if parts.contains(&part.0) {
                self.report.push(Diagnostic::error(
                    Code::BadChain,
                    word.span,
                    format!("`{}` is plugged in twice", escape(&word.text)),
                ));
                return None;
            }
            parts.push(part.0);
            if part.1 {
                amp = Some(label);
            }
        }
        if items.peek().is_some() {
            self.report.push(missing(items.here(), "`to`", true).help(help));
            return None;
        }
        if amp.is_none() {
            if let Some((name, ..)) = self.of_kind("amp").first() {
                self.report.push(
                    Diagnostic::error(Code::BadChain, items.here(), "the chain does not end in an amp")
                        .help(format!("end it with `to {name}`")),
                );
                return None;
            }
            parts.push(self.default_amp(socket)?);
        }
        Some(Chain { hot, is_ring: lug == "ring", parts, span: statement.span })
    }

    /// One link of a chain, and whether it is the amp.
    fn link(&mut self, label: Label<'t>, after_amp: Option<Label<'t>>) -> Option<(PartId, bool)> {
        let declared = self.part(label.text, label.span)?;
        let kind = declared.kind?.word;
        if let Some(amp) = after_amp {
            self.report.push(
                Diagnostic::error(Code::BadChain, label.span, "nothing follows an amp")
                    .also(amp.span, "the amp"),
            );
            return None;
        }
        let allowed = matches!(kind, "cable" | "buffer" | "amp");
        if !allowed {
            let mut diagnostic = Diagnostic::error(
                Code::BadChain,
                label.span,
                format!("`{}` can't follow the jack", escape(label.text)),
            )
            .label(format!("it is {}", declared.kind?.noun))
            .also(declared.span, "declared here")
            .note("cables, buffers and an amp stand after the jack");
            if kind == "lead" {
                diagnostic = diagnostic.help("a lead is wire inside the guitar; declare it as a `cable`");
            }
            self.report.push(diagnostic);
            return None;
        }
        Some((declared.id?, kind == "amp"))
    }
}
