//! What is known of branch currents before any number.

use crate::handle::Branch;

/// What is known of a branch current before any number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Current {
    /// The branch is open: exactly zero.
    Zero,
    /// An unknown of the equations.
    Unknown(u32),
    /// In a loop of zero impedance: nothing fixes it. It may still have an unknown that holds one of the possible values.
    Free,
    /// Not kept.
    Unprobed,
}

/// Branch currents of all kinds of elements, in order of creation.
#[derive(Debug, Clone, Default)]
pub(crate) struct Currents {
    pub(super) resistors: Vec<Current>,
    pub(super) capacitors: Vec<Current>,
    pub(super) inductors: Vec<Current>,
    pub(super) contacts: Vec<Current>,
    pub(super) voltage_sources: Vec<Current>,
    pub(super) vcvs: Vec<Current>,
    pub(super) ccvs: Vec<Current>,
}

impl Currents {
    pub(crate) fn of(&self, branch: Branch) -> Current {
        match branch {
            Branch::Resistor(e) => self.resistors[e.index()],
            Branch::Capacitor(e) => self.capacitors[e.index()],
            Branch::Inductor(e) => self.inductors[e.index()],
            Branch::Contact(e) => self.contacts[e.index()],
            Branch::VoltageSource(e) => self.voltage_sources[e.index()],
            Branch::Vcvs(e) => self.vcvs[e.index()],
            Branch::Ccvs(e) => self.ccvs[e.index()],
        }
    }
    pub(crate) fn set(&mut self, branch: Branch, current: Current) {
        match branch {
            Branch::Resistor(e) => self.resistors[e.index()] = current,
            Branch::Capacitor(e) => self.capacitors[e.index()] = current,
            Branch::Inductor(e) => self.inductors[e.index()] = current,
            Branch::Contact(e) => self.contacts[e.index()] = current,
            Branch::VoltageSource(e) => self.voltage_sources[e.index()] = current,
            Branch::Vcvs(e) => self.vcvs[e.index()] = current,
            Branch::Ccvs(e) => self.ccvs[e.index()] = current,
        }
    }
}
