//! `compare`: whether two files are the same guitar.

use pickup_dsl::positions::Wanted;
use pickup_dsl::sameness::{Sameness, Side, Verdict};
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};

use crate::args::CompareArgs;
use crate::exit::{Exit, Failure};
use crate::job::{self, Job};
use crate::output::Sink;
use crate::{json, sameness};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &CompareArgs) -> Result<Exit, Failure> {
    let first = Job::of(job::open(&args.first)?, Wanted { between: args.between, all: true })?;
    let second = job::open(&args.second)?;
    let network = job::network(&second)?;
    let matched = Sameness::of(
        Side { harness: &first.file.harness, network: &first.network },
        Side { harness: &second.harness, network: &network },
    );
    let matched = matched.map_err(|unlike| {
        Failure::usage_with(
            format!("the files can't be compared: {unlike}"),
            "switches, throws and coils are matched by name: call them alike in both files",
        )
    })?;
    let verdict = |position| {
        let verdict = matched.compare(position);
        verdict.map_err(|e| Failure::usage(format!("{}: {e}", job::shown_name(position))))
    };
    let verdicts = first.positions.par_iter().map(verdict).collect::<Result<Vec<Verdict>, Failure>>()?;
    let joints = matched.joints();
    let mut sink = Sink::open(&args.form.target, &[&first.file.read[..], &second.read].concat())?;
    if args.form.json {
        json::compared(&mut sink, &first, &second, &verdicts, &joints)?;
    } else {
        sink.text(&sameness::text(&first, &second, &verdicts, &joints))?;
    }
    sink.close()?;
    let same = verdicts.iter().all(|verdict| matches!(verdict, Verdict::Same { .. }));
    Ok(if same { Exit::Good } else { Exit::CheckFailed })
}
