//! Pots that change nothing in any position.

use num_complex::Complex64;

use super::{Bench, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{PositionFigures, Sweep, Wiring};
use crate::float::modulus;
use crate::harness::PartId;
use crate::network::{Knobs, generic_knob};

/// Frequencies that are looked at, Hz: below, at and above where guitars resonate.
const FREQUENCIES: [f64; 3] = [97.0, 1013.0, 6007.0];
/// Knob settings that are compared.
const SETTINGS: [f64; 3] = [0.0, 5.0, 10.0];
/// A change smaller than this share of the largest transfer is none.
const NONE: f64 = 1e-9;

pub(super) fn idle_pots(bench: &Bench<'_>) -> Vec<Diagnostic> {
    // Where nothing sounds at all, that is said, and no pot can help it.
    let sounds = |f: &PositionFigures| f.outlets.iter().any(|o| o.level.powers.is_ok());
    if !bench.figures.iter().any(sounds) {
        return Vec::new();
    }
    let wiring = Wiring::of(bench.network, bench.harness.string_count);
    bench
        .harness
        .pots()
        // A missing wire of its own, or one that takes all sound away, has been told.
        .filter(|(id, _)| !bench.is_beside_loose_end(*id) && bench.sounds_somewhere())
        .filter(|(id, _)| is_idle(bench, &wiring, *id))
        .filter(|(id, _)| !bench.held_everywhere(Code::IdlePot, &[(*id, "")]))
        .map(|(id, _)| {
            let part = bench.harness.part(id);
            let message = format!("pot `{}` changes nothing in any position", part.name);
            let diagnostic = Diagnostic::warning(Code::IdlePot, part.span, message)
                .label("turned from 0 to 10 it is not heard");
            bench.or_meant(diagnostic, "check the wires of its lugs 1, 2 and 3", &[(id, "")], &[])
        })
        .collect()
}

/// Whether no position uses the pot. At rest another knob may hide it: a no-load tone at 10, a volume at 0. So it is turned once more
/// with all of them elsewhere.
pub(super) fn is_idle(bench: &Bench<'_>, wiring: &Wiring, pot: PartId) -> bool {
    let elsewhere = bench.harness.pots().map(|(id, _)| (id, generic_knob(&bench.harness.part(id).name)));
    let others = [Knobs::default(), Knobs(elsewhere.collect())];
    let uses = |i| others.iter().any(|others| uses(bench, wiring, i, pot, others));
    !bench.positions.is_empty() && !(0..bench.positions.len()).any(uses)
}

/// Whether a transfer changes as the knob turns, the others where they are. A position that can't be solved uses it, for all that is known.
fn uses(bench: &Bench<'_>, wiring: &Wiring, position: usize, pot: PartId, others: &Knobs) -> bool {
    let mut first: Option<Vec<Complex64>> = None;
    for knob in SETTINGS {
        let mut knobs = others.clone();
        knobs.0.insert(pot, knob);
        let Some(found) = transfers(bench, wiring, position, &knobs) else {
            return true;
        };
        match &first {
            None => first = Some(found),
            Some(first) => {
                let largest = first.iter().chain(&found).map(|t| modulus(*t));
                let limit = NONE * largest.fold(0.0, f64::max);
                if first.iter().zip(&found).any(|(a, b)| modulus(a - b) > limit) {
                    return true;
                }
            }
        }
    }
    false
}

fn transfers(bench: &Bench<'_>, wiring: &Wiring, position: usize, knobs: &Knobs) -> Option<Vec<Complex64>> {
    let setting = setting(&bench.positions[position].throws, knobs);
    let values = bench.network.values(bench.harness, &setting);
    let mut sweep = Sweep::new(bench.network, wiring, values).ok()?;
    let mut all = Vec::new();
    for outlet in 0..bench.network.outlets.len() {
        for f in FREQUENCIES {
            all.extend(sweep.transfers(outlet, f).ok()?.unwrap_or_default());
        }
    }
    Some(all)
}
