//! `page`: one page for the customer.

use pickup_dsl::card::{Conditions, card};
use pickup_dsl::positions::{Position, Wanted};
use pickup_dsl::sheet::sheet;

use super::plot::choice;
use crate::args::PageArgs;
use crate::exit::{Exit, Failure};
use crate::job::{self, Job, shown_name};
use crate::output::Sink;
use crate::page::{Made, page};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &PageArgs) -> Result<Exit, Failure> {
    let job = Job::of(job::chosen(&args.guitar)?, Wanted::default())?;
    super::card::at_most(&job)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let warnings = job.warnings(&evaluator, &figures)?;
    let card = card(&evaluator, &job.positions, &figures, Conditions::default());
    let first = job.positions.first().map(shown_name).unwrap_or_default();
    let card = card.map_err(|e| job.no_solution(&first, &e))?;
    let (drawn, ..) = choice::choose(&job, &evaluator)?;
    let index = |position: &Position| job.positions.iter().position(|p| p == position);
    let made = Made {
        evaluator: &evaluator,
        warnings: &warnings,
        sheet: &sheet(&job.file.harness),
        card: &card,
        drawn: drawn.iter().filter_map(index).collect(),
    };
    sink.raw(&page(&job, &made)?)?;
    sink.close()?;
    Ok(Exit::Good)
}
