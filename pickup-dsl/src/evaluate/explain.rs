//! What the solver says, at the places of the file that it is about.

use solver::{Named, SolveError, SolveErrorKind, Unknown};

use super::FigureError;
use crate::network::Network;
use crate::source::Span;

/// The error with the spans of the elements that it names.
pub(crate) fn explain(network: &Network, error: SolveError) -> FigureError {
    let mut spans: Vec<Span> = Vec::new();
    for name in names(error.kind()) {
        for (element, span) in &network.provenance {
            if *element == name && !spans.contains(span) {
                spans.push(*span);
            }
        }
    }
    FigureError { message: error.to_string(), spans, source: Some(error) }
}

fn names(kind: &SolveErrorKind) -> Vec<String> {
    let of = |named: &[Named]| named.iter().map(|n| n.name.clone()).collect();
    match kind {
        SolveErrorKind::OtherClass { element } => of(std::slice::from_ref(element)),
        SolveErrorKind::Amplitude { source_name, .. } | SolveErrorKind::ShortedSource { source_name } => {
            of(std::slice::from_ref(source_name))
        }
        SolveErrorKind::Coupling { inductors } => of(inductors),
        SolveErrorKind::VoltageLoop { branches } => of(branches),
        SolveErrorKind::CurrentCutSet { sources } => of(sources),
        SolveErrorKind::Contradiction { unknowns } | SolveErrorKind::Singular { unknowns } => unknowns
            .iter()
            .map(|unknown| match unknown {
                Unknown::Voltage { name, .. } => name.clone(),
                Unknown::Current(named) => named.name.clone(),
            })
            .collect(),
        SolveErrorKind::FreeControl { element, control } => {
            vec![element.name.clone(), control.name.clone()]
        }
        SolveErrorKind::NotProbed { branch } => of(std::slice::from_ref(branch)),
        _ => Vec::new(),
    }
}
