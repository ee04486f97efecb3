//! Tone controls that work the wrong way round, dark at 10 and bright at 0, and those that darken nothing.

use super::pot::is_idle;
use super::{Bench, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{Sweep, Wiring, driven};
use crate::float::power_db;
use crate::harness::{LugId, PartId};
use crate::network::Knobs;

/// Frequencies that stand for bass and for treble, Hz: the bands of the report's brightness.
const LOW: [f64; 4] = [113.0, 199.0, 353.0, 619.0];
const HIGH: [f64; 4] = [2203.0, 2917.0, 3863.0, 5113.0];
/// A smaller difference is none, dB.
const HEARD: f64 = 1.0;

/// What is wrong with a tone control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    /// Dark at 10 wherever it matters.
    Reversed,
    /// It is heard, but makes nothing darker.
    Flat,
}

pub(super) fn backward_and_flat_tones(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let wiring = Wiring::of(bench.network, bench.harness.string_count);
    let tones = bench.harness.pots().filter(|(_, pot)| pot.role.as_deref() == Some("tone"));
    let mut all = Vec::new();
    for (id, _) in tones {
        let Some(fault) = fault(bench, &wiring, id) else { continue };
        let part = bench.harness.part(id);
        let (code, message, label, note, advice) = match fault {
            Fault::Reversed => (
                Code::ReversedTone,
                format!("tone `{}` is dark at 10 and bright at 0", part.name),
                "it works the wrong way round",
                "a tone control puts its whole track between hot and the capacitor at 10",
                if wired(bench, id, "1") { "change over lugs 1 and 3" } else { "use lug 1 in place of 3" },
            ),
            Fault::Flat => (
                Code::FlatTone,
                format!("tone `{}` darkens nothing in any position", part.name),
                "turned down, it changes the level and not the treble",
                "a tone control takes treble away through a capacitor",
                "look for its capacitor, or give it another `role`",
            ),
        };
        if !bench.held_everywhere(code, &[(id, "")]) {
            let diagnostic = Diagnostic::warning(code, part.span, message).label(label).note(note);
            all.push(bench.or_meant(diagnostic, advice, &[(id, "")], &[]));
        }
    }
    all
}

/// Reversed: it takes treble away at 10 in each position where it matters. Flat: it matters to the treble in none.
fn fault(bench: &Bench<'_>, wiring: &Wiring, pot: PartId) -> Option<Fault> {
    let (mut reversed, mut heard) = (false, false);
    for position in bench.positions {
        for outlet in 0..bench.harness.outlets.len() {
            let at = |knob: f64| tone(bench, wiring, &position.throws, pot, knob, outlet);
            let (Some([low_0, high_0]), Some([low_10, high_10])) = (at(0.0), at(10.0)) else { continue };
            heard = true;
            let treble = high_10 - high_0;
            let brightness = treble - (low_10 - low_0);
            // Less bass at 10 makes no dark tone, less of everything neither.
            if treble < -HEARD && brightness < -HEARD {
                reversed = true;
            } else if brightness.abs() > HEARD {
                return None;
            }
        }
    }
    if reversed {
        return Some(Fault::Reversed);
    }
    // What changes nothing at all, or lacks a wire, is told elsewhere.
    let told = || bench.is_beside_loose_end(pot) || is_idle(bench, wiring, pot);
    (heard && !told()).then_some(Fault::Flat)
}

/// Bass and treble with one knob turned, the others at rest, coils added as powers, dB; None where nothing sounds.
fn tone(
    bench: &Bench<'_>,
    wiring: &Wiring,
    throws: &[usize],
    pot: PartId,
    knob: f64,
    outlet: usize,
) -> Option<[f64; 2]> {
    let knobs = Knobs([(pot, knob)].into());
    let values = bench.network.values(bench.harness, &setting(throws, &knobs));
    let mut sweep = Sweep::new(bench.network, wiring, values).ok()?;
    let mut level = |frequencies: [f64; 4]| {
        let mut power = 0.0;
        for f in frequencies {
            let transfers = sweep.transfers(outlet, f).ok()??;
            power += driven(&transfers, &bench.network.sections, |s| s.signal)
                .iter()
                .map(|c| c.norm_sqr())
                .sum::<f64>();
        }
        (power > 0.0).then(|| power_db(power))
    };
    Some([level(LOW)?, level(HIGH)?])
}

fn wired(bench: &Bench<'_>, part: PartId, lug: &str) -> bool {
    let lug = bench.harness.lug(part, lug);
    lug.is_some_and(|lug: LugId| bench.harness.joints.iter().any(|joint| joint.a == lug || joint.b == lug))
}
