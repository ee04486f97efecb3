//! Numbers the unknowns and writes the stamps.

use crate::error::{SolveError, SolveErrorKind};
use crate::handle::{
    Branch, Capacitor, Cccs, Ccvs, Contact, Element, Inductor, OpAmp, Resistor, Transformer, Vcvs,
    VoltageSource,
};
use crate::layout::current::{Current, Currents};
use crate::layout::form::{Form, Forms};
use crate::layout::nets::{Loops, Nets};
use crate::stamp::{Law, Stamp, Stamps};
use crate::topology::Topology;

/// An unknown, named only when an error needs it.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Quantity {
    Voltage(u32),
    Current(Element),
}

/// A controlled source or op amp that senses a voltage between two islands: that voltage is free, so whatever depends on these rows is
/// undetermined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spanning {
    /// Rows by which the sensed voltage enters, the second with opposite sign.
    pub(crate) rows: [Option<u32>; 2],
    /// The gain, if any: zero means that nothing is sensed.
    pub(crate) gain: Law,
}

/// Numbering of unknowns: merged nodes in order, then branches in order of kind and creation.
pub(super) struct Numbering<'a> {
    topology: &'a Topology,
    pub(super) unknowns: Vec<Quantity>,
    pub(super) row_of_class: Vec<Option<u32>>,
    pub(super) currents: Currents,
    pub(super) source_unknown: Vec<Current>,
    op_amps: Vec<u32>,
    transformers: Vec<u32>,
}

impl<'a> Numbering<'a> {
    pub(super) fn new(topology: &'a Topology, forms: &Forms, nets: &Nets, loops: &Loops) -> Self {
        let circuit = topology.id;
        let mut unknowns = Vec::new();
        let mut row_of_class = vec![None; topology.nodes.len()];
        for node in 0..topology.nodes.len() as u32 {
            let (class, island) = (nets.class[node as usize], nets.island[node as usize]);
            if class == node && island != node {
                row_of_class[node as usize] = Some(unknowns.len() as u32);
                unknowns.push(Quantity::Voltage(node));
            }
        }
        let mut kept = |branch: Branch| {
            if loops.dropped.contains(&branch) {
                return Current::Free;
            }
            unknowns.push(Quantity::Current(branch.into()));
            Current::Unknown(unknowns.len() as u32 - 1)
        };
        let mut by_form = |branch: Branch, form: Form| match form {
            Form::Open => Current::Zero,
            Form::Merged | Form::Admittance => Current::Unprobed,
            Form::Short | Form::Series => kept(branch),
        };
        let at = |i: usize| i as u32;
        let mut currents = Currents {
            resistors: forms
                .resistors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Resistor(Resistor { circuit, index: at(i) }), f))
                .collect(),
            capacitors: forms
                .capacitors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Capacitor(Capacitor { circuit, index: at(i) }), f))
                .collect(),
            inductors: forms
                .inductors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Inductor(Inductor { circuit, index: at(i) }), f))
                .collect(),
            contacts: forms
                .contacts
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Contact(Contact { circuit, index: at(i) }), f))
                .collect(),
            ..Currents::default()
        };
        currents.voltage_sources = (0..topology.voltage_sources.len())
            .map(|i| kept(Branch::VoltageSource(VoltageSource { circuit, index: at(i) })))
            .collect();
        currents.vcvs =
            (0..topology.vcvs.len()).map(|i| kept(Branch::Vcvs(Vcvs { circuit, index: at(i) }))).collect();
        currents.ccvs =
            (0..topology.ccvs.len()).map(|i| kept(Branch::Ccvs(Ccvs { circuit, index: at(i) }))).collect();
        let mut other = |element: Element| {
            unknowns.push(Quantity::Current(element));
            unknowns.len() as u32 - 1
        };
        let op_amps =
            (0..topology.op_amps.len()).map(|i| other(OpAmp { circuit, index: at(i) }.into())).collect();
        let transformers = (0..topology.transformers.len())
            .map(|i| other(Transformer { circuit, index: at(i) }.into()))
            .collect();
        let source_unknown = currents.voltage_sources.clone();
        // A loop of zero impedance also frees branches that keep an unknown; controls must not use them.
        Numbering { topology, unknowns, row_of_class, currents, source_unknown, op_amps, transformers }
    }

    pub(super) fn stamp(
        &mut self,
        forms: &Forms,
        nets: &Nets,
    ) -> Result<(Vec<Stamp>, Vec<Spanning>), SolveError> {
        let topology = self.topology;
        let pair = |a: u32, b: u32| [a, b].map(|node| self.row_of_class[nets.class[node as usize] as usize]);
        let spans = |a: u32, b: u32| nets.island[a as usize] != nets.island[b as usize];
        let unknown = |current: Current| {
            if let Current::Unknown(i) = current { Some(i) } else { None }
        };
        let mut out = Stamps::default();
        let mut spanning = Vec::new();

        for (i, e) in topology.resistors.iter().enumerate() {
            let row = unknown(self.currents.resistors[i]);
            match forms.resistors[i] {
                Form::Admittance => out.admittance(pair(e.a, e.b), Law::Conductance(i as u32)),
                Form::Series | Form::Short => {
                    out.branch(pair(e.a, e.b), row);
                    if forms.resistors[i] == Form::Series {
                        out.add(row, row, -1.0, Law::Resistance(i as u32));
                    }
                }
                Form::Open | Form::Merged => {}
            }
        }
        for (i, e) in topology.capacitors.iter().enumerate() {
            let row = unknown(self.currents.capacitors[i]);
            match forms.capacitors[i] {
                Form::Admittance => out.admittance(pair(e.a, e.b), Law::Capacitance(i as u32)),
                Form::Series => {
                    out.flow(pair(e.a, e.b), row, 1.0, Law::One);
                    out.add(row, row, 1.0, Law::One);
                    out.difference(row, pair(e.a, e.b), -1.0, Law::Capacitance(i as u32));
                }
                Form::Open | Form::Merged | Form::Short => {}
            }
        }
        for (i, e) in topology.inductors.iter().enumerate() {
            let row = unknown(self.currents.inductors[i]);
            if row.is_some() {
                out.branch(pair(e.a, e.b), row);
                if forms.inductors[i] == Form::Series {
                    out.add(row, row, -1.0, Law::Inductance(i as u32));
                }
            }
        }
        for (i, e) in topology.couplings.iter().enumerate() {
            if forms.inductors[e.a as usize] == Form::Series && forms.inductors[e.b as usize] == Form::Series
            {
                let [a, b] = [e.a, e.b].map(|inductor| unknown(self.currents.inductors[inductor as usize]));
                let law = Law::Mutual { coupling: i as u32, a: e.a, b: e.b };
                out.add(a, b, -1.0, law);
                out.add(b, a, -1.0, law);
            }
        }
        for (i, e) in topology.contacts.iter().enumerate() {
            if forms.contacts[i] == Form::Short {
                out.branch(pair(e.a, e.b), unknown(self.currents.contacts[i]));
            }
        }
        for (i, e) in topology.voltage_sources.iter().enumerate() {
            out.branch(pair(e.a, e.b), unknown(self.currents.voltage_sources[i]));
        }
        for (i, e) in topology.vcvs.iter().enumerate() {
            let (row, gain) = (unknown(self.currents.vcvs[i]), Law::Vcvs(i as u32));
            out.branch(pair(e.a, e.b), row);
            out.difference(row, pair(e.c, e.d), -1.0, gain);
            if spans(e.c, e.d) {
                spanning.push(Spanning { rows: [row, None], gain });
            }
        }
        for (i, e) in topology.vccs.iter().enumerate() {
            let gain = Law::Vccs(i as u32);
            let [from, to] = pair(e.a, e.b);
            if from != to {
                out.difference(from, pair(e.c, e.d), 1.0, gain);
                out.difference(to, pair(e.c, e.d), -1.0, gain);
                if spans(e.c, e.d) {
                    spanning.push(Spanning { rows: [from, to], gain });
                }
            }
        }
        for (i, e) in topology.ccvs.iter().enumerate() {
            let row = unknown(self.currents.ccvs[i]);
            out.branch(pair(e.a, e.b), row);
            let control = self.control(Ccvs { circuit: topology.id, index: i as u32 }.into(), e.control)?;
            out.add(row, control, -1.0, Law::Ccvs(i as u32));
        }
        for (i, e) in topology.cccs.iter().enumerate().filter(|&(i, _)| forms.cccs_acts(i)) {
            let control = self.control(Cccs { circuit: topology.id, index: i as u32 }.into(), e.control)?;
            out.flow(pair(e.a, e.b), control, 1.0, Law::Cccs(i as u32));
        }
        for (i, e) in topology.op_amps.iter().enumerate() {
            let row = Some(self.op_amps[i]);
            out.flow(pair(e.c, e.d), row, 1.0, Law::One);
            out.difference(row, pair(e.a, e.b), 1.0, Law::One);
            if spans(e.a, e.b) {
                spanning.push(Spanning { rows: [row, None], gain: Law::One });
            }
        }
        for (i, e) in topology.transformers.iter().enumerate() {
            let (row, ratio) = (Some(self.transformers[i]), Law::Ratio(i as u32));
            out.branch(pair(e.a, e.b), row);
            out.flow(pair(e.c, e.d), row, -1.0, ratio);
            out.difference(row, pair(e.c, e.d), -1.0, ratio);
        }
        Ok((out.list, spanning))
    }

    /// Whether the matrix is symmetric, whatever the values.
    pub(super) fn is_symmetric(&self, forms: &Forms) -> bool {
        let topology = self.topology;
        let controlled = [topology.vcvs.len(), topology.vccs.len(), topology.ccvs.len(), topology.cccs.len()];
        controlled.iter().all(|&count| count == 0)
            && topology.op_amps.is_empty()
            && forms.capacitors.iter().all(|&form| form != Form::Series)
    }

    /// The unknown of a controlling current; `None` where that current is exactly zero.
    fn control(&self, element: Element, branch: Branch) -> Result<Option<u32>, SolveError> {
        match self.currents.of(branch) {
            Current::Zero => Ok(None),
            Current::Unknown(i) => Ok(Some(i)),
            Current::Free | Current::Unprobed => {
                let kind = SolveErrorKind::FreeControl {
                    element: self.topology.named(element),
                    control: self.topology.named(branch),
                };
                Err(kind.into())
            }
        }
    }
}
