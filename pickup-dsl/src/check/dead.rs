//! Positions in which nothing is heard.

use super::Bench;
use crate::diagnostic::{Code, Diagnostic};
use crate::source::Span;

/// Nothing reaches any outlet, and hot is not simply at ground.
pub(super) fn dead_positions(bench: &Bench<'_>) -> Option<Diagnostic> {
    let silent = |i: usize| {
        let outlets = &bench.figures[i].outlets;
        outlets.iter().all(|o| o.level.powers.is_err())
            && (0..outlets.len()).all(|o| !bench.hot_at_ground(i, o))
    };
    let found: Vec<usize> = (0..bench.positions.len()).filter(|&i| silent(i)).collect();
    let first = *found.first()?;
    let cancel = found.iter().any(|&i| {
        let outlets = &bench.figures[i].outlets;
        outlets.iter().any(|o| o.main_coil.is_some())
    });
    let message = format!("no sound {}", bench.in_positions(&found));
    let label = if cancel { "coils cancel each other exactly" } else { "no coil reaches it" };
    let diagnostic = Diagnostic::warning(Code::DeadPosition, place(bench, first), message)
        .label(label)
        .help("follow hot from the jack through the switches in this position");
    Some(bench.with_positions(diagnostic, &found))
}

/// Where a position is named, else the jack.
fn place(bench: &Bench<'_>, position: usize) -> Span {
    let name = bench.positions[position].name.as_ref();
    let named = bench.harness.positions.iter().find(|n| Some(&n.name) == name);
    named.map_or(bench.jack(), |n| n.span)
}

/// Hot is metal to metal with ground.
pub(super) fn hot_at_ground(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for (outlet, nodes) in bench.harness.outlets.iter().enumerate() {
        let found: Vec<usize> =
            (0..bench.positions.len()).filter(|&i| bench.hot_at_ground(i, outlet)).collect();
        let Some(&first) = found.first() else {
            continue;
        };
        let hot = bench.harness.lug_name(nodes.hot);
        let message = format!("`{hot}` is joined to ground {}", bench.in_positions(&found));
        let diagnostic = Diagnostic::warning(Code::HotAtGround, place(bench, first), message)
            .label("hot is at ground: silence")
            .help("a switch that is meant to mute does this; anything else is a slip");
        all.push(bench.with_positions(diagnostic, &found));
    }
    all
}
