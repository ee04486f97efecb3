//! Sweeps in lanes: what the pointwise solver gives, whatever stands in the other lanes and however wide the registers are.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
#[allow(dead_code, reason = "other test targets use the rest")]
mod random;
#[path = "../benches/workload.rs"]
#[allow(dead_code, reason = "other test targets use the rest")]
mod workload;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{Built, any_network, passive_network};
use solver::batch::Width;
use solver::{
    Hertz, Impedance, Kelvin, Layout, Noise, Outcome, Output, Response, Source, SweepAnswers, SweepPoint,
};
use workload::{frequencies, layout, one_voice};

fn excitation(built: &Built) -> Vec<(Source, Complex64)> {
    let amplitude = |i: usize| Complex64::from(1.0 - 0.3 * i as f64);
    built.circuit.sources().iter().enumerate().map(|(i, &source)| (source, amplitude(i))).collect()
}

fn near(found: f64, expected: f64, scale: f64) -> bool {
    (found - expected).abs() <= 1e-7 * scale
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: RngSeed::Fixed(43), max_global_rejects: 20_000, ..ProptestConfig::default() })]

    /// Response, slope, transfers and noise of any network are those of the pointwise solver; where that has none, there is none.
    #[test]
    fn a_response_is_that_of_the_pointwise_solver(network in prop_oneof![passive_network(), any_network()]) {
        let built = network.build();
        let values = built.circuit.values();
        let Ok(layout) = Layout::ac(&built.circuit, &values, &[]) else { return Err(TestCaseError::reject("no layout")) };
        let output = Output::Voltage(built.nodes[built.nodes.len() - 1], built.circuit.ground());
        let (excitation, noise) = (excitation(&built), Noise::thermal(&built.circuit, Kelvin(300.0)));
        prop_assume!(!excitation.is_empty());
        let f: Vec<Hertz> = (0..13).map(|i| Hertz(10_f64.powf(1.0 + i as f64 / 4.0))).collect();
        let mut answers = SweepAnswers::default();
        let found = layout.sweep(Response::Transfer(&excitation, output), Some(&noise), Width::Auto).and_then(|plan| {
            let mut sweep = plan.workspace();
            sweep.load(&values)?;
            sweep.along(&f, &mut answers)
        });
        let mut workspace = layout.workspace();
        for (i, &f) in f.iter().enumerate() {
            let mut transfers = Vec::new();
            let expected = workspace.factor(&values, f).and_then(|mut p| p.sweep_point(&excitation, output, &noise, &mut transfers));
            let Ok(Outcome::Known(expected)) = expected else {
                prop_assert!(!matches!(found, Ok(Outcome::Known(()))), "{found:?} {expected:?}");
                return Ok(());
            };
            prop_assert!(matches!(found, Ok(Outcome::Known(()))), "{found:?} {expected:?}");
            let SweepPoint { response, slope, noise } = answers.points()[i];
            let terms = transfers.iter().map(|t| t.norm()).fold(1e-6, f64::max);
            prop_assert!(near((response - expected.response).norm(), 0.0, terms), "{response} {expected:?}");
            prop_assert!(near((slope - expected.slope).norm(), 0.0, terms.max(expected.slope.norm())), "{slope} {expected:?}");
            prop_assert!(near(noise, expected.noise, expected.noise.max(1e-30)), "{noise} {expected:?}");
            let order = built.circuit.sources().iter().map(|s| excitation.iter().position(|(e, _)| e == s).unwrap());
            for (k, expected) in order.zip(transfers) {
                prop_assert!(near((answers.transfers(i)[k] - expected).norm(), 0.0, terms));
            }
        }
    }

    /// The same for an impedance; a port that no current can enter is undetermined.
    #[test]
    fn an_impedance_is_that_of_the_pointwise_solver(network in prop_oneof![passive_network(), any_network()]) {
        let built = network.build();
        let values = built.circuit.values();
        let Ok(layout) = Layout::ac(&built.circuit, &values, &[]) else { return Err(TestCaseError::reject("no layout")) };
        let (a, b) = (built.nodes[built.nodes.len() - 1], built.circuit.ground());
        let f: Vec<Hertz> = (0..9).map(|i| Hertz(10_f64.powf(1.0 + i as f64 / 3.0))).collect();
        let mut answers = SweepAnswers::default();
        let mut sweep = layout.sweep(Response::Impedance(a, b), None, Width::Auto).unwrap().workspace();
        sweep.load(&values).unwrap();
        let found = sweep.along(&f, &mut answers);
        let mut workspace = layout.workspace();
        for (i, &f) in f.iter().enumerate() {
            let expected = workspace.factor(&values, f).and_then(|mut p| p.impedance_and_slope(a, b));
            let Ok(Impedance::Known((z, slope))) = expected else {
                prop_assert!(!matches!(found, Ok(Outcome::Known(()))), "{found:?} {expected:?}");
                return Ok(());
            };
            prop_assert!(matches!(found, Ok(Outcome::Known(()))), "{found:?} {expected:?}");
            let point = answers.points()[i];
            let scale = z.norm().max(1e-3);
            prop_assert!(near((point.response - z).norm(), 0.0, scale), "{point:?} {z}");
            prop_assert!(near((point.slope - slope).norm(), 0.0, scale.max(slope.norm())), "{point:?} {slope}");
        }
    }
}

/// The voice of the benchmarks: all lanes pass their checks, for a wide range of its values, and agree to eleven digits.
#[test]
fn one_voice_is_solved_in_lanes_whatever_the_width() {
    let voice = one_voice();
    let layout = layout(&voice);
    let output = voice.transfers[0].output;
    let excitation: Vec<_> = voice.transfers.iter().map(|t| (t.source, Complex64::ONE)).collect();
    let noise = Noise::thermal(&voice.circuit, Kelvin(293.15));
    let f = frequencies(101);
    let sweep = |width: Width, f: &[Hertz]| {
        let plan = layout.sweep(Response::Transfer(&excitation, output), Some(&noise), width).unwrap();
        let mut work = plan.workspace();
        work.load(&voice.values).unwrap();
        let mut answers = SweepAnswers::default();
        assert_eq!(work.along(f, &mut answers), Ok(Outcome::Known(())));
        assert_eq!(answers.alone(), 0);
        answers
    };
    let together = sweep(Width::Auto, &f);
    let mut workspace = layout.workspace();
    let mut transfers = Vec::new();
    for (i, &f) in f.iter().enumerate() {
        let mut point = workspace.factor(&voice.values, f).unwrap();
        let expected =
            point.sweep_point(&excitation, output, &noise, &mut transfers).unwrap().known().unwrap();
        let found = together.points()[i];
        assert!((found.response - expected.response).norm() < 1e-11 * expected.response.norm());
        assert!((found.slope - expected.slope).norm() < 1e-11 * expected.response.norm());
        assert!((found.noise / expected.noise - 1.0).abs() < 1e-11);
        assert_eq!(sweep(Width::Auto, &[f]).points()[0], found, "alone or with others");
    }
    for width in [Width::Sse2, Width::Avx2, Width::Avx512].into_iter().filter(|width| width.is_available()) {
        assert_eq!(sweep(width, &f).points(), together.points(), "{width:?}");
    }
}
