//! Insertion loss of a mains filter: how much less reaches the measuring receiver with the filter in than without, between 50 Ω and 50 Ω
//! (CISPR 17), symmetrical (line against neutral) and asymmetrical (both against earth).
//!
//! **Caution.** This is arithmetic about parts, not a guide to building. Work on mains circuits can kill. Mains filters are made of certified
//! safety capacitors with a bleeder, their leakage current is limited by the equipment's standard, and they are fitted by licensed people
//! under local codes.
//!
//! `cargo run -p solver --example mains_filter`
#![allow(clippy::disallowed_methods, reason = "an example prints: bits need not be equal everywhere")]

use num_complex::Complex64;
use solver::{Circuit, Farads, Henries, Hertz, Layout, Node, Ohms, Output, Source};

/// The 50 Ω of generator and receiver.
const MEASURING: f64 = 50.0;

struct Bench {
    circuit: Circuit,
    generator: Source,
    line: [Node; 2],
    neutral: [Node; 2],
}

/// Generator and receiver, and the filter between them; or, for the reference, wires.
fn build(asymmetrical: bool, filter: bool) -> Result<Bench, solver::BuildError> {
    let mut c = Circuit::new();
    let earth = c.ground();
    let [emf, line_in, neutral_in, line_out, neutral_out] =
        ["generator", "line in", "neutral in", "line out", "neutral out"].map(|name| c.node(name));
    // Asymmetrical: line and neutral together against earth. Symmetrical: between them, through an ideal balanced transformer, which
    // a floating generator and receiver amount to.
    let back_in = if asymmetrical { earth } else { neutral_in };
    let back_out = if asymmetrical { earth } else { neutral_out };
    let generator = Source::Voltage(c.voltage_source("generator", emf, back_in)?);
    c.resistor("generator's 50 Ω", emf, line_in, Ohms(MEASURING))?;
    c.resistor("receiver's 50 Ω", line_out, back_out, Ohms(MEASURING))?;
    c.contact("line and neutral joined, in", line_in, neutral_in, asymmetrical)?;
    c.contact("line and neutral joined, out", line_out, neutral_out, asymmetrical)?;
    c.contact("no filter, line", line_in, line_out, !filter)?;
    c.contact("no filter, neutral", neutral_in, neutral_out, !filter)?;
    if filter {
        // A current-compensated choke: both windings aid each other for current that returns through earth.
        let l1 = c.inductor("choke, line", line_in, line_out, Henries(4.7e-3))?;
        let l2 = c.inductor("choke, neutral", neutral_in, neutral_out, Henries(4.7e-3))?;
        c.couple(l1, l2, 0.99)?;
        c.capacitor("line to neutral, in", line_in, neutral_in, Farads(100e-9))?;
        c.capacitor("line to neutral, out", line_out, neutral_out, Farads(100e-9))?;
        c.capacitor("line to earth", line_out, earth, Farads(2.2e-9))?;
        c.capacitor("neutral to earth", neutral_out, earth, Farads(2.2e-9))?;
    }
    Ok(Bench { circuit: c, generator, line: [line_in, line_out], neutral: [back_in, back_out] })
}

fn received(bench: &Bench, f: f64) -> Result<f64, Box<dyn std::error::Error>> {
    let values = bench.circuit.values();
    let mut workspace = Layout::ac(&bench.circuit, &values, &[])?.workspace();
    let mut point = workspace.factor(&values, Hertz(f))?;
    let output = Output::Voltage(bench.line[1], bench.neutral[1]);
    let response = point.response(&[(bench.generator, Complex64::ONE)], output)?;
    Ok(response.known().ok_or("one island")?.norm())
}

/// Prints the table.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!("Caution: mains circuits are for licensed people; this is arithmetic, not a building guide.\n");
    println!("      kHz   symmetrical, dB   asymmetrical, dB");
    for f in [10e3, 50e3, 150e3, 500e3, 1e6, 5e6, 30e6] {
        let mut loss = [0.0; 2];
        for (loss, asymmetrical) in loss.iter_mut().zip([false, true]) {
            let [with, without] =
                [true, false].map(|filter| build(asymmetrical, filter).map(|bench| received(&bench, f)));
            let (with, without) = (with??, without??);
            // Two equal resistances share the EMF.
            assert!((without - 0.5).abs() < 1e-12);
            *loss = 20.0 * (without / with).log10();
        }
        println!("{:9.0} {:17.1} {:18.1}", f / 1e3, loss[0], loss[1]);
    }
    Ok(())
}
