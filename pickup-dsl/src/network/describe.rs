//! One position's live network as plain data: nets with the lugs that metal joins here, and what stands between them.

use solver::{Gain, Inductor};

use super::build::{Element, Law};
use super::graph::{Graph, Path};
use super::nets::Merged;
use super::{Network, Setting};
use crate::harness::{Harness, LugId};
use crate::source::Span;

/// Nets and elements of one state.
#[derive(Debug, Clone, PartialEq)]
pub struct LiveNetwork {
    /// In order of their first lug in the file; nets inside parts last.
    pub nets: Vec<LiveNet>,
    /// In order of the file.
    pub elements: Vec<LiveElement>,
    /// Inductances that share flux and are both live.
    pub couplings: Vec<LiveCoupling>,
}

/// Lugs that wires, closed contacts and zero resistances make one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LiveNet {
    /// Its first lug, or a place inside a part.
    pub name: String,
    /// Every lug, in order of the file.
    pub lugs: Vec<LugId>,
    /// The jack's sleeve is in it.
    pub ground: bool,
    /// The outlet whose hot lug is in it, if any; the first, if several.
    pub hot: Option<usize>,
    /// Nothing joins it to ground.
    pub floating: bool,
}

/// One element between two nets.
#[derive(Debug, Clone, PartialEq)]
pub struct LiveElement {
    /// `neck.slug resistance`.
    pub name: String,
    /// What it is, with its value.
    pub kind: LiveKind,
    /// Index of a net: of a coil the end nearer its start, of a source its plus.
    pub from: usize,
    /// Index of the other.
    pub to: usize,
    /// Where its value is said.
    pub span: Span,
}

/// What an element is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LiveKind {
    /// Ω.
    Resistance(f64),
    /// F.
    Capacitance(f64),
    /// H.
    Inductance(f64),
    /// EMF of the section of that index.
    Emf(usize),
    /// A buffer's output: so many times the voltage between two nets.
    Gain {
        /// Voltage ratio.
        ratio: f64,
        /// Index of the net it listens to.
        plus: usize,
        /// Index of the net against which it does.
        minus: usize,
    },
    /// A stated noise voltage.
    NoiseVoltage,
    /// A stated noise current.
    NoiseCurrent,
}

/// Flux shared by two live inductances.
#[derive(Debug, Clone, PartialEq)]
pub struct LiveCoupling {
    /// Indices into [`LiveNetwork::elements`].
    pub between: (usize, usize),
    /// Signed coefficient, dots at the `from` ends.
    pub k: f64,
    /// Where it is said.
    pub span: Span,
}

/// The network of one state. Left out: what is open, removed or without value, and what has both ends on one net.
#[must_use]
pub fn live(network: &Network, harness: &Harness, setting: &Setting<'_>) -> LiveNetwork {
    let graph = Graph::new(network, harness, setting);
    let mut metal = Merged::new(graph.node_count());
    let mut joined = Merged::new(graph.node_count());
    for element in &network.elements {
        let (a, b) = (graph.at(element.a), graph.at(element.b));
        match graph.path(element) {
            Path::Metal => {
                metal.join(a, b);
                joined.join(a, b);
            }
            Path::Ohms(_) | Path::Other => joined.join(a, b),
            Path::None => {}
        }
    }
    let mut nets = Nets::of(network, harness, &graph, &mut metal, &mut joined);
    let mut elements = Vec::new();
    let mut inductors: Vec<(Inductor, usize)> = Vec::new();
    for element in &network.elements {
        let (a, b) = (graph.at(element.a), graph.at(element.b));
        if metal.find(a) == metal.find(b) || !is_live(&graph, element) {
            continue;
        }
        let from = nets.net(metal.find(a), &element.name);
        let to = nets.net(metal.find(b), &element.name);
        if let Law::Inductor(inductor) = element.law {
            inductors.push((inductor, elements.len()));
        }
        let kind = match element.law {
            Law::Resistor(e) => LiveKind::Resistance(graph.values.resistance(e).0),
            Law::Capacitor(e) => LiveKind::Capacitance(graph.values.capacitance(e).0),
            Law::Inductor(e) => LiveKind::Inductance(graph.values.inductance(e).0),
            Law::Emf(e) => match network.sections.iter().position(|s| s.emf == e) {
                Some(section) => LiveKind::Emf(section),
                None => continue,
            },
            Law::Stage(stage, _, plus, minus) => LiveKind::Gain {
                ratio: graph.values.gain(Gain::Vcvs(stage)),
                plus: nets.net(metal.find(graph.at(plus)), &element.name),
                minus: nets.net(metal.find(graph.at(minus)), &element.name),
            },
            Law::NoiseVoltage(_) => LiveKind::NoiseVoltage,
            Law::NoiseCurrent(_) => LiveKind::NoiseCurrent,
            Law::Contact(_) => continue,
        };
        elements.push(LiveElement { name: element.name.clone(), kind, from, to, span: element.span });
    }
    let find =
        |inductor: Inductor| inductors.iter().find(|(known, _)| *known == inductor).map(|(_, index)| *index);
    let couplings = network
        .couplings
        .iter()
        .filter(|coupled| coupled.k != 0.0)
        .filter_map(|coupled| {
            Some(LiveCoupling {
                between: (find(coupled.a)?, find(coupled.b)?),
                k: coupled.k,
                span: coupled.span,
            })
        })
        .collect();
    LiveNetwork { nets: nets.nets, elements, couplings }
}

fn is_live(graph: &Graph<'_>, element: &Element) -> bool {
    match element.law {
        // A noise current joins nothing, but it is there.
        Law::NoiseCurrent(_) => true,
        Law::Resistor(_)
        | Law::Capacitor(_)
        | Law::Inductor(_)
        | Law::Contact(_)
        | Law::Emf(_)
        | Law::NoiseVoltage(_)
        | Law::Stage(..) => graph.path(element) != Path::None,
    }
}

/// Nets by the node that stands for them. Nets of lugs come first; places inside parts follow as elements reach them.
struct Nets {
    of_root: Vec<Option<usize>>,
    floats: Vec<bool>,
    nets: Vec<LiveNet>,
}

impl Nets {
    fn of(
        network: &Network,
        harness: &Harness,
        graph: &Graph<'_>,
        metal: &mut Merged,
        joined: &mut Merged,
    ) -> Self {
        let ground = graph.at(network.ground);
        let ground_set = joined.find(ground);
        let count = graph.node_count();
        let mut nets = Nets {
            of_root: vec![None; count],
            floats: (0..count).map(|n| joined.find(n) != ground_set).collect(),
            nets: Vec::new(),
        };
        for (lug, &node) in network.lug_nodes.iter().enumerate() {
            let lug = LugId(lug as u32);
            let net = nets.net(metal.find(graph.at(node)), "");
            let net = &mut nets.nets[net];
            if net.lugs.is_empty() {
                net.name = harness.lug_name(lug);
            }
            net.lugs.push(lug);
        }
        let net = nets.net(metal.find(ground), "ground");
        nets.nets[net].ground = true;
        for (index, outlet) in network.outlets.iter().enumerate() {
            let net = nets.net(metal.find(graph.at(outlet.jack)), "hot");
            nets.nets[net].hot.get_or_insert(index);
        }
        nets
    }

    fn net(&mut self, root: usize, name: &str) -> usize {
        if let Some(net) = self.of_root[root] {
            return net;
        }
        self.nets.push(LiveNet {
            name: format!("beside {name}"),
            lugs: Vec::new(),
            ground: false,
            hot: None,
            floating: self.floats[root],
        });
        self.of_root[root] = Some(self.nets.len() - 1);
        self.nets.len() - 1
    }
}
