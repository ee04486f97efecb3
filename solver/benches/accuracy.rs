//! Prints responses of the voice and of a thousand stressed copies, for `accuracy.py` to hold against 50 digits:
//!
//! `cargo bench -p solver --bench accuracy | python3 solver/benches/accuracy.py`
//!
//! Every value × 0.5…2, couplings −0.99…0.99, in one copy of eight a pot at its stop. One line a copy: method, bounds, values, then for
//! some frequencies of the sweep the transfers; numbers as bits in hexadecimal.
#![allow(missing_docs, clippy::unwrap_used, clippy::disallowed_methods, reason = "a program for the bench")]

mod workload;

use solver::batch::{BatchResult, Parameter, Request, Route, Status, Width};
use workload::{frequencies, layout, one_voice};

const COPIES: usize = 1001;
const SHOWN: usize = 5;

fn main() {
    // `cargo test` builds benches and runs them; a study is not a test.
    if std::env::args().any(|argument| argument == "--test") {
        return;
    }
    let voice = one_voice();
    let f = frequencies(400);
    let mut state = 1_u64;
    let mut share = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut values = vec![0.0; voice.parameters.len() * COPIES];
    for copy in 0..COPIES {
        for (p, (&parameter, &nominal)) in voice.parameters.iter().zip(&voice.nominal).enumerate() {
            let draw = share();
            values[p * COPIES + copy] = match parameter {
                _ if copy == 0 => nominal,
                Parameter::Coupling(_) => 1.98 * draw - 0.99,
                _ => nominal * 4_f64.powf(draw - 0.5),
            };
        }
        // The tracks: two of the volumes, two of the tones.
        if copy % 8 == 7 {
            values[[4, 5, 8, 13, 14, 17][(6.0 * share()) as usize] * COPIES + copy] = 0.0;
        }
    }
    let route = match std::env::args().find(|argument| argument.starts_with("route=")).as_deref() {
        Some("route=tape") => Route::Tape,
        Some("route=pointwise") => Route::Pointwise,
        _ => Route::Auto,
    };
    let request = Request {
        transfers: &voice.transfers,
        frequencies: &f,
        parameters: &voice.parameters,
        route,
        width: Width::Auto,
    };
    let batch = layout(&voice).batch(&voice.values, &request).unwrap();
    let mut result = BatchResult::default();
    batch.run(&mut batch.workspace(), &values, COPIES, &mut result).unwrap();
    let hex = |x: f64| format!("{:016x}", x.to_bits());
    for copy in 0..COPIES {
        let Status::Solved { method, .. } = &result.statuses()[copy] else {
            panic!("copy {copy}: {:?}", result.statuses()[copy]);
        };
        let mut line = vec![format!("{method:?}")];
        line.extend((0..4).map(|j| hex(result.bounds()[copy * 4 + j])));
        line.extend(
            (0..4).map(|j| hex(result.response(copy, j).iter().map(|h| h.norm()).fold(0.0, f64::max))),
        );
        line.extend((0..voice.parameters.len()).map(|p| hex(values[p * COPIES + copy])));
        for _ in 0..SHOWN {
            let index = (400.0 * share()) as usize;
            line.push(hex(f[index].0));
            for j in 0..4 {
                let h = result.response(copy, j)[index];
                line.extend([hex(h.re), hex(h.im)]);
            }
        }
        println!("{}", line.join(" "));
    }
}
