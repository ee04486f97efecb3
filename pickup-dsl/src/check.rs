//! What a bench would notice: warnings that need the circuit or its figures, one file a warning.
//!
//! Each is said once, with the list of positions it is true of.

use crate::diagnostic::Diagnostic;
use crate::figures::PositionFigures;
use crate::harness::{Harness, PartId};
use crate::network::{Joints, Knobs, Loads, Network, Setting};
use crate::positions::Position;
use crate::source::Span;

mod cancelling;
mod capacitor;
mod coil;
mod dead;
mod ground;
mod hanging;
mod hot;
mod opposing;
mod pot;
mod step;
#[cfg(test)]
mod tests;
mod tone;
mod twin;
mod winding;

/// Warnings on the positions given, in order of their codes. `figures` are those of `positions`, one for each, knobs at rest.
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
    found.extend(winding::partly_shorted(&bench));
    found.extend(pot::idle_pots(&bench));
    found.extend(capacitor::across_the_signal(&bench));
    found.extend(coil::idle_coils(&bench));
    found.extend(tone::reversed_tones(&bench));
    found
}

/// What the checks look at.
struct Bench<'a> {
    harness: &'a Harness,
    network: &'a Network,
    positions: &'a [Position],
    figures: &'a [PositionFigures],
    /// Joints of each position, knobs at rest, everything plugged in: what is at ground, is here.
    joints: Vec<Joints>,
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
        Bench { harness, network, positions, figures, joints: positions.iter().map(at_rest).collect() }
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
fn label(position: &Position) -> String {
    match &position.name {
        Some(name) => format!("\"{name}\""),
        None => format!("`{}`", position.key),
    }
}

fn setting<'s>(throws: &'s [usize], knobs: &'s Knobs) -> Setting<'s> {
    Setting { throws, knobs, loads: Loads::Plugged, without_stray: false, lifted: None, generic: false }
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
