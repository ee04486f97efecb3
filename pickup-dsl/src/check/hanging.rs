//! Coils that hang from hot by one end: antennas for electric hum.

use super::{Bench, grouped};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::Connection;

pub(super) fn hanging_coils(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let pairs = bench.each().flat_map(|(i, _, figures)| {
        figures.outlets.iter().flat_map(move |outlet| {
            let hanging =
                |(_, c): &(usize, &crate::figures::CoilInPlay)| c.connection == Connection::HangingFromHot;
            let coils = outlet.coils.iter().enumerate().filter(hanging);
            let coils = coils.map(move |(coil, _)| (coil, i));
            // An end in the air has been told.
            let coils =
                coils.filter(|(coil, _)| !bench.winding(*coil).is_some_and(|coil| bench.is_loose(coil)));
            coils.filter(|(coil, i)| !bench.held(Code::HangingCoil, &[bench.coil(*coil)], *i))
        })
    });
    grouped(pairs)
        .into_iter()
        .map(|(coil, found)| {
            let section = &bench.network.sections[coil];
            let message = format!("coil `{}` hangs from hot {}", section.name, bench.in_positions(&found));
            let diagnostic = Diagnostic::warning(Code::HangingCoil, bench.part(section.pickup), message)
                .label("one end is on hot, the other is joined to nothing")
                .note("a coil that hangs from hot is an antenna for electric hum");
            let advice = "switch its hot end off, or short it, or leave it hanging from ground";
            let diagnostic = bench.or_meant(diagnostic, advice, &[bench.coil(coil)], &found);
            bench.with_positions(diagnostic, &found)
        })
        .collect()
}
