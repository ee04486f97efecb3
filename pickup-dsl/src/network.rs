//! Harness → one circuit. A position, a knob setting, a lifted lead or an unplugged cable is a set of element values of that one
//! circuit (contacts closed or open, tracks split, loads at zero or infinity), so nothing is built twice.

use std::collections::BTreeMap;

use solver::{
    BuildError, Capacitor, Circuit, Farads, Henries, Kelvin, Node, Noise, Ohms, Resistor, SolveErrorKind,
    Values, VoltageSource,
};

use crate::harness::{Harness, LugId, PartId, PartKind};
use crate::source::Span;

mod active;
#[cfg(test)]
pub(crate) mod bench;
mod build;
mod coil;
mod describe;
mod generic;
mod graph;
mod in_circuit;
mod joint;
mod load;
mod nets;
mod passive;
mod pot;
mod reach;
mod signal;
mod skeleton;
mod switch;
#[cfg(test)]
mod tests;
mod transit;

pub use describe::{LiveCoupling, LiveElement, LiveKind, LiveNet, LiveNetwork, live};
pub use generic::knob as generic_knob;
pub use in_circuit::{CircuitWord, in_circuit};
pub(crate) use joint::Joints;
pub(crate) use nets::Merged;
pub use pot::share as track_share;
pub(crate) use reach::reaching;
pub use signal::{Signal, signal, soldered};
pub(crate) use skeleton::Skeleton;
pub(crate) use transit::{Hot, Move, hot};

use build::{Build, Coupled, Element, Law, Role};
use nets::Nets;

/// Where thermal noise is taken: 20 °C.
const ROOM: Kelvin = Kelvin(293.15);

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

impl<'a> Setting<'a> {
    /// The guitar as it is: nothing left out, no lead lifted, values as stated.
    #[must_use]
    pub fn new(throws: &'a [usize], knobs: &'a Knobs, loads: Loads) -> Self {
        Setting { throws, knobs, loads, without_stray: false, lifted: None, generic: false }
    }
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
    elements: Vec<Element>,
    node_index: BTreeMap<Node, usize>,
    couplings: Vec<Coupled>,
    switches: Vec<switch::Contacts>,
    tracks: Vec<pot::Track>,
    cells: Vec<active::Cell>,
    supplied: Vec<active::Supplied>,
    /// All contacts open, knobs at rest, stated values.
    stated: Values,
    /// The same with each value times its own factor.
    generic: Values,
}

/// The harness can't be made a circuit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
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
    /// See [`NetworkError`]: a tap that can't be (out of order, measured above the whole coil, beside a loss chain, several measured),
    /// a value that is negative or no number, coils coupled more closely than can be.
    pub fn of(harness: &Harness) -> Result<Network, NetworkError> {
        let nets = Nets::of(harness);
        let mut build = Build::new(harness, &nets);
        let mut sections = Vec::new();
        let mut wound = Vec::new();
        let mut switches = Vec::new();
        let mut tracks = Vec::new();
        let mut cells = Vec::new();
        for (index, part) in harness.parts.iter().enumerate() {
            let id = PartId(index as u32);
            match &part.kind {
                PartKind::Pickup(pickup) => {
                    wound.extend(coil::build(&mut build, id, pickup, &mut sections)?);
                }
                PartKind::Pot(pot) => pot::build(&mut build, id, pot, &mut tracks)?,
                PartKind::Switch(switch) => switches.push(switch::build(&mut build, id, switch)?),
                PartKind::Resistor(ohms) => passive::resistor(&mut build, id, *ohms)?,
                PartKind::Capacitor(farads, loss) => {
                    passive::capacitor(&mut build, id, *farads, *loss)?;
                }
                PartKind::Inductor(henries, dcr) => {
                    passive::inductor(&mut build, id, *henries, *dcr)?;
                }
                PartKind::Lead(lead) => {
                    let outside = lead.outside || plugged(harness, id);
                    let role = if outside { Role::Load } else { Role::Part };
                    passive::lead(&mut build, id, lead, role)?;
                }
                PartKind::Amp(amp) => load::amp(&mut build, id, amp)?,
                PartKind::Buffer(buffer) => {
                    load::buffer(&mut build, id, buffer, plugged(harness, id))?;
                }
                PartKind::OpAmp(op_amp) => active::op_amp(&mut build, id, op_amp)?,
                PartKind::Piezo(piezo) => active::piezo(&mut build, id, piezo, &mut sections)?,
                PartKind::Battery(ohms) => active::battery(&mut build, id, *ohms, &mut cells)?,
                PartKind::Jack(_) | PartKind::Strings | PartKind::Shield | PartKind::Splice => {}
            }
        }
        for cross in &harness.cross_couplings {
            let find = |(pickup, coil)| wound.iter().find(|w| w.pickup == pickup && w.coil == coil);
            if let (Some(a), Some(b)) = (find(cross.a), find(cross.b)) {
                coil::couple(&mut build, a, b, cross.k)?;
            }
        }
        possible_couplings(&build)?;
        let supplied = active::supplied(&build);
        Ok(Network { cells, supplied, ..finish(build, sections, switches, tracks) })
    }

    /// The element values of one state.
    ///
    /// Switches beyond the end of `throws` have all their contacts open.
    #[must_use]
    pub fn values(&self, harness: &Harness, setting: &Setting<'_>) -> Values {
        debug_assert_eq!(self.lug_nodes.len(), harness.lugs.len(), "another harness");
        let base = if setting.generic { &self.generic } else { &self.stated };
        let mut values = base.clone();
        for (switch, &throw) in self.switches.iter().zip(setting.throws) {
            switch.close(&mut values, throw, setting.generic);
        }
        for track in &self.tracks {
            if let Some(&knob) = setting.knobs.0.get(&track.pot) {
                track.turn(&mut values, knob, setting.generic);
            }
        }
        active::switch_off(self, &mut values);
        let bare = setting.loads == Loads::Bare;
        if bare || setting.without_stray {
            for element in &self.elements {
                if (bare && element.role == Role::Load)
                    || (setting.without_stray && element.role == Role::Stray)
                {
                    remove(&mut values, element);
                }
            }
        }
        if let Some(section) = setting.lifted.and_then(|index| self.sections.get(index)) {
            assign(values.set_resistance(section.resistance, Ohms(f64::INFINITY)));
            if let Some(capacitance) = section.capacitance {
                assign(values.set_capacitance(capacitance, Farads(0.0)));
            }
        }
        values
    }

    /// The node of a lug.
    #[must_use]
    pub fn node(&self, lug: LugId) -> Node {
        self.lug_nodes[lug.0 as usize]
    }
}

/// Refuses coils that are coupled more closely than any could be. Coupling factors are the same in every state, so once is enough; what
/// else a layout may find wrong belongs to one state and is the business of whoever solves it.
fn possible_couplings(build: &Build<'_>) -> Result<(), NetworkError> {
    let Err(error) = build.circuit.check_couplings(&build.circuit.values()) else {
        return Ok(());
    };
    let SolveErrorKind::Coupling { inductors } = error.kind() else {
        return Ok(());
    };
    let in_group = |coupled: &&Coupled| inductors.iter().any(|named| named.element == coupled.a.into());
    let span = build
        .couplings
        .iter()
        .find(in_group)
        .map_or(build.harness.part(build.harness.lugs[0].part).span, |coupled| coupled.span);
    let mut names: Vec<&str> =
        inductors.iter().map(|named| named.name.trim_end_matches(" inductance")).collect();
    names.dedup();
    Err(NetworkError {
        message: format!("no coils can be coupled as closely as {} are", names.join(", ")),
        span,
    })
}

fn finish(
    build: Build<'_>,
    sections: Vec<Section>,
    switches: Vec<switch::Contacts>,
    tracks: Vec<pot::Track>,
) -> Network {
    let harness = build.harness;
    let outlets = harness
        .outlets
        .iter()
        .map(|outlet| OutletNodes { jack: build.node(outlet.hot), amp: build.node(outlet.amp_input) })
        .collect();
    let mut noise = Noise::thermal(&build.circuit, ROOM);
    for &resistor in &build.silent {
        noise.silence(resistor);
    }
    for &(source, density) in &build.densities {
        noise.add(source, density);
    }
    let mut stated = build.circuit.values();
    let mut generic = stated.clone();
    for element in &build.elements {
        scale(&mut generic, element);
    }
    for switch in &switches {
        switch.open(&mut stated);
        switch.open(&mut generic);
    }
    for track in &tracks {
        track.turn(&mut generic, track.rest, true);
    }
    Network {
        ground: build.circuit.ground(),
        circuit: build.circuit,
        sections,
        outlets,
        noise,
        node_index: graph::node_index(&build.lug_nodes, &build.elements),
        lug_nodes: build.lug_nodes,
        provenance: build.provenance,
        elements: build.elements,
        couplings: build.couplings,
        switches,
        tracks,
        cells: Vec::new(),
        supplied: Vec::new(),
        stated,
        generic,
    }
}

/// Whether a part stands behind the jack.
fn plugged(harness: &Harness, id: PartId) -> bool {
    harness.outlets.iter().any(|outlet| outlet.chain.contains(&id))
}

fn scale(values: &mut Values, element: &Element) {
    match element.law {
        Law::Resistor(e) => {
            let ohms = values.resistance(e).0 * element.factor;
            assign(values.set_resistance(e, Ohms(ohms)));
        }
        Law::Capacitor(e) => {
            let farads = values.capacitance(e).0 * element.factor;
            assign(values.set_capacitance(e, Farads(farads)));
        }
        Law::Inductor(e) => {
            let henries = values.inductance(e).0 * element.factor;
            assign(values.set_inductance(e, Henries(henries)));
        }
        Law::Contact(_) | Law::Emf(_) | Law::NoiseVoltage(_) | Law::NoiseCurrent(_) | Law::Stage(..) => {}
    }
}

fn remove(values: &mut Values, element: &Element) {
    match element.law {
        Law::Resistor(e) => assign(values.set_resistance(e, Ohms(f64::INFINITY))),
        Law::Capacitor(e) => assign(values.set_capacitance(e, Farads(0.0))),
        Law::Contact(e) => assign(values.set_contact(e, false)),
        Law::Inductor(_) | Law::Emf(_) | Law::NoiseVoltage(_) | Law::NoiseCurrent(_) | Law::Stage(..) => {}
    }
}

/// Values that the network sets are of its own elements and in their domain, so that the solver can't refuse them.
fn assign(outcome: Result<(), BuildError>) {
    debug_assert!(outcome.is_ok(), "the solver refused a value: {outcome:?}");
}
