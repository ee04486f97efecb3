//! Coils that never sound, however switches and knobs stand.

use super::{Bench, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{CoilInPlay, Connection, Sweep, Wiring, connections, driven};
use crate::float::modulus;
use crate::harness::{PartId, PartKind};
use crate::network::{Knobs, generic_knob};

/// A coil below this share of the largest at 100 Hz and at 1 kHz does not sound, as in the report.
const SOUNDS: f64 = 1e-3;
/// The same, dB.
const SOUNDS_DB: f64 = -60.0;

pub(super) fn idle_coils(bench: &Bench<'_>) -> Vec<Diagnostic> {
    // Where hot is at ground everywhere, that has been said, and nothing else is the coil's own fault.
    let open = |i: usize| (0..bench.harness.outlets.len()).any(|o| !bench.hot_at_ground(i, o));
    if !(0..bench.positions.len()).any(open) {
        return Vec::new();
    }
    let mut all: Vec<Diagnostic> = Vec::new();
    for (id, part) in bench.harness.parts.iter().enumerate() {
        let PartKind::Pickup(pickup) = &part.kind else { continue };
        let id = PartId(id as u32);
        for (coil, winding) in pickup.coils.iter().enumerate() {
            let sections: Vec<usize> = (0..bench.network.sections.len())
                .filter(|&s| {
                    let section = &bench.network.sections[s];
                    section.pickup == id && section.coil == coil
                })
                .collect();
            let Some(state) = state(bench, &sections).filter(|_| !bench.is_loose(winding)) else { continue };
            let about = (id, winding.name.as_str());
            if bench.held_everywhere(Code::IdleCoil, &[about]) {
                continue;
            }
            let name = bench.called(about);
            let several = bench.positions.len() > 1;
            let (message, label, help) = match state {
                State::Shorted => (
                    format!("coil `{name}` is shorted{}", if several { " in every position" } else { "" }),
                    "both its ends are on one joint",
                    "look for a wire that joins its start to its finish",
                ),
                State::Silent => (
                    format!("coil `{name}` sounds in no position"),
                    "it is heard at no setting of switches and knobs",
                    "follow its start and its finish to hot and to ground",
                ),
            };
            let diagnostic = Diagnostic::warning(Code::IdleCoil, part.span, message).label(label);
            all.push(bench.or_meant(diagnostic, help, &[about], &[]));
        }
    }
    all
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// At most 1 Ω across it everywhere.
    Shorted,
    /// Others sound; it does not.
    Silent,
}

/// What keeps a coil of these sections silent everywhere; None if it sounds somewhere, or if that is said by another rule.
fn state(bench: &Bench<'_>, sections: &[usize]) -> Option<State> {
    let everywhere = |of: &dyn Fn(&CoilInPlay) -> bool| {
        let mut outlets = bench.figures.iter().flat_map(|f| &f.outlets);
        outlets.all(|outlet| sections.iter().all(|&s| of(&outlet.coils[s])))
    };
    if sections.is_empty() || !everywhere(&|c| !sounds(c)) {
        return None;
    }
    let elsewhere = bench.harness.pots().map(|(id, _)| (id, generic_knob(&bench.harness.part(id).name)));
    let knobs = Knobs(elsewhere.collect());
    if everywhere(&|c| c.connection == Connection::Shorted) && shorted(bench, sections, &knobs) {
        return Some(State::Shorted);
    }
    let dummy = sections.iter().all(|&s| bench.network.sections[s].signal == 0.0);
    let hangs = everywhere(&|c| c.connection == Connection::HangingFromHot);
    (!dummy && bench.sounds_somewhere() && !hangs && silent(bench, sections, &knobs)).then_some(State::Silent)
}

fn sounds(coil: &CoilInPlay) -> bool {
    coil.contributes || coil.share_1k.db.is_ok_and(|db| db > SOUNDS_DB)
}

/// Shorted in every position at these knobs too.
fn shorted(bench: &Bench<'_>, sections: &[usize], knobs: &Knobs) -> bool {
    bench.positions.iter().all(|position| {
        (0..bench.harness.outlets.len()).all(|outlet| {
            let setting = setting(&position.throws, knobs);
            let found = connections(bench.harness, bench.network, &setting, outlet);
            sections.iter().all(|&s| found[s] == Connection::Shorted)
        })
    })
}

/// Silent in every position at these knobs too. A position that can't be solved is not silent, for all that is known.
fn silent(bench: &Bench<'_>, sections: &[usize], knobs: &Knobs) -> bool {
    let wiring = Wiring::of(bench.network, bench.harness.string_count);
    bench.positions.iter().all(|position| {
        let values = bench.network.values(bench.harness, &setting(&position.throws, knobs));
        let Ok(mut sweep) = Sweep::new(bench.network, &wiring, values) else { return false };
        (0..bench.harness.outlets.len()).all(|outlet| {
            [100.0, 1000.0].into_iter().all(|f| {
                let Ok(transfers) = sweep.transfers(outlet, f) else { return false };
                let given = driven(&transfers.unwrap_or_default(), &bench.network.sections, |s| s.signal);
                let largest = given.iter().map(|c| modulus(*c)).fold(0.0, f64::max);
                sections.iter().all(|&s| given.get(s).is_none_or(|c| modulus(*c) <= SOUNDS * largest))
            })
        })
    })
}
