//! `curves`: responses as CSV.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::evaluate::{Detail, Evaluator};

use crate::args::CurvesArgs;
use crate::csv;
use crate::curve::{POINTS_AT_ONCE, curves, point};
use crate::exit::{Exit, Failure};
use crate::frequencies::logarithmic;
use crate::job::{Job, reference_name, shown_name};
use crate::output::Sink;

/// Points, unless said.
const POINTS: usize = 400;
/// The same of a statement: twenty an octave, straight in between.
const STATED: usize = 201;

/// Runs it: rows are written a stretch of frequencies at a time, so that a large table needs no more memory than a small one.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &CurvesArgs) -> Result<Exit, Failure> {
    let frequencies = args.grid.frequencies()?.unwrap_or_else(|| logarithmic(20.0, 20e3, POINTS));
    let job = Job::new(&args.wanted)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    let evaluator = job.evaluator()?;
    if let Some(name) = &args.statement {
        let frequencies = args.grid.frequencies()?.unwrap_or_else(|| logarithmic(20.0, 20e3, STATED));
        sink.text(&statement(&job, &evaluator, name, &frequencies)?)?;
        sink.close()?;
        return Ok(Exit::Good);
    }
    csv::head(&mut sink, &job)?;
    for stretch in frequencies.chunks(POINTS_AT_ONCE.div_ceil(job.positions.len().max(1))) {
        let all = curves(&job, &evaluator, &job.positions, stretch, Detail::Response)?;
        csv::rows(&mut sink, stretch, &all)?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// The response of one position as a statement of the language.
fn statement(
    job: &Job,
    evaluator: &Evaluator<'_>,
    name: &str,
    frequencies: &[f64],
) -> Result<String, Failure> {
    let [position] = &job.positions[..] else {
        return Err(Failure::usage_with(
            "a statement holds the curve of one position",
            "name it with `--position`",
        ));
    };
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-');
    if !name.starts_with(char::is_alphabetic) || !name.chars().all(plain) {
        let text = format!("`{}` can't be the name of a curve", escape(name));
        return Err(Failure::usage_with(
            text,
            "a name starts with a letter; letters, digits, `_` and `-` follow",
        ));
    }
    let all = curves(job, evaluator, std::slice::from_ref(position), frequencies, Detail::Response)?;
    let plateau = evaluator.reference().outlets.first().and_then(|outlet| outlet.plateau.ok());
    let plateau = plateau.ok_or_else(|| Failure::usage("the reference is silent at 100 Hz"))?;
    let mut text = format!(
        "-- {}: dB over {} at 100 Hz\ncurve {name} {{\n",
        shown_name(position),
        reference_name(evaluator.reference())
    );
    for (i, frequency) in frequencies.iter().enumerate() {
        let Some((db, _)) = all[0].outlets.first().and_then(|outlet| point(outlet, i)) else {
            return Err(Failure::usage(format!("{} is silent", shown_name(position))));
        };
        // No minus before a rounded zero.
        let level = format!("{:.4}", db - plateau + 0.0);
        let level = if level == "-0.0000" { "0.0000" } else { &level };
        text.push_str(&format!("  {frequency:.2}Hz {level}dB\n"));
    }
    text.push_str("}\n");
    Ok(text)
}
