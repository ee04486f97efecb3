//! Right-hand sides: what a source drives, and what observes an output.

use crate::error::{SolveError, SolveErrorKind};
use crate::handle::Source;
use crate::layout::{Assembly, Current, Form};
use crate::point::Output;

/// Rows that a source drives, with their weights; and entries that observe an output, by column.
pub(crate) type Entries = Vec<(u32, f64)>;

pub(crate) fn driven(assembly: &Assembly, source: Source) -> Entries {
    match source {
        Source::Voltage(e) => assembly.source_row[e.index()].map(|row| (row, 1.0)).into_iter().collect(),
        Source::Current(e) => {
            let ends = &assembly.topology.current_sources[e.index()];
            difference(assembly, ends.b, ends.a)
        }
    }
}

pub(crate) fn difference(assembly: &Assembly, a: u32, b: u32) -> Entries {
    let [a, b] = [a, b].map(|node| assembly.row(node));
    if a == b {
        return Vec::new();
    }
    [(a, 1.0), (b, -1.0)].into_iter().filter_map(|(row, weight)| Some((row?, weight))).collect()
}

/// `None` where the lanes can't decide: between islands, or a current that nothing fixes.
pub(crate) fn observed(assembly: &Assembly, output: Output) -> Result<Option<Entries>, SolveError> {
    match output {
        Output::Voltage(a, b) => {
            if let Some(node) = [a, b].into_iter().find(|&node| !assembly.topology.owns_node(node)) {
                return Err(SolveErrorKind::ForeignNode { node }.into());
            }
            Ok(assembly.same_island(a, b).then(|| difference(assembly, a.index, b.index)))
        }
        Output::Current(branch) => {
            if !assembly.topology.owns(branch.into()) {
                return Err(SolveErrorKind::ForeignElement { element: branch.into() }.into());
            }
            match assembly.currents.of(branch) {
                Current::Zero => Ok(Some(Vec::new())),
                Current::Unknown(i) => Ok(Some(vec![(i, 1.0)])),
                Current::Free => Ok(None),
                Current::Unprobed => {
                    Err(SolveErrorKind::NotProbed { branch: assembly.topology.named(branch) }.into())
                }
            }
        }
    }
}

/// Capacitors and inductors in force: no determinant or minor has a higher degree.
pub(crate) fn reactive_elements(assembly: &Assembly) -> usize {
    let capacitors = 0..assembly.topology.capacitors.len();
    let inductors = 0..assembly.topology.inductors.len();
    capacitors.clone().filter(|&i| assembly.capacitor_form(i) != Form::Open).count()
        + inductors.filter(|&i| assembly.inductor_form(i) == Form::Series).count()
}
