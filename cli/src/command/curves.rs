//! `curves`: responses as CSV.

use pickup_dsl::evaluate::Curves;
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};

use crate::args::CurvesArgs;
use crate::csv;
use crate::exit::{Exit, Failure};
use crate::frequencies::logarithmic;
use crate::job::{Job, shown_name};
use crate::output::Sink;

/// Points, unless said.
const POINTS: usize = 400;
/// Cells of one file: a table larger than this is a slip.
const CELLS: usize = 20_000_000;

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &CurvesArgs) -> Result<Exit, Failure> {
    let frequencies = args.grid.frequencies()?.unwrap_or_else(|| logarithmic(20.0, 20e3, POINTS));
    let job = Job::new(&args.wanted)?;
    if frequencies.len().saturating_mul(job.positions.len()) > CELLS {
        return Err(Failure::usage_with(
            format!(
                "{} positions at {} frequencies are too many for one table",
                job.positions.len(),
                frequencies.len()
            ),
            "choose some with --position",
        ));
    }
    let mut sink = Sink::open(args.target.output.as_deref(), args.target.overwrite)?;
    let curves = compute(&job, &frequencies)?;
    csv::curves(&mut sink, &job, &frequencies, &curves)?;
    sink.close()?;
    Ok(Exit::Good)
}

/// The curves of all positions, in order.
///
/// # Errors
/// The first position that has no solution.
pub(super) fn compute(job: &Job, frequencies: &[f64]) -> Result<Vec<Curves>, Failure> {
    let evaluator = job.evaluator()?;
    let all: Vec<_> =
        job.positions.par_iter().map(|p| evaluator.curves(p, &job.knobs, frequencies)).collect();
    all.into_iter()
        .zip(&job.positions)
        .map(|(c, p)| c.map_err(|e| job.no_solution(&shown_name(p), &e)))
        .collect()
}
