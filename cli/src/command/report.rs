//! `report`: every switch position in figures.

use crate::args::ReportArgs;
use crate::exit::{Exit, Failure};
use crate::job::Job;
use crate::output::Sink;
use crate::report::Reported;
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
    // What is warned of and what responses there are can be found side by side.
    let (warnings, first) = rayon::join(
        || job.warnings(&evaluator, &figures),
        || frequencies.as_deref().map_or(Ok(Vec::new()), |f| json::first(&job, &evaluator, &figures, f)),
    );
    let (warnings, first) = (&warnings?, first?);
    // The variants of the guitar beside it, unless one was chosen.
    let jobs: Vec<Job> = job
        .file
        .variants
        .iter()
        .map(|v| Job::with(job.file.with_variant(&v.name)?, &args.wanted))
        .collect::<Result<_, _>>()?;
    let mut variants = Vec::with_capacity(jobs.len());
    for job in &jobs {
        let evaluator = job.evaluator()?;
        let figures = job.figures(&evaluator)?;
        let found = job.warnings(&evaluator, &figures)?;
        let own = found.into_iter().filter(|w| !warnings.contains(w)).collect();
        variants.push(Reported { job, evaluator, figures, warnings: own });
    }
    let guitar = Reported { job: &job, evaluator, figures, warnings: warnings.clone() };
    if args.json {
        json::report(&mut sink, &guitar, &variants, frequencies.as_deref(), &first)?;
    } else {
        for one in std::iter::once(&guitar).chain(&variants) {
            if one.job.file.variant.is_some() && args.wanted.guitar.variant.is_none() {
                sink.text("\n")?;
            }
            sink.text(&report::text(one, args.short))?;
        }
    }
    sink.close()?;
    Ok(Exit::Good)
}
