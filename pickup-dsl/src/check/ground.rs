//! Strings and metal parts that are not at ground: they hum, and are live to touch.

use super::cancelling::enumerated;
use super::{Bench, hot};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::metal::metal as metal_of;
use crate::harness::{Coil, Construction, Harness, LugId, PartKind};
use crate::network::Joints;

/// What is said of strings that are hot.
pub(super) const STRINGS_HOT: &str = "they are joined to hot";
/// What is said of metal that is hot.
pub(super) const METAL_HOT: &str = "it is joined to hot: live to touch";
/// What is likely then.
const CHANGED_OVER: &str = "look for a hot wire on a ground lug, or tip and sleeve of the jack changed over";

/// A `strings` part that reaches ground neither by metal nor through resistors and capacitors alone.
pub(super) fn strings(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for part in &bench.harness.parts {
        if !matches!(part.kind, PartKind::Strings) {
            continue;
        }
        let lug = LugId(part.lugs.start);
        let way = |i: usize| way_to_ground(bench.harness, &bench.joints[i], lug);
        let meant = |i: usize| bench.held(Code::StringsNotGrounded, &[bench.lug(lug)], i);
        let found: Vec<usize> =
            (0..bench.positions.len()).filter(|&i| way(i) != Way::Ground && !meant(i)).collect();
        if found.is_empty() {
            continue;
        }
        let message =
            format!("the strings (`{}`) are not grounded {}", part.name, bench.not_in_positions(&found));
        let (label, advice) = if found.iter().any(|&i| way(i) == Way::Hot) {
            (STRINGS_HOT, CHANGED_OVER)
        } else {
            let label = "nothing but a coil or a pot, if anything, joins them to the sleeve";
            (label, "wire the bridge or tailpiece to ground")
        };
        let diagnostic = Diagnostic::warning(Code::StringsNotGrounded, part.span, message)
            .label(label)
            .note("the player is the antenna then: hum that changes when the strings are touched");
        let diagnostic = bench.or_meant(diagnostic, advice, &[bench.lug(lug)], &found);
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

/// Covers, plates, braids, cases, frames and shields that are not at ground; those of one joint in one warning.
pub(super) fn metal(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut groups: Vec<(usize, Vec<usize>, Vec<LugId>)> = Vec::new();
    for lug in metal_of(bench.harness) {
        let live = |i: &usize| !bench.joints[*i].at_ground(lug) && !metal_meant(bench, lug, *i);
        let found: Vec<usize> = (0..bench.positions.len()).filter(live).collect();
        let Some(&first) = found.first() else { continue };
        let joint = bench.joints[first].of_lug(lug);
        match groups.iter_mut().find(|group| group.0 == joint && group.1 == found) {
            Some(group) => group.2.push(lug),
            None => groups.push((joint, found, vec![lug])),
        }
    }
    groups
        .into_iter()
        .map(|(joint, found, lugs)| {
            let is_hot = hot::joints(bench.harness, &bench.joints[found[0]]).contains(&joint);
            let names: Vec<String> =
                lugs.iter().map(|lug| format!("`{}`", bench.harness.lug_name(*lug))).collect();
            let are = if names.len() == 1 { "is" } else { "are" };
            let message =
                format!("{} {are} not at ground {}", enumerated(&names), bench.not_in_positions(&found));
            let things: Vec<_> = lugs.iter().map(|lug| bench.lug(*lug)).collect();
            let diagnostic = Diagnostic::warning(Code::MetalNotGrounded, bench.part(things[0].0), message)
                .label(if is_hot { METAL_HOT } else { "it hums, and is live to touch" });
            let advice = if is_hot { CHANGED_OVER } else { "give it a ground wire of its own" };
            let diagnostic = bench.or_meant(diagnostic, advice, &things, &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}

/// Pickups with a metal cover that the file never mentions: it is joined to nothing.
pub(super) fn covers(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let covered = |coil: &Coil| {
        matches!(coil.construction, Some(Construction::DoubleNickel | Construction::DoubleBrass))
    };
    let mut all = Vec::new();
    for (id, pickup) in bench.harness.pickups() {
        if !pickup.coils.iter().any(covered) || bench.harness.lug(id, "cover").is_some() {
            continue;
        }
        let meant = |i: &usize| bench.held(Code::MetalNotGrounded, &[(id, "")], *i);
        let found: Vec<usize> = (0..bench.positions.len()).filter(|i| !meant(i)).collect();
        if found.is_empty() {
            continue;
        }
        let name = &bench.harness.part(id).name;
        let message = format!("no wire reaches the metal cover of `{name}`");
        let diagnostic = Diagnostic::warning(Code::MetalNotGrounded, bench.part(id), message)
            .label("its construction has one: in the air it hums, and is live to touch");
        let advice = format!("wire `{name}.cover` to ground, or `bond` it to the end that it is soldered to");
        all.push(bench.or_meant(diagnostic, &advice, &[(id, "")], &found));
    }
    all
}

/// Each lug of a list that an intent gives is meant by itself.
fn metal_meant(bench: &Bench<'_>, lug: LugId, position: usize) -> bool {
    let (part, name) = bench.lug(lug);
    bench.intents.hold_if(Code::MetalNotGrounded, |intent| {
        let named = intent.of.is_empty() || intent.of.iter().any(|subject| subject.covers(part, name));
        named && intent.place.covers(bench.harness, &bench.positions[position].throws)
    })
}
