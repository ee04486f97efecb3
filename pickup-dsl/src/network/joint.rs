//! Which lugs are as good as one in one state: what metal joins, and what at most 1 Ω does. A contact of some milliohms is a joint.

use super::graph::{Graph, Path};
use super::nets::Merged;
use super::{Network, Setting};
use crate::harness::{Harness, LugId};

/// At most this much across a coil is a short; so is this much to ground.
pub(super) const SHORT_OHMS: f64 = 1.0;
/// Share by which rounding may carry drawn ohms over their limit.
const ROUNDING: f64 = 1e-9;

pub(super) fn at_most(ohms: f64, limit: f64) -> bool {
    ohms <= limit * (1.0 + ROUNDING)
}

/// The joint of each node of a graph: its smallest node stands for it.
pub(super) fn of_nodes(graph: &Graph<'_>) -> Vec<usize> {
    let mut joint = Merged::new(graph.node_count());
    for element in &graph.network.elements {
        match graph.path(element) {
            Path::Metal => joint.join(graph.at(element.a), graph.at(element.b)),
            Path::Ohms(ohms) if at_most(ohms, SHORT_OHMS) => {
                joint.join(graph.at(element.a), graph.at(element.b));
            }
            Path::Ohms(_) | Path::Other | Path::None => {}
        }
    }
    (0..graph.node_count()).map(|node| joint.find(node)).collect()
}

/// The joints of one state, by lug.
#[derive(Debug, Clone)]
pub(crate) struct Joints {
    of_lug: Vec<usize>,
    ground: usize,
}

impl Joints {
    pub(crate) fn of(network: &Network, harness: &Harness, setting: &Setting<'_>) -> Joints {
        let graph = Graph::new(network, harness, setting);
        let joint = of_nodes(&graph);
        Joints {
            of_lug: network.lug_nodes.iter().map(|&node| joint[graph.at(node)]).collect(),
            ground: joint[graph.at(network.ground)],
        }
    }

    /// The joint that a lug is of; equal for lugs of one joint.
    pub(crate) fn of_lug(&self, lug: LugId) -> usize {
        self.of_lug[lug.0 as usize]
    }

    pub(crate) fn at_ground(&self, lug: LugId) -> bool {
        self.of_lug(lug) == self.ground
    }

    /// The joint of the jack's sleeve.
    pub(crate) fn ground(&self) -> usize {
        self.ground
    }
}
