//! What can go wrong. Both error types are a struct with a kind; a kind lists handles and the names people gave them.

use crate::handle::{Element, Node};
use crate::sensitivity::NotSmooth;

/// An element and the name it was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Handle.
    pub element: Element,
    /// Name given when it was built.
    pub name: String,
}

/// An unknown of the equations.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unknown {
    /// Voltage of a node (and of all nodes merged with it) against its island's reference.
    Voltage {
        /// Node.
        node: Node,
        /// Name of the node.
        name: String,
    },
    /// Branch current of an element.
    Current(Named),
}

impl std::fmt::Display for Unknown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Unknown::Voltage { name, .. } => write!(f, "voltage of `{name}`"),
            Unknown::Current(named) => write!(f, "current of `{}`", named.name),
        }
    }
}

struct List<'a, T>(&'a [T]);

impl std::fmt::Display for List<'_, Named> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let names: Vec<_> = self.0.iter().map(|named| format!("`{}`", named.name)).collect();
        f.write_str(&names.join(", "))
    }
}

impl std::fmt::Display for List<'_, Unknown> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let names: Vec<_> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&names.join(", "))
    }
}

/// A value or a handle was refused while a circuit or a set of values was being made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{kind}")]
pub struct BuildError {
    kind: BuildErrorKind,
}

impl BuildError {
    /// What was wrong.
    pub fn kind(&self) -> &BuildErrorKind {
        &self.kind
    }
}

impl From<BuildErrorKind> for BuildError {
    fn from(kind: BuildErrorKind) -> Self {
        BuildError { kind }
    }
}

/// Kinds of [`BuildError`].
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BuildErrorKind {
    /// A value outside the domain of its quantity.
    #[error("{quantity} of `{name}` is {value}, allowed is {allowed}")]
    OutOfRange {
        /// Element, where it exists already.
        element: Option<Element>,
        /// Name of the element.
        name: String,
        /// "resistance", "inductance", …
        quantity: &'static str,
        /// The refused value.
        value: f64,
        /// The domain in words.
        allowed: &'static str,
    },
    /// A node of another circuit (or made after this copy of the circuit was taken).
    #[error("`{name}` is given a node of another circuit")]
    ForeignNode {
        /// The refused handle.
        node: Node,
        /// Name of the element that was to use it.
        name: String,
    },
    /// An element of another circuit (or made after this copy was taken).
    #[error("an element of another circuit is used for `{name}`")]
    ForeignElement {
        /// The refused handle.
        element: Element,
        /// What it was to be used for.
        name: String,
    },
    /// An inductor coupled to itself.
    #[error("inductor `{name}` is coupled to itself")]
    SelfCoupling {
        /// The inductor.
        element: Element,
        /// Its name.
        name: String,
    },
    /// The same two inductors are coupled twice.
    #[error("inductors `{a}` and `{b}` are coupled already")]
    RepeatedCoupling {
        /// The coupling that exists.
        element: Element,
        /// Name of the first inductor.
        a: String,
        /// Name of the second inductor.
        b: String,
    },
}

/// A network could not be laid out or solved.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{kind}")]
pub struct SolveError {
    kind: SolveErrorKind,
}

impl SolveError {
    /// What was wrong.
    pub fn kind(&self) -> &SolveErrorKind {
        &self.kind
    }
}

impl From<SolveErrorKind> for SolveError {
    fn from(kind: SolveErrorKind) -> Self {
        SolveError { kind }
    }
}

/// Kinds of [`SolveError`].
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SolveErrorKind {
    /// A node of another circuit.
    #[error("a node of another circuit")]
    ForeignNode {
        /// The refused handle.
        node: Node,
    },
    /// An element of another circuit.
    #[error("an element of another circuit")]
    ForeignElement {
        /// The refused handle.
        element: Element,
    },
    /// The values were taken from another circuit, before elements were added, or from a copy to which other elements were added.
    #[error("the values belong to another circuit or to another state of this one")]
    ForeignValues,
    /// The values are of another structural class than the layout (see [`crate::Layout::fits`]).
    #[error("`{}` has left the structural class of the layout", .element.name)]
    OtherClass {
        /// The first element that does not fit.
        element: Named,
    },
    /// The frequency is not a positive finite number (AC layouts).
    #[error("frequency {0} Hz is not above 0 and finite")]
    Frequency(f64),
    /// An amplitude or a density is not finite (or the density is negative).
    #[error("amplitude or density {value} of `{}` is not allowed", .source_name.name)]
    Amplitude {
        /// The source.
        source_name: Named,
        /// The refused number.
        value: f64,
    },
    /// A temperature of the noise is below absolute zero or not finite.
    #[error("noise at {0} K: a temperature is 0 K and above, finite")]
    Temperature(f64),
    /// A group of coupled inductors that could not exist: its matrix is not positive semidefinite.
    #[error("the coupling matrix of {} is not positive semidefinite", List(.inductors))]
    Coupling {
        /// The inductors of the group.
        inductors: Vec<Named>,
    },
    /// A voltage source with both ends on one node is given a voltage.
    #[error("voltage source `{}` is short-circuited and cannot hold its voltage", .source_name.name)]
    ShortedSource {
        /// The source.
        source_name: Named,
    },
    /// A loop of ideal voltage sources whose voltages do not add to zero.
    #[error("the voltages around the loop of ideal sources {} do not add to zero", List(.branches))]
    VoltageLoop {
        /// Sources (and probed zero-resistance branches) of the loop.
        branches: Vec<Named>,
    },
    /// Current sources that alone connect a part of the network, with currents that do not add to zero.
    #[error("the currents of the cut set {} do not add to zero", List(.sources))]
    CurrentCutSet {
        /// The sources of the cut set.
        sources: Vec<Named>,
    },
    /// Sources ask for what the other equations forbid (through controlled sources, op amps or transformers).
    #[error("the excitation contradicts the equations for {}", List(.unknowns))]
    Contradiction {
        /// Unknowns of the equations that cannot hold.
        unknowns: Vec<Unknown>,
    },
    /// The equations leave these unknowns free and the quantity asked for depends on them.
    #[error("the equations do not determine {}", List(.unknowns))]
    Singular {
        /// The free unknowns.
        unknowns: Vec<Unknown>,
    },
    /// The control of a current-controlled source is a current in a loop of zero impedance, which nothing fixes.
    #[error("`{}` is controlled by the current of `{}`, which runs in a loop of zero impedance", .element.name, .control.name)]
    FreeControl {
        /// The controlled source.
        element: Named,
        /// The branch.
        control: Named,
    },
    /// The current of a branch that the layout does not keep.
    #[error("the current of `{}` was not asked for when the layout was made", .branch.name)]
    NotProbed {
        /// The branch.
        branch: Named,
    },
    /// A value times the frequency, a solution, or amplitudes times what the network does to them leave the range of floating-point numbers.
    #[error("numbers leave the floating-point range at {frequency:e} Hz")]
    Range {
        /// Frequency, Hz.
        frequency: f64,
    },
    /// The residual is too large, after the pivoted fallback too; or a large network fills in too much for it.
    #[error("no accurate solution was found at {frequency:e} Hz")]
    Inaccurate {
        /// Frequency, Hz.
        frequency: f64,
    },
    /// A value of a sample is outside the domain of its quantity.
    #[error("{0}")]
    Value(BuildErrorKind),
    /// The values of a batch do not have the length that its parameters and samples ask for.
    #[error("{parameters} parameters × {samples} samples do not make {length} values")]
    Shape {
        /// Parameters of the request.
        parameters: usize,
        /// Samples asked for.
        samples: usize,
        /// Values given.
        length: usize,
    },
    /// This processor does not have registers of the width asked for.
    #[error("this processor does not have registers of the width asked for")]
    Width,
    /// The transfer is zero at every frequency, so that it has no zeros to list.
    #[error("the transfer is zero at every frequency")]
    ZeroTransfer,
    /// The noise over an infinite band is infinite.
    #[error("the noise over the band is infinite: it was followed to {frequency:e} Hz")]
    Diverges {
        /// How far it was followed, Hz.
        frequency: f64,
    },
    /// A peak has no derivative.
    #[error("the peak at {frequency:e} Hz does not move smoothly with the values: {reason}")]
    NotSmooth {
        /// Why.
        reason: NotSmooth,
        /// Where it was looked for, Hz.
        frequency: f64,
    },
    /// The poles or zeros that were found are not all of them (or one too many): several lie so close to each other, in one loop of
    /// interaction, that rounding does not tell them apart.
    #[error("{found} roots were found, and they fail the count by {margin:.2} of a root")]
    RootsUnresolved {
        /// Roots found.
        found: usize,
        /// What the count leaves, in roots.
        margin: f64,
    },
    /// The partial fractions do not give the function back: residues of neighbouring poles cancel too much.
    #[error("the partial fractions miss the function by {error:.1e} of its largest value")]
    IllConditioned {
        /// Largest deviation at held-out frequencies, as a share of the largest value there.
        error: f64,
    },
    /// The eigenvalue iteration did not end.
    #[error("the eigenvalue iteration did not converge")]
    Eigenvalues,
}
