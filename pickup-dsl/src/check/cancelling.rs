//! Hum that adds where it could cancel.

use std::collections::BTreeMap;

use num_complex::Complex64;

use super::{Bench, grouped, opposing, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{Cancelling, OutletFigures, Sweep, Wiring, driven};
use crate::harness::PartId;
use crate::intents::Thing;
use crate::network::Knobs;

/// What is left where coils cancel: a tenth, −20 dB, as the verdict of the figures has it.
const CANCELS: f64 = 0.1;
/// Judged at the mains and here, Hz, where the harmonics that count end; the worse decides.
const UPPER: f64 = 1000.0;
/// More coils than this are not tried in every combination.
const MOST_COILS: usize = 12;

/// Several coils sound, their hum does not cancel, and with some of them turned round it would. Where coils work against each other,
/// turning one of them is told already, or is not wanted.
pub(super) fn no_hum_cancelling(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let wiring = Wiring::of(bench.network, bench.harness.string_count);
    let rest = Knobs::default();
    let pairs = bench.each().flat_map(|(i, position, figures)| {
        let mut found = Vec::new();
        for (outlet, o) in figures.outlets.iter().enumerate() {
            let opposed = opposing::opposed(o).next().is_some();
            if o.hum.verdict != Some(Cancelling::No) || sounding(o).len() < 2 || opposed {
                continue;
            }
            let values = bench.network.values(bench.harness, &setting(&position.throws, &rest));
            let hum = Sweep::new(bench.network, &wiring, values).and_then(|mut sweep| {
                Ok((sweep.transfers(outlet, bench.harness.mains)?, sweep.transfers(outlet, UPPER)?))
            });
            // A position that can't be solved has been reported as such.
            if let Ok((Some(low), Some(high))) = hum {
                let sections = &bench.network.sections;
                let [low, high] = [low, high].map(|transfers| driven(&transfers, sections, |s| s.hum));
                // The sections of a tapped coil are turned round together.
                let mut coils: BTreeMap<_, Pair> = BTreeMap::new();
                for (section, (low, high)) in sections.iter().zip(low.into_iter().zip(high)) {
                    let coil = coils.entry((section.pickup, section.coil)).or_default();
                    *coil = [coil[0] + low, coil[1] + high];
                }
                let coils: Vec<_> = coils.into_iter().map(|((pickup, _), hum)| (pickup, hum)).collect();
                let sounding = sounding(o);
                let about: Vec<_> = sounding.iter().map(|&c| bench.coil(c)).collect();
                if could_cancel(&coils) && !bench.held(Code::NoHumCancelling, &about, i) {
                    found.push((sounding, i));
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
                .label("with one of them turned round it would cancel");
            let mut pickups: Vec<Thing<'_>> = coils.iter().map(|&c| (sections[c].pickup, "")).collect();
            pickups.dedup();
            let advice = "pair a coil with one that is reverse wound and of the other polarity, or say `wound` and `pole` of each (unsaid: forward, north)";
            let diagnostic = bench.or_meant(diagnostic, advice, &pickups, &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn enumerated(names: &[String]) -> String {
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

/// Hum at the mains and at [`UPPER`].
type Pair = [Complex64; 2];

/// Turning some of what can be turned round brings the sum down to a tenth of what there is, at the mains and at [`UPPER`].
/// `coils`: each coil's pickup and its hum. What cancels as it is, is none of this.
///
/// A pickup whose own coils already work against each other in hum is turned round as a whole: turning one of its coils would
/// take its signal away. The coils of a pickup whose hum adds are turned one by one.
fn could_cancel(coils: &[(PartId, Pair)]) -> bool {
    let size = |h: Complex64| crate::float::modulus(h);
    let total = |place: usize| coils.iter().map(|(_, h)| size(h[place])).sum::<f64>();
    let totals = [total(0), total(1)];
    let counts = |h: &Pair| h.iter().zip(totals).any(|(h, total)| size(*h) > 1e-3 * total);
    let mut pickups: BTreeMap<PartId, Vec<Pair>> = BTreeMap::new();
    for &(pickup, h) in coils.iter().filter(|(_, h)| counts(h)) {
        pickups.entry(pickup).or_default().push(h);
    }
    let mut units: Vec<Pair> = Vec::new();
    for hums in pickups.into_values() {
        let against = |h: &Pair| hums.iter().any(|other| (h[0] * other[0].conj()).re < 0.0);
        if hums.iter().any(against) {
            units.push(hums.iter().fold(Pair::default(), |sum, h| [sum[0] + h[0], sum[1] + h[1]]));
        } else {
            units.extend(hums);
        }
    }
    if units.len() < 2 || units.len() > MOST_COILS {
        return false;
    }
    // The last stays: turning all is turning none. Signs of 0 turn nothing.
    (1..1u32 << (units.len() - 1)).any(|signs| {
        let turned = |i: usize, h: Complex64| if signs >> i & 1 == 1 { -h } else { h };
        let left =
            |place: usize| units.iter().enumerate().map(|(i, h)| turned(i, h[place])).sum::<Complex64>();
        (0..2).all(|place| size(left(place)) <= CANCELS * totals[place])
    })
}

#[cfg(test)]
mod tests {
    use super::{Complex64, Pair, PartId, could_cancel};

    fn coils(list: &[(u32, f64)]) -> Vec<(PartId, Pair)> {
        list.iter().map(|&(p, h)| (PartId(p), [Complex64::new(h, 0.0); 2])).collect()
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
    #[test]
    fn both_places_count_and_turning_nothing_does_not() {
        let pair = |low: [f64; 2], high: [f64; 2]| {
            let coil = |i: usize| (PartId(i as u32), [low[i].into(), high[i].into()]);
            [coil(0), coil(1)]
        };
        // Cancels at the mains as it is, and not above.
        assert!(!could_cancel(&pair([1.0, -1.0], [1.0, -0.1])));
        // Would cancel at the mains if turned, and not above.
        assert!(!could_cancel(&pair([1.0, 1.0], [1.0, 0.1])));
        assert!(could_cancel(&pair([1.0, 1.0], [1.0, 0.9])));
    }
}
