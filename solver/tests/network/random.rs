//! Random networks as plain data, for the property tests.

use proptest::prelude::*;
use solver::{Branch, Circuit, Farads, Henries, Inductor, Node, Ohms, Siemens};

/// A part between node numbers; 0 is ground. The last field of a current-controlled part chooses its control among the branches so far.
#[derive(Debug, Clone)]
pub(crate) enum Part {
    R(usize, usize, f64),
    L(usize, usize, f64),
    C(usize, usize, f64),
    V(usize, usize),
    I(usize, usize),
    Vcvs([usize; 4], f64),
    Vccs([usize; 4], f64),
    Ccvs(usize, usize, f64, usize),
    Cccs(usize, usize, f64, usize),
    OpAmp([usize; 4]),
    Transformer([usize; 4], f64),
}

#[derive(Debug, Clone)]
pub(crate) struct Network {
    pub(crate) nodes: usize,
    pub(crate) parts: Vec<Part>,
    /// Coupling factors between successive inductors.
    pub(crate) k: Vec<f64>,
}

/// The circuit of a network, with the handles in order of the parts.
#[derive(Debug)]
pub(crate) struct Built {
    pub(crate) circuit: Circuit,
    pub(crate) nodes: Vec<Node>,
    /// Branch of each part that can be a control.
    pub(crate) branches: Vec<Option<Branch>>,
}

impl Network {
    /// The part that a current-controlled part listens to, if there is one before it.
    pub(crate) fn control_of(&self, index: usize) -> Option<usize> {
        let (Part::Ccvs(.., pick) | Part::Cccs(.., pick)) = self.parts[index] else { return None };
        let able: Vec<usize> = (0..index)
            .filter(|&i| {
                matches!(
                    self.parts[i],
                    Part::R(..) | Part::L(..) | Part::C(..) | Part::V(..) | Part::Vcvs(..)
                )
            })
            .collect();
        (!able.is_empty()).then(|| able[pick % able.len()])
    }

    pub(crate) fn build(&self) -> Built {
        let mut c = Circuit::new();
        let mut n = vec![c.ground()];
        n.extend((1..self.nodes).map(|i| c.node(format!("n{i}"))));
        let mut branches: Vec<Option<Branch>> = Vec::new();
        let mut coils: Vec<Inductor> = Vec::new();
        for (i, part) in self.parts.iter().enumerate() {
            let name = format!("p{i}");
            let branch = match *part {
                Part::R(a, b, r) => Some(Branch::Resistor(c.resistor(name, n[a], n[b], Ohms(r)).unwrap())),
                Part::L(a, b, l) => {
                    let coil = c.inductor(name, n[a], n[b], Henries(l)).unwrap();
                    coils.push(coil);
                    Some(Branch::Inductor(coil))
                }
                Part::C(a, b, f) => {
                    Some(Branch::Capacitor(c.capacitor(name, n[a], n[b], Farads(f)).unwrap()))
                }
                Part::V(a, b) => Some(Branch::VoltageSource(c.voltage_source(name, n[a], n[b]).unwrap())),
                Part::I(a, b) => {
                    c.current_source(name, n[a], n[b]).unwrap();
                    None
                }
                Part::Vcvs([a, b, p, m], gain) => {
                    Some(Branch::Vcvs(c.vcvs(name, n[a], n[b], n[p], n[m], gain).unwrap()))
                }
                Part::Vccs([a, b, p, m], gain) => {
                    c.vccs(name, n[a], n[b], n[p], n[m], Siemens(gain)).unwrap();
                    None
                }
                Part::Ccvs(a, b, r, _) => {
                    if let Some(control) = self.control_of(i) {
                        c.ccvs(name, n[a], n[b], branches[control].unwrap(), Ohms(r)).unwrap();
                    }
                    None
                }
                Part::Cccs(a, b, gain, _) => {
                    if let Some(control) = self.control_of(i) {
                        c.cccs(name, n[a], n[b], branches[control].unwrap(), gain).unwrap();
                    }
                    None
                }
                Part::OpAmp([p, m, out, reference]) => {
                    c.op_amp(name, n[p], n[m], n[out], n[reference]).unwrap();
                    None
                }
                Part::Transformer([a, b, p, m], ratio) => {
                    c.transformer(name, n[a], n[b], n[p], n[m], ratio).unwrap();
                    None
                }
            };
            branches.push(branch);
        }
        for (pair, &k) in coils.windows(2).zip(&self.k) {
            c.couple(pair[0], pair[1], k).unwrap();
        }
        Built { circuit: c, nodes: n, branches }
    }
}

/// A value spread evenly over decades.
fn decades(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from.log10()..to.log10()).prop_map(|x| 10f64.powf(x))
}

fn pair(nodes: usize) -> impl Strategy<Value = (usize, usize)> {
    (0..nodes, 1..nodes).prop_map(move |(a, step)| (a, (a + step) % nodes))
}

fn four(nodes: usize) -> impl Strategy<Value = [usize; 4]> {
    (pair(nodes), pair(nodes)).prop_map(|((a, b), (c, d))| [a, b, c, d])
}

fn passive(nodes: usize) -> impl Strategy<Value = Part> {
    prop_oneof![
        (pair(nodes), decades(1.0, 1e6)).prop_map(|((a, b), r)| Part::R(a, b, r)),
        (pair(nodes), decades(1e-3, 10.0)).prop_map(|((a, b), l)| Part::L(a, b, l)),
        (pair(nodes), decades(1e-11, 1e-6)).prop_map(|((a, b), c)| Part::C(a, b, c)),
    ]
}

fn active(nodes: usize) -> impl Strategy<Value = Part> {
    prop_oneof![
        4 => passive(nodes),
        1 => pair(nodes).prop_map(|(a, b)| Part::V(a, b)),
        1 => pair(nodes).prop_map(|(a, b)| Part::I(a, b)),
        1 => (four(nodes), -3.0..3.0f64).prop_map(|(n, gain)| Part::Vcvs(n, gain)),
        1 => (four(nodes), -1e-3..1e-3f64).prop_map(|(n, gain)| Part::Vccs(n, gain)),
        1 => (pair(nodes), -1e4..1e4f64, any::<usize>()).prop_map(|((a, b), r, pick)| Part::Ccvs(a, b, r, pick)),
        1 => (pair(nodes), -3.0..3.0f64, any::<usize>()).prop_map(|((a, b), gain, pick)| Part::Cccs(a, b, gain, pick)),
        1 => four(nodes).prop_map(Part::OpAmp),
        1 => (four(nodes), 0.1..10.0f64).prop_map(|(n, ratio)| Part::Transformer(n, ratio)),
    ]
}

/// One resistor from each node to a lower one, so that the network is one island.
fn tree(nodes: usize) -> impl Strategy<Value = Vec<Part>> {
    let branches: Vec<_> =
        (1..nodes).map(|i| (0..i, decades(1e2, 1e6)).prop_map(move |(to, r)| Part::R(i, to, r))).collect();
    branches
}

fn coupling() -> impl Strategy<Value = Vec<f64>> {
    // A chain of factors up to 0.5 in size is positive semidefinite whatever its length (Gershgorin).
    proptest::collection::vec(-0.5..0.5f64, 0..4)
}

/// R, L, C and couplings in one island.
#[allow(dead_code, reason = "not every test target needs it")]
pub(crate) fn passive_network() -> impl Strategy<Value = Network> {
    (3..7usize).prop_flat_map(|nodes| {
        (tree(nodes), proptest::collection::vec(passive(nodes), 2..12), coupling()).prop_map(
            move |(mut parts, more, k)| {
                parts.extend(more);
                Network { nodes, parts, k }
            },
        )
    })
}

/// Every kind of element in one island. Some of these have no solution.
pub(crate) fn any_network() -> impl Strategy<Value = Network> {
    (3..7usize).prop_flat_map(|nodes| {
        (tree(nodes), proptest::collection::vec(active(nodes), 2..12), coupling()).prop_map(
            move |(mut parts, more, k)| {
                parts.extend(more);
                Network { nodes, parts, k }
            },
        )
    })
}

/// A frequency over the audio band and well beyond, Hz.
pub(crate) fn frequency() -> impl Strategy<Value = f64> {
    decades(1.0, 1e6)
}
