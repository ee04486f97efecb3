//! Contract skeleton: signatures only. The solver's owner replaces this by modules that re-export the same names here.
#![allow(missing_docs, unused_variables, clippy::todo, reason = "contract skeleton")]
use num_complex::Complex64;

macro_rules! quantity { ($($n:ident)*) => { $(#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)] pub struct $n(pub f64);)* } }
quantity! { Ohms Henries Farads Siemens Hertz Kelvin }

macro_rules! handle { ($($n:ident)*) => { $(#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)] pub struct $n { circuit: u32, index: u32 })* } }
// Typed handles; each carries the identity of its circuit (a foreign handle is a typed error).
handle! { Node Resistor Capacitor Inductor Coupling Contact VoltageSource CurrentSource Vcvs Vccs Ccvs Cccs OpAmp Transformer }

/// Any element that has one branch current (reference direction: from its first node through the element to its second).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Branch {
    Resistor(Resistor),
    Inductor(Inductor),
    Capacitor(Capacitor),
    Contact(Contact),
    VoltageSource(VoltageSource),
    Vcvs(Vcvs),
    Ccvs(Ccvs),
}
/// An independent source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    Voltage(VoltageSource),
    Current(CurrentSource),
}

/// The builder and the network: names, topology, nominal values.
#[derive(Debug, Clone, Default)]
pub struct Circuit {}
impl Circuit {
    pub fn new() -> Self {
        todo!()
    }
    pub fn ground(&self) -> Node {
        todo!()
    }
    /// A new node (the name is for people; need not be unique).
    pub fn node(&mut self, name: impl Into<String>) -> Node {
        todo!()
    }
    /// R ∈ [0, ∞]: 0 merges, ∞ removes.
    pub fn resistor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        r: Ohms,
    ) -> Result<Resistor, BuildError> {
        todo!()
    }
    pub fn capacitor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        c: Farads,
    ) -> Result<Capacitor, BuildError> {
        todo!()
    }
    pub fn inductor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        l: Henries,
    ) -> Result<Inductor, BuildError> {
        todo!()
    }
    /// Dots at the first node of each; k ∈ [-1, 1]; the whole matrix must be positive semidefinite (checked at layout, names the group).
    pub fn couple(&mut self, a: Inductor, b: Inductor, k: f64) -> Result<Coupling, BuildError> {
        todo!()
    }
    pub fn contact(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        closed: bool,
    ) -> Result<Contact, BuildError> {
        todo!()
    }
    /// v(plus) - v(minus) = E.
    pub fn voltage_source(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
    ) -> Result<VoltageSource, BuildError> {
        todo!()
    }
    /// The current flows through the source from `from` to `to` (so it is injected into `to`).
    pub fn current_source(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
    ) -> Result<CurrentSource, BuildError> {
        todo!()
    }
    /// v(plus) - v(minus) = gain * (v(cp) - v(cm))
    pub fn vcvs(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        cp: Node,
        cm: Node,
        gain: f64,
    ) -> Result<Vcvs, BuildError> {
        todo!()
    }
    pub fn vccs(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
        cp: Node,
        cm: Node,
        gm: Siemens,
    ) -> Result<Vccs, BuildError> {
        todo!()
    }
    pub fn ccvs(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        control: Branch,
        r: Ohms,
    ) -> Result<Ccvs, BuildError> {
        todo!()
    }
    pub fn cccs(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
        control: Branch,
        gain: f64,
    ) -> Result<Cccs, BuildError> {
        todo!()
    }
    /// Nullor: v(plus) = v(minus), no input current; output current returns through `reference`.
    pub fn op_amp(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        out: Node,
        reference: Node,
    ) -> Result<OpAmp, BuildError> {
        todo!()
    }
    /// v1 = ratio * v2, i2 = -ratio * i1.
    pub fn transformer(
        &mut self,
        name: impl Into<String>,
        p1: Node,
        m1: Node,
        p2: Node,
        m2: Node,
        ratio: f64,
    ) -> Result<Transformer, BuildError> {
        todo!()
    }
    /// Nominal values, to copy and change.
    pub fn values(&self) -> Values {
        todo!()
    }
    /// All independent sources in order of creation: the index order of `Transfers`.
    pub fn sources(&self) -> &[Source] {
        todo!()
    }
}

/// One set of element values of one circuit. Changing it never touches the topology.
#[derive(Debug, Clone, PartialEq)]
pub struct Values {}
impl Values {
    pub fn set_resistance(&mut self, e: Resistor, r: Ohms) -> Result<(), BuildError> {
        todo!()
    }
    pub fn set_capacitance(&mut self, e: Capacitor, c: Farads) -> Result<(), BuildError> {
        todo!()
    }
    pub fn set_inductance(&mut self, e: Inductor, l: Henries) -> Result<(), BuildError> {
        todo!()
    }
    pub fn set_coupling(&mut self, e: Coupling, k: f64) -> Result<(), BuildError> {
        todo!()
    }
    pub fn set_contact(&mut self, e: Contact, closed: bool) -> Result<(), BuildError> {
        todo!()
    }
    pub fn resistance(&self, e: Resistor) -> Ohms {
        todo!()
    }
    pub fn capacitance(&self, e: Capacitor) -> Farads {
        todo!()
    }
    pub fn inductance(&self, e: Inductor) -> Henries {
        todo!()
    }
}

/// The symbolic step: merged nodes, islands and their local references, unknowns, elimination order and fill.
/// Immutable, `Send + Sync`, cheap to clone (Arc); shared by many numeric passes; serves every `Values` of the same structural class
/// (which R are 0 / finite / ∞, which C are 0, which L are 0, which contacts are closed).
#[derive(Debug, Clone)]
pub struct Layout {}
impl Layout {
    /// For frequencies above 0. `probes` are branches whose current will be asked for (kept as unknowns, not merged).
    pub fn ac(circuit: &Circuit, values: &Values, probes: &[Branch]) -> Result<Layout, SolveError> {
        todo!()
    }
    /// Exactly 0 Hz: inductors short, capacitors open, islands found afresh.
    pub fn dc(circuit: &Circuit, values: &Values, probes: &[Branch]) -> Result<Layout, SolveError> {
        todo!()
    }
    /// Whether these values are of this layout's structural class.
    pub fn fits(&self, values: &Values) -> bool {
        todo!()
    }
    pub fn workspace(&self) -> Workspace {
        todo!()
    }
}

/// Numeric storage for one thread.
#[derive(Debug, Clone)]
pub struct Workspace {}
impl Workspace {
    /// Fill and factor at one frequency (ignored by a DC layout: pass Hertz(0.0)).
    pub fn factor(&mut self, values: &Values, f: Hertz) -> Result<Point<'_>, SolveError> {
        todo!()
    }
}

/// What is observed: a node-pair voltage or a branch current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Output {
    Voltage(Node, Node),
    Current(Branch),
}

/// Amplitudes of the sources in force (others are zero).
pub type Excitation = [(Source, Complex64)];

/// A quantity that may have no value for lack of a path between islands (or of an equation that fixes it).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome<T> {
    Known(T),
    Undetermined,
}
/// A port's impedance: no path at all is an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Impedance<T> {
    Known(T),
    Open,
}

/// A factored network at one frequency.
#[derive(Debug)]
pub struct Point<'w> {
    _w: std::marker::PhantomData<&'w mut ()>,
}
impl Point<'_> {
    /// Transfer of each independent source (order of `Circuit::sources`) to the output, by one adjoint solve; into `out`.
    pub fn transfers(&mut self, output: Output, out: &mut Vec<Complex64>) -> Result<Outcome<()>, SolveError> {
        todo!()
    }
    /// Response to an excitation.
    pub fn response(
        &mut self,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Outcome<Complex64>, SolveError> {
        todo!()
    }
    /// Response and its derivative d/d ln f.
    pub fn response_and_slope(
        &mut self,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Outcome<(Complex64, Complex64)>, SolveError> {
        todo!()
    }
    /// Driving-point impedance between two nodes, sources dead, Ω.
    pub fn impedance(&mut self, a: Node, b: Node) -> Result<Impedance<Complex64>, SolveError> {
        todo!()
    }
    /// Impedance and its derivative d/d ln f.
    pub fn impedance_and_slope(
        &mut self,
        a: Node,
        b: Node,
    ) -> Result<Impedance<(Complex64, Complex64)>, SolveError> {
        todo!()
    }
    /// Thermal noise density at the output: V²/Hz (or A²/Hz), from the noisy resistors alone. See `Noise`.
    pub fn noise_density(&mut self, noise: &Noise, output: Output) -> Result<Outcome<f64>, SolveError> {
        todo!()
    }
    /// Everything a sweep of one output needs, from one forward and one adjoint solve: response + slope to `excitation`,
    /// transfers of every source (into `out`), noise density.
    pub fn sweep_point(
        &mut self,
        excitation: &Excitation,
        output: Output,
        noise: &Noise,
        out: &mut Vec<Complex64>,
    ) -> Result<Outcome<SweepPoint>, SolveError> {
        todo!()
    }
    /// ‖A x − b‖ / (‖A‖‖x‖ + ‖b‖) of the last solve.
    pub fn residual(&self) -> f64 {
        todo!()
    }
}
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweepPoint {
    pub response: Complex64,
    pub slope: Complex64,
    pub noise: f64,
}

/// Which resistances are noise sources and how warm they are; plus stated densities of sources (V²/Hz, A²/Hz).
#[derive(Debug, Clone)]
pub struct Noise {}
impl Noise {
    /// Every resistor at `t`.
    pub fn thermal(circuit: &Circuit, t: Kelvin) -> Noise {
        todo!()
    }
    /// Takes one resistor out.
    pub fn silence(&mut self, r: Resistor) {
        todo!()
    }
    /// A stated white density of an independent source (V²/Hz or A²/Hz), uncorrelated with all others.
    pub fn add(&mut self, source: Source, density: f64) {
        todo!()
    }
}

/// Finite poles of the network (rad/s), by eigenvalues of the pencil G + sC; any order documented.
pub fn poles(circuit: &Circuit, values: &Values) -> Result<Vec<Complex64>, SolveError> {
    todo!()
}
/// Finite zeros of the transfer from an excitation to an output.
pub fn zeros(
    circuit: &Circuit,
    values: &Values,
    excitation: &Excitation,
    output: Output,
) -> Result<Vec<Complex64>, SolveError> {
    todo!()
}

#[derive(Debug, Clone, thiserror::Error)]
#[error("contract")]
pub struct BuildError;
#[derive(Debug, Clone, thiserror::Error)]
#[error("contract")]
pub struct SolveError;
