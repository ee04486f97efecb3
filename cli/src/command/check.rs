//! `check`: only look for mistakes.

use std::path::Path;

use pickup_dsl::diagnostic::{Diagnostic, escape};
use pickup_dsl::positions::Wanted;

use crate::args::CheckArgs;
use crate::exit::{Exit, Failure};
use crate::job::{self, Job};
use crate::{diagnostics, output};

/// Runs it: all files are looked at, whatever is wrong with one.
///
/// # Errors
/// None of its own: a file that can't be read or does not compile is said, and the rest are looked at.
pub(crate) fn run(args: &CheckArgs) -> Result<Exit, Failure> {
    let mut exit = Exit::Good;
    for path in &args.files {
        match look(path) {
            Ok(warnings) => {
                let name = escape(&path.display().to_string());
                output::say(&format!("{name}: {}\n", diagnostics::count(&warnings)));
                if args.strict && !warnings.is_empty() && exit == Exit::Good {
                    exit = Exit::CheckFailed;
                }
            }
            Err(failure) => {
                output::say_failure(&failure);
                exit = Exit::Bad;
            }
        }
    }
    Ok(exit)
}

/// Shows what the compiler and a bench notice.
fn look(path: &Path) -> Result<Vec<Diagnostic>, Failure> {
    let job = Job::of(job::open(path)?, Wanted::default())?;
    let mut warnings = noticed(&job)?;
    for variant in &job.file.variants {
        let varied = Job::of(job.file.with_variant(&variant.name)?, Wanted::default())?;
        let own: Vec<Diagnostic> = noticed(&varied)?.into_iter().filter(|w| !warnings.contains(w)).collect();
        let note = format!("in the variant `{}`", escape(&variant.name));
        warnings.extend(own.into_iter().map(|w| w.note(note.clone())));
    }
    diagnostics::say(&warnings, &job.file.sources);
    Ok(warnings)
}

fn noticed(job: &Job) -> Result<Vec<Diagnostic>, Failure> {
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    job.warnings(&evaluator, &figures)
}
