//! Reports as JSON. The structure is described by `cli/schema/report.schema.json`; a test holds real output against it.

mod bench;
mod checked;
mod compared;
mod curves;
mod figures;
mod harmonics;
mod study;
mod wiring;

use std::cell::RefCell;
use std::io::Write;

use pickup_dsl::diagnostic::{Diagnostic, Severity};
use pickup_dsl::evaluate::{Curves, Detail, Evaluator};
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harness::{Assumption, Harness, Intent, Meant};
use pickup_dsl::network::Knobs;
use pickup_dsl::positions::Position;
use pickup_dsl::source::{Sources, Span};
use rayon::prelude::{IndexedParallelIterator, IntoParallelRefIterator, ParallelIterator};
use serde::{Serialize, Serializer};
use serde_json::value::{RawValue, to_raw_value};

use crate::curve::{self, POINTS_AT_ONCE};
use crate::exit::Failure;
use crate::job::{File, Job};
use crate::output::Sink;
use crate::report::Reported;
pub(crate) use bench::{card, faults, sheet};
pub(crate) use checked::checked;
pub(crate) use compared::compared;
use figures::PositionJson;
pub(crate) use harmonics::harmonics;
pub(crate) use study::study;
pub(crate) use wiring::wiring;

/// Grows by one when a reader of the old structure would misread the new one. New members alone do not count.
pub(crate) const SCHEMA_VERSION: u32 = 1;

/// Name and version of what wrote it.
#[derive(Debug, Serialize)]
pub(crate) struct Head<'a> {
    schema: &'static str,
    schema_version: u32,
    written_by: &'static str,
    file: &'a str,
    title: Option<&'a str>,
}

impl<'a> Head<'a> {
    /// The head of a document of that schema.
    pub(crate) fn new(schema: &'static str, file: &'a File) -> Self {
        Head {
            schema,
            schema_version: SCHEMA_VERSION,
            written_by: concat!("coilwright ", env!("CARGO_PKG_VERSION")),
            file: &file.name,
            title: file.harness.title.as_deref(),
        }
    }
}

#[derive(Serialize)]
struct Report<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    mains_hz: f64,
    knobs: Vec<Knob<'a>>,
    reference: ReferenceJson<'a>,
    assumptions: Vec<Said<'a>>,
    derived: Vec<Said<'a>>,
    warnings: Vec<Message<'a>>,
    intended: Vec<Intended<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    frequencies_hz: Option<&'a [f64]>,
    /// Of the variant that was chosen.
    #[serde(skip_serializing_if = "Option::is_none")]
    variant: Option<&'a str>,
    positions: Positions<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    variants: Vec<VariantJson<'a>>,
}

/// The guitar with what a variant changes; the reference is the guitar's.
#[derive(Serialize)]
struct VariantJson<'a> {
    variant: &'a str,
    assumptions: Vec<Said<'a>>,
    derived: Vec<Said<'a>>,
    warnings: Vec<Message<'a>>,
    positions: Positions<'a>,
}

#[derive(Serialize)]
struct Knob<'a> {
    pot: &'a str,
    role: Option<&'a str>,
    setting: f64,
    rest: f64,
}

#[derive(Serialize)]
struct ReferenceJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    another_file: bool,
}

/// A position by its key and name.
#[derive(Debug, Serialize)]
struct PositionName<'a> {
    key: &'a str,
    name: Option<&'a str>,
}

impl<'a> From<&'a Position> for PositionName<'a> {
    fn from(position: &'a Position) -> Self {
        PositionName { key: &position.key, name: position.name.as_deref() }
    }
}

/// A sentence with its place.
#[derive(Debug, Serialize)]
struct Said<'a> {
    text: &'a str,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

/// A message with its place.
#[derive(Debug, Serialize)]
struct Message<'a> {
    code: &'static str,
    severity: &'static str,
    message: &'a str,
    notes: &'a [String],
    help: Option<&'a str>,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

/// Something that the file says is meant.
#[derive(Debug, Serialize)]
struct Intended<'a> {
    word: &'static str,
    code: Option<&'static str>,
    statement: &'a str,
    because: Option<&'a str>,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

/// Where something is said.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct PlaceJson<'a> {
    file: &'a str,
    line: u32,
    column: u32,
}

impl<'a> PlaceJson<'a> {
    /// The start of a span.
    pub(crate) fn of(file: &'a File, span: Span) -> Self {
        PlaceJson::in_sources(&file.sources, span)
    }

    fn in_sources(sources: &'a Sources, span: Span) -> Self {
        let place = sources.place(span);
        PlaceJson { file: &sources.get(span.file).name, line: place.line, column: place.column }
    }
}

/// Positions with their responses, as text that is to be written as it is.
pub(crate) type Texts = Vec<Box<RawValue>>;

/// How many positions are computed at once.
fn at_once(frequencies: &[f64]) -> usize {
    POINTS_AT_ONCE.div_ceil(frequencies.len().max(1))
}

/// The first positions with their responses, as many as are computed at once.
///
/// # Errors
/// If a response can't be computed.
pub(crate) fn first(
    job: &Job,
    evaluator: &Evaluator<'_>,
    figures: &[PositionFigures],
    frequencies: &[f64],
) -> Result<Texts, Failure> {
    let count = at_once(frequencies).min(job.positions.len());
    texts(job, evaluator, &job.positions[..count], &figures[..count], frequencies)
}

fn texts(
    job: &Job,
    evaluator: &Evaluator<'_>,
    positions: &[Position],
    figures: &[PositionFigures],
    frequencies: &[f64],
) -> Result<Texts, Failure> {
    let curves = curve::curves(job, evaluator, positions, frequencies, Detail::All)?;
    let harness = &job.file.harness;
    let text = |((position, figures), curves): ((&Position, &PositionFigures), &Curves)| {
        to_raw_value(&PositionJson::new(harness, position, figures, Some(curves)))
    };
    let all: Result<Texts, serde_json::Error> =
        positions.par_iter().zip(figures).zip(&curves).map(text).collect();
    all.map_err(|e| Failure::NoSolution { message: format!("a position can't be written as JSON: {e}") })
}

/// Positions are written one by one: responses of the next are computed when the last are out.
struct Positions<'a> {
    job: &'a Job,
    evaluator: &'a Evaluator<'a>,
    figures: &'a [PositionFigures],
    /// Responses are wanted here.
    frequencies: Option<&'a [f64]>,
    /// The first of them, if they were computed before.
    first: &'a [Box<RawValue>],
    failed: &'a RefCell<Option<Failure>>,
}

impl Serialize for Positions<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::{Error, SerializeSeq};
        let harness = &self.job.file.harness;
        let mut seq = serializer.serialize_seq(Some(self.figures.len()))?;
        let Some(frequencies) = self.frequencies else {
            for (position, figures) in self.job.positions.iter().zip(self.figures) {
                seq.serialize_element(&PositionJson::new(harness, position, figures, None))?;
            }
            return seq.end();
        };
        self.first.iter().try_for_each(|text| seq.serialize_element(text))?;
        let (done, chunk) = (self.first.len(), at_once(frequencies));
        for (positions, figures) in
            self.job.positions[done..].chunks(chunk).zip(self.figures[done..].chunks(chunk))
        {
            match texts(self.job, self.evaluator, positions, figures, frequencies) {
                Ok(texts) => texts.iter().try_for_each(|text| seq.serialize_element(text))?,
                Err(failure) => {
                    *self.failed.borrow_mut() = Some(failure);
                    return Err(S::Error::custom("no solution"));
                }
            }
        }
        seq.end()
    }
}

/// Writes the report of a guitar and of its variants; `first` are its first positions with their responses, if they are there already.
///
/// # Errors
/// If it can't be written, or a response at a given frequency can't be computed.
pub(crate) fn report(
    sink: &mut Sink,
    guitar: &Reported<'_>,
    variants: &[Reported<'_>],
    frequencies: Option<&[f64]>,
    first: &[Box<RawValue>],
) -> Result<(), Failure> {
    let Reported { job, evaluator, .. } = guitar;
    let file = &job.file;
    let failed = RefCell::new(None);
    let document = Report {
        head: Head::new("coilwright report", file),
        mains_hz: file.harness.mains,
        knobs: knobs(&file.harness, &job.knobs),
        reference: ReferenceJson {
            key: &evaluator.reference().position.key,
            name: evaluator.reference().position.name.as_deref(),
            another_file: evaluator.reference().another_file && file.variant.is_none(),
        },
        assumptions: said(file, &file.harness.assumptions),
        derived: said(file, &file.harness.derived),
        warnings: messages(file, &guitar.warnings),
        frequencies_hz: frequencies,
        variant: file.variant.as_deref(),
        positions: positions(guitar, frequencies, first, &failed),
        variants: variants
            .iter()
            .map(|one| VariantJson {
                variant: one.job.file.variant.as_deref().unwrap_or_default(),
                assumptions: said(&one.job.file, &one.job.file.harness.assumptions),
                derived: said(&one.job.file, &one.job.file.harness.derived),
                warnings: messages(&one.job.file, &one.warnings),
                positions: positions(one, frequencies, &[], &failed),
            })
            .collect(),
        intended: file.harness.intents.iter().map(|intent| intended(file, intent)).collect(),
    };
    // Long lists of numbers are not for reading.
    let written = write(sink, &document, frequencies.is_none());
    match failed.into_inner() {
        Some(failure) => Err(failure),
        None => written,
    }
}

fn intended<'a>(file: &'a File, intent: &'a Intent) -> Intended<'a> {
    let (word, code) = match intent.what {
        Meant::Warning(code) => (code.word().unwrap_or_default(), Some(code.text())),
        Meant::Mute => ("mute", None),
    };
    Intended {
        word,
        code,
        statement: file.sources.text(intent.span),
        because: intent.because.as_deref(),
        place: PlaceJson::of(file, intent.span),
    }
}

fn positions<'a>(
    one: &'a Reported<'a>,
    frequencies: Option<&'a [f64]>,
    first: &'a [Box<RawValue>],
    failed: &'a RefCell<Option<Failure>>,
) -> Positions<'a> {
    Positions { job: one.job, evaluator: &one.evaluator, figures: &one.figures, frequencies, first, failed }
}

fn said<'a>(file: &'a File, all: &'a [Assumption]) -> Vec<Said<'a>> {
    all.iter().map(|a| Said { text: &a.text, place: PlaceJson::of(file, a.span) }).collect()
}

fn messages<'a>(file: &'a File, warnings: &'a [Diagnostic]) -> Vec<Message<'a>> {
    warnings.iter().map(|w| message_of(&file.sources, w)).collect()
}

fn message_of<'a>(sources: &'a Sources, diagnostic: &'a Diagnostic) -> Message<'a> {
    Message {
        code: diagnostic.code.text(),
        severity: match diagnostic.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: &diagnostic.message,
        notes: &diagnostic.notes,
        help: diagnostic.help.as_deref(),
        place: PlaceJson::in_sources(sources, diagnostic.primary.span),
    }
}

/// Writes a document and the line end after it.
///
/// # Errors
/// If it can't be written.
pub(crate) fn write(sink: &mut Sink, document: &impl Serialize, indented: bool) -> Result<(), Failure> {
    // JSON writes control characters as escapes: there are no styles in it to look for.
    let mut out = sink.as_is();
    let done = if indented {
        serde_json::to_writer_pretty(&mut out, document)
    } else {
        serde_json::to_writer(&mut out, document)
    };
    let done = done.map_err(Into::into).and_then(|()| out.flush());
    drop(out);
    done.map_err(|e| sink.failure(e))?;
    sink.text("\n")
}

fn knobs<'a>(harness: &'a Harness, knobs: &Knobs) -> Vec<Knob<'a>> {
    harness
        .pots()
        .map(|(id, pot)| Knob {
            pot: &harness.part(id).name,
            role: pot.role.as_deref(),
            setting: knobs.0.get(&id).copied().unwrap_or(pot.rest),
            rest: pot.rest,
        })
        .collect()
}
