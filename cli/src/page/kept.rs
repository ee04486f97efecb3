//! What the file expects, and whether it holds, in the words of the page.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::expect::{Found, amount, distance, limits, said};
use pickup_dsl::harness::{Builds, Limits};

use crate::judged::Judged;

/// One expectation.
#[derive(Debug)]
pub(crate) struct Kept {
    /// As the file says it.
    pub(crate) claim: String,
    /// Why, as the file says it.
    pub(crate) because: Option<String>,
    /// In words, since colour alone is none.
    pub(crate) verdict: &'static str,
    /// It does not hold.
    pub(crate) fails: bool,
    /// What was found where it is nearest to its limit, or furthest beyond.
    pub(crate) found: String,
    /// Where that is.
    pub(crate) place: String,
    /// What is allowed.
    pub(crate) limit: String,
    /// How much is to spare, or missing.
    pub(crate) margin: String,
}

impl From<&Judged> for Kept {
    fn from(judged: &Judged) -> Self {
        let claim = &judged.expectation.claim;
        let mut kept = Kept {
            claim: escape(&judged.expectation.text),
            because: judged.expectation.because.as_deref().map(escape),
            verdict: if judged.holds { "holds" } else { "fails" },
            fails: !judged.holds,
            found: String::new(),
            place: String::new(),
            limit: limits(claim).map_or_else(String::new, |limits| allowed(limits, |v| amount(claim, v))),
            margin: String::new(),
        };
        match (judged.expectation.builds, judged.share) {
            (Builds::Share(wanted), Some((holds, of))) => {
                kept.found = format!("{holds} of {of} builds");
                kept.place = "drawn within their tolerances".to_owned();
                let share = format!("in {} % of builds", 100.0 * wanted);
                kept.limit = if kept.limit.is_empty() { share } else { format!("{}, {share}", kept.limit) };
                return kept;
            }
            (Builds::Every, _) => kept.place = "the worst of every build, ".to_owned(),
            _ => {}
        }
        let Some((verdict, place)) = judged.tightest() else {
            kept.found = judged.summary();
            return kept;
        };
        kept.place.push_str(&escape(place));
        match &verdict.found {
            // Words of one position say nothing of the others.
            Found::Words(_) if judged.holds && judged.verdicts.len() > 1 => {
                kept.found = judged.summary();
                kept.place.clear();
                return kept;
            }
            Found::Words(words) => kept.found = escape(words),
            Found::Number { value, at, margin } => {
                // Without its margin, which has a column of its own.
                let alone = Found::Number { value: *value, at: *at, margin: None };
                kept.found = said(claim, &alone, verdict.holds);
                if let Some(margin) = margin {
                    let spare = if *margin < 0.0 { "beyond the limit" } else { "to spare" };
                    kept.margin = format!("{} {spare}", distance(claim, margin.abs()));
                }
            }
        }
        match judged.verdicts.len() {
            1 => {}
            n if judged.holds => kept.place.push_str(&format!(", the nearest of {n}")),
            n => kept.place.push_str(&format!(", the worst of {n}")),
        }
        kept
    }
}

/// `at most 5.50 dB`, `1.8 kHz to 2.6 kHz`
fn allowed(limits: Limits, shown: impl Fn(f64) -> String) -> String {
    match (limits.low, limits.high) {
        (Some(low), Some(high)) => format!("{} to {}", shown(low), shown(high)),
        (Some(low), None) => format!("at least {}", shown(low)),
        (None, Some(high)) => format!("at most {}", shown(high)),
        (None, None) => String::new(),
    }
}
