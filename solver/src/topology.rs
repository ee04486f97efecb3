//! What a circuit is apart from its numbers. Shared by circuit, values and layouts.

use std::sync::Arc;

use crate::error::{Named, Unknown};
use crate::handle::{Branch, Element, Node, Source};

/// An element between two nodes, a first.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TwoTerminal {
    pub(crate) name: String,
    pub(crate) a: u32,
    pub(crate) b: u32,
}

/// An element with an output pair and a pair that is sensed (or the second winding).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FourTerminal {
    pub(crate) name: String,
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) c: u32,
    pub(crate) d: u32,
}

/// A source controlled by a branch current.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct CurrentControlled {
    pub(crate) name: String,
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) control: Branch,
}

/// Two coupled inductors.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pair {
    pub(crate) name: String,
    pub(crate) a: u32,
    pub(crate) b: u32,
}

#[derive(Debug, Clone)]
pub(crate) struct Topology {
    pub(crate) id: u32,
    pub(crate) nodes: Vec<String>,
    pub(crate) resistors: Vec<TwoTerminal>,
    pub(crate) capacitors: Vec<TwoTerminal>,
    pub(crate) inductors: Vec<TwoTerminal>,
    pub(crate) couplings: Vec<Pair>,
    pub(crate) contacts: Vec<TwoTerminal>,
    pub(crate) voltage_sources: Vec<TwoTerminal>,
    pub(crate) current_sources: Vec<TwoTerminal>,
    pub(crate) vcvs: Vec<FourTerminal>,
    pub(crate) vccs: Vec<FourTerminal>,
    pub(crate) ccvs: Vec<CurrentControlled>,
    pub(crate) cccs: Vec<CurrentControlled>,
    /// a = plus, b = minus, c = out, d = reference.
    pub(crate) op_amps: Vec<FourTerminal>,
    pub(crate) transformers: Vec<FourTerminal>,
    /// Independent sources in order of creation.
    pub(crate) sources: Vec<Source>,
}

impl Topology {
    pub(crate) fn new(id: u32) -> Self {
        Topology {
            id,
            nodes: vec!["ground".to_owned()],
            resistors: Vec::new(),
            capacitors: Vec::new(),
            inductors: Vec::new(),
            couplings: Vec::new(),
            contacts: Vec::new(),
            voltage_sources: Vec::new(),
            current_sources: Vec::new(),
            vcvs: Vec::new(),
            vccs: Vec::new(),
            ccvs: Vec::new(),
            cccs: Vec::new(),
            op_amps: Vec::new(),
            transformers: Vec::new(),
            sources: Vec::new(),
        }
    }

    /// Whether numbers made for one serve the other: one circuit, and the same elements in it. Copies of a circuit share its identity but
    /// may have grown apart. Nodes carry no number, and one that no element uses makes no difference.
    pub(crate) fn same_elements(self: &Arc<Self>, other: &Arc<Self>) -> bool {
        Arc::ptr_eq(self, other) || self.id == other.id && self.elements() == other.elements()
    }

    /// Whether another circuit, made apart, has the same elements between the same nodes. What listens to a branch holds its handle, so that
    /// circuits with such elements are never alike.
    pub(crate) fn same_structure(&self, other: &Topology) -> bool {
        let kinds = |topology: &Topology| {
            let kind = |source: &Source| match source {
                Source::Voltage(e) => (true, e.index),
                Source::Current(e) => (false, e.index),
            };
            topology.sources.iter().map(kind).collect::<Vec<_>>()
        };
        self.nodes.len() == other.nodes.len()
            && self.parts() == other.parts()
            && kinds(self) == kinds(other)
            && self.ccvs.is_empty()
            && self.cccs.is_empty()
    }

    fn elements(&self) -> impl PartialEq + '_ {
        (self.parts(), [&self.ccvs, &self.cccs], &self.sources)
    }

    fn parts(&self) -> impl PartialEq + '_ {
        let two = [
            &self.resistors,
            &self.capacitors,
            &self.inductors,
            &self.contacts,
            &self.voltage_sources,
            &self.current_sources,
        ];
        let four = [&self.vcvs, &self.vccs, &self.op_amps, &self.transformers];
        (two, four, &self.couplings)
    }

    pub(crate) fn owns_node(&self, node: Node) -> bool {
        node.circuit == self.id && node.index() < self.nodes.len()
    }

    pub(crate) fn owns(&self, element: Element) -> bool {
        element.circuit() == self.id && self.name_of(element).is_some()
    }

    fn name_of(&self, element: Element) -> Option<&str> {
        let i = element.index();
        match element {
            Element::Resistor(_) => self.resistors.get(i).map(|e| &e.name),
            Element::Capacitor(_) => self.capacitors.get(i).map(|e| &e.name),
            Element::Inductor(_) => self.inductors.get(i).map(|e| &e.name),
            Element::Coupling(_) => self.couplings.get(i).map(|e| &e.name),
            Element::Contact(_) => self.contacts.get(i).map(|e| &e.name),
            Element::VoltageSource(_) => self.voltage_sources.get(i).map(|e| &e.name),
            Element::CurrentSource(_) => self.current_sources.get(i).map(|e| &e.name),
            Element::Vcvs(_) => self.vcvs.get(i).map(|e| &e.name),
            Element::Vccs(_) => self.vccs.get(i).map(|e| &e.name),
            Element::Ccvs(_) => self.ccvs.get(i).map(|e| &e.name),
            Element::Cccs(_) => self.cccs.get(i).map(|e| &e.name),
            Element::OpAmp(_) => self.op_amps.get(i).map(|e| &e.name),
            Element::Transformer(_) => self.transformers.get(i).map(|e| &e.name),
        }
        .map(String::as_str)
    }

    /// Name of an element, empty if it is not of this circuit.
    pub(crate) fn name(&self, element: Element) -> &str {
        self.name_of(element).unwrap_or_default()
    }

    /// Place of a source in the order of creation.
    pub(crate) fn place_of_source(&self, source: Source) -> usize {
        self.sources.iter().position(|&other| other == source).unwrap_or_default()
    }

    pub(crate) fn named(&self, element: impl Into<Element>) -> Named {
        let element = element.into();
        Named { element, name: self.name(element).to_owned() }
    }

    pub(crate) fn voltage_of(&self, node: u32) -> Unknown {
        Unknown::Voltage {
            node: Node { circuit: self.id, index: node },
            name: self.nodes[node as usize].clone(),
        }
    }
}
