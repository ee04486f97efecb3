//! A capacitor from the signal to ground with no pot in series: the treble is gone for good.

use super::{Bench, grouped, hot, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{LugId, PartId, PartKind};
use crate::network::{Joints, Knobs};

/// Knobs other than volumes here, so that no track of theirs stands at its end; volumes at 10, where they leave hot alone.
const MIDDLE: f64 = 5.0;

pub(super) fn across_the_signal(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let knob = |role: Option<&str>| if role == Some("volume") { 10.0 } else { MIDDLE };
    let pots = bench.harness.pots();
    let middle = Knobs(pots.map(|(id, pot)| (id, knob(pot.role.as_deref()))).collect());
    let capacitors: Vec<usize> = (0..bench.harness.parts.len())
        .filter(|&p| matches!(bench.harness.parts[p].kind, PartKind::Capacitor(..)))
        .collect();
    if capacitors.is_empty() {
        return Vec::new();
    }
    let pairs = bench.each().flat_map(|(i, position, _)| {
        let joints = Joints::of(bench.network, bench.harness, &setting(&position.throws, &middle));
        let hot = hot::joints(bench.harness, &joints);
        let meant = |p: usize| bench.held(Code::CapAcrossSignal, &[(PartId(p as u32), "")], i);
        let across = |&p: &usize| shunts(bench, &joints, &hot, p) && !meant(p);
        capacitors.iter().copied().filter(across).map(|p| (p, i)).collect::<Vec<_>>()
    });
    grouped(pairs)
        .into_iter()
        .map(|(p, found)| {
            let part = &bench.harness.parts[p];
            let message = format!(
                "capacitor `{}` lies straight across the signal {}",
                part.name,
                bench.in_positions(&found)
            );
            let diagnostic = Diagnostic::warning(Code::CapAcrossSignal, part.span, message)
                .label("from hot to ground, with no pot in series");
            let advice = "a tone control has its pot between hot and the capacitor";
            let diagnostic = bench.or_meant(diagnostic, advice, &[(PartId(p as u32), "")], &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}

/// One end at ground, the other hot.
fn shunts(bench: &Bench<'_>, joints: &Joints, hot: &[usize], part: usize) -> bool {
    let lugs = &bench.harness.parts[part].lugs;
    let [a, b] = [lugs.start, lugs.start + 1].map(|lug| joints.of_lug(LugId(lug)));
    (a == joints.ground() && hot.contains(&b)) || (b == joints.ground() && hot.contains(&a))
}
