//! The network of one state as a graph: which elements conduct, and how.

use std::collections::BTreeMap;

use solver::{Node, Values};

use super::build::{Element, Law, Role};
use super::{Network, Setting};
use crate::harness::Harness;

/// How an element joins its ends in this state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Path {
    /// One piece of metal: a closed contact, or no ohms.
    Metal,
    /// Through a resistance that is not part of a coil.
    Ohms(f64),
    /// Through anything else: a coil, a capacitor, a buffer.
    Other,
    /// Not at all.
    None,
}

/// The same for all states of a network: an index for each node, those of lugs first.
pub(super) fn node_index(lug_nodes: &[Node], elements: &[Element]) -> BTreeMap<Node, usize> {
    let mut index = BTreeMap::new();
    let ends = elements.iter().flat_map(|e| [e.a, e.b]);
    for node in lug_nodes.iter().copied().chain(ends) {
        let next = index.len();
        index.entry(node).or_insert(next);
    }
    index
}

#[derive(Debug)]
pub(super) struct Graph<'n> {
    pub(super) network: &'n Network,
    pub(super) values: Values,
}

impl<'n> Graph<'n> {
    pub(super) fn new(network: &'n Network, harness: &Harness, setting: &Setting<'_>) -> Self {
        Graph::of(network, network.values(harness, setting))
    }

    /// The graph of the state that `values` are of.
    pub(super) fn of(network: &'n Network, values: Values) -> Self {
        Graph { network, values }
    }

    pub(super) fn node_count(&self) -> usize {
        self.network.node_index.len()
    }

    /// Index of a node; lugs' nodes first, in order of the file.
    pub(super) fn at(&self, node: Node) -> usize {
        self.network.node_index[&node]
    }

    pub(super) fn path(&self, element: &Element) -> Path {
        let in_coil = matches!(element.role, Role::Coil(_));
        match element.law {
            Law::Resistor(e) => {
                let ohms = self.values.resistance(e).0;
                if ohms == f64::INFINITY {
                    Path::None
                } else if in_coil {
                    Path::Other
                } else if ohms == 0.0 {
                    Path::Metal
                } else {
                    Path::Ohms(ohms)
                }
            }
            Law::Contact(e) if self.values.closed(e) => Path::Metal,
            Law::Contact(_) | Law::NoiseCurrent(_) => Path::None,
            Law::Capacitor(e) if self.values.capacitance(e).0 == 0.0 => Path::None,
            Law::Capacitor(_) | Law::Inductor(_) | Law::Emf(_) | Law::NoiseVoltage(_) | Law::Stage(..) => {
                Path::Other
            }
        }
    }
}
