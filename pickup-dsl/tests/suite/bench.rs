//! All that is said of a file, from its text to a look at the bench.

use pickup_dsl::check::{check, note_silence};
use pickup_dsl::diagnostic::{Code, Diagnostic};
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::expect::{Judge, diagnose};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Position, Wanted, positions};
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
    let figures = Evaluator::new(&harness, &network).and_then(|e| {
        let all: Result<Vec<_>, _> = positions.iter().map(|p| e.figures(p, &Knobs::default())).collect();
        Ok((e, all?))
    });
    match figures {
        Ok((evaluator, figures)) => {
            note_silence(&mut diagnostics, &harness, &network, &positions, &figures);
            diagnostics.extend(check(&harness, &network, &positions, &figures));
            let solve = |p: &Position, knobs: &Knobs| evaluator.figures(p, knobs);
            let mut judge = Judge::new(&evaluator, &positions, &solve).knowing(&figures);
            for (i, expectation) in harness.expectations.iter().enumerate() {
                let verdicts = judge.verdicts(i).expect("a position that is solved");
                diagnostics.extend(diagnose(&harness, expectation, &verdicts));
            }
        }
        Err(e) => diagnostics.push(Diagnostic::error(Code::CannotSolve, e.spans[0], e.message)),
    }
    (sources, diagnostics)
}
