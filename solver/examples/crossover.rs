//! A loudspeaker crossover: third-order Butterworth at 2 kHz into 8 Ω, then with a real driver in place of the resistor.
//!
//! With resistors, low and high add up to an all-pass: |L|² + |H|² = 1 and |L + H| = 1 at every frequency (S. P. Lipshitz, J. Vanderkooy,
//! J. Audio Eng. Soc. 31 (1983) 2–28, quoted from memory; the identities are algebra). A driver's voice coil is no resistor, and the example
//! shows by how much that misses, and which part moves the result most.
//!
//! `cargo run -p solver --example crossover`
#![allow(clippy::disallowed_methods, reason = "an example prints: bits need not be equal everywhere")]

use num_complex::Complex64;
use solver::{
    Circuit, Element, Farads, Henries, Hertz, Inductor, Layout, Node, Ohms, Output, Response, Source,
};

const CORNER: f64 = 2e3;
const LOAD: f64 = 8.0;

/// Values of a third-order Butterworth section between a stiff source and its load: 3/2, 4/3, 1/2.
const ELEMENTS: [f64; 3] = [1.5, 4.0 / 3.0, 0.5];

fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

struct Crossover {
    circuit: Circuit,
    amplifier: Source,
    low: Node,
    high: Node,
    voice_coil: Inductor,
}

fn build() -> Result<Crossover, solver::BuildError> {
    let omega = std::f64::consts::TAU * CORNER;
    let henries = |g: f64| Henries(g * LOAD / omega);
    let farads = |g: f64| Farads(g / (LOAD * omega));
    let mut c = Circuit::new();
    let ground = c.ground();
    let [input, l1, low, h1, high, coil] =
        ["amplifier", "low, middle", "woofer", "high, middle", "tweeter", "inside the woofer"]
            .map(|name| c.node(name));
    let amplifier = Source::Voltage(c.voltage_source("amplifier", input, ground)?);
    c.inductor("low L1", input, l1, henries(ELEMENTS[0]))?;
    c.capacitor("low C2", l1, ground, farads(ELEMENTS[1]))?;
    c.inductor("low L3", l1, low, henries(ELEMENTS[2]))?;
    c.resistor("woofer R", low, coil, Ohms(LOAD))?;
    // 0 H for now: a plain resistor.
    let voice_coil = c.inductor("woofer L", coil, ground, Henries(0.0))?;
    // The high-pass has the inverse elements.
    c.capacitor("high C1", input, h1, farads(1.0 / ELEMENTS[0]))?;
    c.inductor("high L2", h1, ground, henries(1.0 / ELEMENTS[1]))?;
    c.capacitor("high C3", h1, high, farads(1.0 / ELEMENTS[2]))?;
    c.resistor("tweeter R", high, ground, Ohms(LOAD))?;
    Ok(Crossover { circuit: c, amplifier, low, high, voice_coil })
}

/// Prints both tables.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    let Crossover { circuit, amplifier, low, high, voice_coil } = build()?;
    let ground = circuit.ground();
    let drive = [(amplifier, Complex64::ONE)];
    for (title, henries) in [("8 Ω resistors", 0.0), ("a woofer of 8 Ω + 0.5 mH", 0.5e-3)] {
        let mut values = circuit.values();
        values.set_inductance(voice_coil, Henries(henries))?;
        let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
        println!("{title}\n      Hz    low, dB   high, dB   sum of powers, dB   sum of voltages, dB");
        for f in [200.0, 500.0, 1e3, 2e3, 4e3, 8e3, 16e3] {
            let mut point = workspace.factor(&values, Hertz(f))?;
            let mut at = |node| -> Result<Complex64, Box<dyn std::error::Error>> {
                Ok(point.response(&drive, Output::Voltage(node, ground))?.known().ok_or("one island")?)
            };
            let (l, h) = (at(low)?, at(high)?);
            let powers = (l.norm_sqr() + h.norm_sqr()).sqrt();
            let voltages = (l + h).norm();
            println!(
                "{f:8.0} {:10.2} {:10.2} {:19.3} {:21.3}",
                decibels(l.norm()),
                decibels(h.norm()),
                decibels(powers),
                decibels(voltages)
            );
            if henries == 0.0 {
                assert!((powers - 1.0).abs() < 1e-12 && (voltages - 1.0).abs() < 1e-12);
            }
        }
        println!();
    }

    let values = circuit.values();
    let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
    let mut point = workspace.factor(&values, Hertz(CORNER))?;
    let low_pass = Response::Transfer(&drive, Output::Voltage(low, ground));
    let sensitivities = point.sensitivities(low_pass)?.known().ok_or("one island")?;
    println!("at 2 kHz a part 1 % larger moves the woofer's level by");
    for sensitivity in sensitivities.list() {
        if let (Some(relative), Element::Inductor(_) | Element::Capacitor(_)) =
            (sensitivity.relative, sensitivity.element)
            && relative.re.abs() > 1e-9
        {
            println!(
                "  {:8} {:+.3} dB",
                circuit.name(sensitivity.element),
                0.01 * relative.re * 20.0 / std::f64::consts::LN_10
            );
        }
    }
    Ok(())
}
