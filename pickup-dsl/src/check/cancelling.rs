//! Hum that adds where it could cancel.

use std::collections::BTreeMap;

use num_complex::Complex64;

use super::{Bench, grouped, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{Cancelling, OutletFigures, Sweep, Wiring, driven};
use crate::harness::PartId;
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
                let sections = &bench.network.sections;
                let hums = driven(&transfers, sections, |s| s.hum);
                let coils: Vec<_> = sections.iter().map(|s| s.pickup).zip(hums).collect();
                if could_cancel(&coils) {
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

/// Turning some of what can be turned round brings the sum down to a tenth of what there is. `coils`: each coil's pickup and its hum.
///
/// A pickup whose own coils already work against each other in hum is turned round as a whole: turning one of its coils would
/// take its signal away. The coils of a pickup whose hum adds are turned one by one.
fn could_cancel(coils: &[(PartId, Complex64)]) -> bool {
    let size = |h: &Complex64| crate::float::modulus(*h);
    let total: f64 = coils.iter().map(|(_, h)| size(h)).sum();
    let mut pickups: BTreeMap<PartId, Vec<Complex64>> = BTreeMap::new();
    for &(pickup, h) in coils.iter().filter(|(_, h)| size(h) > 1e-3 * total) {
        pickups.entry(pickup).or_default().push(h);
    }
    let mut units = Vec::new();
    for hums in pickups.into_values() {
        let against = |h: &Complex64| hums.iter().any(|other| (h * other.conj()).re < 0.0);
        if hums.iter().any(against) {
            units.push(hums.iter().sum());
        } else {
            units.extend(hums);
        }
    }
    if units.len() < 2 || units.len() > MOST_COILS {
        return false;
    }
    (0..1u32 << (units.len() - 1)).any(|signs| {
        let sum: Complex64 =
            units.iter().enumerate().map(|(i, h)| if signs >> i & 1 == 1 { -h } else { *h }).sum();
        size(&sum) <= CANCELS * total
    })
}

#[cfg(test)]
mod tests {
    use super::{Complex64, PartId, could_cancel};

    fn coils(list: &[(u32, f64)]) -> Vec<(PartId, Complex64)> {
        list.iter().map(|&(p, h)| (PartId(p), Complex64::new(h, 0.0))).collect()
    }

    #[test]
    fn like_coils_of_one_pickup_or_of_two_could_cancel() {
        assert!(could_cancel(&coils(&[(0, 1.0), (0, 1.02)])));
        assert!(could_cancel(&coils(&[(0, 1.0), (1, 1.02)])));
        assert!(!could_cancel(&coils(&[(0, 1.0), (1, 2.0)])));
        assert!(!could_cancel(&coils(&[(0, 1.0)])));
    }

    #[test]
    fn a_coil_beside_a_pickup_that_cancels_by_itself_could_not() {
        assert!(!could_cancel(&coils(&[(0, 1.0), (0, -1.0), (1, 1.0)])));
        assert!(could_cancel(&coils(&[(0, 1.0), (0, -0.1), (1, 1.0), (1, -0.12)])));
    }
}
