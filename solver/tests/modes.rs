//! Responses in modal form against closed forms, and against the network that they stand for.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
#[allow(dead_code, reason = "shared with other targets")]
mod random;
#[path = "../benches/workload.rs"]
mod workload;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::any_network;
use solver::{
    BOLTZMANN, Circuit, Farads, Henries, Hertz, Kelvin, Layout, ModalForm, Noise, Ohms, Outcome, Output,
    Response, SolveError, Source, Values,
};

const BAND: (Hertz, Hertz) = (Hertz(20.0), Hertz(20e3));
const TAU: f64 = std::f64::consts::TAU;

fn form(circuit: &Circuit, values: &Values, of: Response<'_>, noise: Option<&Noise>) -> Option<ModalForm> {
    let mut workspace = Layout::ac(circuit, values, &[]).ok()?.workspace();
    let modes = workspace.modes(values).ok()??;
    workspace.modal_form(values, &modes, of, noise, BAND)
}

/// H = R/(R + sL + 1/sC) and its noise: the resistor's EMF in the same loop, 4kTR·|(sL + 1/sC)/(R + sL + 1/sC)|² (textbook).
#[test]
fn a_series_resonance_and_its_noise() {
    let (r, l, c) = (30.0, 10e-3, 1e-6);
    let mut circuit = Circuit::new();
    let g = circuit.ground();
    let (a, b, out) = (circuit.node("a"), circuit.node("b"), circuit.node("out"));
    let source = Source::Voltage(circuit.voltage_source("source", a, g).unwrap());
    circuit.inductor("l", a, b, Henries(l)).unwrap();
    circuit.capacitor("c", b, out, Farads(c)).unwrap();
    circuit.resistor("r", out, g, Ohms(r)).unwrap();
    let drive = [(source, Complex64::ONE)];
    let noise = Noise::thermal(&circuit, Kelvin(300.0));
    let of = Response::Transfer(&drive, Output::Voltage(out, g));
    let mut form = form(&circuit, &circuit.values(), of, Some(&noise)).unwrap();
    let mut transfers = Vec::new();
    for f in [21.0, 400.0, 1500.0, 1700.0, 19e3] {
        let s = Complex64::new(0.0, TAU * f);
        let reactive = s * l + 1.0 / (s * c);
        let wanted = r / (r + reactive);
        let slope = -wanted * wanted / r * (s * l - 1.0 / (s * c));
        let density = 4.0 * BOLTZMANN * 300.0 * r * (reactive / (r + reactive)).norm_sqr();
        let found = form.at(Hertz(f), &mut transfers).unwrap();
        assert!((found.response - wanted).norm() <= 1e-12, "{f}: {} {wanted}", found.response);
        assert!((transfers[0] - wanted).norm() <= 1e-12);
        assert!((found.slope - slope).norm() <= 1e-11 * (1.0 + slope.norm()), "{f}: {} {slope}", found.slope);
        assert!((found.noise / density - 1.0).abs() <= 1e-9, "{f}: {} {density}", found.noise);
    }
    let found = form.extremes(BAND, no_network).unwrap().unwrap().known().unwrap();
    let [peak] = found.list() else { panic!("{found:?}") };
    assert!(
        (peak.frequency.0 * TAU * libm::sqrt(l * c) - 1.0).abs() <= 1e-12
            && (peak.magnitude - 1.0).abs() <= 1e-12
    );
}

/// The two-pickup guitar of the benches: every frequency by its modes.
#[test]
fn a_guitar_needs_its_network_at_three_frequencies_only() {
    let one = workload::one_voice();
    let sources: Vec<_> = one.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
    let output = one.transfers[0].output;
    let noise = Noise::thermal(&one.circuit, Kelvin(293.15));
    let of = Response::Transfer(&sources, output);
    let mut form = form(&one.circuit, &one.values, of, Some(&noise)).unwrap();
    let mut workspace = workload::layout(&one).workspace();
    let (mut own, mut all) = (Vec::new(), Vec::new());
    for f in workload::frequencies(400) {
        let found = form.at(f, &mut own).unwrap();
        let mut point = workspace.factor(&one.values, f).unwrap();
        let wanted = point.sweep_point(&sources, output, &noise, &mut all).unwrap().known().unwrap();
        let largest = all.iter().map(|t| t.norm()).fold(0.0, f64::max);
        for (own, all) in own.iter().zip(&all) {
            assert!((own - all).norm() <= 1e-11 * largest, "{f:?}: {own} {all}");
        }
        assert!((found.slope - wanted.slope).norm() <= 1e-10 * largest);
        assert!((found.noise / wanted.noise - 1.0).abs() <= 1e-10);
    }
    let found = form.extremes(BAND, no_network).unwrap().unwrap().known().unwrap();
    let Outcome::Known(wanted) = workspace.extremes(&one.values, of, BAND).unwrap() else { panic!() };
    assert_eq!(found.list().len(), wanted.list().len());
}

fn no_network(f: Hertz) -> Result<Option<(Complex64, Complex64)>, SolveError> {
    panic!("asked at {f:?}")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, rng_seed: RngSeed::Fixed(71), ..ProptestConfig::default() })]

    /// Whatever the network: a form that is given out says what the network says, or nothing.
    #[test]
    fn a_form_is_the_network_or_silent(network in any_network(), share in 0.0..1.0f64) {
        let built = network.build();
        let values = built.circuit.values();
        let f = Hertz(20.0 * 1000f64.powf(share));
        let sources: Vec<_> = built.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
        let noise = Noise::thermal(&built.circuit, Kelvin(293.15));
        let transfer = Response::Transfer(&sources, Output::Voltage(built.nodes[1], built.nodes[0]));
        let impedance = Response::Impedance(built.nodes[1], built.nodes[0]);
        for (of, noise) in [(transfer, Some(&noise)), (impedance, None)] {
            let Some(mut form) = form(&built.circuit, &values, of, noise) else { continue };
            let mut transfers = Vec::new();
            let Some(found) = form.at(f, &mut transfers) else { continue };
            let mut workspace = Layout::ac(&built.circuit, &values, &[]).unwrap().workspace();
            let mut point = workspace.factor(&values, f).unwrap();
            let bounded = point.bounded(of).unwrap().known().unwrap();
            let largest = transfers.iter().map(|t| t.norm()).fold(found.response.norm(), f64::max);
            let off = (found.response - bounded.value).norm();
            prop_assert!(off <= 1e-7 * largest + bounded.error, "{f:?}: {found:?} {bounded:?}");
            if let (Some(noise), Response::Transfer(_, output)) = (noise, of) {
                let density = point.noise_density(noise, output).unwrap().known().unwrap();
                // What pivoting drops as dependent is no reference.
                if workspace.fallbacks() > 0 {
                    continue;
                }
                prop_assert!((found.noise - density).abs() <= 1e-6 * density, "{} {density}", found.noise);
            }
        }
    }
}
