//! Piezo elements, op-amps, batteries, and which active parts have their supply.

use std::f64::consts::TAU;

use solver::{Gain, Node, Values, Vcvs};

use super::build::{Build, Law, Placed, Role};
use super::graph::{Graph, Path};
use super::nets::Merged;
use super::{Network, NetworkError, Section, assign};
use crate::harness::{Harness, LugId, OpAmp, PartId, PartKind, Piezo, Valued};

/// Inside an op-amp: the pole's resistor. Any value would do; its noise does not count.
const POLE_OHMS: f64 = 1e3;
/// A supply may come through this much: a filter or a lamp's resistor.
const SUPPLY_OHMS: f64 = 10e3;

/// An active part with a wired supply.
#[derive(Debug, Clone)]
pub(super) struct Supplied {
    pub(super) part: PartId,
    stage: Vcvs,
    supply: Node,
    ground: Node,
}

/// Plus and minus of a battery, and its own resistor, which carries no supply.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    plus: Node,
    minus: Node,
    inside: solver::Resistor,
}

/// plus → EMF → capacitance → minus. The resistance of nothing is where a lead is lifted.
pub(super) fn piezo(
    build: &mut Build<'_>,
    id: PartId,
    piezo: &Piezo,
    sections: &mut Vec<Section>,
) -> Result<(), NetworkError> {
    let (plus, minus) = (build.lug(id, "plus")?, build.lug(id, "minus")?);
    let part = build.harness.part(id);
    let role = Role::Coil(sections.len());
    let behind_emf = build.inner(format!("{} inside 1", part.name));
    let behind_resistance = build.inner(format!("{} inside 2", part.name));
    let placed = |what: &str, span, a, b| Placed { name: format!("{} {what}", part.name), span, role, a, b };
    let emf = build.emf(placed("EMF", part.span, plus, behind_emf))?;
    let resistance = build.resistor(placed("resistance", part.span, behind_emf, behind_resistance), 0.0)?;
    let farads = piezo.capacitance;
    build.capacitor(placed("capacitance", farads.span, behind_resistance, minus), farads.value)?;
    sections.push(Section {
        name: part.name.clone(),
        pickup: id,
        coil: 0,
        emf,
        signal: piezo.volts,
        hum: 0.0,
        resistance,
        capacitance: None,
        start: plus,
        finish: minus,
        hears: None,
    });
    Ok(())
}

/// v(out − ground) = A·v(plus − minus); with a gain-bandwidth product B, A/(1 + jf·A/B).
pub(super) fn op_amp(build: &mut Build<'_>, id: PartId, op_amp: &OpAmp) -> Result<(), NetworkError> {
    let (plus, minus) = (build.lug(id, "plus")?, build.lug(id, "minus")?);
    let (out, ground) = (build.lug(id, "out")?, build.lug(id, "ground")?);
    let part = build.harness.part(id);
    let placed = |what: &str, span, a, b| Placed {
        name: format!("{} {what}", part.name),
        span,
        role: Role::Part,
        a,
        b,
    };
    if let Some(density) = op_amp.current_noise {
        build.noise_current(placed("current noise", density.span, ground, plus), density.value)?;
        build.noise_current(placed("current noise 2", density.span, ground, minus), density.value)?;
    }
    let mut heard = plus;
    if let Some(density) = op_amp.noise {
        heard = build.inner(format!("{} noise", part.name));
        build.noise_voltage(placed("voltage noise", density.span, heard, plus), density.value)?;
    }
    let Some(bandwidth) = op_amp.bandwidth else {
        build.stage(placed("gain", part.span, out, ground), (heard, minus), op_amp.open_loop)?;
        return Ok(());
    };
    let fast = build.inner(format!("{} inside 1", part.name));
    let slow = build.inner(format!("{} inside 2", part.name));
    build.stage(placed("gain", part.span, fast, ground), (heard, minus), op_amp.open_loop)?;
    let pole = build.resistor(placed("pole resistance", bandwidth.span, fast, slow), POLE_OHMS)?;
    build.silent.push(pole);
    let farads = op_amp.open_loop / (TAU * bandwidth.value * POLE_OHMS);
    build.capacitor(placed("pole capacitance", bandwidth.span, slow, ground), farads)?;
    build.stage(placed("output", part.span, out, ground), (slow, ground), 1.0)?;
    Ok(())
}

pub(super) fn battery(
    build: &mut Build<'_>,
    id: PartId,
    ohms: Valued,
    cells: &mut Vec<Cell>,
) -> Result<(), NetworkError> {
    let (plus, minus) = (build.lug(id, "plus")?, build.lug(id, "minus")?);
    let name = format!("{} resistance", build.harness.part(id).name);
    let placed = Placed { name, span: ohms.span, role: Role::Part, a: plus, b: minus };
    let inside = build.resistor(placed, ohms.value)?;
    cells.push(Cell { plus, minus, inside });
    Ok(())
}

/// The active parts inside the guitar whose supply lug is wired.
pub(super) fn supplied(build: &Build<'_>) -> Vec<Supplied> {
    let harness = build.harness;
    let wired = |lug: LugId| harness.joints.iter().any(|j| j.a == lug || j.b == lug);
    let mut list = Vec::new();
    // Without a battery in the file, supplies are none of its business.
    if !harness.parts.iter().any(|p| matches!(p.kind, PartKind::Battery(_))) {
        return list;
    }
    for (index, part) in harness.parts.iter().enumerate() {
        let id = PartId(index as u32);
        if !matches!(part.kind, PartKind::Buffer(_) | PartKind::OpAmp(_)) {
            continue;
        }
        let (Some(supply), Some(ground)) = (harness.lug(id, "supply"), harness.lug(id, "ground")) else {
            continue;
        };
        let gain = format!("{} gain", part.name);
        let stage = build.elements.iter().find_map(|e| match e.law {
            Law::Stage(stage, ..) if e.name == gain => Some(stage),
            _ => None,
        });
        if let Some(stage) = stage.filter(|_| wired(supply)) {
            let (supply, ground) = (build.node(supply), build.node(ground));
            list.push(Supplied { part: id, stage, supply, ground });
        }
    }
    list
}

/// The parts that no battery reaches in the state `values`: supply to its plus and ground to its minus, through closed contacts and
/// at most 10 kΩ at a time.
pub(super) fn without_supply<'n>(network: &'n Network, values: &Values) -> Vec<&'n Supplied> {
    if network.supplied.is_empty() {
        return Vec::new();
    }
    let graph = Graph::of(network, values.clone());
    let mut joined = Merged::new(graph.node_count());
    for element in &network.elements {
        let own = |r| network.cells.iter().any(|c| c.inside == r);
        let carries = match (graph.path(element), element.law) {
            (Path::Metal, _) => true,
            (Path::Ohms(ohms), Law::Resistor(r)) => ohms <= SUPPLY_OHMS && !own(r),
            _ => false,
        };
        if carries {
            joined.join(graph.at(element.a), graph.at(element.b));
        }
    }
    let mut same = |a: Node, b: Node| joined.find(graph.at(a)) == joined.find(graph.at(b));
    let mut off = Vec::new();
    for active in &network.supplied {
        let on = network.cells.iter().any(|c| same(c.plus, active.supply) && same(c.minus, active.ground));
        if !on {
            off.push(active);
        }
    }
    off
}

/// An active part without its supply passes nothing.
pub(super) fn switch_off(network: &Network, values: &mut Values) {
    for active in without_supply(network, values) {
        assign(values.set_gain(Gain::Vcvs(active.stage), 0.0));
    }
}

impl Network {
    /// Active parts whose supply lug is wired and that no battery reaches in this state: they pass nothing.
    #[must_use]
    pub fn unpowered(&self, harness: &Harness, setting: &super::Setting<'_>) -> Vec<PartId> {
        let values = self.values(harness, setting);
        without_supply(self, &values).into_iter().map(|active| active.part).collect()
    }
}
