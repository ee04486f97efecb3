//! Hot that is left open, or goes to ground, while a switch moves from one throw to the next.
//!
//! A selector that breaks first before a volume is silent for a moment; the pot holds hot, and that is common practice: no warning.
//! Without anything that holds it, hot takes a charge and pops, and hums as long as the hand is slow. A coil that hangs for that
//! moment is not told: it takes a hot that is open to be heard.

use super::{Bench, label, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{PartId, Switch};
use crate::network::{Hot, Knobs, Move, hot};

/// Moves that a note lists.
const LISTED: usize = 6;

pub(super) fn moving_switches(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for (index, (part, switch)) in bench.harness.switches().enumerate() {
        let found = moves(bench, index, part, switch);
        for state in [Hot::Open, Hot::Grounded] {
            all.extend(said(bench, part, switch, &found, state));
        }
    }
    all
}

/// (position, throw that it moves from, what becomes of hot on the way to the next).
fn moves(bench: &Bench<'_>, index: usize, part: PartId, switch: &Switch) -> Vec<(usize, usize, Hot)> {
    let rest = Knobs::default();
    let mut found = Vec::new();
    for (i, position) in bench.positions.iter().enumerate() {
        let from = position.throws[index];
        let to = from + 1;
        if to >= switch.throws.len() {
            continue;
        }
        let mut next = position.throws.clone();
        next[index] = to;
        let here = setting(&position.throws, &rest);
        let there = setting(&next, &rest);
        let travel = Some(Move { switch: index, from, to });
        let on_the_way = hot(bench.network, bench.harness, &here, travel);
        if on_the_way.iter().all(|state| *state == Hot::Held) {
            continue;
        }
        let before = hot(bench.network, bench.harness, &here, None);
        let after = hot(bench.network, bench.harness, &there, None);
        for ((before, after), way) in before.into_iter().zip(after).zip(on_the_way) {
            if way == Hot::Held || before == way || after == way {
                continue;
            }
            let places = [&position.throws, &next];
            if !bench.held_in(Code::MovingSwitch, &[(part, "")], &places.map(|throws| &throws[..])) {
                found.push((i, from, way));
            }
        }
    }
    found
}

fn said(
    bench: &Bench<'_>,
    part: PartId,
    switch: &Switch,
    found: &[(usize, usize, Hot)],
    state: Hot,
) -> Option<Diagnostic> {
    let mut moves: Vec<(usize, usize)> =
        found.iter().filter(|f| f.2 == state).map(|&(position, from, _)| (from, position)).collect();
    moves.sort_unstable();
    moves.dedup_by_key(|(from, _)| *from);
    let &(first, position) = moves.first()?;
    let name = &bench.harness.part(part).name;
    let throw = |at: usize| &switch.throws[at].name;
    let way = |from: usize| format!("from `{}` to `{}`", throw(from), throw(from + 1));
    let (what, label_text, advice) = match state {
        Hot::Open => (
            "open",
            "nothing holds it on the way: a pop, and hum",
            "use a switch that makes first, or hold hot with some megohms to ground",
        ),
        _ => (
            "at ground",
            "the sound is gone for that moment",
            "a switch that breaks first may do the same without a gap",
        ),
    };
    let message = format!("hot is {what} while `{name}` moves {}", way(first));
    let mut diagnostic = Diagnostic::warning(Code::MovingSwitch, bench.part(part), message).label(label_text);
    if bench.positions.len() > 2 {
        diagnostic = diagnostic.note(format!("as in {}", label(&bench.positions[position])));
    }
    if moves.len() > 1 {
        let others: Vec<String> = moves[1..].iter().take(LISTED).map(|(from, _)| way(*from)).collect();
        diagnostic = diagnostic.note(format!("also {}", others.join("; ")));
    }
    Some(bench.or_meant(diagnostic, advice, &[(part, "")], &[]))
}
