//! Expectations of many builds: of every one, or of a share of them.

use super::{Parameter, Study, Worst};
use crate::diagnostic::{Code, Diagnostic};
use crate::evaluate::FigureError;
use crate::expect::{about, diagnose, distance};
use crate::harness::{Claim, Expectation, Harness};
use crate::network::Network;
use crate::positions::Position;

/// Guitars that are drawn to judge a share of builds, unless said otherwise.
pub const SAMPLES: u64 = 1000;
/// Seed of their draws, unless said otherwise.
pub const SEED: u64 = 1;
/// Parts of the worst guitar that a message lists.
const LISTED: usize = 8;

/// The study of one expectation alone: samples have the numbers and parts that they have in a study of everything.
///
/// # Errors
/// If the guitar with the values of the file can't be solved.
pub fn of_one(
    harness: &Harness,
    network: &Network,
    index: usize,
    positions: &[Position],
) -> Result<Study, FigureError> {
    let expectation = &harness.expectations[index];
    let alone = Harness { expectations: vec![expectation.clone()], ..harness.clone() };
    let positions = match expectation.claim {
        // A step needs the neighbours of the positions too.
        Claim::Step { .. } => positions.to_vec(),
        _ => about(harness, expectation, positions),
    };
    Study::new(&alone, network, &positions, SEED)
}

/// The message of an expectation of a share of builds that fewer meet; `worst` is the number of the worst sample and its margin.
#[must_use]
pub fn diagnose_share(
    expectation: &Expectation,
    (holds, of, wanted): (u64, u64, f64),
    worst: Option<(u64, Option<f64>)>,
) -> Option<Diagnostic> {
    let share = holds as f64 / of as f64;
    if share >= wanted {
        return None;
    }
    let message = format!(
        "`{}` holds in {} % of {of} builds, {} % are expected",
        expectation.text,
        percent(share),
        percent(wanted)
    );
    let mut diagnostic = Diagnostic::error(Code::NotAsExpected, expectation.span, message);
    if let Some((sample, margin)) = worst {
        let beyond = margin.filter(|margin| *margin < 0.0);
        diagnostic = diagnostic.label(match beyond {
            Some(margin) => {
                format!("at worst {} beyond the limit", distance(&expectation.claim, margin.abs()))
            }
            None => "does not hold in the others".to_owned(),
        });
        diagnostic = diagnostic.help(format!("`coilwright study FILE --sample {sample}` shows that build"));
    }
    Some(because(diagnostic, expectation))
}

/// The message of an expectation of every build that one does not meet.
#[must_use]
pub fn diagnose_worst(harness: &Harness, index: usize, found: &Worst) -> Option<Diagnostic> {
    let mut diagnostic = diagnose(harness, &harness.expectations[index], &found.verdicts)?;
    diagnostic.message = diagnostic.message.replacen("does not hold", "does not hold in every build", 1);
    let off = parts(found);
    if !off.is_empty() {
        diagnostic.notes.insert(0, format!("at worst with {off}"));
    }
    let advice = "narrower tolerances, or measured values, may be enough: `22nF 5%`, `11.6k measured`";
    Some(diagnostic.help(advice))
}

/// `R1 +10 %, C1 −5 %`.
fn parts(found: &Worst) -> String {
    let each = |(parameter, deviation): &(Parameter, f64)| {
        let factor = parameter.at(*deviation) / parameter.nominal;
        let change = format!("{:+.3}", 100.0 * (factor - 1.0));
        let change = change.trim_end_matches('0').trim_end_matches('.').replace('-', "\u{2212}");
        format!("{} {change} %", parameter.name)
    };
    let mut list: Vec<String> = found.parts.iter().take(LISTED).map(each).collect();
    if found.parts.len() > LISTED {
        list.push(format!("{} more off", found.parts.len() - LISTED));
    }
    list.join(", ")
}

fn because(diagnostic: Diagnostic, expectation: &Expectation) -> Diagnostic {
    match &expectation.because {
        Some(because) => diagnostic.note(format!("it is expected because: {because}")),
        None => diagnostic,
    }
}

/// Tenths of a percent, without a zero behind the point.
fn percent(share: f64) -> String {
    let text = format!("{:.1}", 100.0 * share);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
