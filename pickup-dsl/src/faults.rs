//! The fault table: what a meter at the jack would read with one joint wrong.
//!
//! Every wire is left open once, every two lugs that lie side by side are bridged once, and every wire's end sits once on the lug beside its
//! own; each such guitar is a harness of its own, solved at 0 Hz in every position. A fault whose readings all stay inside the band that
//! sound parts may show can't be told by a meter.

use crate::card::{Band, Card, warmed};
use crate::evaluate::{FigureError, explain};
use crate::figures::{Figure, tip_to_sleeve};
use crate::harness::{Harness, Joint, JointKind, LugId};
use crate::network::Network;
use crate::positions::Position;
use crate::sheet::neighbours;
use crate::source::Span;

/// One thing that is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The wire between these lugs makes no contact.
    Open(LugId, LugId),
    /// Solder or a stray strand joins these two.
    Bridge(LugId, LugId),
    /// The wire from the first lug is on the third instead of the second.
    Misplaced {
        /// The end that is right.
        from: LugId,
        /// Where the other end belongs.
        to: LugId,
        /// Where it sits.
        on: LugId,
    },
}

/// A reading that a fault changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Index in the positions given.
    pub position: usize,
    /// Tip–sleeve at rest with the fault, in the room of the card, Ω.
    pub reads: Figure,
    /// It lies outside the band of the sound guitar.
    pub outside: bool,
}

/// A fault with all readings that it changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// What is wrong.
    pub fault: Fault,
    /// Where the file says the wire; none for a bridge.
    pub span: Option<Span>,
    /// In order of the positions; readings that do not change are left out.
    pub shown: Vec<Shown>,
}

impl Effect {
    /// A meter at the jack finds it.
    #[must_use]
    pub fn is_seen(&self) -> bool {
        self.shown.iter().any(|shown| shown.outside)
    }
}

/// Faults times positions times elements that are solved at most: some ten seconds of work.
const MOST: usize = 50_000_000;

/// Why there is no table.
#[derive(Debug, Clone, thiserror::Error)]
#[non_exhaustive]
pub enum FaultsError {
    /// More work than is reasonable.
    #[error(
        "{faults} faults in {positions} positions of a circuit of {elements} elements are too many to solve"
    )]
    TooMany {
        /// Single faults.
        faults: usize,
        /// Positions.
        positions: usize,
        /// Elements of the circuit.
        elements: usize,
    },
    /// The sound guitar can't be solved.
    #[error(transparent)]
    Circuit(#[from] FigureError),
}

/// A reading changes if it does so by more than this share of itself.
const CHANGES: f64 = 1e-9;

/// Every fault with what it does to the readings; the card is that of `positions`, and its room is where they are read.
///
/// # Errors
/// The sound guitar can't be solved, or there is too much to solve. A faulty guitar that can't be solved, or that is no circuit, is left
/// out: no meter reads it either.
pub fn faults(harness: &Harness, positions: &[Position], card: &Card) -> Result<Vec<Effect>, FaultsError> {
    let harness = &warmed(harness, card.conditions.celsius);
    let sound = Network::of(harness).map_err(FigureError::from)?;
    let imagined = imagined(harness);
    let (faults, elements) = (imagined.len(), sound.provenance.len());
    if faults.saturating_mul(positions.len()).saturating_mul(elements) > MOST {
        return Err(FaultsError::TooMany { faults, positions: positions.len(), elements });
    }
    let right: Vec<Figure> = positions
        .iter()
        .map(|position| tip_to_sleeve(harness, &sound, &position.throws).map_err(|e| explain(&sound, e)))
        .collect::<Result<_, FigureError>>()?;
    let mut all = Vec::new();
    for (fault, span) in imagined {
        let faulty = with(harness, fault);
        let Ok(network) = Network::of(&faulty) else { continue };
        let mut shown = Vec::new();
        let mut solved = true;
        for (index, position) in positions.iter().enumerate() {
            let Ok(reads) = tip_to_sleeve(&faulty, &network, &position.throws) else {
                solved = false;
                break;
            };
            if changes(right[index], reads) {
                let band = card.positions.get(index).and_then(|entry| entry.readings.first());
                shown.push(Shown {
                    position: index,
                    reads,
                    outside: band.is_none_or(|reading| !holds(&reading.at_rest, reads)),
                });
            }
        }
        if solved {
            all.push(Effect { fault, span, shown });
        }
    }
    Ok(all)
}

/// Every fault once.
fn imagined(harness: &Harness) -> Vec<(Fault, Option<Span>)> {
    let wires: Vec<&Joint> = harness.joints.iter().filter(|joint| joint.kind == JointKind::Wire).collect();
    let beside = neighbours(harness);
    let mut all: Vec<(Fault, Option<Span>)> =
        wires.iter().map(|wire| (Fault::Open(wire.a, wire.b), Some(wire.span))).collect();
    all.extend(beside.iter().map(|(a, b)| (Fault::Bridge(*a, *b), None)));
    for wire in wires {
        for (from, to) in [(wire.a, wire.b), (wire.b, wire.a)] {
            let next = beside.iter().filter_map(|(a, b)| match to {
                _ if *a == to => Some(*b),
                _ if *b == to => Some(*a),
                _ => None,
            });
            all.extend(
                next.filter(|on| *on != from).map(|on| (Fault::Misplaced { from, to, on }, Some(wire.span))),
            );
        }
    }
    all
}

/// The harness with that fault.
#[must_use]
pub fn with(harness: &Harness, fault: Fault) -> Harness {
    let mut faulty = harness.clone();
    let is = |joint: &Joint, a: LugId, b: LugId| {
        joint.kind == JointKind::Wire && ((joint.a, joint.b) == (a, b) || (joint.a, joint.b) == (b, a))
    };
    match fault {
        Fault::Open(a, b) => faulty.joints.retain(|joint| !is(joint, a, b)),
        Fault::Bridge(a, b) => {
            let span = harness.part(harness.lugs[a.0 as usize].part).span;
            faulty.joints.push(Joint { a, b, span, kind: JointKind::Wire });
        }
        Fault::Misplaced { from, to, on } => {
            for joint in faulty.joints.iter_mut().filter(|joint| is(joint, from, to)) {
                (joint.a, joint.b) = (from, on);
            }
        }
    }
    faulty
}

fn changes(right: Figure, reads: Figure) -> bool {
    match (right, reads) {
        (Ok(right), Ok(reads)) => (right - reads).abs() > CHANGES * right.abs().max(reads.abs()),
        (right, reads) => right != reads,
    }
}

/// A sound guitar may read that.
fn holds(band: &Band, reads: Figure) -> bool {
    match (band.low, band.high, reads) {
        (Ok(low), Ok(high), Ok(reads)) => (low..=high).contains(&reads),
        (low, _, reads) => low.is_err() && reads.is_err(),
    }
}

#[cfg(test)]
mod tests;
