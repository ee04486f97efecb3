//! The symbolic step: merged nodes, islands and their references, unknowns, elimination order and fill.

mod assembly;
mod coupling;
mod current;
mod forest;
mod form;
mod nets;
mod numbering;
mod pattern;
mod sample;

use std::sync::Arc;

use crate::circuit::Circuit;
use crate::error::{SolveError, SolveErrorKind};
use crate::handle::Branch;
use crate::quantity::Hertz;
use crate::values::Values;
use crate::workspace::Workspace;

pub(crate) use assembly::{Assembly, Factor};
pub(crate) use coupling::Groups;
pub(crate) use current::Current;
pub(crate) use form::Form;
pub(crate) use pattern::Pattern;

/// The symbolic step: merged nodes, islands and their local references, unknowns, elimination order and fill.
///
/// Immutable, `Send + Sync`, cheap to clone; shared by many numeric passes. It serves every [`Values`] of the same structural class: which
/// resistances are 0, finite or ∞; which contacts are closed; which current gains, transconductances and transformer ratios are 0 (voltage
/// gains and transresistances are free); and for frequencies above 0 which capacitances and inductances are 0.
///
/// Resistors below 10 Ω, or 10⁷ times smaller than a neighbour, become branches with their own current, as do probed ones. A branch serves
/// any finite resistance above 0; a resistor laid out as an admittance serves 1 Ω and more.
#[derive(Debug, Clone)]
pub struct Layout {
    pub(crate) assembly: Arc<Assembly>,
}

impl Layout {
    /// For frequencies above 0. `probes` are branches whose current will be asked for (kept as unknowns, not merged).
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignElement`], [`SolveErrorKind::ForeignValues`], [`SolveErrorKind::Coupling`],
    /// [`SolveErrorKind::FreeControl`].
    pub fn ac(circuit: &Circuit, values: &Values, probes: &[Branch]) -> Result<Layout, SolveError> {
        Layout::new(circuit, values, probes, false)
    }

    /// Exactly 0 Hz: inductors short, capacitors open, islands found afresh. Every result is real.
    ///
    /// # Errors
    /// As [`Layout::ac`].
    pub fn dc(circuit: &Circuit, values: &Values, probes: &[Branch]) -> Result<Layout, SolveError> {
        Layout::new(circuit, values, probes, true)
    }

    fn new(circuit: &Circuit, values: &Values, probes: &[Branch], dc: bool) -> Result<Layout, SolveError> {
        let topology = &circuit.topology;
        if !topology.same_elements(&values.topology) {
            return Err(SolveErrorKind::ForeignValues.into());
        }
        if let Some(&foreign) = probes.iter().find(|&&branch| !topology.owns(branch.into())) {
            return Err(SolveErrorKind::ForeignElement { element: foreign.into() }.into());
        }
        Ok(Layout { assembly: Arc::new(Assembly::new(topology, &values.numbers, probes, dc)?) })
    }

    /// The layout of the class of other values of the same circuit, with the same probes.
    pub(crate) fn of_class(assembly: &Assembly, values: &Values) -> Result<Layout, SolveError> {
        let Assembly { topology, probes, dc, .. } = assembly;
        Ok(Layout { assembly: Arc::new(Assembly::new(topology, &values.numbers, probes, *dc)?) })
    }

    /// Whether these values are of this layout's structural class.
    pub fn fits(&self, values: &Values) -> bool {
        self.assembly.check_values(values).is_ok()
    }

    /// Numeric storage for one thread.
    pub fn workspace(&self) -> Workspace {
        Workspace::new(Arc::clone(&self.assembly))
    }

    /// Number of unknowns: node voltages and branch currents.
    pub fn unknowns(&self) -> usize {
        self.assembly.pattern.n
    }

    /// Complex multiplications of one factorisation on its own: a measure of the fill.
    pub fn operations(&self) -> usize {
        self.assembly.program().map_or(0, |program| program.operations())
    }

    /// Multiplications, complex ones and by real numbers, of a factorisation in lanes, where what is the same at every frequency is done
    /// once and a symmetric matrix by half: see [`crate::batch`].
    pub fn lane_operations(&self) -> usize {
        self.assembly.lane_program().map_or(0, |program| program.operations())
    }

    /// A frequency in the middle of the network's rates (1/√LC, R/L, 1/RC of typical values), Hz.
    pub fn middle_frequency(&self) -> Hertz {
        Hertz(self.assembly.middle / std::f64::consts::TAU)
    }
}
