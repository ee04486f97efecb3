//! Batches: the routes agree with each other, samples do not feel each other, and bits do not depend on width or thread.
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
use solver::batch::{BatchResult, Method, Parameter, Request, Route, Status, Transfer, Width};
use solver::{Circuit, Farads, Henries, Hertz, Layout, Ohms, Outcome, Output, SolveErrorKind, Source};
use workload::{Workload, frequencies, layout, one_voice};

const WIDTHS: [Width; 4] = [Width::Auto, Width::Sse2, Width::Avx2, Width::Avx512];

fn request<'a>(
    transfers: &'a [Transfer],
    frequencies: &'a [Hertz],
    parameters: &'a [Parameter],
    route: Route,
) -> Request<'a> {
    Request { transfers, frequencies, parameters, route, width: Width::Auto }
}

/// Values of all parameters of the voice, ±10 %, `[parameter][sample]`, from a generator that anyone can repeat.
fn spread(workload: &Workload, samples: usize) -> Vec<f64> {
    let mut state = 1_u64;
    let mut share = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        0.9 + 0.2 * (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    workload
        .nominal
        .iter()
        .flat_map(|&nominal| (0..samples).map(|_| nominal * share()).collect::<Vec<_>>())
        .collect()
}

fn run(
    workload: &Workload,
    f: &[Hertz],
    route: Route,
    width: Width,
    values: &[f64],
    count: usize,
) -> BatchResult {
    let request = Request { width, ..request(&workload.transfers, f, &workload.parameters, route) };
    let batch = layout(workload).batch(&workload.values, &request).unwrap();
    let mut result = BatchResult::default();
    batch.run(&mut batch.workspace(), values, count, &mut result).unwrap();
    result
}

fn bits(result: &BatchResult) -> Vec<[u64; 2]> {
    result.responses().iter().map(|h| [h.re.to_bits(), h.im.to_bits()]).collect()
}

fn largest(list: &[Complex64]) -> f64 {
    list.iter().map(|h| h.norm()).fold(0.0, f64::max)
}

/// All sources of a network to the voltage of its last node, point by point.
fn point_by_point(built: &Built, output: Output, f: &[Hertz]) -> Option<Vec<Vec<Complex64>>> {
    let values = built.circuit.values();
    let mut workspace = Layout::ac(&built.circuit, &values, &[]).ok()?.workspace();
    let mut columns = Vec::new();
    for &f in f {
        let mut out = Vec::new();
        let mut point = workspace.factor(&values, f).ok()?;
        (point.transfers(output, &mut out).ok()? == Outcome::Known(())).then_some(())?;
        columns.push(out);
    }
    Some(
        (0..built.circuit.sources().len())
            .map(|j| columns.iter().map(|column| column[j]).collect())
            .collect(),
    )
}

fn ask(built: &Built) -> (Output, Vec<Transfer>) {
    let output = Output::Voltage(built.nodes[built.nodes.len() - 1], built.circuit.ground());
    (output, built.circuit.sources().iter().map(|&source| Transfer { source, output }).collect())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: RngSeed::Fixed(41), max_global_rejects: 20_000, ..ProptestConfig::default() })]

    /// Each route gives what the pointwise solver gives; a rational form stays inside its bound.
    #[test]
    fn routes_agree(network in prop_oneof![passive_network(), any_network()]) {
        let built = network.build();
        let (output, transfers) = ask(&built);
        let f: Vec<Hertz> = (0..45).map(|i| Hertz(10_f64.powf(1.0 + i as f64 / 12.0))).collect();
        prop_assume!(!transfers.is_empty());
        let values = built.circuit.values();
        let Ok(layout) = Layout::ac(&built.circuit, &values, &[]) else { return Err(TestCaseError::reject("no layout")) };
        let expected = point_by_point(&built, output, &f);
        for route in [Route::Auto, Route::Rational, Route::Tape, Route::Pointwise] {
            let batch = layout.batch(&values, &request(&transfers, &f, &[], route)).unwrap();
            let mut result = BatchResult::default();
            batch.run(&mut batch.workspace(), &[], 1, &mut result).unwrap();
            let Some(expected) = &expected else {
                prop_assert!(!matches!(result.statuses()[0], Status::Solved { .. }), "{route:?}");
                continue;
            };
            let Status::Solved { method, .. } = result.statuses()[0] else {
                return Err(TestCaseError::fail(format!("{route:?}: {:?}", result.statuses()[0])));
            };
            for (j, expected) in expected.iter().enumerate() {
                let scale = largest(expected);
                // What rounding leaves of an exact zero: volts a volt, or volts an ampere where resistances are up to megohms.
                let zero = if matches!(transfers[j].source, Source::Voltage(_)) { 1e-12 } else { 1e-7 };
                let bound = match method {
                    Method::Rational => result.bounds()[j].max(1e-13),
                    // A backward error of 1e-11 is allowed, and networks may be badly conditioned.
                    _ => 1e-7,
                };
                for (found, expected) in result.response(0, j).iter().zip(expected) {
                    let error = (found - expected).norm();
                    prop_assert!(error <= 3.0 * bound * scale + zero, "{route:?} {method:?}: {found} {expected}, {error:e} of {scale:e}, bound {bound:e}");
                }
            }
        }
    }
}

#[test]
fn one_voice_takes_the_rational_form_of_its_thirteen_states() {
    let voice = one_voice();
    let f = frequencies(400);
    let batch =
        layout(&voice).batch(&voice.values, &request(&voice.transfers, &f, &[], Route::Auto)).unwrap();
    assert_eq!(batch.supports(), Some(7));
    let mut result = BatchResult::default();
    batch.run(&mut batch.workspace(), &[], 1, &mut result).unwrap();
    assert_eq!(result.statuses(), [Status::Solved { method: Method::Rational, alone: 0 }]);
    assert!(result.bounds().iter().all(|&bound| bound > 0.0 && bound < 1e-10), "{:?}", result.bounds());
}

#[test]
fn the_same_bits_for_every_width() {
    let voice = one_voice();
    let values = spread(&voice, 5);
    for (f, route) in [(frequencies(401), Route::Rational), (frequencies(13), Route::Tape)] {
        let baseline = run(&voice, &f, route, Width::Sse2, &values, 5);
        for width in WIDTHS.into_iter().filter(|width| width.is_available()) {
            assert_eq!(bits(&run(&voice, &f, route, width, &values, 5)), bits(&baseline), "{width:?}");
        }
    }
}

#[test]
fn a_sample_does_not_feel_the_others() {
    let voice = one_voice();
    let f = frequencies(100);
    let (count, parameters) = (9, voice.parameters.len());
    let mut values = spread(&voice, count);
    // One that is not solvable, one outside the class, one that is hard.
    values[2] = f64::NAN;
    values[5 * count + 4] = 0.0;
    values[6] = 1e-6;
    let together = run(&voice, &f, Route::Auto, Width::Auto, &values, count);
    for sample in 0..count {
        let own: Vec<f64> = (0..parameters).map(|p| values[p * count + sample]).collect();
        let alone = run(&voice, &f, Route::Auto, Width::Auto, &own, 1);
        // As text: an error that shows NaN does not equal itself.
        let text = |status: &Status| format!("{status:?}");
        assert_eq!(text(&alone.statuses()[0]), text(&together.statuses()[sample]));
        for transfer in 0..4 {
            assert_eq!(alone.response(0, transfer), together.response(sample, transfer), "{sample}");
        }
    }
    assert!(matches!(together.statuses()[2], Status::Failed(_)));
    assert!(together.response(2, 0).iter().all(|&h| h == Complex64::ZERO));
    assert!(matches!(together.statuses()[4], Status::Solved { method: Method::Pointwise, .. }));
}

#[cfg(feature = "parallel")]
#[test]
fn the_same_bits_for_every_number_of_threads() {
    let voice = one_voice();
    let f = frequencies(100);
    let count = 64;
    let values = spread(&voice, count);
    let batch = layout(&voice)
        .batch(&voice.values, &request(&voice.transfers, &f, &voice.parameters, Route::Auto))
        .unwrap();
    let serial = run(&voice, &f, Route::Auto, Width::Auto, &values, count);
    for threads in [1, 2, 5] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let mut result = BatchResult::default();
        pool.install(|| batch.run_parallel(&values, count, &mut result)).unwrap();
        assert_eq!(bits(&result), bits(&serial));
        assert_eq!(result.bounds(), serial.bounds());
        assert_eq!(result.statuses(), serial.statuses());
    }
}

#[test]
fn a_pot_at_its_stop_is_solved_in_its_own_class() {
    let voice = one_voice();
    let f = frequencies(60);
    let mut values = spread(&voice, 1);
    values[5] = 0.0; // w1 to ground: the bus is shorted
    let result = run(&voice, &f, Route::Auto, Width::Auto, &values, 1);
    assert_eq!(result.statuses(), [Status::Solved { method: Method::Pointwise, alone: 60 }]);
    assert_eq!(largest(result.response(0, 0)), 0.0);
}

/// At resonance the admittance of a tank is what rounding leaves of 1 − 1: that frequency alone is solved with pivoting.
#[test]
fn a_frequency_that_fails_is_solved_alone() {
    let mut circuit = Circuit::new();
    let (ground, a) = (circuit.ground(), circuit.node("a"));
    let source = circuit.current_source("i", ground, a).unwrap();
    circuit.inductor("l", a, ground, Henries(1.0)).unwrap();
    circuit.capacitor("c", a, ground, Farads(1.0)).unwrap();
    circuit.resistor("r", a, ground, Ohms(1e12)).unwrap();
    let values = circuit.values();
    let resonance = 1.0 / std::f64::consts::TAU;
    let f: Vec<Hertz> = [0.3, 0.7, 1.0, 1.4, 3.0].map(|x| Hertz(x * resonance)).into();
    let transfers = [Transfer { source: Source::Current(source), output: Output::Voltage(a, ground) }];
    let layout = Layout::ac(&circuit, &values, &[]).unwrap();
    let responses = [Route::Tape, Route::Pointwise].map(|route| {
        let batch = layout.batch(&values, &request(&transfers, &f, &[], route)).unwrap();
        let mut result = BatchResult::default();
        batch.run(&mut batch.workspace(), &[], 1, &mut result).unwrap();
        if route == Route::Tape {
            assert_eq!(result.statuses(), [Status::Solved { method: Method::Tape, alone: 1 }]);
        }
        result.responses().to_vec()
    });
    assert_eq!(responses[0][2], responses[1][2]);
    assert!(responses[0][2].norm() > 1e10, "{}", responses[0][2]);
}

#[test]
fn what_is_asked_wrongly_is_refused() {
    let voice = one_voice();
    let other = one_voice();
    let f = frequencies(5);
    let lay = layout(&voice);
    let kind =
        |request: Request<'_>| lay.batch(&voice.values, &request).map(|_| ()).unwrap_err().kind().clone();
    let good = request(&voice.transfers, &f, &voice.parameters, Route::Auto);
    assert!(matches!(kind(Request { frequencies: &[Hertz(0.0)], ..good }), SolveErrorKind::Frequency(_)));
    let foreign = SolveErrorKind::ForeignElement { element: voice.transfers[0].source.into() };
    let same = |kind: SolveErrorKind| std::mem::discriminant(&kind) == std::mem::discriminant(&foreign);
    assert!(same(kind(Request { parameters: &other.parameters, ..good })));
    assert!(same(kind(Request { transfers: &other.transfers, ..good })));
    assert!(matches!(lay.batch(&other.values, &good).unwrap_err().kind(), SolveErrorKind::ForeignValues));
    let batch = lay.batch(&voice.values, &good).unwrap();
    let error = batch.run(&mut batch.workspace(), &[1.0], 1, &mut BatchResult::default()).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::Shape { samples: 1, length: 1, .. }));
}

#[test]
fn nothing_asked_is_nothing_answered() {
    let voice = one_voice();
    let f = frequencies(5);
    for (transfers, f) in [(&voice.transfers[..0], &f[..]), (&voice.transfers[..], &f[..0])] {
        for route in [Route::Auto, Route::Rational, Route::Tape, Route::Pointwise] {
            let batch = layout(&voice).batch(&voice.values, &request(transfers, f, &[], route)).unwrap();
            let mut result = BatchResult::default();
            batch.run(&mut batch.workspace(), &[], 3, &mut result).unwrap();
            assert!(result.responses().is_empty());
            assert_eq!(result.statuses().len(), 3);
        }
    }
}

/// Admittances whose squares leave the range of numbers: what lanes can't invert is solved alone, and is right.
#[test]
fn admittances_at_the_ends_of_the_range_are_solved_alone() {
    for farads in [1e-180, 1e180] {
        let mut circuit = Circuit::new();
        let (ground, a) = (circuit.ground(), circuit.node("a"));
        let source = circuit.current_source("i", ground, a).unwrap();
        circuit.capacitor("c", a, ground, Farads(farads)).unwrap();
        let values = circuit.values();
        let f: Vec<Hertz> = [1.0, 1e3].map(Hertz).into();
        let transfers = [Transfer { source: Source::Current(source), output: Output::Voltage(a, ground) }];
        let layout = Layout::ac(&circuit, &values, &[]).unwrap();
        let batch = layout.batch(&values, &request(&transfers, &f, &[], Route::Tape)).unwrap();
        let mut result = BatchResult::default();
        batch.run(&mut batch.workspace(), &[], 1, &mut result).unwrap();
        assert_eq!(result.statuses(), [Status::Solved { method: Method::Tape, alone: 2 }]);
        for (f, h) in f.iter().zip(result.response(0, 0)) {
            let expected = -1.0 / (std::f64::consts::TAU * f.0 * farads);
            assert!((h.im / expected - 1.0).abs() < 1e-14 && h.re == 0.0, "{h} for {expected}j");
        }
    }
}
