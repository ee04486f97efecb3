//! Instructions of the solver's routes, with limits that no change may exceed.
//!
//! `cargo bench --manifest-path solver/benches/instructions/Cargo.toml` (needs valgrind and `gungraun-runner` of the same version). The width is
//! forced, so that the counts are those of every machine. A limit is what was counted and a tenth more; where a change makes things cheaper,
//! lower it.
#![allow(missing_docs, clippy::unwrap_used, reason = "a program for the bench")]

#[path = "../../workload.rs"]
mod workload;

use std::hint::black_box;

use gungraun::{
    Callgrind, EventKind, LibraryBenchmarkConfig, library_benchmark, library_benchmark_group, main,
};
use num_complex::Complex64;
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::harness::Harness;
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{NoFiles, compile};
use solver::batch::{Batch, BatchResult, BatchWorkspace, Request, Route, Width};
use solver::{
    Hertz, Kelvin, Layout, Noise, Response, SweepAnswers, SweepForm, SweepNodes, SweepWorkspace, Workspace,
};
use workload::{Workload, frequencies, layout, one_voice};

fn limit(instructions: u64) -> LibraryBenchmarkConfig {
    LibraryBenchmarkConfig::default()
        .tool(Callgrind::with_args(["--cache-sim=no"]).hard_limits([(EventKind::Ir, instructions)]))
        .clone()
}

fn prepared(route: Route) -> (Batch, BatchWorkspace, BatchResult) {
    let voice = one_voice();
    let request = Request {
        transfers: &voice.transfers,
        frequencies: &frequencies(400),
        parameters: &[],
        route,
        width: Width::Sse2,
    };
    let batch = layout(&voice).batch(&voice.values, &request).unwrap();
    let (mut work, mut result) = (batch.workspace(), BatchResult::default());
    batch.run(&mut work, &[], 1, &mut result).unwrap();
    (batch, work, result)
}

#[library_benchmark(config = limit(RATIONAL))]
#[bench::one_voice(prepared(Route::Rational))]
fn rational((batch, mut work, mut result): (Batch, BatchWorkspace, BatchResult)) -> BatchResult {
    batch.run(&mut work, &[], 1, &mut result).unwrap();
    black_box(result)
}

#[library_benchmark(config = limit(TAPE))]
#[bench::one_voice(prepared(Route::Tape))]
fn tape((batch, mut work, mut result): (Batch, BatchWorkspace, BatchResult)) -> BatchResult {
    batch.run(&mut work, &[], 1, &mut result).unwrap();
    black_box(result)
}

fn at_a_point() -> (Workload, Workspace) {
    let voice = one_voice();
    let mut workspace = layout(&voice).workspace();
    workspace.factor(&voice.values, Hertz(1e3)).unwrap();
    (voice, workspace)
}

#[library_benchmark(config = limit(POINT))]
#[bench::one_voice(at_a_point())]
fn point((voice, mut workspace): (Workload, Workspace)) -> usize {
    let mut out = Vec::new();
    for f in [100.0, 1e3, 1e4, 2e4] {
        workspace.factor(&voice.values, Hertz(f)).unwrap().transfers(voice.transfers[0].output, &mut out).unwrap();
    }
    black_box(out).len()
}

#[library_benchmark(config = limit(ORDER))]
#[bench::one_voice(one_voice())]
fn order(voice: Workload) -> Layout {
    black_box(layout(&voice))
}

fn noise(voice: &Workload) -> Noise {
    Noise::thermal(&voice.circuit, Kelvin(293.15))
}

// Modes, a form held against the network, and 400 frequencies of it: response, slope, four transfers, noise.
#[library_benchmark(config = limit(MODES))]
#[bench::one_voice(at_a_point())]
fn modes((voice, mut workspace): (Workload, Workspace)) -> f64 {
    let drive: Vec<_> = voice.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
    let of = Response::Transfer(&drive, voice.transfers[0].output);
    let modes = workspace.modes(&voice.values).unwrap().unwrap();
    let band = (Hertz(20.0), Hertz(20e3));
    let mut form = workspace.modal_form(&voice.values, &modes, of, Some(&noise(&voice)), band).unwrap();
    let mut out = Vec::new();
    black_box(frequencies(400).iter().map(|&f| form.at(f, &mut out).unwrap().noise).sum())
}

type Swept = (Workload, SweepForm, SweepWorkspace, SweepAnswers);

fn swept() -> Swept {
    let voice = one_voice();
    let drive: Vec<_> = voice.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
    let of = Response::Transfer(&drive, voice.transfers[0].output);
    let plan = layout(&voice).sweep(of, Some(&noise(&voice)), Width::Sse2).unwrap();
    let form = plan.form(&voice.values, (Hertz(20.0), Hertz(20e3))).unwrap().unwrap();
    (voice, form, plan.workspace(), SweepAnswers::default())
}

// The same by lanes.
#[library_benchmark(config = limit(SWEEP))]
#[bench::one_voice(swept())]
fn sweep((voice, _, mut work, mut out): Swept) -> f64 {
    work.load(&voice.values).unwrap();
    work.along(&frequencies(400), &mut out).unwrap();
    black_box(out.points().iter().map(|point| point.noise).sum())
}

// The same from the rational form, held against solves that took no part; its frequencies are prepared for all sets of values.
#[library_benchmark(config = limit(FORM))]
#[bench::one_voice({ let swept = swept(); let nodes = swept.1.nodes(&frequencies(400)); (swept, nodes) })]
fn form(((voice, form, mut work, mut out), nodes): (Swept, SweepNodes)) -> f64 {
    work.load(&voice.values).unwrap();
    assert!(work.fit(&form));
    work.by_form(&nodes, &mut out).unwrap();
    black_box(out.points().iter().map(|point| point.noise).sum())
}

fn whole_guitar() -> (Harness, Network) {
    let text = include_str!("../../../../examples/11-eighty-positions.harness");
    let harness = compile("eighty positions", text, &NoFiles).harness.unwrap();
    let network = Network::of(&harness).unwrap();
    (harness, network)
}

// W4 without its reading and writing: all figures of 80 positions.
#[library_benchmark(config = limit(GUITAR))]
#[bench::eighty_positions(whole_guitar())]
fn guitar((harness, network): (Harness, Network)) -> usize {
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let all = positions(&harness, Wanted::default()).unwrap();
    let figures: Vec<_> = all.iter().map(|p| evaluator.figures(p, &Knobs::default()).unwrap()).collect();
    black_box(figures).len()
}

const RATIONAL: u64 = 155_000;
const TAPE: u64 = 674_000;
const POINT: u64 = 89_000;
const ORDER: u64 = 215_000;
const MODES: u64 = 2_430_000;
const SWEEP: u64 = 1_449_000;
const FORM: u64 = 451_000;
const GUITAR: u64 = 404_000_000;

library_benchmark_group!(name = routes; benchmarks = rational, tape, point, order, modes, sweep, form, guitar);

main!(library_benchmark_groups = routes);
