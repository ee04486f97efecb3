//! Positions in which nothing is heard.

use super::{Bench, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::harness::LugId;
use crate::intents::or_meant;
use crate::network::{Joints, Knobs};
use crate::source::Span;

/// What is said where no coil reaches an outlet.
pub(super) const NO_COIL: &str = "no coil reaches it";

/// Why an outlet is silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cause {
    NoCoil,
    Cancelled,
}

/// An outlet that nothing reaches, though it is not simply at ground. Where all of them are silent for one cause, that is said once.
pub(super) fn dead_positions(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let outlets = bench.harness.outlets.len();
    let cause = |i: usize, o: usize| {
        let figures = &bench.figures[i].outlets[o];
        if figures.level.powers.is_ok() || bench.hot_at_ground(i, o) {
            return None;
        }
        let why = if figures.main_coil.is_some() { Cause::Cancelled } else { Cause::NoCoil };
        let meant = bench.held(Code::DeadPosition, &[bench.lug(bench.harness.outlets[o].hot)], i);
        (!meant).then_some(why)
    };
    let everywhere = |i: usize, why: Cause| (0..outlets).all(|o| cause(i, o) == Some(why));
    let mut all = Vec::new();
    for why in [Cause::NoCoil, Cause::Cancelled] {
        let here = |of: &dyn Fn(usize) -> bool| (0..bench.positions.len()).filter(|&i| of(i)).collect();
        all.extend(dead(bench, why, None, here(&|i| everywhere(i, why))));
        for (o, nodes) in bench.harness.outlets.iter().enumerate() {
            let at = Some(nodes.hot);
            all.extend(dead(bench, why, at, here(&|i| cause(i, o) == Some(why) && !everywhere(i, why))));
        }
    }
    all
}

fn dead(bench: &Bench<'_>, why: Cause, hot: Option<LugId>, found: Vec<usize>) -> Option<Diagnostic> {
    let first = *found.first()?;
    let at = hot.map(|hot| format!(" at `{}`", bench.harness.lug_name(hot))).unwrap_or_default();
    let message = format!("no sound{at} {}", bench.not_in_positions(&found));
    let (label, help) = match why {
        Cause::NoCoil => (NO_COIL, "follow hot from the jack through the switches in this position"),
        Cause::Cancelled => (
            "coils cancel each other exactly",
            "change over start and finish of one of them, or check `wound` and `pole`",
        ),
    };
    let diagnostic = Diagnostic::warning(Code::DeadPosition, place(bench, first), message).label(label);
    let diagnostic = or_mute(bench, diagnostic, help, hot, &found);
    Some(bench.with_positions(diagnostic, &found))
}

/// Help that ends with a mute of the positions, or an intent where they are all or one output's.
fn or_mute(
    bench: &Bench<'_>,
    diagnostic: Diagnostic,
    advice: &str,
    hot: Option<LugId>,
    found: &[usize],
) -> Diagnostic {
    match (hot, bench.place(found)) {
        (None, Some(place)) => diagnostic.help(or_meant(advice, &format!("mute {place}"))),
        (hot, _) => {
            let of: Vec<_> = hot.iter().map(|hot| bench.lug(*hot)).collect();
            bench.or_meant(diagnostic, advice, &of, found)
        }
    }
}

/// Where a position is named, else the jack.
fn place(bench: &Bench<'_>, position: usize) -> Span {
    let name = bench.positions[position].name.as_ref();
    let named = bench.harness.positions.iter().find(|n| Some(&n.name) == name);
    named.map_or(bench.jack(), |n| n.span)
}

/// Hot is at ground.
pub(super) fn hot_at_ground(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for (outlet, nodes) in bench.harness.outlets.iter().enumerate() {
        let meant = |i: usize| bench.held(Code::HotAtGround, &[bench.lug(nodes.hot)], i);
        let found: Vec<usize> =
            (0..bench.positions.len()).filter(|&i| bench.hot_at_ground(i, outlet) && !meant(i)).collect();
        let Some(&first) = found.first() else {
            continue;
        };
        let hot = bench.harness.lug_name(nodes.hot);
        let message = format!("`{hot}` is joined to ground {}", bench.in_positions(&found));
        let diagnostic = Diagnostic::warning(Code::HotAtGround, place(bench, first), message)
            .label("hot is at ground: silence");
        let backward = backward_volume(bench, nodes.hot, first);
        let advice = match &backward {
            Some(pot) => format!("`{pot}` works backwards, at 10 it is shut: change over its lugs 1 and 3"),
            None => "look for a hot lug on a ground wire".to_owned(),
        };
        let only = (bench.harness.outlets.len() > 1).then_some(nodes.hot);
        let diagnostic = or_mute(bench, diagnostic, &advice, only, &found);
        all.push(bench.with_positions(diagnostic, &found));
    }
    all
}

/// The volume that takes hot to ground at rest, and not at 0.
fn backward_volume(bench: &Bench<'_>, hot: LugId, position: usize) -> Option<String> {
    let volumes = bench.harness.pots().filter(|(_, pot)| pot.role.as_deref() == Some("volume"));
    volumes.map(|(id, _)| id).find_map(|id| {
        let shut = Knobs([(id, 0.0)].into());
        let setting = setting(&bench.positions[position].throws, &shut);
        let joints = Joints::of(bench.network, bench.harness, &setting);
        (!joints.at_ground(hot)).then(|| bench.harness.part(id).name.clone())
    })
}
