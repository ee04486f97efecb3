//! Which coils can drive an outlet at all, by the wiring alone.
//!
//! A transfer that the wiring makes exactly zero comes out of a solution as rounding, which no threshold tells from a faint sound. An
//! EMF can only drive the amp input if a loop runs through both: if its branch and an edge from the amp input to ground are in one
//! biconnected block (reciprocity: what a current injected there can't reach can't reach there). Flux and buffers carry on from
//! block to block.

use solver::Values;

use super::Network;
use super::build::Law;
use super::graph::{Graph, Path};
use super::nets::Merged;

/// For each outlet, whether each of [`Network::sections`] can drive its amp input in the state `values`.
///
/// False means that the transfer is exactly zero; true promises nothing.
#[must_use]
pub(crate) fn reaching(network: &Network, values: &Values) -> Vec<Vec<bool>> {
    let graph = Graph::of(network, values.clone());
    let mut metal = Merged::new(graph.node_count());
    for element in network.elements.iter().filter(|e| graph.path(e) == Path::Metal) {
        metal.join(graph.at(element.a), graph.at(element.b));
    }
    let mut edges = Vec::new();
    let mut of_element = vec![None; network.elements.len()];
    // What is reached by way of what.
    let mut links = Vec::new();
    for (index, element) in network.elements.iter().enumerate() {
        if matches!(graph.path(element), Path::Metal | Path::None) {
            continue;
        }
        of_element[index] = Some(edges.len());
        edges.push((metal.find(graph.at(element.a)), metal.find(graph.at(element.b))));
        if let Law::Stage(_, _, plus, minus) = element.law {
            // An edge where the stage listens: it may make blocks larger than they are, never smaller.
            links.push((edges.len() - 1, edges.len()));
            edges.push((metal.find(graph.at(plus)), metal.find(graph.at(minus))));
        }
    }
    let edge_of = |law: Law| {
        let index = network.elements.iter().position(|element| element.law == law)?;
        of_element[index]
    };
    for coupled in network.couplings.iter().filter(|c| c.k != 0.0) {
        if let (Some(a), Some(b)) = (edge_of(Law::Inductor(coupled.a)), edge_of(Law::Inductor(coupled.b))) {
            links.extend([(a, b), (b, a)]);
        }
    }
    let emfs: Vec<Option<usize>> = network.sections.iter().map(|s| edge_of(Law::Emf(s.emf))).collect();
    let ground = metal.find(graph.at(network.ground));
    network
        .outlets
        .iter()
        .map(|outlet| {
            let amp = metal.find(graph.at(outlet.amp));
            edges.push((amp, ground));
            let block = blocks(graph.node_count(), &edges);
            edges.pop();
            let reached = closure(&block, edges.len(), &links);
            emfs.iter().map(|emf| emf.is_some_and(|edge| reached[block[edge]])).collect()
        })
        .collect()
}

/// Blocks that the block of edge `start` reaches by links from edge to edge.
pub(super) fn closure(block: &[usize], start: usize, links: &[(usize, usize)]) -> Vec<bool> {
    // There are no more blocks than edges.
    let mut reached = vec![false; block.len()];
    reached[block[start]] = true;
    loop {
        let mut grown = false;
        for &(from, to) in links {
            if reached[block[from]] && !reached[block[to]] {
                reached[block[to]] = true;
                grown = true;
            }
        }
        if !grown {
            return reached;
        }
    }
}

/// The biconnected block of each edge, numbered from 0; an edge from a node to itself is a block of its own.
///
/// Depth first with low points (Hopcroft and Tarjan 1973), without recursion: a chain may be long.
pub(super) fn blocks(node_count: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut at_node = vec![Vec::new(); node_count];
    let mut block = vec![0; edges.len()];
    let mut count = 0;
    for (edge, &(a, b)) in edges.iter().enumerate() {
        if a == b {
            block[edge] = count;
            count += 1;
        } else {
            at_node[a].push(edge);
            at_node[b].push(edge);
        }
    }
    // Order of discovery, from 1; 0 is not yet seen.
    let (mut order, mut low) = (vec![0; node_count], vec![0; node_count]);
    let mut clock = 0;
    let mut open = Vec::new();
    for root in 0..node_count {
        if order[root] != 0 {
            continue;
        }
        let mut trail = vec![(root, None, 0)];
        clock += 1;
        (order[root], low[root]) = (clock, clock);
        while let Some((node, via, next)) = trail.last_mut() {
            let (node, via) = (*node, *via);
            if let Some(&edge) = at_node[node].get(*next) {
                *next += 1;
                let (a, b) = edges[edge];
                let other = if a == node { b } else { a };
                if Some(edge) == via {
                    continue;
                }
                if order[other] == 0 {
                    clock += 1;
                    (order[other], low[other]) = (clock, clock);
                    open.push(edge);
                    trail.push((other, Some(edge), 0));
                } else if order[other] < order[node] {
                    open.push(edge);
                    low[node] = low[node].min(order[other]);
                }
                continue;
            }
            trail.pop();
            let (Some(via), Some(&(before, ..))) = (via, trail.last()) else { continue };
            low[before] = low[before].min(low[node]);
            if low[node] >= order[before] {
                while let Some(edge) = open.pop() {
                    block[edge] = count;
                    if edge == via {
                        break;
                    }
                }
                count += 1;
            }
        }
    }
    block
}

#[cfg(test)]
mod tests {
    use super::{blocks, closure};

    #[test]
    fn triangles_that_share_a_node_are_two_blocks() {
        let block = blocks(5, &[(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 2)]);
        assert!(block[0] == block[1] && block[1] == block[2]);
        assert!(block[3] == block[4] && block[4] == block[5]);
        assert_ne!(block[0], block[3]);
    }

    #[test]
    fn two_edges_between_the_same_nodes_are_a_loop_and_a_bridge_is_none() {
        let block = blocks(4, &[(0, 1), (1, 0), (1, 2), (3, 3)]);
        assert_eq!(block[0], block[1]);
        assert!(block[2] != block[0] && block[3] != block[0] && block[2] != block[3]);
    }

    #[test]
    fn a_chord_joins_what_a_chain_leaves_apart() {
        let chain: Vec<(usize, usize)> = (0..50_000).map(|i| (i, i + 1)).collect();
        let mut apart = blocks(50_001, &chain);
        apart.sort_unstable();
        assert!(apart.iter().copied().eq(0..50_000));
        let ring = [&chain[..], &[(50_000, 0)]].concat();
        assert!(blocks(50_001, &ring).iter().all(|&block| block == 0));
    }

    #[test]
    fn links_are_followed_one_after_another_and_one_way() {
        let reached = closure(&[0, 1, 2, 3], 0, &[(1, 2), (0, 1), (3, 0)]);
        assert_eq!(reached, [true, true, true, false]);
    }
}
