//! What `check` finds, as JSON.

use pickup_dsl::expect::{Found, Verdict, limits};
use pickup_dsl::figures::{Figure, Why};
use pickup_dsl::harness::{Builds, Claim, Measure};
use serde::Serialize;

use super::figures::Value;
use super::{Message, PlaceJson, PositionName, SCHEMA_VERSION, message_of, write};
use crate::exit::Failure;
use crate::judged::{Judged, Looked};
use crate::output::Sink;

#[derive(Serialize)]
struct Checked<'a> {
    schema: &'static str,
    schema_version: u32,
    written_by: &'static str,
    exit: u8,
    files: Vec<FileJson<'a>>,
}

#[derive(Serialize)]
struct FileJson<'a> {
    file: &'a str,
    exit: u8,
    failure: Option<String>,
    messages: Vec<Message<'a>>,
    expectations: Vec<ExpectationJson<'a>>,
    changes: Vec<ChangeJson<'a>>,
}

#[derive(Serialize)]
struct ChangeJson<'a> {
    position: &'a str,
    change: &'a str,
}

#[derive(Serialize)]
struct ExpectationJson<'a> {
    claim: &'a str,
    variant: Option<&'a str>,
    because: Option<&'a str>,
    builds: BuildsJson,
    holds: bool,
    unit: Option<&'static str>,
    low: Option<f64>,
    high: Option<f64>,
    verdicts: Vec<VerdictJson<'a>>,
    message: Option<Message<'a>>,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

/// Of which builds an expectation is.
#[derive(Serialize)]
#[serde(tag = "of", rename_all = "snake_case")]
enum BuildsJson {
    Nominal,
    Every,
    Share { wanted: f64, holds: u64, drawn: u64 },
}

#[derive(Serialize)]
struct VerdictJson<'a> {
    #[serde(flatten)]
    position: PositionName<'a>,
    to: Option<PositionName<'a>>,
    output: usize,
    holds: bool,
    value: Option<Value>,
    at_hz: Option<f64>,
    margin: Option<f64>,
    words: Option<&'a str>,
}

/// Writes the document.
///
/// # Errors
/// If it can't be written.
pub(crate) fn checked(sink: &mut Sink, all: &[Looked], strict: bool) -> Result<(), Failure> {
    let files: Vec<FileJson<'_>> = all.iter().map(|looked| of_file(looked, strict)).collect();
    let document = Checked {
        schema: "coilwright check",
        schema_version: SCHEMA_VERSION,
        written_by: concat!("coilwright ", env!("CARGO_PKG_VERSION")),
        exit: files.iter().map(|file| file.exit).max().unwrap_or(0),
        files,
    };
    write(sink, &document, true)
}

fn of_file(looked: &Looked, strict: bool) -> FileJson<'_> {
    FileJson {
        file: &looked.name,
        exit: looked.exit(strict) as u8,
        failure: looked.failure.as_ref().map(ToString::to_string),
        messages: looked.found.iter().map(|d| message_of(&looked.sources, d)).collect(),
        expectations: looked.judged.iter().map(|judged| of_one(looked, judged)).collect(),
        changes: looked.changes.iter().map(|(position, change)| ChangeJson { position, change }).collect(),
    }
}

fn of_one<'a>(looked: &'a Looked, judged: &'a Judged) -> ExpectationJson<'a> {
    let expectation = &judged.expectation;
    let limits = limits(&judged.expectation.claim);
    ExpectationJson {
        claim: &expectation.text,
        variant: judged.variant.as_deref(),
        because: expectation.because.as_deref(),
        builds: match (expectation.builds, judged.share) {
            (Builds::Share(wanted), Some((holds, drawn))) => BuildsJson::Share { wanted, holds, drawn },
            (Builds::Every, _) => BuildsJson::Every,
            _ => BuildsJson::Nominal,
        },
        holds: judged.holds,
        unit: unit(&expectation.claim),
        low: limits.and_then(|limits| limits.low),
        high: limits.and_then(|limits| limits.high),
        verdicts: judged.verdicts.iter().map(verdict).collect(),
        message: judged.message.as_ref().map(|d| message_of(&looked.sources, d)),
        place: PlaceJson::in_sources(&looked.sources, judged.span()),
    }
}

fn verdict(verdict: &Verdict) -> VerdictJson<'_> {
    let (value, at_hz, margin, words) = match &verdict.found {
        Found::Number { value, at, margin } => (Some(finite(*value).into()), *at, *margin, None),
        Found::Words(words) => (None, None, None, Some(words.as_str())),
    };
    VerdictJson {
        position: (&verdict.position).into(),
        to: verdict.to.as_ref().map(Into::into),
        output: verdict.outlet,
        holds: verdict.holds,
        value,
        at_hz,
        margin,
        words,
    }
}

/// JSON has no infinities: below every limit is silence, above every limit an open meter.
fn finite(value: Figure) -> Figure {
    match value {
        Ok(f64::NEG_INFINITY) => Err(Why::Silent),
        Ok(f64::INFINITY) => Err(Why::Open),
        value => value,
    }
}

/// What limits are measured in: `ratio` for shares of something.
fn unit(claim: &Claim) -> Option<&'static str> {
    match claim {
        Claim::Figure { ratio: true, .. } => Some("ratio"),
        Claim::Figure { quantity, .. } => Some(match quantity.measure() {
            Measure::Decibels => "dB",
            Measure::Hertz => "Hz",
            Measure::Ohms => "ohm",
            Measure::Henries => "H",
            Measure::Volts => "V",
            Measure::Ratio => "1",
        }),
        Claim::Step { .. } | Claim::Response { .. } | Claim::HumCancels => Some("dB"),
        Claim::Without(_) | Claim::Sound | Claim::Silence | Claim::Coils { .. } => None,
    }
}
