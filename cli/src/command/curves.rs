//! `curves`: responses as CSV.

use pickup_dsl::evaluate::Detail;

use crate::args::CurvesArgs;
use crate::csv;
use crate::curve::{POINTS_AT_ONCE, curves};
use crate::exit::{Exit, Failure};
use crate::frequencies::logarithmic;
use crate::job::Job;
use crate::output::Sink;

/// Points, unless said.
const POINTS: usize = 400;

/// Runs it: rows are written a stretch of frequencies at a time, so that a large table needs no more memory than a small one.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &CurvesArgs) -> Result<Exit, Failure> {
    let frequencies = args.grid.frequencies()?.unwrap_or_else(|| logarithmic(20.0, 20e3, POINTS));
    let job = Job::new(&args.wanted)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    csv::head(&mut sink, &job)?;
    for stretch in frequencies.chunks(POINTS_AT_ONCE.div_ceil(job.positions.len().max(1))) {
        let all = curves(&job, &evaluator, &job.positions, stretch, Detail::Response)?;
        csv::rows(&mut sink, stretch, &all)?;
    }
    sink.close()?;
    Ok(Exit::Good)
}
