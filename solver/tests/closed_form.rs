//! Small networks against exact formulas.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use num_complex::Complex64;
use solver::{
    Circuit, Farads, Henries, Hertz, Impedance, Kelvin, Layout, Noise, Ohms, Outcome, Output, Source,
};

const TAU: f64 = std::f64::consts::TAU;

fn close(a: Complex64, b: Complex64, tolerance: f64) {
    assert!((a - b).norm() <= tolerance * b.norm(), "{a} against {b}");
}

#[test]
fn a_divider_a_low_pass_and_its_slope() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(1e4)).unwrap();
    c.capacitor("c", b, g, Farads(1e-8)).unwrap();
    let values = c.values();
    let layout = Layout::ac(&c, &values, &[]).unwrap();
    let mut w = layout.workspace();
    for f in [1e-3, 10.0, 1591.0, 1e5, 1e9] {
        let mut p = w.factor(&values, Hertz(f)).unwrap();
        let u = Complex64::new(0.0, TAU * f * 1e-4);
        let want = 1.0 / (1.0 + u);
        let Outcome::Known((h, slope)) =
            p.response_and_slope(&[(Source::Voltage(e), Complex64::ONE)], Output::Voltage(b, g)).unwrap()
        else {
            panic!()
        };
        close(h, want, 1e-14);
        close(slope, -u * want * want, 1e-13);
        let noise = p
            .noise_density(&Noise::thermal(&c, Kelvin(300.0)), Output::Voltage(b, g))
            .unwrap()
            .known()
            .unwrap();
        let z = p.impedance(b, g).unwrap();
        let Impedance::Known(z) = z else { panic!() };
        close(z, 1e4 * want, 1e-14);
        assert!((noise / (4.0 * solver::BOLTZMANN * 300.0 * z.re) - 1.0).abs() < 1e-12);
        assert!(p.residual() < 1e-14);
    }
}

#[test]
fn a_series_resonance_with_a_coupled_coil() {
    let mut c = Circuit::new();
    let (a, b, d, g) = (c.node("a"), c.node("b"), c.node("d"), c.ground());
    let l1 = c.inductor("l1", a, b, Henries(2.0)).unwrap();
    let l2 = c.inductor("l2", b, g, Henries(3.0)).unwrap();
    let l3 = c.inductor("l3", d, g, Henries(1.0)).unwrap();
    c.couple(l1, l2, 0.2).unwrap();
    c.couple(l1, l3, 0.1).unwrap();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut p = w.factor(&values, Hertz(50.0)).unwrap();
    let m = 0.2 * 6f64.sqrt();
    let z = p.impedance(a, g).unwrap().known().unwrap();
    close(z, Complex64::new(0.0, TAU * 50.0 * (5.0 + 2.0 * m)), 1e-14);
}

#[test]
fn poles_of_a_damped_resonance() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.inductor("l", a, b, Henries(2.5)).unwrap();
    c.capacitor("c", b, g, Farads(5e-10)).unwrap();
    c.resistor("r", b, g, Ohms(5e5)).unwrap();
    let values = c.values();
    let poles = solver::poles(&c, &values).unwrap();
    let alpha = 1.0 / (2.0 * 5e5 * 5e-10);
    let w0 = 1.0 / (2.5f64 * 5e-10).sqrt();
    let want = Complex64::new(-alpha, (w0 * w0 - alpha * alpha).sqrt());
    assert_eq!(poles.len(), 2);
    close(poles[0], want, 1e-12);
    close(poles[1], want.conj(), 1e-12);
    assert!(
        solver::zeros(&c, &values, &[(Source::Voltage(e), Complex64::ONE)], Output::Voltage(b, g))
            .unwrap()
            .is_empty()
    );
}
