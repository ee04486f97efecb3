//! `report`: every switch position in figures.

use crate::args::ReportArgs;
use crate::exit::{Exit, Failure};
use crate::job::Job;
use crate::output::Sink;
use crate::{json, report};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &ReportArgs) -> Result<Exit, Failure> {
    let frequencies = args.grid.frequencies()?;
    if frequencies.is_some() && !args.json {
        return Err(Failure::usage_with(
            "responses at given frequencies are for `--json`",
            "add `--json`, or use `coilwright curves` for CSV and `coilwright plot` for a picture",
        ));
    }
    let job = Job::new(&args.wanted)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let warnings = &job.warnings(&evaluator, &figures)?;
    if args.json {
        json::report(&mut sink, &job, &evaluator, &figures, warnings, frequencies.as_deref())?;
    } else {
        sink.text(&report::text(&job, evaluator.reference(), &figures, warnings))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}
