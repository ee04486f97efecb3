//! Extremes of |H|: all of them, where they are, and what is passed between.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use num_complex::Complex64;
use proptest::prelude::*;
use solver::{
    Branch, Circuit, ExtremeKind, Extremes, Farads, Henries, Hertz, Layout, Node, Ohms, Outcome, Output,
    Response, Source, Workspace,
};

const ONE: Complex64 = Complex64::ONE;
const BAND: (Hertz, Hertz) = (Hertz(20.0), Hertz(20e3));
const TAU: f64 = std::f64::consts::TAU;

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found / wanted - 1.0).abs() <= tolerance, "{found}, wanted {wanted}");
}

fn kinds(extremes: &Extremes) -> Vec<ExtremeKind> {
    extremes.list().iter().map(|extreme| extreme.kind).collect()
}

/// R, L, C in series across a source; what is asked for is V over the resistor.
fn series(r: f64, l: f64, c: f64) -> (Circuit, Source, Node) {
    let mut circuit = Circuit::new();
    let g = circuit.ground();
    let (a, b, out) = (circuit.node("a"), circuit.node("b"), circuit.node("out"));
    let source = circuit.voltage_source("source", a, g).unwrap();
    circuit.inductor("l", a, b, Henries(l)).unwrap();
    circuit.capacitor("c", b, out, Farads(c)).unwrap();
    circuit.resistor("r", out, g, Ohms(r)).unwrap();
    (circuit, Source::Voltage(source), out)
}

fn extremes_of(circuit: &Circuit, of: Response<'_>) -> (Extremes, Workspace) {
    let values = circuit.values();
    let mut workspace = Layout::ac(circuit, &values, &[]).unwrap().workspace();
    let Outcome::Known(found) = workspace.extremes(&values, of, BAND).unwrap() else {
        panic!("undetermined")
    };
    (found, workspace)
}

/// Peak at 1/√LC, half power at f±: f+·f− = f0², f+ − f− = R/(2πL) (textbook).
#[test]
fn a_band_pass_has_its_peak_and_half_power_points() {
    for r in [0.1, 10.0, 300.0] {
        let (l, c) = (10e-3, 1e-6);
        let (circuit, source, out) = series(r, l, c);
        let drive = [(source, ONE)];
        let of = Response::Transfer(&drive, Output::Voltage(out, circuit.ground()));
        let (found, mut workspace) = extremes_of(&circuit, of);
        assert_eq!(kinds(&found), [ExtremeKind::Maximum]);
        let peak = found.highest().unwrap();
        let f0 = 1.0 / (TAU * (l * c).sqrt());
        close(peak.frequency.0, f0, 1e-13);
        close(peak.magnitude, 1.0, 1e-12);
        let q = (l / c).sqrt() / r;
        close(peak.curvature, -4.0 * q * q, 1e-7);
        let half = workspace.half_power(&circuit.values(), of, &found, peak).unwrap();
        let (below, above) = (half.below.unwrap().0, half.above.unwrap().0);
        close(below * above, f0 * f0, 1e-13);
        close(above - below, r / (TAU * l), 1e-11 * q.max(1.0));
    }
}

/// Two series circuits coupled by a gyration resistance g: I2 = gV/(Z² + g²), |Z² + g²|² = (x² − g² + R²)² + 4R²g² with
/// x = ωL − 1/ωC: below critical coupling (g = R) one peak at x = 0, above it two of one height at x = ±√(g² − R²).
fn coupled(g: f64) -> (Circuit, Source, Branch) {
    let mut c = Circuit::new();
    let ground = c.ground();
    let nodes: Vec<Node> = (0..8).map(|i| c.node(format!("n{i}"))).collect();
    let source = c.voltage_source("drive", nodes[0], ground).unwrap();
    let mut branches = Vec::new();
    for side in 0..2 {
        let n = &nodes[4 * side..];
        branches.push(c.inductor(format!("l{side}"), n[0], n[1], Henries(10e-3)).unwrap());
        c.capacitor(format!("c{side}"), n[1], n[2], Farads(1e-6)).unwrap();
        c.resistor(format!("r{side}"), n[2], n[3], Ohms(10.0)).unwrap();
    }
    c.ccvs("back", nodes[3], ground, Branch::Inductor(branches[1]), Ohms(g)).unwrap();
    c.ccvs("forth", nodes[4], ground, Branch::Inductor(branches[0]), Ohms(g)).unwrap();
    c.resistor("short", nodes[7], ground, Ohms(0.0)).unwrap();
    let out = Branch::Inductor(branches[1]);
    (c, Source::Voltage(source), out)
}

fn coupled_extremes(g: f64) -> Extremes {
    let (circuit, source, out) = coupled(g);
    let values = circuit.values();
    let drive = [(source, ONE)];
    let mut workspace = Layout::ac(&circuit, &values, &[out]).unwrap().workspace();
    let of = Response::Transfer(&drive, Output::Current(out));
    workspace.extremes(&values, of, BAND).unwrap().known().unwrap()
}

#[test]
fn coupling_beyond_critical_splits_the_peak_in_two_of_one_height() {
    let (l, c, r) = (10e-3, 1e-6, 10.0);
    let at = |x: f64| (x + (x * x + 4.0 * l / c).sqrt()) / (2.0 * l * TAU);
    let below = coupled_extremes(0.5 * r);
    assert_eq!(kinds(&below), [ExtremeKind::Maximum]);
    close(below.list()[0].frequency.0, at(0.0), 1e-12);
    for over in [1.001, 1.1, 4.0] {
        let found = coupled_extremes(over * r);
        assert_eq!(
            kinds(&found),
            [ExtremeKind::Maximum, ExtremeKind::Minimum, ExtremeKind::Maximum],
            "{over}"
        );
        let x = r * (over * over - 1.0).sqrt();
        for (extreme, wanted) in found.list().iter().zip([at(-x), at(0.0), at(x)]) {
            close(extreme.frequency.0, wanted, 1e-9);
        }
        for i in [0, 2] {
            close(found.list()[i].magnitude, 1.0 / (2.0 * r), 1e-11);
            assert!(found.list()[i].tied && !found.list()[i].flat);
        }
        assert_eq!(found.highest(), Some(&found.list()[0]));
    }
}

/// At critical coupling the top is flat: ln|H| falls by the fourth power.
#[test]
fn critical_coupling_is_one_flat_maximum() {
    let found = coupled_extremes(10.0);
    assert_eq!(kinds(&found), [ExtremeKind::Maximum]);
    let top = found.list()[0];
    assert!(top.flat && !top.tied && top.curvature <= 0.0, "{top:?}");
    close(top.frequency.0, 1.0 / (TAU * 1e-4), 1e-4);
    close(top.magnitude, 0.05, 1e-12);
}

/// Traps (series L and C to ground) behind one resistance: between two of them |H| rises to a maximum, however close they are.
fn traps(list: &[(f64, f64)]) -> (Circuit, Source, Node) {
    let mut c = Circuit::new();
    let g = c.ground();
    let (a, out) = (c.node("a"), c.node("out"));
    let source = c.voltage_source("source", a, g).unwrap();
    c.resistor("r", a, out, Ohms(10e3)).unwrap();
    for (i, &(f, loss)) in list.iter().enumerate() {
        let (m, n) = (c.node(format!("m{i}")), c.node(format!("n{i}")));
        c.inductor(format!("l{i}"), out, m, Henries(1.0)).unwrap();
        c.capacitor(format!("c{i}"), m, n, Farads(1.0 / (TAU * f * TAU * f))).unwrap();
        c.resistor(format!("r{i}"), n, g, Ohms(loss)).unwrap();
    }
    (c, Source::Voltage(source), out)
}

#[test]
fn close_notches_enclose_a_maximum() {
    for apart in [1e-1, 1e-2, 1e-3] {
        // A trap's bandwidth is well below the distance.
        let loss = 0.01 * TAU * 1000.0 * apart;
        let (circuit, source, out) = traps(&[(1000.0, loss), (1000.0 * (1.0 + apart), loss)]);
        let drive = [(source, ONE)];
        let of = Response::Transfer(&drive, Output::Voltage(out, circuit.ground()));
        let (found, _) = extremes_of(&circuit, of);
        let minimum = ExtremeKind::Minimum;
        assert_eq!(kinds(&found), [minimum, ExtremeKind::Maximum, minimum], "{apart}");
        close(found.list()[0].frequency.0, 1000.0, 0.1 * apart);
        close(found.list()[2].frequency.0, 1000.0 * (1.0 + apart), 0.1 * apart);
    }
}

#[test]
fn lossless_traps_are_nulls_and_a_lossless_port_is_infinite() {
    let (circuit, source, out) = traps(&[(500.0, 0.0), (505.0, 0.0), (4000.0, 0.0)]);
    let drive = [(source, ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(out, circuit.ground()));
    let (found, _) = extremes_of(&circuit, of);
    let (null, maximum) = (ExtremeKind::Null, ExtremeKind::Maximum);
    assert_eq!(kinds(&found), [null, maximum, null, maximum, null]);
    for (i, f) in [(0, 500.0), (2, 505.0), (4, 4000.0)] {
        close(found.list()[i].frequency.0, f, 1e-9);
        assert!(found.list()[i].magnitude < 1e-6);
    }

    // L parallel to C: |Z| infinite at 1/√LC.
    let mut c = Circuit::new();
    let (g, a) = (c.ground(), c.node("a"));
    c.inductor("l", a, g, Henries(10e-3)).unwrap();
    c.capacitor("c", a, g, Farads(1e-6)).unwrap();
    let (found, _) = extremes_of(&c, Response::Impedance(a, g));
    assert_eq!(kinds(&found), [ExtremeKind::Infinite]);
    close(found.list()[0].frequency.0, 1.0 / (TAU * 1e-4), 1e-9);
}

/// A constant-resistance lattice shifts the phase alone (O. J. Zobel, Bell Syst. Tech. J. 7 (1928) 438–534): |H| is level.
#[test]
fn an_all_pass_has_no_extremes() {
    let mut c = Circuit::new();
    let g = c.ground();
    let [a, p, q] = ["a", "p", "q"].map(|name| c.node(name));
    let source = c.voltage_source("source", a, g).unwrap();
    c.inductor("l1", a, p, Henries(60e-3)).unwrap();
    c.inductor("l2", g, q, Henries(60e-3)).unwrap();
    c.capacitor("c1", a, q, Farads(60e-3 / 360e3)).unwrap();
    c.capacitor("c2", g, p, Farads(60e-3 / 360e3)).unwrap();
    c.resistor("load", p, q, Ohms(600.0)).unwrap();
    let drive = [(Source::Voltage(source), ONE)];
    // H = (1 − sL/R)/(1 + sL/R); the other factor of a double pole cancels, and so does the resonance of L with C that the load never sees.
    let zeros = solver::zeros(&c, &c.values(), &drive, Output::Voltage(p, q)).unwrap();
    assert_eq!(zeros.iter().filter(|z| (*z - 1e4).norm() < 1e-9 * 1e4).count(), 1, "{zeros:?}");
    let (found, _) = extremes_of(&c, Response::Transfer(&drive, Output::Voltage(p, q)));
    assert_eq!(found.list(), []);
    assert!(found.ends().iter().all(|&(_, h)| (h - 1.0).abs() < 1e-12));
}

#[test]
fn a_level_is_passed_where_it_says() {
    let (circuit, source, out) = series(30.0, 10e-3, 1e-6);
    let drive = [(source, ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(out, circuit.ground()));
    let (found, mut workspace) = extremes_of(&circuit, of);
    let values = circuit.values();
    for level in [0.9, 0.5, 0.02, 1e-4, 1.5] {
        // |H| = 1/√(1 + (x/R)²) = level.
        let x = 30.0 * (1.0 / (level * level) - 1.0_f64).max(0.0).sqrt();
        let at = |x: f64| (x + (x * x + 4e4).sqrt()) / (2.0 * 10e-3 * TAU);
        let wanted: Vec<(f64, bool)> = [(at(-x), true), (at(x), false)]
            .into_iter()
            .filter(|(f, _)| level < 1.0 && *f > 20.0 && *f < 20e3)
            .collect();
        let crossings = workspace.crossings(&values, of, &found, level).unwrap();
        assert_eq!(crossings.len(), wanted.len(), "{level}: {crossings:?}");
        for (crossing, (f, rising)) in crossings.iter().zip(wanted) {
            close(crossing.frequency.0, f, 1e-11);
            assert_eq!(crossing.rising, rising);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(40) })]

    /// Every sign change of the exact slope on a grid of 2000 steps is an extreme of the list, and the other way round where the grid can
    /// see it.
    #[test]
    fn no_extreme_of_a_random_network_is_missed(
        list in proptest::collection::vec((50.0..8e3_f64, 1.0..3e3_f64), 1..6),
        port in any::<bool>(),
    ) {
        let (circuit, source, out) = traps(&list);
        let drive = [(source, ONE)];
        let g = circuit.ground();
        let of = if port { Response::Impedance(out, g) } else { Response::Transfer(&drive, Output::Voltage(out, g)) };
        let (found, mut workspace) = extremes_of(&circuit, of);
        let values = circuit.values();
        let mut slope = |f: f64| {
            let mut point = workspace.factor(&values, Hertz(f)).unwrap();
            let (h, dh) = if port {
                point.impedance_and_slope(out, g).unwrap().known().unwrap()
            } else {
                point.response_and_slope(&drive, Output::Voltage(out, g)).unwrap().known().unwrap()
            };
            (dh / h).re
        };
        let grid: Vec<f64> = (0..=2000).map(|i| 20.0 * 1000_f64.powf(f64::from(i) / 2000.0)).collect();
        for pair in grid.windows(2) {
            let turns = slope(pair[0]) > 0.0 && slope(pair[1]) < 0.0 || slope(pair[0]) < 0.0 && slope(pair[1]) > 0.0;
            let inside = found
                .list()
                .iter()
                .filter(|e| e.frequency.0 > pair[0] && e.frequency.0 < pair[1] && !e.flat)
                .count();
            prop_assert_eq!(inside % 2 == 1, turns, "{:?}: {:?}", pair, found.list());
        }
        for extreme in found.list() {
            prop_assert!(slope(extreme.frequency.0).abs() < 1e-9 * (1.0 + extreme.curvature.abs()), "{:?}", extreme);
        }
    }
}
