//! `page`: one page for the customer.

use pickup_dsl::card::{Conditions, card};
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harmonics::{Amplitudes, Pluck};
use pickup_dsl::positions::{Position, Wanted as Which};
use pickup_dsl::sheet::sheet;

use super::plot::choice;
use crate::args::{PageArgs, Wanted};
use crate::chart::svg::CURVES;
use crate::chart::svg::harmonics::HarmonicsChart;
use crate::exit::{Exit, Failure};
use crate::job::{Job, shown_name};
use crate::judged::{Judged, expectations};
use crate::output::Sink;
use crate::page::{Made, page};

/// Harmonics of each string, as far as 20 kHz.
const HARMONICS: u32 = 20;

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &PageArgs) -> Result<Exit, Failure> {
    let wanted = Wanted {
        position: args.position.clone(),
        knob: Vec::new(),
        reference: None,
        guitar: args.guitar.clone(),
        between: false,
        all: false,
    };
    let job = Job::new(&wanted)?;
    super::card::at_most(&job)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let warnings = job.warnings(&evaluator, &figures)?;
    let card = card(&evaluator, &job.positions, &figures, Conditions::default());
    let first = job.positions.first().map(shown_name).unwrap_or_default();
    let card = card.map_err(|e| job.no_solution(&first, &e))?;
    let drawn = if job.is_whole { choice::choose(&job, &evaluator)?.0 } else { job.positions.clone() };
    let index = |position: &Position| job.positions.iter().position(|p| p == position);
    let made = Made {
        evaluator: &evaluator,
        warnings: &warnings,
        sheet: &sheet(&job.file.harness),
        card: &card,
        harmonics: harmonics(&job, &evaluator, &drawn)?,
        judged: &judged(&job, &evaluator, &figures)?,
        drawn: drawn.iter().filter_map(index).collect(),
    };
    sink.raw(&page(&job, &made)?)?;
    sink.close()?;
    Ok(Exit::Good)
}

/// The harmonics of the open strings in the positions that are drawn, if the file says where the pickups sit.
fn harmonics(
    job: &Job,
    evaluator: &Evaluator<'_>,
    drawn: &[Position],
) -> Result<Option<HarmonicsChart>, Failure> {
    if job.file.harness.geometry.is_none() {
        return Ok(None);
    }
    let open = |string| Pluck { string, fret: 0, amplitudes: Amplitudes::Falling, count: HARMONICS };
    let plucks: Vec<Pluck> = (1..=job.file.harness.string_count).map(open).collect();
    let drawn = &drawn[..drawn.len().min(CURVES)];
    super::harmonics::chart(job, evaluator, drawn, &plucks).map(Some)
}

/// What the file expects: of all its positions, whichever the page shows.
fn judged(job: &Job, evaluator: &Evaluator<'_>, figures: &[PositionFigures]) -> Result<Vec<Judged>, Failure> {
    if job.file.harness.expectations.is_empty() {
        return Ok(Vec::new());
    }
    if job.is_whole {
        return expectations(job, evaluator, figures);
    }
    let whole = Job::of(job.file.clone(), Which::default())?;
    let evaluator = whole.evaluator()?;
    expectations(&whole, &evaluator, &whole.figures(&evaluator)?)
}
