//! Loops and stars of storage, and every analysis on a network with undetermined parts.
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
    Band, Branch, Circuit, Farads, Henries, Hertz, Kelvin, Layout, Noise, Ohms, Outcome, Output, Response,
    Source,
};

const TAU: f64 = std::f64::consts::TAU;

#[test]
fn loops_and_stars_of_capacitors_and_of_inductors() {
    // A ring of three capacitors, one of them 0, across a source: the middle is a divider at AC, floats at DC.
    let mut c = Circuit::new();
    let (a, m, g) = (c.node("a"), c.node("m"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.capacitor("c1", a, m, Farads(2e-9)).unwrap();
    c.capacitor("c2", m, g, Farads(3e-9)).unwrap();
    let across = c.capacitor("c3", a, g, Farads(5e-9)).unwrap();
    let none = c.capacitor("none", a, m, Farads(0.0)).unwrap();
    let mut values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    let half = point.response(&one(e), Output::Voltage(m, g)).unwrap().known().unwrap();
    close(half, Complex64::new(0.4, 0.0), 1e-14);
    let i = point.response(&one(e), Output::Current(Branch::VoltageSource(e))).unwrap().known().unwrap();
    close(i, Complex64::new(0.0, -TAU * 1e3 * (1.2e-9 + 5e-9)), 1e-14);
    let (at_dc, mut w) = dc(&c);
    let mut point = w.factor(&at_dc, Hertz(0.0)).unwrap();
    assert_eq!(point.response(&one(e), Output::Voltage(m, g)).unwrap(), Outcome::Undetermined);
    assert_eq!(
        point.response(&one(e), Output::Current(Branch::VoltageSource(e))).unwrap(),
        Outcome::Known(Complex64::ZERO)
    );
    // Other zeros are another class, and as legal.
    values.set_capacitance(across, Farads(0.0)).unwrap();
    values.set_capacitance(none, Farads(1e-9)).unwrap();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    let half = point.response(&one(e), Output::Voltage(m, g)).unwrap().known().unwrap();
    close(half, Complex64::new(0.5, 0.0), 1e-14);

    // A star of inductors on a current source: its current divides as 1/L, at AC and with nothing else there.
    let mut c = Circuit::new();
    let (m, p, q, g) = (c.node("m"), c.node("p"), c.node("q"), c.ground());
    let i = c.current_source("i", g, m).unwrap();
    c.inductor("l0", m, p, Henries(1.0)).unwrap();
    let l1 = Branch::Inductor(c.inductor("l1", p, g, Henries(1.0)).unwrap());
    c.inductor("l2", p, q, Henries(2.0)).unwrap();
    c.contact("k", q, g, true).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(50.0)).unwrap();
    let drive = [(Source::Current(i), Complex64::ONE)];
    let share = point.response(&drive, Output::Current(l1)).unwrap().known().unwrap();
    close(share, Complex64::new(2.0 / 3.0, 0.0), 1e-14);
    let v = point.response(&drive, Output::Voltage(m, g)).unwrap().known().unwrap();
    close(v, Complex64::new(0.0, TAU * 50.0 * (1.0 + 2.0 / 3.0)), 1e-14);
    let mut w = Layout::dc(&c, &values, &[l1]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(0.0)).unwrap();
    assert_eq!(point.response(&drive, Output::Voltage(m, g)).unwrap(), Outcome::Known(Complex64::ZERO));
}

#[test]
fn every_analysis_of_a_degenerate_network_says_what_there_is() {
    // An open transformer, a hanging follower, coils with k = −1, a lone node: what is asked of the sound part is answered.
    let mut c = Circuit::new();
    let (a, b, s, hang, out, lone, g) =
        (c.node("a"), c.node("b"), c.node("s"), c.node("hang"), c.node("out"), c.node("lone"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let r = c.resistor("r", a, b, Ohms(1e3)).unwrap();
    c.capacitor("c", b, g, Farads(1e-9)).unwrap();
    c.transformer("open", a, g, s, lone, 2.0).unwrap();
    c.op_amp("follower", hang, out, out, g).unwrap();
    let (l1, l2) =
        (c.inductor("l1", b, g, Henries(2.0)).unwrap(), c.inductor("l2", b, g, Henries(2.0)).unwrap());
    c.couple(l1, l2, 1.0).unwrap();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let drive = one(e);
    let output = Output::Voltage(b, g);
    let f = 1e4;
    let x = 1.0 / (Complex64::new(0.0, TAU * f * 1e-9) + 1.0 / Complex64::new(0.0, TAU * f * 2.0));
    let wanted = x / (1e3 + x);
    let mut point = w.factor(&values, Hertz(f)).unwrap();
    let bounded = point.bounded(Response::Transfer(&drive, output)).unwrap().known().unwrap();
    assert!((bounded.value - wanted).norm() <= bounded.error && bounded.error < 1e-9, "{bounded:?} {wanted}");
    let all = point.sensitivities(Response::Transfer(&drive, output)).unwrap().known().unwrap();
    close(all.of(r).unwrap().derivative.unwrap(), -x / ((1e3 + x) * (1e3 + x)), 1e-10);
    let noise = Noise::thermal(&c, Kelvin(300.0));
    let list = point.noise_contributions(&noise, output).unwrap().known().unwrap();
    let share = 4.0 * solver::BOLTZMANN * 300.0 * 1e3 * wanted.norm_sqr();
    assert!((list[0].amount / share - 1.0).abs() < 1e-10);
    let output = Output::Voltage(out, g);
    assert_eq!(point.bounded(Response::Transfer(&drive, output)).unwrap(), Outcome::Undetermined);
    assert_eq!(point.noise_contributions(&noise, output).unwrap(), Outcome::Undetermined);
    let band = Band { low: Hertz(20.0), high: Hertz(20e3) };
    assert_eq!(w.noise_total(&values, &noise, output, band, None).unwrap(), Outcome::Undetermined);
    let total =
        w.noise_total(&values, &noise, Output::Voltage(b, g), Band::ALL, None).unwrap().known().unwrap();
    let wanted = solver::BOLTZMANN * 300.0 / 1e-9;
    assert!((total.mean_square / wanted - 1.0).abs() < 1e-8, "{total:?} against {wanted}");
}
