//! Verdicts in a person's words.

use super::{Found, Verdict};
use crate::check::label;
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::Why;
use crate::harness::{Claim, Expectation, Harness, Measure};
use crate::resolve::show::{digits, show};
use crate::syntax::tree::Dimension;

/// Positions that one message lists.
const LISTED: usize = 8;

/// A value with its unit, or as a share: `−7.23 dB`, `3.21 kHz`, `95.2 %`.
#[must_use]
pub fn amount(claim: &Claim, value: f64) -> String {
    match measure(claim) {
        _ if value == f64::INFINITY => "above every limit".to_owned(),
        _ if value == f64::NEG_INFINITY => "below every limit".to_owned(),
        (Measure::Decibels, false) => {
            // Limits are often told in tenths. No minus before a rounded zero.
            let text = format!("{value:.2} dB");
            if text == "-0.00 dB" { "0.00 dB".to_owned() } else { text.replace('-', "\u{2212}") }
        }
        _ => distance(claim, value),
    }
}

/// The distance to a limit, however small: `1.23 dB`, `0.0004 dB`.
#[must_use]
pub fn distance(claim: &Claim, value: f64) -> String {
    let text = match measure(claim) {
        (_, true) => format!("{} %", digits(100.0 * value)),
        (Measure::Decibels, _) if value.abs() < 0.995e-2 => format!("{} dB", digits(value)),
        (Measure::Decibels, _) => format!("{value:.2} dB"),
        (Measure::Hertz, _) => show(value, Dimension::Hertz),
        (Measure::Ohms, _) => show(value, Dimension::Ohms),
        (Measure::Henries, _) => show(value, Dimension::Henries),
        (Measure::Volts, _) => show(value, Dimension::Volts),
        (Measure::Ratio, _) => digits(value),
    };
    text.replace('-', "\u{2212}")
}

/// What a claim is measured in, and whether as a share of something.
fn measure(claim: &Claim) -> (Measure, bool) {
    match claim {
        Claim::Figure { quantity, ratio, .. } => (quantity.measure(), *ratio),
        Claim::Without(quantity) => (quantity.measure(), false),
        _ => (Measure::Decibels, false),
    }
}

/// What was found, in words: `−7.23 dB, 1.23 dB beyond the limit`.
#[must_use]
pub fn said(claim: &Claim, found: &Found, holds: bool) -> String {
    match found {
        Found::Words(words) => words.clone(),
        Found::Number { value: Err(why), .. } => match why {
            Why::Silent => "it is silent",
            Why::Open => "nothing joins the leads",
            Why::None => "there is none",
            Why::NotReadable => "it can't be read here",
            Why::ReferenceSilent => "what it is held against has no value",
        }
        .to_owned(),
        Found::Number { value: Ok(value), at, margin } => {
            let at = at.map(|f| format!(" at {}", show(f, Dimension::Hertz))).unwrap_or_default();
            let beyond = match margin {
                Some(margin) if !holds => format!(", {} beyond the limit", distance(claim, margin.abs())),
                _ => String::new(),
            };
            format!("{}{at}{beyond}", amount(claim, *value))
        }
    }
}

/// Where a verdict is: `in "Split"`, `from "Full" to "Split" at out.ring`.
#[must_use]
pub fn place(harness: &Harness, verdict: &Verdict) -> String {
    let outlet = match harness.outlets.get(verdict.outlet) {
        Some(outlet) if harness.outlets.len() > 1 => format!(" at {}", harness.lug_name(outlet.hot)),
        _ => String::new(),
    };
    match &verdict.to {
        Some(to) => format!("from {} to {}{outlet}", label(&verdict.position), label(to)),
        None => format!("in {}{outlet}", label(&verdict.position)),
    }
}

/// The message of an expectation that does not hold, with the worst position first; None if it holds in each.
#[must_use]
pub fn diagnose(harness: &Harness, expectation: &Expectation, verdicts: &[Verdict]) -> Option<Diagnostic> {
    let mut failed: Vec<&Verdict> = verdicts.iter().filter(|verdict| !verdict.holds).collect();
    let depth = |verdict: &Verdict| match verdict.found {
        Found::Number { margin: Some(margin), .. } => margin,
        _ => f64::NEG_INFINITY,
    };
    failed.sort_by(|a, b| depth(a).total_cmp(&depth(b)));
    let claim = &expectation.claim;
    let Some((worst, others)) = failed.split_first() else {
        if verdicts.is_empty() {
            let text = format!("`{}` is about no two neighbouring positions", expectation.text);
            return Some(Diagnostic::error(Code::NotAsExpected, expectation.span, text));
        }
        return None;
    };
    let place = |verdict: &Verdict| place(harness, verdict);
    let message = format!("`{}` does not hold {}", expectation.text, place(worst));
    let mut diagnostic = Diagnostic::error(Code::NotAsExpected, expectation.span, message).label(said(
        claim,
        &worst.found,
        worst.holds,
    ));
    if !others.is_empty() {
        let each = |verdict: &&Verdict| {
            format!("{}: {}", place(verdict), said(claim, &verdict.found, verdict.holds))
        };
        let mut list: Vec<String> = others.iter().take(LISTED).map(each).collect();
        if others.len() > LISTED {
            list.push(format!("and {} more", others.len() - LISTED));
        }
        diagnostic = diagnostic.note(format!("nor {}", list.join("; ")));
    }
    if let Some(because) = &expectation.because {
        diagnostic = diagnostic.note(format!("it is expected because: {because}"));
    }
    Some(diagnostic)
}
