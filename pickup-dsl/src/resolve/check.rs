//! What a look at the bench shows: parts and lugs that no wire reaches, crowded lugs.

use std::collections::BTreeSet;

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Intent, JointKind, LugId, Meant, Part, PartId, PartKind, Place, Switch, Taper};
use crate::intents::{Intents, Thing, is_compilers, or_meant};
use crate::resolve::build::Build;
use crate::resolve::report::listed;
use crate::resolve::show::show;
use crate::source::Span;
use crate::syntax::tree::Dimension;

/// The largest capacitor of a passive guitar, F (trade judgement, no source).
const PASSIVE_FARADS: f64 = 470e-9;
/// Wires that fit on a lug.
const CROWD: usize = 3;

impl Build<'_, '_> {
    /// Warnings that need no solving, but for those that are meant. Returns the lugs that hang in the air, rising, and whether a value
    /// is outside its usual range.
    pub(crate) fn look(&mut self, intents: &[Intent]) -> (Vec<LugId>, bool) {
        let intents = &Intents::new(intents);
        let mut reached = vec![false; self.lugs.len()];
        let mut plugged = vec![false; self.lugs.len()];
        let mut wires: Vec<(usize, Span)> = vec![(0, Span { file: 0, start: 0, end: 0 }); self.lugs.len()];
        for joint in &self.joints {
            for lug in [joint.a, joint.b] {
                plugged[lug.0 as usize] |= joint.kind == JointKind::Plugged;
                reached[lug.0 as usize] |= !matches!(joint.kind, JointKind::Colour | JointKind::Plugged);
                if joint.kind == JointKind::Wire {
                    let (count, last) = &mut wires[lug.0 as usize];
                    (*count, *last) = (*count + 1, joint.span);
                }
            }
        }
        // A lead colour is the coil end itself.
        for joint in self.joints.iter().filter(|j| j.kind == JointKind::Colour) {
            let both = reached[joint.a.0 as usize] || reached[joint.b.0 as usize];
            reached[joint.a.0 as usize] |= both;
            reached[joint.b.0 as usize] |= both;
        }
        let mut found = Vec::new();
        let mut loose: Vec<LugId> = Vec::new();
        let mut idle: Vec<Idle> = Vec::new();
        for (i, part) in self.parts.iter().enumerate() {
            let id = PartId(i as u32);
            match self.unwired(id, part, &reached, &plugged) {
                Some(Unwired::Part(diagnostic)) if !held(intents, Code::UnwiredLug, (id, "")) => {
                    found.push(meant(diagnostic, "unwired", &part.name));
                }
                Some(Unwired::Ends(ends)) => {
                    let is_loose = |lug: &LugId| !held(intents, Code::UnwiredLug, self.thing(*lug));
                    loose.extend(ends.into_iter().filter(is_loose));
                }
                Some(Unwired::Part(_)) | None => {}
            }
            if let PartKind::Switch(switch) = &part.kind {
                idle.extend(self.idle_throws(part, switch, &reached, intents));
            }
        }
        match (&loose[..], &idle[..]) {
            // A bare lug of a switch and one end in the air are likely the two ends of one wire.
            (&[end], [idle]) => found.push(self.two_ends(end, &idle.partners, &idle.name)),
            _ => found.extend(self.ends_in_the_air(&loose)),
        }
        let paired = loose.len() == 1 && idle.len() == 1;
        for Idle { lugs, diagnostic, .. } in idle {
            loose.extend(lugs);
            found.extend((!paired).then_some(diagnostic));
        }
        loose.sort_unstable();
        loose.dedup();
        found.extend(self.large_capacitors());
        for (i, (count, last)) in wires.into_iter().enumerate().filter(|(_, (count, _))| *count > CROWD) {
            let lug = LugId(i as u32);
            if !held(intents, Code::CrowdedLug, self.thing(lug)) {
                found.extend(self.crowded(lug, count, last));
            }
        }
        for diagnostic in found {
            self.report.push(diagnostic);
        }
        let unusual = self.settle_values(intents);
        if self.variant.is_some() {
            // What is meant of the guitar need not happen in each variant.
            return (loose, unusual);
        }
        for diagnostic in intents.idle(|what| matches!(what, Meant::Warning(code) if is_compilers(code))) {
            self.report.push(diagnostic);
        }
        (loose, unusual)
    }

    fn thing(&self, lug: LugId) -> Thing<'_> {
        let lug = &self.lugs[lug.0 as usize];
        (lug.part, &lug.name)
    }

    fn full_name(&self, lug: LugId) -> String {
        let (part, name) = self.thing(lug);
        let part = &self.parts[part.0 as usize].name;
        if name.is_empty() { part.clone() } else { format!("{part}.{name}") }
    }

    /// Two ends that are likely those of one wire: the second is one of `others`; `meant` is what an intent calls it.
    fn two_ends(&self, end: LugId, others: &[LugId], meant: &str) -> Diagnostic {
        let place = |lug: LugId| self.parts[self.lugs[lug.0 as usize].part.0 as usize].span;
        let name = self.full_name(end);
        let names: Vec<String> = others.iter().map(|lug| format!("`{}`", self.full_name(*lug))).collect();
        let (message, advice) = match &names[..] {
            [other] => (
                format!("no wire reaches `{name}` and {other}"),
                format!("is a wire missing between them? `wire {name} to {}`", other.trim_matches('`')),
            ),
            _ => (
                format!("no wire reaches `{name}`, and `{meant}` meets no other wire in any throw"),
                format!("is a wire missing from `{name}` to {}?", names.join(" or ")),
            ),
        };
        let statement = format!("intend unwired of {name}` and `intend unwired of {meant}");
        let diagnostic = Diagnostic::warning(Code::UnwiredLug, place(end), message);
        others
            .iter()
            .take(1)
            .fold(diagnostic, |d, lug| d.also(place(*lug), "and this"))
            .help(or_meant(&advice, &statement))
    }

    /// One warning a part; and one for two ends alone, which are likely those of one wire.
    fn ends_in_the_air(&self, loose: &[LugId]) -> Vec<Diagnostic> {
        let part_of = |lug: LugId| self.lugs[lug.0 as usize].part;
        if let &[a, b] = loose
            && part_of(a) != part_of(b)
        {
            return vec![self.two_ends(a, &[b], &self.full_name(b))];
        }
        loose
            .chunk_by(|a, b| part_of(*a) == part_of(*b))
            .map(|ends| {
                let names: Vec<String> = ends.iter().map(|lug| self.full_name(*lug)).collect();
                let part = &self.parts[part_of(ends[0]).0 as usize];
                let message = format!("no wire reaches {}", listed(names.iter().map(String::as_str)));
                let name = if let [one] = &names[..] { one } else { &part.name };
                let advice = match part.kind {
                    PartKind::Jack(_) => "without it nothing is heard but hum",
                    PartKind::Pickup(_) => {
                        "a coil sounds only with both ends wired; with one in the air it may hum"
                    }
                    PartKind::Pot(_) => "the control does not do its work without it",
                    _ => "a part with an end in the air does nothing, or hums",
                };
                let diagnostic = Diagnostic::warning(Code::UnwiredLug, part.span, message).help(advice);
                meant(diagnostic, "unwired", name)
            })
            .collect()
    }

    /// Coupling capacitors of active stages go to 1 µF; in a passive guitar none is that large, and `1u` is a slip for `1n`.
    fn large_capacitors(&self) -> Vec<Diagnostic> {
        let inside = |p: &&Part| matches!(p.kind, PartKind::Buffer(_) | PartKind::OpAmp(_));
        if self.parts.iter().any(|p| inside(&p)) {
            return Vec::new();
        }
        self.parts
            .iter()
            .filter_map(|part| match &part.kind {
                PartKind::Capacitor(farads, _) => Some(*farads),
                _ => None,
            })
            .filter(|farads| farads.value > PASSIVE_FARADS && farads.value <= 1e-6)
            .map(|farads| {
                let shown = show(farads.value, Dimension::Farads);
                let less = show(farads.value / 1000.0, Dimension::Farads);
                Diagnostic::warning(
                    Code::UnusualValue,
                    farads.span,
                    format!("{shown} is more than what is usual in a guitar without active parts"),
                )
                .label(format!("usual: at most {}", show(PASSIVE_FARADS, Dimension::Farads)))
                .help(format!("if it is a slip for {less}, write that"))
            })
            .collect()
    }

    fn unwired(&self, id: PartId, part: &Part, reached: &[bool], plugged: &[bool]) -> Option<Unwired> {
        let is_reached = |name: &str| self.lug_of(id, name).is_some_and(|l| reached[l.0 as usize]);
        let none = !part.lugs.clone().any(|l| reached[l as usize]);
        let warn = |message: String| Diagnostic::warning(Code::UnwiredLug, part.span, message);
        let outside =
            matches!(&part.kind, PartKind::Amp(_)) || matches!(&part.kind, PartKind::Lead(l) if l.outside);
        let stands_outside =
            !matches!(part.kind, PartKind::Jack(_)) && part.lugs.clone().any(|l| plugged[l as usize]);
        // Strings without a wire have a warning of their own; a plug is all that cables, amps and pedals need.
        if matches!(part.kind, PartKind::Strings) || stands_outside {
            return None;
        }
        if none {
            let diagnostic = if outside {
                warn(format!("`{}` is plugged in nowhere", part.name))
                    .help("name it after `plug`, or take it out")
            } else {
                warn(format!("no wire reaches `{}`", part.name)).help("wire it, or take it out")
            };
            return Some(Unwired::Part(diagnostic));
        }
        let mut missing = Vec::new();
        let mut alone = |names: &[String]| {
            let unreached: Vec<_> = names.iter().filter(|n| !is_reached(n)).cloned().collect();
            missing.extend(unreached);
        };
        match &part.kind {
            PartKind::Resistor(_) | PartKind::Capacitor(..) | PartKind::Inductor(..) => {
                alone(&["1".to_owned(), "2".to_owned()]);
            }
            PartKind::Jack(_) => alone(&["tip".to_owned(), "sleeve".to_owned()]),
            PartKind::Lead(lead) if !lead.outside => {
                alone(&["in".to_owned(), "out".to_owned(), "screen".to_owned()]);
            }
            PartKind::Buffer(_) => alone(&["in".to_owned(), "out".to_owned(), "ground".to_owned()]),
            PartKind::OpAmp(_) => alone(&["plus", "minus", "out", "ground"].map(str::to_owned)),
            PartKind::Piezo(_) | PartKind::Battery(_) => alone(&["plus", "minus"].map(str::to_owned)),
            PartKind::Pot(pot) => {
                for gang in &pot.gangs {
                    let lug = |n: &str| {
                        if gang.name.is_empty() { n.to_owned() } else { format!("{}.{n}", gang.name) }
                    };
                    let lugs = [lug("1"), lug("2"), lug("3")];
                    // A wiper and one end make a variable resistor; ends without a wiper a knob that does nothing. A volume
                    // without its ground never turns down.
                    let divides =
                        pot.role.as_deref() == Some("volume") && !matches!(gang.taper, Taper::Blend(_));
                    let an_end = is_reached(&lugs[0]) || is_reached(&lugs[2]);
                    let works = is_reached(&lugs[1]) && an_end;
                    if divides || !(works || an_end) {
                        alone(&lugs);
                    } else if !works {
                        alone(&lugs[1..2]);
                    }
                }
            }
            PartKind::Pickup(pickup) => {
                for coil in &pickup.coils {
                    let name = |lug: LugId| self.lugs[lug.0 as usize].name.clone();
                    let ends = [name(coil.start), name(coil.finish)];
                    let taps = coil.taps.iter().filter(|t| reached[t.lug.0 as usize]).count();
                    if ends.iter().filter(|e| is_reached(e)).count() + taps < 2 {
                        alone(&ends);
                    }
                }
            }
            _ => {}
        }
        let mut ends: Vec<LugId> = missing.iter().filter_map(|name| self.lug_of(id, name)).collect();
        ends.sort_unstable();
        (!ends.is_empty()).then_some(Unwired::Ends(ends))
    }

    /// Wired lugs of a switch that meet no other wire, whatever the throw: the wire that is missing is on the lugs that they do meet.
    fn idle_throws(
        &self,
        part: &Part,
        switch: &Switch,
        reached: &[bool],
        intents: &Intents<'_>,
    ) -> Option<Idle> {
        let wired = |lug: &LugId| reached[lug.0 as usize];
        let joins = || switch.throws.iter().flat_map(|t| &t.joins);
        let meets = |lug: LugId| {
            joins().filter(move |join| join.contains(&lug)).flatten().filter(move |l| **l != lug)
        };
        let idle: Vec<LugId> =
            part.lugs.clone().map(LugId).filter(|lug| wired(lug) && meets(*lug).next().is_some()).collect();
        let is_idle =
            |lug: &LugId| !meets(*lug).any(wired) && !held(intents, Code::UnwiredLug, self.thing(*lug));
        let idle: Vec<LugId> = idle.into_iter().filter(is_idle).collect();
        let first = *idle.first()?;
        let full = |lug: &LugId| self.full_name(*lug);
        let names: Vec<String> = idle.iter().map(full).collect();
        let missing: BTreeSet<String> = meets(first).map(full).collect();
        let meet = if names.len() == 1 { "meets" } else { "meet" };
        let message =
            format!("{} {meet} no other wire in any throw", listed(names.iter().map(String::as_str)));
        let others = listed(missing.iter().map(String::as_str));
        let name = if let [one] = &names[..] { one.clone() } else { part.name.clone() };
        let diagnostic = Diagnostic::warning(Code::UnwiredLug, part.span, message)
            .note(format!("no wire reaches {others}, which the switch joins to `{}`", full(&first)))
            .help("wire what is missing, or take the wire away");
        let mut partners: Vec<LugId> = idle.iter().flat_map(|lug| meets(*lug)).copied().collect();
        partners.sort_unstable();
        partners.dedup();
        Some(Idle { lugs: idle, partners, diagnostic: meant(diagnostic, "unwired", &name), name })
    }

    fn crowded(&self, lug: LugId, count: usize, last: Span) -> Option<Diagnostic> {
        let (part, name) = {
            let lug = &self.lugs[lug.0 as usize];
            (&self.parts[lug.part.0 as usize], lug.name.as_str())
        };
        // Cases, frames and shields take any number, and that is what a splice is for.
        let metal = matches!(name, "case" | "frame" | "cover" | "plate")
            || matches!(part.kind, PartKind::Splice | PartKind::Shield | PartKind::Strings);
        if metal {
            return None;
        }
        let full = self.full_name(lug);
        let diagnostic = Diagnostic::warning(Code::CrowdedLug, last, format!("`{full}` has {count} wires"))
            .label("the last of them")
            .help("solder some of them elsewhere on the same net, or use a `splice`");
        Some(meant(diagnostic, "crowded-lug", &full))
    }
}

/// Wired lugs of a switch that meet no wire.
struct Idle {
    lugs: Vec<LugId>,
    /// The bare lugs that they meet.
    partners: Vec<LugId>,
    diagnostic: Diagnostic,
    /// How an intent calls them.
    name: String,
}

/// What no wire reaches.
enum Unwired {
    /// A part as a whole.
    Part(Diagnostic),
    /// Ends of a part that is wired otherwise.
    Ends(Vec<LugId>),
}

fn held(intents: &Intents<'_>, code: Code, thing: Thing<'_>) -> bool {
    intents.hold(code, &[thing], |place| *place == Place::Everywhere)
}

/// Ends the advice with the statement that says that it is meant.
fn meant(diagnostic: Diagnostic, word: &str, name: &str) -> Diagnostic {
    let advice =
        or_meant(diagnostic.help.as_deref().unwrap_or_default(), &format!("intend {word} of {name}"));
    diagnostic.help(advice)
}
