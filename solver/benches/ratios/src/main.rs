//! Prints the table of ratios of `solver/README.md`: every contender solves the same networks in one run.
//!
//! `cargo run --release --manifest-path solver/benches/ratios/Cargo.toml`
//!
//! One solve = the transfers from all sources to the output at one frequency, the filling of the matrix included. Best of several runs.
#![allow(clippy::unwrap_used, reason = "a program for the bench")]

mod dense;
#[path = "../../workload.rs"]
mod workload;

use std::hint::black_box;
use std::time::Instant;

use num_complex::Complex64;
use solver::batch::{Batch, BatchResult, Request, Route, Width};
use solver::{Hertz, Kelvin, Layout, Noise, Response, SweepAnswers};
use workload::{Workload, frequencies, ladder, layout, mesh, one_voice};

/// Seconds of the best of several runs.
fn best(runs: usize, mut run: impl FnMut()) -> f64 {
    run();
    let mut best = f64::INFINITY;
    for _ in 0..runs {
        let start = Instant::now();
        run();
        best = best.min(start.elapsed().as_secs_f64());
    }
    best
}

fn batch(w: &Workload, layout: &Layout, f: &[Hertz], varied: bool, route: Route, width: Width) -> Batch {
    let parameters = if varied { &w.parameters[..] } else { &[] };
    let request = Request { transfers: &w.transfers, frequencies: f, parameters, route, width };
    layout.batch(&w.values, &request).unwrap()
}

/// ±10 % on every value, `[parameter][sample]`.
fn spread(w: &Workload, samples: usize, seed: u64) -> Vec<f64> {
    let mut state = 2 * seed + 1;
    let mut share = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        0.9 + 0.2 * (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    w.nominal.iter().flat_map(|&x| (0..samples).map(|_| x * share()).collect::<Vec<_>>()).collect()
}

struct Row {
    what: String,
    seconds: f64,
}

fn print(title: &str, unit: &str, rows: &[Row], baseline: f64) {
    println!("\n{title}\n\n| contender | {unit} | × nalgebra dense LU |\n| --- | ---: | ---: |");
    for row in rows {
        println!("| {} | {:.1} | {:.1} |", row.what, row.seconds * 1e9, baseline / row.seconds);
    }
}

fn main() {
    let voice = one_voice();
    let f = frequencies(400);
    let lay = layout(&voice);
    let widths = [Width::Sse2, Width::Avx2, Width::Avx512].into_iter().filter(|w| w.is_available());

    let dense = dense::System::new();
    let nalgebra = best(20, || dense.nalgebra(&f)) / 400.0;
    let faer = best(20, || dense.faer(&f)) / 400.0;
    let mut rows = vec![
        Row { what: "nalgebra, dense LU at each frequency".into(), seconds: nalgebra },
        Row { what: "faer, dense LU at each frequency".into(), seconds: faer },
    ];
    let mut workspace = lay.workspace();
    let mut out = Vec::new();
    let pointwise = best(50, || {
        for &f in &f {
            workspace
                .factor(&voice.values, f)
                .unwrap()
                .transfers(voice.transfers[0].output, &mut out)
                .unwrap();
            black_box(&out);
        }
    });
    rows.push(Row { what: "solver, pointwise".into(), seconds: pointwise / 400.0 });
    for route in [Route::Tape, Route::Rational] {
        for width in widths.clone() {
            let batch = batch(&voice, &lay, &f, false, route, width);
            let (mut work, mut result) = (batch.workspace(), BatchResult::default());
            let seconds = best(200, || batch.run(&mut work, &[], 1, &mut result).unwrap()) / 400.0;
            rows.push(Row { what: format!("solver, {route:?}, {width:?}"), seconds });
        }
    }
    print("W1: one voice, 400 frequencies", "ns/solve", &rows, nalgebra);

    // In pieces whose answers stay in the cache, as a study takes them; all at once they wait for the memory.
    let (pieces, samples) = (60, 8);
    let values: Vec<Vec<f64>> = (0..pieces).map(|piece| spread(&voice, samples, piece)).collect();
    let all = spread(&voice, pieces as usize * samples, 0);
    let solves = 400.0 * (pieces as usize * samples) as f64;
    let mut rows = Vec::new();
    for route in [Route::Tape, Route::Rational] {
        for width in widths.clone() {
            let batch = batch(&voice, &lay, &f, true, route, width);
            let (mut work, mut result) = (batch.workspace(), BatchResult::default());
            let seconds = best(5, || {
                values.iter().for_each(|values| batch.run(&mut work, values, samples, &mut result).unwrap());
            });
            rows.push(Row { what: format!("solver, {route:?}, {width:?}"), seconds: seconds / solves });
        }
    }
    let auto = batch(&voice, &lay, &f, true, Route::Auto, Width::Auto);
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let mut result = BatchResult::default();
        let count = pieces as usize * samples;
        let seconds = pool.install(|| best(5, || auto.run_parallel(&all, count, &mut result).unwrap()));
        rows.push(Row {
            what: format!("solver, Auto, all at once, {threads} thread(s)"),
            seconds: seconds / solves,
        });
    }
    print("W2: tolerance, every value ±10 %, 400 frequencies", "ns/solve", &rows, nalgebra);

    println!(
        "\nA response with its slope, four transfers and the noise, 400 frequencies\n\n| contender | ns/frequency |\n| --- | ---: |"
    );
    let drive: Vec<_> = voice.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
    let noise = Noise::thermal(&voice.circuit, Kelvin(293.15));
    let output = voice.transfers[0].output;
    let mut point = || {
        for &f in &f {
            let mut point = workspace.factor(&voice.values, f).unwrap();
            black_box(point.sweep_point(&drive, output, &noise, &mut out).unwrap());
        }
    };
    println!("| pointwise | {:.0} |", best(20, &mut point) / 400.0 * 1e9);
    for width in widths.clone() {
        let plan = lay.sweep(Response::Transfer(&drive, output), Some(&noise), width).unwrap();
        let (mut work, mut answers) = (plan.workspace(), SweepAnswers::default());
        let by_lanes = best(200, || {
            work.load(&voice.values).unwrap();
            black_box(work.along(&f, &mut answers).unwrap());
        });
        println!("| sweep in lanes, {width:?} | {:.0} |", by_lanes / 400.0 * 1e9);
        let form = plan.form(&voice.values, (Hertz(20.0), Hertz(20e3))).unwrap().unwrap();
        let nodes = form.nodes(&f);
        let by_form = best(200, || {
            work.load(&voice.values).unwrap();
            assert!(work.fit(&form));
            black_box(work.by_form(&nodes, &mut answers).unwrap());
        });
        println!("| sweep by its rational form, {width:?} | {:.0} |", by_form / 400.0 * 1e9);
    }

    let cold = best(100, || {
        let voice = one_voice();
        let lay = layout(&voice);
        let batch = batch(&voice, &lay, &f, false, Route::Auto, Width::Auto);
        let mut result = BatchResult::default();
        batch.run(&mut batch.workspace(), &[], 1, &mut result).unwrap();
        black_box(&result);
    });
    println!("\nW1 cold (build, order, solve 400 frequencies): {:.1} µs", cold * 1e6);

    println!(
        "\nW3: ladder, and an RC mesh\n\n| network | unknowns | order, ms | ns/frequency | ns/frequency/unknown |\n| --- | ---: | ---: | ---: | ---: |"
    );
    let few = frequencies(48);
    for (name, w) in [100, 1000, 10_000, 100_000]
        .map(|n| (format!("ladder, {n} sections"), ladder(n)))
        .into_iter()
        .chain([30, 100].map(|n| (format!("RC mesh, {n} × {n}"), mesh(n))))
    {
        let start = Instant::now();
        let lay = layout(&w);
        let order = start.elapsed().as_secs_f64();
        let batch = batch(&w, &lay, &few, false, Route::Tape, Width::Auto);
        let (mut work, mut result) = (batch.workspace(), BatchResult::default());
        let seconds = best(1, || batch.run(&mut work, &[], 1, &mut result).unwrap()) / 48.0;
        println!(
            "| {name} | {} | {:.1} | {:.0} | {:.1} |",
            lay.unknowns(),
            order * 1e3,
            seconds * 1e9,
            seconds * 1e9 / lay.unknowns() as f64
        );
    }
}
