//! Where the signal runs in one state: which lugs carry it, by the wiring alone.

use super::build::Law;
use super::graph::{Graph, Path};
use super::nets::Nets;
use super::{Network, Setting, joint, reach};
use crate::harness::{Harness, LugId};

/// The soldered joint of each lug: equal numbers for lugs that wires, links inside parts, lead colours and plugs make one piece of metal
/// in every position. Contacts join nothing here. Numbers rise with the first lug.
#[must_use]
pub fn soldered(harness: &Harness) -> Vec<usize> {
    Nets::of(harness).of_lug
}

/// What the lugs do in one state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signal {
    /// By lug: it lies in the signal's way, hot itself included and ground left out.
    pub carries: Vec<bool>,
    /// By lug: metal or at most 1 Ω joins it to the jack's sleeve.
    pub ground: Vec<bool>,
}

impl Signal {
    /// Whether a wire or a closed contact between two lugs carries it.
    #[must_use]
    pub fn between(&self, a: LugId, b: LugId) -> bool {
        self.carries[a.0 as usize] && self.carries[b.0 as usize]
    }
}

/// Where the signal runs in one state.
///
/// A joint carries it if a loop through hot and ground leads over it, or if it is hot. What hangs from hot by one end only carries none,
/// nor does a coil with both ends on one joint; flux that a silent coil shares with one that sounds does not count. A stage hands on
/// what it hears.
#[must_use]
pub fn signal(network: &Network, harness: &Harness, setting: &Setting<'_>) -> Signal {
    let graph = Graph::new(network, harness, setting);
    let joints = joint::of_nodes(&graph);
    let at = |node| joints[graph.at(node)];
    let ground = at(network.ground);
    let mut edges = Vec::new();
    // What is heard by way of what.
    let mut links = Vec::new();
    for element in &network.elements {
        if graph.path(element) == Path::None || at(element.a) == at(element.b) {
            continue;
        }
        edges.push((at(element.a), at(element.b)));
        if let Law::Stage(_, _, plus, minus) = element.law {
            links.push((edges.len() - 1, edges.len()));
            edges.push((at(plus), at(minus)));
        }
    }
    let mut carries = vec![false; graph.node_count()];
    for outlet in &network.outlets {
        let hot = at(outlet.jack);
        if hot == ground {
            continue;
        }
        carries[hot] = true;
        edges.push((hot, ground));
        let block = reach::blocks(graph.node_count(), &edges);
        edges.pop();
        let reached = reach::closure(&block, edges.len(), &links);
        for (&(a, b), block) in edges.iter().zip(&block) {
            if reached[*block] {
                (carries[a], carries[b]) = (true, true);
            }
        }
    }
    carries[ground] = false;
    let of_lugs = |is: &dyn Fn(usize) -> bool| network.lug_nodes.iter().map(|&node| is(at(node))).collect();
    Signal { carries: of_lugs(&|joint| carries[joint]), ground: of_lugs(&|joint| joint == ground) }
}
