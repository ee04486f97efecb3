//! The circuit of one state by its structure alone: which elements are joined how, without what leads nowhere.

use std::collections::BTreeMap;

use super::build::Law;
use super::graph::{Graph, Path};
use super::nets::Merged;
use super::reach::blocks;
use super::{Network, Setting};
use crate::harness::Harness;

/// Edges by number, each with the number of its biconnected block and of its two ends within that.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Skeleton(Vec<(usize, [usize; 3])>);

impl Skeleton {
    /// Two states with equal skeletons are one circuit at the jack, whatever the values of its elements: where blocks hang together in one
    /// node alone, it does not matter which (H. Whitney, "2-isomorphic graphs", Amer. J. Math. 55 (1933) 245–254). Jacks and amp inputs
    /// against ground are edges, too, and so is what a buffer listens to. An edge that is a block of its own carries no current.
    pub(crate) fn of(network: &Network, harness: &Harness, setting: &Setting<'_>) -> Skeleton {
        let graph = Graph::new(network, harness, setting);
        let mut metal = Merged::new(graph.node_count());
        let closed = |law: Law| matches!(law, Law::Contact(_));
        for element in network.elements.iter().filter(|e| closed(e.law) && graph.path(e) == Path::Metal) {
            metal.join(graph.at(element.a), graph.at(element.b));
        }
        let mut edges = Vec::new();
        // (number, it is there even if no current flows).
        let mut names = Vec::new();
        let mut edge = |name: (usize, bool), a, b| {
            names.push(name);
            edges.push((metal.find(graph.at(a)), metal.find(graph.at(b))));
        };
        let mut next = 0;
        let mut number = || {
            next += 1;
            next
        };
        for outlet in &network.outlets {
            edge((number(), true), outlet.jack, network.ground);
            edge((number(), true), outlet.amp, network.ground);
        }
        for element in &network.elements {
            let (own, heard) = (number(), number());
            if closed(element.law) || graph.path(element) == Path::None {
                continue;
            }
            edge((own, false), element.a, element.b);
            if let Law::Stage(_, _, plus, minus) = element.law {
                edge((heard, true), plus, minus);
            }
        }
        let block_of = blocks(graph.node_count(), &edges);
        let mut sizes = vec![0; edges.len()];
        block_of.iter().for_each(|&block| sizes[block] += 1);
        let mut numbers: BTreeMap<usize, (usize, BTreeMap<usize, usize>)> = BTreeMap::new();
        let mut list = Vec::new();
        for ((&(name, always), &(a, b)), &block) in names.iter().zip(&edges).zip(&block_of) {
            if sizes[block] == 1 && a != b && !always {
                continue;
            }
            let count = numbers.len();
            let (own, ends) = numbers.entry(block).or_insert((count, BTreeMap::new()));
            let mut local = |net| {
                let count = ends.len();
                *ends.entry(net).or_insert(count)
            };
            list.push((name, [*own, local(a), local(b)]));
        }
        Skeleton(list)
    }
}
