//! Active parts that no battery reaches: they pass nothing.

use super::{Bench, grouped, setting};
use crate::diagnostic::{Code, Diagnostic};
use crate::network::Knobs;

pub(super) fn unpowered(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let rest = Knobs::default();
    let pairs = bench.each().flat_map(|(position, p, _)| {
        let off = bench.network.unpowered(bench.harness, &setting(&p.throws, &rest));
        off.into_iter()
            .filter(move |&part| !bench.held(Code::Unpowered, &[(part, "")], position))
            .map(move |part| (part, position))
    });
    grouped(pairs)
        .into_iter()
        .map(|(part, found)| {
            let name = &bench.harness.part(part).name;
            let message = format!("no battery reaches `{name}` {}", bench.in_positions(&found));
            let diagnostic = Diagnostic::warning(Code::Unpowered, bench.part(part), message)
                .label("its supply is wired, so without a battery it passes nothing");
            let advice =
                "wire a battery's plus to its supply and the minus to its ground, perhaps by the jack's ring";
            let diagnostic = bench.or_meant(diagnostic, advice, &[(part, "")], &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}
