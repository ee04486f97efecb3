//! Which elements make noise.

mod total;

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::Circuit;
#[cfg(doc)]
use crate::error::SolveErrorKind;
use crate::handle::{Element, Resistor, Source};
use crate::quantity::Kelvin;

pub use total::{Band, Contribution, NoiseTotal};

/// Boltzmann's constant, J/K (exact in the SI since 2019).
pub const BOLTZMANN: f64 = 1.380649e-23;

/// Which resistances are noise sources and how warm they are; plus stated densities of sources.
///
/// A resistor of R at temperature T makes 4kTR V²/Hz in series or 4kT/R A²/Hz in parallel, one-sided (H. Nyquist, "Thermal agitation of
/// electric charge in conductors", Phys. Rev. 32 (1928) 110–113). A resistance of 0 or ∞ adds nothing.
/// A temperature is 0 K and above, finite; another one makes every use of the object a [`SolveErrorKind::Temperature`].
/// The noise is inside the element: what is controlled by a resistor's current hears that resistor's noise too.
#[derive(Debug, Clone, PartialEq)]
pub struct Noise {
    circuit: u32,
    temperature: f64,
    silent: BTreeSet<u32>,
    warm: BTreeMap<u32, f64>,
    densities: Vec<(Source, f64)>,
    foreign: Option<Element>,
}

impl Noise {
    /// Every resistor at `t` (0 K and above, finite).
    pub fn thermal(circuit: &Circuit, t: Kelvin) -> Noise {
        Noise {
            circuit: circuit.topology.id,
            temperature: t.0,
            silent: BTreeSet::new(),
            warm: BTreeMap::new(),
            densities: Vec::new(),
            foreign: None,
        }
    }

    /// Takes one resistor out. A handle of another circuit makes every later use of this object an error.
    pub fn silence(&mut self, r: Resistor) {
        self.own(r.into());
        self.silent.insert(r.index);
    }

    /// Gives one resistor a temperature of its own (0 K and above, finite).
    pub fn warm(&mut self, r: Resistor, t: Kelvin) {
        self.own(r.into());
        self.warm.insert(r.index, t.0);
    }

    /// A stated white density of an independent source (V²/Hz or A²/Hz), uncorrelated with all others.
    pub fn add(&mut self, source: Source, density: f64) {
        self.own(source.into());
        self.densities.push((source, density));
    }

    fn own(&mut self, element: Element) {
        if element.circuit() != self.circuit {
            self.foreign.get_or_insert(element);
        }
    }

    pub(crate) fn circuit(&self) -> u32 {
        self.circuit
    }

    pub(crate) fn foreign(&self) -> Option<Element> {
        self.foreign
    }

    /// A temperature that can't be.
    pub(crate) fn bad_temperature(&self) -> Option<f64> {
        let mut all = std::iter::once(&self.temperature).chain(self.warm.values());
        all.find(|&&t| !(t >= 0.0 && t.is_finite())).copied()
    }

    /// 4kT of a resistor, W/Hz; 0 if it is silent.
    pub(crate) fn power(&self, resistor: u32) -> f64 {
        if self.silent.contains(&resistor) {
            return 0.0;
        }
        4.0 * BOLTZMANN * self.warm.get(&resistor).copied().unwrap_or(self.temperature)
    }

    pub(crate) fn densities(&self) -> &[(Source, f64)] {
        &self.densities
    }
}
