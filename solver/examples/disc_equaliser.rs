//! The equaliser for playing discs: time constants 3180, 318 and 75 µs (IEC 60098), around one operational amplifier.
//!
//! The feedback of a non-inverting amplifier is two RC pairs in series, Z = R1∥C1 + R2∥C2. Its poles lie at R1C1 = 3180 µs and R2C2 = 75 µs; its
//! zero at (R1∥R2)(C1 + C2), which is 318 µs when R1/R2 = (3180 − 318)/(318 − 75). The network's poles and zeros show whether the parts
//! fit; the response is then held against the standard's curve.
//!
//! `cargo run -p solver --example disc_equaliser`
#![allow(clippy::disallowed_methods, reason = "an example prints: bits need not be equal everywhere")]

use num_complex::Complex64;
use solver::{Circuit, Farads, Hertz, Layout, Ohms, Output, Source, poles, zeros};

const MICROSECONDS: [f64; 3] = [3180.0, 318.0, 75.0];

/// The standard's curve: (1 + s·T2)/((1 + s·T1)(1 + s·T3)).
fn standard(f: f64) -> Complex64 {
    let [t1, t2, t3] = MICROSECONDS.map(|t| Complex64::new(1.0, std::f64::consts::TAU * f * t * 1e-6));
    t2 / (t1 * t3)
}

fn decibels(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Prints the table.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    // 10 nF for the upper pair sets the impedance.
    let [t1, t2, t3] = MICROSECONDS.map(|t| t * 1e-6);
    let c2 = 10e-9;
    let r2 = t3 / c2;
    let r1 = r2 * (t1 - t2) / (t2 - t3);
    let c1 = t1 / r1;

    let mut circuit = Circuit::new();
    let ground = circuit.ground();
    let [input, minus, middle, output] =
        ["input", "minus", "middle", "output"].map(|name| circuit.node(name));
    let disc = circuit.voltage_source("pickup of the player", input, ground)?;
    circuit.op_amp("amplifier", input, minus, output, ground)?;
    // From so small a resistance the gain of 1 that a non-inverting stage keeps is 80 dB under that at 1 kHz.
    circuit.resistor("foot", minus, ground, Ohms(r2 * 1e-4))?;
    circuit.resistor("R1", minus, middle, Ohms(r1))?;
    circuit.capacitor("C1", minus, middle, Farads(c1))?;
    circuit.resistor("R2", middle, output, Ohms(r2))?;
    circuit.capacitor("C2", middle, output, Farads(c2))?;
    let values = circuit.values();

    println!("R1 {:.2} kΩ  C1 {:.2} nF  R2 {:.2} kΩ  C2 {:.2} nF", r1 / 1e3, c1 * 1e9, r2 / 1e3, c2 * 1e9);
    for pole in poles(&circuit, &values)? {
        println!("pole: {:8.2} µs", -1e6 / pole.re);
    }
    let out = Output::Voltage(output, ground);
    let drive = [(Source::Voltage(disc), Complex64::ONE)];
    for zero in zeros(&circuit, &values, &drive, out)? {
        println!("zero: {:8.2} µs", -1e6 / zero.re);
    }

    let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
    let mut level = |f: f64| -> Result<f64, Box<dyn std::error::Error>> {
        let response = workspace.factor(&values, Hertz(f))?.response(&drive, out)?;
        Ok(response.known().ok_or("one island")?.norm())
    };
    let at_1k = level(1e3)?;
    println!("\n       Hz   here, dB   IEC 60098, dB   (re 1 kHz)");
    for f in [20.0, 50.05, 100.0, 500.5, 1e3, 2122.0, 5e3, 10e3, 20e3] {
        let here = decibels(level(f)? / at_1k);
        let wanted = decibels(standard(f).norm() / standard(1e3).norm());
        println!("{f:9.2} {here:10.3} {wanted:15.3}");
        assert!((here - wanted).abs() < 0.02, "{f} Hz: {here} dB, {wanted} dB");
    }
    Ok(())
}
