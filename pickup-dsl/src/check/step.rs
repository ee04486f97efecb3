//! Large steps in level from one throw of a switch to the next.

use super::{Bench, label, listed};
use crate::diagnostic::{Code, Diagnostic};
use crate::positions::next_throw;

/// A larger step in string level than this is a surprise on stage, dB.
const STEP: f64 = 8.0;

/// One warning for each switch, with its largest step in the message.
pub(super) fn level_steps(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let mut all = Vec::new();
    for (s, (part, _)) in bench.harness.switches().enumerate() {
        let mut steps: Vec<(f64, usize, usize)> = Vec::new();
        for (i, a) in bench.positions.iter().enumerate() {
            let Some(j) = next_throw(bench.positions, &a.throws, s) else {
                continue;
            };
            let outlets = bench.figures[i].outlets.iter().zip(&bench.figures[j].outlets);
            for (from, to) in outlets {
                if let (Ok(from), Ok(to)) = (from.string_level.shown, to.string_level.shown)
                    && (to - from).abs() > STEP
                    && !bench.held_in(
                        Code::LevelStep,
                        &[(part, "")],
                        &[&a.throws, &bench.positions[j].throws],
                    )
                {
                    steps.push((to - from, i, j));
                }
            }
        }
        steps.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
        let Some(&(step, i, j)) = steps.first() else {
            continue;
        };
        let message = format!(
            "the string level (picked strings) steps by {} from {} to {}",
            decibels(step),
            label(&bench.positions[i]),
            label(&bench.positions[j])
        );
        let mut diagnostic = Diagnostic::warning(Code::LevelStep, bench.part(part), message)
            .label("from one throw to the next");
        if steps.len() > 1 {
            let others: Vec<String> = steps[1..]
                .iter()
                .map(|&(step, i, j)| {
                    let (a, b) = (label(&bench.positions[i]), label(&bench.positions[j]));
                    format!("{} from {a} to {b}", decibels(step))
                })
                .collect();
            diagnostic = diagnostic.note(format!("also {}", listed(&others)));
        }
        let advice = "balance the pickups, or take less of the louder sound";
        all.push(bench.or_meant(diagnostic, advice, &[(part, "")], &[]));
    }
    all
}

/// `+9.2 dB`, `−14.3 dB`.
fn decibels(step: f64) -> String {
    format!("{step:+.1} dB").replace('-', "\u{2212}")
}
