//! All that is said of a file, from its text to a look at the bench.

use pickup_dsl::check::{check, note_silence};
use pickup_dsl::diagnostic::{Code, Diagnostic};
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{Compiled, Library, compile};
use pickup_dsl::source::Sources;

/// Compiles a file, solves each of its positions and checks them.
pub(crate) fn look(name: &str, text: &str, library: &dyn Library) -> (Sources, Vec<Diagnostic>) {
    let Compiled { sources, harness, mut diagnostics, .. } = compile(name, text, library);
    let Some(harness) = harness else { return (sources, diagnostics) };
    let network = match Network::of(&harness) {
        Ok(network) => network,
        Err(e) => {
            diagnostics.push(Diagnostic::error(Code::CannotSolve, e.span, e.message));
            return (sources, diagnostics);
        }
    };
    let positions = positions(&harness, Wanted::default()).expect("few positions");
    let figures: Result<Vec<_>, _> = Evaluator::new(&harness, &network)
        .and_then(|e| positions.iter().map(|p| e.figures(p, &Knobs::default())).collect());
    match figures {
        Ok(figures) => {
            note_silence(&mut diagnostics, &harness, &network, &positions, &figures);
            diagnostics.extend(check(&harness, &network, &positions, &figures));
        }
        Err(e) => diagnostics.push(Diagnostic::error(Code::CannotSolve, e.spans[0], e.message)),
    }
    (sources, diagnostics)
}
