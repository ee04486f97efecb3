//! Noise over bands against the equipartition theorem (kT/C, kT/L: H. Nyquist, Phys. Rev. 32 (1928) 110–113) and closed forms.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use solver::{
    BOLTZMANN, Band, Branch, Circuit, Farads, Henries, Hertz, Kelvin, Layout, Noise, NoiseTotal, Ohms,
    Outcome, Output, SolveErrorKind, Source,
};

const T: f64 = 300.0;
const KT: f64 = BOLTZMANN * T;

fn total(c: &Circuit, probes: &[Branch], noise: &Noise, output: Output, band: Band) -> NoiseTotal {
    let values = c.values();
    let mut w = Layout::ac(c, &values, probes).unwrap().workspace();
    w.noise_total(&values, noise, output, band, None).unwrap().known().unwrap()
}

fn near(found: &NoiseTotal, wanted: f64, tolerance: f64) {
    near_at(found, wanted, tolerance, 1e-11);
}

/// `rounding` is what the density itself is uncertain by.
fn near_at(found: &NoiseTotal, wanted: f64, tolerance: f64, rounding: f64) {
    let off = (found.mean_square / wanted - 1.0).abs();
    assert!(off <= tolerance, "{found:?} against {wanted}: off by {off:e}");
    assert!(
        (found.mean_square - wanted).abs() <= found.error + rounding * wanted,
        "{found:?} against {wanted}"
    );
    let sum: f64 = found.contributions.iter().map(|one| one.amount).sum();
    assert!((sum / found.mean_square - 1.0).abs() < 1e-12);
}

#[test]
fn a_capacitor_holds_k_t_over_c_whatever_warms_it() {
    for (r, f) in [(1e3, 1e-9), (1.0, 1e-12), (1e9, 1e-6), (470e3, 1e-10)] {
        let mut c = Circuit::new();
        let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
        c.resistor("r1", a, g, Ohms(r)).unwrap();
        c.resistor("r2", a, b, Ohms(3.0 * r)).unwrap();
        c.resistor("r3", b, g, Ohms(7.0 * r)).unwrap();
        c.capacitor("c", b, g, Farads(f)).unwrap();
        let noise = Noise::thermal(&c, Kelvin(T));
        let found = total(&c, &[], &noise, Output::Voltage(b, g), Band::ALL);
        near(&found, KT / f, 1e-9);
        assert_eq!(found.contributions.len(), 3);
    }
}

#[test]
fn a_resonance_of_any_quality_holds_k_t_over_c_and_k_t_over_l() {
    for q in [0.3, 1.0, 50.0, 1e4, 1e7] {
        let (l, f) = (0.1, 1e-8);
        let mut c = Circuit::new();
        let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
        let coil = c.inductor("l", a, b, Henries(l)).unwrap();
        c.resistor("r", b, g, Ohms((l / f).sqrt() / q)).unwrap();
        c.capacitor("c", a, g, Farads(f)).unwrap();
        let noise = Noise::thermal(&c, Kelvin(T));
        // A frequency is rounded to 1e-15 or so, which a resonance magnifies by its quality.
        let rounding = 1e-11 + 1e-14 * q;
        let found = total(&c, &[], &noise, Output::Voltage(a, g), Band::ALL);
        near_at(&found, KT / f, 1e-8, rounding);
        let found = total(&c, &[], &noise, Output::Current(Branch::Inductor(coil)), Band::ALL);
        near_at(&found, KT / l, 1e-8, rounding);
    }
}

#[test]
fn a_band_of_a_first_order_low_pass_is_an_arc_tangent() {
    // ∫ 4kTR/(1 + (f/fc)²) df = 4kTR·fc·(atan(f2/fc) − atan(f1/fc)).
    let (r, f) = (1e4, 1e-8);
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    c.resistor("r", a, g, Ohms(r)).unwrap();
    c.capacitor("c", a, g, Farads(f)).unwrap();
    let noise = Noise::thermal(&c, Kelvin(T));
    let corner = 1.0 / (std::f64::consts::TAU * r * f);
    for (low, high) in
        [(20.0, 20e3), (0.0, corner), (corner, f64::INFINITY), (1e9, f64::INFINITY), (0.0, 1e-3)]
    {
        let band = Band { low: Hertz(low), high: Hertz(high) };
        let found = total(&c, &[], &noise, Output::Voltage(a, g), band);
        // atan(x) − atan(y) without cancellation.
        let (x, y) = (high / corner, low / corner);
        let arc = if x.is_infinite() { (1.0 / y).atan() } else { ((x - y) / (1.0 + x * y)).atan() };
        let arc = if x * y < 0.0 { f64::NAN } else { arc };
        near(&found, 4.0 * KT * r * corner * arc, 1e-9);
    }
    // With a weighting of the same corner: ∫ df/(1 + (f/fc)²)² = π·fc/4.
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let weighting = |f: Hertz| 1.0 / (1.0 + (f.0 / corner).powi(2));
    let output = Output::Voltage(a, g);
    let found = w.noise_total(&values, &noise, output, Band::ALL, Some(&weighting)).unwrap().known().unwrap();
    near(&found, 4.0 * KT * r * corner * std::f64::consts::FRAC_PI_4, 1e-9);
    let bad = |_: Hertz| f64::NAN;
    let error = w.noise_total(&values, &noise, output, Band::ALL, Some(&bad)).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::Range { .. }));
}

#[test]
fn contributions_are_named_and_stated_densities_are_among_them() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let i = c.current_source("i", g, b).unwrap();
    let r1 = c.resistor("r1", a, b, Ohms(1e3)).unwrap();
    let r2 = c.resistor("r2", b, g, Ohms(3e3)).unwrap();
    c.capacitor("c", b, g, Farads(1e-9)).unwrap();
    let mut noise = Noise::thermal(&c, Kelvin(T));
    noise.silence(r2);
    noise.add(Source::Voltage(e), 1e-16);
    noise.add(Source::Current(i), 1e-23);
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let output = Output::Voltage(b, g);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let list = point.noise_contributions(&noise, output).unwrap().known().unwrap();
    // The divider of 3/4 for what is in series with r1, 750 Ω for currents; the capacitor does nothing at 1 Hz.
    let wanted = [4.0 * KT * 1e3 * 0.5625, 0.0, 1e-16 * 0.5625, 1e-23 * 750.0 * 750.0];
    assert_eq!(
        list.iter().map(|one| one.element).collect::<Vec<_>>(),
        [r1.into(), r2.into(), e.into(), i.into()]
    );
    for (one, wanted) in list.iter().zip(wanted) {
        assert!((one.amount - wanted).abs() <= 1e-9 * wanted, "{one:?} against {wanted}");
    }
    let density = point.noise_density(&noise, output).unwrap().known().unwrap();
    assert!((density / list.iter().map(|one| one.amount).sum::<f64>() - 1.0).abs() < 1e-14);
    // All have one pole: a bandwidth of 1/(4·RC).
    let found = total(&c, &[], &noise, output, Band::ALL);
    for (one, wanted) in found.contributions.iter().zip(wanted) {
        assert!((one.amount - wanted / (4.0 * 750.0 * 1e-9)).abs() <= 1e-8 * one.amount, "{one:?}");
    }
    assert!((found.rms().powi(2) / found.mean_square - 1.0).abs() < 1e-14);
}

#[test]
fn infinite_noise_undetermined_outputs_and_bands_that_are_none() {
    let mut c = Circuit::new();
    let (a, lone, g) = (c.node("a"), c.node("lone"), c.ground());
    c.resistor("r", a, g, Ohms(1e3)).unwrap();
    let noise = Noise::thermal(&c, Kelvin(T));
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut ask = |a, b, low, high| {
        let band = Band { low: Hertz(low), high: Hertz(high) };
        w.noise_total(&values, &noise, Output::Voltage(a, b), band, None)
    };
    let error = ask(a, g, 0.0, f64::INFINITY).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::Diverges { .. }), "{error}");
    let found = ask(a, g, 0.0, 1e4).unwrap().known().unwrap();
    near(&found, 4.0 * KT * 1e3 * 1e4, 1e-10);
    assert_eq!(ask(a, lone, 1.0, 2.0).unwrap(), Outcome::Undetermined);
    assert_eq!(ask(g, g, 0.0, f64::INFINITY).unwrap().known().unwrap().mean_square, 0.0);
    for (low, high) in [
        (2.0, 1.0),
        (-1.0, 1.0),
        (f64::NAN, 1.0),
        (1.0, f64::NAN),
        (1.0, 1.0),
        (f64::INFINITY, f64::INFINITY),
    ] {
        let error = ask(a, g, low, high).unwrap_err();
        assert!(matches!(error.kind(), SolveErrorKind::Frequency(_)), "{low} {high}: {error}");
    }
}
