//! `harmonics`: each harmonic of a string at the jack.

use pickup_dsl::harmonics::{Amplitudes, HarmonicsError, Pluck, harmonics};

use crate::args::HarmonicsArgs;
use crate::exit::{Exit, Failure};
use crate::job::{self, Job, shown_name};
use crate::output::Sink;
use crate::{harmonics as shown, json};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &HarmonicsArgs) -> Result<Exit, Failure> {
    let file = job::chosen(&args.guitar)?;
    let position = job::position_named(&file.harness, &args.position)?;
    let knobs = job::knobs(&file.harness, &args.knob)?;
    let strings =
        if args.string.is_empty() { (1..=file.harness.string_count).collect() } else { args.string.clone() };
    let network = job::network(&file)?;
    let job = Job { file, network, positions: vec![position.clone()], knobs, is_whole: false };
    let evaluator = job.evaluator()?;
    let amplitudes = if args.even { Amplitudes::Even } else { Amplitudes::Falling };
    let all = strings.into_iter().map(|string| {
        let pluck = Pluck { string, fret: args.fret, amplitudes, count: args.count };
        harmonics(&evaluator, &position, &job.knobs, pluck).map_err(|error| refused(&job, &position, error))
    });
    let all = all.collect::<Result<Vec<_>, Failure>>()?;
    let mut sink = Sink::open(&args.form.target, &job.file.read)?;
    if args.form.json {
        json::harmonics(&mut sink, &job, &position, amplitudes, &all)?;
    } else {
        sink.text(&shown::text(&job, &position, amplitudes, &all))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

fn refused(job: &Job, position: &pickup_dsl::positions::Position, error: HarmonicsError) -> Failure {
    match error {
        HarmonicsError::Circuit(e) => job.no_solution(&shown_name(position), &e),
        HarmonicsError::NoGeometry => Failure::usage_with(
            error.to_string(),
            "add a `geometry` statement: `geometry { scale 648mm, place neck 160mm }`, a `place` for each pickup",
        ),
        error => Failure::usage(error.to_string()),
    }
}
