//! Merged nodes, galvanic islands, and loops of ideal branches.

use crate::handle::{Branch, Contact, Inductor, Resistor, VoltageSource};
use crate::layout::forest::Forest;
use crate::layout::form::{Form, Forms};
use crate::topology::{Topology, TwoTerminal};
use crate::values::Numbers;

/// The graph of a network after exact contacts have merged their nodes.
#[derive(Debug, Clone)]
pub(crate) struct Nets {
    /// Merged node (its lowest member) of each node.
    pub(crate) class: Vec<u32>,
    /// Island (its lowest node, which is its local reference) of each node.
    pub(crate) island: Vec<u32>,
}

fn zero_impedance<'a>(
    topology: &'a Topology,
    forms: &'a Forms,
    wanted: Form,
) -> impl Iterator<Item = (Branch, &'a TwoTerminal)> {
    let circuit = topology.id;
    let resistors = topology.resistors.iter().zip(&forms.resistors).enumerate();
    let inductors = topology.inductors.iter().zip(&forms.inductors).enumerate();
    let contacts = topology.contacts.iter().zip(&forms.contacts).enumerate();
    let resistors = resistors
        .map(move |(i, (e, form))| (Branch::Resistor(Resistor { circuit, index: i as u32 }), e, form));
    let inductors = inductors
        .map(move |(i, (e, form))| (Branch::Inductor(Inductor { circuit, index: i as u32 }), e, form));
    let contacts =
        contacts.map(move |(i, (e, form))| (Branch::Contact(Contact { circuit, index: i as u32 }), e, form));
    resistors
        .chain(inductors)
        .chain(contacts)
        .filter(move |(.., form)| **form == wanted)
        .map(|(branch, e, _)| (branch, e))
}

impl Nets {
    pub(crate) fn new(topology: &Topology, numbers: &Numbers, forms: &Forms) -> Nets {
        let mut merged = Forest::new(topology.nodes.len());
        for (_, e) in zero_impedance(topology, forms, Form::Merged) {
            merged.union(e.a, e.b);
        }
        let class = merged.representatives();

        // An island is held together by whatever can carry a current with a return path in it. An independent current source can't hold
        // a voltage; a controlled one may (two of them make a gyrator), unless its gain is zero.
        let mut joined = Forest::new(topology.nodes.len());
        for (node, &representative) in class.iter().enumerate() {
            joined.union(node as u32, representative);
        }
        let carries = |form: &Form| matches!(form, Form::Short | Form::Admittance | Form::Series);
        let passive = topology.resistors.iter().zip(&forms.resistors);
        let passive = passive.chain(topology.capacitors.iter().zip(&forms.capacitors));
        let passive = passive.chain(topology.inductors.iter().zip(&forms.inductors));
        let passive = passive.chain(topology.contacts.iter().zip(&forms.contacts));
        for (e, _) in passive.filter(|(_, form)| carries(form)) {
            joined.union(e.a, e.b);
        }
        for e in &topology.voltage_sources {
            joined.union(e.a, e.b);
        }
        for e in &topology.vcvs {
            joined.union(e.a, e.b);
        }
        for e in &topology.ccvs {
            joined.union(e.a, e.b);
        }
        for (e, &gain) in topology.vccs.iter().zip(&numbers.vccs) {
            if gain != 0.0 {
                joined.union(e.a, e.b);
            }
        }
        for (e, &gain) in topology.cccs.iter().zip(&numbers.cccs) {
            if gain != 0.0 {
                joined.union(e.a, e.b);
            }
        }
        for e in &topology.op_amps {
            joined.union(e.c, e.d);
        }
        for (e, &ratio) in topology.transformers.iter().zip(&numbers.ratio) {
            joined.union(e.a, e.b);
            if ratio != 0.0 {
                joined.union(e.c, e.d);
            }
        }
        Nets { class, island: joined.representatives() }
    }
}

/// A branch of fixed voltage: a probed branch of zero impedance, or an independent voltage source.
#[derive(Debug, Clone, Copy)]
struct Fixed {
    branch: Branch,
    a: u32,
    b: u32,
}

/// A loop of branches of fixed voltage: Σ sign·E must be zero, and its current is free.
#[derive(Debug, Clone)]
pub(crate) struct Loop {
    pub(crate) branches: Vec<Branch>,
    /// (index of the voltage source, sign).
    pub(crate) voltages: Vec<(u32, f64)>,
}

/// Loops among the branches of fixed voltage.
#[derive(Debug, Clone, Default)]
pub(crate) struct Loops {
    /// Branches left out of the equations, since the others of their loop fix their voltage.
    pub(crate) dropped: Vec<Branch>,
    /// Branches whose current nothing fixes.
    pub(crate) free: Vec<Branch>,
    /// Loops that hold at least one voltage source.
    pub(crate) loops: Vec<Loop>,
}

impl Loops {
    pub(crate) fn new(topology: &Topology, forms: &Forms, nets: &Nets) -> Loops {
        let circuit = topology.id;
        let class = |node: u32| nets.class[node as usize];
        let shorts = zero_impedance(topology, forms, Form::Short);
        let sources = topology.voltage_sources.iter().enumerate();
        let sources =
            sources.map(|(i, e)| (Branch::VoltageSource(VoltageSource { circuit, index: i as u32 }), e));
        let mut found = Loops::default();
        let mut tied = Forest::new(topology.nodes.len());
        let mut tree: Vec<Fixed> = Vec::new();
        for (branch, e) in shorts.chain(sources) {
            let fixed = Fixed { branch, a: class(e.a), b: class(e.b) };
            if tied.union(fixed.a, fixed.b) {
                tree.push(fixed);
                continue;
            }
            found.dropped.push(branch);
            found.free.push(branch);
            let mut closed = Loop { branches: vec![branch], voltages: Vec::new() };
            if let Branch::VoltageSource(source) = branch {
                closed.voltages.push((source.index, 1.0));
            }
            for (member, sign) in path(&tree, fixed.b, fixed.a) {
                found.free.push(member);
                closed.branches.push(member);
                if let Branch::VoltageSource(source) = member {
                    closed.voltages.push((source.index, sign));
                }
            }
            if !closed.voltages.is_empty() {
                found.loops.push(closed);
            }
        }
        found.free.sort_unstable();
        found.free.dedup();
        found
    }
}

/// The way from one node to another along a tree, with +1 for each branch run through from its first node to its second.
fn path(tree: &[Fixed], from: u32, to: u32) -> Vec<(Branch, f64)> {
    // Nodes reached, each with (place of the node before, edge between, direction).
    type Step = Option<(usize, usize, f64)>;
    let mut came: Vec<(u32, Step)> = vec![(from, None)];
    let mut next = 0;
    while next < came.len() && came[next].0 != to {
        let here = came[next].0;
        let back = came[next].1.map(|(_, edge, _)| edge);
        for (edge, fixed) in tree.iter().enumerate().filter(|(edge, _)| Some(*edge) != back) {
            if fixed.a == here {
                came.push((fixed.b, Some((next, edge, 1.0))));
            } else if fixed.b == here {
                came.push((fixed.a, Some((next, edge, -1.0))));
            }
        }
        next += 1;
    }
    let mut way = Vec::new();
    let mut at = came.get(next).and_then(|step| step.1);
    while let Some((previous, edge, sign)) = at {
        way.push((tree[edge].branch, sign));
        at = came[previous].1;
    }
    way
}
