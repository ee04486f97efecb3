//! Coils in play against those that are expected.

use crate::evaluate::Evaluator;
use crate::figures::{CoilInPlay, OutletFigures, takes_part};
use crate::harness::{Linked, PartKind, Subject};

/// Whether just these coils contribute, linked and in phase as expected.
pub(super) fn hold(
    evaluator: &Evaluator<'_>,
    heard: &OutletFigures,
    of: &[Subject],
    linked: Option<Linked>,
    in_phase: Option<bool>,
) -> bool {
    let coils = &heard.coils;
    let windings: Vec<_> = (0..coils.len()).map(|i| winding(evaluator, i)).collect();
    let sounds = |coil: &CoilInPlay| coil.contributes && takes_part(coil.connection);
    let meant = |i: usize| of.iter().any(|subject| subject.covers(coils[i].pickup, windings[i].1));
    // A tapped winding sounds where one of its sections does.
    let winding_sounds = |i: usize| (0..coils.len()).any(|j| windings[j] == windings[i] && sounds(&coils[j]));
    let just_these = (0..coils.len()).all(|i| winding_sounds(i) == meant(i));
    let each_is_there = of.iter().all(|s| (0..coils.len()).any(|i| s.covers(coils[i].pickup, windings[i].1)));
    let sounding: Vec<usize> = (0..coils.len()).filter(|&i| sounds(&coils[i])).collect();
    let pairs =
        || sounding.iter().flat_map(|&i| sounding.iter().filter(move |&&j| j != i).map(move |&j| (i, j)));
    let mut apart = pairs().filter(|&(i, j)| windings[i] != windings[j]);
    let in_series =
        |(i, j): (usize, usize)| coils[i].in_series_with.contains(&j) || coils[j].in_series_with.contains(&i);
    let linked = match linked {
        None => true,
        Some(Linked::Series) => apart.all(in_series),
        Some(Linked::Parallel) => !apart.any(in_series),
    };
    let opposed = sounding.iter().any(|&i| coils[i].out_of_phase);
    just_these && each_is_there && linked && in_phase.is_none_or(|in_phase| in_phase != opposed)
}

/// Pickup and coil of a section.
fn winding<'a>(evaluator: &Evaluator<'a>, section: usize) -> (u32, &'a str) {
    let section = &evaluator.network().sections[section];
    let coil = match &evaluator.harness().part(section.pickup).kind {
        PartKind::Pickup(pickup) => pickup.coils.get(section.coil).map_or("", |coil| coil.name.as_str()),
        _ => "",
    };
    (section.pickup.0, coil)
}
