//! `card`: what each position must show.

use pickup_dsl::card::{Card, Conditions, card};
use pickup_dsl::positions::Wanted;

use super::sheet::print;
use crate::args::{BenchArgs, CardArgs, Printed};
use crate::exit::{Exit, Failure};
use crate::job::{self, Job, shown_name};
use crate::output::Sink;
use crate::{card as shown, json};

/// Positions of one card.
const MOST: usize = 512;

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &CardArgs) -> Result<Exit, Failure> {
    let (job, card) = made(&args.printed, &args.bench)?;
    let mut sink = Sink::open(&args.printed.form.target, &job.file.read)?;
    if args.printed.form.json {
        json::card(&mut sink, &job.file, &card)?;
    } else {
        print(&mut sink, &args.printed, &shown::page(&job.file, &card))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// The positions that were asked for, with their card.
pub(super) fn made(printed: &Printed, bench: &BenchArgs) -> Result<(Job, Card), Failure> {
    let mut job = Job::of(job::chosen(&printed.guitar)?, Wanted::default())?;
    if !bench.position.is_empty() {
        let chosen = bench.position.iter().map(|name| job::position_named(&job.file.harness, name));
        job.positions = chosen.collect::<Result<_, _>>()?;
        job.is_whole = false;
    }
    at_most(&job)?;
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let conditions =
        Conditions { celsius: bench.room, spread: bench.room_spread, meter: bench.meter / 100.0 };
    let card = card(&evaluator, &job.positions, &figures, conditions);
    let first = job.positions.first().map(shown_name).unwrap_or_default();
    let card = card.map_err(|e| job.no_solution(&first, &e))?;
    Ok((job, card))
}

/// No card of thousands.
pub(super) fn at_most(job: &Job) -> Result<(), Failure> {
    if job.positions.len() <= MOST {
        return Ok(());
    }
    Err(Failure::usage_with(
        format!(
            "{} positions are too many for one card, each told from each other: at most {MOST}",
            job.positions.len()
        ),
        "choose some with `--position`, or name those that matter in the file, and say `positions named only`",
    ))
}
