//! Typed handles. Each carries the identity of its circuit, so that a handle used with another circuit is a typed error.

macro_rules! handles {
    ($($(#[$doc:meta])* $name:ident)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
            pub struct $name { pub(crate) circuit: u32, pub(crate) index: u32 }
            impl $name {
                /// Position among the handles of this kind, in order of creation.
                pub fn index(self) -> usize {
                    self.index as usize
                }
            }
        )*
    };
}

handles! {
    /// A node; the ground node has index 0.
    Node
    /// A resistor.
    Resistor
    /// A capacitor.
    Capacitor
    /// An inductor.
    Inductor
    /// A mutual inductance between two inductors.
    Coupling
    /// An exact contact.
    Contact
    /// An independent voltage source.
    VoltageSource
    /// An independent current source.
    CurrentSource
    /// A voltage-controlled voltage source.
    Vcvs
    /// A voltage-controlled current source.
    Vccs
    /// A current-controlled voltage source.
    Ccvs
    /// A current-controlled current source.
    Cccs
    /// An ideal operational amplifier (nullor).
    OpAmp
    /// An ideal transformer.
    Transformer
}

/// Any element that has one branch current (reference direction: from its first node through the element to its second).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Branch {
    /// Current of a resistor; must be probed.
    Resistor(Resistor),
    /// Current of an inductor; must be probed at DC or where its inductance is 0.
    Inductor(Inductor),
    /// Current of a capacitor; must be probed.
    Capacitor(Capacitor),
    /// Current of a contact; must be probed.
    Contact(Contact),
    /// Current of a voltage source.
    VoltageSource(VoltageSource),
    /// Output current of a voltage-controlled voltage source.
    Vcvs(Vcvs),
    /// Output current of a current-controlled voltage source.
    Ccvs(Ccvs),
}

/// An independent source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// Amplitudes in volts.
    Voltage(VoltageSource),
    /// Amplitudes in amperes.
    Current(CurrentSource),
}

/// Any element, as errors name it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "each variant is the handle of the same name")]
pub enum Element {
    Resistor(Resistor),
    Capacitor(Capacitor),
    Inductor(Inductor),
    Coupling(Coupling),
    Contact(Contact),
    VoltageSource(VoltageSource),
    CurrentSource(CurrentSource),
    Vcvs(Vcvs),
    Vccs(Vccs),
    Ccvs(Ccvs),
    Cccs(Cccs),
    OpAmp(OpAmp),
    Transformer(Transformer),
}

macro_rules! into_element {
    ($($name:ident)*) => {
        $(impl From<$name> for Element { fn from(handle: $name) -> Self { Element::$name(handle) } })*
    };
}
into_element! { Resistor Capacitor Inductor Coupling Contact VoltageSource CurrentSource Vcvs Vccs Ccvs Cccs OpAmp Transformer }

impl From<Branch> for Element {
    fn from(branch: Branch) -> Self {
        match branch {
            Branch::Resistor(e) => e.into(),
            Branch::Inductor(e) => e.into(),
            Branch::Capacitor(e) => e.into(),
            Branch::Contact(e) => e.into(),
            Branch::VoltageSource(e) => e.into(),
            Branch::Vcvs(e) => e.into(),
            Branch::Ccvs(e) => e.into(),
        }
    }
}

impl From<Source> for Element {
    fn from(source: Source) -> Self {
        match source {
            Source::Voltage(e) => e.into(),
            Source::Current(e) => e.into(),
        }
    }
}

impl Element {
    pub(crate) fn circuit(self) -> u32 {
        self.parts().0
    }

    /// Position among the elements of its kind, in order of creation.
    pub fn index(self) -> usize {
        self.parts().1 as usize
    }

    fn parts(self) -> (u32, u32) {
        match self {
            Element::Resistor(e) => (e.circuit, e.index),
            Element::Capacitor(e) => (e.circuit, e.index),
            Element::Inductor(e) => (e.circuit, e.index),
            Element::Coupling(e) => (e.circuit, e.index),
            Element::Contact(e) => (e.circuit, e.index),
            Element::VoltageSource(e) => (e.circuit, e.index),
            Element::CurrentSource(e) => (e.circuit, e.index),
            Element::Vcvs(e) => (e.circuit, e.index),
            Element::Vccs(e) => (e.circuit, e.index),
            Element::Ccvs(e) => (e.circuit, e.index),
            Element::Cccs(e) => (e.circuit, e.index),
            Element::OpAmp(e) => (e.circuit, e.index),
            Element::Transformer(e) => (e.circuit, e.index),
        }
    }
}
