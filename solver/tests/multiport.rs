//! Impedance and admittance matrices against the textbook forms of T and pi networks and transformers (any text on two-ports), and
//! reciprocity.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
#[allow(dead_code, reason = "shared with other targets")]
mod random;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{frequency, passive_network};
use solver::{Circuit, Farads, Henries, Hertz, Matrix, Multiport, Ohms, Port, PortMatrix, SolveErrorKind};

const TAU: f64 = std::f64::consts::TAU;

fn both(c: &Circuit, ports: &[Port], f: f64) -> (Matrix, Matrix) {
    let values = c.values();
    let mut multiport = if f > 0.0 {
        Multiport::ac(c, &values, ports).unwrap()
    } else {
        Multiport::dc(c, &values, ports).unwrap()
    };
    let found =
        (multiport.impedances(&values, Hertz(f)).unwrap(), multiport.admittances(&values, Hertz(f)).unwrap());
    assert!(multiport.residuals().iter().all(|&error| error < 1e-11));
    found
}

fn is(found: &PortMatrix, wanted: &[Complex64], tolerance: f64) {
    let size = wanted.iter().map(|z| z.norm()).fold(0.0, f64::max);
    assert_eq!(found.entries().len(), wanted.len());
    for (found, wanted) in found.entries().iter().zip(wanted) {
        assert!((found - wanted).norm() <= tolerance * size, "{found} against {wanted}");
    }
}

fn r(x: f64) -> Complex64 {
    Complex64::new(x, 0.0)
}

#[test]
fn t_and_pi() {
    let f = 1e3;
    let s = Complex64::new(0.0, TAU * f);
    let mut c = Circuit::new();
    let (a, b, m, g) = (c.node("a"), c.node("b"), c.node("m"), c.ground());
    c.resistor("za", a, m, Ohms(50.0)).unwrap();
    c.inductor("zb", b, m, Henries(0.02)).unwrap();
    c.capacitor("zc", m, g, Farads(1e-6)).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (za, zb, zc) = (r(50.0), s * 0.02, 1.0 / (s * 1e-6));
    let (z, y) = both(&c, &ports, f);
    is(&z.known().unwrap(), &[za + zc, zc, zc, zb + zc], 1e-13);
    let det = za * zb + za * zc + zb * zc;
    is(&y.known().unwrap(), &[(zb + zc) / det, -zc / det, -zc / det, (za + zc) / det], 1e-13);

    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("ya", a, g, Ohms(50.0)).unwrap();
    c.inductor("yb", b, g, Henries(0.02)).unwrap();
    c.capacitor("yc", a, b, Farads(1e-6)).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (ya, yb, yc) = (r(0.02), 1.0 / (s * 0.02), s * 1e-6);
    let (z, y) = both(&c, &ports, f);
    is(&y.known().unwrap(), &[ya + yc, -yc, -yc, yb + yc], 1e-13);
    let det = ya * yb + ya * yc + yb * yc;
    is(&z.known().unwrap(), &[(yb + yc) / det, yc / det, yc / det, (ya + yc) / det], 1e-13);
}

#[test]
fn a_port_the_other_way_round_changes_the_sign_of_what_is_mutual() {
    let mut c = Circuit::new();
    let (a, b, m, g) = (c.node("a"), c.node("b"), c.node("m"), c.ground());
    for (node, ohms) in [(a, 1.0), (b, 2.0), (g, 4.0)] {
        c.resistor("r", node, m, Ohms(ohms)).unwrap();
    }
    let ports = [Port { plus: a, minus: g }, Port { plus: g, minus: b }];
    for f in [0.0, 10.0] {
        let (z, y) = both(&c, &ports, f);
        is(&z.known().unwrap(), &[r(5.0), r(-4.0), r(-4.0), r(6.0)], 1e-13);
        is(&y.known().unwrap(), &[r(6.0 / 14.0), r(4.0 / 14.0), r(4.0 / 14.0), r(5.0 / 14.0)], 1e-13);
    }
}

#[test]
fn coupled_coils_have_the_textbook_matrix_and_full_coupling_has_no_admittance() {
    let (l1, l2) = (0.3, 0.05);
    for k in [0.7, 1.0] {
        let mut c = Circuit::new();
        // Two islands: each port is on its own.
        let (a, b, p, g) = (c.node("a"), c.node("b"), c.node("p"), c.ground());
        let first = c.inductor("l1", a, g, Henries(l1)).unwrap();
        let second = c.inductor("l2", b, p, Henries(l2)).unwrap();
        c.couple(first, second, k).unwrap();
        let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: p }];
        let s = Complex64::new(0.0, TAU * 400.0);
        let m = k * (l1 * l2).sqrt();
        let (z, y) = both(&c, &ports, 400.0);
        is(&z.known().unwrap(), &[s * l1, s * m, s * m, s * l2], 1e-13);
        if k < 1.0 {
            let det = s * (l1 * l2 - m * m);
            is(&y.known().unwrap(), &[l2 / det, -m / det, -m / det, l1 / det], 1e-12);
        } else {
            assert!(matches!(y, Matrix::Absent { .. }), "{y:?}");
        }
    }
}

#[test]
fn an_ideal_transformer_has_neither_until_something_is_added() {
    let n = 3.0;
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.transformer("t", a, g, b, g, n).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (z, y) = both(&c, &ports, 50.0);
    assert!(matches!(z, Matrix::Absent { .. }), "{z:?}");
    assert!(matches!(y, Matrix::Absent { .. }), "{y:?}");
    // A resistance in series with the first winding: a Y of rank one, no Z. V1 − nV2 = R·I1, I2 = −n·I1.
    let mut c = Circuit::new();
    let (a, m, b, g) = (c.node("a"), c.node("m"), c.node("b"), c.ground());
    c.resistor("series", a, m, Ohms(10.0)).unwrap();
    c.transformer("t", m, g, b, g, n).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (z, y) = both(&c, &ports, 50.0);
    assert!(matches!(z, Matrix::Absent { .. }), "{z:?}");
    is(&y.known().unwrap(), &[r(0.1), r(-n * 0.1), r(-n * 0.1), r(n * n * 0.1)], 1e-13);
    // Across it: a Z of rank one, no Y. V1 = R(I1 + I2/n).
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("across", a, g, Ohms(90.0)).unwrap();
    c.transformer("t", a, g, b, g, n).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (z, y) = both(&c, &ports, 50.0);
    is(&z.known().unwrap(), &[r(90.0), r(30.0), r(30.0), r(10.0)], 1e-13);
    assert!(matches!(y, Matrix::Absent { .. }), "{y:?}");
}

#[test]
fn open_shorted_and_loose_ports() {
    let mut c = Circuit::new();
    let (a, b, lone, g) = (c.node("a"), c.node("b"), c.node("lone"), c.ground());
    c.resistor("r", a, g, Ohms(10.0)).unwrap();
    c.contact("closed", b, g, true).unwrap();
    let port = |plus, minus| Port { plus, minus };
    // Nothing goes through a port to a lone node: no Z, a Y of 0.
    let (z, y) = both(&c, &[port(a, g), port(lone, g)], 1.0);
    assert_eq!(z, Matrix::Absent { port: 1 });
    is(&y.known().unwrap(), &[r(0.1), r(0.0), r(0.0), r(0.0)], 1e-15);
    // A shorted port: a Z of 0, no Y.
    let (z, y) = both(&c, &[port(a, g), port(b, g)], 1.0);
    is(&z.known().unwrap(), &[r(10.0), r(0.0), r(0.0), r(0.0)], 1e-15);
    assert_eq!(y, Matrix::Absent { port: 1 });
    // The same port twice: a Z of rank one, no Y.
    let (z, y) = both(&c, &[port(a, g), port(a, g)], 0.0);
    is(&z.known().unwrap(), &[r(10.0); 4], 1e-15);
    assert!(matches!(y, Matrix::Absent { .. }), "{y:?}");
    // No ports, an empty matrix.
    let (z, _) = both(&c, &[], 1.0);
    assert_eq!(z.known().unwrap().ports(), 0);
    // A stage whose input hangs: what its output port shows is free.
    let (out, hang) = (c.node("out"), c.node("hang"));
    c.op_amp("follower", hang, out, out, g).unwrap();
    let (z, _) = both(&c, &[port(a, g), port(out, g)], 1.0);
    assert!(matches!(z, Matrix::Undetermined { port: 1 }), "{z:?}");
    // Foreign handles are refused.
    let stranger = Circuit::new();
    let error = Multiport::ac(&c, &c.values(), &[port(stranger.ground(), g)]).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::ForeignNode { .. }));
    let mut multiport = Multiport::ac(&c, &c.values(), &[port(a, g)]).unwrap();
    let error = multiport.impedances(&stranger.values(), Hertz(1.0)).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::ForeignValues));
}

#[test]
fn a_gyrator_is_not_reciprocal() {
    // Two transconductances: I1 = g·V2, I2 = −g·V1 (B. D. H. Tellegen, Philips Res. Rep. 3 (1948) 81–101, from memory).
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.vccs("g1", a, g, b, g, solver::Siemens(0.01)).unwrap();
    c.vccs("g2", b, g, a, g, solver::Siemens(-0.01)).unwrap();
    let ports = [Port { plus: a, minus: g }, Port { plus: b, minus: g }];
    let (z, y) = both(&c, &ports, 1.0);
    is(&y.known().unwrap(), &[r(0.0), r(0.01), r(-0.01), r(0.0)], 1e-14);
    is(&z.known().unwrap(), &[r(0.0), r(-100.0), r(100.0), r(0.0)], 1e-14);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: RngSeed::Fixed(31), ..ProptestConfig::default() })]

    /// Networks of R, L, C and M are reciprocal, and Z·Y = 1.
    #[test]
    fn passive_networks_are_reciprocal_and_the_matrices_are_inverse(network in passive_network(), f in frequency()) {
        let built = network.build();
        let ports: Vec<Port> =
            (1..built.nodes.len()).map(|i| Port { plus: built.nodes[i], minus: built.nodes[0] }).collect();
        let (z, y) = both(&built.circuit, &ports, f);
        let (z, y) = (z.known().unwrap(), y.known().unwrap());
        let n = z.ports();
        let at = |m: &PortMatrix, i: usize, j: usize| m.get(i, j).unwrap();
        for i in 0..n {
            for j in 0..n {
                for m in [&z, &y] {
                    let size = (at(m, i, i).norm() * at(m, j, j).norm()).sqrt();
                    prop_assert!((at(m, i, j) - at(m, j, i)).norm() <= 1e-9 * size, "{i} {j}");
                }
                let sum: Complex64 = (0..n).map(|k| at(&z, i, k) * at(&y, k, j)).sum();
                let size: f64 = (0..n).map(|k| (at(&z, i, k) * at(&y, k, j)).norm()).sum();
                let wanted = if i == j { 1.0 } else { 0.0 };
                prop_assert!((sum - wanted).norm() <= 1e-8 * size.max(1.0), "{i} {j}: {sum}");
            }
        }
    }
}
