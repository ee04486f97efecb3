//! Poles and zeros: that there are as many as the network has, and where they are.

use num_complex::Complex64;
use solver::{Circuit, Farads, Henries, Layout, Node, Ohms, Output, Source, poles, zeros};

const ONE: Complex64 = Complex64::ONE;

/// Buffered stages: `stage` builds one between its input and its output, a follower comes after each.
fn cascade(n: usize, mut stage: impl FnMut(&mut Circuit, usize, Node, Node)) -> (Circuit, Source, Output) {
    let mut c = Circuit::new();
    let g = c.ground();
    let first = c.node("in");
    let source = c.voltage_source("source", first, g).unwrap();
    let mut from = first;
    for i in 0..n {
        let (middle, to) = (c.node(format!("m{i}")), c.node(format!("o{i}")));
        stage(&mut c, i, from, middle);
        c.vcvs(format!("follower{i}"), to, g, middle, g, 1.0).unwrap();
        from = to;
    }
    (c, Source::Voltage(source), Output::Voltage(from, g))
}

fn all_at(found: &[Complex64], n: usize, wanted: f64, tolerance: f64) {
    assert_eq!(found.len(), n, "{found:?}");
    for root in found {
        assert!((root - wanted).norm() <= tolerance * wanted.abs(), "{root} of {n}, wanted {wanted}");
    }
}

/// n equal RC sections with followers between: (1 + sRC)ⁿ.
#[test]
fn equal_buffered_sections_have_one_pole_n_times() {
    for n in 1..=8 {
        let (c, source, out) = cascade(n, |c, i, from, to| {
            c.resistor(format!("r{i}"), from, to, Ohms(1.1e4)).unwrap();
            let g = c.ground();
            c.capacitor(format!("c{i}"), to, g, Farads(3.3e-9)).unwrap();
        });
        all_at(&poles(&c, &c.values()).unwrap(), n, -1.0 / (1.1e4 * 3.3e-9), 1e-9);
        assert_eq!(zeros(&c, &c.values(), &[(source, ONE)], out).unwrap(), []);
    }
}

/// n equal lead sections (R1 ∥ C into R2) with followers between: zeros −1/R1C, poles −(1/R1 + 1/R2)/C, n times each.
#[test]
fn equal_buffered_lead_sections_have_one_zero_n_times() {
    for n in 1..=8 {
        let (c, source, out) = cascade(n, |c, i, from, to| {
            c.resistor(format!("r{i}"), from, to, Ohms(10e3)).unwrap();
            c.capacitor(format!("c{i}"), from, to, Farads(10e-9)).unwrap();
            let g = c.ground();
            c.resistor(format!("s{i}"), to, g, Ohms(2.2e3)).unwrap();
        });
        all_at(&poles(&c, &c.values()).unwrap(), n, -(1.0 / 10e3 + 1.0 / 2.2e3) / 10e-9, 1e-9);
        all_at(&zeros(&c, &c.values(), &[(source, ONE)], out).unwrap(), n, -1.0 / (10e3 * 10e-9), 1e-9);
    }
}

/// n differentiators (C into the virtual ground, R back): H = (−sRC)ⁿ has no pole, and n zeros at 0.
#[test]
fn op_amp_differentiators_have_no_pole() {
    for n in 1..=6 {
        let mut c = Circuit::new();
        let g = c.ground();
        let mut from = c.node("in");
        let source = c.voltage_source("source", from, g).unwrap();
        for i in 0..n {
            let (sum, out) = (c.node(format!("s{i}")), c.node(format!("o{i}")));
            c.capacitor(format!("c{i}"), from, sum, Farads(10e-9)).unwrap();
            c.resistor(format!("r{i}"), sum, out, Ohms(1e4)).unwrap();
            c.op_amp(format!("u{i}"), g, sum, out, g).unwrap();
            from = out;
        }
        assert_eq!(poles(&c, &c.values()).unwrap(), [], "{n}");
        let found =
            zeros(&c, &c.values(), &[(Source::Voltage(source), ONE)], Output::Voltage(from, g)).unwrap();
        assert_eq!(found, vec![Complex64::ZERO; n]);
    }
}

/// Integrators: n poles at 0, no zero.
#[test]
fn op_amp_integrators_have_their_poles_at_zero() {
    for n in 1..=5 {
        let mut c = Circuit::new();
        let g = c.ground();
        let mut from = c.node("in");
        let source = c.voltage_source("source", from, g).unwrap();
        for i in 0..n {
            let (sum, out) = (c.node(format!("s{i}")), c.node(format!("o{i}")));
            c.resistor(format!("r{i}"), from, sum, Ohms(1e4)).unwrap();
            c.capacitor(format!("c{i}"), sum, out, Farads(10e-9)).unwrap();
            c.op_amp(format!("u{i}"), g, sum, out, g).unwrap();
            from = out;
        }
        assert_eq!(poles(&c, &c.values()).unwrap(), vec![Complex64::ZERO; n]);
        let found =
            zeros(&c, &c.values(), &[(Source::Voltage(source), ONE)], Output::Voltage(from, g)).unwrap();
        assert_eq!(found, []);
    }
}

/// Three capacitors in a loop hold two states, with a source in the loop one; three inductors in a star likewise.
#[test]
fn loops_of_capacitors_and_cut_sets_of_inductors_have_fewer_poles_than_elements() {
    // A triangle of capacitors with a resistor at each corner: two poles. Equal ones: C → 3C in the two differential modes,
    // the common one sees no capacitor at all.
    let mut c = Circuit::new();
    let g = c.ground();
    let nodes = [c.node("a"), c.node("b"), c.node("c")];
    for (i, &node) in nodes.iter().enumerate() {
        c.resistor(format!("r{i}"), node, g, Ohms(1e3)).unwrap();
        c.capacitor(format!("c{i}"), node, nodes[(i + 1) % 3], Farads(1e-6)).unwrap();
    }
    all_at(&poles(&c, &c.values()).unwrap(), 2, -1.0 / (3.0 * 1e3 * 1e-6), 1e-9);

    // A source across one side: a and b held, one state left: node c with 2C against R.
    let mut c = Circuit::new();
    let g = c.ground();
    let (a, b) = (c.node("a"), c.node("b"));
    c.voltage_source("v", a, g).unwrap();
    c.capacitor("c1", a, g, Farads(1e-6)).unwrap();
    c.capacitor("c2", a, b, Farads(1e-6)).unwrap();
    c.capacitor("c3", b, g, Farads(1e-6)).unwrap();
    c.resistor("r", b, g, Ohms(1e3)).unwrap();
    all_at(&poles(&c, &c.values()).unwrap(), 1, -1.0 / (1e3 * 2e-6), 1e-9);

    // A star of inductors with a resistor at the end of each: two poles at −R/L (the sum of the currents is 0).
    let mut c = Circuit::new();
    let g = c.ground();
    let star = c.node("star");
    for i in 0..3 {
        let end = c.node(format!("e{i}"));
        c.inductor(format!("l{i}"), star, end, Henries(10e-3)).unwrap();
        c.resistor(format!("r{i}"), end, g, Ohms(100.0)).unwrap();
    }
    all_at(&poles(&c, &c.values()).unwrap(), 2, -100.0 / 10e-3, 1e-9);
}

/// C behind an ideal transformer counts as C/n² (n = v1/v2); an open secondary adds nothing.
#[test]
fn an_ideal_transformer_carries_a_pole_over() {
    for loaded in [true, false] {
        let mut c = Circuit::new();
        let g = c.ground();
        let (a, b, s) = (c.node("a"), c.node("b"), c.node("s"));
        c.voltage_source("v", a, g).unwrap();
        c.resistor("r", a, b, Ohms(1e3)).unwrap();
        c.capacitor("c1", b, g, Farads(1e-6)).unwrap();
        c.transformer("t", b, g, s, g, 2.0).unwrap();
        if loaded {
            c.capacitor("c2", s, g, Farads(4e-6)).unwrap();
        }
        let seen = if loaded { 1e-6 + 4e-6 / 4.0 } else { 1e-6 };
        all_at(&poles(&c, &c.values()).unwrap(), 1, -1.0 / (1e3 * seen), 1e-9);
    }
}

/// Degrees by the theory of the order of complexity (P. R. Bryant, Proc. IEE 106C (1959) 174–188): reactive elements less independent
/// loops of capacitors and sources, less cut sets of inductors and sources.
#[test]
fn the_degree_is_counted_by_numbers_and_has_a_margin() {
    let degree = |c: &Circuit| {
        let values = c.values();
        Layout::ac(c, &values, &[]).unwrap().workspace().degree(&values).unwrap()
    };
    let mut c = Circuit::new();
    let g = c.ground();
    let nodes: Vec<_> = (0..5).map(|i| c.node(format!("n{i}"))).collect();
    c.voltage_source("v", nodes[0], g).unwrap();
    // A loop of three capacitors, and a star of two inductors fed by a third.
    c.resistor("r0", nodes[0], nodes[1], Ohms(1e3)).unwrap();
    c.capacitor("c1", nodes[1], g, Farads(1e-9)).unwrap();
    c.capacitor("c2", nodes[1], nodes[2], Farads(2.2e-9)).unwrap();
    c.capacitor("c3", nodes[2], g, Farads(4.7e-9)).unwrap();
    c.inductor("l1", nodes[2], nodes[3], Henries(1e-3)).unwrap();
    c.inductor("l2", nodes[3], nodes[4], Henries(2e-3)).unwrap();
    c.inductor("l3", nodes[3], g, Henries(3e-3)).unwrap();
    c.resistor("r4", nodes[4], g, Ohms(50.0)).unwrap();
    let found = degree(&c);
    assert_eq!(found.count, 4);
    assert!(found.margin < 1e-9, "{found:?}");
}
