//! Large networks whose static order does not serve: the sparse fallback answers as the tape does, and decides rank as the dense one does.
#![allow(missing_docs, reason = "a test target")]

use num_complex::Complex64;
use solver::{
    Branch, Circuit, Farads, Henries, Hertz, Inductor, Layout, Node, Ohms, Outcome, Output, SolveErrorKind,
    Source, VoltageSource,
};

/// More nodes than the dense fallback takes.
const NODES: usize = 3000;

/// A long line of 10 Ω and 1 nF steps, its far end loaded with 1 kΩ.
fn line(nodes: usize) -> (Circuit, VoltageSource, Node) {
    let mut c = Circuit::new();
    let g = c.ground();
    let mut here = c.node("input");
    let e = c.voltage_source("e", here, g).unwrap();
    for _ in 0..nodes {
        let next = c.node("step");
        c.resistor("r", here, next, Ohms(10.0)).unwrap();
        c.capacitor("c", next, g, Farads(1e-9)).unwrap();
        here = next;
    }
    c.resistor("load", here, g, Ohms(1e3)).unwrap();
    (c, e, here)
}

fn far_end(c: &Circuit, e: VoltageSource, end: Node) -> (Complex64, f64, u64) {
    let values = c.values();
    let mut w = Layout::ac(c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let h = point.response(&drive, Output::Voltage(end, c.ground())).unwrap().known().unwrap();
    let residual = point.residual();
    (h, residual, w.fallbacks())
}

/// Two fully coupled coils in parallel: their common current is fixed, how they share it is not.
fn twins(c: &mut Circuit, at: Node) -> [Inductor; 2] {
    let (mid, g) = (c.node("twins"), c.ground());
    c.resistor("feed", at, mid, Ohms(1e6)).unwrap();
    let coils = [1, 2].map(|_| c.inductor("twin", mid, g, Henries(1.0)).unwrap());
    c.couple(coils[0], coils[1], 1.0).unwrap();
    coils
}

#[test]
fn a_singular_part_does_not_disturb_the_rest_of_a_large_network() {
    let (mut c, e, end) = line(NODES);
    // The twins' two parallel coils are 1 H together.
    let plain = {
        let (mut c, g) = (c.clone(), c.ground());
        let mid = c.node("one coil");
        c.resistor("feed", end, mid, Ohms(1e6)).unwrap();
        c.inductor("coil", mid, g, Henries(1.0)).unwrap();
        far_end(&c, e, end)
    };
    assert_eq!(plain.2, 0);
    twins(&mut c, end);
    let (h, residual, fallbacks) = far_end(&c, e, end);
    assert_eq!(fallbacks, 1);
    assert!((h - plain.0).norm() <= 1e-9 * plain.0.norm(), "{h} against {}", plain.0);
    assert!(residual <= 1e-11);
}

#[test]
fn what_a_large_network_leaves_free_is_undetermined() {
    let (mut c, e, end) = line(NODES);
    let coils = twins(&mut c, end);
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    for coil in coils {
        let current = point.response(&drive, Output::Current(Branch::Inductor(coil))).unwrap();
        assert_eq!(current, Outcome::Undetermined);
    }
}

#[test]
fn a_contradiction_in_a_large_network_names_its_unknowns() {
    let (mut c, _, end) = line(NODES);
    let g = c.ground();
    // A follower of a node at ground potential drives a node that a source holds elsewhere.
    let held = c.node("held");
    let source = c.voltage_source("held", held, g).unwrap();
    c.vcvs("copy", held, g, end, end, 1.0).unwrap();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    let drive = [(Source::Voltage(source), Complex64::ONE)];
    let error = point.response(&drive, Output::Voltage(held, g)).unwrap_err();
    let SolveErrorKind::Contradiction { unknowns } = error.kind() else { panic!("{error}") };
    assert!(!unknowns.is_empty() && unknowns.len() < 5, "{error}");
}
