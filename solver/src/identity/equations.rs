//! The nodal equations with a current for each branch, in the field. They owe nothing to the layout: zeros and infinities are equations
//! like the others, and every node but the ground has a voltage. Contacts are equations too where their currents are spoken of; elsewhere
//! a closed one makes its nodes one, which is what its equation says.

use crate::handle::{Branch, Source};
use crate::identity::field::{Field, Z};
use crate::identity::number::{Mapped, Resistance};
use crate::topology::Topology;

/// What is put into the right-hand side.
#[derive(Debug, Clone, Copy)]
pub(super) enum Drive {
    Source(Source),
    /// An ampere into the first node and out of the second.
    Port(u32, u32),
}

/// What is observed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Look {
    Voltage(u32, u32),
    Current(Branch),
}

/// Where the branch currents of each kind begin among the unknowns.
#[derive(Debug, Clone, Copy)]
struct Starts {
    resistors: usize,
    capacitors: usize,
    inductors: usize,
    contacts: usize,
    voltage_sources: usize,
    vcvs: usize,
    ccvs: usize,
    op_amps: usize,
    transformers: usize,
    end: usize,
}

impl Starts {
    fn new(topology: &Topology) -> Starts {
        let mut next = topology.nodes.len() - 1;
        let mut take = |count: usize| {
            next += count;
            next - count
        };
        Starts {
            resistors: take(topology.resistors.len()),
            capacitors: take(topology.capacitors.len()),
            inductors: take(topology.inductors.len()),
            contacts: take(topology.contacts.len()),
            voltage_sources: take(topology.voltage_sources.len()),
            vcvs: take(topology.vcvs.len()),
            ccvs: take(topology.ccvs.len()),
            op_amps: take(topology.op_amps.len()),
            transformers: take(topology.transformers.len()),
            end: take(0),
        }
    }

    fn of(&self, branch: Branch) -> usize {
        match branch {
            Branch::Resistor(e) => self.resistors + e.index(),
            Branch::Capacitor(e) => self.capacitors + e.index(),
            Branch::Inductor(e) => self.inductors + e.index(),
            Branch::Contact(e) => self.contacts + e.index(),
            Branch::VoltageSource(e) => self.voltage_sources + e.index(),
            Branch::Vcvs(e) => self.vcvs + e.index(),
            Branch::Ccvs(e) => self.ccvs + e.index(),
        }
    }
}

/// Square system: rows as (column, value), ascending by column, no zeros.
pub(super) struct Equations<'a> {
    topology: &'a Topology,
    /// Row and column of the voltage of each node.
    voltages: Vec<Option<usize>>,
    /// Whether contacts have equations.
    contacts: bool,
    starts: Starts,
    field: Field,
    pub(super) rows: Vec<Vec<(u32, Z)>>,
}

/// Whether the current of a contact is asked for, or controls something.
fn speaks_of_contacts(topology: &Topology, looks: &[Look]) -> bool {
    let contact = |branch: Branch| matches!(branch, Branch::Contact(_));
    looks.iter().any(|look| matches!(look, Look::Current(branch) if contact(*branch)))
        || topology.ccvs.iter().any(|e| contact(e.control))
        || topology.cccs.iter().any(|e| contact(e.control))
}

/// Row and column of the voltage of each node; nodes that `closed` contacts join have one.
fn voltages(topology: &Topology, closed: impl Fn(usize) -> bool) -> Vec<Option<usize>> {
    fn root(parents: &[usize], mut node: usize) -> usize {
        while parents[node] != node {
            node = parents[node];
        }
        node
    }
    let mut parents: Vec<usize> = (0..topology.nodes.len()).collect();
    for (_, e) in topology.contacts.iter().enumerate().filter(|&(i, _)| closed(i)) {
        let [a, b] = [e.a, e.b].map(|node| root(&parents, node as usize));
        parents[a.max(b)] = a.min(b);
    }
    (0..parents.len()).map(|node| root(&parents, node).checked_sub(1)).collect()
}

impl<'a> Equations<'a> {
    /// Number of equations that say anything.
    pub(super) fn size(topology: &Topology, looks: &[Look]) -> usize {
        let idle = if speaks_of_contacts(topology, looks) { 0 } else { topology.contacts.len() };
        Starts::new(topology).end - idle
    }

    /// The system that is to answer the looks.
    pub(super) fn new(
        topology: &'a Topology,
        numbers: &Mapped,
        looks: &[Look],
        field: Field,
        s: Z,
    ) -> Equations<'a> {
        let starts = Starts::new(topology);
        let contacts = speaks_of_contacts(topology, looks);
        let voltages = voltages(topology, |i| !contacts && numbers.closed[i]);
        let rows = vec![Vec::new(); starts.end];
        let mut equations = Equations { topology, voltages, contacts, starts, field, rows };
        equations.passive(numbers, s);
        equations.active(numbers);
        let rows = std::mem::take(&mut equations.rows);
        equations.rows = rows.into_iter().map(|row| gathered(row, field)).collect();
        equations
    }

    fn voltage(&self, node: u32) -> Option<usize> {
        self.voltages[node as usize]
    }

    fn add(&mut self, row: Option<usize>, col: Option<usize>, value: Z) {
        if let (Some(row), Some(col)) = (row, col) {
            self.rows[row].push((col as u32, value));
        }
    }

    /// The current of unknown `col`, times a factor, leaves `a` and enters `b`.
    fn flow(&mut self, a: u32, b: u32, col: usize, factor: Z) {
        self.add(self.voltage(a), Some(col), factor);
        self.add(self.voltage(b), Some(col), self.field.neg(factor));
    }

    /// The voltage from `a` to `b`, times a factor, in a row.
    fn across(&mut self, row: Option<usize>, a: u32, b: u32, factor: Z) {
        self.add(row, self.voltage(a), factor);
        self.add(row, self.voltage(b), self.field.neg(factor));
    }

    fn passive(&mut self, numbers: &Mapped, s: Z) {
        let (topology, starts, field) = (self.topology, self.starts, self.field);
        let one = field.one();
        for (i, e) in topology.resistors.iter().enumerate() {
            let own = starts.resistors + i;
            self.flow(e.a, e.b, own, one);
            match numbers.resistance[i] {
                Resistance::Infinite => self.add(Some(own), Some(own), one),
                Resistance::Finite(r) => {
                    self.across(Some(own), e.a, e.b, one);
                    self.add(Some(own), Some(own), field.neg(r));
                }
            }
        }
        for (i, e) in topology.capacitors.iter().enumerate() {
            let own = starts.capacitors + i;
            self.flow(e.a, e.b, own, one);
            self.add(Some(own), Some(own), field.neg(one));
            self.across(Some(own), e.a, e.b, field.mul(s, numbers.capacitance[i]));
        }
        for (i, e) in topology.inductors.iter().enumerate() {
            let own = starts.inductors + i;
            self.flow(e.a, e.b, own, one);
            self.across(Some(own), e.a, e.b, one);
            self.add(Some(own), Some(own), field.neg(field.mul(s, numbers.inductance[i])));
        }
        for (pair, &mutual) in topology.couplings.iter().zip(&numbers.mutual) {
            let [a, b] = [pair.a, pair.b].map(|inductor| Some(starts.inductors + inductor as usize));
            let value = field.neg(field.mul(s, mutual));
            self.add(a, b, value);
            self.add(b, a, value);
        }
        let with_equations = if self.contacts { &topology.contacts[..] } else { &[] };
        for (i, e) in with_equations.iter().enumerate() {
            let own = starts.contacts + i;
            self.flow(e.a, e.b, own, one);
            if numbers.closed[i] {
                self.across(Some(own), e.a, e.b, one);
            } else {
                self.add(Some(own), Some(own), one);
            }
        }
    }

    fn active(&mut self, numbers: &Mapped) {
        let (topology, starts, field) = (self.topology, self.starts, self.field);
        let one = field.one();
        for (i, e) in topology.voltage_sources.iter().enumerate() {
            let own = starts.voltage_sources + i;
            self.flow(e.a, e.b, own, one);
            self.across(Some(own), e.a, e.b, one);
        }
        for (i, e) in topology.vcvs.iter().enumerate() {
            let own = starts.vcvs + i;
            self.flow(e.a, e.b, own, one);
            self.across(Some(own), e.a, e.b, one);
            self.across(Some(own), e.c, e.d, field.neg(numbers.vcvs[i]));
        }
        for (i, e) in topology.vccs.iter().enumerate() {
            let gain = numbers.vccs[i];
            self.across(self.voltage(e.a), e.c, e.d, gain);
            self.across(self.voltage(e.b), e.c, e.d, field.neg(gain));
        }
        for (i, e) in topology.ccvs.iter().enumerate() {
            let own = starts.ccvs + i;
            self.flow(e.a, e.b, own, one);
            self.across(Some(own), e.a, e.b, one);
            self.add(Some(own), Some(starts.of(e.control)), field.neg(numbers.ccvs[i]));
        }
        for (i, e) in topology.cccs.iter().enumerate() {
            self.flow(e.a, e.b, starts.of(e.control), numbers.cccs[i]);
        }
        for (i, e) in topology.op_amps.iter().enumerate() {
            let own = starts.op_amps + i;
            self.flow(e.c, e.d, own, one);
            self.across(Some(own), e.a, e.b, one);
        }
        for (i, e) in topology.transformers.iter().enumerate() {
            let (own, ratio) = (starts.transformers + i, field.neg(numbers.ratio[i]));
            self.flow(e.a, e.b, own, one);
            self.flow(e.c, e.d, own, ratio);
            self.across(Some(own), e.a, e.b, one);
            self.across(Some(own), e.c, e.d, ratio);
        }
    }

    /// Right-hand side of a drive as (row, factor).
    pub(super) fn drive(&self, drive: Drive) -> Vec<(usize, Z)> {
        let (one, field) = (self.field.one(), self.field);
        let inject = |into: u32, from: u32| {
            let ends = [(self.voltage(into), one), (self.voltage(from), field.neg(one))];
            ends.into_iter().filter_map(|(row, factor)| row.map(|row| (row, factor))).collect()
        };
        match drive {
            Drive::Source(Source::Voltage(e)) => vec![(self.starts.voltage_sources + e.index(), one)],
            Drive::Source(Source::Current(e)) => {
                let ends = &self.topology.current_sources[e.index()];
                inject(ends.b, ends.a)
            }
            Drive::Port(a, b) => inject(a, b),
        }
    }

    /// Row of what is observed.
    pub(super) fn look(&self, look: Look) -> Vec<(u32, Z)> {
        let (one, field) = (self.field.one(), self.field);
        let row = match look {
            Look::Voltage(a, b) => {
                let ends = [(self.voltage(a), one), (self.voltage(b), field.neg(one))];
                ends.into_iter().filter_map(|(col, factor)| col.map(|col| (col as u32, factor))).collect()
            }
            Look::Current(branch) => vec![(self.starts.of(branch) as u32, one)],
        };
        gathered(row, field)
    }
}

/// Sums what is in one column, and leaves out zeros.
pub(super) fn gathered(mut row: Vec<(u32, Z)>, field: Field) -> Vec<(u32, Z)> {
    row.sort_by_key(|&(col, _)| col);
    let mut sums: Vec<(u32, Z)> = Vec::with_capacity(row.len());
    for (col, value) in row {
        match sums.last_mut() {
            Some((last, sum)) if *last == col => *sum = field.add(*sum, value),
            _ => sums.push((col, value)),
        }
    }
    sums.retain(|(_, value)| *value != Z::ZERO);
    sums
}
