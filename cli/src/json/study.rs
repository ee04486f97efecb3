//! A study as JSON.

use pickup_dsl::study::Tally;
use serde::Serialize;

use super::{SCHEMA_VERSION, write};
use crate::exit::Failure;
use crate::output::Sink;
use crate::study::{Counted, Head};

/// Shares of the builds whose quantiles are told.
const SHARES: [f64; 9] = [0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99];

#[derive(Serialize)]
struct StudyJson<'a> {
    schema: &'static str,
    schema_version: u32,
    written_by: &'a str,
    guitar: Option<&'a str>,
    variant: Option<&'a str>,
    digest: &'a str,
    seed: u64,
    samples: u64,
    drawn: u64,
    parts: &'a [crate::study::Part],
    positions: Vec<PositionJson<'a>>,
    expectations: Vec<ExpectedJson<'a>>,
}

#[derive(Serialize)]
struct PositionJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    figures: Vec<FigureJson<'a>>,
}

#[derive(Serialize)]
struct FigureJson<'a> {
    figure: &'a str,
    output: usize,
    nominal: Option<f64>,
    without: u64,
    #[serde(flatten)]
    spread: Option<SpreadJson<'a>>,
}

#[derive(Serialize)]
struct SpreadJson<'a> {
    mean: f64,
    deviation: f64,
    least: End,
    most: End,
    quantiles: Vec<Quantile>,
    quantile_error: f64,
    matters: Vec<Matters<'a>>,
}

#[derive(Serialize)]
struct End {
    value: f64,
    build: u64,
}

#[derive(Serialize)]
struct Quantile {
    share: f64,
    value: f64,
}

#[derive(Serialize)]
struct Matters<'a> {
    part: &'a str,
    share_of_variance: f64,
}

#[derive(Serialize)]
struct ExpectedJson<'a> {
    claim: &'a str,
    wanted: Option<f64>,
    holds: u64,
    worst_build: Option<u64>,
    worst_margin: Option<f64>,
}

/// Writes the document.
///
/// # Errors
/// If it can't be written.
pub(crate) fn study(sink: &mut Sink, counted: &Counted) -> Result<(), Failure> {
    let Counted { head, tally } = counted;
    let document = StudyJson {
        schema: "coilwright study",
        schema_version: SCHEMA_VERSION,
        written_by: &head.made_by,
        guitar: head.guitar.as_deref(),
        variant: head.variant.as_deref(),
        digest: &head.digest,
        seed: head.seed,
        samples: head.samples,
        drawn: tally.count(),
        parts: &head.parts,
        positions: head
            .positions
            .iter()
            .enumerate()
            .map(|(index, position)| PositionJson {
                key: &position.key,
                name: position.name.as_deref(),
                figures: (0..head.figures.len())
                    .filter(|column| head.figures[*column].position == index)
                    .map(|column| figure(head, tally, column))
                    .collect(),
            })
            .collect(),
        expectations: head
            .expectations
            .iter()
            .zip(&tally.yields)
            .map(|(expected, counted)| ExpectedJson {
                claim: &expected.claim,
                wanted: expected.wanted,
                holds: counted.holds,
                worst_build: counted.worst.map(|(_, build)| build).or(counted.fails),
                worst_margin: counted.margin(),
            })
            .collect(),
    };
    write(sink, &document, true)
}

fn figure<'a>(head: &'a Head, tally: &Tally, column: usize) -> FigureJson<'a> {
    let figure = &head.figures[column];
    let spread = tally.spread(column).map(|spread| {
        let mut matters: Vec<Matters<'a>> = head
            .parts
            .iter()
            .zip(&spread.shares)
            .map(|(part, share)| Matters { part: &part.name, share_of_variance: *share })
            .collect();
        matters.sort_by(|a, b| b.share_of_variance.total_cmp(&a.share_of_variance));
        SpreadJson {
            mean: spread.mean,
            deviation: spread.deviation,
            least: End { value: spread.low.0, build: spread.low.1 },
            most: End { value: spread.high.0, build: spread.high.1 },
            quantiles: SHARES
                .iter()
                .filter_map(|&share| Some(Quantile { share, value: tally.quantile(column, share)? }))
                .collect(),
            quantile_error: tally.step(column).error(),
            matters,
        }
    });
    FigureJson {
        figure: &figure.figure,
        output: figure.output,
        nominal: figure.nominal,
        without: tally.figures[column].without,
        spread,
    }
}
