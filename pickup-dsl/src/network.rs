//! Harness → one circuit. A position, a knob setting, a lifted lead or an unplugged cable is a set of element values of that one
//! circuit (contacts closed or open, tracks split, loads at zero or infinity), so nothing is built twice.

use std::collections::BTreeMap;

use solver::{Capacitor, Circuit, Node, Noise, Resistor, Values, VoltageSource};

use crate::harness::{Harness, LugId, PartId};
use crate::source::Span;

/// Knob settings that differ from rest, 0–10, by pot.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Knobs(pub BTreeMap<PartId, f64>);

/// What is plugged into the jack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Loads {
    /// Cable, buffers and amp, as the file says.
    #[default]
    Plugged,
    /// A plug in the jack, nothing behind it, on every outlet.
    Bare,
}

/// One state of the circuit.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// The throw of each switch, in the order of `Harness::switches`.
    pub throws: &'a [usize],
    /// Knobs away from rest.
    pub knobs: &'a Knobs,
    /// What is plugged in.
    pub loads: Loads,
    /// Leave out winding, cover and plate capacitances.
    pub without_stray: bool,
    /// Section (index in [`Network::sections`]) with one lead lifted: its resistance open, its coil's winding capacitance gone.
    pub lifted: Option<usize>,
    /// Each stated value multiplied by its own fixed factor near 1, so that two networks agree by structure only.
    pub generic: bool,
}

/// One winding, or one section of a tapped one, with its EMF: start → EMF → R → (L ∥ loss) → finish.
#[derive(Debug, Clone)]
pub struct Section {
    /// `neck.slug`, `lead`, or `lead.start..half` for a section.
    pub name: String,
    /// Its pickup.
    pub pickup: PartId,
    /// Index of its coil in the pickup.
    pub coil: usize,
    /// Drives start positive against finish.
    pub emf: VoltageSource,
    /// V on the 5,000-turn scale, signed: turns/5000 × strength × wound × pole.
    pub signal: f64,
    /// V on the 5,000-turn scale, signed: turns/5000 × hum area × wound.
    pub hum: f64,
    /// Its DC resistance.
    pub resistance: Resistor,
    /// The winding capacitance of its whole coil, if any.
    pub capacitance: Option<Capacitor>,
    /// Its ends.
    pub start: Node,
    /// Its other end.
    pub finish: Node,
    /// Strings sensed, from 1; None: all.
    pub hears: Option<Vec<u32>>,
}

/// Nodes of one outlet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OutletNodes {
    /// At the jack.
    pub jack: Node,
    /// At the amp input.
    pub amp: Node,
}

/// The circuit of a whole harness.
#[derive(Debug, Clone)]
pub struct Network {
    /// Every part, every position.
    pub circuit: Circuit,
    /// Coils in order of the file.
    pub sections: Vec<Section>,
    /// In order of `Harness::outlets`.
    pub outlets: Vec<OutletNodes>,
    /// The jack's sleeve; it is the circuit's ground.
    pub ground: Node,
    /// Thermal noise of every resistance of harness, leads and cable at 293.15 K; stated densities of buffers.
    pub noise: Noise,
    /// The node of each lug (wires merged, contacts not).
    pub lug_nodes: Vec<Node>,
    /// (element name, where it was said), in order of the circuit's elements.
    pub provenance: Vec<(String, Span)>,
}

/// The harness can't be made a circuit.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{message}")]
pub struct NetworkError {
    /// What is wrong, in the trade's words.
    pub message: String,
    /// Where.
    pub span: Span,
}

impl Network {
    /// Builds the circuit, all switches and knobs at rest.
    ///
    /// # Errors
    /// See [`NetworkError`].
    pub fn of(harness: &Harness) -> Result<Network, NetworkError> {
        let _ = harness;
        todo!()
    }

    /// The element values of one state.
    #[must_use]
    pub fn values(&self, harness: &Harness, setting: &Setting<'_>) -> Values {
        let _ = (harness, setting);
        todo!()
    }

    /// The node of a lug.
    #[must_use]
    pub fn node(&self, lug: LugId) -> Node {
        self.lug_nodes[lug.0 as usize]
    }
}
