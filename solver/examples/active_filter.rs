//! A fourth-order Butterworth low-pass of two op-amp sections (R. P. Sallen, E. L. Key, IRE Trans. Circuit Theory 2 (1955) 74–85), looked at
//! in every way: poles, corner, noise, and which part matters.
//!
//! `cargo run -p solver --example active_filter`
#![allow(clippy::disallowed_methods, reason = "an example prints: bits need not be equal everywhere")]

use num_complex::Complex64;
use solver::{Circuit, Farads, Hertz, Kelvin, Layout, Node, Noise, Ohms, Output, Response, Source, poles};

const CORNER: f64 = 1e3;
const R: f64 = 10e3;

/// A unity-gain section with equal resistors: ω0 = 1/(R√(C1C2)), Q = ½√(C1/C2).
fn section(c: &mut Circuit, name: &str, input: Node, q: f64) -> Result<Node, solver::BuildError> {
    let ground = c.ground();
    let [middle, plus, output] = ["middle", "plus", "output"].map(|part| c.node(format!("{name} {part}")));
    let unit = 1.0 / (std::f64::consts::TAU * CORNER * R);
    c.resistor(format!("{name} R1"), input, middle, Ohms(R))?;
    c.resistor(format!("{name} R2"), middle, plus, Ohms(R))?;
    c.capacitor(format!("{name} C1"), middle, output, Farads(unit * 2.0 * q))?;
    c.capacitor(format!("{name} C2"), plus, ground, Farads(unit / (2.0 * q)))?;
    c.op_amp(format!("{name} amplifier"), plus, output, output, ground)?;
    Ok(output)
}

/// Prints what there is to know.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut circuit = Circuit::new();
    let ground = circuit.ground();
    let input = circuit.node("input");
    let generator = Source::Voltage(circuit.voltage_source("generator", input, ground)?);
    // Q of the two pole pairs: 1/(2 sin 22.5°) and 1/(2 sin 67.5°).
    let q = [22.5_f64, 67.5].map(|degrees| 0.5 / degrees.to_radians().sin());
    let first = section(&mut circuit, "first", input, q[1])?;
    let output = section(&mut circuit, "second", first, q[0])?;
    let values = circuit.values();

    println!("poles, as frequency and Q");
    for pole in poles(&circuit, &values)?.into_iter().filter(|pole| pole.im > 0.0) {
        println!("  {:8.3} Hz   {:.6}", pole.norm() / std::f64::consts::TAU, pole.norm() / (-2.0 * pole.re));
    }

    let drive = [(generator, Complex64::ONE)];
    let out = Output::Voltage(output, ground);
    let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
    println!("\n      Hz     here, dB   1/(1 + (f/fc)⁸), dB");
    for f in [100.0, 500.0, 1e3, 2e3, 10e3] {
        let response =
            workspace.factor(&values, Hertz(f))?.response(&drive, out)?.known().ok_or("one island")?;
        let here = 20.0 * response.norm().log10();
        let wanted = -10.0 * (1.0 + (f / CORNER).powi(8)).log10();
        println!("{f:8.0} {here:12.4} {wanted:12.4}");
        assert!((here - wanted).abs() < 1e-9);
    }

    let noise = Noise::thermal(&circuit, Kelvin(293.15));
    let mut point = workspace.factor(&values, Hertz(CORNER))?;
    let density = point.noise_density(&noise, out)?.known().ok_or("one island")?;
    println!("\nthermal noise of the resistors at 1 kHz: {:.2} nV/√Hz", 1e9 * density.sqrt());

    let sensitivities = point.sensitivities(Response::Transfer(&drive, out))?.known().ok_or("one island")?;
    println!("\nat the corner a part 1 % larger moves the level by");
    for sensitivity in sensitivities.list() {
        if let Some(relative) = sensitivity.relative {
            let decibels = 0.01 * relative.re * 20.0 / std::f64::consts::LN_10;
            println!("  {:12} {decibels:+.4} dB", circuit.name(sensitivity.element));
        }
    }
    Ok(())
}
