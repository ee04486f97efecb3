//! `check`: only look for mistakes.

use pickup_dsl::diagnostic::{Diagnostic, Severity};

use crate::args::CheckArgs;
use crate::diagnostics;
use crate::exit::{Exit, Failure};
use crate::{job, output};
use pickup_dsl::diagnostic::escape;

/// Runs it: all files are looked at, whatever is wrong with one.
///
/// # Errors
/// None of its own: a file that can't be read is said and counts as one that does not compile.
pub(crate) fn run(args: &CheckArgs) -> Result<Exit, Failure> {
    let mut exit = Exit::Good;
    for path in &args.files {
        let compiled = match job::read(path) {
            Ok(compiled) => compiled,
            Err(failure) => {
                output::say_failure(&failure);
                exit = Exit::Bad;
                continue;
            }
        };
        let found = all_found(&compiled);
        diagnostics::say(&found, &compiled.sources);
        let name = escape(&path.display().to_string());
        output::say(&format!("{name}: {}\n", diagnostics::count(&found)));
        if compiled.harness.is_none() || found.iter().any(|d| d.severity == Severity::Error) {
            exit = Exit::Bad;
        } else if args.strict && !found.is_empty() && exit == Exit::Good {
            exit = Exit::CheckFailed;
        }
    }
    Ok(exit)
}

/// What the compiler found, and what a bench would.
fn all_found(compiled: &pickup_dsl::resolve::Compiled) -> Vec<Diagnostic> {
    compiled.diagnostics.clone()
}
