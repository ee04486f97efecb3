//! One set of element values of one circuit.

use std::sync::Arc;

use crate::error::{BuildError, BuildErrorKind};
use crate::handle::{
    Capacitor, Cccs, Ccvs, Contact, Coupling, Element, Inductor, Resistor, Transformer, Vccs, Vcvs,
};
use crate::quantity::{Farads, Henries, Ohms};
use crate::topology::Topology;

/// The plain numbers, one list per kind of element, in order of creation.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Numbers {
    pub(crate) resistance: Vec<f64>,
    pub(crate) capacitance: Vec<f64>,
    pub(crate) inductance: Vec<f64>,
    pub(crate) coupling: Vec<f64>,
    pub(crate) closed: Vec<bool>,
    pub(crate) vcvs: Vec<f64>,
    pub(crate) vccs: Vec<f64>,
    pub(crate) ccvs: Vec<f64>,
    pub(crate) cccs: Vec<f64>,
    pub(crate) ratio: Vec<f64>,
}

impl Numbers {
    pub(crate) const NONE: Numbers = Numbers {
        resistance: Vec::new(),
        capacitance: Vec::new(),
        inductance: Vec::new(),
        coupling: Vec::new(),
        closed: Vec::new(),
        vcvs: Vec::new(),
        vccs: Vec::new(),
        ccvs: Vec::new(),
        cccs: Vec::new(),
        ratio: Vec::new(),
    };

    /// Copies without allocating where the lists have the same lengths as before.
    pub(crate) fn copy_from(&mut self, other: &Numbers) {
        self.resistance.clone_from(&other.resistance);
        self.capacitance.clone_from(&other.capacitance);
        self.inductance.clone_from(&other.inductance);
        self.coupling.clone_from(&other.coupling);
        self.closed.clone_from(&other.closed);
        self.vcvs.clone_from(&other.vcvs);
        self.vccs.clone_from(&other.vccs);
        self.ccvs.clone_from(&other.ccvs);
        self.cccs.clone_from(&other.cccs);
        self.ratio.clone_from(&other.ratio);
    }
}

/// The domain of each quantity: the one place that knows it.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Domain {
    Resistance,
    Capacitance,
    Inductance,
    Coupling,
    Gain,
}

impl Domain {
    /// Whether a value is in the domain.
    #[inline]
    pub(crate) fn allows(self, value: f64) -> bool {
        match self {
            Domain::Resistance => value >= 0.0,
            Domain::Capacitance | Domain::Inductance => value >= 0.0 && value.is_finite(),
            Domain::Coupling => value.abs() <= 1.0,
            Domain::Gain => value.is_finite(),
        }
    }

    pub(crate) fn check(self, element: Option<Element>, name: &str, value: f64) -> Result<f64, BuildError> {
        let (quantity, allowed) = match self {
            Domain::Resistance => ("resistance", "0 Ω to infinity"),
            Domain::Capacitance => ("capacitance", "0 F and above, finite"),
            Domain::Inductance => ("inductance", "0 H and above, finite"),
            Domain::Coupling => ("coupling factor", "-1 to 1"),
            Domain::Gain => ("gain", "any finite number"),
        };
        if self.allows(value) {
            // -0.0 would make 1/R negative infinity.
            Ok(value + 0.0)
        } else {
            Err(BuildErrorKind::OutOfRange { element, name: name.to_owned(), quantity, value, allowed }
                .into())
        }
    }
}

/// An element with a gain that can be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Gain {
    /// Voltage gain.
    Vcvs(Vcvs),
    /// Transconductance, S.
    Vccs(Vccs),
    /// Transresistance, Ω.
    Ccvs(Ccvs),
    /// Current gain.
    Cccs(Cccs),
    /// Voltage ratio v1/v2.
    Transformer(Transformer),
}

impl From<Gain> for Element {
    fn from(gain: Gain) -> Self {
        match gain {
            Gain::Vcvs(e) => e.into(),
            Gain::Vccs(e) => e.into(),
            Gain::Ccvs(e) => e.into(),
            Gain::Cccs(e) => e.into(),
            Gain::Transformer(e) => e.into(),
        }
    }
}

/// One set of element values of one circuit. Changing it never touches the topology.
///
/// A setter that fails changes nothing. Getters answer NaN for a foreign handle.
#[derive(Debug, Clone)]
pub struct Values {
    pub(crate) topology: Arc<Topology>,
    pub(crate) numbers: Numbers,
}

impl PartialEq for Values {
    fn eq(&self, other: &Self) -> bool {
        self.topology.same_elements(&other.topology) && self.numbers == other.numbers
    }
}

impl Values {
    fn own(&self, element: impl Into<Element>) -> Result<Element, BuildError> {
        let element = element.into();
        if self.topology.owns(element) {
            Ok(element)
        } else {
            Err(BuildErrorKind::ForeignElement { element, name: "a value".to_owned() }.into())
        }
    }

    fn checked(&self, element: impl Into<Element>, domain: Domain, value: f64) -> Result<f64, BuildError> {
        let element = self.own(element)?;
        domain.check(Some(element), self.topology.name(element), value)
    }

    /// R ∈ [0, ∞], Ω.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn set_resistance(&mut self, e: Resistor, r: Ohms) -> Result<(), BuildError> {
        let value = self.checked(e, Domain::Resistance, r.0)?;
        self.numbers.resistance[e.index()] = value;
        Ok(())
    }

    /// C ≥ 0, finite, F.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn set_capacitance(&mut self, e: Capacitor, c: Farads) -> Result<(), BuildError> {
        let value = self.checked(e, Domain::Capacitance, c.0)?;
        self.numbers.capacitance[e.index()] = value;
        Ok(())
    }

    /// L ≥ 0, finite, H.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn set_inductance(&mut self, e: Inductor, l: Henries) -> Result<(), BuildError> {
        let value = self.checked(e, Domain::Inductance, l.0)?;
        self.numbers.inductance[e.index()] = value;
        Ok(())
    }

    /// k ∈ [-1, 1].
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn set_coupling(&mut self, e: Coupling, k: f64) -> Result<(), BuildError> {
        let value = self.checked(e, Domain::Coupling, k)?;
        self.numbers.coupling[e.index()] = value;
        Ok(())
    }

    /// Closed or open.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`].
    pub fn set_contact(&mut self, e: Contact, closed: bool) -> Result<(), BuildError> {
        self.own(e)?;
        self.numbers.closed[e.index()] = closed;
        Ok(())
    }

    /// Any finite gain.
    ///
    /// # Errors
    /// [`BuildErrorKind::ForeignElement`]; [`BuildErrorKind::OutOfRange`] for a value outside that.
    pub fn set_gain(&mut self, e: Gain, gain: f64) -> Result<(), BuildError> {
        let gain = self.checked(e, Domain::Gain, gain)?;
        let numbers = &mut self.numbers;
        match e {
            Gain::Vcvs(e) => numbers.vcvs[e.index()] = gain,
            Gain::Vccs(e) => numbers.vccs[e.index()] = gain,
            Gain::Ccvs(e) => numbers.ccvs[e.index()] = gain,
            Gain::Cccs(e) => numbers.cccs[e.index()] = gain,
            Gain::Transformer(e) => numbers.ratio[e.index()] = gain,
        }
        Ok(())
    }

    fn get(&self, element: impl Into<Element>, list: &[f64]) -> f64 {
        self.own(element).map_or(f64::NAN, |element| list[element.index()])
    }

    /// Resistance, Ω.
    pub fn resistance(&self, e: Resistor) -> Ohms {
        Ohms(self.get(e, &self.numbers.resistance))
    }

    /// Capacitance, F.
    pub fn capacitance(&self, e: Capacitor) -> Farads {
        Farads(self.get(e, &self.numbers.capacitance))
    }

    /// Inductance, H.
    pub fn inductance(&self, e: Inductor) -> Henries {
        Henries(self.get(e, &self.numbers.inductance))
    }

    /// Coupling factor.
    pub fn coupling(&self, e: Coupling) -> f64 {
        self.get(e, &self.numbers.coupling)
    }

    /// Whether a contact is closed (`false` for a foreign handle).
    pub fn closed(&self, e: Contact) -> bool {
        self.own(e).is_ok_and(|element| self.numbers.closed[element.index()])
    }

    /// Gain of a controlled source or ratio of a transformer, in its own unit.
    pub fn gain(&self, e: Gain) -> f64 {
        let numbers = &self.numbers;
        let list = match e {
            Gain::Vcvs(_) => &numbers.vcvs,
            Gain::Vccs(_) => &numbers.vccs,
            Gain::Ccvs(_) => &numbers.ccvs,
            Gain::Cccs(_) => &numbers.cccs,
            Gain::Transformer(_) => &numbers.ratio,
        };
        self.get(e, list)
    }
}
