//! Hum that adds where it could cancel.

use num_complex::Complex64;

use super::{Bench, grouped, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{Cancelling, OutletFigures, Sweep, Wiring, driven};
use crate::network::Knobs;

/// What is left where coils cancel: a tenth, −20 dB.
const CANCELS: f64 = 0.1;
/// More coils than this are not tried in every combination.
const MOST_COILS: usize = 12;

/// Several coils sound, their hum does not cancel, and with some of them turned round it would.
pub(super) fn no_hum_cancelling(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let wiring = Wiring::of(bench.network, bench.harness.string_count);
    let rest = Knobs::default();
    let pairs = bench.each().flat_map(|(i, position, figures)| {
        let mut found = Vec::new();
        for (outlet, o) in figures.outlets.iter().enumerate() {
            if o.hum.verdict != Some(Cancelling::No) || sounding(o).len() < 2 {
                continue;
            }
            let values = bench.network.values(bench.harness, &setting(&position.throws, &rest));
            let hum = Sweep::new(bench.network, &wiring, values)
                .and_then(|mut sweep| sweep.transfers(outlet, bench.harness.mains));
            // A position that can't be solved has been reported as such.
            if let Ok(Some(transfers)) = hum {
                let h = driven(&transfers, &bench.network.sections, |s| s.hum);
                if could_cancel(&h) {
                    found.push((sounding(o), i));
                }
            }
        }
        found
    });
    grouped(pairs)
        .into_iter()
        .map(|(coils, found)| {
            let sections = &bench.network.sections;
            let names: Vec<String> = coils.iter().map(|&c| format!("`{}`", sections[c].name)).collect();
            let message = format!("the hum of {} adds {}", enumerated(&names), bench.in_positions(&found));
            let place = bench.part(sections[coils[0]].pickup);
            let diagnostic = Diagnostic::warning(Code::NoHumCancelling, place, message)
                .label("with one of them turned round it would cancel")
                .help("pair a coil with one that is reverse wound and of the other polarity");
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}

/// `a`, `a and b`, `a, b and c`.
fn enumerated(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [many @ .., last] => format!("{} and {last}", many.join(", ")),
    }
}

fn sounding(outlet: &OutletFigures) -> Vec<usize> {
    let coils = outlet.coils.iter().enumerate();
    coils.filter(|(_, c)| c.contributes).map(|(i, _)| i).collect()
}

/// Some choice of signs brings the sum down to a tenth of what there is.
fn could_cancel(h: &[Complex64]) -> bool {
    let size = |h: &Complex64| crate::float::modulus(*h);
    let total: f64 = h.iter().map(size).sum();
    let heard: Vec<Complex64> = h.iter().copied().filter(|h| size(h) > 1e-3 * total).collect();
    if heard.len() < 2 || heard.len() > MOST_COILS {
        return false;
    }
    (0..1u32 << (heard.len() - 1)).any(|signs| {
        let sum: Complex64 =
            heard.iter().enumerate().map(|(i, h)| if signs >> i & 1 == 1 { -h } else { *h }).sum();
        size(&sum) <= CANCELS * total
    })
}
