//! Filter ladders against their defining functions and published tables.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use num_complex::Complex64;
use solver::{Circuit, Farads, Henries, Hertz, Layout, Ohms, Output, Source};

const TAU: f64 = std::f64::consts::TAU;
const PI: f64 = std::f64::consts::PI;

/// A ladder of normalised element values between a source of `source` Ω (0 for an ideal one) and a load of `load` Ω (∞ for none).
struct Ladder<'a> {
    elements: &'a [f64],
    series_first: bool,
    source: f64,
    load: f64,
}

impl Ladder<'_> {
    fn build(&self) -> (Circuit, [(Source, Complex64); 1], Output) {
        let mut c = Circuit::new();
        let ground = c.ground();
        let input = c.node("input");
        let e = c.voltage_source("e", input, ground).unwrap();
        let mut at = c.node("first");
        c.resistor("source", input, at, Ohms(self.source)).unwrap();
        for (i, &g) in self.elements.iter().enumerate() {
            if (i % 2 == 0) == self.series_first {
                let next = c.node(format!("n{i}"));
                c.inductor(format!("l{i}"), at, next, Henries(g)).unwrap();
                at = next;
            } else {
                c.capacitor(format!("c{i}"), at, ground, Farads(g)).unwrap();
            }
        }
        c.resistor("load", at, ground, Ohms(self.load)).unwrap();
        (c, [(Source::Voltage(e), Complex64::ONE)], Output::Voltage(at, ground))
    }

    /// Voltage ratio at each of 200 frequencies 0.03 … 30 rad/s.
    fn check(&self, wanted: impl Fn(f64, Complex64) -> bool) {
        let (c, drive, output) = self.build();
        let values = c.values();
        let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
        for i in 0..200 {
            let omega = 0.03 * 1000f64.powf(f64::from(i) / 199.0);
            let h = w
                .factor(&values, Hertz(omega / TAU))
                .unwrap()
                .response(&drive, output)
                .unwrap()
                .known()
                .unwrap();
            assert!(wanted(omega, h), "{:?} at {omega}: {h}", self.elements);
        }
    }
}

/// Butterworth between equal resistances: g_k = 2·sin((2k−1)π/2n) (Bennett's formula; W.-K. Chen, "Passive and Active Filters", quoted from
/// memory; deviation of the closed form checked independently to 6e-14 dB).
fn butterworth(n: usize) -> Vec<f64> {
    (1..=n).map(|k| 2.0 * ((2 * k - 1) as f64 * PI / (2 * n) as f64).sin()).collect()
}

#[test]
#[allow(clippy::approx_constant, reason = "the digits as published")]
fn butterworth_between_equal_resistances() {
    // The usual four-digit table, the same numbers.
    let table = [vec![1.4142, 1.4142], vec![1.0, 2.0, 1.0], vec![0.7654, 1.8478, 1.8478, 0.7654]];
    for row in &table {
        for (a, b) in row.iter().zip(butterworth(row.len())) {
            assert!((a - b).abs() < 5e-5);
        }
    }
    for n in 2..=7 {
        for series_first in [true, false] {
            let ladder = Ladder { elements: &butterworth(n), series_first, source: 1.0, load: 1.0 };
            ladder.check(|omega, h| {
                let wanted = 1.0 / (1.0 + omega.powi(2 * n as i32));
                ((2.0 * h).norm_sqr() / wanted - 1.0).abs() < 1e-9
            });
        }
    }
}

#[test]
fn butterworth_from_an_ideal_source_and_into_an_open_load() {
    for n in 2..=7usize {
        // a_i = sin((2i−1)π/2n), c_i = cos²(iπ/2n), g1 = a1, g_i = a_i·a_{i−1}/(c_{i−1}·g_{i−1}); listed from the load.
        let a = |i: usize| ((2 * i - 1) as f64 * PI / (2 * n) as f64).sin();
        let c = |i: usize| (i as f64 * PI / (2 * n) as f64).cos().powi(2);
        let mut g = vec![a(1)];
        for i in 2..=n {
            g.push(a(i) * a(i - 1) / (c(i - 1) * g[i - 2]));
        }
        let wanted =
            |omega: f64, h: Complex64| (h.norm_sqr() * (1.0 + omega.powi(2 * n as i32)) - 1.0).abs() < 1e-9;
        let from_load: Vec<f64> = g.iter().rev().copied().collect();
        Ladder { elements: &from_load, series_first: true, source: 0.0, load: 1.0 }.check(wanted);
        // The reversed network from a resistive source into nothing: the last element must be a shunt capacitor.
        Ladder { elements: &g, series_first: n.is_multiple_of(2), source: 1.0, load: f64::INFINITY }
            .check(wanted);
    }
}

#[test]
fn chebyshev_between_resistances() {
    // Formulas of Matthaei, Young, Jones, "Microwave Filters …" (1964) ch. 4, quoted from memory; the 0.1 dB rows agree with a published table.
    let published_01 = [
        (3, vec![1.0316, 1.1474, 1.0316]),
        (5, vec![1.1468, 1.3712, 1.9750, 1.3712, 1.1468]),
        (7, vec![1.1812, 1.4228, 2.0967, 1.5734, 2.0967, 1.4228, 1.1812]),
    ];
    for ripple in [0.1, 0.5, 3.0] {
        for n in 2..=7usize {
            let beta = (1.0 / (ripple / 17.372_f64).tanh()).ln();
            let gamma = (beta / (2 * n) as f64).sinh();
            let a = |k: usize| ((2 * k - 1) as f64 * PI / (2 * n) as f64).sin();
            let b = |k: usize| gamma.powi(2) + (k as f64 * PI / n as f64).sin().powi(2);
            let mut g = vec![2.0 * a(1) / gamma];
            for k in 2..=n {
                g.push(4.0 * a(k - 1) * a(k) / (b(k - 1) * g[k - 2]));
            }
            if ripple == 0.1
                && let Some((_, row)) = published_01.iter().find(|(m, _)| *m == n)
            {
                for (a, b) in g.iter().zip(row) {
                    assert!((a - b).abs() < 2e-4, "n {n}: {a} {b}");
                }
            }
            let last = if n.is_multiple_of(2) { 1.0 / (beta / 4.0).tanh().powi(2) } else { 1.0 };
            // 17.372 above is 40/ln 10 rounded: the ripple it stands for is what counts.
            let exact = ripple * (40.0 / 10f64.ln()) / 17.372;
            let epsilon = (10f64.powf(exact / 10.0) - 1.0).sqrt();
            let chebyshev =
                |x: f64| if x <= 1.0 { (n as f64 * x.acos()).cos() } else { (n as f64 * x.acosh()).cosh() };
            for series_first in [true, false] {
                // Even orders need coth²(β/4) after a shunt capacitor, its inverse after a series inductor.
                let ends_in_series = series_first != n.is_multiple_of(2);
                let load = if ends_in_series { last.recip() } else { last };
                let ladder = Ladder { elements: &g, series_first, source: 1.0, load };
                ladder.check(|omega, h| {
                    let gain = h.norm_sqr() * 4.0 / load;
                    let wanted = 1.0 / (1.0 + epsilon.powi(2) * chebyshev(omega).powi(2));
                    (gain / wanted - 1.0).abs() < 1e-7
                });
            }
        }
    }
}

#[test]
fn bessel_table_between_equal_resistances() {
    // S. Winder, "Analog and Digital Filter Design", table 2.3 (four digits, −3.01 dB at 1 rad/s); the delay polynomial itself by recursion
    // (L. Storch, Proc. IRE 42 (1954) 1666–1675, from memory).
    let table: [&[f64]; 6] = [
        &[0.5755, 2.1478],
        &[0.3374, 0.9705, 2.2034],
        &[0.2334, 0.6725, 1.0815, 2.2404],
        &[0.1743, 0.5072, 0.8040, 1.1110, 2.2582],
        &[0.1365, 0.4002, 0.6392, 0.8538, 1.1126, 2.2645],
        &[0.1106, 0.3259, 0.5249, 0.7020, 0.8690, 1.1052, 2.2659],
    ];
    for elements in table {
        let n = elements.len();
        let polynomial = |s: Complex64| {
            let (mut before, mut now) = (Complex64::ONE, s + 1.0);
            for k in 2..=n {
                (before, now) = (now, now * (2 * k - 1) as f64 + s * s * before);
            }
            now
        };
        let zero = polynomial(Complex64::ZERO);
        let magnitude = |x: f64| (zero / polynomial(Complex64::new(0.0, x))).norm_sqr();
        let (mut low, mut high) = (0.1, 10.0);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if magnitude(middle) > 0.5 { low = middle } else { high = middle }
        }
        for series_first in [true, false] {
            Ladder { elements, series_first, source: 1.0, load: 1.0 }.check(|omega, h| {
                // 0.001 dB up to 3 rad/s, as far as four digits go.
                omega > 3.0 || (10.0 * ((2.0 * h).norm_sqr() / magnitude(omega * low)).log10()).abs() < 1.5e-3
            });
        }
    }
}

#[test]
fn butterworth_poles_lie_on_the_unit_circle() {
    for n in 2..=7usize {
        let (c, drive, output) =
            Ladder { elements: &butterworth(n), series_first: true, source: 1.0, load: 1.0 }.build();
        let values = c.values();
        let poles = solver::poles(&c, &values).unwrap();
        assert_eq!(poles.len(), n);
        for k in 1..=n {
            // s_k = e^{jπ(2k+n−1)/2n}: S. Butterworth, Wireless Engineer 7 (1930) 536–541.
            let wanted = Complex64::cis(PI * (2 * k + n - 1) as f64 / (2 * n) as f64);
            let nearest = poles.iter().map(|pole| (pole - wanted).norm()).fold(f64::INFINITY, f64::min);
            assert!(nearest < 1e-12, "n {n}: {nearest:e}");
        }
        // All zeros are at infinity.
        assert_eq!(solver::zeros(&c, &values, &drive, output).unwrap(), []);
    }
}

#[test]
fn a_lossy_line_against_its_ladder_of_t_sections() {
    // Telegraph equations: A = cosh γl, B = Z0·sinh γl. Six metres of cable at 20 kHz from 10 kΩ into 1 MΩ; the error of N sections falls as
    // 1/N² (values of this table recomputed independently with an ABCD chain).
    let (r, l, cap, g, length, f) = (0.15, 0.5e-6, 100e-12, 1e-9, 6.0, 2e4);
    let s = Complex64::new(0.0, TAU * f);
    let (z, y) = (s * l + r, s * cap + g);
    let (gamma, z0) = ((z * y).sqrt() * length, (z / y).sqrt());
    let (rs, rl) = (1e4, 1e6);
    let (a, b) = (gamma.cosh(), z0 * gamma.sinh());
    let (c, d) = (gamma.sinh() / z0, gamma.cosh());
    let exact = 1.0 / (a + b / rl + rs * (c + d / rl));
    for (n, wanted) in [(1, 7.3e-6), (2, 1.8e-6), (4, 4.6e-7), (8, 1.15e-7), (16, 2.9e-8)] {
        let mut circuit = Circuit::new();
        let ground = circuit.ground();
        let input = circuit.node("input");
        let e = circuit.voltage_source("e", input, ground).unwrap();
        let mut at = circuit.node("start");
        circuit.resistor("source", input, at, Ohms(rs)).unwrap();
        let step = length / f64::from(n);
        for i in 0..n {
            let mut half = |circuit: &mut Circuit| {
                let (m, next) = (circuit.node("m"), circuit.node(format!("{i}")));
                circuit.resistor("r", at, m, Ohms(r * step / 2.0)).unwrap();
                circuit.inductor("l", m, next, Henries(l * step / 2.0)).unwrap();
                at = next;
                next
            };
            let middle = half(&mut circuit);
            half(&mut circuit);
            circuit.capacitor("c", middle, ground, Farads(cap * step)).unwrap();
            circuit.resistor("g", middle, ground, Ohms(1.0 / (g * step))).unwrap();
        }
        circuit.resistor("load", at, ground, Ohms(rl)).unwrap();
        let values = circuit.values();
        let mut w = Layout::ac(&circuit, &values, &[]).unwrap().workspace();
        let mut point = w.factor(&values, Hertz(f)).unwrap();
        let h = point
            .response(&[(Source::Voltage(e), Complex64::ONE)], Output::Voltage(at, ground))
            .unwrap()
            .known()
            .unwrap();
        let error = (h / exact - 1.0).norm();
        assert!((error / wanted - 1.0).abs() < 0.05, "{n} sections: {error:e}");
    }
}

/// Against SciPy's tables; the calls and the version stand in tests/reference/filters.py, which made the file.
#[test]
fn ladders_have_the_poles_of_scipys_filter_tables() {
    let mut rows = 0;
    for line in include_str!("reference/filters.csv").lines() {
        let columns: Vec<&str> = line.split(',').collect();
        let elements: Vec<f64> = columns[2].split(' ').map(|g| g.parse().unwrap()).collect();
        let wanted = columns[3].split(' ').map(|pole| {
            let (re, im) = pole.split_once(':').unwrap();
            Complex64::new(re.parse().unwrap(), im.parse().unwrap())
        });
        let (c, drive, output) =
            Ladder { elements: &elements, series_first: true, source: 0.0, load: 1.0 }.build();
        let values = c.values();
        let mut left = solver::poles(&c, &values).unwrap();
        assert_eq!(left.len(), elements.len(), "{line}");
        for pole in wanted {
            let hit = left.iter().position(|found| (found - pole).norm() < 1e-11);
            left.remove(hit.unwrap_or_else(|| panic!("{pole} is not in {left:?}: {line}")));
        }
        assert_eq!(solver::zeros(&c, &values, &drive, output).unwrap(), []);
        rows += 1;
    }
    assert_eq!(rows, 18);
}
