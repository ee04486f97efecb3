//! Impedance and admittance matrices of a network with several ports.
//!
//! Each port gets a source of its own: a current source for Z, a voltage source for Y. One transposed solve per port then gives a row, so
//! that a matrix exists exactly where every port can have any current (or any voltage), and islands, loops and rank are judged by the same
//! rules as everywhere else. Definitions: any text on two-ports, as IEC 60050-131 (131-14-05 and -06, from memory).

use num_complex::Complex64;

use crate::circuit::Circuit;
use crate::error::{SolveError, SolveErrorKind};
use crate::handle::{Branch, Node, Source};
use crate::layout::Layout;
use crate::point::{Outcome, Output};
use crate::quantity::Hertz;
use crate::values::Values;
use crate::workspace::Workspace;

/// A pair of nodes. Its voltage is v(plus) − v(minus); its current enters the network at plus and leaves it at minus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Port {
    /// Where the current enters.
    pub plus: Node,
    /// Where it leaves.
    pub minus: Node,
}

/// A square matrix by ports: entry (i, j) is what port i shows when port j alone is driven.
#[derive(Debug, Clone, PartialEq)]
pub struct PortMatrix {
    n: usize,
    entries: Vec<Complex64>,
}

impl PortMatrix {
    /// Number of ports.
    pub fn ports(&self) -> usize {
        self.n
    }

    /// Entry of row (observed port) i and column (driven port) j, in the order in which the ports were given; `None` outside.
    pub fn get(&self, i: usize, j: usize) -> Option<Complex64> {
        if i < self.n && j < self.n { self.entries.get(i * self.n + j).copied() } else { None }
    }

    /// All entries, row by row.
    pub fn entries(&self) -> &[Complex64] {
        &self.entries
    }
}

/// A matrix, or the port for which there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum Matrix {
    /// The matrix.
    Known(PortMatrix),
    /// There is none: the network does not allow any current (Z) or any voltage (Y) at this port (its number) independent of the others.
    /// An open port has no Z, a shorted one no Y.
    Absent {
        /// Number of the port.
        port: usize,
    },
    /// Nothing fixes the voltage (Z) or the current (Y) of this port.
    Undetermined {
        /// Number of the port.
        port: usize,
    },
}

impl Matrix {
    /// The matrix, if there is one.
    pub fn known(self) -> Option<PortMatrix> {
        match self {
            Matrix::Known(matrix) => Some(matrix),
            Matrix::Absent { .. } | Matrix::Undetermined { .. } => None,
        }
    }
}

/// One network and its ports, ready to be asked at any frequency. Independent sources of the network are dead.
///
/// ```
/// use solver::{Circuit, Hertz, Multiport, Ohms, Port};
///
/// // A T of three equal resistors: z11 = 2R, z21 = R.
/// let mut circuit = Circuit::new();
/// let (left, right, middle, ground) = (circuit.node("left"), circuit.node("right"), circuit.node("middle"), circuit.ground());
/// for (name, node) in [("r1", left), ("r2", right), ("r3", ground)] {
///     circuit.resistor(name, node, middle, Ohms(100.0))?;
/// }
/// let ports = [Port { plus: left, minus: ground }, Port { plus: right, minus: ground }];
/// let values = circuit.values();
/// let z = Multiport::ac(&circuit, &values, &ports)?.impedances(&values, Hertz(1e3))?.known().expect("a T has a Z");
/// assert!((z.get(0, 0).expect("two ports") - 200.0).norm() < 1e-11);
/// assert!((z.get(1, 0).expect("two ports") - 100.0).norm() < 1e-11);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Multiport {
    circuit: Circuit,
    impedances: Driven,
    admittances: Driven,
}

/// The network with a source at each port.
#[derive(Debug, Clone)]
struct Driven {
    circuit: Circuit,
    workspace: Workspace,
    sources: Vec<(Source, Output)>,
}

impl Multiport {
    /// For frequencies above 0; serves all values of one structural class, as a [`Layout`] does.
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignNode`] for a port of another circuit; as [`Layout::ac`].
    pub fn ac(circuit: &Circuit, values: &Values, ports: &[Port]) -> Result<Multiport, SolveError> {
        Multiport::new(circuit, values, ports, Layout::ac)
    }

    /// Exactly 0 Hz.
    ///
    /// # Errors
    /// As [`Multiport::ac`].
    pub fn dc(circuit: &Circuit, values: &Values, ports: &[Port]) -> Result<Multiport, SolveError> {
        Multiport::new(circuit, values, ports, Layout::dc)
    }

    fn new(
        circuit: &Circuit,
        values: &Values,
        ports: &[Port],
        layout: fn(&Circuit, &Values, &[Branch]) -> Result<Layout, SolveError>,
    ) -> Result<Multiport, SolveError> {
        let nodes = ports.iter().flat_map(|port| [port.plus, port.minus]);
        for node in nodes {
            if !circuit.topology.owns_node(node) {
                return Err(SolveErrorKind::ForeignNode { node }.into());
            }
        }
        let foreign = |_| SolveError::from(SolveErrorKind::ForeignValues);
        let driven = |by_voltage: bool| -> Result<Driven, SolveError> {
            let mut copy = circuit.clone();
            let mut sources = Vec::new();
            for port in ports {
                sources.push(if by_voltage {
                    let source = copy.voltage_source("port", port.plus, port.minus).map_err(foreign)?;
                    (Source::Voltage(source), Output::Current(Branch::VoltageSource(source)))
                } else {
                    let source = copy.current_source("port", port.minus, port.plus).map_err(foreign)?;
                    (Source::Current(source), Output::Voltage(port.plus, port.minus))
                });
            }
            let workspace = layout(&copy, &carried(circuit, &copy, values)?, &[])?.workspace();
            Ok(Driven { circuit: copy, workspace, sources })
        };
        Ok(Multiport { circuit: circuit.clone(), impedances: driven(false)?, admittances: driven(true)? })
    }

    /// Open-circuit impedances, Ω: entry (i, j) is the voltage of port i for an ampere into port j, the other ports open.
    ///
    /// # Errors
    /// As [`Workspace::factor`].
    pub fn impedances(&mut self, values: &Values, f: Hertz) -> Result<Matrix, SolveError> {
        self.impedances.matrix(&self.circuit, values, f, 1.0)
    }

    /// Short-circuit admittances, S: entry (i, j) is the current into port i for a volt at port j, the other ports shorted.
    ///
    /// # Errors
    /// As [`Workspace::factor`].
    pub fn admittances(&mut self, values: &Values, f: Hertz) -> Result<Matrix, SolveError> {
        // A source's own current flows from plus through it.
        self.admittances.matrix(&self.circuit, values, f, -1.0)
    }

    /// Backward errors of the last solve of each kind (Z, Y): see [`crate::Point::residual`].
    pub fn residuals(&self) -> [f64; 2] {
        [self.impedances.workspace.backward_error, self.admittances.workspace.backward_error]
    }
}

/// The values of a circuit for a copy of it that has more sources.
fn carried(circuit: &Circuit, copy: &Circuit, values: &Values) -> Result<Values, SolveError> {
    if !circuit.topology.same_elements(&values.topology) {
        return Err(SolveErrorKind::ForeignValues.into());
    }
    let mut carried = copy.values();
    carried.numbers.copy_from(&values.numbers);
    Ok(carried)
}

impl Driven {
    fn matrix(
        &mut self,
        circuit: &Circuit,
        values: &Values,
        f: Hertz,
        sign: f64,
    ) -> Result<Matrix, SolveError> {
        let values = carried(circuit, &self.circuit, values)?;
        let mut point = self.workspace.factor(&values, f)?;
        for (port, &(source, _)) in self.sources.iter().enumerate() {
            if let Err(error) = point.excitation_holds(&[(source, Complex64::ONE)]) {
                return if contradicts(error.kind()) { Ok(Matrix::Absent { port }) } else { Err(error) };
            }
        }
        let n = self.sources.len();
        let mut entries = Vec::with_capacity(n * n);
        for (port, &(_, output)) in self.sources.iter().enumerate() {
            if point.adjoint(output)? == Outcome::Undetermined {
                return Ok(Matrix::Undetermined { port });
            }
            for &(source, _) in &self.sources {
                // +0.0 for -0.0: a sign that means nothing.
                entries.push(point.in_range(point.transfer(source))? * sign + Complex64::ZERO);
            }
        }
        Ok(Matrix::Known(PortMatrix { n, entries }))
    }
}

/// Whether a source could not have an amplitude of its own.
fn contradicts(kind: &SolveErrorKind) -> bool {
    matches!(
        kind,
        SolveErrorKind::ShortedSource { .. }
            | SolveErrorKind::VoltageLoop { .. }
            | SolveErrorKind::CurrentCutSet { .. }
            | SolveErrorKind::Contradiction { .. }
    )
}
