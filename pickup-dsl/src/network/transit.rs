//! What holds hot while a switch moves: its contacts on the way are those of both throws, or of either.

use super::build::Law;
use super::graph::{Graph, Path};
use super::nets::Merged;
use super::{Loads, Network, Setting, joint};
use crate::harness::Harness;

/// How an outlet's hot stands at the jack, with nothing plugged in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hot {
    /// At most 1 Ω from ground.
    Grounded,
    /// A direct current finds a way to ground, through coils, pots and resistors.
    Held,
    /// None does: it takes any charge, and picks up any hum.
    Open,
}

/// A switch between two of its throws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Move {
    /// Index in the order of `Harness::switches`.
    pub(crate) switch: usize,
    pub(crate) from: usize,
    pub(crate) to: usize,
}

/// Hot of each outlet in a state, or while one of its switches moves.
///
/// On the way a break-first switch joins what both throws join, a make-first switch what either does.
pub(crate) fn hot(
    network: &Network,
    harness: &Harness,
    setting: &Setting<'_>,
    moving: Option<Move>,
) -> Vec<Hot> {
    let mut values = network.values(harness, &Setting { loads: Loads::Bare, ..*setting });
    if let Some(Move { switch, from, to }) = moving
        && let (Some(contacts), Some((_, table))) =
            (network.switches.get(switch), harness.switches().nth(switch))
    {
        contacts.travel(&mut values, table, from, to);
    }
    let graph = Graph::of(network, values);
    let joints = joint::of_nodes(&graph);
    let mut held = Merged::new(graph.node_count());
    for element in &network.elements {
        if graph.path(element) != Path::None && !matches!(element.law, Law::Capacitor(_)) {
            held.join(graph.at(element.a), graph.at(element.b));
        }
    }
    let ground = graph.at(network.ground);
    let of = |node: usize| {
        if joints[node] == joints[ground] {
            Hot::Grounded
        } else if held.find(node) == held.find(ground) {
            Hot::Held
        } else {
            Hot::Open
        }
    };
    network.outlets.iter().map(|outlet| graph.at(outlet.jack)).map(of).collect()
}
