//! Classic networks against published results. Each check names its source; "algebra" means that the closed form follows from the network in a
//! few lines and was recomputed independently.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use num_complex::Complex64;
use solver::{
    BOLTZMANN, Circuit, Farads, Henries, Hertz, Kelvin, Layout, Node, Noise, Ohms, Output, Siemens, Source,
    Values, VoltageSource, Workspace,
};

const TAU: f64 = std::f64::consts::TAU;

struct Bench {
    circuit: Circuit,
    values: Values,
    workspace: Workspace,
}

impl Bench {
    fn new(circuit: Circuit) -> Bench {
        let values = circuit.values();
        let workspace = Layout::ac(&circuit, &values, &[]).unwrap().workspace();
        Bench { circuit, values, workspace }
    }

    fn response(&mut self, f: f64, e: VoltageSource, a: Node, b: Node) -> Complex64 {
        let mut point = self.workspace.factor(&self.values, Hertz(f)).unwrap();
        point
            .response(&[(Source::Voltage(e), Complex64::ONE)], Output::Voltage(a, b))
            .unwrap()
            .known()
            .unwrap()
    }

    fn impedance(&mut self, f: f64, a: Node, b: Node) -> Complex64 {
        self.workspace.factor(&self.values, Hertz(f)).unwrap().impedance(a, b).unwrap().known().unwrap()
    }

    fn density(&mut self, f: f64, noise: &Noise, a: Node, b: Node) -> f64 {
        self.workspace
            .factor(&self.values, Hertz(f))
            .unwrap()
            .noise_density(noise, Output::Voltage(a, b))
            .unwrap()
            .known()
            .unwrap()
    }
}

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "{found} against {wanted}");
}

#[test]
fn a_loaded_resonant_source() {
    // H = 1/[(1 + R/Rp) − ω²LC + jω(L/Rp + RC)]; ω0 = √((1 + R/Rp)/LC); Q = √(LC(1 + R/Rp))/(L/Rp + RC); peak at ω0·√(1 − 1/2Q²). Algebra;
    // the numbers by brute force on a grid, six digits. 2.5 H, 6 kΩ, 500 pF.
    let table = [
        (62.5e3, 4712.7, 0.8608, 2687.4, -0.311),
        (125e3, 4608.4, 1.5736, 4116.9, 3.993),
        (250e3, 4555.3, 2.7521, 4402.4, 8.733),
        (500e3, 4528.5, 4.4459, 4470.9, 12.911),
        (1e6, 4515.1, 6.4475, 4487.8, 16.162),
        (f64::INFINITY, 4501.6, 11.785, 4493.5, 21.434),
    ];
    for (rp, f0, q, peak, height) in table {
        let mut c = Circuit::new();
        let (a, b, out, g) = (c.node("a"), c.node("b"), c.node("out"), c.ground());
        let e = c.voltage_source("e", a, g).unwrap();
        c.resistor("r", a, b, Ohms(6e3)).unwrap();
        c.inductor("l", b, out, Henries(2.5)).unwrap();
        c.capacitor("c", out, g, Farads(500e-12)).unwrap();
        c.resistor("rp", out, g, Ohms(rp)).unwrap();
        let mut bench = Bench::new(c);
        // The top lies where the slope of |H|² by ln f changes sign.
        let mut slope = |f: f64| {
            let mut point = bench.workspace.factor(&bench.values, Hertz(f)).unwrap();
            let drive = [(Source::Voltage(e), Complex64::ONE)];
            let (h, dh) = point.response_and_slope(&drive, Output::Voltage(out, g)).unwrap().known().unwrap();
            2.0 * (h.conj() * dh).re
        };
        let (mut low, mut high) = (1e3, 1e4);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if slope(middle) > 0.0 { low = middle } else { high = middle }
        }
        close(low, peak, 0.06);
        close(20.0 * bench.response(low, e, out, g).norm().log10(), height, 6e-4);
        // ω0 and Q from the poles.
        let pole = solver::poles(&bench.circuit, &bench.values).unwrap()[0];
        close(pole.norm() / TAU, f0, 0.06);
        close(pole.norm() / (-2.0 * pole.re), q, 6e-4);
        let exact_peak = pole.norm() * (1.0 - 2.0 * (pole.re / pole.norm()).powi(2)).sqrt() / TAU;
        close(low / exact_peak, 1.0, 1e-9);
    }
}

#[test]
fn a_symmetric_twin_t() {
    // |H| = |(1 − x²)/(1 − x² + 4jx)|, x = f·2πRC; −3 dB at x = √5 ∓ 2. Algebra. R = 10 kΩ, C = 10 nF: 1591.549 Hz.
    let mut c = Circuit::new();
    let (input, p, q, out, g) = (c.node("input"), c.node("p"), c.node("q"), c.node("out"), c.ground());
    let e = c.voltage_source("e", input, g).unwrap();
    c.resistor("r1", input, p, Ohms(1e4)).unwrap();
    c.resistor("r2", p, out, Ohms(1e4)).unwrap();
    c.capacitor("c3", p, g, Farads(2e-8)).unwrap();
    c.capacitor("c1", input, q, Farads(1e-8)).unwrap();
    c.capacitor("c2", q, out, Farads(1e-8)).unwrap();
    c.resistor("r3", q, g, Ohms(5e3)).unwrap();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let zeros = solver::zeros(&c, &c.values(), &drive, Output::Voltage(out, g)).unwrap();
    let mut bench = Bench::new(c);
    let f0 = 1.0 / (TAU * 1e4 * 1e-8);
    close(f0, 1591.549, 1e-3);
    assert!(bench.response(f0, e, out, g).norm() < 1e-14);
    for x in [0.01, 0.2, 5f64.sqrt() - 2.0, 0.9, 1.3, 5f64.sqrt() + 2.0, 50.0] {
        let wanted = (1.0 - x * x) / Complex64::new(1.0 - x * x, 4.0 * x);
        assert!((bench.response(f0 * x, e, out, g) - wanted).norm() < 1e-13, "{x}");
    }
    close(bench.response(f0 * (5f64.sqrt() - 2.0), e, out, g).norm_sqr(), 0.5, 1e-12);
    // The null is a pair of zeros on the imaginary axis.
    let on_axis = zeros
        .iter()
        .filter(|zero| (*zero - Complex64::new(0.0, zero.im.signum() * TAU * f0)).norm() < 1e-8 * TAU * f0)
        .count();
    assert_eq!(on_axis, 2, "{zeros:?}");
}

#[test]
fn a_wien_divider_and_a_bridged_t() {
    // Wien: H(1/2πRC) = 1/3 with no phase. Algebra.
    let mut c = Circuit::new();
    let (input, m, out, g) = (c.node("input"), c.node("m"), c.node("out"), c.ground());
    let e = c.voltage_source("e", input, g).unwrap();
    c.resistor("r1", input, m, Ohms(1e4)).unwrap();
    c.capacitor("c1", m, out, Farads(1e-8)).unwrap();
    c.resistor("r2", out, g, Ohms(1e4)).unwrap();
    c.capacitor("c2", out, g, Farads(1e-8)).unwrap();
    let h = Bench::new(c).response(1.0 / (TAU * 1e-4), e, out, g);
    assert!((h - 1.0 / 3.0).norm() < 1e-15);
    // Bridged T: f0 = 1/(2πC√(R1R2)), |H| = 2R1/(2R1 + R2). Algebra; 1 kΩ and 100 kΩ give .0196078.
    let mut c = Circuit::new();
    let (input, m, out, g) = (c.node("input"), c.node("m"), c.node("out"), c.ground());
    let e = c.voltage_source("e", input, g).unwrap();
    c.capacitor("c1", input, m, Farads(1e-8)).unwrap();
    c.capacitor("c2", m, out, Farads(1e-8)).unwrap();
    c.resistor("shunt", m, g, Ohms(1e3)).unwrap();
    c.resistor("bridge", input, out, Ohms(1e5)).unwrap();
    let h = Bench::new(c).response(1.0 / (TAU * 1e-8 * 1e8f64.sqrt()), e, out, g);
    close(h.norm(), 2e3 / (2e3 + 1e5), 1e-14);
    close(h.norm(), 0.019_607_8, 5e-8);
}

/// Two equal coupled series loops, the source in the first.
fn loops(k: f64, r: f64) -> (Circuit, VoltageSource, [Node; 2]) {
    let mut c = Circuit::new();
    let g = c.ground();
    let (input, a1, b1) = (c.node("input"), c.node("a1"), c.node("b1"));
    let e = c.voltage_source("e", input, g).unwrap();
    c.resistor("r1", input, a1, Ohms(r)).unwrap();
    let l1 = c.inductor("l1", a1, b1, Henries(1.0)).unwrap();
    c.capacitor("c1", b1, g, Farads(1.0)).unwrap();
    let (a2, b2) = (c.node("a2"), c.node("b2"));
    c.resistor("r2", g, a2, Ohms(r)).unwrap();
    let l2 = c.inductor("l2", a2, b2, Henries(1.0)).unwrap();
    c.capacitor("c2", b2, g, Farads(1.0)).unwrap();
    c.couple(l1, l2, k).unwrap();
    (c, e, [g, a2])
}

#[test]
fn two_coupled_resonant_loops() {
    // Without loss: f0/√(1 ± k); k = .1 gives .953463 and 1.054093. Algebra (also in lecture notes on coupled resonators).
    let (c, ..) = loops(0.1, 0.0);
    let poles = solver::poles(&c, &c.values()).unwrap();
    let wanted = [1.0 / 1.1f64.sqrt(), 1.0 / 0.9f64.sqrt()];
    close(wanted[0], 0.953_463, 5e-7);
    close(wanted[1], 1.054_093, 5e-7);
    for w in wanted {
        assert!(poles.iter().any(|pole| (pole - Complex64::new(0.0, w)).norm() < 1e-12), "{poles:?}");
    }
    // Q = 50: |I2|·R/V tops out at .5 for k ≥ 1/Q, at .4 for kQ = .5; peaks of kQ = 2 at .98321 and 1.01789, of kQ = 4 at .96347 and 1.04125
    // (recomputed independently).
    let r = 0.02;
    for (kq, top, peaks) in [
        (0.5, 0.4, vec![]),
        (1.0, 0.5, vec![]),
        (2.0, 0.5, vec![0.98321, 1.01789]),
        (4.0, 0.5, vec![0.96347, 1.04125]),
    ] {
        let (c, e, [g, a2]) = loops(kq / 50.0, r);
        let mut bench = Bench::new(c);
        let mut size = |omega: f64| bench.response(omega / TAU, e, g, a2).norm();
        let grid: Vec<(f64, f64)> =
            (0..60_001).map(|i| 0.9 + f64::from(i) * 4e-6).map(|omega| (omega, size(omega))).collect();
        let largest = grid.iter().map(|(_, size)| *size).fold(0.0, f64::max);
        close(largest, top, 1e-4);
        let found: Vec<f64> =
            grid.windows(3).filter(|w| w[1].1 > w[0].1 && w[1].1 > w[2].1).map(|w| w[1].0).collect();
        if !peaks.is_empty() {
            assert_eq!(found.len(), peaks.len(), "{found:?}");
            found.iter().zip(&peaks).for_each(|(found, peak)| close(*found, *peak, 1e-5));
        }
    }
}

#[test]
fn coupled_coils_in_series_and_in_parallel() {
    // Series L1 + L2 ± 2M; parallel (L1L2 − M²)/(L1 + L2 ∓ 2M). Textbook; 2 H, 3 H, k = .2.
    let connect = |l1: f64, l2: f64, k: f64, series: bool, aiding: bool| {
        let mut c = Circuit::new();
        let (a, m, g) = (c.node("a"), c.node("m"), c.ground());
        let (start, finish) = if series { (m, g) } else { (a, g) };
        let one = c.inductor("l1", a, if series { m } else { g }, Henries(l1)).unwrap();
        let (p, q) = if aiding { (start, finish) } else { (finish, start) };
        let two = c.inductor("l2", p, q, Henries(l2)).unwrap();
        c.couple(one, two, k).unwrap();
        Bench::new(c).impedance(50.0, a, g).im / (TAU * 50.0)
    };
    close(connect(2.0, 3.0, 0.2, true, true), 5.979_796, 5e-7);
    close(connect(2.0, 3.0, 0.2, true, false), 4.020_204, 5e-7);
    close(connect(2.0, 3.0, 0.2, false, true), 1.432_763, 5e-7);
    close(connect(2.0, 3.0, 0.2, false, false), 0.963_244, 5e-7);
    // Equal coils: series aiding over parallel aiding is 4 for every k.
    for k in [-0.999, -0.5, 0.0, 0.3, 0.99, 1.0] {
        let ratio = connect(1.7, 1.7, k, true, true) / connect(1.7, 1.7, k, false, true);
        close(ratio, 4.0, 1e-9);
    }
}

#[test]
fn an_lc_lattice_passes_all() {
    // |H| = 1 and phase −2·atan(ω√(LC)) with R = √(L/C). Textbook.
    let (l, cap) = (1e-3_f64, 1e-9_f64);
    let r = (l / cap).sqrt();
    let mut c = Circuit::new();
    let (a, b, p, q, g) = (c.node("a"), c.node("b"), c.node("p"), c.node("q"), c.ground());
    let e = c.voltage_source("e", a, b).unwrap();
    c.inductor("l1", a, p, Henries(l)).unwrap();
    c.inductor("l2", b, q, Henries(l)).unwrap();
    c.capacitor("c1", a, q, Farads(cap)).unwrap();
    c.capacitor("c2", b, p, Farads(cap)).unwrap();
    c.resistor("load", p, q, Ohms(r)).unwrap();
    c.resistor("somewhere", q, g, Ohms(1e6)).unwrap();
    let mut bench = Bench::new(c);
    for f in [1e2, 1e4, 1.59e5, 1e6] {
        let h = bench.response(f, e, p, q);
        let wanted = Complex64::cis(-2.0 * (TAU * f * (l * cap).sqrt()).atan());
        assert!((h - wanted).norm() < 1e-12, "{f}: {h}");
    }
}

#[test]
fn a_sallen_key_low_pass() {
    // R. P. Sallen, E. L. Key, IRE Trans. Circuit Theory 2 (1955) 74–85: ω0 = 1/√(R1R2C1C2), Q = √(R1R2C1C2)/(C2(R1 + R2)) at unity gain.
    // 10 kΩ, 10 kΩ, 20 nF, 10 nF: 1125.395 Hz, .70711.
    let mut c = Circuit::new();
    let (input, m, p, out, g) = (c.node("input"), c.node("m"), c.node("p"), c.node("out"), c.ground());
    let e = c.voltage_source("e", input, g).unwrap();
    c.resistor("r1", input, m, Ohms(1e4)).unwrap();
    c.resistor("r2", m, p, Ohms(1e4)).unwrap();
    c.capacitor("c1", m, out, Farads(2e-8)).unwrap();
    c.capacitor("c2", p, g, Farads(1e-8)).unwrap();
    c.op_amp("follower", p, out, out, g).unwrap();
    let poles = solver::poles(&c, &c.values()).unwrap();
    assert_eq!(poles.len(), 2);
    close(poles[0].norm() / TAU, 1125.395, 5e-4);
    close(poles[0].norm() / (-2.0 * poles[0].re), 0.5_f64.sqrt(), 1e-12);
    let mut bench = Bench::new(c);
    let w0 = 1.0 / (1e8f64 * 2e-16).sqrt();
    for x in [0.1, 1.0, 3.0] {
        let s = Complex64::new(0.0, x);
        let h = bench.response(w0 * x / TAU, e, out, g);
        assert!((h - 1.0 / (s * s + s * 2f64.sqrt() + 1.0)).norm() < 1e-13);
    }
}

#[test]
fn a_gyrator_makes_an_inductance() {
    // B. D. H. Tellegen, Philips Res. Rep. 3 (1948) 81–101: L = C/g². 1 kΩ and 100 kΩ, 100 nF: 10 H.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.vccs("forward", g, b, a, g, Siemens(1e-3)).unwrap();
    c.vccs("back", a, g, b, g, Siemens(1e-5)).unwrap();
    c.capacitor("c", b, g, Farads(1e-7)).unwrap();
    let mut bench = Bench::new(c);
    for f in [1.0, 1e3, 1e5] {
        let z = bench.impedance(f, a, g);
        assert!((z / Complex64::new(0.0, TAU * f * 10.0) - 1.0).norm() < 1e-13, "{z}");
    }
}

#[test]
fn thermal_noise_of_plain_resistors() {
    // √(4kTR) at 293.15 K: J. B. Johnson, Phys. Rev. 32 (1928) 97; k of the SI (2019). 1 kΩ: 4.0236 nV/√Hz by the formula.
    for r in [0.02, 5.0, 1e3, 1e6] {
        let mut c = Circuit::new();
        let (a, g) = (c.node("a"), c.ground());
        c.resistor("r", a, g, Ohms(r)).unwrap();
        let noise = Noise::thermal(&c, Kelvin(293.15));
        let density = Bench::new(c).density(1e3, &noise, a, g);
        close(density.sqrt() / (4.0 * BOLTZMANN * 293.15 * r).sqrt(), 1.0, 1e-14);
        if r == 1e3 {
            close(density.sqrt() * 1e9, 4.0236, 1e-4);
        }
    }
}

#[test]
fn the_whole_noise_of_a_capacitor_is_kt_over_c() {
    // Equipartition: ∫ density df = kT/C, whatever the resistances and coils; by trapezoids in ln f, which converge exponentially here.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.resistor("r1", a, g, Ohms(4.7e3)).unwrap();
    c.inductor("l", a, b, Henries(0.5)).unwrap();
    c.resistor("r2", b, g, Ohms(2.2e5)).unwrap();
    c.capacitor("c", b, g, Farads(1e-9)).unwrap();
    let noise = Noise::thermal(&c, Kelvin(300.0));
    let mut bench = Bench::new(c);
    let step = 0.02;
    let total: f64 = (-1200..1800)
        .map(|i| (step * f64::from(i)).exp())
        .map(|f| bench.density(f, &noise, b, g) * f * step)
        .sum();
    close(total / (BOLTZMANN * 300.0 / 1e-9), 1.0, 1e-6);
}
