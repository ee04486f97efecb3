//! What stands in a coil's way, in words, read off the wiring and not off any response.

use super::build::{Law, Role};
use super::graph::{Graph, Path};
use super::joint::{self, SHORT_OHMS, at_most};
use super::nets::Merged;
use super::{Loads, Network, Setting};
use crate::harness::Harness;

/// More than this across a coil bleeds nothing worth a word.
const BLEED_OHMS: f64 = 20e3;

/// How a section stands in the circuit of one position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CircuitWord {
    /// At most 1 Ω between its ends.
    Shorted,
    /// One end at least leads nowhere, and the other reaches neither hot nor ground.
    Open,
    /// Attached at one end only, and that end reaches the hot side: an antenna.
    HangingFromHot,
    /// Attached at one end only, and that end is ground or reaches ground alone.
    HangingFromGround,
    /// Resistances alone put this many ohms across it, 1 Ω to 20 kΩ.
    Bled(f64),
    /// None of these.
    InCircuit,
}

/// The word of each section, in order of [`Network::sections`], as one outlet's hot sees it.
///
/// On the graph with cable and amp connected and winding, cover and plate capacitances left out; each section itself is removed
/// for its own word. *Resistances alone* are contacts, pot tracks, drawn resistors, leads and loads: no winding, no core loss.
///
/// If nothing else joins a section's ends, the end whose net reaches this outlet's hot decides: at most 1 Ω from ground it hangs from
/// ground (hot and ground are one net there, or the coil sits on the sleeve), and so it does if it reaches hot only by way of ground;
/// else from hot. If no end reaches hot, one that reaches
/// ground makes it hang from ground. Where one end reaches only hot and the other only ground, the section is all that joins
/// them and is in circuit. An outlet that does not exist counts as reached by nothing.
#[must_use]
pub fn in_circuit(
    network: &Network,
    harness: &Harness,
    setting: &Setting<'_>,
    outlet: usize,
) -> Vec<CircuitWord> {
    let setting = Setting { loads: Loads::Plugged, without_stray: true, lifted: None, ..*setting };
    let graph = Graph::new(network, harness, &setting);
    let resistances = Resistances::of(&graph);
    let joint = joint::of_nodes(&graph);
    let ground = graph.at(network.ground);
    let hot = network.outlets.get(outlet).map(|nodes| graph.at(nodes.jack));
    network
        .sections
        .iter()
        .enumerate()
        .map(|(index, section)| {
            let ends = [graph.at(section.start), graph.at(section.finish)];
            let across = resistances.between(ends[0], ends[1]);
            if across.is_some_and(|ohms| at_most(ohms, SHORT_OHMS)) {
                return CircuitWord::Shorted;
            }
            let mut joined = connected_without(&graph, index);
            let sets = ends.map(|end| joined.find(end));
            if sets[0] == sets[1] {
                return match across {
                    Some(ohms) if at_most(ohms, BLEED_OHMS) => CircuitWord::Bled(ohms),
                    _ => CircuitWord::InCircuit,
                };
            }
            let ground_set = joined.find(ground);
            let hot_set = hot.map(|hot| joined.find(hot));
            let at_hot = (0..2).find(|&end| hot_set == Some(sets[end]));
            let at_ground = (0..2).find(|&end| sets[end] == ground_set);
            match (at_hot, at_ground) {
                (Some(hot), Some(ground)) if hot != ground => CircuitWord::InCircuit,
                (Some(end), _) => match resistances.between(ends[end], ground) {
                    Some(ohms) if at_most(ohms, SHORT_OHMS) => CircuitWord::HangingFromGround,
                    _ => {
                        // A chain of coils that ends on ground is no antenna, though cable and amp join ground to hot.
                        let mut clear = connected_clear_of(&graph, index, &joint, ground);
                        match hot {
                            Some(hot) if clear.find(ends[end]) == clear.find(hot) => {
                                CircuitWord::HangingFromHot
                            }
                            _ => CircuitWord::HangingFromGround,
                        }
                    }
                },
                (None, Some(_)) => CircuitWord::HangingFromGround,
                (None, None) => CircuitWord::Open,
            }
        })
        .collect()
}

/// What any element joins, one section left out. A buffer joins its input to its output.
fn connected_without(graph: &Graph<'_>, section: usize) -> Merged {
    connected(graph, section, |_| true)
}

/// The same without what touches the joint that `node` is part of.
fn connected_clear_of(graph: &Graph<'_>, section: usize, joint: &[usize], node: usize) -> Merged {
    connected(graph, section, |at| joint[at] != joint[node])
}

fn connected(graph: &Graph<'_>, section: usize, keep: impl Fn(usize) -> bool) -> Merged {
    let mut joined = Merged::new(graph.node_count());
    let mut join = |a: usize, b: usize| {
        if keep(a) && keep(b) {
            joined.join(a, b);
        }
    };
    for element in &graph.network.elements {
        if element.role == Role::Coil(section) || graph.path(element) == Path::None {
            continue;
        }
        join(graph.at(element.a), graph.at(element.b));
        if let Law::Stage(_, _, plus, minus) = element.law {
            join(graph.at(element.a), graph.at(plus));
            join(graph.at(element.a), graph.at(minus));
        }
    }
    joined
}

/// The resistances alone, metal merged.
#[derive(Debug)]
struct Resistances {
    metal: Vec<usize>,
    reach: Vec<usize>,
    ohms: Vec<(usize, usize, f64)>,
}

impl Resistances {
    fn of(graph: &Graph<'_>) -> Self {
        let mut metal = Merged::new(graph.node_count());
        let mut reach = Merged::new(graph.node_count());
        let mut ohms = Vec::new();
        for element in &graph.network.elements {
            let (a, b) = (graph.at(element.a), graph.at(element.b));
            match graph.path(element) {
                Path::Metal => {
                    metal.join(a, b);
                    reach.join(a, b);
                }
                Path::Ohms(value) => {
                    reach.join(a, b);
                    ohms.push((a, b, value));
                }
                Path::Other | Path::None => {}
            }
        }
        let count = graph.node_count();
        let metal: Vec<usize> = (0..count).map(|node| metal.find(node)).collect();
        let ohms = ohms
            .into_iter()
            .map(|(a, b, value)| (metal[a], metal[b], value))
            .filter(|(a, b, _)| a != b)
            .collect();
        Resistances { reach: (0..count).map(|node| reach.find(node)).collect(), metal, ohms }
    }

    /// Ohms between two nodes; none without a path.
    fn between(&self, a: usize, b: usize) -> Option<f64> {
        if self.reach[a] != self.reach[b] {
            return None;
        }
        let (a, b) = (self.metal[a], self.metal[b]);
        if a == b {
            return Some(0.0);
        }
        // Unknowns: the other nodes of this piece; b is the reference.
        let mut nodes: Vec<usize> = self
            .ohms
            .iter()
            .flat_map(|(p, q, _)| [*p, *q])
            .filter(|&node| self.reach[node] == self.reach[a] && node != a && node != b)
            .collect();
        nodes.sort_unstable();
        nodes.dedup();
        nodes.push(a);
        let row = |node: usize| {
            if node == a { Some(nodes.len() - 1) } else { nodes[..nodes.len() - 1].binary_search(&node).ok() }
        };
        let count = nodes.len();
        let mut siemens = vec![vec![0.0_f64; count]; count];
        for &(p, q, ohms) in &self.ohms {
            let (i, j) = (row(p), row(q));
            for end in [i, j].into_iter().flatten() {
                siemens[end][end] += 1.0 / ohms;
            }
            if let (Some(i), Some(j)) = (i, j) {
                siemens[i][j] -= 1.0 / ohms;
                siemens[j][i] -= 1.0 / ohms;
            }
        }
        // All nodes but a eliminated: a's own conductance to b is left. Diagonally dominant, so no pivoting is needed.
        for done in 0..count - 1 {
            let (above, below) = siemens.split_at_mut(done + 1);
            let pivot = &above[done];
            for row in below {
                let factor = row[done] / pivot[done];
                if factor != 0.0 {
                    for (value, share) in row.iter_mut().zip(pivot).skip(done + 1) {
                        *value -= factor * share;
                    }
                }
            }
        }
        Some(1.0 / siemens[count - 1][count - 1])
    }
}
