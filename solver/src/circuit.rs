//! The builder and the network.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use crate::error::{BuildError, BuildErrorKind, SolveError, SolveErrorKind};
use crate::handle::{
    Branch, Capacitor, Cccs, Ccvs, Contact, Coupling, CurrentSource, Element, Inductor, Node, OpAmp,
    Resistor, Source, Transformer, Vccs, Vcvs, VoltageSource,
};
use crate::layout::Groups;
use crate::quantity::{Farads, Henries, Ohms, Siemens};
use crate::topology::{CurrentControlled, FourTerminal, Pair, Topology, TwoTerminal};
use crate::values::{Domain, Numbers, Values};

/// Only makes identities differ within a process; no result depends on it.
static NEXT_IDENTITY: AtomicU32 = AtomicU32::new(0);

/// The builder and the network: names, topology, nominal values.
///
/// Names are for people: they appear in errors and need not be unique.
///
/// A clone keeps the identity: handles made before cloning work with both. Handles made afterwards belong to the copy that made them; in
/// the other copy they are refused where that index does not exist there. Values serve both copies as long as the elements are the same.
#[derive(Debug, Clone)]
pub struct Circuit {
    pub(crate) topology: Arc<Topology>,
    nominal: Numbers,
}

impl Default for Circuit {
    fn default() -> Self {
        Circuit::new()
    }
}

macro_rules! push {
    ($self:ident, $list:ident, $handle:ident, $record:expr) => {{
        let record = $record;
        let topology = Arc::make_mut(&mut $self.topology);
        let handle = $handle { circuit: topology.id, index: topology.$list.len() as u32 };
        topology.$list.push(record);
        handle
    }};
}

/// A circuit that is built as another one is: see [`Circuit::twin`].
#[derive(Debug, Clone)]
pub struct Twin {
    own: Arc<Topology>,
    other: Arc<Topology>,
}

impl Twin {
    /// Values of the other circuit as values of the own one; `None` for values of a third.
    pub fn carry(&self, values: Values) -> Option<Values> {
        let known = values.topology.same_elements(&self.other);
        known.then(|| Values { topology: Arc::clone(&self.own), numbers: values.numbers })
    }
}

impl Circuit {
    /// An empty circuit: the ground node alone.
    pub fn new() -> Self {
        let id = NEXT_IDENTITY.fetch_add(1, Ordering::Relaxed);
        Circuit { topology: Arc::new(Topology::new(id)), nominal: Numbers::default() }
    }

    /// The ground node: the reference of its island.
    pub fn ground(&self) -> Node {
        Node { circuit: self.topology.id, index: 0 }
    }

    /// A new node.
    pub fn node(&mut self, name: impl Into<String>) -> Node {
        push!(self, nodes, Node, name.into())
    }

    fn own(&self, name: &str, nodes: &[Node]) -> Result<(), BuildError> {
        match nodes.iter().find(|&&node| !self.topology.owns_node(node)) {
            Some(&node) => Err(BuildErrorKind::ForeignNode { node, name: name.to_owned() }.into()),
            None => Ok(()),
        }
    }

    fn own_element(&self, name: &str, element: Element) -> Result<(), BuildError> {
        if self.topology.owns(element) {
            Ok(())
        } else {
            Err(BuildErrorKind::ForeignElement { element, name: name.to_owned() }.into())
        }
    }

    fn two(&self, name: String, a: Node, b: Node) -> Result<TwoTerminal, BuildError> {
        self.own(&name, &[a, b])?;
        Ok(TwoTerminal { name, a: a.index, b: b.index })
    }

    fn four(&self, name: String, [a, b, c, d]: [Node; 4]) -> Result<FourTerminal, BuildError> {
        self.own(&name, &[a, b, c, d])?;
        Ok(FourTerminal { name, a: a.index, b: b.index, c: c.index, d: d.index })
    }

    fn controlled(
        &self,
        name: String,
        a: Node,
        b: Node,
        control: Branch,
    ) -> Result<CurrentControlled, BuildError> {
        self.own(&name, &[a, b])?;
        self.own_element(&name, control.into())?;
        Ok(CurrentControlled { name, a: a.index, b: b.index, control })
    }

    /// R ∈ [0, ∞]: 0 merges its nodes, ∞ removes it.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn resistor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        r: Ohms,
    ) -> Result<Resistor, BuildError> {
        let record = self.two(name.into(), a, b)?;
        self.nominal.resistance.push(Domain::Resistance.check(None, &record.name, r.0)?);
        Ok(push!(self, resistors, Resistor, record))
    }

    /// C ≥ 0, finite; 0 removes it.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn capacitor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        c: Farads,
    ) -> Result<Capacitor, BuildError> {
        let record = self.two(name.into(), a, b)?;
        self.nominal.capacitance.push(Domain::Capacitance.check(None, &record.name, c.0)?);
        Ok(push!(self, capacitors, Capacitor, record))
    }

    /// L ≥ 0, finite; 0 merges its nodes.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn inductor(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        l: Henries,
    ) -> Result<Inductor, BuildError> {
        let record = self.two(name.into(), a, b)?;
        self.nominal.inductance.push(Domain::Inductance.check(None, &record.name, l.0)?);
        Ok(push!(self, inductors, Inductor, record))
    }

    /// Mutual inductance M = k·√(La·Lb), dots at the first node of each; k ∈ [-1, 1].
    ///
    /// The whole matrix of a group must be positive semidefinite; that is checked when a layout is made.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`], [`BuildErrorKind::SelfCoupling`], [`BuildErrorKind::RepeatedCoupling`]; [`BuildErrorKind::OutOfRange`] for a factor outside that.
    pub fn couple(&mut self, a: Inductor, b: Inductor, k: f64) -> Result<Coupling, BuildError> {
        self.own_element("a coupling", a.into())?;
        self.own_element("a coupling", b.into())?;
        let (name_a, name_b) =
            (self.topology.name(a.into()).to_owned(), self.topology.name(b.into()).to_owned());
        if a == b {
            return Err(BuildErrorKind::SelfCoupling { element: a.into(), name: name_a }.into());
        }
        let same =
            |pair: &Pair| (pair.a, pair.b) == (a.index, b.index) || (pair.a, pair.b) == (b.index, a.index);
        if let Some(index) = self.topology.couplings.iter().position(same) {
            let element = Coupling { circuit: self.topology.id, index: index as u32 }.into();
            return Err(BuildErrorKind::RepeatedCoupling { element, a: name_a, b: name_b }.into());
        }
        let name = format!("{name_a} – {name_b}");
        self.nominal.coupling.push(Domain::Coupling.check(None, &name, k)?);
        Ok(push!(self, couplings, Coupling, Pair { name, a: a.index, b: b.index }))
    }

    /// An exact contact: closed merges its nodes, open removes it.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`].
    pub fn contact(
        &mut self,
        name: impl Into<String>,
        a: Node,
        b: Node,
        closed: bool,
    ) -> Result<Contact, BuildError> {
        let record = self.two(name.into(), a, b)?;
        self.nominal.closed.push(closed);
        Ok(push!(self, contacts, Contact, record))
    }

    /// v(plus) − v(minus) = E; its current flows from plus through the source to minus.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`].
    pub fn voltage_source(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
    ) -> Result<VoltageSource, BuildError> {
        let record = self.two(name.into(), plus, minus)?;
        let handle = push!(self, voltage_sources, VoltageSource, record);
        Arc::make_mut(&mut self.topology).sources.push(Source::Voltage(handle));
        Ok(handle)
    }

    /// The current flows through the source from `from` to `to` (so it is injected into `to`).
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`].
    pub fn current_source(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
    ) -> Result<CurrentSource, BuildError> {
        let record = self.two(name.into(), from, to)?;
        let handle = push!(self, current_sources, CurrentSource, record);
        Arc::make_mut(&mut self.topology).sources.push(Source::Current(handle));
        Ok(handle)
    }

    /// v(plus) − v(minus) = gain · (v(cp) − v(cm)).
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a number that is not finite.
    pub fn vcvs(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        cp: Node,
        cm: Node,
        gain: f64,
    ) -> Result<Vcvs, BuildError> {
        let record = self.four(name.into(), [plus, minus, cp, cm])?;
        self.nominal.vcvs.push(Domain::Gain.check(None, &record.name, gain)?);
        Ok(push!(self, vcvs, Vcvs, record))
    }

    /// A current gm · (v(cp) − v(cm)) flows through the source from `from` to `to`.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a number that is not finite.
    pub fn vccs(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
        cp: Node,
        cm: Node,
        gm: Siemens,
    ) -> Result<Vccs, BuildError> {
        let record = self.four(name.into(), [from, to, cp, cm])?;
        self.nominal.vccs.push(Domain::Gain.check(None, &record.name, gm.0)?);
        Ok(push!(self, vccs, Vccs, record))
    }

    /// v(plus) − v(minus) = r · i(control).
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::ForeignElement`] for the control; [`BuildErrorKind::OutOfRange`] for a number that is not finite.
    pub fn ccvs(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        control: Branch,
        r: Ohms,
    ) -> Result<Ccvs, BuildError> {
        let record = self.controlled(name.into(), plus, minus, control)?;
        self.nominal.ccvs.push(Domain::Gain.check(None, &record.name, r.0)?);
        Ok(push!(self, ccvs, Ccvs, record))
    }

    /// A current gain · i(control) flows through the source from `from` to `to`. With a gain of 0 it is absent, and its control not looked at.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::ForeignElement`] for the control; [`BuildErrorKind::OutOfRange`] for a number that is not finite.
    pub fn cccs(
        &mut self,
        name: impl Into<String>,
        from: Node,
        to: Node,
        control: Branch,
        gain: f64,
    ) -> Result<Cccs, BuildError> {
        let record = self.controlled(name.into(), from, to, control)?;
        self.nominal.cccs.push(Domain::Gain.check(None, &record.name, gain)?);
        Ok(push!(self, cccs, Cccs, record))
    }

    /// Ideal operational amplifier (nullor): v(plus) = v(minus), no input current; the output current returns through `reference`.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`].
    pub fn op_amp(
        &mut self,
        name: impl Into<String>,
        plus: Node,
        minus: Node,
        out: Node,
        reference: Node,
    ) -> Result<OpAmp, BuildError> {
        let record = self.four(name.into(), [plus, minus, out, reference])?;
        Ok(push!(self, op_amps, OpAmp, record))
    }

    /// Ideal transformer: v1 = ratio · v2, i2 = −ratio · i1, currents into p1 and p2.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignNode`]; [`BuildErrorKind::OutOfRange`] for a number that is not finite.
    pub fn transformer(
        &mut self,
        name: impl Into<String>,
        p1: Node,
        m1: Node,
        p2: Node,
        m2: Node,
        ratio: f64,
    ) -> Result<Transformer, BuildError> {
        let record = self.four(name.into(), [p1, m1, p2, m2])?;
        self.nominal.ratio.push(Domain::Gain.check(None, &record.name, ratio)?);
        Ok(push!(self, transformers, Transformer, record))
    }

    /// Nominal values, to copy and change.
    pub fn values(&self) -> Values {
        Values { topology: Arc::clone(&self.topology), numbers: self.nominal.clone() }
    }

    /// Whether couplings as close as these are possible at all; every layout asks it too.
    ///
    /// # Errors
    /// [`SolveErrorKind::Coupling`], [`SolveErrorKind::ForeignValues`].
    pub fn check_couplings(&self, values: &Values) -> Result<(), SolveError> {
        if !values.topology.same_elements(&self.topology) {
            return Err(SolveErrorKind::ForeignValues.into());
        }
        Groups::new(&self.topology).check(&self.topology, &values.numbers)
    }

    /// Whether another circuit, made apart, has the same elements between the same nodes, so that values of it can be carried over to this
    /// one. `None` where it has not, and where elements listen to a current (they hold handles of their own circuit).
    pub fn twin(&self, other: &Circuit) -> Option<Twin> {
        let (own, other) = (Arc::clone(&self.topology), Arc::clone(&other.topology));
        own.same_structure(&other).then_some(Twin { own, other })
    }

    /// All independent sources in order of creation: the index order of [`crate::Point::transfers`].
    pub fn sources(&self) -> &[Source] {
        &self.topology.sources
    }

    /// Name of an element (empty for a foreign handle).
    pub fn name(&self, element: impl Into<Element>) -> &str {
        let element = element.into();
        if element.circuit() == self.topology.id { self.topology.name(element) } else { "" }
    }
}
