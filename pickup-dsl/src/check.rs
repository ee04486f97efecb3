//! What a bench would notice: warnings that need the circuit or its figures, one file a warning.
//!
//! Each is said once, with the list of positions it is true of, and its help ends with the statement that says that it is meant.
//! What is meant is left out of that list.

use crate::diagnostic::{Code, Diagnostic};
use crate::figures::PositionFigures;
use crate::harness::{Coil, Harness, LugId, Meant, PartId, PartKind, Place};
use crate::intents::{Intents, Thing, is_compilers, or_meant};
use crate::network::{Joints, Knobs, Loads, Network, Setting};
use crate::positions::Position;
use crate::source::Span;

mod cancelling;
mod capacitor;
mod cause;
mod coil;
mod dead;
mod ground;
mod hanging;
mod hot;
mod moving;
mod opposing;
mod pot;
mod power;
mod step;
#[cfg(test)]
mod tests;
mod tone;
mod twin;
mod winding;

pub use cause::note_silence;

/// Warnings on the positions given, in order of their codes, without those that the file means. `figures` are those of `positions`, one for each, knobs at rest.
#[must_use]
pub fn check(
    harness: &Harness,
    network: &Network,
    positions: &[Position],
    figures: &[PositionFigures],
) -> Vec<Diagnostic> {
    let bench = Bench::new(harness, network, positions, figures);
    let mut found = Vec::new();
    found.extend(dead::dead_positions(&bench));
    found.extend(dead::hot_at_ground(&bench));
    found.extend(hanging::hanging_coils(&bench));
    found.extend(opposing::opposing_coils(&bench));
    found.extend(cancelling::no_hum_cancelling(&bench));
    found.extend(step::level_steps(&bench));
    found.extend(twin::twin_positions(&bench));
    found.extend(ground::strings(&bench));
    found.extend(ground::metal(&bench));
    found.extend(ground::covers(&bench));
    found.extend(winding::partly_shorted(&bench));
    found.extend(pot::idle_pots(&bench));
    found.extend(capacitor::across_the_signal(&bench));
    found.extend(coil::idle_coils(&bench));
    found.extend(tone::backward_and_flat_tones(&bench));
    found.extend(moving::moving_switches(&bench));
    found.extend(power::unpowered(&bench));
    found.extend(bench.intents.idle(|what| !matches!(what, Meant::Warning(code) if is_compilers(code))));
    cause::without_consequences(&bench, found)
}

/// What the checks look at.
struct Bench<'a> {
    harness: &'a Harness,
    network: &'a Network,
    positions: &'a [Position],
    figures: &'a [PositionFigures],
    /// Joints of each position, knobs at rest, everything plugged in: what is at ground, is here.
    joints: Vec<Joints>,
    intents: Intents<'a>,
}

impl<'a> Bench<'a> {
    fn new(
        harness: &'a Harness,
        network: &'a Network,
        positions: &'a [Position],
        figures: &'a [PositionFigures],
    ) -> Self {
        let rest = Knobs::default();
        let at_rest = |p: &Position| Joints::of(network, harness, &setting(&p.throws, &rest));
        Bench {
            harness,
            network,
            positions,
            figures,
            joints: positions.iter().map(at_rest).collect(),
            intents: Intents::new(&harness.intents),
        }
    }

    /// (index, position, figures) of each position.
    fn each(&self) -> impl Iterator<Item = (usize, &Position, &PositionFigures)> {
        self.positions.iter().zip(self.figures).enumerate().map(|(i, (p, f))| (i, p, f))
    }

    /// Where the jack is declared.
    fn jack(&self) -> Span {
        self.part(self.harness.lugs[self.harness.ground.0 as usize].part)
    }

    fn part(&self, part: PartId) -> Span {
        self.harness.part(part).span
    }

    /// The hot lug of an outlet is at ground.
    fn hot_at_ground(&self, position: usize, outlet: usize) -> bool {
        self.joints[position].at_ground(self.harness.outlets[outlet].hot)
    }

    /// An end of the part hangs in the air, or of one that it is wired to other than by hot or ground: that has been told.
    fn is_beside_loose_end(&self, part: PartId) -> bool {
        let Some(joints) = self.joints.first().filter(|_| !self.harness.loose.is_empty()) else {
            return false;
        };
        let hot = hot::joints(self.harness, joints);
        let lugs = |part: PartId| self.harness.part(part).lugs.clone().map(LugId);
        let own: Vec<usize> = lugs(part)
            .map(|lug| joints.of_lug(lug))
            .filter(|joint| *joint != joints.ground() && !hot.contains(joint))
            .collect();
        let loose = self.harness.loose.iter().map(|lug| self.harness.lugs[lug.0 as usize].part);
        loose
            .into_iter()
            .any(|other| other == part || lugs(other).any(|lug| own.contains(&joints.of_lug(lug))))
    }

    /// Some outlet gives sound in some position.
    fn sounds_somewhere(&self) -> bool {
        self.figures.iter().flat_map(|f| &f.outlets).any(|outlet| outlet.level.powers.is_ok())
    }

    /// Whether that warning, about these things in this position, is meant.
    fn held(&self, code: Code, about: &[Thing<'_>], position: usize) -> bool {
        self.held_in(code, about, &[&self.positions[position].throws])
    }

    /// The same of a warning about several combinations of throws: one of them is enough.
    fn held_in(&self, code: Code, about: &[Thing<'_>], throws: &[&[usize]]) -> bool {
        let here = |place: &Place| throws.iter().any(|throws| place.covers(self.harness, throws));
        self.intents.hold(code, about, here)
    }

    /// The same of a warning about all positions together.
    fn held_everywhere(&self, code: Code, about: &[Thing<'_>]) -> bool {
        self.intents.hold(code, about, |place| *place == Place::Everywhere)
    }

    /// The pickup and coil of a section, by name.
    fn coil(&self, section: usize) -> Thing<'a> {
        let pickup = self.network.sections[section].pickup;
        (pickup, self.winding(section).map_or("", |coil| &coil.name))
    }

    fn winding(&self, section: usize) -> Option<&'a Coil> {
        let section = &self.network.sections[section];
        match &self.harness.part(section.pickup).kind {
            PartKind::Pickup(pickup) => pickup.coils.get(section.coil),
            _ => None,
        }
    }

    /// No wire reaches one of its ends, which has been told.
    fn is_loose(&self, coil: &Coil) -> bool {
        [coil.start, coil.finish].into_iter().any(|lug| self.harness.is_loose(lug))
    }

    fn lug(&self, lug: LugId) -> Thing<'a> {
        let lug = &self.harness.lugs[lug.0 as usize];
        (lug.part, &lug.name)
    }

    /// Help that ends with the statement that says of these things in these positions that it is meant.
    fn or_meant(
        &self,
        diagnostic: Diagnostic,
        advice: &str,
        of: &[Thing<'_>],
        found: &[usize],
    ) -> Diagnostic {
        let Some(word) = diagnostic.code.word() else { return diagnostic.help(advice) };
        let place = self.place(found).map(|place| format!(" in {place}")).unwrap_or_default();
        let names: Vec<String> = of.iter().map(|thing| self.called(*thing)).collect();
        let of = if names.is_empty() { String::new() } else { format!(" of {}", names.join(" and ")) };
        diagnostic.help(or_meant(advice, &format!("intend {word}{of}{place}")))
    }

    fn called(&self, (part, inside): Thing<'_>) -> String {
        let part = &self.harness.part(part).name;
        if inside.is_empty() { part.clone() } else { format!("{part}.{inside}") }
    }

    /// The positions as a statement names them: the name of one, else the throws that they have in common; None where they are all,
    /// or have none.
    fn place(&self, found: &[usize]) -> Option<String> {
        let first = &self.positions[*found.first()?];
        if found.len() == self.positions.len() {
            return None;
        }
        if let ([_], Some(name)) = (found, &first.name) {
            return Some(format!("\"{}\"", name.replace('\\', "\\\\").replace('"', "\\\"")));
        }
        let common = self.harness.switches().enumerate().filter(|(s, (_, switch))| {
            switch.throws.len() > 1 && found.iter().all(|&i| self.positions[i].throws[*s] == first.throws[*s])
        });
        let throws: Vec<String> = common
            .map(|(s, (id, switch))| {
                format!("{} {}", self.harness.part(id).name, switch.throws[first.throws[s]].name)
            })
            .collect();
        (!throws.is_empty()).then(|| throws.join(", "))
    }

    /// `in every position`, or `in "Neck, split" and 2 more`.
    fn in_positions(&self, found: &[usize]) -> String {
        self.in_those(found, "in every position")
    }

    /// The same behind a negative: `in any position`.
    fn not_in_positions(&self, found: &[usize]) -> String {
        self.in_those(found, "in any position")
    }

    fn in_those(&self, found: &[usize], all_of_them: &str) -> String {
        match found {
            all if all.len() == self.positions.len() && all.len() > 1 => all_of_them.to_owned(),
            [] => String::new(),
            [one] => format!("in {}", label(&self.positions[*one])),
            [one, another] => {
                format!("in {} and {}", label(&self.positions[*one]), label(&self.positions[*another]))
            }
            [first, more @ ..] => {
                format!("in {} and {} more positions", label(&self.positions[*first]), more.len())
            }
        }
    }

    /// Adds the list of positions as a note, where the message can't hold it.
    fn with_positions(&self, diagnostic: Diagnostic, found: &[usize]) -> Diagnostic {
        if found.len() < 3 || found.len() == self.positions.len() {
            return diagnostic;
        }
        let labels: Vec<String> = found.iter().map(|&i| label(&self.positions[i])).collect();
        diagnostic.note(format!("positions: {}", listed(&labels)))
    }
}

/// How many positions a note lists.
const LISTED: usize = 8;

/// `a; b; c`, the rest as a number.
fn listed(items: &[String]) -> String {
    if items.len() <= LISTED {
        return items.join("; ");
    }
    let rest = items.len() - LISTED;
    format!("{}; and {rest} more", items[..LISTED].join("; "))
}

/// The position as a person knows it.
pub(crate) fn label(position: &Position) -> String {
    match &position.name {
        Some(name) => format!("\"{name}\""),
        None => format!("`{}`", position.key),
    }
}

fn setting<'s>(throws: &'s [usize], knobs: &'s Knobs) -> Setting<'s> {
    Setting::new(throws, knobs, Loads::Plugged)
}

/// Groups (thing, position) pairs by thing, in order of their first appearance.
fn grouped<T: PartialEq>(pairs: impl Iterator<Item = (T, usize)>) -> Vec<(T, Vec<usize>)> {
    let mut groups: Vec<(T, Vec<usize>)> = Vec::new();
    for (thing, position) in pairs {
        match groups.iter_mut().find(|g| g.0 == thing) {
            Some(group) if group.1.last() == Some(&position) => {}
            Some(group) => group.1.push(position),
            None => groups.push((thing, vec![position])),
        }
    }
    groups
}
