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
mod workload;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{Built, any_network, passive_network};
use solver::batch::{Parameter, Width};
use solver::{
    Farads, Henries, Hertz, Impedance, Kelvin, Layout, Noise, Ohms, Outcome, Output, Response, Source,
    SweepAnswers, SweepPoint, Values,
};
use workload::{frequencies, layout, one_voice};

/// A network with what is asked of it: all sources at once, from its last node to ground.
struct Case {
    built: Built,
    values: Values,
    layout: Layout,
    output: Output,
    excitation: Vec<(Source, Complex64)>,
    noise: Noise,
}

impl Case {
    fn of(built: Built) -> Result<Case, TestCaseError> {
        let circuit = &built.circuit;
        let values = circuit.values();
        let Ok(layout) = Layout::ac(circuit, &values, &[]) else {
            return Err(TestCaseError::reject("no layout"));
        };
        let output = Output::Voltage(built.nodes[built.nodes.len() - 1], circuit.ground());
        let amplitude = |i: usize| Complex64::from(1.0 - 0.3 * i as f64);
        let excitation =
            circuit.sources().iter().enumerate().map(|(i, &source)| (source, amplitude(i))).collect();
        let noise = Noise::thermal(circuit, Kelvin(300.0));
        Ok(Case { built, values, layout, output, excitation, noise })
    }
}

fn near(found: f64, expected: f64, scale: f64) -> bool {
    (found - expected).abs() <= 1e-7 * scale
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: RngSeed::Fixed(43), max_global_rejects: 20_000, ..ProptestConfig::default() })]

    /// Response, slope, transfers and noise of any network are those of the pointwise solver; where that has none, there is none.
    #[test]
    fn a_response_is_that_of_the_pointwise_solver(network in prop_oneof![passive_network(), any_network()]) {
        let Case { built, values, layout, output, excitation, noise } = Case::of(network.build())?;
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

    /// A rational form that passes its checks is what the lanes give, all along the band.
    #[test]
    fn a_form_is_what_the_lanes_give(network in prop_oneof![passive_network(), any_network()]) {
        let Case { values, layout, output, excitation, noise, .. } = Case::of(network.build())?;
        let f = frequencies(29);
        let Ok(plan) = layout.sweep(Response::Transfer(&excitation, output), Some(&noise), Width::Auto) else {
            return Err(TestCaseError::reject("no plan"))
        };
        let mut sweep = plan.workspace();
        sweep.load(&values).unwrap();
        let form = plan.form(&values, (Hertz(20.0), Hertz(20e3))).unwrap();
        let Some(form) = form.filter(|form| sweep.fit(form)) else { return Err(TestCaseError::reject("no form")) };
        let (mut lanes, mut found) = (SweepAnswers::default(), SweepAnswers::default());
        prop_assume!(sweep.along(&f, &mut lanes) == Ok(Outcome::Known(())));
        prop_assert_eq!(sweep.by_form(&form.nodes(&f), &mut found), Ok(Outcome::Known(())));
        let largest = lanes.points().iter().map(|p| p.response.norm()).fold(1e-9, f64::max);
        let terms = (0..f.len()).flat_map(|i| lanes.transfers(i)).map(|t| t.norm()).fold(largest, f64::max);
        for (a, b) in found.points().iter().zip(lanes.points()) {
            prop_assert!((a.response - b.response).norm() <= 1e-8 * terms, "{a:?} {b:?}");
            prop_assert!((a.slope - b.slope).norm() <= 1e-6 * terms, "{a:?} {b:?}");
            prop_assert!((a.noise - b.noise).abs() <= 1e-7 * b.noise, "{a:?} {b:?}");
        }
        for i in 0..f.len() {
            for (a, b) in found.transfers(i).iter().zip(lanes.transfers(i)) {
                prop_assert!((a - b).norm() <= 1e-8 * terms);
            }
        }
    }

    /// The same for an impedance; a port that no current can enter is undetermined.
    #[test]
    fn an_impedance_is_that_of_the_pointwise_solver(network in prop_oneof![passive_network(), any_network()]) {
        let Case { built, values, layout, .. } = Case::of(network.build())?;
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

/// Values that are off by up to a half, as parts of guitars may be: the supports of the nominal values serve them all.
#[test]
fn one_form_serves_values_that_are_off_by_a_half() {
    let voice = one_voice();
    let layout = layout(&voice);
    let output = voice.transfers[0].output;
    let excitation: Vec<_> = voice.transfers.iter().map(|t| (t.source, Complex64::ONE)).collect();
    let noise = Noise::thermal(&voice.circuit, Kelvin(293.15));
    let plan = layout.sweep(Response::Transfer(&excitation, output), Some(&noise), Width::Auto).unwrap();
    let form = plan.form(&voice.values, (Hertz(20.0), Hertz(20e3))).unwrap().unwrap();
    let f = frequencies(101);
    let nodes = form.nodes(&f);
    let mut work = plan.workspace();
    let mut state = 1_u64;
    let mut share = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        0.67 + 0.83 * (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    for _ in 0..50 {
        let mut values = voice.values.clone();
        for (&parameter, &nominal) in voice.parameters.iter().zip(&voice.nominal) {
            let value = nominal * share();
            match parameter {
                Parameter::Resistance(e) => values.set_resistance(e, Ohms(value)).unwrap(),
                Parameter::Capacitance(e) => values.set_capacitance(e, Farads(value)).unwrap(),
                Parameter::Inductance(e) => values.set_inductance(e, Henries(value)).unwrap(),
                _ => {}
            }
        }
        work.load(&values).unwrap();
        assert!(work.fit(&form));
        let (mut lanes, mut found) = (SweepAnswers::default(), SweepAnswers::default());
        work.along(&f, &mut lanes).unwrap();
        work.by_form(&nodes, &mut found).unwrap();
        assert_eq!((lanes.alone(), found.alone()), (0, 0));
        let largest = lanes.points().iter().map(|p| p.response.norm()).fold(0.0, f64::max);
        for (a, b) in found.points().iter().zip(lanes.points()) {
            assert!((a.response - b.response).norm() <= 1e-11 * largest, "{a:?} {b:?}");
            assert!((a.slope - b.slope).norm() <= 1e-10 * largest, "{a:?} {b:?}");
            assert!((a.noise / b.noise - 1.0).abs() <= 1e-10, "{a:?} {b:?}");
        }
    }
}

/// What was brought into a form counts for the values that were, and for frequencies prepared for that form: else the lanes answer.
#[test]
fn a_form_answers_for_its_own_values_alone() {
    let voice = one_voice();
    let layout = layout(&voice);
    let output = voice.transfers[0].output;
    let excitation: Vec<_> = voice.transfers.iter().map(|t| (t.source, Complex64::ONE)).collect();
    let plan = layout.sweep(Response::Transfer(&excitation, output), None, Width::Auto).unwrap();
    let band = |high| (Hertz(20.0), Hertz(high));
    let form = plan.form(&voice.values, band(20e3)).unwrap().unwrap();
    let other = plan.form(&voice.values, band(5e3)).unwrap().unwrap();
    let f = frequencies(9);
    let mut work = plan.workspace();
    let (mut lanes, mut found) = (SweepAnswers::default(), SweepAnswers::default());
    work.load(&voice.values).unwrap();
    work.along(&f, &mut lanes).unwrap();
    // Not fitted; fitted by another form; fitted, and other values loaded since.
    work.by_form(&form.nodes(&f), &mut found).unwrap();
    assert_eq!(found.points(), lanes.points());
    assert!(work.fit(&other));
    work.by_form(&form.nodes(&f), &mut found).unwrap();
    assert_eq!(found.points(), lanes.points());
    assert!(work.fit(&form));
    work.by_form(&form.nodes(&f), &mut found).unwrap();
    assert_ne!(found.points(), lanes.points(), "the form rounds otherwise");
    let mut values = voice.values.clone();
    let Parameter::Resistance(resistor) = voice.parameters[0] else {
        panic!("the voice begins with a resistor")
    };
    values.set_resistance(resistor, Ohms(5e3)).unwrap();
    work.load(&values).unwrap();
    work.by_form(&form.nodes(&f), &mut found).unwrap();
    work.along(&f, &mut lanes).unwrap();
    assert_eq!(found.points(), lanes.points());
}

/// Values of a circuit that is built alike are carried over, those of a third are not, and one that differs has no twin.
#[test]
fn values_are_carried_between_twins() {
    let (one, two, third) = (one_voice(), one_voice(), one_voice());
    let twin = one.circuit.twin(&two.circuit).unwrap();
    let carried = twin.carry(two.values.clone()).unwrap();
    assert_eq!(carried, one.values);
    assert!(layout(&one).fits(&carried) && !layout(&one).fits(&two.values));
    assert!(twin.carry(third.values).is_none());
    let mut longer = two.circuit.clone();
    let node = longer.node("more");
    longer.resistor("more", node, longer.ground(), Ohms(1.0)).unwrap();
    assert!(one.circuit.twin(&longer).is_none());
}

/// Supports of one voice do not serve one that is far away: its form is refused, or is as good as any.
#[test]
fn a_form_that_does_not_serve_is_refused() {
    let voice = one_voice();
    let layout = layout(&voice);
    let output = voice.transfers[0].output;
    let excitation: Vec<_> = voice.transfers.iter().map(|t| (t.source, Complex64::ONE)).collect();
    let noise = Noise::thermal(&voice.circuit, Kelvin(293.15));
    let plan = layout.sweep(Response::Transfer(&excitation, output), Some(&noise), Width::Auto).unwrap();
    let form = plan.form(&voice.values, (Hertz(20.0), Hertz(20e3))).unwrap().unwrap();
    let f = frequencies(41);
    let nodes = form.nodes(&f);
    let mut work = plan.workspace();
    let mut refused = 0;
    for power in -12..=12 {
        let mut values = voice.values.clone();
        for (&parameter, &nominal) in voice.parameters.iter().zip(&voice.nominal) {
            if let Parameter::Capacitance(e) = parameter {
                values.set_capacitance(e, Farads(nominal * 2_f64.powi(power))).unwrap();
            }
        }
        work.load(&values).unwrap();
        if !work.fit(&form) {
            refused += 1;
            continue;
        }
        let (mut lanes, mut found) = (SweepAnswers::default(), SweepAnswers::default());
        work.along(&f, &mut lanes).unwrap();
        work.by_form(&nodes, &mut found).unwrap();
        let largest = lanes.points().iter().map(|p| p.response.norm()).fold(0.0, f64::max);
        for (a, b) in found.points().iter().zip(lanes.points()) {
            assert!((a.response - b.response).norm() <= 1e-9 * largest, "{power}: {a:?} {b:?}");
            assert!((a.noise / b.noise - 1.0).abs() <= 1e-8, "{power}: {a:?} {b:?}");
        }
    }
    // Half and double are served.
    assert!(refused > 0 && refused <= 22, "{refused} of 25");
}
