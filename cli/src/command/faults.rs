//! `faults`: what the meter reads with one joint wrong.

use pickup_dsl::faults::{FaultsError, faults};

use super::card::made;
use super::sheet::print;
use crate::args::FaultsArgs;
use crate::exit::{Exit, Failure};
use crate::output::Sink;
use crate::{faults as shown, json};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &FaultsArgs) -> Result<Exit, Failure> {
    let (job, card) = made(&args.printed, &args.bench)?;
    let all = faults(&job.file.harness, &job.positions, &card).map_err(|e| match e {
        FaultsError::Circuit(e) => job.no_solution("the guitar as drawn", &e),
        e => Failure::usage_with(e.to_string(), "choose fewer positions with `--position`"),
    })?;
    let mut sink = Sink::open(&args.printed.form.target, &job.file.read)?;
    if args.printed.form.json {
        json::faults(&mut sink, &job.file, &card, &all)?;
    } else {
        print(&mut sink, &args.printed, &shown::page(&job.file, &card, &all))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}
