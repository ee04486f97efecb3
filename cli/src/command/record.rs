//! `record`: all figures and curves of a guitar, to be compared with later.

use pickup_dsl::positions::Wanted;

use crate::args::RecordArgs;
use crate::exit::{Exit, Failure};
use crate::job::{self, Job};
use crate::output::Sink;
use crate::record::record;

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &RecordArgs) -> Result<Exit, Failure> {
    let job = Job::of(job::chosen(&args.guitar)?, Wanted::default())?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    sink.text(&record(&job, &evaluator, &figures)?.text())?;
    sink.close()?;
    Ok(Exit::Good)
}
