//! Partial fractions, and step and impulse responses against their closed forms.

use std::f64::consts::TAU;

use num_complex::Complex64;
use solver::{
    Branch, Circuit, Expansion, Farads, Henries, Hertz, Layout, Ohms, Outcome, Output, Response,
    SolveErrorKind, Source,
};

const ONE: Complex64 = Complex64::ONE;

fn expand(c: &Circuit, source: Source, output: Output) -> Expansion {
    let values = c.values();
    let probes: Vec<Branch> = if let Output::Current(branch) = output { vec![branch] } else { Vec::new() };
    let layout = Layout::ac(c, &values, &probes).unwrap();
    let drive = [(source, ONE)];
    layout.workspace().expand(&values, Response::Transfer(&drive, output)).unwrap()
}

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "{found:e}, wanted {wanted:e}");
}

/// e⁻ᵗ/ᵀ: the simplest of all.
#[test]
fn a_low_pass_of_first_order() {
    let (r, farads) = (4.7e3, 22e-9);
    let mut c = Circuit::new();
    let g = c.ground();
    let (a, b) = (c.node("a"), c.node("b"));
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(r)).unwrap();
    c.capacitor("c", b, g, Farads(farads)).unwrap();
    let found = expand(&c, Source::Voltage(e), Output::Voltage(b, g));
    let tau = r * farads;
    assert_eq!(found.direct, Vec::<f64>::new());
    assert!(found.error < 1e-13);
    assert!((found.terms[0].coefficients[0] - 1.0 / tau).norm() < 1e-12 / tau);
    for t in [0.0, 1e-9, 0.1, 1.0, 3.0, 50.0, 1e9].map(|x| x * tau) {
        close(found.step(t), -libm::expm1(-t / tau), 1e-12);
        close(found.impulse(t) * tau, libm::exp(-t / tau), 1e-12);
    }
    assert_eq!((found.step(-1e-9), found.impulse(-1.0)), (0.0, 0.0));
}

/// A series resonance, the voltage across its capacitor: 1 − e⁻ᵅᵗ(cos ωt + α/ω·sin ωt) and what it becomes at and above critical damping
/// (any textbook of networks, e.g. M. E. Van Valkenburg, "Network Analysis", 3rd ed., chapter 6).
#[test]
fn a_resonance_under_at_and_over_critical_damping() {
    let (l, farads) = (2.0, 0.5);
    for zeta in [0.0, 1e-3, 0.2, 0.999, 1.0, 1.001, 3.0] {
        let mut c = Circuit::new();
        let g = c.ground();
        let (a, b, out) = (c.node("a"), c.node("b"), c.node("out"));
        let e = c.voltage_source("e", a, g).unwrap();
        // ω0 = 1, R = 2ζ·ω0·L.
        c.resistor("r", a, b, Ohms(2.0 * zeta * l)).unwrap();
        c.inductor("l", b, out, Henries(l)).unwrap();
        c.capacitor("c", out, g, Farads(farads)).unwrap();
        let found = expand(&c, Source::Voltage(e), Output::Voltage(out, g));
        for t in [0.0, 1e-6, 0.03, 0.7, 2.0, 7.0, 30.0] {
            let decay = libm::exp(-zeta * t);
            let (step, impulse) = if zeta < 1.0 {
                let w = (1.0 - zeta * zeta).sqrt();
                let (sin, cos) = (libm::sin(w * t), libm::cos(w * t));
                (1.0 - decay * (cos + zeta / w * sin), decay * sin / w)
            } else if zeta == 1.0 {
                (1.0 - decay * (1.0 + t), decay * t)
            } else {
                let w = (zeta * zeta - 1.0).sqrt();
                let (sinh, cosh) = (libm::sinh(w * t), libm::cosh(w * t));
                (1.0 - decay * (cosh + zeta / w * sinh), decay * sinh / w)
            };
            close(found.step(t), step, 1e-9);
            close(found.impulse(t), impulse, 1e-9);
        }
        assert_eq!(found.terms.len(), if zeta == 1.0 { 1 } else { 2 }, "{zeta}: {found:?}");
    }
}

/// A lead network has a direct part: H = 1 − (1 − k)/(1 + sT), k = R2/(R1 + R2), T = C·R1∥R2, which steps at once to 1.
#[test]
fn a_lead_network_steps_at_once_by_its_direct_part() {
    let (r1, r2, farads) = (10e3, 2.2e3, 15e-9);
    let mut c = Circuit::new();
    let g = c.ground();
    let (a, b) = (c.node("a"), c.node("b"));
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r1", a, b, Ohms(r1)).unwrap();
    c.capacitor("c", a, b, Farads(farads)).unwrap();
    c.resistor("r2", b, g, Ohms(r2)).unwrap();
    let found = expand(&c, Source::Voltage(e), Output::Voltage(b, g));
    let (k, tau) = (r2 / (r1 + r2), farads * r1 * r2 / (r1 + r2));
    assert_eq!(found.direct.len(), 1);
    close(found.direct[0], 1.0, 1e-12);
    for t in [0.0, 0.2, 1.0, 4.0, 100.0].map(|x| x * tau) {
        close(found.step(t), k + (1.0 - k) * libm::exp(-t / tau), 1e-12);
    }
}

/// The current of a voltage source into R ∥ C: −(1/R + sC), a direct part of first degree and no pole.
#[test]
fn an_admittance_may_grow_with_frequency() {
    let mut c = Circuit::new();
    let g = c.ground();
    let a = c.node("a");
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, g, Ohms(50.0)).unwrap();
    c.capacitor("c", a, g, Farads(3e-6)).unwrap();
    let found = expand(&c, Source::Voltage(e), Output::Current(Branch::VoltageSource(e)));
    assert!(found.terms.is_empty());
    assert_eq!(found.direct.len(), 2);
    close(found.direct[0], -0.02, 1e-14);
    close(found.direct[1], -3e-6, 1e-18);
}

/// Equal buffered sections: the step response is the lower incomplete gamma function P(n, t/T) = 1 − e⁻ᵗ/ᵀ Σ_{k<n} (t/T)ᵏ/k!
/// (Abramowitz and Stegun, 6.5.13).
#[test]
fn a_pole_of_any_multiplicity() {
    for n in 1..=8 {
        let (r, farads) = (1.1e4, 3.3e-9);
        let mut c = Circuit::new();
        let g = c.ground();
        let mut from = c.node("in");
        let e = c.voltage_source("e", from, g).unwrap();
        for i in 0..n {
            let (b, to) = (c.node(format!("b{i}")), c.node(format!("o{i}")));
            c.resistor(format!("r{i}"), from, b, Ohms(r)).unwrap();
            c.capacitor(format!("c{i}"), b, g, Farads(farads)).unwrap();
            c.vcvs(format!("f{i}"), to, g, b, g, 1.0).unwrap();
            from = to;
        }
        let found = expand(&c, Source::Voltage(e), Output::Voltage(from, g));
        assert_eq!(found.terms.len(), 1);
        assert_eq!(found.terms[0].coefficients.len(), n);
        for x in [0.0, 0.05, 0.5, 1.5, 4.0, 12.0, 40.0] {
            let (mut term, mut sum) = (1.0, 0.0);
            for k in 0..n {
                sum += term;
                term *= x / (k + 1) as f64;
            }
            close(found.step(x * r * farads), 1.0 - libm::exp(-x) * sum, 1e-9);
        }
    }
}

/// Rebuilt from poles and residues at frequencies of which the expansion knows nothing.
#[test]
fn a_ladder_is_rebuilt_from_its_residues() {
    let mut c = Circuit::new();
    let g = c.ground();
    let mut from = c.node("in");
    let e = c.voltage_source("e", from, g).unwrap();
    for i in 0..4 {
        let (m, to) = (c.node(format!("m{i}")), c.node(format!("n{i}")));
        let scale = 10f64.powi(i);
        c.resistor(format!("r{i}"), from, m, Ohms(330.0 * scale)).unwrap();
        c.inductor(format!("l{i}"), m, to, Henries(0.3 * scale)).unwrap();
        c.capacitor(format!("c{i}"), to, g, Farads(100e-9 / scale)).unwrap();
        from = to;
    }
    let out = Output::Voltage(from, g);
    let found = expand(&c, Source::Voltage(e), out);
    let values = c.values();
    let mut workspace = Layout::ac(&c, &values, &[]).unwrap().workspace();
    for f in [1.0, 97.0, 641.0, 1234.5, 3.3e3, 2e4] {
        let drive = [(Source::Voltage(e), ONE)];
        let h = workspace.factor(&values, Hertz(f)).unwrap().response(&drive, out).unwrap().known().unwrap();
        let rebuilt = found.at(Complex64::new(0.0, TAU * f));
        assert!((rebuilt - h).norm() < 1e-10, "{f}: {rebuilt} {h}");
    }
}

/// An impedance has residues too; an amplitude that is not real has no response in time.
#[test]
fn impedances_are_expanded_and_complex_amplitudes_are_not() {
    let mut c = Circuit::new();
    let g = c.ground();
    let a = c.node("a");
    c.resistor("r", a, g, Ohms(1e3)).unwrap();
    c.capacitor("c", a, g, Farads(1e-6)).unwrap();
    let j = c.current_source("j", g, a).unwrap();
    let values = c.values();
    let mut workspace = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let found = workspace.expand(&values, Response::Impedance(a, g)).unwrap();
    // 1/C over s + 1/RC.
    assert!((found.terms[0].coefficients[0] - 1e6).norm() < 1e-6);
    let drive = [(Source::Current(j), Complex64::I)];
    let refused = workspace.expand(&values, Response::Transfer(&drive, Output::Voltage(a, g)));
    assert!(matches!(refused.unwrap_err().kind(), SolveErrorKind::Amplitude { value: 1.0, .. }));
}

/// First order: T/(1 + (ωT)²); an all-pass lattice of second order at ω0: 4Q/ω0; no finite difference comes near 1e-12.
#[test]
fn group_delay_is_exact() {
    let (r, farads) = (1e3, 1e-6);
    let mut c = Circuit::new();
    let g = c.ground();
    let (a, b) = (c.node("a"), c.node("b"));
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(r)).unwrap();
    c.capacitor("c", b, g, Farads(farads)).unwrap();
    let values = c.values();
    let mut workspace = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let drive = [(Source::Voltage(e), ONE)];
    for f in [1e-3, 1.0, 159.0, 1e4, 1e7] {
        let found = workspace.factor(&values, Hertz(f)).unwrap().group_delay(&drive, Output::Voltage(b, g));
        let x = TAU * f * r * farads;
        let wanted = r * farads / (1.0 + x * x);
        close(found.unwrap().known().unwrap(), wanted, 1e-12 * wanted);
    }
    let dead = [(Source::Voltage(e), Complex64::ZERO)];
    let none = workspace.factor(&values, Hertz(1.0)).unwrap().group_delay(&dead, Output::Voltage(b, g));
    assert_eq!(none.unwrap(), Outcome::Undetermined);

    // Lattice all-pass between R and R: series arms L, cross arms C, R = √(L/C): H/H(0) = (1 − s√(LC))/(1 + s√(LC)), delay 2T/(1 + (ωT)²).
    let (l, farads): (f64, f64) = (1e-3, 1e-9);
    let r = (l / farads).sqrt();
    let mut c = Circuit::new();
    let g = c.ground();
    let (s, p, q, m) = (c.node("s"), c.node("p"), c.node("q"), c.node("m"));
    let e = c.voltage_source("e", s, g).unwrap();
    c.resistor("rs", s, p, Ohms(r)).unwrap();
    c.inductor("l1", p, q, Henries(l)).unwrap();
    c.inductor("l2", g, m, Henries(l)).unwrap();
    c.capacitor("c1", p, m, Farads(farads)).unwrap();
    c.capacitor("c2", g, q, Farads(farads)).unwrap();
    c.resistor("rl", q, m, Ohms(r)).unwrap();
    let values = c.values();
    let mut workspace = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let t = (l * farads).sqrt();
    for f in [1e3, 1e5, 159.155e3, 1e6] {
        let drive = [(Source::Voltage(e), ONE)];
        let found = workspace.factor(&values, Hertz(f)).unwrap().group_delay(&drive, Output::Voltage(q, m));
        let x = TAU * f * t;
        let wanted = 2.0 * t / (1.0 + x * x);
        close(found.unwrap().known().unwrap(), wanted, 1e-12 * wanted);
    }
}
