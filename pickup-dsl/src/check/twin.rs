//! Positions that no instrument at the jack can tell apart.

use super::{Bench, label, listed};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::Connection;
use crate::twins::twins;

/// One warning for all groups; silent positions are left out.
pub(super) fn twin_positions(bench: &Bench<'_>) -> Option<Diagnostic> {
    let heard = |i: &usize| {
        let outlets = &bench.figures[*i].outlets;
        outlets.iter().any(|o| o.level.powers.is_ok())
    };
    let groups: Vec<Vec<usize>> = twins(bench.harness, bench.network, bench.positions)
        .into_iter()
        .filter(|group| group.iter().all(&heard))
        .collect();
    let first = groups.first()?;
    let name = |i: usize| label(&bench.positions[i]);
    let message = match (groups.len(), first.as_slice()) {
        (1, [a, b]) => format!("{} and {} are the same circuit", name(*a), name(*b)),
        (1, group) => format!("{} positions are the same circuit", group.len()),
        (n, _) => format!("{n} groups of positions are each the same circuit"),
    };
    let mut diagnostic = Diagnostic::warning(Code::Twins, bench.jack(), message)
        .label("nothing at the jack tells them apart, at any knob setting");
    if groups.len() > 1 || first.len() > 2 {
        let lines: Vec<String> = groups
            .iter()
            .map(|g| match g.as_slice() {
                [a, b] => format!("{} = {}", name(*a), name(*b)),
                [a, b, more @ ..] => {
                    format!("{} = {} = {} more", name(*a), name(*b), more.len())
                }
                _ => String::new(),
            })
            .collect();
        diagnostic = diagnostic.note(listed(&lines));
    }
    let hanging = |i: usize| -> Vec<bool> {
        let outlets = bench.figures[i].outlets.iter();
        outlets.flat_map(|o| o.coils.iter().map(|c| c.connection == Connection::HangingFromHot)).collect()
    };
    for group in &groups {
        let quiet = group.iter().find(|&&i| !hanging(i).contains(&true));
        let antenna = group.iter().find(|&&i| hanging(i).contains(&true));
        if let (Some(&quiet), Some(&antenna)) = (quiet, antenna) {
            diagnostic = diagnostic.note(format!(
                "{} leaves a coil hanging from hot, {} does not",
                name(antenna),
                name(quiet)
            ));
        }
    }
    Some(diagnostic)
}
