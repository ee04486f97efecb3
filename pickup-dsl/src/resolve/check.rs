//! What a look at the bench shows: parts and lugs that no wire reaches, crowded lugs.

use std::collections::BTreeSet;

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{JointKind, LugId, Part, PartId, PartKind, Switch, Taper};
use crate::resolve::build::Build;
use crate::resolve::report::listed;
use crate::source::Span;

/// Wires that fit on a lug.
const CROWD: usize = 3;

impl Build<'_, '_> {
    /// Warnings that need no solving.
    pub(crate) fn look(&mut self) {
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
        for (i, part) in self.parts.iter().enumerate() {
            found.extend(self.unwired(PartId(i as u32), part, &reached, &plugged));
            if let PartKind::Switch(switch) = &part.kind {
                found.extend(self.idle_throws(part, switch, &reached));
            }
        }
        for (i, (count, last)) in wires.into_iter().enumerate().filter(|(_, (count, _))| *count > CROWD) {
            found.extend(self.crowded(LugId(i as u32), count, last));
        }
        for diagnostic in found {
            self.report.push(diagnostic);
        }
    }

    fn unwired(&self, id: PartId, part: &Part, reached: &[bool], plugged: &[bool]) -> Vec<Diagnostic> {
        let is_reached = |name: &str| self.lug_of(id, name).is_some_and(|l| reached[l.0 as usize]);
        let none = !part.lugs.clone().any(|l| reached[l as usize]);
        let warn = |message: String| Diagnostic::warning(Code::UnwiredLug, part.span, message);
        let outside =
            matches!(&part.kind, PartKind::Amp(_)) || matches!(&part.kind, PartKind::Lead(l) if l.outside);
        let stands_outside =
            !matches!(part.kind, PartKind::Jack(_)) && part.lugs.clone().any(|l| plugged[l as usize]);
        // Strings without a wire have a warning of their own; a plug is all that cables, amps and pedals need.
        if matches!(part.kind, PartKind::Strings) || stands_outside {
            return Vec::new();
        }
        if none {
            let diagnostic = if outside {
                warn(format!("`{}` is plugged in nowhere", part.name))
                    .help("name it after `plug`, or take it out")
            } else {
                warn(format!("no wire reaches `{}`", part.name)).help("wire it, or take it out")
            };
            return vec![diagnostic];
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
                    let works = is_reached(&lugs[1]) && (is_reached(&lugs[0]) || is_reached(&lugs[2]));
                    if divides || !works {
                        alone(&lugs);
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
        if missing.is_empty() {
            return Vec::new();
        }
        let names: Vec<_> = missing.iter().map(|lug| format!("{}.{lug}", part.name)).collect();
        vec![
            warn(format!("no wire reaches {}", listed(names.iter().map(String::as_str))))
                .help("a part with an end in the air does nothing, or hums"),
        ]
    }

    /// Wired lugs of a switch that meet no other wire, whatever the throw: the wire that is missing is on the lugs that they do meet.
    fn idle_throws(&self, part: &Part, switch: &Switch, reached: &[bool]) -> Option<Diagnostic> {
        let wired = |lug: &LugId| reached[lug.0 as usize];
        let joins = || switch.throws.iter().flat_map(|t| &t.joins);
        let meets = |lug: LugId| {
            joins().filter(move |join| join.contains(&lug)).flatten().filter(move |l| **l != lug)
        };
        let idle: Vec<LugId> =
            part.lugs.clone().map(LugId).filter(|lug| wired(lug) && meets(*lug).next().is_some()).collect();
        let idle: Vec<LugId> = idle.into_iter().filter(|lug| !meets(*lug).any(wired)).collect();
        let first = *idle.first()?;
        let full = |lug: &LugId| format!("{}.{}", part.name, self.lugs[lug.0 as usize].name);
        let names: Vec<String> = idle.iter().map(full).collect();
        let missing: BTreeSet<String> = meets(first).map(full).collect();
        let message =
            format!("{} meets no other wire in any throw", listed(names.iter().map(String::as_str)));
        let others = listed(missing.iter().map(String::as_str));
        Some(
            Diagnostic::warning(Code::UnwiredLug, part.span, message)
                .note(format!("no wire reaches {others}, which the switch joins to `{}`", full(&first)))
                .help("wire what is missing, or take the wire away"),
        )
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
        let full = if name.is_empty() { part.name.clone() } else { format!("{}.{name}", part.name) };
        Some(
            Diagnostic::warning(Code::CrowdedLug, last, format!("`{full}` has {count} wires"))
                .label("the last of them")
                .help("solder some of them elsewhere on the same net, or use a `splice`"),
        )
    }
}
