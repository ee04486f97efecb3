//! Coils that work against each other.

use super::{Bench, grouped};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{CoilInPlay, Connection, OutletFigures};
use crate::harness::PartId;

/// A bled coil that is this far below the main one, dB, takes less than 2 dB from it.
const FAINT: f64 = -14.0;

/// Coils that work against the main one of an outlet, which is given with each.
pub(super) fn opposed(outlet: &OutletFigures) -> impl Iterator<Item = (usize, usize)> {
    // What a bleed resistor leaves of a coil may point either way; it is no reason to rewire.
    let faint = |c: &CoilInPlay| {
        matches!(c.connection, Connection::BledThrough(_)) && c.share_100.db.is_ok_and(|db| db < FAINT)
    };
    let against = outlet.coils.iter().enumerate().filter(move |(_, c)| c.out_of_phase && !faint(c));
    against.filter_map(|(coil, _)| Some((coil, outlet.main_coil?)))
}

pub(super) fn opposing_coils(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let pairs = bench.each().flat_map(|(i, _, figures)| {
        let meant =
            move |coil, main| bench.held(Code::OpposingCoils, &[bench.coil(coil), bench.coil(main)], i);
        let found = figures.outlets.iter().flat_map(opposed);
        let found = found.filter(move |(coil, main)| !meant(*coil, *main));
        found.map(move |(coil, main)| (sides(bench, coil.min(main), coil.max(main)), i))
    });
    grouped(pairs)
        .into_iter()
        .map(|((a, b), found)| {
            let message =
                format!("`{}` and `{}` work against each other {}", a.1, b.1, bench.in_positions(&found));
            let mut diagnostic = Diagnostic::warning(Code::OpposingCoils, bench.part(b.0), message)
                .label("out of phase: thin, and with little bass");
            if a.0 != b.0 {
                diagnostic = diagnostic.also(bench.part(a.0), "with this one");
            }
            let advice = "change over start and finish of one, or say `wound` and `pole` of each (unsaid: forward, north)";
            let of = if a.0 == b.0 { vec![(a.0, "")] } else { vec![(a.0, ""), (b.0, "")] };
            let diagnostic = bench.or_meant(diagnostic, advice, &of, &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}

/// The two sides: pickups, or coils where both are of one pickup.
fn sides(bench: &Bench<'_>, a: usize, b: usize) -> ((PartId, String), (PartId, String)) {
    let sections = &bench.network.sections;
    let within = sections[a].pickup == sections[b].pickup;
    let side = |i: usize| {
        let section = &sections[i];
        let name = if within { &section.name } else { &bench.harness.part(section.pickup).name };
        (section.pickup, name.clone())
    };
    (side(a), side(b))
}
