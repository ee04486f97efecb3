//! The networks that every contender solves.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "shared by a test, a bench and the table of ratios, which use different parts"
)]

use solver::batch::{Parameter, Transfer};
use solver::{Circuit, Farads, Henries, Hertz, Layout, Node, Ohms, Output, Source, Values};

/// A network with what is asked of it.
#[derive(Debug)]
pub struct Workload {
    pub circuit: Circuit,
    pub values: Values,
    pub transfers: Vec<Transfer>,
    /// All resistances, capacitances, inductances and couplings.
    pub parameters: Vec<Parameter>,
    pub nominal: Vec<f64>,
}

pub const RESISTORS: [(&str, &str, f64); 20] = [
    ("h1", "m1", 4000.0),
    ("m1", "s1", 500e3),
    ("s1", "m2", 4150.0),
    ("m2", "0", 480e3),
    ("h1", "w1", 150e3),
    ("w1", "0", 350e3),
    ("h1", "t1", 150e3),
    ("t1", "w1", 20e3),
    ("h1", "q1", 250e3),
    ("h2", "m3", 3900.0),
    ("m3", "s2", 510e3),
    ("s2", "m4", 4050.0),
    ("m4", "0", 490e3),
    ("h2", "w2", 200e3),
    ("w2", "0", 300e3),
    ("h2", "t2", 150e3),
    ("t2", "w2", 20e3),
    ("h2", "q2", 120e3),
    ("bus", "jack", 10.0),
    ("jack", "0", 1e6),
];

pub const CAPACITORS: [(&str, &str, f64); 9] = [
    ("h1", "s1", 60e-12),
    ("s1", "0", 65e-12),
    ("h1", "t1", 820e-12),
    ("q1", "0", 22e-9),
    ("h2", "s2", 58e-12),
    ("s2", "0", 62e-12),
    ("h2", "t2", 820e-12),
    ("q2", "0", 22e-9),
    ("jack", "0", 500e-12),
];

/// With a source in series, at the first node.
pub const INDUCTORS: [(&str, &str, f64); 4] =
    [("m1", "s1", 2.2), ("m2", "0", 2.3), ("m3", "s2", 2.1), ("m4", "0", 2.25)];

pub const COUPLINGS: [(usize, usize, f64); 2] = [(0, 1, 0.12), (2, 3, 0.125)];

/// Frequencies in geometric progression, both ends included.
pub fn frequencies(count: usize) -> Vec<Hertz> {
    (0..count).map(|i| Hertz(20.0 * 1000_f64.powf(i as f64 / (count - 1) as f64))).collect()
}

fn node(circuit: &mut Circuit, known: &mut Vec<(String, Node)>, name: &str) -> Node {
    if name == "0" {
        return circuit.ground();
    }
    if let Some((_, node)) = known.iter().find(|(known, _)| known == name) {
        return *node;
    }
    let node = circuit.node(name);
    known.push((name.to_owned(), node));
    node
}

/// One voice of a guitar: two two-coil pickups in parallel, 13 states; the transfers from four sources to the jack.
pub fn one_voice() -> Workload {
    let mut circuit = Circuit::new();
    let mut known = Vec::new();
    let mut at = |circuit: &mut Circuit, name: &str| node(circuit, &mut known, name);
    let (mut parameters, mut nominal) = (Vec::new(), Vec::new());
    for (a, b, r) in RESISTORS {
        let (from, to) = (at(&mut circuit, a), at(&mut circuit, b));
        let e = circuit.resistor(format!("r {a} {b}"), from, to, Ohms(r)).unwrap();
        parameters.push(Parameter::Resistance(e));
        nominal.push(r);
    }
    for (a, b, c) in CAPACITORS {
        let (from, to) = (at(&mut circuit, a), at(&mut circuit, b));
        let e = circuit.capacitor(format!("c {a} {b}"), from, to, Farads(c)).unwrap();
        parameters.push(Parameter::Capacitance(e));
        nominal.push(c);
    }
    let (mut inductors, mut sources) = (Vec::new(), Vec::new());
    for (a, b, l) in INDUCTORS {
        let (from, to) = (at(&mut circuit, a), at(&mut circuit, b));
        let inside = circuit.node(format!("inside {a}"));
        sources.push(circuit.voltage_source(format!("emf {a}"), from, inside).unwrap());
        let e = circuit.inductor(format!("l {a}"), inside, to, Henries(l)).unwrap();
        inductors.push(e);
        parameters.push(Parameter::Inductance(e));
        nominal.push(l);
    }
    for (a, b, k) in COUPLINGS {
        parameters.push(Parameter::Coupling(circuit.couple(inductors[a], inductors[b], k).unwrap()));
        nominal.push(k);
    }
    for (name, hot) in [("volume 1", "w1"), ("volume 2", "w2")] {
        let (hot, bus) = (at(&mut circuit, hot), at(&mut circuit, "bus"));
        circuit.contact(name, hot, bus, true).unwrap();
    }
    let output = Output::Voltage(at(&mut circuit, "jack"), circuit.ground());
    let transfers =
        sources.into_iter().map(|source| Transfer { source: Source::Voltage(source), output }).collect();
    let values = circuit.values();
    Workload { circuit, values, transfers, parameters, nominal }
}

/// A ladder of many sections; the source in the first branch, the output at the load.
pub fn ladder(sections: usize) -> Workload {
    let mut circuit = Circuit::new();
    let ground = circuit.ground();
    let start = circuit.node("start");
    let source = circuit.voltage_source("emf", start, ground).unwrap();
    let mut last = start;
    for n in 0..sections {
        let (middle, next) = (circuit.node(format!("m{n}")), circuit.node(format!("n{n}")));
        let r = 0.1 * (1.0 + 0.01 * (n % 7) as f64);
        let l = 1e-3 * (1.0 + 0.02 * (n % 5) as f64);
        let c = 1e-9 * (1.0 + 0.03 * (n % 3) as f64);
        circuit.resistor(format!("r{n}"), last, middle, Ohms(r)).unwrap();
        circuit.inductor(format!("l{n}"), middle, next, Henries(l)).unwrap();
        circuit.capacitor(format!("c{n}"), next, ground, Farads(c)).unwrap();
        circuit.resistor(format!("g{n}"), next, ground, Ohms(1e8)).unwrap();
        last = next;
    }
    circuit.resistor("load", last, ground, Ohms(1e3)).unwrap();
    let values = circuit.values();
    let output = Output::Voltage(last, ground);
    let transfers = vec![Transfer { source: Source::Voltage(source), output }];
    Workload { circuit, values, transfers, parameters: Vec::new(), nominal: Vec::new() }
}

/// A square mesh of resistors with a capacitor to ground at each node; from one corner to the other.
pub fn mesh(side: usize) -> Workload {
    let mut circuit = Circuit::new();
    let ground = circuit.ground();
    let nodes: Vec<Vec<Node>> =
        (0..side).map(|row| (0..side).map(|col| circuit.node(format!("{row},{col}"))).collect()).collect();
    let source = circuit.voltage_source("emf", nodes[0][0], ground).unwrap();
    for row in 0..side {
        for col in 0..side {
            let here = nodes[row][col];
            circuit.capacitor(format!("c {row},{col}"), here, ground, Farads(1e-9)).unwrap();
            for (next_row, next_col) in [(row + 1, col), (row, col + 1)] {
                if next_row < side && next_col < side {
                    let next = nodes[next_row][next_col];
                    let name = format!("r {row},{col} {next_row},{next_col}");
                    circuit.resistor(name, here, next, Ohms(1e3)).unwrap();
                }
            }
        }
    }
    let values = circuit.values();
    let output = Output::Voltage(nodes[side - 1][side - 1], ground);
    let transfers = vec![Transfer { source: Source::Voltage(source), output }];
    Workload { circuit, values, transfers, parameters: Vec::new(), nominal: Vec::new() }
}

/// The layout of a workload.
pub fn layout(workload: &Workload) -> Layout {
    Layout::ac(&workload.circuit, &workload.values, &[]).unwrap()
}
