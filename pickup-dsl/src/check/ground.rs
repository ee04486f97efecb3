//! Strings and metal parts that are not at ground: they hum, and are live to touch.

use super::{Bench, net_of};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{LugId, PartKind};
use crate::network::{LiveKind, LiveNetwork};

/// Metal parts of a pickup.
const METAL: [&str; 3] = ["cover", "plate", "braid"];

/// A `strings` part that reaches ground neither by metal nor through a resistor or capacitor of its own.
pub(super) fn strings(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for part in &bench.harness.parts {
        if !matches!(part.kind, PartKind::Strings) {
            continue;
        }
        let lug = LugId(part.lugs.start);
        let found: Vec<usize> =
            (0..bench.positions.len()).filter(|&i| !grounded(&bench.nets[i], lug)).collect();
        if found.is_empty() {
            continue;
        }
        let message =
            format!("the strings (`{}`) are not grounded {}", part.name, bench.in_positions(&found));
        let diagnostic = Diagnostic::warning(Code::StringsNotGrounded, part.span, message)
            .label("nothing joins them to the sleeve")
            .note("the player is the antenna then: hum that changes when the strings are touched")
            .help("wire the bridge or tailpiece to ground");
        all.push(bench.with_positions(diagnostic, &found));
    }
    all
}

fn grounded(network: &LiveNetwork, lug: LugId) -> bool {
    let Some(at) = network.nets.iter().position(|n| n.lugs.contains(&lug)) else {
        return false;
    };
    network.nets[at].ground
        || network.elements.iter().any(|e| {
            let ends =
                (e.from == at && network.nets[e.to].ground) || (e.to == at && network.nets[e.from].ground);
            let drawn = matches!(e.kind, LiveKind::Resistance(_) | LiveKind::Capacitance(_));
            ends && drawn
        })
}

/// Covers, plates and braids that are not metal to metal with ground.
pub(super) fn metal(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for part in &bench.harness.parts {
        if !matches!(part.kind, PartKind::Pickup(_)) {
            continue;
        }
        for lug in part.lugs.clone().map(LugId) {
            let name = &bench.harness.lugs[lug.0 as usize].name;
            if !METAL.contains(&name.as_str()) {
                continue;
            }
            let live = |i: &usize| !net_of(&bench.nets[*i], lug).is_some_and(|net| net.ground);
            let found: Vec<usize> = (0..bench.positions.len()).filter(live).collect();
            if found.is_empty() {
                continue;
            }
            let message =
                format!("`{}` is not at ground {}", bench.harness.lug_name(lug), bench.in_positions(&found));
            let diagnostic = Diagnostic::warning(Code::MetalNotGrounded, part.span, message)
                .label("it hums, and is live to touch")
                .help("give it a ground wire of its own");
            all.push(bench.with_positions(diagnostic, &found));
        }
    }
    all
}
