//! In which form an element enters the equations. The forms are the structural class of a set of values.

use crate::error::Named;
use crate::handle::{Branch, Capacitor, Cccs, Contact, Element, Inductor, Resistor, Transformer, Vccs};
use crate::topology::Topology;
use crate::values::Numbers;

/// Form of a two-terminal element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// Carries nothing.
    Open,
    /// Zero impedance: its nodes are one.
    Merged,
    /// Zero impedance whose current is kept as an unknown.
    Short,
    /// Admittance between its nodes.
    Admittance,
    /// Branch with its own current.
    Series,
}

/// Below this resistance (Ω) a resistor is a branch with its own current: nodal stamping of 20 mΩ costs 1e-9 of accuracy.
const SMALL_RESISTANCE: f64 = 10.0;

/// A resistor laid out as an admittance keeps that form down to this resistance, Ω, so that a tolerance study stays in one class.
const LEAST_NODAL_RESISTANCE: f64 = 1.0;

/// A resistor this many times smaller than a neighbour is a branch with its own current, for the same reason.
const WIDE_RATIO: f64 = 1e7;

/// Forms of all elements, and which branch currents were asked for.
#[derive(Debug, Clone)]
pub(crate) struct Forms {
    pub(crate) dc: bool,
    pub(crate) resistors: Vec<Form>,
    pub(crate) capacitors: Vec<Form>,
    pub(crate) inductors: Vec<Form>,
    pub(crate) contacts: Vec<Form>,
    vccs_acts: Vec<bool>,
    cccs_acts: Vec<bool>,
    winding_acts: Vec<bool>,
}

impl Forms {
    pub(crate) fn new(topology: &Topology, numbers: &Numbers, dc: bool, probes: &[Branch]) -> Forms {
        let mut probed = Probed::new(topology);
        probes.iter().for_each(|&branch| probed.add(branch));
        topology.ccvs.iter().for_each(|source| probed.add(source.control));
        for (source, &gain) in topology.cccs.iter().zip(&numbers.cccs) {
            if gain != 0.0 {
                probed.add(source.control);
            }
        }
        let widest = widest_neighbours(topology, numbers);
        let zero = |probed: bool| if probed { Form::Short } else { Form::Merged };
        Forms {
            dc,
            resistors: (0..topology.resistors.len())
                .map(|i| match numbers.resistance[i] {
                    0.0 => zero(probed.resistors[i]),
                    f64::INFINITY => Form::Open,
                    r if probed.resistors[i] || r < SMALL_RESISTANCE || r * WIDE_RATIO < widest[i] => {
                        Form::Series
                    }
                    _ => Form::Admittance,
                })
                .collect(),
            capacitors: (0..topology.capacitors.len())
                .map(|i| match numbers.capacitance[i] {
                    _ if dc => Form::Open,
                    0.0 => Form::Open,
                    _ if probed.capacitors[i] => Form::Series,
                    _ => Form::Admittance,
                })
                .collect(),
            inductors: (0..topology.inductors.len())
                .map(|i| {
                    if dc || numbers.inductance[i] == 0.0 { zero(probed.inductors[i]) } else { Form::Series }
                })
                .collect(),
            contacts: (0..topology.contacts.len())
                .map(|i| if numbers.closed[i] { zero(probed.contacts[i]) } else { Form::Open })
                .collect(),
            vccs_acts: numbers.vccs.iter().map(|&gain| gain != 0.0).collect(),
            cccs_acts: numbers.cccs.iter().map(|&gain| gain != 0.0).collect(),
            winding_acts: numbers.ratio.iter().map(|&ratio| ratio != 0.0).collect(),
        }
    }

    /// Whether a current-controlled current source is there: with a gain of 0 it is not, nor is its control looked at.
    pub(super) fn cccs_acts(&self, index: usize) -> bool {
        self.cccs_acts[index]
    }

    /// The first element whose value asks for another form.
    pub(crate) fn misfit(&self, topology: &Topology, numbers: &Numbers) -> Option<Named> {
        let circuit = topology.id;
        let resistor = numbers.resistance.iter().zip(&self.resistors).position(|(&r, form)| match form {
            Form::Open => r != f64::INFINITY,
            Form::Merged | Form::Short => r != 0.0,
            Form::Admittance => !(r.is_finite() && r >= LEAST_NODAL_RESISTANCE),
            Form::Series => !(r.is_finite() && r > 0.0),
        });
        let capacitor = numbers
            .capacitance
            .iter()
            .zip(&self.capacitors)
            .position(|(&c, form)| !self.dc && (c == 0.0) != (*form == Form::Open));
        let inductor = numbers
            .inductance
            .iter()
            .zip(&self.inductors)
            .position(|(&l, form)| !self.dc && (l == 0.0) != (*form != Form::Series));
        let contact = numbers
            .closed
            .iter()
            .zip(&self.contacts)
            .position(|(&closed, form)| closed != (*form != Form::Open));
        let flips = |gains: &[f64], acts: &[bool]| {
            gains.iter().zip(acts).position(|(&gain, &acts)| (gain != 0.0) != acts)
        };
        let vccs = flips(&numbers.vccs, &self.vccs_acts);
        let cccs = flips(&numbers.cccs, &self.cccs_acts);
        let winding = flips(&numbers.ratio, &self.winding_acts);
        let element: Element = if let Some(i) = resistor {
            Resistor { circuit, index: i as u32 }.into()
        } else if let Some(i) = capacitor {
            Capacitor { circuit, index: i as u32 }.into()
        } else if let Some(i) = inductor {
            Inductor { circuit, index: i as u32 }.into()
        } else if let Some(i) = contact {
            Contact { circuit, index: i as u32 }.into()
        } else if let Some(i) = vccs {
            Vccs { circuit, index: i as u32 }.into()
        } else if let Some(i) = cccs {
            Cccs { circuit, index: i as u32 }.into()
        } else {
            Transformer { circuit, index: winding? as u32 }.into()
        };
        Some(topology.named(element))
    }
}

struct Probed {
    resistors: Vec<bool>,
    capacitors: Vec<bool>,
    inductors: Vec<bool>,
    contacts: Vec<bool>,
}

impl Probed {
    fn new(topology: &Topology) -> Self {
        Probed {
            resistors: vec![false; topology.resistors.len()],
            capacitors: vec![false; topology.capacitors.len()],
            inductors: vec![false; topology.inductors.len()],
            contacts: vec![false; topology.contacts.len()],
        }
    }

    fn add(&mut self, branch: Branch) {
        match branch {
            Branch::Resistor(e) => self.resistors[e.index()] = true,
            Branch::Capacitor(e) => self.capacitors[e.index()] = true,
            Branch::Inductor(e) => self.inductors[e.index()] = true,
            Branch::Contact(e) => self.contacts[e.index()] = true,
            Branch::VoltageSource(_) | Branch::Vcvs(_) | Branch::Ccvs(_) => {}
        }
    }
}

/// The largest finite resistance that shares a node with each resistor, Ω.
fn widest_neighbours(topology: &Topology, numbers: &Numbers) -> Vec<f64> {
    let mut at_node = vec![0.0_f64; topology.nodes.len()];
    for (resistor, &r) in topology.resistors.iter().zip(&numbers.resistance) {
        if r.is_finite() {
            for node in [resistor.a, resistor.b] {
                at_node[node as usize] = at_node[node as usize].max(r);
            }
        }
    }
    // Ground collects everything and needs no row of its own.
    at_node[0] = 0.0;
    topology.resistors.iter().map(|e| at_node[e.a as usize].max(at_node[e.b as usize])).collect()
}
