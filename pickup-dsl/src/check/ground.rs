//! Strings and metal parts that are not at ground: they hum, and are live to touch.

use super::{Bench, hot};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Harness, LugId, PartKind};
use crate::network::Joints;

/// Metal parts of a pickup.
const METAL: [&str; 3] = ["cover", "plate", "braid"];

/// A `strings` part that reaches ground neither by metal nor through resistors and capacitors alone.
pub(super) fn strings(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for part in &bench.harness.parts {
        if !matches!(part.kind, PartKind::Strings) {
            continue;
        }
        let lug = LugId(part.lugs.start);
        let way = |i: usize| way_to_ground(bench.harness, &bench.joints[i], lug);
        let found: Vec<usize> = (0..bench.positions.len()).filter(|&i| way(i) != Way::Ground).collect();
        if found.is_empty() {
            continue;
        }
        let message =
            format!("the strings (`{}`) are not grounded {}", part.name, bench.not_in_positions(&found));
        let label = if found.iter().any(|&i| way(i) == Way::Hot) {
            "they are joined to hot"
        } else {
            "nothing but a coil or a pot, if anything, joins them to the sleeve"
        };
        let diagnostic = Diagnostic::warning(Code::StringsNotGrounded, part.span, message)
            .label(label)
            .note("the player is the antenna then: hum that changes when the strings are touched")
            .help("wire the bridge or tailpiece to ground");
        all.push(bench.with_positions(diagnostic, &found));
    }
    all
}

/// Where a lug leads by metal, resistors and capacitors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Ground,
    /// To hot, by metal or on its way to ground: what is hot is no ground, whatever lies from there to the sleeve.
    Hot,
    Nowhere,
}

fn way_to_ground(harness: &Harness, joints: &Joints, lug: LugId) -> Way {
    if joints.at_ground(lug) {
        return Way::Ground;
    }
    let hot = hot::joints(harness, joints);
    let plain: Vec<[usize; 2]> = harness
        .parts
        .iter()
        .filter(|part| matches!(part.kind, PartKind::Resistor(_) | PartKind::Capacitor(..)))
        .map(|part| [part.lugs.start, part.lugs.start + 1].map(|lug| joints.of_lug(LugId(lug))))
        .collect();
    let mut reached = vec![joints.of_lug(lug)];
    let mut next = 0;
    let mut found = Way::Nowhere;
    while let Some(&at) = reached.get(next) {
        next += 1;
        if at == joints.ground() {
            return Way::Ground;
        }
        if hot.contains(&at) {
            found = Way::Hot;
            continue;
        }
        for [a, b] in &plain {
            for (from, to) in [(a, b), (b, a)] {
                if *from == at && !reached.contains(to) {
                    reached.push(*to);
                }
            }
        }
    }
    found
}

/// Covers, plates and braids that are not at ground.
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
            let live = |i: &usize| !bench.joints[*i].at_ground(lug);
            let found: Vec<usize> = (0..bench.positions.len()).filter(live).collect();
            if found.is_empty() {
                continue;
            }
            let message = format!(
                "`{}` is not at ground {}",
                bench.harness.lug_name(lug),
                bench.not_in_positions(&found)
            );
            let diagnostic = Diagnostic::warning(Code::MetalNotGrounded, part.span, message)
                .label("it hums, and is live to touch")
                .help("give it a ground wire of its own");
            all.push(bench.with_positions(diagnostic, &found));
        }
    }
    all
}
