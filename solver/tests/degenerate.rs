//! Degenerate but legal networks.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/solved.rs"]
#[allow(dead_code, reason = "shared with other targets")]
mod solved;

use num_complex::Complex64;
use solved::{ac, close, dc, one};
use solver::{
    Branch, Circuit, Farads, Gain, Henries, Hertz, Impedance, Kelvin, Layout, Node, Noise, Ohms, Outcome,
    Output, Siemens, SolveErrorKind, Source,
};

const TAU: f64 = std::f64::consts::TAU;

fn impedance(c: &Circuit, f: f64, a: Node, b: Node) -> Impedance<Complex64> {
    let (values, mut w) = if f > 0.0 { ac(c) } else { dc(c) };
    w.factor(&values, Hertz(f)).unwrap().impedance(a, b).unwrap()
}

fn known(z: Impedance<Complex64>) -> Complex64 {
    z.known().expect("the port is open")
}

#[test]
fn a_voltage_between_islands_is_undetermined_and_a_port_across_them_open() {
    let mut c = Circuit::new();
    let (a, p, q, g) = (c.node("a"), c.node("p"), c.node("q"), c.ground());
    c.resistor("r", a, g, Ohms(1e3)).unwrap();
    // An island with a source, a coil and a resistor in it, connected to nothing.
    let m = c.node("m");
    let e = c.voltage_source("e", p, m).unwrap();
    c.inductor("l", m, q, Henries(1.0)).unwrap();
    c.resistor("s", q, p, Ohms(2e3)).unwrap();
    for f in [0.0, 50.0] {
        let (values, mut w) = if f > 0.0 { ac(&c) } else { dc(&c) };
        let mut point = w.factor(&values, Hertz(f)).unwrap();
        assert_eq!(point.response(&one(e), Output::Voltage(a, p)).unwrap(), Outcome::Undetermined);
        assert_eq!(point.impedance(a, p).unwrap(), Impedance::Open);
        assert_eq!(point.impedance(a, a).unwrap(), Impedance::Known(Complex64::ZERO));
        assert_eq!(point.response(&one(e), Output::Voltage(a, g)).unwrap(), Outcome::Known(Complex64::ZERO));
        let inside = point.response(&one(e), Output::Voltage(q, p)).unwrap().known().unwrap();
        let loss = Complex64::new(2e3, TAU * f);
        close(inside, -2e3 / loss, 1e-14);
        close(point.impedance(a, g).unwrap().known().unwrap(), Complex64::new(1e3, 0.0), 1e-15);
    }
}

#[test]
fn lone_nodes_open_coils_and_hanging_sources_disturb_nothing() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let lone = c.node("lone");
    let (h1, h2) = (c.node("h1"), c.node("h2"));
    let e = c.voltage_source("hanging", h1, a).unwrap();
    let coil = c.inductor("open coil", h2, a, Henries(2.0)).unwrap();
    let other = c.inductor("coil", a, g, Henries(3.0)).unwrap();
    c.couple(coil, other, 0.5).unwrap();
    c.capacitor("lone capacitor", lone, lone, Farads(1e-9)).unwrap();
    c.resistor("r", a, g, Ohms(50.0)).unwrap();
    let z = known(impedance(&c, 10.0, a, g));
    let x = Complex64::new(0.0, TAU * 10.0 * 3.0);
    close(z, 50.0 * x / (50.0 + x), 1e-14);
    assert_eq!(known(impedance(&c, 0.0, a, g)), Complex64::ZERO);
    assert_eq!(impedance(&c, 10.0, lone, g), Impedance::Open);
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(10.0)).unwrap();
    let mut out = Vec::new();
    assert_eq!(point.transfers(Output::Voltage(h1, g), &mut out).unwrap(), Outcome::Known(()));
    close(out[0], Complex64::ONE, 1e-15);
    // The open coil shows what its neighbour induces: here nothing, since nothing drives it.
    assert_eq!(point.response(&one(e), Output::Voltage(h2, g)).unwrap(), Outcome::Known(Complex64::ZERO));
}

#[test]
fn zero_merges_and_infinity_removes_exactly() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("zero", a, b, Ohms(0.0)).unwrap();
    c.resistor("none", a, g, Ohms(f64::INFINITY)).unwrap();
    c.contact("open", b, g, false).unwrap();
    c.resistor("r", b, g, Ohms(470.0)).unwrap();
    assert_eq!(known(impedance(&c, 0.0, a, b)), Complex64::ZERO);
    assert_eq!(known(impedance(&c, 0.0, a, g)).im, 0.0);
    close(known(impedance(&c, 1e3, a, g)), Complex64::new(470.0, 0.0), 1e-15);
    // They make no noise either.
    let (values, mut w) = ac(&c);
    let noise = Noise::thermal(&c, Kelvin(300.0));
    let density =
        w.factor(&values, Hertz(1.0)).unwrap().noise_density(&noise, Output::Voltage(a, g)).unwrap();
    let wanted = 4.0 * solver::BOLTZMANN * 300.0 * 470.0;
    assert!((density.known().unwrap() / wanted - 1.0).abs() < 1e-14);
}

#[test]
fn a_shorted_coil_still_loads_its_neighbour() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let l1 = c.inductor("l1", a, g, Henries(2.0)).unwrap();
    let l2 = c.inductor("l2", b, g, Henries(3.0)).unwrap();
    c.couple(l1, l2, 0.6).unwrap();
    c.contact("short", b, g, true).unwrap();
    // L1(1 − k²): textbook leakage inductance.
    let wanted = 2.0 * (1.0 - 0.36);
    close(known(impedance(&c, 100.0, a, g)), Complex64::new(0.0, TAU * 100.0 * wanted), 1e-14);
    // With k = 1 the short is seen in full.
    let mut d = Circuit::new();
    let (p, s, g2) = (d.node("p"), d.node("s"), d.ground());
    let (m1, m2) =
        (d.inductor("m1", p, g2, Henries(2.0)).unwrap(), d.inductor("m2", s, g2, Henries(3.0)).unwrap());
    let k = d.couple(m1, m2, 1.0).unwrap();
    d.contact("short", s, g2, true).unwrap();
    let z = known(impedance(&d, 100.0, p, g2));
    assert!(z.norm() < 1e-12 * TAU * 200.0, "{z}");
    let mut values = d.values();
    values.set_coupling(k, -1.0).unwrap();
    let mut w = Layout::ac(&d, &values, &[]).unwrap().workspace();
    let z = w.factor(&values, Hertz(100.0)).unwrap().impedance(p, g2).unwrap().known().unwrap();
    assert!(z.norm() < 1e-12 * TAU * 200.0, "{z}");
}

#[test]
fn full_coupling_in_series_and_in_parallel() {
    for (k, series, parallel) in
        [(1.0, 8.0, Some(2.0)), (-1.0, 0.0, Some(0.0)), (0.999_999_999_9, 8.0, Some(2.0))]
    {
        let build = |join: bool| {
            let mut c = Circuit::new();
            let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
            let l1 = c.inductor("l1", a, b, Henries(2.0)).unwrap();
            let l2 = if join {
                c.inductor("l2", a, b, Henries(2.0))
            } else {
                c.inductor("l2", b, g, Henries(2.0))
            }
            .unwrap();
            c.couple(l1, l2, k).unwrap();
            (c, a, b, g)
        };
        let (c, a, _, g) = build(false);
        let z = known(impedance(&c, 10.0, a, g));
        assert!((z - Complex64::new(0.0, TAU * 10.0 * series)).norm() < 1e-8 * TAU * 10.0, "k {k}: {z}");
        // Equal coils in parallel, fully coupled: how they share the current is free, their voltage is not.
        let (c, a, b, _) = build(true);
        let z = known(impedance(&c, 10.0, a, b));
        if let Some(parallel) = parallel {
            assert!(
                (z - Complex64::new(0.0, TAU * 10.0 * parallel)).norm() < 1e-5 * TAU * 10.0,
                "k {k}: {z}"
            );
        }
    }
}

#[test]
fn a_current_that_full_coupling_leaves_free_is_undetermined() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let (l1, l2) =
        (c.inductor("l1", a, g, Henries(2.0)).unwrap(), c.inductor("l2", a, g, Henries(2.0)).unwrap());
    c.couple(l1, l2, 1.0).unwrap();
    let i = c.current_source("i", g, a).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(10.0)).unwrap();
    let drive = [(Source::Current(i), Complex64::ONE)];
    assert_eq!(point.response(&drive, Output::Current(Branch::Inductor(l1))).unwrap(), Outcome::Undetermined);
    let v = point.response(&drive, Output::Voltage(a, g)).unwrap().known().unwrap();
    close(v, Complex64::new(0.0, TAU * 20.0), 1e-13);
    assert!(w.fallbacks() > 0);
}

#[test]
fn inductors_at_dc_are_shorts_and_their_loop_current_is_free() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(100.0)).unwrap();
    let l1 = c.inductor("l1", b, g, Henries(1.0)).unwrap();
    let l2 = c.inductor("l2", b, g, Henries(2.0)).unwrap();
    let alone = c.node("alone");
    let l3 = c.inductor("l3", alone, b, Henries(2.0)).unwrap();
    c.resistor("r3", alone, a, Ohms(300.0)).unwrap();
    let values = c.values();
    let probes = [l1, l2, l3].map(Branch::Inductor);
    let mut w = Layout::dc(&c, &values, &probes).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(0.0)).unwrap();
    assert_eq!(point.response(&one(e), Output::Voltage(b, g)).unwrap(), Outcome::Known(Complex64::ZERO));
    assert_eq!(point.response(&one(e), Output::Current(probes[0])).unwrap(), Outcome::Undetermined);
    assert_eq!(point.response(&one(e), Output::Current(probes[1])).unwrap(), Outcome::Undetermined);
    let i3 = point.response(&one(e), Output::Current(probes[2])).unwrap().known().unwrap();
    close(i3, Complex64::new(1.0 / 300.0, 0.0), 1e-15);
    assert_eq!(i3.im, 0.0);
    let total = point.response(&one(e), Output::Current(Branch::VoltageSource(e))).unwrap().known().unwrap();
    close(total, Complex64::new(-1.0 / 75.0, 0.0), 1e-15);
    // At AC the same loop shares its current by inductance.
    let mut w = Layout::ac(&c, &values, &probes).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let i1 = point.response(&one(e), Output::Current(probes[0])).unwrap().known().unwrap();
    let i2 = point.response(&one(e), Output::Current(probes[1])).unwrap().known().unwrap();
    close(i1, i2 * 2.0, 1e-13);
}

#[test]
fn capacitors_are_open_at_dc_and_islands_are_found_afresh() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.capacitor("c", a, b, Farads(1e-6)).unwrap();
    c.resistor("r", b, b, Ohms(1.0)).unwrap();
    assert_eq!(impedance(&c, 0.0, a, b), Impedance::Open);
    assert!(matches!(impedance(&c, 1.0, b, g), Impedance::Known(_)));
    let (values, mut w) = dc(&c);
    assert_eq!(
        w.factor(&values, Hertz(0.0)).unwrap().response(&one(e), Output::Voltage(b, g)).unwrap(),
        Outcome::Undetermined
    );
}

#[test]
fn zero_inductance_is_a_short_also_where_it_is_coupled() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let l0 = c.inductor("l0", a, b, Henries(0.0)).unwrap();
    let l1 = c.inductor("l1", b, g, Henries(1.0)).unwrap();
    c.couple(l0, l1, 0.9).unwrap();
    let x = Complex64::new(0.0, TAU);
    close(known(impedance(&c, 1.0, a, g)), x, 1e-15);
    let e = c.voltage_source("e", a, g).unwrap();
    let values = c.values();
    let branch = Branch::Inductor(l0);
    let mut w = Layout::ac(&c, &values, &[branch]).unwrap().workspace();
    let i = w
        .factor(&values, Hertz(1.0))
        .unwrap()
        .response(&one(e), Output::Current(branch))
        .unwrap()
        .known()
        .unwrap();
    close(i, 1.0 / x, 1e-15);
    let mut unprobed = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let error =
        unprobed.factor(&values, Hertz(1.0)).unwrap().response(&one(e), Output::Current(branch)).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::NotProbed { branch } if branch.name == "l0"), "{error}");
}

#[test]
fn op_amp_followers_and_an_op_amp_that_nothing_feeds() {
    let mut c = Circuit::new();
    let (a, b, out, g) = (c.node("a"), c.node("b"), c.node("out"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(1e6)).unwrap();
    c.op_amp("follower", b, out, out, g).unwrap();
    c.resistor("load", out, g, Ohms(100.0)).unwrap();
    for f in [0.0, 1e3] {
        let (values, mut w) = if f > 0.0 { ac(&c) } else { dc(&c) };
        let mut point = w.factor(&values, Hertz(f)).unwrap();
        assert_eq!(point.response(&one(e), Output::Voltage(out, g)).unwrap(), Outcome::Known(Complex64::ONE));
        assert_eq!(point.impedance(out, g).unwrap(), Impedance::Known(Complex64::ZERO));
    }
    // A second follower whose input hangs: its own output is undetermined, all else stands.
    let (hang, out2) = (c.node("hang"), c.node("out2"));
    c.op_amp("hanging", hang, out2, out2, g).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    assert_eq!(point.response(&one(e), Output::Voltage(out, g)).unwrap(), Outcome::Known(Complex64::ONE));
    assert_eq!(point.response(&one(e), Output::Voltage(out2, g)).unwrap(), Outcome::Undetermined);
}

#[test]
fn what_senses_a_voltage_between_islands_is_undetermined() {
    let mut c = Circuit::new();
    let (a, hang, out, g) = (c.node("a"), c.node("hang"), c.node("out"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let stage = c.vcvs("stage", out, g, hang, g, 2.0).unwrap();
    c.resistor("load", out, g, Ohms(1e3)).unwrap();
    c.resistor("apart", a, g, Ohms(1e3)).unwrap();
    let (mut values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    assert_eq!(point.response(&one(e), Output::Voltage(out, g)).unwrap(), Outcome::Undetermined);
    assert_eq!(point.response(&one(e), Output::Voltage(a, g)).unwrap(), Outcome::Known(Complex64::ONE));
    // The port's voltage is twice a voltage that nothing fixes.
    let error = point.impedance(out, g).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::Singular { .. }), "{error}");
    values.set_gain(Gain::Vcvs(stage), 0.0).unwrap();
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    assert_eq!(point.response(&one(e), Output::Voltage(out, g)).unwrap(), Outcome::Known(Complex64::ZERO));
}

#[test]
fn an_ideal_transformer_with_open_sides() {
    let mut c = Circuit::new();
    let (a, s, m, g) = (c.node("a"), c.node("s"), c.node("m"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.transformer("t", a, g, s, m, 4.0).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    close(
        point.response(&one(e), Output::Voltage(s, m)).unwrap().known().unwrap(),
        Complex64::new(0.25, 0.0),
        1e-15,
    );
    assert_eq!(point.response(&one(e), Output::Voltage(s, g)).unwrap(), Outcome::Undetermined);
    assert_eq!(
        point.response(&one(e), Output::Current(Branch::VoltageSource(e))).unwrap(),
        Outcome::Known(Complex64::ZERO)
    );
    // Loaded: 16 times the load.
    let mut c = Circuit::new();
    let (a, s, g) = (c.node("a"), c.node("s"), c.ground());
    c.transformer("t", a, g, s, g, 4.0).unwrap();
    let load = c.resistor("r", s, g, Ohms(8.0)).unwrap();
    close(known(impedance(&c, 1.0, a, g)), Complex64::new(128.0, 0.0), 1e-14);
    // Both sides open: no current can flow, and nothing else is disturbed.
    let mut values = c.values();
    values.set_resistance(load, Ohms(f64::INFINITY)).unwrap();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    assert_eq!(w.factor(&values, Hertz(1.0)).unwrap().impedance(a, g).unwrap(), Impedance::Open);
    let (p, q) = (c.node("p"), c.node("q"));
    c.transformer("unused", p, q, q, g, 2.0).unwrap();
    close(known(impedance(&c, 1.0, a, g)), Complex64::new(128.0, 0.0), 1e-14);
}

#[test]
fn probed_contacts_tell_their_current_unless_they_lie_in_a_loop() {
    let mut c = Circuit::new();
    let (a, b, d, g) = (c.node("a"), c.node("b"), c.node("d"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let k1 = c.contact("k1", a, b, true).unwrap();
    let r0 = c.resistor("zero", b, d, Ohms(0.0)).unwrap();
    let open = c.contact("open", a, d, false).unwrap();
    c.resistor("r", d, g, Ohms(50.0)).unwrap();
    let values = c.values();
    let probes = [Branch::Contact(k1), Branch::Resistor(r0), Branch::Contact(open)];
    let mut w = Layout::ac(&c, &values, &probes).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let mut current = |branch| point.response(&one(e), Output::Current(branch)).unwrap();
    close(current(probes[0]).known().unwrap(), Complex64::new(0.02, 0.0), 1e-15);
    close(current(probes[1]).known().unwrap(), Complex64::new(0.02, 0.0), 1e-15);
    assert_eq!(current(probes[2]), Outcome::Known(Complex64::ZERO));
    let mut closed = values.clone();
    closed.set_contact(open, true).unwrap();
    let layout = Layout::ac(&c, &closed, &probes).unwrap();
    assert!(!layout.fits(&values) && layout.fits(&closed));
    let mut w = layout.workspace();
    let mut point = w.factor(&closed, Hertz(1.0)).unwrap();
    assert_eq!(point.response(&one(e), Output::Current(probes[0])).unwrap(), Outcome::Undetermined);
    assert_eq!(point.response(&one(e), Output::Voltage(d, g)).unwrap(), Outcome::Known(Complex64::ONE));
    let error = w.factor(&values, Hertz(1.0)).unwrap_err();
    assert!(
        matches!(error.kind(), SolveErrorKind::OtherClass { element } if element.name == "open"),
        "{error}"
    );
}

#[test]
fn twenty_milliohms_and_twelve_decades() {
    // 20 mΩ in series with 1 MΩ, and 10 Ω against 1 TΩ: what nodal stamping would lose.
    let mut c = Circuit::new();
    let (a, b, d, g) = (c.node("a"), c.node("b"), c.node("d"), c.ground());
    c.resistor("contact", a, b, Ohms(0.02)).unwrap();
    c.resistor("pot", b, g, Ohms(1e6)).unwrap();
    c.resistor("lead", a, d, Ohms(15.0)).unwrap();
    c.resistor("leak", d, g, Ohms(1e12)).unwrap();
    for f in [0.0, 1e3] {
        let z = known(impedance(&c, f, a, b));
        let other = 15.0 + 1e12 + 1e6;
        close(z, Complex64::new(0.02 * other / (0.02 + other), 0.0), 1e-14);
        let z = known(impedance(&c, f, d, g));
        let rest = 15.0 + 0.02 + 1e6;
        close(z, Complex64::new(rest * 1e12 / (rest + 1e12), 0.0), 1e-13);
    }
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("small", a, b, Ohms(1e-6)).unwrap();
    c.capacitor("tiny", b, g, Farads(1e-15)).unwrap();
    c.inductor("large", b, g, Henries(1e6)).unwrap();
    let x = 1.0 / (1.0 / Complex64::new(0.0, TAU * 1e6) + Complex64::new(0.0, TAU * 1e-15));
    close(known(impedance(&c, 1.0, a, g)), x + 1e-6, 1e-13);
}

#[test]
fn extreme_values_are_answers_or_typed_errors_never_nan() {
    for (r, l, f) in [
        (1e300, 1e-300, 1e-9),
        (1e-300, 1e300, 1e-9),
        (f64::MIN_POSITIVE, 1e250, 1e-200),
        (1e300, 1e300, 1e300),
    ] {
        let mut c = Circuit::new();
        let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
        let e = c.voltage_source("e", a, g).unwrap();
        c.resistor("r", a, b, Ohms(r)).unwrap();
        c.inductor("l", b, g, Henries(l)).unwrap();
        c.capacitor("c", b, g, Farads(f)).unwrap();
        for hz in [1e-3, 1.0, 1e9] {
            let (values, mut w) = ac(&c);
            let found = w.factor(&values, Hertz(hz)).and_then(|mut point| {
                let h = point.response(&one(e), Output::Voltage(b, g))?;
                Ok((h, point.residual()))
            });
            match found {
                Ok((Outcome::Known(h), residual)) => {
                    assert!(h.re.is_finite() && h.im.is_finite(), "{r} {l} {f}: {h}");
                    // What is too small to be checked is no answer either.
                    assert!(residual <= 1e-11, "{r:e} {l:e} {f:e}: {h} with a residual of {residual}");
                }
                Ok((Outcome::Undetermined, _)) => {}
                Err(error) => assert!(matches!(error.kind(), SolveErrorKind::Range { .. }), "{error}"),
            }
        }
    }
    // A divider of two huge resistances is still a half.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r1", a, b, Ohms(1e300)).unwrap();
    c.resistor("r2", b, g, Ohms(1e300)).unwrap();
    let (values, mut w) = ac(&c);
    let h = w.factor(&values, Hertz(1.0)).unwrap().response(&one(e), Output::Voltage(b, g)).unwrap();
    close(h.known().unwrap(), Complex64::new(0.5, 0.0), 1e-14);
}

#[test]
fn an_empty_circuit_has_answers_too() {
    let c = Circuit::new();
    let g = c.ground();
    assert_eq!(impedance(&c, 1.0, g, g), Impedance::Known(Complex64::ZERO));
    assert_eq!(solver::poles(&c, &c.values()).unwrap(), []);
}

#[test]
fn a_balanced_bridge_does_not_hear_what_its_taps_drive() {
    // A transconductance senses between two islands, so what it drives is undetermined. It feeds the two taps of a balanced bridge; the
    // bridge's diagonal does not depend on it, whatever rounding makes of the two equal transfers.
    for k in 0..200 {
        let (r, ratio) = (3.3e3 * (1.0 + f64::from(k) * 0.013), 1.7 + 0.011 * f64::from(k));
        let mut c = Circuit::new();
        let (top, p, q, g) = (c.node("top"), c.node("p"), c.node("q"), c.ground());
        let i = c.current_source("i", g, top).unwrap();
        c.resistor("r1", top, p, Ohms(r)).unwrap();
        c.resistor("r2", top, q, Ohms(r * ratio)).unwrap();
        c.resistor("r3", p, g, Ohms(4.7e3)).unwrap();
        c.resistor("r4", q, g, Ohms(4.7e3 * ratio)).unwrap();
        let (far, near) = (c.node("far"), c.node("near"));
        c.resistor("floating", far, near, Ohms(1e3)).unwrap();
        c.vccs("gm", p, q, far, g, Siemens(1e-3)).unwrap();
        let (values, mut w) = ac(&c);
        let mut point = w.factor(&values, Hertz(1e3)).unwrap();
        let drive = [(Source::Current(i), Complex64::ONE)];
        let wanted = (r + 4.7e3) * ratio / (1.0 + ratio);
        let found = point.response(&drive, Output::Voltage(top, g)).unwrap().known();
        close(found.unwrap_or_else(|| panic!("step {k}")), Complex64::new(wanted, 0.0), 1e-12);
        assert_eq!(point.response(&drive, Output::Voltage(p, q)).unwrap(), Outcome::Undetermined);
    }
}

#[test]
fn a_current_source_of_gain_zero_controls_nothing_and_needs_no_control() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("r", a, g, Ohms(10.0)).unwrap();
    c.resistor("load", b, g, Ohms(20.0)).unwrap();
    // Two contacts in parallel leave the current of each free.
    let k = c.contact("sensed", a, b, true).unwrap();
    c.contact("parallel", a, b, true).unwrap();
    let source = c.cccs("source", b, g, Branch::Contact(k), 0.0).unwrap();
    close(known(impedance(&c, 1.0, a, g)), Complex64::new(20.0 / 3.0, 0.0), 1e-15);
    let mut values = c.values();
    let layout = Layout::ac(&c, &values, &[]).unwrap();
    values.set_gain(Gain::Cccs(source), 1.0).unwrap();
    assert!(!layout.fits(&values));
    assert!(matches!(Layout::ac(&c, &values, &[]).unwrap_err().kind(), SolveErrorKind::FreeControl { .. }));
}

#[test]
fn an_answer_after_the_dense_fallback_has_a_small_residual_too() {
    // A ring that nothing drives: its currents are zero but for rounding, and so are all terms of its current law.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let r = Branch::Resistor(c.resistor("r", a, g, Ohms(100.0)).unwrap());
    let mut probes = vec![r];
    for ohms in [100.0, 1.0, 80014.39337118587] {
        probes.push(Branch::Resistor(c.resistor("ring", a, b, Ohms(ohms)).unwrap()));
    }
    probes.push(Branch::Inductor(c.inductor("ring", a, b, Henries(1.0)).unwrap()));
    let i = c.current_source("i", g, a).unwrap();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &probes).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let drive = [(Source::Current(i), Complex64::ONE)];
    for probe in probes {
        let wanted = if probe == r { Complex64::ONE } else { Complex64::ZERO };
        let found = point.response(&drive, Output::Current(probe)).unwrap().known().unwrap();
        assert!((found - wanted).norm() < 1e-14, "{probe:?}: {found}");
        assert!(point.residual() <= 1e-11, "{probe:?}: {}", point.residual());
    }
}
