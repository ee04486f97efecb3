//! A short across part of a tapped winding: the shorted turns take the rest with them.

use super::{Bench, grouped};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::Connection;

pub(super) fn partly_shorted(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let sections = &bench.network.sections;
    let winding = |i: usize| (sections[i].pickup, sections[i].coil);
    let pairs = bench.each().flat_map(|(position, _, figures)| {
        figures.outlets.iter().flat_map(move |outlet| {
            let shorted = |i: &usize| outlet.coils[*i].connection == Connection::Shorted;
            (0..outlet.coils.len())
                .filter(move |i| shorted(i))
                .filter(move |&i| {
                    let rest = |&j: &usize| winding(j) == winding(i) && !shorted(&j);
                    (0..outlet.coils.len()).filter(rest).count() > 0
                })
                .filter(move |&i| !bench.held(Code::PartlyShortedWinding, &[bench.coil(i)], position))
                .map(move |i| (i, position))
        })
    });
    grouped(pairs)
        .into_iter()
        .map(|(i, found)| {
            let message = format!(
                "`{}`, a part of a tapped winding, is shorted {}",
                sections[i].name,
                bench.in_positions(&found)
            );
            let diagnostic =
                Diagnostic::warning(Code::PartlyShortedWinding, bench.part(sections[i].pickup), message)
                    .label("shorted turns kill the rest of the winding");
            let advice = "take the tap's part out by leaving its far end open, not by shorting it";
            let diagnostic = bench.or_meant(diagnostic, advice, &[bench.coil(i)], &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}
