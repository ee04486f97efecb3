//! Figures of whole positions against closed forms, handbook tables and laws.

use super::Evaluator;
use crate::figures::{OutletFigures, PositionFigures};
use crate::harness::Harness;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

mod closed_form;
mod edges;
mod laws;
mod plan;
mod words;

/// The harness of a text that begins with a jack.
fn harness(text: &str) -> Harness {
    let text = format!("coilwright 1\njack out\n{text}\n");
    let compiled = compile("test", &text, &NoFiles);
    compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics))
}

/// Figures of every position, knobs at rest.
fn all(harness: &Harness) -> Vec<PositionFigures> {
    let network = Network::of(harness).unwrap();
    let evaluator = Evaluator::new(harness, &network).unwrap();
    positions(harness, Wanted::default())
        .unwrap()
        .iter()
        .map(|p| evaluator.figures(p, &Knobs::default()).unwrap())
        .collect()
}

/// The tip's figures of each position of a text.
fn outlets(text: &str) -> Vec<OutletFigures> {
    all(&harness(text)).into_iter().map(|mut f| f.outlets.remove(0)).collect()
}
