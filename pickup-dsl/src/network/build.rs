//! The circuit under construction: every element goes in with its name, its place in the file and its generic value.

use solver::{
    Capacitor, Circuit, Contact, CurrentSource, Farads, Henries, Inductor, Node, Ohms, Resistor, Source,
    Vcvs, VoltageSource,
};

use super::nets::Nets;
use super::{NetworkError, generic};
use crate::harness::{Harness, LugId, PartId};
use crate::source::Span;

/// What an element is for, where some setting or figure treats it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// A part of the harness.
    Part,
    /// Inside a coil (EMF, winding resistance, inductance, core loss), with the index of its section.
    Coil(usize),
    /// Winding, cover or plate capacitance.
    Stray,
    /// Plugged into the jack.
    Load,
}

/// One element: its handle and its own value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Law {
    Resistor(Resistor),
    Capacitor(Capacitor),
    Inductor(Inductor),
    Contact(Contact),
    Emf(VoltageSource),
    NoiseVoltage(VoltageSource),
    NoiseCurrent(CurrentSource),
    /// Gain, control plus, control minus.
    Stage(Vcvs, f64, Node, Node),
}

#[derive(Debug, Clone)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) span: Span,
    pub(super) law: Law,
    pub(super) role: Role,
    pub(super) a: Node,
    pub(super) b: Node,
    /// Factor of its value in a generic network.
    pub(super) factor: f64,
}

/// Two inductors that share flux.
#[derive(Debug, Clone)]
pub(super) struct Coupled {
    pub(super) name: String,
    pub(super) span: Span,
    pub(super) a: Inductor,
    pub(super) b: Inductor,
    pub(super) k: f64,
}

/// Two ends, a name and where it is said.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) name: String,
    pub(super) span: Span,
    pub(super) role: Role,
    pub(super) a: Node,
    pub(super) b: Node,
}

#[derive(Debug)]
pub(super) struct Build<'h> {
    pub(super) harness: &'h Harness,
    pub(super) circuit: Circuit,
    pub(super) lug_nodes: Vec<Node>,
    pub(super) elements: Vec<Element>,
    pub(super) couplings: Vec<Coupled>,
    pub(super) provenance: Vec<(String, Span)>,
    /// Resistances that load but make no noise of their own here.
    pub(super) silent: Vec<Resistor>,
    /// Stated noise densities, V²/Hz or A²/Hz.
    pub(super) densities: Vec<(Source, f64)>,
}

impl<'h> Build<'h> {
    /// One node per net, named after its first lug; the sleeve's net is ground.
    pub(super) fn new(harness: &'h Harness, nets: &Nets) -> Self {
        let mut circuit = Circuit::new();
        let ground = nets.of_lug[harness.ground.0 as usize];
        let nodes: Vec<Node> = nets
            .lugs
            .iter()
            .enumerate()
            .map(|(net, lugs)| {
                if net == ground {
                    circuit.ground()
                } else {
                    circuit.node(harness.lug_name(LugId(lugs[0] as u32)))
                }
            })
            .collect();
        let lug_nodes = nets.of_lug.iter().map(|&net| nodes[net]).collect();
        Build {
            harness,
            circuit,
            lug_nodes,
            elements: Vec::new(),
            couplings: Vec::new(),
            provenance: Vec::new(),
            silent: Vec::new(),
            densities: Vec::new(),
        }
    }

    pub(super) fn node(&self, lug: LugId) -> Node {
        self.lug_nodes[lug.0 as usize]
    }

    /// The node of a part's lug by its name.
    pub(super) fn lug(&self, part: PartId, name: &str) -> Result<Node, NetworkError> {
        let lug = self.harness.lug(part, name).ok_or_else(|| {
            let part = self.harness.part(part);
            NetworkError { message: format!("{} has no lug {name}", part.name), span: part.span }
        })?;
        Ok(self.node(lug))
    }

    pub(super) fn inner(&mut self, name: String) -> Node {
        self.circuit.node(name)
    }

    pub(super) fn resistor(&mut self, at: Placed, ohms: f64) -> Result<Resistor, NetworkError> {
        let factor = generic::factor(&at.name);
        self.resistor_of(at, ohms, factor)
    }

    /// A resistor whose value is said under another name: a pot's track, a switch's contacts.
    pub(super) fn resistor_of(
        &mut self,
        at: Placed,
        ohms: f64,
        factor: f64,
    ) -> Result<Resistor, NetworkError> {
        let made = self.circuit.resistor(at.name.clone(), at.a, at.b, Ohms(ohms));
        let resistor = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Resistor(resistor), factor);
        Ok(resistor)
    }

    pub(super) fn capacitor(&mut self, at: Placed, farads: f64) -> Result<Capacitor, NetworkError> {
        let factor = generic::factor(&at.name);
        let made = self.circuit.capacitor(at.name.clone(), at.a, at.b, Farads(farads));
        let capacitor = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Capacitor(capacitor), factor);
        Ok(capacitor)
    }

    pub(super) fn inductor(&mut self, at: Placed, henries: f64) -> Result<Inductor, NetworkError> {
        let factor = generic::factor(&at.name);
        let made = self.circuit.inductor(at.name.clone(), at.a, at.b, Henries(henries));
        let inductor = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Inductor(inductor), factor);
        Ok(inductor)
    }

    pub(super) fn contact(&mut self, at: Placed, closed: bool) -> Result<Contact, NetworkError> {
        let made = self.circuit.contact(at.name.clone(), at.a, at.b, closed);
        let contact = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Contact(contact), 1.0);
        Ok(contact)
    }

    pub(super) fn emf(&mut self, at: Placed) -> Result<VoltageSource, NetworkError> {
        let made = self.circuit.voltage_source(at.name.clone(), at.a, at.b);
        let source = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Emf(source), 1.0);
        Ok(source)
    }

    /// A stated noise voltage, V/√Hz.
    pub(super) fn noise_voltage(&mut self, at: Placed, density: f64) -> Result<(), NetworkError> {
        let made = self.circuit.voltage_source(at.name.clone(), at.a, at.b);
        let source = made.map_err(|error| refused(&at, &error))?;
        self.densities.push((Source::Voltage(source), density * density));
        self.record(at, Law::NoiseVoltage(source), 1.0);
        Ok(())
    }

    /// A stated noise current, A/√Hz.
    pub(super) fn noise_current(&mut self, at: Placed, density: f64) -> Result<(), NetworkError> {
        let made = self.circuit.current_source(at.name.clone(), at.a, at.b);
        let source = made.map_err(|error| refused(&at, &error))?;
        self.densities.push((Source::Current(source), density * density));
        self.record(at, Law::NoiseCurrent(source), 1.0);
        Ok(())
    }

    pub(super) fn stage(&mut self, at: Placed, control: (Node, Node), gain: f64) -> Result<(), NetworkError> {
        let (plus, minus) = control;
        let made = self.circuit.vcvs(at.name.clone(), at.a, at.b, plus, minus, gain);
        let stage = made.map_err(|error| refused(&at, &error))?;
        self.record(at, Law::Stage(stage, gain, plus, minus), 1.0);
        Ok(())
    }

    pub(super) fn couple(&mut self, coupled: Coupled) -> Result<(), NetworkError> {
        self.circuit.couple(coupled.a, coupled.b, coupled.k).map_err(|error| NetworkError {
            message: format!("{}: {error}", coupled.name),
            span: coupled.span,
        })?;
        self.provenance.push((coupled.name.clone(), coupled.span));
        self.couplings.push(coupled);
        Ok(())
    }

    fn record(&mut self, at: Placed, law: Law, factor: f64) {
        self.provenance.push((at.name.clone(), at.span));
        self.elements.push(Element {
            name: at.name,
            span: at.span,
            law,
            role: at.role,
            a: at.a,
            b: at.b,
            factor,
        });
    }
}

fn refused(at: &Placed, error: &solver::BuildError) -> NetworkError {
    NetworkError { message: format!("{}: {error}", at.name), span: at.span }
}
