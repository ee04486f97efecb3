//! The build sheet: every joint that is soldered, in the order of the bench.
//!
//! First what can be done with the part in the hand, then what ties the parts together, last what leads out of the cavity: a lug that takes
//! several wires is met early, and nothing has to be bent away to reach it. Within a step the order is the file's.

use std::collections::BTreeMap;

use crate::harness::{Harness, JointKind, LugId, PartKind};
use crate::network::Merged;
use crate::source::Span;

/// Steps of the work, in their order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Both ends on one part.
    OnOnePart,
    /// Resistors, capacitors and inductors to where they sit.
    Components,
    /// Between pots, switches and what else sits in the cavity.
    Controls,
    /// The same at ground.
    Ground,
    /// Leads of pickups and piezo elements.
    Pickups,
    /// Jack, strings, shield and battery.
    Outside,
}

impl Step {
    /// All, in order.
    pub const ALL: [Step; 6] =
        [Step::OnOnePart, Step::Components, Step::Controls, Step::Ground, Step::Pickups, Step::Outside];

    /// What the step is about.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Step::OnOnePart => "On one part",
            Step::Components => "Resistors, capacitors and inductors",
            Step::Controls => "Between the controls",
            Step::Ground => "Ground between the controls",
            Step::Pickups => "Pickup leads",
            Step::Outside => "Jack, strings, shield and battery",
        }
    }
}

/// One wire to solder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wire {
    /// Where it belongs.
    pub step: Step,
    /// One end.
    pub from: LugId,
    /// The other.
    pub to: LugId,
    /// Where the file says it.
    pub span: Span,
}

/// What the bench needs of a harness.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Every wire once, in order of the work.
    pub wires: Vec<Wire>,
    /// Lugs that take more than one wire, with how many, in order of the file.
    pub shared: Vec<(LugId, usize)>,
    /// Joints that are there already: links and bonds inside pickups.
    pub made: Vec<(LugId, LugId)>,
    /// A battery or an active part is among the parts.
    pub active: bool,
}

/// The sheet of a harness.
#[must_use]
pub fn sheet(harness: &Harness) -> Sheet {
    let ground = at_ground(harness);
    let of_kind = |kind: JointKind| harness.joints.iter().filter(move |joint| joint.kind == kind);
    let mut wires: Vec<Wire> = of_kind(JointKind::Wire)
        .map(|joint| Wire {
            step: step(harness, joint.a, joint.b, ground[joint.a.0 as usize]),
            from: joint.a,
            to: joint.b,
            span: joint.span,
        })
        .collect();
    wires.sort_by_key(|wire| wire.step);
    let mut ends = vec![0; harness.lugs.len()];
    for wire in &wires {
        ends[wire.from.0 as usize] += 1;
        ends[wire.to.0 as usize] += 1;
    }
    let shared = ends.into_iter().enumerate().filter(|(_, count)| *count > 1);
    Sheet {
        shared: shared.map(|(lug, count)| (LugId(lug as u32), count)).collect(),
        made: of_kind(JointKind::Factory).chain(of_kind(JointKind::Bond)).map(|j| (j.a, j.b)).collect(),
        active: harness
            .parts
            .iter()
            .any(|part| matches!(part.kind, PartKind::Buffer(_) | PartKind::OpAmp(_) | PartKind::Battery(_))),
        wires,
    }
}

/// Lugs that have two names: the coil end that a colour is, and the colour of a coil end.
#[must_use]
pub fn other_names(harness: &Harness) -> BTreeMap<LugId, LugId> {
    let mut all = BTreeMap::new();
    for joint in harness.joints.iter().filter(|joint| joint.kind == JointKind::Colour) {
        // Of several colours on one end the first is its name.
        all.entry(joint.a).or_insert(joint.b);
        all.entry(joint.b).or_insert(joint.a);
    }
    all
}

/// Lugs of one part that lie side by side: a bridge of solder may join them, a wire may sit on the wrong one. Coil ends, cases and frames
/// have no neighbours.
#[must_use]
pub fn neighbours(harness: &Harness) -> Vec<(LugId, LugId)> {
    let mut all = Vec::new();
    for part in &harness.parts {
        if !matches!(part.kind, PartKind::Pot(_) | PartKind::Switch(_) | PartKind::Jack(_)) {
            continue;
        }
        let lugs: Vec<LugId> = part.lugs.clone().map(LugId).collect();
        for pair in lugs.windows(2) {
            let metal = |lug: LugId| matches!(harness.lugs[lug.0 as usize].name.as_str(), "case" | "frame");
            if !metal(pair[0]) && !metal(pair[1]) {
                all.push((pair[0], pair[1]));
            }
        }
    }
    all
}

fn step(harness: &Harness, a: LugId, b: LugId, ground: bool) -> Step {
    let part = |lug: LugId| harness.lugs[lug.0 as usize].part;
    let kinds = [a, b].map(|lug| &harness.part(part(lug)).kind);
    let any = |is: fn(&PartKind) -> bool| kinds.iter().any(|kind| is(kind));
    if part(a) == part(b) {
        Step::OnOnePart
    } else if any(|k| {
        matches!(k, PartKind::Jack(_) | PartKind::Strings | PartKind::Shield | PartKind::Battery(_))
    }) {
        Step::Outside
    } else if any(|k| matches!(k, PartKind::Pickup(_) | PartKind::Piezo(_))) {
        Step::Pickups
    } else if any(|k| matches!(k, PartKind::Resistor(_) | PartKind::Capacitor(..) | PartKind::Inductor(..))) {
        Step::Components
    } else if ground {
        Step::Ground
    } else {
        Step::Controls
    }
}

/// Whether wires alone join each lug to the jack's sleeve.
fn at_ground(harness: &Harness) -> Vec<bool> {
    let mut merged = Merged::new(harness.lugs.len());
    for joint in harness.joints.iter().filter(|joint| joint.kind != JointKind::Plugged) {
        merged.join(joint.a.0 as usize, joint.b.0 as usize);
    }
    let ground = merged.find(harness.ground.0 as usize);
    (0..harness.lugs.len()).map(|lug| merged.find(lug) == ground).collect()
}

#[cfg(test)]
mod tests;
